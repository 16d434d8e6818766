package visibility

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"crowline/dem"
)

// fractal is mountain ground by midpoint displacement (Fournier, Fussell and
// Carpenter, Communications of the ACM 25:371, 1982): size x size posts of
// 10 m, with the relief of a steep range, the same for the same seed.
func fractal(tb testing.TB, size int, seed uint64) *dem.Grid {
	tb.Helper()
	n := 1
	for n+1 < size {
		n *= 2
	}
	w := n + 1
	h := make([]float32, w*w)
	random := rand.New(rand.NewPCG(seed, 1))
	amplitude := 900.0 * math.Pow(float64(n)/4096, 0.85)
	at := func(c, r int) float64 { return float64(h[r*w+c]) }
	for _, i := range []int{0, n, n * w, n*w + n} {
		h[i] = float32(1500 + amplitude*random.NormFloat64())
	}
	for step := n; step > 1; step /= 2 {
		half := step / 2
		for r := half; r < w; r += step {
			for c := half; c < w; c += step {
				mean := (at(c-half, r-half) + at(c+half, r-half) + at(c-half, r+half) + at(c+half, r+half)) / 4
				h[r*w+c] = float32(mean + amplitude*random.NormFloat64())
			}
		}
		for r := 0; r < w; r += half {
			for c := half - r%step; c < w; c += step {
				if c < 0 {
					continue
				}
				sum, count := 0.0, 0.0
				for _, d := range [4][2]int{{-half, 0}, {half, 0}, {0, -half}, {0, half}} {
					if x, y := c+d[0], r+d[1]; x >= 0 && x < w && y >= 0 && y < w {
						sum, count = sum+at(x, y), count+1
					}
				}
				h[r*w+c] = float32(sum/count + amplitude*random.NormFloat64())
			}
		}
		amplitude *= math.Pow(2, -0.85) // a Hurst exponent of 0.85: eroded mountains
	}
	g := &dem.Grid{
		Frame:      dem.Frame{Columns: size, Rows: size, X0: 720000, Y0: 4050000, DX: 10, DY: -10, CRS: utm17},
		Elevations: make([]float32, size*size),
	}
	for r := range size {
		copy(g.Elevations[r*size:(r+1)*size], h[r*w:r*w+size])
	}
	return g
}

func observerAt(tb testing.TB, g *dem.Grid, column, row float64) Observer {
	tb.Helper()
	place, err := g.Place(column, row)
	require.NoError(tb, err)
	return NewObserver(place)
}
