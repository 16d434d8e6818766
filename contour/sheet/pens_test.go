package sheet

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour/page"
)

// TestNoLineIsTooThinToPrint: lines of 0.08 mm were ruled in profiles and
// skylines, and pens that are scaled could come out thinner still. Every stroke
// of a sheet, a skyline and a card is as wide as an office printer can draw,
// with the pens as they are and with pens far too thin.
func TestNoLineIsTooThinToPrint(t *testing.T) {
	t.Parallel()
	thin := func(p page.Pen) page.Pen {
		p.Width = 0.03
		return p
	}
	d := DefaultStyle()
	hair := Style{Intermediate: thin(d.Intermediate), Index: thin(d.Index), Supplementary: thin(d.Supplementary), Grid: thin(d.Grid),
		Magnetic: thin(d.Magnetic), Leg: thin(d.Leg), Sight: thin(d.Sight)}
	for _, style := range []Style{{}, hair} {
		plan := demoPlan(t)
		plan.Style = style
		strip := skyline()
		skylineDrawn, err := strip.Strip()
		require.NoError(t, err)
		card, err := demoCard(5).Document()
		require.NoError(t, err)
		panel := &page.Page{Width: 200, Height: 200}
		_, err = DrawPanel(context.Background(), panel, plan, page.Box(50, 50, 88, 88), "panel", nil, nil)
		require.NoError(t, err)
		pages := append([]*page.Page{panel}, compose(t, plan).Pages...)
		pages = append(append(pages, skylineDrawn.Pages...), card.Pages...)
		strokes := 0
		var walk func(items []page.Item)
		walk = func(items []page.Item) {
			for _, it := range items {
				switch v := it.(type) {
				case *page.Group:
					walk(v.Items)
				case page.Stroke:
					strokes++
					assert.GreaterOrEqual(t, v.Width, page.LeastWidth)
				}
			}
		}
		for _, p := range pages {
			walk(p.Items)
		}
		assert.Greater(t, strokes, 100)
	}
}
