package contour

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// reversed is what the same path has the other way.
func reversed(c Crossed) Crossed { return Crossed{c.Down, c.Up, c.Falls, c.Rises, c.AtLeast} }

func TestCountByHand(t *testing.T) {
	t.Parallel()
	nan := math.NaN()
	cases := []struct {
		name       string
		elevations []float64
		want       Crossed
	}{
		{"one cell", []float64{40, 41}, Crossed{}},
		{"to a level at the data's edge", []float64{15, 20}, Crossed{Up: 1, Rises: 1}},
		{"from a level is not up", []float64{20, 25}, Crossed{}},
		{"off a level is down", []float64{20, 19.9}, Crossed{Down: 1, Falls: 1}},
		{"over a hill", []float64{95, 150, 95}, Crossed{Up: 3, Down: 3, Rises: 1, Falls: 1}},
		{"over two hills", []float64{95, 150, 105, 125, 130, 95}, Crossed{Up: 4, Down: 4, Rises: 2, Falls: 2}},
		{"a step that shows on no line", []float64{95, 150, 145, 155, 95}, Crossed{Up: 3, Down: 3, Rises: 1, Falls: 1}},
		{"an edge that touches a level has no line", []float64{19, 20, 19}, Crossed{}},
		{"a terrace on a level", []float64{19, 20, 20, 19}, Crossed{Up: 1, Down: 1, Rises: 1, Falls: 1}},
		{"touching from above", []float64{21, 20, 21}, Crossed{}},
		{"below the sea", []float64{-41, -1, 1}, Crossed{Up: 3, Rises: 1}},
		{"broken by a void", []float64{0, 30, nan, 90, 70}, Crossed{1, 1, 1, 1, true}},
		{"a rise parted by a void", []float64{10, 30, nan, 90, 110}, Crossed{2, 0, 2, 0, true}},
		{"a level beside a void", []float64{19, 20, nan, 20, 19}, Crossed{1, 1, 1, 1, true}},
		{"all void", []float64{nan, nan}, Crossed{AtLeast: true}},
	}
	for _, c := range cases {
		g := grid(len(c.elevations), 2, func(column, _ float64) float64 { return c.elevations[int(column)] })
		last := float64(len(c.elevations) - 1)
		l := Levels{Interval: 20}
		for _, row := range []float64{0, 0.3, 1} {
			path := []Position{{0, row}, {last, row}}
			assert.Equal(t, c.want, l.CountAlong(g, path), "%s, row %g", c.name, row)
			back := reversed(c.want)
			if c.want.Up == c.want.Down { // the others start or end on a line
				assert.Equal(t, back, l.CountAlong(g, []Position{path[1], path[0]}), "%s, back", c.name)
			}
			if row == 0.3 {
				assert.Equal(t, c.want, l.CountAlong(g, []Position{path[0], {last / 3, 0.9}, {last / 2, 0.1}, path[1]}), "%s, winding", c.name)
			}
		}
	}
	assert.Equal(t, Crossed{}, Levels{Interval: 20}.CountAlong(posts([]float32{0, 90}, []float32{0, 90}), nil))
	assert.Equal(t, Crossed{}, Levels{Interval: 20}.CountAlong(posts([]float32{0, 90}, []float32{0, 90}), []Position{{0, 0}}))
}

// TestCountInSaddles: with levels at halves, the cell of posts at 0 and 1 has
// one level, through the middle of every side.
func TestCountInSaddles(t *testing.T) {
	t.Parallel()
	high := posts([]float32{1, 0}, []float32{0, 1})      // the saddle point is on the level: joined
	low := posts([]float32{1, -0.5}, []float32{-0.5, 1}) // parted: the high corners reach 2/3 along the sides
	cases := []struct {
		name     string
		g        *dem.Grid
		path     []Position
		up, down int
	}{
		{"between the low corners of joined ground", high, []Position{{0.75, 0}, {0, 0.75}}, 1, 1},
		{"from post to post of the same", high, []Position{{1, 0}, {0, 1}}, 1, 1},
		{"round a low corner", high, []Position{{0.75, 0}, {1, 0.25}}, 0, 0},
		{"over joined ground", high, []Position{{0.25, 0}, {1, 0.75}}, 0, 0},
		{"out of a low corner", high, []Position{{0.75, 0}, {1, 0.75}}, 1, 0},
		{"between the high corners of parted ground", low, []Position{{0.25, 0}, {1, 0.75}}, 1, 1},
		{"from post to post of the same", low, []Position{{0, 0}, {1, 1}}, 1, 1},
		{"round a high corner", low, []Position{{0.25, 0}, {0, 0.25}}, 0, 0},
		{"over parted ground", low, []Position{{0.75, 0}, {0, 0.75}}, 0, 0},
		{"starting inside a high corner", low, []Position{{0.1, 0.1}, {1, 0.75}}, 1, 1},
		{"starting on a line", low, []Position{{1. / 6, 1. / 6}, {0.5, 0.5}}, 0, 1},
		{"ending on a line", high, []Position{{0.9, 0.1}, {0.75, 0.25}}, 1, 0},
		{"both ends in one low corner", high, []Position{{0.9, 0.1}, {0.8, 0.1}}, 0, 0},
		{"both ends inside, from low corner to low corner", high, []Position{{0.9, 0.1}, {0.1, 0.9}}, 1, 1},
	}
	for _, c := range cases {
		l := Levels{Interval: 10, Base: 0.5}
		got := l.CountAlong(c.g, c.path)
		assert.Equal(t, Crossed{Up: c.up, Down: c.down, Rises: min(c.up, 1), Falls: min(c.down, 1)}, got, c.name)
	}
}

// TestEndInsideTheFirstCell: the elevation of an end does not say which side
// of a line it is on, since a line runs straight through a cell and the
// bilinear surface's level does not.
func TestEndInsideTheFirstCell(t *testing.T) {
	t.Parallel()
	g := posts([]float32{0, 20}, []float32{20, 20})
	l := Levels{Interval: 100, Base: 11} // crosses the first sides at 0.55
	p := Position{0.27, 0.27}
	assert.Equal(t, Crossed{}, l.CountAlong(g, []Position{{0, 0}, p}))
	p = Position{0.35, 0.35} // past the line, from (0.55, 0) to (0, 0.55)
	assert.Equal(t, Crossed{Up: 1, Rises: 1}, l.CountAlong(g, []Position{{0, 0}, p}))
	p = Position{0.28, 0.28} // past it, but
	require.Less(t, dem.Bilinear(g, p.Column, p.Row), 11.0)
	assert.Equal(t, Crossed{Up: 1, Rises: 1}, l.CountAlong(g, []Position{{0, 0}, p}))
	h := posts([]float32{0, 0}, []float32{0, 20})
	r := Position{0.8, 0.8}
	assert.Equal(t, Crossed{Up: 1, Rises: 1}, l.CountAlong(h, []Position{{0.1, 0.1}, r}))
	s := Position{0.77, 0.77} // 1.54 < 1.55: below the line
	require.Greater(t, dem.Bilinear(h, s.Column, s.Row), 11.0)
	assert.Equal(t, Crossed{}, l.CountAlong(h, []Position{{0.1, 0.1}, s}))
}

// cutPiece says whether a leg from a to b cuts a piece of line from p to q,
// going up or going down.
func cutPiece(p, q, a, b Position) (up, down int) {
	side := func(a, b, p Position) float64 {
		return (b.Column-a.Column)*(p.Row-a.Row) - (b.Row-a.Row)*(p.Column-a.Column)
	}
	switch {
	case (side(a, b, p) > 0) == (side(a, b, q) > 0) || (side(p, q, a) > 0) == (side(p, q, b) > 0):
		return 0, 0
	case side(p, q, b) > 0: // the leg ends on the line's right
		return 1, 0
	}
	return 0, 1
}

// cut counts the places where a leg cuts drawn lines, each as it stands.
func cut(lines []Line, a, b Position) (up, down int) {
	for _, l := range lines {
		if l.Touch { // not drawn
			continue
		}
		for i := 1; i < len(l.Points); i++ {
			u, d := cutPiece(l.Points[i-1], l.Points[i], a, b)
			up, down = up+u, down+d
		}
	}
	return up, down
}

// TestLegsCrossTheDrawnLines: the count along a leg equals the places where
// the leg cuts the drawn lines, up and down, for legs that start and end
// anywhere, on the ground or off it, over saddles, voids and plateaus.
func TestLegsCrossTheDrawnLines(t *testing.T) {
	t.Parallel()
	crossed := 0
	for seed := range uint64(400) {
		random := rand.New(rand.NewPCG(seed, 3))
		var g *dem.Grid
		if seed%4 == 0 {
			g = fractal(40, 40, 100, seed)
		} else {
			g = rough(random, 2+random.IntN(12), 2+random.IntN(50), 2+random.IntN(6), []float64{0, 0.05, 0.2}[seed%3])
		}
		l := Levels{Interval: []float64{1, 1.5, 0.25}[seed%3], Half: seed%5 == 0}
		lines := trace(t, g, l)
		anywhere := func(size int, beyond float64) float64 {
			return random.Float64()*(float64(size-1)+2*beyond) - beyond
		}
		for i := range 30 {
			beyond := []float64{0, 0, 2}[i%3]
			a := Position{anywhere(g.Columns, beyond), anywhere(g.Rows, beyond)}
			b := Position{anywhere(g.Columns, beyond), anywhere(g.Rows, beyond)}
			if i%5 == 0 { // within a cell or two
				b = Position{a.Column + random.Float64() - 0.5, a.Row + random.Float64() - 0.5}
			}
			got := l.CountAlong(g, []Position{a, b})
			up, down := cut(lines, a, b)
			require.Equal(t, [2]int{up, down}, [2]int{got.Up, got.Down}, "seed %d, %v to %v", seed, a, b)
			crossed += up + down
			back := l.CountAlong(g, []Position{b, a})
			require.Equal(t, reversed(got), back, "seed %d, back", seed)
		}
	}
	assert.Greater(t, crossed, 20000)
}

// TestGeodesicLegsCrossTheDrawnLines: the same on the observer's plane, with
// the crossings a leg is really made of.
func TestGeodesicLegsCrossTheDrawnLines(t *testing.T) {
	t.Parallel()
	g := fractal(120, 90, 300, 31)
	for i := range g.Elevations { // whole metres, as many data sets hold
		g.Elevations[i] = float32(math.Round(float64(g.Elevations[i])))
	}
	l := Levels{Interval: 5}
	lines := trace(t, g, l)
	random := rand.New(rand.NewPCG(31, 32))
	inside := func() Position { return Position{1 + random.Float64()*117, 1 + random.Float64()*87} }
	total := 0
	for range 150 {
		from, to := inside(), inside()
		centre, err := g.Place(from.Column, from.Row)
		require.NoError(t, err)
		p, err := dem.NewPlacement(&g.Frame, geodesy.NewPlane(centre), g.Whole())
		require.NoError(t, err)
		east, north := p.At(to.Column, to.Row)
		path := []Position{from}
		p.Walk(east, north, func(x dem.Crossing) bool {
			c, r := x.Position()
			path = append(path, Position{c, r})
			return true
		})
		path = append(path, to)
		got := l.CountAlong(g, path)
		// the lines on the plane, in a grid position's clothes: row is south
		plane := make([]Line, len(lines))
		for i := range lines {
			plane[i] = lines[i]
			plane[i].Points = make([]Position, len(lines[i].Points))
			for k, q := range lines[i].Points {
				e, n := p.At(q.Column, q.Row)
				plane[i].Points[k] = Position{e, -n}
			}
		}
		up, down := cut(plane, Position{0, 0}, Position{east, -north})
		require.Equal(t, [2]int{up, down}, [2]int{got.Up, got.Down}, "%v to %v", from, to)
		require.False(t, got.AtLeast)
		total += up + down
	}
	assert.Greater(t, total, 400)
}
