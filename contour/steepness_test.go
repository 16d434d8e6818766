package contour

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
)

// TestSteepnessOfRows: rows given in any portions have the steepness of the
// whole.
func TestSteepnessOfRows(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(8, 1))
	for _, g := range []*dem.Grid{fractal(90, 130, 100, 3), fractal(700, 900, 300, 4), rough(random, 50, 60, 9, 0.1)} {
		want, err := MeasureSteepness(g)
		require.NoError(t, err)
		require.Positive(t, want.Cells)
		s := NewSteepnessSampler(&g.Frame)
		for at := 0; at < g.Rows; {
			n := min(random.IntN(20), g.Rows-at)
			require.NoError(t, s.Add(at, g.Elevations[at*g.Columns:(at+n)*g.Columns]))
			at += n
		}
		assert.Equal(t, want, s.Steepness())
	}
}
