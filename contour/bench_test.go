package contour

import (
	"context"
	"fmt"
	"testing"
)

func BenchmarkTrace(b *testing.B) {
	for _, n := range []int{1000, 2000, 4000} {
		g := fractal(n, n, 1500, 7)
		for _, concurrency := range []int{1, 2} {
			b.Run(fmt.Sprintf("%dx%d/%d", n, n, concurrency), func(b *testing.B) {
				b.ReportAllocs()
				points := 0
				for b.Loop() {
					lines, err := Trace(context.Background(), g, Levels{Interval: 20}, Options{Concurrency: concurrency})
					if err != nil {
						b.Fatal(err)
					}
					points = 0
					for i := range lines {
						points += len(lines[i].Points)
					}
				}
				b.ReportMetric(float64(n*n)*float64(b.N)/b.Elapsed().Seconds(), "posts/s")
				b.ReportMetric(float64(points), "points")
			})
		}
	}
}
