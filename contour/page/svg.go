package page

import (
	"bytes"
	"encoding/base64"
	"encoding/xml"
	"fmt"
	"image/png"
	"io"
	"strings"

	"golang.org/x/text/unicode/norm"
)

// WriteSVG writes one page (0 is the first) as SVG 1.1, one user unit to the
// millimetre. Text stays text; a reader without Liberation Sans falls back to
// the nearest sans serif, fitted to the same length. A text that the typeface
// cannot show is a *GlyphError and nothing is written. Panics if there is no
// such page.
func (d *Document) WriteSVG(w io.Writer, page int) error {
	p := d.Pages[page]
	if err := p.check(); err != nil {
		return err
	}
	o := &svgPage{}
	fmt.Fprintf(&o.b, `<svg xmlns="http://www.w3.org/2000/svg" width="%smm" height="%smm" viewBox="0 0 %s %s"`+
		` font-family="'Liberation Sans',Arial,Helvetica,sans-serif" style="font-kerning:none" stroke-linejoin="round">`+"\n",
		Number(p.Width), Number(p.Height), Number(p.Width), Number(p.Height))
	fmt.Fprintf(&o.b, "<title>%s</title>\n", escape(d.Title))
	if d.Subject != "" {
		fmt.Fprintf(&o.b, "<desc>%s</desc>\n", escape(d.Subject))
	}
	fmt.Fprintf(&o.b, `<rect width="%s" height="%s" fill="#fff"/>`+"\n", Number(p.Width), Number(p.Height))
	if err := o.items(p.Items); err != nil {
		return err
	}
	o.b.WriteString("</svg>\n")
	_, err := w.Write(o.b.Bytes())
	return err
}

type svgPage struct{ b bytes.Buffer }

// Number writes a figure with at most three decimals, and no more than it has.
func Number(v float64) string { return string(appendNumber(nil, v)) }

func escape(s string) string {
	var b strings.Builder
	// Writing to a Builder does not fail, and bad UTF-8 becomes U+FFFD.
	_ = xml.EscapeText(&b, []byte(norm.NFC.String(s)))
	return b.String()
}

func (o *svgPage) items(items []Item) error {
	for _, it := range items {
		switch v := it.(type) {
		case *Group:
			fmt.Fprintf(&o.b, "<g id=\"%s\">\n", escape(v.ID))
			if v.Title != "" {
				fmt.Fprintf(&o.b, "<title>%s</title>\n", escape(v.Title))
			}
			if err := o.items(v.Items); err != nil {
				return err
			}
			o.b.WriteString("</g>\n")
		case Stroke:
			o.Stroke(v)
		case Fill:
			o.b.WriteString(`<path fill-rule="evenodd"`)
			o.paint("fill", v.Color)
			o.path(v.Rings, true)
			o.b.WriteString("/>\n")
		case Text:
			o.text(v)
		case Picture:
			var buf bytes.Buffer
			if err := png.Encode(&buf, v.Pixels); err != nil {
				return fmt.Errorf("page: picture: %w", err)
			}
			fmt.Fprintf(&o.b, `<image x="%s" y="%s" width="%s" height="%s" preserveAspectRatio="none" href="data:image/png;base64,%s"/>`+"\n",
				Number(v.Rect.X), Number(v.Rect.Y), Number(v.Rect.Width), Number(v.Rect.Height),
				base64.StdEncoding.EncodeToString(buf.Bytes()))
		}
	}
	return nil
}

func (o *svgPage) paint(what string, c Color) {
	fmt.Fprintf(&o.b, ` %s="#%02x%02x%02x"`, what, c.R, c.G, c.B)
	if c.A != 255 {
		fmt.Fprintf(&o.b, ` %s-opacity="%s"`, what, Number(float64(c.A)/255))
	}
}

func (o *svgPage) Stroke(s Stroke) {
	o.b.WriteString(`<path fill="none"`)
	o.paint("stroke", s.Color)
	fmt.Fprintf(&o.b, ` stroke-width="%s"`, Number(s.Width))
	if s.Cap == CapRound {
		o.b.WriteString(` stroke-linecap="round"`)
	}
	if len(s.Dash) > 0 {
		o.b.WriteString(` stroke-dasharray="`)
		for i, d := range s.Dash {
			if i > 0 {
				o.b.WriteByte(' ')
			}
			o.b.WriteString(Number(d))
		}
		o.b.WriteByte('"')
	}
	o.path(s.Lines, s.Closed)
	o.b.WriteString("/>\n")
}

func (o *svgPage) path(lines [][]Point, closed bool) {
	o.b.WriteString(` d="`)
	b := o.b.AvailableBuffer()
	for _, line := range lines {
		for i, p := range line {
			switch i {
			case 0:
				b = append(b, 'M')
			case 1:
				b = append(b, 'L')
			default:
				b = append(b, ' ')
			}
			b = appendNumber(b, p.X)
			b = append(b, ' ')
			b = appendNumber(b, p.Y)
		}
		if closed {
			b = append(b, 'Z')
		}
	}
	o.b.Write(b)
	o.b.WriteByte('"')
}

func (o *svgPage) text(t Text) {
	at := t.origin()
	fmt.Fprintf(&o.b, `<text x="%s" y="%s" font-size="%s"`, Number(at.X), Number(at.Y), Number(t.Size*PointMM))
	switch t.Face {
	case Bold:
		o.b.WriteString(` font-weight="bold"`)
	case Italic:
		o.b.WriteString(` font-style="italic"`)
	}
	o.paint("fill", t.Color)
	if t.Halo > 0 {
		o.b.WriteString(` paint-order="stroke"`)
		o.paint("stroke", t.HaloColor)
		fmt.Fprintf(&o.b, ` stroke-width="%s"`, Number(2*t.Halo))
	}
	if t.Turn != 0 {
		fmt.Fprintf(&o.b, ` transform="rotate(%s %s %s)"`, Number(t.Turn), Number(at.X), Number(at.Y))
	}
	fmt.Fprintf(&o.b, ` textLength="%s" lengthAdjust="spacingAndGlyphs">%s</text>`+"\n",
		Number(TextWidth(t.String, t.Face, t.Size)), escape(t.String))
}
