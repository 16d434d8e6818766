package dem

import "math"

// Crossing is a place where a straight line from the observer crosses an
// edge of the ground: the stretch between post P (Column, Row) and its
// neighbour Q, one column on if AlongRow, else one row on.
type Crossing struct {
	// Distance from the observer, metres along the ellipsoid.
	Distance    float64
	Column, Row int
	AlongRow    bool
	// Fraction of the way from P to Q, in [0, 1].
	Fraction float64
}

// Q is the column and row of the edge's other post.
func (c Crossing) Q() (column, row int) {
	if c.AlongRow {
		return c.Column + 1, c.Row
	}
	return c.Column, c.Row + 1
}

// Position is the crossing's column and row.
func (c Crossing) Position() (column, row float64) {
	if c.AlongRow {
		return float64(c.Column) + c.Fraction, float64(c.Row)
	}
	return float64(c.Column), float64(c.Row) + c.Fraction
}

// Elevation is the ground at the crossing, metres: linear between the two
// posts; NaN when either post with a part in it is void.
func (c Crossing) Elevation(posts Posts) float64 {
	p := posts.Elevation(c.Column, c.Row)
	q := posts.Elevation(c.Q())
	return Lerp(p, q, c.Fraction)
}

// Lerp is p at fraction 0 and q at fraction 1, exactly, and between them
// never outside [p, q]. A void (NaN) end with no part in the answer is
// ignored.
func Lerp(p, q, fraction float64) float64 {
	switch {
	case fraction <= 0 || p == q:
		return p
	case fraction >= 1:
		return q
	case fraction < 0.5:
		return p + fraction*(q-p)
	}
	return q - (1-fraction)*(q-p)
}

// NearLimit is how close to the observer, metres, an edge no longer counts:
// at a millimetre nothing but rounding stands between eye and ground.
const NearLimit = 1e-3

// postFraction is how near an end of an edge, as a share of it, a crossing
// counts as at that post: far over the rounding of a placement, far under
// anything that moves a height.
const postFraction = 1e-9

// Walk visits the crossings of the straight line from the placement's
// observer to (east, north) on its plane, nearest first, leaving out those
// within NearLimit of either end. It returns the distance covered and
// whether the line left the window of posts before its end.
//
// A line that runs exactly through a post or along an edge is taken to pass
// a hair to the left of it, so it always crosses some edge, at distances and
// elevations no different. The cost is proportional to the cells crossed.
func (p *Placement) Walk(east, north float64, visit func(Crossing) bool) (covered float64, left bool) {
	length := math.Hypot(east, north)
	if !(length > 0) {
		return 0, false
	}
	se, sn := east/length, north/length
	w := p.Window
	// the cell the observer stands in, by its first column and row
	column, row := int(math.Floor(p.originC)), int(math.Floor(p.originR))
	clampCell := func(i, first, n int, origin float64) int {
		if i == first+n-1 && origin == float64(i) { // on the last post of the axis
			i--
		}
		return i
	}
	column = clampCell(column, w.Column, w.Columns, p.originC)
	row = clampCell(row, w.Row, w.Rows, p.originR)

	// Cells one beyond the border may be passed through by a line that runs
	// along it; their outer posts must then have no part in any crossing.
	inside := func(c, r int) bool {
		return c >= w.Column-1 && c < w.Column+w.Columns && r >= w.Row-1 && r < w.Row+w.Rows
	}
	post := func(c, r int) bool {
		return c >= w.Column && c < w.Column+w.Columns && r >= w.Row && r < w.Row+w.Rows
	}
	if !post(column, row) || !post(column+1, row+1) {
		return 0, true
	}
	// side > 0: the post is right of the line; along: how far on it is
	place := func(c, r int) (along, side float64) {
		e, n := p.Post(c, r)
		return e*se + n*sn, e*sn - n*se
	}
	// corners in order round the cell: 0 (0,0), 1 (1,0), 2 (1,1), 3 (0,1);
	// edge i joins corner i to corner i+1
	var along, side [4]float64
	load := func(i, c, r int) { along[i], side[i] = place(c, r) }
	loadCell := func() {
		load(0, column, row)
		load(1, column+1, row)
		load(2, column+1, row+1)
		load(3, column, row+1)
	}
	cut := func(i int) (distance, fraction float64, ok bool) {
		j := (i + 1) & 3
		if (side[i] >= 0) == (side[j] >= 0) {
			return 0, 0, false
		}
		f := side[i] / (side[i] - side[j])
		d := along[i] + f*(along[j]-along[i])
		switch {
		case f < postFraction:
			f = 0
		case f > 1-postFraction:
			f = 1
		}
		return d, f, true
	}
	// An observer on an edge or a post is placed within rounding of it, so
	// the line may start a hair inside the cell across the edge instead. The
	// cell wanted is the one the line runs on in: a corner of another that it
	// clips within rounding has no sure way in and way out.
	startColumn, startRow, found := column, row, false
	for _, step := range [9][2]int{{0, 0}, {-1, 0}, {0, -1}, {1, 0}, {0, 1}, {-1, -1}, {1, -1}, {-1, 1}, {1, 1}} {
		column, row = startColumn+step[0], startRow+step[1]
		loadCell()
		nearest, farthest := math.Inf(1), math.Inf(-1)
		for i := range 4 {
			if d, _, ok := cut(i); ok {
				nearest, farthest = min(nearest, d), max(farthest, d)
			}
		}
		if found = nearest < NearLimit && farthest > NearLimit; found {
			break
		}
	}
	if !found {
		column, row = startColumn, startRow
		loadCell()
	}
	entry := -1
	last := math.Inf(-1)
	for {
		out, distance, fraction := -1, math.Inf(-1), 0.0
		for i := range 4 {
			if i == entry {
				continue
			}
			if d, f, ok := cut(i); ok && d > distance {
				out, distance, fraction = i, d, f
			}
		}
		if out < 0 {
			// Only a fold in the grid's own placement could do this.
			return max(last, 0), true
		}
		if distance >= length-NearLimit {
			return length, false
		}
		if distance > NearLimit {
			crossing := Crossing{Distance: distance, Column: column, Row: row, AlongRow: out == 0 || out == 2, Fraction: fraction}
			switch out {
			case 1:
				crossing.Column++
			case 2:
				crossing.Row++
				crossing.Fraction = 1 - fraction // corner 2 is Q
			case 3:
				crossing.Fraction = 1 - fraction
			}
			qc, qr := crossing.Q()
			if (crossing.Fraction < 1 && !post(crossing.Column, crossing.Row)) ||
				(crossing.Fraction > 0 && !post(qc, qr)) {
				return max(last, 0), true
			}
			if !visit(crossing) {
				return distance, false
			}
		}
		last = distance
		// step into the cell beyond and carry over the two corners it shares
		switch out {
		case 0:
			row--
			along[3], side[3], along[2], side[2] = along[0], side[0], along[1], side[1]
			entry = 2
		case 1:
			column++
			along[0], side[0], along[3], side[3] = along[1], side[1], along[2], side[2]
			entry = 3
		case 2:
			row++
			along[0], side[0], along[1], side[1] = along[3], side[3], along[2], side[2]
			entry = 0
		case 3:
			column--
			along[1], side[1], along[2], side[2] = along[0], side[0], along[3], side[3]
			entry = 1
		}
		if !inside(column, row) {
			return max(distance, 0), true
		}
		switch out {
		case 0:
			load(0, column, row)
			load(1, column+1, row)
		case 1:
			load(1, column+1, row)
			load(2, column+1, row+1)
		case 2:
			load(2, column+1, row+1)
			load(3, column, row+1)
		case 3:
			load(0, column, row)
			load(3, column, row+1)
		}
	}
}
