package chain

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/profile"
	"crowline/visibility"
)

func chainOn(t *testing.T, g *dem.Grid, from, to geodesy.LatLon, o Options) Plan {
	t.Helper()
	o.Conditions.Refraction, o.EyeAboveGround = visibility.DefaultRefraction, 1.6
	plan, err := Find(t.Context(), g, from, to, o)
	require.NoError(t, err)
	for i := range plan.Steps {
		t.Logf("%.0f to %.0f: %s", plan.Steps[i].From, plan.Steps[i].To, plan.Steps[i].Sentence(units.Metric, plan.Steps[len(plan.Steps)-1].To))
	}
	return plan
}

func cone(e, n, height, slope float64) func(x, y float64) float64 {
	return func(x, y float64) float64 { return height - slope*math.Hypot(x-e, y-n) }
}

// TestABareSlopeIsNoMark: on a plain and on an even slope nothing is sighted but the
// goal, from where it is in view, and the plan says so.
func TestABareSlopeIsNoMark(t *testing.T) {
	t.Parallel()
	for name, height := range map[string]func(x, y float64) float64{
		"plain": func(x, y float64) float64 { return 12 },
		"slope": func(x, y float64) float64 { return 500 + 0.1*y },
		"brow":  func(x, y float64) float64 { return 500 - math.Abs(y)/5 },
	} {
		t.Run(name, func(t *testing.T) {
			g := made(t, 7000, height)
			plan := chainOn(t, g, placeOn(t, g, 0, -3000), placeOn(t, g, 0, 3000), Options{})
			for _, s := range plan.Steps {
				if s.Mark != nil {
					assert.Equal(t, Destination, s.Mark.Kind)
					assert.True(t, s.Mark.Bare)
				}
			}
		})
	}
	// the horizon of an eye of 1.6 m is 4.84 km off: so long the plain is walked on the
	// compass
	g := made(t, 11000, func(x, y float64) float64 { return 12 })
	plan := chainOn(t, g, placeOn(t, g, 0, -5000), placeOn(t, g, 0, 5000), Options{})
	require.Len(t, plan.Steps, 2)
	walk, goal := plan.Steps[0], plan.Steps[1]
	assert.Equal(t, CompassOnly, walk.Kind)
	assert.False(t, walk.Short)
	assert.True(t, walk.Plain)
	assert.InDelta(t, 10000-4840, walk.To, every)
	assert.Equal(t, walk.To, plan.Unguided)
	assert.Equal(t, walk.To, plan.Plain)
	assert.Contains(t, walk.Sentence(units.Metric, 10000), "nothing stands out to be sighted")
	assert.Equal(t, Destination, goal.Mark.Kind)
	assert.False(t, plan.Complete())
}

// TestATopBesideTheLineLeads until the goal comes into view over a rise, and its words
// are those of the view.
func TestATopBesideTheLineLeads(t *testing.T) {
	t.Parallel()
	// a top 4 km off, 2 degrees left; a wall across the way at 2 km that hides the goal
	const aside = -150.0
	top, wall := cone(aside, 3990, 600, 0.4), func(x, y float64) float64 { return 60 - 0.2*math.Abs(y-2010) }
	g := made(t, 6000, func(x, y float64) float64 { return math.Max(0, math.Max(top(x, y), wall(x, y))) })
	plan := chainOn(t, g, placeOn(t, g, 0, 0), placeOn(t, g, 0, 2700), Options{})
	require.Len(t, plan.Steps, 2)
	first, goal := plan.Steps[0], plan.Steps[1]
	assert.Equal(t, "the top on the skyline, a finger left of your line, 3.99 km off, 8.5° up", first.Sentence(units.Metric, 2700))
	assert.InDelta(t, aside, first.Mark.Offset, 30)
	assert.InDelta(t, 3990, first.Mark.Distance, 30)
	assert.InDelta(t, 2010, first.To, every, "at the top of the wall")
	assert.Equal(t, Destination, goal.Mark.Kind)
	assert.Equal(t, "walk true bearing 000 to "+units.Metric.Distance(first.To), first.NotFound(units.Metric, 2700))
	assert.True(t, plan.Complete())
	assert.Zero(t, plan.CompassOnly)
	assert.False(t, plan.Hard())
}

// TestALossIsTold: a bank hides the top for some 300 m, and the goal lies in a pit; beside a hazard, or sought
// throughout, the mark is left before it.
func TestALossIsTold(t *testing.T) {
	t.Parallel()
	top, bank := cone(0, 9000, 400, 0.15), func(x, y float64) float64 { return 20 - 0.15*math.Abs(y-1500) }
	g := made(t, 10500, func(x, y float64) float64 {
		return math.Max(0, math.Max(top(x, y), bank(x, y))) - math.Max(0, 60-math.Abs(y-2490))
	})
	from, to := placeOn(t, g, 0, 0), placeOn(t, g, 0, 2490)
	plan := chainOn(t, g, from, to, Options{})
	mark := plan.Steps[0].Mark
	require.NotNil(t, mark)
	require.Len(t, mark.Lost, 1)
	lost := mark.Lost[0]
	// the line of sight over the bank's crest to the top rises by (400 - 20)/7500
	behind := 1500 - (20-1.6)/((400-20)/7500.0)
	assert.InDelta(t, behind, lost.From, 50)
	assert.InDelta(t, 1500, lost.To, 50)
	assert.Contains(t, plan.Steps[0].Sentence(units.Metric, 2500), "; lost from ")
	assert.Contains(t, plan.Steps[0].Sentence(units.Metric, 2500), ": hold true bearing 000, it comes back")
	for name, o := range map[string]Options{
		"throughout": {Throughout: true}, "hazard": {Hazards: []profile.Stretch{{From: lost.To - 20, To: lost.To}}}, "shorter": {MostLost: lost.To - lost.From - 50},
	} {
		plan := chainOn(t, g, from, to, o)
		for _, s := range plan.Steps {
			if s.Mark != nil {
				assert.Empty(t, s.Mark.Lost, name)
			}
		}
	}
	far := []profile.Stretch{{From: lost.To + 100, To: lost.To + 200}}
	assert.Equal(t, plan.Sightings, chainOn(t, g, from, to, Options{Hazards: far}).Sightings, "a hazard where the mark is in sight")
}

// TestAMarkBehindLeadsWhereNoneIsAhead.
func TestAMarkBehindLeadsWhereNoneIsAhead(t *testing.T) {
	t.Parallel()
	// down the far side of a broad rise from a top: nothing ahead but the plain, over
	// the brow of which the goal is hidden
	g := made(t, 6000, func(x, y float64) float64 {
		return math.Max(400+0.15*y, 420-0.4*math.Hypot(x, y+990)) - math.Max(0, y-1800)*0.3
	})
	plan := chainOn(t, g, placeOn(t, g, 0, 0), placeOn(t, g, 0, 3000), Options{})
	first := plan.Steps[0]
	require.NotNil(t, first.Mark)
	assert.True(t, first.Mark.Behind)
	assert.InDelta(t, -990, first.Mark.Distance, 30)
	assert.Contains(t, first.Sentence(units.Metric, 3000), "on the line back, 990 m behind you")
}

// TestWhatFindRefuses.
func TestWhatFindRefuses(t *testing.T) {
	t.Parallel()
	g := made(t, 3000, func(x, y float64) float64 { return 10 })
	a, b := placeOn(t, g, 0, 0), placeOn(t, g, 0, 1000)
	_, err := Find(t.Context(), g, a, b, Options{Within: 40})
	require.ErrorContains(t, err, "within 40 degrees")
	_, err = Find(t.Context(), g, a, b, Options{MostLost: -1})
	require.ErrorContains(t, err, "none is below 0")
	out, _ := geodesy.Direct(a, 180, 9000)
	_, err = Find(t.Context(), g, out, b, Options{})
	require.ErrorIs(t, err, dem.ErrOutside)
}
