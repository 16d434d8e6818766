package sheet

import (
	"math"
	"slices"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"

	"crowline/contour/page"
	"crowline/dem/geodesy"
)

// labelLine is one line of a label.
type labelLine struct {
	text string
	face page.Face
	size float64
}

// label places lines of text beside a symbol of radius r at q. If there is no
// room the label is left off and what it said is noted.
func (m *mapPanel) label(q page.Point, r float64, color page.Color, lines ...labelLine) {
	if !m.tryLabel(q, r, color, lines...) {
		m.unlabelled = append(m.unlabelled, lines[0].text)
	}
}

// tryLabel takes the first of several positions round q that is inside the
// frame and clear of all else.
func (m *mapPanel) tryLabel(q page.Point, r float64, color page.Color, lines ...labelLine) bool {
	const leading = 1.18
	var width, tall float64
	for _, l := range lines {
		width = math.Max(width, page.TextWidth(l.text, l.face, l.size))
		tall += l.size * page.PointMM * leading
	}
	if width == 0 {
		return true
	}
	const air = 0.9
	near, far := r+air, r*0.7+air
	for _, c := range []struct {
		at    page.Point
		align page.Align
	}{
		{page.At(near, -tall/2), page.AlignLeft}, {page.At(-near, -tall/2), page.AlignRight},
		{page.At(far, -far-tall), page.AlignLeft}, {page.At(far, far), page.AlignLeft},
		{page.At(-far, -far-tall), page.AlignRight}, {page.At(-far, far), page.AlignRight},
		{page.At(0, -near-tall), page.AlignCenter}, {page.At(0, near), page.AlignCenter},
		{page.At(near+4, -tall/2), page.AlignLeft}, {page.At(-near-4, -tall/2), page.AlignRight},
		{page.At(far+2, -far-5-tall), page.AlignLeft}, {page.At(far+2, far+5), page.AlignLeft},
	} {
		box := page.Box(q.X+c.at.X, q.Y+c.at.Y, width, tall)
		switch c.align {
		case page.AlignRight:
			box.X -= width
		case page.AlignCenter:
			box.X -= width / 2
		}
		if !m.free(box) {
			continue
		}
		m.taken = append(m.taken, box.Inset(-0.4))
		y := box.Y
		for _, l := range lines {
			y += l.size * page.PointMM * leading
			m.page.Add(page.Text{At: page.At(q.X+c.at.X, y-0.25*l.size*page.PointMM), String: l.text, Face: l.face, Size: l.size,
				Align: c.align, Color: color, Halo: 0.45, HaloColor: page.White})
		}
		return true
	}
	return false
}

// keepClear reserves boxes along a line, so that no label covers it.
func (m *mapPanel) keepClear(line []page.Point, half float64) {
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		n := int(math.Ceil(a.Away(b) / (2 * half)))
		for k := range n {
			t := (float64(k) + 0.5) / float64(n)
			q := page.At(a.X+t*(b.X-a.X), a.Y+t*(b.Y-a.Y))
			if m.frame.Contains(q) {
				m.taken = append(m.taken, page.Box(q.X-half, q.Y-half, 2*half, 2*half))
			}
		}
	}
}

func (m *mapPanel) symbolBox(q page.Point, r float64) {
	m.signs = append(m.signs, page.Box(q.X-r, q.Y-r, 2*r, 2*r))
	m.taken = append(m.taken, m.signs[len(m.signs)-1])
}

// places draws sight lines, the leg, the marks and the named places.
func (m *mapPanel) places() error {
	line, err := m.legLine()
	if err != nil {
		return err
	}
	m.keepClear(line, 0.7)
	if err := m.keepRouteClear(); err != nil {
		return err
	}
	if err := m.hazards(); err != nil {
		return err
	}
	if err := m.fixRegion(); err != nil {
		return err
	}
	if err := m.fixRays(); err != nil {
		return err
	}
	if err := m.sightLines(); err != nil {
		return err
	}
	if err := m.leg(line); err != nil {
		return err
	}
	if err := m.route(); err != nil {
		return err
	}
	if err := m.marks(); err != nil {
		return err
	}
	if err := m.legNumbers(); err != nil {
		return err
	}
	if err := m.stations(); err != nil {
		return err
	}
	if err := m.observers(); err != nil {
		return err
	}
	if err := m.fixPlaces(); err != nil {
		return err
	}
	m.page.Open("places", "Places")
	defer m.page.Close()
	for _, p := range m.plan.Points {
		q, err := m.place(p.At)
		if err != nil {
			return err
		}
		if !m.frame.Inset(1).Contains(q) {
			continue
		}
		placeSymbol(m.page, q, m.plan.Style)
		m.drew.place = true
		m.symbolBox(q, 0.9)
		m.label(q, 0.8, m.plan.Style.Ink, m.placeLines(p, page.Italic, 7.5)...)
	}
	return nil
}

func placeSymbol(pg *page.Page, q page.Point, style Style) {
	pg.Add(page.Fill{Rings: [][]page.Point{page.Circle(q, 0.9)}, Color: page.White}, page.Fill{Rings: [][]page.Point{page.Circle(q, 0.6)}, Color: style.Ink})
}

// sightLine is the line of sight to a mark.
func sightLine(style Style, from, to page.Point) page.Stroke {
	return page.Stroke{Lines: [][]page.Point{{from, to}}, Width: style.Sight.Width, Color: style.Sight.Color, Dash: []float64{0.5, 1}}
}

// beyondSymbol is the arrow, its tip given, to a mark off the map in direction u.
func beyondSymbol(tip, u page.Point, style Style) page.Fill {
	side := u.Left()
	return page.Fill{Rings: [][]page.Point{{tip, tip.Step(u, -3).Step(side, 1), tip.Step(u, -3).Step(side, -1)}}, Color: style.Sight.Color}
}

func (m *mapPanel) placeLines(p Place, face page.Face, size float64) []labelLine {
	var lines []labelLine
	if p.Name != "" {
		lines = append(lines, labelLine{p.Name, face, size})
	}
	if !math.IsNaN(p.Elevation) {
		lines = append(lines, labelLine{m.plan.Units.Elevation(p.Elevation), page.Regular, 6.5})
	}
	return lines
}

// legLine is the leg's geodesic on the page.
func (m *mapPanel) legLine() ([]page.Point, error) {
	if m.plan.Leg == nil {
		return nil, nil
	}
	line, err := legOn(m.proj, m.plan.Leg)
	if err != nil {
		return nil, err
	}
	for i := range line {
		line[i] = m.onPage(line[i])
	}
	return line, nil
}

// tickStep is the distance between ticks on the leg, metres: round in the
// plan's units and at least 15 mm on paper.
func (p *Plan) tickStep() float64 {
	_, unit := far(p.Units)
	step := roundStep(15 * p.Scale / 1000 / unit)
	return math.Max(step, 0.1) * unit
}

// leg draws the line to walk with its distance ticks, start and destination.
// The signs are plain figures of our own: a square with a centre at the start,
// a filled square at the destination.
func (m *mapPanel) leg(line []page.Point) error {
	if line == nil {
		return nil
	}
	plan, pg, pen := m.plan, m.page, m.plan.Style.Leg
	leg := plan.Leg
	pg.Open("leg", "Leg")
	pg.Clip(m.frame)
	pg.Add(page.Stroke{Lines: [][]page.Point{line}, Width: pen.Width + 0.5, Color: page.Color{R: 255, G: 255, B: 255, A: 170}},
		pen.Stroke(line))
	pg.Unclip()
	pg.Close()

	pg.Open("distances", "Distances along the leg")
	g := geodesy.Inverse(leg.From.At, leg.To.At)
	name, unit := far(plan.Units)
	step := plan.tickStep()
	for k := 1.0; k*step < g.Distance; k++ {
		at, _ := geodesy.Direct(leg.From.At, g.Start, k*step)
		further, _ := geodesy.Direct(leg.From.At, g.Start, k*step+step/100)
		q, err := m.place(at)
		if err != nil {
			return err
		}
		next, err := m.place(further)
		if err != nil {
			return err
		}
		if !m.frame.Inset(1.5).Contains(q) {
			continue
		}
		d := q.Away(next)
		side := page.At((next.X-q.X)/d, (next.Y-q.Y)/d).Left()
		pg.Line(pen.Width*0.8, pen.Color, q.Step(side, -1.3), q.Step(side, 1.3))
		m.drew.tick = true
		t := page.Text{String: plain(k*step/unit, step/unit) + " " + name, Size: 6.5, Align: page.AlignCenter, Rise: page.RiseMiddle,
			Color: plan.Style.Ink, Halo: 0.4, HaloColor: page.White}
		for _, out := range []float64{-1, 1} {
			w := page.TextWidth(t.String, t.Face, t.Size)
			t.At = q.Step(side, out*(2+math.Abs(side.X)*w/2+math.Abs(side.Y)*1))
			if box := t.Box(); m.free(box) {
				m.taken = append(m.taken, box)
				pg.Add(t)
				break
			}
		}
	}
	pg.Close()

	pg.Open("ends", "Start and destination")
	defer pg.Close()
	for i, p := range []Place{leg.From, leg.To} {
		q, err := m.place(p.At)
		if err != nil {
			return err
		}
		if !m.frame.Contains(q) {
			continue
		}
		endSymbol(pg, q, i == 0, plan.Style)
		m.symbolBox(q, 1.9)
		m.label(q, 1.9, plan.Style.Ink, m.placeLines(p, page.Bold, 8)...)
	}
	return nil
}

func endSymbol(pg *page.Page, q page.Point, start bool, style Style) {
	const r = 1.5
	square := page.Box(q.X-r, q.Y-r, 2*r, 2*r)
	if start {
		pg.Add(page.Fill{Rings: [][]page.Point{square.Corners()}, Color: page.White})
		pg.Frame(0.5, style.Leg.Color, square)
		pg.Add(page.Fill{Rings: [][]page.Point{page.Circle(q, 0.45)}, Color: style.Ink})
		return
	}
	pg.Add(page.Fill{Rings: [][]page.Point{square.Inset(-0.4).Corners()}, Color: page.White},
		page.Fill{Rings: [][]page.Point{square.Inset(-0.1).Corners()}, Color: style.Leg.Color},
		page.Fill{Rings: [][]page.Point{page.Circle(q, 0.45)}, Color: page.White})
}

func markSymbol(pg *page.Page, q page.Point, style Style) {
	diamond := func(r float64) []page.Point {
		return []page.Point{q.Add(0, -r), q.Add(r, 0), q.Add(0, r), q.Add(-r, 0)}
	}
	pg.Add(page.Fill{Rings: [][]page.Point{diamond(2.1)}, Color: page.White},
		page.Fill{Rings: [][]page.Point{diamond(1.7), diamond(0.8)}, Color: style.Sight.Color})
}

// sightedFrom is where a mark is sighted from, nil when nowhere is said.
func (p *Plan) sightedFrom(k Mark) *geodesy.LatLon {
	if k.From == nil && p.Leg != nil {
		return &p.Leg.From.At
	}
	return k.From
}

func (m *mapPanel) sightLines() error {
	m.page.Open("sight-lines", "Lines of sight to the marks")
	defer m.page.Close()
	for _, k := range m.plan.Marks {
		from := m.plan.sightedFrom(k)
		if from == nil || *from == k.At {
			continue
		}
		a, err := m.place(*from)
		if err != nil {
			return err
		}
		b, err := m.place(k.At)
		if err != nil {
			return err
		}
		m.page.Clip(m.frame)
		m.page.Add(sightLine(m.plan.Style, a, b))
		m.page.Unclip()
		m.keepClear([]page.Point{a, b}, 0.35)
	}
	return nil
}

// marks draws each mark with its bearings; one beyond the frame is an arrow at
// the edge.
func (m *mapPanel) marks() error {
	m.page.Open("marks", "Marks to sight")
	defer m.page.Close()
	style := m.plan.Style
	for i, k := range m.plan.Marks {
		again := func(o Mark) bool { return k.Label != "" && o.Label != "" && o.At == k.At }
		if slices.ContainsFunc(m.plan.Marks[:i], again) {
			continue // told with the first
		}
		q, err := m.place(k.At)
		if err != nil {
			return err
		}
		for _, o := range m.plan.Marks[i+1:] {
			if again(o) {
				k.Label += ", " + o.Label
			}
		}
		if k.Label != "" {
			k.Name = strings.TrimSpace(k.Label + "  " + k.Name)
		}
		lines := m.placeLines(k.Place, page.Bold, 7)
		from := m.plan.sightedFrom(k)
		if from != nil && *from != k.At && len(m.plan.Route) == 0 {
			lines = append(lines, labelLine{m.plan.bearings(*from, k.At), page.Regular, 6.5})
		}
		if k.Note != "" {
			lines = append(lines, labelLine{k.Note, page.Italic, 6.5})
		}
		if m.frame.Inset(1.5).Contains(q) {
			markSymbol(m.page, q, style)
			m.drew.mark = true
			m.symbolBox(q, 2)
			m.labelMark([]page.Point{q}, 1.8, k, lines)
			continue
		}
		if from == nil {
			continue
		}
		a, err := m.place(*from)
		if err != nil {
			return err
		}
		cut := clip.LineString(m.frame.Inset(0.6).Bound(), orb.LineString{{a.X, a.Y}, {q.X, q.Y}})
		if len(cut) == 0 || len(cut[0]) < 2 || !m.frame.Contains(a) {
			continue
		}
		end := cut[0][len(cut[0])-1]
		tip := page.At(end[0], end[1])
		d := a.Away(q)
		u := page.At((q.X-a.X)/d, (q.Y-a.Y)/d)
		m.page.Add(beyondSymbol(tip, u, style))
		m.drew.beyond = true
		m.symbolBox(tip.Step(u, -1.5), 1.5)
		var along []page.Point
		for back := 3.0; back <= 30; back += 4 { // back along the ray, out of a corner
			along = append(along, tip.Step(u, -back))
		}
		m.labelMark(append(along, tip), 1.6, k, lines)
	}
	return nil
}

// labelMark places a mark's words beside the first of some places that has room, or
// where none has its first line, or its label alone.
func (m *mapPanel) labelMark(at []page.Point, r float64, k Mark, lines []labelLine) {
	tries := [][]labelLine{lines}
	if k.Label != "" {
		tries = append(tries, lines[:1], []labelLine{{k.Label, page.Bold, 7}})
	}
	for _, words := range tries {
		for _, q := range at {
			if m.tryLabel(q, r, m.plan.Style.Ink, words...) {
				return
			}
		}
	}
	m.unlabelled = append(m.unlabelled, lines[0].text)
}

// bearings writes the true and magnetic bearing and the distance from one
// place to another.
func (p *Plan) bearings(from, to geodesy.LatLon) string {
	g := geodesy.Inverse(from, to)
	s := bearing(float64(g.Start)) + " true"
	if p.Declination != nil {
		s += ", " + bearing(float64(p.Declination.magnetic(g.Start))) + " magnetic"
	}
	return s + ", " + p.Units.Distance(g.Distance)
}
