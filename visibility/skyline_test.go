package visibility

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// walkSkyline finds the skyline on one bearing the plain way: it walks the
// line and keeps the highest slope; unknown is whether a void on it has data
// behind.
func walkSkyline(p *problem, bearing geodesy.TrueBearing) (slope, distance float64, unknown bool) {
	sin, cos := geodesy.Degrees(bearing).SinCos()
	reach := min(p.radius, 1e6)
	slope = math.Inf(-1)
	// a walk leaves out what lies within NearLimit of its end
	end := reach + 2*dem.NearLimit
	void := false
	p.cells.placement.Walk(end*sin, end*cos, func(x dem.Crossing) bool {
		if p.cells.through(x) || x.Distance > reach {
			return true
		}
		qc, qr := x.Q()
		h := dem.Lerp(p.lowered(x.Column, x.Row), p.lowered(qc, qr), x.Fraction)
		unknown = unknown || void && !math.IsNaN(h)
		if math.IsNaN(h) {
			void = true
		} else if s := (h - p.eye) / x.Distance; s > slope {
			slope, distance = s, x.Distance
		}
		return true
	})
	return slope, distance, unknown
}

// TestSkylineIsTheHighestSlope: on every bearing the skyline is what walking
// the line finds, with voids, radius and sector.
func TestSkylineIsTheHighestSlope(t *testing.T) {
	t.Parallel()
	// slopes agree to rounding; a distance is compared where the slope is
	// not nearly shared by other ground
	const slopeTolerance = 1e-9
	rounds := 15
	if testing.Short() {
		rounds = 6
	}
	for name := range testFrames(2, 2) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			for seed := range rounds {
				random := rand.New(rand.NewPCG(uint64(seed), 99))
				columns, rows := 10+random.IntN(60), 10+random.IntN(60)
				f := testFrames(columns, rows)[name]
				g := &dem.Grid{Frame: f, Elevations: make([]float32, columns*rows)}
				terrain(random, g, random.IntN(5))
				if random.IntN(2) == 0 {
					for range 10 {
						g.Elevations[random.IntN(len(g.Elevations))] = float32(math.NaN())
					}
				}
				column, row := 1+random.Float64()*float64(columns-3), 1+random.Float64()*float64(rows-3)
				if random.IntN(2) == 0 {
					column, row = math.Round(column), math.Round(row)
				}
				o := observerAt(t, g, column, row)
				opts := DefaultSkylineOptions()
				opts.Step = 0.7
				spacing, _, err := f.Spacing(0, 0)
				require.NoError(t, err)
				if random.IntN(2) == 0 {
					opts.Radius = spacing * (1 + 30*random.Float64())
				}
				if random.IntN(3) == 0 {
					opts.Sector = &Sector{From: 300, To: 80}
				}
				h, err := Skyline(context.Background(), g, o, opts)
				if err != nil {
					require.ErrorIs(t, err, dem.ErrVoid)
					continue
				}
				vo := ViewshedOptions{Conditions: Conditions{Refraction: opts.Refraction}, Radius: opts.Radius, Sector: opts.Sector}
				_, p, err := newProblem(context.Background(), g, o, vo)
				require.NoError(t, err)
				for _, point := range h.Points {
					slope, distance, unknown := walkSkyline(p, point.Bearing)
					if math.IsInf(slope, -1) {
						assert.True(t, math.IsNaN(point.Slope), "seed %d, bearing %v", seed, point.Bearing)
						continue
					}
					require.InDelta(t, slope, point.Slope, slopeTolerance, "seed %d, bearing %v: at %v m, want %v m", seed, point.Bearing, point.Distance, distance)
					assert.Equal(t, unknown, point.Verdict == Unknown, "seed %d, bearing %v", seed, point.Bearing)
					e, n := p.cells.placement.Plane.Forward(point.Place)
					assert.InDelta(t, point.Distance, math.Hypot(e, n), 1e-6)
				}
				if opts.Sector == nil {
					assert.Len(t, h.Points, 515) // 360/0.7, rounded up
				}
			}
		})
	}
}

// TestSkylineFromTheViewshedsPass: the same horizon, to the last bit, when
// it comes with a viewshed.
func TestSkylineFromTheViewshedsPass(t *testing.T) {
	t.Parallel()
	g := fractal(t, 200, 3)
	o := observerAt(t, g, 90.2, 110.7)
	opts := DefaultViewshedOptions()
	opts.HorizonStep, opts.Radius = 1, 700
	v, err := Viewshed(context.Background(), g, o, opts)
	require.NoError(t, err)
	sky := DefaultSkylineOptions()
	sky.Step, sky.Radius = 1, 700
	h, err := Skyline(context.Background(), g, o, sky)
	require.NoError(t, err)
	assert.Equal(t, h, v.Horizon)
	opts.HorizonStep = 0
	plain, err := Viewshed(context.Background(), g, o, opts)
	require.NoError(t, err)
	assert.Equal(t, plain.Verdicts, v.Verdicts)
}

func TestSkylineRefusesAStepOfNothing(t *testing.T) {
	t.Parallel()
	g := fractal(t, 20, 3)
	for _, step := range []geodesy.Degrees{0, -1, 1e-5, 91, geodesy.Degrees(math.NaN())} {
		opts := DefaultSkylineOptions()
		opts.Step = step
		_, err := Skyline(context.Background(), g, observerAt(t, g, 9, 9), opts)
		assert.Error(t, err, "%v", step)
	}
}
