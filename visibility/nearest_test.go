package visibility

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile"
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
		return 200 - 60*math.Max(0, math.Min(float64(c-2), float64(32-c)))
	})
	leg := traceCells(t, g, 2, 4, 32, 4)
	s := along(t, leg, 2, 0, 1) // k = 1: a flat Earth
	require.Equal(t, Visible, s.Verdict)
	// the line falls from 202 to 200: 201.33 at the crest, a third of the way
	assert.InDelta(t, 201.3333-150, s.Nearest, 1e-3)
	assert.InDelta(t, leg.Distance/3, s.NearestAt, 0.1)
	assert.LessOrEqual(t, s.Clearance, s.Nearest)

	// no crest: a bowl. Nearest is just out of the cell of the end where the
	// bowl is least deep.
	g = sightGrid(40, 9, func(c, r int) float64 { return 100 + float64((c-17)*(c-17)) })
	leg = traceCells(t, g, 2, 4, 32, 4)
	s = along(t, leg, 2, 0, 1)
	require.Equal(t, Visible, s.Verdict)
	assert.InDelta(t, leg.Distance*29/30, s.NearestAt, 0.1)
	// ends at 327 and 325; at column 31 the line is 325.0667, the ground 296
	assert.InDelta(t, 325.0667-296, s.Nearest, 0.01)

	// a step just short of the target, 98 m over the valley: it is the step
	g = sightGrid(40, 9, func(c, r int) float64 {
		switch c {
		case 2, 32:
			return 200
		case 31:
			return 198
		}
		return 100
	})
	s = along(t, traceCells(t, g, 2, 4, 32, 4), 2, 0, 1)
	assert.InDelta(t, 2+2.0/30, s.Nearest, 1e-3)

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
		if leg.Distance > 3*leg.Spacing { // no nearer than half a cell, columns being closer than rows
			column, row, err := rough.Locate(leg.PlaceAt(s.NearestAt))
			require.NoError(t, err)
			for _, end := range []profile.Point{leg.Points[0], leg.Points[len(leg.Points)-1]} {
				assert.False(t, math.Abs(column-math.Round(end.Column)) < 0.49 && math.Abs(row-math.Round(end.Row)) < 0.49)
			}
		}
	}
	assert.Greater(t, hidden, 20)
}

// TestASummitBesideItsPost: 2026-11-28, 2026-11-30. A place a step beyond a
// summit's post was hidden by centimetres behind it. It is looked at by its top,
// whatever the data's error; what stands well behind the top is not.
func TestASummitBesideItsPost(t *testing.T) {
	t.Parallel()
	g := sightGrid(40, 40, func(c, r int) float64 { return 500 - 40*math.Sqrt(math.Hypot(float64(c-30), float64(r-20))) })
	from, err := g.Place(5, 20)
	require.NoError(t, err)
	for column, want := range map[float64]Verdict{30: Visible, 30.02: Visible, 30.1: Visible, 30.45: Visible, 30.55: Hidden, 33: Hidden} {
		to, err := g.Place(column, 20)
		require.NoError(t, err)
		line, err := LookingLine(t.Context(), g, from, to)
		require.NoError(t, err)
		s, err := Along(line, Observer{Place: line.From, EyeAboveGround: 2}, DefaultConditions())
		require.NoError(t, err)
		assert.Equal(t, want, s.Verdict, "%v", column)
		// and back, with eye and target as high
		back, err := LookingLine(t.Context(), g, to, from)
		require.NoError(t, err)
		s, err = Along(back, Observer{Place: back.From}, Conditions{TargetAboveGround: 2, Refraction: DefaultRefraction})
		require.NoError(t, err)
		assert.Equal(t, want, s.Verdict, "%v, back", column)
	}
}

// TestBehindACrestIsHidden: 2026-11-30. Ground 57 m behind a crest 9.4 m higher
// was told as in sight, for the crest was within a post of it.
func TestBehindACrestIsHidden(t *testing.T) {
	t.Parallel()
	// posts 90 m apart or so; the crest is column 20, and no post of it a top
	g := sightGrid(40, 40, func(c, r int) float64 {
		switch {
		case c < 20:
			return 100 + float64(r)
		case c == 20:
			return 200 + float64(r)
		}
		return 200 + float64(r) - 12.3*float64(c-20)
	})
	spacing, _, err := g.Spacing(20, 20)
	require.NoError(t, err)
	from, err := g.Place(5, 20)
	require.NoError(t, err)
	to, err := g.Place(20+57/spacing, 20)
	require.NoError(t, err)
	crest, err := dem.ElevationAt(g, placeOf(t, g, 20, 20))
	require.NoError(t, err)
	own, err := dem.ElevationAt(g, to)
	require.NoError(t, err)
	require.InDelta(t, 9.4, crest-own, 0.5)
	line, err := LookingLine(t.Context(), g, from, to)
	require.NoError(t, err)
	s, err := Along(line, Observer{Place: line.From, EyeAboveGround: 2}, DefaultConditions())
	require.NoError(t, err)
	assert.Equal(t, Hidden, s.Verdict)
	marks, err := Landmarks(t.Context(), g, Observer{Place: from, EyeAboveGround: 2}, []Candidate{PlaceCandidate("spring", to)}, LandmarkOptions{Conditions: DefaultConditions(), Within: 180})
	require.NoError(t, err)
	require.Len(t, marks, 1)
	assert.Equal(t, Hidden, marks[0].Sight.Verdict)
}

func placeOf(t *testing.T, g *dem.Grid, column, row float64) geodesy.LatLon {
	t.Helper()
	p, err := g.Place(column, row)
	require.NoError(t, err)
	return p
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
