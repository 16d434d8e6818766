package dem

import (
	"fmt"

	"crowline/dem/geodesy"
)

// Placement puts the posts of a window on an observer's plane: metres east
// and north of the observer, where geodesics from the observer are straight
// and bearings are true. It is a polynomial in column and row fitted to
// exact placements at Chebyshev nodes and checked between them; ErrorBound
// is the largest difference the check found. Safe for concurrent use.
type Placement struct {
	Plane geodesy.Plane
	Frame Frame
	// Window is the block of posts the fit is good for.
	Window Window
	// ErrorBound is the largest error the check found, metres.
	ErrorBound float64

	polynomial       polynomial // metres east and north
	originC, originR float64    // the observer's column and row
	table            []float64  // east, north of every post of the window, when asked for
	rows             []Line     // placement along every row of the window, when asked for
}

// placementTolerance is the error, metres, at which a fit stops growing. At
// a gradient of 1 it moves a height by a micrometre.
const placementTolerance = 1e-6

// placementLimit is the error, in cells, above which a fit is refused.
const placementLimit = 1e-4

// NewPlacement fits a window. It costs some 60 geodesics for a window of some
// kilometres, to 900 for the largest. A window too large for the fit (near a pole, or spanning a
// large share of the globe) is an error.
func NewPlacement(f *Frame, plane geodesy.Plane, w Window) (*Placement, error) {
	if w.Empty() {
		return nil, fmt.Errorf("no posts to place round %s", plane.Centre)
	}
	originC, originR, err := f.Locate(plane.Centre)
	if err != nil {
		return nil, err
	}
	p := &Placement{Plane: plane, Frame: *f, Window: w, originC: originC, originR: originR}
	if p.polynomial, err = fitPolynomial(w, placementTolerance, p.exact); err != nil {
		return nil, err
	}
	p.ErrorBound = p.polynomial.errorBound
	along, across, err := f.Spacing(p.polynomial.midC, p.polynomial.midR)
	if err != nil {
		return nil, err
	}
	if !(p.ErrorBound <= placementLimit*min(along, across)) {
		return nil, fmt.Errorf("%d x %d posts round %s cover too much of the globe to be placed to a ten-thousandth of a cell (error %.3g m); take a smaller radius",
			w.Columns, w.Rows, plane.Centre, p.ErrorBound)
	}
	return p, nil
}

// exact places columns and rows with geodesics, one by one.
func (p *Placement) exact(columns, rows []float64) (east, north []float64, err error) {
	east, north = make([]float64, len(columns)), make([]float64, len(columns))
	for i := range columns {
		east[i] = p.Frame.X0 + columns[i]*p.Frame.DX
		north[i] = p.Frame.Y0 + rows[i]*p.Frame.DY
	}
	if err := p.Frame.CRS.ToWGS84(east, north); err != nil {
		return nil, nil, err
	}
	p.Plane.ForwardAll(east, north)
	return east, north, nil
}

// At is the plane position, metres east and north, of a column and row,
// which need not be whole.
func (p *Placement) At(column, row float64) (east, north float64) {
	return p.polynomial.at(column, row)
}

// Post is the plane position of a post, from the table if there is one.
func (p *Placement) Post(column, row int) (east, north float64) {
	c, r := column-p.Window.Column, row-p.Window.Row
	if p.table != nil && uint(c) < uint(p.Window.Columns) && uint(r) < uint(p.Window.Rows) {
		i := 2 * (r*p.Window.Columns + c)
		return p.table[i], p.table[i+1]
	}
	if uint(r) < uint(len(p.rows)) {
		return p.rows[r].At(float64(column))
	}
	return p.At(float64(column), float64(row))
}

// TabulateRows works out the placement along every row of the window once,
// some 150 bytes a row, for callers that walk many lines over it: a post then
// costs a polynomial in one variable. Not safe while others use p.
func (p *Placement) TabulateRows() {
	p.rows = make([]Line, p.Window.Rows)
	for r := range p.rows {
		p.rows[r] = p.Row(r + p.Window.Row)
	}
}

// Tabulate computes every post of the window once, 16 bytes a post, for
// callers that ask for each many times. Not safe while others use p.
func (p *Placement) Tabulate() {
	table := make([]float64, 2*p.Window.Columns*p.Window.Rows)
	i := 0
	for r := range p.Window.Rows {
		line := p.Row(r + p.Window.Row)
		for c := range p.Window.Columns {
			table[i], table[i+1] = line.At(float64(c + p.Window.Column))
			i += 2
		}
	}
	p.table = table
}

// Line is the placement along one row or one column: two polynomials in one
// variable.
type Line struct {
	mid, half   float64
	east, north []float64
}

// Row is the placement along a row; its At takes columns.
func (p *Placement) Row(row int) Line { return p.polynomial.row(row) }

// Column is the placement along a column; its At takes rows.
func (p *Placement) Column(column int) Line { return p.polynomial.column(column) }

// At is the plane position at an index along the line, metres.
func (l Line) At(index float64) (east, north float64) {
	u := (index - l.mid) / l.half
	for a := len(l.east) - 1; a >= 0; a-- {
		east = east*u + l.east[a]
		north = north*u + l.north[a]
	}
	return east, north
}

// Origin is the observer's column and row.
func (p *Placement) Origin() (column, row float64) { return p.originC, p.originR }
