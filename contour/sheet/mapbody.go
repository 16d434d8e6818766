package sheet

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"

	"crowline/contour"
	"crowline/contour/page"
	"crowline/dem/geodesy"
)

func wrapLon(v float64) float64 { return math.Mod(math.Mod(v+180, 360)+360, 360) - 180 }

// mapPanel is the map of one page.
type mapPanel struct {
	plan   *Plan
	page   *page.Page
	proj   *projection
	frame  page.Rect
	ground *lattice       // of Plan.Ground; nil without one
	taken  []page.Rect    // symbols and labels already placed
	signs  []page.Rect    // symbols alone
	ruled  [][]page.Point // grid and magnetic-north lines
	drew   drawn
	// tileFrom is where a tile's chart begins on its paper; nil for a sheet.
	tileFrom *page.Point
	// leastLevels are how many different contour numbers the map is to carry,
	// numberedLevels how many it does.
	leastLevels, numberedLevels int
	// unlabelled are the first lines of labels there was no room for.
	unlabelled []string
}

// drawn says what the key has to explain.
type drawn struct {
	index, intermediate, supplementary, depression bool
	void, filled, hidden, mark, tick               bool
	beyond, place, relief                          bool
	steep, cliff                                   bool
	start, destination, turn, numbered             bool // of a route
	region, fix, known                             bool // of a fix
	station                                        bool // of a walk
	// of a view
	observer, within, unknown, unlooked, limit, farthest bool
	zoneNote                                             string
}

// area is the frame about the sheet's centre, and onPage takes a position
// about the centre to the page.
func (m *mapPanel) area() page.Rect {
	return page.Box(-m.frame.Width/2, -m.frame.Height/2, m.frame.Width, m.frame.Height)
}

func (m *mapPanel) onPage(q page.Point) page.Point {
	c := m.frame.Centre()
	return page.At(c.X+q.X, c.Y+q.Y)
}

// place is where a place stands on the page.
func (m *mapPanel) place(at geodesy.LatLon) (page.Point, error) {
	q, err := m.proj.place(at)
	if err != nil {
		return q, fmt.Errorf("sheet: %v: %w", at, err)
	}
	return m.onPage(q), nil
}

// drawGround puts what lies under the lines on the page.
func (m *mapPanel) drawGround(ctx context.Context) error {
	if m.plan.Ground != nil {
		m.ground = newLattice(m.proj, m.plan.Ground.Layout(), m.area())
	}
	if err := m.relief(ctx); err != nil {
		return err
	}
	if err := m.view(ctx, m.missing); err != nil {
		return err
	}
	if err := m.tint(ctx); err != nil {
		return err
	}
	m.drew.void = m.voids()
	var err error
	if m.drew.filled, err = m.filled(); err != nil {
		return err
	}
	if m.plan.Ground != nil {
		if err := m.plan.Ground.Err(); err != nil {
			return fmt.Errorf("sheet: ground: %w", err)
		}
	}
	return nil
}

// draw puts everything inside the frame on the page, ground first.
func (m *mapPanel) draw(ctx context.Context) error {
	if err := m.drawGround(ctx); err != nil {
		return err
	}
	lines, err := m.contourLines(ctx)
	if err != nil {
		return err
	}
	if err := m.grid(); err != nil {
		return err
	}
	if m.drew.zoneNote, err = m.zoneEdges(); err != nil {
		return err
	}
	m.magneticLines()
	// Names are placed before contour numbers, which have more places to go,
	// and drawn after them, on top.
	top := &page.Page{Width: m.page.Width, Height: m.page.Height}
	base := m.page
	m.page = top
	err = m.places()
	m.page = base
	if err != nil {
		return err
	}
	m.drawContours(lines)
	m.page.Items = append(m.page.Items, top.Items...)
	m.page.Frame(0.35, m.plan.Style.Ink, m.frame)
	return m.corners()
}

// hatch is lines rising to the right across an even-odd area, gap apart.
func hatch(rings [][]page.Point, r page.Rect, gap float64) [][]page.Point {
	// Along the line x + y = c crossings are found by where each edge's x + y
	// passes c; edges are binned by the lines they reach, so the work is that
	// of the crossings.
	crossings := map[int][]float64{}
	for _, ring := range rings {
		for i, a := range ring {
			b := ring[(i+1)%len(ring)]
			ca, cb := (a.X+a.Y)/gap, (b.X+b.Y)/gap
			if ca > cb {
				a, b, ca, cb = b, a, cb, ca
			}
			for k := math.Ceil(ca); k < cb; k++ {
				t := (k - ca) / (cb - ca)
				crossings[int(k)] = append(crossings[int(k)], a.X+t*(b.X-a.X))
			}
		}
	}
	var out [][]page.Point
	for k := int(math.Floor((r.X + r.Y) / gap)); k <= int(math.Ceil((r.Right()+r.Bottom())/gap)); k++ {
		xs := crossings[k]
		slices.Sort(xs)
		for i := 0; i+1 < len(xs); i += 2 {
			if xs[i+1]-xs[i] > 0.15 {
				c := float64(k) * gap
				out = append(out, []page.Point{page.At(xs[i], c-xs[i]), page.At(xs[i+1], c-xs[i+1])})
			}
		}
	}
	return out
}

// contourLines brings the lines near the frame to the page.
func (m *mapPanel) contourLines(ctx context.Context) ([]PageContour, error) {
	c := m.plan.Contours
	if len(c.Lines) == 0 {
		return nil, nil
	}
	w := newLattice(m.proj, c.Frame, m.area()).window(c.Frame)
	if w.Empty() {
		return nil, nil
	}
	b := orb.Bound{Min: orb.Point{float64(w.Column), float64(w.Row)},
		Max: orb.Point{float64(w.Column + w.Columns - 1), float64(w.Row + w.Rows - 1)}}
	mirrored := (c.Frame.DX > 0) == (c.Frame.DY > 0)
	var out []PageContour
	var x, y []float64
	for i := range c.Lines {
		if i%1024 == 0 && ctx.Err() != nil {
			return nil, fmt.Errorf("sheet: contours: %w", ctx.Err())
		}
		l := &c.Lines[i]
		if l.Touch { // bounds no ground
			continue
		}
		ls := make(orb.LineString, len(l.Points))
		inside, near := true, orb.Bound{Min: orb.Point{math.Inf(1), math.Inf(1)}, Max: orb.Point{math.Inf(-1), math.Inf(-1)}}
		for k, q := range l.Points {
			ls[k] = orb.Point{q.Column, q.Row}
			near = near.Extend(ls[k])
			inside = inside && b.Contains(ls[k])
		}
		if !near.Intersects(b) {
			continue
		}
		pieces := orb.MultiLineString{ls}
		if !inside {
			pieces = clip.LineString(b, ls)
		}
		for _, piece := range pieces {
			if len(piece) < 2 {
				continue
			}
			out = append(out, PageContour{Line: l, Mirrored: mirrored, Points: make([]page.Point, len(piece))})
			for _, q := range piece {
				x = append(x, c.Frame.X0+q[0]*c.Frame.DX)
				y = append(y, c.Frame.Y0+q[1]*c.Frame.DY)
			}
		}
	}
	if err := c.Frame.CRS.ToWGS84(x, y); err != nil {
		return nil, fmt.Errorf("sheet: contours: %w", err)
	}
	if err := m.proj.forward(x, y); err != nil {
		return nil, fmt.Errorf("sheet: contours: %w", err)
	}
	at := 0
	for _, l := range out {
		for k := range l.Points {
			l.Points[k] = m.onPage(page.At(x[at], y[at]))
			at++
		}
	}
	return out, nil
}

// drawContours draws lines and, in gaps of the index lines, their numbers.
func (m *mapPanel) drawContours(lines []PageContour) {
	pg, style := m.page, m.plan.Style
	numbered := numberContours(lines, m.frame, style, m.plan.ContourReading, m.taken, m.ruled, max(m.leastLevels, m.plan.leastNumbered()), m.plan.mostNumbers())
	m.numberedLevels = numbered.levels
	var index, intermediate, supplementary [][]page.Point
	for i, l := range lines {
		switch l.Line.Kind {
		case contour.Index:
			index = append(index, numbered.Drawn[i]...)
		case contour.Supplementary:
			supplementary = append(supplementary, numbered.Drawn[i]...)
		default:
			intermediate = append(intermediate, numbered.Drawn[i]...)
		}
	}
	pg.Open("contours", "Contours")
	pg.Clip(m.frame)
	before := len(pg.Opened())
	pg.Add(style.Supplementary.Stroke(supplementary...))
	m.drew.supplementary = len(pg.Opened()) > before
	before = len(pg.Opened())
	pg.Add(style.Intermediate.Stroke(intermediate...))
	m.drew.intermediate = len(pg.Opened()) > before
	before = len(pg.Opened())
	pg.Add(style.Index.Stroke(index...))
	m.drew.index = len(pg.Opened()) > before
	before = len(pg.Opened())
	pg.Add(style.DepressionTicks(numbered.Ticks))
	m.drew.depression = len(pg.Opened()) > before
	pg.Unclip()
	pg.Close()
	pg.Open("contour-numbers", "Contour elevations")
	for _, t := range numbered.Numbers {
		pg.Add(t)
	}
	pg.Close()
}

// free reports whether a box is inside the frame and clear of all that is
// placed.
func (m *mapPanel) free(b page.Rect) bool {
	if !m.frame.Inset(0.8).Holds(b) {
		return false
	}
	for _, o := range m.taken {
		if b.Overlaps(o) {
			return false
		}
	}
	return true
}
