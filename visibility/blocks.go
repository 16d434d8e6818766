package visibility

import (
	"context"
	"math"

	"crowline/dem"
	"crowline/dem/workers"
)

// blockCells is the size of the blocks that are turned away whole. Sixteen
// float32 posts are one cache line, so a block is also what a wedge that
// runs across the rows reads at once.
const blockCells = 16

// blocks holds, for each block of cells, its highest known post and whether
// any of its posts is void. A block's posts are those round its cells, both
// borders included, so that each edge lies wholly in some block.
type blocks struct {
	window       dem.Window
	across, down int
	tops         []float32 // -Inf when all void
	voids        []bool
}

func newBlocks(ctx context.Context, g *dem.Grid, w dem.Window, concurrency int) (*blocks, error) {
	b := &blocks{
		window: w,
		across: max(1, (w.Columns-1+blockCells-1)/blockCells),
		down:   max(1, (w.Rows-1+blockCells-1)/blockCells),
	}
	b.tops = make([]float32, b.across*b.down)
	b.voids = make([]bool, b.across*b.down)
	err := parallel(ctx, b.down, concurrency, func(_, j int) {
		tops, voids := b.tops[j*b.across:(j+1)*b.across], b.voids[j*b.across:(j+1)*b.across]
		for i := range tops {
			tops[i] = float32(math.Inf(-1))
		}
		r0 := w.Row + j*blockCells
		r1 := min(r0+blockCells, w.Row+w.Rows-1)
		for r := r0; r <= r1; r++ {
			line := g.Elevations[r*g.Columns+w.Column : r*g.Columns+w.Column+w.Columns]
			for i := range tops {
				part := line[i*blockCells : min(i*blockCells+blockCells+1, len(line))]
				top, void := tops[i], false
				for _, h := range part {
					if !(h <= top) { // one comparison for most posts
						if h > top {
							top = h
						} else if h != h {
							void = true
						}
					}
				}
				tops[i] = top
				voids[i] = voids[i] || void
			}
		}
	})
	return b, err
}

// Highest is the elevation of the highest post of a grid's window, metres, -Inf
// where all are void, and whether any is. Concurrency zero is all cores.
func Highest(g *dem.Grid, w dem.Window, concurrency int) (top float64, voids bool) {
	const rows = 64 // for one piece of work
	type part struct {
		top  float32
		void bool
	}
	parts := make([]part, (w.Rows+rows-1)/rows)
	_ = parallel(context.Background(), len(parts), concurrency, func(_, i int) { // nothing of it ends or fails
		p := part{top: float32(math.Inf(-1))}
		for r := i * rows; r < min((i+1)*rows, w.Rows); r++ {
			for _, h := range g.Elevations[(w.Row+r)*g.Columns+w.Column:][:w.Columns] {
				if !(h <= p.top) { // one comparison for most posts
					if h > p.top {
						p.top = h
					} else {
						p.void = p.void || h != h
					}
				}
			}
		}
		parts[i] = p
	})
	top = math.Inf(-1)
	for _, p := range parts {
		top, voids = max(top, float64(p.top)), voids || p.void
	}
	return top, voids
}

// parallel is workers.Each for work that cannot fail.
func parallel(ctx context.Context, n, concurrency int, work func(worker, item int)) error {
	return workers.Each(ctx, n, concurrency, func(worker, item int) error {
		work(worker, item)
		return nil
	})
}
