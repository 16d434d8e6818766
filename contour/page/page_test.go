package page

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var black = Color{A: 255}

// sample is a page with one of everything on it.
func sample() *Document {
	p := &Page{Width: 120, Height: 80}
	p.Open("lines", "Lines & areas")
	p.Line(0.3, black, Point{10, 20}, Point{50, 20})
	p.Add(Stroke{Lines: [][]Point{{{10, 25}, {50, 25}}}, Width: 0.3, Color: black, Dash: []float64{2, 1}, Cap: CapRound})
	p.Add(Fill{Rings: [][]Point{Circle(Point{80, 20}, 10), Circle(Point{80, 20}, 5)}, Color: Color{R: 0, G: 114, B: 178, A: 128}})
	p.Close()
	grey := image.NewGray(image.Rect(0, 0, 200, 200))
	for i := range grey.Pix {
		grey.Pix[i] = uint8(i % 200)
	}
	p.Add(Picture{Rect: Rect{10, 30, 20, 20}, Pixels: grey})
	p.Add(Text{At: Point{40, 40}, String: "Café Łódź Ωμέγα 36°30′", Size: 12, Color: black})
	p.Add(Text{At: Point{60, 60}, String: "Turned <&>", Face: Bold, Size: 10, Turn: 30, Color: black, Halo: 0.5, HaloColor: RGB(0xFFFF00)})
	p.Add(Text{At: Point{110, 75}, String: "right", Face: Italic, Size: 9, Align: AlignRight, Color: black})
	return &Document{Title: "A sample", Pages: []*Page{p}}
}

func tool(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Skipf("%s is not installed (poppler-utils has it)", name)
	}
	return path
}

func savePDF(t *testing.T, d *Document) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "page.pdf")
	_, err := d.Save(path, 0)
	require.NoError(t, err)
	return path
}

func TestPDFTextIsTextAndFontsAreEmbedded(t *testing.T) {
	t.Parallel()
	text, fonts := tool(t, "pdftotext"), tool(t, "pdffonts")
	path := savePDF(t, sample())
	out, err := exec.Command(text, path, "-").CombinedOutput()
	require.NoError(t, err, "%s", out)
	// pdftotext breaks turned text at will, so white space does not count.
	strip := func(s string) string { return strings.Join(strings.Fields(s), "") }
	for _, want := range []string{"Café Łódź Ωμέγα 36°30′", "Turned <&>", "right"} {
		assert.Equal(t, 1, strings.Count(strip(string(out)), strip(want)), "%q in\n%s", want, out)
	}
	out, err = exec.Command(fonts, path).CombinedOutput()
	require.NoError(t, err, "%s", out)
	rows := regexp.MustCompile(`(?m)^.*TrueType.*$`).FindAllString(string(out), -1)
	require.Len(t, rows, 3, "%s", out)
	for _, row := range rows {
		// pdffonts' columns: emb sub uni.
		assert.Regexp(t, `\s+yes\s+(yes|no)\s+yes\s`, row)
	}
}

func TestOutputIsTheSameEachTime(t *testing.T) {
	t.Parallel()
	write := func() []byte {
		var b bytes.Buffer
		d := sample()
		require.NoError(t, d.WritePDF(&b))
		require.NoError(t, d.WriteSVG(&b, 0))
		require.NoError(t, d.WritePNG(&b, 0, 100))
		return b.Bytes()
	}
	first := write()
	for range 5 {
		require.True(t, bytes.Equal(first, write()))
	}
}

// The three writers must put the same ink in the same place. PDF is drawn by
// poppler at the PNG writer's resolution and compared pixel by pixel.
func TestWritersAgree(t *testing.T) {
	t.Parallel()
	cairo := tool(t, "pdftocairo")
	const dpi = 200
	d := sample()
	path := savePDF(t, d)
	base := strings.TrimSuffix(path, ".pdf")
	out, err := exec.Command(cairo, "-png", "-singlefile", "-r", "200", path, base).CombinedOutput()
	require.NoError(t, err, "%s", out)
	f, err := os.Open(base + ".png")
	require.NoError(t, err)
	defer f.Close()
	theirs, err := png.Decode(f)
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, d.WritePNG(&b, 0, dpi))
	ours, err := png.Decode(&b)
	require.NoError(t, err)
	dark := func(img image.Image, x, y int) bool {
		return color.GrayModel.Convert(img.At(x, y)).(color.Gray).Y < 128
	}
	// A dark pixel in one must have a dark pixel within two pixels (0.25 mm)
	// in the other: room for different smoothing of edges, not for a shift.
	near := func(img image.Image, x, y int) bool {
		for dy := -2; dy <= 2; dy++ {
			for dx := -2; dx <= 2; dx++ {
				if image.Pt(x+dx, y+dy).In(img.Bounds()) && dark(img, x+dx, y+dy) {
					return true
				}
			}
		}
		return false
	}
	var ink, astray int
	for y := range ours.Bounds().Dy() {
		for x := range ours.Bounds().Dx() {
			if image.Pt(x, y).In(theirs.Bounds()) && dark(theirs, x, y) {
				ink++
				if !near(ours, x, y) {
					astray++
				}
			}
			if dark(ours, x, y) {
				ink++
				if !near(theirs, x, y) {
					astray++
				}
			}
		}
	}
	require.Greater(t, ink, 1000)
	const allowed = 0.002 // share of inked pixels: hair lines thinner than a pixel
	assert.Less(t, float64(astray)/float64(ink), allowed)
}

func TestUnshowableTextIsRefusedByName(t *testing.T) {
	t.Parallel()
	for _, text := range []string{"富士山", "הר", "a\u0301\u0323\u0330", "line\nbreak"} {
		d := &Document{Pages: []*Page{{Width: 50, Height: 50}}}
		d.Pages[0].Add(Text{At: Point{10, 10}, String: text, Size: 10, Color: black})
		for name, err := range map[string]error{
			"pdf": d.WritePDF(&bytes.Buffer{}), "svg": d.WriteSVG(&bytes.Buffer{}, 0), "png": d.WritePNG(&bytes.Buffer{}, 0, 100),
		} {
			var glyphs *GlyphError
			require.ErrorAs(t, err, &glyphs, "%s %q", name, text)
			assert.Equal(t, text, glyphs.Text)
			assert.NotEmpty(t, glyphs.Missing)
		}
	}
	assert.NoError(t, CheckText("Cafe\u0301", Regular), "an accent that composes with its letter is shown")
}

// Liberation Sans has Arial's advances: digits 1139 of 2048, H 1479 (its hmtx
// table, read with fontTools).
func TestTextWidth(t *testing.T) {
	t.Parallel()
	const tolerance = 1e-9 // mm
	assert.InDelta(t, 1139.0/2048*72*PointMM, TextWidth("0", Regular, 72), tolerance)
	assert.InDelta(t, 1479.0/2048*72*PointMM, TextWidth("H", Regular, 72), tolerance)
	assert.InDelta(t, TextWidth("AV", Regular, 10), TextWidth("A", Regular, 10)+TextWidth("V", Regular, 10), tolerance)
}

func TestClipCutsEverything(t *testing.T) {
	t.Parallel()
	p := &Page{Width: 100, Height: 100}
	box := Rect{20, 20, 40, 40}
	p.Clip(box)
	p.Line(1, black, Point{0, 40}, Point{100, 40})
	p.Add(Stroke{Lines: [][]Point{Circle(Point{20, 20}, 15)}, Closed: true, Width: 1, Color: black})
	p.Add(Fill{Rings: [][]Point{Circle(Point{60, 60}, 15)}, Color: black})
	p.Add(Text{At: Point{19, 40}, String: "sticks out", Size: 8, Color: black})
	p.Add(Text{At: Point{25, 50}, String: "within", Size: 8, Color: black})
	require.Len(t, p.Items, 4)
	for _, it := range p.Items {
		switch v := it.(type) {
		case Stroke:
			for _, line := range v.Lines {
				for _, q := range line {
					assert.True(t, box.Inset(-1e-9).Contains(q), "%v", q)
				}
			}
		case Fill:
			for _, line := range v.Rings {
				for _, q := range line {
					assert.True(t, box.Inset(-1e-9).Contains(q), "%v", q)
				}
			}
		case Text:
			assert.Equal(t, "within", v.String)
		}
	}
}

func TestSaveNamesPagesAndLeavesNothingHalfDone(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	d := sample()
	d.Pages = append(d.Pages, d.Pages[0])
	written, err := d.Save(filepath.Join(dir, "a.svg"), 0)
	require.NoError(t, err)
	assert.Equal(t, []string{filepath.Join(dir, "a.svg"), filepath.Join(dir, "a-2.svg")}, written)
	written, err = d.Save(filepath.Join(dir, "a.pdf"), 0)
	require.NoError(t, err)
	assert.Len(t, written, 1)

	_, err = d.Save(filepath.Join(dir, "a.gif"), 0)
	assert.ErrorContains(t, err, ".pdf, .svg, .png")
	_, err = d.Save(filepath.Join(dir, "missing", "a.pdf"), 0)
	assert.True(t, errors.Is(err, os.ErrNotExist), "%v", err)
	d.Pages[1].Add(Text{String: "山", Size: 8, Color: black})
	_, err = d.Save(filepath.Join(dir, "b.svg"), 0)
	assert.Error(t, err)
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, left, 3, "only the three good files: %v", left)
}

// TestNothingAfterAClearAreaIsClear: an area that lets all through left what
// came after it on the page as clear as itself.
func TestNothingAfterAClearAreaIsClear(t *testing.T) {
	t.Parallel()
	program := tool(t, "pdftoppm")
	p := &Page{Width: 150, Height: 150}
	p.Add(Fill{Rings: [][]Point{Box(10, 10, 20, 20).Corners()}, Color: Color{}})
	p.Add(Fill{Rings: [][]Point{Box(40, 10, 20, 20).Corners()}, Color: black})
	out, err := exec.Command(program, "-r", "25.4", "-png", savePDF(t, &Document{Pages: []*Page{p}})).Output()
	require.NoError(t, err)
	img, err := png.Decode(bytes.NewReader(out))
	require.NoError(t, err)
	red, _, _, _ := img.At(50, 20).RGBA()
	assert.Zero(t, red)
}
