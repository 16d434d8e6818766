package sun_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
	"crowline/profile/sun"
)

func at(t testing.TB, text string) time.Time {
	t.Helper()
	out, err := time.Parse(time.RFC3339, text)
	require.NoError(t, err)
	return out
}

// Meeus, Astronomical Algorithms, examples 25.a and 28.a (1992 October 13.0
// dynamical time; from memory): apparent declination -7.78507 degrees by the
// low-accuracy method, -7 47' 01.7" by the high one; equation of time 13 min
// 42.7 s.
func TestWorkedExampleOfMeeus(t *testing.T) {
	t.Parallel()
	p := sun.At(geodesy.LatLon{}, at(t, "1992-10-13T00:00:00Z"))
	const arcSecond = 1.0 / 3600
	// degrees; the obliquity of example 25.a has four decimals
	assert.InDelta(t, -7.78507, float64(p.Declination), arcSecond/5)
	assert.InDelta(t, -(7 + 47.0/60 + 1.74*arcSecond), float64(p.Declination), 5*arcSecond)
	// s; Meeus gives it to 0.1, and chapter 28's own short formula is good to 3
	assert.InDelta(t, 13*60+42.7, p.EquationOfTime.Seconds(), 1.5)
}

// Values of NREL's Solar Position Algorithm (I. Reda, A. Andreas, Solar
// Position Algorithm for Solar Radiation Applications, NREL/TP-560-34302,
// revised 2008), good to 0.0003 degrees: an implementation with the planets'
// full theory. The first row is the report's own example, its elevation without
// refraction; the others come from the report's own C program with refraction
// at 1000 mbar and 10 degrees C (from the reference data of the library
// solarpositioning, github.com/klausbrunner/solarpositioning).
func TestPositionAgainstAFullTheory(t *testing.T) {
	t.Parallel()
	const tolerance = 0.01 // degrees; what the package promises from 1950 to 2050
	const old = 0.02       // from 1900 to 2100
	auckland, brasilia := geodesy.LatLon{Lat: -36.840556, Lon: 174.74}, geodesy.LatLon{Lat: -15.793889, Lon: -47.882778}
	for _, c := range []struct {
		place           geodesy.LatLon
		time            string
		azimuth, zenith float64
		bent            bool
		tolerance       float64
	}{
		{geodesy.LatLon{Lat: 39.742476, Lon: -105.1786}, "2003-10-17T12:30:30-07:00", 194.340241, 90 - 39.872046, false, tolerance},
		{auckland, "2010-03-15T03:30:00Z", 299.087594, 53.909325, true, tolerance},
		{auckland, "2010-06-15T00:30:00Z", 357.723597, 60.142480, true, tolerance},
		{auckland, "2010-06-15T21:30:00Z", 40.949751, 72.439564, true, tolerance},
		{auckland, "2010-09-15T12:30:00Z", 173.871388, 145.962695, false, tolerance},
		{auckland, "2010-12-15T00:30:00Z", 346.427128, 13.924050, true, tolerance},
		{auckland, "2010-12-15T09:30:00Z", 219.890796, 108.279652, false, tolerance},
		{brasilia, "2010-06-15T09:30:00Z", 66.377077, 92.195238, false, tolerance},
		{brasilia, "2010-09-15T18:30:00Z", 285.832743, 53.575069, true, tolerance},
		{brasilia, "2010-12-15T12:30:00Z", 107.808808, 37.525486, true, tolerance},
		{auckland, "1910-09-15T09:30:00Z", 238.829051, 129.186829, false, old},
		{brasilia, "1910-03-15T12:30:00Z", 76.696929, 44.107547, true, old},
	} {
		p := sun.At(c.place, at(t, c.time))
		elevation := p.Elevation
		if c.bent {
			elevation += sun.Refraction(elevation)
		}
		assert.InDelta(t, 90-c.zenith, float64(elevation), c.tolerance, c.time)
		turn := geodesy.Difference(geodesy.TrueBearing(c.azimuth), p.Azimuth)
		// on the sky: near the zenith a small way is a large turn
		assert.InDelta(t, 0, float64(turn)*p.Elevation.Cos(), c.tolerance, "azimuth at %s", c.time)
	}
}

// minutes since midnight, for tables that have no seconds.
func clock(t time.Time) string { return t.Round(time.Minute).Format("15:04") }

// Rise, set and twilight of the US Naval Observatory's web tables: the first
// five rows' dates and times (UTC) as kept in the test data of the library
// solarpositioning (github.com/klausbrunner/solarpositioning, which says they
// are the Observatory's), Hawaii as kept in that of Perl's Astro::Coords,
// Golden and Beijing in that of pvlib, the last three in the report of NREL's
// Solar Position Algorithm, which compares with the Astronomical Almanac.
func TestTimesAgainstPublishedTables(t *testing.T) {
	t.Parallel()
	const tolerance = time.Minute // tables are rounded to one
	for _, p := range []struct {
		name  string
		place geodesy.LatLon
		zone  int // hours
		// the table's dates are those of UTC, though its clock here is the zone's
		utc  bool
		days [][5]string
	}{
		// date; dawn, sunrise, sunset, dusk
		{"Anchorage", geodesy.LatLon{Lat: 61.216667, Lon: -149.866667}, -9, true, [][5]string{
			{"2020-01-05", "09:11", "10:11", "15:57", "16:58"}, {"2020-02-15", "07:57", "08:43", "17:43", "18:29"},
			{"2020-03-25", "05:59", "06:43", "19:27", "20:11"}, {"2020-05-05", "03:37", "04:37", "21:14", "22:15"},
			{"2020-06-05", "01:24", "03:29", "22:27", "00:32"}, {"2020-06-15", "all", "03:21", "22:40", "all"},
			{"2020-09-15", "05:44", "06:28", "19:22", "20:06"}, {"2020-12-25", "09:13", "10:15", "15:44", "16:46"},
		}},
		{"Auckland", geodesy.LatLon{Lat: -36.833333, Lon: 174.8}, 12, true, [][5]string{
			{"2020-01-05", "", "05:09", "19:44", ""}, {"2020-06-15", "", "07:32", "17:11", ""}, {"2020-09-25", "", "06:04", "18:20", ""},
			{"2023-03-05", "05:44", "", "", "19:21"}, {"2023-06-15", "07:03", "", "", "17:40"}, {"2023-12-15", "04:25", "", "", "20:06"},
		}},
		{"Brasilia", geodesy.LatLon{Lat: -15.8, Lon: -47.85}, -3, true, [][5]string{
			{"2020-01-05", "", "05:46", "18:48", ""}, {"2020-07-05", "", "06:40", "17:53", ""}, {"2023-07-05", "06:16", "", "", "18:16"},
		}},
		{"Singapore", geodesy.LatLon{Lat: 1.283333, Lon: 103.833333}, 8, true, [][5]string{
			{"2020-02-15", "", "07:17", "19:21", ""}, {"2020-11-05", "", "06:46", "18:50", ""}, {"2023-11-05", "06:25", "", "", "19:12"},
		}},
		{"Longyearbyen, 78 N, away from the days that skim the level", geodesy.LatLon{Lat: 78.216667, Lon: 15.633333}, 0, false, [][5]string{
			{"2020-03-15", "", "05:27", "16:49", ""}, {"2020-10-05", "", "06:06", "15:23", ""},
			{"2020-05-15", "all", "all", "all", "all"}, {"2020-12-25", "none", "none", "none", "none"}, {"2020-02-05", "", "none", "none", ""},
		}},
		{"Mauna Kea", geodesy.LatLon{Lat: 19 + 49.0/60, Lon: -(155 + 29.0/60)}, -10, false, [][5]string{{"2003-07-15", "05:27", "05:51", "19:04", "19:28"}}},
		{"Golden", geodesy.LatLon{Lat: 39, Lon: -105}, -7, false, [][5]string{
			{"2015-01-02", "", "07:19", "16:49", ""}, {"2015-04-02", "", "05:43", "18:24", ""},
			{"2015-08-02", "", "05:01", "19:10", ""}, {"2015-12-02", "", "07:01", "16:38", ""},
		}},
		{"Beijing", geodesy.LatLon{Lat: 39.917, Lon: 116.383}, 8, false, [][5]string{
			{"2015-01-02", "", "07:36", "17:00", ""}, {"2015-04-02", "", "05:58", "18:39", ""},
			{"2015-08-02", "", "05:13", "19:28", ""}, {"2015-12-02", "", "07:17", "16:50", ""},
		}},
		{"35 N", geodesy.LatLon{Lat: 35}, 0, false, [][5]string{{"1994-01-02", "", "07:08", "17:00", ""}}},
		{"35 S", geodesy.LatLon{Lat: -35}, 0, false, [][5]string{{"1996-07-05", "", "07:08", "17:01", ""}, {"2004-12-04", "", "04:39", "19:02", ""}}},
	} {
		zone := time.FixedZone("", p.zone*3600)
		for _, d := range p.days {
			date, err := time.ParseInLocation(time.DateOnly, d[0], zone)
			require.NoError(t, err)
			events := func(days int) [4]sun.Event {
				day := sun.On(p.place, date.AddDate(0, 0, days))
				return [4]sun.Event{day.Dawn, day.Sunrise, day.Sunset, day.Dusk}
			}
			for i, e := range events(0) {
				for _, days := range []int{-1, 1} {
					if other := events(days)[i]; p.utc && other.State == sun.Happens && other.Time.UTC().Format(time.DateOnly) == d[0] {
						e = other
					}
				}
				want, name := d[i+1], fmt.Sprintf("%s %s, event %d", p.name, d[0], i+1)
				switch want {
				case "":
				case "all":
					assert.Equal(t, sun.AlwaysAbove, e.State, name)
					assert.Zero(t, e.Time, name)
				case "none":
					if i == 1 || i == 2 || p.name[0] == 'L' && d[0] == "2020-12-25" {
						assert.Equal(t, sun.AlwaysBelow, e.State, name)
					}
				default:
					if !assert.Equal(t, sun.Happens, e.State, name) {
						continue
					}
					clock, err := time.Parse("15:04", want)
					require.NoError(t, err)
					got := time.Date(0, 1, 1, e.Time.Hour(), e.Time.Minute(), e.Time.Second(), 0, time.UTC)
					apart := got.Sub(clock).Abs()
					apart = min(apart, 24*time.Hour-apart)
					assert.LessOrEqual(t, apart, tolerance, "%s: %s, table %s", name, e.Time.Format(time.TimeOnly), want)
				}
			}
		}
	}
}

// Events by JPL's ephemeris, to a millisecond, at -50 arc-minutes and -6
// degrees (test data of the library solarpositioning, made with JPL Horizons).
// NOAA's -0.833 for -50/60 is worth a second or two.
func TestTimesAgainstAnEphemeris(t *testing.T) {
	t.Parallel()
	const tolerance = 10 * time.Second // below 65 degrees; what the package promises
	const low = 20 * time.Second       // where the sun goes down no more than half a degree farther
	const skimming = 90 * time.Second  // at 78 degrees
	anchorage := geodesy.LatLon{Lat: 61.21666666666667, Lon: -149.86666666666667}
	longyear := geodesy.LatLon{Lat: 78.216667, Lon: 15.633333}
	for _, c := range []struct {
		place                             geodesy.LatLon
		date                              string
		dawn, sunrise, noon, sunset, dusk string
		tolerance                         time.Duration
	}{
		{anchorage, "2020-07-05T00:00:00-09:00", "2020-07-05T10:21:04.205Z", "2020-07-05T12:33:47.798Z", "2020-07-05T22:04:13.916Z", "", "", low},
		{anchorage, "2020-07-04T00:00:00-09:00", "", "", "", "2020-07-05T07:34:47.404Z", "2020-07-05T09:47:30.443Z", low},
		{geodesy.LatLon{Lat: 39.742476, Lon: -105.1786}, "2003-10-17T00:00:00-07:00", "2003-10-17T12:45:29.245Z", "2003-10-17T13:12:44.270Z", "2003-10-17T18:46:04.990Z", "", "", tolerance},
		{geodesy.LatLon{Lat: 48.21, Lon: 16.37}, "2024-03-20T00:00:00+01:00", "2024-03-20T04:25:44.435Z", "2024-03-20T04:56:47.557Z", "2024-03-20T11:01:50.467Z", "2024-03-20T17:07:47.200Z", "2024-03-20T17:38:55.654Z", tolerance},
		{geodesy.LatLon{Lat: -36.84, Lon: 174.74}, "2024-12-21T00:00:00+13:00", "", "", "2024-12-21T00:19:05.371Z", "2024-12-21T07:39:51.441Z", "2024-12-21T08:10:38.112Z", tolerance},
		{geodesy.LatLon{Lon: 179.9}, "2020-06-10T00:00:00+12:00", "", "", "", "2020-06-10T06:03:30.969Z", "2020-06-10T06:25:59.239Z", tolerance},
		{longyear, "2020-02-16T00:00:00Z", "2020-02-16T07:21:35.407Z", "2020-02-16T10:31:29.209Z", "2020-02-16T11:11:32.811Z", "2020-02-16T11:53:49.504Z", "2020-02-16T15:04:04.891Z", skimming},
		{longyear, "2020-04-16T00:00:00Z", "", "2020-04-16T00:19:44.764Z", "2020-04-16T10:57:10.406Z", "2020-04-16T21:54:55.178Z", "", skimming},
		// the sun rises before midnight, and sets after it: one day round one noon
		{longyear, "2020-04-17T00:00:00Z", "", "2020-04-16T23:56:56.806Z", "", "", "", skimming},
	} {
		day := sun.On(c.place, at(t, c.date))
		for name, e := range map[string]struct {
			got  sun.Event
			want string
		}{"dawn": {day.Dawn, c.dawn}, "sunrise": {day.Sunrise, c.sunrise}, "noon": {sun.Event{State: sun.Happens, Time: day.Noon}, c.noon},
			"sunset": {day.Sunset, c.sunset}, "dusk": {day.Dusk, c.dusk}} {
			if e.want == "" {
				continue
			}
			require.Equal(t, sun.Happens, e.got.State, "%s on %s", name, c.date)
			assert.LessOrEqual(t, e.got.Time.Sub(at(t, e.want)).Abs(), c.tolerance, "%s on %s: %v", name, c.date, e.got.Time)
		}
	}
	assert.Equal(t, sun.AlwaysAbove, sun.On(longyear, at(t, "2020-04-16T00:00:00Z")).Dusk.State)
}

// TestEventsStandWhereTheyShould solves nothing: at every event the position
// formula gives the elevation it is named for, before noon or after, and the
// events are in order.
func TestEventsStandWhereTheyShould(t *testing.T) {
	t.Parallel()
	for seed := uint64(1); seed <= 400; seed++ {
		random := rand.New(rand.NewPCG(seed, 25))
		place := geodesy.LatLon{Lat: geodesy.Degrees(180*random.Float64() - 90), Lon: geodesy.Degrees(360*random.Float64() - 180)}
		zone := time.FixedZone("", int(math.Round(float64(place.Lon)/15))*3600)
		date := time.Date(1950+random.IntN(100), 1, 1+random.IntN(365), random.IntN(24), 0, 0, 0, zone)
		day := sun.On(place, date)
		// it stands on the meridian, to the second or two that noon is good to
		const meridian = 0.01 // degrees
		p := sun.At(place, day.Noon)
		assert.InDelta(t, 0, geodesy.Degrees(p.Azimuth).Sin()*p.Elevation.Cos(), meridian*math.Pi/180, "seed %d", seed)
		assert.LessOrEqual(t, day.Noon.Sub(time.Date(date.Year(), date.Month(), date.Day(), 12, 0, 0, 0, zone)).Abs(), 12*time.Hour, "seed %d", seed)
		var last time.Time
		for i, e := range []sun.Event{day.Dawn, day.Sunrise, {State: sun.Happens, Time: day.Noon}, day.Sunset, day.Dusk} {
			if e.State != sun.Happens {
				assert.Zero(t, e.Time)
				continue
			}
			assert.Equal(t, zone, e.Time.Location())
			assert.False(t, e.Time.Before(last), "seed %d: event %d", seed, i)
			last = e.Time
			if i == 2 {
				continue
			}
			want := sun.RiseSet
			if i == 0 || i == 4 {
				want = sun.CivilTwilight
			}
			const second = 15.0 / 3600 // degrees that the sun moves in one
			assert.InDelta(t, float64(want), float64(sun.At(place, e.Time).Elevation), second, "seed %d: event %d", seed, i)
		}
	}
}

// On the equator at an equinox the sun rises due east, stands overhead and
// sets due west; at a pole it goes round level.
func TestPlainCases(t *testing.T) {
	t.Parallel()
	day := sun.On(geodesy.LatLon{}, at(t, "2024-03-20T00:00:00Z"))
	const tolerance = 0.3 // degrees; the declination that day is up to 0.2
	assert.InDelta(t, 90, float64(sun.At(geodesy.LatLon{}, day.Sunrise.Time).Azimuth), tolerance)
	assert.InDelta(t, 270, float64(sun.At(geodesy.LatLon{}, day.Sunset.Time).Azimuth), tolerance)
	assert.InDelta(t, 90, float64(sun.At(geodesy.LatLon{}, day.Noon).Elevation), tolerance)
	for _, lat := range []geodesy.Degrees{90, -90} {
		pole := geodesy.LatLon{Lat: lat}
		day := sun.On(pole, at(t, "2024-06-21T00:00:00Z"))
		want := sun.AlwaysAbove
		if lat < 0 {
			want = sun.AlwaysBelow
		}
		for _, e := range []sun.Event{day.Dawn, day.Sunrise, day.Sunset, day.Dusk} {
			assert.Equal(t, want, e.State)
		}
	}
	// a second of noon is 0.004 degrees of azimuth at 45 N in winter
	place := geodesy.LatLon{Lat: 46, Lon: 7.75}
	noon := sun.On(place, at(t, "2024-12-21T00:00:00+01:00")).Noon
	assert.InDelta(t, 180, float64(sun.At(place, noon).Azimuth), 0.005)
	assert.InDelta(t, 90-46-23.44, float64(sun.At(place, noon).Elevation), 0.01)
}

// A zone far from the place's own (UTC for California) still gives a day of
// that date or next to it, whole and in order.
func TestAForeignZone(t *testing.T) {
	t.Parallel()
	place := geodesy.LatLon{Lat: 34.3, Lon: -118.2}
	own := sun.On(place, at(t, "2024-10-05T08:30:00-08:00"))
	utc := sun.On(place, at(t, "2024-10-05T08:30:00Z"))
	assert.True(t, own.Sunset.Time.Equal(utc.Sunset.Time))
	assert.Equal(t, "17:31", clock(own.Sunset.Time))
	assert.Equal(t, "01:31", clock(utc.Sunset.Time))
}

func level(geodesy.TrueBearing) geodesy.Degrees { return 0 }

func TestLastSun(t *testing.T) {
	t.Parallel()
	place, date := geodesy.LatLon{Lat: 46, Lon: 7.75}, at(t, "2024-10-05T00:00:00+01:00")
	day := sun.On(place, date)
	// over a level it is sunset
	last := sun.LastSun(place, date, level)
	require.Equal(t, sun.Happens, last.State)
	assert.LessOrEqual(t, day.Sunset.Time.Sub(last.Time), time.Minute+5*time.Second)
	assert.GreaterOrEqual(t, day.Sunset.Time.Sub(last.Time), -5*time.Second)

	// behind a wall of 20 degrees all along the west, it is when its edge is seen
	// at 20 degrees; the minute after it is not
	wall := func(b geodesy.TrueBearing) geodesy.Degrees {
		if b > 180 {
			return 20
		}
		return 0
	}
	last = sun.LastSun(place, date, wall)
	require.Equal(t, sun.Happens, last.State)
	assert.GreaterOrEqual(t, float64(sun.At(place, last.Time).UpperEdge()), 20.0)
	assert.Less(t, float64(sun.At(place, last.Time.Add(time.Minute)).UpperEdge()), 20.0)
	assert.Less(t, last.Time, day.Sunset.Time.Add(-90*time.Minute))
	assert.Equal(t, date.Location(), last.Time.Location())

	// through a gap in it the sun comes back
	gap := func(b geodesy.TrueBearing) geodesy.Degrees {
		if b > 255 && b < 258 {
			return 1
		}
		return wall(b)
	}
	seen := sun.LastSun(place, date, gap)
	require.Equal(t, sun.Happens, seen.State)
	assert.InDelta(t, 258, float64(sun.At(place, seen.Time).Azimuth), 0.3)

	// from a summit above a plain it is later than at the level
	below := sun.LastSun(place, date, func(geodesy.TrueBearing) geodesy.Degrees { return -1.5 })
	assert.Greater(t, below.Time, day.Sunset.Time.Add(6*time.Minute))

	assert.Equal(t, sun.AlwaysBelow, sun.LastSun(place, date, func(geodesy.TrueBearing) geodesy.Degrees { return 70 }).State)
	nan := func(geodesy.TrueBearing) geodesy.Degrees { return geodesy.Degrees(math.NaN()) }
	assert.Equal(t, sun.Unknown, sun.LastSun(place, date, nan).State)
	// what is not known in the east does not matter in the evening
	east := func(b geodesy.TrueBearing) geodesy.Degrees {
		if b < 180 {
			return nan(b)
		}
		return 0
	}
	assert.Equal(t, sun.LastSun(place, date, level), sun.LastSun(place, date, east))
	north := geodesy.LatLon{Lat: 70, Lon: 25}
	assert.Equal(t, sun.AlwaysAbove, sun.LastSun(north, at(t, "2024-06-21T00:00:00+01:00"), level).State)
	assert.Equal(t, sun.AlwaysBelow, sun.LastSun(north, at(t, "2024-12-21T00:00:00+01:00"), level).State)
}

// NOAA's pieces meet where one formula gives way to the next, and 34
// arc-minutes at the level are near what published tables take.
func TestRefraction(t *testing.T) {
	t.Parallel()
	const joint = 0.002 // degrees; as NOAA's own pieces do
	for _, h := range []geodesy.Degrees{5, 85, -0.575} {
		assert.InDelta(t, float64(sun.Refraction(h-1e-9)), float64(sun.Refraction(h+1e-9)), joint, "at %g", float64(h))
	}
	assert.InDelta(t, 34.0/60, float64(sun.Refraction(-34.0/60)), 0.01)
	// Bennett 1982 at 10 and 45 degrees seen: 5.3' and 1.0'
	assert.InDelta(t, 5.3/60, float64(sun.Refraction(10-5.3/60)), 0.1/60)
	assert.InDelta(t, 1.0/60, float64(sun.Refraction(45)), 0.05/60)
	for h := geodesy.Degrees(-10); h < 90; h += 0.1 {
		assert.GreaterOrEqual(t, float64(sun.Refraction(h)), 0.0)
		assert.GreaterOrEqual(t, float64(sun.Refraction(h)), float64(sun.Refraction(h+0.1))-1e-6, "falls with height at %g", float64(h))
	}
}

func ExampleOn() {
	place := geodesy.LatLon{Lat: 46.02, Lon: 7.75}
	date := time.Date(2026, time.October, 5, 8, 30, 0, 0, time.FixedZone("", 2*3600))
	day := sun.On(place, date)
	fmt.Println("sunset", day.Sunset.Time.Format("15:04"), "dark", day.Dusk.Time.Format("15:04"))
	// Output: sunset 19:01 dark 19:31
}
