package visibility

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
	"crowline/profile"
)

// drawnLeg is a leg due east whose profile is given, on a flat Earth.
func drawnLeg(distances, elevations []float64) *profile.Leg {
	from := geodesy.LatLon{Lat: 36, Lon: -84}
	length := distances[len(distances)-1]
	to, end := geodesy.Direct(from, 90, length)
	leg := &profile.Leg{
		From: from, To: to, Geodesic: geodesy.Geodesic{Distance: length, Start: 90, End: end},
		Covered: length, Spacing: length / float64(len(distances)-1),
	}
	for i, d := range distances {
		leg.Points = append(leg.Points, profile.Point{Distance: d, Elevation: elevations[i]})
	}
	return leg
}

// evenly spaced distances.
func every(step float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = step * float64(i)
	}
	return out
}

func chainOf(t *testing.T, leg *profile.Leg, opts ChainOptions) Plan {
	t.Helper()
	plan, err := Chain(context.Background(), leg, NewObserver(leg.From), Conditions{Refraction: 0.13}, opts)
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
	// level ground: the destination itself is seen from everywhere
	plan := chainOf(t, drawnLeg(every(100, 21), make([]float64, 21)), ChainOptions{})
	require.Len(t, plan.Steps, 1)
	assert.Equal(t, MarkDestination, plan.Steps[0].Mark.Kind)
	assert.True(t, plan.Complete())

	// a roof: its crest from the near side, the destination from there
	roof := drawnLeg([]float64{0, 1000, 2000}, []float64{100, 400, 100})
	plan = chainOf(t, roof, ChainOptions{})
	require.Len(t, plan.Steps, 2)
	assert.Equal(t, MarkCrest, plan.Steps[0].Mark.Kind)
	assert.Equal(t, 1000.0, plan.Steps[0].To)
	assert.Equal(t, MarkDestination, plan.Steps[1].Mark.Kind)
	assert.True(t, plan.Complete())
	// the eye stands 1.6 m over the slope of 0.3
	assert.InDelta(t, float64(geodesy.Atan2(300-1.6, 1000)), float64(plan.Steps[0].Angle), 1e-9)

	// a higher hill beyond the destination, seen over the roof all the way:
	// one sighting will do
	beyond := drawnLeg([]float64{0, 1000, 2000, 6000}, []float64{100, 400, 100, 2000})
	plan = chainOf(t, roof, ChainOptions{Beyond: beyond})
	require.Len(t, plan.Steps, 1)
	assert.Equal(t, 6000.0, plan.Steps[0].Mark.Distance)

	// a wall of void: the compass till past it, with the start behind
	gap := drawnLeg(every(100, 21), make([]float64, 21))
	for i := 8; i <= 12; i++ {
		gap.Points[i].Elevation = math.NaN()
	}
	plan = chainOf(t, gap, ChainOptions{})
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
	plan := chainOf(t, leg, ChainOptions{LeastSighting: 250})
	assert.False(t, plan.Complete())
	var back *BackSight
	for _, s := range plan.Steps {
		if s.Kind == CompassOnly && !s.Short {
			back = s.Back
			require.NotNil(t, back)
			assert.Equal(t, MarkStart, back.Mark.Kind, "the only crest or start behind")
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

// TestChainIsMinimal holds the count and the length on the compass against a
// search through all ways over the vertices and a fine lattice of places
// between, with the plain sight test, on small random profiles.
func TestChainIsMinimal(t *testing.T) {
	t.Parallel()
	const (
		n       = 12    // vertices
		spacing = 100.0 // m
		step    = 5.0   // m between places of the lattice
	)
	complete, broken := 0, 0
	for seed := range uint64(60) {
		random := rand.New(rand.NewPCG(seed, 5))
		h := make([]float64, n)
		for i := range h {
			h[i] = 60 * random.Float64()
		}
		leg := drawnLeg(every(spacing, n), h)
		for _, whenChosen := range []bool{false, true} {
			for _, least := range []float64{30, 150, 250} {
				name := fmt.Sprintf("seed %d, least %v, when chosen %v", seed, least, whenChosen)
				plan := chainOf(t, leg, ChainOptions{LeastSighting: least, SeenWhenChosen: whenChosen})
				want := searchChain(leg, step, least, whenChosen)
				// a place of the lattice lies at most a step after the true one
				slack := step * float64(len(plan.Steps))
				assert.LessOrEqual(t, plan.Unguided, want.unguided+1e-6, name)
				assert.GreaterOrEqual(t, plan.Unguided, want.unguided-slack, name)
				if math.Abs(plan.Unguided-want.unguided) < 1e-6 {
					assert.LessOrEqual(t, plan.Sightings, want.sightings, name)
				}
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
		if s.Mark.Kind != MarkDestination {
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

type searched struct {
	unguided  float64
	sightings int
}

func (a searched) less(b searched) bool {
	if math.Abs(a.unguided-b.unguided) > 1e-9 {
		return a.unguided < b.unguided
	}
	return a.sightings < b.sightings
}

// searchChain is the plain search: from every place of the lattice, every
// vertex ahead as a mark, every place ahead on the compass.
func searchChain(leg *profile.Leg, step, least float64, whenChosen bool) searched {
	count := int(math.Round(leg.Distance / step))
	place := func(i int) float64 { return float64(i) * step }
	perVertex := int(math.Round(leg.Points[1].Distance / step))
	best, onMark := make([]searched, count+1), make([]searched, count+1)
	for i := count - 1; i >= 0; i-- {
		onMark[i] = searched{math.Inf(1), 0}
		for m := (i/perVertex + 1) * perVertex; m <= count; m += perVertex {
			if m < count && place(m)-place(i) < least-1e-9 {
				continue
			}
			ok := true
			for j := i; j < m && ok; j++ {
				ok = plainlySeen(leg, place(j), place(m))
				if whenChosen {
					break
				}
			}
			if ok {
				c := best[m]
				c.sightings++
				if c.less(onMark[i]) {
					onMark[i] = c
				}
			}
		}
		best[i] = onMark[i]
		for j := i + 1; j <= count; j++ {
			c := onMark[j]
			if walked := place(j) - place(i); walked > least+1e-9 {
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
	ctx, o := context.Background(), NewObserver(leg.From)
	for name, opts := range map[string]ChainOptions{
		"least sighting": {LeastSighting: -1}, "not a number": {LeastSighting: math.NaN()},
		"within": {Within: 95}, "another line": {Beyond: drawnLeg(every(10, 3), make([]float64, 3))},
	} {
		_, err := Chain(ctx, leg, o, DefaultConditions(), opts)
		assert.Error(t, err, name)
	}
	stopped, stop := context.WithCancel(ctx)
	stop()
	_, err := Chain(stopped, leg, o, DefaultConditions(), ChainOptions{})
	assert.ErrorIs(t, err, context.Canceled)
}

// TestALandmarkBesideTheLine: it serves while it bears within the tolerance,
// and is left at the place where it no longer does.
func TestALandmarkBesideTheLine(t *testing.T) {
	t.Parallel()
	leg := drawnLeg([]float64{0, 1000, 2000}, []float64{100, 400, 100})
	mark := ChainMark{
		LineMark: LineMark{Kind: MarkLandmark, Name: "Tower", Distance: 3000, Offset: 50, Elevation: 300},
		Seen:     []Stretch{{0, 2000, Visible}},
	}
	plan := chainOf(t, leg, ChainOptions{Marks: []ChainMark{mark}, Within: 2})
	require.NotNil(t, plan.Steps[0].Mark)
	assert.Equal(t, "Tower", plan.Steps[0].Mark.Name)
	// 50 m at 2 degrees is 1431.8 m before abeam
	assert.InDelta(t, 3000-50/math.Tan(2*math.Pi/180), plan.Steps[0].To, 1e-5)
	assert.Equal(t, 2, plan.Sightings)
	assert.Contains(t, plan.Steps[0].Reason, "Tower")
	assert.Contains(t, plan.Steps[0].Reason, "50 m to the right")

	// lost from sight on the way, it will not do when it must be kept
	mark.Seen = []Stretch{{0, 700, Visible}, {700, 900, Hidden}, {900, 2000, Visible}}
	plan = chainOf(t, leg, ChainOptions{Marks: []ChainMark{mark}})
	assert.Equal(t, MarkCrest, plan.Steps[0].Mark.Kind)
	plan = chainOf(t, leg, ChainOptions{Marks: []ChainMark{mark}, SeenWhenChosen: true})
	assert.Equal(t, MarkLandmark, plan.Steps[0].Mark.Kind)
}
