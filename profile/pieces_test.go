package profile

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// levelThen is a leg of that length over level ground with one piece, the
// first or the last, that rises or falls by so much.
func levelThen(length, spacing, rise float64, atStart bool) *Leg {
	l := &Leg{Covered: length, Spacing: spacing}
	l.Distance = length
	foot := math.Min(spacing/2, length/2)
	heights := []float64{500, 500, 500, 500 + rise}
	distances := []float64{0, length / 2, length - foot, length}
	if atStart {
		heights = []float64{500 + rise, 500, 500, 500}
		distances = []float64{0, foot, length / 2, length}
	}
	for i, d := range distances {
		l.Points = append(l.Points, Point{Distance: d, Elevation: heights[i]})
	}
	return l
}

// TestTheLastPieceIsNeverLost: n pieces of a length ended at length*n/n, which
// rounds above length for one in 23; there the ground is not known, and the
// last piece had no slope. The pieces of every length touch, begin at 0, end
// where the leg does, and rise by what the leg does.
func TestTheLastPieceIsNeverLost(t *testing.T) {
	t.Parallel()
	const tolerance = 1e-9 // m; rounding
	random := rand.New(rand.NewPCG(23, 1))
	for range 20000 {
		length := 1 + 20000*random.Float64()
		spacing := length / (0.5 + 60*random.Float64())
		l := levelThen(length, spacing, 40, false)
		pieces := l.Pieces()
		at, rise := 0.0, 0.0
		for _, p := range pieces {
			require.Equal(t, at, p.From)
			require.Greater(t, p.To, p.From)
			require.LessOrEqual(t, p.To-p.From, spacing*(1+pieceSlack)+tolerance)
			at, rise = p.To, rise+p.Rise
		}
		require.Equal(t, length, at)
		require.InDelta(t, 40, rise, tolerance, "length %v, spacing %v", length, spacing)
	}
}

// TestSteepGroundInTheFirstOrLastPieceIsFlagged: of a leg that is level but
// there, whichever way it is walked, it is the steepest, in the shares and in
// the steep stretches.
func TestSteepGroundInTheFirstOrLastPieceIsFlagged(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(23, 2))
	for range 5000 {
		length := 100 + 20000*random.Float64()
		spacing := length / (2 + 60*random.Float64())
		for _, start := range []bool{true, false} {
			l := levelThen(length, spacing, spacing, start) // 45 degrees or a little more
			pieces := l.Pieces()
			g := gradientOf(pieces)
			where := Stretch{pieces[len(pieces)-1].From, length}
			if start {
				where = Stretch{0, pieces[0].To}
			}
			require.Equal(t, []Stretch{where}, g.Steep, "length %v, spacing %v", length, spacing)
			require.GreaterOrEqual(t, float64(g.Steepest), 44.9)
			require.Equal(t, where.From, g.At)
			require.Equal(t, !start, g.Uphill)
			require.InEpsilon(t, 1/float64(len(pieces)), g.Classes[len(g.Classes)-1].Share, 1e-6)
		}
	}
}

// TestALegAndItsReverseHaveTheSameSlopes, along the line and under it; along a
// row or a column of posts too, where a cell on either side is under it.
func TestALegAndItsReverseHaveTheSameSlopes(t *testing.T) {
	t.Parallel()
	const (
		degrees = 1e-3 // two planes place the line within micrometres of each other
		metres  = 1e-3
	)
	rolling := rough(3)
	g := makeGrid(80, 80, func(c, r int) float64 { return 4 * rolling(c, r) })
	sum := func(list []Stretch) (total float64) {
		for _, s := range list {
			total += s.To - s.From
		}
		return total
	}
	random := rand.New(rand.NewPCG(5, 7))
	steep := 0
	for n := range 300 {
		a, b := [2]float64{random.Float64() * 79, random.Float64() * 79}, [2]float64{random.Float64() * 79, random.Float64() * 79}
		for k := range a {
			if n%3 > 0 { // from post to post
				a[k], b[k] = math.Round(a[k]), math.Round(b[k])
			}
		}
		if n%3 == 2 { // along a column or a row
			b[n%2] = a[n%2]
			a[1-n%2], b[1-n%2] = 2, 40+float64(n%30)
		}
		if a == b {
			continue
		}
		there, back := trace(t, g, a[0], a[1], b[0], b[1]), trace(t, g, b[0], b[1], a[0], a[1])
		x, y := there.Gradient(), back.Gradient()
		require.InEpsilon(t, there.Spacing, back.Spacing, 1e-9, "%v to %v", a, b)
		require.Equal(t, len(there.Pieces()), len(back.Pieces()), "%v to %v", a, b)
		assert.InDelta(t, float64(x.Steepest), float64(y.Steepest), degrees, "%v to %v", a, b)
		assert.InDelta(t, float64(x.GroundSteepest), float64(y.GroundSteepest), degrees, "%v to %v", a, b)
		for i := range x.Classes {
			assert.InDelta(t, x.Classes[i].Share, y.Classes[i].Share, 1e-6, "%v to %v", a, b)
		}
		assert.InDelta(t, sum(x.Steep), sum(y.Steep), metres, "%v to %v", a, b)
		assert.InDelta(t, sum(x.GroundSteep), sum(y.GroundSteep), metres, "%v to %v", a, b)
		if len(x.Steep) > 0 {
			steep++
		}
	}
	assert.Greater(t, steep, 20)
}

// TestBothSidesOfALineAlongPostsAreUnderIt: a leg along a column of posts has
// the steep ground on its left under it as it has that on its right.
func TestBothSidesOfALineAlongPostsAreUnderIt(t *testing.T) {
	t.Parallel()
	for _, side := range []int{-1, 1} {
		g := makeGrid(60, 60, func(c, _ int) float64 { return 100 * math.Max(0, float64(side*(c-30))) })
		gr := trace(t, g, 30, 10, 30, 50).Gradient()
		assert.InDelta(t, 53, float64(gr.GroundSteepest), 1, "100 m in one space of 75 m, %d", side)
		assert.InDelta(t, 0, float64(gr.Steepest), 1e-6)
	}
}
