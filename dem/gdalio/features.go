package gdalio

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/lukeroth/gdal"
	"github.com/paulmach/orb"

	"crowline/dem/geodesy"
	"crowline/dem/outfile"
)

// Vector formats that WriteFeatures makes, by GDAL's driver names.
const (
	GeoPackage = "GPKG"
	FlatGeobuf = "FlatGeobuf"
	Shapefile  = "ESRI Shapefile"
	DXF        = "DXF"
	GPX        = "GPX"
	GeoJSON    = "GeoJSON"
	KML        = "KML"
)

// vectorDrivers is the format a file name's ending asks for.
var vectorDrivers = map[string]string{
	".gpkg": GeoPackage, ".fgb": FlatGeobuf, ".shp": Shapefile, ".dxf": DXF,
	".gpx": GPX, ".geojson": GeoJSON, ".json": GeoJSON, ".kml": KML,
}

// VectorDriver is the driver for a file name's ending, in any case, or an
// error that lists the endings there are.
func VectorDriver(path string) (string, error) {
	for ending, driver := range vectorDrivers {
		if strings.HasSuffix(strings.ToLower(path), ending) {
			return driver, nil
		}
	}
	return "", fmt.Errorf("%s: the file's ending says no format that can be written; use .geojson, .gpkg, .fgb, .shp, .dxf, .gpx or .kml", path)
}

// FieldType is the type of a field's values.
type FieldType int

const (
	// Text holds a string.
	Text FieldType = iota
	// Integer holds an int.
	Integer
	// Real holds a float64.
	Real
)

// Field is a named attribute. Shapefiles cut names to ten characters.
type Field struct {
	Name string
	Type FieldType
}

// Shape is the geometry a layer holds.
type Shape int

const (
	Points Shape = iota
	Lines
	Polygons
	// Mixed is any of them, each feature its own; GeoJSON, GeoPackage and DXF
	// allow it.
	Mixed
)

// Feature is a geometry, longitude then latitude on WGS 84, with one value a
// field: string, int, float64, or nil for none.
type Feature struct {
	Geometry orb.Geometry
	// Elevation, metres, becomes the third coordinate of every vertex; nil
	// leaves the geometry flat. A layer's features all have it or none has.
	Elevation *float64
	Values    []any
}

// Layer is a set of features of one shape.
type Layer struct {
	// Name of the layer. GPX has names of its own: points become waypoints, or
	// in a layer called RoutePoints the points of a route; lines become tracks,
	// or routes in a layer called "routes".
	Name     string
	Shape    Shape
	Fields   []Field
	Features []Feature
	// CRS is what the file's coordinates are in; nil means WGS 84. GPX,
	// GeoJSON and KML allow only that.
	CRS *geodesy.CRS
}

// WriteFeatures writes layers with a driver (VectorDriver picks one). Only
// GeoPackage and KML hold several layers, and GPX waypoints, routes (as lines or
// as points) and tracks, in that order; DXF keeps a layer's name and, as
// text, no field. Coordinates go out x (east, longitude) first, as every one
// of these formats has them; lines and polygons across the antimeridian are
// parted there. The file is made beside path and moved there
// when it is whole; on any error nothing is left. ctx is looked at every
// hundred features.
func WriteFeatures(ctx context.Context, path, driver string, layers ...Layer) error {
	if err := checkLayers(driver, layers); err != nil {
		return outfile.Error(path, err)
	}
	layers = slices.Clone(layers)
	for i := range layers {
		layers[i] = partedLayer(layers[i])
	}
	return writeBeside(path, func(temporary string) error {
		return fenced(func() error { return writeFeatures(ctx, temporary, driver, layers) })
	})
}

func checkLayers(driver string, layers []Layer) error {
	if len(layers) == 0 {
		return errors.New("there is nothing to write")
	}
	if len(layers) > 1 && driver != GeoPackage && driver != KML && driver != GPX {
		return fmt.Errorf("%s holds one layer, not %d", driver, len(layers))
	}
	for i, l := range layers {
		if l.Shape == Mixed && !slices.Contains([]string{GeoJSON, GeoPackage, DXF}, driver) {
			return fmt.Errorf("%s holds one shape to a layer", driver)
		}
		if driver == GPX && i > 0 && slices.Index(gpxLayers, gpxName(l)) <= slices.Index(gpxLayers, gpxName(layers[i-1])) {
			return errors.New("GPX holds waypoints, routes and tracks, one layer of each and in that order")
		}
	}
	for _, l := range layers {
		if l.CRS != nil && l.CRS != geodesy.WGS84 && slices.Contains([]string{GPX, GeoJSON, KML}, driver) {
			return fmt.Errorf("%s is always longitude and latitude on WGS 84, not %s", driver, l.CRS.Name)
		}
		for i, f := range l.Features {
			if len(f.Values) != len(l.Fields) {
				return fmt.Errorf("feature %d of layer %q has %d values for %d fields", i+1, l.Name, len(f.Values), len(l.Fields))
			}
			if (f.Elevation == nil) != (l.Features[0].Elevation == nil) {
				return fmt.Errorf("some features of layer %q have an elevation and some have none", l.Name)
			}
		}
	}
	return nil
}

// RoutePoints is the name of a layer of points that GPX takes as those of
// routes, each with what is known of it: fields name, ele (metres) and type,
// and, to say which route it is of, route_fid, a number, and route_name.
const RoutePoints = "route_points"

// gpxLayers are the layers of a GPX file in the order its schema has them.
var gpxLayers = []string{"waypoints", "routes", RoutePoints, "tracks"}

// gpxName is what a layer becomes in GPX; "" for what it cannot hold.
func gpxName(l Layer) string {
	switch {
	case l.Shape == Points && l.Name == RoutePoints:
		return RoutePoints
	case l.Shape == Points:
		return "waypoints"
	case l.Shape == Lines && l.Name == "routes":
		return "routes"
	case l.Shape == Lines:
		return "tracks"
	}
	return ""
}

func writeFeatures(ctx context.Context, path, driverName string, layers []Layer) error {
	dataset, err := createDataset(path, driverName)
	if err != nil {
		return err
	}
	defer dataset.Close()
	for _, l := range layers {
		if err := writeLayer(ctx, dataset, driverName, l); err != nil {
			return err
		}
	}
	return nil
}

func createDataset(path, driverName string) (gdal.Dataset, error) {
	driver, err := gdal.GetDriverByName(driverName)
	if err != nil {
		return gdal.Dataset{}, fmt.Errorf("this build of GDAL cannot write %s", driverName)
	}
	var options []string
	if driverName == GPX {
		options = append(options, "GPX_USE_EXTENSIONS=YES")
	}
	dataset := driver.Create(path, 0, 0, 0, gdal.Unknown, options)
	if dataset == (gdal.Dataset{}) {
		return dataset, errors.New("it could not be made")
	}
	return dataset, nil
}

// createLayer makes a layer with its fields, and gives each field's index in
// it, negative where the format has no such field.
func createLayer(dataset gdal.Dataset, driver string, l Layer, geometry gdal.GeometryType) (gdal.Layer, []int, error) {
	crs := l.CRS
	if crs == nil {
		crs = geodesy.WGS84
	}
	sr, err := spatialReference(crs)
	if err != nil {
		return gdal.Layer{}, nil, err
	}
	defer sr.Destroy()
	name, options := l.Name, []string(nil)
	switch driver {
	case Shapefile, FlatGeobuf: // one layer, named for the file
		options = append(options, "ENCODING=UTF-8")
		if driver == FlatGeobuf {
			options = nil
		}
	case GPX: // the name says what the geometry becomes
		if name = gpxName(l); name == "" {
			return gdal.Layer{}, nil, errors.New("GPX holds points and lines only")
		}
	case GeoJSON: // six decimals, the default, are a tenth of a metre
		options = append(options, "COORDINATE_PRECISION=8")
	case DXF:
		name = "entities"
	}
	layer := dataset.CreateLayer(name, sr, geometry, options)
	if layer == (gdal.Layer{}) {
		return layer, nil, fmt.Errorf("layer %q could not be made", name)
	}
	definition := layer.Definition()
	if driver != DXF {
		for _, field := range l.Fields {
			if definition.FieldIndex(field.Name) >= 0 { // the format has it already: GPX's name, ele
				continue
			}
			types := map[FieldType]gdal.FieldType{Text: gdal.FT_String, Integer: gdal.FT_Integer64, Real: gdal.FT_Real}
			d := gdal.CreateFieldDefinition(field.Name, types[field.Type])
			err := layer.CreateField(d, true)
			d.Destroy()
			if err != nil {
				return layer, nil, fmt.Errorf("field %q: %w", field.Name, err)
			}
		}
	}
	indices := make([]int, len(l.Fields))
	for i, field := range l.Fields {
		indices[i] = definition.FieldIndex(field.Name)
		if driver == Shapefile && indices[i] < 0 && len(field.Name) > 10 {
			indices[i] = definition.FieldIndex(field.Name[:10])
		}
	}
	return layer, indices, nil
}

func writeLayer(ctx context.Context, dataset gdal.Dataset, driver string, l Layer) error {
	crs := l.CRS
	if crs == nil {
		crs = geodesy.WGS84
	}
	z := len(l.Features) > 0 && l.Features[0].Elevation != nil
	layer, indices, err := createLayer(dataset, driver, l, geometryType(driver, l, z))
	if err != nil {
		return err
	}
	definition := layer.Definition()
	return inTransaction(driver, layer, func() error {
		for i, f := range l.Features {
			if i%100 == 0 {
				if err := ctx.Err(); err != nil {
					return err
				}
			}
			if err := writeFeature(layer, definition, driver, l, f, indices, crs); err != nil {
				return fmt.Errorf("feature %d: %w", i+1, err)
			}
		}
		return nil
	})
}

// inTransaction runs work as one transaction where the format has them:
// without, a GeoPackage syncs to disk at every feature.
func inTransaction(driver string, layer gdal.Layer, work func() error) error {
	if driver != GeoPackage {
		return work()
	}
	if err := layer.StartTransaction(); err != nil {
		return err
	}
	if err := work(); err != nil {
		return err
	}
	return layer.CommitTransaction()
}

// geometryType is the layer's; tracks are written as many lines because GPX
// makes them so, polygons likewise so that one layer may hold both.
func geometryType(driver string, l Layer, z bool) gdal.GeometryType {
	if driver == DXF || l.Shape == Mixed { // DXF's one layer holds everything
		return gdal.GT_Unknown
	}
	t := map[Shape][2]gdal.GeometryType{
		Points: {gdal.GT_Point, gdal.GT_Point25D},
		Lines:  {gdal.GT_LineString, gdal.GT_LineString25D}, Polygons: {gdal.GT_Polygon, gdal.GT_Polygon25D},
	}[l.Shape]
	many := driver == GPX && gpxName(l) == "tracks"
	for _, f := range l.Features {
		switch f.Geometry.(type) {
		case orb.MultiLineString, orb.MultiPolygon:
			many = true
		}
	}
	if many {
		t = map[Shape][2]gdal.GeometryType{
			Points: t, Lines: {gdal.GT_MultiLineString, gdal.GT_MultiLineString25D},
			Polygons: {gdal.GT_MultiPolygon, gdal.GT_MultiPolygon25D},
		}[l.Shape]
	}
	if z {
		return t[1]
	}
	return t[0]
}

func writeFeature(layer gdal.Layer, definition gdal.FeatureDefinition, driver string, l Layer, f Feature, indices []int, crs *geodesy.CRS) error {
	feature := definition.Create()
	defer feature.Destroy()
	for i, v := range f.Values {
		if indices[i] < 0 {
			continue
		}
		switch v := v.(type) {
		case nil:
		case string:
			feature.SetFieldString(indices[i], v)
		case int:
			feature.SetFieldInteger64(indices[i], int64(v))
		case float64:
			feature.SetFieldFloat64(indices[i], v)
		default:
			return fmt.Errorf("field %q holds a %T", l.Fields[i].Name, v)
		}
	}
	if driver == DXF {
		if i := definition.FieldIndex("Layer"); i >= 0 && l.Name != "" {
			feature.SetFieldString(i, l.Name)
		}
	}
	encoded, err := encode(f.Geometry, f.Elevation, crs)
	if err != nil {
		return err
	}
	geometry, err := gdal.CreateFromWKB(encoded, gdal.SpatialReference{}, len(encoded))
	if err != nil {
		return err
	}
	if err := feature.SetGeometryDirectly(geometry); err != nil {
		return err
	}
	return layer.Create(feature)
}

// Geometry codes of OGC 06-103r4, section 8.2.8; 0x80000000 marks a third
// coordinate in the form GDAL has always read.
const (
	wkbPoint = iota + 1
	wkbLine
	wkbPolygon
	wkbMultiPoint
	wkbMultiLine
	wkbMultiPolygon
	wkbZ = 0x80000000
)

// encode is a geometry in well-known binary, in crs, with the elevation as
// third coordinate. (orb's own encoder is flat.)
func encode(g orb.Geometry, elevation *float64, crs *geodesy.CRS) ([]byte, error) {
	var b []byte
	header := func(code uint32) {
		if elevation != nil {
			code |= wkbZ
		}
		b = append(b, 1) // little-endian
		b = binary.LittleEndian.AppendUint32(b, code)
	}
	count := func(n int) { b = binary.LittleEndian.AppendUint32(b, uint32(n)) }
	points := func(list []orb.Point) error {
		xs, ys := make([]float64, len(list)), make([]float64, len(list))
		for i, p := range list {
			if !finite(p[0]) || !finite(p[1]) {
				return fmt.Errorf("coordinate %v is not a number", p)
			}
			xs[i], ys[i] = p[0], p[1]
		}
		if err := crs.FromWGS84(xs, ys); err != nil {
			return err
		}
		for i := range xs {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(xs[i]))
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(ys[i]))
			if elevation != nil {
				b = binary.LittleEndian.AppendUint64(b, math.Float64bits(*elevation))
			}
		}
		return nil
	}
	var write func(g orb.Geometry) error
	write = func(g orb.Geometry) error {
		switch g := g.(type) {
		case orb.Point:
			header(wkbPoint)
			return points([]orb.Point{g})
		case orb.LineString:
			header(wkbLine)
			count(len(g))
			return points(g)
		case orb.Ring:
			return write(orb.Polygon{g})
		case orb.Polygon:
			header(wkbPolygon)
			count(len(g))
			for _, ring := range g {
				count(len(ring))
				if err := points(ring); err != nil {
					return err
				}
			}
			return nil
		case orb.MultiPoint:
			header(wkbMultiPoint)
			count(len(g))
			for _, p := range g {
				if err := write(p); err != nil {
					return err
				}
			}
			return nil
		case orb.MultiLineString:
			header(wkbMultiLine)
			count(len(g))
			for _, line := range g {
				if err := write(line); err != nil {
					return err
				}
			}
			return nil
		case orb.MultiPolygon:
			header(wkbMultiPolygon)
			count(len(g))
			for _, polygon := range g {
				if err := write(polygon); err != nil {
					return err
				}
			}
			return nil
		}
		return fmt.Errorf("a %T cannot be written", g)
	}
	err := write(g)
	return b, err
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
