package answer

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/visibility"
)

// TestHiddenSummitsOfLargeGroundAreListedWhenAskedFor: as JSON has them unasked of
// ground that is not large, and within a radius that is not.
func TestHiddenSummitsOfLargeGroundAreListedWhenAskedFor(t *testing.T) {
	t.Parallel()
	g, err := Open(t.Context(), Data{}, Reach{})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, g.Close()) })
	r := LandmarksRequest{From: PlaceAt(geodesy.LatLon{Lat: 34.3297, Lon: -118.0548}), Sighting: DefaultSighting(), Needle: Needle{Day: lookDay}, Within: 2, HiddenToo: true}
	hidden := func(a *LandmarksAnswer) (n int) {
		for _, m := range a.Marks {
			if m.Sight.Verdict == visibility.Hidden {
				n++
			}
		}
		return n
	}
	small, err := Landmarks(t.Context(), g, r)
	require.NoError(t, err)
	assert.False(t, small.HiddenLeftOut)
	assert.Greater(t, hidden(small), 50)
	w := dem.Window{Columns: 30e3, Rows: 30e3}
	assert.True(t, r.leavesOut(w))
	r.Hidden = true
	assert.False(t, r.leavesOut(w))
	r.Hidden, r.HiddenToo = false, false
	assert.False(t, r.leavesOut(w), "nobody takes them for listed")
}
