package cli

// What tests read of answers that hold names of things, which do not decode
// into package answer's own types.

// skylineAnswer is what tests read of a skyline.
type skylineAnswer struct {
	Highest *horizonJSON `json:"highest"`
	Lowest  *horizonJSON `json:"lowest"`
	Filled  *struct {
		Bearings int `json:"bearings"`
		Of       int `json:"of_bearings"`
	} `json:"filled"`
	Cover *struct {
		Of       int     `json:"of_bearings"`
		StepDeg  float64 `json:"step_deg"`
		Tops     int     `json:"made_by_cover_bearings"`
		Raised   int     `json:"raised_bearings"`
		NotKnown int     `json:"no_longer_known_bearings"`
		MostDeg  float64 `json:"most_raised_deg"`
	} `json:"cover"`
	Peaks []struct {
		Name string  `json:"name"`
		Lat  float64 `json:"lat"`
		Lon  float64 `json:"lon"`
		horizonJSON
	} `json:"peaks"`
	Horizon []horizonJSON `json:"horizon"`
}

type horizonJSON struct {
	TrueDeg      float64  `json:"true_deg"`
	MagneticDeg  *float64 `json:"magnetic_deg"`
	AngleDeg     *float64 `json:"angle_deg"`
	DistanceM    *float64 `json:"distance_m"`
	ElevationM   *float64 `json:"elevation_m"`
	Known        bool     `json:"known"`
	Filled       bool     `json:"filled"`
	CoverM       float64  `json:"cover_m"`
	BareAngleDeg *float64 `json:"bare_ground_angle_deg"`
}

// sightAnswer is what tests read of a sight.
type sightAnswer struct {
	Sight     sightJSON       `json:"sight"`
	OverCover *coverJSON      `json:"over_cover"`
	Filled    *filledLineJSON `json:"filled_ground"`
}

// lookAnswer is what tests read of a sight along a bearing.
type lookAnswer struct {
	Ground     *groundSeenJSON `json:"ground_along"`
	GroundBare *groundSeenJSON `json:"bare_ground_along"`
	OverCover  *struct {
		Name string `json:"name"`
	} `json:"over_cover"`
}

type groundSeenJSON struct {
	Stretches        []stretchJSON `json:"stretches"`
	SkylineM         *float64      `json:"skyline_m"`
	SkylineElevation *float64      `json:"skyline_elevation_m"`
	SkylineCoverM    float64       `json:"skyline_cover_m"`
	TopsSeenM        float64       `json:"tops_seen_m"`
	CoverUnknownM    float64       `json:"cover_unknown_m"`
	Skyline          *struct {
		ElevationM *float64 `json:"elevation_m"`
	} `json:"skyline"`
}

// landmarksAnswer is what tests read of landmarks.
type landmarksAnswer struct {
	Ground        *groundSeenJSON `json:"ground_along"`
	GroundBare    *groundSeenJSON `json:"bare_ground_along"`
	Marks         []markJSON      `json:"marks"`
	DependOnCover *int            `json:"marks_depending_on_cover"`
	ForFix        *fixMarksJSON   `json:"for_fix"`
}

type fixMarksJSON struct {
	PlaceErrorM float64       `json:"mark_place_error_m"`
	Two         []markSetJSON `json:"sets_of_two"`
	Three       []markSetJSON `json:"sets_of_three"`
	IfSeen      *markSetJSON  `json:"set_of_two_if_seen"`
	SureKnown   bool          `json:"likelihood_known"`
}

type markSetJSON struct {
	Marks []struct {
		Rank        int      `json:"rank"`
		Lat         float64  `json:"lat"`
		Lon         float64  `json:"lon"`
		TrueDeg     float64  `json:"true_deg"`
		Probability *float64 `json:"probability"`
	} `json:"marks"`
	SemiMajorM  float64 `json:"semi_major_95_m"`
	SemiMinorM  float64 `json:"semi_minor_95_m"`
	CrossingDeg float64 `json:"crossing_deg"`
	Doubtful    int     `json:"doubtful_marks"`
}
