package sheet

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour/page"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/visibility"
)

// waves is a made skyline: angles and distances that change all round.
func waves(step float64) []visibility.HorizonPoint {
	var out []visibility.HorizonPoint
	for b := 0.0; b < 360-1e-9; b += step {
		a := 2 + 1.5*math.Sin(b*math.Pi/30) + 0.7*math.Cos(b*math.Pi/11)
		out = append(out, visibility.HorizonPoint{Bearing: geodesy.TrueBearing(b), Verdict: visibility.Visible,
			Angle: geodesy.Degrees(a), Distance: 400 * math.Exp(2+2*math.Sin(b/40)), Elevation: 700})
	}
	return out
}

func skyline() SkylineDrawing {
	d := SkylineDrawing{Title: "Skyline from a place", Points: waves(0.5), Summary: []string{"Highest somewhere."}, Notes: []string{"Assumed: an eye."}}
	for i, p := range d.Points {
		before, after := d.Points[(i+len(d.Points)-1)%len(d.Points)], d.Points[(i+1)%len(d.Points)]
		if p.Angle > before.Angle && p.Angle > after.Angle {
			peak := SkylinePeak{Bearing: p.Bearing, Angle: p.Angle, Distance: p.Distance, Elevation: p.Elevation}
			if i%2 == 0 {
				peak.Name = fmt.Sprintf("Summit at %03.0f", float64(p.Bearing))
			}
			d.Peaks = append(d.Peaks, peak)
		}
	}
	return d
}

// horizonLine is the skyline as drawn: the one line 0.3 mm wide in ink.
func horizonLine(t *testing.T, p *page.Page) (lines [][]page.Point) {
	t.Helper()
	for _, it := range p.Items {
		if g, ok := it.(*page.Group); ok && strings.HasPrefix(g.ID, "skyline-") {
			for _, s := range strokes(g.Items) {
				if s.Width == 0.3 && s.Color == page.Ink {
					lines = append(lines, s.Lines...)
				}
			}
		}
	}
	require.NotEmpty(t, lines)
	return lines
}

// The strip is to its stated scale both ways: every bearing stands 2 mm a
// degree from north, and every angle as far above the eye's level as the
// exaggeration says.
func TestStripIsToScale(t *testing.T) {
	t.Parallel()
	s := skyline()
	d, err := s.Strip()
	require.NoError(t, err)
	checkPage(t, d.Pages[0])
	drawTo(t, "skyline-strip", d)
	texts := strings.Join(pageTexts(d.Pages[0]), "\n")
	var exaggeration float64
	for _, line := range pageTexts(d.Pages[0]) {
		if i := strings.Index(line, "vertical scale "); i >= 0 {
			_, err := fmt.Sscanf(line[i:], "vertical scale %g", &exaggeration)
			require.NoError(t, err)
		}
	}
	require.Positive(t, exaggeration)
	lines := horizonLine(t, d.Pages[0])
	require.Len(t, lines, 1, "unbroken all round")
	// cutting to the frame leaves the point on its edge twice
	line := slices.CompactFunc(lines[0], func(a, b page.Point) bool { return a.Away(b) < 1e-9 })
	const left = skylineEdge + skylineSide
	perDegree := 2 * exaggeration
	// the level of the eye from one point, then every other from it
	level := line[0].Y + float64(s.Points[0].Angle)*perDegree
	for i, q := range line[:len(s.Points)] {
		p := s.Points[i]
		assert.InDelta(t, left+2*float64(p.Bearing), q.X, 1e-6)
		assert.InDelta(t, level-float64(p.Angle)*perDegree, q.Y, 1e-6)
	}
	end := line[len(line)-1]
	assert.InDelta(t, left+720, end.X, 1e-6, "joined round north")
	assert.InDelta(t, line[0].Y, end.Y, 1e-6)
	for _, want := range []string{"Skyline from a place", "000° N", "045° NE", "180° S", "270° W", "350°", "Level of the eye",
		"Ground under 1 km off", "3 to 10 km", "Horizontal 2.00 mm to the degree", "Assumed: an eye.", "0°", "true"} {
		assert.Contains(t, texts, want)
	}
	assert.NotContains(t, texts, "magnetic")
	named := 0
	for _, p := range s.Peaks {
		if p.Name != "" {
			named++
			assert.Contains(t, texts, p.Name)
		}
	}
	assert.Greater(t, named, 5)
	assert.Empty(t, d.Warnings)
}

// A magnetic figure stands at the true bearing it is read for.
func TestMagneticRowIsTurnedByTheDeclination(t *testing.T) {
	t.Parallel()
	s := skyline()
	s.Declination = &Declination{East: -6}
	d, err := s.Strip()
	require.NoError(t, err)
	checkPage(t, d.Pages[0])
	found := 0
	for _, it := range d.Pages[0].Items {
		if g, ok := it.(*page.Group); ok && g.ID == "skyline-1" {
			for _, it := range g.Items {
				if text, ok := it.(page.Text); ok && text.Color == page.Blue && text.String == "090°" {
					assert.InDelta(t, skylineEdge+skylineSide+2*84, text.At.X, 1e-6, "a compass at 6° W reads 090 on true 084")
					found++
				}
			}
		}
	}
	assert.Equal(t, 1, found)
}

func TestStackedRows(t *testing.T) {
	t.Parallel()
	for rows := 1; rows <= MaxSkylineRows; rows++ {
		s := skyline()
		s.Declination = &Declination{East: 11.3}
		d, err := s.Stacked(page.A4, rows)
		if rows == 1 {
			require.NoError(t, err)
		}
		if err != nil {
			assert.ErrorIs(t, err, ErrPlan)
			assert.Greater(t, rows, 5)
			continue
		}
		p := d.Pages[0]
		checkPage(t, p)
		assert.Equal(t, rows <= 3, p.Width > p.Height)
		lines := horizonLine(t, p)
		assert.Len(t, lines, rows)
		drawTo(t, fmt.Sprintf("skyline-%d", rows), d)
	}
}

// Where there is no angle the line is broken, and where not all is known the
// strip is hatched and the key says so.
func TestSkylineOfPartlyKnownGround(t *testing.T) {
	t.Parallel()
	s := skyline()
	for i := range s.Points {
		if b := float64(s.Points[i].Bearing); b >= 100 && b <= 140 {
			s.Points[i].Verdict = visibility.Unknown
			if b >= 120 {
				s.Points[i].Angle = geodesy.Degrees(math.NaN())
			}
		}
	}
	d, err := s.Strip()
	require.NoError(t, err)
	checkPage(t, d.Pages[0])
	assert.Len(t, horizonLine(t, d.Pages[0]), 2)
	assert.Contains(t, strings.Join(pageTexts(d.Pages[0]), "\n"), "Not all the ground is known: it may stand higher")
	for _, it := range d.Pages[0].Items {
		if g, ok := it.(*page.Group); ok && g.ID == "skyline-1" {
			for _, stroke := range strokes(g.Items) {
				if stroke.Color == page.Vermillion {
					for _, line := range stroke.Lines {
						for _, q := range line {
							b := (q.X - skylineEdge - skylineSide) / 2
							assert.True(t, b >= 99.7 && b <= 140.3, "hatched at %v", b)
						}
					}
				}
			}
		}
	}
}

// The line has stems where it is the top of what stands on the ground, from
// the line down, and the key explains them; there are none over bare ground.
func TestSkylineOfWhatStandsOnTheGround(t *testing.T) {
	t.Parallel()
	stems := func(s SkylineDrawing) (stems [][]page.Point, texts string) {
		d, err := s.Strip()
		require.NoError(t, err)
		checkPage(t, d.Pages[0])
		drawTo(t, "skyline-cover", d)
		for _, it := range d.Pages[0].Items {
			if g, ok := it.(*page.Group); ok && g.ID == "skyline-1" {
				for _, stroke := range strokes(g.Items) {
					if stroke.Width == stemWidth {
						stems = append(stems, stroke.Lines...)
					}
				}
			}
		}
		return stems, strings.Join(pageTexts(d.Pages[0]), "\n")
	}
	s := skyline()
	none, texts := stems(s)
	assert.Empty(t, none)
	assert.NotContains(t, texts, "what stands on the ground")
	for i := range s.Points {
		if b := float64(s.Points[i].Bearing); b >= 100 && b <= 140 || b == 200 {
			s.Points[i].Cover = 12
		}
	}
	drawn, texts := stems(s)
	assert.Contains(t, texts, "Top of what stands on the ground")
	d, err := s.Strip()
	require.NoError(t, err)
	on := map[float64]float64{} // the line's height on paper by bearing
	for _, line := range horizonLine(t, d.Pages[0]) {
		for _, q := range line {
			on[math.Round(q.X*100)] = q.Y
		}
	}
	lone := 0
	for _, stem := range drawn {
		require.Len(t, stem, 2)
		b := (stem[0].X - skylineEdge - skylineSide) / 2
		if math.Abs(b-200) < 0.01 {
			lone++
		} else {
			assert.True(t, b > 99.9 && b < 140.1, "a stem at %v", b)
		}
		assert.InDelta(t, on[math.Round(stem[0].X*100)], stem[0].Y, 1e-6, "it begins on the line")
		assert.InDelta(t, stemLong, stem[1].Y-stem[0].Y, 1e-6)
	}
	assert.Equal(t, 1, lone, "one bearing of it shows too")
	assert.InDelta(t, 81, len(drawn)-lone, 1, "one each half degree, a millimetre")
}

// Peaks that have no room are left off, the least wanted first, and a name
// left off is said.
func TestCrowdedPeaks(t *testing.T) {
	t.Parallel()
	s := skyline()
	s.Peaks = nil
	at := s.Points[200]
	for i := range 40 {
		s.Peaks = append(s.Peaks, SkylinePeak{Name: fmt.Sprintf("Crowded summit %d", i), Bearing: at.Bearing + geodesy.TrueBearing(i)/50, Angle: at.Angle, Distance: 5000, Elevation: 900})
	}
	d, err := s.Stacked(page.A4, 4)
	require.NoError(t, err)
	checkPage(t, d.Pages[0])
	texts := pageTexts(d.Pages[0])
	assert.Contains(t, texts, "Crowded summit 0")
	assert.NotEmpty(t, d.Warnings)
	assert.Contains(t, d.Warnings[len(d.Warnings)-1], "no room")
}

func TestSkylineOfTheDemoGround(t *testing.T) {
	t.Parallel()
	g := demoGround(t)
	h, err := visibility.Skyline(context.Background(), g, visibility.NewObserver(ll(36.26, -84.295)), visibility.DefaultSkylineOptions())
	require.NoError(t, err)
	s := SkylineDrawing{Title: "Skyline", Points: h.Points, Units: units.US}
	d, err := s.Strip()
	require.NoError(t, err)
	checkPage(t, d.Pages[0])
	var a, b bytes.Buffer
	require.NoError(t, d.WriteSVG(&a, 0))
	again, err := s.Strip()
	require.NoError(t, err)
	require.NoError(t, again.WriteSVG(&b, 0))
	assert.Equal(t, a.Bytes(), b.Bytes(), "the same each time")
	assert.Contains(t, a.String(), "over 6 mi")
}

func TestSkylineRefusesNonsense(t *testing.T) {
	t.Parallel()
	for name, spoil := range map[string]func(s *SkylineDrawing){
		"no points":    func(s *SkylineDrawing) { s.Points = nil },
		"out of order": func(s *SkylineDrawing) { s.Points[3].Bearing = 0 },
		"no bearing":   func(s *SkylineDrawing) { s.Points[3].Bearing = geodesy.TrueBearing(math.NaN()) },
		"beyond a turn": func(s *SkylineDrawing) {
			s.Points[len(s.Points)-1].Bearing = 360
		},
		"nothing known": func(s *SkylineDrawing) {
			for i := range s.Points {
				s.Points[i].Angle = geodesy.Degrees(math.NaN())
			}
		},
	} {
		s := skyline()
		spoil(&s)
		_, err := s.Strip()
		assert.ErrorIs(t, err, ErrPlan, name)
	}
	s := skyline()
	for _, rows := range []int{0, 7, -1} {
		_, err := s.Stacked(page.A4, rows)
		assert.ErrorIs(t, err, ErrPlan)
	}
	s.Peaks[0].Name = "東"
	d, err := s.Strip()
	require.NoError(t, err)
	require.Len(t, d.Warnings, 1)
	assert.Contains(t, d.Warnings[0], "its elevation stands for it")
}

func TestRoundedDown(t *testing.T) {
	t.Parallel()
	for v, want := range map[float64]float64{10: 10, 9.99: 8, 3.9: 3, 1: 1, 0.99: 0.8, 0.6: 0.6, 0.025: 0.025, 1.3: 1.2} {
		assert.InDelta(t, want, roundedDown(v), 1e-12, "%v", v)
	}
}
