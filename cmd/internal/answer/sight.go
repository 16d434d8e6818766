package answer

import (
	"context"

	"crowline/contour"
	"crowline/dem"
	"crowline/profile"
	"crowline/visibility"
)

// SightRequest asks whether one place is seen from another.
type SightRequest struct {
	From, To Place
	Sighting Sighting
	Cover    Cover
	Needle
	// Lines are the contour lines to mark on a drawing of the profile; nil
	// where none is drawn.
	Lines *Interval
}

// Check refuses what makes no sense.
func (r SightRequest) Check() error {
	if err := r.Sighting.Check(); err != nil {
		return err
	}
	if err := r.Needle.Check(); err != nil {
		return err
	}
	if r.Lines != nil {
		if err := r.Lines.Check(); err != nil {
			return err
		}
	}
	return r.Cover.Check()
}

// Reach is the ground of a leg as long.
func (r SightRequest) Reach() Reach { return reachOfLeg(r.From.LatLon, r.To.LatLon) }

// SightAnswer is whether one place is seen from another.
type SightAnswer struct {
	// Where the eye is.
	From Spot `json:"from"`
	// What is looked at.
	To Spot `json:"to"`
	// How far off that is.
	DistanceM float64 `json:"distance_m" round:"2"`
	// On which bearing.
	Bearing Bearings `json:"bearing"`
	// Magnetic north at the eye; null where the model has no answer.
	Declination *MagneticDeclination `json:"declination"`
	// Whether it is seen.
	Sight SightLine `json:"sight"`
	// The same over what stands on the ground.
	OverCover *CoverSight `json:"over_cover,omitempty"`
	// The part of the line on ground that was filled.
	Filled *FilledLine `json:"filled_ground,omitempty"`
	// What the sight assumes.
	Assumptions Assumptions `json:"assumptions"`
	// The data the answer rests on.
	ElevationData ElevationData `json:"elevation_data"`
	// What always holds.
	Cautions []string `json:"cautions"`

	line       *profile.Leg // from looking point to looking point
	conditions visibility.Conditions
	interval   contour.Choice // of the profile's lines, where they were asked for
}

var _ = register[SightAnswer]("sight")

// Profile is the line's, to be drawn: lines must have been asked for.
func (a *SightAnswer) Profile() Profile {
	return sightProfile(a.line, &a.Sight, a.OverCover, a.conditions, a.interval, a.From, a.To)
}

// Sight answers a SightRequest.
func Sight(ctx context.Context, g *Ground, r SightRequest) (*SightAnswer, error) {
	conditions := r.Sighting.conditions()
	t, err := g.trace(ctx, r.From, r.To, r.Sighting, r.Needle)
	if err != nil {
		return nil, err
	}
	posts, leg, line, observer := t.posts, t.leg, t.line, t.observer
	seen, err := visibility.Along(line, observer, conditions)
	if err != nil {
		return nil, err
	}
	a := &SightAnswer{
		From: t.from, To: t.to, DistanceM: leg.Distance, Bearing: t.bearing, Declination: t.declination, Sight: sightLine(seen, nil),
		Filled: g.filledAlong(leg), Assumptions: r.Sighting.describe(), Cautions: cautions, line: line, conditions: conditions,
	}
	if err := a.Sight.rests(line, observer, conditions); err != nil {
		return nil, err
	}
	if a.Sight.Likely, err = g.likelyDrawn(ctx, line, observer, conditions, sightDraws()); err != nil {
		return nil, err
	}
	over, err := r.Cover.open(ctx, g)
	if err != nil {
		return nil, err
	}
	if over != nil {
		defer over.close()
		if a.OverCover, err = over.look(ctx, posts, line.To, observer, conditions, seen.Verdict); err != nil {
			return nil, err
		}
	}
	a.ElevationData = g.describe(leg.Spacing, 0)
	a.interval, err = g.chooseLines(r.Lines)
	return a, err
}

// chooseLines is the interval of the contour lines marked along a line: that at
// which a leg's are counted.
func (g *Ground) chooseLines(lines *Interval) (contour.Choice, error) {
	if lines == nil {
		return contour.Choice{}, nil
	}
	return g.choose(*lines, policy.MapScale)
}

// LookRequest asks what ground is seen along a bearing.
type LookRequest struct {
	From     Place
	Heading  Heading
	Sighting Sighting
	Cover    Cover
	Needle
	// Radius is how far to tell what is seen, metres; 0 is as far as the data
	// goes. The skyline is looked for beyond it.
	Radius float64
	// Lines are the contour lines to mark on a drawing of the profile; nil
	// where none is drawn.
	Lines *Interval
}

// Check refuses what makes no sense.
func (r LookRequest) Check() error {
	if err := r.Heading.Check(); err != nil {
		return err
	}
	if err := checkRadius(r.Radius); err != nil {
		return err
	}
	return SightRequest{Sighting: r.Sighting, Cover: r.Cover, Needle: r.Needle, Lines: r.Lines}.Check()
}

// Reach is the ground within the radius, and what rises behind.
func (r LookRequest) Reach() Reach { return reachBehind(r.Radius, r.From) }

// LookAnswer is what ground is seen along a bearing.
type LookAnswer struct {
	// Where the eye is.
	From Spot `json:"from"`
	// The bearing from true north.
	BearingDeg float64 `json:"true_deg" round:"2"`
	// From magnetic north; null where the model has no answer.
	MagneticDeg float64 `json:"magnetic_deg" round:"1"`
	// What is seen along it.
	Ground *GroundSeen `json:"ground_along"`
	// Where that is over cover, the same over the bare ground.
	GroundBare *GroundSeen `json:"bare_ground_along,omitempty"`
	// The cover it is over.
	OverCover *CoverAlong `json:"over_cover,omitempty"`
	// Magnetic north there; null where the model has no answer.
	Declination *MagneticDeclination `json:"declination"`
	// What the sights assume.
	Assumptions Assumptions `json:"assumptions"`
	// The data the answer rests on.
	ElevationData ElevationData `json:"elevation_data"`
	// What always holds.
	Cautions []string `json:"cautions"`

	leg        *profile.Leg
	heading    Heading
	conditions visibility.Conditions
	interval   contour.Choice // of the profile's lines, where they were asked for
}

var _ = register[LookAnswer]("sight --bearing")

// Heading is the bearing as it was given.
func (a *LookAnswer) Heading() Heading { return a.heading }

// ToEdge reports whether the line ends with the data, and not as far as asked.
func (a *LookAnswer) ToEdge() bool { return a.leg.Covered < a.leg.Distance }

// Profile is the line's, to be drawn as far as the data goes: lines must have
// been asked for. end names its end.
func (a *LookAnswer) Profile(end string) Profile {
	p := Profile{
		Line: a.leg, Eye: a.leg.Points[0].Elevation + a.Assumptions.EyeM, Target: nan,
		Conditions: a.conditions, Levels: a.interval.Levels(), From: a.From.Short(), To: end, AsFarAsData: true,
	}
	if a.OverCover != nil {
		p.Covered = a.OverCover.leg
	}
	return p
}

// Look answers a LookRequest.
func Look(ctx context.Context, g *Ground, r LookRequest) (*LookAnswer, error) {
	conditions := r.Sighting.conditions()
	posts := g.posts(ctx)
	start, err := dem.ElevationAt(posts, r.From.LatLon)
	if err != nil {
		return nil, err
	}
	field, fieldError := r.at(r.From.LatLon, start)
	b, err := r.Heading.bearing(field, fieldError)
	if err != nil {
		return nil, err
	}
	observer, err := r.Sighting.standing(posts, r.From)
	if err != nil {
		return nil, err
	}
	leg, err := traceBearing(ctx, posts, observer.Place, b, r.Radius)
	if err != nil {
		return nil, err
	}
	a := &LookAnswer{
		From: spot(r.From, start), BearingDeg: float64(b), MagneticDeg: nan, Declination: declination(field, fieldError, r.Needle),
		Assumptions: r.Sighting.describe(), ElevationData: g.describe(leg.Spacing, 0), Cautions: cautions,
		leg: leg, heading: r.Heading, conditions: conditions,
	}
	if fieldError == nil {
		a.MagneticDeg = float64(field.Declination.Magnetic(b))
	}
	far := 0.0 // one line is looked along to the data's end, but where every tile costs a download
	if g.remote {
		if far, err = g.behind(observer.Place, r.Radius); err != nil {
			return nil, err
		}
	}
	if a.Ground, err = seenAlong(ctx, posts, observer, conditions, b, r.Radius, far); err != nil {
		return nil, err
	}
	if r.Radius > 0 {
		on, err := g.onward(ctx, observer, a.Ground, b, r)
		if err != nil {
			return nil, err
		}
		if on != g {
			g, posts = on, on.posts(ctx)
			if a.Ground, err = seenAlong(ctx, posts, observer, conditions, b, r.Radius, far); err != nil {
				return nil, err
			}
		}
	}
	over, err := r.Cover.open(ctx, g)
	if err != nil {
		return nil, err
	}
	if over != nil {
		defer over.close()
		a.GroundBare = a.Ground
		if a.Ground, a.OverCover, err = over.along(ctx, posts, observer, conditions, b, r.Radius, far); err != nil {
			return nil, err
		}
	}
	a.interval, err = g.chooseLines(r.Lines)
	return a, err
}
