package dem

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// TestWindowAroundHoldsEveryPostInReach compares with the plain definition:
// every post within the margin is in the window, and the window is no more
// than two rows or columns larger than those posts need.
func TestWindowAroundHoldsEveryPostInReach(t *testing.T) {
	t.Parallel()
	mercator, err := geodesy.NewCRS("EPSG:3857")
	require.NoError(t, err)
	polar, err := geodesy.NewCRS("EPSG:3413") // NSIDC north polar stereographic
	require.NoError(t, err)
	frames := map[string]Frame{
		"middle latitude":  lonLatFrame(300, 300),
		"south up":         {Columns: 200, Rows: 200, X0: -84.4, Y0: 36.4, DX: 0.001, DY: 0.001, CRS: geodesy.WGS84},
		"80 degrees north": {Columns: 400, Rows: 100, X0: 20, Y0: 80.05, DX: 0.01, DY: -0.001, CRS: geodesy.WGS84},
		"at the pole":      {Columns: 360, Rows: 60, X0: -180, Y0: 90, DX: 1, DY: -0.01, CRS: geodesy.WGS84},
		"antimeridian":     {Columns: 200, Rows: 200, X0: 179.9, Y0: 0.1, DX: 0.001, DY: -0.001, CRS: geodesy.WGS84},
		"0 to 360":         {Columns: 360, Rows: 180, X0: 0.5, Y0: 89.5, DX: 1, DY: -1, CRS: geodesy.WGS84},
		"utm":              utmFrame(t, 200, 200),
		"mercator":         {Columns: 200, Rows: 200, X0: -9.4e6, Y0: 4.4e6, DX: 100, DY: -100, CRS: mercator},
		"over the pole":    {Columns: 200, Rows: 200, X0: -1e5, Y0: 1e5, DX: 1000, DY: -1000, CRS: polar},
	}
	for name, f := range frames {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			random := rand.New(rand.NewPCG(7, 8))
			for i := range 6 {
				place, err := f.Place(random.Float64()*float64(f.Columns-1), random.Float64()*float64(f.Rows-1))
				require.NoError(t, err)
				along, across, err := f.Spacing(float64(f.Columns)/2, float64(f.Rows)/2)
				require.NoError(t, err)
				margin := float64(i) * 7.3 * max(along, across)
				w, err := WindowAround(&f, []geodesy.LatLon{place}, margin)
				require.NoError(t, err)
				require.Equal(t, w, w.Intersect(f.Whole()))
				c0, c1, r0, r1 := f.Columns, -1, f.Rows, -1
				for r := range f.Rows {
					for c := range f.Columns {
						q, err := f.Place(float64(c), float64(r))
						require.NoError(t, err)
						if geodesy.Inverse(place, q).Distance <= margin {
							c0, c1, r0, r1 = min(c0, c), max(c1, c), min(r0, r), max(r1, r)
						}
					}
				}
				if c1 < 0 {
					continue
				}
				tight := Window{Column: c0, Row: r0, Columns: c1 - c0 + 1, Rows: r1 - r0 + 1}
				assert.Equal(t, tight, tight.Intersect(w), "margin %v round %s", margin, place)
				// a cell at each side, and the circle's part between posts
				assert.LessOrEqual(t, w.Rows, tight.Rows+4, "margin %v round %s", margin, place)
				if name != "at the pole" && name != "0 to 360" {
					assert.LessOrEqual(t, w.Columns, tight.Columns+5, "margin %v round %s", margin, place)
				}
			}
		})
	}
}

func TestWindowAroundAPlace(t *testing.T) {
	t.Parallel()
	f := lonLatFrame(100, 100)
	on, err := f.Place(10, 20)
	require.NoError(t, err)
	w, err := WindowAround(&f, []geodesy.LatLon{on}, 0)
	require.NoError(t, err)
	assert.Equal(t, Window{Column: 10, Row: 20, Columns: 1, Rows: 1}, w)
	between, err := f.Place(10.4, 20.6)
	require.NoError(t, err)
	w, err = WindowAround(&f, []geodesy.LatLon{between, on}, 0)
	require.NoError(t, err)
	assert.Equal(t, Window{Column: 10, Row: 20, Columns: 2, Rows: 2}, w)
	// the far end of a leg may lie off the data
	w, err = WindowAround(&f, []geodesy.LatLon{on, {Lat: 40, Lon: 0}}, 0)
	require.NoError(t, err)
	assert.Equal(t, Window{Column: 10, Row: 20, Columns: 1, Rows: 1}, w)
}

func TestWindowAroundOutside(t *testing.T) {
	t.Parallel()
	f := lonLatFrame(100, 100)
	_, err := WindowAround(&f, []geodesy.LatLon{{Lat: 10, Lon: 10}}, 1000)
	require.ErrorIs(t, err, ErrOutside)
	assert.Contains(t, err.Error(), "10.00000,10.00000")
	_, err = WindowAround(&f, nil, 1000)
	require.ErrorIs(t, err, ErrOutside)
	for _, margin := range []float64{-1, math.NaN(), math.Inf(1)} {
		_, err = WindowAround(&f, []geodesy.LatLon{{Lat: 36.55, Lon: -84.35}}, margin)
		require.Error(t, err)
	}
}
