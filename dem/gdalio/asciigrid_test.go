package gdalio

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
)

const asciiHeader = "ncols 3\nnrows 2\nxllcorner -84.4\nyllcorner 36.5\ncellsize 0.001\n"

// TestCutASCIIGridDoesNotHang: 2026-11-30, a row beyond the cut of an ASCII
// grid sent GDAL's reader into a search that doubled with every row.
func TestCutASCIIGridDoesNotHang(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "ground.asc")
	tool(t, "", "gdal_translate", "-q", "-of", "AAIGrid", cumberland, path)
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	for _, share := range []float64{0.001, 0.3, 0.99} {
		require.NoError(t, os.WriteFile(path, data[:int(float64(len(data))*share)], 0o600))
		r, err := Open(path, Options{})
		if err == nil { // the reader of before
			defer r.Close()
			w := r.Layout().Whole()
			_, err = r.Read(t.Context(), dem.Window{Column: w.Columns - 1, Row: w.Rows - 1, Columns: 1, Rows: 1})
		}
		requireRefusal(t, err, path, "cut short", 300)
	}
}

// TestASCIIGridReadsAsGDALReadsIt: heights, places, reference system, void.
func TestASCIIGridReadsAsGDALReadsIt(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	utm := translate(t, cumberland, "-ot", "Float32", "-a_srs", "EPSG:32616", "-a_ullr", "500000", "4000000", "540000", "3966000", "-a_nodata", "555")
	for name, c := range map[string]struct {
		from string
		how  []string
	}{
		"whole metres":   {cumberland, nil},
		"decimals":       {cumberland, []string{"-ot", "Float32", "-scale", "0", "1", "0", "0.3048"}},
		"metres on UTM":  {utm, nil},
		"oblong posts":   {cumberland, []string{"-outsize", "100", "170"}},
		"oblong in feet": {utm, []string{"-outsize", "50%", "33%", "-scale", "0", "1", "0", "3.28"}},
	} {
		path := filepath.Join(folder, strings.ReplaceAll(name, " ", "_")+".asc")
		args := append([]string{"-q", "-of", "AAIGrid"}, c.how...)
		tool(t, "", "gdal_translate", append(args, c.from, path)...)
		ours, g := openAll(t, path, Options{})
		_, gdals := openAll(t, translate(t, path), Options{})
		assert.True(t, sameHeights(gdals.Elevations, g.Elevations), name)
		assert.InDeltaSlice(t, []float64{gdals.X0, gdals.Y0, gdals.DX, gdals.DY}, []float64{g.X0, g.Y0, g.DX, g.DY}, 1e-9, name)
		assert.Equal(t, gdals.CRS.Name, g.CRS.Name, name)
		assert.Equal(t, gdals.Source.NoData, g.Source.NoData, name)
		assert.Equal(t, gdals.Source.DataType, g.Source.DataType, name)
		assert.Equal(t, "AAIGrid", ours.Info().Driver)
	}
}

// TestASCIIGridIsReadStrictly: whatever is not as the header says is refused.
func TestASCIIGridIsReadStrictly(t *testing.T) {
	t.Parallel()
	good := asciiHeader + "nodata_value -1\n1 2 3\n4 5.5 -1\n"
	_, g := openAll(t, writeFile(t, "good.asc", good), Options{CRS: "EPSG:4326"})
	assert.True(t, sameHeights([]float32{1, 2, 3, 4, 5.5, float32(nan)}, g.Elevations))
	for _, same := range []string{
		strings.ReplaceAll(good, "\n", "\r\n"), strings.ToUpper(good), strings.ReplaceAll(good, " ", "\t "), strings.TrimSpace(good),
		"\n" + strings.Replace(good, "5.5 -1", "0.55e1\nnan", 1),
		strings.Replace(good, "xllcorner -84.4\nyllcorner 36.5", "yllcenter 36.5005\nxllcenter -84.3995", 1),
		strings.Replace(good, "cellsize 0.001", "dx 0.001\ndy 0.001", 1),
	} {
		_, other := openAll(t, writeFile(t, "same.asc", same), Options{CRS: "EPSG:4326"})
		assert.True(t, sameHeights(g.Elevations, other.Elevations), "%q", same)
		assert.InDelta(t, g.X0, other.X0, 1e-9)
		assert.InDelta(t, g.Y0, other.Y0, 1e-9)
	}
	for name, c := range map[string]struct{ content, want string }{
		"a height too few":     {asciiHeader + "1 2 3\n4 5\n", "ends after 5 of 6 heights"},
		"a height too many":    {asciiHeader + "1 2 3\n4 5 6 7\n", "more heights than the 6"},
		"a comma":              {asciiHeader + "1 2 3\n4 5,5 6\n", `"5,5" (line 7) is no number`},
		"a word":               {asciiHeader + "1 2 3\n4 5 sea\n", `"sea" (line 7) is no number`},
		"a null byte":          {asciiHeader + "1 2 3\n4 5 \x00\n", "line 7 is no text"},
		"infinite":             {asciiHeader + "1 2 3\n4 5 inf\n", "is no number"},
		"beyond any number":    {asciiHeader + "1 2 3\n4 5 1e999\n", "is no number"},
		"hexadecimal":          {asciiHeader + "1 2 3\n4 5 0x10\n", "is no number"},
		"a number without end": {asciiHeader + "1 2 3\n4 5 " + strings.Repeat("1", 1000), "is no number"},
		"no place":             {"ncols 3\nnrows 1\ncellsize 1\n1 2 3\n", "where it lies"},
		"two places":           {asciiHeader + "xllcenter 3\n1 2 3\n4 5 6\n", "where it lies"},
		"no spacing":           {"ncols 3\nnrows 1\nxllcorner 1\nyllcorner 1\n1 2 3\n", "no spacing"},
		"said twice":           {asciiHeader + "ncols 3\n1 2 3\n4 5 6\n", "ncols twice"},
		"half a column":        {strings.Replace(asciiHeader, "ncols 3", "ncols 3.5", 1) + "1 2 3\n4 5 6\n", "how many columns"},
		"negative":             {strings.Replace(asciiHeader, "ncols 3", "ncols -3", 1) + "1 2 3\n4 5 6\n", "how many columns"},
		"any size":             {strings.Replace(asciiHeader, "ncols 3", "ncols 268435456", 1) + "1 2 3\n", "too many for an ASCII grid"},
		"a header of words":    {strings.Replace(asciiHeader, "cellsize 0.001", "cellsize some", 1) + "1 2 3\n", `cellsize is "some" (line 5)`},
		"a header alone":       {asciiHeader, "header is cut short"},
	} {
		path := writeFile(t, "grid.asc", c.content)
		_, err := Open(path, Options{CRS: "EPSG:4326"})
		require.Error(t, err, name)
		requireRefusal(t, err, path, c.want, 300)
	}
}

// TestNumbersOfASCIIGrids: the quick way gives what the careful one does.
func TestNumbersOfASCIIGrids(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(7, 11))
	for range 100000 {
		text := strconv.FormatFloat((random.Float64()-0.5)*float64(int64(1)<<random.IntN(60)), "feg"[random.IntN(3)], random.IntN(18), 64)
		want, err := strconv.ParseFloat(text, 64)
		require.NoError(t, err)
		got, ok := number([]byte(text))
		require.True(t, ok, text)
		require.Equal(t, want, got, text)
	}
	for _, bad := range []string{"", "-", "+", ".", "-.", "1-", "--1", "1e", "1.2.3", "1_000", "Inf", "0x1p4", "1,5", "١"} {
		_, ok := number([]byte(bad))
		assert.False(t, ok, fmt.Sprintf("%q", bad))
	}
}
