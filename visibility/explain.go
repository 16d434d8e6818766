package visibility

import (
	"fmt"
	"math"
	"strings"

	"crowline/dem/landform"
)

// Lengths writes lengths given in metres: Distance along the ground, Height
// up and down.
type Lengths = landform.Lengths

// Metric writes distances over a kilometre in kilometres, all else in metres.
var Metric = Lengths{
	Distance: func(m float64) string {
		if m >= 999.5 {
			return fmt.Sprintf("%.1f km", m/1000)
		}
		return fmt.Sprintf("%.0f m", m)
	},
	Height: func(m float64) string {
		if m < 0.95 {
			return fmt.Sprintf("%.1f m", m)
		}
		return fmt.Sprintf("%.0f m", m)
	},
}

// Explain says in one sentence why a mark stands where it does in the list.
func (l *Landmark) Explain(lengths Lengths) string {
	off := ""
	if a := math.Abs(float64(l.OffBearing)); a >= 0.05 {
		side := "right"
		if l.OffBearing < 0 {
			side = "left"
		}
		off = fmt.Sprintf(", %.1f degrees %s of the bearing", a, side)
	}
	at := lengths.Distance(l.Distance) + " off" + off
	switch l.Sight.Verdict {
	case Hidden:
		by := fmt.Sprintf("hidden by %s behind ground %s off", lengths.Height(l.Sight.TargetExtra), lengths.Distance(l.Sight.BlockedAt))
		if l.OwnSlope {
			by = fmt.Sprintf("its top is %s behind its own slope, which is in sight %s off",
				lengths.Height(l.Sight.TargetExtra), lengths.Distance(l.Sight.BlockedAt))
		}
		return capital(at + ": " + by + l.comesBack(lengths) + ".")
	case Unknown:
		return capital(at + ": the data does not say, for there is a gap in it on the way.")
	case Visible:
	default:
		return ""
	}
	var parts []string
	switch l.Backdrop {
	case BackdropSky:
		parts = append(parts, "on the skyline")
	case BackdropGround:
		parts = append(parts, fmt.Sprintf("against ground %s behind it", lengths.Distance(l.BehindAt-l.Distance)))
	default:
		parts = append(parts, "with what is behind it not known")
	}
	if l.TooSmall {
		parts = append(parts, "too small for the eye")
	} else {
		parts = append(parts, fmt.Sprintf("standing out by %s", angle(float64(l.AngularHeight))))
	}
	if !math.IsNaN(l.KeptShare) {
		switch {
		case l.KeptShare > 0.9999:
			parts = append(parts, "in view all the way")
		default:
			parts = append(parts, fmt.Sprintf("in view for %.0f %% of the way", 100*min(l.KeptShare, 0.99)))
		}
	}
	if l.Contrast < hazeLimit {
		parts = append(parts, "lost in haze beyond the visual range")
	}
	text := at + ": " + parts[0]
	for i, p := range parts[1:] {
		if i == len(parts)-2 {
			text += " and " + p
		} else {
			text += ", " + p
		}
	}
	return capital(text + ".")
}

// hazeLimit is the contrast at the visual range: the eye's 2 % (American
// Meteorological Society, Glossary of Meteorology).
const hazeLimit = 0.02

// comesBack says where along the leg a hidden mark is first in view.
func (l *Landmark) comesBack(lengths Lengths) string {
	for _, s := range l.Kept {
		if s.Verdict == Visible {
			return fmt.Sprintf("; it comes into view %s along the leg", lengths.Distance(s.From))
		}
	}
	return ""
}

// angle writes a small angle in degrees, or in arc-minutes below a tenth.
func angle(d float64) string {
	if d < 0.1 {
		return fmt.Sprintf("%.0f arc-minutes", d*60)
	}
	return fmt.Sprintf("%.1f degrees", d)
}

func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
