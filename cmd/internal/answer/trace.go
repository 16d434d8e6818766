package answer

import (
	"context"

	"crowline/dem"
	"crowline/profile"
	"crowline/profile/magnetic"
	"crowline/visibility"
)

// traced is the straight line from a place to another: as it is walked, as it is
// looked along, and by which bearings.
type traced struct {
	posts       dem.Posts
	leg, line   *profile.Leg
	observer    visibility.Observer
	from, to    Spot
	bearing     Bearings
	declination *MagneticDeclination
}

// trace follows the ground from a place to another.
func (g *Ground) trace(ctx context.Context, from, to Place, s Sighting, n Needle) (*traced, error) {
	t := &traced{posts: g.posts(ctx)}
	var err error
	if t.leg, err = profile.Trace(ctx, t.posts, from.LatLon, to.LatLon); err != nil {
		return nil, err
	}
	if t.line, err = visibility.LookingLine(ctx, t.posts, from.LatLon, to.LatLon); err != nil {
		return nil, err
	}
	t.observer = s.observer(t.line.From)
	start, destination := t.leg.Points[0].Elevation, nan
	if t.leg.Covered >= t.leg.Distance {
		destination = t.leg.Points[len(t.leg.Points)-1].Elevation
	}
	t.from, t.to = spot(from, start), spot(to, destination)
	b := magnetic.Follow(t.leg.Geodesic, from.LatLon, to.LatLon, start, n.source())
	t.bearing, t.declination = bearings(b, n.Compass), declination(b.Field, b.FieldError, n)
	return t, nil
}
