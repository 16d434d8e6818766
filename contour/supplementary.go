package contour

import (
	"fmt"
	"math"

	"crowline/dem"
)

// FlatOptions of KeepFlat. Scale and Levels are needed.
type FlatOptions struct {
	// Levels the lines were traced at, with Half.
	Levels Levels
	// Scale of the map: 25000 for 1:25 000.
	Scale float64
	// Gap on paper, millimetres, beyond which main lines are too far apart
	// to show the ground; 8 when zero.
	Gap float64
	// Least is the shortest stretch of supplementary line worth drawing, and
	// the longest break in one that is drawn over, millimetres on paper; 5
	// when zero.
	Least float64
}

// KeepFlat keeps of each supplementary line the stretches on flat ground,
// and leaves other lines as they are. Ground is flat where its gradient is
// so low that main lines stand more than Gap apart: where
//
//	gradient < interval / (Gap * Scale),
//
// the gradient of the cell the line runs through. Short breaks are drawn
// over, then short stretches left out; a closed line of any size that is
// flat all round is kept whole. Kept stretches end at points of the line.
// The error is a place the grid's frame cannot transform.
func KeepFlat(g *dem.Grid, lines []Line, o FlatOptions) ([]Line, error) {
	if o.Gap == 0 {
		o.Gap = 8
	}
	if o.Least == 0 {
		o.Least = 5
	}
	if !(o.Scale > 0) || !(o.Gap > 0) || o.Least < 0 {
		return nil, fmt.Errorf("contour: scale 1:%g and a gap of %g mm: both must be more than zero", o.Scale, o.Gap)
	}
	limit := o.Levels.Interval * o.Levels.Unit.Metres() / (o.Gap / 1000 * o.Scale)
	least := o.Least / 1000 * o.Scale // metres on the ground
	sides := map[int][2]float64{}
	var out []Line
	for _, l := range lines {
		if l.Kind != Supplementary {
			out = append(out, l)
			continue
		}
		n := len(l.Points) - 1 // pieces
		flat, length := make([]bool, n), make([]float64, n)
		for i := range n {
			p, q := l.Points[i], l.Points[i+1]
			c, r := int(math.Floor((p.Column+q.Column)/2)), int(math.Floor((p.Row+q.Row)/2))
			// A line along the last row or column runs beside the last cell.
			c, r = min(c, g.Columns-2), min(r, g.Rows-2)
			side, ok := sides[r]
			if !ok {
				dx, dy, err := g.Spacing(float64(g.Columns-1)/2, float64(r))
				if err != nil {
					return nil, err
				}
				side = [2]float64{dx, dy}
				sides[r] = side
			}
			gradient := cellGradient(g, c, r, side[0], side[1])
			// Beside a void, only the drawn side is known to be ground.
			flat[i] = gradient < limit
			length[i] = math.Hypot((q.Column-p.Column)*side[0], (q.Row-p.Row)*side[1])
		}
		out = append(out, stretches(l, flat, length, least)...)
	}
	return out, nil
}

// stretches cuts a line to its flat pieces.
func stretches(l Line, flat []bool, length []float64, least float64) []Line {
	n := len(flat)
	first := 0
	for first < n && flat[first] {
		first++
	}
	if first == n {
		return []Line{l}
	}
	if l.Closed && first > 0 {
		// start a closed line where it is not flat, so no stretch wraps round
		ring := l.Points[:n]
		l.Points = append(append(append(make([]Position, 0, n+1), ring[first:]...), ring[:first]...), ring[first])
		flat = append(append(make([]bool, 0, n), flat[first:]...), flat[:first]...)
		length = append(append(make([]float64, 0, n), length[first:]...), length[:first]...)
	}
	// runs of alike pieces
	type run struct {
		from, to int
		flat     bool
		length   float64
	}
	var runs []run
	for i := range n {
		if k := len(runs) - 1; k >= 0 && runs[k].flat == flat[i] {
			runs[k].to = i + 1
			runs[k].length += length[i]
		} else {
			runs = append(runs, run{i, i + 1, flat[i], length[i]})
		}
	}
	var kept []run
	for i, r := range runs {
		between := i > 0 && i < len(runs)-1
		if !r.flat && !(between && r.length <= least) {
			continue
		}
		if k := len(kept) - 1; k >= 0 && kept[k].to == r.from {
			kept[k].to = r.to
			kept[k].length += r.length
		} else {
			kept = append(kept, r)
		}
	}
	var out []Line
	for _, r := range kept {
		if r.length < least {
			continue
		}
		piece := l
		piece.Closed, piece.Depression = false, false
		piece.Points = l.Points[r.from : r.to+1 : r.to+1]
		out = append(out, piece)
	}
	return out
}
