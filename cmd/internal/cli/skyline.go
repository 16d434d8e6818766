package cli

import (
	"context"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	"crowline/visibility"
)

type skylineOptions struct {
	question

	from   string
	radius float64
	step   float64
	file   string
	rows   int
}

func newSkylineCmd(s Streams, runF func(context.Context, *skylineOptions) error) *cobra.Command {
	o := &skylineOptions{question: question{streams: s}}
	if runF == nil {
		runF = skylineRun
	}
	cmd := &cobra.Command{
		Use:   "skyline FROM",
		Short: "The horizon all round, and the summits on it",
		Long: `Find the horizon round a place: on each bearing the elevation angle of the
skyline, how far off the ground is that makes it, and how high. Summits that
break the line are listed, named where a --places file names them.

The file's name says what is written:
  .svg .png .pdf   a strip 750 mm long, 2 mm to the degree, or with --rows
                   the same in rows on an A4 page
  .csv .json       the horizon as figures, a line every --step

` + coverHelp + `
A summit stands on the skyline with what is on it, a named place on bare
ground. Where the cover raises the skyline over the bare ground's is said.`,
		Example: `  crowline skyline 34.29706,-118.02863 -o skyline.svg
  crowline skyline Camp --places trip.gpx --radius 10km --rows 4 -o skyline.pdf
  crowline skyline 34.3297,-118.0548 --step 0.5 -o skyline.csv`,
		Args: exactArgs(1, "one place, FROM"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.from = args[0]
			return runF(cmd.Context(), o)
		},
	}
	o.ground.add(cmd)
	o.places.add(cmd)
	o.sight.addEye(cmd)
	o.output.add(cmd)
	o.needle.add(cmd)
	o.cover.add(cmd)
	addRadius(cmd, &o.radius, "how far off summits are listed; the skyline is looked for beyond")
	cmd.Flags().Var(newNumber(1, &o.step, "an angle in degrees", from(0.01, 30)), "step", "`degrees` between the bearings given in JSON and CSV")
	cmd.Flags().StringVarP(&o.file, "out", "o", "", "`FILE` to write")
	namesFiles(cmd, filesWritten, "out")
	cmd.Flags().Var(newCount(0, &o.rows, 0, 6), "rows", "draw in so many `rows` on A4, 1 to 6 (default: one long strip)")
	needs(cmd, []string{"out"}, "rows")
	return cmd
}

// addEye adds the flags that ground itself as the target needs.
func (f *sightFlags) addEye(cmd *cobra.Command) {
	cmd.Flags().Var(newLength(visibility.DefaultEyeAboveGround, &f.eye).within(aboveGround), "eye", "the eye above the ground")
	addRefraction(cmd, &f.refraction)
}

func skylineRun(ctx context.Context, o *skylineOptions) error {
	r, err := o.request()
	if err != nil {
		return err
	}
	return ask(ctx, &o.question, r, answer.Skyline, func(ctx context.Context, _ *answer.Ground, a *answer.SkylineAnswer) error {
		if o.file != "" {
			if err := o.write(ctx, a); err != nil {
				return err
			}
		}
		return o.output.writeAnswer(o.streams, a, func(p *report.Page) { report.Skyline(p, a) })
	})
}

// request is what the flags ask, and makes sure the answer can be written.
func (o *skylineOptions) request() (r answer.SkylineRequest, err error) {
	if _, err := o.output.system(); err != nil {
		return r, err
	}
	r = answer.SkylineRequest{Sighting: o.sight.sighting(), Cover: o.cover.request(), Radius: o.radius, Step: o.step}
	if r.Needle, err = o.needle.needle(o.streams); err != nil {
		return r, err
	}
	if err := asked(r.Check()); err != nil {
		return r, err
	}
	if err := o.checkFile(); err != nil {
		return r, err
	}
	if r.From, err = o.places.place(o.from); err != nil {
		return r, err
	}
	r.Places, err = o.places.named()
	return r, err
}

func (o *skylineOptions) checkFile() error {
	switch strings.ToLower(filepath.Ext(o.file)) {
	case "":
		if o.file == "" {
			return nil
		}
	case ".csv", ".json":
		return checkFolder(o.file)
	}
	if err := checkDrawingPath(o.file); err != nil {
		return usageErrorf("%s: a skyline's name ends in .svg, .png, .pdf, .csv or .json, in a folder that is there", o.file)
	}
	return nil
}

// write writes the file asked for, by its ending.
func (o *skylineOptions) write(ctx context.Context, a *answer.SkylineAnswer) (err error) {
	if out := map[string]answer.Output{".csv": a.CSV, ".json": a.JSON}[strings.ToLower(filepath.Ext(o.file))]; out != nil {
		a.Written, err = out(ctx, o.file)
		return err
	}
	u, err := o.output.system()
	if err != nil {
		return err
	}
	document, err := report.SkylineDrawing(a, o.rows, u)
	if err != nil {
		return err
	}
	return save(document, o.file, &a.Written, &a.Warnings)
}
