package gdalio

import "fmt"

// maxBlockBytes is the largest block a file may be stored in, 1 GiB: GDAL
// unpacks a whole block to give one post of it, and a file of some hundred
// bytes may declare a block of any size.
const maxBlockBytes = 1 << 30

// checkBlocks refuses files whose blocks would not fit in memory.
func checkBlocks(head header, name string) error {
	size := map[int]float64{typeByte: 1, typeUInt16: 2, typeInt16: 2, typeFloat64: 8}[head.dataType]
	if size == 0 {
		size = 4
	}
	bytes := size * float64(head.blockColumns) * float64(head.blockRows)
	if bytes <= maxBlockBytes {
		return nil
	}
	return fmt.Errorf("%s is stored in blocks of %d x %d posts, %.1f GB each once unpacked, and one post takes a whole block; store it tiled first (gdal_translate -co TILED=YES)",
		name, head.blockColumns, head.blockRows, bytes/1e9)
}
