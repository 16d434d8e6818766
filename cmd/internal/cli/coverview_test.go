package cli

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/answer"
	"crowline/cmd/internal/report"
	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/testdata/cumberland"
)

// rasterFile writes heights over a frame.
func rasterFile(t *testing.T, name string, f *dem.Frame, at func(column, row int) float64) string {
	t.Helper()
	heights := make([]float32, f.Columns*f.Rows)
	for i := range heights {
		heights[i] = float32(at(i%f.Columns, i/f.Columns))
	}
	path := filepath.Join(t.TempDir(), name)
	void := -9999.0
	for i, h := range heights {
		if h != h {
			heights[i] = float32(void)
		}
	}
	require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), path, f, []gdalio.Band{{Float32: heights, NoData: &void}}))
	return path
}

// plain is a flat plain of posts 10 m apart, 100 m high, and where its posts
// stand.
func plain(t *testing.T) (path string, frame *dem.Frame) {
	t.Helper()
	crs, err := geodesy.NewCRS("EPSG:32616")
	require.NoError(t, err)
	frame = &dem.Frame{Columns: 101, Rows: 81, X0: 735000, Y0: 4012000, DX: 10, DY: -10, CRS: crs}
	return rasterFile(t, "plain.tif", frame, func(int, int) float64 { return 100 }), frame
}

// written is a place as the command line takes it, to the last digit.
func written(t *testing.T, f *dem.Frame, column, row float64) string {
	t.Helper()
	p, err := f.Place(column, row)
	require.NoError(t, err)
	return fmt.Sprintf("%.12f,%.12f", float64(p.Lat), float64(p.Lon))
}

// bandOf is one band of a file; gdal_translate parts it from the others and
// leaves out its name, for verdicts are not read as ground.
func bandOf(t *testing.T, path string, band int) *dem.Grid {
	t.Helper()
	one := filepath.Join(t.TempDir(), "band.tif")
	gdalProgram(t, "gdal_translate", "-q", "-b", fmt.Sprint(band), "-co", "PROFILE=GeoTIFF", "--config", "GDAL_PAM_ENABLED", "NO", path, one)
	r, err := gdalio.Open(one, gdalio.Options{})
	require.NoError(t, err)
	defer r.Close()
	g, err := r.Read(t.Context(), r.Layout().Whole())
	require.NoError(t, err)
	return g
}

// gdalProgram runs one of GDAL's, and skips the test where it is missing.
func gdalProgram(t *testing.T, name string, arguments ...string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Skipf("%s is not installed: %v", name, err)
	}
	out, err := exec.CommandContext(t.Context(), path, arguments...).Output()
	require.NoError(t, err)
	return string(out)
}

// TestAWallOfTreesAcrossAPlain: all of a plain is seen; behind a wall of trees
// none of it is, and what must stand there to be seen is found by
// similar triangles.
func TestAWallOfTreesAcrossAPlain(t *testing.T) {
	t.Parallel()
	ground, f := plain(t)
	const wall, tall, eye = 50, 20.0, 1.6
	trees := rasterFile(t, "wall.tif", f, func(column, row int) float64 {
		if column == wall {
			return tall
		}
		return 0
	})
	out := filepath.Join(t.TempDir(), "seen.tif")
	ask := func(extra ...string) (a answer.ViewshedAnswer) {
		demoFillJSON(t, &a, append([]string{"viewshed", written(t, f, 10, 40), "--dem", ground, "-o", out, "--json"}, extra...)...)
		return a
	}
	bare := ask()
	assert.Nil(t, bare.OverCover)
	assert.EqualValues(t, 101*81, bare.Views[0].Visible)

	a := ask("--cover", trees, "--needed")
	require.NotNil(t, a.OverCover)
	assert.Equal(t, "wall.tif", a.OverCover.Name)
	assert.EqualValues(t, 81, a.OverCover.Standing)
	assert.InDelta(t, tall, a.OverCover.HighestM, 0)
	v := a.Views[0]
	assert.EqualValues(t, (wall+1)*81, v.Visible)
	assert.EqualValues(t, 50*81, v.Hidden)
	assert.Zero(t, v.Unknown)
	assert.Equal(t, answer.CoverView{
		BareVisible: 101 * 81, BareAreaSeenM2: bare.Views[0].AreaSeenM2, Asked: 101 * 81, Changed: 50 * 81, Lost: 50 * 81, TopsSeen: 81,
	}, *v.Cover)
	verdicts, needed := bandOf(t, out, 1), bandOf(t, out, 2)
	// m: the Earth's curve lowers the wall and what stands behind it by up to
	// 0.06 m here, and refraction raises them again by an eighth
	const curve = 0.08
	for row := range 81 {
		for column := range 101 {
			want := 1.0
			if column > wall {
				want = 2
				// from the eye over the wall's top
				assert.InDelta(t, eye+(tall-eye)*float64(column-10)/(wall-10), needed.Elevation(column, row), curve)
			}
			require.InDelta(t, want, verdicts.Elevation(column, row), 0, "%d %d", column, row)
		}
	}
	assert.Contains(t, gdalProgram(t, "gdalinfo", out), "3 not known; over what stands on the ground: wall.tif")

	// seen from both sides of it: each its own ground
	both := ask("--cover", trees, written(t, f, 90, 40))
	require.Len(t, both.SeenBy, 3)
	assert.EqualValues(t, 81, both.SeenBy[2].Posts, "the wall's top alone is seen from both sides")
	assert.EqualValues(t, 100*81, both.SeenBy[1].Posts)
}

// TestAClearingInAWood: in a wood all over, the eye sees the ground of its
// clearing and the first trees round it, and nothing else.
func TestAClearingInAWood(t *testing.T) {
	t.Parallel()
	ground, f := plain(t)
	trees := rasterFile(t, "wood.tif", f, func(column, row int) float64 { return 20 })
	out := filepath.Join(t.TempDir(), "seen.tif")
	for _, radius := range []float64{0, 55} {
		var a answer.ViewshedAnswer
		demoFillJSON(t, &a, "viewshed", written(t, f, 50.5, 40.5), "--dem", ground, "--cover", trees, "--clearing", fmt.Sprint(radius)+"m", "-o", out, "--json")
		verdicts := bandOf(t, out, 1)
		for row := range 81 {
			for column := range 101 {
				d := 10 * math.Hypot(float64(column)-50.5, float64(row)-40.5) // m, on the grid: 0.04 % off
				switch cell := d < 8; {
				case cell || d < radius-0.1:
					require.InDelta(t, 1, verdicts.Elevation(column, row), 0, "the clearing, %d %d", column, row)
				case d > radius+25: // trees stand in front of trees as high
					require.InDelta(t, 2, verdicts.Elevation(column, row), 0, "%d %d", column, row)
				}
			}
		}
		assert.Positive(t, a.Views[0].Cover.TopsSeen)
		assert.EqualValues(t, a.Views[0].Hidden, a.Views[0].Cover.Lost)
	}
}

// woods are patches of trees laid over the Cumberland posts, with a hole where
// nothing is known: heights by column and row.
func woods(f *dem.Frame) (at func(column, row int) float64) {
	r := rand.New(rand.NewPCG(7, 1))
	heights := make([]float64, f.Columns*f.Rows)
	for range 400 {
		c, w, tall := r.IntN(f.Columns), r.IntN(f.Rows), 8+22*r.Float64()
		for i := range heights {
			if math.Hypot(float64(i%f.Columns-c), float64(i/f.Columns-w)) < 5 {
				heights[i] = tall
			}
		}
	}
	return func(column, row int) float64 {
		if column > 300 && column < 306 {
			return math.NaN()
		}
		return heights[row*f.Columns+column]
	}
}

func demoGrid(t *testing.T) *dem.Grid {
	t.Helper()
	r, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	require.NoError(t, err)
	defer r.Close()
	g, err := r.Read(t.Context(), r.Layout().Whole())
	require.NoError(t, err)
	return g
}

// TestViewshedOverCoverIsSightOverCover: at posts of open ground, where
// neither asks at a treetop, both commands say the same.
func TestViewshedOverCoverIsSightOverCover(t *testing.T) {
	t.Parallel()
	f := demoGrid(t).Frame
	at := woods(&f)
	trees := rasterFile(t, "woods.tif", &f, at)
	out := filepath.Join(t.TempDir(), "seen.tif")
	from := written(t, &f, 219.3, 297.6) // a tower on a hill
	var a answer.ViewshedAnswer
	demoFillJSON(t, &a, "viewshed", from, "--eye", "90m", "--cover", trees, "--clearing", "150m", "-o", out, "--json")
	seen := bandOf(t, out, 1)
	require.Equal(t, f.Columns, seen.Columns)
	r := rand.New(rand.NewPCG(3, 9))
	counts, changed := map[string]int{}, 0
	for tries := 0; counts["visible"] < 25 || counts["hidden"] < 25 || counts["unknown"] < 10; tries++ {
		require.Less(t, tries, 100000, "%v", counts)
		column, row := r.IntN(f.Columns-1), r.IntN(f.Rows-1)
		verdict := map[float64]string{1: "visible", 2: "hidden", 3: "unknown"}[seen.Elevation(column, row)]
		if counts[verdict] >= 25 || !open(at, &f, column, row) {
			continue // the sight clears 150 m round its target: no tree may be there
		}
		counts[verdict]++
		var s sightAnswer
		demoFillJSON(t, &s, "sight", from, written(t, &f, float64(column), float64(row)), "--eye", "90m", "--cover", trees, "--clearing", "150m", "--json")
		require.NotNil(t, s.OverCover)
		assert.Equal(t, verdict, s.OverCover.Sight.Verdict, "%d %d", column, row)
		if s.OverCover.Depends {
			changed++
		}
	}
	assert.Positive(t, changed, "the cover matters to some")
	assert.Positive(t, a.Views[0].Cover.Gained)
	assert.Positive(t, a.Views[0].Cover.Lost)
	assert.Positive(t, a.Views[0].Cover.UnknownCover)
	assert.Zero(t, a.Views[0].VoidPosts)
}

// open reports whether no tree stands, and all is known, within 3 posts, over
// 150 m.
func open(at func(column, row int) float64, f *dem.Frame, column, row int) bool {
	for r := max(0, row-3); r <= min(f.Rows-1, row+3); r++ {
		for c := max(0, column-3); c <= min(f.Columns-1, column+3); c++ {
			if at(c, r) != 0 {
				return false
			}
		}
	}
	return true
}

// TestCoverSaysWhatItIs: text, GeoJSON and map name the cover and what it
// changes, in lines that fit; cover that looks wrong is doubted; nothing of it
// without --cover.
func TestCoverSaysWhatItIs(t *testing.T) {
	t.Parallel()
	f := demoGrid(t).Frame
	trees := rasterFile(t, "woods.tif", &f, woods(&f))
	folder := t.TempDir()
	for _, c := range []struct {
		arguments []string
		want      []string
	}{
		{[]string{"viewshed", legFrom, "--radius", "13km"}, []string{"over what stands on the ground: woods.tif", "km² would be seen. The cover changes the verdict of", "whose cover is not known", "counted twice"}},
		{[]string{"landmarks", legFrom}, []string{"over what stands on the ground: woods.tif", "Hidden by what stands on the ground", "Over the bare ground: visible; it depends", "of 256 marks depends on it"}},
		{[]string{"skyline", legFrom}, []string{"over what stands on the ground: woods.tif", "it makes the skyline on", "and raises that of the bare ground by a tenth of a degree or more on", "cover woods.tif, up to"}},
		{[]string{"landmarks", legFrom, "--bearing", "190"}, []string{"of this line would be seen, not"}},
	} {
		a := run(t, append(c.arguments, "--cover", trees)...)
		require.Equal(t, exitOK, a.code, a.err)
		text := strings.Join(strings.Fields(a.out), " ")
		for _, want := range c.want {
			assert.Contains(t, strings.ToLower(text), strings.ToLower(want), "%v", c.arguments)
		}
		for _, line := range strings.Split(a.out, "\n") {
			assert.LessOrEqual(t, utf8.RuneCountInString(line), 80, "%v: %s", c.arguments, line)
		}
		a = run(t, c.arguments...)
		require.Equal(t, exitOK, a.code, a.err)
		assert.NotContains(t, strings.ToLower(a.out), "cover", "%v", c.arguments)
	}
	assert.Equal(t, exitUsage, run(t, "sheet", legFrom, "--cover", trees, "-o", filepath.Join(folder, "sheet.svg")).code, "nothing on it would be over the cover")
	for _, name := range []string{"seen.svg", "seen.geojson"} {
		path := filepath.Join(folder, name)
		a := run(t, "viewshed", legFrom, legTo, "--radius", "6km", "--cover", trees, "-o", path)
		require.Equal(t, exitOK, a.code, a.err)
		body, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Contains(t, string(body), "woods.tif")
	}
	body, err := os.ReadFile(filepath.Join(folder, "seen.geojson"))
	require.NoError(t, err)
	var collection struct {
		OverCover answer.CoverUsed `json:"over_cover"`
		Features  []struct {
			Properties map[string]any `json:"properties"`
		} `json:"features"`
	}
	require.NoError(t, json.Unmarshal(body, &collection))
	assert.Positive(t, collection.OverCover.Standing)
	require.NotEmpty(t, collection.Features)
	for _, feature := range collection.Features {
		assert.Equal(t, "woods.tif", feature.Properties["over_cover"])
	}
	// a raster of elevations is no cover
	var a answer.ViewshedAnswer
	elevations := rasterFile(t, "elevations.tif", &f, func(int, int) float64 { return 400 })
	demoFillJSON(t, &a, "viewshed", legFrom, "--radius", "3km", "--cover", elevations, "--json")
	assert.Contains(t, strings.Join(a.OverCover.Warnings, "\n"), "does it hold elevations")
	nothing := rasterFile(t, "nothing.tif", &f, func(int, int) float64 { return 0 })
	demoFillJSON(t, &a, "viewshed", legFrom, "--radius", "3km", "--cover", nothing, "--json")
	assert.Contains(t, strings.Join(a.OverCover.Warnings, "\n"), "nothing standing")
	assert.Zero(t, a.Views[0].Cover.Changed)
}

// TestCoverAndFilledGround: both are counted, and what rests on filled posts
// is found over the cover.
func TestCoverAndFilledGround(t *testing.T) {
	t.Parallel()
	path := holedDemo(t, crestHole, lowHole)
	f := demoGrid(t).Frame
	trees := rasterFile(t, "none.tif", &f, func(int, int) float64 { return 0 })
	var bare, over answer.ViewshedAnswer
	question := []string{"viewshed", filledFrom, "--radius", "5km", "--dem", path, "--fill-voids", "--json"}
	demoFillJSON(t, &bare, question...)
	demoFillJSON(t, &over, append(question, "--cover", trees)...)
	require.NotNil(t, over.Views[0].Filled)
	assert.Equal(t, bare.Views[0].Filled, over.Views[0].Filled, "nothing stands there: the same answer")
	assert.Positive(t, over.Views[0].Filled.Posts)
	trees = rasterFile(t, "trees.tif", &f, func(column, row int) float64 { return float64(10 * (column % 2)) })
	demoFillJSON(t, &over, append(question, "--cover", trees)...)
	assert.Equal(t, bare.Views[0].Filled.Posts, over.Views[0].Filled.Posts)
	assert.NotEqual(t, bare.Views[0].Visible, over.Views[0].Visible)
}

// TestLandmarksOverCoverAreSightsOverCover: every mark of landmarks has the
// verdict that sight gives of it, over the cover and without.
func TestLandmarksOverCoverAreSightsOverCover(t *testing.T) {
	t.Parallel()
	f := demoGrid(t).Frame
	trees := rasterFile(t, "woods.tif", &f, woods(&f))
	places := filepath.Join(t.TempDir(), "places.csv")
	require.NoError(t, os.WriteFile(places, []byte("name,lat,lon\nHut,36.2451,-84.2883\nTower,36.2313,-84.3021\n"), 0o600))
	const clearing = "120m"
	var a landmarksAnswer
	demoFillJSON(t, &a, "landmarks", legFrom, "--eye", "40m", "--places", places, "--cover", trees, "--clearing", clearing, "--json")
	require.NotNil(t, a.DependOnCover)
	depend, score := 0, math.Inf(1)
	for i, m := range a.Marks {
		if m.DependsOnCover {
			depend++
		}
		if m.Sight.Verdict == "visible" && !m.TooSmall {
			assert.LessOrEqual(t, m.Score, score, "ranked by what is seen over the cover")
			score = m.Score
		}
		if i%12 != 0 && m.At.Name == "" && !m.DependsOnCover {
			continue
		}
		// a summit is a post: its place to the last digit, for a millimetre
		// behind the crest it is hidden
		at := fmt.Sprintf("%.7f,%.7f", m.At.Lat, m.At.Lon)
		if m.At.Name == "" {
			column, row, err := f.Locate(geodesy.LatLon{Lat: geodesy.Degrees(m.At.Lat), Lon: geodesy.Degrees(m.At.Lon)})
			require.NoError(t, err)
			at = written(t, &f, math.Round(column), math.Round(row))
		}
		var s sightAnswer
		demoFillJSON(t, &s, "sight", legFrom, at, "--eye", "40m", "--cover", trees, "--clearing", clearing, "--json")
		assert.Equal(t, s.OverCover.Sight.Verdict, m.Sight.Verdict, "%+v", m.At)
		assert.Equal(t, s.OverCover.Depends, m.DependsOnCover)
		require.NotNil(t, m.OverBare)
		assert.Equal(t, s.Sight.Verdict, m.OverBare.Verdict)
		if m.Sight.ExtraHeightM != nil && s.OverCover.Sight.ExtraHeightM != nil {
			assert.InDelta(t, *s.OverCover.Sight.ExtraHeightM, *m.Sight.ExtraHeightM, 0.05) // m: places written to 1e-7 degrees
		}
	}
	assert.Equal(t, depend, *a.DependOnCover)
	assert.Positive(t, depend)
}

// TestASkylineOfTrees: a wall of trees makes the skyline where it stands, as
// high as its top is over the eye.
func TestASkylineOfTrees(t *testing.T) {
	t.Parallel()
	ground, f := plain(t)
	const wall, tall, eye = 50, 20.0, 1.6
	trees := rasterFile(t, "wall.tif", f, func(column, row int) float64 {
		if column == wall {
			return tall
		}
		return 0
	})
	folder := t.TempDir()
	var a skylineAnswer
	demoFillJSON(t, &a, "skyline", written(t, f, 10, 40), "--dem", ground, "--cover", trees, "-o", filepath.Join(folder, "sky.csv"), "--json")
	require.NotNil(t, a.Cover)
	require.Len(t, a.Horizon, 360)
	// degrees: the grid is turned by 1.6 degrees of true north, and the Earth
	// curves
	const turned, tolerance = 1.6, 0.02
	top := geodesy.Atan2(tall-eye, 10*(wall-10))
	assert.InDelta(t, float64(top), *a.Highest.AngleDeg, tolerance)
	assert.InDelta(t, 90, a.Highest.TrueDeg, turned+1)
	assert.InDelta(t, float64(top), a.Cover.MostDeg, 0.3, "over the plain's edge, a little below level")
	assert.InDelta(t, 900, a.Cover.Raised, 20, "a right angle, a tenth of a degree apart")
	assert.Zero(t, a.Cover.NotKnown)
	for _, h := range a.Horizon {
		require.NotNil(t, h.BareAngleDeg)
		assert.Less(t, *h.BareAngleDeg, 0.0, "%v", h.TrueDeg)
		switch off := math.Abs(h.TrueDeg - 90); {
		case off < 45-turned-1:
			assert.Greater(t, *h.AngleDeg, 1.8, "%v", h.TrueDeg)
		case off > 45+turned+1:
			assert.InDelta(t, *h.BareAngleDeg, *h.AngleDeg, 0, "%v", h.TrueDeg)
		}
	}
	body, err := os.ReadFile(filepath.Join(folder, "sky.csv"))
	require.NoError(t, err)
	assert.Contains(t, string(body), "bare_ground_angle_deg,over_cover\n")
	assert.Contains(t, string(body), ",wall.tif\n")
	out := filepath.Join(folder, "sky.svg")
	require.Equal(t, exitOK, run(t, "skyline", written(t, f, 10, 40), "--dem", ground, "--cover", trees, "-o", out).code)
	body, err = os.ReadFile(out)
	require.NoError(t, err)
	assert.Contains(t, string(body), "wall.tif")
}

// TestOtherAnswersOverCover: a bearing, a fix, a route and a sheet over a wall
// of trees.
func TestOtherAnswersOverCover(t *testing.T) {
	t.Parallel()
	ground, f := plain(t)
	const wall, tall, eye = 50, 20.0, 1.6
	trees := rasterFile(t, "wall.tif", f, func(column, row int) float64 {
		if column == wall {
			return tall
		}
		return 0
	})
	from, beyond, before := written(t, f, 10, 40), written(t, f, 90, 40), written(t, f, 30, 60)
	over := []string{"--dem", ground, "--cover", trees, "--json"}

	var look lookAnswer
	demoFillJSON(t, &look, append([]string{"sight", from, "--bearing", "91", "--radius", "700m"}, over...)...)
	require.NotNil(t, look.OverCover)
	require.NotNil(t, look.Ground.SkylineM)
	assert.InDelta(t, 10*(wall-10), *look.Ground.SkylineM, 1) // m: the bearing is 1.6 degrees off the grid's
	assert.InDelta(t, 100+tall, *look.Ground.SkylineElevation, 0.1)
	seen := func(j *groundSeenJSON) (sum float64) {
		for _, s := range j.Stretches {
			if s.Verdict == "visible" {
				sum += s.ToM - s.FromM
			}
		}
		return sum
	}
	assert.InDelta(t, 700, seen(look.GroundBare), 1)
	assert.InDelta(t, 10*(wall-10), seen(look.Ground), 1)

	var marks landmarksAnswer
	demoFillJSON(t, &marks, append([]string{"landmarks", from, "--bearing", "91", "--radius", "700m"}, over...)...)
	assert.Equal(t, look.Ground, marks.Ground)
	assert.Equal(t, look.GroundBare, marks.GroundBare)

	var fixed fixSeen
	demoFillJSON(t, &fixed, append([]string{"fix", "--intersect", "--bearing", from + "=91.6", "--bearing", written(t, f, 10, 70) + "=72"}, over...)...)
	column, _, err := f.Locate(geodesy.LatLon{Lat: geodesy.Degrees(fixed.Place.Lat), Lon: geodesy.Degrees(fixed.Place.Lon)})
	require.NoError(t, err)
	require.Greater(t, column, wall+10.0, "behind the wall")
	for _, b := range fixed.Bearings {
		require.NotNil(t, b.OverCover)
		assert.Equal(t, "visible", b.Sight)
		assert.Equal(t, "hidden", b.OverCover.Sight.Verdict)
		assert.True(t, b.OverCover.Depends)
	}

	trip := filepath.Join(t.TempDir(), "trip.csv")
	require.NoError(t, os.WriteFile(trip, []byte("name,lat,lon\nA,"+from+"\nB,"+beyond+"\nC,"+before+"\n"), 0o600))
	var route routeTold
	demoFillJSON(t, &route, append([]string{"route", trip}, over...)...)
	require.Len(t, route.Legs, 2)
	for _, l := range route.Legs {
		require.NotNil(t, l.OverCover)
		assert.True(t, l.OverCover.Depends)
	}
	text := run(t, "route", trip, "--dem", ground, "--cover", trees)
	require.Equal(t, exitOK, text.code, text.err)
	assert.Contains(t, strings.Join(strings.Fields(text.out), " "), "Sight of the end: with what stands on the ground (wall.tif) it is hidden, 38 m behind what stands on the ground 400 m off, 20 m high there. Over the bare ground it is visible: this sight depends on what stands there.")

	g := demoGrid(t)
	wood := rasterFile(t, "woods.tif", &g.Frame, woods(&g.Frame))
	out := filepath.Join(t.TempDir(), "sheet.svg")
	var page answer.SheetAnswer
	demoFillJSON(t, &page, "sheet", legFrom, "--hidden", "--cover", wood, "-o", out, "--json")
	assert.Equal(t, "woods.tif", page.OverCover)
	body, err := os.ReadFile(out)
	require.NoError(t, err)
	assert.Contains(t, string(body), "(woods.tif)")
	assert.Contains(t, string(body), "counted twice")
}

// TestCoverSaysWhatBlocks: across a plain with a wall of trees, a bank and a
// hole in what is known of the cover, every answer names what really blocks,
// by similar triangles, in text and JSON.
func TestCoverSaysWhatBlocks(t *testing.T) {
	t.Parallel()
	ground, f := plain(t)
	bank := rasterFile(t, "bank.tif", f, func(column, _ int) float64 {
		if column == 60 {
			return 110
		}
		return 100
	})
	wall := rasterFile(t, "wall.tif", f, func(column, _ int) float64 {
		if column == 50 {
			return 20
		}
		return 0
	})
	gap := rasterFile(t, "gap.tif", f, func(column, _ int) float64 {
		if column == 50 {
			return math.NaN()
		}
		return 0
	})
	hedge := rasterFile(t, "hedge.tif", f, func(column, _ int) float64 {
		if column == 60 {
			return 5
		}
		return 0
	})
	// the eye is 1.6 m over column 10, the target on the plain at column 90: the
	// wall's top stands 38.4 m over the line there, the bank's 15 m, with the
	// hedge on it 23 m; refraction takes off the Earth's curve
	from, to := written(t, f, 10, 40), written(t, f, 90, 40)
	const metre = 0.1 // m: posts are 10 m of the grid apart, 0.04 % off
	for _, c := range []struct {
		ground, cover, by string
		extra, bare, tall float64
		says              []string // of sight
		mark              string   // of landmarks
	}{
		{ground, wall, "cover", 38.4, 0, 20,
			[]string{"it is hidden, 38 m behind what stands on the ground 400 m off, 20 m high there. Over the bare ground it is visible: this sight depends on what stands there"},
			"hidden by 38 m behind what stands on the ground 400 m off, 20 m high there. Over the bare ground: visible; it depends on what stands there."},
		{bank, wall, "cover", 38.4, 15.04, 20,
			[]string{"it is hidden too, 38 m behind what stands on the ground 400 m off, 20 m high there; the bare ground alone would hide it by 15 m"},
			"hidden by 38 m behind what stands on the ground 400 m off, 20 m high there; the bare ground alone would hide it by 15 m."},
		{bank, hedge, "ground and cover", 23.04, 15.04, 5,
			[]string{"it is hidden too, 23 m behind ground 500 m off and the 5.0 m that stand on it; the bare ground alone would hide it by 15 m"},
			"hidden by 23 m behind ground 500 m off and the 5.0 m that stand on it; the bare ground alone would hide it by 15 m."},
		{bank, gap, "ground", 15.04, 0, 0,
			[]string{"it is hidden too, at least 15 m behind ground 500 m off"},
			"behind ground 500 m off."},
		{ground, gap, "", 0, 0, 0,
			[]string{"it is not known, because what stands on the ground on the way is not. Over the bare ground it is visible"},
			"the data does not say, for what stands on the ground on the way is not known."},
	} {
		name := filepath.Base(c.ground) + " " + filepath.Base(c.cover)
		arguments := []string{from, to, "--dem", c.ground, "--cover", c.cover, "--refraction", "1"}
		var s sightAnswer
		demoFillJSON(t, &s, append(append([]string{"sight"}, arguments...), "--json")...)
		got := s.OverCover.Sight
		assert.Equal(t, c.by, got.BlockedBy, name)
		if c.tall > 0 {
			require.NotNil(t, got.BlockerCoverM, name)
			assert.InDelta(t, c.extra, *got.ExtraHeightM, metre, name)
			assert.InDelta(t, c.tall, *got.BlockerCoverM, 0.05, name)
			assert.InDelta(t, c.bare, *got.BareExtraM, metre, name)
		} else {
			assert.Nil(t, got.BlockerCoverM, name)
			assert.Equal(t, c.by == "", got.CoverUnknown, name)
		}
		for _, command := range []string{"sight", "leg"} {
			a := run(t, append([]string{command}, arguments...)...)
			require.Equal(t, exitOK, a.code, a.err)
			text := strings.Join(strings.Fields(a.out), " ")
			for _, want := range c.says {
				assert.Contains(t, text, want, "%s %s", name, command)
			}
			for _, line := range strings.Split(a.out, "\n") {
				assert.LessOrEqual(t, utf8.RuneCountInString(line), report.Width, "%s: %s", name, line)
			}
		}
		places := filepath.Join(t.TempDir(), "places.csv")
		require.NoError(t, os.WriteFile(places, []byte("name,lat,lon\nPost,"+to+"\n"), 0o600))
		a := run(t, "landmarks", from, "--dem", c.ground, "--cover", c.cover, "--refraction", "1", "--places", places, "--with-hidden")
		require.Equal(t, exitOK, a.code, a.err)
		assert.Contains(t, strings.Join(strings.Fields(a.out), " "), c.mark, name)
	}

	// along a bearing, and round about
	over := []string{"--dem", ground, "--cover", wall, "--refraction", "1"}
	var look lookAnswer
	demoFillJSON(t, &look, append([]string{"sight", from, "--bearing", "91.6", "--json"}, over...)...)
	assert.InDelta(t, 20, look.Ground.SkylineCoverM, 0.05)
	assert.InDelta(t, 10, look.Ground.TopsSeenM, metre, "up to the wall's top from the post before it")
	assert.InDelta(t, 100, *look.Ground.Skyline.ElevationM, 0.05, "the ground's")
	assert.Zero(t, look.GroundBare.SkylineCoverM)
	a := run(t, append([]string{"sight", from, "--bearing", "91.6"}, over...)...)
	text := strings.Join(strings.Fields(a.out), " ")
	assert.Contains(t, text, "skyline what stands on the ground 400 m away, 120 m high (20 m of it above the ground)")
	assert.Contains(t, text, "seen ground, or the top of what stands on it, from 0 m to 400 m")
	demoFillJSON(t, &look, "sight", from, "--bearing", "91.6", "--dem", ground, "--cover", gap, "--json")
	assert.InDelta(t, 20, look.Ground.CoverUnknownM, metre, "a post either way")
	a = run(t, "sight", from, "--bearing", "91.6", "--dem", ground, "--cover", gap)
	assert.Contains(t, strings.Join(strings.Fields(a.out), " "), "on 20 m of the line what stands on the ground is not known")
	a = run(t, append([]string{"skyline", from}, over...)...)
	text = strings.Join(strings.Fields(a.out), " ")
	assert.Contains(t, text, "what stands on the ground 400 m off, its top at 120 m, 20 m above it")
	assert.Contains(t, text, "cover: how much of the elevation is what stands on the ground")
	var line skylineAnswer
	demoFillJSON(t, &line, append([]string{"skyline", from, "--json"}, over...)...)
	walls := 0
	for _, h := range line.Horizon {
		if h.CoverM > 0 {
			walls++
			assert.InDelta(t, 120, *h.ElevationM, 20, "%v", h.TrueDeg)
			assert.InDelta(t, 90+1.6, h.TrueDeg, 46, "on the wall's side")
		}
	}
	assert.InDelta(t, 90, walls, 2, "a right angle")
	assert.InDelta(t, 900, line.Cover.Tops, 20)
}

// TestProfilesOverCover: what is drawn is what is said: the wall, the line
// stopped at it, and all behind it out of sight.
func TestProfilesOverCover(t *testing.T) {
	t.Parallel()
	ground, f := plain(t)
	wall := rasterFile(t, "wall.tif", f, func(column, _ int) float64 {
		if column == 50 {
			return 20
		}
		return 0
	})
	from, to := written(t, f, 10, 40), written(t, f, 90, 40)
	out := filepath.Join(t.TempDir(), "profile.svg")
	for _, question := range [][]string{{"sight", from, to}, {"sight", from, "--bearing", "91.6", "--radius", "800m"}, {"leg", from, to}} {
		a := run(t, append(question, "--dem", ground, "--cover", wall, "--plot", out)...)
		require.Equal(t, exitOK, a.code, a.err)
		body, err := os.ReadFile(out)
		require.NoError(t, err)
		for _, want := range []string{"What stands on it", "Out of sight over what stands there", "over what stands on the ground (wall.tif)"} {
			assert.Contains(t, string(body), want, "%v", question)
		}
		a = run(t, append(question, "--dem", ground, "--plot", out)...)
		require.Equal(t, exitOK, a.code, a.err)
		body, err = os.ReadFile(out)
		require.NoError(t, err)
		assert.NotContains(t, string(body), "stands", "%v", question)
	}

	place := func(column float64) answer.Place {
		p, err := f.Place(column, 40)
		require.NoError(t, err)
		return answer.PlaceAt(p)
	}
	g, err := answer.Open(t.Context(), answer.Data{Paths: []string{ground}}, answer.Reach{})
	require.NoError(t, err)
	defer g.Close()
	leg, err := answer.Leg(t.Context(), g, answer.LegRequest{From: place(10), To: place(90), Sighting: answer.DefaultSighting(), Walk: answer.DefaultWalk(),
		Cover: answer.Cover{File: wall}})
	require.NoError(t, err)
	d, err := answer.ProfileDrawing(leg.Profile())
	require.NoError(t, err)
	require.Len(t, d.Cover, len(d.Elevations))
	const metre = 0.5 // m: the grid's scale, over 800 m
	for i, at := range d.Distances {
		assert.InDelta(t, 100, d.Elevations[i], 1e-6, "the ground's")
		want := math.Max(0, 20*(1-math.Abs(at-400)/10)) // m: straight to the posts beside it
		assert.InDelta(t, want, d.Cover[i], 1)
	}
	require.Len(t, d.Hidden, 1)
	assert.InDelta(t, 400, d.Hidden[0][0], metre)
	assert.InDelta(t, 800, d.Hidden[0][1], metre)
	assert.Empty(t, d.Unknown)
	require.NotNil(t, d.Sight)
	// the line to the plain's far end falls 0.8 m to the wall, which it meets
	// 0.8 m up its 20 m in 10 m
	assert.InDelta(t, 390+0.4, d.Sight.StoppedAt, metre)
	// and the wall hides it, at its top
	assert.InDelta(t, 400, d.Sight.BlockedAt, metre)
	assert.InDelta(t, 120, d.Sight.BlockerElevation, 1e-3)
}
