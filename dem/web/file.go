package web

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"sync/atomic"
	"time"
)

const (
	// headBytes is what opening a file asks for: what most headers take.
	headBytes = 16 << 10
	// MaxPart is the most one request asks for: some seconds' worth, so that
	// one which breaks off costs little.
	MaxPart = 4 << 20
)

// FileOptions tells OpenFile how to ask.
type FileOptions struct {
	// Client makes the requests; default when nil: NewClient's, which uses
	// connections again.
	Client *http.Client
	// Limits hold for each request.
	Limits Limits
	// Retries is how often a request that failed for a passing reason is made
	// again; default when zero: 3, none when negative.
	Retries int
	// RetryDelay is the wait before the first retry, twice as long each time;
	// default when zero: 1 s.
	RetryDelay time.Duration
}

// File is a file on a server, of which parts are fetched. Safe for concurrent
// use.
type File struct {
	address string
	opts    FileOptions
	// What the server said of it when it was opened.
	size          int64
	tag, modified string
	settled       bool // modified some time before it was opened
	head          []byte
	changed       atomic.Bool // since
	plain         atomic.Bool // asked for without If-Range
}

// OpenFile asks for a file's first bytes, and with them for its length and
// what tells it from a later one.
func OpenFile(ctx context.Context, address string, opts FileOptions) (*File, error) {
	if opts.Client == nil {
		opts.Client = NewClient(0, true)
	}
	switch {
	case opts.Retries == 0:
		opts.Retries = 3
	case opts.Retries < 0:
		opts.Retries = 0
	}
	if opts.RetryDelay <= 0 {
		opts.RetryDelay = time.Second
	}
	f := &File{address: address, opts: opts, size: -1}
	err := f.again(ctx, func() error { return f.open(ctx) })
	if err != nil {
		return nil, err
	}
	return f, nil
}

// Size is the file's length.
func (f *File) Size() int64 { return f.size }

// Head is its first bytes, 16 KiB or the whole file. It must not be changed.
func (f *File) Head() []byte { return f.head }

// Validated reports whether the server gives what tells the file from a later
// one at its address: an entity tag, or a date.
func (f *File) Validated() bool { return f.tag != "" || f.modified != "" }

// Settled reports whether it can be told from a later one for good. A file
// with nothing but a date, written to in the last seconds, may be written to
// again under that date (RFC 9110, section 8.8.2.2).
func (f *File) Settled() bool { return f.tag != "" || f.settled }

// Identity tells the file from others, and from later ones at its address: by
// the address without a user's name and password, and by length, entity tag,
// date and first bytes.
func (f *File) Identity() string {
	sum := sha256.Sum256(f.head)
	return fmt.Sprintf("%q %d %q %q %s", withoutUser(f.address), f.size, f.tag, f.modified, hex.EncodeToString(sum[:]))
}

func withoutUser(address string) string {
	scheme, rest, _ := strings.Cut(address, "://")
	end := strings.IndexAny(rest, "/?")
	if end < 0 {
		end = len(rest)
	}
	return scheme + "://" + rest[strings.LastIndexByte(rest[:end], '@')+1:]
}

// again runs work, and again after a wait when it failed for a passing reason.
func (f *File) again(ctx context.Context, work func() error) error {
	delay := f.opts.RetryDelay
	for try := 0; ; try++ {
		err := work()
		if err == nil || ctx.Err() != nil || !IsPassing(err) || try >= f.opts.Retries {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(delay):
		}
		delay *= 2
	}
}

func (f *File) request(ctx context.Context, from, end int64) (*http.Response, error) {
	header := http.Header{"Range": {fmt.Sprintf("bytes=%d-%d", from, end-1)}}
	switch {
	case f.size < 0, f.plain.Load():
	case f.tag != "" && !strings.HasPrefix(f.tag, "W/"):
		header.Set("If-Range", f.tag)
	case f.modified != "":
		header.Set("If-Range", f.modified)
	}
	return Do(ctx, f.opts.Client, http.MethodGet, f.address, header, f.opts.Limits)
}

func (f *File) open(ctx context.Context) error {
	r, err := f.request(ctx, 0, headBytes)
	if err != nil {
		return err
	}
	defer r.Body.Close()
	host := r.Request.URL.Host
	if r.StatusCode == http.StatusRequestedRangeNotSatisfiable {
		return errors.New("the file on the server is empty; check the address")
	}
	if err := StatusError(r); err != nil {
		return err
	}
	if err := ContentError(r); err != nil {
		return err
	}
	if r.StatusCode != http.StatusPartialContent {
		return fmt.Errorf("the server at %s does not serve parts of files; fetch the whole file and give that", host)
	}
	from, end, total, ok := ContentRange(r)
	if !ok || from != 0 || total < 0 || end != min(headBytes, total) {
		return wrongPart(host)
	}
	head, err := readPart(r, end)
	if err != nil {
		return err
	}
	f.size, f.head, f.tag, f.modified = total, head, r.Header.Get("ETag"), r.Header.Get("Last-Modified")
	if m, err := http.ParseTime(f.modified); err == nil {
		now, err := http.ParseTime(r.Header.Get("Date"))
		f.settled = err == nil && now.Sub(m) > 2*time.Second // a date is whole seconds
	}
	return nil
}

func wrongPart(host string) error {
	return fmt.Errorf("the server at %s sends another part of the file than was asked for; fetch the whole file and give that", host)
}

// readPart reads the part of a file that an answer brings, and no more.
func readPart(r *http.Response, n int64) ([]byte, error) {
	host := r.Request.URL.Host
	if r.ContentLength >= 0 && r.ContentLength != n {
		return nil, fmt.Errorf("the server at %s sends %d bytes where %d were asked for; fetch the whole file and give that", host, r.ContentLength, n)
	}
	data := make([]byte, n)
	if _, err := io.ReadFull(r.Body, data); err != nil {
		if err == io.EOF || errors.Is(err, io.ErrUnexpectedEOF) {
			return nil, Passing("the connection to %s broke off; try again later", host)
		}
		return nil, err
	}
	var more [1]byte
	switch extra, err := io.ReadFull(r.Body, more[:]); {
	case extra > 0:
		return nil, fmt.Errorf("the server at %s sends more than was asked for; fetch the whole file and give that", host)
	case err != io.EOF:
		return nil, err
	}
	return data, nil
}

// errChanged is of a file that is another one now.
var errChanged = errors.New("the file on the server changed while it was being read, so nothing read of it counts; run it again")

// Fetch is the bytes from up to end, which must lie in the file and be at most
// MaxPart. Once the server's file has changed every call fails.
func (f *File) Fetch(ctx context.Context, from, end int64) ([]byte, error) {
	if from < 0 || end <= from || end > f.size || end-from > MaxPart {
		return nil, fmt.Errorf("bytes %d to %d cannot be asked for of a file of %d", from, end, f.size)
	}
	var data []byte
	err := f.again(ctx, func() error {
		if f.changed.Load() {
			return errChanged
		}
		r, err := f.request(ctx, from, end)
		if err != nil {
			return err
		}
		if r.StatusCode == http.StatusOK && f.Validated() && f.same(r) && r.ContentLength == f.size && !f.plain.Swap(true) {
			// The server knows no If-Range: what it then sends is compared all
			// the same.
			r.Body.Close()
			if r, err = f.request(ctx, from, end); err != nil {
				return err
			}
		}
		defer r.Body.Close()
		if err := f.check(r, from, end); err != nil {
			return err
		}
		data, err = readPart(r, end-from)
		return err
	})
	if errors.Is(err, errChanged) {
		f.changed.Store(true)
	}
	return data, err
}

// check compares an answer with what was asked for and with the file that was
// opened.
func (f *File) check(r *http.Response, from, end int64) error {
	switch r.StatusCode {
	case http.StatusOK, // the answer to If-Range when it is another file
		http.StatusRequestedRangeNotSatisfiable, http.StatusPreconditionFailed, http.StatusNotFound, http.StatusGone:
		return errChanged
	}
	if err := StatusError(r); err != nil {
		return err
	}
	if err := ContentError(r); err != nil {
		return err
	}
	gotFrom, gotEnd, total, ok := ContentRange(r)
	switch {
	case ok && total != f.size && total >= 0, !f.same(r):
		return errChanged
	case !ok, total < 0, gotFrom != from, gotEnd != end:
		return wrongPart(r.Request.URL.Host)
	}
	return nil
}

// same reports whether an answer's tag and date are those of the file that
// was opened. A part need not repeat the date where there is a tag (RFC 9110,
// section 15.3.7).
func (f *File) same(r *http.Response) bool {
	tag, modified := r.Header.Get("ETag"), r.Header.Get("Last-Modified")
	return tag == f.tag && (modified == f.modified || f.tag != "" && modified == "")
}
