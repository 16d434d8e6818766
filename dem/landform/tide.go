package landform

import (
	"context"
	"fmt"
	"math"
	"math/bits"
	"slices"

	"crowline/dem"
)

// tide is the flood of SummitsIn over a grid in memory: water that stands level
// with a top falls until higher ground, or the edge of what is known, is joined
// to it. Ground is taken 8 x 8 posts at a time, a bit a post, so that all that
// comes out at one level of water is gone over in a few operations a tile. The
// water falls in growing steps; a step that falls too far is taken back and
// halved, until it ends at the very post that joins.
type tide struct {
	grid         *dem.Grid
	window       dem.Window
	across, down int         // tiles
	pages        []*tidePage // made as they are first asked for
	pagesAcross  int

	flood  uint32
	level  float32 // of the top
	peak   int32   // its first post
	equals map[int32]bool

	active []tileAt // tiles with posts that are next to come out
	queue  []tileAt
	log    []tideUndo
	higher bool // met: ground that counts as higher
	edge   bool // met: a post on the border of the window or beside a void
}

// tileAt is where a tile stands among tiles.
type tileAt struct{ c, r int32 }

// tideTile is 8 x 8 posts.
type tideTile struct {
	out       uint64 // posts above the water and joined to the top
	flood     uint32 // that out, gate, active and queued are of
	gate      float32
	high, low float32 // of its posts; low is -Inf where one is void
	ranged    bool
	edge      bool // some post is on the border of the window, or may be beside a void
	active    bool
	queued    bool
}

const (
	tilePosts = 8
	pageTiles = 32
)

type tidePage [pageTiles * pageTiles]tideTile

// tideUndo is what a tile was before a step.
type tideUndo struct {
	tile   *tideTile
	out    uint64
	gate   float32
	active bool
}

func newTide(g *dem.Grid, w dem.Window) *tide {
	f := &tide{grid: g, window: w, across: (w.Columns + tilePosts - 1) / tilePosts, down: (w.Rows + tilePosts - 1) / tilePosts}
	f.pagesAcross = f.across/pageTiles + 1
	f.pages = make([]*tidePage, f.pagesAcross*(f.down/pageTiles+1))
	return f
}

// firstColumn and firstRow are the posts of a tile along one of its sides, lastColumn
// and lastRow those along the others.
const (
	firstColumn uint64 = 0x0101010101010101
	lastColumn  uint64 = firstColumn << 7
	firstRow    uint64 = 0xff
	lastRow     uint64 = firstRow << 56
)

// spread is a tile's posts and those beside them.
func spread(x uint64) uint64 {
	x |= x<<1&^firstColumn | x>>1&^lastColumn
	return x | x<<8 | x>>8
}

func (f *tide) tile(c, r int) *tideTile {
	at := &f.pages[int(uint(r)/pageTiles)*f.pagesAcross+int(uint(c)/pageTiles)]
	if *at == nil {
		*at = new(tidePage)
	}
	t := &(*at)[uint(r)%pageTiles*pageTiles+uint(c)%pageTiles]
	if t.flood != f.flood {
		t.flood, t.out, t.gate, t.active, t.queued = f.flood, 0, float32(math.Inf(-1)), false, false
	}
	return t
}

func (f *tide) of(at tileAt) *tideTile { return f.tile(int(at.c), int(at.r)) }

// size is how many posts a tile has each way: fewer at the window's far sides.
func (f *tide) size(c, r int) (columns, rows int) {
	return min(tilePosts, f.window.Columns-c*tilePosts), min(tilePosts, f.window.Rows-r*tilePosts)
}

// line is the elevations of a tile's row.
func (f *tide) line(c, r, i, columns int) []float32 {
	return f.grid.Elevations[(f.window.Row+r*tilePosts+i)*f.grid.Columns+f.window.Column+c*tilePosts:][:columns]
}

// measure finds a tile's highest and lowest post.
func (f *tide) measure(t *tideTile, c, r int) {
	columns, rows := f.size(c, r)
	t.ranged, t.high, t.low = true, float32(math.Inf(-1)), float32(math.Inf(1))
	t.edge = c == 0 || r == 0 || c*tilePosts+columns == f.window.Columns || r*tilePosts+rows == f.window.Rows
	for i := range rows {
		for _, h := range f.line(c, r, i, columns) {
			if isVoid(h) {
				t.low, t.edge = float32(math.Inf(-1)), true
				continue
			}
			t.high, t.low = max(t.high, h), min(t.low, h)
		}
	}
	if !t.edge { // the posts round it
		for i := -1; i <= tilePosts; i++ {
			step := 1
			if i >= 0 && i < tilePosts {
				step = tilePosts + 1
			}
			for j := -1; j <= tilePosts; j += step {
				if isVoid(f.elevation(c*tilePosts+j, r*tilePosts+i)) {
					t.edge = true
					return
				}
			}
		}
	}
}

func (f *tide) elevation(column, row int) float32 {
	return f.grid.Elevations[(f.window.Row+row)*f.grid.Columns+f.window.Column+column]
}

// dry are the posts of a tile no lower than the water.
func (f *tide) dry(t *tideTile, c, r int, water float32) uint64 {
	columns, rows := f.size(c, r)
	if t.low >= water && columns == tilePosts && rows == tilePosts {
		return math.MaxUint64
	}
	if t.high < water {
		return 0
	}
	var out uint64
	for i := range rows {
		var row uint64
		for j, h := range f.line(c, r, i, columns) {
			if h >= water { // never true of a NaN
				row |= 1 << j
			}
		}
		out |= row << (i * tilePosts)
	}
	return out
}

// beside are the posts of a tile beside one that is out in another tile.
func (f *tide) beside(c, r int) uint64 {
	var x uint64
	of := func(dc, dr int) uint64 {
		if uint(c+dc) >= uint(f.across) || uint(r+dr) >= uint(f.down) {
			return 0
		}
		return f.tile(c+dc, r+dr).out
	}
	if v := of(-1, 0) >> 7 & firstColumn; v != 0 {
		x |= v | v<<8 | v>>8
	}
	if v := of(1, 0) << 7 & lastColumn; v != 0 {
		x |= v | v<<8 | v>>8
	}
	if v := of(0, -1) >> 56; v != 0 {
		x |= v | v<<1&firstRow | v>>1
	}
	if v := of(0, 1) & firstRow; v != 0 {
		x |= (v | v<<1&firstRow | v>>1) << 56
	}
	x |= of(-1, -1) >> 63
	x |= of(1, -1) >> 56 & 1 << 7
	x |= of(-1, 1) >> 7 & 1 << 56
	x |= of(1, 1) << 63
	return x
}

// begin starts a flood from a level top.
func (f *tide) begin(top []int32, level float32) {
	f.flood++
	f.level, f.peak, f.equals = level, slices.Min(top), nil
	f.active, f.queue, f.log = f.active[:0], f.queue[:0], f.log[:0]
	for _, p := range top {
		column, row := int(p)%f.window.Columns, int(p)/f.window.Columns
		f.tile(column/tilePosts, row/tilePosts).out |= 1 << (row%tilePosts*tilePosts + column%tilePosts)
	}
	for _, p := range top {
		c, r := int(p)%f.window.Columns/tilePosts, int(p)/f.window.Columns/tilePosts
		for dr := max(0, r-1); dr <= min(f.down-1, r+1); dr++ {
			for dc := max(0, c-1); dc <= min(f.across-1, c+1); dc++ {
				f.wake(dc, dr, float32(math.Inf(1)))
			}
		}
	}
	f.log = f.log[:0]
}

// wake makes a tile one that is looked at when the water falls to gate.
func (f *tide) wake(c, r int, gate float32) *tideTile {
	t := f.tile(c, r)
	if !t.active {
		f.log = append(f.log, tideUndo{t, t.out, t.gate, false})
		t.active, t.gate = true, gate
		f.active = append(f.active, tileAt{int32(c), int32(r)})
	}
	return t
}

// fall lets the water fall to a level, and ends early where enough says so. It
// reports whether higher ground or the edge was met.
func (f *tide) fall(ctx context.Context, water float32, enough func() bool) error {
	f.higher, f.edge = false, false
	for _, at := range f.active {
		if t := f.of(at); t.gate >= water {
			t.queued = true
			f.queue = append(f.queue, at)
		}
	}
	for count := 0; len(f.queue) > 0; count++ {
		if count%(1<<12) == 0 && ctx.Err() != nil {
			return fmt.Errorf("landform: %w", ctx.Err())
		}
		at := f.queue[len(f.queue)-1]
		f.queue = f.queue[:len(f.queue)-1]
		f.bare(int(at.c), int(at.r), water)
		if enough() {
			for _, at := range f.queue {
				f.of(at).queued = false
			}
			f.queue = f.queue[:0]
			break
		}
	}
	return nil
}

// bare takes out of the water what of a tile is above it and joined to the top.
func (f *tide) bare(c, r int, water float32) {
	t := f.tile(c, r)
	t.queued = false
	if !t.ranged {
		f.measure(t, c, r)
	}
	f.log = append(f.log, tideUndo{t, t.out, t.gate, true})
	next := (spread(t.out) | f.beside(c, r)) &^ t.out
	dry := f.dry(t, c, r, water) &^ t.out
	fresh := next & dry
	for grown := fresh; grown != 0; {
		grown = spread(fresh) & dry &^ fresh
		fresh |= grown
	}
	t.out |= fresh
	t.gate = f.gate(t, c, r, (next|spread(t.out))&^t.out)
	if fresh == 0 {
		return
	}
	f.meet(t, c, r, fresh)
	for dr := -1; dr <= 1; dr++ {
		for dc := -1; dc <= 1; dc++ {
			side := uint64(math.MaxUint64)
			switch dc {
			case -1:
				side &= firstColumn
			case 1:
				side &= lastColumn
			}
			switch dr {
			case -1:
				side &= firstRow
			case 1:
				side &= lastRow
			}
			if dc == 0 && dr == 0 || fresh&side == 0 || uint(c+dc) >= uint(f.across) || uint(r+dr) >= uint(f.down) {
				continue
			}
			if n := f.wake(c+dc, r+dr, float32(math.Inf(-1))); !n.queued {
				n.queued = true
				f.queue = append(f.queue, tileAt{int32(c + dc), int32(r + dr)})
			}
		}
	}
}

// gate is the highest of some posts of a tile, -Inf for none.
func (f *tide) gate(t *tideTile, c, r int, posts uint64) float32 {
	columns, rows := f.size(c, r)
	gate := float32(math.Inf(-1))
	for i := 0; i < rows && posts != 0; i, posts = i+1, posts>>tilePosts {
		row := uint8(posts)
		if row == 0 {
			continue
		}
		line := f.line(c, r, i, columns)
		for ; row != 0; row &= row - 1 {
			if j := bits.TrailingZeros8(row); j < len(line) && line[j] > gate {
				gate = line[j]
			}
		}
	}
	return gate
}

// meet looks for higher ground and the edge among posts that have come out.
func (f *tide) meet(t *tideTile, tc, tr int, fresh uint64) {
	mayHigher, mayEdge := !f.higher && t.high >= f.level, !f.edge && t.edge
	if !mayHigher && !mayEdge {
		return
	}
	for ; fresh != 0; fresh &= fresh - 1 {
		bit := bits.TrailingZeros64(fresh)
		column, row := tc*tilePosts+bit%tilePosts, tr*tilePosts+bit/tilePosts
		if mayHigher {
			h := f.elevation(column, row)
			f.higher = f.higher || h > f.level || h == f.level && f.before(int32(row*f.window.Columns+column))
		}
		if mayEdge {
			for _, d := range directions {
				c, r := column+d[0], row+d[1]
				if uint(c) >= uint(f.window.Columns) || uint(r) >= uint(f.window.Rows) || isVoid(f.elevation(c, r)) {
					f.edge = true
					break
				}
			}
		}
	}
}

// before reports whether level ground as high as the top counts as higher: its
// first post comes before the top's.
func (f *tide) before(post int32) bool {
	if of, ok := f.equals[post]; ok {
		return of
	}
	if f.equals == nil {
		f.equals = map[int32]bool{}
	}
	posts := []int32{post}
	f.equals[post] = false
	for i := 0; i < len(posts); i++ {
		c, r := int(posts[i])%f.window.Columns, int(posts[i])/f.window.Columns
		for _, d := range directions {
			nc, nr := c+d[0], r+d[1]
			if uint(nc) >= uint(f.window.Columns) || uint(nr) >= uint(f.window.Rows) || f.elevation(nc, nr) != f.level {
				continue
			}
			p := int32(nr*f.window.Columns + nc)
			if _, ok := f.equals[p]; !ok {
				f.equals[p] = false
				posts = append(posts, p)
			}
		}
	}
	of := slices.Min(posts) < f.peak
	for _, p := range posts {
		f.equals[p] = of
	}
	return of
}

// keep ends a step: what is out stays out.
func (f *tide) keep() {
	f.log = f.log[:0]
	kept := f.active[:0]
	for _, at := range f.active {
		if t := f.of(at); math.IsInf(float64(t.gate), -1) {
			t.active = false
		} else {
			kept = append(kept, at)
		}
	}
	f.active = kept
}

// back takes a step back, which began with so many active tiles.
func (f *tide) back(active int) {
	for i := len(f.log) - 1; i >= 0; i-- {
		u := f.log[i]
		u.tile.out, u.tile.gate, u.tile.active = u.out, u.gate, u.active
	}
	f.log, f.active = f.log[:0], f.active[:active]
}

// next is the highest post that is next to come out.
func (f *tide) next() float32 {
	gate := float32(math.Inf(-1))
	for _, at := range f.active {
		gate = max(gate, f.of(at).gate)
	}
	return gate
}

// stepGrows is how much farther the water falls with each step.
const stepGrows = 1.3

// prominence is what a top's is, with the search that searcher.summit makes: the
// most and the least it may be, metres, and false where it is no summit of so much.
func (f *tide) prominence(ctx context.Context, top []int32, level float32, minimum float64) (least, most float64, ok bool, err error) {
	f.begin(top, level)
	descent := func(to float32) float64 { return float64(level) - float64(to) }
	both := func() bool { return f.higher || f.edge }
	onlyHigher := func() bool { return f.higher }
	// try lets the water fall, and takes it back where something is met
	try := func(water float32) (met bool, err error) {
		active := len(f.active)
		if err := f.fall(ctx, water, both); err != nil {
			return false, err
		}
		if both() {
			f.back(active)
			return true, nil
		}
		f.keep()
		return false, nil
	}
	// most tops are told by this one: is there higher ground within the minimum?
	near := float32(float64(level) - minimum)
	for descent(near) >= minimum {
		near = math.Nextafter32(near, float32(math.Inf(1)))
	}
	for low := math.Nextafter32(near, float32(math.Inf(-1))); descent(low) < minimum; low = math.Nextafter32(near, float32(math.Inf(-1))) {
		near = low
	}
	hit := level // something is met as soon as the water is here; level for nothing known
	if near < level {
		active := len(f.active)
		if err := f.fall(ctx, near, onlyHigher); err != nil {
			return 0, 0, false, err
		}
		if f.higher {
			return 0, 0, false, nil
		}
		if f.edge {
			hit = near
			f.back(active)
		} else {
			f.keep()
		}
	}
	for step := max(minimum, 1); hit == level; step *= stepGrows {
		water := float32(float64(level) - step)
		if water == level { // of heights so great that a metre is nothing
			continue
		}
		met, err := try(water)
		if err != nil {
			return 0, 0, false, err
		}
		if met {
			hit = water
		} else if len(f.active) == 0 { // everything is out, and nothing met
			return 0, 0, false, nil
		}
	}
	for {
		next := f.next()
		if next <= hit {
			hit = next
			break
		}
		water := hit + (next-hit)/2
		if water <= hit || water >= next {
			water = next
		}
		met, err := try(water)
		if err != nil {
			return 0, 0, false, err
		}
		if met {
			hit = water
		}
	}
	if err := f.fall(ctx, hit, func() bool { return f.higher && f.edge }); err != nil {
		return 0, 0, false, err
	}
	least = descent(hit)
	switch {
	case f.higher: // met no later than the edge
		most = least
	default:
		most = math.Inf(1)
	}
	return least, most, least > 0 && most >= minimum, nil
}
