package geodesy

import (
	"fmt"
	"math"
	"strings"
)

// The Military Grid Reference System writes a UTM position as zone, latitude
// band, the two letters of a 100 km square, and digits: the easting's half
// then the northing's (NGA.STND.0037, "Universal Grids and Grid Reference
// Systems", 2014).
const (
	bandLetters   = "CDEFGHJKLMNPQRSTUVWX" // 8 degrees each from 80°S; X is 12
	rowLetters    = "ABCDEFGHJKLMNPQRSTUV" // 100 km each, repeated every 2000 km
	squareSide    = 100e3                  // metres
	rowCycle      = 2000e3                 // metres
	maximumDigits = 16                     // to the millimetre
)

// columnLetters of zones 1, 4, 7...; 2, 5, 8...; 3, 6, 9...
var columnLetters = [3]string{"ABCDEFGH", "JKLMNPQR", "STUVWXYZ"}

// truncationNudge is added before digits are cut off, so that a position on
// a line of the grid, which the projection returns a nanometre short of it,
// is not put in the square before.
const truncationNudge = 1e-6 // metres

// bandNudge does the same for the latitude band, degrees; a micrometre.
const bandNudge = 1e-11

// latitudeBand is the band's letter; lat must be within the grid's limits.
func latitudeBand(lat Degrees) byte {
	i := int(math.Floor((float64(lat) + 80) / 8))
	return bandLetters[max(0, min(i, len(bandLetters)-1))]
}

// bandLimits are the latitudes of a band.
func bandLimits(band byte) (south, north float64, ok bool) {
	i := strings.IndexByte(bandLetters, band)
	if i < 0 {
		return 0, 0, false
	}
	south = float64(8*i - 80)
	north = south + 8
	if band == 'X' {
		north = utmNorthLimit
	}
	return south, north, true
}

// rowShift is where the row letters of a zone begin: even zones start at F.
func rowShift(zone int) int {
	if zone%2 == 0 {
		return 5
	}
	return 0
}

// MGRS writes a place's grid reference with so many digits in all: 10 names
// a square of 1 m, 8 of 10 m, 6 of 100 m, and so on, even, 0 to 16 (1 mm).
// Digits are cut off, never rounded, as the standard has it, so the place is
// inside the square that is named. The zone is written without a leading
// zero, as NGA's own library does. Beyond 84°N and 80°S it is an error.
func MGRS(p LatLon, digits int) (string, error) {
	u, err := ToUTM(p)
	if err != nil {
		return "", err
	}
	return u.reference(latitudeBand(p.Lat), digits)
}

// MGRS writes the grid reference of a position; see the function MGRS. It is
// an error if the easting is not between 100 000 and 900 000 m, beyond which
// the squares have no letters.
func (u UTM) MGRS(digits int) (string, error) {
	// The band must be that of the place on the line, not a nanometre off.
	p, err := u.LatLon()
	if err != nil {
		return "", err
	}
	if (p.Lat >= 0) != u.North {
		return "", fmt.Errorf("%v lies across the equator from its hemisphere; an MGRS reference needs the hemisphere's own northing", u)
	}
	return u.reference(latitudeBand(p.Lat+bandNudge), digits)
}

func (u UTM) reference(band byte, digits int) (string, error) {
	if digits < 0 || digits > maximumDigits || digits%2 != 0 {
		return "", fmt.Errorf("an MGRS reference has an even number of digits from 0 to %d, not %d", maximumDigits, digits)
	}
	easting, northing := u.Easting+truncationNudge, u.Northing+truncationNudge
	column := int(math.Floor(easting / squareSide))
	if column < 1 || column > 8 {
		return "", fmt.Errorf("%v has no MGRS square: the easting must be between 100000 and 900000 m", u)
	}
	if !u.North && northing >= utmFalseNorthing {
		// A hair south of the equator: the last row of the south, not the
		// first of the north, whose band would disagree.
		northing = utmFalseNorthing - truncationNudge
	}
	if !u.North {
		band = min(band, 'M')
	}
	row := int(math.Floor(northing / squareSide))
	letters := []byte{
		columnLetters[(u.Zone-1)%3][column-1],
		rowLetters[(row+rowShift(u.Zone))%len(rowLetters)],
	}
	half := digits / 2
	unit := squareSide / math.Pow10(half)
	cut := func(metres, square float64) int64 {
		n := int64(math.Floor((metres - square*squareSide) / unit))
		return max(0, min(n, int64(math.Pow10(half))-1))
	}
	if half == 0 {
		return fmt.Sprintf("%d%c%s", u.Zone, band, letters), nil
	}
	return fmt.Sprintf("%d%c%s%0*d%0*d", u.Zone, band, letters,
		half, cut(easting, float64(column)), half, cut(northing, float64(row))), nil
}

// MGRSSquare is the square a grid reference names.
type MGRSSquare struct {
	// Corner is the square's south-west corner.
	Corner UTM
	// Side is the square's side on the grid, metres: 1 for ten digits, 10
	// for eight, 100 000 for none.
	Side float64
}

// Centre is the middle of the square: the place the reference stands for,
// half a side either way.
func (s MGRSSquare) Centre() (LatLon, error) {
	u := s.Corner
	u.Easting += s.Side / 2
	u.Northing += s.Side / 2
	return u.LatLon()
}

// ParseMGRS reads a grid reference of any even number of digits to 16, in
// capitals or not, with or without spaces. The letters I and O, a zone that
// does not exist, a 100 km square that is not in the zone and band, an odd
// number of digits and the polar grid are errors (*PlaceError).
func ParseMGRS(text string) (MGRSSquare, error) {
	clean, err := tidy(text)
	if err != nil {
		return MGRSSquare{}, err
	}
	parts := mgrsPattern.FindStringSubmatch(strings.ToUpper(clean))
	if parts == nil {
		if polarPattern.MatchString(strings.ToUpper(clean)) {
			return MGRSSquare{}, polarError(text, clean)
		}
		return MGRSSquare{}, &PlaceError{text, clean, "is not an MGRS grid reference; write zone, band, square and digits, as in 16SGF3500040000"}
	}
	return parseMGRS(text, parts)
}

// parseMGRS reads the parts mgrsPattern found: zone, band, column, row and
// one or two runs of digits.
func parseMGRS(text string, parts []string) (MGRSSquare, error) {
	fail := func(part, reason string, args ...any) (MGRSSquare, error) {
		return MGRSSquare{}, &PlaceError{text, part, fmt.Sprintf(reason, args...)}
	}
	zone := atoi(parts[1])
	if checkZone(zone) != nil {
		return fail(parts[1], "is not a UTM zone; write 1 to 60")
	}
	band, column, row := parts[2][0], parts[3][0], parts[4][0]
	south, north, ok := bandLimits(band)
	switch {
	case strings.IndexByte("ABYZ", band) >= 0:
		return MGRSSquare{}, polarError(text, parts[2])
	case !ok:
		return fail(parts[2], "is not a latitude band; write a letter from C to X, without I and O")
	case column == 'I' || column == 'O' || row == 'I' || row == 'O':
		return fail(parts[3]+parts[4], "has a letter I or O, which the grid leaves out; look for a 1 or 0, or J or P, misread")
	}
	if band == 'X' && (zone == 32 || zone == 34 || zone == 36) {
		return fail(parts[1]+parts[2], "does not exist: Svalbard uses zones 31, 33, 35 and 37; write one of those")
	}
	i := strings.IndexByte(columnLetters[(zone-1)%3], column)
	if i < 0 {
		return fail(parts[3]+parts[4], "is not a 100 km square of zone %d; its first letter there is one of %s", zone, columnLetters[(zone-1)%3])
	}
	j := strings.IndexByte(rowLetters, row)
	if j < 0 {
		return fail(parts[3]+parts[4], "is not a 100 km square; its second letter is from A to V")
	}
	digits := parts[5] + parts[6]
	switch {
	case len(digits) > maximumDigits:
		return fail(digits, "has more than %d digits; 10 are a square of 1 m", maximumDigits)
	case parts[6] != "" && len(parts[5]) != len(parts[6]):
		return fail(parts[5]+" "+parts[6], "has %d digits of easting and %d of northing; write as many of each", len(parts[5]), len(parts[6]))
	case len(digits)%2 != 0:
		return fail(digits, "has an odd number of digits (%d); write as many for the easting as for the northing", len(digits))
	}
	half := len(digits) / 2
	corner := UTM{Zone: zone, North: band >= 'N', Easting: float64(i+1) * squareSide}
	found := false
	first := (j - rowShift(zone) + len(rowLetters)) % len(rowLetters)
	for northing := float64(first) * squareSide; northing < utmFalseNorthing; northing += rowCycle {
		corner.Northing = northing
		if squareTouches(corner, south, north, zone, band) {
			found = true
			break
		}
	}
	if !found {
		return fail(parts[3]+parts[4], "is not a 100 km square of %d%c; check the letters, or write the place as latitude and longitude", zone, band)
	}
	unit := squareSide / math.Pow10(half)
	if half > 0 {
		// Multiplied before divided: exact down to the millimetre's rounding.
		corner.Easting += float64(atoi(digits[:half])) * squareSide / math.Pow10(half)
		corner.Northing += float64(atoi(digits[half:])) * squareSide / math.Pow10(half)
	}
	return MGRSSquare{Corner: corner, Side: unit}, nil
}

// squareTouches tells whether a 100 km square has ground in its band and
// zone. Along a northing latitude is greatest, and along an easting
// longitude runs farthest from the central meridian, at a corner, because
// the central meridian is itself a side of squares.
func squareTouches(corner UTM, south, north float64, zone int, band byte) bool {
	west, east := zoneLimits(zone, band)
	minLat, maxLat, minLon, maxLon := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, c := range [4][2]float64{{0, 0}, {0, squareSide}, {squareSide, 0}, {squareSide, squareSide}} {
		northing := corner.Northing + c[1]
		if !corner.North {
			northing -= utmFalseNorthing
		}
		lon, lat := inverseTransverseMercator(corner.Easting+c[0], northing)
		minLat, maxLat = math.Min(minLat, lat), math.Max(maxLat, lat)
		minLon, maxLon = math.Min(minLon, lon), math.Max(maxLon, lon)
	}
	const hair = 1e-9 // degrees; a square that only touches the edge has no ground there
	return maxLat > south+hair && minLat < north-hair && maxLon > west+hair && minLon < east-hair
}

// zoneLimits are a zone's edges in a band, degrees from its central meridian.
func zoneLimits(zone int, band byte) (west, east float64) {
	switch {
	case band == 'V' && zone == 31:
		return -3, 0
	case band == 'V' && zone == 32:
		return -6, 3
	case band == 'X' && zone == 31:
		return -3, 6
	case band == 'X' && (zone == 33 || zone == 35):
		return -6, 6
	case band == 'X' && zone == 37:
		return -6, 3
	}
	return -3, 3
}
