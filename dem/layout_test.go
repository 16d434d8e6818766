package dem

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

func TestLocateUndoesPlace(t *testing.T) {
	t.Parallel()
	southUp := lonLatFrame(300, 200)
	southUp.DY = -southUp.DY
	for name, f := range map[string]Frame{"lon lat": lonLatFrame(300, 200), "south up": southUp, "utm": utmFrame(t, 300, 200)} {
		random := rand.New(rand.NewPCG(11, 11))
		for range 200 {
			c, r := random.Float64()*400-50, random.Float64()*300-50
			p, err := f.Place(c, r)
			require.NoError(t, err)
			gotC, gotR, err := f.Locate(p)
			require.NoError(t, err)
			assert.InDelta(t, c, gotC, snap, name)
			assert.InDelta(t, r, gotR, snap, name)
			c, r = math.Round(c), math.Round(r)
			p, err = f.Place(c, r)
			require.NoError(t, err)
			gotC, gotR, err = f.Locate(p)
			require.NoError(t, err)
			assert.True(t, c == gotC && r == gotR, "whole stays whole: %v %v", gotC, gotR)
		}
	}
}

func TestSubFrameHasTheSamePosts(t *testing.T) {
	t.Parallel()
	f := utmFrame(t, 300, 200)
	w := Window{Column: 17, Row: 29, Columns: 50, Rows: 60}
	s := f.Sub(w)
	for _, at := range [][2]float64{{0, 0}, {49, 59}, {12.5, 3.25}} {
		p, err := s.Place(at[0], at[1])
		require.NoError(t, err)
		q, err := f.Place(at[0]+17, at[1]+29)
		require.NoError(t, err)
		assert.Less(t, geodesy.Inverse(p, q).Distance, 1e-6) // m, rounding
	}
}

func TestWindowIntersect(t *testing.T) {
	t.Parallel()
	a := Window{Column: 0, Row: 0, Columns: 10, Rows: 10}
	cases := []struct{ b, want Window }{
		{Window{5, 5, 10, 10}, Window{5, 5, 5, 5}},
		{Window{-5, -5, 7, 7}, Window{0, 0, 2, 2}},
		{a, a},
	}
	for _, c := range cases {
		assert.Equal(t, c.want, a.Intersect(c.b))
		assert.Equal(t, c.want, c.b.Intersect(a))
	}
	assert.True(t, a.Intersect(Window{10, 0, 3, 3}).Empty())
	assert.True(t, a.Intersect(Window{-9, -9, 3, 3}).Empty())
}

// TestSpacing against the lengths of a second of arc at 36 degrees: 30.82 m
// along the meridian and 25.04 m along the parallel, from the radii of
// curvature (Snyder 1987, equations 4-18 and 4-20).
func TestSpacing(t *testing.T) {
	t.Parallel()
	f := Frame{Columns: 10, Rows: 10, X0: -84, Y0: 36, DX: 1.0 / 3600, DY: -1.0 / 3600, CRS: geodesy.WGS84}
	m, n := geodesy.RadiiOfCurvature(36)
	second := math.Pi / 180 / 3600
	along, down, err := f.Spacing(0, 0)
	require.NoError(t, err)
	const tolerance = 1e-3 // m; the radius changes over the cell
	assert.InDelta(t, n*geodesy.Degrees(36).Cos()*second, along, tolerance)
	assert.InDelta(t, m*second, down, tolerance)
	assert.InDelta(t, 25.04, along, 0.01)
	assert.InDelta(t, 30.82, down, 0.01)
}

func TestExtent(t *testing.T) {
	t.Parallel()
	f := lonLatFrame(1201, 601)
	e, err := f.Extent()
	require.NoError(t, err)
	const tolerance = 1e-9 // degrees
	assert.InDelta(t, -84.4, float64(e.West), tolerance)
	assert.InDelta(t, -83.4, float64(e.East), tolerance)
	assert.InDelta(t, 36.6, float64(e.North), tolerance)
	assert.InDelta(t, 36.1, float64(e.South), tolerance)
	across := Frame{Columns: 21, Rows: 3, X0: 179, Y0: 1, DX: 0.1, DY: -1, CRS: geodesy.WGS84}
	e, err = across.Extent()
	require.NoError(t, err)
	assert.InDelta(t, 179, float64(e.West), tolerance)
	assert.InDelta(t, -179, float64(e.East), tolerance)
	assert.Less(t, e.East, e.West)
	// a projected frame's extent holds every one of its posts
	u := utmFrame(t, 60, 50)
	e, err = u.Extent()
	require.NoError(t, err)
	for r := range 50 {
		for c := range 60 {
			p, err := u.Place(float64(c), float64(r))
			require.NoError(t, err)
			const bulge = 1e-6 // degrees, of the border between the points looked at
			assert.True(t, p.Lat >= e.South-bulge && p.Lat <= e.North+bulge && p.Lon >= e.West-bulge && p.Lon <= e.East+bulge)
		}
	}
}
