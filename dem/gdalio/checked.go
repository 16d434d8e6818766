package gdalio

/*
#include <stdlib.h>
#include "checked.h"
*/
import "C"

import (
	"errors"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"unsafe"
)

// installChecked is done before the first file is written; an error says
// that this GDAL cannot have it.
var installChecked = sync.OnceValue(func() error {
	if C.gdalio_checked_install() != 0 {
		return errors.New("GDAL's writes cannot be checked")
	}
	return nil
})

// checkedPath is a file for GDAL to write whose failed writes are kept for
// writeFailure, whether the driver looks at them or not. SQLite looks itself,
// and has its own ways with files.
func checkedPath(path string) (string, error) {
	if strings.EqualFold(filepath.Ext(path), ".gpkg") {
		return path, nil
	}
	whole, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	return C.GDALIO_CHECKED + whole, installChecked()
}

// writeFailure is the first write that failed in a folder; nil for none.
func writeFailure(folder string) error {
	whole, err := filepath.Abs(folder)
	if err != nil {
		return err
	}
	text := C.CString(whole)
	defer C.free(unsafe.Pointer(text))
	if number := C.gdalio_checked_error(text); number != 0 {
		return syscall.Errno(number)
	}
	return nil
}
