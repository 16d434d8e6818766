package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

// The desk is timed as a hand meets it: trusted pointer moves through the
// browser's protocol, and at every frame the age of the position whose answer
// is on the screen. Browser, driver and server share the cores, and the browser
// draws without a graphics processor.
const (
	moves     = 150
	moveEvery = time.Second / 60
	// deskPosts a side, 30 m apart: 8 million posts.
	deskPosts = 2840
)

// mountains is terrain for the desk: the fractal with its posts 30 m apart and
// its heights doubled, so that slopes stay those of mountains.
func mountains(ctx context.Context, folder string) (string, error) {
	path := filepath.Join(folder, "mountains-30m.tif")
	if _, err := os.Stat(path); err == nil {
		return path, nil
	}
	crs, err := geodesy.NewCRS("EPSG:32617")
	if err != nil {
		return "", err
	}
	heights := fractal(deskPosts, deskPosts)
	for i := range heights {
		heights[i] *= 2
	}
	f := dem.Frame{Columns: deskPosts, Rows: deskPosts, X0: 460015, Y0: 4139985, DX: 30, DY: -30, CRS: crs}
	if err := gdalio.WriteGeoTIFF(ctx, path+partEnding, &f, []gdalio.Band{{Name: "elevation", Float32: heights}}); err != nil {
		return "", err
	}
	return path, os.Rename(path+partEnding, path)
}

// benchDesk times the page of crowline desk.
func benchDesk(ctx context.Context, folder string) error {
	file, err := mountains(ctx, folder)
	if err != nil {
		return err
	}
	server := exec.CommandContext(ctx, "./crowline", "desk", "17S 500500 4099500", "17S 504000 4097000", "--dem", file, "--vertical-error", "6m", "--no-open")
	server.Cancel = func() error { return server.Process.Signal(os.Interrupt) }
	said, err := server.StdoutPipe()
	if err != nil {
		return err
	}
	server.Stderr = server.Stdout
	if err := server.Start(); err != nil {
		return err
	}
	defer func() {
		_ = server.Process.Signal(os.Interrupt)
		_ = server.Wait()
	}()
	address, err := addressOf(said)
	if err != nil {
		return err
	}
	if err := benchServed(ctx, address); err != nil {
		return err
	}

	browser := ""
	for _, name := range []string{"chromium", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			browser = path
			break
		}
	}
	if browser == "" {
		fmt.Println("  left out: chromium is not installed (package chromium)")
		return nil
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(browser), chromedp.DisableGPU, chromedp.WindowSize(1280, 800))
	if os.Geteuid() == 0 {
		options = append(options, chromedp.NoSandbox)
	}
	allocator, stop := chromedp.NewExecAllocator(ctx, options...)
	defer stop()
	tab, closeTab := chromedp.NewContext(allocator)
	defer closeTab()
	if err := chromedp.Do(tab, chromedp.EmulateViewport(1280, 800)); err != nil {
		return err
	}
	if _, err := chromedp.Call(tab, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: watch}); err != nil {
		return err
	}
	// once to read the ground, which is not what is timed, and then from the start
	var firsts []float64
	for range *runs + 1 {
		if err := chromedp.Do(tab, chromedp.Navigate("about:blank"), chromedp.Navigate(address)); err != nil {
			return err
		}
		first, err := chromedp.Run(tab, chromedp.Poll[float64](`window.firstMap`, chromedp.WithPollingInterval(10*time.Millisecond)))
		if err != nil {
			return err
		}
		if err := answered(tab); err != nil {
			return err
		}
		firsts = append(firsts, first)
	}
	firsts = firsts[1:]
	slices.Sort(firsts)
	fmt.Printf("  %-58s %8.0f ms (wanted: 1000)\n", "from navigation to the first map, ground read", firsts[len(firsts)/2])

	if err := dragged(tab, "leg and profile", "p1", `document.getElementById('profile-strip').dataset.at`, 60, 30); err != nil {
		return err
	}
	// not by a click through the protocol, which scrolls the map out of sight; a
	// point held at the edge has moved the map
	if err := chromedp.Do(tab, chromedp.Evaluate[chromedp.Void](`document.getElementById('whole').click(); document.getElementById('tint-on').click()`)); err != nil {
		return err
	}
	if err := answered(tab); err != nil {
		return err
	}
	if err := dragged(tab, "the same with ground seen within 8 km drawn", "p0", `document.getElementById('look').dataset.seen`, 120, 15); err != nil {
		return err
	}
	memory, err := largest(server.Process.Pid)
	if err != nil {
		return err
	}
	fmt.Printf("  %-58s %8.0f MB\n", fmt.Sprintf("memory of the server, %.1f million posts", deskPosts*deskPosts/1e6), float64(memory)/1e6)
	return nil
}

// addressOf reads what the desk prints until its address.
func addressOf(said interface{ Read([]byte) (int, error) }) (string, error) {
	address := regexp.MustCompile(`http://127\.0\.0\.1:\d+/#\S+`)
	lines := bufio.NewScanner(said)
	var all []string
	for lines.Scan() {
		all = append(all, lines.Text())
		if a := address.FindString(lines.Text()); a != "" {
			go func() {
				for lines.Scan() { // nothing it says later may stop it
				}
			}()
			return a, nil
		}
	}
	return "", fmt.Errorf("the desk gave no address: %s", strings.Join(all, " "))
}

func answered(tab context.Context) error {
	_, err := chromedp.Run(tab, chromedp.Poll[chromedp.Void](`document.getElementById('map')?.dataset.answer === 'whole' && document.getElementById('frame').dataset.drawn === 'whole' && (!document.getElementById('tint-on')?.checked || document.getElementById('look').dataset.seen)`,
		chromedp.WithPollingInterval(30*time.Millisecond)))
	return err
}

// watch notes when the map is first whole, and, while window.watched is a
// function that tells the shown position, each move of the pointer and at each
// frame what is shown.
const watch = `window.firstMap = 0
window.moves = []
window.frames = []
addEventListener('pointermove', e => { if (window.watched) window.moves.push([e.timeStamp, e.clientX, e.clientY]) }, true)
const frame = now => {
  if (!window.firstMap && document.getElementById('frame')?.dataset.drawn === 'whole') window.firstMap = performance.now()
  if (window.watched) window.frames.push([performance.now(), window.watched() ?? '', document.getElementById('frame').dataset.view])
  requestAnimationFrame(frame)
}
requestAnimationFrame(frame)`

// dragged moves a handle and prints how old what is shown was.
func dragged(tab context.Context, label, handle, shown string, wantAge, wantRate float64) error {
	at, err := chromedp.Run(tab, chromedp.Evaluate[[]float64](fmt.Sprintf(`(() => { const b = document.querySelector('[data-handle="%s"] .dot').getBoundingClientRect(); return [b.x + b.width / 2, b.y + b.height / 2] })()`, handle)))
	if err != nil {
		return err
	}
	x, y := at[0], at[1]
	if err := chromedp.Do(tab, chromedp.MouseEvent(chromedp.MouseMoved, x, y), chromedp.MouseEvent(chromedp.MousePressed, x, y, chromedp.ButtonLeft, chromedp.ClickCount(1)),
		chromedp.Evaluate[chromedp.Void](`window.moves = []; window.frames = []; window.watched = () => `+shown)); err != nil {
		return err
	}
	// The moves go out by the clock and wait for no answer, as a hand does: round
	// and round by more than a pixel at a time, never twice at one place.
	var waiting sync.WaitGroup
	failed := make(chan error, moves)
	start := time.Now()
	for i := 1; i <= moves; i++ {
		time.Sleep(time.Until(start.Add(time.Duration(i) * moveEvery)))
		turn, far := float64(i)*0.12, 20+0.5*float64(i)
		px, py := x+far*math.Sin(turn), y+20-far*math.Cos(turn)
		waiting.Go(func() {
			_, err := chromedp.Call(tab, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: chromedp.MouseMoved, X: px, Y: py, Button: input.MouseButtonLeft})
			failed <- err
		})
	}
	took := time.Since(start)
	waiting.Wait()
	for range moves {
		if err := <-failed; err != nil {
			return err
		}
	}
	type record struct {
		View   []float64 `json:"view"`
		Moves  [][]float64
		Frames [][]any
	}
	r, err := chromedp.Run(tab, chromedp.Evaluate[record](`(() => { window.watched = null; const f = document.getElementById('frame'), b = f.getBoundingClientRect()
		return { view: [b.x + b.width / 2, b.y + b.height / 2], Moves: window.moves, Frames: window.frames } })()`))
	if err != nil {
		return err
	}
	if err := chromedp.Do(tab, chromedp.MouseEvent(chromedp.MouseReleased, x, y, chromedp.ButtonLeft, chromedp.ClickCount(1))); err != nil {
		return err
	}
	if err := answered(tab); err != nil {
		return err
	}
	ages, answers := agesOf(r.View, r.Moves, r.Frames)
	if len(ages) == 0 {
		return errors.New("no answer was shown while the pointer moved")
	}
	slices.Sort(ages)
	quantile := func(q float64) float64 { return ages[min(int(q*float64(len(ages))), len(ages)-1)] }
	fmt.Printf("  %-58s age of what is shown: half under %.0f ms, 95 %% under %.0f ms (wanted: %.0f); %.0f answers a second (wanted: %.0f); %d moves, %d frames\n",
		label, quantile(0.5), quantile(0.95), wantAge, float64(answers)/took.Seconds(), wantRate, len(r.Moves), len(ages))
	return nil
}

// agesOf is, for every frame that showed an answer to a move, how old that move
// was, milliseconds, and how many answers were shown. Each frame has the view it
// was shown in: a point held at the map's edge moves the map.
func agesOf(middle []float64, moves [][]float64, frames [][]any) (ages []float64, answers int) {
	before := ""
	for _, f := range frames {
		now, _ := f[0].(float64)
		shown, _ := f[1].(string)
		seen, _ := f[2].(string)
		var px, py, atX, atY, scale float64
		if _, err := fmt.Sscan(shown, &px, &py); err != nil {
			continue
		}
		if _, err := fmt.Sscan(seen, &atX, &atY, &scale); err != nil {
			continue
		}
		// on the screen, where moves are further apart than a handle is held off
		// its middle
		x, y := middle[0]+(px-atX)/scale, middle[1]-(py-atY)/scale
		nearest, when := 1.5, -1.0
		for _, m := range moves {
			if off := math.Hypot(m[1]-x, m[2]-y); off < nearest {
				nearest, when = off, m[0]
			}
		}
		if when < 0 || now > moves[len(moves)-1][0]+moveEvery.Seconds()*1000 {
			continue
		}
		ages = append(ages, now-when)
		if shown != before {
			answers++
			before = shown
		}
	}
	return ages, answers
}

// largest is the most memory a process has held, bytes (Linux).
func largest(pid int) (int64, error) {
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0, err
	}
	_, rest, ok := strings.Cut(string(status), "VmHWM:")
	var kilobytes int64
	if _, err := fmt.Sscan(rest, &kilobytes); err != nil || !ok {
		return 0, fmt.Errorf("the memory of process %d is not told", pid)
	}
	return kilobytes * 1024, nil
}
