package visibility

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// TestAMapsSummitIsSeenByItsOwnTop: 2026-11-28, 2026-11-30. Places of summits written to
// five decimals stand beside their post, and a quarter of those in sight were
// told as hidden, by centimetres.
func TestAMapsSummitIsSeenByItsOwnTop(t *testing.T) {
	t.Parallel()
	g := sightGrid(40, 40, func(c, r int) float64 { return 500 - 40*math.Sqrt(math.Hypot(float64(c-30), float64(r-20))) })
	from, err := g.Place(5, 20)
	require.NoError(t, err)
	look := func(column, row float64) Landmark {
		at, err := g.Place(column, row)
		require.NoError(t, err)
		opts := LandmarkOptions{Conditions: DefaultConditions(), Leg: traceCells(t, g, 5, 20, 15, 20)}
		within := geodesy.Degrees(180)
		opts.Within = within
		marks, err := Landmarks(t.Context(), g, Observer{Place: from, EyeAboveGround: 2}, []Candidate{PlaceCandidate("knob", at)}, opts)
		require.NoError(t, err)
		require.Len(t, marks, 1)
		return marks[0]
	}
	top := look(30, 20)
	require.Equal(t, Visible, top.Sight.Verdict)
	assert.Nil(t, top.Top)
	for _, beyond := range []float64{0.001, 0.01, 0.45} {
		m := look(30+beyond, 20)
		require.Equal(t, Visible, m.Sight.Verdict, "%v", beyond)
		assert.InDelta(t, 0, geodesy.Inverse(m.LookedAt, top.Place).Distance, 1e-3)
		assert.InDelta(t, 500, m.Sight.TargetElevation, 1e-3)
		assert.Less(t, m.Elevation, 500.0, "its own")
		// told of where that is more than how places are written
		if far := beyond > 0.1; far {
			require.NotNil(t, m.Top)
			assert.InDelta(t, 0, geodesy.Inverse(*m.Top, top.Place).Distance, 1e-3)
			assert.InDelta(t, 500, m.TopElevation, 1e-3)
		} else {
			assert.Nil(t, m.Top)
		}
		// all that is told of it is told of the top; its bearing is its own
		assert.Equal(t, top.Backdrop, m.Backdrop)
		assert.InDelta(t, float64(top.AngularHeight), float64(m.AngularHeight), 1e-3)
		assert.InDelta(t, top.KeptShare, m.KeptShare, 1e-6)
		assert.InDelta(t, top.Distance+beyond*traceCells(t, g, 29, 20, 30, 20).Distance, m.Distance, 0.05)
	}
	assert.Equal(t, Hidden, look(30.55, 20).Sight.Verdict, "nearer to another post")
	assert.Equal(t, Hidden, look(34, 20).Sight.Verdict)
}
