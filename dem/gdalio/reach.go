package gdalio

/*
#include <stdlib.h>
#include "reach.h"
*/
import "C"

import (
	"fmt"
	"path/filepath"
	"strings"
	"unsafe"
)

// beginsVirtual reports whether a file of GDAL's file systems begins as a
// virtual raster does.
func beginsVirtual(path string) bool {
	p := C.CString(path)
	defer C.free(unsafe.Pointer(p))
	return C.gdalio_begins_virtual(p) != 0
}

// checkWithin refuses an Imagine file whose heights, or reduced copies, are in
// a file elsewhere: it names such files.
func (h *handle) checkWithin(path string) error {
	folder := C.CString(filepath.Dir(path))
	defer C.free(unsafe.Pointer(folder))
	outside := C.gdalio_outside(h.raster.dataset, folder)
	if outside == nil {
		return nil
	}
	defer C.free(unsafe.Pointer(outside))
	return fmt.Errorf("it takes heights from %s, which is not in its own folder or below it; make a file of both (gdal_translate)",
		shortened(C.GoString(outside)))
}

// namesNetwork reports whether a path is one of GDAL's for files that are
// elsewhere, for which a plain address is the way here.
func namesNetwork(path string) bool {
	return strings.HasPrefix(path, "/vsi") && !strings.HasPrefix(path, "/vsimem/") && !strings.HasPrefix(path, "/vsizip/") &&
		!strings.HasPrefix(path, "/vsigzip/") && !strings.HasPrefix(path, "/vsitar/") || strings.HasPrefix(path, "/vsi") && strings.Contains(path[1:], "/vsi")
}
