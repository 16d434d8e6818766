package landform

import (
	"container/heap"
	"context"
	"fmt"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// isolationBlock is the side, in posts, of the blocks whose highest post and
// voids are kept, so that whole blocks can be passed over.
const isolationBlock = 32

// isolate fills in Isolation. The nearest post is found with the spacing at
// the summit's row and its distance is then the geodesic's; on a lon-lat
// grid more than 100 km from the summit another post may be nearer by up to
// a hundredth or two.
func isolate(ctx context.Context, g *dem.Grid, summits []Summit) error {
	m, err := newMetric(&g.Frame)
	if err != nil {
		return err
	}
	const b = isolationBlock
	across, down := (g.Columns+b-1)/b, (g.Rows+b-1)/b
	highest := make([]float32, across*down) // +Inf where the block has a void
	for i := range highest {
		highest[i] = float32(math.Inf(-1))
	}
	for row := range g.Rows {
		for column := range g.Columns {
			h := g.Elevations[row*g.Columns+column]
			k := row/b*across + column/b
			if isVoid(h) {
				highest[k] = float32(math.Inf(1))
			} else if h > highest[k] {
				highest[k] = h
			}
		}
	}
	var near blockHeap
	for i := range summits {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("landform: %w", err)
		}
		s := &summits[i]
		x, y := m.at(float64(s.Row))
		elevation := float32(s.Elevation)
		// the border bounds the search: nothing beyond it is known
		best := min(float64(min(s.Column, g.Columns-1-s.Column))*x, float64(min(s.Row, g.Rows-1-s.Row))*y)
		column, row, unknown := s.Column, s.Row, true
		switch best {
		case float64(s.Column) * x:
			column = 0
		case float64(g.Columns-1-s.Column) * x:
			column = g.Columns - 1
		case float64(s.Row) * y:
			row = 0
		default:
			row = g.Rows - 1
		}
		near = near[:0]
		// only blocks the border's distance can reach
		for r := max(0, (s.Row-int(best/y)-1)/b); r < down && r*b <= s.Row+int(best/y)+1; r++ {
			for c := max(0, (s.Column-int(best/x)-1)/b); c < across && c*b <= s.Column+int(best/x)+1; c++ {
				if highest[r*across+c] > elevation {
					dx := float64(max(c*b-s.Column, s.Column-(c*b+b-1), 0)) * x
					dy := float64(max(r*b-s.Row, s.Row-(r*b+b-1), 0)) * y
					near = append(near, block{math.Hypot(dx, dy), c, r})
				}
			}
		}
		heap.Init(&near)
		for len(near) > 0 && near[0].distance < best {
			k := heap.Pop(&near).(block)
			for r := k.row * b; r < min(k.row*b+b, g.Rows); r++ {
				for c := k.column * b; c < min(k.column*b+b, g.Columns); c++ {
					h := g.Elevations[r*g.Columns+c]
					if !(h > elevation) && !isVoid(h) {
						continue
					}
					if d := math.Hypot(float64(c-s.Column)*x, float64(r-s.Row)*y); d < best {
						best, column, row, unknown = d, c, r, isVoid(h)
					}
				}
			}
		}
		q, err := g.Place(float64(column), float64(row))
		if err != nil {
			return err
		}
		s.Isolation, s.IsolationAtLeast = geodesy.Inverse(s.Place, q).Distance, unknown
	}
	return nil
}

type block struct {
	distance    float64
	column, row int
}

// blockHeap orders blocks by distance, then row and column.
type blockHeap []block

func (h blockHeap) Len() int      { return len(h) }
func (h blockHeap) Swap(i, j int) { h[i], h[j] = h[j], h[i] }
func (h blockHeap) Less(i, j int) bool {
	a, b := h[i], h[j]
	if a.distance != b.distance {
		return a.distance < b.distance
	}
	return a.row < b.row || a.row == b.row && a.column < b.column
}
func (h *blockHeap) Push(x any) { *h = append(*h, x.(block)) }
func (h *blockHeap) Pop() any {
	old := *h
	x := old[len(old)-1]
	*h = old[:len(old)-1]
	return x
}
