package scene

import (
	"cmp"
	"context"
	"math"
	"slices"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/visibility"
)

// cliffs joins steep ground of neighbouring bearings to one face each, which is
// a cliff where its tallest part is steep enough.
func (v *View) cliffs() {
	type part struct {
		ray  int
		face *face
	}
	start := max(0, slices.IndexFunc(v.rays, func(r ray) bool { return len(r.faces) == 0 })) // so that none lies across it
	var open, whole [][]part
	for n := range v.count {
		i := start + n
		faces := v.ray(i).faces
		for j := range faces {
			f := &faces[j]
			k := slices.IndexFunc(open, func(line []part) bool {
				last := line[len(line)-1]
				return last.ray < i && f.near <= last.face.far*(1+sameOutline) && last.face.near <= f.far*(1+sameOutline)
			})
			if k < 0 {
				open = append(open, []part{{i, f}})
			} else {
				open[k] = append(open[k], part{i, f})
			}
		}
		open = slices.DeleteFunc(open, func(line []part) bool {
			ended := line[len(line)-1].ray < i-1
			if ended {
				whole = append(whole, line)
			}
			return ended
		})
	}
	tall := func(p part) geodesy.Degrees { return angle(p.face.high) - angle(p.face.low) }
	for _, line := range append(whole, open...) {
		first, last := line[0].ray, line[len(line)-1].ray
		width := geodesy.Degrees(float64(last-first+1) * v.Step)
		best := slices.MaxFunc(line, func(a, b part) int { return cmp.Compare(tall(a), tall(b)) })
		height := tall(best)
		kind, least := Cliff, v.options.LeastCliff
		if (best.face.top-best.face.foot)/(best.face.far-best.face.near) < v.options.CliffGradient {
			kind, least = Face, v.options.LeastFace
		}
		if height < least || width < least || width > v.options.MostFace || height < 2*v.relative(best.face.near) {
			continue
		}
		behind := math.NaN()
		for _, c := range v.ray(best.ray).crests {
			if c.distance >= best.face.far*(1-1e-9) {
				behind = c.behind
				if c.distance > best.face.far*(1+leastGap) { // its own ground goes on behind it
					behind = math.NaN()
				}
				break
			}
		}
		r := v.ray(best.ray)
		foot, drop := best.face.near, v.perSquare(r.sin, r.cos)
		v.Things = append(v.Things, Thing{
			Kind: kind, Skyline: math.IsInf(behind, 1), Bearing: v.bearing(best.ray), Distance: foot,
			Angle: angle((best.face.foot - v.EyeElevation - drop*foot*foot) / foot), Elevation: best.face.foot,
			StandsOut: height, Width: width, Behind: behind, ray: best.ray,
		})
	}
}

// rimShare is how much of the ground just round water must stand higher: all
// but its outlet.
const rimShare = 0.9

// water finds ground of one height, all but its outlet lower than what is round
// it. A plain stored in whole metres has many level posts, and no such rim.
func (v *View) water() {
	g := v.grid
	tried := map[int]bool{}
	cell := v.Spacing * v.Spacing
	for i := range v.rays {
		for _, l := range v.rays[i].levels {
			start := l.row*g.Columns + l.column
			if l.far-l.near < 3*v.Spacing || l.far < v.nearest || g.Elevation(l.column, l.row) != l.elevation || tried[start] {
				continue
			}
			posts, higher, rim, filled := v.flood(g, l, tried)
			if len(posts) < leastWaterPosts || float64(len(posts))*cell < v.options.LeastWater || filled || float64(higher) < rimShare*float64(rim) {
				continue
			}
			v.addWater(posts, l.elevation)
		}
	}
}

// leastWaterPosts is how many posts of one height are taken for water: on a
// plain stored in whole metres a few neighbours agree by chance.
const leastWaterPosts = 25

// mostWater bounds what is looked at for one lake, posts.
const mostWater = 1 << 20

// flood gathers the posts of one height that touch a post, and counts the posts
// round them.
func (v *View) flood(g *dem.Grid, l level, tried map[int]bool) (posts []int, higher, rim int, filled bool) {
	start := l.row*g.Columns + l.column
	tried[start] = true
	posts = []int{start}
	seenRim := map[int]bool{}
	for k := 0; k < len(posts) && len(posts) < mostWater; k++ {
		c, r := posts[k]%g.Columns, posts[k]/g.Columns
		filled = filled || g.IsFilled(c, r)
		for _, d := range [][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			c, r := c+d[0], r+d[1]
			h := g.Elevation(c, r)
			at := r*g.Columns + c
			switch {
			case uint(c) >= uint(g.Columns) || uint(r) >= uint(g.Rows):
				continue
			case h == l.elevation:
				if !tried[at] {
					tried[at] = true
					posts = append(posts, at)
				}
			case !seenRim[at]:
				seenRim[at] = true
				rim++
				if h > l.elevation {
					higher++
				}
			}
		}
	}
	return posts, higher, rim, filled
}

// addWater tells a lake by the bearings on which some of it is in sight.
func (v *View) addWater(posts []int, elevation float64) {
	member := map[int]bool{}
	for _, p := range posts {
		member[p] = true
	}
	in := make([]bool, v.count)
	count := 0
	for i := range v.rays {
		for _, l := range v.rays[i].levels {
			if l.elevation == elevation && member[l.row*v.grid.Columns+l.column] {
				in[i] = true
			}
		}
		if in[i] {
			count++
		}
	}
	if float64(count)*v.Step < float64(v.options.LeastCliff) {
		return
	}
	first := slices.Index(in, true)
	for n := 0; n < v.count && in[(first-1+v.count)%v.count]; n++ { // where it lies across north
		first = (first - 1 + v.count) % v.count
	}
	last := first
	for n := 0; n < v.count && in[(last+1)%v.count]; n++ {
		last = (last + 1) % v.count
	}
	width := (last-first+v.count)%v.count + 1
	middle := (first + width/2) % v.count
	for _, l := range v.rays[middle].levels {
		if l.elevation == elevation && member[l.row*v.grid.Columns+l.column] {
			d := (l.near + l.far) / 2
			drop := v.perSquare(v.rays[middle].sin, v.rays[middle].cos) * d * d
			v.Things = append(v.Things, Thing{
				Kind: Water, Bearing: v.bearing(middle), Distance: d, Angle: angle((elevation - drop - v.EyeElevation) / d), Elevation: elevation,
				StandsOut: angle(l.slope) - angle((elevation-drop-v.EyeElevation)/math.Max(l.near, 1)), Width: geodesy.Degrees(float64(width) * v.Step), Behind: math.NaN(), ray: middle,
			})
			return
		}
	}
}

// places adds the user's own that are in sight.
func (v *View) places(ctx context.Context, o Options) error {
	g := v.grid
	for _, c := range o.Places {
		line := geodesy.Inverse(v.Observer.Place, c.Place)
		if line.Distance < v.nearest || o.Radius > 0 && line.Distance > o.Radius || line.Distance > profile.MaxLength {
			continue
		}
		if column, row, err := g.Locate(c.Place); err != nil || !g.Contains(column, row) {
			continue
		}
		leg, err := profile.Trace(ctx, g, v.Observer.Place, c.Place)
		if err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			continue
		}
		s, err := visibility.Along(leg, v.Observer, visibility.Conditions{Refraction: o.Refraction, TargetAboveGround: c.AboveGround})
		if err != nil || s.Verdict != visibility.Visible {
			continue
		}
		v.Things = append(v.Things, Thing{
			Kind: Known, Name: c.Name, Bearing: line.Start, Distance: line.Distance, Angle: s.Angle, Place: c.Place,
			Elevation: s.TargetElevation - c.AboveGround, StandsOut: geodesy.Atan2(c.AboveGround, line.Distance), Behind: math.NaN(),
			ray: int(math.Round(float64(line.Start) / v.Step)), above: c.AboveGround,
		})
	}
	return nil
}
