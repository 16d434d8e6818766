package cli

import (
	"context"
	"fmt"
	"math"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"crowline/dem"
	"crowline/dem/demo"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/profile"
)

// groundFlags choose the elevation data.
type groundFlags struct {
	dem           []string
	demo          bool // the demo data, whatever the user's own is
	file          fileFlags
	verticalError float64
	fillVoids     bool
	maxMemory     string

	// perPost is what the command takes for each post it reads at once, bytes;
	// default when zero: what the post itself takes.
	perPost int64

	flags *pflag.FlagSet // of the command, for its --places
}

func (f *groundFlags) add(cmd *cobra.Command) {
	f.flags = cmd.Flags()
	cmd.Flags().StringArrayVar(&f.dem, "dem", nil, "elevation data: a `file`, folder, pattern or address; may be repeated (default: CROWLINE_DEM, the config file, or the demo data)")
	namesFiles(cmd, filesGround, "dem")
	f.file.add(cmd, "the file")
	cmd.Flags().Var(newLength(0, &f.verticalError).within(from(0.001, 1000)), "vertical-error", "one standard deviation of the data's heights (default: what is published for the data, where known)")
	cmd.Flags().Lookup("vertical-error").DefValue = "" // the text says it
	cmd.Flags().BoolVar(&f.fillVoids, "fill-voids", false, "fill small voids inside the data, and count what was filled")
	cmd.Flags().StringVar(&f.maxMemory, "max-memory", "", "the most memory a question may take, a `size` as 2GB or 25% (default: half the machine's)")
}

// ground is the elevation data a question is put to.
type ground struct {
	source dem.Source
	demo   bool
	// verticalError is one standard deviation, metres; 0 if unknown.
	verticalError       float64
	verticalErrorSource string
	// doubt is a warning about the unit of heights, or "".
	doubt string
	// every is set where the answer is of every nth post only.
	every int
}

// open opens the data that a question needs within margin metres of some
// places: all of it where none are given.
func (f *groundFlags) open(ctx context.Context, s Streams, places []geodesy.LatLon, margin float64) (*ground, error) {
	c, err := configOf(ctx)
	if err != nil {
		return nil, err
	}
	paths := f.dem
	switch {
	case f.demo:
		paths = nil
	case len(paths) == 0:
		paths, _ = c.defaultDEM()
	}
	memory := f.maxMemory
	if memory == "" {
		memory = c.MaxMemory
	}
	if len(paths) == 0 {
		c.HeightUnit = "" // the demo data's is known
	}
	options := dataOptions{fillVoids: f.fillVoids, progress: s.progress("looking at tiles")}
	if options.file, err = f.file.options(c); err != nil {
		return nil, err
	}
	if options.maxBytes, err = parseMemory(memory); err != nil {
		return nil, usageErrorf("--max-memory: %w", err)
	}
	options.perPost = f.perPost
	var g ground
	if len(paths) == 0 {
		g.demo = true
		var raster *gdalio.Raster
		if raster, err = gdalio.OpenBytes(demo.Name, demo.Bytes(), options.file); err == nil {
			g.source, err = options.wrap(raster)
		}
	} else {
		g.source, err = openData(ctx, paths, options, places, margin)
	}
	if err != nil {
		return nil, err
	}
	info := g.source.Info()
	g.verticalError, g.verticalErrorSource = info.VerticalError, info.VerticalErrorSource
	if f.verticalError > 0 {
		g.verticalError, g.verticalErrorSource = f.verticalError, "as given"
	}
	if err := g.doubtUnit(ctx, placesOf(f.flags), places); err != nil {
		g.Close()
		return nil, err
	}
	return &g, nil
}

// alongLeg are the places, and the margin, that a leg with its marks needs.
func alongLeg(from, to geodesy.LatLon) ([]geodesy.LatLon, float64) {
	g := geodesy.Inverse(from, to)
	reach := min(g.Distance+math.Max(markMargin, g.Distance/2), profile.MaxLength)
	far, _ := geodesy.Direct(from, g.Start, reach)
	n := 16 + int(reach/10e3)
	return geodesy.Waypoints(from, far, n), math.Max(3000, reach/10)
}

func (g *ground) Close() { g.source.Close() }

// posts reads the data as a question comes to it, a block at a time.
func (g *ground) posts(ctx context.Context) dem.Posts { return dem.NewBlocks(ctx, g.source, 0) }

// elevationData describes the data in JSON.
type elevationData struct {
	Name     string   `json:"name"`
	Demo     bool     `json:"demo"`
	SpacingM *float64 `json:"spacing_m"`
	// EveryNthPost is set where finer posts were left out, two of three, say;
	// SpacingM is that of those taken.
	EveryNthPost        int      `json:"every_nth_post,omitempty"`
	VerticalUnit        string   `json:"vertical_unit"`
	VerticalUnitStated  bool     `json:"vertical_unit_stated"`
	Surface             string   `json:"surface,omitempty"`
	VerticalErrorM      *float64 `json:"vertical_error_m"`
	VerticalErrorSource string   `json:"vertical_error_source,omitempty"`
	Attribution         string   `json:"attribution,omitempty"`
	// FilledPosts counts the void posts filled in what was read, with
	// --fill-voids only.
	FilledPosts *int     `json:"filled_posts,omitempty"`
	Warnings    []string `json:"warnings"`
}

// describe is what was read so far: ask for it when all is read that an
// answer needs.
func (g *ground) describe(spacing float64) elevationData {
	info := g.source.Info()
	d := elevationData{
		Name: info.Name, Demo: g.demo, SpacingM: rounded(spacing, 1),
		VerticalUnit: info.VerticalUnit, VerticalUnitStated: info.VerticalUnitStated,
		Surface: string(info.Surface), VerticalErrorSource: g.verticalErrorSource,
		Attribution: info.Attribution, Warnings: g.warnings(info),
	}
	if g.every > 1 {
		d.EveryNthPost = g.every
	}
	if g.verticalError > 0 {
		d.VerticalErrorM = rounded(g.verticalError, 2)
	}
	if f := g.filled(); f != nil {
		n := f.Count()
		d.FilledPosts = &n
	}
	if d.Warnings == nil {
		d.Warnings = []string{}
	}
	return d
}

// plural is a unit's name for many of it.
func plural(unit string) string {
	if singular, ok := strings.CutSuffix(unit, "foot"); ok {
		return singular + "feet"
	}
	return unit + "s"
}

// write puts the data's description on a page.
func (d elevationData) write(p *page, u units) {
	text := d.Name
	if d.Demo {
		text += " (the demo data built in; give your own with --dem)"
	}
	p.line("source", "%s", text)
	text = "posts"
	if d.SpacingM != nil {
		text += fmt.Sprintf(" about %s apart", u.distance(*d.SpacingM))
		if d.EveryNthPost > 1 {
			text += fmt.Sprintf(" (the data's are finer: one in %d is taken each way)", d.EveryNthPost)
		}
	}
	text += ", heights in " + plural(d.VerticalUnit)
	if !d.VerticalUnitStated {
		text += " (assumed where the file does not say)"
	}
	switch dem.Surface(d.Surface) {
	case dem.SurfaceModel:
		text += ", a surface model: treetops and roofs where there are any"
	case dem.BareEarth:
		text += ", bare earth: trees and buildings taken off"
	}
	if d.VerticalErrorM != nil {
		text += fmt.Sprintf("; heights good to %s, one standard deviation", u.height(*d.VerticalErrorM))
		if d.VerticalErrorSource != "" {
			text += " (" + d.VerticalErrorSource + ")"
		}
	} else {
		text += "; how good the heights are is not stated"
	}
	p.line("", "%s", text)
	for _, w := range d.Warnings {
		p.line("warning", "%s", w)
	}
}

// deadBand is the one for this data: its vertical error, to a whole metre.
func (g *ground) deadBand() float64 { return profile.DeadBand(g.verticalError) }

// cautions go with every answer.
var cautions = []string{
	"Elevation data knows nothing of trees, water, fences, avalanche or river conditions, private land, or cliffs narrower than its spacing.",
	"A line that is clear over the data can still be blocked by vegetation.",
	"Carry map and compass, and follow local rules and qualified advice.",
}

func writeCautions(p *page) {
	p.head("Cautions")
	for _, c := range cautions {
		p.note("%s", c)
	}
}

// gridSpacing is the distance between posts at a grid's middle, metres: the
// larger of along a row and along a column.
func gridSpacing(g *dem.Grid) (float64, error) {
	alongRow, alongColumn, err := g.Spacing(float64(g.Columns-1)/2, float64(g.Rows-1)/2)
	return math.Max(alongRow, alongColumn), err
}
