package visibility

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// walled is level ground at 100 m with a wall of 40 m across it at column 30,
// part of which is filled posts.
func walled(filledRows func(row int) bool) *dem.Grid {
	const n = 61
	g := &dem.Grid{
		Frame:      dem.Frame{Columns: n, Rows: n, X0: -84.3, Y0: 36.4, DX: 1.0 / 3600, DY: -1.0 / 3600, CRS: geodesy.WGS84},
		Elevations: make([]float32, n*n), Filled: make([]bool, n*n),
	}
	for i := range g.Elevations {
		g.Elevations[i] = 100
		if i%n == 30 {
			g.Elevations[i] = 140
			g.Filled[i] = filledRows(i / n)
		}
	}
	return g
}

func onPost(t *testing.T, g *dem.Grid, column, row float64) Observer {
	t.Helper()
	p, err := g.Place(column, row)
	require.NoError(t, err)
	return NewObserver(p)
}

// TestWhatRestsOnFilledPosts: behind a wall whose every post was filled
// nothing would be known without the filling; all of it rests on it. Behind a
// measured wall nothing does.
func TestWhatRestsOnFilledPosts(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		filled func(row int) bool
		rest   int64
		posts  int64
	}{
		{"all of the wall", func(int) bool { return true }, 30 * 61, 61},
		{"none of it", func(int) bool { return false }, 0, 0},
	} {
		g := walled(c.filled)
		v, err := Viewshed(t.Context(), g, onPost(t, g, 10, 30), DefaultViewshedOptions())
		require.NoError(t, err)
		s, err := SummariseFilled(t.Context(), g, v)
		require.NoError(t, err)
		assert.Equal(t, c.posts, s.Posts(), c.name)
		assert.Equal(t, c.posts, s.Visible, "%s: the wall itself is seen", c.name)
		assert.Equal(t, c.rest, s.HiddenRest, c.name)
		assert.Zero(t, s.VisibleRest, c.name)
	}
	// an observer on filled ground rests on it with all that is answered
	g := walled(func(row int) bool { return row == 30 })
	v, err := Viewshed(t.Context(), g, onPost(t, g, 30, 30), DefaultViewshedOptions())
	require.NoError(t, err)
	s, err := SummariseFilled(t.Context(), g, v)
	require.NoError(t, err)
	assert.Equal(t, v.Summary.Visible-s.Visible, s.VisibleRest)
	assert.Equal(t, v.Summary.Hidden-s.Hidden, s.HiddenRest)
	_, err = SummariseFilled(t.Context(), walled(func(int) bool { return true }), &Viewed{Window: dem.Window{Columns: 3, Rows: 99}})
	require.Error(t, err)
}

// TestRestingOnFilledPostsAgainstTheReference: rough ground with scattered
// filled posts, every sight line walked with and without them, also within a
// radius and a sector.
func TestRestingOnFilledPostsAgainstTheReference(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(12, 4))
	for round := range 6 {
		g := walled(func(int) bool { return false })
		for i := range g.Elevations {
			g.Elevations[i] = float32(100 + 30*random.Float64())
			g.Filled[i] = random.IntN(200) == 0
		}
		o := onPost(t, g, 20.3+20*random.Float64(), 20.4+20*random.Float64())
		opts := DefaultViewshedOptions()
		if round%2 == 1 {
			opts.Radius = 500
			opts.Sector = &Sector{From: 30, To: 250}
		}
		v, err := Viewshed(t.Context(), g, o, opts)
		require.NoError(t, err)
		s, err := SummariseFilled(t.Context(), g, v)
		require.NoError(t, err)
		column, row, err := g.Locate(o.Place)
		require.NoError(t, err)
		with, err := Reference(t.Context(), g, o, opts)
		require.NoError(t, err)
		want := FilledSummary{Farthest: s.Farthest}
		var without *Viewed
		if !dem.FilledAt(g, column, row) {
			without, err = Reference(t.Context(), g.Unfilled(), o, opts)
			require.NoError(t, err)
		}
		for i, verdict := range with.Verdicts {
			filled := g.IsFilled(with.Window.Column+i%with.Window.Columns, with.Window.Row+i/with.Window.Columns)
			rests := without == nil || without.Verdicts[i] == Unknown
			switch {
			case verdict == Visible && filled:
				want.Visible++
			case verdict == Hidden && filled:
				want.Hidden++
			case verdict == Unknown && filled:
				want.Unknown++
			case verdict == Visible && rests:
				want.VisibleRest++
			case verdict == Hidden && rests:
				want.HiddenRest++
			}
		}
		assert.Equal(t, want, s, "round %d", round)
		require.Positive(t, s.Posts())
	}
}

// TestSkylineOnFilledPosts: where the wall that makes the skyline is filled
// the samples say so, and nowhere else.
func TestSkylineOnFilledPosts(t *testing.T) {
	t.Parallel()
	g := walled(func(row int) bool { return row >= 25 && row < 36 })
	o := onPost(t, g, 10, 30)
	h, err := Skyline(t.Context(), g, o, DefaultSkylineOptions())
	require.NoError(t, err)
	marked := 0
	for _, p := range h.Points {
		if math.IsNaN(float64(p.Angle)) {
			assert.False(t, p.Filled)
			continue
		}
		column, row, err := g.Locate(p.Place)
		require.NoError(t, err)
		const rounding = 1e-3 // posts: the plane and the grid part by less here
		onWall := math.Abs(column-30) < rounding
		switch {
		case onWall && row > 24+rounding && row < 36-rounding:
			assert.True(t, p.Filled, "bearing %v", p.Bearing)
			marked++
		case !onWall || row < 24-rounding || row > 36+rounding:
			assert.False(t, p.Filled, "bearing %v", p.Bearing)
		}
	}
	assert.Positive(t, marked)
}
