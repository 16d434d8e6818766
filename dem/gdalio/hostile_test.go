package gdalio

import (
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// TestOddRastersAreReadRight: strange but honest.
func TestOddRastersAreReadRight(t *testing.T) {
	t.Parallel()
	t.Run("one row", func(t *testing.T) {
		t.Parallel()
		r, g := openAll(t, rawRaster{columns: 5, rows: 1, dataType: "Int16", bytes: int16s(1, 2, 3, 4, 5), geotransform: smallGeotransform, crs: smallCRS}.write(t), Options{})
		assert.Equal(t, []float32{1, 2, 3, 4, 5}, g.Elevations)
		place, err := g.Place(1.5, 0)
		require.NoError(t, err)
		h, err := dem.ElevationAt(g, place)
		require.NoError(t, err)
		assert.InDelta(t, 2.5, h, 1e-5)
		_, err = dem.Count(t.Context(), r, dem.CensusOptions{})
		require.NoError(t, err)
	})
	t.Run("one post", func(t *testing.T) {
		t.Parallel()
		_, g := openAll(t, rawRaster{columns: 1, rows: 1, dataType: "Int16", bytes: int16s(7), geotransform: smallGeotransform, crs: smallCRS}.write(t), Options{})
		assert.Equal(t, []float32{7}, g.Elevations)
	})
	t.Run("south up", func(t *testing.T) {
		t.Parallel()
		_, g := openAll(t, rawRaster{columns: 2, rows: 2, dataType: "Int16", bytes: int16s(1, 2, 3, 4), geotransform: "-84.4,0.001,0,36.5,0,0.001", crs: smallCRS}.write(t), Options{})
		h, err := dem.ElevationAt(g, geodesy.LatLon{Lat: 36.5015, Lon: -84.3995})
		require.NoError(t, err)
		assert.InDelta(t, 3, h, 1e-5, "the second row stands north of the first")
	})
	t.Run("columns running west", func(t *testing.T) {
		t.Parallel()
		_, g := openAll(t, rawRaster{columns: 2, rows: 1, dataType: "Int16", bytes: int16s(1, 2), geotransform: "-84.4,-0.001,0,36.5,0,-0.001", crs: smallCRS}.write(t), Options{})
		h, err := dem.ElevationAt(g, geodesy.LatLon{Lat: 36.4995, Lon: -84.4015})
		require.NoError(t, err)
		assert.InDelta(t, 2, h, 1e-5)
	})
	t.Run("across the antimeridian", func(t *testing.T) {
		t.Parallel()
		_, g := openAll(t, rawRaster{columns: 4, rows: 1, dataType: "Int16", bytes: int16s(1, 2, 3, 4), geotransform: "179.998,0.001,0,-17,0,-0.001", crs: smallCRS}.write(t), Options{})
		h, err := dem.ElevationAt(g, geodesy.LatLon{Lat: -17.0005, Lon: -179.9985})
		require.NoError(t, err)
		assert.InDelta(t, 4, h, 1e-5)
	})
	t.Run("polar stereographic over the pole", func(t *testing.T) {
		t.Parallel()
		_, g := openAll(t, rawRaster{columns: 3, rows: 3, dataType: "Int16", bytes: int16s(1, 2, 3, 4, 5, 6, 7, 8, 9), geotransform: "-1500,1000,0,1500,0,-1000", crs: "EPSG:3413"}.write(t), Options{})
		h, err := dem.ElevationAt(g, geodesy.LatLon{Lat: 90})
		require.NoError(t, err)
		assert.InDelta(t, 5, h, 1e-5)
	})
	t.Run("longitude and latitude to the pole", func(t *testing.T) {
		t.Parallel()
		r, g := openAll(t, rawRaster{columns: 4, rows: 2, dataType: "Int16", bytes: int16s(1, 2, 3, 4, 5, 6, 7, 8), geotransform: "-180,90,0,90.5,0,-1", crs: smallCRS}.write(t), Options{})
		h, err := dem.ElevationAt(g, geodesy.LatLon{Lat: 89, Lon: -135})
		require.NoError(t, err)
		assert.InDelta(t, 5, h, 1e-5)
		_, err = dem.Count(t.Context(), r, dem.CensusOptions{})
		require.NoError(t, err)
	})
	t.Run("latitude beyond the pole is said", func(t *testing.T) {
		t.Parallel()
		r, err := Open(rawRaster{columns: 2, rows: 2, dataType: "Int16", bytes: int16s(1, 2, 3, 4), geotransform: "0,1,0,200,0,-1", crs: smallCRS}.write(t), Options{})
		if err == nil {
			defer r.Close()
			_, err = dem.ElevationAt(mustRead(t, r), geodesy.LatLon{Lat: 89, Lon: 0.5})
		}
		require.Error(t, err)
	})
}

func mustRead(t *testing.T, r *Raster) *dem.Grid {
	t.Helper()
	g, err := r.Read(t.Context(), r.Layout().Whole())
	require.NoError(t, err)
	return g
}

// TestHostileRastersAreRefused: each in one line that names the file.
func TestHostileRastersAreRefused(t *testing.T) {
	t.Parallel()
	eights := make([]byte, 64)
	binary.LittleEndian.PutUint64(eights, math.Float64bits(3))
	cases := []struct {
		name string
		path func(t *testing.T) string
		want string
	}{
		{"palette", smallWith(func(r *rawRaster) {
			r.dataType, r.bytes = "Byte", []byte{0, 1, 0, 1}
			r.bandExtra = `<ColorInterp>Palette</ColorInterp><ColorTable><Entry c1="1" c2="2" c3="3" c4="255"/><Entry c1="9" c2="9" c3="9" c4="255"/></ColorTable>`
		}), "is a picture"},
		{"red of a colour picture", smallWith(func(r *rawRaster) { r.bandExtra = "<ColorInterp>Red</ColorInterp>" }), "is a picture"},
		{"complex 64-bit", smallWith(func(r *rawRaster) { r.dataType, r.bytes = "CFloat64", make([]byte, 64) }), "CFloat64"},
		{"64-bit integers", smallWith(func(r *rawRaster) { r.dataType, r.bytes = "Int64", eights }), "Int64"},
		{"axes swapped", smallWith(func(r *rawRaster) {
			r.crs = ""
			r.extra = `<SRS dataAxisToSRSAxisMapping="1,2">EPSG:4326</SRS>`
		}), "axes swapped"},
		{"a block of 14 GB in 400 bytes", func(t *testing.T) string {
			path := filepath.Join(t.TempDir(), "bomb.tif")
			tool(t, "", "gdal_create", "-q", "-of", "GTiff", "-ot", "Float32", "-outsize", "60000", "60000", "-bands", "1", "-co", "BLOCKYSIZE=60000",
				"-co", "COMPRESS=DEFLATE", "-co", "SPARSE_OK=TRUE", "-a_srs", "EPSG:4326", "-a_ullr", "0", "1", "1", "0", path)
			return path
		}, "a whole block"},
		{"a chain of virtual rasters round in a ring", func(t *testing.T) string {
			dir := t.TempDir()
			for i := range 3 {
				text := vrt(10, 10, fmt.Sprintf(`<SimpleSource><SourceFilename relativeToVRT="1">ring%d.vrt</SourceFilename><SourceBand>1</SourceBand></SimpleSource>`, (i+1)%3))
				require.NoError(t, os.WriteFile(filepath.Join(dir, fmt.Sprintf("ring%d.vrt", i)), []byte(text), 0o600))
			}
			return filepath.Join(dir, "ring0.vrt")
		}, "ring"},
		{"a virtual raster of an address", func(t *testing.T) string {
			return writeFile(t, "afar.vrt", vrt(10, 10, `<SimpleSource><SourceFilename>http://127.0.0.1:1/tile.tif</SourceFilename><SourceBand>1</SourceBand></SimpleSource>`))
		}, "afar.vrt"},
		{"a virtual raster of another folder's text", func(t *testing.T) string {
			return writeFile(t, "outside.vrt", vrt(10, 10, `<SimpleSource><SourceFilename>/etc/passwd</SourceFilename><SourceBand>1</SourceBand></SimpleSource>`))
		}, "outside.vrt"},
		{"XML that grows", func(t *testing.T) string { return writeFile(t, "grows.vrt", xmlBomb("VRTDataset")) }, "grows.vrt"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			path := c.path(t)
			r, err := Open(path, Options{})
			if err == nil {
				defer r.Close()
				_, err = r.Read(t.Context(), dem.Window{Columns: min(r.Layout().Columns, 10), Rows: min(r.Layout().Rows, 10)})
			}
			requireRefusal(t, err, path, c.want, 500)
			assert.NotContains(t, err.Error(), "root:", "no content of another file")
		})
	}
}

// xmlBomb is entities of entities: 10^9 letters when expanded.
func xmlBomb(root string) string {
	var b strings.Builder
	b.WriteString("<?xml version=\"1.0\"?>\n<!DOCTYPE x [<!ENTITY a0 \"lol\">")
	for i := 1; i <= 9; i++ {
		fmt.Fprintf(&b, "<!ENTITY a%d \"%s\">", i, strings.Repeat(fmt.Sprintf("&a%d;", i-1), 10))
	}
	fmt.Fprintf(&b, "]><%s version=\"1.1\" creator=\"x\" xmlns=\"http://www.topografix.com/GPX/1/1\"><wpt lat=\"36\" lon=\"-84\"><name>&a9;</name></wpt></%s>", root, root)
	return b.String()
}

// TestHostilePlaces: files of places that are out to break the reader.
func TestHostilePlaces(t *testing.T) {
	t.Parallel()
	cases := []struct{ name, file, content string }{
		{"GPX that grows", "bomb.gpx", xmlBomb("gpx")},
		{"KML that grows", "bomb.kml", strings.ReplaceAll(xmlBomb("kml"), "http://www.topografix.com/GPX/1/1", "http://www.opengis.net/kml/2.2")},
		{"KML cut short", "cut.kml", `<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>Hut</name><Point><coordinates>-84,36`},
		{"KML with no numbers", "words.kml", `<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>Hut</name><Point><coordinates>west,north</coordinates></Point></Placemark></Document></kml>`},
		{"KML off the Earth", "off.kml", `<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>Hut</name><Point><coordinates>-84,360,0</coordinates></Point></Placemark></Document></kml>`},
		{"KML nested without end", "deep.kml", `<kml xmlns="http://www.opengis.net/kml/2.2">` + strings.Repeat("<Folder>", 100000)},
		{"GPX nested without end", "deep.gpx", `<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">` + strings.Repeat("<extensions>", 100000)},
		{"GPX off the Earth", "off.gpx", `<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="1e308" lon="0"/></gpx>`},
		{"GeoJSON nested without end", "deep.geojson", `{"type":"FeatureCollection","features":` + strings.Repeat("[", 200000)},
		{"GeoJSON with huge numbers", "huge.geojson", `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[1e400,36]}}]}`},
		{"CSV that is one endless line", "line.csv", "lat,lon\n" + strings.Repeat("9", 1<<20)},
		{"CSV with a quote left open", "quote.csv", "lat,lon,name\n36,-84,\"Hut\n" + strings.Repeat("x\n", 10000)},
		{"a null byte", "null.csv", "lat,lon\n36\x00,-84\n"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			path := writeFile(t, c.file, c.content)
			_, err := ReadPlaces(path)
			require.Error(t, err)
			assert.Contains(t, err.Error(), c.file)
			assert.NotContains(t, err.Error(), "\n")
			assert.LessOrEqual(t, len(err.Error()), 500)
		})
	}
}
