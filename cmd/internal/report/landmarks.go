package report

import (
	"fmt"
	"math"
	"strings"

	"crowline/cmd/internal/answer"
	"crowline/dem/units"
	"crowline/visibility"
	"crowline/visibility/fix"
)

// Landmarks writes what can be sighted from a place, at most so many marks;
// hidden marks that the cover hides stand with the others where hidden ones were
// asked for.
func Landmarks(p *Page, a *answer.LandmarksAnswer, most int, hidden bool) {
	p.firstMark(a)
	p.Head("From")
	p.Line("place", "%s", p.place(a.From))
	p.over(a.OverCover)
	if d := a.Declination; d != nil {
		text := declined(d)
		if set := compassSet(d); set != "" {
			text += "; bearings are " + set
		}
		p.Line("magnetic", "%s", text)
	}
	if a.Ground != nil {
		p.Head(fmt.Sprintf("Along true %s°", units.Bearing(a.BearingDeg)))
		if a.Along != nil {
			p.skylineOn(a.Along, a.OverCover != nil)
		}
		p.groundSeen(a.Ground)
		if a.GroundBare != nil {
			p.Line("bare ground", "%s", p.bareGround(a.GroundBare, a.Ground))
		}
	}
	p.inView(a)
	p.Head("Summits and places, best first")
	// marks that the cover hides come after those that answer the question
	var listed, lost []*answer.Mark
	for i := range a.Marks {
		m := &a.Marks[i]
		if m.DependsOnCover && m.Sight.Verdict == visibility.Hidden && !hidden {
			lost = append(lost, m)
		} else {
			listed = append(listed, m)
		}
	}
	if len(listed) == 0 {
		text := "No summit and none of your places is visible there"
		if a.Along != nil && a.Along.Skyline != nil {
			text += "; sight what the first lines say"
		}
		p.Note("%s.", text)
	}
	p.marks(listed, most, a.Declination)
	if len(lost) > 0 {
		p.Head("Hidden by what stands on the ground")
		p.marks(lost, most, a.Declination)
	}
	if n := a.DependOnCover; n != nil {
		p.Head("What the cover changes")
		p.Note("The verdict of %d of %d marks depends on it.", *n, a.Looked)
	}
	if a.ForFix != nil {
		p.fixMarks(a.ForFix)
	}
	p.data(a.ElevationData)
	p.coverUsed(a.OverCover)
	p.Line("assumed", "%s", p.assumed(a.Assumptions))
	p.Line("", "what is over %s off is taken as lost in haze (--visual-range)", p.Units.Distance(a.VisualRangeM))
	p.Line("", "%s", p.lookedTo(a.LookedToM))
	p.cautions()
}

// inView lists what can be picked out all round.
func (p *Page) inView(a *answer.LandmarksAnswer) {
	if len(a.InView) == 0 {
		return
	}
	p.Head("What to pick out, best first")
	for i := range a.InView {
		t := &a.InView[i]
		filled := ""
		if t.Filled {
			filled = "; FILLED: its ground was " + filledWords
		}
		p.Line(fmt.Sprintf("%d", t.Rank), "%s, %s%s%s%s", t.In(p.Units), units.UpDown(t.ElevationAngleDeg), chance(&t.SceneThing), p.saddle(&t.SceneThing), filled)
	}
}

// firstMark says first what to sight: on a bearing the best thing near it, or
// else the point of the skyline on it.
func (p *Page) firstMark(a *answer.LandmarksAnswer) {
	s := a.Along
	switch {
	case s == nil:
		if len(a.InView) > 0 {
			t := &a.InView[0]
			p.Line("sight", "%s, %s%s%s", t.In(p.Units), units.UpDown(t.ElevationAngleDeg), howSure(&t.SceneThing), p.saddle(&t.SceneThing))
			return
		}
		for i := range a.Marks { // over cover these alone are looked at
			if m := &a.Marks[i]; a.OverCover != nil && m.Full().Shows() {
				p.Line("sight", "%s, %s on %s, %s", markName(m, p.Units), p.Units.Distance(m.DistanceM), onCompass(m.TrueDeg, m.MagneticDeg, a.Declination), units.UpDown(m.Sight.ElevationAngleDeg))
				return
			}
		}
		if a.OverCover != nil {
			p.Line("sight", "none of the summits and places looked at is likely to be seen over what stands on the ground (%d of them); --bearing tells what else to sight", a.Looked)
			return
		}
		p.Line("sight", "nothing that can be recognised: keep your line by compass, and look again where the view opens")
		return
	case s.Best != nil:
		off := "on your line"
		if d := s.Best.OffBearingDeg; math.Abs(d) >= 0.25 {
			off = fmt.Sprintf("%.1f° %s of your line", math.Abs(d), side(d))
		}
		filled := ""
		if s.Best.Filled {
			filled = "; FILLED: its ground was " + filledWords
		}
		p.Line("sight", "%s, %s, %s%s%s%s", s.BestIn(p.Units), units.UpDown(s.Best.ElevationAngleDeg), off, howSure(s.Best), p.saddle(s.Best), filled)
	case s.Skyline != nil && s.Skyline.DistanceM < nearSkyline:
		p.Line("sight", "the ground %s ahead hides all beyond: walk there by compass, and look again", p.Units.Distance(s.Skyline.DistanceM))
	case s.Skyline != nil:
		p.Line("sight", "nothing stands out on your line: sight %s", s.NearestIn(p.Units))
	default:
		p.Line("sight", "no ground ahead is known: keep the line by compass, and look back along it now and then")
	}
	if s != nil {
		p.onTheWay(s)
	}
}

// onTheWay says what will show on the way.
func (p *Page) onTheWay(s *answer.SightAlong) {
	if o := s.OnTheWay; o != nil {
		p.Line("on the way", "from %s along: %s, %s%s%s", p.Units.Distance(o.AtM), o.In(p.Units), units.UpDown(o.ElevationAngleDeg), chance(&o.SceneThing), p.saddle(&o.SceneThing))
	} else if s.OnTheWayToM > 0 {
		p.Line("on the way", "nothing better shows in the next %s", p.Units.Distance(s.OnTheWayToM))
	}
}

// saddle says which saddle on the map a notch is, "" where it is none.
func (p *Page) saddle(t *answer.SceneThing) string {
	if t.Saddle == nil {
		return ""
	}
	return "; " + p.saddleAt(t.Saddle)
}

func (p *Page) saddleAt(s *answer.Spot) string {
	return fmt.Sprintf("it is the saddle at %s, %s", reference(*s), p.Units.Height(s.ElevationM))
}

// chance is howSure in short, for what will be looked at again.
func chance(t *answer.SceneThing) string {
	if l := t.Likely.Full(); !l.Sure() {
		return " (" + visibility.Percent(l.Probability) + ")"
	}
	return ""
}

// howSure says how likely a thing in sight is to be seen, where that is not
// certain.
func howSure(t *answer.SceneThing) string {
	if l := t.Likely.Full(); !l.Sure() {
		return ", " + l.Text()
	}
	return ""
}

// nearSkyline is how near a skyline is too near to steer by, metres.
const nearSkyline = 300

// skylineOn says where the skyline is on the bearing.
func (p *Page) skylineOn(s *answer.SightAlong, covered bool) {
	if s.Skyline != nil {
		bare := ""
		if covered {
			bare = "over the bare ground "
		}
		p.Line("your line", "%smeets %s", bare, s.SkylineIn(p.Units))
	}
}

func markName(m *answer.Mark, u units.System) string {
	if m.At.Name != "" {
		return m.At.Name
	}
	if math.IsNaN(m.At.ElevationM) {
		return m.Kind
	}
	return m.Kind + " " + u.Height(m.At.ElevationM)
}

// onCompass is a bearing as it is set: magnetic where that is known, unless the
// compass chosen is adjusted.
func onCompass(trueDeg, magneticDeg float64, d *answer.MagneticDeclination) string {
	if math.IsNaN(magneticDeg) {
		return "true " + units.Dial(trueDeg)
	}
	if set, ok := onDial(trueDeg, magneticDeg, d); ok {
		return "compass bearing " + set
	}
	return "compass bearing " + units.Dial(magneticDeg)
}

// marks writes the first of some marks.
func (p *Page) marks(list []*answer.Mark, most int, d *answer.MagneticDeclination) {
	for i, m := range list {
		if i == most {
			p.Note("and %d more (--most, or --json for all)", len(list)-i)
			return
		}
		p.mark(m, d)
	}
}

// fixMarks gives the best set of two and of three.
func (p *Page) fixMarks(f *answer.FixMarks) {
	p.Head("Marks that fix this place best")
	if len(f.Two) == 0 {
		p.Note("Two marks in sight are needed; %d can be used.", f.Combined)
		return
	}
	best := f.Two[0]
	p.Line("best two", "%s", p.markSet(best))
	if len(f.Three) > 0 {
		p.Line("best three", "%s", p.markSet(f.Three[0]))
		p.Line("", "three check each other: a mark mistaken for another shows")
	}
	sight := "in sight"
	if f.SureKnown {
		sight = "seen with 75 % or more"
	}
	if best.Doubtful > 0 {
		p.Line("DOUBTFUL", "no two marks are seen with 75 %% or more: look which of these are in sight before you count on them")
		sight = "in sight"
	}
	if best.Flat() {
		p.Line("POOR", "no two marks %s cross at %.0f° or more: the place will be well known one way and badly the other", sight, float64(fix.LeastCrossing))
	}
	if s := f.Better(); s != nil {
		p.Line("if seen", "better: %s", p.markSet(*s))
	}
	sure := ""
	if !f.SureKnown {
		sure = "; taken as seen: the accuracy of the heights is not stated (--vertical-error)"
	}
	p.Line("assumed", "compass good to %g° and marks to %s, one standard deviation; the best of %d usable marks%s",
		f.CompassErrorDeg, p.Units.Distance(f.PlaceErrorM), f.Combined, sure)
	if f.Beyond > 0 {
		p.Line("", "%d farther marks were not tried", f.Beyond)
	}
}

func (p *Page) markSet(s answer.MarkSet) string {
	var parts []string
	for _, m := range s.Marks {
		sure := ""
		if m.Words != "" {
			sure = ": " + m.Words
		}
		parts = append(parts, fmt.Sprintf("%s (mark %d%s) at true %s°", m.Name, m.Rank, sure, units.Bearing(m.TrueDeg)))
	}
	marks := strings.Join(parts, ", ")
	if s.Flat() { // a fix then gives a region: no ellipse holds the place that often (fix.LeastCrossing)
		return fmt.Sprintf("%s; crossing at %.0f°, so flatly that the fix is a long region, more than %s to either side along it",
			marks, s.CrossingDeg, p.Units.Distance(s.SemiMajorM))
	}
	return fmt.Sprintf("%s; crossing at %.0f°, they fix the place within %s by %s (19 times in 20)",
		marks, s.CrossingDeg, p.Units.Distance(s.SemiMajorM), p.Units.Distance(s.SemiMinorM))
}
