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
	refused *ImplausibleError

	ranks   [3][]int32 // of the rows above, at and below the current one
	rowBase [2][]int32 // first node of each row edge, previous and current row
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
	// Most posts lie between the same two levels as the one before: low and
	// high, and so between them, is what rank means.
	low, high, between := math.Inf(1), math.Inf(-1), int32(0)
	for c, p := range posts {
		h := float64(p)
		if h > low && h < high {
			ranks[c] = between
			continue
		}
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
			between = 2*j + 1
			low, high = w.elevation(j), w.elevation(j+1)
			ranks[c] = between
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
	w.refused = nil
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
		if r > s.first && w.refused == nil {
			w.cells(r-1, s.row(r-1), s.row(r), above, here, w.rowBase[1-i], w.rowBase[i])
		}
		if w.refused != nil {
			out.err = w.refused
			return out
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
