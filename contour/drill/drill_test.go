package drill

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/demo"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

var demoGrid = sync.OnceValues(func() (*dem.Grid, error) {
	raster, err := gdalio.OpenBytes(demo.Name, demo.Bytes(), gdalio.Options{})
	if err != nil {
		return nil, err
	}
	defer raster.Close()
	return raster.Read(context.Background(), raster.Layout().Whole())
})

// ridge is high, steep ground in the middle of the demo data.
var ridge = geodesy.LatLon{Lat: 36.29, Lon: -84.27}

func demoOptions(level Level, seed uint64) Options {
	day := time.Date(2026, 5, 16, 0, 0, 0, 0, time.UTC)
	return Options{
		Around: ridge, Radius: 7000, Seed: seed, Level: level, Count: 10, Refraction: 0.13, Date: day,
		Declination: &sheet.Declination{East: -4.9, Sigma: 0.4, Annual: 0.03, Model: "WMM2025", Date: day},
	}
}

func makeDemo(t *testing.T, o Options) *Set {
	t.Helper()
	grid, err := demoGrid()
	require.NoError(t, err)
	set, err := Make(context.Background(), grid, o)
	require.NoError(t, err)
	return set
}
