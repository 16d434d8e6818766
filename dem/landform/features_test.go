package landform

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
)

// ground is elevation in metres at x east, y north of the middle, metres.
type ground func(x, y float64) float64

// onGrid puts ground of some size, turned by some degrees and with normal
// noise, on 161 x 161 posts of 30 m times size.
func onGrid(t testing.TB, of ground, size, turned, noise float64) *dem.Grid {
	const side = 161
	random := rand.New(rand.NewPCG(uint64(turned), uint64(noise*10)))
	s, c := math.Sincos(turned * math.Pi / 180)
	h := make([]float32, side*side)
	for i := range h {
		x, y := 30*float64(i%side-side/2), -30*float64(i/side-side/2)
		h[i] = float32(size*of(c*x+s*y, c*y-s*x) + noise*random.NormFloat64())
	}
	g := square(t, side, side, h)
	g.DX, g.DY = 30*size, -30*size
	g.Source.VerticalError = max(noise, 0.5)
	return g
}

var synthetic = []struct {
	name string
	of   ground
	// how many of each kind, least and most; a kind not named must be absent
	want map[Kind][2]int
}{
	{"plane", func(x, y float64) float64 { return 500 + 0.1*x }, nil},
	{"cone", func(x, y float64) float64 { return 500 - 0.2*math.Hypot(x, y) }, map[Kind][2]int{Hill: {1, 1}}},
	{"basin", func(x, y float64) float64 { return 300 + 0.2*math.Min(math.Hypot(x, y), 1200) }, map[Kind][2]int{Depression: {1, 1}}},
	{"two hills", func(x, y float64) float64 {
		hill := func(at, tall float64) float64 { return tall * math.Exp(-((x-at)*(x-at)+y*y)/(2*500*500)) }
		return hill(-900, 300) + hill(900, 240)
	}, map[Kind][2]int{Hill: {2, 2}, Saddle: {1, 1}, Ridge: {0, 1}, Spur: {0, 4}}},
	// a ridge along y = 0 with its crest at 400, falling to both ends, and
	// three spurs to the north; the end of the ridge beyond its last spur may
	// be taken for another, or a ridge of its own
	{"ridge with spurs", func(x, y float64) float64 {
		// round-backed, with flanks of 50 %
		crest := func(across, top float64) float64 { return top - 0.5*(math.Hypot(across, 150)-150) }
		top := func(x float64) float64 { return 400 - x*x/60000 }
		h := crest(y, top(x))
		for _, at := range []float64{-1200, 0, 1200} {
			if y > 0 {
				h = math.Max(h, crest(x-at, top(at)-0.1*y))
			}
		}
		return math.Max(h, 100-y/100)
	}, map[Kind][2]int{Hill: {1, 1}, Ridge: {1, 2}, Spur: {3, 4}, Draw: {0, 3}, Valley: {0, 3}}},
	// a valley with a floor of 2 %, and one of 15 %
	{"valley", func(x, y float64) float64 { return 0.02*(y+2400) + math.Abs(x)*0.25 }, map[Kind][2]int{Valley: {1, 1}}},
	{"draw", func(x, y float64) float64 { return 0.15*(y+2400) + math.Abs(x)*0.35 }, map[Kind][2]int{Draw: {1, 1}}},
	{"step", func(x, y float64) float64 { return 100 + 90/(1+math.Exp(-x/8)) }, map[Kind][2]int{Cliff: {1, 1}}},
}

func TestFeaturesOfSyntheticGround(t *testing.T) {
	t.Parallel()
	for _, s := range synthetic {
		for _, size := range []float64{0.5, 1, 3} {
			for _, turned := range []float64{0, 27, 45, 160} {
				for _, noise := range []float64{0, 2} {
					t.Run(fmt.Sprintf("%s size %g turned %g noise %g", s.name, size, turned, noise), func(t *testing.T) {
						t.Parallel()
						g := onGrid(t, s.of, size, turned, noise*size)
						found, err := Features(context.Background(), g, FeatureOptions{Scale: 500 * size, MinRelief: size * max(8, 5*noise)})
						require.NoError(t, err)
						count := map[Kind]int{}
						for _, f := range found {
							count[f.Kind]++
							assert.True(t, f.Confidence >= 0.5 && f.Confidence <= 1)
							assert.NotEmpty(t, f.Reason.Text(Lengths{}))
							assert.Greater(t, f.Size, 0.0)
						}
						for _, k := range kinds {
							r := s.want[k]
							assert.True(t, count[k] >= r[0] && count[k] <= r[1], "%d of %s, not %v", count[k], k, r)
						}
						if t.Failed() {
							for _, f := range found {
								t.Logf("%s %d,%d size %.0f relief %.0f confidence %.2f: %s", f.Kind, f.Column, f.Row, f.Size, f.Relief, f.Confidence, f.Reason.Text(Lengths{}))
							}
						}
					})
				}
			}
		}
	}
}
