package sheet

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"crowline/contour/page"
	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/units"
)

// blocks draws what stands round the map. Each block draws at a place and
// returns the depth it took, so a run on a scratch page measures it.
type blocks struct {
	plan *Plan
	proj *projection
	drew drawn
	// reserve keeps room for what the plan may be given later.
	reserve bool
}

const (
	marginText = 6.5 // points
	leading    = marginText * page.PointMM * 1.22
)

// paragraph sets wrapped text and returns its depth.
func paragraph(pg *page.Page, o page.Point, w float64, face page.Face, text string) float64 {
	y := o.Y
	for _, line := range page.Wrap(text, face, marginText, w) {
		y += leading
		pg.Add(page.Text{At: page.At(o.X, y-0.4), String: line, Face: face, Size: marginText, Color: page.Ink})
	}
	return y - o.Y
}

// scale draws the representative fraction, the two scale bars, the interval
// and the length to check a print by.
func (b *blocks) scale(pg *page.Page, o page.Point, w float64) float64 {
	p := b.plan
	y := o.Y + 3
	pg.Add(page.Text{At: page.At(o.X, y), String: "Scale " + fraction(p.Scale), Face: page.Bold, Size: 9, Color: page.Ink})
	perKM, perMile := 1e6/p.Scale/10, units.Mile*1000/p.Scale/25.4
	pg.Add(page.Text{At: page.At(o.X+w, y), Align: page.AlignRight, Size: marginText, Color: page.Ink,
		String: fmt.Sprintf("%s cm to 1 km, %s in to 1 mile", strconv.FormatFloat(perKM, 'g', 3, 64), strconv.FormatFloat(perMile, 'g', 3, 64))})
	y += 5
	b.bar(pg, page.At(o.X, y), w, 1000, "km", 1, "m")
	y += 7.6
	b.bar(pg, page.At(o.X, y), w, units.Mile, "miles", units.Foot, "ft")
	y += 4.4
	c := b.interval()
	if c == "" && b.reserve {
		c = "Contour interval"
	}
	if c != "" {
		y += paragraph(pg, page.At(o.X, y), w, page.Bold, c)
	}
	y += 2.6
	// The check bar, exactly 100 mm between the outer edges of its end ticks'
	// centre lines.
	pg.Add(page.Stroke{Lines: [][]page.Point{{page.At(o.X, y), page.At(o.X+100, y)}, {page.At(o.X, y-1), page.At(o.X, y+1)},
		{page.At(o.X+50, y-0.6), page.At(o.X+50, y+0.6)}, {page.At(o.X+100, y-1), page.At(o.X+100, y+1)}}, Width: 0.25, Color: page.Ink})
	y += paragraph(pg, page.At(o.X, y+1), w, page.Regular, "Print at 100 %: this line must measure 100 mm.") + 1
	return y - o.Y
}

func fraction(scale float64) string { return "1:" + group6(math.Round(scale)) }

// bar draws a scale bar w wide at most: whole units to the right of zero, one
// divided unit to its left. Distances too short for the unit are given in the
// smaller one.
func (b *blocks) bar(pg *page.Page, o page.Point, w, unit float64, name string, small float64, smallName string) {
	perMetre := 1000 / b.plan.Scale
	usable := w - 12 // room for the last figure and the unit's name
	step := roundDown(usable / 3 / perMetre / unit)
	if half := roundDown(usable / 2 / perMetre / unit); step < 0.5 && half >= 0.5 {
		step = half
	}
	if step < 0.5 { // a bar of tenths reads better in the smaller unit
		unit, name = small, smallName
		step = roundDown(usable / 3 / perMetre / unit)
	}
	n := int(usable/(step*unit*perMetre)) - 1
	length := step * unit * perMetre
	zero := o.X + length
	const thick = 1.1
	parts := 5
	for i := range parts { // the divided unit, alternately filled
		if i%2 == 0 {
			x := o.X + float64(i)*length/float64(parts)
			pg.Add(page.Fill{Rings: [][]page.Point{page.Box(x, o.Y-thick, length/float64(parts), thick).Corners()}, Color: page.Ink})
		}
	}
	for i := range n {
		if i%2 == 1 {
			pg.Add(page.Fill{Rings: [][]page.Point{page.Box(zero+float64(i)*length, o.Y-thick, length, thick).Corners()}, Color: page.Ink})
		}
	}
	pg.Frame(0.15, page.Ink, page.Box(o.X, o.Y-thick, float64(n+1)*length, thick))
	pg.Line(0.15, page.Ink, page.At(zero, o.Y-thick-0.7), page.At(zero, o.Y))
	for i := -1; i <= n; i++ {
		s := plain(math.Abs(float64(i))*step, step)
		t := page.Text{At: page.At(zero+float64(i)*length, o.Y+0.8), String: s, Size: marginText, Rise: page.RiseTop, Align: page.AlignCenter, Color: page.Ink}
		if i == -1 {
			t.Align = page.AlignLeft
		}
		if i == n {
			t.At.X -= page.TextWidth(s, page.Regular, marginText) / 2
			t.Align, t.String = page.AlignLeft, s+" "+name
		}
		pg.Add(t)
	}
}

// roundDown is the greatest of 1, 2, 5 times a power of ten not above v.
func roundDown(v float64) float64 {
	s := roundStep(v)
	for _, next := range []float64{1, 2, 2.5, 4, 5, 10} {
		if s/next <= v*(1+1e-9) {
			if t := roundStep(s / next); t <= v*(1+1e-9) {
				return t
			}
		}
	}
	return s / 10
}

// interval is the contour interval as the margin states it.
func (b *blocks) interval() string {
	l := b.plan.Contours.Levels
	if b.plan.Plain {
		return "Contour interval: " + strings.Repeat("_", 24)
	}
	if !(l.Interval > 0) {
		return ""
	}
	unit := map[string]string{"m": "metres", "ft": "feet"}[l.Unit.String()]
	if l.Interval == 1 {
		unit = map[string]string{"m": "metre", "ft": "foot"}[l.Unit.String()]
	}
	s := fmt.Sprintf("Contour interval %s %s", plain(l.Interval, l.Interval), unit)
	if len(b.plan.Contours.Lines) == 0 {
		return s + ": the ground here is flatter, and no line crosses it."
	}
	every := l.IndexEvery
	if every == 0 {
		every = 5
	}
	if every > 0 {
		step := l.Interval * float64(every)
		s += fmt.Sprintf(", every %s numbered", plain(step, step))
	}
	if l.Half {
		s += "; dashed at half the interval"
	}
	return s + "."
}

// key explains the signs that the map used.
func (b *blocks) key(pg *page.Page, o page.Point, w float64) float64 {
	style := b.plan.Style
	const sample, row = 9.0, 3.7
	y := o.Y
	next := func(text string, draw func(c page.Point)) {
		lines := page.Wrap(text, page.Regular, marginText, w-sample-1.5)
		draw(page.At(o.X+sample/2, y+row/2))
		for i, line := range lines {
			pg.Add(page.Text{At: page.At(o.X+sample+1.5, y+row/2+float64(i)*leading), String: line, Size: marginText, Rise: page.RiseMiddle, Color: page.Ink})
		}
		y += row + float64(len(lines)-1)*leading
	}
	line := func(pen page.Pen) func(page.Point) {
		return func(c page.Point) { pg.Add(pen.Stroke([]page.Point{c.Add(-sample/2, 0), c.Add(sample/2, 0)})) }
	}
	if b.plan.Leg != nil {
		next("Start", func(c page.Point) { endSymbol(pg, c, true, style) })
		next("Destination", func(c page.Point) { endSymbol(pg, c, false, style) })
		text := "Leg"
		if b.drew.tick {
			_, unit := far(b.plan.Units)
			name, _ := far(b.plan.Units)
			step := b.plan.tickStep() / unit
			text += ", ticks every " + plain(step, step) + " " + name
		}
		next(text, func(c page.Point) {
			line(style.Leg)(c)
			pg.Line(style.Leg.Width*0.8, style.Leg.Color, c.Add(0, -1.2), c.Add(0, 1.2))
		})
	}
	if b.drew.start {
		next("Start", func(c page.Point) { endSymbol(pg, c, true, style) })
	}
	if b.drew.turn {
		next("Turning point", func(c page.Point) { turnSymbol(pg, c, style) })
	}
	if b.drew.destination {
		next("Destination", func(c page.Point) { endSymbol(pg, c, false, style) })
	}
	if b.drew.numbered {
		y += 1.2 // the number is taller than a row
		next("Leg, by its number", func(c page.Point) {
			line(style.Leg)(c)
			legNumber(pg, c, "1", style)
		})
		y += 1.2
	}
	if b.drew.station {
		next("Point of the walk", func(c page.Point) { stationSymbol(pg, c) })
		next("The way to the next", func(c page.Point) { stationArrowSymbol(pg, c.Add(-stationStart-stationArrow/2, 0), page.At(1, 0)) })
	}
	b.hazardKey(pg, next)
	if b.drew.place {
		text := "Place"
		if b.plan.Fix != nil {
			text = "Known place"
		}
		next(text, func(c page.Point) { placeSymbol(pg, c, style) })
	}
	if b.drew.mark || b.drew.beyond {
		text := "Mark to sight, line to it"
		if b.drew.beyond {
			text = "Mark; arrow if off the sheet"
		}
		next(text, func(c page.Point) {
			pg.Add(sightLine(style, c.Add(-sample/2, 0), c.Add(sample/2, 0)))
			if b.drew.beyond {
				pg.Add(beyondSymbol(c.Add(-sample/2, 0), page.At(-1, 0), style))
			}
			if b.drew.mark {
				markSymbol(pg, c.Add(sample/2-1.8, 0), style)
			}
		})
	}
	switch {
	case b.plan.Plain && (b.drew.index || b.drew.intermediate):
		next("Contour", line(style.Intermediate))
	case b.drew.index:
		next("Index contour", line(style.Index))
	}
	if b.drew.intermediate && !b.plan.Plain {
		next("Intermediate contour", line(style.Intermediate))
	}
	if b.drew.supplementary {
		next("Supplementary contour", line(style.Supplementary))
	}
	if b.drew.depression {
		next("Depression (ticks downhill)", func(c page.Point) {
			line(style.Intermediate)(c)
			var ticks [][]page.Point
			for x := -3.0; x <= 3; x += 3 {
				ticks = append(ticks, []page.Point{c.Add(x, 0), c.Add(x, 0.9)})
			}
			pg.Add(page.Stroke{Lines: ticks, Width: style.Intermediate.Width * 1.2, Color: style.Intermediate.Color})
		})
	}
	if (b.plan.Declination != nil || b.reserve) && b.plan.MagneticLines {
		next("Magnetic north", line(style.Magnetic))
	}
	if b.drew.relief || b.reserve && b.plan.Relief > 0 {
		next("Relief lit from upper left", func(c page.Point) {
			r := page.Box(c.X-sample/2, c.Y-1.3, sample, 2.6)
			const steps = 9
			for i := range steps {
				grey := uint8(255 - reliefDarkest*b.plan.Relief*float64(i)/steps)
				pg.Add(page.Fill{Rings: [][]page.Point{page.Box(r.X+r.Width*float64(i)/steps, r.Y, r.Width/steps, r.Height).Corners()}, Color: page.Color{R: grey, G: grey, B: grey, A: 255}})
			}
			pg.Frame(0.1, page.Faint, r)
		})
	}
	patch := func(c page.Point) page.Rect { return page.Box(c.X-sample/2, c.Y-1.3, sample, 2.6) }
	b.fixKey(pg, next, patch)
	b.viewKey(pg, next, patch)
	b.tintKey(pg, next, patch)
	if b.drew.void {
		next("No elevation data", func(c page.Point) {
			r := patch(c)
			var lines [][]page.Point
			for x := r.X - r.Height; x < r.Right(); x += 1.6 {
				lines = append(lines, []page.Point{page.At(x, r.Y), page.At(x+r.Height, r.Bottom())})
			}
			pg.Clip(r)
			pg.Add(page.Stroke{Lines: lines, Width: 0.12, Color: style.Void})
			pg.Unclip()
			pg.Frame(0.12, style.Void, r)
		})
	}
	if b.reserve && b.plan.keyed {
		y += pageKeyTall + pageKeyAir
	}
	if b.drew.filled {
		next(filledKey, func(c page.Point) { filledSample(pg, patch(c)) })
	}
	return y - o.Y
}

// notes are the paragraphs about the data, the coordinates and the cautions.
func (b *blocks) notes() []string {
	var out []string
	if s := b.elevationNote(); s != "" {
		out = append(out, s)
	}
	s := "Coordinates: WGS 84"
	if b.proj.utm != nil {
		s += fmt.Sprintf("; grid %s, %s m apart, scale factor %.5f", b.proj.gridName(), units.Group(gridInterval(b.plan.Scale)), b.proj.pointScale)
	}
	s += ". Ground distances are to scale at the sheet's centre."
	out = append(out, s)
	if b.drew.zoneNote != "" {
		out = append(out, b.drew.zoneNote)
	}
	if s := b.likelyNote(); s != "" {
		out = append(out, s)
	}
	return append(append(out, b.plan.Notes...), b.plan.Cautions...)
}

// elevationNote says whose elevations they are and what they are worth.
func (b *blocks) elevationNote() string {
	d := b.plan.Data
	if d.Name == "" && b.plan.Ground == nil && !b.reserve {
		return ""
	}
	s := "Elevation data: " + d.Name
	if d.Name == "" {
		s = "Elevation data: unnamed"
	}
	if b.reserve {
		s += ", a post every 000 ft"
	} else if b.plan.Ground != nil {
		f := b.plan.Ground.Layout()
		if c, r, err := f.Locate(b.proj.centre); err == nil {
			if x, y, err := f.Spacing(c, r); err == nil {
				s += ", a post every " + b.plan.Units.Distance(math.Max(x, y))
			}
		}
	}
	switch d.Surface {
	case dem.SurfaceModel:
		s += ", of the surface seen from above (treetops and roofs where there are any)"
	case dem.BareEarth:
		s += ", of the bare earth"
	}
	s += "."
	if d.VerticalError > 0 {
		s += fmt.Sprintf(" Vertical error ±%s (one standard deviation", b.plan.Units.Height(d.VerticalError))
		if d.VerticalErrorSource != "" {
			s += "; " + strings.TrimSuffix(d.VerticalErrorSource, ".")
		}
		s += ")."
	} else {
		s += " Its vertical error is not stated."
	}
	if d.VerticalUnit != "" && !d.VerticalUnitStated {
		s += " The unit of its elevations is not stated; metres are assumed."
	}
	if d.VerticalDatum != "" {
		s += " Elevations above " + d.VerticalDatum + "."
	}
	if d.Attribution != "" {
		s += " " + strings.TrimSuffix(d.Attribution, ".") + "."
	}
	return s
}

// foot sets the notes across the sheet.
func (b *blocks) foot(pg *page.Page, o page.Point, w float64) float64 {
	y := o.Y
	for _, s := range b.notes() {
		y += paragraph(pg, page.At(o.X, y), w, page.Regular, s) + 0.5
	}
	return y - o.Y
}

// headline is the line under the title: the leg, or the only place, in figures.
func (b *blocks) headline() string {
	p := b.plan
	if p.Headline != "" {
		return p.Headline
	}
	if len(p.Route) > 0 {
		sum := 0.0
		for _, l := range p.Route {
			sum += geodesy.Inverse(l.From.At, l.To.At).Distance
		}
		if len(p.Route) == 1 {
			return "1 leg, " + p.Units.Distance(sum)
		}
		return fmt.Sprintf("%d legs, %s", len(p.Route), p.Units.Distance(sum))
	}
	if p.Leg == nil {
		if len(p.Points) != 1 {
			return ""
		}
		var parts []string
		if at := p.Points[0].At.String(); p.Title != at {
			parts = append(parts, at)
		}
		if b.proj.utm != nil {
			if e, n, err := b.proj.utm.Coordinates(p.Points[0].At); err == nil {
				parts = append(parts, fmt.Sprintf("%s %s m E %s m N", b.proj.gridName(), group6(e), group6(n)))
			}
		}
		if e := p.Points[0].Elevation; !math.IsNaN(e) {
			parts = append(parts, p.Units.Elevation(e))
		}
		return strings.Join(parts, ", ")
	}
	g, grid, ok := p.legBearings(b.proj)
	s := p.Units.Distance(g.Distance) + " on " + bearing(float64(g.Start)) + " true"
	if ok {
		s += ", " + bearing(float64(grid)) + " grid"
	}
	if p.Declination != nil {
		s += ", " + bearing(float64(p.Declination.magnetic(g.Start))) + " magnetic"
	}
	return s
}
