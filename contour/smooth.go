package contour

import (
	"fmt"
	"math"

	"crowline/dem"
)

// SmoothOptions of Smooth.
type SmoothOptions struct {
	// Levels the lines were traced at.
	Levels Levels
	// Share of the step between levels by which a smoothed line may leave
	// its level; 0.25 when zero. It must be less than a half.
	Share float64
}

const (
	defaultShare = 0.25
	// curvePoints is how many straight pieces stand for each rounded corner.
	curvePoints = 4
	// leastCut is the smallest part of a piece worth rounding off.
	leastCut = 1.0 / 16
)

// Smooth rounds the corners of lines for print. Its lines no longer lie on
// the ground, so nothing is to be measured or counted on them.
//
// Every corner, where a line crosses an edge between two posts, is rounded
// by a curve between points on the two pieces that meet there (half way
// along them, so that the line becomes a quadratic B-spline). The curve cuts
// that edge between the corner and the straight line that joins its two
// ends. If the ground there is off the level by more than the share of a
// step, the curve is made half as long, and so on, or the corner kept.
//
// So a smoothed line is never farther from its level than the share of the
// step, by the elevation where it crosses the edges, and it cannot cross a
// neighbour: with a share under a half, all of it stays on its own side of
// the contour half way to the next level, as that would be drawn. Corners
// on a post and in saddle cells, where two lines of one level come near each
// other, are kept as they are.
func Smooth(posts dem.Posts, lines []Line, o SmoothOptions) ([]Line, error) {
	if err := o.Levels.validate(); err != nil {
		return nil, err
	}
	if o.Share == 0 {
		o.Share = defaultShare
	}
	if !(o.Share > 0 && o.Share < 0.5) {
		return nil, fmt.Errorf("contour: smoothing by %g of the interval: the share must be more than 0 and less than 0.5, or neighbours could cross", o.Share)
	}
	limit := o.Share * o.Levels.step() * o.Levels.Unit.Metres()
	out := make([]Line, len(lines))
	for i := range lines {
		out[i] = lines[i]
		if !lines[i].Touch {
			out[i].Points = smooth(posts, &lines[i], limit)
		}
	}
	if err := posts.Err(); err != nil {
		return nil, fmt.Errorf("contour: smoothing: %w", err)
	}
	return out, nil
}

func smooth(posts dem.Posts, l *Line, limit float64) []Position {
	p := l.Points
	n := len(p)
	out := make([]Position, 0, (curvePoints+1)*n)
	add := func(q Position) {
		if len(out) == 0 || out[len(out)-1] != q {
			out = append(out, q)
		}
	}
	first, last := 1, n-1
	if l.Closed {
		first = 0 // the corner where it closes is one like the others
	} else {
		add(p[0])
	}
	for i := first; i < last; i++ {
		before := p[max(i-1, 0)]
		if i == 0 {
			before = p[n-2]
		}
		corner, after := p[i], p[i+1]
		cut := cutLength(posts, l.Level, before, corner, after, limit)
		if cut == 0 {
			add(corner)
			continue
		}
		a, b := between(corner, before, cut), between(corner, after, cut)
		for k := range curvePoints + 1 {
			t := float64(k) / curvePoints
			add(between(between(a, corner, t), between(corner, b, t), t))
		}
	}
	if l.Closed {
		add(out[0])
	} else {
		add(p[n-1])
	}
	return out
}

func between(p, q Position, f float64) Position {
	return Position{p.Column + f*(q.Column-p.Column), p.Row + f*(q.Row-p.Row)}
}

// cutLength is the share of both pieces at a corner that may be rounded
// off: a half, or less, or 0.
func cutLength(posts dem.Posts, level float64, before, corner, after Position, limit float64) float64 {
	if corner.onPost() {
		return 0
	}
	alongRow := corner.Row == math.Floor(corner.Row)
	c, r := int(math.Floor(corner.Column)), int(math.Floor(corner.Row))
	var p, q float64
	if alongRow {
		p, q = posts.Elevation(c, r), posts.Elevation(c+1, r)
		if saddle(posts, level, c, r) || saddle(posts, level, c, r-1) {
			return 0
		}
	} else {
		p, q = posts.Elevation(c, r), posts.Elevation(c, r+1)
		if saddle(posts, level, c, r) || saddle(posts, level, c-1, r) {
			return 0
		}
	}
	for cut := 0.5; cut >= leastCut; cut /= 2 {
		a, b := between(corner, before, cut), between(corner, after, cut)
		// where the line from a to b cuts the edge
		var fraction float64
		if alongRow {
			x := between(a, b, (corner.Row-a.Row)/(b.Row-a.Row))
			fraction = x.Column - float64(c)
		} else {
			x := between(a, b, (corner.Column-a.Column)/(b.Column-a.Column))
			fraction = x.Row - float64(r)
		}
		if math.Abs(dem.Lerp(p, q, fraction)-level) <= limit {
			return cut
		}
	}
	return 0
}

func (p Position) onPost() bool {
	return p.Column == math.Floor(p.Column) && p.Row == math.Floor(p.Row)
}

// saddle reports whether a level crosses all four edges of a cell.
func saddle(posts dem.Posts, level float64, c, r int) bool {
	tl, tr := posts.Elevation(c, r) >= level, posts.Elevation(c+1, r) >= level
	bl, br := posts.Elevation(c, r+1) >= level, posts.Elevation(c+1, r+1) >= level
	return tl == br && tr == bl && tl != tr
}
