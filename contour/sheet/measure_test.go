package sheet

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"math"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour"
	"crowline/contour/page"
	"crowline/dem"
	"crowline/dem/geodesy"
)

// svgPath is a stroked path read back from an SVG file, in millimetres.
type svgPath struct {
	group, stroke, fill string
	points              [][]page.Point
}

// readSVG reads our own SVG back: straight paths and texts.
func readSVG(t *testing.T, body []byte) (paths []svgPath, texts []string) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(body))
	group := ""
	for {
		token, err := d.Token()
		if token == nil {
			require.ErrorContains(t, err, "EOF")
			return paths, texts
		}
		start, ok := token.(xml.StartElement)
		if !ok {
			continue
		}
		at := map[string]string{}
		for _, a := range start.Attr {
			at[a.Name.Local] = a.Value
		}
		switch start.Name.Local {
		case "g":
			group = at["id"]
		case "text":
			var s string
			require.NoError(t, d.DecodeElement(&s, &start))
			texts = append(texts, s)
		case "path":
			paths = append(paths, svgPath{group: group, stroke: at["stroke"], fill: at["fill"], points: pathPoints(t, at["d"], 1)})
		}
	}
}

var numbers = regexp.MustCompile(`-?[0-9.]+`)

func pathPoints(t *testing.T, d string, unit float64) [][]page.Point {
	t.Helper()
	var out [][]page.Point
	for _, sub := range strings.Split(d, "M")[1:] {
		var line []page.Point
		n := numbers.FindAllString(sub, -1)
		for i := 0; i+1 < len(n); i += 2 {
			x, err := strconv.ParseFloat(n[i], 64)
			require.NoError(t, err)
			y, err := strconv.ParseFloat(n[i+1], 64)
			require.NoError(t, err)
			line = append(line, page.At(x*unit, y*unit))
		}
		out = append(out, line)
	}
	return out
}

func svgOf(t *testing.T, d *page.Document) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, d.WriteSVG(&b, 0))
	return b.Bytes()
}

func inGroup(paths []svgPath, id string) (out []svgPath) {
	for _, p := range paths {
		if p.group == id {
			out = append(out, p)
		}
	}
	return out
}

// kilometrePlan is a sheet with legs of exactly a kilometre about its centre.
func kilometrePlan(t *testing.T, north North, at geodesy.LatLon, along geodesy.TrueBearing) Plan {
	t.Helper()
	from, _ := geodesy.Direct(at, along.Back(), 500)
	to, _ := geodesy.Direct(at, along, 500)
	nan := math.NaN()
	return Plan{Title: "A kilometre", Scale: 25000, North: north, Centre: &at,
		Leg: &Leg{From: Place{Name: "A", At: from, Elevation: nan}, To: Place{Name: "B", At: to, Elevation: nan}}}
}

// One kilometre of ground is 40.00 mm of paper at 1:25 000, in every direction,
// wherever the sheet lies in its zone, by both norths.
func TestAKilometreMeasuresFortyMillimetresInSVG(t *testing.T) {
	t.Parallel()
	const tolerance = 0.004 // mm: 0.01 %; the file's own rounding is 0.0005
	for _, at := range []geodesy.LatLon{ll(36.3, -84.2), ll(46, 11.95), ll(-60, -58), ll(0.01, 3), ll(78, 16), ll(-41.3, 174.7)} {
		for _, north := range []North{GridNorth, TrueNorth} {
			for along := geodesy.TrueBearing(0); along < 180; along += 45 {
				d := compose(t, kilometrePlan(t, north, at, along))
				paths, _ := readSVG(t, svgOf(t, d))
				leg := inGroup(paths, "leg")
				require.Len(t, leg, 2, "the line and the white under it")
				line := leg[1].points[0]
				assert.InDelta(t, 40, line[0].Away(line[len(line)-1]), tolerance, "%v %v on %v", at, north, along)
			}
		}
	}
}

// pdfPaths are the stroked paths of a PDF's first page as poppler reads them.
func pdfPaths(t *testing.T, pdf, color string) (out [][]page.Point) {
	t.Helper()
	svg := strings.TrimSuffix(pdf, ".pdf") + "-read.svg"
	o, err := exec.Command(tool(t, "pdftocairo"), "-noshrink", "-nocenter", "-f", "1", "-l", "1", "-svg", pdf, svg).CombinedOutput()
	require.NoError(t, err, "%s", o)
	body, err := os.ReadFile(svg)
	require.NoError(t, err)
	// Some releases write the stroke as style, others as attributes.
	// Paths are given in PDF's points up the page, under a matrix that turns
	// them over; lengths and directions need no more than that.
	for _, m := range regexp.MustCompile(`stroke(?::|=")`+color+`[;"][^>]*? d="([^"]*)" transform="matrix\(1, ?0, ?0, ?-1,`).FindAllSubmatch(body, -1) {
		for _, line := range pathPoints(t, string(m[1]), page.PointMM) {
			for i := range line {
				line[i].Y = -line[i].Y
			}
			out = append(out, line)
		}
	}
	return out
}

const vermillionInPDF = `rgb\(83\.\d+%, ?36\.\d+%, ?0%\)`

func TestAKilometreMeasuresFortyMillimetresInPDF(t *testing.T) {
	t.Parallel()
	const tolerance = 0.04 // mm: 0.1 %
	for i, north := range []North{GridNorth, TrueNorth} {
		path := savePDF(t, compose(t, kilometrePlan(t, north, ll(36.3, -84.2), 52)))
		var longest float64
		for _, line := range pdfPaths(t, path, vermillionInPDF) {
			longest = math.Max(longest, line[0].Away(line[len(line)-1]))
		}
		assert.InDelta(t, 40, longest, tolerance, "north %d", i)
	}
}

func TestPDFPageIsThePaper(t *testing.T) {
	t.Parallel()
	info := tool(t, "pdfinfo")
	p := kilometrePlan(t, GridNorth, ll(36.3, -84.2), 52)
	for _, paper := range []page.Paper{page.A4, page.A3, page.Letter, page.Tabloid, {Width: 300, Height: 250, Fixed: true}} {
		p.Paper = paper
		out, err := exec.Command(info, savePDF(t, compose(t, p))).CombinedOutput()
		require.NoError(t, err, "%s", out)
		m := regexp.MustCompile(`Page size:\s+([\d.]+) x ([\d.]+) pts`).FindStringSubmatch(string(out))
		require.NotNil(t, m, "%s", out)
		var w, h float64
		_, err = fmt.Sscan(m[1], &w)
		require.NoError(t, err)
		_, err = fmt.Sscan(m[2], &h)
		require.NoError(t, err)
		const tolerance = 0.02 // mm; pdfinfo prints six figures
		lo, hi := math.Min(w, h)*page.PointMM, math.Max(w, h)*page.PointMM
		assert.InDelta(t, math.Min(paper.Width, paper.Height), lo, tolerance)
		assert.InDelta(t, math.Max(paper.Width, paper.Height), hi, tolerance)
	}
}

// The latitude and longitude printed at the corners, and the grid lines and
// their numbers, are where PROJ puts them from the printed scale alone.
func TestCornersAndGridLinesStandWhereTheySay(t *testing.T) {
	t.Parallel()
	p := kilometrePlan(t, GridNorth, ll(46.2, 11.2), 52)
	d := compose(t, p)
	paths, texts := readSVG(t, svgOf(t, d))
	frames, err := p.Frames()
	require.NoError(t, err)
	frame := frames[0].Map

	var corners []geodesy.LatLon
	re := regexp.MustCompile(`^(\d+)°(\d+)′([\d.]+)″N (\d+)°(\d+)′([\d.]+)″E$`)
	for _, s := range texts {
		if m := re.FindStringSubmatch(s); m != nil {
			var v [6]float64
			for i := range v {
				v[i], err = strconv.ParseFloat(m[i+1], 64)
				require.NoError(t, err)
			}
			corners = append(corners, ll(geodesy.Degrees(v[0]+v[1]/60+v[2]/3600), geodesy.Degrees(v[3]+v[4]/60+v[5]/3600)))
		}
	}
	require.Len(t, corners, 4)
	g, err := geodesy.GridInZone(*p.Centre, 32)
	require.NoError(t, err)
	toPaper := func(u geodesy.UTM) page.Point {
		c := frame.Centre()
		k := 1000 / g.Scale / p.Scale
		return page.At(c.X+(u.Easting-g.UTM.Easting)*k, c.Y-(u.Northing-g.UTM.Northing)*k)
	}
	for i, want := range frame.Corners() {
		u, err := geodesy.ToUTMZone(corners[i], 32)
		require.NoError(t, err)
		got := toPaper(u)
		const tolerance = 0.1 // mm: 2.5 m, the printed tenth of a second being 3 m
		assert.InDelta(t, want.X, got.X, tolerance)
		assert.InDelta(t, want.Y, got.Y, tolerance)
	}

	lines := inGroup(paths, "grid")
	require.Len(t, lines, 1)
	var eastings, northings int
	for _, line := range lines[0].points {
		a, b := line[0], line[len(line)-1]
		u := geodesy.UTM{Easting: g.UTM.Easting + (a.X-frame.Centre().X)*p.Scale*g.Scale/1000,
			Northing: g.UTM.Northing - (a.Y-frame.Centre().Y)*p.Scale*g.Scale/1000}
		const tolerance = 0.05 // m; the file's rounding is 0.0005 mm, 12 mm of ground
		if math.Abs(a.X-b.X) < 0.01 {
			eastings++
			assert.InDelta(t, math.Round(u.Easting/1000)*1000, u.Easting, tolerance)
		} else {
			northings++
			assert.InDelta(t, math.Round(u.Northing/1000)*1000, u.Northing, tolerance)
		}
	}
	assert.GreaterOrEqual(t, eastings, 4)
	assert.GreaterOrEqual(t, northings, 4)
}

// The north diagram's arms, measured on paper, stand at the angles that PROJ
// and the plan's declination give, and the figures say them.
func TestNorthDiagramAngles(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		at    geodesy.LatLon
		north North
		east  geodesy.Degrees
	}{
		{ll(36.3, -84.2), GridNorth, -4.9}, {ll(36.3, -84.2), TrueNorth, -4.9},
		{ll(-60, -58.5), GridNorth, 11.2}, {ll(64, -17), GridNorth, -8.5}, {ll(-80, 150), TrueNorth, 130},
	} {
		p := kilometrePlan(t, c.north, c.at, 52)
		p.Declination = &Declination{East: c.east, Sigma: 0.4, Annual: 0.1, Model: "WMM2025", Date: day}
		d := compose(t, p)
		paths, texts := readSVG(t, svgOf(t, d))
		g, err := geodesy.GridAt(c.at)
		require.NoError(t, err)
		want := map[string]float64{hex(page.Ink): 0, hex(page.Faint): float64(g.Convergence), hex(page.Blue): float64(c.east)}
		found := 0
		for _, q := range inGroup(paths, "north") {
			a, b := q.points[0][0], q.points[0][len(q.points[0])-1]
			if q.fill != "none" || math.Abs(a.Away(b)-northArm) > 0.01 {
				continue
			}
			found++
			angle := math.Atan2(b.X-a.X, a.Y-b.Y) * 180 / math.Pi
			if c.north == GridNorth {
				angle += float64(g.Convergence)
			}
			const tolerance = 0.005 // degrees; 0.0005 mm at the end of 19 mm is 0.002
			assert.InDelta(t, want[q.stroke], angle, tolerance, "%v %s", c, q.stroke)
		}
		assert.Equal(t, 3, found)
		all := strings.Join(texts, " ")
		assert.Contains(t, all, "Grid north: "+east(float64(g.Convergence), 2)+" of true north.")
		assert.Contains(t, all, "Magnetic north: "+east(float64(c.east), 1)+" of true north (±0.4°).")
		assert.Contains(t, all, "WMM2025, 16 May 2026; changes 0.10° E a year.")
		assert.Contains(t, all, "Grid-magnetic angle: "+east(float64(c.east)-float64(g.Convergence), 1)+".")
	}
}

func hex(c page.Color) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }

// Magnetic-north lines on the map run at the declination from true north.
func TestMagneticLines(t *testing.T) {
	t.Parallel()
	p := kilometrePlan(t, GridNorth, ll(36.3, -84.2), 52)
	p.Declination, p.MagneticLines = &Declination{East: 14, Model: "WMM2025", Date: day}, true
	frames, err := p.Frames()
	require.NoError(t, err)
	proj, err := newProjection(frames[0].Centre, GridNorth, p.Scale)
	require.NoError(t, err)
	paths, _ := readSVG(t, svgOf(t, compose(t, p)))
	lines := inGroup(paths, "magnetic-north")
	require.Len(t, lines, 2)
	for _, line := range lines[0].points {
		c := frames[0].Map.Centre()
		a, err := proj.inverse(line[0].Add(-c.X, -c.Y))
		require.NoError(t, err)
		b, err := proj.inverse(line[1].Add(-c.X, -c.Y))
		require.NoError(t, err)
		const tolerance = 0.05 // degrees: the grid turns this much over half the sheet
		assert.InDelta(t, 14, float64(geodesy.Inverse(a, b).Start), tolerance)
	}
}

// Every contour drawn, read back from the page through the grid's own scale,
// lies on the ground at its level.
func TestContoursOnPaperLieOnTheGround(t *testing.T) {
	t.Parallel()
	g := demoGround(t)
	p := planOn(t, g, contour.Levels{Interval: 100, IndexEvery: 1})
	p.Centre = &geodesy.LatLon{Lat: 36.3, Lon: -84.25}
	for _, north := range []North{GridNorth, TrueNorth} {
		p.North = north
		frames, err := p.Frames()
		require.NoError(t, err)
		proj, err := newProjection(*p.Centre, north, p.Scale)
		require.NoError(t, err)
		paths, _ := readSVG(t, svgOf(t, compose(t, p)))
		lines := inGroup(paths, "contours")
		require.Len(t, lines, 1)
		seen, c := 0, frames[0].Map.Centre()
		for _, line := range lines[0].points {
			for _, q := range line[1 : len(line)-1] { // the ends are cut at the frame or a label
				at, err := proj.inverse(q.Add(-c.X, -c.Y))
				require.NoError(t, err)
				column, row, err := g.Locate(at)
				require.NoError(t, err)
				e := dem.Bilinear(g, column, row)
				// A micrometre of paper is 25 mm of ground, and no slope here
				// exceeds 2: 0.1 m.
				const tolerance = 0.1
				require.InDelta(t, math.Round(e/100)*100, e, tolerance, "at %v", at)
				seen++
			}
		}
		assert.Greater(t, seen, 500)
	}
}

// TestSheetIsTheSameEachTime, on one page and on more with a picture each
// (2026-11: the pictures of several pages were written in any order).
func TestSheetIsTheSameEachTime(t *testing.T) {
	t.Parallel()
	for _, scale := range []float64{25000, 12500} {
		write := func() []byte {
			p := demoPlan(t)
			p.Scale = scale
			d := compose(t, p)
			require.Equal(t, scale < 25000, len(d.Pages) > 1)
			var b bytes.Buffer
			require.NoError(t, d.WritePDF(&b))
			require.NoError(t, d.WriteSVG(&b, 0))
			return b.Bytes()
		}
		first := write()
		for range 4 {
			require.True(t, bytes.Equal(first, write()))
		}
	}
}

func TestSheetTextCanBeSearched(t *testing.T) {
	t.Parallel()
	text := tool(t, "pdftotext")
	out, err := exec.Command(text, savePDF(t, compose(t, demoPlan(t))), "-").CombinedOutput()
	require.NoError(t, err, "%s", out)
	for _, want := range []string{"Camp to High Point", "1:25 000", "051° true", "Contour interval 20 metres", "UTM zone 16N",
		"Print at 100 %", "Grid-magnetic angle", "EGM96", "Carry map and compass", "Knob", "4 021 000 m N"} {
		assert.Contains(t, strings.Join(strings.Fields(string(out)), " "), want)
	}
	fonts, err := exec.Command(tool(t, "pdffonts"), savePDF(t, compose(t, demoPlan(t)))).CombinedOutput()
	require.NoError(t, err)
	assert.NotRegexp(t, `(?m)TrueType.*\sno\s+(yes|no)\s+(yes|no)\s+\d+`, string(fonts), "a font is not embedded")
}

// Depression ticks point down, however the grid is stored.
func TestDepressionTicksPointDown(t *testing.T) {
	t.Parallel()
	for _, g := range []*dem.Grid{
		made(t, "EPSG:32721", 400000, 3340000, 20, 20, 300, 300, hills),
		made(t, "EPSG:32721", 400000, 3346000, 20, -20, 300, 300, hills),
		made(t, "EPSG:32721", 406000, 3346000, -20, -20, 300, 300, hills),
	} {
		p := planOn(t, g, contour.Levels{Interval: 20})
		at, err := g.Place(150, 150)
		require.NoError(t, err)
		p.Centre = &at
		proj, err := newProjection(at, GridNorth, p.Scale)
		require.NoError(t, err)
		d := compose(t, p)
		frames, err := p.Frames()
		require.NoError(t, err)
		c := frames[0].Map.Centre()
		elevation := func(q page.Point) float64 {
			at, err := proj.inverse(q.Add(-c.X, -c.Y))
			require.NoError(t, err)
			column, row, err := g.Locate(at)
			require.NoError(t, err)
			return dem.Bilinear(g, column, row)
		}
		ticks := 0
		for _, s := range strokes(d.Pages[0].Items) {
			if s.Width != p.Style.filled().Intermediate.Width*1.2 {
				continue
			}
			for _, line := range s.Lines {
				if frames[0].Map.Contains(line[0]) && line[0].Away(line[1]) > 0.8 {
					ticks++
					assert.Less(t, elevation(line[1]), elevation(line[0]))
				}
			}
		}
		assert.Greater(t, ticks, 100)
	}
}

// Ground without elevations is hatched all over, and ground with them nowhere.
func TestVoidsAreHatched(t *testing.T) {
	t.Parallel()
	nan := math.NaN()
	g := made(t, "EPSG:32633", 500000, 5000000, 25, -25, 300, 300, func(c, r float64) float64 {
		if c > 140 && c < 160 && r > 140 && r < 160 {
			return nan
		}
		return 100
	})
	at, err := g.Place(150, 150)
	require.NoError(t, err)
	p := Plan{Title: "Void", Scale: 25000, Centre: &at, Ground: g}
	d := compose(t, p)
	frames, err := p.Frames()
	require.NoError(t, err)
	paths, _ := readSVG(t, svgOf(t, d))
	hatching := inGroup(paths, "no-elevation")
	require.Len(t, hatching, 1)
	c := frames[0].Map.Centre()
	var length float64
	for _, line := range hatching[0].points {
		length += line[0].Away(line[1])
		for _, q := range line {
			const half = 20.0/2 + 0.01 // mm: 20 cells of 25 m, less nothing, at 1:25 000
			assert.LessOrEqual(t, math.Max(math.Abs(q.X-c.X), math.Abs(q.Y-c.Y)), half)
		}
	}
	// 20 x 20 mm hatched by lines 1.6 mm apart along x: 353 mm, less the looks
	// 0.4 mm apart at either end.
	assert.InDelta(t, 353, length, 25)
	assert.Contains(t, string(svgOf(t, d)), "No elevation data")
}
