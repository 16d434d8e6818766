package visibility

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// tieSlope is the largest difference in slope at which Viewshed and
// Reference may disagree: rounding, 1e-10 of which GrazingSlope allows for.
const tieSlope = 1e-9

// neededTolerance is how far the heights they find may differ, metres:
// float32 rounding of up to a few thousand metres.
const neededTolerance = 1e-3

var utm17, utm33 *geodesy.CRS

func init() {
	var err error
	if utm17, err = geodesy.NewCRS("EPSG:32617"); err != nil {
		panic(err)
	}
	if utm33, err = geodesy.NewCRS("EPSG:32633"); err != nil {
		panic(err)
	}
}

// testFrames are small grids of every kind: the same posts may run south or
// north, west or east, square or not, turned against true north or not.
func testFrames(columns, rows int) map[string]dem.Frame {
	f := func(x, y, dx, dy float64, crs *geodesy.CRS) dem.Frame {
		return dem.Frame{Columns: columns, Rows: rows, X0: x, Y0: y, DX: dx, DY: dy, CRS: crs}
	}
	const arc = 1.0 / 3600
	return map[string]dem.Frame{
		"utm":               f(720000, 4050000, 10, -10, utm17),
		"utm south up":      f(300000, 4050000, 30, 30, utm17),
		"utm west":          f(720000, 4050000, -30, -20, utm17),
		"lon lat":           f(-84.4, 36.6, 3*arc, -3*arc, geodesy.WGS84),
		"lon lat far north": f(20, 68, 3*arc, -3*arc, geodesy.WGS84),
		"lon lat coarse":    f(170, -44, 30*arc, -30*arc, geodesy.WGS84),
		"antimeridian":      f(179.99, 10, 3*arc, -3*arc, geodesy.WGS84),
		"zone edge":         f(833000, 7700000, 50, -50, utm33),
	}
}

// terrain fills a grid with one of several kinds of ground.
func terrain(random *rand.Rand, g *dem.Grid, kind int) {
	spacing, _, _ := g.Spacing(0, 0)
	a, b := random.NormFloat64(), random.NormFloat64()
	for r := range g.Rows {
		for c := range g.Columns {
			var h float64
			x, y := float64(c), float64(r)
			switch kind {
			case 0: // rough
				h = random.NormFloat64() * spacing / 3
			case 1: // rolling
				h = spacing * (math.Sin(x/3+a) + math.Cos(y/4+b) + 0.3*random.Float64())
			case 2: // plateaus of whole metres
				h = math.Floor(3*math.Sin(x/4+a)+3*math.Cos(y/5+b)) * 5
			case 3: // plain with spikes
				if random.IntN(12) == 0 {
					h = random.Float64() * spacing
				}
			case 4: // a slope with steps
				h = math.Floor(a*x+b*y) * spacing / 2
			}
			g.Elevations[r*g.Columns+c] = float32(100 + h)
		}
	}
}

// compare requires that two answers agree post by post, ties apart, and
// returns how many posts were compared and how many were ties.
func compare(t *testing.T, g *dem.Grid, fast, slow *Viewed, label string) (posts, ties int) {
	t.Helper()
	require.Equal(t, slow.Window, fast.Window, label)
	_, p, err := newProblem(context.Background(), g, fast.Observer, fast.Options)
	require.NoError(t, err)
	w := fast.Window
	wrong := 0
	for i, got := range fast.Verdicts {
		posts++
		want := slow.Verdicts[i]
		c, r := w.Column+i%w.Columns, w.Row+i/w.Columns
		if got != want {
			s := p.sightline(c, r)
			margin := s.margin(p.target)
			if math.Abs(margin) < tieSlope {
				ties++
				continue
			}
			wrong++
			if wrong < 5 {
				t.Errorf("%s: post %d,%d: %v, want %v (margin %.3g at %.1f m, unknown %v)", label, c, r, got, want, margin, s.distance, s.unknown)
			}
			continue
		}
		if fast.HeightNeeded != nil {
			a, b := float64(fast.HeightNeeded[i]), float64(slow.HeightNeeded[i])
			if math.IsNaN(a) != math.IsNaN(b) || math.Abs(a-b) > neededTolerance*(1+1e-3*math.Abs(b)) {
				wrong++
				if wrong < 5 {
					t.Errorf("%s: post %d,%d: needs %v m, want %v", label, c, r, a, b)
				}
			}
		}
	}
	if wrong > 0 {
		t.Errorf("%s: %d of %d posts disagree", label, wrong, posts)
	}
	return posts, ties
}

// TestViewshedIsTheReference: on small grids of every kind the fast answer
// is the slow one, voids, sectors, targets and high eyes included.
func TestViewshedIsTheReference(t *testing.T) {
	t.Parallel()
	rounds := 30
	if testing.Short() {
		rounds = 8
	}
	for name := range testFrames(2, 2) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			posts, ties := 0, 0
			for seed := range rounds {
				p, q := agreeOnce(t, name, uint64(seed))
				posts, ties = posts+p, ties+q
				if t.Failed() {
					return
				}
			}
			t.Logf("%d posts agree, %d ties", posts-ties, ties)
			assert.Less(t, ties, posts/1000+1)
		})
	}
}

func agreeOnce(t *testing.T, name string, seed uint64) (posts, ties int) {
	t.Helper()
	random := rand.New(rand.NewPCG(seed, 77))
	columns, rows := 2+random.IntN(60), 2+random.IntN(60)
	f := testFrames(columns, rows)[name]
	g := &dem.Grid{Frame: f, Elevations: make([]float32, columns*rows)}
	kind := random.IntN(5)
	terrain(random, g, kind)
	nan := float32(math.NaN())
	voids := random.IntN(3)
	if voids > 0 {
		for i := range g.Elevations {
			if random.IntN(30*voids) == 0 {
				g.Elevations[i] = nan
			}
		}
	}
	if random.IntN(4) == 0 { // a block of voids
		c0, r0 := random.IntN(columns), random.IntN(rows)
		for r := r0; r < min(rows, r0+20); r++ {
			for c := c0; c < min(columns, c0+25); c++ {
				g.Elevations[r*columns+c] = nan
			}
		}
	}
	column, row := random.Float64()*float64(columns-1), random.Float64()*float64(rows-1)
	switch random.IntN(4) {
	case 0:
		column, row = math.Round(column), math.Round(row)
	case 1:
		column = math.Round(column)
	case 2:
		row = math.Round(row)
	}
	place, err := f.Place(column, row)
	require.NoError(t, err)
	o := Observer{Place: place, EyeAboveGround: []float64{0, 1.6, 1.6, 30, 3000}[random.IntN(5)]}
	spacing, _, err := f.Spacing(0, 0)
	require.NoError(t, err)
	opts := ViewshedOptions{HeightNeeded: random.IntN(2) == 0, Concurrency: 1 + random.IntN(3)}
	opts.Refraction = []float64{0, 0.13, 0.13, 3}[random.IntN(4)]
	opts.TargetAboveGround = []float64{0, 0, 2, 50}[random.IntN(4)]
	if random.IntN(3) == 0 {
		opts.Radius = spacing * (0.5 + 40*random.Float64())
	}
	if random.IntN(3) == 0 {
		opts.Sector = &Sector{
			From: geodesy.NewTrueBearing(geodesy.Degrees(random.Float64() * 360)),
			To:   geodesy.NewTrueBearing(geodesy.Degrees(random.Float64() * 360)),
		}
	}
	label := fmt.Sprintf("%s, seed %d: ground %d, %d x %d, observer %v,%v, %+v", name, seed, kind, columns, rows, column, row, opts)
	fast, err := Viewshed(context.Background(), g, o, opts)
	slow, slowErr := Reference(context.Background(), g, o, opts)
	if err != nil {
		require.ErrorIs(t, err, dem.ErrVoid, label)
		require.ErrorIs(t, slowErr, dem.ErrVoid, label)
		return 0, 0
	}
	require.NoError(t, slowErr, label)
	return compare(t, g, fast, slow, label)
}
