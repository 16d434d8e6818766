package answer

import (
	"context"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile"
	"crowline/visibility"
)

// maxLeg is the longest line that is worked out, metres.
const maxLeg = profile.MaxLength

// GroundSeen is what is seen along a bearing.
type GroundSeen struct {
	// How far the stretches go: to the radius or the edge of the data. The
	// skyline is looked for beyond.
	ToM float64 `json:"to_m" round:"1"`
	// Which ground on the bearing is seen.
	Stretches []Stretch `json:"stretches"`
	// How far off the ground is that makes the skyline; null where none is known.
	SkylineM float64 `json:"skyline_m" round:"1"`
	// How high it is.
	SkylineElevation float64 `json:"skyline_elevation_m" round:"1"`
	// Its angle above the horizontal.
	SkylineAngleDeg float64 `json:"skyline_angle_deg" round:"3"`
	// Where it is.
	Skyline *Spot `json:"skyline,omitempty"`
	// It stands on ground that was a void and has been filled.
	SkylineFilled bool `json:"skyline_filled,omitempty"`
	// How much of the skyline's elevation stands on the ground.
	SkylineCoverM float64 `json:"skyline_cover_m,omitempty" round:"1"`
	// How much of what is seen is the top of what stands on the ground.
	TopsSeenM float64 `json:"tops_seen_m,omitempty" round:"1"`
	// On how much of the line only the cover is not known.
	CoverUnknownM float64 `json:"cover_unknown_m,omitempty" round:"1"`
	// The part of the line on filled ground; left out where there is none.
	Filled *FilledLine `json:"filled_ground,omitempty"`
}

// seenAlong is what is seen along a bearing to a radius, 0 for the edge of the
// data, and the skyline of the ground as far as far, likewise.
func seenAlong(ctx context.Context, posts dem.Posts, observer visibility.Observer, conditions visibility.Conditions, b geodesy.TrueBearing, radius, far float64) (*GroundSeen, error) {
	leg, err := traceBearing(ctx, posts, observer.Place, b, radius)
	if err != nil {
		return nil, err
	}
	behind := leg
	if radius > 0 {
		if behind, err = traceBearing(ctx, posts, observer.Place, b, far); err != nil {
			return nil, err
		}
	}
	return groundSeen(leg, behind, observer, conditions)
}

// groundSeen is what is seen along a leg; the skyline is that of behind, the
// same line carried on.
func groundSeen(leg, behind *profile.Leg, observer visibility.Observer, conditions visibility.Conditions) (*GroundSeen, error) {
	seen, err := visibility.GroundAlong(leg, observer, conditions)
	if err != nil {
		return nil, err
	}
	on, err := visibility.GroundAlong(behind, observer, conditions)
	if err != nil {
		return nil, err
	}
	seen.Skyline, seen.Elevation, seen.Angle, seen.SkylineCover = on.Skyline, on.Elevation, on.Angle, on.SkylineCover
	out := &GroundSeen{
		ToM: leg.Covered, Stretches: sightStretches(seen.Seen), SkylineM: seen.Skyline, SkylineElevation: seen.Elevation,
		SkylineAngleDeg: float64(seen.Angle), SkylineCoverM: seen.SkylineCover, TopsSeenM: seen.Tops, CoverUnknownM: leg.CoverUnknown(),
	}
	if seen.Skyline == seen.Skyline { // not NaN
		at := spot(PlaceAt(behind.PlaceAt(seen.Skyline)), seen.Elevation-seen.SkylineCover)
		out.Skyline, out.SkylineFilled = &at, behind.FilledAt(seen.Skyline)
	}
	if len(leg.Filled()) > 0 {
		out.Filled = filledLine(leg)
	}
	return out, nil
}

// traceBearing lays a line along a bearing to the radius, or to the data's edge
// when that is 0.
func traceBearing(ctx context.Context, posts dem.Posts, from geodesy.LatLon, b geodesy.TrueBearing, radius float64) (*profile.Leg, error) {
	if radius <= 0 {
		radius = maxLeg * 0.999
	}
	to, _ := geodesy.Direct(from, b, radius)
	return profile.Trace(ctx, posts, from, to)
}
