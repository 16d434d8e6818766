package cli

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

func TestParseCRS(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		"": "", "EPSG:32616": "EPSG:32616", "epsg: 32616": "EPSG:32616", " 32616": "EPSG:32616", "EPSG:4326+5773": "EPSG:4326+5773",
		"+proj=utm +zone=16 +type=crs": "+proj=utm +zone=16 +type=crs",
	} {
		got, err := parseCRS("--crs", text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got)
	}
	for text, says := range map[string]string{
		"foo": "write a code", "WGS84": "write a code", "EPSG:99999": "no such code", "99999": "no such code", "EPSG:5703": "neither longitude",
	} {
		_, err := parseCRS("--crs", text)
		require.ErrorContains(t, err, says)
		assert.Equal(t, exitUsage, exitCode(err), text)
	}
}

// TestConfigsUnits: the user's own units are those of the text where the
// command line names none.
func TestConfigsUnits(t *testing.T) {
	onDemoGround(t)
	from, to := demoFrom.LatLon.String(), demoTo.LatLon.String()
	path := filepath.Join(t.TempDir(), "config.json")
	require.NoError(t, os.WriteFile(path, []byte(`{"units":"us","height_unit":"ft"}`), 0o600))
	want := run(t, "leg", from, to, "--marks", "0", "--units", "us")
	require.Equal(t, exitOK, want.code, want.err)
	metric := run(t, "leg", from, to, "--marks", "0")
	t.Setenv(configVariable, path)
	got := run(t, "leg", from, to, "--marks", "0")
	assert.Equal(t, want.out, got.out, "and the demo data's heights are in metres")
	assert.Equal(t, metric.out, run(t, "leg", from, to, "--marks", "0", "--units", "metric").out)
	assert.Contains(t, run(t, "dem", "get", "--list").out, "ft, one standard deviation")
	for _, arguments := range [][]string{{"dem", "get", "--list"}, {"dem", "index", "."}, {"declination", legFrom}, {"dem", "info"}} {
		a := run(t, append(arguments, "--units", "yards")...)
		assert.Equal(t, exitUsage, a.code, "%v", arguments)
		assert.Contains(t, a.err, "metric or us")
	}
}

// FuzzParseCRS: what is taken is a system that the library takes too; what is
// not is wrong usage, in a line.
func FuzzParseCRS(f *testing.F) {
	for _, s := range []string{"EPSG:32616", "32616", " epsg: 4326+5773", "+proj=utm +zone=16 +type=crs", "WGS84", "EPSG:", `GEOGCS["a"]`,
		"", " 32617 ", "epsg: 26917+5703", "EPSG:1", "32617.0", "EPSG:32617+"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		definition, err := parseCRS("--crs", s)
		if err != nil {
			assert.Equal(t, exitUsage, exitCode(err))
			assert.NotContains(t, oneLine(err), "\n")
			return
		}
		again, err := parseCRS("--crs", definition)
		assert.NoError(t, err, "%q", s)
		assert.Equal(t, definition, again, "%q", s)
		if definition != "" {
			_, err = geodesy.NewCRS(definition)
			assert.NoError(t, err, "%q", s)
		}
	})
}
