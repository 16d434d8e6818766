package workers

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// Each calls work for every item from 0 to n-1 and returns when all calls
// have. So many calls as concurrency says run at once, runtime.GOMAXPROCS(0)
// where it is not above 0, and never more than n; worker, below that number,
// is the goroutine's, for what it keeps from one item to the next. Nothing is
// called where n is not above 0.
//
// Once ctx has ended or an item has failed no further item is handed out. The
// error is that of ctx, as it is, if it has ended by the time Each returns,
// and otherwise that of the first item, by number, to fail: every item before
// it was handed out, so it is the same one at any concurrency.
func Each(ctx context.Context, n, concurrency int, work func(worker, item int) error) error {
	if concurrency <= 0 {
		concurrency = runtime.GOMAXPROCS(0)
	}
	var next atomic.Int64
	var group sync.WaitGroup
	var mutex sync.Mutex
	var failed atomic.Bool
	var first error
	firstItem := n
	for worker := range min(concurrency, n) {
		group.Go(func() {
			for ctx.Err() == nil && !failed.Load() {
				item := int(next.Add(1)) - 1
				if item >= n {
					return
				}
				if err := work(worker, item); err != nil {
					failed.Store(true)
					mutex.Lock()
					if item < firstItem {
						first, firstItem = err, item
					}
					mutex.Unlock()
				}
			}
		})
	}
	group.Wait()
	if err := ctx.Err(); err != nil {
		return err
	}
	return first
}

// Counter adds up what is done, from any goroutine, and tells progress each
// time, from one goroutine at a time and never decreasing. A nil progress is
// told nothing.
func Counter(total int64, progress func(done, total int64)) (add func(n int64)) {
	if progress == nil {
		return func(int64) {}
	}
	var mutex sync.Mutex
	var done int64
	return func(n int64) {
		mutex.Lock()
		defer mutex.Unlock()
		done += n
		progress(done, total)
	}
}
