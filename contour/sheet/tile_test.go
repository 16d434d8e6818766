package sheet

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour"
	"crowline/contour/page"
)

// TestTilesMeet: contour lines leave a tile where they come into the next one, and
// the hatching of ground with no data goes on.
func TestTilesMeet(t *testing.T) {
	grid := demoGround(t)
	middle, err := grid.Place(float64(grid.Columns)/2, float64(grid.Rows)/2)
	require.NoError(t, err)
	chart, err := NewChart(middle)
	require.NoError(t, err)
	x, y, err := chart.XY(middle)
	require.NoError(t, err)
	levels := contour.Levels{Interval: 50}
	lines, err := contour.Trace(context.Background(), grid, levels, contour.Options{})
	require.NoError(t, err)
	const side, paper = 2560, 128 // m, mm: 1:20 000
	edge := func(west float64, at float64) (ys []float64) {
		d, err := ComposeTile(context.Background(), Plan{Ground: grid, Contours: Contours{Frame: &grid.Frame, Lines: lines, Levels: levels}},
			Tile{Chart: chart, X: west, Y: y + side/2, Side: side, Paper: paper})
		require.NoError(t, err)
		require.Len(t, d.Pages, 1)
		for _, item := range d.Pages[0].Items {
			g, ok := item.(*page.Group)
			if !ok || g.ID != "contours" {
				continue
			}
			for _, i := range g.Items {
				if s, ok := i.(page.Stroke); ok {
					for _, line := range s.Lines {
						for _, q := range []page.Point{line[0], line[len(line)-1]} {
							if math.Abs(q.X-at) < 1e-9 {
								ys = append(ys, q.Y)
							}
						}
					}
				}
			}
		}
		slices.Sort(ys)
		return ys
	}
	left, right := edge(x-side, paper), edge(x, 0)
	require.Greater(t, len(left), 5)
	require.Len(t, right, len(left))
	const apart = 0.005 // mm: the lattice between paper and posts is bilinear, 5 mm on the ground
	for i := range left {
		assert.InDelta(t, left[i], right[i], apart)
	}
	_, err = ComposeTile(context.Background(), Plan{Ground: grid}, Tile{Chart: chart, X: x, Y: y, Side: side, Paper: 100})
	assert.ErrorIs(t, err, ErrPlan, "hatching would not go on")
	assert.InDelta(t, 0, math.Mod(paper+TilePattern/2, TilePattern)-TilePattern/2, 1e-9)
}
