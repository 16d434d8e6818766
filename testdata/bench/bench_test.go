package main

import (
	"context"
	"io"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/visibility"
)

func TestMeasure(t *testing.T) {
	r, err := measure(t.Context(), "sleep", "0.05")
	require.NoError(t, err)
	assert.GreaterOrEqual(t, r.wall.Seconds(), 0.05)
	assert.Positive(t, r.memory)
	_, err = measure(t.Context(), "sh", "-c", "echo out of paint >&2; exit 3")
	require.ErrorContains(t, err, "out of paint")
	assert.ErrorContains(t, err, "exit 3")
}

// TestWhatIsMissingIsSaid: a program, room on the disk, the program itself.
func TestWhatIsMissingIsSaid(t *testing.T) {
	assert.Contains(t, without("sh", "no-such-program"), "no-such-program is not installed")
	assert.Empty(t, without("sh"))
	assert.Contains(t, lacks(t.TempDir(), math.MaxInt64), "free")
	assert.Empty(t, lacks(t.TempDir(), 1))
	t.Chdir(t.TempDir())
	require.ErrorContains(t, bench(t.Context()), "make build")
	*only = "nothing"
	defer func() { *only = "" }()
	require.NoError(t, os.WriteFile("crowline", nil, 0o700))
	assert.ErrorContains(t, bench(t.Context()), `no part "nothing"`)
}

// TestFractal: the same ground every time, rough and bounded, and a piece of
// it the same as the piece of a larger one.
func TestFractal(t *testing.T) {
	a, b := fractal(200, 100), fractal(300, 150)
	assert.Equal(t, a, fractal(200, 100))
	for r := range 100 {
		assert.Equal(t, a[r*200:(r+1)*200], b[r*300:r*300+200])
	}
	assert.Greater(t, slices.Min(a), float32(-200))
	assert.Less(t, slices.Max(a), float32(2200))
	steps := 0.0
	for i := range 199 {
		steps += math.Abs(float64(a[i+1] - a[i]))
	}
	assert.Greater(t, steps/199, 0.5, "metres between neighbours")
}

// TestOverlap: of four posts ours sees two, the peer two, and both one. Ours
// is a viewshed as the program writes it, which is not read as elevations.
func TestOverlap(t *testing.T) {
	if missing := without("gdal_translate"); missing != "" {
		t.Skip(missing)
	}
	folder := t.TempDir()
	crs, err := geodesy.NewCRS("EPSG:32617")
	require.NoError(t, err)
	f := dem.Frame{Columns: 2, Rows: 2, X0: 500005, Y0: 4099995, DX: 10, DY: -10, CRS: crs}
	write := func(name, band string, values ...uint8) string {
		path := filepath.Join(folder, name)
		require.NoError(t, gdalio.WriteGeoTIFF(t.Context(), path, &f, []gdalio.Band{{Name: band, Bytes: values}}))
		return path
	}
	seen, hidden := uint8(visibility.Visible), uint8(visibility.Hidden)
	share, err := overlap(t.Context(), write("ours.tif", gdalio.VerdictBand, seen, seen, hidden, hidden), write("theirs.tif", "seen", 255, 0, 255, 0))
	require.NoError(t, err)
	assert.InDelta(t, 1.0/3, share, 1e-12)
}

// TestRangeServerCounts: bodies alone, and only the part asked for.
func TestRangeServerCounts(t *testing.T) {
	folder := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(folder, "a.tif"), make([]byte, 5000), 0o600))
	s, err := serveFolder(folder)
	require.NoError(t, err)
	defer s.close()
	ask := func(method, part string) int64 {
		r, err := http.NewRequestWithContext(t.Context(), method, s.address+"/a.tif", nil)
		require.NoError(t, err)
		if part != "" {
			r.Header.Set("Range", part)
		}
		answer, err := http.DefaultClient.Do(r)
		require.NoError(t, err)
		defer answer.Body.Close()
		n, err := io.Copy(io.Discard, answer.Body)
		require.NoError(t, err)
		return n
	}
	assert.EqualValues(t, 100, ask(http.MethodGet, "bytes=200-299"))
	assert.EqualValues(t, 0, ask(http.MethodHead, ""))
	requests, bytes := s.take()
	assert.Equal(t, 2, requests)
	assert.EqualValues(t, 100, bytes)
	requests, bytes = s.take()
	assert.Zero(t, requests)
	assert.Zero(t, bytes)
}

// A run that is stopped leaves nothing that the next one takes for whole.
func TestWhatIsHalfMadeIsMadeAgain(t *testing.T) {
	programs, folder := t.TempDir(), t.TempDir()
	t.Setenv("PATH", programs+string(os.PathListSeparator)+os.Getenv("PATH"))
	program := func(after string) {
		script := "#!/bin/sh\nfor last; do :; done\necho \"$@\" > \"$last\"\n" + after + "\n"
		require.NoError(t, os.WriteFile(filepath.Join(programs, "gdal_translate"), []byte(script), 0o700))
	}
	file := filepath.Join(folder, "a.tif")
	program("exit 1")
	require.ErrorContains(t, translate(t.Context(), file, "half"), "gdal_translate")
	require.NoFileExists(t, file)
	program("")
	require.NoError(t, translate(t.Context(), file, "whole"))
	read := func() string {
		b, err := os.ReadFile(file)
		require.NoError(t, err)
		return string(b)
	}
	assert.Contains(t, read(), " whole ")
	require.NoError(t, translate(t.Context(), file, "again"))
	assert.Contains(t, read(), " whole ", "what is whole is used")

	const side, posts = 12, 2
	all, few := filepath.Join(folder, "all"), filepath.Join(folder, "few")
	stopped, cancel := context.WithCancel(t.Context())
	cancel()
	require.ErrorIs(t, makeTiles(stopped, all, few, side, posts), context.Canceled)
	require.NoDirExists(t, all)
	require.NoError(t, os.MkdirAll(all+partEnding, 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(all+partEnding, "tile-00-00.tif"), []byte("half"), 0o600))
	require.NoError(t, os.MkdirAll(filepath.Join(few, "left over"), 0o700))
	for range 2 { // the second finds all done
		require.NoError(t, makeTiles(t.Context(), all, few, side, posts))
		for folder, want := range map[string]int{all: side * side, few: 4} {
			entries, err := os.ReadDir(folder)
			require.NoError(t, err)
			assert.Len(t, entries, want)
			assert.NoDirExists(t, folder+partEnding)
		}
	}
	r, err := gdalio.Open(filepath.Join(all, "tile-00-00.tif"), gdalio.Options{})
	require.NoError(t, err)
	require.NoError(t, r.Close())
}

// TestAges: of two frames that show answers, one shows the last move at once
// and one the move before it; a frame that shows none, or something no move
// asked for, has no age.
func TestAges(t *testing.T) {
	middle := []float64{500, 400} // of the screen
	// the middle of the plane and metres a pixel; the map has moved by the last frames
	const view, moved = "1000 2000 10", "1100 2000 10"
	moves := [][]float64{{100, 510, 400}, {116, 520, 400}}
	ages, answers := agesOf(middle, moves, [][]any{{110.0, "", view}, {118.0, "1100 2000", view}, {120.0, "1200 2000", moved}, {126.0, "1300 2000", moved}, {127.0, "9000 2000", view}})
	assert.Equal(t, []float64{18, 20, 10}, ages)
	assert.Equal(t, 3, answers)
}
