package magnetic

import (
	"fmt"
	"math"

	"crowline/dem/geodesy"
)

// Declination is the angle from true north to magnetic north, degrees,
// positive when the needle points east of true north.
type Declination geodesy.Degrees

// Magnetic converts a true bearing to what a compass with no declination
// setting reads: the bearing less the declination.
func (d Declination) Magnetic(b geodesy.TrueBearing) geodesy.MagneticBearing {
	return geodesy.NewMagneticBearing(geodesy.Degrees(b) - geodesy.Degrees(d))
}

// True converts a compass reading to a true bearing.
func (d Declination) True(b geodesy.MagneticBearing) geodesy.TrueBearing {
	return geodesy.NewTrueBearing(geodesy.Degrees(b) + geodesy.Degrees(d))
}

// GridMagnetic is the angle between the norths of the map's grid and of the
// compass: declination less convergence.
func (d Declination) GridMagnetic(c geodesy.Convergence) GridMagneticAngle {
	return GridMagneticAngle(geodesy.Degrees(d) - geodesy.Degrees(c))
}

// String writes the angle to a tenth of a degree with its side, for example
// "3.3° E".
func (d Declination) String() string { return sided(geodesy.Degrees(d)) }

// GridMagneticAngle is the G-M angle of US Army TC 3-25.26: from grid north
// to magnetic north, degrees, positive when the needle points east of the
// map's grid lines.
type GridMagneticAngle geodesy.Degrees

// Magnetic converts a bearing measured on the map's grid to a compass
// reading: an easterly angle is taken off, a westerly one added.
func (a GridMagneticAngle) Magnetic(b geodesy.GridBearing) geodesy.MagneticBearing {
	return geodesy.NewMagneticBearing(geodesy.Degrees(b) - geodesy.Degrees(a))
}

// Grid converts a compass reading to a bearing on the map's grid: an
// easterly angle is added, a westerly one taken off.
func (a GridMagneticAngle) Grid(b geodesy.MagneticBearing) geodesy.GridBearing {
	return geodesy.NewGridBearing(geodesy.Degrees(b) + geodesy.Degrees(a))
}

// String writes the angle as Declination's does.
func (a GridMagneticAngle) String() string { return sided(geodesy.Degrees(a)) }

func sided(d geodesy.Degrees) string {
	rounded := math.Round(float64(d)*10) / 10
	switch {
	case rounded > 0:
		return fmt.Sprintf("%.1f° E", rounded)
	case rounded < 0:
		return fmt.Sprintf("%.1f° W", -rounded)
	}
	return "0.0°"
}

// Zone says how much a compass can be trusted where the horizontal field is
// weak, in the terms of the World Magnetic Model.
type Zone int

const (
	// Normal: the horizontal field is 6000 nT or more.
	Normal Zone = iota
	// Caution: it is 2000 to 6000 nT; the needle settles slowly and errs.
	Caution
	// Blackout: it is under 2000 nT; do not navigate by compass.
	Blackout
)

// The zones' limits, nT (technical report of the model).
const (
	blackoutBelow = 2000
	cautionBelow  = 6000
)

func zoneOf(horizontal float64) Zone {
	switch {
	case horizontal < blackoutBelow:
		return Blackout
	case horizontal < cautionBelow:
		return Caution
	}
	return Normal
}

// String is "normal", "caution" or "blackout".
func (z Zone) String() string {
	switch z {
	case Normal:
		return "normal"
	case Caution:
		return "caution"
	case Blackout:
		return "blackout"
	}
	return fmt.Sprintf("Zone(%d)", int(z))
}
