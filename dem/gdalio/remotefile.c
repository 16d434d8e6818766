#define _GNU_SOURCE // stat64, which GDAL's stat is
#include "remotefile.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "cpl_conv.h"
#include "cpl_vsi.h"

// In Go; see remotefile.go.
extern long long crowlineRemoteFind(char *name, long long *size);
extern long long crowlineRemoteRead(long long id, long long offset, long long size, void *to, long long ahead);

// A handle of GDAL's on a remote file.
typedef struct {
	long long id, at, size, next, ahead;
	int end;
} remote_handle;

#define AHEAD_FIRST (32LL << 10)
#define AHEAD_MOST (1LL << 20)

static int remote_stat(void *user, const char *name, VSIStatBufL *stat, int flags) {
	(void)user; (void)flags;
	long long size = 0;
	memset(stat, 0, sizeof *stat);
	if (crowlineRemoteFind((char *)name, &size) < 0) return -1;
	stat->st_mode = S_IFREG | 0444;
	stat->st_size = size;
	return 0;
}

static void *remote_open(void *user, const char *name, const char *access) {
	(void)user;
	if (strpbrk(access, "wa+")) return NULL;
	long long size = 0, id = crowlineRemoteFind((char *)name, &size);
	if (id < 0) return NULL;
	remote_handle *h = calloc(1, sizeof *h);
	if (!h) return NULL;
	h->id = id;
	h->size = size;
	return h;
}

static vsi_l_offset remote_tell(void *file) { return ((remote_handle *)file)->at; }

static int remote_seek(void *file, vsi_l_offset offset, int whence) {
	remote_handle *h = file;
	unsigned long long at = offset;
	if (whence == SEEK_CUR) at += h->at;
	if (whence == SEEK_END) at += h->size;
	if (at > (1ULL << 62)) return -1;
	h->at = at;
	h->end = 0;
	return 0;
}

static size_t remote_read(void *file, void *to, size_t size, size_t count) {
	remote_handle *h = file;
	if (size == 0 || count == 0) return 0;
	if (count > (1ULL << 62) / size) return 0;
	long long n = size * count;
	if (n > h->size - h->at) {
		n = h->size > h->at ? h->size - h->at : 0;
		h->end = 1;
	}
	if (n == 0) return 0;
	// One that reads part after part is taken to want what follows.
	if (h->at == h->next) h->ahead = h->ahead ? (h->ahead < AHEAD_MOST ? 2 * h->ahead : AHEAD_MOST) : AHEAD_FIRST;
	else h->ahead = 0;
	n = crowlineRemoteRead(h->id, h->at, n, to, h->ahead);
	h->at += n;
	h->next = h->at;
	return n / size;
}

static int remote_eof(void *file) { return ((remote_handle *)file)->end; }

static int remote_close(void *file) {
	free(file);
	return 0;
}

int gdalio_remote_install(void) {
	VSIFilesystemPluginCallbacksStruct *c = VSIAllocFilesystemPluginCallbacksStruct();
	if (!c) return 1;
	c->stat = remote_stat;
	c->open = remote_open;
	c->tell = remote_tell;
	c->seek = remote_seek;
	c->read = remote_read;
	c->eof = remote_eof;
	c->close = remote_close;
	int failed = VSIInstallPluginHandler(GDALIO_REMOTE, c);
	VSIFreeFilesystemPluginCallbacksStruct(c);
	return failed;
}

void gdalio_thread_option(const char *key, const char *value) { CPLSetThreadLocalConfigOption(key, value); }
