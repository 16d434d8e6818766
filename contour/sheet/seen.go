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

// SeenMap is what a map of seen ground shows: shaded relief with the ground
// that observers see tinted.
//
// The map keeps the grid's own rows and columns, north-most row at the top,
// scaled so that a metre along a row and one along a column measure alike at
// the middle of the map; true north there is shown by the arrow. Away from the
// middle a longitude-latitude grid's columns close up towards the pole, so
// distances along rows are off by a share of about (distance north of the
// middle / 6 370 km) x tan(latitude): 0.2 % at 15 km in latitude 45.
type SeenMap struct {
	Title string
	// Ground is the elevation data, its filled posts marked with dots, and
	// Window the block of its posts that the answer covers: what is drawn.
	Ground dem.Posts
	Window dem.Window
	// Verdicts of the window's posts, row by row. Of several observers:
	// Visible where any sees the post, else Unknown where it is for any, else
	// Hidden where it was asked of any.
	Verdicts []visibility.Verdict
	// SeenBy is how many observers see each post, for several; nil for one.
	SeenBy    []uint8
	Observers []SeenFrom
	// Radius and Sector bounded the question; zero and nil if nothing did.
	Radius float64 // metres
	Sector *visibility.Sector
	// Farthest is marked as the farthest ground seen; nil for none.
	Farthest *geodesy.LatLon
	// Summary stands under the title, a line each; Notes in small print:
	// assumptions, data, cautions.
	Summary, Notes []string
	Units          Units
}

// SeenFrom is an observer on a map of seen ground. Name may be "".
type SeenFrom struct {
	Name  string
	Place geodesy.LatLon
	// Elevation of the ground there, metres; NaN if not known.
	Elevation float64
}

// Tints of seen ground, from the nine-class YlGnBu sequence of Harrower and
// Brewer, "ColorBrewer.org: an online tool for selecting colour schemes for
// maps", The Cartographic Journal 40:27-37 (2003): its six darkest. They fall
// evenly in lightness, so they keep their order with any colour vision and in
// grey, and the lightest is still darker than the deepest relief shadow here.
var seenTints = [...]page.Color{page.RGB(0x7FCDBB), page.RGB(0x41B6C4), page.RGB(0x1D91C0), page.RGB(0x225EA8), page.RGB(0x253494), page.RGB(0x081D58)}

// seenTintsFor picks tints for few observers, as far apart as leaves the
// relief to be read through them.
var seenTintsFor = [...][]int{1: {1}, 2: {0, 3}, 3: {0, 2, 4}, 4: {0, 1, 3, 4}, 5: {0, 1, 2, 3, 4}, 6: {0, 1, 2, 3, 4, 5}}

const (
	// seenShadow is the share of light that the deepest relief shadow takes,
	// and seenContrast how much more of it gentle slopes get than in
	// proportion; steep ones get less, and keep their shape.
	seenShadow   = 0.28
	seenContrast = 2.2
	// seenPale is the share of relief left on ground not asked about.
	seenPale = 0.35
	// seenPerMM is the picture's resolution, pixels to the millimetre: 200
	// dots per inch, at which the posts' squares stay crisp.
	seenPerMM = 8
)

// seenClass is counts of observers that share a tint.
type seenClass struct {
	lo, hi int
	tint   page.Color
}

func seenClasses(observers int) []seenClass {
	if observers < len(seenTintsFor) {
		var out []seenClass
		for i, k := range seenTintsFor[observers] {
			out = append(out, seenClass{i + 1, i + 1, seenTints[k]})
		}
		return out
	}
	var out []seenClass
	for i, tint := range seenTints {
		out = append(out, seenClass{1 + i*observers/len(seenTints), (i + 1) * observers / len(seenTints), tint})
	}
	return out
}

func (d *SeenMap) validate() error {
	n := d.Window.Columns * d.Window.Rows
	switch {
	case d.Ground == nil || d.Window.Empty():
		return fmt.Errorf("%w: a map of seen ground without ground", ErrPlan)
	case d.Window.Intersect(d.Ground.Layout().Whole()) != d.Window:
		return fmt.Errorf("%w: the window %v is not within the ground", ErrPlan, d.Window)
	case len(d.Verdicts) != n:
		return fmt.Errorf("%w: %d verdicts of %d posts", ErrPlan, len(d.Verdicts), n)
	case len(d.Observers) == 0:
		return fmt.Errorf("%w: a map of seen ground without an observer", ErrPlan)
	case len(d.Observers) > 1 && len(d.SeenBy) != n:
		return fmt.Errorf("%w: %d counts of %d posts", ErrPlan, len(d.SeenBy), n)
	case !(d.Radius >= 0) || math.IsInf(d.Radius, 0):
		return fmt.Errorf("%w: a radius of %g metres", ErrPlan, d.Radius)
	}
	return nil
}

// seenPanel is the map on a page.
type seenPanel struct {
	*SeenMap
	labels mapPanel // for its page, frame and the labels placed on it
	// columnMM and rowMM are millimetres on paper to a column and a row,
	// negative where they run against the page.
	columnMM, rowMM float64
	classes         []seenClass
	unknown, beyond bool         // whether the map has any
	filledAt        []page.Point // of filled posts
	// offData says that part of the radius lies outside the posts.
	offData bool
}

// size is the map's width and height in metres at its middle.
func (d *SeenMap) size() (width, height float64, err error) {
	w := d.Window
	f := d.Ground.Layout()
	alongRow, alongColumn, err := f.Spacing(float64(w.Column)+float64(w.Columns-1)/2, float64(w.Row)+float64(w.Rows-1)/2)
	if err != nil {
		return 0, 0, fmt.Errorf("sheet: %w", err)
	}
	return float64(w.Columns) * alongRow, float64(w.Rows) * alongColumn, nil
}

func newSeenPanel(d *SeenMap, pg *page.Page, frame page.Rect) *seenPanel {
	m := &seenPanel{SeenMap: d, labels: mapPanel{page: pg, frame: frame}, classes: seenClasses(len(d.Observers))}
	f := d.Ground.Layout()
	m.columnMM = math.Copysign(frame.Width/float64(d.Window.Columns), f.DX)
	m.rowMM = math.Copysign(frame.Height/float64(d.Window.Rows), -f.DY)
	for _, v := range d.Verdicts {
		m.unknown = m.unknown || v == visibility.Unknown
		m.beyond = m.beyond || v == visibility.OutOfRange
	}
	filledPosts(d.Ground, d.Window, func(column, row int) {
		m.filledAt = append(m.filledAt, m.onPage(float64(column), float64(row)))
	})
	return m
}

// onPage is where a column and row of the ground stand.
func (m *seenPanel) onPage(column, row float64) page.Point {
	q := m.labels.frame.Centre()
	w := m.Window
	return page.At(
		q.X+(column-float64(w.Column)-float64(w.Columns-1)/2)*m.columnMM,
		q.Y+(row-float64(w.Row)-float64(w.Rows-1)/2)*m.rowMM,
	)
}

// posts is the inverse of onPage, in columns and rows of the window.
func (m *seenPanel) posts(q page.Point) (column, row float64) {
	c := m.labels.frame.Centre()
	return (q.X-c.X)/m.columnMM + float64(m.Window.Columns-1)/2, (q.Y-c.Y)/m.rowMM + float64(m.Window.Rows-1)/2
}

// nearest is the index of the window's post nearest to a place on the page.
func (m *seenPanel) nearest(q page.Point) (index int, ok bool) {
	column, row := m.posts(q)
	c, r := int(math.Round(column)), int(math.Round(row))
	if uint(c) >= uint(m.Window.Columns) || uint(r) >= uint(m.Window.Rows) {
		return 0, false
	}
	return r*m.Window.Columns + c, true
}

func (m *seenPanel) place(p geodesy.LatLon) (page.Point, bool) {
	column, row, err := m.Ground.Layout().Locate(p)
	if err != nil { // where the projection does not reach there is no map
		return page.Point{}, false
	}
	return m.onPage(column, row), true
}

// tint of a post; hidden ground has none.
func (m *seenPanel) tint(i int) (page.Color, bool) {
	if m.Verdicts[i] != visibility.Visible {
		return page.Color{}, false
	}
	n := 1
	if m.SeenBy != nil {
		n = int(m.SeenBy[i])
	}
	for _, c := range m.classes {
		if n <= c.hi {
			return c.tint, true
		}
	}
	return m.classes[len(m.classes)-1].tint, true
}

func (m *seenPanel) draw(ctx context.Context) error {
	if err := m.ground(ctx); err != nil {
		return err
	}
	m.hatch()
	m.filled()
	m.limits()
	m.observers()
	m.labels.page.Frame(0.35, page.Ink, m.labels.frame)
	if err := m.Ground.Err(); err != nil {
		return fmt.Errorf("sheet: ground: %w", err)
	}
	return nil
}

// ground is the shaded relief, tinted where it is seen.
func (m *seenPanel) ground(ctx context.Context) error {
	shade, err := hillshade(ctx, m.Ground, m.Window)
	if err != nil {
		return err
	}
	frame, w := m.labels.frame, m.Window
	nx, ny := int(math.Ceil(frame.Width*seenPerMM)), int(math.Ceil(frame.Height*seenPerMM))
	img := image.NewNRGBA(image.Rect(0, 0, nx, ny))
	clamp := func(v float64, n int) float64 { return math.Min(math.Max(v, 0), float64(n-1)) }
	for j := range ny {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("sheet: seen ground: %w", err)
		}
		for i := range nx {
			q := page.At(frame.X+(float64(i)+0.5)/float64(nx)*frame.Width, frame.Y+(float64(j)+0.5)/float64(ny)*frame.Height)
			color, light := page.White, 1.0
			if k, ok := m.nearest(q); ok {
				column, row := m.posts(q)
				// the outer half of the outermost posts' squares has their shade
				v := shade.at(clamp(column, w.Columns)+float64(w.Column), clamp(row, w.Rows)+float64(w.Row))
				if !math.IsNaN(v) {
					light -= seenShadow * (1 - math.Pow(1-v, seenContrast))
				}
				if c, ok := m.tint(k); ok {
					color = c
				} else if m.Verdicts[k] == visibility.OutOfRange {
					light = 1 - seenPale*(1-light)
				}
			}
			img.SetNRGBA(i, j, page.Color{R: dim(color.R, light), G: dim(color.G, light), B: dim(color.B, light), A: 255})
		}
	}
	m.labels.page.Open("seen", "Ground seen, over shaded relief")
	m.labels.page.Add(page.Picture{Rect: frame, Pixels: img})
	m.labels.page.Close()
	return nil
}

func dim(v uint8, light float64) uint8 { return uint8(math.Round(float64(v) * light)) }

// hatch marks ground of which it is not known whether it is seen, and ground
// without elevation.
func (m *seenPanel) hatch() {
	missing := func(q page.Point) bool {
		i, ok := m.nearest(q)
		if !ok {
			return false
		}
		w := m.Window
		return m.Verdicts[i] == visibility.Unknown || math.IsNaN(m.Ground.Elevation(w.Column+i%w.Columns, w.Row+i/w.Columns))
	}
	const gap, step = 1.2, 0.2 // millimetres between lines and between looks along one
	a := m.labels.frame
	var lines [][]page.Point
	for k := math.Ceil((a.X - a.Bottom()) / gap); k*gap <= a.Right()-a.Y; k++ {
		var run []page.Point // the line x - y = k gap, from its first to its last hit
		flush := func() {
			if len(run) == 2 {
				lines = append(lines, run)
			}
			run = nil
		}
		for y := math.Max(a.Y, a.X-k*gap); y <= math.Min(a.Bottom(), a.Right()-k*gap); y += step {
			q := page.At(k*gap+y, y)
			switch {
			case !missing(q):
				flush()
			case run == nil:
				run = []page.Point{q}
			default:
				run = []page.Point{run[0], q}
			}
		}
		flush()
	}
	if lines == nil {
		return
	}
	m.unknown = true
	m.labels.page.Open("not-known", "Not known")
	m.labels.page.Clip(a)
	m.labels.page.Add(page.Stroke{Lines: lines, Width: 0.16, Color: page.Vermillion})
	m.labels.page.Unclip()
	m.labels.page.Close()
}

// seenLimit is the pen of circles and sector edges; white under it carries it
// over dark tints.
var seenLimit = page.Pen{Width: 0.3, Color: page.Ink, Dash: []float64{2, 1}}

// limits draws how far was looked: a circle, or the sector's arc and edges.
func (m *seenPanel) limits() {
	if m.Radius == 0 && m.Sector == nil {
		return
	}
	var lines [][]page.Point
	for _, o := range m.Observers {
		reach := m.Radius
		if reach == 0 {
			reach = m.farCorner(o.Place)
		}
		at := func(b, distance float64) (page.Point, bool) {
			p, _ := geodesy.Direct(o.Place, geodesy.NewTrueBearing(geodesy.Degrees(b)), distance)
			return m.place(p)
		}
		from, width := 0.0, 360.0
		if m.Sector != nil {
			from = float64(m.Sector.From)
			width = math.Mod(float64(m.Sector.To)-from+360, 360)
		}
		trace := func(n int, at func(t float64) (page.Point, bool)) {
			var line []page.Point
			for i := range n + 1 {
				q, ok := at(float64(i) / float64(n))
				if !ok {
					lines, line = append(lines, line), nil
					continue
				}
				line = append(line, q)
			}
			lines = append(lines, line)
		}
		if m.Radius > 0 {
			trace(360, func(t float64) (page.Point, bool) {
				q, ok := at(from+t*width, reach)
				m.offData = m.offData || !ok || !m.labels.frame.Inset(-0.01).Contains(q)
				return q, ok
			})
		}
		if m.Sector != nil {
			for _, b := range []float64{from, from + width} {
				trace(48, func(t float64) (page.Point, bool) { return at(b, t*reach) })
			}
		}
	}
	m.labels.page.Open("limits", "How far was looked")
	m.labels.page.Clip(m.labels.frame)
	m.labels.page.Add(page.Stroke{Lines: lines, Width: seenLimit.Width + 0.5, Color: page.Color{R: 255, G: 255, B: 255, A: 150}}, seenLimit.Stroke(lines...))
	m.labels.page.Unclip()
	m.labels.page.Close()
}

// farCorner is the distance from a place to the map's farthest corner, metres.
func (m *seenPanel) farCorner(p geodesy.LatLon) float64 {
	far := 0.0
	w, f := m.Window, m.Ground.Layout()
	for _, c := range []int{w.Column, w.Column + w.Columns - 1} {
		for _, r := range []int{w.Row, w.Row + w.Rows - 1} {
			if q, err := f.Place(float64(c), float64(r)); err == nil {
				far = math.Max(far, geodesy.Inverse(p, q).Distance)
			}
		}
	}
	return far * 1.01
}

// observers draws and names where was looked from, and the farthest seen.
func (m *seenPanel) observers() {
	pg := m.labels.page
	pg.Open("observers", "Observers")
	defer pg.Close()
	if m.Farthest != nil {
		if q, ok := m.place(*m.Farthest); ok {
			farthestSymbol(pg, q)
			m.labels.symbolBox(q, 1.8)
		}
	}
	at := make([]page.Point, len(m.Observers))
	for i, o := range m.Observers {
		q, ok := m.place(o.Place)
		if !ok {
			continue
		}
		at[i] = q
		observerSymbol(pg, q)
		m.labels.symbolBox(q, 1.7)
	}
	for i, o := range m.Observers {
		if text := m.observerLabel(i, o); text != "" && at[i] != (page.Point{}) {
			m.labels.label(at[i], 1.7, page.Ink, labelLine{text, page.Bold, 8})
		}
	}
}

// observerLabel numbers observers where there are several.
func (m *seenPanel) observerLabel(i int, o SeenFrom) string {
	switch {
	case len(m.Observers) == 1:
		return o.Name
	case o.Name == "":
		return fmt.Sprint(i + 1)
	}
	return fmt.Sprintf("%d %s", i+1, o.Name)
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
