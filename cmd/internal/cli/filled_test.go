package cli

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/answer"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/testdata/cumberland"
)

// The leg behind a ridge, a hole on its line where ground hides its end, and
// one beside its start.
const (
	filledFrom = ridgeFrom
	filledTo   = ridgeTo
)

// holedDemo is the Cumberland ground with square holes, 7 posts wide, about some
// places, written by GDAL.
func holedDemo(t *testing.T, about ...geodesy.LatLon) string {
	t.Helper()
	r, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	require.NoError(t, err)
	defer r.Close()
	g, err := r.Read(t.Context(), r.Layout().Whole())
	require.NoError(t, err)
	for _, p := range about {
		column, row, err := g.Locate(p)
		require.NoError(t, err)
		for dr := -3; dr <= 3; dr++ {
			for dc := -3; dc <= 3; dc++ {
				g.Elevations[(int(math.Round(row))+dr)*g.Columns+int(math.Round(column))+dc] = float32(math.NaN())
			}
		}
	}
	path := filepath.Join(t.TempDir(), "holed.tif")
	void := -32768.0
	require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), path, &g.Frame, []gdalio.Band{{Float32: g.Elevations, NoData: &void}}))
	return path
}

var (
	crestHole = geodesy.LatLon{Lat: 36.35667, Lon: -84.38690} // 3.46 km along the leg
	lowHole   = geodesy.LatLon{Lat: 36.34000, Lon: -84.39200}
	skyHole   = geodesy.LatLon{Lat: 36.36000, Lon: -84.30000} // a ridge on the skyline from its start
)

func demoFillJSON(t *testing.T, into any, arguments ...string) {
	t.Helper()
	a := run(t, arguments...)
	require.Equal(t, exitOK, a.code, a.err)
	require.NoError(t, json.Unmarshal([]byte(a.out), into))
}

// TestFilledGroundPassed: what a leg passes on filled ground, and its highest
// and lowest ground there, are marked so in text and JSON; elsewhere, and
// without --fill-voids or voids, nothing is.
func TestFilledGroundPassed(t *testing.T) {
	t.Parallel()
	ask := func(arguments ...string) (legTold, string) {
		arguments = append([]string{"leg", filledFrom, filledTo}, arguments...)
		var a legTold
		demoFillJSON(t, &a, append(arguments, "--json")...)
		text := run(t, append(arguments, "--full")...)
		require.Equal(t, exitOK, text.code, text.err)
		return a, strings.Join(strings.Fields(text.out), " ")
	}
	path := holedDemo(t, crestHole)
	holed, text := ask("--dem", path, "--fill-voids", "--vertical-error", "9m")
	var on, off int
	stretch := holed.Filled.Stretches[0]
	for _, p := range holed.Passed {
		inside := p.AtM >= stretch.FromM-1 && p.AtM <= stretch.ToM+1 // whole metres
		if p.Filled {
			on++
			assert.True(t, inside, "%+v", p)
		} else {
			off++
			assert.False(t, inside && p.AtM > stretch.FromM+1 && p.AtM < stretch.ToM-1, "%+v", p)
		}
	}
	assert.Positive(t, on)
	assert.Positive(t, off)
	assert.Contains(t, text, "FILLED: on ground filled in from the rim of a void")
	assert.True(t, holed.Climb.HighestFilled, "the crest is the leg's highest ground")
	assert.False(t, holed.Climb.LowestFilled)
	assert.Contains(t, text, "FILLED the highest ground was filled in from the rim of a void")

	whole, text := ask("--fill-voids")
	for _, p := range whole.Passed {
		assert.False(t, p.Filled)
	}
	assert.False(t, whole.Climb.HighestFilled || whole.Climb.LowestFilled)
	assert.NotContains(t, text, "FILLED")

	file := filepath.Join(t.TempDir(), "r.csv")
	require.NoError(t, os.WriteFile(file, []byte("name,lat,lon\nA,"+filledFrom+"\nB,"+filledTo+"\n"), 0o600))
	for _, row := range []struct {
		dem  string
		want bool
	}{{path, true}, {holedDemo(t), false}} {
		card := run(t, "route", file, "--dem", row.dem, "--fill-voids", "--straight")
		require.Equal(t, exitOK, card.code, card.err)
		assert.Equal(t, row.want, strings.Contains(strings.Join(strings.Fields(card.out), " "), "(on filled ground)"))
	}
}

// TestFilledGroundOnALine: leg, sight and route say which of the line lies on
// filled ground, that the ground which hides the end is filled, and what the
// verdict rests on; and nothing of it without --fill-voids or without voids.
func TestFilledGroundOnALine(t *testing.T) {
	t.Parallel()
	path := holedDemo(t, crestHole, lowHole)
	var with, without, whole legTold
	demoFillJSON(t, &with, "leg", filledFrom, filledTo, "--dem", path, "--fill-voids", "--vertical-error", "9m", "--json")
	demoFillJSON(t, &without, "leg", filledFrom, filledTo, "--dem", path, "--json")
	demoFillJSON(t, &whole, "leg", filledFrom, filledTo, "--fill-voids", "--json")
	require.NotNil(t, with.Filled)
	require.Len(t, with.Filled.Stretches, 2)
	assert.Zero(t, with.UnknownM)
	// what is filled is what had no elevation
	const rounding = 0.2 // m, of the figures
	assert.InDelta(t, without.UnknownM, with.Filled.LengthM, rounding)
	require.NotNil(t, with.Sight.BlockedAtM)
	at := *with.Sight.BlockedAtM
	inside := false
	for _, s := range with.Filled.Stretches {
		inside = inside || at >= s.FromM && at <= s.ToM
	}
	assert.True(t, inside, "the ground at %v m is in %v", at, with.Filled.Stretches)
	assert.True(t, with.Sight.BlockerFilled)
	require.NotNil(t, with.Sight.Likely)
	assert.True(t, with.Sight.Likely.WithoutFilled)
	assert.Nil(t, with.Sight.Likely.Probability, "nobody knows how good filled ground is")
	require.NotNil(t, with.ElevationData.FilledPosts)
	assert.Equal(t, 98, *with.ElevationData.FilledPosts)
	assert.Nil(t, without.Filled)
	assert.Nil(t, without.ElevationData.FilledPosts)
	require.NotNil(t, whole.Filled, "asked for, and nothing to fill")
	assert.Zero(t, whole.Filled.LengthM)
	assert.False(t, whole.Sight.BlockerFilled || whole.Sight.RestsOnFilled)

	var sight sightAnswer
	demoFillJSON(t, &sight, "sight", filledFrom, filledTo, "--dem", path, "--fill-voids", "--json")
	require.NotNil(t, sight.Filled)
	assert.Equal(t, with.Filled.LengthM, sight.Filled.LengthM)
	assert.Len(t, sight.Filled.Stretches, len(with.Filled.Stretches))
	assert.True(t, sight.Sight.BlockerFilled)
	// a target seen over filled ground, and one hidden by nothing else
	column := func(lat, lon float64) string { return fmt.Sprintf("%.5f,%.5f", lat, lon) }
	demoFillJSON(t, &sight, "sight", filledFrom, column(36.34700, -84.38960), "--target-height", "150m", "--dem", path, "--fill-voids", "--json")
	assert.Equal(t, "visible", sight.Sight.Verdict)
	assert.True(t, sight.Sight.RestsOnFilled)

	var route routeTold
	card := filepath.Join(t.TempDir(), "trip.csv")
	require.NoError(t, os.WriteFile(card, []byte("name,lat,lon\nA,"+filledFrom+"\nB,"+filledTo+"\n"), 0o600))
	demoFillJSON(t, &route, "route", card, "--dem", path, "--fill-voids", "--json")
	require.NotNil(t, route.Legs[0].Filled)
	assert.Equal(t, with.Filled.LengthM, route.Legs[0].Filled.LengthM)
	require.NotNil(t, route.ElevationData.FilledPosts)

	for _, c := range []struct {
		arguments []string
		want      []string
	}{
		{[]string{"leg", "--full", filledFrom, filledTo}, []string{"of the line lies on ground filled in", "the ground named was filled in", "void posts were filled"}},
		{[]string{"sight", filledFrom, filledTo}, []string{"of the line lies on ground filled in", "filled ground is left out: its accuracy is unknown"}},
		{[]string{"sight", filledFrom, "--bearing", "13.8"}, []string{"of the line lies on ground filled in"}},
		{[]string{"route", card}, []string{"FILLED:", "Sight of the end: the ground named was"}},
	} {
		a := run(t, append(c.arguments, "--dem", path, "--vertical-error", "9m", "--fill-voids")...)
		require.Equal(t, exitOK, a.code, a.err)
		text := strings.Join(strings.Fields(a.out), " ")
		for _, want := range c.want {
			assert.Contains(t, text, want, "%v", c.arguments)
		}
		for _, line := range strings.Split(a.out, "\n") {
			assert.LessOrEqual(t, utf8.RuneCountInString(line), 80, "%v: %s", c.arguments, line)
		}
		a = run(t, append(c.arguments, "--dem", path)...)
		require.Equal(t, exitOK, a.code, a.err)
		assert.NotContains(t, strings.ToLower(a.out), "filled", "%v", c.arguments)
	}
	out := filepath.Join(t.TempDir(), "leg.svg")
	require.Equal(t, exitOK, run(t, "leg", filledFrom, filledTo, "--dem", path, "--fill-voids", "--marks", "0", "--plot", out).code)
	body, err := os.ReadFile(out)
	require.NoError(t, err)
	assert.Contains(t, string(body), "Filled in from the rim of a void")
}

// TestFilledViewshed: counted in text and JSON, a band of its own, a feature
// of its own, dots and a word on the map; none of it without --fill-voids.
func TestFilledViewshed(t *testing.T) {
	t.Parallel()
	path := holedDemo(t, crestHole, lowHole)
	folder := t.TempDir()
	ask := func(file string, extra ...string) (answer.ViewshedAnswer, string) {
		file = filepath.Join(folder, file)
		var a answer.ViewshedAnswer
		demoFillJSON(t, &a, append([]string{"viewshed", filledFrom, "--radius", "5km", "--dem", path, "-o", file, "--json"}, extra...)...)
		return a, file
	}
	a, file := ask("with.tif", "--fill-voids", "--needed")
	f := a.Views[0].Filled
	require.NotNil(t, f)
	assert.Equal(t, int64(98), f.Posts)
	assert.Equal(t, f.Posts, f.Visible+f.Hidden+f.Unknown)
	assert.Positive(t, f.Visible)
	assert.Positive(t, f.VisibleRest+f.HiddenRest)
	b, plain := ask("without.tif", "--needed")
	assert.Nil(t, b.Views[0].Filled)
	// what rests on filled posts is what was not known for the voids
	assert.Equal(t, b.Views[0].DependOnVoids-a.Views[0].DependOnVoids, f.VisibleRest+f.HiddenRest)
	t.Run("band", func(t *testing.T) {
		translate, err := exec.LookPath("gdal_translate")
		if err != nil {
			t.Skip("gdal_translate is not installed (make test installs it)")
		}
		one := filepath.Join(folder, "band.tif")
		band := func(path string, n int) bool {
			return exec.Command(translate, "-q", "-b", strconv.Itoa(n), path, one).Run() == nil
		}
		bands := func(path string) int {
			n := 0
			for band(path, n+1) {
				n++
			}
			return n
		}
		assert.Equal(t, 2, bands(plain))
		require.Equal(t, 3, bands(file))
		require.True(t, band(file, 3))
		r, err := gdalio.Open(one, gdalio.Options{})
		require.NoError(t, err)
		g, err := r.Read(t.Context(), r.Layout().Whole())
		require.NoError(t, err)
		require.NoError(t, r.Close())
		sum, other := 0, 0
		for i, v := range g.Elevations {
			switch v {
			case 1:
				sum++
				at, err := g.Place(float64(i%g.Columns), float64(i/g.Columns))
				require.NoError(t, err)
				near := min(geodesy.Inverse(at, crestHole).Distance, geodesy.Inverse(at, lowHole).Distance)
				assert.Less(t, near, 4*93*math.Sqrt2) // m, half a hole's diagonal
			case 0:
			default:
				if v == v { // a corner of zeros is taken as void
					other++
				}
			}
		}
		assert.Equal(t, 98, sum)
		assert.Zero(t, other)
		_, file = ask("v.tif", "--fill-voids")
		assert.Equal(t, 2, bands(file))
		var several answer.ViewshedAnswer
		file = filepath.Join(folder, "both.tif")
		demoFillJSON(t, &several, "viewshed", filledFrom, filledTo, "--radius", "5km", "--dem", path, "--fill-voids", "-o", file, "--json")
		assert.Equal(t, 4, bands(file))
		require.NotNil(t, several.Views[1].Filled)

		for _, fill := range []bool{true, false} {
			arguments := []string{"viewshed", filledFrom, "--radius", "5km", "--dem", path}
			if fill {
				arguments = append(arguments, "--fill-voids")
			}
			for _, name := range []string{"v.geojson", "v.svg"} {
				file := filepath.Join(folder, name)
				out := run(t, append(arguments, "-o", file)...)
				require.Equal(t, exitOK, out.code, out.err)
				assert.Equal(t, fill, strings.Contains(out.out, "FILLED"))
				body, err := os.ReadFile(file)
				require.NoError(t, err)
				want := `"filled":true`
				if name == "v.svg" {
					want = "Filled in from the rim"
				}
				assert.Equal(t, fill, strings.Contains(string(body), want), "%s", name)
			}
		}
	})
}

// TestFilledSkyline: the samples whose ground is filled are marked, and no
// others.
func TestFilledSkyline(t *testing.T) {
	t.Parallel()
	path := holedDemo(t, skyHole)
	file := filepath.Join(t.TempDir(), "sky.csv")
	var a skylineAnswer
	demoFillJSON(t, &a, "skyline", filledFrom, "--dem", path, "--fill-voids", "--step", "0.1", "-o", file, "--json")
	require.NotNil(t, a.Filled)
	assert.Equal(t, 3600, a.Filled.Of)
	marked := 0
	for _, h := range a.Horizon {
		if h.Filled {
			marked++
			at, _ := geodesy.Direct(geodesy.LatLon{Lat: 36.3264, Lon: -84.396}, geodesy.TrueBearing(h.TrueDeg), *h.DistanceM)
			assert.Less(t, geodesy.Inverse(at, skyHole).Distance, 4.5*93*math.Sqrt2) // m, half a hole's diagonal and a cell's
		}
	}
	assert.Equal(t, a.Filled.Bearings, marked)
	assert.Positive(t, marked)
	f, err := os.Open(file)
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Equal(t, "filled", rows[0][6])
	yes := 0
	for _, row := range rows[1:] {
		if row[6] == "true" {
			yes++
		}
	}
	assert.Equal(t, marked, yes)
	out := run(t, "skyline", filledFrom, "--dem", path, "--fill-voids", "-o", strings.TrimSuffix(file, "csv")+"svg")
	require.Equal(t, exitOK, out.code, out.err)
	assert.Contains(t, strings.Join(strings.Fields(out.out), " "), fmt.Sprintf("on %d of 3600 bearings", marked))
	body, err := os.ReadFile(strings.TrimSuffix(file, "csv") + "svg")
	require.NoError(t, err)
	assert.True(t, strings.Contains(string(body), "Ground filled in from the rim of a void"))
	out = run(t, "skyline", filledFrom, "--dem", path, "-o", file)
	require.Equal(t, exitOK, out.code, out.err)
	assert.NotContains(t, out.out, "FILLED")
	plain, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.NotContains(t, string(plain), "filled")
}

// TestARoutesMarkOnFilledGround: the mark seen from the start is what the chain sets
// out on, with how sure the sight of it is; no sighting is taken on filled ground,
// which the JSON named as the mark when the chain did not.
func TestARoutesMarkOnFilledGround(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	card, places := filepath.Join(folder, "trip.csv"), filepath.Join(folder, "places.csv")
	require.NoError(t, os.WriteFile(card, []byte("lat,lon\n"+filledFrom+"\n"+filledTo+"\n"), 0o600))
	require.NoError(t, os.WriteFile(places, []byte("name,lat,lon\nMast,36.35660,-84.38700\n"), 0o600))
	for _, row := range []struct {
		dem    string
		filled bool
	}{{holedDemo(t, crestHole), true}, {holedDemo(t), false}} {
		arguments := []string{"route", card, "--straight", "--places", places, "--target-height", "40m", "--vertical-error", "9m", "--dem", row.dem, "--fill-voids"}
		var v routeTold
		demoFillJSON(t, &v, append(arguments, "--json")...)
		m := v.Legs[0].Mark
		if row.filled {
			assert.Nil(t, m)
		} else {
			require.NotNil(t, m)
			assert.Equal(t, "Mast", m.At.Name)
			assert.False(t, m.Filled)
			assert.NotNil(t, m.Sight.Likely)
		}
		if text := flat(run(t, arguments...).out); row.filled {
			assert.NotContains(t, text, "Mast")
		}
	}
}

// TestFilledMarksAndLandforms: a named place and a landform on filled ground
// say so.
func TestFilledMarksAndLandforms(t *testing.T) {
	t.Parallel()
	path := holedDemo(t, crestHole, geodesy.LatLon{Lat: 36.31250, Lon: -84.34000}) // beside the line, and on a summit
	places := filepath.Join(t.TempDir(), "places.csv")
	require.NoError(t, os.WriteFile(places, []byte("name,lat,lon\nMast,36.35660,-84.38700\nPlain,36.33583,-84.35083\n"), 0o600))
	var a landmarksAnswer
	demoFillJSON(t, &a, "landmarks", filledFrom, "--radius", "8km", "--places", places, "--target-height", "40m", "--dem", path, "--fill-voids", "--json")
	seen := map[string]bool{}
	for _, m := range a.Marks {
		if m.At.Name != "" {
			seen[m.At.Name] = m.Filled
		}
	}
	assert.Equal(t, map[string]bool{"Mast": true, "Plain": false}, seen)
	text := run(t, "landmarks", filledFrom, "--radius", "8km", "--places", places, "--target-height", "40m", "--dem", path, "--fill-voids")
	assert.Contains(t, strings.Join(strings.Fields(text.out), " "), "FILLED: Its ground was filled in from the rim of a void.")
	plain := run(t, "landmarks", filledFrom, "--radius", "8km", "--places", places, "--dem", path)
	assert.NotContains(t, strings.ToLower(plain.out), "filled")

	var f answer.FeaturesAnswer
	file := filepath.Join(t.TempDir(), "forms.geojson")
	demoFillJSON(t, &f, "dem", "features", "--around", "36.3125,-84.3400", "--min-confidence", "0.1", "--dem", path, "--fill-voids", "-o", file, "--json")
	on := 0
	for _, j := range f.Features {
		if j.Filled {
			on++
		}
	}
	assert.Positive(t, on)
	assert.Less(t, on, len(f.Features))
	body, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.True(t, strings.Contains(string(body), "it lies on ground filled in"))
	text = run(t, "dem", "features", "--around", "36.3125,-84.3400", "--min-confidence", "0.1", "--most", "99", "--dem", path, "--fill-voids")
	assert.Equal(t, on, strings.Count(text.out, "FILLED"))
}

// TestFilledContoursSheetAndDrill: lines over filled ground are flagged,
// sheets dot it, a drill asks nothing of it.
func TestFilledContoursSheetAndDrill(t *testing.T) {
	t.Parallel()
	path := holedDemo(t, crestHole, lowHole)
	folder := t.TempDir()
	for _, name := range []string{"lines.geojson", "rounded.geojson", "lines.svg", "lines.dxf", "lines.kml"} {
		file := filepath.Join(folder, name)
		arguments := []string{"contours", "--around", "36.348,-84.39", "--radius", "3km", "--interval", "20m", "--dem", path, "-o", file}
		if name == "rounded.geojson" {
			arguments = append(arguments, "--smooth", "0.2")
		}
		var a answer.ContoursAnswer
		demoFillJSON(t, &a, append(arguments, "--fill-voids", "--json")...)
		require.NotNil(t, a.Filled, name)
		assert.Positive(t, *a.Filled, name)
		assert.Less(t, *a.Filled, a.Lines, name)
		body, err := os.ReadFile(file)
		require.NoError(t, err)
		want, count := `"filled": 1`, *a.Filled
		switch filepath.Ext(name) {
		case ".svg":
			want, count = "Ground filled in", 1
		case ".dxf":
			want = "contours-"
			count = strings.Count(string(body), want)
			assert.True(t, strings.Contains(string(body), "contours-index-filled"))
		case ".kml":
			want = " m, filled</name>"
		}
		assert.Equal(t, count, strings.Count(string(body), want), name)
		plain := run(t, arguments...)
		require.Equal(t, exitOK, plain.code, plain.err)
		body, err = os.ReadFile(file)
		require.NoError(t, err)
		assert.NotContains(t, plain.out, "FILLED", name)
		assert.False(t, strings.Contains(strings.ToLower(string(body)), "filled"), name)
	}
	sheet := filepath.Join(folder, "sheet.svg")
	for _, fill := range []bool{true, false} {
		arguments := []string{"sheet", filledFrom, filledTo, "--scale", "50000", "--marks", "0", "--dem", path, "-o", sheet}
		if fill {
			arguments = append(arguments, "--fill-voids")
		}
		a := run(t, arguments...)
		require.Equal(t, exitOK, a.code, a.err)
		body, err := os.ReadFile(sheet)
		require.NoError(t, err)
		assert.Equal(t, fill, strings.Contains(string(body), "Ground filled in"))
		assert.Equal(t, fill, strings.Contains(a.out, "were filled"))
	}
	a := run(t, "drill", "--around", "36.34,-84.38", "--radius", "3km", "--kinds", "climb,sight", "--count", "3", "--dem", path, "--fill-voids")
	require.Equal(t, exitOK, a.code, a.err)
	assert.Contains(t, strings.Join(strings.Fields(a.out), " "), "void posts of this ground were filled in from the rim of their void")
}

// TestFilledFix: the ground at the fix, and a sight that rests on filled
// ground.
func TestFilledFix(t *testing.T) {
	t.Parallel()
	stood := geodesy.LatLon{Lat: 36.26, Lon: -84.295}
	path := holedDemo(t, stood)
	arguments := []string{"fix", "--dem", path}
	for _, m := range []geodesy.LatLon{{Lat: 36.27083, Lon: -84.29750}, {Lat: 36.26500, Lon: -84.30333}} {
		arguments = append(arguments, "--bearing", fmt.Sprintf("%v=%.2f", m, float64(geodesy.Inverse(stood, m).Start)))
	}
	a := run(t, arguments...)
	require.Equal(t, exitOK, a.code, a.err)
	assert.NotContains(t, strings.ToLower(a.out), "filled")
	a = run(t, append(arguments, "--fill-voids")...)
	require.Equal(t, exitOK, a.code, a.err)
	text := strings.Join(strings.Fields(a.out), " ")
	assert.Contains(t, text, "of ground filled in from the rim of a void")
	assert.Contains(t, text, "filled ground: the ground at the fix was filled in")
	assert.Contains(t, text, "filled ground: whether")
	var j fixSeen
	demoFillJSON(t, &j, append(arguments, "--fill-voids", "--json")...)
	assert.True(t, j.GroundFilled)
	for _, b := range j.Bearings {
		assert.True(t, b.SightFilled)
	}
}

// TestFilledThroughTiles: marks come through a mosaic too.
func TestFilledThroughTiles(t *testing.T) {
	t.Parallel()
	path := holedDemo(t, crestHole)
	var a answer.ContoursAnswer
	demoFillJSON(t, &a, "contours", "--dem", path, "--dem", filepath.Dir(path), "--fill-voids", "--json", "-o", filepath.Join(t.TempDir(), "l.geojson"))
	require.NotNil(t, a.ElevationData.FilledPosts)
	assert.Equal(t, 49, *a.ElevationData.FilledPosts)
	assert.Positive(t, *a.Filled)
}
