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
		shown := "no place given"
		if len(places) > 0 {
			shown = places[0].String()
		}
		extent, err := f.Extent()
		if err != nil {
			return Window{}, fmt.Errorf("%s is %w", shown, ErrOutside)
		}
		return Window{}, fmt.Errorf("%s is %w, which covers %s", shown, ErrOutside, extent)
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
