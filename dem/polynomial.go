package dem

import "math"

// polynomial is two smooth values of a column and row, x and y, over a window
// of posts: fitted to exact ones at Chebyshev nodes and checked between them.
// Safe for concurrent use.
type polynomial struct {
	degree       int
	midC, midR   float64   // centre of the window
	halfC, halfR float64   // half its size in columns and rows
	x, y         []float64 // coefficient of u^a v^b at a*(degree+1)+b; u from column, v from row
	errorBound   float64   // the largest error the check found, in the unit of x and y
}

// exactly gives x and y at columns and rows, which need not be whole.
type exactly func(columns, rows []float64) (x, y []float64, err error)

const maxPolynomialDegree = 20

// fitPolynomial fits a window: the least degree whose error is no more than
// tolerance, or the best there is. It takes some 60 to 900 exact values a
// degree tried, whatever the window's size. The error is that of exact.
func fitPolynomial(w Window, tolerance float64, exact exactly) (polynomial, error) {
	p := polynomial{
		midC: float64(w.Column) + float64(w.Columns-1)/2, halfC: max(float64(w.Columns-1)/2, 0.5),
		midR: float64(w.Row) + float64(w.Rows-1)/2, halfR: max(float64(w.Rows-1)/2, 0.5),
	}
	best := polynomial{errorBound: math.Inf(1)}
	for degree := 4; degree <= maxPolynomialDegree; degree += 2 {
		if err := p.fit(degree, exact); err != nil {
			return best, err
		}
		if err := p.check(exact); err != nil {
			return best, err
		}
		if p.errorBound < best.errorBound {
			best = p
		}
		if best.errorBound <= tolerance {
			break
		}
	}
	return best, nil
}

// fit interpolates at the Chebyshev nodes of both axes and expands the
// result in powers of u and v, which evaluate fastest. The expansion loses
// at most a factor 2^degree of the smallest coefficients, which are tiny.
func (p *polynomial) fit(degree int, exact exactly) error {
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
	x, y, err := exact(columns, rows)
	if err != nil {
		return err
	}
	p.degree = degree
	p.x, p.y = powers(x, n), powers(y, n)
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

// check compares the fit with exact values where it is worst: halfway between
// the nodes, corners included. What a fit at the nodes of T_n leaves is to
// first order a multiple of T_n in each variable, and these are T_n's extremes
// (Trefethen, Approximation Theory and Approximation Practice, chapter 4, from
// memory).
func (p *polynomial) check(exact exactly) error {
	n := p.degree + 1
	columns, rows := make([]float64, 0, (n+1)*(n+1)), make([]float64, 0, (n+1)*(n+1))
	for i := 0; i <= n; i++ {
		for j := 0; j <= n; j++ {
			columns = append(columns, p.midC+p.halfC*math.Cos(math.Pi*float64(i)/float64(n)))
			rows = append(rows, p.midR+p.halfR*math.Cos(math.Pi*float64(j)/float64(n)))
		}
	}
	x, y, err := exact(columns, rows)
	if err != nil {
		return err
	}
	p.errorBound = 0
	for i := range columns {
		atX, atY := p.at(columns[i], rows[i])
		p.errorBound = max(p.errorBound, math.Hypot(atX-x[i], atY-y[i]))
	}
	return nil
}

// at is x and y at a column and row, which need not be whole.
func (p *polynomial) at(column, row float64) (x, y float64) {
	u, v := (column-p.midC)/p.halfC, (row-p.midR)/p.halfR
	n := p.degree + 1
	for a := p.degree; a >= 0; a-- {
		e, s := 0.0, 0.0
		for b := p.degree; b >= 0; b-- {
			e = e*v + p.x[a*n+b]
			s = s*v + p.y[a*n+b]
		}
		x = x*u + e
		y = y*u + s
	}
	return x, y
}

// row is the polynomial along a row; its At takes columns.
func (p *polynomial) row(row int) Line {
	n := p.degree + 1
	v := (float64(row) - p.midR) / p.halfR
	l := Line{mid: p.midC, half: p.halfC, east: make([]float64, n), north: make([]float64, n)}
	for a := range n {
		for b := p.degree; b >= 0; b-- {
			l.east[a] = l.east[a]*v + p.x[a*n+b]
			l.north[a] = l.north[a]*v + p.y[a*n+b]
		}
	}
	return l
}

// column is the polynomial along a column; its At takes rows.
func (p *polynomial) column(column int) Line {
	n := p.degree + 1
	u := (float64(column) - p.midC) / p.halfC
	l := Line{mid: p.midR, half: p.halfR, east: make([]float64, n), north: make([]float64, n)}
	for b := range n {
		for a := p.degree; a >= 0; a-- {
			l.east[b] = l.east[b]*u + p.x[a*n+b]
			l.north[b] = l.north[b]*u + p.y[a*n+b]
		}
	}
	return l
}
