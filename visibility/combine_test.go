package visibility

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestCombine: counts and bits are what each view says, post by post.
func TestCombine(t *testing.T) {
	t.Parallel()
	g := sightGrid(60, 50, hills(21))
	var views []*Viewed
	for _, at := range [][2]float64{{10, 10}, {40, 30}, {52.5, 8.25}} {
		place, err := g.Place(at[0], at[1])
		require.NoError(t, err)
		v, err := Viewshed(context.Background(), g, NewObserver(place), ViewshedOptions{Conditions: DefaultConditions(), Radius: 1800})
		require.NoError(t, err)
		views = append(views, v)
	}
	c, err := Combine(context.Background(), g, views)
	require.NoError(t, err)
	total, sum := int64(0), int64(0)
	for n, posts := range c.SeenBy {
		total += posts
		sum += int64(n) * posts
	}
	seen := int64(0)
	for k, v := range views {
		seen += v.Summary.Visible
		for i, verdict := range v.Verdicts {
			at := (i/v.Window.Columns+v.Window.Row-c.Window.Row)*c.Window.Columns + i%v.Window.Columns + v.Window.Column - c.Window.Column
			assert.Equal(t, verdict == Visible, c.Which[at]>>k&1 == 1)
		}
	}
	assert.Equal(t, seen, sum)
	verdicts, mixed := c.Verdicts(views), 0
	for i, got := range verdicts {
		want := map[Verdict]int{}
		for _, v := range views {
			column, row := i%c.Window.Columns+c.Window.Column-v.Window.Column, i/c.Window.Columns+c.Window.Row-v.Window.Row
			if column >= 0 && column < v.Window.Columns && row >= 0 && row < v.Window.Rows {
				want[v.Verdicts[row*v.Window.Columns+column]]++
			}
		}
		if want[Visible] > 0 && want[Hidden] > 0 {
			mixed++
		}
		switch {
		case want[Visible] > 0:
			assert.Equal(t, Visible, got)
		case want[Unknown] > 0:
			assert.Equal(t, Unknown, got)
		case want[Hidden] > 0:
			assert.Equal(t, Hidden, got)
		default:
			assert.Equal(t, OutOfRange, got)
		}
	}
	assert.Positive(t, mixed, "posts that one sees and another does not")
	assert.Positive(t, c.SeenBy[1])
	assert.LessOrEqual(t, total, int64(len(c.Count)))

	_, err = Combine(context.Background(), g, nil)
	assert.Error(t, err)
}

// TestNotKnownIsCountedApartFromSeenByNone: a post in a void, or behind one, is
// not a post that nobody sees.
func TestNotKnownIsCountedApartFromSeenByNone(t *testing.T) {
	t.Parallel()
	g := sightGrid(60, 50, hills(21))
	for r := 20; r < 24; r++ {
		for c := 20; c < 24; c++ {
			g.Elevations[r*g.Columns+c] = float32(math.NaN())
		}
	}
	var views []*Viewed
	for _, at := range [][2]float64{{10, 10}, {40, 30}} {
		place, err := g.Place(at[0], at[1])
		require.NoError(t, err)
		v, err := Viewshed(t.Context(), g, NewObserver(place), ViewshedOptions{Conditions: DefaultConditions()})
		require.NoError(t, err)
		views = append(views, v)
	}
	c, err := Combine(t.Context(), g, views)
	require.NoError(t, err)
	want := make([]int64, 3)
	for i := range views[0].Verdicts { // both are of the whole grid
		if views[0].Verdicts[i] == Unknown || views[1].Verdicts[i] == Unknown {
			want[c.Count[i]]++
		}
	}
	assert.Equal(t, want, c.NotKnown)
	assert.GreaterOrEqual(t, want[0], int64(16), "the void itself at least")
	assert.Greater(t, c.SeenBy[0], c.NotKnown[0])
}
