package contour

import (
	"math"
	"slices"
)

// corners of a cell, in order round it; side i joins corner i to the next.
var corners = [4][2]int{{0, 0}, {1, 0}, {1, 1}, {0, 1}}

// patch is a cell without voids.
type patch struct {
	levels      Levels
	column, row int
	elevation   [4]float64
	below       [4]int // highest level at or below each corner
}

func (k *counter) patch(c, r int) *patch {
	u := &patch{levels: k.levels, column: c, row: r}
	for i, d := range corners {
		u.elevation[i] = k.posts.Elevation(c+d[0], r+d[1])
		u.below[i] = k.levels.Below(u.elevation[i])
	}
	return u
}

func (u *patch) lowest() int  { return slices.Min(u.below[:]) }
func (u *patch) highest() int { return slices.Max(u.below[:]) }

// part says where in a cell a point is: at or above a level or below it,
// and if that ground is in two parts, cut off by lines at opposite corners,
// in which corner.
type part struct {
	high   bool
	corner int // or none
}

// part of a level that crosses the cell.
func (u *patch) part(x stand, j int) part {
	var reached [4]bool
	high := 0
	for i := range reached {
		if reached[i] = u.below[i] >= j; reached[i] {
			high++
		}
	}
	cutHigh := true // lines cut off corners at or above the level, not below
	if high == 2 && reached[0] == reached[2] {
		first := 0 // high corner
		if !reached[0] {
			first = 1
		}
		e := &u.elevation
		cutHigh = !joined(u.levels.Elevation(j), float32(e[first]), float32(e[first+2]), float32(e[1-first]), float32(e[3-first]))
		if !x.inside {
			p := part{x.level >= j, none}
			if p.high == cutHigh {
				p.corner = u.cornerBeside(x.Position, &reached, p.high)
			}
			return p
		}
		for i := range corners {
			if reached[i] == cutHigh && u.cutOff(i, x.Position, j, cutHigh) {
				return part{cutHigh, i}
			}
		}
		return part{!cutHigh, none}
	}
	if !x.inside {
		return part{x.level >= j, none}
	}
	switch high {
	case 1, 3:
		cutHigh = high == 1
		for i := range corners {
			if reached[i] == cutHigh {
				return part{u.cutOff(i, x.Position, j, cutHigh) == cutHigh, none}
			}
		}
	}
	// two neighbouring corners: the second in order round the cell is i
	for i := range corners {
		if reached[i] && reached[(i+3)&3] {
			// The line comes in by the side after corner i and goes out by
			// that before the other.
			return part{!leftOf(u.node(i, j), u.node((i+2)&3, j), x.Position), none}
		}
	}
	return part{high == 4, none}
}

// cutOff reports whether the line that cuts off corner i has a point inside
// the cell on that corner's side.
func (u *patch) cutOff(i int, x Position, j int, high bool) bool {
	p, q := u.node(i, j), u.node((i+3)&3, j)
	if p == q {
		return false // at the corner itself
	}
	// With higher ground on its right, a line runs from the side after a
	// high corner to the one before it.
	if high {
		return !leftOf(p, q, x)
	}
	return leftOf(q, p, x)
}

// cornerBeside is the corner, high or not, on the side that a point is on.
func (u *patch) cornerBeside(x Position, reached *[4]bool, high bool) int {
	for i, d := range corners {
		p := Position{float64(u.column + d[0]), float64(u.row + d[1])}
		if reached[i] == high && (x.Column == p.Column || x.Row == p.Row) && math.Abs(x.Column-p.Column) < 1 && math.Abs(x.Row-p.Row) < 1 {
			return i
		}
	}
	return none
}

// node is where level j crosses a side of the cell.
func (u *patch) node(side, j int) Position {
	// from left to right and from top to bottom, as they are traced
	a, b := side, (side+1)&3
	if side >= 2 {
		a, b = b, a
	}
	d := corners[a]
	return crossingPoint(float64(u.column+d[0]), float64(u.row+d[1]), side&1 == 0, u.levels.Elevation(j), u.elevation[a], u.elevation[b])
}

// leftOf reports whether x lies to the left of the way from p to q, as seen
// with rows downward.
func leftOf(p, q, x Position) bool {
	return (q.Column-p.Column)*(x.Row-p.Row)-(q.Row-p.Row)*(x.Column-p.Column) < 0
}
