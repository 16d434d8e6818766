package scene

import (
	"cmp"
	"math"
	"slices"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// tooClose is how near in bearing, degrees, two things of one kind may stand
// and still be told from left to right; of nearer ones the plainer stays.
const tooClose = 0.5

// settle leaves out of several in one place the less plain, finds where each
// stands on the ground, and orders them.
func (v *View) settle() {
	for i := range v.Things {
		v.Things[i].Lone = v.alone[v.Things[i].crest]
	}
	v.mergeEnds()
	v.nameTops()
	slices.SortStableFunc(v.Things, func(a, b Thing) int {
		return cmp.Or(cmp.Compare(b.Plainness(), a.Plainness()), cmp.Compare(a.ray, b.ray), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Distance, b.Distance))
	})
	var kept []Thing
	for _, t := range v.Things {
		v.stand(&t)
		if t.Distance < v.nearest { // the post of a top may be nearer than where it was found
			continue
		}
		if !slices.ContainsFunc(kept, func(k Thing) bool { return same(k, t) }) {
			kept = append(kept, t)
		}
	}
	for i := range kept { // a hill is not alone beside another top
		t := &kept[i]
		t.Lone = t.Lone && !slices.ContainsFunc(kept, func(k Thing) bool {
			return k.Kind == Top && k.crest != t.crest && apart(k, *t) < loneApart
		})
	}
	slices.SortStableFunc(kept, func(a, b Thing) int {
		return cmp.Or(cmp.Compare(a.Bearing, b.Bearing), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Distance, b.Distance))
	})
	v.Things = kept
}

// inNotch is how far from the bottom of a notch, degrees, a ridge may end in it.
const inNotch = 2.0

// mergeEnds makes one thing of a notch and the end of a ridge in it: the notch,
// with the side of the near ridge. The end of a spur where a ridge leaves the
// skyline is the end of that ridge.
func (v *View) mergeEnds() {
	drop := make([]bool, len(v.Things))
	for i := range v.Things {
		end := &v.Things[i]
		if end.Kind != RidgeEnd {
			continue
		}
		for j := range v.Things {
			t := &v.Things[j]
			if t.Kind == Notch && apart(*end, *t) >= tooClose && !(apart(*end, *t) < inNotch && end.Angle-t.Angle < tipDown) ||
				t.Kind != Notch && apart(*end, *t) >= tooClose {
				continue
			}
			switch {
			case t.Kind == Notch && t.Side == 0:
				t.Side, t.Behind, drop[i] = end.Side, end.Behind, true
				// the near ridge is what can be told: its end is looked at
				t.Bearing, t.Distance, t.Angle, t.Elevation, t.ray, t.crest = end.Bearing, end.Distance, end.Angle, end.Elevation, end.ray, end.crest
			case t.Kind == SpurEnd && math.Abs(t.Distance-end.Distance) < sameOutline*end.Distance:
				drop[j] = true
			}
		}
	}
	var kept []Thing
	for i, t := range v.Things {
		if !drop[i] {
			kept = append(kept, t)
		}
	}
	v.Things = kept
}

// nameTops gives a top the name of the user's place on it, unless something
// stands there: then that is a thing of its own.
func (v *View) nameTops() {
	v.Things = slices.DeleteFunc(v.Things, func(p Thing) bool {
		if p.Kind != Known || p.above > 0 || p.Name == "" {
			return false
		}
		for i := range v.Things {
			t := &v.Things[i]
			within := math.Max(2*v.Spacing, float64(tooClose)*math.Pi/180*t.Distance)
			if t.Kind == Top && t.Name == "" && apart(*t, p) < 5 && math.Hypot(t.Distance-p.Distance, t.Distance*float64(apart(*t, p))*math.Pi/180) < within {
				t.Name = p.Name
				return true
			}
		}
		return false
	})
}

// same reports whether two are not told apart by where they stand: of one kind,
// on the skyline or not, within half a degree.
func same(a, b Thing) bool {
	return a.Kind == b.Kind && a.Skyline == b.Skyline && (a.Name == b.Name || a.Kind == Top) && apart(a, b) < tooClose
}

// apart is the angle between two things, degrees.
func apart(a, b Thing) float64 {
	return math.Abs(float64(geodesy.Difference(a.Bearing, b.Bearing)))
}

// Plainness is how much of the view a thing takes: what it stands out by, and a
// little more for width, the sky behind, and a name. Degrees.
func (t Thing) Plainness() float64 {
	p := float64(t.StandsOut) + 0.1*math.Min(float64(t.Width), 5)
	if t.Skyline {
		p *= 1.5
	}
	if t.Kind == Known {
		p += 0.5
	}
	return p
}

// stand finds where a thing is on the ground: a top on its post.
func (v *View) stand(t *Thing) {
	if t.Kind == Top {
		v.standTop(t)
	}
	plane := v.placement.Plane
	if t.Place == (geodesy.LatLon{}) {
		sin, cos := geodesy.Degrees(t.Bearing).SinCos()
		t.Place = plane.Inverse(t.Distance*sin, t.Distance*cos)
	}
	if c, r, err := v.grid.Locate(t.Place); err == nil {
		t.Filled = dem.FilledAt(v.grid, c, r)
	}
}

// Bounds of where a top's post is looked for: as seen, an outline is straight
// between posts, so its highest place is a post, on this bearing or within a
// step of it. From there the ground's own top is taken where it is in sight and
// looks no farther off than this, degrees, and no lower than a hair.
const (
	topAside = 0.5
	topLower = 0.05
)

// standTop moves a top to the post that is seen highest there, and on to the
// ground's own top where it is as good as the same thing to the eye: what is
// looked at then has the coordinates of the ground's top.
func (v *View) standTop(t *Thing) {
	type post struct {
		column, row int
		slope       float64
		bearing     geodesy.TrueBearing
		distance    float64
	}
	look := func(c, r int) (p post, ok bool) {
		h := v.grid.Elevation(c, r)
		if math.IsNaN(h) {
			return p, false
		}
		e, n := v.placement.Post(c, r)
		slope, seen := v.slopeOf(e, n, h)
		return post{c, r, slope, geodesy.NewTrueBearing(90 - geodesy.Atan2(n, e)), math.Hypot(e, n)}, seen
	}
	aside := func(p post) float64 { return math.Abs(float64(geodesy.Difference(t.Bearing, p.bearing))) }
	qc, qr := t.crest.at.Q()
	var best post
	found := false
	for c := t.crest.at.Column - 1; c <= qc+1; c++ {
		for r := t.crest.at.Row - 1; r <= qr+1; r++ {
			if p, ok := look(c, r); ok && aside(p) <= 1.5*v.Step && (!found || p.slope > best.slope) {
				best, found = p, true
			}
		}
	}
	if !found || best.slope < t.crest.slope-topLower*math.Pi/180 {
		return
	}
	// uphill over the ground
	c, r := best.column, best.row
	for range 4 {
		nc, nr := c, r
		for dc := -1; dc <= 1; dc++ {
			for dr := -1; dr <= 1; dr++ {
				if v.grid.Elevation(c+dc, r+dr) > v.grid.Elevation(nc, nr) {
					nc, nr = c+dc, r+dr
				}
			}
		}
		if nc == c && nr == r {
			break
		}
		c, r = nc, nr
	}
	if c != best.column || r != best.row {
		if p, ok := look(c, r); ok && aside(p) <= topAside && p.slope >= best.slope-topLower*math.Pi/180 {
			best = p
		}
	}
	place, err := v.grid.Place(float64(best.column), float64(best.row))
	if err != nil {
		return
	}
	t.Place, t.Bearing, t.Distance = place, best.bearing, best.distance
	t.Angle, t.Elevation = angle(best.slope), v.grid.Elevation(best.column, best.row)
}

// AboveGround is how high what stands at a Known place is, metres.
func (t Thing) AboveGround() float64 { return t.above }
