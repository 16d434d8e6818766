package sheet

import (
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"

	"crowline/contour"
)

const contourNumberSize = 6.5 // points

// contourLabels places the index lines' numbers and breaks the lines for them:
// gapped[i] is line i cut to the frame with its gaps, for index lines alone.
func (m *mapPanel) contourLabels(lines []paperLine) (labels []Text, gapped [][][]Point) {
	gapped = make([][][]Point, len(lines))
	var page []contour.PageLine
	var owner []int
	for i, l := range lines {
		if l.line.Kind != contour.Index {
			continue
		}
		ls := make(orb.LineString, len(l.points))
		for k, q := range l.points {
			ls[k] = orb.Point{q.X, q.Y}
		}
		for _, piece := range clip.LineString(m.frame.bound(), ls) {
			if len(piece) < 2 {
				continue
			}
			pl := contour.PageLine{Number: l.line.Number,
				TextWidth: TextWidth(l.line.Label(), Regular, contourNumberSize),
				Points:    make([]contour.PagePoint, len(piece))}
			for k, q := range piece {
				if l.low < 0 { // higher ground must be on the right
					k = len(piece) - 1 - k
				}
				pl.Points[k] = contour.PagePoint{X: q[0], Y: q[1]}
			}
			page, owner = append(page, pl), append(owner, i)
		}
	}
	options := contour.LabelOptions{TextHeight: capHeight(contourNumberSize), Reading: m.plan.ContourReading}
	for _, r := range m.taken {
		options.Avoid = append(options.Avoid, [2]contour.PagePoint{{X: r.X, Y: r.Y}, {X: r.Right(), Y: r.Bottom()}})
	}
	// The paper beyond the frame, so that no number sticks out over it.
	f, out := m.frame, 50.0
	for _, r := range []Rect{{f.X - out, f.Y - out, out, f.Height + 2*out}, {f.Right(), f.Y - out, out, f.Height + 2*out},
		{f.X - out, f.Y - out, f.Width + 2*out, out}, {f.X - out, f.Bottom(), f.Width + 2*out, out}} {
		options.Avoid = append(options.Avoid, [2]contour.PagePoint{{X: r.X, Y: r.Y}, {X: r.Right(), Y: r.Bottom()}})
	}
	placed := contour.PlaceLabels(page, options)
	next := 0
	for i, pl := range page {
		first := next
		for next < len(placed) && placed[next].Line == i {
			next++
		}
		for _, part := range contour.Broken(pl.Points, placed[first:next]) {
			pts := make([]Point, len(part))
			for k, q := range part {
				pts[k] = Point(q)
			}
			gapped[owner[i]] = append(gapped[owner[i]], pts)
		}
	}
	for _, l := range placed {
		labels = append(labels, Text{At: Point{l.X, l.Y}, String: lines[owner[l.Line]].line.Label(), Size: contourNumberSize,
			Align: AlignCenter, Rise: RiseMiddle, Turn: -l.Angle, Color: m.plan.Style.Index.Color})
	}
	return labels, gapped
}
