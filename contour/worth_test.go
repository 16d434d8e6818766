package contour

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// shown are the rises and falls of a profile that cross levels: from the
// lowest ground before the first of a run of levels reached upward to the
// highest after the last, and the same downward; and how many there are.
func shown(elevations []float64, l Levels) (ascent, descent float64, rises, falls int) {
	lowest, highest := elevations[0], elevations[0] // since the level crossed last
	way, low, high := 0, 0.0, 0.0
	end := func() {
		switch way {
		case 1:
			ascent, rises = ascent+high-low, rises+1
		case -1:
			descent, falls = descent+high-low, falls+1
		}
	}
	for i := 1; i < len(elevations); i++ {
		from, to := l.Below(elevations[i-1]), l.Below(elevations[i])
		switch {
		case to > from && way != 1:
			end()
			way, low, high = 1, lowest, elevations[i]
		case to < from && way != -1:
			end()
			way, low, high = -1, elevations[i], highest
		}
		if to != from {
			lowest, highest = elevations[i], elevations[i]
		}
		lowest, highest = min(lowest, elevations[i]), max(highest, elevations[i])
		switch way {
		case 1:
			high = max(high, elevations[i])
		case -1:
			low = min(low, elevations[i])
		}
	}
	end()
	return ascent, descent, rises, falls
}

// TestWhatACountIsOffBy: on profiles of any shape the rises that lines show
// differ from the count by less than an interval each.
func TestWhatACountIsOffBy(t *testing.T) {
	t.Parallel()
	for seed := range uint64(600) {
		random := rand.New(rand.NewPCG(seed, 17))
		l := Levels{Interval: []float64{20, 40, 7}[seed%3], Unit: []Unit{Metre, Foot}[seed%2], Half: seed%5 == 0}
		elevations := []float64{200 + random.Float64()*100}
		step := []float64{3, 15, 60}[random.IntN(3)]
		for range 5 + random.IntN(60) {
			elevations = append(elevations, float64(float32(elevations[len(elevations)-1]+step*random.NormFloat64())))
		}
		elevations[0] = float64(float32(elevations[0]))
		g := grid(len(elevations), 2, func(column, _ float64) float64 { return elevations[int(column)] })
		got := l.CountAlong(g, []Position{{0, 0}, {float64(len(elevations) - 1), 0}})
		ascent, descent, rises, falls := shown(elevations, l)
		require.Equal(t, [2]int{rises, falls}, [2]int{got.Rises, got.Falls}, "seed %d", seed)
		climb := l.Climb(got, 3)
		if rises > 0 {
			require.Less(t, math.Abs(climb.Ascent-ascent), climb.AscentWithin, "seed %d", seed)
		} else {
			require.True(t, math.IsNaN(climb.AscentWithin) && math.IsNaN(climb.AscentSigma))
			require.Zero(t, climb.Ascent)
		}
		if falls > 0 {
			require.Less(t, math.Abs(climb.Descent-descent), climb.DescentWithin, "seed %d", seed)
		}
	}
}

// TestLessWouldNotBeTrue: a rise that crosses one line may be nearly two
// intervals, or next to nothing.
func TestLessWouldNotBeTrue(t *testing.T) {
	t.Parallel()
	l := Levels{Interval: 20}
	for _, ends := range [][2]float64{{80.5, 119.5}, {99.5, 100.5}} {
		c := l.CountAlong(grid(2, 2, func(column, _ float64) float64 { return ends[int(column)] }), []Position{{0, 0}, {1, 0}})
		require.Equal(t, Crossed{Up: 1, Rises: 1}, c)
		climb := l.Climb(c, 0)
		assert.Equal(t, 19.0, math.Abs(climb.Ascent-(ends[1]-ends[0])))
		assert.Equal(t, 20.0, climb.AscentWithin)
	}
}

// TestWavesRoundALine: eighteen waves of 18 m about a line each count as a
// rise of 20 m, and the count is off by less than eighteen intervals, not by
// none.
func TestWavesRoundALine(t *testing.T) {
	t.Parallel()
	g := grid(37, 2, func(column, _ float64) float64 { return 91 + 18*float64(int(column)%2) })
	l := Levels{Interval: 20}
	c := l.CountAlong(g, []Position{{0, 0}, {36, 0}})
	assert.Equal(t, Crossed{Up: 18, Down: 18, Rises: 18, Falls: 18}, c)
	climb := l.Climb(c, 3)
	assert.Equal(t, 360.0, climb.Ascent)
	assert.Equal(t, 360.0, climb.AscentWithin)
	const tolerance = 1e-9 // m; 3 m times the root of 36
	assert.InDelta(t, 18, climb.AscentSigma, tolerance)
}

// TestNothingIsSaidOfWhatIsNotKnown: no line crossed, data of unknown worth,
// and a void on the way.
func TestNothingIsSaidOfWhatIsNotKnown(t *testing.T) {
	t.Parallel()
	l := Levels{Interval: 20}
	climb := l.Climb(Crossed{Down: 3, Falls: 1}, 0)
	assert.True(t, math.IsNaN(climb.AscentWithin))
	assert.Equal(t, 20.0, climb.DescentWithin)
	assert.True(t, math.IsNaN(climb.DescentSigma))
	climb = l.Climb(Crossed{Up: 3, Rises: 1, AtLeast: true}, 5)
	assert.Equal(t, 60.0, climb.Ascent)
	assert.True(t, math.IsNaN(climb.AscentWithin) && math.IsNaN(climb.AscentSigma))
}
