package report

import (
	"fmt"
	"math"
	"strings"

	"crowline/cmd/internal/answer"
	"crowline/dem/landform"
	"crowline/dem/units"
	"crowline/profile"
	"crowline/visibility/chain"
)

// LegInFull writes all that is known of a leg, with so many of its marks.
func LegInFull(p *Page, a *answer.LegAnswer, marks int) {
	drifted := p.first(a)
	p.legHead(a)

	p.Head("Bearing to follow")
	p.bearings(a.Bearing, a.Declination)

	p.Head("Sight")
	p.sight("the destination", "start", &a.Sight)
	p.likely(a.Sight.Likely)
	p.overCover(a.OverCover, a.Sight.Verdict, false)
	p.filledSight(&a.Sight)
	p.walking(a.Sight.Walking(), a.DistanceM, "the destination")
	if a.OverCover != nil {
		p.Line("", "walking is over the bare ground: what stands on it may hide more")
	}
	if a.Asked() {
		p.legMarks(a, marks)
		p.chain(a, false)
		p.Head("Near the goal, and in cloud or dark")
		p.near(a, !drifted, mostRails)
		if a.TickOff != nil && len(*a.TickOff) > 0 {
			p.Head(p.ticksHead(a))
			p.ticks(a)
		}
	}

	p.Head("Climb")
	p.climb(a)

	p.Head("Time")
	p.time(a)
	p.byTheClock(a, false)

	if a.Asked() {
		p.passed(a)
	}
	p.foot(a.ElevationData, a.Assumptions)
}

// LegChain writes a leg with its first lines and its sightings alone.
func LegChain(p *Page, a *answer.LegAnswer) {
	p.first(a)
	p.legHead(a)
	p.Line("bearing", "true %s°", units.Bearing(a.Bearing.TrueDeg))
	if a.Declination != nil {
		if set, ok := onDial(a.Bearing.TrueDeg, a.Bearing.MagneticDeg, a.Declination); ok {
			p.Line("", "%s on your compass", set)
		} else {
			p.Line("", "%s", magneticWords(a.Bearing.MagneticDeg, a.Declination))
		}
	}
	p.byTheClock(a, false)
	p.chain(a, false)
	p.foot(a.ElevationData, a.Assumptions)
}

func (p *Page) legHead(a *answer.LegAnswer) {
	p.Head("Leg")
	p.Line("from", "%s", p.place(a.From))
	p.Line("to", "%s", p.place(a.To))
	p.Line("distance", "%s, towards %s", p.Units.Distance(a.DistanceM), units.Towards(a.Bearing.TrueDeg))
	if a.CoveredM < a.DistanceM {
		p.Line("", "The elevation data ends %s along; what follows is for that part, but for bearing and paces.", p.Units.Distance(a.CoveredM))
	} else if a.UnknownM > 0 {
		p.Line("", "%s of it has no elevation data (voids).", p.Units.Distance(a.UnknownM))
	}
	p.filledLine(a.Filled)
}

// legMarks lists the best marks and where each is kept in view.
func (p *Page) legMarks(a *answer.LegAnswer, most int) {
	p.Head("Marks to walk on, within 2° of the bearing")
	shown := 0
	for i := range *a.Marks {
		m := &(*a.Marks)[i]
		if !m.Full().Shows() {
			continue
		}
		p.mark(m, a.Declination)
		if hidden := answer.HiddenFrom(m.Full().Kept, a.DistanceM, p.Units); hidden != "" {
			p.Line("", "%s", sentence(capitalised(hidden)))
		}
		if shown++; shown == most {
			break
		}
	}
	if shown == 0 {
		p.Note("None is likely to be seen from the start.")
	}
}

// leastTold is the shortest stretch on the compass that is told, metres.
var leastTold = answer.DefaultPolicy().LeastTold

// chain is the chain of sightings, step by step. A short stretch on the compass
// is told with the sighting before it. In brief what holds for every leg is left
// out, with how high a mark stands and what to do where it is not found.
func (p *Page) chain(a *answer.LegAnswer, brief bool) {
	p.Head("Sightings, start to destination")
	plan, length := a.Plan(), a.DistanceM
	advice := chainAdvice(a)
	if !brief {
		p.Note("%s", strings.TrimSuffix(p.chainSummary(a)+" "+advice, " "))
		if a.Chain != nil && a.Chain.EveryNthPost > 1 {
			p.Note("The data is finer than this looks: marks are looked for over one post in %d each way.", a.Chain.EveryNthPost)
		}
	} else if advice != "" {
		p.Note("%s", advice)
	}
	if over := overCoverSummary(a); over != "" {
		p.Note("%s", over)
	}
	n := 0
	for i := range plan.Steps {
		s := &plan.Steps[i]
		n = max(n, plan.Number(i))
		text := p.Units.Stretch(s.From, s.To) + ": "
		if brief && s.Kind == chain.Sighted {
			text += lookLost(s.Mark.Look(p.Units), s.LostText(p.Units))
		} else {
			text += s.Sentence(p.Units, length)
		}
		switch {
		case s.Kind == chain.Sighted:
			if i+1 < len(plan.Steps) && plan.Steps[i+1].Short && plan.Steps[i+1].To-s.To >= leastTold {
				text += fmt.Sprintf("; then %s on the compass", p.Units.Distance(plan.Steps[i+1].To-s.To))
			}
			if over := a.Chain.Steps[i].OverCover; over != nil && over.Depends {
				text += "; with what stands on the ground: " + over.Sight.Verdict.String()
			}
			p.Line(fmt.Sprintf("%d", n), "%s", text)
			if !brief {
				if at := a.Chain.Steps[i].Mark.Saddle; at != nil {
					p.Line("", "%s", p.saddleAt(at))
				}
				p.Line("", "not found? %s", s.NotFound(p.Units, length))
			}
		case brief && !s.Short:
			p.Line("compass", "%s: %s, nothing to sight ahead", p.Units.Stretch(s.From, s.To), s.Dial)
		case !brief && i == 0, !s.Short: // the first lines have said it in brief
			p.Line("compass", "%s", text)
		}
	}
}

// lookLost is what to look at, and where it is lost; "" for nowhere.
func lookLost(look, lost string) string {
	if lost == "" {
		return look
	}
	return look + "; " + lost
}

// chainSummary says first how far the sightings lead.
func (p *Page) chainSummary(a *answer.LegAnswer) string {
	plan := a.Plan()
	sightings, lead, each := fmt.Sprintf("%d sightings", plan.Sightings), "lead", "each mark is"
	if plan.Sightings == 1 {
		sightings, lead, each = "1 sighting", "leads", "the mark is"
	}
	kept := each + " in view where it is chosen, and lost for " + p.Units.Distance(chain.DefaultMostLost) + " at most"
	if a.Throughout() {
		kept = each + " in view all the way that it leads"
	}
	var text string
	switch {
	case plan.Sightings == 0:
		text = "Nothing that can be recognised leads along the line: all the way is walked on the compass."
	case plan.Complete() && plan.CompassOnly == 0:
		text = fmt.Sprintf("%s %s all the way; %s.", sightings, lead, kept)
	case plan.Complete():
		text = fmt.Sprintf("%s %s all the way but for short stretches on the compass; %s.", sightings, lead, kept)
	default:
		text = fmt.Sprintf("%s, and %s on the compass alone where nothing that can be recognised leads; %s.", sightings, p.Units.Distance(plan.Unguided), kept)
	}
	if asFarAsKnown(a) != "" {
		text += " That is so on the ground that is known."
	}
	return text
}

// chainAdvice is what to do on a line that marks do not lead along; "" on others.
func chainAdvice(a *answer.LegAnswer) string {
	plan := a.Plan()
	switch {
	case plan.Plain > plan.Unguided/2:
		return "The ground there is too level to sight on. Keep the line by counting paces and by bearings back, send one ahead as a mark and line them up by compass, or follow a stream, ridge or edge that runs your way (common practice)."
	case plan.Hard() && a.Throughout():
		return "This line is hard to lead by marks: consider another line, or shorter legs, or leave out --throughout."
	case plan.Hard():
		return "This line is hard to lead by marks: consider another line, or shorter legs."
	}
	return ""
}

// overCoverSummary says how many of the chain's marks are hidden where they are
// chosen, or may be, by what stands on the ground.
func overCoverSummary(a *answer.LegAnswer) string {
	lost, name := 0, ""
	for _, s := range a.Chain.Steps {
		if s.OverCover == nil {
			continue
		}
		name = s.OverCover.Name
		if s.OverCover.Depends {
			lost++
		}
	}
	switch {
	case name == "":
		return ""
	case lost == 0:
		return fmt.Sprintf("They are over the bare ground; over what stands on it (%s) each mark is in view from a clearing where it is chosen. The walk between is not looked at.", name)
	case a.Chain.Sightings == 1:
		return fmt.Sprintf("It is over the bare ground: over what stands on it (%s) the mark is not in view where it is chosen.", name)
	}
	return fmt.Sprintf("They are over the bare ground: over what stands on it (%s) %d of the %d marks are not in view where they are chosen.", name, lost, a.Chain.Sightings)
}

// passed is what a walker ticks off.
func (p *Page) passed(a *answer.LegAnswer) {
	if len(*a.Passed) == 0 {
		return
	}
	scale, relief := a.PassedScale()
	p.Head(fmt.Sprintf("Passed on the way (landforms of about %s, %s of relief or more)", p.Units.Distance(scale), p.Units.Height(relief)))
	for i := range *a.Passed {
		f := &(*a.Passed)[i]
		text := fmt.Sprintf("%s, %s", f.Name, p.Units.Height(f.ElevationM))
		if f.UntilM != nil {
			text += fmt.Sprintf(", as far as %s", p.Units.Distance(*f.UntilM))
		}
		if beside := p.beside(f); beside != "" {
			text += "; " + beside
		}
		if filled := passedFilled(f); filled != "" {
			text += "; FILLED: " + filled
		}
		p.Line(p.Units.Distance(f.AtM), "%s", text)
	}
}

// passedFilled says which of a landform passed lies on filled ground, "" for
// none.
func passedFilled(f *answer.Passed) string {
	aside := f.Aside != nil && f.Aside.Filled
	switch {
	case f.Filled && aside:
		return "all of it on ground " + filledWords
	case f.Filled:
		return "on ground " + filledWords
	case aside:
		return "itself on ground " + filledWords
	}
	return ""
}

// beside says where a landform stands that a leg does not go over, or "": its
// own place, or of a cliff its nearest part.
func (p *Page) beside(f *answer.Passed) string {
	offset, elevation := 0.0, nan
	if f.Aside != nil {
		offset, elevation = f.Aside.OffsetM, f.Aside.ElevationM
	}
	part, stands := "top", "stands"
	switch f.Kind {
	case landform.Saddle:
		part, stands = "floor", "lies"
	case landform.Depression:
		part, stands = "bottom", "lies"
	case landform.Cliff:
		part, offset = "nearest part", 0
		if f.Nearest != nil {
			offset, elevation = f.Nearest.OffsetM, f.Nearest.Place.ElevationM
		}
	}
	if offset == 0 {
		return ""
	}
	whose := "its"
	if strings.HasSuffix(f.Name, " point") { // the leg's own high or low point
		whose = fmt.Sprintf("a %s's", f.Kind)
	}
	text := fmt.Sprintf("%s %s, %s, %s %s to the %s", whose, part, p.Units.Height(elevation), stands, p.Units.Distance(math.Abs(offset)), side(offset))
	if f.Kind == landform.Depression && f.Nearest != nil && f.Nearest.OffsetM != offset {
		text += fmt.Sprintf(", its nearest part %s off", p.Units.Distance(math.Abs(f.Nearest.OffsetM)))
	}
	return text
}

var nan = math.NaN()

func side(offset float64) string {
	if offset < 0 {
		return "left"
	}
	return "right"
}

// climb is what a line climbs and drops, and how steep it is.
func (p *Page) climb(a *answer.LegAnswer) {
	c, u := &a.Climb, p.Units
	worth := "; the accuracy of the data is not stated"
	if !math.IsNaN(c.ErrorM) {
		worth = fmt.Sprintf(", each give or take %s", u.Height(c.ErrorM))
	}
	p.Line("ground", "%sup %s, down %s%s (rises and falls under %s left out)", atLeast(c.AtLeast),
		u.Height(c.AscentM), u.Height(c.DescentM), worth, u.Height(c.DeadBandM))
	p.contours(a)
	if !math.IsNaN(c.LowestM) && !math.IsInf(c.LowestM, 0) {
		p.Line("lies", "between %s and %s%s", u.Height(c.LowestM), u.Height(c.HighestM), asFarAsKnown(a))
		if text := climbFilled(c); text != "" {
			p.Line("FILLED", "%s", text)
		}
	}
	sense := "down"
	if c.SteepestUphill {
		sense = "up"
	}
	p.Line("steepest", "%.0f° (%.0f %%) %s, at %s%s; slopes are averages over %s, so short steps are steeper",
		c.SteepestDeg, 100*math.Tan(c.SteepestDeg*math.Pi/180), sense, u.Distance(c.SteepestAtM), asFarAsKnown(a), u.Distance(c.SlopeBaselineM))
	var shares []string
	for _, s := range c.SlopeClasses {
		if s.Share < 0.005 {
			continue
		}
		name := fmt.Sprintf("%g to %g°", s.FromDeg, s.ToDeg)
		if s.ToDeg == 90 {
			name = fmt.Sprintf("over %g°", s.FromDeg)
		} else if s.FromDeg == 0 {
			name = fmt.Sprintf("under %g°", s.ToDeg)
		}
		shares = append(shares, fmt.Sprintf("%s %.0f %%", name, 100*s.Share))
	}
	way := "the way"
	if asFarAsKnown(a) != "" {
		way = "the way that is known"
	}
	p.Line("slopes", "%s of %s", strings.Join(shares, ", "), way)
	p.Line("ground", "steepest under the line in any direction: %.0f°, at %s%s", c.GroundSteepestDeg, u.Distance(c.GroundSteepestAtM), asFarAsKnown(a))
	if len(c.Steep) > 0 {
		p.Line("STEEP", "30° or more along the line: %s%s", p.steepStretches(c.Steep), asFarAsKnown(a))
	}
	if len(c.GroundSteep) > 0 {
		p.Line("STEEP", "ground of 30° or more under the line: %s%s", p.steepStretches(c.GroundSteep), asFarAsKnown(a))
	}
}

// asFarAsKnown goes behind what is the most or the least of a leg, "" where all
// its ground is known.
func asFarAsKnown(a *answer.LegAnswer) string {
	if a.UnknownM > 0 || a.CoveredM < a.DistanceM {
		return ", as far as the ground is known"
	}
	return ""
}

func atLeast(yes bool) string {
	if yes {
		return "at least "
	}
	return ""
}

// contours is the climb as a map shows it, with what such a count is off by
// where that is known.
func (p *Page) contours(a *answer.LegAnswer) {
	c, levels, u := &a.Climb, a.Interval().Levels(), p.Units
	text := fmt.Sprintf("%s%d up, %d down at %g %s", atLeast(c.ContoursAtLeast), c.ContoursUp, c.ContoursDown, levels.Interval, levels.Unit)
	var parts, errors []string
	add := func(way string, lines, runs int, run string, within, sigma float64) {
		if math.IsNaN(within) {
			return
		}
		if runs != 1 {
			run += "s"
		}
		parts = append(parts, fmt.Sprintf("%s %s, off by less than %s (%d %s)", way, u.Height(float64(lines)*c.ContourIntervalM), u.Height(within), runs, run))
		if !math.IsNaN(sigma) {
			errors = append(errors, u.Height(sigma))
		}
	}
	add("up", c.ContoursUp, c.ContourRises, "rise", c.ContoursUpErrorM, c.ContoursUpSigmaM)
	add("down", c.ContoursDown, c.ContourFalls, "fall", c.ContoursDownErrorM, c.ContoursDownSigmaM)
	if len(parts) > 0 {
		text += ": " + strings.Join(parts, ", ")
	}
	if len(errors) > 0 {
		text += "; the data's error adds " + strings.Join(errors, " and ") + ", one standard deviation"
	}
	p.Line("contours", "%s", text)
	switch {
	case c.ContoursAtLeast && a.CoveredM >= a.DistanceM:
		p.Line("", "part of the leg is in or beside a void of the data, where a map has no lines")
	default:
		p.Line("", "rises and falls between two lines do not show in them")
	}
	p.Line("interval", "%s", c.ContourReason)
	if c.ContourWarning != "" {
		p.Line("warning", "%s", c.ContourWarning)
	}
}

// climbFilled says which of the lowest and highest ground was filled in, "" for
// neither.
func climbFilled(c *answer.Climb) string {
	which := ""
	switch {
	case c.LowestFilled && c.HighestFilled:
		which = "the lowest and the highest ground were"
	case c.LowestFilled:
		which = "the lowest ground was"
	case c.HighestFilled:
		which = "the highest ground was"
	default:
		return ""
	}
	return which + " " + filledWords + ", and may be higher or lower"
}

// steepStretches lists stretches; where they are many, those less than steepGap
// metres apart in one, and how much there is of them in all.
func (p *Page) steepStretches(list []answer.Stretch) string {
	const most, steepGap = 4, 200
	if len(list) <= most {
		return p.stretches(list)
	}
	sum := 0.0
	var joined []answer.Stretch
	for _, s := range list {
		sum += s.ToM - s.FromM
		if n := len(joined); n > 0 && s.FromM-joined[n-1].ToM < steepGap {
			joined[n-1].ToM = s.ToM
		} else {
			joined = append(joined, s)
		}
	}
	return fmt.Sprintf("%s of the way, in parts of %s", p.Units.Distance(sum), p.stretches(joined))
}

// ruleNames are the rules for time as a line of text names them.
var ruleNames = map[profile.Rule]string{
	profile.ByNaismithLangmuir: "Naismith with Langmuir's corrections", profile.ByTobler: "Tobler off path", profile.ByDIN33466: "DIN 33466",
}

// time gives the times, and says what part of the leg they and the paces are
// for where part of it has no data.
func (p *Page) time(a *answer.LegAnswer) {
	t, least, whole, u := a.Times(), "", "", p.Units
	if t.Timed < a.DistanceM-1 {
		p.Line("for", "the first %s alone, as far as the ground is known", u.Distance(t.Timed))
		whole = fmt.Sprintf(" for the whole %s", u.Distance(a.DistanceM))
	}
	if times, ok := t.Whole(); ok {
		least = atLeast(t.NoData > 0)
		var parts []string
		for rule, d := range times {
			parts = append(parts, fmt.Sprintf("%s%s by %s", least, units.Clock(d), ruleNames[profile.Rule(rule)]))
		}
		own := ""
		if a.Time.SpeedKmH > 0 {
			own = " at your " + p.ownSpeed(&a.Time) + " on a level path"
		}
		p.Line("on foot", "%s%s; without rests", strings.Join(parts, ", "), own)
		if t.NoData > 0 {
			p.Line("", "%s of it has no data and is timed as easy ground; hills there add time", u.Distance(t.NoData))
		}
	} else {
		p.Line("on foot", "%s: over %g° along the line you need your hands, and no rule for walking holds", p.noTime(t), float64(profile.WalkingLimit))
	}
	for _, note := range p.timeNotes(a, nil) {
		p.Line("", "%s", note)
	}
	p.Line("paces", "%s", p.paces(&a.Time, whole))
}

// paces is the count for a leg; where part of it is no walking ground, as far as
// that.
func (p *Page) paces(t *answer.Times, whole string) string {
	at := "at " + p.Units.PaceCount(t.PacePer100M)
	if !math.IsNaN(t.DoublePaces) {
		return fmt.Sprintf("about %.0f double paces%s, %s", toTens(t.DoublePaces), whole, at)
	}
	text := "none for the whole: nobody paces where hands are needed"
	if from := t.NoWalking[0].FromM; from > 0 {
		text += fmt.Sprintf("; about %.0f double paces to there, %s", toTens(profile.DoublePaces(from, t.PacePer100M)), at)
	}
	return text
}

// noTime says why a leg has no time on foot; "" where it has one.
func (p *Page) noTime(t profile.Times) string {
	if len(t.NoWalking) == 0 {
		return ""
	}
	return "no time: " + p.amounts(t.NoWalking, "is", "are") + " no walking ground"
}

// amounts says how much of the way some stretches are, and where, with the verb
// that follows.
func (p *Page) amounts(list []profile.Stretch, is, are string) string {
	const most = 2
	sum := 0.0
	var parts []string
	for _, s := range list {
		sum += s.To - s.From
		parts = append(parts, fmt.Sprintf("%s at %s", p.Units.Distance(s.To-s.From), p.Units.Distance(s.From)))
	}
	switch {
	case len(list) > most:
		return fmt.Sprintf("%s in %d places, the first at %s, %s", p.Units.Distance(sum), len(list), p.Units.Distance(list[0].From), is)
	case len(list) > 1:
		return strings.Join(parts, " and ") + " " + are
	}
	return parts[0] + " " + is
}

// timeNotes are what is said beside the times of a leg: where they are less
// sure than they look, and why the rules differ by more than double. Nil where
// the leg has no time. Beside the time by one rule the longest is said only where
// that is by another.
func (p *Page) timeNotes(a *answer.LegAnswer, told *profile.Rule) []string {
	t, g := a.Times(), a.Gradient()
	times, ok := t.Whole()
	if !ok {
		return nil
	}
	var out []string
	if len(t.Steep) > 0 {
		out = append(out, fmt.Sprintf("CAUTION: %s %g to %g° steep; allow more time there than the rules give",
			p.amounts(t.Steep, "is", "are"), float64(profile.SteepLimit), float64(profile.WalkingLimit)))
	}
	if g.GroundSteepest > profile.WalkingLimit {
		out = append(out, fmt.Sprintf("CAUTION: the ground under the line is up to %.0f° steep, at %s; the rules go by the slope along the line alone",
			float64(g.GroundSteepest), p.Units.Distance(g.GroundAt)))
	}
	if _, longest := times.Extremes(); t.Apart != profile.NotApart && (told == nil || *told != longest) {
		out = append(out, fmt.Sprintf("the rules differ by more than double, up to %s by %s: %s", units.Clock(times[longest]), ruleNames[longest], p.whyApart(t.Apart, longest)))
	}
	return out
}

// whyApart says why the rules differ, of which one gives the longest time.
func (p *Page) whyApart(a profile.Apart, longest profile.Rule) string {
	switch {
	case a == profile.ApartOnGentleFalls:
		return "on falls of 5 to 12° Langmuir takes time off, which the others hardly do"
	case longest == profile.ByTobler:
		return "on steep ground Tobler slows down far more than the others"
	}
	return "on steep ground DIN 33466 goes only " + p.Units.Height(300) + " up or " + p.Units.Height(500) + " down in an hour"
}
