package sheet

import (
	"cmp"
	"slices"

	"crowline/contour/page"
)

// Broken cuts the gaps of a line's labels out of it and gives what is left,
// in order.
func Broken(points []page.Point, labels []Label) [][]page.Point {
	along := lengthsAlong(points)
	var out [][]page.Point
	var piece []page.Point
	flush := func() {
		if len(piece) > 1 {
			out = append(out, piece)
		}
		piece = nil
	}
	gaps := slices.Clone(labels)
	slices.SortFunc(gaps, func(a, b Label) int { return cmp.Compare(a.From, b.From) })
	g := 0
	inside := false
	for i := range points {
		if i > 0 {
			for g < len(gaps) {
				edge := gaps[g].From
				if inside {
					edge = gaps[g].To
				}
				if edge > along[i] {
					break
				}
				p := between(points[i-1], points[i], share(edge, along[i-1], along[i]))
				if inside {
					piece = []page.Point{p}
					g++
				} else {
					if len(piece) == 0 || piece[len(piece)-1] != p {
						piece = append(piece, p)
					}
					flush()
				}
				inside = !inside
			}
		}
		if !inside && (len(piece) == 0 || piece[len(piece)-1] != points[i]) {
			piece = append(piece, points[i])
		}
	}
	flush()
	return out
}

// leastPiece is the shortest piece of a line, millimetres, that is left between
// labels' figures: shorter ones are specks.
const leastPiece = 0.5

// Clear cuts out of a line that yields what would stand in the way of labels'
// figures, and gives what is left, in order, specks left out.
func Clear(points []page.Point, labels []Label) [][]page.Point {
	if len(points) < 2 {
		return nil
	}
	low, high := points[0], points[0]
	for _, p := range points {
		low = page.At(min(low.X, p.X), min(low.Y, p.Y))
		high = page.At(max(high.X, p.X), max(high.Y, p.Y))
	}
	var boxes []box
	for i := range labels {
		b := labels[i].figures()
		reach := b.half + b.tall
		if b.middle.X+reach >= low.X && b.middle.X-reach <= high.X && b.middle.Y+reach >= low.Y && b.middle.Y-reach <= high.Y {
			boxes = append(boxes, b)
		}
	}
	if boxes == nil {
		return [][]page.Point{points}
	}
	var out [][]page.Point
	var piece []page.Point
	cut := false
	flush := func() {
		if len(piece) > 1 && !(cut && pathLength(piece) < leastPiece) {
			out = append(out, piece)
		}
		piece = nil
	}
	add := func(p page.Point) {
		if len(piece) == 0 || piece[len(piece)-1] != p {
			piece = append(piece, p)
		}
	}
	var cuts [][2]float64
	for i := 1; i < len(points); i++ {
		p, q := points[i-1], points[i]
		cuts = cuts[:0]
		for _, b := range boxes {
			if from, to := b.inside(p, q); from < to {
				cuts = append(cuts, [2]float64{from, to})
			}
		}
		slices.SortFunc(cuts, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
		at := 0.0
		for _, c := range cuts {
			if c[0] > at {
				add(between(p, q, at))
				add(between(p, q, c[0]))
			}
			cut = true
			flush()
			at = max(at, c[1])
		}
		if at < 1 {
			add(between(p, q, at))
			add(q)
		}
	}
	flush()
	return out
}
