package drift

import (
	"fmt"
	"math"
	"slices"

	"crowline/dem/geodesy"
)

// NineteenInTwenty is how many standard deviations hold a normal error 19
// times in 20.
const NineteenInTwenty = 1.959964 // the 97.5 % quantile of the normal distribution

// Defaults, one standard deviation each.
const (
	// DefaultCompass is the error of a bearing kept with a baseplate compass,
	// degrees: one division of its dial (common practice).
	DefaultCompass geodesy.Degrees = 2
	// DefaultPacing is the error of a paced distance as a share of it. Common
	// practice says 5 to 10 %: taken as 5 % for one standard deviation, so that
	// 19 of 20 distances are within 10 %.
	DefaultPacing = 0.05
	// DeclinationByHand is the error of a declination read off a map or given by
	// hand, degrees.
	DeclinationByHand geodesy.Degrees = 0.5
)

// Errors are what puts a walker off the line, one standard deviation each.
// Zero means no error.
type Errors struct {
	// Compass is of a bearing kept over one stretch, degrees in [0, 30].
	Compass geodesy.Degrees
	// Declination is common to all stretches, degrees in [0, 30].
	Declination geodesy.Degrees
	// Pacing is the share of a distance that pacing is out by, in [0, 1).
	Pacing float64
}

// DefaultErrors are DefaultCompass and DefaultPacing, with no error of the
// declination: the magnetic model or the user gives that.
func DefaultErrors() Errors { return Errors{Compass: DefaultCompass, Pacing: DefaultPacing} }

// largestAngle keeps 1.96 of two such angles together under 90 degrees.
const largestAngle = 30

func (e Errors) validate() error {
	for _, v := range []struct {
		name  string
		value float64
		most  float64
	}{{"compass error", float64(e.Compass), largestAngle}, {"declination error", float64(e.Declination), largestAngle}, {"pacing error", e.Pacing, 1}} {
		if !(v.value >= 0 && v.value <= v.most) {
			return fmt.Errorf("drift: a %s of %g is not between 0 and %g", v.name, v.value, v.most)
		}
	}
	return nil
}

// angle is a bearing's error on one stretch, radians: compass and declination
// together.
func (e Errors) angle() float64 { return math.Hypot(radians(e.Compass), radians(e.Declination)) }

// OnCompass is how far to either side of the line one may be after a distance
// on one bearing, metres.
func (e Errors) OnCompass(distance float64) float64 {
	return distance * math.Tan(NineteenInTwenty*e.angle())
}

// LongestOnCompass is how far one may go on one bearing before the half width
// is over a width, metres; +Inf where there is no error.
func (e Errors) LongestOnCompass(width float64) float64 {
	return width / math.Tan(NineteenInTwenty*e.angle())
}

// AimOff is by how much to aim off, degrees, to come out on the chosen side of
// a place at a distance on one bearing: as much as one may be off. One then
// comes out on the wrong side once in 40 times.
func (e Errors) AimOff() geodesy.Degrees {
	return geodesy.Degrees(NineteenInTwenty * e.angle() * 180 / math.Pi)
}

// Kind is how a stretch is walked.
type Kind string

const (
	// Compass: on one bearing, with nothing to steer by.
	Compass Kind = "compass"
	// Sighted: straight towards a mark.
	Sighted Kind = "sighted"
)

// Stretch is part of a leg, walked in one way.
type Stretch struct {
	// From and To are where it begins and ends, metres along the leg.
	From, To float64
	Kind     Kind
	// Mark is where the sighted mark stands, metres along the leg, at To or
	// beyond; no more than To for a mark at To. The stretch ends at the mark
	// or before it. Sighted only.
	Mark float64
	// Reset: at the end of a Compass stretch a place is recognised (a saddle, a
	// top) and the walk goes on from there. A Sighted stretch that ends at its
	// mark is reset there anyway.
	Reset bool
	// MarkError is one standard deviation of how far aside of its place on the
	// map, and how far along, the mark or the recognised place may lie, metres:
	// the data's spacing, and how nearly one walks up to it.
	MarkError float64
}

// Walk is a leg walked in stretches, from a known start.
type Walk struct {
	errors    Errors
	stretches []Stretch
	states    []state // at the start of each stretch, and at the end of all
}

// state is what is known of the offset from the line: its part that is
// independent, as a variance, and its part from the declination, as so many
// metres a radian. The tangent is taken at the mean angle since gone metres ago.
type state struct {
	mark       float64 // variance of the last mark's error as it still counts, m²
	compass    float64 // variance of the bearings' errors, m²/rad² times rad²
	declined   float64 // metres a radian of the declination's error
	gone       float64 // metres on the compass that still count
	known      float64 // where along the leg one last knew the place
	knownError float64 // and how well, metres
}

// Along is a leg walked in stretches, in order and without gaps from 0.
// Errors: an error out of range; no stretch; a stretch that does not begin
// where the one before ends, or has no length; an unknown kind; a mark before
// the end of its stretch.
func Along(e Errors, stretches []Stretch) (*Walk, error) {
	if err := e.validate(); err != nil {
		return nil, err
	}
	if len(stretches) == 0 {
		return nil, fmt.Errorf("drift: no stretch to walk")
	}
	w := &Walk{errors: e, stretches: slices.Clone(stretches)}
	at := 0.0
	var s state
	for i := range w.stretches {
		x := &w.stretches[i]
		switch {
		case math.Abs(x.From-at) > joins:
			return nil, fmt.Errorf("drift: a stretch begins at %g m, and the one before ends at %g m", x.From, at)
		case !(x.To > x.From) || math.IsInf(x.To, 0):
			return nil, fmt.Errorf("drift: a stretch from %g to %g m has no length", x.From, x.To)
		case x.Kind != Compass && x.Kind != Sighted:
			return nil, fmt.Errorf("drift: a stretch is walked by %q or %q, not by %q", Compass, Sighted, x.Kind)
		case !(x.MarkError >= 0) || math.IsInf(x.MarkError, 0):
			return nil, fmt.Errorf("drift: a mark's error of %g m is below zero or no number", x.MarkError)
		}
		x.Mark = math.Max(x.Mark, x.To)
		w.states = append(w.states, s)
		s = e.after(s, *x, x.To)
		if x.Kind == Sighted && x.Mark-x.To <= joins || x.Kind == Compass && x.Reset {
			s = state{mark: x.MarkError * x.MarkError, known: x.To, knownError: x.MarkError}
		}
		at = x.To
	}
	w.states = append(w.states, s)
	return w, nil
}

// joins is how nearly stretches must meet, metres: rounding.
const joins = 1e-6

// after is the state at a place on a stretch that begins in another.
func (e Errors) after(s state, x Stretch, at float64) state {
	gone := at - x.From
	if x.Kind == Compass {
		s.compass += sq(gone * radians(e.Compass))
		s.declined += gone
		s.gone += gone
		return s
	}
	// straight to the mark: what was off shrinks in proportion, and the mark's
	// own error comes in
	share := gone / (x.Mark - x.From)
	left := 1 - share
	s.mark = s.mark*left*left + sq(share*x.MarkError)
	s.compass *= left * left
	s.declined *= left
	s.gone *= left
	return s
}

// Length is where the walk ends, metres.
func (w *Walk) Length() float64 { return w.stretches[len(w.stretches)-1].To }

// HalfWidth is how far to either side of the line one may be at a distance
// along it, metres, 19 times in 20. At a mark it is that on reaching it. Below
// 0 it is that at the start, beyond the end that at the end.
func (w *Walk) HalfWidth(distance float64) float64 {
	return w.errors.halfWidth(w.at(distance))
}

func (e Errors) halfWidth(s state) float64 {
	marks := NineteenInTwenty * math.Sqrt(s.mark)
	angles := NineteenInTwenty * math.Sqrt(s.compass+sq(s.declined*radians(e.Declination)))
	if s.gone > 0 {
		angles = s.gone * math.Tan(angles/s.gone)
	}
	return math.Hypot(marks, angles)
}

func (w *Walk) at(distance float64) state {
	for i, x := range w.stretches {
		if distance < x.To {
			return w.errors.after(w.states[i], x, math.Max(distance, x.From))
		}
	}
	return w.states[len(w.states)-1]
}

// PacedHalf is how far short or beyond one may be at a distance along the leg,
// metres, 19 times in 20, who counts paces from the last place that was known:
// the start, a mark that was reached, or a place that was recognised.
func (w *Walk) PacedHalf(distance float64) float64 {
	s := w.at(distance)
	distance = math.Max(0, math.Min(distance, w.Length()))
	return NineteenInTwenty * math.Hypot(s.knownError, w.errors.Pacing*(distance-s.known))
}

// LastKnown is the last place before a distance that is known on arriving
// there, metres along the leg; 0 for the start.
func (w *Walk) LastKnown(distance float64) float64 { return w.at(distance).known }

// Edge is a place on the strip in which the walk stays.
type Edge struct {
	Distance  float64 // along the leg, metres
	HalfWidth float64 // to either side, metres
}

// Strip is the strip in which the walk stays, at any one place, 19 times in
// 20: its half width at every step metres, and at the ends of stretches; where
// a mark is reached, twice: before and on reaching it. A step that is not above
// zero gives the ends of stretches alone.
func (w *Walk) Strip(step float64) []Edge {
	out := []Edge{{0, w.errors.halfWidth(w.states[0])}}
	for i, x := range w.stretches {
		n := 1
		if step > 0 {
			n = int(math.Ceil((x.To - x.From) / step))
		}
		for k := 1; k <= n; k++ {
			at := x.To
			if k < n {
				at = x.From + (x.To-x.From)*float64(k)/float64(n)
			}
			out = append(out, Edge{at, w.errors.halfWidth(w.errors.after(w.states[i], x, at))})
		}
		if on := w.errors.halfWidth(w.states[i+1]); on != out[len(out)-1].HalfWidth {
			out = append(out, Edge{x.To, on})
		}
	}
	return out
}

func sq(v float64) float64 { return v * v }

func radians(d geodesy.Degrees) float64 { return float64(d) * math.Pi / 180 }
