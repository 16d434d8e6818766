package profile

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// DoglegOptions say when a way round plainly saves climb. The zero value
// takes every default.
type DoglegOptions struct {
	// DeadBand and VerticalError, metres, as in Leg.Climb.
	DeadBand, VerticalError float64
	// MinShare of the straight leg's ascent that must be saved; 0.25 when
	// zero.
	MinShare float64
	// MinSaving is the least ascent saved, metres; 60 when zero, three lines
	// of a 20 m map.
	MinSaving float64
	// MaxDetour is how much longer the way may be, as a share of the straight
	// leg; 0.15 when zero.
	MaxDetour float64
}

// Dogleg is two straight legs that together climb less than one.
type Dogleg struct {
	Waypoint      geodesy.LatLon
	First, Second *Leg
	// Ascent and Descent of both legs, metres: the same is saved of each.
	Ascent, Descent float64
	// Saved of the straight leg's ascent and Extra length, metres.
	Saved, Extra float64
}

// naismithEquivalent is how many metres on the level take as long as a metre
// of ascent: Naismith's 5 km/h against 10 minutes for 100 m.
const naismithEquivalent = 5000.0 / 60 * 10 / 100

// doglegDivisions is how many steps of the first search the straight leg is
// long, and doglegRefinements how often the step is halved about the best.
const (
	doglegDivisions   = 24
	doglegRefinements = 3
)

// FindDogleg looks for one waypoint that saves climb plainly, or returns nil
// when there is none. A waypoint serves when the two straight legs through it
//
//   - climb less than the straight leg by MinShare of its ascent or more, and
//     by MinSaving or more, and by more than twice the error of its ascent
//     (one standard deviation, from VerticalError);
//   - are longer by MaxDetour of it or less;
//   - have data all along;
//   - cross no more ground of SteepLimit or over than the straight leg does; and
//   - have no stretch over WalkingLimit: nobody walks there.
//
// Of those that serve, the one soonest walked is given: least length and
// 8.33 times ascent (Naismith). Waypoints are tried on a square grid over the
// ellipse of ways short enough, its step a 24th of the leg and no less than
// the spacing of the posts; then about the best at half, a quarter and an
// eighth of that step. The search is the same every time; it finds no gap
// narrower than its step but by chance. Some 340 pairs of legs are traced.
func FindDogleg(ctx context.Context, posts dem.Posts, leg *Leg, o DoglegOptions) (*Dogleg, error) {
	for name, v := range map[string]*float64{"least share": &o.MinShare, "least saving": &o.MinSaving, "longest detour": &o.MaxDetour} {
		if *v < 0 || math.IsNaN(*v) || math.IsInf(*v, 0) {
			return nil, fmt.Errorf("profile: dog-leg: the %s is %v", name, *v)
		}
	}
	if o.MinShare == 0 {
		o.MinShare = 0.25
	}
	if o.MinSaving == 0 {
		o.MinSaving = 60
	}
	if o.MaxDetour == 0 {
		o.MaxDetour = 0.15
	}
	if leg.Unknown() > 0 {
		return nil, nil // what the straight leg climbs is not known
	}
	s := doglegSearch{posts: posts, leg: leg, options: o, straight: leg.Climb(o.DeadBand, o.VerticalError)}
	s.steep = steepLength(leg)
	s.most = s.straight.Ascent - max(o.MinShare*s.straight.Ascent, o.MinSaving, 2*s.straight.Error)
	if s.most < 0 {
		return nil, nil
	}
	s.best = math.Inf(1)
	middle := leg.PlaceAt(leg.Distance / 2)
	plane := geodesy.NewPlane(middle)
	bearing := geodesy.Inverse(middle, leg.To).Start
	sin, cos := geodesy.Degrees(bearing).SinCos()
	try := func(along, across float64) error {
		return s.try(ctx, plane.Inverse(along*sin+across*cos, along*cos-across*sin), along, across)
	}
	step := max(leg.Distance/doglegDivisions, leg.Spacing)
	long := leg.Distance * (1 + o.MaxDetour) / 2
	wide := math.Sqrt(long*long - leg.Distance*leg.Distance/4)
	for i := -int(long / step); i <= int(long/step); i++ {
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("profile: dog-leg: %w", err)
		}
		for j := -int(wide / step); j <= int(wide/step); j++ {
			if err := try(float64(i)*step, float64(j)*step); err != nil {
				return nil, err
			}
		}
	}
	for range doglegRefinements {
		if s.found == nil {
			return nil, nil
		}
		step /= 2
		along, across := s.along, s.across
		for i := -1; i <= 1; i++ {
			for j := -1; j <= 1; j++ {
				if i == 0 && j == 0 {
					continue
				}
				if err := try(along+float64(i)*step, across+float64(j)*step); err != nil {
					return nil, err
				}
			}
		}
	}
	return s.found, nil
}

// doglegSearch holds the best waypoint yet.
type doglegSearch struct {
	posts    dem.Posts
	leg      *Leg
	options  DoglegOptions
	straight Climb
	steep    float64 // metres of it over SteepLimit
	most     float64 // ascent allowed, metres

	best          float64
	along, across float64
	found         *Dogleg
}

func (s *doglegSearch) try(ctx context.Context, w geodesy.LatLon, along, across float64) error {
	// no nearer to an end than a post: that is the straight leg
	first, second := geodesy.Inverse(s.leg.From, w).Distance, geodesy.Inverse(w, s.leg.To).Distance
	length := first + second
	if min(first, second) < s.leg.Spacing || length > s.leg.Distance*(1+s.options.MaxDetour) || length >= s.best {
		return nil
	}
	a, err := s.trace(ctx, s.leg.From, w)
	if a == nil || err != nil {
		return err
	}
	climb := a.Climb(s.options.DeadBand, s.options.VerticalError)
	if climb.Ascent > s.most {
		return nil
	}
	b, err := s.trace(ctx, w, s.leg.To)
	if b == nil || err != nil {
		return err
	}
	onward := b.Climb(s.options.DeadBand, s.options.VerticalError)
	ascent := climb.Ascent + onward.Ascent
	cost := length + naismithEquivalent*ascent
	if ascent > s.most || cost >= s.best || !a.walkable() || !b.walkable() || steepLength(a)+steepLength(b) > s.steep {
		return nil
	}
	s.best, s.along, s.across = cost, along, across
	s.found = &Dogleg{
		Waypoint: w, First: a, Second: b, Ascent: ascent, Descent: climb.Descent + onward.Descent,
		Saved: s.straight.Ascent - ascent, Extra: length - s.leg.Distance,
	}
	return nil
}

// trace is nil where the data does not reach all along.
func (s *doglegSearch) trace(ctx context.Context, from, to geodesy.LatLon) (*Leg, error) {
	l, err := Trace(ctx, s.posts, from, to)
	switch {
	case ctx.Err() != nil:
		return nil, fmt.Errorf("profile: dog-leg: %w", ctx.Err())
	case errors.Is(err, dem.ErrOutside), errors.Is(err, dem.ErrVoid):
		return nil, nil
	case err != nil:
		return nil, err
	case l.Unknown() > 0:
		return nil, nil
	}
	return l, nil
}

// walkable reports whether no piece of the leg is over WalkingLimit.
func (l *Leg) walkable() bool {
	return !slices.ContainsFunc(l.Pieces(), func(p Piece) bool { return p.steepness() > WalkingLimit })
}

func steepLength(l *Leg) float64 {
	sum := 0.0
	for _, s := range l.Gradient().GroundSteep {
		sum += s.To - s.From
	}
	return sum
}
