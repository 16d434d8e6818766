package gdalio

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/lukeroth/gdal"

	"crowline/dem/geodesy"
)

// Line is a line from a file: a track, a route, a stream.
type Line struct {
	// Name is as written, "" when the file gives none.
	Name string
	// Route is true of a GPX route: its points were chosen by somebody, those
	// of a track were recorded.
	Route bool
	// Points in the file's order, one or more: what has one is no line yet, and
	// it is the caller's to say so. Only a GPX route's have names.
	Points []Place
	// Gaps are the indices in Points, ascending, at which a GPX track begins
	// anew after a pause: a segment of its own.
	Gaps []int
}

// ReadLines reads the lines of a GPX, GeoJSON, KML or KMZ file: routes, then tracks,
// the segments of each in order; line features, each part of a feature of
// several a line of its own; placemarks with lines. Points and polygons are
// passed over. Coordinates in another CRS are brought to WGS 84. A file with no
// line gives none and no error; a line that leaves the Earth is an error, and so
// is a coordinate that is not wholly a number.
func ReadLines(path string) ([]Line, error) {
	if err := checkList(path, "a file of lines"); err != nil {
		return nil, err
	}
	if hasEnding(path, ".kmz") {
		return readLinesOfKMZ(path)
	}
	driver, ok := listDrivers[strings.ToLower(filepath.Ext(path))]
	if !ok {
		return nil, fmt.Errorf("%s: lines are read from .gpx, .geojson, .kml and .kmz files", path)
	}
	if err := checkNumbers(path, driver, ""); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	var r lineReader
	if err := fenced(func() error { return r.read(path, driver) }); err != nil {
		return nil, fmt.Errorf("%s: %s", path, plainReason(err, path, path))
	}
	return r.lines, nil
}

// readLinesOfKMZ reads the lines of the KML in a zip file, from memory.
func readLinesOfKMZ(path string) ([]Line, error) {
	packed, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("%s: cannot be read", path)
	}
	_, data, err := (&placeList{name: path}).unzip(packed)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if err := checkNumbersIn(bytes.NewReader(data), KML, ""); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	in, err := inMemory([]string{"lines.kml"}, map[string][]byte{"lines.kml": data})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	defer in.free()
	var r lineReader
	if err := fenced(func() error { return r.read(in.path, listDrivers[".kml"]) }); err != nil {
		return nil, fmt.Errorf("%s: %s", path, plainReason(err, in.path, path))
	}
	return r.lines, nil
}

// lineReader gathers a file's lines.
type lineReader struct {
	lines  []Line
	points int
	// routes are the lines by the number GPX gives a route.
	routes map[int]int
}

func (r *lineReader) read(path, driver string) error {
	dataset, err := gdal.OpenEx(path, gdal.OFVector|gdal.OFReadOnly|gdal.OFVerbose_Error, []string{driver}, nil, nil)
	if err != nil {
		return fmt.Errorf("not a readable %s file", driver)
	}
	defer dataset.Close()
	r.routes = map[int]int{}
	for i := 0; ; i++ {
		layer := dataset.LayerByIndex(i)
		if layer == (gdal.Layer{}) {
			return nil
		}
		switch {
		case driver == "GPX" && layer.Name() == "route_points":
			r.nameRoutePoints(layer)
		case driver == "GPX" && layer.Name() != "routes" && layer.Name() != "tracks":
			continue
		default:
			err = r.readLayer(layer, driver)
		}
		if err != nil {
			return err
		}
	}
}

func (r *lineReader) readLayer(layer gdal.Layer, driver string) error {
	route, track := driver == "GPX" && layer.Name() == "routes", driver == "GPX" && layer.Name() == "tracks"
	crs, err := layerCRS(layer)
	if err != nil {
		return err
	}
	for number := 0; ; number++ {
		feature := layer.NextFeature()
		if feature == nil {
			return nil
		}
		before := len(r.lines)
		err := r.take(feature.Geometry(), textField(*feature, "name", "title"), route, crs)
		feature.Destroy()
		if err != nil {
			return err
		}
		if route && len(r.lines) > before {
			r.routes[number] = before
		}
		if track {
			r.join(before)
		}
	}
}

func textField(feature gdal.Feature, names ...string) string {
	for _, n := range names {
		if i := feature.FieldIndex(n); i >= 0 && feature.IsFieldSetAndNotNull(i) {
			return strings.TrimSpace(feature.FieldAsString(i))
		}
	}
	return ""
}

// join makes the lines from a number on, the segments of a track, one.
func (r *lineReader) join(from int) {
	if len(r.lines) <= from {
		return
	}
	whole := &r.lines[from]
	for _, segment := range r.lines[from+1:] {
		whole.Gaps = append(whole.Gaps, len(whole.Points))
		whole.Points = append(whole.Points, segment.Points...)
	}
	r.lines = r.lines[:from+1]
}

// take adds a geometry's lines.
func (r *lineReader) take(geometry gdal.Geometry, name string, route bool, crs *geodesy.CRS) error {
	if geometry == (gdal.Geometry{}) || geometry.IsEmpty() {
		return nil
	}
	switch geometry.Type() {
	case gdal.GT_MultiLineString, gdal.GT_MultiLineString25D, gdal.GT_GeometryCollection, gdal.GT_GeometryCollection25D:
		for i := range geometry.GeometryCount() {
			if err := r.take(geometry.Geometry(i), name, route, crs); err != nil {
				return err
			}
		}
		return nil
	case gdal.GT_LineString, gdal.GT_LineString25D:
	default:
		return nil
	}
	n := geometry.PointCount()
	if r.points += n; r.points > maxPlaces {
		return fmt.Errorf("more than %d points", maxPlaces)
	}
	if n == 0 {
		return nil
	}
	x, y := make([]float64, n), make([]float64, n)
	for i := range n {
		x[i], y[i] = geometry.X(i), geometry.Y(i)
	}
	if err := crs.ToWGS84(x, y); err != nil {
		return fmt.Errorf("line %d: %w", len(r.lines)+1, err)
	}
	line := Line{Name: name, Route: route, Points: make([]Place, n)}
	for i := range n {
		p, err := geodesy.NewLatLon(geodesy.Degrees(y[i]), geodesy.Degrees(x[i]))
		if err != nil {
			return fmt.Errorf("line %d, point %d: %w", len(r.lines)+1, i+1, err)
		}
		line.Points[i].LatLon = p
	}
	r.lines = append(r.lines, line)
	return nil
}

// nameRoutePoints gives a GPX route's points their names: GDAL lists the
// points of all routes in a layer of their own, after the routes.
func (r *lineReader) nameRoutePoints(layer gdal.Layer) {
	for {
		feature := layer.NextFeature()
		if feature == nil {
			return
		}
		route, point := feature.FieldIndex("route_fid"), feature.FieldIndex("route_point_id")
		if route >= 0 && point >= 0 {
			at, ok := r.routes[feature.FieldAsInteger(route)]
			i := feature.FieldAsInteger(point)
			if ok && at < len(r.lines) && i >= 0 && i < len(r.lines[at].Points) {
				p := &r.lines[at].Points[i]
				p.Name, p.Kind = textField(*feature, "name"), textField(*feature, "type", "sym")
			}
		}
		feature.Destroy()
	}
}
