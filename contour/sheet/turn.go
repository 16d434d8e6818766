package sheet

import "crowline/dem/geodesy"

// turn is a rotation on the page, clockwise.
type turn struct{ sin, cos float64 }

func newTurn(degrees float64) turn {
	s, c := geodesy.Degrees(degrees).SinCos()
	return turn{s, c}
}

func (t turn) apply(x, y float64) (float64, float64) {
	return x*t.cos - y*t.sin, x*t.sin + y*t.cos
}

// toward is the unit step on the page in a direction given clockwise from the
// top of the page, degrees.
func toward(degrees float64) Point {
	s, c := geodesy.Degrees(degrees).SinCos()
	return Point{s, -c}
}

// step is p moved by d millimetres in direction u.
func (p Point) step(u Point, d float64) Point { return Point{p.X + u.X*d, p.Y + u.Y*d} }

// left is the direction p turned a quarter anticlockwise as the page is seen.
func (p Point) left() Point { return Point{p.Y, -p.X} }
