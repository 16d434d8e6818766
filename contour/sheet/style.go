package sheet

import (
	"crowline/contour/page"
)

// Style is the pens and tints of a sheet. Zero fields, of pens too, stand for
// DefaultStyle's.
type Style struct {
	Intermediate, Index, Supplementary page.Pen
	Grid, Magnetic, Leg, Sight         page.Pen
	Ink                                page.Color // text, frame, symbols
	Hidden                             page.Color // tint of ground out of sight
	Void                               page.Color // hatching where there is no elevation
}

// DefaultStyle is dark enough to tell apart in colour or grey.
//
// Common practice in map-making has intermediate contours 0.07 to 0.14 mm wide
// and index contours two to three times that. Office printers break lines
// under 0.1 mm, so the upper end is taken.
func DefaultStyle() Style {
	return Style{
		Intermediate:  page.Pen{Width: 0.13, Color: page.Green},
		Index:         page.Pen{Width: 0.33, Color: page.Green},
		Supplementary: page.Pen{Width: 0.13, Color: page.Green, Dash: []float64{1.4, 0.7}},
		Grid:          page.Pen{Width: 0.12, Color: page.RGB(0x454545)},
		Magnetic:      page.Pen{Width: 0.2, Color: page.Blue, Dash: []float64{5, 1.5}},
		Leg:           page.Pen{Width: 0.6, Color: page.Vermillion},
		Sight:         page.Pen{Width: 0.25, Color: page.Blue},
		Ink:           page.Ink,
		Hidden:        page.PurpleTint,
		Void:          page.Faint,
	}
}

// filled is the style with DefaultStyle's values where it has none.
func (s Style) filled() Style {
	d := DefaultStyle()
	d.Intermediate = s.Intermediate.Or(d.Intermediate)
	d.Index = s.Index.Or(d.Index)
	d.Supplementary = s.Supplementary.Or(d.Supplementary)
	d.Grid = s.Grid.Or(d.Grid)
	d.Magnetic = s.Magnetic.Or(d.Magnetic)
	d.Leg = s.Leg.Or(d.Leg)
	d.Sight = s.Sight.Or(d.Sight)
	for _, c := range []struct {
		to   *page.Color
		from page.Color
	}{{&d.Ink, s.Ink}, {&d.Hidden, s.Hidden}, {&d.Void, s.Void}} {
		if c.from.A != 0 {
			*c.to = c.from
		}
	}
	return d
}

// plain is the style with all contours alike, thin and grey.
func (s Style) plain() Style {
	pen := page.Pen{Width: 0.16, Color: page.RGB(0x606060)} // printed in black alone no thinner than 0.1 mm: grey takes from its edges
	s.Intermediate, s.Index = pen, pen
	s.Supplementary.Width, s.Supplementary.Color = pen.Width, pen.Color
	return s
}

// DepressionTicks is a stroke of the ticks of depression contours.
func (s Style) DepressionTicks(lines [][]page.Point) page.Stroke {
	return page.Stroke{Lines: lines, Width: s.Intermediate.Width * 1.2, Color: s.Intermediate.Color}
}
