package landform

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"crowline/dem"
)

// fractal is ground made of waves: octaves of
// halving wavelength and amplitude, turned against each other.
func fractal(t testing.TB, side int) *dem.Grid {
	random := rand.New(rand.NewPCG(1, 2))
	h := make([]float32, side*side)
	for octave, amplitude := 0, 400.0; octave < 9; octave, amplitude = octave+1, amplitude*0.55 {
		wave := 2 * math.Pi * math.Pow(2, float64(octave)) / 1000
		a, p, q := random.Float64()*math.Pi, random.Float64()*6, random.Float64()*6
		sa, ca := math.Sincos(a)
		for r := range side {
			for c := range side {
				u, v := ca*float64(c)+sa*float64(r), ca*float64(r)-sa*float64(c)
				h[r*side+c] += float32(amplitude * (math.Sin(u*wave+p) + math.Sin(v*wave+q+math.Sin(u*wave/3))))
			}
		}
	}
	return square(t, side, side, h)
}

func BenchmarkSummits(b *testing.B) {
	for _, side := range []int{1000, 4000} {
		g := fractal(b, side)
		b.Run(map[int]string{1000: "1M", 4000: "16M"}[side], func(b *testing.B) {
			b.ReportAllocs()
			n := 0
			for b.Loop() {
				s, err := Summits(context.Background(), g, SummitOptions{MinProminence: 20, Isolation: true})
				require.NoError(b, err)
				n = len(s)
			}
			b.ReportMetric(float64(n), "summits")
			b.ReportMetric(float64(side*side)*float64(b.N)/b.Elapsed().Seconds(), "posts/s")
		})
	}
}

func BenchmarkFeatures(b *testing.B) {
	g := fractal(b, 1000)
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		f, err := Features(context.Background(), g, FeatureOptions{Scale: 500, VerticalError: 2})
		require.NoError(b, err)
		n = len(f)
	}
	b.ReportMetric(float64(n), "features")
	b.ReportMetric(1e6*float64(b.N)/b.Elapsed().Seconds(), "posts/s")
}
