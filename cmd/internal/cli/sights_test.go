package cli

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/testdata/cumberland"
)

// feed runs the command line with something on standard input.
func feed(ctx context.Context, t *testing.T, in io.Reader, arguments ...string) outcome {
	t.Helper()
	var out, errs bytes.Buffer
	code := Main(ctx, arguments, Streams{In: in, Out: &out, Err: &errs, Now: time.Now})
	return outcome{code, out.String(), errs.String()}
}

// table are the rows of a CSV table by heading.
func table(t *testing.T, text string) []map[string]string {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	require.NoError(t, err)
	var out []map[string]string
	for _, r := range rows[1:] {
		m := map[string]string{}
		for i, h := range rows[0] {
			m[h] = r[i]
		}
		out = append(out, m)
	}
	return out
}

// figure is a JSON figure as a table has it.
func figure(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	return fmt.Sprint(v)
}

// TestSightsAreThoseOfSight: row by row, what crowline sight says of the pair,
// and of a pair it cannot answer why.
func TestSightsAreThoseOfSight(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(18, 6))
	folder := t.TempDir()
	places := filepath.Join(folder, "places.csv")
	require.NoError(t, os.WriteFile(places, []byte("name,lat,lon\nCamp,36.26,-84.295\nTop,36.27083,-84.2975\n"), 0o644))
	var rows [][2]string
	at := func() string {
		return fmt.Sprintf("%.5f,%.5f", 36.18+0.25*random.Float64(), -84.4+0.25*random.Float64())
	}
	for range 40 {
		rows = append(rows, [2]string{at(), at()})
	}
	near := func() string {
		return fmt.Sprintf("%.5f,%.5f", 36.255+0.02*random.Float64(), -84.305+0.02*random.Float64())
	}
	for range 20 { // that are not all hidden
		rows = append(rows, [2]string{near(), near()})
	}
	rows = append(rows, [2]string{"Camp", "top"}, [2]string{"Camp", "Nowhere"}, [2]string{"36.26,-84.295", "36.26,-84.295"}, [2]string{"35,-80", "36.26,-84.295"},
		[2]string{"36.26,-84.295", "36.9,-84.295"}, [2]string{"36.26,-84.295", "46,-84"}, [2]string{"91,0", "36.26,-84.295"}, [2]string{"16SGF4301711618", "Camp"})
	var in bytes.Buffer
	w := csv.NewWriter(&in)
	require.NoError(t, w.Write([]string{"from", "note", "to"}))
	for i, r := range rows {
		require.NoError(t, w.Write([]string{r[0], fmt.Sprintf("row %d, \"so\"", i), r[1]}))
	}
	w.Flush()
	for _, options := range [][]string{nil, {"--eye", "5m", "--target-height", "20m", "--refraction", "0"}} {
		shared := append([]string{"--dem", cumberland.Path(), "--places", places}, options...)
		a := feed(t.Context(), t, bytes.NewReader(in.Bytes()), append([]string{"sights", "-"}, shared...)...)
		require.Equal(t, exitOK, a.code, a.err)
		got := table(t, a.out)
		require.Len(t, got, len(rows))
		words := map[string]int{}
		for i, r := range rows {
			row := got[i]
			assert.Equal(t, fmt.Sprintf("row %d, \"so\"", i), row["note"])
			assert.Equal(t, r[0], row["from"])
			one := run(t, append([]string{"sight", r[0], r[1], "--json"}, shared...)...)
			words[row["likelihood"]]++
			if one.code != exitOK {
				one = run(t, append([]string{"sight", r[0], r[1]}, shared...)...)
				assert.Equal(t, strings.TrimSpace(strings.TrimPrefix(one.err, "crowline: ")), row["status"], "%v", r)
				assert.Empty(t, row["verdict"])
				continue
			}
			var s struct {
				DistanceM float64        `json:"distance_m"`
				Sight     map[string]any `json:"sight"`
			}
			require.NoError(t, json.Unmarshal([]byte(one.out), &s))
			likelihood, _ := s.Sight["likelihood"].(map[string]any)
			assert.Equal(t, "ok", row["status"], "%v", r)
			assert.Equal(t, figure(s.DistanceM), row["distance_m"])
			assert.Equal(t, figure(likelihood["word"]), row["likelihood"])
			assert.Equal(t, figure(likelihood["probability"]), row["probability"], "%v", r)
			for _, key := range []string{"verdict", "clearance_m", "clearance_at_m", "blocked_at_m", "blocker_elevation_m", "extra_height_m", "extra_eye_height_m", "elevation_angle_deg"} {
				assert.Equal(t, figure(s.Sight[key]), row[key], "%s of %v", key, r)
			}
		}
		assert.Greater(t, len(words), 4, "all kinds of likelihood: %v", words)
	}
}

// TestSightsOfGeoJSON: what a table says, and all that was there stays.
func TestSightsOfGeoJSON(t *testing.T) {
	t.Parallel()
	in := `{"type":"FeatureCollection","name":"lines","features":[
{"type":"Feature","id":7,"properties":{"who":"Ä \"b\"","n":1.50},"geometry":{"type":"LineString","coordinates":[[-84.295,36.26,3],[-84.3,36.3],[-84.2975,36.27083]]}},
{"type":"Feature","properties":null,"geometry":{"type":"Point","coordinates":[-84.295,36.26]}},
{"type":"Feature","properties":{"verdict":"mine"},"geometry":{"type":"LineString","coordinates":[[-84.295,36.26],[-84.2975,36.27083]]}},
5,
{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[-84.24,36.22],[-84.295,36.26]]}}
],"made":{"by":"hand"}}`
	a := feed(t.Context(), t, strings.NewReader(in), "sights", "-", "--dem", cumberland.Path())
	require.Equal(t, exitOK, a.code, a.err)
	var c struct {
		Name     string         `json:"name"`
		Made     map[string]any `json:"made"`
		Features []struct {
			ID         any            `json:"id"`
			Properties map[string]any `json:"properties"`
			Geometry   map[string]any `json:"geometry"`
		} `json:"features"`
	}
	require.NoError(t, json.Unmarshal([]byte(a.out), &c), a.out)
	assert.Equal(t, "lines", c.Name)
	assert.Equal(t, "hand", c.Made["by"])
	require.Len(t, c.Features, 5)
	table := table(t, feed(t.Context(), t, strings.NewReader("to_lat,from_lon,from_lat,to_lon\n36.27083,-84.295,36.26,-84.2975\n"), "sights", "-", "--dem", cumberland.Path()).out)
	first := c.Features[0]
	assert.EqualValues(t, 7, first.ID)
	assert.Equal(t, "Ä \"b\"", first.Properties["who"])
	assert.Len(t, first.Geometry["coordinates"], 3)
	for _, key := range []string{"verdict", "clearance_m", "probability", "distance_m", "status"} {
		assert.Equal(t, table[0][key], figure(first.Properties[key]), key)
	}
	for i, want := range []string{"ok", "its geometry is no LineString", "it has a property verdict already, which the answer would be: rename it or take it out", "no feature", "ok"} {
		assert.Equal(t, want, c.Features[i].Properties["status"])
	}
	assert.Equal(t, "mine", c.Features[2].Properties["verdict"])
	assert.Nil(t, c.Features[1].Properties["verdict"])

	for in, want := range map[string]string{
		`{"type":"FeatureCollection","features":[`:                                   "ends early, after 0 features",
		`{"type":"Feature","properties":{}}`:                                         "is no FeatureCollection",
		`{"type":"FeatureCollection"}`:                                               "has no features",
		`{"features":{}}`:                                                            "its features are no list",
		`{"crs":{"properties":{"name":"EPSG:32617"}},"features":[]}`:                 "is not in WGS 84",
		`{"features":[` + strings.Repeat("[", 20000):                                 "after 0 features",
		`{"features":["` + strings.Repeat("x", 20<<20):                               "a feature is larger than 16 MB",
		`{"type":"FeatureCollection","features":[{"type":"Feature"},{"a":}]}`:        "after 1 features",
		`{"type":"FeatureCollection","features":[{"type":"Feature"}` + "\x00" + `]}`: "after 1 features",
	} {
		a := feed(t.Context(), t, strings.NewReader(in), "sights", "-", "--dem", cumberland.Path())
		assert.NotEqual(t, exitOK, a.code)
		assert.Contains(t, a.err, want)
		assert.Equal(t, 1, strings.Count(a.err, "\n"), "one line: %.300q", a.err)
	}
}

const sightsRow = "36.26,-84.295,36.27083,-84.2975"

// TestSightsTellABadRowInItsRow: the rows about it are answered, each in its
// place, and the table keeps its columns.
func TestSightsTellABadRowInItsRow(t *testing.T) {
	t.Parallel()
	bad := map[string]string{
		"":                                     "-", // a blank line stays one
		"a,b,c,d":                              "",
		"1,2,3":                                "the row has 3 columns, the first line 4",
		"1,2,3,4,5":                            "the row has 5 columns, the first line 4",
		`36.26,"-84.295,36.27083,-84.2975`:     "a quotation mark too many or too few",
		`36.26,"-84.2"95,36.27083,-84.2975`:    "a quotation mark too many or too few",
		",,,":                                  "no place in from",
		"36.26,-84.295,,":                      "no place in to",
		"36.26,-84.295,36.27083,NaN":           "",
		"\x1b]0;owned\a36.26,-84.295,36.2,-84": "the row holds control characters",
		"\x00\x01\xff\xfe,1,2,3":               "the row holds control characters",
		strings.Repeat("9", 3<<20):             "the row is longer than 64 KB",
		`"` + strings.Repeat("9", 3<<20):       "the row is longer than 64 KB",
		"1e999,0,0,0":                          "",
	}
	for row, want := range bad {
		in := "from_lat,from_lon,to_lat,to_lon\r\n" + sightsRow + "\r\n" + row + "\r\n" + sightsRow
		a := feed(t.Context(), t, strings.NewReader(in), "sights", "-", "--dem", cumberland.Path())
		require.Equal(t, exitOK, a.code, a.err)
		assert.False(t, strings.ContainsAny(a.out+a.err, "\x00\x1b\a"), "%.40q", row)
		assert.Less(t, len(a.out), 3000, "%.40q", row)
		lines := strings.Split(strings.TrimSuffix(a.out, "\r\n"), "\r\n")
		require.Len(t, lines, 4, "%.40q", row)
		assert.Equal(t, lines[1], lines[3])
		assert.True(t, strings.HasPrefix(lines[1], sightsRow+",visible,"), lines[1])
		if want == "-" {
			assert.Empty(t, lines[2])
			continue
		}
		got := table(t, lines[0]+"\n"+lines[2]+"\n")[0]
		assert.Empty(t, got["verdict"])
		assert.Contains(t, got["status"], want)
		assert.NotContains(t, got["status"], "ok")
	}
	for in, want := range map[string]string{
		"":                                   "is empty",
		"lat,lon\n1,2\n":                     "its first line names no columns from and to",
		"\x00\x01\x02":                       "its first line names no columns from and to",
		strings.Repeat("from,to,", 1<<20):    "its first line names no columns from and to",
		"from,to,verdict\n1,2,3\n":           "has a column verdict already",
		"from,to,from\n1,2,3\n":              `two columns called "from"`,
		"from,to\nx,y\nx,z\n":                "none of 2 rows has an answer; the first:",
		"from,to" + strings.Repeat(",", 2e3): "has 2002 columns",
	} {
		a := feed(t.Context(), t, strings.NewReader(in), "sights", "-", "--dem", cumberland.Path())
		assert.NotEqual(t, exitOK, a.code, "%.40q", in)
		assert.Contains(t, a.err, want)
		assert.Less(t, len(a.err), 400)
	}
}

// TestSightsKeepsWhatItReads: neither a table nor one that standard output goes to
// is written over.
func TestSightsKeepsWhatItReads(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "pairs.csv")
	text := "from_lat;from_lon;to_lat;to_lon\n" + strings.ReplaceAll(sightsRow, ",", ";") + "\n"
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	a := run(t, "sights", path, "--dem", cumberland.Path(), "-o", path)
	assert.Equal(t, exitUsage, a.code)
	assert.Contains(t, a.err, "would write over")
	f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
	require.NoError(t, err)
	defer f.Close()
	var errs bytes.Buffer
	assert.Equal(t, exitUsage, Main(t.Context(), []string{"sights", path, "--dem", cumberland.Path()}, Streams{Out: f, Err: &errs, Now: time.Now}))
	assert.Contains(t, errs.String(), "standard output goes to")
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, text, string(kept))

	out := filepath.Join(filepath.Dir(path), "seen.csv")
	a = run(t, "sights", path, "--dem", cumberland.Path(), "-o", out)
	require.Equal(t, exitOK, a.code, a.err)
	assert.Contains(t, a.out, "1 visible")
	seen, err := os.ReadFile(out)
	require.NoError(t, err)
	assert.Equal(t, 2, strings.Count(string(seen), "\n"))
	assert.Contains(t, string(seen), strings.TrimSuffix(strings.ReplaceAll(sightsRow, ",", ";"), "\n")+";visible;")
}

// endless gives rows for ever, and stops the run after so many.
type endless struct {
	left int
	stop func()
}

func (e *endless) Read(b []byte) (int, error) {
	if e.left--; e.left == 0 {
		e.stop()
	}
	return copy(b, sightsRow+"\n"), nil
}

// TestSightsStopWithWholeRows: and what came before is answered as it comes.
func TestSightsStopWithWholeRows(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	in := io.MultiReader(strings.NewReader("from_lat,from_lon,to_lat,to_lon\n"), &endless{left: 800, stop: cancel})
	a := feed(ctx, t, in, "sights", "-", "--dem", cumberland.Path())
	assert.Equal(t, exitCancel, a.code)
	assert.Equal(t, "crowline: stopped\n", a.err)
	rows := strings.Split(strings.TrimSuffix(a.out, "\n"), "\n")
	assert.Greater(t, len(rows), 2)
	for _, r := range rows[1:] {
		require.Equal(t, rows[1], r)
	}
	assert.True(t, strings.HasSuffix(rows[1], ",ok"))
}
