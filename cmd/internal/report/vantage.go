package report

import (
	"context"
	"fmt"
	"math"
	"strings"

	"crowline/cmd/internal/answer"
	"crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem/units"
	"crowline/visibility"
)

// marksTold is how many marks of a standpoint are listed in text: those of its fix
// and as many more as fit a glance.
const marksTold = 6

// Vantage writes where to stand.
func Vantage(p *Page, a *answer.VantageAnswer) {
	p.bestStand(a)
	for i := range a.Standpoints {
		p.standpoint(a, &a.Standpoints[i])
	}
	p.Head("What was asked")
	p.Line("around", "%s", p.place(a.Around))
	p.asked(a)
	p.data(a.ElevationData)
	p.Line("assumed", "%s", p.assumed(a.Assumptions))
	if d := a.Declination; d != nil {
		p.Line("magnetic", "%s", declinedBy(d))
	}
	p.warnings(a.Warnings)
	if a.MapScale() > 0 {
		p.Line("map", "at 1:%.0f; print at 100 %% and check the 100 mm bar", a.MapScale())
	}
	p.written(a.Written)
	p.Note("%s", strings.Join(a.Cautions, " "))
}

// bestStand says first where to go, or why there is nowhere.
func (p *Page) bestStand(a *answer.VantageAnswer) {
	if len(a.Standpoints) == 0 {
		p.Line("stand", "%s", p.nowhere(a))
		return
	}
	s := &a.Standpoints[0]
	if s.Steep() {
		p.Line("BEWARE", "the straight line to it crosses ground of %.0f°: find a way round", max(s.SteepestDeg, s.GroundSteepestDeg))
	}
	p.Line("stand", "%s: %s", p.where(a, s), p.sees(a, s))
	if n := a.AroundSees; n != nil && *n > 0 {
		p.Line("", "by the data's heights %d of %d marks can be seen from where you are, too", *n, len(a.Marks))
	}
}

// nowhere says why there is no standpoint.
func (p *Page) nowhere(a *answer.VantageAnswer) string {
	if a.Kind == answer.VantageClass && len(a.Marks) == 0 {
		return fmt.Sprintf("nowhere: no summit, cliff or place of yours counts as a mark here; look farther with --marks-to (now %s)", p.Units.Distance(a.MarksToM))
	}
	if a.Posts.SeeOne == 0 {
		what := "any mark"
		if a.Kind == answer.VantageWatch {
			what = "any of the leg"
		}
		text := "nowhere within " + p.Units.Distance(a.RadiusM) + " is " + what + " seen"
		if a.Posts.NotKnown > 0 {
			text += fmt.Sprintf(" for sure: of %d posts it is not known", a.Posts.NotKnown)
		}
		return text
	}
	if a.LookedAnew > 0 {
		return fmt.Sprintf("nowhere here: no place looked at (the best %d) has two marks that show for sure and cross at 30° or more; try --radius or --marks-to", a.LookedAnew)
	}
	return fmt.Sprintf("nowhere that %s can stand and sees a mark: %s", who(a), p.noGround(a))
}

// who stands there.
func who(a *answer.VantageAnswer) string {
	if a.Kind == answer.VantageClass {
		return "a group"
	}
	return "you"
}

// noGround says what ground there is.
func (p *Page) noGround(a *answer.VantageAnswer) string {
	q := a.Posts
	return fmt.Sprintf("of %d posts %d are too steep, %d near a cliff and %d beside ground with no elevation; try --slope or --radius", q.Asked, q.Steep, q.NearCliff, q.Void)
}

// where says where a standpoint lies from the place.
func (p *Page) where(a *answer.VantageAnswer, s *answer.Standpoint) string {
	if s.DistanceM < 1 {
		return "where you are"
	}
	return fmt.Sprintf("%s on %s", p.Units.Distance(s.DistanceM), onCompass(s.TrueDeg, s.MagneticDeg, a.Declination))
}

// StandsAt says where a standpoint lies from the place.
func StandsAt(a *answer.VantageAnswer, s *answer.Standpoint, u units.System) string {
	return (&Page{Units: u}).where(a, s)
}

// wayTo says where a standpoint lies, and what the straight line there asks.
func (p *Page) wayTo(a *answer.VantageAnswer, s *answer.Standpoint) string {
	if s.DistanceM < 1 {
		return p.where(a, s)
	}
	return p.where(a, s) + ", " + p.climbTo(s)
}

// climbTo is what the straight line there asks.
func (p *Page) climbTo(s *answer.Standpoint) string {
	if math.IsNaN(s.AscentM) {
		return "the climb there is not known"
	}
	least := ""
	if s.LineNotKnown {
		least = "at least "
	}
	text := fmt.Sprintf("%s%s up and %s down, %.0f° at the steepest", least, p.Units.Height(s.AscentM), p.Units.Height(s.DescentM), s.SteepestDeg)
	if s.Steep() {
		text += fmt.Sprintf(", BEWARE across ground of %.0f°", s.GroundSteepestDeg)
	}
	return text
}

// sees says what a standpoint is good for.
func (p *Page) sees(a *answer.VantageAnswer, s *answer.Standpoint) string {
	switch a.Kind {
	case answer.VantageSee:
		if n := len(a.Marks); n == 1 && s.Worth == 1 {
			return "from there you see " + a.Marks[0].At.Label()
		}
	case answer.VantageWatch:
		return fmt.Sprintf("from there you see %.0f %% of the leg", 100*s.Worth)
	}
	return a.WhyIn(s, p.Units)
}

// seesShort is sees for the one line under a map's title.
func (p *Page) seesShort(a *answer.VantageAnswer, s *answer.Standpoint) string {
	if a.Kind == answer.VantageClass && s.Fix != nil {
		return fmt.Sprintf("%d marks, a fix to %s", s.NearMarks+s.FarMarks, p.Units.Distance(s.Fix.SemiMajorM))
	}
	return p.sees(a, s)
}

// standpoint writes one.
func (p *Page) standpoint(a *answer.VantageAnswer, s *answer.Standpoint) {
	p.Head(fmt.Sprintf("Standpoint %d", s.Rank))
	p.Line("place", "%s", p.place(s.At))
	p.Line("way there", "%s", p.wayTo(a, s))
	p.Line("why", "%s", a.WhyIn(s, p.Units))
	if f := s.Fix; f != nil {
		p.Line("fix", "19 times in 20 within %s one way and %s the other; the lines cross at %.0f°", p.Units.Distance(f.SemiMajorM), p.Units.Distance(f.SemiMinorM), f.CrossingDeg)
	}
	p.standMarks(a, s)
	if s.OtherThings > 0 {
		things := "things"
		if s.OtherThings == 1 {
			things = "thing"
		}
		p.Line("besides", "%d %s to recognise that fix no place, such as notches and the ends of ridges", s.OtherThings, things)
	}
	if len(s.Stretches) > 0 {
		p.watched(s, a.Watched.DistanceM)
	}
}

// standMarks lists the marks of a standpoint: those of the fix, and others that show
// for sure.
func (p *Page) standMarks(a *answer.VantageAnswer, s *answer.Standpoint) {
	told, doubtful, more := 0, 0, 0
	before := ""
	for i := range s.Marks {
		m := &s.Marks[i]
		if a.Kind == answer.VantageClass && m.Doubtful() {
			doubtful++
			continue
		}
		if told == marksTold && a.Kind == answer.VantageClass {
			more++
			continue
		}
		label := "marks"
		if m.InFix {
			label = "bearings"
		}
		if told++; label == before {
			p.Line("", "%s", p.standMark(a, m))
		} else {
			p.Line(label, "%s", p.standMark(a, m))
		}
		before = label
	}
	var rest []string
	if more > 0 {
		rest = append(rest, fmt.Sprintf("%d more", more))
	}
	if doubtful > 0 {
		rest = append(rest, fmt.Sprintf("%d that may not show", doubtful))
	}
	if len(rest) > 0 {
		p.Line("", "and %s (--json has them)", strings.Join(rest, " and "))
	}
}

// standMark is a mark in a line.
func (p *Page) standMark(a *answer.VantageAnswer, m *answer.StandpointMark) string {
	text := m.SaysIn(p.Units)
	if on := onCompass(m.TrueDeg, m.MagneticDeg, a.Declination); !strings.Contains(text, on) {
		text = on + ": " + text
	}
	l := m.Likely.Full()
	switch {
	case a.Kind == answer.VantageSee:
		text += ", " + p.Units.Distance(m.DistanceM) + "; " + visibility.Worded(m.Verdict, l)
	case !l.Sure():
		text += fmt.Sprintf("; %s chance to see it", visibility.Percent(l.Probability))
	}
	return text
}

// watched says which parts of the leg are seen.
func (p *Page) watched(s *answer.Standpoint, length float64) {
	var seen, unknown []string
	for _, x := range withoutGlimpses(s.Stretches) {
		text := p.Units.Stretch(x.FromM, x.ToM)
		switch x.Verdict {
		case visibility.Visible.String():
			seen = append(seen, text)
		case visibility.Unknown.String():
			unknown = append(unknown, text)
		}
	}
	switch {
	case len(seen) == 1 && s.Worth > 0.995:
		p.Line("seen", "all the way")
	case len(seen) > 0:
		p.Line("seen", "%s, of %s", fromStretches(seen), p.Units.Distance(length))
	}
	if len(unknown) > 0 {
		p.Line("not known", "%s", fromStretches(unknown))
	}
}

// withoutGlimpses leaves out stretches too short to be noticed: what is seen before
// and after one is seen on.
func withoutGlimpses(list []answer.Stretch) []answer.Stretch {
	var out []answer.Stretch
	for _, x := range list {
		n := len(out)
		switch {
		case n > 0 && out[n-1].Verdict == x.Verdict:
			out[n-1].ToM = x.ToM
		case x.ToM-x.FromM >= answer.DefaultPolicy().LeastTold:
			out = append(out, x)
		}
	}
	return out
}

// asked says what was looked at.
func (p *Page) asked(a *answer.VantageAnswer) {
	q := a.Posts
	p.Line("posts", "%d within %s; %s can stand on %d of them (%d are too steep, %d near a cliff, %d beside ground with no elevation)",
		q.Asked, p.Units.Distance(a.RadiusM), who(a), q.Good, q.Steep, q.NearCliff, q.Void)
	p.Line("ground", "no steeper than %g° over %s, and no cliff within %s or as far as you may stray on the compass from here",
		a.Ground.SlopeDeg, p.Units.About(max(a.Ground.WidthM, 2*a.ElevationData.SpacingM)), p.Units.Distance(a.Ground.CliffM))
	switch a.Kind {
	case answer.VantageClass:
		text := fmt.Sprintf("%d looked for, to %s", len(a.Marks), p.Units.Distance(a.MarksToM))
		if a.MarksLeftOut > 0 {
			text += fmt.Sprintf("; %d that stand out less were left out", a.MarksLeftOut)
		}
		p.Line("marks", "%s. Places looked from anew: %d", text, a.LookedAnew)
	case answer.VantageSee:
		for _, m := range a.Marks {
			p.Line("mark", "%s: seen from %d posts", p.place(m.At), m.SeenFrom)
		}
		p.Line("all seen", "from %d posts, %s; you can stand on %d of them", q.SeeAll, p.Units.Area(q.SeeAllM2), q.SeeAllGood)
	case answer.VantageWatch:
		p.Line("leg", "%s to %s, %s; looked for at %d places, %s apart, and exactly from the standpoints listed", a.Watched.From.Label(), a.Watched.To.Label(), p.Units.Distance(a.Watched.DistanceM), a.Watched.Places, p.Units.Distance(a.Watched.StepM))
	}
	if q.NotKnown > 0 {
		p.Line("not known", "%d posts may see more than is counted: lines from them meet ground with no elevation", q.NotKnown)
	}
	p.Line("apart", "standpoints stand %s or more apart", p.Units.Distance(a.ApartM))
}

// VantageMap draws the standpoints on an A4 page.
func VantageMap(ctx context.Context, g *answer.Ground, a *answer.VantageAnswer, u units.System) (*page.Document, error) {
	p := &Page{Units: u}
	return a.Draw(ctx, g, page.A4, func(plan *sheet.Plan) {
		plan.Units, plan.Title = u, p.vantageTitle(a)
		if len(a.Standpoints) == 0 {
			plan.Headline = capitalised(p.nowhere(a)) + "."
		} else {
			s := &a.Standpoints[0]
			plan.Headline = fmt.Sprintf("Stand at 1, %s: %s.", p.where(a, s), p.seesShort(a, s))
		}
		var notes []string
		for i := range a.Standpoints {
			s := &a.Standpoints[i]
			notes = append(notes, fmt.Sprintf("%d: %s, %s", s.Rank, s.At.MGRS, p.Units.Height(s.At.ElevationM)))
		}
		plan.Notes = append(plan.Notes, strings.Join(notes, "; ")+".", "Tint: "+a.ScoreMeans()+fmt.Sprintf(", whether or not %s can stand there: on %d of %d posts.", who(a), a.Posts.Good, a.Posts.Asked))
		if len(a.Cautions) > 0 {
			plan.Notes = append(plan.Notes, a.Cautions[0])
		}
		plan.Notes = append(plan.Notes, "Assumed: "+p.assumed(a.Assumptions)+".")
	})
}

func (p *Page) vantageTitle(a *answer.VantageAnswer) string {
	switch a.Kind {
	case answer.VantageSee:
		if len(a.Marks) == 1 {
			return "Where " + a.Marks[0].At.Label() + " is seen from"
		}
		return fmt.Sprintf("Where %d marks are seen from", len(a.Marks))
	case answer.VantageWatch:
		return "Where to watch a leg from"
	}
	return "Where to take a class, around " + a.Around.Label()
}
