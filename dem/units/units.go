// Package units writes figures for people: lengths, heights, areas, angles and
// durations, in metres or in feet and miles. It is the one place that does, for
// the terminal, for paper and for sentences made in the library, so that a
// length reads the same wherever it stands. JSON does not pass here: it is
// always metres and degrees.
package units

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// System is what lengths are written in. The zero value is metric.
type System int

const (
	// Metric writes metres and kilometres.
	Metric System = iota
	// US writes feet and miles.
	US
)

// The foot, the yard and the mile are the international ones, in metres (NIST
// Handbook 44, Appendix C).
const (
	Foot = 0.3048
	Yard = 0.9144
	Mile = 1609.344
)

// Parse reads "metric" or "us".
func Parse(text string) (System, error) {
	switch text {
	case "metric":
		return Metric, nil
	case "us":
		return US, nil
	}
	return Metric, fmt.Errorf("%q is not a system of units: write metric or us", text)
}

// String is what Parse reads.
func (s System) String() string {
	if s == US {
		return "us"
	}
	return "metric"
}

// Unknown stands for a figure that is not a number.
const Unknown = "unknown"

// Distance writes a length along the ground, metres: whole metres under 1 km,
// to 10 m under 10 km, to 100 m beyond; whole feet under a tenth of a mile,
// then miles.
func (s System) Distance(metres float64) string {
	if math.IsNaN(metres) {
		return Unknown
	}
	if s == US {
		switch feet := metres / Foot; {
		case math.Abs(metres) < Mile/10:
			return whole(feet) + " ft"
		case math.Abs(metres) < 10*Mile:
			return fmt.Sprintf("%.2f mi", metres/Mile)
		}
		return fmt.Sprintf("%.1f mi", metres/Mile)
	}
	switch { // by what is written: 999.6 m is 1.00 km
	case math.Abs(metres) < 999.5:
		return whole(metres) + " m"
	case math.Abs(metres) < 9995:
		return fmt.Sprintf("%.2f km", metres/1000)
	}
	return fmt.Sprintf("%.1f km", metres/1000)
}

// About writes a length that is itself an estimate, metres: to two figures, and
// no finer than 10 m or 10 ft, the least that is written. It changes from feet to
// miles where Distance does.
func (s System) About(metres float64) string {
	if math.IsNaN(metres) || math.IsInf(metres, 0) {
		return Unknown
	}
	unit := 1.0
	if s == US {
		unit = Foot
	}
	v := math.Abs(metres) / unit
	step := 10.0
	for v >= 100*step {
		step *= 10
	}
	v = max(1, math.Round(v/step)) * step
	if s == US {
		switch miles := math.Abs(metres) / Mile; {
		case miles < 0.1:
			return Group(v) + " ft"
		case miles < 0.995:
			return fmt.Sprintf("%.2f mi", miles)
		default:
			return fmt.Sprintf("%.1f mi", miles)
		}
	}
	if v >= 1000 {
		return fmt.Sprintf("%.1f km", v/1000)
	}
	return whole(v) + " m"
}

// Stretch writes a part of the way, metres from its start; its place where both
// ends are written alike.
func (s System) Stretch(from, to float64) string {
	a, b := s.Distance(from), s.Distance(to)
	if a == b {
		return "at " + a
	}
	return a + " to " + b
}

// Height writes an elevation or a difference of elevations, metres: to a tenth
// of a metre under ten, whole metres or feet above.
func (s System) Height(metres float64) string {
	if math.IsNaN(metres) {
		return Unknown
	}
	if s == US {
		return Group(metres/Foot) + " ft"
	}
	if r := math.Round(metres*10) / 10; r != 0 && math.Abs(r) < 10 {
		return fmt.Sprintf("%.1f m", metres)
	}
	return Group(metres) + " m"
}

// Elevation writes a height above the sea to the whole unit.
func (s System) Elevation(metres float64) string {
	if math.IsNaN(metres) {
		return Unknown
	}
	if s == US {
		return Group(metres/Foot) + " ft"
	}
	return Group(metres) + " m"
}

// Need writes a height that is still wanting, metres: never as nothing.
func (s System) Need(metres float64) string {
	switch {
	case s == US && metres < Foot:
		return "under 1 ft"
	case metres < 0.1:
		return "under 0.1 m"
	}
	return s.Height(metres)
}

// Small writes the height of an eye or a target, metres, to a centimetre or a
// tenth of a foot.
func (s System) Small(metres float64) string {
	if s == US {
		return strconv.FormatFloat(math.Round(metres/Foot*10)/10, 'f', -1, 64) + " ft"
	}
	return strconv.FormatFloat(math.Round(metres*100)/100, 'f', -1, 64) + " m"
}

// Tenth writes a short length, metres, to a tenth of a metre or a foot.
func (s System) Tenth(metres float64) string {
	switch {
	case math.IsNaN(metres):
		return Unknown
	case s == US:
		return fmt.Sprintf("%.1f ft", metres/Foot)
	}
	return fmt.Sprintf("%.1f m", metres)
}

// Area writes an area, square metres, to a tenth of a square kilometre or mile.
func (s System) Area(squareMetres float64) string {
	if s == US {
		return fmt.Sprintf("%.1f sq mi", squareMetres/Mile/Mile)
	}
	return fmt.Sprintf("%.1f km²", squareMetres/1e6)
}

// Speed writes a walking speed, metres per second, to a tenth: "4 km/h", "2.5
// mph".
func (s System) Speed(metresPerSecond float64) string {
	if s == US {
		return tenths(metresPerSecond*3600/Mile) + " mph"
	}
	return tenths(metresPerSecond*3.6) + " km/h"
}

// PaceCount writes a walker's count of double paces, given in 100 m: "65 in 100
// m", "59.4 in 100 yd".
func (s System) PaceCount(per100m float64) string {
	if s == US {
		return tenths(per100m*Yard) + " in 100 yd"
	}
	return strconv.FormatFloat(per100m, 'g', -1, 64) + " in 100 m"
}

// tenths writes v to a tenth, and whole where it is.
func tenths(v float64) string { return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64) }

// Bearing writes degrees to a tenth, three figures before the point, without
// the degree sign: "007.3".
func Bearing(degrees float64) string {
	r := math.Round(degrees*10) / 10
	if r >= 360 {
		r -= 360
	}
	return fmt.Sprintf("%05.1f", r)
}

// Dial writes degrees as they are set on a compass: whole, three figures.
func Dial(degrees float64) string {
	return fmt.Sprintf("%03d", (int(math.Round(degrees))%360+360)%360)
}

// Sided writes a signed angle to so many decimals with its side, or none where
// it is written as nought.
func Sided(degrees float64, decimals int, above, below, none string) string {
	unit := math.Pow10(decimals)
	r := math.Round(degrees*unit) / unit
	switch {
	case r > 0:
		return strconv.FormatFloat(r, 'f', decimals, 64) + above
	case r < 0:
		return strconv.FormatFloat(-r, 'f', decimals, 64) + below
	}
	return none
}

// EastWest writes a declination or a convergence as "5.2 W".
func EastWest(degrees float64) string { return Sided(degrees, 1, " E", " W", "0.0") }

// UpDown writes an elevation angle: "1.8° up", "level".
func UpDown(degrees float64) string { return Sided(degrees, 1, "° up", "° down", "level") }

// Towards names the compass point of a bearing, one of sixteen.
func Towards(degrees float64) string {
	points := [...]string{"N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"}
	return points[(int(math.Round(degrees/22.5))%16+16)%16]
}

// Clock writes a duration in hours and minutes: "43 min", "1 h 05 min".
func Clock(d time.Duration) string {
	minutes := int(math.Round(d.Minutes()))
	if minutes < 60 {
		return fmt.Sprintf("%d min", minutes)
	}
	return fmt.Sprintf("%d h %02d min", minutes/60, minutes%60)
}

// Group writes a whole number with a space between thousands from five figures
// up (SI Brochure, 9th edition, 5.4.4), and never minus nought.
func Group(v float64) string {
	s := whole(math.Abs(v))
	if s == "0" {
		return s
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

// whole writes v to the nearest whole number, halves away from nought, never
// as minus nought.
func whole(v float64) string { return strconv.FormatFloat(math.Round(v)+0, 'f', 0, 64) }
