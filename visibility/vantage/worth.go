package vantage

import (
	"math"

	"crowline/dem/geodesy"
)

// WorthOptions say what a standpoint is worth to a class.
type WorthOptions struct {
	// BearingError is one standard deviation of a bearing, degrees, and
	// PlaceError of where on a mark one points, metres.
	BearingError geodesy.Degrees
	PlaceError   float64
	// Nearest a mark must be, metres: one nearer is not told from the ground
	// round it.
	Nearest float64
	// Near is how far off marks are near, metres: those that a class can match
	// with every fold of the map. Farther ones are far.
	Near float64
	// GoodFix is the fix, metres (half the long axis of the ellipse that holds the
	// place 19 times in 20), that halves the worth.
	GoodFix float64
}

// Line is a sight to a mark.
type Line struct {
	Bearing  geodesy.TrueBearing
	Distance float64 // metres
}

// Worth is what a standpoint is worth to a class, and why.
type Worth struct {
	// Marks that count, of these Near, and Far.
	Marks, Near, Far int
	// Crossing is how many marks these are worth for crossing bearings: as many
	// as there are where they are spread evenly all round, 0 where all lie on one
	// line.
	Crossing float64
	// SemiMajor is the least half axis, metres, that the ellipse of a fix by all
	// their bearings can have that holds the place 19 times in 20; +Inf where they
	// make none.
	SemiMajor float64
	// Score is Crossing, times GoodFix/(GoodFix + SemiMajor), times a half and the
	// share of the fewer of Near and Far (so 1 where they are as many).
	Score float64
}

// Of is the worth of some sights.
func (o WorthOptions) Of(lines []Line) Worth {
	var s sums
	for _, l := range lines {
		sin, cos := geodesy.Degrees(l.Bearing).SinCos()
		s.add(l.Distance*sin, l.Distance*cos, l.Distance, o)
	}
	return s.worth(o)
}

// sums are what a worth is made of.
type sums struct {
	near, far  int
	a, b, c    float64 // of n n', n square to the sight: east east, east north, north north
	ja, jb, jc float64 // the same over the variance of the place across the sight: information, per square metre
}

func (s *sums) add(east, north, distance float64, o WorthOptions) {
	if !(distance >= o.Nearest) || distance == 0 {
		return
	}
	if distance <= o.Near {
		s.near++
	} else {
		s.far++
	}
	e, n := -north/distance, east/distance
	across := float64(o.BearingError) * math.Pi / 180 * distance
	w := 1 / (across*across + o.PlaceError*o.PlaceError)
	s.a += e * e
	s.b += e * n
	s.c += n * n
	s.ja += w * e * e
	s.jb += w * e * n
	s.jc += w * n * n
}

// sure is the number of standard deviations of two coordinates that hold 19 in
// 20: the root of the quantile of chi-square with two degrees of freedom.
var sure = math.Sqrt(-2 * math.Log(0.05))

// flat is the determinant, as a share of the trace squared, under which bearings
// are one line: those of marks within a tenth of a degree.
const flat = 1e-6

func (s *sums) worth(o WorthOptions) Worth {
	w := Worth{Marks: s.near + s.far, Near: s.near, Far: s.far, SemiMajor: math.Inf(1)}
	trace := s.a + s.c
	det := s.a*s.c - s.b*s.b
	jdet, jtrace := s.ja*s.jc-s.jb*s.jb, s.ja+s.jc
	if w.Marks < 2 || !(det > flat*trace*trace) || !(jdet > flat*jtrace*jtrace) {
		return w
	}
	w.Crossing = 2 * math.Sqrt(det)
	// the least eigenvalue of the information is one over the largest variance
	least := 2 * jdet / (jtrace + math.Hypot(s.ja-s.jc, 2*s.jb))
	w.SemiMajor = sure / math.Sqrt(least)
	return o.With(w, w.SemiMajor)
}

// With is a worth scored by another fix than the bound: that of the best three
// bearings, say.
func (o WorthOptions) With(w Worth, semiMajor float64) Worth {
	w.Score = 0
	if w.Marks > 0 {
		w.Score = w.Crossing * o.GoodFix / (o.GoodFix + semiMajor) * (0.5 + float64(min(w.Near, w.Far))/float64(w.Marks))
	}
	return w
}
