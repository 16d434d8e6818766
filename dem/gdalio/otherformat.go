package gdalio

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path"
	"slices"
	"strings"
)

// What files are that are no elevation data, or are not opened, and what to do
// with them: the readers of some crash on damage, and the rest were not tried
// (see the package comment).
const (
	pictureFormat  = "a picture"
	pointCloud     = "a point cloud (LAS or LAZ)"
	linesFormat    = "a file of lines, points or areas"
	databaseFormat = "a database"
	netCDFFormat   = "a netCDF or HDF5 file"
)

// otherFormats are told by their first bytes.
var otherFormats = []struct{ start, name string }{
	{"\x89PNG", pictureFormat}, {"\xff\xd8\xff", pictureFormat}, {"GIF8", pictureFormat}, {"BM", pictureFormat}, {"RIFF", pictureFormat},
	{"LASF", pointCloud}, {"\x00\x00\x27\x0a", linesFormat}, // Esri's shapefile, file code 9994
	{"%PDF", "a PDF document"},
	{"CDF\x01", netCDFFormat}, {"CDF\x02", netCDFFormat}, {"CDF\x05", netCDFFormat}, {"\x89HDF", netCDFFormat},
	{"\x0e\x03\x13\x01", "an HDF4 file"},
	{"GRIB", "a GRIB file"},
	{"NITF", "a NITF file"},
	{"SQLite format 3", databaseFormat},
	{"Rar!", "a RAR archive"}, {"7z\xbc\xaf", "a 7z archive"},
}

// byName are what files are by their endings, where these tell.
var byName = map[string][]string{
	pictureFormat: {".jpg", ".jpeg", ".png", ".gif", ".bmp", ".webp", ".heic"},
	pointCloud:    {".las", ".laz", ".e57", ".ply"},
	linesFormat:   {".shp", ".geojson", ".gpx", ".kml", ".kmz", ".dxf", ".dgn", ".fgb", ".gml"},
	netCDFFormat:  {".nc", ".nc4", ".h5", ".hdf5"},
}

// kindByName is what a file is by its name, "" where that does not tell.
func kindByName(name string) string {
	for kind, endings := range byName {
		if slices.Contains(endings, strings.ToLower(path.Ext(name))) {
			return kind
		}
	}
	return ""
}

// errOther says of a file that is not opened what it is, and what to do with it;
// nil where its first bytes and its name tell nothing.
func errOther(name, kind string) error {
	switch kind {
	case "":
		return nil
	case pictureFormat:
		return errPicture(name)
	case pointCloud:
		return fmt.Errorf("%s is %s: points, not yet a ground; make a raster of its ground points, as with pdal (writers.gdal) or your mapping program, or take the elevation model that its publisher has beside it", name, kind)
	case linesFormat:
		return fmt.Errorf("%s is %s, such as contour lines, not a raster of heights; take the elevation model they were drawn from, or make a raster of them (gdal_rasterize, gdal_grid): between lines that is guessed", name, kind)
	case databaseFormat:
		return fmt.Errorf("%s is %s that holds no raster of heights; take the elevation model itself (of contour lines in it, the one they were drawn from)", name, kind)
	case netCDFFormat:
		return fmt.Errorf("%s is %s, whose readers crash on damaged files and follow names in them, so it is not opened here; make a GeoTIFF of its heights (gdal_translate %s heights.tif; gdalinfo names its variables)", name, kind, shortened(path.Base(name)))
	}
	return fmt.Errorf("%s is %s, which is not opened here; make a GeoTIFF of its heights (gdal_translate)", name, kind)
}

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
