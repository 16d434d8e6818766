package sheet

import (
	"context"
	"fmt"
	"math"

	"crowline/contour/page"
	"crowline/dem/geodesy"
)

// Document is the map on one page with its legend, scale bar, north arrow and
// notes, the paper whichever way up shows the ground larger. Names that the
// typeface cannot show give way to coordinates, and Warnings says so. Text in
// Title, Summary and Notes that it cannot show is a *GlyphError; a question
// that makes no map wraps ErrPlan.
func (d SeenMap) Document(ctx context.Context, paper page.Paper) (*page.Document, error) {
	if err := d.validate(); err != nil {
		return nil, err
	}
	if err := paper.Validate(); err != nil {
		return nil, err
	}
	for _, s := range append(append([]string{d.Title}, d.Summary...), d.Notes...) {
		if err := page.CheckText(s, page.Regular); err != nil {
			return nil, err
		}
	}
	doc := &page.Document{Title: d.Title}
	observers := make([]SeenFrom, len(d.Observers))
	for i, o := range d.Observers {
		if err := page.CheckText(o.Name, page.Bold); err != nil {
			doc.Warnings = append(doc.Warnings, fmt.Sprintf("%v; its coordinates stand for it", err))
			o.Name = o.Place.String()
		}
		observers[i] = o
	}
	d.Observers = observers
	width, height, err := d.size()
	if err != nil {
		return nil, err
	}
	// Lay out each way up with the margin under the map and beside it, and
	// keep the one with the largest map.
	var best *seenLayout
	for _, p := range paper.Ways() {
		for _, beside := range []bool{false, true} {
			l := &seenLayout{SeenMap: &d, page: &page.Page{Width: p.Width, Height: p.Height}, beside: beside}
			if l.fit(width, height); l.perMetre > 0 && (best == nil || l.perMetre > best.perMetre) {
				best = l
			}
		}
	}
	if best == nil {
		return nil, fmt.Errorf("%w: the legend and notes leave no room for a map on %s", ErrPlan, paper.Name)
	}
	if err := best.compose(ctx); err != nil {
		return nil, err
	}
	doc.Pages = []*page.Page{best.page}
	for _, name := range best.panel.labels.unlabelled {
		doc.Warnings = append(doc.Warnings, fmt.Sprintf("no room on the map for the name %q", name))
	}
	return doc, nil
}

const (
	seenEdge   = 10.0 // millimetres of white paper round all
	seenColumn = 66.0 // width of a margin beside the map
	seenGap    = 4.0
	seenLeast  = 60.0 // the least side of a map that can be read
)

type seenLayout struct {
	*SeenMap
	page     *page.Page
	beside   bool
	panel    *seenPanel
	map_     page.Rect
	perMetre float64 // millimetres of paper; 0 where nothing fits
}

// room is where the map may stand, measured with scratch drawings of all else.
func (l *seenLayout) room() page.Rect {
	r := page.Box(seenEdge, seenEdge, l.page.Width-2*seenEdge, l.page.Height-2*seenEdge)
	head := l.heading(&page.Page{}, page.Point{})
	r.Y += head
	r.Height -= head
	if l.beside {
		r.Width -= seenColumn + seenGap
	} else {
		r.Height -= l.under(&page.Page{}, page.Point{}) + seenGap
	}
	return r
}

// fit finds the map's scale and its place on the page, width by height metres.
func (l *seenLayout) fit(width, height float64) {
	// The legend says what the map shows, and its depth does not depend on
	// the scale but for the words of the scale bar.
	l.perMetre = 1
	l.panel = newSeenPanel(l.SeenMap, l.page, page.Box(0, 0, 1, 1))
	l.panel.unknown = true // room for it, known only when drawn
	r := l.room()
	l.perMetre = math.Min(r.Width/width, r.Height/height)
	if r.Width < seenLeast || r.Height < seenLeast ||
		l.beside && l.column(&page.Page{}, page.Point{}, seenColumn) > r.Height {
		l.perMetre = 0
		return
	}
	l.map_ = page.Box(r.X, r.Y, width*l.perMetre, height*l.perMetre)
	if !l.beside {
		l.map_.X += (r.Width - l.map_.Width) / 2
	}
}

func (l *seenLayout) compose(ctx context.Context) error {
	l.panel = newSeenPanel(l.SeenMap, l.page, l.map_)
	l.heading(l.page, page.At(seenEdge, seenEdge))
	if err := l.panel.draw(ctx); err != nil {
		return err
	}
	if l.beside {
		l.column(l.page, page.At(l.map_.Right()+seenGap, l.map_.Y), math.Min(seenColumn+20, l.page.Width-seenEdge-l.map_.Right()-seenGap))
		return nil
	}
	l.under(l.page, page.At(seenEdge, l.map_.Bottom()+seenGap))
	return nil
}

func (l *seenLayout) heading(pg *page.Page, o page.Point) float64 {
	pg.Open("title", "Title")
	defer pg.Close()
	const size = 8.0
	y := o.Y
	width := l.page.Width - 2*seenEdge
	for _, line := range page.Wrap(l.Title, page.Bold, 12, width) {
		y += 12 * page.PointMM * 1.15
		pg.Add(page.Text{At: page.At(o.X, y-0.9), String: line, Face: page.Bold, Size: 12, Color: page.Ink})
	}
	for _, s := range l.Summary {
		for _, line := range page.Wrap(s, page.Regular, size, width) {
			y += size * page.PointMM * 1.25
			pg.Add(page.Text{At: page.At(o.X, y-0.4), String: line, Size: size, Color: page.Ink})
		}
	}
	return y + 2 - o.Y
}

// under is the margin below the map: the legend left, scale and north right,
// notes across.
func (l *seenLayout) under(pg *page.Page, o page.Point) float64 {
	width := l.page.Width - 2*seenEdge
	right := math.Min(75, width*0.42)
	depth := math.Max(l.legend(pg, o, width-right-seenGap), l.scaleAndNorth(pg, page.At(o.X+width-right, o.Y), right))
	return depth + 1.5 + l.notes(pg, page.At(o.X, o.Y+depth+1.5), width)
}

// column is the margin beside the map.
func (l *seenLayout) column(pg *page.Page, o page.Point, w float64) float64 {
	y := o.Y + l.legend(pg, o, w) + 3
	y += l.scaleAndNorth(pg, page.At(o.X, y), w) + 2
	return y + l.notes(pg, page.At(o.X, y), w) - o.Y
}

// legend explains every sign and tint on the map.
func (l *seenLayout) legend(pg *page.Page, o page.Point, w float64) float64 {
	pg.Open("legend", "Legend")
	defer pg.Close()
	const sample, row = 8.0, 3.9
	m := l.panel
	y := o.Y
	text := func(lines []string, x float64) {
		for i, s := range lines {
			pg.Add(page.Text{At: page.At(x, y+row/2+float64(i)*leading), String: s, Size: marginText, Rise: page.RiseMiddle, Color: page.Ink})
		}
		y += row + float64(max(0, len(lines)-1))*leading
	}
	next := func(s string, draw func(c page.Point)) {
		draw(page.At(o.X+sample/2, y+row/2))
		text(page.Wrap(s, page.Regular, marginText, w-sample-1.5), o.X+sample+1.5)
	}
	patch := func(c page.Point) page.Rect { return page.Box(c.X-sample/2, c.Y-1.4, sample, 2.8) }
	tinted := func(color page.Color) func(page.Point) {
		return func(c page.Point) {
			pg.Add(page.Fill{Rings: [][]page.Point{patch(c).Corners()}, Color: color})
			pg.Frame(0.1, page.Faint, patch(c))
		}
	}
	for i, f := range l.Observers {
		s := f.Place.String()
		if f.Name != "" && f.Name != s {
			s = f.Name + ", " + s
		}
		if !math.IsNaN(f.Elevation) {
			s += ", ground at " + l.Units.elevation(f.Elevation)
		}
		if len(l.Observers) > 1 {
			s = fmt.Sprintf("%d  %s", i+1, s)
		} else {
			s = "Seen from " + s
		}
		next(s, func(c page.Point) { observerSymbol(pg, c) })
	}
	if len(l.Observers) == 1 {
		next("Seen", tinted(m.classes[0].tint))
	} else {
		y += 0.6
		text([]string{fmt.Sprintf("Seen by how many of the %d:", len(l.Observers))}, o.X)
		// in a row, for it is a scale
		x := o.X
		for _, c := range m.classes {
			s := fmt.Sprint(c.lo)
			if c.hi > c.lo {
				s = fmt.Sprintf("%d–%d", c.lo, c.hi)
			}
			at := page.At(x+sample/2, y+row/2)
			tinted(c.tint)(at)
			pg.Add(page.Text{At: at.Add(sample/2+0.8, 0), String: s, Size: marginText, Rise: page.RiseMiddle, Color: page.Ink})
			x += sample + 2.4 + page.TextWidth(s, page.Regular, marginText)
			if x+sample+6 > o.X+w {
				x, y = o.X, y+row
			}
		}
		if x > o.X {
			y += row
		}
	}
	next("Hidden: relief without a tint", tinted(page.RGB(0xF0F0F0)))
	if m.unknown {
		next("Not known: no elevation there, or on the way to it", func(c page.Point) {
			r := patch(c)
			var lines [][]page.Point
			for x := r.X - r.Height; x < r.Right(); x += 1.2 {
				lines = append(lines, []page.Point{page.At(x, r.Y), page.At(x+r.Height, r.Bottom())})
			}
			pg.Clip(r)
			pg.Add(page.Stroke{Lines: lines, Width: 0.16, Color: page.Vermillion})
			pg.Unclip()
			pg.Frame(0.1, page.Faint, r)
		})
	}
	if len(m.filledAt) > 0 {
		next(filledKey, func(c page.Point) { filledSample(pg, patch(c)) })
	}
	if s := l.limitText(); s != "" {
		next(s, func(c page.Point) {
			pg.Add(seenLimit.Stroke([]page.Point{c.Add(-sample/2, 0), c.Add(sample/2, 0)}))
		})
	}
	if l.Farthest != nil {
		s := "Farthest ground seen"
		if len(l.Observers) == 1 {
			s += ", " + l.Units.distance(geodesy.Inverse(l.Observers[0].Place, *l.Farthest).Distance)
		}
		next(s, func(c page.Point) { farthestSymbol(pg, c) })
	}
	return y - o.Y
}

// limitText is the legend's word on how far was looked.
func (l *seenLayout) limitText() string {
	s := ""
	if l.Radius > 0 {
		s = "Looked at ground within " + l.Units.distance(l.Radius)
	}
	if l.Sector != nil {
		if s == "" {
			s = "Looked at ground"
		}
		s += fmt.Sprintf(" on true bearings %s to %s", bearing(float64(l.Sector.From)), bearing(float64(l.Sector.To)))
	}
	if s != "" && l.panel.beyond {
		s += "; pale beyond"
	}
	return s
}

func (l *seenLayout) scaleAndNorth(pg *page.Page, o page.Point, w float64) float64 {
	pg.Open("scale", "Scale and north")
	defer pg.Close()
	const arrow = 12.0
	scale := 1000 / l.perMetre
	y := o.Y + 3
	// to three figures: it holds at the middle, on the printer's word
	digits := math.Pow(10, math.Max(0, math.Floor(math.Log10(scale))-2))
	pg.Add(page.Text{At: page.At(o.X, y), String: "Scale about " + fraction(math.Round(scale/digits)*digits), Face: page.Bold, Size: 8, Color: page.Ink})
	b := &blocks{plan: &Plan{Scale: scale}}
	barWidth := w - 18
	if l.Units == US {
		b.bar(pg, page.At(o.X, y+4), barWidth, mile, "miles", foot, "ft")
	} else {
		b.bar(pg, page.At(o.X, y+4), barWidth, 1000, "km", 1, "m")
	}
	turn := l.trueNorth()
	u := page.Toward(turn)
	middle := page.At(o.X+w-7, o.Y+3.2+arrow/2)
	foot, tip := middle.Step(u, -arrow/2), middle.Step(u, arrow/2)
	side := u.Left()
	pg.Line(0.35, page.Ink, foot, tip)
	pg.Add(page.Fill{Rings: [][]page.Point{{tip, tip.Step(u, -3.4).Step(side, 1.1), tip.Step(u, -3.4).Step(side, -1.1)}}, Color: page.Ink})
	name := tip.Step(u, 1.8)
	pg.Add(page.Text{At: name, String: "N", Face: page.Bold, Size: 8, Align: page.AlignCenter, Rise: page.RiseMiddle, Color: page.Ink})
	s := "Scale and true north (N) hold at the middle of the map"
	if d := math.Abs(turn); d >= 0.05 {
		way := "right"
		if turn < 0 {
			way = "left"
		}
		s += fmt.Sprintf(", where true north is %.1f° to the %s of its columns", d, way)
	}
	depth := 10.6 + paragraph(pg, page.At(o.X, o.Y+10.6), barWidth, page.Regular, s+".")
	return math.Max(depth, 3.2+arrow+2)
}

// trueNorth is the direction of true north at the middle of the map, degrees
// clockwise from the top of the page; 0 where it cannot be told.
func (l *seenLayout) trueNorth() float64 {
	w, f := l.Window, l.Ground.Layout()
	column, row := float64(w.Column)+float64(w.Columns-1)/2, float64(w.Row)+float64(w.Rows-1)/2
	at, err := f.Place(column, row)
	if err != nil {
		return 0
	}
	alongRow, alongColumn, err := f.Spacing(column, row)
	if err != nil {
		return 0
	}
	north, _ := geodesy.Direct(at, 0, 10*math.Max(alongRow, alongColumn))
	c, r, err := f.Locate(north)
	if err != nil {
		return 0
	}
	return float64(geodesy.Atan2(math.Copysign(alongRow, f.DX)*(c-column), math.Copysign(alongColumn, f.DY)*(r-row)))
}

// notes are the small print.
func (l *seenLayout) notes(pg *page.Page, o page.Point, w float64) float64 {
	pg.Open("notes", "Notes")
	defer pg.Close()
	y := o.Y
	notes := append([]string{}, l.Notes...)
	if s := l.corners(); s != "" {
		notes = append(notes, s)
	}
	if n := l.posts(); n > 1.5 {
		notes = append(notes, fmt.Sprintf("The map has a dot for about every %.0f posts and shows the nearest.", n))
	}
	if l.panel.offData {
		notes = append(notes, "Part of the circle lies outside the elevation data: nothing is known of the ground there.")
	}
	for _, s := range notes {
		y += paragraph(pg, page.At(o.X, y), w, page.Regular, s) + 0.5
	}
	return y - o.Y
}

// posts is how many share a dot of the picture.
func (l *seenLayout) posts() float64 {
	dots := l.panel.labels.frame.Width * l.panel.labels.frame.Height * seenPerMM * seenPerMM
	return float64(l.Window.Columns*l.Window.Rows) / math.Max(1, dots)
}

// corners says where the map lies, by its outermost posts.
func (l *seenLayout) corners() string {
	w, f := l.Window, l.Ground.Layout()
	west, east := float64(w.Column), float64(w.Column+w.Columns-1)
	north, south := float64(w.Row), float64(w.Row+w.Rows-1)
	if f.DX < 0 {
		west, east = east, west
	}
	if f.DY > 0 {
		north, south = south, north
	}
	nw, err1 := f.Place(west, north)
	se, err2 := f.Place(east, south)
	if err1 != nil || err2 != nil {
		return ""
	}
	return fmt.Sprintf("Map corners (WGS 84): upper left %s, lower right %s.", nw, se)
}
