package contour

import (
	"math"

	"crowline/dem"
)

// OnFilled reports whether the line runs through a cell with a filled corner
// (dem.Marks, of the grid the line was traced on; they may be nil).
func (l *Line) OnFilled(marks dem.Marks) bool {
	if marks == nil {
		return false
	}
	for i := 1; i < len(l.Points); i++ {
		if cellFilled(marks, l.Points[i-1], l.Points[i]) {
			return true
		}
	}
	return false
}

// cellFilled reports whether the cell that holds a piece of line has a filled
// corner. A piece that runs along an edge is of the cells on both sides.
func cellFilled(marks dem.Marks, p, q Position) bool {
	column, row := (p.Column+q.Column)/2, (p.Row+q.Row)/2
	c0, r0 := int(math.Floor(column)), int(math.Floor(row))
	c1, r1 := c0+1, r0+1
	if p.Column == q.Column && column == float64(c0) {
		c0--
	}
	if p.Row == q.Row && row == float64(r0) {
		r0--
	}
	for r := r0; r <= r1; r++ {
		for c := c0; c <= c1; c++ {
			if marks.IsFilled(c, r) {
				return true
			}
		}
	}
	return false
}
