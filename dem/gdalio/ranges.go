package gdalio

/*
#include <stdlib.h>
#include <stdio.h>
#include "gdal.h"
#include "cpl_error.h"

// remote_block says where in its file a GeoTIFF's block is stored; 0 when it
// is not stored, or the file is no GeoTIFF.
static int remote_block(GDALDatasetH dataset, int column, int row, long long *offset, long long *size) {
	CPLPushErrorHandler(CPLQuietErrorHandler);
	GDALRasterBandH band = GDALGetRasterBand(dataset, 1);
	char key[64];
	snprintf(key, sizeof key, "BLOCK_OFFSET_%d_%d", column, row);
	const char *value = GDALGetMetadataItem(band, key, "TIFF");
	*offset = value ? atoll(value) : 0;
	snprintf(key, sizeof key, "BLOCK_SIZE_%d_%d", column, row);
	value = *offset > 0 ? GDALGetMetadataItem(band, key, "TIFF") : NULL;
	*size = value ? atoll(value) : 0;
	CPLPopErrorHandler();
	CPLErrorReset();
	return *offset > 0 && *size > 0;
}

// remote_plain reports whether values are stored as they are in memory, but
// for the order of bytes.
static int remote_plain(GDALDatasetH dataset) {
	GDALRasterBandH band = GDALGetRasterBand(dataset, 1);
	return !GDALGetMetadataItem(dataset, "COMPRESSION", "IMAGE_STRUCTURE") && !GDALGetMetadataItem(band, "NBITS", "IMAGE_STRUCTURE");
}
*/
import "C"

import (
	"cmp"
	"encoding/binary"
	"math"
	"slices"

	"crowline/dem"
)

// fetchedAhead is the most that is fetched before a read, bytes: half of
// what is kept of remote files, so that it is still there for the read.
const fetchedAhead = keptBytes / 2

// fetchGap, bytes: parts of a file closer together than this are fetched as
// one, for that is the least a server is asked for.
const fetchGap = partBytes

// byteRange is bytes from to end of a file.
type byteRange struct{ from, end int64 }

// storedBlock is a block of a GeoTIFF and the rows of it that are wanted.
type storedBlock struct {
	column, row int // of its first post
	first, end  int // rows wanted
	rowBytes    int64
	byteRange   // of the block, or of the rows wanted if it is plain
}

// readRemote reads a window of a file on a web server, fetching the blocks it
// is stored in and no more, or, of blocks stored without compression, the
// rows wanted and no more. The caller holds r.reading.
func readRemote[T float32 | float64](r *Raster, w dem.Window, values []T, stride int, mask []byte) error {
	plain := mask == nil && r.plain()
	blocks, complete := r.storedBlocks(w, plain)
	ranges := joinRanges(blocks)
	total := int64(0)
	for _, s := range ranges {
		total += s.end - s.from
	}
	if total <= fetchedAhead {
		fetched := make([][]byte, len(ranges))
		for i, s := range ranges {
			fetched[i] = r.bytes(s)
		}
		// What could not be fetched or foreseen is left to the read below, which
		// says what is wrong.
		if plain && complete && !slices.ContainsFunc(fetched, func(b []byte) bool { return b == nil }) {
			for _, b := range blocks {
				i, _ := slices.BinarySearchFunc(ranges, b.from, func(s byteRange, from int64) int { return cmp.Compare(s.end, from+1) })
				placePlain(r, b, fetched[i][b.from-ranges[i].from:], w, values, stride)
			}
			return nil
		}
	}
	return read(r.handle, w.Column, w.Row, w.Columns, w.Rows, values, stride, mask)
}

// fromServer says where the file is fetched from.
func (r *Raster) fromServer(f *remoteFile) {
	r.remote = f
	if head := f.web.Head(); len(head) >= 2 {
		switch string(head[:2]) { // TIFF 6.0, section 2
		case "II":
			r.order = binary.LittleEndian
		case "MM":
			r.order = binary.BigEndian
		}
	}
}

// plain reports whether values are stored one after another as they are.
func (r *Raster) plain() bool {
	h := r.header
	return r.order != nil && h.driver == "GTiff" && h.bands == 1 && h.dataType != typeByte && C.remote_plain(r.handle.raster.dataset) != 0
}

// valueBytes is the size of one stored value.
func (h header) valueBytes() int64 {
	switch h.dataType {
	case typeByte:
		return 1
	case typeInt16, typeUInt16:
		return 2
	case typeFloat64:
		return 8
	}
	return 4
}

// storedBlocks is where in the file the posts of a window are stored, and
// whether all of them are.
func (r *Raster) storedBlocks(w dem.Window, plain bool) (blocks []storedBlock, complete bool) {
	h := r.header
	if h.driver != "GTiff" || h.blockColumns <= 0 || h.blockRows <= 0 {
		return nil, false
	}
	complete = true
	for y := w.Row / h.blockRows; y*h.blockRows < w.Row+w.Rows; y++ {
		for x := w.Column / h.blockColumns; x*h.blockColumns < w.Column+w.Columns; x++ {
			var offset, stored C.longlong
			if C.remote_block(r.handle.raster.dataset, C.int(x), C.int(y), &offset, &stored) == 0 {
				complete = false
				continue
			}
			// A header may say anything.
			if size := r.remote.web.Size(); int64(offset) > size || int64(stored) > size-int64(offset) {
				complete = false
				continue
			}
			b := storedBlock{
				column: x * h.blockColumns, row: y * h.blockRows,
				first: max(w.Row-y*h.blockRows, 0), end: min(w.Row+w.Rows-y*h.blockRows, h.blockRows),
				rowBytes:  h.valueBytes() * int64(h.blockColumns),
				byteRange: byteRange{int64(offset), int64(offset) + int64(stored)},
			}
			if plain {
				if int64(stored) < b.rowBytes*int64(b.end) {
					complete = false
					continue
				}
				b.byteRange = byteRange{b.from + b.rowBytes*int64(b.first), b.from + b.rowBytes*int64(b.end)}
			}
			blocks = append(blocks, b)
		}
	}
	return blocks, complete
}

// blocksCounted is about how many of a file's blocks are looked at for
// shareOfHoles.
const blocksCounted = 1 << 16

// shareOfHoles is the share of a GeoTIFF's blocks that are not stored,
// percent. Zeros that the file system keeps as a hole, which a copy of the
// file may not have, are stored.
func (r *Raster) shareOfHoles() float64 {
	across := (r.header.columns-1)/r.header.blockColumns + 1
	down := (r.header.rows-1)/r.header.blockRows + 1
	step := across*down/blocksCounted + 1
	looked, holes := 0, 0
	for i := 0; i < across*down; i += step {
		var offset, stored C.longlong
		if C.remote_block(r.handle.raster.dataset, C.int(i%across), C.int(i/across), &offset, &stored) == 0 {
			holes++
		}
		looked++
	}
	return 100 * float64(holes) / float64(looked)
}

// joinRanges is the ranges of some blocks in the order of the file, those
// close together joined.
func joinRanges(blocks []storedBlock) []byteRange {
	ranges := make([]byteRange, len(blocks))
	for i, b := range blocks {
		ranges[i] = b.byteRange
	}
	slices.SortFunc(ranges, func(a, b byteRange) int { return cmp.Compare(a.from, b.from) })
	var joined []byteRange
	for _, s := range ranges {
		if n := len(joined); n > 0 && s.from <= joined[n-1].end+fetchGap {
			joined[n-1].end = max(joined[n-1].end, s.end)
			continue
		}
		joined = append(joined, s)
	}
	return joined
}

// bytes are a part of the file; nil when it cannot be had. They are kept for
// GDAL's own next read as well.
func (r *Raster) bytes(s byteRange) []byte {
	data := make([]byte, s.end-s.from)
	if r.remote.read(data, s.from, 0) != len(data) {
		return nil
	}
	return data
}

// placePlain puts the posts of a plain block that lie in the window where
// they belong. data begins at the block's first wanted row.
func placePlain[T float32 | float64](r *Raster, b storedBlock, data []byte, w dem.Window, values []T, stride int) {
	from, end := max(w.Column, b.column), min(w.Column+w.Columns, b.column+r.header.blockColumns)
	size := r.header.valueBytes()
	for row := b.first; row < b.end; row++ {
		line := data[int64(row-b.first)*b.rowBytes+int64(from-b.column)*size:]
		out := values[(b.row+row-w.Row)*stride+from-w.Column:][:end-from]
		decode(out, line, r.header.dataType, r.order)
	}
}

// decode reads stored values. float32 is for the types it holds exactly.
func decode[T float32 | float64](out []T, line []byte, dataType int, order binary.ByteOrder) {
	switch dataType {
	case typeInt16:
		for i := range out {
			out[i] = T(int16(order.Uint16(line[2*i:])))
		}
	case typeUInt16:
		for i := range out {
			out[i] = T(order.Uint16(line[2*i:]))
		}
	case typeInt32:
		for i := range out {
			out[i] = T(int32(order.Uint32(line[4*i:])))
		}
	case typeUInt32:
		for i := range out {
			out[i] = T(order.Uint32(line[4*i:]))
		}
	case typeFloat32:
		for i := range out {
			out[i] = T(math.Float32frombits(order.Uint32(line[4*i:])))
		}
	case typeFloat64:
		for i := range out {
			out[i] = T(math.Float64frombits(order.Uint64(line[8*i:])))
		}
	default:
		panic("gdalio: no such type of value")
	}
}
