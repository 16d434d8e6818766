package dem

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func holed(g *Grid, holes ...Window) *Grid {
	for _, w := range holes {
		for r := w.Row; r < w.Row+w.Rows; r++ {
			for c := w.Column; c < w.Column+w.Columns; c++ {
				g.Elevations[r*g.Columns+c] = float32(math.NaN())
			}
		}
	}
	return g
}

// TestAPlaneIsFilledExactly: a plane is its own stretched skin. Voids at the
// edge and large ones stay, whatever the spacing along the axes.
func TestAPlaneIsFilledExactly(t *testing.T) {
	t.Parallel()
	for name, f := range map[string]Frame{"lon lat": lonLatFrame(60, 50), "utm": utmFrame(t, 60, 50)} {
		whole := tilted(f)
		inner := []Window{{10, 10, 1, 1}, {20, 20, 8, 8}, {40, 15, 3, 7}}
		stay := []Window{{0, 20, 3, 3}, {57, 48, 3, 2}, {30, 35, 9, 2}}
		g := holed(tilted(f), append(append([]Window{}, inner...), stay...)...)
		filled, err := Fill(&memorySource{grid: g}, FillOptions{})
		require.NoError(t, err)
		read, err := filled.Read(t.Context(), f.Whole())
		require.NoError(t, err)
		want := 0
		for i, h := range read.Elevations {
			c, r := i%f.Columns, i/f.Columns
			in := func(list []Window) bool {
				for _, w := range list {
					if c >= w.Column && c < w.Column+w.Columns && r >= w.Row && r < w.Row+w.Rows {
						return true
					}
				}
				return false
			}
			switch {
			case in(stay):
				assert.True(t, math.IsNaN(float64(h)), "%s %d %d", name, c, r)
				assert.False(t, read.Filled[i])
			case in(inner):
				want++
				const tolerance = 1e-3 // m, where the iteration stops
				assert.InDelta(t, whole.Elevations[i], h, tolerance, "%s %d %d", name, c, r)
				assert.True(t, read.Filled[i])
				assert.True(t, filled.IsFilled(c, r))
			default:
				assert.InDelta(t, whole.Elevations[i], h, 0)
				assert.False(t, read.Filled[i])
				assert.False(t, filled.IsFilled(c, r))
			}
		}
		assert.Equal(t, want, filled.Count())
		assert.Contains(t, read.Source.Warnings[0], "86 void posts were filled")
	}
}

// TestFillingStaysWithinTheRim and does not depend on how the ground is
// read.
func TestFillingStaysWithinTheRim(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(8, 8))
	g := rough(lonLatFrame(120, 100), 8)
	low, high := math.Inf(1), math.Inf(-1)
	for _, h := range g.Elevations {
		low, high = min(low, float64(h)), max(high, float64(h))
	}
	for range 400 {
		g.Elevations[random.IntN(len(g.Elevations))] = float32(math.NaN())
	}
	holed(g, Window{50, 50, 5, 6}, Window{0, 0, 2, 2})
	whole, err := Fill(&memorySource{grid: g}, FillOptions{Span: 6})
	require.NoError(t, err)
	all, err := whole.Read(t.Context(), g.Whole())
	require.NoError(t, err)
	for i, h := range all.Elevations {
		if all.Filled[i] {
			assert.True(t, float64(h) >= low && float64(h) <= high)
		}
	}
	require.Positive(t, whole.Count())
	parts, err := Fill(&memorySource{grid: g}, FillOptions{Span: 6})
	require.NoError(t, err)
	blocks := make([]float32, 0, len(all.Elevations))
	for r := 0; r < 100; r += 7 {
		rows := min(7, 100-r)
		strip := make([]float32, 120*rows)
		for c := 0; c < 120; c += 13 {
			w := Window{Column: c, Row: r, Columns: min(13, 120-c), Rows: rows}
			read, err := parts.Read(t.Context(), w)
			require.NoError(t, err)
			for k, h := range read.Elevations {
				strip[k/w.Columns*120+c+k%w.Columns] = h
			}
		}
		blocks = append(blocks, strip...)
	}
	for i := range blocks {
		if all.Elevations[i] != all.Elevations[i] {
			assert.True(t, blocks[i] != blocks[i], "post %d", i)
			continue
		}
		assert.InDelta(t, all.Elevations[i], blocks[i], 0, "post %d", i)
	}
	assert.Equal(t, whole.Count(), parts.Count())
}

func TestFillRefusals(t *testing.T) {
	t.Parallel()
	g := holed(tilted(lonLatFrame(20, 20)), Window{5, 5, 2, 2})
	for _, span := range []int{-1, 65} {
		_, err := Fill(&memorySource{grid: g}, FillOptions{Span: span})
		require.Error(t, err)
	}
	f, err := Fill(&memorySource{grid: tilted(lonLatFrame(20, 20))}, FillOptions{})
	require.NoError(t, err)
	read, err := f.Read(t.Context(), f.Layout().Whole())
	require.NoError(t, err)
	assert.Nil(t, read.Filled)
	assert.Empty(t, f.Info().Warnings)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	f, err = Fill(&memorySource{grid: g}, FillOptions{})
	require.NoError(t, err)
	_, err = f.Read(ctx, f.Layout().Whole())
	require.ErrorIs(t, err, context.Canceled)
}
