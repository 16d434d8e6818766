package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/report"
	"crowline/dem/geodesy"
	"crowline/testdata/cumberland"
)

// outcome is what one run of the command line said.
type outcome struct {
	code     int
	out, err string
}

func run(t *testing.T, arguments ...string) outcome {
	t.Helper()
	return runContext(context.Background(), t, arguments...)
}

func runContext(ctx context.Context, t *testing.T, arguments ...string) outcome {
	t.Helper()
	var out, errs bytes.Buffer
	code := Main(ctx, arguments, Streams{Out: &out, Err: &errs, Now: func() time.Time {
		return time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC)
	}})
	return outcome{code, out.String(), errs.String()}
}

// A leg in the Cumberland Mountains, from one hollow over a ridge to another,
// and one near the data's west edge whose end a ridge hides.
const (
	legFrom   = "36.26000,-84.29500"
	legTo     = "36.22000,-84.24000"
	ridgeFrom = "36.32640,-84.39600"
	ridgeTo   = "36.37180,-84.38220"
)

// parsed is a place from its writing.
func parsed(t *testing.T, text string) geodesy.LatLon {
	t.Helper()
	p, err := geodesy.ParsePlace(text)
	require.NoError(t, err)
	return p
}

func TestLegJSONHasItsKeys(t *testing.T) {
	t.Parallel()
	a := run(t, "leg", legFrom, legTo, "--json")
	require.Equal(t, exitOK, a.code, a.err)
	var v map[string]any
	require.NoError(t, json.Unmarshal([]byte(a.out), &v))
	for key, inner := range map[string][]string{
		"from": {"lat", "lon", "elevation_m", "mgrs"}, "to": {"lat", "lon", "elevation_m", "mgrs"}, "distance_m": nil,
		"bearing":     {"true_deg", "grid_deg", "magnetic_deg", "back_true_deg", "back_magnetic_deg"},
		"declination": {"deg", "sigma_deg", "model", "date"},
		"climb":       {"ascent_m", "descent_m", "steepest_deg", "steepest_at_m", "contour_interval_m", "contours_up", "contours_down"},
		"time":        {"naismith_langmuir_s", "tobler_s", "din33466_s"},
		"sight":       {"verdict", "clearance_m", "blocked_at_m", "extra_height_m"}, "elevation_data": nil, "cautions": nil,
	} {
		require.Contains(t, v, key)
		for _, k := range inner {
			assert.Contains(t, v[key], k, "%s", key)
		}
	}
	sight := v["sight"].(map[string]any)
	assert.Equal(t, "hidden", sight["verdict"])
	// Geodesic by GeographicLib: GeodSolve -i "36.26 -84.295 36.22 -84.24"
	assert.InDelta(t, 6644.03, v["distance_m"].(float64), 0.01)
}

// TestTextFitsATerminal: no line of any answer is wider than 80 columns.
func TestTextFitsATerminal(t *testing.T) {
	t.Parallel()
	for _, arguments := range [][]string{
		{"leg", legFrom, legTo}, {"leg", legFrom, legTo, "--units", "us"}, {"sight", legFrom, legTo},
		{"dem", "info"}, {"declination", legFrom}, {"demo"}, {"--help"},
		{"landmarks", legFrom, "--with-hidden"}, {"landmarks", legFrom, "--bearing", "138", "--magnetic"}, {"sight", legFrom, "--bearing", "200"},
		{"viewshed", legFrom, "--radius", "3km"}, {"viewshed", legFrom, legTo}, {"leg", legFrom, legTo, "--chain"}, {"leg", legFrom, "36.22,-84.5"}, {"leg", "--help"}, {"dem", "info", "--help"},
	} {
		checkWidth(t, arguments...)
	}
}

// TestWhatCannotBeAnswered: one clear line, the right exit code, nothing on
// standard output, no stack and no library's chatter.
func TestWhatCannotBeAnswered(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(folder, name)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		return path
	}
	empty, words := write("empty.tif", ""), write("words.tif", "not a raster at all\n")
	short := write("short.tif", string(cumberland.Bytes()[:20000]))
	for _, row := range []struct {
		name      string
		arguments []string
		code      int
		says      string
	}{
		{"no such command", []string{"wander"}, exitUsage, "wander"},
		{"no such flag", []string{"leg", legFrom, legTo, "--fast"}, exitUsage, "--fast"},
		{"one place", []string{"leg", legFrom}, exitUsage, "two places"},
		{"nonsense place", []string{"leg", legFrom, "over there"}, exitUsage, "over there"},
		{"latitude out of range", []string{"leg", legFrom, "91,10"}, exitUsage, "91"},
		{"the same place twice", []string{"leg", legFrom, legFrom}, exitError, "same place"},
		{"antipodes", []string{"leg", legFrom, "36.26S,95.705E"}, exitError, "at most"},
		{"start off the data", []string{"leg", "40,-84.2", legTo}, exitError, "covers 36.16000,-84.41333"},
		{"missing file", []string{"leg", legFrom, legTo, "--dem", filepath.Join(folder, "none.tif")}, exitError, "none.tif"},
		{"empty file", []string{"leg", legFrom, legTo, "--dem", empty}, exitError, "empty.tif"},
		{"not a raster", []string{"leg", legFrom, legTo, "--dem", words}, exitError, "words.tif"},
		{"cut short", []string{"leg", legFrom, legTo, "--dem", short}, exitError, "short.tif"},
		{"not a raster, info", []string{"dem", "info", words}, exitError, "words.tif"},
		{"missing places", []string{"leg", "A", "B", "--places", filepath.Join(folder, "none.gpx")}, exitError, "none.gpx"},
		{"bad units", []string{"leg", legFrom, legTo, "--units", "imperial"}, exitUsage, "metric or us"},
		{"bad eye", []string{"leg", legFrom, legTo, "--eye", "tall"}, exitUsage, "tall"},
		{"eye under ground", []string{"leg", legFrom, legTo, "--eye", "-2"}, exitUsage, "--eye"},
		{"bad refraction", []string{"leg", legFrom, legTo, "--refraction", "130"}, exitUsage, "130"},
		{"bad date", []string{"leg", legFrom, legTo, "--date", "tomorrow"}, exitUsage, "YYYY-MM-DD"},
		{"bad interval", []string{"leg", legFrom, legTo, "--interval", "0"}, exitUsage, "interval"},
		{"bad pace", []string{"leg", legFrom, legTo, "--pace", "-3"}, exitUsage, "--pace"},
		{"date after the model", []string{"declination", legFrom, "--date", "2031-01-01"}, exitError, "2030"},
		{"unknown extension", []string{"leg", legFrom, legTo, "--plot", filepath.Join(folder, "p.gif")}, exitUsage, ".svg"},
		{"no folder for the plot", []string{"leg", legFrom, legTo, "--plot", filepath.Join(folder, "no", "p.svg")}, exitError, "no folder"},
		{"bad height unit", []string{"leg", legFrom, legTo, "--height-unit", "cubit"}, exitUsage, "cubit"},
	} {
		t.Run(row.name, func(t *testing.T) {
			a := run(t, row.arguments...)
			assert.Equal(t, row.code, a.code, a.err)
			assert.Contains(t, a.err, row.says)
			assert.Empty(t, a.out)
			lines := strings.Split(strings.TrimSpace(a.err), "\n")
			assert.Len(t, lines, 1, a.err)
			assert.True(t, strings.HasPrefix(a.err, "crowline: "), a.err)
			assert.NotContains(t, a.err, "goroutine")
			assert.NotContains(t, a.err, "ERROR ")
		})
	}
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Len(t, left, 3, "nothing half-written")
}

func TestAnInterruptedRunSaysSo(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	a := runContext(ctx, t, "leg", legFrom, legTo)
	assert.Equal(t, exitCancel, a.code)
	assert.Empty(t, a.out)
}

// TestALegThatLeavesTheData answers for the part on it and says where it
// ends.
func TestALegThatLeavesTheData(t *testing.T) {
	t.Parallel()
	a := run(t, "leg", "--full", legFrom, "36.22,-84.5")
	require.Equal(t, exitOK, a.code, a.err)
	assert.Contains(t, a.out, "elevation data ends")
	assert.Contains(t, a.out, "at least")
	assert.Contains(t, a.out, "not known")
	var v legTold
	j := run(t, "leg", legFrom, "36.22,-84.5", "--json")
	require.NoError(t, json.Unmarshal([]byte(j.out), &v))
	assert.Equal(t, "unknown", v.Sight.Verdict)
	assert.Nil(t, v.To.ElevationM)
	assert.Less(t, v.CoveredM, v.DistanceM)
}

// TestNamedPlaces: a leg between two names of a file equals the leg between
// their coordinates.
func TestNamedPlaces(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "trip.csv")
	require.NoError(t, os.WriteFile(path, []byte("name,lat,lon\nCamp,36.26,-84.295\nFar saddle,36.22,-84.24\n"), 0o644))
	a := run(t, "leg", "camp", "Far Saddle", "--places", path)
	require.Equal(t, exitOK, a.code, a.err)
	assert.Contains(t, a.out, "Camp")
	assert.Contains(t, a.out, "6.64 km")
}

func TestDrawings(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	for _, name := range []string{"p.svg", "p.png", "p.pdf"} {
		path := filepath.Join(folder, name)
		a := run(t, "leg", legFrom, legTo, "--plot", path)
		require.Equal(t, exitOK, a.code, a.err)
		body, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Greater(t, len(body), 2000)
	}
	svg, err := os.ReadFile(filepath.Join(folder, "p.svg"))
	require.NoError(t, err)
	assert.Contains(t, string(svg), "Vertical scale")
}

func TestVersionHelpAndCompletion(t *testing.T) {
	t.Parallel()
	assert.Contains(t, run(t, "--version").out, "crowline ")
	assert.Contains(t, run(t, "help", "leg").out, "crowline leg FROM TO")
	a := run(t, "completion", "bash")
	assert.Equal(t, exitOK, a.code)
	assert.Contains(t, a.out, "crowline")
}

func TestUnits(t *testing.T) {
	t.Parallel()
	us := run(t, "leg", "--full", legFrom, legTo, "--units", "us")
	require.Equal(t, exitOK, us.code)
	assert.Contains(t, us.out, "4.13 mi")
	assert.Contains(t, us.out, "at 200 ft")
	for _, row := range []struct {
		text   string
		metres float64
	}{{"1.6", 1.6}, {"1.6m", 1.6}, {"6ft", 1.8288}, {"2 km", 2000}, {"1mi", 1609.344}, {" 12 M ", 12}} {
		v, err := parseLength(row.text)
		require.NoError(t, err)
		assert.InDelta(t, row.metres, v, 1e-9)
	}
	for _, bad := range []string{"", "m", "six", "1e999", "NaN", "0x10", "1_000", "5 leagues"} {
		_, err := parseLength(bad)
		assert.Error(t, err, bad)
	}
}

func FuzzParseLength(f *testing.F) {
	for _, s := range []string{"1.6", "6ft", "2km", "", "-1", "1e5m"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		v, err := parseLength(s)
		if err == nil && v != v {
			t.Fatalf("%q gives %v", s, v)
		}
	})
}

func TestFlagsAreParsedWithoutRunning(t *testing.T) {
	t.Parallel()
	var got *legOptions
	cmd := newLegCmd(Streams{}, func(_ context.Context, o *legOptions) error { got = o; return nil })
	cmd.SetArgs([]string{"a", "b", "--eye", "6ft", "--interval", "40ft", "--dead-band", "3", "--dem", "x.tif"})
	require.NoError(t, cmd.Execute())
	assert.InDelta(t, 1.8288, got.sight.eye, 1e-9)
	assert.InDelta(t, 40, got.walk.interval.value, 1e-9)
	assert.InDelta(t, 3, got.walk.deadBand, 1e-9)
	assert.Equal(t, []string{"x.tif"}, got.ground.dem)
}

// TestHelpFitsThePage: every line of it, the examples too.
func TestHelpFitsThePage(t *testing.T) {
	t.Parallel()
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		for _, sub := range c.Commands() {
			walk(sub)
		}
		arguments := append(strings.Fields(c.CommandPath())[1:], "--help")
		for line := range strings.Lines(run(t, arguments...).out) {
			line = strings.TrimRight(line, "\n")
			assert.NotContains(t, line, "(default )", c.CommandPath())
			assert.LessOrEqual(t, utf8.RuneCountInString(line), report.Width, "%s: %s", c.CommandPath(), line)
		}
	}
	root := newRoot(Streams{Out: io.Discard, Err: io.Discard})
	walk(root)
}

// TestLandmarksSayHowSure: as a sight to the same place does, to the error of
// the draws, which are fewer.
func TestLandmarksSayHowSure(t *testing.T) {
	t.Parallel()
	var list struct {
		Marks []struct {
			Place struct{ Lat, Lon float64 }
			Sight struct {
				Verdict    string
				Likelihood *struct {
					Word        string
					Probability *float64
				}
			}
		}
	}
	a := run(t, "landmarks", "36.2600,-84.2950", "--most", "3", "--json")
	require.Equal(t, exitOK, a.code, a.err)
	require.NoError(t, json.Unmarshal([]byte(a.out), &list))
	require.Greater(t, len(list.Marks), 3)
	for i, m := range list.Marks {
		assert.Equal(t, i < 3 || m.Sight.Verdict == "visible", m.Sight.Likelihood != nil, "of the hidden only those listed")
	}
	for _, m := range list.Marks[:3] {
		require.NotNil(t, m.Sight.Likelihood)
		var one struct {
			Sight struct {
				Likelihood struct{ Probability float64 }
			}
		}
		b := run(t, "sight", "36.2600,-84.2950", fmt.Sprintf("%.7f,%.7f", m.Place.Lat, m.Place.Lon), "--json")
		require.Equal(t, exitOK, b.code, b.err)
		require.NoError(t, json.Unmarshal([]byte(b.out), &one))
		const fourErrors = 4 * 0.5 / 44.7 // of 2000 draws, at the most
		assert.InDelta(t, one.Sight.Likelihood.Probability, *m.Sight.Likelihood.Probability, fourErrors)
	}
	text := run(t, "landmarks", "36.2600,-84.2950")
	assert.Contains(t, text.out, "% chance to see it")
}
