package dem

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// TestFilledGroundIsThatWithAFilledPostInIt: one filled post, and the places
// round it whose elevation it has a part in, by Bilinear's own rule.
func TestFilledGroundIsThatWithAFilledPostInIt(t *testing.T) {
	t.Parallel()
	g := tilted(lonLatFrame(6, 5))
	g.Filled = make([]bool, len(g.Elevations))
	g.Filled[2*g.Columns+3] = true
	for _, c := range []struct {
		name        string
		column, row float64
		want        bool
	}{
		{"the post", 3, 2, true},
		{"its neighbour", 2, 2, false},
		{"the edge to it", 2.5, 2, true},
		{"the edge from it", 3.1, 2, true},
		{"the edge down from it", 3, 2.9, true},
		{"the edge beyond its neighbour", 4.5, 2, false},
		{"a cell with it as a corner", 2.2, 1.3, true},
		{"the cell across", 3.7, 2.4, true},
		{"a cell that touches none of it", 1.5, 1.5, false},
		{"the edge opposite it in its cell", 2.5, 1, false},
		{"outside", -3, 2, false},
		{"nowhere", math.NaN(), 2, false},
	} {
		assert.Equal(t, c.want, FilledAt(g, c.column, c.row), c.name)
		// the plain definition: void there if the post were void
		holed := g.Unfilled()
		if !math.IsNaN(c.column) && c.column >= 0 {
			assert.Equal(t, c.want, math.IsNaN(Bilinear(holed, c.column, c.row)), c.name)
		}
	}
	for _, c := range []struct {
		crossing Crossing
		want     bool
	}{
		{Crossing{Column: 3, Row: 2, AlongRow: true, Fraction: 0}, true},
		{Crossing{Column: 3, Row: 2, AlongRow: true, Fraction: 1}, false},
		{Crossing{Column: 2, Row: 2, AlongRow: true, Fraction: 1}, true},
		{Crossing{Column: 2, Row: 2, AlongRow: true, Fraction: 0}, false},
		{Crossing{Column: 2, Row: 2, AlongRow: true, Fraction: 0.01}, true},
		{Crossing{Column: 3, Row: 1, Fraction: 0.5}, true},
		{Crossing{Column: 2, Row: 1, Fraction: 0.5}, false},
	} {
		assert.Equal(t, c.want, c.crossing.IsFilled(g), "%+v", c.crossing)
	}
}

// TestMarksAreCarried through blocks, coarser grids, cover and whatever else
// stands between a filled source and a question.
func TestMarksAreCarried(t *testing.T) {
	t.Parallel()
	g := holed(tilted(lonLatFrame(600, 520)), Window{10, 10, 2, 2}, Window{254, 254, 5, 4}, Window{0, 100, 2, 2}, Window{400, 500, 9, 2})
	filled, err := Fill(&memorySource{grid: g}, FillOptions{})
	require.NoError(t, err)
	source := Bounded(Watch(filled), 1<<30, 4)
	require.Same(t, filled, FilledIn(source))
	assert.Nil(t, FilledIn(Watch(&memorySource{grid: g})))
	whole, err := source.Read(t.Context(), g.Whole())
	require.NoError(t, err)
	assert.Equal(t, int64(2*2+5*4), whole.FilledPosts())
	assert.Equal(t, whole.FilledPosts(), int64(filled.Count()))
	back := whole.Unfilled()
	assert.Nil(t, back.Filled)
	for i := range back.Elevations {
		assert.True(t, back.Elevations[i] == g.Elevations[i] || back.Elevations[i] != back.Elevations[i] && g.Elevations[i] != g.Elevations[i], "%d", i)
	}
	assert.Same(t, back, back.Unfilled())
	blocks := NewBlocks(t.Context(), source, 0)
	covered, err := NewCovered(blocks, noCover{}, Clearing{})
	require.NoError(t, err)
	for row := -1; row <= g.Rows; row++ {
		for column := -1; column <= g.Columns; column++ {
			want := whole.IsFilled(column, row)
			if want != blocks.IsFilled(column, row) || want != covered.IsFilled(column, row) || want != filled.IsFilled(column, row) {
				t.Fatalf("post %d, %d: want %v", column, row, want)
			}
		}
	}
	every := whole.Every(3)
	for row := range every.Rows {
		for column := range every.Columns {
			require.Equal(t, whole.IsFilled(3*column, 3*row), every.IsFilled(column, row))
		}
	}
	assert.Nil(t, back.Every(3).Filled)
}

// TestTheSetOfMarks against a plain map.
func TestTheSetOfMarks(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(5, 9))
	var set marked
	plain := map[[2]int]bool{}
	assert.False(t, set.has(0, 0))
	for range 5000 {
		c, r := random.IntN(300), random.IntN(1<<40)%300
		set.add(c, r)
		plain[[2]int{c, r}] = true
		assert.Equal(t, len(plain), set.count)
	}
	for c := -2; c < 310; c++ {
		for r := -2; r < 310; r++ {
			if plain[[2]int{c, r}] != set.has(c, r) {
				t.Fatalf("post %d, %d", c, r)
			}
		}
	}
}

type noCover struct{}

func (noCover) AboveGround(places []geodesy.LatLon) ([]float64, error) {
	return make([]float64, len(places)), nil
}
