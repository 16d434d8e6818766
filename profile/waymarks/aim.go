package waymarks

import (
	"context"
	"math"

	"crowline/dem/geodesy"
)

// AimOff is which side of the destination to aim for, and what then. Which side
// is the safer is not looked at: cliffs and steep ground are for the caller to
// hold against it.
type AimOff struct {
	// Side to aim for, by Angle degrees from where Since is, metres along the
	// leg: the last place that is known. Aside is how far beside the destination
	// that aims, metres: the drift's half width.
	Side  Side
	Angle geodesy.Degrees
	Since float64
	Aside float64
	// On is the line of the ground that the destination lies on: a Floor, a
	// Crest, or a change of slope; Name in words.
	On   Shape
	Name string
	// Turn is which way to turn on meeting it, and Within how far the
	// destination is then at most, metres.
	Turn   Side
	Within float64
	// Climb is how much the line rises from where it is met, at the far edge, to
	// the destination, metres; below 0 it falls.
	Climb float64
}

// aimOff is offered where the destination lies on a line of the ground that
// runs across the leg, the drift is wider than the destination is seen from,
// and the line goes on to one side as far as one may come out there: twice the
// drift's half width. Where it does to both sides, the higher is taken, to turn
// downhill; between two as high, the right.
func (f *finder) aimOff(ctx context.Context) (*AimOff, error) {
	wide := f.width(f.goal)
	if !(wide > f.SeenFrom) || wide < f.on() {
		return nil, nil
	}
	own, err := f.lane(ctx, 0, f.goal-2*f.forms.Scale, f.goal+f.forms.Scale)
	if err != nil {
		return nil, err
	}
	var best *AimOff
	for _, e := range own.events {
		if math.Abs(e.distance-f.goal) > f.on() {
			continue
		}
		if !e.line && !((e.shape == Steepens || e.shape == Eases) && e.foot()) {
			continue // where the leg alone tops out is no line; a brow is not met as plainly as a foot
		}
		for _, side := range []Side{Right, Left} {
			height, ok, err := f.follow(ctx, e, side, 2*wide)
			if err != nil {
				return nil, err
			}
			if !ok {
				continue
			}
			since := f.Walk.LastKnown(f.goal)
			a := &AimOff{
				Side: side, Angle: geodesy.Atan2(wide, f.goal-since), Since: since, Aside: wide,
				On: e.shape, Name: e.name, Turn: -side, Within: 2 * wide, Climb: e.elevation - height,
			}
			if better(a, best, f.forms.MinRelief) {
				best = a
			}
		}
		if best != nil {
			break
		}
	}
	return best, nil
}

// better reports whether one turns downhill and the other does not so much.
func better(a, than *AimOff, relief float64) bool {
	return than == nil || a.Climb < than.Climb-relief
}

// follow goes along a line of the ground from the destination to one side, and
// says how high it lies at the end; false where it is lost before.
func (f *finder) follow(ctx context.Context, on event, side Side, far float64) (height float64, ok bool, err error) {
	apart := max(50, f.spacing) // m; a line may lean by slant times that from lane to lane
	at, height := on.distance, on.elevation
	last := 0.0
	for _, aside := range lanesTo(0, far, apart, 3)[1:] {
		may := slant*(aside-last) + f.on()
		l, err := f.lane(ctx, float64(side)*aside, at-may-f.forms.Scale, at+may+f.forms.Scale)
		if err != nil {
			return 0, false, err
		}
		next := math.Inf(1)
		for _, e := range l.events {
			same := e.shape == on.shape && (on.shape == Floor || on.shape == Crest || e.foot() == on.foot())
			if same && math.Abs(e.distance-at) <= may && math.Abs(e.distance-at) < math.Abs(next-at) {
				next, height = e.distance, e.elevation
			}
		}
		if math.IsInf(next, 1) || math.Abs(next-f.goal) > slant*aside+f.on() {
			return 0, false, nil
		}
		at, last = next, aside
	}
	return height, true, nil
}
