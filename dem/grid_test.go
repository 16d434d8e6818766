package dem

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// tilted is a plane: 100 m at post (0, 0), 2 m a column, 3 m a row.
func tilted(f Frame) *Grid {
	g := &Grid{Frame: f, Elevations: make([]float32, f.Columns*f.Rows)}
	for r := range f.Rows {
		for c := range f.Columns {
			g.Elevations[r*f.Columns+c] = float32(100 + 2*c + 3*r)
		}
	}
	return g
}

// TestElevationOfAPlaneIsExact: bilinear interpolation keeps a plane.
func TestElevationOfAPlaneIsExact(t *testing.T) {
	t.Parallel()
	for name, f := range map[string]Frame{"lon lat": lonLatFrame(50, 40), "utm": utmFrame(t, 50, 40)} {
		g := tilted(f)
		random := rand.New(rand.NewPCG(9, 9))
		for range 300 {
			c, r := random.Float64()*49, random.Float64()*39
			p, err := g.Place(c, r)
			require.NoError(t, err)
			h, err := ElevationAt(g, p)
			require.NoError(t, err)
			// m: the transform and back is good to a nanometre or so, and
			// snap moves a place by up to a millionth of a cell
			const tolerance = 1e-5
			assert.InDelta(t, 100+2*c+3*r, h, tolerance, "%s column %v row %v", name, c, r)
		}
	}
}

func TestElevationAtPostsAndCorners(t *testing.T) {
	t.Parallel()
	g := tilted(utmFrame(t, 6, 5))
	for r := range 5 {
		for c := range 6 {
			p, err := g.Place(float64(c), float64(r))
			require.NoError(t, err)
			h, err := ElevationAt(g, p)
			require.NoError(t, err)
			assert.Equal(t, float64(100+2*c+3*r), h)
		}
	}
}

// TestVoidAndOutsideAreErrors, with a NaN at every post in turn: an answer
// is given exactly where no post that bears on it is void.
func TestVoidAndOutsideAreErrors(t *testing.T) {
	t.Parallel()
	f := lonLatFrame(4, 4)
	for i := range 16 {
		g := tilted(f)
		g.Elevations[i] = float32(math.NaN())
		voidC, voidR := i%4, i/4
		for _, at := range [][2]float64{{0, 0}, {1, 2}, {3, 3}, {0.5, 0}, {2, 1.5}, {1.5, 1.5}, {2.25, 2.75}, {0.5, 2.5}} {
			p, err := g.Place(at[0], at[1])
			require.NoError(t, err)
			bears := math.Abs(float64(voidC)-at[0]) < 1 && math.Abs(float64(voidR)-at[1]) < 1
			_, err = ElevationAt(g, p)
			if bears {
				require.ErrorIs(t, err, ErrVoid)
				assert.Contains(t, err.Error(), p.String())
			} else {
				require.NoError(t, err, "void %d,%d at %v", voidC, voidR, at)
			}
		}
	}
	g := tilted(f)
	for _, at := range [][2]float64{{-0.1, 1}, {3.1, 1}, {1, -0.1}, {1, 3.1}} {
		p, err := g.Place(at[0], at[1])
		require.NoError(t, err)
		_, err = ElevationAt(g, p)
		require.ErrorIs(t, err, ErrOutside)
		assert.Contains(t, err.Error(), p.String())
		assert.Contains(t, err.Error(), "36.5", "the extent")
	}
	assert.True(t, math.IsNaN(g.Elevation(-1, 0)) && math.IsNaN(g.Elevation(4, 0)) && math.IsNaN(g.Elevation(0, 4)))
}

// TestAgreesWithTheEdgesOfTheGroundModel: on a row or a column the height is
// that of the straight edge.
func TestAgreesWithTheEdgesOfTheGroundModel(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(10, 10))
	g := &Grid{Frame: lonLatFrame(5, 5), Elevations: make([]float32, 25)}
	for i := range g.Elevations {
		g.Elevations[i] = float32(random.Float64() * 1000)
	}
	for r := range 5 {
		for c := range 4 {
			s := random.Float64()
			assert.InDelta(t, Lerp(g.Elevation(c, r), g.Elevation(c+1, r), s), Bilinear(g, float64(c)+s, float64(r)), 1e-9)
			assert.InDelta(t, Lerp(g.Elevation(r, c), g.Elevation(r, c+1), s), Bilinear(g, float64(r), float64(c)+s), 1e-9)
		}
	}
}

func TestAntimeridianAndZeroTo360(t *testing.T) {
	t.Parallel()
	across := tilted(Frame{Columns: 21, Rows: 3, X0: 179, Y0: 1, DX: 0.1, DY: -1, CRS: geodesy.WGS84})
	for _, c := range []struct{ lon, column float64 }{{179.5, 5}, {-179.5, 15}, {-180, 10}} {
		h, err := ElevationAt(across, geodesy.LatLon{Lat: 1, Lon: geodesy.Degrees(c.lon)})
		require.NoError(t, err)
		assert.InDelta(t, 100+2*c.column, h, 1e-5)
	}
	east := tilted(Frame{Columns: 360, Rows: 3, X0: 0, Y0: 1, DX: 1, DY: -1, CRS: geodesy.WGS84})
	h, err := ElevationAt(east, geodesy.LatLon{Lat: 1, Lon: -90})
	require.NoError(t, err)
	assert.InDelta(t, 100+2*270, h, 1e-5)
}
