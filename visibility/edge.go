package visibility

import (
	"math"

	"crowline/dem"
)

// vertex is an end of an edge in a wedge: its place in cells, and how far it
// stands above the eye's level after the drop, metres; NaN where void.
type vertex struct{ major, minor, above float64 }

func between(a, b vertex, f float64) vertex {
	return vertex{
		major: a.major + f*(b.major-a.major),
		minor: a.minor + f*(b.minor-a.minor),
		above: a.above + f*(b.above-a.above),
	}
}

func (s *sweeper) vertex(m, n int) vertex {
	major, minor := s.position(m, n)
	return vertex{major, minor, s.elevation(m, n) - s.eye - s.cells.drop(s.point(major, minor))}
}

// postShare is how near an end of an edge, as a share of it, a crossing
// counts as at that post: what dem.Placement.Walk takes it to be.
const postShare = 1e-9

// slowEdge adds an edge that needs care: one with a void end, or close to
// the observer or the radius.
func (s *sweeper) slowEdge(m0, n0, m1, n1 int, id int64) {
	a, b := s.vertex(m0, n0), s.vertex(m1, n1)
	if math.IsNaN(a.above) {
		a, b = b, a
	}
	switch {
	case math.IsNaN(a.above): // both void
		s.stretch(a, b, id)
	case math.IsNaN(b.above):
		// A line exactly through the known post has met known ground.
		c := between(a, b, postShare)
		c.above = a.above
		s.stretch(a, c, id)
		c.above = math.NaN()
		s.stretch(c, b, id)
	default:
		s.stretch(a, b, id)
	}
}

// endOn is how near the observer, in cells, an edge counts as passing
// through it: as near as dem.Frame.Locate takes a place to be on an edge.
// Such an edge is seen end on and does not count. A line along it finds
// nothing higher on it than its far end, which the edges that meet there
// hold; its near end is all rounding.
const endOn = 1e-6

// through reports whether a crossing's edge passes through the observer.
func (c *cells) through(x dem.Crossing) bool {
	column, row := c.placement.Origin()
	if math.Abs(float64(x.Column)-column) > 2 || math.Abs(float64(x.Row)-row) > 2 {
		return false
	}
	e0, n0 := c.placement.Post(x.Column, x.Row)
	e1, n1 := c.placement.Post(x.Q())
	_, _, near := inDisc(e0, n0, e1, n1, endOn*c.longest)
	return near
}

// stretch adds part of an edge, less what lies within dem.NearLimit of the
// observer, behind it, or (for a horizon) beyond the radius.
func (s *sweeper) stretch(a, b vertex, id int64) {
	from, to := 0.0, 1.0
	if s.clip && !math.IsInf(s.radius, 1) {
		var ok bool
		if from, to, ok = s.inDisc(a, b, s.radius); !ok {
			return
		}
	}
	if _, _, through := s.inDisc(a, b, endOn*s.cells.longest); through {
		return
	}
	nearFrom, nearTo, near := s.inDisc(a, b, dem.NearLimit)
	if !near {
		s.inFront(between(a, b, from), between(a, b, to), a, b, from, to, id)
		return
	}
	if f := min(to, nearFrom); from < f {
		s.inFront(between(a, b, from), between(a, b, f), a, b, from, f, id)
	}
	if f := max(from, nearTo); f < to {
		s.inFront(between(a, b, f), between(a, b, to), a, b, f, to, id)
	}
}

// inFront cuts a stretch where it comes from behind the observer and adds
// the rest. Ends that are the edge's own are taken as they are, so that
// edges that share a post share its t.
func (s *sweeper) inFront(p, q, a, b vertex, from, to float64, id int64) {
	if from == 0 {
		p = a
	}
	if to == 1 {
		q = b
	}
	if min(p.major, q.major) < 0.5 {
		// the job's range with a margin: what lies outside is cut again
		const margin = 0.125
		lo, hi := s.lo-margin, s.hi+margin
		f, g := 0.0, 1.0
		for _, plane := range [2]func(v vertex) float64{
			func(v vertex) float64 { return v.minor - lo*v.major },
			func(v vertex) float64 { return hi*v.major - v.minor },
		} {
			d0, d1 := plane(p), plane(q)
			switch {
			case d0 < 0 && d1 < 0:
				return
			case d0 < 0:
				f = max(f, d0/(d0-d1))
			case d1 < 0:
				g = min(g, d0/(d0-d1))
			}
		}
		if !(f < g) {
			return
		}
		p0, q0 := p, q
		if f > 0 {
			p = between(p0, q0, f)
		}
		if g < 1 {
			q = between(p0, q0, g)
		}
		if !(p.major > 0 && q.major > 0) {
			return
		}
	}
	t0, t1 := p.minor*(1/p.major), q.minor*(1/q.major) // as place has them
	if math.IsNaN(p.above) || math.IsNaN(q.above) {
		s.envelope.addVoid(t0, t1)
		return
	}
	s.envelope.add(t0, p.above/p.major, t1, q.above/q.major, id)
}

func (s *sweeper) inDisc(a, b vertex, radius float64) (from, to float64, ok bool) {
	e0, n0 := s.cells.metres(s.point(a.major, a.minor))
	e1, n1 := s.cells.metres(s.point(b.major, b.minor))
	return inDisc(e0, n0, e1, n1, radius)
}

// inDisc is the part of a straight line on the plane within a distance of
// the observer, metres, as shares of its length.
func inDisc(e0, n0, e1, n1, radius float64) (from, to float64, ok bool) {
	de, dn := e1-e0, n1-n0
	qa, qb, qc := de*de+dn*dn, e0*de+n0*dn, e0*e0+n0*n0-radius*radius
	d := qb*qb - qa*qc
	if !(d > 0) || qa == 0 {
		return 0, 0, false
	}
	root := math.Sqrt(d)
	from, to = max(0, (-qb-root)/qa), min(1, (-qb+root)/qa)
	return from, to, from < to
}
