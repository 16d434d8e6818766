package waymarks_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/demo"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/profile/drift"
	"crowline/profile/waymarks"
	"crowline/testdata/cumberland"
)

// onReal is a leg on real ground, as the command line reads it: the grid round
// the leg with a margin, features at 500 m or six posts and of 20 m or three
// standard deviations.
func onReal(t testing.TB, name string, data []byte, from, to geodesy.LatLon, stretches ...drift.Stretch) waymarks.Request {
	t.Helper()
	r, err := gdalio.OpenBytes(name, data, gdalio.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, r.Close()) })
	length := geodesy.Inverse(from, to).Distance
	if len(stretches) == 0 {
		stretches = []drift.Stretch{{To: length, Kind: drift.Compass}}
	}
	stretches[len(stretches)-1].To = length
	walk, err := drift.Along(drift.DefaultErrors(), stretches)
	require.NoError(t, err)
	beyond, _ := geodesy.Direct(to, geodesy.Inverse(from, to).End, 1000+walk.PacedHalf(length))
	w, err := dem.WindowAround(r.Layout(), geodesy.Waypoints(from, beyond, 16), 1500)
	require.NoError(t, err)
	g, err := r.Read(context.Background(), w)
	require.NoError(t, err)
	sigma := g.Source.VerticalError
	o, err := landform.FeatureOptions{Scale: 500, MinRelief: math.Max(20, 3*sigma), VerticalError: sigma}.Resolve(g)
	require.NoError(t, err)
	features, err := landform.Features(context.Background(), g, o)
	require.NoError(t, err)
	return waymarks.Request{From: from, To: to, Grid: g, Features: features, VerticalError: sigma, Walk: walk, SeenFrom: 50,
		Forms: landform.AlongOptions{Scale: o.Scale, MinRelief: o.MinRelief}}
}

// tell writes what was found as one would read it to a class.
func tell(r waymarks.Request, w *waymarks.Waymarks) string {
	var b strings.Builder
	g := geodesy.Inverse(r.From, r.To)
	fmt.Fprintf(&b, "%03.0f, %.0f m; drift %.0f m, pacing %.0f m, relief %.0f m\n", float64(g.Start), g.Distance, r.Walk.HalfWidth(g.Distance), r.Walk.PacedHalf(g.Distance), r.Forms.MinRelief)
	side := map[waymarks.Side]string{waymarks.Left: "left", waymarks.Right: "right", waymarks.Ahead: "under the feet or on both sides"}
	for _, x := range w.Ticks {
		fmt.Fprintf(&b, "  tick    %5.0f m  %4.0f m up  %-24s %s throughout=%t", x.Distance, x.Elevation, x.Name, x.Shape, x.Throughout)
		if x.Before != 0 {
			fmt.Fprintf(&b, " from %.0f to %.0f degrees", float64(x.Before), float64(x.After))
		}
		fmt.Fprintln(&b)
	}
	for _, h := range w.Handrails {
		fmt.Fprintf(&b, "  rail    %.0f to %.0f m: %s, %s, %.0f to %.0f m off\n", h.From, h.To, h.Kind, side[h.Side], h.Nearest, h.Farthest)
	}
	if a := w.Attack; a != nil {
		fmt.Fprintf(&b, "  attack  %s at %.0f m, %.0f m aside: %03.0f, %.0f m\n", a.Name, a.Along, a.Aside, float64(a.Bearing), a.Distance)
	}
	if a := w.AimOff; a != nil {
		fmt.Fprintf(&b, "  aim off %.1f degrees to the %s (%.0f m), on the %s %q turn %s, at most %.0f m, climb %.0f\n", float64(a.Angle), side[a.Side], a.Aside, a.On, a.Name, side[a.Turn], a.Within, a.Climb)
	}
	if c := w.Catch; c != nil {
		fmt.Fprintf(&b, "  too far %s %q %.0f m beyond (at most %.0f), change %.0f, alone=%t\n", c.Shape, c.Name, c.Beyond, c.Latest, c.Change, c.Alone)
	}
	return b.String()
}

// grounds are the two pieces of real ground.
var grounds = []struct {
	name                     string
	data                     []byte
	south, north, west, east float64 // where legs begin
}{
	{cumberland.Name, cumberland.Bytes(), 36.22, 36.39, -84.36, -84.13},
	{demo.Name, demo.Bytes(), 34.29, 34.36, -118.16, -118.02},
}

// legOn is a seeded leg of 2 to 6 km, every second one with a mark reached on
// the way; false where it would leave the data.
func legOn(t testing.TB, i int, seed uint64) (waymarks.Request, bool) {
	g := grounds[i]
	random := rand.New(rand.NewPCG(seed, 14))
	from := geodesy.LatLon{Lat: geodesy.Degrees(g.south + (g.north-g.south)*random.Float64()), Lon: geodesy.Degrees(g.west + (g.east-g.west)*random.Float64())}
	to, _ := geodesy.Direct(from, geodesy.TrueBearing(360*random.Float64()), 2000+4000*random.Float64())
	if _, err := dem.ElevationAt(groundOf(t, g.name, g.data), to); err != nil {
		return waymarks.Request{}, false
	}
	var stretches []drift.Stretch
	if seed%2 == 0 {
		stretches = []drift.Stretch{{To: 1500, Kind: drift.Sighted, MarkError: 20}, {From: 1500, Kind: drift.Compass}}
	}
	return onReal(t, g.name, g.data, from, to, stretches...), true
}

// TestWhatIsToldHoldsOnRealGround measures what is told of seeded legs again by
// other means: geodesics, landform's Ruler, and elevations one by one.
func TestWhatIsToldHoldsOnRealGround(t *testing.T) {
	t.Parallel()
	for i, g := range grounds {
		told := map[string]int{}
		for seed := uint64(1); seed <= 16; seed++ {
			r, ok := legOn(t, i, seed)
			if !ok {
				continue
			}
			w, err := waymarks.Find(context.Background(), r)
			require.NoError(t, err)
			name := fmt.Sprintf("%s seed %d\n%s", g.name, seed, tell(r, w))
			told["legs"]++
			checkTold(t, name, r, w, told)
		}
		t.Logf("%s: %v", g.name, told)
		for _, what := range []string{"ticks", "rails", "catches"} {
			assert.NotZero(t, told[what], "%s: no %s at all", g.name, what)
		}
	}
}

func checkTold(t *testing.T, name string, r waymarks.Request, w *waymarks.Waymarks, told map[string]int) {
	leg := geodesy.Inverse(r.From, r.To)
	at := func(along, aside float64) geodesy.LatLon {
		p, forward := geodesy.Direct(r.From, leg.Start, along)
		p, _ = geodesy.Direct(p, geodesy.NewTrueBearing(geodesy.Degrees(forward)+90), aside)
		return p
	}
	elevation := func(p geodesy.LatLon) float64 {
		h, err := dem.ElevationAt(r.Grid, p)
		require.NoError(t, err, name)
		return h
	}
	near := func(p geodesy.LatLon, feature int, reach float64) bool {
		column, row, err := r.Grid.Locate(p)
		require.NoError(t, err, name)
		ruler, err := landform.NewRuler(&r.Grid.Frame, reach, landform.Position{Column: column, Row: row})
		require.NoError(t, err, name)
		_, ok, err := ruler.Nearest(&r.Features[feature])
		require.NoError(t, err, name)
		return ok
	}
	const rounding = 0.5 // m
	const chord = 3.0    // m; along a lane ground is straight between crossings, a place by itself is bilinear
	if len(w.Ticks) > 0 {
		told["ticks"]++
	}
	assert.LessOrEqual(t, len(w.Ticks), 8, name)
	for i, x := range w.Ticks {
		assert.True(t, i == 0 || x.Distance > w.Ticks[i-1].Distance, name)
		assert.InDelta(t, elevation(at(x.Distance, 0)), x.Elevation, chord, name)
		// the leg itself goes down on both sides of its high point, up of its low
		if sign := map[string]float64{"high point": 1, "low point": -1}[x.Name]; sign != 0 {
			for _, way := range []float64{-1, 1} {
				most := 0.0
				for d := 0.0; d < leg.Distance; d += 20 {
					if s := x.Distance + way*d; s >= 0 && s <= leg.Distance {
						most = max(most, sign*(x.Elevation-elevation(at(s, 0))))
					}
				}
				assert.Greater(t, most, r.Forms.MinRelief-rounding-5, "%s: %s at %.0f", name, x.Name, x.Distance)
			}
		}
	}
	for _, h := range w.Handrails {
		told["rails"]++
		assert.GreaterOrEqual(t, h.To-h.From, 300.0, name)
		for s := h.From; s <= h.To; s += 50 {
			assert.True(t, near(at(s, 0), h.Feature, 150+rounding), "%s: no %s near at %.0f m", name, h.Kind, s)
		}
		if h.Side != waymarks.Ahead {
			assert.True(t, near(at((h.From+h.To)/2, float64(h.Side)*(h.Nearest+h.Farthest)/2), h.Feature, h.Farthest), name)
		}
	}
	if a := w.Attack; a != nil {
		told["attack points"]++
		there, _ := geodesy.Direct(a.Place, a.Bearing, a.Distance)
		assert.Less(t, geodesy.Inverse(there, r.To).Distance, rounding, name)
		assert.Less(t, geodesy.Inverse(a.Place, at(a.Along, a.Aside)).Distance, rounding, name)
		assert.LessOrEqual(t, a.Distance, 1000.0, name)
		assert.LessOrEqual(t, math.Abs(a.Aside), 150.0, name)
		if a.Feature >= 0 {
			assert.True(t, near(a.Place, a.Feature, r.Forms.Scale/3), name)
		}
	}
	if a := w.AimOff; a != nil {
		told["aims off"]++
		half := r.Walk.HalfWidth(leg.Distance)
		assert.Greater(t, half, r.SeenFrom, name)
		assert.Equal(t, -a.Side, a.Turn, name)
		assert.InDelta(t, half, (leg.Distance-a.Since)*a.Angle.Tan(), rounding, name)
		assert.Equal(t, 2*half, a.Within, name)
	}
	c := w.Catch
	if c == nil {
		return
	}
	told["catches"]++
	assert.LessOrEqual(t, c.Beyond, c.Latest, name)
	assert.Greater(t, c.Beyond, 50.0, name)
	assert.True(t, c.Alone || c.Latest > r.Walk.PacedHalf(leg.Distance), name)
	if c.Change == 0 {
		return
	}
	sign := map[waymarks.Shape]float64{waymarks.Falls: -1, waymarks.Rises: 1}[c.Shape]
	half := r.Walk.HalfWidth(leg.Distance)
	for _, aside := range []float64{-half, 0, half} {
		// the most the ground changes in that sense, over a scale, short of the
		// destination and as far as the latest place
		most := func(from, to float64) float64 {
			out := 0.0
			for s := from; s <= to; s += 20 {
				for b := max(from, s-r.Forms.Scale); b < s; b += 20 {
					out = max(out, sign*(elevation(at(s, aside))-elevation(at(b, aside))))
				}
			}
			return out
		}
		const sampled = 4 // m; steps here are others than those there
		assert.Less(t, most(leg.Distance-r.Walk.PacedHalf(leg.Distance), leg.Distance), c.Change/2+sampled, "%s: %.0f m aside", name, aside)
		assert.Greater(t, most(leg.Distance-r.Walk.PacedHalf(leg.Distance), leg.Distance+c.Latest+20), c.Change-sampled, "%s: %.0f m aside", name, aside)
	}
}

// TestTwoLegsAsTheyAreRead: what is told of one leg on either ground, read by
// hand against the contour map and the profile of the leg. On the first the
// line begins along a ridge, goes through a gap in it and over its knob, down
// into a draw, over a spur, down to a valley 490 m lower and up to a ridge; a
// side valley comes in where it crosses the valley. On the second it climbs out
// of a gulch to a spur, crosses a draw to another, drops to a canyon and goes
// over a last spur that runs out from a hill 300 m to the left.
func TestTwoLegsAsTheyAreRead(t *testing.T) {
	t.Parallel()
	for _, x := range []struct {
		ground int
		seed   uint64
		want   string
	}{{0, 26, `226, 4935 m; drift 239 m, pacing 339 m, relief 29 m
  tick      488 m   932 m up  saddle                   floor throughout=true
  tick      664 m   949 m up  crest of a ridge         crest throughout=true
  tick     1018 m   999 m up  crest of a spur          crest throughout=true
  tick     1813 m   732 m up  bottom of a draw         floor throughout=true
  tick     2548 m   907 m up  crest of a spur          crest throughout=true
  tick     3653 m   598 m up  the descent steepens     steepens throughout=false from -10 to -22 degrees
  tick     4064 m   447 m up  valley floor             floor throughout=true
  rail    106 to 1068 m: ridge, under the feet or on both sides, 0 to 150 m off
  attack  where two valleys meet at 4049 m, -144 m aside: 235, 898 m
  too far falls "" 170 m beyond (at most 308), change 29, alone=true
`}, {1, 2, `264, 4192 m; drift 189 m, pacing 267 m, relief 20 m
  tick      198 m  1397 m up  bottom of a draw         floor throughout=true
  tick      892 m  1729 m up  crest of a spur          crest throughout=true
  tick     1374 m  1614 m up  low point                floor throughout=true
  tick     1826 m  1709 m up  crest of a spur          crest throughout=true
  tick     2151 m  1559 m up  the descent eases        eases throughout=true from -31 to -7 degrees
  tick     3031 m  1354 m up  low point                floor throughout=true
  tick     3303 m  1451 m up  high point               crest throughout=true
  tick     4121 m  1188 m up  valley floor             floor throughout=false
  attack  saddle at 3315 m, -130 m aside: 273, 887 m
`}} {
		r, ok := legOn(t, x.ground, x.seed)
		require.True(t, ok)
		w, err := waymarks.Find(context.Background(), r)
		require.NoError(t, err)
		assert.Equal(t, x.want, tell(r, w))
	}
}

func groundOf(t testing.TB, name string, data []byte) dem.Posts {
	r, err := gdalio.OpenBytes(name, data, gdalio.Options{})
	require.NoError(t, err)
	g, err := r.Read(context.Background(), r.Layout().Whole())
	require.NoError(t, err)
	require.NoError(t, r.Close())
	return g
}
