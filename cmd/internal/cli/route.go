package cli

import (
	"bytes"
	"context"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	paper "crowline/contour/page"
)

type routeOptions struct {
	question

	walk     walkFlags
	file     string
	name     string
	points   bool
	title    string
	start    startFlag
	straight bool
	paper    string
	out      string
	gpx      string
}

func newRouteCmd(s Streams, runF func(context.Context, *routeOptions) error) *cobra.Command {
	o := &routeOptions{question: question{streams: s}}
	if runF == nil {
		runF = routeRun
	}
	cmd := &cobra.Command{
		Use:   "route FILE",
		Short: "A route card: several legs, with room for notes",
		Long: `Work out several straight legs, one after the other, and write the card to
carry: for each leg what could hurt, the bearing, distance, climb, time, what to
walk on and what is passed, and room for the time, the paces and what was seen.
The text also says how far off you may come out (--compass-error), what to
attack the leg's end from, and what tells that you have gone too far. The card
has what could hurt first, in bold, and at most five lines of what to sight.

FILE holds the turning points in order: a GPX route, track or waypoints, a
GeoJSON, KML or KMZ line or points, a shapefile's points, or a CSV table with
columns lat and lon (or easting and northing, with --places-crs) and perhaps
name. A route is taken before a track, a line before points. A track
recorded with pauses is one line, its pieces joined in order. What is joined or
left out is noted.

Where one turning point more would plainly save climb, it is proposed: at
least a quarter and 60 m less ascent (and more than twice the error of that
ascent), at most 15 % longer, no more steep ground, none that needs hands. Of
those that serve, the one soonest walked by Naismith's rule.

The text gives the range of three rules for walking time, the card one, which it
names: --rule. --speed is your own speed on a level path. A leg with ground so
steep along its line that hands are needed has no time and no paces; nor then
has the whole route.

--start tells when you reach every turning point if each leg takes as long as
its slowest rule has it and you rest 10 minutes in every hour (common practice),
and when it gets dark there. If the day ends first, the first lines say so.

With --cover the card says which marks, and which legs' ends, cannot be seen
over what stands on the ground. All else is over the bare ground.`,
		Example: `  crowline route trip.gpx
  crowline route trip.csv -o card.pdf --dem tile.tif
  crowline route trip.gpx --start 08:30+01:00 --speed 4km/h
  crowline route trip.gpx --name "day two" -o card.txt --gpx marks.gpx`,
		Args: exactArgs(1, "one file of turning points"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.file = args[0]
			return runF(cmd.Context(), o)
		},
	}
	argumentsNameFiles(cmd, filesRead)
	o.question.add(cmd)
	needs(cmd, nil, "places-crs") // the route's own file may need it
	o.needle.addCompass(cmd)
	cmd.Flags().StringVar(&o.name, "name", "", "which line of the file, by `name` or number, where it holds several")
	cmd.Flags().BoolVar(&o.points, "points", false, "walk the file's points (of GPX its waypoints) in order, not its lines")
	cmd.Flags().StringVar(&o.title, "title", "", "`title` of the card (default: the route's or the file's name)")
	o.walk.add(cmd)
	o.walk.addErrors(cmd)
	cmd.Flags().Var(&o.walk.rule, "time", "what --rule was called")
	_ = cmd.Flags().MarkHidden("time") // the flag is there
	o.start.add(cmd)
	cmd.Flags().BoolVar(&o.straight, "straight", false, "propose no way round")
	cmd.Flags().StringVar(&o.paper, "paper", "a4", "`paper` of the card: a4, a3, letter, tabloid or WxH in millimetres")
	cmd.Flags().StringVarP(&o.out, "out", "o", "", "write the card to `FILE`.pdf, .svg, .png or .txt")
	namesFiles(cmd, filesWritten, "out")
	needs(cmd, []string{"out"}, "paper")
	cmd.Flags().StringVar(&o.gpx, "gpx", "", "write the route, its turning points and the marks the card names to `FILE`.gpx")
	namesFiles(cmd, filesWritten, "gpx")
	return cmd
}

// check refuses files that could not be written, before anything is computed
// for them.
func (o *routeOptions) check() error {
	if o.out != "" {
		if extension := strings.ToLower(filepath.Ext(o.out)); extension != ".txt" && !slices.Contains(paper.Formats, extension) {
			return usageErrorf("%s: a card's name ends in %s or .txt", o.out, strings.Join(paper.Formats, ", "))
		}
		if err := checkFolder(o.out); err != nil {
			return err
		}
	}
	if o.gpx != "" {
		if strings.ToLower(filepath.Ext(o.gpx)) != ".gpx" {
			return usageErrorf("--gpx %s: its name ends in .gpx", o.gpx)
		}
		return checkFolder(o.gpx)
	}
	return nil
}

// request is what the flags ask.
func (o *routeOptions) request() (r answer.RouteRequest, err error) {
	u, err := o.output.system()
	if err != nil {
		return r, err
	}
	if o.name != "" && o.points {
		return r, usageErrorf("--name picks a line and --points leaves lines out: give one of them")
	}
	r = answer.RouteRequest{Title: o.title, Sighting: o.sight.sighting(), Cover: o.cover.request(), Straight: o.straight}
	if r.Walk, err = o.walk.request(u); err != nil {
		return r, err
	}
	if r.Needle, err = o.needle.needle(o.streams); err != nil {
		return r, err
	}
	r.Day = o.start.today(r.Day, o.needle.date != "")
	r.Start = o.start.on(r.Day)
	if err := o.check(); err != nil {
		return r, err
	}
	left, err := o.places.options()
	if err != nil {
		return r, err
	}
	if r.Course, err = answer.ReadCourse(answer.CourseFile{Left: left, Path: o.file, Line: o.name, Points: o.points, AskLine: "--name", AskPoints: "--points"}); err != nil {
		return r, asked(err)
	}
	if r.Places, err = o.places.named(); err != nil {
		return r, err
	}
	r.Course.NameAfter(r.Places)
	return r, asked(r.Check())
}

func routeRun(ctx context.Context, o *routeOptions) error {
	size, err := paper.ParsePaper(o.paper)
	if err != nil {
		return usageErrorf("--paper: %w", err)
	}
	r, err := o.request()
	if err != nil {
		return err
	}
	return ask(ctx, &o.question, r, answer.Route, func(ctx context.Context, _ *answer.Ground, a *answer.RouteAnswer) error {
		if err := o.save(ctx, a, size); err != nil {
			return err
		}
		return o.output.writeAnswer(o.streams, a, func(p *report.Page) { report.Route(p, a) })
	})
}

// save writes the files asked for.
func (o *routeOptions) save(ctx context.Context, a *answer.RouteAnswer, size paper.Paper) error {
	u, err := o.output.system()
	if err != nil {
		return err
	}
	switch {
	case o.out == "":
	case strings.ToLower(filepath.Ext(o.out)) == ".txt":
		var text bytes.Buffer
		report.Route(report.NewPage(&text, u), a)
		if err := replaceFile(o.out, text.Bytes()); err != nil {
			return err
		}
		a.Written = append(a.Written, o.out)
	default:
		card, err := report.RouteCard(a, size, u)
		if err != nil {
			return err
		}
		written, err := card.Save(o.out, 0)
		if err != nil {
			return err
		}
		a.Note(card.Warnings...)
		a.Written = append(a.Written, written...)
	}
	if o.gpx == "" {
		return nil
	}
	written, err := a.GPX(report.RouteWaypoints(a, u))(ctx, o.gpx)
	a.Written = append(a.Written, written...)
	return err
}
