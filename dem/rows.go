package dem

import (
	"context"
	"sync"
	"sync/atomic"
)

// bandRows is how many rows are read at a time from a source that has no
// RowReader: the side of the commonest tile in files made for windows.
const bandRows = 256

// RowReader is a Source with a faster way to be read from the top down than
// window by window, for example with several readers that take turns.
type RowReader interface {
	// ReadRows is Rows for this source.
	ReadRows(ctx context.Context, w Window, use func(posts []float32) error) error
}

// Rows reads a window of any size from the top down, holding some bands of
// rows at a time: use is given the next whole rows, in metres with NaN where
// void, from the calling goroutine, and must not keep or change the slice. Reading
// goes on meanwhile. An error of use ends it and is returned.
func Rows(ctx context.Context, s Source, w Window, use func(posts []float32) error) error {
	if b, ok := s.(bounded); ok { // no band is near the limit
		s = b.Source
	}
	if r, ok := s.(RowReader); ok {
		return r.ReadRows(ctx, w, use)
	}
	read := func(ctx context.Context, band Window, into []float32) error {
		g, err := s.Read(ctx, band)
		if err != nil {
			return err
		}
		copy(into, g.Elevations)
		return nil
	}
	return ReadBands(ctx, w, bandRows, []BandReader{read}, use)
}

// BandReader fills a slice with the posts of a window.
type BandReader func(ctx context.Context, w Window, into []float32) error

// ReadBands cuts a window into bands of so many rows, at whole multiples of
// them, and hands the bands to use in order. The readers work at once, each
// from a goroutine of its own, one band ahead of use at most. It returns
// when all of them have stopped.
func ReadBands(ctx context.Context, w Window, height int, readers []BandReader, use func(posts []float32) error) error {
	if w.Empty() {
		return nil
	}
	ctx, cancel := context.WithCancel(ctx)
	first := w.Row / height
	count := (w.Row+w.Rows-1)/height - first + 1
	readers = readers[:min(len(readers), count)]
	type band struct {
		posts []float32
		err   error
	}
	// Whoever takes a number has a buffer already, so the band that is next
	// in line is always on its way.
	buffers := make(chan []float32, len(readers)+1)
	for range cap(buffers) {
		buffers <- nil
	}
	results := make([]chan band, len(buffers)) // by number, around
	for i := range results {
		results[i] = make(chan band, 1)
	}
	var next atomic.Int64
	var group sync.WaitGroup
	defer group.Wait()
	defer cancel()
	for _, read := range readers {
		group.Go(func() {
			for {
				var buffer []float32
				select {
				case buffer = <-buffers:
				case <-ctx.Done():
					return
				}
				i := int(next.Add(1)) - 1
				if i >= count {
					return
				}
				part := Window{Column: w.Column, Columns: w.Columns, Row: max(w.Row, (first+i)*height)}
				part.Rows = min((first+i+1)*height, w.Row+w.Rows) - part.Row
				if n := part.Columns * part.Rows; cap(buffer) < n {
					buffer = make([]float32, n)
				} else {
					buffer = buffer[:n]
				}
				err := read(ctx, part, buffer)
				results[i%len(results)] <- band{buffer, err}
				if err != nil {
					return
				}
			}
		})
	}
	for i := range count {
		var b band
		select {
		case b = <-results[i%len(results)]:
		case <-ctx.Done():
			return ctx.Err()
		}
		if b.err != nil {
			return b.err
		}
		if err := use(b.posts); err != nil {
			return err
		}
		buffers <- b.posts
	}
	return nil
}
