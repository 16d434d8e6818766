package contour

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
)

func TestAPlaneHasStraightLines(t *testing.T) {
	t.Parallel()
	// every number here is exact in binary
	g := grid(90, 70, func(c, r float64) float64 { return 3*c + 2*r })
	l := Levels{Interval: 10, Base: 0.5}
	lines := trace(t, g, l)
	checkLines(t, g, l, lines)
	seen := map[int]bool{}
	for _, line := range lines {
		assert.False(t, line.Closed)
		assert.False(t, seen[line.Number], "one line a level")
		seen[line.Number] = true
		for _, p := range line.Points {
			// 1e-9 cell: the analytic line
			assert.InDelta(t, line.Level, 3*p.Column+2*p.Row, 1e-9)
		}
	}
	highest := 3*89 + 2*69.0
	assert.Len(t, lines, int((highest-0.5)/10)+1)
}

// TestAWedgeOnGridLines: levels on whole posts, exact to the last digit.
func TestAWedgeOnGridLines(t *testing.T) {
	t.Parallel()
	g := grid(50, 101, func(c, r float64) float64 { return c })
	lines := trace(t, g, Levels{Interval: 10})
	require.Len(t, lines, 4) // 10, 20, 30, 40; nothing is below 0
	for i, line := range lines {
		require.Len(t, line.Points, 101)
		for k, p := range line.Points {
			assert.Equal(t, Position{float64(10 * (i + 1)), float64(100 - k)}, p, "up the page, higher ground to the right")
		}
	}
}

func TestConeAndBowl(t *testing.T) {
	t.Parallel()
	const n = 201
	for _, sign := range []float64{1, -1} {
		shapes := map[string]func(d float64) float64{
			"cone":       func(d float64) float64 { return sign * (1000 - 10*d) },
			"paraboloid": func(d float64) float64 { return sign * (1000 - 0.1*d*d) },
		}
		for name, shape := range shapes {
			g := grid(n, n, func(c, r float64) float64 { return shape(math.Hypot(c-100.25, r-100.25)) })
			l := Levels{Interval: 50, Base: 7}
			lines := trace(t, g, l)
			checkLines(t, g, l, lines)
			checkApart(t, g, lines)
			closed := map[int]int{}
			for _, line := range lines {
				if line.Closed {
					closed[line.Number]++
					assert.Equal(t, sign < 0, line.Depression, name)
				}
				lo, hi := math.Inf(1), math.Inf(-1)
				for _, p := range line.Points {
					d := shape(math.Hypot(p.Column-100.25, p.Row-100.25))
					lo, hi = min(lo, d), max(hi, d)
				}
				// The chord of a paraboloid along one cell hangs 0.1/4 m below
				// it; a cone's at d cells from the top 10/(8d) m.
				assert.InDelta(t, line.Level, lo, 1.3, name)
				assert.InDelta(t, line.Level, hi, 1.3, name)
			}
			for j, k := range closed {
				assert.Equal(t, 1, k, "%s level %d", name, j)
			}
		}
	}
}

// TestSaddleIsResolvedByItsOwnSaddlePoint: the surface h = (c-.25)(r-.75)
// is bilinear itself, with its saddle point at 0 m.
func TestSaddleIsResolvedByItsOwnSaddlePoint(t *testing.T) {
	t.Parallel()
	g := grid(2, 2, func(c, r float64) float64 { return 100 + 16*(c-0.25)*(r-0.75) })
	// corners: 103, 91 above; 99, 103 below; the saddle point is at 100
	for _, c := range []struct {
		level  float64
		joined bool // the high corners, top left and bottom right
	}{{99.5, true}, {100, true}, {100.5, false}} {
		lines := trace(t, g, Levels{Interval: 1000, Base: c.level})
		require.Len(t, lines, 2)
		for _, l := range lines {
			p, q := l.Points[0], l.Points[1]
			cutsTopLeft := min(p.Column+p.Row, q.Column+q.Row) < 1 && max(p.Column, q.Column) < 1 && max(p.Row, q.Row) < 1
			cutsBottomRight := min(p.Column, q.Column) > 0 && min(p.Row, q.Row) > 0
			assert.Equal(t, !c.joined, cutsTopLeft || cutsBottomRight, "%g: %v", c.level, l.Points)
		}
	}
}

func TestLevelsAtPosts(t *testing.T) {
	t.Parallel()
	l := Levels{Interval: 1}
	// Concentric squares of whole numbers: one closed square a level, with
	// its corners on the posts of that level, and none at the lowest.
	square := grid(9, 9, func(c, r float64) float64 { return 4 - max(math.Abs(c-4), math.Abs(r-4)) })
	lines := trace(t, square, l)
	checkLines(t, square, l, lines)
	require.Len(t, lines, 3)
	for i, line := range lines {
		assert.True(t, line.Closed)
		assert.False(t, line.Depression)
		assert.Equal(t, float64(i+1), line.Level)
		side := 2 * float64(3-i)
		assert.Equal(t, 2*side*side, doubleArea(line.Points))
	}
	cases := []struct {
		name           string
		g              *dem.Grid
		lines, touches int
	}{
		{"one post on the level, all round lower", posts([]float32{0, 0, 0}, []float32{0, 1, 0}, []float32{0, 0, 0}), 0, 0},
		{"a crest of two posts on the level", posts([]float32{0, 0, 0, 0}, []float32{0, 1, 1, 0}, []float32{0, 0, 0, 0}), 0, 1},
		{"a crest down a column", posts([]float32{0, 0, 0}, []float32{0, 1, 0}, []float32{0, 1, 0}, []float32{0, 1, 0}, []float32{0, 0, 0}), 0, 2},
		{"a plateau of four posts", posts([]float32{0, 0, 0, 0}, []float32{0, 1, 1, 0}, []float32{0, 1, 1, 0}, []float32{0, 0, 0, 0}), 1, 0},
		{"two plateaus that meet at a post", posts(
			[]float32{0, 0, 0, 0, 0, 0, 0}, []float32{0, 1, 1, 0, 1, 1, 0}, []float32{0, 1, 1, 1, 1, 1, 0}, []float32{0, 0, 0, 0, 0, 0, 0}), 1, 0}, // pinched at one post
		{"two plateaus on a long crest", posts(
			[]float32{0, 0, 0, 0, 0, 0, 0, 0}, []float32{0, 1, 1, 0, 0, 1, 1, 0}, []float32{0, 1, 1, 1, 1, 1, 1, 0}, []float32{0, 0, 0, 0, 0, 0, 0, 0}), 2, 1},
		{"three by three, one level", posts([]float32{0, 0, 0}, []float32{0, 1.5, 0}, []float32{0, 0, 0}), 1, 0},
		{"a pit of one post", posts([]float32{1, 1, 1}, []float32{1, 0, 1}, []float32{1, 1, 1}), 1, 0},
		{"the lowest posts at the edge on a level", posts([]float32{1, 1, 1}, []float32{1, 1.5, 1}, []float32{1, 1, 1}), 0, 0},
		{"diagonal posts on the level", posts([]float32{0, 0, 0, 0}, []float32{0, 1, 0, 0}, []float32{0, 0, 1, 0}, []float32{0, 0, 0, 0}), 0, 0},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			lines := trace(t, c.g, l)
			checkLines(t, c.g, l, lines)
			drawn, touches := 0, 0
			for _, line := range lines {
				if line.Touch {
					touches++
				} else {
					drawn++
				}
			}
			assert.Equal(t, c.lines, drawn)
			assert.Equal(t, c.touches, touches)
		})
	}
}

func TestAVoidAtEveryPost(t *testing.T) {
	t.Parallel()
	l := Levels{Interval: 1, Base: 0.5}
	for i := range 25 {
		g := grid(5, 5, func(c, r float64) float64 { return c*c + 2*r })
		g.Elevations[i] = float32(math.NaN())
		lines := trace(t, g, l)
		checkLines(t, g, l, lines)
		for _, line := range lines {
			for k := 1; k < len(line.Points); k++ {
				a, b := line.Points[k-1], line.Points[k]
				c, r := math.Floor((a.Column+b.Column)/2), math.Floor((a.Row+b.Row)/2)
				for _, d := range [4][2]int{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
					assert.False(t, math.IsNaN(g.Elevation(int(c)+d[0], int(r)+d[1])), "a line in a cell with a void")
				}
			}
		}
	}
}

func TestRoughGround(t *testing.T) {
	t.Parallel()
	for seed := range uint64(250) {
		random := rand.New(rand.NewPCG(seed, 2))
		columns, rows := 2+random.IntN(14), 2+random.IntN(80)
		g := rough(random, columns, rows, 2+random.IntN(8), []float64{0, 0.03, 0.3}[seed%3])
		l := Levels{Interval: []float64{1, 2, 0.7}[random.IntN(3)], Base: []float64{0, 0.5, 0.25}[random.IntN(3)]}
		lines := trace(t, g, l)
		checkLines(t, g, l, lines)
		checkApart(t, g, lines)
		if t.Failed() {
			t.Fatalf("seed %d", seed)
		}
	}
}

// TestOutputDoesNotDependOnHowItIsComputed: rows given a few at a time, and any concurrency, make
// the same lines; so does ground of another strip's worth of rows above.
func TestOutputDoesNotDependOnHowItIsComputed(t *testing.T) {
	t.Parallel()
	for seed, g := range []*dem.Grid{fractal(150, 333, 300, 3), rough(rand.New(rand.NewPCG(9, 9)), 40, 200, 5, 0.02)} {
		l := Levels{Interval: 1, Half: true}
		want, err := Trace(context.Background(), g, l, Options{Concurrency: 1})
		require.NoError(t, err)
		for _, concurrency := range []int{2, 3, 16} {
			got, err := Trace(context.Background(), g, l, Options{Concurrency: concurrency})
			require.NoError(t, err)
			require.Equal(t, want, got)
		}
		random := rand.New(rand.NewPCG(uint64(seed), 4))
		var got []Line
		var last int64
		tracer, err := NewTracer(g.Columns, g.Rows, l, Options{Concurrency: 3, Progress: func(done, total int64) {
			assert.GreaterOrEqual(t, done, last)
			assert.EqualValues(t, g.Rows, total)
			last = done
		}}, func(l Line) error { got = append(got, l); return nil })
		require.NoError(t, err)
		for at := 0; at < g.Rows; {
			n := min(random.IntN(60), g.Rows-at)
			rows := append([]float32(nil), g.Elevations[at*g.Columns:(at+n)*g.Columns]...)
			require.NoError(t, tracer.Add(context.Background(), rows))
			for i := range rows {
				rows[i] = 1e30 // the tracer must not look again
			}
			at += n
		}
		require.NoError(t, tracer.Finish(context.Background()))
		assert.EqualValues(t, g.Rows, last)
		sortLines(got)
		require.Equal(t, want, got)
	}
}

// TestACropHasTheSameLines: what crosses each edge inside a crop, negative
// elevations and other minima included, is what crosses it in the whole.
func TestACropHasTheSameLines(t *testing.T) {
	t.Parallel()
	g := fractal(120, 120, 200, 5)
	w := dem.Window{Column: 17, Row: 41, Columns: 60, Rows: 50}
	crop := &dem.Grid{Frame: g.Sub(w), Elevations: make([]float32, w.Columns*w.Rows)}
	for r := range w.Rows {
		copy(crop.Elevations[r*w.Columns:(r+1)*w.Columns], g.Elevations[(r+w.Row)*g.Columns+w.Column:])
	}
	l := Levels{Interval: 7}
	pieces := func(g *dem.Grid, dc, dr float64) map[string]bool {
		out := map[string]bool{}
		for _, line := range trace(t, g, l) {
			for i := 1; i < len(line.Points); i++ {
				a, b := line.Points[i-1], line.Points[i]
				mc, mr := (a.Column+b.Column)/2+dc, (a.Row+b.Row)/2+dr
				if mc > 17 && mc < 76 && mr > 41 && mr < 90 {
					out[fmt.Sprintf("%d %.8f %.8f %.8f %.8f", line.Number, a.Column+dc, a.Row+dr, b.Column+dc, b.Row+dr)] = true
				}
			}
		}
		return out
	}
	assert.Equal(t, pieces(g, 0, 0), pieces(crop, 17, 41))
}

func TestWhatCannotBeContoured(t *testing.T) {
	t.Parallel()
	nan := float32(math.NaN())
	_, err := Trace(context.Background(), posts([]float32{1, 1}, []float32{1, 1}), Levels{Interval: 20}, Options{})
	require.ErrorIs(t, err, ErrNothing)
	assert.ErrorContains(t, err, "flatter than the interval")
	_, err = Trace(context.Background(), posts([]float32{nan, nan}, []float32{nan, nan}), Levels{Interval: 20}, Options{})
	require.ErrorIs(t, err, ErrNothing)
	assert.ErrorContains(t, err, "void")
	for _, value := range []float32{-32768, -3.4e38, 3.4e38, float32(math.Inf(1))} {
		var implausible *ImplausibleError
		_, err = Trace(context.Background(), posts([]float32{1, 2, 3}, []float32{4, value, 6}), Levels{Interval: 0.1}, Options{})
		require.ErrorAs(t, err, &implausible)
		assert.Equal(t, [2]int{1, 1}, [2]int{implausible.Column, implausible.Row})
	}
	// -9999 is in reach of the sea's floor, but not beside dry land.
	for i, g := range []*dem.Grid{posts([]float32{1, 2, 3}, []float32{4, -9999, 6}), posts([]float32{1, 2, 3}, []float32{4, 5, -9999})} {
		var implausible *ImplausibleError
		_, err = Trace(context.Background(), g, Levels{Interval: 20}, Options{})
		require.ErrorAs(t, err, &implausible)
		assert.Equal(t, ImplausibleError{Column: 1 + i, Row: 1, Elevation: -9999}, *implausible)
	}
	_, err = Trace(context.Background(), posts([]float32{-9990, -9980}, []float32{-9999, -9950}), Levels{Interval: 20}, Options{})
	require.NoError(t, err)
	for _, interval := range []float64{0, -1, math.NaN(), math.Inf(1), 1e-9} {
		_, err = Trace(context.Background(), posts([]float32{1, 2}, []float32{3, 4}), Levels{Interval: interval}, Options{})
		assert.Error(t, err)
	}
	cancelled, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = Trace(cancelled, fractal(50, 500, 100, 1), Levels{Interval: 1}, Options{})
	require.ErrorIs(t, err, context.Canceled)
	stop := errors.New("the disk is full")
	tracer, err := NewTracer(50, 500, Levels{Interval: 1}, Options{}, func(Line) error { return stop })
	require.NoError(t, err)
	_ = tracer.Add(context.Background(), fractal(50, 500, 100, 1).Elevations)
	require.ErrorIs(t, tracer.Finish(context.Background()), stop)
}

// TestManyRings: a thousand nested and ten thousand separate rings take no
// longer than their points. A joiner that searched its open lines would not
// end within the test's own limit.
func TestManyRings(t *testing.T) {
	t.Parallel()
	start := time.Now()
	nested := grid(2001, 2001, func(c, r float64) float64 { return 2*max(math.Abs(c-1000), math.Abs(r-1000)) + 1 })
	lines := trace(t, nested, Levels{Interval: 2})
	assert.Len(t, lines, 1000)
	apart := grid(1001, 1001, func(c, r float64) float64 { return 10 * math.Sin(c*math.Pi/5) * math.Sin(r*math.Pi/5) })
	lines = trace(t, apart, Levels{Interval: 20, Base: 5})
	assert.Len(t, lines, 20000)
	t.Logf("%v", time.Since(start))
}

func TestFeet(t *testing.T) {
	t.Parallel()
	g := grid(40, 40, func(c, r float64) float64 { return 10 * c })
	lines := trace(t, g, Levels{Interval: 40, Unit: Foot})
	require.NotEmpty(t, lines)
	for _, l := range lines {
		// 0.3048 m is the international foot, exactly
		assert.Equal(t, l.Value*0.3048, l.Level)
		assert.Equal(t, math.Mod(l.Value, 200) == 0, l.Kind == Index)
	}
	assert.Equal(t, "40", lines[0].Label())
}

func TestKinds(t *testing.T) {
	t.Parallel()
	l := Levels{Interval: 20, Half: true}
	for j, want := range map[int]Kind{0: Index, 1: Supplementary, 2: Intermediate, 10: Index, -10: Index, -1: Supplementary, -2: Intermediate} {
		assert.Equal(t, want, l.Kind(j), "level %d", j)
	}
	assert.Equal(t, Intermediate, Levels{Interval: 20, IndexEvery: -1}.Kind(0))
	assert.Equal(t, Index, Levels{Interval: 20, IndexEvery: 4}.Kind(8))
}

// TestRightHandOnTheGround: whichever way a grid is stored, its lines have
// higher ground to the right in map coordinates.
func TestRightHandOnTheGround(t *testing.T) {
	t.Parallel()
	for _, d := range [][2]float64{{1, -1}, {1, 1}, {-1, -1}, {-1, 1}} {
		g := grid(61, 61, func(c, r float64) float64 { return 500 - 10*math.Hypot(c-30, r-30) })
		g.DX, g.DY = math.Copysign(g.DX, d[0]), math.Copysign(g.DY, d[1])
		lines := trace(t, g, Levels{Interval: 50, Base: 3})
		geometry, err := LonLat(&g.Frame, lines)
		require.NoError(t, err)
		for i, line := range lines {
			if !line.Closed {
				continue
			}
			s := geometry[i]
			x, y := line.AppendXY(&g.Frame, nil, nil)
			require.Len(t, x, len(s))
			require.Len(t, y, len(s))
			for k := range s {
				require.Equal(t, [2]float64(s[k]), [2]float64{x[k], y[k]})
			}
			area := 0.0
			for k := 1; k < len(s); k++ {
				area += (s[k-1][0]-s[0][0])*(s[k][1]-s[0][1]) - (s[k][0]-s[0][0])*(s[k-1][1]-s[0][1])
			}
			assert.Negative(t, area, "a hill's lines run clockwise on the map")
		}
	}
}

// FuzzTrace: whatever whole-number ground, voids and levels, the lines are
// what contour lines must be.
func FuzzTrace(f *testing.F) {
	f.Add(uint8(4), uint8(2), []byte{0, 1, 2, 3, 1, 1, 1, 1, 0, 2, 2, 255})
	f.Add(uint8(3), uint8(1), []byte{5, 5, 5, 5, 4, 5, 5, 5, 5})
	f.Fuzz(func(t *testing.T, columns, halves uint8, data []byte) {
		w := 2 + int(columns)%12
		if len(data) < 2*w || len(data) > 1500 {
			t.Skip("no grid in this input")
		}
		g := grid(w, len(data)/w, func(c, r float64) float64 {
			v := data[int(r)*w+int(c)]
			if v > 250 {
				return math.NaN()
			}
			return float64(v % 16)
		})
		l := Levels{Interval: 0.5 + float64(halves%6)/2, Base: float64(halves%3) / 4}
		lines := trace(t, g, l)
		checkLines(t, g, l, lines)
		checkApart(t, g, lines)
	})
}

// TestBelow: a level has reached itself, and a hair under it has not,
// whatever the step's binary tail.
func TestBelow(t *testing.T) {
	t.Parallel()
	for _, l := range []Levels{
		{Interval: 20}, {Interval: 0.1}, {Interval: 0.7, Base: 0.3}, {Interval: 40, Unit: Foot}, {Interval: 5, Unit: Foot, Half: true}, {Interval: 1.0 / 3, Base: -7.1},
	} {
		for j := -3000; j <= 3000; j++ {
			h := l.Elevation(j)
			require.Equal(t, j, l.Below(h), "%+v", l)
			require.Equal(t, j-1, l.Below(math.Nextafter(h, math.Inf(-1))), "%+v", l)
		}
	}
}
