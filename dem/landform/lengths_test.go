package landform

import (
	"context"
	"fmt"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestReasonsAreWrittenAsAsked: whole metres unless asked, and no metre left
// where feet were.
func TestReasonsAreWrittenAsAsked(t *testing.T) {
	t.Parallel()
	g := demoGrid(t)
	options := FeatureOptions{MinRelief: 25, CliffGradient: 0.6, VerticalError: 5}
	found, err := Features(context.Background(), g, options)
	require.NoError(t, err)
	us := Lengths{
		Distance: func(v float64) string { return fmt.Sprintf("%.2f miles", v/1609.344) },
		Height:   func(v float64) string { return fmt.Sprintf("%.0f feet", v/0.3048) },
	}
	metres := regexp.MustCompile(`\d m\b`)
	seen := map[Kind]bool{}
	for _, f := range found {
		seen[f.Kind] = true
		assert.NotRegexp(t, metres, f.Reason.Text(us))
		assert.Contains(t, f.Reason.Text(us), " feet")
		assert.Regexp(t, metres, f.Reason.Text(Lengths{}))
		assert.NotContains(t, f.Reason.Text(us), "%!")
		assert.NotContains(t, f.Reason.Text(Lengths{}), "%!")
	}
	assert.Greater(t, len(seen), 5, "%v", seen)
}
