package scene

import (
	"cmp"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/profile"
	"crowline/testdata/cumberland"
	"crowline/visibility"
)

var update = flag.Bool("update", false, "write the golden sentences anew, to be read aloud before they are committed")

// cumberlandGround is the tests' own ground.
func cumberlandGround(tb testing.TB) *dem.Grid {
	tb.Helper()
	r, err := gdalio.Open(cumberland.Path(), gdalio.Options{})
	return readAll(tb, r, err)
}

// mountainGround is the larger file, or skips the test.
func mountainGround(tb testing.TB) *dem.Grid {
	tb.Helper()
	folder := os.Getenv("CROWLINE_TERRAIN")
	if folder == "" {
		folder = filepath.Join("..", "..", "..", "shared", "dem")
	}
	path := filepath.Join(folder, "bigtujunga_srtm30.tif")
	if _, err := os.Stat(path); err != nil {
		tb.Skip("no elevation files; set CROWLINE_TERRAIN to the folder that has bigtujunga_srtm30.tif")
	}
	r, err := gdalio.Open(path, gdalio.Options{})
	return readAll(tb, r, err)
}

func readAll(tb testing.TB, r *gdalio.Raster, err error) *dem.Grid {
	tb.Helper()
	require.NoError(tb, err)
	defer r.Close()
	g, err := r.Read(tb.Context(), r.Layout().Whole())
	require.NoError(tb, err)
	return g
}

// both grounds, and how many places on each; CROWLINE_PLACES=200 takes 200.
func onBoth(t *testing.T, seed uint64, places int, test func(t *testing.T, g *dem.Grid, o visibility.Observer, options Options)) {
	t.Helper()
	if n, err := strconv.Atoi(os.Getenv("CROWLINE_PLACES")); err == nil && n > 0 {
		places = n
	}
	for _, c := range []struct {
		name          string
		ground        func(testing.TB) *dem.Grid
		verticalError float64
	}{{"Cumberland", cumberlandGround, cumberland.VerticalError}, {"Big Tujunga", mountainGround, 5.5}} {
		t.Run(c.name, func(t *testing.T) {
			g := c.ground(t)
			options := DefaultOptions()
			options.VerticalError = c.verticalError
			random := rand.New(rand.NewPCG(seed, 1))
			for range places {
				p, err := g.Place((0.05+0.9*random.Float64())*float64(g.Columns-1), (0.05+0.9*random.Float64())*float64(g.Rows-1))
				require.NoError(t, err)
				test(t, g, visibility.NewObserver(p), options)
				if t.Failed() {
					t.Fatalf("seed %d, place %s", seed, p)
				}
			}
		})
	}
}

// slopeTolerance is how far two slopes may differ at a distance: a viewshed
// lowers posts for the Earth's curve and joins them, a sight line lowers each
// crossing, so they differ by the sagitta of an edge; and posts are placed to a
// micrometre.
func slopeTolerance(spacing, distance float64) float64 {
	return (spacing*spacing/8/6.3e6 + 1e-6) / distance
}

// TestSkylineIsThatOfEveryLine: the fan's skyline is what walking each line
// finds (profile.Trace, visibility.GroundAlong), and visibility.Skyline's.
func TestSkylineIsThatOfEveryLine(t *testing.T) {
	onBoth(t, 11, 2, func(t *testing.T, g *dem.Grid, o visibility.Observer, options Options) {
		v, err := Look(t.Context(), g, o, options)
		require.NoError(t, err)
		horizon, err := visibility.Skyline(t.Context(), g, o, visibility.SkylineOptions{Refraction: options.Refraction, Step: options.Step})
		require.NoError(t, err)
		require.Len(t, horizon.Points, v.count)
		for i := range v.rays {
			c := v.rays[i].skyline()
			require.NotNil(t, c)
			assert.InDelta(t, horizon.Points[i].Slope, c.slope, slopeTolerance(v.Spacing, c.distance))
			if i%60 != 0 {
				continue
			}
			to, _ := geodesy.Direct(o.Place, v.bearing(i), v.reach)
			leg, err := profile.Trace(t.Context(), g, o.Place, to)
			require.NoError(t, err)
			ground, err := visibility.GroundAlong(leg, o, visibility.Conditions{Refraction: options.Refraction})
			require.NoError(t, err)
			assert.InDelta(t, float64(ground.Angle), float64(angle(c.slope)), slopeTolerance(v.Spacing, c.distance)*180/math.Pi)
			// and what is seen over each crest is where ground is seen again
			for _, c := range v.rays[i].crests {
				for k, s := range ground.Seen {
					// a sliver in sight behind it is a tie: ground that just touches the line
					touches := k+1 < len(ground.Seen) && ground.Seen[k+1].To-ground.Seen[k+1].From < 0.1
					if s.Verdict == visibility.Hidden && math.Abs(s.From-c.distance) < 1 && !touches {
						if c.sky() {
							assert.InDelta(t, leg.Covered, s.To, 1, "nothing is seen behind the skyline")
						} else {
							assert.InDelta(t, c.behind, s.To, 1.5*v.Spacing, "up to the next crossing")
						}
					}
				}
			}
		}
	})
}

// slowExtremes is the definition of how far a place of a row stands out, place
// by place: above the higher of the lowest places on both sides, looked for
// until one is higher, or not known, or the row has been gone round.
func slowExtremes(angles []float64) map[int]float64 {
	n := len(angles)
	out := map[int]float64{}
	for i, h := range angles {
		if math.IsNaN(h) {
			continue
		}
		lowest := [2]float64{h, h}
		for side, step := range []int{-1, 1} {
			for k := 1; k < n; k++ {
				a := angles[((i+step*k)%n+n)%n]
				if math.IsNaN(a) || a > h {
					break
				}
				lowest[side] = math.Min(lowest[side], a)
			}
		}
		if s := h - math.Max(lowest[0], lowest[1]); s > 0 {
			out[i] = s
		}
	}
	return out
}

// TestTopsAndNotchesAreThoseOfTheDefinition: each listed one stands out by what
// the slow definition says, and none that it finds is missing but for one that
// is too near, too broad, too close to a plainer one, or a ridge's end.
func TestTopsAndNotchesAreThoseOfTheDefinition(t *testing.T) {
	onBoth(t, 12, 3, func(t *testing.T, g *dem.Grid, o visibility.Observer, options Options) {
		options.MostTip, options.MostNotch = 360, 360 // breadth is another matter
		v, err := Look(t.Context(), g, o, options)
		require.NoError(t, err)
		angles, low := make([]float64, v.count), make([]float64, v.count)
		for i := range v.rays {
			angles[i] = float64(angle(v.rays[i].skyline().slope))
			low[i] = -angles[i]
		}
		for _, c := range []struct {
			kind Kind
			row  []float64
		}{{Top, angles}, {Notch, low}} {
			slow := slowExtremes(c.row)
			var listed []Thing
			for _, th := range v.of(c.kind) {
				if !th.Skyline {
					continue
				}
				listed = append(listed, th)
				if th.Side == 0 { // of a notch with a ridge's end the end is looked at
					assert.InDelta(t, slow[th.ray], float64(th.StandsOut), 1e-9)
				}
			}
			for i, out := range slow {
				d := v.rays[i].skyline().distance
				if d < v.nearest+2*v.Spacing || out < float64(v.out(d)) {
					continue
				}
				here := Thing{Bearing: v.bearing(i)}
				assert.True(t, slices.ContainsFunc(listed, func(th Thing) bool { return apart(th, here) < inNotch }),
					"%s at %.1f°, out %.2f°", c.kind, float64(here.Bearing), out)
			}
		}
	})
}

// seenWithin reports whether a place, or ground within a post of it, is in sight.
func seenWithin(t *testing.T, g *dem.Grid, o visibility.Observer, th Thing, c visibility.Conditions) bool {
	t.Helper()
	c.TargetAboveGround = th.above
	places := []geodesy.LatLon{th.Place}
	column, row, err := g.Locate(th.Place)
	require.NoError(t, err)
	for _, dc := range []float64{0, -1, 1} {
		for _, dr := range []float64{0, -1, 1} {
			p, err := g.Place(math.Round(column)+dc, math.Round(row)+dr)
			require.NoError(t, err)
			places = append(places, p)
		}
	}
	return slices.ContainsFunc(places, func(p geodesy.LatLon) bool {
		leg, err := profile.Trace(t.Context(), g, o.Place, p)
		if err != nil {
			return false
		}
		s, err := visibility.Along(leg, o, c)
		return err == nil && s.Verdict == visibility.Visible
	})
}

// TestEveryThingIsSeenAndToldApart: from random places, each thing is in sight,
// is where it is said to be, and alone satisfies its description; no two
// sentences are alike.
func TestEveryThingIsSeenAndToldApart(t *testing.T) {
	things := 0
	onBoth(t, 13, 12, func(t *testing.T, g *dem.Grid, o visibility.Observer, options Options) {
		v, err := Look(t.Context(), g, o, options)
		require.NoError(t, err)
		said := map[string]bool{}
		for _, th := range v.Things {
			things++
			fits := v.Satisfying(th)
			sentence := v.Reference(th)
			if assert.Len(t, fits, 1, sentence) {
				assert.True(t, th.is(fits[0]), sentence)
			}
			assert.False(t, said[sentence], "twice: %s", sentence)
			said[sentence] = true
			assert.True(t, seenWithin(t, g, o, th, visibility.Conditions{Refraction: options.Refraction}), "not in sight: %s", sentence)
			line := geodesy.Inverse(o.Place, th.Place)
			assert.InDelta(t, th.Distance, line.Distance, 0.01)
			assert.InDelta(t, 0, float64(geodesy.Difference(th.Bearing, line.Start)), 0.001)
			assert.GreaterOrEqual(t, th.Distance, v.nearest)
		}
		for a := range v.Things { // of one place on the skyline one thing
			for _, b := range v.Things[a+1:] {
				if x := v.Things[a]; x.crest != nil && b.crest != nil && x.Skyline == b.Skyline {
					assert.False(t, x.crest == b.crest, "%s and %s are one", v.Reference(x), v.Reference(b))
				}
			}
		}
	})
	t.Logf("%d things", things)
}

// TestConcurrencyChangesNothing: byte for byte.
func TestConcurrencyChangesNothing(t *testing.T) {
	onBoth(t, 14, 1, func(t *testing.T, g *dem.Grid, o visibility.Observer, options Options) {
		var first string
		for _, n := range []int{1, 2, 7} {
			options.Concurrency = n
			v, err := Look(t.Context(), g, o, options)
			require.NoError(t, err)
			text := ""
			for _, th := range v.Things {
				th.crest = nil
				text += fmt.Sprintf("%+v %s\n", th, v.Describe(th, units.Metric))
			}
			if first == "" {
				first = text
			}
			assert.Equal(t, first, text)
		}
	})
}

// hills are smooth random ground in whole metres.
func hills(seed uint64) func(x, y float64) float64 {
	random := rand.New(rand.NewPCG(seed, 3))
	type wave struct{ a, b, phase, height float64 }
	var waves []wave
	for range 12 {
		length := 1500 + 4000*random.Float64()
		s, c := math.Sincos(2 * math.Pi * random.Float64())
		waves = append(waves, wave{2 * math.Pi * s / length, 2 * math.Pi * c / length, 2 * math.Pi * random.Float64(), 10 + length/60*random.Float64()})
	}
	return func(x, y float64) float64 {
		h := 500.0
		for _, w := range waves {
			h += w.height * math.Sin(w.a*x+w.b*y+w.phase)
		}
		return math.Round(h)
	}
}

// TestGroundTurnedTurnsTheAnswer: ground turned by 90 degrees clockwise about
// the observer has the same things, 90 degrees farther round.
func TestGroundTurnedTurnsTheAnswer(t *testing.T) {
	things := 0
	for seed := uint64(1); seed <= 4; seed++ {
		h := hills(seed)
		g := made(t, 6000, h)
		turned := made(t, 6000, func(x, y float64) float64 { return h(-y, x) })
		a, b := look(t, g, middle(t, g, 0)), look(t, turned, middle(t, turned, 0))
		order := func(of []Thing, by geodesy.Degrees) []Thing {
			out := slices.Clone(of)
			for i := range out {
				out[i].Bearing = geodesy.NewTrueBearing(geodesy.Degrees(out[i].Bearing) + by)
			}
			slices.SortFunc(out, func(a, b Thing) int {
				return cmp.Or(cmp.Compare(math.Round(float64(a.Bearing)), math.Round(float64(b.Bearing))), cmp.Compare(a.Kind, b.Kind))
			})
			return out
		}
		x, y := order(a.Things, 90), order(b.Things, 0)
		require.Len(t, y, len(x), "seed %d", seed)
		things += len(x)
		for i := range x {
			assert.Equal(t, x[i].Kind, y[i].Kind, "seed %d", seed)
			assert.InDelta(t, 0, float64(geodesy.Difference(x[i].Bearing, y[i].Bearing)), 0.21, "seed %d", seed)
			assert.InEpsilon(t, x[i].Distance, y[i].Distance, 0.02, "seed %d", seed)
			assert.InDelta(t, float64(x[i].StandsOut), float64(y[i].StandsOut), 0.03, "seed %d", seed)
		}
	}
	assert.Greater(t, things, 10, "ground with something to see")
}

// TestRaisedGroundLooksTheSame: a kilometre higher changes nothing but the
// elevations.
func TestRaisedGroundLooksTheSame(t *testing.T) {
	h := hills(5)
	g := made(t, 6000, h)
	high := made(t, 6000, func(x, y float64) float64 { return h(x, y) + 1000 })
	a, b := look(t, g, middle(t, g, 0)), look(t, high, middle(t, high, 0))
	require.Len(t, b.Things, len(a.Things))
	require.NotEmpty(t, a.Things)
	for i := range a.Things {
		assert.Equal(t, a.Describe(a.Things[i], units.Metric), b.Describe(b.Things[i], units.Metric))
		assert.InDelta(t, float64(a.Things[i].StandsOut), float64(b.Things[i].StandsOut), 1e-6)
		assert.InDelta(t, a.Things[i].Elevation+1000, b.Things[i].Elevation, 1e-6)
	}
}

// TestGoldenSentences are every sentence from 40 places, to be read aloud.
func TestGoldenSentences(t *testing.T) {
	g := cumberlandGround(t)
	options := DefaultOptions()
	options.VerticalError = cumberland.VerticalError
	random := rand.New(rand.NewPCG(40, 40))
	var b strings.Builder
	for range 40 {
		p, err := g.Place((0.05+0.9*random.Float64())*float64(g.Columns-1), (0.05+0.9*random.Float64())*float64(g.Rows-1))
		require.NoError(t, err)
		v, err := Look(t.Context(), g, visibility.NewObserver(p), options)
		require.NoError(t, err)
		fmt.Fprintf(&b, "From %s\n", p)
		for _, th := range v.Things {
			fmt.Fprintf(&b, "  %s\n", v.Describe(th, units.Metric))
		}
		for bearing := geodesy.TrueBearing(10); bearing < 360; bearing += 120 {
			s, ok := v.Skyline(bearing)
			require.True(t, ok)
			fmt.Fprintf(&b, "  %s: %s\n", units.Dial(float64(bearing)), v.DescribeSkyline(s, units.Metric))
		}
	}
	path := filepath.Join("testdata", "golden", "sentences.txt")
	if *update {
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(b.String()), 0o600))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(want), b.String())
}

// BenchmarkLook is one view over 770 000 posts, and the walk alone.
func BenchmarkLook(b *testing.B) {
	g := mountainGround(b)
	p, err := geodesy.ParsePlace("34.29903,-118.06370")
	require.NoError(b, err)
	b.ReportAllocs()
	for b.Loop() {
		_, err := Look(b.Context(), g, visibility.NewObserver(p), DefaultOptions())
		require.NoError(b, err)
	}
	b.ReportMetric(float64(len(g.Elevations))*float64(b.N)/b.Elapsed().Seconds(), "posts/s")
}
