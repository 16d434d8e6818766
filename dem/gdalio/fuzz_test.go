package gdalio

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// FuzzReadLines: GPX, KML and GeoJSON. Whatever is read is on Earth and has a
// point, its gaps lie within it, and errors are one line.
func FuzzReadLines(f *testing.F) {
	f.Add(0, `<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><rte><name>a</name><rtept lat="36" lon="-84"><name>b</name></rtept><rtept lat="36.1" lon="-84"/></rte><trk><trkseg><trkpt lat="1" lon="2"/><trkpt lat="1" lon="2.1"/></trkseg><trkseg><trkpt lat="1" lon="2.2"/></trkseg></trk></gpx>`)
	f.Add(1, `<kml xmlns="http://www.opengis.net/kml/2.2"><Placemark><name>a</name><LineString><coordinates>-84,36,5 -84,36.1</coordinates></LineString></Placemark></kml>`)
	f.Add(2, `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"a"},"geometry":{"type":"MultiLineString","coordinates":[[[-84,36],[-84.1,36]],[[1,2],[3,4]]]}}]}`)
	f.Add(2, `{"type":"GeometryCollection","geometries":[{"type":"LineString","coordinates":[[0,90],[1e300,0]]},{"type":"LineString","coordinates":[]}]}`)
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, kind int, text string) {
		path := filepath.Join(dir, "lines"+[]string{".gpx", ".kml", ".geojson"}[uint(kind)%3])
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		lines, err := ReadLines(path)
		if err != nil {
			assert.NotContains(t, err.Error(), "\n")
			return
		}
		for _, l := range lines {
			assert.NotEmpty(t, l.Points)
			for i, gap := range l.Gaps {
				assert.True(t, gap > 0 && gap < len(l.Points) && (i == 0 || gap > l.Gaps[i-1]), "%v of %d", l.Gaps, len(l.Points))
			}
			for _, p := range l.Points {
				lat, lon := float64(p.LatLon.Lat), float64(p.LatLon.Lon)
				assert.True(t, lat >= -90 && lat <= 90 && lon >= -180 && lon < 180, "%v %v", lat, lon)
			}
		}
	})
}

// FuzzReadCover: polygons with heights. Whatever is read has finite corners
// and a height that something could have.
func FuzzReadCover(f *testing.F) {
	f.Add(false, `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"h":12.5},"geometry":{"type":"Polygon","coordinates":[[[-84,36],[-84.1,36],[-84.1,36.1],[-84,36]]]}}]}`)
	f.Add(false, `{"type":"Feature","properties":{"h":"20"},"geometry":{"type":"MultiPolygon","coordinates":[[[[0,0,1],[1,0,1],[1,1,1],[0,0,1]],[[0.1,0.1],[0.2,0.1],[0.2,0.2],[0.1,0.1]]]]}}`)
	f.Add(false, `{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"EPSG:32617"}},"features":[{"type":"Feature","properties":{"h":1e9},"geometry":{"type":"Polygon","coordinates":[[]]}}]}`)
	f.Add(true, `<kml xmlns="http://www.opengis.net/kml/2.2"><Placemark><ExtendedData><Data name="h"><value>3</value></Data></ExtendedData><Polygon><outerBoundaryIs><LinearRing><coordinates>1,2 1,3 2,3 1,2</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></kml>`)
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, kml bool, text string) {
		path := filepath.Join(dir, "cover.geojson")
		if kml {
			path = filepath.Join(dir, "cover.kml")
		}
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		polygons, _, err := ReadCover(t.Context(), path, "h", "m")
		if err != nil {
			assert.NotContains(t, err.Error(), "\n")
			return
		}
		for _, p := range polygons {
			assert.True(t, p.AboveGround >= 0 && p.AboveGround <= tallest)
			for _, polygon := range p.Area {
				for _, ring := range polygon {
					for _, corner := range ring {
						assert.True(t, finite(corner[0]) && finite(corner[1]), "%v", corner)
					}
				}
			}
		}
	})
}

// FuzzReadIndex: a tile index that something else has written on. What is
// read has a path and a size, and errors are errors.
func FuzzReadIndex(f *testing.F) {
	dir := f.TempDir()
	path := filepath.Join(dir, "index.gpkg")
	e, err := newEntry(f.Context(), cumberland, Options{})
	require.NoError(f, err)
	require.NoError(f, writeIndex(f.Context(), path, about{Argument: "x", Extent: e.extent}, []entry{e}))
	data, err := os.ReadFile(path)
	require.NoError(f, err)
	f.Add(0, []byte{0})
	f.Add(100, []byte("SQLite format 3\x00"))
	f.Add(60000, []byte{1, 2, 3, 255, 255, 255})
	f.Add(len(data)-400, []byte(`{"columns":-1,"rows":1e99}`))
	f.Fuzz(func(t *testing.T, at int, over []byte) {
		damaged := append([]byte(nil), data...)
		copy(damaged[uint(at)%uint(len(damaged)):], over)
		require.NoError(t, os.WriteFile(path, damaged, 0o600))
		_, _ = readAbout(path)
		entries, err := readEntries(t.Context(), path, nil)
		if err != nil {
			return
		}
		for _, e := range entries {
			_, _ = e.tile(Options{}, nil)
		}
	})
}

// FuzzReadSums: lists of checksums. What is read is a SHA-256 and a name.
func FuzzReadSums(f *testing.F) {
	f.Add("81159427ecea7a477f390942d36ddd5821755d2deb021707cd60601ab0975127  a.tif\n# a note\n")
	f.Add("81159427ECEA7A477F390942D36DDD5821755D2DEB021707CD60601AB0975127 *b c.tif\r\n")
	f.Add("zz  a\n \n\x00")
	path := filepath.Join(f.TempDir(), ChecksumsFile)
	f.Fuzz(func(t *testing.T, text string) {
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		sums := map[string]string{}
		readSums(path, sums)
		for name, sum := range sums {
			assert.NotEmpty(t, name)
			assert.Regexp(t, "^[0-9a-f]{64}$", sum)
		}
	})
}

// FuzzASCIIGrid: what is read has as many heights as the header says, and
// errors are one line.
func FuzzASCIIGrid(f *testing.F) {
	f.Add([]byte(asciiHeader + "1 2 3\n4 5.5 -1\n"))
	f.Add([]byte("NCOLS 1\r\nNROWS 1\r\nXLLCENTER 1e2\r\nYLLCENTER .5\r\nDX 1\r\nDY 2\r\nNODATA_VALUE nan\r\nNaN"))
	f.Add([]byte("ncols 268435456\nnrows 1\nxllcorner 0\nyllcorner 0\ncellsize 1\n" + "9999999999999999 0.1e1"))
	f.Fuzz(func(t *testing.T, data []byte) {
		g, err := parseASCIIGrid(t.Context(), bytes.NewReader(data))
		if err != nil {
			assert.NotContains(t, err.Error(), "\n")
			return
		}
		assert.Equal(t, int(g.header["ncols"]*g.header["nrows"]), len(g.whole)+len(g.values))
	})
}

// FuzzUnzip: no bytes make it crash, and errors are one line.
func FuzzUnzip(f *testing.F) {
	f.Add(zipped(f, "a.asc", []byte(asciiHeader+"1 2 3\n4 5.5 -1\n"), "a.prj", []byte("GEOGCS[]")), "")
	f.Add(zipped(f, "b/c.tif", []byte("II*\x00")), "b/c.tif")
	f.Fuzz(func(t *testing.T, data []byte, member string) {
		in, err := unzip(t.Context(), bytes.NewReader(data), int64(len(data)), member)
		if err != nil {
			assert.NotContains(t, err.Error(), "\n")
			return
		}
		in.free()
	})
}
