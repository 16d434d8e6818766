package cli

import (
	"fmt"
	"strings"

	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/profile"
	"crowline/visibility"
	"crowline/visibility/chain"
)

// cardWords are a leg's words on the card: what to walk on, what is seen and
// passed; and what to beware of.
func (l *routeLegJSON) cardWords(u units) (sight, warnings []string) {
	sight = append(sight, sentence(l.markText(u)))
	if text := l.destinationText(u); text != "" {
		sight = append(sight, sentence(text))
	}
	if text := l.passedText(u); text != "" {
		sight = append(sight, text)
	}
	if l.WayRound != nil {
		sight = append(sight, sentence("Way round: "+l.wayRoundText(u)))
	}
	if list := l.answer.times.NoWalking; len(list) > 0 {
		warnings = append(warnings, fmt.Sprintf("NO WALKING GROUND: %s over %g° along the line, where hands are needed.", amounts(u, list, "is", "are"), float64(profile.WalkingLimit)))
	}
	if len(l.Climb.GroundSteep) > 0 {
		warnings = append(warnings, steepText(u, l.Climb.GroundSteep))
	}
	if l.UnknownM > 0 {
		warnings = append(warnings, fmt.Sprintf("%s of the leg has no elevation data.%s", u.distance(l.UnknownM), l.timedText(u)))
	}
	if text := l.Filled.text(u); text != "" {
		warnings = append(warnings, "FILLED: "+text+".")
	}
	if text := l.Sight.filledText(); text != "" {
		warnings = append(warnings, "Sight of the end: "+text+".")
	}
	if l.Mark != nil {
		if text := l.Mark.filledText(); text != "" {
			warnings = append(warnings, "The mark: "+text)
		}
		if over := l.Mark.OverCover; over != nil && over.Depends {
			verdict, why := over.verdict(u)
			warnings = append(warnings, sentence(fmt.Sprintf("The mark: with what stands on the ground (%s) it is %s%s; no other mark is in sight over it either", over.Name, verdict, why)))
		}
	}
	if l.OverCover != nil && l.OverCover.Depends {
		warnings = append(warnings, sentence("Sight of the end: "+l.OverCover.sentence(l.Sight.Verdict, u)))
	}
	if l.OverCover != nil && l.OverCover.Warning != "" && l.Number == 1 {
		warnings = append(warnings, sentence("Cover: "+l.OverCover.Warning))
	}
	if f, err := l.fieldOf(); err == nil {
		if w := zoneWarning(f); w != "" {
			warnings = append(warnings, sentence("Compass: "+w))
		}
	}
	return sight, warnings
}

// timedText says what part of a leg its time and climb are for, where that is
// not all of it.
func (l *routeLegJSON) timedText(u units) string {
	if l.Time.TimedM > l.DistanceM-1 {
		return ""
	}
	return fmt.Sprintf(" Time and climb are for the first %s, paces for all.", u.distance(l.Time.TimedM))
}

// steepText names the steep stretches of a leg, or, where they are many, how
// much there is of them: none is left out in silence.
func steepText(u units, list []stretchJSON) string {
	const most = 3
	if len(list) <= most {
		return fmt.Sprintf("STEEP: ground of %g° or more at %s.", float64(profile.SteepLimit), joinStretches(u, list))
	}
	sum, longest := 0.0, list[0]
	for _, s := range list {
		sum += s.ToM - s.FromM
		if s.ToM-s.FromM > longest.ToM-longest.FromM {
			longest = s
		}
	}
	return fmt.Sprintf("STEEP: ground of %g° or more over %s of the way, in %d stretches, the first at %s, the longest %s.",
		float64(profile.SteepLimit), u.distance(sum), len(list), u.distance(list[0].FromM), joinStretches(u, []stretchJSON{longest}))
}

// markText is what to walk on: the best mark seen from the start, or else the
// first sightings on the line itself.
func (l *routeLegJSON) markText(u units) string {
	if l.Mark == nil {
		return l.sightingsText(u)
	}
	where := fmt.Sprintf("%s off", u.distance(l.Mark.DistanceM))
	if l.Mark.DistanceM > l.DistanceM+samePlace {
		where = fmt.Sprintf("%s beyond", u.distance(l.Mark.DistanceM-l.DistanceM))
	}
	along := "true " + bearing(l.Mark.TrueDeg)
	if l.magneticMark != nil {
		along = "magnetic " + bearing(*l.magneticMark)
	}
	text := fmt.Sprintf("Walk on %s (%s), %s°", markName(l.mark.Candidate, u), l.label(0), along)
	text += ", " + where
	if l.mark.Doubtful() {
		text += " (" + l.mark.Likelihood.Text() + ")"
	}
	if hidden := hiddenFrom(l.mark.Kept, l.DistanceM, u); hidden != "" {
		text += "; " + strings.ToLower(hidden[:1]) + strings.TrimSuffix(hidden[1:], ".")
	}
	return text
}

// cardSightings is how many sightings of a chain a card names.
const cardSightings = 2

// cardMarkJSON is a mark that the card names.
type cardMarkJSON struct {
	// Label tells the mark on the card and as a waypoint: the leg's number and a
	// letter.
	Label string `json:"label"`
	Name  string `json:"name"`
	At    place  `json:"place"`
	Text  string `json:"text"`
}

// label of the leg's marks, counted from 0.
func (l *routeLegJSON) label(mark int) string {
	return fmt.Sprintf("%d%c", l.Number, 'a'+mark)
}

// withLabel puts a label behind a mark's words, in the brackets they may end in.
func withLabel(text, label string) string {
	if before, ok := strings.CutSuffix(text, ")"); ok {
		return before + "; " + label + ")"
	}
	return text + " (" + label + ")"
}

// labelNote says what the labels on a card are; "" where it names no mark.
func (a *routeAnswer) labelNote() string {
	for _, l := range a.Legs {
		if len(l.CardMarks) > 0 {
			return fmt.Sprintf("Marks are named by leg and letter, as %s, and their waypoints (--gpx) likewise", l.CardMarks[0].Label)
		}
	}
	return ""
}

// sightings are the steps of the chain that a card tells, and how many more
// there are.
func (l *routeLegJSON) sightings() (steps []chain.Step, more int) {
	for _, s := range l.answer.wayside.plan.Steps {
		if s.Kind == chain.Sighted || !s.Short {
			steps = append(steps, s)
		}
	}
	told := min(len(steps), cardSightings)
	return steps[:told], len(steps) - told
}

// labelled reports whether a step of the chain is walked on a mark with a name
// of its own: the leg's end is a turning point.
func labelled(s chain.Step) bool {
	return s.Mark != nil && s.Mark.Kind != chain.Destination && s.Mark.Kind != chain.Start
}

// cardMarks are the marks the card names: the one seen from the start, or else
// those of the first sightings.
func (l *routeLegJSON) cardMarks(u units) []cardMarkJSON {
	out := []cardMarkJSON{}
	if l.Mark != nil {
		return append(out, cardMarkJSON{l.label(0), markName(l.mark.Candidate, u), l.Mark.At, l.markText(u)})
	}
	steps, _ := l.sightings()
	for _, s := range steps {
		if !labelled(s) {
			continue
		}
		m := *s.Mark
		name := m.Name
		if name == "" {
			kind := m.Kind.String()
			switch m.Kind {
			case chain.Ground:
				kind = "slope"
			case chain.Landmark:
				kind = "summit"
			}
			name = kind + " " + u.height(m.Elevation)
		}
		out = append(out, cardMarkJSON{l.label(len(out)), name, describePlace(namedPlace{LatLon: l.answer.placeOf(m)}, m.Elevation),
			fmt.Sprintf("Leg %d, from %s to %s: walk on %s", l.Number, u.distance(s.From), u.distance(s.To), m.Describe(u.lengths(), l.DistanceM))})
	}
	return out
}

// sightingsText are the first steps of the chain of sightings.
func (l *routeLegJSON) sightingsText(u units) string {
	var parts []string
	steps, more := l.sightings()
	marks := 0
	for _, s := range steps {
		switch {
		case labelled(s):
			parts = append(parts, withLabel(s.Mark.Describe(u.lengths(), l.DistanceM), l.label(marks)))
			marks++
		case s.Mark != nil:
			parts = append(parts, s.Mark.Describe(u.lengths(), l.DistanceM))
		default:
			parts = append(parts, fmt.Sprintf("the compass alone to %s", u.distance(s.To)))
		}
	}
	if len(parts) == 0 {
		return "No mark is in sight: walk on the compass alone"
	}
	if more > 0 {
		parts = append(parts, fmt.Sprintf("%d more", more))
	}
	return "Walk on " + strings.Join(parts, ", then ")
}

// destinationText is from where the leg's end is seen.
func (l *routeLegJSON) destinationText(u units) string {
	walking := l.answer.walking
	whole := len(walking) == 1
	switch l.answer.seen.Verdict {
	case visibility.Visible:
		if whole {
			return "The end is in view all the way"
		}
		return "The end is in view from the start, not all the way"
	case visibility.Hidden:
		if at, ok := firstSeen(walking); ok {
			return fmt.Sprintf("The end comes into view at %s", u.distance(at))
		}
		return "The end is hidden all the way"
	}
	return "Whether the end is in view is not known"
}

// passedText names the first landforms met, and every cliff come onto.
func (l *routeLegJSON) passedText(u units) string {
	var parts []string
	list := l.answer.wayside.passed
	for len(list) > 0 && list[0].Distance < samePlace && list[0].Kind != landform.Cliff {
		list = list[1:] // the start itself
	}
	more := 0
	for i, f := range list {
		// a cliff that the leg comes onto is told however long the list
		if i >= cardPassed && !(f.Kind == landform.Cliff && f.Off == 0) {
			more++
			continue
		}
		text := fmt.Sprintf("%s at %s", f.Name, u.distance(f.Distance))
		if f.filledText() != "" {
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

// wayRoundText is the way round, with the bearings to set.
func (l *routeLegJSON) wayRoundText(u units) string {
	w := l.WayRound
	first, second, north := w.FirstTrue, w.SecondTrue, "true"
	if f, err := l.fieldOf(); err == nil {
		turn := func(d float64) float64 {
			return float64(f.Declination.Magnetic(geodesy.NewTrueBearing(geodesy.Degrees(d))))
		}
		first, second, north = turn(first), turn(second), "magnetic"
	}
	at := w.At.MGRS
	if at == "" {
		at = fmt.Sprintf("%.5f,%.5f", w.At.Lat, w.At.Lon)
	}
	text := fmt.Sprintf("by %s (%s %s° for %s, then %s°) up %s, not %s; %s longer", at, north, dial(first), u.distance(w.FirstM), dial(second),
		u.height(w.AscentM), u.height(l.Climb.AscentM), u.distance(w.ExtraM))
	if w.OnFilled {
		text += "; part of it lies on ground " + filledWords
	}
	return text
}

// write is the card as text, with lines to write on.
func (a *routeAnswer) write(p *page, u units) {
	t := a.Totals
	least := ""
	if t.AtLeast {
		least = "at least "
	}
	p.head(strings.Join(wrap("Route card: "+a.Name, pageWidth-2), "\n  "))
	legs := "legs"
	if t.Legs == 1 {
		legs = "leg"
	}
	p.line("in all", "%d %s, %s, %sup %s, down %s", t.Legs, legs, u.distance(t.DistanceM), least, u.height(t.AscentM), u.height(t.DescentM))
	if t.ErrorM != nil {
		p.line("", "each give or take %s; rises and falls under %s left out", u.height(*t.ErrorM), u.height(a.Legs[0].Climb.DeadBandM))
	}
	if d, ok := a.walkingTime(); ok {
		p.line("time", "%s%s by %s, without rests", least, clock(d), timeRules[a.rule].words)
	} else {
		p.line("time", "no time for the whole: %s none", legsText(t.LegsWithoutTime, "has", "have"))
		p.line("", "those of the other legs are by %s, without rests", timeRules[a.rule].words)
	}
	p.line("paces", "about %.0f double paces, at %g in 100 m", roundTo(t.DoublePaces, 10), a.Legs[0].Time.PacePer100M)
	if d := a.Legs[0].Declination; d != nil {
		p.line("magnetic", "bearings on %s, declination %s ± %.1f at the start (%s)", d.Date, eastWest(d.Deg), d.SigmaDeg, d.Model)
	}
	if note := a.labelNote(); note != "" {
		p.line("marks", "%s", strings.TrimPrefix(note, "Marks are "))
	}
	for _, n := range a.Notes {
		p.line("note", "%s", n)
	}
	for i := range a.Legs {
		a.Legs[i].write(p, u, a.rule)
	}
	for _, w := range a.Written {
		p.printf("\n  Written: %s\n", w)
	}
	writeFoot(p, u, a.ElevationData, a.Assumptions)
}

func roundTo(v, step float64) float64 {
	return step * float64(int(v/step+0.5))
}

func (l *routeLegJSON) write(p *page, u units, rule string) {
	title := func(pl place) string {
		if pl.Name != "" {
			return pl.Name
		}
		return fmt.Sprintf("%.5f,%.5f", pl.Lat, pl.Lon)
	}
	number := fmt.Sprintf("%d  ", l.Number)
	indent := strings.Repeat(" ", len(number))
	p.head(number + strings.Join(wrap(title(l.From)+" to "+title(l.To), pageWidth-len(number)), "\n"+indent))
	p.line("to", "%s", l.To.text(u))
	b := l.answer.bearings
	set := "true " + dial(float64(b.True)) + "°: no magnetic bearing is known"
	if b.FieldError == nil {
		set = fmt.Sprintf("magnetic %s°   (true %s°", dial(float64(b.Magnetic)), dial(float64(b.True)))
		if b.GridError == nil {
			set += fmt.Sprintf(", grid %s°", dial(float64(b.Grid)))
		}
		if b.BackError == nil {
			set += fmt.Sprintf("; back, magnetic %s°", dial(float64(b.BackMagnetic)))
		}
		set += ")"
	}
	p.line("bearing", "%s", set)
	p.line("distance", "%s, about %.0f double paces", u.distance(l.DistanceM), roundTo(l.Time.DoublePaces, 10))
	least := ""
	if l.Climb.AtLeast {
		least = "at least "
	}
	lines := ""
	if l.Climb.ContoursAtLeast {
		lines = "at least "
	}
	levels := l.answer.levels
	p.line("climb", "%sup %s, down %s; contour lines at %g %s: %s%d up, %d down; steepest %.0f°", least, u.height(l.Climb.AscentM), u.height(l.Climb.DescentM),
		levels.Interval, levels.Unit, lines, l.Climb.ContoursUp, l.Climb.ContoursDown, l.Climb.SteepestDeg)
	if d, ok := l.walkingTime(rule); ok {
		p.line("time", "%s%s", least, clock(d))
	} else {
		p.line("time", "%s", noTime(l.answer.times, u))
	}
	for _, note := range l.answer.timeNotes(u) {
		p.line("", "%s", note)
	}
	sight, warnings := l.cardWords(u)
	for i, s := range sight {
		label := ""
		if i == 0 {
			label = "sight"
		}
		p.line(label, "%s", s)
	}
	for _, w := range warnings {
		p.line("BEWARE", "%s", w)
	}
	p.line("noted", "left ______  arrived ______  paces ______  seen ___________________")
}
