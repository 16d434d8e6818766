package landform

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// A hollow whose floor is posts of one height holds water, probably, and is told
// as a lake; one of the same depth without a level floor is a hollow.
func TestALevelFloorIsWater(t *testing.T) {
	t.Parallel()
	crs, err := geodesy.NewCRS("EPSG:32633")
	require.NoError(t, err)
	const side, post = 101, 30.0
	made := func(floor float64) *dem.Grid {
		g := &dem.Grid{Frame: dem.Frame{Columns: side, Rows: side, X0: 500000, Y0: 5000000, DX: post, DY: -post, CRS: crs},
			Window: dem.Window{Columns: side, Rows: side}, Elevations: make([]float32, side*side)}
		for i := range g.Elevations {
			x, y := post*float64(i%side-side/2), post*float64(i/side-side/2)
			g.Elevations[i] = float32(math.Max(floor, 500+0.1*math.Hypot(x, y)))
		}
		return g
	}
	for _, row := range []struct {
		floor float64
		water bool
		name  string
	}{{0, false, "bottom of a depression"}, {530, true, acrossWater}} {
		g := made(row.floor)
		o, err := FeatureOptions{Scale: 500, MinRelief: 20}.Resolve(g)
		require.NoError(t, err)
		list, err := Features(context.Background(), g, o)
		require.NoError(t, err)
		var path []PathPoint
		for c := 0; c < side; c++ {
			path = append(path, PathPoint{Position: Position{Column: float64(c), Row: side / 2}, Distance: post * float64(c), Elevation: float64(g.Elevations[side/2*side+c])})
		}
		passed, err := Along(&g.Frame, path, list, AlongOptions{Scale: o.Scale, MinRelief: o.MinRelief})
		require.NoError(t, err)
		found := false
		for _, f := range list {
			if f.Kind == Depression {
				found = true
				assert.Equal(t, row.water, f.Level)
			}
		}
		require.True(t, found)
		var names []string
		for _, p := range passed {
			names = append(names, p.Name)
		}
		assert.Contains(t, names, row.name)
	}
}
