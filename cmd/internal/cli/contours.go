package cli

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"crowline/contour"
	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

// contourFlags choose the lines.
type contourFlags struct {
	interval   intervalFlag
	indexEvery int
	half       bool
	smooth     float64
	scale      float64
}

func (f *contourFlags) add(cmd *cobra.Command, scale float64, scales bounds) {
	cmd.Flags().Var(&f.interval, "interval", "contour `interval`, as 20m or 40ft, or auto")
	cmd.Flags().Lookup("interval").DefValue = "auto"
	cmd.Flags().Var(newCount(5, &f.indexEvery, 1, 100), "index-every", "which lines are index lines: every `nth`")
	cmd.Flags().BoolVar(&f.half, "half", false, "add supplementary lines at half the interval where the ground is flat")
	cmd.Flags().Var(newNumber(0, &f.smooth, "a share", from(0, 0.49)), "smooth", "round the lines for print, at most this `share` of the interval off the ground (0 to 0.49)")
	cmd.Flags().Var(newScale(scale, &f.scale, scales), "scale", "the map's scale: 25000 for 1:25 000")
}

// addReading adds the flag that says how contour numbers stand.
func addReading(cmd *cobra.Command, to *string) {
	cmd.Flags().StringVar(to, "label-reading", "uphill", "which `way` contour numbers read: uphill, or reader for toward the reader")
}

func parseReading(text string) (sheet.Reading, error) {
	switch text {
	case "uphill":
		return sheet.Uphill, nil
	case "reader":
		return sheet.TowardReader, nil
	}
	return 0, usageErrorf("--label-reading %s: it is uphill or reader", text)
}

// question is what the flags ask of the choice of an interval; the ground's
// steepness is yet to be filled in.
func (f *contourFlags) question(verticalError float64, u units) contour.Question {
	return f.interval.question(f.scale, verticalError, u)
}

// levels of a choice, drawn as asked.
func (f *contourFlags) levels(choice contour.Choice) contour.Levels {
	levels := choice.Levels()
	levels.IndexEvery, levels.Half = f.indexEvery, f.half
	return levels
}

// choose picks the interval for a grid, or says what the one given is worth.
// Of a leg, by places on it, it is the leg's, as it is counted, unless that is
// too fine to be read on all of the grid.
func (f *contourFlags) choose(ctx context.Context, g *ground, grid *dem.Grid, leg []geodesy.LatLon, u units) (contour.Levels, contour.Choice, error) {
	q := f.question(g.verticalError, u)
	steepness, err := contour.MeasureSteepness(grid)
	if err != nil {
		return contour.Levels{}, contour.Choice{}, err
	}
	choice, err := g.chooseMap(ctx, q, leg, steepness)
	return f.levels(choice), choice, err
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
	leg              []geodesy.LatLon // places on it, where one was given
	extent           string
	radius           float64
	file             string
	native           bool
	labelReading     string
	reading          sheet.Reading
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
data's edge or at a void. Where the ground rises just to a level along the edge
between two posts and no higher there is no line; such edges are counted.

The area is all the data, or --extent, or --radius round --around, or
--radius on both sides of a leg --from --to.

The file's name says the format: .geojson, .gpkg, .fgb, .shp, .dxf, .gpx, .kml
or .svg, which is a drawing at --scale with the index lines numbered.
Coordinates are longitude and latitude on WGS 84, and lines are parted at the
180th meridian, but a .dxf is in metres: those of the data, or of the
UTM zone it lies in. Points in .dxf, .gpx and .kml have their height too.

Files of any size are read a band of rows at a time, except for --half,
--smooth and .svg, which hold the area in memory.

With --interval auto the interval is, of the standard ones that can be read at
--scale and that the data's vertical error supports, the one nearest to Imhof's
rule for ground as steep as most of the area, or of a leg's own surroundings:
that by which leg counts and sheet draws.`,
		Example: `  crowline contours --around 34.3297,-118.0548 --radius 3km -o lines.geojson
  crowline contours --dem tile.tif --interval 40ft -o lines.gpkg
  crowline contours --from Camp --to Knob --places trip.gpx --radius 1km -o leg.gpx`,
		Args: exactArgs(0, "no arguments; name the area with flags"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if !o.drawing() {
				if err := idle(cmd, "it is for a .svg", "label-reading"); err != nil {
					return err
				}
			}
			return runF(cmd.Context(), o)
		},
	}
	o.ground.add(cmd)
	o.places.add(cmd)
	o.output.add(cmd)
	o.lines.add(cmd, mapScale, from(100, 10e6))
	cmd.Flags().StringVar(&o.around, "around", "", "`PLACE` in the middle of the area")
	cmd.Flags().StringVar(&o.from, "from", "", "`PLACE` a leg starts at")
	cmd.Flags().StringVar(&o.to, "to", "", "`PLACE` a leg ends at")
	cmd.Flags().StringVar(&o.extent, "extent", "", "the area, as `SOUTH,WEST,NORTH,EAST` in degrees")
	cmd.Flags().Var(newLength(2000, &o.radius).within(above(0, 1000e3)), "radius", "how far round --around, or to the sides of the leg")
	cmd.Flags().StringVarP(&o.file, "out", "o", "", "`FILE` to write")
	namesFiles(cmd, filesWritten, "out")
	needs(cmd, []string{"around", "from", "to"}, "radius")
	addReading(cmd, &o.labelReading)
	cmd.Flags().Lookup("label-reading").Usage += "; for .svg"
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
	Touches       int           `json:"touches"`
	Filled        *int          `json:"on_filled_ground,omitempty"`
	LowestM       float64       `json:"lowest_level_m"`
	HighestM      float64       `json:"highest_level_m"`
	Written       string        `json:"written"`
	Coordinates   string        `json:"coordinates"`
	ElevationData elevationData `json:"elevation_data"`
	Cautions      []string      `json:"cautions"`
}

// count takes a line into the figures; false is a touch, which is left out.
func (a *contoursAnswer) count(l *contour.Line) bool {
	if l.Touch {
		a.Touches++
		return false
	}
	if a.Lines == 0 {
		a.LowestM, a.HighestM = l.Level, l.Level
	}
	a.Lines++
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
	return true
}

func contoursRun(ctx context.Context, o *contoursOptions) error {
	u, err := o.output.choose()
	if err != nil {
		return err
	}
	if o.file == "" {
		return usageErrorf("contours needs -o FILE: the file to write the lines to")
	}
	if o.drawing() {
		if o.native {
			return usageErrorf("--data-crs: an .svg is drawn on paper and has no reference system")
		}
	} else if _, err = gdalio.VectorDriver(o.file); err != nil {
		return usageErrorf("%w; or .svg for a drawing", err)
	}
	if o.reading, err = parseReading(o.labelReading); err != nil {
		return err
	}
	if err := checkFolder(o.file); err != nil {
		return err
	}
	places, margin, err := o.area()
	if err != nil {
		return err
	}
	o.ground.perPost = heldContoursPostBytes
	around := margin
	if o.leg != nil {
		around = math.Max(margin, intervalMargin)
	}
	g, err := o.ground.open(ctx, o.streams, places, around)
	if err != nil {
		return err
	}
	defer g.Close()
	w, err := o.window(g, places, margin)
	if err != nil {
		return err
	}
	a := contoursAnswer{Written: o.file, Cautions: cautions}
	if g.filled() != nil {
		a.Filled = new(int)
	}
	var choice contour.Choice
	if o.wholeGrid() {
		choice, err = o.fromGrid(ctx, g, w, u, &a)
	} else {
		choice, err = o.stream(ctx, g, w, u, &a)
	}
	if err != nil {
		return err
	}
	spacing, err := gridSpacing(&dem.Grid{Frame: g.source.Layout().Sub(w)})
	if err != nil {
		return err
	}
	a.IntervalM, a.Interval = *rounded(choice.Interval*choice.Unit.Metres(), 4), fmt.Sprintf("%g %s", choice.Interval, choice.Unit)
	a.Reason, a.Warning, a.ElevationData = choice.Reason, choice.Warning, g.describe(spacing)
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
	if a.Touches > 0 {
		p.line("left out", "%d edges between two posts that only touch a level", a.Touches)
	}
	if a.Filled != nil && *a.Filled > 0 {
		how := "the field filled is 1 there"
		switch {
		case o.drawing():
			how = "dashed there"
		case strings.EqualFold(filepath.Ext(o.file), ".dxf"):
			how = "their layers' names end in filled"
		}
		p.line("FILLED", "%d lines run over ground %s: %s", *a.Filled, filledWords, how)
	}
	p.line("levels", "%s to %s", levelText(a.LowestM, choice.Unit), levelText(a.HighestM, choice.Unit))
	p.line("written", "%s", a.Written)
	p.line("coordinates", "%s", a.Coordinates)
	p.head("Data")
	a.ElevationData.write(p, u)
	writeCautions(p)
	return p.err
}

func levelText(metres float64, unit contour.Unit) string {
	return fmt.Sprintf("%s %s", strconv.FormatFloat(math.Round(metres/unit.Metres()*100)/100, 'f', -1, 64), unit)
}

// window is the block of posts within margin metres of places.
func (o *contoursOptions) window(g *ground, places []geodesy.LatLon, margin float64) (dem.Window, error) {
	if len(places) == 0 {
		return g.source.Layout().Whole(), nil
	}
	if o.extent != "" {
		e, err := parseExtent(o.extent)
		if err != nil {
			return dem.Window{}, err
		}
		return dem.WindowOver(g.source.Layout(), e)
	}
	return dem.WindowAround(g.source.Layout(), places, margin)
}

// area is the places, and the margin round them, that was asked for; no
// places for all the data.
func (o *contoursOptions) area() (places []geodesy.LatLon, margin float64, err error) {
	given := 0
	for _, set := range []bool{o.around != "", o.extent != "", o.from != "" || o.to != ""} {
		if set {
			given++
		}
	}
	if given > 1 {
		return nil, 0, usageErrorf("give one area: --around, --extent, or --from and --to")
	}
	switch {
	case o.around != "":
		p, err := o.places.resolve(o.around)
		return []geodesy.LatLon{p.LatLon}, o.radius, err
	case o.extent != "":
		e, err := parseExtent(o.extent)
		middle, radius := circle(e)
		return []geodesy.LatLon{middle}, radius, err
	case o.from != "" || o.to != "":
		if o.from == "" || o.to == "" {
			return nil, 0, usageErrorf("a leg needs both --from and --to")
		}
		from, err := o.places.resolve(o.from)
		if err != nil {
			return nil, 0, err
		}
		to, err := o.places.resolve(o.to)
		if err != nil {
			return nil, 0, err
		}
		o.leg = alongLegs(from.LatLon, to.LatLon)
		return o.leg, o.radius, nil
	}
	return nil, 0, nil
}

// parseExtent reads a latitude-longitude box.
func parseExtent(text string) (dem.Extent, error) {
	parts := strings.Split(text, ",")
	var v [4]float64
	bad := len(parts) != 4
	for i := 0; i < 4 && !bad; i++ {
		var ok bool
		v[i], ok = geodesy.ParseNumber(strings.TrimSpace(parts[i]))
		bad = !ok
	}
	if bad || !(v[0] < v[2]) || !(math.Abs(v[0]) <= 90 && math.Abs(v[2]) <= 90 && v[1] >= -180 && v[1] < 360 && v[3] >= -180 && v[3] < 360) {
		return dem.Extent{}, usageErrorf("--extent %s: write SOUTH,WEST,NORTH,EAST as 34.2,-118.1,34.3,-118.0, in degrees from -90 to 90 and from -180 to 360", text)
	}
	wrap := func(lon float64) geodesy.Degrees { return geodesy.Degrees(math.Mod(lon+540, 360) - 180) }
	return dem.Extent{South: geodesy.Degrees(v[0]), West: wrap(v[1]), North: geodesy.Degrees(v[2]), East: wrap(v[3])}, nil
}

// circle is the box's middle and a distance that holds all of it.
func circle(e dem.Extent) (geodesy.LatLon, float64) {
	width := float64(e.East - e.West)
	if width < 0 {
		width += 360
	}
	middle := geodesy.LatLon{Lat: (e.South + e.North) / 2, Lon: geodesy.Degrees(math.Mod(float64(e.West)+width/2+540, 360) - 180)}
	radius := 0.0
	for _, corner := range []geodesy.LatLon{{Lat: e.South, Lon: e.West}, {Lat: e.South, Lon: e.East}, {Lat: e.North, Lon: e.West}, {Lat: e.North, Lon: e.East}} {
		radius = max(radius, geodesy.Inverse(middle, corner).Distance)
	}
	return middle, radius
}
