package drill

import (
	"fmt"
	"math"
	"strings"

	"crowline/contour"
	"crowline/dem/units"
)

// Text is the questions, to read out or to print beside the maps.
func (s *Set) Text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\nMaps 1:%.0f, contour interval %s %s. Seed %d.\n", s.heading(), s.Scale, number(s.Interval), s.IntervalUnit, s.Seed)
	for _, q := range s.Questions {
		fmt.Fprintf(&b, "\n%d. %s\n", q.Number, q.Text)
		if q.Reading != "" {
			fmt.Fprintf(&b, "   %s\n", q.Reading)
		}
		if q.Figure != nil {
			for _, m := range q.Figure.Marks {
				fmt.Fprintf(&b, "   %s: %s\n", m.Name, m.At())
			}
		}
	}
	return b.String()
}

// deviation is the data's error in the units of the set, which may have been
// read from JSON.
func (s *Set) deviation() string {
	text := units.Metric.Tenth(s.VerticalError)
	if s.IntervalUnit == contour.Foot.String() {
		text = units.US.Height(s.VerticalError)
	}
	if s.VerticalErrorAssumed {
		text += ", assumed: the data states none"
	}
	return text
}

// QuestionsOnly is the set as JSON for students: without answers, working,
// figures of the answers, and the elevations of marked points, which are NaN.
func (s *Set) QuestionsOnly() *Set {
	out := *s
	out.Questions = nil
	bare := func(p Place) Place {
		p.ElevationM = math.NaN()
		return p
	}
	for _, q := range s.Questions {
		q.Answer, q.Working, q.Margin, q.Within, q.Data, q.Mistakes = "", nil, "", "", nil, nil
		if q.Figure != nil {
			f := *q.Figure
			f.Key, f.Drawn, f.Traces, f.Within = nil, nil, nil, nil
			f.Centre, f.Marks, f.Outline = bare(f.Centre), nil, nil
			for _, m := range q.Figure.Outline {
				f.Outline = append(f.Outline, bare(m))
			}
			for _, m := range q.Figure.Marks {
				f.Marks = append(f.Marks, bare(m))
			}
			q.Figure = &f
		}
		out.Questions = append(out.Questions, q)
	}
	return &out
}

// Answered is the answers apart from their questions.
func (s *Set) Answered() []Answered {
	out := []Answered{}
	for _, q := range s.Questions {
		out = append(out, Answered{q.Number, q.Kind, q.Points, q.Answer, q.Within, q.Working, q.Mistakes, q.Margin, q.Data})
	}
	return out
}

// Asked is the questions apart from their answers.
func (s *Set) Asked() []Asked {
	out := []Asked{}
	for _, q := range s.QuestionsOnly().Questions {
		out = append(out, Asked{q.Number, q.Kind, q.Text, q.Minutes, q.Points, q.Reading, q.Figure})
	}
	return out
}

// Key is the answers with their working.
func (s *Set) Key() string {
	var b strings.Builder
	fmt.Fprintf(&b, "Answers: %s\nSeed %d. Elevation data: %s, one standard deviation %s.\n", s.heading(), s.Seed, s.Data, s.deviation())
	for _, q := range s.Questions {
		fmt.Fprintf(&b, "\n%d. %s\n", q.Number, q.Answer)
		for _, w := range q.Working {
			fmt.Fprintf(&b, "   %s\n", w)
		}
		if q.Reading != "" {
			fmt.Fprintf(&b, "   Asked for: %s\n", q.Reading)
		}
		for _, m := range q.Mistakes {
			fmt.Fprintf(&b, "   %s\n", m.text())
		}
		fmt.Fprintf(&b, "   Clear of error: %s.\n", q.Margin)
	}
	for _, n := range s.Notes {
		fmt.Fprintf(&b, "\nNote: %s.\n", n)
	}
	return b.String()
}
