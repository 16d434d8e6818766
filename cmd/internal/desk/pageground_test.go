package desk_test

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/chromedp/cdproto/fetch"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/testdata/cumberland"
)

// screen puts places on the screen of a tab, by the page's own view.
type screen struct {
	left, top, width, height float64
	x, y, scale              float64
	crs                      *geodesy.CRS
}

func (p *tab) screen(epsg string) *screen {
	p.Helper()
	v := eval[[]float64](p, `(() => { const f = document.getElementById('frame'), b = f.getBoundingClientRect(); return [b.x, b.y, b.width, b.height, ...f.dataset.view.split(' ').map(Number)] })()`)
	crs, err := geodesy.NewCRS(epsg)
	require.NoError(p, err)
	return &screen{v[0], v[1], v[2], v[3], v[4], v[5], v[6], crs}
}

// of is where a place is in the window.
func (s *screen) of(t *testing.T, at geodesy.LatLon) (x, y float64) {
	t.Helper()
	xs, ys := []float64{float64(at.Lon)}, []float64{float64(at.Lat)}
	require.NoError(t, s.crs.FromWGS84(xs, ys))
	return s.left + s.width/2 + (xs[0]-s.x)/s.scale, s.top + s.height/2 - (ys[0]-s.y)/s.scale
}

func (s *screen) place(t *testing.T, x, y float64) geodesy.LatLon {
	t.Helper()
	at, err := s.crs.Place(s.x+(x-s.left-s.width/2)*s.scale, s.y-(y-s.top-s.height/2)*s.scale)
	require.NoError(t, err)
	return at
}

// testTint: hatched is what the slow reference, one sight line at a time, says
// is out of sight.
func testTint(t *testing.T, b context.Context, d *desk) {
	p := open(t, b, d)
	p.answered()
	p.do(chromedp.Click(chromedp.CSS("#tint-on")))
	p.until(`document.getElementById('look').dataset.seen`)
	assert.NotEmpty(t, p.text("#seen-words"))
	assert.Contains(t, p.text("#key"), "out of sight")
	p.keepShot("tint")
	s := p.screen("EPSG:32611")
	// posts of the arc-second grid, and where the page shows them
	random := rand.New(rand.NewPCG(15, 1))
	var posts []geodesy.LatLon
	var pixels [][2]float64
	for range 3000 {
		at := s.place(t, s.left+20+random.Float64()*(s.width-40), s.top+20+random.Float64()*(s.height-40))
		at.Lat, at.Lon = geodesy.Degrees(math.Round(float64(at.Lat)*3600)/3600), geodesy.Degrees(math.Round(float64(at.Lon)*3600)/3600)
		x, y := s.of(t, at)
		posts, pixels = append(posts, at), append(pixels, [2]float64{x - s.left, y - s.top})
	}
	list, err := json.Marshal(pixels)
	require.NoError(t, err)
	// the least opaque of the pixels round each, for between the lines of the
	// hatching stands the tint, and the most opaque of those at it
	opaque := eval[[][2]int](p, fmt.Sprintf(`(() => {
		const c = document.getElementById('tint'), k = c.width / c.clientWidth, d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data
		return %s.map(([x, y]) => {
			let least = 255, most = 0
			for (let j = -3; j <= 3; j++) for (let i = -3; i <= 3; i++) {
				const a = d[((Math.round(y * k) + j) * c.width + Math.round(x * k) + i) * 4 + 3]
				least = Math.min(least, a)
				if (Math.abs(i) <= 1 && Math.abs(j) <= 1) most = Math.max(most, a)
			}
			return [least, most]
		})
	})()`, list))
	const some, hatched = 8, 70 // places asked of each kind; the tint of hidden ground has an opacity of 87 of 255
	hidden, seen := 0, 0
	for i, at := range posts {
		var want string
		switch {
		case opaque[i][0] > hatched && hidden < some:
			hidden++
			want = "hidden"
		case opaque[i][1] == 0 && seen < some:
			seen++
			want = "visible"
		default:
			continue
		}
		var a struct {
			Sight struct {
				Verdict string `json:"verdict"`
			} `json:"sight"`
		}
		require.NoError(t, json.Unmarshal([]byte(command(t, "sight", demoStart, fmt.Sprintf("%.7f,%.7f", at.Lat, at.Lon), "--json", "--date", day)), &a))
		assert.Equal(t, want, a.Sight.Verdict, "%v, shown as %s", at, want)
	}
	assert.Equal(t, some, hidden, "places hatched")
	assert.Equal(t, some, seen, "places not hatched")
}

// holed writes the Cumberland ground with a hole in it, and returns its path.
func holed(t *testing.T) string {
	t.Helper()
	raster, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	require.NoError(t, err)
	defer raster.Close()
	grid, err := raster.Read(t.Context(), raster.Layout().Whole())
	require.NoError(t, err)
	heights, void := slices.Clone(grid.Elevations), -32768.0
	column, row, err := grid.Locate(geodesy.LatLon{Lat: 36.24, Lon: -84.2675})
	require.NoError(t, err)
	for r := int(row) - 6; r <= int(row)+6; r++ {
		for c := int(column) - 6; c <= int(column)+6; c++ {
			heights[r*grid.Columns+c] = float32(void)
		}
	}
	path := filepath.Join(t.TempDir(), "holed.tif")
	require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), path, &grid.Frame, []gdalio.Band{{Float32: heights, NoData: &void}}))
	return path
}

// testEdges: a leg over a void and a destination off the data are said as the
// command line says them.
func testEdges(t *testing.T, b context.Context, _ *desk) {
	path := holed(t)
	from, to := "36.26000,-84.29500", "36.22000,-84.24000"
	d := startDesk(t, from, to, "--dem", path)
	p := open(t, b, d)
	p.refusals = true
	p.answered()
	assert.Equal(t, firstLines(command(t, "leg", from, to, "--dem", path, "--date", day)), p.words())
	assert.NotNil(t, eval[any](p, `document.querySelector('#profile-strip rect.void')?.outerHTML ?? null`), "the void is hatched in the profile")
	p.keepShot("void")

	// off the data: the point goes back, and the reason stands beside its field
	for range 6 {
		p.do(chromedp.Evaluate[chromedp.Void](`document.getElementById('farther').click()`))
	}
	p.answered()
	p.keepShot("whole ground")
	s := p.screen("EPSG:32616")
	x, y := p.at(`[data-handle="p1"]`)
	p.drag(x, y, s.left+s.width-6, y)
	p.until(`document.getElementById('place-1-wrong').textContent !== ''`)
	p.answered()
	assert.Equal(t, to, p.point(1))
	assert.Equal(t, firstLines(command(t, "leg", from, to, "--dem", path, "--date", day)), p.words(), "the answer is that of the point where it was")
}

// intercept hands requests to answer, until what it returns is called: from then
// on they pass, with those that were on the way.
func (p *tab) intercept(pattern string, answer func(fetch.RequestID)) (stop func()) {
	p.Helper()
	_, err := chromedp.Call(p.ctx, fetch.Enable, fetch.EnableParams{Patterns: []*fetch.RequestPattern{{URLPattern: pattern}}})
	require.NoError(p, err)
	ctx, cancel := context.WithCancel(p.ctx)
	p.Cleanup(cancel)
	paused := chromedp.Events(ctx, fetch.RequestPaused)
	var passing atomic.Bool
	go func() {
		for e, err := range paused {
			if err != nil {
				return
			}
			if passing.Load() {
				_, _ = chromedp.Call(p.ctx, fetch.ContinueRequest, fetch.ContinueRequestParams{RequestID: e.RequestID})
				continue
			}
			answer(e.RequestID)
		}
	}()
	return func() { passing.Store(true) }
}

// testGroundFails: what of the ground does not load is told, and asked for again.
func testGroundFails(t *testing.T, b context.Context, d *desk) {
	for _, part := range []struct{ pattern, told string }{
		{"*/api/ground", "#trouble"},
		{"*/api/tile/*", "#map-note"},
	} {
		t.Run(strings.Trim(part.pattern, "*/"), func(t *testing.T) {
			p := blank(t, b)
			p.refusals = true
			mend := p.intercept(part.pattern, func(id fetch.RequestID) {
				_, _ = chromedp.Call(p.ctx, fetch.FulfillRequest, fetch.FulfillRequestParams{RequestID: id, ResponseCode: 500, Body: []byte(`{"error": {"code": "failed", "message": "the file was taken away"}}`)})
			})
			p.do(chromedp.Navigate(d.address))
			p.until(fmt.Sprintf(`!document.querySelector(%q).hidden && document.querySelector(%[1]q).textContent.includes('the file was taken away')`, part.told))
			p.keepShot("told")
			mend()
			p.do(chromedp.Click(chromedp.CSS(part.told + " button")))
			p.answered()
			assert.True(t, eval[bool](p, fmt.Sprintf(`document.querySelector(%q).hidden`, part.told)))
		})
	}
}

// testServerGone: told, and the page goes on where it was once the server
// answers; a desk that was stopped for good is told of as well.
func testServerGone(t *testing.T, b context.Context, _ *desk) {
	d := startDesk(t)
	p := open(t, b, d)
	p.refusals = true
	p.answered()
	mend := p.intercept("*/api/*", func(id fetch.RequestID) {
		_, _ = chromedp.Call(p.ctx, fetch.FailRequest, fetch.FailRequestParams{RequestID: id, ErrorReason: network.ErrorReasonConnectionRefused})
	})
	x, y := p.at(`[data-handle="p1"]`)
	p.drag(x, y, x+60, y-40)
	p.until(`!document.getElementById('trouble').hidden && document.getElementById('place-1-wrong').textContent !== ''`)
	p.keepShot("told")
	mend()
	p.until(`document.getElementById('trouble').hidden`)
	p.saysTheLeg()
	goal := p.point(1)
	x, y = p.at(`[data-handle="p1"]`)
	p.drag(x, y, x+60, y-40)
	p.until(fmt.Sprintf(`document.getElementById('place-1').value !== %q`, goal))
	p.answered()

	// and one that was stopped, by Ctrl-C
	q := open(t, b, d)
	q.refusals = true
	q.answered()
	d.stop()
	x, y = q.at(`[data-handle="p1"]`)
	q.drag(x, y, x-30, y)
	q.until(`/does not answer/.test(document.getElementById('trouble').textContent)`)
}
