package dem

import (
	"context"
	"fmt"
)

// postBytes is what a post takes in a Grid.
const postBytes = 4

// TooLargeError is a window that would take more memory than allowed.
type TooLargeError struct {
	// Columns and Rows of the window.
	Columns, Rows int
	// Bytes it would take, and Limit what is allowed.
	Bytes, Limit int64
}

// Error says the sizes.
func (e *TooLargeError) Error() string {
	return fmt.Sprintf("%d x %d posts would take %.1f MB of memory, over the limit of %.1f MB",
		e.Columns, e.Rows, float64(e.Bytes)/1e6, float64(e.Limit)/1e6)
}

// Bounded is a source that refuses to read a window that would take more than
// maxBytes, with a TooLargeError. perPost is what a question takes in all for
// each post it reads, bytes: the post itself, which is 4, and all that is
// worked out from it. Questions answered block by block (Blocks, Rows) are
// not hindered, nor a window no larger than a block. maxBytes 0 is no limit.
func Bounded(source Source, maxBytes, perPost int64) Source {
	if maxBytes <= 0 {
		return source
	}
	return bounded{source, maxBytes, max(perPost, postBytes)}
}

type bounded struct {
	Source
	limit   int64
	perPost int64
}

func (b bounded) check(columns, rows int) error {
	// Windows are under 2^37 a side, so the product is found in float64.
	if bytes := float64(columns) * float64(rows) * float64(b.perPost); bytes > float64(b.limit) {
		return &TooLargeError{Columns: columns, Rows: rows, Bytes: int64(min(bytes, 1<<62)), Limit: b.limit}
	}
	return nil
}

func (b bounded) Read(ctx context.Context, w Window) (*Grid, error) {
	block := w.Columns <= BlockColumns && w.Rows <= BlockRows // as Blocks reads
	if err := b.check(w.Columns, w.Rows); err != nil && !block {
		return nil, err
	}
	return b.Source.Read(ctx, w)
}
