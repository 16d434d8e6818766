package gdalio

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestReasonsAreInPlainWords: what GDAL 3.6 and the libraries below it said
// when it was given such files.
func TestReasonsAreInPlainWords(t *testing.T) {
	t.Parallel()
	for said, want := range map[string][2]string{
		"TIFFFillTile:Read error at row 4294967295, col 4294967295, tile 4; got 0 bytes, expected 15751": {"part of it is missing", fetchAgain},
		"ZIPDecode:Decoding error at scanline 0, incorrect header check":                                 {"part of it cannot be unpacked", fetchAgain},
		"/d/gone.tif: No such file or directory":                                                         {"it takes its heights from /d/gone.tif, which is not there", "put that file in its place"},
		"Recursion detected":                                                                             {"it has itself among its sources", "make it again from the files it should join"},
		"`/d/zip lzw.tif' not recognized as a supported file format.":                                    {"it is of no known kind, or not whole", fetchAgain},
		"not a readable GPX file: not recognized as a supported file format.":                            {"not a readable GPX file: it is of no known kind, or not whole", fetchAgain},
		"not a readable GeoJSON file: At line 2, character 1: Unterminated":                              {"not a readable GeoJSON file: it is not whole at line 2, character 1", fetchAgain},
		"Unable to open c.shx or c.SHX. Set SHAPE_RESTORE_SHX config option":                             {"c.shx is missing", "keep the files of a shapefile together"},
		"database disk image is malformed":                                                               {"part of it is damaged", fetchAgain},
		"GTiffOddity: /d/zip lzw.tif is odd":                                                             {"zip lzw.tif is odd", fetchAgain},
		"":                                                                                               {"no reason given", fetchAgain},
	} {
		plain, todo := reason(errors.New(said), "/d/zip lzw.tif", "/d/zip lzw.tif")
		assert.Equal(t, want, [2]string{plain, todo}, said)
	}
}
