package report

import (
	"io"
	"strings"

	"crowline/cmd/internal/answer"
	"crowline/dem/units"
)

// Words are a report by its parts, for a front end that lays them out itself.
type Words struct {
	// First are the lines for the decision, of a leg.
	First []Said `json:"first"`
	// Sections are what stands under headings.
	Sections []Section `json:"sections"`
}

// Section is a heading and what stands under it.
type Section struct {
	Title string `json:"title"`
	Lines []Said `json:"lines"`
}

// Said is a line: what it is about, "" for a paragraph, and its text. A line of a
// table is Fixed: its spaces count.
type Said struct {
	Label string `json:"label"`
	Text  string `json:"text"`
	Fixed bool   `json:"fixed,omitempty"`
}

// WordsOf are what a report comes to.
func WordsOf(u units.System, write func(*Page)) Words {
	w := Words{First: []Said{}, Sections: []Section{}}
	p := NewPage(io.Discard, u)
	p.words = &w
	write(p)
	return w
}

// TextOf is a report as the command line writes it.
func TextOf(u units.System, write func(*Page)) string {
	var b strings.Builder
	write(NewPage(&b, u))
	return b.String()
}

func (w *Words) head(title string) {
	if w != nil {
		w.Sections = append(w.Sections, Section{Title: title, Lines: []Said{}})
	}
}

func (w *Words) say(s Said) {
	switch {
	case w == nil:
	case len(w.Sections) == 0:
		w.First = append(w.First, s)
	default:
		last := &w.Sections[len(w.Sections)-1]
		last.Lines = append(last.Lines, s)
	}
}

// first are a leg's first lines, each of some clauses; none without any.
func (w *Words) first(hazards, walk, sights, drift []string) {
	for _, l := range []struct {
		label   string
		clauses []string
	}{{"BEWARE", hazards}, {"walk", walk}, {"sight", sights}, {"drift", drift}} {
		if len(l.clauses) > 0 {
			w.say(Said{Label: l.label, Text: strings.Join(l.clauses, "; ")})
		}
	}
}

// LegMoving are the first lines of a leg that is still being dragged, before its
// marks are looked for: what could hurt, "" for nothing, and which way to walk; set
// is the number to set on a compass.
func LegMoving(a *answer.LegAnswer, u units.System) (set, walk, hazards string) {
	p := NewPage(io.Discard, u)
	set, _ = dial(a)
	return set, p.walk(a), strings.Join(p.hazards(a), "; ")
}
