package contour

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSupplementaryLinesOnFlatGroundOnly: a plain that steepens to the east.
// The frame's cells are about 25 m by 30.8 m.
func TestSupplementaryLinesOnFlatGroundOnly(t *testing.T) {
	t.Parallel()
	g := grid(400, 60, func(c, r float64) float64 { return 0.0016*c*c + 0.01*r + 3 })
	l := Levels{Interval: 20, Half: true}
	lines := trace(t, g, l)
	o := FlatOptions{Levels: l, Scale: 25000}
	kept, err := KeepFlat(g, lines, o)
	require.NoError(t, err)
	// 20 m over 8 mm at 1:25 000 is a gradient of 0.1; the slope is
	// 0.0032 c / 25 m, so flat ends near column 780, beyond the grid: all stay.
	assert.Equal(t, lines, kept)
	o.Gap = 24 // a gradient of 1/30, near column 260
	kept, err = KeepFlat(g, lines, o)
	require.NoError(t, err)
	dx, _, err := g.Spacing(200, 30)
	require.NoError(t, err)
	edge := 20.0 / 600 * dx / 0.0032
	most, supplementary := 0.0, 0
	main := 0
	for _, k := range kept {
		if k.Kind != Supplementary {
			main++
			continue
		}
		supplementary++
		for _, p := range k.Points {
			most = max(most, p.Column)
			assert.Less(t, p.Column, edge+1)
		}
	}
	assert.Positive(t, supplementary)
	for _, k := range lines {
		if k.Kind != Supplementary {
			main--
		}
	}
	assert.Zero(t, main, "main lines are left alone")
	_, err = KeepFlat(g, lines, FlatOptions{Levels: l})
	assert.Error(t, err)
}

func TestStretches(t *testing.T) {
	t.Parallel()
	open := Line{Kind: Supplementary}
	for i := range 11 {
		open.Points = append(open.Points, Position{float64(i), 0})
	}
	closed := Line{Kind: Supplementary, Closed: true, Depression: true}
	for i := range 11 {
		s, c := math.Sincos(float64(i%10) * math.Pi / 5)
		closed.Points = append(closed.Points, Position{c, s})
	}
	length := make([]float64, 10)
	for i := range length {
		length[i] = 1
	}
	cases := []struct {
		name   string
		line   Line
		flat   string
		pieces []int // points of each
	}{
		{"none", open, "..........", nil},
		{"all", open, "xxxxxxxxxx", []int{11}},
		{"one stretch", open, "..xxxxx...", []int{6}},
		{"a short break is drawn over", open, "xxxx.xxxxx", []int{11}},
		{"a long break is not", open, "xxxx...xxx", []int{5, 4}},
		{"a short stretch is left out", open, ".x........", nil},
		{"all of a closed line", closed, "xxxxxxxxxx", []int{11}},
		{"a stretch over a closed line's start", closed, "xxx....xxx", []int{7}},
	}
	for _, c := range cases {
		flat := make([]bool, len(c.flat))
		for i := range flat {
			flat[i] = c.flat[i] == 'x'
		}
		var got []int
		for _, p := range stretches(c.line, flat, length, 2) {
			got = append(got, len(p.Points))
			assert.Equal(t, c.line.Closed && len(p.Points) == 11, p.Closed, c.name)
		}
		assert.Equal(t, c.pieces, got, c.name)
	}
}
