package visibility

import (
	"cmp"
	"math"
	"slices"
)

// branch is a node of a binary tree over the pieces of a leg.
type branch struct {
	lowest          float64 // u of the eye in any piece
	hidden, unknown bool    // all of it
}

// plant makes the tree.
func (w *fan) plant(node, from, to int) float64 {
	b := &w.tree[node]
	if to-from == 1 {
		b.lowest = min(w.u[from], w.u[to])
		if math.IsNaN(b.lowest) { // unknown whatever stands before it
			b.lowest, b.hidden, b.unknown = math.Inf(1), true, true
		}
		return b.lowest
	}
	middle := (from + to) / 2
	b.lowest = min(w.plant(2*node, from, middle), w.plant(2*node+1, middle, to))
	b.hidden = w.tree[2*node].hidden && w.tree[2*node+1].hidden
	b.unknown = b.hidden
	return b.lowest
}

// shade hides the pieces from one to another of the leg that an edge is over.
func (w *fan) shade(node, from, to int, a, b *end) {
	n := &w.tree[node]
	lo, hi := max(a.t, w.t[from]), min(b.t, w.t[to])
	if n.hidden || lo >= hi {
		return
	}
	l, r := partWay(a, b, lo), partWay(a, b, hi)
	if max(l.u, r.u) <= n.lowest {
		return
	}
	if to-from == 1 {
		eye := func(t float64) float64 {
			f := (t - w.t[from]) / (w.t[to] - w.t[from])
			return w.u[from] + f*(w.u[to]-w.u[from]) + GrazingSlope*math.Sqrt(1+t*t)
		}
		ol, or := l.u-eye(lo), r.u-eye(hi)
		switch {
		case ol <= 0 && or <= 0:
			return
		case ol <= 0:
			lo += (hi - lo) * ol / (ol - or)
		case or <= 0:
			hi = lo + (hi-lo)*ol/(ol-or)
		}
		n.hidden = w.mark(&w.hid[from], from, lo, hi)
		return
	}
	middle := (from + to) / 2
	w.shade(2*node, from, middle, a, b)
	w.shade(2*node+1, middle, to, a, b)
	n.hidden = w.tree[2*node].hidden && w.tree[2*node+1].hidden
}

// cover leaves the pieces that lie behind a void unknown.
func (w *fan) cover(node, from, to int, a, b *end) {
	n := &w.tree[node]
	lo, hi := max(a.t, w.t[from]), min(b.t, w.t[to])
	if n.unknown || lo >= hi {
		return
	}
	if to-from == 1 {
		n.unknown = w.mark(&w.gaps[from], from, lo, hi)
		return
	}
	middle := (from + to) / 2
	w.cover(2*node, from, middle, a, b)
	w.cover(2*node+1, middle, to, a, b)
	n.unknown = w.tree[2*node].unknown && w.tree[2*node+1].unknown
}

// mark adds a part of a piece, from ray to ray, to those marked of it, and
// reports whether it is all of it.
func (w *fan) mark(parts *[][2]float64, piece int, lo, hi float64) bool {
	share := func(t float64) float64 {
		if t <= w.t[piece] {
			return 0
		}
		if t >= w.t[piece+1] {
			return 1
		}
		dx, dy := w.x[piece+1]-w.x[piece], w.y[piece+1]-w.y[piece]
		return min(1, max(0, (t*w.x[piece]-w.y[piece])/(dy-t*dx)))
	}
	from, to := share(lo), share(hi)
	if from <= 0 && to >= 1 {
		*parts = append((*parts)[:0], [2]float64{0, 1})
		return true
	}
	*parts = append(*parts, [2]float64{from, to})
	if len(*parts) >= 8 { // keep few
		*parts = joined(*parts)
	}
	return len(*parts) == 1 && (*parts)[0] == [2]float64{0, 1}
}

// joined puts parts in order and joins those that touch.
func joined(parts [][2]float64) [][2]float64 {
	slices.SortFunc(parts, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
	out := parts[:0]
	for _, p := range parts {
		if n := len(out); n > 0 && p[0] <= out[n-1][1] {
			out[n-1][1] = max(out[n-1][1], p[1])
			continue
		}
		out = append(out, p)
	}
	return out
}

// stretches are the verdicts along the leg.
func (w *fan) stretches() []Stretch {
	var s stretcher
	for i := range w.hid {
		a, b := w.leg.Points[i].Distance, w.leg.Points[i+1].Distance
		if math.IsNaN(w.u[i]) || math.IsNaN(w.u[i+1]) {
			s.add(Stretch{a, b, Unknown})
			continue
		}
		if n := len(s.out); w.t[i] >= w.t[i+1] { // in one line with the mark, as near as rounding tells
			if n > 0 {
				s.add(Stretch{a, b, s.out[n-1].Verdict})
			}
			continue
		}
		at := 0.0
		place := func(share float64) float64 {
			if share >= 1 {
				return b
			}
			return a + share*(b-a)
		}
		open := func(to float64) { // neither hidden nor yet said to be unknown
			for _, g := range joined(w.gaps[i]) {
				from, until := max(at, g[0]), min(to, g[1])
				if from < until {
					s.add(Stretch{place(at), place(from), Visible})
					s.add(Stretch{place(from), place(until), Unknown})
					at = until
				}
			}
			s.add(Stretch{place(at), place(to), Visible})
			at = to
		}
		for _, h := range joined(w.hid[i]) {
			open(h[0])
			s.add(Stretch{place(at), place(h[1]), Hidden})
			at = h[1]
		}
		open(1)
	}
	if len(s.out) > 0 {
		s.out[0].From = 0
	}
	return s.out
}

// stretcher joins stretches that follow each other; what is no longer than
// rounding goes with the one before.
type stretcher struct{ out []Stretch }

func (s *stretcher) add(p Stretch) {
	n := len(s.out)
	switch {
	case !(p.To > p.From):
	case n > 0 && (s.out[n-1].Verdict == p.Verdict || p.To-p.From < sliver):
		s.out[n-1].To = p.To
	case n > 0 && s.out[n-1].To-s.out[n-1].From < sliver: // only the first can be
		s.out[n-1].Verdict, s.out[n-1].To = p.Verdict, p.To
	default:
		s.out = append(s.out, p)
	}
}
