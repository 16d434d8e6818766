package answer

import (
	"context"
	"math"
	"time"

	"crowline/contour"
	"crowline/dem"
	"crowline/profile"
	"crowline/profile/drift"
	"crowline/visibility"
)

// Walk is how a leg's climb and paces are counted.
type Walk struct {
	// Interval of the contour lines counted.
	Interval Interval
	// DeadBand leaves out rises and falls smaller than this, metres; NaN takes
	// the data's own.
	DeadBand float64
	// DoublePaces in 100 m.
	DoublePaces float64
	// CompassError is of a bearing kept, degrees, and PaceError of a distance
	// paced, a share of it: one standard deviation each.
	CompassError, PaceError float64
	// Speed on a level path; 0 for each rule's own.
	Speed profile.Speed
	// Rule of one time, where one is told.
	Rule profile.Rule
}

// DefaultWalk is a walker who has said nothing.
func DefaultWalk() Walk {
	return Walk{DeadBand: nan, DoublePaces: policy.DoublePaces, CompassError: float64(drift.DefaultCompass), PaceError: drift.DefaultPacing, Rule: policy.Rule}
}

// Check refuses what no walker does.
func (w Walk) Check() error {
	switch {
	case !(w.DoublePaces > 0 && w.DoublePaces <= 1000):
		return wrongf("%g double paces in 100 m: give 1 to 1000, about 60 to 70", w.DoublePaces)
	case w.DeadBand < 0 || w.DeadBand > 10e3:
		return wrongf("a dead band of %g m: give one from 0 to 10 km", w.DeadBand)
	case !(w.CompassError >= 0 && w.CompassError <= mostCompassError):
		return wrongf("a compass error of %g degrees: give one from 0 to %d", w.CompassError, mostCompassError)
	case !(w.PaceError >= 0 && w.PaceError <= 0.5):
		return wrongf("a pace error of %g %%: give one from 0 to 50", 100*w.PaceError)
	case w.Speed != 0 && !(w.Speed >= policy.LeastSpeed && w.Speed <= policy.MostSpeed):
		return wrongf("a walking speed of %.3g km/h: give one from 1 to 8 km/h (0.6 to 5 mph) on a level path", float64(w.Speed)*3.6)
	}
	return w.Interval.Check()
}

// LegRequest asks for one straight leg.
type LegRequest struct {
	From, To Place
	Sighting Sighting
	Cover    Cover
	Needle
	Walk Walk
	// Marks is how many marks are worked out in full; 0 leaves out marks,
	// sightings and landforms.
	Marks int
	// Throughout asks for marks that stay in sight all the way that they lead.
	Throughout bool
	// Places are the user's, which may be marks.
	Places []Place
	// Start is when one sets out, in the offset that times are told in; the zero
	// time tells none.
	Start time.Time
	// Moving says that an end is still being dragged: what takes long is left out,
	// which is marks, cover, and how sure the sight is.
	Moving bool

	// chainOnly leaves out the ranking of summits and places, for whoever takes no
	// more than the chain's marks.
	chainOnly bool
}

// Check refuses what makes no sense.
func (r LegRequest) Check() error {
	if r.Marks < 0 {
		return wrongf("%d marks: give 0 or more", r.Marks)
	}
	for _, c := range []interface{ Check() error }{r.Sighting, r.Cover, r.Walk, r.Needle} {
		if err := c.Check(); err != nil {
			return err
		}
	}
	return nil
}

// Reach is the ground of the leg and of its marks.
func (r LegRequest) Reach() Reach {
	out := reachOfLeg(r.From.LatLon, r.To.LatLon)
	out.Behind = !r.Start.IsZero() // the sun goes behind it
	return out
}

// LegAnswer is one straight leg.
type LegAnswer struct {
	// The start.
	From Spot `json:"from"`
	// The destination.
	To Spot `json:"to"`
	// How far it is, straight.
	DistanceM float64 `json:"distance_m" round:"2"`
	// How far along the data reaches: what follows is of that part, but for
	// bearing and paces.
	CoveredM float64 `json:"covered_m" round:"2"`
	// How much of that has no data.
	UnknownM float64 `json:"unknown_m" round:"2"`
	// Which bearing to follow.
	Bearing Bearings `json:"bearing"`
	// Magnetic north at the start; null where the model has no answer.
	Declination *MagneticDeclination `json:"declination"`
	// What the line climbs and drops, and how steep it is.
	Climb Climb `json:"climb"`
	// How long it takes on foot.
	Time Times `json:"time"`
	// When one sets out; left out where none is given.
	Start *Moment `json:"start,omitempty"`
	// When one gets there, and what light there is; left out likewise.
	Arrival *Arrival `json:"arrival,omitempty"`
	// Whether the destination is seen.
	Sight SightLine `json:"sight"`
	// The same over what stands on the ground.
	OverCover *CoverSight `json:"over_cover,omitempty"`
	// The part of the leg on ground that was filled.
	Filled *FilledLine `json:"filled_ground,omitempty"`
	// Marks near the bearing, best first; null where not asked for.
	Marks *[]Mark `json:"marks"`
	// The sightings from start to destination; null where not asked for.
	Chain *Chain `json:"chain"`
	// What is passed; null where not asked for.
	Passed *[]Passed `json:"passed"`
	// How far from the destination one may come out, 19 times in 20.
	Drift Drift `json:"drift"`
	// Cliffs within the drift of the compass, the nearest to the line first; null
	// where marks were not asked for.
	Cliffs *[]CliffNear `json:"cliffs_within_drift"`
	// The last plain landform before the destination; null where there is none.
	// This and what follows hold for one who walks on the compass alone, and are
	// null as well where marks were not asked for, the data ends on the way, or
	// the leg is over 20 km.
	AttackPoint *AttackPoint `json:"attack_point"`
	// What tells that one has gone too far; null where nothing sure does.
	CatchingFeature *CatchingFeature `json:"catching_feature"`
	// Ridges and valleys that run along the line.
	Handrails *[]Handrail `json:"handrails"`
	// Which side to aim for, where the destination lies on a line of the ground
	// and the drift is wider than it is known from; null elsewhere.
	AimingOff *AimingOff `json:"aiming_off"`
	// At most eight things felt underfoot, in order.
	TickOff *[]TickOff `json:"tick_off"`
	// What the sights assume.
	Assumptions Assumptions `json:"assumptions"`
	// The data the answer rests on.
	ElevationData ElevationData `json:"elevation_data"`
	// What always holds.
	Cautions []string `json:"cautions"`

	leg        *profile.Leg
	line       *profile.Leg // of sight, from looking point to looking point
	conditions visibility.Conditions
	interval   contour.Choice
	times      profile.Times
	gradient   profile.Gradient
	wayside    *wayside // nil when not asked
	onBearing  *drift.Walk
	throughout bool
}

var _, _ = register[LegAnswer]("leg"), register[LegAnswer]("demo")

// Line is the leg's profile as the library gives it.
func (a *LegAnswer) Line() *profile.Leg { return a.leg }

// Interval is the contour interval the leg's lines are counted at.
func (a *LegAnswer) Interval() contour.Choice { return a.interval }

// Throughout reports whether the chain's marks stay in sight all the way that they
// lead.
func (a *LegAnswer) Throughout() bool { return a.throughout }

// Times and Gradient are the leg's, as the library gives them.
func (a *LegAnswer) Times() profile.Times       { return a.times }
func (a *LegAnswer) Gradient() profile.Gradient { return a.gradient }

// Leg answers a LegRequest.
func Leg(ctx context.Context, g *Ground, r LegRequest) (*LegAnswer, error) {
	conditions := r.Sighting.conditions()
	t, err := g.trace(ctx, r.From, r.To, r.Sighting, r.Needle)
	if err != nil {
		return nil, err
	}
	posts, leg, line, observer := t.posts, t.leg, t.line, t.observer
	a := &LegAnswer{
		From: t.from, To: t.to, Bearing: t.bearing, Declination: t.declination, DistanceM: leg.Distance, CoveredM: leg.Covered, UnknownM: leg.Unknown(),
		Filled: g.filledAlong(leg), leg: leg, line: line, conditions: conditions, Cautions: cautions, Assumptions: r.Sighting.describe(), throughout: r.Throughout,
	}

	if err := a.climb(ctx, g, posts, r); err != nil {
		return nil, err
	}
	a.Time.DoublePaces, a.Time.PacedM, a.Time.PacePer100M = profile.DoublePaces(leg.Distance, r.Walk.DoublePaces), leg.Distance, r.Walk.DoublePaces
	if len(a.times.NoWalking) > 0 { // nobody paces up a wall
		a.Time.DoublePaces, a.Time.PacedM = nan, nan
	}
	if !r.Start.IsZero() {
		a.Start = &Moment{r.Start}
		walking, ok := slowest(a.times)
		if !ok {
			walking = -1
		}
		if a.Arrival, err = g.arrive(ctx, r.Sighting, r.To.LatLon, r.Start, walking, a.times.AtLeast); err != nil {
			return nil, err
		}
	}

	seen, err := visibility.Along(line, observer, conditions)
	if err != nil {
		return nil, err
	}
	walking, err := visibility.WhileWalking(line, observer, conditions)
	if err != nil {
		return nil, err
	}
	a.Sight = sightLine(seen, ontoLeg(leg, line, walking))
	if err := a.Sight.rests(line, observer, conditions); err != nil {
		return nil, err
	}
	if r.Moving {
		r.Cover, r.Marks = Cover{}, 0
	} else if a.Sight.Likely, err = g.likely(ctx, line, observer, conditions, policy.LegSamples); err != nil {
		return nil, err
	}
	over, err := r.Cover.open(ctx, g)
	if err != nil {
		return nil, err
	}
	if over != nil {
		defer over.close()
		if a.OverCover, err = over.look(ctx, g.posts(ctx), line.To, observer, conditions, seen.Verdict); err != nil {
			return nil, err
		}
	}
	onCompass, err := a.onCompass(r.Walk)
	if err != nil {
		return nil, err
	}
	a.onBearing = onCompass
	if r.Marks > 0 {
		if a.wayside, err = scan(ctx, g, r, a, observer, onCompass); err != nil {
			return nil, err
		}
		if err := a.describeWayside(ctx, g, r, observer, over); err != nil {
			return nil, err
		}
		if err := a.describeWays(ctx, g, r); err != nil {
			return nil, err
		}
	}
	if err := a.drifts(r.Walk, onCompass); err != nil {
		return nil, err
	}
	a.ElevationData = g.describe(leg.Spacing, 0)
	return a, nil
}

// Climb is what a line climbs and drops, and how steep it is.
type Climb struct {
	// All rises along the profile, but wiggles under the dead band.
	AscentM float64 `json:"ascent_m" round:"1"`
	// All falls, likewise.
	DescentM float64 `json:"descent_m" round:"1"`
	// One standard deviation of either, from the data's error; null where that
	// is not known.
	ErrorM float64 `json:"error_m" round:"1"`
	// Rises and falls smaller than this are left out.
	DeadBandM float64 `json:"dead_band_m"`
	// Part of the leg is not known, and may add to them.
	AtLeast bool `json:"at_least"`
	// The lowest ground on the leg.
	LowestM float64 `json:"lowest_m" round:"1"`
	// The highest ground on the leg.
	HighestM float64 `json:"highest_m" round:"1"`
	// The lowest ground was a void and has been filled.
	LowestFilled bool `json:"lowest_on_filled_ground,omitempty"`
	// The highest ground was a void and has been filled.
	HighestFilled bool `json:"highest_on_filled_ground,omitempty"`
	// The steepest slope along the line, over one post spacing.
	SteepestDeg float64 `json:"steepest_deg" round:"1"`
	// Where that is.
	SteepestAtM float64 `json:"steepest_at_m" round:"0"`
	// It goes up.
	SteepestUphill bool `json:"steepest_uphill"`
	// The length slopes are averages over.
	SlopeBaselineM float64 `json:"slope_baseline_m" round:"1"`
	// How much of the way is how steep.
	SlopeClasses []SlopeClass `json:"slope_classes"`
	// Where the line is 30 degrees or steeper.
	Steep []Stretch `json:"steep"`
	// The steepest ground under the line, in any direction.
	GroundSteepestDeg float64 `json:"ground_steepest_deg" round:"1"`
	// Where that is.
	GroundSteepestAtM float64 `json:"ground_steepest_at_m" round:"0"`
	// Where the ground under the line is 30 degrees or steeper.
	GroundSteep []Stretch `json:"ground_steep"`
	// The contour interval of the lines counted.
	ContourIntervalM float64 `json:"contour_interval_m" round:"4"`
	// Why that interval.
	ContourReason string `json:"contour_interval_reason"`
	// What speaks against it.
	ContourWarning string `json:"contour_interval_warning,omitempty"`
	// Contour lines crossed upwards.
	ContoursUp int `json:"contours_up"`
	// Contour lines crossed downwards.
	ContoursDown int `json:"contours_down"`
	// Part of the leg is in or beside a void, where a map has no lines.
	ContoursAtLeast bool `json:"contours_at_least"`
	// Rises that cross a line.
	ContourRises int `json:"contour_rises"`
	// Falls that cross a line.
	ContourFalls int `json:"contour_falls"`
	// The climb told by lines is off by less than this on the ground of this
	// data; null where nothing is known.
	ContoursUpErrorM float64 `json:"contours_up_error_m" round:"1"`
	// The same of the drop.
	ContoursDownErrorM float64 `json:"contours_down_error_m" round:"1"`
	// What the data's error adds to it, one standard deviation.
	ContoursUpSigmaM float64 `json:"contours_up_data_error_m" round:"1"`
	// The same of the drop.
	ContoursDownSigmaM float64 `json:"contours_down_data_error_m" round:"1"`
}

// SlopeClass is how much of the way lies between two slopes.
type SlopeClass struct {
	// From this slope.
	FromDeg float64 `json:"from_deg"`
	// To this one.
	ToDeg float64 `json:"to_deg"`
	// Its share of the way.
	Share float64 `json:"share"`
}

// climb fills in the climb, the slopes, the contour lines and the times.
func (a *LegAnswer) climb(ctx context.Context, g *Ground, posts dem.Posts, r LegRequest) error {
	leg := a.leg
	band := r.Walk.DeadBand
	if math.IsNaN(band) {
		band = g.DeadBand()
	}
	climb := leg.Climb(band, g.verticalError)
	a.gradient, a.times = leg.Gradient(), leg.TimesAt(climb, r.Walk.Speed)
	a.Time = times(a.times, r.Walk)
	var err error
	if a.interval, err = g.choose(r.Walk.Interval, policy.MapScale); err != nil {
		return err
	}
	levels := a.interval.Levels()
	path := make([]contour.Position, len(leg.Points))
	for i, p := range leg.Points {
		path[i] = contour.Position{Column: p.Column, Row: p.Row}
	}
	lines := levels.CountAlong(posts, path)
	if err := posts.Err(); err != nil {
		return err
	}
	counted := levels.Climb(lines, g.verticalError)
	lowest, highest := leg.Extremes()
	slopes := a.gradient
	a.Climb = Climb{
		AscentM: climb.Ascent, DescentM: climb.Descent, ErrorM: nan, DeadBandM: climb.DeadBand, AtLeast: climb.AtLeast,
		LowestM: lowest.Elevation, HighestM: highest.Elevation, LowestFilled: lowest.Filled, HighestFilled: highest.Filled,
		SteepestDeg: float64(slopes.Steepest), SteepestAtM: slopes.At, SteepestUphill: slopes.Uphill,
		SlopeBaselineM: slopes.Baseline, Steep: plainStretches(slopes.Steep),
		GroundSteepestDeg: float64(slopes.GroundSteepest), GroundSteepestAtM: slopes.GroundAt, GroundSteep: plainStretches(slopes.GroundSteep),
		ContourIntervalM: levels.Interval * levels.Unit.Metres(), ContourReason: a.interval.Reason, ContourWarning: a.interval.Warning,
		ContoursUp: lines.Up, ContoursDown: lines.Down, ContoursAtLeast: lines.AtLeast || leg.Covered < leg.Distance,
		ContourRises: lines.Rises, ContourFalls: lines.Falls,
		ContoursUpErrorM: counted.AscentWithin, ContoursDownErrorM: counted.DescentWithin,
		ContoursUpSigmaM: counted.AscentSigma, ContoursDownSigmaM: counted.DescentSigma,
	}
	if g.verticalError > 0 {
		a.Climb.ErrorM = climb.Error
	}
	for _, s := range slopes.Classes {
		a.Climb.SlopeClasses = append(a.Climb.SlopeClasses, SlopeClass{float64(s.From), float64(s.To), s.Share})
	}
	return nil
}

// RuleTimes are how long a way takes on foot, by three rules, without rests, at
// the walker's own speed on the level where that is given.
type RuleTimes struct {
	// By Naismith's rule with Langmuir's corrections; null where part of the
	// line is no walking ground.
	NaismithLangmuirS float64 `json:"naismith_langmuir_s"`
	// By Tobler's rule off path; null likewise.
	ToblerS float64 `json:"tobler_s"`
	// By DIN 33466; null likewise.
	DIN33466S float64 `json:"din33466_s"`
	// By Naismith and Langmuir for the rest of a line with no walking ground in
	// it, put together end to end; left out of other lines.
	NaismithWithoutSteepS *float64 `json:"naismith_langmuir_without_steep_s,omitempty"`
	// By Tobler, likewise.
	ToblerWithoutSteepS *float64 `json:"tobler_without_steep_s,omitempty"`
	// By DIN 33466, likewise.
	DIN33466WithoutSteepS *float64 `json:"din33466_without_steep_s,omitempty"`
}

// Times are how long a line takes on foot.
type Times struct {
	RuleTimes
	// The rule of one time, where one is told: "naismith", "tobler" or "din".
	Rule profile.Rule `json:"rule"`
	// The time by that rule; null where part of the line is no walking ground.
	RuleS float64 `json:"rule_s"`
	// The walker's own speed on a level path, kilometres an hour; null for each
	// rule's own.
	SpeedKmH float64 `json:"level_speed_km_h" round:"2"`
	// Where the line is over 40 degrees: hands are needed and no rule holds.
	NoWalking []Stretch `json:"no_walking_ground"`
	// Where it is from 30 to 40 degrees: allow more than the rules give.
	SteepWalking []Stretch `json:"steep_walking_ground"`
	// Where the rules differ by more than double: "gentle falls", "steep
	// ground".
	RulesApart string `json:"rules_apart,omitempty"`
	// How far along the times are for.
	TimedM float64 `json:"timed_m" round:"2"`
	// How much of that crosses voids, timed as easy ground.
	WithoutDataM float64 `json:"timed_without_data_m" round:"2"`
	// The line takes no less than the times.
	AtLeast bool `json:"at_least"`
	// Double paces for the whole line; null where part of it is no walking ground.
	DoublePaces float64 `json:"double_paces" round:"0"`
	// The length they are for; null likewise.
	PacedM float64 `json:"paced_m" round:"2"`
	// Double paces in 100 m, as given.
	PacePer100M float64 `json:"double_paces_per_100m"`
}

func times(t profile.Times, w Walk) Times {
	out := Times{
		Rule: w.Rule, RuleS: nan, SpeedKmH: nan,
		NoWalking: plainStretches(t.NoWalking), SteepWalking: plainStretches(t.Steep),
		TimedM: t.Timed, WithoutDataM: t.NoData, AtLeast: t.AtLeast,
	}
	by, whole := t.Whole()
	if whole {
		out.RuleS = by[w.Rule].Seconds()
	}
	if w.Speed > 0 {
		out.SpeedKmH = float64(w.Speed) * 3.6
	}
	out.RuleTimes.set(t.WithoutSteep, whole)
	if whole {
		out.RulesApart = t.Apart.String()
	}
	return out
}

// set puts the times where they belong: they are the line's where the whole of
// it is walking ground.
func (t *RuleTimes) set(by profile.RuleTimes, whole bool) {
	naismith, tobler, din := by[profile.ByNaismithLangmuir].Seconds(), by[profile.ByTobler].Seconds(), by[profile.ByDIN33466].Seconds()
	if whole {
		t.NaismithLangmuirS, t.ToblerS, t.DIN33466S = naismith, tobler, din
		return
	}
	t.NaismithLangmuirS, t.ToblerS, t.DIN33466S = nan, nan, nan
	t.NaismithWithoutSteepS, t.ToblerWithoutSteepS, t.DIN33466WithoutSteepS = &naismith, &tobler, &din
}
