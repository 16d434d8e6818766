package cli

import (
	"crowline/profile/magnetic"
	"crowline/visibility"
)

// markJSON is a mark in JSON.
type markJSON struct {
	Rank              int           `json:"rank"`
	Kind              string        `json:"kind"`
	At                place         `json:"place"`
	ProminenceM       *float64      `json:"prominence_m"`
	ProminenceAtLeast bool          `json:"prominence_at_least"`
	TrueDeg           float64       `json:"true_deg"`
	MagneticDeg       *float64      `json:"magnetic_deg"`
	OffBearingDeg     *float64      `json:"off_bearing_deg"`
	DistanceM         float64       `json:"distance_m"`
	Sight             sightJSON     `json:"sight"`
	OverCover         *coverJSON    `json:"over_cover,omitempty"`
	OverBare          *sightJSON    `json:"over_bare_ground,omitempty"` // where Sight is over cover
	DependsOnCover    bool          `json:"depends_on_cover,omitempty"`
	OwnSlope          bool          `json:"hidden_by_own_slope"`
	SeenBy            *place        `json:"seen_by_its_top,omitempty"` // the post its sight is of
	Backdrop          string        `json:"behind,omitempty"`
	BehindM           *float64      `json:"ground_behind_at_m"`
	BehindCoverM      float64       `json:"behind_cover_m,omitempty"` // of it, what stands on the ground
	AngularHeightDeg  *float64      `json:"angular_height_deg"`
	AngularWidthDeg   *float64      `json:"angular_width_deg"`
	TooSmall          bool          `json:"too_small"`
	Filled            bool          `json:"on_filled_ground,omitempty"`
	KeptShare         *float64      `json:"kept_in_view_share"`
	Kept              []stretchJSON `json:"kept_in_view,omitempty"`
	Score             float64       `json:"score"`
	Why               string        `json:"why"`
}

func describeMark(rank int, l *visibility.Landmark, field magnetic.Field, fieldError error, directed bool, u units) markJSON {
	j := markJSON{
		Rank: rank, Kind: l.Kind, At: describePlace(namedPlace{l.Name, l.Place}, l.Elevation),
		ProminenceM: rounded(l.Prominence, 1), ProminenceAtLeast: l.ProminenceAtLeast,
		TrueDeg: *rounded(float64(l.Bearing), 2), DistanceM: *rounded(l.Distance, 1), Sight: describeSight(l.Sight, nil),
		OwnSlope: l.OwnSlope, Backdrop: l.Backdrop.String(), TooSmall: l.TooSmall, Score: *rounded(l.Score, 4), Why: l.Explain(u.lengths()),
	}
	if fieldError == nil && field.Zone != magnetic.Blackout {
		j.MagneticDeg = rounded(float64(field.Declination.Magnetic(l.Bearing)), 1)
	}
	if directed {
		j.OffBearingDeg = rounded(float64(l.OffBearing), 2)
	}
	if l.Sight.Verdict == visibility.Visible {
		j.BehindM, j.BehindCoverM = rounded(l.BehindAt, 0), *rounded(l.BehindCover, 1)
		j.AngularHeightDeg, j.AngularWidthDeg = rounded(float64(l.AngularHeight), 3), rounded(float64(l.AngularWidth), 3)
	}
	if l.Top != nil {
		top := describePlace(namedPlace{LatLon: *l.Top}, l.TopElevation)
		j.SeenBy = &top
	}
	if l.Kept != nil {
		j.Kept, j.KeptShare = sightStretches(l.Kept), rounded(l.KeptShare, 3)
	}
	return j
}

// lengths are the library's sentences in these units.
func (u units) lengths() visibility.Lengths {
	return visibility.Lengths{Distance: u.distance, Height: u.height}
}
