package cli

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
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

// TestMain keeps the user's own settings and cache out of the tests, and gives
// them the Cumberland Mountains as their elevation data where they name none.
func TestMain(m *testing.M) {
	asProgram()
	folder, err := os.MkdirTemp("", "crowline-cli")
	if err != nil {
		panic(err)
	}
	for _, v := range []string{"XDG_CONFIG_HOME", "XDG_CACHE_HOME"} {
		os.Setenv(v, folder)
	}
	os.Setenv(demVariable, cumberland.Path())
	os.Unsetenv(configVariable)
	code := m.Run()
	os.RemoveAll(folder)
	os.Exit(code)
}

// onDemoGround has the test answer on the data inside the binary, as for a user
// who has none of their own.
func onDemoGround(t *testing.T) {
	t.Helper()
	t.Setenv(demVariable, "")
}

// TestALegOverTilesIsTheLegOverTheirWhole: the Cumberland ground cut in four, given
// as a folder and by the environment, answers as the one file does.
func TestALegOverTilesIsTheLegOverTheirWhole(t *testing.T) {
	if _, err := exec.LookPath("gdal_translate"); err != nil {
		t.Skip("gdal_translate is not installed (make test installs it)")
	}
	folder := t.TempDir()
	whole := filepath.Join(folder, "whole.tif")
	require.NoError(t, os.WriteFile(whole, cumberland.Bytes(), 0o644))
	tiles := filepath.Join(folder, "tiles")
	require.NoError(t, os.Mkdir(tiles, 0o755))
	for name, window := range map[string][]string{
		"nw": {"0", "0", "200", "150"}, "ne": {"200", "0", "203", "150"}, "sw": {"0", "150", "200", "194"}, "se": {"200", "150", "203", "194"},
	} {
		arguments := append([]string{"-q", "-srcwin"}, window...)
		out, err := exec.Command("gdal_translate", append(arguments, whole, filepath.Join(tiles, name+".tif"))...).CombinedOutput()
		require.NoError(t, err, string(out))
	}
	answer := func(arguments ...string) legTold {
		a := run(t, append([]string{"leg", legFrom, legTo, "--json"}, arguments...)...)
		require.Equal(t, exitOK, a.code, a.err)
		var v legTold
		require.NoError(t, json.Unmarshal([]byte(a.out), &v))
		return v
	}
	one := answer("--dem", whole)
	t.Setenv(demVariable, tiles)
	for _, many := range []legTold{answer("--dem", tiles), answer("--dem", filepath.Join(tiles, "*.tif")), answer()} {
		assert.Equal(t, one.Climb.AscentM, many.Climb.AscentM)
		assert.Equal(t, one.Sight.Verdict, many.Sight.Verdict)
		assert.Equal(t, one.Sight.BlockedAtM, many.Sight.BlockedAtM)
		assert.Equal(t, one.From.ElevationM, many.From.ElevationM)
		assert.False(t, many.ElevationData.Demo)
	}
}

func TestTooLargeAQuestionIsRefused(t *testing.T) {
	file := func(name string) string { return filepath.Join(t.TempDir(), name) }
	for _, question := range [][]string{
		{"viewshed", legFrom}, {"skyline", legFrom}, {"landmarks", legFrom}, {"leg", legFrom, legTo},
		{"dem", "features", "--around", legFrom}, {"drill", "--around", legFrom}, {"sheet", legFrom, "--scale", "100000", "-o", file("a.svg")},
		{"contours", "-o", file("b.svg")},
	} {
		a := run(t, append(question, "--max-memory", "100KB")...)
		assert.Equal(t, exitError, a.code, "%v", question)
		assert.Contains(t, a.err, "over the limit of 0.1 MB: take a smaller radius, a shorter leg or coarser data, or raise --max-memory", "%v", question)
	}
	// in strips, or block by block, there is no question too large
	for _, question := range [][]string{{"contours", "-o", file("c.fgb")}, {"leg", legFrom, legTo, "--marks", "0"}, {"sight", legFrom, legTo}} {
		assert.Equal(t, exitOK, run(t, append(question, "--max-memory", "100KB")...).code, "%v", question)
	}
	// what is worked out from the posts counts, not the posts alone
	posts := int64(viewshedPosts(t))
	assert.Equal(t, exitError, run(t, "viewshed", legFrom, "--max-memory", fmt.Sprintf("%dB", 13*posts-1)).code)
	assert.Equal(t, exitOK, run(t, "viewshed", legFrom, "--max-memory", fmt.Sprintf("%dB", 13*posts)).code)
	assert.Equal(t, exitError, run(t, "viewshed", legFrom, legTo, "--max-memory", fmt.Sprintf("%dB", 13*posts)).code)
	assert.Equal(t, exitUsage, run(t, "leg", legFrom, legTo, "--max-memory", "lots").code)
}

// viewshedPosts is how many posts the Cumberland ground has.
func viewshedPosts(t *testing.T) int {
	r, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	require.NoError(t, err)
	defer r.Close()
	return r.Layout().Columns * r.Layout().Rows
}

// TestFinePostsAreThinned: landforms and drills on posts far finer than what
// they show take every nth, say so, and are those of the posts taken.
func TestFinePostsAreThinned(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	crs, err := geodesy.NewCRS("EPSG:32616")
	require.NoError(t, err)
	const n, step = 1500, 2.0
	write := func(name string, n int, step float64) string {
		f := dem.Frame{Columns: n, Rows: n, X0: 600000, Y0: 4003000, DX: step, DY: -step, CRS: crs}
		posts := make([]float32, n*n)
		for row := range n {
			for column := range n {
				x, y := step*float64(column)-1500, step*float64(row)-1500
				posts[row*n+column] = float32(500 + 150*math.Exp(-(x*x+y*y)/(2*300*300)) + x/100)
			}
		}
		path := filepath.Join(folder, name)
		require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), path, &f, []gdalio.Band{{Name: "elevation", Float32: posts}}))
		return path
	}
	fine, coarse := write("fine.tif", n, step), write("coarse.tif", n/10, 10*step)
	ask := func(path string) (a answer.FeaturesAnswer) {
		text := run(t, "dem", "features", "--around", "16S 601500 4001500", "--radius", "1km", "--kinds", "hill", "--dem", path, "--json").out
		require.NoError(t, json.Unmarshal([]byte(text), &a))
		return a
	}
	thinned, whole := ask(fine), ask(coarse)
	assert.Equal(t, 10, thinned.ElevationData.EveryNthPost)
	assert.Zero(t, whole.ElevationData.EveryNthPost)
	require.Len(t, thinned.Features, 1)
	require.Len(t, whole.Features, 1)
	assert.Equal(t, whole.Features[0].Place, thinned.Features[0].Place)
	assert.InDelta(t, 20, thinned.ElevationData.SpacingM, 0.1)
	text := run(t, "dem", "features", "--around", "16S 601500 4001500", "--radius", "1km", "--dem", fine).out
	assert.Contains(t, strings.Join(strings.Fields(text), " "), "posts about 20 m apart (the data's are finer: one in 10 is taken each way)")
	a := run(t, "drill", "--around", "16S 601500 4001500", "--radius", "1200m", "--dem", fine, "--kinds", "norths", "-o", filepath.Join(folder, "d.txt"))
	require.Equal(t, exitOK, a.code, a.err)
	assert.Contains(t, strings.Join(strings.Fields(a.out), " "), "posts about 4 m apart (the data's are finer: one in 2 is taken each way)")
}
