package cli

import (
	"encoding/json"
	"math"
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
// but the first; text and JSON tell the same steps, and each mark is one that
// can be recognised.
func TestChainText(t *testing.T) {
	a := run(t, append(broken, "--chain")...)
	require.Equal(t, exitOK, a.code, a.err)
	_, text, _ := strings.Cut(a.out, "Sightings, start to destination\n")
	text, _, _ = strings.Cut(text, "\nData\n")
	flat := strings.Join(strings.Fields(text), " ")
	assert.Regexp(t, `^\d+ sightings, and \d\.\d\d km on the compass alone where nothing that can be recognised leads; each mark is in view where it is chosen, and lost for 500 m at most\. This line is hard to lead by marks`, flat)
	assert.NotRegexp(t, `[-+]\d`, flat)
	assert.Regexp(t, `, \d+\.\d° up`, flat)
	assert.Regexp(t, `, \d+\.\d° down`, flat)
	assert.NotContains(t, flat, "slope")

	j := run(t, append(broken, "--json")...)
	require.Equal(t, exitOK, j.code, j.err)
	var v struct{ Chain chainTold }
	require.NoError(t, json.Unmarshal([]byte(j.out), &v))
	assert.True(t, v.Chain.Hard)
	assert.False(t, v.Chain.Complete)
	sighted, compass, at := 0, 0, 0.0
	for i, s := range v.Chain.Steps {
		assert.Equal(t, at, s.FromM)
		at = s.ToM
		if s.Mark == nil {
			if !s.Short || i == 0 {
				compass++
			}
			continue
		}
		sighted++
		assert.Contains(t, []string{"top", "notch", "ridge end", "spur end", "cliff", "steep face", "water", "destination"}, s.Mark.Kind)
		assert.NotEmpty(t, s.IfNotFound)
		assert.LessOrEqual(t, math.Abs(s.Mark.OffLineDeg), 15.0)
		assert.Equal(t, s.Mark.Behind, s.Mark.AtM < s.FromM)
		assert.InDelta(t, s.Mark.DistanceM, math.Hypot(s.Mark.AtM-s.FromM, s.Mark.OffsetM), 1)
		assert.Contains(t, flat, s.Mark.Description)
	}
	assert.Equal(t, v.Chain.Sightings, sighted)
	assert.Len(t, regexp.MustCompile(`(?m)^  \d+ {3,}`).FindAllString(text, -1), sighted)
	assert.Len(t, regexp.MustCompile(`(?m)^  compass {3,}`).FindAllString(text, -1), compass)
}

// TestChainTakesTheSummit beside the line, until it stands too far off it.
func TestChainTakesTheSummit(t *testing.T) {
	t.Parallel()
	a := run(t, "leg", ridgeFrom, ridgeTo, "--chain")
	require.Equal(t, exitOK, a.code, a.err)
	flat := strings.Join(strings.Fields(a.out), " ")
	assert.Contains(t, flat, "2 sightings lead all the way but for short stretches on the compass; each mark is in view where it is chosen, and lost for 500 m at most.")
	assert.Contains(t, flat, "1 0 m to 3.20 km: the round top on the skyline, half a finger left of your line, 3.45 km off, 1.7° up; then 400 m on the compass not found? walk compass bearing 020 to 3.20 km")
	assert.Contains(t, flat, "2 3.60 km to 5.19 km: the goal, 1.59 km off on your line, 7.8° down")
	flat = strings.Join(strings.Fields(run(t, "leg", ridgeFrom, ridgeTo, "--chain", "--throughout").out), " ")
	assert.Contains(t, flat, "in view all the way that it leads")
	assert.NotContains(t, flat, "it comes back")
}

// TestUpDown: an angle is said with its sense, never with a sign.
func TestUpDown(t *testing.T) {
	t.Parallel()
	for degrees, want := range map[float64]string{15.14: "15.1° up", -15.14: "15.1° down", 0.04: "level", -0.04: "level", -0.06: "0.1° down", 90: "90.0° up"} {
		assert.Equal(t, want, figures.UpDown(degrees))
	}
	for _, arguments := range [][]string{append(broken, "--marks", "6"), {"landmarks", legFrom, "--with-hidden"}, {"skyline", legFrom}, {"sight", legFrom, legTo}} {
		a := run(t, arguments...)
		require.Equal(t, exitOK, a.code, a.err)
		assert.NotRegexp(t, `[-+]\d+(\.\d+)?° (up|down)`, a.out)
	}
}
