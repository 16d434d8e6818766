package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestTimesAfterAGapAreTheLeast: 2026-12-01. A way whose data has a gap is timed as
// easy ground there: the range of times in the first lines, that of the card, and the
// times to what stands behind the gap were given as if they held.
func TestTimesAfterAGapAreTheLeast(t *testing.T) {
	t.Parallel()
	path := holedDemo(t, lowHole)
	whole := holedDemo(t)
	words := func(arguments ...string) string {
		a := run(t, arguments...)
		require.Equal(t, exitOK, a.code, a.err)
		return strings.Join(strings.Fields(a.out), " ")
	}
	file := filepath.Join(t.TempDir(), "r.csv")
	require.NoError(t, os.WriteFile(file, []byte("name,lat,lon\nA,"+filledFrom+"\nB,"+filledTo+"\n"), 0o600))
	card := filepath.Join(t.TempDir(), "card.svg")
	for dem, gap := range map[string]bool{path: true, whole: false} {
		holds := func(text, part string) {
			t.Helper()
			assert.Equal(t, gap, strings.Contains(text, part), "%q in %s", part, text)
		}
		brief := words("leg", filledFrom, filledTo, "--dem", dem)
		_, walk, _ := strings.Cut(brief, "walk ")
		walk, _, _ = strings.Cut(walk, "without rests")
		holds(walk, " down, at least ")
		full := words("leg", filledFrom, filledTo, "--dem", dem, "--full")
		_, ticks, _ := strings.Cut(full, "Tick off on the way")
		ticks, _, _ = strings.Cut(ticks, "Climb")
		holds(ticks, "double paces, at least ")
		holds(full, "of the way that is known")
		text := words("route", file, "--dem", dem, "--straight", "-o", card)
		holds(text, "off path, at least ")
		drawn, err := os.ReadFile(card)
		require.NoError(t, err)
		holds(string(drawn), "at least ")
	}
}
