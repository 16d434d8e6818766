package fix

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
	"crowline/visibility"
)

// Of two marks nearly in line one is near by, and both bearings are out by a
// degree or so to the sides that make their lines meet behind the near one, at 10
// degrees. (Its bearing was said to fit only when turned half round.) Where one
// stands fits as it was read, and comes first; the crossing is listed beside it.
func TestABearingThatFitsAsReadIsNotTurned(t *testing.T) {
	t.Parallel()
	bearings := []Bearing{
		{Name: "far", Place: at(here, 610, 2991), PlaceError: 15, True: 13.8},
		{Name: "near", Place: at(here, 12, 332), PlaceError: 15, True: 3.3},
	}
	f, err := Resect(context.Background(), bearings, Options{})
	require.NoError(t, err)
	require.False(t, f.Candidate.Bearings[0].Turned || f.Candidate.Bearings[1].Turned, "as read comes first")
	require.NotNil(t, f.Region)
	assert.True(t, f.Region.Covers(here))
	turned := 0
	for _, c := range f.Others {
		if c.Bearings[0].Turned || c.Bearings[1].Turned {
			turned++
			assert.Less(t, c.ChiSquare, 0.01, "their lines cross there")
		}
	}
	assert.Positive(t, turned, "both are listed")
	for _, w := range f.Warnings {
		if w.Kind == BackBearing {
			assert.NotContains(t, w.Sentence.Text(visibility.Metric), "only when turned", "places fit it as it was read")
		}
	}
}

// Wherever an answer says that a bearing fits only when turned half round, a
// search of the ground within 8 km, step by step, finds no place that fits it as
// it was read.
func TestOnlyWhenTurnedIsTrue(t *testing.T) {
	t.Parallel()
	const (
		seed   = 5
		trials = 400
		slack  = 0.2 // of chi-square; the ground is looked at from step to step
	)
	random := rand.New(rand.NewPCG(seed, 1))
	said, both := 0, 0
	for range trials {
		// marks on one side or to either, all but in line with the place
		a := 2 * math.Pi * random.Float64()
		b := a + math.Pi*float64(random.IntN(2)) + (random.Float64()-0.5)*0.5
		var bearings []Bearing
		for _, x := range [2]float64{a, b} {
			d := 300 + 5700*random.Float64()
			m := at(here, d*math.Sin(x), d*math.Cos(x))
			bearings = append(bearings, Bearing{Place: m, PlaceError: 15, True: observed(azimuth(here, m) + 2*random.NormFloat64())})
		}
		f, err := Resect(context.Background(), bearings, Options{})
		if err != nil {
			require.ErrorIs(t, err, ErrNoFix)
			continue
		}
		asRead, turned := false, false
		for _, c := range append([]Candidate{f.Candidate}, f.Others...) {
			back := c.Bearings[0].Turned || c.Bearings[1].Turned
			asRead, turned = asRead || !back, turned || back
		}
		if asRead {
			if turned {
				both++
			}
			continue
		}
		said++
		least := math.Inf(1)
		plane := geodesy.NewPlane(here)
		p := problem{bearings: bearings, resect: true, turned: make([]bool, 2)}
		for _, m := range bearings {
			me, mn := plane.Forward(m.Place)
			for d := 3.0; d < 8000; d *= 1.1 {
				for w := range 90 {
					s, c := math.Sincos(float64(w) * 4 * math.Pi / 180)
					v, ok, err := p.chiSquare(plane.Inverse(me+d*s, mn+d*c))
					require.NoError(t, err)
					if ok {
						least = min(least, v)
					}
				}
			}
		}
		assert.Greater(t, least, ambiguous-slack, "seed %d: %+v", seed, bearings)
	}
	t.Logf("turned only %d times, both ways %d of %d", said, both, trials)
	assert.Positive(t, both)
}
