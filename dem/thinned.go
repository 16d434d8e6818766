package dem

import (
	"context"
	"fmt"
	"slices"
)

// ReadEvery is Read followed by Grid.Every: every nth column and row of a
// window, the first ones kept. It holds a band of rows at a time and what is
// kept, so a question about ground much wider than the posts' spacing can be
// put to data of any size. ctx is looked at once a band. Panics if n < 1.
func ReadEvery(ctx context.Context, s Source, w Window, n int) (*Grid, error) {
	if n < 1 {
		panic("dem: ReadEvery needs n >= 1")
	}
	if n == 1 || w.Empty() {
		return s.Read(ctx, w)
	}
	if b, ok := s.(bounded); ok { // the bands are let through; what is kept counts
		if err := b.check((w.Columns+n-1)/n, (w.Rows+n-1)/n); err != nil {
			return nil, err
		}
		s = b.Source
	}
	height := max(1, bandRows/n) * n // so that each band begins with a row that is kept
	var out *Grid
	for first := 0; first < w.Rows; first += height {
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("%s: reading stopped: %w", s.Info().Name, err)
		}
		band, err := s.Read(ctx, Window{Column: w.Column, Row: w.Row + first, Columns: w.Columns, Rows: min(height, w.Rows-first)})
		if err != nil {
			return nil, err
		}
		band = band.Every(n)
		if out == nil {
			out = band
			out.Elevations = slices.Grow(out.Elevations, out.Columns*((w.Rows+n-1)/n)-len(out.Elevations))
			continue
		}
		switch {
		case band.Filled != nil && out.Filled == nil:
			out.Filled = append(make([]bool, len(out.Elevations), out.Columns*((w.Rows+n-1)/n)), band.Filled...)
		case out.Filled != nil && band.Filled == nil:
			out.Filled = append(out.Filled, make([]bool, len(band.Elevations))...)
		default:
			out.Filled = append(out.Filled, band.Filled...)
		}
		out.Elevations = append(out.Elevations, band.Elevations...)
		out.Rows += band.Rows
		out.Source = band.Source
	}
	out.Window = w
	return out, nil
}
