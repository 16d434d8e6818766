package visibility

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestWhereALineComesNearest: over a crest between two ends the clearance is
// that over the crest, not the height of the eye or of the target's foot.
// 2026-11-28.
func TestWhereALineComesNearest(t *testing.T) {
	t.Parallel()
	// from 200 m over a crest of 150 m at column 12 to 200 m, valleys between
	g := sightGrid(40, 9, func(c, r int) float64 {
		if c == 12 {
			return 150
		}
		return 200 - 10*math.Max(0, math.Min(float64(c-2), float64(32-c)))
	})
	leg := traceCells(t, g, 2, 4, 32, 4)
	s := along(t, leg, 2, 0, 1) // k = 1: a flat Earth
	require.Equal(t, Visible, s.Verdict)
	// the line falls from 202 to 200: 201.33 at the crest, a third of the way
	assert.InDelta(t, 201.3333-150, s.Nearest, 1e-3)
	assert.InDelta(t, leg.Distance/3, s.NearestAt, 0.1)
	assert.Less(t, s.Clearance, 13.0, "the least of all is at an end")

	// no crest: a bowl. Nearest is a post from the end where the bowl is least deep.
	g = sightGrid(40, 9, func(c, r int) float64 { return 100 + float64((c-17)*(c-17)) })
	leg = traceCells(t, g, 2, 4, 32, 4)
	s = along(t, leg, 2, 0, 1)
	require.Equal(t, Visible, s.Verdict)
	at := leg.Distance * 28 / 30 // columns stand closer than rows: the second is a spacing from the end
	assert.InDelta(t, at, s.NearestAt, 0.1)
	// ends at 327 and 325; at column 30 the line is 325.1333, the ground 269
	assert.InDelta(t, 325.1333-269, s.Nearest, 0.01)

	// where ground stands over the line it is the clearance
	random := rand.New(rand.NewPCG(2, 4))
	rough := sightGrid(80, 80, hills(3))
	hidden := 0
	for range 200 {
		leg := traceCells(t, rough, random.Float64()*79, random.Float64()*79, random.Float64()*79, random.Float64()*79)
		s := along(t, leg, 2, 10, 0.13)
		if s.Clearance < 0 {
			hidden++
			assert.Equal(t, s.Clearance, s.Nearest)
			assert.Equal(t, s.ClearanceAt, s.NearestAt)
			continue
		}
		assert.GreaterOrEqual(t, s.Nearest, s.Clearance)
		if leg.Distance > 3*leg.Spacing {
			assert.GreaterOrEqual(t, s.NearestAt, leg.Spacing)
			assert.LessOrEqual(t, s.NearestAt, leg.Distance-leg.Spacing)
		}
	}
	assert.Greater(t, hidden, 20)
}

// TestASummitBesideItsPost: 2026-11-28. A place a metre beyond a summit's
// post is hidden by centimetres behind it, and was told as hidden, 4 % seen.
func TestASummitBesideItsPost(t *testing.T) {
	t.Parallel()
	g := sightGrid(40, 40, func(c, r int) float64 { return 500 - 40*math.Sqrt(math.Hypot(float64(c-30), float64(r-20))) })
	const within = 5.0 // m, the data's error
	for _, c := range []struct {
		column float64 // of the target
		own    bool
	}{{30, false}, {30.02, true}, {30.1, true}, {30.5, false}, {33, false}} {
		leg := traceCells(t, g, 5, 20, c.column, 20)
		s := along(t, leg, 2, 0, 0.13)
		assert.Equal(t, c.column == 30, s.Verdict == Visible, "%v", c)
		assert.Equal(t, c.own, s.OwnGround(within), "%v", c)
		m := DefaultErrorModel(within, leg)
		strict := probability(t, leg, 2, 0, m)
		m.OwnGround = leg.Spacing
		l := probability(t, leg, 2, 0, m)
		assert.GreaterOrEqual(t, l.Probability, strict.Probability)
		if c.own {
			assert.Less(t, strict.Probability, 0.4)
			assert.Greater(t, l.Probability, 0.9)
		}
	}
	// hidden by more than the error, though near: it is hidden
	leg := traceCells(t, g, 5, 20, 30.5, 20)
	s := along(t, leg, 2, 0, 0.13)
	assert.False(t, s.OwnGround(s.TargetExtra-1e-6))
	assert.True(t, s.OwnGround(s.TargetExtra))
}

// TestANeedOverAVoidIsALowerBound: what the known ground asks for, and said
// to be so. 2026-11-28.
func TestANeedOverAVoidIsALowerBound(t *testing.T) {
	t.Parallel()
	wall := func(void bool) Sight {
		g := sightGrid(40, 9, func(c, r int) float64 {
			switch {
			case c == 20 && void:
				return math.NaN()
			case c == 20:
				return 160
			case c == 12:
				return 130
			}
			return 100
		})
		return along(t, traceCells(t, g, 2, 4, 32, 4), 2, 0, 1)
	}
	known, part := wall(false), wall(true)
	assert.Equal(t, Hidden, part.Verdict)
	assert.True(t, part.AtLeast)
	assert.False(t, known.AtLeast)
	assert.Less(t, part.EyeExtra, known.EyeExtra)
	assert.LessOrEqual(t, part.TargetExtra, known.TargetExtra)
}
