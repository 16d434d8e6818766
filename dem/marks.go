package dem

import "math"

// Marks tells which posts were void and have been filled in. All Posts have
// it, and Filled, so whatever is handed a ground can ask whether it stands on
// posts that nobody measured.
type Marks interface {
	// IsFilled reports whether a post was void and has been filled; false
	// outside.
	IsFilled(column, row int) bool
}

var _ Marks = (*Filled)(nil)

// FilledIn is the Filled that a source reads through, nil when there is
// none.
func FilledIn(source Source) *Filled {
	for {
		switch s := source.(type) {
		case bounded:
			source = s.Source
		case *inTurn:
			source = s.Source
		case *Watched:
			source = s.Source
		case *Filled:
			return s
		default:
			return nil
		}
	}
}

// IsFilled reports whether a filled post has a part in the crossing's
// elevation.
func (c Crossing) IsFilled(marks Marks) bool {
	qc, qr := c.Q()
	return c.Fraction < 1 && marks.IsFilled(c.Column, c.Row) || c.Fraction > 0 && marks.IsFilled(qc, qr)
}

// FilledAt reports whether a filled post bears on the ground's elevation at
// a column and row, as Bilinear finds it.
func FilledAt(marks Marks, column, row float64) bool {
	if math.IsNaN(column) || math.IsNaN(row) {
		return false
	}
	c, r := math.Floor(column), math.Floor(row)
	ci, ri := int(c), int(r)
	along := func(ri int) bool {
		return marks.IsFilled(ci, ri) || column != c && marks.IsFilled(ci+1, ri)
	}
	return along(ri) || row != r && along(ri+1)
}

// IsFilled reports whether a post was void and has been filled; false
// outside.
func (g *Grid) IsFilled(column, row int) bool {
	if g.Filled == nil || uint(column) >= uint(g.Columns) || uint(row) >= uint(g.Rows) {
		return false
	}
	return g.Filled[row*g.Columns+column]
}

// FilledPosts counts the grid's filled posts.
func (g *Grid) FilledPosts() int64 {
	n := int64(0)
	for _, filled := range g.Filled {
		if filled {
			n++
		}
	}
	return n
}

// Unfilled is the grid with its filled posts void again, as the data has
// them: the grid itself when none is filled, else a copy.
func (g *Grid) Unfilled() *Grid {
	if g.FilledPosts() == 0 {
		return g
	}
	out := *g
	out.Filled = nil
	if g.Bare != nil {
		out.Bare = g.Bare.Unfilled()
	}
	out.Elevations = make([]float32, len(g.Elevations))
	void := float32(math.NaN())
	for i, h := range g.Elevations {
		if g.Filled[i] {
			h = void
		}
		out.Elevations[i] = h
	}
	return &out
}

// marked is a set of posts: one bit a post, in squares that are made when
// their first post is added, so that it takes at most a 32nd of what the
// elevations of those squares would.
type marked struct {
	squares map[[2]int]*[markedSide * markedSide / 64]uint64
	count   int
}

const markedSide = 64

func (m *marked) add(column, row int) {
	key := [2]int{column / markedSide, row / markedSide}
	square := m.squares[key]
	if square == nil {
		if m.squares == nil {
			m.squares = map[[2]int]*[markedSide * markedSide / 64]uint64{}
		}
		square = new([markedSide * markedSide / 64]uint64)
		m.squares[key] = square
	}
	word, bit := &square[row%markedSide], uint64(1)<<(column%markedSide)
	if *word&bit == 0 {
		*word |= bit
		m.count++
	}
}

func (m *marked) has(column, row int) bool {
	if m.count == 0 || column < 0 || row < 0 {
		return false
	}
	square := m.squares[[2]int{column / markedSide, row / markedSide}]
	return square != nil && square[row%markedSide]&(1<<(column%markedSide)) != 0
}
