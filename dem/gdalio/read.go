package gdalio

import (
	"context"
	"fmt"
	"math"

	"crowline/dem"
)

// maxPosts is the most one Read returns: 4 GiB of elevations.
const maxPosts = 1 << 30

// chunkPosts bounds one call into GDAL, so that a cancelled read ends within
// some milliseconds.
const chunkPosts = 1 << 19

// Read returns the posts of a window, which must lie inside the layout, in
// metres with NaN where void. It works in pieces of at most half a million
// posts and looks at ctx between them. It ends soon after ctx does, and when
// no piece comes for a minute.
func (r *Raster) Read(ctx context.Context, w dem.Window) (*dem.Grid, error) {
	if w.Empty() || w != w.Intersect(r.frame.Whole()) {
		return nil, fmt.Errorf("%s: a window of %d x %d posts at column %d, row %d is not inside its %d x %d posts",
			r.name, w.Columns, w.Rows, w.Column, w.Row, r.frame.Columns, r.frame.Rows)
	}
	if w.Columns > maxPosts/w.Rows {
		return nil, fmt.Errorf("%s: %d x %d posts are too many to hold at once (limit %d); ask for a smaller area",
			r.name, w.Columns, w.Rows, maxPosts)
	}
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("%s: reading stopped: %w", r.name, err)
	}
	read := func() (*dem.Grid, error) {
		g := &dem.Grid{Frame: r.frame.Sub(w), Elevations: make([]float32, w.Columns*w.Rows), Window: w}
		if err := r.fill(ctx, w, g); err != nil {
			return nil, err
		}
		g.Source = r.Info()
		return g, nil
	}
	if r.remote != nil { // has limits, and options by thread, of its own
		return read()
	}
	return supervised(ctx, r.name, patience, r.beats, read, func(*dem.Grid) {})
}

// pieces reads a window piece by piece and hands on metres. values is reused.
func (r *Raster) pieces(ctx context.Context, w dem.Window, use func(piece dem.Window, values []float32)) error {
	return r.piecesInto(ctx, w, &buffers{}, use)
}

// piecesInto is pieces with scratch that may be used again.
func (r *Raster) piecesInto(ctx context.Context, w dem.Window, b *buffers, use func(piece dem.Window, values []float32)) error {
	return r.eachPiece(ctx, w, func(piece dem.Window) error {
		values, err := r.readPiece(piece, b)
		if err == nil {
			use(piece, values)
		}
		return err
	})
}

// eachPiece goes through a window piece by piece, each along the file's own
// blocks so that none is decoded twice. ctx is looked at before each.
func (r *Raster) eachPiece(ctx context.Context, w dem.Window, do func(piece dem.Window) error) error {
	columns, rows := r.pieceSize(w)
	for row := w.Row; row < w.Row+w.Rows; {
		rowEnd := min((row/rows+1)*rows, w.Row+w.Rows)
		for column := w.Column; column < w.Column+w.Columns; {
			columnEnd := min((column/columns+1)*columns, w.Column+w.Columns)
			if err := ctx.Err(); err != nil {
				return fmt.Errorf("%s: reading stopped: %w", r.name, err)
			}
			piece := dem.Window{Column: column, Row: row, Columns: columnEnd - column, Rows: rowEnd - row}
			if err := do(piece); err != nil {
				return err
			}
			column = columnEnd
		}
		row = rowEnd
	}
	return nil
}

// pieceSize is the largest multiple of the file's blocks within chunkPosts.
// A block larger than that is cut, and the block cache keeps its rest.
func (r *Raster) pieceSize(w dem.Window) (columns, rows int) {
	blockColumns, blockRows := max(r.header.blockColumns, 1), max(r.header.blockRows, 1)
	columns = blockColumns
	rows = min(blockRows, max(1, chunkPosts/min(blockColumns, w.Columns)))
	if n := chunkPosts / rows / columns; n > 1 {
		columns *= n
	}
	across := min(columns, w.Columns)
	if n := chunkPosts / across / rows; n > 1 && columns >= w.Columns {
		rows *= n
	}
	if columns > chunkPosts { // one row of one block
		columns = chunkPosts
	}
	return columns, rows
}

// buffers are one read's scratch.
type buffers struct {
	values []float32
	wide   []float64
	mask   []byte
}

func sized[T any](b *[]T, n int) []T {
	if cap(*b) < n {
		*b = make([]T, n)
	}
	return (*b)[:n]
}

func (r *Raster) readPiece(w dem.Window, b *buffers) ([]float32, error) {
	r.reading.Lock()
	defer r.reading.Unlock()
	defer r.beats.Add(1)
	if r.handle == nil {
		return nil, fmt.Errorf("%s: already closed", r.name)
	}
	n := w.Columns * w.Rows
	values := sized(&b.values, n)
	var mask []byte
	if r.header.mask {
		mask = sized(&b.mask, n)
	}
	var err error
	switch r.header.dataType {
	case typeInt32, typeUInt32, typeFloat64: // float32 would round before the void is compared
		wide := sized(&b.wide, n)
		if err = readBand(r, w, wide, w.Columns, mask); err == nil {
			r.convertWide(wide, values)
		}
	default:
		if err = readBand(r, w, values, w.Columns, mask); err == nil {
			r.mutex.Lock()
			r.convert(values)
			r.mutex.Unlock()
		}
	}
	if err != nil {
		return nil, r.unreadable(w, err)
	}
	for i, m := range mask {
		if m == 0 {
			values[i] = float32(math.NaN())
		}
	}
	r.unstored(w, values, w)
	return values, nil
}

// readBand reads stored values. The caller holds r.reading.
func readBand[T float32 | float64](r *Raster, w dem.Window, values []T, stride int, mask []byte) error {
	if r.remote != nil {
		return readRemote(r, w, values, stride, mask)
	}
	return read(r.handle, w.Column, w.Row, w.Columns, w.Rows, values, stride, mask)
}

func (r *Raster) unreadable(w dem.Window, err error) error {
	plain, todo := reason(err, r.name, r.name)
	return fmt.Errorf("%s: rows %d to %d cannot be read (%s); %s", r.name, w.Row, w.Row+w.Rows-1, plain, todo)
}

// inPlace reports whether stored values can be read as float32, with no mask,
// to become metres where they are.
func (r *Raster) inPlace() bool {
	switch r.header.dataType {
	case typeInt32, typeUInt32, typeFloat64:
		return false
	}
	return !r.header.mask
}

// readInto is readPiece without scratch, into a grid of the posts of whole.
// For files that can be read inPlace.
func (r *Raster) readInto(piece, whole dem.Window, elevations []float32) error {
	r.reading.Lock()
	defer r.reading.Unlock()
	defer r.beats.Add(1)
	if r.handle == nil {
		return fmt.Errorf("%s: already closed", r.name)
	}
	at := (piece.Row-whole.Row)*whole.Columns + piece.Column - whole.Column
	if err := readBand(r, piece, elevations[at:], whole.Columns, nil); err != nil {
		return r.unreadable(piece, err)
	}
	r.mutex.Lock()
	for row := range piece.Rows {
		r.convert(elevations[at+row*whole.Columns:][:piece.Columns])
	}
	r.mutex.Unlock()
	r.unstored(piece, elevations, whole)
	return nil
}

// unstored deals with posts for which a file that declares no void stores
// nothing. What a format says of them counts: a GeoTIFF's missing block holds
// zeros, as GDAL's writer leaves out blocks of nothing else, so that the sea
// is ground in every copy of a file. A virtual raster says nothing of ground
// that its sources do not reach: that is void.
func (r *Raster) unstored(w dem.Window, values []float32, whole dem.Window) {
	switch {
	case r.header.noData != nil:
	case r.header.driver == "VRT":
		r.maskUnfilled(w, values, whole)
	case r.header.driver == "GTiff" && r.holes == nil && r.handle.coverage(w.Column, w.Row, w.Columns, w.Rows)&coverageEmpty != 0:
		holes := r.shareOfHoles()
		r.mutex.Lock()
		r.holes = &holes
		r.mutex.Unlock()
	}
}

// maskUnfilled makes void what a virtual raster's sources do not reach: GDAL
// gives zeros there, and zeros look like the sea.
func (r *Raster) maskUnfilled(w dem.Window, values []float32, whole dem.Window) {
	switch r.handle.coverage(w.Column, w.Row, w.Columns, w.Rows) {
	case coverageEmpty:
		r.mutex.Lock()
		r.unfilled = true
		r.mutex.Unlock()
		for row := w.Row; row < w.Row+w.Rows; row++ {
			at := (row-whole.Row)*whole.Columns + w.Column - whole.Column
			for i := range w.Columns {
				values[at+i] = float32(math.NaN())
			}
		}
	case coverageMixed:
		if w.Columns == 1 && w.Rows == 1 {
			return
		}
		first, second := w, w
		if w.Columns >= w.Rows {
			first.Columns = w.Columns / 2
			second.Column, second.Columns = w.Column+first.Columns, w.Columns-first.Columns
		} else {
			first.Rows = w.Rows / 2
			second.Row, second.Rows = w.Row+first.Rows, w.Rows-first.Rows
		}
		r.maskUnfilled(first, values, whole)
		r.maskUnfilled(second, values, whole)
	}
}
