package report

import (
	"fmt"
	"strings"
	"time"

	"crowline/cmd/internal/answer"
	"crowline/dem/units"
	"crowline/profile/sun"
)

// ruleName names the rule of a time, with the walker's own speed where that is
// given.
func (p *Page) ruleName(t *answer.Times) string {
	name := ruleNames[t.Rule]
	if t.SpeedKmH > 0 {
		name += " at " + p.ownSpeed(t)
	}
	return name
}

// ownSpeed is the walker's own.
func (p *Page) ownSpeed(t *answer.Times) string {
	return p.Units.Speed(t.SpeedKmH / 3.6)
}

// clock writes a time of day, with its day where that is not the start's.
func clock(m, start answer.Moment) string {
	m = answer.Moment{Time: m.Round(time.Minute)}
	if y, d := m.Year(), m.YearDay(); y != start.Year() || d != start.YearDay() {
		return m.Clock() + " on " + m.Format("2 January")
	}
	return m.Clock()
}

// setOut is the start in full: "08:30+01:00 on 2026-12-05".
func setOut(start answer.Moment) string {
	return start.Format("15:04Z07:00") + " on " + start.Format(time.DateOnly)
}

// thereBy says when one arrives; "" where that is not known.
func thereBy(a *answer.Arrival, start answer.Moment) string {
	switch {
	case a.At.IsZero():
		return ""
	case a.MayBeLater:
		return "there at " + clock(a.At, start) + " or later"
	}
	return "there by " + clock(a.At, start)
}

// dayEnds warns where the day ends before one is at a place, which the sentence
// names: "the goal", "the end of leg 2"; "" where it does not.
func dayEnds(a *answer.Arrival, start answer.Moment, place string) string {
	l := &a.Light
	there := fmt.Sprintf("before you are at %s (%s)", place, clock(a.At, start))
	switch a.DayEnds {
	case answer.ByDusk:
		switch {
		case l.DuskState == sun.AlwaysBelow:
			return "dark all day: there is no civil twilight"
		case !l.Dawn.IsZero() && !l.Dawn.Before(a.At.Time):
			return fmt.Sprintf("dark all the way: it gets light at %s, after you are at %s", clock(l.Dawn, start), place)
		case !l.Dusk.After(start.Time):
			return fmt.Sprintf("dark when you set out, from %s", clock(l.Dusk, start))
		}
		return fmt.Sprintf("dark from %s, %s", clock(l.Dusk, start), there)
	case answer.BySunset:
		dark := ""
		if l.DuskState == sun.Happens {
			dark = ", dark from " + clock(l.Dusk, start)
		}
		switch {
		case l.SunsetState == sun.AlwaysBelow:
			return "the sun does not come up" + dark
		case !l.Sunset.After(start.Time):
			return "the sun has set when you set out" + dark
		}
		return fmt.Sprintf("the sun sets at %s, %s%s", clock(l.Sunset, start), there, dark)
	}
	return ""
}

// daylight says when the sun sets and when it gets dark.
func daylight(l *answer.Light, start answer.Moment) string {
	var parts []string
	if !l.Dawn.IsZero() && l.Dawn.After(start.Time) {
		parts = append(parts, "light from "+clock(l.Dawn, start))
	}
	switch l.SunsetState {
	case sun.AlwaysAbove:
		parts = append(parts, "the sun does not set")
	case sun.AlwaysBelow:
		parts = append(parts, "the sun does not come up")
	default:
		parts = append(parts, "sunset "+clock(l.Sunset, start))
	}
	switch {
	case l.DuskState == sun.Happens:
		parts = append(parts, "dark from "+clock(l.Dusk, start)+" (end of civil twilight)")
	case l.DuskState == sun.AlwaysBelow:
		parts = append(parts, "no civil twilight: dark all day")
	case l.SunsetState != sun.AlwaysAbove:
		parts = append(parts, "twilight all night")
	}
	return strings.Join(parts, ", ")
}

// sunLeaves says when the sun leaves the ground of a place for hills, "" where it
// does so no earlier than the level or that is not known.
func (p *Page) sunLeaves(l *answer.Light, start answer.Moment, ground string) string {
	if !l.Earlier() {
		return ""
	}
	if l.SunLeavesState == sun.AlwaysBelow {
		return fmt.Sprintf("stays off %s all day, behind hills", ground)
	}
	text := fmt.Sprintf("leaves %s earlier: at %s, behind hills", ground, clock(l.SunLeaves, start))
	if !l.KnownFar() {
		text += fmt.Sprintf("; sooner if hills stand beyond the data, which ends %s off that way", p.Units.Distance(l.SkylineKnownM))
	}
	return text
}

// byTheClock is a leg's start, arrival and daylight; in brief without how the
// arrival, which the first lines have, is counted.
func (p *Page) byTheClock(a *answer.LegAnswer, brief bool) {
	if a.Start == nil {
		return
	}
	start, at := *a.Start, a.Arrival
	p.Head("By the clock, from " + setOut(start))
	if !brief {
		p.Line("arrive", "%s", p.arrive(at, start))
	}
	p.Line("daylight", "%s", daylight(&at.Light, start))
	if text := p.sunLeaves(&at.Light, start, "the goal"); text != "" {
		p.Line("sun", "%s", text)
	}
}

// arrive says when one gets to a place, and how that is counted.
func (p *Page) arrive(a *answer.Arrival, start answer.Moment) string {
	if a.At.IsZero() {
		return "no time: part of the way is no walking ground"
	}
	least, later := "", ""
	if a.MayBeLater {
		least, later = "at least ", "; part of the way has no data"
	}
	return fmt.Sprintf("%s: %s%s by the slowest rule and %s of rests, 10 min in every hour%s",
		strings.TrimPrefix(thereBy(a, start), "there "), least, units.Clock(seconds(a.WalkingS)), units.Clock(seconds(a.RestingS)), later)
}

// routeDayEnds warns where the day ends before a turning point: the first that is
// reached in the dark, else the first after sunset; leg is the index of the leg to
// it.
func routeDayEnds(a *answer.RouteAnswer) (leg int, text string) {
	for _, end := range []answer.DayEnd{answer.ByDusk, answer.BySunset} {
		for i := range a.Legs {
			if at := a.Legs[i].Arrival; at != nil && at.DayEnds == end {
				return i, dayEnds(at, *a.Start, fmt.Sprintf("the end of leg %d", a.Legs[i].Number))
			}
		}
	}
	return -1, ""
}

// routeClock is a route's start, arrival and daylight.
func (p *Page) routeClock(a *answer.RouteAnswer) {
	if a.Start == nil {
		return
	}
	start, last := *a.Start, a.Legs[len(a.Legs)-1].Arrival
	p.Line("start", "%s; %s", setOut(start), p.arrive(last, start))
	p.Line("daylight", "at the end %s", daylight(&last.Light, start))
}

// legArrival is when one gets to the end of a route's leg, and the sun there.
func (p *Page) legArrival(a *answer.Arrival, start *answer.Moment) {
	text := thereBy(a, *start)
	if text == "" {
		text = "no time: ground on the way needs hands"
	}
	text = strings.TrimPrefix(text, "there ")
	if leaves := p.sunLeaves(&a.Light, *start, "this ground"); leaves != "" {
		text += "; the sun " + leaves
	}
	p.Line("arrive", "%s", text)
}
