package gdalio

import (
	"bytes"
	"io"
	"os"
	"strings"
)

// otherFormats are files told by their first bytes that are no elevation
// data, or are not opened: the readers of some crash on damage, and the rest
// were not tried (see the package comment).
var otherFormats = []struct{ start, name string }{
	{"\x89PNG", pictureFormat}, {"\xff\xd8\xff", pictureFormat}, {"GIF8", pictureFormat}, {"BM", pictureFormat}, {"RIFF", pictureFormat},
	{"%PDF", "a PDF document"},
	{"CDF\x01", "a netCDF file"}, {"CDF\x02", "a netCDF file"}, {"CDF\x05", "a netCDF file"},
	{"\x89HDF", "an HDF5 or netCDF file"}, {"\x0e\x03\x13\x01", "an HDF4 file"},
	{"GRIB", "a GRIB file"},
	{"NITF", "a NITF file"},
	{"\x00\x00\x00\x0cjP  ", "a JPEG 2000 file"}, {"\xff\x4f\xff\x51", "a JPEG 2000 file"},
	{"SQLite format 3", "a database"},
}

const pictureFormat = "a picture"

// firstBytes are those of a file of this machine, none when it is elsewhere.
func firstBytes(path string) []byte {
	if strings.HasPrefix(path, "/vsi") {
		return nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil
	}
	defer f.Close()
	head := make([]byte, 64)
	n, _ := io.ReadFull(f, head)
	return head[:n]
}

// otherFormat names the format that a file not opened has by its first
// bytes; "" where they tell nothing. They are a hint only: the values of a
// raw grid may be any bytes.
func otherFormat(head []byte) string {
	for _, f := range otherFormats {
		if bytes.HasPrefix(head, []byte(f.start)) {
			return f.name
		}
	}
	return ""
}
