package gdalio

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
)

// damageChild tells the test binary to read files, whole ones and damaged, as
// their names come, so that a crash ends it and no test.
const damageChild = "GDALIO_DAMAGE"

// damagedCopies is how many damaged copies of a file of each format are read.
const damagedCopies = 100

// hangs is what no file of some kilobytes takes to read, however busy the
// machine is.
const hangs = 20 * time.Second

// readDamagedFiles answers each line, a kind and a path, with what came of
// reading the file. Before all of it, posts are read alone, the last first:
// a question goes to any.
func readDamagedFiles(in io.Reader, out io.Writer) {
	read := func(path string) (*dem.Grid, error) {
		r, err := Open(path, Options{CRS: "EPSG:4326"})
		if err != nil {
			return nil, err
		}
		defer r.Close()
		all := r.Layout().Whole()
		for _, at := range [][2]int{{all.Columns - 1, all.Rows - 1}, {all.Columns / 2, all.Rows / 2}, {0, all.Rows / 4}} {
			if _, err := r.Read(context.Background(), dem.Window{Column: at[0], Row: at[1], Columns: 1, Rows: 1}); err != nil {
				return nil, err
			}
		}
		const most = 2000 // a header may claim any size
		all.Columns, all.Rows = min(all.Columns, most), min(all.Rows, most)
		return dem.Watch(r).Read(context.Background(), all)
	}
	var whole *dem.Grid
	lines := bufio.NewScanner(in)
	for lines.Scan() {
		kind, path, _ := strings.Cut(lines.Text(), "\t")
		g, err := read(path)
		switch {
		case err != nil && strings.Contains(err.Error(), "\n"):
			fmt.Fprintln(out, "more than a line")
		case err != nil:
			fmt.Fprintln(out, "refused")
		case kind == "whole":
			whole = g
			fmt.Fprintln(out, "whole")
		case g.X0 == whole.X0 && g.Y0 == whole.Y0 && g.DX == whole.DX && g.DY == whole.DY && g.CRS.Name == whole.CRS.Name &&
			sameHeights(g.Elevations, whole.Elevations):
			fmt.Fprintln(out, "harmless")
		case g.Columns != whole.Columns || g.Rows != whole.Rows || len(g.Source.Warnings) > len(whole.Source.Warnings):
			fmt.Fprintln(out, "noticed")
		default:
			fmt.Fprintln(out, "silent")
		}
	}
}

// reader is such a child.
type reader struct {
	command *exec.Cmd
	in      io.WriteCloser
	out     chan string
}

func newReader(t *testing.T, whole string) *reader {
	t.Helper()
	c := exec.CommandContext(t.Context(), os.Args[0])
	c.Env = append(os.Environ(), damageChild+"=1")
	in, err := c.StdinPipe()
	require.NoError(t, err)
	out, err := c.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, c.Start())
	r := &reader{command: c, in: in, out: make(chan string, 1)}
	go func() {
		defer close(r.out)
		for lines := bufio.NewScanner(out); lines.Scan(); {
			r.out <- lines.Text()
		}
	}()
	require.Equal(t, "whole", r.ask("whole", whole), whole)
	return r
}

func (r *reader) ask(kind, path string) string {
	fmt.Fprintf(r.in, "%s\t%s\n", kind, path)
	timer := time.NewTimer(hangs)
	defer timer.Stop()
	select {
	case said, alive := <-r.out:
		if !alive {
			return "crashed"
		}
		return said
	case <-timer.C:
		return "hung"
	}
}

func (r *reader) end() {
	_ = r.in.Close()
	_ = r.command.Process.Kill()
	_ = r.command.Wait()
}

// TestDamagedFormats: of every format that is opened, damaged copies do not
// crash or hang the reader. What they come to is logged: formats without a
// checksum cannot notice all.
func TestDamagedFormats(t *testing.T) {
	t.Parallel()
	source := t.TempDir()
	ground := filepath.Join(source, "ground.tif")
	tool(t, "", "gdal_translate", "-q", "-ot", "Int16", "-srcwin", "100", "100", "64", "64", cumberland, ground)
	utm := filepath.Join(source, "utm.tif")
	tool(t, "", "gdal_translate", "-q", "-ot", "Float32", "-a_srs", "EPSG:32616", "-a_ullr", "500000", "4000000", "506400", "3993600", ground, utm)
	float := []string{"-ot", "Float32"}
	for _, c := range []struct {
		name, file, from string
		how              []string
	}{
		{"GeoTIFF", "a.tif", ground, nil},
		{"GeoTIFF tiled, DEFLATE", "a.tif", ground, []string{"-co", "COMPRESS=DEFLATE", "-co", "TILED=YES", "-co", "BLOCKXSIZE=32", "-co", "BLOCKYSIZE=32"}},
		{"GeoTIFF DEFLATE", "a.tif", ground, append(float, "-co", "COMPRESS=DEFLATE", "-co", "PREDICTOR=3")},
		{"GeoTIFF LZW", "a.tif", ground, []string{"-co", "COMPRESS=LZW", "-co", "PREDICTOR=2"}},
		{"GeoTIFF ZSTD", "a.tif", ground, []string{"-co", "COMPRESS=ZSTD"}},
		{"GeoTIFF LZMA", "a.tif", ground, []string{"-co", "COMPRESS=LZMA"}},
		{"GeoTIFF LERC", "a.tif", ground, append(float, "-co", "COMPRESS=LERC")},
		{"GeoTIFF PackBits", "a.tif", ground, []string{"-co", "COMPRESS=PACKBITS"}},
		{"GeoTIFF with a mask", "a.tif", ground, []string{"-mask", "1"}},
		{"GeoTIFF cloud-optimised", "a.tif", ground, append(float, "-of", "COG")},
		{"virtual raster", "a.vrt", ground, []string{"-of", "VRT"}},
		{"ASCII grid", "a.asc", ground, append(float, "-of", "AAIGrid")},
		{"ASCII grid, whole metres", "a.asc", ground, []string{"-of", "AAIGrid"}},
		{"Imagine", "a.img", ground, append(float, "-of", "HFA")},
		{"Imagine, packed", "a.img", ground, []string{"-of", "HFA", "-co", "COMPRESSED=YES"}},
		{"ENVI", "a.img", ground, append(float, "-of", "ENVI")},
		{"band by line", "a.bil", ground, []string{"-of", "EHdr"}},
		{"grid of floats", "a.flt", ground, append(float, "-of", "EHdr")},
		{"SAGA", "a.sdat", ground, append(float, "-of", "SAGA")},
		{"Surfer, text", "a.grd", utm, []string{"-of", "GSAG"}},
		{"Surfer, binary", "a.grd", utm, []string{"-of", "GSBG"}},
		{"Surfer 7", "a.grd", utm, []string{"-of", "GS7BG"}},
		{"XYZ", "a.xyz", ground, []string{"-of", "XYZ"}},
		{"USGS DEM", "a.dem", ground, []string{"-of", "USGSDEM"}},
		{"DTED", "a.dt0", ground, []string{"-of", "DTED", "-outsize", "121", "121", "-a_ullr", "-84.00416667", "37.00416667", "-82.99583333", "35.99583333"}},
		{"binary terrain", "a.bt", ground, append(float, "-of", "BT")},
		{"GTX", "a.gtx", ground, append(float, "-of", "GTX")},
		{"GeoPackage", "a.gpkg", utm, []string{"-of", "GPKG", "-ot", "Int16"}},
		{"GeoPackage, tiles of floats", "a.gpkg", utm, append(float, "-of", "GPKG", "-co", "TILE_FORMAT=TIFF")},
		{"JPEG 2000", "a.jp2", utm, []string{"-of", "JP2OpenJPEG", "-ot", "Int16", "-co", "REVERSIBLE=YES", "-co", "QUALITY=100"}},
		{"Esri grid folder", "hdr.adf", "", nil},
		{"GeoTIFF in a tar file", "a.tar", "", nil},
		{"GeoTIFF in a packed tar file", "a.tgz", "", nil},
		{"SRTM", "N36W085.hgt", "", nil},
		{"SRTM, zipped", "N36W085.hgt.zip", "", nil},
	} {
		folder, work := t.TempDir(), t.TempDir()
		copies := damagedCopies
		switch {
		case c.name == "SRTM":
			copies = damagedCopies / 3 // 3 MB each
			require.NoError(t, os.WriteFile(filepath.Join(folder, c.file), hgt(), 0o600))
		case c.file == "hdr.adf":
			writeGrid(t, folder, 64, 64)
		case strings.HasPrefix(c.file, "a.t") && strings.Contains(c.name, "tar file"):
			data, err := os.ReadFile(ground)
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(filepath.Join(folder, c.file), tarred(t, strings.HasSuffix(c.file, "gz"), "ground.tif", data), 0o600))
		case c.name == "SRTM, zipped":
			require.NoError(t, os.WriteFile(filepath.Join(folder, c.file), zipped(t, "N36W085.hgt", hgt()), 0o600))
		default:
			tool(t, "", "gdal_translate", append(append([]string{"-q"}, c.how...), c.from, filepath.Join(folder, c.file))...)
		}
		if c.name == "virtual raster" { // of a file beside it
			data, err := os.ReadFile(ground)
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(filepath.Join(folder, "ground.tif"), data, 0o600))
			tool(t, "", "gdal_translate", "-q", "-of", "VRT", filepath.Join(folder, "ground.tif"), filepath.Join(folder, c.file))
		}
		contents := map[string][]byte{}
		names := []string{c.file}
		made, err := os.ReadDir(folder)
		require.NoError(t, err)
		for _, f := range made {
			data, err := os.ReadFile(filepath.Join(folder, f.Name()))
			require.NoError(t, err)
			contents[f.Name()] = data
			if f.Name() != c.file {
				names = append(names, f.Name())
			}
			require.NoError(t, os.WriteFile(filepath.Join(work, f.Name()), data, 0o600))
		}
		random := rand.New(rand.NewPCG(20, 26))
		counts := map[string]int{}
		child := newReader(t, filepath.Join(folder, c.file))
		for range copies {
			victim := c.file
			if random.IntN(5) == 0 {
				victim = names[random.IntN(len(names))]
			}
			data := damage(contents[victim], random)
			if random.IntN(3) == 0 && len(contents[victim]) > 1024 { // headers are small, and matter
				data = append(damage(contents[victim][:1024], random), contents[victim][1024:]...)
			}
			require.NoError(t, os.WriteFile(filepath.Join(work, victim), data, 0o600))
			came := child.ask("damaged", filepath.Join(work, c.file))
			counts[came]++
			if came == "hung" || came == "crashed" {
				child.end()
				child = newReader(t, filepath.Join(folder, c.file))
			}
			require.NoError(t, os.WriteFile(filepath.Join(work, victim), contents[victim], 0o600))
		}
		child.end()
		t.Logf("%-24s tried %d: refused %d, noticed %d, harmless %d, silent %d, crashed %d, hung %d", c.name, copies,
			counts["refused"], counts["noticed"], counts["harmless"], counts["silent"], counts["crashed"], counts["hung"])
		assert.Zero(t, counts["crashed"], "%s crashed", c.name)
		assert.Zero(t, counts["hung"], "%s hung", c.name)
		assert.Zero(t, counts["more than a line"], "%s: an error of more than a line", c.name)
		assert.Positive(t, counts["refused"], c.name)
		if strings.Contains(c.name, "zipped") {
			assert.Zero(t, counts["silent"]+counts["noticed"], "%s: its checksum notices all", c.name)
		}
	}
}
