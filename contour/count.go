package contour

import (
	"math"
	"slices"

	"crowline/dem"
)

// Crossed is how many contour lines a path crosses.
type Crossed struct {
	// Up and Down are the lines crossed toward higher and lower ground.
	Up, Down int
	// Rises are the runs of lines crossed upward one after another, with none
	// crossed downward between; Falls the same the other way. A void parts a
	// run.
	Rises, Falls int
	// AtLeast is true when part of the path lies off the posts or in a cell
	// with a void corner: no lines are drawn there, and none are counted.
	AtLeast bool
}

// CountAlong counts the lines that a path crosses: exactly those that Trace
// draws, touches left out. The path is straight from point to point in
// columns and rows; its ends, and its bends, may be anywhere. For a leg over
// the ground they are its two ends and the places where it crosses edges
// between posts (profile.Leg's points), since within a cell no leg bends by
// anything that shows. The cost is that of the cells passed.
//
// On an edge between posts the path is above or below a line as it is to one
// side or the other of the line's point on that edge. So crossings of edges
// are counted as the elevations of a profile rise and fall through the
// levels. Two things are settled inside a cell: an end of the path there,
// by the side of the drawn line it stands on; and a saddle cell, where a
// path may cut through a corner and cross one line twice between two edges,
// once up and once down. Ground on a line counts as above it.
//
// Ascent is another figure of the same leg: it adds up rises from edge to
// edge, and so does not see what a corner of a saddle cell holds between two
// edges. The count is of lines on the map.
//
// Smoothed lines are not on the ground and may be crossed otherwise. With
// Half, supplementary levels count wherever they are, kept for print or not.
// Ask posts for Err before the count is trusted.
func (l Levels) CountAlong(posts dem.Posts, path []Position) Crossed {
	k := counter{levels: l, posts: posts}
	for i := range path {
		if i == 0 {
			k.at = settled(path[0])
			continue
		}
		k.straight(settled(path[i]))
	}
	return k.crossed
}

// onEdge is how near, in cells, to an edge or a post a path counts as on it:
// some way over the rounding of a position, far under what a map shows.
const onEdge = 1e-9

// settled is a position with what is within onEdge of a whole number made so.
func settled(p Position) Position {
	if n := math.Round(p.Column); math.Abs(p.Column-n) <= onEdge {
		p.Column = n
	}
	if n := math.Round(p.Row); math.Abs(p.Row-n) <= onEdge {
		p.Row = n
	}
	return p
}

// counter follows a path from cell to cell.
type counter struct {
	levels  Levels
	posts   dem.Posts
	at      Position
	crossed Crossed
	last    int        // the way the line before was crossed: 1 up, -1 down, 0 none
	between []Position // scratch
}

// up counts lines crossed upward, one after another; down the same downward.
func (k *counter) up(lines int) {
	if lines > 0 {
		k.crossed.Up += lines
		if k.last != 1 {
			k.crossed.Rises++
		}
		k.last = 1
	}
}

func (k *counter) down(lines int) {
	if lines > 0 {
		k.crossed.Down += lines
		if k.last != -1 {
			k.crossed.Falls++
		}
		k.last = -1
	}
}

// level counts the lines between a point that has reached one level and one
// that has reached another.
func (k *counter) level(from, to int) {
	k.up(to - from)
	k.down(from - to)
}

// unknown is where no lines are drawn.
func (k *counter) unknown() { k.crossed.AtLeast, k.last = true, 0 }

// straight goes on to q, edge by edge.
func (k *counter) straight(q Position) {
	p := k.at
	k.between = k.between[:0]
	lines := func(from, to float64, place func(at, share float64) Position) {
		step := 1.0
		if to < from {
			step = -1
		}
		for n := math.Floor(from*step) + 1; n < to*step; n++ {
			k.between = append(k.between, settled(place(n*step, (n*step-from)/(to-from))))
		}
	}
	lines(p.Column, q.Column, func(at, share float64) Position { return Position{at, p.Row + share*(q.Row-p.Row)} })
	lines(p.Row, q.Row, func(at, share float64) Position { return Position{p.Column + share*(q.Column-p.Column), at} })
	forward := func(x Position) float64 {
		return (x.Column-p.Column)*(q.Column-p.Column) + (x.Row-p.Row)*(q.Row-p.Row)
	}
	slices.SortFunc(k.between, func(x, y Position) int {
		switch a, b := forward(x), forward(y); {
		case a < b:
			return -1
		case a > b:
			return 1
		}
		return 0
	})
	for _, x := range k.between {
		k.step(x)
	}
	k.step(q)
}

// step goes on to q, which is in or on a cell that the path is in or on.
func (k *counter) step(q Position) {
	p := k.at
	k.at = q
	if p == q {
		return
	}
	c, r := int(math.Floor((p.Column+q.Column)/2)), int(math.Floor((p.Row+q.Row)/2))
	alongColumn := p.Column == q.Column && p.Column == math.Floor(p.Column)
	alongRow := p.Row == q.Row && p.Row == math.Floor(p.Row)
	if alongColumn || alongRow {
		drawn := k.drawn(c, r)
		if alongColumn {
			drawn = drawn || k.drawn(c-1, r)
		} else {
			drawn = drawn || k.drawn(c, r-1)
		}
		if !drawn {
			k.unknown()
			return
		}
		// An edge may only touch a level that both its ends have reached.
		from, middle, to := k.onEdge(p), k.onEdge(between(p, q, 0.5)), k.onEdge(q)
		k.level(from, middle)
		k.level(middle, to)
		return
	}
	if !k.drawn(c, r) {
		k.unknown()
		return
	}
	u := k.patch(c, r)
	a, b := k.side(p), k.side(q)
	up, down, over := 0, 0, false
	for j := u.lowest() + 1; j <= u.highest(); j++ {
		from, to := u.part(a, j), u.part(b, j)
		switch {
		case from.high != to.high && to.high:
			up++
		case from.high != to.high:
			down++
		case from.corner != to.corner: // over a strip of the other kind
			up, down, over = up+1, down+1, !from.high
		}
	}
	// A straight way goes over a saddle or down through it, not both: all
	// lines one way are crossed before those the other.
	if over {
		k.up(up)
		k.down(down)
		return
	}
	k.down(down)
	k.up(up)
}

// drawn reports whether lines are drawn in a cell: it has no void corner.
func (k *counter) drawn(c, r int) bool {
	for _, i := range corners {
		if math.IsNaN(k.posts.Elevation(c+i[0], r+i[1])) {
			return false
		}
	}
	return true
}

// stand is a point of the path on the border of a cell, or inside it.
type stand struct {
	Position
	inside bool
	level  int // the highest level reached; of a point on an edge
}

func (k *counter) side(p Position) stand {
	if p.Column != math.Floor(p.Column) && p.Row != math.Floor(p.Row) {
		return stand{Position: p, inside: true}
	}
	return stand{Position: p, level: k.onEdge(p)}
}

// onEdge is the highest level whose drawn lines a point on an edge, or on a
// post, has reached.
func (k *counter) onEdge(p Position) int {
	c, r := int(math.Floor(p.Column)), int(math.Floor(p.Row))
	if p.onPost() {
		return k.onPost(c, r)
	}
	alongRow := p.Row == math.Floor(p.Row)
	fraction := p.Row - float64(r)
	low, high := k.posts.Elevation(c, r), 0.0
	if alongRow {
		fraction = p.Column - float64(c)
		high = k.posts.Elevation(c+1, r)
	} else {
		high = k.posts.Elevation(c, r+1)
	}
	if low == high {
		return k.onLevelEdge(c, r, alongRow, low)
	}
	rising := high > low
	// Nodes are compared with the path as positions, rounded alike.
	reached := func(j int) bool {
		node := crossingPoint(float64(c), float64(r), alongRow, k.levels.Elevation(j), low, high)
		x, n := p.Row, node.Row
		if alongRow {
			x, n = p.Column, node.Column
		}
		return x == n || (x > n) == rising
	}
	j := k.levels.Below(dem.Lerp(low, high, fraction))
	least, most := k.levels.Below(min(low, high)), k.levels.Below(max(low, high))
	j = min(max(j, least), most)
	for j < most && reached(j+1) {
		j++
	}
	for j > least && !reached(j) {
		j--
	}
	return j
}

// onLevelEdge is onEdge for an edge whose posts stand equally high. If that
// is on a level, with lower ground on both sides, the edge is a Touch.
func (k *counter) onLevelEdge(c, r int, alongRow bool, elevation float64) int {
	j := k.levels.Below(elevation)
	if k.levels.Elevation(j) != elevation {
		return j
	}
	across := [2]int{1, 0}
	if alongRow {
		across = [2]int{0, 1}
	}
	sides := 0
	for _, s := range [2]int{-1, 1} {
		dc, dr := s*across[0], s*across[1]
		p := k.posts.Elevation(c+dc, r+dr)
		q := k.posts.Elevation(c+dc+across[1], r+dr+across[0])
		if math.IsNaN(p) || math.IsNaN(q) {
			continue
		}
		if p >= elevation || q >= elevation {
			return j
		}
		sides++
	}
	if sides == 2 {
		return j - 1
	}
	return j // a line drawn along the border of the ground
}

// onPost is onEdge for a post. One that stands on a level has reached it only
// if a line passes through it or higher ground is all round: not if it is the
// only post on the level, or the end of touches.
func (k *counter) onPost(c, r int) int {
	h := k.posts.Elevation(c, r)
	j := k.levels.Below(h)
	if k.levels.Elevation(j) != h {
		return j
	}
	for _, dc := range [2]int{-1, 1} {
		for _, dr := range [2]int{-1, 1} {
			p, q, far := k.posts.Elevation(c+dc, r), k.posts.Elevation(c, r+dr), k.posts.Elevation(c+dc, r+dr)
			if math.IsNaN(p) || math.IsNaN(q) || math.IsNaN(far) {
				continue
			}
			// An edge on the level with lower ground on this side of it is
			// drawn if it is the border of the ground; else the other side
			// says.
			if p >= h && !(p == h && q < h && far < h && !math.IsNaN(k.posts.Elevation(c, r-dr)) && !math.IsNaN(k.posts.Elevation(c+dc, r-dr))) {
				return j
			}
			if q >= h && !(q == h && p < h && far < h && !math.IsNaN(k.posts.Elevation(c-dc, r)) && !math.IsNaN(k.posts.Elevation(c-dc, r+dr))) {
				return j
			}
		}
	}
	return j - 1
}
