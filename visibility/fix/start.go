package fix

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/mat"

	"crowline/dem/geodesy"
)

// start is a place to search from.
type start struct {
	place geodesy.LatLon
	// apart: nothing that fits as well leads along a line of position from it to
	// the next start.
	apart bool
	// reach is how far, metres, the places joined to one that is apart may lie
	// from it.
	reach float64
	// fold, of the ground along a bearing, that it is on; nil for none.
	fold *fold
}

// starts are the places to search from: where each two lines of bearing
// cross, where each meets the known line, and, where bearings do not bound the
// place, where the ground along one stands at the elevation read.
func (p *problem) starts() []start {
	var out []start
	bounded := false
	for i := range p.bearings {
		for j := range i {
			if x, ok := p.crossing(i, j); ok {
				out = append(out, start{place: x})
			}
			bounded = bounded || p.bound(i, j)
		}
		if p.options.Line != nil {
			out = append(out, p.lineStarts(i)...)
		}
	}
	if p.options.Altimeter != nil && len(p.bearings) > 1 {
		if x, ok := p.folds(); ok {
			out = append(out, start{place: x})
		}
	}
	if p.options.Altimeter != nil && p.options.Line == nil && !bounded {
		out = append(out, p.levelStarts()...)
	}
	return out
}

// bound reports whether two bearings, as read, cross by more than their errors
// (leastAngle).
func (p *problem) bound(i, j int) bool {
	a, errA := p.observed(i, p.bearings[i].Place)
	b, errB := p.observed(j, p.bearings[j].Place)
	if errA != nil || errB != nil {
		return false
	}
	d := math.Abs(float64(geodesy.Difference(a, b)))
	one, other := p.readingError(i), p.readingError(j)
	return geodesy.Degrees(min(d, 180-d)) > leastAngle(one*one, other*other)
}

// fewest starts are searched from, and more as long as they fit within near of
// the best, where each may be a place of its own.
const fewest = 4

var near = 4 * ambiguous

// promising are the starts worth a search, best first: bearings that disagree
// cross in many places, of which only the best few lead anywhere new.
func (p *problem) promising(limit float64) []start {
	type costed struct {
		start
		cost float64
	}
	var all []costed
	var failed []start
	for _, s := range p.starts() {
		o, err := p.observe(s.place)
		if err != nil {
			failed = append(failed, s) // its error is told if nothing else is found
			continue
		}
		_, residual, _, err := p.weigh(o)
		if err != nil {
			failed = append(failed, s)
			continue
		}
		if cost := mat.Dot(residual, residual); cost <= limit {
			all = append(all, costed{s, cost})
		}
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].cost < all[j].cost })
	var out []start
	for i, s := range all {
		if i < fewest || s.cost < all[0].cost+near {
			out = append(out, s.start)
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

// stretch is a part of a walk, in samples, over which something stays within a
// band about zero or passes through it; at is where it is nearest to zero.
type stretch struct{ from, to, at float64 }

// within gives the stretches of a walk on which samples stay within a band
// about zero, and the steps on which they pass through zero from one side of
// the band to the other. Nothing leads over a sample that is NaN. Of several
// passages through zero in a stretch, the one nearest its middle is taken.
func within(samples []float64, band float64) []stretch {
	var out []stretch
	var open *stretch
	var zeros []float64
	least := math.Inf(1)
	shut := func() {
		if open == nil {
			return
		}
		middle := (open.from + open.to) / 2
		for i, z := range zeros {
			if i == 0 || math.Abs(z-middle) < math.Abs(open.at-middle) {
				open.at = z
			}
		}
		out = append(out, *open)
		open, zeros, least = nil, nil, math.Inf(1)
	}
	enter := func(at float64) {
		if open == nil {
			open = &stretch{from: at, at: at}
		}
		open.to = at
	}
	for k, v := range samples {
		if math.IsNaN(v) {
			shut()
			continue
		}
		if k > 0 && !math.IsNaN(samples[k-1]) {
			if last := samples[k-1]; (v >= 0) != (last >= 0) {
				zero := float64(k-1) + last/(last-v)
				enter(zero)
				zeros = append(zeros, zero)
			}
		}
		if !(math.Abs(v) <= band) {
			shut()
			continue
		}
		enter(float64(k))
		if math.Abs(v) < least {
			open.at, least = float64(k), math.Abs(v)
		}
	}
	shut()
	return out
}

const (
	// lineShare of the distance to the mark is a step along a known line: how
	// unsure a bearing is there changes by as much.
	lineShare = 0.02
	// lineNearest is the least step, metres, but for the line's own points.
	lineNearest = 2
)

// walked is a place of a known line and how bearing i stands to it there: how
// many standard deviations it is off, as much as the line's own error may
// account for being taken off.
type walked struct {
	place geodesy.LatLon
	off   float64
}

// walk goes along the known line for bearing i. Each place is held against how
// unsure the bearing is there, from where it is: a mark is unsurest near by. A
// place where the line begins anew, and one between that the bearing does not
// lead to, is NaN.
func (p *problem) walk(i int) (out []walked) {
	l := p.options.Line
	gaps := l.Gaps
	var last, lastTurn float64
	add := func(x geodesy.LatLon, de, dn float64) {
		residual, distance := p.turn(i, x)
		_, _, slope := p.computed(i, x)
		sigma := math.Hypot(p.readingError(i), float64(p.options.SharedError))
		sigma = math.Hypot(sigma, float64(geodesy.Atan2(p.bearings[i].PlaceError, distance)))
		// what a step off the line, square to it, turns the bearing by
		across := (slope[0]*dn - slope[1]*de) * l.Error
		off := residual / math.Hypot(sigma, min(90, math.Abs(across)))
		// a turn of half round or more between two places is behind the bearing
		if len(out) > 0 && !math.IsNaN(last) && math.Abs(residual-lastTurn) > 180 {
			out = append(out, walked{x, math.NaN()})
		}
		last, lastTurn = off, residual
		out = append(out, walked{x, off})
	}
	add(l.Points[0], 0, 0)
	for k := 1; k < len(l.Points); k++ {
		to := l.Points[k]
		if len(gaps) > 0 && gaps[0] == k {
			gaps = gaps[1:]
			out, last = append(out, walked{to, math.NaN()}), math.NaN()
			add(to, 0, 0)
			continue
		}
		from := l.Points[k-1]
		plane := geodesy.NewPlane(from)
		e, n := plane.Forward(to)
		length := math.Hypot(e, n)
		if length == 0 {
			continue
		}
		for done := 0.0; done < length; {
			x := plane.Inverse(e*done/length, n*done/length)
			_, distance := p.turn(i, x)
			done += max(lineNearest, lineShare*distance)
			if t := min(1, done/length); t < 1 {
				add(plane.Inverse(t*e, t*n), e/length, n/length)
			} else {
				add(to, e/length, n/length)
			}
		}
	}
	return out
}

// lineStarts are the places of the known line that bearing i fits best: on
// each stretch of it that fits within band standard deviations, one.
func (p *problem) lineStarts(i int) []start {
	walk := p.walk(i)
	samples := make([]float64, len(walk))
	for k, w := range walk {
		samples[k] = w.off
	}
	var out []start
	for _, s := range within(samples, band) {
		k := int(s.at)
		place := walk[k].place
		if s.at != float64(k) {
			place = p.between(i, walk[k].place, walk[k+1].place)
		}
		reach := 0.0
		for _, end := range [2]int{int(math.Floor(s.from)), min(len(walk)-1, int(math.Ceil(s.to)))} {
			reach = max(reach, geodesy.Inverse(place, walk[end].place).Distance)
		}
		out = append(out, start{place: place, apart: len(p.bearings) == 1, reach: reach + band*p.options.Line.Error})
	}
	return out
}

// band is how many standard deviations off a place may be and still be a rival
// of one that fits exactly.
var band = math.Sqrt(ambiguous)

// turn is the residual of bearing i at a place, degrees, and the distance to
// its mark; NaN where it has none.
func (p *problem) turn(i int, x geodesy.LatLon) (residual, distance float64) {
	observed, err := p.observed(i, x)
	if err != nil {
		return math.NaN(), 1
	}
	computed, distance, _ := p.computed(i, x)
	return float64(geodesy.Difference(computed, observed)), max(distance, settled)
}

// halvings of a piece of a line: of 100 km to under a metre.
const halvings = 17

// between is where bearing i meets the straight piece of line between two
// places, one on either side of it.
func (p *problem) between(i int, from, to geodesy.LatLon) geodesy.LatLon {
	plane := geodesy.NewPlane(geodesy.Waypoints(from, to, 2)[1])
	ae, an := plane.Forward(from)
	be, bn := plane.Forward(to)
	first, _ := p.turn(i, from)
	lo, hi := 0.0, 1.0
	for range halvings {
		middle := (lo + hi) / 2
		if v, _ := p.turn(i, plane.Inverse(ae+middle*(be-ae), an+middle*(bn-an))); (v >= 0) == (first >= 0) {
			lo = middle
		} else {
			hi = middle
		}
	}
	middle := (lo + hi) / 2
	return plane.Inverse(ae+middle*(be-ae), an+middle*(bn-an))
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
