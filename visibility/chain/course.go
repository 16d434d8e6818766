package chain

import (
	"context"
	"errors"
	"math"
	"slices"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/workers"
	"crowline/profile"
	"crowline/visibility"
	"crowline/visibility/scene"
)

// course is a leg whose marks are looked for.
type course struct {
	opts   Options
	grid   *dem.Grid
	ground *scene.Ground
	leg    *profile.Leg
	goal   []visibility.Stretch
	views  []*scene.View // from the places, ahead; nil where none is needed or known
	// ahead and back: looked ahead and back from there; withBack: back is looked too.
	full        []*scene.View // all round, from places where a mark was on the least way
	ahead, back []bool
	withBack    bool
	kept        map[geodesy.LatLon][]visibility.Stretch
	problem
}

// sector is how far to either side of the line one looks, degrees: a mark, and
// beside it what it is told from and stands out of.
const sector = 25

// lookEvery is how many places apart marks other than the goal are chosen:
// every second, for a mark that is seen at one is seen near it.
const lookEvery = 2

// lookStep is the angle between the bearings looked along, degrees: a post of 30 m
// spacing at 9 km, a tenth of a finger.
const lookStep = 0.2

// goalThing is how near to the goal a thing stands that is the goal, in posts and
// as an angle, degrees; the larger holds.
const (
	goalPosts = 2.0
	goalAngle = 0.5
)

func newCourse(ctx context.Context, g *dem.Grid, from, to geodesy.LatLon, opts Options) (*course, error) {
	if err := opts.defaults(); err != nil {
		return nil, err
	}
	leg, err := profile.Trace(ctx, g, from, to)
	if err != nil {
		return nil, err
	}
	c := &course{opts: opts, grid: g, ground: scene.NewGround(g), leg: leg, kept: map[geodesy.LatLon][]visibility.Stretch{}}
	if c.goal, err = visibility.WhileWalking(leg, visibility.Observer{Place: from, EyeAboveGround: opts.EyeAboveGround}, opts.Conditions); err != nil {
		return nil, err
	}
	apart := every * max(1, math.Ceil(leg.Distance/every/mostPlaces))
	for x := 0.0; x < leg.Distance-every/2; x += apart {
		c.at = append(c.at, x)
	}
	c.at = append(c.at, leg.Distance)
	c.views, c.full = make([]*scene.View, len(c.at)), make([]*scene.View, len(c.at))
	c.ahead, c.back = make([]bool, len(c.at)), make([]bool, len(c.at))
	c.options = make([][]*option, len(c.at))
	c.allowed = opts.allowed
	if n := len(c.goal); n > 0 && c.goal[n-1].Verdict == visibility.Visible && c.goal[n-1].To >= leg.Distance-dem.NearLimit {
		c.atEnd = leg.Distance - c.goal[n-1].From
	}
	return c, nil
}

// find searches, first with the marks ahead alone: those behind count for more.
func (c *course) find(ctx context.Context) (Plan, error) {
	c.goalOptions()
	if err := c.lookFrom(ctx, c.everywhere()); err != nil {
		return Plan{}, err
	}
	way, least, err := c.checked(ctx)
	if err == nil && least[0] > 0 {
		c.withBack = true
		if err = c.lookFrom(ctx, c.everywhere()); err == nil {
			way, _, err = c.checked(ctx)
		}
	}
	if err != nil {
		return Plan{}, err
	}
	return c.plan(ctx, way)
}

// checked is the least way of marks that are all seen.
func (c *course) checked(ctx context.Context) ([]move, cost, error) {
	for {
		way, least, err := c.least(ctx)
		if err != nil {
			return nil, cost{}, err
		}
		done := true
		for _, m := range way {
			if m.option != nil && !m.option.checked {
				done = false
				if err := c.check(ctx, m.option); err != nil {
					return nil, cost{}, err
				}
			}
		}
		if done {
			return way, least, nil
		}
	}
}

// line is the true bearing to walk at a place.
func (c *course) line(k int) geodesy.TrueBearing {
	return geodesy.Inverse(c.leg.PlaceAt(c.at[k]), c.leg.To).Start
}

// seen reports whether something is in sight from so far along the leg.
func seen(kept []visibility.Stretch, x float64) bool {
	for _, s := range kept {
		if s.Verdict == visibility.Visible && x >= s.From-dem.NearLimit && x <= s.To+dem.NearLimit {
			return true
		}
	}
	return false
}

// serve bounds an option by where its mark is in sight.
func (c *course) serve(o *option, kept []visibility.Stretch) {
	start := c.at[o.at]
	limit := math.Inf(1)
	if !seen(kept, start) {
		limit = math.Inf(-1)
	}
	most := c.opts.MostLost
	if c.opts.Throughout {
		most = 0
	}
	for _, s := range joined(lost(kept, start, math.Inf(1))) {
		hazard := false
		for _, h := range c.opts.Hazards {
			hazard = hazard || h.From < s.To && h.To > s.From
		}
		if s.To-s.From > most || hazard {
			limit = min(limit, s.From)
		}
	}
	ends := make([]bool, o.last-o.at)
	last := o.at
	for j := o.at + 1; j <= o.last; j++ {
		ends[j-o.at-1] = (o.ends == nil || o.ends[j-o.at-1]) && c.at[j] <= limit+dem.NearLimit && seen(kept, c.at[j])
		if ends[j-o.at-1] {
			last = j
		}
	}
	o.last, o.ends, o.losses = last, ends[:last-o.at], nil
	for j := o.at + 1; j <= o.last; j++ {
		o.losses = append(o.losses, len(told(lost(kept, start, c.at[j]))))
	}
}

// lost are the stretches of a walk over which something is not in sight.
func lost(kept []visibility.Stretch, from, to float64) (out []profile.Stretch) {
	for _, s := range kept {
		a, b := max(s.From, from), min(s.To, to)
		if s.Verdict == visibility.Visible || !(a < b) {
			continue
		}
		if n := len(out); n > 0 && a-out[n-1].To < dem.NearLimit {
			out[n-1].To = b
			continue
		}
		out = append(out, profile.Stretch{From: a, To: b})
	}
	return out
}

// joined are the losses that a walker notices: those parted by a glimpse are one.
func joined(of []profile.Stretch) (out []profile.Stretch) {
	for _, s := range of {
		if n := len(out); n > 0 && s.From-out[n-1].To < leastLost {
			out[n-1].To = s.To
		} else if s.To-s.From >= blink {
			out = append(out, s)
		}
	}
	return out
}

// told are the losses that a walker is told of.
func told(of []profile.Stretch) []profile.Stretch {
	return slices.DeleteFunc(joined(of), func(s profile.Stretch) bool { return s.To-s.From < leastLost })
}

// goalOptions offers the goal wherever it is in sight.
func (c *course) goalOptions() {
	n := len(c.at) - 1
	for k := range n {
		if !seen(c.goal, c.at[k]) {
			continue
		}
		away := c.leg.Distance - c.at[k]
		o := &option{at: k, last: n, distance: away, goal: true, mark: Mark{
			Kind: Destination, Distance: c.leg.Distance, Elevation: c.leg.ElevationAt(c.leg.Distance), AboveGround: c.opts.Conditions.TargetAboveGround,
			Place: c.leg.To, Away: away, Bearing: c.line(k),
		}}
		if c.serve(o, c.goal); c.leads(o) {
			c.options[k] = append(c.options[k], o)
		}
	}
}

// goalToEnd reports whether the goal leads from a place to the end: no way is less.
func (c *course) goalToEnd(k int) bool {
	for _, o := range c.options[k] {
		if o.goal && o.last == len(c.at)-1 {
			return true
		}
	}
	return false
}

// look looks ahead or back from a place, or all round for both; nil where its ground
// is not known.
func (c *course) look(ctx context.Context, k, concurrency int, ahead, behind bool) (*scene.View, error) {
	line := c.line(k)
	about := func(b geodesy.Degrees) visibility.Sector {
		return visibility.Sector{From: geodesy.NewTrueBearing(b - sector), To: geodesy.NewTrueBearing(b + sector)}
	}
	o := scene.DefaultOptions()
	o.Refraction, o.VerticalError, o.Places, o.Concurrency, o.Line = c.opts.Conditions.Refraction, c.opts.VerticalError, c.opts.Places, concurrency, &line
	o.Step = lookStep
	switch {
	case !behind:
		o.Sectors = append(o.Sectors, about(geodesy.Degrees(line)))
	case !ahead:
		o.Sectors = append(o.Sectors, about(geodesy.Degrees(line)+180))
	}
	v, err := c.ground.Look(ctx, visibility.Observer{Place: c.leg.PlaceAt(c.at[k]), EyeAboveGround: c.opts.EyeAboveGround}, o)
	if errors.Is(err, dem.ErrVoid) || errors.Is(err, dem.ErrOutside) {
		return nil, nil
	}
	if err == nil {
		v.Dial = c.opts.Dial
	}
	return v, err
}

// lookFrom looks from places from which the goal does not lead to the end, where that
// has not been done, and offers what stands there.
func (c *course) lookFrom(ctx context.Context, places []int) error {
	type found struct{ ahead, behind *scene.View }
	views := make([]found, len(places))
	err := workers.Each(ctx, len(places), c.opts.Concurrency, func(_, i int) (err error) {
		k := places[i]
		if k%lookEvery != 0 || c.goalToEnd(k) {
			return nil
		}
		if !c.ahead[k] {
			if views[i].ahead, err = c.look(ctx, k, 1, true, false); err != nil {
				return err
			}
		}
		if c.withBack && !c.back[k] {
			views[i].behind, err = c.look(ctx, k, 1, false, true)
		}
		return err
	})
	if err != nil {
		return err
	}
	for i, k := range places {
		if v := views[i].ahead; v != nil {
			c.ahead[k], c.views[k] = true, v
			c.offerAll(k, v, false)
		}
		if v := views[i].behind; v != nil {
			c.back[k] = true
			c.offerAll(k, v, true)
		}
	}
	return nil
}

func (c *course) offerAll(k int, v *scene.View, behind bool) {
	for i := range v.Things {
		if o := c.offer(k, v, &v.Things[i], behind); o != nil {
			c.options[k] = append(c.options[k], o)
		}
	}
}

// everywhere are all places but the end.
func (c *course) everywhere() []int {
	out := make([]int, len(c.at)-1)
	for k := range out {
		out[k] = k
	}
	return out
}

// atGoal reports whether a thing stands at the goal.
func (c *course) atGoal(v *scene.View, t *scene.Thing) bool {
	return geodesy.Inverse(t.Place, c.leg.To).Distance <= max(goalPosts*v.Spacing, geodesy.Degrees(goalAngle).Tan()*t.Distance)
}

// offer is a thing in view as an option; nil where it will not serve.
func (c *course) offer(k int, v *scene.View, t *scene.Thing, behind bool) *option {
	line := geodesy.Degrees(c.line(k))
	if behind {
		line += 180
	}
	off := geodesy.Difference(geodesy.NewTrueBearing(line), t.Bearing)
	if math.Abs(float64(off)) > float64(c.opts.Within) || t.Distance > c.opts.Far || t.Filled || c.atGoal(v, t) {
		return nil
	}
	o := &option{at: k, last: len(c.at) - 1, distance: t.Distance, mark: c.markOf(k, v, t, off, behind)}
	o.fixed[2], o.fixed[3], o.fixed[5] = 1, faint(*t), int(math.Round(math.Abs(float64(off))))
	if behind {
		o.fixed[1] = 1
		for o.last > k && (c.at[o.last]-c.at[k])+t.Distance > c.opts.Far {
			o.last--
		}
	} else {
		// left where it stands too far off the line
		sin, cos := off.SinCos()
		until := c.at[k] + t.Distance*cos - math.Abs(t.Distance*sin)/c.opts.Within.Tan()
		for o.last > k && c.at[o.last] > until {
			o.last--
		}
	}
	if !c.leads(o) {
		return nil
	}
	return o
}

// leads reports whether an option leads far enough to be worth a sighting.
func (c *course) leads(o *option) bool {
	least := leastLed
	if o.goal {
		least = leastGoal
	}
	return c.at[o.last]-c.at[o.at] >= least
}

// faint is how hard a thing is to find: its class by how plainly it shows; one more
// where it must be picked out of several, and for steep ground, whose edges the data
// does not tell.
func faint(t scene.Thing) int {
	class := 3
	for i, least := range []float64{2, 1, 0.5} {
		if t.Plainness() >= least {
			class = i
			break
		}
	}
	if t.Told.Of > 1 {
		class++
	}
	if t.Kind == scene.Face {
		class++
	}
	return class
}

// markOf is a thing as a mark.
func (c *course) markOf(k int, v *scene.View, t *scene.Thing, off geodesy.Degrees, behind bool) Mark {
	sin, cos := off.SinCos()
	along, aside := t.Distance*cos, t.Distance*sin
	if behind {
		along, aside = -along, -aside
	}
	return Mark{
		Kind: t.Kind, Name: t.Name, Distance: c.at[k] + along, Offset: aside, Elevation: t.Elevation, AboveGround: t.AboveGround(), Place: t.Place,
		Away: t.Distance, Bearing: t.Bearing, Off: off, Angle: t.Angle, Behind: behind, view: v, thing: t,
	}
}

// allRound is all that is in view at a place; nil where its ground is not known.
func (c *course) allRound(ctx context.Context, k int) (v *scene.View, err error) {
	if c.full[k] == nil {
		c.full[k], err = c.look(ctx, k, c.opts.Concurrency, true, true)
	}
	return c.full[k], err
}

// same is a thing in another view from the same place; nil where that has it not.
func same(v *scene.View, t *scene.Thing) *scene.Thing {
	if v == nil {
		return nil
	}
	for i := range v.Things {
		if o := &v.Things[i]; o.Kind == t.Kind && o.Place == t.Place && o.Name == t.Name {
			return o
		}
	}
	return nil
}

// keptFor is from where along the leg a mark is seen.
func (c *course) keptFor(ctx context.Context, m *Mark) ([]visibility.Stretch, error) {
	if m.Kind == Destination {
		return c.goal, nil
	}
	kept, ok := c.kept[m.Place]
	if ok {
		return kept, nil
	}
	conditions := visibility.Conditions{Refraction: c.opts.Conditions.Refraction, TargetAboveGround: m.AboveGround}
	kept, err := visibility.KeptInView(ctx, c.grid, c.leg, m.Place, c.opts.EyeAboveGround, conditions)
	if errors.Is(err, dem.ErrVoid) || errors.Is(err, dem.ErrOutside) {
		kept, err = nil, nil
	}
	c.kept[m.Place] = kept
	return kept, err
}

// Draws of a likelihood: one and a half per cent of standard error.
const (
	samples       = 1000
	standardError = 0.015
)

// check looks at whether an option's mark is seen: from where it is chosen, and
// likely so, and how far on.
func (c *course) check(ctx context.Context, o *option) error {
	if o.checked {
		return nil
	}
	o.checked = true
	kept, err := c.keptFor(ctx, &o.mark)
	if err != nil {
		return err
	}
	c.serve(o, kept)
	if o.last > o.at && !c.leads(o) {
		o.last = o.at
	}
	if o.last == o.at {
		return nil
	}
	likely, err := c.likely(ctx, o.at, &o.mark)
	if err != nil {
		return err
	}
	switch {
	case !likely && o.goal: // other marks will do, which were not looked for
		o.last = o.at
		return c.lookFrom(ctx, []int{o.at})
	case !likely:
		o.last = o.at
	case !o.goal:
		// as the eye sees it there, not cut off at the sector's side
		v, err := c.allRound(ctx, o.at)
		if err != nil {
			return err
		}
		if t := same(v, o.mark.thing); t != nil {
			o.mark.view, o.mark.thing = v, t
		} else {
			o.last = o.at
		}
	}
	return nil
}

// likely reports whether a mark is likely to be seen from a place, or its
// likelihood is not known.
func (c *course) likely(ctx context.Context, k int, m *Mark) (bool, error) {
	if !(c.opts.VerticalError > 0) {
		return true, nil
	}
	here := c.leg.PlaceAt(c.at[k])
	line, err := profile.Trace(ctx, c.grid, here, m.Place)
	if err != nil {
		return false, err
	}
	l, err := visibility.HowSure(ctx, line, visibility.Observer{Place: here, EyeAboveGround: c.opts.EyeAboveGround},
		visibility.Conditions{Refraction: c.opts.Conditions.Refraction, TargetAboveGround: m.AboveGround},
		visibility.Draws{VerticalError: c.opts.VerticalError, Samples: samples, StandardError: standardError, Concurrency: c.opts.Concurrency})
	if err != nil {
		return false, err
	}
	m.Likelihood = &l
	return l.Probability >= LeastLikely, nil
}
