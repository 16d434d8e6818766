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
	BlockedBy     string   `json:"blocked_by"`
	BlockerCoverM *float64 `json:"blocker_cover_m"`
	BareExtraM    *float64 `json:"bare_ground_extra_height_m"`
	// CoverUnknown: unknown, and only because what stands on the ground is.
	CoverUnknown bool `json:"cover_unknown"`
	// ExtraAtLeast: part of the way is not known, and may ask for more.
	ExtraAtLeast   bool     `json:"extra_at_least"`
	ComesIntoViewM *float64 `json:"comes_into_view_m"`
	// BlockerFilled: the ground that hides the target was filled in.
	// RestsOnFilled: the verdict would not be known had the voids stayed.
	BlockerFilled bool          `json:"blocker_filled"`
	RestsOnFilled bool          `json:"rests_on_filled"`
	Likely        *likelyJSON   `json:"likelihood"`
	WhileWalking  []stretchJSON `json:"while_walking"`
}

// likelyJSON is how sure a sight is.
type likelyJSON struct {
	Word             string   `json:"word"`
	Probability      *float64 `json:"probability"`
	AtMost           *float64 `json:"at_most"`
	StandardError    *float64 `json:"standard_error"`
	VerticalErrorM   float64  `json:"vertical_error_m"`
	CorrelationM     float64  `json:"correlation_length_m"`
	RefractionSigmaK float64  `json:"refraction_sigma_k"`
	Samples          int      `json:"samples"`
	// WithoutFilled: filled ground was taken as not known, for nobody knows
	// how good it is.
	WithoutFilled bool `json:"filled_ground_left_out"`
}

// markJSON is a mark in JSON.
type markJSON struct {
	Rank              int           `json:"rank"`
	Kind              string        `json:"kind"`
	At                placeTold     `json:"place"`
	ProminenceM       *float64      `json:"prominence_m"`
	ProminenceAtLeast bool          `json:"prominence_at_least"`
	TrueDeg           float64       `json:"true_deg"`
	MagneticDeg       *float64      `json:"magnetic_deg"`
	OffBearingDeg     *float64      `json:"off_bearing_deg"`
	DistanceM         float64       `json:"distance_m"`
	Sight             sightJSON     `json:"sight"`
	OverCover         *coverJSON    `json:"over_cover"`
	OverBare          *sightJSON    `json:"over_bare_ground"` // where Sight is over cover
	DependsOnCover    bool          `json:"depends_on_cover"`
	OwnSlope          bool          `json:"hidden_by_own_slope"`
	SeenBy            *placeTold    `json:"seen_by_its_top"` // the post its sight is of
	Backdrop          string        `json:"behind"`
	BehindM           *float64      `json:"ground_behind_at_m"`
	BehindCoverM      float64       `json:"behind_cover_m"` // of it, what stands on the ground
	AngularHeightDeg  *float64      `json:"angular_height_deg"`
	AngularWidthDeg   *float64      `json:"angular_width_deg"`
	TooSmall          bool          `json:"too_small"`
	Filled            bool          `json:"on_filled_ground"`
	KeptShare         *float64      `json:"kept_in_view_share"`
	Kept              []stretchJSON `json:"kept_in_view"`
	Score             float64       `json:"score"`
	Why               string        `json:"why"`
}

// filledLineJSON is the part of a line that lies on filled ground, present
// with --fill-voids only.
type filledLineJSON struct {
	LengthM   float64       `json:"length_m"`
	Stretches []stretchJSON `json:"stretches"`
	Start     bool          `json:"start_filled"`
	End       bool          `json:"end_filled"`
}

// stretchJSON is part of a leg, metres from its start.
type stretchJSON struct {
	FromM   float64 `json:"from_m"`
	ToM     float64 `json:"to_m"`
	Verdict string  `json:"verdict"`
}

// coverJSON is a sight over what stands on the ground.
type coverJSON struct {
	Name     string    `json:"name"`
	Sight    sightJSON `json:"sight"`
	Depends  bool      `json:"depends_on_cover"`
	Clearing float64   `json:"clearing_m"`
	Warning  string    `json:"warning"`
}
