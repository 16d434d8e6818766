package contour

import (
	"context"
	"fmt"
	"runtime"
	"testing"
)

// Fractal ground of 10 m posts would have these levels about one to six
// posts; points/post says how dense the lines are.

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
				b.ReportMetric(float64(points)/float64(n*n), "points/post")
			})
		}
	}
}

// BenchmarkTracer feeds rows and drops the lines, as a writer of files does.
// Larger grids are mirrored copies of one of 2000 x 2000.
func BenchmarkTracer(b *testing.B) {
	const n = 2000
	g := fractal(n, n, 1500, 7)
	for _, times := range []int{1, 2, 4} {
		size := n * times
		b.Run(fmt.Sprintf("%dx%d", size, size), func(b *testing.B) {
			rows := make([]float32, size*stripRows)
			mirror := func(i int) int {
				if i/n%2 == 1 {
					return n - 1 - i%n
				}
				return i % n
			}
			var peak uint64
			for b.Loop() {
				t, err := NewTracer(size, size, Levels{Interval: 20}, Options{}, func(Line) error { return nil })
				if err != nil {
					b.Fatal(err)
				}
				for r := 0; r < size; r += stripRows {
					k := min(stripRows, size-r)
					for i := range k {
						from := g.Elevations[mirror(r+i)*n : (mirror(r+i)+1)*n]
						for c := range size {
							rows[i*size+c] = from[mirror(c)]
						}
					}
					if err := t.Add(context.Background(), rows[:k*size]); err != nil {
						b.Fatal(err)
					}
					if r%(stripRows*16) == 0 {
						var m runtime.MemStats
						runtime.ReadMemStats(&m)
						peak = max(peak, m.HeapInuse)
					}
				}
				if err := t.Finish(context.Background()); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(size)*float64(size)*float64(b.N)/b.Elapsed().Seconds(), "posts/s")
			b.ReportMetric(float64(peak)/1e6, "MB-heap")
		})
	}
}
