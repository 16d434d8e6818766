package landform

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/testdata/cumberland"
)

func demoGrid(t testing.TB) *dem.Grid {
	t.Helper()
	ctx := context.Background()
	r, err := gdalio.OpenBytes(cumberland.Name, cumberland.Bytes(), gdalio.Options{})
	require.NoError(t, err)
	g, err := r.Read(ctx, r.Layout().Whole())
	require.NoError(t, err)
	require.NoError(t, r.Close())
	return g
}

// The highest ground of the data is Cross Mountain, Tennessee, given as
// 3 534 ft (1 077 m) near 36.198 N 84.231 W (from memory).
func TestHighestSummitOfTheDemoData(t *testing.T) {
	t.Parallel()
	summits, err := Summits(context.Background(), demoGrid(t), SummitOptions{MinProminence: 100, Isolation: true})
	require.NoError(t, err)
	require.NotEmpty(t, summits)
	top := summits[0]
	const known, error16 = 1077.0, 16.0 // m; SRTM's goal for 90 % of heights
	assert.InDelta(t, known, top.Elevation, error16)
	assert.InDelta(t, 36.198, float64(top.Place.Lat), 0.002)
	assert.InDelta(t, -84.231, float64(top.Place.Lon), 0.002)
	assert.True(t, top.AtLeast)
	assert.Equal(t, -1, top.Parent)
	for _, s := range summits[1:] {
		assert.GreaterOrEqual(t, s.MostProminence, 100.0)
		if s.Parent >= 0 {
			assert.GreaterOrEqual(t, summits[s.Parent].Elevation, s.Elevation)
		}
	}
}

// Steep, much divided ground: every kind of line, hills and the saddles
// between them; no 90 m posts a cliff apart.
func TestFeaturesOfTheDemoData(t *testing.T) {
	t.Parallel()
	g := demoGrid(t)
	o := FeatureOptions{Scale: 600, VerticalError: 5}
	found, err := Features(context.Background(), g, o)
	require.NoError(t, err)
	count := map[Kind]int{}
	for i, f := range found {
		count[f.Kind]++
		assert.GreaterOrEqual(t, f.Relief, 25.0)
		assert.Equal(t, float64(f.Elevation), g.Elevation(f.Column, f.Row))
		if i > 0 && found[i-1].Kind == f.Kind {
			assert.GreaterOrEqual(t, found[i-1].Relief, f.Relief)
		}
		line, err := f.LineString(&g.Frame)
		require.NoError(t, err)
		assert.Len(t, line, len(f.Line))
	}
	for _, k := range []Kind{Hill, Saddle, Ridge, Spur, Valley, Draw} {
		assert.Greater(t, count[k], 30, "%s", k)
	}
	assert.Zero(t, count[Cliff])

	var steps []int64
	o.Progress = func(done, total int64) { steps = append(steps, done, total) }
	again, err := Features(context.Background(), g, o)
	require.NoError(t, err)
	assert.Equal(t, found, again)
	assert.Equal(t, []int64{1, 6, 2, 6, 3, 6, 4, 6, 5, 6, 6, 6}, steps)
	// the shape of the ground round a post is what classify finds
	resolved, err := o.Resolve(g)
	require.NoError(t, err)
	m, err := newMetric(&g.Frame)
	require.NoError(t, err)
	f := &finder{g: g, m: m, o: resolved, classes: ClassifyOptions{Radius: 600, Skip: 150}}
	require.NoError(t, f.classes.validate(m))
	classes, err := classify(g, ClassifyOptions{Radius: 600, Skip: 150})
	require.NoError(t, err)
	for row := -1; row <= g.Rows; row += 7 {
		for column := -1; column <= g.Columns; column++ {
			want, wantKnown := classes.Surroundings(column, row)
			got, known := f.surroundings(column, row)
			require.Equal(t, wantKnown, known)
			require.Equal(t, want, got)
			require.Equal(t, classes.Form(column, row), f.form(column, row))
		}
	}

	o.Kinds = []Kind{Spur}
	spurs, err := Features(context.Background(), g, o)
	require.NoError(t, err)
	assert.Len(t, spurs, count[Spur])
}
