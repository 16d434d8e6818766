package visibility

import (
	"context"
	"math"
	"slices"
	"sort"

	"crowline/dem"
	"crowline/profile"
)

// fan is the ground between a mark and a leg, and what it hides of the leg.
//
// On the mark's plane, x runs from the mark square to the leg and y along it.
// Drawn as t = y/x and u = height/x, height over the mark's top with
// curvature and refraction taken off, sight lines from the mark stand
// upright, one for each t, and edges of the ground and pieces of the walker's
// way stay straight. An edge between mark and walker hides the walker where
// its u is the greater.
type fan struct {
	fromMark
	leg *profile.Leg
	// unit vectors on the plane, east and north, of x and of y
	square, along [2]float64

	x, y []float64 // the leg's points
	t, u []float64 // the same; u of the eye, NaN where its ground is not known
	w    []float64 // 1/x
	out  float64   // no post at less x than this is beyond the leg
	tree []branch
	hid  [][][2]float64 // of every piece of the leg, shares of it hidden, in no order
	gaps [][][2]float64 // and those a void lies before
}

const (
	// nearestLine is how near the line through a leg, metres, a mark may
	// stand for the fan to be drawn.
	nearestLine = 0.1
	// outOfOrder is how far back, metres along the leg, rounding may turn the
	// order of two of its points as seen from a mark so near.
	outOfOrder = 0.05
)

// newFan is nil where the fan cannot be drawn: the mark is on the line,
// or a sight line leaves the data.
func newFan(from *fromMark, leg *profile.Leg, eyeAboveGround float64) *fan {
	n := len(leg.Points)
	if n < 2 {
		return nil
	}
	p := from.placement
	first, last := leg.Points[0], leg.Points[n-1]
	ae, an := p.At(first.Column, first.Row)
	be, bn := p.At(last.Column, last.Row)
	length := math.Hypot(be-ae, bn-an)
	if !(length > 0) {
		return nil
	}
	le, ln := (be-ae)/length, (bn-an)/length
	w := &fan{fromMark: *from, leg: leg}
	w.along = [2]float64{le, ln}
	w.square = [2]float64{ln, -le}
	side := ae*w.square[0] + an*w.square[1]
	if side < 0 {
		w.square = [2]float64{-ln, le}
		side = -side
	}
	if side < nearestLine {
		return nil
	}
	w.out = side
	for _, point := range leg.Points {
		e, no := p.At(point.Column, point.Row)
		x, y := w.turn(e, no)
		if !(x >= nearestLine/2) {
			return nil
		}
		h := point.Elevation + eyeAboveGround - w.lowering*p.Plane.CurvatureDrop(e, no, 0) - w.top
		t := y / x
		if i := len(w.t); i > 0 && t < w.t[i-1] {
			if (w.t[i-1]-t)*side > outOfOrder {
				return nil
			}
			t = w.t[i-1]
		}
		w.x, w.y, w.t, w.u, w.w = append(w.x, x), append(w.y, y), append(w.t, t), append(w.u, h/x), append(w.w, 1/x)
		w.out = min(w.out, x)
	}
	w.hid, w.gaps = make([][][2]float64, n-1), make([][][2]float64, n-1)
	size := 1
	for size < n-1 {
		size *= 2
	}
	w.tree = make([]branch, 2*size)
	w.plant(1, 0, n-1)
	return w
}

// rows are the columns of each row that the fan's edges end in.
type rows struct {
	first       int
	least, most []int
}

func (r *rows) add(column, row int) {
	if len(r.least) == 0 {
		r.first = row
	}
	for row < r.first {
		r.first--
		r.least, r.most = slices.Insert(r.least, 0, math.MaxInt), slices.Insert(r.most, 0, math.MinInt)
	}
	for row >= r.first+len(r.least) {
		r.least, r.most = append(r.least, math.MaxInt), append(r.most, math.MinInt)
	}
	i := row - r.first
	r.least[i], r.most[i] = min(r.least[i], column), max(r.most[i], column)
}

// span is the columns of a row and of the rows beside it.
func (r *rows) span(row int) (least, most int) {
	least, most = math.MaxInt, math.MinInt
	for i := row - r.first - 1; i <= row-r.first+1; i++ {
		if i >= 0 && i < len(r.least) {
			least, most = min(least, r.least[i]), max(most, r.most[i])
		}
	}
	return least, most
}

// turn is a place on the plane as x and y.
func (w *fan) turn(east, north float64) (x, y float64) {
	return east*w.square[0] + north*w.square[1], east*w.along[0] + north*w.along[1]
}

// border walks round the fan; false where it leaves the data.
func (w *fan) border() (rows, bool) {
	var r rows
	around := func(column, row float64) {
		for _, c := range [2]float64{math.Floor(column), math.Ceil(column)} {
			for _, q := range [2]float64{math.Floor(row), math.Ceil(row)} {
				r.add(int(c), int(q))
			}
		}
	}
	around(w.placement.Origin())
	for _, p := range w.leg.Points {
		around(p.Column, p.Row)
	}
	for _, i := range [2]int{0, len(w.x) - 1} {
		e := w.square[0]*w.x[i] + w.along[0]*w.y[i]
		n := w.square[1]*w.x[i] + w.along[1]*w.y[i]
		if _, left := w.placement.Walk(e, n, func(c dem.Crossing) bool {
			r.add(c.Column, c.Row)
			r.add(c.Q())
			return true
		}); left {
			return rows{}, false
		}
	}
	return r, true
}

// placed is a post on the fan.
type placed struct {
	x, y, h float64
	// inFirst and inLast are at least 0 on the fan's side of its two rays.
	inFirst, inLast float64
}

// hide finds what the ground hides; false where the fan leaves the data.
func (w *fan) hide(ctx context.Context) (bool, error) {
	r, ok := w.border()
	if !ok {
		return false, nil
	}
	window := w.placement.Window
	var before, here []placed
	var beforeFrom int
	for row := r.first; row < r.first+len(r.least); row++ {
		if ctx.Err() != nil {
			return false, ctx.Err()
		}
		least, most := r.span(row)
		least, most = max(least, window.Column), min(most, window.Column+window.Columns-1)
		here = w.place(here[:0], row, least, most)
		for i := range here {
			if i > 0 {
				w.edge(&here[i-1], &here[i])
			}
			if j := least + i - beforeFrom; j >= 0 && j < len(before) {
				w.edge(&before[j], &here[i])
			}
		}
		before, here, beforeFrom = here, before, least
	}
	return true, nil
}

func (w *fan) place(out []placed, row, least, most int) []placed {
	line := w.placement.Row(row)
	plane, first, last := w.placement.Plane, w.t[0], w.t[len(w.t)-1]
	for c := least; c <= most; c++ {
		e, n := line.At(float64(c))
		var p placed
		p.x, p.y = w.turn(e, n)
		p.h = w.posts.Elevation(c, row) - w.lowering*plane.CurvatureDrop(e, n, 0) - w.top
		p.inFirst, p.inLast = p.y-first*p.x, last*p.x-p.y
		out = append(out, p)
	}
	return out
}

// edge hides what one edge of the ground does.
func (w *fan) edge(p, q *placed) {
	if p.inFirst <= 0 && q.inFirst <= 0 || p.inLast <= 0 && q.inLast <= 0 || p.x >= w.far() && q.x >= w.far() {
		return
	}
	from, to := 0.0, 1.0
	clip := func(a, b float64) {
		switch {
		case a < 0 && b >= 0:
			from = max(from, a/(a-b))
		case a >= 0 && b < 0:
			to = min(to, a/(a-b))
		}
	}
	clip(p.inFirst, q.inFirst)
	clip(p.inLast, q.inLast)
	if from >= to {
		return
	}
	at := func(f float64) end {
		x, y, h := p.x+f*(q.x-p.x), p.y+f*(q.y-p.y), p.h+f*(q.h-p.h)
		return end{y / x, h / x, 1 / x, math.Hypot(x, y)}
	}
	a, b := at(from), at(to)
	// what is within NearLimit of the mark is the mark
	if a.distance < dem.NearLimit || b.distance < dem.NearLimit {
		if a.distance < dem.NearLimit && b.distance < dem.NearLimit {
			return
		}
		f := (dem.NearLimit - a.distance) / (b.distance - a.distance)
		cut := at(from + f*(to-from))
		if a.distance < b.distance {
			a = cut
		} else {
			b = cut
		}
	}
	if a.t > b.t {
		a, b = b, a
	}
	if !(a.t < b.t) {
		return
	}
	if max(p.x, q.x) >= w.out && !w.before(&a, &b) {
		return
	}
	if math.IsNaN(a.u) || math.IsNaN(b.u) {
		w.cover(1, 0, len(w.hid), &a, &b)
		return
	}
	w.shade(1, 0, len(w.hid), &a, &b)
}

// far is the x at which all is beyond the leg.
func (w *fan) far() float64 { return max(w.x[0], w.x[len(w.x)-1]) + w.bow() }

// bow is more than the leg departs from a straight line on the plane.
func (w *fan) bow() float64 { return 1 + (w.y[len(w.y)-1]-w.y[0])*1e-4 }

// end is an end of an edge, or of the part of it in the fan.
type end struct{ t, u, w, distance float64 }

func partWay(a, b *end, t float64) end {
	f := (t - a.t) / (b.t - a.t)
	return end{t, a.u + f*(b.u-a.u), a.w + f*(b.w-a.w), 0}
}

// before cuts from an edge what lies beyond the leg, and reports whether
// anything is left. An edge meets a leg once.
func (w *fan) before(a, b *end) bool {
	over := func(e *end) float64 { // over 0 nearer than the leg
		i := w.piece(e.t)
		f := 0.0
		if d := w.t[i+1] - w.t[i]; d > 0 {
			f = (e.t - w.t[i]) / d
		}
		return e.w - (w.w[i] + f*(w.w[i+1]-w.w[i]))
	}
	oa, ob := over(a), over(b)
	switch {
	case oa <= 0 && ob <= 0:
		return false
	case oa > 0 && ob > 0:
		return true
	}
	// the piece of the leg where it turns from one to the other
	i, j := w.piece(a.t), w.piece(b.t)
	k := i + sort.Search(j-i, func(k int) bool {
		e := partWay(a, b, w.t[i+k+1])
		return (e.w-w.w[i+k+1] > 0) != (oa > 0)
	})
	l, r := *a, *b
	if w.t[k] > a.t {
		l = partWay(a, b, w.t[k])
	}
	if w.t[k+1] < b.t {
		r = partWay(a, b, w.t[k+1])
	}
	ol, or := over(&l), over(&r)
	t := l.t
	if ol != or {
		t = l.t + (r.t-l.t)*min(1, max(0, ol/(ol-or)))
	}
	cut := partWay(a, b, t)
	if oa > 0 {
		*b = cut
	} else {
		*a = cut
	}
	return a.t < b.t
}

// piece is the piece of the leg that a ray meets.
func (w *fan) piece(t float64) int {
	i := sort.SearchFloat64s(w.t, t)
	return min(max(i-1, 0), len(w.t)-2)
}
