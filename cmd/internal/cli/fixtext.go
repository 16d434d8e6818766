package cli

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"crowline/visibility"
)

// write is the fix as text.
func (a *fixAnswer) write(p *page, u units, intersect bool) {
	head := "You are at"
	if intersect {
		head = "The point is at"
	}
	p.head(head)
	p.line("place", "%.5f,%.5f", a.Place.Lat, a.Place.Lon)
	if a.UTM != "" {
		p.line("grid", "UTM %s   MGRS %s", a.UTM, a.Place.MGRS)
	}
	if a.Place.ElevationM != nil {
		by := "the ground's by the data"
		if a.GroundFilled {
			by = "of ground " + filledWords
		}
		p.line("elevation", "%s, %s", u.height(*a.Place.ElevationM), by)
	}
	e, s := a.Ellipse95, a.EllipseSigma
	p.line("known to", "%s along true %s° and %s across, 19 times in 20 (one standard deviation: %s and %s)",
		u.distance(e.SemiMajorM), dial(e.TrueDeg), u.distance(e.SemiMinorM), u.distance(s.SemiMajorM), u.distance(s.SemiMinorM))
	p.line("", "for a compass good to %g°, one standard deviation; the lines cross at %.0f°", a.CompassError, a.CrossingDeg)

	if len(a.Warnings) > 0 {
		p.head("Doubtful")
		for _, w := range a.Warnings {
			p.note("%s: %s", w.Kind, sentence(w.Text))
		}
	}
	p.head("Bearings")
	for _, b := range a.Bearings {
		b.write(p, u)
	}
	if a.Altimeter != nil {
		text := fmt.Sprintf("%s ± %s", u.height(a.Altimeter.ElevationM), u.height(a.Altimeter.ErrorM))
		if a.Altimeter.ResidualM != nil {
			side := "above"
			if *a.Altimeter.ResidualM < 0 {
				side = "below"
			}
			text += fmt.Sprintf(": %s %s the ground there", u.height(math.Abs(*a.Altimeter.ResidualM)), side)
		}
		p.line("altimeter", "%s", text)
	}
	if a.Line != nil && a.Line.DistanceM != nil {
		p.line("line", "%s: the place is %s from it (± %s)", a.Line.Name, u.distance(*a.Line.DistanceM), u.distance(a.Line.ErrorM))
	}
	if a.Redundancy > 0 {
		p.line("agreement", "as far apart as this in %s by accident; under 1 in 20 something is wrong", share(a.Chance))
	} else {
		p.line("agreement", "not known: there is one bearing too few to check the others")
	}
	p.head("Next")
	for _, n := range a.Next {
		p.note("%s", n)
	}
	p.head("Data")
	if a.ElevationData != nil {
		a.ElevationData.write(p, u)
		for _, b := range slices.Backward(a.Bearings) {
			if b.OverCover != nil { // the last knows most of the cover
				b.OverCover.writeWarning(p)
				break
			}
		}
		p.line("assumed", "%s", a.Assumptions.text(u))
	} else {
		p.line("source", "none for this place: the demo data does not reach it. Give yours with --dem for its elevation and a check that the marks can be seen.")
	}
	if d := a.Declination; d != nil {
		p.line("magnetic", "declination there %s ± %.1f on %s (%s)", eastWest(d.Deg), d.SigmaDeg, d.Date, d.Model)
	}
	writeCautions(p)
}

// share writes a probability as so many cases in a hundred.
func share(chance float64) string {
	if chance < 0.005 {
		return "fewer than 1 case in 200"
	}
	if chance < 0.015 {
		return "1 case in 100"
	}
	return fmt.Sprintf("%.0f cases in 100", 100*chance)
}

// write is one bearing: what was read, what it should be, whether its mark
// is in sight.
func (b fixBearingJSON) write(p *page, u units) {
	p.line("mark", "%s, %s off", b.Name, u.distance(b.DistanceM))
	read := fmt.Sprintf("true %s°", bearing(b.TrueDeg))
	if b.GivenFrom == "magnetic" {
		read = fmt.Sprintf("magnetic %s°, true %s°", bearing(b.GivenDeg), bearing(b.TrueDeg))
	}
	if b.Turned {
		read += " (turned half round)"
	}
	p.line("", "read %s; by the fix %s°: off by %s (± %.1f)", read, bearing(b.ComputedDeg), degreesOff(b.ResidualDeg), b.ErrorDeg)
	switch b.Sight {
	case visibility.Visible.String():
		p.line("", "in sight from there, by the data")
	case visibility.Hidden.String():
		p.line("", "HIDDEN by the data: it would have to stand %s higher", u.need(b.hiddenBy))
	case visibility.Unknown.String():
		p.line("", "whether it is in sight is not known")
	}
	if b.OverCover != nil {
		p.line("", "%s", b.OverCover.sentence(b.Sight, u))
	}
}

// degreesOff writes a residual to a tenth, without a sign on nothing.
func degreesOff(d float64) string {
	if math.Abs(d) < 0.05 {
		return "0.0°"
	}
	return fmt.Sprintf("%+.1f°", d)
}

// sentence ends a text with a full stop unless it asks something.
func sentence(text string) string {
	if strings.HasSuffix(text, "?") {
		return text
	}
	return text + "."
}
