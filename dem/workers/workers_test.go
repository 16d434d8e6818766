package workers

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestEachItemOnce(t *testing.T) {
	t.Parallel()
	for _, n := range []int{1, 2, 7, 1000} {
		for _, concurrency := range []int{-1, 0, 1, 3, 2000} {
			calls := make([]atomic.Int64, n)
			squares := make([]int, n)
			limit := concurrency
			if limit <= 0 {
				limit = runtime.GOMAXPROCS(0)
			}
			limit = min(limit, n)
			busy := make([]atomic.Bool, limit)
			require.NoError(t, Each(t.Context(), n, concurrency, func(worker, item int) error {
				if !busy[worker].CompareAndSwap(false, true) {
					return fmt.Errorf("worker %d does two items at once", worker)
				}
				defer busy[worker].Store(false)
				calls[item].Add(1)
				squares[item] = item * item
				return nil
			}))
			for i := range n {
				assert.EqualValues(t, 1, calls[i].Load(), "item %d of %d", i, n)
				assert.Equal(t, i*i, squares[i])
			}
		}
	}
}

// One worker takes the items in order; several have them handed out in order,
// so no item begins before all but concurrency-1 of those before it.
func TestEachInOrder(t *testing.T) {
	t.Parallel()
	var order []int
	require.NoError(t, Each(t.Context(), 100, 1, func(worker, item int) error {
		assert.Zero(t, worker)
		order = append(order, item)
		return nil
	}))
	for i, item := range order {
		assert.Equal(t, i, item)
	}
	assert.Len(t, order, 100)

	const concurrency = 4
	var ended atomic.Int64
	require.NoError(t, Each(t.Context(), 1000, concurrency, func(_, item int) error {
		if n := ended.Load(); n < int64(item-concurrency+1) {
			return fmt.Errorf("item %d begins when %d have ended", item, n)
		}
		ended.Add(1)
		return nil
	}))
}

// As many run at once as were asked for: each waits for all the others.
func TestEachAtOnce(t *testing.T) {
	t.Parallel()
	const concurrency = 5
	var met sync.WaitGroup
	met.Add(concurrency)
	require.NoError(t, Each(t.Context(), concurrency, concurrency, func(_, _ int) error {
		met.Done()
		met.Wait()
		return nil
	}))
}

func TestEachOfNothing(t *testing.T) {
	t.Parallel()
	for _, n := range []int{0, -1} {
		require.NoError(t, Each(t.Context(), n, 0, func(_, _ int) error {
			return errors.New("there is no item")
		}))
		ended, cancel := context.WithCancel(t.Context())
		cancel()
		require.ErrorIs(t, Each(ended, n, 3, func(_, _ int) error { return nil }), context.Canceled)
	}
}

// The error is the first by number, though a later one comes first in time.
func TestEachFirstError(t *testing.T) {
	t.Parallel()
	late := make(chan struct{})
	err := Each(t.Context(), 1000, 2, func(_, item int) error {
		switch item {
		case 10:
			<-late
			return errors.New("item 10")
		case 11:
			close(late)
			return errors.New("item 11")
		}
		return nil
	})
	require.EqualError(t, err, "item 10")

	for _, concurrency := range []int{1, 2, 8} {
		var begun atomic.Int64
		err := Each(t.Context(), 100_000, concurrency, func(_, item int) error {
			begun.Add(1)
			if item >= 50 {
				return fmt.Errorf("item %d", item)
			}
			return nil
		})
		require.EqualError(t, err, "item 50", "concurrency %d", concurrency)
		assert.LessOrEqual(t, begun.Load(), int64(50+concurrency), "no more is handed out than the workers had already")
	}
}

func TestEachCancelled(t *testing.T) {
	t.Parallel()
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	require.ErrorIs(t, Each(ended, 10, 2, func(_, _ int) error {
		t.Error("called though ctx had ended")
		return nil
	}), context.Canceled)

	for _, concurrency := range []int{1, 4} {
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		var begun, returned atomic.Int64
		err := Each(ctx, 100_000, concurrency, func(_, item int) error {
			begun.Add(1)
			defer returned.Add(1)
			if item < 20 {
				return nil
			}
			cancel()
			return fmt.Errorf("item %d was stopped", item)
		})
		require.Equal(t, context.Canceled, err, "the error is that of ctx, not of an item")
		assert.LessOrEqual(t, begun.Load(), int64(20+concurrency))
		assert.Equal(t, begun.Load(), returned.Load(), "what was under way is waited for")
	}
}

func TestCounter(t *testing.T) {
	t.Parallel()
	var last, calls int64
	add := Counter(1000, func(done, total int64) { // no lock: one at a time
		assert.EqualValues(t, 1000, total)
		assert.Greater(t, done, last)
		last = done
		calls++
	})
	require.NoError(t, Each(t.Context(), 500, 8, func(_, _ int) error {
		add(2)
		return nil
	}))
	assert.EqualValues(t, 1000, last)
	assert.EqualValues(t, 500, calls)

	Counter(1, nil)(1)
}
