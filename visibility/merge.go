package visibility

import "math"

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
