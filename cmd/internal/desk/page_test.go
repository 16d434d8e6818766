package desk_test

import (
	"context"
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// The demo's leg, as the desk opens with it.
const demoStart, demoGoal = "34.32970,-118.05480", "34.30080,-118.05140"

// TestPage is the page in a real browser: one for all of it, a tab for each
// part.
func TestPage(t *testing.T) {
	b := startBrowser(t)
	demo := startDesk(t)
	for _, part := range []struct {
		name string
		run  func(t *testing.T, b context.Context, d *desk)
	}{
		{"opens with the demo leg", testOpens},
		{"a dragged destination", testDrags},
		{"a finger", testTouch},
		{"keys", testKeys},
		{"typed places", testTyped},
		{"a turning point", testTurn},
		{"a map that is thrown, and a point at its edge", testGlides},
		{"undo and clear", testUndo},
		{"reload and link", testReload},
		{"profile and map", testProfile},
		{"skyline and map", testSkyline},
		{"ground out of sight", testTint},
		{"where to stand", testStand},
		{"a void and the edge", testEdges},
		{"ground that fails to load", testGroundFails},
		{"a server that is gone", testServerGone},
		{"files", testDownloads},
		{"look", testLook},
		{"names", testNames},
	} {
		t.Run(part.name, func(t *testing.T) { part.run(t, b, demo) })
	}
}

// lookingM is how far an end of the profile may be from the height of its place,
// metres: the line of sight, which it shows, goes from the highest ground within
// 2 m, on slopes of up to 45 degrees; both are rounded.
const lookingM = 2 + 0.56

// words are the first lines of the answer, as "label text".
func (p *tab) words() []string {
	p.Helper()
	return eval[[]string](p, `[...document.querySelectorAll('#first dd')].map(d => ((d.previousElementSibling?.tagName === 'DT' ? d.previousElementSibling.textContent + ' ' : '') + d.textContent).trim())`)
}

// point is what stands in the field of a point.
func (p *tab) point(i int) string {
	p.Helper()
	return eval[string](p, fmt.Sprintf(`document.getElementById('place-%d').value`, i))
}

// saysTheLeg holds what the page says of its leg against the command line's
// answer for the same two places: words, bearing, climb, and the profile's
// length and ends, to the printed digit.
func (p *tab) saysTheLeg() {
	p.Helper()
	p.answered()
	// the command that the page names gives the same
	shown := p.text("#command")
	words := regexp.MustCompile(`"[^"]*"|'[^']*'|\S+`).FindAllString(shown, -1)
	require.Greater(p, len(words), 3, shown)
	for i, w := range words {
		words[i] = strings.Trim(w, `"'`)
	}
	assert.Equal(p, []string{"crowline", "leg"}, words[:2])
	assert.Equal(p, firstLines(command(p.T, words[1:]...)), p.words(), shown)
	flags := append(words[4:], "--marks", "0") // what is held below needs none
	a := legJSON(p.T, append(words[2:4:4], flags...)...)
	assert.Equal(p, legJSON(p.T, append([]string{p.point(0), p.point(1)}, flags...)...), a, "the fields hold the places of the command")
	bearing := a["bearing"].(map[string]any)["magnetic_deg"].(float64)
	assert.Equal(p, fmt.Sprintf("%03.0f°", math.Mod(math.Round(bearing), 360)), p.text("#set-figure"))
	assert.Equal(p, fmt.Sprint(math.Round(a["distance_m"].(float64))), eval[string](p, `document.getElementById('profile-strip').getAttribute('aria-valuemax')`))
	for key, end := range map[string]string{kb.Home: "from", kb.End: "to"} {
		p.do(chromedp.Focus(chromedp.CSS("#profile-strip")), chromedp.KeyEvent(key))
		height := a[end].(map[string]any)["elevation_m"].(float64)
		said := eval[string](p, `document.getElementById('profile-strip').getAttribute('aria-valuetext')`)
		var shown float64
		_, err := fmt.Sscanf(said[strings.Index(said, ", ")+2:], "%f m", &shown)
		require.NoError(p, err, said)
		assert.InDelta(p, height, shown, lookingM, end)
	}
	p.do(chromedp.Blur(chromedp.CSS("#profile-strip")))
}

func testOpens(t *testing.T, b context.Context, d *desk) {
	p := open(t, b, d)
	p.answered()
	p.saysTheLeg()
	assert.Equal(t, demoStart, p.point(0))
	assert.Equal(t, demoGoal, p.point(1))
	// the token is out of the address, and cautions are in sight
	assert.Equal(t, d.origin()+"/", eval[string](p, `location.href`))
	said := p.text("#cautions")
	for _, caution := range legJSON(t, demoStart, demoGoal)["cautions"].([]any) {
		assert.Contains(t, strings.ReplaceAll(said, "\n", " "), strings.TrimSuffix(caution.(string), "."))
	}
	assert.Empty(t, eval[[]string](p, `[...document.querySelectorAll('details')].filter(d => d.querySelector('#cautions') || /Carry map and compass/.test(d.textContent)).map(d => d.outerHTML)`), "cautions folded away")
	p.keepShot("desktop")
}

func testDrags(t *testing.T, b context.Context, d *desk) {
	p := open(t, b, d)
	p.answered()
	before := p.words()
	x, y := p.at(`[data-handle="p1"]`)
	// the answer moves with the hand, before it is lifted
	p.hover(x, y)
	p.mouse(chromedp.MousePressed, x, y)
	set, goal := p.text("#set-figure"), p.point(1)
	startX, startY := p.at(`[data-handle="p0"] .dot`)
	said := p.text("#said")
	for i := 1; i <= 8; i++ {
		p.mouse(chromedp.MouseMoved, x+15*float64(i), y-6*float64(i))
	}
	p.until(fmt.Sprintf(`document.getElementById('set-figure').textContent !== %q`, set))
	assert.NotEqual(t, before, p.words())
	assert.NotEqual(t, goal, p.point(1), "the field follows too")
	x2, y2 := p.at(`[data-handle="p0"] .dot`)
	assert.Equal(t, []float64{startX, startY}, []float64{x2, y2}, "the map does not move under the hand")
	p.keepShot("while dragging")
	p.mouse(chromedp.MouseReleased, x+120, y-48)
	p.saysTheLeg()
	assert.NotEqual(t, before, p.words())
	assert.NotEqual(t, said, eval[string](p, `document.getElementById('said').textContent`), "the new answer is said")

	// and the start, far enough that the first lines change
	x, y = p.at(`[data-handle="p0"]`)
	p.drag(x, y, x-90, y+20)
	p.saysTheLeg()
}

func testTouch(t *testing.T, b context.Context, d *desk) {
	p := open(t, b, d, chromedp.EmulateViewport(390, 800, chromedp.EmulateMobile, chromedp.EmulateTouch))
	p.answered()
	p.keepShot("opened")
	goal := p.point(1)
	x, y := p.at(`[data-handle="p1"]`)
	p.touch(x, y, x+70, y-20)
	p.until(fmt.Sprintf(`document.getElementById('place-1').value !== %q`, goal))
	p.saysTheLeg()
	// two fingers make the map coarser, and it stays at a scale of its tiles
	p.pinch()
	p.answered()
}

// pinch brings two fingers together on the map.
func (p *tab) pinch() {
	p.Helper()
	p.do(chromedp.ScrollIntoView(chromedp.CSS("#reading")))
	x, y := p.at("#frame")
	ratio := p.text("#ratio")
	send := func(kind input.DispatchTouchEventType, off float64) {
		a, b := 1.0, 2.0
		var points []*input.TouchPoint
		if kind != input.DispatchTouchEventTypeTouchEnd {
			points = []*input.TouchPoint{{X: x - 30 - off, Y: y - 60, ID: &a}, {X: x - 30 + off, Y: y - 60, ID: &b}}
		}
		_, err := chromedp.Call(p.ctx, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: points})
		require.NoError(p, err)
	}
	send(input.DispatchTouchEventTypeTouchStart, 100)
	for i := range 6 {
		send(input.DispatchTouchEventTypeTouchMove, 100-11*float64(i))
	}
	send(input.DispatchTouchEventTypeTouchEnd, 0)
	p.until(fmt.Sprintf(`document.getElementById('ratio').textContent !== %q`, ratio))
}

func testKeys(t *testing.T, b context.Context, d *desk) {
	p := open(t, b, d)
	p.answered()
	// by Tab alone, from the top
	for range 60 {
		p.do(chromedp.KeyEvent(kb.Tab))
		if eval[string](p, `document.activeElement.dataset?.handle ?? ''`) == "p1" {
			break
		}
	}
	require.Equal(t, "p1", eval[string](p, `document.activeElement.dataset?.handle ?? ''`), "Tab reaches the destination")
	assert.NotEqual(t, "none", eval[string](p, `getComputedStyle(document.activeElement.querySelector('.focus')).stroke`), "the focus is seen")
	p.keepShot("focus")
	goal := p.point(1)
	for range 6 {
		p.do(chromedp.KeyEvent(kb.ArrowRight), chromedp.KeyEvent(kb.ArrowUp))
	}
	p.until(fmt.Sprintf(`document.getElementById('place-1').value !== %q`, goal))
	p.saysTheLeg()
	// a move that is broken off leaves all as it was
	goal = p.point(1)
	p.do(chromedp.Focus(chromedp.CSS(`[data-handle="p1"]`)), chromedp.KeyEvent(kb.ArrowLeft), chromedp.KeyEvent(kb.Escape))
	p.answered()
	assert.Equal(t, goal, p.point(1))
}

// typeInto replaces what is in a field, and leaves it.
func (p *tab) typeInto(i int, text string) {
	p.Helper()
	field := chromedp.CSS(fmt.Sprintf("#place-%d", i))
	p.do(chromedp.Focus(field), chromedp.Evaluate[chromedp.Void](`document.activeElement.select()`), chromedp.SendKeys(field, text), chromedp.KeyEvent(kb.Enter))
}

func testTyped(t *testing.T, b context.Context, d *desk) {
	p := open(t, b, d)
	p.refusals = true
	p.answered()
	// any form of a place; this one lies where two grid lines cross, which once
	// were in the way of the hand
	p.typeInto(1, "11S 404000 3797000")
	p.until(`document.getElementById('command').textContent.includes('11S 404000 3797000')`)
	p.saysTheLeg()
	x, y := p.at(`[data-handle="p1"]`)
	assert.Equal(t, "p1", eval[string](p, fmt.Sprintf(`document.elementFromPoint(%g, %g).closest('[data-handle]')?.dataset.handle ?? ''`, x, y)))

	// a bad one: told beside the field, and all else stays
	before, link := p.words(), p.point(0)
	for _, bad := range []string{"Nowhere", "34.3,-118.05,7", "60.1,10.2"} {
		p.typeInto(1, bad)
		p.until(`document.getElementById('place-1-wrong').textContent !== ''`)
		assert.Equal(t, "true", eval[string](p, `document.getElementById('place-1').getAttribute('aria-invalid')`))
		assert.Equal(t, bad, p.point(1), "what was typed stays, to be put right")
		assert.Equal(t, before, p.words())
		assert.Equal(t, link, p.point(0))
	}
	p.keepShot("bad place")
	p.typeInto(1, demoGoal)
	p.until(`document.getElementById('place-1-wrong').textContent === ''`)
	p.saysTheLeg()
}

func testTurn(t *testing.T, b context.Context, d *desk) {
	p := open(t, b, d)
	p.answered()
	x, y := p.at(`[data-handle="add0"]`)
	p.drag(x, y, x+80, y+10)
	p.until(`document.getElementById('place-2') !== null`)
	p.answered()
	points := []string{p.point(0), p.point(1), p.point(2)}
	assert.Equal(t, demoStart, points[0])
	assert.Equal(t, demoGoal, points[2])
	assert.Contains(t, p.text("#command"), "crowline route")
	assert.Equal(t, "p1", eval[string](p, `document.activeElement.dataset?.handle ?? ''`), "the point that was made keeps the focus")
	// the first lines are each leg's own, and what could hurt is not folded away
	var want []string
	for _, label := range []string{"BEWARE", "walk"} {
		for i := range 2 {
			for _, line := range firstLines(command(t, "leg", points[i], points[i+1], "--date", day)) {
				if rest, ok := strings.CutPrefix(line, label+" "); ok && label == "BEWARE" {
					want = append(want, fmt.Sprintf("BEWARE leg %d: %s", i+1, rest))
				} else if ok {
					want = append(want, fmt.Sprintf("leg %d %s", i+1, rest))
				}
			}
		}
	}
	assert.Equal(t, want, p.words())
	// each leg is that of crowline leg
	sum := 0.0
	for i := range 2 {
		sum += legJSON(t, points[i], points[i+1])["distance_m"].(float64)
	}
	assert.InDelta(t, sum, eval[float64](p, `Number(document.getElementById('profile-strip').getAttribute('aria-valuemax'))`), 1, "metres, written whole")
	p.keepShot("route")
	p.do(chromedp.KeyEvent(kb.Delete))
	p.until(`document.getElementById('place-2') === null`)
	p.saysTheLeg()
}

// testGlides: a map let go of while it moves goes on and comes to a stand; a point
// held at the map's edge moves the map, and ends where the hand is.
func testGlides(t *testing.T, b context.Context, d *desk) {
	p := open(t, b, d)
	p.answered()
	box := eval[[]float64](p, `(b => [b.x, b.y, b.width, b.height])(document.getElementById('overlay').getBoundingClientRect())`)
	view := func() [3]float64 {
		var v [3]float64
		_, err := fmt.Sscan(eval[string](p, `document.getElementById('frame').dataset.view`), &v[0], &v[1], &v[2])
		require.NoError(t, err)
		return v
	}
	// pointer events of our own, for a thrown map needs its moments
	before := view()
	thrown := eval[string](p, `(async () => {
  const o = document.getElementById('overlay'), b = o.getBoundingClientRect(), x = b.x + 120, y = b.y + 300
  o.setPointerCapture = () => {}
  const send = (kind, dx) => o.dispatchEvent(new PointerEvent(kind, { pointerId: 7, isPrimary: true, button: 0, clientX: x + dx, clientY: y, bubbles: true }))
  send('pointerdown', 0)
  for (let i = 1; i <= 6; i++) { send('pointermove', 12 * i); for (const t = performance.now(); performance.now() < t + 4;); }
  send('pointerup', 72)
  await new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)))
  delete o.setPointerCapture
  return document.getElementById('frame').dataset.view
})()`)
	var lifted [3]float64
	_, err := fmt.Sscan(thrown, &lifted[0], &lifted[1], &lifted[2])
	require.NoError(t, err)
	eval[bool](p, `(async () => {
  for (let v = null; v !== document.getElementById('frame').dataset.view;) { v = document.getElementById('frame').dataset.view; await new Promise(r => setTimeout(r, 150)) }
  return true
})()`)
	const hand = 72 // CSS pixels that the hand went
	assert.Less(t, view()[0], lifted[0], "it goes on")
	assert.Less(t, view()[0], before[0]-(hand+5)*before[2], "farther than the hand went")
	assert.InDelta(t, before[1], view()[1], before[2], "and straight")

	p.do(chromedp.Evaluate[chromedp.Void](`document.getElementById('whole').click()`))
	p.answered()
	x, y := p.at(`[data-handle="p1"]`)
	at := view()
	edge := box[0] + box[2] - 6
	p.hover(x, y)
	p.mouse(chromedp.MousePressed, x, y)
	p.mouse(chromedp.MouseMoved, (x+edge)/2, y)
	p.mouse(chromedp.MouseMoved, edge, y)
	p.until(fmt.Sprintf(`Number(document.getElementById('frame').dataset.view.split(' ')[0]) > %f`, at[0]+40*at[2]))
	p.mouse(chromedp.MouseMoved, (x+edge)/2, y)
	p.mouse(chromedp.MouseReleased, (x+edge)/2, y)
	p.saysTheLeg()
	x2, _ := p.at(`[data-handle="p1"]`)
	assert.InDelta(t, (x+edge)/2, x2, 3)
}

func testUndo(t *testing.T, b context.Context, d *desk) {
	p := open(t, b, d)
	p.answered()
	before := p.words()
	x, y := p.at(`[data-handle="p1"]`)
	p.drag(x, y, x+60, y-60)
	p.until(fmt.Sprintf(`document.getElementById('place-1').value !== %q`, demoGoal))
	p.answered()
	moved := p.point(1)
	p.do(chromedp.Click(chromedp.CSS("#undo")))
	p.until(fmt.Sprintf(`document.getElementById('place-1').value === %q`, demoGoal))
	p.answered()
	assert.Equal(t, before, p.words())
	p.do(chromedp.Click(chromedp.CSS("#redo")))
	p.until(fmt.Sprintf(`document.getElementById('place-1').value === %q`, moved))

	// clearing one point leaves the other, and a new one is drawn out
	p.do(chromedp.Click(chromedp.CSS(`[aria-label="Clear destination"]`)))
	p.until(`document.querySelector('[data-handle="p1"]') === null && document.querySelector('[data-handle="ghost"]') !== null`)
	assert.Equal(t, demoStart, p.point(0))
	assert.Empty(t, p.text("#command"))
	p.keepShot("start alone")
	x, y = p.at(`[data-handle="ghost"]`)
	p.drag(x, y, x+50, y+80)
	p.until(`document.getElementById('place-1').value !== ''`)
	p.answered()
	p.do(chromedp.Click(chromedp.CSS(`[aria-label="Clear start"]`)))
	p.until(`document.querySelector('[data-handle="p0"]') === null`)
	// the map takes a click for what is missing
	x, y = p.at("#frame")
	p.do(chromedp.MouseClickXY(x-100, y-40))
	p.until(`document.getElementById('place-0').value !== ''`)
	p.saysTheLeg()
}

func testReload(t *testing.T, b context.Context, d *desk) {
	p := open(t, b, d)
	p.answered()
	x, y := p.at(`[data-handle="p1"]`)
	p.drag(x, y, x+70, y-30)
	p.answered()
	p.do(chromedp.Click(chromedp.CSS("#closer")))
	p.do(chromedp.Click(chromedp.CSS(`input[name=eye][value=goal]`)), chromedp.Click(chromedp.CSS("#tint-on")))
	p.until(`document.getElementById('look').dataset.seen`)
	state := `JSON.stringify([document.getElementById('place-0').value, document.getElementById('place-1').value, document.getElementById('ratio').textContent, document.querySelector('input[name=eye]:checked').value, document.getElementById('tint-on').checked])`
	before, words := eval[string](p, state), p.words()
	p.do(chromedp.Click(chromedp.CSS("#link")))
	p.until(`document.getElementById('link-text').value !== ''`)
	link := eval[string](p, `document.getElementById('link-text').value`)
	assert.NotContains(t, link, "token")
	assert.NotContains(t, link, strings.Split(d.origin(), ":")[2])

	p.do(chromedp.Reload())
	p.answered()
	assert.JSONEq(t, before, eval[string](p, state), "after a reload")
	assert.Equal(t, words, p.words())

	again := startDesk(t, link)
	q := open(t, b, again)
	q.answered()
	assert.JSONEq(t, before, eval[string](q, state), "a desk opened with the link")
	assert.Equal(t, words, q.words())

	// a start that is cleared stays so in a link
	q.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('[data-handle="p0"]').focus()`), chromedp.KeyEvent(kb.Delete))
	q.until(`document.getElementById('place-0').value === ''`)
	q.do(chromedp.Evaluate[chromedp.Void](`document.getElementById('link-text').value = ''; document.getElementById('link').click()`))
	q.until(`document.getElementById('link-text').value.startsWith('crowline:desk?turn=&turn=')`)
}

func testProfile(t *testing.T, b context.Context, d *desk) {
	p := open(t, b, d)
	p.answered()
	// a pointer in the profile stands on the leg of the map: at half its length
	// in the middle between the handles
	box := eval[[]float64](p, `(() => { const b = document.getElementById('profile-strip').getBoundingClientRect(); return [b.x, b.y, b.width, b.height] })()`)
	p.hover(box[0]+52+(box[2]-52-14)/2, box[1]+60)
	p.until(`document.querySelector('#overlay .cursor circle') !== null`)
	x, y := p.at("#overlay .cursor circle")
	x0, y0 := p.at(`[data-handle="p0"] .dot`)
	x1, y1 := p.at(`[data-handle="p1"] .dot`)
	assert.InDelta(t, (x0+x1)/2, x, 1.5, "pixels")
	assert.InDelta(t, (y0+y1)/2, y, 1.5, "pixels")
	assert.Contains(t, p.text("#profile-note"), "1.61 km")
	// and the other way round: a quarter of the way on the map
	p.hover(x0+(x1-x0)/4, y0+(y1-y0)/4)
	p.until(`/80[0-9] m|81[0-9] m/.test(document.getElementById('profile-note').textContent)`)
}

func testSkyline(t *testing.T, b context.Context, d *desk) {
	p := open(t, b, d)
	p.answered()
	p.until(`document.querySelector('#sky .line') !== null`)
	p.do(chromedp.ScrollIntoView(chromedp.CSS("#sky")))
	box := eval[[]float64](p, `(() => { const b = document.getElementById('sky').getBoundingClientRect(); return [b.x, b.y, b.width, b.height] })()`)
	p.hover(box[0]+box[2]*0.6, box[1]+box[3]/2)
	p.until(`document.querySelector('#overlay .pointed .ray') !== null`)
	said := eval[string](p, `document.getElementById('sky').getAttribute('aria-valuetext')`)
	assert.Regexp(t, `^\d{3}° true, .* (up|down)$|level$`, said)
	assert.Contains(t, said, strings.TrimSpace(p.text("#overlay .pointed text")), "the same distance on the map")
	p.keepShot("ray")
	// where the ray ends lies on that bearing, and so far off
	end := eval[[]float64](p, `document.querySelector('#overlay .pointed .ray').getAttribute('d').match(/[-\d.]+/g).map(Number).slice(-2)`)
	shown := p.screen("EPSG:32611")
	from, err := geodesy.ParsePlace(demoStart)
	require.NoError(t, err)
	line := geodesy.Inverse(from, shown.place(t, shown.left+end[0], shown.top+end[1]))
	var bearing, away float64
	_, err = fmt.Sscanf(said, "%f° true, %f km", &bearing, &away)
	require.NoError(t, err, said)
	assert.InDelta(t, bearing, float64(line.Start), 0.6, "degrees; written whole")
	assert.InDelta(t, away*1000, line.Distance, 0.02*line.Distance, "metres")

	// a thing that is pressed is the mark
	p.do(chromedp.Click(chromedp.CSS("#things button")))
	p.until(`document.querySelector('#marked dl') !== null && document.querySelector('#overlay .chosen .ray') !== null`)
	assert.Equal(t, "true", eval[string](p, `document.querySelector('#things button').getAttribute('aria-pressed')`))
	p.keepShot("mark")
}
