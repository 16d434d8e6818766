package magnetic

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

var midYear = time.Date(2026, 7, 2, 12, 0, 0, 0, time.UTC) // 2026.5

func follow(from, to geodesy.LatLon, elevation float64, day time.Time) Bearings {
	return Follow(geodesy.Inverse(from, to), from, to, elevation, Source{Day: day})
}

// TestFollow: the legs and angles are arithmetic on published models:
// GeographicLib's geodesics, PROJ's UTM convergence and WMM2025 at 2026.5.
func TestFollow(t *testing.T) {
	t.Parallel()
	b := follow(geodesy.LatLon{Lat: 46, Lon: 7.6}, geodesy.LatLon{Lat: 46.05, Lon: 7.7}, 2000, midYear)
	require.NoError(t, b.GridError)
	require.NoError(t, b.FieldError)
	require.NoError(t, b.BackError)
	assert.InDelta(t, 54.29431744, float64(b.True), 1e-6)
	assert.Equal(t, "UTM zone 32N", b.GridName)
	// grid = true - convergence (-1.00717 at 46 N 7.6 E), magnetic = true - 3.344
	assert.InDelta(t, 54.29432+1.00717, float64(b.Grid), 1e-4)
	assert.InDelta(t, 54.29432-3.344, float64(b.Magnetic), 5e-3)
	// the bearing back is not the bearing plus 180: the meridians turn by
	// difference of longitude x sin(latitude), 0.1 x sin(46.025) = 0.072
	assert.InDelta(t, 54.29432+180+0.072, float64(b.BackTrue), 1e-3)
	assert.InDelta(t, float64(b.BackTrue)-3.344, float64(b.BackMagnetic), 0.03)

	south := follow(geodesy.LatLon{Lat: -41.3, Lon: 174.7}, geodesy.LatLon{Lat: -41.2, Lon: 174.9}, 200, midYear)
	assert.Equal(t, "UTM zone 60S", south.GridName)
	assert.InDelta(t, 56.54103802-23.268, float64(south.Magnetic), 5e-3)
}

func TestFollowSaysWhatThereIsNot(t *testing.T) {
	t.Parallel()
	// a pole has no UTM grid; near the magnetic pole no compass
	pole := follow(geodesy.LatLon{Lat: 86, Lon: 140}, geodesy.LatLon{Lat: 86.1, Lon: 141}, 0, midYear)
	require.Error(t, pole.GridError)
	require.ErrorIs(t, pole.FieldError, ErrBlackout)
	late := follow(geodesy.LatLon{Lat: 46, Lon: 7.6}, geodesy.LatLon{Lat: 46.05, Lon: 7.7}, 0, time.Date(2031, 1, 1, 0, 0, 0, 0, time.UTC))
	require.Error(t, late.FieldError)
	require.NoError(t, late.GridError)
	assert.InDelta(t, 54.29431744, float64(late.True), 1e-6)
}
