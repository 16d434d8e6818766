package dem

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

func TestCoefficientsEvaluateToTheLine(t *testing.T) {
	t.Parallel()
	f := lonLatFrame(300, 200)
	centre, err := f.Place(100, 120)
	require.NoError(t, err)
	p, err := NewPlacement(&f, geodesy.NewPlane(centre), f.Whole())
	require.NoError(t, err)
	for _, line := range []Line{p.Row(17), p.Column(240)} {
		mid, half, east, north := line.Coefficients()
		for _, index := range []float64{0, 33, 150.5, 199} {
			u := (index - mid) / half
			e, n := 0.0, 0.0
			for a := range east {
				e += east[a] * math.Pow(u, float64(a))
				n += north[a] * math.Pow(u, float64(a))
			}
			le, ln := line.At(index)
			// 1e-9 m: rounding of sums of some 20 km
			assert.InDelta(t, le, e, 1e-9)
			assert.InDelta(t, ln, n, 1e-9)
		}
	}
}
