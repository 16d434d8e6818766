package cli

import (
	"context"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
)

type vantageOptions struct {
	question

	around       string
	radius       float64
	see          []string
	watch        string
	watchTo      string
	target       bool // its height was given
	marksTo      float64
	apart        float64
	most         int
	slope        float64
	width        float64
	compassError float64
	markError    float64
	file         string
}

func newVantageCmd(s Streams, runF func(context.Context, *vantageOptions) error) *cobra.Command {
	o := &vantageOptions{question: question{streams: s}}
	if runF == nil {
		runF = vantageRun
	}
	d := answer.DefaultVantage()
	cmd := &cobra.Command{
		Use:   "vantage --around PLACE",
		Short: "Where to stand: for a class, to see a mark, to watch a leg",
		Long: `Find where to stand near a place. Every post of the elevation data within
--radius is asked, and the best standpoints are listed, apart from each other.

For a class (with neither --see nor --watch): where most marks are seen, well
spread in bearing, some near and some far, on ground a group can stand on:
known, no steeper than --slope over --width, and no cliff nearer than you stray
on the way. Marks are summits, cliffs and your own --places, no farther off than
--marks-to, and no farther than they stand out: a summit while it rises 0.25
degrees over its saddle, a cliff while it is 1 degree high. From the best 50
places all that can be recognised is looked for anew. They are ranked by how
many marks show for sure, how their bearings cross, how well the best three fix
you, and whether some are near and some far; those behind steep ground last.

--see MARK, which may be given again: where the marks are seen from, all of them
where that can be, nearest and easiest to reach first.

--watch FROM --watch-to TO: where most of someone walking that leg is seen from.
--target-height is how much of them may be hidden: with 1m, all below the hips.

For --see and --watch the ground may be steeper than for a class. The way to a
standpoint is told as a straight line from the place. It is no way to walk: ask
leg for that.

The file's name says what is written:
  .pdf .svg .png  a map, the score as a tint, the best standpoints by number
  .gpx .geojson   the standpoints
  .tif            for every post: the score, how many marks are seen, of how
                  many it is not known, and whether one can stand there well`,
		Example: `  crowline vantage --around 34.3297,-118.0548 --radius 2km
  crowline vantage --around Camp --places trip.gpx --radius 1500m -o stand.pdf
  crowline vantage --around 34.3297,-118.0548 --see 34.3115,-118.0533
  crowline vantage --around Camp --places trip.gpx --watch Camp --watch-to Knob`,
		Args: exactArgs(0, "no arguments; name the place with --around"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if o.cover.file != "" {
				return usageErrorf("vantage has no --cover: a sight runs both ways only over the same ground, and over cover eye and mark stand in clearings of their own; ask sight or landmarks with --cover from a standpoint")
			}
			o.target = cmd.Flags().Changed("target-height")
			class := len(o.see) == 0 && o.watch == ""
			if class {
				if err := idle(cmd, "marks for a class are the ground itself", "target-height"); err != nil {
					return err
				}
			} else if err := idle(cmd, "it is for a class: without --see and --watch", "marks-to", "compass-error", "mark-error"); err != nil {
				return err
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
	f := cmd.Flags()
	f.StringVar(&o.around, "around", "", "`PLACE` in the middle of the ground to stand on")
	f.Var(newLength(d.Radius, &o.radius).within(above(0, 50e3)), "radius", "how far from it to stand")
	f.StringArrayVar(&o.see, "see", nil, "a `MARK` that must be seen, a place; again for more")
	f.StringVar(&o.watch, "watch", "", "`FROM`, the start of a leg to watch")
	f.StringVar(&o.watchTo, "watch-to", "", "`TO`, its end")
	f.Var(newLength(d.MarksTo, &o.marksTo).within(above(0, 100e3)), "marks-to", "how far off marks for a class count")
	f.Var(newLength(d.Apart, &o.apart).within(from(0, 50e3)), "apart", "how far apart standpoints stand")
	f.Var(newCount(d.Most, &o.most, 1, answer.DefaultPolicy().VantageLooked), "most", "list at most this `number` of standpoints")
	f.Var(newNumber(0, &o.slope, "a slope in degrees", from(1, 59)), "slope", "the steepest ground to stand on, `degrees` (default 10 for a class, else 20)")
	f.Var(newLength(0, &o.width).within(above(0, 1000)), "width", "how wide that ground must be (default 20m for a class, else 4m)")
	f.Lookup("slope").DefValue, f.Lookup("width").DefValue = "", ""
	addCompassError(cmd, &o.compassError, d.Errors.Compass, "one standard deviation of a bearing, `degrees`, for the fix of a class")
	addMarkError(cmd, &o.markError, "one standard deviation of where on a mark you would point")
	f.StringVar(&o.cover.file, "cover", "", "refused: ask sight or landmarks with a `file` of cover, from a standpoint")
	namesFiles(cmd, filesRead, "cover")
	f.StringVarP(&o.file, "out", "o", "", "`FILE` to write")
	namesFiles(cmd, filesWritten, "out")
	return cmd
}

func vantageRun(ctx context.Context, o *vantageOptions) error {
	r, err := o.request()
	if err != nil {
		return err
	}
	return ask(ctx, &o.question, r, answer.Vantage, func(ctx context.Context, g *answer.Ground, a *answer.VantageAnswer) error {
		if o.file != "" {
			if err := o.write(ctx, g, a); err != nil {
				return err
			}
		}
		return o.output.writeAnswer(o.streams, a, func(p *report.Page) { report.Vantage(p, a) })
	})
}

// request is what the flags ask, and makes sure the answer can be written.
func (o *vantageOptions) request() (r answer.VantageRequest, err error) {
	if _, err := o.output.system(); err != nil {
		return r, err
	}
	r = answer.VantageRequest{
		Radius: o.radius, Sighting: o.sight.sighting(), MarksTo: o.marksTo, Errors: answer.FixErrors{Compass: o.compassError, Mark: o.markError},
		Apart: o.apart, Most: o.most, Slope: o.slope, Width: o.width,
	}
	switch {
	case o.around == "":
		return r, usageErrorf("vantage needs --around: the place to stand near")
	case (o.watch == "") != (o.watchTo == ""):
		return r, usageErrorf("--watch and --watch-to go together: the two ends of the leg")
	case o.watch != "" && len(o.see) > 0:
		return r, usageErrorf("--see and --watch are two questions: ask one at a time")
	}
	if err := r.Errors.Check(); err != nil { // the compass's is in range
		return r, usageErrorf("--mark-error: %w", err)
	}
	if o.watch != "" && !o.target {
		r.Sighting.Target = answer.DefaultPolicy().WalkerSeen
	}
	if o.file != "" {
		switch strings.ToLower(filepath.Ext(o.file)) {
		case ".tif", ".tiff", ".geojson", ".json", ".gpx":
			err = checkFolder(o.file)
		default:
			err = checkDrawingPath(o.file)
		}
		if err != nil {
			return r, err
		}
	}
	if r.Needle, err = o.needle.needle(o.streams); err != nil {
		return r, err
	}
	if r.Around, err = o.places.place(o.around); err != nil {
		return r, err
	}
	for _, text := range o.see {
		p, err := o.places.place(text)
		if err != nil {
			return r, err
		}
		r.See = append(r.See, p)
	}
	if o.watch != "" {
		from, err := o.places.place(o.watch)
		if err != nil {
			return r, err
		}
		to, err := o.places.place(o.watchTo)
		if err != nil {
			return r, err
		}
		r.WatchFrom, r.WatchTo = &from, &to
	}
	if r.Places, err = o.places.named(); err != nil {
		return r, err
	}
	return r, asked(r.Check())
}

// write writes the file asked for, by its ending.
func (o *vantageOptions) write(ctx context.Context, g *answer.Ground, a *answer.VantageAnswer) (err error) {
	if out := map[string]answer.Output{".tif": a.GeoTIFF, ".tiff": a.GeoTIFF, ".geojson": a.GeoJSON, ".json": a.GeoJSON, ".gpx": a.GPX}[strings.ToLower(filepath.Ext(o.file))]; out != nil {
		a.Written, err = out(ctx, o.file)
		return err
	}
	u, err := o.output.system()
	if err != nil {
		return err
	}
	document, err := report.VantageMap(ctx, g, a, u)
	if err != nil {
		return err
	}
	return save(document, o.file, &a.Written, &a.Warnings)
}
