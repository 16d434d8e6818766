package profile

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSpeedOnTheLevel: a kilometre on the level at 4 km/h takes a quarter of an
// hour by Naismith and DIN 33466, and by Tobler off path that over 0.6.
func TestSpeedOnTheLevel(t *testing.T) {
	t.Parallel()
	const speed = 4000.0 / 3600
	leg := timedLeg(plane(101, 0)...)
	times, ok := leg.TimesAt(leg.Climb(0, 0), speed).Whole()
	require.True(t, ok)
	assert.InDelta(t, 15, times[ByNaismithLangmuir].Minutes(), 0.02)
	assert.InDelta(t, 25, times[ByTobler].Minutes(), 0.02)
	assert.InDelta(t, 15, times[ByDIN33466].Minutes(), 0.02)
}

// TestSpeedAsTheRulesHaveIt: at a rule's own speed its time is its own, and the
// climb is timed alike at any.
func TestSpeedAsTheRulesHaveIt(t *testing.T) {
	t.Parallel()
	for seed := range uint64(40) {
		random := rand.New(rand.NewPCG(seed, 3))
		slope := random.Float64() - 0.5 // 27 degrees either way
		leg := timedLeg(plane(201, 10*slope)...)
		c := leg.Climb(0, 0)
		own, ok := leg.Times(c).Whole()
		require.True(t, ok)
		for rule, speed := range map[Rule]Speed{ByNaismithLangmuir: naismithSpeed, ByDIN33466: dinSpeed, ByTobler: Speed(ToblerSpeed(0) / 3.6)} {
			at, _ := leg.TimesAt(c, speed).Whole()
			assert.Equal(t, own[rule], at[rule], "seed %d, %v", seed, rule)
		}
		// a faster walker is never slower, and no time is nought
		last, _ := leg.TimesAt(c, 1000.0/3600).Whole()
		for _, kmh := range []float64{2, 3, 4, 5, 6, 7, 8} {
			at, _ := leg.TimesAt(c, Speed(kmh/3.6)).Whole()
			for rule := range at {
				assert.LessOrEqual(t, at[rule], last[rule], "seed %d, %v at %g km/h", seed, Rule(rule), kmh)
				assert.Greater(t, at[rule], 2*time.Minute, "seed %d, %v at %g km/h", seed, Rule(rule), kmh)
			}
			last = at
		}
	}
}

func TestRulesByName(t *testing.T) {
	t.Parallel()
	for r := range rules {
		got, err := ParseRule(r.String())
		require.NoError(t, err)
		assert.Equal(t, r, got)
	}
	_, err := ParseRule("stroll")
	assert.ErrorContains(t, err, "naismith, tobler or din")
}
