package drill

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"crowline/contour/sheet"
	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/visibility"
)

// Shape of a slope.
type Shape string

// Shapes of a slope, from its top to its foot.
const (
	// Concave: steep above, gentle below.
	Concave Shape = "concave"
	// Convex: gentle above, steep below.
	Convex Shape = "convex"
)

// SlopeShapeAnswer is the data of a question of kind SlopeShape.
type SlopeShapeAnswer struct {
	Shape Shape `json:"shape" means:"concave or convex."`
	// DepartureM is how far the middle half of the slope stands above the
	// straight line from A to B at the least, below it where negative, metres.
	DepartureM float64 `json:"departure_m" means:"How far the middle half of the slope departs from the straight line from A to B, at the least: above it, or below 0 below it."`
	// UpperMM and LowerMM are the gaps between contours on the upper and the
	// lower half, on the mean, millimetres.
	UpperMM     float64            `json:"upper_gap_mm" means:"The mean gap between contours on the upper half."`
	LowerMM     float64            `json:"lower_gap_mm" means:"The mean gap between contours on the lower half."`
	Verdict     visibility.Verdict `json:"verdict" means:"Whether B is seen from A."`
	Probability float64            `json:"probability" means:"The probability that B is seen, with the data's error."`
	DistanceM   float64            `json:"distance_m" means:"How far it is from A to B."`
}

const (
	// shapeShort and shapeLong are how long a slope is on paper, millimetres.
	shapeShort = 16
	shapeLong  = 48
	// shapeLines are crossed at the least, so that there are gaps to compare.
	shapeLines = 6
	// gapsApart: the gaps between contours on one half are so many times those
	// on the other.
	gapsApart = 1.5
	// slopesTried are drawn for one try.
	slopesTried = 30
)

func (s *survey) slopeShape(ctx context.Context, r *rand.Rand) (*Question, error) {
	// As many of one as of the other, whatever the ground has more of.
	want := Concave
	if r.IntN(2) == 0 {
		want = Convex
	}
	for range slopesTried {
		if s.looked >= mostLegs {
			return nil, nil
		}
		s.looked++
		a, ok := s.post(r)
		if !ok {
			continue
		}
		up, ok := s.uphill(a)
		if !ok {
			continue
		}
		down := up.Back() + geodesy.TrueBearing(40*(r.Float64()-0.5))
		far, _ := geodesy.Direct(a, geodesy.NewTrueBearing(geodesy.Degrees(down)), s.paper(shapeShort+(shapeLong-shapeShort)*r.Float64()))
		b, ok := s.nearestPost(far)
		if !ok || geodesy.Inverse(a, b).Distance < s.paper(shapeShort-1) {
			continue
		}
		q, err := s.shapeBetween(ctx, a, b, want)
		if q != nil || err != nil {
			return q, err
		}
	}
	return nil, nil
}

// departure is how far the middle half of a leg's ground stands off the
// straight line between its ends, at the least: positive where all of it
// stands above, negative where all stands below, 0 where neither.
func departure(leg *profile.Leg) float64 {
	first, last := leg.Points[0], leg.Points[len(leg.Points)-1]
	least, most := math.Inf(1), math.Inf(-1)
	for _, p := range leg.Points {
		share := p.Distance / leg.Distance
		if share < 0.25 || share > 0.75 {
			continue
		}
		d := p.Elevation - (first.Elevation + share*(last.Elevation-first.Elevation))
		least, most = min(least, d), max(most, d)
	}
	switch {
	case math.IsInf(least, 1):
		return 0 // no post in the middle
	case least > 0:
		return least
	case most < 0:
		return most
	}
	return 0
}

// falls reports whether a leg goes down all the way, but for rises that no
// contour and no error can tell.
func (s *survey) falls(leg *profile.Leg) bool {
	lowest := math.Inf(1)
	for _, p := range leg.Points {
		lowest = min(lowest, p.Elevation)
		if p.Elevation > lowest+readingError*s.interval() {
			return false
		}
	}
	return true
}

// halves are the mean gaps between the contours crossed on the first and on
// the second half of a leg, metres.
func halves(c []crossing, length float64) (first, second float64) {
	var n [2]int
	for _, x := range c {
		if x.distance < length/2 {
			n[0]++
		} else {
			n[1]++
		}
	}
	return length / 2 / float64(n[0]), length / 2 / float64(n[1])
}

func (s *survey) shapeBetween(ctx context.Context, a, b geodesy.LatLon, want Shape) (*Question, error) {
	leg, figure, err := s.leg(ctx, a, b)
	if leg == nil || !s.falls(leg) || !s.countable(leg) {
		return nil, err
	}
	crossed := crossings(leg, s.levels)
	if len(crossed) < shapeLines {
		return nil, nil
	}
	upper, lower := halves(crossed, leg.Distance)
	off := departure(leg)
	concave := off < 0
	if concave != (want == Concave) || math.Abs(off) < s.apart() || concave && lower < gapsApart*upper || !concave && upper < gapsApart*lower {
		return nil, nil
	}
	sight, err := visibility.Along(leg, s.observer(a), s.conditions())
	if err != nil {
		return nil, err
	}
	verdict, sure := visibility.Visible, visibility.LikelyVisible
	if !concave {
		verdict, sure = visibility.Hidden, visibility.LikelyHidden
	}
	if sight.Verdict != verdict {
		return nil, nil
	}
	model := visibility.DefaultErrorModel(s.o.VerticalError, leg)
	model.Seed, model.Samples = s.o.Seed, sightSamples
	likely, err := visibility.Probability(ctx, leg, s.observer(a), s.conditions(), model)
	if err != nil || likely.Word != sure {
		return nil, err
	}
	figure.Key = s.drawing(leg)
	s.sightline(figure.Key, leg, sight)
	figure.Key.Marks = []sheet.ProfileMark{}
	data := SlopeShapeAnswer{Shape: want, DepartureM: off, UpperMM: s.mm(upper), LowerMM: s.mm(lower), Verdict: verdict, Probability: likely.Probability, DistanceM: leg.Distance}
	answer, tell, over, other := "Concave; yes, B is seen from A.", "close together at the top and wide apart at the foot: steep first, then gentle", "below", "convex, and no"
	share, seen := cases(likely.Probability), "in sight"
	if !concave {
		answer, tell, over, other = "Convex; no, B is not seen from A.", "wide apart at the top and close together at the foot: gentle first, then steep", "above", "concave, and yes"
		share, seen = cases(1-likely.Probability), "out of sight"
	}
	return &Question{
		Text:    "A is the top of a slope and B its foot. Is the slope concave (hollow) or convex (bulging)? Can you see B from A? Which lines told you? Take an eye " + eyeText(s) + " above the ground and no trees.",
		Reading: "Compare the gaps between the lines near A with those near B. Which lines: words that name the gaps near the top and near the foot are right.",
		Figure:  figure,
		Answer:  answer,
		Working: []string{
			fmt.Sprintf("From A (%s) to B (%s) the lines stand %.1f mm apart on the upper half and %.1f mm on the lower: %s.", s.vertical(leg.Points[0].Elevation), s.vertical(leg.Points[len(leg.Points)-1].Elevation), data.UpperMM, data.LowerMM, tell),
			fmt.Sprintf("The middle of the slope stands %s or more %s the straight line from A to B.", s.vertical(math.Abs(off)), over),
		},
		Margin: fmt.Sprintf("the middle half departs from the straight line by %s or more, at least %s is asked (2.8 times %s); the gaps of the two halves are as 1 to %.1f, at least %.1f is asked. With that error B is %s in %s of 100 cases, at least 95 are asked",
			s.vertical(math.Abs(off)), s.vertical(s.apart()), s.dataError(), max(upper/lower, lower/upper), gapsApart, seen, share),
		Mistakes: []Mistake{{other, "took the foot for the top: read the numbers upside down, or did not read them"}},
		Data:     data,
	}, nil
}
