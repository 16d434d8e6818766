package dem

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestReadEveryIsReadThenEvery: whatever the step, the window and the bands,
// with voids, and with voids that were filled in some bands only.
func TestReadEveryIsReadThenEvery(t *testing.T) {
	t.Parallel()
	f := lonLatFrame(40, 700)
	random := rand.New(rand.NewPCG(3, 1))
	g := &Grid{Frame: f, Elevations: make([]float32, 40*700)}
	for i := range g.Elevations {
		g.Elevations[i] = random.Float32()
	}
	for _, at := range [][2]int{{5, 300}, {6, 300}, {20, 255}, {20, 256}, {20, 257}, {30, 650}} { // across the edge of a band, too
		g.Elevations[at[1]*40+at[0]] = float32(math.NaN())
	}
	plain := &memorySource{grid: g}
	filled, err := Fill(plain, FillOptions{})
	require.NoError(t, err)
	marked := 0
	for _, source := range []Source{plain, filled, Bounded(Watch(filled), 1<<30, 4)} {
		for _, w := range []Window{f.Whole(), {Column: 3, Row: 7, Columns: 30, Rows: 600}, {Row: 699, Columns: 1, Rows: 1}, {Row: 512, Columns: 40, Rows: 188}} {
			for _, n := range []int{1, 2, 3, 7, 255, 256, 300, 1000} {
				whole, err := source.Read(t.Context(), w)
				require.NoError(t, err)
				want := whole.Every(n)
				got, err := ReadEvery(t.Context(), source, w, n)
				require.NoError(t, err)
				require.Equal(t, want.Frame, got.Frame, "%v by %d", w, n)
				require.Equal(t, want.Window, got.Window)
				require.Len(t, got.Elevations, len(want.Elevations))
				for row := range want.Rows {
					for column := range want.Columns {
						a, b := want.Elevation(column, row), got.Elevation(column, row)
						require.True(t, a == b || math.IsNaN(a) && math.IsNaN(b), "%v by %d: post %d, %d", w, n, column, row)
						require.Equal(t, want.IsFilled(column, row), got.IsFilled(column, row), "%v by %d: post %d, %d", w, n, column, row)
						if got.IsFilled(column, row) {
							marked++
						}
					}
				}
			}
		}
	}
	assert.Positive(t, marked)
}

// TestReadEveryIsBoundedByWhatIsKept, not by what passes through.
func TestReadEveryIsBoundedByWhatIsKept(t *testing.T) {
	t.Parallel()
	f := lonLatFrame(40, 700)
	g := &Grid{Frame: f, Elevations: make([]float32, 40*700)}
	source := Bounded(&memorySource{grid: g}, 20*350*50, 50)
	_, err := ReadEvery(t.Context(), source, f.Whole(), 2)
	require.NoError(t, err)
	var tooLarge *TooLargeError
	_, err = ReadEvery(t.Context(), source, f.Whole(), 1)
	require.ErrorAs(t, err, &tooLarge)
	assert.Equal(t, TooLargeError{Columns: 40, Rows: 700, Bytes: 40 * 700 * 50, Limit: 20 * 350 * 50}, *tooLarge)
	source = Bounded(&memorySource{grid: g}, 20*350*50-1, 50)
	_, err = ReadEvery(t.Context(), source, f.Whole(), 2)
	require.ErrorAs(t, err, &tooLarge)
	assert.Equal(t, [2]int{20, 350}, [2]int{tooLarge.Columns, tooLarge.Rows})

	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = ReadEvery(ctx, &memorySource{grid: g}, f.Whole(), 2)
	require.ErrorIs(t, err, context.Canceled)
}
