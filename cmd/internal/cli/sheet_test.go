package cli

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

func TestSheetFiles(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	svg := filepath.Join(folder, "s.svg")
	a := run(t, "sheet", "36.26,-84.295", "36.24,-84.28", "-o", svg, "--hidden", "--magnetic-lines", "--relief", "0.5", "--index-colour", "7A4B00")
	require.Equal(t, exitOK, a.code, a.err)
	body, err := os.ReadFile(svg)
	require.NoError(t, err)
	for _, text := range []string{"Contour interval", "Magnetic north", "Grid north", "Print at 100", "WGS 84", "follow local rules", "7a4b00", "Clear: 75 %", "error: 25 to"} {
		assert.Contains(t, strings.ToLower(string(body)), strings.ToLower(text))
	}
	for _, bad := range [][]string{
		{"sheet", legFrom}, {"sheet", legFrom, "-o", "x.doc"}, {"sheet", legFrom, "-o", svg, "--paper", "a9"}, {"sheet", legFrom, "-o", svg, "--north", "up"},
		{"sheet", legFrom, "-o", svg, "--index-colour", "brown"}, {"sheet", legFrom, "-o", svg, "--relief", "2"}, {"sheet", legFrom, "-o", svg, "--label-reading", "down"},
		{"sheet", legFrom, "-o", svg, "--scale", "5"},
	} {
		assert.Equal(t, exitUsage, run(t, bad...).code, "%v", bad)
	}
}

// TestASheetOfAPlain: it has no contour line, says so, and has all the rest.
func TestASheetOfAPlain(t *testing.T) {
	t.Parallel()
	f := dem.Frame{Columns: 90, Rows: 90, X0: 10, Y0: 50, DX: 0.001, DY: -0.001, CRS: geodesy.WGS84}
	plain := writeGround(t, f, func(c, r float64) float64 { return 305 })
	file := filepath.Join(t.TempDir(), "plain.svg")
	a := run(t, "sheet", "49.94,10.03", "49.96,10.05", "--dem", plain, "--vertical-error", "3m", "-o", file)
	require.Equal(t, exitOK, a.code, a.err)
	drawn, err := os.ReadFile(file)
	require.NoError(t, err)
	for _, want := range []string{"no line crosses it", "Destination", "305 m"} {
		assert.Contains(t, string(drawn), want)
	}
}

// TestASheetNamesItsPlaces: title, key and signs say which places and from
// where, by coordinates where they have no name that can be shown. The grid
// coordinates are those of cs2cs EPSG:4326 EPSG:32616 (PROJ 9.1).
func TestASheetNamesItsPlaces(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	places := filepath.Join(folder, "p.csv")
	require.NoError(t, os.WriteFile(places, []byte("name,lat,lon\nCamp,36.26,-84.295\nKnob,36.24,-84.28\n富士山,36.25,-84.29\n"), 0o600))
	draw := func(arguments ...string) string {
		file := filepath.Join(t.TempDir(), "s.svg")
		a := run(t, append([]string{"sheet", "--places", places, "--marks", "0", "-o", file}, arguments...)...)
		require.Equal(t, exitOK, a.code, a.err)
		body, err := os.ReadFile(file)
		require.NoError(t, err)
		return string(body)
	}
	for _, row := range []struct {
		arguments []string
		title     string
		has       []string
	}{
		{[]string{legFrom, "--hidden"}, "36.26000,-84.29500", []string{"UTM zone 16N 743 020 m E 4 016 181 m N, 685 m", "36.26000,-84.29500, eye", ">Place<"}},
		{[]string{"Camp", "--hidden", "--eye", "1.7m"}, "Camp", []string{"36.26000,-84.29500, UTM zone 16N", "Camp, eye 1.7 m", ">Place<"}},
		{[]string{legFrom, legTo, "--hidden"}, legFrom + " to " + legTo, []string{"the start, eye 1.6 m", ">Start<", ">Destination<"}},
		{[]string{"Camp", "Knob"}, "Camp to Knob", []string{"Profile:"}},
		{[]string{"Camp", "富士山"}, "Camp to 36.25000,-84.29000", []string{"Profile:"}},
		{[]string{"富士山"}, "36.25000,-84.29000", nil},
		{[]string{"Camp", "--title", "Class two"}, "Class two", nil},
	} {
		body := draw(row.arguments...)
		assert.Contains(t, body, "<title>"+row.title+"</title>")
		words := strings.Join(strings.Fields(regexp.MustCompile(`</text>\s*<text[^>]*>`).ReplaceAllString(body, " ")), " ")
		for _, s := range row.has {
			assert.True(t, strings.Contains(body, s) || strings.Contains(words, s), "%v: %s", row.arguments, s)
		}
		assert.NotContains(t, body, ">start<")
	}
}

// TestASheetMarksWhatTheLegSights: the marks on a sheet are those of the leg's
// chain of sightings, by the same numbers, and its hazards are the leg's. The sheet
// used to show marks that no sighting was of.
func TestASheetMarksWhatTheLegSights(t *testing.T) {
	t.Parallel()
	from, to := legFrom, legTo
	var leg struct {
		Chain struct {
			Steps []struct {
				Number int `json:"number"`
				Mark   *struct {
					Kind string  `json:"kind"`
					M    float64 `json:"elevation_m"`
				} `json:"mark"`
				FromM float64 `json:"from_m"`
			} `json:"steps"`
		} `json:"chain"`
		Climb struct {
			GroundSteep []struct {
				FromM float64 `json:"from_m"`
			} `json:"ground_steep"`
		} `json:"climb"`
		Cliffs []any `json:"cliffs_within_drift"`
	}
	var drawn struct {
		Marks []struct {
			Label string  `json:"label"`
			Name  string  `json:"name"`
			FromM float64 `json:"from_m"`
			At    struct {
				M float64 `json:"elevation_m"`
			} `json:"place"`
		} `json:"marks"`
		Hazards []struct {
			Kind  string  `json:"kind"`
			FromM float64 `json:"from_m"`
		} `json:"hazards"`
	}
	a := run(t, "leg", from, to, "--json")
	require.Equal(t, exitOK, a.code, a.err)
	require.NoError(t, json.Unmarshal([]byte(a.out), &leg))
	b := run(t, "sheet", from, to, "--json", "-o", filepath.Join(t.TempDir(), "s.pdf"))
	require.Equal(t, exitOK, b.code, b.err)
	require.NoError(t, json.Unmarshal([]byte(b.out), &drawn))
	i := 0
	for _, s := range leg.Chain.Steps {
		if s.Mark == nil || s.Mark.Kind == "destination" || s.Mark.Kind == "start" {
			continue
		}
		require.Less(t, i, len(drawn.Marks))
		m := drawn.Marks[i]
		i++
		assert.Equal(t, fmt.Sprint(s.Number), m.Label)
		assert.Equal(t, s.Mark.Kind, m.Name)
		assert.Equal(t, s.Mark.M, m.At.M)
		assert.Equal(t, s.FromM, m.FromM)
	}
	assert.Len(t, drawn.Marks, i)
	require.NotZero(t, i)
	require.Len(t, drawn.Hazards, len(leg.Climb.GroundSteep)+len(leg.Cliffs))
	require.NotEmpty(t, drawn.Hazards)
	const rounding = 1.0 // m; one is written to the metre
	for i, s := range leg.Climb.GroundSteep {
		assert.Equal(t, "steep", drawn.Hazards[i].Kind)
		assert.InDelta(t, s.FromM, drawn.Hazards[i].FromM, rounding)
	}
}

// TestARoutesMarkIsWhatTheChainSetsOutOn: the JSON of a route's leg named as its mark
// a summit that no sighting was of.
func TestARoutesMarkIsWhatTheChainSetsOutOn(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "r.csv")
	require.NoError(t, os.WriteFile(file, []byte("lat,lon\n"+legFrom+"\n"+legTo+"\n36.24,-84.28\n36.2305,-84.2590\n36.2150,-84.2450\n36.26,-84.295\n"), 0o600))
	var route struct {
		Legs []struct {
			Mark *struct {
				Kind  string  `json:"kind"`
				M     float64 `json:"distance_m"`
				Sight struct {
					Verdict string `json:"verdict"`
				} `json:"sight"`
			} `json:"mark"`
			Chain struct {
				Steps []struct {
					Kind string `json:"kind"`
					Mark *struct {
						Kind   string  `json:"kind"`
						M      float64 `json:"distance_m"`
						Behind bool    `json:"behind"`
					} `json:"mark"`
				} `json:"steps"`
			} `json:"chain"`
		} `json:"legs"`
	}
	a := run(t, "route", file, "--straight", "--json")
	require.Equal(t, exitOK, a.code, a.err)
	require.NoError(t, json.Unmarshal([]byte(a.out), &route))
	marks := 0
	for i, l := range route.Legs {
		require.NotEmpty(t, l.Chain.Steps)
		first := l.Chain.Steps[0]
		if first.Mark == nil || first.Mark.Behind {
			assert.Nil(t, l.Mark, "leg %d", i+1)
			continue
		}
		marks++
		require.NotNil(t, l.Mark, "leg %d", i+1)
		assert.Equal(t, first.Mark.Kind, l.Mark.Kind)
		const lookingPoints = 100.0 // m, a post apart: a chain is between the ends' looking points
		assert.InDelta(t, first.Mark.M, l.Mark.M, lookingPoints)
		assert.Equal(t, "visible", l.Mark.Sight.Verdict)
	}
	require.NotZero(t, marks)

	// the card sets the bearings that the text does, and has hazards before sights
	card := filepath.Join(t.TempDir(), "card.svg")
	text := run(t, "route", file, "--straight", "-o", card)
	require.Equal(t, exitOK, text.code, text.err)
	drawn, err := os.ReadFile(card)
	require.NoError(t, err)
	found := regexp.MustCompile(`magnetic ([0-9]{3})° +\(true`).FindAllStringSubmatch(text.out, -1)
	require.Len(t, found, len(route.Legs))
	for _, f := range found {
		assert.True(t, strings.Contains(string(drawn), ">"+f[1]+"°<"), f[1])
	}
	if at := strings.Index(string(drawn), ">Over 30°"); assert.Positive(t, at) {
		assert.Less(t, at, strings.Index(string(drawn)[at:], "The end")+at)
	}
}

// TestASheetOfARoute: its marks have the letters of the route's card, its hazards
// are those of every leg, and it writes over nothing it reads.
func TestASheetOfARoute(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	file := filepath.Join(folder, "r.csv")
	require.NoError(t, os.WriteFile(file, []byte("name,lat,lon\nA,"+legFrom+"\nB,"+legTo+"\nC,36.2150,-84.2450\n"), 0o600))
	var route struct {
		Legs []struct {
			Marks []struct {
				Label string `json:"label"`
			} `json:"card_marks"`
		} `json:"legs"`
	}
	a := run(t, "route", file, "--straight", "--json")
	require.Equal(t, exitOK, a.code, a.err)
	require.NoError(t, json.Unmarshal([]byte(a.out), &route))
	var drawn struct {
		Pages   int      `json:"pages"`
		Written []string `json:"written"`
		Marks   []struct {
			Label string `json:"label"`
		} `json:"marks"`
		Hazards []struct {
			Leg int `json:"leg"`
		} `json:"hazards"`
	}
	b := run(t, "sheet", "--route", file, "--json", "-o", filepath.Join(folder, "r.svg"))
	require.Equal(t, exitOK, b.code, b.err)
	require.NoError(t, json.Unmarshal([]byte(b.out), &drawn))
	assert.Len(t, drawn.Written, drawn.Pages)
	labels := map[string]bool{}
	for _, m := range drawn.Marks {
		labels[m.Label] = true
	}
	named := 0
	for _, l := range route.Legs {
		for _, m := range l.Marks {
			named++
			assert.True(t, labels[m.Label], m.Label)
		}
	}
	require.NotZero(t, named)
	require.NotEmpty(t, drawn.Hazards)
	assert.Equal(t, 1, drawn.Hazards[0].Leg)
	for _, bad := range [][]string{
		{"sheet", legFrom, "--route", file, "-o", filepath.Join(folder, "x.svg")}, {"sheet", "--route", file, "--hidden", "-o", filepath.Join(folder, "x.svg")},
		{"sheet", legFrom, "--points", "-o", filepath.Join(folder, "x.svg")}, {"sheet", "-o", filepath.Join(folder, "x.svg")},
		{"sheet", "--route", filepath.Join(folder, "r.svg"), "-o", filepath.Join(folder, "r.svg")},
	} {
		assert.Equal(t, exitUsage, run(t, bad...).code, "%v", bad)
	}
}

// TestAPlainSheet: its numbers read toward the reader unless asked otherwise, and
// what would give the ground away or do nothing is refused.
func TestAPlainSheet(t *testing.T) {
	t.Parallel()
	var got *sheetOptions
	ask := func(args ...string) error {
		s := Streams{Out: io.Discard, Err: io.Discard}
		cmd := newSheetCmd(s, func(_ context.Context, o *sheetOptions) error { got = o; return nil })
		cmd.SilenceErrors, cmd.SilenceUsage = true, true
		cmd.SetArgs(args)
		return cmd.Execute()
	}
	for args, want := range map[string]string{"--plain": "reader", "--plain --label-reading uphill": "uphill", "--title x": "uphill"} {
		require.NoError(t, ask(append([]string{"34.3297,-118.0548"}, strings.Fields(args)...)...))
		require.Equal(t, want, got.labelReading, args)
	}
	for _, args := range []string{"34.3008,-118.0514", "--index-colour 7A4B00", "--relief 0.5", "--half", "--hidden"} {
		require.ErrorContains(t, ask(append([]string{"34.3297,-118.0548", "--plain"}, strings.Fields(args)...)...), "--plain", args)
	}
}
