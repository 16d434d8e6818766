package landform

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestFeaturesOfEveryPostAreWhereTheyWere: those of every second post, laid on
// the grid, are at the places where the thinned grid has them.
func TestFeaturesOfEveryPostAreWhereTheyWere(t *testing.T) {
	t.Parallel()
	g := demoGrid(t)
	options := FeatureOptions{Scale: 900, MinRelief: 40, VerticalError: 5}
	thin := g.Every(2)
	want, err := Features(context.Background(), thin, options)
	require.NoError(t, err)
	require.NotEmpty(t, want)
	got, err := FeaturesOfEvery(context.Background(), g, 2, options)
	require.NoError(t, err)
	require.Len(t, got, len(want))
	for i, f := range got {
		assert.Equal(t, want[i].Place, f.Place)
		at, err := g.Place(float64(f.Column), float64(f.Row))
		require.NoError(t, err)
		const tolerance = 1e-9 // degrees; both are the frame's own arithmetic
		assert.InDelta(t, float64(f.Place.Lat), float64(at.Lat), tolerance)
		assert.InDelta(t, float64(f.Place.Lon), float64(at.Lon), tolerance)
		was, err := want[i].LineString(&thin.Frame)
		require.NoError(t, err)
		is, err := f.LineString(&g.Frame)
		require.NoError(t, err)
		require.Len(t, is, len(was))
		for k := range is {
			assert.InDeltaSlice(t, was[k][:], is[k][:], tolerance)
		}
		assert.Len(t, f.Parts, len(want[i].Parts))
	}
	whole, err := FeaturesOfEvery(context.Background(), g, 1, options)
	require.NoError(t, err)
	plain, err := Features(context.Background(), g, options)
	require.NoError(t, err)
	assert.Equal(t, plain, whole)
}
