package desk_test

import (
	"context"
	"encoding/json"
	"fmt"
	"testing"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Least contrast of text, and of large text (Web Content Accessibility
// Guidelines 2.2, success criterion 1.4.3).
const leastContrast, leastContrastLarge = 4.5, 3.0

// overflows lists elements that stick out of the window sideways, and texts cut
// off by their own box.
const overflows = `(() => {
  const out = [], wide = document.documentElement.clientWidth
  if (document.documentElement.scrollWidth > wide) out.push('the page scrolls sideways: ' + document.documentElement.scrollWidth + ' of ' + wide)
  for (const e of document.querySelectorAll('main *, header *')) {
    if (e.closest('svg') && e.tagName !== 'svg' || e.closest('.unseen') || e.tagName === 'OPTION') continue
    const b = e.getBoundingClientRect()
    if (!b.width || !b.height) continue
    if (b.left < -1 || b.right > wide + 1) out.push(e.tagName + '#' + e.id + ' sticks out: ' + b.left + ' to ' + b.right)
    if (['P', 'BUTTON', 'LABEL', 'DD', 'DT', 'SUMMARY', 'LI', 'CODE'].includes(e.tagName) && e.scrollWidth > e.clientWidth + 1 && e.clientWidth && e.id !== 'data') out.push(e.tagName + '#' + e.id + ' is cut: ' + e.textContent.slice(0, 40))
  }
  return out
})()`

// faint lists texts whose contrast with what is behind them is too low.
const faint = `((least, leastLarge) => {
  const rgb = s => { const m = s.match(/[\d.]+/g).map(Number); return s.startsWith('color(srgb') ? [m[0] * 255, m[1] * 255, m[2] * 255, m[3] ?? 1] : [m[0], m[1], m[2], m[3] ?? 1] }
  const light = c => { const f = v => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4 }; return 0.2126 * f(c[0]) + 0.7152 * f(c[1]) + 0.0722 * f(c[2]) }
  const out = []
  for (const e of document.querySelectorAll('body *')) {
    if (![...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()) || e.closest('.unseen, [hidden], #overlay, :disabled, option, noscript')) continue
    const s = getComputedStyle(e)
    if (!e.getClientRects().length) continue
    const color = rgb(e.closest('svg') ? s.fill : s.color)
    let behind = null
    for (let b = e; b && !behind; b = b.parentElement) { const c = rgb(getComputedStyle(b).backgroundColor); if (c[3] === 1) behind = c }
    if (e.closest('.is-chosen')) behind = rgb(getComputedStyle(e.parentElement.querySelector('.body')).fill)
    behind ??= [255, 255, 255]
    const [a, b] = [light(color), light(behind)].sort((x, y) => y - x), contrast = (a + 0.05) / (b + 0.05)
    const size = parseFloat(s.fontSize), large = size >= 24 || size >= 18.66 && Number(s.fontWeight) >= 700
    if (contrast < (large ? leastLarge : least)) out.push(e.tagName + ' "' + e.textContent.trim().slice(0, 30) + '": ' + contrast.toFixed(2))
  }
  return out
})`

func testLook(t *testing.T, b context.Context, d *desk) {
	p := open(t, b, d)
	p.answered()
	p.until(`document.querySelector('#things button') !== null`)
	for _, part := range []struct {
		name          string
		width, height int64
		scale         float64
		media         []string
	}{
		{"desktop", 1280, 800, 1, nil},
		{"projector", 1920, 1080, 1, nil},
		{"narrow", 390, 800, 1, nil},
		{"200 % zoom", 640, 400, 2, nil},
		{"dark room", 1280, 800, 1, []string{"prefers-color-scheme", "dark"}},
		{"dark and narrow", 390, 800, 1, []string{"prefers-color-scheme", "dark"}},
		{"forced colours", 1280, 800, 1, []string{"forced-colors", "active"}},
	} {
		fold := func(open bool) {
			p.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.querySelectorAll('details').forEach(d => { d.open = %t }); window.scrollTo(0, 0)`, open)))
		}
		fold(false)
		p.do(chromedp.EmulateViewport(part.width, part.height, chromedp.EmulateScale(part.scale)))
		p.media(part.media...)
		p.answered()
		p.keepShot(part.name)
		assert.Empty(t, eval[[]string](p, overflows), part.name)
		if part.name != "forced colours" { // there the user's own colours are in force
			assert.Empty(t, eval[[]string](p, fmt.Sprintf("%s(%g, %g)", faint, leastContrast, leastContrastLarge)), part.name)
		}
		if !eval[bool](p, `document.getElementById('tint-on').checked`) {
			p.do(chromedp.Click(chromedp.CSS("#things button")), chromedp.Click(chromedp.CSS("#tint-on")))
			p.until(`document.querySelector('#marked dl') !== null && document.getElementById('look').dataset.seen`)
			p.keepShot("all on it")
		}
		fold(true)
		assert.Empty(t, eval[[]string](p, overflows), part.name+", all opened")
		p.do(chromedp.ScrollIntoView(chromedp.CSS("#look")))
		p.keepShot(part.name + " skyline")
	}
}

// testNames: whatever can be reached by keyboard has a role and a name of its
// own, and the focus on it is seen.
func testNames(t *testing.T, b context.Context, d *desk) {
	p := open(t, b, d)
	p.answered()
	p.until(`document.querySelector('#things button') !== null`)
	tree, err := chromedp.Call(p.ctx, accessibility.GetFullAXTree, accessibility.GetFullAXTreeParams{})
	require.NoError(t, err)
	text := func(v *accessibility.Value) string {
		if v == nil {
			return ""
		}
		s, _ := unquote(v.Value)
		return s
	}
	controls, headings := map[string]string{}, 0
	for _, n := range tree.Nodes {
		if n.Ignored {
			continue
		}
		role, name := text(n.Role), text(n.Name)
		switch role {
		case "heading":
			headings++
			fallthrough
		case "button", "textbox", "combobox", "checkbox", "radio", "slider", "spinbutton", "application", "link", "DisclosureTriangle":
			assert.NotEmpty(t, name, "a %s without a name", role)
			if role != "heading" {
				key := role + " " + name
				assert.NotContains(t, controls, key, "two controls with one name")
				controls[key] = role
			}
		}
	}
	assert.Greater(t, headings, 5)
	assert.Greater(t, len(controls), 25)

	// Tab goes through all of them once, each with its focus in sight
	seen := map[string]bool{}
	for range 120 {
		p.do(chromedp.KeyEvent(kb.Tab))
		at := eval[[]string](p, `(() => { const e = document.activeElement
			if (e === document.body) return ['', '']
			const ring = e.querySelector?.(':scope > .focus'), s = getComputedStyle(e)
			const shown = ring ? getComputedStyle(ring).stroke !== 'none' : s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2
			return [e.outerHTML.slice(0, 160), shown ? '' : 'the focus is not seen'] })()`)
		if at[0] == "" || seen[at[0]] {
			break
		}
		seen[at[0]] = true
		assert.Empty(t, at[1], at[0])
	}
	assert.Greater(t, len(seen), 25, "reached by Tab")

	// what changes is said once, not at every frame of a drag
	p.do(chromedp.Evaluate[chromedp.Void](`window.times = 0; new MutationObserver(() => { window.times++ }).observe(document.getElementById('said'), { childList: true, characterData: true, subtree: true })`))
	p.do(chromedp.Evaluate[chromedp.Void](`window.scrollTo(0, 0)`))
	x, y := p.at(`[data-handle="p1"]`)
	p.drag(x, y, x+60, y-30)
	p.answered()
	assert.Equal(t, 1, eval[int](p, `window.times`))
}

// unquote reads a JSON string.
func unquote(v []byte) (string, error) {
	var s string
	err := json.Unmarshal(v, &s)
	return s, err
}
