package chain

import (
	"cmp"
	"math"
	"slices"

	"crowline/dem"
)

// findStature finds the height that each vertex can be known by: the
// difference, metres, of the highest and the lowest ground of the line within
// StandWithin of it, on its side of any gap in the data.
func (l *course) findStature() {
	l.stature = make([]float64, len(l.elevation))
	for m, h := range l.elevation {
		low, high := h, h
		for _, step := range []int{-1, 1} {
			for i := m; ; i += step {
				j := i + step
				if j < 0 || j == len(l.elevation) || math.IsNaN(l.elevation[j]) {
					break
				}
				g, away := l.elevation[j], math.Abs(l.distance[j]-l.distance[m])
				if away > StandWithin {
					near := math.Abs(l.distance[i] - l.distance[m])
					g = dem.Lerp(l.elevation[i], g, (StandWithin-near)/(away-near))
				}
				low, high = min(low, g), max(high, g)
				if away >= StandWithin {
					break
				}
			}
		}
		l.stature[m] = high - low
	}
}

// standsFrom is the distance along the line from which on vertex m, ahead,
// stands up: nearer than that its height looks LeastLook or more. +Inf where
// it is under the least relief, or its ground is not known.
func (l *course) standsFrom(m int) float64 {
	if !(l.stature[m] >= l.opts.LeastRelief) {
		return math.Inf(1)
	}
	return l.distance[m] - l.stature[m]/LeastLook.Tan()
}

// plainShare is the share of a stretch of the leg from which ground far
// enough ahead is seen that does not stand up.
func (l *course) plainShare(from, to float64) float64 {
	slices.SortFunc(l.plain, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
	sum, at := 0.0, from
	for _, s := range l.plain {
		if a, b := max(s[0], at), min(s[1], to); a < b {
			sum, at = sum+b-a, b
		}
	}
	return sum / (to - from)
}
