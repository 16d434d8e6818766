package report

import (
	"fmt"
	"math"

	"crowline/cmd/internal/answer"
	"crowline/dem/landform"
	"crowline/dem/units"
	"crowline/profile/waymarks"
)

// mostRails is how many handrails are told.
const mostRails = 2

// near is what helps near the goal, with so many handrails, and what to do when
// nothing is seen.
func (p *Page) near(a *answer.LegAnswer, drift bool, rails int) {
	if drift {
		p.Line("drift", "%s", p.drift(a, true))
	}
	p.waymarks(a, rails)
	set, _ := dial(a)
	p.Line("in cloud", "hold %s from tick-off to tick-off: send one ahead, line them up, walk to them (common practice). You may come out %s left or right, %s short or beyond",
		set, p.Units.About(a.Drift.OnCompassM), p.Units.About(a.Drift.AlongM))
}

// waymarks are what the ground tells near the goal, and so many handrails.
func (p *Page) waymarks(a *answer.LegAnswer, most int) {
	u := p.Units
	if k := a.AttackPoint; k != nil {
		bearing := "true " + units.Dial(k.TrueDeg)
		if !math.IsNaN(k.MagneticDeg) && a.Declination != nil {
			bearing = units.Dial(a.Declination.Compass.Number(k.TrueDeg, k.MagneticDeg))
		}
		p.Line("attack", "%s, %s before the goal: from there walk %s for %s%s",
			withArticle(k.Name), u.Distance(a.DistanceM-k.AtM), bearing, u.Distance(k.DistanceM), doublePaces(k.DoublePaces))
	}
	if c := a.CatchingFeature; c != nil {
		p.Line("too far", "%s", p.tooFar(c))
	}
	if o := a.AimingOff; o != nil {
		p.Line("aim off", "on the compass alone aim %.0f° %s of the goal; at %s turn %s along it, the goal is within %s",
			o.AngleDeg, o.Side, lineName(o), o.Turn, u.About(o.WithinM))
	}
	if rails := a.Handrails; rails != nil {
		for _, h := range (*rails)[:min(len(*rails), most)] {
			p.Line("handrail", "%s", p.handrail(h))
		}
	}
}

func (p *Page) tooFar(c *answer.CatchingFeature) string {
	u := p.Units
	switch c.Shape {
	case waymarks.Falls:
		return fmt.Sprintf("if the ground drops for more than %s you have passed it; that is %s beyond", u.Height(c.ChangeM), u.About(c.BeyondM))
	case waymarks.Rises:
		return fmt.Sprintf("if the ground climbs for more than %s you have passed it; that is %s beyond", u.Height(c.ChangeM), u.About(c.BeyondM))
	}
	name := c.Name
	if name == "" {
		name = map[waymarks.Shape]string{waymarks.Floor: "valley floor", waymarks.Crest: "crest"}[c.Shape]
	}
	return fmt.Sprintf("at %s you are %s beyond the goal", withArticle(name), u.About(c.BeyondM))
}

func lineName(o *answer.AimingOff) string {
	switch {
	case o.Name != "":
		return withArticle(o.Name)
	case o.On == waymarks.Steepens:
		return "the foot of the slope, where it steepens,"
	case o.On == waymarks.Eases:
		return "the foot of the slope, where it eases,"
	}
	return "the " + string(o.On)
}

func (p *Page) handrail(h answer.Handrail) string {
	u := p.Units
	name := string(h.Kind)
	if h.Kind == landform.Draw {
		name = "little valley"
	}
	if h.Side == "ahead" {
		return fmt.Sprintf("from %s follow the %s, never more than %s off", span(u.Distance(h.FromM), u.Distance(h.ToM)), name, u.About(h.FarthestM))
	}
	if h.NearestM < h.FarthestM-20 {
		return fmt.Sprintf("from %s keep the %s %s to %s on your %s hand", span(u.Distance(h.FromM), u.Distance(h.ToM)), name, u.About(h.NearestM), u.About(h.FarthestM), h.Side)
	}
	return fmt.Sprintf("from %s keep the %s %s on your %s hand", span(u.Distance(h.FromM), u.Distance(h.ToM)), name, u.About(h.FarthestM), h.Side)
}

func span(from, to string) string { return from + " to " + to }

// ticks is what to tick off on the way.
func (p *Page) ticks(a *answer.LegAnswer) {
	if a.TickOff == nil {
		return
	}
	for _, t := range *a.TickOff {
		text := t.Name + doublePaces(t.DoublePaces)
		if !math.IsNaN(t.RuleS) {
			text += fmt.Sprintf(", %s%s", atLeast(t.AtLeast), units.Clock(seconds(t.RuleS)))
		}
		if !t.Throughout {
			text += ", may be missed off the line"
		}
		p.Line(p.Units.Distance(t.AtM), "%s", text)
	}
}

// ticksHead is what their heading says.
func (p *Page) ticksHead(a *answer.LegAnswer) string {
	return fmt.Sprintf("Tick off on the way (paces and time from the start, %s)", p.ruleName(&a.Time))
}

// doublePaces goes behind a distance; "" where nobody paces it.
func doublePaces(v float64) string {
	if math.IsNaN(v) {
		return ""
	}
	return fmt.Sprintf(", %.0f double paces", tens(v))
}

// withArticle puts "the" before a landform's name: "the saddle", "where two
// valleys meet".
func withArticle(name string) string {
	if len(name) > 5 && name[:5] == "where" {
		return name
	}
	return "the " + name
}

func tens(v float64) float64 { return math.Round(v/10) * 10 }
