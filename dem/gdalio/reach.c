#define _GNU_SOURCE // stat64, which GDAL's stat is

#include "reach.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "cpl_conv.h"
#include "cpl_error.h"
#include "cpl_http.h"
#include "cpl_string.h"
#include "cpl_vsi.h"
#include "ogr_srs_api.h"
#include "proj.h"

// The drivers there are, for a file somebody named as for a file that another
// one leads to. Left out are all that fetch from a network or a database, run
// code, or take data from files that a file names (but VRT, of which we read
// the names ourselves, and HFA, of which we look at them): HDF5 and netCDF,
// for one, read any file as raw values, if told to. Of the rest these are the
// formats in which elevation data come and whose readers hold out against
// damaged files (TestDamagedFormats); that of ASCII grids does not, and
// asciigrid.go reads them.
static const char *const rasters[] = {
	"GTiff", "HFA", "DTED", "SRTMHGT", "USGSDEM", "EHdr", "ENVI", "GTX", "BT", "GSAG", "GSBG", "GS7BG", "SAGA", "XYZ", "AIG", "GPKG",
	"JP2OpenJPEG", NULL
};
// PNG is for the tiles of a GeoPackage: it is not among those a file is opened by.
static const char *const others[] = {
	"VRT", "PNG", "FlatGeobuf", "ESRI Shapefile", "DXF", "GPX", "GeoJSON", "KML", NULL
};

static int among(const char *const *names, const char *name) {
	return CSLFindString((CSLConstList)names, name) >= 0;
}

// File systems of GDAL's that reach a network, or another process. Addresses
// are read through package web (remotefile.c).
static const char *const networks[] = {
	"/vsicurl/", "/vsicurl?", "/vsicurl_streaming/", "/vsis3/", "/vsis3_streaming/", "/vsigs/", "/vsigs_streaming/", "/vsiaz/", "/vsiaz_streaming/",
	"/vsiadls/", "/vsioss/", "/vsioss_streaming/", "/vsiswift/", "/vsiswift_streaming/", "/vsihdfs/", "/vsiwebhdfs/",
	"/vsistdin/", NULL
};

// GDAL's reader of zip files crashes on some damaged ones, and would be used
// for a source of a virtual raster, or a name that ends in .hgt.zip. What is
// packed is unpacked by packed.go.
static const char *const archives[] = {"/vsizip/", "/vsigzip/", "/vsitar/", NULL};

static int no_stat(void *user, const char *path, VSIStatBufL *out, int flags) {
	(void)user; (void)path; (void)out; (void)flags;
	errno = EACCES;
	return -1;
}

static void *no_open(void *user, const char *path, const char *access) {
	(void)user; (void)access;
	CPLError(CE_Failure, CPLE_OpenFailed, "it leads to an address, which is not opened: %s", path);
	errno = EACCES;
	return NULL;
}

static void *no_archive(void *user, const char *path, const char *access) {
	(void)user; (void)path; (void)access;
	CPLError(CE_Failure, CPLE_OpenFailed, "it leads into a packed file, which is opened only by itself");
	errno = EACCES;
	return NULL;
}

// What CPLHTTPFetch does, whoever calls it.
static CPLHTTPResult *no_fetch(const char *url, CSLConstList options, GDALProgressFunc progress, void *progress_arg,
	CPLHTTPFetchWriteFunc write, void *write_arg, void *user) {
	(void)options; (void)progress; (void)progress_arg; (void)write; (void)write_arg; (void)user;
	CPLError(CE_Failure, CPLE_OpenFailed, "it leads to an address, which is not opened: %s", url);
	CPLHTTPResult *r = CPLCalloc(1, sizeof *r);
	r->nStatus = 1;
	r->pszErrBuf = CPLStrdup("not opened");
	return r;
}

void gdalio_keep_in(void) {
	for (int i = GDALGetDriverCount() - 1; i >= 0; i--) {
		GDALDriverH d = GDALGetDriver(i);
		const char *name = GDALGetDriverShortName(d);
		if (!among(rasters, name) && !among(others, name)) GDALDeregisterDriver(d);
	}
	VSIFilesystemPluginCallbacksStruct *calls = VSIAllocFilesystemPluginCallbacksStruct();
	calls->open = no_open;
	calls->stat = no_stat;
	for (int i = 0; networks[i]; i++) VSIInstallPluginHandler(networks[i], calls);
	calls->open = no_archive;
	for (int i = 0; archives[i]; i++) VSIInstallPluginHandler(archives[i], calls);
	VSIFreeFilesystemPluginCallbacksStruct(calls);
	CPLHTTPSetFetchCallback(no_fetch, NULL);
	CPLSetConfigOption("CPL_VSIL_CURL_ALLOWED_FILENAME", "none");
	// Datum grids come from this machine or not at all, whatever the
	// environment says.
	OSRSetPROJEnableNetwork(0);
	proj_context_set_enable_network(NULL, 0);
}

char **gdalio_raster_drivers(int virtual_raster) {
	return virtual_raster ? CSLAddString(NULL, "VRT") : CSLDuplicate((CSLConstList)rasters);
}

int gdalio_begins_virtual(const char *path) {
	char head[1025] = "";
	CPLPushErrorHandler(CPLQuietErrorHandler);
	VSILFILE *f = VSIFOpenL(path, "rb");
	size_t n = f ? VSIFReadL(head, 1, sizeof head - 1, f) : 0;
	if (f) VSIFCloseL(f);
	CPLPopErrorHandler();
	CPLErrorReset();
	head[n] = 0;
	return strstr(head, "<VRTDataset") != NULL;
}

char *gdalio_outside(GDALDatasetH d, const char *folder) {
	char *found = NULL;
	size_t n = strlen(folder);
	CPLPushErrorHandler(CPLQuietErrorHandler);
	char **files = GDALGetFileList(d);
	for (int i = 0; files && files[i] && !found; i++) {
		const char *f = files[i];
		if (strncmp(f, folder, n) != 0 || f[n] != '/' || strstr(f + n, "/../")) found = strdup(f);
	}
	CSLDestroy(files);
	CPLPopErrorHandler();
	CPLErrorReset();
	return found;
}
