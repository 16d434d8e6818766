package cli

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"runtime"
	"runtime/debug"
	"strconv"
	"sync"
	"time"
)

// memoryGuard ends a run that takes more memory than it may, whatever for: what
// is read of the ground is reckoned before it is read, but lines, pages and images
// are as large as the ground makes them.
type memoryGuard struct {
	end  context.CancelCauseFunc
	once sync.Once
}

// memoryError says that a run was ended for its memory.
type memoryError struct{ most int64 }

func (e *memoryError) Error() string {
	return fmt.Sprintf("it needs more than %.1f GB of memory: take less ground, a wider contour interval or a smaller page, or raise --max-memory", float64(e.most)/1e9)
}

type guardKey struct{}

func withMemoryGuard(ctx context.Context, end context.CancelCauseFunc) context.Context {
	return context.WithValue(ctx, guardKey{}, &memoryGuard{end: end})
}

const (
	// guardEvery is how often memory is looked at.
	guardEvery = 2 * time.Millisecond
	// A run is ended a quarter before it has all it may, and at most guardMargin
	// bytes: until it is noticed and has stopped it goes on taking memory, some 2
	// bytes a nanosecond. programBytes is the program itself, which ownMemory does
	// not count.
	guardMargin  = 512 << 20
	programBytes = 32 << 20
	// collectShare is the share of that from which on the collector works harder.
	collectShare = 0.85
	// leastOfAll is what the program takes for itself, bytes: no limit is less.
	leastOfAll = 160 << 20
)

// boundMemory holds the process of a run to so many bytes from now on; 0 is no
// limit. A run without a guard is not held to any.
func boundMemory(ctx context.Context, most int64) {
	g, _ := ctx.Value(guardKey{}).(*memoryGuard)
	if g == nil || most <= 0 {
		return
	}
	most = max(most, leastOfAll)
	g.once.Do(func() {
		until := guardedFrom(most)
		debug.SetMemoryLimit(int64(collectShare * float64(until)))
		go func() {
			runtime.LockOSThread() // it is not to wait for its turn behind those that fill memory
			for ctx.Err() == nil {
				if ownMemory() > until {
					g.end(&memoryError{most})
					return
				}
				time.Sleep(guardEvery)
			}
		}()
	})
}

// guardedFrom is how much of ownMemory ends a run that may take so many bytes.
func guardedFrom(most int64) int64 { return most - programBytes - min(most/4, guardMargin) }

// ownMemory is what the process holds of the machine's memory, bytes, without the
// pages of files, which the machine takes back as it likes.
func ownMemory() int64 {
	if text, err := os.ReadFile("/proc/self/statm"); err == nil {
		if fields := bytes.Fields(text); len(fields) > 2 {
			resident, err1 := strconv.ParseInt(string(fields[1]), 10, 64)
			shared, err2 := strconv.ParseInt(string(fields[2]), 10, 64)
			if err1 == nil && err2 == nil {
				return (resident - shared) * int64(os.Getpagesize())
			}
		}
	}
	var m runtime.MemStats // elsewhere, without what C has taken
	runtime.ReadMemStats(&m)
	return int64(m.Sys - m.HeapReleased)
}
