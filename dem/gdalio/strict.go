package gdalio

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"crowline/dem/geodesy"
)

// GDAL reads the numbers of text files as far as they go and takes what it
// then has: "36,3264" is 36 to it, "84.396W" is east, "N36" is 0, "20 ft" is 20.
// So the text itself is read here first, and what is not wholly a number is an
// error.

// NumberError says that a file has something else where a number should be.
type NumberError struct {
	// Where in the file, by number and name: `waypoint 3 ("Camp")`.
	Where string
	// What should be a number: "lat".
	What string
	// Text is what is there.
	Text string
	// Reason says what is wrong with it: "is not a number of degrees".
	Reason string
}

func (e *NumberError) Error() string {
	text := e.Text
	if cut := []rune(text); len(cut) > 40 {
		text = string(cut[:40]) + "..."
	}
	return fmt.Sprintf("%s: %s %q %s", e.Where, e.What, text, e.Reason)
}

// notDegrees is why most coordinates are refused.
const notDegrees = "is not a number of degrees; write it with digits and a point, west and south with a minus sign"

// thing is one of a file's things, by its number and its name if it has one.
func thing(kind string, number int, name string) string {
	if name == "" {
		return fmt.Sprintf("%s %d", kind, number)
	}
	return fmt.Sprintf("%s %d (%q)", kind, number, name)
}

// checkLatLon refuses what is no latitude and longitude, as text.
func checkLatLon(where, lat, lon string) error {
	var v [2]float64
	for i, c := range []struct{ what, text string }{{"lat", lat}, {"lon", lon}} {
		var ok bool
		if v[i], ok = geodesy.ParseNumber(strings.TrimSpace(c.text)); !ok {
			return &NumberError{where, c.what, c.text, notDegrees}
		}
	}
	if _, err := geodesy.NewLatLon(geodesy.Degrees(v[0]), geodesy.Degrees(v[1])); err != nil {
		return fmt.Errorf("%s: %w", where, err)
	}
	return nil
}

// parseHeight reads a height in a unit, m, ft or ftUS, which may stand behind
// the number; "" is metres, and then no unit may. An empty text is none.
func parseHeight(text, unit string) (height float64, given, ok bool) {
	text = strings.TrimSpace(text)
	if text == "" {
		return 0, false, true
	}
	if number, found := strings.CutSuffix(text, unit); found {
		text = strings.TrimSpace(number)
	}
	height, ok = geodesy.ParseNumber(text)
	return height, true, ok
}

// unitWords are the units of heights in words.
var unitWords = map[string]string{"": "metres", "m": "metres", "ft": "feet", "ftUS": "US survey feet"}

func notHeight(unit string) string { return "is not a number of " + unitWords[unit] }

// checkNumbers refuses a file that one of GDAL's drivers for GPX, KML, GeoJSON or
// Shapefiles reads with anything but numbers where coordinates are, or in the
// attributes with these names, which are heights in a unit. Of other drivers'
// files it says nothing.
func checkNumbers(path, driver, unit string, heights ...string) error {
	if driver == Shapefile {
		return checkTable(path, unit, heights...)
	}
	f, err := os.Open(path)
	if err != nil {
		return errors.New("cannot be opened")
	}
	defer f.Close()
	return checkNumbersIn(f, driver, unit, heights...)
}

// checkNumbersIn is checkNumbers for what is open already, a GPX, KML or GeoJSON
// file.
func checkNumbersIn(r io.Reader, driver, unit string, heights ...string) error {
	switch driver {
	case GPX:
		return checkGPX(r)
	case KML:
		return checkKML(r)
	case GeoJSON:
		return checkGeoJSON(r, unit, heights...)
	}
	return nil
}
