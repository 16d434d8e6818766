package answer

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/dem/units"
	"crowline/profile"
	"crowline/profile/drift"
	"crowline/profile/magnetic"
	"crowline/visibility"
	"crowline/visibility/vantage"
)

// VantageRequest asks where to stand, of every post round a place: for a class,
// to see some marks, or to watch someone walk a leg.
type VantageRequest struct {
	Around Place
	// Radius bounds where to stand, metres.
	Radius float64
	// See are marks that must be seen from there; WatchFrom and WatchTo the ends of
	// a leg to be watched. With neither the question is where to take a class.
	See                []Place
	WatchFrom, WatchTo *Place

	// Sighting has the eye over the standpoint; Target is how high what is seen
	// stands over its ground: of a mark its top, of a walker as much of them as must
	// be seen over what is before them.
	Sighting Sighting
	// Needle is what magnetic bearings go by.
	Needle
	// Places are the user's own, which are marks for a class.
	Places []Place
	// MarksTo is how far off marks for a class count, metres.
	MarksTo float64
	// Errors are those of the bearings and marks of the fix a class would make.
	Errors FixErrors
	// Apart is how far standpoints stand apart, metres, and Most how many are told.
	Apart float64
	Most  int
	// Slope and Width: ground is good to stand on that is no steeper, degrees, over
	// so many metres; 0 takes the policy's, for a group where the question is where
	// to take a class.
	Slope, Width float64
}

// DefaultVantage are the bounds of a question that gives none.
func DefaultVantage() VantageRequest {
	return VantageRequest{
		Radius: 2000, Sighting: DefaultSighting(), MarksTo: policy.VantageMarksTo, Errors: FixErrors{Compass: 2, Mark: 15},
		Apart: policy.VantageApart, Most: policy.VantageTold,
	}
}

// VantageKind is which question was asked.
type VantageKind string

// The questions.
const (
	VantageClass VantageKind = "class"
	VantageSee   VantageKind = "see"
	VantageWatch VantageKind = "watch"
)

func (r VantageRequest) kind() VantageKind {
	switch {
	case r.WatchFrom != nil:
		return VantageWatch
	case len(r.See) > 0:
		return VantageSee
	}
	return VantageClass
}

const (
	// mostVantageRadius bounds the ground stood on, metres: a day's walk, and every
	// post of it is asked.
	mostVantageRadius = 50e3
	mostSeen          = 100
)

// Check refuses what makes no sense.
func (r VantageRequest) Check() error {
	switch {
	case !(r.Radius > 0 && r.Radius <= mostVantageRadius):
		return wrongf("a radius of %g m: give one above 0 and up to 50 km", r.Radius)
	case (r.WatchFrom == nil) != (r.WatchTo == nil):
		return wrongf("a leg to be watched has two ends: give both")
	case r.WatchFrom != nil && len(r.See) > 0:
		return wrongf("marks to see and a leg to watch: ask one at a time")
	case len(r.See) > mostSeen:
		return wrongf("%d marks to see: give up to %d", len(r.See), mostSeen)
	case !(r.MarksTo > 0 && r.MarksTo <= 100e3):
		return wrongf("marks to %g m: give a distance above 0 and up to 100 km", r.MarksTo)
	case !(r.Apart >= 0 && r.Apart <= mostVantageRadius):
		return wrongf("standpoints %g m apart: give up to 50 km", r.Apart)
	case r.Most < 1 || r.Most > policy.VantageLooked:
		return wrongf("%d standpoints: ask for 1 to %d", r.Most, policy.VantageLooked)
	case !(r.Slope >= 0 && r.Slope < 60):
		return wrongf("a slope of %g degrees: give one from 0 to under 60", r.Slope)
	case !(r.Width >= 0 && r.Width <= 1000):
		return wrongf("ground %g m wide: give up to 1 km", r.Width)
	}
	if err := r.Errors.Check(); err != nil {
		return err
	}
	if err := r.Needle.Check(); err != nil {
		return err
	}
	return r.Sighting.Check()
}

// ground is the steepest ground to stand on, degrees, and how wide it must be.
func (r VantageRequest) ground() (slope, width float64) {
	slope, width = policy.LoneSlope, policy.LoneWidth
	if r.kind() == VantageClass {
		slope, width = policy.GroupSlope, policy.GroupWidth
	}
	if r.Slope > 0 {
		slope = r.Slope
	}
	if r.Width > 0 {
		width = r.Width
	}
	return slope, width
}

// looks are the places that must be looked at beside the ground stood on.
func (r VantageRequest) looks() []Place {
	if r.WatchFrom != nil {
		return []Place{*r.WatchFrom, *r.WatchTo}
	}
	return r.See
}

// places and margin are the ground read: all round the place, and what lies
// between it and the marks. A line bows out from its chord on the map by a small
// share of its length.
func (r VantageRequest) places() (places []geodesy.LatLon, margin float64) {
	const bow = 1.1
	places = []geodesy.LatLon{r.Around.LatLon}
	if r.kind() == VantageClass {
		return places, bow * (r.Radius + r.MarksTo)
	}
	for _, p := range r.looks() { // there and back: what is read lies along the lines between
		places = append(places, p.LatLon, r.Around.LatLon)
	}
	return places, bow*r.Radius + policy.VantageSpare
}

// Reach is the ground stood on, the marks, and what lies between.
func (r VantageRequest) Reach() Reach {
	places, margin := r.places()
	return Reach{Places: places, Margin: margin}
}

// VantageAnswer is where to stand.
type VantageAnswer struct {
	// "class", "see" (some marks) or "watch" (a leg being walked).
	Kind VantageKind `json:"kind"`
	// The place asked about.
	Around Spot `json:"around"`
	// How far from it standpoints may be.
	RadiusM float64 `json:"radius_m"`
	// The best places to stand, best first.
	Standpoints []Standpoint `json:"standpoints"`
	// The marks looked for; none where a leg is watched.
	Marks []VantageMark `json:"marks"`
	// Marks that would count for a class but were left out, for there were more
	// than are looked from: those that stand out least.
	MarksLeftOut int `json:"marks_left_out"`
	// How far off marks for a class counted; null for other questions.
	MarksToM float64 `json:"marks_to_m"`
	// How many of the marks asked about are seen from the place itself; left out of
	// other questions.
	AroundSees *int `json:"seen_from_around,omitempty"`
	// The leg that is watched; left out of other questions.
	Watched *WatchedLeg `json:"watched,omitempty"`
	// What was found of the posts asked.
	Posts VantagePosts `json:"posts"`
	// What ground is good to stand on.
	Ground StandGround `json:"ground"`
	// How far apart standpoints stand.
	ApartM float64 `json:"apart_m"`
	// How many of the best posts were looked from anew.
	LookedAnew int `json:"looked_anew"`
	// What the error ellipses rest on; left out of questions that have none.
	FixErrors *VantageErrors `json:"fix_errors,omitempty"`
	// Magnetic north at the place; null where the model has no answer.
	Declination *MagneticDeclination `json:"declination"`
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

	request  VantageRequest
	area     *vantage.Area
	stand    []vantage.Stand
	score    []float32 // of every post of the area's window: worth, marks seen, or share of the leg
	visible  []uint16
	unknown  []uint16
	best     float64 // the greatest score of all posts
	elevated float64 // the ground at the place
	scale    float64 // of the map drawn
	field    magnetic.Field
	fieldErr error
	leg      *profile.Leg // that is watched
}

var _ = register[VantageAnswer]("vantage")

// Standpoint is a place to stand.
type Standpoint struct {
	// Its place in the list, from 1.
	Rank int `json:"rank"`
	// Where it is.
	At Spot `json:"place"`
	// How far it is from the place asked about, straight.
	DistanceM float64 `json:"distance_m" round:"1"`
	// On which bearing from true north.
	TrueDeg float64 `json:"true_deg" round:"2"`
	// From magnetic north; null where the model has no answer.
	MagneticDeg float64 `json:"magnetic_deg" round:"1"`
	// What the straight line to it climbs; null where there is none.
	AscentM float64 `json:"ascent_m" round:"1"`
	// What it drops.
	DescentM float64 `json:"descent_m" round:"1"`
	// The steepest ground along the line.
	SteepestDeg float64 `json:"steepest_deg" round:"1"`
	// The steepest ground under it, in any direction.
	GroundSteepestDeg float64 `json:"ground_steepest_deg" round:"1"`
	// Part of that line has no data, and may add to these.
	LineNotKnown bool `json:"line_not_known,omitempty"`
	// It is good ground to stand on, as ground says.
	GoodGround bool `json:"good_ground"`
	// What it was chosen for: of a class what it is worth by the marks fixed to the
	// ground; else the share of the marks, or of the leg, that is seen.
	Score float64 `json:"score" round:"4"`
	// What it is ranked by: the same, worked out anew from all that can be
	// recognised there, and exactly along a leg.
	Worth float64 `json:"worth" round:"4"`
	// How many of the marks looked for, or of the places of a leg, are seen by the
	// data's heights.
	MarksSeen int `json:"marks_seen"`
	// Of how many it is not known.
	MarksNotKnown int `json:"marks_not_known"`
	// What can be recognised and is fixed to the ground (tops, cliffs, places), or
	// the marks asked about.
	Marks []StandpointMark `json:"marks"`
	// How many other things can be recognised, but are no marks to fix a place by:
	// notches, the ends of ridges and spurs, water.
	OtherThings int `json:"other_things"`
	// How near and far the marks are: so many within 2 km.
	NearMarks int `json:"near_marks"`
	// And so many beyond.
	FarMarks int `json:"far_marks"`
	// How many marks these are worth for crossing bearings: as many as there are
	// where they are spread evenly all round.
	CrossingMarks float64 `json:"crossing_marks" round:"2"`
	// The fix by the best three bearings, or two; null where there is none.
	Fix *StandpointFix `json:"fix"`
	// From there, which parts of the leg's walker are seen.
	Stretches []Stretch `json:"stretches,omitempty"`
	// Why it was chosen, in a line, in metres.
	Why string `json:"why"`

	post int
}

// Steep reports whether the straight line there crosses ground so steep that a
// slip may not be stopped (profile.SteepLimit).
func (s *Standpoint) Steep() bool {
	return max(s.SteepestDeg, s.GroundSteepestDeg) >= float64(profile.SteepLimit)
}

// StandpointMark is a mark as it is seen from a standpoint.
type StandpointMark struct {
	// "top", "cliff", "steep face" or "place", or the word its source has for it.
	Kind string `json:"kind"`
	// Which it is, in words.
	Says string `json:"says"`
	// Where it is.
	At Spot `json:"place"`
	// Bearing from true north.
	TrueDeg float64 `json:"true_deg" round:"2"`
	// From magnetic north; null where the model has no answer.
	MagneticDeg float64 `json:"magnetic_deg" round:"1"`
	// How far off it is.
	DistanceM float64 `json:"distance_m" round:"1"`
	// "visible", "hidden" or "unknown", by the data's heights.
	Verdict visibility.Verdict `json:"verdict"`
	// How sure that is; null where the data's error is not known.
	Likely *Likelihood `json:"likelihood"`
	// It is one of the marks of the fix.
	InFix bool `json:"in_fix"`

	says func(units.System) string
}

// Doubtful reports whether it is seen with less than 75 %.
func (m *StandpointMark) Doubtful() bool {
	l := visibility.Landmark{Sight: visibility.Sight{Verdict: visibility.Visible}, Likelihood: m.Likely.Full()}
	return l.Doubtful()
}

// SaysIn is which mark it is, with its distance in these units where Says has one.
func (m *StandpointMark) SaysIn(u units.System) string {
	if m.says == nil {
		return m.Says
	}
	return m.says(u)
}

// StandpointFix is the fix by the best bearings of a standpoint.
type StandpointFix struct {
	// How many bearings.
	Bearings int `json:"bearings"`
	// Half the long axis of the ellipse that holds the place 19 times in 20.
	SemiMajorM float64 `json:"semi_major_95_m" round:"1"`
	// Half its short axis.
	SemiMinorM float64 `json:"semi_minor_95_m" round:"1"`
	// The long axis's direction from true north.
	AlongDeg float64 `json:"semi_major_true_deg" round:"1"`
	// The best angle at which two of the lines cross.
	CrossingDeg float64 `json:"crossing_deg" round:"1"`
}

// VantageMark is a mark that was looked from.
type VantageMark struct {
	// "summit", "cliff", "place", or the word its source has for it.
	Kind string `json:"kind"`
	// Where it is.
	At Spot `json:"place"`
	// How far it stands out of its ground: a summit above its saddle, a cliff by its
	// step; null for a place.
	ReliefM float64 `json:"relief_m" round:"1"`
	// How far off it counts; null for no bound.
	ReachM float64 `json:"reach_m" round:"0"`
	// From how many posts it is seen.
	SeenFrom int `json:"seen_from_posts"`
	// From how many that is not known.
	NotKnownFrom int `json:"not_known_from_posts"`
}

// WatchedLeg is the leg that is watched.
type WatchedLeg struct {
	// Its start.
	From Spot `json:"from"`
	// Its end.
	To Spot `json:"to"`
	// How long it is.
	DistanceM float64 `json:"distance_m" round:"1"`
	// At how many places along it, evenly spaced, the walker was looked for from
	// every post; standpoints are told exactly.
	Places int `json:"places"`
	// How far apart these are.
	StepM float64 `json:"step_m" round:"1"`
	// How high the walker's part that must be seen reaches above the ground.
	WalkerM float64 `json:"walker_m"`
}

// VantagePosts are the posts asked, by what was found.
type VantagePosts struct {
	// Posts within the radius.
	Asked int `json:"asked"`
	// Of these, posts that are good to stand on.
	Good int `json:"good_ground"`
	// Posts that are too steep, or beside ground that is.
	Steep int `json:"too_steep"`
	// Posts with no elevation, or beside ground with none.
	Void int `json:"no_elevation"`
	// Posts with a cliff nearer than one may stray on the way.
	NearCliff int `json:"near_cliff"`
	// Posts that see at least one mark, or the walker somewhere.
	SeeOne int `json:"see_one_mark"`
	// Posts that see all the marks, or the walker at all the places of a leg.
	SeeAll int `json:"see_all_marks"`
	// Of these, posts that are good to stand on.
	SeeAllGood int `json:"see_all_marks_good_ground"`
	// Posts that may see more marks than are counted, for a line meets ground with
	// no elevation.
	NotKnown int `json:"not_known"`
	// The area of the ground that sees all the marks.
	SeeAllM2 float64 `json:"see_all_marks_m2" round:"0"`
}

// StandGround is what ground is good to stand on.
type StandGround struct {
	// No steeper than this.
	SlopeDeg float64 `json:"slope_deg"`
	// Over this width, and never less than to the next posts.
	WidthM float64 `json:"width_m"`
	// No cliff nearer than this, and farther off the longer the way there is.
	CliffM float64 `json:"cliff_m"`
	// One standard deviation of the bearing kept on the way there, which says how
	// much farther.
	CompassErrorDeg float64 `json:"compass_error_deg"`
}

// VantageErrors are what the fix of a standpoint rests on.
type VantageErrors struct {
	// One standard deviation of a bearing.
	CompassDeg float64 `json:"compass_deg"`
	// One standard deviation of where on a mark one points.
	MarkM float64 `json:"mark_m"`
}

// vantageCaution is the first of the cautions: what the data cannot say.
const vantageCaution = "Nobody has stood there: walk to a standpoint and back yourself before you take a group."

// vantagePostBytes is what a post takes that is read, beside the marks.
const vantagePostBytes = 60

// Vantage answers a VantageRequest.
func Vantage(ctx context.Context, g *Ground, r VantageRequest) (*VantageAnswer, error) {
	places, margin := r.places()
	marks := policy.VantageMarks
	if r.kind() == VantageSee {
		marks = len(r.See)
	}
	grid, err := g.around(ctx, places, margin, vantagePostBytes+vantage.Bytes(1, marks))
	if err != nil {
		return nil, err
	}
	spacing, err := gridSpacing(grid)
	if err != nil {
		return nil, err
	}
	start, err := dem.ElevationAt(grid, r.Around.LatLon)
	if err != nil {
		return nil, err
	}
	slope, width := r.ground()
	a := &VantageAnswer{
		Kind: r.kind(), Around: spot(r.Around, start), RadiusM: r.Radius, MarksToM: nan, ApartM: r.Apart,
		Ground:      StandGround{slope, width, policy.GroupCliff, float64(drift.DefaultCompass)},
		Assumptions: r.Sighting.describe(), Cautions: append([]string{vantageCaution}, cautions...), Written: []string{}, Warnings: []string{},
		Standpoints: []Standpoint{}, Marks: []VantageMark{}, request: r, elevated: start,
	}
	a.field, a.fieldErr = r.Needle.at(r.Around.LatLon, start)
	a.Declination = declination(a.field, a.fieldErr, r.Needle)
	if a.area, err = vantage.Around(ctx, grid, r.Around.LatLon, r.Radius); err != nil {
		return nil, err
	}
	cliffs, err := g.allCliffs(ctx, grid, spacing)
	if err != nil {
		return nil, err
	}
	errors := drift.DefaultErrors()
	a.stand, err = vantage.Standing(ctx, grid, a.area, vantage.StandOptions{
		MostSlope: geodesy.Degrees(slope), Width: width, Cliffs: cliffs,
		Clear: func(distance float64) float64 { return max(policy.GroupCliff, errors.OnCompass(distance)) },
	})
	if err != nil {
		return nil, err
	}
	list, err := a.marks(ctx, g, grid, spacing, cliffs)
	if err != nil {
		return nil, err
	}
	seen, err := vantage.Look(ctx, grid, a.area, list, vantage.Options{
		EyeAboveGround: r.Sighting.Eye, Refraction: r.Sighting.Refraction, Progress: progress(ctx, "looking from marks"),
	})
	if err != nil {
		return nil, err
	}
	if err := a.count(grid, seen); err != nil {
		return nil, err
	}
	switch a.Kind {
	case VantageClass:
		err = a.class(ctx, g, grid, seen, spacing)
	case VantageSee:
		err = a.see(ctx, g, grid, seen)
	default:
		err = a.watch(ctx, g, grid)
	}
	if err != nil {
		return nil, err
	}
	for i := range a.Standpoints {
		s := &a.Standpoints[i]
		s.Rank = i + 1
		s.Why = a.why(s)
	}
	a.ElevationData = g.describe(spacing, 0)
	return a, nil
}

// allCliffs are the cliffs of a grid, the least sure too: they are kept clear of.
func (g *Ground) allCliffs(ctx context.Context, grid *dem.Grid, spacing float64) ([]landform.Feature, error) {
	o := landformOptions(spacing, g.verticalError)
	o.Kinds, o.MinConfidence = []landform.Kind{landform.Cliff}, math.SmallestNonzeroFloat64
	return landform.Features(ctx, grid, o)
}

// sureCliff is how sure a cliff must be to be a mark: landforms' own default.
const sureCliff = 0.5

// marks are the marks looked from, and what the answer says of each.
func (a *VantageAnswer) marks(ctx context.Context, g *Ground, grid *dem.Grid, spacing float64, cliffs []landform.Feature) ([]vantage.Mark, error) {
	r := a.request
	switch a.Kind {
	case VantageSee:
		var out []vantage.Mark
		for _, p := range r.See {
			elevation, err := dem.ElevationAt(grid, p.LatLon)
			if err != nil {
				return nil, fmt.Errorf("the mark %s: %w", p.Label(), err)
			}
			a.Marks = append(a.Marks, VantageMark{Kind: kindOf(p), At: spot(p, elevation), ReliefM: nan, ReachM: nan})
			out = append(out, vantage.Mark{Place: p.LatLon, AboveGround: r.Sighting.Target})
		}
		return out, nil
	case VantageWatch:
		return a.walkers(ctx, grid, spacing)
	}
	a.MarksToM = r.MarksTo
	a.FixErrors = &VantageErrors{r.Errors.Compass, r.Errors.Mark}
	type found struct {
		mark   VantageMark
		place  geodesy.LatLon
		reach  float64
		relief float64
	}
	var list []found
	near := func(p geodesy.LatLon, reach float64) bool {
		return geodesy.Inverse(r.Around.LatLon, p).Distance <= r.Radius+reach
	}
	for _, p := range r.Places {
		elevation, err := dem.ElevationAt(grid, p.LatLon)
		if err != nil || !near(p.LatLon, r.MarksTo) {
			continue // it lies off the ground looked at
		}
		list = append(list, found{VantageMark{Kind: kindOf(p), At: spot(p, elevation), ReliefM: nan}, p.LatLon, r.MarksTo, math.Inf(1)})
	}
	named := len(list)
	summits, err := landform.Summits(ctx, grid, landform.SummitOptions{MinProminence: g.prominence(), Progress: progress(ctx, "looking for summits")})
	if err != nil {
		return nil, err
	}
	for _, s := range summits {
		reach := min(r.MarksTo, s.Prominence/math.Tan(policy.VantageLeast*math.Pi/180))
		if !near(s.Place, reach) {
			continue
		}
		if slices.ContainsFunc(list[:named], func(f found) bool { return geodesy.Inverse(f.place, s.Place).Distance < policy.OneMark }) {
			continue // a named place on it is one mark, by its name
		}
		list = append(list, found{VantageMark{Kind: "summit", At: spot(PlaceAt(s.Place), s.Elevation), ReliefM: s.Prominence}, s.Place, reach, s.Prominence})
	}
	for i := range cliffs {
		f := &cliffs[i]
		reach := min(r.MarksTo, f.Relief/math.Tan(policy.VantageCliff*math.Pi/180))
		if f.Confidence < sureCliff || !near(f.Place, reach) {
			continue
		}
		foot, err := footOf(grid, f)
		if err != nil {
			return nil, err
		}
		list = append(list, found{VantageMark{Kind: "cliff", At: spot(PlaceAt(foot.Place), foot.Elevation), ReliefM: f.Relief}, foot.Place, reach, f.Relief})
	}
	slices.SortStableFunc(list, func(a, b found) int { return cmp.Compare(b.relief, a.relief) })
	if most := policy.VantageMarks; len(list) > most {
		a.MarksLeftOut = len(list) - most
		list = list[:most]
	}
	var out []vantage.Mark
	for _, f := range list {
		f.mark.ReachM = f.reach
		a.Marks = append(a.Marks, f.mark)
		out = append(out, vantage.Mark{Place: f.place, Reach: f.reach})
	}
	return out, nil
}

func kindOf(p Place) string {
	if p.Kind != "" {
		return p.Kind
	}
	return "place"
}

// footOf is the lowest post of a cliff's steepest step: a face is known by its
// foot from where it is seen, and its top from behind is nothing to see.
func footOf(grid *dem.Grid, f *landform.Feature) (landform.Post, error) {
	best := f.Post
	const beside = 2 // posts
	for _, part := range f.Parts {
		for _, p := range part {
			c, r := int(math.Round(p.Column)), int(math.Round(p.Row))
			if max(c-f.Column, f.Column-c, r-f.Row, f.Row-r) <= beside {
				if h := grid.Elevation(c, r); h < best.Elevation {
					best = landform.Post{Column: c, Row: r, Elevation: h}
				}
			}
		}
	}
	var err error
	best.Place, err = grid.Place(float64(best.Column), float64(best.Row))
	return best, err
}

// count is how many posts see how much.
func (a *VantageAnswer) count(grid *dem.Grid, seen *vantage.Seen) error {
	a.visible, a.unknown = seen.Counts()
	for k := range a.Marks {
		m := &a.Marks[k]
		for i := range a.visible {
			switch seen.Verdict(k, i) {
			case visibility.Visible:
				m.SeenFrom++
			case visibility.Unknown:
				m.NotKnownFrom++
			}
		}
	}
	p := &a.Posts
	p.Asked = a.area.Posts
	all := uint16(len(seen.Marks))
	for i, s := range a.stand {
		switch s {
		case vantage.NotAsked:
			continue
		case vantage.Good:
			p.Good++
		case vantage.Steep:
			p.Steep++
		case vantage.Void:
			p.Void++
		case vantage.Cliff:
			p.NearCliff++
		}
		if a.visible[i] > 0 {
			p.SeeOne++
		}
		if a.visible[i] == all && all > 0 {
			p.SeeAll++
			if s == vantage.Good {
				p.SeeAllGood++
			}
		}
		if a.unknown[i] > 0 {
			p.NotKnown++
		}
	}
	w := a.area.Window
	alongRow, alongColumn, err := grid.Spacing(float64(w.Column)+float64(w.Columns)/2, float64(w.Row)+float64(w.Rows)/2)
	p.SeeAllM2 = float64(p.SeeAll) * alongRow * alongColumn
	return err
}

// ordered are the posts that fit, by what is greater first, and of equals that
// nearer in walking time first.
func (a *VantageAnswer) ordered(fits func(post int) bool, worth func(post int) float64) []int {
	var out []int
	var by []float64
	w := a.area.Window
	for i := range w.Columns * w.Rows {
		if a.area.In(i) && fits(i) {
			out = append(out, i)
		}
	}
	by = make([]float64, w.Columns*w.Rows)
	for _, i := range out {
		by[i] = worth(i)
	}
	slices.SortStableFunc(out, func(i, j int) int { return cmp.Compare(by[j], by[i]) })
	return out
}

// effort is about how long it takes to walk to a post and up to it, seconds, as
// one even slope: for an order.
func (a *VantageAnswer) effort(grid *dem.Grid, post int) float64 {
	column, row := a.area.At(post)
	return profile.NaismithLangmuir(profile.Move{Length: a.area.Distance(post), Rise: grid.Elevation(column, row) - a.elevated})
}

// standpoint is a post as a standpoint, with the straight line to it.
func (a *VantageAnswer) standpoint(ctx context.Context, g *Ground, grid *dem.Grid, post int) (Standpoint, error) {
	column, row := a.area.At(post)
	place, err := a.area.Place(post)
	if err != nil {
		return Standpoint{}, err
	}
	s := Standpoint{
		At: spot(PlaceAt(place), grid.Elevation(column, row)), MagneticDeg: nan, AscentM: nan, DescentM: nan, SteepestDeg: nan, GroundSteepestDeg: nan,
		GoodGround: a.stand[post] == vantage.Good, Score: float64(a.score[post]), MarksSeen: int(a.visible[post]), MarksNotKnown: int(a.unknown[post]),
		Marks: []StandpointMark{}, post: post,
	}
	line := geodesy.Inverse(a.request.Around.LatLon, place)
	s.DistanceM, s.TrueDeg = line.Distance, float64(line.Start)
	s.MagneticDeg = a.compass(line.Start)
	if s.DistanceM < 1 {
		s.AscentM, s.DescentM, s.SteepestDeg, s.GroundSteepestDeg = 0, 0, 0, 0
		return s, nil
	}
	leg, err := profile.Trace(ctx, grid, a.request.Around.LatLon, place)
	if err != nil {
		return s, err
	}
	climb, gradient := leg.Climb(g.DeadBand(), g.verticalError), leg.Gradient()
	s.AscentM, s.DescentM, s.LineNotKnown = climb.Ascent, climb.Descent, climb.AtLeast
	s.SteepestDeg, s.GroundSteepestDeg = float64(gradient.Steepest), float64(gradient.GroundSteepest)
	return s, nil
}

// compass is a true bearing as a compass reads it; NaN where that is not known.
func (a *VantageAnswer) compass(b geodesy.TrueBearing) float64 {
	if a.fieldErr != nil || a.field.Zone == magnetic.Blackout {
		return nan
	}
	return float64(a.field.Declination.Magnetic(b))
}
