package gdalio

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
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
// put again fetches nothing but the file's header. A block ends in its own
// checksum; one that does not match is fetched again.
type blockCache struct {
	folder string // of this file's blocks
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
	return &blockCache{folder: filepath.Join(root, hex.EncodeToString(sum[:12]))}
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
	data, err := os.ReadFile(c.path(w))
	n := 4 * w.Columns * w.Rows
	if err != nil || len(data) != n+sha256.Size {
		return nil
	}
	if sum := sha256.Sum256(data[:n]); !bytes.Equal(sum[:], data[n:]) {
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
	sum := sha256.Sum256(data)
	data = append(data, sum[:]...)
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
		return r.raster.Read(ctx, w) // to say what is wrong with it
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
				read, err := r.raster.Read(ctx, block)
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
