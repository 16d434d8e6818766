package sheet

import (
	"fmt"
	"math"

	"crowline/contour/page"
	"crowline/dem/units"
)

// profileSigns are the signs a profile shows.
type profileSigns struct {
	ground, cover, sight, stopped, past, hidden, unknown, void, filled, ticks bool
	overCover                                                                 bool   // hidden is over what stands on the ground
	interval                                                                  string // between the contours ticked, "" when not said
}

// everyProfileSign is all that a leg's profile may show, for keeping room: what
// is filled or stands on the ground only where it may be.
func everyProfileSign(filled, cover bool) profileSigns {
	return profileSigns{ground: true, cover: cover, sight: true, stopped: true, past: true, hidden: true, unknown: true,
		void: true, filled: filled, ticks: true, overCover: cover, interval: "0000 ft"}
}

// signsHeading heads them on a sheet, where they may stand apart from the
// profile; signsAir is kept over them, millimetres.
const (
	signsHeading = "Profile:"
	signsAir     = 1.4
)

// profileSign is one sign with what it means. draw sets it into a box.
type profileSign struct {
	text string
	draw func(pg *page.Page, r page.Rect, style Style)
}

// list is the signs in the order they are explained.
func (g profileSigns) list() []profileSign {
	var out []profileSign
	add := func(drawn bool, text string, draw func(pg *page.Page, r page.Rect, style Style)) {
		if drawn {
			out = append(out, profileSign{text, draw})
		}
	}
	surface := func(pg *page.Page, r page.Rect, style Style) float64 {
		y := r.Y + 0.8
		pg.Add(page.Fill{Rings: [][]page.Point{{page.At(r.X, y), page.At(r.Right(), y), page.At(r.Right(), r.Bottom()), page.At(r.X, r.Bottom())}}, Color: groundFill})
		return y
	}
	line := func(pg *page.Page, from, to page.Point, style Style, dash []float64) {
		pg.Add(page.Stroke{Lines: [][]page.Point{{from, to}}, Width: style.Sight.Width + 0.05, Color: style.Sight.Color, Dash: dash})
	}
	add(g.ground, "Ground", func(pg *page.Page, r page.Rect, style Style) {
		y := surface(pg, r, style)
		pg.Line(0.35, style.Ink, page.At(r.X, y), page.At(r.Right(), y))
	})
	add(g.cover, "What stands on it", func(pg *page.Page, r page.Rect, style Style) {
		pg.Add(page.Fill{Rings: [][]page.Point{r.Corners()}, Color: coverFill})
		pg.Line(0.18, style.Ink, page.At(r.X, r.Y), page.At(r.Right(), r.Y))
		pg.Line(0.35, style.Ink, page.At(r.X, r.Bottom()), page.At(r.Right(), r.Bottom()))
	})
	add(g.sight, "Line of sight", func(pg *page.Page, r page.Rect, style Style) {
		c := r.Centre()
		line(pg, page.At(r.X, c.Y), page.At(r.Right(), c.Y), style, nil)
	})
	add(g.stopped, "What hides it; dashed: cut off", func(pg *page.Page, r page.Rect, style Style) {
		c := r.Centre()
		line(pg, c, page.At(r.Right(), c.Y), style, stoppedDash)
		pg.Add(crossAt(page.At(r.X+2, c.Y), style))
	})
	add(g.past, "Past missing data: not known", func(pg *page.Page, r page.Rect, style Style) {
		c := r.Centre()
		line(pg, page.At(r.X, c.Y), page.At(r.Right(), c.Y), style, doubtDash)
	})
	out = append(out, g.shades(surface)...)
	add(g.void, "No elevation data", func(pg *page.Page, r page.Rect, style Style) {
		pg.Clip(r)
		pg.Add(page.Stroke{Lines: voidHatch(r), Width: 0.12, Color: style.Void})
		pg.Unclip()
		pg.Frame(0.12, style.Void, r)
	})
	add(g.filled, filledKey, func(pg *page.Page, r page.Rect, style Style) { filledSample(pg, r) })
	crossed := "Contour crossed"
	if g.interval != "" {
		crossed += ", every " + g.interval
	}
	add(g.ticks, crossed, func(pg *page.Page, r page.Rect, style Style) {
		y := surface(pg, r, style) + 0.5
		pg.Line(0.35, style.Ink, page.At(r.X, y), page.At(r.Right(), y))
		c := r.Centre()
		pg.Line(0.2, style.Index.Color, page.At(c.X, y-0.8), page.At(c.X, y+0.8))
	})
	return out
}

// shades are the signs under the ground line: out of sight, and not known.
func (g profileSigns) shades(surface func(pg *page.Page, r page.Rect, style Style) float64) []profileSign {
	var out []profileSign
	ticks := func(pg *page.Page, r page.Rect, y, lean, gap, width float64, color page.Color) {
		var lines [][]page.Point
		for x := r.X + gap; x <= r.Right(); x += gap {
			lines = append(lines, []page.Point{page.At(x, y), page.At(x-lean, r.Bottom())})
		}
		pg.Add(page.Stroke{Lines: lines, Width: width, Color: color})
	}
	if g.hidden {
		text := "Out of sight from the start"
		if g.overCover {
			text = "Out of sight over what stands there"
		}
		out = append(out, profileSign{text, func(pg *page.Page, r page.Rect, style Style) {
			y := surface(pg, r, style)
			solid := style.Hidden
			solid.A = 255
			ticks(pg, r, y, 0.6, 0.9, 0.22, solid)
			pg.Line(0.9, solid, page.At(r.X, y+0.45), page.At(r.Right(), y+0.45))
			pg.Line(0.35, style.Ink, page.At(r.X, y), page.At(r.Right(), y))
		}})
	}
	if g.unknown {
		out = append(out, profileSign{"Not known whether in sight", func(pg *page.Page, r page.Rect, style Style) {
			y := surface(pg, r, style)
			ticks(pg, r, y+0.3, 0, 1.3, 0.25, style.Void)
			pg.Line(0.35, style.Ink, page.At(r.X, y), page.At(r.Right(), y))
		}})
	}
	return out
}

// Room for the sample of a sign and after it, millimetres.
const (
	signSample = 8.0
	signGap    = 1.2
)

// widest is the width of the longest sign with its text, millimetres.
func (g profileSigns) widest() float64 {
	most := 0.0
	for _, sign := range g.list() {
		most = math.Max(most, signSample+signGap+page.TextWidth(sign.text, page.Regular, marginText))
	}
	return most
}

// draw sets the signs in rows w wide from o down, after a heading or "", and
// returns the depth.
func (g profileSigns) draw(pg *page.Page, o page.Point, w float64, heading string, style Style) float64 {
	style = style.filled()
	const sample, tall, gap, between, row = signSample, 2.4, signGap, 4.0, 3.7 // mm
	x, y := 0.0, 0.0
	if heading != "" {
		pg.Add(page.Text{At: page.At(o.X, o.Y+row/2), String: heading, Face: page.Bold, Size: marginText, Rise: page.RiseMiddle, Color: page.Ink})
		x = page.TextWidth(heading, page.Bold, marginText) + between
	}
	for _, sign := range g.list() {
		width := sample + gap + page.TextWidth(sign.text, page.Regular, marginText)
		if x > 0 && x+width > w {
			x, y = 0, y+row
		}
		sign.draw(pg, page.Box(o.X+x, o.Y+y+(row-tall)/2, sample, tall), style)
		pg.Add(page.Text{At: page.At(o.X+x+sample+gap, o.Y+y+row/2), String: sign.text, Size: marginText, Rise: page.RiseMiddle, Color: page.Ink})
		x += width + between
	}
	return y + row
}

// Key names the signs the drawing uses, for a caption.
func (d *ProfileDrawing) Key() string {
	key := "Ground"
	if d.Cover != nil {
		key += "; darker: what stands on it"
	}
	if d.Sight != nil {
		key += "; line of sight (blue"
		if d.Sight.BlockedAt > 0 {
			key += ", dashed from where ground cuts it off; the cross is the ground that hides its end"
		}
		key += ")"
	}
	if len(d.Hidden) > 0 {
		key += "; hatched: ground hidden from the start"
	}
	if len(d.Unknown) > 0 {
		key += "; ticked: not known whether it is seen"
	}
	if len(d.gaps()) > 0 {
		key += "; hatched from top to foot: no elevation data"
	}
	if len(d.Filled) > 0 {
		key += "; dotted: ground filled in from the rim of a void"
	}
	if len(d.Levels) > 0 {
		key += "; ticks: contours crossed"
	}
	return key + "."
}

// Document is the profile alone on a page of the given size in millimetres,
// with a title, its signs and lines of text under it.
func (d *ProfileDrawing) Document(title string, notes []string, width, height float64, u units.System, style Style) (*page.Document, error) {
	pg := &page.Page{Width: width, Height: height}
	for _, s := range append([]string{title}, notes...) {
		if err := page.CheckText(s, page.Regular); err != nil {
			return nil, err
		}
	}
	const margin, size = 8, 11.0
	const titleLeading = size * page.PointMM * 1.25
	head := margin + 1.0
	for i, s := range page.Wrap(title, page.Bold, size, width-2*margin) {
		pg.Add(page.Text{At: page.At(margin, margin+float64(i)*titleLeading), String: s, Face: page.Bold, Size: size, Rise: page.RiseTop, Color: page.Ink})
		head += titleLeading
	}
	var lines []string
	for _, s := range notes {
		lines = append(lines, page.Wrap(s, page.Regular, marginText, width-2*margin)...)
	}
	foot := float64(len(lines)) * leading
	// What is drawn decides how deep the key is, and that how tall the drawing
	// may be: it is drawn twice.
	scratch := &page.Page{Width: width, Height: height}
	box := page.Box(margin, head, width-2*margin, height-margin-head-foot-1)
	_, signs, err := d.draw(scratch, box, u, style, false)
	if err != nil {
		return nil, err
	}
	key := signs.draw(scratch, page.Point{}, width-2*margin, "", style)
	pg.Open("profile", "Profile")
	if box.Height -= key; box.Height < 25 {
		return nil, fmt.Errorf("%w: a page of %g x %g mm has no room for a profile over its key", ErrPlan, width, height)
	}
	if _, signs, err = d.draw(pg, box, u, style, false); err != nil {
		return nil, err
	}
	pg.Open("profile-key", "Key to the profile")
	signs.draw(pg, page.At(margin, box.Bottom()+0.6), width-2*margin, "", style)
	pg.Close()
	for i, s := range lines {
		pg.Add(page.Text{At: page.At(margin, height-margin-foot+float64(i+1)*leading-0.6), String: s, Size: marginText, Color: page.Ink})
	}
	return &page.Document{Title: title, Pages: []*page.Page{pg}}, nil
}
