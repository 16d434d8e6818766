package cli

import (
	"crowline/visibility"
)

// sightJSON is a sight in JSON.
type sightJSON struct {
	Verdict           string   `json:"verdict"`
	ClearanceM        *float64 `json:"clearance_m"`
	ClearanceAtM      *float64 `json:"clearance_at_m"`
	ElevationAngleDeg *float64 `json:"elevation_angle_deg"`
	BlockedAtM        *float64 `json:"blocked_at_m"`
	BlockerElevationM *float64 `json:"blocker_elevation_m"`
	ExtraHeightM      *float64 `json:"extra_height_m"`
	ExtraEyeHeightM   *float64 `json:"extra_eye_height_m"`
	// BlockedBy is "ground", "cover" where only what stands on it hides the
	// target there, or "ground and cover" where the ground would alone.
	// BlockerCoverM is how much of the blocker's elevation stands on the
	// ground, BareExtraM the extra height were there nothing on it.
	BlockedBy     string   `json:"blocked_by,omitempty"`
	BlockerCoverM *float64 `json:"blocker_cover_m,omitempty"`
	BareExtraM    *float64 `json:"bare_ground_extra_height_m,omitempty"`
	// CoverUnknown: unknown, and only because what stands on the ground is.
	CoverUnknown bool `json:"cover_unknown,omitempty"`
	// ExtraAtLeast: part of the way is not known, and may ask for more.
	ExtraAtLeast bool `json:"extra_at_least,omitempty"`
	// OwnGround: only ground within a post of the target hides it, and by no
	// more than the data's error; that ground is in sight.
	OwnGround      bool     `json:"own_ground,omitempty"`
	ComesIntoViewM *float64 `json:"comes_into_view_m"`
	// BlockerFilled: the ground that hides the target was filled in.
	// RestsOnFilled: the verdict would not be known had the voids stayed.
	BlockerFilled bool          `json:"blocker_filled,omitempty"`
	RestsOnFilled bool          `json:"rests_on_filled,omitempty"`
	Likely        *likelyJSON   `json:"likelihood"`
	WhileWalking  []stretchJSON `json:"while_walking,omitempty"`
}

func describeSight(s visibility.Sight, walking []visibility.Stretch) sightJSON {
	j := sightJSON{
		Verdict: s.Verdict.String(), ClearanceM: rounded(s.Nearest, 2), ClearanceAtM: rounded(s.NearestAt, 1),
		ElevationAngleDeg: rounded(float64(s.Angle), 3), BlockedAtM: rounded(s.BlockedAt, 1), BlockerElevationM: rounded(s.BlockerElevation, 1),
		BlockedBy: s.BlockedBy.String(), CoverUnknown: s.CoverUnknown,
	}
	if s.BlockerCover > 0 {
		j.BlockerCoverM, j.BareExtraM = rounded(s.BlockerCover, 1), rounded(s.BareExtra, 2)
	}
	if s.Verdict != visibility.Unknown {
		j.ExtraHeightM, j.ExtraEyeHeightM, j.ExtraAtLeast = rounded(s.TargetExtra, 2), rounded(s.EyeExtra, 2), s.AtLeast
	}
	if walking != nil {
		j.WhileWalking = sightStretches(walking)
		if s.Verdict == visibility.Hidden {
			if at, ok := firstSeen(walking); ok {
				j.ComesIntoViewM = rounded(at, 1)
			}
		}
	}
	return j
}

// firstSeen is the distance along the leg at which the destination is first
// seen.
func firstSeen(walking []visibility.Stretch) (float64, bool) {
	for _, s := range walking {
		if s.Verdict == visibility.Visible {
			return s.From, true
		}
	}
	return 0, false
}
