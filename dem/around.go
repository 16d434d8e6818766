package dem

import (
	"fmt"
	"math"

	"crowline/dem/geodesy"
)

// circlePoints is how many bearings WindowAround looks along. Between two of
// them a circle of radius r bulges out by less than r (1 - cos 0.5 deg),
// 4e-5 r, which circleSlack covers.
const (
	circlePoints = 360
	circleSlack  = 1e-4
)

// WindowAround is the smallest block of posts that holds all ground within
// margin metres of any of the places, as far as the frame has it: the posts
// of every cell the circles touch, or at most one more row or column on each
// side. The error is ErrOutside when the frame has none of it.
//
// Longitudes a whole turn away count, and a circle round a pole takes in
// every column of a longitude-latitude frame.
func WindowAround(f *Frame, places []geodesy.LatLon, margin float64) (Window, error) {
	if !(margin >= 0) || math.IsInf(margin, 1) {
		return Window{}, fmt.Errorf("a margin of %v metres is not a distance", margin)
	}
	found := false
	var box Window
	for _, p := range places {
		bounds, err := circleBounds(f, p, margin)
		if err != nil {
			return Window{}, err
		}
		for _, b := range bounds {
			w, ok := b.window(f)
			if !ok {
				continue
			}
			if found {
				w = union(box, w)
			}
			box, found = w, true
		}
	}
	if !found {
		if len(places) == 0 {
			return Window{}, fmt.Errorf("no place given: %w", ErrOutside)
		}
		return Window{}, notOn(places[0], f)
	}
	return box, nil
}

// columnRowBounds is a box of columns and rows that need not be whole.
type columnRowBounds struct{ column0, column1, row0, row1 float64 }

func (b columnRowBounds) window(f *Frame) (Window, bool) {
	lastColumn, lastRow := float64(f.Columns-1), float64(f.Rows-1)
	if !(b.column0 <= lastColumn && b.column1 >= 0 && b.row0 <= lastRow && b.row1 >= 0) {
		return Window{}, false
	}
	c0, c1 := int(math.Floor(max(b.column0, 0))), int(math.Ceil(min(b.column1, lastColumn)))
	r0, r1 := int(math.Floor(max(b.row0, 0))), int(math.Ceil(min(b.row1, lastRow)))
	return Window{Column: c0, Row: r0, Columns: c1 - c0 + 1, Rows: r1 - r0 + 1}, true
}

func union(a, b Window) Window {
	c0, r0 := min(a.Column, b.Column), min(a.Row, b.Row)
	c1, r1 := max(a.Column+a.Columns, b.Column+b.Columns), max(a.Row+a.Rows, b.Row+b.Rows)
	return Window{Column: c0, Row: r0, Columns: c1 - c0, Rows: r1 - r0}
}

// circleBounds is where a circle lies among the frame's columns and rows:
// one box, or one for each whole turn of longitude.
func circleBounds(f *Frame, p geodesy.LatLon, margin float64) ([]columnRowBounds, error) {
	xs, ys := []float64{float64(p.Lon)}, []float64{float64(p.Lat)}
	for i := range circlePoints {
		q, _ := geodesy.Direct(p, geodesy.TrueBearing(i*360/circlePoints), margin)
		// Longitudes stay within half a turn of the centre's.
		xs = append(xs, float64(p.Lon)+math.Remainder(float64(q.Lon-p.Lon), 360))
		ys = append(ys, float64(q.Lat))
	}
	if f.CRS.Geographic {
		// The datum shift, if any, of a whole circle at once.
		if err := f.CRS.FromWGS84(xs, ys); err != nil {
			return nil, err
		}
		for i := range xs {
			xs[i] = xs[0] + math.Remainder(xs[i]-xs[0], 360)
		}
	} else if err := f.CRS.FromWGS84(xs, ys); err != nil {
		// Part of the circle is where the projection cannot show it, and so
		// perhaps is part of the frame: leave nothing out.
		if _, _, err := f.CRS.Coordinates(p); err != nil {
			return nil, fmt.Errorf("%s is %w (%v)", p, ErrOutside, err)
		}
		return []columnRowBounds{{0, float64(f.Columns - 1), 0, float64(f.Rows - 1)}}, nil
	}
	b := columnRowBounds{math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)}
	for i := range xs {
		c, r := (xs[i]-f.X0)/f.DX, (ys[i]-f.Y0)/f.DY
		b.column0, b.column1 = min(b.column0, c), max(b.column1, c)
		b.row0, b.row1 = min(b.row0, r), max(b.row1, r)
	}
	// A bound within rounding of a post is that post, as Locate has it.
	whole := func(v float64) float64 {
		if n := math.Round(v); math.Abs(v-n) < snap {
			return n
		}
		return v
	}
	slackC, slackR := circleSlack*(b.column1-b.column0), circleSlack*(b.row1-b.row0)
	b.column0, b.column1 = whole(b.column0-slackC), whole(b.column1+slackC)
	b.row0, b.row1 = whole(b.row0-slackR), whole(b.row1+slackR)
	if !f.CRS.Geographic {
		return []columnRowBounds{b}, nil
	}
	for _, pole := range []geodesy.LatLon{{Lat: 90}, {Lat: -90}} {
		if geodesy.Inverse(p, pole).Distance <= margin {
			row := (float64(pole.Lat) - f.Y0) / f.DY
			return []columnRowBounds{{0, float64(f.Columns - 1), min(b.row0, row), max(b.row1, row)}}, nil
		}
	}
	turn := 360 / math.Abs(f.DX)
	var all []columnRowBounds
	for k := -2.0; k <= 2; k++ {
		all = append(all, columnRowBounds{b.column0 + k*turn, b.column1 + k*turn, b.row0, b.row1})
	}
	return all, nil
}

// WindowOver is the block of posts that holds all ground in a box of
// latitude and longitude, as far as the frame has it, and at most one more
// row or column on each side. The box may reach beyond the frame anywhere.
// The error is ErrOutside when the frame has none of it.
func WindowOver(f *Frame, e Extent) (Window, error) {
	const n = 16 // the box's edges bow by little between so many points
	west, width := float64(e.West), float64(e.East-e.West)
	if width < 0 { // across the antimeridian
		width += 360
	}
	var xs, ys []float64
	for i := range n + 1 {
		for j := range n + 1 {
			xs = append(xs, west+width*float64(i)/n)
			ys = append(ys, float64(e.South)+float64(e.North-e.South)*float64(j)/n)
		}
	}
	if err := f.CRS.FromWGS84(xs, ys); err != nil {
		return f.Whole(), nil // part of it the projection cannot show: leave nothing out
	}
	b := columnRowBounds{math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)}
	turn := 0.0
	if f.CRS.Geographic { // the same box a whole turn away may be the frame's
		middle := f.X0 + float64(f.Columns-1)/2*f.DX
		turn = 360 * math.Round((middle-xs[len(xs)/2])/360)
	}
	for i := range xs {
		c, r := (xs[i]+turn-f.X0)/f.DX, (ys[i]-f.Y0)/f.DY
		b.column0, b.column1 = min(b.column0, c), max(b.column1, c)
		b.row0, b.row1 = min(b.row0, r), max(b.row1, r)
	}
	// edges bow between the points by under a hundredth of a piece
	slackC, slackR := (b.column1-b.column0)/(100*n), (b.row1-b.row0)/(100*n)
	b.column0, b.column1 = b.column0-slackC, b.column1+slackC
	b.row0, b.row1 = b.row0-slackR, b.row1+slackR
	w, ok := b.window(f)
	if !ok {
		return Window{}, notOn(e, f)
	}
	return w, nil
}

// Grow is w with n more posts on every side, as far as the frame has them.
func (f *Frame) Grow(w Window, n int) Window {
	return Window{Column: w.Column - n, Row: w.Row - n, Columns: w.Columns + 2*n, Rows: w.Rows + 2*n}.Intersect(f.Whole())
}

// Union is the smallest window that holds both.
func (w Window) Union(o Window) Window { return union(w, o) }
