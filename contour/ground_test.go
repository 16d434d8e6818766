package contour

import (
	"math"
	"math/rand/v2"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// grid makes ground from a function of column and row.
func grid(columns, rows int, elevation func(c, r float64) float64) *dem.Grid {
	g := &dem.Grid{Frame: frame(columns, rows), Elevations: make([]float32, columns*rows)}
	for r := range rows {
		for c := range columns {
			g.Elevations[r*columns+c] = float32(elevation(float64(c), float64(r)))
		}
	}
	return g
}

func frame(columns, rows int) dem.Frame {
	const step = 1.0 / 3600
	return dem.Frame{Columns: columns, Rows: rows, X0: -84, Y0: 36, DX: step, DY: -step, CRS: geodesy.WGS84}
}

// posts makes a grid from rows of elevations.
func posts(rows ...[]float32) *dem.Grid {
	return grid(len(rows[0]), len(rows), func(c, r float64) float64 { return float64(rows[int(r)][int(c)]) })
}

// fractal is ground with detail at every size: noise on square lattices,
// each half the spacing and a little more than half the relief of the last.
func fractal(columns, rows int, relief float64, seed uint64) *dem.Grid {
	return hills(columns, rows, relief, seed, 1)
}

// hills is fractal ground with nothing finer than so many cells.
func hills(columns, rows int, relief float64, seed uint64, finest int) *dem.Grid {
	g := &dem.Grid{Frame: frame(columns, rows), Elevations: make([]float32, columns*rows)}
	random := rand.New(rand.NewPCG(seed, 1))
	for cell := 1024; cell >= finest; cell /= 2 {
		n, m := columns/cell+2, rows/cell+2
		lattice := make([]float64, n*m)
		for i := range lattice {
			lattice[i] = relief * (random.Float64() - 0.5)
		}
		for r := range rows {
			j, v := r/cell, float64(r%cell)/float64(cell)
			v = v * v * (3 - 2*v)
			for c := range columns {
				i, u := c/cell, float64(c%cell)/float64(cell)
				u = u * u * (3 - 2*u)
				top := lattice[j*n+i] + u*(lattice[j*n+i+1]-lattice[j*n+i])
				bottom := lattice[(j+1)*n+i] + u*(lattice[(j+1)*n+i+1]-lattice[(j+1)*n+i])
				g.Elevations[r*columns+c] += float32(top + v*(bottom-top))
			}
		}
		relief *= 0.52
	}
	return g
}

// rough is small hostile ground: whole numbers of a narrow range, so that
// plateaus and posts on levels abound, with voids here and there.
func rough(random *rand.Rand, columns, rows, span int, voids float64) *dem.Grid {
	return grid(columns, rows, func(c, r float64) float64 {
		if random.Float64() < voids {
			return math.NaN()
		}
		return float64(random.IntN(span))
	})
}
