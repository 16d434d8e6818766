package profile

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// TestFilledStretchesAreWhereTheGroundWouldBeVoid: along legs over a grid
// with filled posts, the filled stretches are those the same leg has no
// elevation for when the posts are void, and nothing else changes.
func TestFilledStretchesAreWhereTheGroundWouldBeVoid(t *testing.T) {
	t.Parallel()
	const n = 60
	f := dem.Frame{Columns: n, Rows: n, X0: -84.4, Y0: 36.5, DX: 1.0 / 3600, DY: -1.0 / 3600, CRS: geodesy.WGS84}
	g := &dem.Grid{Frame: f, Elevations: make([]float32, n*n), Filled: make([]bool, n*n)}
	for i := range g.Elevations {
		c, r := i%n, i/n
		g.Elevations[i] = float32(300 + 3*c - 2*r)
		g.Filled[i] = c >= 20 && c < 24 && r >= 10 && r < 50 || c == 40 && r == 30
	}
	place := func(c, r float64) geodesy.LatLon {
		p, err := f.Place(c, r)
		require.NoError(t, err)
		return p
	}
	for _, leg := range [][4]float64{
		{5, 30, 50, 30}, {5.3, 12.7, 55.2, 44.1}, {50, 58, 50, 2}, {22, 5, 22, 55}, {21, 30, 55, 30}, {5, 5, 40, 30}, {30.5, 20.5, 36.5, 25.5},
	} {
		from, to := place(leg[0], leg[1]), place(leg[2], leg[3])
		with, err := Trace(t.Context(), g, from, to)
		require.NoError(t, err)
		var length float64
		for _, s := range with.Filled() {
			assert.Less(t, s.From, s.To)
			length += s.To - s.From
			for _, at := range []float64{s.From + 1e-3, (s.From + s.To) / 2, s.To - 1e-3} {
				assert.True(t, with.FilledAt(at), "%v: %v", leg, at)
			}
		}
		assert.Equal(t, with.Points[0].Filled, with.FilledAt(0))
		assert.Equal(t, dem.FilledAt(g, leg[2], leg[3]), with.Points[len(with.Points)-1].Filled, "%v", leg)
		if g.IsFilled(int(leg[0]), int(leg[1])) {
			assert.True(t, with.Points[0].Filled)
			continue // on a void there is no start
		}
		without, err := Trace(t.Context(), g.Unfilled(), from, to)
		require.NoError(t, err)
		require.Len(t, without.Points, len(with.Points))
		for i, p := range without.Points {
			assert.Equal(t, math.IsNaN(p.Elevation), with.Points[i].Filled, "%v: point %d", leg, i)
		}
		assert.InDelta(t, without.Unknown(), length, 1e-6, "%v", leg) // m, rounding
		assert.Nil(t, without.Filled())
		assert.InDelta(t, without.Unknown(), with.Unfilled().Unknown(), 0)
		assert.Zero(t, with.Unknown(), "the leg itself is not changed")
		assert.Same(t, without, without.Unfilled())
		assert.False(t, without.FilledAt(100))
	}
	leg, err := Trace(t.Context(), g, place(5, 30), place(50, 30))
	require.NoError(t, err)
	assert.Len(t, leg.Filled(), 2)
	for _, nowhere := range []float64{-1, math.NaN(), leg.Distance + 1} {
		assert.False(t, leg.FilledAt(nowhere))
	}
}
