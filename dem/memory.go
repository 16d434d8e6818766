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

// Error says the size and what to change.
func (e *TooLargeError) Error() string {
	return fmt.Sprintf("%d x %d posts take %.1f MB, over the limit of %.1f MB: take a smaller radius or coarser data, or raise --max-memory",
		e.Columns, e.Rows, float64(e.Bytes)/1e6, float64(e.Limit)/1e6)
}

func checkBytes(w Window, limit int64) error {
	// Windows are under 2^37 a side, so the product is found in float64.
	bytes := float64(w.Columns) * float64(w.Rows) * postBytes
	if limit > 0 && bytes > float64(limit) {
		return &TooLargeError{Columns: w.Columns, Rows: w.Rows, Bytes: int64(min(bytes, 1<<62)), Limit: limit}
	}
	return nil
}

// Bounded is a source that refuses to read a window of more than maxBytes,
// at 4 bytes a post, with a TooLargeError. Questions answered block by block
// (Blocks) are not hindered. maxBytes 0 is no limit.
func Bounded(source Source, maxBytes int64) Source {
	if maxBytes <= 0 {
		return source
	}
	return bounded{source, maxBytes}
}

type bounded struct {
	Source
	limit int64
}

func (b bounded) Read(ctx context.Context, w Window) (*Grid, error) {
	if err := checkBytes(w, b.limit); err != nil {
		return nil, err
	}
	return b.Source.Read(ctx, w)
}
