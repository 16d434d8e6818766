package visibility

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
)

// TestSummitsAlongAreAllOfThem: those of the whole window that lie in the
// sector, with the same prominence, whichever way it points.
func TestSummitsAlongAreAllOfThem(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	found := 0
	for seed := range uint64(150) {
		random := rand.New(rand.NewPCG(seed, 12))
		smooth := hills(seed)
		g := sightGrid(90, 70, func(c, r int) float64 { return smooth(c, r) + float64(random.IntN(40)) })
		from, err := g.Place(90*random.Float64(), 70*random.Float64())
		require.NoError(t, err)
		bearing := geodesy.NewTrueBearing(geodesy.Degrees(360 * random.Float64()))
		within := geodesy.Degrees(math.Pow(10, 2*random.Float64()-0.3))
		within = min(within, 89)
		reach := 500 + 8000*random.Float64()
		window := dem.Window{Column: random.IntN(10), Row: random.IntN(10), Columns: 60 + random.IntN(20), Rows: 40 + random.IntN(20)}
		part := &dem.Grid{Frame: g.Frame.Sub(window), Window: window}
		for r := range window.Rows {
			part.Elevations = append(part.Elevations, g.Elevations[(window.Row+r)*g.Columns+window.Column:][:window.Columns]...)
		}
		const prominence = 12
		all, err := landform.Summits(ctx, part, landform.SummitOptions{MinProminence: prominence})
		require.NoError(t, err)
		var want []landform.Summit
		for _, s := range all {
			line := geodesy.Inverse(from, s.Place)
			if line.Distance <= reach && math.Abs(float64(geodesy.Difference(bearing, line.Start))) <= float64(within) {
				want = append(want, s)
			}
		}
		got, err := SummitsAlong(ctx, g, window, from, bearing, within, reach, prominence)
		require.NoError(t, err)
		require.Len(t, got, len(want), "seed %d", seed)
		for i := range want {
			found++
			assert.Equal(t, want[i].Column+window.Column, got[i].Column)
			assert.Equal(t, want[i].Row+window.Row, got[i].Row)
			assert.Equal(t, want[i].Prominence, got[i].Prominence)
			assert.Equal(t, want[i].AtLeast, got[i].AtLeast)
		}
	}
	assert.Greater(t, found, 100)
	g := sightGrid(10, 10, hills(1))
	for _, bad := range [][2]float64{{0, 100}, {90, 100}, {2, 0}, {2, math.Inf(1)}} {
		_, err := SummitsAlong(ctx, g, g.Whole(), geodesy.LatLon{Lat: 36.6, Lon: -84.4}, 0, geodesy.Degrees(bad[0]), bad[1], 10)
		assert.Error(t, err)
	}
}

// TestMarksOfPostsAreThoseOfTheGrid: landmarks do not depend on how the posts
// are kept.
func TestMarksOfPostsAreThoseOfTheGrid(t *testing.T) {
	t.Parallel()
	g := sightGrid(80, 80, hills(9))
	leg := traceCells(t, g, 5, 70, 70, 8)
	summits, err := landform.Summits(context.Background(), g, landform.SummitOptions{MinProminence: 10})
	require.NoError(t, err)
	opts := DefaultLandmarkOptions()
	opts.Leg, opts.Within = leg, 60
	want, err := Landmarks(context.Background(), g, Observer{Place: leg.From, EyeAboveGround: 100}, SummitCandidates(summits), opts)
	require.NoError(t, err)
	require.Greater(t, len(want), 3)
	got, err := Landmarks(context.Background(), struct{ dem.Posts }{g}, Observer{Place: leg.From, EyeAboveGround: 100}, SummitCandidates(summits), opts)
	require.NoError(t, err)
	require.Len(t, got, len(want))
	visible := 0
	for i := range want {
		if want[i].Sight.Verdict == Visible {
			visible++
		}
		assert.Equal(t, want[i].Why, got[i].Why)
		assert.Equal(t, want[i].Kept, got[i].Kept)
	}
	assert.Positive(t, visible)
}
