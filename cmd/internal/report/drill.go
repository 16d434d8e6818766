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
	if n := len(a.Copies); n > 1 {
		p.Line("copies", "A to %s, of seeds %d to %d: --seed %d without --copies makes copy B again", a.Copies[n-1].Copy, a.Copies[0].Seed, a.Copies[n-1].Seed, a.Copies[1].Seed)
	}
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
	sets := []*drill.Set{a.Set}
	if len(a.Copies) > 0 {
		sets = nil
	}
	for _, c := range a.Copies {
		sets = append(sets, c.Set)
	}
	var parts []string
	if a.Part() != drill.KeyOnly {
		for _, s := range sets {
			parts = append(parts, s.Text())
		}
	}
	if a.Part() != drill.QuestionsOnly {
		for _, s := range sets {
			parts = append(parts, s.Key())
		}
	}
	text := strings.Join(parts, "\n")
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
