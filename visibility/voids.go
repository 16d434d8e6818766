package visibility

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
