package answer

import (
	"context"
	"fmt"
	"math"
	"slices"

	"crowline/contour"
	"crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/profile"
	"crowline/visibility"
)

// SheetRequest asks for a contour map printed to scale: of a leg, of a route, or of
// the ground round one place.
type SheetRequest struct {
	From Place
	// To is the leg's destination; nil for a map round From.
	To *Place
	// Course is a route to map instead of From and To; nil for none.
	Course   *Course
	Sighting Sighting
	Cover    Cover
	Needle
	Lines   Lines
	Paper   page.Paper
	North   sheet.North
	Reading sheet.Reading
	// Title stands at the head; "" for the places.
	Title string
	Style sheet.Style
	// Relief is the strength of relief shading, 0 for none to 1.
	Relief float64
	// Marks is how many of the marks of each leg's sightings are shown at most.
	Marks int
	// Walk is how a leg is walked: cliffs within its drift are shown.
	Walk Walk
	// Hidden tints the ground that cannot be seen from the start.
	Hidden bool
	// MagneticLines draws magnetic-north lines across the map.
	MagneticLines bool
	// Plain draws contours to be traced: thin, grey, all alike, few numbers, and
	// no word of their interval.
	Plain bool
	// Units the map is printed in.
	Units units.System
	// Places are the user's, which may be marks.
	Places []Place
}

// Check refuses what makes no sense.
func (r SheetRequest) Check() error {
	switch {
	case !(r.Lines.Scale >= sheet.LeastScale && r.Lines.Scale <= mostSheetScale):
		return wrongf("scale 1:%g: give one from 1:500 to 1:1 000 000", r.Lines.Scale)
	case !(r.Relief >= 0 && r.Relief <= 1):
		return wrongf("a relief of %g: give one from 0 to 1", r.Relief)
	case r.Marks < 0:
		return wrongf("%d marks: give 0 or more", r.Marks)
	case r.Plain && (r.To != nil || r.Course != nil || r.Hidden):
		return wrongf("a plain map is of one place, without hidden ground: leave out the rest")
	case r.Course != nil && r.Hidden:
		return wrongf("ground hidden from the start: ask for a map of one place or leg")
	case r.Course != nil && len(r.Course.Turns) < 2:
		return wrongf("a route needs two turning points or more: give another")
	case r.Cover.File != "" && !r.Hidden && r.To == nil && r.Course == nil:
		return wrongf("cover changes only hidden ground and a leg's profile and marks, and this sheet has none of them: leave out the cover, or ask for one of them")
	}
	for _, c := range []interface{ Check() error }{r.Sighting, r.Cover, r.Lines, r.Needle} {
		if err := c.Check(); err != nil {
			return err
		}
	}
	if r.To != nil || r.Course != nil {
		if err := r.Walk.Check(); err != nil {
			return err
		}
	}
	return r.Paper.Validate()
}

// mostSheetScale is the smallest scale of a sheet, as its denominator: beyond it
// nothing is left of a leg.
const mostSheetScale = 1e6

// Reach is the ground on the pages, and that of a leg's marks.
func (r SheetRequest) Reach() Reach {
	out := Reach{Places: []geodesy.LatLon{r.From.LatLon}}
	if r.To != nil {
		out = reachOfLeg(r.From.LatLon, r.To.LatLon)
	}
	if r.Course != nil {
		out = RouteRequest{Course: r.Course}.Reach()
	}
	// a page shows at most its own diagonal round its middle
	const largest = 0.6 // metres, of the largest paper with a name
	diagonal := math.Max(largest, math.Hypot(r.Paper.Width, r.Paper.Height)/1000)
	out.Margin = math.Max(out.Margin, diagonal*r.Lines.Scale)
	return out
}

// SheetAnswer is a contour map printed to scale.
type SheetAnswer struct {
	// The files written.
	Written []string `json:"written"`
	// How many pages it has.
	Pages int `json:"pages"`
	// The scale, as its denominator.
	Scale float64 `json:"scale"`
	// The contour interval, in its own unit.
	Interval string `json:"interval"`
	// The same in metres.
	IntervalM float64 `json:"interval_m" round:"4"`
	// Why that interval.
	Reason string `json:"reason"`
	// The marks of the leg's sightings that the map shows.
	Marks []MapMark `json:"marks"`
	// What could hurt on the leg: the map shows it.
	Hazards []MapHazard `json:"hazards"`
	// The cover that hidden ground, profile and marks are over.
	OverCover string `json:"over_cover,omitempty"`
	// What is doubtful about the map.
	Warnings []string `json:"warnings"`
	// The data the map rests on.
	ElevationData ElevationData `json:"elevation_data"`
	// What always holds.
	Cautions []string `json:"cautions"`

	paper    page.Paper
	document *page.Document
}

var _ = register[SheetAnswer]("sheet")

// Document is the map, to be written by the front end.
func (a *SheetAnswer) Document() *page.Document { return a.document }

// Paper is what it is printed on.
func (a *SheetAnswer) Paper() page.Paper { return a.paper }

// Sheet answers a SheetRequest.
func Sheet(ctx context.Context, g *Ground, r SheetRequest) (*SheetAnswer, error) {
	over, err := r.Cover.open(ctx, g)
	if err != nil {
		return nil, err
	}
	if over != nil {
		defer over.close()
	}
	if r.Course != nil {
		r.From, r.To = r.Course.Turns[0], nil
	}
	posts := g.posts(ctx)
	start, err := dem.ElevationAt(posts, r.From.LatLon)
	if err != nil {
		return nil, err
	}
	plan := g.mapOf()
	plan.Title, plan.Scale, plan.Paper, plan.North, plan.ContourReading = r.Title, r.Lines.Scale, r.Paper, r.North, r.Reading
	plan.Relief, plan.Units, plan.MagneticLines, plan.Style, plan.Date, plan.Covered = r.Relief, r.Units, r.MagneticLines, r.Style, r.Day, over != nil
	plan.Declination, plan.Plain = magneticNorth(r.From.LatLon, start, r.Needle), r.Plain
	a := &SheetAnswer{Marks: []MapMark{}, Hazards: []MapHazard{}, Scale: r.Lines.Scale, Cautions: cautions, paper: r.Paper}
	var leg *LegAnswer
	if r.Course != nil {
		if err := r.drawRoute(ctx, g, a, &plan); err != nil {
			return nil, err
		}
	} else if r.To == nil {
		plan.Centre = &r.From.LatLon
		plan.Points = []sheet.Place{{Name: r.From.Label(), At: r.From.LatLon, Elevation: start}}
	} else {
		if leg, err = Leg(ctx, g, r.leg(r.From, *r.To)); err != nil {
			return nil, err
		}
		number := func(step, _ int) string { return fmt.Sprint(leg.wayside.plan.Number(step)) }
		a.show(&plan, leg.mapMarks(r.Marks, number), leg.mapHazards(1), r.Units)
		plan.Leg = &sheet.Leg{
			From: sheet.Place{Name: calledOr(r.From, "Start"), At: r.From.LatLon, Elevation: start},
			To:   sheet.Place{Name: calledOr(*r.To, "Destination"), At: r.To.LatLon, Elevation: leg.To.ElevationM},
		}
		lowest, highest := leg.line.Extremes()
		plan.ProfileRelief = highest.Elevation - lowest.Elevation + max(r.Sighting.Eye, r.Sighting.Target)
	}
	if plan.Title == "" && r.Course == nil {
		plan.Title = titled(r.From)
		if r.To != nil {
			plan.Title += " to " + titled(*r.To)
		}
	}
	perPost := int64(sheetPostBytes)
	if r.Hidden {
		alone := int64(sheetPostBytes + hiddenPostBytes)
		plan.View = r.view(start, over)
		if g.verticalError > 0 {
			alone += likelyPostBytes
			plan.View.Likely = &visibility.ViewedLikelihood{Model: visibility.ErrorModel{VerticalError: g.verticalError, Samples: policy.ViewSamples}}
		}
		perPost = r.Cover.memory(alone)
	}
	choice, err := g.contoured(ctx, &plan, r.Lines, 0, perPost)
	if err != nil {
		return nil, err
	}
	if leg != nil {
		if err := r.drawLeg(ctx, g, &plan, leg.line, over, choice); err != nil {
			return nil, err
		}
	}
	grid := plan.Ground.(*dem.Grid)
	if r.Hidden {
		if err := r.hide(ctx, g, plan.View, grid, over); err != nil {
			return nil, err
		}
	}
	a.Interval, a.IntervalM, a.Reason = describeInterval(plan.Contours.Levels), choice.Interval*choice.Unit.Metres(), choice.Reason
	if over != nil {
		a.OverCover = over.name
		plan.Cautions = slices.Clone(plan.Cautions)
		for _, w := range over.warnings() {
			plan.Cautions = append(plan.Cautions, "Warning: "+w+".")
		}
	}
	if a.document, err = sheet.Compose(ctx, plan); err != nil {
		return nil, err
	}
	a.Pages, a.Warnings = len(a.document.Pages), append([]string{}, a.document.Warnings...)
	if choice.Warning != "" {
		a.Warnings = append(a.Warnings, choice.Warning)
	}
	if other := g.countedElsewhere(r.Lines, choice); (leg != nil || r.Course != nil) && other != "" {
		a.Warnings = append(a.Warnings, other)
	}
	if over != nil {
		a.Warnings = append(a.Warnings, over.warnings()...)
	}
	spacing, err := gridSpacing(grid)
	if err != nil {
		return nil, err
	}
	a.ElevationData = g.describe(spacing, 0)
	return a, nil
}

// show puts marks and hazards on the map, and into the answer.
func (a *SheetAnswer) show(plan *sheet.Plan, marks []MapMark, hazards []MapHazard, u units.System) {
	for i := range marks {
		plan.Marks = append(plan.Marks, marks[i].sign(u))
	}
	for _, h := range hazards {
		plan.Hazards = append(plan.Hazards, h.sign)
	}
	a.Marks, a.Hazards = append(a.Marks, marks...), append(a.Hazards, hazards...)
}

// drawRoute puts a route's legs on the map, with the marks by the letters of its
// card.
func (r SheetRequest) drawRoute(ctx context.Context, g *Ground, a *SheetAnswer, plan *sheet.Plan) error {
	route, err := Route(ctx, g, RouteRequest{Course: r.Course, Sighting: r.Sighting, Cover: r.Cover, Needle: r.Needle, Walk: r.Walk, Straight: true, Places: r.Places})
	if err != nil {
		return err
	}
	if plan.Title == "" {
		plan.Title = route.Name
	}
	if page.CheckText(plan.Title, page.Bold) != nil {
		plan.Title = ""
	}
	for i := range route.Legs {
		l := &route.Legs[i]
		from, to := l.From, l.To
		if i == 0 && from.Name == "" {
			from.Name = "Start"
		}
		if i == len(route.Legs)-1 && to.Name == "" {
			to.Name = "Destination"
		}
		plan.Route = append(plan.Route, sheet.Leg{
			From: sheet.Place{Name: from.Name, At: from.LatLon(), Elevation: from.ElevationM},
			To:   sheet.Place{Name: to.Name, At: to.LatLon(), Elevation: to.ElevationM},
		})
		letter := func(_, mark int) string { return l.label(mark) }
		a.show(plan, l.leg.mapMarks(r.Marks, letter), l.leg.mapHazards(l.Number), r.Units)
	}
	return nil
}

// leg asks for a leg that the map shows.
func (r SheetRequest) leg(from, to Place) LegRequest {
	return LegRequest{From: from, To: to, Sighting: r.Sighting, Cover: r.Cover, Needle: r.Needle, Walk: r.Walk, Marks: 1, Places: r.Places, chainOnly: true}
}

// view is what is looked at, before it is known what of it is seen.
func (r SheetRequest) view(start float64, over *cover) *sheet.View {
	from := sheet.Place{Name: calledOr(r.From, "the start"), At: r.From.LatLon, Elevation: start}
	if r.To == nil {
		from.Name = r.From.Label()
	}
	words := ""
	if over != nil {
		words = " over what stands on the ground (" + over.name + ")"
	}
	return &sheet.View{From: []sheet.Place{from}, Words: words + ", eye " + r.Units.Small(r.Sighting.Eye)}
}

// hide finds what is seen of the ground, with what stands on it.
func (r SheetRequest) hide(ctx context.Context, g *Ground, view *sheet.View, grid *dem.Grid, over *cover) error {
	observer, err := r.Sighting.standing(grid, r.From)
	if err != nil {
		return err
	}
	if over != nil {
		layer, _, err := over.lay(ctx, grid)
		if err != nil {
			return err
		}
		if grid, err = layer.Grid(ctx, over.clearing(observer.Place)); err != nil {
			return err
		}
	}
	v, err := visibility.Viewshed(ctx, grid, observer, visibility.ViewshedOptions{Conditions: r.Sighting.conditions(), Progress: progress(ctx, "looking")})
	if err != nil {
		return err
	}
	view.Frame, view.Verdicts = &v.Frame, v.Verdicts
	view.Likely, err = g.likelyView(ctx, grid, v, 1)
	return err
}

// drawLeg adds the profile of a leg with this line of sight; over may be nil.
func (r SheetRequest) drawLeg(ctx context.Context, g *Ground, plan *sheet.Plan, line *profile.Leg, over *cover, choice contour.Choice) error {
	observer, conditions := r.Sighting.observer(line.From), r.Sighting.conditions()
	seen, err := visibility.Along(line, observer, conditions)
	if err != nil {
		return err
	}
	var covered *CoverSight
	if over != nil {
		if covered, err = over.look(ctx, g.posts(ctx), line.To, observer, conditions, seen.Verdict); err != nil {
			return err
		}
	}
	s := sightLine(seen, nil)
	p := sightProfile(line, &s, covered, conditions, choice, spot(r.From, nan), spot(*r.To, nan))
	if plan.Profile, err = ProfileDrawing(p); err != nil {
		return err
	}
	return nil
}

// titled is the place as a title has it: its name, or its coordinates where it
// has none that can be shown.
func titled(p Place) string {
	if p.Name != "" && page.CheckText(p.Name, page.Bold) == nil {
		return p.Name
	}
	return p.LatLon.String()
}

func calledOr(p Place, otherwise string) string {
	if p.Name != "" {
		return p.Name
	}
	return otherwise
}
