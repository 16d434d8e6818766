package cli

import (
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestNegativeLatitudes: a place with a minus sign in front is a place, with
// flags before and after it.
func TestNegativeLatitudes(t *testing.T) {
	t.Parallel()
	want := run(t, "declination", "41.3S,174.7E", "--json")
	require.Equal(t, exitOK, want.code, want.err)
	for _, line := range []string{
		"declination -41.3,174.7 --json", "declination --json -41.3,174.7", "declination -41.3,174.7 --json --date 2026-07-01",
		"declination --elevation 0 -41.3,174.7 --json", "declination --elevation=0 -41.3,174.7 --json",
		"declination --json -- -41.3,174.7",
	} {
		a := run(t, strings.Fields(line)...)
		require.Equal(t, exitOK, a.code, "%s: %s", line, a.err)
		assert.Equal(t, want.out, a.out, line)
	}
	for line, says := range map[string]string{
		"declination -91.3,174.7":                                     `"-91.3" is not a latitude`,
		"leg -41.2,174.6 -41.1,174.7 --json":                          "-41.20000,174.60000 is outside the elevation data",
		"leg -.5,174.6 -0.4,174.7":                                    "-0.50000,174.60000 is outside",
		"viewshed -41.2,174.6 --sector -10,20":                        "--sector -10,20",
		"viewshed -41.2,174.6 -o":                                     "--out needs a value",
		"sight 36.26,-84.295 -41.1,174.7 --eye -2":                    `--eye: "-2" is not a length from 0 m to 100 km`,
		"declination -41.3,174.7 --fast":                              "there is no flag --fast",
		"contours --around -41.3,174.7 -o " + t.TempDir() + "/x.gpx":  "-41.30000,174.70000 is outside",
		"declination -41.3,174.7 -41.3,174.8":                         "takes one place; got 2",
		"dem features --around -41.3,174.7 -41.3,174.8":               "no places",
		"sight --plot -5.svg 36.26,-84.295 -41.1,174.7 --units metre": "--units metre",
	} {
		a := run(t, strings.Fields(line)...)
		assert.NotEqual(t, exitOK, a.code, line)
		assert.Contains(t, a.err, says, line)
	}
}

// TestWrongUsageIsOneLine that names what is wrong, in plain words.
func TestWrongUsageIsOneLine(t *testing.T) {
	t.Parallel()
	for line, says := range map[string]string{
		"wander":                              "there is no command \"wander\"; crowline --help lists them",
		"help wander":                         "there is no command \"wander\"; crowline --help lists them",
		"help dem wander":                     "there is no command \"wander\"; crowline dem --help lists them",
		"help leg wander":                     "there is no command \"wander\"; crowline leg --help lists them",
		"dem wander":                          "there is no command \"wander\"; crowline dem --help lists them",
		"completion wander":                   "there is no command \"wander\"; crowline completion --help lists them",
		"completion bash wander":              "takes no arguments; got 1",
		"leg 36.3,-84.3":                      "leg takes two places, FROM and TO; got 1",
		"leg 16S 735000 4040000 36.3,-84.3":   "quotes",
		"leg 36.3,-84.3 36.4,-84.3 --fast":    "there is no flag --fast; crowline leg --help lists them",
		"leg 36.3,-84.3 36.4,-84.3 -f":        "there is no flag -f; crowline leg --help lists them",
		"leg 36.3,-84.3 36.4,-84.3 --eye":     "--eye needs a value; crowline leg --help says which",
		"leg 36.3,-84.3 36.4,-84.3 --eye x":   `--eye: "x" is not a length; write a number of metres`,
		"leg 36.3,-84.3 36.4,-84.3 --marks x": `--marks: "x" is not a whole number from 0 to 100`,
		"leg 36.3,-84.3 36.4,-84.3 --pace x":  `--pace: "x" is not a number of double paces in 100 m or 100 yards from 20 to 500`,
		"leg 36.3,-84.3 36.4,-84.3 --json=x":  "--json x: it takes no value",
		"drill --around 36.3,-84.3 --seed -1": `--seed: "-1" is not a whole number from 0 to 18446744073709551615`,
		"leg ---x":                            "bad flag syntax: ---x",
	} {
		a := run(t, strings.Fields(line)...)
		assert.Equal(t, exitUsage, a.code, line)
		assert.Empty(t, a.out, line)
		assert.True(t, strings.HasPrefix(a.err, "crowline: "), line)
		assert.Equal(t, 1, strings.Count(a.err, "\n"), a.err)
		assert.Contains(t, a.err, says, line)
		assert.NotContains(t, a.err, "strconv", line)
	}
}

func TestHelpOfACommandByName(t *testing.T) {
	t.Parallel()
	assert.Equal(t, run(t, "dem", "info", "--help").out, run(t, "help", "dem", "info").out)
	assert.Equal(t, run(t, "--help").out, run(t, "help").out)
	for _, group := range []string{"dem", "completion"} {
		a := run(t, group)
		assert.Equal(t, exitOK, a.code)
		assert.Equal(t, run(t, "help", group).out, a.out)
	}
	a := run(t, "__complete", "help", "dem", "")
	assert.Contains(t, a.out, "features\t")
}

// FuzzPlacesLast: whatever comes after a command's name, what the command is
// told to do and with what is the same words.
func FuzzPlacesLast(f *testing.F) {
	for _, s := range []string{"leg -41,174 -42,174 --eye -2", "leg --json -1", "sheet -1,2 -o", "-1 leg", "help -1", "dem -1 info --crs -2 -- -3"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		root := newRoot(Streams{Out: io.Discard, Err: io.Discard})
		words := strings.Fields(s)
		got := placesLast(root, words)
		count := map[string]int{}
		for _, w := range words {
			count[w]++
		}
		for _, w := range got {
			if count[w]--; count[w] < 0 && w != "--" {
				t.Fatalf("%q became %q", words, got)
			}
		}
	})
}
