package visibility

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile"
)

// DefaultLeastSighting is how far ahead, metres, a mark must stand to be
// worth a sighting, and how far one walks on the compass without missing
// one: at a bearing held to 2 degrees, 200 m stray by 7 m. (The ground just
// ahead is always in sight; going from one bit of it to the next is walking
// on the compass.)
const DefaultLeastSighting = 200.0

// MarkKind is what a mark on a line is.
type MarkKind uint8

const (
	// MarkGround is ground that is no crest: a place on a slope.
	MarkGround MarkKind = iota
	// MarkBrow is ground that is no crest but looks like one from where it is
	// chosen: the ground next beyond is hidden by it.
	MarkBrow
	// MarkCrest is ground with none higher beside it on the line.
	MarkCrest
	// MarkLandmark is a mark the caller gave.
	MarkLandmark
	// MarkDestination is the leg's end.
	MarkDestination
	// MarkStart is the leg's start, for sights back.
	MarkStart
)

// String is "ground", "brow", "crest", "landmark", "destination" or "start".
func (k MarkKind) String() string {
	return [...]string{"ground", "brow", "crest", "landmark", "destination", "start"}[min(k, MarkStart)]
}

// MarshalText writes the word String gives.
func (k MarkKind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// LineMark is a mark on or beside a leg's line.
type LineMark struct {
	Kind MarkKind
	Name string // a landmark's
	// Distance from the leg's start, metres, along the line; over the leg's
	// own beyond its destination, below 0 behind its start. A mark beside the
	// line is abeam there, Offset metres to the right (negative to the left).
	Distance, Offset float64
	// Elevation of its ground, metres.
	Elevation float64
}

// ChainMark is a landmark offered to a chain: where it stands and from where
// on the leg it is seen (see KeptInView).
type ChainMark struct {
	LineMark
	Seen []Stretch
}

// ChainMarks turns landmarks looked at with LandmarkOptions.Leg into marks
// for a chain along the same leg.
func ChainMarks(leg *profile.Leg, marks []Landmark) []ChainMark {
	var out []ChainMark
	for _, m := range marks {
		if m.Kept == nil {
			continue
		}
		sin, cos := geodesy.Difference(leg.Start, m.Bearing).SinCos()
		out = append(out, ChainMark{
			LineMark: LineMark{Kind: MarkLandmark, Name: m.Name, Distance: m.Distance * cos, Offset: m.Distance * sin, Elevation: m.Elevation},
			Seen:     m.Kept,
		})
	}
	return out
}

// ChainOptions are the options of Chain.
type ChainOptions struct {
	// SeenWhenChosen is enough: a mark need be seen only from where it is
	// chosen, not throughout the walk to it.
	SeenWhenChosen bool
	// LeastSighting is how far ahead a mark must stand, metres, though the
	// destination may be nearer; and a stretch on the compass no longer than
	// this, between sightings, is no loss. Zero means DefaultLeastSighting.
	LeastSighting float64
	// Beyond is the same line carried on past the destination, whose ground
	// there may then serve as marks; nil for none.
	Beyond *profile.Leg
	// Marks may be off the line. One serves while it bears within Within of
	// the line's own direction, and is left when it no longer does, or when
	// the walker is abeam.
	Marks []ChainMark
	// Within: zero means DefaultWithin.
	Within geodesy.Degrees
}

// StepKind is how a walker keeps the line over one step.
type StepKind uint8

const (
	// Sighted: on a mark ahead.
	Sighted StepKind = iota
	// CompassOnly: on the compass alone.
	CompassOnly
)

// String is "sighted" or "compass only".
func (k StepKind) String() string { return [...]string{"sighted", "compass only"}[min(k, CompassOnly)] }

// MarshalText writes the word String gives.
func (k StepKind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// Step is one piece of a Plan, From and To metres from the start.
type Step struct {
	Kind     StepKind
	From, To float64
	// Mark is what a Sighted step is walked on; nil on CompassOnly.
	Mark *LineMark
	// Angle is the mark's elevation angle from where it is chosen, refraction
	// included; NaN for a landmark off the line and on CompassOnly.
	Angle geodesy.Degrees
	// Back is what to sight behind on CompassOnly; nil when nothing is seen.
	Back *BackSight
	// Short is true of a CompassOnly step no longer than the least sighting.
	Short bool
	// Reason says in a sentence why, in metres and kilometres.
	Reason string
}

// BackSight is a mark behind a walker.
type BackSight struct {
	Mark LineMark
	// Seen are the stretches of the step from which it is seen; Share is
	// their share of the step.
	Seen  []Stretch
	Share float64
}

// Plan takes a walker along a leg.
type Plan struct {
	Steps []Step
	// Sightings is how many steps are Sighted.
	Sightings int
	// CompassOnly is the length walked on the compass alone, metres, and
	// Unguided that of its stretches longer than the least sighting.
	CompassOnly, Unguided float64
}

// Complete reports whether marks ahead lead all the way, but for stretches
// on the compass shorter than the least sighting.
func (p Plan) Complete() bool { return p.Unguided == 0 }

// Chain finds the sightings that take a walker from a leg's start to its
// destination. A mark is ground of the line, at a crossing of the profile,
// or one of the marks given. The walker chooses one that is seen, walks to
// it, or till the destination is reached or a mark off the line no longer
// bears along it, and chooses the next.
//
// Of all ways it gives one with the least length in stretches on the compass
// alone that are longer than the least sighting; of those one with the fewest
// sightings; then the least length on the compass in all; then the fewest
// marks that are mere slope (neither crest, landmark nor destination); and of
// ways equal in all that, step by step from the start, the one that goes on a
// mark, goes farthest, and has the destination before a landmark before a
// crest before a slope, then the farther mark. The answer is exact on the
// profile, in the plane of sight, where ground and sight lines are straight:
// no mark between crossings can do better, for along an edge that rises into
// sight the far end is seen whenever any of it is.
//
// Positions are whole micrometres. Ground that is not known is walked on the
// compass, and hides what is beyond. Cost: for n crossings, n times those in
// sight of each other.
func Chain(ctx context.Context, leg *profile.Leg, o Observer, conditions Conditions, opts ChainOptions) (Plan, error) {
	l, err := newLine(leg, o, conditions, opts)
	if err != nil {
		return Plan{}, err
	}
	if err := l.findUses(ctx); err != nil {
		return Plan{}, fmt.Errorf("chain of sightings: %w", err)
	}
	moves, err := l.best(ctx)
	if err != nil {
		return Plan{}, fmt.Errorf("chain of sightings: %w", err)
	}
	return l.plan(moves), nil
}

// course is the ground of a leg and beyond, in the plane of sight.
type course struct {
	leg         *profile.Leg
	opts        ChainOptions
	lowering    float64
	distance    []float64
	elevation   []float64
	lowered     []float64
	destination int // index of the leg's end; -1 when it is not known ground
	eyeAbove    float64
	eye         float64 // at the start
	targetOver  float64
	uses        []use
}

// use is a mark together with a stretch of positions it can be chosen from,
// in micrometres.
type use struct {
	mark     LineMark
	vertex   int // -1 for a landmark
	from, to int64
	reach    int64 // where the step ends
	least    int64 // the last position it is far enough from
}

const perMetre = 1e6

func micro(m float64) int64 { return int64(math.Round(m * perMetre)) }

func newLine(leg *profile.Leg, o Observer, conditions Conditions, opts ChainOptions) (*course, error) {
	s, err := newSection(leg, o, conditions)
	if err != nil {
		return nil, err
	}
	if opts.LeastSighting == 0 {
		opts.LeastSighting = DefaultLeastSighting
	}
	if !(opts.LeastSighting > 0) {
		return nil, fmt.Errorf("a least sighting of %v m is not a distance", opts.LeastSighting)
	}
	if opts.Within == 0 {
		opts.Within = DefaultWithin
	}
	if !(opts.Within > 0 && opts.Within < 90) {
		return nil, fmt.Errorf("%v degrees off the line is not between 0 and 90", float64(opts.Within))
	}
	l := &course{
		leg: leg, opts: opts, lowering: s.lowering, eyeAbove: s.eyeAbove, eye: s.eye,
		targetOver: conditions.TargetAboveGround, destination: -1,
		distance: s.distance, lowered: s.lowered,
	}
	for _, p := range leg.Points {
		l.elevation = append(l.elevation, p.Elevation)
	}
	if !math.IsNaN(s.target) {
		l.destination = len(l.distance) - 1
	}
	if b := opts.Beyond; b != nil {
		if b.From != leg.From || math.Abs(float64(geodesy.Difference(b.Start, leg.Start))) > sameLine || b.Distance < leg.Distance {
			return nil, fmt.Errorf("the line beyond %s is not the leg carried on", leg.To)
		}
		for _, p := range b.Points {
			if p.Distance > leg.Distance+dem.NearLimit {
				l.distance = append(l.distance, p.Distance)
				l.elevation = append(l.elevation, p.Elevation)
				l.lowered = append(l.lowered, p.Elevation-l.lowering*p.Drop)
			}
		}
	}
	return l, nil
}

// sameLine is how far, degrees, two bearings of one line may differ: ten
// metres at 500 km.
const sameLine = 1e-3

// kind of a vertex as a mark.
func (l *course) kind(i int) MarkKind {
	switch {
	case i == l.destination:
		return MarkDestination
	case i == 0:
		return MarkStart
	}
	// along level ground the neighbours are those beyond it
	h := l.elevation[i]
	a, b := i-1, i+1
	for a >= 0 && l.elevation[a] == h {
		a--
	}
	for b < len(l.elevation) && l.elevation[b] == h {
		b++
	}
	if a >= 0 && b < len(l.elevation) && l.elevation[a] < h && l.elevation[b] < h {
		return MarkCrest
	}
	return MarkGround
}

func (l *course) lineMark(i int) LineMark {
	return LineMark{Kind: l.kind(i), Distance: l.distance[i], Elevation: l.elevation[i]}
}

// top is the lowered top of vertex i as a mark.
func (l *course) top(i int) float64 {
	if i == l.destination {
		return l.lowered[i] + l.targetOver
	}
	return l.lowered[i]
}

// seen are the stretches of positions before vertex m from which it is seen,
// nearest to m first; with last, only the one that ends at m, or at the
// destination if m is beyond it.
func (l *course) seen(m int, last bool) (out [][2]float64) {
	target, at := l.top(m), l.distance[m]
	steepest := math.Inf(-1)
	add := func(from, to float64) {
		if n := len(out); n > 0 && out[n-1][0] == to {
			out[n-1][0] = from
		} else if to > from {
			out = append(out, [2]float64{from, to})
		}
	}
	for i := m - 1; i >= 0; i-- {
		a, b := l.distance[i], l.distance[i+1]
		ha, hb := l.lowered[i], l.lowered[i+1]
		if i+1 < m && at-b > dem.NearLimit {
			if math.IsNaN(hb) {
				return out // nothing is known to be seen from before it
			}
			steepest = max(steepest, (hb-target)/(at-b))
		}
		if math.IsNaN(ha) || math.IsNaN(hb) {
			return out
		}
		if b > l.leg.Distance+dem.NearLimit {
			continue
		}
		if math.IsInf(steepest, -1) {
			add(a, b)
			continue
		}
		above := func(h, x float64) float64 {
			return h + l.eyeAbove - (target + (steepest-GrazingSlope)*(at-x))
		}
		ga, gb := above(ha, a), above(hb, b)
		switch {
		case ga >= 0 && gb >= 0:
			add(a, b)
		case ga < 0 && gb < 0:
		case gb >= 0:
			add(a+(b-a)*ga/(ga-gb), b)
		default:
			add(a, a+(b-a)*ga/(ga-gb))
		}
		if last && (ga < 0 || gb < 0) {
			end := min(at, l.leg.Distance)
			if len(out) == 0 || out[0][1] < end-dem.NearLimit {
				return nil
			}
			return out[:1]
		}
	}
	return out
}

// findUses lists every mark with every stretch it can be chosen from.
func (l *course) findUses(ctx context.Context) error {
	least := micro(l.opts.LeastSighting)
	length := micro(l.leg.Distance)
	add := func(u use) {
		u.least = micro(u.mark.Distance) - least
		if u.mark.Kind == MarkDestination {
			u.least = u.reach
		}
		u.to = min(u.to, u.least, u.reach-1)
		if u.from <= u.to {
			l.uses = append(l.uses, u)
		}
	}
	for m := 1; m < len(l.distance); m++ {
		if m%64 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		if math.IsNaN(l.lowered[m]) {
			continue
		}
		mark := l.lineMark(m)
		for _, s := range l.seen(m, !l.opts.SeenWhenChosen) {
			add(use{
				mark: mark, vertex: m, reach: min(micro(l.distance[m]), length),
				from: int64(math.Ceil(s[0] * perMetre)), to: int64(math.Floor(s[1] * perMetre)),
			})
		}
	}
	for _, mark := range l.opts.Marks {
		// from here on its bearing departs too far from the line's
		reach := min(length, micro(mark.Distance-math.Abs(mark.Offset)/l.opts.Within.Tan()))
		for _, s := range mark.Seen {
			u := use{
				mark: mark.LineMark, vertex: -1, reach: reach,
				from: int64(math.Ceil(s.From * perMetre)), to: int64(math.Floor(s.To * perMetre)),
			}
			if s.Verdict == Visible && (l.opts.SeenWhenChosen || u.from <= reach && reach <= u.to+1) {
				add(u)
			}
		}
	}
	return ctx.Err()
}

// cost of the way from a position to the end, in the order it counts.
type cost struct {
	unguided  int64 // micrometres on the compass in stretches over the least
	sightings int
	compass   int64 // micrometres on the compass
	plain     int   // marks that are mere slope
}

func (c cost) compare(d cost) int {
	return cmp.Or(cmp.Compare(c.unguided, d.unguided), cmp.Compare(c.sightings, d.sightings),
		cmp.Compare(c.compass, d.compass), cmp.Compare(c.plain, d.plain))
}

// move is one step of a way; use is -1 on the compass.
type move struct {
	from, to int64
	use      int
}

// best finds the best way, from the end back. Only places where a stretch to
// choose from begins or a step ends can matter: a walker on the compass gains
// nothing by stopping elsewhere.
func (l *course) best(ctx context.Context) ([]move, error) {
	length, least := micro(l.leg.Distance), micro(l.opts.LeastSighting)
	positions := []int64{0, length}
	starts := []int64{length} // where a walk on the compass may end
	for i := range l.uses {
		u := &l.uses[i]
		u.from = max(u.from, 0)
		positions = append(positions, u.from, u.reach)
		starts = append(starts, u.from)
	}
	sorted := func(p []int64) []int64 {
		slices.Sort(p)
		return slices.Compact(p)
	}
	positions, starts = sorted(positions), sorted(starts)
	index := make(map[int64]int, len(positions))
	for i, p := range positions {
		index[p] = i
	}
	order := make([]int, len(l.uses)) // by where the stretch ends, last first
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(l.uses[b].to, l.uses[a].to) })

	// the best way on from each position, and the best that sets out on a
	// mark: all there is after a stretch on the compass
	type option struct {
		cost
		move
		ok bool
	}
	ways, onMark := make([]option, len(positions)), make([]option, len(positions))
	ways[len(positions)-1].ok = true
	onMark[len(positions)-1].ok = true // the end
	var active []int
	next, firstStart := 0, len(starts)
	for i := len(positions) - 2; i >= 0; i-- {
		if i%64 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		p := positions[i]
		for next < len(order) && l.uses[order[next]].to >= p {
			active = append(active, order[next])
			next++
		}
		active = slices.DeleteFunc(active, func(u int) bool { return l.uses[u].from > p })
		best := option{}
		for _, j := range active {
			u := &l.uses[j]
			c := ways[index[u.reach]].cost
			c.sightings++
			if u.mark.Kind == MarkGround {
				c.plain++
			}
			m := move{p, u.reach, j}
			if order := c.compare(best.cost); !best.ok || order < 0 || order == 0 && l.prefer(m, best.move) {
				best = option{c, m, true}
			}
		}
		onMark[i] = best
		for firstStart > 0 && starts[firstStart-1] > p {
			firstStart--
		}
		for _, q := range starts[firstStart:] {
			on := onMark[index[q]]
			if !on.ok {
				continue
			}
			c, walked := on.cost, q-p
			c.compass += walked
			if walked > least {
				c.unguided += walked
			}
			if !best.ok || c.compare(best.cost) < 0 {
				best = option{c, move{p, q, -1}, true}
			}
			if walked > least && best.ok && best.unguided < walked {
				break // any longer walk on the compass costs more
			}
		}
		ways[i] = best
	}
	var way []move
	for i, after := 0, false; i < len(positions)-1; {
		m := ways[i].move
		if after {
			m = onMark[i].move
		}
		way = append(way, m)
		i, after = index[m.to], m.use < 0
	}
	return way, ctx.Err()
}

// prefer reports whether a is the better of two moves of equal cost.
func (l *course) prefer(a, b move) bool {
	u, v := &l.uses[a.use], &l.uses[b.use]
	return cmp.Or(
		cmp.Compare(u.reach, v.reach),
		cmp.Compare(u.mark.Kind, v.mark.Kind),
		cmp.Compare(u.mark.Distance, v.mark.Distance),
		cmp.Compare(math.Abs(v.mark.Offset), math.Abs(u.mark.Offset)),
		cmp.Compare(v.mark.Name, u.mark.Name),
	) > 0
}

func (l *course) plan(way []move) Plan {
	p := Plan{}
	for _, m := range way {
		s := Step{Kind: CompassOnly, From: float64(m.from) / perMetre, To: float64(m.to) / perMetre, Angle: geodesy.Degrees(math.NaN())}
		if m.use >= 0 {
			u := &l.uses[m.use]
			mark := u.mark
			s.Kind, s.Mark = Sighted, &mark
			if u.vertex >= 0 {
				s.Angle = l.angle(s.From, u.vertex)
				if u.mark.Kind == MarkGround && l.hides(s.From, u.vertex) {
					mark.Kind = MarkBrow
				}
			}
			p.Sightings++
		} else {
			s.Back = l.back(s.From, s.To)
			p.CompassOnly += s.To - s.From
			if s.Short = m.to-m.from <= micro(l.opts.LeastSighting); !s.Short {
				p.Unguided += s.To - s.From
			}
		}
		s.Reason = l.reason(&s)
		p.Steps = append(p.Steps, s)
	}
	return p
}

// ground is the lowered ground at a distance, NaN where not known.
func (l *course) ground(distance float64) float64 {
	i, found := slices.BinarySearch(l.distance, distance)
	switch {
	case found:
		return l.lowered[i]
	case i == 0 || i == len(l.distance):
		return math.NaN()
	}
	a, b := l.distance[i-1], l.distance[i]
	return dem.Lerp(l.lowered[i-1], l.lowered[i], (distance-a)/(b-a))
}

// hides reports whether the ground next beyond vertex m drops out of the
// sight of a walker at a distance behind it.
func (l *course) hides(from float64, m int) bool {
	eye := l.ground(from) + l.eyeAbove
	slope := func(i int) float64 { return (l.lowered[i] - eye) / (l.distance[i] - from) }
	return m+1 < len(l.distance) && slope(m+1) < slope(m)
}

// angle of vertex m as seen from a distance along the line: the slope in the
// plane of the start, and how much the walker's level has turned since: the
// drop is a parabola, and its slope at the walker is twice the mean.
func (l *course) angle(from float64, m int) geodesy.Degrees {
	slope := (l.top(m) - l.ground(from) - l.eyeAbove) / (l.distance[m] - from)
	last := l.leg.Points[len(l.leg.Points)-1]
	if last.Distance > 0 {
		slope += 2 * l.lowering * last.Drop / (last.Distance * last.Distance) * from
	}
	return geodesy.Atan2(slope, 1)
}
