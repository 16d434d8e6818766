package visibility

import (
	"errors"
	"fmt"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// cells measures the observer's plane in cells instead of metres: x along
// the grid's columns and y along its rows, as they run at the observer. The
// change is linear, so geodesics from the observer stay straight, and a post
// stands close to (column, row) minus the observer's own: it departs only by
// the bow of parallels and the like. Splitting the plane by |x| and |y| then
// suits the grid whatever its convergence or the shape of its cells.
type cells struct {
	placement *dem.Placement
	// metres east and north for one cell of x, and for one of y
	xEast, xNorth, yEast, yNorth float64
	// the inverse: x = eastX*east + northX*north
	eastX, northX, eastY, northY float64
	// drop = dropXX x² + dropXY xy + dropYY y², metres
	dropXX, dropXY, dropYY float64

	columns, rows rails
	// bow is a bound on how far a post stands from where its column and row
	// alone would put it; blockBow on how far a block's sides depart from
	// straight; both in cells.
	bow, blockBow float64
	// longest is a bound on the metres of one cell in any direction.
	longest float64
}

// rails are polynomials for x and y along every column (in the row) or every
// row (in the column) of the window.
type rails struct {
	first   int
	mid     float64
	inverse float64 // one over half the rail's length in posts
	terms   int
	x, y    []float64 // terms coefficients for each rail
}

// truncation is the share of the placement, metres, that may be left off its
// high powers: a hundredth of what its fit is good to, and some 1e-11 in the
// slope of a line to the nearest post.
const truncation = 1e-10

func newCells(f *dem.Frame, plane geodesy.Plane, window dem.Window, refraction float64) (*cells, error) {
	p, err := dem.NewPlacement(f, plane, window)
	if err != nil {
		return nil, err
	}
	c := &cells{placement: p}
	column, row := p.Origin()
	const h = 0.5
	e0, n0 := p.At(column-h, row)
	e1, n1 := p.At(column+h, row)
	c.xEast, c.xNorth = e1-e0, n1-n0
	e0, n0 = p.At(column, row-h)
	e1, n1 = p.At(column, row+h)
	c.yEast, c.yNorth = e1-e0, n1-n0
	det := c.xEast*c.yNorth - c.yEast*c.xNorth
	c.eastX, c.northX = c.yNorth/det, -c.yEast/det
	c.eastY, c.northY = -c.xNorth/det, c.xEast/det
	c.dropXX = plane.CurvatureDrop(c.xEast, c.xNorth, refraction)
	c.dropYY = plane.CurvatureDrop(c.yEast, c.yNorth, refraction)
	c.dropXY = plane.CurvatureDrop(c.xEast+c.yEast, c.xNorth+c.yNorth, refraction) - c.dropXX - c.dropYY
	c.longest = math.Hypot(c.xEast, c.xNorth) + math.Hypot(c.yEast, c.yNorth)
	if err := c.check(); err != nil {
		return nil, err
	}
	c.columns = c.newRails(window.Column, window.Columns, p.Column)
	c.rows = c.newRails(window.Row, window.Rows, p.Row)
	return c, nil
}

// at is a place on the plane, in cells.
func (c *cells) at(column, row float64) (x, y float64) {
	e, n := c.placement.At(column, row)
	return c.fromMetres(e, n)
}

func (c *cells) fromMetres(east, north float64) (x, y float64) {
	return c.eastX*east + c.northX*north, c.eastY*east + c.northY*north
}

func (c *cells) metres(x, y float64) (east, north float64) {
	return c.xEast*x + c.yEast*y, c.xNorth*x + c.yNorth*y
}

func (c *cells) distance(x, y float64) float64 {
	return math.Hypot(c.metres(x, y))
}

func (c *cells) drop(x, y float64) float64 {
	return c.dropXX*x*x + y*(c.dropXY*x+c.dropYY*y)
}

// turnLimit is how steeply a row or column may run against its direction at
// the observer. Up to 1 every line of sight still crosses each column (or
// row, in the other pair of wedges) once.
const turnLimit = 0.8

// check measures the bow and refuses a window whose columns and rows turn so
// far that a line of sight could cross one twice.
func (c *cells) check() error {
	w := c.placement.Window
	originColumn, originRow := c.placement.Origin()
	const n = 32
	for i := 0; i <= n; i++ {
		for j := 0; j <= n; j++ {
			column := float64(w.Column) + float64(i)/n*float64(w.Columns-1)
			row := float64(w.Row) + float64(j)/n*float64(w.Rows-1)
			x, y := c.at(column, row)
			c.bow = max(c.bow, math.Abs(x-(column-originColumn)), math.Abs(y-(row-originRow)))
			// half a block either way, clamped into the window the fit is good for
			lo := func(v float64, first int) float64 { return max(v-blockCells/2, float64(first)) }
			hi := func(v float64, first, count int) float64 {
				return min(v+blockCells/2, float64(first+count-1))
			}
			c0, c1 := lo(column, w.Column), hi(column, w.Column, w.Columns)
			r0, r1 := lo(row, w.Row), hi(row, w.Row, w.Rows)
			xa, ya := c.at(c0, row)
			xb, yb := c.at(c1, row)
			xm, ym := c.at((c0+c1)/2, row)
			c.blockBow = max(c.blockBow, math.Abs(xm-(xa+xb)/2), math.Abs(ym-(ya+yb)/2))
			if !(math.Abs(yb-ya) < turnLimit*(xb-xa)) {
				return c.tooFar()
			}
			xa, ya = c.at(column, r0)
			xb, yb = c.at(column, r1)
			xm, ym = c.at(column, (r0+r1)/2)
			c.blockBow = max(c.blockBow, math.Abs(xm-(xa+xb)/2), math.Abs(ym-(ya+yb)/2))
			if !(math.Abs(xb-xa) < turnLimit*(yb-ya)) {
				return c.tooFar()
			}
		}
	}
	// The lattice may miss the extremes between its points; the functions are
	// smooth, so a half more covers them. The constant is over all rounding.
	c.bow = 1.5*c.bow + 0.1
	c.blockBow = 4*c.blockBow + 1e-6
	return nil
}

// ErrTurned is of ground so wide, or so near a pole, that a line of sight could
// cross a row or column of posts twice.
var ErrTurned = errors.New("rows and columns of posts turn too far")

// turnedError says so of a window round a place.
type turnedError struct {
	window dem.Window
	at     geodesy.LatLon
}

func (e *turnedError) Error() string {
	return fmt.Sprintf("the rows and columns of %d x %d posts turn too far from their direction at %s; take a smaller radius",
		e.window.Columns, e.window.Rows, e.at)
}

// Is makes it an ErrTurned.
func (e *turnedError) Is(target error) bool { return target == ErrTurned }

func (c *cells) tooFar() error {
	return &turnedError{c.placement.Window, c.placement.Plane.Centre}
}

func (c *cells) newRails(first, count int, line func(int) dem.Line) rails {
	r := rails{first: first}
	var full int
	for i := range count {
		var east, north []float64
		var half float64
		r.mid, half, east, north = line(first + i).Coefficients()
		r.inverse = 1 / half
		if r.x == nil {
			full = len(east)
			r.x, r.y = make([]float64, 0, count*full), make([]float64, 0, count*full)
		}
		for a := range east {
			x, y := c.fromMetres(east[a], north[a])
			r.x, r.y = append(r.x, x), append(r.y, y)
		}
		terms := full
		for left := 0.0; terms > 2; terms-- {
			left += math.Abs(east[terms-1]) + math.Abs(north[terms-1])
			if left > truncation {
				break
			}
		}
		r.terms = max(r.terms, terms)
	}
	for i := range count { // close up the rows of coefficients
		copy(r.x[i*r.terms:(i+1)*r.terms], r.x[i*full:i*full+r.terms])
		copy(r.y[i*r.terms:(i+1)*r.terms], r.y[i*full:i*full+r.terms])
	}
	r.x, r.y = r.x[:count*r.terms], r.y[:count*r.terms]
	return r
}

// rail is the coefficients of one column or row.
func (r *rails) rail(index int) (x, y []float64) {
	i := (index - r.first) * r.terms
	return r.x[i : i+r.terms], r.y[i : i+r.terms]
}

// at is the position of a post of a rail: to the last bit what place makes
// of it, for an edge seen almost end on turns the last bit of t into a height.
func (r *rails) at(index, along int) (x, y float64) {
	xs, ys := r.rail(index)
	v := (float64(along) - r.mid) * r.inverse
	for a := len(xs) - 1; a >= 0; a-- {
		x = x*v + xs[a]
		y = y*v + ys[a]
	}
	return x, y
}
