package landform

import (
	"context"
	"fmt"
	"math"

	"crowline/dem/geodesy"
)

// fall is a drop from a post to another of its row, column or diagonal,
// metres.
type fall struct{ drop, distance float64 }

// falls visits the cliff steps down from a post: to its neighbour, or to
// posts farther off where those are finer than the ground a cliff of the
// least relief takes. Without these a wall of some slope would be a cliff on
// coarse posts and none on fine ones, whose neighbours never differ so much.
// Steps that would do without their first or last piece are left out: that
// piece may be level ground.
func (f *finder) falls(p int32, visit func(direction [2]int, posts int, s fall)) {
	v := float64(f.g.Elevations[p])
	column, row := int(p)%f.g.Columns, int(p)/f.g.Columns
	x, y := f.m.at(float64(row))
	for _, d := range directions {
		step := math.Hypot(float64(d[0])*x, float64(d[1])*y)
		does := func(drop, distance float64) bool {
			return drop >= max(f.o.MinRelief, f.o.CliffGradient*distance)
		}
		next, before := 0.0, 0.0 // drop to the first post and to the last but one
		for k := 1; k == 1 || float64(k)*step <= f.o.MinRelief/f.o.CliffGradient; k++ {
			distance := float64(k) * step
			drop := v - f.g.Elevation(column+k*d[0], row+k*d[1])
			if math.IsNaN(drop) || math.IsInf(drop, 0) {
				break
			}
			if k == 1 {
				next = drop
			}
			if does(drop, distance) && (k == 1 || !does(drop-next, distance-step) && !does(before, distance-step)) {
				visit(d, k, fall{drop, distance})
			}
			before = drop
		}
	}
}

func (f *finder) cliffs(ctx context.Context) error {
	// the steepest step at each post that has one
	steps := map[int32]fall{}
	var posts []int32
	for p, v := range f.g.Elevations {
		if p%f.g.Columns == 0 && ctx.Err() != nil {
			return fmt.Errorf("landform: %w", ctx.Err())
		}
		if isVoid(v) {
			continue
		}
		f.falls(int32(p), func(_ [2]int, _ int, s fall) {
			if best, ok := steps[int32(p)]; !ok || s.drop/s.distance > best.drop/best.distance {
				if !ok {
					posts = append(posts, int32(p))
				}
				steps[int32(p)] = s
			}
		})
	}
	seen := map[int32]bool{}
	for _, start := range posts {
		if seen[start] {
			continue
		}
		seen[start] = true
		group := []int32{start}
		best := start
		for i := 0; i < len(group); i++ {
			p := group[i]
			a, b := steps[p], steps[best]
			if a.drop/a.distance > b.drop/b.distance {
				best = p
			}
			for _, d := range directions {
				c, r := int(p)%f.g.Columns+d[0], int(p)/f.g.Columns+d[1]
				q := int32(r*f.g.Columns + c)
				if _, steep := steps[q]; steep && uint(c) < uint(f.g.Columns) && !seen[q] {
					seen[q] = true
					group = append(group, q)
				}
			}
		}
		if err := f.cliff(group, best, steps); err != nil {
			return err
		}
	}
	return nil
}

// cliff makes the feature of posts that touch, each the top of a step, best
// that of the steepest.
func (f *finder) cliff(group []int32, best int32, steps map[int32]fall) error {
	x, y := f.m.at(float64(int(group[0]) / f.g.Columns))
	c0, c1, r0, r1, drop := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1), 0.0
	var ground []int32
	for _, p := range group {
		q := f.position(p)
		c0, c1, r0, r1 = min(c0, q.Column), max(c1, q.Column), min(r0, q.Row), max(r1, q.Row)
		drop = max(drop, steps[p].drop)
		ground = append(ground, p)
		f.falls(p, func(d [2]int, n int, _ fall) {
			for k := 1; k <= n; k++ {
				ground = append(ground, p+int32(k*(d[1]*f.g.Columns+d[0])))
			}
		})
	}
	p, err := postAt(f.g, best)
	if err != nil {
		return err
	}
	s := steps[best]
	which := "neighbouring posts"
	if s.distance > math.Hypot(x, y)*1.01 { // more than a cell's diagonal, and a hair
		which = "posts"
	}
	f.found = append(f.found, Feature{Kind: Cliff, Post: p, Relief: drop, Parts: covered(ground, f.g.Columns),
		Size:       math.Hypot((c1-c0)*x, (r1-r0)*y) + min(x, y),
		Confidence: f.chance(s.drop - f.o.CliffGradient*s.distance),
		Reason: Say("%s %s apart differ by %s (%.0f degrees); a step narrower than that is smoothed by the data",
			which, Far(s.distance), Up(s.drop), float64(geodesy.Atan2(s.drop, s.distance)))})
	return nil
}
