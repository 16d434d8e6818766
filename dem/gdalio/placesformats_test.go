package gdalio

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// knobKML holds the knob that the other files of these tests hold.
const knobKML = `<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>knob</name><Point><coordinates>-84.2,36.3,0</coordinates></Point></Placemark>
<Placemark><name>way</name><LineString><coordinates>-84.2,36.3 -84.21,36.31</coordinates></LineString></Placemark></Document></kml>`

// requireKnob checks that places are one knob at 36.3 N, 84.2 W.
func requireKnob(t *testing.T, places []Place, err error) {
	t.Helper()
	require.NoError(t, err)
	require.Len(t, places, 1)
	assert.Equal(t, "knob", places[0].Name)
	const tolerance = 2e-7 // degrees; UTM coordinates by gdaltransform (PROJ 9.1.1)
	assert.InDelta(t, 36.3, float64(places[0].LatLon.Lat), tolerance)
	assert.InDelta(t, -84.2, float64(places[0].LatLon.Lon), tolerance)
}

// TestTablesAsSpreadsheetsWriteThem: separators, decimal commas, encodings, and
// eastings and northings.
func TestTablesAsSpreadsheetsWriteThem(t *testing.T) {
	t.Parallel()
	utf16, err := unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().String("name;lat;lon\nknob;36,3;-84,2\n")
	require.NoError(t, err)
	const utm = "EPSG:32616"
	for _, c := range []struct{ name, content, crs string }{
		{"decimal commas", "name;lat;lon;ele\nknob;36,3;-84,2;640,5\n", ""},
		{"decimal commas behind tabs", "name\tlat\tlon\nknob\t36,3\t-84,2\n", ""},
		{"decimal commas in quotation marks", "name,lat,lon\nknob,\"36,3\",\"-84,2\"\n", ""},
		{"a line that says the separator", "sep=;\r\nname;lat;lon\r\nknob;36,3;-84,2\r\n", ""},
		{"a comma in a heading", "\"name, of place\";name;lat;lon\nx;knob;36.3;-84.2\n", ""},
		{"rows never filled", "name;lat;lon\nknob;36,3;-84,2\n;;\n;;\n", ""},
		{"UTF-16", utf16, ""},
		{"an empty column before tabs", "kind\tname\tlat\tlon\n\tknob\t36.3\t-84.2\n", ""},
		{"eastings and northings", "easting,northing,name\n751428.270449,4020862.416234,knob\n", utm},
		{"with decimal commas", "name;East;North\nknob;751428,270449;4020862,416234\n", utm},
		{"x and y", "X,Y,name\n751428.270449,4020862.416234,knob\n", utm},
		{"degrees beside metres", "name,lat,lon,easting,northing\nknob,36.3,-84.2,1,2\n", ""},
		{"metres beside degrees", "name,lat,lon,easting,northing\nknob,1,2,751428.270449,4020862.416234\n", utm},
		{"degrees in a reference system", "name,lat,lon\nknob,36.3,-84.2\n", "EPSG:4326"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			places, err := ReadPlacesWith(writeFile(t, "p.csv", c.content), PlaceOptions{CRS: c.crs})
			requireKnob(t, places, err)
		})
	}
	western, err := charmap.Windows1252.NewEncoder().String("name;lat;lon\nHöhe;36,3;-84,2\n")
	require.NoError(t, err)
	places, err := ReadPlaces(writeFile(t, "p.csv", western))
	require.NoError(t, err)
	assert.Equal(t, "Höhe", places[0].Name)
}

// TestTablesThatAreRefused say the line, and what to write.
func TestTablesThatAreRefused(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, content, crs, says string }{
		{"no reference system", "easting,northing\n751428,4020862\n", "", "nothing says of which reference system: give that with --places-crs, as EPSG:32611"},
		{"degrees in metres", "lat,lon\n36.3,-84.2\n", "EPSG:32616", "its columns lat and lon are degrees, and --places-crs is of eastings and northings"},
		{"thousands", "easting;northing;name\n751,428;4020862,4;knob\n", "EPSG:32616", `line 2 ("knob"): easting "751,428" is not a number in the units`},
		{"grouped by spaces", "easting;northing\n751 428;4 020 862\n", "EPSG:32616", "no spaces or commas between thousands"},
		{"two commas", "lat;lon\n36,3,1;-84\n", "", `lat "36,3,1" is not a number of degrees`},
		{"comma and point", "lat;lon\n1,036.3;-84\n", "", "is not a number of degrees"},
		{"an elevation in thousands", "lat;lon;ele\n36,3;-84,2;1,361\n", "", `elevation "1,361"`},
		{"decimal commas between commas", "name,lat,lon\nknob,36,3,-84,2\n", "", "put semicolons between columns"},
		{"off the projection", "easting,northing\n1e30,1e30\n", "EPSG:32616", "line 2: "},
		{"off the Earth", "x,y\n10,95\n", "EPSG:4326", "line 2: 10, 95 is no place in WGS 84"},
		{"no such system", "x,y\n10,5\n", "EPSG:99999", "--places-crs"},
		{"half a UTF-16 file", "\xff\xfen\x00a", "", "p.csv: "},
		{"a line that says nothing", "sep=;\n", "", "it has no rows"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			_, err := ReadPlacesWith(writeFile(t, "p.csv", c.content), PlaceOptions{CRS: c.crs, AskCRS: "--places-crs"})
			require.Error(t, err)
			assert.Contains(t, err.Error(), c.says)
			assert.NotContains(t, err.Error(), "\n")
			assert.LessOrEqual(t, len(err.Error()), 400)
		})
	}
}

// TestKMZ: the KML in it, and of several doc.kml; its lines too. What is none is
// told in a line, and what unpacks without end is not unpacked.
func TestKMZ(t *testing.T) {
	t.Parallel()
	file := func(files ...any) string { return writeFile(t, "p.kmz", string(zipped(t, files...))) }
	path := file("files/icon.png", []byte("\x89PNG"), "doc.kml", []byte(knobKML))
	places, err := ReadPlaces(path)
	requireKnob(t, places, err)
	lines, err := ReadLines(path)
	require.NoError(t, err)
	require.Len(t, lines, 1)
	assert.Equal(t, "way", lines[0].Name)
	places, err = ReadPlaces(file("a.kml", []byte("<kml/>"), "doc.kml", []byte(knobKML)))
	requireKnob(t, places, err)
	for _, c := range []struct {
		name, path, says string
	}{
		{"no KML", file("x.png", []byte("x")), "no list of places is in it"},
		{"not a zip", writeFile(t, "p.kmz", knobKML), "it is no whole zip file"},
		{"cut short", writeFile(t, "p.kmz", string(zipped(t, "doc.kml", []byte(knobKML))[:100])), "it is no whole zip file"},
		{"empty KML", file("doc.kml", []byte{}), "its doc.kml is empty"},
		{"a bomb", file("doc.kml", bytes.Repeat([]byte(" "), maxPlaceBytes+1)), "it unpacks to more than a list of places should be (the limit is 64 MB)"},
		{"bad numbers", file("doc.kml", []byte(strings.ReplaceAll(knobKML, "36.3,0", "N36,0"))), "N36"},
		{"nonsense", file("doc.kml", []byte("hello")), "p.kmz"},
	} {
		for _, read := range []func() error{
			func() error { _, err := ReadPlaces(c.path); return err },
			func() error { _, err := ReadLines(c.path); return err },
		} {
			err := read()
			require.Error(t, err, c.name)
			assert.Contains(t, err.Error(), c.says, c.name)
			assert.NotContains(t, err.Error(), "/vsimem", c.name)
			assert.NotContains(t, err.Error(), "\n", c.name)
		}
	}
}

// TestShapefileOfPlaces: on the disk and in a zip; without a .prj it is asked for.
func TestShapefileOfPlaces(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	shp := filepath.Join(folder, "huts.shp")
	tool(t, "", "ogr2ogr", "-q", "-f", "ESRI Shapefile", "-t_srs", "EPSG:32616", "-where", "name='knob'", shp, writeFile(t, "p.csv.vrt", fmt.Sprintf(
		`<OGRVRTDataSource><OGRVRTLayer name="p"><SrcDataSource>%s</SrcDataSource><GeometryType>wkbPoint</GeometryType><LayerSRS>EPSG:4326</LayerSRS><GeometryField encoding="PointFromColumns" x="lon" y="lat"/></OGRVRTLayer></OGRVRTDataSource>`,
		writeFile(t, "p.csv", "name,lat,lon\nknob,36.3,-84.2\n"))))
	places, err := ReadPlaces(shp)
	requireKnob(t, places, err)
	_, err = ReadPlacesWith(shp, PlaceOptions{CRS: "EPSG:32616", AskCRS: "--places-crs"})
	require.ErrorContains(t, err, "it says its own reference system, so --places-crs does nothing here")

	var packed []any
	for _, ending := range []string{".shp", ".shx", ".dbf", ".prj"} {
		data, err := os.ReadFile(filepath.Join(folder, "huts"+ending))
		require.NoError(t, err)
		packed = append(packed, "data/huts"+ending, data)
	}
	zip := writeFile(t, "huts.zip", string(zipped(t, packed...)))
	places, err = ReadPlaces(zip)
	requireKnob(t, places, err)
	places, err = ReadPlacesFrom(bytes.NewReader(zipped(t, packed...)), "standard input", PlaceOptions{})
	requireKnob(t, places, err)

	require.NoError(t, os.Remove(filepath.Join(folder, "huts.prj")))
	_, err = ReadPlacesWith(shp, PlaceOptions{AskCRS: "--places-crs"})
	require.ErrorContains(t, err, "it has no .prj, so nothing says its reference system: give that with --places-crs, as EPSG:32611")
	places, err = ReadPlacesWith(shp, PlaceOptions{CRS: "EPSG:32616"})
	requireKnob(t, places, err)
	require.NoError(t, os.Rename(filepath.Join(folder, "huts.dbf"), filepath.Join(folder, "huts.DBF")))
	places, err = ReadPlacesWith(shp, PlaceOptions{CRS: "EPSG:32616"})
	requireKnob(t, places, err)
	require.NoError(t, os.Remove(filepath.Join(folder, "huts.shx")))
	_, err = ReadPlaces(shp)
	require.ErrorContains(t, err, "its .shx is missing; keep the files of a shapefile together")
	_, err = ReadPlaces(writeFile(t, "two.zip", string(zipped(t, "a.csv", []byte("lat,lon\n1,2\n"), "b.gpx", []byte("<gpx/>")))))
	require.ErrorContains(t, err, "2 lists are in it, a.csv and b.gpx among them: unpack it and give one")
}

// FuzzReadPlacesFrom: whatever comes through a pipe, packed or not, what is read is
// on Earth and errors are one line.
func FuzzReadPlacesFrom(f *testing.F) {
	f.Add([]byte("name;lat;lon\nknob;36,3;-84,2\n"), "")
	f.Add([]byte("x,y\n751428,4020862\n"), "EPSG:32616")
	f.Add(zipped(f, "doc.kml", []byte(knobKML)), "")
	f.Add([]byte(knobKML), "")
	f.Add([]byte("\xff\xfel\x00a\x00t\x00"), "")
	f.Fuzz(func(t *testing.T, data []byte, crs string) {
		if crs != "" {
			crs = "EPSG:32616"
		}
		places, err := ReadPlacesFrom(bytes.NewReader(data), "standard input", PlaceOptions{CRS: crs})
		if err != nil {
			assert.NotContains(t, err.Error(), "\n")
			return
		}
		for _, p := range places {
			lat, lon := float64(p.LatLon.Lat), float64(p.LatLon.Lon)
			assert.True(t, lat >= -90 && lat <= 90 && lon >= -180 && lon < 180)
		}
	})
}
