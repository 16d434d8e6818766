package sheet

import (
	"fmt"
	"math"
	"strings"
	"time"

	"crowline/contour/page"
	"crowline/dem/geodesy"
	"crowline/dem/units"
)

// Card is a route card: a row for each leg, with what was worked out before
// leaving and room for what the walker notes. Its figures come from the
// caller.
type Card struct {
	Title string
	// Paper it is printed on, lying on its side unless Fixed; zero for A4.
	Paper page.Paper
	Units units.System
	Legs  []CardLeg
	// Date the magnetic bearings hold for.
	Date time.Time
	// Notes say what the figures stand on, Cautions what they do not know.
	// Both are printed at the foot of every page.
	Notes, Cautions []string
}

// CardPlace is an end of a leg.
type CardPlace struct {
	// Name may be "".
	Name string
	// Reference is the place on the map: a grid reference or coordinates.
	Reference string
	// Elevation, metres; NaN when not known.
	Elevation float64
}

// CardLeg is a row of a card. Lengths are metres.
type CardLeg struct {
	From, To CardPlace
	Distance float64
	True     geodesy.TrueBearing
	// Grid, Magnetic and BackMagnetic are NaN where there is none.
	Grid         geodesy.GridBearing
	Magnetic     geodesy.MagneticBearing
	BackMagnetic geodesy.MagneticBearing
	// Set, where it is not "", is the one number to set on the walker's compass,
	// and SetBack that for the way back: they stand alone, without the bearings.
	Set, SetBack string
	// Ascent, Descent and Time are at least so much where part of the ground is
	// not known.
	Ascent, Descent float64
	AtLeast         bool
	// ContoursUp and ContoursDown are lines crossed on the map.
	ContoursUp, ContoursDown int
	// ContoursAtLeast: so many at least, for part of the ground has no lines.
	ContoursAtLeast bool
	// Time planned, without rests; the leg has none, and the card no total, where
	// NoTime says why. TimeNotes are printed small beside it.
	Time      time.Duration
	NoTime    string
	TimeNotes []string
	// Arrive is when one is at its end, by the clock, "" where no start was given.
	Arrive string
	// DoublePaces is NaN where nobody paces: over ground that needs hands.
	DoublePaces float64
	// Sight is what to walk on and what can be seen, in short lines, the most needed
	// first: as many are printed as fit in five. Warnings are what could hurt, and
	// stand before it, bold and all of them.
	Sight    []string
	Warnings []string
}

// Sizes of a card, points and millimetres.
const (
	cardMargin   = 10.0
	cardText     = 7.5
	cardSmall    = 6.5
	cardBig      = 13.0
	cardPad      = 1.4
	cardLeastRow = 18.0 // room to write two lines by hand
	cardHead     = 11.0
	cardTotal    = 9.0
	// cardLeastWidth is the narrowest paper, as used, that the columns can be
	// read on.
	cardLeastWidth = 250.0
)

// cardColumn is a column's heading and its share of the width.
type cardColumn struct {
	heading, under string
	share          float64
}

var cardColumns = []cardColumn{
	{"Leg", "grid reference, elevation", 45}, {"Bearing", "magnetic; true, grid; back", 29}, {"Distance", "double paces", 22}, {"Climb", "contour lines", 25},
	{"Time", "running total", 21}, {"Beware, then sight", "what could hurt; marks to walk on, by leg and letter", 70}, {"Time", "left, arrived", 19}, {"Paces", "counted", 15}, {"Seen", "passed, noted", 31},
}

// cardSightLines is how many lines of what to sight a row has: more are not read on
// the way.
const cardSightLines = 5

// cardFilled is how many columns are printed; the walker fills the rest.
const cardFilled = 6

// Document lays the card out, on as many pages as it takes. Names that the
// typeface cannot show are left out, with a warning. Errors wrap ErrPlan; a
// title or words that cannot be shown are a *GlyphError.
func (c Card) Document() (*page.Document, error) {
	paper := c.Paper
	if paper.Width == 0 {
		paper = page.A4
	}
	width, height := paper.Width, paper.Height
	if !paper.Fixed {
		width, height = max(width, height), min(width, height)
	}
	if !(width >= cardLeastWidth) || !(height >= 100) {
		return nil, fmt.Errorf("%w: a route card needs paper of 250 x 100 mm or more, not %.0f x %.0f", ErrPlan, width, height)
	}
	if len(c.Legs) == 0 {
		return nil, fmt.Errorf("%w: a route card needs a leg", ErrPlan)
	}
	doc := &page.Document{Title: c.Title, Subject: "Route card", Created: c.Date}
	l := cardLayout{card: c, width: width - 2*cardMargin, height: height, names: map[string]bool{}}
	if err := l.check(doc); err != nil {
		return nil, err
	}
	total := 0.0
	for _, col := range cardColumns {
		total += col.share
	}
	x := cardMargin
	for _, col := range cardColumns {
		l.edges = append(l.edges, x)
		x += col.share / total * l.width
	}
	l.edges = append(l.edges, x)
	pages := l.split()
	for i, legs := range pages {
		pg := &page.Page{Width: width, Height: height}
		l.draw(pg, legs, i, len(pages))
		doc.Pages = append(doc.Pages, pg)
	}
	return doc, nil
}

type cardLayout struct {
	card          Card
	width, height float64
	edges         []float64
	names         map[string]bool // that cannot be shown
}

func (l *cardLayout) check(doc *page.Document) error {
	var texts []string
	for _, leg := range l.card.Legs {
		for _, p := range []CardPlace{leg.From, leg.To} {
			if page.CheckText(p.Name, page.Bold) != nil && !l.names[p.Name] {
				l.names[p.Name] = true
				doc.Warnings = append(doc.Warnings, fmt.Sprintf("the name %q has letters the card cannot show; its reference stands alone", p.Name))
			}
			texts = append(texts, p.Reference)
		}
		texts = append(append(append(append(texts, leg.Sight...), leg.Warnings...), leg.TimeNotes...), leg.NoTime, leg.Arrive)
	}
	texts = append(append(append(texts, l.card.Title), l.card.Notes...), l.card.Cautions...)
	for _, s := range texts {
		if err := page.CheckText(s, page.Bold); err != nil {
			return err
		}
	}
	return nil
}

// cell is the room for text in a column.
func (l *cardLayout) cell(column int) float64 {
	return l.edges[column+1] - l.edges[column] - 2*cardPad
}

// cardLine is one line of a cell.
type cardLine struct {
	text string
	face page.Face
	size float64
}

func (l *cardLayout) lines(column int, face page.Face, size float64, texts ...string) []cardLine {
	var out []cardLine
	for _, t := range texts {
		for _, s := range page.Wrap(t, face, size, l.cell(column)) {
			if r := []rune(s); page.TextWidth(s, face, size) > l.cell(column) { // one long word
				for len(r) > 1 && page.TextWidth(string(r)+"…", face, size) > l.cell(column) {
					r = r[:len(r)-1]
				}
				s = string(r) + "…"
			}
			out = append(out, cardLine{s, face, size})
		}
	}
	return out
}

// row is the lines of a leg's printed cells. elapsed is the time planned up
// to its end.
func (l *cardLayout) row(i int, elapsed time.Duration) [cardFilled][]cardLine {
	leg, u := l.card.Legs[i], l.card.Units
	var out [cardFilled][]cardLine
	place := func(prefix string, p CardPlace) {
		name := p.Name
		if name == "" || l.names[name] {
			name = p.Reference
		}
		out[0] = append(out[0], l.lines(0, page.Bold, cardText, prefix+name)...)
		under := ""
		if name != p.Reference {
			under = p.Reference
		}
		if !math.IsNaN(p.Elevation) {
			if under != "" {
				under += ", "
			}
			under += u.Elevation(p.Elevation)
		}
		if under != "" {
			out[0] = append(out[0], l.lines(0, page.Regular, cardSmall, under)...)
		}
	}
	place(fmt.Sprintf("%d   ", i+1), leg.From)
	place("to ", leg.To)

	if leg.Set != "" {
		out[1] = append(out[1], cardLine{leg.Set + "°", page.Bold, cardBig})
		if leg.SetBack != "" {
			out[1] = append(out[1], l.lines(1, page.Regular, cardSmall, "back "+leg.SetBack+"°")...)
		}
	} else if known(float64(leg.Magnetic)) {
		out[1] = append(out[1], cardLine{bearing(float64(leg.Magnetic)), page.Bold, cardBig})
		second := "true " + bearing(float64(leg.True))
		if known(float64(leg.Grid)) {
			second += ", grid " + bearing(float64(leg.Grid))
		}
		out[1] = append(out[1], l.lines(1, page.Regular, cardSmall, second)...)
		if known(float64(leg.BackMagnetic)) {
			out[1] = append(out[1], l.lines(1, page.Regular, cardSmall, "back "+bearing(float64(leg.BackMagnetic)))...)
		}
	} else {
		out[1] = append(out[1], cardLine{bearing(float64(leg.True)), page.Bold, cardBig}, cardLine{"TRUE: no magnetic", page.Bold, cardSmall})
	}

	out[2] = append(out[2], l.lines(2, page.Bold, cardText, u.Distance(leg.Distance))...)
	out[2] = append(out[2], l.lines(2, page.Regular, cardText, paces(leg.DoublePaces))...)

	var least []string
	if leg.AtLeast {
		least = []string{"at least"}
	}
	out[3] = l.lines(3, page.Bold, cardText, append(least, "up "+u.Elevation(leg.Ascent), "down "+u.Elevation(leg.Descent))...)
	out[3] = append(out[3], l.lines(3, page.Regular, cardSmall, contours(leg))...)

	if leg.NoTime == "" {
		out[4] = l.lines(4, page.Bold, cardText, append(least, units.Clock(leg.Time))...)
	} else {
		out[4] = append(l.lines(4, page.Bold, cardText, "no time"), l.lines(4, page.Regular, cardSmall, leg.NoTime)...)
	}
	out[4] = append(out[4], l.lines(4, page.Regular, cardSmall, leg.TimeNotes...)...)
	if len(l.untimed(i)) == 0 {
		out[4] = append(out[4], l.lines(4, page.Regular, cardSmall, l.least(i)+units.Clock(elapsed)+" in all")...)
	} else {
		out[4] = append(out[4], l.lines(4, page.Regular, cardSmall, "no time in all")...)
	}
	if leg.Arrive != "" {
		out[4] = append(out[4], l.lines(4, page.Bold, cardText, leg.Arrive)...)
	}
	out[5] = l.lines(5, page.Bold, cardText, leg.Warnings...)
	sight := 0
	for _, text := range leg.Sight {
		lines := l.lines(5, page.Regular, cardText, text)
		if sight+len(lines) > cardSightLines {
			break
		}
		out[5], sight = append(out[5], lines...), sight+len(lines)
	}
	return out
}

// contours are the lines a leg goes over.
func contours(leg CardLeg) string {
	text := fmt.Sprintf("%d up, %d down", leg.ContoursUp, leg.ContoursDown)
	if leg.ContoursAtLeast {
		text = "at least " + text
	}
	return text
}

func known(v float64) bool { return !math.IsNaN(v) }

// paces writes a count of double paces to tens; none where it is NaN.
func paces(v float64) string {
	if math.IsNaN(v) {
		return "no paces"
	}
	return units.Group(math.Round(v/10)*10) + " paces"
}

// elapsed is the time planned up to the end of a leg.
func (l *cardLayout) elapsed(i int) time.Duration {
	var sum time.Duration
	for _, leg := range l.card.Legs[:i+1] {
		sum += leg.Time
	}
	return sum
}

// untimed are the numbers of the legs without a time, up to one.
func (l *cardLayout) untimed(i int) (numbers []string) {
	for k, leg := range l.card.Legs[:i+1] {
		if leg.NoTime != "" {
			numbers = append(numbers, fmt.Sprint(k+1))
		}
	}
	return numbers
}

// least is "at least " where the time planned up to the end of a leg is.
func (l *cardLayout) least(i int) string {
	for _, leg := range l.card.Legs[:i+1] {
		if leg.AtLeast {
			return "at least "
		}
	}
	return ""
}

// depth of a cell's lines, millimetres.
func depth(lines []cardLine) float64 {
	d := 2 * cardPad
	for _, line := range lines {
		d += line.size * page.PointMM * 1.24
	}
	return d
}

func (l *cardLayout) rowHeight(i int) float64 {
	h := cardLeastRow
	for _, cell := range l.row(i, l.elapsed(i)) {
		h = max(h, depth(cell))
	}
	return h
}

// split gives each page its legs: as many as fit, the totals kept with the
// last. A row that is deeper than a page has one to itself.
func (l *cardLayout) split() [][2]int {
	room := l.height - 2*cardMargin - 13 - cardHead - l.foot(nil, 0)
	var out [][2]int
	from, used := 0, 0.0
	for i := range l.card.Legs {
		h := l.rowHeight(i)
		if i == len(l.card.Legs)-1 {
			h += cardTotal
		}
		if i > from && used+h > room {
			out = append(out, [2]int{from, i})
			from, used = i, 0
		}
		used += h
	}
	return append(out, [2]int{from, len(l.card.Legs)})
}

func (l *cardLayout) draw(pg *page.Page, legs [2]int, number, pages int) {
	c := l.card
	y := cardMargin
	right := pg.Width - cardMargin
	pg.Open("title", "Title")
	title := page.Text{At: page.At(cardMargin, y), String: c.Title, Face: page.Bold, Size: 13, Rise: page.RiseTop, Color: page.Ink}
	if w := page.TextWidth(title.String, page.Bold, 13); w > l.width-60 {
		title.Size = 13 * (l.width - 60) / w
	}
	side := fmt.Sprintf("page %d of %d", number+1, pages)
	if !c.Date.IsZero() {
		side = c.Date.Format("2 January 2006") + ", " + side
	}
	pg.Add(title, page.Text{At: page.At(right, y), String: side, Size: cardText, Rise: page.RiseTop, Align: page.AlignRight, Color: page.Ink})
	pg.Add(page.Text{At: page.At(cardMargin, y+7), String: l.summary(), Size: cardText + 0.5, Rise: page.RiseTop, Color: page.Ink})
	pg.Close()
	y += 13

	pg.Open("legs", "Legs")
	top := y
	handwritten := page.Box(l.edges[cardFilled], y, right-l.edges[cardFilled], cardHead)
	pg.Add(page.Fill{Rings: [][]page.Point{(page.Box(cardMargin, y, l.width, cardHead)).Corners()}, Color: page.RGB(0xEDEDED)})
	pg.Add(page.Text{At: page.At(handwritten.Centre().X, y+0.9), String: "to fill in on the way", Face: page.Italic, Size: cardSmall, Rise: page.RiseTop, Align: page.AlignCenter, Color: page.Faint})
	for i, col := range cardColumns {
		x := l.edges[i] + cardPad
		pg.Add(page.Text{At: page.At(x, y+4), String: col.heading, Face: page.Bold, Size: cardText, Rise: page.RiseTop, Color: page.Ink})
		under := col.under
		if i == 1 && l.card.Legs[0].Set != "" {
			under = "to set; back"
		}
		pg.Add(page.Text{At: page.At(x, y+7.6), String: under, Size: 5.5, Rise: page.RiseTop, Color: page.Faint})
	}
	y += cardHead
	rules := []float64{top, y}
	for i := legs[0]; i < legs[1]; i++ {
		h := l.rowHeight(i)
		for column, lines := range l.row(i, l.elapsed(i)) {
			at := y + cardPad
			for _, line := range lines {
				step := line.size * page.PointMM * 1.24
				pg.Add(page.Text{At: page.At(l.edges[column]+cardPad, at+step-0.26*line.size*page.PointMM), String: line.text, Face: line.face, Size: line.size, Color: page.Ink})
				at += step
			}
		}
		y += h
		rules = append(rules, y)
	}
	if legs[1] == len(c.Legs) {
		l.totals(pg, y)
		y += cardTotal
		rules = append(rules, y)
	}
	for _, ruled := range rules {
		pg.Line(0.2, page.Ink, page.At(cardMargin, ruled), page.At(right, ruled))
	}
	for i, x := range l.edges {
		w, from := 0.1, top
		if i == 0 || i == cardFilled || i == len(l.edges)-1 {
			w = 0.3
		} else if i > cardFilled {
			from += 3.6 // under the words that stand over these columns
		}
		pg.Line(w, page.Ink, page.At(x, from), page.At(x, y))
	}
	pg.Close()
	pg.Open("foot", "Notes and cautions")
	l.foot(pg, pg.Height-cardMargin-l.foot(nil, 0))
	pg.Close()
}

// sums of a card.
func (l *cardLayout) sums() (distance, up, down float64, least bool, paces float64) {
	for _, leg := range l.card.Legs {
		distance += leg.Distance
		up += leg.Ascent
		down += leg.Descent
		least = least || leg.AtLeast
		paces += leg.DoublePaces
	}
	return
}

func (l *cardLayout) summary() string {
	u := l.card.Units
	distance, up, down, least, _ := l.sums()
	word := ""
	if least {
		word = "at least "
	}
	legs := "legs"
	if len(l.card.Legs) == 1 {
		legs = "leg"
	}
	about := "about "
	if least {
		about = word
	}
	taken := about + units.Clock(l.elapsed(len(l.card.Legs)-1)) + " without rests"
	switch none := l.untimed(len(l.card.Legs) - 1); len(none) {
	case 0:
	case 1:
		taken = "no time: leg " + none[0] + " has none"
	default:
		taken = "no time: legs " + strings.Join(none, ", ") + " have none"
	}
	return fmt.Sprintf("%d %s: %s, %sup %s and down %s, %s", len(l.card.Legs), legs, u.Distance(distance), word, u.Elevation(up), u.Elevation(down), taken)
}

func (l *cardLayout) totals(pg *page.Page, y float64) {
	u := l.card.Units
	distance, up, down, least, counted := l.sums()
	middle := y + cardTotal/2
	put := func(column int, dy float64, face page.Face, s string) {
		pg.Add(page.Text{At: page.At(l.edges[column]+cardPad, middle+dy), String: s, Face: face, Size: cardText, Rise: page.RiseMiddle, Color: page.Ink})
	}
	if least {
		put(0, -1.8, page.Bold, "In all")
		what := "climb and time at least"
		if len(l.untimed(len(l.card.Legs)-1)) > 0 {
			what = "climb at least"
		}
		put(0, 1.8, page.Regular, what)
	} else {
		put(0, 0, page.Bold, "In all")
	}
	put(2, -1.8, page.Bold, u.Distance(distance))
	put(2, 1.8, page.Regular, paces(counted))
	put(3, -1.8, page.Bold, "up "+u.Elevation(up))
	put(3, 1.8, page.Bold, "down "+u.Elevation(down))
	if len(l.untimed(len(l.card.Legs)-1)) == 0 {
		put(4, 0, page.Bold, units.Clock(l.elapsed(len(l.card.Legs)-1)))
	} else {
		put(4, 0, page.Bold, "no time")
	}
}

// foot writes notes and cautions from y down and returns its depth; with no
// page it only measures.
func (l *cardLayout) foot(pg *page.Page, y float64) float64 {
	const step = cardSmall * page.PointMM * 1.22
	d := 1.5
	for _, block := range []struct {
		face  page.Face
		texts []string
	}{{page.Regular, l.card.Notes}, {page.Italic, l.card.Cautions}} {
		all := ""
		for _, s := range block.texts {
			if all != "" {
				all += " "
			}
			all += s
		}
		for _, s := range page.Wrap(all, block.face, cardSmall, l.width) {
			d += step
			if pg != nil {
				pg.Add(page.Text{At: page.At(cardMargin, y+d-0.5), String: s, Face: block.face, Size: cardSmall, Color: page.Ink})
			}
		}
	}
	return d
}
