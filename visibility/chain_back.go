package visibility

import (
	"fmt"
	"math"

	"crowline/dem"
)

// back finds the mark behind a stretch walked on the compass that is seen
// over most of it: the start, a crest, or a landmark given; of equals the one
// farthest behind.
func (l *course) back(from, to float64) *BackSight {
	var best *BackSight
	consider := func(mark LineMark, seen []Stretch) {
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
		if kind := l.kind(i); kind == MarkStart || kind == MarkCrest {
			consider(l.lineMark(i), l.seenBehind(i, from, to))
		}
	}
	for _, mark := range l.opts.Marks {
		// as ahead, it must bear along the line
		near := mark.Distance + math.Abs(mark.Offset)/l.opts.Within.Tan()
		var seen []Stretch
		for _, s := range mark.Seen {
			a, b := max(s.From, from, near), min(s.To, to)
			if s.Verdict == Visible && a < b {
				seen = append(seen, Stretch{a, b, Visible})
			}
		}
		consider(mark.LineMark, seen)
	}
	return best
}

// equalShare is the difference in share that rounding makes.
const equalShare = 1e-9

// seenBehind are the stretches between two distances from which vertex q,
// behind them, is seen.
func (l *course) seenBehind(q int, from, to float64) (out []Stretch) {
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
		out = append(out, Stretch{a, b, Visible})
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
			return h + l.eyeAbove - (target + (steepest-GrazingSlope)*(x-at))
		}
		parts := split(a, b, above(ha, a), above(hb, b), Visible, Hidden)
		for j := len(parts) - 1; j >= 0; j-- {
			if parts[j].Verdict == Visible {
				add(parts[j].From, parts[j].To)
			}
		}
	}
	return out
}

// reason says in a sentence why a step is what it is.
func (l *course) reason(s *Step) string { return s.Explain(Metric, l.opts.SeenWhenChosen) }

// Explain says in one sentence what a step is walked on. seenWhenChosen is
// ChainOptions'.
func (s *Step) Explain(lengths Lengths, seenWhenChosen bool) string {
	if s.Kind == CompassOnly {
		if s.Short {
			return fmt.Sprintf("On the compass for %s, too short a way to need a mark.", lengths.Distance(s.To-s.From))
		}
		text := fmt.Sprintf("No mark ahead stays in view: on the compass alone for %s", lengths.Distance(s.To-s.From))
		if seenWhenChosen {
			text = fmt.Sprintf("No mark ahead is in view: on the compass alone for %s", lengths.Distance(s.To-s.From))
		}
		switch {
		case s.Back == nil:
			return text + "; nothing behind on the line is in sight either."
		case s.Back.Share > 0.9999:
			return text + fmt.Sprintf("; sight back to %s all the way.", s.Back.Mark.describe(lengths))
		}
		return text + fmt.Sprintf("; sight back to %s, in view for %.0f %% of it.", s.Back.Mark.describe(lengths), max(1, min(99, 100*s.Back.Share)))
	}
	text := fmt.Sprintf("On %s, %s ahead", s.Mark.describe(lengths), lengths.Distance(s.Mark.Distance-s.From))
	if math.Abs(s.Mark.Offset) >= 1 {
		side := "right"
		if s.Mark.Offset < 0 {
			side = "left"
		}
		text += fmt.Sprintf(" and %s to the %s of the line", lengths.Distance(math.Abs(s.Mark.Offset)), side)
	}
	if seenWhenChosen {
		return text + ": it is in view from here."
	}
	return text + ": it stays in view all the way."
}

func (m *LineMark) describe(lengths Lengths) string {
	switch m.Kind {
	case MarkStart:
		return "the start"
	case MarkDestination:
		return "the destination"
	case MarkLandmark:
		if m.Name != "" {
			return m.Name
		}
		return fmt.Sprintf("the landmark of %s", lengths.Height(m.Elevation))
	case MarkBrow:
		return fmt.Sprintf("the brow at %s", lengths.Distance(m.Distance))
	case MarkCrest:
		return fmt.Sprintf("the crest at %s", lengths.Distance(m.Distance))
	}
	return fmt.Sprintf("the ground at %s", lengths.Distance(m.Distance))
}
