package sheet

import (
	"fmt"
	"math"

	"crowline/contour/page"
	"crowline/dem"
	"crowline/dem/geodesy"
)

// fitRim is the ground kept between what a map is to show and its frame,
// millimetres.
const fitRim = 2.5

// scaleSteps are the round scales, times powers of ten, that a map is drawn at
// where it may choose: scales that maps are made at (common practice).
var scaleSteps = []float64{1, 1.25, 1.5, 2, 2.5, 3, 4, 5, 6, 7.5, 8}

// planarWidth is the width of ground, metres, over which a map has true north
// up rather than the grid of one UTM zone, which bends away beyond its zone.
const planarWidth = 250e3

// FitScale has the plan show all of a frame's posts, and some places, on one
// page, at the largest round scale there is. Ground that no page holds wraps
// ErrPlan.
func (p Plan) FitScale(f *dem.Frame, places ...geodesy.LatLon) (Plan, error) {
	box, err := p.boxes(f, places)
	if err != nil {
		return p, err
	}
	width, height := box.outer.X, box.outer.Y
	for ten := 1000.0; ten <= MostScale; ten *= 10 {
		for _, step := range scaleSteps {
			p.Scale = step * ten
			if p.Scale > MostScale {
				break
			}
			filled, err := p.filled()
			if err != nil {
				return p, err
			}
			proj, err := newProjection(*p.Centre, p.North, p.Scale)
			if err != nil {
				return p, err
			}
			for _, paper := range filled.Paper.Ways() {
				l, err := filled.layOut(paper, proj)
				if err != nil {
					return p, err
				}
				mm := 1000 / p.Scale
				if l.frame.Width-2*fitRim >= width*mm && l.frame.Height-2*fitRim >= height*mm {
					p.Paper = paper
					p.Paper.Fixed = true
					return p, nil
				}
			}
		}
	}
	return p, fmt.Errorf("%w: %.0f x %.0f km of ground on one page is smaller than %s; take less", ErrPlan, width/1000, height/1000, fraction(MostScale))
}

// FitPoints is the largest round scale, a denominator, at which places lie on the
// one page of a plan with a centre, with room round each for its letter. Places
// that no page holds wrap ErrPlan.
func (p Plan) FitPoints(places []geodesy.LatLon) (float64, error) {
	const rim = 10 // mm
	for ten := 1000.0; ten <= MostScale; ten *= 10 {
		for _, step := range scaleSteps {
			p.Scale = step * ten
			if p.Scale > MostScale {
				break
			}
			filled, err := p.filled()
			if err != nil {
				return 0, err
			}
			pages, err := filled.pages()
			if err != nil {
				return 0, err
			}
			area := page.Box(-pages[0].frame.Width/2, -pages[0].frame.Height/2, pages[0].frame.Width, pages[0].frame.Height).Inset(rim)
			fits := true
			for _, at := range places {
				q, err := pages[0].proj.place(at)
				if err != nil {
					return 0, err
				}
				fits = fits && area.Contains(q)
			}
			if fits {
				return p.Scale, nil
			}
		}
	}
	return 0, fmt.Errorf("%w: the places do not fit on one page at %s", ErrPlan, fraction(MostScale))
}

// FitPaper has the plan show a frame's posts on one page at its scale, on paper
// as large as that takes; it may be larger than a named one. The map is cut to
// the posts, so that no paper in it is without ground: where their rows or
// columns lean on paper, to the largest box within them. Paper that would be too
// large wraps ErrPlan.
func (p Plan) FitPaper(f *dem.Frame) (Plan, error) {
	box, err := p.boxes(f, nil)
	if err != nil {
		return p, err
	}
	mm := 1000 / p.Scale
	p.cut = page.At(box.inner.X*mm, box.inner.Y*mm)
	tooLarge := func() error {
		return fmt.Errorf("%w: the map would be %.0f x %.0f mm at %s, and no side of the paper may be over %d; use a smaller scale or area", ErrPlan, p.cut.X, p.cut.Y, fraction(p.Scale), page.MostSide)
	}
	if max(p.cut.X, p.cut.Y) > page.MostSide {
		return p, tooLarge()
	}
	p.Paper = page.Paper{Width: max(page.LeastSide, p.cut.X), Height: max(page.LeastSide, p.cut.Y), Fixed: true}
	proj, err := newProjection(*p.Centre, p.North, p.Scale)
	if err != nil {
		return p, err
	}
	// What stands round the map takes more or less room as the paper is wider or
	// taller; a few rounds settle it.
	for range 20 {
		filled, err := p.filled()
		if err != nil {
			return p, tooLarge()
		}
		more := page.At(10, 10) // where there is no room for a map at all
		if l, err := filled.layOut(p.Paper, proj); err == nil {
			more = p.cut.Minus(page.At(l.frame.Width, l.frame.Height))
		}
		if more.X < fitExact && more.Y < fitExact {
			p.Paper.Name = fmt.Sprintf("%.0f x %.0f mm", p.Paper.Width, p.Paper.Height)
			return p, nil
		}
		p.Paper.Width = math.Ceil(p.Paper.Width + max(0, more.X))
		p.Paper.Height = math.Ceil(p.Paper.Height + max(0, more.Y))
	}
	return p, tooLarge()
}

// fitExact is how nearly a map has the size it was cut to, millimetres: less
// than any line is wide.
const fitExact = 1e-6

// fitBox is ground to show: the size, metres, of the box round it and of the
// largest within its posts.
type fitBox struct{ outer, inner page.Point }

// boxes puts the plan's centre in the middle of a frame's posts and some places,
// and measures them as the plan's north has it. Ground wider than a UTM zone's
// grid holds has true north up.
func (p *Plan) boxes(f *dem.Frame, places []geodesy.LatLon) (fitBox, error) {
	const pieces = 8
	last := page.At(float64(f.Columns-1), float64(f.Rows-1))
	var edges [4][]geodesy.LatLon
	for i := range pieces + 1 {
		t := float64(i) / pieces
		for k, q := range [4]page.Point{{X: t * last.X}, {X: t * last.X, Y: last.Y}, {Y: t * last.Y}, {X: last.X, Y: t * last.Y}} {
			at, err := f.Place(q.X, q.Y)
			if err != nil {
				return fitBox{}, fmt.Errorf("sheet: %w", err)
			}
			edges[k] = append(edges[k], at)
		}
	}
	middle, err := f.Place(last.X/2, last.Y/2)
	if err != nil {
		return fitBox{}, fmt.Errorf("sheet: %w", err)
	}
	var box fitBox
	moved := false
	// The middle is looked for about the posts' own, and the box measured about
	// it; perhaps once more with true north up.
	for range 3 {
		const metres = 1000 // the scale at which a metre is a millimetre
		proj, err := newProjection(middle, p.North, metres)
		if err != nil {
			return box, err
		}
		lo, hi := page.At(math.Inf(1), math.Inf(1)), page.At(math.Inf(-1), math.Inf(-1))
		in := page.At(math.Inf(1), math.Inf(1)) // half the inner box
		for k, edge := range append(edges[:], places) {
			var mean page.Point
			near := page.At(math.Inf(1), math.Inf(1))
			for _, at := range edge {
				q, err := proj.place(at)
				if err != nil {
					return box, err
				}
				lo, hi = page.At(min(lo.X, q.X), min(lo.Y, q.Y)), page.At(max(hi.X, q.X), max(hi.Y, q.Y))
				near = page.At(min(near.X, math.Abs(q.X)), min(near.Y, math.Abs(q.Y)))
				mean = mean.Plus(q)
			}
			switch {
			case k >= len(edges):
			case math.Abs(mean.X) > math.Abs(mean.Y):
				in.X = min(in.X, near.X)
			default:
				in.Y = min(in.Y, near.Y)
			}
		}
		box = fitBox{outer: page.At(2*max(-lo.X, hi.X), 2*max(-lo.Y, hi.Y)), inner: in.Times(2)}
		if p.North == GridNorth && max(box.outer.X, box.outer.Y) > planarWidth {
			p.North = TrueNorth
			continue
		}
		if len(places) == 0 || moved {
			break // the posts' own middle is that of both boxes
		}
		moved = true
		if middle, err = proj.inverse(lo.Plus(hi).Times(0.5)); err != nil {
			return box, err
		}
	}
	p.Centre = &middle
	return box, nil
}
