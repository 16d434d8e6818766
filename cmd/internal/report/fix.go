package report

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"crowline/cmd/internal/answer"
	"crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem/units"
	"crowline/visibility"
	"crowline/visibility/fix"
)

// Fix writes a place from bearings.
func Fix(p *Page, a *answer.FixAnswer) {
	u := p.Units
	if a.Ambiguous {
		p.fixCandidates(a)
	} else {
		p.fixPlace(a)
	}
	doubtful := slices.DeleteFunc(slices.Clone(a.Warnings), func(w answer.FixWarning) bool {
		return w.Kind == fix.Ambiguous // said above
	})
	if len(doubtful) > 0 {
		p.Head("Doubtful")
		for i := range doubtful {
			text := doubtful[i].Says().Text(visibility.Lengths{Distance: u.Distance, Height: u.Need})
			p.Note("%s: %s", doubtful[i].Kind, ended(text))
		}
	}
	if a.Ambiguous {
		p.Head("Given")
		for _, b := range a.Places()[0].Bearings {
			p.Line("mark", "%s: read %s", b.Name, fixRead(b))
		}
	} else {
		p.Head("Bearings")
		for _, b := range a.Bearings {
			p.fixBearing(b)
		}
	}
	if a.Altimeter != nil {
		text := fmt.Sprintf("%s ± %s", u.Height(a.Altimeter.ElevationM), u.Height(a.Altimeter.ErrorM))
		if a.Altimeter.ResidualM != nil {
			text += ": " + p.altimeterOff(*a.Altimeter.ResidualM)
		}
		p.Line("altimeter", "%s", text)
	}
	if a.Line != nil {
		text := fmt.Sprintf("%s (± %s)", a.Line.Name, u.Distance(a.Line.ErrorM))
		if a.Line.DistanceM != nil {
			text += fmt.Sprintf(": the place is %s from it", u.Distance(*a.Line.DistanceM))
		}
		p.Line("line", "%s", text)
	}
	if a.Redundancy > 0 {
		p.Line("agreement", "chance alone puts bearings this far apart in %s; under 1 in 20, something is wrong", cases(a.Chance))
	} else {
		p.Line("agreement", "not known: there is one bearing too few to check the others")
	}
	if a.MapScale() > 0 {
		p.Line("map", "%s, at 1:%.0f; print at 100 %% and check the 100 mm bar", strings.Join(a.Written, ", "), a.MapScale())
		for _, w := range a.MapWarnings {
			p.Line("warning", "%s", w)
		}
	}
	p.Head("Next")
	for _, n := range a.Next {
		p.Note("%s", n)
	}
	if a.ElevationData != nil {
		p.data(*a.ElevationData)
		for _, b := range slices.Backward(a.Places()[0].Bearings) {
			if b.OverCover != nil { // the last knows most of the cover
				if w := b.OverCover.Warning; w != "" {
					p.Line("warning", "%s", w)
				}
				break
			}
		}
		p.Line("assumed", "%s", p.assumed(a.Assumptions))
	} else {
		p.Head(footHead)
		p.Line("data", "none for this place: the demo data does not reach it. Give yours with --dem for its elevation and a check that the marks can be seen.")
	}
	if d := a.Declination; d != nil {
		p.Line("magnetic", "%s", declinedBy(d))
	}
	p.cautions()
}

// fixPlace is the one place that fits.
func (p *Page) fixPlace(a *answer.FixAnswer) {
	head := "You are at"
	if a.Intersection() {
		head = "The point is at"
	}
	if !a.FitToWalkOn {
		head = "Not a place to walk from yet"
		if a.Intersection() {
			head = "Not a place to walk to yet"
		}
	}
	p.Head(head)
	if !a.FitToWalkOn {
		p.Note("%s", p.fixDoubt(a))
	}
	place := "place"
	if !a.FitToWalkOn {
		place = "best fit"
	}
	p.Line(place, "%.5f,%.5f", a.Place.Lat, a.Place.Lon)
	if a.UTM != "" {
		p.Line("grid", "UTM %s   MGRS %s", a.UTM, a.Place.MGRS)
	}
	if !math.IsNaN(a.Place.ElevationM) {
		by := "by the data"
		if a.GroundFilled {
			by = "of ground " + filledWords
		}
		p.Line("elevation", "%s, %s", p.Units.Height(a.Place.ElevationM), by)
	}
	if s := a.EllipseSigma; s != nil {
		p.Line("known to", "%s, 19 times in 20 (one standard deviation: %s and %s)", p.ellipse(*a.Ellipse95), p.Units.Distance(s.SemiMajorM), p.Units.Distance(s.SemiMinorM))
	} else if a.Region != nil {
		p.Line("known to", "%s, 19 times in 20", p.fixRegion(a.Region))
	}
	p.Line("", "for a %s; the lines cross at %.0f°", p.fixWorth(a), a.CrossingDeg)
}

// FixMap draws a fix; where there is no place to walk from, or to, it says so.
func FixMap(ctx context.Context, g *answer.Ground, a *answer.FixAnswer, r answer.FixRequest, paper page.Paper, u units.System) (*page.Document, error) {
	p := &Page{Units: u}
	return a.Draw(ctx, g, r, paper, func(plan *sheet.Plan) {
		plan.Units, plan.Title, plan.Cautions = u, "Where you are, from bearings", answer.Cautions()
		if a.Intersection() {
			plan.Title = "Where the point is, from bearings"
		}
		switch {
		case a.Ambiguous:
			plan.Headline = fmt.Sprintf("NO PLACE: %d places fit about as well. Take another bearing.", len(a.Places())+a.Further)
		case !a.FitToWalkOn:
			plan.Headline = "NO PLACE TO WALK FROM YET"
			if a.Intersection() {
				plan.Headline = "NO PLACE TO WALK TO YET"
			}
			plan.Notes = append(plan.Notes, plan.Headline+": "+p.fixDoubt(a))
		default:
			plan.Headline = p.place(*a.Place)
			switch {
			case a.Ellipse95 != nil:
				plan.Notes = append(plan.Notes, "The place is known to "+p.ellipse(*a.Ellipse95)+", 19 times in 20.")
			case a.Region != nil:
				plan.Notes = append(plan.Notes, "The place is known to "+p.fixRegion(a.Region)+", 19 times in 20.")
			}
		}
		if !plan.Fix.Sure {
			plan.Fix.Banner = plan.Headline
		}
		for i := range plan.Fix.Places {
			switch {
			case len(plan.Fix.Places) > 1:
			case plan.Fix.Sure:
				plan.Fix.Places[i].Name = "The place"
			default:
				plan.Fix.Places[i].Name = "Best fit"
			}
		}
		if d := a.Declination; d != nil {
			plan.Notes = append(plan.Notes, "Magnetic bearings by "+declinedBy(d)+".")
		}
	})
}

// fixDoubt is why a place cannot be walked on.
func (p *Page) fixDoubt(a *answer.FixAnswer) string {
	reach := 0.0
	switch {
	case a.Region != nil:
		reach = a.Region.FarthestM
	case a.Ellipse95 != nil:
		reach = a.Ellipse95.SemiMajorM
	}
	for i := range a.Warnings {
		w := &a.Warnings[i]
		if w.Kind == fix.Blunder || w.Kind == fix.BackBearing || w.Kind == fix.HiddenMark && reach <= answer.DefaultPolicy().WalkOn {
			return ended(capitalised(w.Says().Text(visibility.Lengths{Distance: p.Units.Distance, Height: p.Units.Need})))
		}
	}
	lines, from := "lines", "from here to"
	if len(a.Bearings) == 2 && a.Altimeter == nil && a.Line == nil {
		lines = "two lines"
	}
	if a.Intersection() {
		from = "from the place below to"
	}
	text, along := "", 0.0
	if a.Region == nil && a.Ellipse95 == nil { // too wide to be traced
		return fmt.Sprintf("The %s cross at %.0f°, and too much ground fits to say how far it reaches. Take another bearing, well across these.", lines, a.CrossingDeg)
	}
	if r := a.Region; r != nil {
		along = r.LongestTrueDeg
		text = fmt.Sprintf("The %s cross at %.0f°, and anything %s %s %s fits.", lines, a.CrossingDeg, from, p.Units.Distance(r.FarthestM), compassPoint(r.FarthestTrueDeg))
	} else {
		e := a.Ellipse95
		along = e.TrueDeg
		text = fmt.Sprintf("The %s cross at %.0f°, and anything %s %s %s or %s fits.", lines, a.CrossingDeg, from, p.Units.Distance(e.SemiMajorM), compassPoint(e.TrueDeg), compassPoint(e.TrueDeg+180))
	}
	if a.Intersection() {
		return text + fmt.Sprintf(" Take another bearing to it from somewhere near %s or %s of it.", compassPoint(along+90), compassPoint(along-90))
	}
	return text + fmt.Sprintf(" Take another bearing to something near %s or %s of you.", compassPoint(along+90), compassPoint(along-90))
}

// compassPoint is the nearest of the eight points of the compass.
func compassPoint(degrees float64) string {
	points := [8]string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"}
	return points[int(math.Round(degrees/45)+16)%8]
}

// fixRegion is how large a region is.
func (p *Page) fixRegion(r *answer.FixRegion) string {
	return fmt.Sprintf("a patch %s long along true %s° and %s wide, as far as %s off toward %s°", p.Units.Distance(r.LongestM), units.Dial(r.LongestTrueDeg),
		p.Units.Distance(r.AcrossM), p.Units.Distance(r.FarthestM), units.Dial(r.FarthestTrueDeg))
}

// fixCandidates is a list of places that fit, none of which is the answer.
func (p *Page) fixCandidates(a *answer.FixAnswer) {
	u := p.Units
	head := "Where you may be"
	if a.Intersection() {
		head = "Where the point may be"
	}
	p.Head(head)
	p.Note("%d places fit what was given about as well, and nothing given tells them apart. This is no fix: take another bearing.", len(a.Places())+a.Further)
	for i, c := range a.Places() {
		p.Line(fmt.Sprint(i+1), "%s", p.place(c.Place))
		if c.GroundFilled {
			p.Line("", "its ground was %s", filledWords)
		}
		for _, b := range c.Bearings {
			off := ""
			if math.Abs(b.ResidualDeg) >= 0.05 {
				off = ", its bearing off by " + degreesOff(b.ResidualDeg)
			}
			p.Line("", "%s %s off%s%s", b.Name, u.Distance(b.DistanceM), off, p.fixSight(b))
			if b.OverCover != nil {
				p.Line("", "%s", p.coverSight(b.OverCover, b.Seen()))
			}
		}
		if off := c.AltimeterResidualM; off != nil && math.Abs(*off) >= 0.5 {
			p.Line("", "the altimeter reads %s", p.altimeterOff(*off))
		}
		if off := c.LineDistanceM; off != nil && *off >= 0.5 {
			p.Line("", "%s from the line", u.Distance(*off))
		}
		if c.Likelihood < 0.95 {
			p.Line("", "fits less well: %.2g times as likely as the best", c.Likelihood)
		}
		var turned []string
		for _, b := range c.Bearings {
			if b.Turned {
				turned = append(turned, b.Name)
			}
		}
		if len(turned) > 0 {
			p.Line("", "with the bearing of %s turned half round", strings.Join(turned, " and "))
		}
		switch {
		case c.Ellipse95 != nil:
			p.Line("", "if it is the one, known to %s, 19 times in 20", p.ellipse(*c.Ellipse95))
		case c.Region != nil:
			p.Line("", "if it is the one, known to %s, 19 times in 20", p.fixRegion(c.Region))
		}
	}
	if a.Further > 0 {
		p.Note("and %d more.", a.Further)
	}
	p.Note("For a %s.", p.fixWorth(a))
}

// fixWorth is what the bearings were taken to be good to.
func (p *Page) fixWorth(a *answer.FixAnswer) string {
	text := fmt.Sprintf("compass good to %g°", a.CompassError)
	if a.MarkErrorM > 0 {
		text += fmt.Sprintf(" and marks to %s", p.Units.Distance(a.MarkErrorM))
	}
	return text + ", one standard deviation"
}

func (p *Page) ellipse(e answer.Ellipse) string {
	return fmt.Sprintf("%s along true %s° and %s across", p.Units.Distance(e.SemiMajorM), units.Dial(e.TrueDeg), p.Units.Distance(e.SemiMinorM))
}

// altimeterOff is how a reading stands to the ground.
func (p *Page) altimeterOff(residual float64) string {
	side := "above"
	if residual < 0 {
		side = "below"
	}
	return fmt.Sprintf("%s %s the ground there", p.Units.Height(math.Abs(residual)), side)
}

// cases writes a probability as so many cases in a hundred.
func cases(chance float64) string {
	if chance < 0.005 {
		return "fewer than 1 case in 200"
	}
	if chance < 0.015 {
		return "1 case in 100"
	}
	return fmt.Sprintf("%.0f cases in 100", 100*chance)
}

// fixBearing is one bearing: what was read, what it should be, whether its mark
// is in sight.
func (p *Page) fixBearing(b answer.FixResidual) {
	p.Line("mark", "%s, %s off", b.Name, p.Units.Distance(b.DistanceM))
	p.Line("", "read %s; by the fix %s°: off by %s (± %.1f)", fixRead(b), units.Bearing(b.ComputedDeg), degreesOff(b.ResidualDeg), b.ErrorDeg)
	if text := p.fixSight(b); text != "" {
		p.Line("", "%s", strings.TrimPrefix(text, ", "))
	}
	if b.OverCover != nil {
		p.Line("", "%s", p.coverSight(b.OverCover, b.Seen()))
	}
}

// fixRead is a bearing as it was read.
func fixRead(b answer.FixResidual) string {
	text := fmt.Sprintf("true %s°", units.Bearing(b.TrueDeg))
	if b.GivenFrom == "magnetic" {
		text = fmt.Sprintf("magnetic %s°, true %s°", units.Bearing(b.GivenDeg), units.Bearing(b.TrueDeg))
	}
	if b.Turned {
		text += " (turned half round)"
	}
	return text
}

// fixSight is whether a mark can be seen from the place, where that was asked.
func (p *Page) fixSight(b answer.FixResidual) string {
	if l := b.Likely.Full(); !l.Sure() { // the heights alone cannot tell
		return ", " + visibility.Worded(b.Seen(), l)
	}
	switch b.Seen() {
	case visibility.Visible:
		return ", in sight from there, by the data"
	case visibility.Hidden:
		return fmt.Sprintf(", HIDDEN by the data: it would have to stand %s higher", p.Units.Need(b.HiddenByM))
	case visibility.Unknown:
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

// ended ends a text with a full stop unless it asks something.
func ended(text string) string {
	if strings.HasSuffix(text, "?") {
		return text
	}
	return text + "."
}
