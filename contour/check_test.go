package contour

import (
	"context"
	"errors"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"crowline/dem"
)

// onGround is how far, metres, a line's point may be from its level: the
// rounding of a fraction of a cell, times a cliff.
const onGround = 1e-6

func trace(t *testing.T, g *dem.Grid, l Levels) []Line {
	t.Helper()
	lines, err := Trace(context.Background(), g, l, Options{})
	if errors.Is(err, ErrNothing) {
		return nil
	}
	require.NoError(t, err)
	return lines
}

// crossed is the slow, plain list of the places where levels cross edges:
// post against post, with no ranks.
func crossed(g *dem.Grid, l Levels) map[string]int {
	out := map[string]int{}
	cellThere := func(c, r int) bool {
		for _, k := range [4][2]int{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
			if math.IsNaN(g.Elevation(c+k[0], r+k[1])) {
				return false
			}
		}
		return true
	}
	for r := range g.Rows {
		for c := range g.Columns {
			for _, d := range [2][2]int{{1, 0}, {0, 1}} {
				p, q := g.Elevation(c, r), g.Elevation(c+d[0], r+d[1])
				if math.IsNaN(p) || math.IsNaN(q) {
					continue
				}
				cells := 0
				if cellThere(c, r) {
					cells++
				}
				if cellThere(c-d[1], r-d[0]) {
					cells++
				}
				if cells == 0 {
					continue
				}
				for j := l.Below(min(p, q)) + 1; l.Elevation(j) <= max(p, q); j++ {
					f := (l.Elevation(j) - p) / (q - p)
					out[key(j, Position{float64(c) + f*float64(d[0]), float64(r) + f*float64(d[1])})]++
				}
			}
		}
	}
	return out
}

func key(j int, p Position) string { return fmt.Sprintf("%d %.9f %.9f", j, p.Column, p.Row) }

// whole reports whether a position is a post.
func whole(p Position) bool {
	return p.Column == math.Floor(p.Column) && p.Row == math.Floor(p.Row)
}

// checkLines holds lines to everything a contour line must be.
func checkLines(t *testing.T, g *dem.Grid, l Levels, lines []Line) {
	t.Helper()
	missing := crossed(g, l)
	for _, line := range lines {
		p := line.Points
		require.GreaterOrEqual(t, len(p), 2)
		require.Equal(t, l.Elevation(line.Number), line.Level)
		for _, q := range p {
			require.InDelta(t, line.Level, dem.Bilinear(g, q.Column, q.Row), onGround)
			require.True(t, q.Column == math.Floor(q.Column) || q.Row == math.Floor(q.Row), "%v is on no edge", q)
			delete(missing, key(line.Number, q))
		}
		if line.Closed {
			require.Equal(t, p[0], p[len(p)-1])
			require.GreaterOrEqual(t, len(p), 4)
		} else if !line.Touch {
			require.True(t, ends(g, p[0]) && ends(g, p[len(p)-1]), "a line at %g m ends in the open: %v", line.Level, p)
		}
		for i := 1; i < len(p); i++ {
			a, b := p[i-1], p[i]
			require.NotEqual(t, a, b, "repeated point")
			next := i + 1
			if next == len(p) && line.Closed {
				next = 1
			}
			if next < len(p) {
				require.NotEqual(t, a, p[next], "spike at %v", b)
			}
			// both in one cell
			mc, mr := (a.Column+b.Column)/2, (a.Row+b.Row)/2
			for _, q := range []Position{a, b} {
				require.LessOrEqual(t, math.Abs(q.Column-mc), 0.5)
				require.LessOrEqual(t, math.Abs(q.Row-mr), 0.5)
			}
			if !line.Touch {
				checkSide(t, g, line.Level, a, b)
			}
		}
	}
	// What no line shows are levels that only reach up to a single post.
	for k := range missing {
		var j int
		var q Position
		_, err := fmt.Sscanf(k, "%d %f %f", &j, &q.Column, &q.Row)
		require.NoError(t, err)
		require.True(t, whole(q), "no line passes %v at level %d", q, j)
		require.Equal(t, l.Elevation(j), g.Elevation(int(q.Column), int(q.Row)))
	}
}

// ends reports whether a line may end at a point: on the data's edge or
// beside a void.
func ends(g *dem.Grid, p Position) bool {
	c0, r0 := int(math.Ceil(p.Column))-1, int(math.Ceil(p.Row))-1
	c1, r1 := int(math.Floor(p.Column))+1, int(math.Floor(p.Row))+1
	for c := c0; c <= c1; c++ {
		for r := r0; r <= r1; r++ {
			if math.IsNaN(g.Elevation(c, r)) {
				return true
			}
		}
	}
	return false
}

// checkSide: of the corners of the cell a piece lies in, those right of it
// are at or above its level or in a saddle's other part; the corner nearest
// to it on each side decides.
func checkSide(t *testing.T, g *dem.Grid, level float64, a, b Position) {
	t.Helper()
	c, r := int(math.Floor(min(a.Column, b.Column))), int(math.Floor(min(a.Row, b.Row)))
	try := [][2]int{{c, r}}
	if a.Column == b.Column { // along a column: either cell will do
		try = append(try, [2]int{c - 1, r})
	}
	if a.Row == b.Row {
		try = append(try, [2]int{c, r - 1})
	}
	for _, cell := range try {
		good, corners := true, 0
		for _, k := range [4][2]int{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
			h := g.Elevation(cell[0]+k[0], cell[1]+k[1])
			if math.IsNaN(h) {
				good = false
				break
			}
			corners++
			// rows run down, so a positive cross product is on the right
			x, y := float64(cell[0]+k[0]), float64(cell[1]+k[1])
			side := (b.Column-a.Column)*(y-a.Row) - (b.Row-a.Row)*(x-a.Column)
			saddle := isSaddle(g, level, cell[0], cell[1])
			if !saddle && ((side > 1e-9 && h < level) || (side < -1e-9 && h >= level)) {
				good = false
			}
		}
		if good && corners == 4 {
			return
		}
	}
	require.Fail(t, "higher ground is not on the right", "level %g, %v to %v", level, a, b)
}

func isSaddle(g *dem.Grid, level float64, c, r int) bool {
	a, b, d, e := g.Elevation(c, r) >= level, g.Elevation(c+1, r) >= level, g.Elevation(c, r+1) >= level, g.Elevation(c+1, r+1) >= level
	return a == e && b == d && a != b
}

// checkApart: no two lines of different levels share a point. Lines stay
// within cells, so pieces are compared cell by cell.
func checkApart(t *testing.T, g *dem.Grid, lines []Line) {
	t.Helper()
	type piece struct {
		number int
		a, b   Position
	}
	cells := map[[2]int][]piece{}
	for _, l := range lines {
		for i := 1; i < len(l.Points); i++ {
			a, b := l.Points[i-1], l.Points[i]
			k := [2]int{int(math.Floor((a.Column + b.Column) / 2)), int(math.Floor((a.Row + b.Row) / 2))}
			cells[k] = append(cells[k], piece{l.Number, a, b})
		}
	}
	side := func(a, b, p Position) float64 {
		return (b.Column-a.Column)*(p.Row-a.Row) - (b.Row-a.Row)*(p.Column-a.Column)
	}
	for _, pieces := range cells {
		for i, s := range pieces {
			for _, u := range pieces[:i] {
				if s.number == u.number {
					continue
				}
				apart := side(s.a, s.b, u.a)*side(s.a, s.b, u.b) > 0 || side(u.a, u.b, s.a)*side(u.a, u.b, s.b) > 0
				require.True(t, apart, "levels %d and %d meet: %v, %v", s.number, u.number, s, u)
			}
		}
	}
}
