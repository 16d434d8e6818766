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
	"crowline/profile"
)

// TestHorizonAlongIsTheSkylines: on a bearing it is what Skyline finds there,
// voids and the edge of the data among them.
func TestHorizonAlongIsTheSkylines(t *testing.T) {
	t.Parallel()
	// degrees; a leg's bearing comes back from a geodesic, Skyline's is exact
	const tolerance = 1e-6
	compared := 0
	for name := range testFrames(2, 2) {
		for seed := range 8 {
			random := rand.New(rand.NewPCG(uint64(seed), 41))
			const columns, rows = 40, 50
			f := testFrames(columns, rows)[name]
			g := &dem.Grid{Frame: f, Elevations: make([]float32, columns*rows)}
			terrain(random, g, random.IntN(5))
			for range random.IntN(12) {
				g.Elevations[random.IntN(len(g.Elevations))] = float32(math.NaN())
			}
			o := observerAt(t, g, 1.3+random.Float64()*(columns-4), 1.3+random.Float64()*(rows-4))
			opts := DefaultSkylineOptions()
			opts.Step, opts.Radius = 7, 20e3
			h, err := Skyline(context.Background(), g, o, opts)
			if err != nil {
				require.ErrorIs(t, err, dem.ErrVoid)
				continue
			}
			for _, want := range h.Points {
				to, _ := geodesy.Direct(o.Place, want.Bearing, opts.Radius)
				leg, err := profile.Trace(context.Background(), g, o.Place, to)
				require.NoError(t, err)
				got, err := HorizonAlong(leg, o, opts.Refraction)
				require.NoError(t, err)
				if math.IsNaN(float64(want.Angle)) {
					continue
				}
				assert.InDelta(t, float64(want.Angle), float64(got.Angle), tolerance, "%s, seed %d, bearing %v", name, seed, want.Bearing)
				assert.Equal(t, want.Verdict, got.Verdict, "%s, seed %d, bearing %v", name, seed, want.Bearing)
				compared++
			}
		}
	}
	assert.Greater(t, compared, 500)
}
