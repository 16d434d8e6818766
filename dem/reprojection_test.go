package dem

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// TestReprojectionIsPROJs: places turned by fits are where PROJ puts them one by
// one, also across the antimeridian, near a pole, on another datum, and where
// few lie in a square; and are the same however they come in parts.
func TestReprojectionIsPROJs(t *testing.T) {
	t.Parallel()
	const tolerance = 1.25 * placeLimit // degrees; a fit is checked to placeLimit at places of its own
	for name, c := range map[string]struct {
		crs                string
		x0, y0, wide, high float64
		fitted             bool
	}{
		"UTM":                       {"EPSG:32611", 350000, 3750000, 90000, 90000, true},
		"UTM in the south":          {"EPSG:32759", 400000, 4600000, 30000, 80000, true},
		"over the antimeridian":     {"EPSG:32660", 700000, 1000000, 200000, 50000, true},
		"polar stereographic":       {"EPSG:3413", -60000, -50000, 120000, 90000, true},
		"Lambert conformal in feet": {"EPSG:2229", 6400000, 1800000, 200000, 200000, true},
		"degrees on another datum":  {"EPSG:4267", -118.2, 34.1, 0.7, 0.5, true},
		"thinly strewn":             {"EPSG:32611", 200000, 1000000, 600000, 5000000, false},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			crs, err := geodesy.NewCRS(c.crs)
			require.NoError(t, err)
			const places = 20000
			random := rand.New(rand.NewPCG(3, 5))
			x, y := make([]float64, places), make([]float64, places)
			for i := range x {
				x[i], y[i] = c.x0+c.wide*random.Float64(), c.y0+c.high*random.Float64()
			}
			lon, lat := append([]float64{}, x...), append([]float64{}, y...)
			require.NoError(t, crs.ToWGS84(lon, lat))
			wholeX, wholeY := append([]float64{}, x...), append([]float64{}, y...)
			require.NoError(t, NewReprojection(crs).ToWGS84(wholeX, wholeY))
			r := NewReprojection(crs)
			for from := 0; from < places; {
				to := min(places, from+1+random.IntN(900))
				require.NoError(t, r.ToWGS84(x[from:to], y[from:to]))
				from = to
			}
			fitted := 0
			for _, s := range r.squares {
				if s.fit != nil {
					fitted++
				}
			}
			assert.Equal(t, c.fitted, fitted > 0, "%d of %d squares have a fit", fitted, len(r.squares))
			for i := range x {
				away := math.Abs(math.Remainder(x[i]-lon[i], 360)) * math.Cos(lat[i]*math.Pi/180)
				require.LessOrEqual(t, math.Max(away, math.Abs(y[i]-lat[i])), tolerance, "place %d, %v %v", i, lat[i], lon[i])
				require.LessOrEqual(t, math.Abs(x[i]), 180.0+tolerance)
				require.Equal(t, [2]float64{wholeX[i], wholeY[i]}, [2]float64{x[i], y[i]}, "in parts")
			}
		})
	}
}

// TestReprojectionOfNoPlace: coordinates that are no place are an error, as PROJ's
// are, whether they come first or into squares that have their fits.
func TestReprojectionOfNoPlace(t *testing.T) {
	t.Parallel()
	crs, err := geodesy.NewCRS("EPSG:32611")
	require.NoError(t, err)
	r := NewReprojection(crs)
	for range 2 {
		require.Error(t, r.ToWGS84([]float64{math.NaN()}, []float64{1}))
		require.Error(t, r.ToWGS84([]float64{1e300}, []float64{1e300}))
		for range 300 {
			require.NoError(t, r.ToWGS84([]float64{400000}, []float64{3800000}))
		}
	}
}
