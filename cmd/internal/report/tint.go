package report

import (
	"fmt"

	"crowline/cmd/internal/answer"
	"crowline/dem/units"
	"crowline/visibility"
)

// Tint says how much ground is seen, in a line beside a map; radius 0 is all of it.
func Tint(t *answer.Tint, radius float64, u units.System) string {
	of := "the ground"
	if radius > 0 {
		of = "the ground within " + u.Distance(radius)
	}
	if over := t.OverCover.Words(); over != "" {
		of += ", " + over + ","
	}
	if t.HowSure && t.Within > 0 {
		return fmt.Sprintf("%s of %s is clear, a 75 %% chance to see it or more; %s is within the data's error", visibility.Percent(t.Seen), of, visibility.Percent(t.Within))
	}
	return fmt.Sprintf("%s of %s is in sight", visibility.Percent(t.Seen), of)
}
