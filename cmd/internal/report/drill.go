package report

import (
	"strings"

	"crowline/cmd/internal/answer"
	"crowline/contour/drill"
)

// Drill names the files that an exercise sheet was written to.
func Drill(p *Page, a *answer.DrillAnswer) {
	p.Head("Drill")
	p.Line("written", "%s", strings.Join(a.Written, ", "))
	p.Line("questions", "%d, level %s, seed %d", len(a.Questions), a.Level, a.Seed)
	p.Line("interval", "%s", a.IntervalReason)
	for _, n := range a.Notes {
		p.Line("note", "%s", n)
	}
	p.data(a.ElevationData)
	p.cautions()
}

// DrillText writes the questions, the key or both, wrapped for a terminal, and
// what they rest on.
func DrillText(p *Page, a *answer.DrillAnswer) {
	text := a.Text() + "\n" + a.Key()
	switch a.Part() {
	case drill.QuestionsOnly:
		text = a.Text()
	case drill.KeyOnly:
		text = a.Key()
	}
	for _, line := range strings.Split(strings.TrimRight(text, "\n"), "\n") {
		rest := strings.TrimLeft(line, " ")
		indent := strings.Repeat(" ", len(line)-len(rest))
		for i, part := range Wrap(rest, Width-len(indent)-3) {
			if i == 1 {
				indent += "   "
			}
			p.Raw(strings.TrimRight(indent+part, " ") + "\n")
		}
	}
	p.data(a.ElevationData)
	p.cautions()
}
