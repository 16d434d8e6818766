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
