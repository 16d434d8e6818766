package report

import (
	"fmt"
	"math"
	"strings"

	"crowline/cmd/internal/answer"
	"crowline/dem/units"
)

// mark writes one mark: what and where it is, and why it stands where it does.
func (p *Page) mark(m *answer.Mark, d *answer.MagneticDeclination) {
	name := markName(m, p.Units)
	bearing := fmt.Sprintf("true %s°", units.Bearing(m.TrueDeg))
	if set, ok := onDial(m.TrueDeg, m.MagneticDeg, d); ok {
		bearing = set + " on your compass"
	} else if !math.IsNaN(m.MagneticDeg) {
		bearing += fmt.Sprintf(", magnetic %s°", units.Bearing(m.MagneticDeg))
	}
	angle := ""
	if !math.IsNaN(m.Sight.ElevationAngleDeg) {
		angle = ", " + units.UpDown(m.Sight.ElevationAngleDeg)
	}
	p.Line(fmt.Sprintf("%d", m.Rank), "%s: %s, %s%s   %.5f,%.5f", name, bearing, p.Units.Distance(m.DistanceM), angle, m.At.Lat, m.At.Lon)
	more := ""
	if m.InViewRank != nil {
		more = fmt.Sprintf(" It is number %d of what to pick out.", *m.InViewRank)
	}
	if m.OverCover != nil {
		verdict, why := p.coverVerdict(m.OverCover)
		more += fmt.Sprintf(" With what stands on the ground: %s%s.", verdict, why)
	}
	if m.DependsOnCover {
		more += fmt.Sprintf(" Over the bare ground: %s; it depends on what stands there.", m.OverBare.Verdict)
	}
	if text := markFilled(m); text != "" {
		more += " FILLED: " + text
	}
	p.Line("", "%s%s", m.Full().Explain(p.lengths()), more)
}

// markFilled is the part filled ground has in a mark, "" for none.
func markFilled(m *answer.Mark) string {
	var parts []string
	if m.Filled {
		parts = append(parts, "Its ground was "+filledWords+".")
	}
	if text := filledSight(&m.Sight); text != "" {
		parts = append(parts, capitalised(text)+".")
	}
	return strings.Join(parts, " ")
}
