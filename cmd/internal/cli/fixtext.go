package cli

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"crowline/visibility"
	"crowline/visibility/fix"
)

// write is the fix as text.
func (a *fixAnswer) write(p *page, u units, intersect bool) {
	if a.Ambiguous {
		a.writeCandidates(p, u, intersect)
	} else {
		a.writePlace(p, u, intersect)
	}
	doubtful := slices.DeleteFunc(slices.Clone(a.Warnings), func(w fixWarningJSON) bool {
		return w.Kind == string(fix.Ambiguous) // said above
	})
	if len(doubtful) > 0 {
		p.head("Doubtful")
		for _, w := range doubtful {
			p.note("%s: %s", w.Kind, sentence(w.Text))
		}
	}
	if a.Ambiguous {
		p.head("Given")
		for _, b := range a.places[0].Bearings {
			p.line("mark", "%s: read %s", b.Name, b.read())
		}
	} else {
		p.head("Bearings")
		for _, b := range a.Bearings {
			b.write(p, u)
		}
	}
	if a.Altimeter != nil {
		text := fmt.Sprintf("%s ± %s", u.height(a.Altimeter.ElevationM), u.height(a.Altimeter.ErrorM))
		if a.Altimeter.ResidualM != nil {
			text += ": " + altimeterOff(*a.Altimeter.ResidualM, u)
		}
		p.line("altimeter", "%s", text)
	}
	if a.Line != nil {
		text := fmt.Sprintf("%s (± %s)", a.Line.Name, u.distance(a.Line.ErrorM))
		if a.Line.DistanceM != nil {
			text += fmt.Sprintf(": the place is %s from it", u.distance(*a.Line.DistanceM))
		}
		p.line("line", "%s", text)
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
		for _, b := range slices.Backward(a.places[0].Bearings) {
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

// writePlace is the one place that fits.
func (a *fixAnswer) writePlace(p *page, u units, intersect bool) {
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
	p.line("known to", "%s, 19 times in 20 (one standard deviation: %s and %s)", e.text(u), u.distance(s.SemiMajorM), u.distance(s.SemiMinorM))
	p.line("", "for a %s; the lines cross at %.0f°", a.worth(u), *a.CrossingDeg)
}

// writeCandidates is a list of places that fit, none of which is the answer.
func (a *fixAnswer) writeCandidates(p *page, u units, intersect bool) {
	head := "Where you may be"
	if intersect {
		head = "Where the point may be"
	}
	p.head(head)
	p.note("%d places fit what was given about as well, and nothing given tells them apart. This is no fix: take another bearing.", len(a.places)+a.Further)
	for i, c := range a.places {
		text := fmt.Sprintf("%.5f,%.5f", c.Place.Lat, c.Place.Lon)
		if c.Place.MGRS != "" {
			text += "   " + c.Place.MGRS
		}
		if c.Place.ElevationM != nil {
			text += "   " + u.height(*c.Place.ElevationM)
		}
		p.line(fmt.Sprint(i+1), "%s", text)
		if c.GroundFilled {
			p.line("", "its ground was %s", filledWords)
		}
		for _, b := range c.Bearings {
			p.line("", "%s %s off%s%s", b.Name, u.distance(b.DistanceM), a.off(b), b.inSight(u))
			if b.OverCover != nil {
				p.line("", "%s", b.OverCover.sentence(b.Sight, u))
			}
		}
		if c.AltimeterResidualM != nil && math.Abs(*c.AltimeterResidualM) >= 0.5 {
			p.line("", "the altimeter reads %s", altimeterOff(*c.AltimeterResidualM, u))
		}
		if c.LineDistanceM != nil && *c.LineDistanceM >= 0.5 {
			p.line("", "%s from the line", u.distance(*c.LineDistanceM))
		}
		if c.Likelihood < 0.95 {
			p.line("", "fits less well: %.2g times as likely as the best", c.Likelihood)
		}
		p.line("", "if it is the one, known to %s, 19 times in 20", c.Ellipse95.text(u))
	}
	if a.Further > 0 {
		p.note("and %d more.", a.Further)
	}
	p.note("For a %s.", a.worth(u))
}

// worth is what the bearings were taken to be good to.
func (a *fixAnswer) worth(u units) string {
	text := fmt.Sprintf("compass good to %g°", a.CompassError)
	if a.MarkErrorM > 0 {
		text += fmt.Sprintf(" and marks to %s", u.distance(a.MarkErrorM))
	}
	return text + ", one standard deviation"
}

// text is an ellipse in words.
func (e ellipseJSON) text(u units) string {
	return fmt.Sprintf("%s along true %s° and %s across", u.distance(e.SemiMajorM), dial(e.TrueDeg), u.distance(e.SemiMinorM))
}

// off is what a bearing is out by at one of several places, where it is.
func (a *fixAnswer) off(b fixBearingJSON) string {
	if math.Abs(b.ResidualDeg) < 0.05 {
		return ""
	}
	return ", its bearing off by " + degreesOff(b.ResidualDeg)
}

// altimeterOff is how a reading stands to the ground.
func altimeterOff(residual float64, u units) string {
	side := "above"
	if residual < 0 {
		side = "below"
	}
	return fmt.Sprintf("%s %s the ground there", u.height(math.Abs(residual)), side)
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
	p.line("", "read %s; by the fix %s°: off by %s (± %.1f)", b.read(), bearing(b.ComputedDeg), degreesOff(b.ResidualDeg), b.ErrorDeg)
	if text := b.inSight(u); text != "" {
		p.line("", "%s", strings.TrimPrefix(text, ", "))
	}
	if b.OverCover != nil {
		p.line("", "%s", b.OverCover.sentence(b.Sight, u))
	}
}

// read is a bearing as it was read.
func (b fixBearingJSON) read() string {
	text := fmt.Sprintf("true %s°", bearing(b.TrueDeg))
	if b.GivenFrom == "magnetic" {
		text = fmt.Sprintf("magnetic %s°, true %s°", bearing(b.GivenDeg), bearing(b.TrueDeg))
	}
	if b.Turned {
		text += " (turned half round)"
	}
	return text
}

// inSight is whether a mark can be seen from the place, where that was asked.
func (b fixBearingJSON) inSight(u units) string {
	switch b.Sight {
	case visibility.Visible.String():
		if b.OwnGround {
			return ", its own ground in sight from there, by the data"
		}
		return ", in sight from there, by the data"
	case visibility.Hidden.String():
		return fmt.Sprintf(", HIDDEN by the data: it would have to stand %s higher", u.need(b.hiddenBy))
	case visibility.Unknown.String():
		return ", whether it is in sight is not known"
	}
	return ""
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
