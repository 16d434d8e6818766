package cli

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"github.com/paulmach/orb"
	"github.com/spf13/cobra"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
)

const (
	// defaultFeatureRadius is how far round a place landforms are listed,
	// metres: about what a class walks in a morning.
	defaultFeatureRadius = 3000.0
	// maxFeatureRadius bounds the ground read, metres.
	maxFeatureRadius = 100e3
	// reliefErrors is how many times the heights' error a landform must stand
	// out. Two heights differ by this much through their errors alone once in
	// 30 times, and every landform's confidence says how it fares; the
	// library's five leaves a class little to look at on 90 m posts.
	reliefErrors = 3.0
	// leastRelief is the least, metres, whatever the data: half the commonest
	// contour interval, below which a shape does not show on a map.
	leastRelief = 10.0
)

var landformKinds = []landform.Kind{
	landform.Hill, landform.Saddle, landform.Ridge, landform.Spur, landform.Valley, landform.Draw, landform.Depression, landform.Cliff,
}

type demFeaturesOptions struct {
	streams Streams
	ground  groundFlags
	places  placeFlags
	output  outputFlags

	around        string
	radius        float64
	scale         float64
	relief        float64
	minConfidence float64
	kinds         []string
	out           string
	most          int
}

func newDEMFeaturesCmd(s Streams, runF func(context.Context, *demFeaturesOptions) error) *cobra.Command {
	o := &demFeaturesOptions{streams: s}
	if runF == nil {
		runF = demFeaturesRun
	}
	cmd := &cobra.Command{
		Use:   "features --around PLACE",
		Short: "List the landforms round a place",
		Long: `Find hills, saddles, ridges, spurs, valleys, draws, depressions and cliffs in
the elevation data: where each is, how large, by how much it stands out, how
sure that is and why. They are found at a scale, the distance within which a
shape must show, and stand out by a least relief; both are in the answer. One
is listed if any part of it is within --radius, and told from its nearest part.

The least relief is three times the data's stated vertical error and at least
10 m, unless --min-relief says otherwise. Less shows more and finds noise.

With -o the landforms are written as points, and ridges, spurs, valleys and
draws as lines too: GeoJSON and GeoPackage with every figure, GPX with names.`,
		Example: `  crowline dem features --around 34.3297,-118.0548 --radius 2km
  crowline dem features --around Camp --places trip.gpx --kinds hill,saddle
  crowline dem features --around 34.3297,-118.0548 -o landforms.geojson`,
		Args: exactArgs(0, "no places: say where with --around PLACE"),
		RunE: func(cmd *cobra.Command, _ []string) error { return runF(cmd.Context(), o) },
	}
	o.ground.add(cmd)
	o.places.add(cmd)
	o.output.add(cmd)
	cmd.Flags().StringVar(&o.around, "around", "", "the `place` to look round")
	cmd.Flags().Var(newLength(defaultFeatureRadius, &o.radius).within(above(0, maxFeatureRadius)), "radius", "how far round it")
	cmd.Flags().Var(newLength(0, &o.scale).within(above(0, maxFeatureRadius)), "scale", "distance within which a shape must show (default 500m, or four post spacings if that is more)")
	cmd.Flags().Lookup("scale").DefValue = ""
	cmd.Flags().Var(newLength(0, &o.relief).within(above(0, 10e3)), "min-relief", "least a landform must stand out by (default: three times the data's vertical error, at least 10m)")
	cmd.Flags().Lookup("min-relief").DefValue = ""
	cmd.Flags().Var(newNumber(0.5, &o.minConfidence, "a share", from(0, 1)), "min-confidence", "leave out landforms less sure than this `share`, from 0 to 1")
	cmd.Flags().StringSliceVar(&o.kinds, "kinds", nil, "only these `kinds`: hill, saddle, ridge, spur, valley, draw, depression, cliff")
	cmd.Flags().StringVarP(&o.out, "out", "o", "", "write them to `FILE`.geojson, .gpkg, .gpx, .kml, .fgb or .shp")
	namesFiles(cmd, filesWritten, "out")
	cmd.Flags().Var(newCount(8, &o.most, 0, mostInList), "most", "list at most this `number` of a kind in text")
	return cmd
}

// featureJSON is a landform in JSON.
type featureJSON struct {
	Kind      string  `json:"kind"`
	Place     place   `json:"place"`
	DistanceM float64 `json:"distance_m"`
	TrueDeg   float64 `json:"true_deg"`
	// Nearest is the nearest part of a landform that is a line or has an area.
	Nearest    *nearestJSON `json:"nearest,omitempty"`
	SizeM      float64      `json:"size_m"`
	ReliefM    float64      `json:"relief_m"`
	FallM      float64      `json:"fall_along_m"`
	Confidence float64      `json:"confidence"`
	Reason     string       `json:"reason"`
	// Filled: its post, or part of its line, was void and has been filled.
	Filled bool `json:"on_filled_ground,omitempty"`
	// Line is longitude and latitude, as in GeoJSON.
	Line [][2]float64 `json:"line_lon_lat,omitempty"`
}

type demFeaturesAnswer struct {
	Around        place         `json:"around"`
	RadiusM       float64       `json:"radius_m"`
	ScaleM        float64       `json:"scale_m"`
	MinReliefM    float64       `json:"min_relief_m"`
	MinConfidence float64       `json:"min_confidence"`
	Features      []featureJSON `json:"features"`
	Written       []string      `json:"written"`
	ElevationData elevationData `json:"elevation_data"`
	Cautions      []string      `json:"cautions"`
}

func (o *demFeaturesOptions) kindsAsked() ([]landform.Kind, error) {
	var out []landform.Kind
	for _, text := range o.kinds {
		found := false
		for _, k := range landformKinds {
			if strings.EqualFold(strings.TrimSpace(text), string(k)) {
				out, found = append(out, k), true
			}
		}
		if !found {
			return nil, usageErrorf("--kinds %s: it is hill, saddle, ridge, spur, valley, draw, depression or cliff", text)
		}
	}
	return out, nil
}

func (o *demFeaturesOptions) check() error {
	if o.around == "" {
		return usageErrorf("say where to look with --around PLACE")
	}
	return nil
}

// featureOptions are what landforms are looked for by, with the least relief
// in use for this data.
func (g *ground) featureOptions(scale, relief float64) landform.FeatureOptions {
	if relief == 0 {
		relief = max(leastRelief, math.Round(reliefErrors*g.verticalError))
		if g.verticalError == 0 {
			relief = 2 * leastRelief // how good the data is is not stated
		}
	}
	return landform.FeatureOptions{Scale: scale, MinRelief: relief, VerticalError: g.verticalError}
}

func demFeaturesRun(ctx context.Context, o *demFeaturesOptions) error {
	u, err := o.output.choose()
	if err != nil {
		return err
	}
	if err := o.check(); err != nil {
		return err
	}
	kinds, err := o.kindsAsked()
	if err != nil {
		return err
	}
	driver := ""
	if o.out != "" {
		if driver, err = gdalio.VectorDriver(o.out); err != nil {
			return &flagError{err}
		}
		if err := checkFolder(o.out); err != nil {
			return err
		}
	}
	around, err := o.places.resolve(o.around)
	if err != nil {
		return err
	}
	o.ground.perPost = landformPostBytes
	g, err := o.ground.open(ctx, o.streams, []geodesy.LatLon{around.LatLon}, o.radius+markMargin)
	if err != nil {
		return err
	}
	defer g.Close()
	// a summit's prominence and a valley's catchment reach beyond the radius
	scale := o.scale
	if scale == 0 {
		scale = landform.DefaultScale
	}
	grid, err := g.thinned(ctx, []geodesy.LatLon{around.LatLon}, o.radius+markMargin, scale/landformPosts)
	if err != nil {
		return err
	}
	elevation, err := dem.ElevationAt(grid, around.LatLon)
	if err != nil {
		return err
	}
	options := g.featureOptions(o.scale, o.relief)
	if u.us {
		options.Lengths = u.lengths()
	}
	options.Kinds, options.Progress = kinds, o.streams.progress("looking for landforms")
	if options.MinConfidence = o.minConfidence; o.minConfidence == 0 {
		options.MinConfidence = math.SmallestNonzeroFloat64 // the library's zero is its default
	}
	if options, err = options.Resolve(grid); err != nil {
		return usageErrorf("--scale: %w", err) // all else is in range
	}
	found, err := landform.Features(ctx, grid, options)
	if err != nil {
		return err
	}
	spacing, err := gridSpacing(grid)
	if err != nil {
		return err
	}
	a := demFeaturesAnswer{
		Around: describePlace(around, elevation), RadiusM: o.radius, ScaleM: *rounded(options.Scale, 1), MinReliefM: *rounded(options.MinRelief, 1),
		MinConfidence: o.minConfidence, Features: []featureJSON{}, Written: []string{}, ElevationData: g.describe(spacing), Cautions: cautions,
	}
	if err := a.add(grid, around.LatLon, found, o.radius); err != nil {
		return err
	}
	if err := o.addCliffs(ctx, g, around.LatLon, options, scale/landformPosts, &a); err != nil {
		return err
	}
	if o.out != "" {
		if a.Written, err = a.export(ctx, o.out, driver); err != nil {
			return err
		}
	}
	if o.output.json {
		return writeJSON(o.streams.Out, a)
	}
	p := &page{w: o.streams.Out}
	a.write(p, u, o.most)
	return p.err
}

// add lists those of the landforms of a grid any part of which is within the
// radius of a place.
func (a *demFeaturesAnswer) add(grid *dem.Grid, around geodesy.LatLon, found []landform.Feature, radius float64) error {
	column, row, err := grid.Locate(around)
	if err != nil {
		return err
	}
	ruler, err := landform.NewRuler(&grid.Frame, radius, landform.Position{Column: column, Row: row})
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
		j := describeFeature(around, f, nearest, line, dem.Bilinear(grid, nearest.Part.Column, nearest.Part.Row))
		j.Filled = onFilled(grid, f)
		a.Features = append(a.Features, j)
	}
	return nil
}

// addCliffs looks for cliffs over again where posts were left out that stand
// closer together than the least relief: a cliff is no wider than that at any
// scale, and its step would be lost between them. apart is the spacing that
// posts were thinned to, metres.
func (o *demFeaturesOptions) addCliffs(ctx context.Context, g *ground, around geodesy.LatLon, options landform.FeatureOptions, apart float64, a *demFeaturesAnswer) error {
	if options.MinRelief >= apart || !slices.Contains(options.Kinds, landform.Cliff) {
		return nil
	}
	places := []geodesy.LatLon{around}
	_, coarse, err := g.everyNth(places, o.radius+markMargin, apart)
	if err != nil {
		return err
	}
	w, fine, err := g.everyNth(places, o.radius+markMargin, options.MinRelief)
	if err != nil || fine == coarse {
		return err
	}
	grid, err := dem.ReadEvery(ctx, g.source, w, fine)
	if err != nil {
		return err
	}
	options.Kinds, options.Progress = []landform.Kind{landform.Cliff}, nil
	cliffs, err := landform.Features(ctx, grid, options)
	if err != nil {
		return err
	}
	a.Features = slices.DeleteFunc(a.Features, func(f featureJSON) bool { return f.Kind == string(landform.Cliff) })
	return a.add(grid, around, cliffs, o.radius)
}

// nearestJSON is where a landform comes nearest to the place asked about; 0 m
// where that lies on it.
type nearestJSON struct {
	DistanceM float64 `json:"distance_m"`
	TrueDeg   float64 `json:"true_deg"`
	Place     place   `json:"place"`
}

// describeFeature measures from a place to a feature's own place, and to its
// nearest part, of some elevation, where it has more than the one place.
func describeFeature(from geodesy.LatLon, f *landform.Feature, nearest landform.Nearest, line orb.LineString, elevation float64) featureJSON {
	j := featureJSON{
		Kind: string(f.Kind), Place: describePlace(namedPlace{LatLon: f.Place}, float64(f.Elevation)), SizeM: *rounded(f.Size, 0), ReliefM: *rounded(f.Relief, 1),
		FallM: *rounded(f.Fall, 1), Confidence: *rounded(f.Confidence, 3), Reason: f.Reason,
	}
	for _, q := range line {
		j.Line = append(j.Line, [2]float64{*rounded(q.Lon(), 7), *rounded(q.Lat(), 7)})
	}
	way := geodesy.Inverse(from, f.Place)
	j.DistanceM, j.TrueDeg = *rounded(way.Distance, 1), *rounded(float64(way.Start), 2)
	if len(line) > 0 || f.Parts != nil {
		j.Nearest = &nearestJSON{*rounded(nearest.Distance, 1), *rounded(float64(nearest.Bearing), 2), describePlace(namedPlace{LatLon: nearest.Place}, elevation)}
	}
	return j
}

// export writes the landforms, the lines beside the points where the format
// has room for both. It returns the files written.
func (a demFeaturesAnswer) export(ctx context.Context, path, driver string) ([]string, error) {
	fields := []gdalio.Field{
		{Name: "name", Type: gdalio.Text}, {Name: "kind", Type: gdalio.Text}, {Name: "elevation", Type: gdalio.Real}, {Name: "size", Type: gdalio.Real},
		{Name: "relief", Type: gdalio.Real}, {Name: "confidence", Type: gdalio.Real}, {Name: "reason", Type: gdalio.Text},
	}
	points := gdalio.Layer{Name: "landforms", Shape: gdalio.Points, Fields: fields}
	lines := gdalio.Layer{Name: "landform_lines", Shape: gdalio.Lines, Fields: fields}
	if driver == gdalio.GPX { // its own fields, and no others
		lines.Fields = []gdalio.Field{{Name: "name", Type: gdalio.Text}, {Name: "type", Type: gdalio.Text}, {Name: "desc", Type: gdalio.Text}}
		points.Fields = append(lines.Fields[:3:3], gdalio.Field{Name: "ele", Type: gdalio.Real})
	}
	count := map[string]int{}
	for _, f := range a.Features {
		count[f.Kind]++
		name := fmt.Sprintf("%s %d", f.Kind, count[f.Kind])
		var elevation any
		if f.Place.ElevationM != nil {
			elevation = *f.Place.ElevationM
		}
		if f.Filled {
			f.Reason += "; it lies on ground " + filledWords
		}
		values := []any{name, f.Kind, elevation, f.SizeM, f.ReliefM, f.Confidence, f.Reason}
		atPoint := values
		if driver == gdalio.GPX {
			values = []any{name, f.Kind, f.Reason}
			atPoint = append(values[:3:3], elevation)
		}
		points.Features = append(points.Features, gdalio.Feature{Geometry: orb.Point{f.Place.Lon, f.Place.Lat}, Values: atPoint})
		if len(f.Line) >= 2 {
			var line orb.LineString
			for _, q := range f.Line {
				line = append(line, orb.Point(q))
			}
			lines.Features = append(lines.Features, gdalio.Feature{Geometry: line, Values: values})
		}
	}
	layers := []gdalio.Layer{points}
	switch driver {
	case gdalio.GeoJSON:
		points.Shape, points.Features = gdalio.Mixed, append(points.Features, lines.Features...)
		layers = []gdalio.Layer{points}
	case gdalio.GeoPackage, gdalio.KML, gdalio.GPX:
		if len(lines.Features) > 0 {
			layers = append(layers, lines)
		}
	}
	return []string{path}, gdalio.WriteFeatures(ctx, path, driver, layers...)
}

// write lists the landforms by kind, those that stand out most first.
func (a demFeaturesAnswer) write(p *page, u units, most int) {
	p.head("Landforms")
	p.line("around", "%s", a.Around.text(u))
	p.line("within", "%s; shapes that show within %s and stand out %s or more", u.distance(a.RadiusM), u.distance(a.ScaleM), u.height(a.MinReliefM))
	if len(a.Features) == 0 {
		p.note("None. Try a smaller --min-relief or --scale, or a larger --radius.")
	}
	byKind := map[string][]featureJSON{}
	for _, f := range a.Features {
		byKind[f.Kind] = append(byKind[f.Kind], f)
	}
	for _, k := range landformKinds {
		list := byKind[string(k)]
		if len(list) == 0 {
			continue
		}
		sort.SliceStable(list, func(i, j int) bool { return list[i].ReliefM > list[j].ReliefM })
		p.head(fmt.Sprintf("%s: %d", k, len(list)))
		for i, f := range list {
			if i == most {
				p.note("and %d more that stand out less (--most, or --json for all)", len(list)-most)
				break
			}
			f.write(p, u)
		}
	}
	for _, w := range a.Written {
		p.printf("\n  Landforms written to %s\n", w)
	}
	p.head("Data")
	a.ElevationData.write(p, u)
	writeCautions(p)
}

func (f featureJSON) write(p *page, u units) {
	where := fmt.Sprintf("%s off towards %s", u.distance(f.DistanceM), towards(geodesy.TrueBearing(f.TrueDeg)))
	extent := "long"
	switch landform.Kind(f.Kind) {
	case landform.Hill, landform.Depression:
		extent = "wide"
	case landform.Saddle:
		extent = "from the lower summit"
	}
	what := "high"
	if landform.Kind(f.Kind) == landform.Depression || landform.Kind(f.Kind) == landform.Draw || landform.Kind(f.Kind) == landform.Valley {
		what = "deep"
	}
	elevation := ""
	if f.Place.ElevationM != nil {
		elevation = u.height(*f.Place.ElevationM) + ", "
	}
	// nothing in data with errors is 100 % sure
	p.line(fmt.Sprintf("%.0f %% sure", min(99, 100*f.Confidence)), "%.5f,%.5f, %s: %s%s %s, %s %s", f.Place.Lat, f.Place.Lon, where,
		elevation, u.height(f.ReliefM), what, u.distance(f.SizeM), extent)
	if f.Nearest != nil && f.Nearest.DistanceM < f.DistanceM {
		own := map[landform.Kind]string{landform.Cliff: "steepest part", landform.Depression: "bottom", landform.Hill: "top's middle"}[landform.Kind(f.Kind)]
		if own == "" {
			own = "middle"
		}
		if f.Nearest.DistanceM == 0 {
			p.line("", "the place is its %s; where you asked lies on it", own)
		} else {
			p.line("", "the place is its %s; at its nearest it is %s off towards %s", own, u.distance(f.Nearest.DistanceM), towards(geodesy.TrueBearing(f.Nearest.TrueDeg)))
		}
	}
	p.line("", "%s", f.Reason)
	if f.Filled {
		p.line("FILLED", "it lies on ground %s", filledWords)
	}
}

// onFilled reports whether a landform lies on filled ground: its post, or
// any of its line or of the ground it covers.
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
