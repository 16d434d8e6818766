package cli

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// plotted is the text of a plot, its words in the order they are set.
func plotted(t *testing.T, arguments ...string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "p.svg")
	a := run(t, append(arguments, "--plot", file)...)
	require.Equal(t, exitOK, a.code, a.err)
	body, err := os.ReadFile(file)
	require.NoError(t, err)
	var words []string
	for _, m := range regexp.MustCompile(`(?s)<text[^>]*>(.*?)</text>`).FindAllStringSubmatch(string(body), -1) {
		words = append(words, m[1])
	}
	return strings.Join(words, "\n")
}

// TestAPlotSaysWhatItShows: the place, the bearing asked for and where the
// line ends; missing data, and the part of a leg beyond it.
func TestAPlotSaysWhatItShows(t *testing.T) {
	t.Parallel()
	holed := holedDemo(t, crestHole, lowHole)
	for _, row := range []struct {
		name      string
		arguments []string
		has, not  []string
	}{
		{"a leg", []string{"leg", filledFrom, filledTo, "--marks", "0"},
			[]string{"Profile from 36.3264,-84.3960 to 36.3718,-84.3822: 5.19 km on 013.8° true, 019.7° magnetic", "Eye 1.6 m above the ground", "Line of sight", "Contour crossed, every 50 m"},
			[]string{"No elevation data", "Past missing data", "Not known whether in sight", "What stands on it"}},
		{"to the edge", []string{"sight", legFrom, "--bearing", "190"},
			[]string{"Profile from 36.2600,-84.2950 on 190.0° true, 195.9° magnetic, to the edge of the data, 11.3 km", "\nedge of the data\n", "Out of sight from the start"},
			[]string{"Line of sight", "No elevation data"}},
		{"as asked, by the compass", []string{"sight", legFrom, "--bearing", "138", "--magnetic", "--radius", "8km"},
			[]string{"Profile from 36.2600,-84.2950 on 138.0° magnetic, 132.1° true, as far as asked, 8.00 km", "\nas far as asked\n"}, nil},
		{"over voids", []string{"sight", filledFrom, filledTo, "--dem", holed},
			[]string{"No elevation data", "Past missing data: not known", "Not known whether in sight"}, nil},
		{"beyond the data", []string{"leg", "36.42,-84.20", "36.50,-84.20", "--marks", "0"},
			[]string{"to 36.5000,-84.2000: 8.88 km on", "no data", "No elevation data"}, []string{"Line of sight"}},
		{"filled", []string{"leg", filledFrom, filledTo, "--dem", holed, "--fill-voids", "--marks", "0"},
			[]string{"Filled in from the rim of a void: not measured"}, []string{"No elevation data"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			text := plotted(t, row.arguments...)
			for _, s := range row.has {
				assert.Contains(t, text, s)
			}
			for _, s := range row.not {
				assert.NotContains(t, text, s)
			}
		})
	}
}
