package profile

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
)

// wall is level ground at 500 m with a smooth ridge 200 m high across it from
// row 0 down to row foot, where it ends.
func wall(foot int) *dem.Grid {
	return makeGrid(101, 101, func(c, r int) float64 {
		across := math.Max(0, 1-math.Abs(float64(c)-50)/20)
		along := math.Min(1, math.Max(0, float64(foot-r)/12))
		return 500 + 200*across*across*along
	})
}

// TestADoglegRoundTheEndOfARidge: going round costs no climb at all.
func TestADoglegRoundTheEndOfARidge(t *testing.T) {
	t.Parallel()
	g := wall(60)
	leg := trace(t, g, 10, 45, 90, 45)
	straight := leg.Climb(5, 0)
	require.Greater(t, straight.Ascent, 150.0)
	d, err := FindDogleg(context.Background(), g, leg, DoglegOptions{DeadBand: 5})
	require.NoError(t, err)
	require.NotNil(t, d)
	assert.LessOrEqual(t, d.Ascent, 0.75*straight.Ascent)
	assert.GreaterOrEqual(t, d.Saved, 60.0)
	assert.LessOrEqual(t, d.Extra, 0.15*leg.Distance)
	_, row, err := g.Locate(d.Waypoint)
	require.NoError(t, err)
	assert.Greater(t, row, 50.0, "round the foot, not over the crest")
	// what it says is what its two legs say
	const tolerance = 1e-6 // m
	assert.InDelta(t, d.First.Climb(5, 0).Ascent+d.Second.Climb(5, 0).Ascent, d.Ascent, tolerance)
	assert.InDelta(t, d.First.Distance+d.Second.Distance, leg.Distance+d.Extra, tolerance)
	assert.InDelta(t, straight.Ascent-d.Ascent, straight.Descent-d.Descent, tolerance)

	again, err := FindDogleg(context.Background(), g, leg, DoglegOptions{DeadBand: 5})
	require.NoError(t, err)
	assert.Equal(t, d.Waypoint, again.Waypoint)
}

// TestNoDogleg where none plainly saves climb.
func TestNoDogleg(t *testing.T) {
	t.Parallel()
	level := makeGrid(101, 101, func(_, _ int) float64 { return 500 })
	slope := makeGrid(101, 101, func(c, _ int) float64 { return 500 + 4*float64(c) })
	for _, row := range []struct {
		name string
		grid *dem.Grid
		o    DoglegOptions
	}{
		{"level ground", level, DoglegOptions{}},
		{"an even slope", slope, DoglegOptions{}},
		{"a ridge without an end", wall(1000), DoglegOptions{}},
		{"an end too far off", wall(85), DoglegOptions{}},
		{"a saving within the data's error", wall(60), DoglegOptions{DeadBand: 5, VerticalError: 80}},
		{"no detour allowed", wall(60), DoglegOptions{DeadBand: 5, MaxDetour: 1e-4}},
		{"more to be saved than there is", wall(60), DoglegOptions{DeadBand: 5, MinSaving: 500}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			d, err := FindDogleg(context.Background(), row.grid, trace(t, row.grid, 10, 45, 90, 45), row.o)
			require.NoError(t, err)
			assert.Nil(t, d)
		})
	}
}

// TestADoglegKeepsOffSteepGround: with the way round made a cliff, and with
// it void, none is proposed.
func TestADoglegKeepsOffSteepGround(t *testing.T) {
	t.Parallel()
	for _, bad := range []func(c, r int) float64{
		func(c, _ int) float64 { return 500 + 150*float64(c%2) }, // steps of 150 m in 75 m
		func(_, _ int) float64 { return math.NaN() },
	} {
		g := wall(60)
		for r := 50; r < 101; r++ {
			for c := 40; c < 60; c++ {
				g.Elevations[r*101+c] = float32(bad(c, r))
			}
		}
		for r := range 40 {
			for c := 40; c < 60; c++ {
				g.Elevations[r*101+c] = float32(bad(c, r))
			}
		}
		leg := trace(t, g, 10, 45, 90, 45)
		require.Empty(t, leg.Gradient().GroundSteep)
		d, err := FindDogleg(context.Background(), g, leg, DoglegOptions{DeadBand: 5})
		require.NoError(t, err)
		assert.Nil(t, d)
	}
}

func TestADoglegStops(t *testing.T) {
	t.Parallel()
	g := wall(60)
	leg := trace(t, g, 10, 45, 90, 45)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := FindDogleg(ctx, g, leg, DoglegOptions{})
	require.ErrorIs(t, err, context.Canceled)
	_, err = FindDogleg(context.Background(), g, leg, DoglegOptions{MaxDetour: -1})
	require.Error(t, err)
}

// TestADoglegKeepsOffGroundNobodyWalks: round the foot of a steep ridge is less
// steep ground than over it, but a step of over 40 degrees that cannot be
// walked.
func TestADoglegKeepsOffGroundNobodyWalks(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		step float64 // metres, in 75
		want bool
	}{{20, true}, {80, false}} {
		g := makeGrid(101, 101, func(c, r int) float64 {
			level := 500.0
			if c < 50 {
				level += row.step
			}
			if r >= 60 {
				return level
			}
			return max(level, 700-50*math.Abs(float64(c)-50))
		})
		leg := trace(t, g, 10, 45, 90, 45)
		require.True(t, leg.walkable())
		d, err := FindDogleg(context.Background(), g, leg, DoglegOptions{DeadBand: 5})
		require.NoError(t, err)
		assert.Equal(t, row.want, d != nil, "%v", row)
	}
}
