package contour

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
)

// turning is the sum of a line's changes of direction that are sharper than
// 20 degrees, in radians.
func turning(p []Position) float64 {
	sum := 0.0
	for i := 2; i < len(p); i++ {
		a := math.Atan2(p[i-1].Row-p[i-2].Row, p[i-1].Column-p[i-2].Column)
		b := math.Atan2(p[i].Row-p[i-1].Row, p[i].Column-p[i-1].Column)
		if d := math.Abs(math.Remainder(b-a, 2*math.Pi)); d > 20*math.Pi/180 {
			sum += d
		}
	}
	return sum
}

func TestSmoothingIsBounded(t *testing.T) {
	t.Parallel()
	for seed := range uint64(150) {
		random := rand.New(rand.NewPCG(seed, 8))
		var g *dem.Grid
		switch seed % 3 {
		case 0:
			g = fractal(24, 24, 60, seed)
		case 1: // ground with no post on a level, so lines meet nowhere
			g = grid(3+random.IntN(14), 3+random.IntN(14), func(c, r float64) float64 { return 12 * random.Float64() })
		default:
			g = rough(random, 3+random.IntN(12), 3+random.IntN(12), 6, 0.05)
		}
		l := Levels{Interval: 2}
		share := []float64{0, 0.1, 0.45}[random.IntN(3)]
		lines := trace(t, g, l)
		smoothed, err := Smooth(g, lines, SmoothOptions{Levels: l, Share: share})
		require.NoError(t, err)
		require.Len(t, smoothed, len(lines))
		if share == 0 {
			share = defaultShare
		}
		for i, s := range smoothed {
			require.Equal(t, lines[i].Closed, s.Points[0] == s.Points[len(s.Points)-1])
			for k := 1; k < len(s.Points); k++ {
				p, q := s.Points[k-1], s.Points[k]
				require.NotEqual(t, p, q)
				// where the piece crosses rows and columns of posts
				for _, x := range legCrossings(g, p, q) {
					require.LessOrEqual(t, math.Abs(dem.Bilinear(g, x.Column, x.Row)-s.Level), share*l.Interval+onGround,
						"seed %d: %v", seed, x)
				}
			}
		}
		checkNoCrossing(t, seed, smoothed)
	}
}

// checkNoCrossing: no two pieces of any lines cross, every pair tried.
func checkNoCrossing(t *testing.T, seed uint64, lines []Line) {
	t.Helper()
	type piece struct {
		line int
		a, b Position
	}
	var pieces []piece
	for i, l := range lines {
		if l.Touch {
			continue
		}
		for k := 1; k < len(l.Points); k++ {
			pieces = append(pieces, piece{i, l.Points[k-1], l.Points[k]})
		}
	}
	side := func(a, b, p Position) float64 {
		return (b.Column-a.Column)*(p.Row-a.Row) - (b.Row-a.Row)*(p.Column-a.Column)
	}
	const touch = 1e-12 // square cells: sharing an end, or meeting at a post
	for i, s := range pieces {
		for _, u := range pieces[:i] {
			if max(s.a.Column, s.b.Column) < min(u.a.Column, u.b.Column) || max(u.a.Column, u.b.Column) < min(s.a.Column, s.b.Column) {
				continue
			}
			if side(s.a, s.b, u.a)*side(s.a, s.b, u.b) < -touch && side(u.a, u.b, s.a)*side(u.a, u.b, s.b) < -touch {
				require.Fail(t, "smoothed lines cross", "seed %d: %v (level %g) and %v (level %g)", seed, s, lines[s.line].Level, u, lines[u.line].Level)
			}
		}
	}
}

func TestSmoothingSmooths(t *testing.T) {
	t.Parallel()
	g := hills(150, 150, 400, 3, 4)
	l := Levels{Interval: 20}
	lines := trace(t, g, l)
	smoothed, err := Smooth(g, lines, SmoothOptions{Levels: l})
	require.NoError(t, err)
	before, after := 0.0, 0.0
	for i := range lines {
		before += turning(lines[i].Points)
		after += turning(smoothed[i].Points)
	}
	assert.Less(t, after, before/4)
	_, err = Smooth(torn{g}, lines, SmoothOptions{Levels: l})
	require.ErrorIs(t, err, errTorn)
	_, err = Smooth(g, lines, SmoothOptions{Levels: l, Share: 0.5})
	assert.ErrorContains(t, err, "neighbours could cross")
}

// legCrossings walks a straight line over a grid in its own columns and
// rows: every edge it crosses, in order, by looking at every row and column.
func legCrossings(g *dem.Grid, a, b Position) []Position {
	type at struct {
		s float64
		p Position
	}
	var all []at
	for c := range g.Columns {
		s := (float64(c) - a.Column) / (b.Column - a.Column)
		r := a.Row + s*(b.Row-a.Row)
		if s > 0 && s < 1 && r >= 0 && r <= float64(g.Rows-1) {
			all = append(all, at{s, Position{float64(c), r}})
		}
	}
	for r := range g.Rows {
		s := (float64(r) - a.Row) / (b.Row - a.Row)
		c := a.Column + s*(b.Column-a.Column)
		if s > 0 && s < 1 && c >= 0 && c <= float64(g.Columns-1) {
			all = append(all, at{s, Position{c, float64(r)}})
		}
	}
	slices.SortFunc(all, func(x, y at) int { return int(math.Copysign(1, x.s-y.s)) })
	out := make([]Position, len(all))
	for i := range all {
		out[i] = all[i].p
	}
	return out
}

// torn is ground of which a read has failed.
type torn struct{ *dem.Grid }

var errTorn = errors.New("the file is torn off")

func (torn) Err() error { return errTorn }
