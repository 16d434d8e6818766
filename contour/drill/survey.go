package drill

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"

	"crowline/contour"
	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/dem/units"
	"crowline/profile"
)

// paper is a length on the map, millimetres, as metres on the ground.
func (s *survey) paper(mm float64) float64 { return mm * s.o.Scale / 1000 }

// apart is two standard deviations of the difference of two elevations with
// independent errors, metres.
func (s *survey) apart() float64 { return 2 * math.Sqrt2 * s.o.VerticalError }

// dataError names the data's vertical error, and says when it is assumed.
func (s *survey) dataError() string {
	if s.assumed {
		return "an assumed error of " + s.vertical(s.o.VerticalError) + " (the data states none)"
	}
	return "the data's error of " + s.vertical(s.o.VerticalError)
}

// ifAssumed is the words where the error is assumed, else nothing.
func (s *survey) ifAssumed(words string) string {
	if s.assumed {
		return words
	}
	return ""
}

// interval in metres.
func (s *survey) interval() float64 { return s.levels.Interval * s.levels.Unit.Metres() }

func (s *survey) place(name string, at geodesy.LatLon) Place {
	h, err := dem.ElevationAt(s.grid, at)
	if err != nil {
		h = 0 // JSON has no NaN; marks are only put on known ground
	}
	return Place{Name: name, Lat: float64(at.Lat), Lon: float64(at.Lon), ElevationM: h}
}

// post draws a post within the radius.
func (s *survey) post(r *rand.Rand) (geodesy.LatLon, bool) {
	return s.nearestPost(s.anywhere(r))
}

// anywhere draws a place within the radius, or on the map that is being
// filled.
func (s *survey) anywhere(r *rand.Rand) geodesy.LatLon {
	if s.in != nil {
		return s.in.plane.Inverse((r.Float64()-0.5)*s.paper(sharedWidth), (r.Float64()-0.5)*s.paper(sharedHeight))
	}
	at, _ := geodesy.Direct(s.o.Around, geodesy.NewTrueBearing(geodesy.Degrees(360*r.Float64())), s.o.Radius*math.Sqrt(r.Float64()))
	return at
}

// nearestPost to a place, if it is measured ground within the radius.
func (s *survey) nearestPost(at geodesy.LatLon) (geodesy.LatLon, bool) {
	c, row, err := s.grid.Locate(at)
	if err != nil || !s.grid.Contains(c, row) {
		return at, false
	}
	c, row = math.Round(c), math.Round(row)
	if math.IsNaN(s.grid.Elevation(int(c), int(row))) || s.grid.IsFilled(int(c), int(row)) {
		return at, false
	}
	p, err := s.grid.Place(c, row)
	if err != nil || geodesy.Inverse(s.o.Around, p).Distance > s.o.Radius {
		return at, false
	}
	return p, true
}

// ends draws the two ends of a leg, both on posts, that suits the map.
func (s *survey) ends(r *rand.Rand) (a, b geodesy.LatLon, ok bool) {
	a, ok = s.post(r)
	if !ok {
		return a, b, false
	}
	far, _ := geodesy.Direct(a, geodesy.NewTrueBearing(geodesy.Degrees(360*r.Float64())), s.paper(shortLeg+(longLeg-shortLeg)*r.Float64()))
	b, ok = s.nearestPost(far)
	d := geodesy.Inverse(a, b).Distance
	return a, b, ok && d >= s.paper(shortLeg-1) && d <= s.paper(longLeg+1)
}

// leg traces a leg and draws its map; nil when the ground does not allow it.
func (s *survey) leg(ctx context.Context, a, b geodesy.LatLon) (*profile.Leg, *Figure, error) {
	middle := geodesy.Waypoints(a, b, 2)[1]
	if !s.mapped(middle) {
		return nil, nil, nil
	}
	leg, err := profile.Trace(ctx, s.grid, a, b)
	if err != nil {
		return nil, nil, err
	}
	if leg.Unknown() > 0 || len(leg.Filled()) > 0 {
		return nil, nil, nil
	}
	return leg, &Figure{Centre: s.place("", middle), Marks: []Place{s.place("A", a), s.place("B", b)}, Legs: [][2]int{{0, 1}}}, nil
}

// anyLeg is leg between ends that are drawn; nil when these do not suit.
func (s *survey) anyLeg(ctx context.Context, r *rand.Rand) (*profile.Leg, *Figure, error) {
	a, b, ok := s.ends(r)
	if !ok {
		return nil, nil, nil
	}
	return s.leg(ctx, a, b)
}

// located is where a place is on the grid and the spacing of posts there,
// metres.
func (s *survey) located(at geodesy.LatLon) (column, row, dx, dy float64, ok bool) {
	column, row, err := s.grid.Locate(at)
	if err != nil {
		return 0, 0, 0, 0, false
	}
	dx, dy, err = s.grid.Spacing(column, row)
	return column, row, dx, dy, err == nil
}

// mapped reports whether the grid holds a whole map about a centre, without
// voids and with an index contour to read elevations from.
func (s *survey) mapped(centre geodesy.LatLon) bool {
	return s.covered(centre, panelMM, panelMM)
}

// covered is mapped for a map of a width and a height, millimetres.
func (s *survey) covered(centre geodesy.LatLon, width, height float64) bool {
	// A little over the corners of the map, which may be turned on the grid.
	const over = 1.1
	corner, angle := over*math.Hypot(width, height)/2, geodesy.Atan2(width, height)
	c0, c1, r0, r1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, b := range []geodesy.Degrees{angle, 180 - angle, 180 + angle, -angle} {
		p, _ := geodesy.Direct(centre, geodesy.NewTrueBearing(b), s.paper(corner))
		c, row, err := s.grid.Locate(p)
		if err != nil || !s.grid.Contains(c, row) {
			return false
		}
		c0, c1, r0, r1 = min(c0, c), max(c1, c), min(r0, row), max(r1, row)
	}
	every := s.levels.IndexEvery
	if every == 0 {
		every = 5
	}
	index := s.levels
	index.Interval *= float64(every)
	lowest, highest, read := math.Inf(1), math.Inf(-1), false
	for row := int(r0); row <= int(math.Ceil(r1)); row++ {
		for c := int(c0); c <= int(math.Ceil(c1)); c++ {
			h := s.grid.Elevation(c, row)
			if math.IsNaN(h) {
				return false
			}
			lowest, highest = min(lowest, h), max(highest, h)
		}
		// one line has one number, which does not tell up from down
		read = s.levels.Below(highest)-s.levels.Below(lowest) >= 2 && index.Below(highest) > index.Below(lowest)
		if read && s.whole { // no void is left to be found
			return true
		}
	}
	return read
}

// path is a leg for landform.Along.
func path(leg *profile.Leg) []landform.PathPoint {
	out := make([]landform.PathPoint, len(leg.Points))
	for i, p := range leg.Points {
		out[i] = landform.PathPoint{Position: landform.Position{Column: p.Column, Row: p.Row}, Distance: p.Distance, Elevation: p.Elevation}
	}
	return out
}

// positions of a leg for contour.Levels.CountAlong.
func positions(leg *profile.Leg) []contour.Position {
	out := make([]contour.Position, len(leg.Points))
	for i, p := range leg.Points {
		out[i] = contour.Position{Column: p.Column, Row: p.Row}
	}
	return out
}

func elevations(leg *profile.Leg) []float64 {
	out := make([]float64, len(leg.Points))
	for i, p := range leg.Points {
		out[i] = p.Elevation
	}
	return out
}

func section(leg *profile.Leg) Section {
	out := Section{ElevationM: elevations(leg)}
	for _, p := range leg.Points {
		out.DistanceM = append(out.DistanceM, p.Distance)
	}
	return out
}

// drawing of a leg's profile for the key.
func (s *survey) drawing(leg *profile.Leg) *sheet.ProfileDrawing {
	c := section(leg)
	return &sheet.ProfileDrawing{Distances: c.DistanceM, Elevations: c.ElevationM, From: "A", To: "B"}
}

// vertical writes an elevation or a difference of two, to the whole unit.
func (s *survey) vertical(metres float64) string { return s.o.Units.Elevation(metres) }

// lengths are those of a landform's reason: whole metres, or feet and miles.
func (s *survey) lengths() landform.Lengths {
	if s.o.Units == units.US {
		return landform.Lengths{Distance: s.distance, Height: s.vertical}
	}
	return landform.Lengths{}
}

// distance writes a length on the ground: to ten metres or feet while it is
// short, for no more can be measured on the map.
func (s *survey) distance(metres float64) string {
	to := 10.0
	if s.o.Units == units.US {
		to = 10 * units.Foot
	}
	if metres < 1000 {
		metres = math.Round(metres/to) * to
	}
	return s.o.Units.Distance(metres)
}

// climbed writes a number of contour lines and what they come to.
func (s *survey) climbed(lines int) string {
	return fmt.Sprintf("%d × %s %s = %s", lines, number(s.levels.Interval), s.levels.Unit,
		strconv.FormatFloat(float64(lines)*s.levels.Interval, 'f', -1, 64)+" "+s.levels.Unit.String())
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// degrees writes a bearing with three figures before any point.
func degrees(v float64) string {
	v = math.Mod(v+360, 360)
	if v == math.Trunc(v) {
		return fmt.Sprintf("%03.0f°", v)
	}
	return fmt.Sprintf("%05.1f°", v)
}
