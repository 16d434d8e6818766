package fix

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"crowline/dem/geodesy"
)

// Region is the ground that holds the true place with the stated probability:
// where the chi-square is less than -2 ln(1-p) over the least, p its quantile
// with two degrees of freedom (a likelihood-ratio region). It needs no lines
// that are straight and no errors that are small beside the distances, as an
// ellipse does. Where several places fit, it is the connected part of that
// ground about one of them.
type Region struct {
	Probability float64
	// Outline of it, counterclockwise, not closed; holes in it count as part of it.
	Outline []geodesy.LatLon
	// Area, square metres.
	Area float64
	// Farthest is how far, metres, it reaches from the place, and Toward the
	// bearing there.
	Farthest float64
	Toward   geodesy.TrueBearing
	// Longest is the greatest distance between two points of it, metres, Along
	// its bearing, in [0, 180), and Across how wide it is square to that.
	Longest float64
	Along   geodesy.TrueBearing
	Across  float64
}

// Covers reports whether a place lies in the region.
func (r *Region) Covers(place geodesy.LatLon) bool {
	in := false
	// a ray to the east of the place crosses the outline an odd number of times;
	// its steps are short enough for latitude and longitude as a chart
	off := func(q geodesy.LatLon) (e, n float64) {
		return math.Remainder(float64(q.Lon-place.Lon), 360), float64(q.Lat - place.Lat)
	}
	ae, an := off(r.Outline[len(r.Outline)-1])
	for _, q := range r.Outline {
		be, bn := off(q)
		if (an > 0) != (bn > 0) && ae-an*(be-ae)/(bn-an) > 0 {
			in = !in
		}
		ae, an = be, bn
	}
	return in
}

const (
	// cellShare of a standard deviation is a step of the lattice that a region is
	// traced on: about twenty steps across it.
	cellShare = 0.25
	// crossShare of what evidence is good to is the step where that bends within
	// the region: ground of an elevation read, a known line.
	crossShare = 0.7
	// mostCells are looked at: a region of bearings that reaches to the bound takes a
	// tenth of them. With more the lattice is made coarser, coarsenings times.
	mostCells   = 40_000
	coarsenings = 3
	// boundShare is how many times the greatest distance between known places
	// the search reaches, where that is more than SearchReach.
	boundShare = 10
)

// errUnbounded: a region reaches to the bound of the search.
var errUnbounded = errors.New("fix: what fits has no far end")

// searched is how far from a place its region is looked for, metres.
func (p *problem) searched() float64 {
	out := float64(SearchReach)
	for i := range p.bearings {
		for j := range i {
			out = max(out, boundShare*geodesy.Inverse(p.bearings[i].Place, p.bearings[j].Place).Distance)
		}
	}
	return out
}

// node of a lattice: steps along and across.
type node [2]int

// mesh is a lattice about a place, and the chi-squares known on it.
type mesh struct {
	plane        geodesy.Plane
	sin, cos     float64 // of the bearing along
	along, cross float64 // steps, metres
	chiSquare    map[node]float64
	in           map[node]bool
}

func (m *mesh) at(along, cross float64) (east, north float64) {
	along, cross = along*m.along, cross*m.cross
	return along*m.sin + cross*m.cos, along*m.cos - cross*m.sin
}

// region is traced on a lattice laid out by a covariance: from the place
// outward to where the chi-square passes the limit. best is the node with the
// least. It is nil, without an error, where it takes too many nodes. errUnbounded
// where it reaches to the bound.
func (p *problem) region(ctx context.Context, c candidate, covariance [3]float64, limit float64) (region *Region, best geodesy.LatLon, err error) {
	e := ellipse(covariance[0], covariance[1], covariance[2], OneSigma)
	m := &mesh{plane: geodesy.NewPlane(c.place), along: cellShare * e.SemiMajor, cross: cellShare * e.SemiMinor}
	m.sin, m.cos = geodesy.Degrees(e.Along).SinCos()
	finest := math.Inf(1)
	if p.options.Line != nil {
		finest = crossShare * p.options.Line.Error
	}
	if a := p.options.Altimeter; a != nil {
		if slope, err := p.groundSlope(c.place, m.plane); err == nil {
			finest = min(finest, crossShare*math.Hypot(a.Error, p.options.VerticalError)/math.Hypot(slope[0], slope[1]))
		}
	}
	m.along, m.cross = min(m.along, finest), min(m.cross, finest)
	// neither vanishes where a covariance is of a single point
	m.along = max(m.along, samePlace)
	m.cross = max(m.cross, min(samePlace, m.along))
	for range coarsenings {
		best, full, err := p.flood(ctx, m, limit)
		if err != nil {
			return nil, best, err
		}
		if !full {
			return m.outline(limit), best, nil
		}
		m.along, m.cross = 2*m.along, 2*m.cross
	}
	return nil, c.place, nil
}

// flood finds the nodes under the limit that are joined to the middle one.
// full: there are more of them than are looked at.
func (p *problem) flood(ctx context.Context, m *mesh, limit float64) (best geodesy.LatLon, full bool, err error) {
	m.chiSquare, m.in = map[node]float64{}, map[node]bool{{}: true}
	bound, least := p.searched(), math.Inf(1)
	queue := []node{{}}
	for len(queue) > 0 {
		n := queue[len(queue)-1]
		queue = queue[:len(queue)-1]
		if len(m.chiSquare)%1024 == 0 && ctx.Err() != nil {
			return best, false, fmt.Errorf("fix: %w", ctx.Err())
		}
		for _, next := range [5]node{n, {n[0] + 1, n[1]}, {n[0] - 1, n[1]}, {n[0], n[1] + 1}, {n[0], n[1] - 1}} {
			if _, known := m.chiSquare[next]; known {
				continue
			}
			east, north := m.at(float64(next[0]), float64(next[1]))
			if math.Hypot(east, north) > bound {
				return best, false, errUnbounded
			}
			x := m.plane.Inverse(east, north)
			v, ok, err := p.chiSquare(x)
			if err != nil {
				return best, false, err
			}
			if !ok {
				v = math.Inf(1)
			}
			m.chiSquare[next] = v
			if v < least {
				best, least = x, v
			}
			if v <= limit && next != (node{}) {
				m.in[next] = true
				queue = append(queue, next)
			}
		}
		if len(m.chiSquare) > mostCells {
			return best, true, nil
		}
	}
	return best, false, nil
}

// edge of a lattice, from a node along (0) or across (1).
type edge struct {
	node
	way int
}

func edgeBetween(a, b node) edge {
	if a[0] != b[0] {
		return edge{node{min(a[0], b[0]), a[1]}, 0}
	}
	return edge{node{a[0], min(a[1], b[1])}, 1}
}

// outline is where the chi-square passes the limit round the nodes that are in.
func (m *mesh) outline(limit float64) *Region {
	// Round each cell, the outline leaves by the edge from an inner node to an
	// outer one and comes from the edge by which that run of inner nodes began:
	// nodes that only touch at a corner are not joined, as in the flood.
	next := map[edge]edge{}
	points := map[edge][2]float64{}
	seen := map[node]bool{}
	for n := range m.in {
		for _, cell := range [4]node{n, {n[0] - 1, n[1]}, {n[0], n[1] - 1}, {n[0] - 1, n[1] - 1}} {
			if seen[cell] {
				continue
			}
			seen[cell] = true
			corners := [4]node{cell, {cell[0], cell[1] + 1}, {cell[0] + 1, cell[1] + 1}, {cell[0] + 1, cell[1]}}
			for k := range 4 {
				a, b := corners[k], corners[(k+1)%4]
				if !m.in[a] || m.in[b] {
					continue
				}
				first := k
				for m.in[corners[(first+3)%4]] {
					first += 3
				}
				out, in := edgeBetween(a, b), edgeBetween(corners[(first+3)%4], corners[first%4])
				next[out] = in
				points[out] = m.pass(a, b, limit)
			}
		}
	}
	var ring [][2]float64
	area := 0.0
	for start := range next {
		var loop [][2]float64
		for e := start; ; {
			to, ok := next[e]
			if !ok {
				break
			}
			loop = append(loop, points[e])
			delete(next, e)
			e = to
		}
		if a := ringArea(loop); math.Abs(a) > area {
			ring, area = loop, math.Abs(a)
		}
	}
	return measure(m.plane, ring)
}

// pass is where between an inner and an outer node the limit is passed: the
// root of the chi-square runs nearly straight.
func (m *mesh) pass(in, out node, limit float64) [2]float64 {
	t := 0.5
	if v, w := m.chiSquare[in], m.chiSquare[out]; !math.IsInf(w, 1) && w > limit && limit > v {
		t = (math.Sqrt(limit) - math.Sqrt(v)) / (math.Sqrt(w) - math.Sqrt(v))
	}
	east, north := m.at(float64(in[0])+t*float64(out[0]-in[0]), float64(in[1])+t*float64(out[1]-in[1]))
	return [2]float64{east, north}
}

// ringArea is positive where a ring runs counterclockwise, square metres.
func ringArea(ring [][2]float64) (sum float64) {
	for i, b := range ring {
		a := ring[(i+len(ring)-1)%len(ring)]
		sum += (a[0]*b[1] - a[1]*b[0]) / 2
	}
	return sum
}

// measure is the region in a ring of metres about the centre of a plane.
func measure(plane geodesy.Plane, ring [][2]float64) *Region {
	if ringArea(ring) < 0 {
		slices.Reverse(ring)
	}
	// from its northernmost point, whatever the order of the walk that found it
	first := 0
	for i, q := range ring {
		if q[1] > ring[first][1] || q[1] == ring[first][1] && q[0] > ring[first][0] {
			first = i
		}
	}
	ring = slices.Concat(ring[first:], ring[:first])
	r := &Region{Probability: 0.95, Area: ringArea(ring)}
	for _, q := range ring {
		r.Outline = append(r.Outline, plane.Inverse(q[0], q[1]))
	}
	r.from(plane.Centre)
	var along [2]float64
	corners := hull(ring)
	for i, a := range corners {
		for _, b := range corners[:i] {
			if d := math.Hypot(a[0]-b[0], a[1]-b[1]); d > r.Longest {
				r.Longest, along = d, [2]float64{(a[0] - b[0]) / d, (a[1] - b[1]) / d}
			}
		}
	}
	bearing := geodesy.Atan2(along[0], along[1])
	if bearing < 0 {
		bearing += 180
	}
	if bearing >= 180 {
		bearing = 0
	}
	r.Along = geodesy.TrueBearing(bearing)
	least, most := math.Inf(1), math.Inf(-1)
	for _, q := range corners {
		across := q[0]*along[1] - q[1]*along[0]
		least, most = min(least, across), max(most, across)
	}
	r.Across = most - least
	return r
}

// hull is the convex hull of points (Andrew's monotone chain, 1979).
func hull(points [][2]float64) (out [][2]float64) {
	sorted := slices.Clone(points)
	slices.SortFunc(sorted, func(a, b [2]float64) int { return slices.Compare(a[:], b[:]) })
	half := func() {
		first := len(out)
		for _, q := range sorted {
			for len(out) > first+1 {
				a, b := out[len(out)-2], out[len(out)-1]
				if (b[0]-a[0])*(q[1]-a[1])-(b[1]-a[1])*(q[0]-a[0]) > 0 {
					break
				}
				out = out[:len(out)-1]
			}
			out = append(out, q)
		}
		out = out[:len(out)-1] // the other half begins with it
	}
	half()
	slices.Reverse(sorted)
	half()
	return out
}

// from sets how far the region reaches from a place.
func (r *Region) from(place geodesy.LatLon) {
	plane := geodesy.NewPlane(place)
	r.Farthest = 0
	for _, x := range r.Outline {
		e, n := plane.Forward(x)
		if d := math.Hypot(e, n); d > r.Farthest {
			r.Farthest, r.Toward = d, geodesy.NewTrueBearing(geodesy.Atan2(e, n))
		}
	}
}

// EllipseHolds reports whether the ellipse holds the place, if it is the one, as
// often as it says. It does not where lines of position cross at under 30
// degrees, or bearings make it so long that they bend within it: the ground that
// fits is then longer on the far side, and Region is that ground.
func (c *Candidate) EllipseHolds() bool {
	if c.Crossing < LeastCrossing {
		return false
	}
	if !math.IsNaN(c.AltimeterResidual) || !math.IsNaN(c.LineDistance) {
		return true // of second moments, not of straight lines
	}
	e := c.Ellipse(OneSigma)
	return e.SemiMajor <= longEllipse*e.SemiMinor
}

// Reach is how far from Place the true one may lie, if this is the one, metres,
// and the bearing there: 19 times in 20 it is nearer.
func (c *Candidate) Reach() (metres float64, toward geodesy.TrueBearing) {
	if c.Region != nil {
		return c.Region.Farthest, c.Region.Toward
	}
	e := c.Ellipse(0.95)
	return e.SemiMajor, e.Along
}

// FitToWalkOn reports whether the fix can be walked on: it is one place, all that
// fits lies within a distance of it, metres, no bearing is doubted and the ground
// hides no mark by more than the data's error.
func (f *Fix) FitToWalkOn(within float64) bool {
	for _, w := range f.Warnings {
		if w.Kind == Blunder || w.Kind == BackBearing {
			return false
		}
	}
	reach, _ := f.Reach()
	return !f.hidden && !f.Ambiguous() && reach <= within
}

// covers reports whether the place may be one that fits too.
func (c *Candidate) covers(place geodesy.LatLon) bool {
	if c.Region != nil {
		return c.Region.Covers(place)
	}
	return c.Ellipse(0.95).Covers(c.Place, place)
}
