package sheet

import (
	"fmt"
	"math"

	"crowline/contour/page"
	"crowline/dem/geodesy"
)

// FixDrawing is a place from bearings, as a map shows it: the lines that the
// bearings give, the ground that holds the place, and the place, if there is one.
type FixDrawing struct {
	Rays []Ray
	// Regions are outlines of the ground that holds the place 19 times in 20; where
	// several places fit, one of each.
	Regions [][]geodesy.LatLon
	// Places are those that fit: one is the fix, several are candidates and
	// numbered.
	Places []Place
	// Sure is whether the one place may be walked on; else its sign is open.
	Sure bool
	// Banner stands large in the map's corner; "" for none. It is for what nobody
	// may overlook: that there is no place.
	Banner string
	// Line is a known line that the place is said to lie on.
	Line [][]geodesy.LatLon
}

// Ray is the line that one bearing gives: from its known place, to where it leaves
// the map.
type Ray struct {
	From geodesy.LatLon
	// True is the line's direction from there.
	True geodesy.TrueBearing
	// Words stand along it: the bearing as it was read.
	Words string
}

func (f *FixDrawing) validate() error {
	if len(f.Rays) == 0 {
		return fmt.Errorf("%w: a fix without a bearing", ErrPlan)
	}
	for _, r := range f.Regions {
		if len(r) < 3 {
			return fmt.Errorf("%w: a region of %d corners", ErrPlan, len(r))
		}
	}
	return nil
}

// The region is violet, hatched as well as outlined, so that it is told without
// colour.
var (
	regionPen  = page.Pen{Width: 0.45, Color: page.RGB(0x7A2A7A)}
	regionGap  = 1.6 // mm between lines of hatching
	regionFine = 0.15
)

// fixRegion draws the region of a fix, under its rays.
func (m *mapPanel) fixRegion() error {
	f := m.plan.Fix
	if f == nil {
		return nil
	}
	m.page.Open("region", "Ground that holds the place")
	defer m.page.Close()
	m.page.Clip(m.frame)
	defer m.page.Unclip()
	for _, ring := range f.Regions {
		line, err := m.onMap(ring)
		if err != nil {
			return err
		}
		m.page.Add(page.Stroke{Lines: hatch([][]page.Point{line}, m.frame, regionGap), Width: regionFine, Color: regionPen.Color})
		line = append(line, line[0])
		m.page.Add(page.Stroke{Lines: [][]page.Point{line}, Width: regionPen.Width + 0.5, Color: page.Color{R: 255, G: 255, B: 255, A: 190}}, regionPen.Stroke(line))
		m.drew.region = true
	}
	return nil
}

// onMap are places on the page.
func (m *mapPanel) onMap(list []geodesy.LatLon) ([]page.Point, error) {
	var out []page.Point
	for _, at := range list {
		q, err := m.place(at)
		if err != nil {
			return nil, err
		}
		out = append(out, q)
	}
	return out, nil
}

// fixRays draws the known line and the rays of a fix; lines are those on the page.
func (m *mapPanel) fixRays() error {
	f := m.plan.Fix
	if f == nil {
		return nil
	}
	m.page.Open("rays", "Bearings")
	defer m.page.Close()
	style := m.plan.Style
	m.page.Clip(m.frame)
	for _, part := range f.Line {
		line, err := m.onMap(part)
		if err != nil {
			return err
		}
		m.page.Add(page.Stroke{Lines: [][]page.Point{line}, Width: 0.9, Color: page.White}, page.Stroke{Lines: [][]page.Point{line}, Width: 0.45, Color: style.Ink, Dash: []float64{2.5, 0.8}})
		m.drew.known = true
	}
	reach := math.Hypot(m.frame.Width, m.frame.Height) / m.proj.mm
	var rays [][]page.Point
	for _, r := range f.Rays {
		far := reach + geodesy.Inverse(m.proj.centre, r.From).Distance
		to, _ := geodesy.Direct(r.From, r.True, far)
		line, err := m.onMap(geodesy.Waypoints(r.From, to, 64))
		if err != nil {
			return err
		}
		rays = append(rays, line)
		m.page.Add(page.Stroke{Lines: [][]page.Point{line}, Width: style.Sight.Width + 0.6, Color: page.Color{R: 255, G: 255, B: 255, A: 190}})
	}
	pen := style.Sight
	pen.Width += 0.1
	m.page.Add(pen.Stroke(rays...))
	m.page.Unclip()
	for _, line := range rays {
		m.keepClear(line, 0.4)
	}
	if f.Banner != "" {
		const size, air = 10.0, 1.5
		text := page.Fit(f.Banner, page.Bold, size, m.frame.Width-4*air)
		box := page.Box(m.frame.X+air, m.frame.Y+air, page.TextWidth(text, page.Bold, size)+2*air, size*page.PointMM+2*air)
		m.page.Add(page.Fill{Rings: [][]page.Point{box.Corners()}, Color: page.White})
		m.page.Frame(0.5, style.Ink, box)
		m.page.Add(page.Text{At: page.At(box.X+air, box.Centre().Y), String: text, Face: page.Bold, Size: size, Rise: page.RiseMiddle, Color: style.Ink})
		m.taken = append(m.taken, box.Inset(-0.5))
	}
	return nil
}

// fixPlaces draws the places that fit, and the words of the bearings beside their
// marks.
func (m *mapPanel) fixPlaces() error {
	f := m.plan.Fix
	if f == nil {
		return nil
	}
	m.page.Open("fix", "Places that fit")
	defer m.page.Close()
	for i, p := range f.Places {
		q, err := m.place(p.At)
		if err != nil {
			return err
		}
		if !m.frame.Inset(1).Contains(q) {
			continue
		}
		fixSymbol(m.page, q, f.Sure, m.plan.Style)
		m.drew.fix = true
		m.symbolBox(q, 2)
		if len(f.Places) > 1 {
			p.Name = numbered(i, p.Name)
		}
		m.label(q, 2.2, m.plan.Style.Ink, m.placeLines(p, page.Bold, 8.5)...)
	}
	for _, r := range f.Rays {
		q, err := m.place(r.From)
		if err != nil {
			return err
		}
		if r.Words == "" || !m.frame.Contains(q) {
			continue
		}
		along, _ := geodesy.Direct(r.From, r.True, 100)
		next, err := m.place(along)
		if err != nil {
			return err
		}
		d := q.Away(next)
		u := page.At((next.X-q.X)/d, (next.Y-q.Y)/d)
		for _, far := range []float64{10, 14, 20, 28} {
			if m.tryLabel(q.Step(u, far), 0.6, m.plan.Style.Sight.Color, labelLine{r.Words, page.Regular, 6.5}) {
				break
			}
		}
	}
	return nil
}

// fixSymbol is a ring with a cross in it; filled in the middle where the place may
// be walked on.
func fixSymbol(pg *page.Page, q page.Point, sure bool, style Style) {
	const r = 1.9
	ink := style.Leg.Color
	pg.Add(page.Fill{Rings: [][]page.Point{page.Circle(q, r+0.4)}, Color: page.White},
		page.Fill{Rings: [][]page.Point{page.Circle(q, r), page.Circle(q, r-0.5)}, Color: ink})
	if sure {
		pg.Add(page.Fill{Rings: [][]page.Point{page.Circle(q, 0.9)}, Color: ink})
		return
	}
	pg.Line(0.4, ink, q.Add(-r, 0), q.Add(r, 0))
	pg.Line(0.4, ink, q.Add(0, -r), q.Add(0, r))
}

// fixKey explains what the map shows of the fix.
func (b *blocks) fixKey(pg *page.Page, next func(text string, draw func(c page.Point)), patch func(c page.Point) page.Rect) {
	f, style := b.plan.Fix, b.plan.Style
	if f == nil {
		return
	}
	if b.drew.fix {
		text := "The place"
		switch {
		case len(f.Places) > 1:
			text = "A place that fits, by number"
		case !f.Sure:
			text = "Best fit, no place to walk on"
		}
		next(text, func(c page.Point) { fixSymbol(pg, c, f.Sure, style) })
	}
	next("Line that a bearing gives", func(c page.Point) {
		pen := style.Sight
		pen.Width += 0.1
		pg.Add(pen.Stroke([]page.Point{c.Add(-4, 0), c.Add(4, 0)}))
	})
	if b.drew.region {
		next("Holds the place 19 times in 20", func(c page.Point) {
			r := patch(c)
			pg.Add(page.Stroke{Lines: hatch([][]page.Point{r.Corners()}, r, regionGap), Width: regionFine, Color: regionPen.Color})
			pg.Frame(regionPen.Width, regionPen.Color, r)
		})
	}
	if b.drew.known {
		next("The known line", func(c page.Point) {
			pg.Add(page.Stroke{Lines: [][]page.Point{{c.Add(-4, 0), c.Add(4, 0)}}, Width: 0.45, Color: style.Ink, Dash: []float64{2.5, 0.8}})
		})
	}
}
