package desk_test

import (
	"context"
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// testStand: places to stand are the command line's, by list, number on the map and
// tint; a click or a key stands there; the work can be stopped.
func testStand(t *testing.T, b context.Context, d *desk) {
	p := open(t, b, d)
	p.answered()
	pick := func(name, value string) {
		p.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`(() => { const e = document.querySelector('#stand-form [name=%s]'); e.value = %q; e.dispatchEvent(new Event('change', { bubbles: true })) })()`, name, value)))
	}
	// what is missing is said
	pick("what", "see")
	assert.Contains(t, p.text("#stand-needs"), "Choose a mark first")
	assert.True(t, eval[bool](p, `document.querySelector('#stand-form [type=submit]').disabled`))
	// it can be stopped
	pick("what", "class")
	pick("radius", "10000")
	p.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('#stand-form [type=submit]').click()`))
	p.until(`!document.getElementById('standing').hidden`)
	p.do(chromedp.Evaluate[chromedp.Void](`document.getElementById('standing-stop').click()`))
	p.until(`document.getElementById('stand-said').textContent === 'Stopped.' && document.getElementById('standing').hidden`)
	assert.Zero(t, eval[int](p, `document.querySelectorAll('.stand').length`))

	pick("what", "goal")
	pick("radius", "2000")
	p.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('#stand-form [type=submit]').click()`))
	p.until(`document.querySelectorAll('#stand-found li').length > 1 && document.querySelectorAll('.stands > .stand').length > 1`)
	shown := p.text("#stand-found code")
	words := regexp.MustCompile(`"[^"]*"|'[^']*'|\S+`).FindAllString(shown, -1)
	for i, w := range words {
		words[i] = strings.Trim(w, `"'`)
	}
	require.Equal(t, []string{"crowline", "vantage"}, words[:2])
	var a struct {
		Standpoints []struct {
			Place struct{ Lat, Lon float64 } `json:"place"`
			Why   string
		}
	}
	require.NoError(t, json.Unmarshal([]byte(command(t, append(words[1:], "--json")...)), &a))
	require.NotEmpty(t, a.Standpoints)
	listed := eval[[]string](p, `[...document.querySelectorAll('#stand-found li')].map(l => [...l.children].filter(c => c.tagName === 'P' && !c.className).map(c => c.textContent).join())`)
	places := eval[[]string](p, `[...document.querySelectorAll('.stands > .stand')].map(s => s.dataset.at)`)
	require.Len(t, listed, len(a.Standpoints))
	for i, s := range a.Standpoints {
		assert.Equal(t, s.Why, listed[i])
		assert.Equal(t, fmt.Sprintf("%.5f,%.5f", s.Place.Lat, s.Place.Lon), places[i])
	}
	assert.Contains(t, p.text("#key"), "The mark is seen")
	p.do(chromedp.Evaluate[chromedp.Void](`document.getElementById('stand').scrollIntoView()`))
	p.keepShot("found")
	// a key on the list, and a click on the map
	p.do(chromedp.Focus(chromedp.CSS(`[data-stand="1"]`)), chromedp.KeyEvent(kb.Enter))
	p.until(fmt.Sprintf(`document.getElementById('look').dataset.answer === %q && document.querySelector('[data-stand="1"]').getAttribute('aria-pressed') === 'true'`, places[0]))
	x, y := p.at(`.stands > .stand:nth-child(2) .body`)
	p.mouse(chromedp.MousePressed, x, y)
	p.mouse(chromedp.MouseReleased, x, y)
	p.until(fmt.Sprintf(`document.getElementById('look').dataset.answer === %q`, places[1]))
	assert.Equal(t, "true", eval[string](p, `document.querySelector('[data-stand="2"]').getAttribute('aria-pressed')`))
	p.keepShot("stood")
	// and off the map again
	p.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('#stand-found > button').click()`))
	p.until(`document.querySelectorAll('.stands > .stand').length === 0 && !document.getElementById('key').textContent.includes('mark is seen')`)
}
