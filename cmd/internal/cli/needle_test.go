package cli

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	figures "crowline/dem/units"
)

// afterTheModel is a day that the magnetic model does not reach.
const afterTheModel = "2035-06-01"

// tags are those of a drawing.
var tags = regexp.MustCompile(`<[^>]*>`)

// needleAnswer is what answers say of magnetic north.
type needleAnswer struct {
	Declination struct {
		Deg      float64  `json:"deg"`
		SigmaDeg float64  `json:"sigma_deg"`
		Annual   *float64 `json:"annual_change_deg"`
		Model    string   `json:"model"`
		Compass  string   `json:"compass"`
	} `json:"declination"`
	Bearing struct {
		TrueDeg         float64  `json:"true_deg"`
		MagneticDeg     *float64 `json:"magnetic_deg"`
		BackTrueDeg     float64  `json:"back_true_deg"`
		BackMagneticDeg *float64 `json:"back_magnetic_deg"`
		SetDeg          *float64 `json:"set_deg"`
	} `json:"bearing"`
	Drift struct {
		Declination float64 `json:"declination_error_deg"`
		OnCompass   float64 `json:"on_compass_alone_m"`
	} `json:"drift"`
}

func askNeedle(t *testing.T, arguments ...string) (a needleAnswer) {
	t.Helper()
	got := run(t, append(arguments, "--json")...)
	require.Equal(t, exitOK, got.code, got.err)
	require.NoError(t, json.Unmarshal([]byte(got.out), &a))
	return a
}

// TestADeclinationGivenIsUsedEverywhere: on a day outside the model, and told as
// given wherever magnetic north is told.
func TestADeclinationGivenIsUsedEverywhere(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	route := filepath.Join(folder, "r.csv")
	require.NoError(t, replaceFile(route, []byte("name,lat,lon\nA,"+legFrom+"\nB,"+legTo+"\n")))
	given := []string{"--declination", "14.5E", "--date", afterTheModel}
	const tolerance = 0.02 // degrees; bearings in JSON have two or three decimals
	leg := askNeedle(t, append([]string{"leg", legFrom, legTo, "--marks", "0"}, given...)...)
	assert.Equal(t, 14.5, leg.Declination.Deg)
	assert.Equal(t, 0.5, leg.Declination.SigmaDeg)
	assert.Nil(t, leg.Declination.Annual)
	assert.Equal(t, "given", leg.Declination.Model)
	assert.Empty(t, leg.Declination.Compass)
	assert.Nil(t, leg.Bearing.SetDeg)
	require.NotNil(t, leg.Bearing.MagneticDeg)
	require.NotNil(t, leg.Bearing.BackMagneticDeg)
	turned := func(true, magnetic float64) float64 { return math.Remainder(true-magnetic, 360) }
	assert.InDelta(t, 14.5, turned(leg.Bearing.TrueDeg, *leg.Bearing.MagneticDeg), tolerance)
	assert.InDelta(t, 14.5, turned(leg.Bearing.BackTrueDeg, *leg.Bearing.BackMagneticDeg), tolerance)
	assert.Equal(t, 0.5, leg.Drift.Declination)
	model := askNeedle(t, "leg", legFrom, legTo, "--marks", "0")
	assert.Less(t, model.Drift.OnCompass, leg.Drift.OnCompass, "the model knows it better")
	for _, text := range []string{"3.2W", "-3.2", "3.2 w", "-3.2°"} {
		assert.Equal(t, -3.2, askNeedle(t, "sight", legFrom, legTo, "--declination", text).Declination.Deg, text)
	}
	for _, arguments := range [][]string{
		{"leg", legFrom, legTo}, {"leg", legFrom, legTo, "--full"}, {"leg", legFrom, legTo, "--chain"}, {"sight", legFrom, legTo}, {"sight", legFrom, "--bearing", "70"},
		{"landmarks", legFrom, "--bearing", "70"}, {"landmarks", legFrom}, {"skyline", legFrom}, {"route", route}, {"declination", legFrom},
		{"fix", "--bearing", legFrom + "=10", "--bearing", "36.25058,-84.27389=60", "--magnetic"},
	} {
		a := run(t, append(arguments, given...)...)
		require.Equal(t, exitOK, a.code, "%v %s", arguments, a.err)
		said := strings.Join(strings.Fields(a.out), " ")
		assert.Contains(t, said, "as given by you", arguments)
		assert.Contains(t, said, "14.5 E", arguments)
		assert.NotContains(t, said, "WMM", arguments)
		assert.NotContains(t, said, afterTheModel, arguments)
		assert.NotContains(t, said, "NaN", arguments)
	}
	for _, arguments := range [][]string{
		{"contours", "--around", legFrom, "--radius", "1km"}, {"viewshed", legFrom, "--radius", "1km"}, {"sheet", legFrom, legTo, "--marks", "0"}, {"sheet", legFrom, "--magnetic-lines"}, {"route", route},
		{"drill", "--around", legFrom, "--count", "1", "--kinds", "norths"},
	} {
		file := filepath.Join(folder, arguments[0]+".svg")
		a := run(t, append(append(arguments, "-o", file), given...)...)
		require.Equal(t, exitOK, a.code, "%v %s", arguments, a.err)
		told := false
		for _, f := range []string{file, filepath.Join(folder, arguments[0]+"-2.svg")} {
			drawn, err := os.ReadFile(f)
			if os.IsNotExist(err) {
				continue
			}
			require.NoError(t, err)
			said := strings.Join(strings.Fields(tags.ReplaceAllString(string(drawn), " ")), " ") // over the ends of lines
			assert.NotContains(t, said, "WMM", arguments)
			assert.NotContains(t, said, "NaN", arguments)
			told = told || strings.Contains(said, "as given by you")
		}
		assert.True(t, told, arguments)
		for _, f := range []string{file, filepath.Join(folder, arguments[0]+"-2.svg")} {
			_ = os.Remove(f)
		}
	}
}

// TestWithoutTheModelOneIsToldToGiveIt, on one line.
func TestWithoutTheModelOneIsToldToGiveIt(t *testing.T) {
	t.Parallel()
	a := run(t, "declination", legFrom, "--date", afterTheModel)
	assert.Equal(t, exitError, a.code)
	assert.Contains(t, a.err, "outside the magnetic model")
	assert.Contains(t, a.err, "--declination")
	assert.Equal(t, 1, strings.Count(a.err, "\n"))
	for _, arguments := range [][]string{{"sight", legFrom, "--bearing", "70", "--magnetic"}, {"fix", "--bearing", legFrom + "=10", "--bearing", legTo + "=100", "--magnetic"}} {
		a := run(t, append(arguments, "--date", afterTheModel)...)
		assert.Equal(t, exitError, a.code, arguments)
		assert.Contains(t, a.err, "--declination", arguments)
	}
	for _, full := range [][]string{nil, {"--full"}} {
		a = run(t, append([]string{"leg", legFrom, legTo, "--marks", "0", "--date", afterTheModel}, full...)...)
		require.Equal(t, exitOK, a.code, a.err)
		assert.Contains(t, a.out, "--declination")
	}
}

// TestNoDeclination: what is none is refused before any data is opened.
func TestNoDeclination(t *testing.T) {
	t.Parallel()
	for _, text := range []string{"NaN", "1e300", "-1e300", "Inf", "200E", "180.1", "14.5X", "-3E", "+3W", "E", "", "3 4", "14,5E", "EE", "3EW", "0x10"} {
		a := run(t, "leg", legFrom, legTo, "--dem", "nothing.tif", "--declination", text)
		assert.Equal(t, exitUsage, a.code, text)
		assert.Contains(t, a.err, "declination", text)
		assert.NotContains(t, a.err, "nothing.tif", text)
		assert.Equal(t, 1, strings.Count(a.err, "\n"), a.err)
	}
	a := run(t, "leg", legFrom, legTo, "--compass", "square")
	assert.Equal(t, exitUsage, a.code)
	assert.Contains(t, a.err, "plain")
}

// TestTheChosenCompassHasOneNumber: it stands first and alone where a leg, a
// sight, marks, a route and its card say what to set, and the other stands
// nowhere in them.
func TestTheChosenCompassHasOneNumber(t *testing.T) {
	folder := t.TempDir()
	route := filepath.Join(folder, "r.csv")
	require.NoError(t, replaceFile(route, []byte("name,lat,lon\nA,"+legFrom+"\nB,"+legTo+"\n")))
	both := askNeedle(t, "leg", legFrom, legTo, "--marks", "0", "--declination", "14.5E")
	for _, row := range []struct {
		compass       string
		set, not      float64
		back, backNot float64
	}{
		{"plain", *both.Bearing.MagneticDeg, both.Bearing.TrueDeg, *both.Bearing.BackMagneticDeg, both.Bearing.BackTrueDeg},
		{"adjusted", both.Bearing.TrueDeg, *both.Bearing.MagneticDeg, both.Bearing.BackTrueDeg, *both.Bearing.BackMagneticDeg},
	} {
		for _, from := range []string{"flag", "config"} {
			t.Run(row.compass+" by "+from, func(t *testing.T) {
				chosen := []string{"--declination", "14.5E"}
				file := filepath.Join(t.TempDir(), "config.json")
				if from == "flag" {
					chosen = append(chosen, "--compass", row.compass)
					require.NoError(t, replaceFile(file, []byte(`{"compass": "plain"}`))) // the flag wins
				} else {
					require.NoError(t, replaceFile(file, []byte(fmt.Sprintf(`{"compass": %q}`, row.compass))))
				}
				t.Setenv(configVariable, file)
				set, not := figures.Dial(row.set), figures.Dial(row.not)
				a := askNeedle(t, append([]string{"leg", legFrom, legTo, "--marks", "0"}, chosen...)...)
				assert.Equal(t, row.compass, a.Declination.Compass)
				require.NotNil(t, a.Bearing.SetDeg)
				const tolerance = 0.01 // degrees; rounded to as much
				assert.InDelta(t, row.set, *a.Bearing.SetDeg, tolerance)
				for _, q := range []struct {
					arguments []string
					line      string
				}{
					{[]string{"leg", legFrom, legTo}, "walk"}, {[]string{"sight", legFrom, legTo}, "bearing"}, {[]string{"route", route}, "bearing"},
				} {
					text := run(t, append(q.arguments, chosen...)...)
					require.Equal(t, exitOK, text.code, text.err)
					line := ""
					for _, l := range strings.Split(text.out, "\n") {
						if strings.HasPrefix(strings.TrimSpace(l), q.line+" ") {
							line = strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(l), q.line))
							break
						}
					}
					assert.True(t, strings.HasPrefix(line, set+" on your compass"), "%v: %s", q.arguments, line)
					assert.NotContains(t, line, not, q.arguments)
				}
				marks := run(t, append([]string{"landmarks", legFrom}, chosen...)...)
				require.Equal(t, exitOK, marks.code, marks.err)
				assert.Contains(t, marks.out, " on your compass")
				assert.NotContains(t, marks.out, "true ")
				card := filepath.Join(t.TempDir(), "card.svg")
				text := run(t, append([]string{"route", route, "-o", card}, chosen...)...)
				require.Equal(t, exitOK, text.code, text.err)
				drawn, err := os.ReadFile(card)
				require.NoError(t, err)
				assert.Contains(t, string(drawn), ">"+set+"°<")
				assert.Contains(t, string(drawn), "back "+figures.Dial(row.back)+"°")
				assert.NotContains(t, string(drawn), not+"°")
				assert.NotContains(t, string(drawn), figures.Dial(row.backNot)+"°")
			})
		}
	}
	text := run(t, "leg", legFrom, legTo, "--declination", "14.5E")
	assert.Contains(t, text.out, figures.Dial(*both.Bearing.MagneticDeg)+" on your compass ("+figures.Dial(both.Bearing.TrueDeg)+" if set for")
	full := strings.Join(strings.Fields(run(t, "leg", legFrom, legTo, "--full", "--declination", "14.5E").out), " ")
	assert.Contains(t, full, "set "+figures.Dial(both.Bearing.TrueDeg)+", turn till the needle lies on the mark for 14.5 E", "the third practice")
	file := filepath.Join(folder, "config.json")
	require.NoError(t, replaceFile(file, []byte(`{"compass": "square"}`)))
	t.Setenv(configVariable, file)
	a := run(t, "leg", legFrom, legTo)
	assert.NotEqual(t, exitOK, a.code)
	assert.Contains(t, a.err, "plain")
}
