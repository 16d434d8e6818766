package sheet

import (
	"fmt"
	"math"
	"sort"
	"strconv"

	"crowline/contour/page"
	"crowline/dem/units"
)

// ProfileDrawing is what a leg's profile shows: distance along the leg against
// elevation, both in metres.
//
// Elevations are plotted above a level base line, as they stand in the data.
// Over the Earth's curve a straight line of sight is then not straight: it
// sags below the line between its ends by d(D-d)/2R' metres at distance d of
// D, where R' is EffectiveRadius. Drawn so, sight line and ground meet on
// paper exactly where they meet on the Earth.
//
// Where there is no elevation, from the last that is known to the next, the
// frame is hatched, and no line of sight is drawn: past it the line is dotted,
// for nobody knows whether it gets there.
type ProfileDrawing struct {
	Distances  []float64 // from the start, rising
	Elevations []float64 // of the bare ground; NaN in a void
	// Cover is how high what stands on the ground reaches above it at each
	// distance, metres: 0 where nothing does, NaN where that is not known; nil
	// where no cover was given. With it Hidden, Unknown and what stops Sight are
	// over its top.
	Cover []float64
	// Sight is the line of sight; nil for none.
	Sight *SightDrawing
	// Hidden are stretches of ground that cannot be seen from the start, each
	// from one distance to another; Unknown those of which it is not known.
	Hidden, Unknown [][2]float64
	// Filled are stretches of ground that was void and has been filled in.
	Filled [][2]float64
	// Levels are contour levels to mark where the ground crosses them,
	// metres; the drawing leaves them out when they would crowd. Interval is
	// what the key says they are apart, as "20 m"; "" for nothing.
	Levels   []float64
	Interval string
	Marks    []ProfileMark
	// From and To name the two ends.
	From, To string
}

// SightDrawing is a line of sight over a profile.
type SightDrawing struct {
	FromDistance, ToDistance   float64 // metres along the profile
	FromElevation, ToElevation float64 // of eye and target, metres
	// EffectiveRadius is the Earth's radius along the leg divided by one
	// less the refraction coefficient, metres; 0 draws a straight line. Below
	// 0 light bends more than the Earth.
	EffectiveRadius float64
	// BlockedAt is where the ground stands that hides the target, metres: that
	// which stands highest against the eye, BlockerElevation metres high, with
	// what stands on it. NaN or 0 when nothing hides it.
	BlockedAt, BlockerElevation float64
	// StoppedAt is where the line first enters ground, before BlockedAt or
	// beyond it: from there on it is dashed. NaN or 0 when it does not.
	StoppedAt float64
}

// At is the sight line's elevation at a distance, as it is drawn, metres.
func (s *SightDrawing) At(d float64) float64 {
	length := s.ToDistance - s.FromDistance
	t := (d - s.FromDistance) / length
	e := s.FromElevation + t*(s.ToElevation-s.FromElevation)
	if s.EffectiveRadius != 0 {
		e -= (d - s.FromDistance) * (s.ToDistance - d) / (2 * s.EffectiveRadius)
	}
	return e
}

// ProfileMark is a named point on a profile.
type ProfileMark struct {
	Distance float64
	Label    string
}

func (d *ProfileDrawing) validate() error {
	if len(d.Distances) < 2 || len(d.Distances) != len(d.Elevations) {
		return fmt.Errorf("%w: a profile of %d distances and %d elevations", ErrPlan, len(d.Distances), len(d.Elevations))
	}
	for i, v := range d.Distances {
		if math.IsNaN(v) || math.IsInf(v, 0) || i > 0 && v < d.Distances[i-1] {
			return fmt.Errorf("%w: a profile's distance %d is %g metres after one of %g", ErrPlan, i, v, d.Distances[max(i-1, 0)])
		}
	}
	if !(d.Distances[len(d.Distances)-1] > d.Distances[0]) {
		return fmt.Errorf("%w: a profile of no length", ErrPlan)
	}
	known := false
	for _, e := range d.Elevations {
		known = known || !math.IsNaN(e)
	}
	if !known {
		return fmt.Errorf("%w: a profile without an elevation", ErrPlan)
	}
	if d.Cover != nil && len(d.Cover) != len(d.Distances) {
		return fmt.Errorf("%w: a profile of %d distances and %d heights of cover", ErrPlan, len(d.Distances), len(d.Cover))
	}
	for _, m := range d.Marks {
		if err := page.CheckText(m.Label, page.Regular); err != nil {
			return err
		}
	}
	return nil
}

// exaggerations a profile may be drawn with: figures that can be worked with.
var exaggerations = []float64{0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 0.75, 1, 1.25, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 75, 100, 150, 200, 300, 500, 1000}

// plotScale is where a profile's figures stand on paper.
type plotScale struct {
	box          page.Rect
	d0, e0       float64 // metres at the box's left and foot
	mmX, mmY     float64 // millimetres to the metre
	exaggeration float64
}

func (s plotScale) at(d, e float64) page.Point {
	return page.At(s.box.X+(d-s.d0)*s.mmX, s.box.Bottom()-(e-s.e0)*s.mmY)
}

// The room round what is plotted, for figures and names, millimetres.
const (
	plotSide  = 11
	plotRight = 3
	plotHead  = 7
	plotFoot  = 7.5
)

// plotFilled is the most of its box that the ground takes: a little air is left
// above the highest and below the lowest.
const plotFilled = 0.92

// Draw draws the profile into r and returns its vertical exaggeration, which
// it also prints. Axes are in units. The drawing needs about 60 x 25 mm; the
// figures of the axes stand within r. A short steep profile is drawn narrower
// than r, so that slopes are not flattened.
func (d *ProfileDrawing) Draw(p *page.Page, r page.Rect, u units.System, style Style) (exaggeration float64, err error) {
	exaggeration, _, err = d.draw(p, r, u, style, false)
	return exaggeration, err
}

// draw also says which signs it drew. A wide one is as wide as r whatever that
// does to the slopes.
func (d *ProfileDrawing) draw(p *page.Page, r page.Rect, u units.System, style Style, wide bool) (exaggeration float64, drew profileSigns, err error) {
	if err := d.validate(); err != nil {
		return 0, drew, err
	}
	if r.Width < 60 || r.Height < 25 {
		return 0, drew, fmt.Errorf("%w: a profile needs 60 x 25 mm, not %.0f x %.0f", ErrPlan, r.Width, r.Height)
	}
	style = style.filled()
	const size = 6.5
	s := d.scale(page.Box(r.X+plotSide, r.Y+plotHead, r.Width-plotSide-plotRight, r.Height-plotHead-plotFoot), size, wide)
	d.axes(p, s, u, size)
	drew.ground = true
	drew.void = d.voids(p, s, style)
	drew.hidden, drew.unknown, drew.cover, drew.filled = d.ground(p, s, style)
	drew.overCover = drew.hidden && d.Cover != nil
	if drew.ticks = d.levels(p, s, style); drew.ticks {
		drew.interval = d.Interval
	}
	d.sight(p, s, style, &drew)
	d.labels(p, s, r, style, size)
	p.Add(page.Text{At: page.At(s.box.Right(), r.Y+2.2), Align: page.AlignRight, Size: size, Color: page.Ink,
		String: "Vertical scale " + strconv.FormatFloat(s.exaggeration, 'f', -1, 64) + " × horizontal"})
	p.Frame(0.2, style.Ink, s.box)
	drew.stopped = d.blocker(p, s, u, style) // may lie on the frame
	return s.exaggeration, drew, nil
}

// scale fits the profile into a box with the largest exaggeration there is
// room for, and makes the box narrower where that would be less than 1 unless it
// is to stay wide.
func (d *ProfileDrawing) scale(box page.Rect, size float64, wide bool) plotScale {
	s := plotScale{box: box, d0: d.Distances[0]}
	lo, hi := d.limits()
	length := d.Distances[len(d.Distances)-1] - s.d0
	fit := func() {
		s.mmX = s.box.Width / length
		s.exaggeration = exaggerations[0]
		for _, v := range exaggerations {
			if (hi-lo)*s.mmX*v <= s.box.Height*plotFilled {
				s.exaggeration = v
			}
		}
	}
	if fit(); s.exaggeration < 1 && !wide {
		least := math.Max(50, page.TextWidth(d.From, page.Bold, size)+page.TextWidth(d.To, page.Bold, size)+4) // mm; the names of the ends
		s.box.Width = math.Min(box.Width, math.Max(least, s.box.Height*plotFilled/(hi-lo)*length*(1-1e-9)))
		fit()
	}
	s.mmY = s.mmX * s.exaggeration
	s.e0 = (lo+hi)/2 - s.box.Height/s.mmY/2
	if s.e0 < 0 && lo >= 0 { // no ground below the sea where there is none
		s.e0 = math.Min(lo, math.Max(s.e0, -2/s.mmY))
	}
	return s
}

func (d *ProfileDrawing) limits() (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	take := func(e float64) {
		if !math.IsNaN(e) {
			lo, hi = math.Min(lo, e), math.Max(hi, e)
		}
	}
	for i, e := range d.Elevations {
		take(e)
		take(d.top(i))
	}
	if d.Sight != nil {
		if d.Sight.BlockedAt > 0 { // false for NaN
			take(d.Sight.BlockerElevation)
		}
		for i := range 33 {
			t := float64(i) / 32
			take(d.Sight.At(d.Sight.FromDistance + t*(d.Sight.ToDistance-d.Sight.FromDistance)))
		}
	}
	if hi-lo < 1 {
		lo, hi = lo-0.5, hi+0.5
	}
	return lo, hi
}

func (d *ProfileDrawing) axes(p *page.Page, s plotScale, u units.System, size float64) {
	name, unit := up(u)
	step := roundStep(4.5 / s.mmY / unit) // gridlines at least 4.5 mm apart
	top := s.e0 + s.box.Height/s.mmY
	for k := math.Ceil(s.e0 / unit / step); k*step*unit <= top; k++ {
		q := s.at(s.d0, k*step*unit)
		p.Line(page.LeastWidth, page.RGB(0xB0B0B0), q, page.At(s.box.Right(), q.Y))
		p.Add(page.Text{At: q.Add(-1, 0), String: plain(k*step, step), Size: size, Align: page.AlignRight, Rise: page.RiseMiddle, Color: page.Ink})
	}
	p.Add(page.Text{At: page.At(s.box.X-1, s.box.Y-1.6), String: name, Size: size, Align: page.AlignRight, Color: page.Ink})

	name, unit = far(u)
	step = roundStep(14 / s.mmX / unit)
	if u == units.US && step < 0.1 { // no hundredths of a mile: feet, as in text
		name, unit = up(u)
		step = roundStep(14 / s.mmX / unit)
	}
	last := (s.d0 + s.box.Width/s.mmX) / unit
	for k := math.Ceil(s.d0/unit/step - 1e-9); k*step <= last*(1+1e-9); k++ {
		q := page.At(s.at(k*step*unit, 0).X, s.box.Bottom())
		p.Line(0.2, page.Ink, q, q.Add(0, 1))
		text := plain(k*step, step)
		if k == math.Ceil(s.d0/unit/step-1e-9) {
			text += " " + name
		}
		t := page.Text{At: q.Add(0, 1.6), String: text, Size: size, Align: page.AlignCenter, Rise: page.RiseTop, Color: page.Ink}
		if t.Box().Right() <= s.box.Right()+3 {
			p.Add(t)
		}
	}
}

// top is the elevation of what stands at a point, NaN where that is not known.
func (d *ProfileDrawing) top(i int) float64 {
	if d.Cover == nil {
		return d.Elevations[i]
	}
	return d.Elevations[i] + d.Cover[i]
}

// gaps are the stretches without elevation.
func (d *ProfileDrawing) gaps() [][2]float64 {
	var out [][2]float64
	for i := 1; i < len(d.Distances); i++ {
		if !math.IsNaN(d.Elevations[i-1]) && !math.IsNaN(d.Elevations[i]) {
			continue
		}
		if n := len(out); n > 0 && out[n-1][1] == d.Distances[i-1] {
			out[n-1][1] = d.Distances[i]
		} else {
			out = append(out, [2]float64{d.Distances[i-1], d.Distances[i]})
		}
	}
	return out
}

// voids hatches the frame where there is no elevation, as the map does.
func (d *ProfileDrawing) voids(p *page.Page, s plotScale, style Style) bool {
	gaps := d.gaps()
	const least, words, size = 0.4, "no data", 6.0 // mm, so that the narrowest shows
	for _, g := range gaps {
		from, to := s.at(g[0], 0).X, s.at(g[1], 0).X
		if to-from < least {
			from, to = (from+to-least)/2, (from+to+least)/2
		}
		r := page.Box(from, s.box.Y, to-from, s.box.Height)
		p.Clip(s.box)
		p.Add(page.Fill{Rings: [][]page.Point{r.Corners()}, Color: page.White})
		p.Clip(r)
		p.Add(page.Stroke{Lines: voidHatch(r), Width: 0.12, Color: style.Void})
		p.Unclip()
		p.Clip(s.box)
		p.Add(page.Stroke{Lines: [][]page.Point{{page.At(from, r.Y), page.At(from, r.Bottom())}, {page.At(to, r.Y), page.At(to, r.Bottom())}}, Width: 0.15, Color: style.Void})
		p.Unclip()
		if to-from > page.TextWidth(words, page.Regular, size)+2 {
			p.Add(page.Text{At: page.At((from+to)/2, r.Bottom()-2.4), String: words, Size: size, Align: page.AlignCenter, Color: style.Ink, Halo: 0.6, HaloColor: page.White})
		}
	}
	return len(gaps) > 0
}

// voidHatch is the falling lines that mark missing elevations.
func voidHatch(r page.Rect) [][]page.Point {
	const gap = 1.6 // mm
	var lines [][]page.Point
	for x := r.X - r.Height; x < r.Right(); x += gap {
		lines = append(lines, []page.Point{page.At(x, r.Y), page.At(x+r.Height, r.Bottom())})
	}
	return lines
}

// ground draws the section, broken at voids, its hidden stretches hatched and
// what stands on it above it.
func (d *ProfileDrawing) ground(p *page.Page, s plotScale, style Style) (hidden, unknown, cover, filled bool) {
	p.Clip(s.box)
	defer p.Unclip()
	base := s.box.Bottom() + 1
	var lines, rings [][]page.Point
	var line []page.Point
	flush := func() {
		if len(line) >= 2 {
			lines = append(lines, line)
			ring := append([]page.Point{}, line...)
			rings = append(rings, append(ring, page.At(line[len(line)-1].X, base), page.At(line[0].X, base)))
		}
		line = nil
	}
	for i, e := range d.Elevations {
		if math.IsNaN(e) {
			flush()
			continue
		}
		line = append(line, s.at(d.Distances[i], e))
	}
	flush()
	for _, ring := range rings {
		p.Add(page.Fill{Rings: [][]page.Point{ring}, Color: groundFill})
	}
	for _, h := range d.Hidden {
		hidden = d.hide(p, s, style, h) || hidden
	}
	for _, h := range d.Unknown {
		unknown = d.doubt(p, s, style, h) || unknown
	}
	cover = d.cover(p, s, style)
	p.Add(page.Stroke{Lines: lines, Width: 0.35, Color: style.Ink})
	return hidden, unknown, cover, d.fill(p, s)
}

// Tints of a profile's ground and of what stands on it: in grey the one is
// much paler, and the other has an outline.
var (
	groundFill = page.RGB(0xE4ECE6)
	coverFill  = page.RGB(0xA9BCA6)
)

// cover draws what stands on the ground.
func (d *ProfileDrawing) cover(p *page.Page, s plotScale, style Style) bool {
	if d.Cover == nil {
		return false
	}
	var rings, tops [][]page.Point
	var ring, top []page.Point // the ground along a stand, and its top
	flush := func() {
		if len(top) > 1 {
			for i := len(top) - 1; i >= 0; i-- {
				ring = append(ring, top[i])
			}
			rings, tops = append(rings, ring), append(tops, top)
		}
		ring, top = nil, nil
	}
	for i, e := range d.Elevations {
		if math.IsNaN(d.top(i)) {
			flush()
			continue
		}
		before := i > 0 && d.Cover[i-1] > 0
		after := i+1 < len(d.Cover) && d.Cover[i+1] > 0
		if d.Cover[i] > 0 || before || after {
			ring, top = append(ring, s.at(d.Distances[i], e)), append(top, s.at(d.Distances[i], d.top(i)))
		}
		if !(d.Cover[i] > 0) && !after {
			flush()
		}
	}
	flush()
	for _, r := range rings {
		p.Add(page.Fill{Rings: [][]page.Point{r}, Color: coverFill})
	}
	p.Add(page.Stroke{Lines: tops, Width: 0.18, Color: style.Ink})
	return len(rings) > 0
}

// fill marks ground that was filled in with a row of dots over its line: hatching is
// under it.
func (d *ProfileDrawing) fill(p *page.Page, s plotScale) bool {
	var dots []page.Point
	for _, h := range d.Filled {
		from, to := s.at(h[0], 0).X, s.at(h[1], 0).X
		n := max(1, math.Floor((to-from)/filledGap)) // one at least, however short
		for i := range int(n) {
			x := from + (float64(i)+0.5)/n*(to-from)
			if e := d.elevation(s.d0 + (x-s.box.X)/s.mmX); !math.IsNaN(e) {
				dots = append(dots, page.At(x, s.at(0, e).Y-1.1))
			}
		}
	}
	if len(dots) > 0 {
		drawFilledDots(p, dots)
	}
	return len(dots) > 0
}

// hide hatches the ground of one hidden stretch, down to 3 mm under it, and
// marks it with a bar: hatching survives a grey printer, a tint may not.
func (d *ProfileDrawing) hide(p *page.Page, s plotScale, style Style, h [2]float64) bool {
	const depth, gap = 3.2, 0.9
	solid := style.Hidden
	solid.A = 255
	var ticks, bars [][]page.Point
	var bar []page.Point
	from, to := s.at(h[0], 0).X, s.at(h[1], 0).X
	n := max(1, int(math.Ceil((to-from)/gap)))
	for i := range n + 1 {
		q, ok := d.under(s, from+float64(i)/float64(n)*(to-from))
		if !ok {
			bars, bar = append(bars, bar), nil
			continue
		}
		bar = append(bar, q.Add(0, 0.45))
		ticks = append(ticks, []page.Point{q.Add(0, 0.3), d.within(s, q.Add(0, 0.3), page.At(-depth/3, depth))})
	}
	bars = append(bars, bar)
	p.Add(page.Stroke{Lines: ticks, Width: 0.22, Color: solid}, page.Stroke{Lines: bars, Width: 0.9, Color: solid})
	return len(ticks) > 0
}

// doubt marks the ground of one stretch of which it is not known whether it is
// seen: upright ticks, and no bar.
func (d *ProfileDrawing) doubt(p *page.Page, s plotScale, style Style, h [2]float64) bool {
	const depth, gap = 2, 1.3
	var ticks [][]page.Point
	from, to := s.at(h[0], 0).X, s.at(h[1], 0).X
	n := max(1, int((to-from)/gap))
	for i := range n {
		if q, ok := d.under(s, from+(float64(i)+0.5)/float64(n)*(to-from)); ok {
			ticks = append(ticks, []page.Point{q.Add(0, 0.3), q.Add(0, depth)})
		}
	}
	p.Add(page.Stroke{Lines: ticks, Width: 0.25, Color: style.Void})
	return len(ticks) > 0
}

// under is the ground at a place along the page; not in a void.
func (d *ProfileDrawing) under(s plotScale, x float64) (page.Point, bool) {
	e := d.elevation(s.d0 + (x-s.box.X)/s.mmX)
	return page.At(x, s.at(0, e).Y), !math.IsNaN(e)
}

// within is how far a step from a point in the ground stays in it.
func (d *ProfileDrawing) within(s plotScale, from, step page.Point) page.Point {
	const parts = 8
	last := from
	for i := 1; i <= parts; i++ {
		next := from.Add(step.X*float64(i)/parts, step.Y*float64(i)/parts)
		if surface, ok := d.under(s, next.X); !ok || surface.Y > next.Y {
			break
		}
		last = next
	}
	return last
}

// elevation is the ground's at a distance; NaN in a void and beyond the ends.
func (d *ProfileDrawing) elevation(at float64) float64 {
	n := len(d.Distances)
	const rounding = 1e-9 // of the length: the ends are on the profile
	slack := rounding * (d.Distances[n-1] - d.Distances[0])
	if at < d.Distances[0]-slack || at > d.Distances[n-1]+slack {
		return math.NaN()
	}
	i := min(max(sort.SearchFloat64s(d.Distances, at), 1), n-1)
	a, b := d.Distances[i-1], d.Distances[i]
	if a == b {
		return d.Elevations[i]
	}
	t := math.Min(math.Max((at-a)/(b-a), 0), 1)
	return d.Elevations[i-1]*(1-t) + d.Elevations[i]*t
}

// levels ticks each crossing of a contour level, if they can be told apart.
func (d *ProfileDrawing) levels(p *page.Page, s plotScale, style Style) bool {
	var ticks [][]page.Point
	for i := 1; i < len(d.Distances); i++ {
		a, b := d.Elevations[i-1], d.Elevations[i]
		for _, l := range d.Levels {
			// "Level or above" against "below", as contour lines have it.
			if math.IsNaN(a) || math.IsNaN(b) || (a >= l) == (b >= l) {
				continue
			}
			q := s.at(d.Distances[i-1]+(l-a)/(b-a)*(d.Distances[i]-d.Distances[i-1]), l)
			ticks = append(ticks, []page.Point{q.Add(0, -0.8), q.Add(0, 0.8)})
		}
	}
	if float64(len(ticks)) > s.box.Width {
		return false
	}
	p.Clip(s.box)
	p.Add(page.Stroke{Lines: ticks, Width: 0.2, Color: style.Index.Color})
	p.Unclip()
	return len(ticks) > 0
}

// Dashes of a line of sight beyond what stops it, and past ground that is not
// known.
var (
	stoppedDash = []float64{1.6, 1}
	doubtDash   = []float64{0.35, 0.75}
)

// sight draws the line of sight: solid as far as it is known to be clear,
// dotted past a void, dashed from where it enters ground, and not at all over
// a void.
func (d *ProfileDrawing) sight(p *page.Page, s plotScale, style Style, drew *profileSigns) {
	v := d.Sight
	if v == nil || !(v.ToDistance > v.FromDistance) {
		return
	}
	gaps := d.gaps()
	line := func(from, to float64, dash []float64) bool {
		var lines [][]page.Point
		piece := func(from, to float64) {
			if !(to > from) {
				return
			}
			var out []page.Point
			for i := range 41 {
				x := from + float64(i)/40*(to-from)
				out = append(out, s.at(x, v.At(x)))
			}
			lines = append(lines, out)
		}
		for _, g := range gaps {
			if g[1] > from && g[0] < to {
				piece(from, math.Min(g[0], to))
				from = math.Max(from, g[1])
			}
		}
		piece(from, to)
		p.Clip(s.box)
		p.Add(page.Stroke{Lines: lines, Width: style.Sight.Width + 0.05, Color: style.Sight.Color, Dash: dash})
		p.Unclip()
		return len(lines) > 0
	}
	end, void := v.ToDistance, math.Inf(1)
	for _, g := range gaps {
		if g[1] > v.FromDistance {
			void = math.Max(g[0], v.FromDistance)
			break
		}
	}
	stopped := v.StoppedAt > v.FromDistance && v.StoppedAt < end
	if stopped {
		end = v.StoppedAt
	}
	drew.sight = line(v.FromDistance, math.Min(end, void), nil)
	if void < end {
		drew.past = line(void, end, doubtDash)
	}
	if stopped {
		line(end, v.ToDistance, stoppedDash)
	}
}

// blocker marks the ground that hides the target, at its crest, with how far off
// and how high it is.
func (d *ProfileDrawing) blocker(p *page.Page, s plotScale, u units.System, style Style) bool {
	v := d.Sight
	if v == nil || !(v.BlockedAt > v.FromDistance && v.BlockedAt < v.ToDistance) || math.IsNaN(v.BlockerElevation) {
		return false
	}
	at := s.at(v.BlockedAt, v.BlockerElevation)
	p.Add(crossAt(at, style))
	// Over the crest, where there is room; else beside it, over the ground that
	// falls away; else under it.
	const size, away = 6.0, 1.9 // points; mm
	t := page.Text{String: u.Distance(v.BlockedAt-v.FromDistance) + ", " + u.Height(v.BlockerElevation), Size: size, Color: style.Ink, Halo: 0.6, HaloColor: page.White}
	for _, place := range []struct {
		at    page.Point
		align page.Align
	}{
		{at.Add(0, -away), page.AlignCenter}, {at.Add(away, -0.6), page.AlignLeft}, {at.Add(-away, -0.6), page.AlignRight},
		{at.Add(0, away+size*page.PointMM), page.AlignCenter},
	} {
		t.At, t.Align = place.at, place.align
		if box := t.Box(); box.X >= s.box.X && box.Right() <= s.box.Right() && box.Y >= s.box.Y && box.Bottom() <= s.box.Bottom() {
			p.Add(t)
			break
		}
	}
	return true
}

// crossAt is the sign of ground that hides a target.
func crossAt(c page.Point, style Style) page.Stroke {
	return page.Stroke{Lines: [][]page.Point{{c.Add(-1, -1), c.Add(1, 1)}, {c.Add(-1, 1), c.Add(1, -1)}}, Width: 0.4, Color: style.Sight.Color}
}

// labels names the ends and the marks above the frame, leaving out a mark
// whose label would lie on another.
func (d *ProfileDrawing) labels(p *page.Page, s plotScale, r page.Rect, style Style, size float64) {
	y := s.box.Y - 1.6
	var taken []page.Rect
	put := func(t page.Text, x float64) {
		box := t.Box()
		for _, o := range taken {
			if box.Overlaps(o) {
				return
			}
		}
		taken = append(taken, page.Box(box.X-1, box.Y, box.Width+2, box.Height))
		p.Add(t)
		p.Line(0.15, style.Ink, page.At(x, s.box.Y), page.At(x, s.box.Y-1))
	}
	put(page.Text{At: page.At(s.box.X, y), String: d.From, Face: page.Bold, Size: size, Color: style.Ink}, s.box.X)
	put(page.Text{At: page.At(s.box.Right(), y), String: d.To, Face: page.Bold, Size: size, Align: page.AlignRight, Color: style.Ink}, s.box.Right())
	for _, m := range d.Marks {
		x := s.at(m.Distance, 0).X
		if x < s.box.X || x > s.box.Right() {
			continue
		}
		t := page.Text{At: page.At(x, y), String: m.Label, Size: size, Align: page.AlignCenter, Color: style.Ink}
		if box := t.Box(); box.X < s.box.X || box.Right() > r.Right() {
			continue
		}
		put(t, x)
	}
}
