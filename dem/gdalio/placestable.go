package gdalio

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"crowline/dem/geodesy"
)

// columnNames are the headings read, in lower case.
var columnNames = map[string][]string{
	"lat": {"lat", "latitude", "lat_deg"}, "lon": {"lon", "long", "longitude", "lng", "lon_deg"},
	"easting": {"easting", "east", "e", "x"}, "northing": {"northing", "north", "n", "y"},
	"name": {"name", "title"}, "kind": {"kind", "type"}, "elevation": {"elevation", "ele", "elevation_m"},
}

// plainTableError says in plain words what is wrong with a table.
func plainTableError(err error, separator rune) error {
	var parse *csv.ParseError
	switch {
	case errors.Is(err, io.EOF):
		return errors.New("it has no rows")
	case errors.As(err, &parse) && errors.Is(err, csv.ErrFieldCount):
		hint := ""
		if separator == ',' {
			hint = " (with a decimal comma, put semicolons between columns)"
		}
		return fmt.Errorf("line %d has not as many columns as the first line%s", parse.Line, hint)
	case errors.As(err, &parse):
		return fmt.Errorf("line %d has a quotation mark too many or too few", parse.StartLine)
	}
	return err
}

// tableText is a table as UTF-8: spreadsheets also write UTF-16, with its mark,
// and the Windows code page of western Europe, without any.
func tableText(data []byte) (string, error) {
	switch {
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}), bytes.HasPrefix(data, []byte{0xfe, 0xff}):
		text, err := unicode.UTF16(unicode.LittleEndian, unicode.ExpectBOM).NewDecoder().Bytes(data)
		if err != nil {
			return "", errors.New("it is not whole UTF-16 text")
		}
		return string(text), nil
	case utf8.Valid(data):
		return strings.TrimPrefix(string(data), "\ufeff"), nil
	}
	text, err := charmap.Windows1252.NewDecoder().Bytes(data)
	return string(text), err
}

// separatorLine is what some spreadsheets write above a table to say what stands
// between its columns.
var separatorLine = regexp.MustCompile(`^(?i:sep)=([;,\t])\r?\n`)

// separatorOf is what stands between the columns: what most often does in the
// heading, outside quotation marks.
func separatorOf(heading string) rune {
	count := map[rune]int{}
	quoted := false
	for _, r := range heading {
		if r == '"' {
			quoted = !quoted
		} else if !quoted {
			count[r]++
		}
	}
	best := ','
	for _, r := range []rune{';', '\t'} {
		if count[r] > 0 && count[r] >= count[best] {
			best = r
		}
	}
	return best
}

// inThousands is a number that may be thousands or have a decimal comma.
var inThousands = regexp.MustCompile(`^[+-]?[0-9]{1,3},[0-9]{3}$`)

// tableNumber reads a number with a point or a comma before its decimals. ok is
// false of all else, and of a length that may be meant either way: 1,361 metres.
func tableNumber(text string, isLength bool) (v float64, ok bool) {
	if v, ok = geodesy.ParseNumber(text); ok {
		return v, true
	}
	if strings.Count(text, ",") != 1 || strings.Contains(text, ".") || isLength && inThousands.MatchString(text) {
		return 0, false
	}
	return geodesy.ParseNumber(strings.Replace(text, ",", ".", 1))
}

const (
	notTableDegrees = "is not a number of degrees; write it with digits and one point or comma, west and south with a minus sign"
	notMetres       = "is not a number in the units of its reference system; write it with digits and one point or comma, no spaces or commas between thousands"
)

// tableColumns finds the columns of a table by their headings, -1 where there is
// none.
func tableColumns(heading []string) map[string]int {
	columns := map[string]int{}
	for what, names := range columnNames {
		columns[what] = -1
		for _, n := range names {
			for i, c := range heading {
				if columns[what] < 0 && strings.EqualFold(strings.TrimSpace(c), n) {
					columns[what] = i
				}
			}
		}
	}
	return columns
}

// coordinateColumns are the columns across and up that a table's places are taken
// from: longitude and latitude, or where crs is of eastings and northings those.
func coordinateColumns(columns map[string]int, crs *geodesy.CRS, ask string) (across, up string, err error) {
	degrees := columns["lat"] >= 0 && columns["lon"] >= 0
	metres := columns["easting"] >= 0 && columns["northing"] >= 0
	switch {
	case degrees && (crs == nil || crs.Geographic):
		return "lon", "lat", nil
	case metres && crs != nil:
		return "easting", "northing", nil
	case metres:
		return "", "", fmt.Errorf("it has columns of eastings and northings, and nothing says of which reference system: give that with %s, as EPSG:32611", ask)
	case degrees:
		return "", "", fmt.Errorf("its columns lat and lon are degrees, and %s is of eastings and northings: leave that out, or name the columns easting and northing", ask)
	}
	return "", "", errors.New("its first line names no columns lat and lon, nor easting and northing")
}

// readTable reads comma, semicolon or tab separated rows under a heading row, in
// crs, or in degrees on WGS 84 where that is nil. Errors give the line.
func readTable(data []byte, crs *geodesy.CRS, ask string) ([]Place, error) {
	text, err := tableText(data)
	if err != nil {
		return nil, err
	}
	above := 0
	said := separatorLine.FindStringSubmatch(text)
	if said != nil {
		text, above = text[len(said[0]):], 1
	}
	first, _, _ := strings.Cut(text, "\n")
	reader := csv.NewReader(strings.NewReader(text))
	reader.TrimLeadingSpace = true
	if reader.Comma = separatorOf(first); said != nil {
		reader.Comma = rune(said[1][0])
	}
	if reader.Comma == '\t' {
		reader.TrimLeadingSpace = false // an empty column is not space before the next
	}
	row, err := reader.Read()
	if err != nil {
		return nil, fmt.Errorf("not a table of places: %w", plainTableError(err, reader.Comma))
	}
	columns := tableColumns(row)
	across, up, err := coordinateColumns(columns, crs, ask)
	if err != nil {
		return nil, err
	}
	isLength := across == "easting" && !crs.Geographic
	var places []Place
	var xs, ys []float64
	var wheres []string
	for {
		row, err := reader.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, plainTableError(err, reader.Comma)
		}
		if !slices.ContainsFunc(row, func(c string) bool { return strings.TrimSpace(c) != "" }) {
			continue // a row of a spreadsheet that was never filled
		}
		line, _ := reader.FieldPos(0)
		get := func(what string) string {
			if i := columns[what]; i >= 0 {
				return strings.TrimSpace(row[i])
			}
			return ""
		}
		p := Place{Name: get("name"), Kind: get("kind")}
		where := thing("line", line+above, p.Name)
		var v [2]float64
		for i, what := range []string{up, across} {
			var ok bool
			if v[i], ok = tableNumber(get(what), isLength); !ok {
				reason := notTableDegrees
				if isLength {
					reason = notMetres
				}
				return nil, &NumberError{where, what, get(what), reason}
			}
		}
		if crs == nil {
			if p.LatLon, err = geodesy.NewLatLon(geodesy.Degrees(v[0]), geodesy.Degrees(v[1])); err != nil {
				return nil, fmt.Errorf("%s: %w", where, err)
			}
		}
		if text := get("elevation"); text != "" {
			v, ok := tableNumber(text, true)
			if !ok {
				return nil, &NumberError{where, "elevation", text, notHeight("m")}
			}
			p.Elevation = &v
		}
		if len(places) == maxPlaces {
			return nil, fmt.Errorf("more than %d rows", maxPlaces)
		}
		places = append(places, p)
		if crs != nil {
			xs, ys, wheres = append(xs, v[1]), append(ys, v[0]), append(wheres, where)
		}
	}
	for i := range xs {
		p, err := crs.Place(xs[i], ys[i])
		if err == nil {
			places[i].LatLon, err = geodesy.NewLatLon(p.Lat, p.Lon)
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %v, %v is no place in %s: %w", wheres[i], xs[i], ys[i], crs.Name, err)
		}
	}
	return places, nil
}
