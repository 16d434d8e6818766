package answer

import (
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

// TestBehindARadiusIsAllThatCouldRise: 2026-12-01. What stood over 100 km off was
// not looked at behind what was asked for, however high.
func TestBehindARadiusIsAllThatCouldRise(t *testing.T) {
	t.Parallel()
	crs, err := geodesy.NewCRS("EPSG:32617")
	require.NoError(t, err)
	const n, spacing = 1600, 200.0 // posts, metres
	frame := dem.Frame{Columns: n, Rows: n, X0: 340000, Y0: 4100000, DX: spacing, DY: -spacing, CRS: crs}
	for name, peak := range map[string]float64{"a far peak": 3800, "none": 0} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			h := make([]float32, n*n)
			for i := range h {
				c, r := float64(i%n), float64(i/n)
				h[i] = float32(300 + 200*math.Sin(c/9)*math.Sin(r/7) + 10*math.Sin(c*r))
				h[i] = max(h[i], float32(1000-40*math.Abs(math.Hypot(c-800, r-800)-150))) // a rim of hills, 30 km off
				h[i] = max(h[i], float32(peak-40*math.Hypot(c-1450, r-800)))              // 130 km east
			}
			path := filepath.Join(t.TempDir(), "wide.tif")
			require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), path, &frame, []gdalio.Band{{Name: "elevation", Float32: h}}))
			g, err := Open(t.Context(), Data{Paths: []string{path}}, Reach{})
			require.NoError(t, err)
			t.Cleanup(func() { assert.NoError(t, g.Close()) })
			at, err := frame.Place(800, 800)
			require.NoError(t, err)
			r := SkylineRequest{From: PlaceAt(at), Sighting: DefaultSighting(), Needle: Needle{Day: lookDay}, Step: 1}
			r.Sighting.Eye = 300 // over the hills round it, and not the rim
			whole, err := Skyline(t.Context(), g, r)
			require.NoError(t, err)
			r.Radius = 5000
			some, err := Skyline(t.Context(), g, r)
			require.NoError(t, err)
			farthest := 0.0
			for i, want := range whole.Horizon {
				require.InDelta(t, want.AngleDeg, some.Horizon[i].AngleDeg, 1e-9)
				require.Equal(t, want.Known, some.Horizon[i].Known)
				farthest = max(farthest, want.DistanceM)
			}
			assert.Equal(t, peak > 0, farthest > 110e3, "the peak makes the skyline: %g m", farthest)
			assert.True(t, math.IsNaN(some.RadiusM), "nothing beyond what was looked at could rise")
			grid, far, err := g.readBehind(t.Context(), at, r.Radius, r.Sighting.behind(r.From, false), inSightPostBytes)
			require.NoError(t, err)
			assert.Zero(t, far)
			if peak == 0 {
				assert.Less(t, grid.Columns*grid.Rows, n*n/2, "the ground where nothing could rise was not kept")
			}
		})
	}
}
