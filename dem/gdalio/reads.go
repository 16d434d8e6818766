package gdalio

import (
	"bufio"
	"bytes"
	"encoding/xml"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

// Read is a file that a run reads.
type Read struct {
	// Path of it; it need not be there.
	Path string
	// Of is what it belongs to: a virtual raster, or the file beside which it
	// stands; "" for a file given itself.
	Of string
	// Listed is true of a file that was found in a folder or by a pattern.
	Listed bool
}

// Endings of files beside a raster or a vector file that are read with it or
// tell of it: in place of its own ending, and after its whole name.
var (
	endingsInPlace = []string{".prj", ".aux", ".aux.xml", ".tfw", ".tifw", ".tiffw", ".wld", ".pgw", ".jgw", ".j2w", ".blw", ".bpw", ".hdr", ".clr", ".stx",
		".ovr", ".msk", ".rrd", ".ige", ".imd", ".rpb", "_rpc.txt"}
	endingsOfShapefile = append([]string{".qix", ".sbn", ".sbx"}, shapefileSides...)
	endingsAfter       = []string{".aux.xml", ".ovr", ".msk", ".msk.ovr", ".hdr", ChecksumEnding, "-wal", "-journal", "-shm"}
)

// licence matches the names of files that say what data may be used for.
var licence = regexp.MustCompile(`(?i)^(licen[cs]e|copying|readme|notice)(\.(txt|md|pdf|json))?$|^licen[cs]e[-_].*\.txt$`)

// Reads lists the files that opening paths reads, of what paths and the headers
// of virtual rasters say alone: those named, tiles of folders and patterns, what
// virtual rasters are made of, the files beside all these, the lists of checksums
// and licences in their folders, and the indexes kept of folders. What cannot be
// looked at is left out; opening it says why.
func Reads(paths []string, opts ManyOptions) []Read {
	r := reads{seen: map[string]bool{}, folders: map[string]bool{}, names: map[string]map[string]bool{}}
	for _, path := range paths {
		switch {
		case IsAddress(path):
		case NamesMany(path):
			r.addMany(path, opts)
		default:
			r.add(onDisk(path), "", false)
		}
	}
	return r.list
}

type reads struct {
	list    []Read
	seen    map[string]bool // paths in the list
	folders map[string]bool // folders looked through for lists
	names   map[string]map[string]bool
}

// isThere reports whether a file was in its folder when that was read, once for
// the thousands of tiles it may hold.
func (r *reads) isThere(path string) bool {
	folder := filepath.Dir(path)
	names, known := r.names[folder]
	if !known {
		names = map[string]bool{}
		list, _ := os.ReadDir(folder)
		for _, f := range list {
			names[f.Name()] = true
		}
		r.names[folder] = names
	}
	return names[filepath.Base(path)]
}

// onDisk is the file that a path inside an archive is in.
func onDisk(path string) string {
	rest, archived := strings.CutPrefix(path, "/vsi")
	if !archived {
		archive, _ := insideArchive(path)
		return gridHeader(archive)
	}
	_, path, _ = strings.Cut(rest, "/")
	for _, whole := range []string{"/" + strings.TrimLeft(path, "/"), path} {
		for at := whole; at != "." && at != "/" && at != ""; at = filepath.Dir(at) {
			if info, err := os.Stat(at); err == nil && !info.IsDir() {
				return at
			}
		}
	}
	return path
}

func (r *reads) put(path, of string, listed bool) bool {
	if name := absolute(path); !r.seen[name] {
		r.seen[name] = true
		r.list = append(r.list, Read{Path: path, Of: of, Listed: listed})
		return true
	}
	return false
}

// add adds a file, what it is made of, and what stands beside it; beside one
// that was given itself also what does not stand there yet, for written there it
// would be read with it.
func (r *reads) add(path, of string, listed bool) {
	if !r.put(path, of, listed) {
		return
	}
	beside := func(side string) {
		if !listed || r.isThere(side) {
			r.put(side, path, listed)
		}
	}
	endings := endingsInPlace
	if strings.EqualFold(filepath.Ext(path), ".shp") {
		endings = endingsOfShapefile
	}
	for _, ending := range endings {
		if ending != ".prj" || !ownCRS(path) {
			beside(withEnding(path, ending))
		}
	}
	for _, ending := range endingsAfter {
		beside(path + ending)
	}
	r.addLists(filepath.Dir(path))
	for _, source := range sourcesOf(path) {
		r.add(source, path, listed)
	}
}

// ownCRS reports whether a file's format has its reference system in it, so
// that a .prj of its name is not its own.
func ownCRS(path string) bool {
	return slices.Contains([]string{".tif", ".tiff", ".hgt", ".zip", ".dt0", ".dt1", ".dt2", ".jp2", ".vrt", ".gpkg", ".geojson", ".json",
		".gpx", ".kml", ".csv", ".tsv", ".fgb"}, strings.ToLower(filepath.Ext(path)))
}

// addLists adds what is said of the files of a folder.
func (r *reads) addLists(folder string) {
	if r.folders[folder] {
		return
	}
	r.folders[folder] = true
	r.put(filepath.Join(folder, ChecksumsFile), folder, true)
	list, err := os.ReadDir(folder)
	if err != nil {
		return
	}
	for _, f := range list {
		if !f.IsDir() && licence.MatchString(f.Name()) {
			r.put(filepath.Join(folder, f.Name()), folder, true)
		}
	}
}

// addMany adds a folder's or a pattern's tiles, what stands beside them, and
// its index.
func (r *reads) addMany(argument string, opts ManyOptions) {
	p := &part{argument: argument}
	if index, err := p.indexPath(opts); err == nil {
		r.put(index, argument, false)
		for _, ending := range journals {
			r.put(index+ending, argument, false)
		}
		others, _ := filepath.Glob(filepath.Join(filepath.Dir(index), "tiles-*.gpkg"))
		for _, other := range others {
			r.put(other, "crowline's index of tiles", false)
		}
	}
	files, _, err := p.files()
	if err != nil {
		return
	}
	for _, f := range files {
		r.add(f, argument, true)
	}
}

// Bounds on what is looked through for the files that a file is made of.
const (
	maxSourceBytes = 64 << 20
	maxNameBytes   = 4096
)

// sourcesOf are the files that a virtual raster, or another file of XML, names
// and that are there. A name that is a path is tried from the file's own folder
// and from where the user stands, whatever the file says; so are the parts of a
// name that a driver cuts at colons, quotes or question marks.
func sourcesOf(path string) []string {
	if slices.Contains([]string{".gpx", ".kml"}, strings.ToLower(filepath.Ext(path))) {
		return nil // they name no file to be read
	}
	f, err := os.Open(path)
	if err != nil {
		return nil
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil || !info.Mode().IsRegular() {
		return nil
	}
	reader := bufio.NewReader(io.LimitReader(f, maxSourceBytes))
	first, _ := reader.Peek(64)
	if !bytes.HasPrefix(bytes.TrimLeft(bytes.TrimPrefix(first, []byte("\ufeff")), " \t\r\n"), []byte("<")) {
		return nil
	}
	var out []string
	folders := []string{filepath.Dir(path), ""}
	if real, err := filepath.EvalSymlinks(path); err == nil {
		folders = append(folders, filepath.Dir(real))
	}
	try := func(name string) {
		if name = onDisk(strings.TrimSpace(name)); name == "" || len(name) > maxNameBytes {
			return
		}
		for _, folder := range folders {
			at := name
			if !filepath.IsAbs(name) {
				at = filepath.Join(folder, name)
			}
			if info, err := os.Stat(at); err == nil && info.Mode().IsRegular() {
				out = append(out, at)
			}
		}
	}
	decoder := xml.NewDecoder(reader)
	decoder.Strict = false
	decoder.CharsetReader = func(_ string, in io.Reader) (io.Reader, error) { return in, nil }
	var elements []string
	for {
		token, err := decoder.Token()
		if err != nil {
			return out
		}
		switch t := token.(type) {
		case xml.StartElement:
			elements = append(elements, strings.ToLower(t.Name.Local))
		case xml.EndElement:
			if len(elements) > 0 {
				elements = elements[:len(elements)-1]
			}
		case xml.CharData:
			if len(elements) == 0 || len(t) > maxNameBytes || !slices.ContainsFunc([]string{"file", "dataset", "source", "path"},
				func(word string) bool { return strings.Contains(elements[len(elements)-1], word) }) {
				continue
			}
			text := string(t)
			try(text)
			for _, piece := range strings.FieldsFunc(text, func(c rune) bool { return c == ':' || c == '"' || c == '?' }) {
				if piece != text {
					try(piece)
				}
			}
		}
	}
}

// IsVerdicts reports whether a file holds what WriteGeoTIFF wrote of a viewshed,
// which is never read as ground.
func IsVerdicts(path string) bool {
	h, head, err := openHandle(path, false)
	if err != nil {
		return false
	}
	defer h.close()
	return head.bandName == VerdictBand
}
