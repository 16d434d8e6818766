package sheet

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour"
	"crowline/contour/page"
)

// TestNumberContours: an index line's number stands in a gap of it, breaks the
// lines that crowd it, and turns its top to higher ground, also where the grid
// is stored mirrored.
func TestNumberContours(t *testing.T) {
	t.Parallel()
	frame := page.Rect{Width: 100, Height: 50}
	for _, mirrored := range []bool{false, true} {
		var lines []PageContour
		for i := -4; i <= 4; i++ {
			l := &contour.Line{Number: 25 - i, Value: float64(500 - 20*i), Kind: contour.Intermediate}
			if i == 0 {
				l.Kind = contour.Index
			}
			y := 25 + 0.7*float64(i)
			points := []page.Point{page.At(0, y), page.At(100, y)} // higher ground, up the page, is on the left
			if !mirrored {
				points[0], points[1] = points[1], points[0]
			}
			lines = append(lines, PageContour{Line: l, Points: points, Mirrored: mirrored})
		}
		got := numberContours(lines, frame, DefaultStyle(), Uphill, nil, nil, 0, 0)
		require.Len(t, got.Numbers, 1)
		n := got.Numbers[0]
		assert.Equal(t, "500", n.String)
		assert.InDelta(t, 0, math.Remainder(n.Turn, 360), 1e-9, "upside down")
		assert.Equal(t, DefaultStyle().Index.Color, n.Color)
		half := page.TextWidth("500", page.Regular, contourNumberSize) / 2
		for i, drawn := range got.Drawn {
			away := 0.7 * math.Abs(float64(i-4))
			if away > 0.7*page.CapHeight(contourNumberSize) {
				assert.Len(t, drawn, 1, "line %d is broken", i-4)
				continue
			}
			require.Len(t, drawn, 2, "line %d is whole", i-4)
			for _, piece := range drawn {
				for _, q := range piece {
					assert.Greater(t, math.Abs(q.X-n.At.X), half)
				}
			}
		}
		assert.Empty(t, got.Ticks)
	}
}
