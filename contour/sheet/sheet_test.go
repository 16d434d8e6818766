package sheet

import (
	"context"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/contour"
	"crowline/contour/page"
	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/profile"
	"crowline/testdata/cumberland"
	"crowline/visibility"
)

func tool(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Skipf("%s is not installed (poppler-utils has it)", name)
	}
	return path
}

func savePDF(t *testing.T, d *page.Document) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "page.pdf")
	_, err := d.Save(path, 0)
	require.NoError(t, err)
	return path
}

// readAll opens a file's whole ground.
func readAll(t testing.TB, r *gdalio.Raster) *dem.Grid {
	t.Helper()
	g, err := r.Read(context.Background(), r.Layout().Whole())
	require.NoError(t, err)
	require.NoError(t, r.Close())
	return g
}

func demoGround(t testing.TB) *dem.Grid {
	t.Helper()
	r, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	require.NoError(t, err)
	return readAll(t, r)
}

// fileGround opens one of the test files, or skips when it is not there.
func fileGround(t *testing.T, paths ...string) *dem.Grid {
	t.Helper()
	for _, p := range paths {
		if _, err := os.Stat(p); err == nil {
			r, err := gdalio.Open(p, gdalio.Options{})
			require.NoError(t, err)
			return readAll(t, r)
		}
	}
	t.Skipf("none of %v is there", paths)
	return nil
}

func bigTujunga(t *testing.T) *dem.Grid {
	t.Helper()
	dir := os.Getenv("CROWLINE_TERRAIN")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared", "dem")
	}
	return fileGround(t, filepath.Join(dir, "bigtujunga_srtm30.tif"))
}

// made is a grid of a function of metres east and north of a place.
func made(t *testing.T, crs string, x0, y0, dx, dy float64, columns, rows int, f func(column, row float64) float64) *dem.Grid {
	t.Helper()
	c, err := geodesy.NewCRS(crs)
	require.NoError(t, err)
	g := &dem.Grid{Frame: dem.Frame{Columns: columns, Rows: rows, X0: x0, Y0: y0, DX: dx, DY: dy, CRS: c}}
	g.Window = g.Whole()
	g.Source.Name = "made ground"
	for r := range rows {
		for c := range columns {
			g.Elevations = append(g.Elevations, float32(f(float64(c), float64(r))))
		}
	}
	return g
}

// hills is smooth ground with hills and hollows.
func hills(c, r float64) float64 {
	return 400 + 120*math.Sin(c/17)*math.Cos(r/23) + 60*math.Sin((c+r)/31) + 25*math.Sin(c/7+1)*math.Sin(r/9)
}

var day = time.Date(2026, 5, 16, 0, 0, 0, 0, time.UTC)

// planOn is a plan with contours traced over the whole grid.
func planOn(t testing.TB, g *dem.Grid, levels contour.Levels) Plan {
	t.Helper()
	lines, err := contour.Trace(context.Background(), g, levels, contour.Options{})
	require.NoError(t, err)
	return Plan{Scale: 25000, Ground: g, Data: g.Source, Contours: Contours{Lines: lines, Levels: levels}, Date: day,
		Declination: &Declination{East: -4.9, Sigma: 0.4, Annual: 0.03, Model: "WMM2025", Date: day},
		Cautions:    []string{"Elevation data knows nothing of trees, water, fences, cliffs narrower than its spacing, avalanche or river conditions, or private land. Carry map and compass, and follow local rules and qualified advice."}}
}

// withLeg gives a plan a leg and its profile.
func withLeg(t testing.TB, p Plan, from, to Place) Plan {
	t.Helper()
	leg, err := profile.Trace(context.Background(), p.Ground, from.At, to.At)
	require.NoError(t, err)
	from.Elevation, to.Elevation = leg.Points[0].Elevation, leg.Points[len(leg.Points)-1].Elevation
	p.Leg = &Leg{From: from, To: to}
	d := &ProfileDrawing{From: from.Name, To: to.Name}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, q := range leg.Points {
		d.Distances, d.Elevations = append(d.Distances, q.Distance), append(d.Elevations, q.Elevation)
		lo, hi = math.Min(lo, q.Elevation), math.Max(hi, q.Elevation)
	}
	l := p.Contours.Levels
	for j := int(math.Ceil(lo / l.Interval / l.Unit.Metres())); l.Elevation(j) < hi; j++ {
		d.Levels = append(d.Levels, l.Elevation(j))
	}
	d.Sight = &SightDrawing{ToDistance: leg.Distance, FromElevation: from.Elevation + 1.6, ToElevation: to.Elevation, EffectiveRadius: 6371000 / 0.87}
	p.Profile = d
	return p
}

func ll(lat, lon geodesy.Degrees) geodesy.LatLon { return geodesy.LatLon{Lat: lat, Lon: lon} }

// demoPlan is a leg of 4.3 km on the built-in ground with all there is to draw.
func demoPlan(t testing.TB) Plan {
	g := demoGround(t)
	p := planOn(t, g, contour.Levels{Interval: 20})
	p = withLeg(t, p, Place{Name: "Camp", At: ll(36.300, -84.250)}, Place{Name: "High Point", At: ll(36.325, -84.212)})
	p.Profile.Hidden = [][2]float64{{1200, 2100}}
	p.Marks = []Mark{{Place: Place{Name: "Knob", At: ll(36.318, -84.235), Elevation: math.NaN()}, Note: "on the skyline"},
		{Place: Place{Name: "Far Peak", At: ll(36.36, -84.30), Elevation: 905}}}
	p.Points = []Place{{Name: "Ford", At: ll(36.306, -84.226), Elevation: 420}}
	p.MagneticLines = true
	p.Relief = 0.5
	p.View = &View{From: []Place{p.Leg.From}, Frame: &g.Frame, Verdicts: make([]visibility.Verdict, g.Columns*g.Rows)}
	for i := range p.View.Verdicts { // a box out of sight, with a hole
		lon, lat := g.X0+float64(i%g.Columns)*g.DX, g.Y0+float64(i/g.Columns)*g.DY
		in := func(w, s, e, n float64) bool { return lon > w && lon < e && lat > s && lat < n }
		p.View.Verdicts[i] = visibility.Visible
		if in(-84.235, 36.305, -84.22, 36.315) && !in(-84.230, 36.308, -84.226, 36.312) {
			p.View.Verdicts[i] = visibility.Hidden
		}
	}
	return p
}

func compose(t *testing.T, p Plan) *page.Document {
	t.Helper()
	d, err := Compose(context.Background(), p)
	require.NoError(t, err)
	return d
}

// drawings are the sheets to look at: one of each kind of ground and paper.
var drawings = map[string]func(t *testing.T) Plan{
	"demo": func(t *testing.T) Plan { return demoPlan(t) },
	"steep": func(t *testing.T) Plan {
		p := planOn(t, bigTujunga(t), contour.Levels{Interval: 20})
		f := p.Ground.Layout()
		from, err := f.Place(500, 300)
		require.NoError(t, err)
		to, err := f.Place(620, 330)
		require.NoError(t, err)
		p = withLeg(t, p, Place{Name: "Trailhead", At: from}, Place{Name: "Summit", At: to})
		p.Paper = page.Letter
		return p
	},
	"feet": func(t *testing.T) Plan {
		p := planOn(t, demoGround(t), contour.Levels{Interval: 40, Unit: contour.Foot})
		p.Units, p.Scale, p.Paper = units.US, 24000, page.Tabloid
		p = withLeg(t, p, Place{Name: "Camp", At: ll(36.300, -84.280)}, Place{Name: "Dam", At: ll(36.30, -84.20)})
		p.Marks = []Mark{{Place: Place{Name: "Knob", At: ll(36.318, -84.235), Elevation: 512}}}
		return p
	},
	"south": func(t *testing.T) Plan {
		// A UTM grid at 60 degrees south, 20 m posts, row 0 in the south.
		g := made(t, "EPSG:32721", 400000, 3340000, 20, 20, 500, 500, hills)
		p := planOn(t, g, contour.Levels{Interval: 10, Half: true})
		from, err := g.Place(100, 120)
		require.NoError(t, err)
		to, err := g.Place(300, 140)
		require.NoError(t, err)
		p = withLeg(t, p, Place{Name: "Hut", At: from}, Place{Name: "Cairn", At: to})
		p.Declination.East, p.MagneticLines = 11.2, true
		return p
	},
	"zone-edge": func(t *testing.T) Plan {
		g := made(t, "EPSG:4326", 11.9, 46.1, 1./3600, -1./3600, 720, 500, hills)
		p := planOn(t, g, contour.Levels{Interval: 20})
		p.Centre = &geodesy.LatLon{Lat: 46.03, Lon: 11.99}
		p.Title, p.Paper, p.Relief = "Across a zone's edge", page.A3, 0.5
		return p
	},
	"coast": func(t *testing.T) Plan {
		g := fileGround(t, "/usr/lib/R/site-library/stars/tif/olinda_dem_utm25s.tif", filepath.Join("..", "..", "testdata", "olinda_dem_utm25s.tif"))
		p := planOn(t, g, contour.Levels{Interval: 10})
		p.Title, p.Scale, p.Relief = "Coast", 75000, 0.5
		return p
	},
	"true-north": func(t *testing.T) Plan {
		p := demoPlan(t)
		p.North, p.Scale, p.Paper = TrueNorth, 50000, page.Letter
		p.Declination = nil
		return p
	},
	"pages": func(t *testing.T) Plan {
		p := planOn(t, demoGround(t), contour.Levels{Interval: 20})
		return withLeg(t, p, Place{Name: "West", At: ll(36.20, -84.40)}, Place{Name: "East", At: ll(36.42, -84.10)})
	},
	"small": func(t *testing.T) Plan {
		p := demoPlan(t)
		p.Paper, p.Scale = page.Paper{Width: 176, Height: 256}, 50000
		return p
	},
	"flat": func(t *testing.T) Plan {
		g := made(t, "EPSG:32633", 500000, 5000000, 10, -10, 600, 600, func(c, r float64) float64 { return 20 + hills(c, r)/40 })
		p := planOn(t, g, contour.Levels{Interval: 1, Half: true})
		p.Title, p.Scale = "Flat ground", 10000
		return p
	},
	"edge-of-data": func(t *testing.T) Plan {
		p := planOn(t, demoGround(t), contour.Levels{Interval: 20})
		p.Centre = &geodesy.LatLon{Lat: 36.17, Lon: -84.10}
		p.Title = "A corner of the data"
		return p
	},
}

func TestDraw(t *testing.T) {
	t.Parallel()
	for name, make := range drawings {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			d := compose(t, make(t))
			require.Empty(t, d.Warnings)
			for _, pg := range d.Pages {
				checkPage(t, pg)
			}
			drawTo(t, name, d)
		})
	}
}

// checkPage holds what every page must: all ink on the paper, inside what
// printers reach, and no text on another.
func checkPage(t *testing.T, pg *page.Page) {
	t.Helper()
	const reach = paperMargin - 1.5 // mm; line widths and descents
	in := page.Box(0, 0, pg.Width, pg.Height).Inset(reach)
	var texts []page.Text
	var walk func(items []page.Item)
	walk = func(items []page.Item) {
		for _, it := range items {
			switch v := it.(type) {
			case *page.Group:
				walk(v.Items)
			case page.Stroke:
				for _, line := range v.Lines {
					for _, q := range line {
						assert.True(t, in.Contains(q), "a line at %v", q)
					}
				}
			case page.Fill:
				for _, ring := range v.Rings {
					for _, q := range ring {
						assert.True(t, in.Contains(q), "an area at %v", q)
					}
				}
			case page.Text:
				assert.True(t, in.Holds(v.Box()), "%q at %v", v.String, v.Box())
				texts = append(texts, v)
			}
		}
	}
	walk(pg.Items)
	for i, a := range texts {
		if a.Turn != 0 { // boxes round slanted text are too large to tell
			continue
		}
		for _, b := range texts[:i] {
			if b.Turn == 0 {
				assert.False(t, a.Box().Overlaps(b.Box()), "%q on %q at %v", a.String, b.String, a.Box())
			}
		}
	}
}
