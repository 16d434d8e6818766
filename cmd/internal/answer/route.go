package answer

import (
	"context"
	"fmt"
	"math"
	"time"

	"crowline/dem/units"
	"crowline/profile"
	"crowline/visibility"
	"crowline/visibility/chain"
)

// RouteRequest asks for several straight legs, one after the other.
type RouteRequest struct {
	Course *Course
	// Title of the card; "" takes the course's name.
	Title    string
	Sighting Sighting
	Cover    Cover
	Needle
	Walk Walk
	// Straight proposes no way round.
	Straight bool
	// Places are the user's, which may be marks.
	Places []Place
	// Start is when one sets out, in the offset that times are told in; the zero
	// time tells none.
	Start time.Time
}

// Check refuses what makes no sense.
func (r RouteRequest) Check() error {
	if r.Course == nil || len(r.Course.Turns) < 2 {
		return wrongf("a route needs two turning points or more: give another")
	}
	for _, c := range []interface{ Check() error }{r.Sighting, r.Cover, r.Walk, r.Needle} {
		if err := c.Check(); err != nil {
			return err
		}
	}
	return nil
}

// Reach is the ground of every leg and of its marks.
func (r RouteRequest) Reach() Reach {
	var out Reach
	for i, to := range r.Course.Turns[1:] {
		leg := reachOfLeg(r.Course.Turns[i].LatLon, to.LatLon)
		out.Places, out.Margin = append(out.Places, leg.Places...), math.Max(out.Margin, leg.Margin)
	}
	out.Behind = !r.Start.IsZero() // the sun goes behind it
	return out
}

// RouteAnswer is a route leg by leg: what a card says.
type RouteAnswer struct {
	// The card's title.
	Name string `json:"name"`
	// When one sets out; left out where none is given.
	Start *Moment `json:"start,omitempty"`
	// The legs in order.
	Legs []RouteLeg `json:"legs"`
	// All legs together.
	Totals RouteTotals `json:"totals"`
	// What was joined or left out of the file, and what is doubtful.
	Notes []string `json:"notes"`
	// The files written.
	Written []string `json:"written"`
	// What the sights assume.
	Assumptions Assumptions `json:"assumptions"`
	// The data the answer rests on.
	ElevationData ElevationData `json:"elevation_data"`
	// What always holds.
	Cautions []string `json:"cautions"`

	rule  profile.Rule
	date  time.Time
	notes []note
}

var _ = register[RouteAnswer]("route")

// Rule is that of the card's times, and Date the day its bearings are for.
func (a *RouteAnswer) Rule() profile.Rule { return a.rule }
func (a *RouteAnswer) Date() time.Time    { return a.date }

// NotesIn are the notes in these units.
func (a *RouteAnswer) NotesIn(u units.System) []string {
	var out []string
	for _, n := range a.notes {
		out = append(out, n(u))
	}
	return out
}

// Note adds notes.
func (a *RouteAnswer) Note(list ...string) {
	for _, text := range list {
		a.Notes = append(a.Notes, text)
		a.notes = append(a.notes, func(units.System) string { return text })
	}
}

// RouteLeg is one leg of a route.
type RouteLeg struct {
	// Its place in the route, from 1.
	Number int `json:"number"`
	// The start.
	From Spot `json:"from"`
	// The end.
	To Spot `json:"to"`
	// How far it is, straight.
	DistanceM float64 `json:"distance_m" round:"2"`
	// How far along the data reaches.
	CoveredM float64 `json:"covered_m" round:"2"`
	// How much of that has no data.
	UnknownM float64 `json:"unknown_m" round:"2"`
	// The part of the leg on ground that was filled.
	Filled *FilledLine `json:"filled_ground,omitempty"`
	// Which bearing to follow.
	Bearing Bearings `json:"bearing"`
	// Magnetic north at the leg's start; null where the model has no answer.
	Declination *MagneticDeclination `json:"declination"`
	// What the line climbs and drops, and how steep it is.
	Climb Climb `json:"climb"`
	// How long it takes on foot.
	Time Times `json:"time"`
	// When one gets to the leg's end, and what light there is; left out where no
	// start is given.
	Arrival *Arrival `json:"arrival,omitempty"`
	// Whether the end is seen.
	Sight SightLine `json:"sight"`
	// The same over what stands on the ground.
	OverCover *CoverSight `json:"over_cover,omitempty"`
	// The mark to walk on, seen from the start: what the first sighting of chain is
	// of. Null where that is not ahead, or the leg sets out on the compass.
	Mark *Mark `json:"mark"`
	// The marks the card names: those of the first sightings.
	CardMarks []CardMark `json:"card_marks"`
	// The sightings from start to end.
	Chain *Chain `json:"chain"`
	// What is passed.
	Passed []Passed `json:"passed"`
	// How far from the leg's end one may come out, 19 times in 20.
	Drift Drift `json:"drift"`
	// Cliffs within the drift of the compass, the nearest to the line first.
	Cliffs *[]CliffNear `json:"cliffs_within_drift"`
	// The last plain landform before the end; null where there is none.
	AttackPoint *AttackPoint `json:"attack_point"`
	// What tells that one has gone too far; null where nothing sure does.
	CatchingFeature *CatchingFeature `json:"catching_feature"`
	// Ridges and valleys that run along the line.
	Handrails *[]Handrail `json:"handrails"`
	// Which side to aim for, where that helps.
	AimingOff *AimingOff `json:"aiming_off"`
	// A turning point that would save climb; null where none plainly does.
	WayRound *WayRound `json:"way_round"`

	leg *LegAnswer
}

// Leg is the leg as the leg command answers it.
func (l *RouteLeg) Leg() *LegAnswer { return l.leg }

// WayRound is a turning point that would save climb.
type WayRound struct {
	// Where it is.
	At Spot `json:"waypoint"`
	// The climb by it.
	AscentM float64 `json:"ascent_m" round:"1"`
	// The drop by it.
	DescentM float64 `json:"descent_m" round:"1"`
	// How far it is by it.
	DistanceM float64 `json:"distance_m" round:"1"`
	// How much climb it saves.
	SavedM float64 `json:"ascent_saved_m" round:"1"`
	// How much longer it is.
	ExtraM float64 `json:"extra_distance_m" round:"1"`
	// Bearing from the start to it, from true north.
	FirstTrueDeg float64 `json:"first_true_deg" round:"1"`
	// Bearing from it to the end, from true north.
	SecondTrueDeg float64 `json:"second_true_deg" round:"1"`
	// How far it is from the start.
	FirstM float64 `json:"first_distance_m" round:"1"`
	// How far the end is from it.
	SecondM float64 `json:"second_distance_m" round:"1"`
	// Part of the way by it lies on ground that was filled.
	OnFilled bool `json:"over_filled_ground,omitempty"`
}

// RouteTotals are all legs together. The errors of legs are taken as
// independent.
type RouteTotals struct {
	// How many there are.
	Legs int `json:"legs"`
	// How far it is.
	DistanceM float64 `json:"distance_m" round:"2"`
	// All rises.
	AscentM float64 `json:"ascent_m" round:"1"`
	// All falls.
	DescentM float64 `json:"descent_m" round:"1"`
	// One standard deviation of either; null where it is not known of a leg.
	ErrorM float64 `json:"error_m" round:"1"`
	// Part of a leg is not known, and may add to them.
	AtLeast bool `json:"at_least"`
	// Contour lines crossed upwards.
	ContoursUp int `json:"contours_up"`
	// Contour lines crossed downwards.
	ContoursDown int `json:"contours_down"`
	// Part of a leg is in or beside a void, where a map has no lines.
	ContoursAtLeast bool `json:"contours_at_least"`
	RuleTimes
	// The rule of one time: "naismith", "tobler" or "din".
	Rule profile.Rule `json:"rule"`
	// The time by that rule; null where a leg has none.
	RuleS float64 `json:"rule_s"`
	// The least the route takes: each leg by its quickest rule; null likewise.
	QuickestS float64 `json:"quickest_s"`
	// The most: each leg by its slowest rule; null likewise.
	SlowestS float64 `json:"slowest_s"`
	// The legs that have no time, by number.
	LegsWithoutTime []int `json:"legs_without_time,omitempty"`
	// Double paces for the whole; null where a leg has none.
	DoublePaces float64 `json:"double_paces" round:"0"`
}

// Route answers a RouteRequest.
func Route(ctx context.Context, g *Ground, r RouteRequest) (*RouteAnswer, error) {
	a := &RouteAnswer{
		Name: r.Course.Name, Written: []string{}, Assumptions: r.Sighting.describe(), Cautions: cautions, rule: r.Walk.Rule, date: r.Day,
		notes: append([]note{}, r.Course.notes...),
	}
	a.Notes = a.NotesIn(units.Metric)
	if r.Title != "" {
		a.Name = r.Title
	}
	choice, err := g.choose(r.Walk.Interval, policy.MapScale)
	if err != nil {
		return nil, err
	}
	if choice.Warning != "" {
		a.Note(choice.Warning)
	}
	told := progress(ctx, "working out legs")
	legs := len(r.Course.Turns) - 1
	for i := range legs {
		from, to := r.Course.Turns[i], r.Course.Turns[i+1]
		leg, err := r.leg(ctx, g, i+1, from, to)
		if err != nil {
			return nil, fmt.Errorf("leg %d, %s to %s: %w", i+1, from.Label(), to.Label(), err)
		}
		a.Legs = append(a.Legs, *leg)
		if told != nil {
			told(int64(i+1), int64(legs))
		}
	}
	if err := a.arrivals(ctx, g, r); err != nil {
		return nil, err
	}
	a.total()
	a.ElevationData = g.describe(a.Legs[0].leg.leg.Spacing, 0)
	return a, nil
}

// leg works out one leg, its mark, what it passes and the way round.
func (r RouteRequest) leg(ctx context.Context, g *Ground, number int, from, to Place) (*RouteLeg, error) {
	a, err := Leg(ctx, g, LegRequest{From: from, To: to, Sighting: r.Sighting, Cover: r.Cover, Needle: r.Needle, Walk: r.Walk, Marks: 1, Places: r.Places, chainOnly: true})
	if err != nil {
		return nil, err
	}
	l := &RouteLeg{
		Number: number, From: a.From, To: a.To, DistanceM: a.DistanceM, CoveredM: a.CoveredM, UnknownM: a.UnknownM, Filled: a.Filled, Bearing: a.Bearing,
		Declination: a.Declination, Climb: a.Climb, Time: a.Time, Sight: a.Sight, OverCover: a.OverCover, Chain: a.Chain, Passed: *a.Passed, leg: a,
		Drift: a.Drift, Cliffs: a.Cliffs, AttackPoint: a.AttackPoint, CatchingFeature: a.CatchingFeature, Handrails: a.Handrails, AimingOff: a.AimingOff,
	}
	if l.Mark, err = r.mark(ctx, g, a); err != nil {
		return nil, err
	}
	l.CardMarks = l.CardMarksIn(units.Metric)
	if r.Straight {
		return l, nil
	}
	d, err := profile.FindDogleg(ctx, g.posts(ctx), a.leg, profile.DoglegOptions{DeadBand: a.Climb.DeadBandM, VerticalError: g.verticalError})
	if err != nil || d == nil {
		return l, err
	}
	l.WayRound = &WayRound{
		At: spot(PlaceAt(d.Waypoint), d.Second.Points[0].Elevation), AscentM: d.Ascent, DescentM: d.Descent,
		DistanceM: a.leg.Distance + d.Extra, SavedM: d.Saved, ExtraM: d.Extra,
		FirstTrueDeg: float64(d.First.Start), SecondTrueDeg: float64(d.Second.Start), FirstM: d.First.Distance, SecondM: d.Second.Distance,
		OnFilled: len(d.First.Filled()) > 0 || len(d.Second.Filled()) > 0,
	}
	return l, nil
}

// mark is what the chain of sightings sets out on, as a mark of landmarks; nil
// where that is the compass or something behind.
func (r RouteRequest) mark(ctx context.Context, g *Ground, a *LegAnswer) (*Mark, error) {
	steps := a.wayside.plan.Steps
	if len(steps) == 0 || steps[0].Kind != chain.Sighted || steps[0].Mark.Behind {
		return nil, nil
	}
	m := steps[0].Mark
	posts, field := g.posts(ctx), a.Bearing.magnetic
	behind, err := g.behind(a.leg.From, m.Away)
	if err != nil {
		return nil, err
	}
	candidate := visibility.Candidate{Name: m.Name, Kind: string(m.Kind), Place: m.Place, Elevation: m.Elevation, Prominence: nan, AboveGround: m.AboveGround}
	found, err := visibility.Landmarks(ctx, posts, r.Sighting.observer(a.leg.From), []visibility.Candidate{candidate}, visibility.LandmarkOptions{
		Conditions: a.conditions, Within: chain.DefaultWithin + 1, LookTo: behind, Leg: a.leg, VerticalError: g.verticalError})
	if err != nil || len(found) == 0 {
		return nil, err
	}
	l := &found[0]
	l.Kept = ontoLeg(a.leg, a.line, l.Kept)
	out := mark(1, l, field.Field, field.FieldError, true)
	observer := r.Sighting.observer(a.line.From)
	out.OverCover = a.Chain.Steps[0].OverCover
	if g.anyFilled() {
		if err := out.filledMark(ctx, posts, observer, a.conditions); err != nil {
			return nil, err
		}
	}
	out.Sight.Likely, err = g.likelyMark(ctx, posts, l, observer, a.conditions)
	return &out, err
}

// arrivals are when one gets to each turning point, who sets out at the start
// asked for.
func (a *RouteAnswer) arrivals(ctx context.Context, g *Ground, r RouteRequest) error {
	if r.Start.IsZero() {
		return nil
	}
	a.Start = &Moment{r.Start}
	walking, later := time.Duration(0), false
	for i := range a.Legs {
		l := &a.Legs[i]
		later = later || l.leg.times.AtLeast
		switch took, ok := slowest(l.leg.times); {
		case !ok:
			walking = -1
		case walking >= 0:
			walking += took
		}
		var err error
		if l.Arrival, err = g.arrive(ctx, r.Sighting, r.Course.Turns[i+1].LatLon, r.Start, walking, later); err != nil {
			return err
		}
	}
	return nil
}

// total adds the legs up.
func (a *RouteAnswer) total() {
	t := &a.Totals
	t.Legs = len(a.Legs)
	variance := 0.0
	var times profile.RuleTimes
	for i := range a.Legs {
		l := &a.Legs[i]
		t.DistanceM += l.DistanceM
		t.AscentM += l.Climb.AscentM
		t.DescentM += l.Climb.DescentM
		t.AtLeast = t.AtLeast || l.Climb.AtLeast
		t.ContoursUp += l.Climb.ContoursUp
		t.ContoursDown += l.Climb.ContoursDown
		t.ContoursAtLeast = t.ContoursAtLeast || l.Climb.ContoursAtLeast
		for rule, d := range l.leg.times.WithoutSteep {
			times[rule] += d
		}
		by, ok := l.leg.times.Whole()
		shortest, longest := by.Extremes()
		t.QuickestS += by[shortest].Seconds()
		t.SlowestS += by[longest].Seconds()
		if !ok {
			t.LegsWithoutTime = append(t.LegsWithoutTime, l.Number)
		}
		t.DoublePaces += l.Time.DoublePaces
		variance += l.Climb.ErrorM * l.Climb.ErrorM // NaN where a leg's is not known
	}
	t.RuleTimes.set(times, len(t.LegsWithoutTime) == 0)
	t.Rule, t.RuleS = a.rule, times[a.rule].Seconds()
	if len(t.LegsWithoutTime) > 0 {
		t.RuleS, t.QuickestS, t.SlowestS = nan, nan, nan
	}
	t.ErrorM = math.Sqrt(variance)
}

// WalkingTime of the leg by a rule; false where it has none.
func (l *RouteLeg) WalkingTime(rule profile.Rule) (time.Duration, bool) {
	times, ok := l.leg.times.Whole()
	return times[rule], ok
}

// WalkingTime of the whole route by the card's rule; false where a leg has none.
func (a *RouteAnswer) WalkingTime() (time.Duration, bool) {
	var sum time.Duration
	for i := range a.Legs {
		d, ok := a.Legs[i].WalkingTime(a.rule)
		if !ok {
			return 0, false
		}
		sum += d
	}
	return sum, true
}
