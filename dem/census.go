package dem

import (
	"context"
	"math"
)

// Census sums up the posts of a source.
type Census struct {
	// Posts counts all posts, Voids those without an elevation.
	Posts, Voids int64
	// Lowest and Highest are the extreme elevations, metres, and the first
	// post, down the rows and then along them, that holds each; NaN and 0, 0
	// when every post is void.
	Lowest, Highest Extreme
	Suspicion       Suspicion
}

// Extreme is a post of extreme elevation, metres.
type Extreme struct {
	Column, Row int
	Elevation   float64
}

// VoidShare is the share of posts without an elevation, in [0, 1].
func (c Census) VoidShare() float64 { return float64(c.Voids) / float64(max(1, c.Posts)) }

// CensusOptions tells Count what else to do.
type CensusOptions struct {
	// Progress, if not nil, is told how many posts are done, about 100
	// times, from the calling goroutine; the last call has done == total.
	Progress func(done, total int64)
}

// censusSide is the side of the squares Count reads.
const censusSide = 1024

// Count takes the census of a whole source, in a few megabytes of memory. ctx
// is looked at between squares of a million posts.
func Count(ctx context.Context, source Source, opts CensusOptions) (Census, error) {
	f := source.Layout()
	c := Census{Posts: int64(f.Columns) * int64(f.Rows)}
	c.Lowest.Elevation, c.Highest.Elevation = math.NaN(), math.NaN()
	first := func(column, row int, e Extreme) bool { return row < e.Row || row == e.Row && column < e.Column }
	var done, told int64
	for row := 0; row < f.Rows; row += censusSide {
		for column := 0; column < f.Columns; column += censusSide {
			if err := ctx.Err(); err != nil {
				return Census{}, err
			}
			part := Window{Column: column, Row: row, Columns: censusSide, Rows: censusSide}.Intersect(f.Whole())
			s, err := suspectsIn(ctx, source, part, func(column, row int, h float64) {
				switch {
				case h != h:
					c.Voids++
					return
				case h > c.Lowest.Elevation && h < c.Highest.Elevation:
					return
				}
				if !(h > c.Lowest.Elevation) && (h != c.Lowest.Elevation || first(column, row, c.Lowest)) {
					c.Lowest = Extreme{column, row, h}
				}
				if !(h < c.Highest.Elevation) && (h != c.Highest.Elevation || first(column, row, c.Highest)) {
					c.Highest = Extreme{column, row, h}
				}
			})
			if err != nil {
				return Census{}, err
			}
			c.Suspicion.add(s)
			done += int64(part.Columns) * int64(part.Rows)
			if opts.Progress != nil && (done == c.Posts || done-told >= c.Posts/100) {
				told = done
				opts.Progress(done, c.Posts)
			}
		}
	}
	return c, nil
}
