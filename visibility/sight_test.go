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

// sightGrid is a 3 arc-second grid near 36.4 N 84.2 W.
func sightGrid(columns, rows int, elevation func(c, r int) float64) *dem.Grid {
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

func hills(seed uint64) func(c, r int) float64 {
	random := rand.New(rand.NewPCG(seed, 77))
	var waves [12][5]float64
	for i := range waves {
		waves[i] = [5]float64{random.NormFloat64() / 8, random.NormFloat64() / 8, random.Float64() * 7, random.Float64() * 60, 0}
	}
	return func(c, r int) float64 {
		h := 500.0
		for _, w := range waves {
			h += w[3] * math.Sin(w[0]*float64(c)+w[1]*float64(r)+w[2])
		}
		return math.Round(h)
	}
}

func traceCells(t *testing.T, g *dem.Grid, c0, r0, c1, r1 float64) *profile.Leg {
	t.Helper()
	a, err := g.Place(c0, r0)
	require.NoError(t, err)
	b, err := g.Place(c1, r1)
	require.NoError(t, err)
	leg, err := profile.Trace(context.Background(), g, a, b)
	require.NoError(t, err)
	return leg
}

func along(t *testing.T, leg *profile.Leg, eye, target, k float64) Sight {
	t.Helper()
	s, err := Along(leg, Observer{Place: leg.From, EyeAboveGround: eye}, Conditions{TargetAboveGround: target, Refraction: k})
	require.NoError(t, err)
	return s
}

// TestAWallByHand: a wall of known height at a known distance on level
// ground, with no refraction, worked by similar triangles.
func TestAWallByHand(t *testing.T) {
	t.Parallel()
	const wall = 30.0
	g := sightGrid(40, 9, func(c, r int) float64 {
		if c == 12 {
			return 100 + wall
		}
		return 100
	})
	leg := traceCells(t, g, 2, 4, 32, 4)
	s := along(t, leg, 2, 10, 1) // k = 1: a flat Earth
	require.Equal(t, Hidden, s.Verdict)
	third := leg.Distance / 3 // 10 of 30 columns
	assert.InDelta(t, third, s.BlockedAt, 0.1)
	assert.InDelta(t, 130, s.BlockerElevation, 1e-3)
	// The wall's near slope rises 30 m over one column, from column 11 (9 of
	// 30 columns on); the line is 102 + 8 x/30 at x columns, the ground
	// 100 + 30 (x - 9): they meet at x = 9 + (2 + 8*9/30)/(30 - 8/30).
	x := 9 + (2+8*9.0/30)/(30-8.0/30)
	assert.InDelta(t, leg.Distance*x/30, s.StoppedAt, 0.1)
	// the sight line falls from 102 to 110 over the whole: 104.67 at a third
	assert.InDelta(t, 104.6667-130, s.Clearance, 1e-3)
	assert.InDelta(t, third, s.ClearanceAt, 0.1)
	// eye 102 over the wall's 130 at a third: 28*3 = 84 over 102, so 186-110
	assert.InDelta(t, 76, s.TargetExtra, 1e-2)
	// from the target's 110 over 130 at two thirds: 140 at the eye, 38 up
	assert.InDelta(t, 38, s.EyeExtra, 1e-2)
	// the posts by the wall slope up to it, so the eye finds its foot no higher
	raised := along(t, leg, 2+38.01, 10, 1)
	assert.Equal(t, Visible, raised.Verdict)
	assert.Equal(t, Visible, along(t, leg, 2, 10+76.01, 1).Verdict)
	assert.Equal(t, Hidden, along(t, leg, 2+37.98, 10, 1).Verdict)
	assert.Equal(t, Hidden, along(t, leg, 2, 10+75.97, 1).Verdict)
	assert.Zero(t, raised.EyeExtra)
}

// TestSightIsMutual: A sees B exactly when B sees A with eye and target
// exchanged. Sights nearer to grazing than a millimetre are left out: the
// two planes' radii of curvature differ by that much over these distances.
func TestSightIsMutual(t *testing.T) {
	t.Parallel()
	g := sightGrid(120, 120, hills(4))
	random := rand.New(rand.NewPCG(8, 9))
	seen, hidden := 0, 0
	for range 400 {
		a := [2]float64{random.Float64() * 119, random.Float64() * 119}
		b := [2]float64{random.Float64() * 119, random.Float64() * 119}
		eye, top := random.Float64()*30, random.Float64()*30
		there := along(t, traceCells(t, g, a[0], a[1], b[0], b[1]), eye, top, 0.13)
		back := along(t, traceCells(t, g, b[0], b[1], a[0], a[1]), top, eye, 0.13)
		if math.Abs(there.Clearance) < 1e-3 {
			continue
		}
		assert.Equal(t, there.Verdict, back.Verdict, "%v to %v", a, b)
		assert.InDelta(t, there.Clearance, back.Clearance, 1e-3)
		assert.InDelta(t, there.EyeExtra, back.TargetExtra, 1e-3+1e-4*there.EyeExtra)
		if there.Verdict == Visible {
			seen++
		} else {
			hidden++
		}
	}
	assert.Greater(t, seen, 30)
	assert.Greater(t, hidden, 30)
}

func TestRaisingTheEyeNeverHides(t *testing.T) {
	t.Parallel()
	g := sightGrid(120, 120, hills(5))
	random := rand.New(rand.NewPCG(10, 9))
	for range 60 {
		leg := traceCells(t, g, random.Float64()*119, random.Float64()*119, random.Float64()*119, random.Float64()*119)
		was := Hidden
		for eye := 0.0; eye < 200; eye += 7 {
			v := along(t, leg, eye, 0, 0.13).Verdict
			if was == Visible {
				require.Equal(t, Visible, v)
			}
			was = v
		}
	}
}

// TestSightEqualsDenseSampling is the brute-force check: the straight line
// against the ground every two metres, with the Earth's curve worked afresh.
func TestSightEqualsDenseSampling(t *testing.T) {
	t.Parallel()
	g := sightGrid(120, 120, hills(6))
	random := rand.New(rand.NewPCG(12, 9))
	counts := map[Verdict]int{}
	for range 150 {
		leg := traceCells(t, g, random.Float64()*119, random.Float64()*119, random.Float64()*119, random.Float64()*119)
		if leg.Distance < 100 {
			continue
		}
		s := along(t, leg, 1.6, 0, 0.13)
		plane := geodesy.NewPlane(leg.From)
		sin, cos := geodesy.Degrees(leg.Start).SinCos()
		lowered := func(d float64) float64 {
			h, err := dem.ElevationAt(g, leg.PlaceAt(d))
			require.NoError(t, err)
			return h - plane.CurvatureDrop(d*sin, d*cos, 0.13)
		}
		eye, target := lowered(0)+1.6, lowered(leg.Distance)
		least := math.Inf(1)
		for d := 2.0; d < leg.Distance-1; d += 2 {
			least = min(least, eye+(target-eye)*d/leg.Distance-lowered(d))
		}
		counts[s.Verdict]++
		// Between crossings the samples follow the bilinear surface, which can
		// stand off the model's straight line; decide only clear cases.
		if math.Abs(least) > 1.5 {
			want := Visible
			if least < 0 {
				want = Hidden
			}
			assert.Equal(t, want, s.Verdict)
			assert.InDelta(t, least, s.Clearance, 1.5)
		}
	}
	assert.Greater(t, counts[Visible], 5)
	assert.Greater(t, counts[Hidden], 5)
}

// TestWhileWalkingAgreesWithStandingThere: the stretches equal a sight traced
// afresh from each place along the leg.
func TestWhileWalkingAgreesWithStandingThere(t *testing.T) {
	t.Parallel()
	g := sightGrid(120, 120, hills(7))
	random := rand.New(rand.NewPCG(14, 9))
	changes := 0
	for range 25 {
		leg := traceCells(t, g, random.Float64()*119, random.Float64()*119, random.Float64()*119, random.Float64()*119)
		conditions := Conditions{TargetAboveGround: 5, Refraction: 0.13}
		stretches, err := WhileWalking(leg, Observer{Place: leg.From, EyeAboveGround: 1.6}, conditions)
		require.NoError(t, err)
		require.NotEmpty(t, stretches)
		assert.Zero(t, stretches[0].From)
		assert.InDelta(t, leg.Distance, stretches[len(stretches)-1].To, 1e-6)
		changes += len(stretches) - 1
		for i, s := range stretches {
			if i > 0 {
				assert.Equal(t, stretches[i-1].To, s.From)
				assert.NotEqual(t, stretches[i-1].Verdict, s.Verdict)
			}
			for _, share := range []float64{0.02, 0.5, 0.98} {
				d := s.From + share*(s.To-s.From)
				if leg.Distance-d < 1 || s.To-s.From < 1 {
					continue
				}
				from := leg.PlaceAt(d)
				part, err := profile.Trace(context.Background(), g, from, leg.To)
				require.NoError(t, err)
				standing := along(t, part, 1.6, 5, 0.13)
				if math.Abs(standing.Clearance) < 0.05 { // bilinear ground underfoot against the straight piece
					continue
				}
				assert.Equal(t, standing.Verdict, s.Verdict, "at %.1f of %.1f m", d, leg.Distance)
			}
		}
	}
	assert.Greater(t, changes, 20)
}

// TestGroundAlongAgreesWithSights: ground said to be seen is what a sight to
// it sees.
func TestGroundAlongAgreesWithSights(t *testing.T) {
	t.Parallel()
	g := sightGrid(120, 120, hills(8))
	changes := 0
	for _, end := range [][2]float64{{110, 100}, {115, 20}, {60, 118}, {11, 110}, {100, 13}} {
		leg := traceCells(t, g, 10.5, 12.5, end[0], end[1])
		o := Observer{Place: leg.From, EyeAboveGround: 1.6}
		ground, err := GroundAlong(leg, o, DefaultConditions())
		require.NoError(t, err)
		changes += len(ground.Seen) - 1
		for _, s := range ground.Seen {
			d := (s.From + s.To) / 2
			part, err := profile.Trace(context.Background(), g, leg.From, leg.PlaceAt(d))
			require.NoError(t, err)
			one := along(t, part, 1.6, 0, 0.13)
			if math.Abs(one.Clearance) > 0.05 {
				assert.Equal(t, one.Verdict, s.Verdict)
			}
		}
		part, err := profile.Trace(context.Background(), g, leg.From, leg.PlaceAt(ground.Skyline))
		require.NoError(t, err)
		assert.InDelta(t, float64(ground.Angle), float64(along(t, part, 1.6, 0, 0.13).Angle), 1e-4)
	}
	assert.Greater(t, changes, 4)
}

// TestHorizonDistance: on level ground at sea the ground goes out of sight
// at sqrt(2Rh/(1-k)) (Bowditch, Pub. 9, ch. 22; the figures are that formula
// with R = 6371 km, which differs from Euler's radius here by under 0.4 %).
func TestHorizonDistance(t *testing.T) {
	t.Parallel()
	g := sightGrid(900, 5, func(c, r int) float64 { return 0 })
	for _, row := range []struct{ eye, k, kilometres float64 }{
		{1.7, 0, 4.654}, {1.7, 0.13, 4.990}, {1.7, 1.0 / 7, 5.027},
		{10, 0, 11.288}, {10, 0.13, 12.102}, {10, 1.0 / 7, 12.192},
		{100, 0, 35.696}, {100, 0.13, 38.270}, {100, 1.0 / 7, 38.556},
	} {
		leg := traceCells(t, g, 1, 2, 898, 2)
		ground, err := GroundAlong(leg, Observer{Place: leg.From, EyeAboveGround: row.eye}, Conditions{Refraction: row.k})
		require.NoError(t, err)
		// within half a post (37 m) and the difference of radii
		assert.InDelta(t, row.kilometres*1000, ground.Skyline, 40+0.004*row.kilometres*1000, "%+v", row)
		require.Len(t, ground.Seen, 2)
		assert.Equal(t, Hidden, ground.Seen[1].Verdict)
	}
}

func TestUnknownGround(t *testing.T) {
	t.Parallel()
	level := func(hole float64) *dem.Grid {
		return sightGrid(40, 9, func(c, r int) float64 {
			switch {
			case c == 10:
				return math.NaN()
			case c == 20:
				return hole
			}
			return 100
		})
	}
	// a void alone: unknown; known ground that hides: hidden all the same
	assert.Equal(t, Unknown, along(t, traceCells(t, level(100), 2, 4, 32, 4), 2, 2, 0.13).Verdict)
	assert.Equal(t, Hidden, along(t, traceCells(t, level(150), 2, 4, 32, 4), 2, 2, 0.13).Verdict)
	// the target on a void, and off the data
	assert.Equal(t, Unknown, along(t, traceCells(t, level(100), 12, 4, 10, 4), 2, 2, 0.13).Verdict)
	off := traceCells(t, level(100), 12, 4, 60, 4)
	assert.Equal(t, Unknown, along(t, off, 2, 2, 0.13).Verdict)
	while, err := WhileWalking(off, Observer{Place: off.From, EyeAboveGround: 2}, DefaultConditions())
	require.NoError(t, err)
	require.Len(t, while, 1)
	assert.Equal(t, Unknown, while[0].Verdict)
	// beyond the void the far side is seen again from its own side
	leg := traceCells(t, level(100), 2, 4, 18, 4)
	while, err = WhileWalking(leg, Observer{Place: leg.From, EyeAboveGround: 2}, DefaultConditions())
	require.NoError(t, err)
	require.Len(t, while, 2)
	assert.Equal(t, Visible, while[1].Verdict)
}

func TestBadEyesAndTargetsAreRefused(t *testing.T) {
	t.Parallel()
	leg := traceCells(t, sightGrid(9, 9, func(c, r int) float64 { return 5 }), 1, 1, 7, 7)
	for _, bad := range []float64{-1, math.NaN(), math.Inf(1)} {
		_, err := Along(leg, Observer{Place: leg.From, EyeAboveGround: bad}, DefaultConditions())
		assert.Error(t, err)
		_, err = Along(leg, NewObserver(leg.From), Conditions{TargetAboveGround: bad})
		assert.Error(t, err)
		_, err = Along(leg, NewObserver(leg.From), Conditions{Refraction: bad * 100})
		assert.Error(t, err)
	}
	_, err := Along(leg, NewObserver(leg.To), DefaultConditions())
	assert.ErrorContains(t, err, "not at the start")
}
