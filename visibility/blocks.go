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

// parallel is workers.Each for work that cannot fail.
func parallel(ctx context.Context, n, concurrency int, work func(worker, item int)) error {
	return workers.Each(ctx, n, concurrency, func(worker, item int) error {
		work(worker, item)
		return nil
	})
}
