package gdalio

/*
#include <stdlib.h>
#include "reach.h"
*/
import "C"

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"unsafe"

	"crowline/dem/geodesy"
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

// definitionFiles are the endings of side files with a reference system in
// them: in place of the file's own, and after it.
var definitionFiles, definitionsAfter = []string{".prj", ".PRJ"}, []string{".aux.xml"}

// sideBytes bounds what is looked at of a side file: a reference system takes
// some kilobytes, and statistics of every kind some more.
const sideBytes = 4 << 20

// checkGridNames refuses a file whose side files, or with itself true who
// itself, have a reference system that names a datum grid by its folder: it
// is opened as soon as GDAL reads the reference system. (Of one that a
// GeoTIFF has inside, PROJ may see the head of such a grid; it is never
// used.)
func checkGridNames(path string, itself bool) error {
	stem := strings.TrimSuffix(path, filepath.Ext(path))
	var sides []string
	for _, ending := range definitionFiles {
		sides = append(sides, stem+ending)
	}
	for _, ending := range definitionsAfter {
		sides = append(sides, path+ending, stem+ending)
	}
	for _, side := range sides {
		if err := checkGridsInFile(side, sideBytes); err != nil {
			return fmt.Errorf("its side file %s: %w", filepath.Base(side), err)
		}
	}
	if itself {
		return checkGridsInFile(path, maxCoverBytes)
	}
	return nil
}

// checkGridsInFile looks for such names in the first bytes of a file. One
// that is not there has none.
func checkGridsInFile(path string, most int64) error {
	f, err := os.Open(path)
	if err != nil {
		return nil
	}
	defer f.Close()
	return checkGridsIn(f, most)
}

// checkGridsIn is checkGridsInFile for what is open already.
func checkGridsIn(f io.Reader, most int64) error {
	// Pieces overlap by more than a definition's name of a grid is long.
	const piece, overlap = 1 << 20, 8 << 10
	buffer := make([]byte, 0, piece)
	for read := int64(0); read < most; {
		n, err := io.ReadFull(f, buffer[len(buffer):cap(buffer)])
		buffer, read = buffer[:len(buffer)+n], read+int64(n)
		for _, word := range []string{"PROJ4_GRIDS", "PARAMETERFILE", "grids=", "+init="} {
			if !bytes.Contains(buffer, []byte(word)) {
				continue
			}
			if err := geodesy.CheckGrids(string(buffer)); err != nil {
				return err
			}
		}
		if err != nil {
			return nil
		}
		buffer = buffer[:copy(buffer, buffer[len(buffer)-overlap:])]
	}
	return nil
}
