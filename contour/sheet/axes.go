package sheet

import (
	"fmt"
	"math"
	"strconv"

	"crowline/dem/units"
)

// far and up are the names and lengths in metres of the units in which axes and
// scale bars count distance and elevation.
func far(u units.System) (string, float64) {
	if u == units.US {
		return "mi", units.Mile
	}
	return "km", 1000
}

func up(u units.System) (string, float64) {
	if u == units.US {
		return "ft", units.Foot
	}
	return "m", 1
}

// roundStep is the least of 1, 2, 5 times a power of ten that is not below v.
func roundStep(v float64) float64 {
	if !(v > 0) || math.IsInf(v, 0) {
		return 1
	}
	ten := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 2, 5} {
		if m*ten >= v*(1-1e-9) {
			return m * ten
		}
	}
	return 10 * ten
}

// plain writes v with just the decimals that multiples of step need.
func plain(v, step float64) string {
	d := 0
	for s := step; d < 6 && math.Abs(s-math.Round(s)) > 1e-6; d++ {
		s *= 10
	}
	if d == 0 || math.Abs(v) < step/1e6 {
		return units.Group(v)
	}
	return strconv.FormatFloat(v, 'f', d, 64)
}

// east writes an angle that is positive east: "4.13° W".
func east(d float64, decimals int) string {
	return units.Sided(d, decimals, "° E", "° W", strconv.FormatFloat(0, 'f', decimals, 64)+"°")
}

// bearing writes a bearing with three figures: "007°".
func bearing(d float64) string { return units.Dial(d) + "°" }

// sexagesimal writes a latitude or longitude in degrees, minutes and seconds.
func sexagesimal(d float64, positive, negative string) string {
	letter := positive
	if d < 0 {
		letter = negative
	}
	tenths := math.Round(math.Abs(d) * 36000)
	return fmt.Sprintf("%.0f°%02.0f′%04.1f″%s", math.Floor(tenths/36000),
		math.Floor(math.Mod(tenths, 36000)/600), math.Mod(tenths, 600)/10, letter)
}
