package cumberland_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/testdata/cumberland"
)

func open(t *testing.T) (*gdalio.Raster, *dem.Grid) {
	t.Helper()
	r, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, r.Close()) })
	g, err := r.Read(t.Context(), r.Layout().Whole())
	require.NoError(t, err)
	return r, g
}

func TestWhatItSaysOfItself(t *testing.T) {
	t.Parallel()
	r, g := open(t)
	info := g.Source
	assert.Equal(t, 403, g.Columns)
	assert.Equal(t, 344, g.Rows)
	assert.Equal(t, "Int16", info.DataType)
	assert.Equal(t, "metre", info.VerticalUnit)
	assert.True(t, info.VerticalUnitStated)
	assert.Equal(t, cumberland.VerticalError, info.VerticalError)
	assert.Contains(t, info.VerticalErrorSource, "SRTM")
	assert.Equal(t, dem.SurfaceModel, info.Surface)
	assert.Empty(t, info.Warnings)
	require.NotNil(t, info.NoData)
	assert.Equal(t, -32768.0, *info.NoData)
	assert.False(t, info.PixelIsPoint)
	s, err := dem.Count(t.Context(), r, dem.CensusOptions{})
	require.NoError(t, err)
	assert.Equal(t, int64(403*344), s.Posts)
	assert.Zero(t, s.Voids)
	// extremes of the array as numpy gives them
	assert.Equal(t, 236.0, s.Lowest.Elevation)
	assert.Equal(t, 1076.0, s.Highest.Elevation)
}

// TestPostsStandOnWholeArcSeconds: SRTM's posts are at whole multiples of
// their spacing.
func TestPostsStandOnWholeArcSeconds(t *testing.T) {
	t.Parallel()
	_, g := open(t)
	const tolerance = 1e-6 // of a post; the file's doubles
	for _, v := range []float64{g.X0 * 1200, g.Y0 * 1200} {
		assert.InDelta(t, math.Round(v), v, tolerance)
	}
	assert.InDelta(t, 1.0/1200, g.DX, 1e-12)
	assert.InDelta(t, -1.0/1200, g.DY, 1e-12)
}

// TestTheGroundIsWhereItIs holds the georeference to places on the ground
// (coordinates from the US Geographic Names Information System).
func TestTheGroundIsWhereItIs(t *testing.T) {
	t.Parallel()
	r, g := open(t)
	extreme := func(place geodesy.LatLon, radius float64, better func(a, b float64) bool) (float64, geodesy.LatLon) {
		w, err := dem.WindowAround(g.Layout(), []geodesy.LatLon{place}, radius)
		require.NoError(t, err)
		best, at := math.NaN(), place
		for row := w.Row; row < w.Row+w.Rows; row++ {
			for column := w.Column; column < w.Column+w.Columns; column++ {
				q, err := g.Place(float64(column), float64(row))
				require.NoError(t, err)
				h := g.Elevation(column, row)
				if geodesy.Inverse(place, q).Distance <= radius && (math.IsNaN(best) || better(h, best)) {
					best, at = h, q
				}
			}
		}
		return best, at
	}
	lower := func(a, b float64) bool { return a < b }

	t.Run("Norris Dam: lake above, river below", func(t *testing.T) {
		dam := geodesy.LatLon{Lat: 36.2242, Lon: -84.0925}
		river, at := extreme(dam, 400, lower)
		assert.Less(t, river, 265.0)
		assert.Less(t, at.Lat, dam.Lat, "the river leaves the dam southward")
		upstream, _ := geodesy.Direct(dam, 15, 400)
		h, err := dem.ElevationAt(g, upstream)
		require.NoError(t, err)
		assert.InDelta(t, 305, h, 2) // flattened lake, 6 m under the full pool of 1020 ft
	})
	t.Run("Cross Mountain is the highest ground", func(t *testing.T) {
		s, err := dem.Count(t.Context(), r, dem.CensusOptions{})
		require.NoError(t, err)
		// 3534 ft by the national map; within SRTM's error
		assert.InDelta(t, 3534*0.3048, s.Highest.Elevation, cumberland.VerticalError)
	})
	t.Run("towns lie in the valley", func(t *testing.T) {
		for name, p := range map[string]geodesy.LatLon{
			"La Follette": {Lat: 36.3828, Lon: -84.1200},
			"Jacksboro":   {Lat: 36.3300, Lon: -84.1840},
			"Caryville":   {Lat: 36.2990, Lon: -84.2230},
			"Rocky Top":   {Lat: 36.2176, Lon: -84.1547},
		} {
			h, err := dem.ElevationAt(g, p)
			require.NoError(t, err, name)
			assert.Less(t, h, 345.0, name)
			assert.Greater(t, h, 250.0, name)
		}
	})
	t.Run("the river runs out southward", func(t *testing.T) {
		lowest := func(row int) float64 {
			h := math.Inf(1)
			for column := range g.Columns {
				h = min(h, g.Elevation(column, row))
			}
			return h
		}
		assert.Less(t, lowest(g.Rows-1), lowest(0)-100)
	})
}

func TestBytesAreACopy(t *testing.T) {
	t.Parallel()
	a := cumberland.Bytes()
	a[0] = 'x'
	assert.NotEqual(t, a[0], cumberland.Bytes()[0])
}
