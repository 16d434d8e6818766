package gdalio

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

func frames(t *testing.T) map[string]dem.Frame {
	t.Helper()
	utm, err := geodesy.NewCRS("EPSG:32617")
	require.NoError(t, err)
	old, err := Open(olinda, Options{})
	require.NoError(t, err)
	t.Cleanup(func() { old.Close() })
	return map[string]dem.Frame{
		"lon lat":   {Columns: 300, Rows: 290, X0: -84.4, Y0: 36.5, DX: 1.0 / 1200, DY: -1.0 / 1200, CRS: geodesy.WGS84},
		"utm":       {Columns: 300, Rows: 290, X0: 200000, Y0: 4050000, DX: 30, DY: -30, CRS: utm},
		"south up":  {Columns: 3, Rows: 2, X0: 200000, Y0: 4050000, DX: 30, DY: 30, CRS: utm},
		"old datum": {Columns: 20, Rows: 20, X0: 288821, Y0: 9120715, DX: 90, DY: -90, CRS: old.Layout().CRS},
	}
}

// TestWrittenGeoTIFFReadsBack: through our own reader and GDAL's.
func TestWrittenGeoTIFFReadsBack(t *testing.T) {
	t.Parallel()
	for name, f := range frames(t) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			values, seen := make([]float32, f.Columns*f.Rows), make([]uint8, f.Columns*f.Rows)
			for i := range values {
				values[i], seen[i] = float32(i%4000)/8, uint8(i%3)
			}
			void := math.NaN()
			values[1] = float32(void)
			path := filepath.Join(t.TempDir(), "out.tif")
			require.NoError(t, WriteGeoTIFF(t.Context(), path, &f, []Band{{Name: "height needed", Description: "metres above ground", Float32: values, NoData: &void}}))
			r, g := openAll(t, path, Options{})
			assert.InDelta(t, f.X0, r.Layout().X0, 1e-6*math.Abs(f.DX))
			assert.InDelta(t, f.Y0, r.Layout().Y0, 1e-6*math.Abs(f.DY))
			assert.Equal(t, f.CRS.Code, r.Layout().CRS.Code)
			want, err := f.Place(1, 1)
			require.NoError(t, err)
			got, err := r.Layout().Place(1, 1)
			require.NoError(t, err)
			assert.Less(t, geodesy.Inverse(want, got).Distance, 1e-3, "a millimetre on the ground")
			for i := range values {
				v := g.Elevations[i]
				require.True(t, v == values[i] || (v != v && values[i] != values[i]), "post %d", i)
			}
			info := tool(t, "", "gdalinfo", path)
			assert.Contains(t, info, "Description = height needed")

			both := filepath.Join(t.TempDir(), "both.tif")
			require.NoError(t, WriteGeoTIFF(t.Context(), both, &f, []Band{{Name: "seen", Bytes: seen}, {Float32: values}}))
			assert.Equal(t, []float64{float64(seen[5])}, locationInfo(t, translate(t, both, "-b", "1"), []int{5 % f.Columns}, []int{5 / f.Columns}))
			one := filepath.Join(t.TempDir(), "one.tif")
			nothing := 255.0
			require.NoError(t, WriteGeoTIFF(t.Context(), one, &f, []Band{{Bytes: seen, NoData: &nothing}}))
			assert.Contains(t, tool(t, "", "gdalinfo", one), "Type=Byte")
			_, b := openAll(t, one, Options{})
			assert.Equal(t, float64(seen[4]), b.Elevation(4%f.Columns, 4/f.Columns))
		})
	}
}

// leftovers lists a folder, which a failed write must leave as it was.
func leftovers(t *testing.T, folder string) []string {
	t.Helper()
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

func TestFailedWritesLeaveNothing(t *testing.T) {
	t.Parallel()
	f := dem.Frame{Columns: 2, Rows: 2, X0: 0, Y0: 0, DX: 1, DY: -1, CRS: geodesy.WGS84}
	good := []Band{{Float32: make([]float32, 4)}}
	folder := t.TempDir()
	cancelled, cancel := context.WithCancel(t.Context())
	cancel()
	require.ErrorIs(t, WriteGeoTIFF(cancelled, filepath.Join(folder, "a.tif"), &f, good), context.Canceled)
	require.Error(t, WriteGeoTIFF(t.Context(), filepath.Join(folder, "a.tif"), &f, nil))
	require.ErrorContains(t, WriteGeoTIFF(t.Context(), filepath.Join(folder, "a.tif"), &f, []Band{{Name: "short", Float32: make([]float32, 3)}}), "short")
	one, two := 1.0, 2.0
	require.Error(t, WriteGeoTIFF(t.Context(), filepath.Join(folder, "a.tif"), &f, []Band{{Bytes: make([]byte, 4), NoData: &one}, {Bytes: make([]byte, 4), NoData: &two}}))
	require.ErrorContains(t, WriteGeoTIFF(t.Context(), filepath.Join(folder, "none", "a.tif"), &f, good), "no folder")
	require.ErrorContains(t, WriteGeoTIFF(t.Context(), folder, &f, good), "is a folder")
	layer := Layer{Name: "x", Shape: Points, Features: []Feature{{Geometry: orb.Point{1, 2}}}}
	require.ErrorIs(t, WriteFeatures(cancelled, filepath.Join(folder, "a.gpkg"), GeoPackage, layer), context.Canceled)
	require.Error(t, WriteFeatures(t.Context(), filepath.Join(folder, "a.gpkg"), "no such driver", layer))
	layer.Features[0].Geometry = orb.Point{math.NaN(), 2}
	require.ErrorContains(t, WriteFeatures(t.Context(), filepath.Join(folder, "a.gpkg"), GeoPackage, layer), "not a number")
	assert.Empty(t, leftovers(t, folder))

	kept := filepath.Join(folder, "kept.tif")
	require.NoError(t, WriteGeoTIFF(t.Context(), kept, &f, good))
	before, err := os.ReadFile(kept)
	require.NoError(t, err)
	require.Error(t, WriteGeoTIFF(cancelled, kept, &f, good))
	after, err := os.ReadFile(kept)
	require.NoError(t, err)
	assert.Equal(t, before, after, "what was there stays")
	assert.Equal(t, []string{"kept.tif"}, leftovers(t, folder))
}

func contourLayer() Layer {
	h := 420.0
	return Layer{
		Name: "contours", Shape: Lines,
		Fields: []Field{{"elevation_m", Real}, {"kind", Text}, {"count", Integer}},
		Features: []Feature{
			{Geometry: orb.LineString{{-84.25, 36.25}, {-84.2, 36.3}, {-84.15, 36.26}}, Elevation: &h, Values: []any{420.0, "index", 5}},
			{Geometry: orb.LineString{{-84.24, 36.25}, {-84.21, 36.29}}, Elevation: &h, Values: []any{440.0, "intermédiaire", nil}},
		},
	}
}

// TestWrittenFeaturesReadBack: every format, read by ogr2ogr into GeoJSON,
// which is longitude first by its own standard (RFC 7946).
func TestWrittenFeaturesReadBack(t *testing.T) {
	t.Parallel()
	utm, err := geodesy.NewCRS("EPSG:32617")
	require.NoError(t, err)
	cases := []struct {
		name, ending string
		crs          *geodesy.CRS
		fields       map[string]any // of the first feature
	}{
		{"GeoPackage", ".gpkg", nil, map[string]any{"elevation_m": 420.0, "kind": "index", "count": 5.0}},
		{"GeoPackage in UTM", ".gpkg", utm, map[string]any{"elevation_m": 420.0, "kind": "index", "count": 5.0}},
		{"FlatGeobuf", ".fgb", nil, map[string]any{"elevation_m": 420.0, "kind": "index"}},
		{"Shapefile", ".shp", utm, map[string]any{"elevation_": 420.0, "kind": "index"}},
		{"GeoJSON", ".geojson", nil, map[string]any{"elevation_m": 420.0, "kind": "index"}},
		{"KML", ".kml", nil, nil},
		{"GPX", ".gpx", nil, nil},
		{"DXF in UTM", ".dxf", utm, map[string]any{"Layer": "contours"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			folder := t.TempDir()
			path := filepath.Join(folder, "lines"+c.ending)
			driver, err := VectorDriver(path)
			require.NoError(t, err)
			layer := contourLayer()
			layer.CRS = c.crs
			require.NoError(t, WriteFeatures(t.Context(), path, driver, layer))
			for _, n := range leftovers(t, folder) {
				assert.True(t, strings.HasPrefix(n, "lines."), n)
			}
			args := []string{"-f", "GeoJSON", "-lco", "COORDINATE_PRECISION=9", "/vsistdout/", path}
			if c.crs != nil {
				args = append(args, "-t_srs", "EPSG:4326")
				if driver == DXF { // which has no place for a CRS
					args = append(args, "-s_srs", "EPSG:32617")
				}
			}
			if driver == GPX {
				args = append(args, "tracks", "--config", "GPX_ELE_AS_25D", "YES")
			}
			var read struct {
				Features []struct {
					Properties map[string]any
					Geometry   struct {
						Type        string
						Coordinates json.RawMessage
					}
				}
			}
			require.NoError(t, json.Unmarshal([]byte(tool(t, "", "ogr2ogr", args...)), &read))
			require.Len(t, read.Features, 2)
			found := false
			for _, f := range read.Features { // FlatGeobuf sorts
				var line [][]float64
				if f.Geometry.Type == "MultiLineString" {
					var lines [][][]float64
					require.NoError(t, json.Unmarshal(f.Geometry.Coordinates, &lines))
					line = lines[0]
				} else {
					require.NoError(t, json.Unmarshal(f.Geometry.Coordinates, &line))
				}
				if len(line) != 3 {
					continue
				}
				found = true
				const tolerance = 2e-8 // degrees, 2 mm: GeoJSON's eight decimals and DXF's digits
				for i, p := range layer.Features[0].Geometry.(orb.LineString) {
					assert.InDelta(t, p[0], line[i][0], tolerance)
					assert.InDelta(t, p[1], line[i][1], tolerance)
					if assert.Len(t, line[i], 3) {
						assert.InDelta(t, 420, line[i][2], 1e-9)
					}
				}
				for k, v := range c.fields {
					assert.Equal(t, v, f.Properties[k], k)
				}
			}
			assert.True(t, found)
			assert.NotEmpty(t, tool(t, "", "ogrinfo", "-ro", "-so", "-al", path))
		})
	}
}

func TestPolygonsAndPointsAreWritten(t *testing.T) {
	t.Parallel()
	square := orb.Polygon{{{7, 46}, {7.1, 46}, {7.1, 46.1}, {7, 46}}}
	path := filepath.Join(t.TempDir(), "areas.gpkg")
	require.NoError(t, WriteFeatures(t.Context(), path, GeoPackage,
		Layer{Name: "seen", Shape: Polygons, Fields: []Field{{"who", Text}}, Features: []Feature{
			{Geometry: square, Values: []any{"first"}}, {Geometry: orb.MultiPolygon{square, square}, Values: []any{"both"}}}},
		Layer{Name: "marks", Shape: Points, Features: []Feature{{Geometry: orb.Point{7.5, 46.5}}}}))
	said := tool(t, "", "ogrinfo", "-ro", "-al", path)
	assert.Contains(t, said, "POINT (7.5 46.5)")
	assert.Contains(t, said, "Feature Count: 2")
	assert.Contains(t, said, "who (String) = both")

	require.ErrorContains(t, WriteFeatures(t.Context(), path, GeoJSON, Layer{}, Layer{}), "one layer")
	utm, err := geodesy.NewCRS("EPSG:32617")
	require.NoError(t, err)
	require.ErrorContains(t, WriteFeatures(t.Context(), path, KML, Layer{CRS: utm}), "WGS 84")
	_, err = VectorDriver("lines.doc")
	require.ErrorContains(t, err, ".gpkg")
}

// TestWaypointsGoRound: what we write as GPX points we read as places.
func TestWaypointsGoRound(t *testing.T) {
	t.Parallel()
	h := 640.5
	path := filepath.Join(t.TempDir(), "marks.gpx")
	require.NoError(t, WriteFeatures(t.Context(), path, GPX, Layer{
		Shape: Points, Fields: []Field{{"name", Text}, {"type", Text}, {"ele", Real}},
		Features: []Feature{{Geometry: orb.Point{-84.2, 36.3}, Values: []any{"knob & spur", "summit", h}}},
	}))
	places, err := ReadPlaces(path)
	require.NoError(t, err)
	require.Len(t, places, 1)
	assert.Equal(t, "knob & spur", places[0].Name)
	assert.Equal(t, "summit", places[0].Kind)
	assert.InDelta(t, 36.3, float64(places[0].LatLon.Lat), 1e-9)
	assert.InDelta(t, -84.2, float64(places[0].LatLon.Lon), 1e-9)
	require.NotNil(t, places[0].Elevation)
	assert.InDelta(t, h, *places[0].Elevation, 1e-9)
}
