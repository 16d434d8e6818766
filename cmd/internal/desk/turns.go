package desk

import (
	"context"
	"net/http"
	"regexp"
	"strconv"
	"sync"
)

// turns has the latest question of a kind win: of one page one question a path is
// worked on.
type turns struct {
	mutex sync.Mutex
	pages map[string]*pageTurns
	clock int64
}

// pageTurns are those of one page, by path.
type pageTurns struct {
	used  int64 // the clock when it last asked
	paths map[string]*turn
}

type turn struct {
	number uint64
	cancel context.CancelCauseFunc
}

// mostPages is how many pages are kept apart: of more, that which has asked
// nothing for longest is forgotten.
const mostPages = 32

var pageName = regexp.MustCompile(`^[0-9A-Za-z]{1,32}$`)

// begin is the context of a question, ended when a later one of its page and path
// comes. end is to be called when it is answered.
func (t *turns) begin(ctx context.Context, r *http.Request) (context.Context, func(), *fault) {
	ctx, cancel := context.WithCancelCause(ctx)
	end := func() { cancel(nil) }
	page, text := r.Header.Get("Crowline-Page"), r.Header.Get("Crowline-Turn")
	if page == "" && text == "" {
		return ctx, end, nil
	}
	number, err := strconv.ParseUint(text, 10, 53)
	if err != nil || !pageName.MatchString(page) {
		end()
		return nil, nil, wrong("", "Crowline-Page is 1 to 32 letters and digits, Crowline-Turn a whole number")
	}
	t.mutex.Lock()
	defer t.mutex.Unlock()
	t.clock++
	p := t.pages[page]
	if p == nil {
		t.forget()
		p = &pageTurns{paths: map[string]*turn{}}
		t.pages[page] = p
	}
	p.used = t.clock
	last := p.paths[r.URL.Path]
	if last != nil {
		if number <= last.number {
			end()
			return nil, nil, faultf(http.StatusConflict, "superseded", "%v", errSuperseded)
		}
		last.cancel(errSuperseded)
	}
	p.paths[r.URL.Path] = &turn{number, cancel}
	return ctx, end, nil
}

// forget makes room for one page more.
func (t *turns) forget() {
	for len(t.pages) >= mostPages {
		oldest, used := "", t.clock+1
		for name, p := range t.pages {
			if p.used < used {
				oldest, used = name, p.used
			}
		}
		for _, turn := range t.pages[oldest].paths {
			turn.cancel(errSuperseded)
		}
		delete(t.pages, oldest)
	}
}
