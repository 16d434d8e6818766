#ifndef GDALIO_CHECKED_H
#define GDALIO_CHECKED_H

// The prefix of paths whose writes are checked.
#define GDALIO_CHECKED "/vsicrowline/"

// gdalio_checked_install makes the prefix known to GDAL. Once.
int gdalio_checked_install(void);

// gdalio_checked_error is the error number of the first write that failed
// under a folder since it was last asked, 0 for none, and forgets it.
int gdalio_checked_error(const char *folder);

#endif
