package landform

import (
	"context"
	"fmt"
	"math"

	"crowline/dem"
)

// A branch is a course line: the posts from its head down to where it joins
// another or ends. For ridges the grid is taken upside down, so the head is
// the low tip and the branch goes up to its join.
type branch struct {
	posts []int32
	// joins is the branch it runs into, -1 for none.
	joins  int
	length float64 // metres
}

// drainage is where each post drains to and the area draining through it.
//
// Posts are taken from the border and from beside voids inward, lowest
// first. Each drains to its steepest lower neighbour already taken or, in a
// hollow, back the way it was reached, which is over the hollow's lowest rim
// (least-cost drainage; priority flood: Barnes et al. 2014; one receiver a
// post: O'Callaghan & Mark 1984).
type drainage struct {
	receiver []int32 // -1 at an outlet or void
	order    []int32 // posts in the order taken; each after its receiver
	area     []float32
}

type heapPost struct {
	level float32
	post  int32
}

type postHeap []heapPost

func (p heapPost) before(q heapPost) bool {
	return p.level < q.level || p.level == q.level && p.post < q.post
}

func (h *postHeap) push(p heapPost) {
	*h = append(*h, p)
	a := *h
	i := len(a) - 1
	for i > 0 {
		up := (i - 1) / 2
		if !p.before(a[up]) {
			break
		}
		a[i], i = a[up], up
	}
	a[i] = p
}

func (h *postHeap) pop() heapPost {
	a := *h
	top := a[0]
	n := len(a) - 1
	last := a[n]
	a = a[:n]
	*h = a
	i := 0
	for {
		down := 2*i + 1
		if down >= n {
			break
		}
		if down+1 < n && a[down+1].before(a[down]) {
			down++
		}
		if !a[down].before(last) {
			break
		}
		a[i], i = a[down], down
	}
	if n > 0 {
		a[i] = last
	}
	return top
}

func drain(ctx context.Context, g *dem.Grid, m metric, upsideDown bool) (*drainage, error) {
	n := len(g.Elevations)
	d := &drainage{receiver: make([]int32, n), order: make([]int32, 0, n), area: make([]float32, n)}
	level := func(p int) float32 {
		if upsideDown {
			return -g.Elevations[p]
		}
		return g.Elevations[p]
	}
	const (
		unseen = iota
		waiting
		taken
	)
	state := make([]uint8, n)
	across := make([]float64, g.Rows) // from a post to its neighbour cornerwise, metres
	for r := range across {
		across[r] = math.Hypot(m.alongRow[r], m.alongColumn[r])
	}
	var heap postHeap
	for p, h := range g.Elevations {
		d.receiver[p] = -1
		if isVoid(h) {
			continue
		}
		column, row := p%g.Columns, p/g.Columns
		for _, s := range directions {
			c, r := column+s[0], row+s[1]
			if uint(c) >= uint(g.Columns) || uint(r) >= uint(g.Rows) || isVoid(g.Elevations[r*g.Columns+c]) {
				state[p] = waiting
				heap.push(heapPost{level(p), int32(p)})
				break
			}
		}
	}
	for len(heap) > 0 {
		if len(d.order)&0xffff == 0 && ctx.Err() != nil {
			return nil, fmt.Errorf("landform: %w", ctx.Err())
		}
		p := heap.pop()
		state[p.post] = taken
		d.order = append(d.order, p.post)
		column, row := int(p.post)%g.Columns, int(p.post)/g.Columns
		x, y, xy := m.alongRow[row], m.alongColumn[row], across[row]
		steepest := 0.0
		outlet := d.receiver[p.post] < 0
		for _, s := range directions {
			c, r := column+s[0], row+s[1]
			if uint(c) >= uint(g.Columns) || uint(r) >= uint(g.Rows) {
				continue
			}
			q := r*g.Columns + c
			if isVoid(g.Elevations[q]) {
				continue
			}
			switch state[q] {
			case unseen:
				state[q] = waiting
				d.receiver[q] = p.post
				heap.push(heapPost{level(q), int32(q)})
			case taken:
				if outlet {
					continue
				}
				way := xy
				if s[0] == 0 {
					way = y
				} else if s[1] == 0 {
					way = x
				}
				if fall := float64(p.level-level(q)) / way; fall > steepest {
					steepest = fall
					d.receiver[p.post] = int32(q)
				}
			}
		}
	}
	for i := len(d.order) - 1; i >= 0; i-- {
		p := d.order[i]
		d.area[p] += float32(m.area(int(p) / g.Columns))
		if r := d.receiver[p]; r >= 0 {
			d.area[r] += d.area[p]
		}
	}
	return d, nil
}

// branches cuts the course lines that drain at least scale squared into
// branches at least one scale long. Where lines meet, the one that goes on
// is, for valleys, that with the larger area; for ridges, the one whose
// crest stands highest over the last scale before the meeting.
func branches(ctx context.Context, g *dem.Grid, m metric, upsideDown bool, scale float64) ([]branch, error) {
	d, err := drain(ctx, g, m, upsideDown)
	if err != nil {
		return nil, err
	}
	n := len(g.Elevations)
	chosen := func(p int32) bool { return float64(d.area[p]) >= scale*scale }
	at := func(p int32) Position { return Position{float64(int(p) % g.Columns), float64(int(p) / g.Columns)} }
	main := make([]int32, n) // the donor that goes on, -1 at a head
	length := make([]float32, n)
	crest := make([]float32, n) // elevation averaged over about one scale up the line
	for i := range main {
		main[i] = -1
	}
	better := func(a, b int32) bool { // a goes on rather than b
		if longA, longB := float64(length[a]) >= scale, float64(length[b]) >= scale; longA != longB {
			return longA
		}
		if upsideDown && crest[a] != crest[b] {
			return crest[a] > crest[b]
		}
		if d.area[a] != d.area[b] {
			return d.area[a] > d.area[b]
		}
		return a < b
	}
	for i := len(d.order) - 1; i >= 0; i-- {
		p := d.order[i]
		if !chosen(p) {
			continue
		}
		// all donors come later in order, so main[p] is settled
		crest[p] = g.Elevations[p]
		if q := main[p]; q >= 0 {
			step := m.distance(at(p), at(q))
			length[p] = length[q] + float32(step)
			w := float32(min(1, step/scale))
			crest[p] = w*g.Elevations[p] + (1-w)*crest[q]
		}
		if r := d.receiver[p]; r >= 0 && (main[r] < 0 || better(p, main[r])) {
			main[r] = p
		}
	}
	var out []branch
	owner := make(map[int32]int) // branch of a post
	for _, p := range d.order {
		if !chosen(p) {
			continue
		}
		r := d.receiver[p]
		if r >= 0 && main[r] == p {
			continue // not the foot of a branch
		}
		if float64(length[p]) < scale {
			continue
		}
		b := branch{joins: -1, length: float64(length[p])}
		for q := p; q >= 0; q = main[q] {
			owner[q] = len(out)
			b.posts = append(b.posts, q)
		}
		for i, j := 0, len(b.posts)-1; i < j; i, j = i+1, j-1 {
			b.posts[i], b.posts[j] = b.posts[j], b.posts[i]
		}
		if r >= 0 {
			if o, ok := owner[r]; ok {
				b.joins = o
			}
			b.posts = append(b.posts, r)
			b.length += m.distance(at(p), at(r))
		}
		out = append(out, b)
	}
	return out, nil
}
