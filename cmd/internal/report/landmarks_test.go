package report

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/answer"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/testdata/cumberland"
	"crowline/visibility/scene"
)

// TestEveryBearingHasSomethingToSight: "None is visible" stood beside a skyline
// that was there to be sighted. On every bearing the first lines say what to
// sight or what to do, and the skyline is told where ground is known.
func TestEveryBearingHasSomethingToSight(t *testing.T) {
	t.Parallel()
	for _, ground := range []struct {
		paths []string
		from  geodesy.LatLon
	}{
		{nil, geodesy.LatLon{Lat: 34.3297, Lon: -118.0548}},
		{nil, geodesy.LatLon{Lat: 34.3150, Lon: -118.0650}},
		{[]string{cumberland.Path()}, geodesy.LatLon{Lat: 36.26, Lon: -84.295}},
	} {
		g, err := answer.Open(t.Context(), answer.Data{Paths: ground.paths}, answer.Reach{})
		require.NoError(t, err)
		t.Cleanup(func() { _ = g.Close() })
		for bearing := 7.0; bearing < 360; bearing += 45 {
			r := answer.LandmarksRequest{From: answer.PlaceAt(ground.from), Heading: &answer.Heading{Deg: bearing}, Within: 2, Sighting: answer.DefaultSighting(), Needle: answer.Needle{Day: time.Date(2026, 12, 1, 0, 0, 0, 0, time.UTC)}, Radius: 10e3}
			a, err := answer.Landmarks(t.Context(), g, r)
			require.NoError(t, err)
			require.NotNil(t, a.Along.Skyline, "%v on %v", ground.from, bearing)
			assert.NotEmpty(t, a.Along.Skyline.Says)
			if best := a.Along.Best; best != nil {
				assert.LessOrEqual(t, best.OffBearingDeg, r.Within)
				assert.GreaterOrEqual(t, best.OffBearingDeg, -r.Within)
				assert.GreaterOrEqual(t, best.DistanceM, float64(nearSkyline))
			}
			var b bytes.Buffer
			p := NewPage(&b, units.Metric)
			Landmarks(p, a, 3, false)
			first, rest, _ := strings.Cut(b.String(), "\n\n")
			assert.True(t, strings.HasPrefix(first, "  sight "), first)
			sight, onTheWay, _ := strings.Cut(first, "\n  on the way ")
			const most, mostOnTheWay = 3, 2 // lines
			assert.LessOrEqual(t, strings.Count(sight, "\n")+1, most, first)
			assert.LessOrEqual(t, strings.Count(onTheWay, "\n")+1, mostOnTheWay, first)
			if o := a.Along.OnTheWay; o != nil {
				assert.Contains(t, first, "on the way  from ")
				assert.LessOrEqual(t, math.Abs(o.OffBearingDeg), float64(scene.Fist))
				assert.True(t, o.Likely.Full().LikelySeen())
				assert.LessOrEqual(t, o.AtM, a.Along.OnTheWayToM)
			} else {
				assert.Contains(t, first, "on the way  nothing better shows in the next "+units.Metric.Distance(a.Along.OnTheWayToM))
			}
			assert.NotContains(t, rest, "None is visible")
			t.Log(bearing, "\n"+first)
		}
	}
}
