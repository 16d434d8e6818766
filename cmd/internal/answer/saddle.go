package answer

import (
	"context"
	"errors"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/visibility/scene"
)

// saddleOf is the saddle of the ground that a notch is, as a leg that crossed it
// would be told; nil for any other thing, and where the notch is no saddle: two
// ridges, one behind the other, make one as well.
func (g *Ground) saddleOf(ctx context.Context, view *scene.View, t scene.Thing) (*Spot, error) {
	if t.Kind != scene.Notch || t.Side != 0 {
		return nil, nil
	}
	at := []geodesy.LatLon{t.Place}
	spacing, err := g.spacingAround(at, 1)
	if err != nil {
		return nil, nil //nolint:nilerr // beyond the data there is none to tell
	}
	opts := landformOptions(spacing, g.verticalError)
	opts.Kinds = []landform.Kind{landform.Saddle}
	// the hills on both sides of a saddle make it one
	margin := math.Max(policy.NotchSaddle, 4*opts.Scale)
	grid, _, err := g.thinned(ctx, at, margin, landformPosts(opts), landformPostBytes)
	var large *dem.TooLargeError
	switch {
	case errors.As(err, &large):
		return nil, nil
	case err != nil:
		return nil, err
	}
	if opts, err = opts.Resolve(grid); err != nil {
		return nil, nil //nolint:nilerr // posts too far apart for landforms
	}
	found, err := landform.Features(ctx, grid, opts)
	if err != nil {
		return nil, err
	}
	var places []geodesy.LatLon
	var elevations []float64
	for _, f := range found {
		p, err := grid.Place(float64(f.Column), float64(f.Row))
		if err != nil {
			return nil, err
		}
		places, elevations = append(places, p), append(elevations, float64(f.Elevation))
	}
	i := view.Saddle(t, places)
	if i < 0 {
		return nil, nil
	}
	s := spot(PlaceAt(places[i]), elevations[i])
	return &s, nil
}
