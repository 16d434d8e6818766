package gdalio

/*
#cgo pkg-config: gdal proj
#include <stdlib.h>
#include <gdal.h>
#include "shim.h"

static const char *release(void) { return GDALVersionInfo("RELEASE_NAME"); }
*/
import "C"

import (
	"errors"
	"fmt"
	"runtime"
	"strings"
	"unsafe"

	"github.com/lukeroth/gdal"
)

func init() { C.gdalio_init() }

// Version is the release of GDAL that is linked, such as "3.6.2".
func Version() string { return C.GoString(C.release()) }

// The types that band 1 may have.
const (
	typeByte    = int(C.GDT_Byte)
	typeUInt16  = int(C.GDT_UInt16)
	typeInt16   = int(C.GDT_Int16)
	typeUInt32  = int(C.GDT_UInt32)
	typeInt32   = int(C.GDT_Int32)
	typeFloat32 = int(C.GDT_Float32)
	typeFloat64 = int(C.GDT_Float64)
)

// Colour meanings of a band that tell a picture from elevations.
const (
	colourPalette = int(C.GCI_PaletteIndex)
	colourRed     = int(C.GCI_RedBand)
	colourAlpha   = int(C.GCI_AlphaBand)
)

// coverage of a window by stored data.
const (
	coverageUnknown = iota
	coverageData
	coverageEmpty
	coverageMixed
)

// header is what a file says of itself, as GDAL understands it.
type header struct {
	columns, rows, bands                 int
	driver, compression                  string
	dataType                             int
	typeName                             string
	interpretation, secondInterpretation int
	palette                              bool
	blockColumns, blockRows              int
	noData                               *float64
	scale, offset                        float64
	mask                                 bool
	unit, description, bandName          string
	pixelIsPoint                         bool
	overviews                            []int
	geotransform                         [6]float64
	hasGeotransform, hasControlPoints    bool
	wkt                                  string
	epsg4326, swappedAxes                bool
	verticalCRS, ellipsoidal             bool
	verticalName, verticalUnit           string
	verticalMetres                       float64
}

// text is the collected message in one line, or "".
func text(log *C.gdalio_log) string {
	return strings.Join(strings.Fields(C.GoString(&log.message[0])), " ")
}

// handle is an open dataset. Not safe for concurrent use.
type handle struct {
	raster *C.gdalio_raster
	said   string // failures GDAL met, and got over, while opening
}

// openHandle opens a file. virtual is for a virtual raster that openVirtual
// made: no other is opened.
func openHandle(path string, virtual bool) (*handle, header, error) {
	name := C.CString(path)
	defer C.free(unsafe.Pointer(name))
	r := (*C.gdalio_raster)(C.calloc(1, C.sizeof_gdalio_raster))
	var log C.gdalio_log
	ours := C.int(0)
	if virtual {
		ours = 1
	}
	if C.gdalio_open(name, ours, r, &log) != 0 {
		C.free(unsafe.Pointer(r))
		return nil, header{}, errors.New(text(&log))
	}
	h := header{
		columns: int(r.columns), rows: int(r.rows), bands: int(r.bands),
		driver: C.GoString(&r.driver[0]), compression: C.GoString(&r.compression[0]),
		dataType: int(r._type), typeName: C.GoString(&r.type_name[0]),
		interpretation: int(r.interpretation), secondInterpretation: int(r.second_interpretation),
		palette:      r.palette != 0,
		blockColumns: int(r.block_columns), blockRows: int(r.block_rows),
		scale: float64(r.scale), offset: float64(r.offset), mask: r.mask != 0,
		unit: C.GoString(&r.unit[0]), description: C.GoString(&r.description[0]), bandName: C.GoString(&r.band_name[0]),
		pixelIsPoint:    r.point != 0,
		hasGeotransform: r.has_geotransform != 0, hasControlPoints: r.gcps > 0,
		epsg4326: r.is_epsg_4326 != 0, swappedAxes: r.swapped_axes != 0,
		verticalCRS: r.vertical == 1, ellipsoidal: r.vertical == 2,
		verticalName: C.GoString(&r.vertical_name[0]), verticalUnit: C.GoString(&r.vertical_unit[0]),
		verticalMetres: float64(r.vertical_metres),
	}
	if r.has_nodata != 0 {
		v := float64(r.nodata)
		h.noData = &v
	}
	for i := range int(r.overview_count) {
		h.overviews = append(h.overviews, int(r.overviews[i]))
	}
	for i := range h.geotransform {
		h.geotransform[i] = float64(r.geotransform[i])
	}
	if r.wkt != nil {
		h.wkt = C.GoString(r.wkt)
	}
	return &handle{raster: r, said: text(&log)}, h, nil
}

func (h *handle) close() {
	C.gdalio_close(h.raster)
	C.free(unsafe.Pointer(h.raster))
	h.raster = nil
}

// read fills values, its rows stride apart, and mask if it is not nil, from
// band 1. After an error neither may be used: GDAL leaves them partly filled.
func read[T float32 | float64](h *handle, x, y, columns, rows int, values []T, stride int, mask []byte) error {
	if stride < columns || len(values) < (rows-1)*stride+columns || (mask != nil && len(mask) < columns*rows) || columns <= 0 || rows <= 0 {
		panic("gdalio: buffer shorter than its window")
	}
	dataType := C.int(C.GDT_Float32)
	if unsafe.Sizeof(values[0]) == 8 {
		dataType = C.GDT_Float64
	}
	var m *C.uchar
	if mask != nil {
		m = (*C.uchar)(unsafe.Pointer(&mask[0]))
	}
	var log C.gdalio_log
	if C.gdalio_read(h.raster, C.int(x), C.int(y), C.int(columns), C.int(rows),
		unsafe.Pointer(&values[0]), dataType, C.longlong(stride)*C.longlong(unsafe.Sizeof(values[0])), m, &log) != 0 {
		said := text(&log)
		if said == "" { // a virtual raster names a missing source once, at the first touch
			said = h.said
		}
		return errors.New(said)
	}
	return nil
}

func (h *handle) coverage(x, y, columns, rows int) int {
	return int(C.gdalio_coverage(h.raster.dataset, C.int(x), C.int(y), C.int(columns), C.int(rows)))
}

func (h *handle) dropCache() { C.gdalio_drop_cache(h.raster.dataset) }

func memoryFile(path string, data []byte) error {
	name := C.CString(path)
	defer C.free(unsafe.Pointer(name))
	if len(data) == 0 {
		return errors.New("it is empty")
	}
	if C.gdalio_memory_file(name, unsafe.Pointer(&data[0]), C.size_t(len(data))) != 0 {
		return errors.New("no memory for it")
	}
	return nil
}

// memoryRemove frees a folder of memory files.
func memoryRemove(folder string) {
	name := C.CString(folder)
	defer C.free(unsafe.Pointer(name))
	C.gdalio_memory_remove(name)
}

// fenced runs calls of the binding with GDAL's errors collected: it returns
// call's own error with GDAL's words added, or GDAL's alone when call
// noticed nothing. The thread is held, for GDAL keeps errors by OS thread
// and goroutines move.
func fenced(call func() error) error {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	log := C.gdalio_fence_begin()
	if log == nil {
		return errors.New("no memory")
	}
	defer C.free(unsafe.Pointer(log))
	err := func() error {
		defer C.gdalio_fence_end(log)
		return call()
	}()
	said := text(log)
	switch {
	case err != nil && said != "":
		return fmt.Errorf("%w: %s", err, said)
	case err != nil:
		return err
	case log.failures > 0:
		return errors.New(said)
	}
	return nil
}

// describeBand sets a band's description, which the binding has no call for:
// its RasterBand is one GDALRasterBandH and nothing else.
func describeBand(band *gdal.RasterBand, description string) {
	text := C.CString(description)
	defer C.free(unsafe.Pointer(text))
	C.GDALSetDescription(C.GDALMajorObjectH(*(*unsafe.Pointer)(unsafe.Pointer(band))), text)
}
