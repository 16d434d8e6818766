package answer

import (
	"context"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/dem/units"
	"crowline/profile"
	"crowline/profile/drift"
	"crowline/visibility"
	"crowline/visibility/chain"
)

// samePlace is how near two places are one, metres.
const samePlace = 1.0

// wayside is what a leg's surroundings add to it: marks to walk on, the
// sightings, and the landforms passed.
type wayside struct {
	marks  []visibility.Landmark
	plan   chain.Plan
	every  int // of the posts marks are looked for over, one in so many each way
	passed []Passed
	scale  float64 // of the landforms, metres
	rise   float64 // least relief of the landforms, metres
	ways   *ways
}

// Plan are the leg's sightings as the library gives them.
func (a *LegAnswer) Plan() chain.Plan { return a.wayside.plan }

// Asked reports whether marks, sightings and landforms were asked for.
func (a *LegAnswer) Asked() bool { return a.wayside != nil }

// PassedScale is over how far the landforms passed are told, and the least
// relief they have, metres.
func (a *LegAnswer) PassedScale() (scale, relief float64) { return a.wayside.scale, a.wayside.rise }

// Chain is the sightings from a leg's start to its destination.
type Chain struct {
	// No part of the way is left to the compass but short stretches.
	Complete bool `json:"complete"`
	// So much is left to the compass that the line is hard to lead by marks.
	Hard bool `json:"hard_to_lead_by_marks"`
	// How many there are.
	Sightings int `json:"sightings"`
	// How much of the way is walked on the compass.
	CompassOnlyM float64 `json:"compass_only_m" round:"1"`
	// How much of it is too long for the compass alone.
	UnguidedM float64 `json:"unguided_m" round:"1"`
	// How much of that lies where nothing in view stands up.
	PlainM float64 `json:"unguided_on_plain_ground_m" round:"1"`
	// Marks were looked for over every so many posts each way, the data being
	// finer; left out where over all.
	EveryNthPost int `json:"every_nth_post,omitempty"`
	// The steps, in order.
	Steps []Step `json:"steps"`
}

// Step is one stretch of the way and what leads along it.
type Step struct {
	// "sighted" or "compass only".
	Kind chain.StepKind `json:"kind"`
	// Its number among the sightings, as the text and the map have it; left out
	// of stretches on the compass.
	Number int `json:"number,omitempty"`
	// Where it begins.
	FromM float64 `json:"from_m" round:"1"`
	// Where it ends.
	ToM float64 `json:"to_m" round:"1"`
	// Short enough to walk on the compass.
	Short bool `json:"short,omitempty"`
	// The ground ahead is in view and nothing on it stands up.
	Plain bool `json:"nothing_stands_up,omitempty"`
	// What is sighted.
	Mark *LineMark `json:"mark,omitempty"`
	// Its angle above the horizontal from where it is chosen.
	Angle *float64 `json:"elevation_angle_deg,omitempty" round:"2"`
	// Where it is out of sight on the way, for 100 m or longer: keep the bearing
	// there, it comes back.
	Lost []Stretch `json:"lost,omitempty"`
	// What to do where it is not found, in metres.
	IfNotFound string `json:"if_not_found,omitempty"`
	// What stays in view behind.
	Back *BackSight `json:"back_sight,omitempty"`
	// The sight of the mark over what stands on the ground, from where it is
	// chosen.
	OverCover *CoverSight `json:"over_cover,omitempty"`
}

// LineMark is a mark ahead or behind.
type LineMark struct {
	// What it is: "top", "notch", "ridge end", "spur end", "cliff", "steep
	// face", "water", "place", "destination" or "start".
	Kind chain.Kind `json:"kind"`
	// What it is called.
	Name string `json:"name,omitempty"`
	// How it is told from all else in view where it is chosen, with its distance,
	// in metres.
	Description string `json:"description"`
	// How far along the line.
	AtM float64 `json:"at_m" round:"1"`
	// How far right of it.
	OffsetM float64 `json:"offset_m" round:"1"`
	// How high it stands.
	ElevationM float64 `json:"elevation_m" round:"1"`
	// Its bearing from where it is chosen, from true north.
	TrueDeg float64 `json:"true_deg" round:"2"`
	// How far off it is from there.
	DistanceM float64 `json:"distance_m" round:"1"`
	// How far right of the line it stands from there; of one behind, of the line
	// back.
	OffLineDeg float64 `json:"off_line_deg" round:"1"`
	// It stands behind: keep the bearing back to it.
	Behind bool `json:"behind,omitempty"`
	// A destination at which nothing stands out: it is known by the line and the
	// distance.
	Bare bool `json:"nothing_stands_there,omitempty"`
	// On plain ground: known only by what stands there.
	Plain bool `json:"on_plain_ground,omitempty"`
	// The saddle of the ground that a notch is; left out where it is none.
	Saddle *Spot `json:"saddle,omitempty"`
}

// BackSight is a mark behind.
type BackSight struct {
	// The mark.
	Mark LineMark `json:"mark"`
	// From what share of the stretch it is seen.
	Share float64 `json:"seen_share" round:"3"`
	// From which parts.
	Seen []Stretch `json:"seen"`
}

// Passed is a landform that a leg passes.
type Passed struct {
	// How far along the leg.
	AtM float64 `json:"at_m" round:"0"`
	// The leg's own ground there.
	ElevationM float64 `json:"elevation_m" round:"0"`
	// What it is.
	Kind landform.Kind `json:"kind"`
	// What it is called: "crest", "foot of a spur" and so on.
	Name string `json:"name"`
	// The leg's own ground there was a void and has been filled.
	Filled bool `json:"on_filled_ground,omitempty"`
	// It is water, a lake probably: a depression with a level floor.
	Water bool `json:"water,omitempty"`
	// The landform's own place, where the leg does not go over it.
	Aside *Aside `json:"aside,omitempty"`
	// The nearest part of what the leg passes beside.
	Nearest *NearestPart `json:"nearest_part,omitempty"`
	// Where the leg leaves a cliff that it goes along or down.
	UntilM *float64 `json:"until_m,omitempty" round:"0"`
}

// Aside is a summit, a saddle's floor, the bottom of a depression or the
// steepest place of a cliff beside a leg.
type Aside struct {
	// How far right of the leg it lies.
	OffsetM float64 `json:"offset_m" round:"0"`
	// How high it is.
	ElevationM float64 `json:"elevation_m" round:"0"`
	// It stands on ground that was a void and has been filled.
	Filled bool `json:"on_filled_ground,omitempty"`
}

// NearestPart is the part of a landform nearest to a leg that passes beside it.
type NearestPart struct {
	// How far right of the leg it lies.
	OffsetM float64 `json:"offset_m" round:"0"`
	// Where it is.
	Place Spot `json:"place"`
}

// scan looks round the leg: marks near its bearing as far as markReach, and the
// chain they make with the ground of the line itself.
func scan(ctx context.Context, g *Ground, r LegRequest, a *LegAnswer, observer visibility.Observer, onCompass *drift.Walk) (*wayside, error) {
	w := &wayside{}
	// the landforms are worked out beside the marks, once their ground is read
	forms, err := g.readLandforms(ctx, a.leg, onCompass)
	if err != nil {
		return nil, err
	}
	ground := g.posts(ctx)
	passed := make(chan error, 1)
	go func() { passed <- forms.pass(ctx, ground, a, w, onCompass) }()
	err = w.sight(ctx, g, r, a, observer)
	if alongside := <-passed; err == nil {
		err = alongside
	}
	return w, err
}

// sight finds the marks, and the chain of sightings.
func (w *wayside) sight(ctx context.Context, g *Ground, r LegRequest, a *LegAnswer, observer visibility.Observer) error {
	var err error
	if !r.chainOnly {
		if w.marks, err = g.marksAlong(ctx, r.Places, a.leg, r.Sighting.observer(r.From.LatLon), a.conditions); err != nil {
			return err
		}
	}
	ground, every, err := g.lookedOver(ctx, a.line)
	if err != nil {
		return err
	}
	plan, err := chain.Find(ctx, ground, a.line.From, a.line.To, chain.Options{
		Conditions: a.conditions, EyeAboveGround: observer.EyeAboveGround, VerticalError: g.verticalError, Throughout: r.Throughout,
		Hazards: a.gradient.Steep, Places: withPlaces(nil, r.Places), Far: policy.MarkFar, Dial: a.Bearing.dial,
	})
	if err != nil {
		return err
	}
	w.plan, w.every = plan.Scaled(a.leg.Distance/a.line.Distance), every
	for i := range w.marks {
		w.marks[i].Kept = ontoLeg(a.leg, a.line, w.marks[i].Kept)
	}
	return nil
}

// lookedOver reads the ground that marks of a chain are found on: as far ahead and
// behind as they may stand, to the sides as far as one looks; of finer data every
// so many posts each way.
func (g *Ground) lookedOver(ctx context.Context, leg *profile.Leg) (grid *dem.Grid, every int, err error) {
	reach := math.Min(policy.MarkFar, 2*markReach(leg))
	back, _ := geodesy.Direct(leg.From, leg.Start+180, reach)
	ahead, _ := geodesy.Direct(leg.From, leg.Start, leg.Distance+reach)
	window, err := dem.WindowAround(g.source.Layout(), geodesy.Waypoints(back, ahead, 24), reach*geodesy.Degrees(policy.MarkSector).Tan())
	if err != nil {
		return nil, 0, err
	}
	every = 1
	for window.Columns/every*(window.Rows/every) > policy.MarkPosts {
		every++
	}
	grid, err = dem.ReadEvery(ctx, g.bounded(lookedOverPostBytes), window, every)
	return grid, every, err
}

// lookedOverPostBytes is the memory of a post looked over: its height.
const lookedOverPostBytes = 4

// marksAlong ranks the marks near a leg's bearing, as far as markReach. Only the
// ground that this takes is read; the prominence of summits is told within a
// window that holds the sector and the hills beside it.
func (g *Ground) marksAlong(ctx context.Context, places []Place, leg *profile.Leg, observer visibility.Observer, conditions visibility.Conditions) ([]visibility.Landmark, error) {
	reach := markReach(leg)
	far, _ := geodesy.Direct(leg.From, leg.Start, reach)
	margin := math.Max(2000, reach*2*visibility.DefaultWithin.Sin())
	posts := g.posts(ctx)
	window, err := dem.WindowAround(posts.Layout(), geodesy.Waypoints(leg.From, far, 24), margin)
	if err != nil {
		return nil, err
	}
	summits, err := visibility.SummitsAlong(ctx, posts, window, leg.From, leg.Start, visibility.DefaultWithin, reach, g.prominence())
	if err != nil {
		return nil, err
	}
	behind, err := g.behind(leg.From, reach)
	if err != nil {
		return nil, err
	}
	opts := visibility.LandmarkOptions{Conditions: conditions, Radius: reach, LookTo: behind, Leg: leg, VerticalError: g.verticalError, VisualRange: policy.VisualRange}
	return visibility.Landmarks(ctx, posts, observer, withPlaces(summits, places), opts)
}

// markReach is how far from a leg's start marks are looked for.
func markReach(leg *profile.Leg) float64 {
	return leg.Distance + math.Max(policy.MarkMargin, leg.Distance/2)
}

// landforms are the ground round a leg, thinned, and what to find on it.
type landforms struct {
	grid *dem.Grid
	opts landform.FeatureOptions
}

// readLandforms reads the ground that the landforms a leg crosses are found on.
func (g *Ground) readLandforms(ctx context.Context, leg *profile.Leg, onCompass *drift.Walk) (*landforms, error) {
	opts := landformOptions(leg.Spacing, g.verticalError)
	aside, beyond := landformMargin(opts.Scale, leg, onCompass)
	places := geodesy.Waypoints(leg.From, leg.PlaceAt(leg.Covered), 16)
	if beyond > 0 {
		onward, _ := geodesy.Direct(leg.From, leg.Start, leg.Distance+beyond)
		places = append(places, onward)
	}
	w, err := dem.WindowAround(g.source.Layout(), places, aside)
	if err != nil {
		return nil, err
	}
	grid, err := dem.ReadEvery(ctx, g.bounded(landformPostBytes), w, every(landformPosts(opts), leg.Spacing))
	if err != nil {
		return nil, err
	}
	return &landforms{grid: grid, opts: opts}, nil
}

// pass names the landforms a leg crosses, and finds what they tell a walker.
func (l *landforms) pass(ctx context.Context, ground dem.Posts, a *LegAnswer, w *wayside, onCompass *drift.Walk) error {
	leg := a.leg
	features, err := landform.Features(ctx, l.grid, l.opts)
	if err != nil {
		return err
	}
	if w.ways, err = l.findWays(ctx, ground, a, features, onCompass); err != nil {
		return err
	}
	along, err := profile.Trace(ctx, l.grid, leg.From, leg.PlaceAt(leg.Covered))
	if err != nil {
		return nil // thinned posts may stop a hair short of the leg
	}
	var path []landform.PathPoint
	for _, p := range along.Points {
		path = append(path, landform.PathPoint{Position: landform.Position{Column: p.Column, Row: p.Row}, Distance: p.Distance, Elevation: p.Elevation})
	}
	w.scale, w.rise = l.opts.Scale, l.opts.MinRelief
	list, err := landform.Along(&l.grid.Frame, path, features, landform.AlongOptions{Scale: w.scale, MinRelief: w.rise})
	for _, p := range list {
		by := Passed{AtM: p.Distance, ElevationM: p.Elevation, Kind: p.Kind, Name: p.Name, Filled: along.FilledAt(p.Distance)}
		var top float64
		var topFilled bool
		if p.Feature >= 0 {
			f := features[p.Feature]
			by.Water = f.Level
			top, topFilled = float64(f.Elevation), l.grid.IsFilled(f.Column, f.Row)
			by.Filled = by.Filled || p.Aside == 0 && f.Line == nil && f.Kind != landform.Cliff && topFilled
			if p.Off != 0 {
				at, err := l.grid.Place(p.Nearest.Column, p.Nearest.Row)
				if err != nil {
					return err
				}
				by.Nearest = &NearestPart{p.Off, spot(PlaceAt(at), dem.Bilinear(l.grid, p.Nearest.Column, p.Nearest.Row))}
			}
		}
		if p.Aside != 0 {
			by.Aside = &Aside{p.Aside, top, topFilled}
		}
		if p.Until-p.Distance >= policy.LeastTold {
			by.UntilM = &p.Until
		}
		w.passed = append(w.passed, by)
	}
	return err
}

// describeWayside puts the wayside into the answer: four times the marks asked
// for, since hidden ones are among them, and how sure the first are.
func (a *LegAnswer) describeWayside(ctx context.Context, g *Ground, r LegRequest, observer visibility.Observer, over *cover) error {
	w := a.wayside
	posts := g.posts(ctx)
	field := a.Bearing.magnetic
	marks := []Mark{}
	for i := range w.marks[:min(len(w.marks), 4*r.Marks)] {
		l := &w.marks[i]
		m := mark(i+1, l, field.Field, field.FieldError, true)
		if i < r.Marks && l.Sight.Verdict != visibility.Unknown {
			var err error
			if over != nil {
				conditions := a.conditions
				if l.AboveGround > 0 {
					conditions.TargetAboveGround = l.AboveGround
				}
				if m.OverCover, err = over.look(ctx, posts, l.LookedAt, observer, conditions, l.Sight.Verdict); err != nil {
					return err
				}
			}
			if m.Sight.Likely, err = g.likelyMark(ctx, posts, l, observer, a.conditions); err != nil {
				return err
			}
			m.Why = l.Explain(lengths(units.Metric)) // how sure is part of it
		}
		if g.anyFilled() {
			if err := m.filledMark(ctx, posts, observer, a.conditions); err != nil {
				return err
			}
		}
		marks = append(marks, m)
	}
	a.Marks = &marks
	c := &Chain{Complete: w.plan.Complete(), Hard: w.plan.Hard(), Sightings: w.plan.Sightings, CompassOnlyM: w.plan.CompassOnly, UnguidedM: w.plan.Unguided, PlainM: w.plan.Plain}
	if w.every > 1 {
		c.EveryNthPost = w.every
	}
	for i := range w.plan.Steps {
		s := &w.plan.Steps[i]
		step := Step{Kind: s.Kind, Number: w.plan.Number(i), FromM: s.From, ToM: s.To, Short: s.Short, Plain: s.Plain}
		if s.Mark != nil {
			m := a.lineMark(s.Mark, g.DeadBand())
			step.Mark, step.IfNotFound = &m, s.NotFound(units.Metric, a.DistanceM)
			if view, thing, ok := s.Mark.View(); ok {
				var err error
				if m.Saddle, err = g.saddleOf(ctx, view, thing); err != nil {
					return err
				}
			}
			if degrees := float64(s.Mark.Angle); !math.IsNaN(degrees) {
				step.Angle = &degrees
			}
			step.Lost = plainStretches(s.Mark.Lost)
		}
		if s.Back != nil {
			step.Back = &BackSight{a.lineMark(&s.Back.Mark, g.DeadBand()), s.Back.Share, sightStretches(s.Back.Seen)}
		}
		c.Steps = append(c.Steps, step)
	}
	a.Chain = c
	if over != nil {
		if err := a.lookOver(ctx, g, over, observer); err != nil {
			return err
		}
	}
	passed := append([]Passed{}, w.passed...)
	a.Passed = &passed
	return nil
}

func (a *LegAnswer) lineMark(m *chain.Mark, deadBand float64) LineMark {
	return LineMark{
		Kind: m.Kind, Name: m.Name, Description: m.Describe(units.Metric), AtM: m.Distance, OffsetM: m.Offset, ElevationM: m.Elevation,
		TrueDeg: float64(m.Bearing), DistanceM: m.Away, OffLineDeg: float64(m.Off), Behind: m.Behind, Bare: m.Bare && m.Kind == chain.Destination,
		Plain: m.Bare && a.plainAt(m.Distance, math.Max(policy.PlainRelief, deadBand)),
	}
}

// plainAt reports whether the leg's own ground near a place rises and falls by less
// than so much, metres.
func (a *LegAnswer) plainAt(distance, relief float64) bool {
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range a.leg.Points {
		if math.Abs(p.Distance-distance) <= policy.PlainWithin {
			low, high = math.Min(low, p.Elevation), math.Max(high, p.Elevation)
		}
	}
	return high-low < relief
}

// lookOver looks at each mark of the chain over the cover from where it is
// chosen: the chain itself is made over the bare ground.
func (a *LegAnswer) lookOver(ctx context.Context, g *Ground, over *cover, observer visibility.Observer) error {
	posts := g.posts(ctx)
	for i, s := range a.wayside.plan.Steps {
		if s.Mark == nil {
			continue
		}
		chosen := visibility.Observer{Place: a.line.PlaceAt(a.onLine(s.From)), EyeAboveGround: observer.EyeAboveGround}
		at := s.Mark.Place
		if geodesy.Inverse(chosen.Place, at).Distance < samePlace {
			continue
		}
		seen, err := over.look(ctx, posts, at, chosen, a.conditions, visibility.Visible)
		if err != nil {
			return err
		}
		a.Chain.Steps[i].OverCover = seen
	}
	return nil
}

// onLine is a distance along the leg as one along its line of sight.
func (a *LegAnswer) onLine(distance float64) float64 {
	return distance * a.line.Distance / a.leg.Distance
}
