package fix

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile/magnetic"
	"crowline/visibility"
)

// here is open hill country at 36 N, for tests that work in metres about it.
var here = geodesy.LatLon{Lat: 36.4, Lon: -84.2}

// at is a place by metres east and north of another, by the mid-latitude
// formulas (Gauss), which are good to a millimetre and a micro-degree over
// the few kilometres used here and share nothing with the geodesics under
// test. radii is WGS 84's radii of curvature at a latitude, written out anew.
func at(from geodesy.LatLon, east, north float64) geodesy.LatLon {
	lat := float64(from.Lat)
	m, _ := radii(lat)
	lat2 := lat + north/m*180/math.Pi
	m, _ = radii((lat + lat2) / 2)
	lat2 = lat + north/m*180/math.Pi
	_, n := radii((lat + lat2) / 2)
	lon2 := float64(from.Lon) + east/(n*math.Cos((lat+lat2)/2*math.Pi/180))*180/math.Pi
	return geodesy.LatLon{Lat: geodesy.Degrees(lat2), Lon: geodesy.Degrees(lon2)}
}

func radii(lat float64) (meridian, prime float64) {
	const a, e2 = 6378137.0, 0.00669437999014
	s := math.Sin(lat * math.Pi / 180)
	w := math.Sqrt(1 - e2*s*s)
	return a * (1 - e2) / (w * w * w), a / w
}

// azimuth at p of q: the middle azimuth less half the convergence of the
// two meridians.
func azimuth(p, q geodesy.LatLon) float64 {
	lat := float64(p.Lat+q.Lat) / 2
	m, n := radii(lat)
	dLon := float64(q.Lon - p.Lon)
	east := n * math.Cos(lat*math.Pi/180) * dLon
	north := m * float64(q.Lat-p.Lat)
	return math.Atan2(east, north)*180/math.Pi - dLon*math.Sin(lat*math.Pi/180)/2
}

func metres(t *testing.T, from, to geodesy.LatLon) (east, north float64) {
	t.Helper()
	return geodesy.NewPlane(from).Forward(to)
}

func observed(degrees float64) geodesy.TrueBearing {
	return geodesy.NewTrueBearing(geodesy.Degrees(degrees))
}

// Plane trigonometry by hand: A stands at (0, 0) and B 1000 m east of it. From
// P, A bears 315 and B bears 045, so the triangle is right-angled at P with
// two equal sides: P is at (500, -500).
func TestResectionByHand(t *testing.T) {
	t.Parallel()
	const tol = 0.1 // m; the meridians of A and B converge by 0.0066 degrees, 0.05 m here
	f, err := Resect(context.Background(), []Bearing{
		{Name: "A", Place: here, True: 315},
		{Name: "B", Place: at(here, 1000, 0), True: 45},
	}, Options{})
	require.NoError(t, err)
	e, n := metres(t, here, f.Place)
	assert.InDelta(t, 500, e, tol)
	assert.InDelta(t, -500, n, tol)
	assert.InDelta(t, 90, float64(f.Crossing), 0.01) // degrees; the same convergence
	assert.Equal(t, 0, f.Redundancy)
	// Each line of position is 707.1 m off and 2 degrees wide, 24.68 m either
	// way; they cross squarely, so the ellipse is a circle.
	ellipse := f.Ellipse(OneSigma)
	assert.InDelta(t, 707.1*2*math.Pi/180, ellipse.SemiMajor, 0.02)
	assert.InDelta(t, 707.1*2*math.Pi/180, ellipse.SemiMinor, 0.02)
	assert.InDelta(t, 2.4477*24.683, f.Ellipse(0.95).SemiMajor, 0.05) // 2.4477: sqrt of chi-square 5.991, 2 d.f.
	require.Len(t, f.Warnings, 1)
	assert.Equal(t, NoRedundancy, f.Warnings[0].Kind)
}

// Marks 1000 m north, east and south; north is read 2 degrees too large. The
// north line then passes 34.92 m west (1 km at 2 degrees, check of the trade:
// d tan e), the south line through the true place, and least squares goes
// half way: 17.46 m west, a degree left on each.
func TestLeastSquaresByHand(t *testing.T) {
	t.Parallel()
	f, err := Resect(context.Background(), threeMarks(2, 0), Options{})
	require.NoError(t, err)
	e, n := metres(t, here, f.Place)
	const tolE, tolN = 0.1, 0.7 // m; tan 2 degrees is not 2 tan 1 degree; 17.46 m by 2 degrees is 0.6 m
	assert.InDelta(t, -17.46, e, tolE)
	assert.InDelta(t, 0, n, tolN)
	const tolResidual = 0.04 // degrees; the same 0.6 m
	assert.InDelta(t, 1, float64(f.Bearings[0].Residual), tolResidual)
	assert.InDelta(t, 0, float64(f.Bearings[1].Residual), tolResidual)
	assert.InDelta(t, 1, float64(f.Bearings[2].Residual), tolResidual)
	assert.InDelta(t, 0.5, f.ChiSquare, 0.01) // (1/2)² twice
}

// With north and south both read a degree too large, the two lines pass
// 17.46 m west and east and least squares stays between them: by symmetry on
// the spot. East-west that is the mean of two lines, 34.91/sqrt(2) = 24.68 m;
// north-south the east line alone, 34.91 m.
func TestErrorsByHand(t *testing.T) {
	t.Parallel()
	f, err := Resect(context.Background(), threeMarks(1, 1), Options{})
	require.NoError(t, err)
	e, n := metres(t, here, f.Place)
	const tol = 0.05 // m; convergence of the meridians, 3e-4 of a line's width
	assert.InDelta(t, 0, e, tol)
	assert.InDelta(t, 0, n, tol)
	assert.InDelta(t, 1, float64(f.Bearings[0].Residual), 1e-3)
	assert.InDelta(t, 0.5, f.ChiSquare, 1e-3)
	ellipse := f.Ellipse(OneSigma)
	assert.InDelta(t, 34.91, ellipse.SemiMajor, tol)
	assert.InDelta(t, 24.68, ellipse.SemiMinor, tol)
	assert.InDelta(t, 0, math.Remainder(float64(ellipse.Along), 180), 0.1)
	// V - J C J' leaves (4 - 2)/4 of the variance of north and south, none of
	// east's, which nothing checks.
	assert.InDelta(t, 1/math.Sqrt2, f.Bearings[0].Standardised, 1e-3)
	assert.True(t, math.IsNaN(f.Bearings[1].Standardised))
	assert.Equal(t, 1, f.Redundancy)
	assert.InDelta(t, 0.4795, f.Chance, 1e-3) // chi-square 0.5, 1 d.f.: 2(1-Phi(0.7071))
}

// threeMarks are 1000 m north, east and south of here, north and south read
// wrong by some degrees.
func threeMarks(north, south float64) []Bearing {
	n, e, s := at(here, 0, 1000), at(here, 1000, 0), at(here, 0, -1000)
	return []Bearing{
		{Name: "north", Place: n, True: observed(azimuth(here, n) + north)},
		{Name: "east", Place: e, True: observed(azimuth(here, e))},
		{Name: "south", Place: s, True: observed(azimuth(here, s) + south)},
	}
}

// Slopes by central differences of the bearing itself.
func TestSlopesAgainstDifferences(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(3, 3))
	for range 500 {
		x := geodesy.LatLon{Lat: geodesy.Degrees(random.Float64()*160 - 80), Lon: 10}
		place, _ := geodesy.Direct(x, observed(random.Float64()*360), math.Pow(10, 2+3*random.Float64()))
		for _, resect := range []bool{true, false} {
			p := problem{bearings: []Bearing{{Place: place}}, resect: resect}
			_, d, slope := p.computed(0, x)
			plane, step := geodesy.NewPlane(x), d*1e-4
			for k, move := range [][2]float64{{step, 0}, {0, step}} {
				hi, _, _ := p.computed(0, plane.Inverse(move[0], move[1]))
				lo, _, _ := p.computed(0, plane.Inverse(-move[0], -move[1]))
				want := float64(geodesy.Difference(lo, hi)) / (2 * step)
				// of the bearing's whole slope; (s/R)² f at 100 km, and the
				// turn of north on ellipsoid against sphere
				const share = 2e-5
				assert.InDelta(t, want, slope[k], share*180/math.Pi/d, "x %v place %v resect %v", x, place, resect)
			}
		}
	}
}

// The two problems are one where the lines are short: bearings taken at two
// places to a point, by hand as above.
func TestIntersectionByHand(t *testing.T) {
	t.Parallel()
	f, err := Intersect(context.Background(), []Bearing{
		{Name: "A", Place: here, True: 135},
		{Name: "B", Place: at(here, 1000, 0), True: 225},
	}, Options{})
	require.NoError(t, err)
	e, n := metres(t, here, f.Place)
	const tol = 0.1 // m; as for resection
	assert.InDelta(t, 500, e, tol)
	assert.InDelta(t, -500, n, tol)
}

// Bearings without error give the place back, at any distance and latitude,
// from geodesics; convergence at high latitude is tens of degrees.
func TestExactBearingsGiveThePlaceBack(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(4, 1))
	for range 300 {
		x := geodesy.LatLon{Lat: geodesy.Degrees(random.Float64()*170 - 85), Lon: geodesy.Degrees(random.Float64()*360 - 180)}
		reach := math.Pow(10, 2.5+3.2*random.Float64()) // 300 m to 500 km
		for _, resect := range []bool{true, false} {
			var bearings []Bearing
			first := random.Float64() * 360
			for i := range 2 + random.IntN(3) {
				azimuth := first + float64(i)*(50+30*random.Float64())
				place, _ := geodesy.Direct(x, observed(azimuth), reach*(0.3+random.Float64()))
				b := Bearing{Name: fmt.Sprint(i), Place: place}
				if resect {
					b.True = geodesy.Inverse(x, place).Start
				} else {
					b.True = geodesy.Inverse(place, x).Start
				}
				bearings = append(bearings, b)
			}
			solve := Intersect
			if resect {
				solve = Resect
			}
			f, err := solve(context.Background(), bearings, Options{})
			require.NoError(t, err, "%v reach %v resect %v", x, reach, resect)
			const tol = 1e-3 // m; the search settles to 1e-4
			assert.Less(t, geodesy.Inverse(x, f.Place).Distance, tol, "%v reach %v resect %v", x, reach, resect)
			assert.Less(t, f.ChiSquare, 1e-10)
		}
	}
}

// Simulated bearings with normal errors of two degrees: the ellipse holds the
// true place as often as it says. Bearings are made by the mid-latitude
// formulas, not by the geodesics that are under test.
func TestEllipseCoversAtItsStatedRate(t *testing.T) {
	t.Parallel()
	const trials = 2000
	cases := map[string]struct {
		marks  [][2]float64
		shared float64 // degrees
		resect bool
		error  float64 // metres, of the marks
	}{
		"two marks square":      {marks: [][2]float64{{0, 2000}, {2500, 0}}, resect: true},
		"two marks at 60":       {marks: [][2]float64{{0, 3000}, {1732, 1000}}, resect: true},
		"three marks all round": {marks: [][2]float64{{300, 2500}, {2200, -1500}, {-3000, -1000}}, resect: true},
		"three with shared":     {marks: [][2]float64{{300, 2500}, {2200, -1500}, {-1000, -3500}}, shared: 1, resect: true},
		"three unsure marks":    {marks: [][2]float64{{300, 1500}, {1200, -900}, {-1500, -700}}, resect: true, error: 60},
		"intersection of three": {marks: [][2]float64{{0, -2000}, {2500, -100}, {1500, 1800}}},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			const seed = 20
			random := rand.New(rand.NewPCG(seed, uint64(len(name))))
			in39, in95 := 0, 0
			for range trials {
				shift := c.shared * random.NormFloat64()
				var bearings []Bearing
				for _, m := range c.marks {
					place := at(here, m[0], m[1])
					sighted := at(here, m[0]+c.error*random.NormFloat64(), m[1]+c.error*random.NormFloat64())
					a := azimuth(sighted, here)
					if c.resect {
						a = azimuth(here, sighted)
					}
					bearings = append(bearings, Bearing{Place: place, PlaceError: c.error,
						True: observed(a + shift + 2*random.NormFloat64())})
				}
				solve := Intersect
				if c.resect {
					solve = Resect
				}
				f, err := solve(context.Background(), bearings, Options{SharedError: geodesy.Degrees(c.shared)})
				require.NoError(t, err)
				if f.Ellipse(OneSigma).Covers(f.Place, here) {
					in39++
				}
				if f.Ellipse(0.95).Covers(f.Place, here) {
					in95++
				}
			}
			// Four standard deviations of a binomial count, 1 chance in 16 000
			// of failing, and half a percent for the bend of the lines within
			// an ellipse of a tenth of the distance.
			check := func(want float64, got int) {
				share := float64(got) / trials
				t.Logf("%.2f %%: %.2f %%", 100*want, 100*share)
				assert.InDelta(t, want, share, 4*math.Sqrt(want*(1-want)/trials)+0.005, "seed %d", seed)
			}
			check(OneSigma, in39)
			check(0.95, in95)
		})
	}
}

// The error given to a fix that fails its test is at the stated level:
// without blunders, one fix in a hundred is rejected by chi-square.
func TestBlunderAlarmsAreRare(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(8, 8))
	const trials = 1500
	rejectedCount := 0
	for range trials {
		var bearings []Bearing
		for _, m := range [][2]float64{{300, 2500}, {2200, -1500}, {-3000, -1000}, {-2000, 1500}} {
			place := at(here, m[0], m[1])
			bearings = append(bearings, Bearing{Place: place, True: observed(azimuth(here, place) + 2*random.NormFloat64())})
		}
		f, err := Resect(context.Background(), bearings, Options{})
		require.NoError(t, err)
		if f.Chance < rejected {
			rejectedCount++
		}
	}
	assert.InDelta(t, rejected, float64(rejectedCount)/trials, 4*math.Sqrt(rejected*(1-rejected)/trials))
}

func kinds(f *Fix) (out []WarningKind) {
	for _, w := range f.Warnings {
		out = append(out, w.Kind)
	}
	return out
}

func TestWarnings(t *testing.T) {
	t.Parallel()
	mark := func(name string, e, n, error float64) Bearing {
		p := at(here, e, n)
		return Bearing{Name: name, Place: p, True: observed(azimuth(here, p) + error)}
	}
	cases := map[string]struct {
		bearings []Bearing
		want     []WarningKind
		names    []string
		near     float64 // metres from the truth
	}{
		"good": {[]Bearing{mark("a", 0, 2000, 1), mark("b", 2000, -1500, -1), mark("c", -2000, -1000, 0.5)}, nil, nil, 100},
		"flat crossing": {[]Bearing{mark("a", 0, 3000, 0), mark("b", 800, 3000, 0)},
			[]WarningKind{PoorGeometry, NoRedundancy}, nil, 1},
		"same side": {[]Bearing{mark("a", -2000, 500, 0), mark("b", 0, 2500, 0), mark("c", 2000, 600, 0)},
			[]WarningKind{SameSide}, nil, 1},
		"one blunder of four": {[]Bearing{mark("a", 0, 2000, 0), mark("b", 2000, -1500, 0), mark("c", -2000, -1000, 0), mark("d", -1500, 1500, 15)},
			[]WarningKind{Blunder}, []string{"d"}, 400},
		"blunder of three cannot be named": {[]Bearing{mark("a", 0, 2000, 20), mark("b", 2000, -1500, 0), mark("c", -2000, -1000, 0)},
			[]WarningKind{Blunder}, nil, 600},
		"one back bearing of three": {[]Bearing{mark("a", 0, 2000, 180), mark("b", 2000, -1500, 0), mark("c", -2000, -1000, 0)},
			[]WarningKind{BackBearing}, []string{"a"}, 1},
		"both back bearings": {[]Bearing{mark("a", 0, 2000, 180), mark("b", 2000, -1500, 180)},
			[]WarningKind{BackBearing, NoRedundancy}, []string{"a", "b"}, 1},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			f, err := Resect(context.Background(), c.bearings, Options{})
			require.NoError(t, err)
			assert.Equal(t, c.want, kinds(f), "%+v", f.Warnings)
			if c.names != nil {
				assert.Equal(t, c.names, f.Warnings[0].Names)
			}
			assert.Less(t, geodesy.Inverse(here, f.Place).Distance, c.near)
		})
	}
}

// Bearings that mean nothing give an error or a finite fix with its warnings,
// never a hang or a place made of NaN.
func TestNonsenseBearings(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(9, 9))
	fixes := 0
	for range 400 {
		var bearings []Bearing
		for range 2 + random.IntN(5) {
			bearings = append(bearings, Bearing{Place: at(here, 2e4*random.Float64(), 2e4*random.Float64()), True: observed(360 * random.Float64())})
		}
		for _, solve := range []func(context.Context, []Bearing, Options) (*Fix, error){Resect, Intersect} {
			f, err := solve(context.Background(), bearings, Options{SharedError: 0.4})
			if err != nil {
				assert.ErrorIs(t, err, ErrNoFix)
				continue
			}
			fixes++
			assert.False(t, math.IsNaN(float64(f.Place.Lat)+float64(f.Place.Lon)+f.EastEast+f.EastNorth+f.NorthNorth+f.ChiSquare))
			assert.Positive(t, f.EastEast*f.NorthNorth-f.EastNorth*f.EastNorth)
			assert.Len(t, f.Bearings, len(bearings))
			if f.Redundancy > 0 && f.Chance < rejected {
				assert.Contains(t, kinds(f), Blunder)
			}
		}
	}
	assert.Greater(t, fixes, 100)
}

func TestRefusals(t *testing.T) {
	t.Parallel()
	a := Bearing{Name: "a", Place: here, True: 10}
	magnetic := geodesy.MagneticBearing(10)
	nan := geodesy.TrueBearing(math.NaN())
	cases := map[string]struct {
		bearings []Bearing
		options  Options
		want     string
	}{
		"none":              {nil, Options{}, "at least one bearing"},
		"one":               {[]Bearing{a}, Options{}, "a line, not a place"},
		"same mark twice":   {[]Bearing{a, a}, Options{}, "no place fits"},
		"parallel":          {[]Bearing{a, {Name: "b", Place: at(here, 0, 1000), True: 10}, {Name: "c", Place: at(here, 0, 2000), True: 10}}, Options{}, "no place fits"},
		"magnetic, no year": {[]Bearing{a, {Name: "b", Place: at(here, 900, 0), Magnetic: &magnetic}}, Options{}, "declination"},
		"not a bearing":     {[]Bearing{a, {Name: "b", Place: at(here, 900, 0), True: nan}}, Options{}, "not in [0, 360)"},
		"far apart":         {[]Bearing{a, {Name: "b", Place: geodesy.LatLon{Lat: -36, Lon: 96}, True: 90}}, Options{}, "km from"},
		"altimeter alone":   {[]Bearing{a}, Options{Altimeter: &Altimeter{Elevation: 500, Error: 5}}, "needs elevation data"},
		"line, no error":    {[]Bearing{a}, Options{Line: &Line{Points: []geodesy.LatLon{here, at(here, 9, 9)}}}, "must be above 0"},
		"compass of jelly":  {[]Bearing{a, a}, Options{BearingError: 90}, "not between 0 and 45"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, err := Resect(context.Background(), c.bearings, c.options)
			require.ErrorContains(t, err, c.want)
		})
	}
}

// A magnetic reading is turned where the compass stands: at the unknown
// place in a resection, at the known ones in an intersection.
func TestMagneticReadingsAreTurnedWhereTheCompassStands(t *testing.T) {
	t.Parallel()
	// a made-up declination that grows fast: a degree a kilometre east
	declination := func(p geodesy.LatLon) float64 {
		e, _ := geodesy.NewPlane(here).Forward(p)
		return 5 + e/1000
	}
	model := func(p geodesy.LatLon) (magnetic.Declination, error) {
		return magnetic.Declination(declination(p)), nil
	}
	x := at(here, 700, 300)
	for _, resect := range []bool{true, false} {
		var bearings []Bearing
		for _, m := range [][2]float64{{0, 2500}, {2500, -1500}, {-2500, -1000}} {
			place := at(here, m[0], m[1])
			from, to := place, x
			if resect {
				from, to = x, place
			}
			read := geodesy.NewMagneticBearing(geodesy.Degrees(float64(geodesy.Inverse(from, to).Start) - declination(from)))
			bearings = append(bearings, Bearing{Place: place, Magnetic: &read})
		}
		solve := Intersect
		if resect {
			solve = Resect
		}
		f, err := solve(context.Background(), bearings, Options{Declination: model})
		require.NoError(t, err)
		assert.Less(t, geodesy.Inverse(x, f.Place).Distance, 0.05) // m; the slope of so wild a declination is left out of the steps
	}
}

// tilted is ground that rises evenly: 200 m at here, gaining `east` and
// `north` metres a metre, posts 30 m apart on UTM zone 16.
func tilted(t *testing.T, east, north float64) *dem.Grid {
	t.Helper()
	crs, err := geodesy.NewCRS("EPSG:32616")
	require.NoError(t, err)
	x, y, err := crs.Coordinates(here)
	require.NoError(t, err)
	const n, d = 401, 30.0
	g := &dem.Grid{Frame: dem.Frame{Columns: n, Rows: n, X0: x - d*(n-1)/2, Y0: y + d*(n-1)/2, DX: d, DY: -d, CRS: crs}}
	g.Elevations = make([]float32, n*n)
	for r := range n {
		for c := range n {
			e, nn := d*float64(c-(n-1)/2), -d*float64(r-(n-1)/2)
			g.Elevations[r*n+c] = float32(200 + east*e + north*nn)
		}
	}
	return g
}

// One bearing along a slope and the elevation there give the place: ground
// rises one in five to the north, the mark is due north, so an elevation of
// 200 m is here and the altimeter's 4 m are 20 m of ground.
func TestAltimeterCrossesOneBearing(t *testing.T) {
	t.Parallel()
	grid := tilted(t, 0, 0.2)
	g := at(here, 0, 1500)
	f, err := Resect(context.Background(), []Bearing{{Name: "mark", Place: g, True: 0}},
		Options{Posts: grid, Altimeter: &Altimeter{Elevation: 200, Error: math.Sqrt(7)}, VerticalError: 3})
	require.NoError(t, err)
	e, n := metres(t, here, f.Place)
	// m; grid north lies 1.6 degrees west of true here, so the slope is not
	// quite along the bearing, and the UTM scale is 0.9998
	assert.InDelta(t, 0, e, 0.5)
	assert.InDelta(t, 0, n, 0.5)
	assert.InDelta(t, 0, f.AltimeterResidual, 1e-3)
	assert.InDelta(t, 200, f.Ground, 1e-2)
	ellipse := f.Ellipse(OneSigma)
	assert.InDelta(t, 1500*2*math.Pi/180, ellipse.SemiMajor, 0.5)
	assert.InDelta(t, 4/0.2, ellipse.SemiMinor, 0.2)
}

// A reading of 260 m pulls a fix of two bearings up the slope by weights
// that can be worked by hand: north, the bearing east is worth 52.36 m, the
// altimeter 10/0.2 = 50 m.
func TestAltimeterWeighsAgainstBearings(t *testing.T) {
	t.Parallel()
	grid := tilted(t, 0, 0.2)
	bearings := []Bearing{
		{Name: "north", Place: at(here, 0, 1500), True: 0},
		{Name: "east", Place: at(here, 1500, 0), True: observed(azimuth(here, at(here, 1500, 0)))},
	}
	f, err := Resect(context.Background(), bearings, Options{Posts: grid, Altimeter: &Altimeter{Elevation: 212, Error: 10}})
	require.NoError(t, err)
	_, n := metres(t, here, f.Place)
	want := 60 * (1 / (50.0 * 50)) / (1/(50.0*50) + 1/(52.36*52.36))
	assert.InDelta(t, want, n, 1) // m; grid convergence, and the bend of a bearing over 30 m
	assert.Equal(t, 1, f.Redundancy)
}

func TestKnownLineCrossesOneBearing(t *testing.T) {
	t.Parallel()
	stream := &Line{Name: "stream", Error: 15, Points: []geodesy.LatLon{at(here, -900, -400), at(here, -300, 0), at(here, 800, 0), at(here, 900, 700)}}
	mark := at(here, 0, 2000)
	f, err := Resect(context.Background(), []Bearing{{Name: "mark", Place: mark, True: 0}}, Options{Line: stream})
	require.NoError(t, err)
	e, n := metres(t, here, f.Place)
	assert.InDelta(t, 0, e, 0.1) // m; the line is straight between its points on the plane of the place
	assert.InDelta(t, 0, n, 0.1)
	assert.InDelta(t, 0, f.LineDistance, 0.1)
	ellipse := f.Ellipse(OneSigma)
	// m; moments over the true ground of bearings, where a line of position
	// widens with distance and the stream bends, and a lattice of a fifth of it
	const bend = 0.5
	assert.InDelta(t, 2000*2*math.Pi/180, ellipse.SemiMajor, bend)
	assert.InDelta(t, 15, ellipse.SemiMinor, bend)
	assert.InDelta(t, 90, float64(ellipse.Along), 0.5)

	// A line that the bearing crosses twice leaves two places.
	loop := &Line{Name: "stream", Error: 15, Points: []geodesy.LatLon{at(here, -500, 0), at(here, 500, 0), at(here, 500, 900), at(here, -500, 900)}}
	f, err = Resect(context.Background(), []Bearing{{Name: "mark", Place: mark, True: 0}}, Options{Line: loop})
	require.NoError(t, err)
	require.Len(t, f.Others, 1)
	assert.Contains(t, kinds(f), Ambiguous)
	assert.InDelta(t, 900, geodesy.Inverse(f.Place, f.Others[0].Place).Distance, 1)
}

func TestMarksThatCannotBeSeenAreSaid(t *testing.T) {
	t.Parallel()
	grid := tilted(t, 0, 0)
	// a wall 100 m high, 300 m north, all across
	row := (grid.Rows-1)/2 - 10
	for c := range grid.Columns {
		grid.Elevations[row*grid.Columns+c] = 300
	}
	bearings := []Bearing{
		{Name: "behind", Place: at(here, 0, 1500), True: observed(azimuth(here, at(here, 0, 1500)))},
		{Name: "open", Place: at(here, 1500, 0), True: observed(azimuth(here, at(here, 1500, 0)))},
		{Name: "off the data", Place: at(here, 0, -9000), True: observed(azimuth(here, at(here, 0, -9000)))},
	}
	f, err := Resect(context.Background(), bearings, Options{Posts: grid, Sight: &Sight{EyeAboveGround: 1.6, Conditions: visibility.DefaultConditions()}})
	require.NoError(t, err)
	assert.Equal(t, visibility.Hidden, f.Bearings[0].Sight)
	assert.Equal(t, visibility.Visible, f.Bearings[1].Sight)
	assert.Equal(t, visibility.Unknown, f.Bearings[2].Sight)
	// 98.4 m over the eye at 300 m, seen at 1500 m: five times as high, less
	// the eye's own (1.6), and a hand for the curve
	assert.InDelta(t, 98.4*5+1.6, f.Bearings[0].Extra, 2)
	assert.Contains(t, kinds(f), HiddenMark)
}

func TestEllipseOfKnownCovariance(t *testing.T) {
	t.Parallel()
	for _, along := range []float64{0, 20, 45, 90, 133, 179} {
		s, c := math.Sincos(along * math.Pi / 180)
		const major, minor = 50.0, 20.0
		// rotate diag(major², minor²), the major axis along the bearing
		ee := major*major*s*s + minor*minor*c*c
		nn := major*major*c*c + minor*minor*s*s
		en := (major*major - minor*minor) * s * c
		e := ellipse(ee, en, nn, OneSigma)
		assert.InDelta(t, major, e.SemiMajor, 1e-9)
		assert.InDelta(t, minor, e.SemiMinor, 1e-9)
		assert.InDelta(t, 0, math.Remainder(float64(e.Along)-along, 180), 1e-9)
		assert.True(t, e.Along >= 0 && e.Along < 180)
		for _, q := range e.Outline(here, 12) {
			d := geodesy.Inverse(here, q).Distance
			assert.True(t, d > minor-1e-6 && d < major+1e-6)
			assert.True(t, Ellipse{SemiMajor: major * 1.001, SemiMinor: minor * 1.001, Along: e.Along}.Covers(here, q))
			assert.False(t, Ellipse{SemiMajor: major * 0.999, SemiMinor: minor * 0.999, Along: e.Along}.Covers(here, q))
		}
	}
}

// pairCrossingAt is two marks 3 and 6 km off whose lines cross at an angle,
// read with an error of each, degrees.
func pairCrossingAt(angle float64, errors [2]float64) []Bearing {
	s, c := math.Sincos(angle / 2 * math.Pi / 180)
	var out []Bearing
	for i, place := range []geodesy.LatLon{at(here, -3000*s, 3000*c), at(here, 6000*s, 6000*c)} {
		out = append(out, Bearing{Name: string(rune('a' + i)), Place: place, True: observed(azimuth(here, place) + errors[i])})
	}
	return out
}

// Two lines that cross at under sqrt(5.991) times the error of the angle
// between them are refused, turned half round or not, and those not much over
// it are not: 6.923 degrees for 2 degrees each, 3.461 for 1 degree each. A mark that
// is itself unsure makes its line so.
func TestLinesThatMayAsWellBeParallel(t *testing.T) {
	t.Parallel()
	at60 := 3000 * math.Tan(2*math.Pi/180) // m; as unsure at 3 km as two degrees
	cases := []struct {
		name           string
		angle, compass float64
		errors         [2]float64
		placeError     float64
		refused        bool
	}{
		{"flat", 6.9, 2, [2]float64{}, 0, true},
		// the far end is more than 50 km off: from there the marks lie 0.7 degrees
		// apart, and 0.3 with a better compass
		{"an end too far off", 7.4, 2, [2]float64{}, 0, true},
		{"just not", 7.8, 2, [2]float64{}, 0, false},
		{"a better compass", 4, 1, [2]float64{}, 0, false},
		{"a better compass, flat", 3.4, 1, [2]float64{}, 0, true},
		// sqrt(5.991 (4 + 4 + 4 + 1)): the second mark is twice as far off
		{"unsure marks", 8.7, 2, [2]float64{}, at60, true},
		{"unsure marks, just not", 10, 2, [2]float64{}, at60, false},
		{"meet behind", 3, 2, [2]float64{2, -2}, 0, true},
		{"parallel but for rounding", 0.001, 2, [2]float64{}, 0, true},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			bearings := pairCrossingAt(c.angle, c.errors)
			for i := range bearings {
				bearings[i].PlaceError = c.placeError
			}
			f, err := Resect(context.Background(), bearings, Options{BearingError: geodesy.Degrees(c.compass)})
			if !c.refused {
				require.NoError(t, err)
				assert.Less(t, geodesy.Inverse(here, f.Place).Distance, 1.0)
				assert.Contains(t, kinds(f), PoorGeometry)
				return
			}
			require.ErrorIs(t, err, ErrNoFix)
			assert.ErrorContains(t, err, "take a mark more to the side")
		})
	}
	// a third bearing that crosses them bounds the place
	east := at(here, 2000, 0)
	f, err := Resect(context.Background(), append(pairCrossingAt(3, [2]float64{}), Bearing{Name: "east", Place: east, True: observed(azimuth(here, east))}), Options{})
	require.NoError(t, err)
	assert.Less(t, geodesy.Inverse(here, f.Place).Distance, 1.0)
}
