package answer

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
	"crowline/visibility/fix"
)

// TestAMarkHiddenWithinTheErrorIsNotDoubted: 2026-12-01. A fix was no place to
// walk from since a mark "would have to stand under 0.1 m higher", by heights good
// to 5.5 m. One that lacks 78 m is doubted.
func TestAMarkHiddenWithinTheErrorIsNotDoubted(t *testing.T) {
	t.Parallel()
	g, err := Open(t.Context(), Data{}, Reach{})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, g.Close()) })
	from := geodesy.LatLon{Lat: 34.3297, Lon: -118.0548}
	for _, c := range []struct {
		mark    geodesy.LatLon
		doubted bool
	}{{geodesy.LatLon{Lat: 34.30616, Lon: -118.00722}, false}, {geodesy.LatLon{Lat: 34.3008, Lon: -118.0514}, true}} {
		r := FixRequest{Sighting: DefaultSighting(), Needle: Needle{Day: lookDay}, CompassError: 2, MarkError: 15}
		for _, at := range []geodesy.LatLon{{Lat: 34.3277, Lon: -118.0574}, {Lat: 34.3115, Lon: -118.0533}, c.mark} {
			r.Bearings = append(r.Bearings, FixBearing{Mark: PlaceAt(at), Degrees: float64(geodesy.Inverse(from, at).Start)})
		}
		a, err := Fix(t.Context(), g, r)
		require.NoError(t, err)
		doubted := slices.ContainsFunc(a.Warnings, func(w FixWarning) bool { return w.Kind == fix.HiddenMark })
		assert.Equal(t, c.doubted, doubted, "%v: %v", c.mark, a.Warnings)
		last := a.Places()[0].Bearings[2]
		require.NotNil(t, last.Likely, "%v", c.mark)
		assert.Equal(t, c.doubted, last.Likely.Full().Sure(), "%v: %s", c.mark, last.Likely.Words)
		if c.doubted {
			assert.False(t, a.FitToWalkOn, "%v", c.mark)
		}
	}
}
