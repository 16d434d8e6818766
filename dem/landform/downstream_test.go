package landform

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Water goes from post to neighbouring post, and on real ground without voids
// ends at the edge; where it rises it is over the rim of a hollow, and lower
// ground follows.
func TestWaterRunsToTheEdge(t *testing.T) {
	t.Parallel()
	g := demoGrid(t)
	d, err := Drain(context.Background(), g)
	require.NoError(t, err)
	for _, at := range [][2]int{{g.Columns / 2, g.Rows / 2}, {g.Columns / 3, g.Rows / 4}, {g.Columns - 9, 9}} {
		way, err := d.Downstream(at[0], at[1])
		require.NoError(t, err)
		assert.Equal(t, Position{float64(at[0]), float64(at[1])}, way[0])
		for i := 1; i < len(way); i++ {
			assert.LessOrEqual(t, max(abs(way[i].Column-way[i-1].Column), abs(way[i].Row-way[i-1].Row)), 1.0)
		}
		last := way[len(way)-1]
		assert.True(t, last.Column == 0 || last.Row == 0 || int(last.Column) == g.Columns-1 || int(last.Row) == g.Rows-1)
		assert.Less(t, g.Elevation(int(last.Column), int(last.Row)), g.Elevation(at[0], at[1]))
	}
	_, err = d.Downstream(-1, 0)
	require.ErrorContains(t, err, "no elevation")
}

func abs(v float64) float64 { return max(v, -v) }
