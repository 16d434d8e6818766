package visibility

import (
	"context"
	"fmt"
	"math"

	"crowline/profile"
)

// ownTop looks at a mark that only its own ground hides (Sight.OwnGround) at
// the top of that ground: the highest of the four posts round it that stands
// no more than OwnGround above it. Where that is in sight it takes the
// mark's place in every question about the ground, though not its bearing.
func (v *looker) ownTop(ctx context.Context, m *Landmark, conditions Conditions) (seen *profile.Leg, err error) {
	if !m.Sight.OwnGround(v.opts.OwnGround) {
		return nil, nil
	}
	f := v.posts.Layout()
	column, row, err := f.Locate(m.Place)
	if err != nil {
		return nil, fmt.Errorf("mark at %s: %w", m.Place, err)
	}
	ground := m.Sight.TargetElevation - conditions.TargetAboveGround
	highest, at := ground, [2]int{-1, -1}
	for _, c := range []int{int(math.Floor(column)), int(math.Ceil(column))} {
		for _, r := range []int{int(math.Floor(row)), int(math.Ceil(row))} {
			if h := v.posts.Elevation(c, r); h > highest && h <= ground+v.opts.OwnGround {
				highest, at = h, [2]int{c, r}
			}
		}
	}
	if at[0] < 0 {
		return nil, nil
	}
	top, err := f.Place(float64(at[0]), float64(at[1]))
	if err != nil {
		return nil, fmt.Errorf("mark at %s: %w", m.Place, err)
	}
	leg, err := profile.Trace(ctx, v.posts, v.observer.Place, top)
	if err != nil {
		return nil, err
	}
	s, err := Along(leg, v.observer, conditions)
	if err != nil || s.Verdict != Visible {
		return nil, err
	}
	m.Sight, m.Top, m.TopElevation = s, &top, highest
	return leg, nil
}

// measure is view.measure of a mark, or of the top of its own ground.
func (m *Landmark) measure(view *view, top *profile.Leg) {
	seen := *m
	if top != nil {
		seen.Bearing, seen.Distance = top.Start, top.Distance
	}
	view.measure(&seen)
	seen.Bearing, seen.Distance = m.Bearing, m.Distance
	*m = seen
}
