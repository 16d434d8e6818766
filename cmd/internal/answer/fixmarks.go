package answer

import (
	"context"
	"slices"

	"crowline/dem/geodesy"
	"crowline/visibility"
	"crowline/visibility/fix"
)

// FixErrors are what bearings and marks are good to, for a fix: one standard
// deviation each.
type FixErrors struct {
	// Compass of a bearing, degrees; Mark of where on a mark one points, metres.
	Compass, Mark float64
}

// Check refuses errors that no fix has.
func (e FixErrors) Check() error {
	switch {
	case !(e.Compass > 0 && e.Compass <= 45):
		return wrongf("a compass good to %g degrees: give one above 0 and up to 45", e.Compass)
	case !(e.Mark > 0):
		return wrongf("marks good to %g m: for a fix give a length above 0, or the nearest boulder would do", e.Mark)
	}
	return nil
}

// FixMarks are the sets of marks that fix a place best.
type FixMarks struct {
	// One standard deviation of a bearing.
	CompassErrorDeg float64 `json:"compass_error_deg" round:"4"`
	// One standard deviation of where on a mark one points.
	PlaceErrorM float64 `json:"mark_place_error_m" round:"3"`
	// Sets of two, best first.
	Two []MarkSet `json:"sets_of_two"`
	// Sets of three, best first.
	Three []MarkSet `json:"sets_of_three"`
	// A better set of two, if its doubtful marks are seen; left out where there
	// is none.
	IfSeen *MarkSet `json:"set_of_two_if_seen,omitempty"`
	// How likely marks are to be seen is known, and counted.
	SureKnown bool `json:"likelihood_known"`
	// How many marks were combined.
	Combined int `json:"marks_combined"`
	// How many farther ones were not tried.
	Beyond int `json:"marks_beyond_limit"`
}

// Better is the set of two to be told of as better if its doubtful marks are
// seen: where the best known crosses flatly, or fixes the place half as well.
// Nil where there is none.
func (f *FixMarks) Better() *MarkSet {
	if f.IfSeen == nil || len(f.Two) == 0 || !f.Two[0].Flat() && f.IfSeen.SemiMajorM >= f.Two[0].SemiMajorM/2 {
		return nil
	}
	return f.IfSeen
}

// MarkSet is marks to sight together and the fix to expect.
type MarkSet struct {
	// The marks.
	Marks []FixMark `json:"marks"`
	// Half the long axis of the ellipse that holds the place 19 times in 20; where
	// the lines cross at under 30 degrees the place may lie farther off than that,
	// and a fix gives a region.
	SemiMajorM float64 `json:"semi_major_95_m" round:"1"`
	// Half its short axis.
	SemiMinorM float64 `json:"semi_minor_95_m" round:"1"`
	// The long axis's direction from true north.
	AlongDeg float64 `json:"semi_major_true_deg" round:"1"`
	// The best angle at which two of the lines cross.
	CrossingDeg float64 `json:"crossing_deg" round:"1"`
	// How many of the marks are seen with less than 75 %.
	Doubtful int `json:"doubtful_marks"`
}

// Flat reports whether the lines cross so flatly that the place will be well
// known one way and badly the other.
func (s MarkSet) Flat() bool { return s.CrossingDeg < float64(fix.LeastCrossing) }

// FixMark is one mark of a set.
type FixMark struct {
	// Its place in the list of marks, from 1.
	Rank int `json:"rank"`
	// What it is called, or what it is.
	Name string `json:"name"`
	// Latitude on WGS 84, north positive.
	Lat float64 `json:"lat"`
	// Longitude on WGS 84, east positive.
	Lon float64 `json:"lon"`
	// Bearing from true north.
	TrueDeg float64 `json:"true_deg" round:"2"`
	// The probability that it is seen; null where that is not known.
	Probability float64 `json:"probability" round:"3"`

	// Words are the likelihood for a sentence, "" where it is not known.
	Words string `json:"-"`
}

// proposeFix picks, of the marks an observer sees, the sets of two and three
// whose bearings fix the place best.
func proposeFix(ctx context.Context, from Place, marks []visibility.Landmark, e FixErrors) (*FixMarks, error) {
	var usable []fix.Mark
	ranks := map[geodesy.LatLon]int{}
	out := &FixMarks{CompassErrorDeg: e.Compass, PlaceErrorM: e.Mark}
	for i, m := range marks {
		if m.Sight.Verdict != visibility.Visible || m.TooSmall {
			continue
		}
		// a named place on a summit of the data is one mark, by its name
		if k := slices.IndexFunc(usable, func(u fix.Mark) bool { return geodesy.Inverse(u.Place, m.Place).Distance < policy.OneMark }); k >= 0 {
			if usable[k].Name == "" {
				usable[k].Name = m.Name
			}
			continue
		}
		ranks[m.Place] = i + 1
		out.SureKnown = out.SureKnown || m.Likelihood != nil
		usable = append(usable, fix.Mark{Name: m.Name, Place: m.Place, TopAboveGround: m.AboveGround, Doubtful: m.Doubtful()})
	}
	best, err := fix.BestMarks(ctx, from.LatLon, usable, fix.MarkOptions{BearingError: geodesy.Degrees(e.Compass), PlaceError: e.Mark, Keep: policy.SetsKept})
	if err != nil {
		return nil, err
	}
	out.Combined, out.Beyond = best.Visible, best.Beyond
	describe := func(sets ...fix.MarkSet) (list []MarkSet) {
		for _, s := range sets {
			set := MarkSet{
				SemiMajorM: s.Ellipse.SemiMajor, SemiMinorM: s.Ellipse.SemiMinor, AlongDeg: float64(s.Ellipse.Along),
				CrossingDeg: float64(s.Crossing), Doubtful: s.Doubtful,
			}
			for k, m := range s.Marks {
				l := &marks[ranks[m.Place]-1]
				one := FixMark{Rank: ranks[m.Place], Name: m.Name, Lat: float64(m.Place.Lat), Lon: float64(m.Place.Lon), TrueDeg: float64(s.Bearings[k]), Probability: nan}
				if one.Name == "" {
					one.Name = l.Kind
				}
				if l.Likelihood != nil {
					one.Probability, one.Words = l.Likelihood.Probability, l.Likelihood.Text()
				}
				set.Marks = append(set.Marks, one)
			}
			list = append(list, set)
		}
		return list
	}
	out.Two, out.Three = describe(best.Two...), describe(best.Three...)
	if best.IfSeen != nil {
		out.IfSeen = &describe(*best.IfSeen)[0]
	}
	return out, nil
}
