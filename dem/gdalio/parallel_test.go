package gdalio

import (
	"context"
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// TestManyReadersReadWhatOneDoes: a window over the size at which readers
// multiply holds the same posts as small windows, and what any reader finds
// out is said.
func TestManyReadersReadWhatOneDoes(t *testing.T) {
	t.Parallel()
	const n = 2300
	f := dem.Frame{Columns: n, Rows: n, X0: 10, Y0: 50, DX: 1e-4, DY: -1e-4, CRS: geodesy.WGS84}
	values := make([]float32, n*n)
	for i := range values {
		values[i] = float32(i%977) + float32(i/n)/10
	}
	values[len(values)-5] = -9999 // undeclared, in the last reader's part
	path := filepath.Join(t.TempDir(), "large.tif")
	require.NoError(t, WriteGeoTIFF(context.Background(), path, &f, []Band{{Name: "elevation", Float32: values}}))
	r, err := Open(path, Options{})
	require.NoError(t, err)
	defer r.Close()
	g, err := r.Read(context.Background(), dem.Window{Column: 3, Row: 5, Columns: n - 3, Rows: n - 5})
	require.NoError(t, err)
	for row := range g.Rows {
		for column := range g.Columns {
			want, got := values[(row+5)*n+column+3], g.Elevations[row*g.Columns+column]
			if want == -9999 {
				assert.True(t, math.IsNaN(float64(got)))
			} else if want != got {
				require.Equal(t, want, got, "column %d, row %d", column, row)
			}
		}
	}
	assert.Contains(t, g.Source.Warnings[len(g.Source.Warnings)-1], "-9999")

	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = r.Read(ctx, r.Layout().Whole())
	require.ErrorIs(t, err, context.Canceled)
}
