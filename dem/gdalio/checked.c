#define _GNU_SOURCE // for the stat64 that VSIStatBufL may be

#include "checked.h"

#include <errno.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "cpl_vsi.h"

// Some of GDAL's writers (GeoJSON, KML, GPX and DXF in 3.6) do not look
// whether what they write arrives, so that a full disk gives a file cut short
// and no error. These are plain files whose first failed write is kept.

typedef struct failure {
	struct failure *next;
	int number;
	char path[];
} failure;

static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static failure *failures;

typedef struct {
	FILE *file;
	int failed;
	char path[];
} checked;

static void keep(checked *c) {
	int number = errno ? errno : EIO;
	if (c->failed) return;
	c->failed = 1;
	size_t n = strlen(c->path) + 1;
	failure *f = malloc(sizeof *f + n);
	if (!f) return;
	f->number = number;
	memcpy(f->path, c->path, n);
	pthread_mutex_lock(&lock);
	f->next = failures;
	failures = f;
	pthread_mutex_unlock(&lock);
}

int gdalio_checked_error(const char *folder) {
	size_t n = strlen(folder);
	int number = 0;
	pthread_mutex_lock(&lock);
	for (failure **at = &failures; *at;) {
		failure *f = *at;
		if (strncmp(f->path, folder, n) == 0 && f->path[n] == '/') {
			number = f->number; // the list has the first last
			*at = f->next;
			free(f);
		} else {
			at = &f->next;
		}
	}
	pthread_mutex_unlock(&lock);
	return number;
}

static int on_stat(void *user, const char *path, VSIStatBufL *out, int flags) {
	(void)user; (void)flags;
	struct stat s; // VSIStatBufL may be stat64, another type
	if (stat(path, &s)) return -1;
	memset(out, 0, sizeof *out);
	out->st_mode = s.st_mode;
	out->st_size = s.st_size;
	out->st_mtime = s.st_mtime;
	return 0;
}

static int on_unlink(void *user, const char *path) { (void)user; return unlink(path); }

static int on_rename(void *user, const char *from, const char *to) { (void)user; return rename(from, to); }

static void *on_open(void *user, const char *path, const char *access) {
	(void)user;
	FILE *file = fopen(path, access);
	if (!file) return NULL;
	size_t n = strlen(path) + 1;
	checked *c = malloc(sizeof *c + n);
	if (!c) {
		fclose(file);
		return NULL;
	}
	c->file = file;
	c->failed = 0;
	memcpy(c->path, path, n);
	return c;
}

static vsi_l_offset on_tell(void *handle) { return (vsi_l_offset)ftello(((checked *)handle)->file); }

static int on_seek(void *handle, vsi_l_offset offset, int whence) {
	checked *c = handle;
	errno = 0;
	int failed = fseeko(c->file, (off_t)offset, whence); // writes what is buffered
	if (failed && errno != EINVAL) keep(c);
	return failed;
}

static size_t on_read(void *handle, void *buffer, size_t size, size_t count) {
	return fread(buffer, size, count, ((checked *)handle)->file);
}

static int on_eof(void *handle) { return feof(((checked *)handle)->file) != 0; }

static size_t on_write(void *handle, const void *buffer, size_t size, size_t count) {
	checked *c = handle;
	errno = 0;
	size_t n = fwrite(buffer, size, count, c->file);
	if (n < count) keep(c);
	return n;
}

static int on_flush(void *handle) {
	checked *c = handle;
	errno = 0;
	int failed = fflush(c->file);
	if (failed) keep(c);
	return failed;
}

static int on_truncate(void *handle, vsi_l_offset size) {
	checked *c = handle;
	errno = 0;
	int failed = fflush(c->file) || ftruncate(fileno(c->file), (off_t)size);
	if (failed) keep(c);
	return failed;
}

static int on_close(void *handle) {
	checked *c = handle;
	errno = 0;
	int failed = fclose(c->file);
	if (failed) keep(c);
	free(c);
	return failed;
}

int gdalio_checked_install(void) {
	VSIFilesystemPluginCallbacksStruct *calls = VSIAllocFilesystemPluginCallbacksStruct();
	calls->stat = on_stat;
	calls->unlink = on_unlink;
	calls->rename = on_rename;
	calls->open = on_open;
	calls->tell = on_tell;
	calls->seek = on_seek;
	calls->read = on_read;
	calls->eof = on_eof;
	calls->write = on_write;
	calls->flush = on_flush;
	calls->truncate = on_truncate;
	calls->close = on_close;
	int failed = VSIInstallPluginHandler(GDALIO_CHECKED, calls);
	VSIFreeFilesystemPluginCallbacksStruct(calls);
	return failed;
}
