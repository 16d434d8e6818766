package dem

import (
	"context"
	"sync"
)

// InTurn is a source that several goroutines may read at once: they take turns.
// It takes over the source's Close.
func InTurn(source Source) Source { return &inTurn{Source: source} }

type inTurn struct {
	Source
	mutex sync.Mutex
}

// Info is the source's.
func (s *inTurn) Info() Info {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	return s.Source.Info()
}

// Read is the source's, one window at a time.
func (s *inTurn) Read(ctx context.Context, w Window) (*Grid, error) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	if err := ctx.Err(); err != nil { // it waited for its turn
		return nil, err
	}
	return s.Source.Read(ctx, w)
}

// ReadRows is Rows for the source: its turn lasts until the last row has been
// used, so use must not read the source itself.
func (s *inTurn) ReadRows(ctx context.Context, w Window, use func(posts []float32) error) error {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	return Rows(ctx, s.Source, w, use)
}
