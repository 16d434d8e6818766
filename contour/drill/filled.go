package drill

import (
	"math"

	"crowline/dem/geodesy"
)

// filledNote is said to the teacher, and filledFact on the page, where void
// posts have been filled (dem.Filled).
const (
	filledNote = "void posts of this ground were filled in from the rim of their void; their ground is dotted on the maps and no answer rests on it"
	filledFact = " Dotted ground was filled in from the rim of a void: no answer rests on it."
)

// measured reports whether no filled post stands within a distance of a
// place, metres, and one post more.
func (s *survey) measured(at geodesy.LatLon, within float64) bool {
	if s.grid.Filled == nil {
		return true
	}
	column, row, dx, dy, ok := s.located(at)
	if !ok {
		return false
	}
	nc, nr := math.Ceil(within/dx)+1, math.Ceil(within/dy)+1
	for r := int(row - nr); r <= int(row+nr)+1; r++ {
		for c := int(column - nc); c <= int(column+nc)+1; c++ {
			if s.grid.IsFilled(c, r) {
				return false
			}
		}
	}
	return true
}
