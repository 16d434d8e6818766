package contour

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// TestLinesOnFilledGround: a line of rough ground is on it where a piece lies in
// a cell with a filled corner, and no line through a cell that was void before
// is missed: all that is left of the lines when the filled posts are void again
// is measured.
func TestLinesOnFilledGround(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(3, 14))
	const n = 70
	g := &dem.Grid{Frame: dem.Frame{Columns: n, Rows: n, X0: 7, Y0: 46, DX: 1.0 / 1200, DY: -1.0 / 1200, CRS: geodesy.WGS84}, Filled: make([]bool, n*n)}
	for i := range n * n {
		c, r := float64(i%n), float64(i/n)
		g.Elevations = append(g.Elevations, float32(500+80*math.Sin(c/6)*math.Cos(r/9)+4*random.Float64()))
		g.Filled[i] = random.IntN(80) == 0
	}
	levels := Levels{Interval: 10}
	lines, err := Trace(t.Context(), g, levels, Options{})
	require.NoError(t, err)
	on := 0
	for i := range lines {
		l := &lines[i]
		if l.Touch {
			continue
		}
		filled := false
		for k := 1; k < len(l.Points); k++ {
			p, q := l.Points[k-1], l.Points[k]
			c, r := int(math.Floor((p.Column+q.Column)/2)), int(math.Floor((p.Row+q.Row)/2))
			filled = filled || g.IsFilled(c, r) || g.IsFilled(c+1, r) || g.IsFilled(c, r+1) || g.IsFilled(c+1, r+1)
		}
		assert.Equal(t, filled, l.OnFilled(g))
		assert.False(t, l.OnFilled(nil))
		if filled {
			on++
		}
	}
	assert.Greater(t, on, 10)
	left, err := Trace(t.Context(), g.Unfilled(), levels, Options{})
	require.NoError(t, err)
	for i := range left {
		assert.False(t, left[i].OnFilled(g), "a line of cells that are not void")
	}
}

// TestALineAlongAnEdge is of the cells on both sides of it.
func TestALineAlongAnEdge(t *testing.T) {
	t.Parallel()
	g := &dem.Grid{Frame: dem.Frame{Columns: 4, Rows: 4}, Filled: make([]bool, 16)}
	g.Filled[0] = true // post 0, 0
	for _, c := range []struct {
		p, q Position
		want bool
	}{
		{Position{Column: 1, Row: 0.2}, Position{Column: 1, Row: 0.8}, true},
		{Position{Column: 0.2, Row: 1}, Position{Column: 0.8, Row: 1}, true},
		{Position{Column: 1.5, Row: 0.2}, Position{Column: 1.5, Row: 0.8}, false},
		{Position{Column: 1, Row: 1.2}, Position{Column: 1, Row: 1.8}, false},
		{Position{Column: 0.9, Row: 0.9}, Position{Column: 0.95, Row: 0.8}, true},
	} {
		l := Line{Points: []Position{c.p, c.q}}
		assert.Equal(t, c.want, l.OnFilled(g), "%v", c)
	}
}
