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

// piece is one straight stretch of the envelope, from (t0, u0) to (t1, u1).
// It fills a cache line.
type piece struct {
	t0, u0, t1, u1 float64
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
			e.merge(b, piece{a, ua, end, uEnd, l})
		}
		a, ua = end, uEnd
	}
}

// merge puts one piece, which lies inside bin b, into it: one pass over the
// pieces it meets, and none is written where the new one is nowhere above.
func (e *envelope) merge(b int, n piece) {
	old := e.bins[b]
	if len(old) == 1 && n.t0 <= old[0].t0 && n.t1 >= old[0].t1 &&
		n.at(old[0].t0) >= old[0].u0 && n.at(old[0].t1) >= old[0].u1 {
		// rising ground close by: one piece spans the bin and takes another's place
		old[0] = n
		e.low[b] = e.floor(b)
		return
	}
	// pieces that end before the new one starts, and then those that stand
	// over it as far as they go together, stay as they are
	k := 0
	for k < len(old) && old[k].t1 <= n.t0 {
		k++
	}
	at, uAt := n.t0, n.u0 // how far along the new piece we are
	for ; k < len(old); k++ {
		p := &old[k]
		if p.t0 > at {
			break // a gap: the new one shows through
		}
		end, uEnd, pEnd := together(p, &n)
		if uAt > p.from(at) || uEnd > pEnd {
			break
		}
		if end == n.t1 {
			return
		}
		at, uAt = end, uEnd
	}
	if at >= n.t1 {
		return
	}
	out := e.scratch[:0]
	m := k
	for ; m < len(old) && old[m].t0 < n.t1; m++ {
		p := &old[m]
		switch {
		case p.t0 < at: // what lies before the new piece
			out = extend(out, p.t0, p.u0, at, p.at(at), &p.line)
		case p.t0 > at: // a gap
			u := n.at(p.t0)
			out = extend(out, at, uAt, p.t0, u, &n.line)
			at, uAt = p.t0, u
		}
		end, uEnd, pEnd := together(p, &n)
		pAt := p.from(at)
		d0, d1 := uAt-pAt, uEnd-pEnd
		switch {
		case d0 <= 0 && d1 <= 0:
			out = extend(out, at, pAt, end, pEnd, &p.line)
		case d0 >= 0 && d1 >= 0:
			out = extend(out, at, uAt, end, uEnd, &n.line)
		default:
			cross := max(at, min(at+(end-at)*(d0/(d0-d1)), end))
			if d0 > 0 {
				out = extend(out, at, uAt, cross, n.at(cross), &n.line)
				out = extend(out, cross, p.at(cross), end, pEnd, &p.line)
			} else {
				out = extend(out, at, pAt, cross, p.at(cross), &p.line)
				out = extend(out, cross, n.at(cross), end, uEnd, &n.line)
			}
		}
		at, uAt = end, uEnd
		if end < p.t1 { // what lies beyond it
			out = extend(out, end, pEnd, p.t1, p.u1, &p.line)
		}
	}
	if at < n.t1 {
		out = extend(out, at, uAt, n.t1, n.u1, &n.line)
	}
	e.scratch = out
	// put out in the place of old[k:m]
	tail := len(old) - m
	for len(old) < k+len(out)+tail {
		old = append(old, piece{})
	}
	if len(out) != m-k {
		copy(old[k+len(out):], old[m:m+tail])
	}
	copy(old[k:], out)
	e.bins[b] = old[:k+len(out)+tail]
	e.low[b] = e.floor(b)
}

// together is where two pieces that overlap part, and their heights there.
func together(p, n *piece) (end, uN, uP float64) {
	switch {
	case p.t1 < n.t1:
		return p.t1, n.at(p.t1), p.u1
	case p.t1 > n.t1:
		return n.t1, n.u1, p.at(n.t1)
	}
	return p.t1, n.u1, p.u1
}

// from is the piece's height at its start or a place after it.
func (p *piece) from(t float64) float64 {
	if t == p.t0 {
		return p.u0
	}
	return p.at(t)
}

// extend adds a stretch of a line to a list of pieces, or to its last one
// when that is the same line going on.
func extend(out []piece, t0, u0, t1, u1 float64, l *line) []piece {
	if !(t0 < t1) {
		return out
	}
	if m := len(out); m > 0 && out[m-1].t1 == t0 && out[m-1].edge == l.edge && out[m-1].slope == l.slope {
		out[m-1].t1, out[m-1].u1 = t1, u1
		return out
	}
	return append(out, piece{t0, u0, t1, u1, *l})
}

// floor is the lowest value in a bin, -Inf if any of it has no ground.
func (e *envelope) floor(b int) float64 {
	lo, hi := e.lo+float64(b)*e.width, e.lo+float64(b+1)*e.width
	if b == len(e.bins)-1 {
		hi = e.hi
	}
	least, at := math.Inf(1), lo
	pieces := e.bins[b]
	for i := range pieces {
		p := &pieces[i]
		if p.t0 > at {
			return noGround
		}
		if p.u0 < least {
			least = p.u0
		}
		if p.u1 < least {
			least = p.u1
		}
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
	return t < e.from || t > e.to || e.inVoid(t)
}

func (e *envelope) inVoid(t float64) bool {
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
