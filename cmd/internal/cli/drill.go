package cli

import (
	"bytes"
	"context"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	"crowline/contour"
	"crowline/contour/drill"
	paper "crowline/contour/page"
	figures "crowline/dem/units"
)

type drillOptions struct {
	question

	around   string
	radius   float64
	seed     uint64
	level    string
	count    int
	counted  bool // --count is given
	copies   int
	minutes  string
	kinds    []string
	title    string
	scale    float64
	interval intervalFlag
	paper    string
	relief   float64
	part     string
	file     string
}

func newDrillCmd(s Streams, runF func(context.Context, *drillOptions) error) *cobra.Command {
	o := &drillOptions{question: question{streams: s}}
	if runF == nil {
		runF = drillRun
	}
	cmd := &cobra.Command{
		Use:   "drill --around PLACE",
		Short: "Exercises in reading contours, with true answers",
		Long: `Make an exercise sheet on real ground, with its answer key: name a landform,
read an elevation or a grid reference, tell which way water runs and trace it,
draw a profile or tell which belongs to a line, say whether A sees B, which
leg climbs least, how steep a slope is and of what shape, how long a leg takes,
where two bearings cross, what hides a destination. Every answer is computed,
with the working and common mistakes. A question is asked only where its answer
is clear of the data's error and of a slip in reading the map.

--copies 12 makes sheets A to L for a class, of the seed and the eleven after:
all sheets, then all keys, each with its letter. Copy B alone is made again with
its own seed, which stands on it.

The same seed makes the same sheet. Without -o the questions and the key are
printed as text. A .pdf holds all pages; page 2 of class.png is class-2.png,
and is refused if a file of that name is there.

Kinds: ` + strings.Join(report.Wrap(strings.Join(answer.DrillKinds(), ", "), report.Width-len("Kinds: .")), "\n") + `.`,
		Example: `  crowline drill --around 34.3297,-118.0548 --radius 4km -o drill.pdf
  crowline drill --around Camp --places trip.gpx --minutes 15 --seed 7 -o d.pdf
  crowline drill --around 34.3297,-118.0548 --minutes 15 --copies 4 -o class.pdf
  crowline drill --around 34.3297,-118.0548 --kinds sight,climb --count 6`,
		Args: exactArgs(0, "no arguments; name the place with --around"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.counted = cmd.Flags().Changed("count")
			return runF(cmd.Context(), o)
		},
	}
	o.ground.add(cmd)
	o.places.add(cmd)
	o.sight.addEye(cmd)
	o.output.add(cmd)
	o.needle.add(cmd)
	f := cmd.Flags()
	f.StringVar(&o.around, "around", "", "`PLACE` in the middle of the exercises")
	f.Var(newLength(4000, &o.radius).within(from(500, 50e3)), "radius", "how far round it the exercises may lie")
	f.Var(newSeed(1, &o.seed), "seed", "which sheet: another `number`, other questions")
	f.StringVar(&o.level, "level", string(drill.Intermediate), "`level` of the questions: beginner, intermediate or leader")
	f.Var(newCount(10, &o.count, 1, 50), "count", "the `number` of questions")
	f.Var(newCount(0, &o.copies, 1, drill.MostCopies), "copies", "so many sheets for a class on the same ground, with other questions and a key each: this `number`")
	f.Lookup("copies").DefValue = ""
	f.StringVar(&o.minutes, "minutes", "", "as many questions as a class answers in these `minutes`: 15, 30 or 45")
	f.StringSliceVar(&o.kinds, "kinds", nil, "only these `kinds` of question, separated by commas")
	f.StringVar(&o.title, "title", "", "`title` of the sheet")
	f.Var(newScale(25000, &o.scale, from(1000, 250e3)), "scale", "scale of the maps: 25000 for 1:25 000")
	o.interval.add(cmd, "contour `interval`, as 20m or 40ft (default: the config file's, else what maps at --scale usually have)")
	addPaper(cmd, &o.paper)
	f.Var(newNumber(0, &o.relief, "a strength", from(0, 1)), "relief", "`strength` of relief shading, 0 for none to 1")
	f.StringVar(&o.part, "part", "both", "which `part` to draw or print: both, questions or key")
	f.StringVarP(&o.file, "out", "o", "", "`FILE`.pdf, .svg or .png to draw, or .txt")
	namesFiles(cmd, filesWritten, "out")
	needs(cmd, []string{"out"}, "paper", "relief")
	return cmd
}

// request is what the flags ask for, in these units.
func (o *drillOptions) request(u figures.System) (answer.DrillRequest, error) {
	r := answer.DrillRequest{
		Radius: o.radius, Seed: o.seed, Level: drill.Level(o.level), Count: o.count, Copies: o.copies, Title: o.title, Scale: o.scale, Units: u,
		Sighting: o.sight.sighting(), Relief: o.relief,
	}
	if o.around == "" {
		return r, usageErrorf("drill needs --around: the place the exercises lie about")
	}
	if !slices.Contains(drill.Levels, r.Level) {
		return r, usageErrorf("--level %s: give beginner, intermediate or leader", o.level)
	}
	if o.minutes != "" {
		if o.counted {
			return r, usageErrorf("--minutes says how many questions there are: leave out --count")
		}
		n, err := strconv.Atoi(o.minutes)
		if err != nil || n != 15 && n != 30 && n != 45 {
			return r, usageErrorf("--minutes %s: give 15, 30 or 45", o.minutes)
		}
		r.Minutes, r.Count = n, 0
	}
	var err error
	if r.Kinds, err = answer.ParseDrillKinds(o.kinds); err != nil {
		return r, usageErrorf("--kinds %w", err)
	}
	if r.Interval, err = o.interval.request(u); err != nil {
		return r, err
	}
	if (r.Interval.Unit == contour.Foot) != (u == figures.US) {
		return r, usageErrorf("an interval of %g %s: a drill's is in its own units; give --interval in feet with --units us and in metres without, or --interval auto", r.Interval.Value, r.Interval.Unit)
	}
	if r.Paper, err = paper.ParsePaper(o.paper); err != nil {
		return r, usageErrorf("--paper: %w", err)
	}
	switch o.part {
	case "both":
	case "questions":
		r.Part = drill.QuestionsOnly
	case "key":
		r.Part = drill.KeyOnly
	default:
		return r, usageErrorf("--part %s: give both, questions or key", o.part)
	}
	if r.Needle, err = o.needle.needle(o.streams); err != nil {
		return r, err
	}
	if err := r.Check(); err != nil {
		return r, asked(err)
	}
	r.Around, err = o.places.place(o.around)
	return r, err
}

// checkFile refuses a name that no sheet can be written to.
func (o *drillOptions) checkFile(part drill.Part) error {
	switch {
	case o.file == "":
		return nil
	case o.asText():
		return checkFolder(o.file)
	}
	if err := checkDrawingPath(o.file); err != nil {
		return err
	}
	pages := max(1, o.copies)
	if part == drill.Both {
		pages *= 2 // one of questions, one of answers
	}
	return paper.CheckPages(o.file, pages)
}

func (o *drillOptions) asText() bool { return strings.EqualFold(filepath.Ext(o.file), ".txt") }

func drillRun(ctx context.Context, o *drillOptions) error {
	u, err := o.output.system()
	if err != nil {
		return err
	}
	r, err := o.request(u)
	if err != nil {
		return err
	}
	if err := o.checkFile(r.Part); err != nil {
		return err
	}
	ctx, g, err := o.open(ctx, r.Reach())
	if err != nil {
		return err
	}
	defer g.Close()
	a, err := answer.Drill(ctx, g, r)
	if err != nil {
		return asked(err)
	}
	switch {
	case o.file == "":
		return o.output.writeAnswer(o.streams, a, func(p *report.Page) { report.DrillText(p, a) })
	case o.asText():
		var text bytes.Buffer
		report.DrillText(report.NewPage(&text, u), a)
		err = replaceFile(o.file, text.Bytes())
		a.Written = []string{o.file}
	default:
		var document *paper.Document
		if document, err = a.Document(ctx); err == nil {
			a.Written, err = document.Save(o.file, 0)
		}
	}
	if err != nil {
		return err
	}
	return o.output.writeAnswer(o.streams, a, func(p *report.Page) { report.Drill(p, a) })
}
