package gdalio

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

var nan = math.NaN()

// hgt is a tile of 3 arc-seconds as SRTM's are: heights of two bytes, the
// high one first, from the north west.
func hgt() []byte {
	const side = 1201
	data := make([]byte, 0, 2*side*side)
	for i := range side * side {
		column, row := i%side, i/side
		data = binary.BigEndian.AppendUint16(data, uint16(500+300*math.Sin(float64(column)/40)*math.Cos(float64(row)/60)))
	}
	return data
}

// zipped packs files; names and contents in turn.
func zipped(t testing.TB, files ...any) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := 0; i < len(files); i += 2 {
		w, err := z.Create(files[i].(string))
		require.NoError(t, err)
		_, err = w.Write(files[i+1].([]byte))
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return b.Bytes()
}

// TestZippedTileWithABitFlipped: 2026-11-30, GDAL's reader of zip files
// crashed on one, and with it every run over its folder.
func TestZippedTileWithABitFlipped(t *testing.T) {
	t.Parallel()
	heights := hgt()
	data := zipped(t, "N36W085.hgt", heights)
	path := filepath.Join(t.TempDir(), "N36W085.hgt.zip")
	require.NoError(t, os.WriteFile(path, data, 0o600))
	r, g := openAll(t, path, Options{})
	assert.Equal(t, float32(int16(binary.BigEndian.Uint16(heights[2*(1201*100+7):]))), g.Elevations[1201*100+7])
	assert.Equal(t, "SRTMHGT", r.Info().Driver)
	place, err := g.Place(0, 0)
	require.NoError(t, err)
	assert.InDelta(t, 37, float64(place.Lat), 1e-9)
	assert.InDelta(t, -85, float64(place.Lon), 1e-9)

	random := rand.New(rand.NewPCG(36, 85))
	for range 60 {
		// what holds the heights, not the directory's dates and the like
		at := 60 + random.IntN(len(data)-300)
		damaged := append([]byte(nil), data...)
		damaged[at] ^= 1 << random.IntN(8)
		require.NoError(t, os.WriteFile(path, damaged, 0o600))
		_, err := Open(path, Options{})
		requireRefusal(t, err, path, "fetch it again", 300)
	}
}

func TestPackedFiles(t *testing.T) {
	t.Parallel()
	ascii := []byte(asciiHeader + "1 2 3\n4 5 6\n")
	prj := []byte(`GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]`)
	write := func(name string, data []byte) string {
		path := filepath.Join(t.TempDir(), name)
		require.NoError(t, os.WriteFile(path, data, 0o600))
		return path
	}
	want := []float32{1, 2, 3, 4, 5, 6}
	one := write("ground.zip", zipped(t, "readme.txt", []byte("hello"), "a/ground.asc", ascii, "a/ground.prj", prj))
	_, g := openAll(t, one, Options{})
	assert.Equal(t, want, g.Elevations)
	two := write("two.zip", zipped(t, "a.asc", ascii, "a.prj", prj, "b.asc", ascii))
	_, err := Open(two, Options{})
	requireRefusal(t, err, two, "2 elevation files are in it, a.asc first: unpack it", 300)
	for _, path := range []string{"/vsizip/" + two + "/a.asc", "/vsizip/{" + two + "}/a.asc"} {
		_, g := openAll(t, path, Options{})
		assert.Equal(t, want, g.Elevations)
	}
	_, err = Open("/vsizip/"+two+"/c.asc", Options{})
	require.ErrorContains(t, err, "there is no c.asc in it")
	none := write("none.zip", zipped(t, "readme.txt", []byte("hello")))
	_, err = Open(none, Options{})
	requireRefusal(t, err, none, "no elevation file", 300)

	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	_, err = z.Write(ascii)
	require.NoError(t, err)
	require.NoError(t, z.Close())
	_, g = openAll(t, write("ground.asc.gz", b.Bytes()), Options{CRS: "EPSG:4326"})
	assert.Equal(t, want, g.Elevations)
	cut := write("ground.asc.gz", b.Bytes()[:b.Len()-9])
	_, err = Open(cut, Options{CRS: "EPSG:4326"})
	requireRefusal(t, err, cut, "cannot be unpacked", 300)

	r, err := OpenBytes("ground.zip", zipped(t, "ground.asc", ascii, "ground.prj", prj), Options{})
	require.NoError(t, err)
	require.NoError(t, r.Close())
}

// TestPackedFileIsBounded: a megabyte of zeros packs to a kilobyte, and a
// file may say any size.
func TestPackedFileIsBounded(t *testing.T) {
	t.Parallel()
	data, err := readMember(t.Context(), bytes.NewReader(make([]byte, 1000)), 1000)
	require.NoError(t, err)
	assert.Len(t, data, 1000)
	_, err = readMember(t.Context(), bytes.NewReader(make([]byte, 3<<20)), 2<<20)
	require.ErrorIs(t, err, errTooLarge)

	bomb := zipped(t, "ground.tif", make([]byte, 1<<20))
	at := bytes.LastIndex(bomb, []byte("PK\x01\x02")) // its line in the directory, APPNOTE 4.3.12
	binary.LittleEndian.PutUint32(bomb[at+24:], 0xf0000000)
	path := filepath.Join(t.TempDir(), "bomb.zip")
	require.NoError(t, os.WriteFile(path, bomb, 0o600))
	_, err = Open(path, Options{})
	requireRefusal(t, err, path, "more than 1024 MiB", 300)
}

// TestDamagedTileOfAFolder: 2026-11-30, one damaged zipped tile ended every
// run over its folder. A question that needs its ground is refused with its
// name; others are answered, with a word of it.
func TestDamagedTileOfAFolder(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	data := zipped(t, "N36W085.hgt", hgt())
	require.NoError(t, os.WriteFile(filepath.Join(folder, "N36W084.hgt"), hgt(), 0o600))
	bad := filepath.Join(folder, "N36W085.hgt.zip")
	damaged := append([]byte(nil), data...)
	damaged[len(damaged)/2] ^= 4
	require.NoError(t, os.WriteFile(bad, damaged, 0o600))
	ascii := filepath.Join(folder, "local.asc") // nobody knows where it lies
	require.NoError(t, os.WriteFile(ascii, []byte("ncols 40\nnrows 40\nxllcorner -8"), 0o600))
	opts := manyOptions(t)
	ask := func(lon geodesy.Degrees) (*dem.Grid, error) {
		m, err := OpenMany(t.Context(), []string{folder}, opts)
		require.NoError(t, err)
		defer m.Close()
		j, err := m.For(t.Context(), []geodesy.LatLon{{Lat: 36.5, Lon: lon}}, 500)
		if err != nil {
			return nil, err
		}
		return j.Read(t.Context(), j.Layout().Whole())
	}
	for range 2 { // by a new index, and by the one it left
		g, err := ask(-83.5)
		require.NoError(t, err)
		said := strings.Join(g.Source.Warnings, "\n")
		assert.Contains(t, said, "N36W085.hgt.zip")
		assert.Contains(t, said, "local.asc")
		_, err = ask(-84.5)
		requireRefusal(t, err, bad, "fetch it again", 400)
	}
	tiles, passed, _, err := ListMany(t.Context(), []string{folder}, opts)
	require.NoError(t, err)
	assert.Len(t, tiles, 1)
	assert.Len(t, passed, 2)
	n, _, err := IndexMany(t.Context(), []string{folder}, opts)
	require.NoError(t, err)
	assert.Equal(t, 1, n)

	require.NoError(t, os.Remove(bad))
	require.NoError(t, os.WriteFile(bad, data, 0o600)) // fetched again
	_, _, err = IndexMany(t.Context(), []string{folder}, opts)
	require.NoError(t, err)
	_, err = ask(-84.5)
	require.NoError(t, err)
}

// TestVirtualRasterOpensTheSameFormats: its sources are opened by GDAL
// itself, which would know many more.
func TestVirtualRasterOpensTheSameFormats(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	tool(t, "", "gdal_translate", "-q", "-of", "AAIGrid", cumberland, filepath.Join(folder, "ground.asc"))
	require.NoError(t, os.WriteFile(filepath.Join(folder, "N36W085.hgt.zip"), zipped(t, "N36W085.hgt", hgt()), 0o600))
	path := filepath.Join(folder, "of.vrt")
	for _, source := range []string{"ground.asc", "N36W085.hgt.zip", "/vsizip/" + folder + "/N36W085.hgt.zip/N36W085.hgt"} {
		relative := "1"
		if strings.HasPrefix(source, "/") {
			relative = "0"
		}
		require.NoError(t, os.WriteFile(path, []byte(vrt(100, 100, `<SimpleSource><SourceFilename relativeToVRT="`+relative+`">`+source+
			`</SourceFilename><SourceBand>1</SourceBand></SimpleSource>`)), 0o600))
		r, err := Open(path, Options{})
		if err == nil {
			_, err = r.Read(t.Context(), r.Layout().Whole())
			require.NoError(t, r.Close())
		}
		requireRefusal(t, err, path, "of.vrt", 400)
	}
}

func TestFormatsNotOpenedAreNamed(t *testing.T) {
	t.Parallel()
	for start, want := range map[string]string{
		"CDF\x01": "is a netCDF or HDF5 file, whose readers crash on damaged files", "\x89HDF\r\n": "HDF5", "LASF": "is a point cloud", "GRIB": "a GRIB file", "\x89PNG\r\n": "is a picture", "\x00\x00\x00\x0cjP  \r\n": "part of it is damaged",
	} {
		path := writeFile(t, "ground.dat", start+strings.Repeat("\x00", 400))
		_, err := Open(path, Options{})
		requireRefusal(t, err, path, want, 300)
	}
}
