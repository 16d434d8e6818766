package cli

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

func runFeatures(t *testing.T, arguments ...string) demFeaturesAnswer {
	t.Helper()
	a := run(t, append([]string{"dem", "features", "--json"}, arguments...)...)
	require.Equal(t, exitOK, a.code, a.err)
	var v demFeaturesAnswer
	require.NoError(t, json.Unmarshal([]byte(a.out), &v))
	return v
}

func TestFeaturesJSON(t *testing.T) {
	v := runFeatures(t, "--around", legFrom, "--radius", "2km")
	assert.InDelta(t, 500, v.ScaleM, 0)
	// three times 9.7 m, the data's stated error, to a whole metre
	assert.InDelta(t, 29, v.MinReliefM, 0)
	kinds := map[string]int{}
	for _, f := range v.Features {
		kinds[f.Kind]++
		// 2026-11-28: a line's nearest point was told beside its middle
		at := func(p place) geodesy.LatLon {
			return geodesy.LatLon{Lat: geodesy.Degrees(p.Lat), Lon: geodesy.Degrees(p.Lon)}
		}
		g := geodesy.Inverse(at(v.Around), at(f.Place))
		const roundedPlace = 0.2 // m; 7 decimals of a degree, and a tenth of a metre
		assert.InDelta(t, g.Distance, f.DistanceM, roundedPlace)
		assert.InDelta(t, float64(g.Start), f.TrueDeg, 0.1)
		nearest := f.DistanceM
		if len(f.Line) > 0 {
			require.NotNil(t, f.Nearest)
			nearest = f.Nearest.DistanceM
			assert.LessOrEqual(t, nearest, f.DistanceM)
		}
		assert.LessOrEqual(t, nearest, 2000.0)
		assert.GreaterOrEqual(t, f.ReliefM, v.MinReliefM)
		assert.GreaterOrEqual(t, f.Confidence, 0.5)
		assert.NotEmpty(t, f.Reason)
		require.NotNil(t, f.Place.ElevationM)
	}
	for _, k := range []string{"hill", "saddle", "ridge", "spur", "valley", "draw"} {
		assert.Positive(t, kinds[k], k)
	}
	// the hill north of the start, as package landform's own summits have it
	assert.InDelta(t, 986, *v.Features[0].Place.ElevationM, 0.5)
}

func TestFeaturesAreThoseAskedFor(t *testing.T) {
	fine := runFeatures(t, "--around", legFrom, "--min-relief", "10", "--min-confidence", "0")
	coarse := runFeatures(t, "--around", legFrom, "--min-relief", "160ft")
	assert.InDelta(t, 48.8, coarse.MinReliefM, 0.05)
	assert.Greater(t, len(fine.Features), len(coarse.Features))
	for _, f := range runFeatures(t, "--around", legFrom, "--kinds", "Hill,saddle").Features {
		assert.Contains(t, []string{"hill", "saddle"}, f.Kind)
	}
}

// TestFeaturesAreWritten reads the files back.
func TestFeaturesAreWritten(t *testing.T) {
	folder := t.TempDir()
	for _, name := range []string{"f.geojson", "f.gpx", "f.kml"} {
		path := filepath.Join(folder, name)
		v := runFeatures(t, "--around", legFrom, "-o", path)
		assert.Equal(t, []string{path}, v.Written)
		places, err := gdalio.ReadPlaces(path)
		require.NoError(t, err, name)
		require.Len(t, places, len(v.Features), name)
		lines, err := gdalio.ReadLines(path)
		require.NoError(t, err, name)
		drawn := 0
		for _, f := range v.Features {
			if len(f.Line) >= 2 {
				drawn++
			}
		}
		assert.Len(t, lines, drawn, name)
		const tolerance = 0.05 // m; GPX and KML keep nine digits of a degree
		assert.Less(t, geodesy.Inverse(places[0].LatLon, geodesy.LatLon{
			Lat: geodesy.Degrees(v.Features[0].Place.Lat), Lon: geodesy.Degrees(v.Features[0].Place.Lon)}).Distance, tolerance)
		assert.Equal(t, "hill 1", places[0].Name)
	}
	path := filepath.Join(folder, "f.gpkg")
	runFeatures(t, "--around", legFrom, "-o", path)
	body, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Greater(t, len(body), 10000)
}

func TestFeaturesTextFitsATerminal(t *testing.T) {
	checkWidth(t, "dem", "features", "--around", legFrom)
	checkWidth(t, "dem", "features", "--around", legFrom, "--units", "us", "--most", "3")
	checkWidth(t, "dem", "features", "--help")
	assert.Contains(t, checkWidth(t, "dem", "features", "--around", legFrom, "--kinds", "cliff"), "None. Try")
}

func TestFeaturesThatCannotBeListed(t *testing.T) {
	folder := t.TempDir()
	badLines(t, []badLine{
		{"nowhere", []string{"dem", "features"}, exitUsage, "--around"},
		{"an argument", []string{"dem", "features", legFrom}, exitUsage, "--around"},
		{"off the data", []string{"dem", "features", "--around", "40,-84.2"}, exitError, "40"},
		{"bad kind", []string{"dem", "features", "--around", legFrom, "--kinds", "lake"}, exitUsage, "lake"},
		{"bad radius", []string{"dem", "features", "--around", legFrom, "--radius", "0"}, exitUsage, "--radius"},
		{"scale under the posts", []string{"dem", "features", "--around", legFrom, "--scale", "50"}, exitUsage, "scale"},
		{"bad relief", []string{"dem", "features", "--around", legFrom, "--min-relief", "-3"}, exitUsage, "--min-relief"},
		{"bad confidence", []string{"dem", "features", "--around", legFrom, "--min-confidence", "2"}, exitUsage, "--min-confidence"},
		{"unknown ending", []string{"dem", "features", "--around", legFrom, "-o", filepath.Join(folder, "f.doc")}, exitUsage, ".geojson"},
		{"no folder", []string{"dem", "features", "--around", legFrom, "-o", filepath.Join(folder, "no", "f.gpx")}, exitError, "no folder"},
	})
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Empty(t, left)
}

// TestNoErrorIsNoAnswer: 2026-11-28, an error of 0 was taken as none given,
// and the data's own used without a word.
func TestNoErrorIsNoAnswer(t *testing.T) {
	a := run(t, "leg", legFrom, legTo, "--vertical-error", "0")
	assert.Equal(t, exitUsage, a.code)
	assert.Contains(t, a.err, "--vertical-error 0: no heights are without error")
}
