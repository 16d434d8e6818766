package sheet

import (
	"fmt"
	"io"
	"math"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour/page"
	"crowline/dem/geodesy"
	"crowline/dem/units"
)

// demoCard is a card of n legs with figures that tell them apart.
func demoCard(n int) Card {
	c := Card{
		Title: "Round of the knobs", Date: time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC),
		Notes:    []string{"Magnetic bearings for 1 July 2026.", "Double paces at 65 in 100 m."},
		Cautions: []string{"Carry map and compass, and follow local rules and qualified advice."},
	}
	for i := range n {
		leg := CardLeg{
			From:     CardPlace{Name: fmt.Sprintf("Place %d", i), Reference: fmt.Sprintf("16SGF43%02d1618", i), Elevation: 600 + float64(i)},
			To:       CardPlace{Name: fmt.Sprintf("Place %d", i+1), Reference: fmt.Sprintf("16SGF43%02d1618", i+1), Elevation: 601 + float64(i)},
			Distance: 1000 + 10*float64(i), True: geodesy.TrueBearing(10 * i), Grid: geodesy.GridBearing(10*i + 1),
			Magnetic: geodesy.MagneticBearing(10*i + 6), BackMagnetic: geodesy.MagneticBearing(10*i + 186),
			Ascent: 100 + float64(i), Descent: 50, ContoursUp: 5, ContoursDown: 2, Time: time.Duration(20+i) * time.Minute, DoublePaces: 650,
			Sight: []string{"Walk on the summit 816 m, magnetic 188.8°, 2.1 km beyond.", "The end comes into view at 584 m."},
		}
		if i%5 == 2 {
			leg.Warnings = []string{"STEEP: ground of 30° or more at 1.27 km to 1.36 km."}
			leg.Sight = append(leg.Sight, "Passes the crest of a ridge at 515 m, the bottom of a draw at 1.46 km, a high point at 1.98 km.",
				"Way round: by 16SGF43831601 (magnetic 109° for 836 m, then 047°) up 272 m, not 397 m; 321 m longer.")
		}
		c.Legs = append(c.Legs, leg)
	}
	return c
}

// TestCardTextStaysInItsCell: on every page, at every length, nothing runs
// over a rule, off the page, or into the foot.
func TestCardTextStaysInItsCell(t *testing.T) {
	t.Parallel()
	for _, paper := range []page.Paper{page.A4, page.Letter, page.A3, {Width: 250, Height: 170, Fixed: true}} {
		for _, n := range []int{1, 6, 12, 40} {
			for _, units := range []units.System{units.Metric, units.US} {
				c := demoCard(n)
				c.Paper, c.Units = paper, units
				c.Legs[0].To.Name = strings.Repeat("Longname", 8)
				doc, err := c.Document()
				require.NoError(t, err)
				name := fmt.Sprintf("%s, %d legs, units %d", paper.Name, n, units)
				legs := 0
				for _, pg := range doc.Pages {
					legs += checkCardPage(t, pg, name)
				}
				assert.Equal(t, n, legs, name)
			}
		}
	}
}

func checkCardPage(t *testing.T, pg *page.Page, name string) (legs int) {
	t.Helper()
	var edges []float64
	bottom := 0.0
	var texts []page.Text
	for _, item := range pg.Items {
		g, ok := item.(*page.Group)
		require.True(t, ok)
		for _, it := range g.Items {
			switch v := it.(type) {
			case page.Stroke:
				if line := v.Lines[0]; line[0].X == line[1].X {
					edges = append(edges, line[0].X)
				}
				bottom = math.Max(bottom, v.Lines[0][1].Y)
			case page.Text:
				texts = append(texts, v)
				if g.ID == "foot" {
					assert.Greater(t, v.Box().Y, bottom, "%s: the foot runs into the legs", name)
				}
				if g.ID == "legs" && v.Face == page.Bold && v.Size == cardBig {
					legs++
				}
			}
			if text, ok := it.(page.Text); ok && g.ID == "legs" && text.Align == page.AlignLeft {
				box := text.Box()
				for _, x := range []float64{box.X, box.Right()} {
					assert.True(t, x >= 0 && x <= pg.Width)
				}
			}
		}
	}
	require.Len(t, edges, len(cardColumns)+1)
	page1 := page.Box(0, 0, pg.Width, pg.Height)
	for _, text := range texts {
		box := text.Box()
		assert.True(t, page1.Holds(box), "%s: %q runs off the page", name, text.String)
		if text.Align != page.AlignLeft || box.Y < 22 || box.Bottom() > bottom {
			continue // title, foot, and the words over the walker's columns
		}
		for _, x := range edges {
			assert.False(t, box.X < x && box.Right() > x, "%s: %q crosses a rule", name, text.String)
		}
	}
	return legs
}

// TestCardIsReadBack: the PDF says every leg once, the totals once, and as
// many pages as it has.
func TestCardIsReadBack(t *testing.T) {
	t.Parallel()
	pdftotext := tool(t, "pdftotext")
	doc, err := demoCard(12).Document()
	require.NoError(t, err)
	require.Len(t, doc.Pages, 2)
	out, err := exec.Command(pdftotext, "-layout", savePDF(t, doc), "-").CombinedOutput()
	require.NoError(t, err, "%s", out)
	text := strings.Join(strings.Fields(string(out)), " ")
	for i := range 12 {
		for _, want := range []string{fmt.Sprintf("%03d° ", 10*i+6), fmt.Sprintf("to Place %d", i+1), fmt.Sprintf("up %d m", 100+i)} {
			assert.Contains(t, text, want)
		}
	}
	// 12 legs of 1000 m and 10 more each: 12 660 m; ascents 100 to 111 m:
	// 1 266 m; 20 to 31 minutes: 5 h 06 min
	for _, want := range []string{"Round of the knobs", "12 legs: 12.7 km, up 1266 m and down 600 m, about 5 h 06 min without rests",
		"1 July 2026, page 1 of 2", "page 2 of 2", "In all", "7800 paces", "STEEP: ground of 30°", "Carry map and compass"} {
		assert.Contains(t, text, want)
	}
	assert.Equal(t, 1, strings.Count(text, "In all"))
	assert.Equal(t, 2, strings.Count(text, "to fill in on the way"))
}

func TestCardWithoutMagneticBearings(t *testing.T) {
	t.Parallel()
	c := demoCard(1)
	c.Legs[0].Magnetic, c.Legs[0].Grid, c.Legs[0].AtLeast = geodesy.MagneticBearing(math.NaN()), geodesy.GridBearing(math.NaN()), true
	c.Legs[0].To.Elevation = math.NaN()
	doc, err := c.Document()
	require.NoError(t, err)
	out, err := exec.Command(tool(t, "pdftotext"), savePDF(t, doc), "-").CombinedOutput()
	require.NoError(t, err)
	assert.Contains(t, string(out), "TRUE: no magnetic")
	assert.Contains(t, strings.Join(strings.Fields(string(out)), " "), "at least up 100 m down 50 m")
	assert.NotContains(t, string(out), "NaN")
}

// TestACardSaysAtLeast of the climb and the time of a leg that is not all
// known, and of every sum it is in, within the columns.
func TestACardSaysAtLeast(t *testing.T) {
	t.Parallel()
	c := demoCard(3)
	for i := range c.Legs {
		c.Legs[i].Ascent, c.Legs[i].Descent, c.Legs[i].Time = 2345, 2456, 22*time.Hour+22*time.Minute
	}
	c.Legs[1].AtLeast = true
	doc, err := c.Document()
	require.NoError(t, err)
	for _, pg := range doc.Pages {
		checkCardPage(t, pg, "at least")
	}
	out, err := exec.Command(tool(t, "pdftotext"), "-layout", savePDF(t, doc), "-").CombinedOutput()
	require.NoError(t, err)
	text := strings.Join(strings.Fields(string(out)), " ")
	assert.Contains(t, text, "at least up 7035 m and down 7368 m, at least 67 h 06 min without rests")
	assert.Contains(t, text, "climb and time at least")
	// the first leg is known; the sum of three holds from the second on
	assert.Equal(t, 1, strings.Count(text, "22 h 22 min in all"))
	assert.NotContains(t, text, "at least 22 h 22 min in all")
}

func TestCardsThatCannotBeDrawn(t *testing.T) {
	t.Parallel()
	_, err := Card{Title: "none"}.Document()
	require.ErrorIs(t, err, ErrPlan)
	c := demoCard(1)
	c.Paper = page.Paper{Width: 100, Height: 150}
	_, err = c.Document()
	require.ErrorIs(t, err, ErrPlan)
	c = demoCard(1)
	c.Title = "日"
	var glyph *page.GlyphError
	_, err = c.Document()
	require.ErrorAs(t, err, &glyph)
	c = demoCard(1)
	c.Legs[0].To.Name = "山"
	doc, err := c.Document()
	require.NoError(t, err)
	assert.Len(t, doc.Warnings, 1)
	assert.NoError(t, doc.WriteSVG(io.Discard, 0))
}

// TestACardWithALegWithoutATimeHasNoTotal: from that leg on.
func TestACardWithALegWithoutATimeHasNoTotal(t *testing.T) {
	t.Parallel()
	c := demoCard(3)
	for i := range c.Legs {
		c.Legs[i].Time = time.Hour
	}
	c.Legs[1].Time, c.Legs[1].NoTime = 0, "240 m at 3.10 km is no walking ground"
	c.Legs[2].TimeNotes = []string{"up to 3 h 10 min by Tobler off path"}
	doc, err := c.Document()
	require.NoError(t, err)
	out := &strings.Builder{}
	require.NoError(t, doc.WriteSVG(out, 0))
	text := strings.Join(strings.Fields(out.String()), " ")
	assert.Contains(t, text, "no time: leg 2 has none")
	assert.Contains(t, text, "1 h 00 min in all", "after the first leg")
	assert.NotContains(t, text, "2 h 00 min")
	assert.Contains(t, text, "no time in all")
}
