package answer

import (
	"context"
	"fmt"
	"math"

	"crowline/contour"
	"crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/visibility"
)

// MostObservers is how many bits a band of whole numbers in a float32 holds,
// with room to spare.
const MostObservers = 24

// ViewshedRequest asks for all the ground that is seen from some places.
type ViewshedRequest struct {
	From     []Place
	Sighting Sighting
	Cover    Cover
	// Radius bounds the question, metres; 0 is as far as the data goes.
	Radius float64
	// Sector bounds it to true bearings; nil for all round.
	Sector *visibility.Sector
	// HeightNeeded works out for each hidden post how high a target would have
	// to stand there to be seen: of the view from one place alone.
	HeightNeeded bool
	// Drawn: the answer is to be drawn, and the map's corners reach beyond the
	// radius.
	Drawn bool
}

// Check refuses what makes no sense.
func (r ViewshedRequest) Check() error {
	if len(r.From) == 0 || len(r.From) > MostObservers {
		return wrongf("a view from %d places: give 1 to %d", len(r.From), MostObservers)
	}
	if r.HeightNeeded && len(r.From) > 1 {
		return wrongf("the heights needed are of the view from one place, and there are %d: ask for one", len(r.From))
	}
	if err := checkRadius(r.Radius); err != nil {
		return err
	}
	if err := r.Sighting.Check(); err != nil {
		return err
	}
	return r.Cover.Check()
}

// mostRadius bounds a question, metres: nobody sees farther.
const mostRadius = 1000e3

func checkRadius(radius float64) error {
	if !(radius >= 0 && radius <= mostRadius) {
		return wrongf("a radius of %g m: give one up to 1000 km, or 0 for all the data", radius)
	}
	return nil
}

// Reach is the ground within the radius, and on the map.
func (r ViewshedRequest) Reach() Reach {
	radius := r.Radius
	if r.Drawn { // a corner of paper that just holds a circle, at the next round scale
		const corner = 2.5
		radius *= corner
	}
	return reachAbout(radius, r.From...)
}

// reachBehind is reachAbout with the ground that rises behind.
func reachBehind(radius float64, places ...Place) Reach {
	r := reachAbout(radius, places...)
	r.Behind = radius > 0
	return r
}

// reachAbout is the ground within a radius of places, metres, or all of it.
func reachAbout(radius float64, places ...Place) Reach {
	if radius <= 0 {
		return Reach{}
	}
	return Reach{Places: where(places), Margin: radius}
}

// allStanding stands on each place's looking point.
func (s Sighting) allStanding(posts dem.Posts, places []Place) ([]visibility.Observer, error) {
	out := make([]visibility.Observer, len(places))
	var err error
	for i, p := range places {
		if out[i], err = s.standing(posts, p); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func placesOf(observers []visibility.Observer) []geodesy.LatLon {
	var out []geodesy.LatLon
	for _, o := range observers {
		out = append(out, o.Place)
	}
	return out
}

func where(places []Place) []geodesy.LatLon {
	var out []geodesy.LatLon
	for _, p := range places {
		out = append(out, p.LatLon)
	}
	return out
}

// ViewshedAnswer is all the ground that is seen from some places.
type ViewshedAnswer struct {
	// What is seen from each place.
	Views []View `json:"views"`
	// How many posts are seen by how many of the places, from none up; left out
	// of the view from one.
	SeenBy []SeenBy `json:"seen_by,omitempty"`
	// How far was looked; null for as far as the data goes.
	RadiusM float64 `json:"radius_m" round:"3"`
	// The true bearings looked along, clockwise from the first to the second;
	// null for all round.
	Sector *[2]float64 `json:"sector_true_deg" round:"4"`
	// The cover that all but what says otherwise is over.
	OverCover *CoverUsed `json:"over_cover,omitempty"`
	// What the sights assume.
	Assumptions Assumptions `json:"assumptions"`
	// The data the answer rests on.
	ElevationData ElevationData `json:"elevation_data"`
	// The files written.
	Written []string `json:"written"`
	// What is doubtful about what was written.
	Warnings []string `json:"warnings"`
	// What always holds.
	Cautions []string `json:"cautions"`

	views    []*visibility.Viewed
	combined *visibility.Combined           // of several views; nil for one
	likely   []*visibility.ViewedLikelihood // of each view, where it is drawn and the data's error known
	steps    []visibility.Step              // of the posts, the best of all views, where likely is known
	clear    []uint8                        // of how many of several places a post is clear
	grid     *dem.Grid                      // the bare ground
	filled   bool                           // voids were to be filled
	scale    float64                        // of the map drawn
}

var _ = register[ViewshedAnswer]("viewshed")

// Seen are the views as the library gives them, Combined what is seen of them
// all, nil for one.
func (a *ViewshedAnswer) Seen() []*visibility.Viewed     { return a.views }
func (a *ViewshedAnswer) Combined() *visibility.Combined { return a.combined }

// Steps are how sure the posts are seen, of several places from the best of them,
// where the answer is drawn; nil where the data's error is not known.
func (a *ViewshedAnswer) Steps() []visibility.Step { return a.steps }

// LikelyShares are how much of the ground asked about is clear, how much of it
// from all places, and how much is within the data's error, from 0 to 1, where
// Steps are known.
func (a *ViewshedAnswer) LikelyShares() (clear, fromAll, within float64) {
	counts := [visibility.StepWithinError + 1]float64{}
	for i, s := range a.steps {
		counts[s]++
		if s == visibility.StepClear && (a.clear == nil || int(a.clear[i]) == len(a.views)) {
			fromAll++
		}
	}
	total := max(1, float64(len(a.steps))-counts[visibility.StepOutOfRange])
	return counts[visibility.StepClear] / total, fromAll / total, counts[visibility.StepWithinError] / total
}

// View is what is seen from one place.
type View struct {
	// The place.
	From Spot `json:"from"`
	// How high the eye is.
	EyeElevationM float64 `json:"eye_elevation_m" round:"2"`
	// Posts that are seen.
	Visible int64 `json:"visible_posts"`
	// Posts that are not.
	Hidden int64 `json:"hidden_posts"`
	// Posts of which it is not known.
	Unknown int64 `json:"unknown_posts"`
	// Of those not known, posts with no elevation.
	VoidPosts int64 `json:"void_posts"`
	// Of those not known, posts whose line of sight meets such ground or leaves
	// the data.
	DependOnVoids int64 `json:"depend_on_voids_posts"`
	// The part filled posts have in it; left out where none are filled.
	Filled *FilledView `json:"filled,omitempty"`
	// What the cover changes, against the bare ground.
	Cover *CoverView `json:"cover,omitempty"`
	// The area of the ground seen, on the map.
	AreaSeenM2 float64 `json:"area_seen_m2" round:"0"`
	// The farthest ground seen; null where none is.
	Farthest *Farthest `json:"farthest"`
}

// Farthest is the farthest ground seen.
type Farthest struct {
	Spot
	// How far off it is.
	DistanceM float64 `json:"distance_m" round:"1"`
	// Its bearing from true north.
	BearingTrueDeg float64 `json:"true_deg" round:"2"`
	// How high what is seen there stands above that ground.
	CoverM float64 `json:"cover_m,omitempty" round:"1"`
}

// SeenBy is how many posts are seen by so many of the places.
type SeenBy struct {
	// How many of the places.
	Observers int `json:"observers"`
	// How many posts.
	Posts int64 `json:"posts"`
	// Of these, posts of which it is not known, from one place or more, whether
	// they are seen.
	NotKnown int64 `json:"not_known_posts,omitempty"`
}

// FilledView is the part filled posts have in a view.
type FilledView struct {
	// Posts with a verdict that were void and have been filled.
	Posts int64 `json:"posts"`
	// Of these, posts that are seen.
	Visible int64 `json:"visible_posts"`
	// Of these, posts that are not.
	Hidden int64 `json:"hidden_posts"`
	// Of these, posts of which it is not known.
	Unknown int64 `json:"unknown_posts"`
	// Other posts seen, of which it would not be known without them.
	VisibleRest int64 `json:"visible_resting_on_filled_posts"`
	// Other posts hidden, of which it would not be known without them.
	HiddenRest int64 `json:"hidden_resting_on_filled_posts"`
	// The farthest ground seen is filled.
	Farthest bool `json:"farthest_filled"`
}

// CoverView is what cover changes in a view, against the bare ground.
type CoverView struct {
	// Posts seen over the bare ground.
	BareVisible int64 `json:"bare_visible_posts"`
	// The area of the bare ground seen.
	BareAreaSeenM2 float64 `json:"bare_area_seen_m2" round:"0"`
	// Posts with a verdict.
	Asked int64 `json:"posts"`
	// Of these, posts that the cover gives another.
	Changed int64 `json:"changed_posts"`
	// Of these, posts seen over the bare ground and now hidden.
	Lost int64 `json:"visible_to_hidden_posts"`
	// Of these, posts hidden over the bare ground and now seen.
	Gained int64 `json:"hidden_to_visible_posts"`
	// Of these, posts no longer known.
	ToUnknown int64 `json:"to_unknown_posts"`
	// Of these, posts not known over the bare ground.
	Settled int64 `json:"from_unknown_posts"`
	// Posts seen that are the top of something standing there.
	TopsSeen int64 `json:"tops_seen_posts"`
	// Posts with ground whose cover is not known.
	UnknownCover int64 `json:"unknown_cover_posts"`
}

// Viewshed answers a ViewshedRequest.
func Viewshed(ctx context.Context, g *Ground, r ViewshedRequest) (*ViewshedAnswer, error) {
	over, err := r.Cover.open(ctx, g)
	if err != nil {
		return nil, err
	}
	if over != nil {
		defer over.close()
	}
	alone := int64(viewshedPostBytes + viewPostBytes*len(r.From))
	if r.Drawn && g.verticalError > 0 {
		alone += likelyPostBytes + likelyViewBytes*int64(len(r.From)-1)
	}
	perPost := r.Cover.memory(alone)
	observers, err := r.Sighting.allStanding(g.posts(ctx), r.From)
	if err != nil {
		return nil, err
	}
	grid, err := g.reach(ctx, placesOf(observers), r.Radius, perPost)
	if err != nil {
		return nil, err
	}
	spacing, err := gridSpacing(grid)
	if err != nil {
		return nil, err
	}
	a := &ViewshedAnswer{
		RadiusM: nan, Assumptions: r.Sighting.describe(), ElevationData: g.describe(spacing, 0), Cautions: cautions,
		grid: grid, filled: g.filled() != nil,
	}
	if r.Radius > 0 {
		a.RadiusM = r.Radius
	}
	if r.Sector != nil {
		a.Sector = &[2]float64{float64(r.Sector.From), float64(r.Sector.To)}
	}
	var layer *dem.CoverLayer
	if over != nil {
		if layer, a.OverCover, err = over.lay(ctx, grid); err != nil {
			return nil, err
		}
	}
	for i, p := range r.From {
		label := "looking"
		if len(r.From) > 1 {
			label = fmt.Sprintf("looking from %d of %d", i+1, len(r.From))
		}
		options := visibility.ViewshedOptions{
			Conditions: r.Sighting.conditions(), Radius: r.Radius, Sector: r.Sector, HeightNeeded: r.HeightNeeded, Progress: progress(ctx, label),
		}
		ground := grid
		if over != nil {
			if ground, err = layer.Grid(ctx, over.clearing(observers[i].Place)); err != nil {
				return nil, err
			}
		}
		v, err := visibility.Viewshed(ctx, ground, observers[i], options)
		if err != nil {
			return nil, err
		}
		own, err := dem.ElevationAt(grid, p.LatLon)
		if err != nil {
			return nil, err
		}
		out := view(spot(p, own), v)
		if a.filled {
			if out.Filled, err = filledView(ctx, ground, v); err != nil {
				return nil, err
			}
		}
		if over != nil {
			options.HeightNeeded = false
			bare, err := visibility.Viewshed(ctx, grid, observers[i], options)
			if err != nil {
				return nil, err
			}
			out.compare(bare, v, layer.Ground(), ground)
		}
		if r.Drawn {
			likely, err := g.likelyView(ctx, ground, v, len(r.From))
			if err != nil {
				return nil, err
			}
			if likely != nil {
				a.likely, a.steps = append(a.likely, likely), likely.Steps
			}
		}
		a.views, a.Views = append(a.views, v), append(a.Views, out)
	}
	if len(a.views) > 1 {
		if a.combined, err = visibility.Combine(ctx, grid, a.views); err != nil {
			return nil, err
		}
		if a.likely != nil {
			a.steps, a.clear = a.combined.Steps(a.views, a.likely)
		}
		for n, posts := range a.combined.SeenBy {
			a.SeenBy = append(a.SeenBy, SeenBy{n, posts, a.combined.NotKnown[n]})
		}
	}
	return a, nil
}

func view(from Spot, v *visibility.Viewed) View {
	s := v.Summary
	out := View{
		From: from, EyeElevationM: v.EyeElevation,
		Visible: s.Visible, Hidden: s.Hidden, Unknown: s.Unknown, VoidPosts: s.VoidPosts, DependOnVoids: s.DependOnVoids, AreaSeenM2: s.AreaSeen,
	}
	if f := s.Farthest; f != nil {
		out.Farthest = &Farthest{Spot: spot(PlaceAt(f.Place), f.Elevation), DistanceM: f.Distance, BearingTrueDeg: float64(f.Bearing)}
	}
	return out
}

func filledView(ctx context.Context, grid *dem.Grid, v *visibility.Viewed) (*FilledView, error) {
	s, err := visibility.SummariseFilled(ctx, grid, v)
	if err != nil {
		return nil, err
	}
	return &FilledView{s.Posts(), s.Visible, s.Hidden, s.Unknown, s.VisibleRest, s.HiddenRest, s.Farthest}, nil
}

// compare tells what cover changes: bare is the view without it, covered the
// ground with it that over looks at.
func (v *View) compare(bare, over *visibility.Viewed, ground, covered *dem.Grid) {
	c := visibility.CompareCovered(bare, over, ground, covered)
	v.Cover = &CoverView{
		BareVisible: bare.Summary.Visible, BareAreaSeenM2: bare.Summary.AreaSeen,
		Asked: c.Asked, Changed: c.Changed, Lost: c.Lost, Gained: c.Gained, ToUnknown: c.ToUnknown, Settled: c.Settled,
		TopsSeen: c.TopsSeen, UnknownCover: c.UnknownCover,
	}
	v.VoidPosts -= c.UnknownCover
	if f := over.Summary.Farthest; f != nil {
		h := ground.Elevation(f.Column, f.Row)
		v.Farthest.ElevationM, v.Farthest.CoverM = h, f.Elevation-h
	}
}

// Share is how much of the ground asked about is seen, from 0 to 1.
func (v View) Share() float64 {
	return float64(v.Visible) / math.Max(1, float64(v.Visible+v.Hidden+v.Unknown))
}

// Shares are how much of the ground asked about is seen from at least one of
// several places, and from all of them, from 0 to 1.
func (a *ViewshedAnswer) Shares() (any, all float64) {
	total, seen := int64(0), int64(0)
	for _, s := range a.SeenBy {
		total += s.Posts
		if s.Observers > 0 {
			seen += s.Posts
		}
	}
	if total == 0 {
		return 0, 0
	}
	return float64(seen) / float64(total), float64(a.SeenBy[len(a.SeenBy)-1].Posts) / float64(total)
}

// Draw has the views on one page of paper, at the largest round scale that shows
// all that was looked at. words is called with the map once it has its view, and
// puts titles, notes and units on it.
func (a *ViewshedAnswer) Draw(ctx context.Context, g *Ground, paper page.Paper, needle Needle, words func(*sheet.Plan)) (*page.Document, error) {
	first := a.views[0]
	plan := g.mapOf()
	plan.Paper, plan.Date, plan.Relief, plan.Covered = paper, needle.Day, policy.ViewRelief, a.OverCover != nil
	v := &sheet.View{Frame: &first.Frame, Verdicts: first.Verdicts, Radius: first.Options.Radius, Sector: first.Options.Sector}
	if a.steps != nil {
		v.Likely = &visibility.ViewedLikelihood{Steps: a.steps, Model: a.likely[0].Model}
	}
	var from []geodesy.LatLon
	for i := range a.views {
		place := a.Views[i].From
		v.From = append(v.From, sheet.Place{Name: place.Name, At: place.LatLon(), Elevation: place.ElevationM})
		from = append(from, place.LatLon())
	}
	switch c := a.combined; {
	case c != nil:
		v.Frame, v.Verdicts, v.SeenBy = &c.Frame, c.Verdicts(a.views), c.Count
		if a.steps != nil {
			v.SeenBy = a.clear
		}
	case first.Summary.Farthest != nil:
		v.Farthest = &first.Summary.Farthest.Place
	}
	plan.View, plan.Declination = v, magneticNorth(from[0], first.GroundElevation, needle)
	words(&plan)
	plan, err := plan.FitScale(v.Judged(), from...)
	if err != nil {
		return nil, err
	}
	lines := DefaultLines()
	lines.Scale = plan.Scale * policy.ViewSparser
	if plan.Units == units.US {
		lines.Interval.Unit = contour.Foot
	}
	if _, err := g.contoured(ctx, &plan, lines, policy.DrawnPost*plan.Scale, sheetPostBytes); err != nil {
		return nil, err
	}
	a.scale = plan.Scale
	return sheet.Compose(ctx, plan)
}

// MapScale is the scale the views were drawn at, 0 where they were not.
func (a *ViewshedAnswer) MapScale() float64 { return a.scale }
