package gdalio

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// BenchmarkFewAmongManyTiles reads the ground of a 3 km circle, a handful of
// tiles, in folders of 100 and 10 000: the cost should be the same.
func BenchmarkFewAmongManyTiles(b *testing.B) {
	for _, side := range []int{10, 100} {
		b.Run(fmt.Sprintf("%d tiles", side*side), func(b *testing.B) {
			folder := b.TempDir()
			const posts, step = 40, 1.0 / 2000
			for i := range side * side {
				c, r := i%side, i/side
				f := dem.Frame{Columns: posts, Rows: posts, X0: -84 + float64(c*posts)*step, Y0: 36 - float64(r*posts)*step, DX: step, DY: -step, CRS: geodesy.WGS84}
				require.NoError(b, os.MkdirAll(filepath.Join(folder, fmt.Sprint(r)), 0o755))
				path := filepath.Join(folder, fmt.Sprint(r), fmt.Sprintf("%d.tif", c))
				require.NoError(b, WriteGeoTIFF(context.Background(), path, &f, []Band{{Float32: make([]float32, posts*posts)}}))
			}
			opts := ManyOptions{IndexFolder: b.TempDir()}
			_, _, err := IndexMany(context.Background(), []string{folder}, opts)
			require.NoError(b, err)
			for b.Loop() {
				m, err := OpenMany(context.Background(), []string{folder}, opts)
				require.NoError(b, err)
				j, err := m.For(context.Background(), []geodesy.LatLon{{Lat: 35.9, Lon: -83.9}}, 3000)
				require.NoError(b, err)
				_, err = j.Read(context.Background(), j.Layout().Whole())
				require.NoError(b, err)
				b.ReportMetric(float64(m.Opened()), "tiles")
				require.NoError(b, m.Close())
			}
		})
	}
}
