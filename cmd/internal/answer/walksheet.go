package answer

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/dem/units"
	"crowline/profile"
)

// WalkSheetRequest asks for a walk for a class: points to find near a place, one
// after the other and back to the first; where the ground has no such round, from
// the first to the last and back the same way.
type WalkSheetRequest struct {
	Around Place
	// Radius bounds where points are, and how long a leg is, metres.
	Radius float64
	// Points is how many; 0 for as many as suit the ground, from 5 to 8.
	Points   int
	Sighting Sighting
	Needle
	Walk Walk
	// Lines of the maps; their scale is the largest that shows the walk on a page
	// where it is 0.
	Lines Lines
	Paper page.Paper
	Title string
	Units units.System
	// Places are the user's, which may be marks.
	Places []Place
}

// Bounds of a class's walk.
const (
	leastWalkPoints, mostWalkPoints = 5, 8
	leastWalkRadius, mostWalkRadius = 300, 5000 // metres
)

// Check refuses what makes no sense.
func (r WalkSheetRequest) Check() error {
	switch {
	case !(r.Radius >= leastWalkRadius && r.Radius <= mostWalkRadius):
		return wrongf("a radius of %g m: give one from 300 m to 5 km", r.Radius)
	case r.Points != 0 && (r.Points < leastWalkPoints || r.Points > mostWalkPoints):
		return wrongf("%d points: ask for 5 to 8", r.Points)
	case r.Lines.Scale != 0 && !(r.Lines.Scale >= sheet.LeastScale && r.Lines.Scale <= mostSheetScale):
		return wrongf("scale 1:%g: give one from 1:500 to 1:1 000 000", r.Lines.Scale)
	}
	for _, c := range []interface{ Check() error }{r.Sighting, r.Needle, r.Walk} {
		if err := c.Check(); err != nil {
			return err
		}
	}
	return r.Paper.Validate()
}

// Reach is the ground of the points, of what lies beyond them, and of the marks of
// the legs.
func (r WalkSheetRequest) Reach() Reach {
	return Reach{Places: []geodesy.LatLon{r.Around.LatLon}, Margin: r.Radius + policy.MarkMargin}
}

// WalkSheetAnswer is a walk for a class.
type WalkSheetAnswer struct {
	// The title of the sheets.
	Name string `json:"name"`
	// The place asked about.
	Around Spot `json:"around"`
	// How far from it points may be, and how long a leg.
	RadiusM float64 `json:"radius_m"`
	// Whether from the last point the walk goes on to the first. If not, it comes
	// back the way it went: the ground has no round.
	Round bool `json:"round"`
	// The points in order.
	Points []WalkPoint `json:"points"`
	// The legs in order: of a round the last one is back to the first point, else
	// it is to the last point.
	Legs []RouteLeg `json:"legs"`
	// All legs together.
	Totals RouteTotals `json:"totals"`
	// The scale of the maps, as its denominator.
	Scale float64 `json:"scale"`
	// The contour interval of the maps, in its own unit.
	Interval string `json:"interval"`
	// What the leader must do before anyone walks it.
	First string `json:"first"`
	// What is doubtful.
	Notes []string `json:"notes"`
	// The files written.
	Written []string `json:"written"`
	// What is doubtful about what was drawn.
	Warnings []string `json:"warnings"`
	// What the sights assume.
	Assumptions Assumptions `json:"assumptions"`
	// The data the answer rests on.
	ElevationData ElevationData `json:"elevation_data"`
	// What always holds.
	Cautions []string `json:"cautions"`

	route   *RouteAnswer
	request WalkSheetRequest
}

var _ = register[WalkSheetAnswer]("walk")

// WalkPoint is a point of a class's walk.
type WalkPoint struct {
	// Its letter on the master map.
	Letter string `json:"letter"`
	// "top", "saddle", "end of a spur" or "where two valleys meet".
	Kind string `json:"kind"`
	// Where it is.
	At Spot `json:"place"`
	// By how much the landform stands out of its ground.
	ReliefM float64 `json:"relief_m" round:"1"`
	// How sure it is that the landform is there, from 0 to 1.
	Confidence float64 `json:"confidence" round:"3"`
	// How steep the ground there is, by the posts round it.
	SlopeDeg float64 `json:"slope_deg" round:"1"`
	// The steepest from there to any post beside.
	SteepestDeg float64 `json:"steepest_deg" round:"1"`
	// How one knows it when there, in words.
	KnownBy string `json:"known_by"`
	// What tells that one has gone past it on the leg to it; null at the first point
	// of a walk that is no round.
	Catching *CatchingFeature `json:"catching_feature"`
}

// WalkFirst is what every sheet of a walk says.
const WalkFirst = "Before any class walks this, its leader walks all of it: this was worked out from elevation data alone, by straight lines. Look for cliffs, water, fences, thicket and loose ground; ask whose land it is; follow local rules."

// Route is the walk as a route, for its card.
func (a *WalkSheetAnswer) Route() *RouteAnswer { return a.route }

// WalkSheet answers a WalkSheetRequest.
func WalkSheet(ctx context.Context, g *Ground, r WalkSheetRequest) (*WalkSheetAnswer, error) {
	f, chosen, err := g.findWalk(ctx, r)
	if err != nil {
		return nil, err
	}
	elevation, err := dem.ElevationAt(f.grid, r.Around.LatLon)
	if err != nil {
		return nil, err
	}
	a := &WalkSheetAnswer{
		Name: r.Title, Around: spot(r.Around, elevation), RadiusM: r.Radius, Round: !f.there, First: WalkFirst, Notes: []string{}, Written: []string{}, Warnings: []string{},
		Assumptions: r.Sighting.describe(), Cautions: cautions, request: r,
	}
	if a.Name == "" {
		a.Name = "A walk near " + titled(r.Around)
	}
	course := &Course{Name: a.Name}
	for i, n := range chosen {
		c := f.points[n]
		p := PlaceAt(c.at)
		p.Name = string(rune('A' + i))
		course.Turns = append(course.Turns, p)
		a.Points = append(a.Points, WalkPoint{
			Letter: p.Name, Kind: c.kind, At: spot(PlaceAt(c.at), c.elevation), ReliefM: c.relief, Confidence: c.confidence, SlopeDeg: c.slope, SteepestDeg: c.steepest, KnownBy: c.knownBy,
		})
	}
	if a.Round {
		course.Turns = append(course.Turns, course.Turns[0])
	}
	if a.route, err = Route(ctx, g, RouteRequest{Course: course, Title: a.Name, Sighting: r.Sighting, Needle: r.Needle, Walk: r.Walk, Straight: true, Places: r.Places}); err != nil {
		return nil, err
	}
	a.Legs, a.Totals = a.route.Legs, a.route.Totals
	for i := range a.Legs {
		a.Points[(i+1)%len(a.Points)].Catching = a.Legs[i].CatchingFeature
	}
	if !a.Round {
		a.Notes = append(a.Notes, "The ground here has no round for a class: come back the way you went. The way back too is under 30 degrees and has no cliff within the drift.")
	}
	a.Notes = append(a.Notes, a.route.Notes...)
	a.ElevationData = a.route.ElevationData
	return a, nil
}

// walkCandidate is a place that a stranger knows when there.
type walkCandidate struct {
	kind       string
	at         geodesy.LatLon
	elevation  float64
	relief     float64
	confidence float64
	slope      float64 // of the ground, and
	steepest   float64 // to any post beside, degrees
	knownBy    string
}

// walkFinder looks for the points of a walk.
type walkFinder struct {
	g      *Ground
	r      WalkSheetRequest
	grid   *dem.Grid
	points []walkCandidate
	legs   map[[2]int]*walkLeg
	tried  int // legs worked out in full
	// there is set for a walk to its last point and back the same way, not a round.
	there bool
	grain float64 // of walkGrains
}

// walkGrains are how fine a ground is looked at for the points of a walk, as a
// share of the policy's scale, relief and shortest leg: on steep ground tops and
// saddles that a class can walk between lie close together.
var walkGrains = []float64{1, 0.6}

// walkLeg is a straight line between two candidates.
type walkLeg struct {
	line    *profile.Leg
	cost    float64 // metres of level ground that it is worth
	full    bool    // all of it was looked at
	refused bool    // not to be walked, or nothing catches
	unsafe  bool    // not to be walked
}

// findWalk is the easiest round; where there is none, one of smaller landforms and
// shorter legs; where there is none of those, a walk there and back.
func (g *Ground) findWalk(ctx context.Context, r WalkSheetRequest) (*walkFinder, []int, error) {
	var finders []*walkFinder
	places := 0
	for _, there := range []bool{false, true} {
		for i, grain := range walkGrains {
			if !there {
				f, err := g.newWalkFinder(ctx, r, grain)
				if err != nil {
					return nil, nil, err
				}
				finders, places = append(finders, f), max(places, len(f.points))
			}
			f := finders[i]
			f.there, f.tried = there, 0
			if chosen, err := f.find(ctx); err != nil || chosen != nil {
				return f, chosen, err
			}
		}
	}
	if places < leastWalkPoints {
		return nil, nil, fmt.Errorf("no walk for a class within %s of %s: it needs %d places that can be recognised and stood on, and there are %d; try a larger radius, or another place",
			units.Metric.Distance(r.Radius), r.Around.Label(), max(r.Points, leastWalkPoints), places)
	}
	return nil, nil, fmt.Errorf("no walk for a class within %s of %s: %d places there can be recognised and stood on, but no way through %s has legs under %g degrees, clear of cliffs, with something beyond every point that tells you have gone too far; try a larger radius, or a place with gentler ground",
		units.Metric.Distance(r.Radius), r.Around.Label(), places, walkSizes(r.Points), float64(profile.SteepLimit))
}

// newWalkFinder finds the places a walk may go to, at a grain.
func (g *Ground) newWalkFinder(ctx context.Context, r WalkSheetRequest, grain float64) (*walkFinder, error) {
	reach := r.Reach()
	spacing, err := g.spacingAround(reach.Places, reach.Margin)
	if err != nil {
		return nil, err
	}
	options := landformOptions(spacing, g.verticalError)
	// Lesser landforms than a leg passes: who stands there sees them all round.
	options.Scale = math.Max(grain*policy.WalkScale, policy.LandformPosts*spacing)
	options.MinRelief = math.Max(grain*policy.WalkRelief, policy.WalkErrors*g.verticalError)
	options.Progress = progress(ctx, "looking for landforms")
	grid, _, err := g.thinned(ctx, reach.Places, reach.Margin, landformPosts(options), landformPostBytes)
	if err != nil {
		return nil, err
	}
	if _, err := dem.ElevationAt(grid, r.Around.LatLon); err != nil {
		return nil, err
	}
	if options, err = options.Resolve(grid); err != nil {
		return nil, wrongRequest{err}
	}
	found, err := landform.Features(ctx, grid, options)
	if err != nil {
		return nil, err
	}
	f := &walkFinder{g: g, r: r, grid: grid, legs: map[[2]int]*walkLeg{}, grain: grain}
	if err := f.candidates(ctx, found); err != nil {
		return nil, err
	}
	return f, nil
}

// candidates are the landforms that are places, told at once by who stands there.
func (f *walkFinder) candidates(ctx context.Context, found []landform.Feature) error {
	take := func(kind, knownBy string, l *landform.Feature, at geodesy.LatLon) error {
		if l.Confidence < policy.WalkSure || geodesy.Inverse(f.r.Around.LatLon, at).Distance > f.r.Radius {
			return nil
		}
		elevation, err := dem.ElevationAt(f.grid, at)
		if err != nil {
			return nil // on a void
		}
		slope, steepest, ok := f.slopes(at)
		if !ok || slope > policy.WalkSlope || steepest > policy.WalkFalls {
			return nil
		}
		f.points = append(f.points, walkCandidate{kind: kind, at: at, elevation: elevation, relief: l.Relief, confidence: l.Confidence, slope: slope, steepest: steepest, knownBy: knownBy})
		return nil
	}
	for i := range found {
		l := &found[i]
		if onFilled(f.grid, l) {
			continue
		}
		var err error
		switch l.Kind {
		case landform.Hill:
			err = take("top", "the ground falls away on all sides", l, l.Place)
		case landform.Saddle:
			err = take("saddle", "the ground rises before and behind, and falls to both sides", l, l.Place)
		case landform.Spur, landform.Ridge:
			var tip geodesy.LatLon
			if tip, err = f.grid.Place(l.Line[0].Column, l.Line[0].Row); err == nil {
				err = take("end of a "+string(l.Kind), "the crest ends, and the ground falls away ahead and to both sides", l, tip)
			}
		case landform.Valley, landform.Draw:
			if at, ok := f.meeting(found, i); ok {
				err = take("where two valleys meet", "two valley floors run into one", l, at)
			}
		}
		if err != nil {
			return err
		}
	}
	// Of two of a kind that are near each other neither is told from the other:
	// both go. Of different kinds the surer stays.
	var kept []walkCandidate
	for i, c := range f.points {
		alone := true
		for k, o := range f.points {
			near := geodesy.Inverse(c.at, o.at).Distance < f.grain*policy.WalkAlone
			alone = alone && (i == k || !near || o.kind != c.kind && (o.confidence < c.confidence || o.confidence == c.confidence && i < k))
		}
		if alone {
			kept = append(kept, c)
		}
	}
	f.points = kept
	// The nearest of the easiest and surest; more would only take longer.
	worth := func(c walkCandidate) float64 {
		return geodesy.Inverse(f.r.Around.LatLon, c.at).Distance/policy.WalkMost + c.slope/policy.WalkSlope - c.confidence
	}
	slices.SortStableFunc(f.points, func(a, b walkCandidate) int { return cmp.Compare(worth(a), worth(b)) })
	f.points = f.points[:min(len(f.points), policy.WalkCandidates)]
	return ctx.Err()
}

// slopes are the slope of the ground at a place by the eight posts round its own
// (Horn 1981), and the steepest to any of them, degrees; false where one is void
// or filled.
func (f *walkFinder) slopes(at geodesy.LatLon) (slope, steepest float64, ok bool) {
	column, row, err := f.grid.Locate(at)
	if err != nil {
		return 0, 0, false
	}
	c, r := int(math.Round(column)), int(math.Round(row))
	if c < 1 || r < 1 || c+1 >= f.grid.Columns || r+1 >= f.grid.Rows {
		return 0, 0, false
	}
	alongRow, alongColumn, err := f.grid.Spacing(column, row)
	if err != nil {
		return 0, 0, false
	}
	here, x, y := f.grid.Elevation(c, r), 0.0, 0.0
	for dc := -1; dc <= 1; dc++ {
		for dr := -1; dr <= 1; dr++ {
			there := f.grid.Elevation(c+dc, r+dr)
			if math.IsNaN(there) || f.grid.IsFilled(c+dc, r+dr) {
				return 0, 0, false
			}
			x += float64(dc*(2-dr*dr)) * there / (8 * alongRow)
			y += float64(dr*(2-dc*dc)) * there / (8 * alongColumn)
			if run := math.Hypot(float64(dc)*alongRow, float64(dr)*alongColumn); run > 0 {
				steepest = max(steepest, math.Atan(math.Abs(there-here)/run)*180/math.Pi)
			}
		}
	}
	return math.Atan(math.Hypot(x, y)) * 180 / math.Pi, steepest, true
}

// meeting is where a valley's line comes down to another's, within a few posts of
// its foot.
func (f *walkFinder) meeting(found []landform.Feature, i int) (geodesy.LatLon, bool) {
	const near = 3 // posts
	foot := found[i].Line[len(found[i].Line)-1]
	best, at := math.Inf(1), landform.Position{}
	for k := range found {
		o := &found[k]
		if k == i || o.Kind != landform.Valley && o.Kind != landform.Draw {
			continue
		}
		for n, p := range o.Line {
			// at the head of the next line the valley only goes on
			if d := math.Hypot(p.Column-foot.Column, p.Row-foot.Row); n > near && d < best {
				best, at = d, p
			}
		}
	}
	if best > near {
		return geodesy.LatLon{}, false
	}
	place, err := f.grid.Place(at.Column, at.Row)
	return place, err == nil
}

// leg is the straight line between two points; refused where no class should walk
// it.
func (f *walkFinder) leg(ctx context.Context, from, to int) (*walkLeg, error) {
	key := [2]int{from, to}
	if l := f.legs[key]; l != nil {
		return l, nil
	}
	l := &walkLeg{refused: true, unsafe: true}
	f.legs[key] = l
	a, b := f.points[from].at, f.points[to].at
	if d := geodesy.Inverse(a, b).Distance; d < f.grain*policy.WalkLeast || d > min(f.r.Radius, policy.WalkMost) {
		return l, nil
	}
	line, err := profile.Trace(ctx, f.g.posts(ctx), a, b)
	if err != nil {
		return l, ctx.Err()
	}
	slopes := line.Gradient()
	if line.Covered < line.Distance || line.Unknown() > 0 || len(line.Filled()) > 0 ||
		float64(max(slopes.Steepest, slopes.GroundSteepest)) >= float64(profile.SteepLimit) {
		return l, nil
	}
	climb := line.Climb(f.g.DeadBand(), f.g.verticalError)
	const perClimb = 10 // a metre up is as ten on the level: Naismith's 10 minutes to 100 m at 5 km/h, rounded up
	l.line, l.refused, l.unsafe = line, false, false
	l.cost = line.Distance + perClimb*(climb.Ascent+climb.Descent/2) + 50*math.Max(0, f.points[to].slope-policy.WalkEasySlope)
	return l, nil
}

// sure works a leg out in full, and refuses it where a cliff lies within the
// drift or nothing catches who goes too far; and where the walk comes back over
// it, a cliff within the drift of the way back.
func (f *walkFinder) sure(ctx context.Context, from, to int) (bool, error) {
	l, err := f.worked(ctx, from, to)
	if err != nil || l.refused || !f.there {
		return err == nil && !l.refused, err
	}
	back, err := f.worked(ctx, to, from)
	return err == nil && !back.unsafe, err
}

// worked is a leg worked out in full.
func (f *walkFinder) worked(ctx context.Context, from, to int) (*walkLeg, error) {
	l, err := f.leg(ctx, from, to)
	if err != nil || l.unsafe || l.full {
		return l, err
	}
	l.full = true
	f.tried++
	a, err := Leg(ctx, f.g, LegRequest{From: PlaceAt(f.points[from].at), To: PlaceAt(f.points[to].at), Sighting: f.r.Sighting, Needle: f.r.Needle, Walk: f.r.Walk, Marks: 1, chainOnly: true})
	if err != nil {
		return l, err
	}
	l.unsafe = a.Cliffs == nil || len(*a.Cliffs) > 0 || len(a.Climb.Steep) > 0 || len(a.Climb.GroundSteep) > 0
	l.refused = l.unsafe || a.CatchingFeature == nil || a.CatchingFeature.LatestM > policy.WalkCatch
	return l, nil
}

// find is the easiest walk all of whose legs hold; nil for none.
func (f *walkFinder) find(ctx context.Context) ([]int, error) {
	sizes := []int{6, 7, 5, 8}
	if f.r.Points > 0 {
		sizes = []int{f.r.Points}
	}
	told := progress(ctx, "trying walks")
	for _, n := range sizes {
		for f.tried < policy.WalkLegsTried {
			loop, err := f.loop(ctx, n)
			if err != nil {
				return nil, err
			}
			if loop == nil {
				break
			}
			good := true
			for i := range loop {
				if f.there && i == n-1 {
					break
				}
				ok, err := f.sure(ctx, loop[i], loop[(i+1)%n])
				if err != nil {
					return nil, err
				}
				if told != nil {
					told(int64(min(f.tried, policy.WalkLegsTried-1)), int64(policy.WalkLegsTried))
				}
				if good = ok; !ok {
					break
				}
			}
			if good {
				if told != nil {
					told(int64(policy.WalkLegsTried), int64(policy.WalkLegsTried))
				}
				return loop, nil
			}
		}
	}
	return nil, nil
}

func walkSizes(n int) string {
	if n == 0 {
		return fmt.Sprintf("%d to %d points", leastWalkPoints, mostWalkPoints)
	}
	return fmt.Sprintf("%d points", n)
}

// loop is the round of n points that costs least, or the walk there and back, of
// legs not refused so far; nil for none. Legs do not cross.
func (f *walkFinder) loop(ctx context.Context, n int) ([]int, error) {
	type next struct {
		to   int
		cost float64
	}
	ways := make([][]next, len(f.points))
	for i := range f.points {
		for k := range f.points {
			if i == k {
				continue
			}
			l, err := f.leg(ctx, i, k)
			if err != nil {
				return nil, err
			}
			if back := f.legs[[2]int{k, i}]; f.there && back != nil && back.unsafe {
				continue
			}
			if !l.refused {
				ways[i] = append(ways[i], next{k, l.cost})
			}
		}
		slices.SortStableFunc(ways[i], func(a, b next) int { return cmp.Compare(a.cost, b.cost) })
		ways[i] = ways[i][:min(len(ways[i]), policy.WalkWays)]
	}
	plane := geodesy.NewPlane(f.r.Around.LatLon)
	at := make([]page.Point, len(f.points))
	for i, p := range f.points {
		at[i].X, at[i].Y = plane.Forward(p.at)
	}
	var best []int
	least := math.Inf(1)
	path := make([]int, 0, n)
	var walk func(cost float64)
	walk = func(cost float64) {
		last := path[len(path)-1]
		for _, w := range ways[last] {
			total := cost + w.cost
			if total >= least {
				continue
			}
			back := !f.there && len(path) == n && w.to == path[0]
			if !back && (len(path) == n || slices.Contains(path, w.to) || !f.there && w.to < path[0]) {
				continue // a round is looked at from its first candidate alone
			}
			if len(path) >= 2 && f.points[last].kind == f.points[w.to].kind && f.points[path[len(path)-2]].kind == f.points[w.to].kind {
				total += policy.WalkAlike // three of a kind in a row teach less
			}
			if crossesPath(at, path, w.to, back) || total >= least {
				continue
			}
			if back {
				best, least = slices.Clone(path), total
				continue
			}
			path = append(path, w.to)
			if f.there && len(path) == n {
				best, least = slices.Clone(path), total
			} else {
				walk(total)
			}
			path = path[:len(path)-1]
		}
	}
	for i := range f.points {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		path = append(path[:0], i)
		if f.there { // it begins near the place, if it can
			walk(at[i].Length())
		} else {
			walk(0)
		}
	}
	if best == nil || f.there {
		return best, nil
	}
	// set out from the point nearest the place
	first := 0
	for i, p := range best {
		if at[p].Length() < at[best[first]].Length() {
			first = i
		}
	}
	return append(slices.Clone(best[first:]), best[:first]...), nil
}

// crossesPath reports whether a leg from the end of a path crosses one of its
// legs, or turns back along the leg before.
func crossesPath(at []page.Point, path []int, to int, back bool) bool {
	a, b := at[path[len(path)-1]], at[to]
	side := func(p, q, r page.Point) float64 { return (q.X-p.X)*(r.Y-p.Y) - (q.Y-p.Y)*(r.X-p.X) }
	for i := 0; i+2 < len(path); i++ {
		if i == 0 && back {
			continue
		}
		p, q := at[path[i]], at[path[i+1]]
		if side(a, b, p)*side(a, b, q) < 0 && side(p, q, a)*side(p, q, b) < 0 {
			return true
		}
	}
	if len(path) < 2 {
		return false
	}
	sharp := func(p, mid, q page.Point) bool {
		const sharpest = 0.87 // cosine of 30 degrees: less is the way back
		u, v := p.Minus(mid), q.Minus(mid)
		return u.Dot(v) > sharpest*u.Length()*v.Length()
	}
	return sharp(at[path[len(path)-2]], a, b) || back && sharp(a, b, at[path[1]])
}

// Maps are the master map for the teacher, with the points, and the blank one for
// the class, of the same ground at the same scale.
func (a *WalkSheetAnswer) Maps(ctx context.Context, g *Ground, edit func(master, blank *sheet.Plan)) (*page.Document, error) {
	r := a.request
	plan := g.mapOf()
	plan.Paper, plan.Units, plan.Date, plan.ContourReading = r.Paper, r.Units, r.Day, sheet.TowardReader
	plan.Declination = magneticNorth(r.Around.LatLon, a.Around.ElevationM, r.Needle)
	var south, north, west, east float64 = 90, -90, 0, 0
	first := a.Points[0].At.LatLon()
	for i := range a.Points {
		p := a.Points[i].At.LatLon()
		d := geodesy.Degrees(math.Remainder(float64(p.Lon-first.Lon), 360))
		south, north = min(south, float64(p.Lat)), max(north, float64(p.Lat))
		west, east = min(west, float64(d)), max(east, float64(d))
	}
	centre := geodesy.LatLon{Lat: geodesy.Degrees((south + north) / 2), Lon: first.Lon + geodesy.Degrees((west+east)/2)}
	plan.Centre = &centre
	var places []geodesy.LatLon
	for i := range a.Points {
		station := sheet.Station{Letter: a.Points[i].Letter, At: a.Points[i].At.LatLon()}
		if a.Round || i+1 < len(a.Points) {
			to := a.Points[(i+1)%len(a.Points)].At.LatLon()
			station.Toward = &to
		}
		plan.Stations = append(plan.Stations, station)
		places = append(places, station.At)
	}
	master, blank := plan, plan
	blank.Stations = nil
	edit(&master, &blank)
	// one scale for both: the smaller, for the longer notes leave less map
	scale := r.Lines.Scale
	for _, p := range []*sheet.Plan{&master, &blank} {
		if r.Lines.Scale > 0 {
			break
		}
		s, err := p.FitPoints(places)
		if err != nil {
			return nil, err
		}
		scale = max(scale, s)
	}
	master.Scale, blank.Scale = scale, scale
	lines := r.Lines
	lines.Scale, lines.ScaleAssumed = scale, false
	out := &page.Document{Title: a.Name, Subject: fmt.Sprintf("A walk for a class, maps at 1:%.0f", scale), Created: r.Day}
	for _, p := range []*sheet.Plan{&master, &blank} {
		if _, err := g.contoured(ctx, p, lines, 0, sheetPostBytes); err != nil {
			return nil, err
		}
		doc, err := sheet.Compose(ctx, *p)
		if err != nil {
			return nil, err
		}
		out.Pages, out.Warnings = append(out.Pages, doc.Pages...), append(out.Warnings, doc.Warnings...)
	}
	a.Scale, a.Interval = scale, describeInterval(master.Contours.Levels)
	return out, nil
}

// GPX writes the walk for a receiver: its points as waypoints, with how one knows
// them, and the walk as a route.
func (a *WalkSheetAnswer) GPX() Output {
	return func(ctx context.Context, path string) ([]string, error) {
		layers := a.route.layers(nil)
		points := layers[0].Features[:len(a.Points)] // a round comes to its first point twice
		for i := range a.Points {
			w := &a.Points[i]
			points[i].Values[1], points[i].Values[2] = w.Kind, w.KnownBy
		}
		layers[0].Features = points
		return []string{path}, gdalio.WriteFeatures(ctx, path, gdalio.GPX, layers...)
	}
}
