package answer

import (
	"context"
	"slices"
	"strings"

	"crowline/contour"
	"crowline/contour/drill"
	"crowline/contour/page"
	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/profile/magnetic"
)

// DrillRequest asks for an exercise sheet.
type DrillRequest struct {
	Around Place
	// Radius round it that the exercises lie in, metres.
	Radius float64
	Seed   uint64
	Level  drill.Level
	Count  int
	// Copies of it for a class, each with other questions; 0 for the sheet alone.
	Copies int
	// Minutes the sheet is for; 0 is by Count, which is 0 with it.
	Minutes int
	// Kinds of question; none is the level's.
	Kinds []drill.Kind
	Title string
	// Scale of the maps, as a denominator.
	Scale    float64
	Interval Interval
	// Units of the exercises: of their texts and contours.
	Units    units.System
	Sighting Sighting
	Needle
	// Paper, Relief (shading from 0 to 1) and Part are of the drawn pages, Part
	// of the text as well.
	Paper  page.Paper
	Relief float64
	Part   drill.Part
}

// DrillKinds are the kinds of question by name.
func DrillKinds() []string {
	var names []string
	for _, k := range drill.Kinds {
		names = append(names, string(k))
	}
	return names
}

// ParseDrillKinds reads kinds of question by their names.
func ParseDrillKinds(names []string) ([]drill.Kind, error) {
	var out []drill.Kind
	for _, text := range names {
		k := drill.Kind(strings.TrimSpace(text))
		if !slices.Contains(drill.Kinds, k) {
			return nil, wrongf("%s: the kinds are %s", text, strings.Join(DrillKinds(), ", "))
		}
		out = append(out, k)
	}
	return out, nil
}

// Check refuses what makes no sense.
func (r DrillRequest) Check() error {
	switch {
	case !slices.Contains(drill.Levels, r.Level):
		return wrongf("level %q: give beginner, intermediate or leader", r.Level)
	case r.Minutes != 0 && r.Minutes != 15 && r.Minutes != 30 && r.Minutes != 45:
		return wrongf("a sheet of %d minutes: ask for 15, 30 or 45", r.Minutes)
	case r.Minutes == 0 && (r.Count < 1 || r.Count > 50):
		return wrongf("%d questions: ask for 1 to 50", r.Count)
	case r.Copies < 0 || r.Copies > drill.MostCopies:
		return wrongf("%d copies: ask for 1 to %d", r.Copies, drill.MostCopies)
	case !(r.Radius >= 500 && r.Radius <= 50e3):
		return wrongf("a radius of %g m: give one from 500 m to 50 km", r.Radius)
	case !(r.Scale >= 1000 && r.Scale <= 250e3):
		return wrongf("a scale of 1:%g: give one from 1:1000 to 1:250 000", r.Scale)
	case !(r.Relief >= 0 && r.Relief <= 1):
		return wrongf("relief shading %g: give one from 0 to 1", r.Relief)
	case r.Interval.Value != 0 && (r.Interval.Unit == contour.Foot) != (r.Units == units.US):
		return wrongf("the contour interval is in the sheet's own units: feet with US units, metres without")
	}
	for _, c := range []interface{ Check() error }{r.Sighting, r.Interval, r.Needle} {
		if err := c.Check(); err != nil {
			return err
		}
	}
	return nil
}

// Reach is farther than the radius: destinations, landforms and map panels
// reach beyond.
func (r DrillRequest) Reach() Reach {
	return Reach{Places: []geodesy.LatLon{r.Around.LatLon}, Margin: 2*r.Radius + 0.2*r.Scale}
}

// DrillAnswer is an exercise sheet with its answers.
type DrillAnswer struct {
	*drill.Set
	// The questions alone: nothing of them tells an answer.
	Asked []drill.Asked `json:"asked"`
	// The answers alone, by the numbers of their questions; left out where only the
	// questions are asked for.
	Key []drill.Answered `json:"key,omitempty"`
	// All copies for a class, the first one too, which is also told above; left out
	// where none are asked for.
	Copies []DrillCopy `json:"copies,omitempty"`
	// The contour interval.
	IntervalM float64 `json:"contour_interval_m" round:"4"`
	// The files written.
	Written []string `json:"written"`
	// What the sights assume.
	Assumptions Assumptions `json:"assumptions"`
	// The data the answers rest on.
	ElevationData ElevationData `json:"elevation_data"`
	// What always holds.
	Cautions []string `json:"cautions"`

	request DrillRequest
	full    *drill.Set   // with its answers, whatever part is asked for
	copies  []*drill.Set // likewise
	doubt   string
}

// DrillCopy is one of the sheets of a class.
type DrillCopy struct {
	*drill.Set
	// The questions alone.
	Asked []drill.Asked `json:"asked"`
	// The answers alone; left out where only the questions are asked for.
	Key []drill.Answered `json:"key,omitempty"`
}

// copied is a set as the request has it told.
func (r DrillRequest) copied(s *drill.Set) DrillCopy {
	if r.Part == drill.QuestionsOnly {
		return DrillCopy{s.QuestionsOnly(), s.Asked(), nil}
	}
	return DrillCopy{s, s.Asked(), s.Answered()}
}

var _ = register[DrillAnswer]("drill")

// Part is which of questions and key were asked for.
func (a *DrillAnswer) Part() drill.Part { return a.request.Part }

// Drill answers a DrillRequest.
func Drill(ctx context.Context, g *Ground, r DrillRequest) (*DrillAnswer, error) {
	reach := r.Reach()
	grid, step, err := g.thinned(ctx, reach.Places, reach.Margin, policy.DrawnPost*r.Scale, drillPostBytes)
	if err != nil {
		return nil, err
	}
	start, err := dem.ElevationAt(grid, r.Around.LatLon)
	if err != nil {
		return nil, err
	}
	spacing, err := gridSpacing(grid)
	if err != nil {
		return nil, err
	}
	o := drill.Options{
		Around: r.Around.LatLon, Radius: r.Radius, Seed: r.Seed, Level: r.Level, Count: r.Count, Minutes: r.Minutes, Kinds: r.Kinds, Title: r.Title, Scale: r.Scale, Units: r.Units,
		Interval: r.Interval.Value, VerticalError: g.verticalError, Landforms: landformOptions(spacing, g.verticalError), Date: r.Day,
		EyeAboveGround: r.Sighting.Eye, Refraction: r.Sighting.Refraction, Progress: progress(ctx, "asking"),
	}
	o.LandformEvery = every(landformPosts(o.Landforms), spacing)
	if field, err := r.at(r.Around.LatLon, start); err == nil && field.Zone != magnetic.Blackout {
		o.Declination = drawnDeclination(field, r.Needle)
	}
	if r.Interval.Value > 0 {
		if err := g.traceable(grid.Elevations, grid.Columns, r.Interval.Value*r.Interval.Unit.Metres(), policy.LinePointBytes); err != nil {
			return nil, err
		}
	}
	set, err := drill.Make(ctx, grid, o)
	if err != nil {
		return nil, err
	}
	var copies []*drill.Set
	if r.Copies > 0 {
		if copies, err = set.Copies(ctx, r.Copies); err != nil {
			return nil, err
		}
	}
	shown := r.copied(set)
	a := &DrillAnswer{
		Set: shown.Set, Asked: shown.Asked, Key: shown.Key, full: set, copies: copies, IntervalM: set.Interval, Assumptions: r.Sighting.describe(),
		ElevationData: g.describe(spacing, step), Cautions: cautions, request: r, doubt: g.doubt,
	}
	for _, c := range copies {
		a.Copies = append(a.Copies, r.copied(c))
	}
	if set.IntervalUnit == contour.Foot.String() {
		a.IntervalM *= contour.Foot.Metres()
	}
	return a, nil
}

// Document lays out the pages asked for.
func (a *DrillAnswer) Document(ctx context.Context) (*page.Document, error) {
	options := drill.PageOptions{Paper: a.request.Paper, Part: a.request.Part, Relief: a.request.Relief, Cautions: cautions}
	noted := func(s *drill.Set) *drill.Set {
		drawn := *s
		if a.doubt != "" { // elsewhere it is among the data's warnings
			drawn.Notes = append(slices.Clone(drawn.Notes), a.doubt)
		}
		return &drawn
	}
	if len(a.copies) == 0 {
		return noted(a.full).Document(ctx, options)
	}
	var copies []*drill.Set
	for _, s := range a.copies {
		copies = append(copies, noted(s))
	}
	return drill.Class(ctx, copies, options)
}
