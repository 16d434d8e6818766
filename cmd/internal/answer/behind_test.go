package answer

import (
	"fmt"
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
			path, folder := filepath.Join(t.TempDir(), "wide.tif"), t.TempDir()
			require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), path, &frame, []gdalio.Band{{Name: "elevation", Float32: h}}))
			whole := &dem.Grid{Frame: frame, Elevations: h}
			const tiles, side = 4, n / 4
			for i := range tiles * tiles {
				tile(t, filepath.Join(folder, fmt.Sprintf("%d.tif", i)), whole, dem.Window{Column: i % tiles * side, Row: i / tiles * side, Columns: side, Rows: side})
			}
			open := func(path string, reach Reach) *Ground {
				g, err := Open(t.Context(), Data{Paths: []string{path}}, reach)
				require.NoError(t, err)
				t.Cleanup(func() { assert.NoError(t, g.Close()) })
				return g
			}
			at, err := frame.Place(800, 800)
			require.NoError(t, err)
			r := SkylineRequest{From: PlaceAt(at), Sighting: DefaultSighting(), Needle: Needle{Day: lookDay}, Step: 1}
			r.Sighting.Eye = 300 // over the hills round it, and not the rim
			all, err := Skyline(t.Context(), open(path, Reach{}), r)
			require.NoError(t, err)
			r.Radius = 5000
			for _, path := range []string{path, folder} {
				some, err := Skyline(t.Context(), open(path, r.Reach()), r)
				require.NoError(t, err)
				farthest := 0.0
				for i, want := range all.Horizon {
					require.InDelta(t, want.AngleDeg, some.Horizon[i].AngleDeg, 1e-9)
					require.Equal(t, want.Known, some.Horizon[i].Known)
					farthest = max(farthest, some.Horizon[i].DistanceM)
				}
				assert.Equal(t, peak > 0, farthest > 110e3, "the peak makes the skyline: %g m", farthest)
				assert.True(t, math.IsNaN(some.RadiusM), "nothing beyond what was looked at could rise")
				marks := LandmarksRequest{From: r.From, Sighting: r.Sighting, Needle: r.Needle, Radius: 40e3, Within: 2}
				listed, err := Landmarks(t.Context(), open(path, marks.Reach()), marks)
				require.NoError(t, err)
				assert.True(t, math.IsNaN(listed.LookedToM))
			}
			look := LookRequest{From: r.From, Sighting: r.Sighting, Needle: r.Needle, Heading: Heading{Deg: 90}, Radius: 5000}
			far1, err := Look(t.Context(), open(path, look.Reach()), look)
			require.NoError(t, err)
			far2, err := Look(t.Context(), open(folder, look.Reach()), look)
			require.NoError(t, err)
			assert.Equal(t, peak > 0, far1.Ground.SkylineM > 110e3)
			assert.InDelta(t, far1.Ground.SkylineAngleDeg, far2.Ground.SkylineAngleDeg, 1e-9)
			g := open(path, Reach{})
			_, grid, far, err := g.readBehind(t.Context(), at, r.Radius, r.Sighting.behind(r.From, false), inSightPostBytes)
			require.NoError(t, err)
			assert.Zero(t, far)
			if peak == 0 {
				assert.Less(t, grid.Columns*grid.Rows, n*n/2, "the ground where nothing could rise was not kept")
			}
		})
	}
}
