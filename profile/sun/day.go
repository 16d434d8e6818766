package sun

import (
	"math"
	"time"

	"crowline/dem/geodesy"
)

// State is whether something happens on a day.
type State string

const (
	// Happens: at the time given.
	Happens State = "happens"
	// AlwaysAbove: the sun stays above.
	AlwaysAbove State = "always above"
	// AlwaysBelow: the sun stays below.
	AlwaysBelow State = "always below"
	// Unknown: the skyline is not known where the sun is.
	Unknown State = "unknown"
)

// Event is something that the sun does once on a day, or not at all.
type Event struct {
	State State
	// Time, in the date's zone, to a second or so; zero unless it Happens.
	Time time.Time
}

// Day is what the sun does round one solar noon.
type Day struct {
	// Dawn and Dusk are the beginning and end of civil twilight. AlwaysAbove:
	// it does not get dark that night. AlwaysBelow: it does not get light.
	Dawn, Dusk Event
	// Sunrise and Sunset over a level horizon. AlwaysAbove: the sun does not go
	// down that night (a polar day). AlwaysBelow: it does not come up.
	Sunrise, Sunset Event
	// Noon is when the sun stands in the south, or north: on the meridian.
	Noon time.Time
}

// On is the day at a place on a date. Of the date only year, month, day and
// zone count; the zone should be the place's.
func On(place geodesy.LatLon, date time.Time) Day {
	noon := noonOn(place, date)
	before, after := nextMidnight(place, noon, -1), nextMidnight(place, noon, 1)
	level := func(elevation geodesy.Degrees) func(time.Time) float64 {
		return func(t time.Time) float64 { return float64(At(place, t).Elevation - elevation) }
	}
	return Day{
		Dawn: crossing(level(CivilTwilight), before, noon), Dusk: crossing(level(CivilTwilight), after, noon),
		Sunrise: crossing(level(RiseSet), before, noon), Sunset: crossing(level(RiseSet), after, noon),
		Noon: noon,
	}
}

// noonOn is the solar noon nearest to 12:00 on a date.
func noonOn(place geodesy.LatLon, date time.Time) time.Time {
	y, m, d := date.Date()
	return meridian(place, time.Date(y, m, d, 12, 0, 0, 0, date.Location()), 0)
}

// nextMidnight is the solar midnight before (-1) or after (1) a solar noon.
func nextMidnight(place geodesy.LatLon, noon time.Time, way int) time.Time {
	return meridian(place, noon.Add(time.Duration(way)*12*time.Hour), 720)
}

// meridian is the moment nearest to another at which it is a minute of true
// solar time.
func meridian(place geodesy.LatLon, t time.Time, minute float64) time.Time {
	// the equation of time changes by half a minute a day: twice is enough for
	// a second, and once more does no harm
	for range 3 {
		_, equation := orbit(t)
		u := t.UTC()
		// minutes of true solar time from noon
		solar := float64(u.Hour()*60+u.Minute()) + (float64(u.Second())+float64(u.Nanosecond())/1e9)/60 + equation + 4*float64(place.Lon) - 720
		t = t.Add(-time.Duration(math.Remainder(solar-minute, 1440) * float64(time.Minute)))
	}
	return t
}

// crossing is where, between a midnight and a noon, the sun's height above
// something goes through nothing.
func crossing(height func(time.Time) float64, midnight, noon time.Time) Event {
	low, high := height(midnight), height(noon)
	switch {
	case math.IsNaN(low) || math.IsNaN(high):
		return Event{State: Unknown}
	// near a pole the declination's change through the day may lift midnight
	// above noon: then what counts is which way it crosses, if it does
	case low >= 0 && high >= 0:
		return Event{State: AlwaysAbove}
	case low < 0 && high < 0:
		return Event{State: AlwaysBelow}
	}
	below, above := midnight, noon
	if low >= 0 {
		below, above = noon, midnight
	}
	for above.Sub(below).Abs() > 100*time.Millisecond {
		middle := below.Add(above.Sub(below) / 2)
		if height(middle) >= 0 {
			above = middle
		} else {
			below = middle
		}
	}
	return Event{State: Happens, Time: above.Round(time.Second)}
}

// LastSun is the last minute of a date's day at which some of the sun is above
// the skyline of a place: when it leaves this ground until the next morning.
// horizon is how high the skyline is seen on a bearing, degrees above the level
// of the eye, below 0 where one looks down on it; visibility's skyline has it
// with the refraction of ground. AlwaysBelow: the sun does not reach this
// ground that day. AlwaysAbove: it does not leave it that night. Unknown: the
// horizon is NaN where the sun passes, at a time that would matter.
//
// A gap between hills through which the sun shows for less than a minute may be
// missed.
func LastSun(place geodesy.LatLon, date time.Time, horizon func(geodesy.TrueBearing) geodesy.Degrees) Event {
	noon := noonOn(place, date)
	from, to := nextMidnight(place, noon, -1), nextMidnight(place, noon, 1).Truncate(time.Minute)
	// the lowest skyline there is lies a few degrees down, from the highest
	// mountain: a sun well under that is down, whatever stands there, and no
	// skyline is asked for
	const deepest = -6
	// last first
	for t := to; t.After(from); t = t.Add(-time.Minute) {
		p := At(place, t)
		edge := p.UpperEdge()
		if edge < deepest {
			continue
		}
		h := float64(edge - horizon(p.Azimuth))
		if math.IsNaN(h) {
			return Event{State: Unknown}
		}
		if h < 0 {
			continue
		}
		if t.Equal(to) {
			return Event{State: AlwaysAbove}
		}
		return Event{State: Happens, Time: t}
	}
	return Event{State: AlwaysBelow}
}
