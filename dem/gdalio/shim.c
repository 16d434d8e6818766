#include "shim.h"
#include "reach.h"

#include <stdlib.h>
#include <string.h>

#include "cpl_conv.h"
#include "cpl_error.h"
#include "cpl_string.h"
#include "cpl_vsi.h"
#include "ogr_srs_api.h"
#include "proj.h"
#ifdef __GLIBC__
#include <malloc.h>
#endif

// Nothing is ever printed, whatever thread of GDAL's own it comes from.
static void CPL_STDCALL silent(CPLErr class, CPLErrorNum number, const char *message) {
	(void)class; (void)number; (void)message;
}

static void CPL_STDCALL collect(CPLErr class, CPLErrorNum number, const char *message) {
	gdalio_log *log = CPLGetErrorHandlerUserData();
	if (class < CE_Failure || !log) return;
	if (log->failures++ == 0) {
		log->number = (int)number;
		strncpy(log->message, message ? message : "", sizeof log->message - 1);
	}
}

static void push(gdalio_log *log) {
	memset(log, 0, sizeof *log);
	CPLErrorReset();
	CPLPushErrorHandlerEx(collect, log);
}

static void pop(void) {
	CPLPopErrorHandler();
	CPLErrorReset();
}

static void set_default(const char *key, const char *value) {
	if (!CPLGetConfigOption(key, NULL)) CPLSetConfigOption(key, value);
}

void gdalio_init(void) {
#ifdef __GLIBC__
	// Blocks of some 100 kB are freed and wanted again all through a read;
	// given back to the system in between they cost a page fault every 4 kB,
	// a sixteenth of the time of a read.
	mallopt(M_MMAP_THRESHOLD, 32 << 20);
	mallopt(M_TRIM_THRESHOLD, 64 << 20);
#endif
	CPLSetErrorHandler(silent);
	// The GeoTIFF reader has PROJ contexts of its own, which print; new
	// contexts take the default one's level.
	proj_log_level(NULL, PJ_LOG_NONE);
	// 16 MB of blocks: reads go along the blocks, so each is asked for once or
	// twice at a time, and the default (a share of the machine) would hold a
	// second copy of every grid.
	set_default("GDAL_CACHEMAX", "16");
	// Look for side files by name instead of listing the folder, which may
	// hold thousands of tiles.
	set_default("GDAL_DISABLE_READDIR_ON_OPEN", "TRUE");
	GDALAllRegister();
	gdalio_keep_in();
}

static void copy(char *to, size_t n, const char *from) {
	if (!from) from = "";
	strncpy(to, from, n - 1);
	to[n - 1] = 0;
}

static void describe_crs(OGRSpatialReferenceH srs, gdalio_raster *out) {
	const char *authority = OSRGetAuthorityName(srs, NULL), *code = OSRGetAuthorityCode(srs, NULL);
	out->is_epsg_4326 = authority && code && EQUAL(authority, "EPSG") && EQUAL(code, "4326");

	int n = 0, m = 0;
	const int *given = OSRGetDataAxisToSRSAxisMapping(srs, &n);
	OGRSpatialReferenceH usual = OSRClone(srs);
	OSRSetAxisMappingStrategy(usual, OAMS_TRADITIONAL_GIS_ORDER);
	const int *expected = OSRGetDataAxisToSRSAxisMapping(usual, &m);
	for (int i = 0; i < 2 && i < n && i < m; i++)
		if (given[i] != expected[i]) out->swapped_axes = 1;
	OSRDestroySpatialReference(usual);

	out->vertical_metres = 1;
	if (OSRIsCompound(srs)) {
		const char *name = OSRGetAttrValue(srs, "VERT_CS", 0);
		char *unit = NULL;
		double metres = OSRGetTargetLinearUnits(srs, "VERT_CS", &unit);
		if (name) {
			out->vertical = 1;
			copy(out->vertical_name, sizeof out->vertical_name, name);
			copy(out->vertical_unit, sizeof out->vertical_unit, unit);
			out->vertical_metres = metres;
		}
	} else if (OSRGetAxesCount(srs) == 3) {
		out->vertical = 2;
	}
	if (!out->is_epsg_4326) {
		const char *const options[] = {"FORMAT=WKT2_2019", NULL};
		OSRExportToWktEx(srs, &out->wkt, options);
	}
}

int gdalio_open(const char *path, int virtual_raster, gdalio_raster *out, gdalio_log *log) {
	memset(out, 0, sizeof *out);
	push(log);
	char **drivers = gdalio_raster_drivers(virtual_raster);
	GDALDatasetH d = GDALOpenEx(path, GDAL_OF_RASTER | GDAL_OF_READONLY | GDAL_OF_VERBOSE_ERROR,
		(const char *const *)drivers, NULL, NULL);
	CSLDestroy(drivers);
	if (!d) {
		pop();
		return 1;
	}
	// What follows may fail in part (a bad CRS, no geotransform); each part
	// is judged by its own field, not by the log.
	out->dataset = d;
	out->columns = GDALGetRasterXSize(d);
	out->rows = GDALGetRasterYSize(d);
	out->bands = GDALGetRasterCount(d);
	copy(out->driver, sizeof out->driver, GDALGetDriverShortName(GDALGetDatasetDriver(d)));
	copy(out->compression, sizeof out->compression, GDALGetMetadataItem(d, "COMPRESSION", "IMAGE_STRUCTURE"));
	const char *about = GDALGetMetadataItem(d, "TIFFTAG_IMAGEDESCRIPTION", NULL);
	copy(out->description, sizeof out->description, about);
	const char *area = GDALGetMetadataItem(d, "AREA_OR_POINT", NULL);
	out->point = area && EQUAL(area, "Point");
	GDALRasterBandH b = out->bands > 0 ? GDALGetRasterBand(d, 1) : NULL;
	if (b) {
		copy(out->band_name, sizeof out->band_name, GDALGetDescription(b));
		out->type = GDALGetRasterDataType(b);
		copy(out->type_name, sizeof out->type_name, GDALGetDataTypeName(out->type));
		out->interpretation = GDALGetRasterColorInterpretation(b);
		if (out->bands > 1)
			out->second_interpretation = GDALGetRasterColorInterpretation(GDALGetRasterBand(d, 2));
		out->palette = GDALGetRasterColorTable(b) != NULL;
		GDALGetBlockSize(b, &out->block_columns, &out->block_rows);
		out->nodata = GDALGetRasterNoDataValue(b, &out->has_nodata);
		int ok = 0;
		out->scale = GDALGetRasterScale(b, &ok);
		if (!ok) out->scale = 1;
		out->offset = GDALGetRasterOffset(b, &ok);
		if (!ok) out->offset = 0;
		int flags = GDALGetMaskFlags(b);
		out->mask = (flags & (GMF_PER_DATASET | GMF_ALPHA)) != 0 || flags == 0;
		// GDAL takes alpha for a mask only in some types.
		if (!out->mask && out->bands == 2 && out->second_interpretation == GCI_AlphaBand) out->mask = 2;
		copy(out->unit, sizeof out->unit, GDALGetRasterUnitType(b));
		// An item of the file's, or of its side file's, may name any file for
		// its reduced copies, and to count them is to open it.
		int n = GDALGetMetadataItem(d, "OVERVIEW_FILE", "OVERVIEWS") ? 0 : GDALGetOverviewCount(b);
		for (int i = 0; i < n && i < GDALIO_OVERVIEWS; i++) {
			GDALRasterBandH o = GDALGetOverview(b, i);
			if (o) out->overviews[out->overview_count++] = GDALGetRasterBandXSize(o);
		}
	}
	out->has_geotransform = GDALGetGeoTransform(d, out->geotransform) == CE_None;
	out->gcps = GDALGetGCPCount(d);
	OGRSpatialReferenceH srs = GDALGetSpatialRef(d);
	if (srs) describe_crs(srs, out);
	pop();
	return 0;
}

int gdalio_read(const gdalio_raster *r, int x, int y, int columns, int rows,
	void *values, int type, long long stride, unsigned char *mask, gdalio_log *log) {
	push(log);
	GDALRasterBandH b = GDALGetRasterBand(r->dataset, 1);
	CPLErr e = GDALRasterIOEx(b, GF_Read, x, y, columns, rows, values, columns, rows, type, 0, stride, NULL);
	GDALRasterBandH m = r->mask == 2 ? GDALGetRasterBand(r->dataset, 2) : GDALGetMaskBand(b);
	if (e == CE_None && mask)
		e = GDALRasterIOEx(m, GF_Read, x, y, columns, rows, mask, columns, rows,
			GDT_Byte, 0, 0, NULL);
	pop();
	// A VRT whose source is missing can say so and still return zeros.
	return e != CE_None || log->failures > 0;
}

int gdalio_coverage(GDALDatasetH dataset, int x, int y, int columns, int rows) {
	gdalio_log log;
	push(&log);
	int status = GDALGetDataCoverageStatus(GDALGetRasterBand(dataset, 1), x, y, columns, rows, 0, NULL);
	pop();
	if (status & GDAL_DATA_COVERAGE_STATUS_UNIMPLEMENTED) return 0;
	return ((status & GDAL_DATA_COVERAGE_STATUS_DATA) ? 1 : 0) |
		((status & GDAL_DATA_COVERAGE_STATUS_EMPTY) ? 2 : 0);
}

void gdalio_drop_cache(GDALDatasetH dataset) {
	gdalio_log log;
	push(&log);
	for (int i = 1; i <= GDALGetRasterCount(dataset); i++)
		GDALFlushRasterCache(GDALGetRasterBand(dataset, i));
	pop();
}

void gdalio_close(gdalio_raster *r) {
	gdalio_log log;
	push(&log);
	if (r->dataset) GDALClose(r->dataset);
	r->dataset = NULL;
	CPLFree(r->wkt);
	r->wkt = NULL;
	pop();
}

int gdalio_memory_file(const char *path, const void *bytes, size_t n) {
	void *copied = VSIMalloc(n ? n : 1);
	if (!copied) return 1;
	memcpy(copied, bytes, n);
	VSILFILE *f = VSIFileFromMemBuffer(path, copied, n, TRUE);
	if (!f) {
		VSIFree(copied);
		return 1;
	}
	VSIFCloseL(f);
	return 0;
}

void gdalio_memory_remove(const char *folder) { VSIRmdirRecursive(folder); }

gdalio_log *gdalio_fence_begin(void) {
	gdalio_log *log = malloc(sizeof *log);
	if (log) push(log);
	return log;
}

void gdalio_fence_end(gdalio_log *log) {
	(void)log;
	pop();
}
