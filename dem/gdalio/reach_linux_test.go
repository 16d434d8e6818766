package gdalio

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
)

// ears is a server that counts who knocks, by connection too: a request that
// is not HTTP counts.
type ears struct {
	*httptest.Server
	knocks, requests atomic.Int64
}

func newEars(t *testing.T, files string) *ears {
	t.Helper()
	e := &ears{}
	serve := http.FileServer(http.Dir(files))
	e.Server = httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		e.requests.Add(1)
		serve.ServeHTTP(w, r)
	}))
	e.Config.ConnState = func(_ net.Conn, s http.ConnState) {
		if s == http.StateNew {
			e.knocks.Add(1)
		}
	}
	e.Start()
	t.Cleanup(e.Close)
	return e
}

// canary is a file that sees whether anybody opens it (inotify(7)).
type canary struct {
	path string
	fd   int
}

func newCanary(t *testing.T, path string) *canary {
	t.Helper()
	fd, err := syscall.InotifyInit1(syscall.IN_NONBLOCK | syscall.IN_CLOEXEC)
	require.NoError(t, err)
	t.Cleanup(func() { syscall.Close(fd) })
	_, err = syscall.InotifyAddWatch(fd, path, syscall.IN_OPEN|syscall.IN_ACCESS)
	require.NoError(t, err)
	return &canary{path, fd}
}

func (c *canary) opened() bool {
	n, _ := syscall.Read(c.fd, make([]byte, 4096))
	return n > 0
}

func TestCanarySeesWhoOpensIt(t *testing.T) {
	t.Parallel()
	c := newCanary(t, writeFile(t, "canary.tif", "x"))
	_, err := os.Lstat(c.path)
	require.NoError(t, err)
	assert.False(t, c.opened())
	_, err = os.ReadFile(c.path)
	require.NoError(t, err)
	assert.True(t, c.opened())
}

// small is a GeoTIFF of some of the demo ground.
func small(t *testing.T, path string) {
	t.Helper()
	tool(t, "", "gdal_translate", "-q", "-srcwin", "0", "0", "20", "20", cumberland, path)
}

func vrt20(band string) string {
	return `<VRTDataset rasterXSize="20" rasterYSize="20"><SRS>EPSG:4326</SRS><GeoTransform>-84.4,0.001,0,36.5,0,-0.001</GeoTransform>` + band + `</VRTDataset>`
}

func simpleBand(source string) string {
	return `<VRTRasterBand dataType="Int16" band="1"><SimpleSource><SourceFilename relativeToVRT="0">` + source + `</SourceFilename><SourceBand>1</SourceBand></SimpleSource></VRTRasterBand>`
}

// TestRastersReachNothing: 2026-11-30, a virtual raster's sources could be
// addresses, files anywhere and any driver's, and its bands code. Each hostile
// file is beside a plain one, so that what is refused is its reach.
func TestRastersReachNothing(t *testing.T) {
	t.Parallel()
	cases := []struct {
		name, file string
		content    func(server, canary string) string
		says       string // "" where the file is read, without what it reaches for
	}{
		{"an address", "a.vrt", func(server, _ string) string { return vrt20(simpleBand(server + "/far.tif")) }, "no address is opened"},
		{"an address by GDAL's name", "a.vrt", func(server, _ string) string { return vrt20(simpleBand("/vsicurl/" + server + "/far.tif")) }, "no address is opened"},
		{"an address that streams", "a.vrt", func(server, _ string) string { return vrt20(simpleBand("/vsicurl_streaming/" + server + "/far.tif")) }, "no address is opened"},
		{"an address in a zip", "a.vrt", func(server, _ string) string { return vrt20(simpleBand("/vsizip//vsicurl/" + server + "/far.zip")) }, "no address is opened"},
		{"another folder's file", "a.vrt", func(_, canary string) string { return vrt20(simpleBand(canary)) }, "not in its own folder"},
		{"another folder's file, by dots", "a.vrt", func(_, canary string) string {
			return vrt20(strings.Replace(simpleBand("../"+filepath.Base(filepath.Dir(canary))+"/"+filepath.Base(canary)), `"0"`, `"1"`, 1))
		}, "not in its own folder"},
		{"raw bytes of another folder's file", "a.vrt", func(_, canary string) string {
			return vrt20(`<VRTRasterBand dataType="Byte" band="1" subClass="VRTRawRasterBand"><SourceFilename relativetoVRT="0">` + canary + `</SourceFilename></VRTRasterBand>`)
		}, "not in its own folder"},
		{"a mask in another folder", "a.vrt", func(_, canary string) string {
			return vrt20(simpleBand("DIR/near.tif") + `<MaskBand>` + strings.Replace(simpleBand(canary), "Int16", "Byte", 1) + `</MaskBand>`)
		}, "not in its own folder"},
		{"text in place of a name", "a.vrt", func(server, _ string) string {
			return vrt20(simpleBand(`&lt;GDAL_WMS&gt;&lt;Service name="TMS"&gt;&lt;ServerUrl&gt;` + server + `/${z}&lt;/ServerUrl&gt;&lt;/Service&gt;&lt;/GDAL_WMS&gt;`))
		}, "no address is opened"},
		{"a driver's name for an address", "a.vrt", func(server, _ string) string { return vrt20(simpleBand("WMS:" + server + "/")) }, "no address is opened"},
		{"a driver's name for a file", "a.vrt", func(_, canary string) string { return vrt20(simpleBand("HDF5:" + canary)) }, "not in its own folder"},
		{"a virtual raster's own address", "a.vrt", func(_, canary string) string { return vrt20(simpleBand("vrt://" + canary)) }, "no address is opened"},
		{"a band of code", "a.vrt", func(_, _ string) string {
			return vrt20(`<VRTRasterBand dataType="Int16" band="1" subClass="VRTDerivedRasterBand"><PixelFunctionLanguage>Python</PixelFunctionLanguage>` +
				`<PixelFunctionType>f</PixelFunctionType><PixelFunctionCode>open("/tmp/x","w")</PixelFunctionCode></VRTRasterBand>`)
		}, "VRTDerivedRasterBand"},
		{"a warped one", "a.vrt", func(_, canary string) string {
			return strings.Replace(vrt20(`<GDALWarpOptions><SourceDataset>`+canary+`</SourceDataset></GDALWarpOptions>`), "<VRTDataset", `<VRTDataset subClass="VRTWarpedDataset"`, 1)
		}, "VRTWarpedDataset"},
		{"a warped one that does not say so", "a.vrt", func(_, canary string) string {
			return vrt20(`<GDALWarpOptions><SourceDataset>` + canary + `</SourceDataset></GDALWarpOptions>`)
		}, "GDALWarpOptions"},
		{"a filter", "a.vrt", func(_, _ string) string {
			return vrt20(strings.ReplaceAll(simpleBand("DIR/near.tif"), "SimpleSource", "KernelFilteredSource"))
		}, "KernelFilteredSource"},
		{"a group", "a.vrt", func(_, canary string) string {
			return `<VRTDataset><Group name="/"><Array name="a"><Source><SourceFilename>` + canary + `</SourceFilename></Source></Array></Group></VRTDataset>`
		}, "Group"},
		{"a reference system at an address", "a.vrt", func(server, _ string) string {
			return strings.Replace(vrt20(simpleBand("DIR/near.tif")), "EPSG:4326", server+"/crs", 1)
		}, "reference system"},
		{"a reference system in a file", "a.vrt", func(_, canary string) string {
			return strings.Replace(vrt20(simpleBand("DIR/near.tif")), "EPSG:4326", canary, 1)
		}, "reference system"},
		{"a datum grid of somebody's", "a.vrt", func(_, canary string) string {
			return strings.Replace(vrt20(simpleBand("DIR/near.tif")), "EPSG:4326", "+proj=longlat +ellps=clrk66 +nadgrids="+canary+" +type=crs", 1)
		}, "names a file"},
		{"reduced copies elsewhere", "a.vrt", func(_, canary string) string {
			return vrt20(strings.Replace(simpleBand("DIR/near.tif"), "<SimpleSource>", "<Overview><SourceFilename>"+canary+"</SourceFilename><SourceBand>1</SourceBand></Overview><SimpleSource>", 1))
		}, ""},
		{"reduced copies elsewhere, by an item", "a.vrt", func(_, canary string) string {
			return vrt20(`<Metadata domain="OVERVIEWS"><MDI key="OVERVIEW_FILE">` + canary + `</MDI></Metadata>` + simpleBand("DIR/near.tif"))
		}, ""},
		{"reduced copies elsewhere, by a side file", "near.tif.aux.xml", func(_, canary string) string {
			return `<PAMDataset><Metadata domain="OVERVIEWS"><MDI key="OVERVIEW_FILE">` + canary + `</MDI></Metadata></PAMDataset>`
		}, ""},
		{"reduced copies at an address, by a side file", "near.tif.aux.xml", func(server, _ string) string {
			return `<PAMDataset><Metadata domain="OVERVIEWS"><MDI key="OVERVIEW_FILE">` + server + `/far.tif</MDI></Metadata></PAMDataset>`
		}, ""},
		{"a reference system at an address, by a side file", "near.tif.aux.xml", func(server, _ string) string {
			return `<PAMDataset><SRS>` + server + `/crs</SRS></PAMDataset>`
		}, "does not say its coordinate reference system"},
		{"reduced copies that are a virtual raster", "near.tif.ovr", func(_, canary string) string { return vrt20(simpleBand(canary)) }, "near.tif.ovr is a virtual raster"},
		{"a mask that is a virtual raster", "near.tif.msk", func(server, _ string) string { return vrt20(simpleBand("/vsicurl/" + server + "/far.tif")) }, "near.tif.msk is a virtual raster"},
		{"reduced copies that are a map server's", "near.tif.ovr", func(server, _ string) string {
			return `<GDAL_WMS><Service name="TMS"><ServerUrl>` + server + `/${z}/${x}/${y}</ServerUrl></Service><DataWindow><UpperLeftX>-84</UpperLeftX><UpperLeftY>36</UpperLeftY><LowerRightX>-83</LowerRightX><LowerRightY>35</LowerRightY><TileLevel>1</TileLevel></DataWindow></GDAL_WMS>`
		}, ""},
		{"a map server", "a.xml", func(server, _ string) string {
			return `<GDAL_WMS><Service name="WMS"><ServerUrl>` + server + `/?</ServerUrl><Layers>x</Layers></Service><DataWindow><UpperLeftX>-84</UpperLeftX><UpperLeftY>36</UpperLeftY><LowerRightX>-83</LowerRightX><LowerRightY>35</LowerRightY><SizeX>20</SizeX><SizeY>20</SizeY></DataWindow></GDAL_WMS>`
		}, "of no known kind"},
		{"a coverage server", "a.wcs", func(server, _ string) string {
			return `<WCS_GDAL><ServiceURL>` + server + `/?</ServiceURL><CoverageName>x</CoverageName></WCS_GDAL>`
		}, "of no known kind"},
		{"a cache of a file elsewhere", "a.mrf", func(server, _ string) string {
			return `<MRF_META><CachedSource><Source>` + server + `/far.tif</Source></CachedSource><Raster><Size x="20" y="20" c="1"/></Raster></MRF_META>`
		}, "of no known kind"},
		{"a label of a file elsewhere", "a.ers", func(_, canary string) string {
			return "DatasetHeader Begin\n\tDataSetType = Translated\n\tDataFile = \"" + canary + "\"\n\tRasterInfo Begin\n\tCellType = Signed16BitInteger\n\tNrOfLines = 20\n\tNrOfCellsPerLine = 20\n\tNrOfBands = 1\n\tRasterInfo End\nDatasetHeader End\n"
		}, "of no known kind"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			here, there := filepath.Join(dir, "here"), filepath.Join(dir, "there")
			require.NoError(t, os.MkdirAll(here, 0o755))
			require.NoError(t, os.MkdirAll(there, 0o755))
			small(t, filepath.Join(here, "near.tif"))
			small(t, filepath.Join(there, "far.tif"))
			server := newEars(t, there)
			watch := newCanary(t, filepath.Join(there, "far.tif"))
			hostile := filepath.Join(here, c.file)
			text := strings.ReplaceAll(c.content(server.URL, watch.path), "DIR", here)
			require.NoError(t, os.WriteFile(hostile, []byte(text), 0o600))
			path := hostile
			if strings.HasPrefix(c.file, "near.tif.") {
				path = filepath.Join(here, "near.tif")
			}
			r, err := Open(path, Options{})
			if err == nil {
				defer r.Close()
				_, err = r.Read(t.Context(), r.Layout().Whole())
			}
			assert.Zero(t, server.knocks.Load(), "connections")
			assert.False(t, watch.opened(), "the canary was opened")
			if c.says == "" {
				require.NoError(t, err)
				return
			}
			requireRefusal(t, err, path, c.says, 500)
		})
	}
}

// TestVirtualRasterOfLinks: a link out of the folder is no way out.
func TestVirtualRasterOfLinks(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	here, there := filepath.Join(dir, "here"), filepath.Join(dir, "there")
	require.NoError(t, os.MkdirAll(filepath.Join(here, "sub"), 0o755))
	require.NoError(t, os.MkdirAll(there, 0o755))
	small(t, filepath.Join(there, "far.tif"))
	small(t, filepath.Join(here, "sub", "near.tif"))
	watch := newCanary(t, filepath.Join(there, "far.tif"))
	require.NoError(t, os.Symlink(filepath.Join(there, "far.tif"), filepath.Join(here, "near.tif")))
	require.NoError(t, os.Symlink(there, filepath.Join(here, "folder")))
	for _, source := range []string{"near.tif", "folder/far.tif", "folder/none.tif"} {
		path := filepath.Join(here, "a.vrt")
		require.NoError(t, os.WriteFile(path, []byte(vrt20(strings.Replace(simpleBand(source), `"0"`, `"1"`, 1))), 0o600))
		_, err := Open(path, Options{})
		requireRefusal(t, err, path, "not in its own folder", 400)
		assert.False(t, watch.opened())
	}
	// A link to the virtual raster is the virtual raster, wherever it is.
	path := filepath.Join(here, "a.vrt")
	require.NoError(t, os.WriteFile(path, []byte(vrt20(strings.Replace(simpleBand("sub/near.tif"), `"0"`, `"1"`, 1))), 0o600))
	link := filepath.Join(there, "link.vrt")
	require.NoError(t, os.Symlink(path, link))
	_, g := openAll(t, link, Options{})
	_, want := openAll(t, filepath.Join(here, "sub", "near.tif"), Options{})
	assert.Equal(t, want.Elevations, g.Elevations)
}

// TestImagineFileOfAnotherFolder: an Imagine file may keep its heights in a
// file that it names.
func TestImagineFileOfAnotherFolder(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	path := filepath.Join(dir, "sub", "a.img")
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "x"), 0o755))
	tool(t, "", "gdal_translate", "-q", "-of", "HFA", "-co", "USE_SPILL=YES", cumberland, path)
	r, err := Open(path, Options{})
	require.NoError(t, err)
	require.NoError(t, r.Close())
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "b"), 0o755))
	require.NoError(t, os.Rename(filepath.Join(dir, "sub", "a.ige"), filepath.Join(dir, "b.i")))
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Positive(t, bytes.Count(data, []byte("a.ige\x00")))
	// The name is as long as it was, the field that holds it too.
	require.NoError(t, os.Rename(filepath.Join(dir, "b.i"), filepath.Join(dir, "ig")))
	require.NoError(t, os.WriteFile(path, bytes.ReplaceAll(data, []byte("a.ige\x00"), []byte("../ig\x00")), 0o600))
	_, err = Open(path, Options{})
	requireRefusal(t, err, path, "not in its own folder", 400)
}

// TestVirtualRasterFromAnAddress: it would take heights from this machine.
func TestVirtualRasterFromAnAddress(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	local := filepath.Join(t.TempDir(), "far.tif")
	small(t, local)
	small(t, filepath.Join(dir, "near.tif"))
	watch := newCanary(t, local)
	server := newEars(t, dir)
	other := newEars(t, dir)
	for name, source := range map[string]string{"local.vrt": local, "same.tif": "near.tif", "other.vrt": "/vsicurl/" + other.URL + "/near.tif"} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(vrt20(simpleBand(source))), 0o600))
		_, err := OpenURL(t.Context(), server.URL+"/"+name, Options{}, RemoteOptions{})
		requireRefusal(t, err, name, "is a virtual raster", 300)
	}
	assert.False(t, watch.opened())
	assert.Zero(t, other.knocks.Load())
	r, err := OpenURL(t.Context(), server.URL+"/near.tif", Options{}, RemoteOptions{})
	require.NoError(t, err)
	require.NoError(t, r.Close())
	for _, path := range []string{"/vsicurl/" + other.URL + "/near.tif", "/vsis3/bucket/near.tif", "/vsizip//vsicurl/" + other.URL + "/near.zip", "/vsistdin/"} {
		_, err := Open(path, Options{})
		require.ErrorContains(t, err, "plain address", path)
	}
	assert.Zero(t, other.knocks.Load())
}

// TestVectorsReachNothing: 2026-11-30, the reference system of a GeoJSON
// could be a link, and was fetched.
func TestVectorsReachNothing(t *testing.T) {
	t.Parallel()
	point := `"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"hut","height":5},"geometry":{"type":"Point","coordinates":[-84.4,36.3]}},` +
		`{"type":"Feature","properties":{"name":"wood","height":5},"geometry":{"type":"Polygon","coordinates":[[[-84.4,36.3],[-84.3,36.3],[-84.3,36.4],[-84.4,36.3]]]}}]}`
	const gpx = `<?xml version="1.0"?>%s<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" xsi:schemaLocation="http://www.topografix.com/GPX/1/1 %s/gpx.xsd"><wpt lat="36.3" lon="-84.4"><name>%s</name><link href="%s/x"/></wpt></gpx>`
	const kml = `<?xml version="1.0"?>%s<kml xmlns="http://www.opengis.net/kml/2.2"><Document><NetworkLink><Link><href>%s/more.kml</href></Link></NetworkLink><Style id="s"><IconStyle><Icon><href>%s/i.png</href></Icon></IconStyle></Style><Placemark><name>%s</name><styleUrl>%s/s.kml#s</styleUrl><Point><coordinates>-84.4,36.3</coordinates></Point></Placemark></Document></kml>`
	cases := []struct {
		name, file string
		content    func(server, canary string) string
		says       string
	}{
		{"GeoJSON, a link", "a.geojson", func(s, _ string) string {
			return `{"crs":{"type":"link","properties":{"href":"` + s + `/crs","type":"ogcwkt"}},` + point
		}, "address"},
		{"GeoJSON, a link by the older word", "a.geojson", func(s, _ string) string {
			return `{"crs":{"type":"link","properties":{"url":"` + s + `/crs"}},` + point
		}, "address"},
		{"GeoJSON, a URL", "a.geojson", func(s, _ string) string {
			return `{"crs":{"type":"URL","properties":{"url":"` + s + `/crs"}},` + point
		}, "address"},
		{"GeoJSON, a name that is an address", "a.geojson", func(s, _ string) string {
			return `{"crs":{"type":"name","properties":{"name":"` + s + `/crs"}},` + point
		}, "reference system"},
		{"GeoJSON, a name that is a file", "a.geojson", func(_, c string) string {
			return `{"crs":{"type":"name","properties":{"name":"` + c + `"}},` + point
		}, "reference system"},
		{"GeoJSON, a datum grid of somebody's", "a.geojson", func(_, c string) string {
			return `{"crs":{"type":"name","properties":{"name":"GEOGCS[\"x\",DATUM[\"d\",SPHEROID[\"s\",6378206.4,294.98],EXTENSION[\"PROJ4_GRIDS\",\"` + c + `\"]],PRIMEM[\"Greenwich\",0],UNIT[\"degree\",0.0174532925199433]]"}},` + point
		}, "names a file"},
		{"GPX, an entity in a file", "a.gpx", func(s, c string) string {
			return fmt.Sprintf(gpx, `<!DOCTYPE gpx [<!ENTITY e SYSTEM "file://`+c+`">]>`, s, "&e;", s)
		}, "the entity &e; is not read"},
		{"GPX, an entity at an address", "a.gpx", func(s, _ string) string {
			return fmt.Sprintf(gpx, `<!DOCTYPE gpx [<!ENTITY e SYSTEM "`+s+`/e">]>`, s, "&e;", s)
		}, "the entity &e; is not read"},
		{"GPX, a document type at an address", "a.gpx", func(s, _ string) string {
			return fmt.Sprintf(gpx, `<!DOCTYPE gpx SYSTEM "`+s+`/gpx.dtd" [<!ENTITY % p SYSTEM "`+s+`/p"> %p;]>`, s, "hut", s)
		}, ""},
		{"KML, a network link", "a.kml", func(s, _ string) string { return fmt.Sprintf(kml, "", s, s, "hut", s) }, ""},
		{"KML, an entity in a file", "a.kml", func(s, c string) string {
			return fmt.Sprintf(kml, `<!DOCTYPE kml [<!ENTITY e SYSTEM "file://`+c+`">]>`, s, s, "&e;", s)
		}, "the entity &e; is not read"},
		{"GML under another name", "a.json", func(s, _ string) string {
			return `<gml:FeatureCollection xmlns:gml="http://www.opengis.net/gml" xmlns:xlink="http://www.w3.org/1999/xlink" xsi:schemaLocation="x ` + s + `/x.xsd"><gml:featureMember xlink:href="` + s + `/f"/></gml:FeatureCollection>`
		}, "not a readable"},
		{"a virtual layer under another name", "a.kml", func(s, c string) string {
			return `<OGRVRTDataSource><OGRVRTLayer name="x"><SrcDataSource>` + c + `</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>`
		}, "not a readable"},
		{"a service's answer under another name", "a.geojson", func(s, _ string) string {
			return `{"type":"FeatureCollection","links":[{"rel":"next","href":"` + s + `/next"}],` + point[len(`"type":"FeatureCollection",`):]
		}, ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			server := newEars(t, dir)
			watch := newCanary(t, writeFile(t, "canary.txt", `GEOGCS["secret",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]]`))
			path := filepath.Join(dir, c.file)
			require.NoError(t, os.WriteFile(path, []byte(c.content(server.URL, watch.path)), 0o600))
			places, placesErr := ReadPlaces(path)
			_, linesErr := ReadLines(path)
			_, _, coverErr := ReadCover(t.Context(), path, "height", "m")
			assert.Zero(t, server.knocks.Load(), "connections")
			assert.False(t, watch.opened(), "the canary was opened")
			for _, p := range places {
				assert.NotContains(t, p.Name, "secret")
			}
			if c.says == "" {
				require.NoError(t, placesErr)
				require.NoError(t, linesErr)
				return
			}
			requireRefusal(t, placesErr, path, c.says, 400)
			requireRefusal(t, linesErr, path, c.says, 400)
			requireRefusal(t, coverErr, path, "", 400)
		})
	}
}

// TestShapefileReachesNothing: its reference system is a side file.
func TestShapefileReachesNothing(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	server := newEars(t, dir)
	watch := newCanary(t, writeFile(t, "canary.txt", "EPSG:4326"))
	json := writeFile(t, "a.geojson", `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"height":5},"geometry":{"type":"Polygon","coordinates":[[[-84.4,36.3],[-84.3,36.3],[-84.3,36.4],[-84.4,36.3]]]}}]}`)
	path := filepath.Join(dir, "a.shp")
	tool(t, "", "ogr2ogr", path, json)
	for _, prj := range []string{server.URL + "/crs", watch.path, "+proj=longlat +ellps=clrk66 +nadgrids=" + watch.path, "+init=" + watch.path + ":1",
		`PROJCS["x",GEOGCS["x",DATUM["d",SPHEROID["s",6378206.4,294.98],EXTENSION["PROJ4_GRIDS","` + watch.path + `"]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]],PROJECTION["Mercator_1SP"],UNIT["metre",1]]`} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "a.prj"), []byte(prj), 0o600))
		_, _, err := ReadCover(t.Context(), path, "height", "m")
		assert.Zero(t, server.knocks.Load(), prj)
		assert.False(t, watch.opened(), prj)
		if err != nil {
			requireRefusal(t, err, path, "", 400)
		}
	}
}

// TestGeoPackageReachesNothing: its tables may be made of other files, by
// what SQLite and GDAL call virtual tables.
func TestGeoPackageReachesNothing(t *testing.T) {
	t.Parallel()
	json := writeFile(t, "a.geojson", `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"height":5},"geometry":{"type":"Polygon","coordinates":[[[-84.4,36.3],[-84.3,36.3],[-84.3,36.4],[-84.4,36.3]]]}}]}`)
	for _, module := range []string{`VirtualOGR('%s')`, `VirtualText('%s','UTF-8',1)`, `VirtualGeoJSON('%s')`, `VirtualShape('%s','UTF-8',4326)`} {
		t.Run(module, func(t *testing.T) {
			dir := t.TempDir()
			server := newEars(t, dir)
			canary := writeFile(t, "canary.geojson", `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"height":7},"geometry":{"type":"Point","coordinates":[1,2]}}]}`)
			path := filepath.Join(dir, "a.gpkg")
			tool(t, "", "ogr2ogr", path, json, "-nln", "real")
			for i, from := range []string{canary, "/vsicurl/" + server.URL + "/x.geojson"} {
				table := fmt.Sprintf("t%d", i)
				sql := fmt.Sprintf("CREATE VIRTUAL TABLE %s USING %s", table, fmt.Sprintf(module, from))
				tool(t, "", "python3", "-c", `import sqlite3,sys
c=sqlite3.connect(sys.argv[1]); c.execute("PRAGMA writable_schema=ON")
c.execute("INSERT INTO sqlite_master(type,name,tbl_name,rootpage,sql) VALUES('table',?,?,0,?)",(sys.argv[2],sys.argv[2],sys.argv[3]))
c.execute("INSERT INTO sqlite_master(type,name,tbl_name,rootpage,sql) VALUES('view',?,?,0,?)",("v"+sys.argv[2],"v"+sys.argv[2],"CREATE VIEW v%s AS SELECT * FROM %s" % (sys.argv[2],sys.argv[2])))
for n in (sys.argv[2],"v"+sys.argv[2]): c.execute("INSERT INTO gpkg_contents(table_name,data_type,identifier,srs_id) VALUES(?,'attributes',?,4326)",(n,n))
c.commit()`, path, table, sql)
			}
			watch := newCanary(t, canary)
			_, _, err := ReadCover(t.Context(), path, "height", "m")
			assert.Zero(t, server.knocks.Load())
			assert.False(t, watch.opened())
			requireRefusal(t, err, path, "it has a table made of something else (CREATE VIRTUAL", 400)
		})
	}
	t.Run("a reference system elsewhere", func(t *testing.T) {
		server := newEars(t, t.TempDir())
		watch := newCanary(t, writeFile(t, "canary.txt", "EPSG:4326"))
		for _, from := range []string{watch.path, server.URL + "/crs", "+proj=longlat +ellps=clrk66 +nadgrids=" + watch.path} {
			path := filepath.Join(t.TempDir(), "a.gpkg")
			tool(t, "", "ogr2ogr", path, json, "-nln", "real", "-a_srs", "EPSG:4267")
			tool(t, "", "python3", "-c", `import sqlite3,sys
c=sqlite3.connect(sys.argv[1]); c.execute("UPDATE gpkg_spatial_ref_sys SET definition=?, organization='x', organization_coordsys_id=99 WHERE srs_id=4267", (sys.argv[2],)); c.commit()`, path, from)
			_, _, err := ReadCover(t.Context(), path, "height", "m")
			assert.Zero(t, server.knocks.Load(), from)
			assert.False(t, watch.opened(), from)
			if err != nil {
				requireRefusal(t, err, path, "", 400)
			}
		}
	})
}

// TestGeoPackagesAreRead: plain ones, of any page size, of many tables, with
// views and with long statements, as SQLite and GDAL write them.
func TestGeoPackagesAreRead(t *testing.T) {
	t.Parallel()
	json := writeFile(t, "a.geojson", `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"height":5},"geometry":{"type":"Polygon","coordinates":[[[-84.4,36.3],[-84.3,36.3],[-84.3,36.4],[-84.4,36.3]]]}}]}`)
	for _, page := range []int{512, 4096, 65536} {
		path := filepath.Join(t.TempDir(), "a.gpkg")
		tool(t, "", "ogr2ogr", path, json, "-nln", "real")
		tool(t, "", "python3", "-c", `import sqlite3,sys
c=sqlite3.connect(sys.argv[1]); c.isolation_level=None
for i in range(300): c.execute("CREATE TABLE more%d (a TEXT %s, UNIQUE(a))" % (i, "/*" + "x"*(i*20) + "*/"))
c.execute("CREATE VIEW v AS SELECT * FROM real")
c.execute("PRAGMA page_size=%s" % sys.argv[2]); c.execute("VACUUM")`, path, fmt.Sprint(page))
		polygons, _, err := ReadCover(t.Context(), path, "height", "m")
		require.NoError(t, err)
		assert.Len(t, polygons, 1)
		require.NoError(t, os.WriteFile(path+"-wal", []byte("x"), 0o600))
		_, _, err = ReadCover(t.Context(), path, "height", "m")
		require.ErrorContains(t, err, "another program has it open")
		require.NoError(t, os.Remove(path+"-wal"))
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		for i := range 40 { // no damage to the list crashes
			broken := bytes.Clone(data[:min(len(data), 1<<18)])
			broken[(i*97)%4000] ^= byte(1 + i%255)
			require.NoError(t, os.WriteFile(path, broken, 0o600))
			if err := checkGeoPackage(path); err != nil {
				assert.NotContains(t, err.Error(), "\n")
			}
		}
	}
}

// TestVirtualRasterIsReadAsGDALDoes: what is written anew has the heights it
// had, as GDAL's own program reads them.
func TestVirtualRasterIsReadAsGDALDoes(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	for i, window := range []string{"0 0 100 100", "100 0 100 100", "0 100 100 100"} {
		args := append([]string{"-q", "-a_nodata", "-32768", "-srcwin"}, strings.Fields(window)...)
		tool(t, "", "gdal_translate", append(args, cumberland, filepath.Join(dir, fmt.Sprintf("%d & one.tif", i)))...)
	}
	tiles, err := filepath.Glob(filepath.Join(dir, "*.tif"))
	require.NoError(t, err)
	inner, outer := filepath.Join(dir, "inner.vrt"), filepath.Join(dir, "outer.vrt")
	tool(t, "", "gdalbuildvrt", append([]string{"-q", inner}, tiles...)...)
	tool(t, "", "gdal_translate", "-q", "-of", "VRT", "-srcwin", "50", "60", "120", "130", inner, outer)
	for _, path := range []string{inner, outer} {
		r, g := openAll(t, path, Options{})
		assert.Equal(t, "VRT", r.Info().Driver)
		raw := filepath.Join(t.TempDir(), "raw.bin")
		tool(t, "", "gdal_translate", "-q", "-of", "ENVI", path, raw)
		data, err := os.ReadFile(raw)
		require.NoError(t, err)
		require.Len(t, data, 2*len(g.Elevations))
		for i, h := range g.Elevations {
			stored := int16(binary.LittleEndian.Uint16(data[2*i:]))
			if stored == -32768 {
				require.True(t, h != h)
				continue
			}
			require.Equal(t, float32(stored), h)
		}
	}
	// several readers at once
	large := filepath.Join(dir, "large.vrt")
	tool(t, "", "gdal_translate", "-q", "-of", "VRT", "-outsize", "1600", "1600", inner, large)
	r, err := Open(large, Options{})
	require.NoError(t, err)
	defer r.Close()
	g, err := r.Read(t.Context(), r.Layout().Whole())
	require.NoError(t, err)
	assert.Len(t, g.Elevations, 1600*1600)
}

// TestVirtualRastersDeep: rasters of rasters are bounded.
func TestVirtualRastersDeep(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	small(t, filepath.Join(dir, "0.tif"))
	source := "0.tif"
	for i := 1; i <= virtualDepth+1; i++ {
		name := fmt.Sprintf("%d.vrt", i)
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(vrt20(strings.Replace(simpleBand(source), `"0"`, `"1"`, 1))), 0o600))
		source = name
	}
	r, err := Open(filepath.Join(dir, fmt.Sprintf("%d.vrt", virtualDepth)), Options{})
	require.NoError(t, err)
	_, err = r.Read(t.Context(), dem.Window{Columns: 20, Rows: 20})
	require.NoError(t, err)
	require.NoError(t, r.Close())
	_, err = Open(filepath.Join(dir, source), Options{})
	require.ErrorContains(t, err, "deep")
}
