package answer

import (
	"context"

	"crowline/dem"
	"crowline/dem/landform"
	"crowline/dem/units"
	"crowline/profile"
	"crowline/profile/magnetic"
	"crowline/visibility"
)

// Mark is something that might be sighted.
type Mark struct {
	// Its place in the list, from 1.
	Rank int `json:"rank"`
	// "summit", "place", or the word its source has for it.
	Kind string `json:"kind"`
	// Where it is.
	At Spot `json:"place"`
	// How far a summit stands above the saddle to higher ground; null where it
	// is not known.
	ProminenceM float64 `json:"prominence_m" round:"1"`
	// The prominence may be more: the data ends before the saddle.
	ProminenceAtLeast bool `json:"prominence_at_least"`
	// Bearing from true north.
	TrueDeg float64 `json:"true_deg" round:"2"`
	// Bearing from magnetic north; null where the model has no answer.
	MagneticDeg float64 `json:"magnetic_deg" round:"1"`
	// How far it lies right of the bearing asked about; null where none was.
	OffBearingDeg float64 `json:"off_bearing_deg" round:"2"`
	// How far off it is.
	DistanceM float64 `json:"distance_m" round:"1"`
	// Whether it is seen.
	Sight SightLine `json:"sight"`
	// The same over what stands on the ground.
	OverCover *CoverSight `json:"over_cover,omitempty"`
	// Where sight is over cover, the same over the bare ground.
	OverBare *SightLine `json:"over_bare_ground,omitempty"`
	// Over the bare ground the verdict is another.
	DependsOnCover bool `json:"depends_on_cover,omitempty"`
	// What hides it is its own hill, which is in sight.
	OwnSlope bool `json:"hidden_by_own_slope"`
	// The top of its own ground that it is seen by, where that stands farther
	// from it than places are written to.
	SeenBy *Spot `json:"seen_by_its_top,omitempty"`
	// What stands behind it: "sky", "ground" or "unknown".
	Backdrop string `json:"behind,omitempty"`
	// How far off the ground behind it is.
	BehindM float64 `json:"ground_behind_at_m" round:"0"`
	// Of the ground behind, what stands on it.
	BehindCoverM float64 `json:"behind_cover_m,omitempty" round:"1"`
	// How far it stands out, as an angle.
	AngularHeightDeg float64 `json:"angular_height_deg" round:"3"`
	// How wide it looks half of that down.
	AngularWidthDeg float64 `json:"angular_width_deg" round:"3"`
	// Too small for the eye to tell.
	TooSmall bool `json:"too_small"`
	// It stands on ground that was a void and has been filled.
	Filled bool `json:"on_filled_ground,omitempty"`
	// The share of the walk, as far as abreast of it, from which it is seen.
	KeptShare float64 `json:"kept_in_view_share" round:"3"`
	// From which parts of the walk it is seen.
	Kept []Stretch `json:"kept_in_view,omitempty"`
	// Which it is of the things in view, by their rank; left out for none.
	InViewRank *int `json:"in_view_rank,omitempty"`
	// What it is ranked by, from 0 to 1.
	Score float64 `json:"score"`
	// Why it stands where it does, in metres.
	Why string `json:"why"`

	landmark *visibility.Landmark
}

// Full is the mark as the library gives it.
func (m *Mark) Full() *visibility.Landmark { return m.landmark }

func mark(rank int, l *visibility.Landmark, field magnetic.Field, fieldError error, directed bool) Mark {
	m := Mark{
		Rank: rank, Kind: l.Kind, At: spot(Place{Name: l.Name, LatLon: l.Place}, l.Elevation),
		ProminenceM: l.Prominence, ProminenceAtLeast: l.ProminenceAtLeast,
		TrueDeg: float64(l.Bearing), MagneticDeg: nan, OffBearingDeg: nan, DistanceM: l.Distance, Sight: sightLine(l.Sight, nil),
		OwnSlope: l.OwnSlope, Backdrop: l.Backdrop.String(), BehindM: nan, AngularHeightDeg: nan, AngularWidthDeg: nan,
		TooSmall: l.TooSmall, KeptShare: nan, Score: l.Score, Why: l.Explain(lengths(units.Metric)), landmark: l,
	}
	if fieldError == nil && field.Zone != magnetic.Blackout {
		m.MagneticDeg = float64(field.Declination.Magnetic(l.Bearing))
	}
	if directed {
		m.OffBearingDeg = float64(l.OffBearing)
	}
	if l.Sight.Verdict == visibility.Visible {
		m.BehindM, m.BehindCoverM = l.BehindAt, l.BehindCover
		m.AngularHeightDeg, m.AngularWidthDeg = float64(l.AngularHeight), float64(l.AngularWidth)
	}
	if l.Top != nil {
		top := spot(PlaceAt(*l.Top), l.TopElevation)
		m.SeenBy = &top
	}
	if l.Kept != nil {
		m.Kept, m.KeptShare = sightStretches(l.Kept), l.KeptShare
	}
	return m
}

// filledMark marks a mark that stands on filled ground, and a sight of it that
// rests on some.
func (m *Mark) filledMark(ctx context.Context, posts dem.Posts, observer visibility.Observer, conditions visibility.Conditions) error {
	l := m.landmark
	if column, row, err := posts.Layout().Locate(l.LookedAt); err == nil {
		m.Filled = dem.FilledAt(posts, column, row)
	}
	if l.Sight.Verdict == visibility.Unknown {
		return posts.Err()
	}
	leg, err := profile.Trace(ctx, posts, observer.Place, l.LookedAt)
	if err != nil {
		return err
	}
	if l.AboveGround > 0 {
		conditions.TargetAboveGround = l.AboveGround
	}
	return m.Sight.rests(leg, observer, conditions)
}

// withPlaces are summits and the user's places.
func withPlaces(summits []landform.Summit, places []Place) []visibility.Candidate {
	out := visibility.SummitCandidates(summits)
	for _, p := range places {
		c := visibility.PlaceCandidate(p.Name, p.LatLon)
		if p.Kind != "" {
			c.Kind = p.Kind
		}
		if p.Elevation == p.Elevation { // not NaN
			c.Elevation = p.Elevation
		}
		out = append(out, c)
	}
	return out
}

// lengths are the library's sentences in these units.
func lengths(u units.System) visibility.Lengths {
	return visibility.Lengths{Distance: u.Distance, Height: u.Height}
}
