package visibility

import "math"

// envelope is the ground met so far, as it stands before the eye, over a
// range of t (minor coordinate over major) of one wedge: at every t the
// highest u (height from the eye over major coordinate) of all edges added.
//
// Perspective keeps straight lines straight, so it is made of straight
// pieces. They are kept in equal bins of t, cut at the bins' borders: a run
// of edges touches only the bins it spans, a look-up one bin, and the lowest
// value in each bin turns most ground away without looking at a piece. There
// are few bins while the ground is near, where an edge spans much of the
// range, and more farther out (grow).
//
// Edges come in runs, from low t to high, each merged in one pass: collect
// takes an edge, flush merges what was collected.
//
// It also keeps, bin by bin, the t at which a line has met a void, and the
// limits beyond which it has left the data.
type envelope struct {
	lo, hi  float64 // the range of t
	scale   float64 // bins per unit of t
	width   float64 // of a bin
	bins    [][]piece
	low     []float64 // lowest u in each bin, -Inf while not all of it has ground
	pending []piece   // collected and not yet merged, in order, none over another
	scratch []piece

	from, to  float64 // lines outside have left the data
	voids     [][]span
	voidScale float64 // void bins per unit of t
	anyVoid   bool
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

// reset empties the envelope for a range of t, with room for most bins; it
// begins with least. Both are powers of two, so that borders are exact.
func (e *envelope) reset(lo, hi float64, least, most int) {
	e.lo, e.hi = lo, hi
	e.from, e.to = lo, hi
	if len(e.voids) != most {
		e.bins, e.low, e.voids = make([][]piece, most), make([]float64, most), make([][]span, most)
	}
	e.bins, e.low = e.bins[:most], e.low[:most]
	for i := range most {
		e.bins[i] = e.bins[i][:0]
		e.voids[i] = e.voids[i][:0]
		e.low[i] = noGround
	}
	e.voidScale = float64(most) / (hi - lo)
	e.anyVoid = false
	e.pending = e.pending[:0]
	e.divide(least)
}

// divide sets the number of bins.
func (e *envelope) divide(n int) {
	e.bins, e.low = e.bins[:n], e.low[:n]
	e.width = (e.hi - e.lo) / float64(n)
	e.scale = 1 / e.width
}

// grow parts every bin in two until there are n of them, or as many as there
// is room for. Nothing may be pending.
func (e *envelope) grow(n int) {
	for len(e.bins) < min(n, len(e.voids)) {
		have := len(e.bins)
		e.divide(2 * have)
		for i := have - 1; i >= 0; i-- { // from the top, so that none is overwritten
			border := e.lo + float64(2*i+1)*e.width
			pieces := e.bins[i]
			k := 0
			for k < len(pieces) && pieces[k].t1 <= border {
				k++
			}
			upper := append(e.bins[2*i+1][:0], pieces[k:]...)
			if k < len(pieces) && pieces[k].t0 < border {
				u := pieces[k].at(border)
				upper[0].t0, upper[0].u0 = border, u
				pieces[k].t1, pieces[k].u1 = border, u
				k++
			}
			e.bins[2*i+1] = upper
			e.bins[i], e.bins[2*i] = e.bins[2*i], pieces[:k]
			e.low[2*i], e.low[2*i+1] = e.floor(2*i), e.floor(2*i+1)
		}
	}
}

// bin is the bin of a t inside the range.
func (e *envelope) bin(t float64) int {
	b := int((t - e.lo) * e.scale)
	return max(0, min(b, len(e.bins)-1))
}

// look is the bin a look-up at t goes to, and t there: a t so little below a
// border that its distance from lo rounds to the border's belongs to the
// next bin, which begins at the border.
func (e *envelope) look(t float64) (pieces []piece, at float64) {
	b := e.bin(t)
	return e.bins[b], max(t, e.lo+float64(b)*e.width)
}

// envelopeReader reads an envelope at one t after another, fastest where each
// is a little beyond the last. The envelope must not change meanwhile.
type envelopeReader struct {
	pieces []piece
	k      int
	bin    int
	last   float64
}

// at is the envelope's value; -Inf where no ground has been met.
func (r *envelopeReader) at(e *envelope, t float64) float64 {
	if b := e.bin(t); b != r.bin || r.pieces == nil || t < r.last {
		r.bin, r.pieces, r.k = b, e.bins[b], 0
	}
	r.last = t
	if start := e.lo + float64(r.bin)*e.width; t < start {
		t = start // as look has it
	}
	pieces, k := r.pieces, r.k
	for k < len(pieces) && pieces[k].t1 < t {
		k++
	}
	r.k = k
	if k == len(pieces) || pieces[k].t0 > t {
		return noGround
	}
	best := pieces[k].at(t)
	for k++; k < len(pieces) && pieces[k].t0 == t; k++ { // where two meet
		best = max(best, pieces[k].at(t))
	}
	return best
}

// top is the piece that gives the value at t, nil where there is none.
func (e *envelope) top(t float64) *piece {
	var best *piece
	pieces, t := e.look(t)
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

// add merges one straight edge in. See collect.
func (e *envelope) add(t0, u0, t1, u1 float64, edge int64) {
	e.collect(t0, u0, t1, u1, edge)
	e.flush()
}

// collect takes a straight edge, to be merged by flush. Its ends may come in
// either order and reach outside the range; an edge of no width in t adds
// nothing, for the edges that meet it at its ends hold all that it does.
func (e *envelope) collect(t0, u0, t1, u1 float64, edge int64) {
	if t0 > t1 {
		t0, u0, t1, u1 = t1, u1, t0, u0
	}
	a, z := max(t0, e.from), min(t1, e.to)
	if !(a < z) {
		return
	}
	n := len(e.pending)
	if n > 0 && a < e.pending[n-1].t1 { // not in order
		e.flush()
		n = 0
	}
	if n == cap(e.pending) {
		e.pending = append(e.pending, piece{})
	}
	e.pending = e.pending[:n+1]
	p := &e.pending[n]
	p.t0, p.u0, p.t1, p.u1 = a, u0, z, u1
	p.line = line{t: t0, u: u0, slope: (u1 - u0) / (t1 - t0), edge: edge}
	if math.Abs(u1) < math.Abs(u0) {
		p.line.t, p.line.u = t1, u1
	}
	if a != t0 {
		p.u0 = p.at(a)
	}
	if z != t1 {
		p.u1 = p.at(z)
	}
}

// flush merges what was collected, bin by bin.
func (e *envelope) flush() {
	for j, n := 0, len(e.pending); j < n; {
		b := e.bin(e.pending[j].t0)
		border := math.Inf(1)
		if b < len(e.bins)-1 {
			border = e.lo + float64(b+1)*e.width
		}
		k, low, clear := j, e.low[b], false
		for k < n && e.pending[k].t1 <= border {
			clear = clear || e.pending[k].u0 > low || e.pending[k].u1 > low
			k++
		}
		if k == n || e.pending[k].t0 >= border {
			if clear {
				e.merge(b, e.pending[j:k])
			}
			j = k
			continue
		}
		// the last one goes on into the next bin
		p := &e.pending[k]
		end, uEnd, u := p.t1, p.u1, p.at(border)
		p.t1, p.u1 = border, u
		if clear || p.u0 > low || u > low {
			e.merge(b, e.pending[j:k+1])
		}
		p.t0, p.u0, p.t1, p.u1 = border, u, end, uEnd
		j = k
	}
	e.pending = e.pending[:0]
}

// merge puts pieces that lie inside bin b, in order and none over another,
// into it, in one pass over them and the pieces they meet.
func (e *envelope) merge(b int, more []piece) {
	old := e.bins[b]
	if len(old) == 0 {
		e.bins[b] = append(old, more...)
		e.low[b] = e.floor(b)
		return
	}
	if need := 3*(len(old)+len(more)) + 1; cap(e.scratch) < need {
		e.scratch = make([]piece, 2*need)
	}
	out := e.scratch[:cap(e.scratch)]
	count := 0
	first := 0
	for first < len(old) && old[first].t1 <= more[0].t0 {
		first++
	}
	// where we are in the old and the new piece
	k, j := first, 0
	var pt, pu, nt, nu float64
	if k < len(old) {
		pt, pu = old[k].t0, old[k].u0
	}
	nt, nu = more[0].t0, more[0].u0
	for k < len(old) && j < len(more) {
		p, n := &old[k], &more[j]
		switch {
		case p.t1 <= nt: // the old one alone
			count = emit(out, count, pt, pu, p.t1, p.u1, &p.line)
			if k++; k < len(old) {
				pt, pu = old[k].t0, old[k].u0
			}
			continue
		case n.t1 <= pt: // the new one alone
			count = emit(out, count, nt, nu, n.t1, n.u1, &n.line)
			if j++; j < len(more) {
				nt, nu = more[j].t0, more[j].u0
			}
			continue
		case pt < nt:
			u := p.at(nt)
			count = emit(out, count, pt, pu, nt, u, &p.line)
			pt, pu = nt, u
		case nt < pt:
			u := n.at(pt)
			count = emit(out, count, nt, nu, pt, u, &n.line)
			nt, nu = pt, u
		}
		end, uN, uP := together(p, n)
		d0, d1 := nu-pu, uN-uP
		switch {
		case d0 <= 0 && d1 <= 0:
			count = emit(out, count, pt, pu, end, uP, &p.line)
		case d0 >= 0 && d1 >= 0:
			count = emit(out, count, nt, nu, end, uN, &n.line)
		default:
			cross := pt + (end-pt)*(d0/(d0-d1))
			if cross > end { // by rounding
				cross = end
			}
			if d0 > 0 {
				count = emit(out, count, nt, nu, cross, n.at(cross), &n.line)
				count = emit(out, count, cross, p.at(cross), end, uP, &p.line)
			} else {
				count = emit(out, count, pt, pu, cross, p.at(cross), &p.line)
				count = emit(out, count, cross, n.at(cross), end, uN, &n.line)
			}
		}
		if end == p.t1 {
			if k++; k < len(old) {
				pt, pu = old[k].t0, old[k].u0
			}
		} else {
			pt, pu = end, uP
		}
		if end == n.t1 {
			if j++; j < len(more) {
				nt, nu = more[j].t0, more[j].u0
			}
		} else {
			nt, nu = end, uN
		}
	}
	// what is left of one of them
	if k < len(old) && pt > old[k].t0 {
		count = emit(out, count, pt, pu, old[k].t1, old[k].u1, &old[k].line)
		k++
	}
	for ; j < len(more); j++ {
		count = emit(out, count, nt, nu, more[j].t1, more[j].u1, &more[j].line)
		if j+1 < len(more) {
			nt, nu = more[j+1].t0, more[j+1].u0
		}
	}
	// put them in the place of old[first:k]
	tail := len(old) - k
	size := first + count + tail
	if size > cap(old) {
		grown := make([]piece, size, size+size/2+2)
		copy(grown, old[:first])
		copy(grown[first+count:], old[k:])
		old = grown
	} else {
		full := old[:size]
		if tail > 0 && count != k-first {
			copy(full[first+count:], old[k:k+tail])
		}
		old = full
	}
	copy(old[first:], out[:count])
	e.bins[b] = old
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

// emit writes a stretch of a line to out[count], or makes the last one
// longer when that is the same line going on, and gives the new count.
func emit(out []piece, count int, t0, u0, t1, u1 float64, l *line) int {
	if !(t0 < t1) {
		return count
	}
	if count > 0 {
		if last := &out[count-1]; last.t1 == t0 && last.edge == l.edge && last.slope == l.slope {
			last.t1, last.u1 = t1, u1
			return count
		}
	}
	o := &out[count]
	o.t0, o.u0, o.t1, o.u1, o.line = t0, u0, t1, u1, *l
	return count + 1
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
	first, last := e.voidBin(a), e.voidBin(z)
	for b := first; b <= last; b++ {
		s := span{a, z}
		if b > first {
			s.t0 = e.lo + float64(b)/e.voidScale
		}
		if b < last {
			s.t1 = e.lo + float64(b+1)/e.voidScale
		}
		e.voids[b] = union(e.voids[b], s)
	}
}

// voidBin is the bin of a t for voids, of which there are always as many.
func (e *envelope) voidBin(t float64) int {
	return max(0, min(int((t-e.lo)*e.voidScale), len(e.voids)-1))
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
	b := e.voidBin(t)
	t = max(t, e.lo+float64(b)/e.voidScale) // as look has it
	for _, s := range e.voids[b] {
		if s.t0 <= t && t <= s.t1 {
			return true
		}
	}
	return false
}
