package magnetic

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

func TestHandbookConversions(t *testing.T) {
	t.Parallel()
	// US Army TC 3-25.26 (2013): with an easterly grid-magnetic angle add to
	// go from magnetic to grid, with a westerly one subtract.
	for _, c := range []struct {
		angle          GridMagneticAngle
		magnetic, grid float64
	}{
		{9, 190, 199},
		{-8, 270, 262},
		{3.5, 338.5, 342},
		{10, 355, 5},
		{8, 355, 3},
	} {
		assert.InDelta(t, c.grid, float64(c.angle.Grid(geodesy.MagneticBearing(c.magnetic))), 1e-12, "%v", c)
		assert.InDelta(t, c.magnetic, float64(c.angle.Magnetic(geodesy.GridBearing(c.grid))), 1e-12, "%v", c)
	}
	// The same arithmetic between true and magnetic.
	assert.Equal(t, geodesy.TrueBearing(5), Declination(10).True(355))
	assert.Equal(t, geodesy.MagneticBearing(355), Declination(10).Magnetic(5))
	assert.Equal(t, geodesy.TrueBearing(262), Declination(-8).True(270))
}

func TestGridMagneticAngle(t *testing.T) {
	t.Parallel()
	// Declination at 2026.5 and the UTM convergence, worked by independent
	// programs, three decimals each.
	const printed = 1.1e-3 // degrees
	date := time.Date(2026, 7, 2, 12, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		lat, lon  geodesy.Degrees
		elevation float64
		want      float64
	}{
		{46.0, 7.6, 2000, 4.351}, {36.5785, -118.2923, 4000, 12.611}, {-41.3, 174.7, 200, 21.750},
	} {
		p := geodesy.LatLon{Lat: c.lat, Lon: c.lon}
		f, err := WMM2025.At(p, c.elevation, date)
		require.NoError(t, err)
		convergence, err := geodesy.ConvergenceAt(p)
		require.NoError(t, err)
		angle := f.Declination.GridMagnetic(convergence)
		assert.InDelta(t, c.want, float64(angle), printed, "%v", p)
		// Going round by true north is the same as going straight.
		grid := convergence.Grid(f.Declination.True(100))
		assert.InDelta(t, float64(angle.Grid(100)), float64(grid), 1e-12)
	}
}

func TestAnglesSayTheirSide(t *testing.T) {
	t.Parallel()
	assert.Equal(t, "3.3° E", Declination(3.344).String())
	assert.Equal(t, "8.5° W", Declination(-8.526).String())
	assert.Equal(t, "0.0°", Declination(-0.04).String())
	assert.Equal(t, "12.6° E", GridMagneticAngle(12.611).String())
}
