package dem

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestCensusAgainstLookingAtAll: a grid of more than one square, with voids,
// equal extremes in different squares and a spike, against a plain loop and
// the search for suspects.
func TestCensusAgainstLookingAtAll(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(2, 71))
	g := tilted(lonLatFrame(1300, 1100))
	for i := range g.Elevations {
		g.Elevations[i] = float32(500 + 100*math.Sin(float64(i%1300)/90)*math.Cos(float64(i/1300)/70))
		if random.IntN(100) == 0 {
			g.Elevations[i] = float32(math.NaN())
		}
	}
	at := func(c, r int) *float32 { return &g.Elevations[r*g.Columns+c] }
	*at(1200, 20), *at(30, 1050), *at(700, 700) = 690, 690, 0 // highest twice; and a pit
	var told []int64
	c, err := Count(t.Context(), &memorySource{grid: g}, CensusOptions{Progress: func(done, total int64) {
		assert.Equal(t, int64(1300*1100), total)
		told = append(told, done)
	}})
	require.NoError(t, err)
	want := Census{Posts: 1300 * 1100, Lowest: Extreme{Elevation: math.Inf(1)}, Highest: Extreme{Elevation: math.Inf(-1)}}
	for i, v := range g.Elevations {
		h := float64(v)
		switch {
		case h != h:
			want.Voids++
		case h < want.Lowest.Elevation:
			want.Lowest = Extreme{i % 1300, i / 1300, h}
		case h > want.Highest.Elevation:
			want.Highest = Extreme{i % 1300, i / 1300, h}
		}
	}
	assert.Equal(t, Extreme{1200, 20, 690}, want.Highest)
	want.Suspicion, err = SuspectsOf(g)
	require.NoError(t, err)
	require.Positive(t, want.Suspicion.Posts)
	assert.Equal(t, want, c)
	assert.InDelta(t, 0.01, c.VoidShare(), 0.002)
	assert.IsIncreasing(t, told)
	assert.Equal(t, c.Posts, told[len(told)-1])
}

func TestCensusOfNothing(t *testing.T) {
	t.Parallel()
	g := tilted(lonLatFrame(9, 9))
	for i := range g.Elevations {
		g.Elevations[i] = float32(math.NaN())
	}
	c, err := Count(t.Context(), &memorySource{grid: g}, CensusOptions{})
	require.NoError(t, err)
	assert.Equal(t, c.Posts, c.Voids)
	assert.True(t, math.IsNaN(c.Lowest.Elevation) && math.IsNaN(c.Highest.Elevation))
	assert.InDelta(t, 1, c.VoidShare(), 0)
	assert.Zero(t, Census{}.VoidShare())
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = Count(ctx, &memorySource{grid: g}, CensusOptions{})
	require.ErrorIs(t, err, context.Canceled)
}
