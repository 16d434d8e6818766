package desk

import (
	"context"
	"crypto/rand"
	"errors"
	"io"
	"log"
	"net"
	"net/http"
	"sync"
	"time"

	"crowline/cmd/internal/answer"
	"crowline/contour"
	"crowline/dem/units"
)

// Config is what a desk answers from.
type Config struct {
	// Ground is opened, and stays its opener's to close when Serve has returned.
	Ground *answer.Ground
	// Sighting, Cover, Walk, Marks, Units and Needle are of questions that do not
	// say.
	Sighting answer.Sighting
	Cover    answer.Cover
	Walk     answer.Walk
	Marks    int
	Units    units.System
	Needle   func() answer.Needle
	// Places are the user's.
	Places []answer.Place
	// Front is how the command line reads and writes.
	Front Front
	// Start is what the page opens with.
	Start State
	// Version of the program.
	Version string
}

// Front is the command line's own reading of what is typed, and writing of
// commands, so that the page reads and writes the same.
type Front struct {
	// Place reads a place in any form, or a name.
	Place func(text string) (answer.Place, error)
	// Interval reads a contour interval, and Day a date.
	Interval func(text string) (answer.Interval, error)
	Day      func(text string) (time.Time, error)
	// Command writes a command line: the command's name, its arguments, and flags
	// by their names, to which it adds those the desk was started with.
	Command func(name string, arguments []string, flags []Flag) string
}

// Flag is a flag of a command line and its value; "" for one without, dropped for
// one that is left out though the desk was started with it.
type Flag struct{ Name, Value string }

// Dropped is the value of a flag that a command must not have.
const Dropped = "\x00"

// Desk is a server of one page. Make one with New; it serves once.
type Desk struct {
	Config
	chart    *answer.Chart
	unjudged *answer.Ground
	feet     *answer.Chart // the same with contours in feet
	about    *answer.About

	port, token string
	off         map[guardName]bool // in tests alone
	slots       *slots
	turns       *turns
	busy        sync.WaitGroup // handlers at work
}

// Server limits. A question has its own deadline on top of them, and what is
// written later than writeWithin after that is given up.
const (
	readWithin  = 10 * time.Second
	writeWithin = 30 * time.Second
	idleWithin  = 2 * time.Minute
	mostHeader  = 16 << 10
)

// New prepares a desk: it lays the ground's map out.
func New(ctx context.Context, c Config) (*Desk, error) {
	d := &Desk{Config: c, token: rand.Text(), slots: newSlots(), turns: &turns{pages: map[string]*pageTurns{}}}
	var err error
	if d.unjudged, err = c.Ground.Unjudged(ctx); err != nil {
		return nil, err
	}
	if d.about, err = c.Ground.About(ctx); err != nil {
		return nil, err
	}
	if d.chart, err = d.unjudged.Chart(ctx, contour.Metre); err != nil {
		return nil, err
	}
	if d.feet, err = d.unjudged.Chart(ctx, contour.Foot); err != nil {
		return nil, err
	}
	return d, nil
}

// Listen takes a port of this machine's own address, 0 for any that is free.
// Nothing outside the machine can reach it, and nothing makes it listen elsewhere.
func Listen(port int) (net.Listener, error) {
	return net.ListenTCP("tcp4", &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: port})
}

// Address is what is opened in a browser: with the token, which the page takes out
// of it.
func (d *Desk) Address(l net.Listener) string {
	return "http://" + l.Addr().String() + "/#token=" + d.token
}

// Serve answers until ctx ends, and then at once breaks off what is being worked
// out. It reports whether all work has stopped: if not, the ground is still being
// read and must not be closed. The listener is closed.
func (d *Desk) Serve(ctx context.Context, l net.Listener) (stopped bool, err error) {
	_, d.port, err = net.SplitHostPort(l.Addr().String())
	if err != nil {
		return true, errors.Join(err, l.Close())
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	server := d.server(ctx)
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(l) }()
	select {
	case err = <-failed:
	case <-ctx.Done():
	}
	cancel()
	_ = server.Close()
	return d.wait(), err
}

// server has a limit for every way to keep it waiting.
func (d *Desk) server(ctx context.Context) *http.Server {
	return &http.Server{
		Handler: d.handler(), BaseContext: func(net.Listener) context.Context { return ctx },
		ReadHeaderTimeout: readWithin, ReadTimeout: readWithin, WriteTimeout: writeWithin, IdleTimeout: idleWithin, MaxHeaderBytes: mostHeader,
		ErrorLog: log.New(io.Discard, "", 0), // what odd clients do concerns nobody
	}
}

// wait gives work that was broken off a moment to stop.
func (d *Desk) wait() bool {
	const moment = 200 * time.Millisecond
	done := make(chan struct{})
	go func() { d.busy.Wait(); close(done) }()
	select {
	case <-done:
		return true
	case <-time.After(moment):
		return false
	}
}

// handler is everything that is served.
func (d *Desk) handler() http.Handler {
	mux := http.NewServeMux()
	d.addAssets(mux)
	d.addAnswers(mux)
	return d.guarded(d.counted(d.plain(mux)))
}

// counted keeps count of handlers at work.
func (d *Desk) counted(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		d.busy.Add(1)
		defer d.busy.Done()
		next.ServeHTTP(w, r)
	})
}

// plain answers what the mux has nothing for by the contract's errors.
func (d *Desk) plain(mux *http.ServeMux) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if _, pattern := mux.Handler(r); pattern != "" {
			mux.ServeHTTP(w, r)
			return
		}
		other := http.MethodPost
		if r.Method == http.MethodPost {
			other = http.MethodGet
		}
		swapped := r.Clone(r.Context())
		swapped.Method = other
		if _, pattern := mux.Handler(swapped); pattern != "" {
			w.Header().Set("Allow", other)
			faultf(http.StatusMethodNotAllowed, "method", "%s is asked by %s", r.URL.Path, other).write(w)
			return
		}
		faultf(http.StatusNotFound, "notfound", "there is nothing at %s", r.URL.Path).write(w)
	})
}
