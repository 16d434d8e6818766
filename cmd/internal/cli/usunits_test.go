package cli

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// usDrawings are commands whose words stand in files, asked beside the reports.
func usDrawings() map[string][]string {
	const (
		camp, bench  = "34.3297,-118.0548", "34.3008,-118.0514"
		hollow, away = "36.26,-84.295", "36.22,-84.24"
	)
	return map[string][]string{
		"leg plot":       {"leg", camp, bench, "--plot", "us-leg.svg"},
		"leg plot holed": {"leg", hollow, away, "--dem", "voids.tif", "--plot", "us-holed.svg"},
		"leg no walking": {"leg", "36.0985,-99.8", "36.0925,-99.86", "--dem", "cliff.tif", "--speed", "2.5mph"},
		"sight plot":     {"sight", camp, bench, "--plot", "us-sight.svg"},
		"route svg":      {"route", "trip.csv", "-o", "us-card.svg", "--gpx", "us-marks.gpx", "--start", "13:00-08:00"},
		"route text":     {"route", "trip.csv", "-o", "us-card.txt"},
		"sheet leg":      {"sheet", camp, bench, "-o", "us-sheet.svg"},
		"sheet hidden":   {"sheet", camp, "--hidden", "--relief", "0.5", "-o", "us-hidden.svg"},
		"sheet filled":   {"sheet", hollow, away, "--dem", "voids.tif", "--fill-voids", "-o", "us-filled.svg"},
		"drill svg":      {"drill", "--around", camp, "--radius", "3km", "--seed", "7", "--level", "leader", "--count", "12", "-o", "us-drill.svg"},
		"drill beginner": {"drill", "--around", camp, "--radius", "3km", "--seed", "3", "--level", "beginner", "-o", "us-drill.txt"},
		"skyline svg":    {"skyline", camp, "--radius", "6km", "-o", "us-skyline.svg"},
		"viewshed svg":   {"viewshed", camp, "--radius", "3km", "-o", "us-seen.svg"},
		"contours kml":   {"contours", "--around", camp, "--radius", "1500m", "-o", "us-lines.kml"},
		"contours svg":   {"contours", "--around", camp, "--radius", "1500m", "-o", "us-lines.svg"},
		"features gpx":   {"dem", "features", "--around", camp, "--radius", "1500m", "-o", "us-features.gpx"},
	}
}

var (
	// metricWords are a figure and a metric unit; and a distance in miles where
	// it is of feet.
	metricWords = regexp.MustCompile(`(?i)\d ?(m|km|metres?|kilomet(re|er)s?|km²|km/h|mm|cm|m²)\b|\b0\.0\d mi\b`)
	// metricAllowed are the exceptions, each with its reason.
	metricAllowed = []*regexp.Regexp{
		regexp.MustCompile(`[0-9.]+ mm\b`),                                // paper is measured with the millimetres of a compass
		regexp.MustCompile(`[0-9. ]+ km ([0-9.]+ )+miles`),                // a sheet has a scale bar of each
		regexp.MustCompile(`[0-9 ]+000 m [EN]\b`),                         // the numbers of the grid, which is one of metres
		regexp.MustCompile(`\$ crowline.*`),                               // the command as it was typed
		regexp.MustCompile(`9\.0 m for 90 % of heights: Rodriguez`),       // what a publication says
		regexp.MustCompile(`[0-9. ]+ cm to 1 km`),                         // the scale of a sheet in both systems
		regexp.MustCompile(`grid [^;]*, [0-9 ]+ m apart`),                 // the grid of the map is one of metres
		regexp.MustCompile(`UTM zone [0-9]+[NS] [0-9 ]+ m E [0-9 ]+ m N`), // and so are its coordinates
	}
	svgTags = regexp.MustCompile(`(?s)<style.*?</style>|<[^>]*>`)
)

// TestUSUnitsThroughout: with --units us no metric unit is left in what any
// command of the reports says, nor in the words of what it draws and writes,
// and no "0.01 mi" where others are told in feet.
func TestUSUnitsThroughout(t *testing.T) {
	t.Setenv(demVariable, "")
	t.Setenv(configVariable, "")
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	folder := t.TempDir()
	t.Chdir(folder)
	reportGrounds(t)
	questions := usDrawings()
	for name, arguments := range reportQuestions() {
		if !strings.HasPrefix(name, "error") && name != "dem info file" {
			questions[name] = arguments
		}
	}
	asked := 0
	for name, arguments := range questions {
		if !slices.Contains(arguments, "--units") {
			arguments = append(slices.Clone(arguments), "--units", "us")
		}
		a := run(t, arguments...)
		require.NotEqual(t, exitUsage, a.code, "%s: %s", name, a.err)
		noMetric(t, name, a.out+a.err)
		asked++
	}
	for _, pattern := range []string{"*.svg", "*.gpx", "*.kml", "*.txt"} {
		files, err := filepath.Glob(pattern)
		require.NoError(t, err)
		require.NotEmpty(t, files, pattern)
		for _, file := range files {
			text, err := os.ReadFile(file)
			require.NoError(t, err)
			noMetric(t, file, svgTags.ReplaceAllString(string(text), " "))
		}
	}
	assert.Greater(t, asked, 40)
}

// noMetric finds metric units in words that were asked in the others.
func noMetric(t *testing.T, name, text string) {
	t.Helper()
	words := strings.Join(strings.Fields(text), " ")
	if first, rest, found := strings.Cut(text, "\n"); found && strings.HasPrefix(first, "$ ") {
		words = strings.Join(strings.Fields(rest), " ")
	}
	for _, allowed := range metricAllowed {
		words = allowed.ReplaceAllString(words, "")
	}
	for _, at := range metricWords.FindAllStringIndex(words, -1) {
		assert.Fail(t, "metric", "%s: ...%s...", name, words[max(0, at[0]-50):min(len(words), at[1]+30)])
	}
}

// TestReasonsAndWarningsFollowTheUnits: with --units us no metre is left in
// the landforms' reasons, nor in what a fix finds doubtful.
func TestReasonsAndWarningsFollowTheUnits(t *testing.T) {
	t.Parallel()
	hidden := []string{"fix", "--bearing", "36.36000,-84.26000=30", "--bearing", "36.26500,-84.30333=307", "--bearing", "36.19833,-84.23083=140"}
	for _, c := range []struct {
		arguments []string
		from, to  string // the part of the answer
	}{
		{[]string{"dem", "features", "--around", legFrom}, "Landforms", "\nData"},
		{hidden, "Doubtful", "\nBearings"},
	} {
		for units, want := range map[string]string{"us": `\d ft\b`, "metric": `\d m\b`} {
			a := run(t, append(c.arguments, "--units", units)...)
			require.Equal(t, exitOK, a.code, a.err)
			_, part, found := strings.Cut(a.out, c.from)
			require.True(t, found, a.out)
			part, _, found = strings.Cut(part, c.to)
			require.True(t, found)
			part = strings.Join(strings.Fields(part), " ")
			assert.Regexp(t, want, part)
			if units == "us" {
				assert.NotRegexp(t, `\d k?m\b`, part)
			} else {
				assert.NotRegexp(t, `\d (ft|mi)\b`, part)
			}
		}
	}
}
