package chain

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/profile"
	"crowline/visibility"
)

// curved bends a drawn leg round the Earth.
func curved(leg *profile.Leg) *profile.Leg {
	const radius = 6371e3 // m
	for i, p := range leg.Points {
		leg.Points[i].Drop = p.Distance * p.Distance / (2 * radius)
	}
	return leg
}

// levelGround is n heights of one level.
func levelGround(n int, elevation float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = elevation
	}
	return out
}

// TestAPlainHasNoMarks: 2026-11-28. The sea-horizon of a plain was taken for
// a slope, and with a small relief for a brow, and the next as far behind it.
func TestAPlainHasNoMarks(t *testing.T) {
	t.Parallel()
	const (
		length = 12000.0
		edge   = 100.0 // m: the horizon is at a crossing
	)
	// the horizon of an eye of 1.6 m: sqrt(2 R h / (1 - k))
	horizon := math.Sqrt(2 * 6371e3 * 1.6 / (1 - 0.13))
	for _, relief := range []float64{0, 1e-3, 10} {
		plan := chainOf(t, curved(drawnLeg(every(100, 121), levelGround(121, 12))), Options{LeastRelief: relief})
		require.Len(t, plan.Steps, 2)
		walk, end := plan.Steps[0], plan.Steps[1]
		assert.Equal(t, CompassOnly, walk.Kind)
		assert.InDelta(t, length-horizon, walk.To, edge)
		assert.True(t, walk.Plain)
		require.NotNil(t, walk.Back)
		assert.Equal(t, Mark{Kind: Start, Elevation: 12, Plain: true}, walk.Back.Mark)
		assert.InDelta(t, horizon/walk.To, walk.Back.Share, edge/walk.To)
		assert.Equal(t, Destination, end.Mark.Kind)
		assert.True(t, end.Mark.Plain)
		assert.Equal(t, plan.Unguided, plan.Plain)
		assert.Equal(t, walk.To, plan.Plain)
		assert.Contains(t, walk.Reason, "The ground ahead is in view, but nothing on it stands up to be sighted: on the compass alone for 7.")
		assert.Contains(t, walk.Reason, "sight back to the start (if something stands there to know it by)")
		assert.Contains(t, end.Reason, "On the destination (if something stands there to know it by)")
	}

	// a tower at the destination looks high enough from as far as its top is
	// seen over the horizon, and nothing need be doubted
	const tower = 20.0
	leg := curved(drawnLeg(every(100, 121), levelGround(121, 12)))
	plan, err := Find(t.Context(), leg, visibility.NewObserver(leg.From), visibility.Conditions{Refraction: 0.13, TargetAboveGround: tower}, Options{})
	require.NoError(t, err)
	require.Len(t, plan.Steps, 1)
	assert.False(t, plan.Steps[0].Mark.Plain)
}

// TestAnInclineStandsByItsRise: on an even slope, what rises within 250 m to
// either side is 500 m times the gradient, half that at the ends, and it looks
// 5 arc-minutes high from height / tan(5') away.
func TestAnInclineStandsByItsRise(t *testing.T) {
	t.Parallel()
	const gradient, relief = 0.03, 10.0
	var h []float64
	for i := range 41 {
		h = append(h, gradient*80*float64(i))
	}
	leg := drawnLeg(every(80, 41), h) // 250 m is between two crossings
	line := func(relief float64) *course {
		l, err := newLine(leg, visibility.NewObserver(leg.From), visibility.Conditions{}, Options{LeastRelief: relief})
		require.NoError(t, err)
		return l
	}
	l := line(relief)
	assert.InDelta(t, 500*gradient, l.stature[20], 1e-9)
	assert.InDelta(t, 250*gradient, l.stature[0], 1e-9)
	assert.InDelta(t, (250+160)*gradient, l.stature[2], 1e-9)
	assert.InDelta(t, 1600-500*gradient/math.Tan(5.0/60*math.Pi/180), l.standsFrom(20), 1e-6)
	assert.True(t, math.IsInf(l.standsFrom(0), 1))
	assert.True(t, math.IsInf(line(15.01).standsFrom(20), 1))
	assert.False(t, math.IsInf(line(14.99).standsFrom(20), 1))
	// a void cuts off what lies beyond it
	leg.Points[22].Elevation = math.NaN()
	l = line(relief)
	assert.InDelta(t, (250+80)*gradient, l.stature[20], 1e-9)
	assert.True(t, math.IsInf(l.standsFrom(22), 1))
}

// TestALowRidgeOnAPlain is a mark from where it looks 5 arc-minutes high: 6 m
// from 4.1 km. Its foot is known by it, and will do.
func TestALowRidgeOnAPlain(t *testing.T) {
	t.Parallel()
	const ridge, foot = 6.0, 7900.0
	leg := drawnLeg([]float64{0, 2000, 4000, 6000, foot, 8000, 8100, 10000, 12000}, []float64{12, 12, 12, 12, 12, 12 + ridge, 12, 12, 12})
	from := foot - ridge/math.Tan(5.0/60*math.Pi/180)
	for _, loose := range []bool{false, true} {
		plan := chainOf(t, leg, Options{SeenWhenChosen: loose})
		require.Len(t, plan.Steps, 4)
		assert.Equal(t, CompassOnly, plan.Steps[0].Kind)
		assert.True(t, plan.Steps[0].Plain)
		assert.InDelta(t, from, plan.Steps[0].To, 1e-5)
		assert.Equal(t, foot, plan.Steps[1].Mark.Distance)
		assert.Contains(t, plan.Steps[1].Reason, "the slope 100 m short of the crest at 8.0 km, 6 m below it")
		assert.True(t, plan.Steps[2].Short)
		assert.Equal(t, Destination, plan.Steps[3].Mark.Kind)
		assert.InDelta(t, from, plan.Plain, 1e-5)
		assert.Equal(t, plan.Unguided, plan.Plain)
	}
	// under the least relief it is nothing
	plan := chainOf(t, leg, Options{LeastRelief: ridge + 0.1})
	require.Len(t, plan.Steps, 2)
	// up a rise of 6 m in 100 the eye of 1.6 m comes to the line that falls by
	// 6 m in 4000 from the crest to the destination
	assert.InDelta(t, 8000-1.6/(ridge/100+ridge/4000), plan.Steps[0].To, 1e-3)
	assert.Equal(t, Destination, plan.Steps[1].Mark.Kind)
}

// TestAStepInAPlain is a mark all the way: 20 m look 5 arc-minutes high from
// 13.8 km; of the plain above it nothing is.
func TestAStepInAPlain(t *testing.T) {
	t.Parallel()
	d := append(every(100, 51), 5010)
	h := append(levelGround(51, 12), 32)
	for x := 5100.0; x <= 9000; x += 100 {
		d, h = append(d, x), append(h, 32)
	}
	plan := chainOf(t, drawnLeg(d, h), Options{})
	require.Len(t, plan.Steps, 2)
	assert.Equal(t, Mark{Kind: Brow, Distance: 5010, Elevation: 32}, *plan.Steps[0].Mark)
	assert.Equal(t, Destination, plan.Steps[1].Mark.Kind)
	assert.True(t, plan.Steps[1].Mark.Plain)
	assert.True(t, plan.Complete())
}

// TestACrestBehindIsSightedAsFarAsItStandsUp.
func TestACrestBehindIsSightedAsFarAsItStandsUp(t *testing.T) {
	t.Parallel()
	// a low ridge at 1 km, a plain that bends away, no mark ahead
	const ridge = 6.0
	d, h := every(100, 121), levelGround(121, 12)
	h[10] = 12 + ridge
	plan := chainOf(t, curved(drawnLeg(d, h)), Options{LeastRelief: ridge})
	require.Len(t, plan.Steps, 4) // the crest, its far foot, the plain, the destination
	require.True(t, plan.Steps[2].Plain)
	back := plan.Steps[2].Back
	require.NotNil(t, back)
	assert.Equal(t, Crest, back.Mark.Kind)
	require.Len(t, back.Seen, 1)
	assert.InDelta(t, 1000+ridge/math.Tan(5.0/60*math.Pi/180), back.Seen[0].To, 1e-5)
}
