package sheet

import (
	"context"
	"errors"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour/page"
	"crowline/dem"
	"crowline/dem/units"
)

// TestEveryFilledPostHasADotNearIt, however small its void is on paper, and
// no dot stands where nothing is filled.
func TestEveryFilledPostHasADotNearIt(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(7, 1))
	frame := page.Box(20, 30, 120, 90)
	for _, half := range []float64{0.05, 0.4, 2, 9} { // mm, half a post's square
		var posts []page.Point
		for range 60 {
			posts = append(posts, page.At(frame.X+random.Float64()*frame.Width, frame.Y+random.Float64()*frame.Height))
		}
		on := func(q page.Point) bool {
			for _, p := range posts {
				if (page.Box(p.X-half, p.Y-half, 2*half, 2*half)).Contains(q) {
					return true
				}
			}
			return false
		}
		dots := filledDots(frame, page.At(frame.X, frame.Y), 0, on, posts)
		for _, p := range posts {
			near := false
			for _, q := range dots {
				near = near || p.Away(q) <= filledWithin
			}
			assert.True(t, near, "half %v", half)
		}
		for _, q := range dots {
			assert.True(t, on(q), "half %v", half)
			assert.True(t, frame.Contains(q))
		}
	}
	assert.Empty(t, filledDots(frame, page.At(frame.X, frame.Y), 0, func(page.Point) bool { return true }, nil))
	assert.Empty(t, filledDots(frame, page.At(frame.X, frame.Y), 0, func(page.Point) bool { return false }, []page.Point{page.At(0, 0)}), "outside the frame")
}

// TestDotsOfTilesAreOneLattice: two tiles side by side have the dots that one frame
// over both has, and what their common edge cuts is in both.
func TestDotsOfTilesAreOneLattice(t *testing.T) {
	t.Parallel()
	all := func(page.Point) bool { return true }
	far := []page.Point{page.At(-100, -100)} // there is filled ground, but not here
	const side = 20 * TilePattern
	origin := page.At(-3.3, -7.7)
	both := filledDots(page.Box(0, 0, 2*side, side), origin, filledRing, all, far)
	for k, tile := range []page.Rect{page.Box(0, 0, side, side), page.Box(side, 0, side, side)} {
		var want []page.Point
		for _, q := range both {
			if page.Box(tile.X-filledRing, tile.Y-filledRing, side+2*filledRing, side+2*filledRing).Contains(q) {
				want = append(want, q)
			}
		}
		got := filledDots(tile, origin, filledRing, all, far)
		require.NotEmpty(t, want)
		require.Len(t, got, len(want), "tile %d", k)
		for i := range got {
			assert.InDelta(t, 0, got[i].Away(want[i]), 1e-9)
		}
	}
}

func withFilled(g *dem.Grid, w dem.Window) *dem.Grid {
	g.Filled = make([]bool, len(g.Elevations))
	for r := w.Row; r < w.Row+w.Rows; r++ {
		for c := w.Column; c < w.Column+w.Columns; c++ {
			g.Filled[r*g.Columns+c] = true
		}
	}
	return g
}

func groupOf(p *page.Page, id string) *page.Group {
	for _, it := range p.Items {
		if g, ok := it.(*page.Group); ok && g.ID == id && len(g.Items) > 0 {
			return g
		}
	}
	return nil
}

// TestFilledGroundIsDottedAndExplained on a sheet and a map of seen ground;
// without filled posts there is no sign and no word of it, and the sheet's
// map does not change.
func TestFilledGroundIsDottedAndExplained(t *testing.T) {
	t.Parallel()
	plain := demoGround(t)
	filled := withFilled(demoGround(t), dem.Window{Column: 200, Row: 170, Columns: 6, Rows: 6})
	centre, err := plain.Place(202.5, 172.5)
	require.NoError(t, err)
	dotted := func(p *page.Page) int {
		g := groupOf(p, "filled")
		if g == nil {
			return 0
		}
		n := 0
		for _, it := range g.Items {
			if f, ok := it.(page.Fill); ok && f.Color == page.Vermillion {
				n += len(f.Rings)
			}
		}
		return n
	}
	said := func(p *page.Page) bool {
		return strings.Contains(strings.Join(pageTexts(p), " "), "Filled in from the rim")
	}
	for _, c := range []struct {
		ground *dem.Grid
		want   bool
	}{{filled, true}, {plain, false}} {
		for _, north := range []North{GridNorth, TrueNorth} {
			d, err := Compose(context.Background(), Plan{Scale: 25000, North: north, Centre: &centre, Ground: c.ground, Filled: c.want})
			require.NoError(t, err)
			assert.Equal(t, c.want, said(d.Pages[0]))
			if !c.want {
				assert.Zero(t, dotted(d.Pages[0]))
				continue
			}
			// 7 x 7 cells of 74.7 by 92.5 m, as the Cumberland posts stand,
			// at 1:25 000, and 1.4 mm square for each dot
			cells := 7 * 74.7 * 7 * 92.5 / 25 / 25
			assert.InDelta(t, cells/filledGap/filledGap, dotted(d.Pages[0]), 0.15*cells/filledGap/filledGap)
			checkPage(t, d.Pages[0])
		}
	}
}

// TestFilledProfile: the stretch is dotted, one dot at least however short
// it is, and the key says so.
func TestFilledProfile(t *testing.T) {
	t.Parallel()
	dots := func(filled ...[2]float64) int {
		d := hump()
		d.Filled = filled
		p := &page.Page{Width: 200, Height: 100}
		_, err := d.Draw(p, page.Box(0, 0, 200, 100), units.Metric, Style{})
		require.NoError(t, err)
		n := 0
		for _, it := range p.Items {
			if f, ok := it.(page.Fill); ok && f.Color == page.Vermillion {
				n += len(f.Rings)
			}
		}
		assert.Equal(t, len(filled) > 0, strings.Contains(d.Key(), "filled in from the rim"))
		return n
	}
	assert.Zero(t, dots())
	assert.Equal(t, 1, dots([2]float64{500, 500.1}))
	length := hump().Distances[len(hump().Distances)-1]
	width := 200.0 - 11 - 3 // mm, the profile's box
	assert.InDelta(t, width/2/filledGap, dots([2]float64{0, length / 2}), 1)
}

// torn is ground of which a read has failed.
type torn struct{ *dem.Grid }

var errTorn = errors.New("the file is torn off")

func (torn) Err() error { return errTorn }

// TestGroundThatCouldNotBeReadIsNotDrawn: it would be hatched as a void.
func TestGroundThatCouldNotBeReadIsNotDrawn(t *testing.T) {
	t.Parallel()
	g := demoGround(t)
	centre, err := g.Place(202.5, 172.5)
	require.NoError(t, err)
	_, err = Compose(t.Context(), Plan{Scale: 25000, Centre: &centre, Ground: torn{g}})
	require.ErrorIs(t, err, errTorn)
	_, err = DrawPanel(t.Context(), &page.Page{Width: 100, Height: 100}, Plan{Scale: 25000, Centre: &centre, Ground: torn{g}}, page.Box(10, 10, 50, 50), "a", nil, nil)
	require.ErrorIs(t, err, errTorn)
}
