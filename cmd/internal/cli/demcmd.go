package cli

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"crowline/dem"
	"crowline/dem/demo"
	"crowline/dem/gdalio"
)

func newDEMCmd(s Streams) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "dem",
		Short: "Get and look at elevation data",
	}
	onlyGroups(cmd)
	cmd.AddCommand(newDEMGetCmd(s, nil), newDEMIndexCmd(s, nil))
	cmd.AddCommand(newDEMInfoCmd(s, nil), newDEMFeaturesCmd(s, nil))
	return cmd
}

type demInfoOptions struct {
	streams Streams
	output  outputFlags
	file    fileFlags
	paths   []string
	quick   bool
}

func newDEMInfoCmd(s Streams, runF func(context.Context, *demInfoOptions) error) *cobra.Command {
	o := &demInfoOptions{streams: s}
	if runF == nil {
		runF = demInfoRun
	}
	cmd := &cobra.Command{
		Use:   "info [FILE...]",
		Short: "Say what elevation data is",
		Long: `Say what an elevation file is: format, size, spacing, extent, coordinate
reference system and datum, unit of heights, how much of it is void, and the
range of heights with where the highest and lowest posts are. Without FILE:
the demo data. The whole file is read for the last two; --quick leaves them
out. Of an address only the header is read.

Several files, a folder or a pattern, as --dem takes them, are summed up: how
many there are, their reference systems, spacings and units, the extent and
heights of all, and which files are unlike the others, damaged or suspect.`,
		Example: `  crowline dem info tile.tif
  crowline dem info tile.tif --quick --json
  crowline dem info tiles/ more/*.tif`,
		RunE: func(cmd *cobra.Command, args []string) error {
			o.paths = args
			return runF(cmd.Context(), o)
		},
	}
	argumentsNameFiles(cmd, filesGround)
	o.output.add(cmd)
	o.file.add(cmd, "the file")
	cmd.Flags().BoolVar(&o.quick, "quick", false, "do not read the heights")
	return cmd
}

type demInfoAnswer struct {
	Name               string   `json:"name"`
	Driver             string   `json:"driver"`
	DataType           string   `json:"data_type"`
	Columns            int      `json:"columns"`
	Rows               int      `json:"rows"`
	SpacingEastM       *float64 `json:"spacing_along_row_m"`
	SpacingNorthM      *float64 `json:"spacing_along_column_m"`
	SpacingXDeg        *float64 `json:"spacing_along_row_deg,omitempty"`
	SpacingYDeg        *float64 `json:"spacing_along_column_deg,omitempty"`
	South              float64  `json:"south_lat"`
	West               float64  `json:"west_lon"`
	North              float64  `json:"north_lat"`
	East               float64  `json:"east_lon"`
	CRS                string   `json:"crs"`
	CRSCode            string   `json:"crs_code,omitempty"`
	Datum              string   `json:"datum"`
	VerticalUnit       string   `json:"vertical_unit"`
	VerticalUnitStated bool     `json:"vertical_unit_stated"`
	VerticalDatum      string   `json:"vertical_datum,omitempty"`
	PixelIsPoint       bool     `json:"pixel_is_point"`
	NoData             *float64 `json:"nodata"`
	Overviews          []int    `json:"overview_widths"`
	Surface            string   `json:"surface,omitempty"`
	VerticalErrorM     *float64 `json:"vertical_error_m"`
	VerticalErrorFrom  string   `json:"vertical_error_source,omitempty"`
	VoidShare          *float64 `json:"void_share,omitempty"`
	SuspectPosts       *int64   `json:"suspect_posts,omitempty"`
	Lowest             *place   `json:"lowest,omitempty"`
	Highest            *place   `json:"highest,omitempty"`
	Attribution        string   `json:"attribution,omitempty"`
	Warnings           []string `json:"warnings"`
}

func demInfoRun(ctx context.Context, o *demInfoOptions) error {
	u, err := o.output.choose()
	if err != nil {
		return err
	}
	c, err := loadConfig()
	if err != nil {
		return err
	}
	if len(o.paths) == 0 {
		c.HeightUnit = "" // the demo data's is known
	}
	options, err := o.file.options(c)
	if err != nil {
		return err
	}
	var source dem.Source
	headerOnly := o.quick
	switch {
	case len(o.paths) == 0:
		source, err = asSource(gdalio.OpenBytes(demo.Name, demo.Bytes(), options))
	case len(o.paths) > 1 || gdalio.NamesMany(o.paths[0]):
		return demSummaryRun(ctx, o, options, u)
	case gdalio.IsAddress(o.paths[0]):
		headerOnly = true
		source, err = asSource(gdalio.OpenURL(ctx, o.paths[0], options, gdalio.RemoteOptions{}))
	default:
		source, err = asSource(gdalio.Open(o.paths[0], options))
	}
	if err != nil {
		return err
	}
	defer source.Close()
	info, f := source.Info(), source.Layout()
	a := demInfoAnswer{
		Name: info.Name, Driver: info.Driver, DataType: info.DataType, Columns: f.Columns, Rows: f.Rows,
		CRS: f.CRS.Name, CRSCode: f.CRS.Code, Datum: f.CRS.Datum, VerticalUnit: info.VerticalUnit, VerticalUnitStated: info.VerticalUnitStated,
		VerticalDatum: info.VerticalDatum, PixelIsPoint: info.PixelIsPoint, NoData: info.NoData, Overviews: info.Overviews,
		Surface: string(info.Surface), VerticalErrorFrom: info.VerticalErrorSource, Attribution: info.Attribution, Warnings: info.Warnings,
	}
	if a.Warnings == nil {
		a.Warnings = []string{}
	}
	if a.Overviews == nil {
		a.Overviews = []int{}
	}
	if info.VerticalError > 0 {
		a.VerticalErrorM = rounded(info.VerticalError, 2)
	}
	extent, err := f.Extent()
	if err != nil {
		return err
	}
	a.South, a.West, a.North, a.East = *rounded(float64(extent.South), 7), *rounded(float64(extent.West), 7), *rounded(float64(extent.North), 7), *rounded(float64(extent.East), 7)
	along, across, err := f.Spacing(float64(f.Columns-1)/2, float64(f.Rows-1)/2)
	if err != nil {
		return err
	}
	a.SpacingEastM, a.SpacingNorthM = rounded(along, 2), rounded(across, 2)
	if f.CRS.Geographic {
		a.SpacingXDeg, a.SpacingYDeg = rounded(abs(f.DX), 9), rounded(abs(f.DY), 9)
	}
	if !headerOnly {
		census, err := dem.Count(ctx, source, dem.CensusOptions{Progress: o.streams.progress("reading heights")})
		if err != nil {
			return err
		}
		a.VoidShare = rounded(census.VoidShare(), 6)
		a.SuspectPosts = &census.Suspicion.Posts
		a.Warnings = append([]string{}, source.Info().Warnings...) // with what reading found
		for _, suspect := range census.Suspicion.First {
			a.Warnings = append(a.Warnings, suspect.String())
		}
		if doubt := dem.RangeDoubt(info.VerticalUnit, census.Suspicion.Lowest, census.Suspicion.Highest); doubt != "" {
			a.Warnings = append(a.Warnings, doubt)
		}
		if census.Voids < census.Posts {
			for _, e := range []struct {
				to **place
				at dem.Extreme
			}{{&a.Lowest, census.Lowest}, {&a.Highest, census.Highest}} {
				at, err := f.Place(float64(e.at.Column), float64(e.at.Row))
				if err != nil {
					return err
				}
				d := describePlace(namedPlace{LatLon: at}, e.at.Elevation)
				*e.to = &d
			}
		}
	}
	if o.output.json {
		return writeJSON(o.streams.Out, a)
	}
	p := &page{w: o.streams.Out}
	a.write(p, u)
	return p.err
}

// asSource keeps a nil of a concrete type out of the interface.
func asSource[T dem.Source](source T, err error) (dem.Source, error) {
	if err != nil {
		return nil, err
	}
	return source, nil
}

func abs(v float64) float64 {
	if v < 0 {
		return -v
	}
	return v
}

func (a demInfoAnswer) write(p *page, u units) {
	p.head(a.Name)
	kind := "posts are the middles of cells"
	if a.PixelIsPoint {
		kind = "posts are points"
	}
	p.line("format", "%s, %s, %d columns by %d rows; %s", a.Driver, a.DataType, a.Columns, a.Rows, kind)
	spacing := fmt.Sprintf("%s along a row, %s along a column", spacingText(u, a.SpacingEastM), spacingText(u, a.SpacingNorthM))
	if a.SpacingXDeg != nil {
		spacing += fmt.Sprintf(" (%s and %s)", degreesText(*a.SpacingXDeg), degreesText(*a.SpacingYDeg))
	}
	p.line("spacing", "%s, at its middle", spacing)
	p.line("extent", "%.5f,%.5f to %.5f,%.5f", a.South, a.West, a.North, a.East)
	crs := a.CRS
	if a.CRSCode != "" {
		crs += " (" + a.CRSCode + ")"
	}
	p.line("crs", "%s", crs)
	p.line("datum", "%s", a.Datum)
	heights := "in " + plural(a.VerticalUnit)
	if !a.VerticalUnitStated {
		heights += " (assumed: the file does not say; --height-unit sets it)"
	}
	if a.VerticalDatum != "" {
		heights += ", above " + a.VerticalDatum
	} else {
		heights += ", vertical datum not stated"
	}
	p.line("heights", "%s", heights)
	if a.Surface != "" {
		p.line("surface", "%s", a.Surface)
	}
	if a.VerticalErrorM != nil {
		p.line("error", "%s, one standard deviation (%s)", u.height(*a.VerticalErrorM), a.VerticalErrorFrom)
	} else {
		p.line("error", "not stated; give one with --vertical-error where a command asks")
	}
	nodata := "none declared"
	if a.NoData != nil {
		nodata = strconv.FormatFloat(*a.NoData, 'g', -1, 64)
	}
	p.line("void value", "%s", nodata)
	if a.VoidShare == nil {
		p.line("heights", "not read")
	} else {
		p.line("voids", "%.2f %% of posts", 100**a.VoidShare)
	}
	if a.SuspectPosts != nil {
		p.line("suspect", "%d posts stand out as no ground does", *a.SuspectPosts)
	}
	if a.Lowest != nil {
		p.line("lowest", "%s", a.Lowest.text(u))
		p.line("highest", "%s", a.Highest.text(u))
	}
	overviews := "none"
	if len(a.Overviews) > 0 {
		var widths []string
		for _, w := range a.Overviews {
			widths = append(widths, strconv.Itoa(w))
		}
		overviews = strings.Join(widths, ", ") + " columns wide"
	}
	p.line("overviews", "%s", overviews)
	if a.Attribution != "" {
		p.line("credit", "%s", a.Attribution)
	}
	for _, w := range a.Warnings {
		p.line("warning", "%s", w)
	}
}

func spacingText(u units, v *float64) string {
	if v == nil {
		return "unknown"
	}
	if u.us {
		return fmt.Sprintf("%.1f ft", *v/metresPerFoot)
	}
	return fmt.Sprintf("%.1f m", *v)
}

// degreesText writes a spacing in arc-seconds, as data sets are named.
func degreesText(d float64) string {
	return strconv.FormatFloat(round3(d*3600), 'f', -1, 64) + "″"
}

func round3(v float64) float64 { return *rounded(v, 3) }
