package answer

import (
	"context"
	"errors"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/profile/magnetic"
	"crowline/visibility"
	"crowline/visibility/scene"
)

// SightAlong is what to sight on a bearing, over the bare ground.
type SightAlong struct {
	// The best thing to sight near the bearing, of those more likely seen than
	// not; null where nothing stands out.
	Best *SceneThing `json:"best"`
	// The point of the skyline on the bearing itself; null where no ground on it
	// is known.
	Skyline *SkylineOn `json:"skyline"`
	// What better shows on the way along the bearing, and from where on; null
	// where nothing does as far as was looked.
	OnTheWay *OnTheWay `json:"on_the_way"`
	// How far along the bearing was looked for it.
	OnTheWayToM float64 `json:"on_the_way_to_m" round:"0"`

	view *scene.View
	best scene.Thing
	on   scene.SkylinePoint
}

// OnTheWay is the first thing that shows better on the way than what is to be
// sighted from the start.
type OnTheWay struct {
	// How far along the bearing it is first looked at from.
	AtM float64 `json:"at_m" round:"0"`
	// What it is, as seen from there.
	SceneThing

	view  *scene.View
	thing scene.Thing
}

// In says the same in a reader's units.
func (o *OnTheWay) In(u units.System) string { return o.view.Describe(o.thing, u) }

// BestIn and SkylineIn say the same in a reader's units; "" for none.
func (a *SightAlong) BestIn(u units.System) string {
	if a.Best == nil {
		return ""
	}
	return a.view.Describe(a.best, u)
}

// SkylineIn says where the skyline's point is.
func (a *SightAlong) SkylineIn(u units.System) string {
	if a.Skyline == nil {
		return ""
	}
	return a.view.DescribeSkyline(a.on, u)
}

// NearestIn says where the skyline's point is from the nearer of the two things
// beside it alone.
func (a *SightAlong) NearestIn(u units.System) string {
	if a.Skyline == nil {
		return ""
	}
	p := a.on
	if p.Left >= 0 && p.Right >= 0 {
		if p.FromLeft <= p.ToRight {
			p.Right = -1
		} else {
			p.Left = -1
		}
	}
	return a.view.DescribeSkyline(p, u)
}

// SceneThing is something that can be picked out by looking.
type SceneThing struct {
	// "top", "notch", "ridge end", "spur end", "cliff", "steep face", "water" or
	// "place".
	Kind scene.Kind `json:"kind"`
	// Which it is of all in view, in words that fit no other.
	Says string `json:"says"`
	// Bearing from true north.
	TrueDeg float64 `json:"true_deg" round:"1"`
	// How far right of the bearing asked about.
	OffBearingDeg float64 `json:"off_bearing_deg" round:"1"`
	// How far off it is.
	DistanceM float64 `json:"distance_m" round:"0"`
	// Its angle above the horizontal.
	ElevationAngleDeg float64 `json:"elevation_angle_deg" round:"1"`
	// How far it stands out.
	StandsOutDeg float64 `json:"stands_out_deg" round:"2"`
	// The sky is behind it.
	Skyline bool `json:"on_skyline"`
	// It stands on ground that was a void and has been filled.
	Filled bool `json:"on_filled_ground,omitempty"`
	// How likely it is to be seen; null where the data's error is not known.
	Likely *Likelihood `json:"likelihood"`
	// The saddle of the ground that a notch is; left out where it is none.
	Saddle *Spot `json:"saddle,omitempty"`
}

// SkylineOn is the point of the skyline on a bearing.
type SkylineOn struct {
	// Where it is, told from the nearest things to its left and right.
	Says string `json:"says"`
	// How far off it is.
	DistanceM float64 `json:"distance_m" round:"0"`
	// How high.
	ElevationM float64 `json:"elevation_m" round:"0"`
	// Its angle above the horizontal.
	ElevationAngleDeg float64 `json:"elevation_angle_deg" round:"1"`
	// How far right of the nearest thing to its left; null where there is none
	// within 90 degrees, or none within 30 and a nearer one to its right.
	FromLeftDeg float64 `json:"from_left_deg" round:"1"`
	// How far left of the nearest thing to its right; null likewise.
	ToRightDeg float64 `json:"to_right_deg" round:"1"`
	// All ground on the bearing is known; else higher ground may stand behind.
	Known bool `json:"known"`
}

// along is what is asked of what stands along a bearing.
type along struct {
	ground  *scene.Ground
	grid    *dem.Grid
	options scene.Options
	far     float64 // metres
	dial    func(geodesy.TrueBearing) string
	saddle  func(context.Context, *scene.View, scene.Thing) (*Spot, error)
}

// best is the best thing to sight within some degrees of a bearing: one that is
// more likely seen than not, where that is known, and worth more than least; nil
// for none.
func (s *along) best(ctx context.Context, view *scene.View, bearing geodesy.TrueBearing, within, least float64) (best scene.Thing, told *SceneThing, err error) {
	most := least
	for _, t := range view.Things {
		off := float64(geodesy.Difference(bearing, t.Bearing))
		if math.Abs(off) > within || t.Distance > s.far {
			continue
		}
		worth := sightWorth(t, off/within)
		if worth <= most {
			continue
		}
		likely, seen, err := s.likely(ctx, view, t)
		if err != nil {
			return best, nil, err
		}
		if worth *= likely.sure(); !seen || worth <= most {
			continue
		}
		most, best = worth, t
		told = toldThing(view, t, off, likely)
	}
	return best, told, nil
}

// likely is how likely a thing is to be seen, nil where the data's error is not
// known, and whether that is more likely than not.
func (s *along) likely(ctx context.Context, view *scene.View, t scene.Thing) (*Likelihood, bool, error) {
	if s.options.VerticalError <= 0 {
		return nil, true, nil
	}
	l, err := view.Likelihood(ctx, s.grid, t)
	if err != nil {
		return nil, false, err
	}
	return NewLikelihood(l), l.LikelySeen(), nil
}

// toldThing tells of a thing that lies so far right of the bearing asked about,
// degrees, NaN where none was.
func toldThing(view *scene.View, t scene.Thing, off float64, likely *Likelihood) *SceneThing {
	return &SceneThing{
		Kind: t.Kind, Says: view.Describe(t, units.Metric), TrueDeg: float64(t.Bearing), OffBearingDeg: off, DistanceM: t.Distance,
		ElevationAngleDeg: float64(t.Angle), StandsOutDeg: float64(t.StandsOut), Skyline: t.Skyline, Filled: t.Filled, Likely: likely,
	}
}

// onTheWay looks for the first place along a bearing from which something is
// worth more, and plainly so, than what is to be sighted from the start; and how
// far was looked. A thing a fist off the line is as easily told from it as one on
// it, and counts whatever was asked for.
func (s *along) onTheWay(ctx context.Context, r LandmarksRequest, bearing geodesy.TrueBearing, a *SightAlong) (*OnTheWay, float64, error) {
	within := max(r.Within, float64(scene.Fist))
	least := 0.0
	if a.Best != nil {
		least = policy.PlainlyBetter * sightWorth(a.best, a.Best.OffBearingDeg/within) * a.Best.Likely.sure()
	}
	to := policy.OnTheWay
	if r.Radius > 0 {
		to = min(to, r.Radius)
	}
	for at := policy.OnTheWayEvery; at <= to; at += policy.OnTheWayEvery {
		place, on := geodesy.Direct(r.From.LatLon, bearing, at)
		observer, err := r.Sighting.standing(s.grid, PlaceAt(place))
		if err != nil {
			return nil, 0, err
		}
		o := s.options
		o.Line, o.Step = &on, policy.OnTheWayStep
		wide := geodesy.Degrees(min(within+policy.MarkSector, 179))
		o.Sectors = []visibility.Sector{{From: geodesy.NewTrueBearing(geodesy.Degrees(on) - wide), To: geodesy.NewTrueBearing(geodesy.Degrees(on) + wide)}}
		view, err := s.ground.Look(ctx, observer, o)
		switch {
		case errors.Is(err, dem.ErrOutside): // the data ends
			return nil, at - policy.OnTheWayEvery, nil
		case errors.Is(err, dem.ErrVoid):
			continue
		case err != nil:
			return nil, 0, err
		}
		view.Dial = s.dial
		thing, told, err := s.best(ctx, view, on, within, least)
		if err != nil {
			return nil, 0, err
		}
		if told != nil {
			if told.Saddle, err = s.saddle(ctx, view, thing); err != nil {
				return nil, 0, err
			}
			return &OnTheWay{AtM: at, SceneThing: *told, view: view, thing: thing}, to, nil
		}
	}
	return nil, to, nil
}

// looking is how a place is looked at all round, as far as reach (0 for the data's
// end), and what is in view from it.
func (g *Ground) looking(ctx context.Context, r LandmarksRequest, reach float64, grid *dem.Grid, field magnetic.Field, fieldError error) (along, *scene.View, error) {
	s := along{ground: scene.NewGround(grid), grid: grid, options: scene.DefaultOptions(), far: r.VisualRange, saddle: g.saddleOf}
	s.options.Refraction, s.options.Radius, s.options.VerticalError = r.Sighting.conditions().Refraction, reach, g.verticalError
	s.options.Places = withPlaces(nil, r.Places)
	if r.Radius > 0 {
		s.far = min(s.far, r.Radius)
	}
	if fieldError == nil {
		s.dial = func(b geodesy.TrueBearing) string {
			return r.Compass.dial(b, field)
		}
	}
	observer, err := r.Sighting.standing(grid, r.From)
	if err != nil {
		return s, nil, err
	}
	view, err := s.ground.Look(ctx, observer, s.options)
	if err != nil {
		return s, nil, err
	}
	view.Dial = s.dial
	return s, view, nil
}

// sightAlong says what to sight on a bearing, of all there is in view.
func (g *Ground) sightAlong(ctx context.Context, r LandmarksRequest, bearing geodesy.TrueBearing, reach float64, grid *dem.Grid, field magnetic.Field, fieldError error) (*SightAlong, error) {
	s, view, err := g.looking(ctx, r, reach, grid, field, fieldError)
	if err != nil {
		return nil, err
	}
	a := &SightAlong{view: view}
	if a.best, a.Best, err = s.best(ctx, view, bearing, r.Within, 0); err != nil {
		return nil, err
	}
	if a.Best != nil {
		if a.Best.Saddle, err = s.saddle(ctx, view, a.best); err != nil {
			return nil, err
		}
	}
	if a.OnTheWay, a.OnTheWayToM, err = s.onTheWay(ctx, r, bearing, a); err != nil {
		return nil, err
	}
	if p, ok := view.Skyline(bearing); ok {
		// three fists at arm's length are as much as anyone measures; the nearer
		// thing alone will do
		const measured = 30 // degrees
		switch {
		case p.Left >= 0 && p.Right >= 0 && p.FromLeft > measured && p.ToRight < p.FromLeft:
			p.Left = -1
		case p.Left >= 0 && p.Right >= 0 && p.ToRight > measured:
			p.Right = -1
		}
		a.on = p
		a.Skyline = &SkylineOn{
			Says: view.DescribeSkyline(p, units.Metric), DistanceM: p.Distance, ElevationM: p.Elevation, ElevationAngleDeg: float64(p.Angle),
			FromLeftDeg: nan, ToRightDeg: nan, Known: p.Known,
		}
		if p.Left >= 0 {
			a.Skyline.FromLeftDeg = float64(p.FromLeft)
		}
		if p.Right >= 0 {
			a.Skyline.ToRightDeg = float64(p.ToRight)
		}
	}
	return a, nil
}

// sightWorth ranks things to sight: how plainly a thing shows (what it stands
// out by, and a little more for width), half as much again before the sky, less
// to half at the edge of what is asked about, and the more the farther it is to
// steer by: half at 2 km, as for the marks listed.
func sightWorth(t scene.Thing, off float64) float64 {
	const halfway = 2000 // m
	worth := float64(t.StandsOut) + 0.1*math.Min(float64(t.Width), 5)
	if t.Kind == scene.Known {
		worth += 0.5
	}
	if t.Skyline {
		worth *= 1.5
	}
	return worth * (1 - math.Abs(off)/2) * t.Distance / (t.Distance + halfway)
}
