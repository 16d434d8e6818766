package page

import (
	"fmt"
	"sort"
	"strings"
	"sync"
	"unicode"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansitalic"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/norm"
)

// Face is a style of the one typeface sheets are set in, Liberation Sans
// (SIL Open Font License 1.1).
type Face int

// The faces.
const (
	Regular Face = iota
	Bold
	Italic
	faceCount
)

// PointMM is a typographic point (1/72 inch) in millimetres.
const PointMM = 25.4 / 72

// CapHeight is how tall capitals stand at a size in points, millimetres: those
// of Liberation Sans 1409/2048 of the size (its OS/2 table).
func CapHeight(size float64) float64 { return size * PointMM * 1409 / 2048 }

type faceData struct {
	data  []byte
	font  *sfnt.Font
	scale float64 // font units per em

	mu     sync.Mutex
	buf    sfnt.Buffer
	widths map[rune]float64 // em; negative when the face lacks the character
}

var faces = sync.OnceValue(func() *[faceCount]*faceData {
	var out [faceCount]*faceData
	for i, ttf := range [faceCount][]byte{
		Regular: liberationsansregular.TTF, Bold: liberationsansbold.TTF, Italic: liberationsansitalic.TTF,
	} {
		f, err := sfnt.Parse(ttf)
		if err != nil {
			panic("page: built-in font: " + err.Error()) // a broken build
		}
		out[i] = &faceData{data: ttf, font: f, scale: float64(f.UnitsPerEm()), widths: map[rune]float64{}}
	}
	return &out
})

func (f *faceData) advance(r rune) (em float64, ok bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if w, known := f.widths[r]; known {
		return w, w >= 0
	}
	w := -1.0
	if g, err := f.font.GlyphIndex(&f.buf, r); err == nil && g != 0 && settable(r) {
		// At a size of one em in font units the advance is whole and exact.
		if a, err := f.font.GlyphAdvance(&f.buf, g, fixed.I(int(f.scale)), font.HintingNone); err == nil {
			w = float64(a) / 64 / f.scale
		}
	}
	f.widths[r] = w
	return w, w >= 0
}

// settable leaves out what needs more than placing one glyph after another:
// combining marks, writing from right to left, controls.
func settable(r rune) bool {
	return !unicode.In(r, unicode.Mn, unicode.Me, unicode.Mc, unicode.Hebrew, unicode.Arabic) &&
		!unicode.IsControl(r) && !unicode.Is(unicode.Cf, r)
}

// TextWidth is the width in millimetres of a text set at size points: the sum
// of its letters' advances, without kerning, as every writer sets it.
// Characters the face lacks count nothing.
func TextWidth(text string, face Face, size float64) float64 {
	f := faces()[face]
	var em float64
	for _, r := range norm.NFC.String(text) {
		if w, ok := f.advance(r); ok {
			em += w
		}
	}
	return em * size * PointMM
}

// GlyphError says that a text has characters the typeface cannot show.
type GlyphError struct {
	Text    string
	Missing []rune
}

func (e *GlyphError) Error() string {
	quoted := make([]string, len(e.Missing))
	for i, r := range e.Missing {
		quoted[i] = fmt.Sprintf("%q (U+%04X)", r, r)
	}
	return fmt.Sprintf("page: the typeface cannot show %s in %q", strings.Join(quoted, ", "), e.Text)
}

// CheckText returns a *GlyphError when the face cannot show all of text:
// a character it lacks, or writing (right to left, combining marks) that these
// pages do not set.
func CheckText(text string, face Face) error {
	f := faces()[face]
	var missing []rune
	for _, r := range norm.NFC.String(text) {
		if _, ok := f.advance(r); !ok && !strings.ContainsRune(string(missing), r) {
			missing = append(missing, r)
		}
	}
	if missing != nil {
		return &GlyphError{Text: text, Missing: missing}
	}
	return nil
}

// check walks a document's texts, so that a writer refuses rather than garbles.
func (p *Page) check() error {
	var walk func(items []Item) error
	walk = func(items []Item) error {
		for _, it := range items {
			switch v := it.(type) {
			case *Group:
				if err := walk(v.Items); err != nil {
					return err
				}
			case Text:
				if err := CheckText(v.String, v.Face); err != nil {
					return err
				}
			}
		}
		return nil
	}
	return walk(p.Items)
}

// Wrap breaks text into lines no wider than width millimetres, at spaces. A
// word wider than that stands alone.
func Wrap(text string, face Face, size, width float64) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(text) {
		next := word
		if line != "" {
			next = line + " " + word
		}
		if line != "" && TextWidth(next, face, size) > width {
			lines = append(lines, line)
			next = word
		}
		line = next
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// outlineSegment is a piece of a letter's outline, placed on the page.
type outlineSegment struct {
	op   sfnt.SegmentOp
	args [3]Point
}

// outline is the text's letters as curves. The PNG writer fills them, so that
// its letters stand where the others set theirs; the PDF writer draws halos
// with them, so that the text itself is in the file once.
func (t Text) outline() []outlineSegment {
	f := faces()[t.Face]
	o, turn := t.origin(), newTurn(t.Turn)
	mm := t.Size * PointMM / f.scale / 64 // a sixty-fourth of a font unit
	var out []outlineSegment
	var pen float64
	for _, r := range norm.NFC.String(t.String) {
		em, ok := f.advance(r)
		if !ok {
			continue
		}
		f.mu.Lock()
		var segments sfnt.Segments
		g, err := f.font.GlyphIndex(&f.buf, r)
		if err == nil {
			segments, err = f.font.LoadGlyph(&f.buf, g, fixed.I(int(f.scale)), nil)
		}
		if err == nil {
			for _, s := range segments {
				seg := outlineSegment{op: s.Op}
				for i, a := range s.Args {
					x, y := turn.apply(pen+float64(a.X)*mm, float64(a.Y)*mm)
					seg.args[i] = Point{o.X + x, o.Y + y}
				}
				out = append(out, seg)
			}
		}
		f.mu.Unlock()
		pen += em * t.Size * PointMM
	}
	return out
}

// Fit is the text, or as much of it as width millimetres hold and a mark that
// there is more.
func Fit(s string, face Face, size, width float64) string {
	if TextWidth(s, face, size) <= width {
		return s
	}
	r := []rune(s)
	n := max(1, sort.Search(len(r), func(n int) bool { return TextWidth(string(r[:n+1])+"…", face, size) > width }))
	return string(r[:min(n, len(r))]) + "…"
}
