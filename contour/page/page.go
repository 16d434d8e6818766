package page

import (
	"image"
	"image/color"
	"math"
	"time"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"
)

// Point is a position on a page: millimetres right of and below its top left
// corner.
type Point struct{ X, Y float64 }

// At is the point at x and y.
func At(x, y float64) Point { return Point{x, y} }

// Add is p moved by dx to the right and dy down, millimetres.
func (p Point) Add(dx, dy float64) Point { return Point{p.X + dx, p.Y + dy} }

// Plus and Minus add and take away, as vectors.
func (p Point) Plus(q Point) Point  { return Point{p.X + q.X, p.Y + q.Y} }
func (p Point) Minus(q Point) Point { return Point{p.X - q.X, p.Y - q.Y} }

// Times is p made f times as long.
func (p Point) Times(f float64) Point { return Point{p.X * f, p.Y * f} }

// Dot is the scalar product.
func (p Point) Dot(q Point) float64 { return p.X*q.X + p.Y*q.Y }

// Length is how far p lies from the corner, or how long it is as a vector.
func (p Point) Length() float64 { return math.Hypot(p.X, p.Y) }

// Away is how far q lies from p.
func (p Point) Away(q Point) float64 { return math.Hypot(q.X-p.X, q.Y-p.Y) }

// Step is p moved by d millimetres in direction u.
func (p Point) Step(u Point, d float64) Point { return Point{p.X + u.X*d, p.Y + u.Y*d} }

// Left is the direction p turned a quarter anticlockwise as the page is seen.
func (p Point) Left() Point { return Point{p.Y, -p.X} }

// Rect is an upright rectangle on a page, millimetres.
type Rect struct{ X, Y, Width, Height float64 }

// Box is the rectangle with a corner at x and y.
func Box(x, y, width, height float64) Rect { return Rect{x, y, width, height} }

// Right and Bottom are the far edges.
func (r Rect) Right() float64  { return r.X + r.Width }
func (r Rect) Bottom() float64 { return r.Y + r.Height }

// Centre is the middle of the rectangle.
func (r Rect) Centre() Point { return Point{r.X + r.Width/2, r.Y + r.Height/2} }

// Inset is the rectangle with d millimetres taken off each side.
func (r Rect) Inset(d float64) Rect {
	return Rect{r.X + d, r.Y + d, r.Width - 2*d, r.Height - 2*d}
}

// Contains reports whether p lies in the rectangle, edges included.
func (r Rect) Contains(p Point) bool {
	return p.X >= r.X && p.X <= r.Right() && p.Y >= r.Y && p.Y <= r.Bottom()
}

// Holds reports whether all of o lies in the rectangle.
func (r Rect) Holds(o Rect) bool {
	return o.X >= r.X && o.Right() <= r.Right() && o.Y >= r.Y && o.Bottom() <= r.Bottom()
}

// Overlaps reports whether the rectangles share more than an edge.
func (r Rect) Overlaps(o Rect) bool {
	return r.X < o.Right() && o.X < r.Right() && r.Y < o.Bottom() && o.Y < r.Bottom()
}

// Corners are the rectangle as a ring from its top left, clockwise.
func (r Rect) Corners() []Point {
	return []Point{{r.X, r.Y}, {r.Right(), r.Y}, {r.Right(), r.Bottom()}, {r.X, r.Bottom()}}
}

// Bound is the rectangle as the geometry library has it.
func (r Rect) Bound() orb.Bound {
	return orb.Bound{Min: orb.Point{r.X, r.Y}, Max: orb.Point{r.Right(), r.Bottom()}}
}

// Color is a colour with its opacity.
type Color = color.NRGBA

// Cap is the shape of a line's ends.
type Cap int

// Line ends: cut square at the end point, or rounded half a width beyond it.
const (
	CapButt Cap = iota
	CapRound
)

// Stroke is lines drawn with one pen. Corners are rounded.
type Stroke struct {
	Lines  [][]Point
	Closed bool    // join each line's end to its start
	Width  float64 // millimetres
	Color  Color
	Dash   []float64 // lengths on and off, millimetres; nil for a solid line
	Cap    Cap
}

// Fill is an area filled by the even-odd rule, so a ring inside another is a
// hole.
type Fill struct {
	Rings [][]Point
	Color Color
}

// Align says which part of a text stands at its point.
type Align int

// Alignments along the line of writing.
const (
	AlignLeft Align = iota
	AlignCenter
	AlignRight
)

// Rise says which level of a text stands at its point.
type Rise int

// Levels across the line of writing: the baseline, half the height of a
// capital letter, or the top of a capital letter.
const (
	RiseBaseline Rise = iota
	RiseMiddle
	RiseTop
)

// Text is one line of writing.
type Text struct {
	At     Point
	String string
	Face   Face
	Size   float64 // points, of 1/72 inch
	Align  Align
	Rise   Rise
	Turn   float64 // degrees clockwise about At
	Color  Color
	// Halo is the width of a rim of HaloColor round the letters, millimetres;
	// 0 for none.
	Halo      float64
	HaloColor Color
}

// Picture is a block of pixels stretched over a rectangle.
type Picture struct {
	Rect   Rect
	Pixels image.Image
}

// Group is items drawn together under a name. ID must be unique on a page and
// made of letters, digits and hyphens; SVG output carries both.
type Group struct {
	ID, Title string
	Items     []Item
}

// Item is anything a page holds: Stroke, Fill, Text, Picture or *Group.
type Item interface{ item() }

func (Stroke) item()  {}
func (Fill) item()    {}
func (Text) item()    {}
func (Picture) item() {}
func (*Group) item()  {}

// Page is a list of things drawn, first to last. Not safe for concurrent use.
type Page struct {
	Width, Height float64 // millimetres
	Items         []Item

	into *Group // the open group
	clip *Rect
}

// Document is pages and what is said of them. Writing it twice gives the same
// bytes: nothing in the output depends on the clock or the machine.
type Document struct {
	Title   string
	Subject string
	// Created is the date the file carries; the zero time stands for
	// 1 January 1980, so that output stays reproducible.
	Created time.Time
	Pages   []*Page
	// Warnings are things whoever asked for the document must be told.
	Warnings []string
}

// Open starts a group; what is added until Close belongs to it. Groups do not
// nest: an open group is closed first.
func (p *Page) Open(id, title string) {
	p.into = &Group{ID: id, Title: title}
	p.Items = append(p.Items, p.into)
}

// Opened is what the open group holds so far.
func (p *Page) Opened() []Item { return p.into.Items }

// Close ends the open group.
func (p *Page) Close() { p.into = nil }

// Clip cuts the lines, areas and pictures added from now on to r, and drops
// texts that do not lie wholly in it. Cutting is done here, on the geometry,
// so every output format shows the same.
func (p *Page) Clip(r Rect) { p.clip = &r }

// Unclip ends the cutting.
func (p *Page) Unclip() { p.clip = nil }

// Add puts items on the page, cut to the clip if one is set. Lines of one
// point, areas of fewer than three, and empty texts are left out; no line is
// thinner than LeastWidth.
func (p *Page) Add(items ...Item) {
	for _, it := range items {
		switch v := it.(type) {
		case Stroke:
			if v.Lines = p.cutLines(v); len(v.Lines) == 0 {
				continue
			}
			if p.clip != nil {
				v.Closed = false // cutLines closed them
			}
			v.Width = max(v.Width, LeastWidth)
			it = v
		case Fill:
			if v.Rings = p.cutRings(v.Rings); len(v.Rings) == 0 {
				continue
			}
			it = v
		case Text:
			if v.String == "" || p.clip != nil && !p.clip.Holds(v.Box()) {
				continue
			}
		case Picture:
			if p.clip != nil && !p.clip.Holds(v.Rect) {
				continue
			}
		}
		if p.into != nil {
			p.into.Items = append(p.into.Items, it)
		} else {
			p.Items = append(p.Items, it)
		}
	}
}

func (p *Page) cutLines(s Stroke) [][]Point {
	var out [][]Point
	for _, line := range s.Lines {
		if len(line) < 2 {
			continue
		}
		if p.clip == nil {
			out = append(out, line)
			continue
		}
		ls := make(orb.LineString, 0, len(line)+1)
		for _, q := range line {
			ls = append(ls, orb.Point{q.X, q.Y})
		}
		if s.Closed {
			ls = append(ls, ls[0])
		}
		for _, piece := range clip.LineString(p.clip.Bound(), ls) {
			if len(piece) < 2 {
				continue
			}
			pts := make([]Point, len(piece))
			for i, q := range piece {
				pts[i] = Point{q[0], q[1]}
			}
			out = append(out, pts)
		}
	}
	return out
}

func (p *Page) cutRings(rings [][]Point) [][]Point {
	var out [][]Point
	for _, ring := range rings {
		if len(ring) < 3 {
			continue
		}
		if p.clip == nil {
			out = append(out, ring)
			continue
		}
		r := make(orb.Ring, 0, len(ring)+1)
		for _, q := range ring {
			r = append(r, orb.Point{q.X, q.Y})
		}
		if r[0] != r[len(r)-1] {
			r = append(r, r[0])
		}
		r = clip.Ring(p.clip.Bound(), r)
		if len(r) < 4 {
			continue
		}
		pts := make([]Point, len(r)-1)
		for i := range pts {
			pts[i] = Point{r[i][0], r[i][1]}
		}
		out = append(out, pts)
	}
	return out
}

// Line draws one line.
func (p *Page) Line(width float64, c Color, pts ...Point) {
	p.Add(Stroke{Lines: [][]Point{pts}, Width: width, Color: c})
}

// Frame draws a rectangle's outline.
func (p *Page) Frame(width float64, c Color, r Rect) {
	p.Add(Stroke{Lines: [][]Point{r.Corners()}, Closed: true, Width: width, Color: c})
}

// Box is the rectangle round the text as set, from its baseline's descent to
// the top of its capitals, turned with it.
func (t Text) Box() Rect {
	o := t.origin()
	w, up := TextWidth(t.String, t.Face, t.Size), CapHeight(t.Size)
	down := 0.22 / 0.72 * up // descent of Liberation Sans against its capitals
	sin, cos := math.Sincos(t.Turn * math.Pi / 180)
	lo, hi := Point{math.Inf(1), math.Inf(1)}, Point{math.Inf(-1), math.Inf(-1)}
	for _, q := range []Point{{0, down}, {w, down}, {w, -up}, {0, -up}} {
		x, y := o.X+q.X*cos-q.Y*sin, o.Y+q.X*sin+q.Y*cos
		lo.X, lo.Y = math.Min(lo.X, x), math.Min(lo.Y, y)
		hi.X, hi.Y = math.Max(hi.X, x), math.Max(hi.Y, y)
	}
	return Rect{lo.X, lo.Y, hi.X - lo.X, hi.Y - lo.Y}
}

// origin is where the text's baseline begins, so that every writer sets it
// alike.
func (t Text) origin() Point {
	var along, across float64
	switch t.Align {
	case AlignCenter:
		along = -TextWidth(t.String, t.Face, t.Size) / 2
	case AlignRight:
		along = -TextWidth(t.String, t.Face, t.Size)
	}
	switch t.Rise {
	case RiseMiddle:
		across = CapHeight(t.Size) / 2
	case RiseTop:
		across = CapHeight(t.Size)
	}
	sin, cos := math.Sincos(t.Turn * math.Pi / 180)
	return Point{t.At.X + along*cos - across*sin, t.At.Y + along*sin + across*cos}
}

// Circle is a ring of points of radius r round c, close enough to round for print.
func Circle(c Point, r float64) []Point {
	n := max(16, int(24*math.Sqrt(r)))
	ring := make([]Point, n)
	for i := range ring {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		ring[i] = Point{c.X + r*cos, c.Y + r*sin}
	}
	return ring
}
