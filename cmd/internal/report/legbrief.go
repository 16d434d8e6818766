package report

import (
	"fmt"
	"math"
	"strings"
	"time"

	"crowline/cmd/internal/answer"
	"crowline/dem/units"
	"crowline/visibility"
)

// mostBrief is how many lines a leg takes unless all is asked for.
const mostBrief = 45

// Leg writes a leg as a leader reads it: mostBrief lines at most, the first of
// them for the decision. What is long gives way: the sightings and the things to
// tick off are cut, and say so.
func Leg(p *Page, a *answer.LegAnswer) {
	drifted := false
	first := p.capture(func(q *Page) { drifted = q.first(a) })
	head := p.capture(func(q *Page) { q.legBrief(a) })
	var near, sightings, ticks []string
	if a.Asked() {
		near = p.capture(func(q *Page) { q.Head("Near the goal, and in cloud or dark"); q.near(a, !drifted) })
		sightings = p.capture(func(q *Page) { q.chain(a, true) })
		ticks = p.capture(func(q *Page) { q.ticks(a) })
	}
	foot := p.capture(func(q *Page) { q.footBrief(a) })
	room := mostBrief - len(first) - 1 - len(head) - 1 - len(foot)
	if len(near) > 0 {
		room -= len(near) + 1
	}
	const leastTicks = 2 // and a heading, and the line before it
	ticks = shortened(ticks, max(leastTicks, room-len(sightings)-3), "")
	if len(ticks) > 0 {
		room -= len(ticks) + 2
	}
	sightings = shortened(sightings, room-1, "and more: --chain")
	p.lines(first)
	for _, block := range [][]string{head, sightings, near} {
		p.block("", block)
	}
	p.block(ticksHead, ticks)
	p.block("", foot)
}

// block writes lines after an empty one.
func (p *Page) block(head string, list []string) {
	if len(list) == 0 {
		return
	}
	p.Raw("\n")
	if head != "" {
		p.Raw(head + "\n")
	}
	p.lines(list)
}

// shortened keeps whole items, each a labelled line with what it is wrapped to, of no
// more than so many lines; more says that there were others.
func shortened(list []string, most int, more string) []string {
	if len(list) <= most {
		return list
	}
	if more != "" {
		most--
	}
	keep := max(0, min(most, len(list)))
	for keep > 0 && strings.HasPrefix(list[keep], strings.Repeat(" ", labelWidth+2)) {
		keep--
	}
	list = list[:keep:keep]
	if more != "" {
		list = append(list, "  "+more)
	}
	return list
}

// legBrief says from where to where, by which bearings, and whether the goal is
// seen.
func (p *Page) legBrief(a *answer.LegAnswer) {
	p.Head("Leg")
	p.Line("from", "%s", p.place(a.From))
	p.Line("to", "%s", p.place(a.To))
	p.Line("bearing", "%s", p.bearingsBrief(a))
	s := &a.Sight
	text, _ := whether("the destination", s.Full().Verdict, s.Likely)
	switch {
	case s.Full().Verdict == visibility.Unknown:
		text = "nobody can say whether you see the destination: data is missing"
	case s.Full().Verdict == visibility.Hidden:
		text += fmt.Sprintf("; in front is ground at %s", p.Units.Distance(s.Full().BlockedAt))
	}
	p.Line("from start", "%s", text)
	p.overCover(a.OverCover, s.Verdict)
	p.filledSight(s)
}

// bearingsBrief are a leg's bearings in one sentence.
func (p *Page) bearingsBrief(a *answer.LegAnswer) string {
	b := a.Bearing.Full()
	text := fmt.Sprintf("true %s°", units.Bearing(float64(b.True)))
	if b.GridError == nil {
		text += fmt.Sprintf(", grid %s°", units.Bearing(float64(b.Grid)))
	}
	back := units.Bearing(float64(b.BackTrue)) + "° true"
	if b.FieldError != nil {
		return text + ", magnetic not known; back " + back
	}
	text += fmt.Sprintf(", magnetic %s° on %s (declination %s ± %.1f)", units.Bearing(float64(b.Magnetic)), a.Declination.Date, units.EastWest(a.Declination.Deg), a.Declination.SigmaDeg)
	if b.BackError == nil {
		back = fmt.Sprintf("%s° magnetic, %s", units.Bearing(float64(b.BackMagnetic)), back)
	}
	return text + "; back " + back
}

// footBrief says what the answer rests on, in a few lines.
func (p *Page) footBrief(a *answer.LegAnswer) {
	d := a.ElevationData
	p.Head("Cautions and data")
	text := d.Name
	if d.Demo {
		text += " (demo data; give your own with --dem)"
	}
	if !math.IsNaN(d.SpacingM) {
		text += fmt.Sprintf(", posts about %s apart", p.Units.Distance(d.SpacingM))
	}
	if words := surfaceWords(d.Surface); words != "" {
		text += ", " + words
	}
	if !math.IsNaN(d.VerticalErrorM) {
		text += fmt.Sprintf("; heights good to %s", p.Units.Height(d.VerticalErrorM))
	} else {
		text += "; the accuracy of the heights is not stated"
	}
	p.Note("%s.", text)
	p.warnings(d.Warnings)
	p.Note("%s", strings.Join(answer.Cautions(), " "))
	p.Note("--full: marks, climb by contour lines, slopes, times by rule, landforms.")
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
