package gdalio

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"

	"crowline/dem"
)

// ManyOptions tells OpenMany and IndexMany what to do.
type ManyOptions struct {
	// Options hold for every file.
	Options
	// Remote bounds the waiting for servers.
	Remote RemoteOptions
	// Mosaic says how tiles are joined.
	Mosaic dem.MosaicOptions
	// IndexFolder is where indexes of folders are kept; default when "": the
	// folder crowline in the user's cache folder.
	IndexFolder string
	// Concurrency is how many files are looked at together while indexing;
	// default when zero: GOMAXPROCS.
	Concurrency int
	// Progress, if not nil, is told how many files are indexed, at most about
	// 100 times, from one goroutine at a time; the last call has done ==
	// total.
	Progress func(done, total int64)
}

// verifyBytes is the size up to which a tile's checksum is found again each
// time it is opened: some 50 ms of work. A larger one is read again only
// when the system says it was written to.
const verifyBytes = 64 << 20

// tileEndings are the endings by which a folder's elevation files are known.
// A virtual raster in a folder is most likely of the folder's own tiles, and
// is opened only when named.
var tileEndings = []string{
	".tif", ".tiff", ".hgt", ".hgt.zip", ".dem", ".asc", ".img", ".bil", ".flt", ".dt0", ".dt1", ".dt2", ".gtx", ".jp2", ".ter", ".grd",
}

// OpenMany opens files, folders, globs, virtual rasters and addresses
// ("https://...") as one ground. Folders are searched with the folders in
// them. A folder or glob is indexed once, which reads every file through for
// its SHA-256; after that only the tiles a question needs are touched. New
// and removed files are noticed by themselves. A file whose content is not
// what was indexed is refused, until IndexMany is asked to take it as it now
// is. Files that are not elevation data are passed over with a warning.
func OpenMany(ctx context.Context, paths []string, opts ManyOptions) (*dem.Mosaic, error) {
	return openMany(ctx, paths, opts, false)
}

// OpenVerified is Open for a file that may have its checksum beside it, as
// fetched tiles have: one that does not match is refused. A file of more than
// 64 MiB is read through for that only when the system says it was written to
// after its checksum was.
func OpenVerified(ctx context.Context, path string, opts Options) (*Raster, error) {
	if err := checkFile(path); err != nil {
		return nil, err
	}
	if stat, err := os.Stat(path); err != nil || stat.Size() <= verifyBytes || writtenSinceListed(path) {
		if _, err := checkListed(ctx, path); err != nil {
			return nil, err
		}
	}
	return Open(path, opts)
}

// IndexMany indexes paths anew, changed files as they now are, and returns
// how many tiles there are.
func IndexMany(ctx context.Context, paths []string, opts ManyOptions) (tiles int, warnings []string, err error) {
	m := &many{opts: opts}
	if err := m.add(ctx, paths, true); err != nil {
		return 0, nil, err
	}
	n := len(m.fixed)
	for _, p := range m.parts {
		n += p.about.Tiles
	}
	return n, m.warnings, nil
}

func openMany(ctx context.Context, paths []string, opts ManyOptions, again bool) (*dem.Mosaic, error) {
	m := &many{opts: opts, checked: map[string]bool{}}
	if err := m.add(ctx, paths, again); err != nil {
		return nil, err
	}
	o := opts.Mosaic
	o.Warnings = append(slices.Clone(o.Warnings), m.warnings...)
	return dem.NewMosaic(m, o), nil
}

// many is the tiles of a list of paths. It implements dem.Tiles.
type many struct {
	opts     ManyOptions
	fixed    []dem.Tile // of single files
	parts    []*part
	warnings []string
	extent   dem.Extent
	any      bool

	mutex   sync.Mutex
	checked map[string]bool // paths whose content is what was indexed
}

// part is an indexed folder or glob.
type part struct {
	argument string
	order    int
	index    string  // path of the index, "" when entries hold all
	entries  []entry // when there is no index file to ask
	about    about
}

const ordersApart = 1 << 20 // room for the tiles of one argument

func (m *many) add(ctx context.Context, paths []string, again bool) error {
	if len(paths) == 0 {
		return errors.New("no elevation data given")
	}
	for i, path := range paths {
		order := i * ordersApart
		if isURL(path) {
			if err := m.addFile(ctx, path, order); err != nil {
				return err
			}
			continue
		}
		stat, err := os.Stat(path)
		switch {
		case err == nil && stat.IsDir(), err != nil && strings.ContainsAny(path, "*?["):
			if err := m.addPart(ctx, path, order, again); err != nil {
				return err
			}
		default:
			if err := m.addFile(ctx, path, order); err != nil {
				return err
			}
		}
	}
	return nil
}

func (m *many) cover(e dem.Extent) {
	if m.any {
		m.extent = m.extent.Join(e)
	} else {
		m.extent, m.any = e, true
	}
}

// addFile adds one file, or address, opened now to learn where it lies.
func (m *many) addFile(ctx context.Context, path string, order int) error {
	open := func(ctx context.Context) (dem.Source, error) {
		if isURL(path) {
			r, err := OpenURL(ctx, path, m.opts.Options, m.opts.Remote)
			if err != nil {
				return nil, err
			}
			return r, nil
		}
		r, err := OpenVerified(ctx, path, m.opts.Options)
		if err != nil {
			return nil, err
		}
		return r, nil
	}
	r, err := open(ctx)
	if err != nil {
		return err
	}
	defer r.Close()
	t := dem.Tile{Name: path, Frame: *r.Layout(), Info: r.Info(), Order: order, Open: open}
	e, err := dem.TileExtent(&t.Frame)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if !slices.ContainsFunc(m.fixed, func(f dem.Tile) bool { return f.Name == t.Name }) {
		m.fixed = append(m.fixed, t)
		m.cover(e)
	}
	return nil
}

// addPart adds a folder or glob, by its index.
func (m *many) addPart(ctx context.Context, argument string, order int, again bool) error {
	p := &part{argument: argument, order: order}
	if err := p.refresh(ctx, m, again); err != nil {
		return err
	}
	if p.about.Tiles == 0 {
		why := ""
		if len(p.about.Skipped) > 0 {
			why = " (" + p.about.Skipped[0].Reason + ")"
		}
		return fmt.Errorf("%s holds no elevation file that can be used%s", argument, why)
	}
	if n := len(p.about.Skipped); n > 0 {
		m.warnings = append(m.warnings, fmt.Sprintf("%d of the files of %s were passed over, the first because: %s", n, argument, p.about.Skipped[0].Reason))
	}
	m.parts = append(m.parts, p)
	m.cover(p.about.Extent)
	return nil
}

// Extent is a box round all tiles.
func (m *many) Extent() dem.Extent { return m.extent }

// Within returns the tiles that may have posts in the box.
func (m *many) Within(ctx context.Context, box dem.Extent) ([]dem.Tile, error) {
	tiles, err := dem.TileList(m.fixed).Within(ctx, box)
	if err != nil {
		return nil, err
	}
	named := map[string]bool{}
	for _, t := range tiles {
		named[t.Name] = true
	}
	for _, p := range m.parts {
		entries := p.entries
		if p.index != "" {
			if entries, err = readEntries(ctx, p.index, &box); err != nil {
				return nil, fmt.Errorf("the tile index of %s cannot be read (%w): index it again (crowline dem index)", p.argument, err)
			}
		}
		for i := range entries {
			e := &entries[i]
			if named[e.path] {
				continue
			}
			if p.index == "" && !e.extent.Meets(box) {
				continue
			}
			t, err := e.tile(m.opts.Options, m.check)
			if err != nil {
				return nil, err
			}
			t.Order += p.order
			named[e.path] = true
			tiles = append(tiles, t)
		}
	}
	return tiles, nil
}

// check refuses a file whose content is not what was indexed. Content is
// read through once a run, unless the file is large and the system says
// nobody has written to it.
func (m *many) check(ctx context.Context, e *entry) error {
	m.mutex.Lock()
	done := m.checked[e.path]
	m.mutex.Unlock()
	if done {
		return nil
	}
	now, err := stampOf(e.path)
	if err != nil {
		return fmt.Errorf("%s is gone since it was indexed", e.path)
	}
	if now != e.stamp || now.Bytes <= verifyBytes {
		sum, err := checksum(ctx, e.path)
		if err != nil {
			return fmt.Errorf("%s cannot be read: %w", e.path, err)
		}
		if sum != e.sha256 {
			return fmt.Errorf("%s has changed since it was indexed: damaged, or another file; fetch it again, or take it as it is with: crowline dem index", e.path)
		}
	}
	m.mutex.Lock()
	m.checked[e.path] = true
	m.mutex.Unlock()
	return nil
}

// refresh reads the part's index, and makes or mends it where files have
// come or gone.
func (p *part) refresh(ctx context.Context, m *many, again bool) error {
	path, pathErr := p.indexPath(m.opts)
	var known []entry
	var old about
	if pathErr == nil && !again {
		if a, err := readAbout(path); err == nil && a.Argument == absolute(p.argument) {
			old = a
			if p.unchanged(a) {
				p.index, p.about = path, a
				return nil
			}
			if known, err = readEntries(ctx, path, nil); err != nil {
				known = nil
			}
		}
	}
	files, folders, err := p.files()
	if err != nil {
		return err
	}
	a := about{Argument: absolute(p.argument), Folders: folders}
	if isGlob(p.argument) {
		a.Files = files
	}
	entries, skipped, err := indexFiles(ctx, files, known, old.Skipped, m.opts)
	if err != nil {
		return err
	}
	a.Skipped = skipped
	for i := range entries {
		entries[i].detail.Order = i
		if entries[i].extent == (dem.Extent{}) { // an entry read back
			if entries[i].extent, err = entries[i].box(); err != nil {
				return err
			}
		}
		if i == 0 {
			a.Extent = entries[i].extent
		} else {
			a.Extent = a.Extent.Join(entries[i].extent)
		}
	}
	a.Tiles = len(entries)
	p.about = a
	if pathErr == nil {
		pathErr = os.MkdirAll(filepath.Dir(path), 0o755)
	}
	if pathErr == nil && len(entries) > 0 {
		pathErr = writeIndex(ctx, path, a, entries)
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if pathErr != nil {
		p.entries = entries
		m.warnings = append(m.warnings, fmt.Sprintf("the tile index of %s cannot be kept, so every file is read each time (%v)", p.argument, pathErr))
		return nil
	}
	p.index = path
	return nil
}

func (e *entry) box() (dem.Extent, error) {
	crs, err := knownCRS(e.detail.CRS)
	if err != nil {
		return dem.Extent{}, fmt.Errorf("%s: %w", e.path, err)
	}
	return dem.TileExtent(&dem.Frame{Columns: e.detail.Columns, Rows: e.detail.Rows, X0: e.detail.X0, Y0: e.detail.Y0,
		DX: e.detail.DX, DY: e.detail.DY, CRS: crs})
}

func absolute(path string) string {
	if a, err := filepath.Abs(path); err == nil {
		return a
	}
	return path
}

// indexPath names the index for an argument and the options that change what
// its files are.
func (p *part) indexPath(opts ManyOptions) (string, error) {
	folder := opts.IndexFolder
	if folder == "" {
		cache, err := os.UserCacheDir()
		if err != nil {
			return "", err
		}
		folder = filepath.Join(cache, "crowline")
	}
	key, err := json.Marshal([]string{absolute(p.argument), opts.CRS, opts.HeightUnit})
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(key)
	return filepath.Join(folder, "tiles-"+hex.EncodeToString(sum[:8])+".gpkg"), nil
}

func isGlob(argument string) bool {
	_, err := os.Stat(argument)
	return err != nil && strings.ContainsAny(argument, "*?[")
}

// unchanged reports whether no file has come or gone: a folder's
// modification time changes with its list of files.
func (p *part) unchanged(a about) bool {
	if isGlob(p.argument) {
		files, err := filepath.Glob(absolute(p.argument))
		return err == nil && slices.Equal(sorted(files), a.Files)
	}
	for folder, modified := range a.Folders {
		info, err := os.Stat(folder)
		if err != nil || info.ModTime().UnixNano() != modified {
			return false
		}
	}
	return len(a.Folders) > 0
}

func sorted(files []string) []string {
	slices.Sort(files)
	return files
}

// files lists the part's files by path, and its folders' modification times.
func (p *part) files() ([]string, map[string]int64, error) {
	root := absolute(p.argument)
	if isGlob(p.argument) {
		files, err := filepath.Glob(root)
		if err != nil {
			return nil, nil, fmt.Errorf("%s: not a pattern for file names", p.argument)
		}
		files = slices.DeleteFunc(files, func(f string) bool {
			stat, err := os.Stat(f)
			return err != nil || stat.IsDir()
		})
		if len(files) == 0 {
			return nil, nil, fmt.Errorf("%s: no such file", p.argument)
		}
		return sorted(files), nil, nil
	}
	var files []string
	folders := map[string]int64{}
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			if path == root {
				return fmt.Errorf("%s: cannot be looked through (%w)", p.argument, errors.Unwrap(err))
			}
			return nil // a folder inside that may not be read holds nothing for us
		}
		if d.IsDir() {
			if strings.HasPrefix(d.Name(), ".") && path != root {
				return filepath.SkipDir // ours while writing, or hidden on purpose
			}
			info, err := d.Info()
			if err != nil {
				return nil
			}
			folders[path] = info.ModTime().UnixNano()
			return nil
		}
		name := strings.ToLower(d.Name())
		if !strings.HasPrefix(name, ".") && slices.ContainsFunc(tileEndings, func(e string) bool { return strings.HasSuffix(name, e) }) {
			files = append(files, path)
		}
		return nil
	})
	if err != nil {
		return nil, nil, err
	}
	return sorted(files), folders, nil
}

// indexFiles makes an entry for every file, those known excepted. The result
// is in the files' order whatever the concurrency.
func indexFiles(ctx context.Context, files []string, known []entry, passed []skippedFile, opts ManyOptions) ([]entry, []skippedFile, error) {
	byPath := map[string]*entry{}
	for i := range known {
		byPath[known[i].path] = &known[i]
	}
	passedOver := map[string]skippedFile{}
	for _, s := range passed {
		passedOver[s.Path] = s
	}
	type result struct {
		entry   entry
		skipped *skippedFile
	}
	results := make([]result, len(files))
	workers := opts.Concurrency
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	next := make(chan int)
	var wait sync.WaitGroup
	var mutex sync.Mutex
	done := int64(0)
	for range min(workers, max(len(files), 1)) {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for i := range next {
				path := files[i]
				stamp, _ := stampOf(path)
				if e := byPath[path]; e != nil && !replaced(ctx, e, stamp) {
					results[i].entry = *e
				} else if s, ok := passedOver[path]; ok && s.Stamp == stamp {
					results[i].skipped = &s
				} else if e, err := newEntry(ctx, path, opts.Options); err != nil {
					results[i].skipped = &skippedFile{Path: path, Reason: err.Error(), Stamp: stamp}
				} else {
					results[i].entry = e
				}
				mutex.Lock()
				done++
				total := int64(len(files))
				if opts.Progress != nil && (done == total || done%max(1, total/100) == 0) {
					opts.Progress(done, total)
				}
				mutex.Unlock()
			}
		}()
	}
	for i := range files {
		if ctx.Err() != nil {
			break
		}
		next <- i
	}
	close(next)
	wait.Wait()
	if err := ctx.Err(); err != nil {
		return nil, nil, fmt.Errorf("indexing stopped: %w", err)
	}
	var entries []entry
	var skipped []skippedFile
	for _, r := range results {
		if r.skipped != nil {
			skipped = append(skipped, *r.skipped)
		} else {
			entries = append(entries, r.entry)
		}
	}
	return entries, skipped, nil
}

// replaced reports whether a file that was indexed is another one now, and
// known to be whole: its folder's list of checksums has its new content. A
// file that merely differs keeps its entry, and is refused when opened.
func replaced(ctx context.Context, e *entry, now stamp) bool {
	if now == e.stamp {
		return false
	}
	sum, err := checkListed(ctx, e.path)
	return err == nil && sum != "" && sum != e.sha256
}
