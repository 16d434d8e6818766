package gdalio

import (
	"archive/tar"
	"archive/zip"
	"bufio"
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"
)

// Bounds on an archive: what is gone through of one that is packed as a whole
// (.tar.gz), which must be unpacked to find anything, how many files it may list,
// and how many elevation files are joined.
const (
	maxThrough = 2 << 30
	maxListed  = 100_000
	maxJoined  = 200
)

// errThrough is of a tar file that unpacks without end.
var errThrough = fmt.Errorf("it unpacks to more than %d MiB: unpack it into a folder and give that", maxThrough>>20)

// packedFile is a file in an archive.
type packedFile struct {
	name string
	size int64
}

// archive is a zip or tar file.
type archive interface {
	// list names its files.
	list(ctx context.Context) ([]packedFile, error)
	// read reads the files that are wanted, all of them limit bytes at the most.
	read(ctx context.Context, wanted map[string]bool, limit int64) (map[string][]byte, error)
}

// openArchive opens a zip or tar file; nil for what is neither.
func openArchive(file string) (a archive, done func(), err error) {
	if err := checkFile(file); err != nil {
		return nil, nil, err
	}
	f, err := os.Open(file)
	if err != nil {
		return nil, nil, errors.Unwrap(err)
	}
	done = func() { f.Close() }
	head := make([]byte, 512)
	n, _ := f.ReadAt(head, 0)
	head = head[:n]
	if isGzip(head) {
		t := &tarball{packed: true, open: func() (io.Reader, func(), error) {
			if _, err := f.Seek(0, io.SeekStart); err != nil {
				return nil, nil, err
			}
			z, err := gzip.NewReader(bufio.NewReaderSize(f, 1<<16))
			if err != nil {
				return nil, nil, damaged("it cannot be unpacked")
			}
			return z, func() {}, nil
		}}
		if z, _, err := t.open(); err == nil {
			inside := make([]byte, 512)
			n, _ := io.ReadFull(z, inside)
			if isTar(inside[:n]) {
				return t, done, nil
			}
		}
		return nil, done, nil
	}
	if isTar(head) || hasEnding(file, ".tar") && !isZip(head) {
		return &tarball{open: func() (io.Reader, func(), error) {
			_, err := f.Seek(0, io.SeekStart)
			return f, func() {}, err
		}}, done, nil
	}
	if !isZip(head) && !hasEnding(file, ".zip") {
		return nil, done, nil
	}
	stat, err := f.Stat()
	if err != nil {
		return nil, done, err
	}
	z, err := zip.NewReader(f, stat.Size())
	if err != nil {
		return nil, done, damaged("it is no whole zip file")
	}
	return zipFile{z}, done, nil
}

func isGzip(head []byte) bool { return bytes.HasPrefix(head, []byte{0x1f, 0x8b}) } // RFC 1952, section 2.3.1

// isTar tells a tar file by its first header (POSIX.1-1988 and later).
func isTar(head []byte) bool { return len(head) >= 262 && string(head[257:262]) == "ustar" }

// isPackedName reports whether a name is one of packed files.
func isPackedName(file string) bool {
	return slices.ContainsFunc([]string{".zip", ".gz", ".tgz", ".tar"}, func(e string) bool { return hasEnding(file, e) })
}

// zipFile is a zip file.
type zipFile struct{ z *zip.Reader }

func (z zipFile) list(context.Context) (files []packedFile, err error) {
	if len(z.z.File) > maxListed {
		return nil, fmt.Errorf("it lists %d files, more than %d: unpack it into a folder and give that", len(z.z.File), maxListed)
	}
	for _, f := range z.z.File {
		if f.Mode().IsRegular() {
			files = append(files, packedFile{f.Name, int64(min(f.UncompressedSize64, 1<<62))})
		}
	}
	return files, nil
}

func (z zipFile) read(ctx context.Context, wanted map[string]bool, limit int64) (map[string][]byte, error) {
	out := map[string][]byte{}
	for _, f := range z.z.File {
		if !wanted[f.Name] || out[f.Name] != nil {
			continue
		}
		if f.UncompressedSize64 > uint64(limit) {
			return nil, errTooLarge
		}
		body, err := f.Open()
		if err != nil {
			return nil, damaged("it cannot be unpacked")
		}
		data, err := readMember(ctx, body, limit)
		body.Close()
		if err != nil {
			return nil, err
		}
		out[f.Name] = data
		limit -= int64(len(data))
	}
	return out, nil
}

// tarball is a tar file, which has no list: it is gone through for it.
type tarball struct {
	open   func() (io.Reader, func(), error)
	packed bool // as a whole
}

// through goes through a tar file.
func (t *tarball) through(ctx context.Context, visit func(h *tar.Header, body io.Reader) (more bool, err error)) error {
	r, done, err := t.open()
	if err != nil {
		return err
	}
	defer done()
	if t.packed { // to skip a file is to unpack it
		r = &counted{ctx: ctx, r: r, left: maxThrough}
	}
	in := tar.NewReader(r)
	for n := 0; ; n++ {
		h, err := in.Next()
		switch {
		case errors.Is(err, io.EOF):
			// what is packed has its checksum behind the tar file's end
			if _, err := io.Copy(io.Discard, r); t.packed && err != nil && ctx.Err() == nil && !errors.Is(err, errThrough) {
				return damaged("what it holds does not match its checksum")
			}
			return nil
		case ctx.Err() != nil:
			return fmt.Errorf("reading stopped: %w", ctx.Err())
		case errors.Is(err, errThrough):
			return errThrough
		case errors.Is(err, gzip.ErrChecksum):
			return damaged("what it holds does not match its checksum")
		case err != nil:
			return damaged("it is no whole tar file")
		case n == maxListed:
			return fmt.Errorf("it lists more than %d files: unpack it into a folder and give that", maxListed)
		}
		if h.Typeflag != tar.TypeReg || !h.FileInfo().Mode().IsRegular() {
			continue
		}
		if more, err := visit(h, in); err != nil || !more {
			return err
		}
	}
}

// counted is a reader that ends with an error after so many bytes, and with ctx.
type counted struct {
	ctx  context.Context
	r    io.Reader
	left int64
}

func (c *counted) Read(b []byte) (int, error) {
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	if c.left <= 0 {
		return 0, errThrough
	}
	n, err := c.r.Read(b[:min(int64(len(b)), c.left)])
	c.left -= int64(n)
	return n, err
}

func (t *tarball) list(ctx context.Context) (files []packedFile, err error) {
	err = t.through(ctx, func(h *tar.Header, _ io.Reader) (bool, error) {
		files = append(files, packedFile{h.Name, h.Size})
		return true, nil
	})
	return files, err
}

func (t *tarball) read(ctx context.Context, wanted map[string]bool, limit int64) (map[string][]byte, error) {
	out := map[string][]byte{}
	err := t.through(ctx, func(h *tar.Header, body io.Reader) (bool, error) {
		if !wanted[h.Name] || out[h.Name] != nil {
			return true, nil
		}
		if h.Size > limit {
			return false, errTooLarge
		}
		data, err := readMember(ctx, body, limit)
		if err != nil {
			return false, err
		}
		out[h.Name] = data
		limit -= int64(len(data))
		return true, nil // to the end, where the checksum of what is packed is
	})
	return out, err
}

// groundsOf are the elevation files of an archive: by their endings, and the
// headers of Esri's grid folders.
func groundsOf(files []packedFile) (grounds []string) {
	for _, f := range files {
		name := strings.ToLower(path.Base(f.name))
		if strings.HasPrefix(name, ".") || strings.HasPrefix(f.name, "__MACOSX/") || isPackedName(name) {
			continue
		}
		if name == gridHeaderName || slices.ContainsFunc(tileEndings, func(e string) bool { return strings.HasSuffix(name, e) }) {
			grounds = append(grounds, f.name)
		}
	}
	return grounds
}

// unpack reads an elevation file out of an archive or a gzip file: the one named,
// else the only one there is.
func unpack(ctx context.Context, file, member string) (input, error) {
	a, done, err := openArchive(file)
	if done != nil {
		defer done()
	}
	if err != nil {
		return input{}, err
	}
	if a != nil {
		return unpackFrom(ctx, a, member)
	}
	f, err := os.Open(file)
	if err != nil {
		return input{}, errors.Unwrap(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		return input{}, damaged("it cannot be unpacked")
	}
	data, err := readMember(ctx, z, maxUnpacked)
	if err != nil {
		return input{}, err
	}
	return prepareBytes(ctx, strings.TrimSuffix(file, filepath.Ext(file)), data)
}

// unzip is unpack for a zip file that is open.
func unzip(ctx context.Context, r io.ReaderAt, size int64, member string) (input, error) {
	z, err := zip.NewReader(r, size)
	if err != nil {
		return input{}, damaged("it is no whole zip file")
	}
	return unpackFrom(ctx, zipFile{z}, member)
}

// unpackFrom reads a member of an archive, with what lies beside it there. Every
// byte is held to the archive's checksums, where it has any.
func unpackFrom(ctx context.Context, a archive, member string) (input, error) {
	files, err := a.list(ctx)
	if err != nil {
		return input{}, err
	}
	grounds := groundsOf(files)
	switch {
	case member != "" && !slices.ContainsFunc(files, func(f packedFile) bool { return f.name == member }):
		return input{}, fmt.Errorf("there is no %s in it", shortened(member))
	case member != "":
	case len(grounds) == 0:
		return input{}, noGround(files)
	case len(grounds) > 1:
		return input{}, fmt.Errorf("%d elevation files are in it, %s first: unpack it into a folder and give that", len(grounds), shortened(grounds[0]))
	default:
		member = grounds[0]
	}
	base, folder := path.Base(member), path.Dir(member)
	own := strings.TrimSuffix(base, path.Ext(base))
	isGrid := strings.EqualFold(base, gridHeaderName)
	wanted := map[string]bool{member: true}
	for _, f := range files {
		name := path.Base(f.name)
		if path.Dir(f.name) == folder && (strings.HasPrefix(name, own+".") || isGrid && hasEnding(name, ".adf")) &&
			!slices.ContainsFunc(sideFiles, func(e string) bool { return hasEnding(name, e) }) {
			wanted[f.name] = true
		}
	}
	found, err := a.read(ctx, wanted, maxUnpacked)
	if err != nil {
		return input{}, err
	}
	names, data := []string{base}, map[string][]byte{base: found[member]}
	for _, f := range files {
		name := path.Base(f.name)
		if body := found[f.name]; f.name != member && len(body) > 0 && data[name] == nil {
			if isGrid {
				name = strings.ToLower(name)
			}
			names, data[name] = append(names, name), body
		}
	}
	if isGrid {
		data[gridHeaderName], names[0] = data[base], gridHeaderName
	}
	if head := data[base][:min(len(data[base]), 512)]; isASCIIGrid(head) {
		beside := map[string][]byte{".prj": data[own+".prj"], ".aux.xml": data[base+".aux.xml"]}
		return readASCIIGrid(ctx, bytes.NewReader(data[base]), own, beside)
	}
	return inMemory(names, data)
}

// noGround says what is in an archive in place of an elevation file.
func noGround(files []packedFile) error {
	for _, f := range files {
		if kind := kindByName(f.name); kind != "" {
			return fmt.Errorf("no elevation file is in it: %s is %s", shortened(f.name), kind)
		}
	}
	return errors.New("no elevation file is in it")
}

// insideArchive parts a path that goes on inside an archive, tiles.zip/a.tif, into
// both; member is "" where it does not.
func insideArchive(file string) (archive, member string) {
	if _, err := os.Stat(file); err == nil || IsAddress(file) || strings.HasPrefix(file, "/vsi") {
		return file, ""
	}
	for at := filepath.Dir(file); at != "." && at != string(filepath.Separator); at = filepath.Dir(at) {
		if stat, err := os.Stat(at); err == nil {
			if stat.Mode().IsRegular() && isPackedName(at) {
				return at, filepath.ToSlash(strings.TrimPrefix(file[len(at):], string(filepath.Separator)))
			}
			return file, ""
		}
	}
	return file, ""
}

// listings are what archives hold, by path and stamp, so that one is gone through
// once a run.
var listings sync.Map

type listingKey struct {
	path string
	stamp
}

// packedGrounds are the elevation files in an archive, as paths; nil for what is
// no archive or cannot be read, which opening it says.
func packedGrounds(ctx context.Context, file string) (paths []string) {
	if IsAddress(file) || !isPackedName(file) {
		return nil
	}
	stamp, err := stampOf(file)
	if err != nil {
		return nil
	}
	key := listingKey{absolute(file), stamp}
	if known, ok := listings.Load(key); ok {
		return slices.Clone(known.([]string))
	}
	a, done, err := openArchive(file)
	if done != nil {
		defer done()
	}
	if err != nil || a == nil {
		return nil
	}
	files, err := a.list(ctx)
	if err != nil {
		return nil
	}
	for _, name := range groundsOf(files) {
		paths = append(paths, file+string(filepath.Separator)+filepath.FromSlash(name))
	}
	listings.Store(key, slices.Clone(paths))
	return paths
}

// HoldsMany reports whether a path stands for many files: NamesMany, or an archive
// with more than one elevation file in it.
func HoldsMany(path string) bool {
	return NamesMany(path) || len(packedGrounds(context.Background(), path)) > 1
}

// gridHeaderName is the file of an Esri grid folder by which it is known.
const gridHeaderName = "hdr.adf"

// gridHeader is the header of an Esri grid folder, and any other path itself.
func gridHeader(path string) string {
	if header := filepath.Join(path, gridHeaderName); isGridFolder(path) {
		return header
	}
	return path
}

// isGridFolder reports whether a folder is an Esri grid.
func isGridFolder(path string) bool {
	stat, err := os.Stat(filepath.Join(path, gridHeaderName))
	return err == nil && stat.Mode().IsRegular()
}
