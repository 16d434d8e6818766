package answer

import (
	"math"

	"crowline/contour"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/profile"
	"crowline/visibility/chain"
)

// Figures of what a front end draws itself: a profile under a map, and what lies
// on the map, on its plane.

// Spot is a place with its position on the chart and as it is typed.
func (c *Chart) Spot(s Spot) (PlottedSpot, error) {
	x, y, err := c.XY(s.LatLon())
	text := s.Name
	if text == "" {
		text = s.LatLon().String()
	}
	return PlottedSpot{Spot: s, X: x, Y: y, Text: text}, err
}

// PlottedSpot is a place as a page has it.
type PlottedSpot struct {
	Spot
	// X and Y are its position on the plane.
	X float64 `json:"x" round:"2"`
	Y float64 `json:"y" round:"2"`
	// Text is how it is typed, and given again.
	Text string `json:"text"`
}

// line lays a leg, or a part of it, on the plane: x and y in turn. A geodesic bends
// on the plane by less than a metre between so many points.
func (c *Chart) line(leg *profile.Leg, from, to float64) ([]float64, error) {
	const piece = 2000 // m
	n := max(1, int(math.Ceil((to-from)/piece)))
	x, y := make([]float64, n+1), make([]float64, n+1)
	for i := range x {
		at := leg.PlaceAt(from + (to-from)*float64(i)/float64(n))
		x[i], y[i] = float64(at.Lon), float64(at.Lat)
	}
	return c.laid(x, y)
}

// laid brings longitudes and latitudes to the plane, x and y in turn.
func (c *Chart) laid(x, y []float64) ([]float64, error) {
	if err := c.Project(x, y); err != nil {
		return nil, err
	}
	out := make([]float64, 0, 2*len(x))
	for i := range x {
		out = append(out, x[i], y[i])
	}
	return out, nil
}

// between is the geodesic between two places on the plane.
func (c *Chart) between(a, b geodesy.LatLon) ([]float64, error) {
	n := 1 + int(geodesy.Inverse(a, b).Distance/2000)
	var x, y []float64
	for _, p := range geodesy.Waypoints(a, b, n) {
		x, y = append(x, float64(p.Lon)), append(y, float64(p.Lat))
	}
	return c.laid(x, y)
}

// LineOn is the leg on the plane, x and y in turn.
func (a *LegAnswer) LineOn(c *Chart) ([]float64, error) { return c.line(a.leg, 0, a.leg.Distance) }

// ProfileFigures are what a profile is drawn from.
type ProfileFigures struct {
	// Distances along the line and elevations of the ground there, thinned where
	// they are more than can be drawn; NaN in a void.
	Distances  []float64 `json:"distance_m" round:"1"`
	Elevations []float64 `json:"elevation_m" round:"1"`
	// Cover is how high what stands on the ground reaches above it; left out where
	// none was given.
	Cover []float64 `json:"cover_m,omitempty" round:"1"`
	// Length of the line.
	Length float64 `json:"length_m" round:"1"`
	// Eye and Target are the elevations of the ends of the line of sight.
	Eye    float64 `json:"eye_m" round:"1"`
	Target float64 `json:"target_m" round:"1"`
	// Sight is the line of sight, distance and elevation in turn; nil for none.
	Sight *[]float64 `json:"sight"`
	// Blocked is where the ground stands that hides the target.
	BlockedAt        float64 `json:"blocked_at_m" round:"1"`
	BlockerElevation float64 `json:"blocker_elevation_m" round:"1"`
	// Stretches from one distance to another.
	Hidden  [][2]float64 `json:"hidden" round:"1"`
	Unknown [][2]float64 `json:"unknown" round:"1"`
	Filled  [][2]float64 `json:"filled" round:"1"`
	Steep   [][2]float64 `json:"steep" round:"1"`
	// Interval of the contour lines, and where they are crossed: distance,
	// elevation, and 1 for an index line.
	Interval  string       `json:"interval"`
	Crossings [][3]float64 `json:"crossings" round:"1"`
}

// Figures are those of a profile. steep are stretches of it, or nil.
func (p Profile) Figures(steep []Stretch) (*ProfileFigures, error) {
	d, err := ProfileDrawing(p)
	if err != nil {
		return nil, err
	}
	out := &ProfileFigures{
		Length: p.Line.Distance, Eye: p.Eye, Target: p.Target, BlockedAt: nan, BlockerElevation: nan, Hidden: d.Hidden, Unknown: d.Unknown, Filled: d.Filled, Interval: d.Interval,
	}
	for _, s := range steep {
		out.Steep = append(out.Steep, [2]float64{s.FromM, s.ToM})
	}
	out.thin(d.Distances, d.Elevations, d.Cover)
	out.Crossings = crossings(d.Distances, d.Elevations, p.Levels)
	if s := d.Sight; s != nil {
		const pieces = 32 // a parabola: the eye sees no corner
		line := make([]float64, 0, 2*(pieces+1))
		for i := range pieces + 1 {
			at := s.ToDistance * float64(i) / pieces
			line = append(line, at, s.At(at))
		}
		out.Sight = &line
		if s.BlockedAt > 0 {
			out.BlockedAt, out.BlockerElevation = s.BlockedAt, s.BlockerElevation
		}
	}
	return out, nil
}

// mostDrawn is how many points of a profile are drawn: two to a pixel of a wide
// screen.
const mostDrawn = 1000

// thin keeps a profile's points, or of more than mostDrawn the first, the last,
// and of each piece between the lowest and the highest; a void's edges always.
func (f *ProfileFigures) thin(distances, elevations, cover []float64) {
	keep := func(i int) {
		f.Distances, f.Elevations = append(f.Distances, distances[i]), append(f.Elevations, elevations[i])
		if cover != nil {
			f.Cover = append(f.Cover, cover[i])
		}
	}
	n := len(distances)
	if n <= mostDrawn {
		for i := range distances {
			keep(i)
		}
		return
	}
	pieces := mostDrawn/2 - 1
	keep(0)
	for k := range pieces {
		from, to := 1+k*(n-2)/pieces, 1+(k+1)*(n-2)/pieces
		low, high, void := from, from, -1
		for i := from; i < to; i++ {
			switch e := elevations[i]; {
			case math.IsNaN(e):
				void = i
			case e < elevations[low] || math.IsNaN(elevations[low]):
				low = i
			case e > elevations[high] || math.IsNaN(elevations[high]):
				high = i
			}
		}
		if void >= 0 {
			keep(void)
			continue
		}
		keep(min(low, high))
		if low != high {
			keep(max(low, high))
		}
	}
	keep(n - 1)
}

// crossings are where a profile crosses contour levels.
func crossings(distances, elevations []float64, levels contour.Levels) [][3]float64 {
	if !(levels.Interval > 0) {
		return nil
	}
	var out [][3]float64
	for i := 1; i < len(distances); i++ {
		a, b := elevations[i-1], elevations[i]
		if math.IsNaN(a) || math.IsNaN(b) {
			continue
		}
		from, to, step := levels.Below(a)+1, levels.Below(b)+1, 1
		if to < from {
			from, to, step = from-1, to-1, -1
		}
		for j := from; j != to; j += step {
			e := levels.Elevation(j)
			index := 0.0
			if levels.Kind(j) == contour.Index {
				index = 1
			}
			out = append(out, [3]float64{distances[i-1] + (distances[i]-distances[i-1])*(e-a)/(b-a), e, index})
		}
	}
	return out
}

// Figures are those of the leg's profile.
func (a *LegAnswer) Figures() (*ProfileFigures, error) { return a.Profile().Figures(a.Climb.Steep) }

// LegDrawn is a leg on the plane: x and y in turn.
type LegDrawn struct {
	Line []float64 `json:"line" round:"2"`
	// Drift is the ring round where one may be on the compass alone, 19 times in 20.
	Drift []float64 `json:"drift" round:"2"`
	// Steep are parts of 30 degrees or more, of the ground in any direction, and
	// Hidden parts out of sight from the start.
	Steep  [][]float64 `json:"steep" round:"2"`
	Hidden [][]float64 `json:"hidden" round:"2"`
	// Marks are those of the sightings, in order.
	Marks []MarkDrawn `json:"marks"`
}

// MarkDrawn is a mark and the ray to it from where it is chosen.
type MarkDrawn struct {
	Label string `json:"label"`
	Name  string `json:"name"`
	// Words are the sighting's.
	Words     string    `json:"words"`
	X         float64   `json:"x" round:"2"`
	Y         float64   `json:"y" round:"2"`
	DistanceM float64   `json:"distance_m" round:"1"`
	TrueDeg   float64   `json:"true_deg" round:"2"`
	Ray       []float64 `json:"ray" round:"2"`
	Behind    bool      `json:"behind"`
}

// Drawn lays the leg on the plane; words are in these units.
func (a *LegAnswer) Drawn(c *Chart, u units.System) (*LegDrawn, error) {
	out := &LegDrawn{Marks: []MarkDrawn{}}
	var err error
	if out.Line, err = a.LineOn(c); err != nil {
		return nil, err
	}
	if out.Drift, err = a.driftRing(c); err != nil {
		return nil, err
	}
	parts := func(line *profile.Leg, list [][2]float64) ([][]float64, error) {
		var all [][]float64
		for _, s := range list {
			part, err := c.line(line, s[0], min(s[1], line.Distance))
			if err != nil {
				return nil, err
			}
			all = append(all, part)
		}
		return all, nil
	}
	var steep [][2]float64
	for _, s := range a.Climb.GroundSteep {
		steep = append(steep, [2]float64{s.FromM, s.ToM})
	}
	if out.Steep, err = parts(a.leg, steep); err != nil {
		return nil, err
	}
	d, err := ProfileDrawing(a.Profile())
	if err != nil {
		return nil, err
	}
	if out.Hidden, err = parts(a.line, d.Hidden); err != nil {
		return nil, err
	}
	if a.wayside == nil {
		return out, nil
	}
	for i := range a.wayside.plan.Steps {
		s := &a.wayside.plan.Steps[i]
		if s.Kind != chain.Sighted {
			continue
		}
		m := s.Mark
		drawn := MarkDrawn{Label: string(rune('A' + len(out.Marks)%26)), Name: m.Name, Words: s.Sentence(u, a.DistanceM), DistanceM: m.Away, TrueDeg: float64(m.Bearing), Behind: m.Behind}
		if drawn.X, drawn.Y, err = c.XY(m.Place); err != nil {
			return nil, err
		}
		if drawn.Ray, err = c.between(a.leg.PlaceAt(s.From), m.Place); err != nil {
			return nil, err
		}
		out.Marks = append(out.Marks, drawn)
	}
	return out, nil
}

// driftRing is the strip in which one stays on the compass, as a ring.
func (a *LegAnswer) driftRing(c *Chart) ([]float64, error) {
	strip := a.onBearing.Strip(a.leg.Distance / 16)
	n := len(strip)
	x, y := make([]float64, 2*n), make([]float64, 2*n)
	for i, edge := range strip {
		at := a.leg.PlaceAt(edge.Distance)
		along := geodesy.Inverse(at, a.leg.To).Start
		if edge.Distance >= a.leg.Distance {
			along = geodesy.NewTrueBearing(geodesy.Degrees(geodesy.Inverse(a.leg.To, a.leg.From).Start) + 180)
		}
		for side, k := range map[geodesy.Degrees]int{-90: i, 90: 2*n - 1 - i} {
			p, _ := geodesy.Direct(at, geodesy.NewTrueBearing(geodesy.Degrees(along)+side), edge.HalfWidth)
			x[k], y[k] = float64(p.Lon), float64(p.Lat)
		}
	}
	return c.laid(x, y)
}
