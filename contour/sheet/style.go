package sheet

// rgb is an opaque colour from its hexadecimal code.
func rgb(code uint32) Color {
	return Color{R: uint8(code >> 16), G: uint8(code >> 8), B: uint8(code), A: 255}
}

// Pen is how a kind of line is drawn. Zero fields stand for the default's.
type Pen struct {
	Width float64 // millimetres
	Color Color
	Dash  []float64 // millimetres on and off
}

// Style is the pens and tints of a sheet. Zero fields stand for
// DefaultStyle's.
type Style struct {
	Intermediate, Index, Supplementary Pen
	Grid, Magnetic, Leg, Sight         Pen
	Ink                                Color // text, frame, symbols
	Hidden                             Color // tint of ground out of sight
	Void                               Color // hatching where there is no elevation
}

// The hues are from the palette of Okabe & Ito, "Color Universal Design"
// (2008), chosen there to be told apart with any common colour vision:
// bluish green (0, 158, 115), blue (0, 114, 178), vermillion (213, 94, 0),
// reddish purple (204, 121, 167). The green of the contours is darkened so
// that a thin line keeps its contrast on paper and in grey.
var (
	contourGreen = rgb(0x006E50)
	blue         = rgb(0x0072B2)
	vermillion   = rgb(0xD55E00)
	purpleTint   = Color{R: 204, G: 121, B: 167, A: 70}
	ink          = rgb(0x1A1A1A)
	faint        = rgb(0x606060)
	white        = rgb(0xFFFFFF)
)

// DefaultStyle is dark enough to tell apart in colour or grey.
//
// Common practice in map-making has intermediate contours 0.07 to 0.14 mm wide
// and index contours two to three times that. Office printers break lines
// under 0.1 mm, so the upper end is taken.
func DefaultStyle() Style {
	return Style{
		Intermediate:  Pen{Width: 0.13, Color: contourGreen},
		Index:         Pen{Width: 0.33, Color: contourGreen},
		Supplementary: Pen{Width: 0.13, Color: contourGreen, Dash: []float64{1.4, 0.7}},
		Grid:          Pen{Width: 0.12, Color: rgb(0x454545)},
		Magnetic:      Pen{Width: 0.2, Color: blue, Dash: []float64{5, 1.5}},
		Leg:           Pen{Width: 0.6, Color: vermillion},
		Sight:         Pen{Width: 0.25, Color: blue},
		Ink:           ink,
		Hidden:        purpleTint,
		Void:          faint,
	}
}

func (p Pen) or(d Pen) Pen {
	if p.Width > 0 {
		d.Width = p.Width
	}
	if p.Color.A != 0 {
		d.Color = p.Color
	}
	if p.Dash != nil {
		d.Dash = p.Dash
	}
	return d
}

// filled is the style with DefaultStyle's values where it has none.
func (s Style) filled() Style {
	d := DefaultStyle()
	d.Intermediate = s.Intermediate.or(d.Intermediate)
	d.Index = s.Index.or(d.Index)
	d.Supplementary = s.Supplementary.or(d.Supplementary)
	d.Grid = s.Grid.or(d.Grid)
	d.Magnetic = s.Magnetic.or(d.Magnetic)
	d.Leg = s.Leg.or(d.Leg)
	d.Sight = s.Sight.or(d.Sight)
	for _, c := range []struct {
		to   *Color
		from Color
	}{{&d.Ink, s.Ink}, {&d.Hidden, s.Hidden}, {&d.Void, s.Void}} {
		if c.from.A != 0 {
			*c.to = c.from
		}
	}
	return d
}

// pen is a stroke of lines with a pen.
func (p Pen) stroke(lines ...[]Point) Stroke {
	return Stroke{Lines: lines, Width: p.Width, Color: p.Color, Dash: p.Dash}
}

// DepressionTicks is a stroke of the ticks of depression contours.
func (s Style) DepressionTicks(lines [][]Point) Stroke {
	return Stroke{Lines: lines, Width: s.Intermediate.Width * 1.2, Color: s.Intermediate.Color}
}
