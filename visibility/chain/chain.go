package chain

import (
	"context"
	"fmt"
	"math"
	"slices"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/profile"
	"crowline/visibility"
	"crowline/visibility/scene"
)

// Defaults of Options.
const (
	// DefaultWithin is a fist and a half at arm's length: see the package's
	// comment.
	DefaultWithin geodesy.Degrees = 15
	// DefaultMostLost is how long, metres, a mark may be out of sight, and how
	// long a stretch on the compass may be that costs nothing: at 2 degrees one
	// strays there by 34 m, 19 times in 20 (a choice, not a published figure).
	DefaultMostLost = 500.0
	// DefaultFar is how far off, metres, a mark may stand: what is seen in
	// ordinary air (common practice).
	DefaultFar = 20000.0
)

// CompassError is what a bearing is read and walked to, degrees, one standard
// deviation (common practice); surely is how many of those hold 19 times in 20.
const (
	CompassError geodesy.Degrees = 2
	surely                       = 1.96
)

// LeastLikely is how likely a mark must be to be seen, where the data's error is
// known.
const LeastLikely = 0.75

// Lengths, metres.
const (
	every = 100.0 // between places where a mark may be chosen or left
	// leastLed is how far a mark other than the goal must lead to be worth a
	// sighting: less cuts a walk on the compass in pieces and no more (a choice).
	leastLed = 400.0
	// leastGoal is how far the goal must lead: what is seen nearer one comes to.
	leastGoal = 200.0
	// blink is the shortest loss of sight that a walker notices.
	blink = 10.0
	// leastLost is the shortest loss of sight that is told, and a shorter sight
	// between two losses makes one of them.
	leastLost = 100.0
)

// mostPlaces bounds how many places along the line are looked from: on a longer
// leg they stand farther apart.
const mostPlaces = 200

// Kind is what a mark is: scene's kinds, and the two ends of the leg.
type Kind = scene.Kind

// Kinds beside those of things in view.
const (
	Destination Kind = "destination"
	Start       Kind = "start"
)

// Options are the options of Find.
type Options struct {
	// Conditions of sight. TargetAboveGround is the goal's.
	Conditions visibility.Conditions
	// EyeAboveGround is the walker's, metres.
	EyeAboveGround float64
	// VerticalError is one standard deviation of the data's heights, metres; 0
	// where it is not known.
	VerticalError float64
	// Throughout: a mark must be in sight all the way.
	Throughout bool
	// Hazards are stretches along the line beside which no mark may be lost.
	Hazards []profile.Stretch
	// Places are the user's own, with the height of what stands there.
	Places []visibility.Candidate
	// Within the line, degrees, a mark stands. Zero means DefaultWithin.
	Within geodesy.Degrees
	// MostLost, metres: zero means DefaultMostLost.
	MostLost float64
	// Far, metres: zero means DefaultFar.
	Far float64
	// Dial writes a bearing as scene.View.Dial does.
	Dial func(geodesy.TrueBearing) string
	// Concurrency is how many cores to use; zero means all. The answer does not
	// depend on it.
	Concurrency int
}

func (o *Options) defaults() error {
	if o.Within == 0 {
		o.Within = DefaultWithin
	}
	if o.MostLost == 0 {
		o.MostLost = DefaultMostLost
	}
	if o.Far == 0 {
		o.Far = DefaultFar
	}
	if o.Dial == nil {
		o.Dial = func(b geodesy.TrueBearing) string { return "true bearing " + units.Dial(float64(b)) }
	}
	switch {
	case !(o.Within > 0 && o.Within <= mostWithin):
		return fmt.Errorf("marks within %g degrees of the line: it is over 0 and up to %g", float64(o.Within), float64(mostWithin))
	case !(o.MostLost >= 0 && o.Far > 0 && o.EyeAboveGround >= 0 && o.VerticalError >= 0):
		return fmt.Errorf("most lost %g m, far %g m, eye %g m or vertical error %g m: none is below 0", o.MostLost, o.Far, o.EyeAboveGround, o.VerticalError)
	}
	return nil
}

// mostWithin, degrees, leaves room in what is looked over, beside a mark, for what
// its words tell it from.
const mostWithin = 18

// Mark is what is sighted.
type Mark struct {
	Kind Kind
	Name string // the user's
	// Distance from the leg's start, metres, along the line: over the leg's own
	// beyond its destination, below 0 behind its start. The mark is abeam there,
	// Offset metres to the right (negative to the left).
	Distance, Offset float64
	// Elevation of its ground, metres.
	Elevation float64
	// AboveGround is how high what stands there is, metres.
	AboveGround float64
	Place       geodesy.LatLon
	// Away is how far off it is where it is chosen, metres, on Bearing, Off
	// degrees to the right of the line, or of the line back if it stands Behind,
	// and Angle above the level of the eye.
	Away    float64
	Bearing geodesy.TrueBearing
	Off     geodesy.Degrees
	Angle   geodesy.Degrees
	Behind  bool
	// Lost are the stretches, 50 m or longer, over which it is out of sight while
	// it is walked on.
	Lost []profile.Stretch
	// Bare: a goal at which nothing stands out. Its place is told by the line
	// and the distance.
	Bare bool
	// Likelihood of its being seen; nil where the data's error is not known.
	Likelihood *visibility.Likelihood

	view  *scene.View
	thing *scene.Thing // nil for a bare goal and a start
	over  *scene.Thing // what stands on the line over a bare goal
}

// View is what is in sight from where the mark is chosen, and Thing what it is
// there; ok is false where nothing recognisable stands at a goal.
func (m *Mark) View() (view *scene.View, thing scene.Thing, ok bool) {
	if m.thing == nil {
		return m.view, scene.Thing{}, false
	}
	return m.view, *m.thing, true
}

// StepKind is how a walker keeps the line over one step.
type StepKind uint8

const (
	// Sighted: on a mark.
	Sighted StepKind = iota
	// CompassOnly: on the compass alone.
	CompassOnly
)

// String is "sighted" or "compass only".
func (k StepKind) String() string { return [...]string{"sighted", "compass only"}[min(k, CompassOnly)] }

// MarshalText writes the word String gives.
func (k StepKind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// Step is one piece of a Plan, From and To metres from the start.
type Step struct {
	Kind     StepKind
	From, To float64
	// Line is the true bearing to walk, from here to the destination, and Dial how
	// Options writes it.
	Line geodesy.TrueBearing
	Dial string
	// Mark is what a Sighted step is walked on; nil on CompassOnly.
	Mark *Mark
	// Back is what to look back at: on CompassOnly what keeps the line best, on
	// Sighted what to go by where the mark is not found. Nil for nothing.
	Back *BackSight
	// Short is true of a CompassOnly step that is no longer than allowed.
	Short bool
	// Plain is true of a CompassOnly step, not a short one, from most of which the
	// ground ahead is seen far off and nothing on it stands out.
	Plain bool
}

// BackSight is a mark behind a walker.
type BackSight struct {
	Mark Mark
	// Seen are the stretches of the step from which it is seen; Share is
	// their share of the step.
	Seen  []visibility.Stretch
	Share float64
}

// Plan takes a walker along a leg.
type Plan struct {
	Steps []Step
	// Sightings is how many steps are Sighted.
	Sightings int
	// CompassOnly is the length walked on the compass alone, metres, Unguided
	// that of its stretches longer than allowed, and Plain that of those of them
	// that are Plain.
	CompassOnly, Unguided, Plain float64
}

// Scaled is the plan with every length along the line times share: the plan of a leg
// whose line of sight, between looking points, is some metres longer or shorter.
// Places where a mark is chosen or left stay at whole tens of metres.
func (p Plan) Scaled(share float64) Plan {
	if share == 1 || len(p.Steps) == 0 {
		return p
	}
	end := p.Steps[len(p.Steps)-1].To
	place := func(x float64) float64 {
		if x == end {
			return x * share
		}
		return 10 * math.Round(x*share/10)
	}
	scaled := func(m Mark) Mark {
		m.Distance *= share
		m.Lost = slices.Clone(m.Lost)
		for i, l := range m.Lost {
			m.Lost[i] = profile.Stretch{From: l.From * share, To: l.To * share}
		}
		return m
	}
	steps := make([]Step, len(p.Steps))
	for i, s := range p.Steps {
		s.From, s.To = place(s.From), place(s.To)
		if s.Mark != nil {
			m := scaled(*s.Mark)
			s.Mark = &m
		}
		if s.Back != nil {
			back := *s.Back
			back.Mark = scaled(back.Mark)
			back.Seen = nil
			for _, v := range s.Back.Seen {
				back.Seen = append(back.Seen, visibility.Stretch{From: v.From * share, To: v.To * share, Verdict: v.Verdict})
			}
			s.Back = &back
		}
		steps[i] = s
	}
	p.Steps = steps
	p.sum()
	return p
}

// sum adds up what the steps are.
func (p *Plan) sum() {
	p.Sightings, p.CompassOnly, p.Unguided, p.Plain = 0, 0, 0, 0
	for _, s := range p.Steps {
		length := s.To - s.From
		switch {
		case s.Kind == Sighted:
			p.Sightings++
			continue
		case s.Plain:
			p.Plain += length
		}
		p.CompassOnly += length
		if !s.Short {
			p.Unguided += length
		}
	}
}

// Number is that of a step among the sightings, from 1; 0 for one on the compass.
func (p Plan) Number(step int) int {
	if p.Steps[step].Kind != Sighted {
		return 0
	}
	n := 0
	for _, s := range p.Steps[:step+1] {
		if s.Kind == Sighted {
			n++
		}
	}
	return n
}

// Complete reports whether marks lead all the way, but for stretches on the
// compass that are short enough.
func (p Plan) Complete() bool { return p.Unguided == 0 }

// Hard reports whether a leg so led is hard to lead by marks: over a quarter
// of it is walked on the compass alone, or it takes five sightings or more
// and more than one a kilometre (a choice, not a published rule).
func (p Plan) Hard() bool {
	if len(p.Steps) == 0 {
		return false
	}
	length := p.Steps[len(p.Steps)-1].To
	return p.Unguided > length/4 || p.Sightings >= 5 && float64(p.Sightings) > length/1000
}

// Find finds the sightings that lead along the straight leg between two places.
// g is the ground, as far round the leg as marks are to be found. It must not
// change meanwhile. The error wraps dem.ErrVoid or dem.ErrOutside where the leg
// starts on no known ground, and is ctx's when it ends first.
func Find(ctx context.Context, g *dem.Grid, from, to geodesy.LatLon, opts Options) (Plan, error) {
	c, err := newCourse(ctx, g, from, to, opts)
	if err == nil {
		var plan Plan
		if plan, err = c.find(ctx); err == nil {
			return plan, nil
		}
	}
	return Plan{}, fmt.Errorf("chain of sightings: %w", err)
}

// allowed is how long, metres, a stretch on the compass may be before a mark that
// is recognised from a distance.
func (o *Options) allowed(distance float64) float64 {
	return math.Min(o.MostLost, distance/2/Drift(1))
}

// Drift is how far to either side one may stray, metres, 19 times in 20, over a
// length walked on the compass.
func Drift(length float64) float64 { return surely * CompassError.Tan() * length }
