package cli

import (
	"bytes"
	"encoding/json"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// runWith is run with something on standard input.
func runWith(t *testing.T, in string, arguments ...string) outcome {
	t.Helper()
	var out, errs bytes.Buffer
	code := Main(t.Context(), arguments, Streams{In: strings.NewReader(in), Out: &out, Err: &errs, Now: func() time.Time {
		return time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC)
	}})
	return outcome{code, out.String(), errs.String()}
}

// everyCommand calls visit with every command that the help lists.
func everyCommand(visit func(c *cobra.Command)) {
	root := newRoot(Streams{})
	root.InitDefaultHelpCmd()
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		visit(c)
		for _, sub := range c.Commands() {
			walk(sub)
		}
	}
	walk(root)
}

// TestDidYouMean: a slip of the finger gets the word that was meant; a word that
// is near none gets none. An unknown command is an error with --help too.
func TestDidYouMean(t *testing.T) {
	t.Parallel()
	csv := filepath.Join(t.TempDir(), "p.csv")
	require.NoError(t, os.WriteFile(csv, []byte("name,lat,lon\nBig Knob,36.3,-84.2\n"), 0o600))
	for line, says := range map[string]string{
		"lge":                            `there is no command "lge": did you mean crowline leg? crowline --help lists them`,
		"lge --help":                     `there is no command "lge": did you mean crowline leg?`,
		"lge -h":                         `did you mean crowline leg?`,
		"--help lge":                     `did you mean crowline leg?`,
		"-q lge":                         `did you mean crowline leg?`,
		"LEG":                            `did you mean crowline leg?`,
		"land":                           `did you mean crowline landmarks?`,
		"dem inof --help":                `there is no command "inof": did you mean crowline dem info? crowline dem --help lists them`,
		"dem wander --help":              `there is no command "wander"; crowline dem --help lists them`,
		"help lge":                       `did you mean crowline leg?`,
		"help lge --help":                `did you mean crowline leg?`,
		"completion bsah":                `did you mean crowline completion bash?`,
		"wander --help":                  `there is no command "wander"; crowline --help lists them`,
		"leg A B --plots x":              `there is no flag --plots: did you mean --plot? crowline leg --help lists them`,
		"leg A B --max_memory 1GB":       `there is no flag --max_memory: did you mean --max-memory?`,
		"leg A B -json":                  `did you mean --json?`,
		"leg A B --Units us":             `did you mean --units?`,
		"leg A B --qiuet":                `did you mean --quiet?`,
		"leg A B --zzz":                  `there is no flag --zzz; crowline leg --help lists them`,
		"leg A Knob --places " + csv:     `there is no place "Knob" in ` + csv + ": did you mean \"Big Knob\"? it has Big Knob",
		"leg A Big_knop --places " + csv: `did you mean "Big Knob"? it has Big Knob`,
	} {
		a := run(t, strings.Fields(strings.ReplaceAll(strings.ReplaceAll(line, " A", " "+legFrom), " B", " "+legTo))...)
		if strings.Contains(line, "Big_knop") {
			a = run(t, "leg", legFrom, "Big knop", "--places", csv)
		}
		assert.Equal(t, exitUsage, a.code, line)
		assert.Empty(t, a.out, line)
		assert.Equal(t, 1, strings.Count(a.err, "\n"), a.err)
		assert.Contains(t, a.err, says, line)
	}
}

// TestSlips: known distances, and what holds of any: none to itself, the same both
// ways, and no more than the longer word has letters.
func TestSlips(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"", "leg", 3}, {"leg", "lge", 1}, {"leg", "legs", 1}, {"sight", "sigth", 1}, {"kitten", "sitting", 3}, {"höhe", "hohe", 1}} {
		assert.Equal(t, row.want, slips(row.a, row.b), "%s %s", row.a, row.b)
	}
	random := rand.New(rand.NewPCG(7, 17))
	word := func() string {
		w := make([]byte, random.IntN(9))
		for i := range w {
			w[i] = 'a' + byte(random.IntN(4))
		}
		return string(w)
	}
	for range 2000 {
		a, b := word(), word()
		d := slips(a, b)
		assert.Equal(t, d, slips(b, a))
		assert.Equal(t, a == b, d == 0)
		assert.LessOrEqual(t, d, max(len(a), len(b)))
		assert.GreaterOrEqual(t, d, max(len(a), len(b))-min(len(a), len(b)))
	}
}

// TestStandardOutput: -o - writes the command's text format there, -o -.kml
// another, and the answer goes to standard error.
func TestStandardOutput(t *testing.T) {
	t.Parallel()
	near := []string{"contours", "--around", legFrom, "--radius", "300m", "-o"}
	a := run(t, append(near, "-")...)
	require.Equal(t, exitOK, a.code, a.err)
	var geo struct{ Type string }
	require.NoError(t, json.Unmarshal([]byte(a.out), &geo))
	assert.Equal(t, "FeatureCollection", geo.Type)
	assert.Contains(t, a.err, "written     standard output")
	assert.NotContains(t, a.err, os.TempDir())
	for ending, begins := range map[string]string{".kml": "<?xml", ".svg": "<svg", ".gpx": "<?xml", ".dxf": "  0\nSECTION"} {
		a := run(t, append(near, "-"+ending, "--quiet")...)
		require.Equal(t, exitOK, a.code, a.err)
		assert.True(t, strings.HasPrefix(a.out, begins), "%s: %.40q", ending, a.out)
		assert.Empty(t, a.err)
	}
	for _, arguments := range [][]string{
		{"leg", legFrom, legTo, "--marks", "0", "--plot", "-"}, {"skyline", legFrom, "--radius", "2km", "-o", "-"},
		{"viewshed", legFrom, "--radius", "1km", "-o", "-"}, {"dem", "features", "--around", legFrom, "--radius", "1km", "-o", "-"},
		{"sheet", legFrom, "-o", "-"},
	} {
		a := run(t, arguments...)
		require.Equal(t, exitOK, a.code, "%v: %s", arguments, a.err)
		assert.True(t, strings.HasPrefix(a.out, "<svg") || strings.HasPrefix(a.out, "{") || strings.HasPrefix(a.out, "true_deg"), "%v: %.60q", arguments, a.out)
		assert.NotContains(t, a.err, os.TempDir())
	}
	for line, says := range map[string]string{
		"contours -o - --json": "-o -: --json has standard output already; name a file, or leave out --json",
		"contours -o -.gpkg":   "-o -.gpkg: .gpkg is no text, and would spoil a terminal; name a file",
		"sheet A -o -.pdf":     ".pdf is no text",
		"sheet A -o -.png":     ".png is no text",
		"contours -o -.csv":    "-o -.csv",
	} {
		a := run(t, strings.Fields(strings.ReplaceAll(line, " A", " "+legFrom))...)
		assert.Equal(t, exitUsage, a.code, "%s: %s", line, a.err)
		assert.Contains(t, a.err, says, line)
		assert.Empty(t, a.out, line)
		assert.NotContains(t, a.err, os.TempDir())
	}
	trip := filepath.Join(t.TempDir(), "trip.csv")
	require.NoError(t, os.WriteFile(trip, []byte("name,lat,lon\nA,36.26,-84.295\nB,36.25,-84.29\n"), 0o600))
	a = run(t, "route", trip, "-o", "-", "--gpx", "-")
	assert.Equal(t, exitUsage, a.code)
	assert.Contains(t, a.err, "standard output has")
	a = run(t, "sheet", legFrom, legTo, "--scale", "2500", "-o", "-")
	assert.Equal(t, exitUsage, a.code)
	assert.Contains(t, a.err, "files in this format, and standard output holds one; name a file")
	assert.Empty(t, a.out)
}

// TestEveryOutputHasATextFormat, so that - can stand for any, and no folder made
// for it stays.
func TestEveryOutputHasATextFormat(t *testing.T) {
	t.Parallel()
	count := 0
	everyCommand(func(c *cobra.Command) {
		c.Flags().VisitAll(func(f *pflag.Flag) {
			if roleOf(f) == filesWritten {
				assert.Contains(t, textFormats, formatOf[c.Name()+" --"+f.Name], "%s --%s", c.CommandPath(), f.Name)
				count++
			}
		})
	})
	assert.Equal(t, len(formatOf), count)
}

// TestQuiet: where a file is written nothing else is; an answer that goes nowhere
// else is still written, and so are errors.
func TestQuiet(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "lines.gpx")
	a := run(t, "contours", "--around", legFrom, "--radius", "300m", "-o", file, "--quiet")
	require.Equal(t, exitOK, a.code, a.err)
	assert.Empty(t, a.out+a.err)
	assert.FileExists(t, file)
	a = run(t, "-q", "declination", legFrom)
	assert.NotEmpty(t, a.out)
	a = run(t, "-q", "declination", "nowhere")
	assert.NotEmpty(t, a.err)
	a = run(t, "contours", "--around", legFrom, "--radius", "300m", "-o", file, "--quiet", "--json")
	assert.True(t, json.Valid([]byte(a.out)))
	var out, errs bytes.Buffer
	code := Main(t.Context(), []string{"leg", legFrom, legTo, "--quiet"}, Streams{Out: &out, Err: &errs, ErrIsTerminal: true, Now: time.Now})
	require.Equal(t, exitOK, code)
	assert.Empty(t, errs.String(), "progress")
}

// TestErrorsAsJSON: with --json on standard error, one line, whatever is wrong.
func TestErrorsAsJSON(t *testing.T) {
	t.Parallel()
	for line, want := range map[string]struct {
		kind string
		code int
	}{
		"leg A nowhere --json":          {"usage", exitUsage},
		"lge --json":                    {"usage", exitUsage},
		"leg A B --plots x --json":      {"usage", exitUsage},
		"leg 40,-84 B --json":           {"failed", exitError},
		"dem info none.tif --json=true": {"failed", exitError},
	} {
		a := run(t, strings.Fields(strings.ReplaceAll(strings.ReplaceAll(line, " A", " "+legFrom), " B", " "+legTo))...)
		assert.Equal(t, want.code, a.code, line)
		assert.Empty(t, a.out, line)
		assert.Equal(t, 1, strings.Count(a.err, "\n"), a.err)
		var e struct {
			Error struct {
				Message, Kind string
				Code          int `json:"exit_code"`
			}
		}
		d := json.NewDecoder(strings.NewReader(a.err))
		d.DisallowUnknownFields()
		require.NoError(t, d.Decode(&e), a.err)
		assert.Equal(t, want.kind, e.Error.Kind, line)
		assert.Equal(t, want.code, e.Error.Code, line)
		assert.NotEmpty(t, e.Error.Message, line)
		assert.NotContains(t, e.Error.Message, "crowline: ")
	}
	for line, want := range map[string]bool{"leg --json": true, "leg -- --json": false, "leg --json --json=false": false, "": false} {
		assert.Equal(t, want, asksJSON(strings.Fields(line)), line)
	}
}

// TestPlacesFromStandardInput in any format, told by its beginning.
func TestPlacesFromStandardInput(t *testing.T) {
	t.Parallel()
	for _, in := range []string{
		"name,lat,lon\nCamp,36.26,-84.295\n", "name;lat;lon\nCamp;36,26;-84,295\n",
		`{"type":"Feature","properties":{"name":"Camp"},"geometry":{"type":"Point","coordinates":[-84.295,36.26]}}`,
		`<?xml version="1.0"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="36.26" lon="-84.295"><name>Camp</name></wpt></gpx>`,
		`<kml xmlns="http://www.opengis.net/kml/2.2"><Placemark><name>Camp</name><Point><coordinates>-84.295,36.26</coordinates></Point></Placemark></kml>`,
	} {
		a := runWith(t, in, "sight", "Camp", legTo, "--places", "-", "--json")
		require.Equal(t, exitOK, a.code, "%s: %s", in, a.err)
		assert.Contains(t, a.out, `"Camp"`)
	}
	for in, says := range map[string]string{"": "standard input is empty; it holds no place", "lat,lon\n46x,7\n": `standard input: line 2: lat "46x"`, "hello": "standard input: "} {
		a := runWith(t, in, "sight", "Camp", legTo, "--places", "-")
		assert.Equal(t, exitError, a.code)
		assert.Contains(t, a.err, says)
		assert.Equal(t, 1, strings.Count(a.err, "\n"), a.err)
	}
	a := runWith(t, "easting,northing,name\n743000,4016100,Camp\n", "sight", "Camp", legTo, "--places", "-", "--places-crs", "EPSG:32616", "--json")
	require.Equal(t, exitOK, a.code, a.err)
	a = runWith(t, "easting,northing,name\n743000,4016100,Camp\n", "sight", "Camp", legTo, "--places", "-")
	assert.Contains(t, a.err, "give that with --places-crs, as EPSG:32611")
	a = runWith(t, "", "leg", legFrom, legTo, "--places-crs", "EPSG:32616")
	assert.Contains(t, a.err, "--places-crs does nothing here: it goes with --places")
}

// completions are what a shell is offered after arguments, the last of them begun.
func completions(t *testing.T, arguments ...string) []string {
	t.Helper()
	a := run(t, append([]string{"__complete"}, arguments...)...)
	require.Equal(t, exitOK, a.code, a.err)
	var out []string
	for _, line := range strings.Split(strings.TrimSpace(a.out), "\n") {
		word, _, _ := strings.Cut(line, "\t")
		out = append(out, word)
	}
	return out
}

// TestCompletion: commands, flags, values, files and names of places.
func TestCompletion(t *testing.T) {
	csv := filepath.Join(t.TempDir(), "p.csv")
	require.NoError(t, os.WriteFile(csv, []byte("name,lat,lon\nBig Knob,36.3,-84.2\nCamp,36.26,-84.295\nchurch,36.27,-84.295\n"), 0o600))
	const files, noFiles, ordered = ":0", ":4", ":36"
	for _, row := range []struct {
		arguments []string
		want      []string
	}{
		{[]string{"la"}, []string{"landmarks", noFiles}},
		{[]string{"dem", "i"}, []string{"index", "info", noFiles}},
		{[]string{"leg", "--uni"}, []string{"--units", noFiles}},
		{[]string{"leg", "--units", ""}, []string{"metric", "us", ordered}},
		{[]string{"sheet", "--paper", "a"}, []string{"a4", "a3", "a4-landscape", "a3-landscape", ordered}},
		{[]string{"drill", "--level", ""}, []string{"beginner", "intermediate", "leader", ordered}},
		{[]string{"drill", "--kinds", "sight,cl"}, []string{"sight,climb", noFiles}},
		{[]string{"dem", "features", "--kinds", "hill,s"}, []string{"hill,saddle", "hill,spur", noFiles}},
		{[]string{"dem", "get", "--source", "cop"}, []string{"copernicus-glo-30", "copernicus-glo-90", noFiles}},
		{[]string{"leg", "--dem", ""}, []string{files}},
		{[]string{"sheet", "-o", ""}, []string{files}},
		{[]string{"dem", "info", ""}, []string{files}},
		{[]string{"route", ""}, []string{files}},
		{[]string{"leg", "--places", ""}, append(append([]string{}, placeFileEndings...), ":8")},
		{[]string{"leg", "--eye", ""}, []string{ordered}},
		{[]string{"leg", ""}, []string{noFiles}},
		{[]string{"leg", "--places", csv, ""}, []string{"Big Knob", "Camp", "church", noFiles}},
		{[]string{"leg", "--places=" + csv, "--full", "c"}, []string{"Camp", "church", noFiles}},
		{[]string{"leg", "--places", csv, "Camp", "B"}, []string{"Big Knob", noFiles}},
		{[]string{"leg", "--places", csv, "Camp", "Camp", ""}, []string{noFiles}},
		{[]string{"contours", "--places", csv, "--around", "b"}, []string{"Big Knob", noFiles}},
		{[]string{"fix", "--places", csv, "--bearing", "b"}, []string{"Big Knob=", ":6"}},
		{[]string{"leg", "--places", "-", ""}, []string{noFiles}},
		{[]string{"leg", "--places", csv + "x", ""}, []string{noFiles}},
	} {
		assert.Equal(t, row.want, completions(t, row.arguments...), "%v", row.arguments)
	}
	own := filepath.Join(t.TempDir(), "config.json")
	require.NoError(t, os.WriteFile(own, []byte(`{"sources":[{"name":"mine","title":"Ours","url":"https://example.org/{NS}{lat}{EW}{lon}.tif","licence":"open","attribution":"us"}]}`), 0o600))
	t.Setenv(configVariable, own)
	assert.Contains(t, completions(t, "dem", "get", "--source", ""), "mine")
}
