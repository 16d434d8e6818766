package answer

import (
	"context"
	"math"

	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/visibility/scene"
)

// PanoramaDrawn is the skyline as a strip to draw, and what can be picked out on it
// and before it.
type PanoramaDrawn struct {
	Strip StripDrawn `json:"strip"`
	// Ridges are edges within the view: bearing, angle and distance in turn.
	Ridges [][]float64  `json:"ridges" round:"2"`
	Things []ThingDrawn `json:"things"`
}

// StripDrawn is the skyline by true bearing from 0, a step apart; NaN where no
// ground is known.
type StripDrawn struct {
	StepDeg    float64   `json:"step_deg"`
	Angles     []float64 `json:"angle_deg" round:"3"`
	Distances  []float64 `json:"distance_m" round:"0"`
	Elevations []float64 `json:"elevation_m" round:"0"`
	X          []float64 `json:"x" round:"0"`
	Y          []float64 `json:"y" round:"0"`
}

// ThingDrawn is something to be picked out, and the ray to it.
type ThingDrawn struct {
	Name        string     `json:"name"`
	Kind        scene.Kind `json:"kind"`
	Words       string     `json:"words"`
	TrueDeg     float64    `json:"true_deg" round:"1"`
	MagneticDeg float64    `json:"magnetic_deg" round:"1"`
	AngleDeg    float64    `json:"angle_deg" round:"2"`
	DistanceM   float64    `json:"distance_m" round:"0"`
	ElevationM  float64    `json:"elevation_m" round:"0"`
	X           float64    `json:"x" round:"2"`
	Y           float64    `json:"y" round:"2"`
	Ray         []float64  `json:"ray" round:"2"`
}

// Drawn is the skyline as a strip on the plane, with what can be recognised from
// there within policy.MarkFar, worded in these units. r is what was asked.
func (a *SkylineAnswer) Drawn(ctx context.Context, c *Chart, r SkylineRequest, u units.System) (*PanoramaDrawn, error) {
	out := &PanoramaDrawn{Ridges: [][]float64{}, Things: []ThingDrawn{}}
	points := a.found.Points
	out.Strip.StepDeg = 360 / float64(len(points))
	var lon, lat []float64
	var known []int
	for i, p := range points {
		out.Strip.Angles, out.Strip.Distances, out.Strip.Elevations = append(out.Strip.Angles, float64(p.Angle)), append(out.Strip.Distances, p.Distance), append(out.Strip.Elevations, p.Elevation)
		out.Strip.X, out.Strip.Y = append(out.Strip.X, nan), append(out.Strip.Y, nan)
		if !math.IsNaN(float64(p.Angle)) {
			lon, lat, known = append(lon, float64(p.Place.Lon)), append(lat, float64(p.Place.Lat)), append(known, i)
		}
	}
	if err := c.Project(lon, lat); err != nil {
		return nil, err
	}
	for k, i := range known {
		out.Strip.X[i], out.Strip.Y[i] = lon[k], lat[k]
	}
	view, err := c.ground.panorama(ctx, r)
	if err != nil {
		return nil, err
	}
	for _, edge := range view.Edges() {
		flat := make([]float64, 0, 3*len(edge))
		for _, p := range edge {
			flat = append(flat, float64(p.Bearing), float64(p.Angle), p.Distance)
		}
		out.Ridges = append(out.Ridges, flat)
	}
	for _, t := range view.Things {
		d := ThingDrawn{
			Name: t.Name, Kind: t.Kind, Words: view.Describe(t, u), TrueDeg: float64(t.Bearing), MagneticDeg: nan, AngleDeg: float64(t.Angle), DistanceM: t.Distance, ElevationM: t.Elevation,
		}
		if a.Declination != nil {
			d.MagneticDeg = float64(a.field.Declination.Magnetic(t.Bearing))
		}
		if d.X, d.Y, err = c.XY(t.Place); err != nil {
			return nil, err
		}
		if d.Ray, err = c.between(r.From.LatLon, t.Place); err != nil {
			return nil, err
		}
		out.Things = append(out.Things, d)
	}
	return out, nil
}

// panorama is what can be picked out from a place.
func (g *Ground) panorama(ctx context.Context, r SkylineRequest) (*scene.View, error) {
	where := []geodesy.LatLon{r.From.LatLon}
	w, _, err := g.everyNth(where, policy.MarkFar, 0)
	if err != nil {
		return nil, err
	}
	spacing, err := g.spacingIn(w)
	if err != nil {
		return nil, err
	}
	coarser := math.Sqrt(float64(w.Columns) * float64(w.Rows) / float64(policy.MarkPosts))
	grid, _, err := g.thinned(ctx, where, policy.MarkFar, spacing*math.Ceil(coarser), horizonPostBytes)
	if err != nil {
		return nil, err
	}
	observer, err := r.Sighting.standing(grid, r.From)
	if err != nil {
		return nil, err
	}
	o := scene.DefaultOptions()
	o.Refraction, o.Radius, o.VerticalError, o.Places = r.Sighting.Refraction, policy.MarkFar, g.verticalError, withPlaces(nil, r.Places)
	view, err := scene.NewGround(grid).Look(ctx, observer, o)
	if err != nil {
		return nil, err
	}
	if field, err := r.Needle.at(r.From.LatLon, view.GroundElevation); err == nil {
		view.Dial = func(b geodesy.TrueBearing) string { return r.Compass.dial(b, field) }
	}
	return view, nil
}

// LineOn is the sight on the plane, x and y in turn.
func (a *SightAnswer) LineOn(c *Chart) ([]float64, error) {
	return c.between(a.From.LatLon(), a.To.LatLon())
}

// Figures are those of the sight's profile; lines must have been asked for.
func (a *SightAnswer) Figures() (*ProfileFigures, error) { return a.Profile().Figures(nil) }

// CourseThrough is a route through these turning points, named after the places
// they stand on.
func CourseThrough(turns, named []Place) *Course {
	c := &Course{Turns: turns}
	c.NameAfter(named)
	return c
}
