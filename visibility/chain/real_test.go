package chain

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/profile"
	"crowline/testdata/cumberland"
	"crowline/visibility"
	"crowline/visibility/scene"
)

var update = flag.Bool("update", false, "write the golden sentences anew, to be read aloud before they are committed")

// legsFor is how many legs are tried on each ground: all are by CROWLINE_LEGS=40.
func legsFor(fewer int) int {
	if n, err := strconv.Atoi(os.Getenv("CROWLINE_LEGS")); err == nil && n > 0 {
		return n
	}
	return fewer
}

func readAll(tb testing.TB, path string) *dem.Grid {
	tb.Helper()
	r, err := gdalio.Open(path, gdalio.Options{})
	require.NoError(tb, err)
	defer r.Close()
	g, err := r.Read(tb.Context(), r.Layout().Whole())
	require.NoError(tb, err)
	return g
}

// realGround is one of the two grounds, with its vertical error, metres.
func realGround(tb testing.TB, name string) (*dem.Grid, float64) {
	tb.Helper()
	if name == "cumberland" {
		return readAll(tb, cumberland.Path()), cumberland.VerticalError
	}
	folder := os.Getenv("CROWLINE_TERRAIN")
	if folder == "" {
		folder = filepath.Join("..", "..", "..", "shared", "dem")
	}
	path := filepath.Join(folder, "bigtujunga_srtm30.tif")
	if _, err := os.Stat(path); err != nil {
		tb.Skip("no elevation files; set CROWLINE_TERRAIN to the folder that has bigtujunga_srtm30.tif")
	}
	const srtmError = 5.5 // m
	return readAll(tb, path), srtmError
}

// legOn is a leg of 2 to 6 km on a ground.
func legOn(tb testing.TB, g *dem.Grid, random *rand.Rand) (from, to geodesy.LatLon) {
	tb.Helper()
	for {
		p, err := g.Place((0.1+0.8*random.Float64())*float64(g.Columns-1), (0.1+0.8*random.Float64())*float64(g.Rows-1))
		require.NoError(tb, err)
		to, _ := geodesy.Direct(p, geodesy.TrueBearing(360*random.Float64()), 2000+4000*random.Float64())
		if c, r, err := g.Locate(to); err == nil && g.Contains(c, r) {
			return p, to
		}
	}
}

func findOn(tb testing.TB, g *dem.Grid, from, to geodesy.LatLon, sigma float64) (Plan, Options, *profile.Leg) {
	tb.Helper()
	leg, err := profile.Trace(tb.Context(), g, from, to)
	require.NoError(tb, err)
	o := Options{Conditions: visibility.Conditions{Refraction: visibility.DefaultRefraction}, EyeAboveGround: 1.6, VerticalError: sigma, Hazards: leg.Gradient().Steep}
	plan, err := Find(tb.Context(), g, from, to, o)
	require.NoError(tb, err)
	return plan, o, leg
}

// TestGoldenSentences are the chains of legs on both grounds, to be read aloud.
func TestGoldenSentences(t *testing.T) {
	for _, name := range []string{"cumberland", "bigtujunga"} {
		t.Run(name, func(t *testing.T) {
			g, sigma := realGround(t, name)
			random := rand.New(rand.NewPCG(14, 40))
			var b strings.Builder
			const all, fewer = 40, 4
			n := legsFor(fewer)
			if *update && os.Getenv("CROWLINE_LEGS") == "" {
				n = all
			}
			unguided, sum, sightings := 0.0, 0.0, 0
			for i := range n {
				from, to := legOn(t, g, random)
				t0 := time.Now()
				plan, _, leg := findOn(t, g, from, to, sigma)
				t.Log(leg.Distance, time.Since(t0), plan.Sightings, plan.Unguided)
				unguided, sum, sightings = unguided+plan.Unguided, sum+leg.Distance, sightings+plan.Sightings
				fmt.Fprintf(&b, "Leg %d: %s to %s, %s\n", i+1, from, to, units.Metric.Distance(leg.Distance))
				for _, s := range plan.Steps {
					fmt.Fprintf(&b, "  %s: %s\n", units.Metric.Stretch(s.From, s.To), s.Sentence(units.Metric, leg.Distance))
					if s.Mark != nil {
						fmt.Fprintf(&b, "    not found? %s\n", s.NotFound(units.Metric, leg.Distance))
					}
				}
			}
			t.Logf("%.1f of %.1f km unguided, %d sightings", unguided/1000, sum/1000, sightings)
			path := filepath.Join("testdata", "golden", name+".txt")
			if *update {
				require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
				require.NoError(t, os.WriteFile(path, []byte(b.String()), 0o600))
			}
			want, err := os.ReadFile(path)
			require.NoError(t, err)
			assert.True(t, strings.HasPrefix(string(want), b.String()), "got:\n%s", b.String())
		})
	}
}

// TestEveryMarkIsToldApart: on real ground each mark is a thing in view from where it
// is chosen, or the goal; of all that is in view all round exactly one fits its words;
// it is seen from where it is chosen and where it is left, and lost no more than is
// told.
func TestEveryMarkIsToldApart(t *testing.T) {
	for _, name := range []string{"cumberland", "bigtujunga"} {
		t.Run(name, func(t *testing.T) {
			g, sigma := realGround(t, name)
			ground := scene.NewGround(g)
			random := rand.New(rand.NewPCG(14, 41))
			marks := 0
			const fewer = 3
			for range legsFor(fewer) {
				from, to := legOn(t, g, random)
				plan, o, leg := findOn(t, g, from, to, sigma)
				at := 0.0
				for i := range plan.Steps {
					s := &plan.Steps[i]
					assert.Equal(t, at, s.From, "steps join")
					at = s.To
					told := []*Mark{s.Mark}
					if s.Back != nil {
						told = append(told, &s.Back.Mark)
					}
					for _, m := range told {
						if m == nil {
							continue
						}
						marks++
						checkMark(t, ground, o, leg, s, m)
					}
					if s.Mark != nil {
						checkSeen(t, g, o, leg, s)
					}
				}
				assert.Equal(t, leg.Distance, at)
			}
			t.Logf("%d marks", marks)
		})
	}
}

func checkMark(t *testing.T, ground *scene.Ground, o Options, leg *profile.Leg, s *Step, m *Mark) {
	t.Helper()
	_, thing, ok := m.View()
	if !ok {
		assert.Contains(t, []Kind{Destination, Start}, m.Kind)
		return
	}
	look := scene.DefaultOptions()
	look.Refraction, look.VerticalError, look.Step, look.Line = o.Conditions.Refraction, o.VerticalError, lookStep, &s.Line
	all, err := ground.Look(t.Context(), visibility.Observer{Place: leg.PlaceAt(s.From), EyeAboveGround: o.EyeAboveGround}, look)
	require.NoError(t, err)
	fits := all.Satisfying(thing)
	if assert.Len(t, fits, 1, "%s from %s", m.Describe(units.Metric), leg.PlaceAt(s.From)) {
		assert.Equal(t, thing.Kind, fits[0].Kind)
		assert.Equal(t, thing.Place, fits[0].Place)
	}
	assert.LessOrEqual(t, math.Abs(float64(m.Off)), float64(DefaultWithin))
}

// checkSeen looks at a step's mark every few metres of the walk.
func checkSeen(t *testing.T, g *dem.Grid, o Options, leg *profile.Leg, s *Step) {
	t.Helper()
	const apart, edge = 20.0, 5.0 // m
	c := o.Conditions
	c.TargetAboveGround = s.Mark.AboveGround
	run, untold := 0.0, 0.0
	for x := s.From; x <= s.To-apart; x += apart {
		here := leg.PlaceAt(x)
		line, err := profile.Trace(t.Context(), g, here, s.Mark.Place)
		require.NoError(t, err)
		sight, err := visibility.Along(line, visibility.Observer{Place: here, EyeAboveGround: o.EyeAboveGround}, c)
		require.NoError(t, err)
		lost := false
		for _, l := range s.Mark.Lost {
			lost = lost || x >= l.From-edge && x <= l.To+edge
		}
		if sight.Verdict == visibility.Visible {
			run, untold = 0, 0
			continue
		}
		assert.NotEqual(t, s.From, x, "a mark is seen where it is chosen")
		run += apart
		if untold += apart; lost {
			untold = 0
		} else {
			assert.LessOrEqual(t, untold, leastLost+apart, "at %.0f m: %s", x, s.Sentence(units.Metric, leg.Distance))
		}
		assert.LessOrEqual(t, run, DefaultMostLost+apart)
		for _, l := range s.Mark.Lost {
			assert.LessOrEqual(t, l.To-l.From, DefaultMostLost)
		}
	}
}

// TestThroughoutIsNeverLost, and a mark is never lost beside a hazard.
func TestThroughoutIsNeverLost(t *testing.T) {
	g, sigma := realGround(t, "cumberland")
	random := rand.New(rand.NewPCG(14, 42))
	loosely := 0
	for range 3 {
		from, to := legOn(t, g, random)
		loose, o, leg := findOn(t, g, from, to, sigma)
		count := func(p Plan) (n int) {
			for _, s := range p.Steps {
				if s.Mark != nil {
					n += len(s.Mark.Lost)
				}
			}
			return n
		}
		loosely += count(loose)
		o.Throughout = true
		strict, err := Find(t.Context(), g, from, to, o)
		require.NoError(t, err)
		assert.Zero(t, count(strict))
		assert.GreaterOrEqual(t, strict.Unguided, loose.Unguided-every, "sight throughout asks for more")
		o.Throughout, o.Hazards = false, []profile.Stretch{{From: 0, To: leg.Distance}}
		steep, err := Find(t.Context(), g, from, to, o)
		require.NoError(t, err)
		assert.Zero(t, count(steep))
	}
	assert.Positive(t, loosely, "ground on which marks are lost")
}
