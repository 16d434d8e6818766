package sheet

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour/page"
	"crowline/dem/geodesy"
)

// A panel keeps the sheet's scale and directions wherever it stands on its
// page, and two on one page keep their groups apart.
func TestPanelIsTrueToScale(t *testing.T) {
	t.Parallel()
	a := geodesy.LatLon{Lat: 46.5, Lon: 7.9}
	b, _ := geodesy.Direct(a, 60, 1500)
	centre, _ := geodesy.Direct(a, 60, 750)
	plan := Plan{Scale: 25000, Centre: &centre, Declination: &Declination{East: 3}}
	pg := &page.Page{Width: 210, Height: 297}
	for i, frame := range []page.Rect{page.Box(20, 20, 90, 90), page.Box(60, 160, 100, 80)} {
		panel, err := DrawPanel(context.Background(), pg, plan, frame, []string{"one", "two"}[i],
			[]PanelMark{{Name: "A", At: a}, {Name: "B", At: b}}, [][2]int{{0, 1}})
		require.NoError(t, err)
		assert.Empty(t, panel.Unlabelled)
		panel.ScaleBar(pg, page.At(frame.X, frame.Bottom()+12), 80)
		panel.Norths(pg, page.At(frame.Right()+10, frame.Bottom()), 14)
		p, err := panel.Place(a)
		require.NoError(t, err)
		q, err := panel.Place(b)
		require.NoError(t, err)
		const tol = 0.01 // mm; the grid's scale changes by 2e-6 over the leg, and rounding
		assert.InDelta(t, 60, p.Away(q), tol)
		assert.InDelta(t, frame.Centre().X, (p.X+q.X)/2, tol)
		convergence, err := geodesy.ConvergenceAt(a)
		require.NoError(t, err)
		const tolDeg = 0.002 // the arc-to-chord correction of a 1.5 km line
		assert.InDelta(t, 60-float64(convergence), math.Atan2(q.X-p.X, p.Y-q.Y)*180/math.Pi, tolDeg)
		back, err := panel.m.proj.inverse(p.Add(-frame.Centre().X, -frame.Centre().Y))
		require.NoError(t, err)
		assert.Less(t, geodesy.Inverse(a, back).Distance, 0.001) // m
	}
	seen := map[string]bool{}
	for _, it := range pg.Items {
		if g, ok := it.(*page.Group); ok {
			assert.False(t, seen[g.ID], g.ID)
			seen[g.ID] = true
		}
	}
	assert.True(t, seen["one-letters"] && seen["two-legs"])
}

func TestPanelRefusals(t *testing.T) {
	t.Parallel()
	a := geodesy.LatLon{Lat: 46.5, Lon: 7.9}
	far, _ := geodesy.Direct(a, 60, 9000)
	pg := &page.Page{Width: 210, Height: 297}
	draw := func(marks []PanelMark, legs [][2]int) error {
		_, err := DrawPanel(context.Background(), pg, Plan{Scale: 25000, Centre: &a}, page.Box(20, 20, 90, 90), "x", marks, legs)
		return err
	}
	require.ErrorIs(t, draw([]PanelMark{{Name: "A", At: far}}, nil), ErrPlan)
	require.ErrorIs(t, draw([]PanelMark{{Name: "A", At: a}}, [][2]int{{0, 1}}), ErrPlan)
	require.ErrorIs(t, draw([]PanelMark{{Name: "A", At: a}, {Name: "B", At: a}}, [][2]int{{0, 1}}), ErrPlan)
}
