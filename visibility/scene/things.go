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

// cliffs joins steep faces of neighbouring bearings to one cliff each.
func (v *View) cliffs() {
	type part struct {
		ray  int
		face *face
	}
	var open, done [][]part
	for i := range v.rays {
		var next [][]part
		for j := range v.rays[i].faces {
			f := &v.rays[i].faces[j]
			joined := false
			for k, line := range open {
				last := line[len(line)-1]
				if last.ray >= i-2 && last.ray < i && f.near <= last.face.far*(1+sameOutline) && last.face.near <= f.far*(1+sameOutline) {
					open[k] = append(line, part{i, f})
					joined = true
					break
				}
			}
			if !joined {
				next = append(next, []part{{i, f}})
			}
		}
		var still [][]part
		for _, line := range open {
			if line[len(line)-1].ray >= i-2 {
				still = append(still, line)
			} else {
				done = append(done, line)
			}
		}
		open = append(still, next...)
	}
	for _, line := range append(done, open...) {
		first, last := line[0].ray, line[len(line)-1].ray
		width := geodesy.Degrees(float64(last-first+1) * v.Step)
		best := line[0]
		for _, p := range line {
			if angle(p.face.high)-angle(p.face.low) > angle(best.face.high)-angle(best.face.low) {
				best = p
			}
		}
		height := angle(best.face.high) - angle(best.face.low)
		if least := v.options.LeastCliff; height < least || width < least || height < 2*v.relative(best.face.near) {
			continue
		}
		behind := math.NaN()
		sky := false
		for _, c := range v.rays[best.ray].crests {
			if c.distance >= best.face.far {
				behind, sky = c.behind, c.sky() && c.distance <= best.face.far*1.02
				break
			}
		}
		v.Things = append(v.Things, Thing{
			Kind: Cliff, Skyline: sky, Bearing: v.bearing((first + last) / 2), Distance: (best.face.near + best.face.far) / 2,
			Angle: (angle(best.face.high) + angle(best.face.low)) / 2, Elevation: (best.face.foot + best.face.top) / 2,
			StandsOut: height, Width: width, Behind: behind,
		})
	}
}

// rimShare is how much of the ground just round water must stand higher: all
// but its outlet.
const rimShare = 0.9

// water finds ground of one height, all but its outlet lower than what is round
// it. A plain stored in whole metres has many level posts, and no such rim.
func (v *View) water(g *dem.Grid, plane geodesy.Plane) {
	tried := map[int]bool{}
	cell := v.Spacing * v.Spacing
	for i := range v.rays {
		for _, l := range v.rays[i].levels {
			start := l.row*g.Columns + l.column
			if l.far-l.near < 3*v.Spacing || l.far < v.nearest || g.Elevation(l.column, l.row) != l.elevation || tried[start] {
				continue
			}
			posts, higher, rim, filled := v.flood(g, l, tried)
			if float64(len(posts))*cell < v.options.LeastWater || filled || float64(higher) < rimShare*float64(rim) {
				continue
			}
			v.addWater(g, plane, posts, l.elevation)
		}
	}
}

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
func (v *View) addWater(g *dem.Grid, plane geodesy.Plane, posts []int, elevation float64) {
	member := map[int]bool{}
	for _, p := range posts {
		member[p] = true
	}
	in := make([]bool, v.count)
	count := 0
	for i := range v.rays {
		for _, l := range v.rays[i].levels {
			if l.elevation == elevation && member[l.row*g.Columns+l.column] {
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
		if l.elevation == elevation && member[l.row*g.Columns+l.column] {
			d := (l.near + l.far) / 2
			drop := plane.CurvatureDrop(v.rays[middle].sin*d, v.rays[middle].cos*d, v.options.Refraction)
			v.Things = append(v.Things, Thing{
				Kind: Water, Bearing: v.bearing(middle), Distance: d, Angle: angle((elevation - drop - v.EyeElevation) / d), Elevation: elevation,
				StandsOut: angle(l.slope) - angle((elevation-drop-v.EyeElevation)/math.Max(l.near, 1)), Width: geodesy.Degrees(float64(width) * v.Step), Behind: math.NaN(),
			})
			return
		}
	}
}

// places adds the user's own that are in sight.
func (v *View) places(ctx context.Context, g *dem.Grid, o Options) error {
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
		})
	}
	return nil
}

// tooClose is how near in bearing, degrees, two things of one kind may stand
// and still be told from left to right; of nearer ones the plainer stays.
const tooClose = 0.5

// settle orders the things, leaves out of several in one place the less plain,
// finds where each stands on the ground, and what tells it apart.
func (v *View) settle(g *dem.Grid, plane geodesy.Plane) {
	slices.SortStableFunc(v.Things, func(a, b Thing) int {
		return cmp.Or(cmp.Compare(b.plainness(), a.plainness()), cmp.Compare(a.Bearing, b.Bearing))
	})
	var kept []Thing
	for _, t := range v.Things {
		if !slices.ContainsFunc(kept, func(k Thing) bool { return alike(k, t) && apart(k, t) < tooClose }) {
			kept = append(kept, t)
		}
	}
	v.Things = kept
	for i := range v.Things {
		t := &v.Things[i]
		if t.Place == (geodesy.LatLon{}) {
			sin, cos := geodesy.Degrees(t.Bearing).SinCos()
			t.Place = plane.Inverse(t.Distance*sin, t.Distance*cos)
		}
		if c, r, err := g.Locate(t.Place); err == nil {
			t.Filled = dem.FilledAt(g, c, r)
		}
	}
	slices.SortStableFunc(v.Things, func(a, b Thing) int {
		return cmp.Or(cmp.Compare(a.Bearing, b.Bearing), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Distance, b.Distance))
	})
	for i := range v.Things {
		v.describe(&v.Things[i])
	}
}

// apart is the angle between two things, degrees.
func apart(a, b Thing) float64 {
	return math.Abs(float64(geodesy.Difference(a.Bearing, b.Bearing)))
}

// alike reports whether two things are told by the same words but for where
// they are.
func alike(a, b Thing) bool { return a.Kind == b.Kind && a.Skyline == b.Skyline && a.Name == b.Name }

// plainness is how much of the view a thing takes: what it stands out by, and a
// little more for width, the sky behind, and a name. Degrees.
func (t Thing) plainness() float64 {
	p := float64(t.StandsOut) + 0.1*math.Min(float64(t.Width), 5)
	if t.Skyline {
		p *= 1.5
	}
	if t.Kind == Known {
		p += 0.5
	}
	return p
}

// Windows that a thing is told apart in, degrees: what a compass reads to with
// care, and less where many stand together.
var windows = []geodesy.Degrees{5, 3, 2, 1}

// mostAmong is how many things of a kind one can count from the left.
const mostAmong = 3

// describe finds the widest window in which the thing is one of a few.
func (v *View) describe(t *Thing) {
	for _, w := range windows {
		t.Window, t.Among, t.Of = w, 0, 0
		for _, o := range v.Things {
			if !alike(*t, o) || apart(*t, o) > float64(w) {
				continue
			}
			t.Of++
			if d := geodesy.Difference(t.Bearing, o.Bearing); d <= 0 {
				t.Among++
			}
		}
		if t.Of <= mostAmong {
			return
		}
	}
}

// Satisfying are the things of the view that the description of t fits: of its
// kind and name, on the skyline or not as it is, within its window of its
// bearing, and in its place from the left among those.
func (v *View) Satisfying(t Thing) []Thing {
	var within []Thing
	for _, o := range v.Things {
		if alike(t, o) && apart(t, o) <= float64(t.Window) {
			within = append(within, o)
		}
	}
	slices.SortFunc(within, func(a, b Thing) int {
		return cmp.Compare(geodesy.Difference(t.Bearing, a.Bearing), geodesy.Difference(t.Bearing, b.Bearing))
	})
	if len(within) != t.Of || t.Among < 1 || t.Among > len(within) {
		return nil
	}
	return within[t.Among-1 : t.Among]
}
