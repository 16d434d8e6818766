package cli

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	figures "crowline/dem/units"
)

// TestStart: a time of day and its offset; none is guessed.
func TestStart(t *testing.T) {
	t.Parallel()
	day := time.Date(2026, 12, 5, 0, 0, 0, 0, time.UTC)
	for text, want := range map[string]string{
		"08:30+01:00": "2026-12-05T08:30:00+01:00", "8:05Z": "2026-12-05T08:05:00Z", "23:59-08:00": "2026-12-05T23:59:00-08:00",
		"00:00+14:00": "2026-12-05T00:00:00+14:00", " 12:00+05:45 ": "2026-12-05T12:00:00+05:45", "06:15z": "2026-12-05T06:15:00Z",
	} {
		var f startFlag
		require.NoError(t, f.Set(text), text)
		assert.Equal(t, want, f.on(day).Format(time.RFC3339), text)
	}
	for _, text := range []string{"", "08:30", "0830+01:00", "24:00Z", "08:60Z", "08:30+1", "08:30+15:00", "08:30-13:00", "08:30+14:30", "08:30Z+01:00", "08:30 CET", "+01:00", "08:30Z5:00"} {
		var f startFlag
		assert.Error(t, f.Set(text), text)
	}
	a := run(t, "leg", legFrom, legTo, "--start", "08:30")
	assert.Equal(t, exitUsage, a.code)
	assert.Contains(t, a.err, "has no offset from UTC")
	assert.True(t, (&startFlag{}).on(day).IsZero())
}

// TestTodayIsTheStarts: without --date the day is that at the start's offset: at
// noon UTC on 1 July it is 2 July in Samoa.
func TestTodayIsTheStarts(t *testing.T) {
	onDemoGround(t)
	var a struct {
		Start       string
		Declination struct{ Date string }
	}
	demoFillJSON(t, &a, "leg", "34.3297,-118.0548", "34.3008,-118.0514", "--marks", "0", "--start", "08:30+13:00", "--json")
	assert.Equal(t, "2026-07-02T08:30:00+13:00", a.Start)
	assert.Equal(t, "2026-07-02", a.Declination.Date)
	demoFillJSON(t, &a, "leg", "34.3297,-118.0548", "34.3008,-118.0514", "--marks", "0", "--start", "08:30+13:00", "--date", "2026-12-05", "--json")
	assert.Equal(t, "2026-12-05T08:30:00+13:00", a.Start)
}

// TestTheDayEndsFirst: it stands among the first lines, and not where it does
// not end; of a route before the leg it ends on.
func TestTheDayEndsFirst(t *testing.T) {
	onDemoGround(t)
	leg := func(start string) string {
		return flat(run(t, "leg", "34.3297,-118.0548", "34.3008,-118.0514", "--marks", "0", "--date", "2026-12-05", "--start", start).out)
	}
	assert.Contains(t, leg("15:00-08:00"), "BEWARE dark from 17:10, before you are at the goal (17:41)")
	assert.Contains(t, leg("14:10-08:00"), "BEWARE the sun sets at 16:42, before you are at the goal (16:51), dark from 17:10")
	morning := leg("08:30-08:00")
	assert.NotContains(t, morning, "before you are")
	assert.Contains(t, morning, "and rests, there by 11:11")
	assert.Contains(t, morning, "sunset 16:42, dark from 17:10")
	assert.Contains(t, morning, "leaves the goal earlier: at 16:22, behind hills")
	route := filepath.Join(t.TempDir(), "trip.csv")
	require.NoError(t, os.WriteFile(route, []byte("name,lat,lon\nCamp,34.3297,-118.0548\nTurn,34.3150,-118.0650\nBench,34.3008,-118.0514\n"), 0o600))
	text := flat(run(t, "route", route, "--date", "2026-12-05", "--start", "14:00-08:00").out)
	assert.Contains(t, text, "dark from 17:10, before you are at the end of leg 2 (")
	assert.NotContains(t, text, "end of leg 1 (")
}

// TestRouteArrivals: each is the one before and the slowest rule of the leg
// between, a fifth of it for rests.
func TestRouteArrivals(t *testing.T) {
	onDemoGround(t)
	route := filepath.Join(t.TempDir(), "trip.csv")
	require.NoError(t, os.WriteFile(route, []byte("name,lat,lon\nCamp,34.3297,-118.0548\nTurn,34.3150,-118.0650\nBench,34.3008,-118.0514\n"), 0o600))
	var a struct {
		Legs []struct {
			Time struct {
				Naismith float64 `json:"naismith_langmuir_s"`
				Tobler   float64 `json:"tobler_s"`
				DIN      float64 `json:"din33466_s"`
			}
			Arrival struct {
				At      time.Time
				Walking float64 `json:"walking_s"`
				Resting float64 `json:"resting_s"`
			}
		}
	}
	demoFillJSON(t, &a, "route", route, "--date", "2026-12-05", "--start", "08:00-08:00", "--json")
	start := time.Date(2026, 12, 5, 8, 0, 0, 0, time.FixedZone("", -8*3600))
	walking := 0.0
	require.Len(t, a.Legs, 2)
	for _, l := range a.Legs {
		walking += max(l.Time.Naismith, l.Time.Tobler, l.Time.DIN)
		assert.InDelta(t, walking, l.Arrival.Walking, 1)
		assert.InDelta(t, walking/5, l.Arrival.Resting, 1)
		assert.InDelta(t, walking*1.2, l.Arrival.At.Sub(start).Seconds(), 31) // written to the minute
	}
}

// TestTheClockIsOnTheCardAndTheChain: 2026-12-01. The card had no arrival, and
// the day that ends first; the sightings of a leg left out a start given.
func TestTheClockIsOnTheCardAndTheChain(t *testing.T) {
	onDemoGround(t)
	dir := t.TempDir()
	route, card := filepath.Join(dir, "trip.csv"), filepath.Join(dir, "card.svg")
	require.NoError(t, os.WriteFile(route, []byte("name,lat,lon\nCamp,34.3297,-118.0548\nTurn,34.3150,-118.0650\nBench,34.3008,-118.0514\n"), 0o600))
	a := run(t, "route", route, "--date", "2026-12-05", "--start", "14:00-08:00", "-o", card)
	require.Equal(t, exitOK, a.code, a.err)
	drawn, err := os.ReadFile(card)
	require.NoError(t, err)
	for _, arrival := range regexp.MustCompile(`arrive +by (\d\d:\d\d)`).FindAllStringSubmatch(a.out, -1) {
		assert.Contains(t, string(drawn), "there by "+arrival[1])
	}
	assert.Equal(t, 2, strings.Count(string(drawn), "there by "))
	assert.Contains(t, string(drawn), "Dark from 17:10, before you are at")
	assert.Contains(t, string(drawn), "Start 14:00-08:00 on 2026-12-05; arrivals")

	chain := run(t, "leg", "34.3297,-118.0548", "34.3008,-118.0514", "--date", "2026-12-05", "--start", "15:30-08:00", "--chain").out
	assert.True(t, strings.HasPrefix(chain, "  BEWARE      dark from 17:10"), chain)
	assert.Contains(t, chain, "By the clock, from 15:30-08:00")
}

// TestPace: a bare count is in the units of the text.
func TestPace(t *testing.T) {
	t.Parallel()
	for text, want := range map[string][2]float64{"65": {65, 65 / figures.Yard}, "60/100yd": {60 / figures.Yard, 60 / figures.Yard}, "62 / 100 m": {62, 62}} {
		var f paceFlag
		require.NoError(t, f.Set(text), text)
		assert.InDelta(t, want[0], f.per100m(figures.Metric), 1e-9, text)
		assert.InDelta(t, want[1], f.per100m(figures.US), 1e-9, text)
	}
	for _, text := range []string{"", "many", "65/50m", "65m", "5", "501", "100yd"} {
		assert.Error(t, new(paceFlag).Set(text), text)
	}
}

// TestSpeedAndRuleFromTheConfig: used where no flag is given.
func TestSpeedAndRuleFromTheConfig(t *testing.T) {
	onDemoGround(t)
	path := filepath.Join(t.TempDir(), "config.json")
	require.NoError(t, os.WriteFile(path, []byte(`{"speed":"2.5mph","rule":"din"}`), 0o600))
	t.Setenv(configVariable, path)
	var a struct {
		Time struct {
			Rule  string
			RuleS float64 `json:"rule_s"`
			DIN   float64 `json:"din33466_s"`
			Speed float64 `json:"level_speed_km_h"`
		}
	}
	leg := []string{"leg", "34.3297,-118.0548", "34.3008,-118.0514", "--marks", "0", "--json"}
	demoFillJSON(t, &a, leg...)
	assert.Equal(t, "din", a.Time.Rule)
	assert.Equal(t, a.Time.DIN, a.Time.RuleS)
	assert.InDelta(t, 4.02, a.Time.Speed, 1e-9)
	demoFillJSON(t, &a, append(leg, "--speed", "3km/h", "--rule", "naismith")...)
	assert.Equal(t, "naismith", a.Time.Rule)
	assert.InDelta(t, 3, a.Time.Speed, 1e-9)
}
