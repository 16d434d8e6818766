package dem_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// lookingGround is a grid of posts so far apart, metres, on UTM.
func lookingGround(t *testing.T, columns, rows int, spacing float64, h func(c, r int) float64) *dem.Grid {
	t.Helper()
	crs, err := geodesy.NewCRS("EPSG:32611")
	require.NoError(t, err)
	g := &dem.Grid{Frame: dem.Frame{Columns: columns, Rows: rows, X0: 400000, Y0: 3800000, DX: spacing, DY: -spacing, CRS: crs}}
	for r := range rows {
		for c := range columns {
			g.Elevations = append(g.Elevations, float32(h(c, r)))
		}
	}
	return g
}

// written is a place as so many decimals write it.
func written(p geodesy.LatLon, decimals int) geodesy.LatLon {
	unit := math.Pow(10, float64(decimals))
	round := func(d geodesy.Degrees) geodesy.Degrees { return geodesy.Degrees(math.Round(float64(d)*unit) / unit) }
	return geodesy.LatLon{Lat: round(p.Lat), Lon: round(p.Lon)}
}

const lookingMetre = 0.01 // m: Spacing is taken at one place, and the circle by it

func TestLookingPoint(t *testing.T) {
	t.Parallel()
	cone := lookingGround(t, 21, 21, 30, func(c, r int) float64 { return 500 - 10*math.Hypot(float64(c-10), float64(r-10)) })
	slope := lookingGround(t, 21, 21, 30, func(c, _ int) float64 { return 100 + 15*float64(c) })
	level := lookingGround(t, 21, 21, 30, func(_, _ int) float64 { return 100 })
	// a crest along column 10, with no top on it
	crest := lookingGround(t, 21, 21, 30, func(c, r int) float64 { return 500 - 15*math.Abs(float64(c-10)) + float64(r) })
	at := func(g *dem.Grid, c, r float64) geodesy.LatLon {
		p, err := g.Place(c, r)
		require.NoError(t, err)
		return p
	}
	for name, c := range map[string]struct {
		ground       *dem.Grid
		column, row  float64
		wantC, wantR float64
	}{
		"a top's post":                        {cone, 10, 10, 10, 10},
		"a step beside a top":                 {cone, 10.01, 9.99, 10, 10},
		"a place nearest to a top":            {cone, 10.4, 9.6, 10, 10},
		"a post that is no top":               {cone, 12, 10, 12, 10},
		"that post to five decimals":          {cone, 12.01, 10.01, 12, 10},
		"a slope: 2 m up":                     {slope, 7.3, 6.4, 7.3 + 2.0/30, 6.4},
		"level ground":                        {level, 7.3, 6.4, 7.3, 6.4},
		"3 m beside a crest: 2 m towards it":  {crest, 10.1, 6.4, 10.1 - 2.0/30, 6.4},
		"1 m beside a crest: the crest":       {crest, 10 + 1.0/30, 6.4, 10, 6.4 + math.Sqrt(3)/30},
		"half a cell and more beside a crest": {crest, 10.6, 6.4, 10.6 - 2.0/30, 6.4},
	} {
		got, err := dem.LookingPoint(c.ground, at(c.ground, c.column, c.row))
		require.NoError(t, err)
		away := geodesy.Inverse(at(c.ground, c.wantC, c.wantR), got).Distance
		limit := lookingMetre
		if c.ground != cone && c.ground != level {
			limit = 0.25 // m: the bearings looked on, and the crest's own rise
		}
		assert.Less(t, away, limit, name)
	}
}

// What a summit or a post is called by changes nothing of where it is looked
// at.
func TestLookingPointDoesNotChangeWithDecimals(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(13, 1))
	g := lookingGround(t, 60, 60, 10, func(_, _ int) float64 { return 300 * random.Float64() })
	for range 300 {
		c, r := 1+random.IntN(58), 1+random.IntN(58)
		post, err := g.Place(float64(c), float64(r))
		require.NoError(t, err)
		for _, decimals := range []int{5, 6, 7, 15} {
			got, err := dem.LookingPoint(g, written(post, decimals))
			require.NoError(t, err)
			require.Less(t, geodesy.Inverse(post, got).Distance, 1e-3, "post %d,%d to %d decimals", c, r, decimals) // m
		}
		// and where it is looked at is itself
		p, err := g.Place(1+57*random.Float64(), 1+57*random.Float64())
		require.NoError(t, err)
		got, err := dem.LookingPoint(g, p)
		require.NoError(t, err)
		own, err := dem.ElevationAt(g, p)
		require.NoError(t, err)
		raised, err := dem.ElevationAt(g, got)
		require.NoError(t, err)
		column, row, err := g.Locate(got)
		require.NoError(t, err)
		if column != math.Round(column) || row != math.Round(row) {
			require.GreaterOrEqual(t, raised, own, "the highest ground round it")
			require.LessOrEqual(t, geodesy.Inverse(p, got).Distance, 2+lookingMetre)
		}
	}
}

// A place in a void, beside one and outside stays where it is.
func TestLookingPointOnUnknownGround(t *testing.T) {
	t.Parallel()
	nan := math.NaN()
	g := lookingGround(t, 9, 9, 30, func(c, r int) float64 {
		if c == 4 && r == 4 {
			return nan
		}
		return 500 - 10*math.Hypot(float64(c-5), float64(r-4))
	})
	for _, p := range [][2]float64{{4.4, 4.2}, {4, 4}, {-2, 3}, {12, 12}} {
		place, err := g.Place(p[0], p[1])
		require.NoError(t, err)
		got, err := dem.LookingPoint(g, place)
		require.NoError(t, err)
		assert.Equal(t, place, got)
	}
	// the void beside a top does not make it less of one
	place, err := g.Place(5.2, 4.8)
	require.NoError(t, err)
	top, err := g.Place(5, 5)
	require.NoError(t, err)
	got, err := dem.LookingPoint(g, place)
	require.NoError(t, err)
	assert.Greater(t, geodesy.Inverse(top, got).Distance, 1.0, "5,5 is lower than 5,4")
	place, err = g.Place(5.2, 4.2)
	require.NoError(t, err)
	top, err = g.Place(5, 4)
	require.NoError(t, err)
	got, err = dem.LookingPoint(g, place)
	require.NoError(t, err)
	assert.Less(t, geodesy.Inverse(top, got).Distance, 1e-3)
}
