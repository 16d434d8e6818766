package gdalio

import (
	"context"
	"path/filepath"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// TestReadCover: every format that holds polygons, in longitude and latitude
// and in UTM, gives back the heights and the places.
func TestReadCover(t *testing.T) {
	t.Parallel()
	utm, err := geodesy.NewCRS("EPSG:32616")
	require.NoError(t, err)
	square := func(west, south, side float64) orb.Polygon {
		return orb.Polygon{{{west, south}, {west + side, south}, {west + side, south + side}, {west, south + side}, {west, south}}}
	}
	layer := Layer{Name: "buildings", Shape: Polygons, Fields: []Field{{"tall", Real}, {"name", Text}}, Features: []Feature{
		{Geometry: square(-84.30, 36.50, 0.01), Values: []any{12.5, "hall"}},
		{Geometry: square(-84.28, 36.50, 0.01), Values: []any{30.0, "tower"}},
		{Geometry: square(-84.26, 36.50, 0.01), Values: []any{nil, "not measured"}},
		{Geometry: square(-84.24, 36.50, 0.01), Values: []any{-9999.0, "void"}},
	}}
	for _, file := range []string{"a.gpkg", "a.geojson", "a.fgb", "a.shp"} {
		for _, crs := range []*geodesy.CRS{nil, utm} {
			if file == "a.geojson" && crs != nil {
				continue
			}
			path := filepath.Join(t.TempDir(), file)
			driver, err := VectorDriver(path)
			require.NoError(t, err)
			l := layer
			l.CRS = crs
			require.NoError(t, WriteFeatures(t.Context(), path, driver, l))
			polygons, passed, err := ReadCover(t.Context(), path, "tall", "")
			require.NoError(t, err, file)
			assert.Equal(t, 2, passed, file)
			cover, err := dem.PolygonCover(polygons)
			require.NoError(t, err)
			above, err := cover.AboveGround([]geodesy.LatLon{{Lat: 36.505, Lon: -84.295}, {Lat: 36.505, Lon: -84.275}, {Lat: 36.505, Lon: -84.255}})
			require.NoError(t, err)
			assert.Equal(t, []float64{12.5, 30, 0}, above, file)
			feet, _, err := ReadCover(t.Context(), path, "tall", "ft")
			require.NoError(t, err)
			assert.InDelta(t, 12.5*0.3048, feet[0].AboveGround+feet[1].AboveGround-30*0.3048, 1e-9)

			_, _, err = ReadCover(t.Context(), path, "height", "")
			require.ErrorContains(t, err, `no layer has an attribute "height"`)
			_, _, err = ReadCover(t.Context(), path, "tall", "yd")
			require.Error(t, err)
			ctx, cancel := context.WithCancel(t.Context())
			cancel()
			_, _, err = ReadCover(ctx, path, "tall", "")
			require.ErrorIs(t, err, context.Canceled)
		}
	}
	for _, path := range []string{filepath.Join(t.TempDir(), "none.gpkg"), writeFile(t, "broken.geojson", `{"type":"Feat`), cumberland} {
		_, _, err := ReadCover(t.Context(), path, "tall", "")
		require.ErrorContains(t, err, filepath.Base(path))
	}
}
