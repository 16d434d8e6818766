package report

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"crowline/cmd/internal/answer"
	"crowline/dem/units"
	"crowline/visibility"
)

// mostBrief is how many lines a leg takes unless all is asked for.
const mostBrief = 45

// Leg writes a leg as a leader reads it: mostBrief lines at most, the first of
// them for the decision. What is long gives way, the things to tick off before a
// sighting, and says so.
func Leg(p *Page, a *answer.LegAnswer) {
	drifted := false
	first := p.capture(func(q *Page) { drifted = q.first(a) })
	var head, near, sightings, ticks, foot []string
	if a.Asked() {
		sightings = p.capture(func(q *Page) { q.chain(a, true) })
		ticks = p.capture(func(q *Page) { q.ticks(a) })
	}
	room := 0
	for cut := nothingCut; cut <= mostCut; cut++ {
		head = p.capture(func(q *Page) { q.legBrief(a, cut >= cutSaid) })
		if hours := p.capture(func(q *Page) { q.byTheClock(a, cut >= cutSaid) }); len(hours) > 0 {
			head = append(append(head, ""), hours...)
		}
		if a.Asked() {
			near = p.capture(func(q *Page) {
				q.Head("Near the goal, and in cloud or dark")
				q.near(a, !drifted, [...]int{mostRails, mostRails, 1, 0}[cut])
			})
		}
		foot = p.capture(func(q *Page) { q.footBrief(a, moreOf[cut]) })
		room = mostBrief - len(first) - 1 - len(head) - 1 - len(foot)
		if len(near) > 0 {
			room -= len(near) + 1
		}
		need := len(sightings) // handrails and the like give way to them
		if cut >= cutOne {
			need = len(withoutMiddle(sightings, 1))
		}
		if need <= room-1 {
			break
		}
	}
	sightings = withoutMiddle(sightings, room-1)
	if all := ticks; len(sightings)+len(all)+3 > room {
		room += len(foot)
		foot = p.capture(func(q *Page) { q.footBrief(a, "More: --chain; --full, with all there is to tick off.") })
		room -= len(foot)
		if ticks = shortened(all, room-len(sightings)-3); len(ticks) < leastTicks {
			ticks = nil
		}
	}
	p.lines(first)
	for _, block := range [][]string{head, sightings, near} {
		p.block("", block)
	}
	p.block(p.ticksHead(a), ticks)
	p.block("", foot)
}

// leastTicks is how many lines of things to tick off are worth a heading.
const leastTicks = 2

// What is cut, and all before it, where the sightings have no room otherwise.
const (
	nothingCut = iota
	cutSaid    // the arrival that the first lines have told, and what over cover hides the goal
	cutOne     // all handrails but one, and what the other flags tell
	mostCut    // all handrails
)

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

// items are the lines of a block, each labelled line with what it is wrapped to.
func items(list []string) [][]string {
	var out [][]string
	for _, l := range list {
		if n := len(out); n > 0 && strings.HasPrefix(l, strings.Repeat(" ", labelWidth+2)) {
			out[n-1] = append(out[n-1], l)
		} else {
			out = append(out, []string{l})
		}
	}
	return out
}

// shortened keeps the first whole items of no more than so many lines.
func shortened(list []string, most int) []string {
	if len(list) <= most {
		return list
	}
	var out []string
	for _, item := range items(list) {
		if len(out)+len(item) > most {
			break
		}
		out = append(out, item...)
	}
	return out
}

// withoutMiddle keeps the heading, the first items and the last, the one that
// leads to the goal, in no more than so many lines where those kept whatever is
// asked allow it, and says which sightings stand between them.
func withoutMiddle(list []string, most int) []string {
	all := items(list)
	if len(list) <= most || len(all) < 2 {
		return list
	}
	out, last := all[0], all[len(all)-1]
	var left []string
	for _, item := range all[1 : len(all)-1] {
		number := sightingNumber(item)
		if len(left) > 0 || len(out)+len(item)+1+len(last) > most {
			left = append(left, number)
			continue
		}
		out = append(out, item...)
	}
	left = slices.DeleteFunc(left, func(n string) bool { return n == "" })
	switch n := len(left); {
	case n == 1:
		out = append(out, fmt.Sprintf("  %-*s--chain tells it", labelWidth, left[0]))
	case n > 1:
		out = append(out, fmt.Sprintf("  %-*s--chain tells them", labelWidth, left[0]+" to "+left[n-1]))
	}
	return append(out, last...)
}

// sightingNumber is the number that an item begins with, or "" where it is no
// sighting.
func sightingNumber(item []string) string {
	line := item[0]
	if len(line) < labelWidth+2 {
		return ""
	}
	label := strings.TrimSpace(line[:labelWidth+2])
	if _, err := strconv.Atoi(label); err != nil {
		return ""
	}
	return label
}

// legBrief says from where to where, by which bearings, and whether the goal is
// seen; where room is tight not what over cover hides it.
func (p *Page) legBrief(a *answer.LegAnswer, tight bool) {
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
	p.overCover(a.OverCover, s.Verdict, tight)
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
	text += ", " + magneticWords(float64(b.Magnetic), a.Declination)
	if b.BackError == nil {
		back = fmt.Sprintf("%s° magnetic, %s", units.Bearing(float64(b.BackMagnetic)), back)
	}
	return text + "; back " + back
}

// moreOf is what the last line says there is more of, by what is cut.
var moreOf = [...]string{
	nothingCut: "More: --chain, what to do where a mark is not found; --full, marks, climb by contour lines, slopes, times by rule, landforms.",
	cutSaid:    "More: --chain, what to do where a mark is not found; --full, all the rest.",
	cutOne:     "More: --chain, --full.",
	mostCut:    "More: --chain, --full.",
}

// footBrief says what the answer rests on, and what more there is.
func (p *Page) footBrief(a *answer.LegAnswer, more string) {
	p.data(a.ElevationData)
	p.cautions()
	p.Note("%s", more)
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
