package answer

import (
	"context"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/profile/magnetic"
	"crowline/visibility/scene"
)

// SightAlong is what to sight on a bearing, over the bare ground.
type SightAlong struct {
	// The best thing to sight near the bearing; null where nothing stands out.
	Best *SceneThing `json:"best"`
	// The point of the skyline on the bearing itself; null where no ground on it
	// is known.
	Skyline *SkylineOn `json:"skyline"`

	view *scene.View
	best scene.Thing
	on   scene.SkylinePoint
}

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

// sightAlong looks at all there is in view, as far as reach (0 for the data's
// end), and says what to sight on a bearing.
func (g *Ground) sightAlong(ctx context.Context, r LandmarksRequest, bearing geodesy.TrueBearing, reach float64, grid *dem.Grid, field magnetic.Field, fieldError error) (*SightAlong, error) {
	o := scene.DefaultOptions()
	o.Refraction, o.Radius, o.VerticalError = r.Sighting.conditions().Refraction, reach, g.verticalError
	o.Places = withPlaces(nil, r.Places)
	observer, err := r.Sighting.standing(grid, r.From)
	if err != nil {
		return nil, err
	}
	view, err := scene.Look(ctx, grid, observer, o)
	if err != nil {
		return nil, err
	}
	if fieldError == nil {
		view.Dial = func(b geodesy.TrueBearing) string {
			return "compass bearing " + units.Dial(float64(field.Declination.Magnetic(b)))
		}
	}
	a := &SightAlong{view: view}
	far := r.VisualRange
	if far == 0 {
		far = policy.VisualRange
	}
	if r.Radius > 0 {
		far = min(far, r.Radius)
	}
	most := 0.0
	for _, t := range view.Things {
		off := float64(geodesy.Difference(bearing, t.Bearing))
		if math.Abs(off) > r.Within || t.Distance > far {
			continue
		}
		if s := sightWorth(t, off/r.Within); s > most {
			most, a.best = s, t
			a.Best = &SceneThing{
				Kind: t.Kind, TrueDeg: float64(t.Bearing), OffBearingDeg: off, DistanceM: t.Distance,
				ElevationAngleDeg: float64(t.Angle), StandsOutDeg: float64(t.StandsOut), Skyline: t.Skyline, Filled: t.Filled,
			}
		}
	}
	if a.Best != nil {
		a.Best.Says = view.Describe(a.best, units.Metric)
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
