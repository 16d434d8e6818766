package gdalio

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestReadPlaces(t *testing.T) {
	t.Parallel()
	// every file holds the knob at 36.3 N, 84.2 W and something passed over
	cases := []struct {
		name, file, content string
		elevation           float64 // NaN for none
		kind                string
	}{
		{"GPX", "p.gpx", `<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="36.3" lon="-84.2"><ele>640</ele><name>knob</name><type>summit</type></wpt>
<trk><trkseg><trkpt lat="1" lon="2"/><trkpt lat="1" lon="3"/></trkseg></trk></gpx>`, 640, "summit"},
		{"GeoJSON", "p.geojson", `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"knob","kind":"summit"},"geometry":{"type":"Point","coordinates":[-84.2,36.3,640]}},
{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[0,0],[1,1]]}}]}`, 640, "summit"},
		{"GeoJSON in UTM", "p.json", `{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::32616"}},"features":[{"type":"Feature","properties":{"name":"knob"},"geometry":{"type":"Point","coordinates":[751428.270448566,4020862.41623442]}}]}`, math.NaN(), ""},
		{"KML", "p.kml", `<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Folder><name>marks</name><Placemark><name>knob</name><Point><coordinates>-84.2,36.3,0</coordinates></Point></Placemark></Folder></Document></kml>`, math.NaN(), ""},
		{"CSV", "p.csv", "name,lat,lon,elevation,kind\nknob,36.3,-84.2,640,summit\n", 640, "summit"},
		{"CSV in words, with a byte-order mark and semicolons", "p.csv", "\ufeffLongitude;Latitude;Name\n-84.2;36.3;knob\n", math.NaN(), ""},
		{"tabs", "p.tsv", "name\tlat\tlon\nknob\t36.3\t275.8\n", math.NaN(), ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			places, err := ReadPlaces(writeFile(t, c.file, c.content))
			require.NoError(t, err)
			require.Len(t, places, 1)
			p := places[0]
			assert.Equal(t, "knob", p.Name)
			assert.Equal(t, c.kind, p.Kind)
			const tolerance = 2e-7 // degrees; UTM coordinates by gdaltransform (PROJ 9.1.1)
			assert.InDelta(t, 36.3, float64(p.LatLon.Lat), tolerance)
			assert.InDelta(t, -84.2, float64(p.LatLon.Lon), tolerance)
			if math.IsNaN(c.elevation) {
				assert.Nil(t, p.Elevation)
			} else if assert.NotNil(t, p.Elevation) {
				assert.Equal(t, c.elevation, *p.Elevation)
			}
		})
	}
}

func TestBadPlaces(t *testing.T) {
	t.Parallel()
	var bomb strings.Builder
	bomb.WriteString(`<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaaaaaaaaaaaa">`)
	for i := range 30 {
		prior := string(rune('a' + i%26))
		bomb.WriteString(`<!ENTITY ` + string(rune('b'+i%25)) + ` "` + strings.Repeat("&"+prior+";", 20) + `">`)
	}
	bomb.WriteString(`]><gpx version="1.1"><wpt lat="1" lon="2"><name>&z;</name></wpt></gpx>`)
	cases := []struct{ name, file, content, want string }{
		{"empty", "p.gpx", "", "is empty"},
		{"not GPX", "p.gpx", "hello", "GPX"},
		{"malformed KML", "p.kml", `<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><Point><coordinates>1,2`, "p.kml"},
		{"malformed GeoJSON", "p.geojson", `{"type":"FeatureCollection","features":[{"type":"Feat`, "p.geojson"},
		{"no points", "p.geojson", `{"type":"FeatureCollection","features":[]}`, "no named or unnamed point"},
		{"latitude off the Earth", "p.geojson", `{"type":"Point","coordinates":[10,100]}`, "latitude 100"},
		{"unknown ending", "p.doc", "x", ".gpx, .geojson, .kml and .csv"},
		{"no columns", "p.csv", "a,b\n1,2\n", "lat and lon"},
		{"bad number", "p.csv", "lat,lon\n46,7\n46x,7\n", `line 3: lat "46x"`},
		{"not a number", "p.csv", "lat,lon\nNaN,7\n", "line 2"},
		{"ragged", "p.csv", "lat,lon\n46\n", "line 2 has not as many columns as the first"},
		{"open quotation", "p.csv", "lat,lon\n\"46,7\n", "line 2 has a quotation mark too many or too few"},
		{"blank", "p.csv", " \n", "p.csv"},
		{"bad elevation", "p.csv", "lat,lon,ele\n46,7,high\n", `elevation "high"`},
		{"entity bomb", "p.gpx", bomb.String(), "p.gpx"},
		{"outer entity", "p.gpx", `<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/hostname">]><gpx version="1.1"><wpt lat="95" lon="2"><name>&x;</name></wpt></gpx>`, "p.gpx"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			places, err := ReadPlaces(writeFile(t, c.file, c.content))
			require.Error(t, err, "%v", places)
			assert.Contains(t, err.Error(), c.want)
			assert.NotContains(t, err.Error(), "\n")
		})
	}
	_, err := ReadPlaces(t.TempDir() + "/none.gpx")
	require.ErrorContains(t, err, "no such file")
}

// TestOuterEntitiesAreNotRead: a name that asks for another file stays empty.
func TestOuterEntitiesAreNotRead(t *testing.T) {
	t.Parallel()
	secret := writeFile(t, "secret.txt", "do not read")
	path := writeFile(t, "p.gpx", `<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY x SYSTEM "file://`+secret+`">]>
<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="1" lon="2"><name>&x;</name></wpt></gpx>`)
	places, err := ReadPlaces(path)
	if err == nil {
		for _, p := range places {
			assert.NotContains(t, p.Name, "do not read")
		}
	}
}

// FuzzReadCSV: whatever is read is on Earth, and errors are one line.
func FuzzReadCSV(f *testing.F) {
	f.Add("lat,lon,name\n46,7,a\n")
	f.Add("latitude;longitude;ele\n-46;200;12.5\n")
	f.Add("lat\tlon\n1e400\t2\n")
	f.Add("\ufefflat,lon\n\"46\n\",7\n")
	f.Fuzz(func(t *testing.T, text string) {
		places, err := readTable([]byte(text), nil, "--places-crs")
		if err != nil {
			return
		}
		for _, p := range places {
			lat, lon := float64(p.LatLon.Lat), float64(p.LatLon.Lon)
			assert.True(t, lat >= -90 && lat <= 90 && lon >= -180 && lon < 180)
			assert.True(t, p.Elevation == nil || finite(*p.Elevation))
		}
	})
}

// FuzzReadPlaces: GPX, KML and GeoJSON through their readers. Whatever is
// read is on Earth, and errors are one line.
func FuzzReadPlaces(f *testing.F) {
	f.Add(0, `<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="36" lon="-84"><ele>5</ele><name>a</name></wpt></gpx>`)
	f.Add(1, `<kml xmlns="http://www.opengis.net/kml/2.2"><Placemark><name>a</name><Point><coordinates>-84,36,5</coordinates></Point></Placemark></kml>`)
	f.Add(2, `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"a"},"geometry":{"type":"Point","coordinates":[-84,36,5]}}]}`)
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, kind int, text string) {
		path := filepath.Join(dir, "places"+[]string{".gpx", ".kml", ".geojson"}[uint(kind)%3])
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		places, err := ReadPlaces(path)
		if err != nil {
			assert.NotContains(t, err.Error(), "\n")
			return
		}
		for _, p := range places {
			lat, lon := float64(p.LatLon.Lat), float64(p.LatLon.Lon)
			assert.True(t, lat >= -90 && lat <= 90 && lon >= -180 && lon < 180)
			assert.True(t, p.Elevation == nil || finite(*p.Elevation))
		}
	})
}
