package sheet

import (
	"math"

	"crowline/contour/page"
)

// between is the point a fraction of the way from p to q.
func between(p, q page.Point, f float64) page.Point { return p.Plus(q.Minus(p).Times(f)) }

// rightOf is how far p lies to the right of the line through from along the
// unit direction u, as seen.
func rightOf(from, u, p page.Point) float64 { return -p.Minus(from).Dot(u.Left()) }

// box is a rectangle turned to lie along a line.
type box struct {
	middle, along page.Point
	half, tall    float64 // half its length and half its height
}

func share(s, from, to float64) float64 {
	if to <= from {
		return 0
	}
	return min(1, max(0, (s-from)/(to-from)))
}

func lengthsAlong(p []page.Point) []float64 {
	out := make([]float64, len(p))
	for i := 1; i < len(p); i++ {
		out[i] = out[i-1] + p[i].Minus(p[i-1]).Length()
	}
	return out
}

func pathLength(p []page.Point) float64 {
	if len(p) == 0 {
		return 0
	}
	return lengthsAlong(p)[len(p)-1]
}

// overlap of two turned rectangles: they are apart if a side of either
// parts them.
func overlap(a, b box) bool {
	d := b.middle.Minus(a.middle)
	for _, axis := range [4]page.Point{a.along, a.along.Left(), b.along, b.along.Left()} {
		if math.Abs(d.Dot(axis)) >= a.extent(axis)+b.extent(axis) {
			return false
		}
	}
	return true
}

// extent is how far the box reaches from its middle along an axis.
func (b box) extent(axis page.Point) float64 {
	return b.half*math.Abs(b.along.Dot(axis)) + b.tall*math.Abs(b.along.Left().Dot(axis))
}

func avoided(b box, avoid [][2]page.Point) bool {
	for _, r := range avoid {
		p, q := r[0], r[1]
		other := box{between(p, q, 0.5), page.At(1, 0), math.Abs(q.X-p.X) / 2, math.Abs(q.Y-p.Y) / 2}
		if overlap(b, other) {
			return true
		}
	}
	return false
}

// cuts reports whether a segment enters the box.
func (b box) cuts(p, q page.Point) bool {
	up := b.along.Left()
	pu, qu := p.Minus(b.middle).Dot(b.along), q.Minus(b.middle).Dot(b.along)
	pv, qv := p.Minus(b.middle).Dot(up), q.Minus(b.middle).Dot(up)
	if min(pu, qu) > b.half || max(pu, qu) < -b.half || min(pv, qv) > b.tall || max(pv, qv) < -b.tall {
		return false
	}
	// the segment's own normal is the last axis that could part them
	nu, nv := qv-pv, pu-qu
	return math.Abs(pu*nu+pv*nv) <= b.half*math.Abs(nu)+b.tall*math.Abs(nv)
}

// inside is the stretch of a segment within the box, as shares of it from p
// to q; none if from is not less than to.
func (b box) inside(p, q page.Point) (from, to float64) {
	from, to = 0, 1
	for _, side := range [2]struct {
		axis page.Point
		half float64
	}{{b.along, b.half}, {b.along.Left(), b.tall}} {
		at, by := p.Minus(b.middle).Dot(side.axis), q.Minus(p).Dot(side.axis)
		if by == 0 {
			if math.Abs(at) >= side.half {
				return 0, 0
			}
			continue
		}
		in, out := (-side.half-at)/by, (side.half-at)/by
		from, to = max(from, min(in, out)), min(to, max(in, out))
	}
	return from, to
}

// pageIndex finds the segments near a place by squares of the page.
type pageIndex struct {
	lines   []PageLine
	along   [][]float64
	squares map[[2]int32][]segment
	// A segment is met in each square it passes; the last look that saw it is
	// kept, so that it counts once.
	seen   map[segment]int32
	looked int32
}

type segment struct{ line, first int32 }

const pageSquare = 5.0 // mm, about a label's length

func newPageIndex(lines []PageLine) *pageIndex {
	x := &pageIndex{lines: lines, squares: map[[2]int32][]segment{}, seen: map[segment]int32{}}
	for i, l := range lines {
		x.along = append(x.along, lengthsAlong(l.Points))
		for k := 1; k < len(l.Points); k++ {
			p, q := l.Points[k-1], l.Points[k]
			visitSquares(p, q, 0, func(s [2]int32) { x.squares[s] = append(x.squares[s], segment{int32(i), int32(k - 1)}) })
		}
	}
	return x
}

func visitSquares(p, q page.Point, margin float64, visit func([2]int32)) {
	square := func(v float64) int32 { return int32(math.Floor(v / pageSquare)) }
	for sx := square(min(p.X, q.X) - margin); sx <= square(max(p.X, q.X)+margin); sx++ {
		for sy := square(min(p.Y, q.Y) - margin); sy <= square(max(p.Y, q.Y)+margin); sy++ {
			visit([2]int32{sx, sy})
		}
	}
}

// clear reports whether no line that does not yield enters the room round a
// label, or the label's own line its figures, but for the stretch of that line
// which the label stands in, or little more of it at both ends of the room.
func (x *pageIndex) clear(room, figures box, line int, from, to, more float64) bool {
	ok := true
	visitSquares(room.middle, room.middle, room.half+room.tall, func(s [2]int32) {
		if !ok {
			return
		}
		for _, g := range x.squares[s] {
			l := &x.lines[g.line]
			if l.Yields {
				continue
			}
			p, q := l.Points[g.first], l.Points[g.first+1]
			if int(g.line) != line {
				ok = ok && !room.cuts(p, q)
				continue
			}
			a, b := x.along[line][g.first], x.along[line][g.first+1]
			beyond := func(in box, from, to float64) bool {
				return (a >= from || !in.cuts(p, between(p, q, share(min(from, b), a, b)))) &&
					(b <= to || !in.cuts(between(p, q, share(max(to, a), a, b)), q))
			}
			ok = ok && beyond(room, from-more, to+more) && beyond(figures, from, to)
		}
	})
	return ok
}

// yielding is the length of lines that yield within a box, millimetres.
func (x *pageIndex) yielding(b box) float64 {
	x.looked++
	length := 0.0
	visitSquares(b.middle, b.middle, b.half+b.tall, func(s [2]int32) {
		for _, g := range x.squares[s] {
			if !x.lines[g.line].Yields || x.seen[g] == x.looked {
				continue
			}
			x.seen[g] = x.looked
			p, q := x.lines[g.line].Points[g.first], x.lines[g.line].Points[g.first+1]
			if from, to := b.inside(p, q); from < to {
				length += (to - from) * q.Minus(p).Length()
			}
		}
	})
	return length
}
