package drift_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
	"crowline/profile/drift"
)

// one is a bearing's error in degrees that makes 1.96 standard deviations of
// some degrees.
func one(degrees float64) geodesy.Degrees { return geodesy.Degrees(degrees / drift.NineteenInTwenty) }

// The sideways error d tan(e), to a centimetre: 1 km at 1, 2 and 5 degrees
// (published in every handbook; computed with tan).
func TestSidewaysErrorOfOneStretch(t *testing.T) {
	t.Parallel()
	const tolerance = 0.006 // m; the table has two decimals
	for _, c := range []struct{ degrees, metres float64 }{{1, 17.46}, {2, 34.92}, {5, 87.49}} {
		e := drift.Errors{Compass: one(c.degrees)}
		assert.InDelta(t, c.metres, e.OnCompass(1000), tolerance)
		w, err := drift.Along(e, []drift.Stretch{{To: 1000, Kind: drift.Compass}})
		require.NoError(t, err)
		assert.InDelta(t, c.metres, w.HalfWidth(1000), tolerance)
		assert.InDelta(t, c.metres/2, w.HalfWidth(500), tolerance)
		assert.InDelta(t, c.degrees, float64(e.AimOff()), 1e-12)
		assert.InDelta(t, 1000, e.LongestOnCompass(e.OnCompass(1000)), 1e-9)
	}
	// with the declination's: the two angles together, as independent
	e := drift.Errors{Compass: 2, Declination: 1.5}
	assert.InDelta(t, 5000*math.Tan(1.959964*2.5*math.Pi/180), e.OnCompass(5000), 1e-6)
	assert.True(t, math.IsInf(drift.Errors{}.LongestOnCompass(10), 1))
}

// TestClosedForms: stretches whose answer can be written down.
func TestClosedForms(t *testing.T) {
	t.Parallel()
	const z = drift.NineteenInTwenty
	const tolerance = 1e-3 // share; small angles, where the tangent is the angle
	e := drift.Errors{Compass: 0.2, Declination: 0.1}
	c, d := 0.2*math.Pi/180, 0.1*math.Pi/180
	compass := func(from, to float64) drift.Stretch { return drift.Stretch{From: from, To: to, Kind: drift.Compass} }
	for _, x := range []struct {
		name      string
		stretches []drift.Stretch
		at, want  float64
	}{
		{"two bearings: independent but for the declination", []drift.Stretch{compass(0, 600), compass(600, 1400)}, 1400,
			z * math.Sqrt(c*c*(600*600+800*800)+d*d*1400*1400)},
		{"a recognised place starts anew", []drift.Stretch{{To: 600, Kind: drift.Compass, Reset: true, MarkError: 3}, compass(600, 1400)}, 1400,
			z * math.Sqrt(9+(c*c+d*d)*800*800)},
		{"at a mark only its own error is left", []drift.Stretch{compass(0, 600), {From: 600, To: 1400, Kind: drift.Sighted, MarkError: 20}}, 1400, z * 20},
		{"half way to the mark half of either", []drift.Stretch{compass(0, 600), {From: 600, To: 1400, Kind: drift.Sighted, MarkError: 20}}, 1000,
			z * math.Sqrt(100+(c*c+d*d)*300*300)},
		{"a mark twice as far as one goes", []drift.Stretch{compass(0, 600), {From: 600, To: 1400, Kind: drift.Sighted, Mark: 2200, MarkError: 20}}, 1400,
			z * math.Sqrt(100+(c*c+d*d)*300*300)},
		{"the start is known", []drift.Stretch{compass(0, 600)}, 0, 0},
		{"beyond the end as at the end", []drift.Stretch{compass(0, 600)}, 900, z * 600 * math.Hypot(c, d)},
	} {
		w, err := drift.Along(e, x.stretches)
		require.NoError(t, err, x.name)
		assert.InDelta(t, x.want, w.HalfWidth(x.at), tolerance*x.want, x.name)
	}
}

// TestHalfWidthHolds19In20 walks random legs with random errors and counts how
// often the walker is inside, at the end and on the way.
func TestHalfWidthHolds19In20(t *testing.T) {
	t.Parallel()
	const walks = 40_000
	// share; four standard deviations of the count, and the small angles' part
	const tolerance = 4*0.00109 + 0.002
	for seed := uint64(1); seed <= 6; seed++ {
		random := rand.New(rand.NewPCG(seed, 1906))
		e := drift.Errors{Compass: geodesy.Degrees(1 + 3*random.Float64()), Declination: geodesy.Degrees(random.Float64()), Pacing: 0.02 + 0.1*random.Float64()}
		var stretches []drift.Stretch
		at := 0.0
		for range 1 + random.IntN(5) {
			s := drift.Stretch{From: at, To: at + 100 + 1500*random.Float64(), Kind: drift.Compass, MarkError: 30 * random.Float64()}
			if random.IntN(2) == 0 {
				s.Kind = drift.Sighted
				if random.IntN(2) == 0 {
					s.Mark = s.To + 1000*random.Float64()
				}
			} else {
				s.Reset = random.IntN(3) == 0
			}
			at = s.To
			stretches = append(stretches, s)
		}
		w, err := drift.Along(e, stretches)
		require.NoError(t, err)
		spots := []float64{at * 0.3, at * 0.71, at}
		inside, paced := make([]int, len(spots)), make([]int, len(spots))
		for range walks {
			common := float64(e.Declination) * random.NormFloat64()
			pacing := e.Pacing * random.NormFloat64()
			y, known, knownError := 0.0, 0.0, 0.0
			for _, s := range stretches {
				angle := (common + float64(e.Compass)*random.NormFloat64()) * math.Pi / 180
				markAside, markAlong := s.MarkError*random.NormFloat64(), s.MarkError*random.NormFloat64()
				offset := func(x float64) float64 {
					if s.Kind == drift.Compass {
						return y + (x-s.From)*math.Tan(angle)
					}
					return y + (markAside-y)*(x-s.From)/(math.Max(s.Mark, s.To)-s.From)
				}
				for i, x := range spots {
					// the end of the leg is looked at on reaching what is there
					if x > s.From && (x < s.To || x == at && s.To == at) {
						o, k, ke := offset(x), known, knownError
						if x == s.To && (s.Reset && s.Kind == drift.Compass || s.Kind == drift.Sighted && s.Mark <= s.To) {
							o, k, ke = markAside, s.To, markAlong
						}
						if math.Abs(o) <= w.HalfWidth(x) {
							inside[i]++
						}
						if math.Abs(ke+pacing*(x-k)) <= w.PacedHalf(x) {
							paced[i]++
						}
					}
				}
				y = offset(s.To)
				if s.Kind == drift.Sighted && s.Mark <= s.To || s.Kind == drift.Compass && s.Reset {
					y, known, knownError = markAside, s.To, markAlong
				}
			}
		}
		for i, x := range spots {
			assert.InDelta(t, 0.95, float64(inside[i])/walks, tolerance, "seed %d: beside the line at %.0f m of %+v", seed, x, stretches)
			assert.InDelta(t, 0.95, float64(paced[i])/walks, tolerance, "seed %d: along the line at %.0f m of %+v", seed, x, stretches)
		}
	}
}

func TestPacing(t *testing.T) {
	t.Parallel()
	e := drift.DefaultErrors()
	w, err := drift.Along(e, []drift.Stretch{{To: 2000, Kind: drift.Sighted, MarkError: 10}, {From: 2000, To: 3000, Kind: drift.Compass}})
	require.NoError(t, err)
	// 10 % of 1.9 km, near enough: common practice's larger figure
	assert.InDelta(t, 0.098*1900, w.PacedHalf(1900), 0.01)
	assert.InDelta(t, 1.959964*10, w.PacedHalf(2000), 1e-6)
	assert.InDelta(t, 1.959964*math.Hypot(10, 50), w.PacedHalf(3000), 1e-6)
	assert.Equal(t, 0.0, w.LastKnown(1900))
	assert.Equal(t, 2000.0, w.LastKnown(2900))
}

// TestStripFollowsTheHalfWidth: it begins at the start, ends at the end, never
// goes back, and is as wide as HalfWidth says but just before a mark.
func TestStripFollowsTheHalfWidth(t *testing.T) {
	t.Parallel()
	w, err := drift.Along(drift.DefaultErrors(), []drift.Stretch{
		{To: 700, Kind: drift.Compass, Reset: true, MarkError: 5},
		{From: 700, To: 1500, Kind: drift.Sighted, MarkError: 10},
		{From: 1500, To: 2000, Kind: drift.Compass},
	})
	require.NoError(t, err)
	strip := w.Strip(100)
	assert.Equal(t, drift.Edge{}, strip[0])
	assert.Equal(t, 2000.0, strip[len(strip)-1].Distance)
	assert.Equal(t, w.Length(), 2000.0)
	assert.True(t, slices.IsSortedFunc(strip, func(a, b drift.Edge) int {
		if a.Distance < b.Distance {
			return -1
		}
		return 0
	}))
	for i, x := range strip {
		if i+1 < len(strip) && strip[i+1].Distance == x.Distance {
			assert.Equal(t, 700.0, x.Distance, "only a compass stretch jumps where it ends")
			assert.InDelta(t, drift.DefaultErrors().OnCompass(700), x.HalfWidth, 1e-9)
			continue
		}
		assert.InDelta(t, w.HalfWidth(x.Distance), x.HalfWidth, 1e-9, "at %g m", x.Distance)
	}
	assert.Len(t, w.Strip(0), 5) // start, three ends, and one jump
}

// More marks never widen the end.
func TestARecognisedPlaceNeverMakesDriftWorse(t *testing.T) {
	t.Parallel()
	for seed := uint64(1); seed <= 200; seed++ {
		random := rand.New(rand.NewPCG(seed, 7))
		length := 500 + 4000*random.Float64()
		cut := length * (0.1 + 0.8*random.Float64())
		e := drift.Errors{Compass: geodesy.Degrees(0.5 + 3*random.Float64()), Declination: geodesy.Degrees(random.Float64())}
		whole, err := drift.Along(e, []drift.Stretch{{To: length, Kind: drift.Compass}})
		require.NoError(t, err)
		parted, err := drift.Along(e, []drift.Stretch{{To: cut, Kind: drift.Compass, Reset: true}, {From: cut, To: length, Kind: drift.Compass}})
		require.NoError(t, err)
		assert.Less(t, parted.HalfWidth(length), whole.HalfWidth(length), "seed %d", seed)
	}
}

func TestWhatCannotBeWalkedIsSaid(t *testing.T) {
	t.Parallel()
	good := []drift.Stretch{{To: 100, Kind: drift.Compass}}
	for name, c := range map[string]struct {
		errors    drift.Errors
		stretches []drift.Stretch
		says      string
	}{
		"nothing":          {drift.Errors{}, nil, "no stretch"},
		"a gap":            {drift.Errors{}, append(slices.Clone(good), drift.Stretch{From: 150, To: 200, Kind: drift.Compass}), "begins at 150 m"},
		"no start":         {drift.Errors{}, []drift.Stretch{{From: 10, To: 100, Kind: drift.Compass}}, "begins at 10 m"},
		"no length":        {drift.Errors{}, []drift.Stretch{{Kind: drift.Compass}}, "no length"},
		"not a number":     {drift.Errors{}, []drift.Stretch{{To: math.NaN(), Kind: drift.Compass}}, "no length"},
		"no kind":          {drift.Errors{}, []drift.Stretch{{To: 100}}, `not by ""`},
		"a mark below 0":   {drift.Errors{}, []drift.Stretch{{To: 100, Kind: drift.Compass, MarkError: -1}}, "mark's error"},
		"compass below 0":  {drift.Errors{Compass: -1}, good, "compass error of -1"},
		"compass too far":  {drift.Errors{Compass: 45}, good, "compass error of 45"},
		"declination NaN":  {drift.Errors{Declination: geodesy.Degrees(math.NaN())}, good, "declination error"},
		"pacing in per ct": {drift.Errors{Pacing: 5}, good, "pacing error of 5"},
	} {
		_, err := drift.Along(c.errors, c.stretches)
		assert.ErrorContains(t, err, c.says, name)
	}
}

func ExampleAlong() {
	leg := 5200.0
	alone, _ := drift.Along(drift.DefaultErrors(), []drift.Stretch{{To: leg, Kind: drift.Compass}})
	marks, _ := drift.Along(drift.DefaultErrors(), []drift.Stretch{
		{From: 0, To: 3400, Kind: drift.Sighted, MarkError: 15},
		{From: 3400, To: 3900, Kind: drift.Compass},
		{From: 3900, To: leg, Kind: drift.Sighted, MarkError: 15},
	})
	fmt.Printf("on the compass alone %.0f m either side, by these sights %.0f m\n", alone.HalfWidth(leg), marks.HalfWidth(leg))
	// Output: on the compass alone 356 m either side, by these sights 29 m
}
