package fix

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"crowline/dem/geodesy"
)

const (
	// farthest is how far a known place may be, metres: a quarter of the way
	// round, beyond which lines of bearing draw together again.
	farthest = 10_000e3
	// settled is the step, metres, at which the search ends.
	settled = 1e-4
	// maxSteps and maxHalvings bound the search. On bearings alone it takes
	// under ten steps; the kinks of ground and lines may need more.
	maxSteps    = 60
	maxHalvings = 24
	// samePlace is how near two answers, metres, are one.
	samePlace = 1
)

// problem is what Resect and Intersect share.
type problem struct {
	bearings []Bearing
	options  Options
	resect   bool
	turned   []bool // readings taken half round
	looked   looked
	unread   error // of data that could not be read
}

// weigh divides the observations by their errors, taking out what bearings
// share: with L the Cholesky factor of their covariance matrix, the rows of
// L^-1 slope and L^-1 residual are independent with variance 1.
func (p *problem) weigh(o observations) (slope *mat.Dense, residual *mat.VecDense, covariance *mat.SymDense, err error) {
	n := len(o.residual)
	covariance = mat.NewSymDense(n, nil)
	shared := float64(p.options.SharedError)
	for i := range n {
		for j := i; j < n; j++ {
			v := 0.0
			if j < len(p.bearings) {
				v = shared * shared
			}
			if i == j {
				v += o.variance[i]
			}
			covariance.SetSym(i, j, v)
		}
	}
	a, r := mat.NewDense(n, 2, nil), mat.NewVecDense(n, append([]float64(nil), o.residual...))
	for i, s := range o.slope {
		a.SetRow(i, s[:])
	}
	var factor mat.Cholesky
	if !factor.Factorize(covariance) {
		return nil, nil, nil, errors.New("fix: the errors given cannot be weighed")
	}
	var lower mat.TriDense
	factor.LTo(&lower)
	slope, residual = new(mat.Dense), new(mat.VecDense)
	if err := slope.Solve(&lower, a); err != nil {
		return nil, nil, nil, fmt.Errorf("fix: %w", err)
	}
	if err := residual.SolveVec(&lower, r); err != nil {
		return nil, nil, nil, fmt.Errorf("fix: %w", err)
	}
	return slope, residual, covariance, nil
}

// candidate is a place where the search settled.
type candidate struct {
	place      geodesy.LatLon
	chiSquare  float64
	covariance [3]float64 // EE, EN, NN
	observed   observations
	// spread is the covariance of the residuals
	spread *mat.SymDense
	turned []bool
	start  start
	// looked is how far along a bearing its ground was looked for.
	looked looked
}

// degenerate is the least ratio of the lesser to the greater eigenvalue of
// the normal matrix: an ellipse ten thousand times longer than wide, lines
// that cross at a hundredth of a degree, is no place.
const degenerate = 1e-8

var errParallel = fmt.Errorf("%w: the lines of position are parallel; take a mark more to the side", ErrNoFix)

// normal gives the covariance (J'J)^-1 and the step it asks for.
func normal(slope *mat.Dense, residual *mat.VecDense) (covariance [3]float64, east, north float64, err error) {
	var n mat.SymDense
	n.SymOuterK(1, slope.T())
	a, b, c := n.At(0, 0), n.At(0, 1), n.At(1, 1)
	mean, half := (a+c)/2, math.Hypot((a-c)/2, b)
	det := a*c - b*b
	if !(det > degenerate*(mean+half)*(mean+half)) {
		return covariance, 0, 0, errParallel
	}
	var g mat.VecDense
	g.MulVec(slope.T(), residual)
	covariance = [3]float64{c / det, -b / det, a / det}
	return covariance, covariance[0]*g.AtVec(0) + covariance[1]*g.AtVec(1),
		covariance[1]*g.AtVec(0) + covariance[2]*g.AtVec(1), nil
}

// descend is the search from one start.
func (p *problem) descend(start geodesy.LatLon) (candidate, error) {
	x := start
	var found candidate
	for range maxSteps {
		o, err := p.observe(x)
		if err != nil {
			return candidate{}, err
		}
		slope, residual, spread, err := p.weigh(o)
		if err != nil {
			return candidate{}, err
		}
		covariance, east, north, err := normal(slope, residual)
		if err != nil {
			return candidate{}, err
		}
		cost := mat.Dot(residual, residual)
		found = candidate{place: x, chiSquare: cost, covariance: covariance, observed: o, spread: spread, turned: append([]bool(nil), p.turned...)}
		if math.Hypot(east, north) < settled {
			return found, nil
		}
		// A step is cut down where it would leave the line's own part of the
		// world, and halved until it helps.
		if length := math.Hypot(east, north); length > farthest/10 {
			east, north = east/length*farthest/10, north/length*farthest/10
		}
		plane := geodesy.NewPlane(x)
		better := false
		for range maxHalvings {
			next := plane.Inverse(east, north)
			if there, err := p.observe(next); err == nil {
				// Weights depend on distance; a step is judged by those it was
				// made with, or near the end none would seem to help.
				there.variance = o.variance
				if _, residual, _, err := p.weigh(there); err == nil && mat.Dot(residual, residual) < cost {
					x, better = next, true
					break
				}
			}
			east, north = east/2, north/2
		}
		if !better {
			// The least there is: rounding, or a kink in ground or line.
			return found, nil
		}
	}
	return found, nil
}

// stand is the candidate at a place where there is no step to take.
func (p *problem) stand(x geodesy.LatLon) (candidate, error) {
	o, err := p.observe(x)
	if err != nil {
		return candidate{}, err
	}
	_, residual, spread, err := p.weigh(o)
	if err != nil {
		return candidate{}, err
	}
	c := candidate{place: x, chiSquare: mat.Dot(residual, residual), observed: o, spread: spread, turned: append([]bool(nil), p.turned...)}
	if l := p.options.Line; l != nil {
		c.covariance = [3]float64{l.Error * l.Error, 0, l.Error * l.Error} // for spread to begin with
	}
	return c, nil
}

// ambiguous is how much more chi-square another place may have and still be
// reported: a place that much worse is a twentieth as likely as the best. It is
// also the 95 % quantile of chi-square with two degrees of freedom, and so where
// a Region ends.
var ambiguous = -2 * math.Log(0.05)

// directed tries every start with the readings as p.turned has them and
// keeps the places that all bearings point the right way for, best first.
// Starts whose chi-square is over the limit are left out.
func (p *problem) directed(ctx context.Context, limit float64) ([]candidate, error) {
	var found []candidate
	var first error
	starts := p.promising(limit)
	if p.unread != nil {
		return nil, p.unread
	}
	for _, start := range starts {
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("fix: %w", err)
		}
		c, err := p.descend(start.place)
		left := start.fold != nil && !start.fold.holds(c.place) || start.apart && geodesy.Inverse(start.place, c.place).Distance > start.reach
		if (start.fold != nil || start.apart) && errors.Is(err, errParallel) || err == nil && left {
			// on top of a hill, on level ground, where a line runs along the bearing
			// or is but a point, no step is better; and a step must not leave a fold
			// or a stretch of the line for another
			c, err = p.stand(start.place)
		}
		c.start, c.looked = start, p.looked
		if err != nil {
			if first == nil {
				first = err
			}
			continue
		}
		ahead := true
		for i := range p.bearings {
			ahead = ahead && math.Abs(c.observed.residual[i]) < 90
		}
		if ahead {
			found = append(found, c)
		}
	}
	sort.SliceStable(found, func(i, j int) bool { return found[i].chiSquare < found[j].chiSquare })
	var apart []candidate
	for _, c := range found {
		same := false
		for _, k := range apart {
			same = same || geodesy.Inverse(c.place, k.place).Distance < samePlace
		}
		if !same {
			apart = append(apart, c)
		}
	}
	if len(apart) == 0 && first == nil {
		first = fmt.Errorf("%w: the lines of position do not meet ahead of the bearings", ErrNoFix)
		switch {
		case len(starts) > 0:
		case p.options.Line != nil:
			first = fmt.Errorf("%w: the line of bearing does not come near the known line", ErrNoFix)
		case p.options.Altimeter != nil:
			first = fmt.Errorf("%w: no ground that the data knows along the line of bearing stands at the elevation read", ErrNoFix)
		case len(p.bearings) > 1:
			first = errParallel
		}
	}
	if len(apart) > 0 {
		first = nil
	}
	return apart, first
}

// unbounded is how many times the error of the angle between two lines that
// angle must be for a place to be given. Far out along two lines that cross at
// an angle a, both bearings fit to within a, which adds up to a chi-square of
// a² over the sum of their variances; the region that holds the place 19 times
// in 20 is that of chi-squares up to 5.991 (two degrees of freedom), and under
// this angle it has no far end. With two bearings good to 2 degrees that is
// 6.9 degrees. What bearings have in common turns both lines alike and does
// not count.
var unbounded = math.Sqrt(-2 * math.Log(0.05))

// parallel refuses a crossing of lines of position that may as well not cross,
// before its region is looked for. An altimeter or a known line bounds the place
// by itself.
func (p *problem) parallel(c candidate) error {
	if p.options.Altimeter != nil || p.options.Line != nil || c.start.fold != nil {
		return nil
	}
	widest, needed := geodesy.Degrees(0), geodesy.Degrees(0)
	for i := range p.bearings {
		for j := range i {
			angle := lineAngle(c.observed.slope[i], c.observed.slope[j])
			least := leastAngle(c.observed.variance[i], c.observed.variance[j])
			// between two marks on opposite sides the place is bound by them
			opposite := c.observed.slope[i][0]*c.observed.slope[j][0]+c.observed.slope[i][1]*c.observed.slope[j][1] < 0
			if angle > least || opposite {
				return nil
			}
			if angle >= widest {
				widest, needed = angle, least
			}
		}
	}
	return fmt.Errorf("%w: the lines of position cross at %.1f degrees, and with such a compass lines that cross at under %.1f cannot be told from parallel ones; take a mark more to the side",
		ErrNoFix, float64(widest), float64(needed))
}

// parallelCrossing is an angle that would be written as 0.0 degrees.
const parallelCrossing geodesy.Degrees = 0.05

// noEnd is the error for a place whose region reaches to the bound of the search.
func (p *problem) noEnd(c Candidate) error {
	if p.options.Altimeter != nil || p.options.Line != nil {
		return fmt.Errorf("%w: what was given fits from %s to the farthest places looked at; take a bearing to something off to the side", ErrNoFix, p.bearings[0].label(0))
	}
	if c.Crossing < parallelCrossing {
		return errParallel
	}
	return fmt.Errorf("%w: the lines cross at %.1f degrees, as good as parallel, and places as far off as anyone sights fit as well; take a mark more to the side",
		ErrNoFix, float64(c.Crossing))
}

// leastAngle is the flattest angle at which two lines bound a place, from the
// variances of their bearings, square degrees.
func leastAngle(one, other float64) geodesy.Degrees {
	return geodesy.Degrees(unbounded * math.Sqrt(one+other))
}

func solve(ctx context.Context, bearings []Bearing, o Options, resect bool) (*Fix, error) {
	if err := o.validate(bearings); err != nil {
		return nil, err
	}
	p := &problem{bearings: bearings, options: o, resect: resect, turned: make([]bool, len(bearings))}
	for i, b := range bearings {
		if d := geodesy.Inverse(bearings[0].Place, b.Place).Distance; d > farthest {
			return nil, fmt.Errorf("fix: %s is %.0f km from %s", b.label(i), d/1000, bearings[0].label(0))
		}
	}
	f, err := p.solve(ctx)
	if o.Posts != nil {
		if err := o.Posts.Err(); err != nil { // what could not be read is not a void
			return nil, fmt.Errorf("fix: ground: %w", err)
		}
	}
	return f, err
}

func (p *problem) solve(ctx context.Context) (*Fix, error) {
	found, err := p.directed(ctx, math.Inf(1))
	if ctx.Err() != nil {
		return nil, err
	}
	if len(found) == 0 || !p.fits(found[0]) {
		found = append(found, p.offTheCrossings()...)
		sort.SliceStable(found, func(i, j int) bool { return found[i].chiSquare < found[j].chiSquare })
		turned := p.turnRound(ctx, found)
		switch {
		case len(found) > 0 && p.fits(found[0]):
			// what fits as it was read stays, however well a back bearing would fit
			found = append(slices.DeleteFunc(found, func(c candidate) bool { return !p.fits(c) }), turned...)
		case len(turned) > 0:
			found = turned
		}
	}
	if len(found) == 0 {
		return nil, err
	}
	if err := p.parallel(found[0]); err != nil {
		return nil, err
	}
	return p.report(ctx, found)
}

// fits reports whether a place agrees with what was read. With nothing to check
// it by, two lines that miss each other must come as near as their errors.
func (p *problem) fits(c candidate) bool {
	if k := p.count() - 2; k > 0 {
		return chance(c.chiSquare, k) >= rejected
	}
	return c.chiSquare <= ambiguous
}

// count is how many observations there are.
func (p *problem) count() int {
	n := len(p.bearings)
	if p.options.Altimeter != nil {
		n++
	}
	if p.options.Line != nil {
		n++
	}
	return n
}

// turnRound looks for back bearings: the readings that, turned half round,
// make the rest agree when nothing else does. Of the sets of readings with
// the fewest turned that do, the one that fits best is taken.
func (p *problem) turnRound(ctx context.Context, straight []candidate) []candidate {
	n := len(p.bearings)
	defer func() { p.turned = make([]bool, n) }()
	// Of the crossings of two lines the best has at most about three times the
	// least chi-square (the det²-weighted mean over pairs has exactly that, of
	// straight lines); ten times what is accepted is no use.
	limit := math.Inf(1)
	if k := p.count() - 2; k > 0 {
		limit = 10 * distuv.ChiSquared{K: float64(k)}.Quantile(1-rejected)
	}
	for _, sets := range turnings(n) {
		var best []candidate
		for _, turned := range sets {
			p.turned = turned
			c, err := p.directed(ctx, limit)
			if err != nil || len(c) == 0 {
				continue
			}
			// Turned readings must fit, and where others fit badly as they
			// stand, plainly better than those.
			if !p.fits(c[0]) {
				continue
			}
			if len(straight) > 0 && c[0].chiSquare > straight[0].chiSquare/4 {
				continue
			}
			if len(best) == 0 || c[0].chiSquare < best[0].chiSquare {
				best = c
			}
		}
		if len(best) > 0 {
			return best
		}
	}
	return nil
}

// turnings are the sets of readings that may have been taken half round, the
// fewest first: one, two, or all of them.
func turnings(n int) (bySize [3][][]bool) {
	set := func(indices ...int) []bool {
		out := make([]bool, n)
		for _, i := range indices {
			out[i] = true
		}
		return out
	}
	var all []int
	for i := range n {
		all = append(all, i)
		bySize[0] = append(bySize[0], set(i))
		for j := range i {
			bySize[1] = append(bySize[1], set(j, i))
		}
	}
	if n > 2 {
		bySize[2] = append(bySize[2], set(all...))
	}
	return bySize
}

// rejected is the chance below which bearings are said not to agree: the
// 1 % level of surveying practice.
const rejected = 0.01

// chance of a chi-square as large or larger.
func chance(chiSquare float64, redundancy int) float64 {
	if redundancy <= 0 {
		return 1
	}
	return distuv.ChiSquared{K: float64(redundancy)}.Survival(chiSquare)
}
