package dem

import (
	"context"
	"errors"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestRowsAreTheWindow: any window comes whole and in order, by however many
// readers and in bands of any height.
func TestRowsAreTheWindow(t *testing.T) {
	t.Parallel()
	f := lonLatFrame(7, 1100)
	g := &Grid{Frame: f, Elevations: make([]float32, 7*1100)}
	for i := range g.Elevations {
		g.Elevations[i] = float32(i)
	}
	source := bandsSource{g}
	read := func(ctx context.Context, w Window, into []float32) error {
		part, err := source.Read(ctx, w)
		copy(into, part.Elevations)
		return err
	}
	for _, w := range []Window{f.Whole(), {Column: 2, Row: 255, Columns: 3, Rows: 2}, {Row: 256, Columns: 7, Rows: 1}, {Column: 1, Row: 100, Columns: 5, Rows: 999}} {
		want, err := source.Read(t.Context(), w)
		require.NoError(t, err)
		var got []float32
		require.NoError(t, Rows(t.Context(), Bounded(source, 4, 4), w, func(posts []float32) error {
			got = append(got, posts...)
			return nil
		}), "bands are not bounded")
		assert.Equal(t, want.Elevations, got)
		for _, height := range []int{1, 3, 300} {
			for _, n := range []int{1, 2, 5} {
				got = nil
				require.NoError(t, ReadBands(t.Context(), w, height, slices.Repeat([]BandReader{read}, n), func(posts []float32) error {
					got = append(got, posts...)
					return nil
				}))
				assert.Equal(t, want.Elevations, got)
			}
		}
	}
	require.NoError(t, Rows(t.Context(), source, Window{}, func([]float32) error { return errors.New("called") }))
}

// TestRowsStop: an error on either side, or the context's end, ends reading.
func TestRowsStop(t *testing.T) {
	t.Parallel()
	w := Window{Columns: 4, Rows: 1000}
	broken, full := errors.New("the file is cut short"), errors.New("the disk is full")
	read := func(_ context.Context, w Window, _ []float32) error {
		if w.Row >= 600 {
			return broken
		}
		return nil
	}
	rows := 0
	err := ReadBands(t.Context(), w, 10, []BandReader{read, read, read}, func(posts []float32) error {
		rows += len(posts) / 4
		return nil
	})
	require.ErrorIs(t, err, broken)
	assert.Equal(t, 600, rows, "all that could be read was used")
	err = ReadBands(t.Context(), w, 10, []BandReader{read, read}, func([]float32) error { return full })
	require.ErrorIs(t, err, full)
	ctx, cancel := context.WithCancel(t.Context())
	err = ReadBands(ctx, w, 10, []BandReader{func(ctx context.Context, _ Window, _ []float32) error {
		cancel()
		return ctx.Err()
	}}, func([]float32) error { return nil })
	require.ErrorIs(t, err, context.Canceled)
}
