package visibility

import (
	"context"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile"
)

// LookingLine is the line of sight between two places that people name: the leg
// from the looking point of one to that of the other (dem.LookingPoint), so that
// a summit written beside its post is seen from its top and by its top, and the
// sight back is the same. It is the leg between the places themselves where both
// have one looking point. Errors are profile.Trace's.
func LookingLine(ctx context.Context, posts dem.Posts, from, to geodesy.LatLon) (*profile.Leg, error) {
	a, err := dem.LookingPoint(posts, from)
	if err != nil {
		return nil, err
	}
	b, err := dem.LookingPoint(posts, to)
	if err != nil {
		return nil, err
	}
	if geodesy.Inverse(a, b).Distance < nearestMark {
		a, b = from, to
	}
	return profile.Trace(ctx, posts, a, b)
}

// Standing is the observer on the looking point of its place
// (dem.LookingPoint). Viewshed, Skyline and Along take observers to the letter.
func (o Observer) Standing(posts dem.Posts) (Observer, error) {
	var err error
	o.Place, err = dem.LookingPoint(posts, o.Place)
	return o, err
}

// walkedLine is the leg that a walker's sights are reckoned on: that between the
// looking points of its ends; leg itself where that is it.
func walkedLine(ctx context.Context, posts dem.Posts, leg *profile.Leg) (*profile.Leg, error) {
	a, err := dem.LookingPoint(posts, leg.From)
	if err != nil {
		return nil, err
	}
	b, err := dem.LookingPoint(posts, leg.To)
	if err != nil {
		return nil, err
	}
	if a == leg.From && b == leg.To {
		return leg, nil
	}
	return LookingLine(ctx, posts, leg.From, leg.To)
}

// bareAt is the elevation of the bare ground at a place, metres; NaN where it
// is not known.
func bareAt(posts dem.Posts, place geodesy.LatLon) float64 {
	if under := posts.Under(); under != nil {
		posts = under
	}
	h, err := dem.ElevationAt(posts, place)
	if err != nil {
		return math.NaN() // a failed read is kept by posts
	}
	return h
}
