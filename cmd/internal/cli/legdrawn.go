package cli

import (
	"context"
	"math"

	"crowline/contour"
	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/visibility"
)

// legAnswer is what the drawing of a sheet's leg takes.
type legAnswer struct {
	From, To   place
	OverCover  *coverSight
	levels     contour.Levels
	leg        *profile.Leg
	seen       visibility.Sight
	conditions visibility.Conditions
}

// marksAlong ranks the marks within two degrees of a leg, as far as markReach.
// Only the ground that this takes is read; the prominence of summits is told
// within a window that holds the sector and the hills beside it.
func marksAlong(ctx context.Context, g *ground, places *placeFlags, leg *profile.Leg, observer visibility.Observer, conditions visibility.Conditions) ([]visibility.Landmark, error) {
	reach := markReach(leg)
	far, _ := geodesy.Direct(leg.From, leg.Start, reach)
	margin := math.Max(2000, reach*2*visibility.DefaultWithin.Sin())
	posts := g.posts(ctx)
	window, err := dem.WindowAround(posts.Layout(), geodesy.Waypoints(leg.From, far, 24), margin)
	if err != nil {
		return nil, err
	}
	summits, err := visibility.SummitsAlong(ctx, posts, window, leg.From, leg.Start, visibility.DefaultWithin, reach, g.prominence())
	if err != nil {
		return nil, err
	}
	list, err := withPlaces(summits, places)
	if err != nil {
		return nil, err
	}
	opts := visibility.LandmarkOptions{Conditions: conditions, Radius: reach, Leg: leg, VerticalError: g.verticalError}
	return visibility.Landmarks(ctx, posts, observer, list, opts)
}

// markReach is how far from a leg's start marks are looked for.
func markReach(leg *profile.Leg) float64 {
	return leg.Distance + math.Max(markMargin, leg.Distance/2)
}
