package cli

import (
	"context"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	figures "crowline/dem/units"
)

// contourFlags choose the lines.
type contourFlags struct {
	interval   intervalFlag
	indexEvery int
	half       bool
	smooth     float64
	scale      float64

	cmd *cobra.Command
}

func (f *contourFlags) add(cmd *cobra.Command, scale float64, scales bounds) {
	f.cmd = cmd
	f.interval.add(cmd, "contour `interval`, as 20m or 40ft, or auto (default: the config file's, else auto)")
	cmd.Flags().Var(newCount(5, &f.indexEvery, 1, 100), "index-every", "which lines are index lines: every `nth`")
	cmd.Flags().BoolVar(&f.half, "half", false, "add supplementary lines at half the interval where the ground is flat")
	cmd.Flags().Var(newNumber(0, &f.smooth, "a share", from(0, 0.49)), "smooth", "round the lines for print, at most this `share` of the interval off the ground (0 to 0.49)")
	cmd.Flags().Var(newScale(scale, &f.scale, scales), "scale", "the map's scale: 25000 for 1:25 000")
}

// addReading adds the flag that says how contour numbers stand.
func addReading(cmd *cobra.Command, to *string) {
	cmd.Flags().StringVar(to, "label-reading", "uphill", "which `way` contour numbers read: uphill, or reader for toward the reader")
}

// addPaper adds the flag that says what a map or an exercise is printed on.
func addPaper(cmd *cobra.Command, to *string) {
	cmd.Flags().StringVar(to, "paper", "a4", "a4, a3, letter, tabloid, a4-landscape and so on, or `WxH` in millimetres")
}

func parseReading(text string) (sheet.Reading, error) {
	switch text {
	case "uphill":
		return sheet.Uphill, nil
	case "reader":
		return sheet.TowardReader, nil
	}
	return 0, usageErrorf("--label-reading %s: give uphill or reader", text)
}

// request is the lines the flags ask for, in these units where they leave the
// choice.
func (f *contourFlags) request(u figures.System) (answer.Lines, error) {
	i, err := f.interval.request(u)
	return answer.Lines{Interval: i, IndexEvery: f.indexEvery, Half: f.half, Smooth: f.smooth, Scale: f.scale, ScaleAssumed: !f.cmd.Flags().Changed("scale")}, err
}

type contoursOptions struct {
	streams Streams
	ground  groundFlags
	places  placeFlags
	output  outputFlags
	lines   contourFlags
	needle  needleFlags

	around, from, to string
	extent           string
	radius           float64
	file             string
	native           bool
	labelReading     string
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
or .svg, which is a map at --scale, on paper as large as that takes.
Coordinates are longitude and latitude on WGS 84, and lines are parted at the
180th meridian, but a .dxf is in metres: those of the data, or of the
UTM zone it lies in. Points in .dxf, .gpx and .kml have their height too.

Files of any size are read a band of rows at a time, except for --half,
--smooth and .svg, which hold the area in memory.

With --interval auto the interval is the one that maps at --scale usually have
(common practice: 5 m to 1:15 000, 10 m to 1:25 000, 20 m to 1:65 000, 50 m to
1:100 000; in feet 40 to 1:25 000 and 80 to 1:65 000), or the next that the
data's vertical error supports. leg, route, sheet and drill have the same lines
on the same data and scale. Where they are too close to be read you are told.`,
		Example: `  crowline contours --around 34.3297,-118.0548 --radius 3km -o lines.geojson
  crowline contours --dem tile.tif --interval 40ft -o lines.gpkg
  crowline contours --from Camp --to Knob --places trip.gpx -o leg.gpx`,
		Args: exactArgs(0, "no arguments; name the area with flags"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if !o.drawing() {
				if err := idle(cmd, "it is for a .svg", "label-reading", "date", "declination"); err != nil {
					return err
				}
			}
			return runF(cmd.Context(), o)
		},
	}
	o.ground.add(cmd)
	o.places.add(cmd)
	o.output.add(cmd)
	o.lines.add(cmd, answer.DefaultLines().Scale, from(100, 10e6))
	cmd.Flags().StringVar(&o.around, "around", "", "`PLACE` in the middle of the area")
	cmd.Flags().StringVar(&o.from, "from", "", "`PLACE` a leg starts at")
	cmd.Flags().StringVar(&o.to, "to", "", "`PLACE` a leg ends at")
	cmd.Flags().StringVar(&o.extent, "extent", "", "the area, as `SOUTH,WEST,NORTH,EAST` in degrees")
	cmd.Flags().Var(newLength(2000, &o.radius).within(above(0, 1000e3)), "radius", "how far round --around, or to the sides of the leg")
	cmd.Flags().StringVarP(&o.file, "out", "o", "", "`FILE` to write")
	namesFiles(cmd, filesWritten, "out")
	needs(cmd, []string{"around", "from", "to"}, "radius")
	o.needle.add(cmd)
	addReading(cmd, &o.labelReading)
	cmd.Flags().Lookup("label-reading").Usage += "; for .svg"
	cmd.Flags().BoolVar(&o.native, "data-crs", false, "write coordinates in the data's own reference system, where the format allows it")
	return cmd
}

func contoursRun(ctx context.Context, o *contoursOptions) error {
	r, err := o.request()
	if err != nil {
		return err
	}
	ctx, g, err := o.ground.ask(ctx, o.streams, r.Reach())
	if err != nil {
		return err
	}
	defer g.Close()
	a, err := answer.Contours(ctx, g, r)
	if err != nil {
		return asked(err)
	}
	return o.output.writeAnswer(o.streams, a, func(p *report.Page) { report.Contours(p, a) })
}

// drawing reports whether the lines go on paper rather than into a layer.
func (o *contoursOptions) drawing() bool { return hasEnding(o.file, ".svg") }

// request is what the flags ask, and makes sure the file can be written.
func (o *contoursOptions) request() (r answer.ContoursRequest, err error) {
	u, err := o.output.system()
	if err != nil {
		return r, err
	}
	if o.file == "" {
		return r, usageErrorf("contours needs -o FILE: the file to write the lines to")
	}
	if o.drawing() {
		if o.native {
			return r, usageErrorf("--data-crs: an .svg is drawn on paper and has no reference system")
		}
	} else if _, err = gdalio.VectorDriver(o.file); err != nil {
		return r, usageErrorf("%w; or .svg for a drawing", err)
	}
	r = answer.ContoursRequest{File: o.file, DataCRS: o.native, Units: u}
	if r.Needle, err = o.needle.needle(o.streams); err != nil {
		return r, err
	}
	if r.Lines, err = o.lines.request(u); err != nil {
		return r, err
	}
	if r.Reading, err = parseReading(o.labelReading); err != nil {
		return r, err
	}
	if err := checkFolder(o.file); err != nil {
		return r, err
	}
	if r.Area, err = o.area(); err != nil {
		return r, err
	}
	return r, asked(r.Check())
}

// area is what the flags name; the zero value is all the data.
func (o *contoursOptions) area() (a answer.Area, err error) {
	given := 0
	for _, set := range []bool{o.around != "", o.extent != "", o.from != "" || o.to != ""} {
		if set {
			given++
		}
	}
	if given > 1 {
		return a, usageErrorf("give one area: --around, --extent, or --from and --to")
	}
	if (o.from == "") != (o.to == "") {
		return a, usageErrorf("a leg needs both --from and --to")
	}
	a.Radius = o.radius
	if o.extent != "" {
		e, err := parseExtent(o.extent)
		a.Extent = &e
		return a, err
	}
	for _, p := range []struct {
		text string
		to   **answer.Place
	}{{o.around, &a.Around}, {o.from, &a.From}, {o.to, &a.To}} {
		if p.text == "" {
			continue
		}
		place, err := o.places.place(p.text)
		if err != nil {
			return a, err
		}
		*p.to = &place
	}
	return a, nil
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
