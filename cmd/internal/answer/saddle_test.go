package answer

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/visibility/scene"
)

// TestANotchSaysWhichSaddleItIs: of the notches in view those that are a saddle
// say which: one that stands in the notch, with higher ground to both sides of the
// way over it. No other thing has one.
func TestANotchSaysWhichSaddleItIs(t *testing.T) {
	t.Parallel()
	g, err := Open(t.Context(), Data{}, Reach{})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, g.Close()) })
	saddles, notches := 0, 0
	for _, from := range []geodesy.LatLon{{Lat: 34.26, Lon: -118.10}, {Lat: 34.30, Lon: -118.14}, {Lat: 34.3297, Lon: -118.0548}} {
		a, err := Landmarks(t.Context(), g, LandmarksRequest{From: PlaceAt(from), Sighting: DefaultSighting(), Needle: Needle{Day: lookDay}})
		require.NoError(t, err)
		for _, thing := range a.InView {
			if thing.Kind != scene.Notch {
				assert.Nil(t, thing.Saddle, thing.Says)
				continue
			}
			notches++
			if thing.Saddle == nil {
				continue
			}
			saddles++
			at := thing.Saddle.LatLon()
			seen := geodesy.Inverse(from, at)
			const aside, along = 100.0, 0.15 // m, three posts; of the distance
			off := float64(geodesy.Difference(geodesy.TrueBearing(thing.TrueDeg), seen.Start)) * math.Pi / 180 * seen.Distance
			assert.LessOrEqual(t, math.Abs(off), aside, thing.Says)
			assert.InEpsilon(t, thing.DistanceM, seen.Distance, along, thing.Says)
			for _, side := range []geodesy.Degrees{-90, 90} {
				const relief, reach, quarter = 20.0, 1000.0, 45.0 // m, of a landform on this data; m; degrees
				highest := math.Inf(-1)
				for d := 30.0; d <= reach; d += 30 {
					for turn := -quarter; turn <= quarter; turn += 5 {
						p, _ := geodesy.Direct(at, geodesy.NewTrueBearing(geodesy.Degrees(seen.Start)+side+geodesy.Degrees(turn)), d)
						h, err := dem.ElevationAt(g.posts(t.Context()), p)
						require.NoError(t, err)
						highest = math.Max(highest, h)
					}
				}
				assert.Greater(t, highest, thing.Saddle.ElevationM+relief, "%s: ground beside its saddle, %g degrees from the line", thing.Says, float64(side))
			}
		}
	}
	assert.Positive(t, saddles)
	assert.Greater(t, notches, saddles, "a notch between a near and a far ridge is no saddle")
}
