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

// TestAnAslantRimIsTheDatasEnd: 2026-12-01. The border of ground that was turned is
// a stair: a line that leaves it at a low angle meets the next step's posts, and was
// "not known" for that. An inlet of voids, far from the border, stays one.
func TestAnAslantRimIsTheDatasEnd(t *testing.T) {
	t.Parallel()
	const size = 160
	for _, turned := range []float64{0.7, 3, 12, 40} { // degrees
		g := *fractal(t, size, 11)
		g.Elevations = append([]float32(nil), g.Elevations...)
		sin, cos := math.Sincos(turned * math.Pi / 180)
		void := func(holes func(x, y float64) bool) *dem.Grid {
			out := g
			out.Elevations = append([]float32(nil), g.Elevations...)
			for i := range out.Elevations {
				c, r := float64(i%size)-size/2, float64(i/size)-size/2
				if x, y := c*cos+r*sin, r*cos-c*sin; max(math.Abs(x), math.Abs(y)) > 55 || holes(x, y) {
					out.Elevations[i] = float32(math.NaN())
				}
			}
			return &out
		}
		aslant := void(func(x, y float64) bool { return false })
		inlet := void(func(x, y float64) bool { return x > 25 && math.Abs(y-2) < 1.5 })
		for _, at := range [][2]float64{{80.3, 80.6}, {70.2, 50.7}, {110.6, 77.1}, {64.4, 98.8}} {
			place, err := g.Place(at[0], at[1])
			require.NoError(t, err)
			o := Observer{Place: place, EyeAboveGround: 3}
			opts := DefaultSkylineOptions()
			opts.Step = 0.25
			h, err := Skyline(t.Context(), aslant, o, opts)
			require.NoError(t, err)
			for _, p := range h.Points {
				require.Equal(t, Visible, p.Verdict, "turned by %g degrees, from %v, bearing %v", turned, at, p.Bearing)
			}
			h, err = Skyline(t.Context(), inlet, o, opts)
			require.NoError(t, err)
			unknown := 0
			for _, p := range h.Points {
				if p.Verdict == Unknown {
					unknown++
				}
			}
			assert.Positive(t, unknown, "turned by %g degrees, from %v", turned, at)
			var candidates []Candidate
			for k := range 40 {
				place, err := g.Place(50+1.5*float64(k), 60+float64(k*7%40))
				require.NoError(t, err)
				candidates = append(candidates, PlaceCandidate("", place))
			}
			marks, err := Landmarks(t.Context(), aslant, o, candidates, DefaultLandmarkOptions())
			require.NoError(t, err)
			for _, m := range marks {
				require.NotEqual(t, BackdropUnknown, m.Backdrop, "turned by %g degrees, from %v, mark at %v", turned, at, m.Place)
			}
		}
	}
}
