package demo_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/demo"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

func open(t *testing.T) (*gdalio.Raster, *dem.Grid) {
	t.Helper()
	r, err := gdalio.OpenBytes(demo.Name, demo.Bytes(), gdalio.Options{})
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
	assert.Equal(t, 640, g.Columns)
	assert.Equal(t, 640, g.Rows)
	assert.Equal(t, "EPSG:32611", g.CRS.Code)
	assert.Equal(t, 30.0, g.DX)
	assert.Equal(t, -30.0, g.DY)
	assert.Equal(t, "Int16", info.DataType)
	assert.Equal(t, "metre", info.VerticalUnit)
	assert.True(t, info.VerticalUnitStated)
	assert.Equal(t, demo.VerticalError, info.VerticalError)
	assert.Contains(t, info.VerticalErrorSource, "measured for SRTM in North America")
	assert.Equal(t, dem.SurfaceModel, info.Surface)
	assert.Empty(t, info.Warnings)
	require.NotNil(t, info.NoData)
	assert.Equal(t, 32767.0, *info.NoData)
	s, err := dem.Count(t.Context(), r, dem.CensusOptions{})
	require.NoError(t, err)
	assert.Equal(t, int64(640*640), s.Posts)
	assert.Zero(t, s.Voids)
	// extremes as gdalinfo -stats gives them
	assert.Equal(t, 640.0, s.Lowest.Elevation)
	assert.Equal(t, 2295.0, s.Highest.Elevation)
}

// TestTheGroundIsWhereItIs holds the georeference to tops of the map: places
// and heights of the US Geographic Names Information System, quoted from
// memory.
func TestTheGroundIsWhereItIs(t *testing.T) {
	t.Parallel()
	const (
		foot   = 0.3048
		around = 150.0                  // m: the top is sought within this
		near   = 60.0                   // m: two posts, and a place given to 4 decimals
		high   = 2 * demo.VerticalError // m
	)
	_, g := open(t)
	for name, top := range map[string]struct {
		at        geodesy.LatLon
		elevation float64
	}{
		"Pacifico Mountain": {geodesy.LatLon{Lat: 34.3820, Lon: -118.0348}, 7124 * foot},
		"Strawberry Peak":   {geodesy.LatLon{Lat: 34.2836, Lon: -118.1204}, 6164 * foot},
	} {
		w, err := dem.WindowAround(g.Layout(), []geodesy.LatLon{top.at}, around)
		require.NoError(t, err)
		var best float64
		var at geodesy.LatLon
		for row := w.Row; row < w.Row+w.Rows; row++ {
			for column := w.Column; column < w.Column+w.Columns; column++ {
				if h := g.Elevation(column, row); h > best {
					best = h
					at, err = g.Place(float64(column), float64(row))
					require.NoError(t, err)
				}
			}
		}
		assert.InDelta(t, top.elevation, best, high, name)
		assert.Less(t, geodesy.Inverse(top.at, at).Distance, near, name)
	}
}

func TestBytesAreACopy(t *testing.T) {
	t.Parallel()
	a := demo.Bytes()
	a[0] = 'x'
	assert.NotEqual(t, a[0], demo.Bytes()[0])
}
