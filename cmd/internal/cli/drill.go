package cli

import (
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"crowline/contour"
	"crowline/contour/drill"
	paper "crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile/magnetic"
)

type drillOptions struct {
	question

	around   string
	radius   float64
	seed     uint64
	level    string
	count    int
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
read an elevation, tell which profile belongs to a line, whether A sees B,
which leg climbs least, how steep a slope is, bearings and back bearings
between true, grid and magnetic, a bearing off the page, and what hides a
destination. Every answer is computed, with the working. A question is asked
only where its answer is clear of the data's error and of a slip in reading
the map.

The same seed makes the same sheet. Without -o the questions and the key are
printed as text. A .pdf holds all pages; page 2 of class.png is class-2.png,
and is refused if a file of that name is there.

Kinds: ` + strings.Join(wrap(kindList(), pageWidth-len("Kinds: .")), "\n") + `.`,
		Example: `  crowline drill --around 34.3297,-118.0548 --radius 4km -o drill.pdf
  crowline drill --around Camp --places trip.gpx --level leader --seed 7 -o d.pdf
  crowline drill --around 34.3297,-118.0548 --kinds sight,climb --count 6`,
		Args: exactArgs(0, "no arguments; name the place with --around"),
		RunE: func(cmd *cobra.Command, args []string) error { return runF(cmd.Context(), o) },
	}
	o.ground.add(cmd)
	o.places.add(cmd)
	o.sight.addEye(cmd)
	o.output.add(cmd)
	o.date.add(cmd)
	f := cmd.Flags()
	f.StringVar(&o.around, "around", "", "`PLACE` in the middle of the exercises")
	f.Var(newLength(4000, &o.radius).within(from(500, 50e3)), "radius", "how far round it the exercises may lie")
	f.Var(newSeed(1, &o.seed), "seed", "which sheet: another `number`, other questions")
	f.StringVar(&o.level, "level", string(drill.Intermediate), "`level` of the questions: beginner, intermediate or leader")
	f.Var(newCount(10, &o.count, 1, 50), "count", "the `number` of questions")
	f.StringSliceVar(&o.kinds, "kinds", nil, "only these `kinds` of question, separated by commas")
	f.StringVar(&o.title, "title", "", "`title` of the sheet")
	f.Var(newScale(25000, &o.scale, from(1000, 250e3)), "scale", "scale of the maps: 25000 for 1:25 000")
	f.Var(&o.interval, "interval", "contour interval, as 20m or 40ft (default: chosen)")
	f.StringVar(&o.paper, "paper", "a4", "a4, a3, letter, tabloid, or `WxH` in millimetres")
	f.Var(newNumber(0, &o.relief, "a strength", from(0, 1)), "relief", "`strength` of relief shading, 0 for none to 1")
	f.StringVar(&o.part, "part", "both", "which `part` to draw or print: both, questions or key")
	f.StringVarP(&o.file, "out", "o", "", "`FILE`.pdf, .svg or .png to draw, or .txt")
	namesFiles(cmd, filesWritten, "out")
	needs(cmd, []string{"out"}, "paper", "relief")
	return cmd
}

func kindList() string {
	var names []string
	for _, k := range drill.Kinds {
		names = append(names, string(k))
	}
	return strings.Join(names, ", ")
}

// options checks the flags and turns them into the library's.
func (o *drillOptions) options(u units) (drill.Options, drill.PageOptions, error) {
	out := drill.Options{
		Radius: o.radius, Seed: o.seed, Level: drill.Level(o.level), Count: o.count, Title: o.title, Scale: o.scale,
		EyeAboveGround: o.sight.eye, Refraction: o.sight.refraction, Progress: o.streams.progress("asking"),
	}
	pages := drill.PageOptions{Relief: o.relief, Cautions: cautions}
	switch {
	case o.around == "":
		return out, pages, usageErrorf("drill needs --around: the place the exercises lie about")
	case !slices.Contains(drill.Levels, out.Level):
		return out, pages, usageErrorf("--level %s: it is beginner, intermediate or leader", o.level)
	}
	for _, k := range o.kinds {
		kind := drill.Kind(strings.TrimSpace(k))
		if !slices.Contains(drill.Kinds, kind) {
			return out, pages, usageErrorf("--kinds %s: the kinds are %s", k, kindList())
		}
		out.Kinds = append(out.Kinds, kind)
	}
	if u.us {
		out.Units = sheet.US
	}
	if o.interval.set {
		out.Interval = o.interval.value
		if (o.interval.unit.Metres() == 1) == u.us {
			return out, pages, usageErrorf("--interval: give it in the sheet's own units, feet with --units us and metres without")
		}
	}
	var err error
	if pages.Paper, err = paper.ParsePaper(o.paper); err != nil {
		return out, pages, usageErrorf("--paper: %w", err)
	}
	switch o.part {
	case "both":
	case "questions":
		pages.Part = drill.QuestionsOnly
	case "key":
		pages.Part = drill.KeyOnly
	default:
		return out, pages, usageErrorf("--part %s: it is both, questions or key", o.part)
	}
	return out, pages, nil
}

func drillRun(ctx context.Context, o *drillOptions) error {
	u, _, day, err := o.read()
	if err != nil {
		return err
	}
	options, pages, err := o.options(u)
	if err != nil {
		return err
	}
	options.Date = day
	text := strings.EqualFold(filepath.Ext(o.file), ".txt")
	switch {
	case text:
		err = checkFolder(o.file)
	case o.file != "":
		if err = checkDrawingPath(o.file); err == nil && pages.Part == drill.Both {
			err = paper.CheckPages(o.file, 2) // one of questions, one of answers
		}
	}
	if err != nil {
		return err
	}
	around, err := o.places.resolve(o.around)
	if err != nil {
		return err
	}
	options.Around = around.LatLon
	// destinations, landforms and map panels reach beyond the radius
	margin := 2*o.radius + 0.2*o.scale
	o.ground.perPost = drillPostBytes
	g, err := o.ground.open(ctx, o.streams, []geodesy.LatLon{around.LatLon}, margin)
	if err != nil {
		return err
	}
	defer g.Close()
	grid, err := g.thinned(ctx, []geodesy.LatLon{around.LatLon}, margin, drawnPost*o.scale)
	if err != nil {
		return err
	}
	start, err := dem.ElevationAt(grid, around.LatLon)
	if err != nil {
		return err
	}
	options.VerticalError = g.verticalError
	if field, err := magnetic.WMM2025.At(around.LatLon, start, options.Date); err == nil && field.Zone != magnetic.Blackout {
		options.Declination = &sheet.Declination{East: geodesy.Degrees(field.Declination), Sigma: field.DeclinationSigma, Annual: field.AnnualChange,
			Model: magnetic.WMM2025.Name(), Date: options.Date}
	}
	set, err := drill.Make(ctx, grid, options)
	if err != nil {
		return err
	}
	spacing, err := gridSpacing(grid)
	if err != nil {
		return err
	}
	data := g.describe(spacing)
	var written []string
	switch {
	case text:
		err = replaceFile(o.file, []byte(drillText(set, pages.Part, data, u)))
		written = []string{o.file}
	case o.file != "":
		drawn := *set
		if g.doubt != "" { // elsewhere it is among the data's warnings
			drawn.Notes = append(slices.Clone(set.Notes), g.doubt)
		}
		var document *paper.Document
		if document, err = drawn.Document(ctx, pages); err == nil {
			written, err = document.Save(o.file, 0)
		}
	}
	if err != nil {
		return err
	}
	if o.output.json {
		return o.writeJSON(set, written, data)
	}
	if o.file == "" {
		_, err := fmt.Fprint(o.streams.Out, drillText(set, pages.Part, data, u))
		return err
	}
	p := &page{w: o.streams.Out}
	p.head("Drill")
	p.line("written", "%s", strings.Join(written, ", "))
	p.line("questions", "%d, level %s, seed %d", len(set.Questions), set.Level, set.Seed)
	p.line("interval", "%s", set.IntervalReason)
	for _, n := range set.Notes {
		p.line("note", "%s", n)
	}
	p.head("Data")
	data.write(p, u)
	writeCautions(p)
	return p.err
}

// drillAnswer is a set of questions in JSON, with what it rests on.
type drillAnswer struct {
	*drill.Set
	IntervalM     float64       `json:"contour_interval_m"`
	Written       []string      `json:"written"`
	Assumptions   assumptions   `json:"assumptions"`
	ElevationData elevationData `json:"elevation_data"` // in place of the set's, a name
	Cautions      []string      `json:"cautions"`
}

func (o *drillOptions) writeJSON(set *drill.Set, written []string, data elevationData) error {
	a := drillAnswer{Set: set, IntervalM: set.Interval, Written: written, Assumptions: o.sight.describe(), ElevationData: data, Cautions: cautions}
	if set.IntervalUnit == contour.Foot.String() {
		a.IntervalM *= contour.Foot.Metres()
	}
	if a.Written == nil {
		a.Written = []string{}
	}
	text, err := json.Marshal(a)
	if err != nil {
		return err
	}
	if text, err = roundJSON(text); err != nil {
		return err
	}
	return writeJSON(o.streams.Out, json.RawMessage(text))
}

// drillText is the questions, the key or both, wrapped for a terminal, and
// what they rest on.
func drillText(set *drill.Set, part drill.Part, data elevationData, u units) string {
	text := set.Text() + "\n" + set.Key()
	switch part {
	case drill.QuestionsOnly:
		text = set.Text()
	case drill.KeyOnly:
		text = set.Key()
	}
	var out strings.Builder
	for _, line := range strings.Split(strings.TrimRight(text, "\n"), "\n") {
		rest := strings.TrimLeft(line, " ")
		indent := strings.Repeat(" ", len(line)-len(rest))
		for i, part := range wrap(rest, pageWidth-len(indent)-3) {
			if i == 1 {
				indent += "   "
			}
			out.WriteString(strings.TrimRight(indent+part, " ") + "\n")
		}
	}
	p := &page{w: &out, began: true}
	p.head("Data")
	data.write(p, u)
	writeCautions(p)
	return out.String()
}
