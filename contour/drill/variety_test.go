package drill

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// TestVarietyOfTwentySeeds: of twenty sheets no one landform, told by its place,
// is asked about in more than a third, and no sheet asks a kind twice before
// every kind has come once.
func TestVarietyOfTwentySeeds(t *testing.T) {
	t.Parallel()
	for name, ground := range grounds(t) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			at := map[geodesy.LatLon]int{}
			for seed := range uint64(20) {
				o := ground.o
				o.Seed, o.Kinds, o.Count = seed, []Kind{Landform, BackBearing, Elevation}, 4
				set, err := Make(context.Background(), ground.grid, o)
				require.NoError(t, err)
				times := map[Kind]int{}
				for i, q := range set.Questions {
					times[q.Kind]++
					if q.Kind == Landform {
						at[q.Data.(LandformAnswer).Mark.At()]++
					}
					for _, other := range set.Questions[:i] {
						if q.Figure != nil && other.Figure != nil {
							assert.GreaterOrEqual(t, geodesy.Inverse(q.Figure.Centre.At(), other.Figure.Centre.At()).Distance, set.survey.paper(8))
						}
					}
				}
				assert.Equal(t, 1, min(times[Landform], times[BackBearing]), "%v", times)
			}
			for place, n := range at {
				assert.LessOrEqual(t, n, 20/3, "%v", place)
			}
		})
	}
}
