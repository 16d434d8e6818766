package web

import (
	"context"
	"crypto/sha256"
	"crypto/tls"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// Limits bound the waiting for a server. The zero value is usable.
type Limits struct {
	// Stall is how long a server may send nothing; default when zero: 30 s.
	Stall time.Duration
	// LeastRate is what a server must send, bytes a second, in every stretch
	// of Slow; default when zero: 1000 in 60 s.
	LeastRate int64
	Slow      time.Duration
	// Request is how long one request may take in all; default when zero: as
	// long as it goes on at the least rate.
	Request time.Duration
}

func (l Limits) withDefaults() Limits {
	if l.Stall <= 0 {
		l.Stall = 30 * time.Second
	}
	if l.LeastRate <= 0 {
		l.LeastRate = 1000
	}
	if l.Slow <= 0 {
		l.Slow = time.Minute
	}
	return l
}

const (
	// maxRedirects is how often one request may be sent elsewhere.
	maxRedirects = 5
	// maxHeaderBytes is far more than any answer's header takes.
	maxHeaderBytes = 64 << 10
)

// NewClient makes a client that takes proxies from the environment, keeps no
// cookies and follows redirects as CheckRedirect allows. connect is how long
// a connection may take; default when zero: 10 s. keep is whether connections
// are used again.
func NewClient(connect time.Duration, keep bool) *http.Client {
	if connect <= 0 {
		connect = 10 * time.Second
	}
	return &http.Client{
		Transport: &http.Transport{
			Proxy:                  http.ProxyFromEnvironment,
			DialContext:            (&net.Dialer{Timeout: connect}).DialContext,
			TLSHandshakeTimeout:    connect,
			MaxResponseHeaderBytes: maxHeaderBytes,
			IdleConnTimeout:        30 * time.Second,
			// What a server sends unasked over an idle connection net/http
			// would log.
			DisableKeepAlives:  !keep,
			DisableCompression: true,
			// HTTP/2 brings nothing here and has a log of its own.
			TLSNextProto: map[string]func(string, *tls.Conn) http.RoundTripper{},
		},
		CheckRedirect: CheckRedirect,
	}
}

// CheckRedirect follows a few redirects, to web servers only, and never from
// https to http. The user's name and password, which an address may hold,
// stay with the server they are for; so does the address that was asked,
// which may hold a key.
func CheckRedirect(r *http.Request, via []*http.Request) error {
	if len(via) > maxRedirects {
		return &redirectError{"the server redirects without end"}
	}
	first := via[0].URL
	switch {
	case r.URL.Scheme != "https" && r.URL.Scheme != "http":
		return &redirectError{"the server redirects to what is no web address"}
	case first.Scheme == "https" && r.URL.Scheme != "https":
		return &redirectError{"the server redirects to an address that is not secure"}
	}
	r.Header.Del("Referer")
	if r.URL.Host != first.Host {
		r.Header.Del("Authorization")
		r.Header.Del("Cookie")
		r.URL.User = nil
	}
	return nil
}

type redirectError struct{ text string }

func (e *redirectError) Error() string { return e.text }

// Shown is an address, or a pattern for addresses, as it may be printed and
// kept: without a user's name and password, and with the first digits of a
// checksum in place of what stands after a question mark, which may be a key.
func Shown(address string) string {
	address, _, _ = strings.Cut(address, "#")
	scheme, rest, found := strings.Cut(address, "://")
	if !found {
		return address
	}
	rest, query, asked := strings.Cut(rest, "?")
	u, err := url.Parse(address)
	if err != nil || u.User != nil {
		end := strings.IndexByte(rest, '/')
		if err != nil || end < 0 {
			end = len(rest)
		}
		rest = rest[strings.LastIndexByte(rest[:end], '@')+1:]
	}
	if asked {
		sum := sha256.Sum256([]byte(query))
		rest += "?" + hex.EncodeToString(sum[:4])
	}
	return scheme + "://" + rest
}

// passingError is a failure that may not happen again.
type passingError struct{ err error }

func (e *passingError) Error() string { return e.err.Error() }
func (e *passingError) Unwrap() error { return e.err }

// Passing makes the error of a failure that may not happen again.
func Passing(format string, args ...any) error { return &passingError{fmt.Errorf(format, args...)} }

// ErrNoNetwork is why a server's name, or the way to it, is not known: there is no
// network, or the address is wrong.
var ErrNoNetwork = errors.New("cannot be reached")

// IsPassing reports whether a failure may not happen again.
func IsPassing(err error) bool {
	var p *passingError
	return errors.As(err, &p)
}

// Do makes one request. Its answer must begin within the stall time, and its
// body, which the caller closes, may not pause for longer nor trickle. An
// error names the server and never holds a user's name, password or key.
func Do(ctx context.Context, client *http.Client, method, address string, header http.Header, limits Limits) (*http.Response, error) {
	limits = limits.withDefaults()
	ctx, cancel := context.WithCancelCause(ctx)
	watch := time.AfterFunc(limits.Stall, func() { cancel(errStalled) })
	var whole *time.Timer
	if limits.Request > 0 {
		whole = time.AfterFunc(limits.Request, func() { cancel(errStalled) })
	}
	stop := func() {
		watch.Stop()
		if whole != nil {
			whole.Stop()
		}
		cancel(nil)
	}
	r, err := http.NewRequestWithContext(ctx, method, address, nil)
	if err != nil {
		stop()
		return nil, fmt.Errorf("%s is not an http or https address", Shown(address))
	}
	for k, v := range header {
		r.Header[k] = v
	}
	r.Header.Set("User-Agent", "crowline")
	r.Header.Set("Accept-Encoding", "identity") // lengths and checksums are of the bytes as stored
	response, err := client.Do(r)
	if err != nil {
		stalled := context.Cause(ctx) == errStalled
		stop()
		if stalled {
			return nil, Passing("the server at %s does not answer: it may have stalled; try again later", r.URL.Host)
		}
		return nil, connectionError(r.URL, err)
	}
	response.Body = &watched{body: response.Body, ctx: ctx, stop: stop, watch: watch, limits: limits, host: response.Request.URL.Host, since: time.Now()}
	return response, nil
}

var errStalled = errors.New("stalled")

// watched is a body that ends when nothing comes for the stall time, or too
// little in a longer one.
type watched struct {
	body   io.ReadCloser
	ctx    context.Context
	stop   func()
	watch  *time.Timer
	limits Limits
	host   string
	since  time.Time // of the stretch whose rate is measured
	came   int64     // in it
}

func (w *watched) Read(b []byte) (int, error) {
	w.watch.Reset(w.limits.Stall)
	n, err := w.body.Read(b)
	w.watch.Stop()
	w.came += int64(n)
	if err == io.EOF {
		return n, err
	}
	if err != nil {
		if context.Cause(w.ctx) == errStalled {
			return n, Passing("the server at %s stalled; try again later", w.host)
		}
		if w.ctx.Err() != nil {
			return n, w.ctx.Err()
		}
		return n, Passing("the connection to %s broke off; try again later", w.host)
	}
	if past := time.Since(w.since); past >= w.limits.Slow {
		if float64(w.came) < float64(w.limits.LeastRate)*past.Seconds() {
			return n, Passing("the server at %s is too slow (%.0f bytes a second); try again later", w.host, float64(w.came)/past.Seconds())
		}
		w.since, w.came = time.Now(), 0
	}
	return n, nil
}

func (w *watched) Close() error {
	w.stop() // first, so that closing does not wait for what is left
	return w.body.Close()
}

// connectionError puts a request that got no answer in plain words.
func connectionError(u *url.URL, err error) error {
	var dns *net.DNSError
	var op *net.OpError
	var redirect *redirectError
	var certificate *tls.CertificateVerificationError
	switch {
	case errors.Is(err, context.Canceled):
		return context.Canceled
	case errors.Is(err, context.DeadlineExceeded):
		return context.DeadlineExceeded
	case errors.As(err, &redirect):
		return fmt.Errorf("%w; check the address", redirect)
	case errors.As(err, &dns), errors.Is(err, syscall.ENETUNREACH), errors.Is(err, syscall.EHOSTUNREACH):
		return &passingError{fmt.Errorf("%s %w; are you online? Data fetched before still works", u.Host, ErrNoNetwork)}
	case errors.As(err, &op) && op.Op == "dial":
		return Passing("%s cannot be reached; are you online? Data fetched before still works", u.Host)
	case errors.As(err, &certificate):
		return fmt.Errorf("%s cannot prove who it is (%w); is something in between, such as a sign-in page?", u.Host, certificate.Err)
	case strings.Contains(err.Error(), "tls: "):
		return fmt.Errorf("%s speaks no https that can be trusted; check the address", u.Host)
	}
	return Passing("the connection to %s broke off; try again later", u.Host)
}

// StatusError is nil for a status that brings content.
func StatusError(r *http.Response) error {
	host := r.Request.URL.Host
	switch code := r.StatusCode; {
	case code == http.StatusOK, code == http.StatusPartialContent:
		return nil
	case code == http.StatusTooManyRequests, code >= 500:
		return Passing("the server at %s cannot answer now (status %d); try again later", host, code)
	case code == http.StatusForbidden, code == http.StatusUnauthorized:
		return fmt.Errorf("the server at %s does not give it out (status %d); it may want a key, or the address may be wrong", host, code)
	case code == http.StatusNotFound, code == http.StatusGone:
		return fmt.Errorf("the server at %s has no such file (status %d); check the address", host, code)
	default:
		return fmt.Errorf("the server at %s answers with status %d in place of the file; check the address", host, code)
	}
}

// ContentError says what is wrong with the kind of content an answer brings:
// a page in place of a file, or a file packed on the way, whose bytes are not
// those that were asked for.
func ContentError(r *http.Response) error {
	host := r.Request.URL.Host
	if e := strings.ToLower(strings.TrimSpace(r.Header.Get("Content-Encoding"))); e != "" && e != "identity" {
		return fmt.Errorf("the server at %s packs what it sends (%q), which was not asked for; fetch the file another way", host, e)
	}
	if kind := strings.ToLower(r.Header.Get("Content-Type")); strings.HasPrefix(kind, "text/html") || strings.HasPrefix(kind, "application/xhtml") {
		return fmt.Errorf("%s sent a web page in place of the file; is there a sign-in page in between?", host)
	}
	return nil
}

var contentRange = regexp.MustCompile(`^bytes (\d{1,18})-(\d{1,18})/(\d{1,18}|\*)$`)

// ContentRange reads which part of a file an answer says it brings: bytes
// from up to end, of total, -1 when it does not say. ok is false when it says
// nothing that makes sense.
func ContentRange(r *http.Response) (from, end, total int64, ok bool) {
	m := contentRange.FindStringSubmatch(r.Header.Get("Content-Range"))
	if m == nil {
		return 0, 0, 0, false
	}
	number := func(s string) int64 {
		v, _ := strconv.ParseInt(s, 10, 64) // at most 18 digits
		return v
	}
	from, end, total = number(m[1]), number(m[2])+1, -1
	if m[3] != "*" {
		total = number(m[3])
	}
	return from, end, total, from < end && (total < 0 || end <= total)
}
