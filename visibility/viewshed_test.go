package visibility

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile"
)

// straight is refraction that bends a sight line just as the Earth curves,
// so that a flat grid is a flat plain and answers follow from similar
// triangles.
const straight = 1

// metreGrid is a 10 m grid in UTM, some 30 m west of the central meridian of
// its zone, where columns run true north and a cell is 10 m to 0.04 %.
func metreGrid(columns, rows int, elevation func(c, r int) float64) *dem.Grid {
	g := &dem.Grid{
		Frame:      dem.Frame{Columns: columns, Rows: rows, X0: 500000 - 5*float64(columns), Y0: 4050000, DX: 10, DY: -10, CRS: utm17},
		Elevations: make([]float32, columns*rows),
	}
	for r := range rows {
		for c := range columns {
			g.Elevations[r*columns+c] = float32(elevation(c, r))
		}
	}
	return g
}

func flat(int, int) float64 { return 0 }

func viewshed(t *testing.T, g *dem.Grid, column, row, eye float64, change ...func(*ViewshedOptions)) *Viewed {
	t.Helper()
	o := observerAt(t, g, column, row)
	o.EyeAboveGround = eye
	opts := DefaultViewshedOptions()
	for _, c := range change {
		c(&opts)
	}
	v, err := Viewshed(context.Background(), g, o, opts)
	require.NoError(t, err)
	return v
}

func refraction(k float64) func(*ViewshedOptions) {
	return func(o *ViewshedOptions) { o.Refraction = k }
}

func heights(o *ViewshedOptions) { o.HeightNeeded = true }

func (v *Viewed) at(column, row int) Verdict {
	return v.Verdicts[(row-v.Window.Row)*v.Window.Columns+column-v.Window.Column]
}

func (v *Viewed) needs(column, row int) float64 {
	return float64(v.HeightNeeded[(row-v.Window.Row)*v.Window.Columns+column-v.Window.Column])
}

// TestHorizonOfASmoothEarth: level ground is seen as far as
// d = sqrt(2Rh/(1-k)), with R = 6371 km: km for k = 0, 0.13 and 1/7,
// computed from that formula. On lon/lat grids too, where distance and
// curvature must be in metres (a peer measured both in degrees).
func TestHorizonOfASmoothEarth(t *testing.T) {
	t.Parallel()
	lonLat := dem.Frame{Columns: 301, Rows: 301, X0: -84.4, Y0: 36.6, DX: 4.0 / 3600, DY: -3.0 / 3600, CRS: geodesy.WGS84}
	utm := dem.Frame{Columns: 301, Rows: 301, X0: 680000, Y0: 4050000, DX: 90, DY: -90, CRS: utm17}
	for _, c := range []struct{ eye, k, km float64 }{
		{1.7, 0, 4.654}, {1.7, 0.13, 4.990}, {1.7, 1.0 / 7, 5.027},
		{10, 0, 11.288}, {10, 0.13, 12.102}, {10, 1.0 / 7, 12.192},
	} {
		for name, f := range map[string]dem.Frame{"lon lat": lonLat, "utm": utm} {
			g := &dem.Grid{Frame: f, Elevations: make([]float32, f.Columns*f.Rows)}
			v := viewshed(t, g, 150, 150, c.eye, refraction(c.k))
			plane := geodesy.NewPlane(v.Observer.Place)
			// Euler's radius departs from 6371 km by up to 0.4 %, the horizon
			// by half that; and what stands beyond the horizon's own cell (up
			// to 140 m across) hides nothing nearer.
			const share, cell = 0.003, 140.0
			for r := range f.Rows {
				for col := range f.Columns {
					place, err := f.Place(float64(col), float64(r))
					require.NoError(t, err)
					e, n := plane.Forward(place)
					d, horizon := math.Hypot(e, n), 1000*c.km
					switch verdict := v.at(col, r); {
					case d < horizon*(1-share)-cell:
						require.Equal(t, Visible, verdict, "%s %+v: %.0f m", name, c, d)
					case d > horizon*(1+share)+cell:
						require.Equal(t, Hidden, verdict, "%s %+v: %.0f m", name, c, d)
					}
				}
			}
		}
	}
}

// TestWall: 10 m high, 100 m away, across a plain, eye 2 m up: behind it, at
// x metres, a target must stand 2 + 8x/100 m high.
func TestWall(t *testing.T) {
	t.Parallel()
	g := metreGrid(101, 101, func(c, r int) float64 {
		if c == 60 {
			return 10
		}
		return 0
	})
	v := viewshed(t, g, 50, 50, 2, refraction(straight), heights)
	for c := range 101 {
		x := 10 * float64(c-50)
		if c <= 60 {
			assert.Equal(t, Visible, v.at(c, 50), "column %d", c)
			assert.Zero(t, v.needs(c, 50))
			continue
		}
		assert.Equal(t, Hidden, v.at(c, 50), "column %d", c)
		assert.InDelta(t, 2+8*x/100, v.needs(c, 50), 1e-3) // m; rounding of float32 and the bow of a row
	}
	for _, target := range []float64{41.9, 42.1} { // just under and over what 500 m needs
		v := viewshed(t, g, 50, 50, 2, refraction(straight), func(o *ViewshedOptions) { o.TargetAboveGround = target })
		assert.Equal(t, target > 42, v.at(100, 50) == Visible)
	}
}

// TestStep: a terrace 20 m up, the observer 30 m back from its rim, eye 2 m:
// the ground below comes into view 30*(20+2)/2 = 330 m away, 300 m beyond
// the rim, and everything from the rim itself. (A peer put the first view of
// a valley in the wrong place from the rim of a flat summit.)
func TestStep(t *testing.T) {
	t.Parallel()
	terrace := func(c, r int) float64 {
		if c <= 40 {
			return 20
		}
		return 0
	}
	g := metreGrid(101, 61, terrace)
	v := viewshed(t, g, 37, 30, 2, refraction(straight))
	for c := range 101 {
		switch x := 10 * (c - 37); {
		case c <= 40 || x > 330:
			assert.Equal(t, Visible, v.at(c, 30), "column %d", c)
		case x < 330:
			assert.Equal(t, Hidden, v.at(c, 30), "column %d", c)
		}
	}
	v = viewshed(t, g, 40, 30, 2, refraction(straight))
	for c := range 101 {
		assert.Equal(t, Visible, v.at(c, 30), "column %d, from the rim", c)
	}
}

// TestCone: from the top of a cone all of it is seen; from the plain the far
// side is not, and beyond it a target must reach the line over the top.
func TestCone(t *testing.T) {
	t.Parallel()
	g := metreGrid(121, 121, func(c, r int) float64 {
		return max(0, 100-2.5*math.Hypot(float64(c-60), float64(r-60)))
	})
	v := viewshed(t, g, 60, 60, 1.6, refraction(straight))
	assert.EqualValues(t, 121*121, v.Summary.Visible)
	v = viewshed(t, g, 10, 60, 1.6, refraction(straight), heights)
	for c := 11; c < 121; c++ {
		assert.Equal(t, c <= 60, v.at(c, 60) == Visible, "column %d", c)
	}
	assert.InDelta(t, 1.6+(100-1.6)*110/50.0, v.needs(120, 60), 1e-2) // m; as the wall, at 1.1 km
}

// TestGrazingCountsAsVisible: on level ground with the eye on it every sight
// line just touches all the ground before it.
func TestGrazingCountsAsVisible(t *testing.T) {
	t.Parallel()
	g := metreGrid(80, 80, flat)
	for _, at := range [][2]float64{{40, 40}, {17, 60}, {0, 0}, {79, 3}, {33.3, 47.9}} {
		// Lines along the border may run micrometres outside the data, and
		// then what they meet is unknown; but nothing is hidden.
		assert.Zero(t, viewshed(t, g, at[0], at[1], 0, refraction(straight)).Summary.Hidden, "from %v", at)
	}
}

// TestNeighboursAreVisible: nothing stands between a post and the eight
// round it, whatever the ground; a peer lost those on the diagonals.
func TestNeighboursAreVisible(t *testing.T) {
	t.Parallel()
	for name, f := range testFrames(20, 20) {
		random := rand.New(rand.NewPCG(11, 12))
		g := &dem.Grid{Frame: f, Elevations: make([]float32, 400)}
		for range 20 {
			terrain(random, g, 0)
			c, r := 1+random.IntN(18), 1+random.IntN(18)
			v := viewshed(t, g, float64(c), float64(r), 0)
			for dc := -1; dc <= 1; dc++ {
				for dr := -1; dr <= 1; dr++ {
					assert.Equal(t, Visible, v.at(c+dc, r+dr), "%s: %d,%d of %d,%d", name, dc, dr, c, r)
				}
			}
		}
	}
}

// TestPinnacleIsSymmetric: dead ground round a square platform with a
// one-post pinnacle on it, seen from the pinnacle, is the same on every
// side and in every corner; a peer drew a butterfly.
func TestPinnacleIsSymmetric(t *testing.T) {
	t.Parallel()
	const n, m = 61, 30
	g := metreGrid(n, n, func(c, r int) float64 {
		switch d := max(abs(c-m), abs(r-m)); {
		case d == 0:
			return 12.3
		case d <= 3:
			return 10
		}
		return 0
	})
	v := viewshed(t, g, m, m, 1.6)
	assert.Positive(t, v.Summary.Hidden)
	for r := range n {
		for c := range n {
			x, y := c-m, r-m
			for _, other := range [][2]int{{-x, y}, {x, -y}, {y, x}, {-y, -x}, {-y, x}} {
				assert.Equal(t, v.at(c, r), v.at(m+other[0], m+other[1]), "%d,%d and %v", x, y, other)
			}
		}
	}
}

func abs(i int) int { return max(i, -i) }

// TestFromFarAbove: from 500 km up everything below is in line of sight; a
// peer's heights overflowed.
func TestFromFarAbove(t *testing.T) {
	t.Parallel()
	g := fractal(t, 150, 5)
	v := viewshed(t, g, 75.5, 75.5, 500000)
	assert.EqualValues(t, 150*150, v.Summary.Visible)
}

// TestVoidsAreUnknownGround: an observer in a void is refused. A void on a
// plain is neither wall nor pit: ground behind it is unknown, ground that
// known ground hides stays hidden, and the rest is as without it.
func TestVoidsAreUnknownGround(t *testing.T) {
	t.Parallel()
	nan := math.NaN()
	ground := func(c, r int) float64 {
		switch {
		case c == 60 && r > 45 && r < 55:
			return nan
		case c == 40:
			return 30
		}
		return 0
	}
	g := metreGrid(101, 101, ground)
	_, err := Viewshed(context.Background(), g, observerAt(t, g, 60, 50), DefaultViewshedOptions())
	require.ErrorIs(t, err, dem.ErrVoid)
	_, err = Viewshed(context.Background(), g, observerAt(t, g, 60.5, 50.5), DefaultViewshedOptions())
	require.ErrorIs(t, err, dem.ErrVoid)
	_, err = Viewshed(context.Background(), g, observerAt(t, g, 400, 50), DefaultViewshedOptions())
	require.ErrorIs(t, err, dem.ErrOutside)

	v := viewshed(t, g, 50, 50, 2, refraction(straight), heights)
	assert.Equal(t, Visible, v.at(59, 50))
	for _, c := range []int{60, 61, 80, 100} {
		assert.Equal(t, Unknown, v.at(c, 50), "column %d", c)
		assert.True(t, math.IsNaN(v.needs(c, 50)))
	}
	assert.Equal(t, Visible, v.at(100, 10))
	assert.Equal(t, Hidden, v.at(30, 50))
	assert.EqualValues(t, 9, v.Summary.VoidPosts)
	assert.Positive(t, v.Summary.DependOnVoids)
	assert.Equal(t, v.Summary.Unknown, v.Summary.VoidPosts+v.Summary.DependOnVoids)
	assert.EqualValues(t, 101*101, v.Summary.Visible+v.Summary.Hidden+v.Summary.Unknown)

	// beyond a wall the void cannot matter
	v = viewshed(t, g, 20, 50, 2, refraction(straight))
	assert.Equal(t, Hidden, v.at(80, 50))
}

// TestAVoidAtEveryPost of a small grid in turn.
func TestAVoidAtEveryPost(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(21, 22))
	g := &dem.Grid{Frame: testFrames(7, 7)["utm"], Elevations: make([]float32, 49)}
	terrain(random, g, 0)
	for i, was := range g.Elevations {
		g.Elevations[i] = float32(math.NaN())
		for _, at := range [][2]float64{{3, 3}, {3.4, 2.7}, {0, 6}} {
			o := observerAt(t, g, at[0], at[1])
			opts := ViewshedOptions{Conditions: DefaultConditions(), HeightNeeded: true}
			fast, err := Viewshed(context.Background(), g, o, opts)
			if err != nil {
				require.ErrorIs(t, err, dem.ErrVoid)
				continue
			}
			slow, err := Reference(context.Background(), g, o, opts)
			require.NoError(t, err)
			compare(t, g, fast, slow, "a void")
			assert.EqualValues(t, 1, fast.Summary.VoidPosts)
		}
		g.Elevations[i] = was
	}
}

// TestOutOfRangeIsItsOwnAnswer: beyond the radius and outside the sector,
// in verdicts and heights, and for no post within.
func TestOutOfRangeIsItsOwnAnswer(t *testing.T) {
	t.Parallel()
	g := fractal(t, 120, 6)
	for _, s := range []*Sector{nil, {From: 350, To: 20}, {From: 20, To: 350}, {From: 90, To: 270}, {From: 45, To: 46}} {
		v := viewshed(t, g, 60.3, 55.8, 2, heights, func(o *ViewshedOptions) { o.Radius, o.Sector = 400, s })
		assert.Less(t, v.Window.Columns, 100)
		asked := int64(0)
		for r := range v.Window.Rows {
			for c := range v.Window.Columns {
				place, err := v.Frame.Place(float64(c), float64(r))
				require.NoError(t, err)
				line := geodesy.Inverse(v.Observer.Place, place)
				in := line.Distance <= 400
				if s != nil {
					turn := math.Mod(float64(line.Start)-float64(s.From)+360, 360)
					in = in && turn <= math.Mod(float64(s.To)-float64(s.From)+360, 360)
				}
				i := r*v.Window.Columns + c
				require.Equal(t, in, v.Verdicts[i] != OutOfRange, "%d,%d at %v, sector %v", c, r, line, s)
				require.Equal(t, in, !math.IsNaN(float64(v.HeightNeeded[i])))
				if in {
					asked++
					assert.GreaterOrEqual(t, v.HeightNeeded[i], float32(0)) // never below the ground
				}
			}
		}
		assert.Equal(t, asked, v.Summary.Visible+v.Summary.Hidden)
	}
}

// TestEyeElevation: an eye given above sea level is the same eye; one below
// the ground is refused.
func TestEyeElevation(t *testing.T) {
	t.Parallel()
	g := fractal(t, 60, 8)
	o := observerAt(t, g, 31.2, 28.9)
	above, err := Viewshed(context.Background(), g, o, DefaultViewshedOptions())
	require.NoError(t, err)
	eye := above.GroundElevation + o.EyeAboveGround
	o.EyeElevation = &eye
	absolute, err := Viewshed(context.Background(), g, o, DefaultViewshedOptions())
	require.NoError(t, err)
	assert.Equal(t, above.Verdicts, absolute.Verdicts)
	eye = above.GroundElevation - 1
	_, err = Viewshed(context.Background(), g, o, DefaultViewshedOptions())
	assert.ErrorContains(t, err, "below the ground")
}

// TestBadOptions: each is an error before any work.
func TestBadOptions(t *testing.T) {
	t.Parallel()
	g := fractal(t, 20, 8)
	nan := math.NaN()
	for name, change := range map[string]func(*ViewshedOptions, *Observer){
		"negative radius":   func(o *ViewshedOptions, _ *Observer) { o.Radius = -1 },
		"radius NaN":        func(o *ViewshedOptions, _ *Observer) { o.Radius = nan },
		"target below":      func(o *ViewshedOptions, _ *Observer) { o.TargetAboveGround = -1 },
		"target infinite":   func(o *ViewshedOptions, _ *Observer) { o.TargetAboveGround = math.Inf(1) },
		"refraction":        func(o *ViewshedOptions, _ *Observer) { o.Refraction = 1000 },
		"eye below":         func(_ *ViewshedOptions, v *Observer) { v.EyeAboveGround = -1 },
		"eye NaN":           func(_ *ViewshedOptions, v *Observer) { v.EyeAboveGround = nan },
		"sector":            func(o *ViewshedOptions, _ *Observer) { o.Sector = &Sector{From: 10, To: 400} },
		"step of a horizon": func(o *ViewshedOptions, _ *Observer) { o.HorizonStep = -0.1 },
	} {
		opts, o := DefaultViewshedOptions(), observerAt(t, g, 9, 9)
		change(&opts, &o)
		_, err := Viewshed(context.Background(), g, o, opts)
		assert.Error(t, err, name)
	}
	thin := &dem.Grid{Frame: g.Sub(dem.Window{Columns: 20, Rows: 1}), Elevations: g.Elevations[:20]}
	_, err := Viewshed(context.Background(), thin, observerAt(t, g, 5, 0), DefaultViewshedOptions())
	assert.Error(t, err)
}

// TestRaisingNeverHides: a higher eye or target sees no less, and needs no
// more height, at every post.
func TestRaisingNeverHides(t *testing.T) {
	t.Parallel()
	g := fractal(t, 160, 9)
	var last *Viewed
	for _, eye := range []float64{0, 1.6, 5, 40, 300} {
		v := viewshed(t, g, 80.5, 77.25, eye)
		taller := viewshed(t, g, 80.5, 77.25, eye, func(o *ViewshedOptions) { o.TargetAboveGround = 10 })
		for i := range v.Verdicts {
			if last != nil && last.Verdicts[i] == Visible {
				require.Equal(t, Visible, v.Verdicts[i])
			}
			if v.Verdicts[i] == Visible {
				require.Equal(t, Visible, taller.Verdicts[i])
			}
		}
		last = v
	}
}

// TestSameAtAnyConcurrency: to the last bit.
func TestSameAtAnyConcurrency(t *testing.T) {
	t.Parallel()
	g := fractal(t, 300, 10)
	random := rand.New(rand.NewPCG(1, 2))
	for range 40 {
		g.Elevations[random.IntN(len(g.Elevations))] = float32(math.NaN())
	}
	var first *Viewed
	for _, concurrency := range []int{1, 2, 3, 7} {
		v := viewshed(t, g, 140.3, 161, 3, heights, func(o *ViewshedOptions) { o.Concurrency, o.HorizonStep = concurrency, 1 })
		if first == nil {
			first = v
			continue
		}
		assert.Equal(t, first.Verdicts, v.Verdicts)
		assert.Equal(t, bits(first.HeightNeeded), bits(v.HeightNeeded))
		assert.Equal(t, first.Summary, v.Summary)
		for i, p := range first.Horizon.Points {
			assert.Equal(t, math.Float64bits(p.Slope), math.Float64bits(v.Horizon.Points[i].Slope))
			assert.Equal(t, math.Float64bits(p.Distance), math.Float64bits(v.Horizon.Points[i].Distance))
		}
	}
}

func bits(values []float32) []uint32 {
	out := make([]uint32, len(values))
	for i, v := range values {
		out[i] = math.Float32bits(v)
	}
	return out
}

// TestCancelAndProgress: work reports how far it is, up to the whole, and
// stops when told, before it begins and in the middle.
func TestCancelAndProgress(t *testing.T) {
	t.Parallel()
	g := fractal(t, 300, 11)
	o := observerAt(t, g, 150, 150)
	ctx, cancel := context.WithCancel(context.Background())
	opts := DefaultViewshedOptions()
	var last, total int64
	opts.Progress = func(done, of int64) {
		assert.Equal(t, last+1, done)
		last, total = done, of
	}
	_, err := Viewshed(ctx, g, o, opts)
	require.NoError(t, err)
	assert.Positive(t, total)
	assert.Equal(t, total, last)
	calls := 0
	opts.Progress = func(done, of int64) {
		if calls++; done == 5 {
			cancel()
		}
	}
	_, err = Viewshed(ctx, g, o, opts)
	require.ErrorIs(t, err, context.Canceled)
	assert.Less(t, calls, 5+2*rangesPerWedge*len(wedges)) // each job stops at its next strip
	opts.Progress = nil
	for _, run := range []func() error{
		func() error { _, err := Viewshed(ctx, g, o, opts); return err },
		func() error { _, err := Reference(ctx, g, o, opts); return err },
		func() error { _, err := Skyline(ctx, g, o, DefaultSkylineOptions()); return err },
	} {
		require.ErrorIs(t, run(), context.Canceled)
	}
}

// TestSummary: area on the ellipsoid and the farthest ground seen, against
// sums done the long way.
func TestSummary(t *testing.T) {
	t.Parallel()
	// All of a lon/lat grid seen from above: cells are (M dlat)(N cos lat
	// dlon), Snyder 1987 eqs 4-18 to 4-20.
	f := dem.Frame{Columns: 200, Rows: 150, X0: -84.4, Y0: 46.6, DX: 3.0 / 3600, DY: -3.0 / 3600, CRS: geodesy.WGS84}
	g := &dem.Grid{Frame: f, Elevations: make([]float32, 200*150)}
	v := viewshed(t, g, 20, 30, 10000)
	want := 0.0
	for r := range f.Rows {
		lat := geodesy.Degrees(f.Y0 + float64(r)*f.DY)
		m, n := geodesy.RadiiOfCurvature(lat)
		side := 3.0 / 3600 * math.Pi / 180
		want += 200 * m * side * n * lat.Cos() * side
	}
	assert.InEpsilon(t, want, v.Summary.AreaSeen, 1e-6) // one area for 64 x 16 cells, and the plane's stretch
	require.NotNil(t, v.Summary.Farthest)

	hilly := fractal(t, 200, 12)
	v = viewshed(t, hilly, 90.5, 100.2, 2)
	far := 0.0
	for i, verdict := range v.Verdicts {
		if verdict == Visible {
			place, err := hilly.Place(float64(i%200), float64(i/200))
			require.NoError(t, err)
			far = max(far, geodesy.Inverse(v.Observer.Place, place).Distance)
		}
	}
	assert.InDelta(t, far, v.Summary.Farthest.Distance, 1e-5)
	line := geodesy.Inverse(v.Observer.Place, v.Summary.Farthest.Place)
	assert.InDelta(t, far, line.Distance, 1e-5)
	assert.InDelta(t, float64(line.Start), float64(v.Summary.Farthest.Bearing), 1e-6)
	assert.Equal(t, Visible, v.at(v.Summary.Farthest.Column, v.Summary.Farthest.Row))
}

// TestViewshedAgreesWithSight: at every post the same verdict, and the same
// height needed, as looking at the post along a leg; with the observer on a
// post, on an edge of either kind and inside a cell, with a void in the way
// and the eye on the ground.
func TestViewshedAgreesWithSight(t *testing.T) {
	t.Parallel()
	g := sightGrid(70, 60, hills(5))
	for _, void := range [][2]int{{41, 33}, {42, 33}, {41, 34}, {20, 15}} {
		g.Elevations[void[1]*g.Columns+void[0]] = float32(math.NaN())
	}
	verdicts := map[Verdict]int{}
	for _, o := range []struct{ column, row, eye float64 }{
		{50, 35, 1.6}, {31.4, 50.8, 1.6}, {20, 30.5, 1.6}, {61.25, 12, 1.6}, {55, 40, 0}, {12.3, 50, 0},
	} {
		v := viewshed(t, g, o.column, o.row, o.eye, heights)
		for r := range g.Rows {
			for c := range g.Columns {
				to, err := g.Place(float64(c), float64(r))
				require.NoError(t, err)
				leg, err := profile.Trace(context.Background(), g, v.Observer.Place, to)
				if err != nil { // the observer's own post
					require.Less(t, geodesy.Inverse(v.Observer.Place, to).Distance, 0.01)
					continue
				}
				s := along(t, leg, o.eye, 0, DefaultRefraction)
				verdicts[s.Verdict]++
				if s.Verdict != v.at(c, r) {
					require.InDelta(t, 0, s.Clearance/s.ClearanceAt, tieSlope, "from %v, %d,%d: %v and %v", o, c, r, s.Verdict, v.at(c, r))
				}
				if s.Verdict == Hidden && !math.IsNaN(v.needs(c, r)) {
					require.InDelta(t, s.TargetExtra, v.needs(c, r), neededTolerance, "from %v, %d,%d", o, c, r)
				}
			}
		}
	}
	for _, want := range []Verdict{Visible, Hidden, Unknown} {
		assert.Greater(t, verdicts[want], 40, "%v", want)
	}
}

// TestCodesAreTheVerdicts: the bytes a file gets.
func TestCodesAreTheVerdicts(t *testing.T) {
	t.Parallel()
	v := &Viewed{Verdicts: []Verdict{OutOfRange, Visible, Hidden, Unknown}}
	assert.Equal(t, []uint8{0, 1, 2, 3}, v.Codes())
	assert.Empty(t, (&Viewed{}).Codes())
}
