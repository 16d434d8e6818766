package gdalio

import (
	"context"

	"crowline/dem"
)

// Statistics sums up a raster's elevations.
type Statistics struct {
	// Posts counts all posts, Voids those without an elevation.
	Posts, Voids int64
	// Lowest and Highest are the extreme elevations, metres; meaningless
	// when every post is void.
	Lowest, Highest float64
	// The first post, row by row from row 0, that holds each extreme.
	LowestColumn, LowestRow   int
	HighestColumn, HighestRow int
}

// AllVoid reports whether no post has an elevation.
func (s Statistics) AllVoid() bool { return s.Voids == s.Posts }

// VoidShare is the share of posts without an elevation, in [0, 1].
func (s Statistics) VoidShare() float64 { return float64(s.Voids) / float64(s.Posts) }

// StatisticsOptions tells Statistics what else to do.
type StatisticsOptions struct {
	// Progress, if not nil, is told how many posts are done, about 100
	// times, from the calling goroutine; the last call has done == total.
	Progress func(done, total int64)
}

// Statistics reads the whole raster piece by piece, in a few megabytes of
// memory whatever its size. ctx is looked at between pieces.
func (r *Raster) Statistics(ctx context.Context, opts StatisticsOptions) (Statistics, error) {
	s := Statistics{Posts: int64(r.frame.Columns) * int64(r.frame.Rows)}
	found := false
	var done, told int64
	// Pieces do not come in row order, so equal extremes are told apart by place.
	before := func(column, row, oldColumn, oldRow int) bool {
		return row < oldRow || (row == oldRow && column < oldColumn)
	}
	err := r.pieces(ctx, r.frame.Whole(), func(w dem.Window, values []float32) {
		for i, v := range values {
			h := float64(v)
			if h != h {
				s.Voids++
				continue
			}
			if found && h > s.Lowest && h < s.Highest {
				continue
			}
			column, row := w.Column+i%w.Columns, w.Row+i/w.Columns
			if !found || h < s.Lowest || (h == s.Lowest && before(column, row, s.LowestColumn, s.LowestRow)) {
				s.Lowest, s.LowestColumn, s.LowestRow = h, column, row
			}
			if !found || h > s.Highest || (h == s.Highest && before(column, row, s.HighestColumn, s.HighestRow)) {
				s.Highest, s.HighestColumn, s.HighestRow = h, column, row
			}
			found = true
		}
		done += int64(len(values))
		if opts.Progress != nil && (done == s.Posts || done-told >= s.Posts/100) {
			told = done
			opts.Progress(done, s.Posts)
		}
	})
	if err != nil {
		return Statistics{}, err
	}
	return s, nil
}
