package fix

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/visibility"
)

// mostOthers are described of the places that fit as well.
const mostOthers = 8

// equal is the difference of chi-squares under which two places fit equally:
// of no account beside the 5.991 of a 95 % region, and over what the search
// and rounding leave.
const equal = 0.01

func (p *problem) report(ctx context.Context, found []candidate) (*Fix, error) {
	f := &Fix{Redundancy: p.count() - 2}
	rivals, err := p.rivals(ctx, found)
	if err != nil {
		return nil, err
	}
	rivals, err = p.apart(ctx, rivals)
	if err != nil {
		return nil, err
	}
	if f := rivals[0].start.fold; len(rivals) == 1 && f != nil && f.first && f.last {
		return nil, fmt.Errorf("%w: the ground along the bearing stands near the elevation read all the way from %s to where the data ends: the altimeter does not say where on it",
			ErrNoFix, p.bearings[0].label(0))
	}
	for i, r := range rivals {
		if i > mostOthers {
			f.Further++
			continue
		}
		size := [3]float64{r.out.EastEast, r.out.EastNorth, r.out.NorthNorth}
		switch {
		case r.start.fold != nil:
			size = about(r.place, r.folds...)
		case r.start.apart:
			p.turned = r.turned
			if size, err = p.spread(ctx, r.candidate, except(rivals, i)); err != nil {
				return nil, err
			}
		}
		r.out.EastEast, r.out.EastNorth, r.out.NorthNorth = size[0], size[1], size[2]
		if i == 0 {
			f.Candidate = r.out
		} else {
			f.Others = append(f.Others, r.out)
		}
	}
	p.turned = rivals[0].turned
	f.Chance = chance(f.ChiSquare, f.Redundancy)
	cut := 0
	for _, r := range rivals[:1+len(f.Others)] {
		if r.start.fold != nil && r.start.fold.last {
			cut++
		}
	}
	p.warn(f, rivals[0].looked, cut)
	return f, nil
}

// except are the candidates of all rivals but one.
func except(rivals []rival, one int) (out []candidate) {
	for k, r := range rivals {
		if k != one {
			out = append(out, r.candidate)
		}
	}
	return out
}

// rival is a place that fits about as well as the best, and what there is to
// say of it.
type rival struct {
	candidate
	out Candidate
	// folds of the ground that are this place.
	folds []*fold
	// rank orders rivals as Fix.Others states.
	rank [4]float64
}

// apart leaves out the rivals that lie in the region of one before: bent ground
// has several least sums close together, and where what lies between is itself
// likely they are one place. It works out the spread of those whose start was not
// one of several apart, and moves a place to where its region fits better still.
func (p *problem) apart(ctx context.Context, all []rival) ([]rival, error) {
	least := leastOf(all)
	var kept []rival
	for _, r := range all {
		k := slices.IndexFunc(kept, func(o rival) bool { return slices.Equal(o.turned, r.turned) && o.out.covers(r.place) })
		if k >= 0 {
			if r.start.fold != nil && len(kept[k].folds) > 0 {
				kept[k].folds = append(kept[k].folds, r.start.fold)
			}
			continue
		}
		p.turned = r.turned
		size := r.covariance
		switch {
		case r.start.fold != nil:
			r.folds = []*fold{r.start.fold}
			size = about(r.place, r.folds...)
		case r.start.apart:
			// the lattice is as fine as the line's error whatever the size (region)
			size = [3]float64{r.start.reach * r.start.reach, 0, r.start.reach * r.start.reach}
		case p.options.Altimeter != nil || p.options.Line != nil:
			var err error
			if size, err = p.spread(ctx, r.candidate, nil); err != nil {
				return nil, err
			}
		}
		r.out.EastEast, r.out.EastNorth, r.out.NorthNorth = size[0], size[1], size[2]
		if p.options.Altimeter != nil || p.options.Line != nil || !r.out.EllipseHolds() {
			region, best, err := p.region(ctx, r.candidate, size, least[r.back()]+ambiguous)
			if errors.Is(err, errUnbounded) && r.back() && len(kept) > 0 {
				continue // what fits as it was read is a place; this is none
			}
			if errors.Is(err, errUnbounded) {
				return nil, p.noEnd(r.out)
			}
			if err != nil {
				return nil, err
			}
			if better, ok := p.better(best, r.candidate); ok && region != nil {
				moved, err := p.describe(ctx, better)
				if err != nil {
					return nil, err
				}
				r.candidate, r.out = better, moved
				if len(r.folds) > 0 {
					size = about(r.place, r.folds...)
				}
				r.out.EastEast, r.out.EastNorth, r.out.NorthNorth = size[0], size[1], size[2]
				region.from(r.place)
			}
			r.out.Region = region
		}
		kept = append(kept, r)
	}
	return kept, nil
}

// better is the search from a place in the region of another that fits better
// than that does; false where none does, by anything that counts.
func (p *problem) better(best geodesy.LatLon, than candidate) (candidate, bool) {
	there, err := p.stand(best)
	if err != nil || !(there.chiSquare < than.chiSquare-equal) {
		return candidate{}, false
	}
	c, err := p.descend(best)
	if err != nil || c.chiSquare > there.chiSquare || geodesy.Inverse(best, c.place).Distance > math.Sqrt(than.covariance[0]+than.covariance[2]) {
		c = there
	}
	if c.covariance == ([3]float64{}) {
		c.covariance = than.covariance
	}
	c.start, c.looked = than.start, than.looked
	return c, true
}

// back reports whether a bearing was taken half round.
func (c candidate) back() bool { return slices.Contains(c.turned, true) }

// leastOf is the least chi-square of the rivals with bearings as they were read,
// and of those with one half round: a region is of the one kind.
func leastOf(all []rival) map[bool]float64 {
	least := map[bool]float64{}
	for _, r := range all {
		if v, ok := least[r.back()]; !ok || r.chiSquare < v {
			least[r.back()] = r.chiSquare
		}
	}
	return least
}

// rivals are the places found that fit about as well as the best, in order.
func (p *problem) rivals(ctx context.Context, found []candidate) ([]rival, error) {
	var all []rival
	least := map[bool]float64{}
	for _, c := range found { // of each kind they come best first
		if _, ok := least[c.back()]; !ok {
			least[c.back()] = c.chiSquare
		}
		worse := c.chiSquare - least[c.back()]
		if worse >= ambiguous {
			continue
		}
		out, err := p.describe(ctx, c)
		if err != nil {
			return nil, err
		}
		r := rival{candidate: c, out: out}
		if c.back() {
			r.rank[0] = 1 // a bearing is sooner out by its error than read at the wrong end
		}
		if worse >= equal {
			r.rank[1] = worse
		}
		for _, b := range out.Bearings {
			if b.Sight != visibility.Visible && p.options.Sight != nil {
				r.rank[2]++
			}
			r.rank[3] += b.Distance
		}
		all = append(all, r)
	}
	sort.SliceStable(all, func(i, j int) bool { return slices.Compare(all[i].rank[:], all[j].rank[:]) < 0 })
	return all, nil
}

// describe is what a place found comes to, its covariance that of the
// linearised problem.
func (p *problem) describe(ctx context.Context, c candidate) (Candidate, error) {
	p.turned = c.turned
	out := Candidate{
		Place:    c.place,
		EastEast: c.covariance[0], EastNorth: c.covariance[1], NorthNorth: c.covariance[2],
		ChiSquare: c.chiSquare, Crossing: c.crossing(),
		Ground: math.NaN(), AltimeterResidual: math.NaN(), LineDistance: math.NaN(),
	}
	standardised := c.standardised()
	for i, b := range p.bearings {
		observed, err := p.observed(i, c.place)
		if err != nil {
			return out, err
		}
		r := Residual{
			Name: b.label(i), Observed: observed, Turned: p.turned[i],
			Residual: geodesy.Degrees(c.observed.residual[i]),
			Error:    geodesy.Degrees(math.Sqrt(c.spread.At(i, i))), Standardised: standardised[i],
		}
		r.Computed, r.Distance, _ = p.computed(i, c.place)
		out.Bearings = append(out.Bearings, r)
	}
	if p.options.Posts != nil {
		if h, err := dem.ElevationAt(p.options.Posts, c.place); err == nil {
			out.Ground = h
			if column, row, err := p.options.Posts.Layout().Locate(c.place); err == nil {
				out.GroundFilled = dem.FilledAt(p.options.Posts, column, row)
			}
		}
	}
	if a := p.options.Altimeter; a != nil {
		out.AltimeterResidual = a.Elevation - out.Ground
	}
	if l := p.options.Line; l != nil {
		out.LineDistance, _ = l.nearest(geodesy.NewPlane(c.place))
	}
	return out, p.sights(ctx, &out)
}

// standardised residuals are r / sqrt(V - J C J')_ii (Baarda 1968); NaN where
// that is nothing but rounding.
func (c candidate) standardised() []float64 {
	n := len(c.observed.residual)
	out := make([]float64, n)
	for i := range n {
		s := c.observed.slope[i]
		fitted := s[0]*s[0]*c.covariance[0] + 2*s[0]*s[1]*c.covariance[1] + s[1]*s[1]*c.covariance[2]
		v := c.spread.At(i, i)
		out[i] = math.NaN()
		if left := v - fitted; n > 2 && left > 1e-6*v {
			out[i] = c.observed.residual[i] / math.Sqrt(left)
		}
	}
	return out
}

// crossing is the best angle between two lines of position, whose directions
// are square to the slopes.
func (c candidate) crossing() geodesy.Degrees {
	best := geodesy.Degrees(0)
	for i, a := range c.observed.slope {
		for _, b := range c.observed.slope[:i] {
			best = max(best, lineAngle(a, b))
		}
	}
	return best
}

// lineAngle is the angle, in [0, 90], between two lines of position with these
// slopes.
func lineAngle(a, b [2]float64) geodesy.Degrees {
	return geodesy.Atan2(math.Abs(a[0]*b[1]-a[1]*b[0]), math.Abs(a[0]*b[0]+a[1]*b[1]))
}

// sights looks whether each mark can be seen from a place.
func (p *problem) sights(ctx context.Context, f *Candidate) error {
	if p.options.Sight == nil {
		return nil
	}
	for i, b := range p.bearings {
		from, to := b.Place, f.Place
		if p.resect {
			from, to = to, from
		}
		f.Bearings[i].Sight = visibility.Unknown
		leg, err := visibility.LookingLine(ctx, p.options.Posts, from, to)
		if ctx.Err() != nil {
			return fmt.Errorf("fix: %w", ctx.Err())
		}
		if err != nil {
			continue // outside the data or on a void: not known
		}
		observer := visibility.Observer{Place: leg.From, EyeAboveGround: p.options.Sight.EyeAboveGround}
		s, err := visibility.Along(leg, observer, p.options.Sight.Conditions)
		if err != nil {
			return fmt.Errorf("fix: %s: %w", b.label(i), err)
		}
		f.Bearings[i].Sight, f.Bearings[i].Extra = s.Verdict, s.TargetExtra
		if f.Bearings[i].SightFilled, err = visibility.RestsOnFilled(leg, s.Verdict, observer, p.options.Sight.Conditions); err != nil {
			return fmt.Errorf("fix: %s: %w", b.label(i), err)
		}
	}
	return nil
}
