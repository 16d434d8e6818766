package dem

import (
	"fmt"
	"math"

	"crowline/dem/geodesy"
)

// Frame says where a grid's posts stand: post (column, row) is at
//
//	x = X0 + column*DX, y = Y0 + row*DY
//
// in the units of CRS, x east or longitude, y north or latitude. Post (0, 0)
// is a cell centre. DX and DY may have either sign but not zero; rotated
// grids have no frame.
type Frame struct {
	Columns, Rows int
	X0, Y0        float64
	DX, DY        float64
	CRS           *geodesy.CRS
}

// Window is a block of posts: the first column and row, and how many.
type Window struct {
	Column, Row, Columns, Rows int
}

// Empty reports whether the window holds no post.
func (w Window) Empty() bool { return w.Columns <= 0 || w.Rows <= 0 }

// Intersect is the part of w inside o; it may be Empty.
func (w Window) Intersect(o Window) Window {
	c0, r0 := max(w.Column, o.Column), max(w.Row, o.Row)
	c1, r1 := min(w.Column+w.Columns, o.Column+o.Columns), min(w.Row+w.Rows, o.Row+o.Rows)
	return Window{Column: c0, Row: r0, Columns: max(0, c1-c0), Rows: max(0, r1-r0)}
}

// Whole is the window of every post.
func (f *Frame) Whole() Window { return Window{Columns: f.Columns, Rows: f.Rows} }

// Sub is the frame of a window of f, with the window's first post as (0, 0).
func (f *Frame) Sub(w Window) Frame {
	return Frame{
		Columns: w.Columns, Rows: w.Rows,
		X0: f.X0 + float64(w.Column)*f.DX, Y0: f.Y0 + float64(w.Row)*f.DY,
		DX: f.DX, DY: f.DY, CRS: f.CRS,
	}
}

// Place is the WGS 84 place at a column and row, which need not be whole or
// inside the frame.
func (f *Frame) Place(column, row float64) (geodesy.LatLon, error) {
	return f.CRS.Place(f.X0+column*f.DX, f.Y0+row*f.DY)
}

// snap is how near a whole column or row a place is taken to stand on it,
// in cells: well over the rounding of a transform and back (1e-9), well
// under anything a map shows.
const snap = 1e-6

// Locate is the column and row of a place, which may be outside the frame.
// Within a millionth of a cell of a whole number it is that number.
func (f *Frame) Locate(p geodesy.LatLon) (column, row float64, err error) {
	x, y, err := f.CRS.Coordinates(p)
	if err != nil {
		return 0, 0, err
	}
	column, row = f.index(x, y)
	return column, row, nil
}

// LocateAll replaces longitude x[i] and latitude y[i] by column and row, as Locate
// has them. A place the frame's system cannot show is an error, and then x and y
// are of no use.
func (f *Frame) LocateAll(x, y []float64) error {
	if err := f.CRS.FromWGS84(x, y); err != nil {
		return err
	}
	for i := range x {
		x[i], y[i] = f.index(x[i], y[i])
	}
	return nil
}

// index is the column and row of coordinates, as Locate has it.
func (f *Frame) index(x, y float64) (column, row float64) {
	column, row = (x-f.X0)/f.DX, (y-f.Y0)/f.DY
	if f.CRS.Geographic {
		column = f.wholeTurn(column)
	}
	return snapped(column), snapped(row)
}

// wholeTurn is a column of a geographic frame, or the one a whole turn away
// where that holds the same place and it does not: the grid lies across the
// antimeridian, or in [0, 360).
func (f *Frame) wholeTurn(column float64) float64 {
	if !outside(column, f.Columns) || !outside(snapped(column), f.Columns) {
		return column
	}
	turn := 360 / math.Abs(f.DX)
	for _, shifted := range []float64{snapped(column + turn), snapped(column - turn)} {
		if !outside(shifted, f.Columns) {
			return shifted
		}
	}
	return column
}

func snapped(index float64) float64 {
	if n := math.Round(index); math.Abs(index-n) < snap {
		return n
	}
	return index
}

func outside(index float64, n int) bool { return !(index >= 0 && index <= float64(n-1)) }

// Contains reports whether a column and row lie among the posts, edges
// included. (The outer half of the outermost cells has no ground: nothing
// stands beyond the last post to join it to.)
func (f *Frame) Contains(column, row float64) bool {
	return !outside(column, f.Columns) && !outside(row, f.Rows)
}

// Spacing is the distance in metres between neighbouring posts along a row
// and along a column, at a column and row.
func (f *Frame) Spacing(column, row float64) (alongRow, alongColumn float64, err error) {
	p, err := f.Place(column, row)
	if err != nil {
		return 0, 0, err
	}
	q, err := f.Place(column+1, row)
	if err != nil {
		return 0, 0, err
	}
	r, err := f.Place(column, row+1)
	if err != nil {
		return 0, 0, err
	}
	return geodesy.Inverse(p, q).Distance, geodesy.Inverse(p, r).Distance, nil
}

// Extent is the smallest latitude-longitude box round the posts. East is
// less than West when the posts cross the antimeridian.
type Extent struct {
	South, West, North, East geodesy.Degrees
}

// String writes the box as "south,west to north,east".
func (e Extent) String() string {
	return fmt.Sprintf("%s to %s", geodesy.LatLon{Lat: e.South, Lon: e.West}, geodesy.LatLon{Lat: e.North, Lon: e.East})
}

// Operation is how its places are brought to WGS 84, at its middle.
func (f *Frame) Operation() geodesy.Operation {
	return f.CRS.Operation(f.X0+f.DX*float64(f.Columns-1)/2, f.Y0+f.DY*float64(f.Rows-1)/2)
}

// Extent looks at points along the border, which hold the extremes of every
// frame that does not contain a pole.
func (f *Frame) Extent() (Extent, error) {
	const n = 32
	var xs, ys []float64
	add := func(c, r float64) {
		xs = append(xs, f.X0+c*f.DX)
		ys = append(ys, f.Y0+r*f.DY)
	}
	w, h := float64(f.Columns-1), float64(f.Rows-1)
	add(w/2, h/2)
	for i := 0; i <= n; i++ {
		s := float64(i) / n
		add(s*w, 0)
		add(s*w, h)
		add(0, s*h)
		add(w, s*h)
	}
	if err := f.CRS.ToWGS84(xs, ys); err != nil {
		return Extent{}, err
	}
	mid := xs[0]
	west, east, south, north := 0.0, 0.0, ys[0], ys[0]
	for i := range xs {
		d := xs[i] - mid
		if !f.CRS.Geographic { // a geographic frame may truly span over half a turn
			d = math.Remainder(d, 360)
		}
		west, east = min(west, d), max(east, d)
		south, north = min(south, ys[i]), max(north, ys[i])
	}
	wrap := func(d float64) geodesy.Degrees {
		d = math.Mod(d+180, 360)
		if d < 0 {
			d += 360
		}
		return geodesy.Degrees(d - 180)
	}
	return Extent{
		South: geodesy.Degrees(south), North: geodesy.Degrees(north),
		West: wrap(mid + west), East: wrap(mid + east),
	}, nil
}
