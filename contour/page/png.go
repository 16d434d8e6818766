package page

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/png"
	"io"
	"math"

	"git.sr.ht/~sbinet/gg"
	"golang.org/x/image/draw"
	"golang.org/x/image/font/sfnt"
)

// Limits of a PNG: of its resolution, dots per inch, under the least of which
// nothing can be read, and of its pixels, which take four bytes each to draw. An
// A3 page at the most dots per inch has 279 million.
const (
	MinDPI    = 30
	MaxDPI    = 1200
	maxPixels = 300e6
)

// CheckPNG refuses a page, millimetres, that no PNG is drawn of at dots per
// inch.
func CheckPNG(width, height, dpi float64) error {
	if !(dpi >= MinDPI && dpi <= MaxDPI) {
		return fmt.Errorf("page: PNG: %g dots per inch is outside %d to %d", dpi, MinDPI, MaxDPI)
	}
	if pixels := width * height * (dpi / 25.4) * (dpi / 25.4); !(pixels <= maxPixels) {
		return fmt.Errorf("page: PNG: %.0f x %.0f mm at %g dots per inch is %.0f million pixels, over %.0f million; take at most %.0f dots per inch, or a .pdf",
			width, height, dpi, pixels/1e6, maxPixels/1e6, math.Floor(dpi*math.Sqrt(maxPixels/pixels)))
	}
	return nil
}

// WritePNG draws one page (0 is the first) at dots per inch, which the file
// also states, so that programs print it to scale. A text that the typeface
// cannot show is a *GlyphError and nothing is written. Panics if there is no
// such page.
func (d *Document) WritePNG(w io.Writer, page int, dpi float64) error {
	p := d.Pages[page]
	if err := p.check(); err != nil {
		return err
	}
	if err := CheckPNG(p.Width, p.Height, dpi); err != nil {
		return err
	}
	o := &pngPage{k: dpi / 25.4}
	o.dc = gg.NewContext(int(math.Round(p.Width*o.k)), int(math.Round(p.Height*o.k)))
	o.dc.SetRGB(1, 1, 1)
	o.dc.Clear()
	o.dc.SetLineJoinRound()
	o.items(p.Items)
	encoder := png.Encoder{CompressionLevel: png.BestSpeed}
	var buf bytes.Buffer
	if err := encoder.Encode(&buf, opaque{o.dc.Image().(*image.RGBA)}); err != nil {
		return fmt.Errorf("page: PNG: %w", err)
	}
	_, err := w.Write(withResolution(buf.Bytes(), dpi))
	return err
}

// opaque tells the encoder that a page has no see-through pixel without its
// looking at each, and so that three channels are enough.
type opaque struct{ *image.RGBA }

func (opaque) Opaque() bool { return true }

// withResolution puts a pHYs chunk (PNG specification, 11.3.4.3), which the
// standard encoder does not write, after the header chunk.
func withResolution(file []byte, dpi float64) []byte {
	const header = 8 + 25 // signature, then IHDR's length, name, 13 bytes and checksum
	var chunk [21]byte
	binary.BigEndian.PutUint32(chunk[0:], 9)
	copy(chunk[4:], "pHYs")
	perMetre := uint32(math.Round(dpi / 0.0254))
	binary.BigEndian.PutUint32(chunk[8:], perMetre)
	binary.BigEndian.PutUint32(chunk[12:], perMetre)
	chunk[16] = 1 // per metre
	binary.BigEndian.PutUint32(chunk[17:], crc32.ChecksumIEEE(chunk[4:17]))
	out := make([]byte, 0, len(file)+len(chunk))
	out = append(append(out, file[:header]...), chunk[:]...)
	return append(out, file[header:]...)
}

type pngPage struct {
	dc *gg.Context
	k  float64 // pixels per millimetre
}

func (o *pngPage) items(items []Item) {
	for _, it := range items {
		switch v := it.(type) {
		case *Group:
			o.items(v.Items)
		case Stroke:
			o.Stroke(v)
		case Fill:
			o.rings(v.Rings, true)
			o.dc.SetColor(v.Color)
			o.dc.SetFillRuleEvenOdd()
			o.dc.Fill()
		case Text:
			o.text(v)
		case Picture:
			r := image.Rect(int(math.Round(v.Rect.X*o.k)), int(math.Round(v.Rect.Y*o.k)),
				int(math.Round(v.Rect.Right()*o.k)), int(math.Round(v.Rect.Bottom()*o.k)))
			draw.ApproxBiLinear.Scale(o.dc.Image().(*image.RGBA), r, v.Pixels, v.Pixels.Bounds(), draw.Over, nil)
		}
	}
}

func (o *pngPage) rings(lines [][]Point, closed bool) {
	o.dc.ClearPath()
	for _, line := range lines {
		o.dc.NewSubPath()
		for _, p := range line {
			o.dc.LineTo(p.X*o.k, p.Y*o.k)
		}
		if closed {
			o.dc.ClosePath()
		}
	}
}

func (o *pngPage) Stroke(s Stroke) {
	o.rings(s.Lines, s.Closed)
	o.dc.SetColor(s.Color)
	o.dc.SetLineWidth(s.Width * o.k)
	o.dc.SetLineCapButt()
	if s.Cap == CapRound {
		o.dc.SetLineCapRound()
	}
	dash := make([]float64, len(s.Dash))
	for i, d := range s.Dash {
		dash[i] = d * o.k
	}
	o.dc.SetDash(dash...)
	o.dc.Stroke()
}

func (o *pngPage) text(t Text) {
	o.dc.ClearPath()
	for _, s := range t.outline() {
		a := s.args
		for i := range a {
			a[i].X *= o.k
			a[i].Y *= o.k
		}
		switch s.op {
		case sfnt.SegmentOpMoveTo:
			o.dc.ClosePath()
			o.dc.MoveTo(a[0].X, a[0].Y)
		case sfnt.SegmentOpLineTo:
			o.dc.LineTo(a[0].X, a[0].Y)
		case sfnt.SegmentOpQuadTo:
			o.dc.QuadraticTo(a[0].X, a[0].Y, a[1].X, a[1].Y)
		case sfnt.SegmentOpCubeTo:
			o.dc.CubicTo(a[0].X, a[0].Y, a[1].X, a[1].Y, a[2].X, a[2].Y)
		}
	}
	o.dc.ClosePath()
	if t.Halo > 0 {
		o.dc.SetColor(t.HaloColor)
		o.dc.SetLineWidth(2 * t.Halo * o.k)
		o.dc.SetLineCapRound()
		o.dc.SetDash()
		o.dc.StrokePreserve()
	}
	o.dc.SetColor(t.Color)
	o.dc.SetFillRuleWinding()
	o.dc.Fill()
}
