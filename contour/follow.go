package contour

import "math"

// follow collects the lines.
func (w *worker) follow(s *strip, out *traced) {
	seam := func(n int32) bool {
		return (n < out.firstRow && s.above != nil) || (n >= out.lastRow && n < out.nodes && s.below != nil)
	}
	points := make([]Position, 0, len(w.nodes)/2+len(w.nodes)/4)
	seamPoints := make([]Position, 0, len(w.nodes)/2)
	type span struct{ from, to int }
	var spans, seamSpans []span
	nodes := w.nodes
	for i := range nodes {
		if nodes[i].prev != none || nodes[i].next == none {
			continue
		}
		from := len(points)
		var tail int32
		points, tail = w.collect(points, int32(i))
		switch {
		case seam(int32(i)) || seam(tail):
			out.open = append(out.open, chain{number: w.numbers[i], head: int32(i), tail: tail})
			start := len(seamPoints)
			seamPoints = append(seamPoints, points[from:]...)
			seamSpans = append(seamSpans, span{start, len(seamPoints)})
			points = points[:from]
		case len(points)-from < 2: // all at one post
			points = points[:from]
		default:
			out.lines = append(out.lines, w.line(w.numbers[i]))
			spans = append(spans, span{from, len(points)})
		}
	}
	for i := range nodes {
		if nodes[i].next == none {
			continue
		}
		from := len(points)
		points, _ = w.collect(points, int32(i))
		if n := len(points); n-from > 1 && points[n-1] == points[from] {
			points = points[:n-1] // the start was one of several nodes at a post
		}
		if len(points)-from < 3 {
			points = points[:from]
			continue
		}
		points = append(points, points[from])
		out.lines = append(out.lines, w.line(w.numbers[i]))
		spans = append(spans, span{from, len(points)})
	}
	for i, s := range spans {
		out.lines[i].Points = points[s.from:s.to:s.to]
		out.lines[i].close()
	}
	for i, s := range seamSpans {
		out.open[i].points = seamPoints[s.from:s.to:s.to]
	}
	for _, t := range w.touches {
		line := w.line(t.number)
		line.Touch = true
		p := Position{float64(t.column), float64(t.row)}
		q := p
		if t.alongRow {
			q.Column++
		} else {
			q.Row++
		}
		line.Points = []Position{p, q}
		out.lines = append(out.lines, line)
	}
}

// collect appends the points from a node to its chain's end, each once,
// takes the nodes out of use, and gives the last one.
func (w *worker) collect(points []Position, i int32) (out []Position, tail int32) {
	last := Position{math.NaN(), 0}
	for i != none {
		n := &w.nodes[i]
		if n.at != last {
			points = append(points, n.at)
			last = n.at
		}
		tail = i
		i, n.next = n.next, none
	}
	return points, tail
}

func (w *worker) line(number int32) Line { return lineAt(w.levels, number) }

func lineAt(l Levels, number int32) Line {
	j := int(number)
	return Line{Level: l.Elevation(j), Number: j, Value: l.Value(j), Kind: l.Kind(j)}
}
