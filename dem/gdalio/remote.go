package gdalio

/*
#define _GNU_SOURCE // stat64, which GDAL's stat is
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include "cpl_conv.h"
#include "cpl_error.h"
#include "cpl_vsi.h"
#include "cpl_vsi_error.h"

static void remote_set(const char *key, const char *value) { CPLSetThreadLocalConfigOption(key, value); }

// remote_reason opens the file again only to learn why it cannot be.
static void remote_reason(const char *path, char *to, size_t n) {
	CPLPushErrorHandler(CPLQuietErrorHandler);
	CPLErrorReset();
	VSIErrorReset();
	VSILFILE *f = VSIFOpenExL(path, "rb", TRUE);
	const char *said = VSIGetLastErrorMsg();
	if (!said || !*said) said = CPLGetLastErrorMsg();
	strncpy(to, said ? said : "", n - 1);
	to[n - 1] = 0;
	if (f) VSIFCloseL(f);
	CPLPopErrorHandler();
	CPLErrorReset();
}

// remote_stat is a file's size and modification time as its server tells
// them; -1 and 0 when it does not.
static void remote_stat(const char *path, long long *size, long long *modified) {
	VSIStatBufL stat;
	CPLPushErrorHandler(CPLQuietErrorHandler);
	if (VSIStatL(path, &stat) == 0) {
		*size = (long long)stat.st_size;
		*modified = (long long)stat.st_mtime;
	} else {
		*size = -1;
		*modified = 0;
	}
	CPLPopErrorHandler();
	CPLErrorReset();
}

// remote_forget drops what is cached of a file, answers of "not there"
// included.
static void remote_forget(const char *path) { VSICurlPartialClearCache(path); }
*/
import "C"

import (
	"context"
	"fmt"
	"net"
	"net/url"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"time"
	"unsafe"

	"crowline/dem"
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
// server's file keeps its size, modification time and header. Safe for
// concurrent use.
//
// A cancelled read returns at once; the request under way is given up by its
// own time limits.
type Remote struct {
	raster   *Raster
	opts     RemoteOptions
	cache    *blockCache // nil for none
	warnings int         // there were when it was opened
}

var _ dem.Source = (*Remote)(nil)

// OpenURL opens a file at an http or https address. A cloud-optimised
// GeoTIFF costs a few tens of kilobytes to open; other formats may be read
// through from end to end.
func OpenURL(ctx context.Context, address string, opts Options, limits RemoteOptions) (*Remote, error) {
	return openURL(ctx, address, opts, limits, false)
}

// openURL is OpenURL. again is for a file opened a moment ago: its header is
// not asked for once more.
func openURL(ctx context.Context, address string, opts Options, limits RemoteOptions, again bool) (*Remote, error) {
	u, err := url.Parse(address)
	if err != nil || u.Host == "" || !IsAddress(address) {
		return nil, fmt.Errorf("%s is not an http or https address", address)
	}
	path := "/vsicurl/" + address
	return abandonable(ctx, address, func() (*Remote, error) {
		defer limits.apply(path)()
		if !again {
			forget(path)
		}
		r, err := open(path, u.Redacted(), opts)
		if err != nil {
			if beginsVirtual(path) {
				return nil, fmt.Errorf("%s is a virtual raster, and none is opened from an address: it may name any file; give the addresses of the files it joins", u.Redacted())
			}
			return nil, remoteError(u, err, openReason(path))
		}
		r.fromServer(path)
		r.info.Name = strings.Split(r.info.Name, "?")[0]
		remote := &Remote{raster: r, opts: limits, warnings: len(r.Info().Warnings)}
		if limits.CacheFolder != "" {
			if size, modified := statRemote(path); size >= 0 {
				identity := fmt.Sprintln(dem.BlockColumns, dem.BlockRows, address, size, modified, opts, r.header.columns, r.header.rows, r.header.geotransform, r.header.typeName, r.header.scale, r.header.offset)
				remote.cache = newBlockCache(limits.CacheFolder, identity, limits.CacheBytes)
			}
		}
		return remote, nil
	}, func(r *Remote) { r.Close() })
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

// apply sets GDAL's options for the calling thread, which must be locked, and
// returns what puts them back. path is GDAL's of the address to be opened: no
// other is.
func (o RemoteOptions) apply(path string) func() {
	seconds := func(d, usual time.Duration) string {
		if d <= 0 {
			d = usual
		}
		// GDAL counts whole seconds here
		return strconv.Itoa(max(1, int((d+time.Second-1)/time.Second)))
	}
	retries := o.Retries
	if retries == 0 {
		retries = 3
	}
	options := map[string]string{
		"GDAL_HTTP_CONNECTTIMEOUT":  seconds(o.Connect, 10*time.Second),
		"GDAL_HTTP_TIMEOUT":         seconds(o.Request, time.Minute),
		"GDAL_HTTP_LOW_SPEED_TIME":  seconds(o.Stall, 15*time.Second),
		"GDAL_HTTP_LOW_SPEED_LIMIT": "1000",
		"GDAL_HTTP_MAX_RETRY":       strconv.Itoa(max(0, retries)),
		"GDAL_HTTP_RETRY_DELAY":     "1",
		// No guesses at side files: each is a request.
		"GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR",
		// This address, and none that its file may name.
		"CPL_VSIL_CURL_ALLOWED_FILENAME":     path,
		"GDAL_HTTP_MERGE_CONSECUTIVE_RANGES": "YES",
	}
	for key, value := range options {
		threadOption(key, value)
	}
	return func() {
		for key := range options {
			threadOption(key, "")
		}
	}
}

// threadOption sets an option of GDAL's for this OS thread; "" takes it back.
func threadOption(key, value string) {
	k := C.CString(key)
	defer C.free(unsafe.Pointer(k))
	if value == "" {
		C.remote_set(k, nil)
		return
	}
	v := C.CString(value)
	defer C.free(unsafe.Pointer(v))
	C.remote_set(k, v)
}

func openReason(path string) string {
	p := C.CString(path)
	defer C.free(unsafe.Pointer(p))
	var text [512]C.char
	C.remote_reason(p, &text[0], C.size_t(len(text)))
	return strings.Join(strings.Fields(C.GoString(&text[0])), " ")
}

func statRemote(path string) (size, modified int64) {
	p := C.CString(path)
	defer C.free(unsafe.Pointer(p))
	var s, m C.longlong
	C.remote_stat(p, &s, &m)
	return int64(s), int64(m)
}

// forget makes the next look at a file ask its server.
func forget(path string) {
	p := C.CString(path)
	defer C.free(unsafe.Pointer(p))
	C.remote_forget(p)
}

var statusCode = regexp.MustCompile(`HTTP (?:response|error) code ?: ?(\d\d\d)`)

// remoteError puts a failure in plain words.
func remoteError(u *url.URL, err error, reason string) error {
	name := u.Redacted()
	both := reason + " " + err.Error()
	if found := statusCode.FindStringSubmatch(both); found != nil {
		switch code := found[1]; code {
		case "404", "410":
			return fmt.Errorf("%s: the server has no such file (status %s); check the address", name, code)
		case "401", "403":
			return fmt.Errorf("%s: the server does not give it out (status %s); it may want a key, or the address may be wrong", name, code)
		case "429", "500", "502", "503", "504":
			return fmt.Errorf("%s: the server cannot answer now (status %s); try again later", name, code)
		case "200", "206":
		default:
			return fmt.Errorf("%s: the server answers with status %s in place of the file; check the address", name, code)
		}
	}
	port := u.Port()
	if port == "" {
		port = map[string]string{"http": "80", "https": "443"}[u.Scheme]
	}
	if c, dialErr := net.DialTimeout("tcp", net.JoinHostPort(u.Hostname(), port), 3*time.Second); dialErr != nil {
		return fmt.Errorf("%s cannot be reached; are you online? Data fetched before still works (crowline dem get)", u.Host)
	} else {
		c.Close()
	}
	if strings.Contains(both, "Range downloading not supported") {
		return fmt.Errorf("%s: the server does not serve parts of files; fetch the whole file and give that", name)
	}
	for _, words := range []string{"timed out", "timeout", "too slow", "Operation too"} {
		if strings.Contains(both, words) {
			return fmt.Errorf("%s: the server stalled; try again later", name)
		}
	}
	if strings.Contains(both, "CURL error") {
		return fmt.Errorf("%s: the server broke off; try again later", name)
	}
	return err
}

// Info describes the data.
func (r *Remote) Info() dem.Info { return r.raster.Info() }

// Layout says where all posts stand.
func (r *Remote) Layout() *dem.Frame { return r.raster.Layout() }

// Read fetches what a window needs and is not yet here.
func (r *Remote) Read(ctx context.Context, w dem.Window) (*dem.Grid, error) {
	return abandonable(ctx, r.raster.name, func() (*dem.Grid, error) {
		defer r.opts.apply(r.raster.remote)()
		read := r.raster.Read
		if r.cache != nil {
			read = r.readCached
		}
		g, err := read(ctx, w)
		if err != nil && ctx.Err() == nil {
			if u, parseErr := url.Parse(r.raster.name); parseErr == nil {
				err = remoteError(u, err, err.Error())
			}
		}
		return g, err
	}, func(*dem.Grid) {})
}

// Close frees it, once a read under way has ended.
func (r *Remote) Close() error {
	go r.raster.Close()
	return nil
}
