package fetch

import (
	"context"
	"crypto/md5"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
	"crowline/dem/web"
)

// publisher is a server with the layout of an object store: a file's entity
// tag is its MD5, parts are served, and what is not there is a 404.
type publisher struct {
	*httptest.Server
	mutex    sync.Mutex
	files    map[string][]byte
	requests []string // "GET path range"
	before   func(w http.ResponseWriter, r *http.Request, n int) bool
}

func newPublisher(t *testing.T, files map[string][]byte) *publisher {
	t.Helper()
	p := &publisher{files: files}
	p.Server = httptest.NewServer(http.HandlerFunc(p.serve))
	t.Cleanup(p.Close)
	return p
}

func (p *publisher) serve(w http.ResponseWriter, r *http.Request) {
	p.mutex.Lock()
	p.requests = append(p.requests, strings.TrimSpace(r.Method+" "+r.URL.Path+" "+r.Header.Get("Range")))
	n := len(p.requests)
	data, ok := p.files[r.URL.Path]
	before := p.before
	p.mutex.Unlock()
	if before != nil && before(w, r, n) {
		return
	}
	if !ok {
		http.NotFound(w, r)
		return
	}
	sum := md5.Sum(data)
	w.Header().Set("ETag", `"`+hex.EncodeToString(sum[:])+`"`)
	w.Header().Set("Content-Type", "image/tiff")
	http.ServeContent(w, r, "", time.Time{}, strings.NewReader(string(data)))
}

func (p *publisher) count(method string) int {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	n := 0
	for _, r := range p.requests {
		if strings.HasPrefix(r, method) {
			n++
		}
	}
	return n
}

// to sends every request to the test server, whatever host it names.
type to struct{ address string }

func (t to) RoundTrip(r *http.Request) (*http.Response, error) {
	u, err := url.Parse(t.address)
	if err != nil {
		return nil, err
	}
	copied := r.Clone(r.Context())
	copied.URL.Scheme, copied.URL.Host = u.Scheme, u.Host
	response, err := http.DefaultTransport.RoundTrip(copied)
	if response != nil {
		response.Request = r
	}
	return response, err
}

func (p *publisher) options(t *testing.T) Options {
	client := web.NewClient(0, false)
	client.Transport = to{p.URL}
	return Options{Folder: t.TempDir(), Client: client, Stall: 2 * time.Second, RetryDelay: time.Millisecond, Retries: 2}
}

// tiff is bytes that begin as a TIFF does.
func tiff(n int, seed uint64) []byte {
	random := rand.New(rand.NewPCG(seed, seed))
	data := make([]byte, n)
	for i := range data {
		data[i] = byte(random.Uint32())
	}
	copy(data, "II*\x00")
	return data
}

var alps = geodesy.LatLon{Lat: 46.02, Lon: 7.75} // 2.2 km from the parallel of 46

const (
	n46 = "/Copernicus_DSM_COG_10_N46_00_E007_00_DEM/Copernicus_DSM_COG_10_N46_00_E007_00_DEM.tif"
	n45 = "/Copernicus_DSM_COG_10_N45_00_E007_00_DEM/Copernicus_DSM_COG_10_N45_00_E007_00_DEM.tif"
)

func copernicus(t *testing.T) Source {
	t.Helper()
	s, err := Find("copernicus-glo-30", nil)
	require.NoError(t, err)
	return s
}

// TestGet: two tiles, their checksums and the licence beside them; a second
// call asks for nothing but what it must.
func TestGet(t *testing.T) {
	t.Parallel()
	p := newPublisher(t, map[string][]byte{n46: tiff(300_000, 1), n45: tiff(200_000, 2)})
	opts := p.options(t)
	last := int64(-1)
	opts.Progress = func(done, total int64) {
		assert.GreaterOrEqual(t, done, last)
		assert.EqualValues(t, 500_000, total)
		last = done
	}
	r, err := Get(t.Context(), copernicus(t), alps, 3000, opts)
	require.NoError(t, err)
	assert.EqualValues(t, 500_000, last)
	require.Len(t, r.Files, 2)
	assert.EqualValues(t, 500_000, r.Bytes)
	for _, f := range r.Files {
		data, err := os.ReadFile(f.Path)
		require.NoError(t, err)
		sum := sha256.Sum256(data)
		assert.Equal(t, hex.EncodeToString(sum[:]), f.SHA256)
		line, err := os.ReadFile(f.Path + ".sha256")
		require.NoError(t, err)
		assert.Equal(t, f.SHA256+"  "+filepath.Base(f.Path)+"\n", string(line))
		assert.True(t, f.Checked)
		assert.False(t, f.Already)
	}
	licence, err := os.ReadFile(r.Licence)
	require.NoError(t, err)
	assert.Contains(t, string(licence), "COPERNICUS by the European Union and ESA")
	assert.Contains(t, string(licence), "EGM2008")
	names := list(t, opts.Folder)
	assert.Len(t, names, 5, "%v", names)

	gets, heads := p.count("GET"), p.count("HEAD")
	last = -1
	r, err = Get(t.Context(), copernicus(t), alps, 3000, opts)
	require.NoError(t, err)
	assert.Equal(t, gets, p.count("GET"))
	assert.Equal(t, heads, p.count("HEAD"))
	assert.True(t, r.Files[0].Already)
	assert.Zero(t, r.Bytes)

	// one with a flipped bit is refused, and fetched again when it is deleted
	data, err := os.ReadFile(r.Files[0].Path)
	require.NoError(t, err)
	data[1000] ^= 4
	require.NoError(t, os.WriteFile(r.Files[0].Path, data, 0o600))
	last = -1
	_, err = Get(t.Context(), copernicus(t), alps, 3000, opts)
	require.ErrorContains(t, err, "delete it to fetch it again")
	left, err := os.ReadFile(r.Files[0].Path)
	require.NoError(t, err)
	assert.Equal(t, data, left)
	require.NoError(t, os.Remove(r.Files[0].Path))
	last = -1
	r, err = Get(t.Context(), copernicus(t), alps, 3000, opts)
	require.NoError(t, err)
	assert.False(t, r.Files[0].Already)
	assert.True(t, r.Files[1].Already)
}

func list(t *testing.T, folder string) []string {
	t.Helper()
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

// TestMissingTilesAreTheSea, unless there is none at all.
func TestMissingTilesAreTheSea(t *testing.T) {
	t.Parallel()
	p := newPublisher(t, map[string][]byte{n46: tiff(1000, 1)})
	r, err := Get(t.Context(), copernicus(t), alps, 3000, p.options(t))
	require.NoError(t, err)
	assert.Len(t, r.Files, 1)
	require.Len(t, r.None, 1)
	assert.Equal(t, 45, r.None[0].South)
	opts := p.options(t)
	_, err = Get(t.Context(), copernicus(t), geodesy.LatLon{Lat: 0.5, Lon: -30.5}, 1000, opts)
	require.ErrorContains(t, err, "has no tile within")
	assert.Empty(t, list(t, opts.Folder))
	opts.Folder = filepath.Join(opts.Folder, "new")
	_, err = Get(t.Context(), copernicus(t), geodesy.LatLon{Lat: 0.5, Lon: -30.5}, 1000, opts)
	require.Error(t, err)
	assert.NoDirExists(t, opts.Folder)
}

// TestOneBadTileDoesNotStopTheRest: a tile the server refuses, asked for its size
// or fetched, leaves the other whole in the folder, and the error counts.
func TestOneBadTileDoesNotStopTheRest(t *testing.T) {
	t.Parallel()
	for _, method := range []string{http.MethodHead, http.MethodGet} {
		for _, bad := range []string{n46, n45} {
			p := newPublisher(t, map[string][]byte{n46: tiff(1000, 1), n45: tiff(1000, 2)})
			p.before = func(w http.ResponseWriter, r *http.Request, _ int) bool {
				if r.Method == method && r.URL.Path == bad {
					w.WriteHeader(http.StatusForbidden)
					return true
				}
				return false
			}
			opts := p.options(t)
			_, err := Get(t.Context(), copernicus(t), alps, 3000, opts)
			require.ErrorContains(t, err, "1 of 2 tiles could not be fetched")
			require.ErrorContains(t, err, filepath.Base(bad))
			good := n45
			if bad == n45 {
				good = n46
			}
			assert.FileExists(t, filepath.Join(opts.Folder, filepath.Base(good)))
			assert.NoFileExists(t, filepath.Join(opts.Folder, filepath.Base(bad)))
			p.before = nil
			r, err := Get(t.Context(), copernicus(t), alps, 3000, opts)
			require.NoError(t, err)
			assert.Len(t, r.Files, 2)
		}
	}
}

// TestADryRunWritesNothing, and tells the sizes of what is not here.
func TestADryRunWritesNothing(t *testing.T) {
	t.Parallel()
	p := newPublisher(t, map[string][]byte{n46: tiff(1000, 1), n45: tiff(2000, 2)})
	opts := p.options(t)
	opts.Folder, opts.DryRun = filepath.Join(opts.Folder, "new"), true
	r, err := Get(t.Context(), copernicus(t), alps, 3000, opts)
	require.NoError(t, err)
	assert.Empty(t, r.Files)
	require.Len(t, r.Planned, 2)
	assert.EqualValues(t, 3000, r.Planned[0].Bytes+r.Planned[1].Bytes)
	assert.NoDirExists(t, opts.Folder)
	assert.Zero(t, p.count(http.MethodGet))
}

// TestOfflineIsToldAtOnce: a server whose name is not known is not asked again and
// again by who has reached none.
func TestOfflineIsToldAtOnce(t *testing.T) {
	t.Parallel()
	asked := 0
	client := web.NewClient(0, false)
	client.Transport = offline(func(r *http.Request) (*http.Response, error) {
		asked++
		return nil, &net.OpError{Op: "dial", Err: &net.DNSError{Err: "no such host", Name: r.URL.Host, IsNotFound: true}}
	})
	_, err := Get(t.Context(), copernicus(t), alps, 3000, Options{Folder: t.TempDir(), Client: client, RetryDelay: time.Hour})
	require.ErrorContains(t, err, "are you online?")
	assert.Equal(t, 1, asked)
}

type offline func(r *http.Request) (*http.Response, error)

func (f offline) RoundTrip(r *http.Request) (*http.Response, error) { return f(r) }

// TestGoesOnWhereItStopped: the connection breaks off twice; nothing comes
// twice. A broken-off run, too, is gone on with.
func TestGoesOnWhereItStopped(t *testing.T) {
	t.Parallel()
	data := tiff(3_000_000, 3)
	p := newPublisher(t, map[string][]byte{n46: data})
	broken := 0
	cutAfter := func(w http.ResponseWriter, r *http.Request, n int) bool {
		if r.Method != http.MethodGet {
			return false
		}
		p.mutex.Lock()
		broken++
		mine := broken
		p.mutex.Unlock()
		if mine > 2 {
			return false
		}
		from := 0
		sum := md5.Sum(data)
		w.Header().Set("ETag", `"`+hex.EncodeToString(sum[:])+`"`)
		if _, err := fmt.Sscanf(r.Header.Get("Range"), "bytes=%d-", &from); err == nil {
			w.Header().Set("Content-Range", fmt.Sprintf("bytes %d-%d/%d", from, len(data)-1, len(data)))
			w.Header().Set("Content-Length", fmt.Sprint(len(data)-from))
			w.WriteHeader(http.StatusPartialContent)
		} else {
			w.Header().Set("Content-Length", fmt.Sprint(len(data)))
		}
		_, _ = w.Write(data[from : from+1_000_000])
		w.(http.Flusher).Flush()
		panic(http.ErrAbortHandler)
	}
	p.before = cutAfter
	r, err := Get(t.Context(), copernicus(t), geodesy.LatLon{Lat: 46.5, Lon: 7.5}, 100, p.options(t))
	require.NoError(t, err)
	got, err := os.ReadFile(r.Files[0].Path)
	require.NoError(t, err)
	assert.Equal(t, data, got)
	assert.EqualValues(t, len(data), r.Files[0].Bytes)
	assert.LessOrEqual(t, r.Bytes, int64(len(data)), "nothing came twice")

	// without a retry the first break ends the run, and the next goes on
	broken = 0
	opts := p.options(t)
	opts.Retries = -1
	_, err = Get(t.Context(), copernicus(t), geodesy.LatLon{Lat: 46.5, Lon: 7.5}, 100, opts)
	require.ErrorContains(t, err, "broke off")
	assert.NotContains(t, strings.Join(list(t, opts.Folder), " "), "DEM.tif ", "no tile under its own name")
	_, statErr := os.Stat(filepath.Join(opts.Folder, filepath.Base(n46)))
	require.ErrorIs(t, statErr, os.ErrNotExist)
	broken = 5
	r, err = Get(t.Context(), copernicus(t), geodesy.LatLon{Lat: 46.5, Lon: 7.5}, 100, opts)
	require.NoError(t, err)
	assert.Less(t, r.Bytes, int64(len(data)))
	got, err = os.ReadFile(r.Files[0].Path)
	require.NoError(t, err)
	assert.Equal(t, data, got)
	assert.Len(t, list(t, opts.Folder), 3)

	// the publisher's file changes between two parts: begun anew
	broken = 0
	opts = p.options(t)
	opts.Retries = -1
	_, err = Get(t.Context(), copernicus(t), geodesy.LatLon{Lat: 46.5, Lon: 7.5}, 100, opts)
	require.Error(t, err)
	other := tiff(2_500_000, 4)
	p.mutex.Lock()
	p.files[n46], broken = other, 5
	p.mutex.Unlock()
	r, err = Get(t.Context(), copernicus(t), geodesy.LatLon{Lat: 46.5, Lon: 7.5}, 100, opts)
	require.NoError(t, err)
	got, err = os.ReadFile(r.Files[0].Path)
	require.NoError(t, err)
	assert.Equal(t, other, got)
}

// TestServersThatFail: one line each, and no tile under its own name.
func TestServersThatFail(t *testing.T) {
	t.Parallel()
	cases := []struct {
		name   string
		before func(w http.ResponseWriter, r *http.Request, n int) bool
		want   string
	}{
		{"busy for good", onGet(func(w http.ResponseWriter, r *http.Request) { http.Error(w, "busy", 503) }), "cannot answer now (status 503)"},
		{"forbidden", onGet(func(w http.ResponseWriter, r *http.Request) { http.Error(w, "no", 403) }), "does not give it out"},
		{"a sign-in page", onGet(func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Type", "text/html; charset=utf-8")
			fmt.Fprint(w, "<html>sign in</html>")
		}), "a web page"},
		{"a page that does not say so", onGet(func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Type", "image/tiff")
			fmt.Fprint(w, "<html>sign in</html>", strings.Repeat(" ", 5000-20))
		}), "a web page"},
		{"no TIFF", onGet(func(w http.ResponseWriter, r *http.Request) { fmt.Fprint(w, strings.Repeat("x", 5000)) }), "not a TIFF"},
		{"nothing at all", onGet(func(w http.ResponseWriter, r *http.Request) { w.Header().Set("Content-Length", "0") }), "has 5000 bytes, and then 0"},
		{"stalls", onGet(func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Length", "5000")
			_, _ = w.Write([]byte("II*\x00"))
			w.(http.Flusher).Flush()
			<-r.Context().Done()
		}), "stalled"},
		{"never answers", func(w http.ResponseWriter, r *http.Request, n int) bool { <-r.Context().Done(); return true }, "does not answer"},
		{"damaged on the way", onGet(func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("ETag", `"0123456789abcdef0123456789abcdef"`)
			_, _ = w.Write(tiff(5000, 9))
		}), "does not match the publisher's checksum"},
		{"redirects for ever", func(w http.ResponseWriter, r *http.Request, n int) bool {
			http.Redirect(w, r, r.URL.Path, http.StatusFound)
			return true
		}, "redirects without end"},
		{"redirects to where all can read", func(w http.ResponseWriter, r *http.Request, n int) bool {
			http.Redirect(w, r, "http://copernicus-dem-30m.s3.amazonaws.com/x", http.StatusFound)
			return true
		}, "not secure"},
		{"another part than asked for", onGet(func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Range", "bytes 7-9/10")
			w.WriteHeader(http.StatusPartialContent)
			_, _ = w.Write([]byte("abc"))
		}), "a part of the tile where all of it was asked for"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			p := newPublisher(t, map[string][]byte{n46: tiff(5000, 1)})
			p.before = c.before
			opts := p.options(t)
			opts.Stall = 300 * time.Millisecond
			opts.Retries = 1
			_, err := Get(t.Context(), copernicus(t), geodesy.LatLon{Lat: 46.5, Lon: 7.5}, 100, opts)
			require.Error(t, err)
			assert.Contains(t, err.Error(), c.want)
			assert.Contains(t, err.Error(), filepath.Base(n46))
			assert.NotContains(t, err.Error(), "\n")
			_, err = os.Stat(filepath.Join(opts.Folder, filepath.Base(n46)))
			require.ErrorIs(t, err, os.ErrNotExist)
		})
	}
	t.Run("offline", func(t *testing.T) {
		t.Parallel()
		p := newPublisher(t, nil)
		opts := p.options(t)
		p.Close()
		_, err := Get(t.Context(), copernicus(t), alps, 100, opts)
		require.ErrorContains(t, err, "are you online?")
	})
	t.Run("recovers", func(t *testing.T) {
		t.Parallel()
		p := newPublisher(t, map[string][]byte{n46: tiff(5000, 1)})
		p.before = func(w http.ResponseWriter, r *http.Request, n int) bool {
			if n == 1 || n == 3 {
				http.Error(w, "busy", 503)
				return true
			}
			return false
		}
		_, err := Get(t.Context(), copernicus(t), geodesy.LatLon{Lat: 46.5, Lon: 7.5}, 100, p.options(t))
		require.NoError(t, err)
	})
	t.Run("no HEAD", func(t *testing.T) {
		t.Parallel()
		p := newPublisher(t, map[string][]byte{n46: tiff(5000, 1)})
		p.before = func(w http.ResponseWriter, r *http.Request, n int) bool {
			if r.Method == http.MethodHead {
				http.Error(w, "no", http.StatusMethodNotAllowed)
				return true
			}
			return false
		}
		r, err := Get(t.Context(), copernicus(t), geodesy.LatLon{Lat: 46.5, Lon: 7.5}, 100, p.options(t))
		require.NoError(t, err)
		assert.Len(t, r.Files, 1)
	})
}

// TestChecksumFiles: the publisher's checksum in a file of its own.
func TestChecksumFiles(t *testing.T) {
	t.Parallel()
	data := tiff(5000, 1)
	sum := sha256.Sum256(data)
	s := copernicus(t)
	s.Checksum = ".sha256"
	for text, want := range map[string]string{
		hex.EncodeToString(sum[:]) + "  tile.tif\n": "", strings.Repeat("0", 64): "does not match", "": "is empty", "abc": "of no kind",
	} {
		p := newPublisher(t, map[string][]byte{n46: data, n46 + ".sha256": []byte(text)})
		r, err := Get(t.Context(), s, geodesy.LatLon{Lat: 46.5, Lon: 7.5}, 100, p.options(t))
		if want == "" {
			require.NoError(t, err)
			assert.True(t, r.Files[0].Checked)
			continue
		}
		require.ErrorContains(t, err, want)
	}
}

// TestTwoRunsAtOnce on one folder fetch each tile once and end alike.
func TestTwoRunsAtOnce(t *testing.T) {
	t.Parallel()
	p := newPublisher(t, map[string][]byte{n46: tiff(2_000_000, 1), n45: tiff(2_000_000, 2)})
	opts := p.options(t)
	var wait sync.WaitGroup
	for range 4 {
		wait.Add(1)
		go func() {
			defer wait.Done()
			r, err := Get(t.Context(), copernicus(t), alps, 3000, opts)
			if assert.NoError(t, err) {
				assert.Len(t, r.Files, 2)
			}
		}()
	}
	wait.Wait()
	assert.Equal(t, 2, p.count("GET"))
	assert.Len(t, list(t, opts.Folder), 5)
}

func TestCancelled(t *testing.T) {
	t.Parallel()
	p := newPublisher(t, map[string][]byte{n46: tiff(100, 1)})
	ctx, cancel := context.WithCancel(t.Context())
	p.before = func(w http.ResponseWriter, r *http.Request, n int) bool {
		if r.Method == http.MethodGet {
			cancel()
			<-r.Context().Done()
			return true
		}
		return false
	}
	opts := p.options(t)
	opts.Stall = time.Minute
	_, err := Get(ctx, copernicus(t), geodesy.LatLon{Lat: 46.5, Lon: 7.5}, 100, opts)
	require.ErrorIs(t, err, context.Canceled)
}

// TestFoldersThatCannotBeWritten are told apart.
func TestFoldersThatCannotBeWritten(t *testing.T) {
	t.Parallel()
	p := newPublisher(t, map[string][]byte{n46: tiff(5000, 1)})
	at := geodesy.LatLon{Lat: 46.5, Lon: 7.5}
	file := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	opts := p.options(t)
	opts.Folder = filepath.Join(file, "tiles")
	_, err := Get(t.Context(), copernicus(t), at, 100, opts)
	require.ErrorContains(t, err, "not a folder")
	opts.Folder = ""
	_, err = Get(t.Context(), copernicus(t), at, 100, opts)
	require.ErrorContains(t, err, "no folder given")
	opts = p.options(t)
	opts.MaxTiles = 1
	_, err = Get(t.Context(), copernicus(t), alps, 50000, opts)
	require.ErrorContains(t, err, "take a smaller radius")
}

// TestDisksAreToldApart: full, read-only, and forbidden.
func TestDisksAreToldApart(t *testing.T) {
	t.Parallel()
	for err, want := range map[error]string{
		syscall.ENOSPC: "the disk is full", syscall.EDQUOT: "the disk is full", syscall.EROFS: "no permission", syscall.EACCES: "no permission", syscall.ENOTDIR: "not a folder",
	} {
		got := diskError("tiles/a.tif", &os.PathError{Op: "write", Path: "tiles/a.tif.part", Err: err})
		assert.Contains(t, got.Error(), want)
		assert.Contains(t, got.Error(), "tiles/a.tif")
	}
}
