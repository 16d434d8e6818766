package chain

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/visibility"
)

// brute tries every way there is: at each place a stretch on the compass of every
// length, then every option, left at every place where it may be left.
func brute(p *problem, i int) cost {
	n := len(p.at) - 1
	if i == n {
		return cost{}
	}
	best := p.compass(i, n, p.atEnd)
	for k := i; k < n; k++ {
		for _, o := range p.options[k] {
			for j := k + 1; j <= n; j++ {
				if !o.mayEnd(j) {
					continue
				}
				if c := p.compass(i, k, o.distance).plus(p.along(o, j)).plus(brute(p, j)); c.compare(best) < 0 {
					best = c
				}
			}
		}
	}
	return best
}

// TestLeastOfAllWays: on drawn problems the search finds what trying every way finds.
func TestLeastOfAllWays(t *testing.T) {
	t.Parallel()
	o := Options{MostLost: 300}
	random := rand.New(rand.NewPCG(7, 7))
	for range 300 {
		n := 3 + random.IntN(7)
		p := &problem{allowed: o.allowed, atEnd: 200 * random.Float64()}
		for i := range n {
			p.at = append(p.at, every*float64(i))
		}
		p.at = append(p.at, every*float64(n-1)+50+100*random.Float64())
		p.options = make([][]*option, n+1)
		for i := range n {
			for range random.IntN(3) {
				x := &option{at: i, last: min(n, i+1+random.IntN(n)), distance: 100 + 2000*random.Float64(), goal: random.IntN(4) == 0}
				x.fixed = cost{0, random.IntN(2), 1, random.IntN(3), 0, random.IntN(3)}
				if random.IntN(2) == 0 {
					for range x.last - x.at {
						x.ends = append(x.ends, random.IntN(3) > 0)
						x.losses = append(x.losses, random.IntN(2))
					}
				}
				p.options[i] = append(p.options[i], x)
			}
		}
		way, least, err := p.least(t.Context())
		require.NoError(t, err)
		require.Equal(t, brute(p, 0), least)
		// and the way costs what it is said to
		sum, i := cost{}, 0
		for _, m := range way {
			distance := p.atEnd
			if m.option != nil {
				distance = m.option.distance
				sum = sum.plus(p.along(m.option, m.to))
			}
			sum = sum.plus(p.compass(i, m.begin, distance))
			i = m.to
		}
		require.Equal(t, least, sum)
		require.Equal(t, n, i)
	}
}

// made is ground by a formula: posts 30 m apart within reach metres of a place on a
// zone's central meridian. east and north are metres from there.
func made(tb testing.TB, reach float64, height func(east, north float64) float64) *dem.Grid {
	tb.Helper()
	const spacing = 30
	crs, err := geodesy.NewCRS("EPSG:32617")
	require.NoError(tb, err)
	n := int(reach / spacing)
	g := &dem.Grid{Frame: dem.Frame{
		Columns: 2*n + 1, Rows: 2*n + 1, X0: 500000 - float64(n)*spacing, Y0: 4000000 + float64(n)*spacing, DX: spacing, DY: -spacing, CRS: crs,
	}}
	g.Elevations = make([]float32, g.Columns*g.Rows)
	for r := range g.Rows {
		for c := range g.Columns {
			g.Elevations[r*g.Columns+c] = float32(height(float64(c-n)*spacing, float64(n-r)*spacing))
		}
	}
	return g
}

// placeOn is the place so far east and north of the middle.
func placeOn(tb testing.TB, g *dem.Grid, east, north float64) geodesy.LatLon {
	tb.Helper()
	p, err := g.Place(float64(g.Columns/2)+east/30, float64(g.Rows/2)-north/30)
	require.NoError(tb, err)
	return p
}

// hills are cones and low ridges across the way north, drawn at random.
func hills(random *rand.Rand) func(x, y float64) float64 {
	type hill struct{ x, y, height, slope float64 }
	var list []hill
	for range 7 {
		list = append(list, hill{-900 + 1800*random.Float64(), -2500 + 6500*random.Float64(), 40 + 160*random.Float64(), 0.2 + 0.3*random.Float64()})
	}
	wave := 3 + 6*random.Float64()
	return func(x, y float64) float64 {
		h := wave * math.Sin(y/130)
		for _, c := range list {
			h = math.Max(h, c.height-c.slope*math.Hypot(x-c.x, y-c.y))
		}
		return h
	}
}

// TestFindIsLeastOnSmallGround: looking only at marks on the least way, and not from
// where the goal leads to the end, costs nothing: on made ground the way is as good as
// the best of all ways with every mark looked at from everywhere.
func TestFindIsLeastOnSmallGround(t *testing.T) {
	t.Parallel()
	sighted, guided := 0, 0
	for seed := range uint64(8) {
		random := rand.New(rand.NewPCG(seed, 9))
		g := made(t, 4500, hills(random))
		from, to := placeOn(t, g, 0, -500), placeOn(t, g, 0, 600)
		o := Options{
			Conditions: visibility.Conditions{Refraction: visibility.DefaultRefraction}, EyeAboveGround: 1.6,
			VerticalError: []float64{0, 1}[seed%2], MostLost: 150,
		}
		lazy, err := newCourse(t.Context(), g, from, to, o)
		require.NoError(t, err)
		plan, err := lazy.find(t.Context())
		require.NoError(t, err)
		_, least, err := lazy.checked(t.Context())
		require.NoError(t, err)

		whole, err := newCourse(t.Context(), g, from, to, o)
		require.NoError(t, err)
		whole.withBack = true
		require.NoError(t, whole.lookFrom(t.Context(), whole.everywhere()))
		whole.goalOptions()
		for _, list := range whole.options {
			for _, x := range list {
				require.NoError(t, whole.check(t.Context(), x))
			}
		}
		require.Equal(t, brute(&whole.problem, 0), least, "seed %d", seed)
		sighted += plan.Sightings
		if plan.Complete() {
			guided++
		}
	}
	assert.Positive(t, guided, "ground on which marks lead")
	assert.Greater(t, sighted, 4)
}
