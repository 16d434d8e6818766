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

// roundTrip is a route of four legs round a square of some kilometres.
func roundTrip(side float64) Plan {
	plane := geodesy.NewPlane(geodesy.LatLon{Lat: 46, Lon: 7.5})
	var turns []Place
	for i, at := range [][2]float64{{0, 0}, {side, 200}, {side + 300, side}, {100, side - 400}, {0, 0}} {
		turns = append(turns, Place{Name: []string{"Camp", "Col", "Knob", "Ford", "Camp"}[i], At: plane.Inverse(at[0], at[1]), Elevation: math.NaN()})
	}
	p := Plan{Scale: 25000, Paper: page.A4}
	for i := range turns[1:] {
		p.Route = append(p.Route, Leg{From: turns[i], To: turns[i+1]})
	}
	return p
}

// A route that fits is one page without a page key; of a larger one every place is
// on some page with room round it, neighbours share the way, and each page has the
// key, its legs by number and no ground beyond its frame.
func TestARouteOnPages(t *testing.T) {
	t.Parallel()
	small, err := Compose(context.Background(), roundTrip(2000))
	require.NoError(t, err)
	require.Len(t, small.Pages, 1)
	assert.NotContains(t, textsOf(group(small.Pages[0], "key")), "Pages (this one is grey)")
	assert.Equal(t, []string{"1", "2", "3", "4"}, textsOf(group(small.Pages[0], "leg-numbers")))
	assert.Contains(t, textsOf(group(small.Pages[0], "ends")), "Camp (start and end)")

	plan := roundTrip(7000)
	large, err := Compose(context.Background(), plan)
	require.NoError(t, err)
	frames, err := plan.Frames()
	require.NoError(t, err)
	require.Greater(t, len(large.Pages), 2)
	require.Len(t, frames, len(large.Pages), "what is read is what is drawn")
	for _, pg := range large.Pages {
		assert.Contains(t, textsOf(group(pg, "key")), "Pages (this one is grey)")
	}
	filled, err := plan.filled()
	require.NoError(t, err)
	var before []bool
	for _, f := range frames {
		proj, err := newProjection(f.Centre, plan.North, plan.Scale)
		require.NoError(t, err)
		lines, err := filled.routeLines(proj)
		require.NoError(t, err)
		var on []bool
		for _, line := range lines {
			for i := 1; i < len(line); i++ {
				const steps = 20
				for k := range steps {
					q := line[i-1].Plus(line[i].Minus(line[i-1]).Times(float64(k) / steps))
					const slack = 0.5 // mm; a step along the way, and what projections differ by
					on = append(on, math.Abs(q.X) <= f.Map.Width/2-legMargin+slack && math.Abs(q.Y) <= f.Map.Height/2-legMargin+slack)
				}
			}
		}
		if before != nil {
			shared := false
			for i := range on {
				shared = shared || on[i] && before[i]
				on[i] = on[i] || before[i]
			}
			assert.True(t, shared, "pages hang together")
		}
		before = on
	}
	assert.NotContains(t, before, false, "all of the way is on some page")

	broken := roundTrip(2000)
	broken.Route[1].From.Name, broken.Route[1].From.At.Lat = "elsewhere", 46.1
	_, err = Compose(context.Background(), broken)
	assert.ErrorIs(t, err, ErrPlan)
	far := roundTrip(200e3)
	_, err = Compose(context.Background(), far)
	assert.ErrorIs(t, err, ErrPages)
}
