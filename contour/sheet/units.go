package sheet

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Units are the units a sheet's figures are written in.
type Units int

// Metric writes metres and kilometres, US feet and miles.
const (
	Metric Units = iota
	US
)

const (
	foot = 0.3048   // metres, international
	mile = 1609.344 // metres, statute
)

// far and up are the names and lengths in metres of the units of distance and
// elevation.
func (u Units) far() (string, float64) {
	if u == US {
		return "mi", mile
	}
	return "km", 1000
}

func (u Units) up() (string, float64) {
	if u == US {
		return "ft", foot
	}
	return "m", 1
}

// elevation writes metres to the whole unit.
func (u Units) elevation(metres float64) string {
	name, size := u.up()
	return group(math.Round(metres/size)) + " " + name
}

// distance writes metres as people say them.
func (u Units) distance(metres float64) string {
	name, size := u.far()
	if metres < size/2 {
		return u.elevation(metres)
	}
	return strconv.FormatFloat(metres/size, 'f', 2, 64) + " " + name
}

// group writes a whole number with a space between thousands, from five
// figures up (SI Brochure, 9th edition, 5.4.4).
func group(v float64) string {
	s := strconv.FormatFloat(math.Abs(v), 'f', 0, 64)
	if s == "0" {
		return s // never minus nought
	}
	if len(s) > 4 {
		var parts []string
		for len(s) > 3 {
			parts = append([]string{s[len(s)-3:]}, parts...)
			s = s[:len(s)-3]
		}
		s = strings.Join(append([]string{s}, parts...), " ")
	}
	if v < 0 {
		s = "-" + s
	}
	return s
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
		return group(v)
	}
	return strconv.FormatFloat(v, 'f', d, 64)
}

// east writes an angle that is positive east: "4.13° W".
func east(d float64, decimals int) string {
	letter := " E"
	if d < 0 {
		letter = " W"
	}
	s := strconv.FormatFloat(math.Abs(d), 'f', decimals, 64)
	if z, err := strconv.ParseFloat(s, 64); err == nil && z == 0 {
		letter = ""
	}
	return s + "°" + letter
}

// bearing writes a bearing with three figures: "007°".
func bearing(d float64) string {
	return fmt.Sprintf("%03.0f°", math.Mod(math.Round(d)+360, 360))
}

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

// elevationFine writes metres to a tenth of the unit below ten, whole above.
func (u Units) elevationFine(metres float64) string {
	name, size := u.up()
	v := metres / size
	if v < 10 {
		return strconv.FormatFloat(v, 'f', 1, 64) + " " + name
	}
	return group(math.Round(v)) + " " + name
}
