package visibility

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// TestNothingBeyondReachComesIntoSight: the skyline of the ground as far as Reach
// is that of all of it, on every bearing, and the ground is often less.
func TestNothingBeyondReachComesIntoSight(t *testing.T) {
	t.Parallel()
	const size = 16 // posts, of a block
	less, farther, all := 0, 0, 0
	for seed := range uint64(30) {
		g := fractal(t, 300, seed)
		random := rand.New(rand.NewPCG(seed, 6))
		if seed%3 == 1 { // a void makes no line sure that meets it
			for range 20 {
				g.Elevations[random.IntN(len(g.Elevations))] = float32(math.NaN())
			}
		}
		column, row := 60+random.Float64()*180, 60+random.Float64()*180
		if seed%2 == 1 { // a hill country that falls away outwards
			for i := range g.Elevations {
				g.Elevations[i] -= float32(6 * max(0, math.Hypot(float64(i%g.Columns)-column, float64(i/g.Columns)-row)-35))
			}
		}
		tops := []float32{}
		for r := 0; r < g.Rows; r += size {
			for c := 0; c < g.Columns; c += size {
				top, voids := Highest(g, dem.Window{Column: c, Row: r, Columns: min(size, g.Columns-c), Rows: min(size, g.Rows-r)}, 1)
				if voids {
					top = math.Inf(1)
				}
				tops = append(tops, float32(top))
			}
		}
		o := observerAt(t, g, column, row)
		o.EyeAboveGround = []float64{1.6, 30}[seed%2]
		if _, err := dem.ElevationAt(g, o.Place); err != nil {
			continue
		}
		near := dem.Window{Column: int(column) - 40, Row: int(row) - 40, Columns: 81, Rows: 81}
		part := func(w dem.Window) *dem.Grid {
			out := &dem.Grid{Frame: g.Sub(w), Window: w}
			for r := range w.Rows {
				out.Elevations = append(out.Elevations, g.Elevations[(w.Row+r)*g.Columns+w.Column:][:w.Columns]...)
			}
			return out
		}
		opts := DefaultSkylineOptions()
		opts.Refraction = []float64{0.13, 0, 1.5}[seed%3]
		b, err := LookBeyond(t.Context(), part(near), o, opts.Refraction)
		require.NoError(t, err)
		reach, err := b.Reach(&g.Frame, size, tops)
		require.NoError(t, err)
		opts.Step = 0.05 // degrees: a fraction of a post
		want, err := Skyline(t.Context(), g, o, opts)
		require.NoError(t, err)
		at := math.Max(reach, 400)
		w, err := windowAround(&g.Frame, geodesy.NewPlane(o.Place), at)
		require.NoError(t, err)
		got, err := Skyline(t.Context(), part(w.Union(near)), o, opts)
		require.NoError(t, err)
		for i, p := range want.Points {
			require.Equal(t, p.Verdict, got.Points[i].Verdict, "seed %d, bearing %v", seed, p.Bearing)
			if !math.IsNaN(p.Slope) {
				require.InDelta(t, p.Slope, got.Points[i].Slope, 1e-9, "seed %d, bearing %v", seed, p.Bearing)
				if p.Distance > 450 {
					farther++
				}
			}
		}
		all++
		if w.Columns*w.Rows < g.Columns*g.Rows/2 {
			less++
		}
	}
	assert.Greater(t, less, all/6, "of %d", all)
	assert.Greater(t, farther, 1000, "ground beyond the near window")
}
