package answer

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/profile/sun"
)

// TestRestingIsTenMinutesInEveryHour: fifty minutes of walking take an hour.
func TestRestingIsTenMinutesInEveryHour(t *testing.T) {
	t.Parallel()
	assert.Equal(t, 10*time.Minute, resting(50*time.Minute))
	assert.Equal(t, 27*time.Minute, resting(135*time.Minute))
	assert.Zero(t, resting(0))
}

// level is ground without a hill round a place.
func level(t *testing.T, at geodesy.LatLon) *Ground {
	t.Helper()
	const posts, step = 120, 1.0 / 600
	f := dem.Frame{Columns: posts, Rows: posts, X0: float64(at.Lon) - step*posts/2, Y0: float64(at.Lat) + step*posts/2, DX: step, DY: -step, CRS: geodesy.WGS84}
	heights := make([]float32, posts*posts)
	for i := range heights {
		heights[i] = 200
	}
	return madeGround(t, &f, heights)
}

// TestTheDayIsThatOfTheStartByTheSun: whatever zone a start is told in, the
// sunset is that of the place's own day, and told in that zone.
func TestTheDayIsThatOfTheStartByTheSun(t *testing.T) {
	t.Parallel()
	california := geodesy.LatLon{Lat: 34.3, Lon: -118.05}
	g := level(t, california)
	own := time.Date(2026, 12, 5, 15, 45, 0, 0, time.FixedZone("", -8*3600))
	for _, zone := range []*time.Location{own.Location(), time.UTC, time.FixedZone("", 14*3600)} {
		l, err := g.light(t.Context(), DefaultSighting(), california, own.In(zone))
		require.NoError(t, err)
		assert.Equal(t, zone, l.Sunset.Location())
		assert.Equal(t, "16:42", Moment{l.Sunset.In(own.Location())}.Clock(), "%v", zone)
		assert.Equal(t, 5, l.Sunset.In(own.Location()).Day())
		// over the level the sun leaves the ground as it sets
		assert.Equal(t, sun.Happens, l.SunLeavesState)
		assert.InDelta(t, 0, l.Sunset.Sub(l.SunLeaves.Time).Minutes(), 3)
		assert.False(t, l.Earlier())
	}
}

// TestWhichEndOfTheDayComesFirst: by when one sets out and arrives, on a day as
// others, in a northern summer and on polar days and nights.
func TestWhichEndOfTheDayComesFirst(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name           string
		place          geodesy.LatLon
		start, arrival string
		want           DayEnd
	}{
		{"by day", geodesy.LatLon{Lat: 34.3, Lon: -118}, "2026-12-05T08:30:00-08:00", "2026-12-05T11:00:00-08:00", ""},
		{"into twilight", geodesy.LatLon{Lat: 34.3, Lon: -118}, "2026-12-05T14:30:00-08:00", "2026-12-05T16:55:00-08:00", BySunset},
		{"into the dark", geodesy.LatLon{Lat: 34.3, Lon: -118}, "2026-12-05T14:30:00-08:00", "2026-12-05T17:30:00-08:00", ByDusk},
		{"by night", geodesy.LatLon{Lat: 34.3, Lon: -118}, "2026-12-05T20:30:00-08:00", "2026-12-05T22:30:00-08:00", ByDusk},
		{"before dawn", geodesy.LatLon{Lat: 34.3, Lon: -118}, "2026-12-05T03:30:00-08:00", "2026-12-05T05:30:00-08:00", ByDusk},
		{"into the morning", geodesy.LatLon{Lat: 34.3, Lon: -118}, "2026-12-05T05:30:00-08:00", "2026-12-05T08:30:00-08:00", ""},
		{"till the next morning", geodesy.LatLon{Lat: 34.3, Lon: -118}, "2026-12-05T15:30:00-08:00", "2026-12-06T08:30:00-08:00", ByDusk},
		{"Jotunheimen in June, by midnight", geodesy.LatLon{Lat: 61.6, Lon: 8.3}, "2026-06-20T20:00:00+02:00", "2026-06-20T23:50:00+02:00", BySunset},
		{"Jotunheimen in June, by ten", geodesy.LatLon{Lat: 61.6, Lon: 8.3}, "2026-06-20T18:00:00+02:00", "2026-06-20T22:00:00+02:00", ""},
		{"Lyngen, polar day", geodesy.LatLon{Lat: 69.6, Lon: 20.2}, "2026-06-20T20:00:00+02:00", "2026-06-21T03:00:00+02:00", ""},
		{"Lyngen, polar night at noon", geodesy.LatLon{Lat: 69.6, Lon: 20.2}, "2026-12-20T10:00:00+01:00", "2026-12-20T12:00:00+01:00", BySunset},
		{"Svalbard, polar night", geodesy.LatLon{Lat: 78.2, Lon: 15.6}, "2026-12-20T10:00:00+01:00", "2026-12-20T12:00:00+01:00", ByDusk},
	} {
		start, err := time.Parse(time.RFC3339, c.start)
		require.NoError(t, err)
		arrival, err := time.Parse(time.RFC3339, c.arrival)
		require.NoError(t, err)
		l, err := level(t, c.place).light(t.Context(), DefaultSighting(), c.place, start)
		require.NoError(t, err)
		assert.Equal(t, c.want, l.endsBefore(start, arrival), "%s: %+v", c.name, l)
	}
}

// TestTheSunLeavesBehindAHill: with a wall 5 km to the south-west, and with the
// data cut off before it.
func TestTheSunLeavesBehindAHill(t *testing.T) {
	t.Parallel()
	at := geodesy.LatLon{Lat: 46, Lon: 7.75}
	const posts, step = 150, 1.0 / 900
	f := dem.Frame{Columns: posts, Rows: posts, X0: float64(at.Lon) - step*posts/2, Y0: float64(at.Lat) + step*posts/2, DX: step, DY: -step, CRS: geodesy.WGS84}
	heights := make([]float32, posts*posts)
	for i := range heights {
		if heights[i] = 1000; i%posts < 20 {
			heights[i] = 1900 // some 10 degrees up
		}
	}
	start := time.Date(2026, 12, 5, 12, 0, 0, 0, time.FixedZone("", 3600))
	l, err := madeGround(t, &f, heights).light(t.Context(), DefaultSighting(), at, start)
	require.NoError(t, err)
	require.Equal(t, sun.Happens, l.SunLeavesState)
	assert.True(t, l.Earlier())
	assert.Greater(t, l.Sunset.Sub(l.SunLeaves.Time), 40*time.Minute)
	assert.False(t, l.KnownFar(), "the data ends behind the wall: %g m", l.SkylineKnownM)
}

// madeGround is opened data of given heights.
func madeGround(t *testing.T, f *dem.Frame, heights []float32) *Ground {
	t.Helper()
	path := filepath.Join(t.TempDir(), "made.tif")
	require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), path, f, []gdalio.Band{{Float32: heights}}))
	g, err := Open(t.Context(), Data{Paths: []string{path}}, Reach{})
	require.NoError(t, err)
	t.Cleanup(func() { _ = g.Close() })
	return g
}
