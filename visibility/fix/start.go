package fix

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/mat"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// starts are the places to search from: where each two lines of bearing
// cross, where each crosses the known line, and, for a single bearing with
// an altimeter, where its ground stands at the elevation read.
func (p *problem) starts() []geodesy.LatLon {
	var out []geodesy.LatLon
	for i := range p.bearings {
		for j := range i {
			if x, ok := p.crossing(i, j); ok {
				out = append(out, x)
			}
		}
		if p.options.Line != nil {
			out = append(out, p.lineCrossings(i)...)
		}
	}
	if p.options.Altimeter != nil && len(p.bearings) > 1 {
		if x, ok := p.folds(); ok {
			out = append(out, x)
		}
	}
	if len(p.bearings) == 1 && p.options.Altimeter != nil && p.options.Line == nil {
		out = append(out, p.levelCrossings()...)
	}
	return out
}

const (
	// fewest starts are searched from, and more as long as they fit within
	// near of the best, where each may be a place of its own.
	fewest = 4
	near   = 4 * ambiguous
)

// promising are the starts worth a search, best first: bearings that disagree
// cross in many places, of which only the best few lead anywhere new.
func (p *problem) promising(limit float64) []geodesy.LatLon {
	type start struct {
		place geodesy.LatLon
		cost  float64
	}
	var all []start
	var failed []geodesy.LatLon
	for _, x := range p.starts() {
		o, err := p.observe(x)
		if err != nil {
			failed = append(failed, x) // its error is told if nothing else is found
			continue
		}
		_, residual, _, err := p.weigh(o)
		if err != nil {
			failed = append(failed, x)
			continue
		}
		if cost := mat.Dot(residual, residual); cost <= limit {
			all = append(all, start{x, cost})
		}
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].cost < all[j].cost })
	var out []geodesy.LatLon
	for i, s := range all {
		if i < fewest || s.cost < all[0].cost+near {
			out = append(out, s.place)
		}
	}
	return append(out, failed[:min(len(failed), fewest)]...)
}

// position is a line of position on a plane: a point of it and its
// direction from the known place toward the unknown one.
type position struct{ e, n, de, dn float64 }

// line is bearing i on a plane. A resection's is exact in direction when the
// plane is centred on the unknown place, so that crossing is repeated with
// the last result as centre.
func (p *problem) line(i int, plane geodesy.Plane) (position, error) {
	b := p.bearings[i]
	observed, err := p.observed(i, plane.Centre)
	if err != nil {
		return position{}, err
	}
	e, n := plane.Forward(b.Place)
	if p.resect {
		sin, cos := geodesy.Degrees(observed).SinCos()
		return position{e, n, -sin, -cos}, nil
	}
	ahead, _ := geodesy.Direct(b.Place, observed, max(1000, math.Hypot(e, n)))
	fe, fn := plane.Forward(ahead)
	length := math.Hypot(fe-e, fn-n)
	return position{e, n, (fe - e) / length, (fn - n) / length}, nil
}

// recentre is how often a crossing is repeated about the last one. The first
// is off by the convergence of meridians, a few degrees at most; each round
// takes off all but that share.
const recentre = 4

// nearlyParallel is the sine of the angle under which lines do not cross.
const nearlyParallel = 1e-4

func (p *problem) crossing(i, j int) (geodesy.LatLon, bool) {
	centre := p.bearings[i].Place
	for range recentre {
		plane := geodesy.NewPlane(centre)
		a, err := p.line(i, plane)
		if err != nil {
			return centre, false
		}
		b, err := p.line(j, plane)
		if err != nil {
			return centre, false
		}
		cross := a.de*b.dn - a.dn*b.de
		if math.Abs(cross) < nearlyParallel {
			return centre, false
		}
		t := ((b.e-a.e)*b.dn - (b.n-a.n)*b.de) / cross
		e, n := a.e+t*a.de, a.n+t*a.dn
		if !(math.Hypot(e, n) < farthest) {
			return centre, false
		}
		centre = plane.Inverse(e, n)
	}
	return centre, true
}

// lineCrossings are where the ray of bearing i meets the known line, and the
// middle of each piece that it misses but that ends near it.
func (p *problem) lineCrossings(i int) []geodesy.LatLon {
	l := p.options.Line
	var out []geodesy.LatLon
	for k := 1; k < len(l.Points); k++ {
		middle := geodesy.Waypoints(l.Points[k-1], l.Points[k], 2)[1]
		if l.Points[k-1] == l.Points[k] {
			continue
		}
		plane := geodesy.NewPlane(middle)
		a, err := p.line(i, plane)
		if err != nil {
			continue
		}
		be, bn := plane.Forward(l.Points[k-1])
		ce, cn := plane.Forward(l.Points[k])
		cross := a.de*(cn-bn) - a.dn*(ce-be)
		if math.Abs(cross) < nearlyParallel*math.Hypot(ce-be, cn-bn) {
			continue
		}
		t := ((be-a.e)*(cn-bn) - (bn-a.n)*(ce-be)) / cross
		s := ((be-a.e)*a.dn - (bn-a.n)*a.de) / cross
		if t <= 0 || s < -0.5 || s > 1.5 {
			continue
		}
		s = min(1, max(0, s))
		out = append(out, plane.Inverse(be+s*(ce-be), bn+s*(cn-bn)))
	}
	return out
}

// searchReach is how far along a single bearing ground of the elevation read
// is looked for, metres: farther than a mark is picked out.
const searchReach = 50e3

// levelCrossings are the places along the only bearing where the ground
// passes the altimeter's elevation, stepping by the post spacing. The
// search then settles on the ground itself.
func (p *problem) levelCrossings() []geodesy.LatLon {
	f := p.options.Posts.Layout()
	from := p.bearings[0].Place
	column, row, err := f.Locate(from)
	if err != nil {
		return nil
	}
	alongRow, alongColumn, err := f.Spacing(column, row)
	if err != nil {
		return nil
	}
	step := min(alongRow, alongColumn)
	var out []geodesy.LatLon
	last := math.NaN()
	for d := step; d < searchReach; d += step {
		x := p.along(from, d)
		h, err := dem.ElevationAt(p.options.Posts, x)
		if err != nil {
			last = math.NaN()
			continue
		}
		over := h - p.options.Altimeter.Elevation
		if !math.IsNaN(last) && (over >= 0) != (last >= 0) {
			out = append(out, p.along(from, d-step*over/(over-last)))
		}
		last = over
	}
	return out
}

// along is the place at a distance from a known place on the only line of
// position.
func (p *problem) along(from geodesy.LatLon, d float64) geodesy.LatLon {
	x := from
	for range recentre {
		observed, err := p.observed(0, x)
		if err != nil {
			return from
		}
		if !p.resect {
			x, _ = geodesy.Direct(from, observed, d)
			return x
		}
		// The bearing is seen from x; from the mark it is the geodesic's
		// other end, turned by the convergence between the two.
		g := geodesy.Inverse(x, from)
		turn := geodesy.Degrees(0)
		if g.Distance > 0 {
			turn = geodesy.Difference(g.Start, g.End)
		}
		x, _ = geodesy.Direct(from, geodesy.NewTrueBearing(geodesy.Degrees(observed.Back())+turn), d)
	}
	return x
}
