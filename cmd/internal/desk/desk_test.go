package desk

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"image/png"
	"io"
	"math"
	"net"
	"net/http"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/answer"
	"crowline/dem/geodesy"
)

// The demo's leg, and a place off the demo data.
const (
	camp  = "34.3297,-118.0548"
	bench = "34.3008,-118.0514"
)

// testDesk serves the demo data until the test ends.
type testDesk struct {
	*Desk
	t    *testing.T
	base string
}

func newDesk(t *testing.T) *testDesk {
	t.Helper()
	g, err := answer.Open(t.Context(), answer.Data{}, answer.Reach{})
	require.NoError(t, err)
	require.NoError(t, g.Hold(t.Context()))
	start := DefaultState()
	d, err := New(t.Context(), Config{
		Ground: g, Sighting: answer.DefaultSighting(), Walk: answer.DefaultWalk(), Marks: 3, Start: start,
		Needle: func() answer.Needle { return answer.Needle{Day: time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC)} },
		Front: Front{
			Place: func(text string) (answer.Place, error) {
				p, err := geodesy.ParsePlace(text)
				return answer.PlaceAt(p), err
			},
			Interval: func(string) (answer.Interval, error) { return answer.Interval{}, errors.New("no interval") },
			Day:      func(text string) (time.Time, error) { return time.Parse("2006-01-02", text) },
			Command: func(name string, arguments []string, flags []Flag) string {
				for _, f := range flags {
					arguments = append(arguments, "--"+f.Name, f.Value)
				}
				return name + " " + strings.Join(arguments, " ")
			},
		},
	})
	require.NoError(t, err)
	d.off = map[guardName]bool{}
	l, err := Listen(0)
	require.NoError(t, err)
	ctx, stop := context.WithCancel(context.Background())
	served := make(chan error, 1)
	go func() {
		_, err := d.Serve(ctx, l)
		served <- err
	}()
	out := &testDesk{d, t, "http://" + l.Addr().String()}
	t.Cleanup(func() {
		stop()
		assert.NoError(t, <-served)
		assert.NoError(t, g.Close())
	})
	return out
}

// asked is the answer to a request with a token, and what edit makes of it.
func (d *testDesk) asked(method, path, question string, edit func(r *http.Request)) (*http.Response, []byte) {
	d.t.Helper()
	var body io.Reader
	if method == http.MethodPost {
		body = strings.NewReader(question)
	}
	r, err := http.NewRequestWithContext(d.t.Context(), method, d.base+path, body)
	require.NoError(d.t, err)
	r.Header.Set("Crowline-Token", d.token)
	if method == http.MethodPost {
		r.Header.Set("Content-Type", "application/json")
	}
	if edit != nil {
		edit(r)
	}
	response, err := http.DefaultClient.Do(r)
	require.NoError(d.t, err)
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	require.NoError(d.t, err)
	return response, text
}

// ask posts a question that is answered.
func (d *testDesk) ask(path, question string, into any) []byte {
	d.t.Helper()
	response, text := d.asked(http.MethodPost, path, question, nil)
	require.Equal(d.t, http.StatusOK, response.StatusCode, "%s", text)
	if into != nil {
		require.NoError(d.t, json.Unmarshal(text, into))
	}
	return text
}

const legAsked = `{"turns":[{"text":"` + camp + `"},{"text":"` + bench + `"}]}`

// TestGuards: each guard refuses a request, and the same request is answered when
// that guard alone is off.
func TestGuards(t *testing.T) {
	d := newDesk(t)
	set := func(name, value string) func(*http.Request) {
		return func(r *http.Request) { r.Header.Set(name, value) }
	}
	host := func(name string) func(*http.Request) { return func(r *http.Request) { r.Host = name } }
	_, port, err := net.SplitHostPort(strings.TrimPrefix(d.base, "http://"))
	require.NoError(t, err)
	for _, c := range []struct {
		name         string
		guard        guardName
		method, path string
		question     string
		edit         func(*http.Request)
		status       int
		code         string
	}{
		{"rebound name, asset", guardHost, "GET", "/", "", host("evil.example:" + port), 403, "forbidden"},
		{"rebound name, data", guardHost, "GET", "/api/tile/5/2/2", "", host("evil.example:" + port), 403, "forbidden"},
		{"no port", guardHost, "GET", "/", "", host("localhost"), 403, "forbidden"},
		{"another port", guardHost, "GET", "/", "", host("127.0.0.1:1"), 403, "forbidden"},
		{"a dot behind", guardHost, "GET", "/", "", host("localhost.:" + port), 403, "forbidden"},
		{"an own name for here", guardHost, "GET", "/", "", host("127.0.0.2:" + port), 403, "forbidden"},
		{"another site's picture", guardSite, "GET", "/", "", set("Sec-Fetch-Site", "cross-site"), 403, "forbidden"},
		{"a neighbour's picture", guardSite, "GET", "/api/tile/5/2/2", "", set("Sec-Fetch-Site", "same-site"), 403, "forbidden"},
		{"another origin's post", guardOrigin, "POST", "/api/quick", legAsked, set("Origin", "http://evil.example"), 403, "forbidden"},
		{"a file's post", guardOrigin, "POST", "/api/quick", legAsked, set("Origin", "null"), 403, "forbidden"},
		{"no token", guardToken, "POST", "/api/quick", legAsked, func(r *http.Request) { r.Header.Del("Crowline-Token") }, 401, "token"},
		{"another token", guardToken, "GET", "/api/tile/5/2/2", "", set("Crowline-Token", strings.Repeat("A", len(d.token))), 401, "token"},
		{"a part of the token", guardToken, "GET", "/api/tile/5/2/2", "", set("Crowline-Token", d.token[1:]), 401, "token"},
		{"the token in the address", guardToken, "GET", "/api/tile/5/2/2?units=metric", "", func(r *http.Request) {
			r.Header.Del("Crowline-Token")
			r.AddCookie(&http.Cookie{Name: "Crowline-Token", Value: d.token})
		}, 401, "token"},
		{"a form", guardType, "POST", "/api/quick", legAsked, set("Content-Type", "application/x-www-form-urlencoded"), 415, "type"},
		{"plain text", guardType, "POST", "/api/quick", legAsked, set("Content-Type", "text/plain"), 415, "type"},
		{"no type", guardType, "POST", "/api/quick", legAsked, func(r *http.Request) { r.Header.Del("Content-Type") }, 415, "type"},
		{"a large body", guardSize, "POST", "/api/quick", legAsked + strings.Repeat(" ", mostBody), nil, 413, "large"},
		{"a large body of no length", guardSize, "POST", "/api/quick", legAsked + strings.Repeat(" ", mostBody), func(r *http.Request) { r.ContentLength = -1 }, 413, "large"},
		{"an unknown field", guardFields, "POST", "/api/quick", `{"out":"/etc/passwd",` + legAsked[1:], nil, 400, "request"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d.t = t
			d.off = map[guardName]bool{}
			response, text := d.asked(c.method, c.path, c.question, c.edit)
			assert.Equal(t, c.status, response.StatusCode, "%s", text)
			var said struct {
				Error fault `json:"error"`
			}
			require.NoError(t, json.Unmarshal(text, &said))
			assert.Equal(t, c.code, said.Error.Code)
			assert.NotContains(t, string(text), d.token)
			d.off = map[guardName]bool{c.guard: true}
			response, text = d.asked(c.method, c.path, c.question, c.edit)
			assert.Equal(t, http.StatusOK, response.StatusCode, "the guard %q is off: %.300s", c.guard, text)
		})
	}
	d.t = t
	d.off = map[guardName]bool{}
	for _, name := range []string{"127.0.0.1:" + port, "localhost:" + port} {
		response, _ := d.asked("GET", "/", "", host(name))
		assert.Equal(t, http.StatusOK, response.StatusCode, name)
	}
}

// TestHeadersOfEveryAnswer, of assets, data and errors; and none lets another site
// read.
func TestHeadersOfEveryAnswer(t *testing.T) {
	d := newDesk(t)
	for _, path := range []string{"/", "/main.js", "/api/tile/5/2/2", "/api/nothing", "/nothing", "/api/quick"} {
		d.off = map[guardName]bool{}
		response, _ := d.asked("GET", path, "", func(r *http.Request) { r.Header.Set("Origin", d.base) })
		for name, value := range securityHeaders {
			assert.Equal(t, value, response.Header.Get(name), "%s of %s", name, path)
		}
		for name := range response.Header {
			assert.False(t, strings.HasPrefix(name, "Access-Control-"), "%s of %s", name, path)
		}
		d.off = map[guardName]bool{guardHeaders: true}
		response, _ = d.asked("GET", path, "", nil)
		assert.Empty(t, response.Header.Get("Content-Security-Policy"))
	}
	csp := securityHeaders["Content-Security-Policy"]
	for _, never := range []string{"unsafe", "*", "http:", "https:", "data:"} {
		assert.NotContains(t, csp, never)
	}
}

// TestListensOnThisMachineAlone: no other address of this machine is taken.
func TestListensOnThisMachineAlone(t *testing.T) {
	l, err := Listen(0)
	require.NoError(t, err)
	defer l.Close()
	assert.Equal(t, "127.0.0.1", l.Addr().(*net.TCPAddr).IP.String())
}

// TestSlowClientsAreGivenUp: who opens a connection and sends nothing, a header, or
// half a body is not waited for; with the limit off, as the zero of http.Server is, they
// are.
func TestSlowClientsAreGivenUp(t *testing.T) {
	d := newDesk(t)
	s := d.server(t.Context())
	for name, limit := range map[string]time.Duration{"header": s.ReadHeaderTimeout, "read": s.ReadTimeout, "write": s.WriteTimeout, "idle": s.IdleTimeout} {
		assert.Greater(t, limit, time.Duration(0), name)
	}
	assert.Greater(t, s.MaxHeaderBytes, 0)
	for limited, sent := range map[bool]string{true: "POST /api/quick HTTP/1.1\r\nHost: " + strings.TrimPrefix(d.base, "http://") + "\r\n", false: "GET / HTT"} {
		slow := d.server(t.Context())
		slow.ReadHeaderTimeout, slow.ReadTimeout = 0, 0
		if limited {
			slow.ReadHeaderTimeout = 20 * time.Millisecond
		}
		l, err := Listen(0)
		require.NoError(t, err)
		go func() { _ = slow.Serve(l) }()
		c, err := net.Dial("tcp", l.Addr().String())
		require.NoError(t, err)
		_, err = c.Write([]byte(sent))
		require.NoError(t, err)
		require.NoError(t, c.SetReadDeadline(time.Now().Add(500*time.Millisecond)))
		_, err = io.ReadAll(c)
		assert.Equal(t, limited, !errors.Is(err, os.ErrDeadlineExceeded), "given up: %v", err)
		require.NoError(t, c.Close())
		require.NoError(t, slow.Close())
	}
}

// TestAssetsAreTheList: the list names the files of the page, and no others are
// served.
func TestAssetsAreTheList(t *testing.T) {
	var there []string
	entries, err := os.ReadDir("page")
	require.NoError(t, err)
	for _, e := range entries {
		if e.IsDir() {
			inner, err := os.ReadDir("page/" + e.Name())
			require.NoError(t, err)
			for _, f := range inner {
				there = append(there, e.Name()+"/"+f.Name())
			}
			continue
		}
		there = append(there, e.Name())
	}
	assert.ElementsMatch(t, there, assets, "assets.go names the page's files in its list and in its embed directive")
	d := newDesk(t)
	for _, name := range assets {
		assert.NotEmpty(t, contentTypes[path.Ext(name)], name)
		at := "/" + name
		if name == "index.html" {
			at = "/"
		}
		response, text := d.asked("GET", at, "", nil)
		assert.Equal(t, http.StatusOK, response.StatusCode, name)
		assert.Equal(t, contentTypes[path.Ext(name)], response.Header.Get("Content-Type"))
		assert.NotEmpty(t, text)
	}
	for _, at := range []string{"/index.html", "/page/", "/page/main.js", "/assets.go", "/..%2fassets.go", "/%2e%2e/assets.go"} {
		response, _ := d.asked("GET", at, "", nil)
		assert.Equal(t, http.StatusNotFound, response.StatusCode, at)
	}
}

// TestWrongQuestions are refused with the field at fault, and nothing breaks.
func TestWrongQuestions(t *testing.T) {
	d := newDesk(t)
	for _, c := range []struct {
		path, question string
		status         int
		code, field    string
	}{
		{"/api/quick", ``, 400, "request", ""},
		{"/api/quick", `[]`, 400, "request", ""},
		{"/api/quick", `null`, 400, "request", ""},
		{"/api/quick", `{"turns":[`, 400, "request", ""},
		{"/api/quick", legAsked + legAsked, 400, "request", ""},
		{"/api/quick", `{"turns":"x"}`, 400, "request", "turns"},
		{"/api/quick", `{"turns":[{"text":"` + camp + `"}]}`, 400, "request", "turns"},
		{"/api/quick", `{"turns":[{"text":"` + camp + `"},{}]}`, 400, "request", "turns[1]"},
		{"/api/quick", `{"turns":[{"text":"` + camp + `"},{"text":"nowhere"}]}`, 422, "place", "turns[1]"},
		{"/api/quick", `{"turns":[{"text":"` + camp + `"},{"x":1}]}`, 400, "request", "turns[1]"},
		{"/api/quick", `{"turns":[{"text":"` + camp + `"},{"x":1,"y":1e300}]}`, 400, "request", "turns[1]"},
		{"/api/quick", `{"turns":[{"text":"` + camp + `"},{"x":1,"y":1,"text":"1,1"}]}`, 400, "request", "turns[1]"},
		{"/api/quick", `{"turns":[{"text":"` + camp + `"},{"lat":91,"lon":0}]}`, 422, "place", "turns[1]"},
		{"/api/quick", `{"turns":[{"text":"` + camp + `"},{"text":"` + camp + `"}]}`, 422, "answer", ""},
		{"/api/quick", `{"options":{"eye_m":-1},` + legAsked[1:], 400, "request", "options"},
		{"/api/quick", `{"options":{"eye_m":1e999},` + legAsked[1:], 400, "request", "options.eye_m"},
		{"/api/quick", `{"options":{"units":"cubits"},` + legAsked[1:], 400, "request", "options.units"},
		{"/api/quick", `{"options":{"date":"tomorrow"},` + legAsked[1:], 400, "request", "options.date"},
		{"/api/quick", `{"options":{"marks":101},` + legAsked[1:], 400, "request", "options.marks"},
		{"/api/place", `{"at":{"text":"10,10"}}`, 422, "place", "at"},
		{"/api/place", `{"at":{"text":"` + strings.Repeat("9", 201) + `"}}`, 400, "request", "at"},
		{"/api/place", `{"at":{"text":"a\u0000b"}}`, 400, "request", "at"},
		{"/api/view", `{"at":{"text":"` + camp + `"},"radius_m":-1}`, 400, "request", ""},
		{"/api/view", `{"at":{"text":"` + camp + `"},"steps":4}`, 400, "request", "steps"},
		{"/api/take/sheet", `{"turns":[{"text":"` + camp + `"}],"scale":1,"format":"pdf"}`, 400, "request", ""},
		{"/api/take/sheet", `{"turns":[{"text":"` + camp + `"}],"scale":25000,"format":"exe"}`, 400, "request", "format"},
		{"/api/take/sheet", `{"turns":[{"text":"` + camp + `"}],"scale":25000,"format":"pdf","paper":"9x9km"}`, 400, "request", "paper"},
		{"/api/take/drill", `{"at":{"text":"` + camp + `"},"count":1000,"level":"leader","radius_m":3000,"scale":25000}`, 400, "request", ""},
		{"/api/vantage", `{"around":{"text":"` + camp + `"},"radius_m":20001}`, 400, "request", "radius_m"},
		{"/api/vantage", `{"around":{"text":"` + camp + `"},"radius_m":0}`, 400, "request", ""},
		{"/api/vantage", `{"radius_m":1000}`, 400, "request", "around"},
		{"/api/vantage", `{"around":{"text":"` + camp + `"},"radius_m":1000,"watch_from":{"text":"` + camp + `"}}`, 400, "request", "watch_to"},
		{"/api/state", `{"link":"http://evil.example/"}`, 422, "answer", "link"},
		{"/api/state", `{"link":"crowline:desk?token=x"}`, 422, "answer", "link"},
		{"/api/state", `{"state":{"turns":[],"relief":101}}`, 400, "request", "relief"},
		{"/api/state", `{}`, 400, "request", ""},
	} {
		response, text := d.asked("POST", c.path, c.question, nil)
		var said struct {
			Error fault `json:"error"`
		}
		require.NoError(t, json.Unmarshal(text, &said), "%s", text)
		assert.Equal(t, c.status, response.StatusCode, "%s %s: %s", c.path, c.question, text)
		assert.Equal(t, c.code, said.Error.Code, "%s: %s", c.question, text)
		assert.Equal(t, c.field, said.Error.Field, "%s: %s", c.question, text)
		assert.NotContains(t, said.Error.Message, "\n")
	}
	for _, path := range []string{"/api/tile/99/0/0", "/api/tile/x/0/0", "/api/tile/5/1e3/0", "/api/tile/5/0/99999999999", "/api/tile/5/0/0?relief=101", "/api/tile/5/0/0?contours=2", "/api/tile/5/0/0?ratio=9", "/api/tile/5/0/0?file=x"} {
		response, _ := d.asked("GET", path, "", nil)
		assert.Equal(t, http.StatusBadRequest, response.StatusCode, path)
	}
	response, _ := d.asked("GET", "/api/quick", "", nil)
	assert.Equal(t, http.StatusMethodNotAllowed, response.StatusCode)
}

// TestLegIsTheAnswerLayers: the page's JSON is what the command line writes, byte for
// byte but for its spaces, while other questions are asked at the same time.
func TestLegIsTheAnswerLayers(t *testing.T) {
	d := newDesk(t)
	var got legAnswer
	d.ask("/api/leg", `{"from":{"text":"`+camp+`"},"to":{"text":"`+bench+`"}}`, &got)
	g, err := answer.Open(t.Context(), answer.Data{}, answer.Reach{})
	require.NoError(t, err)
	defer g.Close()
	from, err := geodesy.ParsePlace(camp)
	require.NoError(t, err)
	to, err := geodesy.ParsePlace(bench)
	require.NoError(t, err)
	a, err := answer.Leg(t.Context(), g, answer.LegRequest{
		From: answer.PlaceAt(from), To: answer.PlaceAt(to), Sighting: answer.DefaultSighting(), Needle: d.Needle(), Walk: answer.DefaultWalk(), Marks: 3,
	})
	require.NoError(t, err)
	want, err := answer.Compact(a)
	require.NoError(t, err)
	assert.JSONEq(t, string(want), string(got.Answer))
	assert.Equal(t, "leg "+camp+" "+bench, got.Command)
	assert.Contains(t, got.Text.Plain, got.Text.First[0].Label)
	assert.NotEmpty(t, got.Draw.Marks)

	var quick struct {
		Legs []struct {
			Distance float64 `json:"distance_m"`
			Climb    struct {
				AscentM float64 `json:"ascent_m"`
			} `json:"climb"`
			Profile struct {
				BlockedAt float64 `json:"blocked_at_m"`
			} `json:"profile"`
		} `json:"legs"`
	}
	d.ask("/api/quick", legAsked, &quick)
	assert.InDelta(t, a.DistanceM, quick.Legs[0].Distance, 0.01) // m: both are rounded so
	assert.InDelta(t, a.Climb.AscentM, quick.Legs[0].Climb.AscentM, 0.1)
	assert.Equal(t, a.Sight.Verdict.String() == "hidden", quick.Legs[0].Profile.BlockedAt > 0)
}

// TestPointedPlaceIsTheCommands: a point of the map, given again as the text of its
// answer, is the same place.
func TestPointedPlaceIsTheCommands(t *testing.T) {
	d := newDesk(t)
	var first, again placeAnswer
	d.ask("/api/place", `{"at":{"x":402967.4567,"y":3799217.1234}}`, &first)
	d.ask("/api/place", `{"at":{"text":"`+first.At.Text+`"}}`, &again)
	assert.Equal(t, first, again)
	const halfStep = 0.6 // m: half of the fifth decimal of a degree, and a hair
	assert.InDelta(t, 402967.4567, first.At.X, halfStep)
	assert.InDelta(t, 3799217.1234, first.At.Y, halfStep)
}

// TestTintIsTheViewshed at every seventh cell, in two steps; and in three it is
// what the drawn map shows.
func TestTintIsTheViewshed(t *testing.T) {
	d := newDesk(t)
	for _, steps := range []int{2, 3} {
		t.Run(fmt.Sprint(steps), func(t *testing.T) { tintIsTheViewshed(t, d, steps) })
	}
	wood := filepath.Join(t.TempDir(), "wood.geojson")
	require.NoError(t, os.WriteFile(wood, []byte(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"height":15},"geometry":{"type":"Polygon",
		"coordinates":[[[-118.06,34.31],[-118.05,34.31],[-118.05,34.325],[-118.06,34.325],[-118.06,34.31]]]}}]}`), 0o600))
	d.Cover = answer.Cover{File: wood, Field: "height", Clearing: 30}
	for _, steps := range []int{2, 3} {
		t.Run(fmt.Sprint("cover ", steps), func(t *testing.T) {
			said := string(tintIsTheViewshed(t, d, steps))
			assert.Contains(t, said, "over what stands on the ground: wood.geojson")
		})
	}
}

func tintIsTheViewshed(t *testing.T, d *testDesk, steps int) []byte {
	picture := d.ask("/api/view", fmt.Sprintf(`{"at":{"text":"%s"},"radius_m":3000,"steps":%d}`, camp, steps), nil)
	require.Equal(t, "CLV1", string(picture[:4]))
	number := func(at int) float64 {
		return math.Float64frombits(binary.LittleEndian.Uint64(picture[at:]))
	}
	columns, rows := int(binary.LittleEndian.Uint32(picture[4:])), int(binary.LittleEndian.Uint32(picture[8:]))
	west, north, cell := number(16), number(24), number(32)
	cells := picture[44+int(binary.LittleEndian.Uint32(picture[40:])):]
	require.Len(t, cells, columns*rows)
	at, err := geodesy.ParsePlace(camp)
	require.NoError(t, err)
	a, err := answer.Viewshed(t.Context(), d.unjudged, answer.ViewshedRequest{From: []answer.Place{answer.PlaceAt(at)}, Sighting: answer.DefaultSighting(), Cover: d.Cover, Radius: 3000, Drawn: steps == 3})
	require.NoError(t, err)
	v := a.Seen()[0]
	codes := v.Codes()
	if steps == 3 {
		codes = nil
		for _, step := range a.Steps() {
			codes = append(codes, byte(step))
		}
	}
	checked := map[byte]int{}
	for i := 0; i < len(cells); i += 7 {
		p, err := d.chart.Place(west+(float64(i%columns)+0.5)*cell, north-(float64(i/columns)+0.5)*cell)
		require.NoError(t, err)
		column, row, err := v.Frame.Locate(p)
		require.NoError(t, err)
		c, r := math.Round(column), math.Round(row)
		const between = 0.49 // of a cell: which post is nearest is a matter of rounding
		if math.Abs(column-c) > between || math.Abs(row-r) > between || c < 0 || r < 0 || int(c) >= v.Frame.Columns || int(r) >= v.Frame.Rows {
			continue
		}
		require.Equal(t, codes[int(r)*v.Frame.Columns+int(c)], cells[i], "cell %d", i)
		checked[cells[i]]++
	}
	assert.Greater(t, checked[answer.TintHidden], 500)
	assert.Equal(t, steps == 3, checked[answer.TintWithinError] > 20, "%v", checked)
	return picture[44 : len(picture)-len(cells)]
}

// TestTilesAndElevations are pictures of the size that is told, and the heights of
// the ground.
func TestTilesAndElevations(t *testing.T) {
	d := newDesk(t)
	for ratio, size := range map[string]int{"1": answer.TilePixels, "2": 2 * answer.TilePixels} {
		response, text := d.asked("GET", "/api/tile/5/2/2?ratio="+ratio, "", nil)
		require.Equal(t, http.StatusOK, response.StatusCode, "%s", text)
		picture, err := png.Decode(bytes.NewReader(text))
		require.NoError(t, err)
		assert.Equal(t, size, picture.Bounds().Dx())
		assert.Equal(t, size, picture.Bounds().Dy())
	}
	for _, path := range []string{"/api/tile/5/-9/0", "/api/elevations/5/-9/0"} {
		response, text := d.asked("GET", path, "", nil)
		assert.Equal(t, http.StatusNoContent, response.StatusCode)
		assert.Empty(t, text)
	}
	_, text := d.asked("GET", "/api/elevations/5/2/2", "", nil)
	require.Len(t, text, 4*answer.TileNodes*answer.TileNodes)
	x0, y0 := d.chart.Origin()
	const perNode, side = 4 * 5.0, 512 * 5.0 // metres on the plane at level 5
	for _, i := range []int{0, 5000, 16000} {
		p, err := d.chart.Place(x0+2*side+float64(i%answer.TileNodes)*perNode, y0-2*side-float64(i/answer.TileNodes)*perNode)
		require.NoError(t, err)
		s, err := d.unjudged.Spot(t.Context(), answer.PlaceAt(p))
		require.NoError(t, err)
		assert.InDelta(t, s.ElevationM, math.Float32frombits(binary.LittleEndian.Uint32(text[4*i:])), 0.01) // m: a float32 of a place to a nanodegree
	}
}

// frames takes a stream apart.
func frames(t *testing.T, text []byte) (kinds string, file []byte, last []byte) {
	t.Helper()
	for len(text) > 0 {
		require.GreaterOrEqual(t, len(text), 5)
		n := int(binary.LittleEndian.Uint32(text[1:]))
		require.GreaterOrEqual(t, len(text), 5+n)
		kinds, last = kinds+string(text[0]), text[5:5+n]
		if text[0] == 'F' {
			file = append(file, last...)
		}
		text = text[5+n:]
	}
	return kinds, file, last
}

// TestTakenFilesAreWhole: each ends with D and is what its name says; one that
// cannot be made ends with E and holds nothing.
func TestTakenFilesAreWhole(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	d := newDesk(t)
	turns := legAsked[1 : len(legAsked)-1]
	for what, c := range map[string]struct{ question, begins string }{
		"sheet":   {turns + `,"scale":25000,"paper":"A4","format":"pdf"`, "%PDF"},
		"card":    {turns + `,"title":"Day one","format":"png"`, "\x89PNG"},
		"profile": {turns + `,"format":"svg"`, "<svg"},
		"gpx":     {turns, "<?xml"},
		"json":    {turns, "{"},
	} {
		kinds, file, _ := frames(t, d.ask("/api/take/"+what, "{"+c.question+"}", nil))
		assert.True(t, strings.HasSuffix(kinds, "FD"), "%s: %s", what, kinds)
		assert.True(t, bytes.HasPrefix(file, []byte(c.begins)), "%s: %.20q", what, file)
	}
	kinds, file, last := frames(t, d.ask("/api/take/profile", `{"turns":[{"text":"`+camp+`"},{"text":"`+camp+`"}],"format":"svg"}`, nil))
	assert.Equal(t, "E", kinds)
	assert.Empty(t, file)
	assert.Contains(t, string(last), `"error"`)
	left, err := os.ReadDir(os.TempDir())
	require.NoError(t, err)
	assert.Empty(t, left)
}

// lastDecimal of a place in JSON, degrees.
const lastDecimal = 1e-7

// TestRidgesAreWithinTheView: edges are told, and each stands below the skyline of its
// bearing and nearer than it.
func TestRidgesAreWithinTheView(t *testing.T) {
	d := newDesk(t)
	var a struct {
		Strip struct {
			Angles    []*float64 `json:"angle_deg"`
			Distances []*float64 `json:"distance_m"`
		}
		Ridges [][]float64
	}
	d.ask("/api/skyline", `{"at":{"text":"`+camp+`"}}`, &a)
	require.Greater(t, len(a.Ridges), 10)
	const (
		rounding  = 0.1 // degrees: the strip is traced finer than the view
		tenthPart = 10  // bearings of the strip to a degree
	)
	points, above := 0, 0
	for _, r := range a.Ridges {
		require.Zero(t, len(r)%3)
		for i := 0; i < len(r); i += 3 {
			k := int(math.Round(r[i]*tenthPart)) % len(a.Strip.Angles)
			if points++; r[i+1] > *a.Strip.Angles[k]+rounding || r[i+2] > *a.Strip.Distances[k] {
				above++
			}
		}
	}
	assert.Less(t, above, points/100, "of %d", points)
}

// TestVantageIsTheAnswers: the page's places to stand are those of the answer layer,
// and each lies on a cell of the tint that says so.
func TestVantageIsTheAnswers(t *testing.T) {
	d := newDesk(t)
	r := answer.DefaultVantage()
	at, err := geodesy.ParsePlace(camp)
	require.NoError(t, err)
	goal, err := geodesy.ParsePlace(bench)
	require.NoError(t, err)
	r.Around, r.Radius, r.Needle, r.See = answer.PlaceAt(at), 1500, d.Needle(), []answer.Place{answer.PlaceAt(goal)}
	want, err := ask(t.Context(), d.Desk, r, answer.Vantage)
	require.NoError(t, err)
	kinds, file, _ := frames(t, d.ask("/api/vantage", `{"around":{"text":"`+camp+`"},"radius_m":1500,"see":[{"text":"`+bench+`"}]}`, nil))
	require.True(t, strings.HasSuffix(kinds, "FD"), kinds)
	columns, steps := int(binary.LittleEndian.Uint32(file[4:])), int(binary.LittleEndian.Uint32(file[12:]))
	number := func(offset int) float64 { return math.Float64frombits(binary.LittleEndian.Uint64(file[offset:])) }
	west, north, cell, length := number(16), number(24), number(32), int(binary.LittleEndian.Uint32(file[40:]))
	var got struct {
		vantageAnswer
		Standpoints []struct {
			Place struct{ Lat, Lon, X, Y float64 }
			Why   string
		} `json:"standpoints"`
	}
	require.NoError(t, json.Unmarshal(file[44:44+length], &got))
	require.Len(t, got.Standpoints, len(want.Standpoints))
	require.NotEmpty(t, want.Standpoints)
	assert.Equal(t, []string{"The mark is seen"}, got.Steps)
	assert.Equal(t, 1, steps)
	for i, s := range got.Standpoints {
		assert.InDelta(t, want.Standpoints[i].At.Lat, s.Place.Lat, lastDecimal)
		assert.InDelta(t, want.Standpoints[i].At.Lon, s.Place.Lon, lastDecimal)
		assert.Equal(t, want.Standpoints[i].Why, s.Why)
		k := int((north-s.Place.Y)/cell)*columns + int((s.Place.X-west)/cell)
		assert.Equal(t, byte(2), file[44+length+k], "the mark is seen from standpoint %d", i+1)
	}
	assert.Contains(t, got.Command, "--cover "+Dropped)
}

// TestStopsWhileAtWork: a desk that is stopped while a drill is made breaks it off.
func TestStopsWhileAtWork(t *testing.T) {
	d := newDesk(t)
	ctx, giveUp := context.WithCancel(t.Context())
	r, err := http.NewRequestWithContext(ctx, "POST", d.base+"/api/take/drill", strings.NewReader(
		`{"at":{"text":"`+camp+`"},"radius_m":3000,"level":"leader","count":50,"seed":1,"scale":25000,"part":"both"}`))
	require.NoError(t, err)
	r.Header.Set("Crowline-Token", d.token)
	r.Header.Set("Content-Type", "application/json")
	response, err := http.DefaultClient.Do(r)
	if err == nil { // its first frame has come
		giveUp()
		_, err = io.ReadAll(response.Body)
		response.Body.Close()
	}
	giveUp()
	assert.Error(t, err)
	d.busy.Wait() // what was given up is no longer worked on
}

// TestLatestWins: a later turn cancels the one before, an earlier one is refused, and
// other pages and paths are not touched.
func TestLatestWins(t *testing.T) {
	all := &turns{pages: map[string]*pageTurns{}}
	begin := func(page, path, number string) (context.Context, *fault) {
		r, err := http.NewRequest("POST", path, nil)
		require.NoError(t, err)
		r.Header.Set("Crowline-Page", page)
		r.Header.Set("Crowline-Turn", number)
		ctx, _, f := all.begin(t.Context(), r)
		return ctx, f
	}
	first, f := begin("a", "/api/quick", "1")
	require.Nil(t, f)
	other, f := begin("b", "/api/quick", "1")
	require.Nil(t, f)
	view, f := begin("a", "/api/view", "2")
	require.Nil(t, f)
	third, f := begin("a", "/api/quick", "3")
	require.Nil(t, f)
	assert.ErrorIs(t, context.Cause(first), errSuperseded)
	assert.Equal(t, "superseded", faultOf(first, first.Err()).Code)
	for _, ctx := range []context.Context{other, view, third} {
		assert.NoError(t, ctx.Err())
	}
	for _, late := range []string{"2", "3"} {
		_, f = begin("a", "/api/quick", late)
		assert.Equal(t, http.StatusConflict, f.status)
	}
	for _, bad := range [][2]string{{"a b", "1"}, {"", "1"}, {"a", ""}, {"a", "-1"}, {"a", "1e3"}, {strings.Repeat("a", 33), "1"}} {
		_, f = begin(bad[0], "/api/quick", bad[1])
		assert.Equal(t, http.StatusBadRequest, f.status, bad)
	}
	for i := range 3 * mostPages {
		_, f = begin("page"+string(rune('A'+i%26))+string(rune('a'+i/26)), "/api/quick", "1")
		require.Nil(t, f)
	}
	assert.LessOrEqual(t, len(all.pages), mostPages)
	assert.Error(t, other.Err(), "a page long gone is forgotten with its work")
}

// TestNoMoreComputationsThanCores, what moves goes first, and a core is left of the
// long ones.
func TestNoMoreComputationsThanCores(t *testing.T) {
	s, n := newSlots(), runtime.GOMAXPROCS(0)
	var held []func()
	for range n {
		release, err := s.acquire(t.Context(), drawn)
		require.NoError(t, err)
		held = append(held, release)
	}
	order := make(chan class, 3)
	begun := make(chan struct{})
	for _, c := range []class{long, drawn, moving} {
		go func() {
			begun <- struct{}{}
			release, err := s.acquire(t.Context(), c)
			if assert.NoError(t, err) {
				order <- c
				release()
			}
		}()
		<-begun
		for { // it waits
			s.mutex.Lock()
			waiting := len(s.waiting[c])
			s.mutex.Unlock()
			if waiting > 0 {
				break
			}
			runtime.Gosched()
		}
	}
	assert.Empty(t, order)
	held[0]()
	assert.Equal(t, moving, <-order)
	assert.Equal(t, drawn, <-order)
	assert.Equal(t, long, <-order)
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	full, err := s.acquire(t.Context(), moving)
	require.NoError(t, err)
	_, err = s.acquire(ended, moving)
	assert.ErrorIs(t, err, context.Canceled)
	full()
	for _, release := range held[1:] {
		release()
	}
	s.mutex.Lock()
	defer s.mutex.Unlock()
	assert.Equal(t, n, s.free)
	assert.Equal(t, max(1, n-1), s.long)
	assert.Empty(t, s.waiting[moving])
}

// TestPanicIsAFault and the desk goes on.
func TestPanicIsAFault(t *testing.T) {
	_, err := safely(func() (*body, error) { panic("at /home/someone") })
	var f *fault
	require.ErrorAs(t, err, &f)
	assert.Equal(t, http.StatusInternalServerError, f.status)
	assert.NotContains(t, f.Message, "someone")
}

// TestLinkHoldsTheStateAlone and gives it back.
func TestLinkHoldsTheStateAlone(t *testing.T) {
	d := newDesk(t)
	var a linkAnswer
	d.ask("/api/state", `{"state":{"turns":[{"text":"11S 402967 3799217"},{"lat":34.3008,"lon":-118.0514}],"at":{"x":403000,"y":3799000},"seen":"at","relief":30,"contours":false,"x":402967.4,"y":3799217,"level":6}}`, &a)
	assert.NotContains(t, a.Link, d.token)
	assert.NotContains(t, a.Link, d.port)
	var again linkAnswer
	question, err := json.Marshal(map[string]string{"link": a.Link})
	require.NoError(t, err)
	d.ask("/api/state", string(question), &again)
	assert.Equal(t, a.Link, again.Link)
	assert.Equal(t, a.State.Turns, again.State.Turns)
	assert.Equal(t, a.State.At, again.State.At)
	assert.Equal(t, "desk "+a.Link, a.Command)
}

// TestLinkKeepsWhatIsLeftOpen: a start that is cleared comes back cleared, and what
// stands between two ends that are open stays between them.
func TestLinkKeepsWhatIsLeftOpen(t *testing.T) {
	d := newDesk(t)
	set := `{"text":"` + camp + `"}`
	for turns, want := range map[string][]bool{
		`null,` + set: {false, true}, set + `,null`: {true, false}, `null,` + set + `,null`: {false, true, false}, set + `,` + set + `,null`: {true, true, false},
	} {
		var a, again linkAnswer
		d.ask("/api/state", `{"state":{"turns":[`+turns+`]}}`, &a)
		question, err := json.Marshal(map[string]string{"link": a.Link})
		require.NoError(t, err)
		d.ask("/api/state", string(question), &again)
		var got []bool
		for _, p := range again.State.Turns {
			got = append(got, p != nil)
		}
		assert.Equal(t, want, got, a.Link)
	}
	for _, turns := range []string{`null`, set + `,null,` + set} {
		response, text := d.asked("POST", "/api/state", `{"state":{"turns":[`+turns+`]}}`, nil)
		assert.Equal(t, http.StatusBadRequest, response.StatusCode, "%s: %s", turns, text)
	}
}

// FuzzQuestion: whatever is sent is decoded to a question or refused in one line.
func FuzzQuestion(f *testing.F) {
	for _, text := range []string{legAsked, `{"turns":[{"x":1,"y":2}],"options":{"eye_m":2}}`, `{"turns":null}`, `{`, `{"turns":[{"lat":1e400}]}`} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		for _, into := range []any{&quickQuestion{}, &sheetQuestion{}, &drillQuestion{}, &stateQuestion{}, &viewQuestion{}, &vantageQuestion{}} {
			if fault := decode(text, into, true); fault != nil {
				if fault.status != http.StatusBadRequest || fault.Message == "" || strings.Contains(fault.Message, "\n") {
					t.Errorf("%q: %d %q", text, fault.status, fault.Message)
				}
			}
		}
	})
}

// FuzzLink: a link that is read is written and read again to the same.
func FuzzLink(f *testing.F) {
	for _, text := range []string{"crowline:desk?turn=1,2&turn=3,4&seen=at&x=1&y=2", "crowline:desk?", "crowline:desk?level=3&relief=0&contours=0", "crowline:desk?turn=a%26b", "crowline:desk?turn=&turn=1,2", "x"} {
		f.Add(text)
	}
	place := func(string) (answer.Place, error) { return answer.PlaceAt(geodesy.LatLon{}), nil }
	f.Fuzz(func(t *testing.T, text string) {
		s, err := ParseLink(text, place)
		if err != nil {
			return
		}
		again, err := ParseLink(s.Link(), place)
		if err != nil || again.Link() != s.Link() {
			t.Errorf("%q was written %q and read %q, %v", text, s.Link(), again.Link(), err)
		}
	})
}
