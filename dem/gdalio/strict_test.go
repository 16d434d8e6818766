package gdalio

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/lukeroth/gdal"
	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// notNumbers are texts that atof makes something of.
var notNumbers = []string{"", "36,3264", "84.396W", "N36", "20 ft", "abc", "36.3.2", "inf", "-Infinity", "nan", "0x1p-2", "1_000", "36°", "1e999"}

// TestNumbersInPlacesAreReadWhole: 2026-11, a GPX point at 36,3264 stood at 36,
// and one at 84.396W in the east. Whatever is not wholly a number is an error
// that names the file, the point and the text.
func TestNumbersInPlacesAreReadWhole(t *testing.T) {
	t.Parallel()
	const gpx, kml = `<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">%s</gpx>`, `<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Folder>%s</Folder></Document></kml>`
	const first = `<wpt lat="36.1" lon="-84.1"><name>first</name></wpt>`
	const geoFirst = `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"first"},"geometry":{"type":"Point","coordinates":[-84.1,36.1]}},`
	forms := []struct {
		name, file, content string // %s is the number
		where               string
		lines, emptyIsNone  bool
	}{
		{name: "lat", file: "p.gpx", content: fmt.Sprintf(gpx, first+`<wpt lat="%s" lon="-84.2"><name>knob</name></wpt>`), where: `waypoint 2 ("knob")`},
		{name: "lon", file: "p.gpx", content: fmt.Sprintf(gpx, first+`<wpt lat="36" lon="%s"><name>knob</name></wpt>`), where: `waypoint 2 ("knob")`},
		{name: "ele", file: "p.gpx", content: fmt.Sprintf(gpx, first+`<wpt lat="36" lon="-84"><ele>%s</ele></wpt>`), where: "waypoint 2", emptyIsNone: true},
		{name: "route", file: "p.gpx", content: fmt.Sprintf(gpx, `<rte><rtept lat="36" lon="-84"/><rtept lat="%s" lon="-84"/></rte>`), where: "route point 2", lines: true},
		{name: "track", file: "p.gpx", content: fmt.Sprintf(gpx, `<trk><trkseg><trkpt lat="36" lon="-84"/><trkpt lat="36" lon="%s"/></trkseg></trk>`), where: "track point 2", lines: true},
		{name: "KML longitude", file: "p.kml", content: fmt.Sprintf(kml, `<Placemark><name>knob</name><Point><coordinates>%s,36.3,0</coordinates></Point></Placemark>`), where: "placemark 1"},
		{name: "KML height", file: "p.kml", content: fmt.Sprintf(kml, `<Placemark><Point><coordinates>-84.2,36.3,%s</coordinates></Point></Placemark>`), where: "placemark 1", emptyIsNone: true},
		{name: "KML line", file: "p.kml", content: fmt.Sprintf(kml, `<Placemark><LineString><coordinates>-84.2,36.3 -84.2,%s</coordinates></LineString></Placemark>`), where: "placemark 1", lines: true},
		{name: "GeoJSON text", file: "p.geojson", content: geoFirst + `{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[-84.2,"%s"]}}]}`, where: "feature 2"},
		{name: "GeoJSON ele", file: "p.geojson", content: geoFirst + `{"type":"Feature","properties":{"ele":"%s"},"geometry":{"type":"Point","coordinates":[-84.2,36]}}]}`, where: "feature 2", emptyIsNone: true},
		{name: "GeoJSON line", file: "p.geojson", content: `{"type":"LineString","coordinates":[[-84,36],["%s",36]]}`, where: "feature 1", lines: true},
		{name: "CSV lat", file: "p.csv", content: "name,lat,lon\nfirst,36,-84\nknob,\"%s\",-84\n", where: `line 3 ("knob")`},
		{name: "CSV lon", file: "p.csv", content: "lat;lon\n36;%s\n", where: "line 2"},
		{name: "CSV elevation", file: "p.csv", content: "lat;lon;elevation\n36;-84;%s\n", where: "line 2", emptyIsNone: true},
	}
	for _, f := range forms {
		t.Run(f.name, func(t *testing.T) {
			t.Parallel()
			read := func(text string) error {
				path := writeFile(t, f.file, fmt.Sprintf(f.content, text))
				var err error
				if f.lines {
					_, err = ReadLines(path)
				} else {
					_, err = ReadPlaces(path)
				}
				return err
			}
			for _, text := range notNumbers {
				err := read(text)
				if text == "36,3264" && f.name == "KML line" {
					continue // is 36 and a height of 3264
				}
				if text == "36,3264" && f.file == "p.csv" { // whole with its decimal comma (TestTablesAsSpreadsheetsWriteThem)
					assert.NoError(t, err)
					continue
				}
				if text == "" && f.emptyIsNone {
					assert.NoError(t, err)
					continue
				}
				if f.file == "p.kml" && strings.Contains(text, ",") || text == "20 ft" && f.file == "p.kml" {
					assert.ErrorContains(t, err, "p.kml: "+f.where, "%q", text) // the parts are told apart by commas and spaces
					continue
				}
				if assert.Error(t, err, "%q", text) {
					assert.Contains(t, err.Error(), f.file+": "+f.where, "%q", text)
					assert.Contains(t, err.Error(), fmt.Sprintf("%q is not a number", text))
					assert.NotContains(t, err.Error(), "\n")
				}
			}
			for _, text := range []string{"36.3264", "+5", "1e1", "-3.5e-05"} {
				if text != "36.3264" && strings.Contains(f.name, "GeoJSON") && f.name != "GeoJSON ele" {
					continue
				}
				if err := read(text); f.name == "GeoJSON text" || f.name == "GeoJSON line" {
					assert.ErrorContains(t, err, "no quotes", "a number in quotes is none in GeoJSON")
				} else {
					assert.NoError(t, err, "%q", text)
				}
			}
		})
	}
	for content, want := range map[string]string{
		`<wpt lon="-84"><name>knob</name></wpt>`:                           `waypoint 1 ("knob") has no lat`,
		`<wpt lat="36"/>`:                                                  "waypoint 1 has no lon",
		`<wpt lat="-118.3" lon="34.1"><name>knob</name></wpt>`:             `waypoint 1 ("knob"): latitude -118.3 is not between -90 and 90; are latitude and longitude the wrong way round?`,
		`<wpt lat="36" lon="-200"/>`:                                       "waypoint 1: longitude -200 is not between",
		`<wpt lat="90.0001" lon="170"/>`:                                   "latitude 90.0001 is not between -90 and 90",
		`<wpt lat="&d;" lon="170"/>`:                                       "line 1: the entity &d; is not read: write what it stands for",
		`<trk><trkseg><trkpt lat="91" lon="170"/></trkseg></trk>`:          "track point 1: latitude 91",
		`<wpt lat="36" lon="-84"><ele>640</ele><ele>about 640</ele></wpt>`: `ele "about 640" is not a number of metres`,
	} {
		_, err := ReadPlaces(writeFile(t, "p.gpx", fmt.Sprintf(gpx, content)))
		assert.ErrorContains(t, err, want, content)
	}
	// encodings in which GDAL reads them
	for _, content := range []string{
		"\ufeff" + fmt.Sprintf(gpx, `<wpt lat=" 36.5 " lon="-84"><name>knob</name></wpt>`),
		`<?xml version="1.0" encoding="ISO-8859-1"?>` + fmt.Sprintf(gpx, "<wpt lat='36.5' lon='-84'><cmt>caf\xe9</cmt><name>knob</name></wpt>"),
	} {
		places, err := ReadPlaces(writeFile(t, "p.gpx", content))
		if assert.NoError(t, err) {
			assert.Equal(t, []Place{{Name: "knob", LatLon: geodesy.LatLon{Lat: 36.5, Lon: -84}}}, places)
		}
	}
}

// TestCoverHeightsAreReadWhole: 2026-11, a height of "20 ft" was 20 m, and
// "abc" was 0.
func TestCoverHeightsAreReadWhole(t *testing.T) {
	t.Parallel()
	square := orb.Polygon{{{-84.3, 36.5}, {-84.2, 36.5}, {-84.2, 36.6}, {-84.3, 36.5}}}
	layer := func(kind FieldType, value any) Layer {
		return Layer{Name: "houses", Shape: Polygons, Fields: []Field{{"tall", kind}, {"name", Text}}, Features: []Feature{
			{Geometry: square, Values: []any{value, "zipped house"}}, {Geometry: square, Values: []any{value, "b"}},
		}}
	}
	write := func(file string, l Layer) string {
		path := filepath.Join(t.TempDir(), file)
		driver, err := VectorDriver(path)
		require.NoError(t, err)
		require.NoError(t, WriteFeatures(t.Context(), path, driver, l))
		return path
	}
	refused := func(path, text, unit, words string) {
		t.Helper()
		_, _, err := ReadCover(t.Context(), path, "tall", unit)
		var number *NumberError
		if assert.ErrorAs(t, err, &number, "%s %q", path, text) {
			assert.Equal(t, text, number.Text)
			assert.Equal(t, "tall", number.What)
			assert.Contains(t, err.Error(), path+": feature ")
			assert.Contains(t, err.Error(), "is not a number of "+words)
		}
	}
	for _, file := range []string{"a.gpkg", "a.geojson", "a.fgb", "a.shp"} {
		for _, text := range notNumbers[1:] {
			if text == "36°" && file == "a.shp" {
				continue // a Shapefile is in another encoding
			}
			refused(write(file, layer(Text, text)), text, "", "metres")
		}
		for text, unit := range map[string]string{"12": "", " 12.0 ": "", "12 m": "", "12ft": "ft", "12 ftUS": "ftUS", "1.2e1": ""} {
			polygons, passed, err := ReadCover(t.Context(), write(file, layer(Text, text)), "tall", unit)
			if assert.NoError(t, err, "%s %q", file, text) {
				assert.InDelta(t, 12*map[string]float64{"": 1, "ft": internationalFoot, "ftUS": surveyFoot}[unit], polygons[0].AboveGround, 1e-12)
				assert.Zero(t, passed)
			}
		}
		refused(write(file, layer(Text, "12 m")), "12 m", "ft", "feet")
	}
	// numbers by the column, but not by what stands in it, whatever the file's name
	for _, value := range []string{`true`, `{"m":3}`, `[3]`, `3e`, `-`} {
		path := writeFile(t, "houses.txt", `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"tall":3},"geometry":null},
			{"type":"Feature","geometry":{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,0]]]},"properties":{"tall":`+value+`}}]}`)
		_, _, err := ReadCover(t.Context(), path, "tall", "")
		assert.ErrorContains(t, err, "feature 2: tall", value)
	}
	shape := write("a.shp", layer(Real, 12.5))
	table := strings.TrimSuffix(shape, ".shp") + ".dbf"
	data, err := os.ReadFile(table)
	require.NoError(t, err)
	at := bytes.Index(data, []byte("12.5"))
	require.Positive(t, at)
	width := bytes.IndexByte(data[at:], 'z') // to the name that follows
	for _, text := range []string{"20 ft", "abc", "1,5", "12.5x"} {
		require.NoError(t, os.WriteFile(table, bytes.Replace(data, data[at:at+width], []byte(fmt.Sprintf("%-*s", width, text)), 1), 0o600))
		refused(shape, text, "", "metres")
	}
	stars := bytes.Replace(data, data[at:at+width], bytes.Repeat([]byte("*"), width), 1)
	require.NoError(t, os.WriteFile(table, stars, 0o600))
	polygons, passed, err := ReadCover(t.Context(), shape, "tall", "")
	require.NoError(t, err)
	assert.Equal(t, []int{1, 1}, []int{len(polygons), passed}, "stars are no value")

	pack := write("a.gpkg", layer(Real, 12.5))
	require.NoError(t, fenced(func() error {
		d, err := gdal.OpenEx(pack, gdal.OFVector|gdal.OFUpdate, []string{GeoPackage}, nil, nil)
		require.NoError(t, err)
		defer d.Close()
		d.ExecuteSQL(`UPDATE houses SET tall = '20 ft' WHERE name = 'b'`, gdal.Geometry{}, "")
		return nil
	}))
	refused(pack, "20 ft", "", "metres")
}

// FuzzCheckGPX: a GPX file that is let through has at every point a latitude and
// a longitude that are numbers, as another reader finds them.
func FuzzCheckGPX(f *testing.F) {
	for _, s := range []string{"36.3264", "36,3264", "84.396W", "&amp;", "1e5", " 3 ", "3\"x=\"4"} {
		f.Add(s, s, s)
	}
	f.Fuzz(func(t *testing.T, lat, lon, ele string) {
		escape := strings.NewReplacer("&", "&amp;", "<", "&lt;", `"`, "&quot;").Replace
		text := fmt.Sprintf(`<gpx><wpt lat="%s" lon="%s"><ele>%s</ele></wpt></gpx>`, escape(lat), escape(lon), escape(ele))
		if err := checkGPX(strings.NewReader(text)); err != nil {
			return
		}
		for _, part := range []string{lat, lon, ele} {
			_, ok := geodesy.ParseNumber(strings.TrimSpace(part))
			assert.True(t, ok || strings.TrimSpace(ele) == "" && part == ele, "%q", part)
		}
	})
}

// FuzzCheckKML: coordinates that are let through are numbers with commas
// between.
func FuzzCheckKML(f *testing.F) {
	for _, s := range []string{"-84.2,36.3,0", "-84.2,36.3 1,2", "-84,2,36,3", "84W,36N", "1, 2", "1,2,"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		escaped := strings.NewReplacer("&", "&amp;", "<", "&lt;").Replace(text)
		if err := checkKML(strings.NewReader("<kml><Placemark><Point><coordinates>" + escaped + "</coordinates></Point></Placemark></kml>")); err != nil {
			assert.NotContains(t, err.Error(), "\n")
			return
		}
		for _, p := range strings.Fields(text) {
			for i, part := range strings.Split(p, ",") {
				_, ok := geodesy.ParseNumber(part)
				assert.True(t, ok || i == 2 && part == "", "%q of %q", part, text)
			}
		}
	})
}

// FuzzCheckGeoJSON: of a document that is JSON and let through, the coordinates
// of every geometry are numbers and each height is one, as Go's own reader
// finds them.
func FuzzCheckGeoJSON(f *testing.F) {
	for _, s := range []string{
		`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"h":"12 m"},"geometry":{"type":"Point","coordinates":[-84,36]}}]}`,
		`{"type":"Feature","properties":{"h":true,"coordinates":["x"]},"geometry":{"type":"Point","coordinates":["1",2]}}`,
		`{"type":"GeometryCollection","geometries":[{"type":"Point","coordinates":[1,null]}]}`, `{"c\u006fordinates":["\"x"]}`, "\ufeff{}", `[`, `{"a":1e999}`,
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		err := checkGeoJSON(strings.NewReader(text), "m", "h")
		if err != nil {
			assert.NotContains(t, err.Error(), "\n")
			return
		}
		var document map[string]any
		if json.Unmarshal([]byte(text), &document) != nil {
			return
		}
		var numbers func(v any)
		numbers = func(v any) {
			if list, ok := v.([]any); ok {
				for _, one := range list {
					numbers(one)
				}
				return
			}
			assert.IsType(t, 0.0, v, text)
		}
		feature := func(v any) {
			o, _ := v.(map[string]any)
			if geometry, ok := o["geometry"].(map[string]any); ok && geometry["coordinates"] != nil {
				numbers(geometry["coordinates"])
			}
			properties, _ := o["properties"].(map[string]any)
			switch h := properties["h"].(type) {
			case nil, float64:
			case string:
				_, _, ok := parseHeight(h, "m")
				assert.True(t, ok, "%q", h)
			default:
				assert.Fail(t, "let through", "%T", h)
			}
		}
		feature(document)
		if list, ok := document["features"].([]any); ok {
			for _, one := range list {
				feature(one)
			}
		}
	})
}

// FuzzCheckDBF: no table makes the check read beyond a record, and what it
// refuses is in one line.
func FuzzCheckDBF(f *testing.F) {
	head := make([]byte, 32)
	head[4], head[8], head[10] = 1, 65, 6
	column := make([]byte, 32)
	copy(column, "h")
	column[11], column[16] = 'N', 5
	f.Add(append(append(bytes.Clone(head), column...), "\r 20 ft"...))
	f.Add(append(append(bytes.Clone(head), column...), "\r 20   "...))
	f.Add([]byte{3})
	f.Fuzz(func(t *testing.T, data []byte) {
		if err := checkDBF(bytes.NewReader(data), "m", "h"); err != nil {
			var number *NumberError
			require.ErrorAs(t, err, &number)
			_, _, ok := parseHeight(number.Text, "")
			assert.False(t, ok)
			assert.NotContains(t, err.Error(), "\n")
		}
	})
}
