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
	"slices"
	"strings"

	"crowline/dem"
	"crowline/dem/workers"
)

// part is an indexed folder or glob.
type part struct {
	argument string
	order    int
	index    string  // path of the index, "" when entries hold all
	entries  []entry // when there is no index file to ask
	about    about
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
		if why := entries[i].detail.Damaged; why != "" {
			a.Damaged = append(a.Damaged, skippedFile{Path: entries[i].path, Reason: why, Stamp: entries[i].stamp})
		}
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

// NamesMany reports whether a path stands for many files: it is a folder, or
// a pattern for names.
func NamesMany(path string) bool {
	if IsAddress(path) {
		return false
	}
	stat, err := os.Stat(path)
	return err == nil && stat.IsDir() && !isGridFolder(path) || isGlob(path)
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
		if name == gridHeaderName || !strings.HasPrefix(name, ".") && slices.ContainsFunc(folderEndings, func(e string) bool { return strings.HasSuffix(name, e) }) {
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
	count := workers.Counter(int64(len(files)), func(done, total int64) {
		if opts.Progress != nil && (done == total || done%max(1, total/100) == 0) {
			opts.Progress(done, total)
		}
	})
	err := workers.Each(ctx, len(files), opts.Concurrency, func(_, i int) error {
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
		count(1)
		return nil
	})
	if err != nil {
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
	if e.detail.Damaged != "" {
		return true
	}
	sum, err := checkListed(ctx, e.path)
	return err == nil && sum != "" && sum != e.sha256
}
