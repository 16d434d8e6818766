package sheet

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour/page"
)

// writings collects what is written on a page.
func writings(items []page.Item) (out []page.Text) {
	for _, it := range items {
		switch v := it.(type) {
		case *page.Group:
			out = append(out, writings(v.Items)...)
		case page.Text:
			out = append(out, v)
		}
	}
	return out
}

// TestTheProfileIsAsWideAsTheMap: on every paper and way up, and for a short steep
// leg, whose profile is drawn taller so that its slopes are not flattened
// (2026-12: it was drawn narrower than the map, and beside the scale bars on
// paper that lies across).
func TestTheProfileIsAsWideAsTheMap(t *testing.T) {
	t.Parallel()
	for _, paper := range []page.Paper{page.A4.Portrait(), page.A4.Landscape(), page.Letter.Portrait(), page.Letter.Landscape(), page.A3.Landscape()} {
		for _, relief := range []float64{0, 100, 500} {
			p := demoPlan(t)
			p.Paper = paper
			d := hump()
			length := d.Distances[len(d.Distances)-1]
			for i := range d.Elevations { // as high as told, over the length of the leg
				d.Elevations[i] = 300 + relief*float64(i)/100
			}
			d.Sight, d.Marks, d.Hidden, d.Levels = nil, nil, nil, nil
			p.Profile, p.ProfileRelief = d, relief
			filled, err := p.filled()
			require.NoError(t, err)
			pages, err := filled.pages()
			require.NoError(t, err)
			l := pages[0]
			doc := compose(t, p)
			var box page.Rect
			for _, s := range strokes(groupOf(doc.Pages[0], "profile").Items) {
				if s.Closed && s.Width == 0.2 {
					box = page.Box(s.Lines[0][0].X, s.Lines[0][0].Y, s.Lines[0][1].X-s.Lines[0][0].X, s.Lines[0][2].Y-s.Lines[0][0].Y)
				}
			}
			const same = 1e-9 // mm
			assert.InDelta(t, l.frame.X, box.X, same, "%s", paper.Name)
			assert.InDelta(t, l.frame.Width, box.Width, same, "%s, %v m in %v m", paper.Name, relief, length)
			assert.Greater(t, box.Y, l.frame.Bottom(), "under the map")
		}
	}
}

// TestAShortSteepProfileIsTaller: as tall as its slopes need.
func TestAShortSteepProfileIsTaller(t *testing.T) {
	t.Parallel()
	p := demoPlan(t)
	tall := func(relief float64) float64 {
		p.ProfileRelief = relief
		filled, err := p.filled()
		require.NoError(t, err)
		pages, err := filled.pages()
		require.NoError(t, err)
		return pages[0].profile.Height
	}
	assert.Equal(t, tall(0), tall(10))
	assert.Greater(t, tall(2000), tall(0))
	assert.Less(t, tall(1e5), 0.25*page.A4.Height)
}

// TestAPlainSheetIsToTraceOn: contours all alike, a few numbers of two levels or
// more, upright, and no word of the interval, in the file's description either.
func TestAPlainSheetIsToTraceOn(t *testing.T) {
	t.Parallel()
	p := demoPlan(t)
	p.Leg, p.Profile, p.Plain, p.ContourReading = nil, nil, true, TowardReader
	doc := compose(t, p)
	pg := doc.Pages[0]
	pens := map[float64]page.Color{}
	for _, s := range strokes(groupOf(pg, "contours").Items) {
		if s.Dash == nil && s.Width < 0.18 {
			pens[s.Width] = s.Color
		}
	}
	require.Len(t, pens, 1, "one pen for all contours")
	numbers, levels := writings(groupOf(pg, "contour-numbers").Items), map[string]bool{}
	for _, n := range numbers {
		levels[n.String] = true
		assert.LessOrEqual(t, n.Turn, 90.0+1e-9)
		assert.GreaterOrEqual(t, n.Turn, -90.0-1e-9)
	}
	assert.LessOrEqual(t, len(numbers), plainNumbers)
	assert.GreaterOrEqual(t, len(levels), 2)
	filled, err := p.filled()
	require.NoError(t, err)
	said := (&blocks{plan: &filled}).interval()
	for _, text := range writings(pg.Items) {
		assert.NotContains(t, text.String, "Index")
		if strings.Contains(text.String, "nterval") {
			assert.Equal(t, said, text.String)
		}
	}
	assert.NotContains(t, doc.Subject+doc.Title, "nterval")
}
