package contour

import "math"

// CountedClimb is what the lines a path crosses come to as a climb, metres.
//
// Where a path crosses k lines upward one after another, the ground rises by
// k-1 whole intervals between the first line and the last, and by a part of
// one more at each end, from a turn of the ground or an end of the path: by
// more than k-1 and less than k+1 intervals in all, from the lowest ground
// before the first line to the highest after the last. So the rises together
// are Ascent to less than AscentWithin, one interval for each of them. That
// holds for the ground the lines are drawn on. A rise that crosses no line
// does not show on a map: there may be any number between two lines, each
// under an interval, and nothing is said of them.
//
// The true ground differs by the data's error. With errors of one standard
// deviation s that do not depend on one another from turn to turn, each rise
// is off by s times the root of two and n rises by s times the root of 2n:
// AscentSigma, one standard deviation. (Errors of neighbouring posts go
// together, which takes some of it off.)
//
// The same goes for falls.
type CountedClimb struct {
	Ascent, Descent float64
	// AscentWithin and DescentWithin are what Ascent and Descent are off by at
	// most; NaN where no rise, or fall, crosses a line, and where part of the
	// path has no lines drawn (Crossed.AtLeast): nothing is known there.
	AscentWithin, DescentWithin float64
	// AscentSigma and DescentSigma are one standard deviation of what the
	// data's error adds; NaN where that is not stated, and with the former.
	AscentSigma, DescentSigma float64
}

// Climb is what crossed lines come to. verticalError is one standard
// deviation of an elevation, metres; 0 if unknown.
func (l Levels) Climb(c Crossed, verticalError float64) CountedClimb {
	interval := l.step() * l.Unit.Metres()
	worth := func(runs int) (within, sigma float64) {
		if runs == 0 || c.AtLeast {
			return math.NaN(), math.NaN()
		}
		within, sigma = float64(runs)*interval, math.NaN()
		if verticalError > 0 {
			sigma = verticalError * math.Sqrt(2*float64(runs))
		}
		return within, sigma
	}
	out := CountedClimb{Ascent: float64(c.Up) * interval, Descent: float64(c.Down) * interval}
	out.AscentWithin, out.AscentSigma = worth(c.Rises)
	out.DescentWithin, out.DescentSigma = worth(c.Falls)
	return out
}
