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

// TestASpikeAtTheCornerOfWhatIsReadIsFound: a corner has three neighbours in the
// window, and five more beyond it.
func TestASpikeAtTheCornerOfWhatIsReadIsFound(t *testing.T) {
	t.Parallel()
	const size = 30
	windows := []Window{{Column: 5, Row: 6, Columns: 12, Rows: 9}, {Column: 20, Row: 20, Columns: 1, Rows: 1}, {Column: 20, Row: 10, Columns: 1, Rows: 7}, {Column: 9, Row: 4, Columns: 2, Rows: 2}}
	for _, slope := range []float64{0, 40} { // metres from post to post
		for _, w := range windows {
			for corner := range 4 {
				at := [2]int{w.Column + corner%2*(w.Columns-1), w.Row + corner/2*(w.Rows-1)}
				for _, height := range []float32{5000, -600} {
					g := &Grid{Frame: lonLatFrame(size, size), Elevations: make([]float32, size*size)}
					for i := range g.Elevations {
						g.Elevations[i] = float32(300 + slope*float64(i%size))
					}
					g.Elevations[at[1]*size+at[0]] = height
					watched := Watch(bandsSource{g})
					_, err := watched.Read(t.Context(), w)
					require.NoError(t, err)
					found, _ := watched.Found()
					if assert.Len(t, found, 1, "window %v, corner %v, %g m", w, at, height) {
						assert.Equal(t, at, [2]int{found[0].Column, found[0].Row})
					}
				}
			}
		}
	}
}
