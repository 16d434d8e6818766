package visibility

import (
	"context"
	"fmt"
	"math"

	"crowline/dem"
	"crowline/profile"
)

// RestsOnFilled reports whether a verdict along a leg, as Along found it,
// would not be known had the voids that were filled in (dem.Filled) stayed.
// An observer on filled ground rests on it whatever the line meets.
func RestsOnFilled(leg *profile.Leg, verdict Verdict, o Observer, c Conditions) (bool, error) {
	switch {
	case verdict == Unknown || len(leg.Filled()) == 0:
		return false, nil
	case leg.Points[0].Filled:
		return true, nil
	}
	s, err := Along(leg.Unfilled(), o, c)
	return s.Verdict == Unknown, err
}

// FilledSummary says what part filled posts (dem.Filled) have in a viewshed.
type FilledSummary struct {
	// Visible, Hidden and Unknown count the filled posts with that verdict.
	Visible, Hidden, Unknown int64
	// VisibleRest and HiddenRest count the other posts so answered whose
	// verdict rests on filled posts: it would not be known had these stayed
	// void.
	VisibleRest, HiddenRest int64
	// Farthest: the farthest ground seen is a filled post.
	Farthest bool
}

// Posts is how many posts with a verdict are filled.
func (s FilledSummary) Posts() int64 { return s.Visible + s.Hidden + s.Unknown }

// SummariseFilled counts the filled posts of a viewshed v of grid g. What
// rests on them is found exactly, by looking again with them void, so it
// costs another viewshed and 5 bytes a post where there are any, and next to
// nothing where there are none. An observer who stands on filled ground
// rests on it, and with them every verdict.
func SummariseFilled(ctx context.Context, g *dem.Grid, v *Viewed) (FilledSummary, error) {
	var s FilledSummary
	if g.FilledPosts() == 0 {
		return s, nil
	}
	w := v.Window
	if w.Intersect(g.Whole()) != w || len(v.Verdicts) != w.Columns*w.Rows {
		return s, fmt.Errorf("the viewshed's %d x %d posts are not the grid's", w.Columns, w.Rows)
	}
	filled := func(i int) bool { return g.IsFilled(w.Column+i%w.Columns, w.Row+i/w.Columns) }
	for i, verdict := range v.Verdicts {
		if verdict == OutOfRange || !filled(i) {
			continue
		}
		switch verdict {
		case Visible:
			s.Visible++
		case Hidden:
			s.Hidden++
		case Unknown:
			s.Unknown++
		}
	}
	if far := v.Summary.Farthest; far != nil {
		s.Farthest = g.IsFilled(far.Column, far.Row)
	}
	again := v.Options
	again.HeightNeeded, again.HorizonStep, again.Progress = false, 0, nil
	column, row, err := g.Locate(v.Observer.Place)
	if err != nil {
		return s, err
	}
	without := func(int) Verdict { return Unknown }
	if !dem.FilledAt(g, column, row) {
		o := v.Observer
		if o.EyeElevation == nil && !math.IsNaN(v.EyeElevation) {
			eye := v.EyeElevation // the very same eye
			o.EyeElevation = &eye
		}
		u, err := Viewshed(ctx, g.Unfilled(), o, again)
		if err != nil {
			return s, err
		}
		without = func(i int) Verdict { return u.Verdicts[i] }
	}
	for i, verdict := range v.Verdicts {
		if (verdict == Visible || verdict == Hidden) && without(i) == Unknown && !filled(i) {
			if verdict == Visible {
				s.VisibleRest++
			} else {
				s.HiddenRest++
			}
		}
	}
	return s, nil
}
