package geodesy

import (
	"bufio"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const (
	azimuthTolerance  = 1e-9 // degrees; a hundredth of a micrometre a kilometre off
	distanceTolerance = 1e-6 // metres; Karney 2013 promises 15 nm
)

// bearingError is the turn between two bearings, degrees, unsigned.
func bearingError(a, b TrueBearing) float64 { return math.Abs(float64(Difference(a, b))) }

func TestWalkingLengthLinesOfGeodTest(t *testing.T) {
	t.Parallel()
	// Six lines of walking length of Karney's GeodTest set (GeographicLib,
	// doi:10.5281/zenodo.32156), lon1 = 0: lat1 azi1 lat2 lon2 azi2 s12.
	lines := [][6]float64{
		{11.898997917427, 75.119044134969, 11.899065303345823952, .000257501685735042, 75.119097228635683489, 29.0265121},
		{47.900780879363, 148.758779524609, 47.899309788344023215, .001327005894209747, 148.759764131627358008, 191.3088022},
		{36.800966049655, 43.389649034063, 36.802889529289609993, .002261122427425817, 43.391003560674015305, 293.7372273},
		{60.077425015363, 81.639916890942, 60.078197903525388982, .010531670881733178, 81.649044728416379082, 592.5766309},
		{56.310719132311, 155.158323803365, 56.304258387808388716, .005380024608319352, 155.162800127144988655, 792.7231052},
		{8.849455388939, 129.673344478389, 8.843107684651578467, .007694428892432052, 129.674527758774555025, 1099.6867173},
	}
	for _, l := range lines {
		t.Run(fmt.Sprintf("%.0f m", l[5]), func(t *testing.T) {
			checkLine(t, LatLon{Degrees(l[0]), 0}, TrueBearing(l[1]), LatLon{Degrees(l[2]), Degrees(l[3])}, TrueBearing(l[4]), l[5], azimuthTolerance)
		})
	}
}

// checkLine holds one geodesic against a table, both ways.
func checkLine(t *testing.T, a LatLon, start TrueBearing, b LatLon, end TrueBearing, distance, azimuthTol float64) {
	t.Helper()
	g := Inverse(a, b)
	assert.InDelta(t, distance, g.Distance, distanceTolerance, "distance, m")
	assert.LessOrEqual(t, bearingError(start, g.Start), azimuthTol, "bearing at the start %v, not %v", g.Start, start)
	assert.LessOrEqual(t, bearingError(end, g.End), azimuthTol, "bearing at the end %v, not %v", g.End, end)
	reached, forward := Direct(a, start, distance)
	assert.LessOrEqual(t, Inverse(reached, b).Distance, distanceTolerance, "place reached, m off")
	// Beside a pole a bearing turns with the longitude, whose error grows as
	// the pole nears.
	toPole := (90 - math.Abs(float64(b.Lat))) * radiansPerDegree * EquatorialRadius
	arrivalTol := math.Max(azimuthTolerance, 20e-9/toPole/radiansPerDegree)
	assert.LessOrEqual(t, bearingError(end, forward), arrivalTol, "bearing on arrival")
}

func TestGeodTestSet(t *testing.T) {
	t.Parallel()
	file, err := os.Open(referenceFile(t, "geodtest-100.dat"))
	require.NoError(t, err)
	defer file.Close()
	count := 0
	for scanner := bufio.NewScanner(file); scanner.Scan(); {
		fields := strings.Fields(scanner.Text())
		require.Len(t, fields, 10)
		var v [10]float64
		for i, f := range fields {
			v[i], err = strconv.ParseFloat(f, 64)
			require.NoError(t, err)
		}
		count++
		// An error of d metres in a place turns the line's bearing by
		// d/m12 radians, m12 its reduced length, which is near nothing for
		// very short and nearly antipodal lines.
		const placeError = 20e-9 // metres; 15 nm and the last digit of a coordinate
		tol := math.Max(azimuthTolerance, placeError/math.Abs(v[8])/radiansPerDegree)
		t.Run(fmt.Sprintf("line %d", count), func(t *testing.T) {
			checkLine(t, LatLon{Degrees(v[0]), Degrees(v[1])}, TrueBearing(v[2]), LatLon{Degrees(v[3]), Degrees(v[4])}, TrueBearing(v[5]), v[6], tol)
		})
	}
	assert.Equal(t, 100, count)
}

func TestLegs(t *testing.T) {
	t.Parallel()
	// Worked with PROJ 9.1.1's geod on WGS 84; printed to these digits.
	cases := []struct {
		a, b               LatLon
		bearing, distance  float64
		bearingTol, metres float64
	}{
		{LatLon{46, 7.6}, LatLon{46.05, 7.7}, 54.29431744, 9530.9163, 5e-9, 5e-5},
		{LatLon{36.5785, -118.2923}, LatLon{36.6, -118.06}, 83.38357498, 20924.5617, 5e-9, 5e-5},
		{LatLon{51.5, -3.4}, LatLon{51.52, -3.43}, 316.90499753, 3047.8232, 5e-9, 5e-5},
		{LatLon{-41.3, 174.7}, LatLon{-41.2, 174.9}, 56.54103802, 20108.4104, 5e-9, 5e-5},
		{LatLon{40.6, -73.8}, LatLon{51.6, -0.5}, 51.1988828456, 5551759.400319, 5e-11, 5e-7},
	}
	const more = 1.01 // a value may sit on the edge of its printed rounding
	for _, c := range cases {
		g := Inverse(c.a, c.b)
		assert.InDelta(t, c.bearing, float64(g.Start), c.bearingTol*more, "%v", c.a)
		assert.InDelta(t, c.distance, g.Distance, c.metres*more, "%v", c.a)
	}
}

func TestKarneysCases(t *testing.T) {
	t.Parallel()
	// Karney 2013, J. Geodesy 87:43-55, section 3: the direct problem.
	p, end := Direct(LatLon{40, 0}, 30, 10e6)
	assert.InDelta(t, 41.79331020506, float64(p.Lat), 1e-11)
	assert.InDelta(t, 137.84490004377, float64(p.Lon), 1e-11)
	assert.InDelta(t, 149.09016931807, float64(end), 1e-11)
	// GeographicLib's tests (geodtest.c): a short line whose error in
	// bearing once spoiled its length, and a nearly antipodal line.
	g := Inverse(LatLon{36.493349428792, 0}, LatLon{36.49334942879201, 0.0000008})
	assert.InDelta(t, 0.072, g.Distance, 5e-4)
	g = Inverse(LatLon{88.202499451857, 0}, LatLon{-88.202499451857, 179.981022032992859592})
	assert.InDelta(t, 20003898.214, g.Distance, 5e-4)
}

func TestGeodesicDegenerateCases(t *testing.T) {
	t.Parallel()
	a := LatLon{36.4, -84.3}
	assert.Equal(t, Geodesic{}, Inverse(a, a))
	// Along the equator: length is a times the angle, by definition.
	g := Inverse(LatLon{0, 0}, LatLon{0, 1})
	assert.InDelta(t, EquatorialRadius*math.Pi/180, g.Distance, distanceTolerance)
	assert.Equal(t, TrueBearing(90), g.Start)
	// Across the antimeridian, and due south.
	g = Inverse(LatLon{0, 179.5}, LatLon{0, -179.5})
	assert.InDelta(t, EquatorialRadius*math.Pi/180, g.Distance, distanceTolerance)
	g = Inverse(LatLon{10, 5}, LatLon{9, 5})
	assert.Equal(t, TrueBearing(180), g.Start)
	p, _ := Direct(LatLon{0, 179.9999}, 90, 1000)
	assert.Less(t, float64(p.Lon), -179.0, "longitude is kept in [-180, 180)")
	// The quarter meridian, the integral of a(1-e²)/(1-e² sin²)^1.5 worked
	// numerically: 10 001 965.7293 m.
	assert.InDelta(t, 10001965.729, Inverse(LatLon{0, 0}, LatLon{90, 0}).Distance, 1e-3)
	// A negative distance walks backward.
	back, _ := Direct(LatLon{46, 7}, 30, -5000)
	there, _ := Direct(LatLon{46, 7}, 210, 5000)
	assert.InDelta(t, 0, Inverse(back, there).Distance, distanceTolerance)
}

func TestDirectUndoesInverse(t *testing.T) {
	t.Parallel()
	const seed = 7
	random := rand.New(rand.NewPCG(seed, seed))
	for range 2000 {
		a := LatLon{Degrees(random.Float64()*170 - 85), Degrees(random.Float64()*360 - 180)}
		bearing, distance := TrueBearing(random.Float64()*360), math.Exp(random.Float64()*16)
		b, end := Direct(a, bearing, distance)
		g := Inverse(a, b)
		assert.InDelta(t, distance, g.Distance, distanceTolerance, "seed %d: %v %v", seed, a, bearing)
		c, _ := Direct(a, g.Start, g.Distance)
		assert.LessOrEqual(t, Inverse(b, c).Distance, distanceTolerance, "seed %d: %v", seed, a)
		r := Inverse(b, a)
		assert.InDelta(t, g.Distance, r.Distance, distanceTolerance)
		// Back along the line, to what 15 nm at the far end can turn it.
		assert.LessOrEqual(t, bearingError(r.Start, end.Back()), azimuthTolerance+20e-9/distance/radiansPerDegree)
	}
}

func TestGeodesicsAgreeWithGeodSolve(t *testing.T) {
	t.Parallel()
	const seed = 3
	random := rand.New(rand.NewPCG(seed, seed))
	var input []string
	var pairs [][2]LatLon
	for range 200 {
		a := LatLon{Degrees(random.Float64()*160 - 80), Degrees(random.Float64()*360 - 180)}
		b, _ := Direct(a, TrueBearing(random.Float64()*360), 20+random.Float64()*50000)
		pairs = append(pairs, [2]LatLon{a, b})
		input = append(input, fmt.Sprintf("%.17g %.17g %.17g %.17g", a.Lat, a.Lon, b.Lat, b.Lon))
	}
	for i, line := range ask(t, input, "GeodSolve", "-i", "-p", "9") {
		var azi1, azi2, s12 float64
		_, err := fmt.Sscan(line, &azi1, &azi2, &s12)
		require.NoError(t, err)
		g := Inverse(pairs[i][0], pairs[i][1])
		tol := azimuthTolerance + 20e-9/s12/radiansPerDegree
		assert.InDelta(t, s12, g.Distance, distanceTolerance)
		assert.LessOrEqual(t, bearingError(NewTrueBearing(Degrees(azi1)), g.Start), tol)
		assert.LessOrEqual(t, bearingError(NewTrueBearing(Degrees(azi2)), g.End), tol)
	}
}

func TestWaypoints(t *testing.T) {
	t.Parallel()
	a, b := LatLon{46, 7.6}, LatLon{46.05, 7.7}
	total := Inverse(a, b).Distance
	places := Waypoints(a, b, 7)
	require.Len(t, places, 8)
	assert.Equal(t, a, places[0])
	assert.Equal(t, b, places[7])
	for i := range 7 {
		assert.InDelta(t, total/7, Inverse(places[i], places[i+1]).Distance, distanceTolerance)
	}
	assert.Panics(t, func() { Waypoints(a, b, 0) })
}
