package magnetic

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

const (
	printedField = 0.1    // nT; the published rows' printed rounding
	exactField   = 0.01   // nT; the test file prints six decimals
	printedAngle = 0.0051 // degrees; half of the printed hundredth, and its edge
)

func day(year int, month time.Month, d int) time.Time {
	return time.Date(year, month, d, 0, 0, 0, 0, time.UTC)
}

// bearingGap is the unsigned turn between two declinations.
func bearingGap(a, b float64) float64 { return math.Abs(math.Remainder(a-b, 360)) }

func TestPublishedRows(t *testing.T) {
	t.Parallel()
	// NOAA NCEI, WMM2025 test values: year, height km, lat, lon; X, Y, Z, H,
	// F; I, D; D's yearly change.
	for _, row := range [][12]float64{
		{2025.0, 0, 80, 0, 6521.6, 145.9, 54791.5, 6523.2, 55178.5, 83.21, 1.28, 0.52},
		{2025.0, 0, 0, 120, 39677.8, -109.6, -10580.2, 39677.9, 41064.3, -14.93, -0.16, -0.03},
		{2025.0, 0, -80, 240, 6117.5, 15751.9, -52022.5, 16898.1, 54698.2, -72.00, 68.78, -0.12},
		{2025.0, 100, 80, 0, 6216.0, 92.4, 52598.8, 6216.7, 52964.9, 83.26, 0.85, 0.52},
		{2025.0, 100, 0, 120, 37688.6, -96.2, -10152.1, 37688.7, 39032.1, -15.08, -0.15, -0.03},
		{2025.0, 100, -80, 240, 5907.6, 14780.3, -49540.7, 15917.1, 52035.0, -72.19, 68.21, -0.11},
		{2027.5, 0, 80, 0, 6500.8, 294.5, 54869.4, 6507.5, 55253.9, 83.24, 2.59, 0.53},
		{2027.5, 0, 0, 120, 39701.6, -167.4, -10381.8, 39702.0, 41036.9, -14.65, -0.24, -0.03},
		{2027.5, 0, -80, 240, 6200.7, 15730.3, -51783.7, 16908.3, 54474.2, -71.92, 68.49, -0.12},
		{2027.5, 100, 80, 0, 6196.7, 233.8, 52670.5, 6201.1, 53034.3, 83.29, 2.16, 0.52},
		{2027.5, 100, 0, 120, 37711.5, -148.7, -9969.8, 37711.8, 39007.4, -14.81, -0.23, -0.03},
		{2027.5, 100, -80, 240, 5984.0, 14760.1, -49317.7, 15927.0, 51825.7, -72.10, 67.93, -0.11},
	} {
		p, err := geodesy.NewLatLon(geodesy.Degrees(row[2]), geodesy.Degrees(row[3]))
		require.NoError(t, err)
		f, err := WMM2025.atYear(p, row[1]*1000, row[0])
		require.NoError(t, err)
		for i, got := range []float64{f.North, f.East, f.Down, f.Horizontal, f.Total} {
			assert.InDelta(t, row[4+i], got, printedField/2*1.01, "%v component %d", row[:4], i)
		}
		assert.InDelta(t, row[9], float64(f.Inclination), printedAngle, "%v", row[:4])
		assert.InDelta(t, row[10], float64(f.Declination), printedAngle, "%v", row[:4])
		assert.InDelta(t, row[11], float64(f.AnnualChange), printedAngle, "%v", row[:4])
	}
}

func TestNOAATestFile(t *testing.T) {
	t.Parallel()
	file, err := os.Open(filepath.Join("..", "..", "testdata", "wmm2025-test-values.csv"))
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 101)
	for _, row := range rows[1:] {
		var v [11]float64
		for i := range v {
			v[i], err = strconv.ParseFloat(row[i], 64)
			require.NoError(t, err)
		}
		p := geodesy.LatLon{Lat: geodesy.Degrees(v[2]), Lon: geodesy.Degrees(v[3])}
		f, err := WMM2025.atYear(p, v[1]*1000, v[0])
		require.NoError(t, err)
		for i, got := range []float64{f.North, f.East, f.Down, f.Horizontal, f.Total} {
			assert.InDelta(t, v[4+i], got, exactField, "%v component %d", row, i)
		}
		assert.InDelta(t, v[9], float64(f.Inclination), printedAngle, "%v", row)
		assert.LessOrEqual(t, bearingGap(v[10], float64(f.Declination)), printedAngle, "%v", row)
	}
}

func TestMiddleLatitudes(t *testing.T) {
	t.Parallel()
	// Worked by an independent program from the same coefficients, 2026.5.
	const printed = 6e-4 // degrees; three decimals
	date := time.Date(2026, 7, 2, 12, 0, 0, 0, time.UTC)
	require.Equal(t, 2026.5, DecimalYear(date))
	for _, c := range []struct{ lat, lon, metres, declination float64 }{
		{46.0, 7.6, 2000, 3.344}, {36.5785, -118.2923, 4000, 11.841}, {51.5, -3.4, 500, 0.063},
		{-41.3, 174.7, 200, 23.268}, {64, -17, 500, -8.526},
	} {
		f, err := WMM2025.At(geodesy.LatLon{Lat: geodesy.Degrees(c.lat), Lon: geodesy.Degrees(c.lon)}, c.metres, date)
		require.NoError(t, err)
		assert.InDelta(t, c.declination, float64(f.Declination), printed, "%v", c)
		assert.Equal(t, Normal, f.Zone)
	}
}

func TestAnnualChangeIsTheSlopeInTime(t *testing.T) {
	t.Parallel()
	const (
		seed = 2
		step = 0.01 // years
	)
	random := rand.New(rand.NewPCG(seed, seed))
	for range 300 {
		p := geodesy.LatLon{Lat: geodesy.Degrees(random.Float64()*140 - 70), Lon: geodesy.Degrees(random.Float64()*360 - 180)}
		a, err := WMM2025.atYear(p, 1000, 2027)
		require.NoError(t, err)
		b, err := WMM2025.atYear(p, 1000, 2027+step)
		require.NoError(t, err)
		middle, err := WMM2025.atYear(p, 1000, 2027+step/2)
		require.NoError(t, err)
		slope := math.Remainder(float64(b.Declination-a.Declination), 360) / step
		assert.InDelta(t, slope, float64(middle.AnnualChange), 1e-5, "seed %d: %v", seed, p)
	}
}

// potential is the model's scalar potential by its textbook sum, nT m, at a
// geocentric place: a slow plain check, whose slope is the field.
func potential(m *Model, r, lat, lon, years float64) float64 {
	c := math.Sin(lat)
	v := 0.0
	for _, t := range m.terms {
		g, h := t.g+years*t.gChange, t.h+years*t.hChange
		order := float64(t.m)
		v += referenceRadius * math.Pow(referenceRadius/r, float64(t.n+1)) *
			(g*math.Cos(order*lon) + h*math.Sin(order*lon)) * schmidt(t.n, t.m, c)
	}
	return v
}

// schmidt is the Schmidt semi-normalized associated Legendre function by its
// closed sum (Hobson): factorials and powers, no recursion.
func schmidt(n, m int, x float64) float64 {
	factorial := func(k int) float64 { return math.Gamma(float64(k) + 1) }
	sum := 0.0
	for k := 0; 2*k <= n-m; k++ {
		sum += math.Pow(-1, float64(k)) * factorial(2*n-2*k) /
			(math.Pow(2, float64(n)) * factorial(k) * factorial(n-k) * factorial(n-m-2*k)) * math.Pow(x, float64(n-m-2*k))
	}
	norm := 1.0
	if m > 0 {
		norm = math.Sqrt(2 * factorial(n-m) / factorial(n+m))
	}
	return norm * math.Pow(1-x*x, float64(m)/2) * sum
}

func TestFieldIsTheSlopeOfThePotential(t *testing.T) {
	t.Parallel()
	const (
		seed = 4
		step = 50.0 // metres
		tol  = 0.01 // nT; what differences over 100 m leave of the potential's last digits
	)
	random := rand.New(rand.NewPCG(seed, seed))
	for range 40 {
		p := geodesy.LatLon{Lat: geodesy.Degrees(random.Float64()*170 - 85), Lon: geodesy.Degrees(random.Float64()*360 - 180)}
		h, year := random.Float64()*5000, 2025+random.Float64()*5
		f, err := WMM2025.atYear(p, h, year)
		require.NoError(t, err)
		// Cartesian position and the ellipsoid's axes there.
		sLat, cLat := p.Lat.SinCos()
		sLon, cLon := p.Lon.SinCos()
		_, n := geodesy.RadiiOfCurvature(p.Lat)
		e2 := geodesy.Flattening * (2 - geodesy.Flattening)
		at := [3]float64{(n + h) * cLat * cLon, (n + h) * cLat * sLon, (n*(1-e2) + h) * sLat}
		value := func(q [3]float64) float64 {
			return potential(WMM2025, math.Sqrt(q[0]*q[0]+q[1]*q[1]+q[2]*q[2]),
				math.Atan2(q[2], math.Hypot(q[0], q[1])), math.Atan2(q[1], q[0]), year-2025)
		}
		for i, axis := range [3][3]float64{{-sLat * cLon, -sLat * sLon, cLat}, {-sLon, cLon, 0}, {-cLat * cLon, -cLat * sLon, -sLat}} {
			var a, b [3]float64
			for k := range at {
				a[k], b[k] = at[k]-step*axis[k], at[k]+step*axis[k]
			}
			slope := -(value(b) - value(a)) / (2 * step)
			assert.InDelta(t, slope, []float64{f.North, f.East, f.Down}[i], tol, "seed %d: %v, component %d", seed, p, i)
		}
	}
}

func TestPoles(t *testing.T) {
	t.Parallel()
	for _, lat := range []geodesy.Degrees{90, -90} {
		pole, err := WMM2025.At(geodesy.LatLon{Lat: lat, Lon: 30}, 0, day(2026, 1, 1))
		require.NoError(t, err)
		near, err := WMM2025.At(geodesy.LatLon{Lat: lat * (1 - 1e-9), Lon: 30}, 0, day(2026, 1, 1))
		require.NoError(t, err)
		assert.InDelta(t, near.North, pole.North, exactField)
		assert.InDelta(t, near.East, pole.East, exactField)
		assert.InDelta(t, near.Down, pole.Down, exactField)
		// Turning the meridian turns the declination by as much, and leaves
		// the horizontal field alone.
		turned, err := WMM2025.At(geodesy.LatLon{Lat: lat, Lon: 70}, 0, day(2026, 1, 1))
		require.NoError(t, err)
		assert.InDelta(t, pole.Horizontal, turned.Horizontal, exactField)
		assert.InDelta(t, 40, bearingGap(float64(pole.Declination), float64(turned.Declination)), 1e-6)
	}
}

func TestSigmaAndZones(t *testing.T) {
	t.Parallel()
	f, err := WMM2025.At(geodesy.LatLon{Lat: 46, Lon: 7.6}, 2000, day(2026, 7, 1))
	require.NoError(t, err)
	assert.InDelta(t, math.Sqrt(0.26*0.26+math.Pow(5417/f.Horizontal, 2)), float64(f.DeclinationSigma), 1e-12)
	assert.Equal(t, Normal, f.Zone)
	// First rows of NOAA's test file: H 1504.3 nT and 2164.3 nT.
	f, err = WMM2025.At(geodesy.LatLon{Lat: 89, Lon: -121}, 28000, day(2025, 1, 1))
	require.NoError(t, err)
	assert.Equal(t, Blackout, f.Zone)
	assert.Greater(t, float64(f.DeclinationSigma), 3.0)
	f, err = WMM2025.At(geodesy.LatLon{Lat: 80, Lon: -96}, 48000, day(2025, 1, 1))
	require.NoError(t, err)
	assert.Equal(t, Caution, f.Zone)
	for h, want := range map[float64]Zone{0: Blackout, 1999.9: Blackout, 2000: Caution, 5999.9: Caution, 6000: Normal} {
		assert.Equal(t, want, zoneOf(h), "%v nT", h)
	}
	assert.Equal(t, "normal caution blackout Zone(9)", fmt.Sprint(Normal, " ", Caution, " ", Blackout, " ", Zone(9)))
}

func TestDatesOutsideTheModelAreRefused(t *testing.T) {
	t.Parallel()
	place := geodesy.LatLon{Lat: 46, Lon: 7.6}
	for _, date := range []time.Time{day(2024, 12, 31), day(2030, 1, 2), day(1990, 6, 1), {}} {
		_, err := WMM2025.At(place, 0, date)
		var outside *DateError
		require.ErrorAs(t, err, &outside)
		assert.Equal(t, date, outside.Date)
		assert.Contains(t, err.Error(), date.Format(time.DateOnly))
		assert.Contains(t, err.Error(), "WMM2025, which holds from 2025-01-01 to 2030-01-01: give a date in those years")
	}
	for _, date := range []time.Time{day(2025, 1, 1), day(2029, 12, 31), day(2030, 1, 1),
		time.Date(2025, 1, 1, 0, 0, 0, 0, time.FixedZone("", 13*3600))} { // by the calendar it carries
		_, err := WMM2025.At(place, 0, date)
		require.NoError(t, err, "%v", date)
	}
	from, until := WMM2025.Valid()
	assert.Equal(t, day(2025, 1, 1), from)
	assert.Equal(t, day(2030, 1, 1), until)
	assert.Equal(t, "WMM2025", WMM2025.Name())
}

func TestOtherRefusals(t *testing.T) {
	t.Parallel()
	date := day(2026, 1, 1)
	for _, c := range []struct {
		lat, lon  geodesy.Degrees
		elevation float64
		says      string
	}{
		{91, 0, 0, "latitude 91"}, {geodesy.Degrees(math.NaN()), 0, 0, "latitude NaN"}, {0, 400, 0, "longitude 400"},
		{0, 0, math.NaN(), "elevation NaN"}, {0, 0, -1001, "elevation -1001"}, {0, 0, 900e3, "elevation 900000"},
	} {
		_, err := WMM2025.At(geodesy.LatLon{Lat: c.lat, Lon: c.lon}, c.elevation, date)
		require.Error(t, err)
		assert.Contains(t, err.Error(), c.says)
	}
}

func TestElevationMattersLittle(t *testing.T) {
	t.Parallel()
	// What the package's comment promises of sea level for the ellipsoid.
	const hundredMetres = 2e-3 // degrees; the worst is beside the south magnetic pole
	for lat := geodesy.Degrees(-60); lat <= 60; lat += 5 {
		for lon := geodesy.Degrees(-180); lon < 180; lon += 10 {
			a, err := WMM2025.atYear(geodesy.LatLon{Lat: lat, Lon: lon}, 0, 2026)
			require.NoError(t, err)
			b, err := WMM2025.atYear(geodesy.LatLon{Lat: lat, Lon: lon}, 100, 2026)
			require.NoError(t, err)
			assert.LessOrEqual(t, bearingGap(float64(a.Declination), float64(b.Declination)), hundredMetres, "%v %v", lat, lon)
		}
	}
}

func TestDecimalYear(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		date time.Time
		want float64
	}{
		{day(2025, 1, 1), 2025}, {day(2028, 7, 2), 2028.5}, {day(2025, 12, 31), 2025 + 364.0/365},
		{time.Date(2025, 7, 2, 12, 0, 0, 0, time.UTC), 2025.5}, {day(2030, 1, 1), 2030},
	} {
		assert.InDelta(t, c.want, DecimalYear(c.date), 1e-12)
	}
}

func TestParseRefusesBrokenCoefficients(t *testing.T) {
	t.Parallel()
	lines := strings.Split(wmm2025, "\n")
	for _, c := range []struct{ name, text, says string }{
		{"empty", "", "line 1"},
		{"epoch", strings.Replace(wmm2025, "2025.0", "soon", 1), "not an epoch"},
		{"short", wmm2025[:2000], "line"},
		{"missing line", strings.Join(append(append([]string{}, lines[:3]...), lines[4:]...), "\n"), "where 2, 0 should be"},
		{"not a number", strings.Replace(wmm2025, "-2556.6", "-2556.x", 1), "line 4"},
		{"ends early", wmm2025[:strings.Index(wmm2025, " 12  0")], "end before degree 12"},
	} {
		_, err := parse(c.text)
		require.Error(t, err, c.name)
		assert.Contains(t, err.Error(), c.says, c.name)
	}
}

func BenchmarkAt(b *testing.B) {
	b.ReportAllocs()
	date := day(2026, 1, 1)
	for b.Loop() {
		if _, err := WMM2025.At(geodesy.LatLon{Lat: 46, Lon: 7.6}, 2000, date); err != nil {
			b.Fatal(err)
		}
	}
}
