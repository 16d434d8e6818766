package sheet

import (
	"fmt"
	"math"
	"strconv"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"

	"crowline/contour/page"
	"crowline/dem/geodesy"
)

// gridInterval is the spacing of grid lines in grid metres: a kilometre where
// that leaves the lines 10 mm apart and no more than 60, and otherwise a finer
// or coarser round figure, finer lines being kept further apart for their
// longer numbers.
func gridInterval(scale float64) float64 {
	for _, v := range []struct{ metres, least float64 }{{100, 18}, {500, 30}, {1000, 10}, {10000, 10}} {
		if v.metres*1000/scale >= v.least {
			return v.metres
		}
	}
	return 100000
}

// gridLine is one line of the grid within the frame.
type gridLine struct {
	value   float64      // metres
	easting bool         // a line of equal easting
	points  []page.Point // on the page
}

func (m *mapPanel) gridLines() ([]gridLine, error) {
	p, a := m.proj, m.area()
	if p.utm == nil {
		return nil, nil
	}
	lo, hi := page.At(math.Inf(1), math.Inf(1)), page.At(math.Inf(-1), math.Inf(-1))
	for _, q := range border(a, 8) {
		e, n, err := p.toGrid(q)
		if err != nil {
			return nil, fmt.Errorf("sheet: grid: %w", err)
		}
		lo, hi = page.At(math.Min(lo.X, e), math.Min(lo.Y, n)), page.At(math.Max(hi.X, e), math.Max(hi.Y, n))
	}
	var out []gridLine
	step := gridInterval(m.plan.Scale)
	add := func(value float64, easting bool) error {
		const pieces = 16
		var ls orb.LineString
		for i := range pieces + 1 {
			t := float64(i) / pieces
			e, n := value, lo.Y+t*(hi.Y-lo.Y)
			if !easting {
				e, n = lo.X+t*(hi.X-lo.X), value
			}
			q := p.fromGrid(e, n)
			if p.north == TrueNorth {
				at, err := p.utm.Place(e, n)
				if err != nil {
					return fmt.Errorf("sheet: grid: %w", err)
				}
				if q, err = p.place(at); err != nil {
					return err
				}
			}
			q = m.onPage(q)
			ls = append(ls, orb.Point{q.X, q.Y})
		}
		for _, piece := range clip.LineString(m.frame.Bound(), ls) {
			if len(piece) < 2 {
				continue
			}
			line := gridLine{value: value, easting: easting}
			for _, q := range piece {
				line.points = append(line.points, page.At(q[0], q[1]))
			}
			out = append(out, line)
		}
		return nil
	}
	for v := math.Ceil(lo.X/step) * step; v <= hi.X; v += step {
		if err := add(v, true); err != nil {
			return nil, err
		}
	}
	for v := math.Ceil(lo.Y/step) * step; v <= hi.Y; v += step {
		if err := add(v, false); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// border is points along a rectangle's edge, n to a side.
func border(r page.Rect, n int) []page.Point {
	c := r.Corners()
	var out []page.Point
	for i, q := range c {
		next := c[(i+1)%4]
		for k := range n {
			t := float64(k) / float64(n)
			out = append(out, page.At(q.X+t*(next.X-q.X), q.Y+t*(next.Y-q.Y)))
		}
	}
	return out
}

// grid draws the lines and, outside the frame, their numbers: the principal
// digits large, the whole value on the first line of each kind.
func (m *mapPanel) grid() error {
	lines, err := m.gridLines()
	if err != nil || lines == nil {
		return err
	}
	pen, pg := m.plan.Style.Grid, m.page
	all := make([][]page.Point, len(lines))
	for i, l := range lines {
		all[i] = l.points
	}
	m.ruled = append(m.ruled, all...)
	pg.Open("grid", m.proj.gridName()+" grid")
	pg.Add(pen.Stroke(all...))
	pg.Close()
	pg.Open("grid-numbers", "Grid numbers")
	const near = 0.01 // mm: an end on the frame's edge
	first := map[bool]bool{}
	for _, l := range lines {
		for _, q := range []page.Point{l.points[0], l.points[len(l.points)-1]} {
			switch {
			case l.easting && math.Abs(q.Y-m.frame.Bottom()) < near:
				// Left of the frame it would meet a northing's number.
				if !first[true] && q.X-8 > m.frame.X && q.X+14 < m.frame.Right() {
					first[true] = true
					pg.Add(page.Text{At: q.Add(0, 1.3), String: group6(l.value) + " m E", Size: 6.5, Align: page.AlignCenter, Rise: page.RiseTop, Color: page.Ink})
					continue
				}
				m.principal(l.value, q.Add(0, 1.3+page.CapHeight(8)), page.AlignCenter)
			case l.easting && math.Abs(q.Y-m.frame.Y) < near:
				m.principal(l.value, q.Add(0, -1.3), page.AlignCenter)
			case !l.easting && math.Abs(q.X-m.frame.X) < near:
				if !first[false] && q.Y-m.frame.Y > 14 && m.frame.Bottom()-q.Y > 9 {
					first[false] = true
					pg.Add(page.Text{At: q.Add(-1.3, 0), String: group6(l.value) + " m N", Size: 6.5, Align: page.AlignCenter, Turn: -90, Color: page.Ink})
					continue
				}
				m.northing(l.value, q.Add(-1.1, 0), page.AlignRight)
			case !l.easting && math.Abs(q.X-m.frame.Right()) < near:
				m.northing(l.value, q.Add(1.1, 0), page.AlignLeft)
			}
		}
	}
	pg.Close()
	return nil
}

// group6 writes a coordinate in metres with its thousands apart.
func group6(v float64) string {
	s := strconv.FormatFloat(v, 'f', 0, 64)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + " " + s[i:]
	}
	return s
}

// northing writes a number beside the frame: upright where the narrow band has
// room, along the frame where it is not whole kilometres.
func (m *mapPanel) northing(v float64, at page.Point, align page.Align) {
	if math.Mod(v, 1000) == 0 {
		m.principal(v, at.Add(0, page.CapHeight(8)/2), align)
		return
	}
	t := page.Text{At: at, String: group6(v), Size: 6.5, Align: page.AlignCenter, Turn: -90, Color: page.Ink}
	if align == page.AlignLeft {
		t.Rise = page.RiseTop
	}
	m.page.Add(t)
}

// principal writes a grid value as map grids do: hundred thousands small, tens
// and units of kilometres large, and the metres, if any, small.
func (m *mapPanel) principal(v float64, at page.Point, align page.Align) {
	s := strconv.FormatFloat(v, 'f', 0, 64)
	if len(s) < 5 {
		s = fmt.Sprintf("%05.0f", v)
	}
	small, large, rest := s[:len(s)-5], s[len(s)-5:len(s)-3], s[len(s)-3:]
	if rest == "000" {
		rest = ""
	}
	const smallSize, largeSize = 5.5, 8
	width := page.TextWidth(small, page.Regular, smallSize) + page.TextWidth(large, page.Bold, largeSize) + page.TextWidth(rest, page.Regular, smallSize) + 0.2
	x := at.X
	switch align {
	case page.AlignCenter:
		x -= width / 2
	case page.AlignRight:
		x -= width
	}
	for _, part := range []struct {
		s    string
		face page.Face
		size float64
	}{{small, page.Regular, smallSize}, {large, page.Bold, largeSize}, {rest, page.Regular, smallSize}} {
		m.page.Add(page.Text{At: page.At(x, at.Y), String: part.s, Face: part.face, Size: part.size, Color: page.Ink})
		x += page.TextWidth(part.s, part.face, part.size) + 0.1
	}
}

// corners writes latitude and longitude at the frame's four corners, outside
// the row of grid numbers.
func (m *mapPanel) corners() error {
	m.page.Open("corners", "Latitude and longitude of the corners")
	defer m.page.Close()
	for i, q := range m.area().Corners() {
		at, err := m.proj.inverse(q)
		if err != nil {
			return fmt.Errorf("sheet: corner: %w", err)
		}
		t := page.Text{At: m.onPage(q).Add(0, -4.4), Size: 6, Color: page.Ink,
			String: sexagesimal(float64(at.Lat), "N", "S") + " " + sexagesimal(float64(at.Lon), "E", "W")}
		if i == 1 || i == 2 {
			t.Align = page.AlignRight
		}
		if i >= 2 {
			t.At, t.Rise = m.onPage(q).Add(0, 4.4), page.RiseTop
		}
		m.page.Add(t)
	}
	return nil
}

// magneticLines draws lines along magnetic north 40 mm apart, one of them
// through the middle, each with an arrowhead at its northern end.
func (m *mapPanel) magneticLines() {
	d := m.plan.Declination
	if d == nil || !m.plan.MagneticLines {
		return
	}
	const apart = 40
	u := page.Toward(m.proj.magneticNorth(d))
	side := u.Left()
	c, reach := m.frame.Centre(), math.Hypot(m.frame.Width, m.frame.Height)
	pen := m.plan.Style.Magnetic
	m.page.Open("magnetic-north", "Magnetic north lines")
	defer m.page.Close()
	var lines, heads [][]page.Point
	for k := -int(reach/apart) - 1; k <= int(reach/apart)+1; k++ {
		o := c.Step(side, float64(k)*apart)
		a, b := o.Step(u, -reach), o.Step(u, reach)
		for _, piece := range clip.LineString(m.frame.Bound(), orb.LineString{{a.X, a.Y}, {b.X, b.Y}}) {
			if len(piece) < 2 {
				continue
			}
			from, to := page.At(piece[0][0], piece[0][1]), page.At(piece[1][0], piece[1][1])
			if from.Away(to) < 12 {
				continue
			}
			lines = append(lines, []page.Point{from, to})
			tip := to.Step(u, -0.6)
			heads = append(heads, []page.Point{tip, tip.Step(u, -2.6).Step(side, 0.75), tip.Step(u, -2.6).Step(side, -0.75)})
		}
	}
	m.ruled = append(m.ruled, lines...)
	m.page.Add(pen.Stroke(lines...), page.Fill{Rings: heads, Color: pen.Color})
}

// zoneEdges draws the meridian where a UTM zone ends, if it crosses the map,
// and returns the note that belongs with it, "" when there is none.
func (m *mapPanel) zoneEdges() (string, error) {
	p := m.proj
	if p.utm == nil {
		return "", nil
	}
	south, north, west, east := 90.0, -90.0, 0.0, 0.0 // east and west of the centre
	for _, q := range border(m.area(), 4) {
		at, err := p.inverse(q)
		if err != nil {
			return "", fmt.Errorf("sheet: zone edge: %w", err)
		}
		d := wrapLon(float64(at.Lon - p.centre.Lon))
		west, east = math.Min(west, d), math.Max(east, d)
		south, north = math.Min(south, float64(at.Lat)), math.Max(north, float64(at.Lat))
	}
	other := 0
	var lines [][]page.Point
	// Every zone's edge, the odd ones of Norway and Svalbard too, is a
	// multiple of 3 degrees.
	c := float64(p.centre.Lon)
	for lon := math.Ceil((c+west)/3) * 3; lon <= c+east; lon += 3 {
		before := geodesy.UTMZone(geodesy.LatLon{Lat: p.centre.Lat, Lon: geodesy.Degrees(wrapLon(lon - 0.01))})
		after := geodesy.UTMZone(geodesy.LatLon{Lat: p.centre.Lat, Lon: geodesy.Degrees(wrapLon(lon + 0.01))})
		if before == after {
			continue
		}
		if other = before; before == p.zone {
			other = after
		}
		const pieces = 16
		x, y := make([]float64, pieces+1), make([]float64, pieces+1)
		for i := range x {
			x[i], y[i] = wrapLon(lon), south+float64(i)/pieces*(north-south)
		}
		if err := p.forward(x, y); err != nil {
			return "", err
		}
		var line []page.Point
		for i := range x {
			line = append(line, m.onPage(page.At(x[i], y[i])))
		}
		lines = append(lines, line)
	}
	m.page.Open("zone-edge", "Edge of the UTM zone")
	m.page.Clip(m.frame)
	m.page.Add(page.Stroke{Lines: lines, Width: 0.35, Color: m.plan.Style.Grid.Color, Dash: []float64{4, 1, 0.8, 1}})
	m.page.Unclip()
	empty := len(m.page.Opened()) == 0
	m.page.Close()
	if empty {
		return "", nil
	}
	return zoneNote(other, p.zone), nil
}

func zoneNote(other, zone int) string {
	return fmt.Sprintf("UTM zone %d begins at the dash-dotted line: beyond it a receiver shows coordinates in zone %d, while this sheet's grid is zone %d throughout.", other, other, zone)
}
