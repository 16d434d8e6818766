package web

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// content is a file whose every byte tells its place.
func content(n int, seed byte) string {
	b := make([]byte, n)
	for i := range b {
		b[i] = byte(i>>8)*31 + byte(i) + seed
	}
	return string(b)
}

var soon = FileOptions{Limits: Limits{Stall: time.Second, Slow: 100 * time.Millisecond, LeastRate: 1000}, Retries: 1, RetryDelay: time.Millisecond}

func server(t *testing.T, handler http.HandlerFunc) string {
	t.Helper()
	s := httptest.NewServer(handler)
	t.Cleanup(s.Close)
	return s.URL + "/tile.tif"
}

func serveTag(w http.ResponseWriter, r *http.Request, tag, data string) {
	if tag != "" {
		w.Header().Set("ETag", tag)
	}
	http.ServeContent(w, r, "", time.Time{}, strings.NewReader(data))
}

func TestFetch(t *testing.T) {
	t.Parallel()
	data := content(100_000, 1)
	f, err := OpenFile(t.Context(), server(t, func(w http.ResponseWriter, r *http.Request) { serveTag(w, r, `"a"`, data) }), soon)
	require.NoError(t, err)
	assert.EqualValues(t, len(data), f.Size())
	assert.Equal(t, data[:headBytes], string(f.Head()))
	assert.True(t, f.Validated() && f.Settled())
	for _, part := range [][2]int64{{0, 1}, {0, 100_000}, {99_999, 100_000}, {5000, 70_000}} {
		got, err := f.Fetch(t.Context(), part[0], part[1])
		require.NoError(t, err)
		assert.Equal(t, data[part[0]:part[1]], string(got))
	}
	for _, part := range [][2]int64{{-1, 5}, {5, 5}, {7, 5}, {0, 100_001}, {0, MaxPart + 1}} {
		_, err := f.Fetch(t.Context(), part[0], part[1])
		require.Error(t, err)
	}
	small := content(10, 1)
	f, err = OpenFile(t.Context(), server(t, func(w http.ResponseWriter, r *http.Request) { serveTag(w, r, "", small) }), soon)
	require.NoError(t, err)
	assert.Equal(t, small, string(f.Head()))
	assert.False(t, f.Validated())
}

// TestAnswersAreBoundedByWhatWasAskedFor: an answer without end took 24 GB of
// memory.
func TestAnswersAreBoundedByWhatWasAskedFor(t *testing.T) {
	t.Parallel()
	data := content(100_000, 1)
	endless := func(w http.ResponseWriter) (sent int) {
		for block := []byte(content(1<<16, 2)); ; {
			n, err := w.Write(block)
			sent += n
			if err != nil {
				return sent
			}
		}
	}
	const most = 64 << 20 // bytes, far more than all buffers on the way
	for name, c := range map[string]struct {
		answer func(w http.ResponseWriter, r *http.Request)
		want   string
	}{
		"the whole, without end": {func(w http.ResponseWriter, r *http.Request) { assert.Less(t, endless(w), most) }, "does not serve parts of files"},
		"a part without end": {func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Range", "bytes 0-16383/100000")
			w.WriteHeader(http.StatusPartialContent)
			assert.Less(t, endless(w), most)
		}, "sends more than was asked for"},
		"a part of another length": {func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Range", "bytes 0-16383/100000")
			w.Header().Set("Content-Length", "9000000000000")
			w.WriteHeader(http.StatusPartialContent)
			assert.Less(t, endless(w), most)
		}, "sends 9000000000000 bytes where 16384 were asked for"},
		"more than was asked for": {func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Range", "bytes 0-99999/100000")
			w.WriteHeader(http.StatusPartialContent)
			_, _ = w.Write([]byte(data))
		}, "another part of the file"},
		"no length of the file": {func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Range", "bytes 0-16383/*")
			w.WriteHeader(http.StatusPartialContent)
			_, _ = w.Write([]byte(data[:16384]))
		}, "another part of the file"},
		"several parts": {func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Type", "multipart/byteranges; boundary=x")
			w.WriteHeader(http.StatusPartialContent)
			_, _ = w.Write([]byte(data[:16384]))
		}, "another part of the file"},
		"packed": {func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Encoding", "gzip")
			serveTag(w, r, `"a"`, data)
		}, "packs what it sends"},
		"a header without end": {func(w http.ResponseWriter, r *http.Request) {
			for i := range 2000 {
				w.Header().Set(fmt.Sprintf("X-%d", i), strings.Repeat("x", 1000))
			}
			serveTag(w, r, `"a"`, data)
		}, "broke off"},
		"less than was asked for": {func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Range", "bytes 0-16383/100000")
			w.WriteHeader(http.StatusPartialContent)
			_, _ = w.Write([]byte(data[:2000])) // few enough for net/http to tell the length
		}, "sends 2000 bytes where 16384"},
		"closed early": {func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Range", "bytes 0-16383/100000")
			w.WriteHeader(http.StatusPartialContent)
			_, _ = w.Write([]byte(data[:5000]))
			w.(http.Flusher).Flush()
			panic(http.ErrAbortHandler)
		}, "broke off"},
		"a trickle": {func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Range", "bytes 0-16383/100000")
			w.WriteHeader(http.StatusPartialContent)
			for r.Context().Err() == nil {
				_, _ = w.Write([]byte{1})
				w.(http.Flusher).Flush()
				time.Sleep(5 * time.Millisecond)
			}
		}, "is too slow"},
		"a page": {func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Type", "text/html")
			_, _ = w.Write([]byte("<html>"))
		}, "a web page in place of the file"},
		"an empty file": {func(w http.ResponseWriter, r *http.Request) { w.WriteHeader(416) }, "is empty"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, err := OpenFile(t.Context(), server(t, c.answer), soon)
			require.ErrorContains(t, err, c.want)
			assert.NotContains(t, err.Error(), "\n")
		})
	}
}

// TestAChangedFileIsRefused, whichever way the server shows it, and from then
// on.
func TestAChangedFileIsRefused(t *testing.T) {
	t.Parallel()
	then, now := content(100_000, 1), content(100_000, 2)
	monday := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
	part := func(header map[string]string) http.HandlerFunc {
		return func(w http.ResponseWriter, r *http.Request) {
			for k, v := range header {
				w.Header().Set(k, v)
			}
			w.WriteHeader(http.StatusPartialContent)
			_, _ = w.Write([]byte(now[20_000:30_000]))
		}
	}
	dated := func(w http.ResponseWriter, r *http.Request, at time.Time, data string) {
		http.ServeContent(w, r, "", at, strings.NewReader(data))
	}
	tagged := func(w http.ResponseWriter, r *http.Request) { serveTag(w, r, `"a"`, then) }
	weak := func(w http.ResponseWriter, r *http.Request) { serveTag(w, r, `W/"a"`, then) }
	byDate := func(w http.ResponseWriter, r *http.Request) { dated(w, r, monday, then) }
	neither := func(w http.ResponseWriter, r *http.Request) { serveTag(w, r, "", then) }
	const range10 = "bytes 20000-29999/100000"
	for name, c := range map[string]struct{ first, second http.HandlerFunc }{
		"another tag":                        {tagged, func(w http.ResponseWriter, r *http.Request) { serveTag(w, r, `"b"`, now) }},
		"another tag, without a look at it":  {tagged, part(map[string]string{"ETag": `"b"`, "Content-Range": range10})},
		"no tag any more":                    {tagged, part(map[string]string{"Content-Range": range10})},
		"another weak tag":                   {weak, func(w http.ResponseWriter, r *http.Request) { serveTag(w, r, `W/"b"`, now) }},
		"another length":                     {tagged, part(map[string]string{"ETag": `"a"`, "Content-Range": "bytes 20000-29999/100001"})},
		"another length, and nothing else":   {neither, func(w http.ResponseWriter, r *http.Request) { serveTag(w, r, "", now+"x") }},
		"another date":                       {byDate, func(w http.ResponseWriter, r *http.Request) { dated(w, r, monday.Add(time.Hour), now) }},
		"an earlier date":                    {byDate, func(w http.ResponseWriter, r *http.Request) { dated(w, r, monday.Add(-time.Hour), now) }},
		"another date, without a look at it": {byDate, part(map[string]string{"Last-Modified": monday.Add(time.Second).Format(http.TimeFormat), "Content-Range": range10})},
		"no date any more":                   {byDate, part(map[string]string{"Content-Range": range10})},
		"the whole":                          {tagged, func(w http.ResponseWriter, r *http.Request) { _, _ = w.Write([]byte(now)) }},
		"shorter now":                        {neither, func(w http.ResponseWriter, r *http.Request) { serveTag(w, r, "", now[:10]) }},
		"gone":                               {tagged, func(w http.ResponseWriter, r *http.Request) { w.WriteHeader(404) }},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			var changed atomic.Bool
			f, err := OpenFile(t.Context(), server(t, func(w http.ResponseWriter, r *http.Request) {
				if changed.Load() {
					c.second(w, r)
				} else {
					c.first(w, r)
				}
			}), soon)
			require.NoError(t, err)
			data, err := f.Fetch(t.Context(), 20_000, 30_000)
			require.NoError(t, err)
			assert.Equal(t, then[20_000:30_000], string(data))
			changed.Store(true)
			_, err = f.Fetch(t.Context(), 20_000, 30_000)
			require.ErrorContains(t, err, "changed while it was being read")
			require.ErrorContains(t, err, "run it again")
			changed.Store(false) // and back: what was read in between is not known
			_, err = f.Fetch(t.Context(), 20_000, 30_000)
			require.ErrorContains(t, err, "changed while it was being read")
		})
	}
	f, err := OpenFile(t.Context(), server(t, tagged), soon)
	require.NoError(t, err)
	g, err := OpenFile(t.Context(), server(t, byDate), soon)
	require.NoError(t, err)
	assert.NotEqual(t, f.Identity(), g.Identity())
	assert.True(t, g.Settled())
	wrong, err := OpenFile(t.Context(), server(t, func(w http.ResponseWriter, r *http.Request) {
		if r.Header.Get("Range") == "bytes=0-16383" {
			tagged(w, r)
			return
		}
		part(map[string]string{"ETag": `"a"`, "Content-Range": "bytes 30000-39999/100000"})(w, r)
	}), soon)
	require.NoError(t, err)
	_, err = wrong.Fetch(t.Context(), 20_000, 30_000)
	require.ErrorContains(t, err, "another part of the file")
}

// TestAServerWithoutIfRange sends the whole file for it, and parts without.
func TestAServerWithoutIfRange(t *testing.T) {
	t.Parallel()
	data := content(100_000, 1)
	f, err := OpenFile(t.Context(), server(t, func(w http.ResponseWriter, r *http.Request) {
		if r.Header.Get("If-Range") != "" {
			r.Header.Del("Range")
		}
		serveTag(w, r, `"a"`, data)
	}), soon)
	require.NoError(t, err)
	for range 2 {
		got, err := f.Fetch(t.Context(), 20_000, 30_000)
		require.NoError(t, err)
		assert.Equal(t, data[20_000:30_000], string(got))
	}
}

// TestAFreshDateIsNotBelieved: a file may be written to again within a date's
// second.
func TestAFreshDateIsNotBelieved(t *testing.T) {
	t.Parallel()
	f, err := OpenFile(t.Context(), server(t, func(w http.ResponseWriter, r *http.Request) {
		http.ServeContent(w, r, "", time.Now(), strings.NewReader(content(1000, 1)))
	}), soon)
	require.NoError(t, err)
	assert.True(t, f.Validated())
	assert.False(t, f.Settled())
}

// TestRedirects: few, to web servers, never from https to http, and what
// belongs to one server stays there.
func TestRedirects(t *testing.T) {
	t.Parallel()
	var heard atomic.Value
	other := server(t, func(w http.ResponseWriter, r *http.Request) {
		heard.Store(r.Header.Get("Authorization") + r.Header.Get("Referer") + r.Header.Get("Cookie"))
		serveTag(w, r, `"a"`, content(1000, 1))
	})
	first := server(t, func(w http.ResponseWriter, r *http.Request) {
		_, password, _ := r.BasicAuth()
		assert.Equal(t, "s3cret", password)
		w.Header().Set("Set-Cookie", "a=b")
		http.Redirect(w, r, other, http.StatusFound)
	})
	f, err := OpenFile(t.Context(), strings.Replace(first, "http://", "http://someone:s3cret@", 1)+"?key=k3y", soon)
	require.NoError(t, err)
	assert.Empty(t, heard.Load())
	assert.NotContains(t, f.Identity(), "s3cret")
	for to, want := range map[string]string{
		"file:///etc/passwd": "no web address", "ftp://a/b": "no web address", "gopher://a/": "no web address", "/tile.tif": "without end", "//": "",
	} {
		_, err := OpenFile(t.Context(), server(t, func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Location", to)
			w.WriteHeader(http.StatusFound)
		}), soon)
		require.ErrorContains(t, err, want)
	}
	secure := httptest.NewTLSServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { http.Redirect(w, r, other, http.StatusFound) }))
	defer secure.Close()
	opts := soon
	opts.Client = secure.Client()
	opts.Client.CheckRedirect = CheckRedirect
	_, err = OpenFile(t.Context(), secure.URL, opts)
	require.ErrorContains(t, err, "not secure")
	opts.Client = nil
	_, err = OpenFile(t.Context(), secure.URL, opts)
	require.ErrorContains(t, err, "cannot prove who it is")
}

func TestShown(t *testing.T) {
	t.Parallel()
	for address, want := range map[string]string{
		"https://a.org/b/{NS}{lat}.tif":      "https://a.org/b/{NS}{lat}.tif",
		"https://u:p@a.org/b.tif":            "https://a.org/b.tif",
		"https://u@a.org":                    "https://a.org",
		"https://u:p@a.org/b@c.tif":          "https://a.org/b@c.tif",
		"https://a.org/b@c.tif":              "https://a.org/b@c.tif",
		"http://u:p/w@a.org/b.tif":           "http://a.org/b.tif",
		"https://a.org/b.tif?key=k":          "https://a.org/b.tif?566c030e",
		"https://u:p@a.org/b.tif?x#fragment": "https://a.org/b.tif?2d711642",
		"tiles/a.tif":                        "tiles/a.tif",
	} {
		assert.Equal(t, want, Shown(address), address)
	}
}

func TestCancelledFetchEndsAtOnce(t *testing.T) {
	t.Parallel()
	reached := make(chan struct{}, 10)
	address := server(t, func(w http.ResponseWriter, r *http.Request) {
		reached <- struct{}{}
		<-r.Context().Done()
	})
	ctx, cancel := context.WithCancel(t.Context())
	go func() { <-reached; cancel() }()
	opts := soon
	opts.Limits.Stall = time.Hour
	_, err := OpenFile(ctx, address, opts)
	require.ErrorIs(t, err, context.Canceled)
}
