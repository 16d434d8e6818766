package cli

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

// smallGround writes 60 by 60 posts of hills, an arc-second apart, from 36 N
// 84 W to the south and east, and gives the file's name.
func smallGround(t *testing.T, folder string) string {
	t.Helper()
	const posts, step = 60, 1.0 / 3600 // step in degrees
	f := dem.Frame{Columns: posts, Rows: posts, X0: -84 + step/2, Y0: 36 - step/2, DX: step, DY: -step, CRS: geodesy.WGS84}
	values := make([]float32, posts*posts)
	for i := range values {
		values[i] = float32(500 + 60*math.Sin(float64(i%posts)/5)*math.Cos(float64(i/posts)/7))
	}
	path := filepath.Join(folder, "ground.tif")
	require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), path, &f, []gdalio.Band{{Float32: values}}))
	return path
}

// numeric are the kinds of flag that take a number, and numericTexts the flags
// with a number in a text, with what stands before and after it.
var (
	numeric      = []string{"length", "scale", "interval", "number", "whole number"}
	numericTexts = map[string]string{
		"max-memory": "%sMB", "sector": "%s,90", "extent": "35.99,-84,%s,-83.99", "paper": "%sx300", "fix bearing": "B=%s",
	}
)

// textOf is what the flag of a command is given for a number.
func textOf(command string, f *pflag.Flag, number string) (text string, ok bool) {
	if slices.Contains(numeric, f.Value.Type()) {
		return number, true
	}
	for _, name := range []string{command + " " + f.Name, f.Name} {
		if form, ok := numericTexts[name]; ok && f.Value.Type() != "bool" {
			return fmt.Sprintf(form, number), true
		}
	}
	return "", false
}

// TestEveryNumberHasARange: every flag of every command that takes a number is
// given absurd ones. It refuses them by its name and with its range, or they
// are answered; nothing panics.
func TestEveryNumberHasARange(t *testing.T) {
	folder := t.TempDir()
	file := func(name string) string { return filepath.Join(folder, name) }
	ground := smallGround(t, folder)
	const a, b = "35.9950,-83.9950", "35.9890,-83.9880"
	gpx := `<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="35.9890" lon="-83.9880"><name>B</name></wpt>` +
		`<rte><name>r</name><rtept lat="35.9950" lon="-83.9950"/><rtept lat="35.9890" lon="-83.9880"/></rte></gpx>`
	require.NoError(t, os.WriteFile(file("r.gpx"), []byte(gpx), 0o644))
	require.NoError(t, os.WriteFile(file("pairs.csv"), []byte("from,to\n\"35.9950,-83.9950\",\"35.9890,-83.9880\"\n"), 0o644))
	server := httptest.NewServer(http.NotFoundHandler())
	t.Cleanup(server.Close)
	require.NoError(t, os.WriteFile(file("config.json"), []byte(`{"sources":[{"name":"none","title":"none","url":"`+server.URL+
		`/{NS}{lat}{EW}{lon}.tif","licence":"open","attribution":"made by the test"}]}`), 0o644))
	t.Setenv(configVariable, file("config.json"))
	t.Setenv(demVariable, ground)
	t.Setenv("XDG_CACHE_HOME", folder)

	cover := []string{"--cover", ground}
	bases := map[string][]string{
		"leg":             {a, b},
		"leg clearing":    append([]string{a, b}, cover...),
		"sight":           {a, b},
		"sight bearing":   {a},
		"sights":          {file("pairs.csv"), "-o", file("seen.csv")},
		"sight radius":    {a, "--bearing", "120"},
		"landmarks":       {a, "--bearing", "120", "--for-fix"},
		"viewshed":        {a},
		"vantage":         {"--around", a, "--radius", "300", "--see", b},
		"walk":            {"--around", a, "--radius", "300", "-o", file("w.svg")},
		"skyline":         {a, "--step", "5"},
		"skyline rows":    {a, "--step", "5", "-o", file("s.svg")},
		"fix":             {"--places", file("r.gpx"), "--bearing", "B=120", "--bearing", "36.0000,-83.9950=10", "--altimeter", "500"},
		"fix line-error":  {"--places", file("r.gpx"), "--bearing", "B=120", "--line", file("r.gpx")},
		"fix paper":       {"--places", file("r.gpx"), "--bearing", "B=120", "--bearing", "36.0000,-83.9950=10", "-o", file("f.svg")},
		"route":           {file("r.gpx"), "-o", file("card.svg")},
		"sheet":           {a, b, "--scale", "10000", "-o", file("s.png"), "--dpi", "30"},
		"drill":           {"--around", a, "--radius", "500", "--kinds", "elevation", "--count", "1", "-o", file("d.svg")},
		"contours":        {"--around", a, "--radius", "300", "-o", file("c.geojson")},
		"contours extent": {"-o", file("c.geojson")},
		"dem features":    {"--around", a, "--radius", "500"},
		"dem get":         {"--around", a, "--source", "none", "--folder", file("tiles"), "--radius", "100"},
		"declination":     {a},
	}
	for _, flag := range []string{"marks-to", "compass-error", "mark-error"} {
		bases["vantage "+flag] = []string{"--around", a, "--radius", "300"}
	}
	for _, command := range []string{"sight", "landmarks", "viewshed", "skyline", "fix", "route", "sheet"} {
		bases[command+" clearing"] = append(slices.Clone(bases[command]), cover...)
	}
	// a run that hangs fails, rather than the whole of the tests
	const patience = time.Minute
	named := regexp.MustCompile(` (from|above|or more)\b`)
	tried := 0
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		for _, sub := range c.Commands() {
			walk(sub)
		}
		command := strings.TrimPrefix(c.CommandPath(), "crowline ")
		if command == "desk" {
			return // it serves till it is stopped; its numbers are those of other commands
		}
		c.Flags().VisitAll(func(f *pflag.Flag) {
			assert.NotRegexp(t, "^(u?int[0-9]*|float[0-9]+|duration|count|bytes)(Slice)?$", f.Value.Type(), "--%s of %s has no range", f.Name, command)
			base, ok := bases[command+" "+f.Name]
			if !ok {
				base = bases[command]
			}
			for _, number := range []string{"0", "-1", "1e305", "-1e305", "1e-305", "inf", "-inf", "nan", "0x1p-2", "1_000", "9223372036854775807", "1e9999", ""} {
				text, ok := textOf(command, f, number)
				if !ok {
					return
				}
				require.NotNil(t, base, "no command line to try --%s of %s with", f.Name, command)
				arguments := slices.Concat(strings.Fields(command), base, []string{"--" + f.Name + "=" + text})
				ctx, cancel := context.WithTimeout(t.Context(), patience)
				got := runContext(ctx, t, arguments...)
				cancel()
				line := strings.Join(arguments, " ")
				tried++
				assert.LessOrEqual(t, strings.Count(got.err, "\n"), 1, "%s: %s", line, got.err)
				assert.NotContains(t, got.err, "does nothing here", line)
				assert.NotContains(t, got.err, "panic", line)
				switch got.code {
				case exitOK, exitError:
					assert.Contains(t, []string{"0", "-1", "1e-305", "9223372036854775807"}, number, "%s was taken", line)
				case exitUsage:
					assert.Contains(t, got.err, "--"+f.Name, line)
					if _, isNumber := geodesy.ParseNumber(number); isNumber {
						assert.Regexp(t, named, got.err, line)
					} else { // or what to write in its place
						assert.Regexp(t, " (from|above|write) ", got.err, line)
					}
				default:
					assert.Fail(t, "neither answered nor refused", "%s: exit %d: %s", line, got.code, got.err)
				}
			}
		})
	}
	walk(newRoot(Streams{}))
	assert.Greater(t, tried, 1000)
}
