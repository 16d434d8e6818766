package cli

import (
	"context"
	"image/color"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	paper "crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/profile/drift"
)

type sheetOptions struct {
	question

	lines contourFlags

	from, to      string
	route, name   string // a file, and which line of it
	points        bool
	paper         string
	north         string
	labelReading  string
	title         string
	indexColour   string
	lightColour   string
	relief        float64
	marks         int
	compassError  float64
	hidden        bool
	magneticLines bool
	plain         bool
	file          string
	dpi           float64
}

func newSheetCmd(s Streams, runF func(context.Context, *sheetOptions) error) *cobra.Command {
	o := &sheetOptions{question: question{streams: s}}
	if runF == nil {
		runF = sheetRun
	}
	cmd := &cobra.Command{
		Use:   "sheet FROM [TO] -o FILE",
		Short: "A contour map printed to scale, with the leg or the route on it",
		Long: `Draw a contour map true to scale, to be printed and walked with: one place in
the middle, or a leg with its bearing, its ticks and its profile under the
map. On the leg are the marks of its sightings, numbered as crowline leg numbers
them, rungs across the line where the ground is 30 degrees or steeper, and the
cliffs within the drift of your compass. The margin has scale bars, the contour
interval, the true, grid and magnetic norths with their angles, the data and
what it is worth.

--route draws a whole route from a file, as crowline route reads it: its legs
numbered, and the marks by leg and letter as on its card. Where one page does
not hold it, pages follow it and share 20 mm; a key shows which page is where.

Print it at 100 %, and check the 100 mm bar with a ruler. A leg too long for
one page is split over several (one file a page for .svg and .png).

--plain is for a class: all contours alike, thin and grey, with a few numbers
and the interval left out, to trace the index lines in one colour and the
others in another, and to work out the interval. What it is stands in the
answer on your screen.

--hidden tells how sure it is where the data's error is known: ground is clear
(75 % chance to see it or more), within the error (25 to 75 %) or out of sight.
With --cover the ground that --hidden tints is that hidden over what stands on
the ground (a post with cover on it is seen when its top is), the profile is
drawn with it, and only marks seen over it are shown; eye, marks and the end of
a leg stand on bare ground in clearings as wide as --clearing says and never
less than their cell.`,
		Example: `  crowline sheet 34.3297,-118.0548 34.3008,-118.0514 --scale 25000 -o leg.pdf
  crowline sheet 34.3297,-118.0548 --paper a3 --relief 0.5 -o class.pdf
  crowline sheet 34.3297,-118.0548 --plain --paper a4-landscape -o trace.pdf
  crowline sheet --route trip.gpx --scale 25000 -o route.pdf
  crowline sheet Camp Knob --places trip.gpx --magnetic-lines -o leg.svg`,
		Args: func(cmd *cobra.Command, args []string) error {
			if o.route != "" {
				return exactArgs(0, "no places beside --route")(cmd, args)
			}
			return rangeArgs(1, 2, "one or two places, or --route FILE")(cmd, args)
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				o.from = args[0]
			}
			if len(args) == 2 {
				o.to = args[1]
			}
			if err := o.checkIdle(cmd); err != nil {
				return err
			}
			if o.plain && !cmd.Flags().Changed("label-reading") {
				o.labelReading = "reader"
			}
			return runF(cmd.Context(), o)
		},
	}
	o.question.add(cmd)
	o.lines.add(cmd, answer.DefaultLines().Scale, from(500, 1e6))
	f := cmd.Flags()
	f.StringVar(&o.route, "route", "", "map the turning points of `FILE`, in order: GPX, GeoJSON, KML, KMZ, shapefile or CSV")
	namesFiles(cmd, filesRead, "route")
	f.StringVar(&o.name, "name", "", "which line of the route's file, by `name` or number, where it holds several")
	f.BoolVar(&o.points, "points", false, "walk the points of the route's file in order, not its lines")
	needs(cmd, []string{"route"}, "name", "points")
	needs(cmd, []string{"places", "route"}, "places-crs")
	addPaper(cmd, &o.paper)
	f.StringVar(&o.north, "north", "grid", "which `north` is up: grid (the local UTM grid) or true")
	addReading(cmd, &o.labelReading)
	f.BoolVar(&o.plain, "plain", false, "thin grey contours all alike and few numbers, to trace on; numbers read toward the reader")
	f.StringVar(&o.title, "title", "", "`title` of the sheet (default: the places, by name or by coordinates)")
	f.StringVar(&o.indexColour, "index-colour", "", "colour of index contours, as `RRGGBB`")
	f.StringVar(&o.lightColour, "contour-colour", "", "colour of the other contours, as `RRGGBB`")
	f.Var(newNumber(0, &o.relief, "a strength", from(0, 1)), "relief", "`strength` of relief shading, 0 for none to 1")
	f.Var(newCount(mostMarks, &o.marks, 0, mostMarks), "marks", "the `number` of the leg's sightings to mark at most")
	f.Lookup("marks").DefValue = ""
	f.Var(newNumber(float64(drift.DefaultCompass), &o.compassError, "an error in degrees", from(0, 30)), "compass-error", "how well you keep a bearing, one standard deviation in `degrees`: cliffs within that drift are drawn")
	f.BoolVar(&o.hidden, "hidden", false, "tint the ground that cannot be seen from the start")
	f.BoolVar(&o.magneticLines, "magnetic-lines", false, "draw magnetic-north lines across the map")
	f.StringVarP(&o.file, "out", "o", "", "`FILE`.pdf, .svg or .png to write")
	namesFiles(cmd, filesWritten, "out")
	f.Var(newNumber(200, &o.dpi, "a number of dots per inch", from(30, 1200)), "dpi", "`dots` per inch of a .png")
	return cmd
}

func parseColour(flag, text string) (color.NRGBA, error) {
	v, err := strconv.ParseUint(strings.TrimPrefix(text, "#"), 16, 32)
	if err != nil || len(strings.TrimPrefix(text, "#")) != 6 {
		return color.NRGBA{}, usageErrorf("%s %s: write a colour as RRGGBB, as 7A4B00", flag, text)
	}
	return color.NRGBA{R: uint8(v >> 16), G: uint8(v >> 8), B: uint8(v), A: 255}, nil
}

// style is the default pens with the user's colours.
func (o *sheetOptions) style() (sheet.Style, error) {
	style := sheet.DefaultStyle()
	if o.indexColour != "" {
		c, err := parseColour("--index-colour", o.indexColour)
		if err != nil {
			return style, err
		}
		style.Index.Color = c
	}
	if o.lightColour != "" {
		c, err := parseColour("--contour-colour", o.lightColour)
		if err != nil {
			return style, err
		}
		style.Intermediate.Color, style.Supplementary.Color = c, c
	}
	return style, nil
}

// size is the paper, of which a .png can be drawn where one is asked for.
func (o *sheetOptions) size() (paper.Paper, error) {
	size, err := paper.ParsePaper(o.paper)
	if err != nil {
		return size, usageErrorf("--paper: %w", err)
	}
	if hasEnding(o.file, ".png") {
		return size, o.ground.checkImage(o.output.cmd.Context(), size, o.dpi)
	}
	return size, nil
}

// checkIdle refuses flags that bear on nothing of the sheet asked for.
func (o *sheetOptions) checkIdle(cmd *cobra.Command) error {
	if !hasEnding(o.file, ".png") {
		if err := idle(cmd, "it is for a .png", "dpi"); err != nil {
			return err
		}
	}
	if o.plain {
		if o.to != "" || o.route != "" {
			return usageErrorf("--plain is a map to trace contours on: give it one place")
		}
		if err := idle(cmd, "--plain has its own pens, and leaves the ground to be read", "index-colour", "contour-colour", "hidden", "relief", "half"); err != nil {
			return err
		}
	}
	if o.route != "" {
		return idle(cmd, "it is for a map of one place or leg", "hidden")
	}
	if o.to != "" {
		return nil
	}
	if o.marks > 0 {
		if err := idle(cmd, "marks are those of a leg, FROM and TO", "marks"); err != nil {
			return err
		}
	}
	if err := idle(cmd, "it is for the cliffs near a leg, FROM and TO", "compass-error"); err != nil {
		return err
	}
	if o.hidden {
		return nil
	}
	return idle(cmd, "it bears on --hidden and on a leg", "eye", "target-height", "refraction")
}

func sheetRun(ctx context.Context, o *sheetOptions) error {
	r, err := o.request()
	if err != nil {
		return err
	}
	return ask(ctx, &o.question, r, answer.Sheet, func(_ context.Context, _ *answer.Ground, a *answer.SheetAnswer) error {
		if a.Written, err = a.Document().Save(o.file, o.dpi); err != nil {
			return err
		}
		return o.output.writeAnswer(o.streams, a, func(p *report.Page) { report.Sheet(p, a) })
	})
}

// request is what the flags ask, and makes sure the sheet can be written.
func (o *sheetOptions) request() (r answer.SheetRequest, err error) {
	u, err := o.output.system()
	if err != nil {
		return r, err
	}
	if o.file == "" {
		return r, usageErrorf("sheet needs -o FILE: the .pdf, .svg or .png to draw")
	}
	if err := checkDrawingPath(o.file); err != nil {
		return r, err
	}
	if o.name != "" && o.points {
		return r, usageErrorf("--name picks a line and --points leaves lines out: give one of them")
	}
	if o.cover.file != "" && !o.hidden && o.to == "" && o.route == "" {
		return r, usageErrorf("--cover changes only --hidden and a leg's profile and marks, and this sheet has none of them: leave it out, or ask for one of them")
	}
	r = answer.SheetRequest{
		Sighting: o.sight.sighting(), Cover: o.cover.request(), Title: o.title, Relief: o.relief, Marks: o.marks,
		Hidden: o.hidden, MagneticLines: o.magneticLines, Plain: o.plain, Units: u, Walk: answer.DefaultWalk(),
	}
	r.Walk.CompassError = o.compassError
	switch o.north {
	case "grid":
	case "true":
		r.North = sheet.TrueNorth
	default:
		return r, usageErrorf("--north %s: give grid or true", o.north)
	}
	for _, read := range []func() error{
		func() (err error) { r.Needle, err = o.needle.needle(o.streams); return err },
		func() (err error) { r.Lines, err = o.lines.request(u); return err },
		func() (err error) { r.Places, err = o.places.named(); return err },
		func() error { return o.where(&r) },
		func() (err error) { r.Paper, err = o.size(); return err },
		func() (err error) { r.Reading, err = parseReading(o.labelReading); return err },
		func() (err error) { r.Style, err = o.style(); return err },
	} {
		if err := read(); err != nil {
			return r, err
		}
	}
	return r, asked(r.Check())
}

// where reads the place, the leg or the route to map.
func (o *sheetOptions) where(r *answer.SheetRequest) (err error) {
	if o.route != "" {
		left, err := o.places.options()
		if err != nil {
			return err
		}
		if r.Course, err = answer.ReadCourse(answer.CourseFile{Left: left, Path: o.route, Line: o.name, Points: o.points, AskLine: "--name", AskPoints: "--points"}); err != nil {
			return asked(err)
		}
		r.Course.NameAfter(r.Places)
		return nil
	}
	if r.From, err = o.places.place(o.from); err != nil || o.to == "" {
		return err
	}
	to, err := o.places.place(o.to)
	r.To = &to
	return err
}
