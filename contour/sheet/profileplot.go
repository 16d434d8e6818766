package sheet

import (
	"fmt"
	"math"
	"strconv"
)

// ProfileDrawing is what a leg's profile shows: distance along the leg against
// elevation, both in metres.
//
// Elevations are plotted above a level base line, as they stand in the data.
// Over the Earth's curve a straight line of sight is then not straight: it
// sags below the line between its ends by d(D-d)/2R' metres at distance d of
// D, where R' is EffectiveRadius. Drawn so, sight line and ground meet on
// paper exactly where they meet on the Earth.
type ProfileDrawing struct {
	Distances  []float64 // from the start, rising
	Elevations []float64 // NaN in a void
	// Sight is the line of sight; nil for none.
	Sight *SightDrawing
	// Hidden are stretches of ground that cannot be seen from the start, each
	// from one distance to another.
	Hidden [][2]float64
	// Filled are stretches of ground that was void and has been filled in.
	Filled [][2]float64
	// Levels are contour levels to mark where the ground crosses them,
	// metres; the drawing leaves them out when they would crowd.
	Levels []float64
	Marks  []ProfileMark
	// From and To name the two ends.
	From, To string
}

// SightDrawing is a line of sight over a profile.
type SightDrawing struct {
	FromDistance, ToDistance   float64 // metres along the profile
	FromElevation, ToElevation float64 // of eye and target, metres
	// EffectiveRadius is the Earth's radius along the leg divided by one
	// less the refraction coefficient, metres; 0 draws a straight line.
	EffectiveRadius float64
	// BlockedAt is where ground first stops the line, metres; NaN or 0 when
	// nothing does.
	BlockedAt float64
}

// at is the sight line's elevation at a distance.
func (s *SightDrawing) at(d float64) float64 {
	length := s.ToDistance - s.FromDistance
	t := (d - s.FromDistance) / length
	e := s.FromElevation + t*(s.ToElevation-s.FromElevation)
	if s.EffectiveRadius > 0 {
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
	for _, m := range d.Marks {
		if err := CheckText(m.Label, Regular); err != nil {
			return err
		}
	}
	return nil
}

// exaggerations a profile may be drawn with: figures that can be worked with.
var exaggerations = []float64{0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 0.75, 1, 1.25, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 75, 100, 150, 200, 300, 500, 1000}

// plotScale is where a profile's figures stand on paper.
type plotScale struct {
	box          Rect
	d0, e0       float64 // metres at the box's left and foot
	mmX, mmY     float64 // millimetres to the metre
	exaggeration float64
}

func (s plotScale) at(d, e float64) Point {
	return Point{s.box.X + (d-s.d0)*s.mmX, s.box.Bottom() - (e-s.e0)*s.mmY}
}

// Draw draws the profile into r and returns its vertical exaggeration, which
// it also prints. Axes are in units. The drawing needs about 60 x 25 mm; the
// figures of the axes stand within r.
func (d *ProfileDrawing) Draw(p *Page, r Rect, units Units, style Style) (exaggeration float64, err error) {
	if err := d.validate(); err != nil {
		return 0, err
	}
	if r.Width < 60 || r.Height < 25 {
		return 0, fmt.Errorf("%w: a profile needs 60 x 25 mm, not %.0f x %.0f", ErrPlan, r.Width, r.Height)
	}
	style = style.filled()
	const foot, head, side, size = 7.5, 7, 11, 6.5
	s := plotScale{box: Rect{r.X + side, r.Y + head, r.Width - side - 3, r.Height - head - foot}}
	lo, hi := d.limits()
	s.d0 = d.Distances[0]
	length := d.Distances[len(d.Distances)-1] - s.d0
	s.mmX = s.box.Width / length
	s.exaggeration = exaggerations[0]
	for _, v := range exaggerations {
		// A little air above the highest and below the lowest ground.
		if (hi-lo)*s.mmX*v <= s.box.Height*0.92 {
			s.exaggeration = v
		}
	}
	s.mmY = s.mmX * s.exaggeration
	s.e0 = (lo+hi)/2 - s.box.Height/s.mmY/2
	if s.e0 < 0 && lo >= 0 { // no ground below the sea where there is none
		s.e0 = math.Min(lo, math.Max(s.e0, -2/s.mmY))
	}

	d.axes(p, s, units, size)
	d.ground(p, s, style)
	d.levels(p, s, style)
	d.sight(p, s, style)
	d.labels(p, s, r, style, size)
	p.Add(Text{At: Point{r.Right() - 3, r.Y + 2.2}, Align: AlignRight, Size: size, Color: ink,
		String: "Vertical scale " + strconv.FormatFloat(s.exaggeration, 'f', -1, 64) + " × horizontal"})
	p.Frame(0.2, style.Ink, s.box)
	return s.exaggeration, nil
}

func (d *ProfileDrawing) limits() (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	take := func(e float64) {
		if !math.IsNaN(e) {
			lo, hi = math.Min(lo, e), math.Max(hi, e)
		}
	}
	for _, e := range d.Elevations {
		take(e)
	}
	if d.Sight != nil {
		for i := range 33 {
			t := float64(i) / 32
			take(d.Sight.at(d.Sight.FromDistance + t*(d.Sight.ToDistance-d.Sight.FromDistance)))
		}
	}
	if hi-lo < 1 {
		lo, hi = lo-0.5, hi+0.5
	}
	return lo, hi
}

func (d *ProfileDrawing) axes(p *Page, s plotScale, units Units, size float64) {
	name, unit := units.up()
	step := roundStep(4.5 / s.mmY / unit) // gridlines at least 4.5 mm apart
	top := s.e0 + s.box.Height/s.mmY
	for k := math.Ceil(s.e0 / unit / step); k*step*unit <= top; k++ {
		q := s.at(s.d0, k*step*unit)
		p.Line(0.08, rgb(0xB0B0B0), q, Point{s.box.Right(), q.Y})
		p.Add(Text{At: q.Add(-1, 0), String: plain(k*step, step), Size: size, Align: AlignRight, Rise: RiseMiddle, Color: ink})
	}
	p.Add(Text{At: Point{s.box.X - 1, s.box.Y - 1.6}, String: name, Size: size, Align: AlignRight, Color: ink})

	name, unit = units.far()
	step = roundStep(14 / s.mmX / unit)
	last := (s.d0 + s.box.Width/s.mmX) / unit
	for k := math.Ceil(s.d0/unit/step - 1e-9); k*step <= last*(1+1e-9); k++ {
		q := Point{s.at(k*step*unit, 0).X, s.box.Bottom()}
		p.Line(0.2, ink, q, q.Add(0, 1))
		text := plain(k*step, step)
		if k == math.Ceil(s.d0/unit/step-1e-9) {
			text += " " + name
		}
		t := Text{At: q.Add(0, 1.6), String: text, Size: size, Align: AlignCenter, Rise: RiseTop, Color: ink}
		if t.Box().Right() <= s.box.Right()+3 {
			p.Add(t)
		}
	}
}

// ground draws the section, broken at voids, its hidden stretches hatched.
func (d *ProfileDrawing) ground(p *Page, s plotScale, style Style) {
	p.Clip(s.box)
	defer p.Unclip()
	base := s.box.Bottom() + 1
	var lines, rings [][]Point
	var line []Point
	flush := func() {
		if len(line) >= 2 {
			lines = append(lines, line)
			ring := append([]Point{}, line...)
			rings = append(rings, append(ring, Point{line[len(line)-1].X, base}, Point{line[0].X, base}))
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
		p.Add(Fill{Rings: [][]Point{ring}, Color: rgb(0xE4ECE6)})
	}
	for _, h := range d.Hidden {
		d.hide(p, s, style, h)
	}
	p.Add(Stroke{Lines: lines, Width: 0.35, Color: style.Ink})
	d.fill(p, s)
}

// fill marks ground that was filled in with a row of dots over its line: hatching is
// under it.
func (d *ProfileDrawing) fill(p *Page, s plotScale) {
	var dots []Point
	for _, h := range d.Filled {
		from, to := s.at(h[0], 0).X, s.at(h[1], 0).X
		n := max(1, math.Floor((to-from)/filledGap)) // one at least, however short
		for i := range int(n) {
			x := from + (float64(i)+0.5)/n*(to-from)
			if e := d.elevation(s.d0 + (x-s.box.X)/s.mmX); !math.IsNaN(e) {
				dots = append(dots, Point{x, s.at(0, e).Y - 1.1})
			}
		}
	}
	if len(dots) > 0 {
		drawFilledDots(p, dots)
	}
}

// hide hatches the ground of one hidden stretch, down to 4 mm under it, and
// marks it with a bar: hatching survives a grey printer, a tint may not.
func (d *ProfileDrawing) hide(p *Page, s plotScale, style Style, h [2]float64) {
	const depth, gap = 3.2, 0.9
	solid := style.Hidden
	solid.A = 255
	var ticks [][]Point
	var bar []Point
	for x := s.at(h[0], 0).X; x <= s.at(h[1], 0).X; x += gap {
		e := d.elevation(s.d0 + (x-s.box.X)/s.mmX)
		if math.IsNaN(e) {
			continue
		}
		q := Point{x, s.at(0, e).Y}
		bar = append(bar, q.Add(0, 0.45))
		ticks = append(ticks, []Point{q.Add(0, 0.3), q.Add(-depth/3, depth)})
	}
	p.Add(Stroke{Lines: ticks, Width: 0.22, Color: solid}, Stroke{Lines: [][]Point{bar}, Width: 0.9, Color: solid})
}

func (d *ProfileDrawing) elevation(at float64) float64 {
	for i := 1; i < len(d.Distances); i++ {
		if a, b := d.Distances[i-1], d.Distances[i]; at >= a && at <= b {
			if a == b {
				return d.Elevations[i]
			}
			t := (at - a) / (b - a)
			return d.Elevations[i-1]*(1-t) + d.Elevations[i]*t
		}
	}
	return math.NaN()
}

// levels ticks each crossing of a contour level, if they can be told apart.
func (d *ProfileDrawing) levels(p *Page, s plotScale, style Style) {
	if len(d.Levels) == 0 {
		return
	}
	var ticks [][]Point
	for i := 1; i < len(d.Distances); i++ {
		a, b := d.Elevations[i-1], d.Elevations[i]
		for _, l := range d.Levels {
			// "Level or above" against "below", as contour lines have it.
			if math.IsNaN(a) || math.IsNaN(b) || (a >= l) == (b >= l) {
				continue
			}
			q := s.at(d.Distances[i-1]+(l-a)/(b-a)*(d.Distances[i]-d.Distances[i-1]), l)
			ticks = append(ticks, []Point{q.Add(0, -0.8), q.Add(0, 0.8)})
		}
	}
	if float64(len(ticks)) > s.box.Width {
		return
	}
	p.Clip(s.box)
	p.Add(Stroke{Lines: ticks, Width: 0.2, Color: style.Index.Color})
	p.Unclip()
}

func (d *ProfileDrawing) sight(p *Page, s plotScale, style Style) {
	if d.Sight == nil || !(d.Sight.ToDistance > d.Sight.FromDistance) {
		return
	}
	p.Clip(s.box)
	defer p.Unclip()
	end := d.Sight.ToDistance
	blocked := d.Sight.BlockedAt > d.Sight.FromDistance && d.Sight.BlockedAt < end
	if blocked {
		end = d.Sight.BlockedAt
	}
	curve := func(from, to float64) []Point {
		var out []Point
		for i := range 41 {
			x := from + float64(i)/40*(to-from)
			out = append(out, s.at(x, d.Sight.at(x)))
		}
		return out
	}
	seen := curve(d.Sight.FromDistance, end)
	p.Add(Stroke{Lines: [][]Point{seen}, Width: 0.3, Color: style.Sight.Color})
	if blocked {
		p.Add(Stroke{Lines: [][]Point{curve(end, d.Sight.ToDistance)}, Width: 0.25, Color: style.Sight.Color, Dash: []float64{1.2, 1}})
		c := seen[len(seen)-1]
		p.Add(Stroke{Lines: [][]Point{{c.Add(-1, -1), c.Add(1, 1)}, {c.Add(-1, 1), c.Add(1, -1)}}, Width: 0.4, Color: style.Sight.Color})
	}
}

// labels names the ends and the marks above the frame, leaving out a mark
// whose label would lie on another.
func (d *ProfileDrawing) labels(p *Page, s plotScale, r Rect, style Style, size float64) {
	y := s.box.Y - 1.6
	var taken []Rect
	put := func(t Text, x float64) {
		box := t.Box()
		for _, o := range taken {
			if box.overlaps(o) {
				return
			}
		}
		taken = append(taken, Rect{box.X - 1, box.Y, box.Width + 2, box.Height})
		p.Add(t)
		p.Line(0.15, style.Ink, Point{x, s.box.Y}, Point{x, s.box.Y - 1})
	}
	put(Text{At: Point{s.box.X, y}, String: d.From, Face: Bold, Size: size, Color: style.Ink}, s.box.X)
	put(Text{At: Point{s.box.Right(), y}, String: d.To, Face: Bold, Size: size, Align: AlignRight, Color: style.Ink}, s.box.Right())
	for _, m := range d.Marks {
		x := s.at(m.Distance, 0).X
		if x < s.box.X || x > s.box.Right() {
			continue
		}
		t := Text{At: Point{x, y}, String: m.Label, Size: size, Align: AlignCenter, Color: style.Ink}
		if box := t.Box(); box.X < s.box.X || box.Right() > r.Right() {
			continue
		}
		put(t, x)
	}
}

// Key names the signs the drawing uses, for a caption.
func (d *ProfileDrawing) Key() string {
	key := "Ground"
	if d.Sight != nil {
		key += "; line of sight (blue"
		if d.Sight.BlockedAt > 0 {
			key += ", crossed where ground stops it"
		}
		key += ")"
	}
	if len(d.Hidden) > 0 {
		key += "; hatched: ground hidden from the start"
	}
	if len(d.Filled) > 0 {
		key += "; dotted: ground filled in from the rim of a void"
	}
	if len(d.Levels) > 0 {
		key += "; ticks: contours crossed"
	}
	return key + "."
}
