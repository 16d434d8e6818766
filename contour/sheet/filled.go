package sheet

import (
	"math"

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
// that would else have none near them, so that none is too small to show.
func filledDots(frame Rect, on func(q Point) bool, posts []Point) []Point {
	var dots []Point
	cell := func(q Point) [2]int {
		return [2]int{int(math.Floor(q.X / filledWithin)), int(math.Floor(q.Y / filledWithin))}
	}
	near := map[[2]int][]Point{}
	add := func(q Point) {
		dots = append(dots, q)
		near[cell(q)] = append(near[cell(q)], q)
	}
	if len(posts) == 0 {
		return nil
	}
	for j := 0; ; j++ {
		y := frame.Y + filledGap/2 + float64(j)*filledGap
		if y > frame.Bottom() {
			break
		}
		for x := frame.X + filledGap/2 + float64(j%2)*filledGap/2; x <= frame.Right(); x += filledGap {
			if q := (Point{x, y}); on(q) {
				add(q)
			}
		}
	}
	for _, q := range posts {
		if !frame.Contains(q) {
			continue
		}
		c, found := cell(q), false
		for i := -1; i <= 1 && !found; i++ {
			for j := -1; j <= 1 && !found; j++ {
				for _, o := range near[[2]int{c[0] + i, c[1] + j}] {
					found = found || q.away(o) <= filledWithin
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
func drawFilledDots(page *Page, dots []Point) {
	var rings, marks [][]Point
	for _, q := range dots {
		rings = append(rings, circle(q, filledRing))
		marks = append(marks, circle(q, filledDot))
	}
	page.Add(Fill{Rings: rings, Color: Color{R: 255, G: 255, B: 255, A: 200}}, Fill{Rings: marks, Color: vermillion})
}

// filledSample is the sign in a key.
func filledSample(page *Page, r Rect) {
	drawFilledDots(page, filledDots(r, func(Point) bool { return true }, []Point{r.Centre()}))
	page.Frame(0.1, faint, r)
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
	var at []Point
	var err error
	filledPosts(posts, w, func(column, row int) {
		p, failed := f.Place(float64(column), float64(row))
		if failed == nil {
			var q Point
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
	dots := filledDots(m.frame, func(q Point) bool {
		column, row, ok := m.ground.at(Point{q.X - c.X, q.Y - c.Y})
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

// filled dots the map's filled posts and reports whether there was any.
func (m *seenPanel) filled() {
	if len(m.filledAt) == 0 {
		return
	}
	w := m.Window
	dots := filledDots(m.labels.frame, func(q Point) bool {
		i, ok := m.nearest(q)
		return ok && m.Ground.IsFilled(w.Column+i%w.Columns, w.Row+i/w.Columns)
	}, m.filledAt)
	page := m.labels.page
	page.Open("filled", "Ground filled in")
	page.Clip(m.labels.frame)
	drawFilledDots(page, dots)
	page.Unclip()
	page.Close()
}
