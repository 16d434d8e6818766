package geodesy

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const (
	gridTolerance        = 1e-3 // metres; the tables print tenths of a millimetre
	convergenceTolerance = 1e-7 // degrees
	scaleTolerance       = 1e-8
	roundTripTolerance   = 1e-7 // metres; the projection is good to nanometres
)

func TestUTMTable(t *testing.T) {
	t.Parallel()
	// Worked with PROJ 9.1.1's proj on WGS 84; the first row is also in
	// GeographicLib's GeoConvert(1), to 0.1 m.
	for _, c := range []struct {
		p          LatLon
		zone       int
		north      bool
		e, n, conv float64
		scale      float64
	}{
		{LatLon{33.3, 44.4}, 38, true, 444140.5449, 3684706.3555, -0.32942222, 0.99963847},
		{LatLon{40.6, -73.8}, 18, true, 601530.6419, 4495046.7872, 0.78099566, 0.99972688},
		{LatLon{51.6, -0.5}, 30, true, 673139.3085, 5719511.6868, 1.95971714, 0.99996805},
		{LatLon{45.976, 7.9}, 32, true, 414787.8066, 5091969.1351, -0.79100103, 0.99968926},
		{LatLon{36.5785, -118.2923}, 11, true, 384381.795, 4048892.755, -0.77019737, 0.99976469},
		{LatLon{-41.3, 174.7}, 60, false, 307439.439, 5425387.622, 1.51846941, 1.00005635},
	} {
		g, err := GridAt(c.p)
		require.NoError(t, err)
		u, err := ToUTM(c.p)
		require.NoError(t, err)
		assert.Equal(t, u, g.UTM)
		assert.Equal(t, c.zone, u.Zone)
		assert.Equal(t, c.north, u.North)
		assert.InDelta(t, c.e, u.Easting, gridTolerance, "%v", c.p)
		assert.InDelta(t, c.n, u.Northing, gridTolerance, "%v", c.p)
		assert.InDelta(t, c.conv, float64(g.Convergence), convergenceTolerance, "%v", c.p)
		assert.InDelta(t, c.scale, g.Scale, scaleTolerance, "%v", c.p)
		only, err := ConvergenceAt(c.p)
		require.NoError(t, err)
		assert.Equal(t, g.Convergence, only)
	}
}

func TestConvergenceTurnsTheGridTheWayTheGridTurns(t *testing.T) {
	t.Parallel()
	// The slow definition, in both hemispheres: walk a little way along grid
	// north and take the true bearing walked.
	const (
		step = 100.0 // metres; the meridian's own curve turns the chord by less than the tolerance
		tol  = 1e-4  // degrees
	)
	for _, p := range []LatLon{{46, 7.6}, {46, 10.2}, {-41.3, 174.7}, {-41.3, 179.5}, {65, 7}, {-70, 100}, {0.01, 4.5}} {
		g, err := GridAt(p)
		require.NoError(t, err)
		a, b := g.UTM, g.UTM
		a.Northing -= step / 2
		b.Northing += step / 2
		from, err := a.LatLon()
		require.NoError(t, err)
		to, err := b.LatLon()
		require.NoError(t, err)
		line := Inverse(from, to)
		assert.InDelta(t, float64(g.Convergence), float64(Difference(0, line.Start)), tol, "%v", p)
		assert.InDelta(t, g.Scale, step/line.Distance, 1e-7, "%v", p) // distances good to 15 nm in 100 m
		assert.InDelta(t, 0, float64(Difference(g.Convergence.True(0), line.Start)), tol)
	}
}

func TestConvergenceOnAxes(t *testing.T) {
	t.Parallel()
	g, err := GridAt(LatLon{46, 9}) // on the central meridian
	require.NoError(t, err)
	assert.InDelta(t, 0, float64(g.Convergence), 1e-9)
	assert.InDelta(t, 0.9996, g.Scale, 1e-9) // by definition
	assert.InDelta(t, 500000, g.UTM.Easting, roundTripTolerance)
	g, err = GridAt(LatLon{0, 11})
	require.NoError(t, err)
	assert.InDelta(t, 0, float64(g.Convergence), 1e-9, "the equator is straight on the grid")
	assert.Zero(t, g.UTM.Northing)
}

func TestUTMZones(t *testing.T) {
	t.Parallel()
	// NGA.SIG.0012 (2014): 6 degree zones from 180°W, and the
	// exceptions of south-west Norway and Svalbard.
	for _, c := range []struct {
		lat, lon Degrees
		zone     int
	}{
		{0, -180, 1}, {0, -174.0000001, 1}, {0, -174, 2}, {0, 0, 31}, {0, -1e-9, 30}, {0, 179.999, 60},
		{55.999, 3, 31}, {56, 2.999, 31}, {56, 3, 32}, {63.999, 3, 32}, {60, 5.9, 32}, {64, 3, 31}, {60, 12, 33}, {60, 11.999, 32},
		{71.999, 8.9, 32}, {72, 8.999, 31}, {72, 9, 33}, {78, 20.999, 33}, {78, 21, 35}, {78, 32.999, 35}, {78, 33, 37}, {84, 41.999, 37}, {78, 42, 38}, {78, -0.001, 30},
		{-60, 5, 31},
	} {
		assert.Equal(t, c.zone, UTMZone(LatLon{c.lat, c.lon}), "%v %v", c.lat, c.lon)
	}
	assert.Equal(t, Degrees(-177), CentralMeridian(1))
	assert.Equal(t, Degrees(9), CentralMeridian(32))
}

func TestUTMUndoesItself(t *testing.T) {
	t.Parallel()
	const seed = 9
	random := rand.New(rand.NewPCG(seed, seed))
	for range 5000 {
		p := LatLon{Degrees(random.Float64()*164 - 80), Degrees(random.Float64()*360 - 180)}
		u, err := ToUTM(p)
		require.NoError(t, err, "seed %d: %v", seed, p)
		q, err := u.LatLon()
		require.NoError(t, err, "%v", u)
		assert.LessOrEqual(t, Inverse(p, q).Distance, roundTripTolerance, "seed %d: %v", seed, p)
		assert.Equal(t, p.Lat >= 0, u.North)
	}
}

func TestUTMInTheNeighbouringZone(t *testing.T) {
	t.Parallel()
	p := LatLon{46, 12.1} // zone 33, just over the edge of 32
	u, err := ToUTMZone(p, 32)
	require.NoError(t, err)
	q, err := u.LatLon()
	require.NoError(t, err)
	assert.LessOrEqual(t, Inverse(p, q).Distance, roundTripTolerance)
	g, err := GridInZone(p, 32)
	require.NoError(t, err)
	assert.Positive(t, float64(g.Convergence), "east of the central meridian, in the north")
	own, err := GridAt(p)
	require.NoError(t, err)
	assert.Negative(t, float64(own.Convergence))
	// Over the antimeridian.
	u, err = ToUTMZone(LatLon{-41, -179.9}, 60)
	require.NoError(t, err)
	assert.Greater(t, u.Easting, 700e3)
	// Over the equator: a southern northing of ten million and more.
	q, err = UTM{31, false, 500000, 10000100}.LatLon()
	require.NoError(t, err)
	assert.Positive(t, float64(q.Lat))
}

func TestUTMRefuses(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		says string
		do   func() error
	}{
		{"UPS) is not supported", func() error { _, err := ToUTM(LatLon{84.001, 0}); return err }},
		{"UPS) is not supported", func() error { _, err := ToUTM(LatLon{-80.001, 0}); return err }},
		{"UPS) is not supported", func() error { _, err := ConvergenceAt(LatLon{90, 0}); return err }},
		{"outside the UTM grid", func() error { _, err := ToUTM(LatLon{Degrees(math.NaN()), 0}); return err }},
		{"no UTM zone 0", func() error { _, err := ToUTMZone(LatLon{}, 0); return err }},
		{"no UTM zone 61", func() error { _, err := UTM{Zone: 61}.LatLon(); return err }},
		{"its own zone is 31", func() error { _, err := ToUTMZone(LatLon{0, 3}, 32); return err }},
		{"its own zone is 31", func() error { _, err := ToUTMZone(LatLon{0, 3}, 50); return err }},
		{"easting comes first", func() error { _, err := UTM{16, true, 4040000, 735000}.LatLon(); return err }},
		{"easting", func() error { _, err := UTM{16, true, math.NaN(), 735000}.LatLon(); return err }},
		{"northing", func() error { _, err := UTM{16, true, 500000, math.Inf(1)}.LatLon(); return err }},
		{"UPS) is not supported", func() error { _, err := UTM{16, true, 500000, 9900000}.LatLon(); return err }},
	} {
		err := c.do()
		require.Error(t, err)
		assert.Contains(t, err.Error(), c.says)
	}
}

func TestUTMString(t *testing.T) {
	t.Parallel()
	assert.Equal(t, "16S 735000 4040000", UTM{16, true, 735000.4, 4039999.6}.String())
	assert.Equal(t, "60G 307439 5425388", UTM{60, false, 307439.439, 5425387.622}.String())
	assert.Equal(t, "16north 735000 9900000", UTM{16, true, 735000, 9900000}.String(), "nowhere on the grid")
}

func TestUTMConcurrently(t *testing.T) {
	t.Parallel()
	want, err := GridAt(LatLon{46, 7.6})
	require.NoError(t, err)
	var group sync.WaitGroup
	for range 8 {
		group.Add(1)
		go func() {
			defer group.Done()
			for range 500 {
				got, err := GridAt(LatLon{46, 7.6})
				if err != nil || got != want {
					t.Errorf("%v, %v; want %v", got, err, want)
					return
				}
			}
		}()
	}
	group.Wait()
}

func TestUTMAgreesWithGeoConvert(t *testing.T) {
	t.Parallel()
	places, input := placesOnUTM(300, 21)
	grid := ask(t, input, "GeoConvert", "-u", "-p", "6") // micrometres
	factors := ask(t, input, "GeoConvert", "-c", "-p", "9")
	for i, p := range places {
		var zone string
		var e, n, convergence, scale float64
		_, err := fmt.Sscan(grid[i], &zone, &e, &n)
		require.NoError(t, err)
		_, err = fmt.Sscan(factors[i], &convergence, &scale)
		require.NoError(t, err)
		g, err := GridAt(p)
		require.NoError(t, err)
		hemisphere := "s"
		if g.UTM.North {
			hemisphere = "n"
		}
		assert.Equal(t, strings.TrimPrefix(zone, "0"), fmt.Sprintf("%d%s", g.UTM.Zone, hemisphere))
		const micrometre = 1.1e-6 // its printed rounding, and nanometres
		assert.InDelta(t, e, g.UTM.Easting, micrometre, "%v", p)
		assert.InDelta(t, n, g.UTM.Northing, micrometre, "%v", p)
		assert.InDelta(t, convergence, float64(g.Convergence), convergenceTolerance, "%v", p)
		assert.InDelta(t, scale, g.Scale, scaleTolerance, "%v", p)
	}
}

func BenchmarkGridAt(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := GridAt(LatLon{46, 7.6}); err != nil {
			b.Fatal(err)
		}
	}
}
