package landform

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
)

// legAlongRow crosses every column of a row, between two rows if row is not
// whole.
func legAlongRow(g *dem.Grid, row float64, first, last int) []PathPoint {
	var path []PathPoint
	for c := first; c <= last; c++ {
		path = append(path, PathPoint{Position{float64(c), row}, 30 * float64(c-first), dem.Bilinear(g, float64(c), row)})
	}
	return path
}

func names(passed []Passed) []string {
	var out []string
	for _, p := range passed {
		out = append(out, p.Name)
	}
	return out
}

// A leg over a ridge at x = -1000 and a valley with a floor of 2 % at
// x = 1000, both running north.
func TestLegOverRidgeAndValley(t *testing.T) {
	t.Parallel()
	g := onGrid(t, func(x, y float64) float64 {
		return 500 - 0.02*y + 200*math.Cos((x+1000)*math.Pi/2000)
	}, 1, 0, 0)
	o, err := FeatureOptions{Scale: 500}.Resolve(g)
	require.NoError(t, err)
	found, err := Features(context.Background(), g, o)
	require.NoError(t, err)
	path := legAlongRow(g, 80.4, 20, 140)
	passed, err := Along(&g.Frame, path, found, AlongOptions{Scale: o.Scale, MinRelief: o.MinRelief})
	require.NoError(t, err)
	require.Equal(t, []string{"crest of a ridge", "valley floor"}, names(passed))
	const post = 30.0 // m: the leg's turning points are told at a post
	assert.InDelta(t, 30*(80-20)-1000, passed[0].Distance, post)
	assert.InDelta(t, 30*(80-20)+1000, passed[1].Distance, post)
	for _, p := range passed {
		assert.Equal(t, p.Kind, found[p.Feature].Kind)
		assert.InDelta(t, dem.Bilinear(g, 20+p.Distance/30, 80.4), p.Elevation, 0.01)
	}
	// without the features the leg's own high and low points are left
	passed, err = Along(&g.Frame, path, nil, AlongOptions{Scale: o.Scale, MinRelief: o.MinRelief})
	require.NoError(t, err)
	assert.Equal(t, []string{"high point", "low point"}, names(passed))
	// a leg that ends before the valley's far side has no low point there
	passed, err = Along(&g.Frame, legAlongRow(g, 80.4, 20, 110), nil, AlongOptions{Scale: o.Scale, MinRelief: o.MinRelief})
	require.NoError(t, err)
	assert.Equal(t, []string{"high point"}, names(passed))
}

// A leg across three spurs, half way down.
func TestLegAcrossSpurs(t *testing.T) {
	t.Parallel()
	for _, s := range synthetic {
		if s.name != "ridge with spurs" {
			continue
		}
		g := onGrid(t, s.of, 1, 0, 0.5)
		o, err := FeatureOptions{Scale: 500}.Resolve(g)
		require.NoError(t, err)
		found, err := Features(context.Background(), g, o)
		require.NoError(t, err)
		passed, err := Along(&g.Frame, legAlongRow(g, 54, 20, 140), found, AlongOptions{Scale: o.Scale, MinRelief: o.MinRelief})
		require.NoError(t, err)
		var spurs []float64
		for _, p := range passed {
			if p.Kind == Spur {
				spurs = append(spurs, p.Distance)
			}
		}
		require.Len(t, spurs, 3, "%v", names(passed))
		const twoPosts = 60.0
		for i, x := range []float64{-1200, 0, 1200} {
			assert.InDelta(t, 30*(80-20)+x, spurs[i], twoPosts)
		}
		for i := 1; i < len(passed); i++ {
			assert.GreaterOrEqual(t, passed[i].Distance, passed[i-1].Distance)
		}
	}
}

// A leg up over the pass between two hills meets the saddle, and one from
// hill to hill tops out on both with the saddle between.
func TestLegThroughSaddle(t *testing.T) {
	t.Parallel()
	for _, s := range synthetic {
		if s.name != "two hills" {
			continue
		}
		g := onGrid(t, s.of, 1, 90, 0) // the hills stand on a column
		o, err := FeatureOptions{Scale: 500, Kinds: []Kind{Hill, Saddle}}.Resolve(g)
		require.NoError(t, err)
		found, err := Features(context.Background(), g, o)
		require.NoError(t, err)
		along := AlongOptions{Scale: o.Scale, MinRelief: o.MinRelief}
		saddle := found[len(found)-1]
		require.Equal(t, Saddle, saddle.Kind)
		passed, err := Along(&g.Frame, legAlongRow(g, float64(saddle.Row), 20, 140), found, along)
		require.NoError(t, err)
		assert.Equal(t, []string{"saddle"}, names(passed))
		g = onGrid(t, s.of, 1, 0, 0)
		found, err = Features(context.Background(), g, o)
		require.NoError(t, err)
		passed, err = Along(&g.Frame, legAlongRow(g, 80, 20, 140), found, along)
		require.NoError(t, err)
		assert.Equal(t, []string{"top of a hill", "saddle", "top of a hill"}, names(passed))
	}
}

func TestTurnsOfALeg(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name       string
		elevations []float64
		want       []turn
	}{
		{"level", []float64{5, 5, 5}, nil},
		{"one rise", []float64{0, 10, 20}, nil},
		{"hill", []float64{0, 10, 20, 10, 0}, []turn{{2, 1}}},
		{"hill too low", []float64{0, 4, 0, 4, 0}, nil},
		{"a dip too small on the way up", []float64{0, 10, 6, 30, 0}, []turn{{3, 1}}},
		{"hill and hollow", []float64{0, 20, 0, 20}, []turn{{1, 1}, {2, -1}}},
		{"begins falling", []float64{20, 0, 20}, []turn{{1, -1}}},
		{"slight start", []float64{10, 12, 0, 20, 8}, []turn{{2, -1}, {3, 1}}},
		{"a void parts it", []float64{0, 20, math.NaN(), 0, 20, 0}, []turn{{4, 1}}},
		{"no points", nil, nil},
	} {
		t.Run(test.name, func(t *testing.T) {
			var path []PathPoint
			for i, h := range test.elevations {
				path = append(path, PathPoint{Position{float64(i), 0}, float64(i), h})
			}
			assert.Equal(t, test.want, turns(path, 8))
		})
	}
}

// TestHillsBesideALegAreToldAsBeside: 2026-11-28. A leg that passed 8 posts
// south of a summit, far below it, was told to go over its top.
func TestHillsBesideALegAreToldAsBeside(t *testing.T) {
	t.Parallel()
	f := *onGrid(t, func(x, y float64) float64 { return 0 }, 1, 0, 0)
	g := onGrid(t, func(x, y float64) float64 {
		return 500 + 200*math.Exp(-(x*x+y*y)/(2*250*250))
	}, 1, 0, 0)
	o, err := FeatureOptions{Scale: 500}.Resolve(g)
	require.NoError(t, err)
	found, err := Features(context.Background(), g, o)
	require.NoError(t, err)
	var top *Feature
	for i := range found {
		if found[i].Kind == Hill {
			top = &found[i]
		}
	}
	require.NotNil(t, top)
	options := AlongOptions{Scale: o.Scale, MinRelief: o.MinRelief}
	north := math.Copysign(1, f.DY) // rows to the north of the next
	for _, c := range []struct {
		rows    int // of the leg, south of the summit
		name    string
		aside   float64 // metres, to the left of one who walks east
		reverse bool
	}{
		{0, "top of a hill", 0, false}, {1, "top of a hill", 0, false},
		{7, "high point", -210, false}, {7, "high point", 210, true},
		{-7, "high point", 210, false}, {-7, "high point", -210, true},
	} {
		path := legAlongRow(g, float64(top.Row)-north*float64(c.rows), 20, 140)
		if c.reverse {
			for i, j := 0, len(path)-1; i < j; i, j = i+1, j-1 {
				path[i], path[j] = path[j], path[i]
			}
			for i := range path {
				path[i].Distance = 30 * float64(i)
			}
		}
		passed, err := Along(&g.Frame, path, found, options)
		require.NoError(t, err)
		require.Equal(t, []string{c.name}, names(passed), "%+v", c)
		assert.Equal(t, Hill, passed[0].Kind)
		assert.InDelta(t, c.aside, passed[0].Aside, 0.5, "%+v", c) // m; the grid's spacing is measured
		// a leg that only climbs has no high point of its own there
		passed, err = Along(&g.Frame, path[:len(path)/2+1], found, options)
		require.NoError(t, err)
		if c.aside != 0 {
			require.Equal(t, []string{Beside(Hill)}, names(passed), "%+v", c)
			assert.InDelta(t, c.aside, passed[0].Aside, 0.5)
		}
	}
}
