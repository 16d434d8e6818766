package cli

import (
	"context"
	"errors"
	"io"
	"log"
	"sync"
	"sync/atomic"
	"time"

	"crowline/dem/outfile"
)

// grace is how long an interrupted command may take to stop by itself. Most
// do within a tenth of it; drawing a page of many lines, or sorting the posts
// of a large file, does not look at its context.
const grace = 300 * time.Millisecond

// Run is Main for a process that exits when it returns: an interrupted
// command that has not stopped soon is left where it is. Nothing half written
// stays on the disk, and nothing more is written.
func Run(ctx context.Context, args []string, streams Streams) int {
	// net/http logs what odd servers do. Nobody here reads it, and what matters
	// of it is in our own errors.
	log.SetOutput(io.Discard)
	out, errs := &gate{w: streams.Out}, &gate{w: streams.Err}
	streams.Out, streams.Err = out, errs
	ctx, end := context.WithCancelCause(ctx)
	defer end(nil)
	ctx = withMemoryGuard(ctx, end)
	finished := make(chan int, 1)
	go func() { finished <- Main(ctx, args, streams) }()
	select {
	case code := <-finished:
		return code
	case <-ctx.Done():
	}
	why := whyStopped(ctx)
	if !errors.As(why, new(*memoryError)) { // who takes memory would go on to
		select {
		case code := <-finished:
			return code
		case <-time.After(grace):
		}
	}
	outfile.End()
	out.shut()
	errs.shut()
	select {
	case code := <-finished: // just now, and whole
		return code
	default:
	}
	streams.Err = errs.w
	streams.sayError(oneLine(why), exitCode(why), asksJSON(args))
	return exitCode(why)
}

// whyStopped is why a run has ended early: for its memory, or because it was
// stopped from outside, by a signal or a caller's clock.
func whyStopped(ctx context.Context) error {
	if why := context.Cause(ctx); errors.As(why, new(*memoryError)) {
		return why
	}
	return context.Canceled
}

// gate is a writer that can be shut.
type gate struct {
	mutex sync.Mutex // held while something is written
	w     io.Writer
	isOff atomic.Bool
}

// Write writes, or after shut fails.
func (g *gate) Write(b []byte) (int, error) {
	g.mutex.Lock()
	defer g.mutex.Unlock()
	if g.isOff.Load() {
		return 0, io.ErrClosedPipe
	}
	return g.w.Write(b)
}

// shut lets nothing more be written, and waits a moment for what is being
// written: a pipe that nobody reads may never take it.
func (g *gate) shut() {
	g.isOff.Store(true)
	for end := time.Now().Add(grace); time.Now().Before(end) && !g.mutex.TryLock(); {
		time.Sleep(time.Millisecond)
	}
}
