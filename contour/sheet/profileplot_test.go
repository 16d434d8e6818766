package sheet

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour/page"
	"crowline/dem/units"
)

// hump is a profile over a ridge that hides its far side.
func hump() *ProfileDrawing {
	d := &ProfileDrawing{From: "Camp", To: "Saddle", Hidden: [][2]float64{{2350, 3900}},
		Marks: []ProfileMark{{Distance: 2300, Label: "crest"}}}
	for i := range 101 {
		x := float64(i) * 50
		d.Distances = append(d.Distances, x)
		d.Elevations = append(d.Elevations, 300+120*math.Exp(-math.Pow((x-2300)/600, 2))+x*0.02)
	}
	for l := 300.0; l < 500; l += 20 {
		d.Levels = append(d.Levels, l)
	}
	d.Sight = &SightDrawing{ToDistance: 5000, FromElevation: 301.6, ToElevation: 400, EffectiveRadius: 6371000 / 0.87, StoppedAt: 1700, BlockedAt: 2300, BlockerElevation: d.Elevations[46]}
	return d
}

// strokes collects the drawn lines of a page.
func strokes(items []page.Item) (out []page.Stroke) {
	for _, it := range items {
		switch v := it.(type) {
		case *page.Group:
			out = append(out, strokes(v.Items)...)
		case page.Stroke:
			out = append(out, v)
		}
	}
	return out
}

func TestProfileIsDrawnAtItsStatedExaggeration(t *testing.T) {
	t.Parallel()
	d := hump()
	p := &page.Page{Width: 200, Height: 60}
	r := page.Box(5, 5, 190, 50)
	exaggeration, err := d.Draw(p, r, units.Metric, Style{})
	require.NoError(t, err)
	var ground []page.Point
	for _, s := range strokes(p.Items) {
		if s.Width == 0.35 {
			ground = s.Lines[0]
		}
	}
	require.Len(t, ground, len(d.Distances))
	mmX := (ground[100].X - ground[0].X) / 5000
	for i, q := range ground {
		const tolerance = 1e-9 // mm; rounding alone
		assert.InDelta(t, ground[0].X+d.Distances[i]*mmX, q.X, tolerance)
		assert.InDelta(t, ground[0].Y-(d.Elevations[i]-d.Elevations[0])*mmX*exaggeration, q.Y, tolerance)
	}
	assert.Contains(t, exaggerations, exaggeration)
}

// The sag of a sight line is the drop of the level surface between its ends:
// 20 km without refraction sags 31.392 / 4 = 7.848 m in the middle (the
// curvature table of surveying texts, 0.0785 K² m).
func TestSightLineSags(t *testing.T) {
	t.Parallel()
	s := SightDrawing{ToDistance: 20000, FromElevation: 100, ToElevation: 100, EffectiveRadius: 6371000}
	assert.InDelta(t, 100-7.848, s.At(10000), 1e-3) // m; the table's last digit
	assert.Equal(t, 100.0, s.At(0))
	assert.Equal(t, 100.0, s.At(20000))

	// with a coefficient of 1 it is straight, and of 2 as far over it
	s.EffectiveRadius = math.Inf(1)
	assert.Equal(t, 100.0, s.At(10000))
	s.EffectiveRadius = -6371000
	assert.InDelta(t, 100+7.848, s.At(10000), 1e-3) // m; likewise
}

func TestProfileRefusesNonsense(t *testing.T) {
	t.Parallel()
	nan := math.NaN()
	for name, d := range map[string]ProfileDrawing{
		"empty":     {},
		"unequal":   {Distances: []float64{0, 1}, Elevations: []float64{0}},
		"backwards": {Distances: []float64{0, 2, 1}, Elevations: []float64{0, 0, 0}},
		"no length": {Distances: []float64{1, 1}, Elevations: []float64{0, 0}},
		"all void":  {Distances: []float64{0, 1}, Elevations: []float64{nan, nan}},
		"nan":       {Distances: []float64{0, nan}, Elevations: []float64{0, 1}},
	} {
		_, err := d.Draw(&page.Page{Width: 200, Height: 60}, page.Box(5, 5, 190, 50), units.Metric, Style{})
		assert.ErrorIs(t, err, ErrPlan, name)
	}
}

func TestProfileBreaksAtVoidsAndStaysInItsRectangle(t *testing.T) {
	t.Parallel()
	d := hump()
	for i := 40; i < 50; i++ {
		d.Elevations[i] = math.NaN()
	}
	p := &page.Page{Width: 200, Height: 60}
	r := page.Box(5, 5, 190, 50)
	_, err := d.Draw(p, r, units.US, Style{})
	require.NoError(t, err)
	for _, it := range p.Items {
		switch v := it.(type) {
		case page.Stroke:
			if v.Width == 0.35 {
				assert.Len(t, v.Lines, 2)
			}
			for _, line := range v.Lines {
				for _, q := range line {
					assert.True(t, r.Contains(q), "%v", q)
				}
			}
		case page.Text:
			assert.True(t, r.Holds(v.Box()), "%q at %v", v.String, v.Box())
		}
	}
}

// With CROWLINE_DRAW set to a folder the drawings are left there to look at.
func drawTo(t *testing.T, name string, d *page.Document) {
	t.Helper()
	dir := os.Getenv("CROWLINE_DRAW")
	if dir == "" {
		return
	}
	for _, ext := range page.Formats {
		_, err := d.Save(filepath.Join(dir, name+ext), 150)
		require.NoError(t, err)
	}
}

func TestProfileIsReproducible(t *testing.T) {
	t.Parallel()
	for name, u := range map[string]units.System{"profile-metric": units.Metric, "profile-us": units.US} {
		write := func() (*page.Document, []byte) {
			pg := &page.Page{Width: 240, Height: 110}
			_, err := hump().Draw(pg, page.Box(8, 8, 224, 94), u, Style{})
			require.NoError(t, err)
			doc := &page.Document{Title: "Camp to Saddle", Pages: []*page.Page{pg}}
			var b bytes.Buffer
			require.NoError(t, doc.WriteSVG(&b, 0))
			return doc, b.Bytes()
		}
		doc, first := write()
		_, second := write()
		assert.Equal(t, first, second)
		drawTo(t, name, doc)
	}
}
