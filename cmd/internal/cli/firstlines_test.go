package cli

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestAnswersComeFirst: what was asked stands in the first lines, before the
// places it was asked of; a route's hazards stand before its length.
func TestAnswersComeFirst(t *testing.T) {
	onDemoGround(t)
	from, to := demoFrom.LatLon.String(), demoTo.LatLon.String()
	card := filepath.Join(t.TempDir(), "route.csv")
	require.NoError(t, os.WriteFile(card, []byte("name,lat,lon\nCamp,34.3297,-118.0548\nBench,34.3008,-118.0514\n"), 0o600))
	for _, row := range []struct {
		arguments     []string
		first, before string
	}{
		{[]string{"sight", from, to}, "is hidden", "\n  from  "},
		{[]string{"sight", from, "--bearing", "138"}, "\n  seen ", "\n  from  "},
		{[]string{"skyline", from}, "\n  highest ", "\n  from  "},
		{[]string{"viewshed", from, "--radius", "2km"}, "\n  area ", "\n  from  "},
		{[]string{"landmarks", from, "--bearing", "138"}, "  sight ", "\nFrom\n"},
		{[]string{"landmarks", from}, "  sight ", "\nFrom\n"},
		{[]string{"route", card}, "  BEWARE ", "\n  walk "},
	} {
		a := run(t, row.arguments...)
		require.Equal(t, exitOK, a.code, a.err)
		first, before := strings.Index(a.out, row.first), strings.Index(a.out, row.before)
		require.NotEqual(t, -1, first, "%v", row.arguments)
		require.NotEqual(t, -1, before, "%v", row.arguments)
		assert.Less(t, first, before, "%v", row.arguments)
	}
}

// TestDriftFollowsTheErrorsGiven: on one bearing it is the distance times the
// tangent of 1.96 standard deviations, and paces go out by their share.
func TestDriftFollowsTheErrorsGiven(t *testing.T) {
	onDemoGround(t)
	var a struct {
		DistanceM float64 `json:"distance_m"`
		Drift     struct {
			OnCompassM          float64  `json:"on_compass_alone_m"`
			BySightingsM        *float64 `json:"by_sightings_m"`
			AlongM              float64  `json:"along_by_pacing_m"`
			DeclinationErrorDeg float64  `json:"declination_error_deg"`
		} `json:"drift"`
	}
	for _, row := range []struct {
		arguments      []string
		compass, paces float64
	}{
		{nil, 2, 0.05},
		{[]string{"--compass-error", "4", "--pace-error", "10"}, 4, 0.1},
	} {
		demoFillJSON(t, &a, append([]string{"leg", demoFrom.LatLon.String(), demoTo.LatLon.String(), "--json", "--marks", "0"}, row.arguments...)...)
		const nineteenInTwenty, tolerance = 1.96, 1.0 // m; the declination's error is rounded
		angle := nineteenInTwenty * math.Hypot(row.compass, a.Drift.DeclinationErrorDeg) * math.Pi / 180
		assert.InDelta(t, a.DistanceM*math.Tan(angle), a.Drift.OnCompassM, tolerance)
		assert.InDelta(t, nineteenInTwenty*row.paces*a.DistanceM, a.Drift.AlongM, tolerance)
		assert.Nil(t, a.Drift.BySightingsM, "sightings were not asked for")
	}
	assert.Equal(t, exitUsage, run(t, "leg", legFrom, legTo, "--compass-error", "50").code)
	assert.Equal(t, exitUsage, run(t, "leg", legFrom, legTo, "--full", "--chain").code)
}
