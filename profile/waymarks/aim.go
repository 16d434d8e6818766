package waymarks

import (
	"context"
	"math"

	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/profile"
)

// AimOff is which side of the destination to aim for, and what then. A side is
// offered only where there is no cliff and no ground of 30 degrees or more from
// the line to the far edge of the drift about the way so aimed.
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
			hurts, err := f.hazardous(ctx, side, since, 2*wide)
			if err != nil {
				return nil, err
			}
			if hurts {
				continue
			}
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

// hazardLanes is the greatest distance between the lines along which the ground is
// looked over for hazards, metres, where posts are nearer together.
const hazardLanes = 20.0

// hazardous reports whether one who aims to a side, from a place on the leg, may
// come onto steep ground or a cliff: anywhere between the leg and far aside of the
// destination, to the line of the ground that stops them.
func (f *finder) hazardous(ctx context.Context, side Side, since, far float64) (bool, error) {
	to := f.goal + f.on()
	for _, x := range f.Features {
		if x.Kind != landform.Cliff {
			continue
		}
		for _, part := range x.Parts {
			for _, p := range part {
				at, err := f.spotOf(p)
				if err != nil {
					return false, err
				}
				edge := far*(at.along-since)/(f.goal-since) + f.spacing
				if aside := float64(side) * at.aside; at.along >= since && at.along <= to && aside >= -f.spacing && aside <= edge {
					return true, nil
				}
			}
		}
	}
	ground := f.Ground
	if ground == nil {
		ground = f.Grid
	}
	for _, aside := range lanesTo(0, far, max(hazardLanes, f.spacing), 2) {
		leg, err := profile.Trace(ctx, ground, f.placeOf(spot{since, 0}), f.placeOf(spot{to, float64(side) * aside * (to - since) / (f.goal - since)}))
		if err != nil {
			if ctx.Err() != nil {
				return false, err
			}
			return true, nil // ground that nobody knows is none to send anyone to
		}
		if leg.Covered < leg.Distance || leg.Unknown() > 0 || len(leg.Gradient().GroundSteep) > 0 {
			return true, nil
		}
	}
	return false, nil
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
