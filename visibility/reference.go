package visibility

import (
	"context"
	"math"

	"crowline/dem"
)

// Reference answers as Viewshed does, the plain way: it walks the line of
// sight to every post and compares the slopes of the ground it crosses with
// the slope of the target. It is what Viewshed is held against, and costs
// the square root of the number of posts more.
func Reference(ctx context.Context, g *dem.Grid, o Observer, opts ViewshedOptions) (*Viewed, error) {
	v, p, err := newProblem(ctx, g, o, opts)
	if err != nil {
		return nil, err
	}
	w := v.Window
	v.Verdicts = make([]Verdict, w.Columns*w.Rows)
	if opts.HeightNeeded {
		v.HeightNeeded = make([]float32, w.Columns*w.Rows)
	}
	p.cells.placement.Tabulate()
	err = parallel(ctx, w.Rows, opts.Concurrency, func(_, r int) {
		for c := range w.Columns {
			if ctx.Err() != nil {
				return
			}
			s := p.sightline(w.Column+c, w.Row+r)
			v.Verdicts[r*w.Columns+c] = s.verdict(p.target)
			if v.HeightNeeded != nil {
				v.HeightNeeded[r*w.Columns+c] = float32(s.needed())
			}
		}
	})
	if err != nil {
		return nil, err
	}
	return v, v.summarise(ctx, g, p.cells)
}

// sightline is what one walk to a post finds.
type sightline struct {
	inRange  bool
	unknown  bool    // the line meets a void or leaves the data, or the post is void
	distance float64 // metres
	above    float64 // of the post's ground over the eye's level, after the drop, metres
	highest  float64 // slope of the highest known ground before the post; -Inf for none
}

// lowered is a post's elevation less the drop, metres; NaN where void.
func (p *problem) lowered(column, row int) float64 {
	e, n := p.cells.placement.Post(column, row)
	return p.grid.Elevation(column, row) - p.cells.placement.Plane.CurvatureDrop(e, n, p.refraction)
}

func (p *problem) sightline(column, row int) sightline {
	east, north := p.cells.placement.Post(column, row)
	s := sightline{distance: math.Hypot(east, north), highest: math.Inf(-1)}
	// the observer's own post has no bearing
	s.inRange = s.distance <= dem.NearLimit ||
		s.distance <= p.radius && (p.sector == nil || p.sector.contains(east, north))
	if !s.inRange {
		return s
	}
	s.above = p.lowered(column, row) - p.eye
	_, left := p.cells.placement.Walk(east, north, func(x dem.Crossing) bool {
		if p.cells.through(x) {
			return true
		}
		qc, qr := x.Q()
		h := dem.Lerp(p.lowered(x.Column, x.Row), p.lowered(qc, qr), x.Fraction)
		if math.IsNaN(h) {
			s.unknown = true
			return true
		}
		s.highest = max(s.highest, (h-p.eye)/x.Distance)
		return true
	})
	s.unknown = s.unknown || left || math.IsNaN(s.above)
	return s
}

// margin is how far the slope of a target stands over the highest ground
// before it.
func (s sightline) margin(target float64) float64 {
	return (s.above+target)/s.distance - s.highest
}

func (s sightline) verdict(target float64) Verdict {
	switch {
	case !s.inRange:
		return OutOfRange
	case math.IsNaN(s.above):
		return Unknown
	case s.distance <= dem.NearLimit:
		return Visible
	case s.margin(target) < -GrazingSlope:
		return Hidden
	case s.unknown:
		return Unknown
	}
	return Visible
}

// needed is the height above the ground at which a target is just seen,
// metres, not negative; NaN where not known.
func (s sightline) needed() float64 {
	switch {
	case !s.inRange || s.unknown:
		return math.NaN()
	case s.distance <= dem.NearLimit:
		return 0
	}
	return max(0, s.highest*s.distance-s.above)
}
