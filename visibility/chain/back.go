package chain

import (
	"math"

	"crowline/dem"
	"crowline/visibility"
)

// back finds the mark behind a stretch walked on the compass that is seen
// over most of it: the start, a crest that stands up, or a landmark given; of
// equals the one farthest behind.
func (l *course) back(from, to float64) *BackSight {
	var best *BackSight
	consider := func(mark Mark, seen []visibility.Stretch) {
		b := &BackSight{Mark: mark, Seen: seen}
		for _, s := range seen {
			b.Share += (s.To - s.From) / (to - from)
		}
		b.Share = min(b.Share, 1)
		if b.Share == 0 || best != nil && (b.Share < best.Share-equalShare ||
			b.Share < best.Share+equalShare && mark.Distance >= best.Mark.Distance) {
			return
		}
		best = b
	}
	for i, d := range l.distance {
		if d > from+1/perMetre {
			break
		}
		// as ahead, it must stand up, but for the start
		reach := 2*d - l.standsFrom(i)
		switch l.kinds[i] {
		case Start:
			mark := l.mark(i)
			mark.Plain = reach < to
			consider(mark, l.seenBehind(i, from, to))
		case Crest:
			if reach > from {
				consider(l.mark(i), l.seenBehind(i, from, min(to, reach)))
			}
		}
	}
	for _, mark := range l.opts.Marks {
		// as ahead, it must bear along the line
		near := mark.Distance + math.Abs(mark.Offset)/l.opts.Within.Tan()
		var seen []visibility.Stretch
		for _, s := range mark.Seen {
			a, b := max(s.From, from, near), min(s.To, to)
			if s.Verdict == visibility.Visible && a < b {
				seen = append(seen, inSight(a, b))
			}
		}
		consider(mark.Mark, seen)
	}
	return best
}

func inSight(from, to float64) visibility.Stretch {
	return visibility.Stretch{From: from, To: to, Verdict: visibility.Visible}
}

// equalShare is the difference in share that rounding makes.
const equalShare = 1e-9

// seenBehind are the stretches between two distances from which vertex q,
// behind them, is seen.
func (l *course) seenBehind(q int, from, to float64) (out []visibility.Stretch) {
	target, at := l.lowered[q], l.distance[q]
	if math.IsNaN(target) {
		return nil
	}
	add := func(a, b float64) {
		a, b = max(a, from), min(b, to)
		if !(a < b) {
			return
		}
		if n := len(out); n > 0 && a-out[n-1].To < sliver {
			out[n-1].To = b
			return
		}
		out = append(out, inSight(a, b))
	}
	steepest := math.Inf(-1)
	for i := q; i+1 < len(l.distance) && l.distance[i] < to; i++ {
		a, b := l.distance[i], l.distance[i+1]
		ha, hb := l.lowered[i], l.lowered[i+1]
		if math.IsNaN(ha) || math.IsNaN(hb) {
			return out
		}
		if i > q && a-at > dem.NearLimit {
			steepest = max(steepest, (ha-target)/(a-at))
		}
		if math.IsInf(steepest, -1) {
			add(a, b)
			continue
		}
		above := func(h, x float64) float64 {
			return h + l.eyeAbove - (target + (steepest-visibility.GrazingSlope)*(x-at))
		}
		if from, to, any := notBelow(a, b, above(ha, a), above(hb, b)); any {
			add(from, to)
		}
	}
	return out
}
