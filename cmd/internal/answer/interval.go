package answer

import (
	"fmt"

	"crowline/contour"
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
		return wrongf("a contour interval of %g %s: give one from 0.01 m to 10 km", i.Value, i.Unit)
	}
	return nil
}

// choose is the interval of a map of the ground at 1 : scale, or what the one
// asked for is worth. Whatever counts, draws or writes contours asks here, so
// that at one scale they are the same lines.
func (g *Ground) choose(i Interval, scale float64) (contour.Choice, error) {
	return contour.Choose(contour.Question{Scale: scale, VerticalError: g.verticalError, Unit: i.Unit, Interval: i.Value})
}

// countedElsewhere says so where a map of a leg has other lines than leg and
// route count at, and what to do; "" where they are the same.
func (g *Ground) countedElsewhere(l Lines, drawn contour.Choice) string {
	counted, err := g.choose(l.Interval, policy.MapScale)
	if err != nil || counted.Interval == drawn.Interval {
		return ""
	}
	return fmt.Sprintf("leg and route count lines %g %s apart: to count the lines of this map give them --interval %g%s", counted.Interval, counted.Unit, drawn.Interval, drawn.Unit)
}

// reachOfLeg are the places, and the margin, that a leg with its marks needs.
func reachOfLeg(from, to geodesy.LatLon) Reach {
	g := geodesy.Inverse(from, to)
	reach := min(g.Distance+max(policy.MarkMargin, g.Distance/2), maxLeg)
	far, _ := geodesy.Direct(from, g.Start, reach)
	n := 16 + int(reach/10e3)
	return Reach{Places: geodesy.Waypoints(from, far, n), Margin: max(3000, reach/10)}
}
