package contour

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Standard contour intervals, in the unit named. Metres: common practice.
// Feet: the intervals of US sheets (from memory).
var (
	StandardMetres = []float64{1, 2, 5, 10, 20, 25, 50, 100, 200, 500}
	StandardFeet   = []float64{5, 10, 20, 40, 80, 100, 200, 500, 1000}
)

// usual is the interval of maps at scales as large as 1 : scale, and not so
// large as the row before.
type usual struct{ scale, interval float64 }

// The intervals that maps have by their scale: common practice, from memory. It
// is one interval for all maps of a scale, as walkers know it from the map in
// hand, and not one for each kind of ground: hills and mountains of one sheet,
// and two legs over them, are counted alike.
var (
	usualMetres = []usual{{2500, 1}, {5000, 2}, {15000, 5}, {25000, 10}, {65000, 20}, {100e3, 50}, {250e3, 100}, {500e3, 200}, {math.Inf(1), 500}}
	usualFeet   = []usual{{3000, 5}, {6000, 10}, {12500, 20}, {25000, 40}, {65000, 80}, {125e3, 100}, {250e3, 200}, {500e3, 500}, {math.Inf(1), 1000}}
)

// UsualInterval is the contour interval, in the unit, that maps at 1 : scale
// have: 10 m and 40 ft at 1:25 000, 20 m and 80 ft at 1:50 000 (common
// practice).
func UsualInterval(scale float64, u Unit) float64 {
	table := usualMetres
	if u == Foot {
		table = usualFeet
	}
	for _, row := range table {
		if scale <= row.scale {
			return row.interval
		}
	}
	return table[len(table)-1].interval
}

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

// Question is what Choose is asked. Scale is needed.
type Question struct {
	// Scale of the map: 25000 for 1:25 000.
	Scale float64
	// Unit the interval is wanted in.
	Unit Unit
	// VerticalError is the data's standard error, metres; 0 when unknown.
	VerticalError float64
	// Interval, when not zero, is that of the map in hand, in Unit; Choose then
	// only says what it is worth.
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
	// Supported is the least interval the data carries, metres; 0 if unknown.
	Supported float64

	scale float64
}

// Levels of the choice.
func (c Choice) Levels() Levels { return Levels{Interval: c.Interval, Unit: c.Unit} }

// Choose is the one answer to which interval a map has. It is UsualInterval's,
// or, where the data does not carry that, the finest standard interval that is
// at least SupportedInterval; where none is, the coarsest, with a warning. The
// ground has no say: every leg, card and map of one data set and scale has the
// same lines. A finer interval may be asked for, and comes with a warning.
func Choose(q Question) (Choice, error) {
	switch {
	case !(q.Scale >= 100 && q.Scale <= 1e7):
		return Choice{}, fmt.Errorf("contour: scale 1:%.0f: it must be between 1:100 and 1:10 000 000", q.Scale)
	case q.VerticalError < 0 || math.IsNaN(q.VerticalError):
		return Choice{}, fmt.Errorf("contour: vertical error %g m: it must not be negative", q.VerticalError)
	case q.Interval < 0 || math.IsNaN(q.Interval):
		return Choice{}, fmt.Errorf("contour: interval %g %s: it must be more than zero", q.Interval, q.Unit)
	case q.Interval*q.Unit.Metres() > MostInterval:
		return Choice{}, fmt.Errorf("contour: interval %g %s: it must be at most %g m", q.Interval, q.Unit, MostInterval)
	}
	unit := q.Unit.Metres()
	out := Choice{Unit: q.Unit, Supported: SupportedInterval(q.VerticalError), scale: q.Scale}
	supported := fmt.Sprintf("with heights good to %s, lines less than %s apart would mislead (90 %% within half an interval)",
		figure(q.VerticalError, q.Unit), figure(out.Supported, q.Unit))
	if q.Interval > 0 {
		out.Interval = q.Interval
		out.Reason = fmt.Sprintf("%s %s was asked for", label(q.Interval), q.Unit)
		if q.Interval*unit < out.Supported {
			out.Warning = fmt.Sprintf("the %s %s interval is finer than the data supports: %s", label(q.Interval), q.Unit, supported)
		}
		return out, nil
	}
	// A hair of tolerance, so that a need of exactly 20 m is met by 20 m.
	const hair = 1 - 1e-9
	usual := UsualInterval(q.Scale, q.Unit)
	if usual*unit >= out.Supported*hair {
		out.Interval = usual
		out.Reason = fmt.Sprintf("%s %s, as maps at 1:%.0f usually have", label(usual), q.Unit, q.Scale)
		if q.VerticalError == 0 {
			out.Reason += "; the data does not state its vertical error"
		}
		return out, nil
	}
	standard := q.Unit.standard()
	i := slices.IndexFunc(standard, func(v float64) bool { return v*unit >= out.Supported*hair })
	if i < 0 {
		out.Interval = standard[len(standard)-1]
		out.Reason = fmt.Sprintf("%s %s is the coarsest standard interval", label(out.Interval), q.Unit)
		out.Warning = fmt.Sprintf("the %s %s interval is too fine: %s", label(out.Interval), q.Unit, supported)
		return out, nil
	}
	out.Interval = standard[i]
	out.Reason = fmt.Sprintf("%s %s: maps at 1:%.0f usually have %s %s, but %s", label(out.Interval), q.Unit, q.Scale, label(usual), q.Unit, supported)
	return out, nil
}

// Drawn is the choice on a map of ground this steep: the same interval, with a
// warning where neighbouring lines stand less than LeastGap apart on nineteen
// parts in twenty of the ground or fewer.
func (c Choice) Drawn(s Steepness) Choice {
	legible := s.Steep * LeastGap / 1000 * c.scale
	if s.Cells == 0 || c.Interval*c.Unit.Metres() >= legible {
		return c
	}
	merged := fmt.Sprintf("lines %s %s apart will run together on slopes of %.0f degrees (95 %% of this ground is gentler): at 1:%.0f they need %s to stand %g mm apart. The interval stays",
		label(c.Interval), c.Unit, math.Atan(s.Steep)*180/math.Pi, c.scale, figure(legible, c.Unit), LeastGap)
	if c.Warning == "" {
		c.Warning = merged
	} else {
		c.Warning = strings.TrimSuffix(c.Warning, ".") + ". " + strings.ToUpper(merged[:1]) + merged[1:]
	}
	return c
}

// standard is the standard intervals in a unit.
func (u Unit) standard() []float64 {
	if u == Foot {
		return StandardFeet
	}
	return StandardMetres
}

// figure writes metres in a unit to two figures or the whole number.
func figure(metres float64, u Unit) string {
	v := metres / u.Metres()
	if v >= 10 || v == 0 {
		return fmt.Sprintf("%.0f %s", v, u)
	}
	return fmt.Sprintf("%.2g %s", v, u)
}
