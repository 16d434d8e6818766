package fetch

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"
)

// passingError is a failure that may not happen again.
type passingError struct{ err error }

func (e *passingError) Error() string { return e.err.Error() }
func (e *passingError) Unwrap() error { return e.err }

func passing(format string, args ...any) error { return &passingError{fmt.Errorf(format, args...)} }

// request makes one request whose answer must come within the stall time,
// and whose body may not pause for longer.
func (g *getter) request(ctx context.Context, method, address string, header http.Header) (*http.Response, error) {
	ctx, cancel := context.WithCancelCause(ctx)
	watch := time.AfterFunc(g.opts.Stall, func() { cancel(errStalled) })
	r, err := http.NewRequestWithContext(ctx, method, address, nil)
	if err != nil {
		cancel(nil)
		return nil, err
	}
	for k, v := range header {
		r.Header[k] = v
	}
	r.Header.Set("User-Agent", "crowline")
	r.Header.Set("Accept-Encoding", "identity") // lengths and checksums are of the bytes as stored
	response, err := g.opts.Client.Do(r)
	if err != nil {
		stalled := context.Cause(ctx) == errStalled
		cancel(nil)
		watch.Stop()
		if stalled {
			return nil, passing("the server at %s does not answer", r.URL.Host)
		}
		return nil, connectionError(r.URL, err)
	}
	response.Body = &watched{body: response.Body, ctx: ctx, cancel: cancel, watch: watch, stall: g.opts.Stall, host: r.URL.Host}
	return response, nil
}

var errStalled = errors.New("stalled")

// watched is a body that ends when nothing comes for the stall time.
type watched struct {
	body   io.ReadCloser
	ctx    context.Context
	cancel context.CancelCauseFunc
	watch  *time.Timer
	stall  time.Duration
	host   string
}

func (w *watched) Read(b []byte) (int, error) {
	w.watch.Reset(w.stall)
	n, err := w.body.Read(b)
	if err != nil && err != io.EOF {
		if context.Cause(w.ctx) == errStalled {
			return n, passing("the server at %s stalled", w.host)
		}
		if w.ctx.Err() != nil {
			return n, w.ctx.Err()
		}
		return n, passing("the connection to %s broke off", w.host)
	}
	return n, err
}

func (w *watched) Close() error {
	w.watch.Stop()
	err := w.body.Close()
	w.cancel(nil)
	return err
}

// connectionError puts a request that got no answer in plain words.
func connectionError(u *url.URL, err error) error {
	var dns *net.DNSError
	var op *net.OpError
	switch {
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return err
	case errors.As(err, &dns) && dns.IsNotFound, errors.As(err, &op) && op.Op == "dial":
		return passing("%s cannot be reached; are you online?", u.Host)
	case strings.Contains(err.Error(), "redirect"):
		var wrapped *url.Error
		if errors.As(err, &wrapped) {
			err = wrapped.Err
		}
		return err
	case strings.Contains(err.Error(), "x509"), strings.Contains(err.Error(), "tls:"):
		return fmt.Errorf("%s cannot prove who it is (%v); is something in between, such as a sign-in page?", u.Host, errors.Unwrap(err))
	}
	return passing("the connection to %s broke off", u.Host)
}

// statusError is nil for a status that brings content.
func statusError(r *http.Response) error {
	host := r.Request.URL.Host
	switch code := r.StatusCode; {
	case code == http.StatusOK, code == http.StatusPartialContent:
		return nil
	case code == http.StatusTooManyRequests, code >= 500:
		return passing("the server at %s cannot answer now (status %d)", host, code)
	case code == http.StatusForbidden, code == http.StatusUnauthorized:
		return fmt.Errorf("the server at %s does not give it out (status %d)", host, code)
	default:
		return fmt.Errorf("the server at %s answered with status %d", host, code)
	}
}
