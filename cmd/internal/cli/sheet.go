package cli

import (
	"context"
	"errors"
	"fmt"
	"image/color"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"crowline/contour"
	paper "crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/profile/magnetic"
	"crowline/visibility"
)

type sheetOptions struct {
	question

	lines contourFlags

	from, to      string
	paper         string
	north         string
	labelReading  string
	title         string
	indexColour   string
	lightColour   string
	relief        float64
	marks         int
	hidden        bool
	magneticLines bool
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
		Short: "A contour map printed to scale, with the leg on it",
		Long: `Draw a contour map true to scale, to be printed and walked with: one place in
the middle, or a leg with its bearing, its ticks and its profile under the
map. The margin has scale bars, the contour interval, the true, grid and
magnetic norths with their angles, the data and what it is worth.

Print it at 100 %, and check the 100 mm bar with a ruler. A leg too long for
one page is split over several (one file a page for .svg and .png).

With --cover the ground that --hidden tints is that hidden over what stands on
the ground (a post with cover on it is seen when its top is), the profile is
drawn with it, and only marks seen over it are shown; eye, marks and the end of
a leg stand on bare ground in clearings as wide as --clearing says and never
less than their cell.`,
		Example: `  crowline sheet 34.3297,-118.0548 34.3008,-118.0514 --scale 25000 -o leg.pdf
  crowline sheet 34.3297,-118.0548 --paper a3 --relief 0.5 -o class.pdf
  crowline sheet Camp Knob --places trip.gpx --hidden --magnetic-lines -o leg.svg`,
		Args: rangeArgs(1, 2, "one or two places"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.from = args[0]
			if len(args) == 2 {
				o.to = args[1]
			}
			if err := o.checkIdle(cmd); err != nil {
				return err
			}
			return runF(cmd.Context(), o)
		},
	}
	o.question.add(cmd)
	o.lines.add(cmd, mapScale, from(500, 1e6))
	f := cmd.Flags()
	f.StringVar(&o.paper, "paper", "a4", "a4, a3, letter, tabloid, or `WxH` in millimetres")
	f.StringVar(&o.north, "north", "grid", "which `north` is up: grid (the local UTM grid) or true")
	addReading(cmd, &o.labelReading)
	f.StringVar(&o.title, "title", "", "`title` of the sheet (default: the places, by name or by coordinates)")
	f.StringVar(&o.indexColour, "index-colour", "", "colour of index contours, as `RRGGBB`")
	f.StringVar(&o.lightColour, "contour-colour", "", "colour of the other contours, as `RRGGBB`")
	f.Var(newNumber(0, &o.relief, "a strength", from(0, 1)), "relief", "`strength` of relief shading, 0 for none to 1")
	f.Var(newCount(3, &o.marks, 0, mostMarks), "marks", "the `number` of marks worth sighting along the leg to show")
	f.BoolVar(&o.hidden, "hidden", false, "tint the ground that cannot be seen from the start")
	f.BoolVar(&o.magneticLines, "magnetic-lines", false, "draw magnetic-north lines across the map")
	f.StringVarP(&o.file, "out", "o", "", "`FILE`.pdf, .svg or .png to write")
	namesFiles(cmd, filesWritten, "out")
	f.Var(newNumber(200, &o.dpi, "a number of dots per inch", from(30, 1200)), "dpi", "`dots` per inch of a .png")
	return cmd
}

type sheetAnswer struct {
	Written       []string      `json:"written"`
	Pages         int           `json:"pages"`
	Scale         float64       `json:"scale"`
	Interval      string        `json:"interval"`
	IntervalM     float64       `json:"interval_m"`
	Reason        string        `json:"reason"`
	OverCover     string        `json:"over_cover,omitempty"`
	Warnings      []string      `json:"warnings"`
	ElevationData elevationData `json:"elevation_data"`
	Cautions      []string      `json:"cautions"`
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
		if err := paper.CheckPNG(size.Width, size.Height, o.dpi); err != nil {
			return size, usageErrorf("--dpi: %w", err)
		}
	}
	return size, nil
}

// plan is the part of the page that needs no ground.
func (o *sheetOptions) plan(u units, size paper.Paper) (sheet.Plan, error) {
	plan := sheet.Plan{Paper: size, Title: o.title, Scale: o.lines.scale, Cautions: cautions, Relief: o.relief}
	var err error
	switch o.north {
	case "grid":
	case "true":
		plan.North = sheet.TrueNorth
	default:
		return plan, usageErrorf("--north %s: it is grid or true", o.north)
	}
	if plan.ContourReading, err = parseReading(o.labelReading); err != nil {
		return plan, err
	}
	if u.us {
		plan.Units = sheet.US
	}
	plan.MagneticLines = o.magneticLines
	plan.Style, err = o.style()
	return plan, err
}

// checkIdle refuses flags that bear on nothing of the sheet asked for.
func (o *sheetOptions) checkIdle(cmd *cobra.Command) error {
	if !hasEnding(o.file, ".png") {
		if err := idle(cmd, "it is for a .png", "dpi"); err != nil {
			return err
		}
	}
	if o.to != "" {
		return nil
	}
	if o.marks > 0 {
		if err := idle(cmd, "marks are those of a leg, FROM and TO", "marks"); err != nil {
			return err
		}
	}
	if o.hidden {
		return nil
	}
	return idle(cmd, "it bears on --hidden and on a leg", "eye", "target-height", "refraction")
}

func sheetRun(ctx context.Context, o *sheetOptions) error {
	u, conditions, day, err := o.read()
	if err != nil {
		return err
	}
	if o.file == "" {
		return usageErrorf("sheet needs -o FILE: the .pdf, .svg or .png to draw")
	}
	if err := checkDrawingPath(o.file); err != nil {
		return err
	}
	if o.cover.file != "" && !o.hidden && o.to == "" {
		return usageErrorf("--cover bears on --hidden and on a leg's profile and marks: the sheet asked for has none of them")
	}
	from, err := o.places.resolve(o.from)
	if err != nil {
		return err
	}
	var to namedPlace
	where, margin := []geodesy.LatLon{from.LatLon}, 0.0
	if o.to != "" {
		if to, err = o.places.resolve(o.to); err != nil {
			return err
		}
		where, margin = alongLeg(from.LatLon, to.LatLon)
	}
	size, err := o.size()
	if err != nil {
		return err
	}
	plan, err := o.plan(u, size)
	if err != nil {
		return err
	}
	// a page shows at most its own diagonal round its middle
	const largest = 0.6 // metres, of the largest paper with a name
	diagonal := math.Max(largest, math.Hypot(size.Width, size.Height)/1000)
	o.ground.perPost = sheetPostBytes
	if o.hidden {
		o.ground.perPost = o.cover.memory(sheetPostBytes + hiddenPostBytes)
	}
	g, err := o.ground.open(ctx, o.streams, where, math.Max(margin, diagonal*o.lines.scale))
	if err != nil {
		return err
	}
	defer g.Close()
	plan.Data, plan.Filled = g.info(), g.filled() != nil
	over, err := o.cover.open(ctx, g)
	if err != nil {
		return err
	}
	if over != nil {
		defer over.close()
	}
	plan.Date, plan.Covered = day, over != nil
	observer := visibility.Observer{Place: from.LatLon, EyeAboveGround: o.sight.eye}
	var leg *legAnswer
	var along []geodesy.LatLon
	posts := g.posts(ctx)
	start, err := dem.ElevationAt(posts, from.LatLon)
	if err != nil {
		return err
	}
	if o.to == "" {
		plan.Centre = &from.LatLon
		plan.Points = []sheet.Place{{Name: from.label(), At: from.LatLon, Elevation: start}}
		if plan.Title == "" {
			plan.Title = titled(from)
		}
	} else {
		along = alongLegs(from.LatLon, to.LatLon)
		if leg, err = sightAlong(ctx, g, from, to, observer, conditions); err != nil {
			return err
		}
		end := math.NaN()
		if leg.To.ElevationM != nil {
			end = *leg.To.ElevationM
		}
		if plan.Title == "" {
			plan.Title = titled(from) + " to " + titled(to)
		}
		plan.Leg = &sheet.Leg{
			From: sheet.Place{Name: named(from, "Start"), At: from.LatLon, Elevation: start},
			To:   sheet.Place{Name: named(to, "Destination"), At: to.LatLon, Elevation: end},
		}
	}
	if field, err := magnetic.WMM2025.At(from.LatLon, start, day); err == nil {
		plan.Declination = &sheet.Declination{East: geodesy.Degrees(field.Declination), Sigma: field.DeclinationSigma, Annual: field.AnnualChange,
			Model: magnetic.WMM2025.Name(), Date: day}
	}
	if o.hidden {
		plan.HiddenFrom = named(from, "the start")
		if o.to == "" {
			plan.HiddenFrom = from.label()
		}
		if over != nil {
			plan.HiddenFrom += " over what stands on the ground (" + over.name + ")"
		}
		plan.HiddenFrom += ", eye " + u.small(o.sight.eye)
	}
	frames, err := plan.Frames()
	if err != nil {
		return err
	}
	grid, err := g.framed(ctx, frames)
	if err != nil {
		return err
	}
	plan.Ground = grid
	levels, choice, err := o.lines.choose(ctx, g, grid, along, u)
	if err != nil {
		return err
	}
	lines, err := o.lines.trace(ctx, grid, levels, o.streams.progress("tracing contours"))
	if err != nil && !errors.Is(err, contour.ErrNothing) { // a plain's sheet has no line, and says so
		return err
	}
	plan.Contours = sheet.Contours{Lines: lines, Levels: levels}
	if leg != nil {
		leg.levels = levels
		if over != nil {
			if leg.OverCover, err = over.look(ctx, g.posts(ctx), to.LatLon, observer, conditions, leg.seen.Verdict); err != nil {
				return err
			}
		}
		if plan.Profile, err = leg.drawing(); err != nil {
			return err
		}
		if plan.Marks, err = o.chooseMarks(ctx, g, over, leg, observer, conditions); err != nil {
			return err
		}
	}
	if o.hidden {
		covered := grid
		if over != nil {
			layer, err := over.lay(ctx, o.streams, grid)
			if err != nil {
				return err
			}
			if covered, err = layer.Grid(ctx, over.clearing(from.LatLon)); err != nil {
				return err
			}
		}
		v, err := visibility.Viewshed(ctx, covered, observer, visibility.ViewshedOptions{Conditions: conditions, Progress: o.streams.progress("looking")})
		if err != nil {
			return err
		}
		if plan.Hidden, err = v.Polygons(ctx, visibility.Hidden); err != nil {
			return err
		}
		if n := v.Summary.Unknown; n > 0 {
			plan.Cautions = append(slices.Clone(plan.Cautions),
				fmt.Sprintf("Whether %d of the posts are in sight is not known: they, or ground on the way to them, are not. They have no tint.", n))
		}
	}
	if over != nil {
		plan.Cautions = slices.Clone(plan.Cautions)
		for _, w := range over.warnings() {
			plan.Cautions = append(plan.Cautions, "Warning: "+w+".")
		}
	}
	document, err := sheet.Compose(ctx, plan)
	if err != nil {
		return err
	}
	written, err := document.Save(o.file, o.dpi)
	if err != nil {
		return err
	}
	spacing, err := gridSpacing(grid)
	if err != nil {
		return err
	}
	a := sheetAnswer{
		Written: written, Pages: len(document.Pages), Scale: o.lines.scale, Interval: fmt.Sprintf("%g %s", levels.Interval, levels.Unit),
		IntervalM: *rounded(levels.Interval*levels.Unit.Metres(), 4), Reason: choice.Reason, Warnings: append([]string{}, document.Warnings...),
		ElevationData: g.describe(spacing), Cautions: cautions,
	}
	if choice.Warning != "" {
		a.Warnings = append(a.Warnings, choice.Warning)
	}
	if over != nil {
		a.OverCover = over.name
		a.Warnings = append(a.Warnings, over.warnings()...)
	}
	if o.output.json {
		return writeJSON(o.streams.Out, a)
	}
	p := &page{w: o.streams.Out}
	p.head("Sheet")
	p.line("written", "%s", strings.Join(written, ", "))
	p.line("scale", "1:%.0f on %s, %d page(s); print at 100 %% and check the 100 mm bar", a.Scale, plan.Paper.Name, a.Pages)
	p.line("interval", "%s", a.Reason)
	if a.OverCover != "" {
		p.line("over", "hidden ground, profile and marks are over what stands on the ground: %s", a.OverCover)
	}
	for _, w := range a.Warnings {
		p.line("warning", "%s", w)
	}
	p.head("Data")
	a.ElevationData.write(p, u)
	writeCautions(p)
	return p.err
}

// titled is the place as a title has it: its name, or its coordinates where it
// has none that can be shown.
func titled(p namedPlace) string {
	if p.Name != "" && paper.CheckText(p.Name, paper.Bold) == nil {
		return p.Name
	}
	return p.LatLon.String()
}

func named(p namedPlace, otherwise string) string {
	if p.Name != "" {
		return p.Name
	}
	return otherwise
}

// info is the source's, with the vertical error in force.
func (g *ground) info() dem.Info {
	info := g.source.Info()
	info.VerticalError, info.VerticalErrorSource = g.verticalError, g.verticalErrorSource
	return info
}

// framed reads the posts that pages show, two more on every side.
func (g *ground) framed(ctx context.Context, frames []sheet.Frame) (*dem.Grid, error) {
	layout := g.source.Layout()
	var all dem.Window
	for _, f := range frames {
		w, err := dem.WindowOver(layout, f.Extent)
		if errors.Is(err, dem.ErrOutside) {
			continue // a page with no data on it is drawn so
		}
		if err != nil {
			return nil, err
		}
		if all.Empty() {
			all = w
		}
		all = all.Union(w)
	}
	if all.Empty() {
		return nil, fmt.Errorf("the page at %s is %w", frames[0].Centre, dem.ErrOutside)
	}
	return g.source.Read(ctx, layout.Grow(all, 2))
}

// sightAlong is the line to a leg's end and the sight of it.
func sightAlong(ctx context.Context, g *ground, from, to namedPlace, observer visibility.Observer, conditions visibility.Conditions) (*legAnswer, error) {
	leg, err := profile.Trace(ctx, g.posts(ctx), from.LatLon, to.LatLon)
	if err != nil {
		return nil, err
	}
	seen, err := visibility.Along(leg, observer, conditions)
	if err != nil {
		return nil, err
	}
	end := math.NaN()
	if leg.Covered >= leg.Distance {
		end = leg.Points[len(leg.Points)-1].Elevation
	}
	return &legAnswer{leg: leg, seen: seen, conditions: conditions, From: describePlace(from, leg.Points[0].Elevation), To: describePlace(to, end)}, nil
}

// chooseMarks are the best visible marks along the leg; over may be nil.
func (o *sheetOptions) chooseMarks(ctx context.Context, g *ground, over *cover, leg *legAnswer, observer visibility.Observer, conditions visibility.Conditions) ([]sheet.Mark, error) {
	if o.marks == 0 {
		return nil, nil
	}
	marks, err := marksAlong(ctx, g, &o.places, leg.leg, observer, conditions)
	if err != nil {
		return nil, err
	}
	var out []sheet.Mark
	for i := range marks {
		m := &marks[i]
		if len(out) == o.marks || m.Sight.Verdict != visibility.Visible || m.TooSmall {
			break
		}
		if geodesy.Inverse(m.Place, leg.leg.To).Distance < 1 {
			continue // the destination itself is drawn already
		}
		if over != nil {
			seen, err := over.look(ctx, g.posts(ctx), m.Place, observer, conditions, m.Sight.Verdict)
			if err != nil {
				return nil, err
			}
			if seen.depends {
				continue
			}
		}
		// The sheet writes bearings, distance and elevation itself.
		mark := sheet.Mark{Place: sheet.Place{Name: m.Name, At: m.Place, Elevation: m.Elevation}}
		if m.Name == "" {
			mark.Name = m.Kind
		}
		if m.Backdrop == visibility.BackdropSky {
			mark.Note = "on the skyline"
		}
		out = append(out, mark)
	}
	return out, nil
}
