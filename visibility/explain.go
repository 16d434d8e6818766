package visibility

import (
	"fmt"
	"math"
	"strings"

	"crowline/dem/geodesy"
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
		return fmt.Sprintf("%.0f m", math.Round(m))
	},
	Height: func(m float64) string {
		if m < 0.95 {
			return fmt.Sprintf("%.1f m", m)
		}
		return fmt.Sprintf("%.0f m", math.Round(m))
	},
}

// Explain says why a mark stands where it does in the list, and how sure it is
// to be seen where that is known.
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
		by := fmt.Sprintf("hidden by %s behind %s", lengths.Height(l.Sight.TargetExtra), l.Sight.Behind(lengths))
		if l.OwnSlope {
			by = fmt.Sprintf("its top is %s behind %s", lengths.Height(l.Sight.TargetExtra), l.Sight.behindSlope(lengths))
		}
		switch p := l.Likelihood; {
		case p == nil:
		case !p.Sure():
			by = Worded(Hidden, p) + "; by the data's heights " + by
		case !math.IsNaN(p.Probability):
			by = Percent(p.Probability) + " chance to see it, " + by
		case !math.IsNaN(p.AtMost):
			by = "at most " + Percent(p.AtMost) + " chance to see it, " + by
		}
		return capital(at + ": " + by + l.comesBack(lengths) + ".")
	case Unknown:
		if l.Sight.CoverUnknown {
			return capital(at + ": the data does not say, for what stands on the ground on the way is not known.")
		}
		return capital(at + ": the data does not say, for there is a gap in it on the way.")
	case Visible:
	default:
		return ""
	}
	var parts []string
	switch {
	case l.Backdrop == BackdropSky:
		parts = append(parts, "on the skyline")
	case l.GoesOn:
		parts = append(parts, "with ground in sight right behind it")
	case l.Backdrop == BackdropGround:
		behind := "ground"
		if l.BehindCover > 0 {
			behind = "what stands on the ground"
		}
		parts = append(parts, fmt.Sprintf("against %s %s behind it", behind, lengths.Distance(l.BehindAt-l.Distance)))
	default:
		parts = append(parts, "with what is behind it not known")
	}
	switch {
	case l.GoesOn:
		parts = append(parts, "hard to tell from that ground")
	case l.TooSmall:
		parts = append(parts, "too small for the eye")
	default:
		parts = append(parts, fmt.Sprintf("standing out by %s, %s wide", angle(float64(l.AngularHeight)), angle(float64(l.AngularWidth))))
	}
	if !math.IsNaN(l.KeptShare) {
		switch {
		case l.KeptShare > 0.9999:
			parts = append(parts, "in view all the way to it")
		default:
			parts = append(parts, fmt.Sprintf("in view for %s%.0f %% of the way to it", l.keptAtLeast(), 100*min(l.KeptShare, 0.99)))
		}
	}
	if l.Contrast < hazeLimit {
		parts = append(parts, "lost in haze beyond the visual range")
	}
	if l.Top != nil {
		d := geodesy.Inverse(l.Place, *l.Top).Distance
		parts = append(parts, fmt.Sprintf("seen by the top of its own ground, %s from it", lengths.Distance(d)))
	}
	text := at + ": " + l.sure(lengths) + parts[0]
	for i, p := range parts[1:] {
		if i == len(parts)-2 {
			text += " and " + p
		} else {
			text += ", " + p
		}
	}
	return capital(text + ".")
}

// keptAtLeast is "at least " where part of the leg is not known.
func (l *Landmark) keptAtLeast() string {
	for _, s := range l.Kept {
		if s.Verdict == Unknown {
			return "at least "
		}
	}
	return ""
}

// sure is how likely a visible mark is to be seen, and what it rests on where
// that is not certain, with what parts it from the rest; "" where it was not
// asked.
func (l *Landmark) sure(lengths Lengths) string {
	if l.Likelihood == nil {
		return ""
	}
	text := Worded(Visible, l.Likelihood)
	if !l.Likelihood.Sure() && !math.IsNaN(l.Sight.Nearest) {
		text += fmt.Sprintf(": by the data's heights it clears by %s at %s", lengths.Height(l.Sight.Nearest), lengths.Distance(l.Sight.NearestAt))
	}
	if l.Doubtful() {
		text += ", so it ranks lower"
	}
	return text + "; "
}

// Behind names what hides a target, and how far off it is: bare ground, or
// what stands on it, and then what the bare ground alone would do. "" unless
// Hidden.
func (s Sight) Behind(lengths Lengths) string {
	at := lengths.Distance(s.BlockedAt)
	switch s.BlockedBy {
	case BlockerGround:
		return fmt.Sprintf("ground %s off", at)
	case BlockerCover:
		return fmt.Sprintf("what stands on the ground %s off, %s high there%s", at, lengths.Height(s.BlockerCover), s.alone(lengths))
	case BlockerBoth:
		return fmt.Sprintf("ground %s off and the %s that stand on it%s", at, lengths.Height(s.BlockerCover), s.alone(lengths))
	}
	return ""
}

// behindSlope is Behind for a mark that its own hill hides.
func (s Sight) behindSlope(lengths Lengths) string {
	at := lengths.Distance(s.BlockedAt)
	switch s.BlockedBy {
	case BlockerCover:
		return fmt.Sprintf("what stands on its own slope, in sight %s off and %s high there%s", at, lengths.Height(s.BlockerCover), s.alone(lengths))
	case BlockerBoth:
		return fmt.Sprintf("its own slope and the %s that stand on it, in sight %s off%s", lengths.Height(s.BlockerCover), at, s.alone(lengths))
	}
	return fmt.Sprintf("its own slope, which is in sight %s off", at)
}

// alone is what the bare ground would do, "" where it hides nothing.
func (s Sight) alone(lengths Lengths) string {
	if s.BareExtra == 0 {
		return ""
	}
	if s.BareExtra < 0.1 {
		return "; the bare ground alone would just hide it"
	}
	return fmt.Sprintf("; the bare ground alone would hide it by %s", lengths.Height(s.BareExtra))
}

// hazeLimit is the contrast at the visual range: the eye's 2 % (American
// Meteorological Society, Glossary of Meteorology).
const hazeLimit = 0.02

// comesBack says where along the leg a hidden mark is first in view.
func (l *Landmark) comesBack(lengths Lengths) string {
	at, atLatest := FirstSeen(l.Kept)
	switch {
	case math.IsNaN(at):
		return ""
	case atLatest:
		return fmt.Sprintf("; it comes into view %s along the leg at the latest", lengths.Distance(at))
	}
	return fmt.Sprintf("; it comes into view %s along the leg", lengths.Distance(at))
}

// angle writes a small angle in degrees, or in arc-minutes below a tenth.
func angle(d float64) string {
	if d < 0.1 {
		return fmt.Sprintf("%.0f arc-minutes", d*60)
	}
	return fmt.Sprintf("%.1f degrees", d)
}

func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
