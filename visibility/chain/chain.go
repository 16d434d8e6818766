package chain

import (
	"context"
	"fmt"

	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/visibility"
)

// DefaultLeastSighting is how far ahead, metres, a mark must stand to be
// worth a sighting, and how far one walks on the compass without missing
// one: at a bearing held to 2 degrees, 200 m stray by 7 m. (The ground just
// ahead is always in sight; going from one bit of it to the next is walking
// on the compass.)
const DefaultLeastSighting = 200.0

// DefaultLeastRelief is how far the line must fall on both sides of a crest,
// or rise on both sides of a low point, metres, for a walker to know it by
// eye: some three times a person's height (a choice, not a published figure).
// Where the data's error is larger it should be that.
const DefaultLeastRelief = 5.0

// DefaultBesideLine is how far beside the line a landmark may stand, metres,
// and be walked up to: a hundred metres is the length walkers learn to judge
// by eye (common practice).
const DefaultBesideLine = 100.0

// StandWithin is how far to either side of a mark on the line, metres along
// it, the ground must rise or fall for the mark to stand up: what lies
// farther off is another part of the view (a choice, not a published figure).
const StandWithin = 250.0

// LeastLook is the least angle that the height of a mark on the line must
// look for a walker to know it: 5 arc-minutes, the height of the smallest
// letter that normal sight reads (Snellen, Optotypi, 1862). 10 m look so high
// from 6.9 km.
const LeastLook geodesy.Degrees = 5.0 / 60

// Kind is what a mark on a line is. The kinds stand in order of how well
// a walker knows one when seeing it, the worst first.
type Kind uint8

const (
	// Ground is a place on a slope, with nothing to tell it by but how it
	// lies to what is near: see Mark.Near.
	Ground Kind = iota
	// Low is a low point of the line: the bottom of a draw or a valley.
	Low
	// Brow is ground that is no crest but looks like one from where it is
	// chosen: the ground beyond drops out of sight behind it, by the least
	// relief or more before it comes back.
	Brow
	// Crest is a high point of the line.
	Crest
	// Destination is the leg's end.
	Destination
	// Landmark is a mark the caller gave.
	Landmark
	// Start is the leg's start, for sights back.
	Start
)

// String is "ground", "low point", "brow", "crest", "destination", "landmark"
// or "start".
func (k Kind) String() string {
	return [...]string{"ground", "low point", "brow", "crest", "destination", "landmark", "start"}[min(k, Start)]
}

// MarshalText writes the word String gives.
func (k Kind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// Mark is a mark on or beside a leg's line.
type Mark struct {
	Kind Kind
	Name string // a landmark's
	// Distance from the leg's start, metres, along the line; over the leg's
	// own beyond its destination, below 0 behind its start. A mark beside the
	// line is abeam there, Offset metres to the right (negative to the left).
	Distance, Offset float64
	// Elevation of its ground, metres.
	Elevation float64
	// Near is how a place on a slope lies to a point of the line that can be
	// told by eye; nil for other kinds, and where no such point is known.
	Near *Relation
	// Plain is true of a start or a destination whose ground does not stand up
	// (see Find) to the walker who would sight it: it can be known only by
	// something that stands there.
	Plain bool
}

// Relation is how a place on a slope lies to the end of that slope: to the
// crest or low point of the line, or the destination, next before or next
// after it, or to the start where none is before. Of the two it is one in
// view, or walked over already; else the start; else one that is not; of
// equals the nearer.
type Relation struct {
	Kind Kind // Crest, Low, Start or Destination
	// Distance of the point from the leg's start, and its ground's Elevation,
	// metres.
	Distance, Elevation float64
	// Past is how far beyond the point, along the line, the place lies, metres;
	// below 0 when it is short of it. Above is how much higher it stands.
	Past, Above float64
	// InView: the point is seen from where the mark is chosen, or lies behind.
	InView bool
}

// Offer is a landmark offered to a chain: where it stands and from where
// on the leg it is seen (see visibility.KeptInView).
type Offer struct {
	Mark
	// AboveGround is how high its top stands over its ground, metres; with 0
	// the conditions' TargetAboveGround holds.
	AboveGround float64
	Seen        []visibility.Stretch
}

// Offers are landmarks, looked at with visibility.LandmarkOptions.Leg, as a
// chain along the line between the looking points of that leg's ends takes them
// (visibility.LookingLine).
func Offers(leg *profile.Leg, marks []visibility.Landmark) []Offer {
	var out []Offer
	for _, m := range marks {
		if m.Kept == nil {
			continue
		}
		to := geodesy.Inverse(leg.From, m.LookedAt)
		sin, cos := geodesy.Difference(leg.Start, to.Start).SinCos()
		out = append(out, Offer{
			Mark:        Mark{Kind: Landmark, Name: m.Name, Distance: to.Distance * cos, Offset: to.Distance * sin, Elevation: m.Elevation},
			AboveGround: m.AboveGround, Seen: m.Kept,
		})
	}
	return out
}

// Options are the options of Find.
type Options struct {
	// SeenWhenChosen is enough: a mark need be seen only from where it is
	// chosen, not throughout the walk to it.
	SeenWhenChosen bool
	// LeastSighting is how far ahead a mark must stand, metres, though the
	// destination may be nearer, and how far a landmark must lead if not to
	// the destination; and a stretch on the compass no longer than
	// this, between sightings, is no loss. Zero means DefaultLeastSighting.
	LeastSighting float64
	// Beyond is the same line carried on past the destination, whose ground
	// there may then serve as marks; nil for none.
	Beyond *profile.Leg
	// Marks may be off the line. One is chosen where it bears within Within of
	// the line's own direction. It is left when it no longer does; or, if it
	// stands beside the leg, no farther than BesideLine to the side, when the
	// walker is abeam of it, passing it at that distance.
	Marks []Offer
	// Within: zero means visibility.DefaultWithin.
	Within geodesy.Degrees
	// BesideLine, metres: zero means DefaultBesideLine.
	BesideLine float64
	// LeastRelief is the least rise and fall that makes a crest or a low
	// point of the line, the least drop behind a brow, and the least height
	// that a mark on the line stands up by, metres. Zero means
	// DefaultLeastRelief.
	LeastRelief float64
}

// StepKind is how a walker keeps the line over one step.
type StepKind uint8

const (
	// Sighted: on a mark ahead.
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
	// Mark is what a Sighted step is walked on; nil on CompassOnly.
	Mark *Mark
	// Angle is the mark's elevation angle from where it is chosen, refraction
	// included; NaN for a landmark of unknown elevation and on CompassOnly.
	Angle geodesy.Degrees
	// Back is what to sight behind on CompassOnly; nil when nothing is seen.
	Back *BackSight
	// Short is true of a CompassOnly step no longer than the least sighting.
	Short bool
	// Plain is true of a CompassOnly step, not a short one, over most of which
	// ground far enough ahead does stay in view, but none that stands up.
	Plain bool
	// Reason says in a sentence why, in metres and kilometres.
	Reason string
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
	// that of its stretches longer than the least sighting, and Plain that of
	// those of them that are Plain.
	CompassOnly, Unguided, Plain float64
}

// Scaled is the plan with every length along the line times share: the plan of
// a leg whose line of sight, between looking points, is some metres longer or
// shorter. Reason keeps its figures.
func (p Plan) Scaled(share float64) Plan {
	if share == 1 {
		return p
	}
	p.CompassOnly, p.Unguided, p.Plain = p.CompassOnly*share, p.Unguided*share, p.Plain*share
	scaled := func(m Mark) Mark {
		m.Distance *= share
		if m.Near != nil {
			near := *m.Near
			near.Distance, near.Past = near.Distance*share, near.Past*share
			m.Near = &near
		}
		return m
	}
	steps := make([]Step, len(p.Steps))
	for i, s := range p.Steps {
		s.From, s.To = s.From*share, s.To*share
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
	return p
}

// Complete reports whether marks ahead lead all the way, but for stretches
// on the compass shorter than the least sighting.
func (p Plan) Complete() bool { return p.Unguided == 0 }

// Hard reports whether a leg so led is hard to lead by marks: over a tenth
// of it is walked on the compass alone, or it takes five sightings or more
// and more than one a kilometre (a choice, not a published rule).
func (p Plan) Hard() bool {
	if len(p.Steps) == 0 {
		return false
	}
	length := p.Steps[len(p.Steps)-1].To
	return p.Unguided > length/10 || p.Sightings >= 5 && float64(p.Sightings) > length/1000
}

// Find finds the sightings that take a walker from a leg's start to its
// destination. A mark is ground of the line, at a crossing of the profile,
// that stands up, or the destination, or one of the marks given. Ground stands
// up where the line within StandWithin of it rises or falls by the least
// relief or more, and that height looks LeastLook or more from where the mark
// is chosen: on a plain, and on ground that is all but one, the farthest place
// in view cannot be told from those beside it. The walker chooses one that is seen, walks to
// it, or till the destination is reached, or till a mark off the line no
// longer bears along it or is abeam, and chooses the next.
//
// Of all ways it gives the first in this order:
//
//  1. the least length in stretches on the compass alone that are longer
//     than the least sighting;
//  2. the fewest sightings;
//  3. the marks that are known best when seen: the fewest that are plain
//     slope; then the fewest low points; then the fewest brows; then the
//     fewest crests; then the destination for a landmark;
//  4. the least length on the compass in all;
//  5. step by step from the start: the one that goes on a mark, goes
//     farthest, has the better kind of mark, then the farther mark, then the
//     one nearest the line.
//
// The answer is exact on the profile, in the plane of sight, where ground and
// sight lines are straight: where all ground stands up, no mark between
// crossings can do better in the first two, for along an edge that rises into
// sight the far end is seen whenever any of it is; and crests, low points and
// brows are crossings.
//
// Positions are whole micrometres. Ground that is not known is walked on the
// compass, and hides what is beyond. Cost: for n crossings, n times those in
// sight of each other.
func Find(ctx context.Context, leg *profile.Leg, o visibility.Observer, conditions visibility.Conditions, opts Options) (Plan, error) {
	l, err := newLine(leg, o, conditions, opts)
	if err != nil {
		return Plan{}, err
	}
	if err := l.findUses(ctx); err != nil {
		return Plan{}, fmt.Errorf("chain of sightings: %w", err)
	}
	moves, err := l.best(ctx)
	if err != nil {
		return Plan{}, fmt.Errorf("chain of sightings: %w", err)
	}
	return l.plan(moves), nil
}
