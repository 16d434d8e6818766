package gdalio

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/lukeroth/gdal"
	"github.com/paulmach/orb"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// indexVersion changes when an older index can no longer be read, or would
// be made otherwise now.
const indexVersion = 2

// The layers of an index.
const (
	tilesLayer = "tiles"
	aboutLayer = "about"
)

// entry is one file of an index.
type entry struct {
	path   string
	sha256 string
	stamp  stamp
	extent dem.Extent
	detail entryDetail
}

// stamp tells a file that has not been touched since.
type stamp struct {
	Bytes    int64 `json:"bytes"`
	Modified int64 `json:"modified_ns"`
	Changed  int64 `json:"changed_ns"`
}

func stampOf(path string) (stamp, error) {
	info, err := os.Stat(path)
	if err != nil {
		return stamp{}, err
	}
	return stamp{Bytes: info.Size(), Modified: info.ModTime().UnixNano(), Changed: changeTime(info)}, nil
}

// entryDetail is what the header gave. Floats survive JSON exactly.
type entryDetail struct {
	Columns int      `json:"columns"`
	Rows    int      `json:"rows"`
	X0      float64  `json:"x0"`
	Y0      float64  `json:"y0"`
	DX      float64  `json:"dx"`
	DY      float64  `json:"dy"`
	CRS     string   `json:"crs"`
	Order   int      `json:"order"`
	NoData  string   `json:"nodata,omitempty"` // JSON has no NaN
	Info    dem.Info `json:"info"`
	Stamp   stamp    `json:"stamp"`
	// Damaged says why the file cannot be used though it is known where it
	// lies; a question that needs its ground is refused with it.
	Damaged string `json:"damaged,omitempty"`
}

// about is what an index says of itself.
type about struct {
	Version  int              `json:"version"`
	Argument string           `json:"argument"`
	Folders  map[string]int64 `json:"folders"` // modification times, ns
	Files    []string         `json:"files,omitempty"`
	Skipped  []skippedFile    `json:"skipped,omitempty"` // it is not known what ground they hold
	Damaged  []skippedFile    `json:"damaged,omitempty"` // these are tiles too
	Extent   dem.Extent       `json:"extent"`
	Tiles    int              `json:"tiles"`
}

type skippedFile struct {
	Path   string `json:"path"`
	Reason string `json:"reason"`
	Stamp  stamp  `json:"stamp"`
}

// newEntry reads a file's header and its checksum.
func newEntry(ctx context.Context, path string, opts Options) (entry, error) {
	e := entry{path: path}
	var err error
	if e.stamp, err = stampOf(path); err != nil {
		return entry{}, fmt.Errorf("%s: no such file", path)
	}
	r, err := openFile(ctx, path, opts)
	if err != nil {
		frame, placed := placedByName(path, e.stamp.Bytes)
		if !placed || ctx.Err() != nil {
			return entry{}, err
		}
		e.detail.Damaged = err.Error()
		if err := e.describe(&frame, dem.Info{Name: filepath.Base(path), Path: path, Driver: "SRTMHGT", DataType: "Int16",
			VerticalUnit: metre.name, VerticalUnitStated: true, PixelIsPoint: true}); err != nil {
			return entry{}, err
		}
		e.sha256, _ = checksum(ctx, path)
		return e, ctx.Err()
	}
	defer r.Close()
	if err := e.describe(r.Layout(), r.Info()); err != nil {
		return entry{}, err
	}
	if e.sha256, err = checksum(ctx, path); err != nil {
		return entry{}, fmt.Errorf("%s cannot be read: %w", path, err)
	}
	if want, listed := listedChecksum(path); listed && want != e.sha256 {
		e.detail.Damaged = mismatch(path).Error()
	}
	return e, nil
}

// srtmName is the name of a tile that says which degree it holds by its south
// west corner (USGS, SRTM Documentation, section 3.0, Data Formats).
var srtmName = regexp.MustCompile(`(?i)^([ns])(\d\d)([ew])(\d{3}).*\.hgt(\.zip|\.gz)?$`)

// placedByName is where the posts of a tile stand whose name tells, for one
// that cannot be opened.
func placedByName(path string, bytes int64) (dem.Frame, bool) {
	said := srtmName.FindStringSubmatch(filepath.Base(path))
	if said == nil {
		return dem.Frame{}, false
	}
	south, _ := strconv.ParseFloat(said[2], 64)
	west, _ := strconv.ParseFloat(said[4], 64)
	if strings.EqualFold(said[1], "s") {
		south = -south
	}
	if strings.EqualFold(said[3], "w") {
		west = -west
	}
	posts := 1201 // 3 arc-seconds, or 1 where that many would not fill it
	if bytes > 2*1201*1201 {
		posts = 3601
	}
	step := 1 / float64(posts-1)
	return dem.Frame{Columns: posts, Rows: posts, X0: west, Y0: south + 1, DX: step, DY: -step, CRS: geodesy.WGS84}, true
}

func (e *entry) describe(f *dem.Frame, info dem.Info) error {
	extent, err := dem.TileExtent(f)
	if err != nil {
		return fmt.Errorf("%s: %w", e.path, err)
	}
	e.extent = extent
	definition := f.CRS.Definition()
	if f.CRS.Code != "" {
		definition = f.CRS.Code
	}
	e.detail = entryDetail{
		Columns: f.Columns, Rows: f.Rows, X0: f.X0, Y0: f.Y0, DX: f.DX, DY: f.DY,
		CRS: definition, Info: info, Damaged: e.detail.Damaged,
	}
	if e.detail.Info.NoData != nil {
		e.detail.NoData = strconv.FormatFloat(*e.detail.Info.NoData, 'g', -1, 64)
		e.detail.Info.NoData = nil
	}
	return nil
}

// tile is the entry as a mosaic takes it.
func (e *entry) tile(opts Options, check func(ctx context.Context, e *entry) error) (dem.Tile, error) {
	crs, err := knownCRS(e.detail.CRS)
	if err != nil {
		return dem.Tile{}, fmt.Errorf("%s: %w", e.path, err)
	}
	info := e.detail.Info
	info.Warnings = slices.Clone(info.Warnings)
	if e.detail.NoData != "" {
		if v, err := strconv.ParseFloat(e.detail.NoData, 64); err == nil {
			info.NoData = &v
		}
	}
	return dem.Tile{
		Name: e.path,
		Frame: dem.Frame{Columns: e.detail.Columns, Rows: e.detail.Rows, X0: e.detail.X0, Y0: e.detail.Y0,
			DX: e.detail.DX, DY: e.detail.DY, CRS: crs},
		Info: info, Order: e.detail.Order,
		Open: func(ctx context.Context) (dem.Source, error) {
			if err := check(ctx, e); err != nil {
				return nil, err
			}
			if e.detail.Damaged != "" {
				return nil, fmt.Errorf("%s, then: crowline dem index", e.detail.Damaged)
			}
			r, err := openFile(ctx, e.path, opts)
			if err != nil {
				return nil, err
			}
			return r, nil
		},
	}, nil
}

// Making a CRS costs about a millisecond and a folder's tiles share one.
var crsCache struct {
	sync.Mutex
	byDefinition map[string]*geodesy.CRS
}

func knownCRS(definition string) (*geodesy.CRS, error) {
	if definition == geodesy.WGS84.Code {
		return geodesy.WGS84, nil
	}
	crsCache.Lock()
	defer crsCache.Unlock()
	if c := crsCache.byDefinition[definition]; c != nil {
		return c, nil
	}
	c, err := geodesy.NewCRS(definition)
	if err != nil {
		return nil, err
	}
	const most = 256
	if crsCache.byDefinition == nil || len(crsCache.byDefinition) >= most {
		crsCache.byDefinition = map[string]*geodesy.CRS{}
	}
	crsCache.byDefinition[definition] = c
	return c, nil
}

// boxes is an extent as one or two boxes that do not cross the antimeridian.
func boxes(e dem.Extent) []orb.Bound {
	bound := func(west, east geodesy.Degrees) orb.Bound {
		return orb.Bound{Min: orb.Point{float64(west), float64(e.South)}, Max: orb.Point{float64(east), float64(e.North)}}
	}
	if e.East < e.West {
		return []orb.Bound{bound(e.West, 180), bound(-180, e.East)}
	}
	return []orb.Bound{bound(e.West, e.East)}
}

// writeIndex writes an index beside and then in place, so that a run that
// reads the old one, or writes one too, is not disturbed.
func writeIndex(ctx context.Context, path string, a about, entries []entry) error {
	tiles := Layer{Name: tilesLayer, Shape: Polygons, Fields: []Field{
		{"path", Text}, {"sha256", Text}, {"detail", Text},
	}}
	for _, e := range entries {
		e.detail.Stamp = e.stamp
		detail, err := json.Marshal(e.detail)
		if err != nil {
			return err
		}
		for _, b := range boxes(e.extent) {
			tiles.Features = append(tiles.Features, Feature{Geometry: b.ToPolygon(), Values: []any{e.path, e.sha256, string(detail)}})
		}
	}
	a.Version, a.Tiles = indexVersion, len(entries)
	text, err := json.Marshal(a)
	if err != nil {
		return err
	}
	one := Layer{Name: aboutLayer, Shape: Points, Fields: []Field{{"about", Text}},
		Features: []Feature{{Geometry: orb.Point{0, 0}, Values: []any{string(text)}}}}
	return WriteFeatures(ctx, path, GeoPackage, one, tiles)
}

// readAbout reads what an index says of itself.
func readAbout(path string) (about, error) {
	var a about
	err := withIndex(path, func(dataset gdal.Dataset) error {
		layer := dataset.LayerByName(aboutLayer)
		if layer == (gdal.Layer{}) {
			return errors.New("not a tile index")
		}
		feature := layer.NextFeature()
		if feature == nil {
			return errors.New("not a tile index")
		}
		defer feature.Destroy()
		i := feature.FieldIndex("about")
		if i < 0 {
			return errors.New("not a tile index")
		}
		return json.Unmarshal([]byte(feature.FieldAsString(i)), &a)
	})
	if err == nil && a.Version != indexVersion {
		err = fmt.Errorf("version %d of a tile index", a.Version)
	}
	return a, err
}

// readEntries reads the entries that meet the box, or all when box is nil,
// in order.
func readEntries(ctx context.Context, path string, box *dem.Extent) ([]entry, error) {
	var entries []entry
	err := withIndex(path, func(dataset gdal.Dataset) error {
		layer := dataset.LayerByName(tilesLayer)
		if layer == (gdal.Layer{}) {
			return errors.New("not a tile index")
		}
		filters := []orb.Bound{{Min: orb.Point{math.Inf(-1), 0}}}
		if box != nil {
			filters = boxes(*box)
		}
		seen := map[string]bool{}
		for _, b := range filters {
			if box != nil {
				layer.SetSpatialFilterRect(b.Min[0], b.Min[1], b.Max[0], b.Max[1])
			}
			layer.ResetReading()
			for n := 0; ; n++ {
				if n%100 == 0 && ctx.Err() != nil {
					return ctx.Err()
				}
				feature := layer.NextFeature()
				if feature == nil {
					break
				}
				e, err := entryOf(feature)
				feature.Destroy()
				if err != nil {
					return err
				}
				if !seen[e.path] {
					seen[e.path] = true
					entries = append(entries, e)
				}
			}
		}
		return nil
	})
	slices.SortFunc(entries, func(a, b entry) int {
		if a.detail.Order != b.detail.Order {
			return a.detail.Order - b.detail.Order
		}
		return strings.Compare(a.path, b.path)
	})
	return entries, err
}

func entryOf(feature *gdal.Feature) (entry, error) {
	var e entry
	var detail string
	for name, to := range map[string]*string{"path": &e.path, "sha256": &e.sha256, "detail": &detail} {
		i := feature.FieldIndex(name)
		if i < 0 {
			return entry{}, errors.New("not a tile index")
		}
		*to = feature.FieldAsString(i)
	}
	if err := json.Unmarshal([]byte(detail), &e.detail); err != nil {
		return entry{}, err
	}
	e.stamp = e.detail.Stamp
	return e, nil
}

func withIndex(path string, use func(gdal.Dataset) error) error {
	if _, err := os.Stat(path); err != nil {
		return err
	}
	return fenced(func() error {
		dataset, err := gdal.OpenEx(path, gdal.OFVector|gdal.OFReadOnly, []string{GeoPackage}, nil, nil)
		if err != nil {
			return errors.New("not a tile index")
		}
		defer dataset.Close()
		return use(dataset)
	})
}
