package gdalio

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"strings"

	"github.com/lukeroth/gdal"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// Bounds on a file of polygons: a county's buildings are some hundred
// thousand.
const (
	maxCoverBytes    = 1 << 30
	maxCoverPolygons = 2_000_000
)

// ReadCover reads polygons with a height above ground from a vector file
// (GeoPackage, GeoJSON, FlatGeobuf, Shapefile or KML), for dem.PolygonCover.
// field names the attribute with the height, in metres unless unit is "ft"
// or "ftUS"; where it is a text the unit may stand behind the number. A value
// that is not wholly a number is a *NumberError. Polygons without a value, or
// with one that is no height, are passed over and counted. Other shapes are not polygons and are passed over
// too.
func ReadCover(ctx context.Context, path, field, unit string) (polygons []dem.CoverPolygon, passedOver int, err error) {
	metres := 1.0
	switch unit {
	case "", "m":
		unit = "m"
	case "ft":
		metres = internationalFoot
	case "ftUS":
		metres = surveyFoot
	default:
		return nil, 0, fmt.Errorf("height unit %q is not m, ft or ftUS", unit)
	}
	if err := checkFile(path); err != nil {
		return nil, 0, err
	}
	if stat, err := os.Stat(path); err == nil && stat.Size() > maxCoverBytes {
		return nil, 0, fmt.Errorf("%s is larger than %d MB; cut out the ground you need first (ogr2ogr -spat)", path, maxCoverBytes>>20)
	}
	err = checkGridNames(path, true)
	if err == nil && isSQLite(path) {
		err = checkGeoPackage(path)
	}
	if err != nil {
		return nil, 0, fmt.Errorf("%s: %w", path, err)
	}
	var wrong error // in our own words
	err = fenced(func() error {
		// Functions that views call may reach files: SQLite has none called.
		threadOption("OGR_SQLITE_PRAGMA", "trusted_schema=0")
		defer threadOption("OGR_SQLITE_PRAGMA", "")
		dataset, err := gdal.OpenEx(path, gdal.OFVector|gdal.OFReadOnly|gdal.OFVerbose_Error, []string{GeoPackage, GeoJSON, FlatGeobuf, Shapefile, KML}, nil, nil)
		if err != nil {
			return fmt.Errorf("not a readable file of polygons")
		}
		defer dataset.Close()
		driver := dataset.Driver().ShortName()
		if wrong = checkNumbers(path, driver, unit, field); wrong != nil {
			return wrong
		}
		found := false
		for i := 0; ; i++ {
			layer := dataset.LayerByIndex(i)
			if layer == (gdal.Layer{}) {
				break
			}
			if layer.Definition().FieldIndex(field) < 0 {
				continue
			}
			found = true
			if driver == GeoPackage {
				if err := checkColumn(dataset, layer, field, unit); err != nil {
					return err
				}
			}
			more, passed, err := readCoverLayer(ctx, layer, field, unit, metres, maxCoverPolygons-len(polygons))
			if err != nil {
				return err
			}
			polygons, passedOver = append(polygons, more...), passedOver+passed
		}
		if !found {
			return fmt.Errorf("no layer has an attribute %q", field)
		}
		return nil
	})
	var number *NumberError
	switch {
	case ctx.Err() != nil:
		return nil, 0, ctx.Err()
	case wrong != nil:
		return nil, 0, fmt.Errorf("%s: %w", path, wrong)
	case errors.As(err, &number):
		return nil, 0, fmt.Errorf("%s: %w", path, number)
	case err != nil:
		return nil, 0, fmt.Errorf("%s: %s", path, plainReason(err, path, path))
	case len(polygons) == 0:
		return nil, 0, fmt.Errorf("%s holds no polygon with a height in %q", path, field)
	}
	return polygons, passedOver, nil
}

func readCoverLayer(ctx context.Context, layer gdal.Layer, field, unit string, metres float64, most int) (polygons []dem.CoverPolygon, passedOver int, err error) {
	toWGS84, err := layerCRS(layer)
	if err != nil {
		return nil, 0, err
	}
	for n := 0; ; n++ {
		if n%100 == 0 && ctx.Err() != nil {
			return nil, 0, ctx.Err()
		}
		feature := layer.NextFeature()
		if feature == nil {
			return polygons, passedOver, nil
		}
		p, ok, err := coverOf(*feature, field, unit, metres, toWGS84)
		feature.Destroy()
		var number *NumberError
		if errors.As(err, &number) {
			number.Where = thing("feature", n+1, "")
		}
		if err != nil {
			return nil, 0, fmt.Errorf("feature %d: %w", n+1, err)
		}
		if !ok {
			passedOver++
			continue
		}
		if len(polygons) == most {
			return nil, 0, fmt.Errorf("more than %d polygons; cut out the ground you need first", maxCoverPolygons)
		}
		polygons = append(polygons, p)
	}
}

// tallest is over any building there is.
const tallest = 1000 // m

func coverOf(feature gdal.Feature, field, unit string, metres float64, crs *geodesy.CRS) (dem.CoverPolygon, bool, error) {
	i := feature.FieldIndex(field)
	if i < 0 || !feature.IsFieldSetAndNotNull(i) || strings.TrimSpace(feature.FieldAsString(i)) == "" {
		return dem.CoverPolygon{}, false, nil
	}
	height := feature.FieldAsFloat64(i)
	switch feature.FieldDefinition(i).Type() {
	case gdal.FT_Integer, gdal.FT_Integer64, gdal.FT_Real:
	default: // GDAL would read it as far as it goes
		text := feature.FieldAsString(i)
		var ok bool
		if height, _, ok = parseHeight(text, unit); !ok {
			return dem.CoverPolygon{}, false, &NumberError{What: field, Text: text, Reason: notHeight(unit)}
		}
	}
	height *= metres
	if !(height >= 0 && height <= tallest) {
		return dem.CoverPolygon{}, false, nil
	}
	geometry := feature.Geometry()
	if geometry == (gdal.Geometry{}) || geometry.IsEmpty() {
		return dem.CoverPolygon{}, false, nil
	}
	switch geometry.Type() {
	case gdal.GT_Polygon, gdal.GT_Polygon25D, gdal.GT_MultiPolygon, gdal.GT_MultiPolygon25D:
	default:
		return dem.CoverPolygon{}, false, nil
	}
	geometry.FlattenTo2D() // orb reads flat ones
	bytes, err := geometry.ToWKB()
	if err != nil {
		return dem.CoverPolygon{}, false, err
	}
	shape, err := wkb.Unmarshal(bytes)
	if err != nil {
		return dem.CoverPolygon{}, false, err
	}
	var area orb.MultiPolygon
	switch s := shape.(type) {
	case orb.Polygon:
		area = orb.MultiPolygon{s}
	case orb.MultiPolygon:
		area = s
	default:
		return dem.CoverPolygon{}, false, nil
	}
	for _, polygon := range area {
		for _, ring := range polygon {
			xs, ys := make([]float64, len(ring)), make([]float64, len(ring))
			for k, p := range ring {
				if math.IsNaN(p[0]) || math.IsNaN(p[1]) {
					return dem.CoverPolygon{}, false, nil
				}
				xs[k], ys[k] = p[0], p[1]
			}
			if err := crs.ToWGS84(xs, ys); err != nil {
				return dem.CoverPolygon{}, false, err
			}
			for k := range ring {
				ring[k] = orb.Point{xs[k], ys[k]}
			}
		}
	}
	return dem.CoverPolygon{Area: area, AboveGround: height}, true, nil
}
