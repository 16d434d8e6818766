package gdalio

import (
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// rolling is ground like hills, so that compression has its usual work.
func rolling(n int) (dem.Frame, []float32) {
	f := dem.Frame{Columns: n, Rows: n, X0: -84, Y0: 36, DX: 1e-4, DY: -1e-4, CRS: geodesy.WGS84}
	values := make([]float32, n*n)
	for r := range n {
		for c := range n {
			x, y := float64(c)/97, float64(r)/83
			values[r*n+c] = float32(500 + 200*math.Sin(x)*math.Cos(y) + 20*math.Sin(7*x+3*y) + float64((c*7919+r*104729)%100)/50)
		}
	}
	return f, values
}

func BenchmarkWriteGeoTIFF(b *testing.B) {
	const n = 4000
	f, values := rolling(n)
	path := filepath.Join(b.TempDir(), "out.tif")
	b.ReportAllocs()
	for b.Loop() {
		require.NoError(b, WriteGeoTIFF(b.Context(), path, &f, []Band{{Float32: values}}))
	}
	b.ReportMetric(float64(n*n)*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mposts/s")
}

func BenchmarkRead(b *testing.B) {
	const n = 4000
	f, values := rolling(n)
	path := filepath.Join(b.TempDir(), "out.tif")
	require.NoError(b, WriteGeoTIFF(b.Context(), path, &f, []Band{{Float32: values}}))
	b.ReportAllocs()
	for b.Loop() {
		r, err := Open(path, Options{})
		require.NoError(b, err)
		_, err = r.Read(b.Context(), r.Layout().Whole())
		require.NoError(b, err)
		require.NoError(b, r.Close())
	}
	b.ReportMetric(float64(n*n)*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mposts/s")
}

func BenchmarkOpen(b *testing.B) {
	for b.Loop() {
		r, err := Open(cumberland, Options{})
		require.NoError(b, err)
		require.NoError(b, r.Close())
	}
}

// BenchmarkOpenProjected costs a CRS with a transform as well.
func BenchmarkOpenProjected(b *testing.B) {
	for b.Loop() {
		r, err := Open(olinda, Options{})
		require.NoError(b, err)
		require.NoError(b, r.Close())
	}
}
