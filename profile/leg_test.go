package profile

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// makeGrid is a 3 arc-second grid near 36.4 N 84.2 W with heights by column
// and row.
func makeGrid(columns, rows int, elevation func(c, r int) float64) *dem.Grid {
	const step = 3.0 / 3600
	g := &dem.Grid{
		Frame:      dem.Frame{Columns: columns, Rows: rows, X0: -84.4, Y0: 36.6, DX: step, DY: -step, CRS: geodesy.WGS84},
		Elevations: make([]float32, columns*rows),
	}
	for r := range rows {
		for c := range columns {
			g.Elevations[r*columns+c] = float32(elevation(c, r))
		}
	}
	return g
}

// rough is seeded rolling ground with noise, whole metres as radar data has.
func rough(seed uint64) func(c, r int) float64 {
	random := rand.New(rand.NewPCG(seed, 1))
	noise := map[[2]int]float64{}
	return func(c, r int) float64 {
		k := [2]int{c, r}
		if _, ok := noise[k]; !ok {
			noise[k] = random.NormFloat64() * 8
		}
		return math.Round(600 + 150*math.Sin(float64(c)/9) + 120*math.Cos(float64(r)/13) + noise[k])
	}
}

func place(t *testing.T, g *dem.Grid, c, r float64) geodesy.LatLon {
	t.Helper()
	p, err := g.Place(c, r)
	require.NoError(t, err)
	return p
}

func trace(t *testing.T, g *dem.Grid, c0, r0, c1, r1 float64) *Leg {
	t.Helper()
	leg, err := Trace(context.Background(), g, place(t, g, c0, r0), place(t, g, c1, r1))
	require.NoError(t, err)
	return leg
}

// TestAscentEqualsDenseSampling: with no dead band, ascent is what a sample
// every few centimetres finds in the bilinear ground along the geodesic.
func TestAscentEqualsDenseSampling(t *testing.T) {
	t.Parallel()
	g := makeGrid(60, 60, func(c, r int) float64 {
		return 600 + 150*math.Sin(float64(c)/9) + 120*math.Cos(float64(r)/13)
	})
	leg := trace(t, g, 3.3, 4.4, 51.7, 55.2)
	c := leg.Climb(0, 0)

	const step = 0.25 // m
	n := int(leg.Distance / step)
	ascent, last := 0.0, math.NaN()
	for i := 0; i <= n; i++ {
		h, err := dem.ElevationAt(g, leg.PlaceAt(leg.Distance*float64(i)/float64(n)))
		require.NoError(t, err)
		if h > last {
			ascent += h - last
		}
		last = h
	}
	// Inside a cell the bilinear surface bows off the straight line between
	// crossings, by centimetres on ground as smooth as this.
	assert.InEpsilon(t, ascent, c.Ascent, 0.002)
	assert.GreaterOrEqual(t, ascent, c.Ascent-0.01)
}

// TestPointsStandOnTheGround: every point's elevation is the ground's there.
func TestPointsStandOnTheGround(t *testing.T) {
	t.Parallel()
	g := makeGrid(60, 60, rough(2))
	leg := trace(t, g, 50.2, 3.1, 5.5, 41.9)
	require.Greater(t, len(leg.Points), 80)
	for _, p := range leg.Points {
		h, err := dem.ElevationAt(g, leg.PlaceAt(p.Distance))
		require.NoError(t, err)
		assert.InDelta(t, h, p.Elevation, 1e-3) // a geodesic strays a micrometre off the plane's edges at gradients near 1
	}
	assert.InDelta(t, leg.Distance, leg.Points[len(leg.Points)-1].Distance, 1e-9)
	assert.InDelta(t, leg.Distance, leg.Covered, 1e-9)
}

func TestReversingALegSwapsAscentAndDescent(t *testing.T) {
	t.Parallel()
	g := makeGrid(80, 80, rough(3))
	random := rand.New(rand.NewPCG(5, 6))
	for range 60 {
		a, b := [2]float64{random.Float64() * 79, random.Float64() * 79}, [2]float64{random.Float64() * 79, random.Float64() * 79}
		there, back := trace(t, g, a[0], a[1], b[0], b[1]), trace(t, g, b[0], b[1], a[0], a[1])
		for _, band := range []float64{0, 3, 10, 25} {
			x, y := there.Climb(band, 0), back.Climb(band, 0)
			// Two planes place the line within micrometres of each other.
			assert.InDelta(t, x.Ascent, y.Descent, 0.01, "band %v", band)
			assert.InDelta(t, x.Descent, y.Ascent, 0.01, "band %v", band)
			net := there.Points[len(there.Points)-1].Elevation - there.Points[0].Elevation
			assert.InDelta(t, net, x.Ascent-x.Descent, 1e-6)
		}
	}
}

func TestClimbLeavesOutWiggles(t *testing.T) {
	t.Parallel()
	heights := func(h ...float64) []Point {
		out := make([]Point, len(h))
		for i, e := range h {
			out[i] = Point{Distance: float64(i) * 10, Elevation: e}
		}
		return out
	}
	for _, row := range []struct {
		name            string
		points          []Point
		band            float64
		ascent, descent float64
	}{
		{"straight up", heights(0, 10, 20), 5, 20, 0},
		{"a wiggle under the band", heights(0, 10, 7, 20), 5, 20, 0},
		{"a wiggle at the band counts", heights(0, 10, 5, 20), 5, 25, 5},
		{"a dip at the start", heights(100, 97, 200), 5, 100, 0},
		{"a dip at the end", heights(200, 97, 100), 5, 0, 100},
		{"two small wiggles that add up stay small", heights(0, 4, 1, 5, 2, 30), 5, 30, 0},
		{"a long slow fall is not lost", heights(20, 18, 19, 15, 16, 10, 11, 0), 5, 0, 20},
		{"level", heights(5, 5, 5), 5, 0, 0},
		{"flat-topped", heights(0, 20, 20, 20, 3), 5, 20, 17},
		{"all within the band: only the net", heights(10, 12, 9, 13), 5, 3, 0},
	} {
		t.Run(row.name, func(t *testing.T) {
			l := &Leg{Points: row.points, Covered: row.points[len(row.points)-1].Distance}
			l.Distance = l.Covered
			c := l.Climb(row.band, 1)
			assert.InDelta(t, row.ascent, c.Ascent, 1e-9)
			assert.InDelta(t, row.descent, c.Descent, 1e-9)
		})
	}
}

func TestGradientOfAnEvenSlope(t *testing.T) {
	t.Parallel()
	// heights rise 1 in 5 eastwards: 3 arc-seconds of longitude there are
	// 74.6 m
	g := makeGrid(60, 60, func(c, r int) float64 { return 0 })
	along, _, err := g.Spacing(30, 30)
	require.NoError(t, err)
	g = makeGrid(60, 60, func(c, r int) float64 { return float64(c) * along / 5 })
	leg := trace(t, g, 10, 30, 50, 30)
	gr := leg.Gradient()
	// TC 3-25.26: 20 % is 11.310 degrees
	assert.InDelta(t, 11.310, float64(gr.Steepest), 0.01)
	assert.InDelta(t, 11.310, float64(gr.GroundSteepest), 0.01)
	assert.True(t, gr.Uphill)
	assert.InDelta(t, 1, gr.Classes[1].Share, 1e-9)
	assert.Empty(t, gr.Steep)

	across := trace(t, g, 30, 10, 30, 50) // level along the line, the slope is not
	gr = across.Gradient()
	assert.InDelta(t, 0, float64(gr.Steepest), 0.01)
	assert.InDelta(t, 11.310, float64(gr.GroundSteepest), 0.01)
}

func TestSteepStretchesAreFlagged(t *testing.T) {
	t.Parallel()
	// a step of 200 m between columns 29 and 31, flat elsewhere
	g := makeGrid(60, 60, func(c, r int) float64 { return 100 * float64(min(max(c-29, 0), 2)) })
	gr := trace(t, g, 10, 30, 50, 30).Gradient()
	require.Len(t, gr.Steep, 1)
	assert.InDelta(t, 149, gr.Steep[0].To-gr.Steep[0].From, 80)
	assert.Greater(t, float64(gr.Steepest), 50.0)
	require.NotEmpty(t, gr.GroundSteep)
}

func TestVoidsAndTheEdgeAreSaid(t *testing.T) {
	t.Parallel()
	g := makeGrid(60, 60, func(c, r int) float64 {
		if c >= 28 && c <= 31 && r > 20 && r < 40 {
			return math.NaN()
		}
		return float64(10 * c)
	})
	leg := trace(t, g, 10, 30, 50, 30)
	along, _, _ := g.Spacing(30, 30)
	assert.InDelta(t, 5*along, leg.Unknown(), 1)
	c := leg.Climb(5, 0)
	assert.True(t, c.AtLeast)
	assert.InDelta(t, 400, c.Ascent, 1e-6)

	beyond := place(t, g, 70, 30)
	off, err := Trace(context.Background(), g, place(t, g, 40, 30), beyond)
	require.NoError(t, err)
	assert.Less(t, off.Covered, off.Distance)
	assert.InDelta(t, 19*along, off.Covered, along)
	assert.True(t, off.Climb(5, 0).AtLeast)

	_, err = Trace(context.Background(), g, place(t, g, 30, 30), beyond)
	require.ErrorIs(t, err, dem.ErrVoid)
	_, err = Trace(context.Background(), g, beyond, place(t, g, 30, 10))
	require.ErrorIs(t, err, dem.ErrOutside)
	_, err = Trace(context.Background(), g, beyond, beyond)
	require.ErrorContains(t, err, "same place")
	_, err = Trace(context.Background(), g, place(t, g, 3, 3), geodesy.LatLon{Lat: -36.6, Lon: 95.6})
	require.ErrorContains(t, err, "at most")
}

func TestTraceStopsWhenTold(t *testing.T) {
	t.Parallel()
	g := makeGrid(4000, 20, func(c, r int) float64 { return float64(c % 7) })
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := Trace(ctx, g, place(t, g, 3, 3), place(t, g, 3990, 15))
	require.ErrorIs(t, err, context.Canceled)
}

// TestProfileDoesNotDependOnRowOrder: the same posts stored south first give
// the same profile.
func TestProfileDoesNotDependOnRowOrder(t *testing.T) {
	t.Parallel()
	g := makeGrid(50, 50, rough(9))
	turned := &dem.Grid{Frame: g.Frame, Elevations: make([]float32, len(g.Elevations))}
	turned.Y0, turned.DY = g.Y0+49*g.DY, -g.DY
	for r := range 50 {
		copy(turned.Elevations[r*50:], g.Elevations[(49-r)*50:(50-r)*50])
	}
	a, b := place(t, g, 2.5, 3.5), place(t, g, 44.1, 47.9)
	one, err := Trace(context.Background(), g, a, b)
	require.NoError(t, err)
	two, err := Trace(context.Background(), turned, a, b)
	require.NoError(t, err)
	require.Len(t, two.Points, len(one.Points))
	for i := range one.Points {
		assert.InDelta(t, one.Points[i].Distance, two.Points[i].Distance, 1e-5)
		assert.InDelta(t, one.Points[i].Elevation, two.Points[i].Elevation, 1e-5)
	}
}

// TestRadiusIsWhatTheDropsAreOf: a point's drop is d²/2R with the leg's own
// radius, which lies between those of the meridian and the prime vertical.
func TestRadiusIsWhatTheDropsAreOf(t *testing.T) {
	t.Parallel()
	const tolM = 2e-4 // m: between posts 90 m apart a drop is straight, up to 90²/8R off the parabola
	g := makeGrid(120, 90, rough(3))
	for _, end := range [][2]float64{{110, 10}, {10, 80}, {10, 11}, {300, 40}} { // the last beyond the data
		leg := trace(t, g, 10, 10, end[0], end[1])
		meridian, prime := geodesy.RadiiOfCurvature(leg.From.Lat)
		assert.GreaterOrEqual(t, leg.Radius, meridian)
		assert.LessOrEqual(t, leg.Radius, prime)
		for _, p := range leg.Points {
			assert.InDelta(t, p.Distance*p.Distance/2/leg.Radius, p.Drop, tolM)
		}
		assert.InEpsilon(t, leg.Radius/0.87, leg.EffectiveRadius(0.13), 1e-12)
	}
}
