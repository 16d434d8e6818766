package landform

import (
	"context"
	"fmt"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestReasonsAreWrittenAsAsked: the same features whatever the lengths are
// written in, whole metres unless asked, and no metre left where feet were.
func TestReasonsAreWrittenAsAsked(t *testing.T) {
	t.Parallel()
	g := demoGrid(t)
	options := FeatureOptions{MinRelief: 25, CliffGradient: 0.6, VerticalError: 5}
	metric, err := Features(context.Background(), g, options)
	require.NoError(t, err)
	options.Lengths = Lengths{
		Distance: func(v float64) string { return fmt.Sprintf("%.2f miles", v/1609.344) },
		Height:   func(v float64) string { return fmt.Sprintf("%.0f feet", v/0.3048) },
	}
	us, err := Features(context.Background(), g, options)
	require.NoError(t, err)
	require.Len(t, us, len(metric))
	metres := regexp.MustCompile(`\d m\b`)
	seen := map[Kind]bool{}
	for i, f := range us {
		seen[f.Kind] = true
		assert.NotRegexp(t, metres, f.Reason)
		assert.Contains(t, f.Reason, " feet")
		assert.Regexp(t, metres, metric[i].Reason)
		f.Reason = metric[i].Reason
		assert.Equal(t, metric[i], f)
	}
	assert.Greater(t, len(seen), 5, "%v", seen)
}
