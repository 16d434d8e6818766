package gdalio

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
)

// Real files that tests read, with their sources in testdata/README.md.
const (
	olinda     = "../../testdata/olinda_dem_utm25s.tif"
	cumberland = "../../testdata/cumberland/cumberland.tif"
)

// tool runs one of GDAL's programs, of package gdal-bin, as an independent
// reader and maker of files.
func tool(t *testing.T, stdin string, name string, args ...string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Skipf("%s is not installed (package gdal-bin)", name)
	}
	c := exec.CommandContext(t.Context(), path, args...)
	c.Stdin = strings.NewReader(stdin)
	var out, errs bytes.Buffer
	c.Stdout, c.Stderr = &out, &errs
	require.NoError(t, c.Run(), "%s %v: %s", name, args, errs.String())
	return out.String()
}

// translate makes a copy of a file with gdal_translate.
func translate(t *testing.T, from string, args ...string) string {
	t.Helper()
	to := filepath.Join(t.TempDir(), "copy.tif")
	tool(t, "", "gdal_translate", append(append([]string{"-q"}, args...), from, to)...)
	return to
}

func writeFile(t *testing.T, name, content string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, []byte(content), 0o600))
	return path
}

// rawRaster is a VRT over raw little-endian bytes: any type, geotransform
// and metadata without a writer's help.
type rawRaster struct {
	columns, rows int
	dataType      string
	bytes         []byte
	geotransform  string // "" for none
	crs           string // "" for none
	bandExtra     string // XML inside the band
	extra         string // XML inside the dataset
}

func (r rawRaster) write(t testing.TB) string {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "raw.bin"), r.bytes, 0o600))
	var b strings.Builder
	fmt.Fprintf(&b, `<VRTDataset rasterXSize="%d" rasterYSize="%d">`, r.columns, r.rows)
	if r.crs != "" {
		fmt.Fprintf(&b, "<SRS>%s</SRS>", r.crs)
	}
	if r.geotransform != "" {
		fmt.Fprintf(&b, "<GeoTransform>%s</GeoTransform>", r.geotransform)
	}
	fmt.Fprintf(&b, `%s<VRTRasterBand dataType="%s" band="1" subClass="VRTRawRasterBand">%s
<SourceFilename relativeToVRT="1">raw.bin</SourceFilename><ByteOrder>LSB</ByteOrder></VRTRasterBand></VRTDataset>`,
		r.extra, r.dataType, r.bandExtra)
	path := filepath.Join(dir, "raw.vrt")
	require.NoError(t, os.WriteFile(path, []byte(b.String()), 0o600))
	return path
}

// smallWith writes four posts with something about them changed.
func smallWith(change func(r *rawRaster)) func(t *testing.T) string {
	return func(t *testing.T) string {
		r := rawRaster{columns: 2, rows: 2, dataType: "Int16", bytes: int16s(1, 2, 3, 4), geotransform: smallGeotransform, crs: smallCRS}
		change(&r)
		return r.write(t)
	}
}

// requireRefusal checks that an error is one line, of so many letters at the
// most, that names the file and says what is wanted of it.
func requireRefusal(t *testing.T, err error, path, want string, longest int) {
	t.Helper()
	require.Error(t, err)
	assert.Contains(t, err.Error(), want)
	assert.Contains(t, err.Error(), filepath.Base(path))
	assert.NotContains(t, err.Error(), "\n")
	assert.LessOrEqual(t, len(err.Error()), longest, err.Error())
}

func int16s(values ...int16) []byte {
	var b []byte
	for _, v := range values {
		b = append(b, byte(v), byte(uint16(v)>>8))
	}
	return b
}

func float32s(values ...float32) []byte {
	var b []byte
	for _, v := range values {
		u := math.Float32bits(v)
		b = append(b, byte(u), byte(u>>8), byte(u>>16), byte(u>>24))
	}
	return b
}

// province is the Cumberland ground, every third post of it, inside a crooked
// border and void outside, as data cut along a boundary is: Int16, longitude
// and latitude.
func province(t testing.TB) string {
	t.Helper()
	const columns, rows, void = 95, 90, -32768
	g := openCumberland(t)
	var heights []int16
	for r := range rows {
		for c := range columns {
			x, y := float64(c)-46, float64(r)-44
			border := 38 + 4*math.Sin(3*math.Atan2(y, x)) + 2*math.Sin(11*math.Atan2(y, x))
			h := int16(void)
			if math.Hypot(x, y) < border {
				h = int16(g.Elevation(60+3*c, 40+3*r))
			}
			heights = append(heights, h)
		}
	}
	return rawRaster{
		columns: columns, rows: rows, dataType: "Int16", bytes: int16s(heights...),
		geotransform: fmt.Sprintf("%.12f,%.12f,0,%.12f,0,%.12f", g.X0+60*g.DX-1.5*g.DX, 3*g.DX, g.Y0+40*g.DY-1.5*g.DY, 3*g.DY),
		crs:          "EPSG:4326",
		bandExtra:    fmt.Sprintf("<NoDataValue>%d</NoDataValue>", void),
	}.write(t)
}

const (
	smallGeotransform = "-84.4,0.001,0,36.5,0,-0.001"
	smallCRS          = "EPSG:4326"
)

func openAll(t *testing.T, path string, opts Options) (*Raster, *dem.Grid) {
	t.Helper()
	r, err := Open(path, opts)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, r.Close()) })
	g, err := r.Read(t.Context(), r.Layout().Whole())
	require.NoError(t, err)
	return r, g
}

// locationInfo asks gdallocationinfo for the stored values at columns and
// rows.
func locationInfo(t *testing.T, path string, columns, rows []int) []float64 {
	t.Helper()
	var in strings.Builder
	for i := range columns {
		fmt.Fprintln(&in, columns[i], rows[i])
	}
	var values []float64
	for _, line := range strings.Fields(tool(t, in.String(), "gdallocationinfo", "-valonly", path)) {
		v, err := strconv.ParseFloat(line, 64)
		require.NoError(t, err)
		values = append(values, v)
	}
	require.Len(t, values, len(columns))
	return values
}
