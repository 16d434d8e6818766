package gdalio

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// TestFetchedTilesAreKnownByName: the name and the spacing together.
func TestFetchedTilesAreKnownByName(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		file    string
		spacing float64 // arc-seconds
		surface dem.Surface
		stated  bool // its vertical error
	}{
		{"Copernicus_DSM_COG_10_N46_00_E007_00_DEM.tif", 1, dem.SurfaceModel, true},
		{"Copernicus_DSM_COG_30_N46_00_E007_00_DEM.tif", 3, dem.SurfaceModel, false},
		{"USGS_13_n47w122.tif", 1.0 / 3, dem.BareEarth, true},
		{"USGS_1_n47w122.tif", 1, dem.BareEarth, false},
		{"USGS_1_n47w122.tif", 30, dem.SurfaceUnknown, false}, // a reduced copy
		{"n47w122.tif", 1, dem.SurfaceUnknown, false},
	} {
		path := filepath.Join(t.TempDir(), c.file)
		f := dem.Frame{Columns: 2, Rows: 2, X0: 7, Y0: 46.5, DX: c.spacing / 3600, DY: -c.spacing / 3600, CRS: geodesy.WGS84}
		require.NoError(t, WriteGeoTIFF(t.Context(), path, &f, []Band{{Float32: make([]float32, 4)}}))
		r, err := Open(path, Options{})
		require.NoError(t, err)
		info := r.Info()
		assert.Equal(t, c.surface, info.Surface, c.file)
		assert.Equal(t, c.stated, info.VerticalError > 0, c.file)
		assert.Equal(t, c.surface != dem.SurfaceUnknown, info.Attribution != "", c.file)
		require.NoError(t, r.Close())
	}
}
