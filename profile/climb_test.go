package profile

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func legOf(heights ...float64) *Leg {
	l := &Leg{}
	for i, e := range heights {
		l.Points = append(l.Points, Point{Distance: float64(i) * 10, Elevation: e})
	}
	l.Distance = l.Points[len(l.Points)-1].Distance
	l.Covered = l.Distance
	return l
}

// TestHillsNearTheHeightOfAnEndAreCounted: 2026-11-28. Waves of 18 m that
// began half way up were struck out one after the other against the start,
// and a leg over 18 of them had no climb at all.
func TestHillsNearTheHeightOfAnEndAreCounted(t *testing.T) {
	t.Parallel()
	waves := []float64{100}
	for range 18 {
		waves = append(waves, 109, 91)
	}
	waves = append(waves, 100)
	c := legOf(waves...).Climb(10, 0)
	assert.InDelta(t, 9+17*18+9, c.Ascent, 1e-9)
	assert.InDelta(t, 18*18, c.Descent, 1e-9)

	// a real line of mountain ground: 10.3, 13.6 and 10.5 m are above the band
	c = legOf(602.0, 595.4, 605.7, 595.4, 609.0, 394.0, 429.2, 418.8, 445.4).Climb(10, 0)
	assert.InDelta(t, 10.3+13.6+35.2+26.6, c.Ascent, 1e-9)
	assert.InDelta(t, 6.6+10.3+215+10.4, c.Descent, 1e-9)
}

// TestNoRiseOfTheBandIsLost, and none under it counts but next to an end: on
// random ground of every roughness, against the plain definition of a rise
// lost, the greatest fall on a stretch counted as a rise.
func TestNoRiseOfTheBandIsLost(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(11, 28))
	small := 0
	for n := range 20000 {
		heights := make([]float64, 2+random.IntN(14))
		for i := range heights {
			heights[i] = float64(random.IntN(40)) // whole metres: equal heights are common
			if n%2 == 0 {
				heights[i] = random.Float64() * 30
			}
		}
		band := []float64{0, 3, 10, 25}[random.IntN(4)]
		leg := legOf(heights...)
		c := leg.Climb(band, 0)
		require.InDelta(t, heights[len(heights)-1]-heights[0], c.Ascent-c.Descent, 1e-9)
		for i := 1; i < len(c.Turns); i++ {
			from, to := c.Turns[i-1], c.Turns[i]
			step := to.Elevation - from.Elevation
			if math.Abs(step) < band {
				require.True(t, i == 1 || i == len(c.Turns)-1, "%v, band %g: step %g inside", heights, band, step)
				small++
			}
			sign := math.Copysign(1, step)
			most := math.Inf(-1)
			for _, p := range leg.Points {
				if p.Distance < from.Distance || p.Distance > to.Distance {
					continue
				}
				most = max(most, sign*p.Elevation)
				lost := most - sign*p.Elevation
				require.True(t, lost < band || lost == 0, "%v, band %g: %g lost between %g and %g", heights, band, lost, from.Distance, to.Distance)
			}
		}
		back := slices.Clone(heights)
		slices.Reverse(back)
		b := legOf(back...).Climb(band, 0)
		require.InDelta(t, c.Ascent, b.Descent, 1e-9, "%v backwards, band %g", heights, band)
		require.InDelta(t, c.Descent, b.Ascent, 1e-9, "%v backwards, band %g", heights, band)
		for i := range back {
			back[i] = -heights[i]
		}
		b = legOf(back...).Climb(band, 0)
		require.InDelta(t, c.Ascent, b.Descent, 1e-9, "%v upside down, band %g", heights, band)
	}
	assert.Positive(t, small)
}
