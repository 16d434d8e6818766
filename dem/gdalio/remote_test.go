package gdalio

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// tileServer serves files and counts requests and bytes of bodies. before,
// if not nil, may answer in its place.
type tileServer struct {
	*httptest.Server
	mutex    sync.Mutex
	requests int
	bytes    int64
}

func (s *tileServer) counts() (requests int, bytes int64) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	return s.requests, s.bytes
}

type countingWriter struct {
	http.ResponseWriter
	server *tileServer
}

func (w countingWriter) Write(b []byte) (int, error) {
	w.server.mutex.Lock() // before the client can have them
	w.server.bytes += int64(len(b))
	w.server.mutex.Unlock()
	return w.ResponseWriter.Write(b)
}

func serve(t *testing.T, folder string, before func(w http.ResponseWriter, r *http.Request, request int) bool) *tileServer {
	t.Helper()
	s := &tileServer{}
	files := http.FileServer(http.Dir(folder))
	s.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.mutex.Lock()
		s.requests++
		n := s.requests
		s.mutex.Unlock()
		counted := countingWriter{w, s}
		if before == nil || !before(counted, r, n) {
			files.ServeHTTP(counted, r)
		}
	}))
	t.Cleanup(s.Close)
	return s
}

// cloudOptimised is a tile of a degree at one arc-second, 3600 x 3600 whole
// metres that do not compress well, some 15 MB.
func cloudOptimised(t *testing.T) (folder string) {
	t.Helper()
	folder = t.TempDir()
	const n, step = 3600, 1.0 / 3600
	f := dem.Frame{Columns: n, Rows: n, X0: -85 + step/2, Y0: 37 - step/2, DX: step, DY: -step, CRS: geodesy.WGS84}
	random := rand.New(rand.NewPCG(3, 3))
	values := make([]float32, n*n)
	for i := range values {
		c, r := float64(i%n), float64(i/n)
		values[i] = float32(math.Round(600 + 300*math.Sin(c/90)*math.Cos(r/70) + 5*random.Float64()))
	}
	plain := filepath.Join(folder, "plain.tif")
	require.NoError(t, WriteGeoTIFF(t.Context(), plain, &f, []Band{{Float32: values}}))
	tool(t, "", "gdal_translate", "-q", "-of", "COG", "-ot", "Int16", "-co", "COMPRESS=DEFLATE", "-co", "PREDICTOR=2", "-co", "BLOCKSIZE=512", plain, filepath.Join(folder, "tile.tif"))
	return folder
}

var quick = RemoteOptions{Connect: time.Second, Request: 2 * time.Second, Stall: time.Second, Retries: 1}

// TestOnlyTheBlocksOfALegAreFetched from a cloud-optimised GeoTIFF: a leg of
// 10 km takes a few hundred kilobytes, and asking again takes none.
func TestOnlyTheBlocksOfALegAreFetched(t *testing.T) {
	t.Parallel()
	folder := cloudOptimised(t)
	size, err := os.Stat(filepath.Join(folder, "tile.tif"))
	require.NoError(t, err)
	s := serve(t, folder, nil)
	r, err := OpenURL(t.Context(), s.URL+"/tile.tif", Options{}, quick)
	require.NoError(t, err)
	defer r.Close()
	openRequests, openBytes := s.counts()
	local, err := Open(filepath.Join(folder, "tile.tif"), Options{})
	require.NoError(t, err)
	defer local.Close()
	leg := func() []float64 {
		posts, here := dem.NewBlocks(t.Context(), r, 0), dem.NewBlocks(t.Context(), local, 0)
		var heights []float64
		from, to := geodesy.LatLon{Lat: 36.5, Lon: -84.5}, geodesy.LatLon{Lat: 36.57, Lon: -84.43}
		for _, p := range geodesy.Waypoints(from, to, 300) {
			h, err := dem.ElevationAt(posts, p)
			require.NoError(t, err)
			want, err := dem.ElevationAt(here, p)
			require.NoError(t, err)
			require.InDelta(t, want, h, 0)
			heights = append(heights, h)
		}
		require.NoError(t, posts.Err())
		return heights
	}
	leg()
	requests, bytes := s.counts()
	t.Logf("file of %.1f MB: %d requests, %d kB to open; %d requests, %d kB with a leg of %.1f km", float64(size.Size())/1e6,
		openRequests, openBytes/1000, requests, bytes/1000, geodesy.Inverse(geodesy.LatLon{Lat: 36.5, Lon: -84.5}, geodesy.LatLon{Lat: 36.57, Lon: -84.43}).Distance/1000)
	assert.Less(t, openBytes, int64(100_000))
	assert.Less(t, bytes, int64(400_000)) // three blocks of some 100 kB
	assert.Less(t, bytes, size.Size()/5)
	leg()
	again, _ := s.counts()
	assert.Equal(t, requests, again)
}

// TestServersThatFail: each is one line that says what to do, and never a
// height.
func TestServersThatFail(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	whole := openCumberland(t)
	cut(t, whole, filepath.Join(folder, "tile.tif"), whole.Whole())
	data, err := os.ReadFile(filepath.Join(folder, "tile.tif"))
	require.NoError(t, err)
	status := func(code int) func(w http.ResponseWriter, r *http.Request, n int) bool {
		return func(w http.ResponseWriter, r *http.Request, n int) bool {
			http.Error(w, "no", code)
			return true
		}
	}
	cases := []struct {
		name   string
		before func(w http.ResponseWriter, r *http.Request, n int) bool
		want   string
	}{
		{"missing", status(404), "no such file"},
		{"forbidden", status(403), "does not give it out"},
		{"broken for good", status(503), "try again later"},
		{"a page in place of the file", func(w http.ResponseWriter, r *http.Request, n int) bool {
			w.Header().Set("Content-Type", "text/html")
			fmt.Fprint(w, strings.Repeat("<html><body>Please sign in</body></html>\n", 1000))
			return true
		}, ""},
		{"stalls", func(w http.ResponseWriter, r *http.Request, n int) bool {
			select {
			case <-r.Context().Done():
			case <-time.After(20 * time.Second):
			}
			return true
		}, "stalled"},
		{"cut short", func(w http.ResponseWriter, r *http.Request, n int) bool {
			http.ServeContent(w, r, "tile.tif", time.Time{}, strings.NewReader(string(data[:len(data)/3])))
			return true
		}, "tile.tif"},
		{"breaks off", func(w http.ResponseWriter, r *http.Request, n int) bool {
			panic(http.ErrAbortHandler)
		}, "broke off; try again later"},
		{"redirects for ever", func(w http.ResponseWriter, r *http.Request, n int) bool {
			http.Redirect(w, r, r.URL.Path, http.StatusFound)
			return true
		}, "redirects without end"},
		{"odd", status(418), "answers with status 418"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := serve(t, folder, c.before)
			r, err := OpenURL(t.Context(), s.URL+"/tile.tif", Options{}, quick)
			if err == nil {
				defer r.Close()
				_, err = r.Read(t.Context(), r.Layout().Whole())
			}
			require.Error(t, err)
			t.Log(err)
			assert.Contains(t, err.Error(), c.want)
			assert.NotContains(t, err.Error(), "\n")
			assert.NotContains(t, err.Error(), "/vsicurl")
			assert.NotContains(t, err.Error(), "CURL")
		})
	}
	t.Run("nobody there", func(t *testing.T) {
		t.Parallel()
		s := serve(t, folder, nil)
		address := s.URL
		s.Close()
		_, err := OpenURL(t.Context(), address+"/tile.tif", Options{}, quick)
		require.ErrorContains(t, err, "are you online?")
	})
	t.Run("no such name", func(t *testing.T) {
		t.Parallel()
		_, err := OpenURL(t.Context(), "http://tiles.invalid/tile.tif", Options{}, quick) // RFC 2606: never a name
		require.ErrorContains(t, err, "are you online?")
	})
	for _, address := range []string{"ftp://a/b.tif", "http://", "http://[::1"} {
		_, err := OpenURL(t.Context(), address, Options{}, quick)
		require.ErrorContains(t, err, "not an http or https address")
	}
}

// TestServersThatRecover: a passing failure is tried again, a redirect is
// followed, and a mosaic takes an address among files.
func TestServersThatRecover(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	whole := openCumberland(t)
	cut(t, whole, filepath.Join(folder, "tile.tif"), whole.Whole())
	s := serve(t, folder, func(w http.ResponseWriter, r *http.Request, n int) bool {
		if n == 1 {
			http.Error(w, "busy", http.StatusServiceUnavailable)
			return true
		}
		if strings.HasPrefix(r.URL.Path, "/old/") {
			http.Redirect(w, r, strings.TrimPrefix(r.URL.Path, "/old"), http.StatusFound)
			return true
		}
		return false
	})
	m, err := OpenMany(t.Context(), []string{s.URL + "/old/tile.tif", cumberland}, ManyOptions{IndexFolder: t.TempDir(), Remote: quick})
	require.NoError(t, err)
	defer m.Close()
	g := groundOf(t, m, 1e5, jacksboro)
	assert.Equal(t, whole.Elevations, g.Elevations)
}

// TestBlocksAreKeptOnDisk: what another run fetched is not fetched again,
// unless it was damaged, or the server's file is another one now.
func TestBlocksAreKeptOnDisk(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	whole := openCumberland(t)
	path := filepath.Join(folder, "tile.tif")
	cut(t, whole, path, whole.Whole())
	s := serve(t, folder, nil)
	limits := quick
	limits.CacheFolder = filepath.Join(t.TempDir(), "blocks")
	w := dem.Window{Column: 200, Row: 100, Columns: 150, Rows: 200}
	read := func(limits RemoteOptions) (*dem.Grid, int64) {
		_, before := s.counts()
		r, err := OpenURL(t.Context(), s.URL+"/tile.tif", Options{}, limits)
		require.NoError(t, err)
		defer r.Close()
		_, opened := s.counts()
		g, err := r.Read(t.Context(), w)
		require.NoError(t, err)
		_, after := s.counts()
		t.Logf("open %d, read %d bytes", opened-before, after-opened)
		return g, after - opened
	}
	g, fetched := read(limits)
	assert.Equal(t, window(whole, w), g.Elevations)
	assert.Positive(t, fetched)
	g, fetched = read(limits)
	assert.Equal(t, window(whole, w), g.Elevations)
	assert.Zero(t, fetched)

	blocks, err := filepath.Glob(filepath.Join(limits.CacheFolder, "*", "*"+blockEnding))
	require.NoError(t, err)
	require.Len(t, blocks, 8)
	data, err := os.ReadFile(blocks[0])
	require.NoError(t, err)
	data[100] ^= 64
	require.NoError(t, os.WriteFile(blocks[0], data, 0o600))
	g, fetched = read(limits)
	assert.Equal(t, window(whole, w), g.Elevations)
	assert.Positive(t, fetched, "a damaged block is fetched again")

	// another file at the same address
	for i := range whole.Elevations {
		whole.Elevations[i] += 7
	}
	require.NoError(t, os.Remove(path))
	cut(t, whole, path, whole.Whole())
	later := time.Now().Add(time.Hour)
	require.NoError(t, os.Chtimes(path, later, later))
	g, _ = read(limits)
	assert.Equal(t, window(whole, w), g.Elevations)

	// over the limit, the oldest go; a folder that cannot be written is no
	// error
	limits.CacheBytes = 600_000
	read(limits)
	blocks, err = filepath.Glob(filepath.Join(limits.CacheFolder, "*", "*"+blockEnding))
	require.NoError(t, err)
	assert.LessOrEqual(t, len(blocks), 8+1)
	limits.CacheFolder = filepath.Join(path, "blocks")
	g, _ = read(limits)
	assert.Equal(t, window(whole, w), g.Elevations)
}

func window(g *dem.Grid, w dem.Window) []float32 {
	var values []float32
	for r := range w.Rows {
		at := (w.Row+r)*g.Columns + w.Column
		values = append(values, g.Elevations[at:at+w.Columns]...)
	}
	return values
}

func TestCancelledRemoteReadReturnsAtOnce(t *testing.T) {
	t.Parallel()
	reached := make(chan struct{}, 10)
	s := serve(t, t.TempDir(), func(w http.ResponseWriter, r *http.Request, n int) bool {
		reached <- struct{}{}
		<-r.Context().Done()
		return true
	})
	ctx, cancel := context.WithCancel(t.Context())
	go func() { <-reached; cancel() }()
	_, err := OpenURL(ctx, s.URL+"/tile.tif", Options{}, RemoteOptions{Request: 10 * time.Second, Stall: 10 * time.Second, Retries: -1})
	require.ErrorIs(t, err, context.Canceled)
	s.CloseClientConnections()
}
