package answer

import (
	"context"
	"fmt"

	"crowline/contour"
	"crowline/dem"
	"crowline/dem/geodesy"
)

// Interval is a contour interval asked for; the zero value has one chosen.
type Interval struct {
	// Value in Unit; 0 has one chosen, in Unit.
	Value float64
	Unit  contour.Unit
}

// leastInterval and mostInterval, metres, bound an interval: heights are stored
// to a centimetre at the finest, and no ground rises over 10 km.
const (
	leastInterval = 0.01
	mostInterval  = 10e3
)

// Check refuses an interval that no map has.
func (i Interval) Check() error {
	if m := i.Value * i.Unit.Metres(); i.Value != 0 && !(m >= leastInterval && m <= mostInterval) {
		return wrongf("a contour interval of %g %s: it is from 0.01 m to 10 km", i.Value, i.Unit)
	}
	return nil
}

// question is what is asked of the choice of an interval, for ground whose
// steepness is yet to be filled in.
func (i Interval) question(scale, verticalError float64) contour.Question {
	return contour.Question{Scale: scale, VerticalError: verticalError, Unit: i.Unit, Interval: i.Value}
}

// intervalMargin is how far from a leg, metres, the ground bears on the
// interval of its map: as far as landforms are looked for, so that little more
// is read for it.
func intervalMargin() float64 { return 2 * policy.LandformScale }

// chooseInterval picks the contour interval for the ground along legs, or says
// what the one asked for is worth there. Whatever counts, draws or writes the
// contours of a leg asks here, so that at one scale they are the same lines.
// places lie on the legs, close enough that the box round them holds all.
func (g *Ground) chooseInterval(ctx context.Context, q contour.Question, places []geodesy.LatLon) (contour.Choice, error) {
	w, err := dem.WindowAround(g.source.Layout(), places, intervalMargin())
	if err != nil {
		return contour.Choice{}, err
	}
	if q.Steepness, err = contour.SampleSteepness(ctx, g.source, w); err != nil {
		return contour.Choice{}, err
	}
	if q.Steepness.Cells > 0 {
		return contour.Choose(q)
	}
	// no cell with an elevation at every corner: there is no contour either
	choice := contour.Choice{Interval: q.Interval, Unit: q.Unit, Supported: contour.SupportedInterval(q.VerticalError),
		Reason: "too little of the ground is known to choose by"}
	if q.Interval == 0 {
		choice.Interval = map[contour.Unit]float64{contour.Metre: 20, contour.Foot: 40}[q.Unit]
	}
	return choice, nil
}

// chooseMap is the interval of a map with this much ground on it: that of a
// leg, by places on it, as chooseInterval has it, while its lines can be read
// on all of the map, and else a coarser one, said to be so.
func (g *Ground) chooseMap(ctx context.Context, q contour.Question, leg []geodesy.LatLon, whole contour.Steepness) (contour.Choice, error) {
	if leg == nil {
		q.Steepness = whole
		return contour.Choose(q)
	}
	own, err := g.chooseInterval(ctx, q, leg)
	if err != nil {
		return own, err
	}
	choice, err := own.Widen(q, whole)
	if err == nil && choice.Interval != own.Interval {
		choice.Warning = fmt.Sprintf("the leg command counts this leg at %g %s: to count the lines here give it --interval %g%s", own.Interval, own.Unit, choice.Interval, choice.Unit)
	}
	return choice, err
}

// alongLegs are places on the legs from each place to the next.
func alongLegs(turns ...geodesy.LatLon) []geodesy.LatLon {
	var out []geodesy.LatLon
	for i := 1; i < len(turns); i++ {
		out = append(out, geodesy.Waypoints(turns[i-1], turns[i], 16)...)
	}
	return out
}

// reachOfLeg are the places, and the margin, that a leg with its marks needs.
func reachOfLeg(from, to geodesy.LatLon) Reach {
	g := geodesy.Inverse(from, to)
	reach := min(g.Distance+max(policy.MarkMargin, g.Distance/2), maxLeg)
	far, _ := geodesy.Direct(from, g.Start, reach)
	n := 16 + int(reach/10e3)
	return Reach{Places: geodesy.Waypoints(from, far, n), Margin: max(3000, reach/10)}
}
