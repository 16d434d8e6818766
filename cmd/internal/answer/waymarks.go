package answer

import (
	"cmp"
	"context"
	"math"
	"slices"
	"time"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/profile"
	"crowline/profile/drift"
	"crowline/profile/waymarks"
	"crowline/visibility"
	"crowline/visibility/chain"
)

// Drift is how far from the destination one may come out, 19 times in 20.
type Drift struct {
	// To either side, all the way on one compass bearing.
	OnCompassM float64 `json:"on_compass_alone_m" round:"1"`
	// To either side, walking on the sightings; null where they were not asked
	// for or do not go as far as the destination.
	BySightingsM float64 `json:"by_sightings_m" round:"1"`
	// Short or beyond, counting paces from the start.
	AlongM float64 `json:"along_by_pacing_m" round:"1"`
	// The error of a bearing kept, one standard deviation.
	CompassErrorDeg float64 `json:"compass_error_deg"`
	// The error of the declination, one standard deviation.
	DeclinationErrorDeg float64 `json:"declination_error_deg" round:"2"`
	// The error of a paced distance as a share of it, one standard deviation.
	PaceError float64 `json:"pace_error_share"`
	// How well a mark's place is known, one standard deviation: half the spacing
	// of the posts.
	MarkErrorM float64 `json:"mark_error_m" round:"1"`
}

// AttackPoint is the last plain landform near the line, from which the rest is
// short.
type AttackPoint struct {
	// What it is: "saddle", "where two valleys meet", "valley floor".
	Name string `json:"name"`
	// Where it is.
	Place Spot `json:"place"`
	// How far along the leg.
	AtM float64 `json:"at_m" round:"0"`
	// How far right of it.
	OffsetM float64 `json:"offset_m" round:"0"`
	// How far the destination is from it.
	DistanceM float64 `json:"distance_m" round:"0"`
	// The bearing from it to the destination, from true north.
	TrueDeg float64 `json:"true_deg" round:"1"`
	// The same from magnetic north; null where the model has no answer.
	MagneticDeg float64 `json:"magnetic_deg" round:"1"`
	// Double paces from it to the destination; null where ground on the way needs
	// hands.
	DoublePaces float64 `json:"double_paces" round:"0"`
}

// CatchingFeature tells that one has gone too far.
type CatchingFeature struct {
	// "floor" or "crest" is crossed; or the ground "falls" or "rises".
	Shape waymarks.Shape `json:"shape"`
	// What it is, where it is a landform.
	Name string `json:"name,omitempty"`
	// How far beyond the destination it is met on the line.
	BeyondM float64 `json:"beyond_m" round:"0"`
	// How far at most, for one who comes out at the edge of the drift.
	LatestM float64 `json:"latest_m" round:"0"`
	// How high the ground lies there.
	ElevationM float64 `json:"elevation_m" round:"0"`
	// How far the ground has fallen or risen when it is sure; 0 for a line.
	ChangeM float64 `json:"change_m" round:"0"`
	// Nothing like it is met on the way in.
	Alone bool `json:"alone"`
}

// Handrail is a ridge or valley that runs along the line, within 150 m of it
// for 300 m or more.
type Handrail struct {
	// What it is.
	Kind landform.Kind `json:"kind"`
	// From how far along the leg.
	FromM float64 `json:"from_m" round:"0"`
	// To how far.
	ToM float64 `json:"to_m" round:"0"`
	// The hand it is on: "left" or "right", or "ahead" where the leg goes along
	// it or crosses it.
	Side string `json:"side"`
	// How far off it is where it is nearest.
	NearestM float64 `json:"nearest_m" round:"0"`
	// How far where it is farthest.
	FarthestM float64 `json:"farthest_m" round:"0"`
}

// AimingOff is which side of the destination to aim for, and what then.
type AimingOff struct {
	// "left" or "right" of the destination.
	Side string `json:"side"`
	// By what angle, all the way from the start.
	AngleDeg float64 `json:"angle_deg" round:"1"`
	// How far beside the destination that aims.
	AsideM float64 `json:"aside_m" round:"0"`
	// The line of the ground the destination lies on: "floor", "crest",
	// "steepens" or "eases".
	On waymarks.Shape `json:"on"`
	// What it is called.
	Name string `json:"name,omitempty"`
	// Which way to turn on meeting it.
	Turn string `json:"turn"`
	// How far the destination is then at most.
	WithinM float64 `json:"within_m" round:"0"`
	// How far the line rises from there to the destination; below 0 it falls.
	ClimbM float64 `json:"climb_m" round:"0"`
}

// TickOff is something to tick off on the way, felt underfoot.
type TickOff struct {
	// "floor", "crest", "steepens" or "eases".
	Shape waymarks.Shape `json:"shape"`
	// What it is called.
	Name string `json:"name"`
	// How far along the leg.
	AtM float64 `json:"at_m" round:"0"`
	// How high.
	ElevationM float64 `json:"elevation_m" round:"0"`
	// Double paces from the start; null where ground on the way needs hands.
	DoublePaces float64 `json:"double_paces" round:"0"`
	// How long from the start, by Tobler's rule off path, without rests; null
	// where no rule holds.
	ToblerS float64 `json:"tobler_s" round:"0"`
	// The same by the rule of one time (time.rule).
	RuleS float64 `json:"rule_s" round:"0"`
	// Both are the least: part of the way to it has no data.
	AtLeast bool `json:"at_least,omitempty"`
	// It is met from one edge of the drift to the other.
	Throughout bool `json:"across_the_drift"`
}

// CliffNear is a cliff within the drift of the line.
type CliffNear struct {
	// How far along the leg.
	AtM float64 `json:"at_m" round:"0"`
	// How far right of it its nearest part lies.
	OffsetM float64 `json:"offset_m" round:"0"`
	// Its greatest step between two posts.
	StepM float64 `json:"step_m" round:"0"`

	parts [][]geodesy.LatLon // the ground it covers, as landform.Feature.Parts
}

// ways are a leg's ground as it helps or threatens who walks it.
type ways struct {
	found  *waymarks.Waymarks
	cliffs []CliffNear
}

// errors are what puts a walker off this leg's line.
func (a *LegAnswer) errors(w Walk) drift.Errors {
	e := drift.Errors{Compass: geodesy.Degrees(w.CompassError), Declination: drift.DeclinationByHand, Pacing: w.PaceError}
	if a.Declination != nil && a.Declination.SigmaDeg < mostCompassError {
		e.Declination = geodesy.Degrees(a.Declination.SigmaDeg)
	}
	return e
}

// mostCompassError is the largest error of a compass that anyone would walk by,
// degrees; package drift takes up to 30.
const mostCompassError = 30

// onCompass is the leg walked on one bearing.
func (a *LegAnswer) onCompass(w Walk) (*drift.Walk, error) {
	return drift.Along(a.errors(w), []drift.Stretch{{To: a.leg.Distance, Kind: drift.Compass}})
}

// drifts fills in how far off one may come out; by the sightings where there
// are any.
func (a *LegAnswer) drifts(w Walk, compass *drift.Walk) error {
	e := a.errors(w)
	a.Drift = Drift{
		OnCompassM: compass.HalfWidth(a.leg.Distance), BySightingsM: nan, AlongM: compass.PacedHalf(a.leg.Distance),
		CompassErrorDeg: float64(e.Compass), DeclinationErrorDeg: float64(e.Declination), PaceError: e.Pacing, MarkErrorM: a.leg.Spacing / 2,
	}
	if a.wayside == nil {
		return nil
	}
	stretches := sightedStretches(a.wayside.plan, a.Drift.MarkErrorM)
	if n := len(stretches); n == 0 || math.Abs(stretches[n-1].To-a.leg.Distance) > samePlace {
		return nil // the sightings end where the data does
	}
	by, err := drift.Along(e, stretches)
	if err != nil {
		return err
	}
	a.Drift.BySightingsM = by.HalfWidth(a.leg.Distance)
	return nil
}

// straightAt is how far off the line, degrees, a mark may stand and be walked straight
// at. One farther off, or behind, is kept at its angle by hand, which holds a line
// about as well as a compass, and is taken as one.
const straightAt = 1

// sightedStretches is a chain of sightings as it is walked.
func sightedStretches(plan chain.Plan, markError float64) []drift.Stretch {
	var out []drift.Stretch
	for _, s := range plan.Steps {
		x := drift.Stretch{From: s.From, To: s.To, Kind: drift.Compass}
		if m := s.Mark; m != nil && !m.Behind && math.Abs(float64(m.Off)) <= straightAt {
			x.Kind, x.Mark, x.MarkError = drift.Sighted, s.Mark.Distance, markError
		}
		if s.To > s.From {
			out = append(out, x)
		}
	}
	return out
}

// goalSeenFrom is how far off a walker knows the destination by sight, metres:
// as far as it stays in view to the end, and no farther than a camp or a cairn
// is known at.
func (a *LegAnswer) goalSeenFrom() float64 {
	walking := a.Sight.Walking()
	if n := len(walking); n > 0 && walking[n-1].Verdict == visibility.Visible {
		return math.Min(a.leg.Distance-walking[n-1].From, policy.GoalKnownFrom)
	}
	return 0
}

// findWays looks for what the ground tells on the leg, walked on the compass
// alone: what holds within that drift holds within a smaller one.
func (l *landforms) findWays(ctx context.Context, ground dem.Posts, a *LegAnswer, features []landform.Feature, walk *drift.Walk) (*ways, error) {
	w := &ways{}
	var err error
	if w.cliffs, err = l.cliffsNear(a.leg, features, walk); err != nil {
		return nil, err
	}
	if a.leg.Covered < a.leg.Distance || a.leg.Distance > policy.WaymarksUpTo {
		return w, nil
	}
	w.found, err = waymarks.Find(ctx, waymarks.Request{
		From: a.leg.From, To: a.leg.To, Grid: l.grid, Ground: ground, Features: features, Walk: walk, SeenFrom: a.goalSeenFrom(), VerticalError: l.opts.VerticalError,
		Forms: landform.AlongOptions{Scale: l.opts.Scale, MinRelief: l.opts.MinRelief},
	})
	return w, err
}

// cliffsNear are the cliffs within the drift, the nearest to the line first.
func (l *landforms) cliffsNear(leg *profile.Leg, features []landform.Feature, walk *drift.Walk) ([]CliffNear, error) {
	plane := geodesy.NewPlane(leg.From)
	sin, cos := geodesy.Degrees(leg.Start).SinCos()
	out := []CliffNear{}
	for _, f := range features {
		if f.Kind != landform.Cliff {
			continue
		}
		near := CliffNear{OffsetM: math.Inf(1), StepM: f.Relief}
		look := func(at geodesy.LatLon) {
			east, north := plane.Forward(at)
			along, aside := east*sin+north*cos, east*cos-north*sin
			if along < 0 || along > leg.Covered || math.Abs(aside) > math.Max(walk.HalfWidth(along), leg.Spacing) {
				return
			}
			if math.Abs(aside) < math.Abs(near.OffsetM) {
				near.AtM, near.OffsetM = along, aside
			}
		}
		for _, part := range f.Parts {
			var corners []geodesy.LatLon
			for _, p := range part {
				at, err := l.grid.Place(p.Column, p.Row)
				if err != nil {
					return nil, err
				}
				look(at)
				corners = append(corners, at)
			}
			near.parts = append(near.parts, corners)
		}
		if !math.IsInf(near.OffsetM, 1) {
			out = append(out, near)
		}
	}
	slices.SortStableFunc(out, func(a, b CliffNear) int { return cmp.Compare(math.Abs(a.OffsetM), math.Abs(b.OffsetM)) })
	return out, nil
}

// landformMargin is how far round a leg its landforms are looked for, metres:
// for what it passes, and for what its drift takes.
func landformMargin(scale float64, leg *profile.Leg, walk *drift.Walk) (aside, beyond float64) {
	aside = 2 * scale
	if leg.Distance > policy.WaymarksUpTo || leg.Covered < leg.Distance {
		return aside, 0
	}
	const more = 1000 // m; package waymarks asks for that
	return math.Max(aside, 2*walk.HalfWidth(leg.Distance)+more), walk.PacedHalf(leg.Distance)
}

// describeWays puts what was found into the answer.
func (a *LegAnswer) describeWays(ctx context.Context, g *Ground, r LegRequest) error {
	cliffs := a.wayside.ways.cliffs
	a.Cliffs = &cliffs
	f := a.wayside.ways.found
	if f == nil {
		return nil
	}
	per := r.Walk.DoublePaces
	if p := f.Attack; p != nil {
		a.AttackPoint = &AttackPoint{
			Name: p.Name, Place: spot(PlaceAt(p.Place), p.Elevation), AtM: p.Along, OffsetM: p.Aside, DistanceM: p.Distance,
			TrueDeg: float64(p.Bearing), MagneticDeg: nan, DoublePaces: nan,
		}
		if !math.IsNaN(a.paces(p.Along, a.leg.Distance, per)) {
			a.AttackPoint.DoublePaces = profile.DoublePaces(p.Distance, per)
		}
		if field, err := r.at(p.Place, p.Elevation); err == nil {
			a.AttackPoint.MagneticDeg = float64(field.Declination.Magnetic(p.Bearing))
		}
	}
	if c := f.Catch; c != nil {
		a.CatchingFeature = &CatchingFeature{Shape: c.Shape, Name: c.Name, BeyondM: c.Beyond, LatestM: c.Latest, ElevationM: c.Elevation, ChangeM: c.Change, Alone: c.Alone}
	}
	rails := []Handrail{}
	for _, h := range f.Handrails {
		rails = append(rails, Handrail{h.Kind, h.From, h.To, sideName(h.Side), h.Nearest, h.Farthest})
	}
	a.Handrails = &rails
	if o := f.AimOff; o != nil {
		a.AimingOff = &AimingOff{
			Side: sideName(o.Side), AngleDeg: float64(o.Angle), AsideM: o.Aside, On: o.On, Name: o.Name,
			Turn: sideName(o.Turn), WithinM: o.Within, ClimbM: o.Climb,
		}
	}
	ticks := []TickOff{}
	for _, t := range f.Ticks {
		took, least, err := a.timeTo(ctx, g, t.Distance, r.Walk.Speed)
		if err != nil {
			return err
		}
		ticks = append(ticks, TickOff{
			Shape: t.Shape, Name: t.Name, AtM: t.Distance, ElevationM: t.Elevation, DoublePaces: a.paces(0, t.Distance, per),
			ToblerS: took[profile.ByTobler], RuleS: took[r.Walk.Rule], AtLeast: least, Throughout: t.Throughout,
		})
	}
	a.TickOff = &ticks
	return nil
}

// paces are the double paces of part of the leg, NaN where nobody paces: over
// ground that needs hands.
func (a *LegAnswer) paces(from, to, per100 float64) float64 {
	for _, s := range a.times.NoWalking {
		if s.From < to && s.To > from {
			return nan
		}
	}
	return profile.DoublePaces(to-from, per100)
}

// timeTo is how long the leg takes as far as a distance, seconds by each rule;
// NaN where they do not hold.
func (a *LegAnswer) timeTo(ctx context.Context, g *Ground, distance float64, speed profile.Speed) (took [3]float64, least bool, err error) {
	part, err := profile.Trace(ctx, g.posts(ctx), a.leg.From, a.leg.PlaceAt(distance))
	if err != nil {
		return took, false, ctx.Err() // at the start itself
	}
	times := part.TimesAt(part.Climb(a.Climb.DeadBandM, g.verticalError), speed)
	by, ok := times.Whole()
	for rule := range took {
		took[rule] = nan
		if ok {
			took[rule] = by[rule].Round(time.Second).Seconds()
		}
	}
	return took, ok && times.AtLeast, nil
}

func sideName(s waymarks.Side) string {
	switch s {
	case waymarks.Left:
		return "left"
	case waymarks.Right:
		return "right"
	}
	return "ahead"
}
