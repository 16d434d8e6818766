package cli

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestJSONIsMetricInAnyUnits: landmarks --json --units us had feet in "why".
// The JSON of every command is the same bytes with and without --units us. A
// drill and contours are left out: their contours themselves are in feet then.
func TestJSONIsMetricInAnyUnits(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	ground := smallGround(t, folder)
	route := filepath.Join(folder, "r.csv")
	require.NoError(t, os.WriteFile(route, []byte("name,lat,lon\nA,35.9950,-83.9950\nB,35.9890,-83.9880\n"), 0o600))
	const a, b = "35.9950,-83.9950", "35.9890,-83.9880"
	in := func(name string) string { return filepath.Join(folder, name) }
	for name, arguments := range map[string][]string{
		"leg":           {"leg", a, b, "--interval", "10m"},
		"sight":         {"sight", a, b},
		"sight bearing": {"sight", a, "--bearing", "120"},
		"landmarks":     {"landmarks", a, "--with-hidden"},
		"landmarks fix": {"landmarks", a, "--for-fix"},
		"viewshed":      {"viewshed", a, "--radius", "500m", "-o", in("v.tif")},
		"skyline":       {"skyline", a, "--step", "5"},
		"route":         {"route", route, "--interval", "10m"},
		"fix":           {"fix", "--bearing", b + "=130", "--bearing", "36.0000,-83.9950=10", "--altimeter", "500m"},
		"dem features":  {"dem", "features", "--around", a, "--radius", "500m", "--min-confidence", "0"},
		"dem info":      {"dem", "info"},
		"declination":   {"declination", a},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			arguments := append(arguments, "--json")
			switch name {
			case "declination":
			case "dem info":
				arguments = append(arguments, ground)
			default:
				arguments = append(arguments, "--dem", ground, "--vertical-error", "3m")
			}
			metric := run(t, arguments...)
			require.Equal(t, exitOK, metric.code, metric.err)
			us := run(t, append(arguments, "--units", "us")...)
			require.Equal(t, exitOK, us.code, us.err)
			assert.Equal(t, metric.out, us.out)
		})
	}
}
