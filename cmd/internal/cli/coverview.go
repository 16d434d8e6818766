package cli

import (
	"fmt"

	"crowline/visibility"
)

// coverSkylineJSON is what cover changes of a skyline, against that of the
// bare ground.
type coverSkylineJSON struct {
	// Bearings a step apart, and those of them on which what stands on the
	// ground makes the skyline, which stands higher by at least raised, or is
	// no longer known to the end.
	Of          int     `json:"of_bearings"`
	StepDeg     float64 `json:"step_deg"`
	Tops        int     `json:"made_by_cover_bearings"`
	Raised      int     `json:"raised_bearings"`
	NotKnown    int     `json:"no_longer_known_bearings"`
	MostDeg     float64 `json:"most_raised_deg"`
	MostTrueDeg float64 `json:"most_raised_true_deg"`
}

// raised is by how much a skyline must rise to be said to, degrees: what the
// text's figures show.
const raised = 0.1

func compareSkylines(bare, over *visibility.Horizon, step float64) *coverSkylineJSON {
	c := visibility.CompareSkylines(bare, over, raised)
	j := &coverSkylineJSON{Of: len(over.Points), StepDeg: step, Tops: c.Tops, Raised: c.Raised, NotKnown: c.NotKnown, MostDeg: *rounded(float64(c.Most), 2)}
	if j.MostDeg > 0 {
		j.MostTrueDeg = *rounded(float64(c.MostAt), 2)
	}
	return j
}

// text is what the cover changes, "it" being what stands on the ground.
func (j *coverSkylineJSON) text() string {
	text := fmt.Sprintf("it makes the skyline on %d of %d bearings, and raises that of the bare ground ", j.Tops, j.Of)
	if j.Raised > 0 {
		text += fmt.Sprintf("by a tenth of a degree or more on %d, most by %.1f° on true %s°", j.Raised, j.MostDeg, bearing(j.MostTrueDeg))
	} else {
		text += "nowhere by a tenth of a degree"
	}
	if j.NotKnown > 0 {
		text += fmt.Sprintf("; on %d the skyline is no longer known", j.NotKnown)
	}
	return text
}
