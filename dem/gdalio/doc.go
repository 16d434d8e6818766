// Package gdalio opens, reads and writes elevation and vector files through
// GDAL. It is the only package that calls GDAL.
//
// # Model
//
// A [Raster] is a grid of posts: the centres of a file's cells. Posts are
// read as they are stored; nothing is resampled, warped or filled. GDAL is
// fenced in: its errors are collected by a handler of our own on the thread
// that makes the call, become one error in GDAL's words, and never reach
// standard error. A buffer that GDAL filled before it failed is thrown away.
//
// [OpenMany] takes files, folders, globs and addresses as one ground, a
// dem.Mosaic. Folders have an index of where each tile lies and its SHA-256,
// a GeoPackage in the user's cache folder: tiles are opened only where a
// question needs them, and one whose content has changed is refused. A
// [Remote] file on a web server is read in ranges.
//
// # Units
//
// Elevations are metres above the file's vertical datum, NaN where void.
// Other units are converted: the band's unit counts first, then the vertical
// CRS's; where neither says, metres are assumed and Info says so.
//
// # Accuracy
//
// Heights are float32, within 0.5 mm of what the file holds. The data's own
// vertical error is given only for data sets whose publisher states it and
// whose files can be told for certain (products.go).
//
// # Limitations
//
// Rotated grids, pictures, complex and 64-bit integer values and rasters
// placed by control points are refused with a reason. Values programs write
// for "no data" without declaring it (-9999, -32768 and the like), and values
// beyond the Earth's range, are taken as void with a warning. A GeoTIFF's
// compressed blocks carry no checksum that is enforced, so damage inside
// them may pass unnoticed, unless the file is in a tile index or has its
// checksum beside it (of the file itself: side files and the sources of a
// virtual raster are not covered). A file stored in blocks of more than 1 GiB
// is refused. What is read over HTTP is kept in memory and, where asked, on disk;
// a server's file that changes is noticed by its tag, date or length, and one
// whose server gives neither tag nor date by its length alone.
//
// # Reach
//
// No address is opened but one that somebody named, and no file but that
// named, its side files, and what a virtual raster joins. Drivers and file
// systems of GDAL's that reach a network, run code or follow names are not
// there (reach.c). A virtual raster is read by us and written anew: sources
// as they are, or with a void value and a linear scale, and raw bytes, from
// files in its own folder or below it, links resolved on both sides; virtual
// rasters of virtual rasters up to four deep. One at an address is refused.
// PROJ's network is off, and a reference system that names a datum grid by
// its folder is refused; of one inside a GeoTIFF PROJ may have seen the
// grid's head by then. A GeoPackage with virtual tables is refused.
//
// # References
//
// GDAL 3.6, GDAL raster and vector data models, https://gdal.org/.
// OGC 19-008r4, GeoTIFF 1.1 (PixelIsPoint and PixelIsArea).
// SQLite, database file format, https://sqlite.org/fileformat2.html.
package gdalio
