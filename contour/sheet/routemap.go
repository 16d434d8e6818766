package sheet

import (
	"fmt"
	"math"

	"crowline/contour/page"
	"crowline/dem/geodesy"
)

// checkRoute refuses legs that do not make a route.
func (p *Plan) checkRoute() error {
	if len(p.Route) > 0 && p.Leg != nil {
		return fmt.Errorf("%w: a leg and a route: give one of them", ErrPlan)
	}
	for i, l := range p.Route {
		if l.From.At == l.To.At {
			return fmt.Errorf("%w: the two places of leg %d are the same", ErrPlan, i+1)
		}
		if i > 0 && p.Route[i-1].To.At != l.From.At {
			return fmt.Errorf("%w: leg %d does not begin where leg %d ends", ErrPlan, i+1, i)
		}
	}
	return nil
}

// routeLines are the route's legs on paper about a projection's centre.
func (p *Plan) routeLines(proj *projection) ([][]page.Point, error) {
	var out [][]page.Point
	for i := range p.Route {
		line, err := legOn(proj, &p.Route[i])
		if err != nil {
			return nil, err
		}
		out = append(out, line)
	}
	return out, nil
}

// legOn is a leg's geodesic on paper about a projection's centre.
func legOn(proj *projection, leg *Leg) ([]page.Point, error) {
	const pieces = 32
	way := geodesy.Waypoints(leg.From.At, leg.To.At, pieces)
	x, y := make([]float64, len(way)), make([]float64, len(way))
	for i, p := range way {
		x[i], y[i] = float64(p.Lon), float64(p.Lat)
	}
	if err := proj.forward(x, y); err != nil {
		return nil, fmt.Errorf("sheet: leg: %w", err)
	}
	line := make([]page.Point, len(way))
	for i := range line {
		line[i] = page.At(x[i], y[i])
	}
	return line, nil
}

// routeCentre is the middle of the box round the route.
func (p *Plan) routeCentre() (geodesy.LatLon, error) {
	proj, err := newProjection(p.Route[0].From.At, p.North, p.Scale)
	if err != nil {
		return geodesy.LatLon{}, err
	}
	lines, err := p.routeLines(proj)
	if err != nil {
		return geodesy.LatLon{}, err
	}
	box := emptyBounds()
	for _, line := range lines {
		for _, q := range line {
			box.add(q)
		}
	}
	return proj.inverse(box.middle())
}

// bounds is a box that grows.
type bounds struct{ low, high page.Point }

func emptyBounds() bounds {
	inf := math.Inf(1)
	return bounds{page.At(inf, inf), page.At(-inf, -inf)}
}

func (b *bounds) add(q page.Point) {
	b.low = page.At(min(b.low.X, q.X), min(b.low.Y, q.Y))
	b.high = page.At(max(b.high.X, q.X), max(b.high.Y, q.Y))
}

func (b *bounds) middle() page.Point { return b.low.Plus(b.high).Times(0.5) }

// fits reports whether the box is no larger than so much.
func (b *bounds) fits(size page.Point) bool {
	return b.high.X-b.low.X <= size.X && b.high.Y-b.low.Y <= size.Y
}

// splitRoute gives the centres of the pages that the route takes in a layout's
// frame: the pages follow it, each with as much of it as it holds, and neighbours
// share pageOverlap of it.
func (p *Plan) splitRoute(l *layout) ([]geodesy.LatLon, error) {
	lines, err := p.routeLines(l.proj)
	if err != nil {
		return nil, err
	}
	const step = 1.0 // mm
	var way []page.Point
	for _, line := range lines {
		for i := 1; i < len(line); i++ {
			n := max(1, int(math.Ceil(line[i-1].Away(line[i])/step)))
			for k := range n {
				way = append(way, line[i-1].Plus(line[i].Minus(line[i-1]).Times(float64(k)/float64(n))))
			}
		}
	}
	way = append(way, lines[len(lines)-1][len(lines[len(lines)-1])-1])
	room := page.At(l.frame.Width-2*legMargin, l.frame.Height-2*legMargin)
	var centres []geodesy.LatLon
	for from := 0; ; {
		box, to := emptyBounds(), from
		for to < len(way) {
			more := box
			more.add(way[to])
			if !more.fits(room) {
				break
			}
			box = more
			to++
		}
		at, err := l.proj.inverse(box.middle())
		if err != nil {
			return nil, fmt.Errorf("sheet: route: %w", err)
		}
		centres = append(centres, at)
		if to == len(way) {
			return centres, nil
		}
		if len(centres) == MaxPages {
			return nil, fmt.Errorf("%w: the route takes more than %d at %s; use a smaller scale or larger paper", ErrPages, MaxPages, fraction(p.Scale))
		}
		next, shared := to-1, 0.0
		for next > from+1 && shared < pageOverlap {
			shared += way[next].Away(way[next-1])
			next--
		}
		from = next
	}
}

// route draws the legs with their numbers, and their ends.
func (m *mapPanel) route() error {
	if len(m.plan.Route) == 0 {
		return nil
	}
	lines, err := m.plan.routeLines(m.proj)
	if err != nil {
		return err
	}
	pg, pen := m.page, m.plan.Style.Leg
	for _, line := range lines {
		for i := range line {
			line[i] = m.onPage(line[i])
		}
	}
	pg.Open("route", "Route")
	pg.Clip(m.frame)
	for _, line := range lines {
		pg.Add(page.Stroke{Lines: [][]page.Point{line}, Width: pen.Width + 0.5, Color: page.Color{R: 255, G: 255, B: 255, A: 170}})
	}
	pg.Add(pen.Stroke(lines...))
	pg.Unclip()
	pg.Close()
	return m.turningPoints()
}

// keepRouteClear keeps labels off the legs.
func (m *mapPanel) keepRouteClear() error {
	lines, err := m.plan.routeLines(m.proj)
	if err != nil {
		return err
	}
	for _, line := range lines {
		for i := range line {
			line[i] = m.onPage(line[i])
		}
		m.keepClear(line, 0.7)
	}
	return nil
}

// turningPoints draws start, turning points and destination, and names them; those
// of one place share a sign.
func (m *mapPanel) turningPoints() error {
	pg, route := m.page, m.plan.Route
	places := []Place{route[0].From}
	for _, l := range route {
		places = append(places, l.To)
	}
	pg.Open("ends", "Start, turning points and destination")
	defer pg.Close()
	type named struct {
		at    page.Point
		r     float64
		lines []labelLine
	}
	var names []named
	for i, p := range places {
		q, err := m.place(p.At)
		if err != nil {
			return err
		}
		last := i == len(places)-1
		met := false
		for _, o := range places[:i] {
			met = met || o.At == p.At
		}
		if !m.frame.Inset(1).Contains(q) || met {
			continue
		}
		r := 1.9
		switch {
		case i == 0:
			endSymbol(pg, q, true, m.plan.Style)
			m.drew.start = true
		case last:
			endSymbol(pg, q, false, m.plan.Style)
			m.drew.destination = true
		default:
			turnSymbol(pg, q, m.plan.Style)
			m.drew.turn = true
			r = 1.5
		}
		m.symbolBox(q, r)
		face := page.Regular
		if i == 0 || last {
			face = page.Bold
		}
		if i == 0 && places[len(places)-1].At == p.At {
			p.Name += " (start and end)"
		}
		names = append(names, named{q, r, m.placeLines(p, face, 8)})
	}
	for _, n := range names { // when all signs have their place
		m.label(n.at, n.r, m.plan.Style.Ink, n.lines...)
	}
	return nil
}

func turnSymbol(pg *page.Page, q page.Point, style Style) {
	pg.Add(page.Fill{Rings: [][]page.Point{page.Circle(q, 1.6)}, Color: page.White},
		page.Fill{Rings: [][]page.Point{page.Circle(q, 1.4), page.Circle(q, 0.85)}, Color: style.Leg.Color},
		page.Fill{Rings: [][]page.Point{page.Circle(q, 0.35)}, Color: style.Ink})
}

// legNumber is a leg's number in a circle, r across the middle.
const legNumberSize = 2.3 // mm

func legNumber(pg *page.Page, q page.Point, text string, style Style) {
	pg.Add(page.Fill{Rings: [][]page.Point{page.Circle(q, legNumberSize+0.3)}, Color: style.Leg.Color},
		page.Fill{Rings: [][]page.Point{page.Circle(q, legNumberSize)}, Color: page.White},
		page.Text{At: q, String: text, Face: page.Bold, Size: 8, Align: page.AlignCenter, Rise: page.RiseMiddle, Color: style.Ink})
}

// legNumbers puts each leg's number on it, near the middle of what the page shows of
// it and clear of signs.
func (m *mapPanel) legNumbers() error {
	if len(m.plan.Route) == 0 {
		return nil
	}
	lines, err := m.plan.routeLines(m.proj)
	if err != nil {
		return err
	}
	m.page.Open("leg-numbers", "Numbers of the legs")
	defer m.page.Close()
	var numbers []page.Rect
	for i, line := range lines {
		var shown []page.Point
		for k := 1; k < len(line); k++ {
			const steps = 16
			for s := range steps {
				q := m.onPage(line[k-1].Plus(line[k].Minus(line[k-1]).Times(float64(s) / steps)))
				if m.frame.Inset(legNumberSize + 1).Contains(q) {
					shown = append(shown, q)
				}
			}
		}
		if len(shown) == 0 {
			continue
		}
		box := func(q page.Point) page.Rect {
			const r = legNumberSize + 0.5
			return page.Box(q.X-r, q.Y-r, 2*r, 2*r)
		}
		clear := func(q page.Point) bool {
			for _, o := range numbers {
				if o.Overlaps(box(q)) {
					return false
				}
			}
			for _, o := range m.signs {
				if o.Overlaps(box(q)) {
					return false
				}
			}
			return true
		}
		best := shown[len(shown)/2]
		for off := range len(shown) / 2 {
			if a, b := shown[len(shown)/2-off], shown[min(len(shown)-1, len(shown)/2+off)]; clear(a) {
				best = a
				break
			} else if clear(b) {
				best = b
				break
			}
		}
		numbers = append(numbers, box(best))
		legNumber(m.page, best, fmt.Sprint(i+1), m.plan.Style)
		m.drew.numbered = true
	}
	m.taken = append(m.taken, numbers...)
	return nil
}

// pageKey is where the pages of a route lie.
type pageKey struct {
	maps   [][]geodesy.LatLon // the corners of each page's map
	number int                // of this page, from 1
}

// pageKeyAir is between the key and it, mm.
const pageKeyAir = 1.5

// pageKeyTall is the depth of a page key, mm, with its heading.
const pageKeyTall = 30.0

// newPageKey says where pages lie; nil where there is one, or no route.
func (p *Plan) newPageKey(pages []*layout) (*pageKey, error) {
	if len(p.Route) == 0 || len(pages) < 2 {
		return nil, nil
	}
	k := &pageKey{}
	for _, l := range pages {
		m := mapPanel{frame: l.frame}
		var corners []geodesy.LatLon
		for _, q := range m.area().Corners() {
			at, err := l.proj.inverse(q)
			if err != nil {
				return nil, fmt.Errorf("sheet: page key: %w", err)
			}
			corners = append(corners, at)
		}
		k.maps = append(k.maps, corners)
	}
	return k, nil
}

// draw draws the pages, the route through them and this page darker, in a box w
// wide; it returns its depth.
func (k *pageKey) draw(pg *page.Page, p *Plan, o page.Point, w float64) (float64, error) {
	pg.Add(page.Text{At: page.At(o.X, o.Y), String: "Pages (this one is grey)", Face: page.Bold, Size: marginText, Rise: page.RiseTop, Color: page.Ink})
	centre, err := p.centre()
	if err != nil {
		return 0, err
	}
	proj, err := newProjection(centre, p.North, p.Scale)
	if err != nil {
		return 0, err
	}
	box := emptyBounds()
	var maps [][]page.Point
	for _, corners := range k.maps {
		var ring []page.Point
		for _, at := range corners {
			q, err := proj.place(at)
			if err != nil {
				return 0, err
			}
			box.add(q)
			ring = append(ring, q)
		}
		maps = append(maps, ring)
	}
	lines, err := p.routeLines(proj)
	if err != nil {
		return 0, err
	}
	in := page.Box(o.X+0.3, o.Y+3.4, w-0.6, pageKeyTall-4)
	shrink := min(in.Width/(box.high.X-box.low.X), in.Height/(box.high.Y-box.low.Y))
	on := func(list []page.Point) []page.Point {
		var out []page.Point
		for _, q := range list {
			out = append(out, page.At(in.X+(q.X-box.low.X)*shrink, in.Y+(q.Y-box.low.Y)*shrink))
		}
		return out
	}
	pg.Add(page.Fill{Rings: [][]page.Point{on(maps[k.number-1])}, Color: page.RGB(0xD0D0D0)})
	for i, ring := range maps {
		ring = on(ring)
		width := 0.15
		if i == k.number-1 {
			width = 0.4
		}
		pg.Add(page.Stroke{Lines: [][]page.Point{append(ring, ring[0])}, Width: width, Color: page.Ink})
	}
	for _, line := range lines {
		pg.Add(page.Stroke{Lines: [][]page.Point{on(line)}, Width: 0.3, Color: p.Style.Leg.Color})
	}
	var taken []page.Rect
	for i, ring := range maps { // a number in the corner of its page that no other's is in
		ring = on(ring)
		t := page.Text{String: fmt.Sprint(i + 1), Face: page.Bold, Size: 7, Align: page.AlignCenter, Rise: page.RiseMiddle, Color: page.Ink, Halo: 0.4, HaloColor: page.White}
		middle := ring[0].Plus(ring[2]).Times(0.5)
		for _, at := range append([]page.Point{middle}, ring...) {
			t.At = middle.Plus(at.Minus(middle).Times(0.75))
			free := true
			for _, o := range taken {
				free = free && !o.Overlaps(t.Box())
			}
			if free {
				break
			}
		}
		taken = append(taken, t.Box())
		pg.Add(t)
	}
	return pageKeyTall, nil
}
