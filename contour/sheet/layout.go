package sheet

import (
	"fmt"
	"math"

	"crowline/contour/page"
	"crowline/dem"
	"crowline/dem/geodesy"
)

const (
	paperMargin = 8   // mm no office printer reaches beyond
	gridBand    = 6.8 // mm round the frame for numbers and corners
	sideBand    = 7   // mm left and right of the frame
	headDepth   = 11  // mm for title and figures
	pageOverlap = 20  // mm of leg that neighbouring pages share
	legMargin   = 14  // mm kept between leg and frame
	leastFrame  = 50  // mm; less is no map
	gutter      = 5   // mm between blocks
)

// Frame is the map of one page.
type Frame struct {
	Centre geodesy.LatLon
	Paper  page.Paper // as turned
	Map    page.Rect  // the neat line on the page
	// Extent is the smallest box of latitude and longitude round the map:
	// the ground to read and trace contours on.
	Extent dem.Extent
}

// Frames says what ground the plan's pages will show, before its contours are
// traced and its declination, profile, marks and hidden ground are known: what
// is handed in later does not change the frames. It needs Scale, Paper, North,
// Units, what says where (Leg, Centre or Ground) and is named there (Points),
// Hazards,
// Relief, ProfileRelief, View but for its verdicts, and the texts printed in the margin (Data,
// Notes, Cautions).
// Read two posts more on every side, so that the ground reaches the frame.
func (p Plan) Frames() ([]Frame, error) {
	p, err := p.filled()
	if err != nil {
		return nil, err
	}
	pages, err := p.pages()
	if err != nil {
		return nil, err
	}
	out := make([]Frame, len(pages))
	for i, l := range pages {
		out[i] = Frame{Centre: l.proj.centre, Paper: l.paper, Map: l.frame}
		if out[i].Extent, err = l.extent(); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// layout is where things stand on one page.
type layout struct {
	paper   page.Paper
	proj    *projection
	frame   page.Rect
	profile page.Rect // empty when there is none
	signs   page.Rect // the profile's key
	side    bool      // the figures stand beside the map
	scaleAt page.Rect
	northAt page.Rect
	keyAt   page.Rect
	footAt  page.Rect
}

func (l *layout) extent() (dem.Extent, error) {
	e := dem.Extent{South: 90, North: -90}
	c := float64(l.proj.centre.Lon)
	west, east := 0.0, 0.0
	m := mapPanel{frame: l.frame}
	for _, q := range border(m.area(), 8) {
		at, err := l.proj.inverse(q)
		if err != nil {
			return e, fmt.Errorf("sheet: the map's edge: %w", err)
		}
		d := wrapLon(float64(at.Lon) - c)
		west, east = math.Min(west, d), math.Max(east, d)
		e.South, e.North = min(e.South, at.Lat), max(e.North, at.Lat)
	}
	e.West, e.East = geodesy.Degrees(wrapLon(c+west)), geodesy.Degrees(wrapLon(c+east))
	return e, nil
}

// centre of the whole plan.
func (p *Plan) centre() (geodesy.LatLon, error) {
	switch {
	case p.Centre != nil:
		return *p.Centre, nil
	case p.Leg != nil:
		return geodesy.Waypoints(p.Leg.From.At, p.Leg.To.At, 2)[1], nil
	case len(p.Route) > 0:
		return p.routeCentre()
	}
	f := p.Ground.Layout()
	return f.Place(float64(f.Columns-1)/2, float64(f.Rows-1)/2)
}

// pages chooses the way up that takes the fewest pages (upright on a tie) and
// lays each page out.
func (p *Plan) pages() ([]*layout, error) {
	pages, err := p.pagesKeyed(false)
	if len(p.Route) > 0 && (err != nil || len(pages) > 1) {
		return p.pagesKeyed(true)
	}
	return pages, err
}

// pagesKeyed lays the pages out with or without room for a page key.
func (p *Plan) pagesKeyed(keyed bool) ([]*layout, error) {
	p.keyed = keyed
	centre, err := p.centre()
	if err != nil {
		return nil, err
	}
	proj, err := newProjection(centre, p.North, p.Scale)
	if err != nil {
		return nil, err
	}
	var best []geodesy.LatLon
	var bestLayout *layout
	var bestRoom float64
	var firstErr error
	for _, paper := range p.Paper.Ways() {
		l, err := p.layOut(paper, proj)
		if err == nil {
			var centres []geodesy.LatLon
			var room float64
			if centres, room, err = p.split(l); err == nil && (best == nil || len(centres) < len(best) ||
				len(centres) == len(best) && room > bestRoom*1.02) {
				best, bestLayout, bestRoom = centres, l, room
			}
		}
		if err != nil && firstErr == nil {
			firstErr = err
		}
	}
	if best == nil {
		return nil, firstErr
	}
	out := make([]*layout, len(best))
	for i, c := range best {
		l := *bestLayout
		if c != centre {
			if l.proj, err = newProjection(c, p.North, p.Scale); err != nil {
				return nil, err
			}
		}
		out[i] = &l
	}
	return out, nil
}

// split gives the centres of the pages that the leg takes in a layout's frame,
// and how well it sits there: the frame's share left round the leg, or its
// area where there is no leg.
func (p *Plan) split(l *layout) (centres []geodesy.LatLon, room float64, err error) {
	if len(p.Route) > 0 && p.Centre == nil {
		centres, err := p.splitRoute(l)
		return centres, l.frame.Width * l.frame.Height, err
	}
	if p.Leg == nil || p.Centre != nil {
		return []geodesy.LatLon{l.proj.centre}, l.frame.Width * l.frame.Height, nil
	}
	a, err := l.proj.place(p.Leg.From.At)
	if err != nil {
		return nil, 0, err
	}
	b, err := l.proj.place(p.Leg.To.At)
	if err != nil {
		return nil, 0, err
	}
	length := a.Away(b)
	wide, tall := math.Abs(b.X-a.X)/length, math.Abs(b.Y-a.Y)/length
	longest := math.Min((l.frame.Width-2*legMargin)/math.Max(wide, 1e-9), (l.frame.Height-2*legMargin)/math.Max(tall, 1e-9))
	if length <= longest {
		return []geodesy.LatLon{l.proj.centre}, longest, nil
	}
	n := math.Ceil((length - pageOverlap) / (longest - pageOverlap))
	if !(n >= 1 && n <= MaxPages) {
		return nil, 0, fmt.Errorf("%w: %.0f pages at %s, at most %d; use a smaller scale or larger paper", ErrPages, n, fraction(p.Scale), MaxPages)
	}
	g := geodesy.Inverse(p.Leg.From.At, p.Leg.To.At)
	piece := (length + (n-1)*pageOverlap) / n
	for i := range int(n) {
		t := (float64(i)*(piece-pageOverlap) + piece/2) / length
		at, _ := geodesy.Direct(p.Leg.From.At, g.Start, t*g.Distance)
		centres = append(centres, at)
	}
	return centres, longest, nil
}

// layOut measures the blocks round the map and gives the map the rest.
func (p *Plan) layOut(paper page.Paper, proj *projection) (*layout, error) {
	l := &layout{paper: paper, proj: proj}
	scratch := &page.Page{Width: paper.Width, Height: paper.Height}
	// What the key may have to explain is only known when the map is drawn;
	// room is kept for all of it. The zone note is the longest it can be.
	full := &blocks{plan: p, proj: proj, reserve: true, drew: drawn{index: true, intermediate: true, supplementary: true,
		depression: true, void: true, filled: p.Filled, tick: true, mark: p.Leg != nil || len(p.Route) > 0, place: len(p.Points) > 0, station: len(p.Stations) > 0}}
	if len(p.Route) > 0 {
		full.drew.start, full.drew.destination, full.drew.turn, full.drew.numbered, full.drew.beyond = true, true, true, true, true
	}
	if f := p.Fix; f != nil {
		full.drew.region, full.drew.fix, full.drew.known = len(f.Regions) > 0, len(f.Places) > 0, len(f.Line) > 0
	}
	for _, h := range p.Hazards {
		full.drew.steep, full.drew.cliff = full.drew.steep || h.Kind == Steep, full.drew.cliff || h.Kind == Cliff
	}
	if v := p.View; v != nil {
		full.drew.hidden, full.drew.within, full.drew.unknown = true, v.Likely != nil, true
		full.drew.unlooked, full.drew.limit = v.bounded(), v.bounded()
		full.drew.farthest = v.Farthest != nil
		for _, o := range v.From {
			full.drew.observer = full.drew.observer || !p.marked(o.At)
		}
	}
	profile := p.Leg != nil && !p.WithoutProfile || p.Profile != nil
	if nearZoneEdge(p, proj, paper) {
		full.drew.zoneNote = zoneNote(60, 60)
	}
	// A profile as tall as 36 mm on A4, and in proportion on other paper, and
	// its key.
	profileTall := math.Max(36, 0.125*math.Min(paper.Width*1.3, paper.Height))
	signsTall := func(width float64) float64 {
		if !profile {
			return 0
		}
		return everyProfileSign(p.Filled, p.Covered).draw(scratch, page.Point{}, width, signsHeading, p.Style) + signsAir
	}
	in := page.Box(paperMargin, paperMargin, paper.Width-2*paperMargin, paper.Height-2*paperMargin)
	l.side = paper.Width > paper.Height
	bottom := in.Bottom()
	foot := full.foot(scratch, page.Point{}, in.Width)
	bottom -= foot
	l.footAt = page.Box(in.X, bottom, in.Width, foot)
	bottom -= 1.5
	right := in.Right()
	scaleWidth := math.Min(104, in.Width)
	scaleTall := full.scale(scratch, page.Point{}, scaleWidth)
	if l.side {
		const column = 46
		north := full.northDiagram(scratch, page.Point{}, column)
		right -= column + gutter
		x := right + gutter
		l.northAt = page.Box(x, in.Y+headDepth+gridBand, column, north)
		l.keyAt = page.Box(x, l.northAt.Bottom()+gutter, column, 0)
		l.scaleAt = page.Box(in.X, bottom-scaleTall, scaleWidth, scaleTall)
		if beside := in.Width - scaleWidth - gutter; profile && beside >= 80 {
			// The profile lies under the map, so its key and the notes stand beside
			// the scale bars.
			signs, foot := signsTall(beside), full.foot(scratch, page.Point{}, beside)
			tall := math.Max(scaleTall, signs+foot)
			bottom = in.Bottom() - tall
			l.scaleAt.Y = bottom
			l.signs = page.Box(in.X+scaleWidth+gutter, bottom, beside, signs)
			l.footAt = page.Box(l.signs.X, l.signs.Bottom(), beside, foot)
			bottom--
		} else {
			bottom -= scaleTall + 1
		}
	} else {
		rest := in.Width - scaleWidth - 2*gutter
		if rest >= 76 {
			column := rest / 2
			north := full.northDiagram(scratch, page.Point{}, column)
			key := full.key(scratch, page.Point{}, column)
			signs := signsTall(scaleWidth)
			tall := math.Max(scaleTall+signs, math.Max(north, key))
			bottom -= tall
			l.scaleAt = page.Box(in.X, bottom, scaleWidth, scaleTall)
			l.signs = page.Box(in.X, bottom+scaleTall, scaleWidth, signs)
			l.northAt = page.Box(in.X+scaleWidth+gutter, bottom, column, tall)
			l.keyAt = page.Box(in.X+scaleWidth+2*gutter+column, bottom, column, tall)
		} else {
			column := (in.Width - gutter) / 2
			tall := math.Max(full.northDiagram(scratch, page.Point{}, column), full.key(scratch, page.Point{}, column))
			bottom -= tall
			l.northAt = page.Box(in.X, bottom, column, tall)
			l.keyAt = page.Box(in.X+column+gutter, bottom, column, tall)
			beside := in.Width - scaleWidth - gutter
			if signs := signsTall(beside); beside >= everyProfileSign(p.Filled, p.Covered).widest() {
				tall := math.Max(scaleTall, signs)
				bottom -= tall + 1.5
				l.scaleAt = page.Box(in.X, bottom, scaleWidth, scaleTall)
				l.signs = page.Box(in.X+scaleWidth+gutter, bottom, beside, signs)
			} else {
				signs = signsTall(in.Width)
				bottom -= scaleTall + signs + 1.5
				l.signs = page.Box(in.X, bottom, in.Width, signs)
				l.scaleAt = page.Box(in.X, bottom+signs, scaleWidth, scaleTall)
			}
		}
		bottom -= 1.5
	}
	if profile {
		width, signs := right-in.X, 0.0
		profileTall := p.profileTall(profileTall, width-2*sideBand, paper)
		if l.signs == (page.Rect{}) {
			signs = signsTall(width)
			l.signs = page.Box(in.X, bottom-signs, width, signs)
		}
		l.profile = page.Box(in.X, bottom-profileTall-signs, width, profileTall)
		bottom -= profileTall + signs + 1
	}
	top := in.Y + headDepth + gridBand
	l.frame = page.Box(in.X+sideBand, top, right-in.X-2*sideBand, bottom-gridBand-top)
	if l.frame.Width < leastFrame || l.frame.Height < leastFrame {
		return nil, fmt.Errorf("%w: paper of %g x %g mm leaves no room for a map beside its margin; use larger paper", ErrPlan, paper.Width, paper.Height)
	}
	if p.cut != (page.Point{}) && l.frame.Width >= p.cut.X-fitExact && l.frame.Height >= p.cut.Y-fitExact {
		l.frame.X += (l.frame.Width - p.cut.X) / 2
		l.frame.Width, l.frame.Height = p.cut.X, p.cut.Y
	}
	if profile { // as wide as the map, so that one is read under the other
		l.profile.X, l.profile.Width = l.frame.X-plotSide, l.frame.Width+plotSide+plotRight
	}
	return l, nil
}

// profileTall is how tall the profile is drawn under a map of a width: no less
// than least, and so tall that slopes are not drawn flatter than they are, as
// long as that leaves the map most of the paper.
func (p *Plan) profileTall(least, width float64, paper page.Paper) float64 {
	const most = 0.22 // of the paper's height
	if p.Leg == nil || !(p.ProfileRelief > 0) {
		return least
	}
	length := geodesy.Inverse(p.Leg.From.At, p.Leg.To.At).Distance
	even := p.ProfileRelief/plotFilled*width/length + plotHead + plotFoot
	return math.Max(least, math.Min(even+0.1, most*paper.Height))
}

// nearZoneEdge reports whether any page might reach over a zone's edge.
func nearZoneEdge(p *Plan, proj *projection, paper page.Paper) bool {
	if proj.utm == nil {
		return false
	}
	places := []geodesy.LatLon{proj.centre}
	if p.Leg != nil && p.Centre == nil {
		places = append(places, p.Leg.From.At, p.Leg.To.At)
	}
	for _, l := range p.Route {
		places = append(places, l.From.At, l.To.At)
	}
	reach := math.Hypot(paper.Width, paper.Height) / 2 * p.Scale / 1000
	for _, c := range places {
		for b := 0.0; b < 360; b += 45 {
			at, _ := geodesy.Direct(c, geodesy.TrueBearing(b), reach)
			if geodesy.UTMZone(at) != proj.zone {
				return true
			}
		}
	}
	return false
}
