package cli

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/answer"
	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/testdata/cumberland"
)

// TestDEMGetAndIndex: a data set of the user's own, from the config file,
// fetched from a server and indexed.
func TestDEMGetAndIndex(t *testing.T) {
	tile := wholeDegree(t, 36, -85)
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		content := tile
		switch r.URL.Path {
		case "/N36W085.tif":
		case "/cut/N36W085.tif":
			content = tile[:len(tile)-10_000]
		case "/wrong/N36W085.tif":
			content = cumberland.Bytes() // a part of the square
		default:
			http.NotFound(w, r)
			return
		}
		w.Header().Set("Content-Length", fmt.Sprint(len(content)))
		_, _ = w.Write(content)
	}))
	defer server.Close()
	folder := t.TempDir()
	config := filepath.Join(folder, "config.json")
	withPassword := strings.Replace(server.URL, "http://", "http://someone:s3cret@", 1)
	source := func(name, address string) string {
		return `{"name":"` + name + `","title":"Ground of here","url":"` + address + `{NS}{lat}{EW}{lon}.tif","licence":"open","attribution":"the demo data"}`
	}
	require.NoError(t, os.WriteFile(config, []byte(`{"sources":[`+source("here", withPassword+"/")+`,`+
		source("cut", withPassword+"/cut/")+`,`+source("wrong", server.URL+"/wrong/")+`]}`), 0o600))
	t.Setenv(configVariable, config)
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	tiles := filepath.Join(folder, "tiles")

	a := run(t, "dem", "get", "--list")
	require.Equal(t, exitOK, a.code, a.err)
	assert.Contains(t, a.out, "copernicus-glo-30")
	assert.Contains(t, a.out, "Ground of here")
	a = run(t, "dem", "get", "--list", "--json")
	assert.Contains(t, a.out, server.URL)
	assert.NotContains(t, a.out, "s3cret")

	a = run(t, "dem", "get", "--around", "36.3,-84.99", "--radius", "5km", "--source", "here", "--folder", tiles, "--json")
	require.Equal(t, exitOK, a.code, a.err)
	var got answer.GetAnswer
	require.NoError(t, json.Unmarshal([]byte(a.out), &got))
	require.Len(t, got.Files, 1)
	assert.Equal(t, []string{"N36W086.tif"}, got.NoTile)
	data, err := os.ReadFile(got.Files[0].Path)
	require.NoError(t, err)
	assert.Equal(t, tile, data)
	licence, err := os.ReadFile(got.LicenceFile)
	require.NoError(t, err)
	assert.NotContains(t, string(licence)+a.out+a.err, "s3cret")
	a = run(t, "dem", "get", "--around", "36.3,-84.5", "--source", "here", "--folder", tiles)
	require.Equal(t, exitOK, a.code, a.err)
	assert.Contains(t, a.out, "was here")
	assert.Contains(t, a.out, "the demo data")

	a = run(t, "dem", "index", tiles)
	require.Equal(t, exitOK, a.code, a.err)
	assert.Contains(t, a.out, "1 tiles")

	for _, c := range []struct {
		args []string
		code int
		want string
	}{
		{[]string{"--source", "here"}, exitUsage, "--around"},
		{[]string{"--around", "36,-84"}, exitUsage, "--source"},
		{[]string{"--around", "36,-84", "--source", "none"}, exitUsage, "wrong, copernicus-glo-30"},
		{[]string{"--around", "nowhere", "--source", "here"}, exitUsage, "nowhere"},
		{[]string{"--around", "36,-84", "--source", "here", "--radius", "0"}, exitUsage, "--radius"},
		{[]string{"--around", "0.5,0.5", "--source", "here", "--folder", tiles}, exitError, "has no tile"},
		{[]string{"--around", "36.3,-84.5", "--source", "cut", "--folder", filepath.Join(folder, "cut")}, exitError, "no whole elevation tile"},
		{[]string{"--around", "36.3,-84.5", "--source", "wrong", "--folder", filepath.Join(folder, "wrong")}, exitError, "the tile asked for 36 to 37 N, -85 to -84 E"},
	} {
		a := run(t, append([]string{"dem", "get"}, c.args...)...)
		assert.Equal(t, c.code, a.code, "%v", c.args)
		assert.Contains(t, a.err, c.want)
		assert.NotContains(t, a.err, "s3cret")
	}
	assert.Equal(t, exitUsage, run(t, "dem", "index").code)
	assert.Equal(t, exitError, run(t, "dem", "index", filepath.Join(folder, "none")).code)
}

// TestDEMGetGoesThroughNoLink that the user did not name.
func TestDEMGetGoesThroughNoLink(t *testing.T) {
	t.Chdir(t.TempDir())
	standIns(t)
	get := []string{"dem", "get", "--around", "46.5,7.5", "--radius", "1km", "--source", "copernicus-glo-30"}
	elsewhere := t.TempDir()
	require.NoError(t, os.Symlink(elsewhere, "elevation"))
	a := run(t, get...)
	assert.Equal(t, exitUsage, a.code)
	assert.Contains(t, a.err, "elevation is a link to elsewhere")
	require.NoError(t, os.Remove("elevation"))
	require.NoError(t, os.Mkdir("elevation", 0o755))
	link := filepath.Join("elevation", "copernicus-glo-30")
	require.NoError(t, os.Symlink(elsewhere, link))
	a = run(t, get...)
	assert.Equal(t, exitUsage, a.code)
	assert.Contains(t, a.err, link+" is a link to elsewhere")
	list, err := os.ReadDir(elsewhere)
	require.NoError(t, err)
	assert.Empty(t, list)
	a = run(t, append(get, "--folder", link)...)
	require.Equal(t, exitOK, a.code, a.err)
	assert.FileExists(t, filepath.Join(elsewhere, "N46E007.tif"))
}

// TestDEMGetReplacesNothingItDidNotFetch: a file of the user's own that has a
// tile's name stays.
func TestDEMGetReplacesNothingItDidNotFetch(t *testing.T) {
	t.Chdir(t.TempDir())
	standIns(t)
	require.NoError(t, os.Mkdir("mine", 0o755))
	tile := filepath.Join("mine", "N46E007.tif")
	require.NoError(t, os.WriteFile(tile, cumberland.Bytes(), 0o600))
	a := run(t, "dem", "get", "--around", "46.5,7.5", "--radius", "1km", "--source", "copernicus-glo-30", "--folder", "mine")
	assert.Equal(t, exitError, a.code)
	assert.Equal(t, "crowline: "+tile+" is there already and crowline did not fetch it, so it stays: move it away, or name another folder\n", a.err)
	data, err := os.ReadFile(tile)
	require.NoError(t, err)
	assert.Equal(t, cumberland.Bytes(), data)
}

// wholeDegree is a tile of the square of a degree from a corner on.
func wholeDegree(t *testing.T, south, west float64) []byte {
	t.Helper()
	const n, step = 240, 1.0 / 240
	f := dem.Frame{Columns: n, Rows: n, X0: west + step/2, Y0: south + 1 - step/2, DX: step, DY: -step, CRS: geodesy.WGS84}
	heights := make([]float32, n*n)
	for i := range heights {
		heights[i] = float32(500 + i%97)
	}
	path := filepath.Join(t.TempDir(), "tile.tif")
	require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), path, &f, []gdalio.Band{{Float32: heights}}))
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return data
}

// TestConfigIsReadOnce: 2026-11-30. A run read the file three times, and might
// have read three.
func TestConfigIsReadOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "config.json")
	t.Setenv(configVariable, path)
	require.NoError(t, os.WriteFile(path, []byte(`{"units":"us"}`), 0o600))
	ctx := withConfig(t.Context())
	first, err := configOf(ctx)
	require.NoError(t, err)
	assert.Equal(t, "us", first.Units)
	require.NoError(t, os.Remove(path))
	again, err := configOf(ctx)
	require.NoError(t, err)
	assert.Equal(t, first, again)
	_, err = configOf(withConfig(t.Context()))
	require.Error(t, err, "another run reads it anew")
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	calls := 0
	for _, f := range files {
		if text, err := os.ReadFile(f); err == nil && !strings.HasSuffix(f, "_test.go") {
			calls += strings.Count(string(text), "loadConfig()")
		}
	}
	assert.Equal(t, 2, calls, "its own and configOf's: commands ask configOf")
}

func TestConfig(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "config.json")
	t.Setenv(configVariable, path)
	t.Setenv(demVariable, "")
	_, err := loadConfig()
	require.ErrorContains(t, err, path, "named, so it must be there")
	write := func(text string) {
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	}
	write(`{"dem":["tiles","/data/dem.tif","https://example.org/a.tif"],"units":"us","max_memory":"2GB"}`)
	c, err := loadConfig()
	require.NoError(t, err)
	paths, from := c.defaultDEM()
	assert.Equal(t, []string{filepath.Join(folder, "tiles"), "/data/dem.tif", "https://example.org/a.tif"}, paths)
	assert.Equal(t, path, from)
	t.Setenv(demVariable, "/a"+string(os.PathListSeparator)+"https://example.org:8080/b.tif"+string(os.PathListSeparator)+"c/*.tif")
	paths, from = c.defaultDEM()
	assert.Equal(t, []string{"/a", "https://example.org:8080/b.tif", "c/*.tif"}, paths)
	assert.Equal(t, demVariable, from)
	for text, want := range map[string]string{
		`{`: "line 1 is not JSON", "{\n\"units\":\n}": "line 3 is not JSON", `{} {}`: "line 1 is not JSON", "": "line 1 is not JSON",
		`[]`:         "it is keys and values in braces, not a list",
		`{"dme":[]}`: `there is no key "dme"; there are dem, places, units, compass, pace, speed, rule, interval, height_unit, max_memory and sources`,
		`{"dem":5}`:  `"dem": it is a text or a list of texts`, `{"dem":["a",""]}`: `"dem": it is a text or a list`, `{"dem":""}`: `"dem": it is a text or a list`,
		`{"units":"furlongs"}`: "furlongs", `{"units":2.5}`: `"units": it is a text in quotes, not a number`, `{"max_memory":{}}`: `not keys and values in braces`,
		`{"sources":{}}`: `"sources": it is a list, not keys and values in braces`, `{"sources":[{"nam":"x"}]}`: `there is no key "nam" in it`,
		`{"sources":[{"name":"x","spacing_arc_seconds":"1"}]}`: "spacing_arc_seconds: it is a number, not a text",
		`{"sources":[{"name":"x","degrees":1.5}]}`:             "degrees: it is a whole number, not 1.5", `{"max_memory":"0x2GB"}`: `"0x2GB" is not a size of memory from 1B`,
		`{"speed":"4"}`: "4km/h", `{"speed":4}`: `"speed": it is a text in quotes`, `{"rule":"stroll"}`: "naismith, tobler or din",
		`{"height_unit":"yd"}`: "height_unit", `{"max_memory":"lots"}`: "lots", `{"sources":[{"name":"X"}]}`: "lower-case",
		strings.Repeat(" ", maxConfigBytes+1): "larger",
	} {
		write(text)
		_, err := loadConfig()
		require.ErrorContains(t, err, want)
		require.ErrorContains(t, err, path)
		assert.NotContains(t, strings.ReplaceAll(err.Error(), path, ""), "json")
		assert.NotContains(t, err.Error(), "Go ")
	}
	for text, want := range map[string][]string{
		`{"dem":"tiles"}`: {filepath.Join(folder, "tiles")}, `{"dem":["a.tif","/b.tif"]}`: {filepath.Join(folder, "a.tif"), "/b.tif"},
		`{"dem":[]}`: {}, `{"dem":null}`: nil, `{}`: nil, `null`: nil,
	} {
		write(text)
		c, err := loadConfig()
		require.NoError(t, err, text)
		assert.Equal(t, want, c.DEM, text)
	}
	t.Setenv(configVariable, "")
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	c, err = loadConfig()
	require.NoError(t, err)
	assert.Empty(t, c.DEM)
}

func TestParseMemory(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]int64{"2GB": 2e9, "1.5 g": 1.5e9, "500mb": 5e8, "64KB": 64e3, "100B": 100} {
		got, err := parseMemory(text)
		require.NoError(t, err)
		assert.Equal(t, want, got, text)
	}
	half, err := parseMemory("50%")
	require.NoError(t, err)
	usual, err := parseMemory("")
	require.NoError(t, err)
	assert.Equal(t, usual, half)
	assert.Greater(t, usual, int64(1<<26))
	for _, text := range []string{"2", "-1GB", "0%", "101%", "NaNGB", "0x1p3GB", "1_0GB", "infGB", "1e-305GB", "1e-9%", "nan%", "1e99GB", "GB", "x"} {
		_, err := parseMemory(text)
		require.Error(t, err, text)
	}
}

func FuzzConfig(f *testing.F) {
	f.Add([]byte(`{"dem":["a"],"units":"us","max_memory":"50%"}`))
	f.Add([]byte(`{"sources":[{"name":"a","url":"https://h/{ns}{lat}{ew}{lon}.tif","licence":"l","attribution":"a"}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := parseConfig(data)
		if err != nil {
			return
		}
		if c.MaxMemory != "" {
			n, err := parseMemory(c.MaxMemory)
			require.NoError(t, err)
			assert.GreaterOrEqual(t, n, int64(0))
		}
	})
}
