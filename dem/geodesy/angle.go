package geodesy

import "math"

// Degrees is an angle in degrees. Bearings, latitudes, longitudes,
// convergence and declination are all kept this way because whole degrees
// are exact in it and quarter turns have exact sines.
type Degrees float64

const radiansPerDegree = math.Pi / 180

// SinCos returns the sine and cosine of d, exact at every multiple of 90
// degrees. The argument is first reduced to [-45, 45], as in Karney 2013,
// "Algorithms for geodesics", J. Geodesy 87:43-55, section 6.
func (d Degrees) SinCos() (sin, cos float64) {
	quadrant := math.RoundToEven(float64(d) / 90) // halves as Remainder takes them
	r := math.Remainder(float64(d), 90)
	s, c := math.Sincos(r * radiansPerDegree)
	switch int64(math.Mod(quadrant, 4)) & 3 {
	case 0:
		return s, c
	case 1:
		return c, 0 - s // a cosine is never -0, so that Tan(90) is +Inf
	case 2:
		return 0 - s, -c
	default:
		return -c, s + 0
	}
}

// Sin returns the sine of d; exact at multiples of 90 degrees.
func (d Degrees) Sin() float64 { s, _ := d.SinCos(); return s }

// Cos returns the cosine of d; exact at multiples of 90 degrees.
func (d Degrees) Cos() float64 { _, c := d.SinCos(); return c }

// Tan returns the tangent of d; infinite at odd multiples of 90 degrees.
func (d Degrees) Tan() float64 { s, c := d.SinCos(); return s / c }

// Atan2 returns the angle of the vector (x, y) counter-clockwise from the
// x axis, in (-180, 180].
func Atan2(y, x float64) Degrees { return Degrees(math.Atan2(y, x) / radiansPerDegree) }

// wrap360 brings an angle into [0, 360).
func wrap360(d float64) float64 {
	r := math.Mod(d, 360)
	if r < 0 {
		r += 360
	}
	if r >= 360 || r == 0 { // -1e-17 + 360 rounds to 360; and never -0
		return 0
	}
	return r
}

// wrap180 brings an angle into [-180, 180). It is exact, where adding and
// taking off 180 would lose the last digits of a small angle.
func wrap180(d float64) float64 {
	r := math.Remainder(d, 360)
	if r == 180 {
		return -180
	}
	if r == 0 { // never -0
		return 0
	}
	return r
}

// TrueBearing is clockwise from true (geographic) north, in [0, 360).
type TrueBearing Degrees

// GridBearing is clockwise from the grid north of a map projection, in
// [0, 360).
type GridBearing Degrees

// MagneticBearing is clockwise from magnetic north, in [0, 360): what a
// compass with no declination setting reads.
type MagneticBearing Degrees

// NewTrueBearing wraps any finite angle into [0, 360).
func NewTrueBearing(d Degrees) TrueBearing { return TrueBearing(wrap360(float64(d))) }

// NewGridBearing wraps any finite angle into [0, 360).
func NewGridBearing(d Degrees) GridBearing { return GridBearing(wrap360(float64(d))) }

// NewMagneticBearing wraps any finite angle into [0, 360).
func NewMagneticBearing(d Degrees) MagneticBearing {
	return MagneticBearing(wrap360(float64(d)))
}

// Back is the bearing plus 180 degrees: the back bearing of US Army
// TC 3-25.26 for a line so short that its meridians are parallel.
func (b TrueBearing) Back() TrueBearing { return NewTrueBearing(Degrees(b) + 180) }

// Back is the bearing plus 180 degrees.
func (b GridBearing) Back() GridBearing { return NewGridBearing(Degrees(b) + 180) }

// Back is the bearing plus 180 degrees.
func (b MagneticBearing) Back() MagneticBearing { return NewMagneticBearing(Degrees(b) + 180) }

// Difference is the turn from a to b, positive clockwise, in [-180, 180).
func Difference(a, b TrueBearing) Degrees { return Degrees(wrap180(float64(b) - float64(a))) }

// Convergence is the angle from true north to grid north at a place,
// positive when grid north lies east of true north.
type Convergence Degrees

// Grid converts a true bearing to a grid bearing at the place.
func (c Convergence) Grid(b TrueBearing) GridBearing {
	return NewGridBearing(Degrees(b) - Degrees(c))
}

// True converts a grid bearing to a true bearing at the place.
func (c Convergence) True(b GridBearing) TrueBearing {
	return NewTrueBearing(Degrees(b) + Degrees(c))
}
