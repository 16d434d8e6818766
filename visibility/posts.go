package visibility

import "math"

// owns decides which job answers for a post: t in [lo, hi) of its wedge, and
// on the line between two wedges the one along the columns. Wedges reckon
// near that line with different roundings, so there the post's own position
// is asked again, the same way for both.
func (s *sweeper) owns(m, n int, t float64) bool {
	if math.Abs(t) < 1-1e-9 {
		return t >= s.lo && t < s.hi
	}
	if math.Abs(t) > 1+1e-9 || (t < 0) != (s.lo == -1) || (t > 0) != (s.hi == 1) {
		return false
	}
	x, y := s.cells.at(float64(m), float64(n))
	if !s.columns {
		x, y = s.cells.at(float64(n), float64(m))
	}
	return (math.Abs(y) <= math.Abs(x)) == s.columns
}

func (s *sweeper) testPosts(m, slot, from, to int) {
	e := &s.envelope
	at := slot * s.length
	index := (m-s.firstM)*s.windowM + (s.stripN0-s.firstN+from)*s.windowN
	var reader envelopeReader
	for i := from; i <= to; i, index = i+1, index+s.windowN {
		t := s.t[at+i]
		b := int((t - e.lo) * e.scale)
		if uint(b) >= uint(len(e.low)) {
			if t < s.lo-1e-9 || t > s.hi+1e-9 {
				continue
			}
			b = max(0, min(b, len(e.low)-1))
		}
		u := s.u[at+i]
		if s.target != 0 {
			u += s.target / s.x[at+i]
		}
		if u < e.low[b]-s.slack || u != u {
			continue
		}
		if !s.owns(m, s.stripN0+i, t) || s.verdicts[index] == OutOfRange {
			continue
		}
		top := reader.at(e, t)
		if s.doubted != nil && s.doubt(u, t, top) {
			*s.doubted = append(*s.doubted, int32(index))
			continue
		}
		if !s.clears(u, top, t) {
			continue
		}
		if e.unknown(t) {
			s.verdicts[index] = Unknown
		} else {
			s.verdicts[index] = Visible
		}
	}
}

// clears reports whether a target at u is not below the ground before it by
// more than GrazingSlope.
func (s *sweeper) clears(u, ground, t float64) bool {
	return u >= ground || u >= ground-s.tie && u >= ground-GrazingSlope*s.cells.distance(s.point(1, t))
}

// measurePosts tests posts and works out the heights needed. Posts come by
// growing t, so the envelope is read along with them.
func (s *sweeper) measurePosts(m, slot, from, to int) {
	e := &s.envelope
	at := slot * s.length
	index := (m-s.firstM)*s.windowM + (s.stripN0-s.firstN+from)*s.windowN
	bounded := s.sector != nil || !math.IsInf(s.radius, 1)
	var reader envelopeReader
	for i := from; i <= to; i, index = i+1, index+s.windowN {
		t, u := s.t[at+i], s.u[at+i]
		if u != u || !(t >= s.lo && t < s.hi && math.Abs(t) < 1-1e-9) && !s.owns(m, s.stripN0+i, t) {
			continue
		}
		if bounded && s.verdicts[index] == OutOfRange {
			continue
		}
		x, top, seen := s.x[at+i], reader.at(e, t), u
		if s.target != 0 {
			seen += s.target / x
		}
		unknown := e.unknown(t)
		if seen >= top-s.tie && s.clears(seen, top, t) {
			s.verdicts[index] = Visible
			if unknown {
				s.verdicts[index] = Unknown
			}
		}
		if !unknown {
			if d := top - u; d > 0 {
				s.needed[index] = float32(d * x)
			} else {
				s.needed[index] = 0
			}
		}
	}
}

// limits tells the envelope where lines leave the data, for majors of a
// strip that need no other work.
func (s *sweeper) limits(near, far int) {
	for m := near + s.step; (far-m)*s.step >= 0; m += s.step {
		s.limit(m)
	}
}

// borderSlack is how far outside the last post of a major, in cells, a line
// still counts as meeting it: as near as Walk takes a crossing to be at a
// post.
const borderSlack = 1e-9

// limit tells the envelope where lines leave the data at one major. A line
// along the border meets its posts, though rounding may put it a hair
// outside.
func (s *sweeper) limit(m int) {
	e := &s.envelope
	x, y := s.position(m, s.firstN)
	if x > 0 && y/x >= e.from { // with a bow, a border far aside may lie behind
		t := (y - borderSlack) / x
		e.from = max(e.from, t)
		s.border(m, s.firstN, t, y/x, x, y)
	}
	x, y = s.position(m, s.lastN)
	if x > 0 && y/x <= e.to {
		t := (y + borderSlack) / x
		e.to = min(e.to, t)
		s.border(m, s.lastN, y/x, t, x, y)
	}
}

// border adds the hair outside a border post.
func (s *sweeper) border(m, n int, t0, t1, major, minor float64) {
	above := s.elevation(m, n) - s.eye - s.cells.drop(s.point(major, minor))
	if math.IsNaN(above) {
		s.envelope.addVoid(t0, t1)
		return
	}
	s.envelope.add(t0, above/major, t1, above/major, s.edge(m, min(n, s.lastN-1), false))
}
