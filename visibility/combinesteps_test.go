package visibility

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestStepsOfSeveralObserversAreTheBestOfAny: 2026-12-01. A map of several places
// showed bare verdicts, where that of one shows what the data's error leaves open.
func TestStepsOfSeveralObserversAreTheBestOfAny(t *testing.T) {
	t.Parallel()
	g := fractal(t, 90, 7)
	var views []*Viewed
	var likely []*ViewedLikelihood
	for _, at := range [][2]float64{{20, 30}, {60, 55}, {45, 80}} {
		opts := DefaultViewshedOptions()
		opts.Radius = 350
		v, err := Viewshed(t.Context(), g, observerAt(t, g, at[0], at[1]), opts)
		require.NoError(t, err)
		l, err := HowSureViewed(t.Context(), g, v, Draws{VerticalError: 4, Samples: 30}, nil)
		require.NoError(t, err)
		views, likely = append(views, v), append(likely, l)
	}
	c, err := Combine(t.Context(), g, views)
	require.NoError(t, err)
	steps, clear := c.Steps(views, likely)
	counts := map[Step]int{}
	for i, step := range steps {
		column, row := c.Window.Column+i%c.Window.Columns, c.Window.Row+i/c.Window.Columns
		asked, seen, within := 0, 0, 0
		for k, v := range views {
			x, y := column-v.Window.Column, row-v.Window.Row
			if x < 0 || y < 0 || x >= v.Window.Columns || y >= v.Window.Rows {
				continue
			}
			switch likely[k].Steps[y*v.Window.Columns+x] {
			case StepOutOfRange:
				continue
			case StepClear:
				seen++
			case StepWithinError:
				within++
			}
			asked++
		}
		want := StepHidden
		switch {
		case seen > 0:
			want = StepClear
		case within > 0:
			want = StepWithinError
		case asked == 0:
			want = StepOutOfRange
		}
		require.Equal(t, want, step)
		require.Equal(t, seen, int(clear[i]))
		counts[step]++
	}
	for _, step := range []Step{StepOutOfRange, StepClear, StepWithinError, StepHidden} {
		assert.Greater(t, counts[step], 50, "%v", step)
	}
}
