package waymarks

import (
	"cmp"
	"context"
	"math"
	"slices"
	"time"

	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/profile"
)

// Tick is something to tick off on the way, that can be felt underfoot.
type Tick struct {
	Shape Shape
	Kind  landform.Kind // "" where the leg only turns, or its slope changes
	Name  string
	// Distance along the leg, metres; Paces and Time by Request.Count.
	Distance float64
	Paces    float64
	Time     time.Duration
	// Elevation of the leg's ground, metres.
	Elevation float64
	// Before and After are the slopes on either side of a change of slope,
	// degrees, uphill positive.
	Before, After geodesy.Degrees
	// Throughout: it is met from one edge of the drift to the other. What is not
	// may be missed by someone who keeps the line as well as most.
	Throughout bool
}

// weight ranks what is told first where there is more than one can keep in
// mind: tops, saddles and turns of the leg itself are felt by everyone, a line
// crossed on the way up or down by fewer, a change of slope by fewest.
func (t Tick) weight() int {
	w := 0
	switch {
	case t.Shape == Steepens || t.Shape == Eases:
	case t.Kind == landform.Hill || t.Kind == landform.Saddle || t.Kind == "":
		w = 2
	default:
		w = 1
	}
	if t.Throughout {
		w += 3
	}
	return w
}

// ticks are at most eight, in order.
func (f *finder) ticks(ctx context.Context) ([]Tick, error) {
	leg, err := profile.Trace(ctx, f.Grid, f.From, f.To)
	if err != nil {
		if ctx.Err() != nil {
			return nil, err
		}
		return nil, nil // the start is not on known ground
	}
	var path []landform.PathPoint
	for _, p := range leg.Points {
		path = append(path, landform.PathPoint{Position: landform.Position{Column: p.Column, Row: p.Row}, Distance: p.Distance, Elevation: p.Elevation})
	}
	// voids and all: what lies beyond one is ticked off as well
	l := &lane{to: f.goal, known: leg.Covered, path: path}
	passed, err := landform.Along(&f.Grid.Frame, path, f.Features, f.forms)
	if err != nil {
		return nil, err
	}
	var out []Tick
	for _, p := range passed {
		turn := p.Name == "high point" || p.Name == "low point" // of the leg itself, whatever lies beside it
		if !turn && p.Aside != 0 || p.Kind == landform.Cliff {
			continue // beside the leg, or a hazard and told as one
		}
		if p.Feature >= 0 && (f.Features[p.Feature].Relief < f.forms.MinRelief || f.Features[p.Feature].Level) {
			continue // too small, or water: nobody feels a lake's floor underfoot
		}
		out = append(out, Tick{Shape: l.shapeOf(p, f.forms.Scale/4), Kind: p.Kind, Name: p.Name, Distance: p.Distance, Elevation: p.Elevation})
	}
	for _, e := range l.breaks(f) {
		if !slices.ContainsFunc(out, func(t Tick) bool { return math.Abs(t.Distance-e.distance) < f.forms.Scale/2 }) {
			out = append(out, Tick{Shape: e.shape, Name: e.name, Distance: e.distance, Elevation: e.elevation, Before: e.before, After: e.after})
		}
	}
	// at its ends the leg is where it is
	out = slices.DeleteFunc(out, func(t Tick) bool { return t.Distance < f.on() || t.Distance > f.goal-f.on() })
	slices.SortStableFunc(out, func(a, b Tick) int { return cmp.Compare(a.Distance, b.Distance) })
	out = f.onceEach(out)
	for i := range out {
		if out[i].Throughout, err = f.throughout(ctx, out[i]); err != nil {
			return nil, err
		}
	}
	for len(out) > mostTicks {
		worst := 0
		for i := range out {
			if out[i].weight() < out[worst].weight() || out[i].weight() == out[worst].weight() && f.gap(out, i) < f.gap(out, worst) {
				worst = i
			}
		}
		out = slices.Delete(out, worst, worst+1)
	}
	for i := range out {
		if f.Count != nil {
			out[i].Paces, out[i].Time = f.Count(out[i].Distance)
		}
	}
	return out, nil
}

// onceEach leaves of two crests, or two floors, with nothing between them and
// nearer than half a scale the one where the leg itself turns: a leg over a
// saddle tops out some metres from the crest that it crosses.
func (f *finder) onceEach(ticks []Tick) []Tick {
	var out []Tick
	for _, t := range ticks {
		if n := len(out); n > 0 && out[n-1].Shape == t.Shape && (t.Shape == Crest || t.Shape == Floor) && t.Distance-out[n-1].Distance < f.forms.Scale/2 {
			if t.weight() > out[n-1].weight() {
				out[n-1] = t
			}
			continue
		}
		out = append(out, t)
	}
	return out
}

// gap is how much of the way would be without a tick if one were left out.
func (f *finder) gap(ticks []Tick, i int) float64 {
	before, after := 0.0, f.goal
	if i > 0 {
		before = ticks[i-1].Distance
	}
	if i+1 < len(ticks) {
		after = ticks[i+1].Distance
	}
	return after - before
}

// throughout reports whether a tick is met at both edges of the drift, and
// half way to them.
func (f *finder) throughout(ctx context.Context, t Tick) (bool, error) {
	wide := f.width(t.Distance)
	for _, share := range []float64{-1, -0.5, 0.5, 1} {
		aside := share * wide
		may := slant*math.Abs(aside) + f.on()
		around := may + max(f.forms.Scale, breakReach)
		l, err := f.lane(ctx, aside, t.Distance-around, t.Distance+around)
		if err != nil {
			return false, err
		}
		if !slices.ContainsFunc(l.events, func(e event) bool { return e.shape == t.Shape && math.Abs(e.distance-t.Distance) <= may }) {
			return false, nil
		}
	}
	return true, nil
}
