package sheet

import (
	"math"

	"crowline/contour/page"
	"crowline/dem/units"
	"crowline/visibility"
)

// skylineScale is where angles stand on paper.
type skylineScale struct {
	box          page.Rect
	from, span   float64 // degrees of bearing
	lowest       float64 // degrees of angle at the box's foot
	mmX, mmY     float64 // millimetres to the degree
	exaggeration float64
}

func (s skylineScale) x(bearing float64) float64 { return s.box.X + (bearing-s.from)*s.mmX }
func (s skylineScale) y(angle float64) float64   { return s.box.Bottom() - (angle-s.lowest)*s.mmY }

// scale suits all rows: the level of the eye is always on the drawing.
func (d *SkylineDrawing) scale(box page.Rect, span float64) skylineScale {
	lo, hi := 0.0, 0.0
	for _, p := range d.Points {
		if a := float64(p.Angle); !math.IsNaN(a) {
			lo, hi = math.Min(lo, a), math.Max(hi, a)
		}
	}
	s := skylineScale{box: box, span: span, mmX: box.Width / span}
	room := math.Max(box.Height-skylineSky, box.Height*skylineGround)
	s.exaggeration = roundedDown(math.Min(room/(math.Max(hi-lo, 0.01)*s.mmX), skylineSteepest))
	s.mmY = s.mmX * s.exaggeration
	s.lowest = lo - 0.07*box.Height/s.mmY
	return s
}

// roundedDown is the greatest figure of two digits that is easy to work with
// and not above v.
func roundedDown(v float64) float64 {
	ten := math.Pow(10, math.Floor(math.Log10(v)+1e-9))
	best := ten
	for _, m := range []float64{1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8} {
		if m*ten <= v*(1+1e-9) {
			best = m * ten
		}
	}
	return best
}

// skylineTone is how ground so far off is drawn.
type skylineTone struct {
	beyond float64 // in the unit of distance
	color  page.Color
}

// tones from near to far; one hue, evenly lighter, so that they keep their
// order in grey.
func tones(u units.System) []skylineTone {
	edges := [...]float64{0, 1, 3, 10}
	if u == units.US {
		edges = [...]float64{0, 0.5, 2, 6}
	}
	var out []skylineTone
	for i, c := range []uint32{0x8FA698, 0xB3C4B9, 0xD0DBD4, 0xE8EEEA} {
		out = append(out, skylineTone{edges[i], page.RGB(c)})
	}
	return out
}

func toneOf(u units.System, metres float64) int {
	_, unit := far(u)
	all := tones(u)
	for i := len(all) - 1; i > 0; i-- {
		if metres >= all[i].beyond*unit {
			return i
		}
	}
	return 0
}

// runs calls visit for the points of a row in order, bearings running on past
// 360, with whether each joins to the one before.
func (d *SkylineDrawing) runs(s skylineScale, visit func(bearing float64, p visibility.HorizonPoint, joined bool)) {
	step := math.Inf(1)
	for i := 1; i < len(d.Points); i++ {
		step = math.Min(step, float64(d.Points[i].Bearing-d.Points[i-1].Bearing))
	}
	last := math.Inf(-1)
	for turn := -360.0; turn <= 360; turn += 360 {
		for _, p := range d.Points {
			b := float64(p.Bearing) + turn
			if b < s.from-1.5*step || b > s.from+s.span+1.5*step {
				continue
			}
			visit(b, p, b-last <= 1.5*step)
			last = b
		}
	}
}

// ground draws the line and fills below it, and reports whether any of it is
// not known.
func (d *SkylineDrawing) ground(pg *page.Page, s skylineScale) (unknown bool) {
	pg.Clip(s.box)
	defer pg.Unclip()
	tones := tones(d.Units)
	base := s.box.Bottom() + 1
	type piece struct {
		tone int
		ring []page.Point
	}
	var fills []piece
	var lines, hidden [][]page.Point
	var line []page.Point
	var before visibility.HorizonPoint
	flush := func() {
		if len(line) > 1 {
			lines = append(lines, line)
		}
		line = nil
	}
	d.runs(s, func(b float64, p visibility.HorizonPoint, joined bool) {
		q := page.At(s.x(b), s.y(float64(p.Angle)))
		if p.Verdict != visibility.Visible {
			unknown = true
			hidden = append(hidden, []page.Point{page.At(q.X, s.box.Y), page.At(q.X, base)})
		}
		if math.IsNaN(float64(p.Angle)) {
			flush()
			before = p
			return
		}
		if !joined || len(line) == 0 {
			flush()
			line = append(line, q)
			before = p
			return
		}
		// The ground changes from one distance to another somewhere between
		// two bearings; each is drawn as far as half way.
		a := line[len(line)-1]
		middle := page.At((a.X+q.X)/2, (a.Y+q.Y)/2)
		for _, half := range []struct {
			from, to page.Point
			distance float64
		}{{a, middle, before.Distance}, {middle, q, p.Distance}} {
			tone := toneOf(d.Units, half.distance)
			if n := len(fills); n > 0 && fills[n-1].tone == tone && fills[n-1].ring[len(fills[n-1].ring)-1] == half.from {
				fills[n-1].ring = append(fills[n-1].ring, half.to)
			} else {
				fills = append(fills, piece{tone, []page.Point{half.from, half.to}})
			}
		}
		line = append(line, q)
		before = p
	})
	flush()
	for _, f := range fills {
		ring := append(append([]page.Point{}, f.ring...), page.At(f.ring[len(f.ring)-1].X, base), page.At(f.ring[0].X, base))
		pg.Add(page.Fill{Rings: [][]page.Point{ring}, Color: tones[f.tone].color})
	}
	if unknown {
		d.hatch(pg, s)
	}
	pg.Add(page.Stroke{Lines: lines, Width: 0.3, Color: page.Ink})
	d.stems(pg, s)
	d.dots(pg, s)
	return unknown
}

// What stands on the ground is shown by stems under the line, which is its top.
const (
	stemGap   = 0.8  // mm
	stemLong  = 1.5  // mm
	stemWidth = 0.18 // mm
)

// stems hang from the line where it is the top of what stands on the ground,
// one at least for each stretch of it.
func (d *SkylineDrawing) stems(pg *page.Page, s skylineScale) {
	var stems [][]page.Point
	joins := false // to a stem before
	d.runs(s, func(b float64, p visibility.HorizonPoint, joined bool) {
		q := page.At(s.x(b), s.y(float64(p.Angle)))
		if !(p.Cover > 0) {
			joins = false
			return
		}
		if joined && joins && q.X-stems[len(stems)-1][0].X < stemGap {
			return
		}
		stems, joins = append(stems, []page.Point{q, q.Add(0, stemLong)}), true
	})
	if len(stems) > 0 {
		pg.Add(page.Stroke{Lines: stems, Width: stemWidth, Color: page.Ink})
	}
}

// covered reports whether any of the line is the top of what stands on the
// ground.
func (d *SkylineDrawing) covered() bool {
	for _, p := range d.Points {
		if p.Cover > 0 {
			return true
		}
	}
	return false
}

// dots stand over the line where it is ground that was filled in, one at
// least for each stretch of it.
func (d *SkylineDrawing) dots(pg *page.Page, s skylineScale) {
	var dots []page.Point
	joins := false // to a dot before
	d.runs(s, func(b float64, p visibility.HorizonPoint, joined bool) {
		q := page.At(s.x(b), s.y(float64(p.Angle))-1.1)
		if !p.Filled || !s.box.Contains(page.At(q.X, s.box.Y)) {
			joins = false
			return
		}
		if joined && joins && q.X-dots[len(dots)-1].X < filledGap {
			return
		}
		dots, joins = append(dots, q), true
	})
	if len(dots) > 0 {
		drawFilledDots(pg, dots)
	}
}

// filled reports whether any of the line is ground that was filled in.
func (d *SkylineDrawing) filled() bool {
	for _, p := range d.Points {
		if p.Filled {
			return true
		}
	}
	return false
}

// hatch covers the bearings on which some of the ground is not known, from top
// to foot: it may stand higher than the line.
func (d *SkylineDrawing) hatch(pg *page.Page, s skylineScale) {
	var from, to float64
	open := false
	var lines [][]page.Point
	flush := func() {
		if !open {
			return
		}
		r := page.Box(s.x(from), s.box.Y, s.x(to)-s.x(from), s.box.Height)
		lines = append(lines, hatch([][]page.Point{r.Corners()}, r, 1.6)...)
		open = false
	}
	half := math.Inf(1)
	for i := 1; i < len(d.Points); i++ {
		half = math.Min(half, float64(d.Points[i].Bearing-d.Points[i-1].Bearing)/2)
	}
	d.runs(s, func(b float64, p visibility.HorizonPoint, joined bool) {
		if p.Verdict == visibility.Visible || !joined {
			flush()
		}
		if p.Verdict == visibility.Visible {
			return
		}
		if !open {
			from, open = b-half, true
		}
		to = b + half
	})
	flush()
	pg.Add(page.Stroke{Lines: lines, Width: 0.16, Color: page.Vermillion})
}

// axes draws the frame, the angles and the bearings.
func (d *SkylineDrawing) axes(pg *page.Page, s skylineScale) {
	const size = skylineLabel
	step := roundStep(6 / s.mmY) // at least 6 mm apart
	top := s.lowest + s.box.Height/s.mmY
	for k := math.Ceil(s.lowest / step); k*step <= top; k++ {
		y := s.y(k * step)
		text := plain(k*step, step) + "°"
		switch {
		case k == 0:
			pg.Add(page.Stroke{Lines: [][]page.Point{{page.At(s.box.X, y), page.At(s.box.Right(), y)}}, Width: 0.25, Color: page.Blue, Dash: []float64{3, 1.5}})
		default:
			pg.Line(page.LeastWidth, page.RGB(0xB0B0B0), page.At(s.box.X, y), page.At(s.box.Right(), y))
			if k > 0 {
				text = "+" + text
			}
		}
		pg.Add(page.Text{At: page.At(s.box.X-1, y), String: text, Size: size, Align: page.AlignRight, Rise: page.RiseMiddle, Color: page.Ink})
	}
	pg.Frame(0.2, page.Ink, s.box)

	foot := s.box.Bottom()
	pg.Add(page.Text{At: page.At(s.box.X-skylineSide, foot+2), String: "true", Size: size, Rise: page.RiseTop, Color: page.Ink})
	d.bearings(pg, s, foot, 0, page.Ink, func(b float64) string {
		points := map[float64]string{0: "N", 45: "NE", 90: "E", 135: "SE", 180: "S", 225: "SW", 270: "W", 315: "NW"}
		if name, ok := points[math.Mod(b, 360)]; ok {
			return bearing(b) + " " + name
		}
		if math.Mod(b, 10) != 0 {
			return ""
		}
		return bearing(b)
	})
	if d.Declination == nil {
		return
	}
	foot += 5
	pg.Line(0.15, page.Blue, page.At(s.box.X, foot), page.At(s.box.Right(), foot))
	pg.Add(page.Text{At: page.At(s.box.X-skylineSide, foot+2), String: "magnetic", Size: size, Rise: page.RiseTop, Color: page.Blue})
	d.bearings(pg, s, foot, float64(d.Declination.East), page.Blue, func(b float64) string {
		if math.Mod(b, 10) != 0 {
			return ""
		}
		return bearing(b)
	})
}

// bearings ticks each degree that can be told apart, longer at fives and tens,
// and writes figures. What is written for b stands at true bearing b + east.
func (d *SkylineDrawing) bearings(pg *page.Page, s skylineScale, foot, east float64, color page.Color, text func(b float64) string) {
	var ticks [][]page.Point
	every := 1.0
	if s.mmX < 1 {
		every = 5
	}
	right := math.Inf(-1) // of the last figure
	for b := math.Ceil((s.from-east)/every) * every; b <= s.from+s.span-east+1e-9; b += every {
		x := s.x(b + east)
		long := 0.6
		switch {
		case math.Mod(b, 10) == 0:
			long = 1.6
		case math.Mod(b, 5) == 0:
			long = 1.1
		}
		ticks = append(ticks, []page.Point{page.At(x, foot), page.At(x, foot+long)})
		t := page.Text{At: page.At(x, foot+2), String: text(math.Mod(b+360, 360)), Size: skylineLabel, Align: page.AlignCenter, Rise: page.RiseTop, Color: color}
		box := t.Box()
		if t.String == "" || box.X < right+0.8 || box.Right() > s.box.Right()+skylineRight {
			continue
		}
		right = box.Right()
		pg.Add(t)
	}
	pg.Add(page.Stroke{Lines: ticks, Width: 0.15, Color: color})
}
