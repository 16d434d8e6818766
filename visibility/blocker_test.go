package visibility

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/profile"
)

// strip is ground 9 columns wide and 60 rows long, each row of one height,
// with what stands on each row; NaN is not known.
type strip struct {
	t             *testing.T
	ground, cover func(row int) float64
}

func (s strip) grids() (ground *dem.Grid, layer *dem.CoverLayer) {
	s.t.Helper()
	ground = sightGrid(9, 60, func(_, r int) float64 { return s.ground(r) })
	cover := sightGrid(9, 60, func(_, r int) float64 { return s.cover(r) })
	layer, err := dem.LayCover(s.t.Context(), ground, dem.RasterCover(cover, dem.CoverOptions{}), dem.LayOptions{})
	require.NoError(s.t, err)
	return ground, layer
}

// look is the sight south along the middle column, from a row to a row, eye
// and target on bare ground, the Earth flat (the light bends as the ground
// does).
func (s strip) look(from, to float64) Sight {
	s.t.Helper()
	_, layer := s.grids()
	leg := s.leg(layer, from, to)
	got, err := Along(leg, Observer{Place: leg.From, EyeAboveGround: stripEye}, Conditions{Refraction: 1})
	require.NoError(s.t, err)
	return got
}

func (s strip) leg(layer *dem.CoverLayer, from, to float64) *profile.Leg {
	s.t.Helper()
	f := &layer.Ground().Frame
	a, err := f.Place(4, from)
	require.NoError(s.t, err)
	b, err := f.Place(4, to)
	require.NoError(s.t, err)
	covered, err := layer.Covered(dem.Clearing{Centre: a}, dem.Clearing{Centre: b})
	require.NoError(s.t, err)
	leg, err := profile.Trace(s.t.Context(), covered, a, b)
	require.NoError(s.t, err)
	return leg
}

const stripEye = 2.0

// byRow is a height by row, 0 where none is given.
func byRow(heights map[int]float64) func(int) float64 {
	return func(row int) float64 { return heights[row] }
}

// TestWhatBlocks: by similar triangles, from row 2 to row 50, 48 rows away.
func TestWhatBlocks(t *testing.T) {
	t.Parallel()
	nan := math.NaN()
	// how far a target on the plain 48 rows away is behind something so high
	// so many rows away: along the line from the eye over its top
	behind := func(height float64, away int) float64 { return stripEye + (height-stripEye)*48/float64(away) }
	for _, c := range []struct {
		name          string
		ground, cover map[int]float64
		want          Sight // of these fields
		row           int   // of the blocker
		says          string
	}{
		{name: "a row of trees on a plain", cover: map[int]float64{30: 20},
			want: Sight{Verdict: Hidden, BlockedBy: BlockerCover, BlockerCover: 20, BlockerElevation: 20, TargetExtra: behind(20, 28)}, row: 30,
			says: "what stands on the ground 2.6 km off, 20 m high there"},
		{name: "a bare ridge", ground: map[int]float64{30: 15},
			want: Sight{Verdict: Hidden, BlockedBy: BlockerGround, BlockerElevation: 15, TargetExtra: behind(15, 28), BareExtra: behind(15, 28)}, row: 30,
			says: "ground 2.6 km off"},
		{name: "trees on a ridge that hides alone", ground: map[int]float64{30: 15}, cover: map[int]float64{30: 12},
			want: Sight{Verdict: Hidden, BlockedBy: BlockerBoth, BlockerCover: 12, BlockerElevation: 27, TargetExtra: behind(27, 28), BareExtra: behind(15, 28)}, row: 30,
			says: "ground 2.6 km off and the 12 m that stand on it; the bare ground alone would hide it by 24 m"},
		{name: "trees on a rise too low to hide", ground: map[int]float64{30: 0.5}, cover: map[int]float64{30: 12},
			want: Sight{Verdict: Hidden, BlockedBy: BlockerCover, BlockerCover: 12, BlockerElevation: 12.5, TargetExtra: behind(12.5, 28)}, row: 30,
			says: "what stands on the ground 2.6 km off, 12 m high there"},
		{name: "trees before a lower ridge", ground: map[int]float64{42: 9}, cover: map[int]float64{20: 18},
			want: Sight{Verdict: Hidden, BlockedBy: BlockerCover, BlockerCover: 18, BlockerElevation: 18, TargetExtra: behind(18, 18), BareExtra: behind(9, 40)}, row: 20,
			says: "what stands on the ground 1.7 km off, 18 m high there; the bare ground alone would hide it by 10 m"},
		{name: "a ridge over the trees before it", ground: map[int]float64{42: 60}, cover: map[int]float64{20: 18},
			want: Sight{Verdict: Hidden, BlockedBy: BlockerGround, BlockerElevation: 60, TargetExtra: behind(60, 40), BareExtra: behind(60, 40)}, row: 42,
			says: "ground 3.7 km off"},
		{name: "trees under the line", cover: map[int]float64{10: 1.5}, want: Sight{Verdict: Visible}},
		{name: "cover that is not known", cover: map[int]float64{30: nan}, want: Sight{Verdict: Unknown, CoverUnknown: true}},
		{name: "no ground", ground: map[int]float64{30: nan}, want: Sight{Verdict: Unknown}},
		{name: "neither", ground: map[int]float64{20: nan}, cover: map[int]float64{30: nan}, want: Sight{Verdict: Unknown}},
		{name: "trees beyond what is not known", ground: map[int]float64{20: nan}, cover: map[int]float64{30: 20, 25: nan},
			want: Sight{Verdict: Hidden, BlockedBy: BlockerCover, BlockerCover: 20, BlockerElevation: 20, TargetExtra: behind(20, 28)}, row: 30,
			says: "what stands on the ground 2.6 km off, 20 m high there"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got := strip{t, byRow(c.ground), byRow(c.cover)}.look(2, 50)
			require.Equal(t, c.want.Verdict, got.Verdict)
			assert.Equal(t, c.want.BlockedBy, got.BlockedBy)
			assert.Equal(t, c.want.CoverUnknown, got.CoverUnknown)
			// m: rows of degrees grow by a hundredth of a percent over 48
			const metre = 5e-3
			assert.InDelta(t, c.want.BlockerCover, got.BlockerCover, 1e-5) // m: float32
			assert.InDelta(t, c.want.TargetExtra, got.TargetExtra, metre)
			assert.InDelta(t, c.want.BareExtra, got.BareExtra, metre)
			assert.Equal(t, c.says, got.Behind(Metric))
			if c.want.Verdict == Hidden {
				assert.InDelta(t, c.want.BlockerElevation, got.BlockerElevation, 1e-5)
				assert.InDelta(t, got.Distance*float64(c.row-2)/48, got.BlockedAt, 1) // m
			}
		})
	}
}

// TestWhatBlocksIsWhatTheBareGroundDoesNot: over rough ground with scattered
// trees, what a sight says of the bare ground is what the sight over it says,
// and a target that only the cover hides is behind the cover.
func TestWhatBlocksIsWhatTheBareGroundDoesNot(t *testing.T) {
	t.Parallel()
	const seed = 77
	random := rand.New(rand.NewPCG(seed, 0))
	ground := sightGrid(120, 110, hills(seed))
	trees := sightGrid(120, 110, func(int, int) float64 {
		if random.IntN(3) > 0 {
			return 0
		}
		return 40 * random.Float64()
	})
	layer, err := dem.LayCover(t.Context(), ground, dem.RasterCover(trees, dem.CoverOptions{}), dem.LayOptions{})
	require.NoError(t, err)
	counts := map[string]int{}
	for range 800 {
		from, err := ground.Place(2+115*random.Float64(), 2+105*random.Float64())
		require.NoError(t, err)
		to, err := ground.Place(2+115*random.Float64(), 2+105*random.Float64())
		require.NoError(t, err)
		covered, err := layer.Covered(dem.Clearing{Centre: from}, dem.Clearing{Centre: to})
		require.NoError(t, err)
		over, err := profile.Trace(t.Context(), covered, from, to)
		require.NoError(t, err)
		bare, err := profile.Trace(t.Context(), ground, from, to)
		require.NoError(t, err)
		require.Len(t, over.Points, len(bare.Points))
		for i, p := range over.Bare().Points {
			if over.Points[i].Cover > 0 {
				require.InDelta(t, bare.Points[i].Elevation, p.Elevation, 0, "seed %d", seed)
			}
			require.InDelta(t, bare.Points[i].Elevation, p.Elevation, 1e-3) // m: the least that counts as standing
			require.InDelta(t, p.Elevation, over.Points[i].Elevation-over.Points[i].Cover, 1e-9)
		}
		o := Observer{Place: from, EyeAboveGround: 30}
		s, err := Along(over, o, DefaultConditions())
		require.NoError(t, err)
		was, err := Along(bare, o, DefaultConditions())
		require.NoError(t, err)
		counts[fmt.Sprint(was.Verdict, " ", s.Verdict, " ", s.BlockedBy)]++
		assert.InDelta(t, was.TargetExtra, was.BareExtra, 0, "bare ground hides as bare ground does")
		if s.Verdict != Hidden {
			assert.Equal(t, Visible, was.Verdict, "cover gains no sight of bare ground")
			continue
		}
		// m: what stands under a millimetre high counts as ground
		assert.InDelta(t, was.TargetExtra, s.BareExtra, 0.02, "seed %d", seed)
		if was.Verdict == Visible {
			assert.Equal(t, BlockerCover, s.BlockedBy, "seed %d: %s to %s", seed, from, to)
		}
		if s.BlockedBy == BlockerGround {
			assert.InDelta(t, s.BlockerElevation, over.Bare().ElevationAt(s.BlockedAt), 1e-3)
		} else {
			assert.InDelta(t, s.BlockerCover, s.BlockerElevation-over.Bare().ElevationAt(s.BlockedAt), 1e-6)
			assert.Positive(t, s.BlockerCover)
		}
	}
	for _, kind := range []string{"visible visible ", "visible hidden cover", "hidden hidden cover", "hidden hidden ground", "hidden hidden ground and cover"} {
		assert.Greater(t, counts[kind], 20, "%v", counts)
	}
}

// TestTopsSeenAlongALine: of a wall of trees the side towards the eye is seen,
// and it makes the skyline; ground behind it is not seen.
func TestTopsSeenAlongALine(t *testing.T) {
	t.Parallel()
	s := strip{t, byRow(nil), byRow(map[int]float64{30: 20})}
	_, layer := s.grids()
	leg := s.leg(layer, 2, 50)
	g, err := GroundAlong(leg, Observer{Place: leg.From, EyeAboveGround: stripEye}, Conditions{Refraction: 1})
	require.NoError(t, err)
	row := leg.Distance / 48
	require.Len(t, g.Seen, 2)
	assert.InDelta(t, 28*row, g.Seen[0].To, 1) // m: rows of degrees
	assert.InDelta(t, row, g.Tops, 1, "from the bare row before the wall up to its top")
	assert.InDelta(t, 28*row, g.Skyline, 1)
	assert.InDelta(t, 20, g.SkylineCover, 1e-5)
	g, err = GroundAlong(leg.Bare(), Observer{Place: leg.From, EyeAboveGround: stripEye}, Conditions{Refraction: 1})
	require.NoError(t, err)
	assert.Zero(t, g.Tops)
	assert.Zero(t, g.SkylineCover)
}

// TestASkylineSaysWhatMakesIt: trees where the wall stands, ground elsewhere.
func TestASkylineSaysWhatMakesIt(t *testing.T) {
	t.Parallel()
	s := strip{t, byRow(map[int]float64{55: 2}), byRow(map[int]float64{10: 20})}
	ground, layer := s.grids()
	grid, err := layer.Grid(t.Context())
	require.NoError(t, err)
	place, err := ground.Place(4, 40)
	require.NoError(t, err)
	opts := DefaultSkylineOptions()
	opts.Step = 90
	over, err := Skyline(t.Context(), grid, Observer{Place: place, EyeAboveGround: stripEye}, opts)
	require.NoError(t, err)
	bare, err := Skyline(t.Context(), ground, Observer{Place: place, EyeAboveGround: stripEye}, opts)
	require.NoError(t, err)
	require.Len(t, over.Points, 4)
	north, south := over.Points[0], over.Points[2]
	assert.InDelta(t, 20, north.Cover, 1e-5)
	assert.InDelta(t, 20, north.Elevation, 1e-5)
	assert.Zero(t, south.Cover)
	assert.InDelta(t, 2, south.Elevation, 1e-5)
	for _, p := range bare.Points {
		assert.Zero(t, p.Cover)
	}
	assert.Equal(t, 1, CompareSkylines(bare, over, 0.1).Tops)
}

// TestMarksSayWhatHidesThem: the sentences of marks over cover, and what
// stands behind one that is seen.
func TestMarksSayWhatHidesThem(t *testing.T) {
	t.Parallel()
	hill := map[int]float64{48: 20, 49: 40, 50: 60, 51: 40, 52: 20}
	mark := func(cover map[int]float64, at int, prominence, tower float64) Landmark {
		s := strip{t, byRow(hill), byRow(cover)}
		ground, layer := s.grids()
		from, err := ground.Place(4, 2)
		require.NoError(t, err)
		to, err := ground.Place(4, float64(at))
		require.NoError(t, err)
		candidate := Candidate{Kind: KindSummit, Place: to, Elevation: hill[at], Prominence: prominence, AboveGround: tower}
		opts := LandmarkOptions{Conditions: Conditions{Refraction: 1}}
		o := Observer{Place: from, EyeAboveGround: stripEye}
		bare, err := Landmarks(t.Context(), ground, o, []Candidate{candidate}, opts)
		require.NoError(t, err)
		over, _, err := LandmarksCovered(t.Context(), layer, 0, o, bare, opts)
		require.NoError(t, err)
		require.Len(t, over, 1)
		return over[0]
	}
	// the line to the top rises 58 m in 48 rows
	assert.Equal(t, "4.4 km off: hidden by 25 m behind what stands on the ground 1.7 km off, 33 m high there.", mark(map[int]float64{20: 33}, 50, 50, 0).Why)
	// (2 + 60 m x 47/46) over the ground of the row before
	own := mark(map[int]float64{49: 30}, 50, 50, 0)
	assert.True(t, own.OwnSlope)
	assert.Equal(t, "4.4 km off: its top is 11 m behind what stands on its own slope, in sight 4.3 km off and 30 m high there.", own.Why)
	// trees on the saddle do not make it its own slope
	far := mark(map[int]float64{40: 70, 41: 70, 42: 70, 43: 70, 44: 70, 45: 70, 46: 70, 47: 70}, 50, 50, 0)
	assert.False(t, far.OwnSlope)
	assert.Contains(t, far.Why, "behind what stands on the ground 3.5 km off, 70 m high there")
	assert.Equal(t, "4.4 km off: the data does not say, for what stands on the ground on the way is not known.", mark(map[int]float64{20: math.NaN()}, 50, 50, 0).Why)

	// a tower of 9 m before the hill, and before trees: the line over it, which
	// rises 7 m in 28 rows, is cut where the slope up to row 48 or the trees is
	// as high
	low := mark(nil, 30, 0, 9)
	assert.Equal(t, BackdropGround, low.Backdrop)
	assert.Zero(t, low.BehindCover)
	assert.Contains(t, low.Why, "against ground 1.6 km behind it")
	low = mark(map[int]float64{40: 25}, 30, 0, 9)
	share := 11.25 / 24.75                             // of the way from row 39 to 40, where 25 m a row meets 2 m and a quarter of a metre a row
	assert.InDelta(t, 25*share, low.BehindCover, 1e-2) // m: rows of degrees
	assert.Contains(t, low.Why, "against what stands on the ground 874 m behind it")
}

// TestDependsOnCover: another verdict over the bare ground.
func TestDependsOnCover(t *testing.T) {
	t.Parallel()
	flat, before := map[int]float64{}, map[int]float64{20: 30}
	look := func(ground, cover map[int]float64, to float64) Sight {
		return strip{t, byRow(ground), byRow(cover)}.look(2, to)
	}
	assert.False(t, DependsOnCover(look(flat, flat, 50), look(flat, map[int]float64{20: 0.5}, 50)), "trees under the line")
	assert.True(t, DependsOnCover(look(flat, flat, 50), look(flat, before, 50)), "trees over it")
	ridge := map[int]float64{40: 20}
	assert.False(t, DependsOnCover(look(ridge, flat, 50), look(ridge, before, 50)), "hidden either way")
	assert.True(t, DependsOnCover(look(flat, flat, 50), look(flat, map[int]float64{20: math.NaN()}, 50)))
	assert.Equal(t, "what stands on the ground 1.7 km off, 30 m high there; the bare ground alone would just hide it",
		look(map[int]float64{49: 0.1}, before, 50).Behind(Metric))
}
