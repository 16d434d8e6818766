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

func kept(t *testing.T, g *dem.Grid, leg [4]float64, mark geodesy.LatLon, eye float64, conditions Conditions) []Stretch {
	t.Helper()
	line := traceCells(t, g, leg[0], leg[1], leg[2], leg[3])
	out, err := KeptInView(context.Background(), g, line, mark, eye, conditions)
	require.NoError(t, err)
	// consecutive from one end to the other, and no two alike in a row
	require.NotEmpty(t, out)
	assert.Zero(t, out[0].From)
	assert.InDelta(t, line.Distance, out[len(out)-1].To, 1e-6)
	for i := 1; i < len(out); i++ {
		assert.Equal(t, out[i-1].To, out[i].From)
		assert.NotEqual(t, out[i-1].Verdict, out[i].Verdict)
	}
	return out
}

// levelCells is level ground, 61 x 31 posts of a metric grid, so that a
// drawing is in plain cells.
func levelCells(t *testing.T) *dem.Grid {
	t.Helper()
	crs, err := geodesy.NewCRS("EPSG:32616")
	require.NoError(t, err)
	const cell = 30.0 // metres
	return &dem.Grid{
		Frame:      dem.Frame{Columns: 61, Rows: 31, X0: 735000, Y0: 4040000, DX: cell, DY: -cell, CRS: crs},
		Elevations: make([]float32, 61*31),
	}
}

// TestAMarkBehindAWallByHand: a leg runs past a wall that stands between it
// and a mark to one side; where the mark is lost and where it comes back are
// the two ends of the wall, seen from the mark, drawn on to the leg.
func TestAMarkBehindAWallByHand(t *testing.T) {
	t.Parallel()
	// a wall along row 10 over columns 20 to 30, the mark at row 0, the leg on
	// row 20
	g := levelCells(t)
	for c := 20; c <= 30; c++ {
		g.Elevations[10*61+c] = 50
	}
	mark, err := g.Place(25, 0)
	require.NoError(t, err)
	leg := [4]float64{5, 20, 55, 20}
	out := kept(t, g, leg, mark, 2, Conditions{TargetAboveGround: 2, Refraction: 1})
	require.Len(t, out, 3)
	assert.Equal(t, []Verdict{Visible, Hidden, Visible}, []Verdict{out[0].Verdict, out[1].Verdict, out[2].Verdict})
	// The sight line is level, 2 m up. The wall's own row falls from 50 m to
	// 0 over the cell beyond each end, so it stands 2 m high 24/25 of a cell
	// out: at columns 19.04 and 30.96. From the mark at twice the distance
	// that is 25 -+ 2*5.96 columns; the leg starts at column 5. The ground
	// between rows 9 and 11 slopes up to the wall and is no wider.
	const tolerance = 0.2 // m; the bow of the leg on the map
	length := out[2].To
	metres := length / 50 // a cell, by the map's scale there
	assert.InDelta(t, (25-2*5.96-5)*metres, out[1].From, tolerance)
	assert.InDelta(t, (25+2*5.96-5)*metres, out[1].To, tolerance)
	assert.InDelta(t, 4*5.96/50, Share(out, length, Hidden), 1e-3)
	assert.InDelta(t, 1-4*5.96/50, Share(out, length, Visible), 1e-3)
	assert.InDelta(t, 1, Share(out, out[1].From, Visible), 1e-12)
}

// closeToGrazing is the clearance, metres, under which two ways of drawing
// one sight line may differ: a millimetre for curvature taken about the one
// end or the other.
const closeToGrazing = 2e-3

// TestKeptAgreesWithASightFromEachPlace holds the lines drawn backwards from
// the mark against the sight from the walker's eye, traced afresh, away from
// changes and ties.
func TestKeptAgreesWithASightFromEachPlace(t *testing.T) {
	t.Parallel()
	g := sightGrid(100, 100, hills(21))
	random := rand.New(rand.NewPCG(3, 4))
	counts := map[Verdict]int{}
	for range 12 {
		at := func() float64 { return 5 + 90*random.Float64() }
		leg := [4]float64{at(), at(), at(), at()}
		mark, err := g.Place(at(), at())
		require.NoError(t, err)
		conditions := Conditions{TargetAboveGround: 12 * random.Float64(), Refraction: 0.13}
		out := kept(t, g, leg, mark, 1.6, conditions)
		line := traceCells(t, g, leg[0], leg[1], leg[2], leg[3])
		for _, s := range out {
			for range 4 {
				d := s.From + (s.To-s.From)*random.Float64()
				if d-s.From < KeptResolution || s.To-d < KeptResolution {
					continue
				}
				// the eye as the leg has the ground, which inside a cell is
				// not quite the bilinear ground that a new trace starts from
				eye := line.ElevationAt(d) + 1.6
				place := line.PlaceAt(d)
				ground, err := dem.ElevationAt(g, place)
				require.NoError(t, err)
				if eye < ground {
					continue
				}
				back, err := profile.Trace(context.Background(), g, place, mark)
				require.NoError(t, err)
				sight, err := Along(back, Observer{Place: place, EyeElevation: &eye}, conditions)
				require.NoError(t, err)
				if math.Abs(sight.Clearance) < closeToGrazing {
					continue
				}
				counts[s.Verdict]++
				assert.Equal(t, sight.Verdict, s.Verdict, "leg %v, %v m along, clearance %v", leg, d, sight.Clearance)
			}
		}
	}
	assert.Greater(t, counts[Visible], 20)
	assert.Greater(t, counts[Hidden], 20)
}

// TestTheFanAgreesWithEverySightLine holds what the ground between mark and
// leg hides, drawn on to the leg, against sight lines one by one, close
// together along it, on rough ground with voids, for marks ahead, abeam,
// behind and all but on the line.
func TestTheFanAgreesWithEverySightLine(t *testing.T) {
	t.Parallel()
	const (
		// tie is how far the eye is moved, metres, to see whether a verdict
		// hangs on a hair.
		tie = 1e-4
		// change is how near a change of verdict, metres along the leg, a place
		// is left out.
		change = 1e-3
	)
	counts, short, ties := map[Verdict]int{}, 0, 0
	for seed := range uint64(100) {
		random := rand.New(rand.NewPCG(seed, 31))
		smooth := hills(seed)
		g := sightGrid(60, 60, func(c, r int) float64 {
			if seed%3 == 2 && random.IntN(300) == 0 {
				return math.NaN()
			}
			return smooth(c, r) + 25*random.Float64()
		})
		at := func() float64 { return 4 + 52*random.Float64() }
		a, _ := g.Place(at(), at())
		b, _ := g.Place(at(), at())
		line, err := profile.Trace(context.Background(), g, a, b)
		if err != nil {
			continue // from a void
		}
		var mark geodesy.LatLon
		switch seed % 4 {
		case 0: // anywhere
			mark, _ = g.Place(at(), at())
		case 1: // on a post
			mark, _ = g.Place(math.Round(at()), math.Round(at()))
		default: // near the line: beside it, or ahead or behind
			mark, _ = geodesy.Direct(line.From, line.Start, line.Distance*(1.4*random.Float64()-0.2))
			side := math.Pow(10, 2*random.Float64()-0.5)
			mark, _ = geodesy.Direct(mark, line.Start+90, side)
		}
		conditions := Conditions{TargetAboveGround: 40 * random.Float64(), Refraction: 1}
		eye := 1.6 + 10*random.Float64()
		from, err := newFromMark(g, line, mark, conditions)
		if err != nil {
			continue // on a void, or off the data
		}
		drawn, err := from.drawn(context.Background(), line, eye)
		require.NoError(t, err)
		if drawn == nil {
			continue // a sight line leaves the data
		}
		assert.Zero(t, drawn[0].From)
		assert.InDelta(t, line.Distance, drawn[len(drawn)-1].To, 1e-6)
		verdict := func(d, over float64) Verdict {
			return from.verdict(line.PlaceAt(d), line.ElevationAt(d)+eye+over)
		}
		for i, s := range drawn {
			if i > 0 {
				assert.Equal(t, drawn[i-1].To, s.From)
				assert.NotEqual(t, drawn[i-1].Verdict, s.Verdict)
			}
			if s.To-s.From < line.Spacing/2 {
				short++
			}
			const pieces = 40
			for j := range pieces {
				d := s.From + change + (s.To-s.From-2*change)*(float64(j)+random.Float64())/pieces
				if d <= s.From || d >= s.To || geodesy.Inverse(line.PlaceAt(d), mark).Distance < 1 {
					continue
				}
				if verdict(d, tie) != verdict(d, -tie) {
					ties++
					continue
				}
				counts[s.Verdict]++
				require.Equal(t, verdict(d, 0), s.Verdict, "seed %d, %v m along, of %v", seed, d, s)
			}
		}
	}
	t.Logf("places %v, ties %d, stretches under half a post spacing %d", counts, ties, short)
	for _, v := range []Verdict{Visible, Hidden, Unknown} {
		assert.Greater(t, counts[v], 300, v.String())
	}
	assert.Greater(t, short, 20)
	assert.Less(t, ties, 200)
}

// TestAShortGlimpse: a slit between two walls, drawn by hand, lets a mark be
// seen from a stretch of leg far shorter than half a post spacing.
func TestAShortGlimpse(t *testing.T) {
	t.Parallel()
	g := levelCells(t)
	// a wall along row 18, close to the leg on row 20, 50 m high but for the
	// post at column 25, level; the mark at row 0, so the slit is 20/18 as wide
	// on the leg
	for c := 2; c <= 58; c++ {
		if c != 25 {
			g.Elevations[18*61+c] = 50
		}
	}
	mark, err := g.Place(25, 0)
	require.NoError(t, err)
	line := traceCells(t, g, 5, 20.25, 55, 20.25)
	out, err := KeptInView(context.Background(), g, line, mark, 2, Conditions{TargetAboveGround: 2, Refraction: 1})
	require.NoError(t, err)
	require.Len(t, out, 3)
	assert.Equal(t, []Verdict{Hidden, Visible, Hidden}, []Verdict{out[0].Verdict, out[1].Verdict, out[2].Verdict})
	// the sight line is level, 2 m up: the wall stands under it within 2/50 of
	// a cell of the post on each side, 20.25/18 times that on the leg
	length := out[2].To
	assert.InDelta(t, 2*2.0/50*20.25/18*length/50, out[1].To-out[1].From, 1e-3)
	assert.Less(t, out[1].To-out[1].From, line.Spacing/8)
}

// TestKeptOnTheDestinationIsExact: for the leg's own end it is WhileWalking;
// for a mark a hair beside it, which is sampled, the changes lie within the
// resolution, stretches under half a post spacing aside; for one a step
// beside it they lie as near as the step lets them.
func TestKeptOnTheDestinationIsExact(t *testing.T) {
	t.Parallel()
	g := sightGrid(80, 80, hills(5))
	leg := [4]float64{6, 9, 70, 61}
	line := traceCells(t, g, leg[0], leg[1], leg[2], leg[3])
	conditions := Conditions{TargetAboveGround: 3, Refraction: 0.13}
	exact, err := WhileWalking(line, NewObserver(line.From), conditions)
	require.NoError(t, err)
	assert.Equal(t, exact, kept(t, g, leg, line.To, DefaultEyeAboveGround, conditions))

	beside, _ := geodesy.Direct(line.To, line.End, 5*dem.NearLimit)
	sampled := kept(t, g, leg, beside, DefaultEyeAboveGround, conditions)
	require.Len(t, sampled, len(exact))
	require.Greater(t, len(exact), 3)
	const tolerance = KeptResolution // m; half of it, and a hair's shift of the mark on a shallow sight
	for i, s := range sampled {
		assert.Equal(t, exact[i].Verdict, s.Verdict)
		assert.InDelta(t, exact[i].From, s.From, tolerance)
	}
	near, _ := geodesy.Direct(line.To, line.End+90, 1.5*nearestLine)
	drawn := kept(t, g, leg, near, DefaultEyeAboveGround, conditions)
	require.Len(t, drawn, len(exact))
	for i, s := range drawn {
		assert.Equal(t, exact[i].Verdict, s.Verdict)
		assert.InDelta(t, exact[i].From, s.From, tolerance)
	}
}

// TestKeptAcrossAVoid: a sight that meets a void is unknown, as is a walker
// on one; a mark on one is an error, and so is a mark off the data.
func TestKeptAcrossAVoid(t *testing.T) {
	t.Parallel()
	g := sightGrid(60, 30, func(c, r int) float64 {
		if c == 30 && r >= 8 && r <= 12 {
			return math.NaN()
		}
		return 100
	})
	mark, err := g.Place(30, 2)
	require.NoError(t, err)
	out := kept(t, g, [4]float64{5, 20, 55, 20}, mark, 2, Conditions{TargetAboveGround: 40, Refraction: 1})
	require.Len(t, out, 3)
	assert.Equal(t, Unknown, out[1].Verdict)
	onVoid := kept(t, g, [4]float64{5, 10, 55, 10}, mark, 2, Conditions{TargetAboveGround: 40, Refraction: 1})
	require.Len(t, onVoid, 3)
	assert.Equal(t, Unknown, onVoid[1].Verdict)

	line := traceCells(t, g, 5, 20, 55, 20)
	void, err := g.Place(30, 10)
	require.NoError(t, err)
	_, err = KeptInView(context.Background(), g, line, void, 2, DefaultConditions())
	assert.ErrorIs(t, err, dem.ErrVoid)
	_, err = KeptInView(context.Background(), g, line, geodesy.LatLon{Lat: 10, Lon: 10}, 2, DefaultConditions())
	assert.ErrorIs(t, err, dem.ErrOutside)
	_, err = KeptInView(context.Background(), g, line, mark, -1, DefaultConditions())
	assert.Error(t, err)
	stopped, stop := context.WithCancel(context.Background())
	stop()
	_, err = KeptInView(stopped, g, line, mark, 2, DefaultConditions())
	assert.ErrorIs(t, err, context.Canceled)

	// a leg that leaves the data: unknown beyond
	off, err := profile.Trace(context.Background(), g, line.From, geodesy.LatLon{Lat: line.From.Lat, Lon: -84.3})
	require.NoError(t, err)
	require.Less(t, off.Covered, off.Distance)
	stretches, err := KeptInView(context.Background(), g, off, mark, 2, Conditions{TargetAboveGround: 40, Refraction: 1})
	require.NoError(t, err)
	last := stretches[len(stretches)-1]
	assert.Equal(t, Unknown, last.Verdict)
	assert.InDelta(t, off.Distance, last.To, 1e-6)
}

// TestTheWalkersPlacesEndWhereTheLegDoes: the last place looked from was
// start + gap*n/n, which rounds beyond the end of some legs, where no ground is
// known: the last metre was unknown.
func TestTheWalkersPlacesEndWhereTheLegDoes(t *testing.T) {
	t.Parallel()
	g := levelCells(t)
	line := traceCells(t, g, 2.2, 15.3, 45.1, 15.9)
	w, err := newFromMark(g, line, line.PlaceAt(line.Distance*1.3), Conditions{TargetAboveGround: 2})
	require.NoError(t, err)
	first, last := line.Points[0], line.Points[len(line.Points)-1]
	random := rand.New(rand.NewPCG(116, 1))
	for range 300 {
		last.Distance = line.Distance * (0.1 + 0.9*random.Float64())
		line.Points, line.Spacing = []profile.Point{first, last}, line.Distance/20
		out, err := w.sampled(context.Background(), line, 2)
		require.NoError(t, err)
		require.Len(t, out, 1)
		require.Equal(t, Visible, out[0].Verdict)
		require.Equal(t, last.Distance, out[0].To)
	}
}

// TestFirstSeenAfterAnUnknownIsAtTheLatest: what is first in view after a
// stretch that is not known may be in view sooner.
func TestFirstSeenAfterAnUnknownIsAtTheLatest(t *testing.T) {
	t.Parallel()
	at, atLatest := FirstSeen([]Stretch{{0, 1, Hidden}, {1, 2, Unknown}, {2, 3, Visible}})
	assert.InDelta(t, 2, at, 0)
	assert.True(t, atLatest)
	at, atLatest = FirstSeen([]Stretch{{0, 1, Hidden}, {1, 2, Visible}, {2, 3, Unknown}})
	assert.InDelta(t, 1, at, 0)
	assert.False(t, atLatest)
	at, _ = FirstSeen([]Stretch{{0, 1, Hidden}, {1, 2, Unknown}})
	assert.True(t, math.IsNaN(at))

	hidden := Landmark{Sight: Sight{Verdict: Hidden}, KeptShare: math.NaN(), Kept: []Stretch{{0, 100, Unknown}, {100, 200, Visible}}}
	assert.Contains(t, hidden.Explain(Metric), "it comes into view 100 m along the leg at the latest")
	hidden.Kept[0].Verdict = Hidden
	assert.Contains(t, hidden.Explain(Metric), "it comes into view 100 m along the leg.")
	seen := Landmark{Sight: Sight{Verdict: Visible}, KeptShare: 0.5, Kept: []Stretch{{0, 100, Visible}, {100, 200, Unknown}}}
	assert.Contains(t, seen.Explain(Metric), "in view for at least 50 % of the way to it")
}
