package cli

import (
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/testdata/cumberland"
)

var update = flag.Bool("update", false, "write the golden answers anew, to be read before they are committed")

// goldenTolerance is the relative difference allowed between a figure and its
// golden: other processors fuse multiplications, and a rounded figure may fall
// to the other side. On the machine that wrote them figures are equal.
const goldenTolerance = 1e-6

// goldenGround is one ground that every command is asked over, and what there
// is to ask about on it.
type goldenGround struct {
	arguments        []string // that choose it
	from, to, beside string   // places
	marks            []string // bearings for fix, as MARK=DEG
	ahead            []string // bearings from places that cross ahead
	brief            bool     // only what the ground makes another answer of
}

// goldenGrounds are the two real grounds, and made ones.
func goldenGrounds(t *testing.T, folder string) map[string]goldenGround {
	t.Helper()
	raster, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	require.NoError(t, err)
	defer raster.Close()
	grid, err := raster.Read(t.Context(), raster.Layout().Whole())
	require.NoError(t, err)
	write := func(name string, frame *dem.Frame, heights []float32) string {
		void := -32768.0
		out := slices.Clone(heights)
		for i, h := range out {
			if math.IsNaN(float64(h)) {
				out[i] = float32(void)
			}
		}
		path := filepath.Join(folder, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), path, frame, []gdalio.Band{{Float32: out, NoData: &void}}))
		return path
	}
	real := goldenGround{from: legFrom, to: legTo, beside: "36.25058,-84.27389", marks: []string{"36.27083,-84.29750=349", "36.26500,-84.30333=307", "36.25058,-84.27389=100"}, ahead: []string{"36.26,-84.295=70", "36.25058,-84.27389=10"}}

	holed := slices.Clone(grid.Elevations)
	from, to := geodesy.LatLon{Lat: 36.26, Lon: -84.295}, geodesy.LatLon{Lat: 36.22, Lon: -84.24}
	for _, share := range []float64{0.15, 0.5, 0.8} {
		column, row, err := grid.Locate(geodesy.LatLon{Lat: from.Lat + geodesy.Degrees(share)*(to.Lat-from.Lat), Lon: from.Lon + geodesy.Degrees(share)*(to.Lon-from.Lon)})
		require.NoError(t, err)
		for r := int(row) - 3; r <= int(row)+3; r++ {
			for c := int(column) - 3; c <= int(column)+3; c++ {
				holed[r*grid.Columns+c] = float32(math.NaN())
			}
		}
	}
	voids := write("voids.tif", &grid.Frame, holed)

	feet := slices.Clone(grid.Elevations)
	for i := range feet {
		feet[i] /= 0.3048
	}
	inFeet := write("feet.tif", &grid.Frame, feet)

	trees := make([]float32, len(grid.Elevations)) // in patches seven posts wide, with clearings between
	for i := range trees {
		if c, r := i%grid.Columns, i/grid.Columns; c/7%2 == r/7%2 {
			trees[i] = 18
		}
	}
	cover := write("trees.tif", &grid.Frame, trees)

	half := dem.Window{Columns: 150, Rows: grid.Rows}
	for i, w := range []dem.Window{half, {Column: half.Columns, Columns: grid.Columns - half.Columns, Rows: grid.Rows}} {
		part, err := raster.Read(t.Context(), w)
		require.NoError(t, err)
		write(fmt.Sprintf("tiles/%d.tif", i), &part.Frame, part.Elevations)
	}

	with := func(arguments ...string) goldenGround {
		g := real
		g.arguments, g.brief = arguments, true
		return g
	}
	real.arguments = []string{"--dem", cumberland.Path()}
	return map[string]goldenGround{
		"cumberland": real,
		"demo":       demoGolden,
		"voids":      with("--dem", voids),
		"filled":     with("--dem", voids, "--fill-voids"),
		"feet":       with("--dem", inFeet, "--height-unit", "ft", "--vertical-error", "8m"),
		"cover":      with("--dem", cumberland.Path(), "--cover", cover, "--clearing", "200m"),
		"tiles":      with("--dem", filepath.Join(folder, "tiles")),
	}
}

// demoGolden is what is asked of the demo's ground.
var demoGolden = goldenGround{from: "34.3297,-118.0548", to: "34.3008,-118.0514", beside: "34.3150,-118.0650", marks: []string{"34.3115,-118.0533=176", "34.3277,-118.0574=225"}, ahead: []string{"34.3297,-118.0548=170", "34.3150,-118.0650=100"}}

// questions are what is asked of a ground, by name. Commands that cannot be
// asked over cover are left out of it.
func (g goldenGround) questions(route string) map[string][]string {
	all := map[string][]string{
		"leg":              {"leg", g.from, g.to},
		"leg back us":      {"leg", g.to, g.from, "--units", "us"},
		"sight":            {"sight", g.from, g.to},
		"sight bearing":    {"sight", g.from, "--bearing", "138", "--magnetic", "--radius", "6km"},
		"landmarks":        {"landmarks", g.from, "--radius", "6km", "--with-hidden"},
		"landmarks within": {"landmarks", g.from, "--radius", "6km", "--bearing", "20", "--within", "15"},
		"viewshed":         {"viewshed", g.from, "--radius", "3km", "-o", "seen.tif", "--needed"},
		"skyline":          {"skyline", g.from, "--radius", "6km"},
		"route":            {"route", route},
		"fix":              append([]string{"fix"}, bearingArguments(g.marks)...),
	}
	if !slices.Contains(g.arguments, "--cover") {
		all["contours"] = []string{"contours", "--around", g.from, "--radius", "1500m", "-o", "lines.geojson"}
		all["dem features"] = []string{"dem", "features", "--around", g.from, "--radius", "2km"}
		all["drill"] = []string{"drill", "--around", g.from, "--radius", "3km", "--seed", "7", "-o", "drill.pdf"}
	}
	if !slices.Contains(g.arguments, "--cover") {
		all["vantage see"] = []string{"vantage", "--around", g.from, "--radius", "1500m", "--see", g.beside, "--see", g.to, "--most", "3", "-o", "stand.geojson"}
	}
	if len(g.arguments) == 0 { // not every ground has a walk for a class
		all["walk"] = []string{"walk", "--around", g.from, "--radius", "2km", "-o", "walk.pdf"}
	}
	all["sheet"] = []string{"sheet", g.from, g.to, "-o", "leg.pdf"}
	if !g.brief {
		all["vantage"] = []string{"vantage", "--around", g.from, "--radius", "1500m", "--marks-to", "4km", "--most", "4", "-o", "stand.tif"}
		all["vantage watch"] = []string{"vantage", "--around", g.from, "--radius", "1500m", "--watch", g.from, "--watch-to", g.beside, "--most", "3", "-o", "stand.gpx"}
		all["leg bare"] = []string{"leg", g.from, g.to, "--marks", "0"}
		all["leg beside"] = []string{"leg", g.from, g.beside, "--dead-band", "3m", "--interval", "40ft", "--throughout"}
		all["sight raised"] = []string{"sight", g.from, g.beside, "--eye", "5m", "--target-height", "10m", "--refraction", "0"}
		all["landmarks fix"] = []string{"landmarks", g.from, "--radius", "6km", "--for-fix"}
		all["viewshed two"] = []string{"viewshed", g.from, g.to, "--radius", "3km", "--sector", "20,200", "-o", "both.geojson"}
		all["sheet one"] = []string{"sheet", g.from, "--hidden", "--scale", "10000", "-o", "one.png"}
		all["fix intersect"] = append([]string{"fix", "--intersect", "--altimeter", "500m"}, bearingArguments(g.ahead)...)
		all["declination"] = []string{"declination", g.from}
	}
	return all
}

func bearingArguments(marks []string) []string {
	var out []string
	for _, m := range marks {
		out = append(out, "--bearing", m)
	}
	return out
}

// TestGoldenAnswers: the JSON of every command over real and made grounds is
// what it was. A difference is a fault mended on purpose and named in its
// commit, or a mistake.
func TestGoldenAnswers(t *testing.T) {
	made := t.TempDir()
	grounds := goldenGrounds(t, made)
	golden, err := filepath.Abs(filepath.Join("testdata", "golden"))
	require.NoError(t, err)
	for name, ground := range grounds {
		t.Run(name, func(t *testing.T) {
			if len(ground.arguments) == 0 {
				onDemoGround(t)
			} else {
				t.Parallel()
			}
			// outputs are named by their whole path, and told as by their name
			outputs := t.TempDir() + string(filepath.Separator)
			route := filepath.Join(made, name+".csv")
			require.NoError(t, os.WriteFile(route, []byte("name,lat,lon\nCamp,"+ground.from+"\nTurn,"+ground.beside+"\nEnd,"+ground.to+"\n"), 0o600))
			path := filepath.Join(golden, name+".json")
			was := map[string]any{}
			if text, err := os.ReadFile(path); err == nil {
				require.NoError(t, json.Unmarshal(text, &was))
			} else if !*update {
				require.NoError(t, err)
			}
			is := map[string]any{}
			for question, arguments := range ground.questions(route) {
				if question != "declination" {
					arguments = append(arguments, ground.arguments...)
				}
				arguments = append(slices.Clone(arguments), "--json")
				if i := slices.Index(arguments, "-o"); i >= 0 {
					arguments[i+1] = outputs + arguments[i+1]
				}
				a := run(t, arguments...)
				require.Equal(t, exitOK, a.code, "%s: %s", question, a.err)
				var v any
				require.NoError(t, json.Unmarshal([]byte(strings.ReplaceAll(a.out, outputs, "")), &v))
				is[question] = v
				if !*update {
					for _, difference := range differences(question, was[question], v) {
						t.Error(difference)
					}
				}
			}
			if *update {
				text, err := json.MarshalIndent(is, "", " ")
				require.NoError(t, err)
				require.NoError(t, os.MkdirAll(golden, 0o755))
				require.NoError(t, os.WriteFile(path, append(text, '\n'), 0o600))
			}
			if !*update {
				assert.Len(t, was, len(is), "questions")
			}
		})
	}
}

// differences are the keys at which two answers are not alike, numbers within
// goldenTolerance, the first few of them.
func differences(at string, was, is any) []string {
	const most = 8
	var out []string
	var walk func(at string, was, is any)
	say := func(at string, was, is any) {
		short := func(v any) string {
			b, _ := json.Marshal(v)
			if len(b) > 120 {
				return string(b[:120]) + "..."
			}
			return string(b)
		}
		if len(out) < most {
			out = append(out, fmt.Sprintf("%s: was %s, is %s", at, short(was), short(is)))
		}
	}
	walk = func(at string, was, is any) {
		switch a := was.(type) {
		case map[string]any:
			b, ok := is.(map[string]any)
			if !ok {
				say(at, was, is)
				return
			}
			for k, v := range a {
				if w, ok := b[k]; ok {
					walk(at+"."+k, v, w)
				} else {
					say(at+"."+k, v, "(left out)")
				}
			}
			for k, v := range b {
				if _, ok := a[k]; !ok {
					say(at+"."+k, "(left out)", v)
				}
			}
		case []any:
			b, ok := is.([]any)
			if !ok || len(a) != len(b) {
				say(at, was, is)
				return
			}
			for i := range a {
				walk(fmt.Sprintf("%s[%d]", at, i), a[i], b[i])
			}
		case float64:
			b, ok := is.(float64)
			if !ok || math.Abs(a-b) > goldenTolerance*math.Max(1, math.Abs(a)) {
				say(at, was, is)
			}
		default:
			if was != is {
				say(at, was, is)
			}
		}
	}
	walk(at, was, is)
	return out
}

// TestDifferencesAreSeen: what the comparison is for.
func TestDifferencesAreSeen(t *testing.T) {
	t.Parallel()
	read := func(text string) any {
		var v any
		require.NoError(t, json.Unmarshal([]byte(text), &v))
		return v
	}
	base := `{"a":[1,2,{"b":null}],"c":"x"}`
	assert.Empty(t, differences("q", read(base), read(base)))
	for _, other := range []string{`{"a":[2,1,{"b":null}],"c":"x"}`, `{"a":[1,2],"c":"x"}`, `{"a":[1,2,{"b":0}],"c":"x"}`, `{"a":[1,2,{"b":null}],"c":"y"}`, `{"a":[1,2,{}],"c":"x"}`, `{"a":[1,2,{"b":null}],"c":"x","d":1}`} {
		assert.NotEmpty(t, differences("q", read(base), read(other)), other)
	}
	assert.True(t, strings.HasPrefix(differences("q", read(base), read(`{"a":[1,2,{"b":null}],"c":"y"}`))[0], "q.c: "))
}
