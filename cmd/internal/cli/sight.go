package cli

import (
	"context"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	paper "crowline/contour/page"
	figures "crowline/dem/units"
)

type sightOptions struct {
	question

	bearing bearingFlags

	from, to string
	directed bool
	radius   float64
	plot     string
}

func newSightCmd(s Streams, runF func(context.Context, *sightOptions) error) *cobra.Command {
	o := &sightOptions{question: question{streams: s}}
	if runF == nil {
		runF = sightRun
	}
	cmd := &cobra.Command{
		Use:   "sight FROM [TO]",
		Short: "What is seen: one place from another, or along a bearing",
		Long: `Tell whether TO can be seen from FROM over the ground: the verdict (visible,
hidden or unknown), by how much the line clears the ground or is blocked and
where, the elevation angle, and how much higher eye or target would have to be.
How sure it is comes from the data's vertical error, and the words follow it:
visible is 95 % or more, probably visible 50, probably hidden 5, and under that
hidden. Do not count on what is under 75 %: JSON calls 25 to 75 doubtful.

With --bearing instead of TO: what ground is seen along that bearing, as far
as --radius or the edge of the data, and what stands on the skyline.

With --cover it is also told whether TO is seen over what stands on the ground,
eye and target each on bare ground in a clearing as wide as --clearing says and
never less than its cell. Along a bearing the answer is over it. --plot draws
it, and what cannot be seen over it.

Eye and target stand on the nearest post where that is a top, else on the
highest ground within 2 m. Place, distance and bearing stay as you gave them.

Curvature and refraction are allowed for. Ground that just touches the line
does not hide. Unknown means that the line meets ground with no elevation
data.`,
		Example: `  crowline sight 34.3297,-118.0548 34.3008,-118.0514 --eye 1.7m
  crowline sight Camp Tower --places trip.gpx --target-height 60ft --json
  crowline sight 34.3297,-118.0548 --bearing 138 --magnetic --radius 12km`,
		Args: rangeArgs(1, 2, "a place and either another or --bearing"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.from, o.directed = args[0], o.bearing.set(cmd)
			if len(args) == 2 {
				o.to = args[1]
			}
			if o.directed == (o.to != "") {
				return usageErrorf("sight needs a place, and either another place or --bearing")
			}
			return runF(cmd.Context(), o)
		},
	}
	o.question.add(cmd)
	o.needle.addCompass(cmd)
	o.bearing.add(cmd, "look along this bearing, `degrees`, instead of at a place")
	addRadius(cmd, &o.radius, "how far to tell what is seen; the skyline is looked for beyond")
	needs(cmd, []string{"bearing"}, "radius")
	cmd.Flags().StringVar(&o.plot, "plot", "", "draw the profile to `FILE`.svg, .png or .pdf")
	namesFiles(cmd, filesWritten, "plot")
	return cmd
}

func sightRun(ctx context.Context, o *sightOptions) error {
	if o.directed {
		return o.look(ctx)
	}
	r, err := o.request()
	if err != nil {
		return err
	}
	to, err := o.places.place(o.to)
	if err != nil {
		return err
	}
	q := answer.SightRequest{From: r.From, To: to, Sighting: r.Sighting, Cover: r.Cover, Needle: r.Needle, Lines: r.Lines}
	if err := asked(q.Check()); err != nil {
		return err
	}
	return ask(ctx, &o.question, q, answer.Sight, func(ctx context.Context, _ *answer.Ground, a *answer.SightAnswer) error {
		if err := o.draw(ctx, func(u figures.System) (*paper.Document, error) { return report.SightDrawing(a, u) }); err != nil {
			return err
		}
		return o.output.writeAnswer(o.streams, a, func(p *report.Page) { report.Sight(p, a) })
	})
}

// look answers a sight along a bearing.
func (o *sightOptions) look(ctx context.Context) error {
	r, err := o.request()
	if err != nil {
		return err
	}
	if err := asked(r.Check()); err != nil {
		return err
	}
	return ask(ctx, &o.question, r, answer.Look, func(ctx context.Context, _ *answer.Ground, a *answer.LookAnswer) error {
		if err := o.draw(ctx, func(u figures.System) (*paper.Document, error) { return report.LookDrawing(a, u) }); err != nil {
			return err
		}
		return o.output.writeAnswer(o.streams, a, func(p *report.Page) { report.Look(p, a) })
	})
}

// request is what the flags ask, of a sight along a bearing, and makes sure a
// drawing can be written.
func (o *sightOptions) request() (r answer.LookRequest, err error) {
	u, err := o.output.system()
	if err != nil {
		return r, err
	}
	r = answer.LookRequest{Heading: o.bearing.heading(), Sighting: o.sight.sighting(), Cover: o.cover.request(), Radius: o.radius}
	if r.Needle, err = o.needle.needle(o.streams); err != nil {
		return r, err
	}
	if o.plot != "" {
		lines, err := (&intervalFlag{cmd: o.output.cmd}).request(u)
		if err != nil {
			return r, err
		}
		r.Lines = &lines
		if err := checkDrawingPath(o.plot); err != nil {
			return r, err
		}
	}
	r.From, err = o.places.place(o.from)
	return r, err
}

// draw draws the profile, where it was asked for.
func (o *sightOptions) draw(ctx context.Context, drawing func(u figures.System) (*paper.Document, error)) error {
	if o.plot == "" {
		return nil
	}
	u, err := o.output.system()
	if err != nil {
		return err
	}
	document, err := drawing(u)
	if err != nil {
		return err
	}
	return savePlot(ctx, o.plot, document)
}
