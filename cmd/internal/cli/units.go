package cli

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"crowline/dem/geodesy"
	figures "crowline/dem/units"
)

func parseUnits(text string) (figures.System, error) {
	u, err := figures.Parse(text)
	if err != nil {
		return u, usageErrorf("--units %s: give metric or us", text)
	}
	return u, nil
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
	}{{"km", 1000}, {"mi", figures.Mile}, {"ft", figures.Foot}, {"m", 1}} {
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
