package cli

import (
	"fmt"
	"math"
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
	var whole, cut legTold
	demoFillJSON(t, &whole, "leg", from, off, "--json", "--marks", "0")
	require.Less(t, whole.CoveredM, whole.DistanceM)
	last, _ := geodesy.Direct(geodesy.LatLon{Lat: 36.43, Lon: -84.3}, 0, whole.CoveredM-1) // the leg runs due north
	edge := fmt.Sprintf("%.7f,%.7f", last.Lat, last.Lon)
	demoFillJSON(t, &cut, "leg", from, edge, "--json", "--marks", "0")

	const metre, seconds = 1.5, 10.0 // the cut leg stops a metre short
	assert.InDelta(t, whole.CoveredM, whole.Time.TimedM, metre)
	assert.InDelta(t, cut.Time.TimedM, whole.Time.TimedM, metre)
	assert.Equal(t, cut.DistanceM, cut.Time.TimedM)
	assert.InDelta(t, *cut.Time.NaismithLangmuirS, *whole.Time.NaismithLangmuirS, seconds)
	assert.InDelta(t, *cut.Time.DIN33466S, *whole.Time.DIN33466S, seconds)
	assert.True(t, whole.Time.AtLeast)
	assert.False(t, cut.Time.AtLeast)
	assert.Zero(t, whole.Time.WithoutDataM)
	assert.Equal(t, whole.DistanceM, whole.Time.PacedM)
	assert.InDelta(t, whole.DistanceM/100*65, whole.Time.DoublePaces, 1)

	text := flat(run(t, "leg", "--full", from, off, "--marks", "0").out)
	assert.Contains(t, text, "for the first 1.76 km alone, as far as the ground is known")
	assert.Contains(t, text, "double paces for the whole 7.77 km, at 65")
	text = flat(run(t, "leg", "--full", from, edge, "--marks", "0").out)
	assert.NotContains(t, text, "as far as the ground is known")
	assert.NotContains(t, text, "at least")

	path := holedDemo(t, lowHole, crestHole)
	var solid, holed legTold
	demoFillJSON(t, &solid, "leg", filledFrom, filledTo, "--json", "--marks", "0")
	demoFillJSON(t, &holed, "leg", filledFrom, filledTo, "--json", "--marks", "0", "--dem", path)
	assert.True(t, holed.Time.AtLeast)
	assert.Equal(t, holed.DistanceM, holed.Time.TimedM)
	assert.InDelta(t, holed.UnknownM, holed.Time.WithoutDataM, 0.01)
	assert.Less(t, *holed.Time.NaismithLangmuirS, *solid.Time.NaismithLangmuirS)
	assert.Less(t, *holed.Time.ToblerS, *solid.Time.ToblerS)
	text = flat(run(t, "leg", "--full", filledFrom, filledTo, "--marks", "0", "--dem", path).out)
	assert.Contains(t, text, "on foot at least ")
	assert.Contains(t, text, "off path, at least ")
	assert.Contains(t, text, "is timed as easy ground; hills there add time")

	// the card says it of the leg and of the sum
	file := filepath.Join(t.TempDir(), "r.csv")
	require.NoError(t, os.WriteFile(file, []byte("lat,lon\n36.40000,-84.30000\n"+from+"\n"+off+"\n"), 0o644))
	text = flat(run(t, "route", file, "--straight").out)
	assert.Equal(t, 1, strings.Count(text, "Time and climb are for the first 1.76 km, paces for all."))
	assert.Equal(t, 2, strings.Count(text, "time at least "), "the sum, and one of the two legs")
}

// flat is an answer's text without its line breaks.
func flat(text string) string { return strings.Join(strings.Fields(text), " ") }

// wallFile is made ground: level, a wall 400 m high of so many degrees across
// the way, level; posts 30 m apart in UTM zone 11.
func wallFile(t *testing.T, degrees float64) string {
	t.Helper()
	const columns, rows, top = 120, 40, 1800.0
	var b strings.Builder
	fmt.Fprintf(&b, "ncols %d\nnrows %d\nxllcorner 400000\nyllcorner 3800000\ncellsize 30\n", columns, rows)
	for range rows {
		for c := range columns {
			h := min(900, max(500, 900-(float64(c)*30-top)*math.Tan(degrees*math.Pi/180)))
			fmt.Fprintf(&b, "%.3f ", h)
		}
		b.WriteString("\n")
	}
	path := filepath.Join(t.TempDir(), "wall.asc")
	require.NoError(t, os.WriteFile(path, []byte(b.String()), 0o644))
	require.NoError(t, os.WriteFile(strings.TrimSuffix(path, ".asc")+".prj", []byte(utm11), 0o644))
	return path
}

const utm11 = `PROJCS["WGS 84 / UTM zone 11N",GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]],PROJECTION["Transverse_Mercator"],PARAMETER["latitude_of_origin",0],PARAMETER["central_meridian",-117],PARAMETER["scale_factor",0.9996],PARAMETER["false_easting",500000],PARAMETER["false_northing",0],UNIT["metre",1]]`

// The way across the wall, and one along its top.
const wallTop, wallFoot, wallSide = "11S 400915 3800615", "11S 402715 3800615", "11S 401215 3800615"

// TestALegDownAWallHasNoTime: 43 min by one rule and 15 h by another, without a
// word, down a wall of 59 degrees. It has no time, up or down; what the rest
// takes stands beside it under other keys, and in no text.
func TestALegDownAWallHasNoTime(t *testing.T) {
	t.Parallel()
	wall := wallFile(t, 59)
	for _, way := range [][2]string{{wallTop, wallFoot}, {wallFoot, wallTop}} {
		var a map[string]any
		demoFillJSON(t, &a, "leg", way[0], way[1], "--json", "--marks", "0", "--dem", wall)
		times := a["time"].(map[string]any)
		for _, key := range []string{"naismith_langmuir", "tobler", "din33466"} {
			value, there := times[key+"_s"]
			assert.True(t, there, key)
			assert.Nil(t, value, key)
			// 1.8 km less the wall, on the level: 19 to 31 min
			assert.InDelta(t, 1500, times[key+"_without_steep_s"], 400, key)
		}
		assert.Len(t, times["no_walking_ground"], 1)
		text := flat(run(t, "leg", "--full", way[0], way[1], "--marks", "0", "--dem", wall).out)
		assert.Regexp(t, `on foot no time: 2[0-9]0 m at [0-9.]+ k?m is no walking ground: over 40° along the line you need your hands`, text)
		assert.NotContains(t, text, " min ")
		assert.NotContains(t, text, " by Tobler")
	}
}

// TestAWalkableLegHasItsTimeAndItsCaution: from 30 to 40 degrees.
func TestAWalkableLegHasItsTimeAndItsCaution(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		degrees       float64
		caution, time bool
	}{{25, false, true}, {35, true, true}, {45, false, false}} {
		wall := wallFile(t, row.degrees)
		text := flat(run(t, "leg", "--full", wallTop, wallFoot, "--marks", "0", "--dem", wall).out)
		assert.Equal(t, row.caution, strings.Contains(text, "30 to 40° steep; allow more time there than the rules give"), text)
		assert.Equal(t, row.time, strings.Contains(text, " min by Naismith"), text)
		assert.Equal(t, row.time, !strings.Contains(text, "no time"), text)
		var a map[string]any
		demoFillJSON(t, &a, "leg", wallTop, wallFoot, "--json", "--marks", "0", "--dem", wall)
		times := a["time"].(map[string]any)
		_, beside := times["tobler_without_steep_s"]
		assert.Equal(t, row.time, !beside)
		assert.Equal(t, row.time, times["tobler_s"] != nil)
	}
}

// TestRulesThatDifferByMoreThanDoubleSayWhy, in text and in JSON, and those
// that do not say nothing.
func TestRulesThatDifferByMoreThanDoubleSayWhy(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		degrees     float64
		apart, text string
	}{{1, "", ""}, {9, "gentle falls", "Langmuir takes time off"}, {35, "steep ground", "on steep ground Tobler slows down far more"}} {
		slope := wallFile(t, row.degrees)
		from, to := "11S 401915 3800615", "11S 402315 3800615" // in the slope where it is long
		if row.degrees > 20 {
			from = wallTop
		}
		var a map[string]any
		demoFillJSON(t, &a, "leg", from, to, "--json", "--marks", "0", "--dem", slope)
		text := flat(run(t, "leg", "--full", from, to, "--marks", "0", "--dem", slope).out)
		if row.apart == "" {
			assert.NotContains(t, a["time"], "rules_apart")
			assert.NotContains(t, text, "the rules differ")
			continue
		}
		assert.Equal(t, row.apart, a["time"].(map[string]any)["rules_apart"])
		assert.Contains(t, text, "the rules differ by more than double, up to ")
		assert.Contains(t, text, row.text)
	}
}

// TestARouteWithALegWithoutATimeHasNone in its totals, its card's text and its
// drawn card; the other legs keep theirs.
func TestARouteWithALegWithoutATimeHasNone(t *testing.T) {
	t.Parallel()
	wall := wallFile(t, 59)
	var rows []string
	for _, p := range []string{wallTop, wallSide, wallFoot} {
		var a legTold
		demoFillJSON(t, &a, "leg", p, "11S 401000 3800900", "--json", "--marks", "0", "--dem", wall)
		rows = append(rows, fmt.Sprintf("%.7f,%.7f", a.From.Lat, a.From.Lon))
	}
	folder := t.TempDir()
	file, card := filepath.Join(folder, "r.csv"), filepath.Join(folder, "card.svg")
	require.NoError(t, os.WriteFile(file, []byte("lat,lon\n"+strings.Join(rows, "\n")+"\n"), 0o644))
	var v map[string]any
	demoFillJSON(t, &v, "route", file, "--straight", "--json", "--dem", wall, "-o", card)
	totals := v["totals"].(map[string]any)
	sum := 0.0
	for i, leg := range v["legs"].([]any) {
		times := leg.(map[string]any)["time"].(map[string]any)
		if i == 0 {
			require.NotNil(t, times["tobler_s"])
			sum += times["tobler_s"].(float64)
			continue
		}
		assert.Nil(t, times["tobler_s"])
		assert.Nil(t, times["double_paces"])
		sum += times["tobler_without_steep_s"].(float64)
	}
	value, there := totals["tobler_s"]
	assert.True(t, there)
	assert.Nil(t, value)
	assert.InDelta(t, sum, totals["tobler_without_steep_s"], 0)
	assert.Equal(t, []any{2.0}, totals["legs_without_time"])

	text := flat(run(t, "route", file, "--straight", "--dem", wall).out)
	assert.Contains(t, text, "time no time for the whole: leg 2 has none")
	assert.Contains(t, text, "BEWARE too steep to walk on leg 2")
	assert.Contains(t, text, "Too steep to walk for ")
	assert.Equal(t, 1, strings.Count(text, "time 6 min, up to 10 min by the rules"), "of leg 1, 300 m by Tobler")
	// nor is it paced, and the leg says how far it is
	assert.Contains(t, text, "paces none for the whole: leg 2 has ground that needs hands")
	assert.Nil(t, totals["double_paces"])

	drawn, err := os.ReadFile(card)
	require.NoError(t, err)
	words := flat(string(drawn))
	assert.Contains(t, words, "no time: leg 2 has none")
	assert.Contains(t, words, "no time in all")
	assert.Contains(t, words, "no paces")
}

// TestALegAcrossAWallHasItsTimeAndACaution: level along the line, so the rules
// hold, over ground that does not let one walk so.
func TestALegAcrossAWallHasItsTimeAndACaution(t *testing.T) {
	t.Parallel()
	wall := wallFile(t, 45)
	text := flat(run(t, "leg", "--full", "11S 402000 3800300", "11S 402000 3801000", "--marks", "0", "--dem", wall).out)
	assert.Contains(t, text, " min by Naismith")
	assert.Contains(t, text, "CAUTION: the ground under the line is up to 45° steep, at ")
}
