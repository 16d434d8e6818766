package sheet

import (
	"fmt"
	"math"
	"strconv"

	"crowline/dem/geodesy"
	"crowline/visibility"
)

// SkylineDrawing is the horizon round an observer as a strip: bearings along
// the foot, elevation angle up the side, both to scale.
//
// The ground under the line is toned by how far off it is, paler with
// distance as the eye has it. A step in the tone is where nearer ground ends
// and farther shows beyond it.
type SkylineDrawing struct {
	Title string
	// Points of the horizon in order of bearing, evenly spaced; where one is
	// missing, or has no angle, the line is broken.
	Points []visibility.HorizonPoint
	// Peaks to label where they break the line, the most wanted first: those
	// that find no room are left off.
	Peaks []SkylinePeak
	// Declination adds a row of magnetic bearings; nil for none.
	Declination *Declination
	// Summary stands under the title, a line each; Notes in small print.
	Summary, Notes []string
	Units          Units
}

// SkylinePeak is a top that breaks the skyline. Without a name it is labelled
// with its elevation.
type SkylinePeak struct {
	Name                string
	Bearing             geodesy.TrueBearing
	Angle               geodesy.Degrees // as seen
	Distance, Elevation float64         // metres
}

const (
	stripPerDegree = 2.0  // millimetres of the long strip to a degree
	stripTall      = 90.0 // and its height, axes included
	skylineSide    = 13.0 // room for figures left of the line
	skylineRight   = 3.0
	skylineEdge    = 7.0 // white paper round all
	skylineOverlap = 5.0 // degrees that rows share
	// The ground may take all of a row's height but skylineSky millimetres,
	// left for labels, and skylineGround of it at the least.
	skylineSky    = 22.0
	skylineGround = 0.62
	// skylineSteepest bounds the exaggeration: beyond it level country would
	// look like mountains.
	skylineSteepest = 10
	skylineLabel    = 6.5 // points
)

// MaxSkylineRows is the most rows a stacked skyline can have.
const MaxSkylineRows = 6

func (d *SkylineDrawing) validate() error {
	if len(d.Points) < 2 {
		return fmt.Errorf("%w: a skyline of %d points", ErrPlan, len(d.Points))
	}
	known := false
	for i, p := range d.Points {
		if !(p.Bearing >= 0 && p.Bearing < 360) || i > 0 && p.Bearing <= d.Points[i-1].Bearing {
			return fmt.Errorf("%w: the skyline's bearing %d is %v degrees", ErrPlan, i, float64(p.Bearing))
		}
		known = known || !math.IsNaN(float64(p.Angle))
	}
	if !known {
		return fmt.Errorf("%w: a skyline without an angle", ErrPlan)
	}
	for _, s := range append(append([]string{d.Title}, d.Summary...), d.Notes...) {
		if err := CheckText(s, Regular); err != nil {
			return err
		}
	}
	return nil
}

// Strip is the whole round in one strip, 2 mm to the degree: a page 750 mm
// wide and about 120 high, to roll, fold or cut. Peaks whose names the
// typeface cannot show are labelled with their elevation, and Warnings says so.
func (d SkylineDrawing) Strip() (*Document, error) {
	return d.document(360*stripPerDegree+skylineSide+skylineRight+2*skylineEdge, 0, 1)
}

// Stacked is the same in rows, 1 to MaxSkylineRows, on one page; each row
// begins where the one before ended and repeats its last few degrees. Up to
// three rows lie across the paper.
func (d SkylineDrawing) Stacked(paper Paper, rows int) (*Document, error) {
	if rows < 1 || rows > MaxSkylineRows {
		return nil, fmt.Errorf("%w: a skyline in %d rows: 1 to %d can be drawn", ErrPlan, rows, MaxSkylineRows)
	}
	if err := paper.validate(); err != nil {
		return nil, err
	}
	width, height := paper.Width, paper.Height
	if !paper.Fixed && (rows <= 3) != (width > height) {
		width, height = height, width
	}
	return d.document(width, height, rows)
}

// document lays rows out on a page; with a height of 0 the page is as high as
// it needs to be.
func (d SkylineDrawing) document(width, height float64, rows int) (*Document, error) {
	if err := d.validate(); err != nil {
		return nil, err
	}
	doc := &Document{Title: d.Title}
	peaks := append([]SkylinePeak{}, d.Peaks...)
	for i := range peaks {
		if err := CheckText(peaks[i].Name, Bold); err != nil {
			doc.Warnings = append(doc.Warnings, fmt.Sprintf("%v; its elevation stands for it", err))
			peaks[i].Name = ""
		}
	}
	d.Peaks = peaks
	page := &Page{Width: width, Height: height}
	inner := width - 2*skylineEdge
	head := d.heading(&Page{}, inner)
	foot := d.foot(&Page{}, Point{}, inner, true)
	tall := stripTall
	if height > 0 {
		tall = (height - 2*skylineEdge - head - foot - 3*float64(rows)) / float64(rows)
		if tall < 35 {
			return nil, fmt.Errorf("%w: %d rows leave %.0f mm for each, under 35", ErrPlan, rows, tall)
		}
	} else {
		page.Height = 2*skylineEdge + head + tall + 3 + foot
	}
	d.heading(page, inner)
	span := 360 / float64(rows)
	if rows > 1 {
		span += skylineOverlap
	}
	s := d.scale(Rect{Width: inner - skylineSide - skylineRight, Height: tall - d.axesDepth()}, span)
	unknown := false
	labelled := map[int]bool{}
	for k := range rows {
		s.from = float64(k) * 360 / float64(rows)
		s.box.X, s.box.Y = skylineEdge+skylineSide, skylineEdge+head+float64(k)*(tall+3)
		page.Open("skyline-"+strconv.Itoa(k+1), fmt.Sprintf("Skyline from %s to %s", bearing(s.from), bearing(s.from+span)))
		unknown = d.ground(page, s) || unknown
		d.axes(page, s)
		for _, i := range d.labels(page, s) {
			labelled[i] = true
		}
		page.Close()
	}
	for i := range d.Peaks {
		if !labelled[i] && d.Peaks[i].Name != "" {
			doc.Warnings = append(doc.Warnings, fmt.Sprintf("no room on the drawing for the name %q", d.Peaks[i].Name))
		}
	}
	d.foot(page, Point{skylineEdge, skylineEdge + head + float64(rows)*(tall+3)}, inner, unknown)
	page.Add(Text{At: Point{width - skylineEdge, skylineEdge + 3}, Align: AlignRight, Size: 7, Color: ink,
		String: fmt.Sprintf("Horizontal %s mm to the degree; vertical scale %s × horizontal",
			strconv.FormatFloat(s.mmX, 'f', 2, 64), strconv.FormatFloat(s.exaggeration, 'g', 3, 64))})
	doc.Pages = []*Page{page}
	return doc, nil
}

func (d *SkylineDrawing) heading(page *Page, width float64) float64 {
	page.Open("title", "Title")
	defer page.Close()
	y := skylineEdge
	for _, line := range wrap(d.Title, Bold, 10, width-90) { // the scale stands at the right
		y += 10 * pointMM * 1.15
		page.Add(Text{At: Point{skylineEdge, y - 0.9}, String: line, Face: Bold, Size: 10, Color: ink})
	}
	for _, s := range d.Summary {
		for _, line := range wrap(s, Regular, 7, width) {
			y += 7 * pointMM * 1.25
			page.Add(Text{At: Point{skylineEdge, y - 0.4}, String: line, Size: 7, Color: ink})
		}
	}
	return y + 2 - skylineEdge
}

// axesDepth is the room under a row for its bearings.
func (d *SkylineDrawing) axesDepth() float64 {
	if d.Declination != nil {
		return 9.4
	}
	return 5
}

// skylineScale is where angles stand on paper.
type skylineScale struct {
	box          Rect
	from, span   float64 // degrees of bearing
	lowest       float64 // degrees of angle at the box's foot
	mmX, mmY     float64 // millimetres to the degree
	exaggeration float64
}

func (s skylineScale) x(bearing float64) float64 { return s.box.X + (bearing-s.from)*s.mmX }
func (s skylineScale) y(angle float64) float64   { return s.box.Bottom() - (angle-s.lowest)*s.mmY }

// scale suits all rows: the level of the eye is always on the drawing.
func (d *SkylineDrawing) scale(box Rect, span float64) skylineScale {
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
	color  Color
}

// tones from near to far; one hue, evenly lighter, so that they keep their
// order in grey.
func (u Units) tones() []skylineTone {
	edges := [...]float64{0, 1, 3, 10}
	if u == US {
		edges = [...]float64{0, 0.5, 2, 6}
	}
	var out []skylineTone
	for i, c := range []uint32{0x8FA698, 0xB3C4B9, 0xD0DBD4, 0xE8EEEA} {
		out = append(out, skylineTone{edges[i], rgb(c)})
	}
	return out
}

func (u Units) tone(metres float64) int {
	_, unit := u.far()
	tones := u.tones()
	for i := len(tones) - 1; i > 0; i-- {
		if metres >= tones[i].beyond*unit {
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
func (d *SkylineDrawing) ground(page *Page, s skylineScale) (unknown bool) {
	page.Clip(s.box)
	defer page.Unclip()
	tones := d.Units.tones()
	base := s.box.Bottom() + 1
	type piece struct {
		tone int
		ring []Point
	}
	var fills []piece
	var lines, hidden [][]Point
	var line []Point
	var before visibility.HorizonPoint
	flush := func() {
		if len(line) > 1 {
			lines = append(lines, line)
		}
		line = nil
	}
	d.runs(s, func(b float64, p visibility.HorizonPoint, joined bool) {
		q := Point{s.x(b), s.y(float64(p.Angle))}
		if p.Verdict != visibility.Visible {
			unknown = true
			hidden = append(hidden, []Point{{q.X, s.box.Y}, {q.X, base}})
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
		middle := Point{(a.X + q.X) / 2, (a.Y + q.Y) / 2}
		for _, half := range []struct {
			from, to Point
			distance float64
		}{{a, middle, before.Distance}, {middle, q, p.Distance}} {
			tone := d.Units.tone(half.distance)
			if n := len(fills); n > 0 && fills[n-1].tone == tone && fills[n-1].ring[len(fills[n-1].ring)-1] == half.from {
				fills[n-1].ring = append(fills[n-1].ring, half.to)
			} else {
				fills = append(fills, piece{tone, []Point{half.from, half.to}})
			}
		}
		line = append(line, q)
		before = p
	})
	flush()
	for _, f := range fills {
		ring := append(append([]Point{}, f.ring...), Point{f.ring[len(f.ring)-1].X, base}, Point{f.ring[0].X, base})
		page.Add(Fill{Rings: [][]Point{ring}, Color: tones[f.tone].color})
	}
	if unknown {
		d.hatch(page, s)
	}
	page.Add(Stroke{Lines: lines, Width: 0.3, Color: ink})
	d.dots(page, s)
	return unknown
}

// dots stand over the line where it is ground that was filled in, one at
// least for each stretch of it.
func (d *SkylineDrawing) dots(page *Page, s skylineScale) {
	var dots []Point
	joins := false // to a dot before
	d.runs(s, func(b float64, p visibility.HorizonPoint, joined bool) {
		q := Point{s.x(b), s.y(float64(p.Angle)) - 1.1}
		if !p.Filled || !s.box.Contains(Point{q.X, s.box.Y}) {
			joins = false
			return
		}
		if joined && joins && q.X-dots[len(dots)-1].X < filledGap {
			return
		}
		dots, joins = append(dots, q), true
	})
	if len(dots) > 0 {
		drawFilledDots(page, dots)
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
func (d *SkylineDrawing) hatch(page *Page, s skylineScale) {
	var from, to float64
	open := false
	var lines [][]Point
	flush := func() {
		if !open {
			return
		}
		r := Rect{s.x(from), s.box.Y, s.x(to) - s.x(from), s.box.Height}
		lines = append(lines, hatch([][]Point{r.corners()}, r, 1.6)...)
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
	page.Add(Stroke{Lines: lines, Width: 0.16, Color: vermillion})
}

// axes draws the frame, the angles and the bearings.
func (d *SkylineDrawing) axes(page *Page, s skylineScale) {
	const size = skylineLabel
	step := roundStep(6 / s.mmY) // at least 6 mm apart
	top := s.lowest + s.box.Height/s.mmY
	for k := math.Ceil(s.lowest / step); k*step <= top; k++ {
		y := s.y(k * step)
		text := plain(k*step, step) + "°"
		switch {
		case k == 0:
			page.Add(Stroke{Lines: [][]Point{{{s.box.X, y}, {s.box.Right(), y}}}, Width: 0.25, Color: blue, Dash: []float64{3, 1.5}})
		default:
			page.Line(0.08, rgb(0xB0B0B0), Point{s.box.X, y}, Point{s.box.Right(), y})
			if k > 0 {
				text = "+" + text
			}
		}
		page.Add(Text{At: Point{s.box.X - 1, y}, String: text, Size: size, Align: AlignRight, Rise: RiseMiddle, Color: ink})
	}
	page.Frame(0.2, ink, s.box)

	foot := s.box.Bottom()
	page.Add(Text{At: Point{s.box.X - skylineSide, foot + 2}, String: "true", Size: size, Rise: RiseTop, Color: ink})
	d.bearings(page, s, foot, 0, ink, func(b float64) string {
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
	page.Line(0.15, blue, Point{s.box.X, foot}, Point{s.box.Right(), foot})
	page.Add(Text{At: Point{s.box.X - skylineSide, foot + 2}, String: "magnetic", Size: size, Rise: RiseTop, Color: blue})
	d.bearings(page, s, foot, float64(d.Declination.East), blue, func(b float64) string {
		if math.Mod(b, 10) != 0 {
			return ""
		}
		return bearing(b)
	})
}

// bearings ticks each degree that can be told apart, longer at fives and tens,
// and writes figures. What is written for b stands at true bearing b + east.
func (d *SkylineDrawing) bearings(page *Page, s skylineScale, foot, east float64, color Color, text func(b float64) string) {
	var ticks [][]Point
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
		ticks = append(ticks, []Point{{x, foot}, {x, foot + long}})
		t := Text{At: Point{x, foot + 2}, String: text(math.Mod(b+360, 360)), Size: skylineLabel, Align: AlignCenter, Rise: RiseTop, Color: color}
		box := t.Box()
		if t.String == "" || box.X < right+0.8 || box.Right() > s.box.Right()+skylineRight {
			continue
		}
		right = box.Right()
		page.Add(t)
	}
	page.Add(Stroke{Lines: ticks, Width: 0.15, Color: color})
}

// foot is the key and the notes.
func (d *SkylineDrawing) foot(page *Page, o Point, w float64, unknown bool) float64 {
	page.Open("key", "Key and notes")
	defer page.Close()
	const sample = 7.0
	x, y := o.X, o.Y+1
	next := func(text string, draw func(c Point)) {
		width := sample + 1 + TextWidth(text, Regular, marginText) + 4
		if x > o.X && x+width > o.X+w {
			x, y = o.X, y+3.9
		}
		c := Point{x + sample/2, y + 1.9}
		draw(c)
		page.Add(Text{At: c.Add(sample/2+1, 0), String: text, Size: marginText, Rise: RiseMiddle, Color: ink})
		x += width
	}
	patch := func(c Point) Rect { return Rect{c.X - sample/2, c.Y - 1.3, sample, 2.6} }
	name, _ := d.Units.far()
	tones := d.Units.tones()
	for i, t := range tones {
		var text string
		switch {
		case i == 0:
			text = fmt.Sprintf("Ground under %s %s off", num(tones[1].beyond), name)
		case i == len(tones)-1:
			text = fmt.Sprintf("over %s %s", num(t.beyond), name)
		default:
			text = fmt.Sprintf("%s to %s %s", num(t.beyond), num(tones[i+1].beyond), name)
		}
		next(text, func(c Point) {
			page.Add(Fill{Rings: [][]Point{patch(c).corners()}, Color: t.color})
			page.Frame(0.1, faint, patch(c))
		})
	}
	next("Level of the eye", func(c Point) {
		page.Add(Stroke{Lines: [][]Point{{c.Add(-sample/2, 0), c.Add(sample/2, 0)}}, Width: 0.25, Color: blue, Dash: []float64{3, 1.5}})
	})
	if unknown {
		next("Not all the ground is known: it may stand higher", func(c Point) {
			r := patch(c)
			page.Add(Stroke{Lines: hatch([][]Point{r.corners()}, r, 1.6), Width: 0.16, Color: vermillion})
			page.Frame(0.1, faint, r)
		})
	}
	if d.filled() {
		next("Ground filled in from the rim of a void: it may stand higher or lower", func(c Point) { filledSample(page, patch(c)) })
	}
	y += 4.4
	for _, s := range d.Notes {
		y += paragraph(page, Point{o.X, y}, w, Regular, s) + 0.4
	}
	return y - o.Y
}
