package gdalio

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path"
	"path/filepath"
	"slices"
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

// PlaceOptions say what a file of places leaves out.
type PlaceOptions struct {
	// CRS is the reference system of a table's coordinates, or of a shapefile
	// that has no .prj: anything geodesy.NewCRS reads. A table without one has
	// latitudes and longitudes on WGS 84.
	CRS string
	// AskCRS is what the user gives the CRS by, for errors: "--places-crs".
	AskCRS string
}

// ask is what errors call the CRS.
func (o PlaceOptions) ask() string {
	if o.AskCRS == "" {
		return "a reference system"
	}
	return o.AskCRS
}

// ReadPlaces is ReadPlacesWith for a file that leaves nothing out.
func ReadPlaces(path string) ([]Place, error) { return ReadPlacesWith(path, PlaceOptions{}) }

// ReadPlacesWith reads the points of a GPX, GeoJSON, KML or KMZ file, of a
// shapefile, also in a zip, or of a table (.csv, .tsv, .txt): waypoints, point
// features, placemarks, or rows with columns lat and lon (or easting and northing
// in opts.CRS) and perhaps name, kind, elevation. Lines and polygons are passed
// over. Coordinates in another CRS are brought to WGS 84. A file with no point is
// an error, and so is any point that is not on Earth, or whose coordinates or
// elevation are not wholly numbers.
func ReadPlacesWith(path string, opts PlaceOptions) ([]Place, error) {
	if err := checkList(path, "a list of places"); err != nil {
		return nil, err
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("%s: cannot be opened", path)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxPlaceBytes+1))
	if err != nil {
		return nil, fmt.Errorf("%s: cannot be read", path)
	}
	list := placeList{name: path, opts: opts, files: map[string][]byte{}}
	ending := strings.ToLower(filepath.Ext(path))
	if ending == ".shp" {
		if err := list.addShapefile(path); err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
	}
	return list.read(ending, data)
}

// ReadPlacesFrom is ReadPlacesWith for what comes from a pipe; name is what errors
// call it. Its format is told by how it begins.
func ReadPlacesFrom(r io.Reader, name string, opts PlaceOptions) ([]Place, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxPlaceBytes+1))
	switch {
	case err != nil:
		return nil, fmt.Errorf("%s: cannot be read", name)
	case len(data) > maxPlaceBytes:
		return nil, fmt.Errorf("%s is larger than a list of places should be (the limit is %d MB)", name, maxPlaceBytes>>20)
	}
	list := placeList{name: name, opts: opts, files: map[string][]byte{}}
	return list.read(placeFormat(data), data)
}

// placeFormat is the ending that a list of places has by how it begins.
func placeFormat(data []byte) string {
	start := strings.TrimLeft(strings.TrimPrefix(string(data[:min(len(data), 4096)]), "\ufeff"), " \t\r\n")
	switch {
	case isZip(data):
		return ".zip"
	case strings.HasPrefix(start, "{"):
		return ".geojson"
	case strings.HasPrefix(start, "<") && strings.Contains(start, "<gpx"):
		return ".gpx"
	case strings.HasPrefix(start, "<"):
		return ".kml"
	}
	return ".csv"
}

// placeList is a file of places that is being read.
type placeList struct {
	name  string
	opts  PlaceOptions
	files map[string][]byte // of a shapefile, by ending
}

// read reads the places of a file of this ending. Errors name the file.
func (l *placeList) read(ending string, data []byte) ([]Place, error) {
	if len(data) == 0 {
		return nil, fmt.Errorf("%s is empty; it holds no place", l.name)
	}
	var crs *geodesy.CRS
	var err error
	if l.opts.CRS != "" {
		if crs, err = geodesy.NewCRS(l.opts.CRS); err != nil {
			return nil, fmt.Errorf("%s: %w", l.opts.ask(), err)
		}
	}
	inside := ""
	if ending == ".kmz" || ending == ".zip" {
		if inside, data, err = l.unzip(data); err != nil {
			return nil, fmt.Errorf("%s: %w", l.name, err)
		}
		ending = strings.ToLower(path.Ext(inside))
	}
	var places []Place
	switch ending {
	case ".csv", ".tsv", ".txt":
		if places, err = readTable(data, crs, l.opts.ask()); err != nil {
			return nil, fmt.Errorf("%s: %w", l.name, err) // our own words, none of GDAL's
		}
	case ".gpx", ".geojson", ".json", ".kml", ".shp":
		places, err = l.readVector(ending, data, crs)
	default:
		return nil, fmt.Errorf("%s: places are read from .gpx, .geojson, .kml and .csv files, from .kmz, and from shapefiles (.shp)", l.name)
	}
	if err != nil {
		var ours inOurWords
		if errors.As(err, &ours) {
			return nil, fmt.Errorf("%s: %w", l.name, err)
		}
		return nil, fmt.Errorf("%s: %s", l.name, plainReason(err, l.name, l.name))
	}
	if len(places) == 0 {
		return nil, fmt.Errorf("%s holds no named or unnamed point", l.name)
	}
	return places, nil
}

// inOurWords is an error that is said as it stands, and not as one of GDAL's.
type inOurWords struct{ error }

func (e inOurWords) Unwrap() error { return e.error }

func placesErrorf(format string, args ...any) error { return inOurWords{fmt.Errorf(format, args...)} }

// addShapefile reads what lies beside a .shp that belongs to it.
func (l *placeList) addShapefile(path string) error {
	for _, ending := range shapefileSides {
		for _, side := range []string{withEnding(path, ending), withEnding(path, strings.ToUpper(ending))} {
			stat, err := os.Stat(side)
			if err != nil || !stat.Mode().IsRegular() {
				continue
			}
			if stat.Size() > maxPlaceBytes {
				return fmt.Errorf("its %s is larger than that of a list of places should be (the limit is %d MB)", ending, maxPlaceBytes>>20)
			}
			data, err := os.ReadFile(side)
			if err != nil {
				return fmt.Errorf("its %s cannot be read", ending)
			}
			l.files[ending] = data
			break
		}
	}
	return nil
}

// unzip takes the one list of places out of a zip file: of a .kmz the first .kml,
// which holds it all by the format's rule (OGC 12-007r2, KMZ packages).
func (l *placeList) unzip(data []byte) (name string, body []byte, err error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return "", nil, damaged("it is no whole zip file")
	}
	var found []*zip.File
	isKMZ := hasEnding(l.name, ".kmz")
	for _, f := range z.File {
		ending := strings.ToLower(path.Ext(f.Name))
		base := path.Base(f.Name)
		if !f.Mode().IsRegular() || strings.HasPrefix(base, ".") || strings.HasPrefix(f.Name, "__MACOSX/") {
			continue
		}
		if ending == ".kml" || !isKMZ && slices.Contains([]string{".shp", ".gpx", ".geojson", ".csv", ".tsv"}, ending) {
			found = append(found, f)
		}
	}
	isDoc := func(f *zip.File) bool { return strings.EqualFold(f.Name, "doc.kml") }
	allKML := !slices.ContainsFunc(found, func(f *zip.File) bool { return !hasEnding(f.Name, ".kml") })
	switch {
	case len(found) == 0:
		return "", nil, placesErrorf("no list of places is in it")
	case len(found) > 1 && allKML:
		if at := slices.IndexFunc(found, isDoc); at > 0 {
			found[0] = found[at]
		}
	case len(found) > 1:
		return "", nil, placesErrorf("%d lists are in it, %s and %s among them: unpack it and give one", len(found), shortened(found[0].Name), shortened(found[1].Name))
	}
	left := int64(maxPlaceBytes)
	read := func(f *zip.File) ([]byte, error) {
		if f.UncompressedSize64 > uint64(left) {
			return nil, errListTooLarge
		}
		in, err := f.Open()
		if err != nil {
			return nil, damaged("it cannot be unpacked")
		}
		defer in.Close()
		out, err := readMember(context.Background(), in, left)
		if errors.Is(err, errTooLarge) {
			err = errListTooLarge
		}
		left -= int64(len(out))
		return out, err
	}
	main := found[0]
	if body, err = read(main); err != nil {
		return "", nil, err
	}
	if len(body) == 0 {
		return "", nil, fmt.Errorf("its %s is empty; fetch it again", shortened(main.Name))
	}
	if hasEnding(main.Name, ".shp") {
		stem := strings.TrimSuffix(main.Name, path.Ext(main.Name))
		for _, f := range z.File {
			if ending := strings.ToLower(path.Ext(f.Name)); slices.Contains(shapefileSides, ending) && strings.TrimSuffix(f.Name, path.Ext(f.Name)) == stem {
				if l.files[ending], err = read(f); err != nil {
					return "", nil, err
				}
			}
		}
	}
	return main.Name, body, nil
}

var errListTooLarge = fmt.Errorf("it unpacks to more than a list of places should be (the limit is %d MB)", maxPlaceBytes>>20)

// readVector reads the places of a file that GDAL reads, from memory: what was
// looked through is what is read.
func (l *placeList) readVector(ending string, data []byte, crs *geodesy.CRS) ([]Place, error) {
	driver := listDrivers[ending]
	names, files := []string{"places" + ending}, map[string][]byte{"places" + ending: data}
	if ending == ".shp" {
		driver = Shapefile
		if len(l.files[".shx"]) == 0 {
			return nil, placesErrorf("its .shx is missing; keep the files of a shapefile together (.shp, .shx, .dbf, .prj)")
		}
		for _, side := range shapefileSides {
			if len(l.files[side]) > 0 {
				names, files["places"+side] = append(names, "places"+side), l.files[side]
			}
		}
		if err := checkDBF(bytes.NewReader(l.files[".dbf"]), "", elevationFields...); err != nil {
			return nil, inOurWords{err}
		}
	}
	if err := checkNumbersIn(bytes.NewReader(data), driver, "", elevationFields...); err != nil {
		return nil, inOurWords{err}
	}
	for _, name := range names {
		if err := checkGridsIn(bytes.NewReader(files[name]), maxCoverBytes); err != nil {
			return nil, inOurWords{err}
		}
	}
	return supervised(context.Background(), l.name, patience, nil, func() ([]Place, error) {
		in, err := inMemory(names, files)
		if err != nil {
			return nil, err
		}
		defer in.free()
		var places []Place
		err = fenced(func() error {
			var err error
			places, err = readVector(in.path, driver, crs, l.opts.ask())
			return err
		})
		var ours inOurWords
		if err != nil && !errors.As(err, &ours) {
			// GDAL knows the file by its name in memory
			err = errors.New(strings.NewReplacer(in.folder+"/", "", names[0], filepath.Base(l.name)).Replace(err.Error()))
		}
		return places, err
	}, func([]Place) {})
}

// elevationFields are the attributes that give a point's elevation, metres.
var elevationFields = []string{"ele", "elevation", "elevation_m"}

func readVector(path, driver string, given *geodesy.CRS, ask string) ([]Place, error) {
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
		toWGS84, err := placesCRS(layer, driver, given, ask)
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

// placesCRS is the CRS of a layer of places. given is for a file that may leave
// its own out: a shapefile.
func placesCRS(layer gdal.Layer, driver string, given *geodesy.CRS, ask string) (*geodesy.CRS, error) {
	states := driver != Shapefile || layer.SpatialReference() != (gdal.SpatialReference{})
	switch {
	case states && given != nil:
		return nil, placesErrorf("it says its own reference system, so %s does nothing here: leave that out", ask)
	case states:
		return layerCRS(layer)
	case given != nil:
		return given, nil
	}
	return nil, placesErrorf("it has no .prj, so nothing says its reference system: give that with %s, as EPSG:32611", ask)
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
