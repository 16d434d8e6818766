package contour

import (
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"crowline/dem"
)

// The count by its definition, in whole-number fractions: the drawn lines of
// a level part the ground into what is at or above it, lines included, and
// what is below. Along a leg, every place where it meets a line or an edge is
// found exactly, and it is asked of each of those places, and of the middle
// of each stretch between two, which part it is in.

type rat = big.Rat

func exactly(v float64) *rat { return new(rat).SetFloat64(v) }
func minus(a, b *rat) *rat   { return new(rat).Sub(a, b) }
func times(a, b *rat) *rat   { return new(rat).Mul(a, b) }

type exactPoint struct{ c, r *rat }

func point(p Position) exactPoint { return exactPoint{exactly(p.Column), exactly(p.Row)} }

// turn is the side of the way from p to q that x is on: positive right.
func turn(p, q, x exactPoint) int {
	return minus(times(minus(q.c, p.c), minus(x.r, p.r)), times(minus(q.r, p.r), minus(x.c, p.c))).Sign()
}

// within reports whether x is on the piece from p to q.
func within(p, q, x exactPoint) bool {
	between := func(a, b, v *rat) bool {
		return (a.Cmp(v) <= 0 && v.Cmp(b) <= 0) || (b.Cmp(v) <= 0 && v.Cmp(a) <= 0)
	}
	return turn(p, q, x) == 0 && between(p.c, q.c, x.c) && between(p.r, q.r, x.r)
}

// meet reports whether two pieces have a point in common.
func meet(p, q, u, v exactPoint) bool {
	if within(p, q, u) || within(p, q, v) || within(u, v, p) || within(u, v, q) {
		return true
	}
	return turn(p, q, u)*turn(p, q, v) < 0 && turn(u, v, p)*turn(u, v, q) < 0
}

type exactGround struct {
	g      *dem.Grid
	pieces [][2]exactPoint // of one level
	level  float64
}

func (e *exactGround) onLine(x exactPoint) bool {
	return slices.ContainsFunc(e.pieces, func(p [2]exactPoint) bool { return within(p[0], p[1], x) })
}

// cells that a point is in or on, without voids.
func (e *exactGround) cells(x exactPoint) (out [][2]int) {
	for r := range e.g.Rows - 1 {
		for c := range e.g.Columns - 1 {
			box := func(v *rat, n int) bool {
				return v.Cmp(big.NewRat(int64(n), 1)) >= 0 && v.Cmp(big.NewRat(int64(n+1), 1)) <= 0
			}
			if !box(x.c, c) || !box(x.r, r) {
				continue
			}
			void := false
			for _, i := range corners {
				void = void || e.g.Elevation(c+i[0], r+i[1]) != e.g.Elevation(c+i[0], r+i[1])
			}
			if !void {
				out = append(out, [2]int{c, r})
			}
		}
	}
	return out
}

// low reports whether a point can be joined to a post below the level,
// without leaving a cell or meeting a line.
func (e *exactGround) low(x exactPoint) bool {
	if e.onLine(x) {
		return false
	}
	for _, cell := range e.cells(x) {
		for _, i := range corners {
			c, r := cell[0]+i[0], cell[1]+i[1]
			if e.g.Elevation(c, r) >= e.level {
				continue
			}
			post := point(Position{float64(c), float64(r)})
			if !slices.ContainsFunc(e.pieces, func(p [2]exactPoint) bool { return meet(p[0], p[1], x, post) }) {
				return true
			}
		}
	}
	return false
}

// countExactly counts along a leg from a to b.
func countExactly(g *dem.Grid, l Levels, lines []Line, from, to Position) (out Crossed) {
	a, b := point(from), point(to)
	dc, dr := minus(b.c, a.c), minus(b.r, a.r)
	at := func(s *rat) exactPoint {
		return exactPoint{new(rat).Add(a.c, times(s, dc)), new(rat).Add(a.r, times(s, dr))}
	}
	one := big.NewRat(1, 1)
	// what happens along the leg, on coming to a place and on leaving it: a
	// line crossed up (1) or down (-1), or no ground (0)
	type event struct {
		share *rat
		leave bool
		way   int
	}
	var events []event
	for j := -2; j <= 12; j++ {
		e := exactGround{g: g, level: l.Elevation(j)}
		for _, line := range lines {
			if line.Number != j || line.Touch {
				continue
			}
			for i := 1; i < len(line.Points); i++ {
				e.pieces = append(e.pieces, [2]exactPoint{point(line.Points[i-1]), point(line.Points[i])})
			}
		}
		shares := []*rat{new(rat), one}
		add := func(above, below *rat) {
			if below.Sign() != 0 {
				if s := new(rat).Quo(above, below); s.Sign() > 0 && s.Cmp(one) < 0 {
					shares = append(shares, s)
				}
			}
		}
		for c := range g.Columns {
			add(minus(big.NewRat(int64(c), 1), a.c), dc)
		}
		for r := range g.Rows {
			add(minus(big.NewRat(int64(r), 1), a.r), dr)
		}
		for _, p := range e.pieces {
			pc, pr := minus(p[1].c, p[0].c), minus(p[1].r, p[0].r)
			// a + s d = p + t (q - p)
			add(minus(times(minus(p[0].c, a.c), pr), times(minus(p[0].r, a.r), pc)), minus(times(dc, pr), times(dr, pc)))
			for _, q := range p { // along the leg
				add(minus(q.c, a.c), dc)
				add(minus(q.r, a.r), dr)
			}
		}
		slices.SortFunc(shares, func(x, y *rat) int { return x.Cmp(y) })
		shares = slices.CompactFunc(shares, func(x, y *rat) bool { return x.Cmp(y) == 0 })
		known, last := false, false
		see := func(low bool, share *rat, leave bool) {
			if known && low != last {
				if low {
					out.Down++
					events = append(events, event{share, leave, -1})
				} else {
					out.Up++
					events = append(events, event{share, leave, 1})
				}
			}
			known, last = true, low
		}
		for i, s := range shares {
			if i > 0 {
				middle := at(times(big.NewRat(1, 2), new(rat).Add(shares[i-1], s)))
				if len(e.cells(middle)) == 0 {
					out.AtLeast, known = true, false
					events = append(events, event{shares[i-1], true, 0})
				} else {
					see(e.low(at(shares[i-1])), shares[i-1], false)
					see(e.low(middle), shares[i-1], true)
					see(e.low(at(s)), s, false)
				}
			}
		}
	}
	slices.SortStableFunc(events, func(x, y event) int {
		if c := x.share.Cmp(y.share); c != 0 || x.leave == y.leave {
			return c
		}
		if x.leave {
			return 1
		}
		return -1
	})
	way := 0
	for _, e := range events {
		switch {
		case e.way > 0 && way != 1:
			out.Rises++
		case e.way < 0 && way != -1:
			out.Falls++
		}
		way = e.way
	}
	return out
}

// exactCase makes ground and a leg from bytes, such that every edge is
// crossed at a fraction that floating point holds exactly: edges rise by 0,
// 2 or 4, levels are 1 apart or half that, legs run by powers of two.
func exactCase(data []byte) (g *dem.Grid, l Levels, a, b Position) {
	next := func() int {
		if len(data) == 0 {
			return 0
		}
		v := int(data[0])
		data = data[1:]
		return v
	}
	columns, rows := 2+next()%4, 2+next()%4
	shape := next()
	l = Levels{Interval: []float64{1, 2, 0.5, 4}[shape%4]}
	where := func(n int) float64 { return float64(next()%(8*n+9)-12) / 8 }
	a = Position{where(columns), where(rows)}
	by := func() float64 { return []float64{0, 0.125, 0.25, 0.5, 1, 2, 4, 8}[next()%8] }
	dc, dr := by(), by()
	if shape&16 != 0 {
		dc = -dc
	}
	if shape&32 != 0 {
		dr = -dr
	}
	b = Position{a.Column + dc, a.Row + dr}
	g = grid(columns, rows, func(_, _ float64) float64 {
		switch v := next(); {
		case v >= 250:
			return math.NaN()
		default:
			return float64(2 * (v % 3))
		}
	})
	return g, l, a, b
}

func checkExact(t *testing.T, data []byte) Crossed {
	g, l, a, b := exactCase(data)
	lines := trace(t, g, l)
	want := countExactly(g, l, lines, a, b)
	got := l.CountAlong(g, []Position{a, b})
	if a == b {
		want.AtLeast = false
	}
	require.Equal(t, want, got, "%v to %v, interval %g, %d columns: %v", a, b, l.Interval, g.Columns, g.Elevations)
	return got
}

// TestCountExactly: legs through posts, along edges and lines, along touches
// and terraces, grazing corners, starting and ending on lines.
func TestCountExactly(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(8, 9))
	crossed, blank := 0, 0
	for range 1500 {
		data := make([]byte, 35)
		for i := range data {
			data[i] = byte(random.IntN(256))
		}
		c := checkExact(t, data)
		crossed += c.Up + c.Down
		if c.AtLeast {
			blank++
		}
	}
	require.Greater(t, crossed, 500)
	require.Greater(t, blank, 100)
}

func FuzzCount(f *testing.F) {
	random := rand.New(rand.NewPCG(10, 11))
	for range 20 {
		data := make([]byte, 35)
		for i := range data {
			data[i] = byte(random.IntN(256))
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) { checkExact(t, data) })
}
