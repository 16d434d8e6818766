package page

// RGB is an opaque colour from its hexadecimal code.
func RGB(code uint32) Color {
	return Color{R: uint8(code >> 16), G: uint8(code >> 8), B: uint8(code), A: 255}
}

// The colours of a page. The hues are from the palette of Okabe & Ito, "Color Universal Design"
// (2008), chosen there to be told apart with any common colour vision:
// bluish green (0, 158, 115), blue (0, 114, 178), vermillion (213, 94, 0),
// reddish purple (204, 121, 167). The green is darkened so that a thin line
// keeps its contrast on paper and in grey.
var (
	Green      = RGB(0x006E50)
	Blue       = RGB(0x0072B2)
	Vermillion = RGB(0xD55E00)
	PurpleTint = Color{R: 204, G: 121, B: 167, A: 70}
	Ink        = RGB(0x1A1A1A)
	Faint      = RGB(0x606060)
	White      = RGB(0xFFFFFF)
)

// LeastWidth is the thinnest line on a page, millimetres: office printers break
// thinner ones. Page.Add draws those this wide.
const LeastWidth = 0.1

// Pen is how a kind of line is drawn.
type Pen struct {
	Width float64 // millimetres
	Color Color
	Dash  []float64 // millimetres on and off
}

// Or is the pen with d's values where it has none.
func (p Pen) Or(d Pen) Pen {
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

// Stroke is lines drawn with the pen.
func (p Pen) Stroke(lines ...[]Point) Stroke {
	return Stroke{Lines: lines, Width: p.Width, Color: p.Color, Dash: p.Dash}
}
