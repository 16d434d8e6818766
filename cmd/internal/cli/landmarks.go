package cli

import (
	"context"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	"crowline/visibility"
)

type landmarksOptions struct {
	question

	bearing bearingFlags

	from         string
	directed     bool
	within       float64
	radius       float64
	prominence   float64
	visualRange  float64
	most         int
	hidden       bool
	forFix       bool
	compassError float64
	markError    float64
}

func newLandmarksCmd(s Streams, runF func(context.Context, *landmarksOptions) error) *cobra.Command {
	o := &landmarksOptions{question: question{streams: s}}
	if runF == nil {
		runF = landmarksRun
	}
	cmd := &cobra.Command{
		Use:   "landmarks FROM",
		Short: "What can be sighted from a place, best mark first",
		Long: `Tell what to sight from a place. First what a stranger could pick out by
looking, all round and best first: tops, notches, the ends of ridges and spurs,
cliffs, water and your own --places, each told by how it looks, in words that
fit nothing else in view. Then the summits of the data and your places, each
with its bearing, distance, elevation angle, what stands behind it and how far
it stands out, ranked as marks to walk on. Over --cover these alone.

With --bearing only what is near that bearing: the best thing to sight, or else
the point of the skyline on it, told from what stands beside it in degrees and
in fingers (2°) and fists (10°) at arm's length, over the bare ground; from
where on the way something better shows, within a fist of the line; and what
ground is seen along it.

A mark's rank is the product of: far (d/(d + 2 km)); on the bearing; on the
skyline (1) or against ground (1/2, more the farther behind); distinct
(h/(h + 1/4°), h its height as an angle); kept in view, where a leg is asked;
and how likely it is to be seen, where the data's vertical error is known. Each
mark says why it stands where it does. Marks more likely hidden than seen come
after those, and last what the eye cannot find: smaller than an arc-minute, or
lost in haze.

--for-fix proposes sets of marks that are each seen with 75 % or more, by the
error of the place they fix; if there are none, sets with doubtful marks, and
says so.

` + coverHelp + `
A mark, named place or summit, stands on bare ground in such a clearing of its
own. Marks whose verdict is another over the bare ground are said.`,
		Example: `  crowline landmarks 34.3297,-118.0548 --radius 15km
  crowline landmarks Camp --places trip.gpx --bearing 138 --magnetic
  crowline landmarks Camp --places trip.gpx --for-fix`,
		Args: exactArgs(1, "one place"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.from = args[0]
			o.directed = o.bearing.set(cmd)
			return runF(cmd.Context(), o)
		},
	}
	o.question.add(cmd)
	o.needle.addCompass(cmd)
	o.bearing.add(cmd, "look along this bearing, `degrees`")
	cmd.Flags().Var(newNumber(float64(visibility.DefaultWithin), &o.within, "an angle in degrees", above(0, 180)), "within", "how far off the bearing a mark may lie, `degrees`")
	addRadius(cmd, &o.radius, "how far off marks are listed; what rises behind them is looked at beyond")
	cmd.Flags().Var(newLength(0, &o.prominence).within(above(0, 10e3)), "prominence", "least rise of a summit above its saddle (default 20m, or twice the data's vertical error)")
	cmd.Flags().Lookup("prominence").DefValue = ""
	cmd.Flags().Var(newLength(answer.DefaultPolicy().VisualRange, &o.visualRange).within(above(0, 1000e3)), "visual-range", "how far the air lets one see: marks lost in haze come after all others that show")
	cmd.Flags().Var(newCount(12, &o.most, 0, mostInList), "most", "list at most this `number` in text")
	cmd.Flags().BoolVar(&o.hidden, "with-hidden", false, "list hidden marks too, and by how much (JSON has them unasked where the ground is not over 20 million posts)")
	cmd.Flags().BoolVar(&o.forFix, "for-fix", false, "propose the visible marks that fix this place best by their bearings")
	addCompassError(cmd, &o.compassError, 2, "one standard deviation of a compass bearing, `degrees`, for --for-fix")
	addMarkError(cmd, &o.markError, "one standard deviation of where on a mark you would point, for --for-fix")
	needs(cmd, []string{"bearing"}, "within")
	needs(cmd, []string{"for-fix"}, "compass-error", "mark-error")
	return cmd
}

func landmarksRun(ctx context.Context, o *landmarksOptions) error {
	r, err := o.request()
	if err != nil {
		return err
	}
	return ask(ctx, &o.question, r, answer.Landmarks, func(_ context.Context, _ *answer.Ground, a *answer.LandmarksAnswer) error {
		return o.output.writeAnswer(o.streams, a, func(p *report.Page) { report.Landmarks(p, a, o.most, o.hidden) })
	})
}

// request is what the flags ask. JSON has hidden marks unasked, but of large ground.
func (o *landmarksOptions) request() (r answer.LandmarksRequest, err error) {
	if _, err := o.output.system(); err != nil {
		return r, err
	}
	r = answer.LandmarksRequest{
		Within: o.within, Sighting: o.sight.sighting(), Cover: o.cover.request(), Radius: o.radius, Prominence: o.prominence,
		VisualRange: o.visualRange, Hidden: o.hidden, HiddenToo: o.output.json, HowSure: o.most,
	}
	if o.directed {
		heading := o.bearing.heading()
		r.Heading = &heading
	}
	if o.forFix {
		r.ForFix = &answer.FixErrors{Compass: o.compassError, Mark: o.markError}
		if err := r.ForFix.Check(); err != nil { // the compass's is in range
			return r, usageErrorf("--mark-error: %w", err)
		}
	}
	if r.Needle, err = o.needle.needle(o.streams); err != nil {
		return r, err
	}
	if r.From, err = o.places.place(o.from); err != nil {
		return r, err
	}
	if r.Places, err = o.places.named(); err != nil {
		return r, err
	}
	return r, asked(r.Check())
}
