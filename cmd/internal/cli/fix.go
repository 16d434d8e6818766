package cli

import (
	"context"
	"fmt"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	paper "crowline/contour/page"
	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/visibility/fix"
)

type fixOptions struct {
	question

	bearings       []string
	intersect      bool
	magnetic       bool
	compassError   float64
	markError      float64
	altimeter      float64
	altimeterError float64
	line           string
	lineName       string
	lineError      float64
	paper          string
	file           string
}

func newFixCmd(s Streams, runF func(context.Context, *fixOptions) error) *cobra.Command {
	o := &fixOptions{question: question{streams: s}}
	if runF == nil {
		runF = fixRun
	}
	cmd := &cobra.Command{
		Use:   "fix --bearing MARK=DEG --bearing MARK=DEG",
		Short: "Find a place from compass bearings",
		Long: `Find where you are from bearings you took to known marks (resection), or with
--intersect where an unknown point is from bearings taken to it at known
places. MARK is a place or a name from --places. A bearing is true unless
--magnetic is given or it ends in m: 212m; 212t is true in any case.

The answer is the place that fits the bearings best, how well it is known (the
ellipse, or where lines cross flatly the patch of ground, that holds the true
place 19 times in 20), what each bearing is out by, and what is doubtful: lines
that cross flatly, a bearing that does not agree, a mark that the ground hides.
It is called yours where all that fits lies within 500 m of it and nothing is
doubted: else it is no place to walk from yet. Lines that cross at less than
2.4 times the error of the angle between them (7° for a compass good to 2°),
or not much more, may as well be parallel: they give no place.

An altimeter reading or a known line (a stream, a ridge, a path) that you stand
on counts as evidence; with one of them a single bearing may be enough. Where
several places fit about as well (the worst a twentieth as likely as the best),
all are listed, and none is called yours. So it is where some fit a bearing as
you read it and others fit it turned half round, the wrong end of the needle.

-o draws it on a map: the lines that the bearings give, the ground that holds
the place, the marks by name, and the place. Where there is none to walk from
yet, or several fit, the map says so.

With --cover it is also told of each mark whether it is seen over what stands
on the ground, eye and mark each on bare ground in a clearing as wide as
--clearing says and never less than its cell. The place does not depend on it.`,
		Example: `  crowline fix --bearing 34.3277,-118.0574=225 --bearing 34.3115,-118.0533=176
  crowline fix --places trip.gpx --bearing Knob=46m --bearing Tower=123m
  crowline fix --places trip.gpx --bearing Knob=46 --bearing Camp=80 -o fix.pdf
  crowline fix --intersect --places trip.gpx --bearing Camp=80 --bearing Ford=12
  crowline fix --bearing Knob=46 --line stream.gpx --places trip.gpx`,
		Args: exactArgs(0, "no places: give bearings with --bearing MARK=DEG"),
		RunE: func(cmd *cobra.Command, _ []string) error { return runF(cmd.Context(), o) },
	}
	o.question.add(cmd)
	cmd.Flags().StringArrayVar(&o.bearings, "bearing", nil, "a bearing in degrees and the known place it belongs to, as `MARK=DEG`; repeat")
	cmd.Flags().BoolVar(&o.intersect, "intersect", false, "the bearings were taken at the known places, to the point to be found")
	cmd.Flags().BoolVar(&o.magnetic, "magnetic", false, "bearings are magnetic on --date unless they end in t")
	addCompassError(cmd, &o.compassError, float64(fix.DefaultBearingError), "one standard deviation of a bearing, `degrees`")
	addMarkError(cmd, &o.markError, "one standard deviation of where on a mark you pointed, or stood")
	cmd.Flags().Var(newLength(math.NaN(), &o.altimeter).within(from(dem.LowestLand, dem.HighestLand)), "altimeter", "the elevation an altimeter reads at the place to be found")
	cmd.Flags().Lookup("altimeter").DefValue = ""
	cmd.Flags().Var(newLength(10, &o.altimeterError).within(above(0, 1000)), "altimeter-error", "one standard deviation of the altimeter: a drift of 1 hPa reads as about 8 m")
	cmd.Flags().StringVar(&o.line, "line", "", "`file` with a line the place lies on: GPX, GeoJSON or KML; a track not where it was paused")
	namesFiles(cmd, filesRead, "line")
	cmd.Flags().StringVar(&o.lineName, "line-name", "", "the `name` of the line, where the file holds several")
	cmd.Flags().Var(newLength(20, &o.lineError).within(above(0, 10e3)), "line-error", "one standard deviation of how far from the drawn line the place may be")
	cmd.Flags().StringVarP(&o.file, "out", "o", "", "draw the fix on a map to `FILE`.pdf, .svg or .png")
	namesFiles(cmd, filesWritten, "out")
	cmd.Flags().StringVar(&o.paper, "paper", "a4", "`paper` of the map: a4, a3, letter, tabloid or WxH in millimetres")
	needs(cmd, []string{"out"}, "paper")
	needs(cmd, []string{"altimeter"}, "altimeter-error")
	needs(cmd, []string{"line"}, "line-name", "line-error")
	return cmd
}

// parseFixBearing reads MARK=DEG, DEG perhaps with t or m after it.
func (o *fixOptions) parseFixBearing(text string) (answer.FixBearing, error) {
	at := strings.LastIndex(text, "=")
	if at < 0 {
		return answer.FixBearing{}, usageErrorf("--bearing %q: write MARK=DEG, a known place and degrees", text)
	}
	number, magneticGiven := strings.ToLower(strings.TrimSpace(text[at+1:])), o.magnetic
	if rest, ok := strings.CutSuffix(number, "m"); ok {
		number, magneticGiven = rest, true
	} else if rest, ok := strings.CutSuffix(number, "t"); ok {
		number, magneticGiven = rest, false
	}
	degrees, ok := geodesy.ParseNumber(strings.TrimSpace(strings.TrimSuffix(number, "°")))
	if !ok || degrees < 0 || degrees > 360 {
		return answer.FixBearing{}, usageErrorf("--bearing %q: %q is not a bearing from 0 to 360 degrees", text, strings.TrimSpace(text[at+1:]))
	}
	mark, err := o.places.place(text[:at])
	if err != nil {
		return answer.FixBearing{}, err
	}
	return answer.FixBearing{Mark: mark, Degrees: degrees, Magnetic: magneticGiven}, nil
}

// request is what the flags ask for.
func (o *fixOptions) request() (answer.FixRequest, error) {
	r := answer.FixRequest{
		Intersect: o.intersect, CompassError: o.compassError, MarkError: o.markError, Sighting: o.sight.sighting(), Cover: o.cover.request(),
	}
	var err error
	if r.Needle, err = o.needle.needle(o.streams); err != nil {
		return r, err
	}
	for _, text := range o.bearings {
		b, err := o.parseFixBearing(text)
		if err != nil {
			return r, err
		}
		r.Bearings = append(r.Bearings, b)
	}
	if o.line != "" {
		if r.Line, err = knownLine(o.line, o.lineName); err != nil {
			return r, err
		}
		r.Line.Error = o.lineError
	}
	if !math.IsNaN(o.altimeter) {
		r.Altimeter = &fix.Altimeter{Elevation: o.altimeter, Error: o.altimeterError}
	}
	return r, asked(r.Check())
}

func fixRun(ctx context.Context, o *fixOptions) error {
	if _, err := o.output.system(); err != nil {
		return err
	}
	size, err := paper.ParsePaper(o.paper)
	if err != nil {
		return usageErrorf("--paper: %w", err)
	}
	if o.file != "" {
		if err := checkDrawingPath(o.file); err != nil {
			return err
		}
		if hasEnding(o.file, ".png") {
			const dpi = 200 // what Save draws at
			if err := paper.CheckPNG(size.Width, size.Height, dpi); err != nil {
				return usageErrorf("--paper: %w", err)
			}
		}
	}
	r, err := o.request()
	if err != nil {
		return err
	}
	ctx, g, err := o.open(ctx, r.Reach())
	if err != nil {
		return err
	}
	defer g.Close()
	a, err := answer.Fix(ctx, g, r)
	if err != nil {
		return asked(err)
	}
	if o.file != "" {
		u, err := o.output.system()
		if err != nil {
			return err
		}
		document, err := report.FixMap(ctx, g, a, r, size, u)
		if err != nil {
			return err
		}
		if err := save(document, o.file, &a.Written, &a.MapWarnings); err != nil {
			return err
		}
	}
	return o.output.writeAnswer(o.streams, a, func(p *report.Page) { report.Fix(p, a) })
}

// knownLine reads the one line meant of a file.
func knownLine(path, name string) (*fix.Line, error) {
	lines, err := gdalio.ReadLines(path)
	if err != nil {
		return nil, err
	}
	var long []gdalio.Line // of two points and more
	for _, l := range lines {
		if len(l.Points) > 1 {
			long = append(long, l)
		}
	}
	switch {
	case len(lines) == 0:
		return nil, fmt.Errorf("%s holds no line; draw the one you stand on as a track, a route or a LineString", path)
	case len(long) == 0:
		return nil, fmt.Errorf("%s holds no line, but one point: draw the line with two points or more", path)
	}
	found, err := answer.PickLine(path, long, name, "--line-name")
	if err != nil {
		return nil, asked(err)
	}
	line := &fix.Line{Name: found.Name, Gaps: found.Gaps}
	if line.Name == "" {
		line.Name = "the line"
	}
	for _, p := range found.Points {
		line.Points = append(line.Points, p.LatLon)
	}
	return line, nil
}
