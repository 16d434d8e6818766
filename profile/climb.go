package profile

import (
	"container/heap"
	"math"
)

// Climb is what a leg goes up and down.
type Climb struct {
	// Ascent and Descent in metres, both positive, by the dead band rule.
	Ascent, Descent float64
	// DeadBand in metres: rises and falls smaller than this are left out.
	DeadBand float64
	// Error is one standard deviation of Ascent and of Descent, metres, from
	// the data's vertical error: each turn from up to down carries it once.
	Error float64
	// Turns are the points where the leg truly turns up or down, with both
	// ends of the leg.
	Turns []Point
	// AtLeast is true when part of the leg has no data: climb there is not
	// known, and is counted as if the ground ran straight across.
	AtLeast bool
}

// Climb counts ascent and descent, leaving out wiggles smaller than deadBand
// metres: of all local highs and lows along the leg, the neighbouring pair
// that differs least is struck out, again and again, until every remaining
// rise and fall is at least deadBand. The ends always stay, so ascent less
// descent is the difference of their elevations, and the leg walked
// backwards has the two exchanged. (This is the simplification by
// topological persistence of Edelsbrunner, Letscher & Zomorodian, Discrete &
// Computational Geometry 28 (2002) 511-533, in one dimension.)
// verticalError is one standard deviation of an elevation, metres; 0 if
// unknown.
func (l *Leg) Climb(deadBand, verticalError float64) Climb {
	turns := significant(l.known(), deadBand)
	c := Climb{DeadBand: deadBand, Turns: turns, AtLeast: l.Unknown() > 0}
	rises, falls := 0, 0
	for i := 1; i < len(turns); i++ {
		d := turns[i].Elevation - turns[i-1].Elevation
		if d > 0 {
			c.Ascent += d
			rises++
		} else if d < 0 {
			c.Descent -= d
			falls++
		}
	}
	c.Error = verticalError * math.Sqrt(2*float64(max(rises, falls)))
	return c
}

// pair is two neighbouring turns, for the heap.
type pair struct {
	left, right int // indices into the list of turns
	difference  float64
}

type pairs []pair

func (p pairs) Len() int { return len(p) }
func (p pairs) Less(i, j int) bool {
	if p[i].difference != p[j].difference {
		return p[i].difference < p[j].difference
	}
	return p[i].left < p[j].left
}
func (p pairs) Swap(i, j int) { p[i], p[j] = p[j], p[i] }
func (p *pairs) Push(x any)   { *p = append(*p, x.(pair)) }
func (p *pairs) Pop() any {
	old := *p
	x := old[len(old)-1]
	*p = old[:len(old)-1]
	return x
}

// significant keeps both ends and the highs and lows that differ from their
// kept neighbours by at least band.
func significant(points []Point, band float64) []Point {
	turns := localExtremes(points)
	n := len(turns)
	if n < 3 {
		return turns
	}
	next, previous := make([]int, n), make([]int, n)
	for i := range n {
		next[i], previous[i] = i+1, i-1
	}
	gone := make([]bool, n)
	difference := func(i, j int) float64 { return math.Abs(turns[i].Elevation - turns[j].Elevation) }
	queue := make(pairs, 0, n)
	for i := 0; i+1 < n; i++ {
		queue = append(queue, pair{i, i + 1, difference(i, i+1)})
	}
	heap.Init(&queue)
	remove := func(i int) {
		gone[i] = true
		next[previous[i]], previous[next[i]] = next[i], previous[i]
	}
	for queue.Len() > 0 {
		p := heap.Pop(&queue).(pair)
		if p.difference >= band {
			break
		}
		if gone[p.left] || gone[p.right] || next[p.left] != p.right {
			continue
		}
		var left int
		switch {
		case p.left == 0 && p.right == n-1:
			continue
		case p.left == 0:
			left = 0
			remove(p.right)
		case p.right == n-1:
			left = previous[p.left]
			remove(p.left)
		default:
			left = previous[p.left]
			remove(p.left)
			remove(p.right)
		}
		heap.Push(&queue, pair{left, next[left], difference(left, next[left])})
	}
	kept := turns[:0]
	for i, t := range turns {
		if !gone[i] {
			kept = append(kept, t)
		}
	}
	return localExtremes(kept)
}

// localExtremes keeps the ends and every point where the direction turns;
// of a level stretch, its first point.
func localExtremes(points []Point) []Point {
	if len(points) < 3 {
		return append([]Point(nil), points...)
	}
	out := []Point{points[0]}
	direction := 0.0
	for i := 1; i < len(points); i++ {
		d := points[i].Elevation - points[i-1].Elevation
		if d == 0 {
			continue
		}
		if direction != 0 && (d > 0) != (direction > 0) {
			// the turn is at the start of the level stretch before i, if any
			j := i - 1
			for j > 0 && points[j-1].Elevation == points[j].Elevation {
				j--
			}
			out = append(out, points[j])
		}
		direction = d
	}
	return append(out, points[len(points)-1])
}
