package visibility

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// TestAVoidAtTheRimIsTheDatasEnd: 2026-11-30. A rim of voids made 354 of 360
// bearings of a skyline "not known" and put landmarks in another order; trimmed
// off, all were plain sky. A void with data behind it stays unknown.
func TestAVoidAtTheRimIsTheDatasEnd(t *testing.T) {
	t.Parallel()
	const size, rim = 120, 9
	whole := fractal(t, size, 7)
	size2 := size - 2*rim
	trimmed := &dem.Grid{Frame: whole.Sub(dem.Window{Column: rim, Row: rim, Columns: size2, Rows: size2})}
	ringed := *whole
	ringed.Elevations = make([]float32, len(whole.Elevations))
	for r := range size {
		for c := range size {
			i := r*size + c
			ringed.Elevations[i] = whole.Elevations[i]
			if c < rim || r < rim || c >= size-rim || r >= size-rim {
				ringed.Elevations[i] = float32(math.NaN())
			} else {
				trimmed.Elevations = append(trimmed.Elevations, whole.Elevations[i])
			}
		}
	}
	at, err := whole.Place(55.3, 61.6)
	require.NoError(t, err)
	o := Observer{Place: at, EyeAboveGround: 30}
	opts := DefaultSkylineOptions()
	opts.Step = 1
	skyline := func(g *dem.Grid) *Horizon {
		h, err := Skyline(t.Context(), g, o, opts)
		require.NoError(t, err)
		require.Len(t, h.Points, 360)
		return h
	}
	was, now := skyline(trimmed), skyline(&ringed)
	for i, p := range now.Points {
		require.Equal(t, Visible, was.Points[i].Verdict, "bearing %v", p.Bearing)
		require.Equal(t, Visible, p.Verdict, "bearing %v", p.Bearing)
		require.InDelta(t, was.Points[i].Slope, p.Slope, 1e-9)
	}

	var candidates []Candidate
	for r := rim + 4; r < size-rim-4; r += 9 {
		for c := rim + 4; c < size-rim-4; c += 9 {
			place, err := whole.Place(float64(c), float64(r))
			require.NoError(t, err)
			candidates = append(candidates, PlaceCandidate("", place))
		}
	}
	landmarks := func(g *dem.Grid) []Landmark {
		marks, err := Landmarks(t.Context(), g, o, candidates, DefaultLandmarkOptions())
		require.NoError(t, err)
		return marks
	}
	a, b := landmarks(trimmed), landmarks(&ringed)
	require.Len(t, b, len(a))
	sky := 0
	for i, m := range a {
		require.Equal(t, m.Place, b[i].Place)
		require.Equal(t, m.Backdrop, b[i].Backdrop)
		require.InDelta(t, m.Score, b[i].Score, 1e-9)
		if m.Backdrop == BackdropSky {
			sky++
		}
		require.NotEqual(t, BackdropUnknown, b[i].Backdrop)
	}
	assert.Positive(t, sky)

	// a void with ground behind it on that bearing
	holed := ringed
	holed.Elevations = append([]float32(nil), ringed.Elevations...)
	for c := 80; c < 90; c++ {
		for r := 55; r < 68; r++ {
			holed.Elevations[r*size+c] = float32(math.NaN())
		}
	}
	h := skyline(&holed)
	unknown := 0
	for _, p := range h.Points {
		if p.Verdict == Unknown {
			unknown++
			assert.Less(t, math.Abs(float64(geodesy.Difference(90, p.Bearing))), 20.0)
		}
	}
	assert.Greater(t, unknown, 10)
}
