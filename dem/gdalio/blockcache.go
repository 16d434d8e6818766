package gdalio

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"crowline/dem"
)

// defaultCacheBytes is what all cached blocks together may take on disk.
const defaultCacheBytes = 512 << 20

// blockCache keeps blocks of remote files, those dem.Blocks asks for, in a folder, so that a question
// put again fetches nothing but the file's header. A block ends in a checksum
// of itself, its place and its file's identity; one that does not match is
// fetched again. Runs may share a folder: a block is written beside its place
// and moved there whole.
type blockCache struct {
	folder   string            // of this file's blocks
	identity [sha256.Size]byte // of the file
	believed time.Duration     // how old a block may be; 0 for any age
}

// newBlockCache makes a cache for a file told from every other, and from
// later ones at its address, by its identity. Old blocks are removed when all
// files' together take more than limit.
func newBlockCache(root, identity string, limit int64) *blockCache {
	if limit <= 0 {
		limit = defaultCacheBytes
	}
	prune(root, limit)
	sum := sha256.Sum256([]byte(identity))
	return &blockCache{folder: filepath.Join(root, hex.EncodeToString(sum[:12])), identity: sum}
}

// sum is a block's checksum.
func (c *blockCache) sum(w dem.Window, data []byte) []byte {
	h := sha256.New()
	fmt.Fprintf(h, "%x %d %d %d %d ", c.identity, w.Column, w.Row, w.Columns, w.Rows)
	h.Write(data)
	return h.Sum(nil)
}

const blockEnding = ".block"

// A block being written has this before its name. One that is older than any
// write takes was left by a run that was killed.
const (
	partStart    = ".part-"
	partLeftOver = time.Hour
)

func (c *blockCache) path(w dem.Window) string {
	return filepath.Join(c.folder, fmt.Sprintf("%d_%d%s", w.Column/dem.BlockColumns, w.Row/dem.BlockRows, blockEnding))
}

// load is a block, or nil when it is not here, whole.
func (c *blockCache) load(w dem.Window) []float32 {
	f, err := os.Open(c.path(w))
	if err != nil {
		return nil
	}
	defer f.Close()
	n := 4 * w.Columns * w.Rows
	stat, err := f.Stat()
	if err != nil || stat.Size() != int64(n+sha256.Size) {
		return nil
	}
	if age := time.Since(stat.ModTime()); c.believed > 0 && (age < 0 || age > c.believed) {
		return nil
	}
	data := make([]byte, n+sha256.Size)
	if _, err := io.ReadFull(f, data); err != nil || !bytes.Equal(c.sum(w, data[:n]), data[n:]) {
		return nil
	}
	values := make([]float32, w.Columns*w.Rows)
	for i := range values {
		values[i] = math.Float32frombits(binary.LittleEndian.Uint32(data[4*i:]))
	}
	return values
}

// store keeps a block. A cache that cannot be written is no error: the
// answer stands without it.
func (c *blockCache) store(w dem.Window, values []float32) {
	if os.MkdirAll(c.folder, 0o755) != nil {
		return
	}
	data := make([]byte, 0, 4*len(values)+sha256.Size)
	for _, v := range values {
		data = binary.LittleEndian.AppendUint32(data, math.Float32bits(v))
	}
	data = append(data, c.sum(w, data)...)
	f, err := os.CreateTemp(c.folder, partStart+"*")
	if err != nil {
		return
	}
	_, writeErr := f.Write(data)
	closeErr := f.Close()
	if writeErr != nil || closeErr != nil || os.Rename(f.Name(), c.path(w)) != nil {
		os.Remove(f.Name())
	}
}

// prune removes the blocks written longest ago until what is left takes four
// fifths of the limit, if all take more than it, and what killed runs left.
func prune(root string, limit int64) {
	type kept struct {
		path  string
		bytes int64
		at    int64
	}
	var all []kept
	total := int64(0)
	_ = filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return nil
		}
		info, err := d.Info()
		switch {
		case err != nil:
		case strings.HasPrefix(d.Name(), partStart) && time.Since(info.ModTime()) > partLeftOver:
			_ = os.Remove(path) // another run may have
		case filepath.Ext(path) == blockEnding:
			all = append(all, kept{path, info.Size(), info.ModTime().UnixNano()})
			total += info.Size()
		}
		return nil
	})
	if total <= limit {
		return
	}
	slices.SortFunc(all, func(a, b kept) int { return cmp.Compare(a.at, b.at) })
	for _, k := range all {
		if total <= limit/5*4 {
			return
		}
		if os.Remove(k.path) == nil {
			total -= k.bytes
		}
	}
}

// readCached reads a window block by block, from the cache where it can.
func (r *Remote) readCached(ctx context.Context, w dem.Window) (*dem.Grid, error) {
	whole := r.raster.frame.Whole()
	if w.Empty() || w != w.Intersect(whole) || w.Columns > maxPosts/w.Rows {
		return r.fetch(ctx, w) // to say what is wrong with it
	}
	g := &dem.Grid{Frame: r.raster.frame.Sub(w), Elevations: make([]float32, w.Columns*w.Rows), Window: w}
	const columns, rows = dem.BlockColumns, dem.BlockRows
	for row := w.Row / rows; row*rows < w.Row+w.Rows; row++ {
		for column := w.Column / columns; column*columns < w.Column+w.Columns; column++ {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			block := dem.Window{Column: column * columns, Row: row * rows, Columns: columns, Rows: rows}.Intersect(whole)
			values := r.cache.load(block)
			if values == nil {
				read, err := r.fetch(ctx, block)
				if err != nil {
					return nil, err
				}
				values = read.Elevations
				// A block that reading had something to say of is asked for
				// each time, so that it is said each time.
				if len(read.Source.Warnings) == r.warnings {
					r.cache.store(block, values)
				}
			}
			part := block.Intersect(w)
			for y := range part.Rows {
				from := (part.Row-block.Row+y)*block.Columns + part.Column - block.Column
				to := (part.Row-w.Row+y)*w.Columns + part.Column - w.Column
				copy(g.Elevations[to:to+part.Columns], values[from:])
			}
		}
	}
	g.Source = r.raster.Info()
	return g, nil
}
