package fetch

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/web"
	"crowline/dem/workers"
)

// Options tells Get how to fetch. The zero value is usable but for Folder.
type Options struct {
	// Folder is where tiles go; it is made if need be.
	Folder string
	// Open opens a fetched file as elevation data. A tile is kept only when
	// every post of it can be read, and it lies where its name says, with the
	// source's spacing. When nil tiles are not opened, and one whose server
	// does not tell its length is refused.
	Open func(ctx context.Context, path string) (dem.Source, error)
	// Client makes the requests; default when nil: web.NewClient's, which
	// uses no connection again.
	Client *http.Client
	// Stall is how long a server may send nothing; default when zero: 30 s.
	Stall time.Duration
	// LeastRate is what a server must send, bytes a second, in every stretch
	// of Slow; default when zero: 1000 in 60 s.
	LeastRate int64
	Slow      time.Duration
	// Retries is how often a request that failed for a passing reason is
	// made again; default when zero: 4, none when negative.
	Retries int
	// RetryDelay is the wait before the first retry, twice as long each time;
	// default when zero: 1 s.
	RetryDelay time.Duration
	// MaxTiles is the most tiles one call fetches; default when zero: 100.
	MaxTiles int
	// DryRun fetches nothing and writes nothing: the servers are asked how large
	// the tiles are.
	DryRun bool
	// Together is how many tiles are fetched at once; default when zero: 2.
	Together int
	// Progress, if not nil, is told how many bytes of the tiles are here, from
	// one goroutine at a time; done never falls, and the last call has done
	// == total. Tiles whose size the server does not tell count as nothing.
	Progress func(done, total int64)
}

func (o Options) withDefaults() (Options, error) {
	if o.Folder == "" {
		return o, errors.New("no folder given to put tiles in")
	}
	if o.Client == nil {
		o.Client = web.NewClient(0, false)
	}
	if o.Stall <= 0 {
		o.Stall = 30 * time.Second
	}
	switch {
	case o.Retries == 0:
		o.Retries = 4
	case o.Retries < 0:
		o.Retries = 0
	}
	if o.RetryDelay <= 0 {
		o.RetryDelay = time.Second
	}
	if o.MaxTiles <= 0 {
		o.MaxTiles = 100
	}
	if o.Together <= 0 {
		o.Together = 2
	}
	return o, nil
}

// File is a tile in the folder.
type File struct {
	Tile Tile
	Path string
	// Bytes is its size and SHA256 its checksum, hexadecimal.
	Bytes  int64
	SHA256 string
	// Already is true for a file that was here, whole, before.
	Already bool
	// Checked is true when the publisher's checksum was compared.
	Checked bool
}

// Result is what Get did.
type Result struct {
	// Files are the tiles now in the folder, in the order of Source.Tiles.
	Files []File
	// Planned are the tiles a dry run would have fetched, with the sizes their
	// servers tell, 0 where one tells none.
	Planned []File
	// None are tiles the publisher does not have: sea, or beyond the data.
	None []Tile
	// Licence is the path of the file that says what the data may be used
	// for.
	Licence string
	// Bytes counts what was fetched now.
	Bytes int64
}

// Get fetches the tiles of a source that hold ground within radius metres of
// a place. A tile that cannot be had does not keep the others from being
// fetched: the error, which comes after them, names the first such tile, counts
// them, and says what to do. Tiles already whole stay, and so does what was
// fetched of the others; the next call goes on from there. ctx is looked at all
// the time.
func Get(ctx context.Context, source Source, around geodesy.LatLon, radius float64, opts Options) (*Result, error) {
	opts, err := opts.withDefaults()
	if err != nil {
		return nil, err
	}
	tiles, err := source.Tiles(around, radius)
	if err != nil {
		return nil, err
	}
	if len(tiles) > opts.MaxTiles {
		return nil, fmt.Errorf("that is %d tiles of %s, and at most %d are fetched at once; take a smaller radius", len(tiles), source.Title, opts.MaxTiles)
	}
	g := &getter{source: source, opts: opts}
	if err := checkLicence(licencePath(opts.Folder, source)); err != nil {
		return nil, err
	}
	states, err := g.plan(ctx, tiles)
	if err != nil {
		return nil, err
	}
	result := &Result{}
	wanted := 0
	for _, s := range states {
		switch {
		case s.none:
			result.None = append(result.None, s.tile)
			continue
		case opts.DryRun && s.file.Already:
			result.Files = append(result.Files, s.file)
		case opts.DryRun:
			result.Planned = append(result.Planned, File{Tile: s.tile, Path: filepath.Join(opts.Folder, s.tile.Name), Bytes: s.size})
		}
		wanted++
	}
	if wanted == 0 {
		return nil, fmt.Errorf("%s has no tile within %.0f m of %s: it covers %s", source.Title, radius, around, orUnknown(source.Coverage))
	}
	if opts.DryRun {
		return result, failures(states)
	}
	if err := os.MkdirAll(opts.Folder, 0o755); err != nil {
		return nil, diskError(opts.Folder, err)
	}
	if result.Licence, err = writeLicence(opts.Folder, source); err != nil {
		return nil, err
	}
	if err := g.fetchAll(ctx, states); err != nil {
		return nil, err
	}
	for _, s := range states {
		if !s.none {
			result.Files = append(result.Files, s.file)
			if !s.file.Already {
				result.Bytes += s.fetched
			}
		}
	}
	g.finish()
	return result, nil
}

func orUnknown(s string) string {
	if s == "" {
		return "ground its publisher tells"
	}
	return s
}

// state is a tile on its way.
type state struct {
	tile    Tile
	none    bool
	size    int64 // by the server, 0 unknown
	ask     bool  // it again
	file    File
	fetched int64
	failed  error // why it cannot be had
}

type getter struct {
	source Source
	opts   Options

	answered atomic.Bool // some server has

	mutex       sync.Mutex
	done, total int64
}

// plan finds which tiles are here already and how large the others are.
func (g *getter) plan(ctx context.Context, tiles []Tile) ([]*state, error) {
	states := make([]*state, len(tiles))
	for i, t := range tiles {
		s := &state{tile: t}
		states[i] = s
		path := filepath.Join(g.opts.Folder, t.Name)
		if sum, bytes, ok := whole(ctx, path); ok {
			// Its checksum may be of an incomplete tile, or somebody's own.
			if err := g.inspect(ctx, t, path); err != nil && ctx.Err() == nil {
				return nil, fmt.Errorf("%s is here already, but: %w; delete it to fetch it again, or name another folder", path, err)
			}
			s.file = File{Tile: t, Path: path, Bytes: bytes, SHA256: sum, Already: true}
			s.size = bytes
		} else {
			if ctx.Err() != nil {
				return nil, stopped(ctx)
			}
			err := checkPlace(ctx, path)
			if err != nil {
				return nil, err
			}
			if s.size, s.none, s.failed = g.size(ctx, t); s.failed != nil && (ctx.Err() != nil || errors.Is(s.failed, web.ErrNoNetwork)) {
				return nil, s.failed // the others would fail alike
			}
		}
		g.total += s.size
	}
	for _, s := range states {
		if s.file.Already {
			g.add(s.size)
		}
	}
	return states, nil
}

// fetchAll fetches what is not here, some tiles at once. A disk that cannot be
// written stops the rest, those under way too; a tile that cannot be had does not.
func (g *getter) fetchAll(ctx context.Context, states []*state) error {
	var missing []*state
	for _, s := range states {
		if !s.none && !s.file.Already && s.failed == nil {
			missing = append(missing, s)
		}
	}
	fetching, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	err := workers.Each(fetching, len(missing), g.opts.Together, func(_, i int) error {
		err := g.fetch(fetching, missing[i])
		if err != nil && isOfDisk(err) {
			cancel(err)
			return err
		}
		missing[i].failed = err
		return nil
	})
	switch {
	case ctx.Err() != nil:
		return stopped(ctx)
	case err != nil:
		return context.Cause(fetching)
	}
	return failures(states)
}

// failures is the first reason why a tile cannot be had, with how many cannot;
// nil when all can.
func failures(states []*state) error {
	var first error
	failed, whole := 0, 0
	for _, s := range states {
		switch {
		case s.failed == nil && !s.none:
			whole++
		case s.failed != nil:
			if failed++; first == nil {
				first = s.failed
			}
		}
	}
	switch {
	case failed == 0:
		return nil
	case failed+whole == 1:
		return first
	}
	return fmt.Errorf("%d of %d tiles could not be fetched, and the same command tries them again; the first: %w", failed, failed+whole, first)
}

func stopped(ctx context.Context) error {
	return fmt.Errorf("fetching stopped; what came so far is kept: %w", ctx.Err())
}

// add counts bytes that are here.
func (g *getter) add(n int64) {
	g.mutex.Lock()
	defer g.mutex.Unlock()
	g.done += n
	if g.opts.Progress != nil && n > 0 {
		g.opts.Progress(min(g.done, g.total), g.total)
	}
}

func (g *getter) finish() {
	g.mutex.Lock()
	defer g.mutex.Unlock()
	if g.opts.Progress != nil && g.done != g.total {
		g.opts.Progress(g.total, g.total)
	}
}
