package cli

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestNamesThatAreNotThere: it is told what names there are, or where names
// come from, and not what is wrong with a word as coordinates.
func TestNamesThatAreNotThere(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(folder, name)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		return path
	}
	few := write("few.csv", "name,lat,lon\nCamp,36.26,-84.295\nKnob 2,36.22,-84.24\n")
	var rows strings.Builder
	for i := range 9 {
		fmt.Fprintf(&rows, "P%d,36.2,-84.%d\n", i, i)
	}
	many, none := write("many.csv", "name,lat,lon\n"+rows.String()), write("none.csv", "lat,lon\n36,-84\n")
	for _, row := range []struct {
		arguments []string
		says      string
	}{
		{[]string{"Bay"}, `place "Bay" is not understood; write a place as`},
		{[]string{"Bay"}, "for a name, give the file that has it with --places"},
		{[]string{"Ridge camp"}, "--places"},
		{[]string{"Café"}, "--places"},
		{[]string{"Bay", "--places", few}, `there is no place "Bay" in ` + few + "; it has Camp, Knob 2\n"},
		{[]string{"Knob 3", "--places", few}, "it has Camp, Knob 2\n"},
		{[]string{"Bay", "--places", many}, "it has P0, P1, P2, P3, P4, P5 and 3 more\n"},
		{[]string{"Bay", "--places", none}, "it has no names\n"},
		{[]string{"91,10", "--places", few}, "as coordinates: "},
		{[]string{"ZAB1234512345"}, "polar grid"},
	} {
		a := run(t, append([]string{"declination"}, row.arguments...)...)
		assert.Equal(t, exitUsage, a.code, row.arguments)
		assert.Contains(t, a.err, row.says)
	}
	assert.NotContains(t, run(t, "declination", "N91 E10").err, "--places", "a hemisphere letter is no word")
}
