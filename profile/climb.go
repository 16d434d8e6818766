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

// unstatedDeadBand, metres, is taken where the data's error is not known:
// common practice for data of unknown worth.
const unstatedDeadBand = 10.0

// DeadBand is the dead band for data, metres: its vertical error (one standard
// deviation, metres) to a whole metre, 1 at least; 10 where verticalError is
// 0, not known. Every answer that counts a climb takes it from here.
func DeadBand(verticalError float64) float64 {
	if !(verticalError > 0) {
		return unstatedDeadBand
	}
	return math.Max(1, math.Round(verticalError))
}

// Climb counts ascent and descent, leaving out wiggles smaller than deadBand
// metres. Of the highs and lows between the ends, the neighbouring pair that
// differs least is struck out, again and again, until all neighbours differ
// by deadBand or more. (This is the simplification by topological persistence
// of Edelsbrunner, Letscher & Zomorodian, Discrete & Computational Geometry 28
// (2002) 511-533, in one dimension.) The ends always stay, so ascent less
// descent is the difference of their elevations; a high or low next to an end
// that differs from it by less than deadBand is struck out too, unless a rise
// or fall of deadBand or more would be lost with it. So the first and the
// last step counted may be smaller than deadBand, and no rise or fall of
// deadBand or more is ever left out. The leg walked backwards has ascent and
// descent exchanged, and so has the ground turned upside down.
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

// significant keeps both ends and the highs and lows that Climb counts.
func significant(points []Point, band float64) []Point {
	turns := localExtremes(points)
	n := len(turns)
	if n < 3 {
		return turns
	}
	turns = strikePairs(turns, band)
	n = len(turns)
	inner := turns[1 : n-1]
	first, last := strikeEnds(turns[0].Elevation, inner, turns[n-1].Elevation, band)
	if last {
		inner = inner[:len(inner)-1]
	}
	if first && len(inner) > 0 {
		inner = inner[1:]
	}
	kept := append([]Point{turns[0]}, inner...)
	return localExtremes(append(kept, turns[n-1]))
}

// strikePairs strikes out neighbouring highs and lows between the ends, those
// that differ least first, until all that are left differ by band or more. A
// pair next to an end that lies between the two is not struck out whole: the
// one farther in stands out against the end, and stays until there is a pair
// for it, or strikeEnds.
func strikePairs(turns []Point, band float64) []Point {
	n := len(turns)
	next, previous := make([]int, n), make([]int, n)
	for i := range n {
		next[i], previous[i] = i+1, i-1
	}
	gone := make([]bool, n)
	difference := func(i, j int) float64 { return math.Abs(turns[i].Elevation - turns[j].Elevation) }
	var queue pairs
	add := func(left, right int) {
		if left > 0 && right < n-1 {
			heap.Push(&queue, pair{left, right, difference(left, right)})
		}
	}
	for i := 1; i < n; i++ {
		add(i-1, i)
	}
	for queue.Len() > 0 {
		p := heap.Pop(&queue).(pair)
		if p.difference >= band {
			break
		}
		if gone[p.left] || gone[p.right] {
			continue
		}
		before, after := previous[p.left], next[p.right]
		startBetween := before == 0 && difference(before, p.left) < p.difference
		endBetween := after == n-1 && difference(after, p.right) < p.difference
		gone[p.left] = startBetween || !endBetween
		gone[p.right] = endBetween || !startBetween
		if !gone[p.left] {
			before = p.left
		}
		if !gone[p.right] {
			after = p.right
		}
		next[before], previous[after] = after, before
		add(before, after)
	}
	var kept []Point
	for i, t := range turns {
		if !gone[i] {
			kept = append(kept, t)
		}
	}
	return kept
}

// mayGo says whether a turn next to an end is struck out: it is small, step
// metres from the end, and what lies beyond, to the next turn, is no rise or
// fall of band or more, or stays one from the end.
func mayGo(step, beyond, joined, band float64) bool {
	return step < band && (beyond < band || joined >= band)
}

// strikeEnds says whether the first and the last of the turns left between
// two ends may go now that no more pairs will.
func strikeEnds(start float64, turns []Point, end, band float64) (first, last bool) {
	strike := func(from float64, at func(int) float64) bool {
		return mayGo(math.Abs(from-at(0)), math.Abs(at(0)-at(1)), math.Abs(from-at(1)), band)
	}
	n := len(turns)
	if n == 0 {
		return false, false
	}
	forward := func(i int) float64 {
		if i < n {
			return turns[i].Elevation
		}
		return end
	}
	backward := func(i int) float64 {
		if i < n {
			return turns[n-1-i].Elevation
		}
		return start
	}
	first, last = strike(start, forward), strike(end, backward)
	switch {
	case n == 1:
		return false, first || last
	case n == 2 && first && last && math.Abs(start-end) < band:
		// One may go, not both: the one nearer to its end.
		atStart, atEnd := math.Abs(start-forward(0)), math.Abs(end-backward(0))
		return atStart < atEnd, atEnd < atStart
	}
	return first, last
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
