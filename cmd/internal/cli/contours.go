package cli

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
	"github.com/spf13/cobra"

	"crowline/contour"
	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

// contourFlags choose the lines.
type contourFlags struct {
	interval   string
	indexEvery int
	half       bool
	smooth     float64
	scale      float64
}

func (f *contourFlags) add(cmd *cobra.Command, scale float64, interval string) {
	cmd.Flags().StringVar(&f.interval, "interval", interval, "contour interval, as 20m or 40ft, or auto")
	cmd.Flags().IntVar(&f.indexEvery, "index-every", 5, "which lines are index lines: every so manieth")
	cmd.Flags().BoolVar(&f.half, "half", false, "add supplementary lines at half the interval where the ground is flat")
	cmd.Flags().Float64Var(&f.smooth, "smooth", 0, "round the lines for print, at most this `share` of the interval off the ground (0 to 0.49)")
	cmd.Flags().Float64Var(&f.scale, "scale", scale, "the map's scale: 25000 for 1:25 000")
}

// chosen is an interval, or the reason there is none.
func (f *contourFlags) choose(grid *dem.Grid, verticalError float64, u units) (contour.Levels, contour.Choice, error) {
	q := contour.Question{Scale: f.scale, VerticalError: verticalError}
	if u.us {
		q.Unit = contour.Foot
	}
	if f.interval != "auto" {
		var given intervalFlag
		if err := given.Set(f.interval); err != nil {
			return contour.Levels{}, contour.Choice{}, usageErrorf("--interval %s: write it as 20m or 40ft, or auto", f.interval)
		}
		q.Interval, q.Unit = given.value, given.unit
	}
	if f.indexEvery < 1 {
		return contour.Levels{}, contour.Choice{}, usageErrorf("--index-every %d: it is 1 or more", f.indexEvery)
	}
	if !(f.smooth >= 0 && f.smooth < 0.5) {
		return contour.Levels{}, contour.Choice{}, usageErrorf("--smooth %g: it is a share of the interval, from 0 to 0.49", f.smooth)
	}
	var err error
	if q.Steepness, err = contour.MeasureSteepness(grid); err != nil {
		return contour.Levels{}, contour.Choice{}, err
	}
	choice, err := contour.Choose(q)
	if err != nil {
		return contour.Levels{}, contour.Choice{}, err
	}
	levels := choice.Levels()
	levels.IndexEvery, levels.Half = f.indexEvery, f.half
	return levels, choice, nil
}

// trace draws the lines as asked.
func (f *contourFlags) trace(ctx context.Context, grid *dem.Grid, levels contour.Levels, progress func(done, total int64)) ([]contour.Line, error) {
	lines, err := contour.Trace(ctx, grid, levels, contour.Options{Progress: progress})
	if err != nil {
		return nil, err
	}
	if levels.Half {
		if lines, err = contour.KeepFlat(grid, lines, contour.FlatOptions{Levels: levels, Scale: f.scale}); err != nil {
			return nil, err
		}
	}
	if f.smooth > 0 {
		return contour.Smooth(grid, lines, contour.SmoothOptions{Levels: levels, Share: f.smooth})
	}
	return lines, nil
}

type contoursOptions struct {
	streams Streams
	ground  groundFlags
	places  placeFlags
	output  outputFlags
	lines   contourFlags

	around, from, to string
	extent           string
	radius           float64
	file             string
	native           bool
}

func newContoursCmd(s Streams, runF func(context.Context, *contoursOptions) error) *cobra.Command {
	o := &contoursOptions{streams: s}
	if runF == nil {
		runF = contoursRun
	}
	cmd := &cobra.Command{
		Use:   "contours -o FILE",
		Short: "Contour lines as a file for other programs",
		Long: `Trace contour lines and write them. Lines run with higher ground on their
right; each has its elevation, its kind (index, intermediate, supplementary),
whether it is closed, and whether it goes round a depression. They end at the
data's edge or at a void.

The area is all the data, or --extent, or --radius round --around, or
--radius on both sides of a leg --from --to.

The file's name says the format: .geojson, .gpkg, .fgb, .shp, .dxf, .gpx, .kml
or .svg. With --interval auto the interval is the finest standard one that
can be read at --scale and that the data's vertical error supports.`,
		Example: `  crowline contours --around 36.2600,-84.2950 --radius 3km -o lines.geojson
  crowline contours --dem tile.tif --interval 40ft -o lines.gpkg
  crowline contours --from Camp --to Knob --places trip.gpx --radius 1km -o leg.gpx`,
		Args: exactArgs(0, "no arguments; name the area with flags"),
		RunE: func(cmd *cobra.Command, args []string) error { return runF(cmd.Context(), o) },
	}
	o.ground.add(cmd)
	o.places.add(cmd)
	o.output.add(cmd)
	o.lines.add(cmd, 25000, "auto")
	cmd.Flags().StringVar(&o.around, "around", "", "`PLACE` in the middle of the area")
	cmd.Flags().StringVar(&o.from, "from", "", "`PLACE` a leg starts at")
	cmd.Flags().StringVar(&o.to, "to", "", "`PLACE` a leg ends at")
	cmd.Flags().StringVar(&o.extent, "extent", "", "the area, as `SOUTH,WEST,NORTH,EAST` in degrees")
	cmd.Flags().Var(newLength(2000, &o.radius), "radius", "how far round --around, or to the sides of the leg")
	cmd.Flags().StringVarP(&o.file, "out", "o", "", "`FILE` to write")
	cmd.Flags().BoolVar(&o.native, "data-crs", false, "write coordinates in the data's own reference system, where the format allows it")
	return cmd
}

type contoursAnswer struct {
	IntervalM     float64       `json:"interval_m"`
	Interval      string        `json:"interval"`
	Reason        string        `json:"reason"`
	Warning       string        `json:"warning,omitempty"`
	Lines         int           `json:"lines"`
	Closed        int           `json:"closed"`
	Index         int           `json:"index"`
	Supplementary int           `json:"supplementary"`
	Depressions   int           `json:"depressions"`
	LowestM       float64       `json:"lowest_level_m"`
	HighestM      float64       `json:"highest_level_m"`
	Written       string        `json:"written"`
	ElevationData elevationData `json:"elevation_data"`
}

func contoursRun(ctx context.Context, o *contoursOptions) error {
	u, err := parseUnits(o.output.units)
	if err != nil {
		return err
	}
	if o.file == "" {
		return usageErrorf("contours needs -o FILE: the file to write the lines to")
	}
	svg := strings.EqualFold(filepath.Ext(o.file), ".svg")
	driver := ""
	if !svg {
		if driver, err = gdalio.VectorDriver(o.file); err != nil {
			return &flagError{err}
		}
	}
	if err := checkFolder(o.file); err != nil {
		return err
	}
	g, err := o.ground.open(ctx)
	if err != nil {
		return err
	}
	defer g.Close()
	grid, err := o.area(ctx, g)
	if err != nil {
		return err
	}
	levels, choice, err := o.lines.choose(grid, g.verticalError, u)
	if err != nil {
		return err
	}
	lines, err := o.lines.trace(ctx, grid, levels, o.streams.progress("tracing"))
	if err != nil {
		return err
	}
	if svg {
		err = drawContours(ctx, o.file, grid, lines, o.lines.scale)
	} else {
		err = writeContours(ctx, o.file, driver, grid, lines, o.native, levels)
	}
	if err != nil {
		return err
	}
	spacing, err := gridSpacing(grid)
	if err != nil {
		return err
	}
	a := contoursAnswer{
		IntervalM: *rounded(levels.Interval*levels.Unit.Metres(), 4), Interval: fmt.Sprintf("%g %s", levels.Interval, levels.Unit),
		Reason: choice.Reason, Warning: choice.Warning, Lines: len(lines), Written: o.file, ElevationData: g.describe(spacing),
		LowestM: math.Inf(1), HighestM: math.Inf(-1),
	}
	for i := range lines {
		l := &lines[i]
		a.LowestM, a.HighestM = min(a.LowestM, l.Level), max(a.HighestM, l.Level)
		if l.Closed {
			a.Closed++
		}
		if l.Depression {
			a.Depressions++
		}
		switch l.Kind {
		case contour.Index:
			a.Index++
		case contour.Supplementary:
			a.Supplementary++
		}
	}
	a.LowestM, a.HighestM = *rounded(a.LowestM, 3), *rounded(a.HighestM, 3)
	if o.output.json {
		return writeJSON(o.streams.Out, a)
	}
	p := &page{w: o.streams.Out}
	p.head("Contours")
	p.line("interval", "%s", a.Reason)
	if a.Warning != "" {
		p.line("warning", "%s", a.Warning)
	}
	p.line("lines", "%d, %d of them closed, %d index; %d round depressions", a.Lines, a.Closed, a.Index, a.Depressions)
	p.line("levels", "%s to %s", levelText(a.LowestM, levels.Unit), levelText(a.HighestM, levels.Unit))
	p.line("written", "%s", a.Written)
	p.head("Data")
	a.ElevationData.write(p, u)
	return p.err
}

func levelText(metres float64, unit contour.Unit) string {
	return fmt.Sprintf("%s %s", strconv.FormatFloat(math.Round(metres/unit.Metres()*100)/100, 'f', -1, 64), unit)
}

// area reads the posts asked for.
func (o *contoursOptions) area(ctx context.Context, g *ground) (*dem.Grid, error) {
	given := 0
	for _, set := range []bool{o.around != "", o.extent != "", o.from != "" || o.to != ""} {
		if set {
			given++
		}
	}
	if given > 1 {
		return nil, usageErrorf("give one area: --around, --extent, or --from and --to")
	}
	if !(o.radius > 0) || o.radius > 1e6 {
		return nil, usageErrorf("--radius %g: it is a distance up to 1000 km", o.radius)
	}
	switch {
	case o.around != "":
		p, err := o.places.resolve(o.around)
		if err != nil {
			return nil, err
		}
		return g.around(ctx, []geodesy.LatLon{p.LatLon}, o.radius)
	case o.extent != "":
		places, err := parseExtent(o.extent)
		if err != nil {
			return nil, err
		}
		return g.around(ctx, places, 0)
	case o.from != "" || o.to != "":
		if o.from == "" || o.to == "" {
			return nil, usageErrorf("a leg needs both --from and --to")
		}
		from, err := o.places.resolve(o.from)
		if err != nil {
			return nil, err
		}
		to, err := o.places.resolve(o.to)
		if err != nil {
			return nil, err
		}
		return g.around(ctx, geodesy.Waypoints(from.LatLon, to.LatLon, 16), o.radius)
	}
	return g.source.Read(ctx, g.source.Layout().Whole())
}

// parseExtent gives points round the border of a latitude-longitude box.
func parseExtent(text string) ([]geodesy.LatLon, error) {
	parts := strings.Split(text, ",")
	var v [4]float64
	bad := len(parts) != 4
	for i := 0; i < 4 && !bad; i++ {
		var err error
		v[i], err = strconv.ParseFloat(strings.TrimSpace(parts[i]), 64)
		bad = err != nil
	}
	if bad || !(v[0] < v[2]) || !(math.Abs(v[0]) <= 90 && math.Abs(v[2]) <= 90 && v[1] >= -180 && v[1] < 360 && v[3] >= -180 && v[3] < 360) {
		return nil, usageErrorf("--extent %s: write SOUTH,WEST,NORTH,EAST in degrees, as 36.2,-84.3,36.3,-84.2", text)
	}
	if v[3] < v[1] {
		v[3] += 360 // across the antimeridian
	}
	const n = 16
	var out []geodesy.LatLon
	for i := range n + 1 {
		s := float64(i) / n
		for _, p := range [4][2]float64{
			{v[0] + s*(v[2]-v[0]), v[1]}, {v[0] + s*(v[2]-v[0]), v[3]}, {v[0], v[1] + s*(v[3]-v[1])}, {v[2], v[1] + s*(v[3]-v[1])},
		} {
			q, err := geodesy.NewLatLon(geodesy.Degrees(p[0]), geodesy.Degrees(math.Mod(p[1]+540, 360)-180))
			if err != nil {
				return nil, &flagError{err}
			}
			out = append(out, q)
		}
	}
	return out, nil
}

func writeContours(ctx context.Context, path, driver string, grid *dem.Grid, lines []contour.Line, native bool, levels contour.Levels) error {
	layer := gdalio.Layer{Name: "contours", Shape: gdalio.Lines, Fields: []gdalio.Field{
		{Name: "elevation", Type: gdalio.Real}, {Name: "unit", Type: gdalio.Text}, {Name: "kind", Type: gdalio.Text},
		{Name: "closed", Type: gdalio.Integer}, {Name: "depression", Type: gdalio.Integer},
	}}
	var geometry []orb.LineString
	if native {
		layer.CRS = grid.CRS
		for i := range lines {
			geometry = append(geometry, lines[i].Coordinates(&grid.Frame))
		}
	} else {
		var err error
		if geometry, err = contour.LonLat(&grid.Frame, lines); err != nil {
			return err
		}
	}
	whole := func(b bool) int {
		if b {
			return 1
		}
		return 0
	}
	for i := range lines {
		l := &lines[i]
		level := l.Level
		layer.Features = append(layer.Features, gdalio.Feature{Geometry: geometry[i], Elevation: &level,
			Values: []any{l.Value, levels.Unit.String(), l.Kind.String(), whole(l.Closed), whole(l.Depression)}})
	}
	return gdalio.WriteFeatures(ctx, path, driver, layer)
}

// drawContours draws the lines to scale round the area's middle, true north
// up.
func drawContours(ctx context.Context, path string, grid *dem.Grid, lines []contour.Line, scale float64) error {
	centre, err := grid.Place(float64(grid.Columns-1)/2, float64(grid.Rows-1)/2)
	if err != nil {
		return err
	}
	placement, err := dem.NewPlacement(&grid.Frame, geodesy.NewPlane(centre), grid.Whole())
	if err != nil {
		return err
	}
	mm := 1000 / scale
	west, north, east, south := math.Inf(1), math.Inf(-1), math.Inf(-1), math.Inf(1)
	for _, c := range [][2]float64{{0, 0}, {1, 0}, {0, 1}, {1, 1}, {0.5, 0}, {0.5, 1}} {
		e, n := placement.At(c[0]*float64(grid.Columns-1), c[1]*float64(grid.Rows-1))
		west, east, south, north = min(west, e), max(east, e), min(south, n), max(north, n)
	}
	if width := (east - west) * mm; width > 5000 {
		return fmt.Errorf("the drawing would be %.1f m wide at 1:%.0f; take a smaller scale or area", width/1000, scale)
	}
	p := &sheet.Page{Width: (east - west) * mm, Height: (north - south) * mm}
	style := sheet.DefaultStyle()
	pens := map[contour.Kind]sheet.Pen{contour.Intermediate: style.Intermediate, contour.Index: style.Index, contour.Supplementary: style.Supplementary}
	for _, kind := range []contour.Kind{contour.Intermediate, contour.Supplementary, contour.Index} {
		stroke := sheet.Stroke{Width: pens[kind].Width, Color: pens[kind].Color, Dash: pens[kind].Dash}
		for i := range lines {
			if lines[i].Kind != kind {
				continue
			}
			var points []sheet.Point
			for _, q := range lines[i].Points {
				e, n := placement.At(q.Column, q.Row)
				points = append(points, sheet.Point{X: (e - west) * mm, Y: (north - n) * mm})
			}
			stroke.Lines = append(stroke.Lines, points)
		}
		p.Open("contours-"+strings.ToLower(kind.String()), kind.String()+" contours")
		p.Add(stroke)
		p.Close()
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	_, err = (&sheet.Document{Title: "Contours", Pages: []*sheet.Page{p}}).Save(path, 0)
	return err
}
