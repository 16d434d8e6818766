package cli

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"strings"

	"github.com/paulmach/orb/geojson"
	"github.com/spf13/cobra"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/visibility"
)

type viewshedOptions struct {
	question

	from        []string
	radius      float64
	sector      string
	file        string
	visibleOnly bool
}

func newViewshedCmd(s Streams, runF func(context.Context, *viewshedOptions) error) *cobra.Command {
	o := &viewshedOptions{question: question{streams: s}}
	if runF == nil {
		runF = viewshedRun
	}
	cmd := &cobra.Command{
		Use:   "viewshed FROM [FROM ...]",
		Short: "All the ground that can be seen from a place",
		Long: `Find all ground that can be seen from a place: for every post of the elevation
data the same verdict as the line of sight to it would give. With several
places: ground seen by how many of them, and by which.

The file's name says what is written:
  .tif      two bands: the verdict (0 not asked, 1 visible, 2 hidden, 3 not
            known) and the height above the ground needed to be seen, metres;
            with several places, how many see each post and, in the second
            band, which (1 for the first, 2 for the second, 4, 8 ...); with
            --fill-voids one more, 1 where the post was filled
  .geojson  polygons of the ground seen
  .png .pdf .svg   a map of it over shaded relief

` + coverHelp + `
A post with cover on it is asked at the cover's top, and the height needed
counts from there. How many posts change from the bare ground is said.`,
		Example: `  crowline viewshed 34.3297,-118.0548 --radius 8km -o seen.tif
  crowline viewshed Camp Knob --places trip.gpx --radius 5km -o seen.geojson
  crowline viewshed 34.3297,-118.0548 --sector 90,180 -o seen.png`,
		Args: rangeArgs(1, maxObservers, "1 to 24 places"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.from = args
			if !hasEnding(o.file, ".tif") && !hasEnding(o.file, ".tiff") || len(o.from) > 1 {
				if err := idle(cmd, "only a .tif of the view from one place has the heights it leaves out", "visible-only"); err != nil {
					return err
				}
			}
			return runF(cmd.Context(), o)
		},
	}
	o.ground.add(cmd)
	o.places.add(cmd)
	o.sight.add(cmd)
	o.output.add(cmd)
	o.cover.add(cmd)
	addRadius(cmd, &o.radius)
	cmd.Flags().StringVar(&o.sector, "sector", "", "only true bearings `FROM,TO`, clockwise")
	cmd.Flags().StringVarP(&o.file, "out", "o", "", "`FILE` to write")
	namesFiles(cmd, filesWritten, "out")
	cmd.Flags().BoolVar(&o.visibleOnly, "visible-only", false, "leave out the heights needed, which take the most time")
	return cmd
}

// maxObservers is how many bits a band of whole numbers in a float32 holds,
// with room to spare.
const maxObservers = 24

// addRadius is the flag that bounds a question.
func addRadius(cmd *cobra.Command, radius *float64) {
	cmd.Flags().Var(newLength(0, radius).within(above(0, 1000e3)), "radius", "how far to look (default: to the edge of the data)")
	cmd.Flags().Lookup("radius").DefValue = ""
}

// viewedJSON is one place's view.
type viewedJSON struct {
	From          place           `json:"from"`
	EyeElevationM float64         `json:"eye_elevation_m"`
	Visible       int64           `json:"visible_posts"`
	Hidden        int64           `json:"hidden_posts"`
	Unknown       int64           `json:"unknown_posts"`
	VoidPosts     int64           `json:"void_posts"`
	DependOnVoids int64           `json:"depend_on_voids_posts"`
	Filled        *filledViewJSON `json:"filled,omitempty"`
	Cover         *coverViewJSON  `json:"cover,omitempty"`
	AreaSeenM2    float64         `json:"area_seen_m2"`
	Farthest      *farthestJSON   `json:"farthest"`
	summary       visibility.Summary
}

type farthestJSON struct {
	place
	DistanceM      float64 `json:"distance_m"`
	BearingTrueDeg float64 `json:"true_deg"`
	// CoverM is how high what is seen there stands above that ground.
	CoverM float64 `json:"cover_m,omitempty"`
}

// coverText is what stands on the farthest ground, "" for nothing.
func (f *farthestJSON) coverText(u units) string {
	if f.CoverM == 0 {
		return ""
	}
	return fmt.Sprintf(", the top of %s of cover", u.height(f.CoverM))
}

type viewshedAnswer struct {
	Views         []viewedJSON   `json:"views"`
	SeenBy        []seenByJSON   `json:"seen_by,omitempty"`
	RadiusM       *float64       `json:"radius_m"`
	Sector        *[2]float64    `json:"sector_true_deg"`
	OverCover     *coverUsedJSON `json:"over_cover,omitempty"`
	Assumptions   assumptions    `json:"assumptions"`
	ElevationData elevationData  `json:"elevation_data"`
	Written       []string       `json:"written"`
	Warnings      []string       `json:"warnings"`
	Cautions      []string       `json:"cautions"`
}

type seenByJSON struct {
	Observers int   `json:"observers"`
	Posts     int64 `json:"posts"`
}

func parseSector(text string) (*visibility.Sector, error) {
	if text == "" {
		return nil, nil
	}
	a, b, ok := strings.Cut(text, ",")
	from, ok1 := geodesy.ParseNumber(strings.TrimSpace(a))
	to, ok2 := geodesy.ParseNumber(strings.TrimSpace(b))
	if !ok || !ok1 || !ok2 || !(from >= 0 && from <= 360 && to >= 0 && to <= 360) {
		return nil, usageErrorf("--sector %s: write two true bearings from 0 to 360, as 90,180", text)
	}
	return &visibility.Sector{From: geodesy.NewTrueBearing(geodesy.Degrees(from)), To: geodesy.NewTrueBearing(geodesy.Degrees(to))}, nil
}

func viewshedRun(ctx context.Context, o *viewshedOptions) error {
	u, conditions, _, err := o.read()
	if err != nil {
		return err
	}
	sector, err := parseSector(o.sector)
	if err != nil {
		return err
	}
	if o.file != "" {
		switch strings.ToLower(filepath.Ext(o.file)) {
		case ".tif", ".tiff", ".geojson", ".json":
			err = checkFolder(o.file)
		default:
			err = checkDrawingPath(o.file)
		}
		if err != nil {
			return err
		}
	}
	var from []namedPlace
	var where []geodesy.LatLon
	for _, text := range o.from {
		p, err := o.places.resolve(text)
		if err != nil {
			return err
		}
		from, where = append(from, p), append(where, p.LatLon)
	}
	g, err := o.openAbout(ctx, o.radius, viewshedPostBytes+viewPostBytes*int64(len(from)), where...)
	if err != nil {
		return err
	}
	defer g.Close()
	over, err := o.cover.open(ctx, g)
	if err != nil {
		return err
	}
	grid, err := g.reach(ctx, where, o.radius)
	if err != nil {
		return err
	}
	a := viewshedAnswer{Assumptions: o.sight.describe(), Cautions: cautions, Written: []string{}, Warnings: []string{}}
	if o.radius > 0 {
		a.RadiusM = number(o.radius)
	}
	if sector != nil {
		a.Sector = &[2]float64{float64(sector.From), float64(sector.To)}
	}
	spacing, err := gridSpacing(grid)
	if err != nil {
		return err
	}
	a.ElevationData = g.describe(spacing)
	tif := strings.HasPrefix(strings.ToLower(filepath.Ext(o.file)), ".tif")
	var layer *dem.CoverLayer
	if over != nil {
		defer over.close()
		if layer, a.OverCover, err = over.lay(ctx, o.streams, grid); err != nil {
			return err
		}
	}
	var views []*visibility.Viewed
	for i, p := range from {
		label := "looking"
		if len(from) > 1 {
			label = fmt.Sprintf("looking from %d of %d", i+1, len(from))
		}
		observer := visibility.Observer{Place: p.LatLon, EyeAboveGround: o.sight.eye}
		options := visibility.ViewshedOptions{
			Conditions: conditions, Radius: o.radius, Sector: sector,
			HeightNeeded: tif && !o.visibleOnly && len(from) == 1, Progress: o.streams.progress(label),
		}
		ground := grid
		if over != nil {
			if ground, err = layer.Grid(ctx, over.clearing(p.LatLon)); err != nil {
				return err
			}
		}
		v, err := visibility.Viewshed(ctx, ground, observer, options)
		if err != nil {
			return err
		}
		views = append(views, v)
		a.Views = append(a.Views, describeView(p, v))
		if g.filled() != nil {
			if a.Views[i].Filled, err = describeFilledView(ctx, ground, v); err != nil {
				return err
			}
		}
		if over != nil {
			options.HeightNeeded = false
			bare, err := visibility.Viewshed(ctx, grid, observer, options)
			if err != nil {
				return err
			}
			a.Views[i].compare(bare, v, layer.Ground(), ground)
		}
	}
	var combined *visibility.Combined
	if len(views) > 1 {
		if combined, err = visibility.Combine(ctx, grid, views); err != nil {
			return err
		}
		for n, posts := range combined.SeenBy {
			a.SeenBy = append(a.SeenBy, seenByJSON{n, posts})
		}
	}
	if o.file != "" {
		if a.Written, err = writeViewshed(ctx, o, grid, views, combined, &a, u); err != nil {
			return err
		}
	}
	if o.output.json {
		return writeJSON(o.streams.Out, a)
	}
	p := &page{w: o.streams.Out}
	a.write(p, u)
	return p.err
}

// reach reads the posts within a radius of places, or all of them.
func (g *ground) reach(ctx context.Context, where []geodesy.LatLon, radius float64) (*dem.Grid, error) {
	if radius > 0 {
		return g.around(ctx, where, radius)
	}
	return g.source.Read(ctx, g.source.Layout().Whole())
}

// gridSpacing is the distance between posts at a grid's middle, metres: the
// larger of along a row and along a column.
func gridSpacing(g *dem.Grid) (float64, error) {
	alongRow, alongColumn, err := g.Spacing(float64(g.Columns-1)/2, float64(g.Rows-1)/2)
	return math.Max(alongRow, alongColumn), err
}

func describeView(p namedPlace, v *visibility.Viewed) viewedJSON {
	s := v.Summary
	j := viewedJSON{
		From: describePlace(p, v.GroundElevation), EyeElevationM: *rounded(v.EyeElevation, 2),
		Visible: s.Visible, Hidden: s.Hidden, Unknown: s.Unknown, VoidPosts: s.VoidPosts, DependOnVoids: s.DependOnVoids,
		AreaSeenM2: *rounded(s.AreaSeen, 0), summary: s,
	}
	if f := s.Farthest; f != nil {
		j.Farthest = &farthestJSON{place: describePlace(namedPlace{LatLon: f.Place}, f.Elevation), DistanceM: *rounded(f.Distance, 1), BearingTrueDeg: *rounded(float64(f.Bearing), 2)}
	}
	return j
}

func writeViewshed(ctx context.Context, o *viewshedOptions, grid *dem.Grid, views []*visibility.Viewed, combined *visibility.Combined, a *viewshedAnswer, u units) ([]string, error) {
	switch strings.ToLower(filepath.Ext(o.file)) {
	case ".tif", ".tiff":
		var filled *dem.Grid
		if o.ground.fillVoids {
			filled = grid
		}
		return []string{o.file}, writeViewshedTIFF(ctx, o.file, views, combined, filled, a.OverCover)
	case ".geojson", ".json":
		return []string{o.file}, writeViewshedGeoJSON(ctx, o.file, grid, views, combined, a)
	}
	return drawViewshed(ctx, o.file, grid, views, combined, a, u)
}

// writeViewshedTIFF writes the answer's bands, and a last one of filled posts
// where filled is the ground that has them. What the bands are over is in
// their descriptions.
func writeViewshedTIFF(ctx context.Context, path string, views []*visibility.Viewed, combined *visibility.Combined, filled *dem.Grid, over *coverUsedJSON) error {
	say, from := func(s string) string { return s }, "the ground"
	if over != nil {
		say = func(s string) string { return s + "; " + over.words() }
		from = "the ground or the top of what stands on it"
	}
	if combined != nil {
		which := make([]float32, len(combined.Which))
		for i, w := range combined.Which {
			which[i] = float32(w)
		}
		return gdalio.WriteGeoTIFF(ctx, path, &combined.Frame, append([]gdalio.Band{
			{Name: "seen by", Description: say("how many of the places see the post"), Bytes: combined.Count},
			{Name: "which", Description: say("sum of 1 for the first place, 2 for the second, 4, 8 and so on"), Float32: which},
		}, filledBand(filled, combined.Window)...))
	}
	v := views[0]
	bands := []gdalio.Band{{Name: gdalio.VerdictBand, Description: say("0 not asked, 1 visible, 2 hidden, 3 not known"), Bytes: v.Codes()}}
	if v.HeightNeeded != nil {
		bands = append(bands, gdalio.Band{Name: "height needed", Description: say("metres above " + from + " for a target to be just seen; NaN where not asked or not known"), Float32: v.HeightNeeded})
	}
	return gdalio.WriteGeoTIFF(ctx, path, &v.Frame, append(bands, filledBand(filled, v.Window)...))
}

func writeViewshedGeoJSON(ctx context.Context, path string, grid *dem.Grid, views []*visibility.Viewed, combined *visibility.Combined, a *viewshedAnswer) error {
	collection := geojson.NewFeatureCollection()
	collection.ExtraMembers = geojson.Properties{"assumptions": a.Assumptions, "elevation_data": a.ElevationData}
	if a.OverCover != nil {
		collection.ExtraMembers["over_cover"] = a.OverCover
	}
	// every feature that depends on it says what it is over
	over := func(p geojson.Properties) geojson.Properties {
		if a.OverCover != nil {
			p["over_cover"] = a.OverCover.Name
		}
		return p
	}
	add := func(v *visibility.Viewed, from place, verdict visibility.Verdict) error {
		outline, err := v.Polygons(ctx, verdict)
		if err != nil || len(outline) == 0 {
			return err
		}
		f := geojson.NewFeature(outline)
		f.Properties = over(geojson.Properties{"verdict": verdict.String(), "from_lat": from.Lat, "from_lon": from.Lon})
		if from.Name != "" {
			f.Properties["from"] = from.Name
		}
		collection.Append(f)
		return nil
	}
	for i, v := range views {
		for _, verdict := range []visibility.Verdict{visibility.Visible, visibility.Unknown} {
			if err := add(v, a.Views[i].From, verdict); err != nil {
				return err
			}
		}
	}
	if combined != nil {
		for n := 1; n < len(combined.SeenBy); n++ {
			outline, err := visibility.Outlines(ctx, &combined.Frame, func(i int) bool { return int(combined.Count[i]) == n })
			if err != nil {
				return err
			}
			if len(outline) > 0 {
				f := geojson.NewFeature(outline)
				f.Properties = over(geojson.Properties{"seen_by": n})
				collection.Append(f)
			}
		}
	}
	frame, window := &views[0].Frame, views[0].Window
	if combined != nil {
		frame, window = &combined.Frame, combined.Window
	}
	outline, err := filledOutline(ctx, grid, frame, window)
	if err != nil {
		return err
	}
	if len(outline) > 0 {
		f := geojson.NewFeature(outline)
		f.Properties = geojson.Properties{"filled": true}
		collection.Append(f)
	}
	for _, f := range collection.Features {
		f.Geometry = gdalio.Parted(f.Geometry)
	}
	body, err := collection.MarshalJSON()
	if err != nil {
		return err
	}
	return replaceFile(path, body)
}

func (a viewshedAnswer) write(p *page, u units) {
	for i, v := range a.Views {
		title := "Seen"
		if len(a.Views) > 1 {
			title = fmt.Sprintf("Seen from place %d", i+1)
		}
		p.head(title)
		p.line("from", "%s", v.From.text(u))
		a.OverCover.writeOver(p)
		asked := v.Visible + v.Hidden + v.Unknown
		p.line("area", "%s, %.1f %% of the ground asked about", u.area(v.AreaSeenM2), 100*float64(v.Visible)/math.Max(1, float64(asked)))
		if v.Farthest != nil {
			filled := v.Farthest.coverText(u)
			if v.Filled != nil && v.Filled.Farthest {
				filled += ", " + filledWords
			}
			p.line("farthest", "%s away, bearing true %s: %s%s", u.distance(v.Farthest.DistanceM), bearing(v.Farthest.BearingTrueDeg), v.Farthest.text(u), filled)
		}
		v.Filled.write(p)
		if v.Unknown > 0 {
			p.line("not known", "%d posts: %d with no elevation,%s and %d whose line of sight meets such ground or leaves the data",
				v.Unknown, v.VoidPosts, v.Cover.unknownText(), v.DependOnVoids)
		}
		if v.Cover != nil {
			p.line("bare ground", "%s", strings.TrimPrefix(v.Cover.text(u), "over the bare ground "))
		}
	}
	if len(a.SeenBy) > 0 {
		p.head("Seen by how many")
		for _, s := range a.SeenBy {
			p.line(fmt.Sprintf("%d of %d", s.Observers, len(a.Views)), "%d posts", s.Posts)
		}
	}
	p.head("Data")
	a.ElevationData.write(p, u)
	a.OverCover.write(p, u)
	p.line("assumed", "%s", a.Assumptions.text(u))
	for _, w := range a.Warnings {
		p.line("warning", "%s", w)
	}
	for _, w := range a.Written {
		p.line("written", "%s", w)
	}
	writeCautions(p)
}

// area writes a map area.
func (u units) area(squareMetres float64) string {
	if u.us {
		return fmt.Sprintf("%.1f sq mi", squareMetres/metresPerMile/metresPerMile)
	}
	return fmt.Sprintf("%.1f km²", squareMetres/1e6)
}
