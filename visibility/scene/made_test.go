package scene

import (
	"context"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/visibility"
)

// made is ground by a formula: posts 30 m apart within reach metres of a place
// on a zone's central meridian, where grid north is true north. east and north
// are metres from there.
func made(tb testing.TB, reach float64, height func(east, north float64) float64) *dem.Grid {
	tb.Helper()
	const spacing = 30
	crs, err := geodesy.NewCRS("EPSG:32617")
	require.NoError(tb, err)
	n := int(reach / spacing)
	g := &dem.Grid{Frame: dem.Frame{
		Columns: 2*n + 1, Rows: 2*n + 1, X0: 500000 - float64(n)*spacing, Y0: 4000000 + float64(n)*spacing, DX: spacing, DY: -spacing, CRS: crs,
	}}
	g.Elevations = make([]float32, g.Columns*g.Rows)
	for r := range g.Rows {
		for c := range g.Columns {
			g.Elevations[r*g.Columns+c] = float32(height(float64(c-n)*spacing, float64(n-r)*spacing))
		}
	}
	return g
}

// middle is the observer at the ground's middle post.
func middle(tb testing.TB, g *dem.Grid, north float64) visibility.Observer {
	tb.Helper()
	p, err := g.Place(float64(g.Columns/2), float64(g.Rows/2)-north/30)
	require.NoError(tb, err)
	return visibility.NewObserver(p)
}

func look(tb testing.TB, g *dem.Grid, o visibility.Observer) *View {
	tb.Helper()
	return lookWith(tb, g, o, DefaultOptions())
}

func lookWith(tb testing.TB, g *dem.Grid, o visibility.Observer, options Options) *View {
	tb.Helper()
	v, err := Look(context.Background(), g, o, options)
	require.NoError(tb, err)
	for _, t := range v.Things {
		tb.Logf("%-9s sky %-5v %05.1f° %5.0f m %5.2f° out %.2f wide %.1f behind %.0f side %d: %s",
			t.Kind, t.Skyline, float64(t.Bearing), t.Distance, float64(t.Angle), float64(t.StandsOut), float64(t.Width), t.Behind, t.Side, v.Describe(t, units.Metric))
	}
	return v
}

// of are the things of a kind.
func (v *View) of(kind Kind) []Thing {
	var out []Thing
	for _, t := range v.Things {
		if t.Kind == kind {
			out = append(out, t)
		}
	}
	return out
}

// cone of a height and a slope round a place.
func cone(e, n, height, slope float64) func(float64, float64) float64 {
	return func(x, y float64) float64 { return height - slope*math.Hypot(x-e, y-n) }
}

// highestOf is the highest of some ground.
func highestOf(x, y float64, of ...func(float64, float64) float64) float64 {
	h := 0.0
	for _, f := range of {
		h = math.Max(h, f(x, y))
	}
	return h
}

// Tolerances on made ground.
const (
	aStep = 0.11  // degrees: bearings are a tenth apart
	aHair = 0.02  // degrees: what a tenth of a degree aside does to an angle on these slopes
	grown = 0.001 // of a distance: a grid metre is 0.9996 m on the meridian
)

func twoCones(x, y float64) float64 {
	return highestOf(x, y, cone(-600, 3990, 300, 0.4), cone(600, 3990, 320, 0.4))
}

// TestTwoConesAndTheNotchBetween: two tops and a notch, each where it must be,
// and nothing else.
func TestTwoConesAndTheNotchBetween(t *testing.T) {
	g := made(t, 9000, twoCones)
	v := look(t, g, middle(t, g, 0))
	require.Len(t, v.Things, 3)
	tops, notches := v.of(Top), v.of(Notch)
	require.Len(t, tops, 2)
	require.Len(t, notches, 1)
	aside := math.Atan2(600, 3990) * 180 / math.Pi
	distance := math.Hypot(600, 3990)
	for i, sign := range []float64{1, -1} {
		top := tops[i] // in order of bearing: 8.6, 351.4
		assert.InDelta(t, 0, float64(geodesy.Difference(geodesy.NewTrueBearing(geodesy.Degrees(sign*aside)), top.Bearing)), 0.01)
		assert.InEpsilon(t, distance, top.Distance, grown)
		assert.True(t, top.Skyline)
		assert.Equal(t, []float64{320, 300}[i], top.Elevation, "the post itself")
		assert.InDelta(t, math.Atan2([]float64{320, 300}[i]-1.6, distance)*180/math.Pi, float64(top.Angle), aHair, "but for the Earth's curve")
		c, r, err := g.Locate(top.Place)
		require.NoError(t, err)
		assert.InDelta(t, float64(g.Columns/2)+sign*20, c, 1e-6)
		assert.InDelta(t, float64(g.Rows/2)-133, r, 1e-6)
		assert.True(t, math.IsInf(top.Behind, 1))
	}
	// they meet where 300 - 0.4 (600 + x) = 320 - 0.4 (600 - x): x = -25, 70 m
	notch := notches[0]
	assert.InDelta(t, -math.Atan2(25, 3990)*180/math.Pi, float64(geodesy.Difference(0, notch.Bearing)), aStep)
	assert.InDelta(t, 70, notch.Elevation, 3, "at the edge between posts that is seen")
	assert.Zero(t, notch.Side, "both cones are as far off")
	between := math.Atan2(70-1.6, 3990) * 180 / math.Pi
	assert.InDelta(t, between, float64(notch.Angle), 2*aHair)
	assert.InDelta(t, float64(tops[1].Angle-notch.Angle), float64(tops[1].StandsOut), aHair, "the lower top stands above the notch")
	assert.InDelta(t, float64(tops[1].Angle-notch.Angle), float64(notch.StandsOut), aHair, "and the notch lies as far below it")
	assert.InDelta(t, float64(tops[0].Angle), float64(tops[0].StandsOut), 2.5*aHair, "the higher stands above the plain")
	assert.Equal(t, "the highest top on the skyline, 4.04 km", v.Describe(tops[0], units.Metric))
	assert.Equal(t, "the top on the skyline, a fist and a half left of the highest top on the skyline, 4.04 km", v.Describe(tops[1], units.Metric))
	assert.Equal(t, "the notch, 4 fingers left of the highest top on the skyline, 3.96 km", v.Describe(notch, units.Metric))

	// which saddle of the ground it is
	saddle, err := g.Place(float64(g.Columns/2), float64(g.Rows/2)-133)
	require.NoError(t, err)
	far, err := g.Place(float64(g.Columns/2), float64(g.Rows/2)-250)
	require.NoError(t, err)
	assert.Equal(t, 1, v.Saddle(notch, []geodesy.LatLon{far, saddle}))
	assert.Equal(t, -1, v.Saddle(notch, []geodesy.LatLon{far}))
	assert.Equal(t, -1, v.Saddle(tops[0], []geodesy.LatLon{saddle}))
}

// spurAndWall is a spur that runs down from the west 3 km off, before a slope
// that rises 500 m from 6 to 7 km off all round.
func spurAndWall(x, y float64) float64 {
	wall := math.Min(500, math.Max(0, 0.5*(math.Hypot(x, y)-6000)))
	return math.Max(wall, -x*700/3000-0.6*math.Abs(y-3000))
}

// TestSpurBeforeAWall: it leaves the skyline where it falls below the wall, and
// ends where it runs down to the plain.
func TestSpurBeforeAWall(t *testing.T) {
	g := made(t, 8000, spurAndWall)
	v := look(t, g, middle(t, g, 0))
	ends, spurs := v.of(RidgeEnd), v.of(SpurEnd)
	require.NotEmpty(t, ends)
	require.Len(t, spurs, 1)
	var end *Thing
	for i := range ends {
		if ends[i].Side == -1 {
			require.Nil(t, end, "one thing for one end")
			end = &ends[i]
		}
	}
	require.NotNil(t, end)
	x := 0.0
	for range 50 { // as high as seen: 7/30 x / hypot(x, 3000) = 1/14
		x = math.Hypot(x, 3000) / 14 * 30 / 7
	}
	assert.InDelta(t, -math.Atan2(x, 3000)*180/math.Pi, float64(geodesy.Difference(0, end.Bearing)), 0.3)
	assert.InEpsilon(t, math.Hypot(x, 3000), end.Distance, 0.01)
	assert.InEpsilon(t, 7000, end.Behind, 0.01)
	assert.True(t, end.Skyline)
	spur := spurs[0]
	assert.InDelta(t, 0, float64(geodesy.Difference(0, spur.Bearing)), 0.7)
	assert.InEpsilon(t, 3000, spur.Distance, 0.02)
	assert.Equal(t, -1, spur.Side)
	assert.False(t, spur.Skyline)
	assert.Contains(t, v.Describe(spur, units.Metric), "the end of the spur that runs down from the left")
	assert.Contains(t, v.Describe(*end, units.Metric), "where the near ridge on the left ends against the far one")
}

// TestTerraceIsNothing: a step in a slope, the same all round, has an edge with
// ground far behind it, and nothing on it to point at.
func TestTerraceIsNothing(t *testing.T) {
	g := made(t, 6000, func(x, y float64) float64 {
		d := math.Hypot(x, y)
		switch {
		case d < 2000:
			return 0.2 * d
		case d < 3000:
			return 400
		}
		return 400 + 0.5*(d-3000)
	})
	v := look(t, g, middle(t, g, 0))
	edges := 0
	for i := range v.rays {
		for _, c := range v.rays[i].crests {
			if !c.sky() && c.parted(v.options.Jump) {
				edges++
			}
		}
	}
	assert.Greater(t, edges, v.count*9/10, "the edge is seen")
	// the data is square, so the skyline has its four corners and no more
	for _, th := range v.Things {
		assert.True(t, th.Skyline && th.Distance > 5900, "%+v", th)
	}
}

// mesa has a wall on its south side, and slopes down to the north.
func mesa(x, y float64) float64 {
	if math.Abs(x) > 300 || y < 2010 {
		return 0
	}
	return math.Max(0, 100-0.1*(y-2010))
}

// TestCliffFacesTheEye: found from the side it faces, and not from behind.
func TestCliffFacesTheEye(t *testing.T) {
	g := made(t, 6000, mesa)
	cliffs := look(t, g, middle(t, g, 0)).of(Cliff)
	require.Len(t, cliffs, 1)
	c := cliffs[0]
	assert.InDelta(t, 0, float64(geodesy.Difference(0, c.Bearing)), 9)
	assert.InEpsilon(t, 1980, c.Distance, 0.05, "its foot")
	assert.InDelta(t, 2*math.Atan2(300, 1980)*180/math.Pi, float64(c.Width), 1, "between the two posts where it ends")
	assert.InDelta(t, math.Atan2(100, 2000)*180/math.Pi, float64(c.StandsOut), 0.2)
	behind := look(t, g, middle(t, g, 5400))
	assert.Empty(t, behind.of(Cliff))
	assert.Empty(t, behind.of(Face))
}

// bowl is a lake in a hollow.
func bowl(x, y float64) float64 { return math.Max(0, 0.1*(math.Hypot(x, y-2010)-800)) }

// TestWater: a level floor with higher ground all round is water; a plain
// stored in whole metres is not, nor ground that was filled in.
func TestWater(t *testing.T) {
	g := made(t, 4500, bowl)
	o := middle(t, g, 0)
	lakes := look(t, g, o).of(Water)
	require.Len(t, lakes, 1)
	assert.InDelta(t, 0, float64(geodesy.Difference(0, lakes[0].Bearing)), 0.5)
	assert.InEpsilon(t, 2010, lakes[0].Distance, 0.05)
	assert.InDelta(t, 2*math.Asin(800.0/2010)*180/math.Pi, float64(lakes[0].Width), 4)

	g.Filled = make([]bool, len(g.Elevations))
	for i, h := range g.Elevations {
		g.Filled[i] = h == 0
	}
	assert.Empty(t, look(t, g, o).of(Water), "filled ground")

	plain := made(t, 4500, func(x, y float64) float64 {
		return math.Round(100 + 0.004*y + 0.7*math.Sin(x/170) + 0.7*math.Sin(y/230))
	})
	p := middle(t, plain, 0)
	p.EyeAboveGround = 100 // as from a hill: it must be seen to be doubted
	assert.Empty(t, look(t, plain, p).of(Water), "a plain in whole metres")
}

// TestLoneHill: a cone on a plain before hills that stand far behind, below
// their skyline and above it.
func TestLoneHill(t *testing.T) {
	for _, c := range []struct {
		name    string
		height  float64
		skyline bool
	}{{"below", 200, false}, {"above", 390, true}} {
		t.Run(c.name, func(t *testing.T) {
			g := made(t, 9500, func(x, y float64) float64 {
				if math.Hypot(x, y) > 8000 {
					return 600
				}
				return highestOf(x, y, cone(0, 3000, c.height, 0.6))
			})
			v := look(t, g, middle(t, g, 0))
			tops := v.of(Top)
			require.Len(t, tops, 1)
			assert.True(t, tops[0].Lone)
			assert.Equal(t, c.skyline, tops[0].Skyline)
			assert.Contains(t, v.Describe(tops[0], units.Metric), "the lone hill")
		})
	}
	g := made(t, 9000, twoCones)
	for _, top := range look(t, g, middle(t, g, 0)).of(Top) {
		assert.False(t, top.Lone, "one of two that join")
	}
}

// TestVoidsToTheEdge: where the voids reach the edge of the data the ground is
// as if the file ended there.
func TestVoidsToTheEdge(t *testing.T) {
	whole := made(t, 9000, twoCones)
	g := made(t, 9000, func(x, y float64) float64 {
		if y > 6000 || math.Abs(x) > 7000 {
			return math.NaN()
		}
		return twoCones(x, y)
	})
	want, got := look(t, whole, middle(t, whole, 0)), look(t, g, middle(t, g, 0))
	require.Len(t, got.Things, len(want.Things))
	for i := range want.Things {
		assert.Equal(t, want.Things[i].Kind, got.Things[i].Kind)
		assert.Equal(t, want.Things[i].Place, got.Things[i].Place)
	}
}

// TestVoidWithGroundBehind: what stands behind a void is not known: no thing is
// on the skyline there, and none beside it is told to stand out against it.
func TestVoidWithGroundBehind(t *testing.T) {
	g := made(t, 9000, func(x, y float64) float64 {
		b := math.Atan2(x, y) * 180 / math.Pi
		if d := math.Hypot(x, y); d > 5000 && d < 5500 && b > 8.8 && b < 40 {
			return math.NaN()
		}
		return twoCones(x, y)
	})
	v := look(t, g, middle(t, g, 0))
	for _, th := range v.Things {
		b := float64(th.Bearing)
		assert.False(t, th.Skyline && b > 8.5 && b < 41, "%s at %.1f", th.Kind, b)
	}
	assert.Len(t, v.of(Top), 1, "the left one; the right one's right side is not known")
	p, ok := v.Skyline(20)
	require.True(t, ok)
	assert.False(t, p.Known)
	assert.Contains(t, v.DescribeSkyline(p, units.Metric), "the data has a gap there")
}

// TestSkylinePoint: told from what stands left and right of it.
func TestSkylinePoint(t *testing.T) {
	g := made(t, 9000, twoCones)
	v := look(t, g, middle(t, g, 0))
	p, ok := v.Skyline(5)
	require.True(t, ok)
	require.True(t, p.Known)
	assert.Equal(t, Notch, v.Things[p.Left].Kind)
	assert.Equal(t, Top, v.Things[p.Right].Kind)
	assert.InDelta(t, 5.36, float64(p.FromLeft), aStep)
	assert.InDelta(t, 3.55, float64(p.ToRight), aStep)
	assert.Equal(t, "the skyline 5.4° (3 fingers) right of the notch, and 3.6° (2 fingers) left of the highest top; 4.01 km, 3.1° up",
		v.DescribeSkyline(p, units.Metric))
	for b := geodesy.TrueBearing(0); b < 360; b += 7 { // always
		p, ok := v.Skyline(b)
		require.True(t, ok)
		assert.NotEmpty(t, v.DescribeSkyline(p, units.Metric))
	}
	plain := made(t, 3000, func(x, y float64) float64 { return 0 })
	bare := look(t, plain, middle(t, plain, 0))
	assert.Empty(t, bare.Things)
	p, ok = bare.Skyline(138)
	require.True(t, ok)
	assert.Contains(t, bare.DescribeSkyline(p, units.Metric), "the skyline on true bearing 138, where nothing stands out to tell it from; ")
}

// TestUsersPlaces: a hut in sight is a thing, a name on a top is the top's, and
// a mast on it is a thing of its own.
func TestUsersPlaces(t *testing.T) {
	g := made(t, 9000, twoCones)
	at := func(e, n float64) geodesy.LatLon {
		p, err := g.Place(float64(g.Columns/2)+e/30, float64(g.Rows/2)-n/30)
		require.NoError(t, err)
		return p
	}
	o := DefaultOptions()
	o.Places = []visibility.Candidate{
		visibility.PlaceCandidate("Left Hill", at(-600, 3990)),
		{Name: "mast", Place: at(600, 3990), AboveGround: 40},
		visibility.PlaceCandidate("hut", at(0, 2000)),
		visibility.PlaceCandidate("behind", at(600, 4500)),
	}
	v := lookWith(t, g, middle(t, g, 0), o)
	said := map[string]Kind{}
	for _, th := range v.Things {
		said[v.Describe(th, units.Metric)] = th.Kind
	}
	assert.Equal(t, Top, said["Left Hill, the top on the skyline, 4.04 km"])
	assert.Equal(t, Known, said["mast, 4.04 km"])
	assert.Equal(t, Known, said["hut, 2.00 km"])
	assert.Len(t, said, 5)
}

// TestLikelihoods: in the order of things; a top is surer than the ground in a
// notch is not asked; without the data's error there is no answer.
func TestLikelihoods(t *testing.T) {
	g := made(t, 6000, twoCones)
	_, err := look(t, g, middle(t, g, 0)).Likelihoods(t.Context(), g)
	require.ErrorIs(t, err, ErrNoVerticalError)
	o := DefaultOptions()
	o.VerticalError = 3
	v := lookWith(t, g, middle(t, g, 0), o)
	likely, err := v.Likelihoods(t.Context(), g)
	require.NoError(t, err)
	require.Len(t, likely, len(v.Things))
	for i, l := range likely {
		if v.Things[i].Kind == Top {
			assert.Greater(t, l.Probability, 0.9, "%s", v.Describe(v.Things[i], units.Metric))
		}
	}
}

// TestHand: every angle a hand can tell, and none beyond.
func TestHand(t *testing.T) {
	for want, angle := range map[string]geodesy.Degrees{
		"half a finger": 0.6, "a finger": 2.2, "2 fingers": -4, "4 fingers": 8.8, "a fist": 9.2, "a fist and a half": 14, "2 fists": 22, "5 fists": 50, "": 60,
	} {
		assert.Equal(t, want, Hand(angle), fmt.Sprint(angle))
	}
}

// TestSkylinePastAGap: 2026-12-01. A bearing whose line meets a void was sent to the
// low ground before it, "8.9° down", where known ground behind rises to 0.6° up.
func TestSkylinePastAGap(t *testing.T) {
	t.Parallel()
	hill := func(x, y float64) float64 { return max(0, 300-math.Abs(y-7000)) }
	g := made(t, 9000, func(x, y float64) float64 {
		if y > 3000 && y < 3500 {
			return math.NaN()
		}
		return hill(x, y)
	})
	v, known := look(t, g, middle(t, g, 0)), look(t, made(t, 9000, hill), middle(t, g, 0))
	want, ok := known.Skyline(0)
	require.True(t, ok && want.Known && !want.PastGap)
	p, ok := v.Skyline(0)
	require.True(t, ok)
	assert.False(t, p.Known)
	assert.True(t, p.PastGap)
	assert.InDelta(t, want.Distance, p.Distance, 1e-6)
	assert.InDelta(t, float64(want.Angle), float64(p.Angle), 1e-9)
	assert.Equal(t, want.Place, p.Place)
	assert.Contains(t, v.DescribeSkyline(p, units.Metric), "of the ground that is known: the data has a gap before it")
}
