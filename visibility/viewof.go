package visibility

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// ViewOfOptions are the options of ViewOf.
type ViewOfOptions struct {
	// EyeAboveGround is the eye over each post, metres, not negative.
	EyeAboveGround float64
	// Conditions of the sight: the mark's top above its ground, and refraction.
	Conditions
	// Radius bounds how far from the mark posts are asked, metres along the
	// ellipsoid. Zero means no bound.
	Radius float64
	// Asked bounds the posts asked beside the window: column and row of the
	// grid. Nil asks all of the window.
	Asked func(column, row int) bool
	// Concurrency is how many cores to use; zero means all. The answer does not
	// depend on it.
	Concurrency int
}

// Back is from which posts of a window a mark is seen.
type Back struct {
	Window dem.Window
	// Verdicts of the window's posts, row by row: of the mark, as the eye over
	// the post sees it. OutOfRange where it was not asked.
	Verdicts []Verdict
	// Settled is how many posts were asked one by one, for their sight is so
	// near to grazing that it may depend on the end it is reckoned from.
	Settled int
}

// ViewOf finds from which posts of a window a mark is seen: for each the verdict
// of the sight from an eye over that post to the mark (LookingLine, Along). The
// mark is a place as people write it (dem.LookingPoint).
//
// Model: a sight runs both ways. So the mark looks: one Viewshed from it, with
// the heights of eye and target exchanged, over the posts between it and the
// window and no others. What differs between the two ends is small. Curvature is
// reckoned with the Earth's radius at the observer, and along a geodesic that
// changes by under 1.1 % of itself for each radius of the Earth gone; two placements of one
// post differ by some micrometres; and what is within rounding of a sight line
// at one end may be beyond it at the other. Posts whose verdict would be another
// were the line that much steeper, or a hair to the left or right, are asked one
// by one, from their own end: so the answer is that of Along, and not only near
// it.
//
// On 770 000 posts of 30 m mountain ground, from 24 marks each, that settled 2000
// posts, and no verdict turned out another than the plain exchanged viewshed's; of
// 36 000 sights up to 38 km long asked from their own end none differed.
//
// A mark on no known ground is seen by no one for sure: all is Unknown. The
// error is the projection's, a failed read's or ctx's. Cost: a Viewshed of the
// posts between, and a tenth of a millisecond or so for each post asked by
// itself. Memory: a byte a post between, and a byte a post asked.
func ViewOf(ctx context.Context, g *dem.Grid, mark geodesy.LatLon, window dem.Window, o ViewOfOptions) (*Back, error) {
	window = window.Intersect(g.Whole())
	out := &Back{Window: window, Verdicts: make([]Verdict, window.Columns*window.Rows)}
	if window.Empty() {
		return out, nil
	}
	if !(o.EyeAboveGround >= 0) || math.IsInf(o.EyeAboveGround, 0) {
		return nil, fmt.Errorf("eye above ground %v m is not a height from 0 up", o.EyeAboveGround)
	}
	if err := o.validate(); err != nil {
		return nil, err
	}
	at, err := dem.LookingPoint(g, mark)
	if err != nil {
		return nil, err
	}
	opts := ViewshedOptions{
		Conditions: Conditions{TargetAboveGround: o.EyeAboveGround, Refraction: o.Refraction}, Radius: o.Radius, Concurrency: o.Concurrency,
	}
	between, err := o.between(g, at, window)
	if err != nil {
		return nil, err
	}
	v, p, err := problemIn(ctx, g, between, Observer{Place: at, EyeAboveGround: o.TargetAboveGround}, opts)
	if errors.Is(err, dem.ErrVoid) || errors.Is(err, dem.ErrOutside) {
		return out, o.allUnknown(g, at, out)
	}
	if err != nil {
		return nil, err
	}
	if err := v.fill(ctx, p); err != nil {
		return nil, err
	}
	o.bound(v, window)
	p.verdicts, p.near = v.Verdicts, o.near(p, window)
	p.doubted, p.voids = make([][]int32, len(p.jobs())), slices.Contains(p.blocks.voids, true)
	if err := p.run(ctx, opts, nil); err != nil {
		return nil, err
	}
	var doubted []int32
	for _, list := range p.doubted {
		doubted = append(doubted, list...)
	}
	doubted = append(doubted, o.beside(v, p)...)
	slices.Sort(doubted)
	doubted = slices.Compact(doubted)
	out.Settled = len(doubted)
	err = parallel(ctx, len(doubted), o.Concurrency, func(_, k int) {
		i := int(doubted[k])
		v.Verdicts[i] = o.settle(ctx, g, mark, between.Column+i%between.Columns, between.Row+i/between.Columns)
	})
	if err != nil {
		return nil, err
	}
	for r := range window.Rows {
		from := (window.Row-between.Row+r)*between.Columns + window.Column - between.Column
		copy(out.Verdicts[r*window.Columns:(r+1)*window.Columns], v.Verdicts[from:from+window.Columns])
	}
	return out, nil
}

// between is the posts that lines from the mark to a window may meet: a line
// bows out from its chord on the map by a small share of its length; a tenth and
// two posts are far over that.
func (o ViewOfOptions) between(g *dem.Grid, mark geodesy.LatLon, window dem.Window) (dem.Window, error) {
	column, row, err := g.Locate(mark)
	if err != nil {
		return dem.Window{}, err
	}
	if !g.Contains(column, row) {
		return window, nil
	}
	w := window.Union(dem.Window{Column: int(column), Row: int(row), Columns: 2, Rows: 2})
	return g.Grow(w, max(w.Columns, w.Rows)/10+2), nil
}

// allUnknown is the answer for a mark on no known ground.
func (o ViewOfOptions) allUnknown(g *dem.Grid, mark geodesy.LatLon, out *Back) error {
	w := out.Window
	for i := range out.Verdicts {
		column, row := w.Column+i%w.Columns, w.Row+i/w.Columns
		if o.Asked != nil && !o.Asked(column, row) {
			continue
		}
		if o.Radius > 0 {
			place, err := g.Place(float64(column), float64(row))
			if err != nil {
				return err
			}
			if geodesy.Inverse(mark, place).Distance > o.Radius {
				continue
			}
		}
		out.Verdicts[i] = Unknown
	}
	return nil
}

// bound asks no post outside the window, and none that nobody asks.
func (o ViewOfOptions) bound(v *Viewed, window dem.Window) {
	w := v.Window
	for r := range w.Rows {
		line := v.Verdicts[r*w.Columns : (r+1)*w.Columns]
		row := w.Row + r
		for c := range line {
			column := w.Column + c
			if row < window.Row || row >= window.Row+window.Rows || column < window.Column || column >= window.Column+window.Columns ||
				o.Asked != nil && line[c] != OutOfRange && !o.Asked(column, row) {
				line[c] = OutOfRange
			}
		}
	}
}

const (
	// radiusChange bounds how the Earth's radius in a line's direction changes
	// along the line, as a share of itself for each radius of the Earth gone: the
	// most is 3/2 e² = 0.0100, with e² = 0.0067 of WGS 84; 20 000 lines of up to
	// 400 km all over the Earth gave 0.0101.
	radiusChange = 0.011
	// roundedPlace is what the rounding of a place in degrees, and of the geodesics
	// there and back, may make of where a post stands, metres, beside the
	// placement's own error: both are some 15 nanometres (Karney 2013).
	roundedPlace = 1e-7
	// steepGround is the steepest ground, as a tangent, over which those are a
	// bound on heights.
	steepGround = 5.0
)

// near is the slope by which a sight may differ between its two ends.
//
// Curvature with the one end's radius and the other's makes bulges that differ
// by |1-k|/2 |1/R - 1/R'| x (d-x) at x of d: as a slope from the mark at most
// that without x. And an edge x before the mark, off by so many micrometres,
// stands off by as many over x.
func (o ViewOfOptions) near(p *problem, window dem.Window) float64 {
	c := p.cells
	far := 0.0
	for _, q := range [4][2]int{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
		x, y := c.at(float64(window.Column+q[0]*(window.Columns-1)), float64(window.Row+q[1]*(window.Rows-1)))
		far = max(far, c.distance(x, y))
	}
	far = min(far, p.radius)
	const r = geodesy.EquatorialRadius
	curved := math.Abs(1-p.refraction) / 2 * radiusChange * (far / r) * (far / r)
	// the nearest edge that the mark does not stand on
	column, row := c.placement.Origin()
	off := func(v, metres float64) float64 {
		f := v - math.Floor(v)
		gap := math.Inf(1)
		for _, d := range [2]float64{f, 1 - f} {
			if d > endOn {
				gap = min(gap, d)
			}
		}
		return gap * metres
	}
	edge := max(dem.NearLimit, min(off(column, math.Hypot(c.xEast, c.xNorth)), off(row, math.Hypot(c.yEast, c.yNorth))))
	moved := 2*c.placement.ErrorBound + roundedPlace
	return curved + steepGround*moved/edge + 2*GrazingSlope*max(1, far)
}

// doubt reports whether a target at u, on the line t with ground up to top before
// it, may have another verdict from its own end. Ground has no steps, so a line a
// hair aside meets ground as high as near allows for; but for beside a void.
func (s *sweeper) doubt(u, t, top float64) bool {
	e := &s.envelope
	if math.Abs(u-top) <= s.slack {
		return true
	}
	side := 4 * s.near                                                        // cells of one way over cells of the other
	if e.doubtful(t, side) || s.voids && (t-s.lo <= side || s.hi-t <= side) { // what lies a hair beyond is another job's to know
		return true
	}
	if !e.anyVoid {
		return false
	}
	seen := u >= top
	for _, at := range [2]float64{t - side, t + side} {
		var reader envelopeReader
		if aside := reader.at(e, min(max(at, e.lo), e.hi)); (u >= aside) != seen {
			return true
		}
	}
	return false
}

// doubtful reports whether lines within side of t are not all known, or not all
// unknown.
func (e *envelope) doubtful(t, side float64) bool {
	// where lines leave the data; the ends of the job's own range are none
	if e.from > e.lo && t-e.from <= side+borderSlack || e.to < e.hi && e.to-t <= side+borderSlack {
		return true
	}
	if !e.anyVoid {
		return false
	}
	for b := e.voidBin(t - side); b <= e.voidBin(t+side); b++ {
		for _, s := range e.voids[b] {
			if math.Abs(s.t0-t) <= side || math.Abs(s.t1-t) <= side {
				return true
			}
		}
	}
	return false
}

// beside are the posts asked beside the mark, its own among them, which no job
// answers for.
func (o ViewOfOptions) beside(v *Viewed, p *problem) []int32 {
	column, row := p.cells.placement.Origin()
	w := v.Window
	var out []int32
	for r := int(math.Floor(row)) - 1; r <= int(math.Ceil(row))+1; r++ {
		for c := int(math.Floor(column)) - 1; c <= int(math.Ceil(column))+1; c++ {
			if c < w.Column || r < w.Row || c >= w.Column+w.Columns || r >= w.Row+w.Rows {
				continue
			}
			if i := (r-w.Row)*w.Columns + c - w.Column; v.Verdicts[i] != OutOfRange {
				out = append(out, int32(i))
			}
		}
	}
	return out
}

// settle asks one post from its own end.
func (o ViewOfOptions) settle(ctx context.Context, g *dem.Grid, mark geodesy.LatLon, column, row int) Verdict {
	if math.IsNaN(g.Elevation(column, row)) {
		return Unknown
	}
	place, err := g.Place(float64(column), float64(row))
	if err != nil {
		return Unknown
	}
	leg, err := LookingLine(ctx, g, place, mark)
	if err != nil { // there is ground: the eye stands on the mark
		return Visible
	}
	s, err := Along(leg, Observer{Place: leg.From, EyeAboveGround: o.EyeAboveGround}, o.Conditions)
	if err != nil {
		return Unknown
	}
	return s.Verdict
}
