package visibility

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/testdata/cumberland"
)

// metricGrid has square cells on UTM zone 16 at its central meridian, where
// grid north is true.
func metricGrid(t *testing.T, columns, rows int, cell float64, elevation func(c, r int) float64) *dem.Grid {
	t.Helper()
	crs, err := geodesy.NewCRS("EPSG:32616")
	require.NoError(t, err)
	g := &dem.Grid{
		Frame: dem.Frame{
			Columns: columns, Rows: rows, X0: 500000 - cell*float64(columns/2), Y0: 4040000, DX: cell, DY: -cell, CRS: crs,
		},
		Elevations: make([]float32, columns*rows),
	}
	for i := range g.Elevations {
		g.Elevations[i] = float32(elevation(i%columns, i/columns))
	}
	return g
}

func at(t *testing.T, g *dem.Grid, column, row float64) geodesy.LatLon {
	t.Helper()
	p, err := g.Place(column, row)
	require.NoError(t, err)
	return p
}

func candidate(t *testing.T, g *dem.Grid, name string, column, row float64) Candidate {
	t.Helper()
	return PlaceCandidate(name, at(t, g, column, row))
}

// TestLandmarksByHand: due north over level ground stand, in order, a low
// cone, a wall 3 km behind it, and to one side a cone behind a screen.
func TestLandmarksByHand(t *testing.T) {
	t.Parallel()
	const cell = 50.0
	cone := func(c, r, c0, r0, top, radius float64) float64 {
		return max(0, top*(1-math.Hypot(c-c0, r-r0)/radius))
	}
	// observer at (80, 190); cone of 60 m and radius 6 posts at (80, 110),
	// 4 km north; a wall of 300 m along row 50, 7 km north; a cone of 150 m at
	// (140, 110) with a screen of 100 m half way to it
	g := metricGrid(t, 161, 201, cell, func(c, r int) float64 {
		h := cone(float64(c), float64(r), 80, 110, 60, 6)
		h = max(h, cone(float64(c), float64(r), 140, 110, 150, 6))
		if r == 50 && c > 40 && c < 120 {
			h = 300
		}
		if r == 150 && c > 100 && c < 120 {
			h = 100
		}
		return h
	})
	o := Observer{Place: at(t, g, 80, 190), EyeAboveGround: 2}
	opts := LandmarkOptions{Conditions: Conditions{Refraction: 1}} // a flat Earth
	marks, err := Landmarks(context.Background(), g, o, []Candidate{
		candidate(t, g, "screened", 140, 110), candidate(t, g, "cone", 80, 110), candidate(t, g, "wall", 80, 50),
		candidate(t, g, "here", 80, 190), candidate(t, g, "off the map", 300, 110),
	}, opts)
	require.NoError(t, err)
	require.Len(t, marks, 4)
	const metre = 4.0 // m; the map's scale, 0.9996, over 9.5 km
	wall, near, unknown, hidden := marks[0], marks[1], marks[2], marks[3]
	if wall.Name != "wall" {
		wall, near = near, wall
	}

	require.Equal(t, "cone", near.Name)
	assert.Equal(t, Visible, near.Sight.Verdict)
	assert.InDelta(t, 0, float64(geodesy.Difference(0, near.Bearing)), 0.01)
	assert.InDelta(t, 4000, near.Distance, metre)
	assert.InDelta(t, math.Atan2(58, 4000)*180/math.Pi, float64(near.Sight.Angle), 1e-3)
	// the wall behind rises from 0 at row 51 to 300 m at row 50: the line over
	// the cone, 58 m over the eye in 4 km, meets it 102 m up, near its foot
	assert.Equal(t, BackdropGround, near.Backdrop)
	assert.InDelta(t, 6950+50*102/300, near.BehindAt, metre)
	// its outline falls to the level ground on both sides, seen down to the
	// valley before the wall, 2 m below the eye: nearly level with it
	assert.InDelta(t, math.Atan2(60, 4000)*180/math.Pi, float64(near.AngularHeight), 0.03)
	// half way down the cone is 3 posts, 150 m, to each side: 0.0375 of 4 km
	assert.InDelta(t, 2*math.Atan2(150, 4000)*180/math.Pi, float64(near.AngularWidth), 0.4)
	assert.False(t, near.TooSmall)

	assert.Equal(t, Visible, wall.Sight.Verdict)
	assert.Equal(t, BackdropSky, wall.Backdrop)
	assert.InDelta(t, 9500, wall.LookedTo, metre) // the north row of the data
	assert.True(t, math.IsNaN(wall.BehindAt))
	// 80 posts wide at 140 posts: its ends are 15.9 degrees off, beyond the
	// 10 that are looked at, and over those it falls only by standing farther
	assert.Less(t, float64(wall.AngularHeight), 0.05)

	assert.Equal(t, "screened", hidden.Name)
	assert.Equal(t, Hidden, hidden.Sight.Verdict)
	// the screen, 98 m over the eye half way: 2*98 + 2 - 150 over the top
	assert.InDelta(t, 48, hidden.Sight.TargetExtra, 1)
	assert.Contains(t, hidden.Why, "hidden by 48 m")
	assert.Zero(t, hidden.Score)
	assert.Equal(t, BackdropNone, hidden.Backdrop)

	assert.Equal(t, "off the map", unknown.Name)
	assert.Equal(t, Unknown, unknown.Sight.Verdict)
	assert.True(t, math.IsNaN(unknown.Elevation))

	// a bearing leaves the ones along it
	north := geodesy.TrueBearing(1.5)
	opts.Bearing = &north
	marks, err = Landmarks(context.Background(), g, o, []Candidate{
		candidate(t, g, "screened", 140, 110), candidate(t, g, "cone", 80, 110), candidate(t, g, "wall", 80, 50),
	}, opts)
	require.NoError(t, err)
	require.Len(t, marks, 2)
	for _, m := range marks {
		assert.InDelta(t, -1.5, float64(m.OffBearing), 0.01)
		assert.Contains(t, m.Why, "1.5 degrees left of the bearing")
	}
	opts.Within = 1
	marks, err = Landmarks(context.Background(), g, o, []Candidate{candidate(t, g, "cone", 80, 110)}, opts)
	require.NoError(t, err)
	assert.Empty(t, marks)
}

// TestABetterMarkNeverRanksLower: one respect better, the others equal.
func TestABetterMarkNeverRanksLower(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(11, 12))
	for range 20000 {
		m := merits{
			distance: 20000 * random.Float64(), within: 2, off: geodesy.Degrees(4*random.Float64() - 2),
			backdrop: []Backdrop{BackdropSky, BackdropGround, BackdropUnknown}[random.IntN(3)], gap: 9000 * random.Float64(),
			angularHeight: geodesy.Degrees(3 * random.Float64() * random.Float64()), inView: random.Float64(), sure: random.Float64(),
		}
		better := m
		respect := random.IntN(7)
		switch respect {
		case 0:
			better.distance += 5000 * random.Float64()
		case 1:
			better.off *= geodesy.Degrees(random.Float64())
		case 2:
			better.backdrop = BackdropSky
		case 3:
			better.gap += 3000 * random.Float64()
		case 4:
			better.angularHeight += geodesy.Degrees(random.Float64())
		case 5:
			better.inView += (1 - better.inView) * random.Float64()
		case 6:
			better.sure += (1 - better.sure) * random.Float64()
		}
		a, b := m.score(), better.score()
		assert.GreaterOrEqual(t, b, a, "respect %d: %+v", respect, m)
		assert.True(t, b >= 0 && b <= 1)

		// and through the classes that the eye makes
		mark := func(m merits) Landmark {
			small := m.angularHeight < EyeAcuity
			return Landmark{Sight: Sight{Verdict: Visible}, Distance: m.distance, TooSmall: small, Contrast: math.NaN(), Score: m.score(), Likelihood: &Likelihood{Probability: m.sure}}
		}
		assert.LessOrEqual(t, Rank(mark(better), mark(m)), 0, "respect %d: %+v", respect, m)
	}
}

func TestRankOfClasses(t *testing.T) {
	t.Parallel()
	list := []Landmark{ // as they should come
		{Sight: Sight{Verdict: Visible}, Score: 0.1, Contrast: math.NaN()},
		{Sight: Sight{Verdict: Visible}, Score: 0.9, Contrast: math.NaN(), Likelihood: &Likelihood{Probability: 0.49}}, // likelier hidden
		{Sight: Sight{Verdict: Visible}, Score: 0.9, Contrast: math.NaN(), TooSmall: true},
		{Sight: Sight{Verdict: Visible}, Score: 0.8, Contrast: 0.01}, // lost in haze
		{Sight: Sight{Verdict: Unknown}, Distance: 100},
		{Sight: Sight{Verdict: Unknown}, Distance: 900},
		{Sight: Sight{Verdict: Hidden, TargetExtra: 3}, Distance: 900},
		{Sight: Sight{Verdict: Hidden, TargetExtra: 30}, Distance: 100},
	}
	for i := range list {
		for j := range list {
			want := 0
			if i < j {
				want = -1
			} else if i > j {
				want = 1
			}
			assert.Equal(t, want, Rank(list[i], list[j]), "%d, %d", i, j)
		}
	}
}

// TestTheEyesAcuity: one arc-minute is 0.291 m at 1 km and 2.909 m at 10 km
// (common tables of visual acuity).
func TestTheEyesAcuity(t *testing.T) {
	t.Parallel()
	assert.InDelta(t, 0.291, 1000*EyeAcuity.Tan(), 5e-4)
	assert.InDelta(t, 2.909, 10000*EyeAcuity.Tan(), 5e-4)
	// a cairn of 2 m at 10 km is too small; a tower of 30 m is not
	g := metricGrid(t, 41, 241, 50, func(c, r int) float64 {
		if c == 20 && r == 20 {
			return 40
		}
		return 40 - math.Abs(float64(r-20))/10 // a gentle ridge, to be on the skyline
	})
	for _, test := range []struct {
		top  float64
		want bool
	}{{2, true}, {30, false}} {
		c := candidate(t, g, "mark", 20, 20)
		c.AboveGround = test.top
		marks, err := Landmarks(context.Background(), g, Observer{Place: at(t, g, 20, 220), EyeAboveGround: 5}, []Candidate{c}, DefaultLandmarkOptions())
		require.NoError(t, err)
		require.Len(t, marks, 1)
		require.Equal(t, Visible, marks[0].Sight.Verdict, "%+v", marks[0].Sight)
		assert.InDelta(t, 10000, marks[0].Distance, 5)
		assert.Equal(t, test.want, marks[0].TooSmall, "%v m: %v", test.top, marks[0].AngularHeight)
	}
}

// TestContrastThroughHaze: C = exp(-3.912 d/V) at V = 20 km: 5 km 0.376,
// 10 km 0.141 (American Meteorological Society, Glossary of Meteorology).
func TestContrastThroughHaze(t *testing.T) {
	t.Parallel()
	g := metricGrid(t, 21, 261, 50, func(_, r int) float64 { return float64(260 - r) })
	opts := DefaultLandmarkOptions()
	opts.VisualRange = 20000
	o := NewObserver(at(t, g, 10, 250))
	marks, err := Landmarks(context.Background(), g, o, []Candidate{candidate(t, g, "5", 10, 150), candidate(t, g, "10", 10, 50)}, opts)
	require.NoError(t, err)
	require.Len(t, marks, 2)
	for _, m := range marks {
		want := map[string]float64{"5": 0.376, "10": 0.141}[m.Name]
		assert.InDelta(t, want, m.Contrast, 1e-3)
	}
}

// TestMarksLostInHazeComeLast of those in sight, however well they stand.
func TestMarksLostInHazeComeLast(t *testing.T) {
	t.Parallel()
	g := metricGrid(t, 61, 261, 50, func(c, r int) float64 {
		top := func(c0, r0, height float64) float64 {
			return height * math.Exp(-(math.Pow(float64(c)-c0, 2)+math.Pow(float64(r)-r0, 2))/18)
		}
		return 100 + top(20, 50, 900) + top(40, 190, 60)
	})
	far, near := candidate(t, g, "far", 20, 50), candidate(t, g, "near", 40, 190)
	o := NewObserver(at(t, g, 30, 250))
	for haze, first := range map[float64]string{0: "far", 50e3: "far", 6e3: "near"} {
		opts := DefaultLandmarkOptions()
		opts.VisualRange = haze
		marks, err := Landmarks(t.Context(), g, o, []Candidate{far, near}, opts)
		require.NoError(t, err)
		require.Len(t, marks, 2)
		require.Equal(t, Visible, marks[0].Sight.Verdict)
		require.Equal(t, Visible, marks[1].Sight.Verdict)
		assert.Equal(t, first, marks[0].Name, "visual range %v m", haze)
	}
}

func demoGrid(t *testing.T) *dem.Grid {
	t.Helper()
	r, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	require.NoError(t, err)
	defer func() { assert.NoError(t, r.Close()) }()
	g, err := r.Read(context.Background(), r.Layout().Whole())
	require.NoError(t, err)
	return g
}

// TestLandmarksOnRealGround: the verdicts are those of single sights, the
// list does not depend on concurrency or on the candidates' order, and a
// mark said to stand on the skyline does: no sight from the same eye to
// ground behind it passes over its top.
func TestLandmarksOnRealGround(t *testing.T) {
	t.Parallel()
	g := demoGrid(t)
	summits, err := landform.Summits(context.Background(), g, landform.SummitOptions{MinProminence: 30})
	require.NoError(t, err)
	candidates := SummitCandidates(summits)
	for _, place := range []geodesy.LatLon{{Lat: 36.26, Lon: -84.295}, {Lat: 36.25, Lon: -84.2}, {Lat: 36.198, Lon: -84.231}} {
		o := NewObserver(place)
		opts := DefaultLandmarkOptions()
		opts.Concurrency = 1
		marks, err := Landmarks(context.Background(), g, o, candidates, opts)
		require.NoError(t, err)
		shuffled := append([]Candidate(nil), candidates...)
		rand.New(rand.NewPCG(1, 1)).Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		opts.Concurrency = 4
		again, err := Landmarks(context.Background(), g, o, shuffled, opts)
		require.NoError(t, err)
		require.Len(t, again, len(marks))
		visible := 0
		for i, m := range marks {
			assert.Equal(t, m.Place, again[i].Place)
			assert.Equal(t, math.Float64bits(m.Score), math.Float64bits(again[i].Score))
			assert.Equal(t, m.Why, again[i].Why)
			if m.Sight.Verdict != Visible {
				continue
			}
			visible++
			assert.Equal(t, m.GoesOn, m.AngularWidth == 0)
			assert.True(t, m.TooSmall || !m.GoesOn)
			assert.GreaterOrEqual(t, float64(m.AngularHeight), 0.0)
			// the ground behind, post by post along the line
			behind := math.Inf(-1)
			line, err := LookingLine(t.Context(), g, place, m.Place)
			require.NoError(t, err)
			for d := line.Distance + 20; d < m.LookedTo+20; d += 20 {
				p, _ := geodesy.Direct(line.From, line.Start, d)
				h, err := dem.ElevationAt(g, p)
				if err != nil {
					break
				}
				sin, cos := geodesy.Degrees(line.Start).SinCos()
				drop := geodesy.NewPlane(line.From).CurvatureDrop(d*sin, d*cos, 0.13)
				behind = max(behind, float64(geodesy.Atan2(h-drop-m.Sight.EyeElevation, d)))
			}
			const between = 0.01 // degrees; inside a cell the samples are bilinear, the model straight between edges
			if m.Backdrop == BackdropSky {
				assert.Less(t, behind, float64(m.Sight.Angle)+between, m.Why)
			} else {
				assert.Greater(t, behind, float64(m.Sight.Angle)-between, m.Why)
			}
		}
		assert.Positive(t, visible)
	}
}

// TestLandmarksAlongALeg: with a leg, marks along it carry what is kept in
// view, and Rank lists them.
func TestLandmarksAlongALeg(t *testing.T) {
	t.Parallel()
	g := demoGrid(t)
	summits, err := landform.Summits(context.Background(), g, landform.SummitOptions{MinProminence: 30})
	require.NoError(t, err)
	leg := traceCells(t, g, 136.86, 240.96, 142.7, 181.4)
	opts := DefaultLandmarkOptions()
	opts.Leg = leg
	marks, err := Landmarks(context.Background(), g, NewObserver(leg.From), SummitCandidates(summits), opts)
	require.NoError(t, err)
	require.NotEmpty(t, marks)
	walk, err := LookingLine(t.Context(), g, leg.From, leg.To)
	require.NoError(t, err)
	for i, m := range marks {
		assert.LessOrEqual(t, math.Abs(float64(geodesy.Difference(leg.Start, m.Bearing))), 2.0)
		want, err := KeptInView(context.Background(), g, walk, m.LookedAt, DefaultEyeAboveGround, DefaultConditions())
		require.NoError(t, err)
		assert.Equal(t, want, m.Kept)
		assert.Equal(t, m.Sight.Verdict, m.Kept[0].Verdict)
		if i > 0 {
			assert.LessOrEqual(t, Rank(marks[i-1], m), 0)
		}
	}
	_, err = Landmarks(context.Background(), g, NewObserver(leg.To), SummitCandidates(summits), opts)
	assert.Error(t, err, "the leg starts elsewhere")
}

func TestLandmarksRefuse(t *testing.T) {
	t.Parallel()
	g := sightGrid(30, 30, func(c, r int) float64 {
		if c == 3 && r == 3 {
			return math.NaN()
		}
		return 100
	})
	here := NewObserver(at(t, g, 15, 15))
	marks := []Candidate{candidate(t, g, "a", 20, 20)}
	for _, opts := range []LandmarkOptions{{Within: -1}, {Radius: -1}, {VisualRange: math.NaN()}, {Conditions: Conditions{TargetAboveGround: -1}}} {
		_, err := Landmarks(context.Background(), g, here, marks, opts)
		assert.Error(t, err)
	}
	_, err := Landmarks(context.Background(), g, NewObserver(at(t, g, 3, 3)), marks, DefaultLandmarkOptions())
	assert.ErrorIs(t, err, dem.ErrVoid)
	_, err = Landmarks(context.Background(), g, NewObserver(at(t, g, 50, 3)), marks, DefaultLandmarkOptions())
	assert.ErrorIs(t, err, dem.ErrOutside)
	stopped, stop := context.WithCancel(context.Background())
	stop()
	_, err = Landmarks(stopped, g, here, marks, DefaultLandmarkOptions())
	assert.ErrorIs(t, err, context.Canceled)
}

// TestAPlaceOnASlopeIsNoMark: 2026-11-28. One that ground rose straight on
// behind was told to stand out, and ranked before summits.
func TestAPlaceOnASlopeIsNoMark(t *testing.T) {
	t.Parallel()
	g := sightGrid(60, 60, func(c, r int) float64 { return 100 + 20*float64(max(c-20, 0)) })
	from, err := g.Place(5, 30)
	require.NoError(t, err)
	at, err := g.Place(35, 30)
	require.NoError(t, err)
	top, err := g.Place(59, 30)
	require.NoError(t, err)
	marks, err := Landmarks(t.Context(), g, Observer{Place: from, EyeAboveGround: 2}, []Candidate{PlaceCandidate("bench", at), PlaceCandidate("rim", top)}, DefaultLandmarkOptions())
	require.NoError(t, err)
	require.Len(t, marks, 2)
	assert.Equal(t, "rim", marks[0].Name)
	bench := marks[1]
	require.Equal(t, Visible, bench.Sight.Verdict)
	assert.True(t, bench.GoesOn)
	assert.True(t, bench.TooSmall)
	assert.Contains(t, bench.Why, "with ground in sight right behind it and hard to tell from that ground")
	// a tower on it stands up against the slope
	tower := PlaceCandidate("tower", at)
	tower.AboveGround = 30
	marks, err = Landmarks(t.Context(), g, Observer{Place: from, EyeAboveGround: 2}, []Candidate{tower}, DefaultLandmarkOptions())
	require.NoError(t, err)
	assert.False(t, marks[0].GoesOn)
}
