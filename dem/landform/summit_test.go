package landform

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

var void = float32(math.NaN())

// square gives posts 30 m apart on a UTM grid.
func square(t testing.TB, columns, rows int, elevations []float32) *dem.Grid {
	t.Helper()
	crs, err := geodesy.NewCRS("EPSG:32617")
	require.NoError(t, err)
	return &dem.Grid{
		Frame:      dem.Frame{Columns: columns, Rows: rows, X0: 500000, Y0: 4040000, DX: 30, DY: -30, CRS: crs},
		Elevations: elevations,
		Window:     dem.Window{Columns: columns, Rows: rows},
	}
}

// rows makes a grid from rows of elevations.
func rows(t testing.TB, lines ...[]float32) *dem.Grid {
	t.Helper()
	var all []float32
	for _, l := range lines {
		require.Len(t, l, len(lines[0]))
		all = append(all, l...)
	}
	return square(t, len(lines[0]), len(lines), all)
}

// A map made by hand. Three hills inside a border at 0: A (90) and B (70)
// meet at 40, C (80) meets B at 60 by a corner, and the flat-topped D (30)
// meets B at 10.
func handMade(t testing.TB) *dem.Grid {
	return rows(t,
		[]float32{0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0},
		[]float32{0, 50, 60, 50, 5, 5, 5, 5, 5, 5, 0},
		[]float32{0, 60, 90, 60, 40, 60, 65, 60, 5, 5, 0},
		[]float32{0, 50, 60, 50, 5, 60, 70, 60, 5, 5, 0},
		[]float32{0, 5, 5, 5, 20, 5, 60, 60, 10, 30, 0},
		[]float32{0, 5, 5, 5, 5, 70, 5, 5, 5, 30, 0},
		[]float32{0, 5, 5, 5, 60, 80, 60, 5, 5, 30, 0},
		[]float32{0, 5, 5, 5, 5, 60, 5, 5, 5, 5, 0},
		[]float32{0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0},
	)
}

func TestHandMadeMap(t *testing.T) {
	t.Parallel()
	summits, err := Summits(context.Background(), handMade(t), SummitOptions{Isolation: true})
	require.NoError(t, err)
	require.Len(t, summits, 4)
	const hand = 0.2 // m: 30 m posts on the map are 30.012 m on the ground, UTM's 0.9996
	for i, want := range []struct {
		column, row, posts    int
		elevation, prominence float64
		atLeast               bool
		saddle                [3]int // column, row, elevation
		isolation             float64
		parent                int
	}{
		// A: down to the border at 0, which is two posts off
		{2, 2, 1, 90, 90, true, [3]int{}, 60, -1},
		// C is one hill with the lower B down to 40, where A joins them
		{5, 6, 1, 80, 40, false, [3]int{4, 2, 40}, 60, 0},
		// D: a flat top of three posts; its saddle touches the hill of A, B and C, whose island A's is
		{9, 5, 3, 30, 20, false, [3]int{8, 4, 10}, 30, 0},
		// B meets C at a corner, (6, 4) and (5, 5)
		{6, 3, 1, 70, 10, false, [3]int{6, 4, 60}, 90, 1},
	} {
		s := summits[i]
		assert.Equal(t, [3]int{want.column, want.row, want.posts}, [3]int{s.Column, s.Row, s.Posts})
		assert.Equal(t, want.elevation, s.Elevation)
		assert.Equal(t, want.prominence, s.Prominence)
		assert.Equal(t, want.atLeast, s.AtLeast)
		assert.InDelta(t, want.isolation, s.Isolation, hand)
		assert.True(t, s.IsolationAtLeast) // the border is nearest to all four
		assert.Equal(t, want.parent, s.Parent)
		if want.atLeast {
			assert.Nil(t, s.KeySaddle)
			assert.True(t, math.IsInf(s.MostProminence, 1))
			continue
		}
		require.NotNil(t, s.KeySaddle)
		assert.Equal(t, want.saddle, [3]int{s.KeySaddle.Column, s.KeySaddle.Row, int(s.KeySaddle.Elevation)})
		place, err := handMade(t).Place(float64(want.column), float64(want.row))
		require.NoError(t, err)
		assert.Equal(t, place, s.Place)
	}
}

// slow is a summit by the definition alone: for every level in turn, look at
// all posts joined to the top at or above it.
type slow struct {
	first, posts int
	least, most  float64
	saddle       float64
	island       map[int]bool // posts above the key saddle
}

func slowSummits(g *dem.Grid) []slow {
	h := g.Elevations
	n := len(h)
	neighbours := func(p int) (out []int, edge bool) {
		for dr := -1; dr <= 1; dr++ {
			for dc := -1; dc <= 1; dc++ {
				c, r := p%g.Columns+dc, p/g.Columns+dr
				if c < 0 || r < 0 || c >= g.Columns || r >= g.Rows || isVoid(h[r*g.Columns+c]) {
					edge = true
				} else if dr != 0 || dc != 0 {
					out = append(out, r*g.Columns+c)
				}
			}
		}
		return out, edge
	}
	joined := func(from int, level float32, strict bool) map[int]bool {
		seen := map[int]bool{from: true}
		for queue := []int{from}; len(queue) > 0; queue = queue[1:] {
			near, _ := neighbours(queue[0])
			for _, q := range near {
				if !seen[q] && (h[q] > level || h[q] == level && !strict) {
					seen[q] = true
					queue = append(queue, q)
				}
			}
		}
		return seen
	}
	var levels []float32
	for _, v := range h {
		if !isVoid(v) {
			levels = append(levels, v)
		}
	}
	slices.Sort(levels)
	slices.Reverse(levels)
	levels = slices.Compact(levels)
	var out []slow
	for p := range n {
		if isVoid(h[p]) {
			continue
		}
		top := joined(p, h[p], false)
		first := true
		for q := range top {
			first = first && h[q] <= h[p] && (h[q] < h[p] || q >= p)
		}
		if !first {
			continue
		}
		s := slow{first: p, posts: len(top), least: math.Inf(1), most: math.Inf(1)}
		for _, level := range levels {
			if level > h[p] {
				continue
			}
			ground := joined(p, level, false)
			higher := false
			for q := range ground {
				_, edge := neighbours(q)
				if edge && math.IsInf(s.least, 1) {
					s.least = float64(h[p]) - float64(level)
				}
				higher = higher || h[q] > h[p] || h[q] == h[p] && q < p
			}
			if higher {
				s.most = float64(h[p]) - float64(level)
				s.saddle = float64(level)
				s.island = joined(p, level, true)
				break
			}
		}
		s.least = min(s.least, s.most)
		if s.least > 0 {
			out = append(out, s)
		}
	}
	return out
}

func checkAgainstSlow(t *testing.T, g *dem.Grid) {
	t.Helper()
	fast, err := Summits(context.Background(), g, SummitOptions{Isolation: true})
	require.NoError(t, err)
	want := slowSummits(g)
	require.Len(t, fast, len(want))
	f, err := runFlood(context.Background(), g, true, nil)
	require.NoError(t, err)
	tops := f.tops(0)
	require.Len(t, tops, len(want))
	slices.SortFunc(tops, func(a, b top) int { return int(a.peak) - int(b.peak) })
	for i, w := range want {
		assert.Equal(t, w.first, int(tops[i].peak))
		assert.Equal(t, w.least, tops[i].least)
		assert.Equal(t, w.most, tops[i].most)
		_, posts := f.plateau(tops[i].peak, map[int32]bool{})
		assert.Equal(t, w.posts, posts)
	}
	for i, s := range fast {
		assert.Equal(t, s.Prominence < s.MostProminence, s.AtLeast)
		if s.KeySaddle != nil {
			assert.Equal(t, s.MostProminence, s.Elevation-s.KeySaddle.Elevation)
		}
		if i > 0 {
			assert.GreaterOrEqual(t, fast[i-1].Prominence, s.Prominence)
		}
		// isolation: the nearest post that is higher, void or on the border
		nearest := math.Inf(1)
		for q, v := range g.Elevations {
			c, r := q%g.Columns, q/g.Columns
			if isVoid(v) || v > float32(s.Elevation) || c == 0 || r == 0 || c == g.Columns-1 || r == g.Rows-1 {
				nearest = min(nearest, math.Hypot(float64(c-s.Column), float64(r-s.Row)))
			}
		}
		assert.InEpsilon(t, nearest*30, s.Isolation, 1e-3) // the UTM scale factor is 0.9996
	}
}

// randomGrid has few levels, so plateaus abound, and some voids.
func randomGrid(t testing.TB, seed uint64) *dem.Grid {
	random := rand.New(rand.NewPCG(seed, 7))
	columns, rows := 1+random.IntN(12), 1+random.IntN(12)
	levels := 2 + random.IntN(12)
	voids := random.Float64() * 0.15
	h := make([]float32, columns*rows)
	for i := range h {
		h[i] = float32(random.IntN(levels)) - 3
		if random.Float64() < voids {
			h[i] = void
		}
	}
	return square(t, columns, rows, h)
}

func TestSummitsMatchTheDefinition(t *testing.T) {
	t.Parallel()
	for seed := range uint64(400) {
		g := randomGrid(t, seed)
		if !t.Run(fmt.Sprint(seed), func(t *testing.T) { checkAgainstSlow(t, g) }) {
			t.Log(g.Columns, g.Rows, g.Elevations)
			return
		}
	}
}

// TestOneWildPostDoesNotUpsetTheOrder: it leaves all others in one bucket of
// the sort.
func TestOneWildPostDoesNotUpsetTheOrder(t *testing.T) {
	t.Parallel()
	for _, wild := range []float32{3e38, -3e38} {
		g := distinct(t, 14, 3)
		g.Elevations[5*14+6] = wild
		checkAgainstSlow(t, g)
	}
}

func FuzzSummits(f *testing.F) {
	f.Add(uint8(5), []byte{0, 0, 0, 0, 0, 0, 9, 4, 8, 0, 0, 0, 0, 0, 0})
	f.Add(uint8(3), []byte{1, 2, 3, 255, 5, 6, 7, 8, 9})
	f.Fuzz(func(t *testing.T, columns uint8, data []byte) {
		if columns == 0 || len(data) < int(columns) || len(data) > 200 {
			return
		}
		n := len(data) / int(columns)
		h := make([]float32, n*int(columns))
		for i := range h {
			h[i] = float32(data[i])
			if data[i] == 255 {
				h[i] = void
			}
		}
		checkAgainstSlow(t, square(t, int(columns), n, h))
	})
}

// distinct gives every post its own elevation, smooth enough for real hills.
func distinct(t testing.TB, side int, seed uint64) *dem.Grid {
	random := rand.New(rand.NewPCG(seed, 11))
	h := make([]float32, side*side)
	for range 12 {
		c, r, w, a := random.Float64()*float64(side), random.Float64()*float64(side), 2+6*random.Float64(), 100*random.Float64()
		for i := range h {
			dc, dr := float64(i%side)-c, float64(i/side)-r
			h[i] += float32(a * math.Exp(-(dc*dc+dr*dr)/(2*w*w)))
		}
	}
	for i := range h {
		h[i] += float32(15 * random.Float64())
	}
	return square(t, side, side, h)
}

func quarterTurn(t testing.TB, g *dem.Grid) *dem.Grid {
	n := g.Columns
	h := make([]float32, len(g.Elevations))
	for r := range n {
		for c := range n {
			h[c*n+(n-1-r)] = g.Elevations[r*n+c]
		}
	}
	return square(t, n, n, h)
}

func TestQuarterTurnTurnsTheSummits(t *testing.T) {
	t.Parallel()
	for seed := range uint64(10) {
		g := distinct(t, 40, seed)
		a, err := Summits(context.Background(), g, SummitOptions{})
		require.NoError(t, err)
		b, err := Summits(context.Background(), quarterTurn(t, g), SummitOptions{})
		require.NoError(t, err)
		require.Greater(t, len(a), 3)
		require.Len(t, b, len(a))
		for i := range a {
			assert.Equal(t, [2]int{39 - a[i].Row, a[i].Column}, [2]int{b[i].Column, b[i].Row})
			assert.Equal(t, a[i].Prominence, b[i].Prominence)
			assert.Equal(t, a[i].MostProminence, b[i].MostProminence)
			assert.Equal(t, a[i].AtLeast, b[i].AtLeast)
			assert.Equal(t, a[i].Parent, b[i].Parent)
			assert.InEpsilon(t, a[i].IslandArea, b[i].IslandArea, 1e-4) // UTM scale varies over the grid
			if a[i].KeySaddle != nil {
				assert.Equal(t, [2]int{39 - a[i].KeySaddle.Row, a[i].KeySaddle.Column},
					[2]int{b[i].KeySaddle.Column, b[i].KeySaddle.Row})
			}
		}
	}
}

// TestIslandParent: among the higher summits whose ground above their own
// key saddle holds this one, the parent's is the smallest.
func TestIslandParent(t *testing.T) {
	t.Parallel()
	checked := 0
	for seed := range uint64(8) {
		g := distinct(t, 20, 100+seed)
		fast, err := Summits(context.Background(), g, SummitOptions{})
		require.NoError(t, err)
		islands := map[int]slow{}
		for _, s := range slowSummits(g) {
			islands[s.first] = s
		}
		at := func(s Summit) int { return s.Row*g.Columns + s.Column }
		for _, s := range fast {
			if s.Parent < 0 {
				continue
			}
			best, size := -1, math.MaxInt
			for j, p := range fast {
				island := islands[at(p)].island
				if p.Elevation <= s.Elevation || (island != nil && !island[at(s)]) {
					continue
				}
				n := len(island)
				if island == nil {
					n = math.MaxInt - 1
				}
				if n < size {
					best, size = j, n
				}
			}
			assert.Equal(t, best, s.Parent)
			checked++
		}
	}
	assert.Greater(t, checked, 10)
}

func TestFlatTopStandsAtItsMiddle(t *testing.T) {
	t.Parallel()
	g := rows(t,
		[]float32{0, 0, 0, 0, 0, 0, 0},
		[]float32{0, 9, 9, 9, 9, 9, 0},
		[]float32{0, 9, 1, 1, 1, 9, 0},
		[]float32{0, 0, 0, 0, 0, 0, 0},
	)
	summits, err := Summits(context.Background(), g, SummitOptions{})
	require.NoError(t, err)
	require.Len(t, summits, 1)
	assert.Equal(t, [2]int{3, 1}, [2]int{summits[0].Column, summits[0].Row})
	assert.Equal(t, 7, summits[0].Posts)
	assert.Equal(t, 9.0, summits[0].Prominence)
	assert.True(t, summits[0].AtLeast)
	assert.True(t, math.IsInf(summits[0].MostProminence, 1))
}

// TestVoidMakesProminenceALowerBound: a void on the flank at 60 might hide
// a way up that needs no more descent.
func TestVoidMakesProminenceALowerBound(t *testing.T) {
	t.Parallel()
	line := func(v float32) *dem.Grid {
		return rows(t,
			[]float32{0, 0, 0, 0, 0, 0, 0, 0, 0},
			[]float32{0, 0, v, 0, 0, 0, 0, 0, 0},
			[]float32{0, 60, 60, 80, 60, 20, 60, 100, 0},
			[]float32{0, 0, 0, 0, 0, 0, 0, 0, 0},
			[]float32{0, 0, 0, 0, 0, 0, 0, 0, 0},
		)
	}
	for _, test := range []struct {
		name    string
		grid    *dem.Grid
		least   float64
		atLeast bool
	}{
		{"no void", line(0), 60, false},
		{"void beyond a shoulder", rows(t,
			[]float32{0, 0, 0, 0, 0, 0, 0, 0, 0},
			[]float32{void, 0, 0, 0, 0, 0, 0, 0, 0},
			[]float32{0, 70, 60, 80, 60, 20, 60, 100, 0},
			[]float32{0, 0, 0, 0, 0, 0, 0, 0, 0},
			[]float32{0, 0, 0, 0, 0, 0, 0, 0, 0},
		), 20, true},
	} {
		t.Run(test.name, func(t *testing.T) {
			summits, err := Summits(context.Background(), test.grid, SummitOptions{})
			require.NoError(t, err)
			i := slices.IndexFunc(summits, func(s Summit) bool { return s.Elevation == 80 })
			require.GreaterOrEqual(t, i, 0)
			assert.Equal(t, test.least, summits[i].Prominence)
			assert.Equal(t, test.atLeast, summits[i].AtLeast)
			assert.Equal(t, 60.0, summits[i].MostProminence)
		})
	}
	// beside the void the top is not known to be one
	summits, err := Summits(context.Background(), line(void), SummitOptions{})
	require.NoError(t, err)
	assert.False(t, slices.ContainsFunc(summits, func(s Summit) bool { return s.Elevation == 80 }))
}

func TestSummitsOfNothing(t *testing.T) {
	t.Parallel()
	for name, g := range map[string]*dem.Grid{
		"all void": rows(t, []float32{void, void}, []float32{void, void}),
		"flat":     rows(t, []float32{5, 5, 5}, []float32{5, 5, 5}, []float32{5, 5, 5}),
		"one post": rows(t, []float32{5}),
		"slope":    rows(t, []float32{1, 2, 3}, []float32{1, 2, 3}, []float32{1, 2, 3}),
	} {
		t.Run(name, func(t *testing.T) {
			summits, err := Summits(context.Background(), g, SummitOptions{})
			require.NoError(t, err)
			assert.Empty(t, summits)
		})
	}
	cancelled, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := Summits(cancelled, handMade(t), SummitOptions{})
	assert.ErrorIs(t, err, context.Canceled)
	_, err = Summits(context.Background(), handMade(t), SummitOptions{MinProminence: -1})
	assert.Error(t, err)
	_, err = Summits(context.Background(), &dem.Grid{Frame: dem.Frame{Columns: 3, Rows: 3}}, SummitOptions{})
	assert.Error(t, err)
}

func TestMinProminenceOnlyLeavesOut(t *testing.T) {
	t.Parallel()
	g := distinct(t, 60, 5)
	all, err := Summits(context.Background(), g, SummitOptions{})
	require.NoError(t, err)
	var done []int64
	some, err := Summits(context.Background(), g, SummitOptions{MinProminence: 10,
		Progress: func(d, n int64) { done = append(done, d); assert.LessOrEqual(t, d, n) }})
	require.NoError(t, err)
	assert.Equal(t, int64(3600), done[len(done)-1])
	all = slices.DeleteFunc(all, func(s Summit) bool { return s.MostProminence < 10 })
	require.Len(t, some, len(all))
	for i := range all {
		assert.Equal(t, all[i].Post, some[i].Post)
	}
}
