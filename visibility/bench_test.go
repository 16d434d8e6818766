package visibility

import (
	"context"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"crowline/dem"
)

// high is the highest post near a grid's middle, where a viewshed is widest.
func high(g *dem.Grid) (column, row float64) {
	best := float32(-1e9)
	for r := g.Rows / 3; r < 2*g.Rows/3; r++ {
		for c := g.Columns / 3; c < 2*g.Columns/3; c++ {
			if h := g.Elevations[r*g.Columns+c]; h > best {
				best, column, row = h, float64(c), float64(r)
			}
		}
	}
	return column, row
}

func benchmarkViewshed(b *testing.B, size int, change func(*ViewshedOptions, *Observer)) {
	g := fractal(b, size, 7)
	middle := observerAt(b, g, float64(size)/2+0.3, float64(size)/2+0.4)
	c, r := high(g)
	for name, o := range map[string]Observer{"middle": middle, "summit": observerAt(b, g, c, r)} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			opts := DefaultViewshedOptions()
			change(&opts, &o)
			var v *Viewed
			for b.Loop() {
				var err error
				v, err = Viewshed(context.Background(), g, o, opts)
				require.NoError(b, err)
			}
			posts := float64(size) * float64(size)
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/posts, "ns/post")
			b.ReportMetric(100*float64(v.Summary.Visible)/posts, "%visible")
		})
	}
}

func BenchmarkViewshed(b *testing.B) {
	for _, size := range []int{1000, 2000, 4000} {
		b.Run(fmt.Sprint(size), func(b *testing.B) {
			benchmarkViewshed(b, size, func(*ViewshedOptions, *Observer) {})
		})
	}
}

func BenchmarkViewshedHeights(b *testing.B) {
	benchmarkViewshed(b, 4000, func(o *ViewshedOptions, _ *Observer) { o.HeightNeeded = true })
}

// BenchmarkViewshedFromAbove sees nearly every post: the worst case.
func BenchmarkViewshedFromAbove(b *testing.B) {
	benchmarkViewshed(b, 4000, func(_ *ViewshedOptions, o *Observer) { o.EyeAboveGround = 100000 })
}

// BenchmarkReference is the plain way, on a grid it can manage.
func BenchmarkReference(b *testing.B) {
	g := fractal(b, 500, 7)
	o := observerAt(b, g, 250.3, 250.4)
	for b.Loop() {
		_, err := Reference(context.Background(), g, o, DefaultViewshedOptions())
		require.NoError(b, err)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/250000, "ns/post")
}

// BenchmarkSkyline is the horizon alone, every tenth of a degree.
func BenchmarkSkyline(b *testing.B) {
	g := fractal(b, 4000, 7)
	c, r := high(g)
	for name, o := range map[string]Observer{"middle": observerAt(b, g, 2000.3, 2000.4), "summit": observerAt(b, g, c, r)} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				_, err := Skyline(context.Background(), g, o, DefaultSkylineOptions())
				require.NoError(b, err)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/16e6, "ns/post")
		})
	}
}
