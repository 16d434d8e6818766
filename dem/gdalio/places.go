package gdalio

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"

	"github.com/lukeroth/gdal"

	"crowline/dem/geodesy"
)

// Place is a named point from a file.
type Place struct {
	// Name is as written, "" when the file gives none.
	Name string
	// Kind is what the file says it is: a GPX waypoint's type or symbol, or
	// the field or column "kind" or "type".
	Kind   string
	LatLon geodesy.LatLon
	// Elevation, metres, nil when the file gives none. Nobody says what it
	// is above.
	Elevation *float64
}

// Bounds on a file of places. A class's list has tens of places and a
// county's some thousands.
const (
	maxPlaceBytes = 64 << 20
	maxPlaces     = 1_000_000
)

// listDrivers are GDAL's for the endings of files of places and lines.
var listDrivers = map[string]string{".gpx": "GPX", ".kml": "KML", ".geojson": "GeoJSON", ".json": "GeoJSON"}

// checkList refuses a file that is not there, or too large for what it is to
// hold.
func checkList(path, what string) error {
	if err := checkFile(path); err != nil {
		return err
	}
	stat, err := os.Stat(path)
	if err != nil {
		return fmt.Errorf("%s: no such file", path)
	}
	if stat.Size() > maxPlaceBytes {
		return fmt.Errorf("%s is larger than %s should be (%d MB; the limit is %d MB)", path, what, stat.Size()>>20, maxPlaceBytes>>20)
	}
	if err := checkGridNames(path, true); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return nil
}

// ReadPlaces reads the points of a GPX, GeoJSON, KML or CSV file: waypoints,
// point features, placemarks, or rows with columns lat and lon (or latitude
// and longitude) and perhaps name, kind, elevation. Lines and polygons are
// passed over. Coordinates in another CRS are brought to WGS 84. A file with
// no point is an error, and so is any point that is not on Earth, or
// whose coordinates or elevation are not wholly numbers.
func ReadPlaces(path string) ([]Place, error) {
	err := checkList(path, "a list of places")
	if err != nil {
		return nil, err
	}
	var places []Place
	switch ending := strings.ToLower(filepath.Ext(path)); ending {
	case ".csv", ".tsv", ".txt":
		if places, err = readCSVFile(path); err != nil {
			return nil, fmt.Errorf("%s: %w", path, err) // our own words, none of GDAL's
		}
	case ".gpx", ".geojson", ".json", ".kml":
		driver := listDrivers[ending]
		if err := checkNumbers(path, driver, "", elevationFields...); err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		err = fenced(func() error {
			var err error
			places, err = readVector(path, driver)
			return err
		})
	default:
		return nil, fmt.Errorf("%s: places are read from .gpx, .geojson, .kml and .csv files", path)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %s", path, plainReason(err, path, path))
	}
	if len(places) == 0 {
		return nil, fmt.Errorf("%s holds no named or unnamed point", path)
	}
	return places, nil
}

// elevationFields are the attributes that give a point's elevation, metres.
var elevationFields = []string{"ele", "elevation", "elevation_m"}

func readVector(path, driver string) ([]Place, error) {
	dataset, err := gdal.OpenEx(path, gdal.OFVector|gdal.OFReadOnly|gdal.OFVerbose_Error, []string{driver}, nil, nil)
	if err != nil {
		return nil, fmt.Errorf("not a readable %s file", driver)
	}
	defer dataset.Close()
	var places []Place
	for i := 0; ; i++ {
		layer := dataset.LayerByIndex(i)
		if layer == (gdal.Layer{}) {
			return places, nil
		}
		if driver == "GPX" && layer.Name() != "waypoints" {
			continue // the points of tracks and routes have no names
		}
		toWGS84, err := layerCRS(layer)
		if err != nil {
			return nil, err
		}
		for {
			feature := layer.NextFeature()
			if feature == nil {
				break
			}
			place, ok, err := placeOf(*feature, toWGS84, driver)
			feature.Destroy()
			if err != nil {
				return nil, fmt.Errorf("point %d: %w", len(places)+1, err)
			}
			if !ok {
				continue
			}
			if len(places) == maxPlaces {
				return nil, fmt.Errorf("more than %d points", maxPlaces)
			}
			places = append(places, place)
		}
	}
}

// layerCRS is a layer's CRS, WGS 84 where it states none: GPX, KML and
// GeoJSON are so by definition. The layer owns its spatial reference.
func layerCRS(layer gdal.Layer) (*geodesy.CRS, error) {
	sr := layer.SpatialReference()
	if sr == (gdal.SpatialReference{}) {
		return geodesy.WGS84, nil
	}
	wkt, err := sr.ToWKT()
	if err != nil {
		return nil, err
	}
	return geodesy.NewCRS(wkt)
}

func placeOf(feature gdal.Feature, crs *geodesy.CRS, driver string) (Place, bool, error) {
	geometry := feature.Geometry()
	if geometry == (gdal.Geometry{}) || geometry.IsEmpty() {
		return Place{}, false, nil
	}
	switch geometry.Type() {
	case gdal.GT_Point, gdal.GT_Point25D:
	default:
		return Place{}, false, nil
	}
	field := func(names ...string) string {
		for _, n := range names {
			if i := feature.FieldIndex(n); i >= 0 && feature.IsFieldSetAndNotNull(i) {
				return strings.TrimSpace(feature.FieldAsString(i))
			}
		}
		return ""
	}
	p := Place{Name: field("name", "title"), Kind: field("kind", "type", "sym")}
	x, y := []float64{geometry.X(0)}, []float64{geometry.Y(0)}
	if err := crs.ToWGS84(x, y); err != nil {
		return Place{}, false, fmt.Errorf("%s: %w", p.Name, err)
	}
	var err error
	if p.LatLon, err = geodesy.NewLatLon(geodesy.Degrees(y[0]), geodesy.Degrees(x[0])); err != nil {
		return Place{}, false, fmt.Errorf("%s: %w", p.Name, err)
	}
	elevation := math.NaN()
	if text := field(elevationFields...); text != "" {
		v, ok := geodesy.ParseNumber(text)
		if !ok {
			return Place{}, false, fmt.Errorf("%s: elevation %q %s", p.Name, text, notHeight("m"))
		}
		elevation = v
	} else if geometry.CoordinateDimension() == 3 && !(driver == "KML" && geometry.Z(0) == 0) {
		// KML writes 0 for a point laid on the ground.
		elevation = geometry.Z(0)
	}
	if finite(elevation) {
		p.Elevation = &elevation
	}
	return p, true, nil
}

func readCSVFile(path string) ([]Place, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, errors.New("cannot be opened")
	}
	defer f.Close()
	return readCSV(f)
}

// columnNames are the headings read, in lower case.
var columnNames = map[string][]string{
	"lat": {"lat", "latitude", "lat_deg"}, "lon": {"lon", "long", "longitude", "lng", "lon_deg"},
	"name": {"name", "title"}, "kind": {"kind", "type"}, "elevation": {"elevation", "ele", "elevation_m"},
}

// plainTableError says in plain words what is wrong with a table.
func plainTableError(err error) error {
	var parse *csv.ParseError
	switch {
	case errors.Is(err, io.EOF):
		return errors.New("it has no rows")
	case errors.As(err, &parse) && errors.Is(err, csv.ErrFieldCount):
		return fmt.Errorf("line %d has not as many columns as the first line", parse.Line)
	case errors.As(err, &parse):
		return fmt.Errorf("line %d has a quotation mark too many or too few", parse.StartLine)
	}
	return err
}

// readCSV reads comma, semicolon or tab separated rows under a heading row.
// Errors give the line.
func readCSV(r io.Reader) ([]Place, error) {
	text, err := io.ReadAll(r)
	if err != nil {
		return nil, err
	}
	heading := strings.TrimPrefix(string(text), "\ufeff")
	first, _, _ := strings.Cut(heading, "\n")
	reader := csv.NewReader(strings.NewReader(heading))
	reader.TrimLeadingSpace = true
	for _, separator := range []rune{';', '\t'} {
		if strings.ContainsRune(first, separator) && !strings.ContainsRune(first, ',') {
			reader.Comma = separator
		}
	}
	row, err := reader.Read()
	if err != nil {
		return nil, fmt.Errorf("not a table of places: %w", plainTableError(err))
	}
	columns := map[string]int{}
	for what, names := range columnNames {
		columns[what] = -1
		for _, n := range names {
			for i, c := range row {
				if columns[what] < 0 && strings.EqualFold(strings.TrimSpace(c), n) {
					columns[what] = i
				}
			}
		}
	}
	if columns["lat"] < 0 || columns["lon"] < 0 {
		return nil, errors.New("its first line names no columns lat and lon")
	}
	var places []Place
	for {
		row, err := reader.Read()
		if errors.Is(err, io.EOF) {
			return places, nil
		}
		if err != nil {
			return nil, plainTableError(err)
		}
		line, _ := reader.FieldPos(0)
		get := func(what string) string {
			if i := columns[what]; i >= 0 {
				return strings.TrimSpace(row[i])
			}
			return ""
		}
		p := Place{Name: get("name"), Kind: get("kind")}
		where := thing("line", line, p.Name)
		var degrees [2]geodesy.Degrees
		for i, what := range []string{"lat", "lon"} {
			v, ok := geodesy.ParseNumber(get(what))
			if !ok {
				return nil, &NumberError{where, what, get(what), notDegrees}
			}
			degrees[i] = geodesy.Degrees(v)
		}
		if p.LatLon, err = geodesy.NewLatLon(degrees[0], degrees[1]); err != nil {
			return nil, fmt.Errorf("%s: %w", where, err)
		}
		if text := get("elevation"); text != "" {
			v, ok := geodesy.ParseNumber(text)
			if !ok {
				return nil, &NumberError{where, "elevation", text, notHeight("m")}
			}
			p.Elevation = &v
		}
		if len(places) == maxPlaces {
			return nil, fmt.Errorf("more than %d rows", maxPlaces)
		}
		places = append(places, p)
	}
}
