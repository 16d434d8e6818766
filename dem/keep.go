package dem

import (
	"container/list"
	"context"
	"sync"
)

// Keep is a source that gives a window it has read before again without reading
// it, as long as no more than maxBytes are kept: those used last. So Blocks of
// several goroutines over one such source read each block of the ground once.
// What it gives is shared: it is not to be changed. Safe for concurrent use where
// the source is (InTurn). It takes over the source's Close.
func Keep(source Source, maxBytes int64) Source {
	return &keep{Source: source, most: maxBytes, kept: map[Window]*list.Element{}, order: list.New()}
}

type keep struct {
	Source
	most int64

	mutex sync.Mutex
	bytes int64
	kept  map[Window]*list.Element // of *keptWindow
	order *list.List               // last used first
}

type keptWindow struct {
	window Window
	ready  chan struct{} // closed when grid or err is there
	grid   *Grid
	err    error
	bytes  int64
}

// Read is the source's, or what it gave before. A read that failed is not kept.
func (k *keep) Read(ctx context.Context, w Window) (*Grid, error) {
	k.mutex.Lock()
	if e := k.kept[w]; e != nil {
		k.order.MoveToFront(e)
		k.mutex.Unlock()
		have := e.Value.(*keptWindow)
		select {
		case <-have.ready:
			return have.grid, have.err
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
	reading := &keptWindow{window: w, ready: make(chan struct{})}
	e := k.order.PushFront(reading)
	k.kept[w] = e
	k.mutex.Unlock()
	reading.grid, reading.err = k.Source.Read(ctx, w)
	k.mutex.Lock()
	defer k.mutex.Unlock()
	if reading.err != nil {
		k.forget(e)
	} else {
		reading.bytes = 4*int64(len(reading.grid.Elevations)) + int64(len(reading.grid.Filled))
		k.bytes += reading.bytes
	}
	close(reading.ready)
	for oldest := k.order.Back(); k.bytes > k.most && oldest != nil && oldest != e; {
		before := oldest.Prev()
		if oldest.Value.(*keptWindow).bytes > 0 { // else it is being read
			k.forget(oldest)
		}
		oldest = before
	}
	return reading.grid, reading.err
}

// forget drops a window; the mutex is held.
func (k *keep) forget(e *list.Element) {
	have := e.Value.(*keptWindow)
	if k.kept[have.window] == e {
		delete(k.kept, have.window)
	}
	k.order.Remove(e)
	k.bytes -= have.bytes
	have.bytes = 0
}
