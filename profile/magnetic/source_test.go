package magnetic

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// TestSource: a declination given by hand holds on any day, and its field is
// otherwise the model's on the nearest day of its years.
func TestSource(t *testing.T) {
	t.Parallel()
	at := geodesy.LatLon{Lat: 36, Lon: -84}
	given := Declination(14.5)
	for _, row := range []struct{ day, nearest time.Time }{
		{time.Date(1999, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)},
		{time.Date(2026, 11, 30, 0, 0, 0, 0, time.UTC), time.Date(2026, 11, 30, 0, 0, 0, 0, time.UTC)},
		{time.Date(2035, 6, 1, 0, 0, 0, 0, time.UTC), time.Date(2030, 1, 1, 0, 0, 0, 0, time.UTC)},
	} {
		model, err := WMM2025.At(at, 500, row.nearest)
		require.NoError(t, err)
		f, err := Source{Day: row.day, Given: &given, GivenSigma: 0.5}.At(at, 500)
		require.NoError(t, err)
		assert.Equal(t, given, f.Declination)
		assert.Equal(t, geodesy.Degrees(0.5), f.DeclinationSigma)
		assert.True(t, math.IsNaN(float64(f.AnnualChange)))
		assert.True(t, f.Given)
		assert.Equal(t, model.Horizontal, f.Horizontal)
		plain, err := Source{Day: row.day}.At(at, 500)
		if row.day.Equal(row.nearest) {
			require.NoError(t, err)
			assert.Equal(t, model, plain)
		} else {
			assert.ErrorAs(t, err, new(*DateError))
		}
	}
	// near the magnetic pole no declination makes a compass of use
	pole := geodesy.LatLon{Lat: 86, Lon: 140}
	b := Follow(geodesy.Inverse(pole, at), pole, at, 0, Source{Day: time.Date(2035, 1, 1, 0, 0, 0, 0, time.UTC), Given: &given})
	assert.ErrorIs(t, b.FieldError, ErrBlackout)
	assert.NoError(t, b.BackError)
}
