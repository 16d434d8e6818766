package profile

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestNaismithLangmuir(t *testing.T) {
	t.Parallel()
	// Naismith 1892, metric form; Langmuir 1984: 1 km legs. The formulas are
	// the books', the figures arithmetic from them.
	for _, row := range []struct{ length, rise, seconds float64 }{
		{1000, 100, 1320},
		{1000, -100, 520},
		{1000, -150, 420},
		{1000, -300, 1320},
		{1000, -50, 720},
		{10000, 600, 180 * 60},
		{16000, 900, 282 * 60},
		{5000, 300, 90 * 60},
		{20000, 1600, 400 * 60}, // 6 h 40 min by the metric form
	} {
		assert.InDelta(t, row.seconds, NaismithLangmuir(Move{row.length, row.rise}), 1e-9, "%v", row)
	}
}

func TestToblerSpeed(t *testing.T) {
	t.Parallel()
	// Tobler 1993, NCGIA TR 93-1, the formula evaluated to four places.
	for _, row := range [][2]float64{{-0.3, 2.5012}, {-0.1, 5.0367}, {-0.05, 6}, {0, 5.0367}, {0.05, 4.2281},
		{0.1, 3.5493}, {0.2, 2.5012}, {0.3, 1.7625}, {0.5, 0.8753}} {
		assert.InDelta(t, row[1], ToblerSpeed(row[0]), 5e-5, "%v", row)
	}
}

func TestDIN33466(t *testing.T) {
	t.Parallel()
	// DIN 33466: 8 km and 900 m up is its worked example, 4 h; the others are
	// arithmetic from the rule.
	for _, row := range []struct{ length, up, down, hours float64 }{
		{8000, 900, 0, 4}, {10000, 1200, 0, 5.25}, {10000, 0, 1200, 3.70}, {8000, 600, 600, 4.2},
	} {
		assert.InDelta(t, row.hours*3600, DIN33466(row.length, row.up, row.down), 1e-6, "%v", row)
	}
}

func TestDoublePaces(t *testing.T) {
	t.Parallel()
	assert.InDelta(t, 975, DoublePaces(1500, 65), 1e-9)
}

// timedLeg is a leg with a crossing and a post every 10 m.
func timedLeg(heights ...float64) *Leg {
	l := legOf(heights...)
	l.Spacing = 10
	return l
}

// plane is n heights that rise by so much each.
func plane(n int, rise float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 1000 + rise*float64(i)
	}
	return out
}

// TestTimesOfAPlane: one even slope, by the rules' own formulas; and with a
// void across it, the same for every rule but Langmuir's, which may take up to
// 10 minutes less for 300 m of fall.
func TestTimesOfAPlane(t *testing.T) {
	t.Parallel()
	const n, length = 101, 1000.0
	for _, rise := range []float64{0, 0.5, 3, -0.3, -1.5, -4} { // m in 10 m: 0, 3, 17, -2, -9 and -22 degrees
		leg := timedLeg(plane(n, rise)...)
		whole := leg.Times(leg.Climb(0, 0))
		up, down := max(0, rise*(n-1)), max(0, -rise*(n-1))
		assert.InDelta(t, NaismithLangmuir(Move{length, rise * (n - 1)}), whole.WithoutSteep[ByNaismithLangmuir].Seconds(), 0.5, "%v", rise) // s, rounded
		assert.InDelta(t, length/(ToblerSpeed(rise/10)*0.6/3.6), whole.WithoutSteep[ByTobler].Seconds(), 0.5, "%v", rise)
		assert.InDelta(t, DIN33466(length, up, down), whole.WithoutSteep[ByDIN33466].Seconds(), 0.5, "%v", rise)
		assert.Equal(t, length, whole.Timed)
		assert.Zero(t, whole.NoData)
		assert.False(t, whole.AtLeast)

		for i := 41; i < 60; i++ {
			leg.Points[i].Elevation = math.NaN()
		}
		void := leg.Times(leg.Climb(0, 0))
		assert.InDelta(t, whole.WithoutSteep[ByTobler].Seconds(), void.WithoutSteep[ByTobler].Seconds(), 1, "%v", rise)
		assert.Equal(t, whole.WithoutSteep[ByDIN33466], void.WithoutSteep[ByDIN33466], "%v", rise)
		want := whole.WithoutSteep[ByNaismithLangmuir].Seconds()
		switch fall := -rise * 20; {
		case rise == -4: // all but 12 degrees of it earned, not paid
			want -= 200 * math.Tan(12*math.Pi/180) * 2 * 2
		case rise == -0.3: // too gentle to earn, but it could be in steps of 5 to 12 degrees
			want -= fall * 2
		}
		assert.InDelta(t, want, void.WithoutSteep[ByNaismithLangmuir].Seconds(), 1, "%v", rise)
		assert.Equal(t, length, void.Timed)
		assert.InDelta(t, 200, void.NoData, 1e-9)
		assert.True(t, void.AtLeast)
	}
}

// TestTimesAreOfTheKnownGround: a leg that leaves the data, or ends in a
// void, is timed as the leg to its last known ground is.
func TestTimesAreOfTheKnownGround(t *testing.T) {
	t.Parallel()
	heights := plane(61, 2)
	short := timedLeg(heights...)
	want := short.Times(short.Climb(0, 0))

	leaves := timedLeg(heights...)
	leaves.Distance = 1380 // Covered stays 600
	got := leaves.Times(leaves.Climb(0, 0))
	assert.Equal(t, 600.0, got.Timed)
	assert.InDelta(t, 0, got.NoData, 1e-9)
	assert.True(t, got.AtLeast)
	got.AtLeast = false
	assert.Equal(t, want, got)

	void := timedLeg(append(heights, math.NaN(), math.NaN(), math.NaN())...)
	got = void.Times(void.Climb(0, 0))
	assert.Equal(t, 600.0, got.Timed)
	assert.InDelta(t, 0, got.NoData, 1e-9)
	assert.True(t, got.AtLeast)
	got.AtLeast = false
	assert.Equal(t, want, got)

	// the last known ground lies within a piece
	long := timedLeg(append(heights, math.NaN(), math.NaN(), math.NaN())...)
	long.Spacing = 70
	assert.Equal(t, 600.0, long.Times(long.Climb(0, 0)).Timed)
}

// TestAVoidIsTimedAtTheLeast: whatever ground a void hides, no rule says less
// for it than for the void.
func TestAVoidIsTimedAtTheLeast(t *testing.T) {
	t.Parallel()
	const slack = 1.0 // s, rounding of the two
	random := rand.New(rand.NewPCG(3, 1))
	timed := 0
	for n := range 500 {
		heights := []float64{500}
		steepness := 6 * random.Float64() // m in 10 m
		drift := 2 * (random.Float64() - 0.6) * steepness
		for range 60 {
			heights = append(heights, heights[len(heights)-1]+drift+steepness*(random.Float64()-0.5))
		}
		leg := timedLeg(heights...)
		whole := leg.Times(leg.Climb(0, 0))
		from, to := 1+random.IntN(20), 30+random.IntN(30)
		for i := from; i < to; i++ {
			leg.Points[i].Elevation = math.NaN()
		}
		c := leg.Climb(0, 0)
		require.True(t, c.AtLeast)
		void := leg.Times(c)
		require.True(t, void.AtLeast)
		if _, ok := whole.Whole(); !ok {
			continue // what a void hides may be no walking ground
		}
		_, ok := void.Whole()
		require.True(t, ok, "seed %d", n)
		timed++
		require.LessOrEqual(t, void.WithoutSteep[ByNaismithLangmuir].Seconds(), whole.WithoutSteep[ByNaismithLangmuir].Seconds()+slack, "seed %d", n)
		require.LessOrEqual(t, void.WithoutSteep[ByTobler].Seconds(), whole.WithoutSteep[ByTobler].Seconds()+slack, "seed %d", n)
		require.LessOrEqual(t, void.WithoutSteep[ByDIN33466].Seconds(), whole.WithoutSteep[ByDIN33466].Seconds()+slack, "seed %d", n)
	}
	assert.Greater(t, timed, 250)
}

// rise10 is the rise of 10 m at a slope, degrees.
func rise10(degrees float64) float64 { return 10 * math.Tan(degrees*math.Pi/180) }

// stepped is a leg of 10 m pieces at slopes told as pairs: how many pieces, at
// how many degrees.
func stepped(parts ...[2]float64) *Leg {
	heights := []float64{1000}
	for _, p := range parts {
		for range int(p[0]) {
			heights = append(heights, heights[len(heights)-1]+rise10(p[1]))
		}
	}
	return timedLeg(heights...)
}

// TestNoTimeForGroundNobodyWalks: a wall of 59 degrees was timed at 43 min by
// one rule and 15 h by another. Over 40 degrees the leg has no time; what is
// left without the wall has that of its two parts put together.
func TestNoTimeForGroundNobodyWalks(t *testing.T) {
	t.Parallel()
	leg := stepped([2]float64{40, -8}, [2]float64{24, -59}, [2]float64{30, 15})
	got := leg.Times(leg.Climb(5, 0))
	_, ok := got.Whole()
	assert.False(t, ok)
	assert.Equal(t, []Stretch{{400, 640}}, got.NoWalking)
	assert.Nil(t, got.Steep)

	rest := stepped([2]float64{40, -8}, [2]float64{30, 15})
	want, ok := rest.Times(rest.Climb(5, 0)).Whole()
	assert.True(t, ok)
	assert.Equal(t, want, got.WithoutSteep)
}

// TestTheLimitsOfWalkingGround: from 30 to 40 degrees, up or down, a leg has
// a time and a caution; over 40 it has none.
func TestTheLimitsOfWalkingGround(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		degrees     float64
		time, steep bool
	}{{29.9, true, false}, {30.1, true, true}, {39.9, true, true}, {40.1, false, false}, {85, false, false}} {
		for _, way := range []float64{1, -1} {
			leg := stepped([2]float64{20, 3}, [2]float64{5, way * row.degrees}, [2]float64{20, 3})
			got := leg.Times(leg.Climb(5, 0))
			_, ok := got.Whole()
			assert.Equal(t, row.time, ok, "%v", row)
			assert.Equal(t, row.steep, len(got.Steep) == 1, "%v", row)
			where := append(got.NoWalking, got.Steep...)
			if row.steep || !row.time {
				assert.Equal(t, []Stretch{{200, 250}}, where, "%v", row)
			}
		}
	}
}

// TestATimeWithoutSteepStretchesIsOfTheRest: on random ground, it is that of
// the pieces left, put together end to end.
func TestATimeWithoutSteepStretchesIsOfTheRest(t *testing.T) {
	t.Parallel()
	const rounding = 2 * time.Second // of the sum of parts cut at other places
	random := rand.New(rand.NewPCG(40, 1))
	walls := 0
	for n := range 500 {
		var all, rest [][2]float64
		total := 0.0
		for range 2 + random.IntN(12) {
			part := [2]float64{float64(1 + random.IntN(8)), 70 * (random.Float64() - 0.5)}
			if random.IntN(4) == 0 {
				part[1] = math.Copysign(41+40*random.Float64(), part[1])
				total += part[0] * 10
			} else {
				rest = append(rest, part)
			}
			all = append(all, part)
		}
		whole, left := stepped(all...), stepped(rest...)
		got := whole.Times(whole.Climb(0, 0))
		sum := 0.0
		for _, s := range got.NoWalking {
			sum += s.To - s.From
		}
		require.InDelta(t, total, sum, 1e-6, "seed %d", n)
		if len(rest) == 0 {
			require.Equal(t, RuleTimes{}, got.WithoutSteep)
			continue
		}
		want, ok := left.Times(left.Climb(0, 0)).Whole()
		require.True(t, ok)
		for rule := range want {
			require.InDelta(t, want[rule], got.WithoutSteep[rule], float64(rounding), "seed %d, rule %d", n, rule)
		}
		if total > 0 {
			walls++
		}
	}
	assert.Greater(t, walls, 250)
}

// TestAVoidBetweenTopAndFootOfAWallIsNoWalkingGround, and one between known
// ground on a walkable slope is not.
func TestAVoidBetweenTopAndFootOfAWallIsNoWalkingGround(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		degrees float64
		ok      bool
	}{{20, true}, {50, false}} {
		leg := stepped([2]float64{20, 3}, [2]float64{6, row.degrees}, [2]float64{20, 3})
		for i := 21; i < 26; i++ {
			leg.Points[i].Elevation = math.NaN()
		}
		got := leg.Times(leg.Climb(5, 0))
		_, ok := got.Whole()
		assert.Equal(t, row.ok, ok, "%v", row)
		assert.True(t, got.AtLeast)
		if !ok {
			assert.Equal(t, []Stretch{{200, 260}}, got.NoWalking)
		}
	}
}

// TestWhyTheRulesDiffer: said where the longest time is more than double the
// shortest, and what for.
func TestWhyTheRulesDiffer(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		degrees float64
		want    Apart
	}{{0, NotApart}, {10, NotApart}, {-3, NotApart}, {-9, ApartOnGentleFalls}, {-25, ApartOnSteepGround}, {38, ApartOnSteepGround}} {
		leg := stepped([2]float64{50, row.degrees})
		got := leg.Times(leg.Climb(5, 0))
		assert.Equal(t, row.want, got.Apart, "%v", row)
		shortest, longest := got.WithoutSteep.Extremes()
		for _, d := range got.WithoutSteep {
			assert.GreaterOrEqual(t, d, got.WithoutSteep[shortest])
			assert.LessOrEqual(t, d, got.WithoutSteep[longest])
		}
	}
}
