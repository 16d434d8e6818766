package cli

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem/geodesy"
)

// TestTimeAndPacesSayWhatPartTheyAreFor: a leg that leaves the data is timed
// as the leg cut there is, and paced whole, and both say so; over a void the
// times are at the least; a leg on known ground says neither.
func TestTimeAndPacesSayWhatPartTheyAreFor(t *testing.T) {
	const from, off = "36.43000,-84.30000", "36.50000,-84.30000"
	var whole, cut legAnswer
	demoFillJSON(t, &whole, "leg", from, off, "--json", "--marks", "0")
	require.Less(t, whole.CoveredM, whole.DistanceM)
	last, _ := geodesy.Direct(geodesy.LatLon{Lat: 36.43, Lon: -84.3}, 0, whole.CoveredM-1) // the leg runs due north
	edge := fmt.Sprintf("%.7f,%.7f", last.Lat, last.Lon)
	demoFillJSON(t, &cut, "leg", from, edge, "--json", "--marks", "0")

	const metre, seconds = 1.5, 10.0 // the cut leg stops a metre short
	assert.InDelta(t, whole.CoveredM, whole.Time.TimedM, metre)
	assert.InDelta(t, cut.Time.TimedM, whole.Time.TimedM, metre)
	assert.Equal(t, cut.DistanceM, cut.Time.TimedM)
	assert.InDelta(t, cut.Time.NaismithLangmuirS, whole.Time.NaismithLangmuirS, seconds)
	assert.InDelta(t, cut.Time.DIN33466S, whole.Time.DIN33466S, seconds)
	assert.True(t, whole.Time.AtLeast)
	assert.False(t, cut.Time.AtLeast)
	assert.Zero(t, whole.Time.WithoutDataM)
	assert.Equal(t, whole.DistanceM, whole.Time.PacedM)
	assert.InDelta(t, whole.DistanceM/100*65, whole.Time.DoublePaces, 1)

	text := flat(run(t, "leg", from, off, "--marks", "0").out)
	assert.Contains(t, text, "for the first 1.76 km alone, as far as the ground is known")
	assert.Contains(t, text, "double paces for the whole 7.77 km, at 65")
	text = flat(run(t, "leg", from, edge, "--marks", "0").out)
	assert.NotContains(t, text, "as far as the ground is known")
	assert.NotContains(t, text, "at least")

	path := holedDemo(t, lowHole, crestHole)
	var solid, holed legAnswer
	demoFillJSON(t, &solid, "leg", filledFrom, filledTo, "--json", "--marks", "0")
	demoFillJSON(t, &holed, "leg", filledFrom, filledTo, "--json", "--marks", "0", "--dem", path)
	assert.True(t, holed.Time.AtLeast)
	assert.Equal(t, holed.DistanceM, holed.Time.TimedM)
	assert.InDelta(t, holed.UnknownM, holed.Time.WithoutDataM, 0.01)
	assert.Less(t, holed.Time.NaismithLangmuirS, solid.Time.NaismithLangmuirS)
	assert.Less(t, holed.Time.ToblerS, solid.Time.ToblerS)
	text = flat(run(t, "leg", filledFrom, filledTo, "--marks", "0", "--dem", path).out)
	assert.Contains(t, text, "on foot at least ")
	assert.Contains(t, text, "off path, at least ")
	assert.Contains(t, text, "counts as the easiest ground it could be")

	// the card says it of the leg and of the sum
	file := filepath.Join(t.TempDir(), "r.csv")
	require.NoError(t, os.WriteFile(file, []byte("lat,lon\n36.40000,-84.30000\n"+from+"\n"+off+"\n"), 0o644))
	text = flat(run(t, "route", file, "--straight").out)
	assert.Equal(t, 1, strings.Count(text, "Time and climb are for the first 1.76 km, paces for all."))
	assert.Equal(t, 2, strings.Count(text, "time at least "), "the sum, and one of the two legs")
}

// flat is an answer's text without its line breaks.
func flat(text string) string { return strings.Join(strings.Fields(text), " ") }
