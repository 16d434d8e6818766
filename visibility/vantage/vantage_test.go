package vantage

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/visibility"
)

// hills is a grid of 20 m posts on longitude and latitude, of rolling ground with
// voids, the same for the same seed.
func hills(n int, seed uint64) *dem.Grid {
	random := rand.New(rand.NewPCG(seed, 2))
	g := &dem.Grid{Frame: dem.Frame{Columns: n, Rows: n, X0: -84.4, Y0: 36.6, DX: 20 / 89500.0, DY: -20 / 111000.0, CRS: geodesy.WGS84}}
	type wave struct{ c, r, phase, high float64 }
	var waves []wave
	for range 12 {
		waves = append(waves, wave{0.5 * random.NormFloat64(), 0.5 * random.NormFloat64(), 2 * math.Pi * random.Float64(), 12 * random.Float64()})
	}
	for r := range n {
		for c := range n {
			h := 500.0
			for _, w := range waves {
				h += w.high * math.Sin(w.c*float64(c)+w.r*float64(r)+w.phase)
			}
			if random.IntN(50) == 0 {
				h = math.NaN()
			}
			g.Elevations = append(g.Elevations, float32(h))
		}
	}
	return g
}

// TestLookIsTheSightFromEachPost: at every post of an area, of every mark, the
// verdict of the sight from there.
func TestLookIsTheSightFromEachPost(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	for seed := range uint64(3) {
		g := hills(40, seed)
		random := rand.New(rand.NewPCG(seed, 3))
		centre, err := g.Place(20.3, 19.6)
		require.NoError(t, err)
		const radius = 220.0
		a, err := Around(ctx, g, centre, radius)
		require.NoError(t, err)
		var marks []Mark
		for range 6 {
			place, err := g.Place(38*random.Float64(), 38*random.Float64())
			require.NoError(t, err)
			marks = append(marks, Mark{Place: place, AboveGround: 5 * random.Float64(), Reach: 500 * random.Float64()})
		}
		seen, err := Look(ctx, g, a, marks, Options{EyeAboveGround: 1.6, Refraction: 0.13})
		require.NoError(t, err)
		visible, unknown := seen.Counts()
		told := map[visibility.Verdict]int{}
		for i := range visible {
			place, err := a.Place(i)
			require.NoError(t, err)
			line := geodesy.Inverse(centre, place)
			require.Equal(t, line.Distance <= radius, a.In(i))
			var sees, doubts uint16
			for k, m := range marks {
				want := visibility.OutOfRange
				looked, err := dem.LookingPoint(g, m.Place)
				require.NoError(t, err)
				if a.In(i) && geodesy.Inverse(place, looked).Distance <= m.Reach {
					want = visibility.Unknown
					if column, row := a.At(i); !math.IsNaN(g.Elevation(column, row)) {
						leg, err := visibility.LookingLine(ctx, g, place, m.Place)
						require.NoError(t, err)
						s, err := visibility.Along(leg, visibility.Observer{Place: leg.From, EyeAboveGround: 1.6}, visibility.Conditions{TargetAboveGround: m.AboveGround, Refraction: 0.13})
						require.NoError(t, err)
						want = s.Verdict
					}
				}
				require.Equal(t, want.String(), seen.Verdict(k, i).String(), "seed %d, mark %d, post %d", seed, k, i)
				told[want]++
				switch want {
				case visibility.Visible:
					sees++
				case visibility.Unknown:
					doubts++
				}
			}
			assert.Equal(t, sees, visible[i])
			assert.Equal(t, doubts, unknown[i])
		}
		for _, v := range []visibility.Verdict{visibility.OutOfRange, visibility.Visible, visibility.Hidden, visibility.Unknown} {
			assert.NotZero(t, told[v], "no post is %s", v)
		}
	}
}

var weights = WorthOptions{BearingError: 2, PlaceError: 15, Nearest: 100, Near: 2000, GoodFix: 100}

// TestWorthOfEvenlySpreadMarks: n marks all round cross as n; on one line as none.
func TestWorthOfEvenlySpreadMarks(t *testing.T) {
	t.Parallel()
	for n := 3; n < 12; n++ {
		var round, line []Line
		for k := range n {
			round = append(round, Line{geodesy.TrueBearing(360 * float64(k) / float64(n)), 1000})
			line = append(line, Line{geodesy.TrueBearing(40 + 180*float64(k%2)), 1000 + 100*float64(k)})
		}
		const rounding = 1e-9
		w := weights.Of(round)
		assert.InDelta(t, n, w.Crossing, rounding)
		// each bearing has one standard deviation of hypot(1000 tan 2, 15) m across; n
		// of them all round inform either way by n/2
		across := math.Hypot(1000*2*math.Pi/180, 15)
		assert.InDelta(t, 2.4477*across/math.Sqrt(float64(n)/2), w.SemiMajor, 0.01) // m; 2.4477 as Ghilani's table has it
		assert.Zero(t, weights.Of(line).Score)
		assert.True(t, math.IsInf(weights.Of(line).SemiMajor, 1))
	}
}

// TestWorthCountsSpreadNearAndFar: two pairs of marks, one near and one far, are
// worth more than as many all near; marks nearer than Nearest count for nothing.
func TestWorthCountsSpreadNearAndFar(t *testing.T) {
	t.Parallel()
	mixed := weights.Of([]Line{{0, 1000}, {90, 1000}, {45, 5000}, {135, 5000}})
	alike := weights.Of([]Line{{0, 1000}, {90, 1000}, {45, 1000}, {135, 1000}})
	assert.Equal(t, 2, mixed.Near)
	assert.Equal(t, 2, mixed.Far)
	assert.Greater(t, mixed.Score, alike.Score)
	bunched := weights.Of([]Line{{0, 1000}, {5, 1000}, {10, 5000}, {15, 5000}})
	assert.Greater(t, mixed.Score, 3*bunched.Score)
	assert.Equal(t, mixed, weights.Of([]Line{{0, 1000}, {90, 1000}, {45, 5000}, {135, 5000}, {200, 99}}))
	assert.Zero(t, weights.Of([]Line{{10, 1000}}).Score)
}

// TestScoresAreTheWorthOfWhatIsSeen: the score of a post is the worth of the
// bearings and distances of the marks seen from it.
func TestScoresAreTheWorthOfWhatIsSeen(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	g := hills(40, 7)
	centre, err := g.Place(20, 20)
	require.NoError(t, err)
	a, err := Around(ctx, g, centre, 250)
	require.NoError(t, err)
	random := rand.New(rand.NewPCG(7, 3))
	var marks []Mark
	for range 8 {
		place, err := g.Place(39*random.Float64(), 39*random.Float64())
		require.NoError(t, err)
		marks = append(marks, Mark{Place: place, AboveGround: 10})
	}
	seen, err := Look(ctx, g, a, marks, Options{EyeAboveGround: 1.6, Refraction: 0.13})
	require.NoError(t, err)
	scores, err := seen.Scores(ctx, weights)
	require.NoError(t, err)
	some := 0
	for i, got := range scores {
		if !a.In(i) {
			assert.Zero(t, got)
			continue
		}
		place, err := a.Place(i)
		require.NoError(t, err)
		var lines []Line
		for k, m := range marks {
			if seen.Verdict(k, i) == visibility.Visible {
				line := geodesy.Inverse(place, m.Place)
				lines = append(lines, Line{line.Start, line.Distance})
			}
		}
		want := weights.Of(lines).Score
		const float32Share = 1e-5 // of places in float32 on the plane of the centre
		require.InDelta(t, want, float64(got), 1e-6+float32Share*want)
		if want > 0 {
			some++
		}
	}
	assert.Greater(t, some, 100)
}

// TestStanding: on a plain that rises at 12 degrees past column 20, with a void and
// a cliff; good ground is flat, known, and clear of both.
func TestStanding(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	g := hills(60, 1)
	for i := range g.Elevations {
		c := i % 60
		g.Elevations[i] = float32(100 + max(0, float64(c-20)*20*math.Tan(12*math.Pi/180)))
	}
	g.Elevations[30*60+10] = float32(math.NaN())
	centre, err := g.Place(20, 30)
	require.NoError(t, err)
	a, err := Around(ctx, g, centre, 300)
	require.NoError(t, err)
	cliffs := []landform.Feature{{Kind: landform.Cliff, Parts: [][]landform.Position{{{Column: 12, Row: 20}, {Column: 15, Row: 20}}}}}
	o := StandOptions{MostSlope: 10, Width: 20, Cliffs: cliffs, Clear: func(distance float64) float64 { return 30 + distance/10 }}
	got, err := Standing(ctx, g, a, o)
	require.NoError(t, err)
	told := map[Stand]int{}
	for i, s := range got {
		told[s]++
		column, row := a.At(i)
		off := 20 * math.Hypot(max(0, float64(column-15), float64(12-column)), float64(row-20))
		want := Good
		switch {
		case !a.In(i):
			want = NotAsked
		case max(column-10, 10-column) <= 1 && max(row-30, 30-row) <= 1:
			want = Void
		case column > 19:
			want = Steep
		case off < 30+a.Distance(i)/10:
			want = Cliff
		}
		if math.Abs(off-30-a.Distance(i)/10) < 1 { // m; cells are not quite square
			continue
		}
		require.Equal(t, want, s, "column %d row %d, %v m from the cliff", column, row, off)
	}
	for _, s := range []Stand{NotAsked, Good, Void, Steep, Cliff} {
		assert.NotZero(t, told[s])
	}
	o.MostSlope = 15
	got, err = Standing(ctx, g, a, o)
	require.NoError(t, err)
	for _, s := range got {
		require.NotEqual(t, Steep, s)
	}
}

// TestNearestCliffIsTheNearest: the distance transform gives what asking each post
// of a cliff gives.
func TestNearestCliffIsTheNearest(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(4, 4))
	for range 50 {
		n := 2 + random.IntN(40)
		values := make([]float64, n)
		for i := range values {
			values[i] = math.Inf(1)
			if random.IntN(4) == 0 {
				values[i] = 1000 * random.Float64()
			}
		}
		step := 1 + 30*random.Float64()
		want := make([]float64, n)
		for i := range want {
			want[i] = math.Inf(1)
			for k, v := range values {
				want[i] = min(want[i], v+step*step*float64((i-k)*(i-k)))
			}
		}
		lowerEnvelope(values, make([]float64, n), step)
		for i := range want {
			if math.IsInf(want[i], 1) {
				require.True(t, math.IsInf(values[i], 1))
				continue
			}
			require.InDelta(t, want[i], values[i], 1e-6*(1+want[i]))
		}
	}
}

// TestPickStandsApart: the best, and no two nearer than told.
func TestPickStandsApart(t *testing.T) {
	t.Parallel()
	g := hills(40, 1)
	centre, err := g.Place(20, 20)
	require.NoError(t, err)
	a, err := Around(context.Background(), g, centre, 300)
	require.NoError(t, err)
	var order []int
	for i := range a.Window.Columns * a.Window.Rows {
		if a.In(i) {
			order = append(order, i)
		}
	}
	first := order[0]
	got := a.Pick(order, 5, 150)
	require.Len(t, got, 5)
	assert.Equal(t, first, got[0])
	for i, p := range got {
		for _, q := range got[:i] {
			from, err := a.Place(p)
			require.NoError(t, err)
			to, err := a.Place(q)
			require.NoError(t, err)
			assert.GreaterOrEqual(t, geodesy.Inverse(from, to).Distance, 149.99)
		}
	}
}

// TestLookStops: with its context, and tells how far it is until then.
func TestLookStops(t *testing.T) {
	t.Parallel()
	g := hills(40, 1)
	centre, err := g.Place(20, 20)
	require.NoError(t, err)
	a, err := Around(context.Background(), g, centre, 300)
	require.NoError(t, err)
	marks := make([]Mark, 20)
	for i := range marks {
		marks[i].Place, err = g.Place(float64(i), 3)
		require.NoError(t, err)
	}
	told := int64(0)
	_, err = Look(context.Background(), g, a, marks, Options{EyeAboveGround: 1.6, Progress: func(done, total int64) {
		assert.Equal(t, told+1, done)
		assert.EqualValues(t, len(marks), total)
		told = done
	}})
	require.NoError(t, err)
	assert.EqualValues(t, len(marks), told)
	ctx, cancel := context.WithCancel(context.Background())
	_, err = Look(ctx, g, a, marks, Options{EyeAboveGround: 1.6, Progress: func(done, _ int64) { cancel() }})
	require.ErrorIs(t, err, context.Canceled)
}
