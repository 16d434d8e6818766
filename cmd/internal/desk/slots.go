package desk

import (
	"context"
	"net/http"
	"runtime"
	"sync"
)

// class is how soon a computation is wanted: what moves with the hand first.
type class int

const (
	moving class = iota // while a handle is dragged
	drawn               // tiles of the map
	long                // all else
	classes
)

// mostWaiting is how many computations may wait: a screen full of tiles at the
// finest, three times over.
const mostWaiting = 256

// slots lets at most as many computations run as there are cores, and of the long
// ones always one fewer, so that a core is left for the hand.
type slots struct {
	mutex   sync.Mutex
	free    int
	long    int // long ones that may still begin
	waiting [classes][]chan struct{}
}

func newSlots() *slots {
	n := runtime.GOMAXPROCS(0)
	return &slots{free: n, long: max(1, n-1)}
}

// acquire waits for a slot and gives what releases it.
func (s *slots) acquire(ctx context.Context, c class) (release func(), err error) {
	s.mutex.Lock()
	if s.may(c) {
		s.take(c)
		s.mutex.Unlock()
		return func() { s.release(c) }, nil
	}
	n := 0
	for _, list := range s.waiting {
		n += len(list)
	}
	if n >= mostWaiting {
		s.mutex.Unlock()
		return nil, faultf(http.StatusServiceUnavailable, "busy", "too many questions at once: ask again in a moment")
	}
	turn := make(chan struct{})
	s.waiting[c] = append(s.waiting[c], turn)
	s.mutex.Unlock()
	select {
	case <-turn:
		return func() { s.release(c) }, nil
	case <-ctx.Done():
	}
	s.mutex.Lock()
	defer s.mutex.Unlock()
	for i, w := range s.waiting[c] {
		if w == turn {
			s.waiting[c] = append(s.waiting[c][:i:i], s.waiting[c][i+1:]...)
			return nil, ctx.Err()
		}
	}
	s.give(c) // it came just now
	return nil, ctx.Err()
}

func (s *slots) may(c class) bool { return s.free > 0 && (c != long || s.long > 0) }

func (s *slots) take(c class) {
	s.free--
	if c == long {
		s.long--
	}
}

func (s *slots) release(c class) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	s.give(c)
}

// give frees a slot and hands on what is free, to what is wanted soonest.
func (s *slots) give(c class) {
	s.free++
	if c == long {
		s.long++
	}
	for c := range classes {
		for len(s.waiting[c]) > 0 && s.may(c) {
			s.take(c)
			close(s.waiting[c][0])
			s.waiting[c] = s.waiting[c][1:]
		}
	}
}
