package visibility

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
	"crowline/profile"
)

// oneBlocker is a line whose only ground between eye and target that can
// ever matter is at a third of the way: all else lies far below. Errors are
// drawn at ten places, 100 m apart, of which the blocker is one.
func oneBlocker(blocker float64) *profile.Leg {
	const spacing, length = 100.0, 900.0
	from := geodesy.LatLon{Lat: 36, Lon: -84}
	to, end := geodesy.Direct(from, 90, length)
	leg := &profile.Leg{
		From: from, To: to, Geodesic: geodesy.Geodesic{Distance: length, Start: 90, End: end},
		Covered: length, Spacing: spacing,
	}
	for i := range 10 {
		d := spacing * float64(i)
		leg.Points = append(leg.Points, profile.Point{Distance: d, Elevation: -1e5, Drop: d * d / 2 / 6371e3})
	}
	leg.Points[0].Elevation, leg.Points[3].Elevation, leg.Points[9].Elevation = 100, blocker, 100
	return leg
}

// closed is the normal form for one blocker at a share f of the way: its
// clearance under the line is c + (1-f) e0 + f eL - eB + (dc/dk)(k - k0), all
// normal.
func closed(leg *profile.Leg, eye, target, k float64, m ErrorModel) float64 {
	const f = 1.0 / 3
	x, length := leg.Points[3].Distance, leg.Distance
	dropB, dropL := leg.Points[3].Drop, leg.Points[9].Drop
	c := (1-f)*(100+eye) + f*(100+target-(1-k)*dropL) - (leg.Points[3].Elevation - (1-k)*dropB)
	r := func(d float64) float64 {
		if m.CorrelationLength == 0 {
			return 0
		}
		return math.Exp(-d / m.CorrelationLength)
	}
	variance := (1-f)*(1-f) + f*f + 1 + 2*(1-f)*f*r(length) - 2*(1-f)*r(x) - 2*f*r(length-x)
	variance *= m.VerticalError * m.VerticalError
	dk := f*dropL - dropB
	variance += dk * dk * m.RefractionError * m.RefractionError
	return 0.5 * math.Erfc(-c/math.Sqrt(2*variance))
}

func probability(t *testing.T, leg *profile.Leg, eye, target float64, m ErrorModel) Likelihood {
	t.Helper()
	l, err := Probability(context.Background(), leg, Observer{Place: leg.From, EyeAboveGround: eye},
		Conditions{TargetAboveGround: target, Refraction: 0.13}, m)
	require.NoError(t, err)
	return l
}

func TestProbabilityOfOneBlocker(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name    string
		blocker float64
		model   ErrorModel
	}{
		{"independent, even", 102, ErrorModel{VerticalError: 9.73}},
		{"independent, clear", 90, ErrorModel{VerticalError: 9.73}},
		{"independent, over", 112, ErrorModel{VerticalError: 9.73}},
		{"independent, far over", 128, ErrorModel{VerticalError: 9.73}},
		{"correlated over 300 m", 112, ErrorModel{VerticalError: 9.73, CorrelationLength: 300}},
		{"correlated over 3 km", 104, ErrorModel{VerticalError: 9.73, CorrelationLength: 3000}},
		{"good data", 103, ErrorModel{VerticalError: 0.82, CorrelationLength: 100}},
		// 0.0095 m a unit of k here; a spread of 100 makes it a metre
		{"refraction alone", 102.5, ErrorModel{RefractionError: 100}},
		{"both", 103, ErrorModel{VerticalError: 1, RefractionError: 100, CorrelationLength: 100}},
	} {
		for seed := range uint64(3) {
			leg := oneBlocker(test.blocker)
			model := test.model
			model.Seed, model.Samples = seed, 20000
			got := probability(t, leg, 1.6, 2, model)
			want := closed(leg, 1.6, 2, 0.13, model)
			se := math.Sqrt(want*(1-want)/20000) + 1e-5
			assert.InDelta(t, want, got.Probability, 4*se, "%s, seed %d", test.name, seed)
			assert.InDelta(t, se, got.StandardError, 0.2*se+1e-4, test.name)
		}
	}
}

// TestDrawsEndWhenTheyAreGoodEnough: a sight that is all but sure after one
// round, an even one after many; and the answer is that of as many draws asked
// for outright, on any number of cores.
func TestDrawsEndWhenTheyAreGoodEnough(t *testing.T) {
	t.Parallel()
	const asked, most = 0.01, 2500
	for _, row := range []struct {
		blocker       float64
		least, atMost int // samples
	}{{60, samplesPerRound, samplesPerRound}, {102, most, most}, {88, 2 * samplesPerRound, most}} {
		leg := oneBlocker(row.blocker)
		model := ErrorModel{VerticalError: 9.73, CorrelationLength: 300, Samples: most, StandardError: asked}
		got := probability(t, leg, 1.6, 2, model)
		want := closed(leg, 1.6, 2, 0.13, model)
		assert.InDelta(t, want, got.Probability, 4*asked, "%v", row)
		assert.LessOrEqual(t, got.StandardError, asked, "%v", row)
		assert.GreaterOrEqual(t, got.Model.Samples, row.least, "%v", row)
		assert.LessOrEqual(t, got.Model.Samples, row.atMost, "%v", row)
		for _, cores := range []int{1, 3} {
			model.Concurrency = cores
			assert.Equal(t, got.Probability, probability(t, leg, 1.6, 2, model).Probability)
		}
		model.Samples, model.StandardError = got.Model.Samples, 0
		assert.Equal(t, got.Probability, probability(t, leg, 1.6, 2, model).Probability)
	}
}

// TestStandardErrorIsHonest: over many seeds the answers scatter as stated.
func TestStandardErrorIsHonest(t *testing.T) {
	t.Parallel()
	leg := oneBlocker(108)
	const n = 200
	model := ErrorModel{VerticalError: 9.73, CorrelationLength: 200, Samples: 1000}
	want := closed(leg, 1.6, 2, 0.13, model)
	sum := 0.0
	for seed := range uint64(n) {
		model.Seed = seed
		l := probability(t, leg, 1.6, 2, model)
		z := (l.Probability - want) / l.StandardError
		sum += z * z
	}
	// the mean of n squares of standard normals is 1 with deviation sqrt(2/n)
	assert.InDelta(t, 1, sum/n, 4*math.Sqrt(2.0/n))
}

func TestProbabilityRisesWithEyeAndTarget(t *testing.T) {
	t.Parallel()
	g := sightGrid(60, 60, hills(9))
	leg := traceCells(t, g, 5, 8, 51, 44)
	m := DefaultErrorModel(9.73, leg)
	m.Samples = 2000
	last, rises := -1.0, 0
	for target := 0.0; target <= 400; target += 20 {
		p := probability(t, leg, 1.6, target, m).Probability
		assert.GreaterOrEqual(t, p, last)
		if p > last {
			rises++
		}
		last = p
	}
	assert.Greater(t, rises, 4)
	last = -1
	for eye := 0.0; eye <= 400; eye += 20 {
		p := probability(t, leg, eye, 20, m).Probability
		assert.GreaterOrEqual(t, p, last)
		last = p
	}
}

func TestProbabilityWithoutErrorIsTheVerdict(t *testing.T) {
	t.Parallel()
	g := sightGrid(60, 60, hills(9))
	for _, c := range [][4]float64{{5, 8, 51, 44}, {10, 50, 14, 41}, {30, 30, 50, 31}, {20, 20, 22, 23}} {
		leg := traceCells(t, g, c[0], c[1], c[2], c[3])
		for _, target := range []float64{0, 30, 200} {
			want := 0.0
			if along(t, leg, 1.6, target, 0.13).Verdict == Visible {
				want = 1
			}
			assert.Equal(t, want, probability(t, leg, 1.6, target, ErrorModel{Samples: 100}).Probability)
		}
	}
}

func TestProbabilityDoesNotDependOnConcurrency(t *testing.T) {
	t.Parallel()
	leg := oneBlocker(105)
	m := ErrorModel{VerticalError: 5, CorrelationLength: 200, RefractionError: 0.06, Seed: 7, Samples: 1234, Concurrency: 1}
	one := probability(t, leg, 1.6, 2, m)
	m.Concurrency = 5
	five := probability(t, leg, 1.6, 2, m)
	assert.Equal(t, math.Float64bits(one.Probability), math.Float64bits(five.Probability))
	m.Seed = 8
	assert.NotEqual(t, one.Probability, probability(t, leg, 1.6, 2, m).Probability)
}

func TestProbabilityOfTheUnknown(t *testing.T) {
	t.Parallel()
	m := ErrorModel{VerticalError: 5, CorrelationLength: 200}
	clear := oneBlocker(60)
	clear.Points[6].Elevation = math.NaN()
	l := probability(t, clear, 1.6, 2, m)
	assert.Equal(t, LikelyUnknown, l.Word)
	assert.True(t, math.IsNaN(l.Probability))
	assert.Greater(t, l.AtMost, 0.99)

	hidden := oneBlocker(160) // known ground that hides it whatever the void holds
	hidden.Points[6].Elevation = math.NaN()
	l = probability(t, hidden, 1.6, 2, m)
	assert.Equal(t, LikelyHidden, l.Word)
	assert.True(t, math.IsNaN(l.Probability))
	assert.Less(t, l.AtMost, 0.01)

	end := oneBlocker(60)
	end.Points[9].Elevation = math.NaN()
	l = probability(t, end, 1.6, 2, m)
	assert.Equal(t, LikelyUnknown, l.Word)
	assert.True(t, math.IsNaN(l.AtMost))
}

func TestProbabilityInWords(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		p              float64
		word, sentence string
	}{
		{1, "visible", "visible"}, {0.95, "visible", "visible"},
		{0.9499, "probably visible", "probably visible"}, {0.75, "probably visible", "probably visible"},
		{0.7499, "doubtful", "probably visible"}, {0.5, "doubtful", "probably visible"},
		{0.4999, "doubtful", "probably hidden"}, {0.25, "doubtful", "probably hidden"},
		{0.2499, "probably hidden", "probably hidden"}, {0.05, "probably hidden", "probably hidden"},
		{0.0499, "hidden", "hidden"}, {0, "hidden", "hidden"}, {math.NaN(), "unknown", "not known"},
	} {
		text, err := InWords(test.p).MarshalText()
		require.NoError(t, err)
		assert.Equal(t, test.word, string(text), "%v", test.p)
		assert.Equal(t, test.sentence, says(test.p), "%v", test.p)
	}
}

func TestProbabilityRefuses(t *testing.T) {
	t.Parallel()
	leg := oneBlocker(100)
	for _, m := range []ErrorModel{
		{VerticalError: -1}, {VerticalError: math.NaN()}, {CorrelationLength: -1}, {RefractionError: math.Inf(1)}, {Samples: -1},
	} {
		_, err := Probability(context.Background(), leg, NewObserver(leg.From), DefaultConditions(), m)
		assert.Error(t, err)
	}
	stopped, stop := context.WithCancel(context.Background())
	stop()
	_, err := Probability(stopped, leg, NewObserver(leg.From), DefaultConditions(), ErrorModel{VerticalError: 1})
	assert.ErrorIs(t, err, context.Canceled)
}
