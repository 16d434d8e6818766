package fix

import (
	"math"

	"crowline/dem/geodesy"
)

const (
	// missRatio is the ratio of one distance from a mark to the next at which
	// places are tried, from missNearest, metres, on.
	missRatio   = 1.2
	missNearest = 2
	// missRays are tried to either side of a bearing, out to where it no longer
	// fits.
	missRays = 6
	// missHalvings of the last step of a search.
	missHalvings = 12
)

// offTheCrossings are places that fit the bearings as they were read although
// no two lines need cross there: close to a mark, where the bearing to it may be
// anything, and between two marks, where lines that are out by a degree or two
// meet outside them or not at all. Of the places about each mark it is the one
// that fits best.
func (p *problem) offTheCrossings() (out []candidate) {
	if len(p.bearings) < 2 || p.options.Altimeter != nil || p.options.Line != nil {
		return nil
	}
	for i := range p.bearings {
		if c, ok := p.round(i); ok && p.fits(c) {
			out = append(out, c)
		}
	}
	return out
}

// weighed is a place on a plane and what it is worth.
type weighed struct{ e, n, area, chiSquare float64 }

// round is the place about a mark that fits best. It is searched for on the plane,
// where bearings are good to the convergence of meridians, and then exactly.
func (p *problem) round(i int) (candidate, bool) {
	plane := geodesy.NewPlane(p.bearings[i].Place)
	type mark struct{ e, n, azimuth, sigma, error float64 }
	var marks []mark
	for k, b := range p.bearings {
		azimuth, err := p.observed(k, b.Place)
		if err != nil {
			return candidate{}, false
		}
		e, n := plane.Forward(b.Place)
		marks = append(marks, mark{e, n, float64(azimuth), p.readingError(k), b.PlaceError})
	}
	shared := float64(p.options.SharedError)
	chiSquare := func(e, n float64) float64 {
		var squares, first, weights float64
		for _, m := range marks {
			de, dn := m.e-e, m.n-n
			if !p.resect {
				de, dn = -de, -dn
			}
			r := math.Remainder(math.Atan2(de, dn)*180/math.Pi-m.azimuth, 360)
			unsure := math.Atan2(m.error, math.Hypot(de, dn)) * 180 / math.Pi
			w := 1 / (m.sigma*m.sigma + unsure*unsure)
			squares, first, weights = squares+w*r*r, first+w*r, weights+w
		}
		if shared > 0 {
			squares -= first * first / (1/(shared*shared) + weights)
		}
		return squares
	}
	own := marks[i]
	outward := own.azimuth
	if p.resect {
		outward += 180
	}
	var tried []weighed
	best := weighed{chiSquare: math.Inf(1)}
	for d := float64(missNearest); d < p.searched(); d *= missRatio {
		sigma := math.Hypot(math.Hypot(own.sigma, shared), math.Atan2(own.error, d)*180/math.Pi)
		step := min(180, band*sigma) / missRays
		for ray := -missRays; ray <= missRays; ray++ {
			s, c := math.Sincos((outward + float64(ray)*step) * math.Pi / 180)
			w := weighed{e: d * s, n: d * c, area: d * d * step}
			w.chiSquare = chiSquare(w.e, w.n)
			tried = append(tried, w)
			if w.chiSquare < best.chiSquare {
				best = w
			}
		}
	}
	place := lowest([2]float64{best.e, best.n}, (missRatio-1)*math.Hypot(best.e, best.n), func(at [2]float64) float64 {
		if math.Hypot(at[0], at[1]) >= missNearest {
			if v, ok, err := p.chiSquare(plane.Inverse(at[0], at[1])); ok && err == nil {
				return v
			}
		}
		return math.Inf(1)
	})
	c, err := p.stand(plane.Inverse(place[0], place[1]))
	if err != nil {
		return candidate{}, false
	}
	f := &fold{middle: c.place}
	for _, w := range tried {
		if w.chiSquare > best.chiSquare+ambiguous {
			continue
		}
		weight, e, n := w.area*math.Exp((best.chiSquare-w.chiSquare)/2), w.e-place[0], w.n-place[1]
		f.weight += weight
		for k, v := range [3]float64{e * e, e * n, n * n} {
			f.covariance[k] += weight * v / truncated(ambiguous)
		}
	}
	for k := range f.covariance {
		f.covariance[k] /= f.weight
	}
	c.covariance, c.start = f.covariance, start{place: c.place, fold: f}
	return c, true
}

// lowest is where a chi-square is least, near a place on a plane, by the pattern
// search of Hooke and Jeeves ("Direct search" solution of numerical and statistical
// problems, J. ACM 8, 1961): steps along the axes, and then leaps on by as much as
// the last two places are apart, so that a long narrow trough across the axes is
// not gone down in zigzag. The first step, metres, is doubled while it helps and
// halved missHalvings times below the first.
func lowest(place [2]float64, step float64, chiSquare func([2]float64) float64) [2]float64 {
	const gain = equal / 10 // less is no better
	explore := func(at [2]float64) ([2]float64, float64) {
		least := chiSquare(at)
		for axis := range at {
			for _, way := range [2]float64{step, -step} {
				next := at
				next[axis] += way
				if v := chiSquare(next); v < least-gain {
					at, least = next, v
					break
				}
			}
		}
		return at, least
	}
	least := chiSquare(place)
	if math.IsInf(least, 1) {
		return place
	}
	for halvings := 0; halvings < missHalvings; {
		at, v := explore(place)
		if !(v < least-gain) {
			step, halvings = step/2, halvings+1
			continue
		}
		for v < least-gain {
			leap := [2]float64{2*at[0] - place[0], 2*at[1] - place[1]}
			place, least = at, v
			at, v = explore(leap)
		}
		step, halvings = 2*step, halvings-1
	}
	return place
}
