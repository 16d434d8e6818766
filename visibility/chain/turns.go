package chain

import (
	"math"

	"crowline/dem"
	"crowline/visibility"
)

// turn is a crest or a low point of the line: the vertices of one level from
// first to last that have none higher (lower) beside them before the line
// falls (rises) by the least relief.
type turn struct {
	kind        Kind
	first, last int
}

// findTurns finds the crests and low points of the line and what each vertex
// is. The line runs up until it has fallen from its highest by the least
// relief; that highest is then a crest, if the line had risen to it by as
// much. Beyond a gap in the data it begins anew.
func (l *course) findTurns() {
	l.kinds = make([]Kind, len(l.elevation))
	relief := l.opts.LeastRelief
	high, low := -1, -1 // first of the highest and of the lowest since the last turn
	rising, falling := false, false
	closeTurn := func(kind Kind, at, until int) {
		t := turn{kind, at, at}
		for i := at; i <= until; i++ {
			if l.elevation[i] == l.elevation[at] {
				l.kinds[i], t.last = kind, i
			}
		}
		l.turns = append(l.turns, t)
	}
	for i, h := range l.elevation {
		if math.IsNaN(h) {
			high, low, rising, falling = -1, -1, false, false
			continue
		}
		if high < 0 || h > l.elevation[high] {
			high = i
		}
		if low < 0 || h < l.elevation[low] {
			low = i
		}
		switch {
		case !falling && h <= l.elevation[high]-relief:
			if rising {
				closeTurn(Crest, high, i)
			}
			rising, falling, low = false, true, i
		case !rising && h >= l.elevation[low]+relief:
			if falling {
				closeTurn(Low, low, i)
			}
			rising, falling, high = true, false, i
		}
	}
	l.kinds[0] = Start
	if l.destination >= 0 {
		l.kinds[l.destination] = Destination
	}
}

// browSlope is the least slope of a sight line to vertex m at which m is a
// brow: the ground beyond stays under the line carried on until it lies the
// least relief below it. +Inf where it never is, as far as the ground is
// known.
func (l *course) browSlope(m int) float64 {
	best, over := math.Inf(1), math.Inf(-1)
	for j := m + 1; j < len(l.lowered); j++ {
		run, rise := l.distance[j]-l.distance[m], l.lowered[j]-l.lowered[m]
		if math.IsNaN(rise) {
			break
		}
		if run < dem.NearLimit {
			continue
		}
		if over = max(over, rise/run); over >= best {
			break
		}
		best = min(best, max(over, (rise+l.opts.LeastRelief)/run))
	}
	return best
}

// part is a stretch of positions from all of which a mark is a brow, or from
// none.
type part struct {
	from, to float64
	brow     bool
}

// sliver is the length, metres, under which a stretch is rounding, not
// ground, and is one with its neighbour.
const sliver = 1e-6

// browParts cuts the stretch of positions from which vertex m is seen into
// parts from which it is a brow and parts from which it is not, nearest to m
// first. slope is browSlope's: the eye must be under the line of that slope
// through m, and both are straight between crossings.
func (l *course) browParts(m int, from, to, slope float64) []part {
	if math.IsInf(slope, 1) {
		return []part{{from, to, false}}
	}
	out := l.parts[:0]
	add := func(a, b float64, brow bool) {
		if a, b = max(a, from), min(b, to); !(a < b) {
			return
		}
		if n := len(out); n > 0 && (out[n-1].brow == brow || b-a < sliver) {
			out[n-1].from = a
			return
		}
		out = append(out, part{a, b, brow})
	}
	under := func(i int) float64 {
		return l.lowered[m] - slope*(l.distance[m]-l.distance[i]) - (l.lowered[i] + l.eyeAbove)
	}
	last := m // the crossing next beyond the stretch
	for last > 0 && l.distance[last-1] >= to {
		last--
	}
	ub := under(last)
	for i := last - 1; i >= 0 && l.distance[i+1] > from; i-- {
		a, b, ua := l.distance[i], l.distance[i+1], under(i)
		switch {
		case ua >= 0 && ub >= 0:
			add(a, b, true)
		case ua < 0 && ub < 0:
			add(a, b, false)
		default:
			middle := a + (b-a)*ua/(ua-ub)
			add(middle, b, ub >= 0)
			add(a, middle, ub < 0)
		}
		ub = ua
	}
	l.parts = out
	if len(out) == 0 {
		return []part{{from, to, false}}
	}
	out[0].to, out[len(out)-1].from = to, from
	return out
}

// near is how vertex m lies to the ends of its slope, for a walker who
// chooses it at a distance.
func (l *course) near(m int, from float64) *Relation {
	var best *Relation
	consider := func(i int) {
		for j := min(i, m); j <= max(i, m); j++ {
			if math.IsNaN(l.elevation[j]) {
				return // another slope, for all that is known
			}
		}
		r := &Relation{
			Kind: l.kinds[i], Distance: l.distance[i], Elevation: l.elevation[i],
			Past: l.distance[m] - l.distance[i], Above: l.elevation[m] - l.elevation[i],
		}
		r.InView = r.Distance <= from || l.inView(from, i)
		if best == nil || r.use() > best.use() || r.use() == best.use() && math.Abs(r.Past) < math.Abs(best.Past) {
			best = r
		}
	}
	before, after := 0, len(l.distance)
	for _, t := range l.turns {
		if t.last < m {
			before = max(before, t.last)
		} else if t.first > m {
			after = min(after, t.first)
		}
	}
	if d := l.destination; d >= 0 && d < m {
		before = max(before, d)
	} else if d > m {
		after = min(after, d)
	}
	consider(before)
	if after < len(l.distance) {
		consider(after)
	}
	return best
}

// use is how much a relation helps to find a place: one to what is in view
// more than one to the start, which is only so far back, and that more than
// one to what is out of sight.
func (r *Relation) use() int {
	switch {
	case !r.InView:
		return 0
	case r.Kind == Start:
		return 1
	}
	return 2
}

// inView reports whether vertex m is seen by a walker at a distance before
// it.
func (l *course) inView(from float64, m int) bool {
	eye := l.ground(from) + l.eyeAbove
	slope := (l.top(m) - eye) / (l.distance[m] - from)
	for i := m - 1; i >= 0 && l.distance[i] > from+dem.NearLimit; i-- {
		if l.distance[m]-l.distance[i] <= dem.NearLimit {
			continue
		}
		if !((l.lowered[i]-eye)/(l.distance[i]-from) <= slope+visibility.GrazingSlope) {
			return false // hidden, or not known
		}
	}
	return !math.IsNaN(slope)
}
