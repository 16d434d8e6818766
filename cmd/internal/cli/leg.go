package cli

import (
	"context"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
)

type legOptions struct {
	question

	walk       walkFlags
	start      startFlag
	from, to   string
	plot       string
	marks      int
	chain      bool
	throughout bool
	full       bool
}

func newLegCmd(s Streams, runF func(context.Context, *legOptions) error) *cobra.Command {
	o := &legOptions{question: question{streams: s}}
	if runF == nil {
		runF = legRun
	}
	cmd := &cobra.Command{
		Use:   "leg FROM TO",
		Short: "One straight leg: bearing, sight, climb and time",
		Long: `Work out one straight leg: the bearing to follow (true, grid, magnetic and
back), whether the destination can be seen from the start and from which
parts of the way, what the leg climbs and drops, how steep it is, and what it
takes in time and paces. The first lines are for the decision: what could hurt,
which way, what to sight, and how far off you may come out. --full writes the
rest.

Drift is how far to either side of the destination you may come out, 19 times in
20: by the error of your bearing (--compass-error), the declination's, and the
marks'. An attack point is the last plain landform before the destination; what
tells you that you have gone too far, and what you may follow, hold for one who
walks on the compass alone.

The bearing is for a compass with no declination set on it, with the number for
one that has it beside; --compass, or compass in the config file, says which is
yours, and only its number stands. --declination is for a day outside the
magnetic model or the figure printed on your map; it is taken as good to 0.5
degrees.

Climb is counted in two ways. By the ground: every rise and fall of the
profile, from edge to edge between the posts, except wiggles smaller than
--dead-band. By the map: the contour lines crossed up and down, just those that
a map of this data shows at --interval, the interval of the map in your hand.
Without it, it is the one maps at 1:25 000 usually have (10 m, or 40 ft), or the
next that the data's vertical error supports: the same for every leg on this
data. What the lines come to is right to less than an interval for each rise or
fall that crosses a line. A map has no lines where data is missing.

Times are for walking, by three rules; the text gives their range. --speed is
your own on a level path: Tobler's rule walks every slope in proportion, and
off path at 0.6 of it; Naismith's and DIN's add for climbs what they always do.
Where the leg has ground so steep along its line that hands are needed, it has
no time and no paces, and says where.

--start tells when you arrive if the slowest rule holds and you rest 10 minutes
in every hour (common practice), when the sun sets there, when civil twilight
ends, and whether hills take the sun away earlier. If the day ends before you
arrive, the first lines say so.

The sightings are taken on what you can recognise: tops, notches, the ends of
ridges and spurs, steep faces, water, your --places, and the goal once it is in
view. They stand ahead, within 15 degrees of the line, or behind for a look
back, and are told from your line with a hand at arm's length: a finger is about
2 degrees, a fist 10 (common practice). A mark may be lost on the way for 500 m,
but never where the line is 30 degrees or steeper; --throughout asks for marks
that are never lost.`,
		Example: `  crowline leg 34.3297,-118.0548 34.3008,-118.0514
  crowline leg Camp Knob --places trip.gpx --dem tile.tif --units us
  crowline leg 34.3297,-118.0548 34.3008,-118.0514 --start 14:00-08:00
  crowline leg Camp Knob --places trip.gpx --compass adjusted --declination 3.2W
  crowline leg "11S 402967 3799217" 34.3008,-118.0514 --json`,
		Args: exactArgs(2, "two places, FROM and TO"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.from, o.to = args[0], args[1]
			return runF(cmd.Context(), o)
		},
	}
	o.question.add(cmd)
	o.needle.addCompass(cmd)
	o.walk.add(cmd)
	o.walk.addErrors(cmd)
	o.start.add(cmd)
	cmd.Flags().Var(newCount(3, &o.marks, 0, mostMarks), "marks", "the `number` of marks to walk on to list; 0 leaves out marks, chain and landforms")
	cmd.Flags().BoolVar(&o.chain, "chain", false, "only the chain of sightings, start to destination")
	cmd.Flags().BoolVar(&o.full, "full", false, "write everything known of the leg, not the short answer alone")
	cmd.Flags().BoolVar(&o.throughout, "throughout", false, "sight marks that stay in view all the way that they lead")
	cmd.Flags().Bool("seen-when-chosen", false, "how it is without --throughout")
	_ = cmd.Flags().MarkHidden("seen-when-chosen") // the flag is there
	cmd.Flags().StringVar(&o.plot, "plot", "", "draw the profile to `FILE`.svg, .png or .pdf")
	namesFiles(cmd, filesWritten, "plot")
	return cmd
}

func legRun(ctx context.Context, o *legOptions) error {
	if o.chain && o.full {
		return usageErrorf("--chain writes the sightings alone and --full writes everything: choose one")
	}
	if (o.chain || o.throughout) && o.marks == 0 {
		return usageErrorf("--chain and --throughout need marks: leave out --marks 0")
	}
	r, err := o.request()
	if err != nil {
		return err
	}
	if o.plot != "" {
		if err := checkDrawingPath(o.plot); err != nil {
			return err
		}
	}
	return ask(ctx, &o.question, r, answer.Leg, func(ctx context.Context, _ *answer.Ground, a *answer.LegAnswer) error {
		if o.plot != "" {
			u, err := o.output.system()
			if err != nil {
				return err
			}
			drawing, err := report.LegDrawing(a, u)
			if err != nil {
				return err
			}
			if err := savePlot(ctx, o.plot, drawing); err != nil {
				return err
			}
		}
		return o.output.writeAnswer(o.streams, a, func(p *report.Page) {
			switch {
			case o.chain:
				report.LegChain(p, a)
			case o.full:
				report.LegInFull(p, a, o.marks)
			default:
				report.Leg(p, a)
			}
			if o.plot != "" {
				p.Written("Profile drawn to", o.plot)
			}
		})
	})
}

// request is what the flags ask.
func (o *legOptions) request() (r answer.LegRequest, err error) {
	u, err := o.output.system()
	if err != nil {
		return r, err
	}
	r = answer.LegRequest{Sighting: o.sight.sighting(), Cover: o.cover.request(), Marks: o.marks, Throughout: o.throughout}
	if r.Walk, err = o.walk.request(u); err != nil {
		return r, err
	}
	if r.Needle, err = o.needle.needle(o.streams); err != nil {
		return r, err
	}
	r.Day = o.start.today(r.Day, o.needle.date != "")
	r.Start = o.start.on(r.Day)
	if r.From, err = o.places.place(o.from); err != nil {
		return r, err
	}
	if r.To, err = o.places.place(o.to); err != nil {
		return r, err
	}
	if r.Places, err = o.places.named(); err != nil {
		return r, err
	}
	return r, asked(r.Check())
}
