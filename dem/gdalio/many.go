package gdalio

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"crowline/dem"
	"crowline/dem/web"
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
	".tif", ".tiff", ".hgt", ".hgt.zip", ".dem", ".asc", ".img", ".bil", ".flt", ".dt0", ".dt1", ".dt2", ".gtx", ".grd", ".jp2",
}

// folderEndings are the endings that a folder is looked through for: also those of
// packed files that hold one.
var folderEndings = append([]string{".hgt.gz", ".tif.gz", ".asc.gz", ".dem.gz", ".tif.zip", ".asc.zip"}, tileEndings...)

// OpenMany opens files, folders, globs, virtual rasters and addresses
// ("https://...") as one ground. Folders are searched with the folders in
// them. A folder or glob is indexed once, which reads every file through for
// its SHA-256; after that only the tiles a question needs are touched. New
// and removed files are noticed by themselves. A file whose content is not
// what was indexed is refused, until IndexMany is asked to take it as it now
// is. Files that are not elevation data are passed over with a warning, and
// so are damaged ones of which it cannot be told where they lie. Where it
// can, by their header or a name such as N36W085.hgt, a question that needs
// their ground is refused, naming them, and others are answered with a
// warning.
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
	whole, _ := insideArchive(path)
	whole = gridHeader(whole)
	if stat, err := os.Stat(whole); err != nil || stat.Size() <= verifyBytes || writtenSinceListed(whole) {
		if _, err := checkListed(ctx, whole); err != nil {
			return nil, err
		}
	}
	return openFile(ctx, path, opts)
}

// IndexMany indexes paths anew, changed files as they now are, and returns
// how many tiles there are that can be used.
func IndexMany(ctx context.Context, paths []string, opts ManyOptions) (tiles int, warnings []string, err error) {
	m := &many{opts: opts}
	if err := m.add(ctx, paths, true); err != nil {
		return 0, nil, err
	}
	n := len(m.fixed)
	for _, p := range m.parts {
		n += p.about.Tiles - len(p.about.Damaged)
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

const ordersApart = 1 << 20 // room for the tiles of one argument

func (m *many) add(ctx context.Context, paths []string, again bool) error {
	if len(paths) == 0 {
		return errors.New("no elevation data given")
	}
	for i, path := range paths {
		order := i * ordersApart
		var err error
		if inside := packedGrounds(ctx, path); len(inside) > 1 {
			err = m.addPacked(ctx, path, inside, order)
		} else if NamesMany(path) {
			err = m.addPart(ctx, path, order, again)
		} else {
			err = m.addFile(ctx, path, order)
		}
		if err != nil {
			return err
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

// addPacked adds the elevation files of an archive.
func (m *many) addPacked(ctx context.Context, archive string, inside []string, order int) error {
	if len(inside) > maxJoined {
		return fmt.Errorf("%s: %d elevation files are in it, more than the %d that are joined: unpack it into a folder and give that", archive, len(inside), maxJoined)
	}
	for i, path := range inside {
		if err := m.addFile(ctx, path, order+i); err != nil {
			return err
		}
	}
	return nil
}

// addFile adds one file, or address, opened now to learn where it lies.
func (m *many) addFile(ctx context.Context, path string, order int) error {
	name := path
	var found *web.File
	if IsAddress(path) {
		// Once: all that is read of it in this run is of the file found now.
		var err error
		if found, err = openAddress(ctx, path, m.opts.Remote); err != nil {
			return err
		}
		name = web.Shown(path)
	}
	open := func(ctx context.Context) (dem.Source, error) {
		if found != nil {
			r, err := openRemote(ctx, path, found, m.opts.Options, m.opts.Remote)
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
	t := dem.Tile{Name: name, Frame: *r.Layout(), Info: r.Info(), Order: order, Named: true, Open: open}
	e, err := dem.TileExtent(&t.Frame)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if !slices.ContainsFunc(m.fixed, func(f dem.Tile) bool { return f.Name == t.Name }) {
		m.fixed = append(m.fixed, t)
		m.cover(e)
	}
	return nil
}

// passedOver tells the warning about files of a folder that are not data.
const passedOver = "were passed over"

// areDamaged tells the warning about tiles that cannot be used.
const areDamaged = "are damaged"

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
		m.warnings = append(m.warnings, fmt.Sprintf("files of %s "+passedOver+": %d, the first because: %s", argument, n, p.about.Skipped[0].Reason))
	}
	if n := len(p.about.Damaged); n > 0 {
		m.warnings = append(m.warnings, fmt.Sprintf("files of %s that "+areDamaged+": %d; what needs their ground is refused, the first because: %s", argument, n, p.about.Damaged[0].Reason))
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
	for _, t := range tiles { // a folder has them by their whole path
		whole := absolute(t.Name)
		named[whole] = true
		if resolved, err := filepath.EvalSymlinks(whole); err == nil {
			named[resolved] = true
		}
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
			return fmt.Errorf("%s has changed since it was indexed: damaged, or another file; delete it and fetch it again, or take it as it is with: crowline dem index", e.path)
		}
	}
	m.mutex.Lock()
	m.checked[e.path] = true
	m.mutex.Unlock()
	return nil
}

// Passed is a file that was passed over, and why.
type Passed struct{ File, Reason string }

// ListMany finds the files that OpenMany would join: paths' own and those of
// folders and globs, each described by its header. Files that are not
// elevation data, and of several paths those that cannot be opened, are in
// passed. The error is of a path that comes to nothing at all.
func ListMany(ctx context.Context, paths []string, opts ManyOptions) (tiles []dem.Tile, passed []Passed, warnings []string, err error) {
	m := &many{opts: opts, checked: map[string]bool{}}
	seen := map[string]bool{}
	pass := func(file, reason string) {
		if name := absolute(file); !seen[name] {
			seen[name] = true
			passed = append(passed, Passed{file, reason})
		}
	}
	for i, path := range paths {
		one := &many{opts: opts, checked: m.checked}
		if err := one.add(ctx, []string{path}, false); err != nil {
			if ctx.Err() != nil || len(paths) == 1 {
				return nil, nil, nil, err
			}
			if IsAddress(path) {
				path = web.Shown(path)
			}
			pass(path, err.Error())
			continue
		}
		for _, t := range one.fixed {
			t.Order = i * ordersApart
			if !slices.ContainsFunc(m.fixed, func(f dem.Tile) bool { return f.Name == t.Name }) {
				m.fixed = append(m.fixed, t)
			}
		}
		for _, p := range one.parts {
			p.order = i * ordersApart
			m.parts = append(m.parts, p)
			for _, s := range p.about.Skipped {
				pass(s.Path, s.Reason)
			}
			for _, s := range p.about.Damaged {
				pass(s.Path, s.Reason)
			}
		}
		for _, w := range one.warnings {
			if !strings.Contains(w, passedOver) && !strings.Contains(w, areDamaged) { // those are listed
				warnings = append(warnings, w)
			}
		}
		m.cover(one.extent)
	}
	if len(m.fixed)+len(m.parts) == 0 {
		return nil, nil, nil, fmt.Errorf("%s", passed[0].Reason)
	}
	if tiles, err = m.Within(ctx, m.extent); err != nil {
		return nil, nil, nil, err
	}
	for _, p := range m.parts {
		for _, s := range p.about.Damaged {
			tiles = slices.DeleteFunc(tiles, func(t dem.Tile) bool { return t.Name == s.Path })
		}
	}
	if len(tiles) == 0 && len(passed) > 0 {
		return nil, nil, nil, errors.New(passed[0].Reason)
	}
	slices.SortStableFunc(tiles, func(a, b dem.Tile) int { return a.Order - b.Order })
	return tiles, passed, warnings, nil
}
