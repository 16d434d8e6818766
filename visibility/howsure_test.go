package visibility

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestTheLikelihoodRanksMarks: a pillar beyond one blocker, whose likelihood
// has a closed form, and a nearer one with nothing before it. Without a
// vertical error the farther comes first; with one its score is what it was
// times the likelihood, and it comes last.
func TestTheLikelihoodRanksMarks(t *testing.T) {
	t.Parallel()
	const here, blocker, error = 10, 99.0, 9.73
	ground := map[[2]int]float64{{here, 5}: 100, {13, 5}: blocker, {19, 5}: 100, {2, 5}: 100}
	g := metricGrid(t, 22, 11, 100, func(c, r int) float64 {
		if h, ok := ground[[2]int{c, r}]; ok {
			return h
		}
		return -1e5
	})
	o := NewObserver(at(t, g, here, 5))
	list := []Candidate{candidate(t, g, "near", 2, 5), candidate(t, g, "far", 19, 5)}
	opts := DefaultLandmarkOptions()
	plain, err := Landmarks(t.Context(), g, o, list, opts)
	require.NoError(t, err)
	require.Len(t, plain, 2)
	assert.Equal(t, "far", plain[0].Name)
	for _, m := range plain {
		assert.Equal(t, Visible, m.Sight.Verdict)
		assert.Nil(t, m.Likelihood)
		assert.False(t, m.Doubtful())
		assert.NotContains(t, m.Why, "sure")
	}

	opts.VerticalError = error
	var first []Landmark
	for _, cores := range []int{1, 3} {
		opts.Concurrency = cores
		sure, err := Landmarks(t.Context(), g, o, list, opts)
		require.NoError(t, err)
		if first == nil {
			first = sure
		}
		for i := range sure {
			require.Equal(t, first[i].Likelihood.Probability, sure[i].Likelihood.Probability)
		}
		assert.Equal(t, first[0].Score, sure[0].Score)
	}
	near, far := first[0], first[1]
	require.Equal(t, "near", near.Name)
	want := closed(oneBlocker(blocker), o.EyeAboveGround, 0, opts.Refraction,
		ErrorModel{VerticalError: error, CorrelationLength: 300, RefractionError: DefaultRefractionError})
	assert.InDelta(t, want, far.Likelihood.Probability, 4*markStandardError)
	assert.InDelta(t, plain[0].Score*far.Likelihood.Probability, far.Score, 1e-12)
	assert.Equal(t, 1.0, near.Likelihood.Probability)
	assert.Equal(t, plain[1].Score, near.Score)
	assert.True(t, far.Doubtful())
	assert.False(t, near.Doubtful())
	assert.Contains(t, near.Why, ": visible, over 99 % chance to see it; ")
	assert.Contains(t, far.Why, ": "+says(far.Likelihood.Probability)+", "+Percent(far.Likelihood.Probability)+" chance to see it: by the data's heights it clears by ")
	assert.Contains(t, far.Why, ", so it ranks lower; ")

	opts.VerticalError = math.NaN()
	_, err = Landmarks(t.Context(), g, o, list, opts)
	assert.Error(t, err)
}

func TestAMarkIsDoubtfulUnder75PerCent(t *testing.T) {
	t.Parallel()
	for p, doubtful := range map[float64]bool{0.1: true, 0.749: true, 0.75: false, 1: false, math.NaN(): false} {
		m := Landmark{Sight: Sight{Verdict: Visible}, Likelihood: &Likelihood{Probability: p}}
		assert.Equal(t, doubtful, m.Doubtful(), "%v", p)
		if !math.IsNaN(p) {
			assert.Equal(t, doubtful, InWords(p) < ProbablyVisible, "%v", p)
		}
	}
	hidden := Landmark{Sight: Sight{Verdict: Hidden}, Likelihood: &Likelihood{Probability: 0.1}}
	assert.False(t, hidden.Doubtful())
}

// TestAHiddenMarksLikelihoodIsPartOfWhatHidesIt: one statement, whose words
// follow the likelihood where it is not certain.
func TestAHiddenMarksLikelihoodIsPartOfWhatHidesIt(t *testing.T) {
	t.Parallel()
	mark := func(p float64) *Landmark {
		return &Landmark{Sight: Sight{Verdict: Hidden, TargetExtra: 2, BlockedBy: BlockerGround, BlockedAt: 300}, Likelihood: &Likelihood{Word: InWords(p), Probability: p, AtMost: 0.3}}
	}
	assert.Contains(t, mark(0.001).Explain(Metric), ": under 1 % chance to see it, hidden by 2 m behind ground 300 m off.")
	assert.Contains(t, mark(0.4).Explain(Metric), "probably hidden, 40 % chance to see it; by the data's heights hidden by 2 m behind ground 300 m off.")
	assert.Contains(t, mark(math.NaN()).Explain(Metric), ": at most 30 % chance to see it, hidden by 2 m behind ground 300 m off.")
}

// TestLengthsAreRoundedAlike: half a metre goes up here as it does on paper.
func TestLengthsAreRoundedAlike(t *testing.T) {
	t.Parallel()
	assert.Equal(t, "707 m", Metric.Distance(706.5))
	assert.Equal(t, "707 m", Metric.Height(706.5))
}
