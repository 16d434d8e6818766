package geodesy

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestPlaneKeepsBearingAndDistance(t *testing.T) {
	t.Parallel()
	const seed = 11
	random := rand.New(rand.NewPCG(seed, seed))
	for range 300 {
		centre := LatLon{Degrees(random.Float64()*170 - 85), Degrees(random.Float64()*360 - 180)}
		plane := NewPlane(centre)
		bearing, distance := TrueBearing(random.Float64()*360), 1+random.Float64()*200e3
		q, _ := Direct(centre, bearing, distance)
		east, north := plane.Forward(q)
		s, c := Degrees(bearing).SinCos()
		assert.InDelta(t, distance*s, east, distanceTolerance, "seed %d", seed)
		assert.InDelta(t, distance*c, north, distanceTolerance, "seed %d", seed)
		assert.LessOrEqual(t, Inverse(q, plane.Inverse(east, north)).Distance, distanceTolerance)

		lon, lat := []float64{float64(q.Lon), float64(centre.Lon)}, []float64{float64(q.Lat), float64(centre.Lat)}
		plane.ForwardAll(lon, lat)
		assert.InDelta(t, east, lon[0], distanceTolerance)
		assert.InDelta(t, north, lat[0], distanceTolerance)
		assert.Zero(t, lon[1])
		assert.Zero(t, lat[1])
	}
	assert.Panics(t, func() { NewPlane(LatLon{}).ForwardAll([]float64{1}, nil) })
	NewPlane(LatLon{}).ForwardAll(nil, nil)
}

func TestPlaneOnTheAxes(t *testing.T) {
	t.Parallel()
	plane := NewPlane(LatLon{46, 8})
	east, north := plane.Forward(LatLon{46.1, 8})
	assert.Zero(t, east, "due north is exactly on the axis")
	assert.Positive(t, north)
	// By the definition of the metre of arc on the equator.
	east, north = NewPlane(LatLon{0, 8}).Forward(LatLon{0, 9})
	assert.InDelta(t, EquatorialRadius*math.Pi/180, east, distanceTolerance)
	assert.Zero(t, north)
}

func TestRadiiOfCurvature(t *testing.T) {
	t.Parallel()
	// Closed forms: a(1-e²) and a at the equator, a/sqrt(1-e²) both at the
	// poles.
	m, n := RadiiOfCurvature(0)
	assert.InDelta(t, 6335439.3273, m, 1e-4)
	assert.InDelta(t, EquatorialRadius, n, 1e-9)
	m, n = RadiiOfCurvature(-90)
	assert.InDelta(t, 6399593.6258, m, 1e-4)
	assert.InDelta(t, 6399593.6258, n, 1e-4)
}

func TestCurvatureDrop(t *testing.T) {
	t.Parallel()
	// (1-k) d²/2R worked with R = 6371 km. Euler's radius departs from 6371
	// km by up to half a per cent, so the table holds to that.
	const share = 0.006
	plane := NewPlane(LatLon{45, 0})
	for _, c := range []struct{ km, none, gauss float64 }{
		{1, 0.0785, 0.0683}, {5, 1.962, 1.707}, {10, 7.848, 6.828}, {20, 31.392, 27.311}, {50, 196.20, 170.70}, {100, 784.81, 682.78},
	} {
		for _, bearing := range []Degrees{0, 45, 90, 200} {
			s, cos := bearing.SinCos()
			d := c.km * 1000
			assert.InEpsilon(t, c.none, plane.CurvatureDrop(d*s, d*cos, 0), share, "%v km", c.km)
			assert.InEpsilon(t, c.gauss, plane.CurvatureDrop(d*s, d*cos, 0.13), share, "%v km", c.km)
		}
	}
	assert.Zero(t, plane.CurvatureDrop(0, 0, 0.13))
}
