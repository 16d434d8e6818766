package answer

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/dem/units"
)

// landformKinds are the kinds of landform, in the order they are listed.
var landformKinds = []landform.Kind{
	landform.Hill, landform.Saddle, landform.Ridge, landform.Spur, landform.Valley, landform.Draw, landform.Depression, landform.Cliff,
}

// LandformKinds are the kinds of landform, in the order they are listed.
func LandformKinds() []landform.Kind { return slices.Clone(landformKinds) }

// mostFeatureRadius bounds the ground that landforms are looked for on, metres.
const mostFeatureRadius = 100e3

// FeaturesRequest asks for the landforms round a place.
type FeaturesRequest struct {
	Around Place
	// Radius, metres: a landform counts if any part of it is within.
	Radius float64
	// Scale is the distance within which a shape must show, MinRelief the least
	// it must stand out by, metres; 0 takes the policy's for the data.
	Scale, MinRelief float64
	// MinConfidence leaves out what is less sure.
	MinConfidence float64
	// Kinds to list; none is all.
	Kinds []landform.Kind
}

// Check refuses what makes no sense.
func (r FeaturesRequest) Check() error {
	switch {
	case !(r.Radius > 0 && r.Radius <= mostFeatureRadius):
		return wrongf("a radius of %g m: give one above 0 and up to 100 km", r.Radius)
	case !(r.Scale >= 0 && r.Scale <= mostFeatureRadius):
		return wrongf("a scale of %g m: give one above 0 and up to 100 km", r.Scale)
	case !(r.MinRelief >= 0 && r.MinRelief <= 10e3):
		return wrongf("a least relief of %g m: give one above 0 and up to 10 km", r.MinRelief)
	case !(r.MinConfidence >= 0 && r.MinConfidence <= 1):
		return wrongf("a confidence of %g: give a share from 0 to 1", r.MinConfidence)
	}
	for _, k := range r.Kinds {
		if !slices.Contains(landformKinds, k) {
			return wrongf("%q is no kind of landform: the kinds are hill, saddle, ridge, spur, valley, draw, depression and cliff", k)
		}
	}
	return nil
}

// Reach is farther than the radius: a summit's prominence and a valley's
// catchment reach beyond.
func (r FeaturesRequest) Reach() Reach {
	return Reach{Places: []geodesy.LatLon{r.Around.LatLon}, Margin: r.Radius + policy.MarkMargin}
}

// FeaturesAnswer are the landforms round a place.
type FeaturesAnswer struct {
	// The place asked about.
	Around Spot `json:"around"`
	// How far round it was looked.
	RadiusM float64 `json:"radius_m"`
	// The distance within which a shape had to show.
	ScaleM float64 `json:"scale_m" round:"1"`
	// The least a landform had to stand out by.
	MinReliefM float64 `json:"min_relief_m" round:"1"`
	// Landforms less sure than this share are left out.
	MinConfidence float64 `json:"min_confidence"`
	// The landforms.
	Features []Feature `json:"features"`
	// The files written.
	Written []string `json:"written"`
	// The data the answer rests on.
	ElevationData ElevationData `json:"elevation_data"`
	// What always holds.
	Cautions []string `json:"cautions"`

	request FeaturesRequest
}

var _ = register[FeaturesAnswer]("dem features")

// Feature is a landform.
type Feature struct {
	// What it is: "hill", "saddle" and so on.
	Kind landform.Kind `json:"kind"`
	// Its own place: a summit, the lowest post of a saddle or depression, the
	// middle of a line, the steepest post of a cliff.
	Place Spot `json:"place"`
	// How far off that is.
	DistanceM float64 `json:"distance_m" round:"1"`
	// Its bearing from true north.
	TrueDeg float64 `json:"true_deg" round:"2"`
	// The nearest part of a landform that is a line or has an area.
	Nearest *FeaturePart `json:"nearest,omitempty"`
	// How wide a hill or depression is, how long a line or cliff; of a saddle
	// the way to the lower of its two summits.
	SizeM float64 `json:"size_m" round:"0"`
	// By how much it stands out.
	ReliefM float64 `json:"relief_m" round:"1"`
	// Highest less lowest post of a line.
	FallM float64 `json:"fall_along_m" round:"1"`
	// How sure it is, from 0 to 1: that the data's errors did not make it, and
	// how well it fits the definition.
	Confidence float64 `json:"confidence" round:"3"`
	// Why it was taken for one, in metres.
	Reason string `json:"reason"`
	// Its post, or part of its line, was a void and has been filled.
	Filled bool `json:"on_filled_ground,omitempty"`
	// The line of a ridge, spur, valley or draw: longitude and latitude, as in
	// GeoJSON.
	Line [][2]float64 `json:"line_lon_lat,omitempty" round:"7"`

	reason landform.Sentence
}

// Why is the reason, its lengths yet to be written.
func (f *Feature) Why() landform.Sentence { return f.reason }

// FeaturePart is where a landform comes nearest to the place asked about.
type FeaturePart struct {
	// How far off: 0 where the place lies on it.
	DistanceM float64 `json:"distance_m" round:"1"`
	// Its bearing from true north.
	TrueDeg float64 `json:"true_deg" round:"2"`
	// Where it is.
	Place Spot `json:"place"`
}

// Features answers a FeaturesRequest.
func Features(ctx context.Context, g *Ground, r FeaturesRequest) (*FeaturesAnswer, error) {
	reach := r.Reach()
	spacing, err := g.spacingAround(reach.Places, reach.Margin)
	if err != nil {
		return nil, err
	}
	options := landformOptions(spacing, g.verticalError)
	if r.Scale > 0 {
		options.Scale = r.Scale
	}
	if r.MinRelief > 0 {
		options.MinRelief = r.MinRelief
	}
	options.Kinds, options.Progress = r.Kinds, progress(ctx, "looking for landforms")
	// the library's zero is its default
	options.MinConfidence = max(r.MinConfidence, math.SmallestNonzeroFloat64)
	apart := landformPosts(options)
	grid, step, err := g.thinned(ctx, reach.Places, reach.Margin, apart, landformPostBytes)
	if err != nil {
		return nil, err
	}
	elevation, err := dem.ElevationAt(grid, r.Around.LatLon)
	if err != nil {
		return nil, err
	}
	if options, err = options.Resolve(grid); err != nil {
		return nil, wrongRequest{err}
	}
	found, err := landform.Features(ctx, grid, options)
	if err != nil {
		return nil, err
	}
	if spacing, err = gridSpacing(grid); err != nil {
		return nil, err
	}
	a := &FeaturesAnswer{
		Around: spot(r.Around, elevation), RadiusM: r.Radius, ScaleM: options.Scale, MinReliefM: options.MinRelief,
		MinConfidence: r.MinConfidence, Cautions: cautions, request: r,
	}
	if err := a.add(grid, r, found); err != nil {
		return nil, err
	}
	if err := a.addCliffs(ctx, g, r, options, apart); err != nil {
		return nil, err
	}
	a.ElevationData = g.describe(spacing, step)
	return a, nil
}

// add lists those of the landforms of a grid any part of which is within the
// radius.
func (a *FeaturesAnswer) add(grid *dem.Grid, r FeaturesRequest, found []landform.Feature) error {
	column, row, err := grid.Locate(r.Around.LatLon)
	if err != nil {
		return err
	}
	ruler, err := landform.NewRuler(&grid.Frame, r.Radius, landform.Position{Column: column, Row: row})
	if err != nil {
		return err
	}
	for i := range found {
		f := &found[i]
		nearest, near, err := ruler.Nearest(f)
		if err != nil {
			return err
		}
		if !near {
			continue
		}
		line, err := f.LineString(&grid.Frame)
		if err != nil {
			return err
		}
		one := feature(r.Around.LatLon, f, nearest, line, dem.Bilinear(grid, nearest.Part.Column, nearest.Part.Row))
		one.Filled = onFilled(grid, f)
		a.Features = append(a.Features, one)
	}
	return nil
}

// addCliffs looks for cliffs over again where posts were left out that stand
// closer together than the least relief: a cliff is no wider than that at any
// scale, and its step would be lost between them. apart is the spacing that
// posts were thinned to, metres.
func (a *FeaturesAnswer) addCliffs(ctx context.Context, g *Ground, r FeaturesRequest, options landform.FeatureOptions, apart float64) error {
	if options.MinRelief >= apart || !slices.Contains(options.Kinds, landform.Cliff) {
		return nil
	}
	reach := r.Reach()
	_, coarse, err := g.everyNth(reach.Places, reach.Margin, apart)
	if err != nil {
		return err
	}
	w, fine, err := g.everyNth(reach.Places, reach.Margin, options.MinRelief)
	if err != nil || fine == coarse {
		return err
	}
	grid, err := dem.ReadEvery(ctx, g.bounded(landformPostBytes), w, fine)
	if err != nil {
		return err
	}
	options.Kinds, options.Progress = []landform.Kind{landform.Cliff}, nil
	cliffs, err := landform.Features(ctx, grid, options)
	if err != nil {
		return err
	}
	a.Features = slices.DeleteFunc(a.Features, func(f Feature) bool { return f.Kind == landform.Cliff })
	return a.add(grid, r, cliffs)
}

// feature measures from a place to a landform's own place, and to its nearest
// part, of some elevation, where it has more than the one place.
func feature(from geodesy.LatLon, f *landform.Feature, nearest landform.Nearest, line orb.LineString, elevation float64) Feature {
	way := geodesy.Inverse(from, f.Place)
	out := Feature{
		Kind: f.Kind, Place: spot(PlaceAt(f.Place), f.Elevation), DistanceM: way.Distance, TrueDeg: float64(way.Start), SizeM: f.Size,
		ReliefM: f.Relief, FallM: f.Fall, Confidence: f.Confidence, Reason: f.Reason.Text(landform.Lengths{}), reason: f.Reason,
	}
	for _, q := range line {
		out.Line = append(out.Line, q)
	}
	if len(line) > 0 || f.Parts != nil {
		out.Nearest = &FeaturePart{nearest.Distance, float64(nearest.Bearing), spot(PlaceAt(nearest.Place), elevation)}
	}
	return out
}

// onFilled reports whether a landform lies on filled ground: its post, or any
// of its line or of the ground it covers.
func onFilled(grid *dem.Grid, f *landform.Feature) bool {
	if grid.IsFilled(f.Column, f.Row) {
		return true
	}
	for _, q := range f.Line {
		if dem.FilledAt(grid, q.Column, q.Row) {
			return true
		}
	}
	for _, part := range f.Parts {
		for _, p := range part {
			for _, q := range part {
				for column := p.Column; p.Row == q.Row && column <= q.Column; column++ {
					if dem.FilledAt(grid, column, p.Row) {
						return true
					}
				}
			}
		}
	}
	return false
}

// featureLines are the kinds of landform that are lines, featurePoints those
// that are points.
var (
	featureLines  = []landform.Kind{landform.Ridge, landform.Spur, landform.Valley, landform.Draw}
	featurePoints = []landform.Kind{landform.Hill, landform.Saddle, landform.Depression, landform.Cliff}
)

// CheckFile refuses a name of a file that the landforms asked for cannot be
// written to. Shapefiles and FlatGeobuf hold one shape, so that they can have
// the kinds that are points, or those that are lines, and not both.
func (r FeaturesRequest) CheckFile(path string) error {
	driver, err := gdalio.VectorDriver(path)
	if err != nil {
		return wrongRequest{err}
	}
	points, lines := r.shapes()
	if oneShape(driver) && points && lines {
		return wrongf("%s holds points or lines, and landforms are both: use .geojson, .gpkg, .gpx or .kml, which hold both, or write two files: kinds %s in one, %s in the other",
			path, kindNames(featurePoints), kindNames(featureLines))
	}
	return nil
}

// shapes says whether kinds that are points, and kinds that are lines, are
// asked for.
func (r FeaturesRequest) shapes() (points, lines bool) {
	if len(r.Kinds) == 0 {
		return true, true
	}
	has := func(of []landform.Kind) bool {
		return slices.ContainsFunc(r.Kinds, func(k landform.Kind) bool { return slices.Contains(of, k) })
	}
	return has(featurePoints), has(featureLines)
}

// oneShape reports whether a format holds one layer of one shape.
func oneShape(driver string) bool { return driver == gdalio.Shapefile || driver == gdalio.FlatGeobuf }

func kindNames(kinds []landform.Kind) string {
	names := make([]string, len(kinds))
	for i, k := range kinds {
		names[i] = string(k)
	}
	return strings.Join(names, ",")
}

// Export writes the landforms to a file that CheckFile lets through, lines
// beside the points, and has the answer name it. A format of one shape gets the
// lines alone where kinds that are lines are asked for. Figures are metres, and
// their names say so; what GPX and KML say in words, which a person reads on a
// receiver, is in the units asked for.
func (a *FeaturesAnswer) Export(ctx context.Context, path string, u units.System) error {
	driver, err := gdalio.VectorDriver(path)
	if err != nil {
		return wrongRequest{err}
	}
	fields := []gdalio.Field{
		{Name: "name", Type: gdalio.Text}, {Name: "kind", Type: gdalio.Text}, {Name: "elevation_m", Type: gdalio.Real}, {Name: "size_m", Type: gdalio.Real},
		{Name: "relief_m", Type: gdalio.Real}, {Name: "confidence", Type: gdalio.Real}, {Name: "reason", Type: gdalio.Text},
	}
	if driver == gdalio.Shapefile { // ten characters are all it keeps
		fields[2].Name = "elev_m"
	}
	points := gdalio.Layer{Name: "landforms", Shape: gdalio.Points, Fields: fields}
	lines := gdalio.Layer{Name: "landform_lines", Shape: gdalio.Lines, Fields: fields}
	if driver == gdalio.GPX { // its own fields, and no others
		lines.Fields = []gdalio.Field{{Name: "name", Type: gdalio.Text}, {Name: "type", Type: gdalio.Text}, {Name: "desc", Type: gdalio.Text}}
		points.Fields = append(lines.Fields[:3:3], gdalio.Field{Name: "ele", Type: gdalio.Real})
	}
	count := map[landform.Kind]int{}
	for _, f := range a.Features {
		count[f.Kind]++
		name := fmt.Sprintf("%s %d", f.Kind, count[f.Kind])
		var elevation any
		if !math.IsNaN(f.Place.ElevationM) {
			elevation = Rounded(f.Place.ElevationM, 1)
		}
		reason := f.Reason
		if u == units.US && (driver == gdalio.GPX || driver == gdalio.KML) {
			reason = f.reason.Text(landform.Lengths{Distance: u.Distance, Height: u.Height})
		}
		if f.Filled {
			reason += "; it lies on ground " + FilledWords
		}
		values := []any{name, string(f.Kind), elevation, Rounded(f.SizeM, 0), Rounded(f.ReliefM, 1), Rounded(f.Confidence, 3), reason}
		atPoint := values
		if driver == gdalio.GPX {
			values = []any{name, string(f.Kind), reason}
			atPoint = append(values[:3:3], elevation)
		}
		at := func(lon, lat float64) orb.Point { return orb.Point{Rounded(lon, 7), Rounded(lat, 7)} }
		points.Features = append(points.Features, gdalio.Feature{Geometry: at(f.Place.Lon, f.Place.Lat), Values: atPoint})
		if len(f.Line) >= 2 {
			var line orb.LineString
			for _, q := range f.Line {
				line = append(line, at(q[0], q[1]))
			}
			lines.Features = append(lines.Features, gdalio.Feature{Geometry: line, Values: values})
		}
	}
	layers := []gdalio.Layer{points}
	switch driver {
	case gdalio.Shapefile, gdalio.FlatGeobuf:
		if of, _ := a.request.shapes(); !of {
			layers = []gdalio.Layer{lines}
		}
	case gdalio.GeoJSON, gdalio.DXF:
		points.Shape, points.Features = gdalio.Mixed, append(points.Features, lines.Features...)
		layers = []gdalio.Layer{points}
	case gdalio.GeoPackage, gdalio.KML, gdalio.GPX:
		if len(lines.Features) > 0 {
			layers = append(layers, lines)
		}
	}
	if err := gdalio.WriteFeatures(ctx, path, driver, layers...); err != nil {
		return err
	}
	a.Written = []string{path}
	return nil
}

// FilledWords is what is said of ground that was a void.
const FilledWords = "filled in from the rim of a void"

// ParseLandformKinds reads kinds by their names, in any case.
func ParseLandformKinds(names []string) ([]landform.Kind, error) {
	var out []landform.Kind
	for _, text := range names {
		k := landform.Kind(strings.ToLower(strings.TrimSpace(text)))
		if !slices.Contains(landformKinds, k) {
			return nil, wrongf("%s: give hill, saddle, ridge, spur, valley, draw, depression or cliff", text)
		}
		out = append(out, k)
	}
	return out, nil
}
