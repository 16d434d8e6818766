package gdalio

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// tarred is a tar file of names and contents, packed or not.
func tarred(t testing.TB, packed bool, files ...any) []byte {
	t.Helper()
	var b bytes.Buffer
	w := tar.NewWriter(&b)
	for i := 0; i < len(files); i += 2 {
		data := files[i+1].([]byte)
		require.NoError(t, w.WriteHeader(&tar.Header{Name: files[i].(string), Mode: 0o644, Size: int64(len(data)), Format: tar.FormatUSTAR}))
		_, err := w.Write(data)
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	if !packed {
		return b.Bytes()
	}
	var z bytes.Buffer
	g := gzip.NewWriter(&z)
	_, err := g.Write(b.Bytes())
	require.NoError(t, err)
	require.NoError(t, g.Close())
	return z.Bytes()
}

// gridHeight is the height of a post of writeGrid's grid.
func gridHeight(column, row int) float32 { return float32(100 + column + 3*row) }

// writeGrid writes an Esri grid folder of floats, in one tile, from 500000 E, 4000000 N
// of UTM zone 16 north up, with cells of 30 m. GDAL has no writer of it; the layout is that of
// "Arc/Info Binary Grid Format" (F. Warmerdam, with GDAL's driver AIG), from memory:
// all numbers have their highest byte first, sizes and places count shorts.
func writeGrid(t testing.TB, folder string, columns, rows int) {
	t.Helper()
	put := func(name string, data []byte) {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), data, 0o600))
	}
	number := func(b []byte, at int, v any) {
		_, err := binary.Encode(b[at:], binary.BigEndian, v)
		require.NoError(t, err)
	}
	head := make([]byte, 308)
	copy(head, "GRID1.2\x00")
	number(head, 16, int32(2)) // floats
	number(head, 256, 30.0)
	number(head, 264, 30.0)
	number(head, 288, int32(1))
	number(head, 292, int32(1))
	number(head, 296, int32(columns))
	number(head, 300, int32(1))
	number(head, 304, int32(rows))
	put("hdr.adf", head)
	bounds := make([]byte, 32)
	for i, v := range []float64{500000, 4000000, 500000 + 30*float64(columns), 4000000 + 30*float64(rows)} {
		number(bounds, 8*i, v)
	}
	put("dblbnd.adf", bounds)
	tile := make([]byte, 102+4*columns*rows)
	copy(tile, "\x00\x00\x27\x0a\xff\xff")
	number(tile, 24, int32(len(tile)/2))
	number(tile, 100, uint16(2*columns*rows))
	for row := range rows {
		for column := range columns {
			number(tile, 102+4*(row*columns+column), gridHeight(column, row))
		}
	}
	put("w001001.adf", tile)
	index := make([]byte, 108)
	copy(index, "\x00\x00\x27\x0a\xff\xff")
	number(index, 24, int32(len(index)/2))
	number(index, 100, int32(50))
	number(index, 104, int32(2*columns*rows))
	put("w001001x.adf", index)
	statistics := make([]byte, 32)
	number(statistics, 0, float64(gridHeight(0, 0)))
	number(statistics, 8, float64(gridHeight(columns-1, rows-1)))
	put("sta.adf", statistics)
	put("prj.adf", []byte("Projection    UTM\nZone          16\nDatum         WGS84\nSpheroid      WGS84\nUnits         METERS\nZunits        NO\nParameters\n"))
}

// TestGridFolder: given as a folder, as its header, in an archive, and found in a
// folder of others.
func TestGridFolder(t *testing.T) {
	t.Parallel()
	above := t.TempDir()
	folder := filepath.Join(above, "ground")
	require.NoError(t, os.Mkdir(folder, 0o755))
	writeGrid(t, folder, 40, 20)
	var inside []any
	list, err := os.ReadDir(folder)
	require.NoError(t, err)
	for _, f := range list {
		data, err := os.ReadFile(filepath.Join(folder, f.Name()))
		require.NoError(t, err)
		inside = append(inside, "data/ground/"+f.Name(), data)
	}
	packed := writeFile(t, "ground.tar.gz", string(tarred(t, true, inside...)))
	for _, path := range []string{folder, folder + "/hdr.adf", packed, packed + "/data/ground/hdr.adf", writeFile(t, "ground.zip", string(zipped(t, inside...)))} {
		r, g := openAll(t, path, Options{})
		assert.Equal(t, "AIG", r.Info().Driver, path)
		place, err := g.Place(0, 0)
		require.NoError(t, err)
		assert.InDelta(t, -87, float64(place.Lon), 0.001, path) // the middle of zone 16, half a cell on
		assert.InDelta(t, 36.15, float64(place.Lat), 0.01, path)
		assert.Equal(t, gridHeight(7, 11), g.Elevations[11*40+7], path)
		assert.InDelta(t, 500015, g.X0, 1e-6, path)
		assert.InDelta(t, 4000000+20*30-15, g.Y0, 1e-6, path)
	}
	assert.False(t, NamesMany(folder))
	assert.True(t, NamesMany(above))
	tiles, _, _, err := ListMany(t.Context(), []string{above}, manyOptions(t))
	require.NoError(t, err)
	require.Len(t, tiles, 1)
	for _, at := range Reads([]string{folder}, ManyOptions{}) {
		if at.Of == "" {
			assert.Equal(t, filepath.Join(folder, "hdr.adf"), at.Path)
		}
	}
}

// TestSeveralInOneArchive are joined as a folder's are, each under its own name.
func TestSeveralInOneArchive(t *testing.T) {
	t.Parallel()
	west, east := filepath.Join(t.TempDir(), "w.tif"), filepath.Join(t.TempDir(), "e.tif")
	tool(t, "", "gdal_translate", "-q", "-srcwin", "0", "0", "200", "344", cumberland, west)
	tool(t, "", "gdal_translate", "-q", "-srcwin", "200", "0", "203", "344", cumberland, east)
	w, err := os.ReadFile(west)
	require.NoError(t, err)
	e, err := os.ReadFile(east)
	require.NoError(t, err)
	files := []any{"a/w.tif", w, "a/readme.txt", []byte("hello"), "a/b/e.tif", e, "__MACOSX/a/._w.tif", []byte("x")}
	whole, g := openAll(t, cumberland, Options{})
	for _, path := range []string{writeFile(t, "two.zip", string(zipped(t, files...))), writeFile(t, "two.tar", string(tarred(t, false, files...))), writeFile(t, "two.tgz", string(tarred(t, true, files...)))} {
		assert.True(t, HoldsMany(path))
		m, err := OpenMany(t.Context(), []string{path}, manyOptions(t))
		require.NoError(t, err)
		j, err := m.Whole(t.Context())
		require.NoError(t, err)
		assert.Equal(t, g.Columns, j.Layout().Columns)
		assert.Equal(t, g.Rows, j.Layout().Rows)
		require.NoError(t, m.Close())
		_, err = Open(path, Options{})
		requireRefusal(t, err, path, "2 elevation files are in it, a/", 400)
		_, one := openAll(t, path+"/a/b/e.tif", Options{})
		assert.Equal(t, g.Elevations[200], one.Elevations[0])
		_, err = Open(path+"/a/c.tif", Options{})
		require.ErrorContains(t, err, "there is no a/c.tif in it")
		reads := Reads([]string{path, path + "/a/w.tif"}, ManyOptions{})
		assert.Equal(t, path, reads[0].Path)
	}
	require.NoError(t, whole.Close())
}

// TestArchivesAreBounded: what unpacks without end is given up, one line, and what
// is cut short or holds no ground is told.
func TestArchivesAreBounded(t *testing.T) {
	t.Parallel()
	ground, err := os.ReadFile(cumberland)
	require.NoError(t, err)
	endless := &counted{ctx: t.Context(), r: zeros{}, left: 1000}
	n, err := endless.Read(make([]byte, 4096))
	require.NoError(t, err)
	assert.Equal(t, 1000, n)
	_, err = endless.Read(make([]byte, 1))
	require.ErrorIs(t, err, errThrough)

	claims := tarred(t, false, "big.tif", []byte("x"))
	copy(claims[124:136], fmt.Sprintf("%011o\x00", int64(4<<30))) // its size, and so its checksum
	sum := 0
	for i, b := range claims[:512] {
		if i >= 148 && i < 156 {
			b = ' '
		}
		sum += int(b)
	}
	copy(claims[148:156], fmt.Sprintf("%06o\x00 ", sum))
	small := &tarball{open: func() (io.Reader, func(), error) {
		return bytes.NewReader(tarred(t, false, "g.tif", ground)), func() {}, nil
	}}
	_, err = small.read(t.Context(), map[string]bool{"g.tif": true}, 1000)
	require.ErrorIs(t, err, errTooLarge)
	whole := tarred(t, true, "g.tif", ground)
	for name, row := range map[string]struct {
		data []byte
		says string
	}{
		"big.tar":   {claims, "fetch it again"},
		"cut.tgz":   {whole[:len(whole)-20], "fetch it again"},
		"none.tar":  {tarred(t, false, "readme.txt", []byte("hello")), "no elevation file is in it"},
		"cloud.tar": {tarred(t, false, "a/b.laz", []byte("LASF")), "no elevation file is in it: a/b.laz is a point cloud"},
		"lines.zip": {zipped(t, "c.shp", []byte("x")), "c.shp is a file of lines"},
		"bad.tgz":   {[]byte("\x1f\x8bhello"), "fetch it again"},
		"bad.tar":   {[]byte(strings.Repeat("x", 2000)), "bad.tar"},
		"empty.zip": {zipped(t), "bad"},
	} {
		if name == "empty.zip" {
			row.says = "no elevation file is in it"
		}
		path := writeFile(t, name, string(row.data))
		_, err := Open(path, Options{})
		requireRefusal(t, err, path, row.says, 400)
	}
}

type zeros struct{}

func (zeros) Read(b []byte) (int, error) { clear(b); return len(b), nil }

// TestGeoPackageAndJPEG2000: heights as another format has them; in a database of
// lines there are none.
func TestGeoPackageAndJPEG2000(t *testing.T) {
	t.Parallel()
	_, want := openAll(t, cumberland, Options{})
	for _, c := range []struct {
		file string
		how  []string
	}{
		{"a.gpkg", []string{"-of", "GPKG", "-ot", "Float32", "-co", "TILE_FORMAT=TIFF"}},
		{"a.jp2", []string{"-of", "JP2OpenJPEG", "-co", "REVERSIBLE=YES", "-co", "QUALITY=100"}},
	} {
		path := filepath.Join(t.TempDir(), c.file)
		tool(t, "", "gdal_translate", append(append([]string{"-q"}, c.how...), cumberland, path)...)
		r, g := openAll(t, path, Options{})
		require.Equal(t, want.Columns, g.Columns)
		require.Equal(t, want.Rows, g.Rows)
		worst := 0.0
		for i, v := range g.Elevations {
			if math.IsNaN(float64(v)) != math.IsNaN(float64(want.Elevations[i])) {
				t.Fatalf("%s: post %d is %v and not %v", c.file, i, v, want.Elevations[i])
			}
			worst = max(worst, math.Abs(float64(v-want.Elevations[i])))
		}
		assert.Zero(t, worst, c.file)
		require.NoError(t, r.Close())
	}
	lines := filepath.Join(t.TempDir(), "lines.gpkg")
	tool(t, "", "gdal_contour", "-q", "-i", "100", "-f", "GPKG", cumberland, lines)
	_, err := Open(lines, Options{})
	requireRefusal(t, err, lines, "a database that holds no raster of heights", 400)
}

// TestHeightsByName: a .hgt lies where its name says, packed or not, and one that
// has lost its name is told so.
func TestHeightsByName(t *testing.T) {
	t.Parallel()
	heights := hgt()
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	_, err := z.Write(heights)
	require.NoError(t, err)
	require.NoError(t, z.Close())
	for name, data := range map[string][]byte{
		"N36W085.hgt": heights, "n36w085.hgt": heights, "N36W085.SRTMGL3.hgt": heights, "N36W085.hgt.gz": packed.Bytes(),
		"tiles.tgz": tarred(t, true, "N36W085.hgt", heights), "x.zip": zipped(t, "a/N36W085.hgt", heights),
	} {
		r, err := Open(writeFile(t, name, string(data)), Options{})
		require.NoError(t, err, name)
		place, err := r.Layout().Place(0, 0)
		require.NoError(t, err)
		assert.InDelta(t, 37, float64(place.Lat), 1e-9, name)
		assert.InDelta(t, -85, float64(place.Lon), 1e-9, name)
		require.NoError(t, r.Close())
	}
	for _, name := range []string{"mine.hgt", "tile (1).hgt"} {
		path := writeFile(t, name, string(heights))
		_, err := Open(path, Options{})
		requireRefusal(t, err, path, "an .hgt says it by its name, as N36W085.hgt", 400)
	}
}

// FuzzUnpackTar: no bytes make it crash, packed or not, and errors are one line.
func FuzzUnpackTar(f *testing.F) {
	f.Add(tarred(f, false, "a/g.asc", []byte(asciiHeader+"1 2 3\n4 5 6\n")), "")
	f.Add(tarred(f, true, "a/g.asc", []byte(asciiHeader+"1 2 3\n4 5 6\n"), "b.tif", []byte("x")), "b.tif")
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, data []byte, member string) {
		path := filepath.Join(dir, "g.tar")
		require.NoError(t, os.WriteFile(path, data, 0o600))
		packedGrounds(t.Context(), path)
		in, err := unpack(t.Context(), path, member)
		if err != nil {
			assert.NotContains(t, err.Error(), "\n")
			return
		}
		in.free()
	})
}
