package page

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
)

// TestFitEnds: 2026-12-01. A title of a hundred thousand letters was measured once
// for every letter taken off.
func TestFitEnds(t *testing.T) {
	t.Parallel()
	for _, s := range []string{strings.Repeat("a", 100000), strings.Repeat("iWé ", 25000), "abc", "", "W"} {
		for _, width := range []float64{0.1, 3, 40, 155} {
			got := Fit(s, Bold, 14, width)
			if TextWidth(s, Bold, 14) <= width {
				assert.Equal(t, s, got)
				continue
			}
			kept := strings.TrimSuffix(got, "…")
			assert.True(t, strings.HasPrefix(s, kept))
			n := utf8.RuneCountInString(kept)
			assert.LessOrEqual(t, n, max(1, len(s)))
			if n > 1 {
				assert.LessOrEqual(t, TextWidth(got, Bold, 14), width)
			}
			r := []rune(s)
			assert.Greater(t, TextWidth(string(r[:min(n+1, len(r))])+"…", Bold, 14), width, "as much as there is room for")
		}
	}
}
