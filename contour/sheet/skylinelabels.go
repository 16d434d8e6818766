package sheet

import (
	"math"

	"crowline/contour/page"
	"crowline/visibility"
)

// labels names the peaks of a row above the line, each tied to its top by a
// thin upright, and tells which found room. No label lies on another, on an
// upright or on the ground.
func (d *SkylineDrawing) labels(pg *page.Page, s skylineScale) (placed []int) {
	const (
		air  = 0.7 // millimetres between labels
		lift = 1.6 // of a label above its top, at least
		rise = 0.8 // from one try to the next
		lead = skylineLabel * page.PointMM * 1.15
	)
	ground := d.profileOnPaper(s)
	var boxes, uprights []page.Rect
	free := func(box, upright page.Rect) bool {
		for _, b := range boxes {
			if box.Overlaps(b) || upright.Overlaps(b) {
				return false
			}
		}
		for _, u := range uprights {
			if box.Overlaps(u) {
				return false
			}
		}
		return true
	}
	for i, p := range d.Peaks {
		at := math.Mod(float64(p.Bearing)-s.from+720, 360) + s.from
		if at > s.from+s.span || math.IsNaN(float64(p.Angle)) {
			continue
		}
		top := page.At(s.x(at), s.y(float64(p.Angle)))
		first, second := d.Units.Elevation(p.Elevation), d.Units.Distance(p.Distance)
		face := page.Regular
		if p.Name != "" {
			face, first, second = page.Bold, p.Name, first+", "+second
		}
		w := math.Max(page.TextWidth(first, face, skylineLabel), page.TextWidth(second, page.Regular, skylineLabel))
		tall := 2 * lead
		// Right of its upright, left of it, or across it; the lowest place
		// that is free.
		var best page.Rect
		var bestAlign page.Align
		found := false
		for _, c := range []struct {
			x     float64
			align page.Align
		}{{top.X + 0.6, page.AlignLeft}, {top.X - w - 0.6, page.AlignRight}, {top.X - w/2, page.AlignCenter}} {
			if c.x < s.box.X+0.5 || c.x+w > s.box.Right()-0.5 {
				continue
			}
			start := math.Min(top.Y-lift, ground.highest(c.x, c.x+w)-0.8)
			for bottom := start; bottom-tall >= s.box.Y+0.6; bottom -= rise {
				if found && bottom <= best.Bottom() {
					break // an earlier place is as low
				}
				box := page.Box(c.x, bottom-tall, w, tall)
				upright := page.Box(top.X-0.25, box.Y, 0.5, top.Y-box.Y)
				if c.align == page.AlignCenter {
					upright.Y, upright.Height = bottom, top.Y-bottom
				}
				if free(box.Inset(-air), upright) {
					best, bestAlign, found = box, c.align, true
					break
				}
			}
		}
		if !found {
			continue
		}
		placed = append(placed, i)
		boxes = append(boxes, best)
		end := best.Y + 0.4
		if bestAlign == page.AlignCenter {
			end = best.Bottom() + 0.3
		}
		uprights = append(uprights, page.Box(top.X-0.25, end, 0.5, top.Y-end))
		pg.Line(0.12, page.Faint, top, page.At(top.X, end))
		pg.Add(page.Fill{Rings: [][]page.Point{page.Circle(top, 0.4)}, Color: page.Ink})
		x := map[page.Align]float64{page.AlignLeft: best.X, page.AlignRight: best.X + w, page.AlignCenter: top.X}[bestAlign]
		for k, line := range []struct {
			text string
			face page.Face
		}{{first, face}, {second, page.Regular}} {
			pg.Add(page.Text{At: page.At(x, best.Y+float64(k+1)*lead-0.25*skylineLabel*page.PointMM), String: line.text, Face: line.face, Size: skylineLabel,
				Align: bestAlign, Color: page.Ink, Halo: 0.35, HaloColor: page.White})
		}
	}
	return placed
}

// paperProfile is the line of a row on paper, from left to right.
type paperProfile []page.Point

func (d *SkylineDrawing) profileOnPaper(s skylineScale) paperProfile {
	var out paperProfile
	d.runs(s, func(b float64, p visibility.HorizonPoint, _ bool) {
		if !math.IsNaN(float64(p.Angle)) {
			out = append(out, page.At(s.x(b), s.y(float64(p.Angle))))
		}
	})
	return out
}

// highest is the least Y between two places across the page; the foot of any
// page where there is no line.
func (f paperProfile) highest(from, to float64) float64 {
	y := math.Inf(1)
	for i, q := range f {
		near := q.X >= from && q.X <= to
		// the points on either side count too: the line runs on to them
		near = near || i+1 < len(f) && q.X < from && f[i+1].X >= from
		near = near || i > 0 && q.X > to && f[i-1].X <= to
		if near {
			y = math.Min(y, q.Y)
		}
	}
	return y
}
