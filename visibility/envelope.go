package visibility

import "math"

// envelope is the ground met so far, as it stands before the eye, over a
// range of t (minor coordinate over major) of one wedge: at every t the
// highest u (height from the eye over major coordinate) of all edges added.
//
// Perspective keeps straight lines straight, so it is made of straight
// pieces. They are kept in equal bins of t, cut at the bins' borders: adding
// an edge touches only the bins it spans, a look-up one bin, and the lowest
// value in each bin turns most ground away without looking at a piece.
//
// It also keeps, bin by bin, the t at which a line has met a void, and the
// limits beyond which it has left the data.
type envelope struct {
	lo, hi  float64 // the range of t
	scale   float64 // bins per unit of t
	width   float64 // of a bin
	bins    [][]piece
	low     []float64 // lowest u in each bin, -Inf while not all of it has ground
	scratch []piece

	from, to float64 // lines outside have left the data
	voids    [][]span
	anyVoid  bool
}

// piece is one straight stretch of the envelope, from t0 to t1.
type piece struct {
	t0, t1 float64
	line
}

// line is an edge's line of sight heights: u at a t, and how it changes.
type line struct {
	t, u  float64 // of the lower end by absolute value, which rounds least
	slope float64 // of u in t
	edge  int64   // the edge of the ground that made it
}

func (l *line) at(t float64) float64 { return l.u + l.slope*(t-l.t) }

type span struct{ t0, t1 float64 }

var noGround = math.Inf(-1)

func (e *envelope) reset(lo, hi float64, bins int) {
	e.lo, e.hi = lo, hi
	e.width = (hi - lo) / float64(bins)
	e.scale = 1 / e.width
	e.from, e.to = lo, hi
	if len(e.bins) != bins {
		e.bins, e.low, e.voids = make([][]piece, bins), make([]float64, bins), make([][]span, bins)
	}
	for i := range e.bins {
		e.bins[i] = e.bins[i][:0]
		e.voids[i] = e.voids[i][:0]
		e.low[i] = noGround
	}
	e.anyVoid = false
}

// bin is the bin of a t inside the range.
func (e *envelope) bin(t float64) int {
	b := int((t - e.lo) * e.scale)
	return max(0, min(b, len(e.bins)-1))
}

// at is the envelope's value; -Inf where no ground has been met.
func (e *envelope) at(t float64) float64 {
	best := noGround
	pieces := e.bins[e.bin(t)]
	for i := range pieces {
		p := &pieces[i]
		if p.t0 > t {
			break
		}
		if p.t1 >= t {
			best = max(best, p.at(t))
		}
	}
	return best
}

// top is the piece that gives the value at t, nil where there is none.
func (e *envelope) top(t float64) *piece {
	var best *piece
	pieces := e.bins[e.bin(t)]
	for i := range pieces {
		p := &pieces[i]
		if p.t0 <= t && t <= p.t1 && (best == nil || p.at(t) > best.at(t)) {
			best = p
		}
	}
	return best
}

// lowest is the least value the envelope has anywhere from t0 to t1, not
// counting what lies outside its range.
func (e *envelope) lowest(t0, t1 float64) float64 {
	least := math.Inf(1)
	for _, v := range e.low[e.bin(max(t0, e.lo)) : e.bin(min(t1, e.hi))+1] {
		if v < least {
			least = v
		}
	}
	return least
}

// add merges a straight edge in. Its ends may come in either order and reach
// outside the range; an edge of no width in t adds nothing, for the edges
// that meet it at its ends hold all that it does.
func (e *envelope) add(t0, u0, t1, u1 float64, edge int64) {
	if t0 > t1 {
		t0, u0, t1, u1 = t1, u1, t0, u0
	}
	l := line{t: t0, u: u0, slope: (u1 - u0) / (t1 - t0), edge: edge}
	if math.Abs(u1) < math.Abs(u0) {
		l.t, l.u = t1, u1
	}
	a, z := max(t0, e.from), min(t1, e.to)
	if !(a < z) {
		return
	}
	ua := l.at(a)
	first, last := e.bin(a), e.bin(z)
	for b := first; b <= last; b++ {
		// the stretch of the edge in this bin
		end := z
		if b < last {
			end = e.lo + float64(b+1)*e.width
		}
		uEnd := l.at(end)
		if a < end && (ua > e.low[b] || uEnd > e.low[b]) {
			e.merge(b, piece{a, end, l})
		}
		a, ua = end, uEnd
	}
}

// merge puts one piece, which lies inside bin b, into it: one pass over the
// bin's pieces, and none is written where the new one is nowhere above.
func (e *envelope) merge(b int, n piece) {
	old := e.bins[b]
	// before i every piece ends at or before the new one starts
	i := 0
	for i < len(old) && old[i].t1 <= n.t0 {
		i++
	}
	// pieces that hold their own over all they share with the new one stay
	k, at := i, n.t0
	for k < len(old) && at < n.t1 {
		p := &old[k]
		if p.t0 > at {
			break // a gap: the new one shows through
		}
		end := min(p.t1, n.t1)
		if n.at(at) > p.at(at) || n.at(end) > p.at(end) {
			break
		}
		at = end
		k++
	}
	if at >= n.t1 {
		return
	}
	out := e.scratch[:0]
	out = append(out, old[:k]...)
	put := func(p *piece, from, to float64) {
		if !(from < to) {
			return
		}
		if m := len(out); m > 0 && out[m-1].t1 == from && out[m-1].line == p.line {
			out[m-1].t1 = to
			return
		}
		out = append(out, piece{from, to, p.line})
	}
	for ; k < len(old); k++ {
		p := &old[k]
		put(p, p.t0, min(p.t1, at)) // what lies before the new piece
		if p.t0 > at {              // a gap
			end := min(p.t0, n.t1)
			put(&n, at, end)
			at = max(at, end)
		}
		if at >= n.t1 {
			put(p, max(p.t0, at), p.t1)
			continue
		}
		end := min(p.t1, n.t1)
		d0, d1 := n.at(at)-p.at(at), n.at(end)-p.at(end)
		switch {
		case d0 <= 0 && d1 <= 0:
			put(p, at, end)
		case d0 >= 0 && d1 >= 0:
			put(&n, at, end)
		default:
			cross := at + (end-at)*(d0/(d0-d1))
			cross = max(at, min(cross, end))
			if d0 > 0 {
				put(&n, at, cross)
				put(p, cross, end)
			} else {
				put(p, at, cross)
				put(&n, cross, end)
			}
		}
		at = end
		put(p, end, p.t1) // what lies beyond it
	}
	put(&n, at, n.t1)
	e.scratch = out
	e.bins[b] = append(old[:0], out...)
	e.low[b] = e.floor(b)
}

// floor is the lowest value in a bin, -Inf if any of it has no ground.
func (e *envelope) floor(b int) float64 {
	lo, hi := e.lo+float64(b)*e.width, e.lo+float64(b+1)*e.width
	if b == len(e.bins)-1 {
		hi = e.hi
	}
	least, at := math.Inf(1), lo
	for i := range e.bins[b] {
		p := &e.bins[b][i]
		if p.t0 > at {
			return noGround
		}
		least = min(least, p.at(p.t0), p.at(p.t1))
		at = p.t1
	}
	if at < hi {
		return noGround
	}
	return least
}

// addVoid marks the lines of a stretch as having met a void.
func (e *envelope) addVoid(t0, t1 float64) {
	if t0 > t1 {
		t0, t1 = t1, t0
	}
	a, z := max(t0, e.from), min(t1, e.to)
	if !(a <= z) {
		return
	}
	e.anyVoid = true
	first, last := e.bin(a), e.bin(z)
	for b := first; b <= last; b++ {
		s := span{a, z}
		if b > first {
			s.t0 = e.lo + float64(b)*e.width
		}
		if b < last {
			s.t1 = e.lo + float64(b+1)*e.width
		}
		e.voids[b] = union(e.voids[b], s)
	}
}

// union adds a span to a sorted list of spans that do not touch.
func union(list []span, s span) []span {
	i := 0
	for i < len(list) && list[i].t1 < s.t0 {
		i++
	}
	k := i
	for k < len(list) && list[k].t0 <= s.t1 {
		s.t0, s.t1 = min(s.t0, list[k].t0), max(s.t1, list[k].t1)
		k++
	}
	if k == i {
		list = append(list, span{})
		copy(list[i+1:], list[i:])
		list[i] = s
		return list
	}
	list[i] = s
	return append(list[:i+1], list[k:]...)
}

// unknown reports whether a line has met a void or left the data.
func (e *envelope) unknown(t float64) bool {
	if t < e.from || t > e.to {
		return true
	}
	if !e.anyVoid {
		return false
	}
	for _, s := range e.voids[e.bin(t)] {
		if s.t0 <= t && t <= s.t1 {
			return true
		}
	}
	return false
}
