package dem

import (
	"container/list"
	"context"
	"fmt"
	"math"
)

// BlockColumns and BlockRows are the size of a block, posts: as wide as the
// commonest tile in files made for reading by the window, and low, because
// the rows of a tile are stored one after the other: from one that is not
// compressed, and lies on a web server, no more than these need be fetched.
const (
	BlockColumns = 256
	BlockRows    = 64
)

const blockBytes = 4 * BlockColumns * BlockRows

// DefaultBlockMemory is what Blocks holds unless told otherwise: 64 MiB, 1024
// blocks, a path of 65 000 posts at the least.
const DefaultBlockMemory = 64 << 20

// Blocks is the posts of a source, read in blocks as they are asked
// for, so that the cost of a question is that of the ground it looks at. The
// blocks used last are kept. From one goroutine at a time.
//
// Elevation cannot return an error, so the first failed read is kept for Err
// and every elevation after it is NaN: ask Err before trusting an answer.
type Blocks struct {
	// ctx is kept because Elevation takes none: it ends every later read.
	ctx    context.Context
	source Source
	frame  *Frame
	limit  int // blocks

	kept  map[[2]int]*list.Element // of *block
	order *list.List               // last used first
	last  *block
	lastC int
	lastR int
	reads int
	err   error
}

type block struct {
	key  [2]int
	grid *Grid
}

var _ Posts = (*Blocks)(nil)

// NewBlocks reads source through blocks of at most maxBytes together (at
// least one block, 64 KiB); 0 means DefaultBlockMemory. It does not take
// over the source's Close.
func NewBlocks(ctx context.Context, source Source, maxBytes int64) *Blocks {
	if maxBytes == 0 {
		maxBytes = DefaultBlockMemory
	}
	return &Blocks{
		ctx: ctx, source: source, frame: source.Layout(),
		limit: max(1, int(maxBytes/blockBytes)),
		kept:  map[[2]int]*list.Element{}, order: list.New(), lastC: -1, lastR: -1,
	}
}

// Layout is the source's frame.
func (b *Blocks) Layout() *Frame { return b.frame }

// Err is the first error met, or nil.
func (b *Blocks) Err() error { return b.err }

// Elevation of a post in metres; NaN where void, outside, or after an error.
func (b *Blocks) Elevation(column, row int) float64 {
	if uint(column) >= uint(b.frame.Columns) || uint(row) >= uint(b.frame.Rows) || b.err != nil {
		return math.NaN()
	}
	c, r := column/BlockColumns, row/BlockRows
	if c != b.lastC || r != b.lastR {
		if !b.use(c, r) {
			return math.NaN()
		}
	}
	g := b.last.grid
	return float64(g.Elevations[(row-r*BlockRows)*g.Columns+column-c*BlockColumns])
}

// IsFilled reports whether a post was void and has been filled; false
// outside and after an error.
func (b *Blocks) IsFilled(column, row int) bool {
	if uint(column) >= uint(b.frame.Columns) || uint(row) >= uint(b.frame.Rows) || b.err != nil {
		return false
	}
	c, r := column/BlockColumns, row/BlockRows
	if c != b.lastC || r != b.lastR {
		if !b.use(c, r) {
			return false
		}
	}
	return b.last.grid.IsFilled(column-c*BlockColumns, row-r*BlockRows)
}

// Under is nil: blocks are read as the source has them.
func (b *Blocks) Under() Posts { return nil }

// use makes a block the last one, reading it if it is not kept.
func (b *Blocks) use(c, r int) bool {
	key := [2]int{c, r}
	element := b.kept[key]
	if element == nil {
		w := Window{Column: c * BlockColumns, Row: r * BlockRows, Columns: BlockColumns, Rows: BlockRows}
		w = w.Intersect(b.frame.Whole())
		g, err := b.source.Read(b.ctx, w)
		if err == nil && len(g.Elevations) != w.Columns*w.Rows {
			err = fmt.Errorf("%s gave %d posts of %d", b.source.Info().Name, len(g.Elevations), w.Columns*w.Rows)
		}
		if err != nil {
			b.err = err
			return false
		}
		b.reads++
		if b.order.Len() >= b.limit {
			oldest := b.order.Back()
			delete(b.kept, oldest.Value.(*block).key)
			b.order.Remove(oldest)
		}
		element = b.order.PushFront(&block{key: key, grid: g})
		b.kept[key] = element
	} else {
		b.order.MoveToFront(element)
	}
	b.last, b.lastC, b.lastR = element.Value.(*block), c, r
	return true
}
