package geodesy

import "strconv"

// ParseNumber reads a text that is wholly a decimal number: digits with a point
// for the decimals, perhaps a sign before and a power of ten behind, as
// programs write very small ones (-8.4e-05). ok is false of all else: a comma
// for the point, a unit or letter after the number, spaces, digits in groups,
// hexadecimal, "inf" and "nan", an empty text, and what is too large to hold.
func ParseNumber(text string) (v float64, ok bool) {
	// ParseFloat knows how digits go together; it must only see nothing else.
	for i := range len(text) {
		switch c := text[i]; {
		case c >= '0' && c <= '9', c == '.', c == '-', c == '+', c == 'e', c == 'E':
		default:
			return 0, false
		}
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil { // too large among them
		return 0, false
	}
	return v, true
}
