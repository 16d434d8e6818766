package answer

import (
	"context"
	"fmt"
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"

	"crowline/contour"
	"crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/dem/outfile"
	"crowline/dem/units"
	"crowline/visibility/vantage"
)

// ScoreMeans is what the score of a post is, for a key and a band.
func (a *VantageAnswer) ScoreMeans() string {
	switch a.Kind {
	case VantageSee:
		return "share of the marks that are seen"
	case VantageWatch:
		return "share of the leg's places at which the walker is seen"
	}
	return "worth to a class, by the marks that are seen"
}

// GeoTIFF writes the score of every post, how many marks it sees and of how many it
// is not known, and whether it is good ground to stand on.
func (a *VantageAnswer) GeoTIFF(ctx context.Context, path string) ([]string, error) {
	n := len(a.score)
	score, seen, unknown, stand := make([]float32, n), make([]byte, n), make([]byte, n), make([]byte, n)
	for i := range score {
		score[i], seen[i], unknown[i], stand[i] = a.score[i], byte(a.visible[i]), byte(a.unknown[i]), byte(a.stand[i])
		if !a.area.In(i) || a.stand[i] == vantage.Void && a.visible[i] == 0 {
			score[i] = float32(math.NaN())
		}
	}
	return []string{path}, gdalio.WriteGeoTIFF(ctx, path, &a.area.Frame, []gdalio.Band{
		{Name: "score", Description: a.ScoreMeans() + "; NaN where not asked or the ground is not known", Float32: score},
		{Name: "marks seen", Description: fmt.Sprintf("how many of %d are seen from the post", a.lookedFor()), Bytes: seen},
		{Name: "marks not known", Description: "of how many that is not known", Bytes: unknown},
		{Name: "ground", Description: "0 not asked, 1 good to stand on, 2 beside ground with no elevation, 3 too steep, 4 near a cliff", Bytes: stand},
	})
}

// lookedFor is how many marks, or places of a leg, were looked from.
func (a *VantageAnswer) lookedFor() int {
	if a.Watched != nil {
		return a.Watched.Places
	}
	return len(a.Marks)
}

// GeoJSON writes the standpoints, best first, as points.
func (a *VantageAnswer) GeoJSON(_ context.Context, path string) ([]string, error) {
	collection := geojson.NewFeatureCollection()
	collection.ExtraMembers = geojson.Properties{}
	for key, v := range map[string]any{"assumptions": a.Assumptions, "elevation_data": a.ElevationData, "around": a.Around} {
		text, err := encoded(v)
		if err != nil {
			return nil, err
		}
		collection.ExtraMembers[key] = text
	}
	for i := range a.Standpoints {
		s := &a.Standpoints[i]
		f := geojson.NewFeature(pointOf(s.At))
		f.Properties = geojson.Properties{
			"rank": s.Rank, "why": s.Why, "score": Rounded(s.Score, 4), "worth": Rounded(s.Worth, 4), "distance_m": Rounded(s.DistanceM, 1),
			"true_deg": Rounded(s.TrueDeg, 2), "marks_seen": s.MarksSeen, "good_ground": s.GoodGround,
		}
		if !math.IsNaN(s.At.ElevationM) {
			f.Properties["elevation_m"] = Rounded(s.At.ElevationM, 1)
		}
		collection.Append(f)
	}
	body, err := collection.MarshalJSON()
	if err != nil {
		return nil, err
	}
	return []string{path}, outfile.Write(outfile.File{Path: path, Body: body})
}

// GPX writes the standpoints as waypoints.
func (a *VantageAnswer) GPX(ctx context.Context, path string) ([]string, error) {
	points := gdalio.Layer{Shape: gdalio.Points, Fields: []gdalio.Field{
		{Name: "name", Type: gdalio.Text}, {Name: "type", Type: gdalio.Text}, {Name: "desc", Type: gdalio.Text}, {Name: "ele", Type: gdalio.Real}}}
	for i := range a.Standpoints {
		s := &a.Standpoints[i]
		points.Features = append(points.Features, gdalio.Feature{Geometry: pointOf(s.At),
			Values: []any{fmt.Sprintf("stand %d", s.Rank), "standpoint", s.Why, Rounded(s.At.ElevationM, 1)}})
	}
	return []string{path}, gdalio.WriteFeatures(ctx, path, gdalio.GPX, points)
}

func pointOf(s Spot) orb.Point {
	return orb.Point{Rounded(s.Lon, decimalsOf("lon")), Rounded(s.Lat, decimalsOf("lat"))}
}

// vantageSteps of the tint of a score: fifths, the least without a tint.
const vantageSteps = 4

// Tint is the score in steps, of the best post's: ground that is worth less than a
// fifth of it has none.
func (a *VantageAnswer) tint() *sheet.Tint {
	t := &sheet.Tint{Frame: &a.area.Frame, Step: make([]uint8, len(a.score))}
	steps := vantageSteps
	switch a.Kind {
	case VantageSee:
		steps = min(len(a.Marks), vantageSteps)
		t.Without = "No mark is seen"
	case VantageWatch:
		t.Without = "Less of it, or none"
	default:
		t.Without = "Less, or no marks"
	}
	for k := 1; k <= steps; k++ {
		switch {
		case a.Kind == VantageSee && steps == len(a.Marks) && steps == 1:
			t.Steps = append(t.Steps, "The mark is seen")
		case a.Kind == VantageSee && steps == len(a.Marks):
			t.Steps = append(t.Steps, fmt.Sprintf("%d of %d marks seen", k, steps))
		case a.Kind == VantageSee:
			t.Steps = append(t.Steps, fmt.Sprintf("%d to %d %% of the marks", 100*(k-1)/steps, 100*k/steps))
		case a.Kind == VantageWatch:
			t.Steps = append(t.Steps, fmt.Sprintf("%d to %d %% of the leg seen", 100*k/(steps+1), 100*(k+1)/(steps+1)))
		default:
			t.Steps = append(t.Steps, fmt.Sprintf("%d to %d %% of the best worth", 100*k/(steps+1), 100*(k+1)/(steps+1)))
		}
	}
	for i, s := range a.score {
		if !a.area.In(i) {
			t.Step[i] = sheet.NotMeasured
			continue
		}
		if !(s > 0) || !(a.best > 0) {
			continue
		}
		share := float64(s) / a.best
		if a.Kind == VantageSee {
			t.Step[i] = uint8(math.Ceil(share*float64(steps) - 1e-6))
		} else {
			t.Step[i] = uint8(min(steps, int(share*float64(steps+1))))
		}
	}
	return t
}

// Scored is the score as a picture on the chart: cells are 0 where no post was
// asked, 1 where there is no tint, and from 2 on the steps that names tells, from
// the least.
func (a *VantageAnswer) Scored(ctx context.Context, c *Chart) (t *Tint, without string, names []string, err error) {
	drawn := a.tint()
	cells := make([]byte, len(drawn.Step))
	for i, step := range drawn.Step {
		if step != sheet.NotMeasured {
			cells[i] = step + 1
		}
	}
	t = &Tint{From: a.Around}
	return t, drawn.Without, drawn.Steps, c.lay(ctx, t, drawn.Frame, cells)
}

// Draw has the score as a tint on one page of paper, with the standpoints by their
// numbers, at the largest round scale that shows all that was asked about. words is
// called with the map once it has them, and puts titles and notes on it.
func (a *VantageAnswer) Draw(ctx context.Context, g *Ground, paper page.Paper, words func(*sheet.Plan)) (*page.Document, error) {
	plan := g.mapOf()
	plan.Paper, plan.Date, plan.Relief, plan.Tint = paper, a.request.Day, policy.ViewRelief, a.tint()
	plan.Declination = magneticNorth(a.Around.LatLon(), a.Around.ElevationM, a.request.Needle)
	places := []geodesy.LatLon{a.Around.LatLon()}
	point := func(name string, s Spot) {
		plan.Points = append(plan.Points, sheet.Place{Name: name, At: s.LatLon(), Elevation: s.ElevationM})
	}
	for i := range a.Standpoints {
		point(fmt.Sprint(i+1), a.Standpoints[i].At)
	}
	if own := a.Around; own.Name != "" {
		point(own.Name, own)
	} else {
		own.Name = "asked about"
		point(own.Name, own)
	}
	if w := a.Watched; w != nil {
		plan.Leg = &sheet.Leg{From: sheet.Place{Name: w.From.Name, At: w.From.LatLon(), Elevation: w.From.ElevationM}, To: sheet.Place{Name: w.To.Name, At: w.To.LatLon(), Elevation: w.To.ElevationM}}
		plan.WithoutProfile = true
		places = append(places, w.From.LatLon(), w.To.LatLon())
	}
	words(&plan)
	plan, err := plan.FitScale(&a.area.Frame, places...)
	if err != nil {
		return nil, err
	}
	lines := DefaultLines()
	lines.Scale = plan.Scale * policy.ViewSparser
	if plan.Units == units.US {
		lines.Interval.Unit = contour.Foot
	}
	if _, err := g.contoured(ctx, &plan, lines, policy.DrawnPost*plan.Scale, sheetPostBytes); err != nil {
		return nil, err
	}
	a.scale = plan.Scale
	return sheet.Compose(ctx, plan)
}

// MapScale is the scale the map was drawn at, 0 where there is none.
func (a *VantageAnswer) MapScale() float64 { return a.scale }
