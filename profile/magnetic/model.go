package magnetic

import (
	_ "embed"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"crowline/dem/geodesy"
)

//go:embed wmm2025.cof
var wmm2025 string

// WMM2025 is the World Magnetic Model 2025, valid 2025.0 to 2030.0.
var WMM2025 = mustParse(wmm2025)

// The model's own constants, from its technical report.
const (
	maximumDegree   = 12
	referenceRadius = 6371200.0 // metres
	validYears      = 5
	lowest          = -1e3  // metres above the ellipsoid
	highest         = 850e3 // metres
	// The error of declination, degrees, and degrees times nT. WMM2020's
	// figures, 0.26 and 5625, are easily taken for these.
	sigmaConstant = 0.26
	sigmaSlope    = 5417
)

// Model is a spherical harmonic model of the Earth's magnetic field. It does
// not change once made, so it is safe for concurrent use.
type Model struct {
	name  string
	epoch float64 // decimal year
	terms []term
}

// term is one degree n and order m: Schmidt semi-normalized coefficients at
// the epoch, nT, their change, nT a year, and the recursion's constants.
type term struct {
	n, m                   int
	g, h, gChange, hChange float64
	root, rootBefore       float64 // sqrt(n²-m²), sqrt((n-1)²-m²)
}

// Name is the model's name, "WMM2025".
func (m *Model) Name() string { return m.name }

// Valid returns the first and last moment the model may be used, UTC.
func (m *Model) Valid() (from, until time.Time) {
	year := int(m.epoch)
	return time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(year+validYears, 1, 1, 0, 0, 0, 0, time.UTC)
}

// Field is the Earth's magnetic field at a place and date.
type Field struct {
	// North, East and Down are the components, nT, on the ellipsoid's axes.
	North, East, Down float64
	// Horizontal and Total are intensities, nT.
	Horizontal, Total float64
	// Inclination is the dip, positive where the needle's north end dips.
	Inclination geodesy.Degrees
	// Declination is from true north to magnetic north.
	Declination Declination
	// AnnualChange of declination, degrees a year, positive when it moves
	// east.
	AnnualChange geodesy.Degrees
	// DeclinationSigma is one standard deviation of the error of
	// Declination: sqrt(0.26² + (5417/H)²).
	DeclinationSigma geodesy.Degrees
	// Zone warns where the horizontal field is too weak for a compass.
	Zone Zone
	// Given: Declination was given by hand and is not the model's.
	Given bool
}

// DateError says that a date is outside a model's years.
type DateError struct {
	// Model is the model's name.
	Model string
	// From and Until are the first and last moment it covers.
	From, Until time.Time
	// Date is what was asked for.
	Date time.Time
}

// Error names the date, the model and its years, and what to do.
func (e *DateError) Error() string {
	return fmt.Sprintf("date %s is outside the magnetic model %s, which holds from %s to %s: give a date in those years, or the declination by hand",
		e.Date.Format(time.DateOnly), e.Model, e.From.Format(time.DateOnly), e.Until.Format(time.DateOnly))
}

// DecimalYear is the year with the elapsed share of it as decimals, in the
// calendar the time carries: 2026-07-02 12:00 is 2026.5.
func DecimalYear(date time.Time) float64 {
	year := date.Year()
	days := float64(time.Date(year, 12, 31, 0, 0, 0, 0, time.UTC).YearDay())
	ofDay := float64(date.Hour())/24 + float64(date.Minute())/1440 + float64(date.Second())/86400
	return float64(year) + (float64(date.YearDay()-1)+ofDay)/days
}

// At evaluates the model at a place, elevation in metres above the ellipsoid
// (above sea level is close enough) and date. A date outside the model's
// years is a *DateError; a place off the Earth's coordinates or an elevation
// outside -1 km to 850 km is an error too.
func (m *Model) At(p geodesy.LatLon, elevation float64, date time.Time) (Field, error) {
	year := DecimalYear(date)
	if year < m.epoch || year > m.epoch+validYears {
		from, until := m.Valid()
		return Field{}, &DateError{m.name, from, until, date}
	}
	return m.atYear(p, elevation, year)
}

func (m *Model) atYear(p geodesy.LatLon, elevation, year float64) (Field, error) {
	if _, err := geodesy.NewLatLon(p.Lat, p.Lon); err != nil {
		return Field{}, fmt.Errorf("magnetic field: %w", err)
	}
	if !(elevation >= lowest && elevation <= highest) {
		return Field{}, fmt.Errorf("magnetic field at %v: elevation %.0f m is not between %.0f and %.0f", p, elevation, lowest, highest)
	}
	now, change := m.sum(p, elevation, year-m.epoch)
	f := Field{North: now[0], East: now[1], Down: now[2]}
	squared := f.North*f.North + f.East*f.East
	f.Horizontal = math.Sqrt(squared)
	f.Total = math.Sqrt(squared + f.Down*f.Down)
	f.Inclination = geodesy.Atan2(f.Down, f.Horizontal)
	f.Declination = Declination(geodesy.Atan2(f.East, f.North))
	f.AnnualChange = geodesy.Degrees((f.North*change[1] - f.East*change[0]) / squared * 180 / math.Pi)
	f.DeclinationSigma = geodesy.Degrees(math.Hypot(sigmaConstant, sigmaSlope/f.Horizontal))
	f.Zone = zoneOf(f.Horizontal)
	return f, nil
}

// sum adds up the harmonics so many years after the epoch: north, east and
// down, in nT, and their change in nT a year.
//
// The report divides by the cosine of latitude, which fails at the poles.
// Here q is P(n,0) for order 0 and P(n,m)/sin(colatitude) for the rest: the
// usual recursions give it without dividing, and the slope of P follows from
// sin(t) dP(n,m)/dt = n cos(t) P(n,m) - sqrt(n²-m²) P(n-1,m) and
// dP(n,0)/dt = -sqrt(n(n+1)/2) P(n,1).
func (m *Model) sum(p geodesy.LatLon, elevation, years float64) (now, change [3]float64) {
	sinLat, cosLat := p.Lat.SinCos()
	_, primeVertical := geodesy.RadiiOfCurvature(p.Lat)
	const e2 = geodesy.Flattening * (2 - geodesy.Flattening)
	axial := (primeVertical*(1-e2) + elevation) * sinLat
	radial := (primeVertical + elevation) * cosLat
	r := math.Hypot(axial, radial)
	c, s := axial/r, radial/r // cosine and sine of the geocentric colatitude

	var sinM, cosM, power [maximumDegree + 1]float64 // of m times the longitude; (a/r)^(n+2)
	ratio := referenceRadius / r
	power[0] = ratio * ratio
	cosM[0] = 1
	for k := 1; k <= maximumDegree; k++ {
		sinM[k], cosM[k] = (p.Lon * geodesy.Degrees(k)).SinCos()
		power[k] = power[k-1] * ratio
	}
	var q [maximumDegree + 1][maximumDegree + 1]float64
	q[0][0] = 1
	for _, t := range m.terms {
		n := float64(t.n)
		switch {
		case t.n == 1 && t.m == 1:
			q[1][1] = 1
		case t.n == t.m:
			q[t.n][t.n] = q[t.n-1][t.n-1] * s * math.Sqrt((2*n-1)/(2*n))
		case t.n == 1:
			q[1][0] = c
		default:
			q[t.n][t.m] = ((2*n-1)*c*q[t.n-1][t.m] - t.rootBefore*q[t.n-2][t.m]) / t.root
		}
	}
	var field, fieldChange [3]float64 // up, south and east on the sphere
	for _, t := range m.terms {
		n, order := float64(t.n), float64(t.m)
		value, slope := q[t.n][0], -math.Sqrt(n*(n+1)/2)*s*q[t.n][1]
		if t.m > 0 {
			value, slope = s*q[t.n][t.m], n*c*q[t.n][t.m]-t.root*q[t.n-1][t.m]
		}
		add := func(out *[3]float64, g, h float64) {
			along := power[t.n] * (g*cosM[t.m] + h*sinM[t.m])
			across := power[t.n] * (g*sinM[t.m] - h*cosM[t.m])
			out[0] += (n + 1) * along * value
			out[1] -= along * slope
			out[2] += across * order * q[t.n][t.m]
		}
		add(&field, t.g+years*t.gChange, t.h+years*t.hChange)
		add(&fieldChange, t.gChange, t.hChange)
	}
	// From the sphere's axes to the ellipsoid's: by the angle between the
	// geodetic and the geocentric vertical.
	sinTurn, cosTurn := sinLat*s-cosLat*c, cosLat*s+sinLat*c
	turn := func(v [3]float64) [3]float64 {
		return [3]float64{-v[1]*cosTurn - v[0]*sinTurn, v[2], v[1]*sinTurn - v[0]*cosTurn}
	}
	return turn(field), turn(fieldChange)
}

func mustParse(text string) *Model {
	m, err := parse(text)
	if err != nil {
		panic("magnetic: the built-in coefficients: " + err.Error()) // a test reads them
	}
	return m
}

// parse reads NOAA's coefficient layout: a line of epoch, name and date;
// lines of n, m, g, h and their yearly changes, in order; and lines of nines
// that end the file.
func parse(text string) (*Model, error) {
	lines := strings.Split(strings.TrimSpace(text), "\n")
	head := strings.Fields(lines[0])
	if len(head) != 3 {
		return nil, fmt.Errorf("line 1 is not an epoch, a name and a date: %q", lines[0])
	}
	epoch, err := strconv.ParseFloat(head[0], 64)
	if err != nil || epoch != math.Trunc(epoch) {
		return nil, fmt.Errorf("line 1: %q is not an epoch", head[0])
	}
	m := &Model{name: strings.ReplaceAll(head[1], "-", ""), epoch: epoch}
	n, order := 1, 0
	for i, line := range lines[1:] {
		if strings.HasPrefix(strings.TrimSpace(line), "9999") {
			break
		}
		var t term
		if _, err := fmt.Sscan(line, &t.n, &t.m, &t.g, &t.h, &t.gChange, &t.hChange); err != nil {
			return nil, fmt.Errorf("line %d: %q: %w", i+2, line, err)
		}
		if t.n != n || t.m != order || n > maximumDegree {
			return nil, fmt.Errorf("line %d: degree %d order %d where %d, %d should be", i+2, t.n, t.m, n, order)
		}
		t.root = math.Sqrt(float64(n*n - order*order))
		t.rootBefore = math.Sqrt(math.Max(0, float64((n-1)*(n-1)-order*order)))
		m.terms = append(m.terms, t)
		if order++; order > n {
			n, order = n+1, 0
		}
	}
	if n != maximumDegree+1 || order != 0 {
		return nil, fmt.Errorf("the coefficients end before degree %d", maximumDegree)
	}
	return m, nil
}
