package drill

import (
	"fmt"
	"math"
	"math/rand/v2"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/profile"
)

// ElevationAnswer is the data of a question of kind Elevation.
type ElevationAnswer struct {
	Mark Place `json:"mark"`
	// ReadM is the handbook's reading, TrueM the ground's elevation and
	// SigmaM its standard deviation, metres.
	ReadM  float64 `json:"read_m"`
	TrueM  float64 `json:"true_m"`
	SigmaM float64 `json:"sigma_m"`
	// LowerM is the contour below, metres. Fraction is how far from it to the
	// one above the point stands, of the gap on paper (GapMM, millimetres);
	// both are 0 on a hilltop or in a hollow, where Top is 1 or -1.
	LowerM   float64 `json:"lower_contour_m"`
	Fraction float64 `json:"fraction"`
	GapMM    float64 `json:"gap_mm"`
	Top      int     `json:"top"`
}

const (
	// quarterClear is how far from a quarter of the gap the point stands, of
	// the gap: half a millimetre in six.
	quarterClear = 0.08
	leastGapMM   = 2
	mostGapMM    = 15
	// worstReading of the rule against the ground, of the interval. On even
	// slopes it errs by a quarter at most; where it errs more, ground between
	// the lines is not even and the question would teach the wrong thing.
	worstReading = 0.4
)

func (s *survey) elevation(r *rand.Rand) (*Question, error) {
	if s.o.Level != Beginner && r.IntN(3) == 0 {
		return s.top(r)
	}
	at, _ := geodesy.Direct(s.o.Around, geodesy.NewTrueBearing(geodesy.Degrees(360*r.Float64())), s.o.Radius*math.Sqrt(r.Float64()))
	h, err := dem.ElevationAt(s.grid, at)
	if err != nil {
		return nil, nil // outside or void: another try
	}
	up, ok := s.uphill(at)
	if !ok {
		return nil, nil
	}
	j := s.levels.Below(h)
	lower, upper := s.levels.Elevation(j), s.levels.Elevation(j+1)
	toUpper, ok, err := s.reaches(at, up, lower, upper, true)
	if err != nil || !ok {
		return nil, err
	}
	toLower, ok, err := s.reaches(at, up.Back(), lower, upper, false)
	if err != nil || !ok {
		return nil, err
	}
	gap := (toUpper + toLower) * 1000 / s.o.Scale
	fraction := toLower / (toUpper + toLower)
	if gap < leastGapMM || gap > mostGapMM || math.Abs(fraction-0.25) < quarterClear || math.Abs(fraction-0.75) < quarterClear {
		return nil, nil
	}
	read, rule := (lower+upper)/2, "between a quarter and three quarters: add half the interval"
	switch {
	case fraction < 0.25:
		read, rule = lower, "within a quarter of the lower line: take that line"
	case fraction > 0.75:
		read, rule = upper, "within a quarter of the upper line: take that line"
	}
	if math.Abs(read-h) > worstReading*s.interval() || !s.mapped(at) {
		return nil, nil
	}
	mark := s.place("A", at)
	unit := s.levels.Unit
	return &Question{
		Text:   fmt.Sprintf("What is the elevation of A, read from the contours? The interval is %s %s.", number(s.levels.Interval), unit),
		Figure: &Figure{Centre: mark, Marks: []Place{mark}},
		Answer: fmt.Sprintf("%s. (The ground there: %s, one standard deviation %s.)", s.height(read), s.height(h), s.height(s.o.VerticalError)),
		Working: []string{
			fmt.Sprintf("A lies between the %s and the %s %s contours.", s.levels.Label(j), s.levels.Label(j+1), unit),
			fmt.Sprintf("Straight across the gap it is %.1f mm from the lower line, of %.1f mm between the two: %.2f of the way.", fraction*gap, gap, fraction),
			"The quarter rule: " + rule + ".",
		},
		Margin: fmt.Sprintf("the point is %.0f %% of the gap from the nearest quarter, at least %.0f %% is asked", 100*min(math.Abs(fraction-0.25), math.Abs(fraction-0.75)), 100*quarterClear),
		Data:   ElevationAnswer{Mark: mark, ReadM: read, TrueM: h, SigmaM: s.o.VerticalError, LowerM: lower, Fraction: fraction, GapMM: gap},
	}, nil
}

// uphill is the bearing of the steepest rise at a place.
func (s *survey) uphill(at geodesy.LatLon) (geodesy.TrueBearing, bool) {
	plane, d := geodesy.NewPlane(at), s.spacing/2
	rise := func(e, n float64) float64 {
		hi, err := dem.ElevationAt(s.grid, plane.Inverse(e, n))
		lo, err2 := dem.ElevationAt(s.grid, plane.Inverse(-e, -n))
		if err != nil || err2 != nil {
			return math.NaN()
		}
		return hi - lo
	}
	e, n := rise(d, 0), rise(0, d)
	if !(math.Hypot(e, n) > 0) {
		return 0, false
	}
	return geodesy.NewTrueBearing(90 - geodesy.Atan2(n, e)), true
}

// reaches is how far on a bearing the ground first reaches the upper level
// (or falls below the lower), without meeting the other first.
func (s *survey) reaches(at geodesy.LatLon, bearing geodesy.TrueBearing, lower, upper float64, up bool) (float64, bool, error) {
	to, _ := geodesy.Direct(at, bearing, s.paper(mostGapMM))
	leg, err := profile.Trace(s.ctx, s.grid, at, to)
	if err != nil {
		return 0, false, err
	}
	for i, p := range leg.Points[1:] {
		q := leg.Points[i]
		cross := func(level float64) float64 {
			return q.Distance + (level-q.Elevation)/(p.Elevation-q.Elevation)*(p.Distance-q.Distance)
		}
		switch {
		case math.IsNaN(p.Elevation):
			return 0, false, nil
		case p.Elevation >= upper:
			return cross(upper), up, nil
		case p.Elevation < lower:
			return cross(lower), !up, nil
		}
	}
	return 0, false, nil
}

// top asks for the elevation of a hilltop or the bottom of a depression.
func (s *survey) top(r *rand.Rand) (*Question, error) {
	var of []landform.Feature
	for _, f := range s.features {
		if (f.Kind == landform.Hill || f.Kind == landform.Depression) && f.Confidence >= leastConfidence && f.Relief > s.interval() {
			of = append(of, f)
		}
	}
	if len(of) == 0 {
		return nil, nil
	}
	f := of[r.IntN(len(of))]
	at, err := s.grid.Place(float64(f.Column), float64(f.Row))
	if err != nil {
		return nil, nil
	}
	if geodesy.Inverse(s.o.Around, at).Distance > s.o.Radius || !s.mapped(at) {
		return nil, nil
	}
	h := s.grid.Elevation(f.Column, f.Row)
	j := s.levels.Below(h)
	read, top := s.levels.Elevation(j)+s.interval()/2, 1
	word, rule := "hilltop", fmt.Sprintf("The highest contour round it is %s %s. A hilltop: add half the interval.", s.levels.Label(j), s.levels.Unit)
	if f.Kind == landform.Depression {
		// its lowest closed contour is the one above the bottom
		read, top = s.levels.Elevation(j+1)-s.interval()/2, -1
		word, rule = "bottom of the depression", fmt.Sprintf("The lowest contour round it is %s %s. The bottom of a depression: take off half the interval.", s.levels.Label(j+1), s.levels.Unit)
	}
	if math.Abs(read-h) > worstReading*s.interval() {
		return nil, nil
	}
	mark := s.place("A", at)
	return &Question{
		Text:    fmt.Sprintf("A is a %s. What is its elevation, read from the contours? The interval is %s %s.", word, number(s.levels.Interval), s.levels.Unit),
		Figure:  &Figure{Centre: mark, Marks: []Place{mark}},
		Answer:  fmt.Sprintf("%s. (The ground there: %s, one standard deviation %s.)", s.height(read), s.height(h), s.height(s.o.VerticalError)),
		Working: []string{rule},
		Margin:  fmt.Sprintf("the reading is within %.1f interval of the ground", worstReading),
		Data:    ElevationAnswer{Mark: mark, ReadM: read, TrueM: h, SigmaM: s.o.VerticalError, LowerM: s.levels.Elevation(j), Top: top},
	}, nil
}
