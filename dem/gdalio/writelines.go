package gdalio

/*
#include <stdlib.h>
#include "writer.h"
*/
import "C"

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"unsafe"

	"github.com/lukeroth/gdal"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/outfile"
)

// LineString is one line for WriteLines.
type LineString struct {
	// X and Y of its points, two at least: east or longitude, north or
	// latitude, in the layer's Given system.
	X, Y []float64
	// Elevation of the whole line, metres, for the third coordinate.
	Elevation float64
	// Values has one value a field: string, int, float64, or nil for none.
	Values []any
}

// LineLayer says how WriteLines writes its lines.
type LineLayer struct {
	Name   string
	Fields []Field
	// Given is what the lines' coordinates are in as they come, CRS what they
	// are in in the file; nil means WGS 84. GPX, GeoJSON and KML allow only
	// that in the file. Where the two are the same nothing is transformed.
	Given, CRS *geodesy.CRS
	// ThirdCoordinate gives every point the line's elevation as its third
	// coordinate.
	ThirdCoordinate bool
	// KindField is the field, by number, whose text tells lines apart where a
	// format has no fields, or a viewer shows none; negative for none. For DXF
	// it is added to the layer's name (best kept to ASCII, for DXF's are not
	// Unicode); for KML it picks a pen of Pens.
	KindField int
	// Pens are how KML draws lines, by the text of KindField.
	Pens map[string]Pen
}

// Pen draws a line.
type Pen struct {
	Pixels int
	Color  string // as #RRGGBB
}

// style is the pen in OGR's own words (Feature Style Specification, "PEN").
func (p Pen) style() string { return fmt.Sprintf("PEN(w:%dpx,c:%s)", p.Pixels, p.Color) }

// WriteLines writes lines as they come, a few thousand points of them in
// memory at a time. produce is called on the calling goroutine and passes
// each line to add, which keeps no hold on it; writing goes on meanwhile.
// The file is made beside path and moved there when produce has returned
// nil and all is written; on an error of produce, which is returned as it
// is, or of the writing, nothing is left.
//
// Longitudes in a file in WGS 84 are within [-180, 180]: a line over the
// antimeridian is parted there (RFC 7946, section 3.1.9), and each part has
// all its values.
func WriteLines(ctx context.Context, path, driver string, l LineLayer, produce func(add func(LineString) error) error) error {
	if l.Given == nil {
		l.Given = geodesy.WGS84
	}
	if l.CRS == nil {
		l.CRS = geodesy.WGS84
	}
	if err := checkLayers(driver, []Layer{{CRS: l.CRS}}); err != nil {
		return outfile.Error(path, err)
	}
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	w := lineWriter{layer: l, ready: make(chan *lineBatch, 2), spare: make(chan *lineBatch, 4)}
	for range cap(w.spare) {
		w.spare <- &lineBatch{fields: len(l.Fields)}
	}
	placed := make(chan *lineBatch, 1)
	go w.place(ctx, cancel, placed)
	written := make(chan error, 1)
	go func() {
		err := writeBeside(path, func(temporary string) error {
			return fenced(func() error { return w.write(ctx, temporary, driver, placed) })
		})
		cancel(err)
		written <- err
	}()
	err := produce(func(line LineString) error { return w.add(ctx, line) })
	if err == nil && w.current != nil {
		err = w.send(ctx)
	}
	if err != nil {
		cancel(err)
	}
	close(w.ready)
	failed := <-written
	if err != nil {
		return err
	}
	return failed
}

// lineWriter passes batches of lines from the producer, through the
// transform, to GDAL, and back to be filled again.
type lineWriter struct {
	layer        LineLayer
	current      *lineBatch
	ready, spare chan *lineBatch
}

// A batch is sent on at either of these: enough that a call into GDAL and a
// change of goroutine cost little a line.
const (
	batchPoints = 1 << 14
	batchLines  = 1 << 10
)

func (w *lineWriter) add(ctx context.Context, line LineString) error {
	if w.current == nil {
		select {
		case w.current = <-w.spare:
		case <-ctx.Done():
			return context.Cause(ctx)
		}
		w.current.reset()
	}
	if err := w.current.add(line, &w.layer); err != nil {
		return err
	}
	if len(w.current.x) >= batchPoints || len(w.current.points) >= batchLines {
		return w.send(ctx)
	}
	return nil
}

func (w *lineWriter) send(ctx context.Context) error {
	select {
	case w.ready <- w.current:
		w.current = nil
		return nil
	case <-ctx.Done():
		return context.Cause(ctx)
	}
}

// place turns batches into the file's coordinates.
func (w *lineWriter) place(ctx context.Context, cancel context.CancelCauseFunc, out chan<- *lineBatch) {
	defer close(out)
	given := dem.NewReprojection(w.layer.Given)
	for b := range w.ready {
		if err := b.transform(&w.layer, given); err != nil {
			cancel(err)
			return
		}
		select {
		case out <- b:
		case <-ctx.Done():
			return
		}
	}
}

func (w *lineWriter) write(ctx context.Context, path, driver string, batches <-chan *lineBatch) error {
	dataset, err := createDataset(path, driver)
	if err != nil {
		return err
	}
	defer dataset.Close()
	l := &w.layer
	geometry := map[bool]gdal.GeometryType{false: gdal.GT_LineString, true: gdal.GT_LineString25D}[l.ThirdCoordinate]
	switch driver {
	case DXF: // its one layer holds everything
		geometry = gdal.GT_Unknown
	case GPX: // tracks
		geometry = map[bool]gdal.GeometryType{false: gdal.GT_MultiLineString, true: gdal.GT_MultiLineString25D}[l.ThirdCoordinate]
	}
	layer, indices, err := createLayer(dataset, driver, Layer{Name: l.Name, Shape: Lines, Fields: l.Fields, CRS: l.CRS}, geometry)
	if err != nil {
		return err
	}
	var columns lineColumns
	for i, field := range l.Fields {
		columns.index = append(columns.index, int32(indices[i]))
		columns.types = append(columns.types, map[FieldType]int32{Text: 0, Integer: 1, Real: 2}[field.Type])
	}
	if driver == DXF {
		columns.index = append(columns.index, int32(layer.Definition().FieldIndex("Layer")))
		columns.types = append(columns.types, 0)
	}
	if driver == KML {
		columns.index = append(columns.index, 0)
		columns.types = append(columns.types, penColumn)
	}
	return inTransaction(driver, layer, func() error {
		for b := range batches {
			if err := ctx.Err(); err != nil {
				return context.Cause(ctx)
			}
			switch driver {
			case DXF:
				b.addText(l, func(kind string) string {
					if kind == "" {
						return l.Name
					}
					return strings.TrimPrefix(l.Name+"-"+kind, "-")
				})
			case KML:
				b.addText(l, func(kind string) string {
					if pen, ok := l.Pens[kind]; ok {
						return pen.style()
					}
					return ""
				})
			}
			if err := b.addTo(layer, columns, driver == GPX); err != nil {
				return err
			}
			if b.fields == len(l.Fields) {
				w.spare <- b
			} else {
				w.spare <- &lineBatch{fields: len(l.Fields)}
			}
		}
		return context.Cause(ctx) // the producer may have failed
	})
}

// lineColumns is where each value of a line goes.
type lineColumns struct{ index, types []int32 }

// lineBatch is lines laid end to end, as C takes them.
type lineBatch struct {
	fields    int
	points    []int32
	x, y, z   []float64
	numbers   []float64
	offsets   []int32
	text      []byte
	textCache map[string]int32
}

func (b *lineBatch) reset() {
	b.points, b.x, b.y, b.z = b.points[:0], b.x[:0], b.y[:0], b.z[:0]
	b.numbers, b.offsets, b.text = b.numbers[:0], b.offsets[:0], b.text[:0]
	b.textCache = map[string]int32{}
}

func (b *lineBatch) add(line LineString, l *LineLayer) error {
	if len(line.X) != len(line.Y) || len(line.X) < 2 {
		return fmt.Errorf("a line of %d x and %d y coordinates cannot be written", len(line.X), len(line.Y))
	}
	if len(line.Values) != b.fields {
		return fmt.Errorf("a line of layer %q has %d values for %d fields", l.Name, len(line.Values), b.fields)
	}
	for i := range line.X {
		if !finite(line.X[i]) || !finite(line.Y[i]) {
			return fmt.Errorf("coordinate [%g %g] is not a number", line.X[i], line.Y[i])
		}
	}
	b.points = append(b.points, int32(len(line.X)))
	b.x, b.y = append(b.x, line.X...), append(b.y, line.Y...)
	if l.ThirdCoordinate {
		for range line.X {
			b.z = append(b.z, line.Elevation)
		}
	}
	for i, v := range line.Values {
		number, offset := 0.0, int32(0)
		var typ FieldType
		switch v := v.(type) {
		case nil:
			offset, typ = -1, l.Fields[i].Type
		case string:
			offset, typ = b.put(v), Text
		case int:
			number, typ = float64(v), Integer
		case float64:
			number, typ = v, Real
		default:
			return fmt.Errorf("field %q holds a %T", l.Fields[i].Name, v)
		}
		if typ != l.Fields[i].Type {
			return fmt.Errorf("field %q holds a %T, which is not its type", l.Fields[i].Name, v)
		}
		b.numbers, b.offsets = append(b.numbers, number), append(b.offsets, offset)
	}
	return nil
}

// put keeps a string for C, once, and gives its place.
func (b *lineBatch) put(s string) int32 {
	at, ok := b.textCache[s]
	if !ok {
		at = int32(len(b.text))
		b.text = append(append(b.text, strings.ReplaceAll(s, "\x00", "")...), 0)
		b.textCache[strings.Clone(s)] = at
	}
	return at
}

func (b *lineBatch) string(at int32) string {
	s := string(b.text[at:])
	return s[:strings.IndexByte(s, 0)]
}

// transform turns the batch into the file's coordinates.
func (b *lineBatch) transform(l *LineLayer, given *dem.Reprojection) error {
	if l.Given != l.CRS {
		if err := given.ToWGS84(b.x, b.y); err != nil {
			return err
		}
		if l.CRS != geodesy.WGS84 {
			return l.CRS.FromWGS84(b.x, b.y)
		}
	}
	if l.CRS == geodesy.WGS84 && slices.ContainsFunc(b.lines(), b.overAntimeridian) {
		b.partAtAntimeridian()
	}
	return nil
}

// penColumn is the type of a column that is no field but the line's style.
const penColumn = 3

// addText adds a value to each line, by its kind; none where that is "".
func (b *lineBatch) addText(l *LineLayer, of func(kind string) string) {
	n := b.fields
	numbers, offsets := []float64{}, []int32{}
	for i := range b.points {
		kind, offset := "", int32(-1)
		if l.KindField >= 0 && l.KindField < n && l.Fields[l.KindField].Type == Text && b.offsets[i*n+l.KindField] >= 0 {
			kind = b.string(b.offsets[i*n+l.KindField])
		}
		if text := of(kind); text != "" {
			offset = b.put(text)
		}
		numbers = append(append(numbers, b.numbers[i*n:(i+1)*n]...), 0)
		offsets = append(append(offsets, b.offsets[i*n:(i+1)*n]...), offset)
	}
	b.fields, b.numbers, b.offsets = n+1, numbers, offsets
}

// addTo writes the batch to a layer.
func (b *lineBatch) addTo(layer gdal.Layer, columns lineColumns, many bool) error {
	if len(b.points) == 0 {
		return nil
	}
	var pins runtime.Pinner
	defer pins.Unpin()
	var c C.gdalio_lines
	c.count, c.fields = C.int(len(b.points)), C.int(b.fields)
	c.points = (*C.int)(pinned(&pins, b.points))
	c.x, c.y, c.z = (*C.double)(pinned(&pins, b.x)), (*C.double)(pinned(&pins, b.y)), (*C.double)(pinned(&pins, b.z))
	c.index, c._type = (*C.int)(pinned(&pins, columns.index)), (*C.int)(pinned(&pins, columns.types))
	c.numbers, c.offsets = (*C.double)(pinned(&pins, b.numbers)), (*C.int)(pinned(&pins, b.offsets))
	c.text = (*C.char)(pinned(&pins, b.text))
	several := C.int(0)
	if many {
		several = 1
	}
	// The binding's Layer is one OGRLayerH and nothing else.
	handle := C.OGRLayerH(*(*unsafe.Pointer)(unsafe.Pointer(&layer)))
	if added := int(C.gdalio_add_lines(handle, &c, several)); added < len(b.points) {
		return errors.New("a line could not be added")
	}
	return nil
}

// pinned is a slice's first element, held in place for C; nil if it has none.
func pinned[T any](pins *runtime.Pinner, s []T) unsafe.Pointer {
	if len(s) == 0 {
		return nil
	}
	pins.Pin(&s[0])
	return unsafe.Pointer(&s[0])
}
