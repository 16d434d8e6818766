package desk_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/cli"
)

// patience is how long a test waits for the page. It is long because the
// machine may be busy; nothing of speed is asserted here.
const patience = 30 * time.Second

// startBrowser starts the one browser of the suite, or skips where the system has
// none as a package.
func startBrowser(t *testing.T) context.Context {
	t.Helper()
	if testing.Short() {
		t.Skip("no browser in short tests")
	}
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome-stable", "google-chrome"} {
		if found, err := exec.LookPath(name); err == nil {
			path = found
			break
		}
	}
	if path == "" {
		t.Skip("no chromium on this machine: the page of the desk is not tested")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.DisableGPU, chromedp.WindowSize(1280, 800),
		// the profile is made anew: nothing of the user's is read or written
		chromedp.UserDataDir(t.TempDir()))
	if os.Geteuid() == 0 {
		options = append(options, chromedp.NoSandbox) // it does not start as root without
	}
	allocator, stop := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(stop)
	ctx, closeBrowser := chromedp.NewContext(allocator)
	t.Cleanup(closeBrowser)
	require.NoError(t, chromedp.Do(ctx))
	return ctx
}

// desk is a running "crowline desk".
type desk struct {
	address string // with the token
	stop    func()
}

// origin is the address without what follows the port.
func (d *desk) origin() string { return d.address[:strings.Index(d.address, "/#")] }

// startDesk runs the command as a user would, with a port of its own.
func startDesk(t *testing.T, arguments ...string) *desk {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	out := &watched{}
	errs := &watched{}
	done := make(chan int, 1)
	go func() {
		done <- cli.Main(ctx, append([]string{"desk", "--no-open", "--date", day}, arguments...), cli.Streams{Out: out, Err: errs, Now: time.Now})
	}()
	d := &desk{stop: sync.OnceFunc(func() { cancel(); <-done })}
	t.Cleanup(d.stop)
	address := regexp.MustCompile(`http://127\.0\.0\.1:\d+/#token=\S+`)
	require.Eventually(t, func() bool {
		d.address = address.FindString(out.String() + errs.String())
		return d.address != ""
	}, patience, 20*time.Millisecond, "no address: %s%s", out, errs)
	return d
}

// day is of every question of these tests, so that both ways of asking agree.
const day = "2026-11-30"

// watched is a buffer that is read while it is written.
type watched struct {
	mutex sync.Mutex
	b     bytes.Buffer
}

func (w *watched) Write(p []byte) (int, error) {
	w.mutex.Lock()
	defer w.mutex.Unlock()
	return w.b.Write(p)
}

func (w *watched) String() string {
	w.mutex.Lock()
	defer w.mutex.Unlock()
	return w.b.String()
}

// command is what the command line writes.
func command(t *testing.T, arguments ...string) string {
	t.Helper()
	var out, errs bytes.Buffer
	require.Zero(t, cli.Main(t.Context(), arguments, cli.Streams{Out: &out, Err: &errs, Now: time.Now}), "crowline %s: %s", strings.Join(arguments, " "), &errs)
	return out.String()
}

// legJSON is crowline leg --json.
func legJSON(t *testing.T, arguments ...string) map[string]any {
	t.Helper()
	var a map[string]any
	require.NoError(t, json.Unmarshal([]byte(command(t, append([]string{"leg", "--json"}, arguments...)...)), &a))
	return a
}

// tab is one tab of the browser.
type tab struct {
	*testing.T
	ctx    context.Context
	mutex  sync.Mutex
	errors []string // of the console
	asked  []string // addresses
	// refusals says that the page is refused something on purpose, which the
	// console then tells.
	refusals bool
}

// open opens a desk in a tab of its own, and holds at the end that the console
// told no error and that nothing was asked beyond this machine.
func open(t *testing.T, browser context.Context, d *desk, before ...chromedp.Action[chromedp.Void]) *tab {
	t.Helper()
	p := blank(t, browser)
	for _, a := range before {
		p.do(a)
	}
	p.do(chromedp.Navigate(d.address))
	return p
}

func blank(t *testing.T, browser context.Context) *tab {
	t.Helper()
	p := &tab{T: t}
	ctx, shut := chromedp.NewContext(browser, chromedp.WithListener(p.hear))
	p.ctx = ctx
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(1280, 800)))
	_, err := chromedp.Call(ctx, network.Enable, network.EnableParams{})
	require.NoError(t, err)
	t.Cleanup(func() {
		p.keepShot("end")
		shut()
		p.mutex.Lock()
		defer p.mutex.Unlock()
		for _, e := range p.errors {
			if !p.refusals || !strings.Contains(e, "Failed to load resource") {
				assert.Fail(t, "the console tells an error", e)
			}
		}
		for _, a := range p.asked {
			assert.True(t, strings.HasPrefix(a, "http://127.0.0.1:") || strings.HasPrefix(a, "blob:") || strings.HasPrefix(a, "about:"), "asked beyond this machine: %s", a)
		}
	})
	return p
}

func (p *tab) hear(event any) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	switch e := event.(type) {
	case *runtime.EventConsoleAPICalled:
		if e.Type == runtime.ConsoleAPICalledTypeError || e.Type == runtime.ConsoleAPICalledTypeWarning {
			p.errors = append(p.errors, fmt.Sprint(e.Args))
		}
	case *runtime.EventExceptionThrown:
		text := e.ExceptionDetails.Text
		if e.ExceptionDetails.Exception != nil {
			text += " " + e.ExceptionDetails.Exception.Description
		}
		p.errors = append(p.errors, text)
	case *cdplog.EventEntryAdded:
		if e.Entry.Level == cdplog.EntryLevelError || e.Entry.Level == cdplog.EntryLevelWarning {
			p.errors = append(p.errors, e.Entry.Text+" "+e.Entry.URL)
		}
	case *network.EventRequestWillBeSent:
		p.asked = append(p.asked, e.Request.URL)
	}
}

func (p *tab) do(actions ...chromedp.Action[chromedp.Void]) {
	p.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	require.NoError(p, chromedp.Do(ctx, actions...))
}

// eval is the value of an expression in the page.
func eval[T any](p *tab, expression string) T {
	p.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	require.NoError(p, err, expression)
	return v
}

func (p *tab) text(selector string) string {
	p.Helper()
	return eval[string](p, fmt.Sprintf(`(e => (e?.innerText ?? e?.textContent ?? '').trim())(document.querySelector(%q))`, selector))
}

// until waits for an expression to become true.
func (p *tab) until(expression string) {
	p.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	_, err := chromedp.Run(ctx, chromedp.Poll[chromedp.Void](expression, chromedp.WithPollingInterval(30*time.Millisecond), chromedp.WithPollingTimeout(patience)))
	if err != nil {
		p.keepShot("waiting")
	}
	require.NoError(p, err, "waiting for %s; the console told: %v", expression, p.errors)
}

// answered waits for the whole answer, and for the map.
func (p *tab) answered() {
	p.Helper()
	// what was just done to the map is drawn in the next frames
	eval[bool](p, `new Promise(r => requestAnimationFrame(() => requestAnimationFrame(() => requestAnimationFrame(() => r(true)))))`)
	p.until(`document.getElementById('map').dataset.answer === 'whole' && document.getElementById('frame').dataset.drawn === 'whole'`)
}

// at is the middle of an element in the window.
func (p *tab) at(selector string) (x, y float64) {
	p.Helper()
	v := eval[[]float64](p, fmt.Sprintf(`(() => { const b = document.querySelector(%q).getBoundingClientRect(); return [b.x + b.width / 2, b.y + b.height / 2] })()`, selector))
	return v[0], v[1]
}

// mouse sends an event of the left button, or a move with it down.
func (p *tab) mouse(kind input.DispatchMouseEventType, x, y float64) {
	p.Helper()
	p.do(chromedp.MouseEvent(kind, x, y, chromedp.ButtonLeft, chromedp.ClickCount(1)))
}

// hover moves with no button down.
func (p *tab) hover(x, y float64) {
	p.Helper()
	p.do(chromedp.MouseEvent(chromedp.MouseMoved, x, y))
}

// drag moves by the mouse from one place of the window to another.
func (p *tab) drag(x, y, x2, y2 float64) {
	p.Helper()
	p.hover(x, y)
	p.mouse(chromedp.MousePressed, x, y)
	for i := 1; i <= 6; i++ {
		s := float64(i) / 6
		p.mouse(chromedp.MouseMoved, x+s*(x2-x), y+s*(y2-y))
	}
	p.mouse(chromedp.MouseReleased, x2, y2)
}

// touch does the same with a finger.
func (p *tab) touch(x, y, x2, y2 float64) {
	p.Helper()
	send := func(kind input.DispatchTouchEventType, points ...*input.TouchPoint) {
		_, err := chromedp.Call(p.ctx, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: points})
		require.NoError(p, err)
	}
	send(input.DispatchTouchEventTypeTouchStart, &input.TouchPoint{X: x, Y: y})
	for i := 1; i <= 6; i++ {
		s := float64(i) / 6
		send(input.DispatchTouchEventTypeTouchMove, &input.TouchPoint{X: x + s*(x2-x), Y: y + s*(y2-y)})
	}
	send(input.DispatchTouchEventTypeTouchEnd)
}

// media emulates features of media, as name, value, ...
func (p *tab) media(features ...string) {
	p.Helper()
	var list []*emulation.MediaFeature
	for i := 0; i < len(features); i += 2 {
		list = append(list, &emulation.MediaFeature{Name: features[i], Value: features[i+1]})
	}
	_, err := chromedp.Call(p.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: list})
	require.NoError(p, err)
}

// keepShot writes what is on the screen where CROWLINE_SHOTS says, to be looked
// at: the names of tests name the files.
func (p *tab) keepShot(what string) {
	folder := os.Getenv("CROWLINE_SHOTS")
	if folder == "" {
		return
	}
	b, err := chromedp.Run(p.ctx, chromedp.CaptureScreenshot())
	if err != nil {
		p.Log("no picture: ", err)
		return
	}
	name := strings.NewReplacer("/", "-", " ", "-").Replace(p.Name() + "-" + what)
	assert.NoError(p, os.WriteFile(filepath.Join(folder, name+".png"), b, 0o600))
}

// firstLines are the first lines of a leg's text, each in one line, as
// "label text".
func firstLines(text string) []string {
	var out []string
	for _, line := range strings.Split(text, "\n") {
		if strings.TrimSpace(line) == "" {
			break
		}
		if strings.HasPrefix(line, "              ") && len(out) > 0 {
			out[len(out)-1] += " " + strings.TrimSpace(line)
			continue
		}
		out = append(out, strings.Join(strings.Fields(line), " "))
	}
	return out
}
