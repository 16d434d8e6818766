#ifndef CROWLINE_GDALIO_REACH_H
#define CROWLINE_GDALIO_REACH_H

#include "gdal.h"

// Keeps GDAL from opening what nobody named: addresses, and files by drivers
// that follow names written in a file. Call it once, after the drivers are
// registered.
void gdalio_keep_in(void);

// The drivers that open a file somebody named, for GDALOpenEx: those of
// elevations, or, when virtual_raster is set, that of virtual rasters alone.
// Free it with CSLDestroy.
char **gdalio_raster_drivers(int virtual_raster);

// Whether the first bytes of a file, or of an address, are a virtual
// raster's.
int gdalio_begins_virtual(const char *path);

// A file that the open dataset d takes data from and that is not in folder or
// below it: an allocated string, or NULL when there is none.
char *gdalio_outside(GDALDatasetH d, const char *folder);

#endif
