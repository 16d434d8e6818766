package drill

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"crowline/dem/geodesy"
)

// BearingAnswer is the data of questions of kinds BackBearing, Norths and
// PageBearing.
type BearingAnswer struct {
	// Given and Answer bearings, degrees. GivenNorth is "" when the bearing is
	// to be taken off the page.
	Given       float64 `json:"given_deg" means:"The bearing given."`
	GivenNorth  string  `json:"given_north,omitempty" means:"The north it is from; left out where it is to be taken off the page."`
	Answer      float64 `json:"answer_deg" means:"The bearing asked for."`
	AnswerNorth string  `json:"answer_north" means:"The north that is from."`
	// Angle is what lies between the two norths, degrees, positive east.
	Angle float64 `json:"angle_deg,omitempty" means:"What lies between the two norths, positive east."`
	// DistanceM on the ground, metres, and ToleranceDeg and ToleranceM of a
	// good reading, for a bearing taken off the page.
	DistanceM    float64 `json:"distance_m,omitempty" means:"How far it is on the ground, of a bearing taken off the page."`
	ToleranceDeg float64 `json:"tolerance_deg,omitempty" means:"What a good reading of that bearing may be out by."`
	ToleranceM   float64 `json:"tolerance_m,omitempty" means:"What a good reading of that distance may be out by."`
}

func (s *survey) backBearing(_ context.Context, r *rand.Rand) (*Question, error) {
	given := geodesy.NewGridBearing(geodesy.Degrees(1 + r.IntN(359)))
	back := given.Back()
	step := "less than 180°: add 180°"
	if given >= 180 {
		step = "180° or more: take off 180°"
	}
	return &Question{
		Text:    fmt.Sprintf("You walk on a bearing of %s. What is the back bearing?", degrees(float64(given))),
		Answer:  degrees(float64(back)) + ".",
		Working: []string{fmt.Sprintf("%s is %s: %s.", degrees(float64(given)), step, degrees(float64(back)))},
		Margin:  "exact",
		Data:    BearingAnswer{Given: float64(given), GivenNorth: "any", Answer: float64(back), AnswerNorth: "any"},
	}, nil
}

// half rounds an angle to half a degree, the figure a question gives and an
// answer is worked with, so that nothing hangs on rounding.
func half(d geodesy.Degrees) float64 { return math.Round(float64(d)*2)/2 + 0 }

// sided writes an angle with its side.
func sided(d float64) string {
	switch {
	case d < 0:
		return number(-d) + "° west"
	case d > 0:
		return number(d) + "° east"
	}
	return "0°"
}

func (s *survey) norths(_ context.Context, r *rand.Rand) (*Question, error) {
	d := s.o.Declination
	if d == nil || s.zone == 0 {
		return nil, nil
	}
	convergence, err := geodesy.ConvergenceAt(s.o.Around)
	if err != nil {
		return nil, err
	}
	declination, gm, grid := half(d.East), half(d.East-geodesy.Degrees(convergence)), half(geodesy.Degrees(convergence))
	given := float64(r.IntN(360))
	wrap := func(v float64) float64 { return float64(geodesy.NewTrueBearing(geodesy.Degrees(v))) }
	type way struct {
		from, to, text, what string
		angle, sign          float64
	}
	// clockwise from the first north to the second is taken off
	ways := []way{
		{"grid", "magnetic", "measured on the map's grid", "Magnetic north is " + sided(gm) + " of grid north", gm, -1},
		{"magnetic", "grid", "read on the compass", "Magnetic north is " + sided(gm) + " of grid north", gm, 1},
		{"true", "magnetic", "from true north", "Magnetic north is " + sided(declination) + " of true north", declination, -1},
		{"magnetic", "true", "read on the compass", "Magnetic north is " + sided(declination) + " of true north", declination, 1},
		{"true", "grid", "from true north", "Grid north is " + sided(grid) + " of true north", grid, -1},
	}
	if s.o.Level == Beginner {
		ways = ways[:2]
	}
	w := ways[r.IntN(len(ways))]
	if w.angle == 0 {
		return nil, nil
	}
	answer := wrap(given + w.sign*w.angle)
	verb := "add"
	if w.sign*w.angle < 0 {
		verb = "take off"
	}
	side := "easterly"
	if w.angle < 0 {
		side = "westerly"
	}
	return &Question{
		Text:   fmt.Sprintf("%s here. A bearing %s is %s. What is the %s bearing?", w.what, w.text, degrees(given), w.to),
		Answer: degrees(answer) + ".",
		Working: []string{
			fmt.Sprintf("The angle is %s; from %s to %s, %s it: %s, %s %s, is %s.", side, w.from, w.to, verb, degrees(given), verb, number(math.Abs(w.angle))+"°", degrees(answer)),
		},
		Margin: "exact, with the angles rounded to half a degree",
		Data:   BearingAnswer{Given: given, GivenNorth: w.from, Answer: answer, AnswerNorth: w.to, Angle: w.angle},
	}, nil
}

const (
	// pageRounding is how far from a whole degree a bearing off the page may
	// lie, degrees.
	pageRounding = 0.35
	// pageTolerance of a good reading, degrees: half a degree of protractor,
	// half a millimetre at each end of 36 mm of line, and rounding.
	pageTolerance = 2
)

func (s *survey) pageBearing(_ context.Context, r *rand.Rand) (*Question, error) {
	if s.zone == 0 {
		return nil, nil
	}
	a, b, ok := s.ends(r)
	if !ok || !s.mapped(geodesy.Waypoints(a, b, 2)[1]) {
		return nil, nil
	}
	middle := geodesy.Waypoints(a, b, 2)[1]
	// The map is on the grid of its middle; a protractor measures the straight
	// line on that grid.
	zone := geodesy.UTMZone(middle)
	from, err := geodesy.ToUTMZone(a, zone)
	if err != nil {
		return nil, err
	}
	to, err := geodesy.ToUTMZone(b, zone)
	if err != nil {
		return nil, err
	}
	bearing := 90 - float64(geodesy.Atan2(to.Northing-from.Northing, to.Easting-from.Easting))
	bearing = float64(geodesy.NewGridBearing(geodesy.Degrees(bearing)))
	whole := math.Round(bearing)
	if math.Abs(bearing-whole) > pageRounding {
		return nil, nil
	}
	whole = math.Mod(whole, 360)
	distance := geodesy.Inverse(a, b).Distance
	tolerance := s.paper(rulerMM)
	answer := fmt.Sprintf("%s on the grid (%.0f° either way is a good reading), %s (give or take %s).", degrees(whole), float64(pageTolerance), s.distance(distance), s.distance(tolerance))
	working := []string{
		fmt.Sprintf("Lay the protractor's north on the grid lines at A: the line to B lies at %s.", degrees(whole)),
		fmt.Sprintf("A to B measures %.1f mm; at 1:%.0f that is %s.", distance*1000/s.o.Scale, s.o.Scale, s.distance(distance)),
	}
	if d := s.o.Declination; d != nil {
		// One angle for the whole sheet, unless the map is on the next grid.
		about := s.o.Around
		if zone != s.zone {
			about = middle
		}
		grid, err := geodesy.GridInZone(about, zone)
		if err != nil {
			return nil, err
		}
		gm := half(d.East - geodesy.Degrees(grid.Convergence))
		magnetic := float64(geodesy.NewMagneticBearing(geodesy.Degrees(whole - gm)))
		working = append(working, fmt.Sprintf("With magnetic north %s of grid north, the compass shows %s.", sided(gm), degrees(magnetic)))
	}
	return &Question{
		Text:    "Take the grid bearing from A to B off the map, and the distance.",
		Reading: fmt.Sprintf("Measure between the middles of the dots. A bearing within %.0f° and a distance within %s are right.", float64(pageTolerance), s.distance(tolerance)),
		Figure:  &Figure{Centre: s.place("", middle), Marks: []Place{s.place("A", a), s.place("B", b)}},
		Answer:  answer,
		Working: working,
		Margin:  fmt.Sprintf("the bearing is %.2f° from a whole degree, at most %.2f is asked", math.Abs(bearing-math.Round(bearing)), pageRounding),
		Data:    BearingAnswer{Answer: whole, AnswerNorth: "grid", DistanceM: distance, ToleranceDeg: pageTolerance, ToleranceM: tolerance},
	}, nil
}
