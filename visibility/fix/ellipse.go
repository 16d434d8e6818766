package fix

import (
	"math"

	"crowline/dem/geodesy"
)

// OneSigma is the probability that a place lies in the ellipse whose
// semi-axes are one standard deviation: 1 - exp(-1/2), 39.35 %.
var OneSigma = 1 - math.Exp(-0.5)

// Ellipse is a region about a fix that holds the true place with the stated
// probability.
type Ellipse struct {
	Probability float64
	// SemiMajor and SemiMinor axes, metres.
	SemiMajor, SemiMinor float64
	// Along is the bearing of the major axis, in [0, 180).
	Along geodesy.TrueBearing
}

// Ellipse of a place, if it is the one, at a probability in (0, 1): the
// semi-axes are the roots of the covariance's eigenvalues times
// sqrt(-2 ln(1-p)), the quantile of the chi-square distribution with two
// degrees of freedom (Ghilani, ch. 19): 1 at 39.35 %, 2.448 at 95 %. Panics if
// the probability is outside (0, 1).
func (c *Candidate) Ellipse(probability float64) Ellipse {
	return ellipse(c.EastEast, c.EastNorth, c.NorthNorth, probability)
}

func ellipse(ee, en, nn, probability float64) Ellipse {
	if !(probability > 0 && probability < 1) {
		panic("fix: Ellipse needs a probability between 0 and 1")
	}
	k := math.Sqrt(-2 * math.Log1p(-probability))
	mean, half := (ee+nn)/2, math.Hypot((nn-ee)/2, en)
	major := mean + half
	// the product of the eigenvalues is the determinant, which keeps digits
	// that mean - half loses in a long thin ellipse
	minor := max(0, (ee*nn-en*en)/major)
	// the bearing b of the major axis: tan 2b = 2 EN / (NN - EE)
	along := geodesy.Atan2(2*en, nn-ee) / 2
	if along < 0 {
		along += 180
	}
	if along >= 180 {
		along = 0
	}
	return Ellipse{
		Probability: probability, SemiMajor: k * math.Sqrt(major), SemiMinor: k * math.Sqrt(minor),
		Along: geodesy.TrueBearing(along),
	}
}

// Outline is n places round the ellipse about its centre, clockwise from
// the end of the major axis. Panics if n < 3.
func (e Ellipse) Outline(centre geodesy.LatLon, n int) []geodesy.LatLon {
	if n < 3 {
		panic("fix: Outline needs n >= 3")
	}
	plane := geodesy.NewPlane(centre)
	sin, cos := geodesy.Degrees(e.Along).SinCos()
	out := make([]geodesy.LatLon, n)
	for i := range out {
		s, c := geodesy.Degrees(360 * float64(i) / float64(n)).SinCos()
		along, across := e.SemiMajor*c, e.SemiMinor*s
		out[i] = plane.Inverse(along*sin+across*cos, along*cos-across*sin)
	}
	return out
}

// Covers reports whether a place lies in the ellipse about its centre.
func (e Ellipse) Covers(centre, place geodesy.LatLon) bool {
	east, north := geodesy.NewPlane(centre).Forward(place)
	sin, cos := geodesy.Degrees(e.Along).SinCos()
	along, across := east*sin+north*cos, east*cos-north*sin
	return math.Hypot(along/e.SemiMajor, across/e.SemiMinor) <= 1
}
