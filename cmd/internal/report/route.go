package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"crowline/cmd/internal/answer"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/dem/units"
	"crowline/profile"
	"crowline/profile/magnetic"
	"crowline/visibility"
)

// Route writes a route card, with lines to write on: first what could hurt, and
// how far it is, how much up and down, and how long.
func Route(p *Page, a *answer.RouteAnswer) {
	t, u := &a.Totals, p.Units
	first := &a.Legs[0]
	p.routeFirst(a)
	p.Head(strings.Join(Wrap("Route card: "+a.Name, Width-2), "\n  "))
	if !math.IsNaN(t.ErrorM) {
		p.Line("climb", "up and down each give or take %s; rises and falls under %s left out", u.Height(t.ErrorM), u.Height(first.Climb.DeadBandM))
	}
	if d, ok := a.WalkingTime(); ok {
		p.Line("time", "%s%s by %s, %s%s by the rules, without rests", atLeast(t.AtLeast), units.Clock(d), p.ruleName(&first.Time), atLeast(t.AtLeast), fromTo(seconds(t.QuickestS), seconds(t.SlowestS)))
	} else {
		p.Line("time", "no time for the whole: %s none", legsText(t.LegsWithoutTime, "has", "have"))
		p.Line("", "those of the other legs are by %s, without rests", p.ruleName(&first.Time))
	}
	p.routeClock(a)
	if math.IsNaN(t.DoublePaces) {
		p.Line("paces", "none for the whole: %s ground that needs hands; at %s", legsText(t.LegsWithoutTime, "has", "have"), u.PaceCount(first.Time.PacePer100M))
	} else {
		p.Line("paces", "about %.0f double paces, at %s", toTens(t.DoublePaces), u.PaceCount(first.Time.PacePer100M))
	}
	if d := first.Declination; d != nil {
		text := "bearings by " + declinedBy(d)
		if !d.Given() {
			text += ", at the start"
		}
		if set := compassSet(d); set != "" {
			text += "; " + set
		}
		p.Line("magnetic", "%s", text)
	}
	if note := labelNote(a); note != "" {
		p.Line("marks", "%s", strings.TrimPrefix(note, "Marks are "))
	}
	for _, n := range a.NotesIn(u) {
		p.Line("note", "%s", n)
	}
	for i := range a.Legs {
		p.routeLeg(&a.Legs[i], a.Rule(), a.Start)
	}
	for _, w := range a.Written {
		p.Written("Written:", w)
	}
	p.foot(a.ElevationData, a.Assumptions)
}

// mostRouteHazards is how many lines the hazards of a route may take, of the three
// that decide.
const mostRouteHazards = 2

// routeFirst are the lines a leader decides by, three at most.
func (p *Page) routeFirst(a *answer.RouteAnswer) {
	t, u := &a.Totals, p.Units
	told := p.routeHazards(a)
	beware := p.joined("BEWARE", told)
	for n := len(told) - 1; n > 0 && len(beware) > mostRouteHazards; n-- {
		beware = p.joined("BEWARE", append(told[:n:n], "more below"))
	}
	p.lines(beware)
	took := "no walking time"
	if !math.IsNaN(t.QuickestS) {
		took = atLeast(t.AtLeast) + fromTo(seconds(t.QuickestS), seconds(t.SlowestS)) + " without rests"
	}
	p.lines(p.joined("walk", []string{fmt.Sprintf("%s, %s, %s%s up, %s down, %s", count(t.Legs, "leg"), u.Distance(t.DistanceM), atLeast(t.AtLeast),
		u.Height(t.AscentM), u.Height(t.DescentM), took)}))
	p.began = true
}

// routeHazards are what could hurt on a route, and on which legs, the gravest
// first.
func (p *Page) routeHazards(a *answer.RouteAnswer) []string {
	var ends, noWalking, steep, noData, cliffs, water, guessed []int
	steepest := 0.0
	for i := range a.Legs {
		l := &a.Legs[i]
		if l.CoveredM < l.DistanceM {
			ends = append(ends, l.Number)
		} else if l.UnknownM > 0 {
			noData = append(noData, l.Number)
		}
		if len(l.Time.NoWalking) > 0 {
			noWalking = append(noWalking, l.Number)
		}
		if c := &l.Climb; len(c.GroundSteep) > 0 || len(c.Steep) > 0 {
			steep, steepest = append(steep, l.Number), math.Max(steepest, math.Max(c.GroundSteepestDeg, c.SteepestDeg))
		}
		if near := l.Leg().Cliffs; near != nil && len(*near) > 0 {
			cliffs = append(cliffs, l.Number)
		}
		if _, wet := waterOnLine(l.Leg()); wet {
			water = append(water, l.Number)
		}
		if l.Filled != nil && len(l.Filled.Stretches) > 0 {
			guessed = append(guessed, l.Number)
		}
	}
	var out []string
	say := func(list []int, what string) {
		if len(list) > 0 {
			out = append(out, what+" "+legNumbers(list))
		}
	}
	say(ends, "the data ends on")
	say(noWalking, "too steep to walk on")
	if _, text := routeDayEnds(a); text != "" {
		out = append(out, text)
	}
	say(steep, fmt.Sprintf("over 30° (up to %.0f°) on", steepest))
	say(cliffs, "cliffs near the line on")
	say(water, "water on the line, lakes probably, on")
	say(noData, "gaps in the data on")
	say(guessed, "ground that is guessed on")
	return out
}

// legNumbers names legs by their numbers.
func legNumbers(numbers []int) string {
	return strings.TrimSuffix(legsText(numbers, "", ""), " ")
}

func (p *Page) routeLeg(l *answer.RouteLeg, rule profile.Rule, start *answer.Moment) {
	u := p.Units
	title := func(s answer.Spot) string {
		if s.Name != "" {
			return s.Name
		}
		return fmt.Sprintf("%.5f,%.5f", s.Lat, s.Lon)
	}
	number := fmt.Sprintf("%d  ", l.Number)
	indent := strings.Repeat(" ", len(number))
	p.Head(number + strings.Join(Wrap(title(l.From)+" to "+title(l.To), Width-len(number)), "\n"+indent))
	_, warnings := p.cardWords(l)
	for _, w := range warnings {
		p.Line("BEWARE", "%s", w)
	}
	p.Line("to", "%s", p.place(l.To))
	b := l.Bearing.Full()
	set := "true " + units.Dial(float64(b.True)) + "°: no magnetic bearing is known"
	if number, ok := onDial(l.Bearing.TrueDeg, l.Bearing.MagneticDeg, l.Declination); ok {
		set = number + " on your compass"
		if b.BackError == nil {
			set += "; back " + units.Dial(l.Declination.Compass.Number(l.Bearing.BackTrueDeg, l.Bearing.BackMagneticDeg))
		}
	} else if b.FieldError == nil {
		set = fmt.Sprintf("magnetic %s°   (true %s°", units.Dial(float64(b.Magnetic)), units.Dial(float64(b.True)))
		if b.GridError == nil {
			set += fmt.Sprintf(", grid %s°", units.Dial(float64(b.Grid)))
		}
		if b.BackError == nil {
			set += fmt.Sprintf("; back, magnetic %s°", units.Dial(float64(b.BackMagnetic)))
		}
		set += ")"
	}
	p.Line("bearing", "%s", set)
	about := ""
	if !math.IsNaN(l.Time.DoublePaces) {
		about = ", about" + strings.TrimPrefix(doublePaces(l.Time.DoublePaces), ",")
	}
	p.Line("distance", "%s%s", u.Distance(l.DistanceM), about)
	c, levels := &l.Climb, l.Leg().Interval().Levels()
	p.Line("climb", "%sup %s, down %s; contour lines at %g %s: %s%d up, %d down; steepest %.0f°", atLeast(c.AtLeast), u.Height(c.AscentM), u.Height(c.DescentM),
		levels.Interval, levels.Unit, atLeast(c.ContoursAtLeast), c.ContoursUp, c.ContoursDown, c.SteepestDeg)
	if d, ok := l.WalkingTime(rule); ok {
		by, _ := l.Leg().Times().Whole()
		shortest, longest := by.Extremes()
		p.Line("time", "%s%s, %s%s by the rules", atLeast(c.AtLeast), units.Clock(d), atLeast(c.AtLeast), fromTo(by[shortest], by[longest]))
	} else {
		p.Line("time", "%s", p.noTime(l.Leg().Times()))
	}
	for _, note := range p.timeNotes(l.Leg(), &rule) {
		p.Line("", "%s", note)
	}
	if l.Arrival != nil {
		p.legArrival(l.Arrival, start)
	}
	sight, _ := p.cardWords(l)
	for i, s := range sight {
		label := ""
		if i == 0 {
			label = "sight"
		}
		p.Line(label, "%s", s)
	}
	if a := l.Leg(); a.Asked() {
		p.Line("drift", "%s", p.drift(a, true))
		const rails = 1
		p.waymarks(a, rails)
	}
	p.Line("noted", "left ______  arrived ______  paces ______  seen ___________________")
}

// toTens rounds paces: nobody counts to one.
func toTens(v float64) float64 { return math.Round(v/10) * 10 }

// legsText names legs by their numbers, with the verb that follows.
func legsText(numbers []int, has, have string) string {
	var parts []string
	for _, n := range numbers {
		parts = append(parts, fmt.Sprint(n))
	}
	switch n := len(parts); n {
	case 1:
		return "leg " + parts[0] + " " + has
	default:
		return "legs " + strings.Join(parts[:n-1], ", ") + " and " + parts[n-1] + " " + have
	}
}

// labelNote says what the labels on a card are; "" where it names no mark.
func labelNote(a *answer.RouteAnswer) string {
	for _, l := range a.Legs {
		if len(l.CardMarks) > 0 {
			return fmt.Sprintf("Marks are named by leg and letter, as %s, and their waypoints (--gpx) likewise", l.CardMarks[0].Label)
		}
	}
	return ""
}

// cardWords are a leg's words on the card: what to walk on, what is seen and
// passed; and what to beware of.
func (p *Page) cardWords(l *answer.RouteLeg) (sight, warnings []string) {
	u := p.Units
	sight = append(sight, sentence(l.WalkOn(u)), sentence(p.endInView(l.Sight.Verdict, l.Sight.Walking())+fromTheStart(&l.Sight)))
	if text := p.cardPassed(l.Passed); text != "" {
		sight = append(sight, text)
	}
	if l.WayRound != nil {
		sight = append(sight, sentence("Way round: "+p.wayRound(l)))
	}
	if hazards := p.hazards(l.Leg()); len(hazards) > 0 {
		warnings = append(warnings, sentence(capitalised(strings.Join(hazards, "; "))))
	}
	if l.UnknownM > 0 {
		timed := ""
		if l.Time.TimedM <= l.DistanceM-1 {
			timed = fmt.Sprintf(" Time and climb are for the first %s, paces for all.", u.Distance(l.Time.TimedM))
		}
		warnings = append(warnings, fmt.Sprintf("%s of the leg has no elevation data.%s", u.Distance(l.UnknownM), timed))
	}
	if text := p.filledLineText(l.Filled); text != "" {
		warnings = append(warnings, "FILLED: "+text+".")
	}
	if text := filledSight(&l.Sight); text != "" {
		warnings = append(warnings, "Sight of the end: "+text+".")
	}
	marks, depends, name := 0, 0, ""
	for i := range l.Chain.Steps {
		if over := l.Chain.Steps[i].OverCover; over != nil {
			marks, name = marks+1, over.Name
			if over.Depends {
				depends++
			}
		}
	}
	if depends > 0 {
		warnings = append(warnings, fmt.Sprintf("Marks: with what stands on the ground (%s) %d of %d are not in view where they are chosen.", name, depends, marks))
	}
	if over := l.OverCover; over != nil {
		if over.Depends {
			warnings = append(warnings, sentence("Sight of the end: "+p.coverSight(over, l.Sight.Verdict)))
		}
		if over.Warning != "" && l.Number == 1 {
			warnings = append(warnings, sentence("Cover: "+over.Warning))
		}
	}
	if b := l.Bearing.Full(); b.FieldError == nil && b.Field.Zone == magnetic.Caution {
		warnings = append(warnings, sentence("Compass: "+answer.WeakField))
	}
	return sight, warnings
}

// fromTheStart is how sure it is that the leg's end is seen from its start, ""
// where that is certain or not known.
func fromTheStart(s *answer.SightLine) string {
	if l := s.Likely.Full(); !l.Sure() {
		return " (from the start: " + visibility.Worded(s.Verdict, l) + ")"
	}
	return ""
}

// endInView is from where the leg's end is seen.
func (p *Page) endInView(verdict visibility.Verdict, walking []visibility.Stretch) string {
	has := func(v visibility.Verdict) bool {
		return slices.ContainsFunc(walking, func(w visibility.Stretch) bool { return w.Verdict == v })
	}
	at, atLatest := visibility.FirstSeen(walking)
	where := p.Units.Distance(at)
	if atLatest {
		where += " at the latest"
	}
	switch {
	case verdict == visibility.Visible && has(visibility.Hidden):
		return "The end is in view from the start, not all the way"
	case verdict == visibility.Visible && has(visibility.Unknown):
		return "The end is in view from the start; for part of the way it is not known"
	case verdict == visibility.Visible:
		return "The end is in view all the way"
	case verdict == visibility.Hidden && !math.IsNaN(at):
		return "The end comes into view at " + where
	case verdict == visibility.Hidden && has(visibility.Unknown):
		return "The end is hidden from the start; for part of the way it is not known"
	case verdict == visibility.Hidden:
		return "The end is hidden all the way"
	}
	return "Whether the end is in view from the start is not known"
}

// cardPassed names the first landforms met, and every cliff come onto.
func (p *Page) cardPassed(list []answer.Passed) string {
	const start = 1.0 // metres: what is met before is the start itself
	for len(list) > 0 && list[0].AtM < start && list[0].Kind != landform.Cliff {
		list = list[1:]
	}
	var parts []string
	more := 0
	for i := range list {
		f := &list[i]
		// a cliff that the leg comes onto is told however long the list
		if i >= answer.DefaultPolicy().CardPassed && !(f.Kind == landform.Cliff && f.Nearest == nil) {
			more++
			continue
		}
		text := fmt.Sprintf("%s at %s", f.Name, p.Units.Distance(f.AtM))
		if passedFilled(f) != "" {
			text += " (on filled ground)"
		}
		parts = append(parts, text)
	}
	if more > 0 {
		parts = append(parts, fmt.Sprintf("%d more", more))
	}
	if len(parts) == 0 {
		return ""
	}
	return "Passes " + strings.Join(parts, ", ") + "."
}

// wayRound is the way round, with the bearings to set.
func (p *Page) wayRound(l *answer.RouteLeg) string {
	w, u := l.WayRound, p.Units
	first, second, north := w.FirstTrueDeg, w.SecondTrueDeg, "true "
	if b := l.Bearing.Full(); b.FieldError == nil {
		compass := l.Declination.Compass
		turned := func(d float64) float64 {
			return compass.Number(d, float64(b.Field.Declination.Magnetic(geodesy.NewTrueBearing(geodesy.Degrees(d)))))
		}
		if first, second, north = turned(first), turned(second), "magnetic "; compass != answer.AnyCompass {
			north = ""
		}
	}
	text := fmt.Sprintf("by %s (%s%s° for %s, then %s°) up %s, not %s; %s longer", reference(w.At), north, units.Dial(first), u.Distance(w.FirstM), units.Dial(second),
		u.Height(w.AscentM), u.Height(l.Climb.AscentM), u.Distance(w.ExtraM))
	if w.OnFilled {
		text += "; part of it lies on ground " + filledWords
	}
	return text
}

// RouteWaypoints are the marks that the card names and the ways round, called
// as on the card.
func RouteWaypoints(a *answer.RouteAnswer, u units.System) []answer.Waypoint {
	p := &Page{Units: u}
	var out []answer.Waypoint
	for i := range a.Legs {
		l := &a.Legs[i]
		for _, m := range l.CardMarksIn(u) {
			out = append(out, answer.Waypoint{At: m.At, Name: m.Label + " " + m.Name, Kind: "mark", Text: m.Text})
		}
		if l.WayRound != nil {
			out = append(out, answer.Waypoint{At: l.WayRound.At, Name: fmt.Sprintf("%d way round", l.Number), Kind: "way round", Text: p.wayRound(l)})
		}
	}
	return out
}
