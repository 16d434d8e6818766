package gdalio

import (
	"context"
	"fmt"
	"runtime"
	"sync/atomic"
	"time"
)

// patience is how long opening a file, or reading one block of it, may take.
// The largest block allowed, 1 GiB, unpacks in some ten seconds; the rest is
// for slow disks. Nothing in a file may hold a run for longer.
const patience = time.Minute

// overdue is the error of work that did not end in time.
func overdue(name string) error {
	return fmt.Errorf("%s: reading it came to no end in %d s and was given up; the file is damaged, or its disk does not answer", name, int(patience.Seconds()))
}

// supervised runs work on a goroutine of its own and stops waiting for it
// when ctx ends, or when beats, if not nil, has not moved for all of limit.
// A call into C cannot be stopped: it keeps its thread until it ends by
// itself, and late is given what then comes of it. What work wrote to must
// not be used after an error.
func supervised[T any](ctx context.Context, name string, limit time.Duration, beats *atomic.Int64, work func() (T, error), late func(T)) (T, error) {
	var none T
	if err := ctx.Err(); err != nil {
		return none, fmt.Errorf("%s: reading stopped: %w", name, err)
	}
	type outcome struct {
		value T
		err   error
	}
	done := make(chan outcome, 1)
	go func() {
		v, err := work()
		done <- outcome{v, err}
	}()
	abandon := func(err error) (T, error) {
		go func() {
			if o := <-done; o.err == nil {
				late(o.value)
			}
		}()
		return none, err
	}
	timer := time.NewTimer(limit)
	defer timer.Stop()
	count := int64(0)
	if beats != nil {
		count = beats.Load()
	}
	for {
		select {
		case o := <-done:
			return o.value, o.err
		case <-ctx.Done():
			// Work that looks at ctx says so itself, and is waited for.
			grace := time.NewTimer(cancelGrace)
			defer grace.Stop()
			select {
			case o := <-done:
				return o.value, o.err
			case <-grace.C:
			}
			return abandon(fmt.Errorf("%s: reading stopped: %w", name, ctx.Err()))
		case <-timer.C:
			if beats != nil && beats.Load() != count {
				count = beats.Load()
				timer.Reset(limit)
				continue
			}
			return abandon(overdue(name))
		}
	}
}

// cancelGrace is what a cancelled read is given to end by itself: a piece of
// half a million posts takes some 10 ms.
const cancelGrace = 200 * time.Millisecond

// lane is a goroutine on a thread of its own for one piece of work after
// another: the C library keeps freed blocks by thread, and from another one
// they would not be found again.
type lane chan func()

func newLane() lane {
	l := make(lane)
	go func() {
		runtime.LockOSThread() // the thread ends with its goroutine
		for work := range l {
			work()
		}
	}()
	return l
}
