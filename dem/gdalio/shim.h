#ifndef CROWLINE_GDALIO_SHIM_H
#define CROWLINE_GDALIO_SHIM_H

#include <stddef.h>
#include "gdal.h"

// What GDAL said between a push and a pop of the collecting handler: the
// first failure, which names the cause; later ones only follow from it.
typedef struct {
	int failures;
	int number; // CPLE_ number of the first failure
	char message[1024];
} gdalio_log;

#define GDALIO_OVERVIEWS 32

typedef struct {
	GDALDatasetH dataset;
	int columns, rows, bands;
	char driver[64];
	char compression[32]; // "" for none

	int type; // GDALDataType of band 1
	char type_name[32];
	int interpretation, second_interpretation; // colour meaning of bands 1 and 2
	int palette;
	int block_columns, block_rows;
	int has_nodata;
	double nodata, scale, offset;
	int mask; // 1: band 1 has a mask of its own, beyond nodata; 2: band 2 is one
	char unit[64];
	char band_name[64];
	char description[256];   // the file's own, then the TIFF image description
	int point;               // AREA_OR_POINT=Point
	int overviews[GDALIO_OVERVIEWS], overview_count;

	int has_geotransform, gcps;
	double geotransform[6];

	char *wkt; // NULL without a CRS; WKT 2 otherwise
	int is_epsg_4326, swapped_axes;
	int vertical; // 0 none, 1 vertical CRS, 2 ellipsoidal heights
	char vertical_name[256], vertical_unit[64];
	double vertical_metres; // metres per vertical unit
} gdalio_raster;

void gdalio_init(void);

// Each call resets and collects GDAL's errors for itself on the thread it
// runs on, and returns 0 on success.
// virtual_raster: the path is a virtual raster that we wrote.
int gdalio_open(const char *path, int virtual_raster, gdalio_raster *out, gdalio_log *log);
// stride: bytes from one row of values to the next.
int gdalio_read(const gdalio_raster *r, int x, int y, int columns, int rows,
	void *values, int type, long long stride, unsigned char *mask, gdalio_log *log);
// 0 unknown, 1 data, 2 empty, 3 some of each. Empty are zeros that the file
// system keeps as a hole, too.
int gdalio_coverage(GDALDatasetH dataset, int x, int y, int columns, int rows);
// Frees the decoded blocks kept for the dataset.
void gdalio_drop_cache(GDALDatasetH dataset);
void gdalio_close(gdalio_raster *r);

// A file in memory, copied from bytes.
int gdalio_memory_file(const char *path, const void *bytes, size_t n);
void gdalio_memory_remove(const char *folder);

// A fence round calls made through the binding, on a locked OS thread.
gdalio_log *gdalio_fence_begin(void);
void gdalio_fence_end(gdalio_log *log);

#endif
