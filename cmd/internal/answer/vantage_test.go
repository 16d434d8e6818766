package answer

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
	"crowline/visibility"
	"crowline/visibility/vantage"
)

func vantageOf(t *testing.T, change func(*VantageRequest)) (*Ground, *VantageAnswer) {
	t.Helper()
	r := DefaultVantage()
	r.Around = PlaceAt(geodesy.LatLon{Lat: 34.3297, Lon: -118.0548})
	r.Radius, r.Needle, r.MarksTo = 1000, Needle{Day: lookDay}, 3000
	change(&r)
	require.NoError(t, r.Check())
	g, err := Open(t.Context(), Data{}, r.Reach())
	require.NoError(t, err)
	t.Cleanup(func() { g.Close() })
	a, err := Vantage(t.Context(), g, r)
	require.NoError(t, err)
	return g, a
}

// TestVantageSeesWhatSightSees: of marks to see, every post of the area has the
// verdict that sight gives from there; asked of posts all over it.
func TestVantageSeesWhatSightSees(t *testing.T) {
	t.Parallel()
	knob, bench := PlaceAt(geodesy.LatLon{Lat: 34.3115, Lon: -118.0533}), PlaceAt(geodesy.LatLon{Lat: 34.3008, Lon: -118.0514})
	g, a := vantageOf(t, func(r *VantageRequest) { r.See = []Place{knob, bench} })
	told := map[int]int{}
	for i := 0; i < len(a.visible); i += 37 {
		if !a.area.In(i) {
			continue
		}
		place, err := a.area.Place(i)
		require.NoError(t, err)
		sees := 0
		for _, m := range a.request.See {
			s, err := Sight(t.Context(), g, SightRequest{From: PlaceAt(place), To: m, Sighting: a.request.Sighting, Needle: a.request.Needle})
			require.NoError(t, err)
			if s.Sight.Verdict == visibility.Visible {
				sees++
			}
		}
		require.EqualValues(t, sees, a.visible[i], "from %s", place)
		told[sees]++
	}
	assert.NotZero(t, told[0])
	assert.NotZero(t, told[1])
	require.NotEmpty(t, a.Standpoints)
	for _, s := range a.Standpoints {
		for k, m := range s.Marks {
			got, err := Sight(t.Context(), g, SightRequest{From: PlaceAt(s.At.LatLon()), To: a.request.See[k], Sighting: a.request.Sighting, Needle: a.request.Needle})
			require.NoError(t, err)
			assert.Equal(t, got.Sight.Verdict, m.Verdict)
			const degrees = 1e-6 // both are of the places as given
			assert.InDelta(t, got.Bearing.TrueDeg, m.TrueDeg, degrees)
		}
	}
}

// TestStandpointsForAClass: they stand where a group can, apart, with a fix that can
// be taught, and those behind steep ground come last; within each kind the best
// first.
func TestStandpointsForAClass(t *testing.T) {
	t.Parallel()
	_, a := vantageOf(t, func(r *VantageRequest) { r.Radius = 1500 })
	require.Greater(t, len(a.Standpoints), 3)
	steep, worth := false, math.Inf(1)
	for i, s := range a.Standpoints {
		assert.Equal(t, i+1, s.Rank)
		assert.True(t, s.GoodGround)
		assert.Equal(t, vantage.Good, a.stand[s.post])
		require.NotNil(t, s.Fix)
		assert.GreaterOrEqual(t, s.Fix.CrossingDeg, 30.0)
		if s.Steep() && !steep {
			steep, worth = true, math.Inf(1)
		}
		assert.Equal(t, steep, s.Steep())
		assert.LessOrEqual(t, s.Worth, worth)
		worth = s.Worth
		in := 0
		for _, m := range s.Marks {
			if m.InFix {
				in++
				assert.False(t, m.Doubtful(), "a fix rests on a mark that may not show")
			}
		}
		assert.Equal(t, s.Fix.Bearings, in)
		for _, o := range a.Standpoints[:i] {
			const rounding = 0.1 // m, of places in float32
			assert.GreaterOrEqual(t, geodesy.Inverse(s.At.LatLon(), o.At.LatLon()).Distance, a.ApartM-rounding)
		}
	}
}

// TestWatchedShareIsThatOfTheLeg: a standpoint's share of a leg is that of its
// stretches, and near that of the places every post was asked about.
func TestWatchedShareIsThatOfTheLeg(t *testing.T) {
	t.Parallel()
	from, to := PlaceAt(geodesy.LatLon{Lat: 34.3297, Lon: -118.0548}), PlaceAt(geodesy.LatLon{Lat: 34.3150, Lon: -118.0650})
	_, a := vantageOf(t, func(r *VantageRequest) {
		r.WatchFrom, r.WatchTo = &from, &to
		r.Sighting.Target = policy.WalkerSeen
	})
	require.NotEmpty(t, a.Standpoints)
	for _, s := range a.Standpoints {
		seen := 0.0
		for _, x := range s.Stretches {
			if x.Verdict == visibility.Visible.String() {
				seen += x.ToM - x.FromM
			}
		}
		assert.InDelta(t, seen/a.Watched.DistanceM, s.Worth, 1e-9)
		const sampled = 0.1 // of the leg: places a post apart against stretches
		assert.InDelta(t, s.Score, s.Worth, sampled)
	}
}

// TestVantageRefuses what makes no sense.
func TestVantageRefuses(t *testing.T) {
	t.Parallel()
	place := PlaceAt(geodesy.LatLon{Lat: 34.3, Lon: -118})
	for name, change := range map[string]func(*VantageRequest){
		"no radius":      func(r *VantageRequest) { r.Radius = 0 },
		"half a leg":     func(r *VantageRequest) { r.WatchFrom = &place },
		"two questions":  func(r *VantageRequest) { r.WatchFrom, r.WatchTo, r.See = &place, &place, []Place{place} },
		"none told":      func(r *VantageRequest) { r.Most = 0 },
		"a wall":         func(r *VantageRequest) { r.Slope = 80 },
		"no marks":       func(r *VantageRequest) { r.MarksTo = 0 },
		"a blunt needle": func(r *VantageRequest) { r.Errors.Compass = 0 },
	} {
		r := DefaultVantage()
		r.Around = place
		require.NoError(t, r.Check())
		change(&r)
		assert.True(t, IsWrongRequest(r.Check()), name)
	}
}
