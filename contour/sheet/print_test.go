package sheet

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour"
	"crowline/contour/page"
)

// TestPrintedAt600DotsAnInch: a sheet rasterised in grey, and in black alone, is
// measured as a ruler would: the check bar, the grid, the widths of lines, which
// are not lost in black, and the height of contour numbers.
func TestPrintedAt600DotsAnInch(t *testing.T) {
	t.Parallel()
	const dots = 600 / 25.4 // to the millimetre
	for _, plain := range []bool{false, true} {
		p := planOn(t, demoGround(t), contour.Levels{Interval: 20})
		at := ll(36.31, -84.23)
		p.Centre, p.Plain = &at, plain
		d := compose(t, p)
		var buf bytes.Buffer
		require.NoError(t, d.WritePNG(&buf, 0, 600))
		picture, err := png.Decode(&buf)
		require.NoError(t, err)
		size := picture.Bounds()
		grey := image.NewGray(size)
		for y := range size.Dy() {
			for x := range size.Dx() {
				grey.SetGray(x, y, color.GrayModel.Convert(picture.At(x, y)).(color.Gray))
			}
		}
		black := func(x, y float64) bool { return grey.GrayAt(int(math.Floor(x)), int(math.Floor(y))).Y < 128 }
		pg := d.Pages[0]
		const ruler = 0.1 // mm
		// the bar
		bars := 0
		for _, s := range strokes(groupOf(pg, "scale").Items) {
			if a, b := s.Lines[0][0], s.Lines[0][len(s.Lines[0])-1]; a.Y == b.Y && math.Abs(a.Away(b)-100) < 1e-9 {
				first, last := math.Inf(1), math.Inf(-1)
				for x := (a.X - 3) * dots; x < (b.X+3)*dots; x++ {
					if black(x, a.Y*dots) {
						first, last = min(first, x), max(last, x+1)
					}
				}
				assert.InDelta(t, 100+s.Width, (last-first)/dots, ruler)
				bars++
			}
		}
		assert.Equal(t, 1, bars)
		// the grid
		var middles []float64
		var frame page.Rect
		filled, err := p.filled()
		require.NoError(t, err)
		pages, err := filled.pages()
		require.NoError(t, err)
		frame = pages[0].frame
		wide := 0
		for x := (frame.X + 1) * dots; x < (frame.Right()-1)*dots; x++ {
			dark, n := 0, 0
			for y := (frame.Y + 1) * dots; y < (frame.Bottom()-1)*dots; y += 7 {
				n++
				if black(x, y) {
					dark++
				}
			}
			if dark*10 > n*9 {
				wide++
			} else if wide > 0 {
				assert.GreaterOrEqual(t, float64(wide)/dots, 0.1-0.5/dots, "a grid line's width")
				middles, wide = append(middles, (x-float64(wide)/2)/dots), 0
			}
		}
		require.GreaterOrEqual(t, len(middles), 3)
		for i := 1; i < len(middles); i++ {
			assert.InDelta(t, 40/pages[0].proj.pointScale, middles[i]-middles[i-1], ruler)
		}
		// contours: not lost in black, and no thinner than 0.1 mm
		widths := map[float64][]float64{}
		lost, looked := 0, 0
		for _, s := range strokes(groupOf(pg, "contours").Items) {
			for _, line := range s.Lines {
				for i := 1; i < len(line); i += 2 {
					a, b := line[i-1], line[i]
					if a.Away(b) < 0.05 {
						continue
					}
					q, side := between(a, b, 0.5), b.Minus(a).Times(1/a.Away(b)).Left()
					looked++
					n := 0.0
					for o := -1.0; o <= 1; o += 1.0 / 8 / dots {
						if c := q.Step(side, o); black(c.X*dots, c.Y*dots) && math.Abs(o) < 0.6*s.Width {
							n += 1.0 / 8 / dots
						}
					}
					if n == 0 {
						lost++
					}
					widths[s.Width] = append(widths[s.Width], n)
				}
			}
		}
		require.Greater(t, looked, 1000)
		assert.Less(t, float64(lost), 0.001*float64(looked), "contours lost in black")
		var medians []float64
		for _, list := range widths {
			slices.Sort(list)
			medians = append(medians, list[len(list)/2])
		}
		slices.Sort(medians)
		assert.GreaterOrEqual(t, medians[0], 0.1)
		if !plain {
			assert.Greater(t, medians[len(medians)-1], 2*medians[0], "index lines stand out by width alone")
		}
		// numbers
		measured := 0
		for _, it := range groupOf(pg, "contour-numbers").Items {
			n := it.(page.Text)
			sin, cos := math.Sincos(n.Turn * math.Pi / 180)
			along, up := page.At(cos, sin), page.At(sin, -cos)
			half, tall := page.TextWidth(n.String, n.Face, n.Size)/2, page.CapHeight(n.Size)
			low, high := math.Inf(1), math.Inf(-1)
			for u := -half; u <= half; u += 0.5 / dots {
				for v := -0.65 * tall; v <= 0.65*tall; v += 0.5 / dots {
					if q := n.At.Step(along, u).Step(up, v); black(q.X*dots, q.Y*dots) {
						low, high = min(low, v), max(high, v)
					}
				}
			}
			assert.GreaterOrEqual(t, high-low, 1.5, "the number %s", n.String)
			measured++
		}
		assert.Greater(t, measured, 1)
	}
}
