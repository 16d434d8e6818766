package contour

import (
	"math"
	"slices"
)

// The kernel: marching squares over one strip of rows.
//
// Every post gets a rank: twice the number of the highest level at or below
// it, plus one if it stands above that level rather than on it. All further
// tests compare whole numbers, so no rounding can make two cells disagree
// about a post. Each crossing of an edge by a level is a node; each cell
// joins nodes in pairs, from the one where the line comes in to the one
// where it goes out with the higher ground on its right. A node lies between
// two cells, comes out of one and into the other, so one "next" a node holds
// every line, and following it is linear.

// void is the rank of a post without an elevation.
const void = math.MinInt32

// none is the absence of a node.
const none = -1

type node struct {
	at         Position
	next, prev int32
}

// strip is a run of whole rows to be traced: cells between rows first and
// last, with the row above and the row below where the data has them.
type strip struct {
	columns     int
	first, last int
	above       []float32 // row first-1, or nil
	rows        []float32 // rows first to last
	below       []float32 // row last+1, or nil
}

func (s *strip) row(r int) []float32 {
	switch {
	case r < s.first:
		return s.above
	case r > s.last:
		return s.below
	}
	i := (r - s.first) * s.columns
	return s.rows[i : i+s.columns]
}

// chain is a piece of line that starts or ends at the strip's border.
type chain struct {
	number     int32
	head, tail int32 // nodes
	points     []Position
}

// traced is what a strip holds.
type traced struct {
	lines []Line  // complete within the strip
	open  []chain // with an end on the seam above or below
	// Nodes of the first row are numbered from 0, those of the last row from
	// lastRow; both strips at a seam number them alike.
	firstRow, lastRow, nodes int32
	posts                    bool // some post has an elevation
	err                      error
}

// worker holds one goroutine's scratch, reused from strip to strip.
type worker struct {
	levels         Levels
	columns        int
	inverse, shift float64 // rank is about elevation*inverse - shift
	unit           float64
	base, step     float64

	nodes   []node
	numbers []int32 // level of each node
	touches []touch

	ranks   [3][]int32 // of the rows above, at and below the current one
	rowBase [2][]int32 // first node of each row edge, previous and current row
	rowMade [2]bool
}

type touch struct {
	number      int32
	column, row int32
	alongRow    bool
}

func newWorker(l Levels, columns int) *worker {
	w := &worker{levels: l, columns: columns, unit: l.Unit.Metres(), base: l.Base, step: l.step()}
	w.inverse = 1 / (w.unit * w.step)
	w.shift = l.Base / w.step
	for i := range w.ranks {
		w.ranks[i] = make([]int32, columns)
	}
	for i := range w.rowBase {
		w.rowBase[i] = make([]int32, columns)
	}
	return w
}

// elevation of level j; the same arithmetic as Levels.Elevation.
func (w *worker) elevation(j int32) float64 {
	return (w.base + float64(float64(j)*w.step)) * w.unit
}

// rank fills one row's ranks.
func (w *worker) rank(row int, posts []float32, ranks []int32) error {
	// Away from a whole number by this much, the rounding of the quotient
	// (under 1e-9 for steps of a centimetre and more) cannot matter.
	const near = 1e-7
	for c, p := range posts {
		h := float64(p)
		if !(h >= lowestGround && h <= highestGround) {
			if h != h {
				ranks[c] = void
				continue
			}
			return &ImplausibleError{Column: c, Row: row, Elevation: h}
		}
		x := h*w.inverse - w.shift
		j := int32(x)
		f := x - float64(j)
		if f < 0 {
			j--
			f++
		}
		if f > near && f < 1-near {
			ranks[c] = 2*j + 1
			continue
		}
		j = int32(w.levels.Below(h))
		if w.elevation(j) == h {
			ranks[c] = 2 * j
		} else {
			ranks[c] = 2*j + 1
		}
	}
	return nil
}

// trace does one strip.
func (w *worker) trace(s *strip) (out traced) {
	w.nodes, w.numbers, w.touches = w.nodes[:0], w.numbers[:0], w.touches[:0]
	above, here, below := w.ranks[0], w.ranks[1], w.ranks[2]
	haveAbove := s.above != nil
	if haveAbove {
		if out.err = w.rank(s.first-1, s.above, above); out.err != nil {
			return out
		}
	}
	if out.err = w.rank(s.first, s.row(s.first), here); out.err != nil {
		return out
	}
	for r := s.first; r <= s.last; r++ {
		next := s.row(r + 1)
		if next != nil {
			if out.err = w.rank(r+1, next, below); out.err != nil {
				return out
			}
		}
		i := (r - s.first) & 1
		if r == s.last {
			out.lastRow = int32(len(w.nodes))
		}
		up, down := above, below
		if !haveAbove {
			up = nil
		}
		if next == nil {
			down = nil
		}
		w.crossRow(r, s.row(r), up, here, down, w.rowBase[i], r > s.first)
		if r == s.first {
			out.firstRow = int32(len(w.nodes))
		}
		if r == s.last {
			out.nodes = int32(len(w.nodes))
		}
		if r > s.first {
			w.cells(r-1, s.row(r-1), s.row(r), above, here, w.rowBase[1-i], w.rowBase[i])
		}
		above, here, below = here, below, above
		haveAbove = true
		if len(w.nodes) > maxStripNodes {
			out.err = errTooManyPoints
			return out
		}
	}
	w.follow(s, &out)
	out.posts = slices.ContainsFunc(s.rows, func(p float32) bool { return p == p })
	return out
}

// cross adds the nodes of one edge, from a post p of rank a to q of rank b,
// and gives the first one's number. Node n belongs to the nth level above
// the lower post.
func (w *worker) cross(p, q float32, a, b int32, column, row float64, alongRow bool) int32 {
	first := int32(len(w.nodes))
	low, high := a>>1, b>>1
	if low > high {
		low, high = high, low
	}
	p64, q64 := float64(p), float64(q)
	for j := low + 1; j <= high; j++ {
		t := (w.elevation(j) - p64) / (q64 - p64)
		at := Position{column, row}
		if alongRow {
			at.Column += t
		} else {
			at.Row += t
		}
		w.nodes = append(w.nodes, node{at, none, none})
		w.numbers = append(w.numbers, j)
	}
	return first
}

// touched adds the two nodes of an edge whose posts both stand on a level
// with lower ground on both sides. The line would run out along it and
// back; instead each end turns round its own post and the edge stands apart.
func (w *worker) touched(rank int32, column, row int, alongRow, keep bool) int32 {
	first := int32(len(w.nodes))
	p := Position{float64(column), float64(row)}
	q := p
	if alongRow {
		q.Column++
	} else {
		q.Row++
	}
	w.nodes = append(w.nodes, node{p, none, none}, node{q, none, none})
	w.numbers = append(w.numbers, rank>>1, rank>>1)
	if keep {
		w.touches = append(w.touches, touch{rank >> 1, int32(column), int32(row), alongRow})
	}
	return first
}

// lower reports whether two posts of a cell both stand below a rank.
func lower(a, b, rank int32) bool { return a != void && b != void && a < rank && b < rank }

// crossRow adds the nodes on the edges along a row.
func (w *worker) crossRow(r int, posts []float32, up, here, down []int32, base []int32, keep bool) {
	a := here[0]
	for c := 0; c+1 < len(here); c++ {
		b := here[c+1]
		if a == b {
			if a&1 == 0 && a != void {
				base[c] = none
				if up != nil && down != nil && lower(up[c], up[c+1], a) && lower(down[c], down[c+1], a) {
					base[c] = w.touched(a, c, r, true, keep)
				}
			}
			continue
		}
		if a != void && b != void && a>>1 != b>>1 {
			base[c] = w.cross(posts[c], posts[c+1], a, b, float64(c), float64(r), true)
		}
		a = b
	}
}

// cells joins the nodes of the cells between two rows.
func (w *worker) cells(r int, topPosts, bottomPosts []float32, top, bottom []int32, topBase, bottomBase []int32) {
	n := len(top)
	bottom, topBase, bottomBase = bottom[:n], topBase[:n], bottomBase[:n]
	topPosts, bottomPosts = topPosts[:n], bottomPosts[:n]
	tl, bl := top[0], bottom[0]
	left := int32(none)
	if tl != bl && tl != void && bl != void {
		left = w.cross(topPosts[0], bottomPosts[0], tl, bl, 0, float64(r), false)
	}
	for c := 1; c < n; c++ {
		tr, br := top[c], bottom[c]
		if tl == tr && bl == br && tl == bl {
			left = none
			continue
		}
		right := int32(none)
		if tr != br {
			if tr != void && br != void {
				right = w.cross(topPosts[c], bottomPosts[c], tr, br, float64(c), float64(r), false)
			}
		} else if tr&1 == 0 && tr != void && c+1 < n && lower(tl, bl, tr) && lower(top[c+1], bottom[c+1], tr) {
			right = w.touched(tr, c, r, false, true)
		}
		if tl != void && tr != void && bl != void && br != void {
			lowest, highest := min(tl, tr, bl, br)>>1, max(tl, tr, bl, br)>>1
			if lowest != highest {
				k := cell{tl: tl, tr: tr, br: br, bl: bl, top: topBase[c-1], bottom: bottomBase[c-1], left: left, right: right}
				for j := lowest + 1; j <= highest; j++ {
					w.join(&k, j, c-1, topPosts, bottomPosts)
				}
			}
		}
		tl, bl, left = tr, br, right
	}
}

// cell is the ranks of a cell's corners and the first nodes of its edges.
type cell struct {
	tl, tr, br, bl           int32
	top, bottom, left, right int32
}

// on is the node of level j on an edge whose posts have ranks a and b.
func on(first, a, b, j int32) int32 { return first + j - min(a>>1, b>>1) - 1 }

func (w *worker) link(from, to int32) {
	w.nodes[from].next = to
	w.nodes[to].prev = from
}

// join draws level j through a cell. Corners at or above the level are
// counted 8 (top left), 4 (top right), 2 (bottom right), 1 (bottom left);
// lines run with those corners on the right.
func (w *worker) join(k *cell, j int32, column int, topPosts, bottomPosts []float32) {
	mask := 0
	if k.tl>>1 >= j {
		mask |= 8
	}
	if k.tr>>1 >= j {
		mask |= 4
	}
	if k.br>>1 >= j {
		mask |= 2
	}
	if k.bl>>1 >= j {
		mask |= 1
	}
	t := on(k.top, k.tl, k.tr, j)
	b := on(k.bottom, k.bl, k.br, j)
	l := on(k.left, k.tl, k.bl, j)
	r := on(k.right, k.tr, k.br, j)
	exact := 2 * j // rank of a post that stands on the level
	switch mask {
	case 8:
		w.link(t, l)
	case 4:
		w.link(r, t)
	case 2:
		w.link(b, r)
	case 1:
		w.link(l, b)
	case 7:
		w.link(l, t)
	case 11:
		w.link(t, r)
	case 13:
		w.link(r, b)
	case 14:
		w.link(b, l)
	case 12:
		if k.tl == exact && k.tr == exact && k.top >= 0 {
			w.link(r, k.top+1)
			w.link(k.top, l)
		} else {
			w.link(r, l)
		}
	case 3:
		if k.bl == exact && k.br == exact && k.bottom >= 0 {
			w.link(l, k.bottom)
			w.link(k.bottom+1, r)
		} else {
			w.link(l, r)
		}
	case 9:
		if k.tl == exact && k.bl == exact && k.left >= 0 {
			w.link(t, k.left)
			w.link(k.left+1, b)
		} else {
			w.link(t, b)
		}
	case 6:
		if k.tr == exact && k.br == exact && k.right >= 0 {
			w.link(b, k.right+1)
			w.link(k.right, t)
		} else {
			w.link(b, t)
		}
	case 10: // top left and bottom right
		if joined(w.elevation(j), topPosts[column], bottomPosts[column+1], topPosts[column+1], bottomPosts[column]) {
			w.link(t, r)
			w.link(b, l)
		} else {
			w.link(t, l)
			w.link(b, r)
		}
	case 5: // top right and bottom left
		if joined(w.elevation(j), topPosts[column+1], bottomPosts[column], topPosts[column], bottomPosts[column+1]) {
			w.link(l, t)
			w.link(r, b)
		} else {
			w.link(r, t)
			w.link(l, b)
		}
	}
}

// joined reports whether the two high corners of a saddle cell are joined
// by ground at or above the level: whether the saddle point of the bilinear
// surface through the four corners, (ac-bd)/(a+c-b-d), reaches it (the
// asymptotic decider of Nielson and Hamann, 1991). Written as a product of
// differences that are all of one sign, it is monotone in the level even
// after rounding, so of two levels the lower is never parted where the
// higher is joined, and their lines cannot cross.
func joined(level float64, high1, high2, low1, low2 float32) bool {
	return (float64(high1)-level)*(float64(high2)-level) >= (level-float64(low1))*(level-float64(low2))
}

// follow collects the lines.
func (w *worker) follow(s *strip, out *traced) {
	seam := func(n int32) bool {
		return (n < out.firstRow && s.above != nil) || (n >= out.lastRow && n < out.nodes && s.below != nil)
	}
	points := make([]Position, 0, len(w.nodes)/2+len(w.nodes)/4)
	seamPoints := make([]Position, 0, len(w.nodes)/2)
	type span struct{ from, to int }
	var spans, seamSpans []span
	nodes := w.nodes
	for i := range nodes {
		if nodes[i].prev != none || nodes[i].next == none {
			continue
		}
		from := len(points)
		var tail int32
		points, tail = w.collect(points, int32(i))
		switch {
		case seam(int32(i)) || seam(tail):
			out.open = append(out.open, chain{number: w.numbers[i], head: int32(i), tail: tail})
			start := len(seamPoints)
			seamPoints = append(seamPoints, points[from:]...)
			seamSpans = append(seamSpans, span{start, len(seamPoints)})
			points = points[:from]
		case len(points)-from < 2: // all at one post
			points = points[:from]
		default:
			out.lines = append(out.lines, w.line(w.numbers[i]))
			spans = append(spans, span{from, len(points)})
		}
	}
	for i := range nodes {
		if nodes[i].next == none {
			continue
		}
		from := len(points)
		points, _ = w.collect(points, int32(i))
		if n := len(points); n-from > 1 && points[n-1] == points[from] {
			points = points[:n-1] // the start was one of several nodes at a post
		}
		if len(points)-from < 3 {
			points = points[:from]
			continue
		}
		points = append(points, points[from])
		out.lines = append(out.lines, w.line(w.numbers[i]))
		spans = append(spans, span{from, len(points)})
	}
	for i, s := range spans {
		out.lines[i].Points = points[s.from:s.to:s.to]
		out.lines[i].close()
	}
	for i, s := range seamSpans {
		out.open[i].points = seamPoints[s.from:s.to:s.to]
	}
	for _, t := range w.touches {
		line := w.line(t.number)
		line.Touch = true
		p := Position{float64(t.column), float64(t.row)}
		q := p
		if t.alongRow {
			q.Column++
		} else {
			q.Row++
		}
		line.Points = []Position{p, q}
		out.lines = append(out.lines, line)
	}
}

// collect appends the points from a node to its chain's end, each once,
// takes the nodes out of use, and gives the last one.
func (w *worker) collect(points []Position, i int32) (out []Position, tail int32) {
	last := Position{math.NaN(), 0}
	for i != none {
		n := &w.nodes[i]
		if n.at != last {
			points = append(points, n.at)
			last = n.at
		}
		tail = i
		i, n.next = n.next, none
	}
	return points, tail
}

func (w *worker) line(number int32) Line { return lineAt(w.levels, number) }

func lineAt(l Levels, number int32) Line {
	j := int(number)
	return Line{Level: l.Elevation(j), Number: j, Value: l.Value(j), Kind: l.Kind(j)}
}
