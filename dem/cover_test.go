package dem

import (
	"context"
	"errors"
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// TestCoverStandsOnTheGround: a raster of another spacing and CRS, and
// polygons; clearings are bare, and the cell an observer stands in always.
func TestCoverStandsOnTheGround(t *testing.T) {
	t.Parallel()
	ground := tilted(lonLatFrame(60, 50))
	canopy := &Grid{Frame: utmFrame(t, 400, 400), Elevations: make([]float32, 400*400)}
	middle, err := ground.Place(30, 25)
	require.NoError(t, err)
	x, y, err := canopy.CRS.Coordinates(middle)
	require.NoError(t, err)
	// 10 m cells about the middle: 20 m trees west of it, nothing east, one
	// cell not known
	canopy.DX, canopy.DY = 10, -10
	canopy.X0, canopy.Y0 = x-2000, y+2000
	for i := range canopy.Elevations {
		if i%400 < 200 {
			canopy.Elevations[i] = 20
		}
	}
	observer, err := ground.Place(20.5, 20.5)
	require.NoError(t, err)
	wood, err := ground.Place(25, 30)
	require.NoError(t, err)
	c, err := NewCovered(ground, RasterCover(canopy, CoverOptions{}), Clearing{Centre: observer}, Clearing{Centre: wood, Radius: 200})
	require.NoError(t, err)
	clearings := []Clearing{{Centre: observer}, {Centre: wood, Radius: 200}}
	var reports []int64
	layer, err := LayCover(t.Context(), ground, RasterCover(canopy, CoverOptions{}), LayOptions{Progress: func(done, total int64) {
		reports = append(reports, done)
		assert.EqualValues(t, ground.Rows, total)
	}})
	require.NoError(t, err)
	require.Len(t, reports, ground.Rows)
	assert.IsIncreasing(t, reports)
	all, err := layer.Grid(t.Context(), clearings...)
	require.NoError(t, err)
	laid, err := layer.Covered(clearings...)
	require.NoError(t, err)
	standing, bare, unknown := int64(0), int64(0), int64(0)
	for r := range 50 {
		for col := range 60 {
			p, err := ground.Place(float64(col), float64(r))
			require.NoError(t, err)
			got := c.Elevation(col, r)
			if math.IsNaN(got) {
				assert.True(t, math.IsNaN(all.Elevation(col, r)))
				assert.True(t, math.IsNaN(laid.Elevation(col, r)))
			} else {
				assert.InDelta(t, got, all.Elevation(col, r), 0, "the same to the last bit")
				assert.InDelta(t, got, laid.Elevation(col, r), 0)
			}
			switch above := layer.AboveGround(col, r); {
			case above == 20:
				standing++
			case above == 0:
				bare++
			default:
				assert.True(t, math.IsNaN(above))
				unknown++
			}
			cc, cr, err := canopy.Locate(p)
			require.NoError(t, err)
			want := ground.Elevation(col, r)
			switch {
			case (col == 20 || col == 21) && (r == 20 || r == 21), geodesy.Inverse(wood, p).Distance <= 200:
			case cc < -0.5 || cr < -0.5 || cc >= 399.5 || cr >= 399.5:
				want = math.NaN()
			case cc < 199.5:
				want += 20
			}
			if math.IsNaN(want) {
				assert.True(t, math.IsNaN(got), "%d %d", col, r)
			} else {
				assert.InDelta(t, want, got, 1e-3, "%d %d", col, r) // m, float32
			}
		}
	}
	require.NoError(t, c.Err())
	require.NoError(t, laid.Err())
	assert.Equal(t, []int64{standing, bare, unknown}, []int64{layer.Standing, layer.Bare, layer.Unknown})
	assert.InDelta(t, 20, layer.Highest, 0)
	assert.True(t, math.IsNaN(layer.AboveGround(60, 0)) && math.IsNaN(layer.AboveGround(0, -1)))
	open, err := NewCovered(ground, RasterCover(canopy, CoverOptions{VoidIsNothing: true}))
	require.NoError(t, err)
	assert.InDelta(t, ground.Elevation(0, 0), open.Elevation(0, 0), 0)
	assert.True(t, math.IsNaN(open.Elevation(-1, 0)))

	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = LayCover(ctx, ground, RasterCover(canopy, CoverOptions{}), LayOptions{})
	require.ErrorIs(t, err, context.Canceled)
	_, err = layer.Grid(ctx)
	require.ErrorIs(t, err, context.Canceled)
}

func TestPolygonCover(t *testing.T) {
	t.Parallel()
	square := func(west, south, side float64) orb.MultiPolygon {
		return orb.MultiPolygon{{{{west, south}, {west + side, south}, {west + side, south + side}, {west, south + side}, {west, south}}}}
	}
	yard := square(-84.30, 36.50, 0.02)
	yard[0] = append(yard[0], square(-84.295, 36.505, 0.01)[0][0]) // with a court
	cover, err := PolygonCover([]CoverPolygon{{yard, 12}, {square(-84.29, 36.51, 0.001), 30}, {square(-85, 36, 0.9), 2}})
	require.NoError(t, err)
	above, err := cover.AboveGround([]geodesy.LatLon{
		{Lat: 36.501, Lon: -84.299}, {Lat: 36.509, Lon: -84.289}, {Lat: 36.507, Lon: -84.292}, {Lat: 36.5105, Lon: -84.2895}, {Lat: 36.5, Lon: -84.5}, {Lat: 40, Lon: 0},
	})
	require.NoError(t, err)
	assert.Equal(t, []float64{12, 2, 2, 30, 2, 0}, above)
	for _, h := range []float64{-1, math.NaN(), math.Inf(1)} {
		_, err := PolygonCover([]CoverPolygon{{yard, h}})
		require.Error(t, err)
	}
	_, err = PolygonCover([]CoverPolygon{{square(math.NaN(), 0, 1), 3}})
	require.Error(t, err)
	ground := tilted(lonLatFrame(10, 10))
	_, err = NewCovered(ground, cover, Clearing{Radius: math.NaN()})
	require.Error(t, err)
}

func TestCoverWarning(t *testing.T) {
	t.Parallel()
	assert.Contains(t, CoverWarning(Info{Surface: SurfaceModel}), "counted twice")
	assert.Contains(t, CoverWarning(Info{}), "may be counted twice")
	assert.Empty(t, CoverWarning(Info{Surface: BareEarth}))
}

// TestGroundUnderCover: what stands is told from the ground under it, however
// the cover was laid, and a failed read of either is an error, not a void.
func TestGroundUnderCover(t *testing.T) {
	t.Parallel()
	ground := tilted(lonLatFrame(12, 10))
	ground.Filled = make([]bool, 120)
	ground.Filled[3*12+4] = true
	trees := tilted(lonLatFrame(12, 10))
	layer, err := LayCover(t.Context(), ground, RasterCover(trees, CoverOptions{}), LayOptions{})
	require.NoError(t, err)
	place, err := ground.Place(6.5, 5.5)
	require.NoError(t, err)
	grid, err := layer.Grid(t.Context(), Clearing{Centre: place})
	require.NoError(t, err)
	covered, err := layer.Covered(Clearing{Centre: place})
	require.NoError(t, err)
	assert.Nil(t, ground.Under())
	assert.Nil(t, NewBlocks(t.Context(), &memorySource{grid: ground}, 0).Under())
	for _, posts := range []Posts{grid, covered} {
		bare := posts.Under()
		require.NotNil(t, bare)
		for r := range 10 {
			for c := range 12 {
				assert.InDelta(t, ground.Elevation(c, r), bare.Elevation(c, r), 0)
				want := trees.Elevation(c, r)
				if (c == 6 || c == 7) && (r == 5 || r == 6) {
					want = 0
				}
				assert.InDelta(t, want, Standing(posts.Elevation(c, r), bare.Elevation(c, r)), 1e-4) // m: float32
			}
		}
	}
	assert.InDelta(t, ground.Elevation(4, 2), grid.Every(2).Bare.Elevation(2, 1), 0)
	assert.True(t, math.IsNaN(grid.Unfilled().Bare.Elevation(4, 3)))

	nan := math.NaN()
	assert.Zero(t, Standing(100, 100))
	assert.Zero(t, Standing(100.0004, 100), "rounding")
	assert.Zero(t, Standing(nan, nan), "no ground to stand on")
	assert.True(t, math.IsNaN(Standing(nan, 100)))
	assert.InDelta(t, 12, Standing(112, 100), 0)

	broken := errors.New("torn off")
	blocks := NewBlocks(t.Context(), &memorySource{grid: ground, fail: func(Window) error { return broken }}, 0)
	over, err := NewCovered(blocks, RasterCover(trees, CoverOptions{}))
	require.NoError(t, err)
	assert.True(t, math.IsNaN(over.Elevation(1, 1)))
	require.ErrorIs(t, over.Err(), broken)
}
