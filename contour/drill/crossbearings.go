package drill

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"crowline/dem/geodesy"
	"crowline/visibility"
	"crowline/visibility/fix"
)

// CrossBearingsAnswer is the data of questions of kinds Resection and
// Intersection.
type CrossBearingsAnswer struct {
	Place Place `json:"place" means:"Where the two lines cross."`
	// Six is its grid reference; BearingsDeg those given, grid, in the order of
	// the marks.
	Six         string    `json:"six_figures,omitempty" means:"Its grid reference in six figures; left out where the map's grid lines are not a kilometre apart."`
	BearingsDeg []float64 `json:"bearings_deg" means:"The grid bearings given, in the order of the marks."`
	CrossingDeg float64   `json:"crossing_deg" means:"The angle at which the two lines cross."`
	// MajorM and MinorM are the semi-axes of the ellipse that holds the place in
	// 95 of 100 plots, metres.
	MajorM float64 `json:"ellipse_major_m" means:"The longer semi-axis of the ellipse that holds 95 of 100 good plots."`
	MinorM float64 `json:"ellipse_minor_m" means:"The shorter one."`
}

const (
	// plotError is one standard deviation of a bearing plotted with a
	// protractor, degrees: read to half a degree either way, and a pencil line
	// half a millimetre out over 40 mm.
	plotError = 0.8
	// leastCrossing of the two lines, degrees, as textbooks have it; flatter
	// ones cross anywhere (fix.LeastCrossing is the least of all).
	leastCrossing = 45
	// plotShort and plotLong are how far the marks are from the place,
	// millimetres, and roundedMM how far whole degrees may move it.
	plotShort = 22
	plotLong  = 62
	// holdsShare of good plots lie in the ellipse.
	holdsShare = 0.95
)

func (s *survey) resection(ctx context.Context, r *rand.Rand) (*Question, error) {
	return s.crossBearings(ctx, r, true)
}

func (s *survey) intersection(ctx context.Context, r *rand.Rand) (*Question, error) {
	return s.crossBearings(ctx, r, false)
}

// crossBearings asks for a place by two grid bearings: taken there to two marks,
// or taken at the marks.
func (s *survey) crossBearings(ctx context.Context, r *rand.Rand, there bool) (*Question, error) {
	if s.zone == 0 {
		return nil, nil
	}
	at, ok := s.post(r)
	if !ok {
		return nil, nil
	}
	turn := 360 * r.Float64()
	apart := leastCrossing + (180-2*leastCrossing)*r.Float64()
	var marks [2]geodesy.LatLon
	for i := range marks {
		far, _ := geodesy.Direct(at, geodesy.NewTrueBearing(geodesy.Degrees(turn+float64(i)*apart)), s.paper(plotShort+(plotLong-plotShort)*r.Float64()))
		if marks[i], ok = s.nearestPost(far); !ok {
			return nil, nil
		}
		// Marks are seen from where the bearing is taken, or none would be.
		from, to := at, marks[i]
		if !there {
			from, to = to, from
		}
		leg, _, err := s.leg(ctx, from, to)
		if leg == nil {
			return nil, err
		}
		sight, err := visibility.Along(leg, s.observer(from), s.conditions())
		if err != nil {
			return nil, err
		}
		if sight.Verdict != visibility.Visible {
			return nil, nil
		}
	}
	whole := func(from, to geodesy.LatLon) float64 {
		a, _ := geodesy.ToUTMZone(from, s.zone)
		b, _ := geodesy.ToUTMZone(to, s.zone)
		return math.Mod(math.Round(float64(geodesy.NewGridBearing(90-geodesy.Atan2(b.Northing-a.Northing, b.Easting-a.Easting)))), 360)
	}
	// The place is where the lines of the whole degrees cross on the map.
	var given, drawn [2]float64
	for i, m := range marks {
		drawn[i] = whole(m, at)
		given[i] = drawn[i]
		if there {
			given[i] = math.Mod(drawn[i]+180, 360)
		}
	}
	place, crossing, ok, err := s.crossed(marks, drawn)
	if err != nil || !ok || crossing < leastCrossing || geodesy.UTMZone(place) != s.zone {
		return nil, nil
	}
	if geodesy.Inverse(s.o.Around, place).Distance > s.o.Radius {
		return nil, nil
	}
	major, minor, err := s.plotted(ctx, marks, place)
	if err != nil {
		return nil, err
	}
	u, err := geodesy.ToUTMZone(place, s.zone)
	if err != nil {
		return nil, err
	}
	figure := &Figure{Marks: []Place{s.place("A", marks[0]), s.place("B", marks[1])}, Within: []geodesy.LatLon{place}}
	middle, _ := geodesy.Direct(geodesy.Waypoints(marks[0], marks[1], 2)[1], geodesy.Inverse(geodesy.Waypoints(marks[0], marks[1], 2)[1], place).Start, geodesy.Inverse(geodesy.Waypoints(marks[0], marks[1], 2)[1], place).Distance/3)
	figure.Centre = s.place("", middle)
	if !s.mapped(middle) || !s.onPanel(figure) {
		return nil, nil
	}
	for _, m := range marks {
		figure.Traces = append(figure.Traces, Trace{Kind: Ray, Line: []geodesy.LatLon{m, place}})
	}
	figure.Traces = append(figure.Traces, Trace{Kind: Cross, Line: []geodesy.LatLon{place}})
	d := CrossBearingsAnswer{Place: s.place("", place), BearingsDeg: given[:], CrossingDeg: crossing, MajorM: major, MinorM: minor}
	where := fmt.Sprintf("%.1f mm from A and %.1f mm from B", s.mm(geodesy.Inverse(marks[0], place).Distance), s.mm(geodesy.Inverse(marks[1], place).Distance))
	ask := "mark it with a cross"
	if s.kilometreGrid() {
		_, d.Six = figures(u)
		where = d.Six + ": " + where
		ask += " and write its grid reference in six figures"
	}
	text := fmt.Sprintf("From where you stand the grid bearing to A is %s and to B %s. Find your place with a protractor: %s.", degrees(given[0]), degrees(given[1]), ask)
	first := fmt.Sprintf("Back bearings: %s from A and %s from B. The lines cross at %.0f°.", degrees(drawn[0]), degrees(drawn[1]), crossing)
	mistake := Mistake{"a place on the far side of A and B", "drew the bearings themselves from A and B, not the back bearings"}
	if !there {
		text = fmt.Sprintf("A light is seen from A on a grid bearing of %s and from B on %s. Find the light with a protractor: %s.", degrees(given[0]), degrees(given[1]), ask)
		first = fmt.Sprintf("Draw the bearings from A and from B as they are. The lines cross at %.0f°.", crossing)
		mistake = Mistake{"a place on the far side of A and B", "drew the back bearings"}
	}
	return &Question{
		Text:    text,
		Reading: fmt.Sprintf("Lay the protractor's north on the grid. A cross within %.0f mm is right, along the way the two lines run together.", math.Ceil(s.mm(major))),
		Figure:  figure,
		Answer:  where + ".",
		Working: []string{first},
		Margin: fmt.Sprintf("with %.1f° of error in each line (its standard deviation) 95 of 100 plots lie in an ellipse of %.1f by %.1f mm about the place (semi-axes); the lines cross at %.0f°, at least %d° is asked; no error of the data enters",
			plotError, s.mm(major), s.mm(minor), crossing, leastCrossing),
		Mistakes: []Mistake{mistake, {"a place off by some degrees of both lines", "laid the protractor on the edge of the paper or on magnetic north, not on the grid"}},
		Data:     d,
	}, nil
}

// crossed is where lines drawn from two marks on grid bearings cross on the
// map, and at what angle; false where they do not.
func (s *survey) crossed(marks [2]geodesy.LatLon, drawn [2]float64) (at geodesy.LatLon, crossing float64, ok bool, err error) {
	a, err := geodesy.ToUTMZone(marks[0], s.zone)
	if err != nil {
		return at, 0, false, err
	}
	b, err := geodesy.ToUTMZone(marks[1], s.zone)
	if err != nil {
		return at, 0, false, err
	}
	ux, uy := math.Sin(drawn[0]*math.Pi/180), math.Cos(drawn[0]*math.Pi/180)
	vx, vy := math.Sin(drawn[1]*math.Pi/180), math.Cos(drawn[1]*math.Pi/180)
	den := ux*vy - uy*vx
	dx, dy := b.Easting-a.Easting, b.Northing-a.Northing
	along, other := (dx*vy-dy*vx)/den, (dx*uy-dy*ux)/den
	if den == 0 || along <= 0 || other <= 0 {
		return at, 0, false, nil
	}
	a.Easting, a.Northing = a.Easting+along*ux, a.Northing+along*uy
	at, err = a.LatLon()
	angle := math.Mod(math.Abs(drawn[0]-drawn[1]), 180)
	return at, min(angle, 180-angle), true, err
}

// plotted is the ellipse of good plots of two lines, semi-axes in metres.
func (s *survey) plotted(ctx context.Context, marks [2]geodesy.LatLon, place geodesy.LatLon) (major, minor float64, err error) {
	var bearings []fix.Bearing
	for i, m := range marks {
		bearings = append(bearings, fix.Bearing{Name: string(rune('A' + i)), Place: m, True: geodesy.Inverse(m, place).Start})
	}
	found, err := fix.Intersect(ctx, bearings, fix.Options{BearingError: plotError})
	if err != nil {
		return 0, 0, err
	}
	e := found.Ellipse(holdsShare)
	return e.SemiMajor, e.SemiMinor, nil
}

// onPanel reports whether all that a figure holds is on a small map about its
// centre, clear of its edge.
func (s *survey) onPanel(f *Figure) bool {
	centre, err := geodesy.ToUTMZone(f.Centre.At(), s.zone)
	if err != nil {
		return false
	}
	places := f.Within
	for _, m := range append(append([]Place{}, f.Marks...), f.Outline...) {
		places = append(places, m.At())
	}
	for _, at := range places {
		u, err := geodesy.ToUTMZone(at, s.zone)
		if err != nil || max(math.Abs(u.Easting-centre.Easting), math.Abs(u.Northing-centre.Northing)) > s.paper(panelMM/2-5) {
			return false
		}
	}
	return true
}
