package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/answer"
	"crowline/contour"
	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/testdata/cumberland"
)

// ogrinfo reads a vector file with a program that is not ours.
func ogrinfo(t *testing.T, arguments ...string) string {
	t.Helper()
	path, err := exec.LookPath("ogrinfo")
	if err != nil {
		t.Skip("ogrinfo is not installed (package gdal-bin)")
	}
	out, err := exec.CommandContext(t.Context(), path, append([]string{"-ro"}, arguments...)...).CombinedOutput()
	require.NoError(t, err, string(out))
	return string(out)
}

// around is a small area of the Cumberland ground with hollows in it.
var around = []string{"--around", legFrom, "--radius", "4km", "--interval", "20m"}

func contours(t *testing.T, file string, more ...string) answer.ContoursAnswer {
	t.Helper()
	a := run(t, append([]string{"contours", "-o", file, "--json"}, more...)...)
	require.Equal(t, exitOK, a.code, a.err)
	var v answer.ContoursAnswer
	require.NoError(t, json.Unmarshal([]byte(a.out), &v))
	return v
}

// TestContourFiles: each format holds every line, where it lies and with
// what is known of it.
func TestContourFiles(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		ending, layer string
		arguments     []string
		has           []string
		west, south   float64 // of the lines, to a post
	}{
		{"geojson", "contours", nil, []string{"elevation (Real)", "closed (Integer)", "LINESTRING ("}, -84.34, 36.224},
		{"gpkg", "contours", nil, []string{"elevation (Real)", "closed (Integer64)", "LINESTRING ("}, -84.34, 36.224},
		{"gpkg", "contours", []string{"--data-crs"}, []string{"LINESTRING ("}, -84.34, 36.224},
		{"fgb", "contours", nil, []string{"elevation (Real)", "depression (Integer64)", "LINESTRING ("}, -84.34, 36.224},
		{"shp", "lines", nil, []string{"elevation (Real)", "depression (Integer64)", "LINESTRING ("}, -84.34, 36.224},
		{"kml", "contours", nil, []string{"Name (String) = 480 m", "depression (String) = 1", "LINESTRING Z ("}, -84.34, 36.224},
		{"gpx", "tracks", nil, []string{"name (String) = 480 m", "ogr_depression (Integer) = 1"}, -84.34, 36.224},
		{"dxf", "entities", nil, []string{"Layer (String) = contours-index", "Layer (String) = contours-intermediate", "LINESTRING Z ("}, 739000, 4012000},
	} {
		t.Run(row.ending+strings.Join(row.arguments, ""), func(t *testing.T) {
			t.Parallel()
			file := filepath.Join(t.TempDir(), "lines."+row.ending)
			a := contours(t, file, slices.Concat(around, row.arguments)...)
			require.Greater(t, a.Depressions, 0)
			require.Greater(t, a.Index, 0)
			said := ogrinfo(t, "-al", file, row.layer)
			assert.Contains(t, said, fmt.Sprintf("Feature Count: %d\n", a.Lines))
			for _, text := range row.has {
				assert.Contains(t, said, text)
			}
			if row.ending != "dxf" {
				assert.Equal(t, a.Index, strings.Count(said, "kind (String) = index"))
				assert.Equal(t, a.Depressions, strings.Count(said, "depression (Integer) = 1")+
					strings.Count(said, "depression (Integer64) = 1")+strings.Count(said, "depression (String) = 1"))
				assert.Equal(t, a.Closed, strings.Count(said, "closed (Integer) = 1")+
					strings.Count(said, "closed (Integer64) = 1")+strings.Count(said, "closed (String) = 1"))
				assert.Contains(t, said, `GEOGCRS["WGS 84"`)
				assert.Contains(t, a.Coordinates, "EPSG:4326")
			} else {
				assert.Equal(t, a.Index, strings.Count(said, "= contours-index"))
				assert.Contains(t, a.Coordinates, "UTM zone 16N")
			}
			var west, south, east, north float64
			at := strings.Index(said, "Extent: ")
			require.Positive(t, at)
			_, err := fmt.Sscanf(said[at:], "Extent: (%f, %f) - (%f, %f)", &west, &south, &east, &north)
			require.NoError(t, err)
			tolerance := map[bool]float64{true: 200, false: 0.002}[row.ending == "dxf"] // two posts: m, degrees
			assert.InDelta(t, row.west, west, tolerance)
			assert.InDelta(t, row.south, south, tolerance)
			assert.Less(t, west, east)
			assert.Less(t, south, north)
		})
	}
}

// readContours reads the lines of a GeoJSON file, sorted.
func readContours(t *testing.T, file string) []*geojson.Feature {
	t.Helper()
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	c, err := geojson.UnmarshalFeatureCollection(text)
	require.NoError(t, err)
	sortContours(c.Features)
	return c.Features
}

func sortContours(f []*geojson.Feature) {
	slices.SortFunc(f, func(a, b *geojson.Feature) int {
		return strings.Compare(contourKey(a), contourKey(b))
	})
}

func contourKey(f *geojson.Feature) string {
	l := f.Geometry.(orb.LineString)
	return fmt.Sprintf("%08.2f %.6f %.6f %d", f.Properties["elevation"], l[0], l[1], len(l))
}

// TestStreamedContoursAreTheWholeGrids: lines written as rows are read are
// those traced from all posts at once, but for touches.
func TestStreamedContoursAreTheWholeGrids(t *testing.T) {
	t.Parallel()
	source, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	require.NoError(t, err)
	defer source.Close()
	grid, err := source.Read(t.Context(), source.Layout().Whole())
	require.NoError(t, err)
	levels := contour.Levels{Interval: 40, Unit: contour.Foot}
	lines, err := contour.Trace(t.Context(), grid, levels, contour.Options{})
	require.NoError(t, err)
	geometry, err := contour.LonLat(&grid.Frame, lines)
	require.NoError(t, err)
	var want []*geojson.Feature
	touches := 0
	for i, l := range lines {
		if l.Touch {
			touches++
			continue
		}
		whole := map[bool]float64{true: 1}
		f := geojson.NewFeature(geometry[i])
		f.Properties = geojson.Properties{"elevation": l.Value, "unit": "ft", "kind": l.Kind.String(), "closed": whole[l.Closed], "depression": whole[l.Depression]}
		want = append(want, f)
	}
	sortContours(want)

	folder := t.TempDir()
	file := filepath.Join(folder, "a.geojson")
	a := contours(t, file, "--interval", "40ft")
	assert.Equal(t, len(want), a.Lines)
	assert.Equal(t, touches, a.Touches)
	got := readContours(t, file)
	require.Len(t, got, len(want))
	const tolerance = 6e-9 // degrees; eight decimals are written
	for i := range want {
		require.Equal(t, want[i].Properties, got[i].Properties)
		w, g := want[i].Geometry.(orb.LineString), got[i].Geometry.(orb.LineString)
		require.Len(t, g, len(w))
		for k := range w {
			require.InDelta(t, w[k][0], g[k][0], tolerance)
			require.InDelta(t, w[k][1], g[k][1], tolerance)
		}
	}
	again := filepath.Join(folder, "b.geojson")
	contours(t, again, "--interval", "40ft")
	first, err := os.ReadFile(file)
	require.NoError(t, err)
	second, err := os.ReadFile(again)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(first, second), "the same run twice")
}

// writeGround makes an elevation file from a function of column and row.
func writeGround(t *testing.T, f dem.Frame, elevation func(c, r float64) float64) string {
	t.Helper()
	values := make([]float32, f.Columns*f.Rows)
	for i := range values {
		values[i] = float32(elevation(float64(i%f.Columns), float64(i/f.Columns)))
	}
	path := filepath.Join(t.TempDir(), "ground.tif")
	void := math.NaN()
	require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), path, &f, []gdalio.Band{{Float32: values, NoData: &void}}))
	return path
}

// TestContoursInTheDatasSystem: with --data-crs coordinates are the data's
// own, to the last digit a double keeps; a cone's contours are where they
// are by hand.
func TestContoursInTheDatasSystem(t *testing.T) {
	t.Parallel()
	utm, err := geodesy.NewCRS("EPSG:32617")
	require.NoError(t, err)
	file := writeGround(t, dem.Frame{Columns: 101, Rows: 101, X0: 500000, Y0: 4100000, DX: 10, DY: -10, CRS: utm},
		func(c, r float64) float64 { return 305 - math.Hypot(c-50, r-50) })
	out := filepath.Join(t.TempDir(), "cone.gpkg")
	a := contours(t, out, "--dem", file, "--interval", "20m", "--data-crs")
	assert.Contains(t, a.Coordinates, "EPSG:32617")
	said := ogrinfo(t, "-al", "-where", "elevation = 300", out)
	assert.Contains(t, said, "Feature Count: 1\n")
	assert.Contains(t, said, `ID["EPSG",32617]`)
	assert.Contains(t, said, "closed (Integer64) = 1")
	assert.Contains(t, said, "kind (String) = index")
	assert.Contains(t, said, "500500 4099550") // five posts north of the top, at 300 m
	assert.Equal(t, 300.0, a.HighestM)

	for _, row := range []struct {
		file, says string
		code       int
	}{
		{"a.geojson", "always longitude and latitude", exitError}, {"a.svg", "no reference system", exitUsage},
	} {
		failed := run(t, "contours", "--dem", file, "-o", filepath.Join(t.TempDir(), row.file), "--data-crs")
		assert.Equal(t, row.code, failed.code)
		assert.Contains(t, failed.err, row.says)
	}
}

// TestContoursOverTheAntimeridian: on a projected grid, whose longitudes jump
// there, and on one in longitude and latitude, where they run on: both are
// parted, so that no step is longer than a cell.
func TestContoursOverTheAntimeridian(t *testing.T) {
	t.Parallel()
	zone1, err := geodesy.NewCRS("EPSG:32701")
	require.NoError(t, err)
	x, y, err := zone1.Coordinates(geodesy.LatLon{Lat: -17, Lon: -180})
	require.NoError(t, err)
	for name, f := range map[string]dem.Frame{
		"UTM":     {Columns: 61, Rows: 41, X0: x - 3000, Y0: y, DX: 100, DY: -100, CRS: zone1},
		"lon lat": {Columns: 61, Rows: 41, X0: 179.97, Y0: -17, DX: 0.001, DY: -0.001, CRS: geodesy.WGS84},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			file := writeGround(t, f, func(c, r float64) float64 { return 205 - 2*math.Hypot(c-30, r-20) })
			out := filepath.Join(t.TempDir(), "over.geojson")
			a := contours(t, out, "--dem", file, "--interval", "20m")
			features := readContours(t, out)
			assert.Greater(t, len(features), a.Lines, "some are in two parts")
			east, west := 0, 0
			for _, f := range features {
				l := f.Geometry.(orb.LineString)
				require.GreaterOrEqual(t, len(l), 2)
				for i := range l {
					require.LessOrEqual(t, math.Abs(l[i][0]), 180.0)
					if i > 0 {
						require.Less(t, math.Abs(l[i][0]-l[i-1][0]), 0.003, "no step across the world")
					}
				}
				if l[0][0] > 0 {
					east++
				} else {
					west++
				}
			}
			assert.Positive(t, east)
			assert.Positive(t, west)
		})
	}
}

// TestNothingToContour: said in words, with no file left.
func TestNothingToContour(t *testing.T) {
	t.Parallel()
	f := dem.Frame{Columns: 20, Rows: 20, X0: 10, Y0: 50, DX: 0.001, DY: -0.001, CRS: geodesy.WGS84}
	flat := writeGround(t, f, func(c, r float64) float64 { return 305 })
	void := writeGround(t, f, func(c, r float64) float64 { return math.NaN() })
	touching := writeGround(t, f, func(c, r float64) float64 {
		if r == 10 && (c == 7 || c == 8) {
			return 320
		}
		return 310
	})
	folder := t.TempDir()
	for _, row := range []struct {
		name      string
		arguments []string
		says      string
	}{
		{"flat", []string{"--dem", flat, "--interval", "20m"}, "the ground crosses no level"},
		{"flat, auto", []string{"--dem", flat}, "nothing to contour"},
		{"flat, drawn", []string{"--dem", flat, "--interval", "20m", "-o", filepath.Join(folder, "a.svg")}, "the ground crosses no level"},
		{"void", []string{"--dem", void, "--interval", "20m"}, "every post is void"},
		{"void, auto", []string{"--dem", void}, "every post is void"},
		{"touching", []string{"--dem", touching, "--interval", "20m"}, "only touches"},
		{"touching, drawn", []string{"--dem", touching, "--interval", "20m", "-o", filepath.Join(folder, "a.svg")}, "only touches"},
		{"off the data", []string{"--dem", flat, "--around", "10,10"}, "covers"},
	} {
		a := run(t, append([]string{"contours", "-o", filepath.Join(folder, "a.fgb")}, row.arguments...)...)
		assert.Equal(t, exitError, a.code, row.name)
		assert.Contains(t, a.err, row.says, row.name)
		assert.Empty(t, a.out, row.name)
		assert.Len(t, strings.Split(strings.TrimSpace(a.err), "\n"), 1, row.name)
	}
	cancelled, cancel := context.WithCancel(t.Context())
	cancel()
	a := runContext(cancelled, t, "contours", "-o", filepath.Join(folder, "a.fgb"))
	assert.Equal(t, exitCancel, a.code)
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Empty(t, left)
}

// TestWaysToAContour: --half, --smooth and a drawing, which hold the area in
// memory, count and write the same lines.
func TestWaysToAContour(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	plain := contours(t, filepath.Join(folder, "a.fgb"), around...)
	drawn := contours(t, filepath.Join(folder, "a.svg"), around...)
	smooth := contours(t, filepath.Join(folder, "b.fgb"), append(around, "--smooth", "0.2")...)
	half := contours(t, filepath.Join(folder, "c.fgb"), append(around, "--half")...)
	same := func(a answer.ContoursAnswer) []any {
		return []any{a.Lines, a.Closed, a.Index, a.Depressions, a.Touches, a.LowestM, a.HighestM, a.Reason, a.Warning}
	}
	assert.Equal(t, same(plain), same(drawn))
	assert.Equal(t, plain.Lines, smooth.Lines)
	assert.Equal(t, plain.Index, half.Index)
	assert.Positive(t, half.Supplementary)
	auto, grid := contours(t, filepath.Join(folder, "d.fgb")), contours(t, filepath.Join(folder, "d.svg"))
	assert.Equal(t, same(auto), same(grid), "the interval chosen from rows and from a grid")
}

// TestContoursDrawn: a drawing has its index lines numbered, in text, and its
// depressions ticked.
func TestContoursDrawn(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "lines.svg")
	for reading, turned := range map[string]bool{"uphill": true, "reader": false} {
		a := contours(t, file, "--around", legFrom, "--radius", "3km", "--interval", "20m", "--label-reading", reading)
		require.Positive(t, a.Depressions)
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		svg := string(text)
		require.Contains(t, svg, `id="contour-numbers"`)
		assert.Contains(t, svg, "Depression (ticks downhill)")
		numbers := svg[strings.Index(svg, `id="contour-numbers"`):]
		numbers = numbers[:strings.Index(numbers, "</g>")]
		assert.Greater(t, strings.Count(numbers, "</text>"), 10)
		for _, level := range []string{">500</text>", ">600</text>", ">700</text>"} {
			assert.Contains(t, numbers, level)
		}
		assert.NotContains(t, numbers, ">520</text>")
		onTheirHeads := false
		for _, m := range regexp.MustCompile(`rotate\((-?[0-9.]+)`).FindAllStringSubmatch(numbers, -1) {
			angle, err := strconv.ParseFloat(m[1], 64)
			require.NoError(t, err)
			onTheirHeads = onTheirHeads || math.Abs(angle) > 90.5
		}
		assert.Equal(t, turned, onTheirHeads, reading)
	}
	wrong := run(t, "contours", "-o", file, "--label-reading", "down")
	assert.Equal(t, exitUsage, wrong.code)
}

// TestKMLTellsIndexLines: all contours of a .kml were drawn in one pen.
func TestKMLTellsIndexLines(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "lines.kml")
	a := run(t, "contours", "--around", legFrom, "--radius", "1500m", "-o", path)
	require.Equal(t, exitOK, a.code, a.err)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	widths := map[string]map[string]int{}
	for _, mark := range strings.Split(string(text), "<Placemark>")[1:] {
		kind, _, _ := strings.Cut(after(mark, `name="kind">`), "<")
		width, _, _ := strings.Cut(after(mark, "<width>"), "<")
		if widths[kind] == nil {
			widths[kind] = map[string]int{}
		}
		widths[kind][width]++
	}
	require.Len(t, widths, 2)
	require.Len(t, widths["index"], 1)
	require.Len(t, widths["intermediate"], 1)
	assert.Positive(t, widths["index"]["3"])
	assert.Positive(t, widths["intermediate"]["1"])
}

func after(s, mark string) string {
	_, rest, _ := strings.Cut(s, mark)
	return rest
}
