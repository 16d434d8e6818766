package gdalio

import (
	"context"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
)

// TestWorkWithoutEndIsGivenUp, and what comes of it later is freed.
func TestWorkWithoutEndIsGivenUp(t *testing.T) {
	t.Parallel()
	end, freed := make(chan struct{}), make(chan int, 1)
	work := func() (int, error) { <-end; return 7, nil }
	late := func(v int) { freed <- v }
	_, err := supervised(t.Context(), "slow.tif", time.Millisecond, nil, work, late)
	require.ErrorContains(t, err, "slow.tif: reading it came to no end in 60 s")
	close(end)
	assert.Equal(t, 7, <-freed)

	// what goes on is waited for, however long it takes
	var beats atomic.Int64
	v, err := supervised(t.Context(), "slow.tif", 200*time.Millisecond, &beats, func() (int, error) {
		for range 40 {
			time.Sleep(10 * time.Millisecond)
			beats.Add(1)
		}
		return 8, nil
	}, late)
	require.NoError(t, err)
	assert.Equal(t, 8, v)
}

// TestStuckReadEndsWithItsContext: a call into GDAL that does not come back
// holds neither a cancelled read, nor Info, nor Close.
func TestStuckReadEndsWithItsContext(t *testing.T) {
	t.Parallel()
	r, err := Open(cumberland, Options{})
	require.NoError(t, err)
	r.reading.Lock() // as a call that does not come back does
	for _, read := range []func(ctx context.Context) error{
		func(ctx context.Context) error { _, err := r.Read(ctx, r.Layout().Whole()); return err },
		func(ctx context.Context) error {
			return r.ReadRows(ctx, r.Layout().Whole(), func([]float32) error { return nil })
		},
	} {
		ctx, cancel := context.WithCancel(t.Context())
		time.AfterFunc(10*time.Millisecond, cancel)
		require.ErrorIs(t, read(ctx), context.Canceled)
	}
	assert.NotEmpty(t, r.Info().Driver)
	require.NoError(t, r.Close())
	r.reading.Unlock()
	require.Eventually(t, func() bool {
		_, err := r.Read(t.Context(), dem.Window{Columns: 1, Rows: 1})
		return err != nil
	}, time.Minute, time.Millisecond, "closed when it came back")
}
