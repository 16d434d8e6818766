package sheet

import (
	"cmp"
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"

	"crowline/contour"
	"crowline/contour/page"
)

const contourNumberSize = 6.5 // points

// PageContour is a contour line, or a piece of one, on a page.
type PageContour struct {
	Line   *contour.Line
	Points []page.Point
	// Mirrored: as the points run on the page, lower ground is on their right
	// and not on their left, since the grid is stored the other way about.
	Mirrored bool
}

// NumberedContours are contour lines broken for the numbers of the index lines.
type NumberedContours struct {
	// Drawn is what is left to draw of each line, in the order given. Index
	// lines are cut to the frame.
	Drawn [][][]page.Point
	// Ticks stand on depression contours, toward the low ground.
	Ticks   [][]page.Point
	Numbers []page.Text

	levels int // how many different ones
}

// numberContours finds places for the elevations of index lines, in gaps of
// theirs, and breaks the other lines that the figures would stand on. Numbers
// are kept inside the frame, and clear of what is on the page: rectangles, and
// ruled lines, which are not broken. See PlaceLabels for where they go. Where the
// index lines carry fewer than least different numbers, it numbers other levels
// as well, one after another and the one with the most line on the page first,
// until there are so many. Where most is above 0, no more numbers than that are
// set, far apart.
func numberContours(lines []PageContour, frame page.Rect, style Style, reading Reading, taken []page.Rect, ruled [][]page.Point, least, most int) NumberedContours {
	also := map[int]bool{}
	out := numberLevels(lines, frame, style, reading, taken, ruled, also, most)
	if out.levels >= least {
		return out
	}
	length := map[int]float64{}
	var others []int
	for _, l := range lines {
		if l.Line.Kind == contour.Intermediate {
			if _, ok := length[l.Line.Number]; !ok {
				others = append(others, l.Line.Number)
			}
			length[l.Line.Number] += pathLength(l.Points)
		}
	}
	slices.SortFunc(others, func(a, b int) int { return cmp.Or(cmp.Compare(length[b], length[a]), cmp.Compare(a, b)) })
	for _, number := range others {
		also[number] = true
		if out = numberLevels(lines, frame, style, reading, taken, ruled, also, most); out.levels >= least {
			break
		}
	}
	return out
}

// numberLevels numbers the index lines, and the levels of also.
func numberLevels(lines []PageContour, frame page.Rect, style Style, reading Reading, taken []page.Rect, ruled [][]page.Point, also map[int]bool, most int) NumberedContours {
	var on []PageLine
	var owner []int
	for i, l := range lines {
		if l.Line.Kind != contour.Index && !also[l.Line.Number] {
			on, owner = append(on, PageLine{Points: pagePoints(l.Points, l.Mirrored), Yields: true}), append(owner, i)
			continue
		}
		ls := make(orb.LineString, len(l.Points))
		for k, q := range l.Points {
			ls[k] = orb.Point{q.X, q.Y}
		}
		for _, piece := range clip.LineString(frame.Bound(), ls) {
			if len(piece) < 2 {
				continue
			}
			pl := PageLine{Number: l.Line.Number,
				TextWidth: page.TextWidth(l.Line.Label(), page.Regular, contourNumberSize),
				Points:    make([]page.Point, len(piece))}
			for k, q := range piece {
				if l.Mirrored { // higher ground must be on the right
					k = len(piece) - 1 - k
				}
				pl.Points[k] = page.At(q[0], q[1])
			}
			on, owner = append(on, pl), append(owner, i)
		}
	}
	contours := len(on)
	for _, l := range ruled {
		on = append(on, PageLine{Points: pagePoints(l, false)})
	}
	options := LabelOptions{TextHeight: page.CapHeight(contourNumberSize), Reading: reading}
	avoid := func(r page.Rect) {
		options.Avoid = append(options.Avoid, [2]page.Point{page.At(r.X, r.Y), page.At(r.Right(), r.Bottom())})
	}
	for _, r := range taken {
		avoid(r)
	}
	// The paper beyond the frame, so that no number sticks out over it.
	f, out := frame, 50.0
	for _, r := range []page.Rect{page.Box(f.X-out, f.Y-out, out, f.Height+2*out), page.Box(f.Right(), f.Y-out, out, f.Height+2*out),
		page.Box(f.X-out, f.Y-out, f.Width+2*out, out), page.Box(f.X-out, f.Bottom(), f.Width+2*out, out)} {
		avoid(r)
	}
	placed := PlaceLabels(on, options)
	if most > 0 {
		placed = farApart(placed, frame.Centre(), most, func(l Label) int { return on[l.Line].Number })
	}
	drawn := NumberedContours{Drawn: make([][][]page.Point, len(lines))}
	next := 0
	for i, pl := range on[:contours] {
		parts := [][]page.Point(nil)
		if pl.Yields {
			parts = Clear(pl.Points, placed)
		} else {
			first := next
			for next < len(placed) && placed[next].Line == i {
				next++
			}
			parts = Broken(pl.Points, placed[first:next])
		}
		drawn.Drawn[owner[i]] = append(drawn.Drawn[owner[i]], parts...)
	}
	for _, l := range lines {
		if !l.Line.Depression {
			continue
		}
		for _, tick := range depressionTicks(l) {
			under := false
			for k := range placed {
				under = under || placed[k].Meets(tick[0], tick[1])
			}
			if !under {
				drawn.Ticks = append(drawn.Ticks, tick)
			}
		}
	}
	different := map[int]bool{}
	for _, l := range placed {
		different[lines[owner[l.Line]].Line.Number] = true
		drawn.Numbers = append(drawn.Numbers, page.Text{At: page.At(l.X, l.Y), String: lines[owner[l.Line]].Line.Label(), Size: contourNumberSize,
			Align: page.AlignCenter, Rise: page.RiseMiddle, Turn: -l.Angle, Color: style.Index.Color})
	}
	drawn.levels = len(different)
	return drawn
}

// farApart picks some of the labels: the one nearest the middle, then another
// level's, then each time the one farthest from those picked. They keep their
// order.
func farApart(labels []Label, middle page.Point, most int, level func(Label) int) []Label {
	if len(labels) <= most {
		return labels
	}
	picked := make([]bool, len(labels))
	away := make([]float64, len(labels)) // from the nearest picked
	next, best := 0, math.Inf(1)
	for i, l := range labels {
		away[i] = math.Inf(1)
		if d := middle.Away(page.At(l.X, l.Y)); d < best {
			next, best = i, d
		}
	}
	first := level(labels[next])
	for n := 1; ; n++ {
		picked[next] = true
		at := page.At(labels[next].X, labels[next].Y)
		for i, l := range labels {
			away[i] = min(away[i], at.Away(page.At(l.X, l.Y)))
		}
		if n == most {
			break
		}
		next, best = -1, 0
		for i, l := range labels {
			if !picked[i] && away[i] > best && (n > 1 || level(l) != first) {
				next, best = i, away[i]
			}
		}
		if next < 0 && n == 1 { // all of one level
			for i := range labels {
				if !picked[i] && away[i] > best {
					next, best = i, away[i]
				}
			}
		}
		if next < 0 {
			break
		}
	}
	var out []Label
	for i, l := range labels {
		if picked[i] {
			out = append(out, l)
		}
	}
	return out
}

func pagePoints(points []page.Point, turned bool) []page.Point {
	out := make([]page.Point, len(points))
	for i, q := range points {
		if turned {
			i = len(points) - 1 - i
		}
		out[i] = q
	}
	return out
}

// depressionTicks stand on a depression's line, toward the low ground.
func depressionTicks(l PageContour) [][]page.Point {
	const apart, long = 3.0, 0.9
	low := long // to the left
	if l.Mirrored {
		low = -long
	}
	var out [][]page.Point
	due := apart / 2
	for i := 1; i < len(l.Points); i++ {
		a, b := l.Points[i-1], l.Points[i]
		d := a.Away(b)
		if d == 0 {
			continue
		}
		u := page.At((b.X-a.X)/d, (b.Y-a.Y)/d)
		for ; due <= d; due += apart {
			q := a.Step(u, due)
			out = append(out, []page.Point{q, q.Step(u.Left(), low)})
		}
		due -= d
	}
	if out == nil && len(l.Points) > 1 { // a very small one still gets a tick
		a, b := l.Points[0], l.Points[1]
		if d := a.Away(b); d > 0 {
			u := page.At((b.X-a.X)/d, (b.Y-a.Y)/d)
			out = append(out, []page.Point{a, a.Step(u.Left(), low)})
		}
	}
	return out
}
