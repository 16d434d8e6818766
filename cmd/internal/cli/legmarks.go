package cli

import (
	"context"
	"fmt"
	"math"
	"strings"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/profile"
	"crowline/visibility"
	"crowline/visibility/chain"
)

// wayside is what a leg's surroundings add to it: marks to walk on, the
// chain of sightings, and the landforms passed.
type wayside struct {
	marks  []visibility.Landmark
	plan   chain.Plan
	loose  bool // marks need be seen only when chosen
	passed []passedBy
	scale  float64 // of the landforms, metres
	rise   float64 // least relief of the landforms, metres
}

// chainJSON is the chain of sightings.
type chainJSON struct {
	Complete     bool       `json:"complete"`
	Hard         bool       `json:"hard_to_lead_by_marks"`
	Sightings    int        `json:"sightings"`
	CompassOnlyM float64    `json:"compass_only_m"`
	UnguidedM    float64    `json:"unguided_m"`
	PlainM       float64    `json:"unguided_on_plain_ground_m"` // where nothing in view stands up
	Steps        []stepJSON `json:"steps"`
}

type stepJSON struct {
	Kind  string        `json:"kind"`
	FromM float64       `json:"from_m"`
	ToM   float64       `json:"to_m"`
	Short bool          `json:"short,omitempty"`
	Plain bool          `json:"nothing_stands_up,omitempty"`
	Mark  *lineMarkJSON `json:"mark,omitempty"`
	Angle *float64      `json:"elevation_angle_deg,omitempty"`
	Back  *backJSON     `json:"back_sight,omitempty"`
	// OverCover is the sight of the mark from where it is chosen.
	OverCover *coverJSON `json:"over_cover,omitempty"`
}

type lineMarkJSON struct {
	Kind       string        `json:"kind"`
	Name       string        `json:"name,omitempty"`
	AtM        float64       `json:"at_m"`
	OffsetM    float64       `json:"offset_m"`
	ElevationM *float64      `json:"elevation_m"`
	RelativeTo *relationJSON `json:"relative_to,omitempty"`
	Plain      bool          `json:"on_plain_ground,omitempty"` // known only by what stands there
}

// relationJSON is the point a mark on a slope is described by, and how far
// past it (below 0: short of it) and above it the mark lies.
type relationJSON struct {
	Kind       string   `json:"kind"`
	AtM        float64  `json:"at_m"`
	ElevationM *float64 `json:"elevation_m"`
	PastM      float64  `json:"past_m"`
	AboveM     float64  `json:"above_m"`
	InView     bool     `json:"in_view"`
}

type backJSON struct {
	Mark  lineMarkJSON  `json:"mark"`
	Share float64       `json:"seen_share"`
	Seen  []stretchJSON `json:"seen"`
}

type passedJSON struct {
	AtM        float64  `json:"at_m"`
	ElevationM *float64 `json:"elevation_m"`
	Kind       string   `json:"kind"`
	Name       string   `json:"name"`
	// Filled: the leg's own ground there was void and has been filled.
	Filled bool `json:"on_filled_ground,omitempty"`
	// Aside is the feature's own place, where the leg does not go over it.
	Aside *asideJSON `json:"aside,omitempty"`
	// Nearest is the nearest part of what the leg passes beside.
	Nearest *nearestPartJSON `json:"nearest_part,omitempty"`
	// UntilM is where the leg leaves a cliff that it goes along or down.
	UntilM *float64 `json:"until_m,omitempty"`
}

// nearestPartJSON is the part of a feature nearest to a leg that passes beside
// it: to its right positive.
type nearestPartJSON struct {
	OffsetM float64 `json:"offset_m"`
	Place   place   `json:"place"`
}

// asideJSON is a summit, a saddle's floor, the bottom of a depression or the
// steepest place of a cliff beside a leg: to its right positive.
type asideJSON struct {
	OffsetM    float64 `json:"offset_m"`
	ElevationM float64 `json:"elevation_m"`
	Filled     bool    `json:"on_filled_ground,omitempty"`
}

// scan looks round the leg: marks within two degrees of it as far as
// markReach, and the chain they make with the ground of the line itself.
func scan(ctx context.Context, g *ground, places *placeFlags, a *legAnswer, observer visibility.Observer, conditions visibility.Conditions, loose bool) (*wayside, error) {
	w := &wayside{loose: loose}
	// the landforms are worked out beside the marks, once their ground is read:
	// the data is read by one at a time
	forms, err := readLandforms(ctx, g, a.leg)
	if err != nil {
		return nil, err
	}
	passed := make(chan error, 1)
	go func() { passed <- forms.pass(ctx, a.leg, w) }()
	err = w.sight(ctx, g, places, a, observer, conditions)
	if alongside := <-passed; err == nil {
		err = alongside
	}
	return w, err
}

// sight finds the marks, and the chain they make with the ground of the line.
func (w *wayside) sight(ctx context.Context, g *ground, places *placeFlags, a *legAnswer, observer visibility.Observer, conditions visibility.Conditions) error {
	var err error
	if w.marks, err = marksAlong(ctx, g, places, a.leg, observer, conditions); err != nil {
		return err
	}
	opts := chain.Options{SeenWhenChosen: w.loose, LeastRelief: max(chain.DefaultLeastRelief, g.deadBand()), Marks: chain.Offers(a.leg, nearMarks(a.leg, w.marks))}
	if a.leg.Covered >= a.leg.Distance {
		if beyond, err := traceBearing(ctx, g.posts(ctx), a.leg.From, a.leg.Start, markReach(a.leg)); err == nil {
			opts.Beyond = beyond
		}
	}
	w.plan, err = chain.Find(ctx, a.leg, observer, conditions, opts)
	return err
}

// marksAlong ranks the marks within two degrees of a leg, as far as markReach.
// Only the ground that this takes is read; the prominence of summits is told
// within a window that holds the sector and the hills beside it.
func marksAlong(ctx context.Context, g *ground, places *placeFlags, leg *profile.Leg, observer visibility.Observer, conditions visibility.Conditions) ([]visibility.Landmark, error) {
	reach := markReach(leg)
	far, _ := geodesy.Direct(leg.From, leg.Start, reach)
	margin := math.Max(2000, reach*2*visibility.DefaultWithin.Sin())
	posts := g.posts(ctx)
	window, err := dem.WindowAround(posts.Layout(), geodesy.Waypoints(leg.From, far, 24), margin)
	if err != nil {
		return nil, err
	}
	summits, err := visibility.SummitsAlong(ctx, posts, window, leg.From, leg.Start, visibility.DefaultWithin, reach, g.prominence())
	if err != nil {
		return nil, err
	}
	list, err := withPlaces(summits, places)
	if err != nil {
		return nil, err
	}
	opts := visibility.LandmarkOptions{Conditions: conditions, Radius: reach, Leg: leg, OwnGround: g.deadBand(), VerticalError: g.verticalError}
	return visibility.Landmarks(ctx, posts, observer, list, opts)
}

// nearMarks are those a chain may use: visible from somewhere on the leg.
func nearMarks(leg *profile.Leg, marks []visibility.Landmark) []visibility.Landmark {
	var out []visibility.Landmark
	for _, m := range marks {
		if m.Kept != nil && !m.TooSmall && geodesy.Inverse(m.Place, leg.To).Distance > 1 {
			out = append(out, m)
		}
	}
	return out
}

// markReach is how far from a leg's start marks are looked for.
func markReach(leg *profile.Leg) float64 {
	return leg.Distance + math.Max(markMargin, leg.Distance/2)
}

// Landforms along a leg are found at landformScale, metres, or six post
// spacings where those are wider; a rise counts from landformRelief, metres,
// or from three standard deviations of the data.
const (
	landformScale  = 500.0
	landformRelief = 20.0
	// landformPostsAcross is how many posts across a landform are enough: on
	// finer ground every second, third... post is taken, but none farther apart
	// than the least relief, or the steps of cliffs would be lost between them.
	landformPostsAcross = 15
)

// landforms are the ground round a leg, thinned, and what to find on it.
type landforms struct {
	grid *dem.Grid
	opts landform.FeatureOptions
}

// readLandforms reads the ground that the landforms a leg crosses are found on.
func readLandforms(ctx context.Context, g *ground, leg *profile.Leg) (*landforms, error) {
	scale := math.Max(landformScale, 6*leg.Spacing)
	w, err := dem.WindowAround(g.source.Layout(), geodesy.Waypoints(leg.From, leg.PlaceAt(leg.Covered), 16), 2*scale)
	if err != nil {
		return nil, err
	}
	opts := landform.FeatureOptions{Scale: scale, VerticalError: g.verticalError, MinRelief: math.Max(landformRelief, 3*g.verticalError)}
	apart := math.Min(scale/landformPostsAcross, opts.MinRelief)
	grid, err := dem.ReadEvery(ctx, g.source, w, max(1, int(apart/leg.Spacing)))
	if err != nil {
		return nil, err
	}
	return &landforms{grid: grid, opts: opts}, nil
}

// pass names the landforms a leg crosses.
func (l *landforms) pass(ctx context.Context, leg *profile.Leg, w *wayside) error {
	features, err := landform.Features(ctx, l.grid, l.opts)
	if err != nil {
		return err
	}
	along, err := profile.Trace(ctx, l.grid, leg.From, leg.PlaceAt(leg.Covered))
	if err != nil {
		return nil // thinned posts may stop a hair short of the leg
	}
	var path []landform.PathPoint
	for _, p := range along.Points {
		path = append(path, landform.PathPoint{Position: landform.Position{Column: p.Column, Row: p.Row}, Distance: p.Distance, Elevation: p.Elevation})
	}
	w.scale, w.rise = l.opts.Scale, l.opts.MinRelief
	passed, err := landform.Along(&l.grid.Frame, path, features, landform.AlongOptions{Scale: w.scale, MinRelief: w.rise})
	for _, p := range passed {
		by := passedBy{Passed: p, filled: along.FilledAt(p.Distance)}
		if p.Feature >= 0 {
			f := features[p.Feature]
			by.top, by.topFilled = float64(f.Elevation), l.grid.IsFilled(f.Column, f.Row)
			by.filled = by.filled || p.Aside == 0 && f.Line == nil && f.Kind != landform.Cliff && by.topFilled
			if p.Off != 0 {
				at, err := l.grid.Place(p.Nearest.Column, p.Nearest.Row)
				if err != nil {
					return err
				}
				by.nearest, by.elevation = at, dem.Bilinear(l.grid, p.Nearest.Column, p.Nearest.Row)
			}
		}
		w.passed = append(w.passed, by)
	}
	return err
}

// passedBy is what a leg passes, with the elevation of its own place, metres,
// and whether the leg's ground there, and that place, were void and filled;
// and, where the leg goes beside it, its nearest part and the elevation there.
type passedBy struct {
	landform.Passed
	top               float64
	filled, topFilled bool
	nearest           geodesy.LatLon
	elevation         float64
}

// filledText says which of it lies on filled ground, "" for none.
func (p passedBy) filledText() string {
	aside := p.Aside != 0 && p.topFilled
	switch {
	case p.filled && aside:
		return "all of it on ground " + filledWords
	case p.filled:
		return "on ground " + filledWords
	case aside:
		return "itself on ground " + filledWords
	}
	return ""
}

// along reports whether a leg goes along a cliff, or down a broad one, for so
// long that where it leaves it is told.
func (p passedBy) along() bool { return p.Until-p.Distance >= leastTold }

// describe puts the wayside into the answer's JSON: four times the marks
// asked for, since hidden ones are among them, and how sure the first are.
func (a *legAnswer) describe(ctx context.Context, g *ground, w *wayside, most int, observer visibility.Observer, over *cover, u units) error {
	a.wayside = w
	a.Marks = []markJSON{}
	posts := g.posts(ctx)
	for i := range w.marks {
		if i == 4*most {
			break
		}
		m := describeMark(i+1, &w.marks[i], a.bearings.Field, a.bearings.FieldError, true, u)
		if i < most && w.marks[i].Sight.Verdict != visibility.Unknown {
			var err error
			if over != nil {
				conditions := a.conditions
				if above := w.marks[i].AboveGround; above > 0 {
					conditions.TargetAboveGround = above
				}
				if m.OverCover, err = over.look(ctx, posts, w.marks[i].Place, observer, conditions, w.marks[i].Sight.Verdict); err != nil {
					return err
				}
			}
			if m.Sight.Likely, err = g.likelyMark(ctx, posts, &w.marks[i], observer, a.conditions); err != nil {
				return err
			}
		}
		a.Marks = append(a.Marks, m)
	}
	c := &chainJSON{Complete: w.plan.Complete(), Hard: w.plan.Hard(), Sightings: w.plan.Sightings, CompassOnlyM: *rounded(w.plan.CompassOnly, 1), UnguidedM: *rounded(w.plan.Unguided, 1), PlainM: *rounded(w.plan.Plain, 1)}
	for _, s := range w.plan.Steps {
		step := stepJSON{Kind: s.Kind.String(), FromM: *rounded(s.From, 1), ToM: *rounded(s.To, 1), Short: s.Short, Plain: s.Plain, Angle: rounded(float64(s.Angle), 2)}
		if s.Mark != nil {
			m := describeLineMark(*s.Mark)
			step.Mark = &m
		}
		if s.Back != nil {
			step.Back = &backJSON{describeLineMark(s.Back.Mark), *rounded(s.Back.Share, 3), sightStretches(s.Back.Seen)}
		}
		c.Steps = append(c.Steps, step)
	}
	a.Chain = c
	if over != nil {
		if err := a.lookOver(ctx, g, over, observer); err != nil {
			return err
		}
	}
	a.Passed = []passedJSON{}
	for _, f := range w.passed {
		j := passedJSON{AtM: *rounded(f.Distance, 0), ElevationM: rounded(f.Elevation, 0), Kind: string(f.Kind), Name: f.Name, Filled: f.filled}
		if f.Aside != 0 {
			j.Aside = &asideJSON{*rounded(f.Aside, 0), *rounded(f.top, 0), f.topFilled}
		}
		if f.Off != 0 {
			j.Nearest = &nearestPartJSON{*rounded(f.Off, 0), describePlace(namedPlace{LatLon: f.nearest}, f.elevation)}
		}
		if f.along() {
			j.UntilM = rounded(f.Until, 0)
		}
		a.Passed = append(a.Passed, j)
	}
	return nil
}

func describeLineMark(m chain.Mark) lineMarkJSON {
	j := lineMarkJSON{Kind: m.Kind.String(), Name: m.Name, AtM: *rounded(m.Distance, 1), OffsetM: *rounded(m.Offset, 1), ElevationM: rounded(m.Elevation, 1), Plain: m.Plain}
	if r := m.Near; r != nil {
		j.RelativeTo = &relationJSON{r.Kind.String(), *rounded(r.Distance, 1), rounded(r.Elevation, 1), *rounded(r.Past, 1), *rounded(r.Above, 1), r.InView}
	}
	return j
}

// hiddenFrom says from where along a leg a mark is hidden, and where it comes
// back.
func hiddenFrom(kept []visibility.Stretch, length float64, u units) string {
	var parts []string
	for i, s := range kept {
		if s.Verdict != visibility.Hidden {
			continue
		}
		text := fmt.Sprintf("from %s to %s", u.distance(s.From), u.distance(s.To))
		if i == len(kept)-1 && s.To >= length-1 {
			text = fmt.Sprintf("from %s to the end", u.distance(s.From))
		}
		parts = append(parts, text)
	}
	if len(parts) == 0 {
		return ""
	}
	return "Hidden " + strings.Join(parts, ", ") + "."
}

// leastTold is the shortest stretch that is told by itself, metres.
const leastTold = 10.0

// traceBearing lays a line along a bearing to the radius, or to the data's
// edge when that is 0.
func traceBearing(ctx context.Context, posts dem.Posts, from geodesy.LatLon, b geodesy.TrueBearing, radius float64) (*profile.Leg, error) {
	if radius <= 0 {
		radius = profile.MaxLength * 0.999
	}
	to, _ := geodesy.Direct(from, b, radius)
	return profile.Trace(ctx, posts, from, to)
}
