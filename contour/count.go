package contour

import "math"

// Count is how many contour lines are crossed going up and going down along
// a leg, given the ground's elevations in metres at each edge the leg
// crosses, in order. NaN breaks the leg: nothing is counted across it.
//
// It counts by the rule the lines are drawn by (ground on a level has
// reached it), so on a map of the same levels these are the lines the leg
// crosses; an edge marked Touch counts once up and once down. Where the leg
// passes a cell with a void corner the map has no lines; a caller who wants
// the map's count puts NaN between the cell's two edges. With Half the
// supplementary levels count too, wherever they are.
func (l Levels) Count(elevations []float64) (up, down int) {
	known := false
	last := 0
	for _, h := range elevations {
		if math.IsNaN(h) {
			known = false
			continue
		}
		j := l.Below(h)
		if known {
			up += max(0, j-last)
			down += max(0, last-j)
		}
		last, known = j, true
	}
	return up, down
}
