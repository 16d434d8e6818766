package cli

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestNothingAsked: three things to try, and each runs.
func TestNothingAsked(t *testing.T) {
	t.Parallel()
	a := run(t, []string{}...)
	require.Equal(t, exitOK, a.code)
	for _, part := range []string{"crowline demo", "crowline desk", "crowline landmarks 34.3297,-118.0548", "crowline dem get --around"} {
		assert.Contains(t, a.out, part)
	}
	for _, line := range strings.Split(a.out, "\n") {
		assert.LessOrEqual(t, len(line), 80, line)
	}
}

// TestOutsideTheDemoData: every command with a place says what the demo data is
// and what to do.
func TestOutsideTheDemoData(t *testing.T) {
	onDemoGround(t)
	out := t.TempDir()
	for _, line := range []string{
		"leg 46.02,7.75 46.03,7.76", "sight 46.02,7.75 46.03,7.76", "landmarks 46.02,7.75", "skyline 46.02,7.75",
		"viewshed 46.02,7.75 -o OUT/a.tif", "sheet 46.02,7.75 -o OUT/a.pdf", "drill --around 46.02,7.75 -o OUT/b.pdf",
		"contours --around 46.02,7.75 -o OUT/a.gpkg", "vantage --around 46.02,7.75", "dem features --around 46.02,7.75",
		"desk 46.02,7.75 46.03,7.76 --no-open",
	} {
		a := run(t, strings.Fields(strings.ReplaceAll(line, "OUT", out))...)
		assert.Equal(t, exitError, a.code, line+": "+a.err)
		assert.Contains(t, a.err, "46.02000,7.75000 is outside the demo data (the San Gabriel Mountains, California: 34.2", line)
		assert.Contains(t, a.err, "Use your own: --dem FILE, or fetch it: crowline dem get --around 46.0200,7.7500 --radius 10km --source copernicus-glo-30", line)
		assert.Equal(t, 1, strings.Count(a.err, "\n"), line)
	}
}
