package answer

import (
	"context"
	"encoding/json"
	"math"
	"time"

	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/profile/sun"
	"crowline/visibility"
)

// Moment is a time of day to the minute, in the offset that was asked in; the
// zero value is none.
type Moment struct{ time.Time }

// MarshalJSON writes it by RFC 3339, or null.
func (m Moment) MarshalJSON() ([]byte, error) {
	if m.IsZero() {
		return []byte("null"), nil
	}
	return json.Marshal(m.Round(time.Minute).Format(time.RFC3339))
}

// Clock writes it as on a watch: "16:32".
func (m Moment) Clock() string { return m.Round(time.Minute).Format("15:04") }

// Arrival is when one gets to a place, and what light there is.
type Arrival struct {
	// When, if each leg takes as long as its slowest rule has it and rests are
	// taken; null where a leg on the way has no time.
	At Moment `json:"at"`
	// It may be later: part of the way has no data.
	MayBeLater bool `json:"may_be_later"`
	// How long one has walked till then, by the slowest rule of each leg; null
	// likewise.
	WalkingS float64 `json:"walking_s" round:"0"`
	// How long one has rested; null likewise.
	RestingS float64 `json:"resting_s" round:"0"`
	// "sunset" or "dusk" where that comes first, or the sun does not come up, or
	// one is there before it gets light; left out elsewhere.
	DayEnds DayEnd `json:"day_ends_first,omitempty"`
	// The day there.
	Light Light `json:"light"`
}

// DayEnd is which end of the day comes before an arrival.
type DayEnd string

const (
	// BySunset: one arrives in twilight.
	BySunset DayEnd = "sunset"
	// ByDusk: civil twilight is over, or has not begun, on the way.
	ByDusk DayEnd = "dusk"
)

// Light is the day at a place: that on which one sets out.
type Light struct {
	// When civil twilight begins; null where it does not that day.
	Dawn Moment `json:"civil_dawn"`
	// When the sun comes up over a level horizon; null likewise.
	Sunrise Moment `json:"sunrise"`
	// When it goes down over a level horizon; null likewise.
	Sunset Moment `json:"sunset"`
	// When civil twilight ends; null likewise.
	Dusk Moment `json:"civil_dusk"`
	// What the sun does that evening: "happens" where it sets, "always above" on a
	// polar day, "always below" where it does not come up.
	SunsetState sun.State `json:"sunset_state"`
	// The same of civil twilight: "always above" where it does not get dark that
	// night, "always below" where it does not get light.
	DuskState sun.State `json:"civil_dusk_state"`
	// When the sun leaves the ground there, by the skyline; null where it does
	// not, or that is not known.
	SunLeaves Moment `json:"sun_leaves"`
	// "happens"; "always above" where it does not leave that night; "always below"
	// where hills keep it away all day; "unknown".
	SunLeavesState sun.State `json:"sun_leaves_state"`
	// How far off the ground is known where the sun leaves: what stands beyond may
	// take it away sooner; null where it does not happen.
	SkylineKnownM float64 `json:"skyline_known_m" round:"0"`
}

// Earlier reports whether the sun leaves the ground plainly earlier than the
// level, for hills.
func (l *Light) Earlier() bool {
	if l.SunLeavesState != sun.Happens {
		return l.SunLeavesState == sun.AlwaysBelow && l.SunsetState != sun.AlwaysBelow
	}
	return l.SunsetState == sun.AlwaysAbove || l.SunsetState == sun.Happens && l.Sunset.Sub(l.SunLeaves.Time) >= policy.SunEarlier
}

// KnownFar reports whether the ground behind which the sun goes is known as far
// as it matters.
func (l *Light) KnownFar() bool { return l.SkylineKnownM >= policy.SunSkyline }

// slowest is the longest time that a rule gives a leg; false where it has none.
func slowest(t profile.Times) (time.Duration, bool) {
	times, ok := t.Whole()
	_, longest := times.Extremes()
	return times[longest], ok
}

// resting is how long one rests in a time of walking.
func resting(walking time.Duration) time.Duration {
	return time.Duration(float64(walking) * policy.Rest.Minutes() / (time.Hour - policy.Rest).Minutes()).Round(time.Second)
}

// arrive is when one gets to a place who sets out at start and walks so long,
// negative for unknown.
func (g *Ground) arrive(ctx context.Context, sighting Sighting, at geodesy.LatLon, start time.Time, walking time.Duration, mayBeLater bool) (*Arrival, error) {
	a := &Arrival{WalkingS: nan, RestingS: nan, MayBeLater: mayBeLater}
	var err error
	if a.Light, err = g.light(ctx, sighting, at, start); err != nil {
		return nil, err
	}
	if walking < 0 {
		return a, nil
	}
	rest := resting(walking)
	a.WalkingS, a.RestingS = walking.Seconds(), rest.Seconds()
	a.At = Moment{start.Add(walking + rest)}
	a.DayEnds = a.Light.endsBefore(start, a.At.Time)
	return a, nil
}

// endsBefore is which end of the day comes before an arrival.
func (l *Light) endsBefore(start, arrival time.Time) DayEnd {
	switch {
	case l.DuskState == sun.AlwaysBelow,
		l.DuskState == sun.Happens && !l.Dusk.After(arrival),
		!l.Dawn.IsZero() && !l.Dawn.Before(arrival):
		return ByDusk
	case l.SunsetState == sun.AlwaysBelow, l.SunsetState == sun.Happens && !l.Sunset.After(arrival):
		return BySunset
	}
	return ""
}

// light is the day at a place on which one sets out: the one round the noon
// that start is nearest to by the sun, whatever zone start is told in.
func (g *Ground) light(ctx context.Context, sighting Sighting, at geodesy.LatLon, start time.Time) (Light, error) {
	const secondsOfDegree = 240
	local := time.FixedZone("", int(math.Round(float64(at.Lon)*secondsOfDegree)))
	date := start.In(local)
	day := sun.On(at, date)
	told := func(e sun.Event) Moment {
		if e.State != sun.Happens {
			return Moment{}
		}
		return Moment{e.Time.In(start.Location())}
	}
	l := Light{
		Dawn: told(day.Dawn), Sunrise: told(day.Sunrise), Sunset: told(day.Sunset), Dusk: told(day.Dusk),
		SunsetState: day.Sunset.State, DuskState: day.Dusk.State, SkylineKnownM: nan,
	}
	last, known, err := g.lastSun(ctx, sighting, at, date)
	if err != nil {
		return l, err
	}
	l.SunLeaves, l.SunLeavesState = told(last), last.State
	if last.State == sun.Happens {
		l.SkylineKnownM = known
	}
	return l, nil
}

// lastSun is when the sun leaves the ground of a place for the skyline of the
// bare ground, and how far that is known where it does.
func (g *Ground) lastSun(ctx context.Context, sighting Sighting, at geodesy.LatLon, date time.Time) (last sun.Event, known float64, err error) {
	unknown := sun.Event{State: sun.Unknown}
	far, err := g.behind(at, 0)
	if err != nil {
		return unknown, nan, nil // the place is nowhere on the data
	}
	posts, observer := g.posts(ctx), sighting.observer(at)
	last = sun.LastSun(at, date, func(b geodesy.TrueBearing) geodesy.Degrees {
		end, _ := geodesy.Direct(at, b, far)
		leg, failed := profile.Trace(ctx, posts, at, end)
		if failed != nil {
			return geodesy.Degrees(nan)
		}
		h, failed := visibility.HorizonAlong(leg, observer, sighting.Refraction)
		if failed != nil {
			return geodesy.Degrees(nan)
		}
		known = leg.Covered
		for _, p := range leg.Points {
			if math.IsNaN(p.Elevation) {
				known = p.Distance
				break
			}
		}
		return h.Angle
	})
	if err := posts.Err(); err != nil {
		return unknown, nan, err
	}
	return last, known, ctx.Err()
}
