package dem

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// memorySource serves windows of a grid and counts them.
type memorySource struct {
	grid  *Grid
	reads int
	fail  func(w Window) error
}

func (s *memorySource) Info() Info {
	info := s.grid.Source
	info.Name = "memory"
	return info
}
func (s *memorySource) Layout() *Frame { return &s.grid.Frame }
func (s *memorySource) Close() error   { return nil }
func (s *memorySource) Read(ctx context.Context, w Window) (*Grid, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if s.fail != nil {
		if err := s.fail(w); err != nil {
			return nil, err
		}
	}
	s.reads++
	g := &Grid{Frame: s.grid.Sub(w), Window: w}
	for r := range w.Rows {
		at := (w.Row+r)*s.grid.Columns + w.Column
		g.Elevations = append(g.Elevations, s.grid.Elevations[at:at+w.Columns]...)
	}
	return g, nil
}

func numbered(columns, rows int) *Grid {
	g := &Grid{Frame: lonLatFrame(columns, rows), Elevations: make([]float32, columns*rows)}
	for i := range g.Elevations {
		g.Elevations[i] = float32(i)
		if i%97 == 0 {
			g.Elevations[i] = float32(math.NaN())
		}
	}
	return g
}

func TestBlocksEqualTheGridEverywhere(t *testing.T) {
	t.Parallel()
	g := numbered(600, 530) // blocks clipped on both axes
	source := &memorySource{grid: g}
	b := NewBlocks(t.Context(), source, 0)
	differing := 0
	for r := -1; r <= g.Rows; r++ {
		for c := -1; c <= g.Columns; c++ {
			want, got := g.Elevation(c, r), b.Elevation(c, r)
			if want != got && !(math.IsNaN(want) && math.IsNaN(got)) {
				differing++
			}
		}
	}
	assert.Zero(t, differing)
	require.NoError(t, b.Err())
	assert.Equal(t, 3*9, b.reads, "each of 3 x 9 blocks read once")
	assert.Equal(t, 3*9, source.reads)
}

func TestBlocksKeepTheirBound(t *testing.T) {
	t.Parallel()
	g := numbered(BlockColumns*6, BlockRows)
	b := NewBlocks(t.Context(), &memorySource{grid: g}, 2*blockBytes)
	at := func(block int) {
		assert.Equal(t, g.Elevation(block*BlockColumns+5, 5), b.Elevation(block*BlockColumns+5, 5))
	}
	for i := range 6 {
		at(i)
		assert.LessOrEqual(t, len(b.kept), 2)
		assert.Equal(t, len(b.kept), b.order.Len())
	}
	assert.Equal(t, 6, b.reads)
	at(4) // kept
	assert.Equal(t, 6, b.reads)
	at(0)
	at(4) // used later than 5, so kept when 0 came in
	assert.Equal(t, 7, b.reads)

	random := rand.New(rand.NewPCG(5, 6))
	for range 2000 {
		c, r := random.IntN(g.Columns), random.IntN(g.Rows)
		want, got := g.Elevation(c, r), b.Elevation(c, r)
		assert.True(t, want == got || math.IsNaN(want) && math.IsNaN(got))
	}
	assert.LessOrEqual(t, len(b.kept), 2)
}

func TestBlocksKeepTheFirstError(t *testing.T) {
	t.Parallel()
	g := numbered(600, 300)
	first := errors.New("first")
	source := &memorySource{grid: g}
	source.fail = func(w Window) error {
		if w.Column >= 256 {
			return first
		}
		return nil
	}
	b := NewBlocks(t.Context(), source, 0)
	assert.Equal(t, 1.0, b.Elevation(1, 0))
	assert.True(t, math.IsNaN(b.Elevation(300, 0)))
	require.ErrorIs(t, b.Err(), first)
	source.fail = func(Window) error { return errors.New("second") }
	assert.True(t, math.IsNaN(b.Elevation(1, 0)), "nothing is trusted after an error")
	require.ErrorIs(t, b.Err(), first)
}

func TestBlocksStopWhenCancelled(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	b := NewBlocks(ctx, &memorySource{grid: numbered(10, 10)}, 0)
	assert.True(t, math.IsNaN(b.Elevation(1, 1)))
	require.ErrorIs(t, b.Err(), context.Canceled)
}
