package cli

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"image/png"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The highest summit of the Cumberland ground, and a hollow.
const (
	onTop   = "36.19833,-84.23083"
	between = "36.26000,-84.29500"
)

func fitsATerminal(t *testing.T, text string) {
	t.Helper()
	for _, line := range strings.Split(text, "\n") {
		assert.LessOrEqual(t, utf8.RuneCountInString(line), 80, line)
		assert.Equal(t, strings.TrimRight(line, " "), line, "nothing after the last word")
	}
}

func TestSkylineText(t *testing.T) {
	t.Parallel()
	for _, line := range strings.Split(run(t, "skyline", "--help").out, "\n") {
		if !strings.HasPrefix(strings.TrimLeft(line, " "), "-") { // flag tables are laid out by the flag library
			assert.LessOrEqual(t, utf8.RuneCountInString(line), 80, line)
		}
	}
	places := filepath.Join(t.TempDir(), "places.csv")
	require.NoError(t, os.WriteFile(places, []byte("name,lat,lon\nFar South Knob,36.1832,-84.2524\nA place with a name much too long for the last column of a table,36.205,-84.280\n"), 0o644))
	for _, arguments := range [][]string{
		{"skyline", onTop}, {"skyline", onTop, "--units", "us"}, {"skyline", between, "--radius", "12km", "--places", places},
	} {
		a := run(t, arguments...)
		require.Equal(t, exitOK, a.code, a.err)
		fitsATerminal(t, a.out)
		for _, want := range []string{"Skyline", "highest", "lowest", "Every 15 degrees", "magnetic", "345.0", "Summits on the skyline", "declination", "cautions"} {
			assert.Contains(t, a.out, want)
		}
		if len(arguments) > 4 {
			assert.Contains(t, a.out, "Far South Knob")
			assert.NotContains(t, a.out, "°?", "that the data ends within 12 km is no gap in it")
			assert.Contains(t, a.out, "Only summits within 12.0 km are listed")
			assert.Contains(t, strings.Join(strings.Fields(a.out), " "), "higher ground may stand beyond")
		}
	}
}

// TestSkylineJSONAndCSVAgree: the same bearings and figures on standard
// output, in a JSON file and in a CSV file.
func TestSkylineJSONAndCSVAgree(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	file, table := filepath.Join(folder, "s.json"), filepath.Join(folder, "s.csv")
	a := run(t, "skyline", between, "--step", "2.5", "--json", "-o", file)
	require.Equal(t, exitOK, a.code, a.err)
	var keys map[string]any
	require.NoError(t, json.Unmarshal([]byte(a.out), &keys))
	for _, k := range []string{"from", "eye_elevation_m", "declination", "radius_m", "step_deg", "highest", "lowest", "peaks", "horizon", "assumptions", "elevation_data", "written", "warnings", "cautions"} {
		assert.Contains(t, keys, k)
	}
	point := keys["horizon"].([]any)[0].(map[string]any)
	for _, k := range []string{"true_deg", "magnetic_deg", "angle_deg", "distance_m", "elevation_m", "known"} {
		assert.Contains(t, point, k)
	}
	body, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.JSONEq(t, a.out, string(body))

	var v skylineAnswer
	require.NoError(t, json.Unmarshal(body, &v))
	require.Len(t, v.Horizon, 144)
	require.Equal(t, exitOK, run(t, "skyline", between, "--step", "2.5", "-o", table).code)
	body, err = os.ReadFile(table)
	require.NoError(t, err)
	rows, err := csv.NewReader(bytes.NewReader(body)).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 145)
	assert.Equal(t, []string{"true_deg", "magnetic_deg", "angle_deg", "distance_m", "elevation_m", "known"}, rows[0])
	for i, h := range v.Horizon {
		assert.InDelta(t, 2.5*float64(i), h.TrueDeg, 1e-9)
		for k, want := range []*float64{&h.TrueDeg, h.MagneticDeg, h.AngleDeg, h.DistanceM, h.ElevationM} {
			got, err := strconv.ParseFloat(rows[i+1][k], 64)
			require.NoError(t, err)
			assert.InDelta(t, *want, got, 1e-9)
		}
		assert.GreaterOrEqual(t, *v.Highest.AngleDeg, *h.AngleDeg)
		assert.LessOrEqual(t, *v.Lowest.AngleDeg, *h.AngleDeg)
	}
}

// TestSkylinePeaksAreSeen: a peak of the skyline is seen by the sight to it, at
// the same angle.
func TestSkylinePeaksAreSeen(t *testing.T) {
	t.Parallel()
	a := run(t, "skyline", onTop, "--json", "--step", "30")
	require.Equal(t, exitOK, a.code, a.err)
	var v skylineAnswer
	require.NoError(t, json.Unmarshal([]byte(a.out), &v))
	require.Greater(t, len(v.Peaks), 10)
	// Within the arc-minute a peak may stand below the line, a post behind a
	// nearer crest can be hidden by a hair.
	const oneArcMinute = 1.0 / 60
	for _, p := range v.Peaks[:10] {
		s := run(t, "sight", onTop, strconv.FormatFloat(p.Lat, 'f', 7, 64)+","+strconv.FormatFloat(p.Lon, 'f', 7, 64), "--json")
		require.Equal(t, exitOK, s.code, s.err)
		var seen sightAnswer
		require.NoError(t, json.Unmarshal([]byte(s.out), &seen))
		assert.InDelta(t, *seen.Sight.ElevationAngleDeg, *p.AngleDeg, 2e-3, "the figures' rounding")
		if seen.Sight.Verdict != "visible" {
			assert.Less(t, *seen.Sight.ExtraHeightM/(*p.DistanceM), oneArcMinute*0.01746)
		}
	}
}

func TestSkylineDrawings(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	places := filepath.Join(folder, "places.csv")
	require.NoError(t, os.WriteFile(places, []byte("name,lat,lon\nFar South Knob,36.1832,-84.2524\n"), 0o644))
	for _, name := range []string{"s.svg", "s.png", "s.pdf", "rows.svg"} {
		path := filepath.Join(folder, name)
		arguments := []string{"skyline", between, "--places", places, "-o", path}
		if name == "rows.svg" {
			arguments = append(arguments, "--rows", "4", "--units", "us")
		}
		a := run(t, arguments...)
		require.Equal(t, exitOK, a.code, a.err)
		assert.Contains(t, a.out, "written")
	}
	svg, err := os.ReadFile(filepath.Join(folder, "s.svg"))
	require.NoError(t, err)
	for _, want := range []string{`width="750mm"`, "Far South Knob", "vertical scale", "magnetic", "Carry map and compass", "declination"} {
		assert.Contains(t, string(svg), want)
	}
	svg, err = os.ReadFile(filepath.Join(folder, "rows.svg"))
	require.NoError(t, err)
	for _, want := range []string{`width="210mm"`, "skyline-4", "3412 ft, 5.79 mi"} {
		assert.Contains(t, string(svg), want)
	}
}

func TestViewshedDrawings(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	for name, arguments := range map[string][]string{
		"one.svg":   {between, "--radius", "5km"},
		"three.svg": {between, onTop, "36.30,-84.25", "--radius", "5mi", "--units", "us"},
		"one.png":   {onTop}, "one.pdf": {onTop, "--sector", "300,45"},
	} {
		path := filepath.Join(folder, name)
		a := run(t, append([]string{"viewshed", "-o", path}, arguments...)...)
		require.Equal(t, exitOK, a.code, a.err)
		assert.Contains(t, strings.Join(strings.Fields(a.out), ""), "written"+path)
	}
	read := func(name string) string {
		body, err := os.ReadFile(filepath.Join(folder, name))
		require.NoError(t, err)
		return string(body)
	}
	one, three := read("one.svg"), read("three.svg")
	for _, want := range []string{"Ground seen from 36.26000,-84.29500", "How far was looked: 5.00", "Carry map and compass", "eye 1.6 m", "SRTM", "Clear: 75 %", "error: 25 to", "under 25 %", "is clear, and", "By the data"} {
		assert.Contains(t, one, want)
	}
	for _, want := range []string{"Ground seen from 3 places", "Out of sight from all 3", "Clear from 2 of 3", "Clear from none, within", "under 25 %", "Clear from one or more: ", "miles", "2247 ft", "No elevation data", "heights as they are"} {
		assert.Contains(t, three, want)
	}
	assert.NotContains(t, three, "Clear: 75 %")
	assert.NotContains(t, three, "Seen from 2 of 3")
	config, err := png.DecodeConfig(strings.NewReader(read("one.png")))
	require.NoError(t, err)
	assert.Equal(t, 1654, config.Width, "A4 at 200 dots per inch")
}

func TestWhatASkylineRefuses(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	for name, row := range map[string]struct {
		arguments []string
		code      int
		says      string
	}{
		"two places":        {[]string{"skyline", onTop, between}, exitUsage, "one place"},
		"step of nothing":   {[]string{"skyline", onTop, "--step", "0"}, exitUsage, "--step"},
		"step that is left": {[]string{"skyline", onTop, "--step", "0.7"}, exitUsage, "whole number of times"},
		"rows":              {[]string{"skyline", onTop, "--rows", "9"}, exitUsage, "--rows"},
		"ending":            {[]string{"skyline", onTop, "-o", filepath.Join(folder, "s.gif")}, exitUsage, ".svg"},
		"no ending":         {[]string{"skyline", onTop, "-o", filepath.Join(folder, "skyline")}, exitUsage, ".svg"},
		"no folder":         {[]string{"skyline", onTop, "-o", filepath.Join(folder, "no", "s.csv")}, exitError, "no folder"},
		"off the data":      {[]string{"skyline", "40,-84"}, exitError, "outside the elevation data"},
		"eye":               {[]string{"skyline", onTop, "--eye", "-1"}, exitUsage, "--eye"},
		"radius":            {[]string{"skyline", onTop, "--radius", "-1"}, exitUsage, "--radius"},
	} {
		t.Run(name, func(t *testing.T) {
			a := run(t, row.arguments...)
			assert.Equal(t, row.code, a.code, a.err)
			assert.Contains(t, a.err, row.says)
			assert.Empty(t, a.out)
		})
	}
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Empty(t, left)
}

// TestSkylineAfterTheMagneticModel still has true bearings.
func TestSkylineAfterTheMagneticModel(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "s.svg")
	a := run(t, "skyline", onTop, "--date", "2035-01-01", "-o", path)
	require.Equal(t, exitOK, a.code, a.err)
	fitsATerminal(t, a.out)
	assert.Contains(t, a.out, "magnetic bearings not known")
	svg, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.NotContains(t, string(svg), ">magnetic<")
}
