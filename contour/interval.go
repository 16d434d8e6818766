package contour

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Standard contour intervals, in the unit named. Feet: the intervals of US
// 1:24 000 sheets, and the coarser two of smaller scales, for data that does
// not carry the others (from memory). Metres: common practice.
var (
	StandardMetres = []float64{1, 2, 5, 10, 20, 25, 50, 100}
	StandardFeet   = []float64{5, 10, 20, 40, 80, 100, 200}
)

// LeastGap is the least legible gap between neighbouring contour lines on
// paper, millimetres (Imhof, Cartographic Relief Presentation).
const LeastGap = 0.25

// intervalsPerSigma: the map accuracy standard asks that at most one point
// in ten be off by more than half the interval. Of errors spread normally
// nine in ten are within 1.6449 standard deviations, so the interval is at
// least twice that (US National Map Accuracy Standards, 1947;
// FGDC-STD-007.3-1998).
const intervalsPerSigma = 2 * 1.6449

// SupportedInterval is the finest contour interval, metres, that elevations
// with this standard error, metres, carry under the map accuracy standard.
func SupportedInterval(verticalError float64) float64 { return intervalsPerSigma * verticalError }

// ImhofInterval is the interval, metres, that Imhof's rule gives a map at
// 1 : scale of ground whose steep slopes stand at the given angle in
// degrees (45 in alpine country, 26 in middle mountains, 9 in flat ground):
// n log10(n) tan(angle), n = sqrt(scale/100) + 1. (Imhof, Cartographic
// Relief Presentation, on contour intervals.)
func ImhofInterval(scale, angle float64) float64 {
	n := math.Sqrt(scale/100) + 1
	return n * math.Log10(n) * math.Tan(angle*math.Pi/180)
}

// Question is what Choose is asked. Scale and Steepness are needed.
type Question struct {
	// Scale of the map: 25000 for 1:25 000.
	Scale float64
	// Unit the interval is wanted in.
	Unit Unit
	// Steepness of the ground on the map.
	Steepness Steepness
	// VerticalError is the data's standard error, metres; 0 when unknown.
	VerticalError float64
	// LeastGap is the least gap between lines on paper, millimetres;
	// the package's LeastGap when zero.
	LeastGap float64
	// Interval, when not zero, is the interval the map is to have, in Unit;
	// Choose then only says what it is worth.
	Interval float64
}

// Choice is an interval and the reason for it.
type Choice struct {
	// Interval in Unit.
	Interval float64
	Unit     Unit
	// Reason is one plain sentence.
	Reason string
	// Warning is a sentence a reader of the map must see, or "".
	Warning string
	// Usual is Imhof's interval for the scale and the steep ground, metres.
	// Legible is the least interval that keeps lines LeastGap apart there;
	// Supported the least the data carries, 0 if unknown.
	Usual, Legible, Supported float64
}

// Levels of the choice.
func (c Choice) Levels() Levels { return Levels{Interval: c.Interval, Unit: c.Unit} }

// Choose picks a standard interval as a cartographer would: of those that
// can be read and that the data carries, the one nearest (by ratio) to
// ImhofInterval for ground as steep as nineteen parts in twenty of the map.
// On such ground neighbouring lines then stand at least the least legible
// gap apart, and the interval is at least SupportedInterval. If none is
// coarse enough the coarsest is taken, with a warning. A finer interval than
// that may be asked for, and comes with a warning.
func Choose(q Question) (Choice, error) {
	gap := q.LeastGap
	if gap == 0 {
		gap = LeastGap
	}
	switch {
	case !(q.Scale >= 100 && q.Scale <= 1e7):
		return Choice{}, fmt.Errorf("contour: scale 1:%.0f: it must be between 1:100 and 1:10 000 000", q.Scale)
	case !(gap > 0) || math.IsInf(gap, 0):
		return Choice{}, fmt.Errorf("contour: least gap %g mm: it must be more than zero", gap)
	case q.VerticalError < 0 || math.IsNaN(q.VerticalError):
		return Choice{}, fmt.Errorf("contour: vertical error %g m: it must not be negative", q.VerticalError)
	case q.Interval < 0 || math.IsNaN(q.Interval):
		return Choice{}, fmt.Errorf("contour: interval %g %s: it must be more than zero", q.Interval, q.Unit)
	case q.Interval*q.Unit.Metres() > MostInterval:
		return Choice{}, fmt.Errorf("contour: interval %g %s: it must be at most %g m", q.Interval, q.Unit, MostInterval)
	case q.Steepness.Cells == 0:
		return Choice{}, errors.New("contour: no interval can be chosen: no ground with elevations is on the map")
	}
	standard, unit := q.Unit.standard(), q.Unit.Metres()
	out := Choice{
		Unit:      q.Unit,
		Legible:   q.Steepness.Steep * gap / 1000 * q.Scale,
		Supported: SupportedInterval(q.VerticalError),
	}
	need := max(out.Legible, out.Supported)
	steep := math.Atan(q.Steepness.Steep) * 180 / math.Pi
	out.Usual = ImhofInterval(q.Scale, steep)
	legible := fmt.Sprintf("on slopes of %.0f degrees (95 %% of this ground is gentler), lines at 1:%.0f need %s to stand %g mm apart",
		steep, q.Scale, figure(out.Legible, q.Unit), gap)
	supported := fmt.Sprintf("with heights good to %s, lines less than %s apart would mislead (90 %% within half an interval)",
		figure(q.VerticalError, q.Unit), figure(out.Supported, q.Unit))

	if q.Interval > 0 {
		out.Interval = q.Interval
		out.Reason = fmt.Sprintf("%s %s was asked for", label(q.Interval), q.Unit)
		switch metres := q.Interval * unit; {
		case metres < out.Supported:
			out.Warning = fmt.Sprintf("the %s %s interval is finer than the data supports: %s", label(q.Interval), q.Unit, supported)
		case metres < out.Legible:
			out.Warning = fmt.Sprintf("lines %s %s apart will run together: %s", label(q.Interval), q.Unit, legible)
		}
		return out, nil
	}
	// A hair of tolerance, so that a need of exactly 20 m is met by 20 m.
	const hair = 1 - 1e-9
	first := slices.IndexFunc(standard, func(v float64) bool { return v*unit >= need*hair })
	if first < 0 {
		because := legible
		if out.Supported > out.Legible {
			because = supported
		}
		out.Interval = standard[len(standard)-1]
		out.Reason = fmt.Sprintf("%s %s is the coarsest standard interval", label(out.Interval), q.Unit)
		out.Warning = fmt.Sprintf("the %s %s interval is too fine: %s", label(out.Interval), q.Unit, because)
		return out, nil
	}
	apart := func(v float64) float64 { return math.Abs(math.Log(v * unit / max(out.Usual, 1e-9))) }
	best := first
	for i := first + 1; i < len(standard); i++ {
		if apart(standard[i]) < apart(standard[best]) {
			best = i
		}
	}
	out.Interval = standard[best]
	because := fmt.Sprintf("the standard interval nearest to Imhof's rule, %s for 1:%.0f and slopes of %.0f degrees (95 %% of this ground is gentler)",
		figure(out.Usual, q.Unit), q.Scale, steep)
	if best == first && standard[best]*unit > out.Usual && first > 0 { // the rule alone would have it finer
		because = legible
		if out.Supported > out.Legible {
			because = supported
		}
	}
	out.Reason = fmt.Sprintf("%s %s: %s", label(out.Interval), q.Unit, because)
	return out, nil
}

// standard is the standard intervals in a unit.
func (u Unit) standard() []float64 {
	if u == Foot {
		return StandardFeet
	}
	return StandardMetres
}

// Widen is the choice c made for part of a map's ground, on a map that shows
// the ground whole: the same while its lines can be read there, or else the
// finest standard interval whose lines can. The reason then says so. An
// interval that was asked for in q, the question c answers, stays, and gets a
// warning.
func (c Choice) Widen(q Question, whole Steepness) (Choice, error) {
	asked := q.Interval > 0
	q.Interval, q.Unit, q.Steepness = c.Interval, c.Unit, whole
	here, err := Choose(q)
	if err != nil {
		return Choice{}, err
	}
	unit := c.Unit.Metres()
	if c.Warning != "" || c.Interval*unit >= here.Legible {
		return c, nil
	}
	standard := c.Unit.standard()
	i := slices.IndexFunc(standard, func(v float64) bool { return v*unit >= here.Legible })
	if asked || i < 0 {
		c.Warning = here.Warning
		return c, nil
	}
	c.Reason = fmt.Sprintf("%s %s: %s", label(standard[i]), c.Unit, here.Warning)
	c.Interval, c.Usual, c.Legible = standard[i], here.Usual, here.Legible
	return c, nil
}

// figure writes metres in a unit to two figures or the whole number.
func figure(metres float64, u Unit) string {
	v := metres / u.Metres()
	if v >= 10 || v == 0 {
		return fmt.Sprintf("%.0f %s", v, u)
	}
	return fmt.Sprintf("%.2g %s", v, u)
}
