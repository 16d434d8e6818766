package visibility

import (
	"context"
	"math"
	"sync"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// Beyond tells what ground outside a grid may come into sight over the ground of
// the grid, so that what cannot need not be looked at.
type Beyond struct {
	observer   Observer
	eye        float64 // elevation, metres
	refraction float64
	lowest     []float64 // the least slope of the skyline over each of so many equal turns
}

// beyondTurns parts the bearings, half a degree each.
const beyondTurns = 720

// LookBeyond finds over what an observer would have to see ground outside a grid:
// on every bearing, not only some, no more than the slope of the grid's skyline.
// Where a line meets a void it may be anything. The errors are Viewshed's.
func LookBeyond(ctx context.Context, g *dem.Grid, o Observer, refraction float64) (*Beyond, error) {
	opts := ViewshedOptions{Conditions: Conditions{Refraction: refraction}}
	v, p, err := newProblem(ctx, g, o, opts)
	if err != nil {
		return nil, err
	}
	p.clip = true
	b := &Beyond{observer: o, eye: v.EyeElevation, refraction: refraction, lowest: make([]float64, beyondTurns)}
	for i := range b.lowest {
		b.lowest[i] = math.Inf(1)
	}
	var taking sync.Mutex
	err = p.run(ctx, opts, func(s *sweeper) {
		taking.Lock()
		defer taking.Unlock()
		e := &s.envelope
		for i, low := range e.low {
			t0 := e.lo + float64(i)*e.width
			t1 := t0 + e.width
			x0, y0 := s.cells.metres(s.point(1, t0))
			x1, y1 := s.cells.metres(s.point(1, t1))
			l0, l1 := math.Hypot(x0, y0), math.Hypot(x1, y1)
			slope := math.Inf(-1)
			switch {
			case e.anyVoid: // a line that has met one may be as high as it likes
			case low >= 0:
				slope = low / max(l0, l1)
			default: // between its ends the way may be a little shorter
				slope = low / (min(l0, l1) * (1 - e.width*e.width))
			}
			b.take(math.Atan2(x0, y0)*180/math.Pi, math.Atan2(x1, y1)*180/math.Pi, slope)
		}
	})
	for i, low := range b.lowest {
		if math.IsInf(low, 1) { // no line was followed there
			b.lowest[i] = math.Inf(-1)
		}
	}
	return b, err
}

// BeyondAlong is LookBeyond for the line on one bearing, whose skyline has a slope; its
// eye is at an elevation, metres.
func BeyondAlong(o Observer, eye float64, bearing geodesy.TrueBearing, slope, refraction float64) *Beyond {
	b := &Beyond{observer: o, eye: eye, refraction: refraction, lowest: make([]float64, beyondTurns)}
	for i := range b.lowest {
		b.lowest[i] = math.Inf(1)
	}
	b.take(float64(bearing), float64(bearing), slope)
	return b
}

// take notes a slope between two bearings, which are less than half a turn apart.
func (b *Beyond) take(from, to, slope float64) {
	turn := math.Mod(to-from+540, 360) - 180
	if turn < 0 {
		from, turn = from+turn, -turn
	}
	const step = 360.0 / beyondTurns
	for i := int(math.Floor(from/step - 1e-6)); i <= int(math.Floor((from+turn)/step+1e-6)); i++ {
		k := (i%beyondTurns + beyondTurns) % beyondTurns
		b.lowest[k] = min(b.lowest[k], slope)
	}
}

// least is riser.least.
func (b *Beyond) least(bearing geodesy.TrueBearing, turn geodesy.Degrees) float64 {
	const step = 360.0 / beyondTurns
	least := math.Inf(1)
	for i := int(math.Floor(float64(bearing-geodesy.TrueBearing(turn)) / step)); i <= int(math.Floor(float64(bearing+geodesy.TrueBearing(turn))/step)); i++ {
		least = min(least, b.lowest[(i%beyondTurns+beyondTurns)%beyondTurns])
	}
	return least
}

// May reports which blocks of posts could have ground in sight over the grid's, and
// farther off than past metres, if it were as high as top, metres. The blocks part a
// frame into squares of size posts, row by row. The error is the placement's, of a
// frame too wide for it.
func (b *Beyond) May(f *dem.Frame, size int, past, top float64) ([]bool, error) {
	may := make([]bool, b.blocks(f, size))
	err := b.each(f, size, func(int) float64 { return top }, func(i int, far float64) { may[i] = far > past })
	return may, err
}

// Reach is how far off, metres, the farthest of May's blocks ends that may have
// ground in sight over the grid's; 0 where none may. tops has the highest elevation
// of each, metres: +Inf where that is not known, -Inf where it is not asked about.
func (b *Beyond) Reach(f *dem.Frame, size int, tops []float32) (float64, error) {
	reach := 0.0
	err := b.each(f, size, func(i int) float64 { return float64(tops[i]) }, func(_ int, far float64) { reach = max(reach, far) })
	return reach, err
}

func (b *Beyond) blocks(f *dem.Frame, size int) int {
	return ((f.Columns + size - 1) / size) * ((f.Rows + size - 1) / size)
}

// each calls visit for the blocks that may have ground in sight, with how far off
// they end.
func (b *Beyond) each(f *dem.Frame, size int, top func(i int) float64, visit func(i int, far float64)) error {
	plane := geodesy.NewPlane(b.observer.Place)
	placement, err := dem.NewPlacement(f, plane, f.Whole())
	if err != nil {
		return err
	}
	r := riser{plane: plane, placement: placement, refraction: b.refraction, eye: b.eye, least: b.least}
	r.column, r.row = placement.Origin()
	across := (f.Columns + size - 1) / size
	for i := range b.blocks(f, size) {
		c, row, highest := i%across*size, i/across*size, top(i)
		if math.IsInf(highest, -1) {
			continue
		}
		if may, _, far := r.mayRise(c, row, min(c+size, f.Columns)-1, min(row+size, f.Rows)-1, highest); may {
			visit(i, far)
		}
	}
	return nil
}
