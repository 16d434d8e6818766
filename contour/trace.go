package contour

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"sync"

	"crowline/dem"
)

// ErrNothing: the ground crosses none of the levels, or there is no ground.
// The errors that wrap it say which.
var ErrNothing = errors.New("nothing to contour")

var errTooManyPoints = errors.New("contour: the lines would have too many points to hold in memory; take a larger interval or less ground")

const (
	// stripRows is the number of cell rows traced at a time. It never
	// depends on the machine, so neither does the order of the output; about
	// this many keep a strip of a few thousand columns in a core's cache.
	stripRows = 32
	// maxStripNodes bounds a strip's scratch to about a gigabyte.
	maxStripNodes = 1 << 25
)

// Options of Trace and Tracer. The zero value is usable.
type Options struct {
	// Concurrency is how many strips are traced at once; GOMAXPROCS when
	// zero. The output is the same, byte for byte, at any value.
	Concurrency int
	// Progress, if set, is called with the rows done and the rows in all:
	// from the calling goroutine, never decreasing, ending with all.
	Progress func(done, total int64)
}

// Trace draws the contour lines of a grid, sorted by level and then by first
// point down the rows. The error wraps ErrNothing when there is no line to
// draw, is an *ImplausibleError when a post holds what cannot be ground, or
// is the context's.
//
// It takes time in proportion to the posts and the points of the lines
// together, and memory for the lines alone.
func Trace(ctx context.Context, grid *dem.Grid, levels Levels, options Options) ([]Line, error) {
	var lines []Line
	t, err := NewTracer(grid.Columns, grid.Rows, levels, options, func(l Line) error {
		lines = append(lines, l)
		return nil
	})
	if err != nil {
		return nil, err
	}
	if len(grid.Elevations) != grid.Columns*grid.Rows {
		return nil, fmt.Errorf("contour: %d elevations for %d x %d posts", len(grid.Elevations), grid.Columns, grid.Rows)
	}
	t.borrowed = true // the grid outlives the tracing, so nothing is copied
	err = t.Add(ctx, grid.Elevations)
	if finish := t.Finish(ctx); err == nil {
		err = finish
	}
	if err != nil {
		return nil, err
	}
	sortLines(lines)
	return lines, nil
}

func sortLines(lines []Line) {
	slices.SortStableFunc(lines, func(a, b Line) int {
		if a.Number != b.Number {
			return a.Number - b.Number
		}
		// Lines that meet at a post may start alike.
		for i := range min(len(a.Points), len(b.Points)) {
			p, q := a.Points[i], b.Points[i]
			switch {
			case p.before(q):
				return -1
			case q.before(p):
				return 1
			}
		}
		return len(a.Points) - len(b.Points)
	})
}

// Tracer draws contour lines from rows of posts as they come, top row first,
// and passes each line on when it is complete. It holds a few strips of rows
// and the lines still open at the last one, so a grid of any size can be
// contoured. A Tracer is used from one goroutine, and always ended with
// Finish; emit is called from that goroutine, during Add and Finish, in an
// order that depends on the posts alone.
type Tracer struct {
	columns, rows int
	levels        Levels
	options       Options

	join    joiner
	emitted int64 // lines
	posts   bool  // a post with an elevation has been seen
	failed  error

	// Rows not yet traced: the row above the next strip, if any, then the
	// strip's own and those below.
	pending  []float32
	first    int  // row number of pending's first row
	next     int  // first row of the next strip
	added    int  // rows
	borrowed bool // pending is the whole grid, not to be copied or written

	strips  chan job
	workers sync.WaitGroup
	queue   []job // in order, traced or being traced
	spare   [][]float32
}

type job struct {
	strip  strip
	buffer []float32 // holds the strip's rows, to be used again
	result chan traced
}

// NewTracer starts a tracer for a grid of the given size.
func NewTracer(columns, rows int, levels Levels, options Options, emit func(Line) error) (*Tracer, error) {
	if err := levels.validate(); err != nil {
		return nil, err
	}
	if columns < 2 || rows < 2 {
		return nil, fmt.Errorf("contour: %d x %d posts: %w needs two rows and two columns at least", columns, rows, ErrNothing)
	}
	if options.Concurrency <= 0 {
		options.Concurrency = runtime.GOMAXPROCS(0)
	}
	t := &Tracer{columns: columns, rows: rows, levels: levels, options: options}
	t.join = joiner{levels: levels, emit: func(l Line) error {
		t.emitted++
		return emit(l)
	}}
	t.strips = make(chan job, options.Concurrency)
	for range min(options.Concurrency, (rows+stripRows-1)/stripRows) {
		t.workers.Go(func() {
			w := newWorker(levels, columns)
			for j := range t.strips {
				j.result <- w.trace(&j.strip)
			}
		})
	}
	return t, nil
}

// Add takes the next rows: whole rows of posts in metres, NaN where void. It
// keeps no hold on the slice.
func (t *Tracer) Add(ctx context.Context, posts []float32) error {
	if t.failed != nil {
		return t.failed
	}
	if len(posts)%t.columns != 0 || t.added+len(posts)/t.columns > t.rows {
		return t.fail(fmt.Errorf("contour: %d posts are not the next rows of a grid of %d x %d", len(posts), t.columns, t.rows))
	}
	if t.borrowed {
		t.pending = posts
		t.added = t.rows
		return t.startReady(ctx)
	}
	// A strip's worth at a time, or the rows held back would be copied once
	// for each strip in them.
	for len(posts) > 0 {
		n := min(len(posts), stripRows*t.columns)
		t.pending = append(t.pending, posts[:n]...)
		t.added += n / t.columns
		posts = posts[n:]
		if err := t.startReady(ctx); err != nil {
			return err
		}
	}
	return nil
}

// startReady sends off every strip whose rows are all there, with the row
// below it unless there is none.
func (t *Tracer) startReady(ctx context.Context) error {
	for {
		last := min(t.next+stripRows, t.rows-1)
		if need := min(last+2, t.rows); t.added < need || last <= t.next {
			return nil
		}
		if err := t.start(ctx, last); err != nil {
			return t.fail(err)
		}
	}
}

// start sends the strip of rows next to last to be traced.
func (t *Tracer) start(ctx context.Context, last int) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	row := func(from, to int) []float32 {
		return t.pending[(from-t.first)*t.columns : (to-t.first)*t.columns]
	}
	s := strip{columns: t.columns, first: t.next, last: last, rows: row(t.next, last+1)}
	if t.next > 0 {
		s.above = row(t.next-1, t.next)
	}
	if last < t.rows-1 {
		s.below = row(last+1, last+2)
	}
	j := job{strip: s, result: make(chan traced, 1)}
	// The seam row and the one above it are wanted again. Copying them to
	// another slice leaves this one to the strip that is being traced.
	if !t.borrowed {
		j.buffer = t.pending
		var buffer []float32
		if n := len(t.spare); n > 0 {
			buffer, t.spare = t.spare[n-1], t.spare[:n-1]
		} else {
			buffer = make([]float32, 0, (min(2*stripRows, t.rows)+3)*t.columns)
		}
		t.pending = append(buffer[:0], j.buffer[(last-1-t.first)*t.columns:]...)
		t.first = last - 1
	}
	t.next = last
	t.queue = append(t.queue, j)
	t.strips <- j
	for len(t.queue) > 2*t.options.Concurrency {
		if err := t.take(); err != nil {
			return err
		}
	}
	return nil
}

// take joins the oldest strip that was sent.
func (t *Tracer) take() error {
	j := t.queue[0]
	t.queue = t.queue[1:]
	r := <-j.result
	if j.buffer != nil {
		t.spare = append(t.spare, j.buffer)
	}
	if r.err != nil {
		return r.err
	}
	t.posts = t.posts || r.posts
	if err := t.join.add(&r, j.strip.first == 0, j.strip.last == t.rows-1); err != nil {
		return err
	}
	if t.options.Progress != nil {
		done := j.strip.last
		if done == t.rows-1 {
			done = t.rows
		}
		t.options.Progress(int64(done), int64(t.rows))
	}
	return nil
}

func (t *Tracer) fail(err error) error {
	if t.failed == nil {
		t.failed = err
	}
	return t.failed
}

// Finish waits for what is still being traced, emits the last lines and
// frees the tracer. It is an error if rows are missing, and one that wraps
// ErrNothing if there was no line at all.
func (t *Tracer) Finish(ctx context.Context) error {
	for len(t.queue) > 0 && t.failed == nil {
		if err := ctx.Err(); err != nil {
			t.fail(err)
			break
		}
		if err := t.take(); err != nil {
			t.fail(err)
		}
	}
	if t.strips != nil {
		close(t.strips)
		t.workers.Wait()
		t.strips = nil
	}
	switch {
	case t.failed != nil:
		return t.failed
	case t.added < t.rows:
		return t.fail(fmt.Errorf("contour: only %d of %d rows were given", t.added, t.rows))
	case t.emitted > 0:
		return nil
	case !t.posts:
		return t.fail(fmt.Errorf("contour: %w: every post is void", ErrNothing))
	}
	return t.fail(fmt.Errorf("contour: %w: the ground crosses no level of %s %s from %s %s; it is flatter than the interval",
		ErrNothing, label(t.levels.step()), t.levels.Unit, label(t.levels.Base), t.levels.Unit))
}
