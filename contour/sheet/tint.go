package sheet

import (
	"context"
	"fmt"
	"image"
	"math"

	"crowline/contour/page"
	"crowline/dem"
)

// Tint is a measure of the ground in steps: of two posts the better has the
// deeper tint.
type Tint struct {
	// Frame says where the posts stand that were measured, and Step is each one's,
	// row by row: 0 has no tint, the last of Steps the deepest; or NotMeasured.
	Frame *dem.Frame
	Step  []uint8
	// Steps are what the key calls them, from the lightest.
	Steps []string
	// Without is what the key calls ground without a tint; "" for nothing.
	Without string
}

// NotMeasured marks posts that were not: they are veiled, so that they are not
// taken for ground without a tint.
const NotMeasured = 255

// mostSteps of a tint that a reader tells apart, and tintMost how deep the deepest
// is: contour lines are still read through it.
const (
	mostSteps = 6
	tintMost  = 165
)

// tintColour is a blue that is a mid grey on a grey printer, and no other sign's.
var tintColour = page.Color{R: 0, G: 84, B: 160}

func (t *Tint) validate() error {
	switch {
	case len(t.Steps) == 0 || len(t.Steps) > mostSteps:
		return fmt.Errorf("%w: a tint of %d steps; it is from 1 to %d", ErrPlan, len(t.Steps), mostSteps)
	case t.Frame == nil || len(t.Step) != t.Frame.Columns*t.Frame.Rows:
		return fmt.Errorf("%w: %d tints that are not of the posts measured", ErrPlan, len(t.Step))
	}
	for _, s := range t.Step {
		if int(s) > len(t.Steps) && s != NotMeasured {
			return fmt.Errorf("%w: step %d of a tint with %d", ErrPlan, s, len(t.Steps))
		}
	}
	return nil
}

// colour of a step, from 1.
func (t *Tint) colour(step int) page.Color {
	c := tintColour
	most := min(tintMost, 60+35*len(t.Steps)) // of few steps the deepest need not be so deep
	c.A = uint8(most * step / len(t.Steps))
	return c
}

// tint lays the picture over the relief.
func (m *mapPanel) tint(ctx context.Context) error {
	t := m.plan.Tint
	if t == nil {
		return nil
	}
	lattice, centre := newLattice(m.proj, t.Frame, m.area()), m.frame.Centre()
	per := math.Min(viewPerMM, math.Sqrt(viewPixels/(m.frame.Width*m.frame.Height)))
	nx, ny := int(math.Ceil(m.frame.Width*per)), int(math.Ceil(m.frame.Height*per))
	img := image.NewNRGBA(image.Rect(0, 0, nx, ny))
	for j := range ny {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("sheet: tint: %w", err)
		}
		for i := range nx {
			x, y := m.frame.X+(float64(i)+0.5)/float64(nx)*m.frame.Width, m.frame.Y+(float64(j)+0.5)/float64(ny)*m.frame.Height
			column, row, ok := lattice.at(page.At(x-centre.X, y-centre.Y))
			c, r := math.Round(column), math.Round(row)
			step := uint8(NotMeasured)
			if ok && c >= 0 && r >= 0 && c < float64(t.Frame.Columns) && r < float64(t.Frame.Rows) {
				step = t.Step[int(r)*t.Frame.Columns+int(c)]
			}
			switch {
			case step == NotMeasured:
				img.SetNRGBA(i, j, unlooked)
			case step > 0:
				img.SetNRGBA(i, j, t.colour(int(step)))
			}
		}
	}
	m.page.Open("tint", "Tint of the ground")
	m.page.Add(page.Picture{Rect: m.frame, Pixels: img})
	m.page.Close()
	return nil
}

// tintKey explains the steps, the deepest first.
func (b *blocks) tintKey(pg *page.Page, next func(text string, draw func(c page.Point)), patch func(c page.Point) page.Rect) {
	t := b.plan.Tint
	if t == nil {
		return
	}
	for k := len(t.Steps); k > 0; k-- {
		next(t.Steps[k-1], func(c page.Point) {
			pg.Add(page.Fill{Rings: [][]page.Point{patch(c).Corners()}, Color: t.colour(k)})
			pg.Frame(0.1, page.Faint, patch(c))
		})
	}
	next("Not asked about", func(c page.Point) {
		pg.Add(page.Fill{Rings: [][]page.Point{patch(c).Corners()}, Color: unlooked})
		pg.Frame(0.1, page.Faint, patch(c))
	})
	if t.Without != "" {
		next(t.Without, func(c page.Point) { pg.Frame(0.1, page.Faint, patch(c)) })
	}
}
