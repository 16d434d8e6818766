package cli

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestReasonsAndWarningsFollowTheUnits: with --units us no metre is left in
// the landforms' reasons, nor in what a fix finds doubtful.
func TestReasonsAndWarningsFollowTheUnits(t *testing.T) {
	t.Parallel()
	hidden := []string{"fix", "--bearing", "36.36000,-84.26000=30", "--bearing", "36.26500,-84.30333=307", "--bearing", "36.19833,-84.23083=140"}
	for _, c := range []struct {
		arguments []string
		from, to  string // the part of the answer
	}{
		{[]string{"dem", "features", "--around", legFrom}, "Landforms", "\nData"},
		{hidden, "Doubtful", "\nBearings"},
	} {
		for units, want := range map[string]string{"us": `\d ft\b`, "metric": `\d m\b`} {
			a := run(t, append(c.arguments, "--units", units)...)
			require.Equal(t, exitOK, a.code, a.err)
			_, part, found := strings.Cut(a.out, c.from)
			require.True(t, found, a.out)
			part, _, found = strings.Cut(part, c.to)
			require.True(t, found)
			part = strings.Join(strings.Fields(part), " ")
			assert.Regexp(t, want, part)
			if units == "us" {
				assert.NotRegexp(t, `\d k?m\b`, part)
			} else {
				assert.NotRegexp(t, `\d (ft|mi)\b`, part)
			}
		}
	}
}
