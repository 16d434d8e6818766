package report

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"crowline/cmd/internal/answer"
	"crowline/visibility"
)

// TestAVerdictAndHowSureAreOneStatement: the words follow the likelihood where
// it is known, whatever the heights as they are say.
func TestAVerdictAndHowSureAreOneStatement(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		verdict        visibility.Verdict
		probability    float64
		words, because string
	}{
		{visibility.Visible, 0.999, "it is visible, over 99 % chance to see it", ""},
		{visibility.Visible, 0.8, "it is probably visible, 80 % chance to see it", "by the data's heights "},
		{visibility.Visible, 0.74, "it is probably visible, 74 % chance to see it", "by the data's heights "},
		{visibility.Visible, 0.6, "it is probably visible, 60 % chance to see it", "by the data's heights "},
		{visibility.Hidden, 0.4, "it is probably hidden, 40 % chance to see it", "by the data's heights "},
		{visibility.Hidden, 0.1, "it is probably hidden, 10 % chance to see it", "by the data's heights "},
		{visibility.Hidden, 0.001, "it is hidden, under 1 % chance to see it", ""},
	} {
		l := visibility.Likelihood{Word: visibility.InWords(row.probability), Probability: row.probability}
		words, because := whether("it", row.verdict, answer.NewLikelihood(l))
		assert.Equal(t, row.words, words)
		assert.Equal(t, row.because, because)
	}
	words, because := whether("it", visibility.Visible, nil) // the error is not known
	assert.Equal(t, "it is visible", words)
	assert.Empty(t, because)
	bound := visibility.Likelihood{Probability: math.NaN(), AtMost: 0.3}
	words, _ = whether("it", visibility.Hidden, answer.NewLikelihood(bound))
	assert.Equal(t, "it is hidden by the data's heights, at most 30 % chance to see it", words)
	assert.False(t, strings.Contains(words, "NaN"))
}
