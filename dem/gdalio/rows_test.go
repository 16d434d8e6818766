package gdalio

import (
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// TestRowsAreWhatAReadGives: in files of tiles, of strips and of one strip,
// whole and in part, by several readers where the window is large.
func TestRowsAreWhatAReadGives(t *testing.T) {
	t.Parallel()
	const columns, rows = 2100, 2300
	f := dem.Frame{Columns: columns, Rows: rows, X0: 10, Y0: 50, DX: 1e-4, DY: -1e-4, CRS: geodesy.WGS84}
	values := make([]float32, columns*rows)
	for i := range values {
		values[i] = float32(i%977) + float32(i/columns)/10
	}
	values[len(values)-5] = -9999 // undeclared: a void, and said
	tiled := filepath.Join(t.TempDir(), "tiled.tif")
	require.NoError(t, WriteGeoTIFF(t.Context(), tiled, &f, []Band{{Float32: values}}))
	for name, path := range map[string]string{
		"tiles":     tiled,
		"strips":    translate(t, tiled, "-co", "BLOCKYSIZE=7"),
		"one strip": translate(t, tiled, "-co", "BLOCKYSIZE=2300"),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			for _, w := range []dem.Window{f.Whole(), {Column: 300, Row: 255, Columns: 1500, Rows: 3}, {Column: 11, Row: 500, Columns: 2089, Rows: 1800}} {
				want, err := Open(path, Options{})
				require.NoError(t, err)
				defer want.Close()
				r, err := Open(path, Options{})
				require.NoError(t, err)
				defer r.Close()
				g, err := want.Read(t.Context(), w)
				require.NoError(t, err)
				at := 0
				require.NoError(t, dem.Rows(t.Context(), r, w, func(posts []float32) error {
					require.Zero(t, len(posts)%w.Columns)
					for i, v := range posts {
						if e := g.Elevations[at+i]; math.Float32bits(e) != math.Float32bits(v) && (e == e || v == v) {
							require.Equal(t, e, v, "post %d", at+i)
						}
					}
					at += len(posts)
					return nil
				}))
				assert.Equal(t, len(g.Elevations), at)
				assert.Equal(t, want.Info().Warnings, r.Info().Warnings)
			}
		})
	}
	r, err := Open(tiled, Options{})
	require.NoError(t, err)
	defer r.Close()
	require.ErrorContains(t, r.ReadRows(t.Context(), dem.Window{Columns: 1, Rows: rows + 1}, nil), "not inside")
}
