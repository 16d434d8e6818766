package cli

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/answer"
	"crowline/dem/demo"
)

// TestConfigCommand: a key is checked, written whole beside what is there, shown
// with where it comes from, used by the next run, and taken out again.
func TestConfigCommand(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "new", "config.json")
	t.Setenv(configVariable, path)
	t.Setenv(demVariable, "")
	t.Chdir(folder)
	shown := func(arguments ...string) map[string]answer.ConfigKey {
		t.Helper()
		out := run(t, append([]string{"config", "--json"}, arguments...)...)
		require.Equal(t, exitOK, out.code, out.err)
		var a answer.ConfigAnswer
		require.NoError(t, json.Unmarshal([]byte(out.out), &a))
		keys := map[string]answer.ConfigKey{}
		for _, k := range a.Keys {
			keys[k.Key] = k
		}
		return keys
	}
	require.Len(t, shown(), len(configEntries))
	require.NoFileExists(t, path, "showing writes nothing")

	require.NoError(t, os.WriteFile("ground.tif", demo.Bytes(), 0o600))
	require.NoError(t, os.WriteFile("my.csv", []byte("name,lat,lon\nCamp,34.3297,-118.0548\nGoal,34.3008,-118.0514\n"), 0o600))
	for _, set := range [][]string{{"units", "us"}, {"dem", "ground.tif"}, {"places", "my.csv"}, {"pace", "70/100m"}, {"compass", "plain"}} {
		out := run(t, append([]string{"config"}, set...)...)
		require.Equal(t, exitOK, out.code, out.err)
	}
	whole := filepath.Join(folder, "ground.tif")
	assert.Equal(t, answer.ConfigKey{Key: "dem", Value: whole, From: "config file", Meaning: configEntries[0].meaning, Example: configEntries[0].example}, shown("dem")["dem"])
	t.Setenv(demVariable, "other.tif")
	assert.Equal(t, demVariable, shown("dem")["dem"].From)
	t.Setenv(demVariable, "")

	var leg struct {
		ElevationData struct {
			Name string
			Demo bool
		} `json:"elevation_data"`
		DistanceM float64 `json:"distance_m"`
		Bearing   struct {
			SetDeg *float64 `json:"set_deg"`
		}
	}
	out := run(t, "leg", "Camp", "Goal", "--json")
	require.Equal(t, exitOK, out.code, out.err)
	require.NoError(t, json.Unmarshal([]byte(out.out), &leg))
	assert.Equal(t, "ground.tif (SRTM)", leg.ElevationData.Name)
	assert.False(t, leg.ElevationData.Demo)
	assert.Contains(t, run(t, "leg", "Camp", "Goal", "--full").out, "double paces, at 64 in 100 yd", "the config's paces")
	require.NotNil(t, leg.Bearing.SetDeg, "the config's compass")

	for _, wrong := range [][]string{
		{"units", "feet"}, {"compass", "brass"}, {"pace", "many"}, {"speed", "fast"}, {"rule", "mine"}, {"interval", "-3"}, {"height_unit", "yd"},
		{"max_memory", "lots"}, {"dem", "nothing.tif"}, {"places", "nothing.gpx"}, {"sources", "[{}]"}, {"sources", "[{"}, {"sources", "nothing.json"},
		{"units", "us", "metric"}, {"frob", "1"}, {"--remove"}, {"units", "us", "--remove"},
	} {
		before, err := os.ReadFile(path)
		require.NoError(t, err)
		out := run(t, append([]string{"config"}, wrong...)...)
		assert.Equal(t, exitUsage, out.code, "%v: %s", wrong, out.err)
		after, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, string(before), string(after), "%v", wrong)
	}
	require.NoError(t, os.WriteFile(path, []byte(`{"unitz": "us", "compass": "plain"}`), 0o600))
	assert.Equal(t, exitError, run(t, "config", "units", "us").code, "it would not be a config file")
	assert.Equal(t, exitOK, run(t, "config", "unitz", "--remove").code)
	assert.Equal(t, exitError, run(t, "config", "unitz", "--remove").code, "it is not there")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "{\n  \"compass\": \"plain\"\n}\n", string(text))
}
