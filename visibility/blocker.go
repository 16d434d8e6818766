package visibility

import (
	"math"

	"crowline/dem"
)

// Blocker is what hides a target.
type Blocker uint8

const (
	// BlockerNone: the target is not hidden.
	BlockerNone Blocker = iota
	// BlockerGround: bare ground.
	BlockerGround
	// BlockerCover: the top of what stands on the ground (dem.Covered), where
	// the ground alone would not hide it.
	BlockerCover
	// BlockerBoth: the top of what stands on ground that hides it alone.
	BlockerBoth
)

// String is "", "ground", "cover" or "ground and cover".
func (b Blocker) String() string {
	return [...]string{"", "ground", "cover", "ground and cover"}[min(b, BlockerBoth)]
}

// MarshalText writes the word String gives.
func (b Blocker) MarshalText() ([]byte, error) { return []byte(b.String()), nil }

// bareLowered is the bare ground at a point of the section, as lowered is the
// ground with what stands on it.
func (s *section) bareLowered(i int) float64 {
	p := &s.leg.Points[i]
	if p.Cover == 0 {
		return s.lowered[i]
	}
	return p.Bare() - s.lowering*p.Drop
}

// blame says what hides a target behind point at of the section, the line to
// it having this slope.
func (s *section) blame(out *Sight, at int, slope float64) {
	p := &s.leg.Points[at]
	out.BlockedBy, out.BlockerCover = BlockerGround, p.Cover
	if p.Cover > 0 {
		out.BlockedBy = BlockerCover
		if (s.bareLowered(at)-s.eye)/s.distance[at] > slope+GrazingSlope {
			out.BlockedBy = BlockerBoth
		}
	}
	highest := math.Inf(-1)
	for i := range s.distance {
		if !s.between(i) {
			continue
		}
		if u := (s.bareLowered(i) - s.eye) / s.distance[i]; u > highest { // never true of a void
			highest = u
		}
	}
	if highest > slope+GrazingSlope {
		out.BareExtra = (highest - slope) * s.leg.Distance
	}
}

// coverUnknown reports whether the ground of the section is known all the way
// to the target, so that only what stands on it can be unknown.
func (s *section) coverUnknown() bool {
	last := len(s.distance) - 1
	for i := range s.distance {
		if (s.between(i) || i == last) && math.IsNaN(s.leg.Points[i].Bare()) {
			return false
		}
	}
	return last >= 0 && s.distance[last] >= s.leg.Distance-dem.NearLimit
}
