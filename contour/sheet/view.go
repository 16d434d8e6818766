package sheet

import (
	"context"
	"fmt"
	"image"
	"math"

	"crowline/contour/page"
	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/visibility"
)

// View is what is seen of the ground from some places, and what is not. What is
// out of sight is tinted and hatched; of several places the tint is the deeper
// the fewer of them see the ground, and what none sees is hatched.
type View struct {
	// From are the places looked from. Each is marked, unless the plan's leg
	// starts there or it is one of its Points.
	From []Place
	// Words follow the name of the only place in the key: how high the eye is,
	// what stands on the ground.
	Words string
	// Frame says where the posts stand that were judged, Verdicts what was found
	// of them, row by row. Of several places: Visible where any sees the post,
	// else Unknown where it is for any, else Hidden where it was asked of any.
	Frame    *dem.Frame
	Verdicts []visibility.Verdict
	// SeenBy is how many of several places see each post, for sure where Likely is
	// known; nil for one.
	SeenBy []uint8
	// Likely is how sure the posts are seen, of several places from the best of
	// them: with it the map has three steps, clear, within the data's error and out
	// of sight, else two. Its Steps may be left out until Verdicts are known. Nil
	// where the data's error is not known.
	Likely *visibility.ViewedLikelihood
	// Radius, metres, and Sector bounded the question; zero and nil if nothing
	// did.
	Radius float64
	Sector *visibility.Sector
	// Farthest is marked as the farthest ground seen; nil for none.
	Farthest *geodesy.LatLon
}

// bounded reports whether not all of the ground was looked at.
func (v *View) bounded() bool { return v.Radius > 0 || v.Sector != nil }

func (v *View) validate() error {
	switch {
	case len(v.From) == 0:
		return fmt.Errorf("%w: a view from nowhere", ErrPlan)
	case !(v.Radius >= 0) || math.IsInf(v.Radius, 0):
		return fmt.Errorf("%w: a view as far as %g metres", ErrPlan, v.Radius)
	case v.Verdicts == nil: // not known yet
		return nil
	case v.Likely != nil && len(v.Likely.Steps) != len(v.Verdicts):
		return fmt.Errorf("%w: %d steps of %d posts", ErrPlan, len(v.Likely.Steps), len(v.Verdicts))
	case v.Frame == nil || len(v.Verdicts) != v.Frame.Columns*v.Frame.Rows:
		return fmt.Errorf("%w: %d verdicts that are not of the posts looked at", ErrPlan, len(v.Verdicts))
	case len(v.From) > 1 && len(v.SeenBy) != len(v.Verdicts):
		return fmt.Errorf("%w: %d counts of %d posts", ErrPlan, len(v.SeenBy), len(v.Verdicts))
	}
	return nil
}

// Judged is where the posts stand of which the view has a verdict: less than its
// frame, where a sector bounded the question; the frame's where it has none.
func (v *View) Judged() *dem.Frame {
	f := v.Frame
	first, last := [2]int{f.Columns, f.Rows}, [2]int{-1, -1}
	for i, verdict := range v.Verdicts {
		if verdict != visibility.OutOfRange {
			c, r := i%f.Columns, i/f.Columns
			first = [2]int{min(first[0], c), min(first[1], r)}
			last = [2]int{max(last[0], c), max(last[1], r)}
		}
	}
	if last[0] < 0 {
		return f
	}
	judged := f.Sub(dem.Window{Column: first[0], Row: first[1], Columns: last[0] - first[0] + 1, Rows: last[1] - first[1] + 1})
	return &judged
}

// unseenMost is how deep the tint of ground that none of several places sees
// is: deeper than that of one, since fewer shades of it have to be told apart.
const unseenMost = 150

// unseenClass is counts of places that share a tint.
type unseenClass struct {
	lo, hi int
	alpha  uint8
}

// classes are the tints of a view, from the deepest, of what nobody sees, to
// the lightest; what everybody sees has none. The reader tells no more than six
// apart.
func (v *View) classes(style Style) []unseenClass {
	n := len(v.From)
	if n == 1 {
		return []unseenClass{{0, 0, style.Hidden.A}}
	}
	steps := min(n, 6)
	out := []unseenClass{{0, 0, unseenMost}}
	for k := 1; k < steps; k++ {
		lo, hi := 1+(k-1)*(n-1)/(steps-1), k*(n-1)/(steps-1)
		out = append(out, unseenClass{lo, hi, uint8(unseenMost * (steps - k) / steps)})
	}
	return out
}

// viewLook is the look-up of a view by place on the page.
type viewLook struct {
	*View
	lattice *lattice
	centre  page.Point
}

// post is the index of the post nearest to a position on the page; false off
// the posts that were looked at.
func (l *viewLook) post(q page.Point) (int, bool) {
	column, row, ok := l.lattice.at(page.At(q.X-l.centre.X, q.Y-l.centre.Y))
	c, r := math.Round(column), math.Round(row)
	if !ok || !(c >= 0 && r >= 0 && c < float64(l.Frame.Columns) && r < float64(l.Frame.Rows)) {
		return 0, false
	}
	return int(r)*l.Frame.Columns + int(c), true
}

// step is what the map says of a post; two of its steps are verdicts where it is
// not known how sure they are.
func (l *viewLook) step(i int) visibility.Step {
	if l.Likely != nil {
		return l.Likely.Steps[i]
	}
	return visibility.Step(l.Verdicts[i])
}

// stepAt is that of the nearest post.
func (l *viewLook) stepAt(q page.Point) visibility.Step {
	if i, ok := l.post(q); ok {
		return l.step(i)
	}
	return visibility.StepOutOfRange
}

// seenBy is how many places see a post.
func (l *viewLook) seenBy(i int) int {
	switch {
	case l.step(i) != visibility.StepClear:
		return 0
	case l.SeenBy != nil:
		return int(l.SeenBy[i])
	}
	return 1
}

// within is the tint of ground within the data's error: lighter than that out of
// sight, deeper than that of ground clear from one of several places, and told from both by its lines, which are broken.
func (v *View) within(style Style) page.Color {
	c := style.Hidden
	c.A = uint8(math.Round(withinTint * float64(c.A)))
	if classes := v.classes(style); len(classes) > 1 { // between what none sees and what one does
		c.A = (classes[0].alpha + classes[1].alpha) / 2
	}
	return c
}

// withinTint is how deep that tint is, as a share of the tint out of sight.
const withinTint = 0.4

// hatchHidden and hatchWithin are the lines of ground out of sight and of ground
// within the error.
func hatchHidden(style Style, lines [][]page.Point) page.Stroke {
	c := style.Hidden
	c.A = 255
	return page.Stroke{Lines: lines, Width: 0.13, Color: c}
}

func hatchWithin(style Style, lines [][]page.Point) page.Stroke {
	s := hatchHidden(style, lines)
	s.Width, s.Dash = 0.2, []float64{0.5, 0.9}
	return s
}

const (
	// viewPerMM is the tint's resolution, pixels to the millimetre: 200 dots per
	// inch, at which the posts' squares stay crisp; viewPixels bounds them on
	// large paper.
	viewPerMM  = 8
	viewPixels = 16e6
)

// view tints and hatches what is out of sight, and draws how far was looked.
func (m *mapPanel) view(ctx context.Context, missing func(page.Point) bool) error {
	v := m.plan.View
	if v == nil || v.Verdicts == nil {
		return nil
	}
	look := &viewLook{View: v, lattice: newLattice(m.proj, v.Frame, m.area()), centre: m.frame.Centre()}
	if err := m.viewTint(ctx, look, missing); err != nil {
		return err
	}
	style := m.plan.Style
	m.page.Open("hidden", "Ground out of sight")
	m.page.Add(hatchHidden(style, m.scan(hiddenGap, true, func(q page.Point) bool { return look.stepAt(q) == visibility.StepHidden })))
	m.drew.hidden = m.drew.hidden || len(m.page.Opened()) > 0
	if look.Likely != nil {
		m.page.Open("within-error", "Ground within the data's error")
		m.page.Add(hatchWithin(style, m.scan(withinGap, true, func(q page.Point) bool { return look.stepAt(q) == visibility.StepWithinError })))
		m.drew.within = m.drew.within || len(m.page.Opened()) > 0
	}
	m.page.Open("not-known", "Ground of which it is not known")
	m.page.Add(page.Stroke{Lines: m.scan(unknownGap, false, func(q page.Point) bool { return look.stepAt(q) == visibility.StepUnknown && !missing(q) }), Width: 0.16, Color: page.Vermillion})
	m.drew.unknown = len(m.page.Opened()) > 0
	m.page.Close()
	return m.viewLimits(v)
}

// Gaps between the lines of hatching, millimetres.
const (
	hiddenGap  = 2.2
	withinGap  = hiddenGap / 2
	unknownGap = 1.2
)

// viewTint is the picture laid over the relief.
func (m *mapPanel) viewTint(ctx context.Context, look *viewLook, missing func(page.Point) bool) error {
	per := math.Min(viewPerMM, math.Sqrt(viewPixels/(m.frame.Width*m.frame.Height)))
	nx, ny := int(math.Ceil(m.frame.Width*per)), int(math.Ceil(m.frame.Height*per))
	tints := make([]page.Color, len(look.From)+1)
	for _, c := range look.classes(m.plan.Style) {
		for n := c.lo; n <= c.hi; n++ {
			tints[n] = m.plan.Style.Hidden
			tints[n].A = c.alpha
		}
	}
	img := image.NewNRGBA(image.Rect(0, 0, nx, ny))
	for j := range ny {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("sheet: ground out of sight: %w", err)
		}
		for i := range nx {
			q := page.At(m.frame.X+(float64(i)+0.5)/float64(nx)*m.frame.Width, m.frame.Y+(float64(j)+0.5)/float64(ny)*m.frame.Height)
			k, ok := look.post(q)
			switch {
			case !ok || look.Verdicts[k] == visibility.OutOfRange:
				if look.bounded() && !missing(q) {
					img.SetNRGBA(i, j, unlooked)
					m.drew.unlooked = true
				}
			case look.step(k) == visibility.StepWithinError:
				img.SetNRGBA(i, j, look.within(m.plan.Style))
				m.drew.within = true
			case look.step(k) != visibility.StepUnknown:
				img.SetNRGBA(i, j, tints[look.seenBy(k)])
				m.drew.hidden = m.drew.hidden || look.seenBy(k) == 0
			}
		}
	}
	m.page.Open("view", "Tint of ground out of sight")
	m.page.Add(page.Picture{Rect: m.frame, Pixels: img})
	m.page.Close()
	return nil
}

// unlooked veils ground that was not looked at, so that it is not taken for
// ground in sight, which has no tint.
var unlooked = page.Color{R: 120, G: 120, B: 120, A: 60}

// scan is lines across the frame, gap millimetres apart, where in holds: rising
// to the right, or falling.
func (m *mapPanel) scan(gap float64, rising bool, in func(page.Point) bool) [][]page.Point {
	const step = 0.25 // mm between looks along a line
	a, up := m.frame, 1.0
	if rising {
		up = -1
	}
	var lines [][]page.Point
	// The line is x - up y = k gap, walked down the frame.
	first := math.Min(a.X-up*a.Y, a.X-up*a.Bottom())
	last := math.Max(a.Right()-up*a.Y, a.Right()-up*a.Bottom())
	for k := math.Ceil(first / gap); k*gap <= last; k++ {
		var from, to page.Point
		open := false
		flush := func() {
			if open && from != to {
				lines = append(lines, []page.Point{from, to})
			}
			open = false
		}
		for y := a.Y; y <= a.Bottom(); y += step {
			q := page.At(k*gap+up*y, y)
			if !a.Contains(q) || !in(q) {
				flush()
				continue
			}
			if !open {
				from, open = q, true
			}
			to = q
		}
		flush()
	}
	return lines
}

// viewLimit is the pen of circles and sector edges; white under it carries it
// over dark ground.
var viewLimit = page.Pen{Width: 0.3, Color: page.Ink, Dash: []float64{2, 1}}

// viewLimits draws how far was looked: a circle, or the sector's arc and edges.
func (m *mapPanel) viewLimits(v *View) error {
	if !v.bounded() {
		return nil
	}
	var lines [][]page.Point
	for _, o := range v.From {
		reach := v.Radius
		if reach == 0 { // past every corner of the map
			reach = math.Hypot(m.frame.Width, m.frame.Height)/m.proj.mm + geodesy.Inverse(m.proj.centre, o.At).Distance
		}
		from, width := 0.0, 360.0
		if v.Sector != nil {
			from = float64(v.Sector.From)
			width = math.Mod(float64(v.Sector.To)-from+360, 360)
		}
		trace := func(n int, bearing, distance func(t float64) float64) error {
			var line []page.Point
			for i := range n + 1 {
				t := float64(i) / float64(n)
				at, _ := geodesy.Direct(o.At, geodesy.NewTrueBearing(geodesy.Degrees(bearing(t))), distance(t))
				q, err := m.place(at)
				if err != nil {
					return err
				}
				line = append(line, q)
			}
			lines = append(lines, line)
			return nil
		}
		still := func(v float64) func(float64) float64 { return func(float64) float64 { return v } }
		if v.Radius > 0 {
			if err := trace(360, func(t float64) float64 { return from + t*width }, still(reach)); err != nil {
				return err
			}
		}
		if v.Sector != nil {
			for _, b := range []float64{from, from + width} {
				if err := trace(48, still(b), func(t float64) float64 { return t * reach }); err != nil {
					return err
				}
			}
		}
	}
	m.page.Open("limits", "How far was looked")
	m.page.Clip(m.frame)
	m.page.Add(page.Stroke{Lines: lines, Width: viewLimit.Width + 0.5, Color: page.Color{R: 255, G: 255, B: 255, A: 150}}, viewLimit.Stroke(lines...))
	m.page.Unclip()
	m.drew.limit = len(m.page.Opened()) > 0
	m.page.Close()
	return nil
}

// observers draws and names where was looked from, and the farthest seen.
func (m *mapPanel) observers() error {
	v := m.plan.View
	if v == nil {
		return nil
	}
	m.page.Open("observers", "Places looked from")
	defer m.page.Close()
	if v.Farthest != nil {
		q, err := m.place(*v.Farthest)
		if err != nil {
			return err
		}
		if m.frame.Inset(1.8).Contains(q) {
			farthestSymbol(m.page, q)
			m.symbolBox(q, 1.8)
			m.drew.farthest = true
		}
	}
	type named struct {
		at    page.Point
		lines []labelLine
	}
	var names []named
	for i, o := range v.From {
		q, err := m.place(o.At)
		if err != nil {
			return err
		}
		if m.plan.marked(o.At) || !m.frame.Inset(1).Contains(q) {
			continue
		}
		observerSymbol(m.page, q)
		m.symbolBox(q, 1.7)
		m.drew.observer = true
		if len(v.From) > 1 {
			o.Name = numbered(i, o.Name)
		}
		names = append(names, named{q, m.placeLines(o, page.Bold, 8)})
	}
	for _, n := range names { // when all signs have their place
		m.label(n.at, 1.7, m.plan.Style.Ink, n.lines...)
	}
	return nil
}

// numbered is the name of one of several places looked from.
func numbered(i int, name string) string {
	if name == "" {
		return fmt.Sprint(i + 1)
	}
	return fmt.Sprintf("%d %s", i+1, name)
}

// marked reports whether a place has a sign of its own on the map.
func (p *Plan) marked(at geodesy.LatLon) bool {
	if p.Leg != nil && p.Leg.From.At == at {
		return true
	}
	for _, q := range p.Points {
		if q.At == at {
			return true
		}
	}
	return false
}

// The observer's sign is a ring with a dot, on white so that it stands out of
// any tint; the farthest ground is a cross.
func observerSymbol(pg *page.Page, q page.Point) {
	pg.Add(page.Fill{Rings: [][]page.Point{page.Circle(q, 1.7)}, Color: page.White},
		page.Fill{Rings: [][]page.Point{page.Circle(q, 1.4), page.Circle(q, 0.95)}, Color: page.Vermillion},
		page.Fill{Rings: [][]page.Point{page.Circle(q, 0.5)}, Color: page.Ink})
}

func farthestSymbol(pg *page.Page, q page.Point) {
	arms := [][]page.Point{{q.Add(-1.2, -1.2), q.Add(1.2, 1.2)}, {q.Add(-1.2, 1.2), q.Add(1.2, -1.2)}}
	pg.Add(page.Stroke{Lines: arms, Width: 1.1, Color: page.White, Cap: page.CapRound}, page.Stroke{Lines: arms, Width: 0.5, Color: page.Vermillion, Cap: page.CapRound})
}

// viewKey explains what the map shows of the view.
func (b *blocks) viewKey(pg *page.Page, next func(text string, draw func(c page.Point)), patch func(c page.Point) page.Rect) {
	v, style := b.plan.View, b.plan.Style
	if v == nil {
		return
	}
	if b.drew.observer {
		next("Looked from here", func(c page.Point) { observerSymbol(pg, c) })
	}
	tinted := func(alpha uint8, hatched bool) func(page.Point) {
		return func(c page.Point) {
			r := patch(c)
			if tint := style.Hidden; alpha > 0 {
				tint.A = alpha
				pg.Add(page.Fill{Rings: [][]page.Point{r.Corners()}, Color: tint})
			}
			if hatched {
				pg.Add(hatchHidden(style, hatch([][]page.Point{r.Corners()}, r, hiddenGap)))
			}
			pg.Frame(0.1, page.Faint, r)
		}
	}
	if v.Likely != nil && len(v.From) == 1 {
		next("Clear: 75 % chance to see it, or more", tinted(0, false))
	}
	if b.drew.within {
		text := "Within the data's error: 25 to 75 %"
		if len(v.From) > 1 {
			text = "Clear from none, within the data's error: 25 to 75 %"
		}
		next(text, func(c page.Point) {
			r := patch(c)
			pg.Add(page.Fill{Rings: [][]page.Point{r.Corners()}, Color: v.within(style)}, hatchWithin(style, hatch([][]page.Point{r.Corners()}, r, withinGap)))
			pg.Frame(0.1, page.Faint, r)
		})
	}
	classes := v.classes(style)
	switch n := len(v.From); {
	case n == 1 && b.drew.hidden:
		text := "Ground out of sight"
		if v.From[0].Name != "" {
			text += " from " + v.From[0].Name
		}
		text += v.Words
		if v.Likely != nil {
			text += ": under 25 %"
		}
		next(text, tinted(classes[0].alpha, true))
	case n > 1 && b.drew.hidden:
		text := fmt.Sprintf("Out of sight from all %d%s", n, v.Words)
		if v.Likely != nil {
			text += ": under 25 %"
		}
		next(text, tinted(classes[0].alpha, true))
	}
	seen, sure := "Seen", ""
	if v.Likely != nil {
		seen, sure = "Clear", " (75 % or more)"
	}
	for i, c := range classes[1:] {
		text := fmt.Sprintf("%s from %d of %d", seen, c.lo, len(v.From))
		if c.hi > c.lo {
			text = fmt.Sprintf("%s from %d to %d of %d", seen, c.lo, c.hi, len(v.From))
		}
		if i == 0 {
			text += sure
		}
		next(text, tinted(c.alpha, false))
	}
	if len(v.From) > 1 {
		next(fmt.Sprintf("%s from all %d: no tint", seen, len(v.From)), tinted(0, false))
	}
	if b.drew.unknown {
		next("Not known whether it is seen", func(c page.Point) {
			r := patch(c)
			var lines [][]page.Point
			for x := r.X - r.Height; x < r.Right(); x += unknownGap {
				lines = append(lines, []page.Point{page.At(x, r.Y), page.At(x+r.Height, r.Bottom())})
			}
			pg.Clip(r)
			pg.Add(page.Stroke{Lines: lines, Width: 0.16, Color: page.Vermillion})
			pg.Unclip()
			pg.Frame(0.1, page.Faint, r)
		})
	}
	if b.drew.unlooked {
		next("Not looked at", func(c page.Point) {
			pg.Add(page.Fill{Rings: [][]page.Point{patch(c).Corners()}, Color: unlooked})
			pg.Frame(0.1, page.Faint, patch(c))
		})
	}
	if b.drew.limit {
		next(b.limitText(), func(c page.Point) {
			pg.Add(viewLimit.Stroke([]page.Point{c.Add(-4, 0), c.Add(4, 0)}))
		})
	}
	if b.drew.farthest {
		text := "Farthest ground seen"
		if len(v.From) == 1 && v.Farthest != nil {
			text += ", " + b.plan.Units.Distance(geodesy.Inverse(v.From[0].At, *v.Farthest).Distance)
		}
		next(text, func(c page.Point) { farthestSymbol(pg, c) })
	}
}

// limitText is the key's word on how far was looked.
func (b *blocks) limitText() string {
	v := b.plan.View
	s := "How far was looked"
	if v.Radius > 0 {
		s += ": " + b.plan.Units.Distance(v.Radius)
	}
	if v.Sector != nil {
		s += fmt.Sprintf(", on true bearings %s to %s", bearing(float64(v.Sector.From)), bearing(float64(v.Sector.To)))
	}
	return s
}

// likelyNote says what the three steps of a view rest on, "" where it has two.
func (b *blocks) likelyNote() string {
	if b.plan.View == nil || b.plan.View.Likely == nil {
		return ""
	}
	m := b.plan.View.Likely.Model
	return fmt.Sprintf("Clear, within the data's error and out of sight: by the share of %d grounds, drawn from the data's error of ±%s, in which the place is seen.",
		m.Samples, b.plan.Units.Height(m.VerticalError))
}
