package dem

import (
	"math"

	"crowline/dem/geodesy"
)

// Reprojection turns coordinates into longitude and latitude on WGS 84, many of
// them over the same ground: by polynomials fitted to squares of it, checked to
// a tenth of a millimetre (placeLimit), and by PROJ one by one where a square
// meets few of them or has no such fit (across the antimeridian, near a pole, a
// datum shift from a coarse table). The same coordinates in the same order give
// the same places. From one goroutine at a time.
type Reprojection struct {
	crs  *geodesy.CRS
	side float64
	// squares by their column and row; at most reprojectedSquares
	squares map[[2]int]*reprojected
}

// reprojected is a square: how many places met it before it was fitted, and the
// fit, nil for none.
type reprojected struct {
	met  int
	done bool
	fit  *polynomial
}

const (
	// The side of a square, in metres (or feet, or what the system counts in) and
	// in degrees: a fit of the fourth degree is good over it to micrometres.
	reprojectedSide    = 20e3
	reprojectedDegrees = 0.2
	// reprojectedFew places are cheaper to turn one by one than a fit is.
	reprojectedFew = 128
	// reprojectedSquares bounds the memory: some 500 bytes each. Beyond, places are
	// turned one by one.
	reprojectedSquares = 1 << 14
)

// NewReprojection is one from a system.
func NewReprojection(crs *geodesy.CRS) *Reprojection {
	r := &Reprojection{crs: crs, side: reprojectedSide, squares: map[[2]int]*reprojected{}}
	if crs.Geographic {
		r.side = reprojectedDegrees
	}
	return r
}

// ToWGS84 replaces coordinates by longitudes and latitudes, degrees. The error is
// the system's where a place has none, and then x and y are of no use.
func (r *Reprojection) ToWGS84(x, y []float64) error {
	var last [2]int
	var square *reprojected
	var column, row float64
	for from := 0; from < len(x); {
		// a run of places that are turned one by one
		to := from
		for ; to < len(x); to++ {
			column, row = x[to]/r.side, y[to]/r.side
			key := [2]int{cellNumber(column), cellNumber(row)}
			if square == nil || key != last {
				square, last = r.square(key), key
			}
			if !square.done {
				if square.met++; square.met > reprojectedFew {
					square.done = true
					square.fit = r.fit(key)
				}
			}
			if square.fit != nil {
				break
			}
		}
		if to > from {
			if err := r.crs.ToWGS84(x[from:to], y[from:to]); err != nil {
				return err
			}
		}
		if to < len(x) {
			x[to], y[to] = square.fit.at(column, row)
			to++
		}
		from = to
	}
	return nil
}

// cellNumber is the whole number below v, within what an int holds.
func cellNumber(v float64) int {
	const most = 1 << 40
	return int(math.Max(-most, math.Min(math.Floor(v), most)))
}

func (r *Reprojection) square(key [2]int) *reprojected {
	s := r.squares[key]
	if s == nil {
		if len(r.squares) >= reprojectedSquares {
			return &reprojected{done: true}
		}
		s = &reprojected{}
		r.squares[key] = s
	}
	return s
}

// fit is the fit of a square, in sides as columns and rows; nil where none is good
// enough.
func (r *Reprojection) fit(key [2]int) *polynomial {
	fit, err := fitPolynomial(Window{Column: key[0], Row: key[1], Columns: 2, Rows: 2}, placeTolerance, func(columns, rows []float64) (lon, lat []float64, err error) {
		lon, lat = make([]float64, len(columns)), make([]float64, len(columns))
		for i := range columns {
			lon[i], lat[i] = columns[i]*r.side, rows[i]*r.side
		}
		return lon, lat, r.crs.ToWGS84(lon, lat)
	})
	if err != nil || !(fit.errorBound <= placeLimit) {
		return nil
	}
	return &fit
}
