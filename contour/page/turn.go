package page

import "math"

// turn is a rotation on the page, clockwise.
type turn struct{ sin, cos float64 }

func newTurn(degrees float64) turn {
	s, c := sinCos(degrees)
	return turn{s, c}
}

func (t turn) apply(x, y float64) (float64, float64) {
	return x*t.cos - y*t.sin, x*t.sin + y*t.cos
}

// Toward is the unit step on the page in a direction given clockwise from the
// top of the page, degrees.
func Toward(degrees float64) Point {
	s, c := sinCos(degrees)
	return Point{s, -c}
}

// sinCos are the sine and cosine of degrees, exact at quarter turns, so that
// upright lines are upright in the file.
func sinCos(degrees float64) (sin, cos float64) {
	quarter := math.RoundToEven(degrees / 90)
	s, c := math.Sincos((degrees - 90*quarter) * math.Pi / 180)
	switch int64(math.Mod(quarter, 4)) & 3 {
	case 0:
		return s, c
	case 1:
		return c, 0 - s
	case 2:
		return 0 - s, -c
	}
	return -c, s
}
