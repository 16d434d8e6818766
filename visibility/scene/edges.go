package scene

import (
	"cmp"
	"math"
	"slices"

	"crowline/dem/geodesy"
)

// EdgePoint is one bearing of an edge within a view.
type EdgePoint struct {
	Bearing geodesy.TrueBearing
	// Angle above the horizontal.
	Angle geodesy.Degrees
	// Distance along the ground, metres.
	Distance float64
}

// Edges are the upper edges of nearer ground before farther ground, as they would
// be drawn on the skyline: none of them against the sky, each of at least three
// neighbouring bearings that stand clear of what is behind, by a tenth of the
// distance. The farthest come first, so that what is nearer is drawn over it.
func (v *View) Edges() [][]EdgePoint {
	const clear, least = 1.1, 3
	var out [][]EdgePoint
	for _, line := range v.outlines() {
		var edge []EdgePoint
		done := func() {
			if len(edge) >= least {
				out = append(out, edge)
			}
			edge = nil
		}
		for _, s := range line {
			if s.crest.sky() || !s.crest.parted(clear) {
				done()
				continue
			}
			edge = append(edge, EdgePoint{v.bearing(s.ray % v.count), geodesy.Degrees(math.Atan(s.crest.slope) * 180 / math.Pi), s.crest.distance})
		}
		done()
	}
	middle := func(e []EdgePoint) float64 { return e[len(e)/2].Distance }
	slices.SortStableFunc(out, func(a, b []EdgePoint) int { return cmp.Compare(middle(b), middle(a)) })
	return out
}
