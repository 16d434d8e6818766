package chain

import (
	"cmp"
	"context"
	"math"
	"slices"
)

// cost of the way from a position to the end, in the order it counts.
type cost struct {
	unguided  int64 // micrometres on the compass in stretches over the least
	sightings int
	kinds     kindCounts
	compass   int64 // micrometres on the compass
}

// kindCounts is how many marks there are of each kind, from the one hardest
// to know by eye, Ground, to Destination; landmarks are the rest.
type kindCounts [Destination + 1]int32

func (c cost) compare(d cost) int {
	return cmp.Or(cmp.Compare(c.unguided, d.unguided), cmp.Compare(c.sightings, d.sightings),
		slices.Compare(c.kinds[:], d.kinds[:]), cmp.Compare(c.compass, d.compass))
}

// move is one step of a way; use is -1 on the compass.
type move struct {
	from, to int64
	use      int
}

// best finds the best way, from the end back. Only places where a stretch to
// choose from begins or a step ends can matter: a walker on the compass gains
// nothing by stopping elsewhere.
func (l *course) best(ctx context.Context) ([]move, error) {
	length, least := micro(l.leg.Distance), micro(l.opts.LeastSighting)
	positions := []int64{0, length}
	starts := []int64{length} // where a walk on the compass may end
	for i := range l.uses {
		u := &l.uses[i]
		u.from = max(u.from, 0)
		positions = append(positions, u.from, u.reach)
		starts = append(starts, u.from)
	}
	sorted := func(p []int64) []int64 {
		slices.Sort(p)
		return slices.Compact(p)
	}
	positions, starts = sorted(positions), sorted(starts)
	index := func(p int64) int {
		i, _ := slices.BinarySearch(positions, p)
		return i
	}
	reachAt := make([]int, len(l.uses)) // index of each use's reach
	for i := range l.uses {
		reachAt[i] = index(l.uses[i].reach)
	}
	startAt := make([]int, len(starts))
	for i, q := range starts {
		startAt[i] = index(q)
	}
	order := make([]int, len(l.uses)) // by where the stretch ends, last first
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(l.uses[b].to, l.uses[a].to) })

	// the best way on from each position, and the best that sets out on a
	// mark: all there is after a stretch on the compass
	type option struct {
		cost
		move
		ok bool
	}
	ways, onMark := make([]option, len(positions)), make([]option, len(positions))
	ways[len(positions)-1].ok = true
	onMark[len(positions)-1].ok = true // the end
	var active []int
	next, firstStart := 0, len(starts)
	for i := len(positions) - 2; i >= 0; i-- {
		if i%64 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		p := positions[i]
		for next < len(order) && l.uses[order[next]].to >= p {
			active = append(active, order[next])
			next++
		}
		active = slices.DeleteFunc(active, func(u int) bool { return l.uses[u].from > p })
		best := option{}
		for _, j := range active {
			u := &l.uses[j]
			on := &ways[reachAt[j]].cost
			if best.ok && on.unguided > best.unguided || best.ok && on.unguided == best.unguided && on.sightings >= best.sightings {
				continue // no kind of mark makes up for it
			}
			c := *on
			c.sightings++
			if u.mark.Kind <= Destination {
				c.kinds[u.mark.Kind]++
			}
			m := move{p, u.reach, j}
			if order := c.compare(best.cost); !best.ok || order < 0 || order == 0 && l.prefer(m, best.move) {
				best = option{c, m, true}
			}
		}
		onMark[i] = best
		for firstStart > 0 && starts[firstStart-1] > p {
			firstStart--
		}
		for k, q := range starts[firstStart:] {
			on := &onMark[startAt[firstStart+k]]
			if !on.ok {
				continue
			}
			c, walked := on.cost, q-p
			c.compass += walked
			if walked > least {
				c.unguided += walked
			}
			if !best.ok || c.compare(best.cost) < 0 {
				best = option{c, move{p, q, -1}, true}
			}
			if walked > least && best.ok && best.unguided < walked {
				break // any longer walk on the compass costs more
			}
		}
		ways[i] = best
	}
	var way []move
	for i, after := 0, false; i < len(positions)-1; {
		m := ways[i].move
		if after {
			m = onMark[i].move
		}
		way = append(way, m)
		i, after = index(m.to), m.use < 0
	}
	return way, ctx.Err()
}

// prefer reports whether a is the better of two moves of equal cost.
func (l *course) prefer(a, b move) bool {
	u, v := &l.uses[a.use], &l.uses[b.use]
	return cmp.Or(
		cmp.Compare(u.reach, v.reach),
		cmp.Compare(u.mark.Kind, v.mark.Kind),
		cmp.Compare(u.mark.Distance, v.mark.Distance),
		cmp.Compare(math.Abs(v.mark.Offset), math.Abs(u.mark.Offset)),
		cmp.Compare(v.mark.Name, u.mark.Name),
	) > 0
}
