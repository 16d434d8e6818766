package gdalio

import "math"

// span is a line's points within a batch.
type span struct{ line, from, to int }

func (b *lineBatch) lines() []span {
	out := make([]span, len(b.points))
	at := 0
	for i, n := range b.points {
		out[i] = span{i, at, at + int(n)}
		at += int(n)
	}
	return out
}

// overAntimeridian reports whether a line leaves [-180, 180] or steps over
// half a turn, which a contour or a track does only across the antimeridian.
func (b *lineBatch) overAntimeridian(s span) bool {
	for i := s.from; i < s.to; i++ {
		if math.Abs(b.x[i]) > 180 || (i > s.from && math.Abs(b.x[i]-b.x[i-1]) > 180) {
			return true
		}
	}
	return false
}

// partAtAntimeridian makes the batch anew with every line within
// [-180, 180].
func (b *lineBatch) partAtAntimeridian() {
	old := *b
	b.points, b.x, b.y, b.z, b.numbers, b.offsets = nil, nil, nil, nil, nil, nil
	for _, s := range old.lines() {
		for _, part := range partLine(old.x[s.from:s.to], old.y[s.from:s.to]) {
			b.points = append(b.points, int32(len(part)))
			for _, p := range part {
				b.x, b.y = append(b.x, p[0]), append(b.y, p[1])
				if len(old.z) > 0 {
					b.z = append(b.z, old.z[s.from])
				}
			}
			v := s.line * b.fields
			b.numbers = append(b.numbers, old.numbers[v:v+b.fields]...)
			b.offsets = append(b.offsets, old.offsets[v:v+b.fields]...)
		}
	}
}

// partLine cuts a line where it crosses a meridian of 180 degrees and brings
// each part into [-180, 180]. x may run on past 180 or jump by whole turns.
// A closed line that is cut is joined at its own ends.
func partLine(x, y []float64) [][][2]float64 {
	// turn numbers the range [-180, 180] + 360 k that a step begins in; a
	// point on a border belongs to the range its neighbour is in.
	turn := func(x float64) float64 { return math.Floor((x + 180) / 360) }
	type point = [2]float64
	var parts [][]point
	var part []point
	end := func() {
		if len(part) > 1 {
			parts = append(parts, part)
		}
		part = nil
	}
	add := func(p point) {
		if n := len(part); n == 0 || part[n-1] != p {
			part = append(part, p)
		}
	}
	last := x[0] // unrolled, so that no step is over half a turn
	here := 0.0  // the range the part is in
	for i := 1; i < len(x); i++ {
		next := last + math.Remainder(x[i]-last, 360)
		low, high := min(last, next), max(last, next)
		k := turn((low + high) / 2)
		if low == high && len(part) > 0 {
			k = here // a step along a border stays on its side
		}
		border := math.Inf(1)
		for _, candidate := range []float64{360*k - 180, 360*k + 180} {
			if low < candidate && candidate < high {
				border = candidate
			}
		}
		if math.IsInf(border, 1) {
			if len(part) > 0 && k != here {
				end() // the last point stood on the border, and this step is beyond it
			}
			add(point{last - 360*k, y[i-1]})
			add(point{next - 360*k, y[i]})
			here = k
		} else {
			from, to := turn(low), turn(low)+1
			if next < last {
				from, to = to, from
			}
			crossing := y[i-1] + (border-last)/(next-last)*(y[i]-y[i-1])
			add(point{last - 360*from, y[i-1]})
			add(point{border - 360*from, crossing})
			end()
			add(point{border - 360*to, crossing})
			add(point{next - 360*to, y[i]})
			here = to
		}
		last = next
	}
	end()
	// A closed line was cut somewhere, and its first and last parts meet.
	n := len(x) - 1
	if m := len(parts); m > 1 && math.Remainder(x[n]-x[0], 360) == 0 && y[n] == y[0] {
		first, final := parts[0], parts[m-1]
		if final[len(final)-1] == first[0] {
			parts[0] = append(final, first[1:]...)
			parts = parts[:m-1]
		}
	}
	return parts
}
