package gdalio

import (
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// TestRemoteReadsEqualLocalOnes, whatever the type, order of bytes, layout
// and compression: those without compression are decoded here, not by GDAL.
func TestRemoteReadsEqualLocalOnes(t *testing.T) {
	t.Parallel()
	const columns, rows = 301, 203 // blocks cut on both axes
	folder := t.TempDir()
	whole := openCumberland(t)
	source := filepath.Join(folder, "source.tif")
	f := whole.Sub(dem.Window{Columns: columns, Rows: rows})
	values := make([]float32, 0, columns*rows)
	random := rand.New(rand.NewPCG(4, 1))
	for range columns * rows {
		v := float32(math.Round(1000 * random.Float64()))
		if v < 30 {
			v = float32(math.NaN())
		}
		values = append(values, v)
	}
	require.NoError(t, WriteGeoTIFF(t.Context(), source, &f, []Band{{Float32: values}}))
	s := serve(t, folder, nil)
	for _, c := range []struct {
		name      string
		arguments []string
	}{
		{"float tiles", []string{"-co", "TILED=YES", "-co", "BLOCKXSIZE=64", "-co", "BLOCKYSIZE=32"}},
		{"float tiles, high byte first", []string{"-co", "TILED=YES", "-co", "ENDIANNESS=BIG"}},
		{"strips of a row", []string{"-co", "BLOCKYSIZE=1"}},
		{"strips of seven rows", []string{"-co", "BLOCKYSIZE=7", "-ot", "Int16"}},
		{"whole numbers, high byte first", []string{"-ot", "Int16", "-co", "ENDIANNESS=BIG"}},
		{"without sign", []string{"-ot", "UInt16", "-co", "TILED=YES"}},
		{"four bytes", []string{"-ot", "Int32", "-co", "TILED=YES"}},
		{"four bytes without sign, high byte first", []string{"-ot", "UInt32", "-co", "ENDIANNESS=BIG"}},
		{"eight bytes", []string{"-ot", "Float64", "-co", "TILED=YES"}},
		{"eight bytes, high byte first", []string{"-ot", "Float64", "-co", "ENDIANNESS=BIG"}},
		{"one byte", []string{"-ot", "Byte", "-scale", "0", "1000", "0", "250"}},
		{"eleven bits", []string{"-ot", "UInt16", "-co", "NBITS=11"}},
		{"half floats", []string{"-ot", "Float32", "-co", "NBITS=16"}},
		{"long offsets", []string{"-co", "BIGTIFF=YES", "-co", "TILED=YES"}},
		{"packed", []string{"-co", "COMPRESS=DEFLATE", "-co", "PREDICTOR=3", "-co", "TILED=YES"}},
		{"packed strips", []string{"-co", "COMPRESS=LZW", "-ot", "Int16"}},
		{"cloud-optimised", []string{"-of", "COG", "-co", "COMPRESS=NONE", "-co", "BLOCKSIZE=128"}},
		{"with a mask", []string{"-mask", "1", "-ot", "Int16"}},
		{"sparse", []string{"-srcwin", "-200", "-200", "700", "700", "-co", "TILED=YES", "-co", "SPARSE_OK=TRUE"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := translate(t, source, c.arguments...)
			name := filepath.Base(filepath.Dir(path)) + ".tif"
			require.NoError(t, os.Rename(path, filepath.Join(folder, name)))
			local, want := openAll(t, filepath.Join(folder, name), Options{})
			remote, err := OpenURL(t.Context(), s.URL+"/"+name, Options{}, quick)
			require.NoError(t, err)
			defer remote.Close()
			windows := []dem.Window{local.Layout().Whole(), {Column: 60, Row: 30, Columns: 10, Rows: 5}, {Column: 300, Row: 202, Columns: 1, Rows: 1}}
			for range 20 {
				w := dem.Window{Column: random.IntN(want.Columns), Row: random.IntN(want.Rows)}
				w.Columns, w.Rows = 1+random.IntN(want.Columns-w.Column), 1+random.IntN(want.Rows-w.Row)
				windows = append(windows, w)
			}
			for _, w := range windows {
				g, err := remote.Read(t.Context(), w)
				require.NoError(t, err)
				differing := 0
				for i, v := range window(want, w) {
					if h := g.Elevations[i]; h != v && (h == h || v == v) {
						differing++
					}
				}
				assert.Zero(t, differing, "of %+v", w)
			}
		})
	}
}

// TestOnlyTheRowsOfPlainBlocksAreFetched, and one block is no reason to
// fetch the next.
func TestOnlyTheRowsOfPlainBlocksAreFetched(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	const n, block = 2048, 512
	f := dem.Frame{Columns: n, Rows: n, X0: 500005, Y0: 4099995, DX: 10, DY: -10, CRS: utm17(t)}
	values := make([]float32, n*n)
	random := rand.New(rand.NewPCG(8, 8))
	for i := range values {
		values[i] = 100 + 200*random.Float32()
	}
	plain := filepath.Join(folder, "source.tif")
	require.NoError(t, WriteGeoTIFF(t.Context(), plain, &f, []Band{{Float32: values}}))
	for _, name := range []string{"NONE", "DEFLATE"} {
		tool(t, "", "gdal_translate", "-q", "-of", "COG", "-co", "COMPRESS="+name, "-co", "BLOCKSIZE=512", "-co", "OVERVIEWS=NONE", plain, filepath.Join(folder, name+".tif"))
	}
	s := serve(t, folder, nil)
	fetched := func(name string, windows ...dem.Window) (requests int, bytes int64) {
		r, err := OpenURL(t.Context(), s.URL+"/"+name+".tif", Options{}, quick)
		require.NoError(t, err)
		defer r.Close()
		requests, bytes = s.counts()
		for _, w := range windows {
			_, err = r.Read(t.Context(), w)
			require.NoError(t, err)
		}
		after, all := s.counts()
		return after - requests, all - bytes
	}
	const chunk = 16 << 10 // bytes GDAL rounds a request to, at both ends
	low := dem.Window{Column: block, Row: 2*block + 64, Columns: 256, Rows: 64}
	requests, bytes := fetched("NONE", low)
	assert.Equal(t, 1, requests)
	assert.LessOrEqual(t, bytes, int64(4*block*64+2*chunk))
	// three neighbours, one after the other: each packed block is less than
	// its posts
	row := func(i int) dem.Window { return dem.Window{Column: i * block, Row: block, Columns: 256, Rows: 64} }
	requests, bytes = fetched("DEFLATE", row(0), row(1), row(2))
	assert.Equal(t, 3, requests)
	assert.LessOrEqual(t, bytes, int64(3*(4*block*block+2*chunk)))
}

func utm17(t *testing.T) *geodesy.CRS {
	t.Helper()
	crs, err := geodesy.NewCRS("EPSG:32617")
	require.NoError(t, err)
	return crs
}

// TestHeaderIsAskedForOnce when a mosaic opens a file to learn where it
// lies, and again to read it; and blocks of a path lie along the file's own.
func TestHeaderIsAskedForOnce(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	whole := openCumberland(t)
	cut(t, whole, filepath.Join(folder, "tile.tif"), whole.Whole())
	s := serve(t, folder, nil)
	m, err := OpenMany(t.Context(), []string{s.URL + "/tile.tif"}, ManyOptions{Remote: quick})
	require.NoError(t, err)
	defer m.Close()
	opened, _ := s.counts()
	assert.Equal(t, 1, opened, "its header")
	place, err := whole.Place(280, 200) // in the second column of blocks
	require.NoError(t, err)
	j, err := m.For(t.Context(), []geodesy.LatLon{place}, 500)
	require.NoError(t, err)
	corner, err := j.Layout().Place(0, 0)
	require.NoError(t, err)
	column, row, err := whole.Locate(corner)
	require.NoError(t, err)
	assert.Zero(t, math.Mod(math.Round(column), dem.BlockColumns))
	assert.Zero(t, math.Mod(math.Round(row), dem.BlockRows))
	after, _ := s.counts()
	assert.Equal(t, opened, after, "nothing is read yet")
	_, err = j.Read(t.Context(), dem.Window{Columns: 10, Rows: 10})
	require.NoError(t, err)
	after, _ = s.counts()
	assert.Equal(t, opened+1, after)
}
