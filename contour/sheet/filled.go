package sheet

import (
	"math"

	"crowline/contour/page"
	"crowline/dem"
)

// Filled ground is dotted: it was void, and what is drawn there was made from
// the rim of the void (dem.Filled). Dots tell from the hatching of voids and
// of hidden ground in grey too.
const (
	filledGap    = 1.4  // mm between dots along a row, and between rows
	filledDot    = 0.27 // mm, the dot's radius
	filledRing   = 0.44 // mm, of the white round it, which carries it over dark tints
	filledWithin = 1.0  // mm from a filled post to the nearest dot, at most
)

// filledKey is what a key says of the dots.
const filledKey = "Filled in from the rim of a void: not measured"

// filledDots is where the dots of filled ground stand in a frame: on a
// staggered lattice where on says that the ground is filled, and at posts
// that would else have none near them, so that none is too small to show. A row
// and a column of the lattice pass half a gap beside origin, so that the dots of
// tiles with one origin are one lattice; spare, millimetres, is how far beyond the
// frame they go, for a dot that an edge cuts stands in both tiles.
func filledDots(frame page.Rect, origin page.Point, spare float64, on func(q page.Point) bool, posts []page.Point) []page.Point {
	var dots []page.Point
	cell := func(q page.Point) [2]int {
		return [2]int{int(math.Floor(q.X / filledWithin)), int(math.Floor(q.Y / filledWithin))}
	}
	near := map[[2]int][]page.Point{}
	add := func(q page.Point) {
		dots = append(dots, q)
		near[cell(q)] = append(near[cell(q)], q)
	}
	if len(posts) == 0 {
		return nil
	}
	// the first dot at or after from, of those a gap apart
	first := func(from, of float64) int { return int(math.Ceil((from-of)/filledGap - 1e-9)) }
	for j := first(frame.Y-spare, origin.Y+filledGap/2); ; j++ {
		y := origin.Y + filledGap/2 + float64(j)*filledGap
		if y > frame.Bottom()+spare {
			break
		}
		along := origin.X + filledGap/2 + float64(j&1)*filledGap/2
		for i := first(frame.X-spare, along); ; i++ {
			x := along + float64(i)*filledGap
			if x > frame.Right()+spare {
				break
			}
			if q := (page.At(x, y)); on(q) {
				add(q)
			}
		}
	}
	for _, q := range posts {
		if !page.Box(frame.X-spare, frame.Y-spare, frame.Width+2*spare, frame.Height+2*spare).Contains(q) {
			continue
		}
		c, found := cell(q), false
		for i := -1; i <= 1 && !found; i++ {
			for j := -1; j <= 1 && !found; j++ {
				for _, o := range near[[2]int{c[0] + i, c[1] + j}] {
					found = found || q.Away(o) <= filledWithin
				}
			}
		}
		if !found {
			add(q)
		}
	}
	return dots
}

// drawFilledDots draws them.
func drawFilledDots(pg *page.Page, dots []page.Point) {
	var rings, marks [][]page.Point
	for _, q := range dots {
		rings = append(rings, page.Circle(q, filledRing))
		marks = append(marks, page.Circle(q, filledDot))
	}
	pg.Add(page.Fill{Rings: rings, Color: page.Color{R: 255, G: 255, B: 255, A: 200}}, page.Fill{Rings: marks, Color: page.Vermillion})
}

// filledSample is the sign in a key.
func filledSample(pg *page.Page, r page.Rect) {
	drawFilledDots(pg, filledDots(r, page.At(r.X, r.Y), 0, func(page.Point) bool { return true }, []page.Point{r.Centre()}))
	pg.Frame(0.1, page.Faint, r)
}

// filledPosts calls use with each filled post of a window.
func filledPosts(posts dem.Posts, w dem.Window, use func(column, row int)) {
	for row := w.Row; row < w.Row+w.Rows; row++ {
		for column := w.Column; column < w.Column+w.Columns; column++ {
			if posts.IsFilled(column, row) {
				use(column, row)
			}
		}
	}
}

// filled dots the map's filled ground and reports whether there was any.
func (m *mapPanel) filled() (bool, error) {
	posts := m.plan.Ground
	if posts == nil {
		return false, nil
	}
	f := posts.Layout()
	w := m.ground.window(f)
	var at []page.Point
	var err error
	filledPosts(posts, w, func(column, row int) {
		p, failed := f.Place(float64(column), float64(row))
		if failed == nil {
			var q page.Point
			if q, failed = m.place(p); failed == nil {
				at = append(at, q)
			}
		}
		if err == nil {
			err = failed
		}
	})
	if err != nil || len(at) == 0 {
		return false, err
	}
	c := m.frame.Centre()
	origin, spare := page.At(m.frame.X, m.frame.Y), 0.0
	if m.tileFrom != nil {
		origin, spare = *m.tileFrom, filledRing
	}
	dots := filledDots(m.frame, origin, spare, func(q page.Point) bool {
		column, row, ok := m.ground.at(page.At(q.X-c.X, q.Y-c.Y))
		return ok && dem.FilledAt(posts, column, row)
	}, at)
	if len(dots) == 0 {
		return false, nil
	}
	m.page.Open("filled", "Ground filled in")
	m.page.Clip(m.frame)
	drawFilledDots(m.page, dots)
	m.page.Unclip()
	m.page.Close()
	return true, nil
}
