package dem

import (
	"errors"
	"fmt"
	"math"

	"crowline/dem/geodesy"
)

// Errors of a look-up, to be tested with errors.Is.
var (
	// ErrVoid: the data has no elevation at the place.
	ErrVoid = errors.New("no elevation there (a void in the data)")
	// ErrOutside: the place is not among the posts.
	ErrOutside = errors.New("outside the elevation data")
)

// Grid is a block of posts in memory. The elevation of post (column, row) is
// Elevations[row*Columns+column], metres above the data's vertical datum,
// NaN where void. Safe for concurrent reading.
//
// Elevations are float32: rounding is at most 0.5 mm below 16 km.
type Grid struct {
	Frame
	Elevations []float32
	// Window is where the block lies in the source it was read from.
	Window Window
	// Source describes that source.
	Source Info
	// Filled marks the posts that were void and have been filled in, one a
	// post; nil when none were.
	Filled []bool
	// Bare is the ground under what stands on it, where the elevations are of
	// both (CoverLayer.Grid); nil where they are the ground's. See Under.
	Bare *Grid
}

// Posts is anything that gives elevations by column and row: a Grid, Blocks
// read as they are asked for, or ground that is Covered.
type Posts interface {
	// Layout says where the posts stand.
	Layout() *Frame
	// Elevation of a post in metres; NaN where void or outside, and where it
	// could not be read: see Err.
	Elevation(column, row int) float64
	// Marks says which posts were void and have been filled in.
	Marks
	// Under is the bare ground under what stands on it; nil where nothing has
	// been laid on the ground.
	Under() Posts
	// Err is the first failed read, nil when there was none. A post that
	// could not be read looks like a void, and like one that was never
	// filled: ask Err before an answer is trusted.
	Err() error
}

var _ Posts = (*Grid)(nil)

// Layout is the grid's frame.
func (g *Grid) Layout() *Frame { return &g.Frame }

// Elevation of a post in metres; NaN where void or outside.
func (g *Grid) Elevation(column, row int) float64 {
	if uint(column) >= uint(g.Columns) || uint(row) >= uint(g.Rows) {
		return math.NaN()
	}
	return float64(g.Elevations[row*g.Columns+column])
}

// Under is the grid's Bare.
func (g *Grid) Under() Posts {
	if g.Bare == nil {
		return nil // not a nil *Grid
	}
	return g.Bare
}

// Err is always nil: a grid has been read.
func (g *Grid) Err() error { return nil }

// ElevationAt is the ground's elevation at a place, metres. Along a row or
// column it is linear between posts, as the ground model has it; inside a
// cell it is bilinear, the surface of least degree that agrees with the
// model on all four edges. The error is ErrVoid or ErrOutside, wrapped with
// the place and, if outside, the data's extent.
func ElevationAt(posts Posts, p geodesy.LatLon) (float64, error) {
	f := posts.Layout()
	column, row, err := f.Locate(p)
	if err != nil {
		return 0, fmt.Errorf("%s is %w (%v)", p, ErrOutside, err)
	}
	if !f.Contains(column, row) {
		return 0, notOn(p, f)
	}
	h := Bilinear(posts, column, row)
	if math.IsNaN(h) {
		if err := posts.Err(); err != nil { // a damaged file is not a void
			return 0, err
		}
		return 0, fmt.Errorf("%s: %w", p, ErrVoid)
	}
	return h, nil
}

// Bilinear is the ground's elevation at a column and row, metres; NaN when a
// post that bears on the answer is void or outside. On a row or column only
// the two posts of that edge bear on it.
func Bilinear(posts Posts, column, row float64) float64 {
	c, r := math.Floor(column), math.Floor(row)
	fc, fr := column-c, row-r
	ci, ri := int(c), int(r)
	along := func(ri int) float64 {
		h := posts.Elevation(ci, ri)
		if fc == 0 {
			return h
		}
		return h + fc*(posts.Elevation(ci+1, ri)-h)
	}
	h := along(ri)
	if fr == 0 {
		return h
	}
	return h + fr*(along(ri+1)-h)
}

// Every keeps every nth column and row of a grid, the first ones kept: for
// questions about ground much wider than the posts' spacing. Kept posts are
// the grid's own; none is averaged. Panics if n < 1.
func (g *Grid) Every(n int) *Grid {
	if n < 1 {
		panic("dem: Every needs n >= 1")
	}
	if n == 1 {
		return g
	}
	out := &Grid{Frame: g.Frame, Window: g.Window, Source: g.Source}
	out.Columns, out.Rows = (g.Columns+n-1)/n, (g.Rows+n-1)/n
	out.DX, out.DY = g.DX*float64(n), g.DY*float64(n)
	out.Elevations = make([]float32, 0, out.Columns*out.Rows)
	if g.Filled != nil {
		out.Filled = make([]bool, 0, out.Columns*out.Rows)
	}
	if g.Bare != nil {
		out.Bare = g.Bare.Every(n)
	}
	for row := 0; row < g.Rows; row += n {
		for column := 0; column < g.Columns; column += n {
			out.Elevations = append(out.Elevations, g.Elevations[row*g.Columns+column])
			if g.Filled != nil {
				out.Filled = append(out.Filled, g.Filled[row*g.Columns+column])
			}
		}
	}
	return out
}
