package gdalio

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// TestBadInput: each is one line that names the file and says what to do.
func TestBadInput(t *testing.T) {
	t.Parallel()
	cases := []struct {
		name string
		path func(t *testing.T) string
		want string
	}{
		{"missing", func(t *testing.T) string { return filepath.Join(t.TempDir(), "none.tif") }, "no such file"},
		{"inline XML is not a path", func(t *testing.T) string { return "<VRTDataset rasterXSize='1' rasterYSize='1'/>" }, "no such file"},
		{"empty", func(t *testing.T) string { return writeFile(t, "empty.tif", "") }, "is empty"},
		{"folder", func(t *testing.T) string { return t.TempDir() }, "is a folder"},
		{"device", func(t *testing.T) string { return "/dev/null" }, "not a plain file"},
		{"text", func(t *testing.T) string { return writeFile(t, "notes.tif", "climb to the saddle\n") }, "cannot be read as elevation data"},
		{"PDF by its first bytes", func(t *testing.T) string { return writeFile(t, "map.pdf", "%PDF-1.4\n1 0 obj\n<<>>\nendobj\n") }, "map.pdf"},
		{"header alone", func(t *testing.T) string {
			data, err := os.ReadFile(cumberland)
			require.NoError(t, err)
			return writeFile(t, "cut.tif", string(data[:60]))
		}, "cut.tif"},
		{"colour photo", func(t *testing.T) string {
			path := filepath.Join(t.TempDir(), "photo.png")
			tool(t, "", "gdal_translate", "-q", "-of", "PNG", "-ot", "Byte", "-scale", "-b", "1", "-b", "1", "-b", "1", cumberland, path)
			return path
		}, "is a picture"},
		{"grey photo", func(t *testing.T) string {
			path := filepath.Join(t.TempDir(), "photo.png")
			tool(t, "", "gdal_translate", "-q", "-of", "PNG", "-ot", "Byte", "-scale", cumberland, path)
			return path
		}, "is a picture"},
		{"many bands", func(t *testing.T) string { return translate(t, cumberland, "-b", "1", "-b", "1") }, "2 bands"},
		{"complex", func(t *testing.T) string { return translate(t, cumberland, "-ot", "CFloat32") }, "CFloat32"},
		{"no CRS", smallWith(func(r *rawRaster) { r.crs = "" }), "--crs EPSG:code"},
		{"engineering CRS", smallWith(func(r *rawRaster) { r.crs = `LOCAL_CS["site grid",UNIT["metre",1]]` }), "--crs EPSG:code"},
		{"metres said to be degrees", smallWith(func(r *rawRaster) { r.geotransform = "506000,10,0,3994000,0,-10" }), "metres or feet: give their reference system"},
		{"no geotransform", smallWith(func(r *rawRaster) { r.geotransform = "" }), "where on Earth"},
		{"rotated", smallWith(func(r *rawRaster) { r.geotransform = "-84.4,0.001,0.0003,36.5,0.0003,-0.001" }), "is rotated"},
		{"turned by a quarter", smallWith(func(r *rawRaster) { r.geotransform = "-84.4,0,0.001,36.5,0.001,0" }), "quarter"},
		{"geotransform not a number", smallWith(func(r *rawRaster) { r.geotransform = "-84.4,nan,0,36.5,0,-0.001" }), "not finite"},
		{"infinite geotransform", smallWith(func(r *rawRaster) { r.geotransform = "inf,0.001,0,36.5,0,-0.001" }), "not finite"},
		{"zero size", smallWith(func(r *rawRaster) { r.columns = 0 }), "raw.vrt"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			path := c.path(t)
			r, err := Open(path, Options{})
			if err == nil {
				r.Close()
			}
			requireRefusal(t, err, path, c.want, 400)
		})
	}
}

func TestOverriddenCRSIsChecked(t *testing.T) {
	t.Parallel()
	r := rawRaster{columns: 2, rows: 2, dataType: "Int16", bytes: int16s(1, 2, 3, 4), geotransform: "500000,10,0,4000000,0,-10"}
	_, err := Open(r.write(t), Options{CRS: "EPSG:1"})
	require.ErrorContains(t, err, "EPSG:1")
	_, err = Open(r.write(t), Options{CRS: "foo"}) // part of the name of many
	require.ErrorContains(t, err, "EPSG:32617")
	_, err = Open(r.write(t), Options{CRS: "EPSG:4326"})
	require.ErrorContains(t, err, "not the longitude and latitude")
	ok, err := Open(r.write(t), Options{CRS: "EPSG:32617"})
	require.NoError(t, err)
	require.NoError(t, ok.Close())
}

// TestCutShortFileFailsToRead: it opens, for the header is whole, and the
// read says so instead of handing on what came before the cut.
func TestCutShortFileFailsToRead(t *testing.T) {
	t.Parallel()
	path := translate(t, cumberland) // plain strips, header first
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	cut := writeFile(t, "cut.tif", string(data[:len(data)/2]))
	r, err := Open(cut, Options{})
	if err == nil {
		defer r.Close()
		var g *dem.Grid
		g, err = r.Read(t.Context(), r.Layout().Whole())
		assert.Nil(t, g)
		_, countErr := dem.Count(t.Context(), r, dem.CensusOptions{})
		require.Error(t, countErr)
	}
	require.ErrorContains(t, err, "(part of it is missing); the file is damaged or cut short: fetch it again")
	assert.Contains(t, err.Error(), "cut.tif")
}

func vrt(columns, rows int, source string) string {
	return fmt.Sprintf(`<VRTDataset rasterXSize="%d" rasterYSize="%d"><SRS>EPSG:4326</SRS><GeoTransform>-84.4,0.0000001,0,36.5,0,-0.00000001</GeoTransform>
<VRTRasterBand dataType="Int16" band="1">%s</VRTRasterBand></VRTDataset>`, columns, rows, source)
}

// TestVRTWithMissingSource: GDAL gives zeros and an error; we give the error.
func TestVRTWithMissingSource(t *testing.T) {
	t.Parallel()
	path := writeFile(t, "hole.vrt", vrt(10, 10, `<SimpleSource><SourceFilename relativeToVRT="1">gone.tif</SourceFilename><SourceBand>1</SourceBand></SimpleSource>`))
	r, err := Open(path, Options{})
	if err == nil {
		defer r.Close()
		_, err = r.Read(t.Context(), r.Layout().Whole())
	}
	require.ErrorContains(t, err, "gone.tif, which is not there); put that file in its place")
}

func TestVRTOfItself(t *testing.T) {
	t.Parallel()
	path := writeFile(t, "self.vrt", vrt(10, 10, `<SimpleSource><SourceFilename relativeToVRT="1">self.vrt</SourceFilename><SourceBand>1</SourceBand></SimpleSource>`))
	r, err := Open(path, Options{})
	if err == nil {
		defer r.Close()
		_, err = r.Read(t.Context(), r.Layout().Whole())
	}
	require.ErrorContains(t, err, "self.vrt: it has itself among its sources; make it again")
}

// TestAbsurdSizeAllocatesNothing: a few bytes may claim any size.
func TestAbsurdSizeAllocatesNothing(t *testing.T) {
	t.Parallel()
	path := writeFile(t, "vast.vrt", vrt(2147483647, 2147483647, ""))
	r, err := Open(path, Options{})
	require.NoError(t, err)
	defer r.Close()
	_, err = r.Read(t.Context(), r.Layout().Whole())
	require.ErrorContains(t, err, "too many")
	// a corner of it is still a fair question
	g, err := r.Read(t.Context(), dem.Window{Column: 2147483640, Row: 2147483640, Columns: 7, Rows: 7})
	require.NoError(t, err)
	assert.Len(t, g.Elevations, 49)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = dem.Count(ctx, r, dem.CensusOptions{})
	require.ErrorIs(t, err, context.Canceled)
}

func TestWindowsOutsideAreRefused(t *testing.T) {
	t.Parallel()
	r, err := Open(cumberland, Options{})
	require.NoError(t, err)
	defer r.Close()
	for _, w := range []dem.Window{{}, {Columns: 404, Rows: 1}, {Column: -1, Columns: 2, Rows: 2}, {Row: 343, Columns: 1, Rows: 2}, {Columns: 1, Rows: -1}} {
		_, err := r.Read(t.Context(), w)
		require.Error(t, err, "%+v", w)
		assert.Contains(t, err.Error(), "403 x 344")
	}
}

// TestCancelledReadStopsAtTheNextPiece: cancelled from inside.
func TestCancelledReadStopsAtTheNextPiece(t *testing.T) {
	t.Parallel()
	path := writeFile(t, "vast.vrt", vrt(100000, 100000, ""))
	r, err := Open(path, Options{})
	require.NoError(t, err)
	defer r.Close()
	ctx, cancel := context.WithCancel(t.Context())
	pieces := 0
	err = r.pieces(ctx, r.frame.Whole(), func(dem.Window, []float32) {
		pieces++
		if pieces == 3 {
			cancel()
		}
	})
	require.ErrorIs(t, err, context.Canceled)
	assert.Equal(t, 3, pieces)
	_, err = r.Read(ctx, dem.Window{Columns: 1, Rows: 1})
	require.ErrorIs(t, err, context.Canceled)
}

// TestNothingOnStandardError runs the worst of the above with the process's
// standard error in a file.
func TestNothingOnStandardError(t *testing.T) {
	cut := writeFile(t, "cut.tif", "II*\x00\x08\x00\x00\x00\xff\xff")
	said := childStandardError(t, cut, writeFile(t, "t.vrt", "<VRTDataset><oops>"), writeFile(t, "n.txt", strings.Repeat("x", 100)),
		writeFile(t, "hole.vrt", vrt(10, 10, `<SimpleSource><SourceFilename>gone.tif</SourceFilename></SimpleSource>`)))
	assert.Empty(t, said)
}

// FuzzOpenBytes: no bytes make it crash, hang or print; what opens reads or
// says why not.
func FuzzOpenBytes(f *testing.F) {
	plain := filepath.Join(f.TempDir(), "plain.tif")
	cut(f, openCumberland(f), plain, dem.Window{Column: 100, Row: 100, Columns: 40, Rows: 30})
	for _, path := range []string{plain, olinda} {
		data, err := os.ReadFile(path)
		require.NoError(f, err)
		f.Add(data)
		f.Add(data[:len(data)/3])
		f.Add(bytes.ReplaceAll(data, []byte{0}, []byte{255}))
	}
	f.Add([]byte(vrt(10, 10, "")))
	f.Fuzz(func(t *testing.T, data []byte) {
		if bytes.Contains(data, []byte("/vsi")) || bytes.Contains(data, []byte("://")) {
			return
		}
		r, err := OpenBytes("fuzz", data, Options{})
		if err != nil {
			assert.NotContains(t, err.Error(), "\n")
			return
		}
		defer r.Close()
		layout := r.Layout()
		w := dem.Window{Columns: min(layout.Columns, 300), Rows: min(layout.Rows, 300)}
		g, err := r.Read(context.Background(), w)
		if err == nil {
			assert.Len(t, g.Elevations, w.Columns*w.Rows)
		}
	})
}

// TestAnswersAreNotGround: 2026-11-28, a viewshed left in a folder of tiles
// was taken for the ground, 1 to 3 m high.
func TestAnswersAreNotGround(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "seen.tif")
	f := dem.Frame{Columns: 3, Rows: 2, X0: 10, Y0: 50, DX: 0.001, DY: -0.001, CRS: geodesy.WGS84}
	bands := []Band{{Name: VerdictBand, Bytes: []uint8{1, 2, 3, 0, 1, 2}}}
	require.NoError(t, WriteGeoTIFF(t.Context(), path, &f, bands))
	_, err := Open(path, Options{})
	require.ErrorContains(t, err, "seen.tif holds the verdicts of a viewshed, not elevations")
	_, err = OpenMany(t.Context(), []string{filepath.Dir(path)}, ManyOptions{})
	require.Error(t, err)
	bands[0].Name = "elevation"
	require.NoError(t, WriteGeoTIFF(t.Context(), path, &f, bands))
	r, err := Open(path, Options{})
	require.NoError(t, err)
	require.NoError(t, r.Close())
}
