package dem

import (
	"context"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// bandsSource hands out windows of a grid.
type bandsSource struct{ grid *Grid }

func (s bandsSource) Info() Info     { return Info{} }
func (s bandsSource) Layout() *Frame { return &s.grid.Frame }
func (s bandsSource) Close() error   { return nil }
func (s bandsSource) Read(_ context.Context, w Window) (*Grid, error) {
	g := &Grid{Frame: s.grid.Sub(w), Window: w}
	for r := w.Row; r < w.Row+w.Rows; r++ {
		g.Elevations = append(g.Elevations, s.grid.Elevations[r*s.grid.Columns+w.Column:][:w.Columns]...)
	}
	return g, nil
}

// TestWatchedRowsFindWhatAWholeReadFinds: spikes anywhere, at the seams of
// bands too, are found once and nothing else is.
func TestWatchedRowsFindWhatAWholeReadFinds(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(4, 9))
	for _, height := range []int{1, 2, 3, 255, 256, 257, 258, 512, 513, 700} {
		f := lonLatFrame(40, height)
		g := &Grid{Frame: f, Elevations: make([]float32, 40*height)}
		for i := range g.Elevations {
			g.Elevations[i] = float32(300 + random.IntN(15))
		}
		for _, row := range []int{0, 255, 256, 511, height - 1} {
			if row < height {
				g.Elevations[row*40+5+random.IntN(30)] = 5000
			}
		}
		whole, rows := Watch(bandsSource{g}), Watch(bandsSource{g})
		_, err := whole.Read(context.Background(), g.Whole())
		require.NoError(t, err)
		n := 0
		require.NoError(t, Rows(context.Background(), rows, g.Whole(), func(posts []float32) error { n += len(posts); return nil }))
		assert.Equal(t, len(g.Elevations), n)
		want, _ := whole.Found()
		got, _ := rows.Found()
		require.NotEmpty(t, want, "%d rows", height)
		require.Len(t, got, len(want), "%d rows", height)
		for i := range want { // the places differ by rounding: their frames start at other rows
			assert.Equal(t, [2]int{want[i].Column, want[i].Row}, [2]int{got[i].Column, got[i].Row})
			assert.InDelta(t, want[i].Elevation, got[i].Elevation, 0)
			assert.Equal(t, want[i].Doubt, got[i].Doubt)
		}
	}
}
