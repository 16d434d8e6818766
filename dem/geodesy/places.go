package geodesy

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"
)

// PlaceError says why a text is not a place.
type PlaceError struct {
	// Text is the whole text, as it was given.
	Text string
	// Part is the part of it that offends.
	Part string
	// Reason says what is wrong with the part and what to write instead.
	Reason string
}

// Error names the whole text, the part and the reason on one line. Very long
// texts are cut short.
func (e *PlaceError) Error() string {
	text, part := shortened(e.Text), shortened(e.Part)
	if part == text {
		return fmt.Sprintf("place %q %s", text, e.Reason)
	}
	return fmt.Sprintf("place %q: %q %s", text, part, e.Reason)
}

func shortened(s string) string {
	const limit = 60
	if len(s) <= limit {
		return s
	}
	cut := limit
	for cut > 0 && !utf8.RuneStart(s[cut]) {
		cut--
	}
	return s[:cut] + "..."
}

// Every form, in one line of advice.
const placeForms = "write a place as 36.45278,-84.21806, 36°27'10\"N 84°13'5\"W, 16S 735000 4040000 or 16SGF3500040000"

// longestPlace is in bytes; the longest sensible one has under 60.
const longestPlace = 200

var (
	number      = `([+-]?[0-9]+(?:\.[0-9]*)?|[+-]?\.[0-9]+)`
	mgrsPattern = regexp.MustCompile(`^([0-9]{1,2}) ?([A-Z]) ?([A-Z]) ?([A-Z])(?: ?([0-9]+))?(?: ([0-9]+))?$`)
	// The polar grid has no zone number. Three letters alone are a word, and so
	// are they with a number of few digits: "Bay", "Abe 12".
	polarPattern = regexp.MustCompile(`^[ABYZ] ?[A-Z] ?[A-Z] ?(?:[0-9]{4,}|[0-9]{2,} [0-9]{2,})$`)
	utmPattern   = regexp.MustCompile(`^([0-9]+) ?([A-Z]|NORTH|SOUTH)[ ,]+` + number + `(?: ?M)?(?: ?E)?[ ,]+` + number + `(?: ?M)?(?: ?N)?$`)
)

// ParsePlace reads a place in any of these forms, in capitals or not:
//
//	36.45278,-84.21806               latitude, longitude; a space will do for the comma
//	36.45278N 84.21806W              letters for signs, before or after
//	36°27'10"N 84°13'5"W             degrees, minutes, seconds
//	36d27m10sN,84d13m5sW             the same with letters
//	N36 27 10 W84 13 5               the same with spaces
//	36°27.17'N 84°13.08'W            degrees and decimal minutes
//	16S 735000 4040000               UTM: zone and latitude band, easting, northing
//	16north 735000 4040000           UTM: zone and hemisphere, in full
//	16S GF 35000 40000               MGRS, any even number of digits
//
// In UTM the letter after the zone is always the latitude band of MGRS, so
// that "16S" is in Tennessee and not in the southern hemisphere. A northing
// that is not in the band is refused rather than guessed at; N and S for
// hemispheres are written out, "16north", "16south".
//
// An MGRS reference stands for the centre of the square it names. Longitude
// is accepted in [-180, 360) with a sign and to 180 with a letter. Latitude
// always comes first. Every error is a *PlaceError.
func ParsePlace(text string) (LatLon, error) {
	clean, err := tidy(text)
	if err != nil {
		return LatLon{}, err
	}
	capitals := strings.ToUpper(clean)
	if parts := mgrsPattern.FindStringSubmatch(capitals); parts != nil {
		square, err := parseMGRS(text, parts)
		if err != nil {
			return LatLon{}, err
		}
		p, err := square.Centre()
		if err != nil { // the square straddles the grid's last parallel
			return LatLon{}, &PlaceError{text, clean, "has its centre outside the grid: " + err.Error()}
		}
		return p, nil
	}
	if polarPattern.MatchString(capitals) {
		return LatLon{}, polarError(text, clean)
	}
	if parts := utmPattern.FindStringSubmatch(capitals); parts != nil && len(parts[3]+parts[4]) > 6 {
		// Shorter, as 36S 149 10, it is degrees with a letter gone missing.
		return parseUTM(text, parts)
	}
	return parseLatLon(text, clean)
}

func polarError(text, part string) error {
	return &PlaceError{text, part, "is on the polar grid (UPS), which is not supported; write latitude and longitude"}
}

// tidy turns the typographic forms of degree, minute, second, minus and
// space into the plain ones and single spaces.
func tidy(text string) (string, error) {
	if len(text) > longestPlace {
		return "", &PlaceError{text, text, fmt.Sprintf("has %d characters, too many for a place; %s", utf8.RuneCountInString(text), placeForms)}
	}
	if !utf8.ValidString(text) {
		return "", &PlaceError{text, text, "is not UTF-8 text; type it with plain characters"}
	}
	var b strings.Builder
	for _, r := range text {
		switch r {
		case '°', 'º', '˚', 'ᵒ', '∘':
			r = '°'
		case '′', '’', '‘', 'ʹ', 'ʼ', '´', '`', '\'':
			r = '\''
		case '″', '”', '“', 'ʺ', '"':
			r = '"'
		case '−', '–', '‐', '‑':
			r = '-'
		case '\t', '\n', '\r', ' ', '\u00a0', '\u2002', '\u2003', '\u2007', '\u2009', '\u200a', '\u202f':
			r = ' '
		case ';':
			r = ','
		default:
			if r > 126 || r < 32 {
				return "", &PlaceError{text, string(r), "is not a character a place is written with; " + placeForms}
			}
		}
		b.WriteRune(r)
	}
	clean := strings.Join(strings.Fields(b.String()), " ")
	clean = strings.ReplaceAll(clean, "''", `"`)
	if clean == "" {
		return "", &PlaceError{text, text, "is empty; " + placeForms}
	}
	return clean, nil
}

// atoi reads digits a pattern has already checked, few enough to fit.
func atoi(digits string) int {
	n, _ := strconv.Atoi(digits)
	return n
}

// parseUTM reads the parts utmPattern found: zone, band or hemisphere,
// easting, northing.
func parseUTM(text string, parts []string) (LatLon, error) {
	fail := func(part, reason string, args ...any) (LatLon, error) {
		return LatLon{}, &PlaceError{text, part, fmt.Sprintf(reason, args...)}
	}
	zone, err := strconv.Atoi(parts[1])
	if err != nil || checkZone(zone) != nil {
		return fail(parts[1], "is not a UTM zone; write 1 to 60")
	}
	u := UTM{Zone: zone, North: parts[2] == "NORTH"}
	band := byte(0)
	if len(parts[2]) == 1 {
		band = parts[2][0]
		if strings.IndexByte("ABYZ", band) >= 0 {
			return LatLon{}, polarError(text, parts[2])
		}
		if _, _, ok := bandLimits(band); !ok {
			return fail(parts[2], "is not a latitude band; write a letter from C to X, without I and O, or %dnorth or %dsouth", zone, zone)
		}
		u.North = band >= 'N'
	}
	// The patterns leave nothing ParseFloat can refuse; length is bounded.
	u.Easting, _ = strconv.ParseFloat(parts[3], 64)
	u.Northing, _ = strconv.ParseFloat(parts[4], 64)
	if u.Easting < 100e3 || u.Easting > 900e3 {
		return fail(parts[3], "is not an easting; write 100000 to 900000 m, then the northing")
	}
	if u.Northing < 0 || u.Northing > utmFalseNorthing {
		return fail(parts[4], "is not a northing; write 0 to 10000000 m, after the easting")
	}
	p, err := u.LatLon()
	if err != nil {
		return fail(parts[4], "is beyond the UTM grid, which runs from 80°S to 84°N: %v", err)
	}
	if band == 0 {
		return p, nil
	}
	const tolerance = 1e-4 // degrees; a position rounded to 10 m may leave its band
	south, north, _ := bandLimits(band)
	if float64(p.Lat) < south-tolerance || float64(p.Lat) > north+tolerance {
		advice := fmt.Sprintf("write %d%c if it is north of the equator", zone, bandOfNorthing(u, true))
		if other := bandOfNorthing(u, false); other != 0 {
			advice += fmt.Sprintf(", %d%c if south", zone, other)
		}
		return fail(parts[4], "is not a northing in latitude band %c (%s to %s), which is what the letter after the zone means; %s",
			band, parallel(south), parallel(north), advice)
	}
	return p, nil
}

// bandOfNorthing is the band the numbers would have in a hemisphere, or 0.
func bandOfNorthing(u UTM, north bool) byte {
	u.North = north
	p, err := u.LatLon()
	if err != nil {
		return 0
	}
	return latitudeBand(p.Lat)
}

func parallel(lat float64) string {
	switch {
	case lat < 0:
		return fmt.Sprintf("%.0f°S", -lat)
	case lat > 0:
		return fmt.Sprintf("%.0f°N", lat)
	}
	return "the equator"
}
