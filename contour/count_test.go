package contour

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

func TestCountByHand(t *testing.T) {
	t.Parallel()
	nan := math.NaN()
	cases := []struct {
		name       string
		elevations []float64
		up, down   int
	}{
		{"nothing", nil, 0, 0},
		{"one place", []float64{40}, 0, 0},
		{"to a level is up to it", []float64{15, 20}, 1, 0},
		{"from a level is not up", []float64{20, 25}, 0, 0},
		{"off a level is down", []float64{20, 19.9}, 0, 1},
		{"over a hill", []float64{95, 150, 95}, 3, 3},
		{"touching from below", []float64{19, 20, 19}, 1, 1},
		{"touching from above", []float64{21, 20, 21}, 0, 0},
		{"below the sea", []float64{-41, -1, 1}, 3, 0},
		{"broken by a void", []float64{0, 30, nan, 90, 70}, 1, 1},
	}
	for _, c := range cases {
		up, down := Levels{Interval: 20}.Count(c.elevations)
		assert.Equal(t, [2]int{c.up, c.down}, [2]int{up, down}, c.name)
	}
}

// legCrossings walks a straight line over a grid in its own columns and
// rows: every edge it crosses, in order, by looking at every row and column.
func legCrossings(g *dem.Grid, a, b Position) []Position {
	type at struct {
		s float64
		p Position
	}
	var all []at
	for c := range g.Columns {
		s := (float64(c) - a.Column) / (b.Column - a.Column)
		r := a.Row + s*(b.Row-a.Row)
		if s > 0 && s < 1 && r >= 0 && r <= float64(g.Rows-1) {
			all = append(all, at{s, Position{float64(c), r}})
		}
	}
	for r := range g.Rows {
		s := (float64(r) - a.Row) / (b.Row - a.Row)
		c := a.Column + s*(b.Column-a.Column)
		if s > 0 && s < 1 && c >= 0 && c <= float64(g.Columns-1) {
			all = append(all, at{s, Position{c, float64(r)}})
		}
	}
	slices.SortFunc(all, func(x, y at) int { return int(math.Copysign(1, x.s-y.s)) })
	out := make([]Position, len(all))
	for i := range all {
		out[i] = all[i].p
	}
	return out
}

// TestLegsCrossTheDrawnLines: the count along a leg equals the places where
// the leg cuts the drawn lines, up and down, level by level.
func TestLegsCrossTheDrawnLines(t *testing.T) {
	t.Parallel()
	for seed := range uint64(300) {
		random := rand.New(rand.NewPCG(seed, 3))
		var g *dem.Grid
		if seed%4 == 0 {
			g = fractal(40, 40, 100, seed)
		} else {
			g = rough(random, 3+random.IntN(12), 3+random.IntN(50), 2+random.IntN(6), []float64{0, 0.05, 0.2}[seed%3])
		}
		l := Levels{Interval: 1 + float64(seed%2)*0.5}
		lines := trace(t, g, l)
		for range 10 {
			w, h := float64(g.Columns-1), float64(g.Rows-1)
			a := Position{-1, random.Float64() * h}
			b := Position{w + 1, random.Float64() * h}
			if random.IntN(2) == 0 {
				a, b = Position{random.Float64() * w, -1}, Position{random.Float64() * w, h + 1}
			}
			if random.IntN(2) == 0 {
				a, b = b, a
			}
			crossings := legCrossings(g, a, b)
			var elevations []float64
			var last Position
			for i, p := range crossings {
				if i > 0 { // the cell between
					c, r := int(math.Floor((p.Column+last.Column)/2)), int(math.Floor((p.Row+last.Row)/2))
					for _, k := range [4][2]int{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
						if math.IsNaN(g.Elevation(c+k[0], r+k[1])) {
							elevations = append(elevations, math.NaN())
							break
						}
					}
				}
				elevations = append(elevations, dem.Bilinear(g, p.Column, p.Row))
				last = p
			}
			up, down := l.Count(elevations)
			drawnUp, drawnDown := cut(g, lines, a, b)
			require.Equal(t, [2]int{up, down}, [2]int{drawnUp, drawnDown}, "seed %d, %v to %v", seed, a, b)
		}
	}
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

// cut counts the places where a leg cuts lines. A line cut twice within a
// saddle cell counts for nothing, as the package says.
func cut(g *dem.Grid, lines []Line, a, b Position) (up, down int) {
	type place struct{ number, column, row int }
	saddles := map[place][2]int{}
	for _, l := range lines {
		for i := 1; i < len(l.Points); i++ {
			p, q := l.Points[i-1], l.Points[i]
			u, d := cutPiece(p, q, a, b)
			if u+d == 0 {
				continue
			}
			if l.Touch {
				u, d = 1, 1
			}
			c, r := int(math.Floor((p.Column+q.Column)/2)), int(math.Floor((p.Row+q.Row)/2))
			if !l.Touch && isSaddle(g, l.Level, c, r) {
				k := place{l.Number, c, r}
				s := saddles[k]
				saddles[k] = [2]int{s[0] + u, s[1] + d}
				continue
			}
			up, down = up+u, down+d
		}
	}
	for _, s := range saddles {
		if s[0] == s[1] {
			continue
		}
		up, down = up+s[0], down+s[1]
	}
	return up, down
}

// TestGeodesicLegsCrossTheDrawnLines: the same on the observer's plane, with
// the crossings a leg is really made of.
func TestGeodesicLegsCrossTheDrawnLines(t *testing.T) {
	t.Parallel()
	g := fractal(120, 90, 300, 31)
	l := Levels{Interval: 5}
	lines := trace(t, g, l)
	random := rand.New(rand.NewPCG(31, 32))
	inside := func() Position { return Position{1 + random.Float64()*117, 1 + random.Float64()*87} }
	total := 0
	for range 80 {
		from, to := inside(), inside()
		centre, err := g.Place(from.Column, from.Row)
		require.NoError(t, err)
		p, err := dem.NewPlacement(&g.Frame, geodesy.NewPlane(centre), g.Whole())
		require.NoError(t, err)
		east, north := p.At(to.Column, to.Row)
		var elevations, distances []float64
		p.Walk(east, north, func(x dem.Crossing) bool {
			elevations = append(elevations, x.Elevation(g))
			distances = append(distances, x.Distance)
			return true
		})
		require.Greater(t, len(elevations), 1)
		up, down := l.Count(elevations)
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
		at := func(d float64) Position {
			f := d / math.Hypot(east, north)
			return Position{east * f, -north * f}
		}
		a, b := at(distances[0]), at(distances[len(distances)-1])
		drawnUp, drawnDown := 0, 0
		saddles := map[[3]int][2]int{}
		for i := range plane {
			for k := 1; k < len(plane[i].Points); k++ {
				u, d := cutPiece(plane[i].Points[k-1], plane[i].Points[k], a, b)
				if u+d == 0 {
					continue
				}
				q, r := lines[i].Points[k-1], lines[i].Points[k]
				c, w := int(math.Floor((q.Column+r.Column)/2)), int(math.Floor((q.Row+r.Row)/2))
				if isSaddle(g, lines[i].Level, c, w) {
					s := saddles[[3]int{lines[i].Number, c, w}]
					saddles[[3]int{lines[i].Number, c, w}] = [2]int{s[0] + u, s[1] + d}
					continue
				}
				drawnUp, drawnDown = drawnUp+u, drawnDown+d
			}
		}
		for _, s := range saddles {
			if s[0] != s[1] {
				drawnUp, drawnDown = drawnUp+s[0], drawnDown+s[1]
			}
		}
		require.Equal(t, [2]int{up, down}, [2]int{drawnUp, drawnDown}, "%v to %v", from, to)
		total += up + down
	}
	assert.Greater(t, total, 200)
}
