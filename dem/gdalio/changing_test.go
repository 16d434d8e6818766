package gdalio

import (
	"bytes"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// twoGrounds is two files of one layout and one length: on one every post is
// 100 m high, on the other 190 m. An answer with posts of both is of no ground.
func twoGrounds(t *testing.T) (low, high []byte) {
	t.Helper()
	const n, step = 600, 1.0 / 3600
	f := dem.Frame{Columns: n, Rows: n, X0: -85 + step/2, Y0: 37 - step/2, DX: step, DY: -step, CRS: geodesy.WGS84}
	file := func(height float32) []byte {
		values := make([]float32, n*n)
		for i := range values {
			values[i] = height
		}
		path := filepath.Join(t.TempDir(), "plain.tif")
		require.NoError(t, WriteGeoTIFF(t.Context(), path, &f, []Band{{Float32: values}}))
		data, err := os.ReadFile(translate(t, path, "-co", "TILED=YES", "-co", "COMPRESS=NONE"))
		require.NoError(t, err)
		return data
	}
	low, high = file(100), file(190)
	require.Len(t, high, len(low))
	return low, high
}

// grounds counts the posts of each.
func grounds(g *dem.Grid) (low, high, other int) {
	for _, h := range g.Elevations {
		switch h {
		case 100:
			low++
		case 190:
			high++
		default:
			other++
		}
	}
	return low, high, other
}

// changing is a server whose file can be exchanged.
type changing struct {
	now      atomic.Pointer[marked]
	mark     func(h http.Header, which int) // puts in what tells the file
	requests atomic.Int64
}

type marked struct {
	which int
	data  []byte
}

func (c *changing) set(which int, data []byte) { c.now.Store(&marked{which, data}) }

func (c *changing) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	c.requests.Add(1)
	now := c.now.Load()
	c.mark(w.Header(), now.which)
	at, _ := http.ParseTime(w.Header().Get("Last-Modified")) // none is the zero time
	http.ServeContent(w, r, "", at, bytes.NewReader(now.data))
}

var longAgo = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

// ways a server tells one file from another.
var ways = map[string]func(h http.Header, which int){
	"tag":      func(h http.Header, which int) { h.Set("ETag", fmt.Sprintf(`"%d"`, which)) },
	"weak tag": func(h http.Header, which int) { h.Set("ETag", fmt.Sprintf(`W/"%d"`, which)) },
	"date": func(h http.Header, which int) {
		h.Set("Last-Modified", longAgo.Add(time.Duration(which)*time.Minute).Format(http.TimeFormat))
	},
}

// TestGroundOfTwoFilesIsNeverMixed: the file changes between two blocks, with
// the one length and layout.
func TestGroundOfTwoFilesIsNeverMixed(t *testing.T) {
	t.Parallel()
	low, high := twoGrounds(t)
	first, second := dem.Window{Columns: 100, Rows: 50}, dem.Window{Column: 400, Row: 500, Columns: 100, Rows: 50}
	for name, mark := range ways {
		for _, kept := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s, kept on disk %v", name, kept), func(t *testing.T) {
				t.Parallel()
				c := &changing{mark: mark}
				c.set(1, low)
				s := httptest.NewServer(c)
				defer s.Close()
				limits := quick
				if kept {
					limits.CacheFolder = t.TempDir()
				}
				open := func() *Remote {
					r, err := OpenURL(t.Context(), s.URL+"/tile.tif", Options{}, limits)
					require.NoError(t, err)
					t.Cleanup(func() { r.Close() })
					return r
				}
				read := func(r *Remote, w dem.Window, wantLow bool) {
					g, err := r.Read(t.Context(), w)
					require.NoError(t, err)
					l, h, other := grounds(g)
					assert.Zero(t, other)
					if wantLow {
						assert.Zero(t, h)
					} else {
						assert.Zero(t, l)
					}
				}
				r := open()
				read(r, first, true)
				c.set(2, high)
				_, err := r.Read(t.Context(), second)
				require.ErrorContains(t, err, "/tile.tif: the file on the server changed while it was being read")
				require.ErrorContains(t, err, "run it again")
				_, err = r.Read(t.Context(), second)
				require.ErrorContains(t, err, "changed while it was being read")
				again := open() // the next run, with what the first left on disk
				read(again, first, false)
				read(again, second, false)
				c.set(1, low) // and back
				last := open()
				read(last, second, true)
				read(last, first, true)
			})
		}
	}
}

// TestOneRunIsOfOneFile: a mosaic opens an address now to learn where it lies,
// and later to read it.
func TestOneRunIsOfOneFile(t *testing.T) {
	t.Parallel()
	low, high := twoGrounds(t)
	c := &changing{mark: ways["tag"]}
	c.set(1, low)
	s := httptest.NewServer(c)
	defer s.Close()
	m, err := OpenMany(t.Context(), []string{s.URL + "/tile.tif"}, ManyOptions{Remote: quick})
	require.NoError(t, err)
	defer m.Close()
	c.set(2, high)
	j, err := m.Whole(t.Context())
	if err == nil {
		_, err = j.Read(t.Context(), dem.Window{Column: 300, Row: 300, Columns: 50, Rows: 50})
	}
	require.ErrorContains(t, err, "changed while it was being read")
}

// TestWithoutTagOrDate: a length of its own is noticed, blocks on disk are
// believed for an hour, and both are said.
func TestWithoutTagOrDate(t *testing.T) {
	t.Parallel()
	low, high := twoGrounds(t)
	c := &changing{mark: func(http.Header, int) {}}
	c.set(1, low)
	s := httptest.NewServer(c)
	defer s.Close()
	limits := quick
	limits.CacheFolder = t.TempDir()
	open := func() *Remote {
		r, err := OpenURL(t.Context(), s.URL+"/tile.tif", Options{}, limits)
		require.NoError(t, err)
		t.Cleanup(func() { r.Close() })
		require.Contains(t, strings.Join(r.Info().Warnings, "\n"), "the server does not say when the file was last changed")
		return r
	}
	w := dem.Window{Column: 300, Row: 300, Columns: 50, Rows: 50}
	r := open()
	_, err := r.Read(t.Context(), w)
	require.NoError(t, err)
	blocks, err := filepath.Glob(filepath.Join(limits.CacheFolder, "*", "*"+blockEnding))
	require.NoError(t, err)
	require.NotEmpty(t, blocks)
	before := c.requests.Load()
	_, err = open().Read(t.Context(), w)
	require.NoError(t, err)
	assert.Equal(t, before+1, c.requests.Load(), "its header alone")
	for _, age := range []time.Duration{unvalidatedAge + time.Minute, -time.Hour} { // and a clock set back
		then := time.Now().Add(-age)
		for _, b := range blocks {
			require.NoError(t, os.Chtimes(b, then, then))
		}
		before = c.requests.Load()
		_, err = open().Read(t.Context(), w)
		require.NoError(t, err)
		assert.Greater(t, c.requests.Load(), before+1)
	}
	// another length: in this run, and in the next
	c.set(2, append(append([]byte(nil), high...), 0))
	_, err = r.Read(t.Context(), dem.Window{Columns: 50, Rows: 50, Column: 500, Row: 500})
	require.ErrorContains(t, err, "changed while it was being read")
	g, err := open().Read(t.Context(), w)
	require.NoError(t, err)
	l, _, _ := grounds(g)
	assert.Zero(t, l)
}

// TestTwoRunsShareBlocks: many at once with one folder, of a file that changes
// every now and then, and each gets the ground of one file or an error.
func TestTwoRunsShareBlocks(t *testing.T) {
	t.Parallel()
	files := [2][]byte{}
	files[0], files[1] = twoGrounds(t)
	c := &changing{mark: ways["tag"]}
	c.set(0, files[0])
	var still atomic.Bool
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		const often = 150 // requests; six runs make that many in a round
		if n := c.requests.Load(); n%often == often-1 && !still.Load() {
			which := int(n/often) % 2
			c.set(which, files[which])
		}
		c.ServeHTTP(w, r)
	}))
	defer s.Close()
	limits := quick
	limits.CacheFolder, limits.CacheBytes = t.TempDir(), 400_000 // some blocks go while others are read
	var wait sync.WaitGroup
	var whole, refused atomic.Int64
	for range 6 {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for range 4 {
				r, err := OpenURL(t.Context(), s.URL+"/tile.tif", Options{}, limits)
				if err == nil {
					var g *dem.Grid
					if g, err = r.Read(t.Context(), r.Layout().Whole()); err == nil {
						l, h, other := grounds(g)
						assert.True(t, other == 0 && (l == 0 || h == 0), "%d posts of one file, %d of the other, %d of none", l, h, other)
						whole.Add(1)
					}
					r.Close()
				}
				if err != nil {
					assert.ErrorContains(t, err, "changed while it was being read")
					refused.Add(1)
				}
			}
		}()
	}
	wait.Wait()
	t.Logf("%d of one file, %d refused", whole.Load(), refused.Load())
	// the file comes to rest: what all have left on disk does no harm
	still.Store(true)
	c.set(1, files[1])
	r, err := OpenURL(t.Context(), s.URL+"/tile.tif", Options{}, limits)
	require.NoError(t, err)
	defer r.Close()
	g, err := r.Read(t.Context(), r.Layout().Whole())
	require.NoError(t, err)
	_, h, _ := grounds(g)
	assert.Equal(t, len(g.Elevations), h)
}

// TestBlocksBelongToTheirPlace: one moved to another's name, or into another
// file's folder, is not taken.
func TestBlocksBelongToTheirPlace(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	w, beside := dem.Window{Columns: 4, Rows: 2}, dem.Window{Column: dem.BlockColumns, Columns: 4, Rows: 2}
	values := []float32{1, 2, 3, 4, 5, 6, 7, float32(math.Inf(1))}
	a, b := newBlockCache(root, "a", 0), newBlockCache(root, "b", 0)
	a.store(w, values)
	assert.Equal(t, values, a.load(w))
	data, err := os.ReadFile(a.path(w))
	require.NoError(t, err)
	require.NoError(t, os.MkdirAll(b.folder, 0o755))
	require.NoError(t, os.WriteFile(b.path(w), data, 0o600))
	require.NoError(t, os.WriteFile(a.path(beside), data, 0o600))
	assert.Nil(t, b.load(w))
	assert.Nil(t, a.load(beside))
}

// TestRemoteRepliesWithoutEnd: a server that sends for ever, to any request.
func TestRemoteRepliesWithoutEnd(t *testing.T) {
	t.Parallel()
	low, _ := twoGrounds(t)
	for name, whole := range map[string]bool{"from the first": true, "after the header": false} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			var requests, sent atomic.Int64
			s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				if requests.Add(1) == 1 && !whole {
					http.ServeContent(w, r, "", time.Time{}, strings.NewReader(string(low)))
					return
				}
				var from, end int
				_, _ = fmt.Sscanf(r.Header.Get("Range"), "bytes=%d-%d", &from, &end)
				w.Header().Set("Content-Range", fmt.Sprintf("bytes %d-%d/%d", from, min(end, len(low)-1), len(low)))
				w.WriteHeader(http.StatusPartialContent)
				for {
					n, err := w.Write(low)
					sent.Add(int64(n))
					if err != nil {
						return
					}
				}
			}))
			defer s.Close()
			r, err := OpenURL(t.Context(), s.URL+"/tile.tif", Options{}, quick)
			if err == nil {
				defer r.Close()
				_, err = r.Read(t.Context(), r.Layout().Whole())
			}
			require.ErrorContains(t, err, "sends more than was asked for")
			const most = 64 << 20 // bytes; far more than all buffers on the way
			s.CloseClientConnections()
			assert.Less(t, sent.Load(), int64(most))
		})
	}
}

// TestHeadersThatPointBeyondTheFile are of a damaged file, and ask for nothing.
func TestHeadersThatPointBeyondTheFile(t *testing.T) {
	t.Parallel()
	low, _ := twoGrounds(t)
	cut := low[:len(low)/3]
	c := &changing{mark: ways["tag"]}
	c.set(1, cut)
	s := httptest.NewServer(c)
	defer s.Close()
	r, err := OpenURL(t.Context(), s.URL+"/tile.tif", Options{}, quick)
	if err == nil {
		defer r.Close()
		_, err = r.Read(t.Context(), r.Layout().Whole())
	}
	require.ErrorContains(t, err, "/tile.tif")
	require.ErrorContains(t, err, "fetch it again")
	assert.NotContains(t, err.Error(), "vsi")
}

// TestPasswordsOfAddressesAreNotPrinted, in errors or in what answers say of
// their data.
func TestPasswordsOfAddressesAreNotPrinted(t *testing.T) {
	t.Parallel()
	low, _ := twoGrounds(t)
	var fail atomic.Bool
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		_, password, _ := r.BasicAuth()
		if password != "s3cret" || r.URL.Query().Get("key") != "k3y" || fail.Load() {
			http.Error(w, "no", http.StatusForbidden)
			return
		}
		http.ServeContent(w, r, "", longAgo, strings.NewReader(string(low)))
	}))
	defer s.Close()
	address := strings.Replace(s.URL, "http://", "http://someone:s3cret@", 1) + "/tile.tif?key=k3y"
	limits := quick
	limits.CacheFolder = t.TempDir()
	m, err := OpenMany(t.Context(), []string{address}, ManyOptions{Remote: limits})
	require.NoError(t, err)
	defer m.Close()
	j, err := m.Whole(t.Context())
	require.NoError(t, err)
	g, err := j.Read(t.Context(), dem.Window{Columns: 10, Rows: 10})
	require.NoError(t, err)
	fail.Store(true)
	_, failed := j.Read(t.Context(), dem.Window{Column: 500, Row: 500, Columns: 10, Rows: 10})
	require.Error(t, failed)
	_, notOpened := OpenURL(t.Context(), address, Options{}, quick)
	require.Error(t, notOpened)
	_, noAddress := OpenURL(t.Context(), "http://someone:s3cret@[::1", Options{}, quick)
	require.Error(t, noAddress)
	said := fmt.Sprintf("%+v %+v %v %v %v", g.Source, j.Info(), failed, notOpened, noAddress)
	for _, word := range []string{"s3cret", "k3y", "someone"} {
		assert.NotContains(t, said, word)
	}
	assert.Contains(t, said, "/tile.tif")
}
