package gdalio

/*
#include <stdlib.h>
#include "remotefile.h"
*/
import "C"

import (
	"container/list"
	"context"
	"fmt"
	"net/url"
	"path"
	"strings"
	"sync"
	"unsafe"

	"crowline/dem/web"
)

func init() {
	if C.gdalio_remote_install() != 0 {
		panic("gdalio: GDAL takes no file system of ours")
	}
}

// remoteFile is a file on a web server as GDAL reads it: by name, through the
// functions at the end of this file.
type remoteFile struct {
	web  *web.File
	path string // GDAL's name of it

	mutex sync.Mutex
	ctx   context.Context // of what GDAL does now
	err   error           // of the first request that failed meanwhile
}

// remoteFiles is the open ones, by what stands after GDALIO_REMOTE in their
// path.
var remoteFiles = struct {
	sync.Mutex
	last  int64
	names map[string]int64
	files map[int64]*remoteFile
}{names: map[string]int64{}, files: map[int64]*remoteFile{}}

// newRemoteFile gives a file a path of GDAL's, which ends as its address does:
// some formats are known by their name.
func newRemoteFile(w *web.File, u *url.URL) *remoteFile {
	name := strings.Map(func(r rune) rune {
		if r < ' ' || r == '/' || r == '\\' || r == '{' || r == '}' {
			return '_'
		}
		return r
	}, path.Base("/"+u.Path))
	remoteFiles.Lock()
	defer remoteFiles.Unlock()
	remoteFiles.last++
	id := remoteFiles.last
	key := fmt.Sprintf("%d/%s", id, name)
	f := &remoteFile{web: w, path: C.GDALIO_REMOTE + key}
	remoteFiles.names[key], remoteFiles.files[id] = id, f
	return f
}

func (f *remoteFile) close() {
	key := strings.TrimPrefix(f.path, C.GDALIO_REMOTE)
	remoteFiles.Lock()
	defer remoteFiles.Unlock()
	delete(remoteFiles.files, remoteFiles.names[key])
	delete(remoteFiles.names, key)
}

// begin says whose requests the next ones are.
func (f *remoteFile) begin(ctx context.Context) {
	f.mutex.Lock()
	defer f.mutex.Unlock()
	f.ctx, f.err = ctx, nil
}

// failed is why a request failed since begin. What GDAL made of it does not
// count: it passes over some failures.
func (f *remoteFile) failed() error {
	f.mutex.Lock()
	defer f.mutex.Unlock()
	return f.err
}

// read fills a part of memory with the file's bytes from offset on, and may
// fetch some more with them. It returns how many there are; all that lie in
// the file unless a request failed.
func (f *remoteFile) read(to []byte, offset, ahead int64) (n int) {
	f.mutex.Lock()
	ctx, err := f.ctx, f.err
	f.mutex.Unlock()
	if err != nil { // ask no more
		return 0
	}
	if n, err = keptParts.read(ctx, f.web, to, offset, ahead); err != nil {
		f.mutex.Lock()
		f.err = err
		f.mutex.Unlock()
	}
	return n
}

// Parts of files are kept in pieces of partBytes, keptBytes of all files
// together.
const (
	partBytes = 16 << 10
	keptBytes = 16 << 20
)

// parts keeps what was fetched of remote files last.
type parts struct {
	mutex  sync.Mutex
	order  *list.List // of part, the one used last in front
	places map[partKey]*list.Element
}

type partKey struct {
	file  *web.File
	index int64
}

type part16 struct {
	key  partKey
	data []byte
}

var keptParts = &parts{order: list.New(), places: map[partKey]*list.Element{}}

func (p *parts) get(key partKey) []byte {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	e := p.places[key]
	if e == nil {
		return nil
	}
	p.order.MoveToFront(e)
	return e.Value.(part16).data
}

func (p *parts) put(key partKey, data []byte) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	if p.places[key] != nil {
		return
	}
	p.places[key] = p.order.PushFront(part16{key, data})
	for p.order.Len() > keptBytes/partBytes {
		last := p.order.Back()
		delete(p.places, last.Value.(part16).key)
		p.order.Remove(last)
	}
}

// read copies bytes of a file, fetching what is not kept in as few requests
// as that takes.
func (p *parts) read(ctx context.Context, f *web.File, to []byte, offset, ahead int64) (int, error) {
	if offset < 0 || offset >= f.Size() || len(to) == 0 {
		return 0, nil
	}
	end := min(offset+int64(len(to)), f.Size())
	aheadEnd := min(max(end, offset+ahead), f.Size())
	done := 0
	copyFrom := func(index int64, data []byte) {
		if at := offset + int64(done) - index*partBytes; at < int64(len(data)) {
			done += copy(to[done:], data[at:])
		}
	}
	for at := offset; at < end; at = offset + int64(done) {
		first := at / partBytes
		data := p.get(partKey{f, first})
		if data == nil && first == 0 {
			data = f.Head()
		}
		if data != nil {
			copyFrom(first, data)
			continue
		}
		// up to the next piece that is kept
		last := first + 1
		for last*partBytes < aheadEnd && (last+1-first)*partBytes <= web.MaxPart && p.get(partKey{f, last}) == nil {
			last++
		}
		from := first * partBytes
		data, err := f.Fetch(ctx, from, min(last*partBytes, f.Size()))
		if err != nil {
			return done, err
		}
		for i := first; i < last && (i-first)*partBytes < int64(len(data)); i++ {
			piece := data[(i-first)*partBytes : min((i-first+1)*partBytes, int64(len(data)))]
			copyFrom(i, piece)
			// A copy: a kept piece must not keep the whole answer.
			p.put(partKey{f, i}, append([]byte(nil), piece...))
		}
	}
	return done, nil
}

//export crowlineRemoteFind
func crowlineRemoteFind(name *C.char, size *C.longlong) C.longlong {
	key := strings.TrimPrefix(C.GoString(name), C.GDALIO_REMOTE)
	remoteFiles.Lock()
	defer remoteFiles.Unlock()
	id, ok := remoteFiles.names[key]
	if !ok {
		return -1
	}
	*size = C.longlong(remoteFiles.files[id].web.Size())
	return C.longlong(id)
}

//export crowlineRemoteRead
func crowlineRemoteRead(id, offset, size C.longlong, to unsafe.Pointer, ahead C.longlong) C.longlong {
	remoteFiles.Lock()
	f := remoteFiles.files[int64(id)]
	remoteFiles.Unlock()
	if f == nil || size <= 0 {
		return 0
	}
	return C.longlong(f.read(unsafe.Slice((*byte)(to), int(size)), int64(offset), int64(ahead)))
}

// threadOption sets an option of GDAL's for this OS thread, which must be
// locked; "" takes it back.
func threadOption(key, value string) {
	k := C.CString(key)
	defer C.free(unsafe.Pointer(k))
	if value == "" {
		C.gdalio_thread_option(k, nil)
		return
	}
	v := C.CString(value)
	defer C.free(unsafe.Pointer(v))
	C.gdalio_thread_option(k, v)
}
