package sheet

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"crowline/contour/page"
	"crowline/dem/geodesy"
)

// HazardKind is what could hurt on a way.
type HazardKind int

const (
	// Steep ground under the line, 30 degrees or more.
	Steep HazardKind = iota
	// Cliff beside the line or on it.
	Cliff
)

// Hazard is ground to beware of.
type Hazard struct {
	Kind HazardKind
	// Parts are of Steep the stretches of the line, each from end to end, and of
	// a Cliff the pieces of ground it covers, of one to four corners each.
	Parts [][]geodesy.LatLon
}

func (k HazardKind) valid() bool { return k == Steep || k == Cliff }

// The signs of hazards are told by their shape, in black: rungs across the line
// are steep ground, and solid patches are cliffs.
const (
	rungGap   = 1.3 // mm between rungs along the line
	rungHalf  = 2.0 // mm to either side of it
	rungWidth = 0.5 // mm
	// cliffRound is the width of the edge round the patches of a cliff, mm: a
	// cliff of one post is as wide.
	cliffRound = 0.45
)

// hazards draws what the plan has of them, under the legs and the marks.
func (m *mapPanel) hazards() error {
	if len(m.plan.Hazards) == 0 {
		return nil
	}
	m.page.Open("hazards", "Steep ground on the line, and cliffs")
	defer m.page.Close()
	m.page.Clip(m.frame)
	defer m.page.Unclip()
	drawn := slices.Clone(m.plan.Hazards) // rungs over cliffs: both are to be seen
	slices.SortStableFunc(drawn, func(a, b Hazard) int { return cmp.Compare(b.Kind, a.Kind) })
	for _, h := range drawn {
		var parts [][]page.Point
		near := false
		for _, part := range h.Parts {
			var line []page.Point
			for _, at := range part {
				q, err := m.place(at)
				if err != nil {
					return err
				}
				near = near || m.frame.Contains(q)
				line = append(line, q)
			}
			parts = append(parts, line)
		}
		switch {
		case h.Kind == Steep:
			for _, line := range parts {
				if rungs := rungsAcross(line, m.frame); len(rungs) > 0 {
					drawRungs(m.page, rungs, m.plan.Style)
					for _, r := range rungs {
						m.symbolBox(r[0].Plus(r[1]).Times(0.5), rungHalf)
					}
					m.drew.steep = true
				}
			}
		case near:
			drawCliff(m.page, parts, m.plan.Style)
			m.drew.cliff = true
			for _, ring := range parts {
				for _, q := range ring {
					m.symbolBox(q, cliffRound)
				}
			}
		}
	}
	return nil
}

// rungsAcross are short lines square to a line, at both of its ends and between;
// those whose middle is in the frame.
func rungsAcross(line []page.Point, frame page.Rect) [][]page.Point {
	var out [][]page.Point
	length := 0.0
	for i := 1; i < len(line); i++ {
		length += line[i-1].Away(line[i])
	}
	if !(length > 0) {
		return nil
	}
	n := max(1, int(math.Round(length/rungGap)))
	gap, at, past := length/float64(n), 0.0, 0.0 // past is the length before this piece
	for i := 1; i < len(line); i++ {
		piece := line[i-1].Away(line[i])
		if piece == 0 {
			continue
		}
		along := page.At((line[i].X-line[i-1].X)/piece, (line[i].Y-line[i-1].Y)/piece)
		for ; at <= past+piece+1e-6; at += gap {
			if q := line[i-1].Step(along, at-past); frame.Contains(q) {
				out = append(out, []page.Point{q.Step(along.Left(), rungHalf), q.Step(along.Left(), -rungHalf)})
			}
		}
		past += piece
	}
	return out
}

func drawRungs(pg *page.Page, rungs [][]page.Point, style Style) {
	pg.Add(page.Stroke{Lines: rungs, Width: rungWidth + 0.4, Color: page.Color{R: 255, G: 255, B: 255, A: 200}},
		page.Stroke{Lines: rungs, Width: rungWidth, Color: style.Ink})
}

func drawCliff(pg *page.Page, parts [][]page.Point, style Style) {
	var rings, edges [][]page.Point
	for _, ring := range parts {
		if len(ring) > 2 {
			rings = append(rings, ring)
		}
		edge := append(append([]page.Point(nil), ring...), ring[0])
		if len(ring) == 1 { // a post alone is a dot
			edge = []page.Point{ring[0], ring[0].Add(0.01, 0)}
		}
		edges = append(edges, edge)
	}
	pg.Add(page.Stroke{Lines: edges, Width: cliffRound + 0.6, Color: page.White, Cap: page.CapRound})
	for _, ring := range rings { // one by one: where they overlap nothing is cut out
		pg.Add(page.Fill{Rings: [][]page.Point{ring}, Color: style.Ink})
	}
	pg.Add(page.Stroke{Lines: edges, Width: cliffRound, Color: style.Ink, Cap: page.CapRound})
}

// hazardKey explains the signs of hazards.
func (b *blocks) hazardKey(pg *page.Page, next func(text string, draw func(c page.Point))) {
	style := b.plan.Style
	if b.drew.steep {
		next("BEWARE: ground of 30° or more", func(c page.Point) {
			line := []page.Point{c.Add(-3.3, 0), c.Add(3.3, 0)}
			rungs := rungsAcross(line, page.Box(c.X-5, c.Y-5, 10, 10))
			for _, r := range rungs { // shorter than on the map, to fit the row
				r[0].Y, r[1].Y = c.Y-1.3, c.Y+1.3
			}
			drawRungs(pg, rungs, style)
			pg.Add(style.Leg.Stroke(line))
		})
	}
	if b.drew.cliff {
		next("BEWARE: cliff", func(c page.Point) {
			drawCliff(pg, [][]page.Point{{c.Add(-2.5, -0.5), c.Add(-0.5, -0.8), c.Add(-0.5, 0.2), c.Add(-2.5, 0.5)}, {c.Add(-0.5, -0.5), c.Add(2.5, -0.2), c.Add(2.5, 0.6), c.Add(-0.5, 0.3)}}, style)
		})
	}
}

func (p *Plan) checkHazards() error {
	for i, h := range p.Hazards {
		if !h.Kind.valid() {
			return fmt.Errorf("%w: hazard %d is of no kind there is", ErrPlan, i+1)
		}
		for _, part := range h.Parts {
			if len(part) == 0 || h.Kind == Steep && len(part) < 2 {
				return fmt.Errorf("%w: hazard %d has a part without ground", ErrPlan, i+1)
			}
		}
	}
	return nil
}
