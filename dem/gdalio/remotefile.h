#ifndef GDALIO_REMOTEFILE_H
#define GDALIO_REMOTEFILE_H

// GDALIO_REMOTE is before the names by which GDAL knows remote files. Only
// names that remotefile.go gave out are there: side files that GDAL guesses at
// are not, and cost no request.
#define GDALIO_REMOTE "/vsicrowweb/"

// gdalio_remote_install makes GDAL read remote files through us.
int gdalio_remote_install(void);

// gdalio_thread_option sets an option of GDAL's for this OS thread; NULL
// takes it back.
void gdalio_thread_option(const char *key, const char *value);

#endif
