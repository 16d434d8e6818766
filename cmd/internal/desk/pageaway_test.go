package desk_test

import (
	"context"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// choose sets a select or a field of the form of files, as a hand would.
func (p *tab) choose(name, value string) {
	p.Helper()
	p.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`(() => { const e = document.querySelector('#take [name=%s]'); e.value = %q; e.dispatchEvent(new Event('change', { bubbles: true })) })()`, name, value)))
}

// testDownloads: every kind of file comes whole, and as the command line writes it.
func testDownloads(t *testing.T, b context.Context, d *desk) {
	p := open(t, b, d)
	p.answered()
	folder := t.TempDir()
	_, err := chromedp.CallBrowser(p.ctx, browser.SetDownloadBehavior, browser.SetDownloadBehaviorParams{Behavior: browser.SetDownloadBehaviorBehaviorAllow, DownloadPath: folder})
	require.NoError(t, err)
	fetched := func(kind, ending string) string {
		p.choose("what", kind)
		p.do(chromedp.Evaluate[chromedp.Void](`document.getElementById('taken').textContent = ''`), chromedp.Click(chromedp.CSS("#take [type=submit]")))
		p.until(`document.getElementById('taken').textContent !== ''`)
		require.Contains(t, p.text("#taken"), "Saved")
		var path string
		require.Eventually(t, func() bool {
			found, _ := filepath.Glob(filepath.Join(folder, "*."+ending))
			if len(found) == 1 {
				path = found[0]
			}
			return path != ""
		}, patience, 30*time.Millisecond, "no %s", ending)
		body, err := os.ReadFile(path)
		require.NoError(t, err)
		require.NoError(t, os.Remove(path))
		return string(body)
	}
	var ours, theirs map[string]any
	require.NoError(t, json.Unmarshal([]byte(fetched("json", "json")), &ours))
	theirs = legJSON(t, demoStart, demoGoal)
	assert.Equal(t, theirs["bearing"], ours["bearing"])
	assert.Equal(t, theirs["climb"], ours["climb"])
	assert.Equal(t, theirs["chain"], ours["chain"])

	var gpx struct {
		XMLName xml.Name `xml:"gpx"`
		Points  []struct {
			Lat float64 `xml:"lat,attr"`
		} `xml:"rte>rtept"`
		Ways []struct {
			Lat float64 `xml:"lat,attr"`
		} `xml:"wpt"`
	}
	require.NoError(t, xml.Unmarshal([]byte(fetched("gpx", "gpx")), &gpx))
	assert.Positive(t, len(gpx.Points)+len(gpx.Ways))

	pdf := fetched("sheet", "pdf")
	assert.True(t, strings.HasPrefix(pdf, "%PDF-"))
	assert.Contains(t, pdf[len(pdf)-32:], "%%EOF")
	if info, err := exec.LookPath("pdfinfo"); err == nil {
		path := filepath.Join(t.TempDir(), "sheet.pdf")
		require.NoError(t, os.WriteFile(path, []byte(pdf), 0o600))
		out, err := exec.Command(info, path).CombinedOutput()
		require.NoError(t, err, "%s", out)
		assert.Contains(t, string(out), "A4")
	}
	assert.True(t, strings.HasPrefix(fetched("card", "pdf"), "%PDF-"))
	assert.True(t, strings.HasPrefix(fetched("profile", "pdf"), "%PDF-"))
	p.do(chromedp.ScrollIntoView(chromedp.CSS("#taken")))
	p.keepShot("saved")

	// stopped: nothing is saved
	p.choose("what", "drill")
	p.choose("count", "40")
	p.do(chromedp.Click(chromedp.CSS("#take [type=submit]")))
	p.until(`!document.getElementById('taking').hidden`)
	p.do(chromedp.Evaluate[chromedp.Void](`document.getElementById('stop').click()`))
	p.until(`/Stopped/.test(document.getElementById('taken').textContent)`)
	found, err := filepath.Glob(filepath.Join(folder, "*"))
	require.NoError(t, err)
	assert.Empty(t, found)
}
