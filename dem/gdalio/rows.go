package gdalio

import (
	"context"
	"fmt"
	"runtime"
	"strings"

	"crowline/dem"
)

var _ dem.RowReader = (*Raster)(nil)

// ReadRows reads a window of any size from the top down; see dem.Rows. Bands
// are as high as the file's blocks, so none is decoded twice, and readers,
// one a core with a dataset of its own, take turns at them.
func (r *Raster) ReadRows(ctx context.Context, w dem.Window, use func(posts []float32) error) error {
	if w.Empty() || w != w.Intersect(r.frame.Whole()) {
		return fmt.Errorf("%s: a window of %d x %d posts at column %d, row %d is not inside its %d x %d posts",
			r.name, w.Columns, w.Rows, w.Column, w.Row, r.frame.Columns, r.frame.Rows)
	}
	_, height := r.pieceSize(w)
	whole := height%max(r.header.blockRows, 1) == 0 // bands hold whole blocks
	n := 1
	if whole && !strings.HasPrefix(r.name, "/vsi") && r.remote == nil && r.in.folder == "" {
		n = min(runtime.GOMAXPROCS(0), w.Columns*w.Rows/parallelPosts, 8)
	}
	rasters := []*Raster{r}
	for len(rasters) < n {
		twin, err := r.twin()
		if err != nil {
			break // fewer readers, then
		}
		rasters = append(rasters, twin)
	}
	var readers []dem.BandReader
	for _, raster := range rasters {
		var scratch buffers
		fill := func(ctx context.Context, band dem.Window, into []float32) error {
			err := raster.piecesInto(ctx, band, &scratch, func(piece dem.Window, values []float32) {
				for row := range piece.Rows {
					at := (piece.Row-band.Row+row)*band.Columns + piece.Column - band.Column
					copy(into[at:at+piece.Columns], values[row*piece.Columns:])
				}
			})
			if whole {
				raster.dropCache() // its blocks are not asked for again
			}
			return err
		}
		if r.remote != nil { // has limits, and options by thread, of its own
			readers = append(readers, fill)
			continue
		}
		lane := newLane()
		defer close(lane)
		readers = append(readers, func(ctx context.Context, band dem.Window, into []float32) error {
			_, err := supervised(ctx, r.name, patience, r.beats, func() (struct{}, error) {
				done := make(chan error, 1)
				lane <- func() { done <- fill(ctx, band, into) }
				return struct{}{}, <-done
			}, func(struct{}) {})
			return err
		})
	}
	err := dem.ReadBands(ctx, w, height, readers, use)
	for _, twin := range rasters[1:] {
		twin.Close()
		r.learn(twin)
	}
	return err
}

// dropCache frees the file's decoded blocks.
func (r *Raster) dropCache() {
	r.reading.Lock()
	defer r.reading.Unlock()
	if r.handle != nil {
		r.handle.dropCache()
	}
}
