package chain

import (
	"fmt"
	"math"

	"crowline/visibility"
)

// Explain says in one sentence what a step is walked on. length is the leg's,
// metres, and seenWhenChosen is Options'.
func (s *Step) Explain(lengths visibility.Lengths, length float64, seenWhenChosen bool) string {
	if s.Kind == CompassOnly {
		way := lengths.Distance(s.To - s.From)
		if s.Short {
			return fmt.Sprintf("On the compass for %s, too short a way to need a mark.", way)
		}
		text := "No mark ahead stays in view: on the compass alone for " + way
		switch {
		case s.Plain:
			text = "The ground ahead is in view, but nothing on it stands up to be sighted: on the compass alone for " + way
		case seenWhenChosen:
			text = "No mark ahead is in view: on the compass alone for " + way
		}
		switch {
		case s.Back == nil:
			return text + "; nothing behind on the line is in sight either."
		case s.Back.Share > 0.9999:
			return text + fmt.Sprintf("; sight back to %s all the way.", s.Back.Mark.Describe(lengths, length))
		}
		return text + fmt.Sprintf("; sight back to %s, in view for %.0f %% of it.", s.Back.Mark.Describe(lengths, length), max(1, min(99, 100*s.Back.Share)))
	}
	text := fmt.Sprintf("On %s, %s ahead", s.Mark.Describe(lengths, length), lengths.Distance(s.Mark.Distance-s.From))
	if seenWhenChosen {
		return text + ": it is in view from here."
	}
	return text + ": it stays in view all the way."
}

// leastOffset is how far beside the line, metres, a mark must stand for it to
// be said.
const leastOffset = 1.0

// Describe names a mark as a walker would look for it: "the crest at 3.3 km
// (783 m)"; of a place on a slope, how it lies to the nearest point that can
// be told by eye: "the slope 130 m short of the crest at 3.3 km, 40 m below
// it". length is the leg's, metres.
func (m *Mark) Describe(lengths visibility.Lengths, length float64) string {
	place := where(lengths, m.Distance, length) + " (" + lengths.Height(m.Elevation) + ")"
	switch m.Kind {
	case Start, Destination:
		if m.Plain {
			return "the " + m.Kind.String() + " (if something stands there to know it by)"
		}
		return "the " + m.Kind.String()
	case Landmark:
		name := m.Name
		if name == "" {
			name = "the summit"
		}
		if math.Abs(m.Offset) < leastOffset {
			return name + " " + place
		}
		side := "right"
		if m.Offset < 0 {
			side = "left"
		}
		return fmt.Sprintf("%s %s, %s %s of the line", name, place, lengths.Distance(math.Abs(m.Offset)), side)
	case Ground:
		if m.Near != nil {
			return m.Near.describe(lengths, length)
		}
		return "the slope " + place
	}
	return "the " + m.Kind.String() + " " + place
}

// where says how far along the line a place is.
func where(lengths visibility.Lengths, distance, length float64) string {
	switch {
	case distance < 0:
		return lengths.Distance(-distance) + " behind the start"
	case distance > length:
		return lengths.Distance(distance-length) + " beyond the destination"
	}
	return "at " + lengths.Distance(distance)
}

// level is the least difference of height, metres, that is said: less, few
// data can tell. just is how near along the line, metres, a place that high
// is all but the crest itself.
const level, just = 5.0, 30.0

// describe is the slope that lies so.
func (r *Relation) describe(lengths visibility.Lengths, length float64) string {
	point := "the " + r.Kind.String()
	if r.Kind == Crest || r.Kind == Low {
		point += " " + where(lengths, r.Distance, length)
	}
	if !r.InView {
		point += " (out of sight)"
	}
	slope, side := "the slope", "short of"
	if r.Past > 0 {
		side = "past"
		if r.Kind == Low {
			slope = "the far slope"
		}
	}
	if math.Abs(r.Above) < level && math.Abs(r.Past) < just {
		return fmt.Sprintf("%s just %s %s", slope, side, point)
	}
	height := "about level with it"
	if math.Abs(r.Above) >= level {
		height = lengths.Height(math.Abs(r.Above)) + " above it"
		if r.Above < 0 {
			height = lengths.Height(-r.Above) + " below it"
		}
	}
	return fmt.Sprintf("%s %s %s %s, %s", slope, lengths.Distance(math.Abs(r.Past)), side, point, height)
}
