package cli

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/answer"
	"crowline/contour/drill"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/testdata/cumberland"
)

func runFeatures(t *testing.T, arguments ...string) answer.FeaturesAnswer {
	t.Helper()
	a := run(t, append([]string{"dem", "features", "--json"}, arguments...)...)
	require.Equal(t, exitOK, a.code, a.err)
	var v answer.FeaturesAnswer
	require.NoError(t, json.Unmarshal([]byte(a.out), &v))
	return v
}

func TestFeaturesJSON(t *testing.T) {
	t.Parallel()
	v := runFeatures(t, "--around", legFrom, "--radius", "2km")
	// six of the data's posts, 92.6 m apart along a column
	assert.InDelta(t, 555, v.ScaleM, 1)
	// three times 9.7 m, the data's stated error
	assert.InDelta(t, 29.1, v.MinReliefM, 0.1)
	kinds := map[string]int{}
	for _, f := range v.Features {
		kinds[string(f.Kind)]++
		// 2026-11-28: a line's nearest point was told beside its middle
		at := answer.Spot.LatLon
		g := geodesy.Inverse(at(v.Around), at(f.Place))
		const roundedPlace = 0.2 // m; 7 decimals of a degree, and a tenth of a metre
		assert.InDelta(t, g.Distance, f.DistanceM, roundedPlace)
		assert.InDelta(t, float64(g.Start), f.TrueDeg, 0.1)
		nearest := f.DistanceM
		if len(f.Line) > 0 {
			require.NotNil(t, f.Nearest)
			nearest = f.Nearest.DistanceM
			assert.LessOrEqual(t, nearest, f.DistanceM)
		}
		assert.LessOrEqual(t, nearest, 2000.0)
		assert.GreaterOrEqual(t, f.ReliefM, v.MinReliefM)
		assert.GreaterOrEqual(t, f.Confidence, 0.5)
		assert.NotEmpty(t, f.Reason)
		assert.Greater(t, f.Place.ElevationM, 0.0)
	}
	for _, k := range []string{"hill", "saddle", "ridge", "spur", "valley", "draw"} {
		assert.Positive(t, kinds[k], k)
	}
	// the hill north of the start, as package landform's own summits have it
	assert.InDelta(t, 986, v.Features[0].Place.ElevationM, 0.5)
}

func TestFeaturesAreThoseAskedFor(t *testing.T) {
	t.Parallel()
	fine := runFeatures(t, "--around", legFrom, "--min-relief", "10", "--min-confidence", "0")
	coarse := runFeatures(t, "--around", legFrom, "--min-relief", "160ft")
	assert.InDelta(t, 48.8, coarse.MinReliefM, 0.05)
	assert.Greater(t, len(fine.Features), len(coarse.Features))
	for _, f := range runFeatures(t, "--around", legFrom, "--kinds", "Hill,saddle").Features {
		assert.Contains(t, []string{"hill", "saddle"}, string(f.Kind))
	}
}

// TestFeaturesAreWritten reads the files back.
func TestFeaturesAreWritten(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	for _, name := range []string{"f.geojson", "f.gpx", "f.kml"} {
		path := filepath.Join(folder, name)
		v := runFeatures(t, "--around", legFrom, "-o", path)
		assert.Equal(t, []string{path}, v.Written)
		places, err := gdalio.ReadPlaces(path)
		require.NoError(t, err, name)
		require.Len(t, places, len(v.Features), name)
		lines, err := gdalio.ReadLines(path)
		require.NoError(t, err, name)
		drawn := 0
		for _, f := range v.Features {
			if len(f.Line) >= 2 {
				drawn++
			}
		}
		assert.Len(t, lines, drawn, name)
		const tolerance = 0.05 // m; GPX and KML keep nine digits of a degree
		assert.Less(t, geodesy.Inverse(places[0].LatLon, geodesy.LatLon{
			Lat: geodesy.Degrees(v.Features[0].Place.Lat), Lon: geodesy.Degrees(v.Features[0].Place.Lon)}).Distance, tolerance)
		assert.Equal(t, "hill 1", places[0].Name)
	}
	path := filepath.Join(folder, "f.gpkg")
	runFeatures(t, "--around", legFrom, "-o", path)
	body, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Greater(t, len(body), 10000)
}

func TestFeaturesTextFitsATerminal(t *testing.T) {
	t.Parallel()
	checkWidth(t, "dem", "features", "--around", legFrom)
	checkWidth(t, "dem", "features", "--around", legFrom, "--units", "us", "--most", "3")
	checkWidth(t, "dem", "features", "--help")
	assert.Contains(t, checkWidth(t, "dem", "features", "--around", legFrom, "--kinds", "cliff"), "None. Try")
}

func TestFeaturesThatCannotBeListed(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	badLines(t, []badLine{
		{"nowhere", []string{"dem", "features"}, exitUsage, "--around"},
		{"an argument", []string{"dem", "features", legFrom}, exitUsage, "--around"},
		{"off the data", []string{"dem", "features", "--around", "40,-84.2"}, exitError, "40"},
		{"bad kind", []string{"dem", "features", "--around", legFrom, "--kinds", "lake"}, exitUsage, "lake"},
		{"bad radius", []string{"dem", "features", "--around", legFrom, "--radius", "0"}, exitUsage, "--radius"},
		{"scale under the posts", []string{"dem", "features", "--around", legFrom, "--scale", "50"}, exitUsage, "scale"},
		{"bad relief", []string{"dem", "features", "--around", legFrom, "--min-relief", "-3"}, exitUsage, "--min-relief"},
		{"bad confidence", []string{"dem", "features", "--around", legFrom, "--min-confidence", "2"}, exitUsage, "--min-confidence"},
		{"unknown ending", []string{"dem", "features", "--around", legFrom, "-o", filepath.Join(folder, "f.doc")}, exitUsage, ".geojson"},
		{"no folder", []string{"dem", "features", "--around", legFrom, "-o", filepath.Join(folder, "no", "f.gpx")}, exitError, "no folder"},
	})
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Empty(t, left)
}

// TestNoErrorIsNoAnswer: 2026-11-28, an error of 0 was taken as none given,
// and the data's own used without a word.
func TestNoErrorIsNoAnswer(t *testing.T) {
	t.Parallel()
	a := run(t, "leg", legFrom, legTo, "--vertical-error", "0")
	assert.Equal(t, exitUsage, a.code)
	assert.Contains(t, a.err, `--vertical-error: "0" is not a length from 0.001 m to 1 km`)
}

// wallGround is a file of 30 m posts on a UTM grid: level ground, and a wall
// of 3.4 km from north to south, 40 m high but for its northern end, where it
// is 120 m. Its brink is 2370 m east of the file's western posts.
func wallGround(t *testing.T) (path string, at func(east, south float64) string) {
	t.Helper()
	const side, x0, y0 = 161, 500000.0, 4040000.0
	var b strings.Builder
	fmt.Fprintf(&b, "ncols %d\nnrows %d\nxllcenter %g\nyllcenter %g\ncellsize 30\n", side, side, x0, y0-30*(side-1))
	for r := range side {
		for c := range side {
			h := 500
			if y := 30 * (side/2 - r); c >= side/2 && y <= 1700 && y >= -1700 {
				h = 460
				if y > 1650 {
					h = 380
				}
			}
			fmt.Fprintf(&b, "%d ", h)
		}
		b.WriteString("\n")
	}
	path = filepath.Join(t.TempDir(), "wall.asc")
	require.NoError(t, os.WriteFile(path, []byte(b.String()), 0o600))
	crs, err := geodesy.NewCRS("EPSG:32617")
	require.NoError(t, err)
	return path, func(east, south float64) string {
		p, err := crs.Place(x0+east, y0-south)
		require.NoError(t, err)
		return fmt.Sprintf("%.7f,%.7f", float64(p.Lat), float64(p.Lon))
	}
}

// TestALongCliffIsListedWhereAnyOfItIsNear: 2026-11-30. A cliff of 3.4 km,
// 21 m away, was not listed: its steepest post lay outside the radius. Nor was
// a leg over it, or beside it, told of it.
func TestALongCliffIsListedWhereAnyOfItIsNear(t *testing.T) {
	t.Parallel()
	path, at := wallGround(t)
	ground := []string{"--dem", path, "--crs", "EPSG:32617", "--vertical-error", "2m"}
	v := runFeatures(t, append(ground, "--around", at(2349, 3600), "--radius", "300m", "--kinds", "cliff")...)
	require.Len(t, v.Features, 1)
	f := v.Features[0]
	const scale = 0.05 // m; 21 m on a UTM grid are 21.01 m on the ground
	require.NotNil(t, f.Nearest)
	assert.InDelta(t, 21, f.Nearest.DistanceM, scale)
	assert.InDelta(t, 90, f.Nearest.TrueDeg, 1)
	assert.Greater(t, f.DistanceM, 2500.0, "its own place stays its steepest post")
	assert.InDelta(t, 500, f.Nearest.Place.ElevationM, 0.5)
	flat := strings.Join(strings.Fields(run(t, append([]string{"dem", "features", "--around", at(2349, 3600), "--radius", "300m"}, ground...)...).out), " ")
	assert.Contains(t, flat, "the place given is its steepest part; its nearest point is 21 m off towards E")
	flat = strings.Join(strings.Fields(run(t, append([]string{"dem", "features", "--around", at(2385, 3600), "--radius", "300m"}, ground...)...).out), " ")
	assert.Contains(t, flat, "where you asked lies on it")
	assert.Empty(t, runFeatures(t, append(ground, "--around", at(2340, 3600), "--radius", "20m", "--kinds", "cliff")...).Features)

	leg := func(from, to string) ([]passedTold, string) {
		var a legTold
		arguments := append([]string{"leg", from, to}, ground...)
		demoFillJSON(t, &a, append(arguments, "--json")...)
		return a.Passed, strings.Join(strings.Fields(run(t, append(arguments, "--full")...).out), " ")
	}
	passed, text := leg(at(1800, 3610), at(3000, 3590))
	require.Len(t, passed, 1)
	assert.Equal(t, "cliff", passed[0].Name)
	assert.InDelta(t, 570, passed[0].AtM, 1)
	require.NotNil(t, passed[0].UntilM)
	assert.InDelta(t, 600, *passed[0].UntilM, 1)
	assert.Contains(t, text, "570 m cliff, 500 m, as far as 600 m")
	passed, text = leg(at(2340, 3000), at(2340, 3900))
	require.Len(t, passed, 1)
	assert.Equal(t, "beside a cliff", passed[0].Name)
	require.NotNil(t, passed[0].Nearest)
	assert.InDelta(t, -30, passed[0].Nearest.OffsetM, 0.5)
	assert.LessOrEqual(t, passed[0].Aside.OffsetM, passed[0].Nearest.OffsetM)
	assert.Contains(t, text, "its nearest part, 500 m, stands 30 m to the left")

	file := filepath.Join(t.TempDir(), "r.csv")
	require.NoError(t, os.WriteFile(file, []byte("name,lat,lon\nA,"+at(1800, 3610)+"\nB,"+at(3000, 3590)+"\n"), 0o600))
	card := run(t, append([]string{"route", file, "--straight"}, ground...)...)
	require.Equal(t, exitOK, card.code, card.err)
	assert.Contains(t, strings.Join(strings.Fields(card.out), " "), "Passes cliff at 570 m")
}

// TestThinnedGroundKeepsItsCliffs: 2026-11-30. Posts finer than the landforms
// asked for are thinned; a wall of 25 m in 5 m posts, thinned to 30 m for a leg
// and to 100 m for a scale of 5 km, was no cliff any more.
func TestThinnedGroundKeepsItsCliffs(t *testing.T) {
	t.Parallel()
	const columns, rows, x0, y0 = 500, 400, 500000.0, 4040000.0
	var b strings.Builder
	fmt.Fprintf(&b, "ncols %d\nnrows %d\nxllcenter %g\nyllcenter %g\ncellsize 5\n", columns, rows, x0, y0-5*(rows-1))
	for range rows {
		b.WriteString(strings.Repeat("500 ", 263) + strings.Repeat("475 ", columns-263) + "\n")
	}
	path := filepath.Join(t.TempDir(), "fine.asc")
	require.NoError(t, os.WriteFile(path, []byte(b.String()), 0o600))
	crs, err := geodesy.NewCRS("EPSG:32617")
	require.NoError(t, err)
	at := func(column, row float64) string {
		p, err := crs.Place(x0+5*column, y0-5*row)
		require.NoError(t, err)
		return fmt.Sprintf("%.7f,%.7f", float64(p.Lat), float64(p.Lon))
	}
	ground := []string{"--dem", path, "--crs", "EPSG:32617", "--vertical-error", "1m"}
	for _, scale := range []string{"500m", "3km"} {
		v := runFeatures(t, append(ground, "--around", at(243, 200), "--radius", "200m", "--scale", scale, "--kinds", "hill,cliff")...)
		require.Len(t, v.Features, 1, scale)
		const post = 10 // m; posts of the least relief apart
		assert.InDelta(t, 95, v.Features[0].Nearest.DistanceM, post, scale)
	}
	var a legTold
	demoFillJSON(t, &a, append([]string{"leg", at(150, 200), at(380, 210), "--json"}, ground...)...)
	require.Len(t, a.Passed, 1)
	assert.Equal(t, "cliff", a.Passed[0].Name)
	const thinned = 20 // m; posts along a leg
	assert.InDelta(t, 5*(262.0-150), a.Passed[0].AtM, thinned+1)
}

// TestLandformsAreOfOneRule: what a leg passes, what is listed round a place and
// what an exercise asks about are found at one scale, by one least relief, on
// posts as far apart.
func TestLandformsAreOfOneRule(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	place := func(text string) answer.Place {
		p, err := geodesy.ParsePlace(text)
		require.NoError(t, err)
		return answer.PlaceAt(p)
	}
	for _, verticalError := range []float64{0, 1, 9} {
		g, err := answer.Open(ctx, answer.Data{Paths: []string{cumberland.Path()}, VerticalError: verticalError}, answer.Reach{})
		require.NoError(t, err)
		defer g.Close()
		listed, err := answer.Features(ctx, g, answer.FeaturesRequest{Around: place(legFrom), Radius: 4000, MinConfidence: 0.5})
		require.NoError(t, err)
		leg, err := answer.Leg(ctx, g, answer.LegRequest{From: place(legFrom), To: place("36.25058,-84.27389"), Sighting: answer.DefaultSighting(), Walk: answer.DefaultWalk(), Needle: answer.Needle{Day: time.Date(2026, 11, 30, 0, 0, 0, 0, time.UTC)}, Marks: 1})
		require.NoError(t, err)
		scale, relief := leg.PassedScale()
		const near = 1.0 // m; the spacing is measured in the middle of what each reads
		assert.InDelta(t, listed.ScaleM, scale, near)
		assert.InDelta(t, listed.MinReliefM, relief, 0)

		a, err := answer.Drill(ctx, g, answer.DrillRequest{Around: place(legFrom), Radius: 3000, Seed: 3, Level: drill.Leader, Count: 12, Kinds: []drill.Kind{drill.Landform}, Scale: 25000,
			Sighting: answer.DefaultSighting(), Needle: answer.Needle{Day: time.Date(2026, 11, 30, 0, 0, 0, 0, time.UTC)}})
		require.NoError(t, err)
		points := 0
		for _, q := range a.Questions {
			asked := q.Data.(drill.LandformAnswer)
			if asked.Landform != landform.Hill && asked.Landform != landform.Saddle {
				continue // the letter of a line stands where it is most itself
			}
			points++
			found := slices.IndexFunc(listed.Features, func(f answer.Feature) bool {
				return f.Kind == asked.Landform && geodesy.Inverse(f.Place.LatLon(), asked.Mark.At()).Distance < near
			})
			if assert.GreaterOrEqual(t, found, 0, "%v", asked) {
				assert.InDelta(t, listed.Features[found].ReliefM, asked.ReliefM, 0.01)
			}
		}
		assert.Positive(t, points, "error %g m", verticalError)
	}
}

// TestNoLineIsDroppedWithoutAWord: a .shp or .fgb had the points, and the lines
// of ridges, spurs, valleys and draws were left out.
func TestNoLineIsDroppedWithoutAWord(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	for _, ending := range []string{".shp", ".fgb"} {
		path := filepath.Join(folder, "all"+ending)
		for _, kinds := range [][]string{nil, {"--kinds", "hill,ridge"}} {
			a := run(t, append([]string{"dem", "features", "--around", legFrom, "-o", path}, kinds...)...)
			assert.Equal(t, exitUsage, a.code)
			for _, says := range []string{"points or lines", ".geojson, .gpkg, .gpx or .kml", "hill,saddle,depression,cliff", "ridge,spur,valley,draw"} {
				assert.Contains(t, a.err, says)
			}
			assert.NoFileExists(t, path)
		}
		for kinds, lines := range map[string]bool{"hill,saddle,depression,cliff": false, "ridge,spur,valley,draw": true} {
			path := filepath.Join(folder, "one"+ending)
			v := runFeatures(t, "--around", legFrom, "--kinds", kinds, "-o", path)
			require.NotEmpty(t, v.Features)
			text := ogrinfo(t, "-q", "-al", path)
			word := "POINT"
			if lines {
				word = "LINESTRING"
			}
			assert.Equal(t, len(v.Features), strings.Count(text, "  "+word+" ("), "%s %s", ending, kinds)
		}
	}
	path := filepath.Join(folder, "all.dxf")
	v := runFeatures(t, "--around", legFrom, "-o", path)
	lines := 0
	for _, f := range v.Features {
		if len(f.Line) > 0 {
			lines++
		}
	}
	assert.Equal(t, lines, strings.Count(ogrinfo(t, "-q", "-al", path), "  LINESTRING"))
}

// TestFileAttributesSayTheirUnit: with --units us they were metres with no unit
// beside reasons in feet. What a field holds is metric in any units, and what is
// written for people to read, in GPX and KML, is in theirs.
func TestFileAttributesSayTheirUnit(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	for _, ending := range []string{".geojson", ".gpkg", ".kml", ".gpx", ".shp"} {
		read := func(name string, more ...string) string {
			path := filepath.Join(folder, name+ending)
			arguments := append([]string{"dem", "features", "--around", legFrom, "--kinds", "hill,saddle", "-o", path}, more...)
			a := run(t, arguments...)
			require.Equal(t, exitOK, a.code, a.err)
			return strings.ReplaceAll(ogrinfo(t, "-q", "-al", path), name, "NAME")
		}
		metric := read("metric")
		us := read("us", "--units", "us")
		if ending == ".gpx" || ending == ".kml" {
			words := regexp.MustCompile(`(?m)^ +(desc|reason) \(String\) = .*$`)
			assert.NotEmpty(t, words.FindString(metric))
			for _, text := range words.FindAllString(us, -1) {
				assert.NotRegexp(t, `\d k?m\b`, text)
			}
			assert.Equal(t, words.ReplaceAllString(metric, ""), words.ReplaceAllString(us, ""), ending)
		} else {
			assert.Equal(t, metric, us, ending)
		}
		if ending == ".gpx" {
			continue // its own fields: ele is metres by its schema
		}
		elevation := "elevation_m"
		if ending == ".shp" {
			elevation = "elev_m" // ten characters
		}
		for _, field := range []string{elevation, "size_m", "relief_m"} {
			assert.Contains(t, metric, field+" (", ending)
		}
		assert.NotRegexp(t, `(?m)^  (elevation|size|relief) \(`, metric)
	}
}
