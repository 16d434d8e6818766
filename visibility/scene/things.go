package scene

import (
	"cmp"
	"context"
	"math"
	"slices"

	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/visibility"
)

// finePosts is the spacing of posts, metres, to which what is as steep as a
// cliff is called one; on wider posts it is a steep face unless it rises
// wallGradient, for which it must be far steeper somewhere between them.
const (
	finePosts    = 12
	wallGradient = 1.5
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
		kind := Cliff
		if v.Spacing > finePosts && (best.face.top-best.face.foot)/(best.face.far-best.face.near) < wallGradient {
			kind = Face
		}
		if least := v.options.LeastCliff; height < least || width < least || width > v.options.MostCliff || height < 2*v.relative(best.face.near) ||
			float64(width)*math.Pi/180*best.face.near < 2*v.Spacing { // the edge between two posts
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
	tried := map[*flat]bool{}
	for i := range v.rays {
		for _, l := range v.rays[i].levels {
			if l.far-l.near < 3*v.Spacing || l.far < v.nearest || g.Elevation(l.column, l.row) != l.elevation {
				continue
			}
			f := v.ground.flatAt(l.column, l.row)
			if tried[f] {
				continue
			}
			tried[f] = true
			if v.ground.flats[v.row*g.Columns+v.column] == f {
				continue // the observer stands on it: it is dry
			}
			if f.posts < leastWaterPosts || float64(f.posts)*v.Spacing*v.Spacing < v.options.LeastWater || f.filled || float64(f.higher) < rimShare*float64(f.rim) {
				continue
			}
			v.addWater(f, l.elevation)
		}
	}
}

// leastWaterPosts is how many posts of one height are taken for water: on a
// plain stored in whole metres a few neighbours agree by chance.
const leastWaterPosts = 25

// leastWaterWidth and leastWaterHeight are how wide and high water must look,
// degrees, to be known by its shine or its level shore.
const (
	leastWaterWidth  = 0.5
	leastWaterHeight = 0.1
)

// flat is ground of one height: posts that touch, and how many are round them and
// higher.
type flat struct {
	posts, higher, rim int
	filled             bool
}

// flatAt is the flat that a post is of.
func (ground *Ground) flatAt(column, row int) *flat {
	g := ground.grid
	start := row*g.Columns + column
	ground.flatting.Lock()
	defer ground.flatting.Unlock()
	if f := ground.flats[start]; f != nil {
		return f
	}
	level := g.Elevation(column, row)
	f := &flat{}
	ground.flats[start] = f
	posts, rim := []int{start}, map[int]bool{}
	for k := 0; k < len(posts); k++ {
		c, r := posts[k]%g.Columns, posts[k]/g.Columns
		f.filled = f.filled || g.IsFilled(c, r)
		for _, d := range [][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			c, r := c+d[0], r+d[1]
			h := g.Elevation(c, r)
			at := r*g.Columns + c
			switch {
			case uint(c) >= uint(g.Columns) || uint(r) >= uint(g.Rows):
				continue
			case h == level:
				if ground.flats[at] == nil {
					ground.flats[at] = f
					posts = append(posts, at)
				}
			case !rim[at]:
				rim[at] = true
				f.rim++
				if h > level {
					f.higher++
				}
			}
		}
	}
	f.posts = len(posts)
	return f
}

// addWater tells a lake by the bearings on which some of it is in sight.
func (v *View) addWater(f *flat, elevation float64) {
	// the longest run of bearings on which some of it is seen, small gaps and
	// north taken in
	at := make([]*level, v.count)
	for i := range v.rays {
		for j := range v.rays[i].levels {
			if l := &v.rays[i].levels[j]; l.elevation == elevation && v.ground.flatAt(l.column, l.row) == f && l.far >= v.nearest {
				at[i] = l
			}
		}
	}
	gap := int(math.Round(float64(tooClose) / v.Step))
	first, last := -1, -1
	for i := range v.count {
		if at[i] == nil {
			continue
		}
		end := i
		for k := i + 1; k < i+v.count && k-end <= gap; k++ {
			if at[k%v.count] != nil {
				end = k
			}
		}
		if first < 0 || end-i > last-first {
			first, last = i, end
		}
	}
	if first < 0 {
		return
	}
	// its middle, or the bearing nearest to it on which it is seen
	best := first
	for k := first; k <= last; k++ {
		if at[k%v.count] != nil && max(2*k-first-last, first+last-2*k) < max(2*best-first-last, first+last-2*best) {
			best = k
		}
	}
	l, r := at[best%v.count], v.ray(best)
	drop := v.perSquare(r.sin, r.cos)
	low := func(d float64) geodesy.Degrees { return angle((elevation - v.EyeElevation - drop*d*d) / d) }
	d := (l.near + l.far) / 2
	width, height := geodesy.Degrees(float64(last-first+1)*v.Step), low(l.far)-low(math.Max(l.near, 1))
	if width < leastWaterWidth || height < leastWaterHeight {
		return
	}
	v.Things = append(v.Things, Thing{
		Kind: Water, Bearing: v.bearing(best), Distance: d, Angle: low(d), Elevation: elevation,
		StandsOut: height, Width: width, Behind: math.NaN(), ray: best % v.count,
	})
}

// places adds the user's own that are in sight.
func (v *View) places(ctx context.Context, o Options) error {
	g := v.grid
	for _, c := range o.Places {
		line := geodesy.Inverse(v.Observer.Place, c.Place)
		if line.Distance < v.nearest || !v.looksAlong(line.Start) || o.Radius > 0 && line.Distance > o.Radius || line.Distance > profile.MaxLength {
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
