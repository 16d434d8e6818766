package gdalio

import (
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// gigabyte is a plain GeoTIFF of 16 384 x 16 384 float posts 30 m apart, 1.07
// GB in blocks of 512 x 512, most of it a hole that takes no disk: posts are
// written for some blocks only. It is laid out as a cloud-optimised file is,
// its directory first. TIFF 6.0 and OGC GeoTIFF 1.1 give the tags.
func gigabyte(t *testing.T, path string, elevation func(column, row int) float32, blocks ...[2]int) {
	t.Helper()
	const n, side, blockBytes = 16384, 512, 4 * 512 * 512
	order := binary.LittleEndian
	const tags, directory = 13, 8
	const extra = directory + 2 + 12*tags + 4 // where what does not fit in a tag begins
	var offsets, counts []byte
	scale, tie, keys := extra+8*n/side*n/side, extra+8*n/side*n/side+24, extra+8*n/side*n/side+24+48
	first := 1 << 14
	require.Less(t, keys+32, first)
	for i := range n / side * n / side {
		offsets = order.AppendUint32(offsets, uint32(first+i*blockBytes))
		counts = order.AppendUint32(counts, blockBytes)
	}
	head := []byte("II*\x00")
	head = order.AppendUint32(head, directory)
	head = order.AppendUint16(head, tags)
	tag := func(id, kind uint16, count, value int) {
		head = order.AppendUint16(order.AppendUint16(head, id), kind)
		head = order.AppendUint32(order.AppendUint32(head, uint32(count)), uint32(value))
	}
	const short, long, double = 3, 4, 12
	tag(256, long, 1, n)                                 // ImageWidth
	tag(257, long, 1, n)                                 // ImageLength
	tag(258, short, 1, 32)                               // BitsPerSample
	tag(259, short, 1, 1)                                // Compression: none
	tag(262, short, 1, 1)                                // PhotometricInterpretation
	tag(322, long, 1, side)                              // TileWidth
	tag(323, long, 1, side)                              // TileLength
	tag(324, long, n/side*n/side, extra)                 // TileOffsets
	tag(325, long, n/side*n/side, extra+4*n/side*n/side) // TileByteCounts
	tag(339, short, 1, 3)                                // SampleFormat: floating point
	tag(33550, double, 3, scale)                         // ModelPixelScale
	tag(33922, double, 6, tie)                           // ModelTiepoint
	tag(34735, short, 16, keys)                          // GeoKeyDirectory
	head = order.AppendUint32(head, 0)
	head = append(append(head, offsets...), counts...)
	for _, v := range []float64{30, 30, 0, 0, 0, 0, 500000, 4100000, 0} {
		head = order.AppendUint64(head, math.Float64bits(v))
	}
	for _, v := range []uint16{1, 1, 0, 3, 1024, 0, 1, 1, 1025, 0, 1, 1, 3072, 0, 1, 32617} { // projected; area; UTM 17N
		head = order.AppendUint16(head, v)
	}
	f, err := os.Create(path)
	require.NoError(t, err)
	defer f.Close()
	_, err = f.Write(head)
	require.NoError(t, err)
	require.NoError(t, f.Truncate(int64(first)+int64(n/side*n/side)*blockBytes))
	for _, b := range blocks {
		data := make([]byte, 0, blockBytes)
		for r := range side {
			for c := range side {
				data = order.AppendUint32(data, math.Float32bits(elevation(b[0]*side+c, b[1]*side+r)))
			}
		}
		_, err := f.WriteAt(data, int64(first)+int64(b[1]*n/side+b[0])*blockBytes)
		require.NoError(t, err)
	}
}

// TestLegOfAGigabyte: a leg of 10 km, and what joining tiles adds, of a file
// of 1 GB that is not compressed, so that a row of a block, 2 kB, is the
// least that can be fetched.
func TestLegOfAGigabyte(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	elevation := func(column, row int) float32 { return float32(1000 + column%97 + 2*(row%89)) }
	path := filepath.Join(folder, "tile.tif")
	gigabyte(t, path, elevation, [2]int{11, 11}, [2]int{12, 11}, [2]int{11, 12}, [2]int{12, 12})
	stat, err := os.Stat(path)
	require.NoError(t, err)
	s := serve(t, folder, nil)
	m, err := OpenMany(t.Context(), []string{s.URL + "/tile.tif"}, ManyOptions{Remote: quick})
	require.NoError(t, err)
	defer m.Close()
	crs := utm17(t)
	x, y := []float64{500015 + 30*6017, 500015 + 30*6250}, []float64{4099985 - 30*6017, 4099985 - 30*6250}
	require.NoError(t, crs.ToWGS84(x, y))
	from, to := geodesy.LatLon{Lat: geodesy.Degrees(y[0]), Lon: geodesy.Degrees(x[0])}, geodesy.LatLon{Lat: geodesy.Degrees(y[1]), Lon: geodesy.Degrees(x[1])}
	j, err := m.For(t.Context(), []geodesy.LatLon{from, to}, 3000)
	require.NoError(t, err)
	posts := dem.NewBlocks(t.Context(), j, 0)
	for _, p := range geodesy.Waypoints(from, to, 1000) {
		h, err := dem.ElevationAt(posts, p)
		require.NoError(t, err)
		assert.True(t, h >= 1000 && h <= 1300, "posts that were never written are 0: %g", h)
	}
	require.NoError(t, posts.Err())
	h, err := dem.ElevationAt(posts, from)
	require.NoError(t, err)
	const tolerance = 1e-3 // m; a post's place is found again to some 1e-6 of a cell of 30 m
	assert.InDelta(t, float64(elevation(6017, 6017)), h, tolerance)
	requests, bytes := s.counts()
	t.Logf("file of %.0f MB, not compressed: %d requests, %d kB with a leg of %.1f km",
		float64(stat.Size())/1e6, requests, bytes/1000, geodesy.Inverse(from, to).Distance/1000)
	assert.Less(t, bytes, int64(900_000))
	assert.LessOrEqual(t, requests, 12)
}
