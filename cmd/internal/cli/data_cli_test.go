package cli

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/demo"
)

// TestMain keeps the user's own settings and cache out of the tests.
func TestMain(m *testing.M) {
	folder, err := os.MkdirTemp("", "crowline-cli")
	if err != nil {
		panic(err)
	}
	for _, v := range []string{"XDG_CONFIG_HOME", "XDG_CACHE_HOME"} {
		os.Setenv(v, folder)
	}
	os.Unsetenv(demVariable)
	os.Unsetenv(configVariable)
	code := m.Run()
	os.RemoveAll(folder)
	os.Exit(code)
}

// TestALegOverTilesIsTheLegOverTheirWhole: the demo data cut in four, given
// as a folder and by the environment, answers as the one file does.
func TestALegOverTilesIsTheLegOverTheirWhole(t *testing.T) {
	if _, err := exec.LookPath("gdal_translate"); err != nil {
		t.Skip("gdal_translate is not installed (make test installs it)")
	}
	folder := t.TempDir()
	whole := filepath.Join(folder, "whole.tif")
	require.NoError(t, os.WriteFile(whole, demo.Bytes(), 0o644))
	tiles := filepath.Join(folder, "tiles")
	require.NoError(t, os.Mkdir(tiles, 0o755))
	for name, window := range map[string][]string{
		"nw": {"0", "0", "200", "150"}, "ne": {"200", "0", "203", "150"}, "sw": {"0", "150", "200", "194"}, "se": {"200", "150", "203", "194"},
	} {
		arguments := append([]string{"-q", "-srcwin"}, window...)
		out, err := exec.Command("gdal_translate", append(arguments, whole, filepath.Join(tiles, name+".tif"))...).CombinedOutput()
		require.NoError(t, err, string(out))
	}
	answer := func(arguments ...string) legAnswer {
		a := run(t, append([]string{"leg", legFrom, legTo, "--json"}, arguments...)...)
		require.Equal(t, exitOK, a.code, a.err)
		var v legAnswer
		require.NoError(t, json.Unmarshal([]byte(a.out), &v))
		return v
	}
	one := answer("--dem", whole)
	t.Setenv(demVariable, tiles)
	for _, many := range []legAnswer{answer("--dem", tiles), answer("--dem", filepath.Join(tiles, "*.tif")), answer()} {
		assert.Equal(t, one.Climb.AscentM, many.Climb.AscentM)
		assert.Equal(t, one.Sight.Verdict, many.Sight.Verdict)
		assert.Equal(t, one.Sight.BlockedAtM, many.Sight.BlockedAtM)
		assert.Equal(t, one.From.ElevationM, many.From.ElevationM)
		assert.False(t, many.ElevationData.Demo)
	}
}

func TestTooLargeAQuestionIsRefused(t *testing.T) {
	a := run(t, "viewshed", legFrom, "--max-memory", "100KB")
	assert.Equal(t, exitError, a.code)
	assert.Contains(t, a.err, "--max-memory")
	assert.Equal(t, exitUsage, run(t, "leg", legFrom, legTo, "--max-memory", "lots").code)
}
