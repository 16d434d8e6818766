package geodesy

import (
	"math"
	"regexp"
	"strconv"
)

// decimal is a sign, digits with at most one point among them, and a power of
// ten.
var decimal = regexp.MustCompile(`^[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?$`)

// ParseNumber reads a text that is wholly a decimal number: digits with a point
// for the decimals, perhaps a sign before and a power of ten behind, as
// programs write very small ones (-8.4e-05). ok is false of all else: a comma
// for the point, a unit or letter after the number, spaces, digits in groups,
// hexadecimal, "inf" and "nan", an empty text, and what is too large to hold.
func ParseNumber(text string) (v float64, ok bool) {
	if !decimal.MatchString(text) {
		return 0, false
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, false
	}
	return v, true
}
