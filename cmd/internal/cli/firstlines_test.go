package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestAnswersComeFirst: what was asked stands in the first lines, before the
// places it was asked of; a route's hazards stand before its length.
func TestAnswersComeFirst(t *testing.T) {
	onDemoGround(t)
	from, to := demoFrom.LatLon.String(), demoTo.LatLon.String()
	card := filepath.Join(t.TempDir(), "route.csv")
	require.NoError(t, os.WriteFile(card, []byte("name,lat,lon\nCamp,34.3297,-118.0548\nBench,34.3008,-118.0514\n"), 0o600))
	for _, row := range []struct {
		arguments     []string
		first, before string
	}{
		{[]string{"sight", from, to}, "is hidden", "\n  from  "},
		{[]string{"sight", from, "--bearing", "138"}, "\n  seen ", "\n  from  "},
		{[]string{"skyline", from}, "\n  highest ", "\n  from  "},
		{[]string{"viewshed", from, "--radius", "2km"}, "\n  area ", "\n  from  "},
		{[]string{"landmarks", from, "--bearing", "138"}, "  sight ", "\nFrom\n"},
		{[]string{"landmarks", from}, "  best mark ", "\nFrom\n"},
		{[]string{"route", card}, "\n  BEWARE ", "\n  in all "},
	} {
		a := run(t, row.arguments...)
		require.Equal(t, exitOK, a.code, a.err)
		first, before := strings.Index(a.out, row.first), strings.Index(a.out, row.before)
		require.NotEqual(t, -1, first, "%v", row.arguments)
		require.NotEqual(t, -1, before, "%v", row.arguments)
		assert.Less(t, first, before, "%v", row.arguments)
	}
}
