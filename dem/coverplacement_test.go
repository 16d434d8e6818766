package dem

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// layOneByOne is LayCover by its definition: a row of posts is placed on the
// ellipsoid, and looked up there.
func layOneByOne(ground *Grid, cover Cover) ([]float32, error) {
	out := make([]float32, 0, len(ground.Elevations))
	places := make([]geodesy.LatLon, ground.Columns)
	for r := range ground.Rows {
		for c := range places {
			p, err := ground.Place(float64(c), float64(r))
			if err != nil {
				return nil, err
			}
			places[c] = p
		}
		above, err := cover.AboveGround(places)
		if err != nil {
			return nil, err
		}
		for _, a := range above {
			out = append(out, float32(math.Max(0, a)))
		}
	}
	return out, nil
}

func frameIn(t *testing.T, crs string, columns, rows int, x0, y0, dx, dy float64) Frame {
	t.Helper()
	c, err := geodesy.NewCRS(crs)
	require.NoError(t, err)
	return Frame{Columns: columns, Rows: rows, X0: x0, Y0: y0, DX: dx, DY: dy, CRS: c}
}

// TestLayingCoverIsLookingUpEveryPost: the layer is, post for post and bit for
// bit, what placing every post by itself finds, in any two reference systems.
func TestLayingCoverIsLookingUpEveryPost(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name          string
		ground, cover Frame
		// unfitted: some posts cannot be placed by polynomials.
		unfitted bool
	}{
		{name: "lon lat on UTM", ground: lonLatFrame(700, 530), cover: frameIn(t, "EPSG:32617", 4000, 4000, 150000, 4060000, 21, -23)},
		{name: "UTM on lon lat", ground: frameIn(t, "EPSG:32617", 700, 530, 200000, 4050000, 30, -30), cover: lonLatFrame(3000, 3000)},
		{name: "UTM on its neighbour, northward rows", ground: frameIn(t, "EPSG:32617", 530, 700, 200000, 4000000, 30, 30), cover: frameIn(t, "EPSG:32616", 3000, 3000, 700000, 4060000, 17, -17)},
		{name: "lon lat on another datum", ground: frameIn(t, "EPSG:4267", 530, 300, -84.4, 36.6, 1.0/1200, -1.0/1200), cover: frameIn(t, "EPSG:32617", 3000, 3000, 190000, 4060000, 20, -20)},
		{name: "across the antimeridian", ground: frameIn(t, "EPSG:32660", 700, 530, 770000, 1000000, 300, -300), cover: Frame{Columns: 3000, Rows: 1500, X0: 178, Y0: 10, DX: 0.0013, DY: -0.0013, CRS: geodesy.WGS84}, unfitted: true},
		{name: "over the pole", ground: frameIn(t, "EPSG:3413", 700, 530, -140000, 100000, 400, -400), cover: Frame{Columns: 3600, Rows: 100, X0: 0.05, Y0: 89.95, DX: 0.1, DY: -0.1, CRS: geodesy.WGS84}, unfitted: true},
		{name: "beside it", ground: frameIn(t, "EPSG:32617", 600, 40, 200000, 4050000, 30, -30), cover: frameIn(t, "EPSG:32617", 100, 100, 300000, 4050000, 20, -20)},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			ground := &Grid{Frame: c.ground, Elevations: make([]float32, c.ground.Columns*c.ground.Rows)}
			canopy := &Grid{Frame: c.cover, Elevations: make([]float32, c.cover.Columns*c.cover.Rows)}
			random := rand.New(rand.NewPCG(11, 3))
			for i := range canopy.Elevations { // each cell its own
				canopy.Elevations[i] = 40 * random.Float32()
				if random.IntN(50) == 0 {
					canopy.Elevations[i] = float32(math.NaN())
				}
			}
			cells := newCellsOf(&c.ground, &c.cover)
			fitted, unfitted := 0, 0
			for row := 0; row < c.ground.Rows; row += placerSide {
				for _, s := range cells.along(row) {
					if s.fit == nil {
						unfitted++
						continue
					}
					fitted++
					// a thousandth of the hundredth of a cell that matters to nobody
					require.LessOrEqual(t, s.fit.errorBound, 1e-5)
					for range 200 {
						column := []float64{float64(s.from) + random.Float64()*float64(s.to-s.from-1)}
						at := []float64{float64(row) + random.Float64()*float64(min(placerSide, c.ground.Rows-row)-1)}
						x, y, err := cells.exact(column, at)
						require.NoError(t, err)
						gotX, gotY := s.fit.at(column[0], at[0])
						assert.LessOrEqual(t, math.Hypot(x[0]-gotX, y[0]-gotY), doubt*s.fit.errorBound, "between the places checked")
					}
				}
			}
			assert.Equal(t, c.unfitted, unfitted > 0, "%d squares not fitted", unfitted)
			if !c.unfitted {
				assert.Positive(t, fitted)
			}
			for _, opts := range []CoverOptions{{}, {VoidIsNothing: true}} {
				cover := RasterCover(canopy, opts)
				want, err := layOneByOne(ground, cover)
				require.NoError(t, err)
				layer, err := LayCover(t.Context(), ground, cover, LayOptions{})
				require.NoError(t, err)
				requireSameHeights(t, want, layer)
			}
		})
	}
}

func requireSameHeights(t *testing.T, want []float32, layer *CoverLayer) {
	t.Helper()
	for i, w := range want {
		if got := layer.above[i]; got != w && (got == got || w == w) {
			require.Equal(t, w, got, "post %d, %d", i%layer.ground.Columns, i/layer.ground.Columns)
		}
	}
}

// TestPostsOnTheEdgesOfCells: 10 m posts in the middle of 1 m cells laid out
// from the same corner stand on the corners of cells, and each has the cell
// that begins there, whatever rounding does.
func TestPostsOnTheEdgesOfCells(t *testing.T) {
	t.Parallel()
	ground := &Grid{Frame: frameIn(t, "EPSG:32611", 60, 50, 370005, 3809995, 10, -10), Elevations: make([]float32, 60*50)}
	canopy := &Grid{Frame: frameIn(t, "EPSG:32611", 600, 500, 370000.5, 3809999.5, 1, -1), Elevations: make([]float32, 600*500)}
	for i := range canopy.Elevations {
		canopy.Elevations[i] = float32(i)
	}
	cover := RasterCover(canopy, CoverOptions{})
	layer, err := LayCover(t.Context(), ground, cover, LayOptions{})
	require.NoError(t, err)
	want, err := layOneByOne(ground, cover)
	require.NoError(t, err)
	requireSameHeights(t, want, layer)
	rows := &rasterRows{ground: &ground.Frame, raster: cover.(rasterCover), cells: newCellsOf(&ground.Frame, &canopy.Frame)}
	above := make([]float64, 60)
	for r := range 50 {
		for c := range 60 {
			require.InDelta(t, float64((10*r+5)*600+10*c+5), layer.AboveGround(c, r), 0, "%d %d", c, r)
		}
		require.NoError(t, rows.look(r, above))
		assert.Empty(t, rows.doubtful, "none had to be placed by itself")
	}
}

// TestLayingPolygonsIsLookingUpEveryPost: no post lies within a tenth of a
// millimetre of an edge of these.
func TestLayingPolygonsIsLookingUpEveryPost(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(5, 8))
	var woods []CoverPolygon
	for range 300 {
		lon, lat := -84.4+0.25*random.Float64(), 36.4+0.2*random.Float64()
		var ring orb.Ring
		for k := range 11 {
			turn := 2 * math.Pi * float64(k%10) / 10
			ring = append(ring, orb.Point{lon + 0.006*math.Cos(turn), lat + 0.006*math.Sin(turn)})
		}
		woods = append(woods, CoverPolygon{orb.MultiPolygon{{ring}}, 5 + 30*random.Float64()})
	}
	cover, err := PolygonCover(woods)
	require.NoError(t, err)
	for name, frame := range map[string]Frame{
		"lon lat": lonLatFrame(300, 240), "UTM": frameIn(t, "EPSG:32617", 700, 530, 200000, 4050000, 30, -30),
		"another datum": frameIn(t, "EPSG:4267", 300, 240, -84.4, 36.6, 1.0/1200, -1.0/1200),
	} {
		ground := &Grid{Frame: frame, Elevations: make([]float32, frame.Columns*frame.Rows)}
		want, err := layOneByOne(ground, cover)
		require.NoError(t, err)
		layer, err := LayCover(t.Context(), ground, cover, LayOptions{})
		require.NoError(t, err)
		requireSameHeights(t, want, layer)
		assert.Positive(t, layer.Standing, name)
		assert.Positive(t, layer.Bare, name)
	}
}
