package cli

import (
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/testdata/cumberland"
)

// reportQuestions are the commands whose text is held in testdata/reports, one
// file for each, over files that reportGrounds writes.
func reportQuestions() map[string][]string {
	const (
		camp, bench, knob = "34.3297,-118.0548", "34.3008,-118.0514", "34.3150,-118.0650" // on the demo's ground
		hollow, away      = "36.26,-84.295", "36.22,-84.24"                               // in the Cumberland Mountains
	)
	c := func(arguments ...string) []string { return append(arguments, "--dem", cumberland.Name) }
	return map[string][]string{
		"leg":                   {"leg", camp, bench},
		"leg full":              {"leg", camp, bench, "--full"},
		"leg chain":             {"leg", camp, bench, "--chain"},
		"leg us":                {"leg", camp, bench, "--units", "us"},
		"leg start":             {"leg", camp, bench, "--date", "2026-12-05", "--start", "14:00-08:00", "--speed", "4km/h"},
		"leg start us":          {"leg", camp, bench, "--date", "2026-12-05", "--start", "16:30Z", "--units", "us", "--full"},
		"route start":           {"route", "trip.csv", "--date", "2026-12-05", "--start", "13:00-08:00", "--units", "us", "--speed", "2.5mph"},
		"leg named":             c("leg", "Camp", "Tower", "--places", "places.csv"),
		"leg voids":             {"leg", hollow, away, "--dem", "voids.tif"},
		"leg filled":            {"leg", hollow, away, "--dem", "voids.tif", "--fill-voids"},
		"leg cover":             c("leg", hollow, away, "--cover", "trees.tif", "--clearing", "200m"),
		"leg flat":              {"leg", "36.1,-99.9", "36.08,-99.88", "--dem", "flat.tif"},
		"leg too steep to walk": {"leg", "36.0985,-99.8", "36.0925,-99.86", "--dem", "cliff.tif", "--full"},
		"sight visible":         c("sight", hollow, "36.22000,-84.29750"),
		"sight doubtful":        c("sight", hollow, "36.27083,-84.29750"),
		"sight hidden":          c("sight", hollow, away),
		"sight unknown":         {"sight", hollow, away, "--dem", "voids.tif"},
		"sight cover":           c("sight", hollow, "36.27083,-84.29750", "--cover", "trees.tif"),
		"sight bearing":         c("sight", hollow, "--bearing", "138", "--magnetic", "--radius", "6km"),
		"sights":                c("sights", "pairs.csv"),
		"sights file":           c("sights", "pairs.csv", "--places", "places.csv", "--target-height", "20m", "-o", "seen.csv"),
		"landmarks":             {"landmarks", camp, "--radius", "6km"},
		"landmarks with hidden": c("landmarks", hollow, "--radius", "6km", "--with-hidden"),
		"landmarks bearing":     {"landmarks", camp, "--radius", "6km", "--bearing", "174"},
		"landmarks for fix":     {"landmarks", camp, "--radius", "6km", "--for-fix"},
		"viewshed":              c("viewshed", hollow, "--radius", "3km", "-o", "seen.tif", "--needed"),
		"viewshed two":          {"viewshed", camp, bench, "--radius", "3km"},
		"vantage":               {"vantage", "--around", camp, "--radius", "2km", "--most", "2"},
		"vantage named":         c("vantage", "--around", "Camp", "--places", "places.csv", "--radius", "1km"),
		"vantage see":           {"vantage", "--around", camp, "--radius", "2km", "--see", bench, "--see", knob, "--most", "2"},
		"vantage watch":         {"vantage", "--around", knob, "--radius", "2km", "--watch", camp, "--watch-to", bench, "--most", "2", "-o", "watch.pdf"},
		"vantage voids":         {"vantage", "--around", hollow, "--radius", "1km", "--see", away, "--dem", "voids.tif"},
		"error vantage cover":   c("vantage", "--around", hollow, "--cover", "trees.tif"),
		"walk":                  {"walk", "--around", camp, "--radius", "2km", "-o", "walk.pdf"},
		"error walk":            c("walk", "--around", hollow, "--radius", "300m"),
		"skyline":               {"skyline", camp, "--radius", "6km"},
		"fix":                   c("fix", "--bearing", "36.27083,-84.29750=349", "--bearing", "36.26500,-84.30333=307", "--bearing", "36.25058,-84.27389=118"),
		"fix disagrees":         c("fix", "--bearing", "36.27083,-84.29750=349", "--bearing", "36.26500,-84.30333=307", "--bearing", "36.25058,-84.27389=100"),
		"fix near parallel":     c("fix", "--bearing", "36.27083,-84.29750=349", "--bearing", "36.30000,-84.30500=350"),
		"route":                 {"route", "trip.csv"},
		"route card":            {"route", "trip.csv", "-o", "card.pdf", "--gpx", "marks.gpx"},
		"drill":                 {"drill", "--around", camp, "--radius", "3km", "--seed", "7", "-o", "drill.txt"},
		"sheet":                 {"sheet", camp, bench, "-o", "leg.pdf"},
		"contours":              {"contours", "--around", camp, "--radius", "1500m", "-o", "lines.geojson"},
		"dem info":              {"dem", "info"},
		"dem info file":         {"dem", "info", "voids.tif"},
		"dem features":          {"dem", "features", "--around", camp, "--radius", "1500m"},
		"declination":           {"declination", camp},
		"demo":                  {"demo"},
		"error one place":       {"leg", camp},
		"error no place":        {"leg", camp, "the knob"},
		"error off the demo":    {"leg", "46.02,7.75", "45.98,7.66"},
		"error off the file":    c("leg", hollow, "36.5,-84.2"),
		"error no file":         {"leg", camp, bench, "--dem", "none.tif"},
		"error no flag":         {"leg", camp, bench, "--fast"},
		"error no ending":       {"sheet", camp, bench, "-o", "leg"},
		"error name not there":  c("leg", "Camp", "Towr", "--places", "places.csv"),
		"error same place":      {"leg", camp, camp},
		"error no unit":         {"leg", camp, bench, "--eye", "tall"},
	}
}

// reportGrounds writes the grounds and files of reportQuestions into the
// working folder, so that reports name them as a user's own.
func reportGrounds(t *testing.T) {
	t.Helper()
	goldenGrounds(t, ".")
	write := func(name, text string) {
		require.NoError(t, os.WriteFile(name, []byte(text), 0o600))
	}
	write(cumberland.Name, string(cumberland.Bytes()))
	write("places.csv", "name,lat,lon\nCamp,36.26,-84.295\nTower,36.25058,-84.27389\nKnob,36.27083,-84.2975\n")
	write("trip.csv", "name,lat,lon\nCamp,34.3297,-118.0548\nTurn,34.3150,-118.0650\nBench,34.3008,-118.0514\n")
	write("pairs.csv", "id,from,to\n1,\"36.26,-84.295\",\"36.27083,-84.2975\"\n2,Camp,Tower\n3,\"36.26,-84.295\",\"36.22,-84.2975\"\n4,\"36.26,-84.295\"\n5,\"36.26,-84.295\",\"36.22,-84.24\"\n")
	ground := func(name string, height func(north, east float64) float64) {
		const posts, step = 400, 1.0 / 1200 // degrees: 93 m to the north
		f := dem.Frame{Columns: posts, Rows: posts, X0: -100, Y0: 36.2, DX: step, DY: -step, CRS: geodesy.WGS84}
		heights := make([]float32, posts*posts)
		for i := range heights {
			heights[i] = float32(height(-float64(i/posts)*step*111e3, float64(i%posts)*step*90e3))
		}
		require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), name, &f, []gdalio.Band{{Float32: heights}}))
	}
	ground("flat.tif", func(north, east float64) float64 { return 300 + 0.3*math.Sin(east/700)*math.Cos(north/900) })
	ground("cliff.tif", func(_, east float64) float64 { return 500 + 400/(1+math.Exp(-(east-15000)/60)) })
}

// TestReports: the text of the commands is what was read aloud and found good
// in testdata/reports. After a change of wording, run with -update and read
// the difference.
func TestReports(t *testing.T) {
	folder, err := filepath.Abs(filepath.Join("testdata", "reports"))
	require.NoError(t, err)
	t.Setenv(demVariable, "")
	t.Setenv(configVariable, "")
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	t.Chdir(t.TempDir())
	reportGrounds(t)
	questions := reportQuestions()
	for name, arguments := range questions {
		t.Run(name, func(t *testing.T) {
			is := reportOf(t, arguments)
			path := filepath.Join(folder, strings.ReplaceAll(name, " ", "-")+".txt")
			if *update {
				require.NoError(t, os.MkdirAll(folder, 0o755))
				require.NoError(t, os.WriteFile(path, []byte(is), 0o600))
				return
			}
			was, err := os.ReadFile(path)
			require.NoError(t, err)
			assert.Equal(t, string(was), is, "run with -update, and read what changed")
		})
	}
	stored, err := filepath.Glob(filepath.Join(folder, "*.txt"))
	require.NoError(t, err)
	assert.Len(t, stored, len(questions), "a report of a question that is no longer asked")
}

// reportOf is a command as typed, and all that it says: its answer, the text
// it writes to a file, and its errors with the exit code.
func reportOf(t *testing.T, arguments []string) string {
	t.Helper()
	a := run(t, arguments...)
	var b strings.Builder
	b.WriteString("$ crowline")
	for _, word := range arguments {
		if strings.Contains(word, " ") {
			word = `"` + word + `"`
		}
		b.WriteString(" " + word)
	}
	b.WriteString("\n" + a.out)
	if a.err != "" {
		b.WriteString("\nstandard error:\n" + a.err)
	}
	if a.code != exitOK {
		b.WriteString("exit code " + string(rune('0'+a.code)) + "\n")
	}
	if i := slices.Index(arguments, "-o"); i >= 0 && strings.HasSuffix(arguments[i+1], ".txt") {
		text, err := os.ReadFile(arguments[i+1])
		if !errors.Is(err, fs.ErrNotExist) {
			require.NoError(t, err)
			b.WriteString("\n" + arguments[i+1] + ":\n" + string(text))
		}
	}
	return b.String()
}
