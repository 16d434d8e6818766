package cli

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/gdalio"
	"crowline/testdata/cumberland"
)

// scaledDemo is the Cumberland ground with its heights multiplied, in a file that
// does not say their unit.
func scaledDemo(t *testing.T, by float32) string {
	t.Helper()
	r, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	require.NoError(t, err)
	defer r.Close()
	g, err := r.Read(t.Context(), r.Layout().Whole())
	require.NoError(t, err)
	for i := range g.Elevations {
		g.Elevations[i] *= by
	}
	path := filepath.Join(t.TempDir(), "scaled.tif")
	void := math.NaN()
	require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), path, &g.Frame, []gdalio.Band{{Float32: g.Elevations, NoData: &void}}))
	return path
}

// Places of known elevation on the Cumberland ground: Cross Mountain is 3 534 ft,
// 1 077 m, by common lists (from memory), the others by the data.
var knownPlaces = []struct {
	name     string
	lat, lon float64
	metres   float64
}{{"Cross Mountain", 36.198, -84.231, 1077}, {"Crest", 36.34833, -84.29917, 935}, {"Knob", 36.27083, -84.2975, 986}}

// knownFiles writes the places in every format that carries an elevation.
func knownFiles(t *testing.T) map[string]string {
	t.Helper()
	folder := t.TempDir()
	var gpx, third, field, kml, csv, csv2 []string
	for _, p := range knownPlaces {
		gpx = append(gpx, fmt.Sprintf(`<wpt lat="%v" lon="%v"><ele>%v</ele><name>%s</name></wpt>`, p.lat, p.lon, p.metres, p.name))
		third = append(third, fmt.Sprintf(`{"type":"Feature","properties":{"name":%q},"geometry":{"type":"Point","coordinates":[%v,%v,%v]}}`, p.name, p.lon, p.lat, p.metres))
		field = append(field, fmt.Sprintf(`{"type":"Feature","properties":{"name":%q,"elevation":%v},"geometry":{"type":"Point","coordinates":[%v,%v]}}`, p.name, p.metres, p.lon, p.lat))
		kml = append(kml, fmt.Sprintf(`<Placemark><name>%s</name><Point><coordinates>%v,%v,%v</coordinates></Point></Placemark>`, p.name, p.lon, p.lat, p.metres))
		csv = append(csv, fmt.Sprintf("%s,%v,%v,%v", p.name, p.lat, p.lon, p.metres))
		csv2 = append(csv2, fmt.Sprintf("%s,%v,%v,%v", p.name, p.lat, p.lon, p.metres))
	}
	collection := func(list []string) string {
		return `{"type":"FeatureCollection","features":[` + strings.Join(list, ",") + `]}`
	}
	files := map[string]string{}
	for name, body := range map[string]string{
		"gpx.gpx":       `<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">` + strings.Join(gpx, "") + `</gpx>`,
		"third.geojson": collection(third), "field.geojson": collection(field),
		"kml.kml": `<kml xmlns="http://www.opengis.net/kml/2.2"><Document>` + strings.Join(kml, "") + `</Document></kml>`,
		"ele.csv": "name,lat,lon,ele\n" + strings.Join(csv, "\n"), "elevation_m.csv": "name,lat,lon,elevation_m\n" + strings.Join(csv2, "\n"),
	} {
		files[name] = filepath.Join(folder, name)
		require.NoError(t, os.WriteFile(files[name], []byte(body), 0o600))
	}
	return files
}

const inFeet = "the heights look to be in feet and were taken as metres"

// TestFeetAreDoubtedByKnownPlaces, whatever file the places come in, and only
// where there is a doubt.
func TestFeetAreDoubtedByKnownPlaces(t *testing.T) {
	t.Parallel()
	feet := scaledDemo(t, 1/0.3048)
	files := knownFiles(t)
	for name, file := range files {
		for _, json := range []bool{true, false} {
			arguments := []string{"leg", legFrom, legTo, "--marks", "0", "--places", file}
			if json {
				arguments = append(arguments, "--json")
			}
			a := run(t, append(arguments, "--dem", feet)...)
			require.Equal(t, exitOK, a.code, a.err)
			assert.Equal(t, 1, strings.Count(strings.Join(strings.Fields(a.out), " "), inFeet), "%s", name)
			for _, right := range [][]string{{"--dem", feet, "--height-unit", "ft"}, nil} {
				a := run(t, append(arguments, right...)...)
				require.Equal(t, exitOK, a.code, a.err)
				assert.NotContains(t, a.out, "look to be", "%s %v", name, right)
			}
		}
	}
	a := run(t, "leg", legFrom, legTo, "--marks", "0", "--places", files["ele.csv"], "--dem", scaledDemo(t, 1), "--height-unit", "ft")
	require.Equal(t, exitOK, a.code, a.err)
	assert.Contains(t, strings.Join(strings.Fields(a.out), " "), "the heights look to be in metres and were taken as feet")
	none := filepath.Join(t.TempDir(), "none.csv")
	require.NoError(t, os.WriteFile(none, []byte("name,lat,lon\nCross Mountain,36.198,-84.231\n"), 0o600))
	a = run(t, "leg", legFrom, legTo, "--marks", "0", "--places", none, "--dem", feet)
	require.Equal(t, exitOK, a.code, a.err)
	assert.NotContains(t, a.out, "look to be", "no elevation is known")
}

// TestEveryCommandWithPlacesDoubtsTheUnit.
func TestEveryCommandWithPlacesDoubtsTheUnit(t *testing.T) {
	t.Parallel()
	feet := scaledDemo(t, 1/0.3048)
	places := knownFiles(t)["ele.csv"]
	trip := filepath.Join(t.TempDir(), "trip.csv")
	require.NoError(t, os.WriteFile(trip, []byte("name,lat,lon\nA,"+legFrom+"\nB,36.25000,-84.28000\n"), 0o600))
	out := filepath.Join(t.TempDir(), "out.svg")
	for _, arguments := range [][]string{
		{"sight", legFrom, legTo}, {"sight", legFrom, "--bearing", "90"}, {"route", trip}, {"viewshed", legFrom, "--radius", "3km"},
		{"skyline", legFrom, "--step", "30"}, {"landmarks", legFrom, "--radius", "4km"},
		{"contours", "--around", legFrom, "-o", out}, {"sheet", legFrom, "-o", out},
		{"drill", "--around", legFrom, "--radius", "4km", "--count", "1", "--kinds", "back-bearing"},
		{"fix", "--bearing", "36.27083,-84.29750=349", "--bearing", "36.26500,-84.30333=307"},
		{"dem", "features", "--around", legFrom, "--radius", "1km"},
	} {
		for _, extra := range [][]string{{"--json"}, nil} {
			a := run(t, append(append(arguments, "--places", places, "--dem", feet), extra...)...)
			require.Equal(t, exitOK, a.code, "%v: %s", arguments, a.err)
			assert.Equal(t, 1, strings.Count(strings.Join(strings.Fields(a.out), " "), inFeet), "%v %v", arguments, extra)
		}
	}
}

// TestManyKnownPlaces: of many the nearest are read; a few with a wrong
// figure do not mislead.
func TestManyKnownPlaces(t *testing.T) {
	t.Parallel()
	var rows strings.Builder
	rows.WriteString("name,lat,lon,ele\n")
	for i := range 300 {
		// far off the leg, and right by data in metres
		fmt.Fprintf(&rows, "far %d,36.20,-84.10,900\n", i)
	}
	for i := range 20 {
		fmt.Fprintf(&rows, "near %d,36.27083,-84.2975,986\n", i)
	}
	file := filepath.Join(t.TempDir(), "many.csv")
	require.NoError(t, os.WriteFile(file, []byte(rows.String()), 0o600))
	a := run(t, "leg", legFrom, legTo, "--marks", "0", "--places", file, "--dem", scaledDemo(t, 1/0.3048))
	require.Equal(t, exitOK, a.code, a.err)
	text := strings.Join(strings.Fields(a.out), " ")
	assert.Contains(t, text, inFeet)
	assert.Contains(t, text, "near ")
}

// TestHighMountainsInFeetAreDoubtedByRange, by dem info and by a leg.
func TestHighMountainsInFeetAreDoubtedByRange(t *testing.T) {
	t.Parallel()
	high := scaledDemo(t, 4/0.3048) // summits over 4 000 m, in feet
	for _, arguments := range [][]string{{"dem", "info", high}, {"leg", legFrom, legTo, "--dem", high}} {
		a := run(t, arguments...)
		require.Equal(t, exitOK, a.code, a.err)
		assert.Contains(t, strings.Join(strings.Fields(a.out), " "), "may be in feet and taken as metres", "%v", arguments)
		a = run(t, append(arguments, "--height-unit", "ft")...)
		require.Equal(t, exitOK, a.code, a.err)
		assert.NotContains(t, strings.Join(strings.Fields(a.out), " "), "may be in feet", "%v", arguments)
	}
}
