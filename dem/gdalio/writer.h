#ifndef CROWLINE_GDALIO_WRITER_H
#define CROWLINE_GDALIO_WRITER_H

#include "ogr_api.h"

// Line strings to be added to a layer in one call. Every array is the
// caller's and is not kept.
typedef struct {
	int count;         // of lines
	const int *points; // of each line
	const double *x, *y, *z; // of all points; z may be NULL

	int fields;
	const int *index; // of each field in the layer; negative: left out
	const int *type;  // 0 text, 1 whole number, 2 number, 3 the line's style
	// One a line and field: a number, and the offset in text of a string, or,
	// for numbers, 0. A negative offset leaves the field unset.
	const double *numbers;
	const int *offsets;
	const char *text;
} gdalio_lines;

// Adds them, as many-line geometries of one line if many is set; the number
// of lines added.
int gdalio_add_lines(OGRLayerH layer, const gdalio_lines *lines, int many);

#endif
