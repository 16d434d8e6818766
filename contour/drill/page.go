package drill

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem/units"
)

// PageOptions of Document. The zero value is A4, questions then key.
type PageOptions struct {
	// Paper is A4 when zero. On paper that lies across, questions stand beside
	// their map.
	Paper page.Paper
	// Part picks questions or key alone, for two files.
	Part  Part
	Style sheet.Style
	// Relief shading of the maps, 0 to 1.
	Relief float64
	// Cautions printed at the foot of the first page.
	Cautions []string
}

// Part is which pages a document has.
type Part int

// Parts of a set.
const (
	Both Part = iota
	QuestionsOnly
	KeyOnly
)

const (
	pageMargin = 8.0 // mm no office printer reaches beyond
	footDepth  = 6.0
	columnGap  = 5.0
	textSize   = 10.0 // points
	smallSize  = 8.0
	pointMM    = 25.4 / 72
	spread     = 1.32 // line to line, of the letter's size
	blockGap   = 5.0
	ruleGap    = 7.5 // mm between the lines to write on
)

var (
	ink   = page.Color{R: 0x1A, G: 0x1A, B: 0x1A, A: 255}
	faint = page.Color{R: 0xA8, G: 0xA8, B: 0xA8, A: 255}
)

// Document lays the set out: pages for students, with the maps and lines to
// write on, then pages of answers with the working. Maps are on grid north
// and true to scale when printed at 100 %. A set that was not made by Make
// has no ground to draw.
func (s *Set) Document(ctx context.Context, o PageOptions) (*page.Document, error) {
	if s.survey == nil {
		return nil, fmt.Errorf("drill: this set has no ground to draw maps of; make it again with Make")
	}
	if o.Paper == (page.Paper{}) {
		o.Paper = page.A4
	}
	if min(o.Paper.Width, o.Paper.Height) < 200 || max(o.Paper.Width, o.Paper.Height) < 260 {
		return nil, fmt.Errorf("drill: paper of %g x %g mm is too small; use A4, letter or larger", o.Paper.Width, o.Paper.Height)
	}
	if err := page.CheckText(s.Title, page.Bold); err != nil {
		return nil, err
	}
	l := &layouter{set: s, survey: s.survey, o: o, doc: &page.Document{
		Title: s.Title, Subject: fmt.Sprintf("Map exercises at 1:%.0f, seed %d", s.Scale, s.Seed), Created: s.survey.o.Date,
	}}
	if o.Part != KeyOnly {
		l.heading = s.heading()
		if err := l.questions(ctx); err != nil {
			return nil, err
		}
	}
	if o.Part != QuestionsOnly {
		l.heading = "Answers: " + s.heading()
		if err := l.key(ctx); err != nil {
			return nil, err
		}
	}
	l.feet()
	return l.doc, nil
}

type layouter struct {
	set     *Set
	survey  *survey
	o       PageOptions
	doc     *page.Document
	page    *page.Page
	y       float64
	heading string
	section []string // heading of each page, for its foot
	terse   bool     // the key leaves out what was asked for
	first   bool     // the page is the first of its part
	mapTop  float64  // of the shared map just drawn
	column  float64  // width of a column that stands alone; 0 for one of two
	beside  []string // small print that goes beside the first map
}

// across reports whether questions stand beside their map.
func (l *layouter) across() bool { return l.o.Paper.Width > l.o.Paper.Height }

func (l *layouter) width() float64  { return l.o.Paper.Width - 2*pageMargin }
func (l *layouter) bottom() float64 { return l.o.Paper.Height - pageMargin - footDepth }

// room starts a new page when the next block does not fit.
func (l *layouter) room(depth float64) {
	if l.page != nil && l.section[len(l.section)-1] == l.heading && l.y+depth <= l.bottom() {
		return
	}
	l.first = len(l.section) == 0 || l.section[len(l.section)-1] != l.heading
	l.page = &page.Page{Width: l.o.Paper.Width, Height: l.o.Paper.Height}
	l.doc.Pages = append(l.doc.Pages, l.page)
	l.section = append(l.section, l.heading)
	l.y = pageMargin
	if l.first {
		l.head()
	}
}

func (l *layouter) text(at page.Point, size float64, face page.Face, align page.Align, s string) {
	l.page.Add(page.Text{At: at, String: s, Size: size, Face: face, Align: align, Color: ink})
}

// paragraph sets wrapped text with its top at y and returns its depth.
func (l *layouter) paragraph(x, y, width, size float64, face page.Face, s string) float64 {
	lines := wrapped(s, face, size, width)
	for i, line := range lines {
		l.text(page.At(x, y+(float64(i)+0.8)*size*pointMM*spread), size, face, page.AlignLeft, line)
	}
	return float64(len(lines)) * size * pointMM * spread
}

func depth(s string, face page.Face, size, width float64) float64 {
	return float64(len(wrapped(s, face, size, width))) * size * pointMM * spread
}

func wrapped(s string, face page.Face, size, width float64) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(s) {
		next := word
		if line != "" {
			next = line + " " + word
		}
		if line != "" && page.TextWidth(next, face, size) > width {
			lines = append(lines, line)
			next = word
		}
		line = next
	}
	return append(lines, line)
}

// head is the title of a part, and what holds for all its maps.
func (l *layouter) head() {
	s := l.set
	for _, line := range wrapped(l.heading, page.Bold, 14, l.width()) {
		l.y += 5
		l.text(page.At(pageMargin, l.y), 14, page.Bold, page.AlignLeft, line)
		l.y++
	}
	l.y += 1.5
	facts := fmt.Sprintf("Maps 1:%s, contour interval %s %s, grid north up. Print at 100 %%.", spaced(s.Scale), number(s.Interval), s.IntervalUnit)
	if d := l.survey.o.Declination; d != nil {
		facts += fmt.Sprintf(" Magnetic north is %s of true north (%s).", sidedTenth(float64(d.East)), d.From())
	}
	if l.survey.grid.FilledPosts() > 0 {
		facts += filledFact
	}
	small := []string{facts}
	data := fmt.Sprintf("Elevation data: %s, one standard deviation %s. Seed %d.", s.Data, s.deviation(), s.Seed)
	if a := l.survey.grid.Source.Attribution; a != "" {
		data += " " + a
	}
	if page.CheckText(data, page.Regular) != nil {
		data = fmt.Sprintf("One standard deviation of an elevation: %s. Seed %d.", s.deviation(), s.Seed)
	}
	small = append(small, data)
	if l.heading == s.heading() {
		for _, c := range l.o.Cautions {
			if page.CheckText(c, page.Regular) == nil {
				small = append(small, c)
			}
		}
	}
	if l.heading == s.heading() && l.across() && len(s.Maps) > 0 {
		l.beside, small = small, nil
	}
	for _, text := range small {
		l.y += l.paragraph(pageMargin, l.y, l.width(), smallSize, page.Regular, text)
	}
	if l.heading == s.heading() {
		if len(small) > 0 {
			l.y += 6
		} else {
			l.y += 3
		}
		l.text(page.At(pageMargin, l.y), textSize, page.Regular, page.AlignLeft, "Name")
		l.rule(pageMargin+12, l.width()*0.6, l.y)
		l.text(page.At(pageMargin+l.width()*0.68, l.y), textSize, page.Regular, page.AlignLeft, "Date")
		l.rule(pageMargin+l.width()*0.68+10, l.width(), l.y)
		minutes, most := s.total()
		l.y += 5
		l.text(page.At(pageMargin, l.y), smallSize, page.Regular, page.AlignLeft, fmt.Sprintf("%d questions, %d minutes, %s in all.", len(s.Questions), minutes, points(most)))
	}
	l.y += 5
}

func spaced(v float64) string {
	s := strconv.FormatFloat(v, 'f', 0, 64)
	if len(s) > 4 {
		s = s[:len(s)-3] + " " + s[len(s)-3:]
	}
	return s
}

func sidedTenth(d float64) string {
	side := "east"
	if d < 0 {
		side = "west"
	}
	return fmt.Sprintf("%.1f° %s", math.Abs(d), side)
}

// rule is a line to write on, from x to a distance from the margin.
func (l *layouter) rule(x, to, y float64) {
	l.page.Line(0.15, faint, page.At(x, y+0.6), page.At(pageMargin+to, y+0.6))
}

// feet numbers the pages.
func (l *layouter) feet() {
	for i, p := range l.doc.Pages {
		y := l.o.Paper.Height - pageMargin
		p.Add(page.Text{At: page.At(pageMargin, y), String: l.section[i], Size: 7, Color: ink},
			page.Text{At: page.At(l.o.Paper.Width-pageMargin, y), String: fmt.Sprintf("page %d of %d", i+1, len(l.doc.Pages)), Size: 7, Align: page.AlignRight, Color: ink})
	}
}

// mapDepth is the depth a question with a map takes.
const mapDepth = panelMM + 2*sheet.PanelHead + 10

// Columns of questions under a shared map.
const (
	columnsGap  = 6.0
	questionGap = 3.0
)

func (l *layouter) questions(ctx context.Context) error {
	var on = make([][]Question, len(l.set.Maps)+1)
	var own, bare []Question
	for _, q := range l.set.Questions {
		switch {
		case q.Figure == nil:
			bare = append(bare, q)
		case q.Figure.Map == 0:
			own = append(own, q)
		default:
			on[q.Figure.Map] = append(on[q.Figure.Map], q)
		}
	}
	for i := range l.set.Maps {
		if err := l.sharedMap(ctx, i+1, on[i+1]); err != nil {
			return err
		}
		flow := on[i+1]
		if i == len(l.set.Maps)-1 && len(own) == 0 {
			flow, bare = append(flow, bare...), nil
		}
		if l.across() {
			flow = l.besideMap(flow)
		}
		l.columns(flow)
	}
	for _, q := range own {
		if err := l.mapped(ctx, q); err != nil {
			return err
		}
	}
	l.columns(bare)
	return nil
}

// sharedMap draws the map of several questions, as wide as the page.
func (l *layouter) sharedMap(ctx context.Context, n int, questions []Question) error {
	const caption = 5.0
	width, x := l.width(), (l.o.Paper.Width-sharedWidth)/2
	first := questions[0].block(l)
	if l.across() {
		width, x, first = mapWide, pageMargin+sheet.PanelSide, 0
	}
	said := depth(l.survey.numbersRead(), page.Regular, smallSize, width)
	l.room(caption + sharedHeight + 2*sheet.PanelHead + 10 + said + 2 + first)
	l.mapTop = l.y
	l.text(page.At(pageMargin, l.y+3.4), 10, page.Bold, page.AlignLeft,
		fmt.Sprintf("Map %d: questions %d to %d. %dA is A of question %d, and so on.", n, questions[0].Number, questions[len(questions)-1].Number, questions[0].Number, questions[0].Number))
	l.y += caption
	frame := page.Box(x, l.y+sheet.PanelHead, sharedWidth, sharedHeight)
	if err := l.panel(ctx, l.shared(n), fmt.Sprintf("m%d", n), fmt.Sprintf("map %d", n), frame); err != nil {
		return err
	}
	l.y = frame.Bottom() + sheet.PanelHead + 10
	l.y += l.paragraph(pageMargin, l.y, width, smallSize, page.Regular, l.survey.numbersRead()) + 2
	return nil
}

// mapWide is the width of a shared map with its grid's numbers.
const mapWide = sharedWidth + 2*sheet.PanelSide

// besideMap sets small print and as many questions as there is room for beside
// the map just drawn, and returns the rest.
func (l *layouter) besideMap(questions []Question) []Question {
	x, y := pageMargin+mapWide+columnsGap, l.mapTop
	l.column = l.width() - mapWide - columnsGap
	defer func() { l.column = 0 }()
	for _, text := range l.beside {
		y += l.paragraph(x, y, l.column, smallSize, page.Regular, text)
	}
	if l.beside != nil {
		l.beside, y = nil, y+questionGap
	}
	for len(questions) > 0 && y+questions[0].block(l) <= l.bottom() {
		l.inColumn(questions[0], x, y)
		y += questions[0].block(l)
		questions = questions[1:]
	}
	l.y = max(l.y, y)
	return questions
}

// profileTall is the height of one profile of a choice in a column, mm.
const profileTall = 21.0

// columnWidth is that of a column: one of two, or the one beside a map.
func (l *layouter) columnWidth() float64 {
	if l.column > 0 {
		return l.column
	}
	return (l.width() - columnsGap) / 2
}

// block is the depth of a question in a column.
func (q *Question) block(l *layouter) float64 {
	w := l.columnWidth()
	d := 6 + depth(q.Text, page.Regular, textSize, w) + 1
	if q.Reading != "" {
		d += depth(q.Reading, page.Regular, smallSize, w) + 1
	}
	if q.Figure != nil {
		d += profileTall * float64(len(q.Figure.Profiles))
		if q.Figure.Blank != nil {
			d += stripTall
		}
	}
	return d + ruleGap*float64(answerLines(q.Kind)) + questionGap
}

// columns sets questions in two columns.
func (l *layouter) columns(questions []Question) {
	_ = l.inColumns(questions, func(q Question) float64 { return q.block(l) }, func(q Question, x, y float64) error {
		l.inColumn(q, x, y)
		return nil
	})
}

// inColumns sets blocks in two columns, the left one first, of about the same
// depth; what does not fit goes on to the next page.
func (l *layouter) inColumns(questions []Question, deep func(Question) float64, set func(q Question, x, y float64) error) error {
	for len(questions) > 0 {
		l.room(deep(questions[0]))
		free := l.bottom() - l.y
		n, used := split(questions, free, deep)
		x, y := pageMargin, l.y
		for i, q := range questions[:n[0]+n[1]] {
			if i == n[0] {
				x, y = pageMargin+l.columnWidth()+columnsGap, l.y
			}
			if err := set(q, x, y); err != nil {
				return err
			}
			y += deep(q)
		}
		l.y += used
		questions = questions[n[0]+n[1]:]
	}
	return nil
}

// split is how many of some blocks go in a left and a right column of a depth,
// and the depth used: as many as fit, in the least depth.
func split(questions []Question, free float64, depth func(Question) float64) (n [2]int, deep float64) {
	best := -1
	for left := 1; left <= len(questions); left++ {
		l, r, right := 0.0, 0.0, 0
		for _, q := range questions[:left] {
			l += depth(q)
		}
		if l > free && left > 1 {
			break
		}
		for _, q := range questions[left:] {
			if r+depth(q) > free {
				break
			}
			r += depth(q)
			right++
		}
		if left+right > best || left+right == best && max(l, r) < deep {
			best, n, deep = left+right, [2]int{left, right}, max(l, r)
		}
	}
	return n, deep
}

// inColumn sets a question with its profiles and lines to write on.
func (l *layouter) inColumn(q Question, x, y float64) {
	w := l.columnWidth()
	y += l.title(x, y, q)
	y += l.paragraph(x, y, w, textSize, page.Regular, q.Text) + 1
	if q.Reading != "" {
		y += l.paragraph(x, y, w, smallSize, page.Regular, q.Reading) + 1
	}
	if q.Figure != nil && len(q.Figure.Profiles) > 0 {
		y = l.choice(q, page.Box(x, y, w, profileTall))
	}
	if q.Figure != nil && q.Figure.Blank != nil {
		y = l.blank(q, page.Box(x, y, w, stripTall))
	}
	for range answerLines(q.Kind) {
		y += ruleGap
		l.rule(x, x+w-pageMargin, y)
	}
}

// choice draws a question's profiles, the first in a box, and returns where
// they end.
func (l *layouter) choice(q Question, first page.Rect) float64 {
	l.page.Open(fmt.Sprintf("q%d-profiles", q.Number), fmt.Sprintf("Profiles of question %d", q.Number))
	l.profiles(q.Figure.Profiles, first)
	l.page.Close()
	return first.Y + first.Height*float64(len(q.Figure.Profiles))
}

// blank draws the strip to draw a profile on and returns where it ends.
func (l *layouter) blank(q Question, box page.Rect) float64 {
	l.page.Open(fmt.Sprintf("q%d-strip", q.Number), fmt.Sprintf("Strip of question %d", q.Number))
	l.strip(q.Figure, box, nil)
	l.page.Close()
	return box.Bottom()
}

// title of a question: its number, time and points, and its depth.
func (l *layouter) title(x, y float64, q Question) float64 {
	head := fmt.Sprintf("Question %d", q.Number)
	l.text(page.At(x, y+4), 11, page.Bold, page.AlignLeft, head)
	l.text(page.At(x+page.TextWidth(head, page.Bold, 11)+2, y+4), smallSize, page.Regular, page.AlignLeft, fmt.Sprintf("%d min, %s", q.Minutes, points(q.Points)))
	return 6
}

// mapped sets a question with its map on the left and text, profiles and
// lines to write on beside it.
func (l *layouter) mapped(ctx context.Context, q Question) error {
	l.room(mapDepth)
	top := l.y
	frame := page.Box(pageMargin+sheet.PanelSide, top+sheet.PanelHead, panelMM, panelMM)
	if err := l.panel(ctx, q.Figure, fmt.Sprintf("q%d", q.Number), fmt.Sprintf("the map of question %d", q.Number), frame); err != nil {
		return err
	}
	x := frame.Right() + sheet.PanelSide + columnGap
	width := pageMargin + l.width() - x
	y := top
	y += l.title(x, y, q)
	y += l.paragraph(x, y, width, textSize, page.Regular, q.Text) + 1
	for _, small := range []string{q.Reading, l.survey.numbersRead()} {
		if small != "" {
			y += l.paragraph(x, y, width, smallSize, page.Regular, small) + 1
		}
	}
	if n := len(q.Figure.Profiles); n > 0 {
		// A line to answer on is kept below the profiles.
		tall := (top + mapDepth - blockGap - ruleGap - y) / float64(n)
		y = l.choice(q, page.Box(x, y, width, tall))
	}
	if q.Figure.Blank != nil {
		y = l.blank(q, page.Box(x, y, width, stripTall))
	}
	for range answerLines(q.Kind) {
		y += ruleGap
		l.rule(x, l.width(), y)
	}
	l.y = top + mapDepth + blockGap/2
	return nil
}

// panel draws a figure's map in a frame, its groups named by id; called is
// what warnings call it.
func (l *layouter) panel(ctx context.Context, figure *Figure, id, called string, frame page.Rect) error {
	plan, marks, legs := l.plan(figure)
	panel, err := sheet.DrawPanel(ctx, l.page, plan, frame, id, marks, legs)
	if err != nil {
		return fmt.Errorf("drill: %s: %w", called, err)
	}
	for _, name := range panel.Unlabelled {
		l.doc.Warnings = append(l.doc.Warnings, fmt.Sprintf("drill: %s has no room for the letter %s", called, name))
	}
	if panel.Levels < 2 {
		l.doc.Warnings = append(l.doc.Warnings, fmt.Sprintf("drill: %s does not carry two contour numbers, to tell up from down by", called))
	}
	l.page.Open(id+"-scale", "Scale")
	panel.ScaleBar(l.page, page.At(frame.X, frame.Bottom()+sheet.PanelHead+4.4), panelMM-14) // longer ones are no easier to use
	// clear of the corner's coordinates, which end 6.6 mm below the frame
	panel.Norths(l.page, page.At(frame.Right()-5, frame.Bottom()+sheet.PanelHead+8.6), 9)
	l.page.Close()
	return nil
}

// plan is a figure's map, with its marks and legs; the corners of outlines are
// marks without dots.
func (l *layouter) plan(figure *Figure) (plan sheet.Plan, marks []sheet.PanelMark, legs [][2]int) {
	s := l.survey
	centre := figure.Centre.At()
	plan = sheet.Plan{
		Scale: s.o.Scale, Units: s.o.Units, Centre: &centre, Ground: s.grid, Data: s.grid.Source,
		Contours: sheet.Contours{Lines: s.lines, Levels: s.levels}, Declination: s.o.Declination, Relief: l.o.Relief, Style: l.o.Style,
	}
	if s.zone == 0 {
		plan.North = sheet.TrueNorth
	}
	for _, m := range figure.Marks {
		marks = append(marks, sheet.PanelMark{Name: m.Name, At: m.At()})
	}
	legs = append(legs, figure.Legs...)
	for _, outline := range figure.outlined("") {
		first := len(marks)
		for i, m := range outline {
			marks = append(marks, sheet.PanelMark{Name: m.Name, At: m.At(), Bare: true})
			legs = append(legs, [2]int{first + i, first + (i+1)%len(outline)})
		}
	}
	return plan, marks, legs
}

// numbersRead says how the contour numbers of a map read.
func (s *survey) numbersRead() string {
	unit := "metres"
	if s.o.Units == units.US {
		unit = "feet"
	}
	return "Contour numbers are " + unit + ". They stand upright on the page and do not point uphill: compare two to tell up from down."
}

// leastRuling is how far apart ruled lines stand at the least, mm; where
// contours would be closer only the index ones are ruled.
const leastRuling = 1.0

// profiles draws the choices one under another, all to one scale, ruled at
// the contours like the strip a student would rule, and numbered.
func (l *layouter) profiles(sections []Section, first page.Rect) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, c := range sections {
		for _, h := range c.ElevationM {
			lo, hi = min(lo, h), max(hi, h)
		}
	}
	s := l.survey
	levels := s.levelsBetween(lo-s.interval(), hi+s.interval())
	lo, hi = levels[0], levels[len(levels)-1]
	const head, left = 4.0, 12
	for i, c := range sections {
		box := page.Box(first.X+left, first.Y+float64(i)*first.Height+head, first.Width-left, first.Height-head-1.5)
		up := box.Height / (hi - lo)
		along := box.Width / c.DistanceM[len(c.DistanceM)-1]
		labelled := math.Inf(1)
		crowded := s.interval()*up < leastRuling
		for k, level := range levels {
			y := box.Bottom() - (level-lo)*up
			index := s.levels.Kind(s.levels.Below(lo+1e-6)+k).String() == "index"
			width := page.LeastWidth
			if index {
				width = 0.2
			}
			if crowded && !index {
				continue
			}
			l.page.Line(width, faint, page.At(box.X, y), page.At(box.Right(), y))
			if index && labelled-y > 2.4 {
				l.page.Add(page.Text{At: page.At(box.X-0.8, y), String: s.levels.Label(s.levels.Below(lo+1e-6) + k), Size: 6,
					Align: page.AlignRight, Rise: page.RiseMiddle, Color: ink})
				labelled = y
			}
		}
		var line []page.Point
		for k, h := range c.ElevationM {
			line = append(line, page.At(box.X+c.DistanceM[k]*along, box.Bottom()-(h-lo)*up))
		}
		l.page.Add(page.Stroke{Lines: [][]page.Point{line}, Width: 0.4, Color: ink})
		l.page.Frame(0.15, ink, box)
		l.text(page.At(box.X+box.Width/2, box.Y-1), 8, page.Bold, page.AlignCenter, fmt.Sprintf("Profile %d", i+1))
		l.text(page.At(box.X, box.Y-0.8), 7, page.Regular, page.AlignLeft, "A")
		l.text(page.At(box.Right(), box.Y-0.8), 7, page.Regular, page.AlignRight, "B")
	}
}

const (
	keySize = 9.0 // points
	keyGap  = 2.0
)

// total is the minutes and the points of all questions.
func (s *Set) total() (minutes, most int) {
	for _, q := range s.Questions {
		minutes += q.Minutes
		most += q.Points
	}
	return minutes, most
}

func points(n int) string {
	if n == 1 {
		return "1 point"
	}
	return fmt.Sprintf("%d points", n)
}

// short is an answer without what stands in brackets after it.
func short(answer string) string {
	text, _, _ := strings.Cut(answer, " (")
	return strings.TrimSuffix(text, ".")
}

// answers is the table at the head of the key, to mark by.
func (l *layouter) answers() {
	right := l.width()
	at := []float64{0, 8, right - 66, right - 12}
	l.room(12)
	row := func(face page.Face, cells ...string) {
		l.room(max(depth(cells[1], face, keySize, at[2]-at[1]-3), depth(cells[2], face, keySize, at[3]-at[2]-3)) + 1)
		top, deep := l.y, 0.0
		for i, c := range cells {
			w := right - at[i]
			if i+1 < len(at) {
				w = at[i+1] - at[i] - 3
			}
			deep = max(deep, l.paragraph(pageMargin+at[i], top, w, keySize, face, c))
		}
		l.y += deep + 1
		l.rule(pageMargin, right, l.y-1)
	}
	row(page.Bold, "No.", "Answer", "Right", "Points")
	for _, q := range l.set.Questions {
		row(page.Regular, strconv.Itoa(q.Number), short(q.Answer), q.Within, strconv.Itoa(q.Points))
	}
	_, most := l.set.total()
	row(page.Bold, "", "In all", "", strconv.Itoa(most))
	l.y += keyGap
}

// keyText is the size of the working in the key, points: it stands in columns.
const keyText = 6.8

// working are the lines of an answer in the key; in a terse one without what was
// asked for.
func (q *Question) working(terse bool) []string {
	lines := slices.Clone(q.Working)
	for _, m := range q.Mistakes {
		lines = append(lines, m.text())
	}
	lines = append(lines, "Clear of error: "+q.Margin+".")
	if q.Reading != "" && !terse {
		lines = append(lines, "Asked for: "+q.Reading)
	}
	return lines
}

// keyTall is the height of a profile in the key, millimetres.
const keyTall = 25.2

// keyBlock is the depth of an answer in a column of the key.
func (q *Question) keyBlock(l *layouter) float64 {
	w := l.columnWidth()
	d := depth(q.headline(), page.Bold, keyText+0.7, w) + 0.6
	for _, line := range q.working(l.terse) {
		d += depth(line, page.Regular, keyText, w) + 0.3
	}
	if q.Figure != nil && q.Figure.Key != nil {
		d += keyTall + depth(q.Figure.Key.Key(), page.Regular, 6.5, w) + 2
	}
	if q.Figure != nil && q.Figure.Drawn != nil {
		d += stripTall
	}
	return d + keyGap
}

func (q *Question) headline() string { return fmt.Sprintf("Answer %d: %s", q.Number, q.Answer) }

// key sets the answers.
func (l *layouter) key(ctx context.Context) error {
	l.answers()
	// The maps stand in the columns too, before the answers, as blocks with
	// numbers below nought.
	maps := l.keyMaps()
	var blocks []Question
	for i := range maps {
		blocks = append(blocks, Question{Number: -1 - i})
	}
	deep := func(q Question) float64 {
		if q.Number < 0 {
			return l.mapBlock()
		}
		return q.keyBlock(l)
	}
	// They go where the whole fits the page, if anywhere.
	// What was asked for stands with the questions, and is left out where the
	// page would not hold it.
	order := append(slices.Clone(blocks), l.set.Questions...)
	notes := 0.0
	for _, n := range l.set.Notes {
		notes += depth("Note: "+n+".", page.Regular, smallSize, l.width())
	}
	fits := func() bool {
		for i := range len(l.set.Questions) + 1 {
			try := slices.Insert(slices.Clone(l.set.Questions), i, blocks...)
			if n, _ := split(try, l.bottom()-l.y-notes, deep); n[0]+n[1] == len(try) {
				order = try
				return true
			}
		}
		return false
	}
	if !fits() {
		l.terse = true
		l.terse = fits()
	}
	err := l.inColumns(order, deep, func(q Question, x, y float64) error {
		if q.Number < 0 {
			return l.drawnOn(ctx, maps[-1-q.Number], x, y)
		}
		return l.answer(q, x, y)
	})
	if err != nil {
		return err
	}
	for _, n := range l.set.Notes {
		s := "Note: " + n + "."
		l.room(depth(s, page.Regular, smallSize, l.width()))
		l.y += l.paragraph(pageMargin, l.y, l.width(), smallSize, page.Regular, s)
	}
	return nil
}

// answer sets an answer with its working in a column of the key.
func (l *layouter) answer(q Question, x, y float64) error {
	w := l.columnWidth()
	y += l.paragraph(x, y, w, keyText+0.7, page.Bold, q.headline()) + 0.6
	for _, line := range q.working(l.terse) {
		y += l.paragraph(x, y, w, keyText, page.Regular, line) + 0.3
	}
	if q.Figure == nil {
		return nil
	}
	if q.Figure.Key != nil {
		l.page.Open(fmt.Sprintf("a%d-profile", q.Number), fmt.Sprintf("Profile of answer %d", q.Number))
		if _, err := q.Figure.Key.Draw(l.page, page.Box(x, y, w-2, keyTall), l.survey.o.Units, l.o.Style); err != nil {
			return fmt.Errorf("drill: the profile of answer %d: %w", q.Number, err)
		}
		l.page.Close()
		l.paragraph(x, y+keyTall+0.5, w, 6.5, page.Regular, q.Figure.Key.Key())
	}
	if q.Figure.Drawn != nil {
		l.page.Open(fmt.Sprintf("a%d-strip", q.Number), fmt.Sprintf("Strip of answer %d", q.Number))
		l.strip(q.Figure, page.Box(x, y, w, stripTall), q.Figure.Drawn)
		l.page.Close()
	}
	return nil
}
