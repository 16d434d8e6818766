package report

import (
	"fmt"
	"math"
	"strings"

	"crowline/cmd/internal/answer"
	"crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem/geodesy"
	"crowline/dem/units"
	"crowline/profile"
)

// RouteCard is the card to print and carry; first are notes before its own.
func RouteCard(a *answer.RouteAnswer, paper page.Paper, u units.System, first ...string) (*page.Document, error) {
	p := &Page{Units: u}
	c := sheet.Card{Title: a.Name, Paper: paper, Date: a.Date(), Notes: append(first, p.cardNotes(a)...), Cautions: answer.Cautions(), Units: u}
	for i := range a.Legs {
		l := &a.Legs[i]
		b := l.Bearing.Full()
		times := l.Leg().Times()
		row := sheet.CardLeg{
			From: cardPlace(l.From), To: cardPlace(l.To), Distance: l.DistanceM, True: b.True, Grid: geodesy.GridBearing(l.Bearing.GridDeg),
			Magnetic: geodesy.MagneticBearing(l.Bearing.MagneticDeg), BackMagnetic: geodesy.MagneticBearing(l.Bearing.BackMagneticDeg),
			Ascent: l.Climb.AscentM, Descent: l.Climb.DescentM, AtLeast: l.Climb.AtLeast, ContoursUp: l.Climb.ContoursUp, ContoursDown: l.Climb.ContoursDown, ContoursAtLeast: l.Climb.ContoursAtLeast,
			NoTime: strings.TrimPrefix(p.noTime(times), "no time: "), TimeNotes: cardTimeNotes(times, a.Rule()), DoublePaces: l.Time.DoublePaces,
		}
		if number, ok := onDial(l.Bearing.TrueDeg, l.Bearing.MagneticDeg, l.Declination); ok {
			row.Set = number
			if b.BackError == nil {
				row.SetBack = units.Dial(l.Declination.Compass.Number(l.Bearing.BackTrueDeg, l.Bearing.BackMagneticDeg))
			}
		}
		row.Time, _ = l.WalkingTime(a.Rule())
		_, row.Warnings = p.cardWords(l)
		if at := l.Arrival; at != nil {
			row.Arrive = thereBy(at, *a.Start)
		}
		row.Sight = p.cardSight(l)
		c.Legs = append(c.Legs, row)
	}
	if i, text := routeDayEnds(a); text != "" { // what could hurt stands on its row
		c.Legs[i].Warnings = append(c.Legs[i].Warnings, sentence(capitalised(text)))
	}
	return c.Document()
}

// cardSight are short lines, the most needed first: the card prints as many as it
// has room for.
func (p *Page) cardSight(l *answer.RouteLeg) []string {
	out := append(l.SightLines(p.Units), sentence(p.endInView(l.Sight.Verdict, l.Sight.Walking())))
	if text := p.cardPassed(l.Passed); text != "" {
		out = append(out, text)
	}
	return out
}

func cardPlace(s answer.Spot) sheet.CardPlace {
	return sheet.CardPlace{Name: s.Name, Reference: reference(s), Elevation: s.ElevationM}
}

// reference is a place on the map: its grid reference, or its coordinates.
func reference(s answer.Spot) string {
	if s.MGRS != "" {
		return s.MGRS
	}
	return fmt.Sprintf("%.5f,%.5f", s.Lat, s.Lon)
}

// cardNotes say what the card's figures stand on.
func (p *Page) cardNotes(a *answer.RouteAnswer) []string {
	u, first := p.Units, &a.Legs[0]
	var out []string
	if d := first.Declination; d != nil {
		at, set := " at the start", "; set them on a compass not adjusted for declination"
		if d.Given() {
			at = ""
		}
		if chosen := compassSet(d); chosen != "" {
			set = ". Bearings are " + chosen
		}
		out = append(out, "Magnetic bearings by "+declinedBy(d)+at+set+".")
	}
	levels := first.Leg().Interval().Levels()
	out = append(out, fmt.Sprintf("Time by %s, without rests. Double paces at %s. Contour lines at %g %s.", p.ruleName(&first.Time), u.PaceCount(first.Time.PacePer100M), levels.Interval, levels.Unit))
	if a.Start != nil {
		last := a.Legs[len(a.Legs)-1].Arrival
		out = append(out, sentence(fmt.Sprintf("Start %s; arrivals by the slowest rule with 10 min of rest in every hour. At the end %s", setOut(*a.Start), daylight(&last.Light, *a.Start))))
	}
	if w := first.Climb.ContourWarning; w != "" {
		out = append(out, sentence(capitalised(w)))
	}
	if note := labelNote(a); note != "" {
		out = append(out, sentence(note))
	}
	var round []int
	for i := range a.Legs {
		if a.Legs[i].WayRound != nil {
			round = append(round, a.Legs[i].Number)
		}
	}
	if len(round) > 0 {
		out = append(out, "A way round saves climb on "+legNumbers(round)+": the text and the waypoints (--gpx) have it.")
	}
	data := "Elevations: " + a.ElevationData.Name
	if !math.IsNaN(a.ElevationData.VerticalErrorM) {
		data += fmt.Sprintf(", good to %s, one standard deviation", u.Height(a.ElevationData.VerticalErrorM))
	} else {
		data += "; their accuracy is not stated"
	}
	if !math.IsNaN(a.Totals.ErrorM) {
		data += fmt.Sprintf("; the whole climb to %s", u.Height(a.Totals.ErrorM))
	}
	return append(out, data+".", fmt.Sprintf("Sights: %s.", p.assumed(a.Assumptions)))
}

// cardTimeNotes are what a card's narrow cell says beside a leg's time: a longer
// time by another rule, and where to allow more.
func cardTimeNotes(t profile.Times, told profile.Rule) []string {
	times, ok := t.Whole()
	if !ok {
		return nil
	}
	var out []string
	if len(t.Steep) > 0 {
		out = append(out, fmt.Sprintf("allow more: %g to %g° steep", float64(profile.SteepLimit), float64(profile.WalkingLimit)))
	}
	if _, longest := times.Extremes(); t.Apart != profile.NotApart && longest != told {
		out = append(out, fmt.Sprintf("up to %s by %s, for %s", units.Clock(times[longest]), ruleNames[longest], t.Apart))
	}
	return out
}
