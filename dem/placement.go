package dem

import (
	"fmt"
	"math"

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

	degree           int
	midC, midR       float64   // centre of the window
	halfC, halfR     float64   // half its size in columns and rows
	east, north      []float64 // coefficient of u^a v^b at a*(degree+1)+b; u from column, v from row
	originC, originR float64   // the observer's column and row
	table            []float64 // east, north of every post of the window, when asked for
}

// placementTolerance is the error, metres, at which a fit stops growing. At
// a gradient of 1 it moves a height by a micrometre.
const placementTolerance = 1e-6

// placementLimit is the error, in cells, above which a fit is refused.
const placementLimit = 1e-4

const maxPlacementDegree = 20

// NewPlacement fits a window. It costs some 25 to 400 geodesics whatever the
// window's size. A window too large for the fit (near a pole, or spanning a
// large share of the globe) is an error.
func NewPlacement(f *Frame, plane geodesy.Plane, w Window) (*Placement, error) {
	if w.Empty() {
		return nil, fmt.Errorf("no posts to place round %s", plane.Centre)
	}
	originC, originR, err := f.Locate(plane.Centre)
	if err != nil {
		return nil, err
	}
	p := &Placement{
		Plane: plane, Frame: *f, Window: w,
		midC: float64(w.Column) + float64(w.Columns-1)/2, halfC: max(float64(w.Columns-1)/2, 0.5),
		midR: float64(w.Row) + float64(w.Rows-1)/2, halfR: max(float64(w.Rows-1)/2, 0.5),
		originC: originC, originR: originR,
	}
	best := math.Inf(1)
	var kept Placement
	for degree := 4; degree <= maxPlacementDegree; degree += 2 {
		if err := p.fit(degree); err != nil {
			return nil, err
		}
		e, err := p.check()
		if err != nil {
			return nil, err
		}
		if e < best {
			best = e
			kept = *p
		}
		if best <= placementTolerance {
			break
		}
	}
	*p = kept
	p.ErrorBound = best
	along, across, err := f.Spacing(p.midC, p.midR)
	if err != nil {
		return nil, err
	}
	if !(best <= placementLimit*min(along, across)) {
		return nil, fmt.Errorf("%d x %d posts round %s cover too much of the globe to be placed to a ten-thousandth of a cell (error %.3g m); take a smaller radius",
			w.Columns, w.Rows, plane.Centre, best)
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

// fit interpolates at the Chebyshev nodes of both axes and expands the
// result in powers of u and v, which evaluate fastest. The expansion loses
// at most a factor 2^degree of the smallest coefficients, which are tiny.
func (p *Placement) fit(degree int) error {
	n := degree + 1
	nodes := make([]float64, n)
	for i := range nodes {
		nodes[i] = math.Cos(math.Pi * (float64(i) + 0.5) / float64(n))
	}
	columns, rows := make([]float64, n*n), make([]float64, n*n)
	for i := range n {
		for j := range n {
			columns[i*n+j] = p.midC + nodes[i]*p.halfC
			rows[i*n+j] = p.midR + nodes[j]*p.halfR
		}
	}
	east, north, err := p.exact(columns, rows)
	if err != nil {
		return err
	}
	p.degree = degree
	p.east, p.north = powers(east, n), powers(north, n)
	return nil
}

// powers turns values at the n x n Chebyshev nodes into coefficients of
// u^a v^b.
func powers(values []float64, n int) []float64 {
	// cosine transform along both axes
	basis := make([]float64, n*n) // basis[k*n+i] = T_k(node i), scaled
	for k := range n {
		scale := 2 / float64(n)
		if k == 0 {
			scale = 1 / float64(n)
		}
		for i := range n {
			basis[k*n+i] = scale * math.Cos(math.Pi*float64(k)*(float64(i)+0.5)/float64(n))
		}
	}
	half := make([]float64, n*n)
	for k := range n {
		for j := range n {
			s := 0.0
			for i := range n {
				s += basis[k*n+i] * values[i*n+j]
			}
			half[k*n+j] = s
		}
	}
	cheb := make([]float64, n*n)
	for k := range n {
		for l := range n {
			s := 0.0
			for j := range n {
				s += basis[l*n+j] * half[k*n+j]
			}
			cheb[k*n+l] = s
		}
	}
	// T_k in powers: T_0 = 1, T_1 = x, T_k = 2x T_{k-1} - T_{k-2}
	t := make([]float64, n*n)
	t[0] = 1
	if n > 1 {
		t[n+1] = 1
	}
	for k := 2; k < n; k++ {
		for a := range n {
			if a > 0 {
				t[k*n+a] = 2 * t[(k-1)*n+a-1]
			}
			t[k*n+a] -= t[(k-2)*n+a]
		}
	}
	mid := make([]float64, n*n)
	for a := range n {
		for l := range n {
			s := 0.0
			for k := a; k < n; k++ {
				s += t[k*n+a] * cheb[k*n+l]
			}
			mid[a*n+l] = s
		}
	}
	out := make([]float64, n*n)
	for a := range n {
		for b := range n {
			s := 0.0
			for l := b; l < n; l++ {
				s += t[l*n+b] * mid[a*n+l]
			}
			out[a*n+b] = s
		}
	}
	return out
}

// check compares the fit with exact placements on a lattice of points that
// are not nodes, corners included.
func (p *Placement) check() (float64, error) {
	const m = 12
	var columns, rows []float64
	for i := 0; i <= m; i++ {
		for j := 0; j <= m; j++ {
			columns = append(columns, p.midC+p.halfC*(2*float64(i)/m-1))
			rows = append(rows, p.midR+p.halfR*(2*float64(j)/m-1))
		}
	}
	east, north, err := p.exact(columns, rows)
	if err != nil {
		return 0, err
	}
	worst := 0.0
	for i := range columns {
		e, n := p.At(columns[i], rows[i])
		worst = max(worst, math.Hypot(e-east[i], n-north[i]))
	}
	return worst, nil
}

// At is the plane position, metres east and north, of a column and row,
// which need not be whole.
func (p *Placement) At(column, row float64) (east, north float64) {
	u, v := (column-p.midC)/p.halfC, (row-p.midR)/p.halfR
	n := p.degree + 1
	for a := p.degree; a >= 0; a-- {
		e, s := 0.0, 0.0
		for b := p.degree; b >= 0; b-- {
			e = e*v + p.east[a*n+b]
			s = s*v + p.north[a*n+b]
		}
		east = east*u + e
		north = north*u + s
	}
	return east, north
}

// Post is the plane position of a post, from the table if there is one.
func (p *Placement) Post(column, row int) (east, north float64) {
	c, r := column-p.Window.Column, row-p.Window.Row
	if p.table != nil && uint(c) < uint(p.Window.Columns) && uint(r) < uint(p.Window.Rows) {
		i := 2 * (r*p.Window.Columns + c)
		return p.table[i], p.table[i+1]
	}
	return p.At(float64(column), float64(row))
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
func (p *Placement) Row(row int) Line {
	n := p.degree + 1
	v := (float64(row) - p.midR) / p.halfR
	l := Line{mid: p.midC, half: p.halfC, east: make([]float64, n), north: make([]float64, n)}
	for a := range n {
		for b := p.degree; b >= 0; b-- {
			l.east[a] = l.east[a]*v + p.east[a*n+b]
			l.north[a] = l.north[a]*v + p.north[a*n+b]
		}
	}
	return l
}

// Column is the placement along a column; its At takes rows.
func (p *Placement) Column(column int) Line {
	n := p.degree + 1
	u := (float64(column) - p.midC) / p.halfC
	l := Line{mid: p.midR, half: p.halfR, east: make([]float64, n), north: make([]float64, n)}
	for b := range n {
		for a := p.degree; a >= 0; a-- {
			l.east[b] = l.east[b]*u + p.east[a*n+b]
			l.north[b] = l.north[b]*u + p.north[a*n+b]
		}
	}
	return l
}

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
