package sheet

import (
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"

	"crowline/contour"
)

const contourNumberSize = 6.5 // points

// PageContour is a contour line, or a piece of one, on a page.
type PageContour struct {
	Line   *contour.Line
	Points []Point
	// Mirrored: as the points run on the page, lower ground is on their right
	// and not on their left, since the grid is stored the other way about.
	Mirrored bool
}

// NumberedContours are contour lines broken for the numbers of the index lines.
type NumberedContours struct {
	// Drawn is what is left to draw of each line, in the order given. Index
	// lines are cut to the frame.
	Drawn [][][]Point
	// Ticks stand on depression contours, toward the low ground.
	Ticks   [][]Point
	Numbers []Text
}

// NumberContours finds places for the elevations of index lines, in gaps of
// theirs, and breaks the other lines that the figures would stand on. Numbers
// are kept inside the frame. See contour.PlaceLabels for where they go.
func NumberContours(lines []PageContour, frame Rect, style Style, reading contour.Reading) NumberedContours {
	return numberContours(lines, frame, style.filled(), reading, nil, nil)
}

// numberContours also keeps numbers clear of what is on the page: rectangles,
// and ruled lines, which are not broken.
func numberContours(lines []PageContour, frame Rect, style Style, reading contour.Reading, taken []Rect, ruled [][]Point) NumberedContours {
	var page []contour.PageLine
	var owner []int
	for i, l := range lines {
		if l.Line.Kind != contour.Index {
			page, owner = append(page, contour.PageLine{Points: pagePoints(l.Points, l.Mirrored), Yields: true}), append(owner, i)
			continue
		}
		ls := make(orb.LineString, len(l.Points))
		for k, q := range l.Points {
			ls[k] = orb.Point{q.X, q.Y}
		}
		for _, piece := range clip.LineString(frame.bound(), ls) {
			if len(piece) < 2 {
				continue
			}
			pl := contour.PageLine{Number: l.Line.Number,
				TextWidth: TextWidth(l.Line.Label(), Regular, contourNumberSize),
				Points:    make([]contour.PagePoint, len(piece))}
			for k, q := range piece {
				if l.Mirrored { // higher ground must be on the right
					k = len(piece) - 1 - k
				}
				pl.Points[k] = contour.PagePoint{X: q[0], Y: q[1]}
			}
			page, owner = append(page, pl), append(owner, i)
		}
	}
	contours := len(page)
	for _, l := range ruled {
		page = append(page, contour.PageLine{Points: pagePoints(l, false)})
	}
	options := contour.LabelOptions{TextHeight: capHeight(contourNumberSize), Reading: reading}
	avoid := func(r Rect) {
		options.Avoid = append(options.Avoid, [2]contour.PagePoint{{X: r.X, Y: r.Y}, {X: r.Right(), Y: r.Bottom()}})
	}
	for _, r := range taken {
		avoid(r)
	}
	// The paper beyond the frame, so that no number sticks out over it.
	f, out := frame, 50.0
	for _, r := range []Rect{{f.X - out, f.Y - out, out, f.Height + 2*out}, {f.Right(), f.Y - out, out, f.Height + 2*out},
		{f.X - out, f.Y - out, f.Width + 2*out, out}, {f.X - out, f.Bottom(), f.Width + 2*out, out}} {
		avoid(r)
	}
	placed := contour.PlaceLabels(page, options)
	drawn := NumberedContours{Drawn: make([][][]Point, len(lines))}
	next := 0
	for i, pl := range page[:contours] {
		parts := [][]contour.PagePoint(nil)
		if pl.Yields {
			parts = contour.Clear(pl.Points, placed)
		} else {
			first := next
			for next < len(placed) && placed[next].Line == i {
				next++
			}
			parts = contour.Broken(pl.Points, placed[first:next])
		}
		for _, part := range parts {
			pts := make([]Point, len(part))
			for k, q := range part {
				pts[k] = Point(q)
			}
			drawn.Drawn[owner[i]] = append(drawn.Drawn[owner[i]], pts)
		}
	}
	for _, l := range lines {
		if !l.Line.Depression {
			continue
		}
		for _, tick := range depressionTicks(l) {
			p, q := contour.PagePoint(tick[0]), contour.PagePoint(tick[1])
			under := false
			for k := range placed {
				under = under || placed[k].Meets(p, q)
			}
			if !under {
				drawn.Ticks = append(drawn.Ticks, tick)
			}
		}
	}
	for _, l := range placed {
		drawn.Numbers = append(drawn.Numbers, Text{At: Point{l.X, l.Y}, String: lines[owner[l.Line]].Line.Label(), Size: contourNumberSize,
			Align: AlignCenter, Rise: RiseMiddle, Turn: -l.Angle, Color: style.Index.Color})
	}
	return drawn
}

func pagePoints(points []Point, turned bool) []contour.PagePoint {
	out := make([]contour.PagePoint, len(points))
	for i, q := range points {
		if turned {
			i = len(points) - 1 - i
		}
		out[i] = contour.PagePoint(q)
	}
	return out
}

// depressionTicks stand on a depression's line, toward the low ground.
func depressionTicks(l PageContour) [][]Point {
	const apart, long = 3.0, 0.9
	low := long // to the left
	if l.Mirrored {
		low = -long
	}
	var out [][]Point
	due := apart / 2
	for i := 1; i < len(l.Points); i++ {
		a, b := l.Points[i-1], l.Points[i]
		d := a.away(b)
		if d == 0 {
			continue
		}
		u := Point{(b.X - a.X) / d, (b.Y - a.Y) / d}
		for ; due <= d; due += apart {
			q := a.step(u, due)
			out = append(out, []Point{q, q.step(u.left(), low)})
		}
		due -= d
	}
	if out == nil && len(l.Points) > 1 { // a very small one still gets a tick
		a, b := l.Points[0], l.Points[1]
		if d := a.away(b); d > 0 {
			u := Point{(b.X - a.X) / d, (b.Y - a.Y) / d}
			out = append(out, []Point{a, a.step(u.left(), low)})
		}
	}
	return out
}
