package page

import (
	"bytes"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"io"
	"strconv"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/text/unicode/norm"
)

// fontStyle is fpdf's letter for a face.
var fontStyle = [faceCount]string{Regular: "", Bold: "B", Italic: "I"}

const fontFamily = "LiberationSans"

// WritePDF writes every page as PDF: sizes exact, the letters used embedded
// with their meaning so that text can be searched and copied, the same bytes
// each time. A text that the typeface cannot show is a *GlyphError and nothing
// is written.
func (d *Document) WritePDF(w io.Writer) error {
	if len(d.Pages) == 0 {
		return fmt.Errorf("page: no page to write")
	}
	f := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: d.Pages[0].Width, Ht: d.Pages[0].Height}})
	created := d.Created
	if created.IsZero() {
		created = time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	f.SetCreationDate(created.UTC())
	f.SetModificationDate(created.UTC())
	f.SetCatalogSort(true)
	f.SetCompression(true)
	f.SetProducer("crowline", true)
	f.SetCreator("crowline", true)
	f.SetTitle(d.Title, true)
	f.SetSubject(d.Subject, true)
	f.SetAutoPageBreak(false, 0)
	f.SetMargins(0, 0, 0)
	var used [faceCount]bool
	for _, p := range d.Pages {
		if err := p.check(); err != nil {
			return err
		}
		markFaces(p.Items, &used)
	}
	for face, is := range used {
		if is {
			f.AddUTF8FontFromBytes(fontFamily, fontStyle[face], faces()[face].data)
		}
	}
	out := &pdfPage{pdf: f}
	for _, p := range d.Pages {
		// fpdf swaps the sides of a landscape page unless told the orientation.
		orientation, size := "P", fpdf.SizeType{Wd: p.Width, Ht: p.Height}
		if p.Width > p.Height {
			orientation, size = "L", fpdf.SizeType{Wd: p.Height, Ht: p.Width}
		}
		f.AddPageFormat(orientation, size)
		f.RawWriteStr("1 J 1 j")
		out.height, out.alpha = p.Height, 1 // what a page starts with
		if err := out.items(p.Items); err != nil {
			return err
		}
	}
	var buf bytes.Buffer
	if err := f.Output(&buf); err != nil {
		return fmt.Errorf("page: PDF: %w", err)
	}
	_, err := w.Write(buf.Bytes())
	return err
}

func markFaces(items []Item, used *[faceCount]bool) {
	for _, it := range items {
		switch v := it.(type) {
		case *Group:
			markFaces(v.Items, used)
		case Text:
			used[v.Face] = true
		}
	}
}

type pdfPage struct {
	pdf      *fpdf.Fpdf
	height   float64
	pictures int
	widths   map[int]bool // of the pictures so far, pixels
	alpha    float64
	b        []byte
}

// at writes a position in PDF's own units: points, up from the bottom. Three
// decimals are 0.35 micrometres.
func (o *pdfPage) at(p Point, op string) {
	o.number(p.X / PointMM)
	o.number((o.height - p.Y) / PointMM)
	o.b = append(append(o.b, op...), '\n')
}

func (o *pdfPage) number(v float64) {
	o.b = append(appendNumber(o.b, v), ' ')
}

// appendNumber writes v with at most three decimals and no trailing zeros.
func appendNumber(b []byte, v float64) []byte {
	start := len(b)
	b = strconv.AppendFloat(b, v, 'f', 3, 64)
	end := len(b)
	for b[end-1] == '0' {
		end--
	}
	if b[end-1] == '.' {
		end--
	}
	if b = b[:end]; string(b[start:]) == "-0" {
		b = append(b[:start], '0')
	}
	return b
}

func (o *pdfPage) color(c Color, op string) {
	for _, v := range [3]uint8{c.R, c.G, c.B} {
		o.number(float64(v) / 255)
	}
	o.b = append(append(o.b, op...), '\n')
}

func (o *pdfPage) opacity(c Color) {
	if a := float64(c.A) / 255; a != o.alpha {
		o.pdf.SetAlpha(a, "Normal")
		o.alpha = a
	}
}

func (o *pdfPage) flush() {
	o.pdf.RawWriteStr(string(o.b))
	o.b = o.b[:0]
}

func (o *pdfPage) items(items []Item) error {
	for _, it := range items {
		switch v := it.(type) {
		case *Group:
			if err := o.items(v.Items); err != nil {
				return err
			}
		case Stroke:
			o.Stroke(v)
		case Fill:
			o.fill(v)
		case Text:
			o.text(v)
		case Picture:
			if err := o.picture(v); err != nil {
				return err
			}
		}
	}
	return nil
}

func (o *pdfPage) Stroke(s Stroke) {
	o.opacity(s.Color)
	o.b = append(o.b, "q "...)
	o.color(s.Color, "RG")
	o.number(s.Width / PointMM)
	o.b = append(o.b, "w "...)
	o.number(float64(s.Cap))
	o.b = append(o.b, "J 1 j"...)
	if len(s.Dash) > 0 {
		o.b = append(o.b, " ["...)
		for _, d := range s.Dash {
			o.number(d / PointMM)
		}
		o.b = append(o.b, "] 0 d"...)
	}
	o.b = append(o.b, '\n')
	for _, line := range s.Lines {
		o.at(line[0], "m")
		for _, p := range line[1:] {
			o.at(p, "l")
		}
		if s.Closed {
			o.b = append(o.b, "h\n"...)
		}
	}
	o.b = append(o.b, "S Q"...)
	o.flush()
}

func (o *pdfPage) fill(v Fill) {
	o.opacity(v.Color)
	o.b = append(o.b, "q "...)
	o.color(v.Color, "rg")
	for _, ring := range v.Rings {
		o.at(ring[0], "m")
		for _, p := range ring[1:] {
			o.at(p, "l")
		}
		o.b = append(o.b, "h\n"...)
	}
	o.b = append(o.b, "f* Q"...)
	o.flush()
}

func (o *pdfPage) text(t Text) {
	o.opacity(t.Color)
	if t.Halo > 0 {
		o.halo(t)
	}
	f, at := o.pdf, t.origin()
	f.SetFont(fontFamily, fontStyle[t.Face], t.Size)
	f.SetTextColor(int(t.Color.R), int(t.Color.G), int(t.Color.B))
	turned := t.Turn != 0
	if turned {
		f.TransformBegin()
		f.TransformRotate(-t.Turn, at.X, at.Y)
	}
	f.Text(at.X, at.Y, norm.NFC.String(t.String))
	if turned {
		f.TransformEnd()
	}
}

func (o *pdfPage) halo(t Text) {
	o.b = append(o.b, "q "...)
	o.color(t.HaloColor, "RG")
	o.number(2 * t.Halo / PointMM)
	o.b = append(o.b, "w 1 j 1 J\n"...)
	var last Point
	for _, s := range t.outline() {
		switch s.op {
		case sfnt.SegmentOpMoveTo:
			o.at(s.args[0], "m")
			last = s.args[0]
		case sfnt.SegmentOpLineTo:
			o.at(s.args[0], "l")
			last = s.args[0]
		case sfnt.SegmentOpQuadTo:
			// A quadratic curve is the cubic whose inner points lie two
			// thirds of the way to its one.
			c, e := s.args[0], s.args[1]
			o.cubic(Point{last.X + (c.X-last.X)*2/3, last.Y + (c.Y-last.Y)*2/3},
				Point{e.X + (c.X-e.X)*2/3, e.Y + (c.Y-e.Y)*2/3}, e)
			last = e
		case sfnt.SegmentOpCubeTo:
			o.cubic(s.args[0], s.args[1], s.args[2])
			last = s.args[2]
		}
	}
	o.b = append(o.b, "S Q"...)
	o.flush()
}

func (o *pdfPage) cubic(a, b, c Point) {
	for _, p := range [2]Point{a, b} {
		o.number(p.X / PointMM)
		o.number((o.height - p.Y) / PointMM)
	}
	o.at(c, "c")
}

// distinct is a picture's pixels, a column or more wider where another picture
// of the document is as wide: fpdf writes pictures by their width and those of
// one width in no order, and a document must be the same bytes each time.
// Stretched over the same rectangle no pixel moves by more than its own width.
func (o *pdfPage) distinct(pixels image.Image) image.Image {
	b := pixels.Bounds()
	width := b.Dx()
	for o.widths[width] {
		width++
	}
	if o.widths == nil {
		o.widths = map[int]bool{}
	}
	o.widths[width] = true
	if width == b.Dx() {
		return pixels
	}
	var wider draw.Image = image.NewNRGBA(image.Rect(0, 0, width, b.Dy()))
	if _, grey := pixels.(*image.Gray); grey {
		wider = image.NewGray(wider.Bounds())
	}
	for x := range width {
		from := b.Min.X + x*b.Dx()/width
		draw.Draw(wider, image.Rect(x, 0, x+1, b.Dy()), pixels, image.Pt(from, b.Min.Y), draw.Src)
	}
	return wider
}

func (o *pdfPage) picture(v Picture) error {
	var buf bytes.Buffer
	if err := png.Encode(&buf, o.distinct(v.Pixels)); err != nil {
		return fmt.Errorf("page: picture: %w", err)
	}
	o.opacity(Color{A: 255})
	o.pictures++
	name := "picture" + strconv.Itoa(o.pictures)
	options := fpdf.ImageOptions{ImageType: "PNG"}
	o.pdf.RegisterImageOptionsReader(name, options, &buf)
	o.pdf.ImageOptions(name, v.Rect.X, v.Rect.Y, v.Rect.Width, v.Rect.Height, false, options, 0, "")
	return nil
}
