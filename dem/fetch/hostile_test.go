package fetch

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

var middle = geodesy.LatLon{Lat: 46.5, Lon: 7.5} // of one tile

// square is a raster held in memory, of posts from the corner of a tile on.
type square struct {
	frame  dem.Frame
	info   dem.Info
	broken bool // its posts cannot be read
}

func (s *square) Info() dem.Info     { return s.info }
func (s *square) Layout() *dem.Frame { return &s.frame }
func (s *square) Close() error       { return nil }
func (s *square) Read(_ context.Context, w dem.Window) (*dem.Grid, error) {
	if s.broken {
		return nil, errors.New("rows 100 to 119 cannot be read")
	}
	return &dem.Grid{Frame: s.frame.Sub(w), Elevations: make([]float32, w.Columns*w.Rows), Window: w}, nil
}

// tileOf46 is what the tile N46 E007 should be, 30 arc-seconds apart.
func tileOf46() *square {
	const step = 1.0 / 120
	return &square{
		frame: dem.Frame{Columns: 120, Rows: 120, X0: 7 + step/2, Y0: 47 - step/2, DX: step, DY: -step, CRS: geodesy.WGS84},
		info:  dem.Info{DataType: "Float32"},
	}
}

func opens(s *square) func(context.Context, string) (dem.Source, error) {
	return func(_ context.Context, path string) (dem.Source, error) {
		if _, err := os.Stat(path); err != nil {
			return nil, err
		}
		return s, nil
	}
}

// raw answers with exactly these bytes and closes the connection.
func raw(w http.ResponseWriter, text string) {
	c, _, err := w.(http.Hijacker).Hijack()
	if err != nil {
		panic(err)
	}
	_, _ = c.Write([]byte(text))
	c.Close()
}

func onGet(answer http.HandlerFunc) func(w http.ResponseWriter, r *http.Request, n int) bool {
	return func(w http.ResponseWriter, r *http.Request, n int) bool {
		if r.Method != http.MethodGet {
			return false
		}
		answer(w, r)
		return true
	}
}

// TestIncompleteTilesAreNeverWhole: each of these was given the tile's name
// and a checksum, and "was here" from then on.
func TestIncompleteTilesAreNeverWhole(t *testing.T) {
	t.Parallel()
	whole := tiff(5000, 1)
	noHead := func(answer http.HandlerFunc) func(w http.ResponseWriter, r *http.Request, n int) bool {
		return func(w http.ResponseWriter, r *http.Request, n int) bool {
			if r.Method == http.MethodHead {
				w.WriteHeader(http.StatusMethodNotAllowed)
				return true
			}
			answer(w, r)
			return true
		}
	}
	for _, c := range []struct {
		name   string
		before func(w http.ResponseWriter, r *http.Request, n int) bool
		open   func(context.Context, string) (dem.Source, error)
		want   string
	}{
		{"no length anywhere, and nothing opens it", noHead(func(w http.ResponseWriter, r *http.Request) {
			raw(w, "HTTP/1.1 200 OK\r\nConnection: close\r\n\r\n"+string(whole[:3000]))
		}), nil, "does not say how long the tile is"},
		{"no length anywhere, and it cannot be read", noHead(func(w http.ResponseWriter, r *http.Request) {
			raw(w, "HTTP/1.1 200 OK\r\nConnection: close\r\n\r\n"+string(whole[:3000]))
		}), opens(&square{frame: tileOf46().frame, info: tileOf46().info, broken: true}), "the server sent something else: it is no whole elevation tile (rows 100 to 119 cannot be read)"},
		{"no length when sent, closed early", onGet(func(w http.ResponseWriter, r *http.Request) {
			raw(w, "HTTP/1.1 200 OK\r\nConnection: close\r\n\r\n"+string(whole[:3000]))
		}), nil, "broke off after 3000 of 5000 bytes"},
		{"shorter when sent than when asked", onGet(func(w http.ResponseWriter, r *http.Request) { _, _ = w.Write(whole[:1500]) }),
			nil, "says that the tile has 5000 bytes, and then 1500"},
		{"longer when sent than when asked", onGet(func(w http.ResponseWriter, r *http.Request) {
			raw(w, "HTTP/1.1 200 OK\r\nConnection: close\r\n\r\n"+string(tiff(6000, 1)))
		}), nil, "sent more than it said"},
		{"a part nobody asked for", onGet(func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Range", "bytes 0-1999/5000")
			w.WriteHeader(http.StatusPartialContent)
			_, _ = w.Write(whole[:2000])
		}), nil, "a part of the tile where all of it was asked for"},
		{"the whole as a part", onGet(func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Range", "bytes 0-4999/5000")
			w.WriteHeader(http.StatusPartialContent)
			_, _ = w.Write(whole)
		}), nil, "a part of the tile where all of it was asked for"},
		{"packed on the way", onGet(func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Encoding", "gzip")
			_, _ = w.Write(whole)
		}), nil, `packs what it sends ("gzip")`},
		{"packed in a way that HTTP has not", onGet(func(w http.ResponseWriter, r *http.Request) {
			raw(w, "HTTP/1.1 200 OK\r\nTransfer-Encoding: gzip\r\n\r\n"+string(whole))
		}), nil, "broke off"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			p := newPublisher(t, map[string][]byte{n46: whole})
			p.before = c.before
			opts := p.options(t)
			opts.Retries, opts.Open = 1, c.open
			s := copernicus(t)
			s.Checksum, s.SpacingArcSeconds = "", 30
			for range 2 { // nor the second time
				_, err := Get(t.Context(), s, middle, 100, opts)
				require.ErrorContains(t, err, c.want)
				assert.NotContains(t, err.Error(), "\n")
				assert.NoFileExists(t, filepath.Join(opts.Folder, filepath.Base(n46)))
				assert.NoFileExists(t, filepath.Join(opts.Folder, filepath.Base(n46)+sumEnding))
			}
		})
	}
	t.Run("no length, but every post can be read", func(t *testing.T) {
		t.Parallel()
		p := newPublisher(t, map[string][]byte{n46: whole})
		p.before = noHead(func(w http.ResponseWriter, r *http.Request) {
			raw(w, "HTTP/1.1 200 OK\r\nConnection: close\r\n\r\n"+string(whole))
		})
		opts := p.options(t)
		opts.Open = opens(tileOf46())
		s := copernicus(t)
		s.Checksum, s.SpacingArcSeconds = "", 30
		r, err := Get(t.Context(), s, middle, 100, opts)
		require.NoError(t, err)
		assert.EqualValues(t, len(whole), r.Files[0].Bytes)
	})
	t.Run("the length is asked for again when the tile changed in between", func(t *testing.T) {
		t.Parallel()
		p := newPublisher(t, map[string][]byte{n46: whole})
		p.before = func(w http.ResponseWriter, r *http.Request, n int) bool {
			if n == 1 {
				w.Header().Set("Content-Length", "9999")
			}
			return n == 1
		}
		r, err := Get(t.Context(), copernicus(t), middle, 100, p.options(t))
		require.NoError(t, err)
		assert.EqualValues(t, len(whole), r.Files[0].Bytes)
	})
}

// TestATileIsWhatItsNameSays: any raster was taken for the tile asked for.
func TestATileIsWhatItsNameSays(t *testing.T) {
	t.Parallel()
	s := copernicus(t)
	s.Checksum, s.SpacingArcSeconds = "", 30
	crs, err := geodesy.NewCRS("EPSG:32632")
	require.NoError(t, err)
	for name, c := range map[string]struct {
		change func(q *square)
		want   string
	}{
		"as it should be":             {func(*square) {}, ""},
		"posts on the square's sides": {func(q *square) { q.frame.X0, q.frame.Y0, q.frame.Columns, q.frame.Rows = 7, 47, 121, 121 }, ""},
		"south up":                    {func(q *square) { q.frame.Y0, q.frame.DY = 46+1.0/240, 1.0/120 }, ""},
		"a turn apart":                {func(q *square) { q.frame.X0 += 360 }, ""},
		"the tile beside it":          {func(q *square) { q.frame.X0++ }, "covers 46 to 47 N, 8 to 9 E, and the tile asked for 46 to 47 N, 7 to 8 E"},
		"the tile above it":           {func(q *square) { q.frame.Y0++ }, "covers 47 to 48 N"},
		"half of it":                  {func(q *square) { q.frame.Rows = 60 }, "covers 46.5 to 47 N"},
		"more than it":                {func(q *square) { q.frame.Columns = 240 }, "7 to 9 E"},
		"finer":                       {func(q *square) { q.frame.DY /= 3; q.frame.Rows *= 3 }, "posts 10 arc-seconds apart"},
		"not in degrees":              {func(q *square) { q.frame.CRS = crs }, "not in degrees"},
		"a picture":                   {func(q *square) { q.info.DataType = "Byte" }, "holds bytes"},
		"NaN":                         {func(q *square) { q.frame.X0 /= 0 * q.frame.X0 }, "the tile asked for"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := newPublisher(t, map[string][]byte{n46: tiff(5000, 1)})
			opts := p.options(t)
			q := tileOf46()
			c.change(q)
			opts.Open = opens(q)
			_, err := Get(t.Context(), s, middle, 100, opts)
			if c.want == "" {
				require.NoError(t, err)
				return
			}
			require.ErrorContains(t, err, c.want)
			assert.NotContains(t, err.Error(), "\n")
			assert.Empty(t, tilesIn(t, opts.Folder))
		})
	}
}

func tilesIn(t *testing.T, folder string) []string {
	t.Helper()
	var tiles []string
	for _, name := range list(t, folder) {
		if strings.HasSuffix(name, ".tif") || strings.HasSuffix(name, sumEnding) {
			tiles = append(tiles, name)
		}
	}
	return tiles
}

// TestWhatIsHereIsLookedAt: a tile that was kept with a checksum of what came,
// and is not whole, "was here" from then on.
func TestWhatIsHereIsLookedAt(t *testing.T) {
	t.Parallel()
	p := newPublisher(t, map[string][]byte{n46: tiff(5000, 1)})
	opts := p.options(t)
	s := copernicus(t)
	s.SpacingArcSeconds = 30
	_, err := Get(t.Context(), s, middle, 100, opts) // nothing opens it
	require.NoError(t, err)
	broken := tileOf46()
	broken.broken = true
	opts.Open = opens(broken)
	_, err = Get(t.Context(), s, middle, 100, opts)
	require.ErrorContains(t, err, filepath.Base(n46)+" is here already, but: it is no whole elevation tile")
	require.ErrorContains(t, err, "delete it to fetch it again")
	opts.Open = opens(tileOf46())
	r, err := Get(t.Context(), s, middle, 100, opts)
	require.NoError(t, err)
	require.Len(t, r.Files, 1)
	r, err = Get(t.Context(), s, middle, 100, opts)
	require.NoError(t, err)
	assert.True(t, r.Files[0].Already)
}

// TestBodiesWithoutEndAreCutOff, by what the source's tiles can hold: one
// filled the disk.
func TestBodiesWithoutEndAreCutOff(t *testing.T) {
	t.Parallel()
	s := copernicus(t)
	s.Checksum, s.SpacingArcSeconds = "", 3600 // a post a tile: a megabyte at most
	for name, before := range map[string]func(w http.ResponseWriter, r *http.Request, n int) bool{
		"told": func(w http.ResponseWriter, r *http.Request, n int) bool {
			w.Header().Set("Content-Length", "9000000000000")
			return true
		},
		"not told": func(w http.ResponseWriter, r *http.Request, n int) bool {
			if r.Method == http.MethodHead {
				w.WriteHeader(http.StatusMethodNotAllowed)
				return true
			}
			for data := tiff(1<<16, 1); ; {
				if _, err := w.Write(data); err != nil {
					return true
				}
			}
		},
		"not told when asked": onGet(func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Length", "9000000000000")
			_, _ = w.Write(tiff(1<<16, 1))
		}),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := newPublisher(t, map[string][]byte{n46: tiff(5000, 1)})
			p.before = before
			opts := p.options(t)
			opts.Open = opens(tileOf46())
			_, err := Get(t.Context(), s, middle, 100, opts)
			require.ErrorContains(t, err, "sends more than 1 MB, and no tile of copernicus-glo-30 is as large")
			stat, err := os.Stat(filepath.Join(opts.Folder, filepath.Base(n46)+partEnding))
			if err == nil {
				assert.Zero(t, stat.Size())
			}
		})
	}
	for name, most := range map[string]int64{"copernicus-glo-30": 300 << 20, "copernicus-glo-90": 40 << 20, "usgs-3dep-13": 3 << 30} {
		s, err := Find(name, nil)
		require.NoError(t, err)
		assert.Less(t, s.maxTileBytes(), most)
		posts := 3600 / s.SpacingArcSeconds
		assert.Greater(t, s.maxTileBytes(), int64(6*posts*posts), "floats and overviews, unpacked")
	}
}

// TestATrickleIsGivenUp: a byte now and then went on for ever.
func TestATrickleIsGivenUp(t *testing.T) {
	t.Parallel()
	p := newPublisher(t, map[string][]byte{n46: tiff(5000, 1)})
	p.before = onGet(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Length", "5000")
		for _, b := range tiff(5000, 1) {
			if _, err := w.Write([]byte{b}); err != nil {
				return
			}
			w.(http.Flusher).Flush()
			select {
			case <-r.Context().Done():
				return
			case <-time.After(5 * time.Millisecond):
			}
		}
	})
	opts := p.options(t)
	opts.Stall, opts.Slow, opts.LeastRate, opts.Retries = 10*time.Second, 100*time.Millisecond, 1000, 1
	_, err := Get(t.Context(), copernicus(t), middle, 100, opts)
	require.ErrorContains(t, err, "is too slow")
	require.ErrorContains(t, err, "try again later")
}

// TestPartsOfTwoFilesAreNeverJoined: a part of an earlier try, and a server
// whose file is another now and which sends the rest of it without a word.
func TestPartsOfTwoFilesAreNeverJoined(t *testing.T) {
	t.Parallel()
	old, now := tiff(5000, 1), tiff(5000, 2)
	for name, header := range map[string]map[string]string{
		"another tag":       {"ETag": `"b"`, "Content-Range": "bytes 2000-4999/5000"},
		"no tag any more":   {"Content-Range": "bytes 2000-4999/5000"},
		"another length":    {"ETag": `"a"`, "Content-Range": "bytes 2000-4999/5001"},
		"no length":         {"ETag": `"a"`, "Content-Range": "bytes 2000-4999/*"},
		"another part":      {"ETag": `"a"`, "Content-Range": "bytes 0-2999/5000"},
		"nonsense":          {"ETag": `"a"`, "Content-Range": "bytes 2000-1/5000"},
		"no part told":      {"ETag": `"a"`},
		"beyond the length": {"ETag": `"a"`, "Content-Range": "bytes 2000-4999/3000"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := newPublisher(t, map[string][]byte{n46: now})
			opts := p.options(t)
			path := filepath.Join(opts.Folder, filepath.Base(n46))
			require.NoError(t, os.WriteFile(path+partEnding, old[:2000], 0o600))
			require.NoError(t, keepTag(path+partEnding, partTag{`"a"`, 5000}))
			resumed := 0
			p.before = func(w http.ResponseWriter, r *http.Request, n int) bool {
				if r.Header.Get("Range") == "" {
					return false
				}
				resumed++
				assert.Equal(t, `"a"`, r.Header.Get("If-Range"))
				for k, v := range header {
					w.Header().Set(k, v)
				}
				w.WriteHeader(http.StatusPartialContent)
				_, _ = w.Write(now[2000:])
				return true
			}
			_, err := Get(t.Context(), copernicus(t), middle, 100, opts)
			require.NoError(t, err)
			assert.Equal(t, 1, resumed)
			data, err := os.ReadFile(path)
			require.NoError(t, err)
			assert.Equal(t, now, data)
		})
	}
}

// TestPasswordsAreNeitherKeptNorPrinted: the licence file had them.
func TestPasswordsAreNeitherKeptNorPrinted(t *testing.T) {
	t.Parallel()
	p := newPublisher(t, map[string][]byte{n46: tiff(5000, 1)})
	users := make(chan string, 100)
	fail := false
	p.before = func(w http.ResponseWriter, r *http.Request, n int) bool {
		user, password, _ := r.BasicAuth()
		users <- user + ":" + password
		if fail {
			http.Error(w, "no", http.StatusForbidden)
		}
		return fail
	}
	s := copernicus(t)
	s.URL = strings.Replace(s.URL, "https://", "https://someone:s3cret@", 1) + "?key=k3y"
	opts := p.options(t)
	r, err := Get(t.Context(), s, middle, 100, opts)
	require.NoError(t, err)
	assert.Equal(t, "someone:s3cret", <-users, "the server gets them")
	for _, name := range list(t, opts.Folder) {
		data, err := os.ReadFile(filepath.Join(opts.Folder, name))
		require.NoError(t, err)
		for _, word := range []string{"s3cret", "someone", "k3y"} {
			assert.NotContains(t, string(data), word, name)
			assert.NotContains(t, name, word)
		}
	}
	licence, err := os.ReadFile(r.Licence)
	require.NoError(t, err)
	assert.Contains(t, string(licence), "Fetched from: https://copernicus-dem-30m.s3.amazonaws.com/Copernicus_DSM_COG_10_{NS}{lat}_00_")
	fail = true
	opts.Folder = t.TempDir()
	_, err = Get(t.Context(), s, middle, 100, opts)
	require.Error(t, err)
	p.Close()
	_, offline := Get(t.Context(), s, middle, 100, opts)
	require.Error(t, offline)
	for _, word := range []string{"s3cret", "someone", "k3y"} {
		assert.NotContains(t, err.Error()+offline.Error(), word)
	}
}

// TestNothingIsLogged of what a server sends unasked: net/http printed it.
func TestNothingIsLogged(t *testing.T) { // not parallel: the log is the process's
	var logged bytes.Buffer
	log.SetOutput(&logged)
	defer log.SetOutput(os.Stderr)
	data := tiff(5000, 1)
	p := newPublisher(t, map[string][]byte{n46: data})
	p.before = func(w http.ResponseWriter, r *http.Request, n int) bool {
		body := ""
		if r.Method == http.MethodGet {
			body = string(data)
		}
		raw(w, fmt.Sprintf("HTTP/1.1 200 OK\r\nContent-Length: %d\r\n\r\n%sHTTP/1.1 200 OK\r\nContent-Length: 0\r\n\r\n and more", len(data), body))
		return true
	}
	opts := p.options(t)
	opts.Client = nil // the one made here
	s := copernicus(t)
	s.Checksum = ""
	s.URL = strings.Replace(s.URL, "https://copernicus-dem-30m.s3.amazonaws.com", p.URL, 1)
	_, err := Get(t.Context(), s, middle, 100, opts)
	require.NoError(t, err)
	time.Sleep(50 * time.Millisecond) // net/http logs from a goroutine of its own
	assert.Empty(t, logged.String())
}
