package answer

import (
	"context"
	"errors"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/dem/units"
	"crowline/profile/magnetic"
	"crowline/visibility"
)

// LandmarksRequest asks what can be sighted from a place.
type LandmarksRequest struct {
	From Place
	// Heading asks only for marks near a bearing, and what ground is seen along
	// it; nil for all round. Within is how near, degrees.
	Heading *Heading
	Within  float64

	Sighting Sighting
	Cover    Cover
	Needle
	// Radius bounds the marks, and the stretches told of along a bearing, metres;
	// 0 is as far as the data goes. What stands behind is looked at beyond it.
	Radius float64
	// Prominence is the least rise of a summit above its saddle, metres; 0 takes
	// that which the data's error allows.
	Prominence float64
	// VisualRange is how far the air lets one see, metres; 0 takes ordinary air.
	VisualRange float64
	// Places are the user's, which may be marks.
	Places []Place
	// Hidden has hidden marks in the answer too. HiddenToo has them there where the
	// ground is not so large that to look at all of them takes far longer than to
	// look at those in sight.
	Hidden, HiddenToo bool
	// HowSure is for how many marks, the best, the likelihood is worked out that
	// is not known already.
	HowSure int
	// ForFix proposes sets of marks that fix the place; nil does not.
	ForFix *FixErrors
}

// Check refuses what makes no sense.
func (r LandmarksRequest) Check() error {
	switch {
	case r.Heading != nil && !(r.Within > 0 && r.Within <= 180):
		return wrongf("marks within %g degrees of a bearing: give one above 0 and up to 180", r.Within)
	case !(r.Prominence >= 0 && r.Prominence <= 10e3):
		return wrongf("a prominence of %g m: give one from 0 to 10 km", r.Prominence)
	case !(r.VisualRange >= 0 && r.VisualRange <= mostRadius):
		return wrongf("a visual range of %g m: give one up to 1000 km", r.VisualRange)
	case r.HowSure < 0:
		return wrongf("%d marks: give 0 or more", r.HowSure)
	}
	if r.Heading != nil {
		if err := r.Heading.Check(); err != nil {
			return err
		}
	}
	if r.ForFix != nil {
		if err := r.ForFix.Check(); err != nil {
			return err
		}
	}
	if err := checkRadius(r.Radius); err != nil {
		return err
	}
	if err := r.Sighting.Check(); err != nil {
		return err
	}
	if err := r.Needle.Check(); err != nil {
		return err
	}
	return r.Cover.Check()
}

// Reach is the ground within the radius, and what rises behind.
func (r LandmarksRequest) Reach() Reach { return reachBehind(r.Radius, r.From) }

// LandmarksAnswer is what can be sighted from a place.
type LandmarksAnswer struct {
	// The place.
	From Spot `json:"from"`
	// The bearing asked about, from true north; null for all round.
	BearingDeg float64 `json:"bearing_true_deg" round:"2"`
	// What to sight on it, over the bare ground; null for all round.
	Along *SightAlong `json:"sight_along"`
	// What ground is seen along it; null for all round.
	Ground *GroundSeen `json:"ground_along"`
	// Where that is over cover, the same over the bare ground.
	GroundBare *GroundSeen `json:"bare_ground_along,omitempty"`
	// What can be picked out all round by looking, best first: tops, notches, the
	// ends of ridges and spurs, cliffs, water, places; those more likely seen than
	// not. Left out where a bearing was asked about, and over cover.
	InView []ThingInView `json:"in_view,omitempty"`
	// The summits and places, best first.
	Marks []Mark `json:"marks"`
	// The ground is so large that hidden summits were not looked for, and only what
	// is in sight, or not known to be hidden, is listed.
	HiddenLeftOut bool `json:"hidden_left_out,omitempty"`
	// How far ground was looked at behind the marks; null for as far as the data
	// goes. Higher ground may stand beyond either.
	LookedToM float64 `json:"looked_to_m" round:"3"`
	// How far the air is taken to let one see: what is farther off is lost in haze.
	VisualRangeM float64 `json:"visual_range_m" round:"0"`
	// How many marks have another verdict over the bare ground; over cover only.
	DependOnCover *int `json:"marks_depending_on_cover,omitempty"`
	// The cover that all but what says otherwise is over.
	OverCover *CoverUsed `json:"over_cover,omitempty"`
	// Sets of marks that fix the place; left out where not asked for.
	ForFix *FixMarks `json:"for_fix,omitempty"`
	// Magnetic north there; null where the model has no answer.
	Declination *MagneticDeclination `json:"declination"`
	// What the sights assume.
	Assumptions Assumptions `json:"assumptions"`
	// The data the answer rests on.
	ElevationData ElevationData `json:"elevation_data"`
	// What always holds.
	Cautions []string `json:"cautions"`

	// Looked is how many marks were looked at, hidden ones among them.
	Looked int `json:"-"`
}

var _ = register[LandmarksAnswer]("landmarks")

// Landmarks answers a LandmarksRequest.
func Landmarks(ctx context.Context, g *Ground, r LandmarksRequest) (*LandmarksAnswer, error) {
	if r.VisualRange == 0 {
		r.VisualRange = policy.VisualRange
	}
	over, err := r.Cover.open(ctx, g)
	if err != nil {
		return nil, err
	}
	if over != nil {
		defer over.close()
	}
	leftOut := false
	if r.HiddenToo && !r.Hidden {
		w := g.source.Layout().Whole()
		if r.Radius > 0 {
			if w, err = dem.WindowAround(g.source.Layout(), []geodesy.LatLon{r.From.LatLon}, r.Radius); err != nil {
				return nil, err
			}
		}
		leftOut = r.leavesOut(w)
		r.Hidden = !leftOut
	}
	perPost := int64(inSightPostBytes)
	if over != nil || r.Hidden { // all summits are looked at
		perPost = r.Cover.memory(horizonPostBytes)
	}
	g, grid, far, err := g.readBehind(ctx, r.From.LatLon, r.Radius, r.Sighting.behind(r.From, over != nil), perPost)
	if err != nil {
		return nil, err
	}
	a := &LandmarksAnswer{BearingDeg: nan, LookedToM: nan, VisualRangeM: r.VisualRange, Assumptions: r.Sighting.describe(), Cautions: cautions}
	if far > 0 {
		a.LookedToM = far
	}
	a.HiddenLeftOut = leftOut
	var layer *dem.CoverLayer
	if over != nil {
		if layer, a.OverCover, err = over.lay(ctx, grid); err != nil {
			return nil, err
		}
	}
	start, err := dem.ElevationAt(grid, r.From.LatLon)
	if err != nil {
		return nil, err
	}
	spacing, err := gridSpacing(grid)
	if err != nil {
		return nil, err
	}
	field, fieldError := r.at(r.From.LatLon, start)
	a.From, a.Declination, a.ElevationData = spot(r.From, start), declination(field, fieldError, r.Needle), g.describe(spacing, 0)
	opts := visibility.LandmarkOptions{
		Conditions: r.Sighting.conditions(), Within: geodesy.Degrees(r.Within), Radius: r.Radius, LookTo: far, VisualRange: r.VisualRange,
		Progress: progress(ctx, "looking at marks"),
	}
	if r.Heading != nil {
		b, err := r.Heading.bearing(field, fieldError)
		if err != nil {
			return nil, err
		}
		opts.Bearing = &b
		if err := a.along(ctx, r, b, far, grid, over, layer); err != nil {
			return nil, err
		}
		if a.Along, err = g.sightAlong(ctx, r, b, far, grid, field, fieldError); err != nil {
			return nil, err
		}
	}
	marks, bare, err := rankMarks(ctx, g, r, grid, over, layer, opts)
	if err != nil {
		return nil, err
	}
	if r.Heading == nil && over == nil {
		if a.InView, err = g.inView(ctx, r, far, grid, field, fieldError); err != nil {
			return nil, err
		}
	}
	a.Looked = len(marks)
	if err := a.list(ctx, g, r, grid, over, layer, marks, bare, field, fieldError); err != nil {
		return nil, err
	}
	seenAs(a.Marks, a.InView, spacing)
	if r.ForFix != nil {
		a.ForFix, err = proposeFix(ctx, r.From, marks, *r.ForFix)
	}
	return a, err
}

// along tells what ground is seen along the bearing asked about.
func (a *LandmarksAnswer) along(ctx context.Context, r LandmarksRequest, b geodesy.TrueBearing, far float64, grid *dem.Grid, over *cover, layer *dem.CoverLayer) error {
	observer, err := r.Sighting.standing(grid, r.From)
	if err != nil {
		return err
	}
	seen := func(posts dem.Posts) (*GroundSeen, error) {
		return seenAlong(ctx, posts, observer, r.Sighting.conditions(), b, r.Radius, far)
	}
	a.BearingDeg = float64(b)
	if a.Ground, err = seen(grid); err != nil || over == nil {
		return err
	}
	covered, err := layer.Covered(over.clearing(observer.Place))
	if err != nil {
		return err
	}
	a.GroundBare = a.Ground
	a.Ground, err = seen(covered)
	return err
}

// rankMarks finds the marks and ranks them, best first; over cover by what is
// seen over it, and bare are their sights over the bare ground.
func rankMarks(ctx context.Context, g *Ground, r LandmarksRequest, grid *dem.Grid, over *cover, layer *dem.CoverLayer, opts visibility.LandmarkOptions) (marks []visibility.Landmark, bare []visibility.Sight, err error) {
	prominence := r.Prominence
	if prominence <= 0 {
		prominence = g.prominence()
	}
	observer := r.Sighting.observer(r.From.LatLon)
	summits, err := r.summits(ctx, grid, observer, over != nil, prominence, opts)
	if err != nil {
		return nil, nil, err
	}
	list := withPlaces(summits, r.Places)
	if over == nil { // over cover they are looked at again
		opts.VerticalError = g.verticalError
	}
	marks, err = visibility.Landmarks(ctx, grid, observer, list, opts)
	if err != nil || over == nil {
		return marks, nil, err
	}
	opts.VerticalError = g.verticalError
	return visibility.LandmarksCovered(ctx, layer, over.radius, observer, marks, opts)
}

// leavesOut reports whether hidden summits are left out of the answer, of so many
// posts, that would else be in it unasked.
func (r LandmarksRequest) leavesOut(w dem.Window) bool {
	return r.HiddenToo && !r.Hidden && float64(w.Columns)*float64(w.Rows) > policy.HiddenPosts
}

// summits are those that may be listed: those in sight, or all within the radius
// where the hidden are asked for, or cover may change what is seen. Prominence is
// theirs on all the ground there is, whatever the radius.
func (r LandmarksRequest) summits(ctx context.Context, grid *dem.Grid, observer visibility.Observer, covered bool, prominence float64, opts visibility.LandmarkOptions) ([]landform.Summit, error) {
	if !r.Hidden && !covered {
		sight := visibility.InSightOptions{Conditions: opts.Conditions, MinProminence: prominence, Radius: r.Radius, Progress: progress(ctx, "looking for summits")}
		summits, err := visibility.SummitsInSight(ctx, grid, observer, sight)
		if !errors.Is(err, visibility.ErrTurned) {
			return summits, err
		}
		// no view of so much ground at once, but of one line after another
	}
	if r.Radius <= 0 {
		return landform.Summits(ctx, grid, landform.SummitOptions{MinProminence: prominence})
	}
	w, err := dem.WindowAround(&grid.Frame, []geodesy.LatLon{r.From.LatLon}, r.Radius)
	if err != nil {
		return nil, err
	}
	spans := make([]landform.Span, w.Rows)
	for i := range spans {
		spans[i] = landform.Span{Row: w.Row + i, First: w.Column, Last: w.Column + w.Columns - 1}
	}
	return landform.SummitsIn(ctx, grid, grid.Whole(), spans, prominence)
}

// list describes the marks: those that are seen, or whose verdict depends on
// the cover, and the hidden where they were asked for.
func (a *LandmarksAnswer) list(ctx context.Context, g *Ground, r LandmarksRequest, grid *dem.Grid, over *cover, layer *dem.CoverLayer,
	marks []visibility.Landmark, bare []visibility.Sight, field magnetic.Field, fieldError error) error {
	conditions := r.Sighting.conditions()
	observer, err := r.Sighting.standing(grid, r.From)
	if err != nil {
		return err
	}
	if over != nil {
		a.DependOnCover = new(int)
	}
	for i := range marks {
		l := &marks[i]
		m := mark(i+1, l, field, fieldError, r.Heading != nil)
		var posts dem.Posts = grid
		if over != nil {
			was := sightLine(bare[i], nil)
			m.OverBare, m.DependsOnCover = &was, visibility.DependsOnCover(bare[i], l.Sight)
			if m.DependsOnCover {
				*a.DependOnCover++
			}
			if posts, err = layer.Covered(over.clearing(observer.Place), over.clearing(l.LookedAt)); err != nil {
				return err
			}
		}
		if l.Sight.Verdict == visibility.Hidden && !r.Hidden && !m.DependsOnCover {
			continue
		}
		if len(a.Marks) < r.HowSure || l.Likelihood != nil {
			if m.Sight.Likely, err = g.likelyMark(ctx, posts, l, observer, conditions); err != nil {
				return err
			}
			m.Why = l.Explain(lengths(units.Metric)) // how sure is part of it
		}
		if grid.Filled != nil {
			if err := m.filledMark(ctx, posts, observer, conditions); err != nil {
				return err
			}
		}
		a.Marks = append(a.Marks, m)
	}
	return nil
}
