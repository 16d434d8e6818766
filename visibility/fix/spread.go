package fix

import (
	"context"
	"fmt"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
)

const (
	// lattice is how many places a side are weighed, out to reach standard
	// deviations each way: a step of a fifth of one.
	lattice = 41
	reach   = 4
	// passes of the lattice, each laid out by the spread the last one found,
	// end when no axis changes by more than settledShare.
	passes       = 10
	settledShare = 0.02
)

// spread is the covariance of a fix from evidence that is not straight over
// the fix's own size: ground bends, and so do streams. Over a lattice of
// places about the fix each is weighed by exp(-chi-square/2), its likelihood,
// and the second moments about the fix are taken. (The linearised ellipse of
// fixes with an altimeter on the ground of testdata/cumberland held the true place 76 % of the
// time for a stated 95 %.) Places without ground count for nothing, and so do
// those nearer to another of the places that fit: each has its own.
func (p *problem) spread(ctx context.Context, c candidate, others []candidate) ([3]float64, error) {
	plane := geodesy.NewPlane(c.place)
	var apart [][2]float64
	for _, o := range others {
		east, north := plane.Forward(o.place)
		apart = append(apart, [2]float64{east, north})
	}
	// From wide to narrow: a lattice the size of one fold of the ground would
	// not see the next that fits as well.
	covariance := c.covariance
	if _, wide, ok := p.bearingsAlone(); ok {
		covariance = wide
	}
	for range passes {
		if err := ctx.Err(); err != nil {
			return covariance, fmt.Errorf("fix: %w", err)
		}
		var ee, en, nn, sum float64
		e, err := p.over(plane, covariance, func(_ geodesy.LatLon, east, north, chiSquare float64) {
			for _, o := range apart {
				if math.Hypot(east-o[0], north-o[1]) < math.Hypot(east, north) {
					return
				}
			}
			w := math.Exp((c.chiSquare - chiSquare) / 2)
			sum += w
			ee += w * east * east
			en += w * east * north
			nn += w * north * north
		})
		if err != nil {
			return covariance, err
		}
		next := [3]float64{ee / sum, en / sum, nn / sum}
		to := ellipse(next[0], next[1], next[2], OneSigma)
		if !(to.SemiMinor > 0) {
			return covariance, nil // all but a line of the lattice is without ground
		}
		covariance = next
		if math.Abs(to.SemiMajor-e.SemiMajor) < settledShare*e.SemiMajor && math.Abs(to.SemiMinor-e.SemiMinor) < settledShare*e.SemiMinor {
			break
		}
	}
	return covariance, nil
}

// over visits the lattice laid out about a plane's centre by a covariance,
// and returns the one-sigma ellipse it was laid out by.
func (p *problem) over(plane geodesy.Plane, covariance [3]float64, visit func(x geodesy.LatLon, east, north, chiSquare float64)) (Ellipse, error) {
	e := ellipse(covariance[0], covariance[1], covariance[2], OneSigma)
	sin, cos := geodesy.Degrees(e.Along).SinCos()
	for i := range lattice {
		along := e.SemiMajor * reach * (2*float64(i)/(lattice-1) - 1)
		for j := range lattice {
			across := e.SemiMinor * reach * (2*float64(j)/(lattice-1) - 1)
			east, north := along*sin+across*cos, along*cos-across*sin
			x := plane.Inverse(east, north)
			chiSquare, ok, err := p.chiSquare(x)
			if err != nil {
				return e, err
			}
			if ok {
				visit(x, east, north, chiSquare)
			}
		}
	}
	return e, nil
}

// bearingsAlone is the fix, and its covariance, of the bearings without the
// altimeter and the known line; false when they make none.
func (p *problem) bearingsAlone() (geodesy.LatLon, [3]float64, bool) {
	q := *p
	q.options.Altimeter, q.options.Line = nil, nil
	for _, start := range q.promising(math.Inf(1)) {
		if c, err := q.descend(start.place); err == nil {
			return c.place, c.covariance, true
		}
	}
	return geodesy.LatLon{}, [3]float64{}, false
}

// folds are where other folds of the ground fit best: of the lattice about
// the fix of the bearings alone, the place with the least chi-square.
func (p *problem) folds() (best geodesy.LatLon, ok bool) {
	centre, covariance, ok := p.bearingsAlone()
	if !ok {
		return centre, false
	}
	least := math.Inf(1)
	_, err := p.over(geodesy.NewPlane(centre), covariance, func(x geodesy.LatLon, _, _, chiSquare float64) {
		if chiSquare < least {
			best, least = x, chiSquare
		}
	})
	return best, err == nil && !math.IsInf(least, 1)
}

// chiSquare of a place, without the slopes that observe finds; false where
// there is no ground or the place is a mark itself. With a shared error s the
// inverse of D + s² 1 1' is by Sherman & Morrison.
func (p *problem) chiSquare(x geodesy.LatLon) (chiSquare float64, ok bool, err error) {
	var squares, first, weights float64
	for i, b := range p.bearings {
		observed, err := p.observed(i, x)
		if err != nil {
			return 0, false, err
		}
		computed, distance, _ := p.computed(i, x)
		if distance < 1e-3 {
			return 0, false, nil
		}
		sigma, mark := p.readingError(i), float64(geodesy.Atan2(b.PlaceError, distance))
		w := 1 / (sigma*sigma + mark*mark)
		r := float64(geodesy.Difference(computed, observed))
		squares += w * r * r
		first += w * r
		weights += w
	}
	chiSquare = squares
	if s := float64(p.options.SharedError); s > 0 {
		chiSquare -= first * first / (1/(s*s) + weights)
	}
	if a := p.options.Altimeter; a != nil {
		h, err := dem.ElevationAt(p.options.Posts, x)
		if err != nil {
			return 0, false, nil
		}
		r := a.Elevation - h
		chiSquare += r * r / (a.Error*a.Error + p.options.VerticalError*p.options.VerticalError)
	}
	if l := p.options.Line; l != nil {
		d, _ := l.nearest(geodesy.NewPlane(x))
		chiSquare += d * d / (l.Error * l.Error)
	}
	return chiSquare, true, nil
}
