package cli

import (
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/demo"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

// shellWords are a command line's words as a shell takes them: quotes, and
// patterns of files that there are.
func shellWords(t *testing.T, line string) []string {
	t.Helper()
	var out []string
	for _, found := range regexp.MustCompile(`"([^"]*)"|(\S+)`).FindAllStringSubmatch(line, -1) {
		word := found[1] + found[2]
		if strings.HasPrefix(found[2], "#") {
			break
		}
		if found[2] != "" && strings.Contains(word, "*") {
			files, err := filepath.Glob(word)
			require.NoError(t, err)
			require.NotEmpty(t, files, line)
			out = append(out, files...)
			continue
		}
		out = append(out, word)
	}
	return out
}

// standIns makes, in the working folder, the files that examples name, and
// gives the data set that one of them fetches an address on this machine.
func standIns(t *testing.T) {
	t.Helper()
	write := func(path string, data []byte) {
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, data, 0o644))
	}
	for _, path := range []string{"tile.tif", "tiles/a.tif", "more/b.tif", "finer.tif"} {
		write(path, demo.Bytes())
	}
	camp := demoFrom.LatLon
	off := func(from geodesy.LatLon, metres float64, bearing geodesy.TrueBearing) geodesy.LatLon {
		p, _ := geodesy.Direct(from, bearing, metres)
		return p
	}
	named := []struct {
		name string
		at   geodesy.LatLon
	}{
		{"Camp", camp}, {"Knob", off(camp, 4000, 43)}, {"Tower", off(camp, 4000, 117)}, {"Church", off(camp, 3000, 209)},
		{"Ford", off(off(camp, 3000, 80), 3000, 192)},
	}
	gpx, csv := &strings.Builder{}, &strings.Builder{}
	fmt.Fprint(gpx, `<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">`)
	fmt.Fprintln(csv, "name,lat,lon")
	for _, p := range named {
		fmt.Fprintf(gpx, `<wpt lat="%.6f" lon="%.6f"><name>%s</name></wpt>`, p.at.Lat, p.at.Lon, p.name)
		fmt.Fprintf(csv, "%s,%.6f,%.6f\n", p.name, p.at.Lat, p.at.Lon)
	}
	line := func(name string, points ...geodesy.LatLon) (text string) {
		text = "<rte><name>" + name + "</name>"
		for _, p := range points {
			text += fmt.Sprintf(`<rtept lat="%.6f" lon="%.6f"/>`, p.Lat, p.Lon)
		}
		return text + "</rte>"
	}
	head := strings.Split(gpx.String(), "<wpt")[0]
	write("trip.gpx", []byte(gpx.String()+line("day two", camp, named[1].at, named[4].at)+"</gpx>"))
	write("map.gpx", []byte(gpx.String()+"</gpx>"))
	write("stream.gpx", []byte(head+line("stream", off(camp, 2000, 0), off(camp, 2000, 180))+"</gpx>"))
	write("trip.csv", []byte(csv.String()))
	write("pairs.csv", []byte("from,to\n\"34.3297,-118.0548\",\"34.3008,-118.0514\"\n"))
	write("lines.geojson", []byte(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[-118.0548,34.3297],[-118.0514,34.3008]]}}]}`))

	// 46 N 7 E, north and south of the parallel: rolling ground
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var south int
		if _, err := fmt.Sscanf(r.URL.Path, "/N%dE007.tif", &south); err != nil {
			http.NotFound(w, r)
			return
		}
		const posts = 120
		const step = 1.0 / posts // degrees
		f := dem.Frame{Columns: posts, Rows: posts, X0: 7 + step/2, Y0: float64(south) + 1 - step/2, DX: step, DY: -step, CRS: geodesy.WGS84}
		values := make([]float32, posts*posts)
		for i := range values {
			values[i] = float32(2000 + 300*math.Sin(float64(i%posts)/7)*math.Cos(float64(i/posts)/5))
		}
		void := math.NaN()
		path := filepath.Join(t.TempDir(), "tile.tif")
		require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), path, &f, []gdalio.Band{{Float32: values, NoData: &void}}))
		http.ServeFile(w, r, path)
	}))
	t.Cleanup(server.Close)
	write("config.json", []byte(`{"sources":[{"name":"copernicus-glo-30","title":"stands in","url":"`+server.URL+
		`/{NS}{lat}{EW}{lon}.tif","licence":"open","attribution":"made by the test"}]}`))
	config, err := filepath.Abs("config.json")
	require.NoError(t, err)
	t.Setenv(configVariable, config)
	t.Setenv(demVariable, "")
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
}

// TestExamplesRun: every example of every command's help does what it says,
// with stand-ins for the user's own files and for a publisher's server.
func TestExamplesRun(t *testing.T) {
	t.Chdir(t.TempDir())
	standIns(t)
	lines := 0
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		for line := range strings.Lines(c.Example) {
			words := shellWords(t, line)
			require.NotEmpty(t, words, c.CommandPath())
			require.Equal(t, "crowline", words[0], line)
			a := runAndStop(t, words[1:]...)
			assert.Equal(t, exitOK, a.code, "%s: %s%s", c.CommandPath(), line, a.err)
			assert.NotEmpty(t, a.out, line)
			lines++
		}
		for _, sub := range c.Commands() {
			assert.True(t, sub.Example != "" || sub.HasSubCommands() || c.Name() == "completion", "%s has no example", sub.CommandPath())
			walk(sub)
		}
	}
	walk(newRoot(Streams{}))
	assert.Greater(t, lines, 40)
}

// TestREADMEsCommandsRun: with a place for FROM and one for TO. Those that are
// examples of a help text as well are run there.
func TestREADMEsCommandsRun(t *testing.T) {
	text, err := os.ReadFile("../../../README.md")
	require.NoError(t, err)
	t.Chdir(t.TempDir())
	standIns(t)
	var examples strings.Builder
	var gather func(c *cobra.Command)
	gather = func(c *cobra.Command) {
		examples.WriteString(c.Example + "\n")
		for _, sub := range c.Commands() {
			gather(sub)
		}
	}
	gather(newRoot(Streams{}))
	lines, ran := 0, map[string]bool{}
	for line := range strings.Lines(string(text)) {
		line, found := strings.CutPrefix(line, "    ./crowline ")
		if !found {
			continue
		}
		words := shellWords(t, line)
		for i, w := range words {
			switch w {
			case "FROM":
				words[i] = demoFrom.LatLon.String()
			case "TO":
				words[i] = demoTo.LatLon.String()
			}
			if strings.HasPrefix(line, "leg FROM TO --dem elevation/") { // what was fetched
				words[1], words[2] = "46.02,7.75", "45.98,7.66"
			}
		}
		lines++
		command := strings.Join(words, " ")
		if ran[command] || words[0] != "dem" && strings.Contains(examples.String(), "crowline "+strings.TrimSpace(line)+"\n") {
			continue
		}
		ran[command] = true
		a := runAndStop(t, words...)
		assert.Equal(t, exitOK, a.code, "%s%s", line, a.err)
	}
	assert.Greater(t, lines, 20)
}

// TestREADMEsLegIsTheAnswer: what the README shows of its first leg is what
// the command says, word for word. With -update it is written there.
func TestREADMEsLegIsTheAnswer(t *testing.T) {
	const path, before, after = "../../../README.md", "\nanswers, on the demo data built in:\n\n", "\nand goes on with "
	readme, err := filepath.Abs(path)
	require.NoError(t, err)
	text, err := os.ReadFile(readme)
	require.NoError(t, err)
	head, rest, found := strings.Cut(string(text), before)
	require.True(t, found)
	shown, rest, found := strings.Cut(rest, after)
	require.True(t, found)
	day := regexp.MustCompile(`magnetic .* on (\d{4}-\d\d-\d\d)`).FindStringSubmatch(shown)
	require.NotNil(t, day)
	onDemoGround(t)
	a := run(t, "leg", demoFrom.LatLon.String(), demoTo.LatLon.String(), "--date", day[1])
	require.Equal(t, exitOK, a.code, a.err)
	answer, _, found := strings.Cut(a.out, "\nData and cautions\n")
	require.True(t, found)
	var is strings.Builder
	for line := range strings.Lines(answer) {
		if line != "\n" {
			line = "    " + line
		}
		is.WriteString(line)
	}
	if *update {
		require.NoError(t, os.WriteFile(readme, []byte(head+before+is.String()+after+rest), 0o644))
		return
	}
	assert.Equal(t, is.String(), shown, "run with -update, and read what changed")
}
