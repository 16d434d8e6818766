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
// question needs them, and one whose content has changed, or that is damaged,
// is refused then, by name. A [Remote] file on a web server is read in ranges.
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
// What is opened: GeoTIFF, also cloud-optimised; virtual rasters; SRTM (.hgt),
// DTED, USGS DEM (.dem); Esri's ASCII grids (.asc), and grids of raw values
// with a .hdr (.bil, .flt, and ENVI's); Imagine (.img), SAGA (.sdat), Surfer
// (.grd, three kinds), XYZ, .bt and .gtx; Esri's grid folders (hdr.adf), the
// grids of a GeoPackage, and JPEG 2000; any of these in a zip, gzip or tar file,
// and of several in an archive all, each under the archive's path and its own
// (tiles.zip/a.tif). Of anything else make a GeoTIFF (gdal_translate). A virtual
// raster takes neither ASCII grids nor packed files. In a folder's index an Esri
// grid is told by its header alone.
//
// GDAL knows some 140 formats, and a file chooses its reader by its content. A
// crash in C ends the process, and a call into C cannot be stopped. So the
// other raster drivers, and GDAL's own ways into packed files, are taken away
// for the whole process; a program that wants the drivers beside this package
// can have them back (GDALAllRegister), at its own risk. Measured with GDAL
// 3.6.2 on damaged copies (bits flipped, stretches zeroed, ends cut off; posts
// asked for in any order): of 150 copies each of 50 formats, ASCII grids hung
// 42 of 205, in a search that doubles with every row beyond a cut; zipped SRTM
// crashed 3, netCDF 1. Of 2 000 copies each of what is opened now, in 30
// formats and packings, none crashed, none hung, and none took more than 100
// MB; nor did any of 2 000 copies each of GeoPackages, JPEG 2000, Esri grids and
// tar files. ASCII grids and packed files are read by this package, strictly and
// with every checksum held, into memory: 4 bytes a post, 1 GiB at the most, and
// of a packed tar file 2 GiB are gone through. netCDF and HDF5 are not opened:
// their readers crashed, and HDF5 reads any file as raw values if the file says
// so. GRIB and the rest were not tried. A child process for the worst would have held them too, but a
// library cannot run its caller's program again.
//
// Opening a file, or reading on by one piece, takes a minute at the most:
// after that an error names the file, and the call into GDAL is left behind
// with its thread. Open ends in that time; OpenVerified and all reads end with
// their context too.
//
// A GeoTIFF's blocks that are not stored hold zeros, or the declared void
// value, as the format says; where they are a twentieth of the file or more
// and no void is declared, Info warns. Ground that no source of a virtual
// raster reaches, with no void declared, is void.
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
