package gdalio

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// Options says what a file leaves out or gets wrong. The zero value takes
// the file at its word.
type Options struct {
	// CRS is the coordinate reference system of a file that names none, or
	// none that can be used: anything geodesy.NewCRS reads, for example
	// "EPSG:32617". A file that names its own keeps it, and warns if this is
	// another.
	CRS string
	// HeightUnit overrides the unit of the elevations: "m", "ft" (0.3048 m)
	// or "ftUS" (1200/3937 m). "" keeps what the file says.
	HeightUnit string
}

// Raster is an elevation file, read by the window. It implements dem.Source.
// Safe for concurrent use: one read runs at a time.
type Raster struct {
	frame  dem.Frame
	header header
	unit   heightUnit
	name   string
	in     input            // what GDAL opened
	remote *remoteFile      // it on a web server, nil for one on this machine
	order  binary.ByteOrder // of a remote GeoTIFF's values, nil when not known

	reading sync.Mutex    // held for a call into GDAL, which may last
	handle  *handle       // nil once closed
	beats   *atomic.Int64 // counts the pieces read, with those of its twins

	mutex     sync.Mutex // of what follows; never held for a call into GDAL
	info      dem.Info
	sentinels map[float64]bool // stored values taken as void without being declared
	absurd    *float64         // one elevation beyond the Earth's range, metres
	unfilled  bool             // part of a virtual raster is reached by no source and has no declared void
	holes     *float64         // share of a file that is not stored and is read as zeros, percent; nil while none is met
}

var _ dem.Source = (*Raster)(nil)

// Open opens an elevation file of this machine, of one of the formats of the
// package comment. Every error is one line that names the file and says what
// to do about it. It takes a minute at the most.
func Open(path string, opts Options) (*Raster, error) {
	return openFile(context.Background(), path, opts)
}

// openFile is Open that ends with ctx.
func openFile(ctx context.Context, path string, opts Options) (*Raster, error) {
	if err := checkFile(path); err != nil {
		return nil, err
	}
	return supervised(ctx, path, patience, nil, func() (*Raster, error) {
		in, err := prepare(ctx, path)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		return open(in, path, opts)
	}, func(r *Raster) { r.Close() })
}

// OpenBytes opens a raster held in memory; data is copied. name is what
// errors and Info call it.
func OpenBytes(name string, data []byte, opts Options) (*Raster, error) {
	ctx := context.Background()
	return supervised(ctx, name, patience, nil, func() (*Raster, error) {
		in, err := prepareBytes(ctx, name, data)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		return open(in, name, opts)
	}, func(r *Raster) { r.Close() })
}

// checkFile gives plain words to what GDAL would put in terms of drivers.
func checkFile(path string) error {
	if namesNetwork(path) {
		return fmt.Errorf("%s: give the plain address of a file elsewhere (https://...)", path)
	}
	if strings.HasPrefix(path, "/vsi") {
		return nil
	}
	if archive, member := insideArchive(path); member != "" {
		return checkFile(archive)
	}
	path = gridHeader(path)
	stat, err := os.Stat(path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return fmt.Errorf("%s: no such file", path)
	case errors.Is(err, os.ErrPermission):
		return fmt.Errorf("%s: no permission to read it", path)
	case err != nil:
		return fmt.Errorf("%s: cannot be looked at (%w)", path, errors.Unwrap(err))
	case stat.IsDir():
		return fmt.Errorf("%s is a folder; name an elevation file in it", path)
	case !stat.Mode().IsRegular():
		return fmt.Errorf("%s is not a plain file; copy it to one", path)
	case stat.Size() == 0:
		return fmt.Errorf("%s is empty; fetch it again", path)
	}
	return nil
}

// open opens what was prepared, and frees it if that fails.
func open(in input, name string, opts Options) (*Raster, error) {
	h, head, err := openHandle(in.path, in.virtual)
	if err != nil {
		kind := otherFormat(firstBytes(in.path))
		if kind == "" {
			kind = kindByName(in.path)
		}
		in.free()
		if err := errOther(name, kind); err != nil {
			return nil, err
		}
		if hasEnding(in.path, ".hgt") && !srtmName.MatchString(filepath.Base(in.path)) {
			return nil, fmt.Errorf("%s does not say where it lies: an .hgt says it by its name, as N36W085.hgt for the tile whose south-west corner is at 36 N, 85 W; give it its name back", name)
		}
		return nil, fmt.Errorf("%s cannot be read as elevation data (%s); give a raster, such as a GeoTIFF, or make one of it (gdal_translate)",
			name, plainReason(err, in.path, name))
	}
	if head.driver == "HFA" {
		if err := h.checkWithin(in.path); err != nil {
			h.close()
			in.free()
			return nil, fmt.Errorf("%s: %w", name, err)
		}
	}
	if in.driver != "" {
		head.driver = in.driver
	}
	r, err := newRaster(h, head, name, opts)
	if err != nil {
		h.close()
		in.free()
		return nil, err
	}
	r.in = in
	return r, nil
}

func errPicture(name string) error {
	return fmt.Errorf("%s is a picture, not elevations; give a file of heights (a digital elevation model)", name)
}

func newRaster(h *handle, head header, name string, opts Options) (*Raster, error) {
	if err := checkElevations(head, name); err != nil {
		return nil, err
	}
	if err := checkBlocks(head, name); err != nil {
		return nil, err
	}
	frame, err := newFrame(head, name)
	if err != nil {
		return nil, err
	}
	var warnings []string
	if frame.CRS, warnings, err = newCRS(head, name, opts); err != nil {
		return nil, err
	}
	if err := checkDegrees(&frame, name); err != nil {
		return nil, err
	}
	unit, more, err := newHeightUnit(head, opts)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	warnings = append(warnings, more...)
	r := &Raster{frame: frame, header: head, unit: unit, name: name, handle: h, beats: new(atomic.Int64), sentinels: map[float64]bool{}}
	r.info = dem.Info{
		Name: filepath.Base(name), Path: name,
		Driver: head.driver, DataType: head.typeName,
		VerticalUnit: unit.name, VerticalUnitStated: unit.stated,
		VerticalDatum: head.verticalName,
		PixelIsPoint:  head.pixelIsPoint,
		NoData:        head.noData,
		Overviews:     head.overviews,
		Warnings:      warnings,
	}
	if head.ellipsoidal {
		r.info.VerticalDatum = "ellipsoid of " + frame.CRS.Datum
		r.info.Warnings = append(r.info.Warnings, "heights are above the ellipsoid, not above sea level")
	}
	recognise(&r.info, head, &frame)
	if head.dataType == typeByte {
		r.info.Warnings = append(r.info.Warnings,
			"the file holds bytes, 0 to 255: it may be no ground but a hillshade, a slope map or a picture; look at its values before you trust it")
	}
	if !r.info.VerticalUnitStated {
		r.info.Warnings = append(r.info.Warnings,
			"the file does not say the unit of its heights: metres assumed (--height-unit to change)")
	}
	return r, nil
}

// checkElevations refuses what cannot be elevations.
func checkElevations(head header, name string) error {
	picture := errPicture(name)
	switch {
	case head.columns <= 0 || head.rows <= 0:
		return fmt.Errorf("%s holds no posts (%d x %d); fetch it again", name, head.columns, head.rows)
	case head.bands < 1:
		return fmt.Errorf("%s holds no band of values; name one of its subdatasets (gdalinfo lists them)", name)
	case head.bandName == VerdictBand:
		return fmt.Errorf("%s holds the verdicts of a viewshed, not elevations; give a file of heights", name)
	case head.palette || head.interpretation == colourPalette || head.interpretation == colourRed:
		return picture
	case head.bands >= 3 && head.dataType == typeByte:
		return picture
	case slices.Contains([]string{"JPEG", "YCbCr JPEG", "WEBP", "JXL"}, head.compression):
		return picture // no heights are packed so
	case head.bands == 2 && head.secondInterpretation == colourAlpha:
	case head.bands > 1:
		return fmt.Errorf("%s has %d bands and does not say which holds elevations; copy that band to a file of its own (gdal_translate -b N)",
			name, head.bands)
	}
	switch head.dataType {
	case typeByte, typeUInt16, typeInt16, typeUInt32, typeInt32, typeFloat32, typeFloat64:
		return nil
	}
	return fmt.Errorf("%s holds %s values, which are not elevations or cannot be read exactly; convert it (gdal_translate -ot Float32)",
		name, head.typeName)
}

// newFrame moves the geotransform's origin, a cell's corner, to the centre
// of the first cell. (Where a file's pixels are points GDAL has already
// moved the corner half a cell out.)
func newFrame(head header, name string) (dem.Frame, error) {
	g := head.geotransform
	if !head.hasGeotransform {
		if head.hasControlPoints {
			return dem.Frame{}, fmt.Errorf("%s is placed by ground control points, not by a regular grid; warp it first (gdalwarp)", name)
		}
		return dem.Frame{}, fmt.Errorf("%s does not say where on Earth it lies (no geotransform); add a world file or use a georeferenced copy", name)
	}
	for _, v := range g {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return dem.Frame{}, fmt.Errorf("%s has a geotransform that is not finite %v; fetch it again", name, g)
		}
	}
	if g[1] == 0 || g[5] == 0 {
		return dem.Frame{}, fmt.Errorf("%s has a geotransform with no post spacing or turned by a quarter %v; warp it first (gdalwarp)", name, g)
	}
	// A drift under a millionth of a cell across the file is rounding.
	const drift = 1e-6
	if math.Abs(g[2])*float64(head.rows) > drift*math.Abs(g[1]) || math.Abs(g[4])*float64(head.columns) > drift*math.Abs(g[5]) {
		return dem.Frame{}, fmt.Errorf("%s is rotated: its rows do not run along its coordinate axes; turn it first (gdalwarp)", name)
	}
	return dem.Frame{
		Columns: head.columns, Rows: head.rows,
		X0: g[0] + g[1]/2, Y0: g[3] + g[5]/2, DX: g[1], DY: g[5],
	}, nil
}

// newCRS is the file's own reference system, else the one given.
func newCRS(head header, name string, opts Options) (*geodesy.CRS, []string, error) {
	var given *geodesy.CRS
	if opts.CRS != "" {
		var err error
		if given, err = geodesy.NewCRS(opts.CRS); err != nil {
			return nil, nil, fmt.Errorf("--crs: %w", err)
		}
	}
	own, err := head.crs()
	switch {
	case err == nil && own != nil:
		if given != nil && !sameCRS(own, given) {
			return own, []string{fmt.Sprintf("the file names its reference system (%s), which is used: --crs %s is for files that name none", own.Name, opts.CRS)}, nil
		}
		return own, nil, nil
	case given != nil:
		return given, nil, nil
	case err != nil:
		return nil, nil, fmt.Errorf("%s: %w; give another with --crs EPSG:code", name, err)
	case head.swappedAxes:
		return nil, nil, fmt.Errorf("%s has its axes swapped (northing or latitude along the rows); warp it first (gdalwarp) or say --crs EPSG:code", name)
	}
	return nil, nil, fmt.Errorf("%s does not say its coordinate reference system; give it with --crs EPSG:code", name)
}

// checkDegrees refuses latitudes beyond the poles: coordinates in metres of
// which someone says that they are degrees. A post that stands half a cell
// beyond a pole is let be.
func checkDegrees(f *dem.Frame, name string) error {
	if !f.CRS.Geographic {
		return nil
	}
	first, last := f.Y0, f.Y0+float64(f.Rows-1)*f.DY
	if pole := math.Pi/2/f.CRS.MetresPerUnit + math.Abs(f.DY); math.Max(math.Abs(first), math.Abs(last)) > pole {
		return fmt.Errorf("%s has coordinates like %.0f, %.0f, which are not the longitude and latitude of %s; they are metres or feet: give their reference system (--crs EPSG:code, where the file names none)",
			name, f.X0, first, f.CRS.Name)
	}
	return nil
}

// crs is the reference system the file names, nil when it names none that
// can be used as it is.
func (h header) crs() (*geodesy.CRS, error) {
	switch {
	case h.swappedAxes:
		return nil, nil
	case h.epsg4326:
		return geodesy.WGS84, nil
	case h.wkt == "":
		return nil, nil
	}
	return geodesy.NewCRS(h.wkt)
}

// sameCRS compares by code where both have one, else by name.
func sameCRS(a, b *geodesy.CRS) bool {
	if a.Code != "" && b.Code != "" {
		return a.Code == b.Code
	}
	return a.Name == b.Name
}

// muchOfAFile is the share of a file, percent, from which its holes are worth
// a word: a twentieth. Our own choice.
const muchOfAFile = 5

// Info describes the data. Warnings grow as reading finds things out.
func (r *Raster) Info() dem.Info {
	r.mutex.Lock()
	defer r.mutex.Unlock()
	return r.infoLocked()
}

func (r *Raster) infoLocked() dem.Info {
	info := r.info
	info.Overviews = slices.Clone(info.Overviews)
	info.Warnings = slices.Clone(info.Warnings)
	stored := make([]float64, 0, len(r.sentinels))
	for v := range r.sentinels {
		stored = append(stored, v)
	}
	slices.Sort(stored)
	for _, v := range stored {
		info.Warnings = append(info.Warnings, fmt.Sprintf("values of %v, not declared as void, were taken as void", v))
	}
	if r.absurd != nil {
		info.Warnings = append(info.Warnings, fmt.Sprintf("elevations beyond the Earth's, such as %.6g m, were taken as void", *r.absurd))
	}
	if r.unfilled {
		info.Warnings = append(info.Warnings, "part of the file was never filled and was taken as void")
	}
	if r.holes != nil && *r.holes >= muchOfAFile {
		info.Warnings = append(info.Warnings, fmt.Sprintf(
			"about %.0f %% of the file is stored as holes, which are heights of 0 in a file that declares no void: sea, or ground that was never filled", *r.holes))
	}
	return info
}

// Layout says where all posts stand.
func (r *Raster) Layout() *dem.Frame { return &r.frame }

// Close frees the file: after a read that was given up, once that ends. A
// second Close does nothing.
func (r *Raster) Close() error {
	if r.reading.TryLock() {
		r.closeLocked()
		return nil
	}
	closed := make(chan struct{})
	go func() {
		r.reading.Lock()
		r.closeLocked()
		close(closed)
	}()
	timer := time.NewTimer(cancelGrace)
	defer timer.Stop()
	select {
	case <-closed:
	case <-timer.C:
	}
	return nil
}

func (r *Raster) closeLocked() {
	defer r.reading.Unlock()
	if r.handle == nil {
		return
	}
	r.handle.close()
	r.handle = nil
	r.in.free()
}
