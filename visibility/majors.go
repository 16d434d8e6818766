package visibility

// cover says which edge of a major a post of the major before is under, as
// seen from the eye.
type cover uint8

const (
	uncovered   cover = iota
	coverBefore       // the edge to the post abreast of it, from the one before
	coverAfter        // the edge from the post abreast of it, to the one after
)

// crossEdges merges the edges between two majors, and notes which posts of
// the nearer one the farther one covers.
func (s *sweeper) crossEdges(m, slotBefore, slot, from, to int) {
	before, at := slotBefore*s.length, slot*s.length
	for i := from; i <= to; i++ {
		n := s.stripN0 + i
		t0, u0, t1, u1 := s.t[before+i], s.u[before+i], s.t[at+i], s.u[at+i]
		s.covers[i] = uncovered
		if d := u1 - u0; d != d || s.straddle(i) {
			s.slowEdge(m-s.step, n, m, n, s.edge(min(m, m-s.step), n, true))
			continue
		}
		if s.under(t0, t1, max(u0, u1)) {
			continue
		}
		// Beside a cross edge, seen from the eye, run an edge of its far major
		// from the one end and an edge of its near major from the other. Where
		// either stands over it, as on most ground, it adds nothing.
		covered := false
		if t0 > t1 {
			if i < to && over(t1, u1, s.t[at+i+1], s.u[at+i+1], t0, u0) {
				s.covers[i], covered = coverAfter, true
			} else {
				covered = i > from && s.waiting && over(t0, u0, s.t[before+i-1], s.u[before+i-1], t1, u1)
			}
		} else {
			if i > from && over(t1, u1, s.t[at+i-1], s.u[at+i-1], t0, u0) {
				s.covers[i], covered = coverBefore, true
			} else {
				covered = i < to && s.waiting && over(t0, u0, s.t[before+i+1], s.u[before+i+1], t1, u1)
			}
		}
		if !covered {
			s.envelope.collect(t0, u0, t1, u1, s.edge(min(m, m-s.step), n, true))
		}
	}
	s.envelope.flush()
}

// over reports whether a line from (t0, u0) to (t1, u1) reaches past t, on its
// side of t0, and is not below u there. No, where an end is void.
func over(t0, u0, t1, u1, t, u float64) bool {
	d, far := t-t0, t1-t0
	if d > 0 {
		return far >= d && (u1-u0)*d >= (u-u0)*far
	}
	return far <= d && (u1-u0)*d <= (u-u0)*far
}

// ringEdges merges the edges of a major, but for those that the next major,
// in slot next, covers; none is covered when next is negative.
func (s *sweeper) ringEdges(m, slot, next, from, to int) {
	at, after := slot*s.length, next*s.length
	for i := from; i < to; i++ {
		t0, u0, t1, u1 := s.t[at+i], s.u[at+i], s.t[at+i+1], s.u[at+i+1]
		if d := u1 - u0; d != d || s.straddle(i) {
			n := s.stripN0 + i
			s.slowEdge(m, n, m, n+1, s.edge(m, n, false))
			continue
		}
		if s.under(t0, t1, max(u0, u1)) {
			continue
		}
		if next >= 0 && t0 < t1 && s.covers[i] != uncovered && s.covers[i+1] != uncovered {
			// both ends are covered; is it, at the next major's posts between?
			first, last := i, i+1
			if s.covers[i] == coverAfter {
				first = i + 1
			}
			if s.covers[i+1] == coverBefore {
				last = i
			}
			covered := true
			for k := first; k <= last; k++ {
				t, u := s.t[after+k], s.u[after+k]
				covered = covered && (u-u0)*(t1-t0) >= (u1-u0)*(t-t0)
			}
			if covered {
				continue
			}
		}
		s.envelope.collect(t0, u0, t1, u1, s.edge(m, s.stripN0+i, false))
	}
	s.envelope.flush()
}

// straddle reports whether a post's block, or the one it borders on, is so
// near the observer, or for a horizon the radius, that its edges must be cut
// in the plane.
func (s *sweeper) straddle(i int) bool {
	b := min(i/blockCells, len(s.straddles)-1)
	return s.straddles[b] || i > 0 && s.straddles[(i-1)/blockCells]
}

// under reports whether an edge whose ends are no higher than u is under all
// the ground nearer than it. For edges that span few bins; others are left
// to add.
func (s *sweeper) under(t0, t1, u float64) bool {
	e := &s.envelope
	b0, b1 := int((t0-e.lo)*e.scale), int((t1-e.lo)*e.scale)
	if b0 > b1 {
		b0, b1 = b1, b0
	}
	if b1 < 0 || b0 >= len(e.low) {
		return true // outside the job's range
	}
	b0, b1 = max(b0, 0), min(b1, len(e.low)-1)
	for _, low := range e.low[b0 : b1+1] {
		if u > low {
			return false
		}
	}
	return true
}
