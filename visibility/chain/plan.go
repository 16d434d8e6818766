package chain

import (
	"cmp"
	"context"
	"math"
	"slices"

	"crowline/dem/geodesy"
	"crowline/visibility"
	"crowline/visibility/scene"
)

// openAhead is how far off, metres, the skyline on the line must lie for the ground
// ahead to be in view.
const openAhead = 1000.0

// plan is a way as the caller gets it.
func (c *course) plan(ctx context.Context, way []move) (Plan, error) {
	var p Plan
	from := 0
	for _, m := range way {
		if m.begin > from {
			distance := c.atEnd
			if m.option != nil {
				distance = m.option.distance
			}
			s, err := c.onCompass(ctx, from, m.begin, distance)
			if err != nil {
				return Plan{}, err
			}
			p.Steps = append(p.Steps, s)
		}
		if m.option != nil {
			s, err := c.sighted(ctx, m)
			if err != nil {
				return Plan{}, err
			}
			p.Steps = append(p.Steps, s)
		}
		from = m.to
	}
	p.sum()
	return p, nil
}

// sighted is a step on a mark, told from all that is in view there.
func (c *course) sighted(ctx context.Context, m move) (Step, error) {
	k, mark := m.begin, m.option.mark
	kept, err := c.keptFor(ctx, &mark)
	if err != nil {
		return Step{}, err
	}
	mark.Lost = told(lost(kept, c.at[k], c.at[m.to]))
	s := Step{Kind: Sighted, From: c.at[k], To: c.at[m.to], Line: c.line(k), Dial: c.opts.Dial(c.line(k)), Mark: &mark}
	v, err := c.allRound(ctx, k)
	if err != nil || v == nil {
		return s, err
	}
	if mark.Kind == Destination {
		mark.view = v
		c.tellGoal(&mark, v)
	}
	s.Back, err = c.behind(ctx, v, k, m.to, &mark)
	return s, err
}

// tellGoal finds what the goal is known by.
func (c *course) tellGoal(m *Mark, v *scene.View) {
	m.Angle = geodesy.Atan2(m.Elevation+m.AboveGround-v.EyeElevation-m.Away*m.Away*(1-c.opts.Conditions.Refraction)/(2*c.leg.Radius), m.Away)
	for i := range v.Things {
		t := &v.Things[i]
		off := math.Abs(float64(geodesy.Difference(m.Bearing, t.Bearing)))
		switch {
		case off > goalAngle:
		case c.atGoal(v, t):
			m.thing = t
		case (t.Kind == scene.Top || t.Kind == scene.Notch) && t.Distance > m.Away && t.Angle > m.Angle && (m.over == nil || t.Plainness() > m.over.Plainness()):
			m.over = t
		}
	}
	m.Bare = m.thing == nil
}

// mostBehind bounds how many things behind are looked at, the plainest first.
const mostBehind = 6

// startKnown is how far off, metres, one still knows the place one started from (a
// choice, not a published figure).
const startKnown = 2000.0

// behind finds what to look back at over a stretch: of the plainest things in view
// behind the one that is seen over most of it, the start last of all. not is left
// out.
func (c *course) behind(ctx context.Context, v *scene.View, from, to int, not *Mark) (*BackSight, error) {
	back := geodesy.NewTrueBearing(geodesy.Degrees(c.line(from)) + 180)
	var marks []Mark
	for i := range v.Things {
		t := &v.Things[i]
		off := geodesy.Difference(back, t.Bearing)
		if math.Abs(float64(off)) > float64(c.opts.Within) || t.Distance > c.opts.Far || t.Filled || not != nil && t.Place == not.Place {
			continue
		}
		marks = append(marks, c.markOf(from, v, t, off, true))
	}
	slices.SortStableFunc(marks, func(a, b Mark) int { return cmp.Compare(b.thing.Plainness(), a.thing.Plainness()) })
	marks = marks[:min(len(marks), mostBehind)]
	if from > 0 && c.at[from] <= startKnown {
		marks = append(marks, Mark{
			Kind: Start, Elevation: c.leg.Points[0].Elevation, Place: c.leg.From, Away: c.at[from], Bearing: back, Behind: true, Bare: true, view: v,
			Angle: geodesy.Atan2(c.leg.Points[0].Elevation-v.EyeElevation, c.at[from]),
		})
	}
	var best *BackSight
	for i := range marks {
		kept, err := c.keptFor(ctx, &marks[i])
		if err != nil {
			return nil, err
		}
		if marks[i].Kind != Start && !seen(kept, c.at[from]) {
			continue
		}
		b := &BackSight{Mark: marks[i]}
		for _, s := range kept {
			if x, y := max(s.From, c.at[from]), min(s.To, c.at[to]); s.Verdict == visibility.Visible && x < y {
				b.Seen = append(b.Seen, visibility.Stretch{From: x, To: y, Verdict: visibility.Visible})
				b.Share += (y - x) / (c.at[to] - c.at[from])
			}
		}
		b.Share = min(1, b.Share)
		if best != nil && b.Share <= best.Share+moreSeen || b.Share < leastShare {
			continue
		}
		if marks[i].Kind != Start {
			likely, err := c.likely(ctx, from, &b.Mark)
			if err != nil {
				return nil, err
			}
			if !likely {
				continue
			}
		}
		best = b
	}
	return best, nil
}

// leastShare of a stretch is what a thing behind must be seen from to be of use.
const leastShare = 0.25

// moreSeen is how much more of a stretch a less plain thing behind must be seen
// from to be taken for a plainer one.
const moreSeen = 0.2

// onCompass is a step on the compass before a mark recognised from a distance.
func (c *course) onCompass(ctx context.Context, from, to int, distance float64) (Step, error) {
	s := Step{Kind: CompassOnly, From: c.at[from], To: c.at[to], Line: c.line(from), Dial: c.opts.Dial(c.line(from))}
	s.Short = s.To-s.From <= c.opts.allowed(distance)
	if s.Short {
		return s, nil
	}
	open, looked := 0, 0
	for k := from; k < to; k++ {
		if v := c.views[k]; v == nil {
			continue
		} else if looked++; len(v.Things) == 0 {
			if p, ok := v.Skyline(s.Line); ok && !p.PastGap && p.Distance >= openAhead {
				open++
			}
		}
	}
	s.Plain = 2*open > looked
	v, err := c.allRound(ctx, from)
	if err != nil || v == nil {
		return s, err
	}
	s.Back, err = c.behind(ctx, v, from, to, nil)
	return s, err
}
