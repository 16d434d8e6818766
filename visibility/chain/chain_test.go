package chain

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/visibility"
)

// drawnLeg is a leg due east whose profile is given, on a flat Earth.
func drawnLeg(distances, elevations []float64) *profile.Leg {
	from := geodesy.LatLon{Lat: 36, Lon: -84}
	length := distances[len(distances)-1]
	to, end := geodesy.Direct(from, 90, length)
	leg := &profile.Leg{
		From: from, To: to, Geodesic: geodesy.Geodesic{Distance: length, Start: 90, End: end},
		Covered: length, Spacing: length / float64(len(distances)-1), Radius: math.Inf(1),
	}
	for i, d := range distances {
		leg.Points = append(leg.Points, profile.Point{Distance: d, Elevation: elevations[i]})
	}
	return leg
}

func outOfSight(from, to float64) visibility.Stretch {
	return visibility.Stretch{From: from, To: to, Verdict: visibility.Hidden}
}

// evenly spaced distances.
func every(step float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = step * float64(i)
	}
	return out
}

func chainOf(t *testing.T, leg *profile.Leg, opts Options) Plan {
	t.Helper()
	plan, err := Find(context.Background(), leg, visibility.NewObserver(leg.From), visibility.Conditions{Refraction: 0.13}, opts)
	require.NoError(t, err)
	at, sightings, compass, unguided := 0.0, 0, 0.0, 0.0
	for _, s := range plan.Steps {
		assert.Equal(t, at, s.From)
		assert.Greater(t, s.To, s.From)
		at = s.To
		if s.Kind == Sighted {
			sightings++
			require.NotNil(t, s.Mark)
			assert.Nil(t, s.Back)
		} else {
			assert.Nil(t, s.Mark)
			compass += s.To - s.From
			if !s.Short {
				unguided += s.To - s.From
			}
		}
		assert.NotEmpty(t, s.Reason)
	}
	assert.InDelta(t, leg.Distance, at, 1e-6)
	assert.Equal(t, sightings, plan.Sightings)
	assert.InDelta(t, compass, plan.CompassOnly, 1e-6)
	assert.InDelta(t, unguided, plan.Unguided, 1e-6)
	return plan
}

// TestChainsByHand: profiles a pencil settles.
func TestChainsByHand(t *testing.T) {
	t.Parallel()
	// level ground: the destination itself is seen from everywhere, if there is
	// something to see
	plan := chainOf(t, drawnLeg(every(100, 21), make([]float64, 21)), Options{})
	require.Len(t, plan.Steps, 1)
	assert.Equal(t, Destination, plan.Steps[0].Mark.Kind)
	assert.True(t, plan.Steps[0].Mark.Plain)
	assert.True(t, plan.Complete())

	// a roof: its crest from the near side, the destination from there
	roof := drawnLeg([]float64{0, 1000, 2000}, []float64{100, 400, 100})
	plan = chainOf(t, roof, Options{})
	require.Len(t, plan.Steps, 2)
	assert.Equal(t, Crest, plan.Steps[0].Mark.Kind)
	assert.Equal(t, 1000.0, plan.Steps[0].To)
	assert.Equal(t, Destination, plan.Steps[1].Mark.Kind)
	assert.True(t, plan.Complete())
	// the eye stands 1.6 m over the slope of 0.3
	assert.InDelta(t, float64(geodesy.Atan2(300-1.6, 1000)), float64(plan.Steps[0].Angle), 1e-9)

	// a higher hill beyond the destination, seen over the roof all the way:
	// one sighting will do
	beyond := drawnLeg([]float64{0, 1000, 2000, 6000}, []float64{100, 400, 100, 2000})
	plan = chainOf(t, roof, Options{Beyond: beyond})
	require.Len(t, plan.Steps, 1)
	assert.Equal(t, 6000.0, plan.Steps[0].Mark.Distance)

	// a wall of void: the compass till past it, with the start behind
	slope := make([]float64, 21)
	for i := range slope {
		slope[i] = 5 * float64(i)
	}
	gap := drawnLeg(every(100, 21), slope)
	for i := 8; i <= 12; i++ {
		gap.Points[i].Elevation = math.NaN()
	}
	plan = chainOf(t, gap, Options{})
	require.Len(t, plan.Steps, 3)
	assert.Equal(t, []StepKind{Sighted, CompassOnly, Sighted}, []StepKind{plan.Steps[0].Kind, plan.Steps[1].Kind, plan.Steps[2].Kind})
	assert.InDelta(t, 600, plan.Unguided, 1e-6)
	assert.Nil(t, plan.Steps[1].Back, "nothing is known to be seen across a void")
	assert.False(t, plan.Complete())
}

// TestTheBackSightThatHelps: up a slope that eases all the way, each stretch
// hides the next but one, so no mark stands far enough ahead; the start,
// which is the only mark behind, is seen from the first of it.
func TestTheBackSightThatHelps(t *testing.T) {
	t.Parallel()
	// a convex climb: each 100 m less steep by enough to hide the next but one
	var d, h []float64
	slope, z := 0.9, 0.0
	for i := range 12 {
		d = append(d, 100*float64(i))
		h = append(h, z)
		z += 100 * slope
		slope -= 0.08
	}
	leg := drawnLeg(d, h)
	plan := chainOf(t, leg, Options{LeastSighting: 250})
	assert.False(t, plan.Complete())
	var back *BackSight
	for _, s := range plan.Steps {
		if s.Kind == CompassOnly && !s.Short {
			back = s.Back
			require.NotNil(t, back)
			assert.Equal(t, Start, back.Mark.Kind, "the only crest or start behind")
			for _, seen := range back.Seen {
				for x := seen.From + 0.5; x < seen.To; x += 25 {
					assert.True(t, plainlySeen(leg, x, 0), "%v", x)
				}
			}
		}
	}
	require.NotNil(t, back)
}

// byAHair is the height, metres, by which ground may stand over a sight line
// that a place rounded to a micrometre only just has.
const byAHair = 2e-6

// plainlySeen tests, vertex by vertex, whether the ground at m is seen from
// an eye 1.6 m over the ground at x.
func plainlySeen(leg *profile.Leg, x, m float64) bool {
	eye, target := leg.ElevationAt(x)+1.6, leg.ElevationAt(m)
	for _, p := range leg.Points {
		if p.Distance <= min(x, m)+1e-9 || p.Distance >= max(x, m)-1e-9 {
			continue
		}
		line := eye + (target-eye)*(p.Distance-x)/(m-x)
		if p.Elevation > line+byAHair {
			return false
		}
	}
	return true
}

// TestChainIsBest holds the length on the compass, the count, and the kinds of
// the marks, in that order, against a search through all ways over the
// vertices and a fine lattice of places between, to which the plan's own
// places are added, with the plain sight test and plain rules for the kinds,
// on small random profiles.
func TestChainIsBest(t *testing.T) {
	t.Parallel()
	const (
		n       = 12    // vertices
		spacing = 100.0 // m
		step    = 5.0   // m between places of the lattice
		relief  = 12.0  // m
	)
	complete, broken := 0, 0
	seen := map[Kind]int{}
	for seed := range uint64(60) {
		random := rand.New(rand.NewPCG(seed, 5))
		h := make([]float64, n)
		for i := range h {
			h[i] = 60 * random.Float64()
			if i >= n/2 && seed%2 == 1 {
				h[i] *= 0.15 // too level for the relief
			}
		}
		leg := drawnLeg(every(spacing, n), h)
		for _, whenChosen := range []bool{false, true} {
			for _, least := range []float64{30, 150, 250} {
				name := fmt.Sprintf("seed %d, least %v, when chosen %v", seed, least, whenChosen)
				plan := chainOf(t, leg, Options{LeastSighting: least, SeenWhenChosen: whenChosen, LeastRelief: relief})
				want := searchChain(leg, plan, step, least, relief, whenChosen)
				got := searched{unguided: plan.Unguided, sightings: plan.Sightings}
				for _, s := range plan.Steps {
					if s.Kind == Sighted {
						got.kinds[s.Mark.Kind]++
						seen[s.Mark.Kind]++
						assert.Equal(t, plainKind(leg, s.From, s.Mark.Distance, relief), s.Mark.Kind, name)
					}
				}
				assert.False(t, want.less(got), "%s: %+v is better than %+v", name, want, got)
				assert.False(t, got.less(want), "%s: %+v found, best is %+v", name, got, want)
				if plan.Complete() {
					complete++
				} else {
					broken++
				}
				// and that the plan can be walked, so that neither is too few
				walkPlan(t, leg, plan, least, whenChosen, name)
			}
		}
	}
	assert.Greater(t, complete, 50)
	assert.Greater(t, broken, 40)
	for _, k := range []Kind{Ground, Low, Brow, Crest, Destination} {
		assert.Positive(t, seen[k], k.String())
	}
}

// TestALandmarkPassedBeside: one that stands near the line and beside the leg
// may be walked up to, though it bears off the line long before; one far to
// the side may not.
func TestALandmarkPassedBeside(t *testing.T) {
	t.Parallel()
	// a hill whose crest is not seen from the start for a shoulder before it
	leg := drawnLeg([]float64{0, 1500, 3000, 3400, 5000}, []float64{100, 200, 380, 400, 100})
	mark := Offer{
		Mark: Mark{Kind: Landmark, Distance: 3400, Offset: -60, Elevation: 410},
		Seen: []visibility.Stretch{inSight(0, 3600), outOfSight(3600, 5000)},
	}
	plan := chainOf(t, leg, Options{Marks: []Offer{mark}})
	require.Len(t, plan.Steps, 2)
	assert.Equal(t, Landmark, plan.Steps[0].Mark.Kind)
	assert.Equal(t, 3400.0, plan.Steps[0].To)
	// 410 m from an eye at 101.6 m, on a flat Earth
	assert.InDelta(t, float64(geodesy.Atan2(410-101.6, math.Hypot(3400, 60))), float64(plan.Steps[0].Angle), 1e-9)
	assert.Equal(t, "On the summit at 3.4 km (410 m), 60 m left of the line, 3.4 km ahead: it stays in view all the way.", plan.Steps[0].Reason)
	// hidden before the walker is abeam
	mark.Seen = []visibility.Stretch{inSight(0, 3300), outOfSight(3300, 5000)}
	plan = chainOf(t, leg, Options{Marks: []Offer{mark}})
	assert.NotEqual(t, Landmark, plan.Steps[len(plan.Steps)-2].Mark.Kind)
	// too far to the side to be passed at a distance the eye judges: it is left
	// where it bears off, so the crest is no worse
	mark.Seen = []visibility.Stretch{inSight(0, 3600)}
	plan = chainOf(t, leg, Options{Marks: []Offer{mark}, BesideLine: 50})
	for _, s := range plan.Steps {
		if s.Kind == Sighted && s.Mark.Kind == Landmark {
			assert.InDelta(t, 3400-60/math.Tan(2*math.Pi/180), s.To, 1e-5)
		}
	}
	// beyond the destination nobody passes it
	mark.Distance = 5400
	mark.Seen = []visibility.Stretch{inSight(0, 5000)}
	plan = chainOf(t, leg, Options{Marks: []Offer{mark}})
	for _, s := range plan.Steps {
		if s.Kind == Sighted && s.Mark.Kind == Landmark {
			assert.LessOrEqual(t, s.To, 5400-60/math.Tan(2*math.Pi/180)+1e-5)
		}
	}
}

// TestAPlainSlopeIsToldByItsEnds: how a mark on a slope is described, by
// hand.
func TestAPlainSlopeIsToldByItsEnds(t *testing.T) {
	t.Parallel()
	lengths := visibility.Lengths{
		Distance: func(m float64) string { return fmt.Sprintf("%.0f m", m) },
		Height:   func(m float64) string { return fmt.Sprintf("%.0f m", m) },
	}
	for _, row := range []struct {
		name    string
		h       []float64 // every 100 m
		vertex  int
		from    float64
		want    Relation
		inWords string
	}{
		{name: "short of a crest", h: []float64{0, 40, 20, 90, 150, 151, 50, 0}, vertex: 4, from: 50,
			want: Relation{Crest, 500, 151, -100, -1, false}, inWords: "the slope 100 m short of the crest at 500 m (out of sight), about level with it"},
		{name: "past a low point", h: []float64{100, 50, 0, 20, 60, 120, 130}, vertex: 3, from: 0,
			want: Relation{Low, 200, 0, 100, 20, true}, inWords: "the far slope 100 m past the low point at 200 m, 20 m above it"},
		{name: "past a crest walked over", h: []float64{0, 50, 100, 90, 75, 60, 0, 80, 90}, vertex: 3, from: 210,
			want: Relation{Crest, 200, 100, 100, -10, true}, inWords: "the slope 100 m past the crest at 200 m, 10 m below it"},
		{name: "short of a low point", h: []float64{100, 70, 50, 45, 40, 90}, vertex: 3, from: 0,
			want: Relation{Low, 400, 40, -100, 5, true}, inWords: "the slope 100 m short of the low point at 400 m, 5 m above it"},
		{name: "nothing but the start", h: []float64{0, 10, 30, 60, 100, 105, 106}, vertex: 2, from: 0,
			want: Relation{Start, 0, 0, 200, 30, true}, inWords: "the slope 200 m past the start, 30 m above it"},
		{name: "nearer to the destination", h: []float64{0, 10, 30, 60, 100, 150, 210}, vertex: 5, from: 0,
			want: Relation{Destination, 600, 210, -100, -60, true}, inWords: "the slope 100 m short of the destination, 60 m below it"},
		{name: "level", h: []float64{0, 30, 20, 20, 0, 40}, vertex: 2, from: 0,
			want: Relation{Crest, 100, 30, 100, -10, true}, inWords: "the slope 100 m past the crest at 100 m, 10 m below it"},
		{name: "a void between", h: []float64{0, 30, math.NaN(), 20, 21, 24, 27}, vertex: 4, from: 310,
			want: Relation{Destination, 600, 27, -200, -6, true}, inWords: "the slope 200 m short of the destination, 6 m below it"},
	} {
		leg := drawnLeg(every(100, len(row.h)), row.h)
		l, err := newLine(leg, visibility.NewObserver(leg.From), visibility.Conditions{}, Options{})
		require.NoError(t, err, row.name)
		near := l.near(row.vertex, row.from)
		require.NotNil(t, near, row.name)
		assert.Equal(t, row.want, *near, row.name)
		mark := l.mark(row.vertex)
		mark.Kind, mark.Near = Ground, near
		assert.Equal(t, row.inWords, mark.Describe(lengths, leg.Distance), row.name)
	}
	beyond := Mark{Kind: Ground, Near: &Relation{Kind: Crest, Distance: 1250, Past: 30, Above: 0.2, InView: true}}
	assert.Equal(t, "the slope 30 m past the crest 250 m beyond the destination, about level with it", beyond.Describe(lengths, 1000))
	assert.Equal(t, "the brow at 500 m (70 m)", (&Mark{Kind: Brow, Distance: 500, Elevation: 70}).Describe(lengths, 1000))
	assert.Equal(t, "Knob 200 m behind the start (70 m), 9 m right of the line",
		(&Mark{Kind: Landmark, Name: "Knob", Distance: -200, Offset: 9, Elevation: 70}).Describe(lengths, 1000))
}

// TestTurns: crests and low points of a drawn line, wiggles apart.
func TestTurns(t *testing.T) {
	t.Parallel()
	nan := math.NaN()
	for _, row := range []struct {
		h    []float64
		want string // s start, d destination, c crest, l low point, . neither
	}{
		{[]float64{0, 10, 0, 10, 0}, "sclcd"},
		{[]float64{0, 10, 6, 10, 0, 30}, "sc.cld"}, // a dip under the relief parts no crest
		{[]float64{0, 10, 6, 9, 0, 30}, "sc..ld"},
		{[]float64{8, 10, 0, 3, 0, 30}, "s.l.ld"}, // too small a rise to the 10
		{[]float64{0, 10, 10, 10, 0, 2}, "sccc.d"},
		{[]float64{0, 10, nan, 0, 10, 0}, "s....d"[:4] + "cd"},
		{[]float64{0, 10, nan, 10, 0, 9, 0}, "s...lcd"},
		{[]float64{0, 1, 2, 3, 4}, "s...d"},
	} {
		leg := drawnLeg(every(100, len(row.h)), row.h)
		l, err := newLine(leg, visibility.NewObserver(leg.From), visibility.Conditions{}, Options{})
		require.NoError(t, err)
		got := ""
		for _, k := range l.kinds {
			got += map[Kind]string{Start: "s", Destination: "d", Crest: "c", Low: "l", Ground: "."}[k]
		}
		assert.Equal(t, row.want, got, "%v", row.h)
	}
}

// TestHard: by the rule.
func TestHard(t *testing.T) {
	t.Parallel()
	plan := func(length float64, sightings int, unguided float64) Plan {
		return Plan{Steps: []Step{{To: length}}, Sightings: sightings, Unguided: unguided}
	}
	assert.False(t, Plan{}.Hard())
	assert.False(t, plan(5000, 5, 0).Hard())
	assert.True(t, plan(4999, 5, 0).Hard())
	assert.False(t, plan(1000, 4, 0).Hard())
	assert.False(t, plan(10000, 2, 1000).Hard())
	assert.True(t, plan(10000, 2, 1001).Hard())
}

// walkPlan checks that every mark of a plan is in sight as it claims.
func walkPlan(t *testing.T, leg *profile.Leg, plan Plan, least float64, whenChosen bool, name string) {
	t.Helper()
	compassBefore := false
	for _, s := range plan.Steps {
		if s.Kind == CompassOnly {
			assert.False(t, compassBefore, name)
			compassBefore = true
			continue
		}
		compassBefore = false
		if s.Mark.Kind != Destination {
			assert.GreaterOrEqual(t, s.Mark.Distance-s.From, least-1e-6, name)
		}
		for x := s.From; x < s.To-1; x += 7 {
			if whenChosen && x > s.From+1 {
				break
			}
			assert.True(t, plainlySeen(leg, x, s.Mark.Distance), "%s: %v from %v", name, s.Mark.Distance, x)
		}
	}
}

// plainKind is what the ground at m is, for a walker at x, by the words of
// the definitions.
func plainKind(leg *profile.Leg, x, m, relief float64) Kind {
	if m >= leg.Distance {
		return Destination
	}
	at := 0
	for leg.Points[at].Distance < m {
		at++
	}
	ground := func(i int) float64 { return leg.Points[i].Elevation }
	// sign 1: none higher on this side before the line has fallen; -1: none
	// lower before it has risen
	side := func(towards int, sign float64) bool {
		for i := at + towards; i >= 0 && i < len(leg.Points); i += towards {
			switch over := sign * (ground(i) - ground(at)); {
			case over > 0:
				return false
			case over <= -relief:
				return true
			}
		}
		return false
	}
	if side(-1, 1) && side(1, 1) {
		return Crest
	}
	eye := leg.ElevationAt(x) + 1.6
	slope := (ground(at) - eye) / (m - x)
	for i := at + 1; i < len(leg.Points); i++ {
		under := ground(at) + slope*(leg.Points[i].Distance-m) - ground(i)
		if under < -byAHair {
			break // back in sight
		}
		if under >= relief-byAHair {
			return Brow
		}
	}
	if side(-1, -1) && side(1, -1) {
		return Low
	}
	return Ground
}

// plainlyStands tells whether the ground at m rises or falls by the relief
// within 250 m, by the words of the definition. (Seen from a kilometre 12 m
// look 40 arc-minutes high.)
func plainlyStands(leg *profile.Leg, m, relief float64) bool {
	from, to := max(0, m-250), min(leg.Distance, m+250)
	low, high := math.Inf(1), math.Inf(-1)
	for x := from; x <= to; x += 5 { // every crossing is a multiple of 5 m
		low, high = min(low, leg.ElevationAt(x)), max(high, leg.ElevationAt(x))
	}
	return high-low >= relief
}

type searched struct {
	unguided  float64
	sightings int
	kinds     [Start]int
}

func (a searched) less(b searched) bool {
	if math.Abs(a.unguided-b.unguided) > 1e-4 { // m; micrometres a step, and byAHair on the slope
		return a.unguided < b.unguided
	}
	if a.sightings != b.sightings {
		return a.sightings < b.sightings
	}
	return slices.Compare(a.kinds[:], b.kinds[:]) < 0
}

// searchChain is the plain search: from every place of the lattice, every
// vertex ahead as a mark, every place ahead on the compass.
func searchChain(leg *profile.Leg, plan Plan, step, least, relief float64, whenChosen bool) searched {
	var places []float64
	for i := range int(math.Round(leg.Distance/step)) + 1 {
		places = append(places, float64(i)*step)
	}
	for _, s := range plan.Steps {
		places = append(places, s.From)
	}
	slices.Sort(places)
	places = slices.Compact(places)
	count := len(places) - 1
	isVertex := func(x float64) bool {
		return slices.ContainsFunc(leg.Points, func(p profile.Point) bool { return p.Distance == x })
	}
	best, onMark := make([]searched, count+1), make([]searched, count+1)
	for i := count - 1; i >= 0; i-- {
		onMark[i] = searched{unguided: math.Inf(1)}
		for m := i + 1; m <= count; m++ {
			if !isVertex(places[m]) || m < count && (places[m]-places[i] < least-1e-6 || !plainlyStands(leg, places[m], relief)) {
				continue
			}
			ok := true
			for j := i; j < m && ok; j++ {
				ok = plainlySeen(leg, places[j], places[m])
				if whenChosen {
					break
				}
			}
			if ok {
				c := best[m]
				c.sightings++
				c.kinds[plainKind(leg, places[i], places[m], relief)]++
				if c.less(onMark[i]) {
					onMark[i] = c
				}
			}
		}
		best[i] = onMark[i]
		for j := i + 1; j <= count; j++ {
			c := onMark[j]
			if walked := places[j] - places[i]; walked > least+2e-6 {
				c.unguided += walked
			}
			if c.less(best[i]) {
				best[i] = c
			}
		}
	}
	return best[0]
}

func TestChainRefuses(t *testing.T) {
	t.Parallel()
	leg := drawnLeg(every(100, 5), make([]float64, 5))
	ctx, o := context.Background(), visibility.NewObserver(leg.From)
	for name, opts := range map[string]Options{
		"least sighting": {LeastSighting: -1}, "not a number": {LeastSighting: math.NaN()},
		"within": {Within: 95}, "relief": {LeastRelief: -1}, "beside": {BesideLine: math.NaN()}, "another line": {Beyond: drawnLeg(every(10, 3), make([]float64, 3))},
	} {
		_, err := Find(ctx, leg, o, visibility.DefaultConditions(), opts)
		assert.Error(t, err, name)
	}
	stopped, stop := context.WithCancel(ctx)
	stop()
	_, err := Find(stopped, leg, o, visibility.DefaultConditions(), Options{})
	assert.ErrorIs(t, err, context.Canceled)
}

// TestALandmarkBesideTheLine: it serves while it bears within the tolerance,
// and is left at the place where it no longer does.
func TestALandmarkBesideTheLine(t *testing.T) {
	t.Parallel()
	leg := drawnLeg([]float64{0, 1000, 2000}, []float64{100, 400, 100})
	mark := Offer{
		Mark: Mark{Kind: Landmark, Name: "Tower", Distance: 3000, Offset: 50, Elevation: 300},
		Seen: []visibility.Stretch{inSight(0, 2000)},
	}
	plan := chainOf(t, leg, Options{Marks: []Offer{mark}, Within: 2})
	require.NotNil(t, plan.Steps[0].Mark)
	assert.Equal(t, "Tower", plan.Steps[0].Mark.Name)
	// 50 m at 2 degrees is 1431.8 m before abeam
	assert.InDelta(t, 3000-50/math.Tan(2*math.Pi/180), plan.Steps[0].To, 1e-5)
	assert.Equal(t, 2, plan.Sightings)
	assert.Contains(t, plan.Steps[0].Reason, "Tower")
	assert.Contains(t, plan.Steps[0].Reason, "50 m right of the line")

	// lost from sight on the way, it will not do when it must be kept
	mark.Seen = []visibility.Stretch{inSight(0, 700), outOfSight(700, 900), inSight(900, 2000)}
	plan = chainOf(t, leg, Options{Marks: []Offer{mark}})
	assert.Equal(t, Crest, plan.Steps[0].Mark.Kind)
	plan = chainOf(t, leg, Options{Marks: []Offer{mark}, SeenWhenChosen: true})
	assert.Equal(t, Landmark, plan.Steps[0].Mark.Kind)
}
