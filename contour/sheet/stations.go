package sheet

import (
	"math"

	"crowline/contour/page"
	"crowline/dem/geodesy"
)

// Station is a point of a class's walk: a cross with a letter.
type Station struct {
	Letter string
	At     geodesy.LatLon
	// Toward is the point that the walk goes on to: a short arrow sets out there.
	// Nil for none.
	Toward *geodesy.LatLon
}

// Sizes of a station on paper, millimetres: a cross of two strokes, its middle
// open so that the ground under it can be read, and the arrow beside it.
const (
	stationArm   = 2.2
	stationOpen  = 0.5
	stationStart = 3.2
	stationArrow = 5.0
)

// stations draws the points of a walk.
func (m *mapPanel) stations() error {
	if len(m.plan.Stations) == 0 {
		return nil
	}
	m.page.Open("stations", "Points of the walk")
	defer m.page.Close()
	at := make([]page.Point, len(m.plan.Stations))
	for i, s := range m.plan.Stations {
		q, err := m.place(s.At)
		if err != nil {
			return err
		}
		at[i] = q
		if !m.frame.Inset(1).Contains(q) {
			continue
		}
		m.drew.station = true
		stationSymbol(m.page, q)
		m.symbolBox(q, stationArm)
		if s.Toward == nil {
			continue
		}
		to, err := m.place(*s.Toward)
		if err != nil {
			return err
		}
		if d := q.Away(to); d > 2*(stationStart+stationArrow) {
			u := to.Minus(q).Times(1 / d)
			m.keepClear([]page.Point{q, stationArrowSymbol(m.page, q, u)}, 0.7)
		}
	}
	for i, s := range m.plan.Stations {
		if m.frame.Inset(1).Contains(at[i]) {
			m.label(at[i], stationArm, m.plan.Style.Ink, labelLine{s.Letter, page.Bold, 11})
		}
	}
	return nil
}

// stationSymbol is an upright cross in black on white.
func stationSymbol(pg *page.Page, q page.Point) {
	var lines [][]page.Point
	for k := range 4 {
		sin, cos := math.Sincos(float64(k) * math.Pi / 2)
		u := page.At(cos, sin)
		lines = append(lines, []page.Point{q.Step(u, stationOpen), q.Step(u, stationArm)})
	}
	pg.Add(page.Stroke{Lines: lines, Width: 1.1, Color: page.White}, page.Stroke{Lines: lines, Width: 0.5, Color: page.Ink})
}

// stationArrowSymbol is a short arrow from beside a cross in direction u; it
// returns its tip.
func stationArrowSymbol(pg *page.Page, q, u page.Point) page.Point {
	tip := q.Step(u, stationStart+stationArrow)
	shaft := [][]page.Point{{q.Step(u, stationStart), tip.Step(u, -1.2)}}
	pg.Add(page.Stroke{Lines: shaft, Width: 0.9, Color: page.White}, page.Stroke{Lines: shaft, Width: 0.3, Color: page.Ink},
		page.Fill{Rings: [][]page.Point{{tip, tip.Step(u, -1.9).Step(u.Left(), 0.7), tip.Step(u, -1.9).Step(u.Left(), -0.7)}}, Color: page.Ink})
	return tip
}
