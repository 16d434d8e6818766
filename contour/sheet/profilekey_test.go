package sheet

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour/page"
	"crowline/dem/units"
)

// profiles are profiles with each sign, to test and to look at.
func profiles() map[string]*ProfileDrawing {
	void := hump()
	for i := range void.Elevations {
		if d := void.Distances[i]; d > 1000 && d < 1500 || d > 3990 && d < 4110 {
			void.Elevations[i] = math.NaN()
		}
	}
	void.Unknown = [][2]float64{{1500, 1650}, {4100, 5000}}
	clear := hump()
	for i := range clear.Elevations {
		if d := clear.Distances[i]; d > 1000 && d < 1500 {
			clear.Elevations[i] = math.NaN()
		}
	}
	clear.Sight.FromElevation, clear.Sight.ToElevation, clear.Sight.BlockedAt, clear.Sight.StoppedAt = 460, 430, math.NaN(), math.NaN()
	clear.Hidden, clear.Unknown, clear.Levels = nil, [][2]float64{{1500, 5000}}, nil
	wood := hump()
	for _, d := range wood.Distances {
		switch {
		case d > 900 && d < 1600:
			wood.Cover = append(wood.Cover, 25)
		case d > 3000 && d < 3300:
			wood.Cover = append(wood.Cover, math.NaN())
		default:
			wood.Cover = append(wood.Cover, 0)
		}
	}
	wood.Sight.StoppedAt, wood.Sight.BlockedAt, wood.Sight.BlockerElevation = 900, 1550, wood.Elevations[31]+25
	wood.Hidden, wood.Unknown = [][2]float64{{1000, 2000}}, [][2]float64{{3000, 5000}}
	crowded := hump()
	crowded.Levels = nil
	for l := 300.0; l < 500; l += 0.5 {
		crowded.Levels = append(crowded.Levels, l)
	}
	crowded.Hidden, crowded.Sight = nil, nil
	steep := &ProfileDrawing{From: "Ridge camp", To: "Fern hollow", Hidden: [][2]float64{{300, 900}}}
	for i := range 95 {
		x := float64(i) * 10
		steep.Distances = append(steep.Distances, x)
		steep.Elevations = append(steep.Elevations, 900-400/(1+math.Exp(-(x-400)/60))+60*math.Exp(-math.Pow((x-300)/40, 2)))
	}
	steep.Sight = &SightDrawing{ToDistance: 940, FromElevation: 901.6, ToElevation: 500, StoppedAt: 20, BlockedAt: 300, BlockerElevation: steep.Elevations[30]}
	filled := hump()
	filled.Filled = [][2]float64{{2000, 2600}}
	lost := hump() // the data ends before the leg
	lost.Distances, lost.Elevations = append(lost.Distances, 6000), append(lost.Elevations, math.NaN())
	lost.Sight = nil
	return map[string]*ProfileDrawing{"plain": hump(), "void": void, "clear-but-void": clear, "wood": wood, "crowded": crowded, "steep": steep, "filled": filled, "lost": lost}
}

const (
	saysHidden  = "Out of sight"
	saysUnknown = "Not known whether in sight"
	saysVoid    = "No elevation data"
	saysStopped = "What hides it; dashed: cut off"
	saysPast    = "Past missing data: not known"
	saysSight   = "Line of sight"
	saysTicks   = "Contour crossed"
	saysCover   = "What stands on it"
)

// TestEverySignOfAProfileIsExplained, and none that is not on it.
func TestEverySignOfAProfileIsExplained(t *testing.T) {
	t.Parallel()
	all := []string{saysHidden, saysUnknown, saysVoid, saysStopped, saysPast, saysSight, saysTicks, saysCover, filledKey}
	for name, want := range map[string][]string{
		"plain":          {saysHidden, saysStopped, saysSight, saysTicks},
		"void":           {saysHidden, saysStopped, saysSight, saysTicks, saysVoid, saysPast, saysUnknown},
		"clear-but-void": {saysSight, saysVoid, saysPast, saysUnknown},
		"wood":           {"Out of sight over what stands there", saysStopped, saysSight, saysTicks, saysCover, saysUnknown},
		"crowded":        {},
		"steep":          {saysHidden, saysStopped, saysSight},
		"filled":         {saysHidden, saysStopped, saysSight, saysTicks, filledKey},
		"lost":           {saysHidden, saysTicks, saysVoid},
	} {
		d := profiles()[name]
		for _, u := range []units.System{units.Metric, units.US} {
			doc, err := d.Document("Profile "+name+": a title so long that it goes on over more than one line of the page, on 014° true and 020° magnetic, 5.19 km", []string{"Eye 1.6 m above the ground.", "Data: made."}, 240, 110, u, Style{})
			require.NoError(t, err)
			checkPage(t, doc.Pages[0])
			texts := strings.Join(pageTexts(doc.Pages[0]), "\n")
			for _, s := range all {
				found := false
				for _, w := range want {
					found = found || strings.HasPrefix(w, s)
				}
				assert.Equal(t, found, strings.Contains(texts, s), "%s: %s", name, s)
			}
			for _, w := range want {
				assert.Contains(t, texts, w, name)
			}
			assert.Contains(t, texts, "Ground", name)
			if u == units.Metric {
				drawTo(t, "profile-"+name, doc)
			}
		}
	}
}

// TestNoSightLineOverAVoid: it is drawn up to a void, and dotted past it.
func TestNoSightLineOverAVoid(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"void", "clear-but-void"} {
		d := profiles()[name]
		p := &page.Page{Width: 240, Height: 110}
		_, err := d.Draw(p, page.Box(8, 8, 224, 94), units.Metric, Style{})
		require.NoError(t, err)
		s := d.scale(page.Box(8+11, 8+7, 224-14, 94-14.5), 6.5, false)
		style := DefaultStyle()
		var solid, dotted float64 // metres along
		for _, line := range strokes(p.Items) {
			if line.Color != style.Sight.Color || line.Width == 0.4 {
				continue
			}
			for _, l := range line.Lines {
				from, to := s.d0+(l[0].X-s.box.X)/s.mmX, s.d0+(l[len(l)-1].X-s.box.X)/s.mmX
				const near = 1e-6 // m; rounding alone
				for _, g := range d.gaps() {
					assert.True(t, to <= g[0]+near || from >= g[1]-near, "%s: a line of sight from %g to %g over the void %v", name, from, to, g)
				}
				switch {
				case line.Dash == nil:
					solid += to - from
				case line.Dash[0] == doubtDash[0]:
					dotted += to - from
				}
			}
		}
		const rounding = 1e-6 // m
		first := d.gaps()[0]
		assert.InDelta(t, first[0], solid, rounding)
		end := 5000.0 - first[1]
		if name == "void" {
			end = d.Sight.StoppedAt - first[1]
		}
		assert.InDelta(t, end, dotted, rounding)
	}
}

// TestHatchingStaysInTheGround on slopes of any steepness, and no tick hangs
// in a void.
func TestHatchingStaysInTheGround(t *testing.T) {
	t.Parallel()
	for name, d := range profiles() {
		p := &page.Page{Width: 240, Height: 110}
		_, err := d.Draw(p, page.Box(8, 8, 224, 94), units.Metric, Style{})
		require.NoError(t, err)
		s := d.scale(page.Box(8+11, 8+7, 224-14, 94-14.5), 6.5, false)
		n := 0
		for _, line := range strokes(p.Items) {
			if line.Width != 0.22 {
				continue
			}
			for _, l := range line.Lines {
				for _, q := range l {
					ground, ok := d.under(s, q.X)
					const rounding = 1e-6 // mm
					assert.True(t, ok && q.Y >= ground.Y-rounding, "%s: a tick at %v", name, q)
					n++
				}
			}
		}
		assert.Equal(t, len(d.Hidden) > 0, n > 0, name)
	}
}

// TestASteepLegIsNotFlattened: it is drawn narrower, at least as steep as it
// is.
func TestASteepLegIsNotFlattened(t *testing.T) {
	t.Parallel()
	d := profiles()["steep"]
	p := &page.Page{Width: 200, Height: 60}
	exaggeration, err := d.Draw(p, page.Box(5, 5, 190, 50), units.Metric, Style{})
	require.NoError(t, err)
	assert.GreaterOrEqual(t, exaggeration, 1.0)
	// a wall, which no width that holds its names shows as it is
	wall := &ProfileDrawing{From: "A", To: "B", Distances: []float64{0, 10, 20}, Elevations: []float64{0, 300, 600}}
	exaggeration, err = wall.Draw(p, page.Box(5, 5, 190, 50), units.Metric, Style{})
	require.NoError(t, err)
	assert.Less(t, exaggeration, 1.0)
}

// TestCoverIsDrawnToItsTop.
func TestCoverIsDrawnToItsTop(t *testing.T) {
	t.Parallel()
	d := profiles()["wood"]
	p := &page.Page{Width: 240, Height: 110}
	_, err := d.Draw(p, page.Box(8, 8, 224, 94), units.Metric, Style{})
	require.NoError(t, err)
	s := d.scale(page.Box(8+11, 8+7, 224-14, 94-14.5), 6.5, false)
	var wood []page.Point
	for _, it := range p.Items {
		if f, ok := it.(page.Fill); ok && f.Color == coverFill {
			require.Len(t, f.Rings, 1)
			wood = append(wood, f.Rings[0]...)
		}
	}
	const rounding = 1e-6 // mm; cutting to the frame
	reached := false
	for _, q := range wood {
		at := s.d0 + (q.X-s.box.X)/s.mmX
		assert.True(t, at >= 900-1 && at <= 1600+1, "%v", q)
		ground, _ := d.under(s, q.X)
		above := (ground.Y - q.Y) / s.mmY
		assert.True(t, above >= -rounding && above <= 25+rounding)
		reached = reached || above > 25-rounding
	}
	assert.True(t, reached)
	d.Cover = d.Cover[1:]
	_, err = d.Draw(p, page.Box(8, 8, 224, 94), units.Metric, Style{})
	assert.ErrorIs(t, err, ErrPlan)
}
