package cli

import (
	"encoding/json"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	figures "crowline/dem/units"
)

// broken is a leg over several ridges of the Cumberland ground.
var broken = []string{"leg", "36.2600,-84.2950", "36.3300,-84.3500"}

// TestChainText: the chain says first how far it leads; every angle has its
// sense in words; short stretches on the compass have no line of their own
// but the first; text and JSON tell the same steps.
func TestChainText(t *testing.T) {
	a := run(t, append(broken, "--chain")...)
	require.Equal(t, exitOK, a.code, a.err)
	_, text, _ := strings.Cut(a.out, "Sightings, start to destination\n")
	text, _, _ = strings.Cut(text, "\nData\n")
	flat := strings.Join(strings.Fields(text), " ")
	assert.Regexp(t, `^\d+ sightings, each mark in view throughout the walk to it, and \d+ m on the compass alone where no mark ahead will do\. This line is hard to lead by marks`, flat)
	assert.NotRegexp(t, `[-+]\d`, flat)
	assert.Regexp(t, `; \d+\.\d° up`, flat)
	assert.Regexp(t, `; \d+\.\d° down`, flat)
	assert.Regexp(t, `the slope \d+ m short of the crest at \d\.\d\d km, \d+ m below it`, flat)

	j := run(t, append(broken, "--json")...)
	require.Equal(t, exitOK, j.code, j.err)
	var v struct{ Chain chainTold }
	require.NoError(t, json.Unmarshal([]byte(j.out), &v))
	assert.True(t, v.Chain.Hard)
	assert.False(t, v.Chain.Complete)
	sighted, compass, at := 0, 0, 0.0
	for _, s := range v.Chain.Steps {
		assert.Equal(t, at, s.FromM)
		at = s.ToM
		if s.Mark == nil {
			if !s.Short {
				compass++
			}
			continue
		}
		sighted++
		if s.Mark.Kind == "ground" {
			require.NotNil(t, s.Mark.RelativeTo)
			r := s.Mark.RelativeTo
			assert.InDelta(t, s.Mark.AtM, r.AtM+r.PastM, 0.11)
			assert.InDelta(t, *s.Mark.ElevationM, *r.ElevationM+r.AboveM, 0.16)
		} else {
			assert.Nil(t, s.Mark.RelativeTo)
		}
	}
	assert.Equal(t, v.Chain.Sightings, sighted)
	assert.Len(t, regexp.MustCompile(`(?m)^  \d+ {3,}`).FindAllString(text, -1), sighted)
	assert.Len(t, regexp.MustCompile(`(?m)^  compass {3,}`).FindAllString(text, -1), compass)
}

// TestChainTakesTheSummit: the summit beside this line carries as far as the
// ground before it and can be recognised.
func TestChainTakesTheSummit(t *testing.T) {
	a := run(t, "leg", ridgeFrom, ridgeTo, "--chain")
	require.Equal(t, exitOK, a.code, a.err)
	flat := strings.Join(strings.Fields(a.out), " ")
	assert.Contains(t, flat, "2 sightings lead all the way but for short stretches on the compass, each mark in view throughout the walk to it; this is the fewest possible.")
	assert.Contains(t, flat, "1 0 m to 3.44 km: the summit at 3.44 km (672 m), 62 m left of the line; 1.7° up; then 20 m on the compass")
	assert.Contains(t, flat, "2 3.46 km to 5.19 km: the destination; 8.1° down")
}

// TestUpDown: an angle is said with its sense, never with a sign.
func TestUpDown(t *testing.T) {
	for degrees, want := range map[float64]string{15.14: "15.1° up", -15.14: "15.1° down", 0.04: "level", -0.04: "level", -0.06: "0.1° down", 90: "90.0° up"} {
		assert.Equal(t, want, figures.UpDown(degrees))
	}
	for _, arguments := range [][]string{append(broken, "--marks", "6"), {"landmarks", legFrom, "--with-hidden"}, {"skyline", legFrom}, {"sight", legFrom, legTo}} {
		a := run(t, arguments...)
		require.Equal(t, exitOK, a.code, a.err)
		assert.NotRegexp(t, `[-+]\d+(\.\d+)?° (up|down)`, a.out)
	}
}
