package drill

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
)

// ElevationAnswer is the data of a question of kind Elevation.
type ElevationAnswer struct {
	Mark Place `json:"mark" means:"The point."`
	// ReadM is the handbook's reading, TrueM the ground's elevation and
	// SigmaM its standard deviation, metres.
	ReadM  float64 `json:"read_m" means:"What a good reading gives."`
	TrueM  float64 `json:"true_m" means:"The elevation of the ground."`
	SigmaM float64 `json:"sigma_m" means:"One standard deviation of that."`
	// LowerM is the contour below, metres. Fraction is how far from it to the
	// one above the point stands, of the gap on paper (GapMM, millimetres);
	// both are 0 on a hilltop or in a hollow, where Top is 1 or -1.
	LowerM   float64 `json:"lower_contour_m" means:"The contour line below."`
	Fraction float64 `json:"fraction" means:"How far from it to the line above the point stands; 0 on a hilltop or in a hollow."`
	GapMM    float64 `json:"gap_mm" means:"The gap between the two lines on paper; 0 likewise."`
	Top      int     `json:"top" means:"1 on a hilltop, -1 in a hollow, else 0."`
}

const (
	// quarterClear is how far from a quarter of the gap the point stands, of
	// the gap, and quarterMM the same in millimetres: half a tick of a ruler.
	quarterClear = 0.08
	quarterMM    = 0.3
	leastGapMM   = 3
	mostGapMM    = 15
	// offLineMM is how far a mark stands from every contour, millimetres: on
	// one, its dot would hide which side it is.
	offLineMM = 0.5
	// worstReading of the rule against the ground, of the interval. On even
	// slopes it errs by a quarter at most; where it errs more, ground between
	// the lines is not even and the question would teach the wrong thing.
	worstReading = 0.4
)

func (s *survey) elevation(ctx context.Context, r *rand.Rand) (*Question, error) {
	if s.o.Level != Beginner && r.IntN(3) == 0 {
		return s.top(ctx, r)
	}
	at := s.anywhere(r)
	if geodesy.Inverse(s.o.Around, at).Distance > s.o.Radius {
		return nil, nil
	}
	h, err := dem.ElevationAt(s.grid, at)
	if err != nil {
		return nil, nil // outside or void: another try
	}
	up, ok := s.uphill(at)
	if !ok || !s.measured(at, s.paper(mostGapMM)) {
		return nil, nil
	}
	j := s.levels.Below(h)
	lower, upper := s.levels.Elevation(j), s.levels.Elevation(j+1)
	toUpper, above, err := s.across(at, up, j)
	if err != nil {
		return nil, err
	}
	toLower, below, err := s.across(at, up.Back(), j)
	if err != nil {
		return nil, err
	}
	if above != j+1 || below != j || min(toUpper, toLower) < s.paper(offLineMM) {
		return nil, nil
	}
	gap := (toUpper + toLower) * 1000 / s.o.Scale
	fraction := toLower / (toUpper + toLower)
	clear := min(math.Abs(fraction-0.25), math.Abs(fraction-0.75))
	if gap < leastGapMM || gap > mostGapMM || clear < quarterClear || clear*gap < quarterMM {
		return nil, nil
	}
	read, rule := (lower+upper)/2, "between a quarter and three quarters: add half the interval"
	switch quarter(fraction) {
	case -1:
		read, rule = lower, "within a quarter of the lower line: take that line"
	case 1:
		read, rule = upper, "within a quarter of the upper line: take that line"
	}
	if math.Abs(read-h) > worstReading*s.interval() || !s.mapped(at) || !s.sameAcross(at, j, fraction) {
		return nil, nil
	}
	mark := s.place("A", at)
	unit := s.levels.Unit
	return &Question{
		Text:    fmt.Sprintf("What is the elevation of A, read from the contours? The interval is %s %s.", number(s.levels.Interval), unit),
		Reading: "The quarter rule: less than a quarter of the gap from a line, take that line; else take half way between the two. " + s.quarterRight(),
		Figure:  &Figure{Centre: mark, Marks: []Place{mark}},
		Answer:  fmt.Sprintf("%s. (The ground there: %s, one standard deviation %s%s.)", s.vertical(read), s.vertical(h), s.vertical(s.o.VerticalError), s.ifAssumed(", assumed")),
		Working: []string{
			fmt.Sprintf("A lies between the %s and the %s %s contours.", s.levels.Label(j), s.levels.Label(j+1), unit),
			fmt.Sprintf("Straight across the gap it is %.1f mm from the lower line, of %.1f mm between the two: %.2f of the way.", fraction*gap, gap, fraction),
			"The quarter rule: " + rule + ".",
		},
		Margin: fmt.Sprintf("the point is %.0f %% of the gap from the nearest quarter, at least %.0f %% and 0.3 mm are asked", 100*clear, 100*quarterClear),
		Data:   ElevationAnswer{Mark: mark, ReadM: read, TrueM: h, SigmaM: s.o.VerticalError, LowerM: lower, Fraction: fraction, GapMM: gap},
	}, nil
}

// quarterRight says how near a reading is right: as near as one by the shares
// of the gap comes to one by the quarter rule, and under half of what parts
// the rule's own readings.
func (s *survey) quarterRight() string {
	return fmt.Sprintf("An answer within a quarter of the interval, %s %s, is right.", number(s.levels.Interval/4), s.levels.Unit)
}

// sameAcross reports whether a student who measures to the nearest point of
// each of the two lines, not along the slope, comes to the same quarter.
func (s *survey) sameAcross(at geodesy.LatLon, j int, fraction float64) bool {
	column, row, dx, dy, ok := s.located(at)
	if !ok {
		return false
	}
	toLower, toUpper := math.Inf(1), math.Inf(1)
	for i := range s.lines {
		l := &s.lines[i]
		if l.Number != j && l.Number != j+1 {
			continue
		}
		for k := 1; k < len(l.Points); k++ {
			p, q := l.Points[k-1], l.Points[k]
			ax, ay := (p.Column-column)*dx, (p.Row-row)*dy
			bx, by := (q.Column-p.Column)*dx, (q.Row-p.Row)*dy
			t := min(1, max(0, -(ax*bx+ay*by)/(bx*bx+by*by)))
			d := math.Hypot(ax+t*bx, ay+t*by)
			if l.Number == j {
				toLower = min(toLower, d)
			} else {
				toUpper = min(toUpper, d)
			}
		}
	}
	return quarter(toLower/(toLower+toUpper)) == quarter(fraction)
}

// quarter is -1 in the lower quarter of a gap, 1 in the upper, 0 between.
func quarter(fraction float64) int {
	switch {
	case fraction < 0.25:
		return -1
	case fraction > 0.75:
		return 1
	}
	return 0
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

// across is how far on a bearing the first of two neighbouring lines is met,
// on the map as drawn, metres, and which. Ground and drawn line part by a
// share of a cell between posts, and the student has the line.
func (s *survey) across(at geodesy.LatLon, bearing geodesy.TrueBearing, j int) (distance float64, number int, err error) {
	reach := s.paper(mostGapMM)
	to, _ := geodesy.Direct(at, bearing, reach)
	column, row, err := s.grid.Locate(at)
	if err != nil {
		return 0, 0, err
	}
	toColumn, toRow, err := s.grid.Locate(to)
	if err != nil {
		return 0, 0, err
	}
	dx, dy := toColumn-column, toRow-row
	nearest := math.Inf(1)
	for i := range s.lines {
		l := &s.lines[i]
		if l.Number != j && l.Number != j+1 {
			continue
		}
		for k := 1; k < len(l.Points); k++ {
			p, q := l.Points[k-1], l.Points[k]
			ex, ey := q.Column-p.Column, q.Row-p.Row
			px, py := p.Column-column, p.Row-row
			cross := dx*ey - dy*ex
			along, share := (px*ey-py*ex)/cross, (px*dy-py*dx)/cross
			if cross != 0 && along >= 0 && along < nearest && share >= 0 && share <= 1 {
				nearest, number = along, l.Number
			}
		}
	}
	return nearest * reach, number, nil
}

// top asks for the elevation of a hilltop or the bottom of a depression.
func (s *survey) top(_ context.Context, r *rand.Rand) (*Question, error) {
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
	if geodesy.Inverse(s.o.Around, at).Distance > s.o.Radius || !s.mapped(at) || !s.measured(at, s.along.Scale) {
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
		Reading: "A hilltop: half an interval above the highest contour round it. The bottom of a depression: half an interval below the lowest. " + s.quarterRight(),
		Figure:  &Figure{Centre: mark, Marks: []Place{mark}},
		Answer:  fmt.Sprintf("%s. (The ground there: %s, one standard deviation %s%s.)", s.vertical(read), s.vertical(h), s.vertical(s.o.VerticalError), s.ifAssumed(", assumed")),
		Working: []string{rule},
		Margin:  fmt.Sprintf("the reading is within %.1f interval of the ground", worstReading),
		Data:    ElevationAnswer{Mark: mark, ReadM: read, TrueM: h, SigmaM: s.o.VerticalError, LowerM: s.levels.Elevation(j), Top: top},
	}, nil
}
