package contour

// The joiner: strips come in order from the top, and the open chains of each
// are hung on those of the strips above at the seam they share. A line that
// is still open is a list of its pieces, so joining two is one step however
// long they are, and every point is copied once, when its line is complete.

// space says where an open line's end is.
type space uint8

const (
	fixed  space = iota // ended for good: the data's edge or a void
	above               // on the seam with the strips already joined
	top                 // on the same seam, from the strip being joined
	bottom              // on the seam below that strip
)

type end struct {
	space space
	index int32
}

type piece struct {
	points []Position
	next   *piece
}

// partial is a line not yet complete.
type partial struct {
	number      int32
	head, tail  end
	first, last *piece
}

type joiner struct {
	levels Levels
	seam   []*partial // by node of the seam: the line that ends there, or nil
	emit   func(Line) error
}

// add joins one more strip and emits the lines it completes.
func (j *joiner) add(t *traced, isFirst, isLast bool) error {
	for i := range t.lines {
		if err := j.emit(t.lines[i]); err != nil {
			return err
		}
	}
	ends := map[space][]*partial{above: j.seam, top: nil, bottom: nil}
	if !isFirst {
		ends[top] = make([]*partial, t.firstRow)
	}
	if !isLast {
		ends[bottom] = make([]*partial, t.nodes-t.lastRow)
	}
	locate := func(n int32) end {
		switch {
		case n < t.firstRow && !isFirst:
			return end{top, n}
		case n >= t.lastRow && n < t.nodes && !isLast:
			return end{bottom, n - t.lastRow}
		}
		return end{}
	}
	hang := func(p *partial, e end) {
		if e.space != fixed {
			ends[e.space][e.index] = p
		}
	}
	for i := range t.open {
		c := &t.open[i]
		only := &piece{points: c.points}
		p := &partial{number: c.number, head: locate(c.head), tail: locate(c.tail), first: only, last: only}
		hang(p, p.head)
		hang(p, p.tail)
	}
	finish := func(p *partial) error {
		if p.head.space != fixed || p.tail.space != fixed {
			return nil
		}
		return j.complete(p, false)
	}
	for i := range ends[top] {
		old, new := ends[above][i], ends[top][i]
		here, there := end{above, int32(i)}, end{top, int32(i)}
		var into, from *partial // the line that comes to the seam, the one that goes on
		switch {
		case old == nil && new == nil:
			continue
		case old == nil || new == nil:
			p := old
			if p == nil {
				p = new
			}
			if p.head == here || p.head == there {
				p.head = end{}
			} else {
				p.tail = end{}
			}
			if err := finish(p); err != nil {
				return err
			}
			continue
		case old.tail == here:
			into, from = old, new
		default:
			into, from = new, old
		}
		if into == from {
			if err := j.complete(into, true); err != nil {
				return err
			}
			continue
		}
		into.last.next = from.first
		into.last = from.last
		into.tail = from.tail
		hang(into, into.tail)
		if err := finish(into); err != nil {
			return err
		}
	}
	for _, p := range ends[bottom] {
		if p == nil {
			continue
		}
		if p.head.space == bottom {
			p.head.space = above
		}
		if p.tail.space == bottom {
			p.tail.space = above
		}
	}
	j.seam = ends[bottom]
	return nil
}

// complete puts a line together and emits it.
func (j *joiner) complete(p *partial, closed bool) error {
	n := 1
	for q := p.first; q != nil; q = q.next {
		n += len(q.points)
	}
	points := make([]Position, 0, n)
	for q := p.first; q != nil; q = q.next {
		part := q.points
		if m := len(points); m > 0 && points[m-1] == part[0] {
			part = part[1:]
		}
		points = append(points, part...)
	}
	if m := len(points); closed && points[m-1] != points[0] {
		points = append(points, points[0])
	}
	if m := len(points); m < 2 || (points[m-1] == points[0] && m < 4) {
		return nil // all at one post
	}
	line := lineAt(j.levels, p.number)
	line.Points = points
	line.close()
	return j.emit(line)
}
