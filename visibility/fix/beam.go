package fix

import (
	"errors"
	"fmt"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// SearchReach is how far along a bearing ground of the elevation read is looked
// for where bearings alone do not bound the place, metres: farther than a mark
// is picked out.
const SearchReach = 50e3

const (
	// rays are looked along on each side of a bearing, raySpacing standard
	// deviations apart: out to where a place on it would just be a rival.
	rays       = 24
	raySpacing = 0.1
	// steps along them are post spacings, or where that is more this share of
	// the distance: an eighth of how unsure a bearing good to 2 degrees is.
	stepShare = 0.005
	// levels are how many places a step's piece of fitting ground is weighed at.
	levels = 5
)

// truncated is the share of a normal distribution's second moments, in two
// dimensions, that the places with a chi-square under c have: r²/2 is
// exponential, and its mean under c/2 is 1 - (c/2) e^(-c/2) / (1 - e^(-c/2)).
func truncated(c float64) float64 {
	return 1 - c/2*math.Exp(-c/2)/(1-math.Exp(-c/2))
}

// beam is the ground about the first bearing, as far as its error goes to
// either side, held against an altimeter.
type beam struct {
	from geodesy.LatLon
	// at are the distances of the samples along each ray, azimuths the bearing's
	// from its mark there, sigmas its error there, degrees.
	at, azimuths, sigmas []float64
	// over is the ground less the reading by ray and sample, metres; NaN where
	// the ground is not known.
	over [][]float64
	// sigma of over, metres.
	sigma float64
}

// looked is how far along the first bearing there was ground to hold an
// altimeter against, metres.
type looked struct {
	to      float64 // the last ground known
	unknown float64 // length of the way there without ground
	ends    bool    // none is known beyond, as far as SearchReach
}

// z is how many standard deviations a ray is off the bearing.
func z(ray int) float64 { return raySpacing * float64(ray-rays) }

// place on a ray, a share t of the way from the sample before.
func (b *beam) place(ray, sample int, t float64) (geodesy.LatLon, float64) {
	mix := func(v []float64) float64 { return v[sample-1] + t*(v[sample]-v[sample-1]) }
	// azimuths do not jump: they are kept as the first plus what they turn by
	x, _ := geodesy.Direct(b.from, geodesy.NewTrueBearing(geodesy.Degrees(mix(b.azimuths)+z(ray)*mix(b.sigmas))), mix(b.at))
	return x, mix(b.at)
}

// look samples the ground of the beam.
func (p *problem) look() *beam {
	f, a := p.options.Posts.Layout(), p.options.Altimeter
	b := &beam{from: p.bearings[0].Place, over: make([][]float64, 2*rays+1), sigma: math.Hypot(a.Error, p.options.VerticalError)}
	p.looked = looked{}
	column, row, err := f.Locate(b.from)
	if err != nil {
		return b
	}
	alongRow, alongColumn, err := f.Spacing(column, row)
	if err != nil {
		return b
	}
	spacing := min(alongRow, alongColumn)
	unknown, last := 0.0, 0.0
	for d := spacing; d < SearchReach; d += max(spacing, stepShare*d) {
		azimuth := float64(geodesy.Inverse(b.from, p.along(b.from, d)).Start)
		if n := len(b.at); n > 0 {
			azimuth = b.azimuths[n-1] + float64(geodesy.Difference(geodesy.NewTrueBearing(geodesy.Degrees(b.azimuths[n-1])), geodesy.NewTrueBearing(geodesy.Degrees(azimuth))))
		}
		mark := float64(geodesy.Atan2(p.bearings[0].PlaceError, d))
		reading := p.readingError(0)
		b.at, b.azimuths = append(b.at, d), append(b.azimuths, azimuth)
		b.sigmas = append(b.sigmas, math.Sqrt(reading*reading+mark*mark+float64(p.options.SharedError*p.options.SharedError)))
		for ray := range b.over {
			x, _ := geodesy.Direct(b.from, geodesy.NewTrueBearing(geodesy.Degrees(azimuth+z(ray)*b.sigmas[len(b.sigmas)-1])), d)
			h := math.NaN()
			if column, row, err := f.Locate(x); err == nil && f.Contains(column, row) {
				if h, err = dem.ElevationAt(p.options.Posts, x); err != nil {
					h = math.NaN()
					if !errors.Is(err, dem.ErrVoid) {
						p.unread = fmt.Errorf("fix: altimeter: %w", err)
					}
				}
			}
			b.over[ray] = append(b.over[ray], h-a.Elevation)
		}
		if math.IsNaN(b.over[rays][len(b.at)-1]) {
			unknown += d - last
			p.looked.ends = true
		} else {
			p.looked = looked{to: d, unknown: unknown}
		}
		last = d
	}
	return b
}

// fits is the piece of the step before a sample on which the ground is near
// enough to the reading, as shares of the step, and the share where it is
// nearest with the chi-square there; false where there is none.
func (b *beam) fits(ray, sample int) (from, to, at, chiSquare float64, ok bool) {
	v, w := b.over[ray][sample-1], b.over[ray][sample]
	room := ambiguous - z(ray)*z(ray)
	if !(room > 0) || math.IsNaN(v) || math.IsNaN(w) {
		return 0, 0, 0, 0, false
	}
	band := b.sigma * math.Sqrt(room)
	if v == w {
		if math.Abs(v) > band {
			return 0, 0, 0, 0, false
		}
		from, to, at = 0, 1, 0.5
	} else {
		// linear between samples: where it passes each side of the band, and zero
		from, to = (-band-v)/(w-v), (band-v)/(w-v)
		if from > to {
			from, to = to, from
		}
		from, to, at = max(0, from), min(1, to), min(1, max(0, -v/(w-v)))
		if from > to {
			return 0, 0, 0, 0, false
		}
	}
	least := (v + at*(w-v)) / b.sigma
	return from, to, at, z(ray)*z(ray) + least*least, true
}

// levelStarts are the folds of the ground about the first bearing that fit the
// altimeter: of each connected part of the beam in which a place would be a
// rival of one that fits exactly, the place that fits best, and the second
// moments of the likelihood over that part.
func (p *problem) levelStarts() []start {
	b := p.look()
	if len(b.at) < 2 {
		return nil
	}
	columns := len(b.at)
	parent := make([]int, len(b.over)*columns)
	for i := range parent {
		parent[i] = -1
	}
	root := func(i int) int {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	for ray := range b.over {
		for k := 1; k < columns; k++ {
			if _, _, _, _, ok := b.fits(ray, k); !ok {
				continue
			}
			i := ray*columns + k
			parent[i] = i
			neighbours := []int{i - 1}
			if ray > 0 {
				neighbours = append(neighbours, i-columns-1, i-columns)
				if k+1 < columns {
					neighbours = append(neighbours, i-columns+1)
				}
			}
			for _, j := range neighbours {
				if parent[j] >= 0 {
					parent[root(j)] = root(i)
				}
			}
		}
	}
	parts := map[int]*part{}
	var order []*part
	for ray := range b.over {
		for k := 1; k < columns; k++ {
			i := ray*columns + k
			if parent[i] < 0 {
				continue
			}
			q := parts[root(i)]
			if q == nil {
				q = newPart(b, ray, k)
				parts[root(i)] = q
				order = append(order, q)
			}
			q.add(b, ray, k)
		}
	}
	var out []start
	for _, q := range order {
		out = append(out, q.start())
	}
	return out
}

// part is a connected part of a beam in which places fit.
type part struct {
	plane                 geodesy.Plane
	sum, e, n, ee, en, nn float64
	places                []partPlace
	first, last           bool // as in fold
	least                 float64
}

type partPlace struct {
	place     geodesy.LatLon
	e, n      float64
	chiSquare float64
}

func newPart(b *beam, ray, sample int) *part {
	x, _ := b.place(ray, sample, 0.5)
	return &part{plane: geodesy.NewPlane(x), least: math.Inf(1)}
}

// add weighs the piece of a step that fits.
func (q *part) add(b *beam, ray, sample int) {
	from, to, at, chiSquare, _ := b.fits(ray, sample)
	q.first = q.first || sample == 1
	q.last = q.last || sample+1 == len(b.at) || math.IsNaN(b.over[ray][sample+1])
	v, w := b.over[ray][sample-1], b.over[ray][sample]
	length := (to - from) * (b.at[sample] - b.at[sample-1]) / levels
	for i := range levels {
		t := from + (to-from)*(float64(i)+0.5)/levels
		x, d := b.place(ray, sample, t)
		off := (v + t*(w-v)) / b.sigma
		// rays draw apart with distance: each stands for a strip as wide as the
		// bearing is unsure there
		weight := math.Exp(-(z(ray)*z(ray)+off*off)/2) * length * d * b.sigmas[sample]
		e, n := q.plane.Forward(x)
		// a ray's strip of even weight, so that a part one ray wide has a width
		strip := raySpacing * geodesy.Degrees(b.sigmas[sample]).Tan() * d
		q.sum += weight
		q.e, q.n = q.e+weight*e, q.n+weight*n
		q.ee, q.en, q.nn = q.ee+weight*(e*e+strip*strip/12), q.en+weight*e*n, q.nn+weight*(n*n+strip*strip/12)
	}
	if chiSquare <= q.least+equal {
		x, _ := b.place(ray, sample, at)
		e, n := q.plane.Forward(x)
		q.places = append(q.places, partPlace{x, e, n, chiSquare})
		q.least = min(q.least, chiSquare)
	}
}

// start is the place of a part that fits best, and of those that do equally
// the one nearest its middle.
func (q *part) start() start {
	e, n := q.e/q.sum, q.n/q.sum
	best, nearest := q.places[0], math.Inf(1)
	for _, x := range q.places {
		if d := math.Hypot(x.e-e, x.n-n); x.chiSquare <= q.least+equal && d < nearest {
			best, nearest = x, d
		}
	}
	k := truncated(ambiguous)
	return start{place: best.place, fold: &fold{first: q.first, last: q.last, weight: q.sum, middle: q.plane.Inverse(e, n), covariance: [3]float64{
		(q.ee/q.sum - e*e) / k, (q.en/q.sum - e*n) / k, (q.nn/q.sum - n*n) / k,
	}}}
}

// fold is what a part of a beam comes to: its likelihood, and the first and
// second moments of that, metres and square metres.
type fold struct {
	// first and last: it begins at the mark, and goes on to where ground is no
	// longer known.
	first, last bool
	weight      float64
	middle      geodesy.LatLon
	covariance  [3]float64 // about middle
}

// holds reports whether a place is within the 95 % ellipse of a fold.
func (f *fold) holds(place geodesy.LatLon) bool {
	return ellipse(f.covariance[0], f.covariance[1], f.covariance[2], 0.95).Covers(f.middle, place)
}

// about is the second moments of folds, their weights together, about a place.
func about(place geodesy.LatLon, folds ...*fold) (out [3]float64) {
	plane, sum := geodesy.NewPlane(place), 0.0
	for _, f := range folds {
		e, n := plane.Forward(f.middle)
		for i, v := range [3]float64{e * e, e * n, n * n} {
			out[i] += f.weight * (f.covariance[i] + v)
		}
		sum += f.weight
	}
	for i := range out {
		out[i] /= sum
	}
	return out
}
