package visibility

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// TestCompareCoveredByHand: six posts, every change there is.
func TestCompareCoveredByHand(t *testing.T) {
	t.Parallel()
	nan := float32(math.NaN())
	frame := dem.Frame{Columns: 4, Rows: 2, X0: 720000, Y0: 4050000, DX: 10, DY: -10, CRS: utm17}
	ground := &dem.Grid{Frame: frame, Elevations: []float32{100, 100, 100, 100, 100, 100, nan, 100}}
	covered := &dem.Grid{Frame: frame, Elevations: []float32{100, 120, 120, nan, 100, 100, nan, 120}}
	view := func(v ...Verdict) *Viewed { return &Viewed{Window: ground.Whole(), Frame: frame, Verdicts: v} }
	bare := view(Visible, Visible, Hidden, Visible, Unknown, Visible, Unknown, OutOfRange)
	over := view(Visible, Hidden, Visible, Unknown, Hidden, Visible, Unknown, OutOfRange)
	assert.Equal(t, CoverChange{
		Asked: 7, Changed: 4, Lost: 1, Gained: 1, ToUnknown: 1, Settled: 1,
		TopsSeen: 1, UnknownCover: 1, // the void has no ground to stand on
	}, CompareCovered(bare, over, ground, covered))
	assert.Equal(t, CoverChange{Asked: 7}, CompareCovered(bare, bare, ground, ground))
}

// TestCompareSkylinesByHand: raised by more and by less than counts, lowered,
// and no longer known.
func TestCompareSkylinesByHand(t *testing.T) {
	t.Parallel()
	nan := geodesy.Degrees(math.NaN())
	line := func(angles ...geodesy.Degrees) *Horizon {
		h := &Horizon{}
		for i, a := range angles {
			p := HorizonPoint{Bearing: geodesy.TrueBearing(10 * i), Angle: a, Verdict: Visible}
			if a != a {
				p.Verdict = Unknown
			}
			h.Points = append(h.Points, p)
		}
		return h
	}
	got := CompareSkylines(line(1, 1, 1, 1, nan), line(1.05, 3, 0.5, nan, 2), 0.1)
	assert.Equal(t, SkylineChange{Raised: 1, NotKnown: 1, Most: 2, MostAt: 10}, got)
}

// TestLandmarksCovered: a wood between hides one of two marks, ranks it last,
// and leaves it the sight it had over the bare ground.
func TestLandmarksCovered(t *testing.T) {
	t.Parallel()
	g := sightGrid(60, 9, func(c, r int) float64 { return float64(c) })
	place := func(c, r float64) geodesy.LatLon {
		p, err := g.Place(c, r)
		require.NoError(t, err)
		return p
	}
	wood := &dem.Grid{Frame: g.Frame, Elevations: make([]float32, len(g.Elevations))}
	for r := range 9 { // across the way to the farther mark
		wood.Elevations[r*60+30] = 50
	}
	layer, err := dem.LayCover(t.Context(), g, dem.RasterCover(wood, dem.CoverOptions{}), dem.LayOptions{})
	require.NoError(t, err)
	o := Observer{Place: place(2, 4), EyeAboveGround: 1.6}
	opts := DefaultLandmarkOptions()
	marks, err := Landmarks(t.Context(), g, o, []Candidate{{Name: "near", Place: place(20, 4)}, {Name: "far", Place: place(50, 4)}}, opts)
	require.NoError(t, err)
	reports := 0
	opts.Progress = func(done, total int64) {
		reports++
		assert.EqualValues(t, reports, done)
		assert.EqualValues(t, 2, total)
	}
	over, bare, err := LandmarksCovered(t.Context(), layer, 0, o, marks, opts)
	require.NoError(t, err)
	require.Len(t, over, 2)
	require.Len(t, bare, 2)
	assert.Equal(t, 2, reports)
	assert.Equal(t, []string{"near", "far"}, []string{over[0].Name, over[1].Name})
	assert.Equal(t, []Verdict{Visible, Hidden}, []Verdict{over[0].Sight.Verdict, over[1].Sight.Verdict})
	assert.Equal(t, []Verdict{Visible, Visible}, []Verdict{bare[0].Verdict, bare[1].Verdict})
	opts.Progress = nil
	_, _, err = LandmarksCovered(t.Context(), layer, -1, o, marks, opts)
	assert.Error(t, err, "no clearing of such a width")
}
