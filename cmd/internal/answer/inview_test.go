package answer

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/testdata/cumberland"
)

// TestWhatIsInViewCanBePickedOut: from places on two grounds, each thing told of
// is the only one that its words fit, more likely seen than not, and no less
// likely to be seen than three times in four while another that is so comes
// after it; a mark that is said to be one of them stands where it does.
func TestWhatIsInViewCanBePickedOut(t *testing.T) {
	t.Parallel()
	for name, paths := range map[string][]string{"demo": nil, "cumberland": {cumberland.Path()}} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			g, err := Open(t.Context(), Data{Paths: paths}, Reach{})
			require.NoError(t, err)
			t.Cleanup(func() { assert.NoError(t, g.Close()) })
			const seed = 16
			random := rand.New(rand.NewPCG(seed, 1))
			grid, err := g.reach(t.Context(), nil, 0, horizonPostBytes)
			require.NoError(t, err)
			things, matched := 0, 0
			for range 6 {
				at, err := grid.Place((0.2+0.6*random.Float64())*float64(grid.Columns), (0.2+0.6*random.Float64())*float64(grid.Rows))
				require.NoError(t, err)
				a, err := Landmarks(t.Context(), g, LandmarksRequest{From: writtenAs(at, 5), Sighting: DefaultSighting(), Needle: Needle{Day: lookDay}})
				require.NoError(t, err)
				sure := true
				for i := range a.InView {
					v := &a.InView[i]
					things++
					assert.Equal(t, i+1, v.Rank)
					assert.Equal(t, v.Says, v.In(units.Metric))
					assert.Len(t, v.view.Satisfying(v.thing), 1, v.Says)
					assert.GreaterOrEqual(t, v.Likely.Probability, 0.5, v.Says)
					assert.LessOrEqual(t, v.DistanceM, a.VisualRangeM, v.Says)
					assert.True(t, sure || v.Likely.Probability < policy.SureEnough, v.Says)
					sure = v.Likely.Probability >= policy.SureEnough
				}
				for _, m := range a.Marks {
					if m.InViewRank == nil {
						continue
					}
					matched++
					v := a.InView[*m.InViewRank-1]
					off := geodesy.Difference(geodesy.TrueBearing(m.TrueDeg), v.thing.Bearing)
					assert.Less(t, math.Abs(float64(off))*math.Pi/180*m.DistanceM, 300.0, v.Says)
					assert.InDelta(t, m.DistanceM, v.DistanceM, 0.1*m.DistanceM+100, v.Says)
				}
			}
			assert.Greater(t, things, 10)
			assert.NotZero(t, matched)
		})
	}
}
