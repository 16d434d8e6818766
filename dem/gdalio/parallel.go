package gdalio

import (
	"context"
	"runtime"
	"strings"

	"crowline/dem"
	"crowline/dem/workers"
)

// parallelPosts is the least a second reader is worth: opening one costs
// about a millisecond, decoding half a million posts ten.
const parallelPosts = 1 << 19

// fill reads a window into a grid, by as many readers as there are cores
// when it is large. GDAL's datasets are for one thread at a time, so each
// reader has its own; what each finds out about the file is put together
// afterwards.
func (r *Raster) fill(ctx context.Context, w dem.Window, g *dem.Grid) error {
	read := func(r *Raster, part dem.Window) error {
		if r.inPlace() {
			return r.eachPiece(ctx, part, func(piece dem.Window) error { return r.readInto(piece, w, g.Elevations) })
		}
		return r.pieces(ctx, part, func(piece dem.Window, values []float32) {
			for row := range piece.Rows {
				at := (piece.Row-w.Row+row)*w.Columns + piece.Column - w.Column
				copy(g.Elevations[at:at+piece.Columns], values[row*piece.Columns:])
			}
		})
	}
	readers := min(runtime.GOMAXPROCS(0), w.Columns*w.Rows/parallelPosts, 8)
	// Files in memory and over a network keep to one reader: the first are
	// small, the second would fetch twice.
	if readers < 2 || strings.HasPrefix(r.name, "/vsi") || r.remote != nil || r.in.folder != "" {
		return read(r, w)
	}
	_, step := r.pieceSize(w)
	first, last := w.Row/step, (w.Row+w.Rows-1)/step // rows of pieces
	bounds := make([]int, readers+1)
	for i := range bounds {
		bounds[i] = max(w.Row, (first+(last+1-first)*i/readers)*step)
	}
	bounds[readers] = w.Row + w.Rows
	twins := make([]*Raster, readers)
	err := workers.Each(ctx, readers, readers, func(_, i int) error {
		part := dem.Window{Column: w.Column, Row: bounds[i], Columns: w.Columns, Rows: bounds[i+1] - bounds[i]}
		if part.Empty() {
			return nil
		}
		twin := r
		if i > 0 {
			var err error
			if twin, err = r.twin(); err != nil {
				twin = r // one reader after the other, then
			} else {
				twins[i] = twin
				defer twin.Close()
			}
		}
		return read(twin, part)
	})
	for _, twin := range twins {
		if twin != nil {
			r.learn(twin)
		}
	}
	return err
}

// twin is a second reader of the same file.
func (r *Raster) twin() (*Raster, error) {
	h, _, err := openHandle(r.in.path, r.in.virtual)
	if err != nil {
		return nil, err
	}
	return &Raster{frame: r.frame, header: r.header, unit: r.unit, name: r.name, in: input{path: r.in.path, virtual: r.in.virtual}, handle: h, beats: r.beats, info: r.info, sentinels: map[float64]bool{}}, nil
}

// learn takes over what a twin found out about the file.
func (r *Raster) learn(twin *Raster) {
	r.mutex.Lock()
	defer r.mutex.Unlock()
	twin.mutex.Lock()
	defer twin.mutex.Unlock()
	for v := range twin.sentinels {
		r.sentinels[v] = true
	}
	if r.absurd == nil {
		r.absurd = twin.absurd
	}
	r.unfilled = r.unfilled || twin.unfilled
	if r.holes == nil {
		r.holes = twin.holes
	}
}
