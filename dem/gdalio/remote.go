package gdalio

import (
	"context"
	"fmt"
	"net/url"
	"runtime"
	"strings"
	"sync"
	"time"

	"crowline/dem"
	"crowline/dem/web"
)

// RemoteOptions bound the waiting for a server. The zero value is usable.
type RemoteOptions struct {
	// Connect is how long a connection may take; default when zero: 10 s.
	Connect time.Duration
	// Request is how long one request may take; default when zero: 60 s.
	Request time.Duration
	// Stall ends a request that brings less than a kilobyte a second for so
	// long; default when zero: 15 s.
	Stall time.Duration
	// Retries is how often a request that failed for a passing reason (a
	// status of 429, 502, 503 or 504, a broken connection) is made again, a
	// second later and then twice as long each time; default when zero: 3,
	// none when negative.
	Retries int
	// CacheFolder keeps the blocks that were read on disk, for the next run;
	// default when "": none are kept.
	CacheFolder string
	// CacheBytes is what the blocks of all files may take there; default when
	// zero: 512 MiB.
	CacheBytes int64
}

// IsAddress reports whether a path is the address of a file on a web server.
func IsAddress(path string) bool {
	return strings.HasPrefix(path, "http://") || strings.HasPrefix(path, "https://")
}

// Remote is an elevation file on a web server, of which only the blocks
// asked for are fetched, by range requests; of a GeoTIFF that is not
// compressed only their rows. So a window costs its blocks as they are
// packed: a leg of 10 km over posts 30 m apart crosses one to four blocks of
// 512 x 512, some 200 kB each for packed whole metres of steep ground, 400 kB
// for packed floats (measured: testdata/bench, http). A block is always
// fetched whole: its first rows could be had for less, but a damaged block is
// noticed only by what stands at its end. What was fetched is kept in
// memory, up to 16 MB for all files together, until the process ends, and on
// disk if RemoteOptions.CacheFolder says where: then for as long as the
// server's file keeps its length, entity tag, date and first bytes. A file
// that changes while it is open is refused from then on: no answer is of two
// files. One whose server gives neither tag nor date is told from a later one
// by its length and first bytes alone: Info says so, and blocks of it on disk
// are believed for an hour. Safe for concurrent use.
//
// A cancelled read returns at once and ends its request.
type Remote struct {
	raster   *Raster
	file     *remoteFile
	opts     RemoteOptions
	cache    *blockCache // nil for none
	warnings int         // there were when it was opened

	reading sync.Mutex // held while GDAL makes requests, which are of one context
}

var _ dem.Source = (*Remote)(nil)

// unvalidatedAge is how long blocks on disk are believed of a file whose
// server does not say when it changed. Elevation data changes rarely, and
// someone who plans a day asks for the same ground within an hour.
const unvalidatedAge = time.Hour

// OpenURL opens a file at an http or https address. A cloud-optimised
// GeoTIFF costs a few tens of kilobytes to open; other formats may be read
// through from end to end. Errors and Info hold the address without a user's
// name, password or key.
func OpenURL(ctx context.Context, address string, opts Options, limits RemoteOptions) (*Remote, error) {
	file, err := openAddress(ctx, address, limits)
	if err != nil {
		return nil, err
	}
	return openRemote(ctx, address, file, opts, limits)
}

// openAddress asks the server for the file's first bytes.
func openAddress(ctx context.Context, address string, limits RemoteOptions) (*web.File, error) {
	u, err := url.Parse(address)
	if err != nil || u.Host == "" || !IsAddress(address) {
		return nil, fmt.Errorf("%s is not an http or https address", web.Shown(address))
	}
	if hasEnding(u.Path, ".zip") || hasEnding(u.Path, ".gz") {
		return nil, fmt.Errorf("%s is packed, so it cannot be read in parts; fetch it and give the file", web.Shown(address))
	}
	file, err := web.OpenFile(ctx, address, limits.web())
	if err != nil {
		return nil, remoteError(ctx, web.Shown(address), err)
	}
	return file, nil
}

// openRemote opens a file that openAddress found, perhaps some time ago.
func openRemote(ctx context.Context, address string, found *web.File, opts Options, limits RemoteOptions) (*Remote, error) {
	u, err := url.Parse(address)
	if err != nil {
		return nil, fmt.Errorf("%s is not an http or https address", web.Shown(address))
	}
	name := web.Shown(address)
	return abandonable(ctx, name, func() (*Remote, error) {
		defer noSideFiles()()
		file := newRemoteFile(found, u)
		file.begin(ctx)
		r, err := open(input{path: file.path}, name, opts)
		if failed := file.failed(); failed != nil {
			if err == nil {
				r.Close()
			}
			file.close()
			return nil, remoteError(ctx, name, failed)
		}
		if err != nil {
			virtual := beginsVirtual(file.path)
			file.close()
			if virtual {
				return nil, fmt.Errorf("%s is a virtual raster, and none is opened from an address: it may name any file; give the addresses of the files it joins", name)
			}
			return nil, err
		}
		r.fromServer(file)
		r.info.Name = strings.Split(r.info.Name, "?")[0]
		if !found.Validated() {
			r.info.Warnings = append(r.info.Warnings, "the server does not say when the file was last changed: a change is noticed only where its length changes too, and what was read in the hour before is used again")
		}
		remote := &Remote{raster: r, file: file, opts: limits, warnings: len(r.Info().Warnings)}
		if limits.CacheFolder != "" {
			identity := fmt.Sprintln(dem.BlockColumns, dem.BlockRows, found.Identity(), opts, r.header.columns, r.header.rows, r.header.geotransform, r.header.typeName, r.header.scale, r.header.offset)
			remote.cache = newBlockCache(limits.CacheFolder, identity, limits.CacheBytes)
			if !found.Settled() {
				remote.cache.believed = unvalidatedAge
			}
		}
		return remote, nil
	}, func(r *Remote) { r.Close() })
}

// remoteError says which file a request failed for.
func remoteError(ctx context.Context, name string, err error) error {
	if ctx.Err() != nil {
		return fmt.Errorf("%s: reading stopped: %w", name, ctx.Err())
	}
	return fmt.Errorf("%s: %w", name, err)
}

// abandonable runs work on a thread of its own and stops waiting for it when
// ctx ends; late is given what then comes of it.
func abandonable[T any](ctx context.Context, name string, work func() (T, error), late func(T)) (T, error) {
	var none T
	if err := ctx.Err(); err != nil {
		return none, fmt.Errorf("%s: reading stopped: %w", name, err)
	}
	type outcome struct {
		value T
		err   error
	}
	done := make(chan outcome, 1)
	go func() {
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		v, err := work()
		done <- outcome{v, err}
	}()
	select {
	case o := <-done:
		return o.value, o.err
	case <-ctx.Done():
		go func() {
			if o := <-done; o.err == nil {
				late(o.value)
			}
		}()
		return none, fmt.Errorf("%s: reading stopped: %w", name, ctx.Err())
	}
}

// web is the limits as the package web has them.
func (o RemoteOptions) web() web.FileOptions {
	usual := func(d, usual time.Duration) time.Duration {
		if d <= 0 {
			return usual
		}
		return d
	}
	return web.FileOptions{
		Client:  web.NewClient(o.Connect, true),
		Limits:  web.Limits{Request: usual(o.Request, time.Minute), Stall: usual(o.Stall, 15*time.Second), Slow: usual(o.Stall, 15*time.Second)},
		Retries: o.Retries,
	}
}

// noSideFiles keeps GDAL on the calling thread, which must be locked, from
// looking for side files, and returns what undoes it.
func noSideFiles() func() {
	const key = "GDAL_DISABLE_READDIR_ON_OPEN"
	threadOption(key, "EMPTY_DIR")
	return func() { threadOption(key, "") }
}

// Info describes the data.
func (r *Remote) Info() dem.Info { return r.raster.Info() }

// Layout says where all posts stand.
func (r *Remote) Layout() *dem.Frame { return r.raster.Layout() }

// Read fetches what a window needs and is not yet here.
func (r *Remote) Read(ctx context.Context, w dem.Window) (*dem.Grid, error) {
	return abandonable(ctx, r.raster.name, func() (*dem.Grid, error) {
		if r.cache != nil {
			return r.readCached(ctx, w)
		}
		return r.fetch(ctx, w)
	}, func(*dem.Grid) {})
}

// fetch reads a window by requests for what is not in memory.
func (r *Remote) fetch(ctx context.Context, w dem.Window) (*dem.Grid, error) {
	r.reading.Lock()
	defer r.reading.Unlock()
	defer noSideFiles()()
	r.file.begin(ctx)
	g, err := r.raster.Read(ctx, w)
	if failed := r.file.failed(); failed != nil {
		return nil, remoteError(ctx, r.raster.name, failed)
	}
	return g, err
}

// Close frees it, once a read under way has ended.
func (r *Remote) Close() error {
	go func() {
		r.reading.Lock()
		defer r.reading.Unlock()
		r.raster.Close()
		r.file.close()
	}()
	return nil
}
