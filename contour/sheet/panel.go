package sheet

import (
	"context"
	"fmt"

	"crowline/contour/page"
	"crowline/dem/geodesy"
	"crowline/dem/units"
)

// Panel is a plan's map drawn into part of a page that is laid out elsewhere:
// an exercise, a card. It is true to scale like a sheet's.
type Panel struct {
	Frame page.Rect
	// Unlabelled are names that found no room.
	Unlabelled []string
	// Levels is how many different contour numbers stand on the panel: with
	// none no elevation can be read from it, with one not which way is up.
	// Where the index lines carry fewer than two, other lines are numbered
	// too, where they have room.
	Levels int

	m *mapPanel
}

// PanelMark is a lettered point on a panel.
type PanelMark struct {
	Name string
	At   geodesy.LatLon
	// Bare marks have no dot: the corners of an outline. Without a name there
	// is nothing to see of them.
	Bare bool
}

// Room a panel's grid numbers and corner coordinates need outside its frame,
// millimetres.
const (
	PanelSide = sideBand
	PanelHead = gridBand
)

// DrawPanel draws the map of a plan, with its Centre in the middle of frame,
// and over it straight legs (each between two marks, by index) and lettered
// marks. id goes before the names of the page's groups, which must be unique.
// The plan's Leg, Profile, Paper and margin texts are left out.
func DrawPanel(ctx context.Context, pg *page.Page, plan Plan, frame page.Rect, id string, marks []PanelMark, legs [][2]int) (*Panel, error) {
	plan.Leg, plan.Profile = nil, nil
	plan, err := plan.filled()
	if err != nil {
		return nil, err
	}
	centre, err := plan.centre()
	if err != nil {
		return nil, err
	}
	proj, err := newProjection(centre, plan.North, plan.Scale)
	if err != nil {
		return nil, err
	}
	// Drawn apart, so that the groups can be renamed and the letters laid on
	// top though they are placed first.
	below := &page.Page{Width: pg.Width, Height: pg.Height}
	above := &page.Page{Width: pg.Width, Height: pg.Height}
	m := &mapPanel{plan: &plan, page: above, proj: proj, frame: frame, leastLevels: 2}
	if err := m.exercise(marks, legs); err != nil {
		return nil, err
	}
	m.page = below
	if err := m.draw(ctx); err != nil {
		return nil, err
	}
	panel := &Panel{Frame: frame, Unlabelled: m.unlabelled, Levels: m.numberedLevels, m: m}
	for _, it := range append(below.Items, above.Items...) {
		if g, ok := it.(*page.Group); ok {
			if len(g.Items) == 0 {
				continue
			}
			g.ID = id + "-" + g.ID
		}
		pg.Items = append(pg.Items, it)
	}
	return panel, nil
}

// exercise draws legs and lettered marks.
func (m *mapPanel) exercise(marks []PanelMark, legs [][2]int) error {
	style := m.plan.Style
	m.page.Open("legs", "Legs")
	m.page.Clip(m.frame)
	for _, l := range legs {
		if l[0] < 0 || l[1] < 0 || l[0] >= len(marks) || l[1] >= len(marks) || marks[l[0]].At == marks[l[1]].At {
			return fmt.Errorf("%w: a leg between marks %d and %d of %d", ErrPlan, l[0], l[1], len(marks))
		}
		const pieces = 16
		line := make([]page.Point, 0, pieces+1)
		for _, at := range geodesy.Waypoints(marks[l[0]].At, marks[l[1]].At, pieces) {
			q, err := m.place(at)
			if err != nil {
				return err
			}
			line = append(line, q)
		}
		m.page.Add(page.Stroke{Lines: [][]page.Point{line}, Width: 0.35, Color: style.Leg.Color})
		m.keepClear(line, 0.6)
	}
	m.page.Unclip()
	m.page.Open("letters", "Marked points")
	defer m.page.Close()
	at := make([]page.Point, len(marks))
	for i, k := range marks {
		if err := page.CheckText(k.Name, page.Bold); err != nil {
			return err
		}
		q, err := m.place(k.At)
		if err != nil {
			return err
		}
		if !m.frame.Inset(1.5).Contains(q) {
			return fmt.Errorf("%w: mark %s at %v is outside its map", ErrPlan, k.Name, k.At)
		}
		at[i] = q
		if k.Bare {
			continue
		}
		m.page.Add(page.Fill{Rings: [][]page.Point{page.Circle(q, 1.1)}, Color: page.White}, page.Fill{Rings: [][]page.Point{page.Circle(q, 0.75)}, Color: style.Leg.Color})
		m.symbolBox(q, 1.1)
	}
	for i, k := range marks {
		if k.Name == "" {
			continue
		}
		m.label(at[i], 1.1, style.Ink, labelLine{k.Name, page.Bold, 10})
	}
	return nil
}

// Place is where a place stands on the page.
func (p *Panel) Place(at geodesy.LatLon) (page.Point, error) { return p.m.place(at) }

// ScaleBar draws a scale bar of the plan's units, w millimetres wide at most,
// its foot line at o, and under it its figures: 5 mm in all.
func (p *Panel) ScaleBar(pg *page.Page, o page.Point, w float64) {
	b := &blocks{plan: p.m.plan, proj: p.m.proj}
	if p.m.plan.Units == units.US {
		b.bar(pg, o, w, units.Mile, "miles", units.Foot, "ft")
		return
	}
	b.bar(pg, o, w, 1000, "km", 1, "m")
}

// Norths draws true, grid and (where the plan knows it) magnetic north as
// arrows from o, tall millimetres high; their angles are drawn as they are, so
// that norths close together run into one.
func (p *Panel) Norths(pg *page.Page, o page.Point, tall float64) {
	proj := p.m.proj
	arrow := func(direction, length, aside float64, name string, at page.Align) {
		u := page.Toward(direction)
		tip := o.Step(u, length)
		pg.Line(0.25, page.Ink, o, tip)
		pg.Add(page.Fill{Rings: [][]page.Point{{tip.Step(u, 1.6), tip.Step(u.Left(), 0.5), tip.Step(u.Left(), -0.5)}}, Color: page.Ink},
			page.Text{At: tip.Step(u, 2.2).Add(aside, 0), String: name, Size: 6, Align: at, Color: page.Ink})
	}
	if proj.utm != nil {
		arrow(proj.gridNorth(), tall-4.5, 0, "GN", page.AlignCenter)
	} else {
		arrow(proj.trueNorth(), tall-4.5, 0, "N", page.AlignCenter)
	}
	if d := p.m.plan.Declination; d != nil {
		direction := proj.magneticNorth(d)
		at, aside := page.AlignLeft, 0.8
		if direction < proj.gridNorth() {
			at, aside = page.AlignRight, -0.8
		}
		arrow(direction, tall-8, aside, "MN", at)
	}
}
