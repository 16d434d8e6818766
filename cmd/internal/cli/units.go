package cli

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"crowline/dem/geodesy"
)

// Feet, miles and yards are the international ones (NIST Handbook 44,
// Appendix C).
const (
	metresPerFoot = 0.3048
	metresPerMile = 1609.344
)

// units is how text output is written; JSON is always metres and degrees.
type units struct{ us bool }

func parseUnits(text string) (units, error) {
	switch text {
	case "metric":
		return units{}, nil
	case "us":
		return units{us: true}, nil
	}
	return units{}, usageErrorf("--units %s: it is metric or us", text)
}

// distance writes a length along the ground: to 10 m under 10 km, to 100 m
// beyond, or in miles.
func (u units) distance(metres float64) string {
	if math.IsNaN(metres) {
		return "unknown"
	}
	if u.us {
		switch {
		case metres < 160:
			return fmt.Sprintf("%.0f ft", metres/metresPerFoot)
		case metres < 10*metresPerMile:
			return fmt.Sprintf("%.2f mi", metres/metresPerMile)
		}
		return fmt.Sprintf("%.1f mi", metres/metresPerMile)
	}
	switch {
	case metres < 1000:
		return fmt.Sprintf("%.0f m", metres)
	case metres < 10000:
		return fmt.Sprintf("%.2f km", metres/1000)
	}
	return fmt.Sprintf("%.1f km", metres/1000)
}

// height writes an elevation or a difference of elevations.
func (u units) height(metres float64) string {
	if math.IsNaN(metres) {
		return "unknown"
	}
	if u.us {
		return fmt.Sprintf("%.0f ft", metres/metresPerFoot)
	}
	if metres != 0 && math.Abs(metres) < 9.95 {
		return fmt.Sprintf("%.1f m", metres)
	}
	return fmt.Sprintf("%.0f m", metres)
}

// small writes an eye or target height.
func (u units) small(metres float64) string {
	if u.us {
		return strconv.FormatFloat(math.Round(metres/metresPerFoot*10)/10, 'f', -1, 64) + " ft"
	}
	return strconv.FormatFloat(math.Round(metres*100)/100, 'f', -1, 64) + " m"
}

// lengthFlag is a flag in metres that also takes feet: "1.6", "1.6m", "6ft".
type lengthFlag struct {
	metres *float64
	bounds
}

// newLength is a flag of any length.
func newLength(value float64, target *float64) *lengthFlag {
	*target = value
	return &lengthFlag{target, from(-math.MaxFloat64, math.MaxFloat64)}
}

// within bounds what the flag may be given; its default need not be so.
func (l *lengthFlag) within(b bounds) *lengthFlag {
	l.bounds = b
	return l
}

// bounds are what a flag's value may be.
type bounds struct {
	least, most float64
	above       bool // above the least, and not the least itself
}

func from(least, most float64) bounds { return bounds{least: least, most: most} }

func above(least, most float64) bounds { return bounds{least, most, true} }

// check refuses a value outside, written as it was given.
func (b bounds) check(v float64, text, what string, write func(float64) string) error {
	switch {
	case v >= b.least && v <= b.most && !(b.above && v == b.least):
		return nil
	case b.above:
		return fmt.Errorf("%q is not %s above %s and up to %s", text, what, write(b.least), write(b.most))
	}
	return fmt.Errorf("%q is not %s from %s to %s", text, what, write(b.least), write(b.most))
}

// plainLength writes a bound: in metres, or kilometres where it is of them.
func plainLength(metres float64) string {
	if math.Abs(metres) >= 1000 && math.Mod(metres, 1000) == 0 {
		return strconv.FormatFloat(metres/1000, 'f', -1, 64) + " km"
	}
	return strconv.FormatFloat(metres, 'f', -1, 64) + " m"
}

func (l *lengthFlag) String() string {
	if l.metres == nil {
		return ""
	}
	return strconv.FormatFloat(*l.metres, 'f', -1, 64) + "m"
}

func (l *lengthFlag) Type() string { return "length" }

func (l *lengthFlag) Set(text string) error {
	v, err := parseLength(text)
	if err != nil {
		return err
	}
	if err := l.check(v, text, "a length", plainLength); err != nil {
		return err
	}
	*l.metres = v
	return nil
}

// scaleFlag is a map's scale, 25000 for 1:25 000.
type scaleFlag struct {
	scale *float64
	bounds
}

func newScale(value float64, target *float64, b bounds) *scaleFlag {
	*target = value
	return &scaleFlag{target, b}
}

func (f *scaleFlag) String() string {
	if f.scale == nil {
		return ""
	}
	return strconv.FormatFloat(*f.scale, 'f', -1, 64)
}

func (f *scaleFlag) Type() string { return "scale" }

func (f *scaleFlag) Set(text string) error {
	number := strings.TrimPrefix(strings.TrimSpace(text), "1:")
	v, ok := geodesy.ParseNumber(ungrouped(number))
	if !ok {
		return fmt.Errorf("%q is not a scale; write 25000 for 1:25 000", text)
	}
	if err := f.check(v, text, "a scale", func(v float64) string { return fmt.Sprintf("1:%.0f", v) }); err != nil {
		return err
	}
	*f.scale = v
	return nil
}

// grouped is a whole number in groups of three, as maps print their scales.
var grouped = regexp.MustCompile(`^[0-9]{1,3}( [0-9]{3})+$`)

// ungrouped is the number without the spaces between its groups.
func ungrouped(number string) string {
	if grouped.MatchString(number) {
		return strings.ReplaceAll(number, " ", "")
	}
	return number
}

// parseLength reads a number with an optional unit: m (the default), km, ft
// or mi.
func parseLength(text string) (float64, error) {
	t := strings.ToLower(strings.TrimSpace(text))
	factor := 1.0
	for _, unit := range []struct {
		suffix string
		metres float64
	}{{"km", 1000}, {"mi", metresPerMile}, {"ft", metresPerFoot}, {"m", 1}} {
		if rest, ok := strings.CutSuffix(t, unit.suffix); ok {
			t, factor = strings.TrimSpace(rest), unit.metres
			break
		}
	}
	v, ok := geodesy.ParseNumber(t)
	if !ok {
		return 0, fmt.Errorf("%q is not a length; write a number of metres, or with a unit: 1.6m, 5ft, 2km, 3mi", text)
	}
	return v * factor, nil
}

// number is a JSON number, or null where it is not one.
func number(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// rounded is a JSON number kept to places decimals.
func rounded(v float64, places int) *float64 {
	p := math.Pow(10, float64(places))
	if r := math.Round(v*p) / p; !math.IsInf(r, 0) {
		v = r
	} // else it is larger than its decimals
	return number(v)
}
