package cli

import (
	"context"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	paper "crowline/contour/page"
)

type walkOptions struct {
	question

	around string
	radius float64
	points int
	title  string
	scale  float64
	paper  string
	walk   walkFlags
	file   string
}

func newWalkCmd(s Streams, runF func(context.Context, *walkOptions) error) *cobra.Command {
	o := &walkOptions{question: question{streams: s}}
	if runF == nil {
		runF = walkRun
	}
	cmd := &cobra.Command{
		Use:   "walk --around PLACE",
		Short: "A round for a class to walk, with maps and a route card",
		Long: `Lay out a round for a class to walk near a place: five to eight points that a
stranger knows when there (tops, saddles, ends of spurs, where two valleys
meet), on ground of 15 degrees or less, and straight legs between them.

No leg is longer than --radius or 1.2 km, or shorter than 200 m; none crosses
ground of 30 degrees or has a cliff within the drift of the compass; and at most
500 m beyond every point something tells that you have gone too far. Of the
rounds that hold, the one with the least way and climb is taken. Where there is
none, smaller landforms and legs from 120 m are tried, then a walk to a last
point and back the same way.

-o FILE.gpx has the points and the route for a receiver. Any other -o FILE has a
master map for the teacher, with the points and what tells each, a
blank map of the same ground for the class, and a route card with a row for each
leg. Points are lettered crosses; a short arrow shows the way to the next.

Before any class walks it, walk all of it yourself: this is worked out from
elevation data alone. Ask whose land it is, and follow local rules.`,
		Example: `  crowline walk --around 34.3297,-118.0548 --radius 2km -o walk.pdf
  crowline walk --around 34.32,-118.12 --points 5 --paper letter -o walk.pdf
  crowline walk --around 34.3297,-118.0548 --radius 2km --json`,
		Args: exactArgs(0, "no arguments; name the place with --around"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if o.receiver() && (cmd.Flags().Changed("paper") || cmd.Flags().Changed("scale")) {
				return usageErrorf("-o %s is no drawing: leave out --paper and --scale", o.file)
			}
			return runF(cmd.Context(), o)
		},
	}
	o.ground.add(cmd)
	o.places.add(cmd)
	o.sight.add(cmd)
	o.output.add(cmd)
	o.needle.add(cmd)
	o.needle.addCompass(cmd)
	o.walk.add(cmd)
	o.walk.addErrors(cmd)
	f := cmd.Flags()
	f.StringVar(&o.around, "around", "", "`PLACE` in the middle of the ground to walk")
	f.Var(newLength(1500, &o.radius).within(from(300, 5000)), "radius", "how far from it points may be, and how long a leg")
	f.Var(newCount(0, &o.points, 5, 8), "points", "the `number` of points, 5 to 8 (default: what suits the ground)")
	f.Lookup("points").DefValue = ""
	f.StringVar(&o.title, "title", "", "`title` of the sheets")
	f.Var(newScale(0, &o.scale, from(500, 1e6)), "scale", "scale of the maps (default: the largest that holds the walk)")
	f.Lookup("scale").DefValue = ""
	addPaper(cmd, &o.paper)
	f.StringVarP(&o.file, "out", "o", "", "`FILE`.pdf, .svg or .png to draw, or .gpx for a receiver")
	namesFiles(cmd, filesWritten, "out")
	needs(cmd, []string{"out"}, "paper", "scale")
	return cmd
}

// walkPages are at least drawn: two maps and a card.
const walkPages = 3

func walkRun(ctx context.Context, o *walkOptions) error {
	r, err := o.request()
	if err != nil {
		return err
	}
	return ask(ctx, &o.question, r, answer.WalkSheet, func(ctx context.Context, g *answer.Ground, a *answer.WalkSheetAnswer) error {
		switch {
		case o.receiver():
			written, err := a.GPX()(ctx, o.file)
			if err != nil {
				return err
			}
			a.Written = written
		case o.file != "":
			document, err := report.WalkSheets(ctx, g, a, r.Paper, r.Units)
			if err != nil {
				return err
			}
			if err := save(document, o.file, &a.Written, &a.Warnings); err != nil {
				return err
			}
		}
		return o.output.writeAnswer(o.streams, a, func(p *report.Page) { report.WalkSheet(p, a) })
	})
}

// receiver reports whether the file is for a receiver, not for paper.
func (o *walkOptions) receiver() bool { return strings.EqualFold(filepath.Ext(o.file), ".gpx") }

// request is what the flags ask, and makes sure the sheets can be written.
func (o *walkOptions) request() (r answer.WalkSheetRequest, err error) {
	u, err := o.output.system()
	if err != nil {
		return r, err
	}
	if o.around == "" {
		return r, usageErrorf("walk needs --around: the place to walk near")
	}
	switch {
	case o.receiver():
		if err := checkFolder(o.file); err != nil {
			return r, err
		}
	case o.file != "":
		if !slices.Contains(paper.Formats, strings.ToLower(filepath.Ext(o.file))) {
			return r, usageErrorf("%s: name the file so that it ends in %s, or .gpx", o.file, strings.Join(paper.Formats, ", "))
		}
		if err := checkDrawingPath(o.file); err != nil {
			return r, err
		}
		if err := paper.CheckPages(o.file, walkPages); err != nil {
			return r, err
		}
	}
	r = answer.WalkSheetRequest{Radius: o.radius, Points: o.points, Sighting: o.sight.sighting(), Title: o.title, Units: u}
	if err := paper.CheckText(o.title, paper.Bold); err != nil {
		return r, usageErrorf("--title: %w", err)
	}
	if r.Paper, err = paper.ParsePaper(o.paper); err != nil {
		return r, usageErrorf("--paper: %w", err)
	}
	if r.Walk, err = o.walk.request(u); err != nil {
		return r, err
	}
	r.Lines = answer.DefaultLines()
	r.Lines.Scale, r.Lines.Interval = o.scale, r.Walk.Interval
	if r.Needle, err = o.needle.needle(o.streams); err != nil {
		return r, err
	}
	if r.Around, err = o.places.place(o.around); err != nil {
		return r, err
	}
	if r.Places, err = o.places.named(); err != nil {
		return r, err
	}
	return r, asked(r.Check())
}
