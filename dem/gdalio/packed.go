package gdalio

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
)

// maxUnpacked is the most that a packed file may hold once unpacked, with
// what lies beside it, 1 GiB: it is kept in memory while it is open, and some
// hundred bytes can be packed to unpack without end.
const maxUnpacked = 1 << 30

// maxBeside bounds a small file beside an elevation file, bytes.
const maxBeside = 1 << 20

// input is what GDAL opens for a file.
type input struct {
	path    string
	folder  string   // a folder in memory to free at the end, "" for none
	driver  string   // the kind it had before it was read into memory, "" for GDAL's
	virtual bool     // path is of a virtual raster written anew
	files   []string // in memory, that it was written anew to
}

func (in input) free() {
	if in.folder != "" {
		memoryRemove(in.folder)
	}
	freeMemory(in.files)
}

var memoryFolders atomic.Int64

// inMemory puts files, by name, into a folder in memory; the first to open.
func inMemory(names []string, files map[string][]byte) (input, error) {
	in := input{folder: fmt.Sprintf("/vsimem/crowline-%d", memoryFolders.Add(1))}
	for _, name := range names {
		if name != names[0] { // as checkGridNames does for files on disk
			if err := checkGridsIn(bytes.NewReader(files[name]), sideBytes); err != nil {
				in.free()
				return input{}, fmt.Errorf("its side file %s: %w", name, err)
			}
		}
		if err := memoryFile(in.folder+"/"+name, files[name]); err != nil {
			in.free()
			return input{}, err
		}
	}
	in.path = in.folder + "/" + names[0]
	return in, nil
}

// prepare makes of a file what GDAL is to open. Files that GDAL's readers
// cannot be trusted with when damaged are read here, checked, into memory:
// ASCII grids, and what is packed in a zip or gzip file. Errors do not name
// the file.
func prepare(ctx context.Context, file string) (input, error) {
	for _, packed := range []string{"/vsizip/", "/vsigzip/", "/vsitar/"} {
		if rest, is := strings.CutPrefix(file, packed); is {
			archive, member := splitPacked(rest)
			return unpack(ctx, archive, member)
		}
	}
	if archive, member := insideArchive(file); member != "" {
		return unpack(ctx, archive, member)
	}
	file = gridHeader(file)
	if strings.HasPrefix(file, "/vsi") {
		return input{path: file}, nil
	}
	if err := checkSideFiles(file); err != nil {
		return input{}, err
	}
	if err := checkGridNames(file, false); err != nil {
		return input{}, err
	}
	if hasEnding(file, gridHeaderName) {
		if err := checkGridsInFile(filepath.Join(filepath.Dir(file), "prj.adf"), sideBytes); err != nil {
			return input{}, fmt.Errorf("its prj.adf: %w", err)
		}
	}
	if isSQLite(file) {
		if err := checkGeoPackage(file); err != nil {
			return input{}, err
		}
		return input{path: file}, nil
	}
	if isVirtual(file) {
		memory, files, err := openVirtual(file)
		return input{path: memory, virtual: true, files: files}, err
	}
	f, err := os.Open(file)
	if err != nil {
		return input{}, errors.Unwrap(err)
	}
	defer f.Close()
	head := make([]byte, 512)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return input{}, err
	}
	head = head[:n]
	switch {
	case isZip(head) || isTar(head) || isPackedName(file):
		return unpack(ctx, file, "")
	case isASCIIGrid(head):
		if _, err := f.Seek(0, io.SeekStart); err != nil {
			return input{}, err
		}
		beside := map[string][]byte{}
		for _, ending := range []string{".prj", ".PRJ"} {
			if data, err := readSmall(strings.TrimSuffix(file, filepath.Ext(file)) + ending); err == nil {
				beside[".prj"] = data
				break
			}
		}
		if data, err := readSmall(file + ".aux.xml"); err == nil {
			beside[".aux.xml"] = data
		}
		return readASCIIGrid(ctx, f, stem(file), beside)
	}
	return input{path: file}, nil
}

// prepareBytes is prepare for a file held in memory.
func prepareBytes(ctx context.Context, name string, data []byte) (input, error) {
	switch {
	case isZip(data) || hasEnding(name, ".zip"):
		return unzip(ctx, bytes.NewReader(data), int64(len(data)), "")
	case isTar(data[:min(len(data), 512)]):
		return unpackFrom(ctx, &tarball{open: func() (io.Reader, func(), error) { return bytes.NewReader(data), func() {}, nil }}, "")
	case isASCIIGrid(data[:min(len(data), 512)]):
		return readASCIIGrid(ctx, bytes.NewReader(data), stem(name), nil)
	}
	name = filepath.Base(name)
	return inMemory([]string{name}, map[string][]byte{name: data})
}

func stem(file string) string {
	base := filepath.Base(file)
	return strings.TrimSuffix(base, filepath.Ext(base))
}

func readSmall(file string) ([]byte, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	if stat, err := f.Stat(); err != nil || !stat.Mode().IsRegular() || stat.Size() > maxBeside {
		return nil, errors.New("no small file")
	}
	return io.ReadAll(io.LimitReader(f, maxBeside))
}

func isZip(head []byte) bool { return bytes.HasPrefix(head, []byte("PK\x03\x04")) }

func hasEnding(file, ending string) bool { return strings.HasSuffix(strings.ToLower(file), ending) }

// checkSource refuses as a source of a virtual raster what GDAL is not to
// read itself.
func checkSource(file string) error {
	f, err := os.Open(file)
	if err != nil {
		return nil // to be missed when it is needed
	}
	defer f.Close()
	head := make([]byte, 2*maxToken)
	n, _ := io.ReadFull(f, head)
	if isZip(head[:n]) || isTar(head[:n]) || isPackedName(file) {
		return errors.New("is packed, which a virtual raster cannot take; unpack it, or give the folder of the files in place of the virtual raster")
	}
	if isASCIIGrid(head[:n]) {
		return errors.New("is an ASCII grid, which a virtual raster cannot take; give the folder of the files in its place, or make GeoTIFFs of them (gdal_translate)")
	}
	return nil
}

// splitPacked parts GDAL's path of a file in an archive, a.zip/b.hgt or
// {a.zip}/b.hgt, into both.
func splitPacked(path string) (archive, member string) {
	if rest, is := strings.CutPrefix(path, "{"); is {
		if archive, member, found := strings.Cut(rest, "}"); found {
			return archive, strings.TrimPrefix(member, "/")
		}
	}
	for at := path; at != "" && at != "." && at != "/"; at = filepath.Dir(at) {
		if stat, err := os.Stat(at); err == nil && !stat.IsDir() {
			return at, strings.TrimPrefix(strings.TrimPrefix(path, at), "/")
		}
	}
	return path, ""
}

var errTooLarge = fmt.Errorf("it unpacks to more than %d MiB, which are kept in memory: unpack it and give what is in it", maxUnpacked>>20)

// damaged is an error of a file that is not what was written.
func damaged(what string) error { return errors.New(what + "; " + fetchAgain) }

// readMember reads what is packed to its end, where its checksum is.
func readMember(ctx context.Context, r io.Reader, limit int64) ([]byte, error) {
	var all bytes.Buffer
	for {
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("reading stopped: %w", err)
		}
		n, err := io.CopyN(&all, r, min(1<<20, limit+1-int64(all.Len())))
		switch {
		case errors.Is(err, io.EOF):
			return all.Bytes(), nil
		case errors.Is(err, zip.ErrChecksum) || errors.Is(err, gzip.ErrChecksum):
			return nil, damaged("what it holds does not match its checksum")
		case err != nil:
			return nil, damaged("part of it cannot be unpacked")
		case int64(all.Len()) > limit || n == 0:
			return nil, errTooLarge
		}
	}
}
