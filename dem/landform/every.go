package landform

import (
	"context"

	"crowline/dem"
)

// FeaturesOfEvery are the features of every nth column and row of a grid
// (dem.Grid.Every), with their positions on the grid itself: for a grid finer
// than the scale asks for that is wanted whole for something else. Panics if
// n < 1.
func FeaturesOfEvery(ctx context.Context, g *dem.Grid, n int, o FeatureOptions) ([]Feature, error) {
	found, err := Features(ctx, g.Every(n), o)
	if n == 1 || err != nil {
		return found, err
	}
	wider := func(list []Position) {
		for i := range list {
			list[i].Column *= float64(n)
			list[i].Row *= float64(n)
		}
	}
	for i := range found {
		f := &found[i]
		f.Column *= n
		f.Row *= n
		wider(f.Line)
		for _, part := range f.Parts {
			wider(part)
		}
	}
	return found, nil
}
