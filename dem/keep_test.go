package dem

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// countingReads is a grid whose reads are counted, and fail while told to.
type countingReads struct {
	Source
	reads atomic.Int64
	fails atomic.Bool
}

func (c *countingReads) Read(ctx context.Context, w Window) (*Grid, error) {
	c.reads.Add(1)
	if c.fails.Load() {
		return nil, errors.New("no luck")
	}
	return c.Source.Read(ctx, w)
}

// TestKeepReadsEachBlockOnce, whoever asks, where all of them fit.
func TestKeepReadsEachBlockOnce(t *testing.T) {
	t.Parallel()
	const columns, rows = 3 * BlockColumns, 5*BlockRows - 7
	g := numbered(columns, rows)
	count := &countingReads{Source: &memorySource{grid: g}}
	kept := Keep(InTurn(count), 4*columns*rows)
	var group sync.WaitGroup
	for range 8 {
		group.Go(func() {
			b := NewBlocks(t.Context(), kept, 2*blockBytes) // holds next to nothing itself
			for row := range rows {
				for column := 0; column < columns; column += 97 {
					if got, want := b.Elevation(column, row), g.Elevation(column, row); got != want && got == got {
						t.Errorf("post %d, %d", column, row)
						return
					}
				}
			}
		})
	}
	group.Wait()
	assert.EqualValues(t, 15, count.reads.Load())
}

// TestKeepIsBounded, and keeps no failed read.
func TestKeepIsBounded(t *testing.T) {
	t.Parallel()
	const columns, rows = 2 * BlockColumns, 20 * BlockRows
	count := &countingReads{Source: &memorySource{grid: numbered(columns, rows)}}
	k := Keep(InTurn(count), 3*blockBytes).(*keep)
	count.fails.Store(true)
	w := Window{Columns: BlockColumns, Rows: BlockRows}
	_, err := k.Read(t.Context(), w)
	require.Error(t, err)
	count.fails.Store(false)
	_, err = k.Read(t.Context(), w)
	require.NoError(t, err)
	for row := range 20 {
		_, err = k.Read(t.Context(), Window{Column: BlockColumns, Row: row * BlockRows, Columns: BlockColumns, Rows: BlockRows})
		require.NoError(t, err)
		assert.LessOrEqual(t, k.bytes, int64(3*blockBytes))
		assert.Len(t, k.kept, min(row+2, 3))
	}
	before := count.reads.Load()
	_, err = k.Read(t.Context(), w)
	require.NoError(t, err)
	assert.Equal(t, before+1, count.reads.Load(), "it had been forgotten")
}
