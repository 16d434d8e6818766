package cli

// What tests read of the JSON of leg and route.

type placeTold struct {
	Name       string   `json:"name"`
	Lat        float64  `json:"lat"`
	Lon        float64  `json:"lon"`
	ElevationM *float64 `json:"elevation_m"`
	MGRS       string   `json:"mgrs"`
}

type bearingTold struct {
	TrueDeg     *float64 `json:"true_deg"`
	GridDeg     *float64 `json:"grid_deg"`
	MagneticDeg *float64 `json:"magnetic_deg"`
	BackTrueDeg *float64 `json:"back_true_deg"`
}

type climbTold struct {
	AscentM       float64 `json:"ascent_m"`
	DescentM      float64 `json:"descent_m"`
	DeadBandM     float64 `json:"dead_band_m"`
	LowestFilled  bool    `json:"lowest_on_filled_ground"`
	HighestFilled bool    `json:"highest_on_filled_ground"`
	ContoursUp    int     `json:"contours_up"`
	ContoursDown  int     `json:"contours_down"`
	SteepestDeg   float64 `json:"steepest_deg"`
}

type timeTold struct {
	NaismithLangmuirS *float64 `json:"naismith_langmuir_s"`
	ToblerS           *float64 `json:"tobler_s"`
	DIN33466S         *float64 `json:"din33466_s"`
	TimedM            float64  `json:"timed_m"`
	WithoutDataM      float64  `json:"timed_without_data_m"`
	AtLeast           bool     `json:"at_least"`
	DoublePaces       float64  `json:"double_paces"`
	PacedM            float64  `json:"paced_m"`
}

type chainTold struct {
	Complete  bool       `json:"complete"`
	Hard      bool       `json:"hard_to_lead_by_marks"`
	Sightings int        `json:"sightings"`
	UnguidedM float64    `json:"unguided_m"`
	PlainM    float64    `json:"unguided_on_plain_ground_m"`
	Steps     []stepTold `json:"steps"`
}

type stepTold struct {
	FromM float64 `json:"from_m"`
	ToM   float64 `json:"to_m"`
	Short bool    `json:"short"`
	Plain bool    `json:"nothing_stands_up"`
	Mark  *struct {
		Kind        string   `json:"kind"`
		AtM         float64  `json:"at_m"`
		OffsetM     float64  `json:"offset_m"`
		ElevationM  *float64 `json:"elevation_m"`
		Plain       bool     `json:"on_plain_ground"`
		Description string   `json:"description"`
		DistanceM   float64  `json:"distance_m"`
		OffLineDeg  float64  `json:"off_line_deg"`
		Behind      bool     `json:"behind"`
	} `json:"mark"`
	IfNotFound string     `json:"if_not_found"`
	OverCover  *coverJSON `json:"over_cover"`
}

type passedTold struct {
	AtM    float64  `json:"at_m"`
	Name   string   `json:"name"`
	Filled bool     `json:"on_filled_ground"`
	UntilM *float64 `json:"until_m"`
	Aside  *struct {
		OffsetM float64 `json:"offset_m"`
	} `json:"aside"`
	Nearest *struct {
		OffsetM float64 `json:"offset_m"`
	} `json:"nearest_part"`
}

type dataTold struct {
	Demo        bool `json:"demo"`
	FilledPosts *int `json:"filled_posts"`
}

type legTold struct {
	From          placeTold       `json:"from"`
	To            placeTold       `json:"to"`
	DistanceM     float64         `json:"distance_m"`
	CoveredM      float64         `json:"covered_m"`
	UnknownM      float64         `json:"unknown_m"`
	Bearing       bearingTold     `json:"bearing"`
	Climb         climbTold       `json:"climb"`
	Time          timeTold        `json:"time"`
	Sight         sightJSON       `json:"sight"`
	OverCover     *coverJSON      `json:"over_cover"`
	Filled        *filledLineJSON `json:"filled_ground"`
	Chain         chainTold       `json:"chain"`
	Passed        []passedTold    `json:"passed"`
	ElevationData dataTold        `json:"elevation_data"`
}

type routeTold struct {
	Name string `json:"name"`
	Legs []struct {
		legTold
		Number    int       `json:"number"`
		Mark      *markJSON `json:"mark"`
		CardMarks []struct {
			Label string    `json:"label"`
			Name  string    `json:"name"`
			At    placeTold `json:"place"`
			Text  string    `json:"text"`
		} `json:"card_marks"`
		WayRound *struct {
			At        placeTold `json:"waypoint"`
			AscentM   float64   `json:"ascent_m"`
			DistanceM float64   `json:"distance_m"`
			SavedM    float64   `json:"ascent_saved_m"`
		} `json:"way_round"`
	} `json:"legs"`
	Totals struct {
		DistanceM         float64  `json:"distance_m"`
		AscentM           float64  `json:"ascent_m"`
		DescentM          float64  `json:"descent_m"`
		ContoursUp        int      `json:"contours_up"`
		NaismithLangmuirS *float64 `json:"naismith_langmuir_s"`
		DoublePaces       float64  `json:"double_paces"`
	} `json:"totals"`
	Notes         []string `json:"notes"`
	Written       []string `json:"written"`
	ElevationData dataTold `json:"elevation_data"`
}
