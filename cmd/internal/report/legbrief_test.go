package report

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/cmd/internal/answer"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/testdata/cumberland"
)

// TestALegIsShortAndItsHazardsComeFirst: 60 legs on two grounds, some of which
// leave the data. None is over 45 lines of 80 columns; the first lines are six
// at most, and begin with what could hurt just where something could.
func TestALegIsShortAndItsHazardsComeFirst(t *testing.T) {
	t.Parallel()
	grounds := map[string]struct {
		paths      []string
		south      float64
		west, east float64
		north      float64
	}{
		"demo":       {nil, 34.24, -118.15, -117.97, 34.40},
		"cumberland": {[]string{cumberland.Path()}, 36.18, -84.40, -84.22, 36.43},
	}
	seed := uint64(14)
	day := time.Date(2026, 12, 1, 0, 0, 0, 0, time.UTC)
	for name, ground := range grounds {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			g, err := answer.Open(t.Context(), answer.Data{Paths: ground.paths}, answer.Reach{})
			require.NoError(t, err)
			t.Cleanup(func() { _ = g.Close() })
			random := rand.New(rand.NewPCG(seed, 0))
			dangerous := 0
			// trees 15 m high over its western half
			trees := filepath.Join(t.TempDir(), "trees.geojson")
			middle := (ground.west + ground.east) / 2
			require.NoError(t, os.WriteFile(trees, fmt.Appendf(nil, `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"h":15},
				"geometry":{"type":"Polygon","coordinates":[[[%[1]g,%[3]g],[%[2]g,%[3]g],[%[2]g,%[4]g],[%[1]g,%[4]g],[%[1]g,%[3]g]]]}}]}`,
				ground.west-1, middle, ground.south-1, ground.north+1), 0o600))
			for i := range 30 {
				from := geodesy.LatLon{Lat: geodesy.Degrees(ground.south + random.Float64()*(ground.north-ground.south)), Lon: geodesy.Degrees(ground.west + random.Float64()*(ground.east-ground.west))}
				to, _ := geodesy.Direct(from, geodesy.TrueBearing(random.Float64()*360), 1000+random.Float64()*6000)
				r := answer.LegRequest{From: answer.PlaceAt(from), To: answer.PlaceAt(to), Sighting: answer.DefaultSighting(), Walk: answer.DefaultWalk(), Needle: answer.Needle{Day: day}, Marks: 3}
				if i%3 == 1 { // what more may be asked takes no more lines
					r.Start = day.Add(17 * time.Hour).In(time.FixedZone("", -8*3600))
				}
				if i%6 < 2 {
					r.Cover = answer.Cover{File: trees, Field: "h"}
				}
				a, err := answer.Leg(t.Context(), g, r)
				require.NoError(t, err)
				what := fmt.Sprintf("seed %d, leg %d: %v %v", seed, i, from, to)
				for _, u := range []units.System{units.Metric, units.US} {
					var b bytes.Buffer
					p := NewPage(&b, u)
					Leg(p, a)
					require.NoError(t, p.Err())
					lines := strings.Split(strings.TrimRight(b.String(), "\n"), "\n")
					if !assert.LessOrEqual(t, len(lines), mostBrief, what) {
						t.Log(b.String())
					}
					for _, l := range lines {
						assert.LessOrEqual(t, utf8.RuneCountInString(l), Width, "%s: %q", what, l)
					}
					head, _, _ := strings.Cut(b.String(), "\n\n")
					if !assert.LessOrEqual(t, len(strings.Split(head, "\n")), mostFirst, what) {
						t.Log(head)
					}
					dark := a.Arrival != nil && dayEnds(a.Arrival, *a.Start, "") != ""
					hurts := dark || a.CoveredM < a.DistanceM || a.UnknownM > 0 || len(a.Climb.GroundSteep) > 0 || len(a.Climb.Steep) > 0 || len(*a.Cliffs) > 0
					assert.Equal(t, hurts, strings.HasPrefix(lines[0], "  BEWARE "), what)
					for _, say := range []string{"walk ", "sight ", "drift "} {
						text := head
						if say == "drift " { // it gives way to the hazards, and comes later
							text = b.String()
						}
						assert.Contains(t, "\n"+text, "\n  "+say, what)
					}
					if hurts {
						dangerous++
					} else {
						assert.True(t, strings.HasPrefix(lines[0], "  walk "), what)
					}
					if testing.Verbose() && u == units.Metric {
						t.Log("\n" + head)
					}
				}
			}
			assert.NotZero(t, dangerous)
		})
	}
}
