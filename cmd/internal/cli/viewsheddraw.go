package cli

import (
	"context"
	"errors"

	"crowline/dem"
	"crowline/visibility"
)

// drawViewshed draws the views over shaded relief.
func drawViewshed(_ context.Context, path string, _ *dem.Grid, _ []*visibility.Viewed, _ *visibility.Combined, _ viewshedAnswer, _ units) ([]string, error) {
	return nil, errors.New("drawing " + path + " is not there yet; write .tif or .geojson")
}
