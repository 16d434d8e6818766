package geodesy

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// parseLatLon reads latitude and longitude in decimal degrees or degrees,
// minutes and seconds.
func parseLatLon(text, clean string) (LatLon, error) {
	tokens, err := tokenize(text, clean)
	if err != nil {
		return LatLon{}, err
	}
	first, second, err := halves(text, tokens)
	if err != nil {
		return LatLon{}, err
	}
	a, err := readAngle(text, first)
	if err != nil {
		return LatLon{}, err
	}
	b, err := readAngle(text, second)
	if err != nil {
		return LatLon{}, err
	}
	return assemble(text, a, b)
}

// assemble checks that one angle is a latitude and the other a longitude.
func assemble(text string, a, b angle) (LatLon, error) {
	fail := func(part, reason string, args ...any) (LatLon, error) {
		return LatLon{}, &PlaceError{text, part, fmt.Sprintf(reason, args...)}
	}
	aEast, bEast := a.letter == 'E' || a.letter == 'W', b.letter == 'E' || b.letter == 'W'
	switch {
	case aEast && b.letter != 0 && !bEast:
		return fail(a.text, "is a longitude and comes first; write the latitude first: %s %s", b.text, a.text)
	case aEast && bEast:
		return fail(b.text, "is a second longitude; write one of them with N or S, first")
	case a.letter != 0 && b.letter != 0 && !bEast:
		return fail(b.text, "is a second latitude; write it with E or W")
	case aEast:
		return fail(a.text, "is a longitude and comes first; write the latitude first, then the longitude")
	case b.letter != 0 && !bEast:
		return fail(b.text, "is a latitude and comes second; write the latitude first, then the longitude")
	case a.letter == 0 && b.letter != 0:
		return fail(a.text, "has no N or S while the longitude has its letter; write both letters")
	case a.letter != 0 && b.letter == 0:
		return fail(b.text, "has no E or W while the latitude has its letter; write both letters")
	case a.letter == 0 && (a.bare || b.bare):
		return fail(text, "has minutes but no signs to tell the parts apart; write letters, as in N36 27 10 W84 13 5")
	}
	if math.Abs(a.degrees) > 90 {
		if math.Abs(b.degrees) <= 90 && math.Abs(a.degrees) < 360 {
			return fail(a.text, "is not a latitude, which is at most 90; if it is the longitude, write it second: %s,%s", b.text, a.text)
		}
		return fail(a.text, "is not a latitude; write -90 to 90")
	}
	if b.letter != 0 && math.Abs(b.degrees) > 180 {
		return fail(b.text, "is not a longitude; with E or W write 0 to 180")
	}
	if b.degrees < -180 || b.degrees >= 360 {
		return fail(b.text, "is not a longitude; write -180 to 180 (or to 360, all east)")
	}
	return NewLatLon(Degrees(a.degrees+0), Degrees(b.degrees))
}

// token is a number, a unit (° ' "), a hemisphere letter, a sign or a comma.
type token struct {
	kind   byte // '0' number, '°', '\'', '"' units (degree as 'd'), 'N', 'S', 'E', 'W', '-', '+', ','
	text   string
	number float64
	spaced bool // a space comes before it
}

// tokenize splits a tidied text. Letters d, m and s are units after a number
// and only there. An s is seconds when d or m came before it in the same
// angle and it is small or a hemisphere letter touches it; otherwise south.
func tokenize(text, clean string) ([]token, error) {
	var tokens []token
	lettered := false // this angle has used d or m
	seconds := false  // and s
	spaced := false
	for i := 0; i < len(clean); {
		c := clean[i]
		t := token{spaced: spaced}
		spaced = false
		after := len(tokens) > 0 && tokens[len(tokens)-1].kind == '0'
		switch {
		case c == ' ':
			spaced = true
			i++
			continue
		case c >= '0' && c <= '9' || c == '.':
			j := i
			for j < len(clean) && (clean[j] >= '0' && clean[j] <= '9' || clean[j] == '.') {
				j++
			}
			t.kind, t.text = '0', clean[i:j]
			value, err := strconv.ParseFloat(t.text, 64)
			if err != nil {
				return nil, &PlaceError{text, t.text, "is not a number; write digits with at most one decimal point"}
			}
			if after && !t.spaced {
				return nil, &PlaceError{text, t.text, "follows a number with nothing between; leave a space"}
			}
			t.number = value
			i = j
		case strings.HasPrefix(clean[i:], "°"):
			t.kind, t.text = 'd', "°"
			i += len("°")
		case after && (c == 'd' || c == 'D'):
			t.kind, t.text, lettered, seconds = 'd', string(c), true, false
			i++
		case after && (c == 'm' || c == 'M'):
			t.kind, t.text, lettered = '\'', string(c), true
			i++
		case after && lettered && !seconds && (c == 's' || c == 'S' && i+1 < len(clean) && strings.IndexByte("NSEWnsew", clean[i+1]) >= 0):
			t.kind, t.text, seconds = '"', string(c), true
			i++
		case strings.IndexByte(`'",+-`, c) >= 0:
			t.kind, t.text = c, string(c)
			if c == ',' {
				lettered, seconds = false, false
			}
			i++
		case isLetter(c):
			j := i
			for j < len(clean) && isLetter(clean[j]) {
				j++
			}
			word := clean[i:j]
			kind := strings.ToUpper(word)[0]
			if len(word) > 1 || strings.IndexByte("NSEW", kind) < 0 {
				return nil, &PlaceError{text, word, "is not understood; " + placeForms}
			}
			t.kind, t.text = kind, word
			lettered, seconds = false, false
			i = j
		default:
			return nil, &PlaceError{text, string(c), "is not understood; " + placeForms}
		}
		tokens = append(tokens, t)
	}
	return tokens, nil
}

func isLetter(c byte) bool { return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' }

func isHemisphere(t token) bool { return strings.IndexByte("NSEW", t.kind) >= 0 }

// halves splits the tokens between latitude and longitude: at the comma; or
// where the letters say; or at the second degree sign; or between two
// numbers.
func halves(text string, tokens []token) (first, second []token, err error) {
	var commas, letters, degrees, numbers []int
	for i, t := range tokens {
		switch {
		case t.kind == ',':
			commas = append(commas, i)
		case isHemisphere(t):
			letters = append(letters, i)
		case t.kind == 'd':
			degrees = append(degrees, i)
		case t.kind == '0':
			numbers = append(numbers, i)
		}
	}
	split := func(i int) ([]token, []token, error) { return tokens[:i], tokens[i:], nil }
	switch {
	case len(numbers) == 0:
		return nil, nil, &PlaceError{text, text, "has no numbers; " + placeForms}
	case len(commas) > 1:
		return nil, nil, &PlaceError{text, text, "has more than one comma; use points for decimals and one comma between latitude and longitude"}
	case len(commas) == 1:
		first, second = tokens[:commas[0]], tokens[commas[0]+1:]
	case len(letters) > 2:
		return nil, nil, &PlaceError{text, tokens[letters[2]].text, "is one hemisphere letter too many; write one for latitude and one for longitude"}
	case len(letters) == 2 && letters[0] == 0:
		return split(letters[1])
	case len(letters) >= 1 && letters[0] > 0:
		return split(letters[0] + 1)
	case len(letters) == 1:
		first, second = tokens, nil
	case len(degrees) == 2:
		i := degrees[1] - 1
		if i > 0 && (tokens[i-1].kind == '-' || tokens[i-1].kind == '+') {
			i--
		}
		return split(max(i, 0))
	case len(numbers) == 2:
		i := numbers[1]
		if tokens[i-1].kind == '-' || tokens[i-1].kind == '+' {
			i--
		}
		return split(i)
	case len(numbers) > 2:
		return nil, nil, &PlaceError{text, text, "has more numbers than a latitude and a longitude in degrees; put a comma between them or write hemisphere letters, as in N36 27 10 W84 13 5"}
	default:
		first, second = tokens, nil
	}
	if len(first) == 0 || len(second) == 0 {
		return nil, nil, &PlaceError{text, text, "is only one half of a place; write latitude and longitude"}
	}
	return first, second, nil
}

// angle is a latitude or longitude as read.
type angle struct {
	degrees float64
	letter  byte   // N, S, E, W or 0
	bare    bool   // minutes told from degrees by spaces alone
	text    string // as written
}

// readAngle reads [letter] [sign] degrees [minutes [seconds]] [letter].
func readAngle(text string, tokens []token) (angle, error) {
	a := angle{text: written(tokens)}
	fail := func(part, reason string) (angle, error) { return angle{}, &PlaceError{text, part, reason} }
	i := 0
	peek := func() byte {
		if i < len(tokens) {
			return tokens[i].kind
		}
		return 0
	}
	if len(tokens) == 0 {
		return fail(text, "is only one half of a place; write latitude and longitude")
	}
	if isHemisphere(tokens[0]) {
		a.letter = tokens[0].kind
		i++
	}
	negative, signed := false, false
	if k := peek(); k == '-' || k == '+' {
		negative, signed = k == '-', true
		i++
	}
	units := [3]struct {
		kind byte
		name string
	}{{'d', "degrees"}, {'\'', "minutes"}, {'"', "seconds"}}
	total, scale := 0.0, 1.0
	var previous token
	count := 0
	for ; count < 3 && peek() == '0'; count++ {
		t := tokens[i]
		i++
		name := units[count].name
		if count > 0 {
			if strings.Contains(previous.text, ".") {
				return fail(previous.text, "has a decimal point and is followed by smaller parts; only the last part may have one")
			}
			if t.number >= 60 {
				return fail(t.text, "is not a number of "+name+"; write less than 60")
			}
		}
		if k := peek(); k == 'd' || k == '\'' || k == '"' {
			if k != units[count].kind {
				return fail(t.text+tokens[i].text, "is where "+name+" should be; write degrees, minutes, seconds in that order, as in 36°27'10\"")
			}
			i++
		} else if count > 0 || peek() == '0' {
			a.bare = true
		}
		total += t.number / scale
		scale *= 60
		previous = t
	}
	if count == 0 {
		return fail(a.text, "has no number where degrees should be; "+placeForms)
	}
	if i < len(tokens) && isHemisphere(tokens[i]) {
		if a.letter != 0 {
			return fail(tokens[i].text, "is a second hemisphere letter for one angle; write one, before or after it")
		}
		a.letter = tokens[i].kind
		i++
	}
	if i < len(tokens) {
		return fail(written(tokens[i:]), "is left over; "+placeForms)
	}
	if signed && a.letter != 0 {
		return fail(a.text, "has both a sign and a letter; write one of them")
	}
	if negative || a.letter == 'S' || a.letter == 'W' {
		total = -total
	}
	a.degrees = total
	return a, nil
}

// written puts tokens back together as they were typed.
func written(tokens []token) string {
	var b strings.Builder
	for i, t := range tokens {
		if t.spaced && i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(t.text)
	}
	return b.String()
}
