package gdalio

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// TestHolesAreWhatTheFormatSays: 2026-11-30, blocks of zeros that a GeoTIFF
// leaves out were void, so that the sea was ground in one copy of a file and
// a void in another. They are zero, or the void value where one is declared.
func TestHolesAreWhatTheFormatSays(t *testing.T) {
	t.Parallel()
	const side = 192
	f := dem.Frame{Columns: side, Rows: side, X0: 10, Y0: 50, DX: 0.001, DY: -0.001, CRS: geodesy.WGS84}
	for _, noData := range []float64{0, -9999} { // 0: none is declared
		heights := make([]float32, side*side)
		for i := range heights {
			switch column, row := i%side, i/side; {
			case row >= 96 && column >= 64: // the sea; a hole where no void is declared
			case row >= 96:
				heights[i] = -3
			case row >= 48: // a void, which is a hole where one is declared
				heights[i] = float32(noData)
			default:
				heights[i] = float32(100 + row + column)
			}
		}
		whole := filepath.Join(t.TempDir(), "whole.tif")
		require.NoError(t, WriteGeoTIFF(t.Context(), whole, &f, []Band{{Float32: heights}}))
		options := []string{"-a_nodata", "none"}
		if noData != 0 {
			options = []string{"-a_nodata", fmt.Sprint(noData)}
		}
		_, want := openAll(t, translate(t, whole, options...), Options{})
		for name, layout := range map[string][]string{
			"tiles": {"-co", "TILED=YES", "-co", "BLOCKXSIZE=16", "-co", "BLOCKYSIZE=16"}, "strips": {"-co", "BLOCKYSIZE=8"},
			"packed tiles":  {"-co", "TILED=YES", "-co", "BLOCKXSIZE=64", "-co", "BLOCKYSIZE=32", "-co", "COMPRESS=DEFLATE"},
			"packed strips": {"-co", "BLOCKYSIZE=16", "-co", "COMPRESS=LZW"},
		} {
			for _, sparse := range []string{"FALSE", "TRUE"} {
				path := translate(t, whole, append(append([]string{"-co", "SPARSE_OK=" + sparse}, options...), layout...)...)
				what := fmt.Sprintf("%s, sparse %s, void %v", name, sparse, noData)
				r, g := openAll(t, path, Options{})
				require.True(t, sameHeights(want.Elevations, g.Elevations), what)
				for _, at := range [][2]int{{100, 150}, {10, 150}, {100, 60}, {100, 10}} { // a post alone
					one, err := r.Read(t.Context(), dem.Window{Column: at[0], Row: at[1], Columns: 1, Rows: 1})
					require.NoError(t, err)
					require.True(t, sameHeights([]float32{float32(want.Elevation(at[0], at[1]))}, one.Elevations), "%s: %v", what, at)
				}
				var rows []float32
				require.NoError(t, r.ReadRows(t.Context(), f.Whole(), func(posts []float32) error {
					rows = append(rows, posts...)
					return nil
				}))
				require.True(t, sameHeights(want.Elevations, rows), what)
				said := strings.Join(r.Info().Warnings, "\n")
				if sparse == "TRUE" && noData == 0 && name == "tiles" {
					// of 12 rows of 12 tiles: 8 tiles of each of 6 rows, and all of 3 more rows
					assert.Contains(t, said, "about 58 % of the file is stored as holes", what)
					assert.Equal(t, 1, strings.Count(said, "holes"), "told once")
				} else if sparse == "FALSE" || noData != 0 {
					assert.NotContains(t, said, "holes", what)
				}
			}
		}
	}
}

func sameHeights(a, b []float32) bool {
	if len(a) != len(b) {
		return false
	}
	for i, h := range a {
		if h != b[i] && (h == h || b[i] == b[i]) {
			return false
		}
	}
	return true
}
