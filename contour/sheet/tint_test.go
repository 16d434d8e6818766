package sheet

import (
	"image"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour/page"
	"crowline/dem"
)

// tinted is a plan of some ground with a tint of three steps in stripes, with none
// and with what is not measured between.
func tinted(t *testing.T) Plan {
	t.Helper()
	p := demoPlan(t)
	f := p.Ground.Layout()
	tint := &Tint{Frame: f, Step: make([]uint8, f.Columns*f.Rows), Steps: []string{"some", "more", "most"}, Without: "none"}
	for i := range tint.Step {
		if tint.Step[i] = uint8(i % f.Columns / 8 % 5); tint.Step[i] == 4 {
			tint.Step[i] = NotMeasured
		}
	}
	p.Tint = tint
	return p
}

// TestTintIsDrawnAndExplained: every step has a colour of its own on the map, deeper
// than the one before, and a line in the key.
func TestTintIsDrawnAndExplained(t *testing.T) {
	t.Parallel()
	p := tinted(t)
	doc, err := Compose(t.Context(), p)
	require.NoError(t, err)
	colours := map[page.Color]int{}
	group := groupOf(doc.Pages[0], "tint")
	require.NotNil(t, group)
	img := group.Items[0].(page.Picture).Pixels.(*image.NRGBA)
	for y := img.Rect.Min.Y; y < img.Rect.Max.Y; y += 3 {
		for x := img.Rect.Min.X; x < img.Rect.Max.X; x += 3 {
			colours[img.NRGBAAt(x, y)]++
		}
	}
	words := map[string]bool{}
	for _, text := range pageTexts(doc.Pages[0]) {
		words[text] = true
	}
	last := uint8(0)
	for k := range p.Tint.Steps {
		c := p.Tint.colour(k + 1)
		assert.Greater(t, c.A, last)
		last = c.A
		assert.NotZero(t, colours[c], "step %d is not drawn", k+1)
		assert.True(t, words[p.Tint.Steps[k]], "%q is not in the key", p.Tint.Steps[k])
	}
	assert.NotZero(t, colours[unlooked])
	assert.True(t, words["none"])
	assert.True(t, words["Not asked about"])
}

// TestTintIsChecked: a tint that is not of its posts is refused.
func TestTintIsChecked(t *testing.T) {
	t.Parallel()
	for name, change := range map[string]func(*Tint){
		"no steps":       func(x *Tint) { x.Steps = nil },
		"too many steps": func(x *Tint) { x.Steps = make([]string, 7) },
		"another frame":  func(x *Tint) { x.Frame = &dem.Frame{Columns: 2, Rows: 2} },
		"no such step":   func(x *Tint) { x.Step[0] = 4 },
	} {
		p := tinted(t)
		change(p.Tint)
		_, err := Compose(t.Context(), p)
		require.ErrorIs(t, err, ErrPlan, name)
	}
}
