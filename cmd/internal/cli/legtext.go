package cli

import (
	"fmt"
	"math"
	"strings"
	"time"
)

func joinStretches(u units, list []stretchJSON) string {
	var parts []string
	for _, s := range list {
		parts = append(parts, u.stretch(s.FromM, s.ToM))
	}
	return strings.Join(parts, ", ")
}

// clock writes a duration as hours and minutes.
func clock(d time.Duration) string {
	minutes := int(math.Round(d.Minutes()))
	if minutes < 60 {
		return fmt.Sprintf("%d min", minutes)
	}
	return fmt.Sprintf("%d h %02d min", minutes/60, minutes%60)
}
