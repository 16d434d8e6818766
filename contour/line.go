package contour

import (
	"github.com/paulmach/orb"

	"crowline/dem"
)

// Position is a point on a grid: its column and row, which need not be
// whole. Posts stand on whole numbers.
type Position struct {
	Column, Row float64
}

// Line is one contour line. Its points are where it crosses the edges
// between posts, in order, and higher ground is on its right hand as it
// runs, seen with columns to the right and rows downward, which is the map
// itself when north is up. (Coordinates and LonLat keep it so for grids
// stored otherwise.)
type Line struct {
	// Level of the line, metres above the data's vertical datum.
	Level float64
	// Number of the level in its Levels.
	Number int
	// Value is the level in the unit it was asked for.
	Value float64
	// Kind is index, intermediate or supplementary.
	Kind Kind
	// Closed: the line meets itself; its first point stands again as its
	// last. Other lines end at the edge of the data or at a void.
	Closed bool
	// Depression: the ground just inside this closed line is lower.
	Depression bool
	// Touch: the ground reaches the level along this edge and falls on both
	// sides, so it bounds no ground and is left off maps. Two points.
	Touch bool
	// Points of the line; no two in a row are the same.
	Points []Position
}

// Label is the line's level in its unit, as a map prints it.
func (l *Line) Label() string { return label(l.Value) }

// flipped reports whether a frame shows the grid mirrored, so that a line's
// right hand would become its left.
func flipped(f *dem.Frame) bool { return (f.DX > 0) == (f.DY > 0) }

// AppendXY appends the line in the frame's own coordinates to two slices, with
// higher ground on the right when y points up.
func (l *Line) AppendXY(f *dem.Frame, x, y []float64) (xs, ys []float64) {
	n := len(l.Points)
	for i := range n {
		p := l.Points[i]
		if flipped(f) {
			p = l.Points[n-1-i]
		}
		x = append(x, f.X0+p.Column*f.DX)
		y = append(y, f.Y0+p.Row*f.DY)
	}
	return x, y
}

// LonLat turns lines into longitude and latitude on WGS 84, degrees, all in
// one transform, with higher ground on the right. The error is a place the
// frame's coordinate reference system cannot transform.
func LonLat(f *dem.Frame, lines []Line) ([]orb.LineString, error) {
	n := 0
	for i := range lines {
		n += len(lines[i].Points)
	}
	x, y := make([]float64, 0, n), make([]float64, 0, n)
	for i := range lines {
		for _, p := range lines[i].Points {
			x = append(x, f.X0+p.Column*f.DX)
			y = append(y, f.Y0+p.Row*f.DY)
		}
	}
	if err := f.CRS.ToWGS84(x, y); err != nil {
		return nil, err
	}
	out := make([]orb.LineString, len(lines))
	points := make([]orb.Point, n)
	flip := flipped(f)
	at := 0
	for i := range lines {
		m := len(lines[i].Points)
		part := points[at : at+m : at+m]
		for k := range part {
			to := k
			if flip {
				to = m - 1 - k
			}
			part[to] = orb.Point{x[at+k], y[at+k]}
		}
		out[i] = part
		at += m
	}
	return out, nil
}

// doubleArea is twice the area a closed line encloses, in cells: positive
// when it runs clockwise as a map shows it, so that its right hand, the
// higher ground, is inside.
func doubleArea(points []Position) float64 {
	if len(points) == 0 {
		return 0
	}
	o := points[0]
	sum := 0.0
	for i := 1; i+1 < len(points); i++ {
		ax, ay := points[i].Column-o.Column, points[i].Row-o.Row
		bx, by := points[i+1].Column-o.Column, points[i+1].Row-o.Row
		sum += ax*by - ay*bx
	}
	return sum
}

// close marks a line that meets itself, and turns it to start at its first
// point down the rows. A line that leaves a post beside a void or the data's
// edge and comes back to it is closed like any other.
func (l *Line) close() {
	n := len(l.Points)
	if l.Points[0] != l.Points[n-1] {
		return
	}
	canonical(l.Points[:n-1])
	l.Points[n-1] = l.Points[0]
	l.Closed = true
	l.Depression = doubleArea(l.Points) < 0
}

// before orders positions down the rows, then along them.
func (p Position) before(q Position) bool {
	return p.Row < q.Row || (p.Row == q.Row && p.Column < q.Column)
}

// canonical turns a closed line, without its repeated last point, to start
// at its first point down the rows, so that where it was cut to be traced
// does not show.
func canonical(ring []Position) {
	start := 0
	for i := 1; i < len(ring); i++ {
		if ring[i].before(ring[start]) {
			start = i
		}
	}
	if start == 0 {
		return
	}
	reverse(ring[:start])
	reverse(ring[start:])
	reverse(ring)
}

func reverse(p []Position) {
	for i, j := 0, len(p)-1; i < j; i, j = i+1, j-1 {
		p[i], p[j] = p[j], p[i]
	}
}
