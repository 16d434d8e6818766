package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"crowline/cmd/internal/answer"
)

// place writes a place: its name, coordinates, grid reference and height.
func (p *Page) place(s answer.Spot) string {
	var parts []string
	if s.Name != "" {
		parts = append(parts, s.Name)
	}
	parts = append(parts, fmt.Sprintf("%.5f,%.5f", s.Lat, s.Lon))
	if s.MGRS != "" {
		parts = append(parts, s.MGRS)
	}
	if !math.IsNaN(s.ElevationM) {
		parts = append(parts, p.Units.Height(s.ElevationM))
	}
	return strings.Join(parts, "   ")
}

// plural is a unit's name for many of it.
func plural(unit string) string {
	if singular, ok := strings.CutSuffix(unit, "foot"); ok {
		return singular + "feet"
	}
	return unit + "s"
}

// data begins the last block of an answer, with what it rests on.
func (p *Page) data(d answer.ElevationData) {
	p.Head(footHead)
	warned := slices.ContainsFunc(d.Warnings, func(w string) bool { return strings.Contains(w, "the unit of its heights") })
	said := d
	said.VerticalUnitStated = d.VerticalUnitStated || warned // once is enough
	p.Line("data", "%s", p.dataWords(said))
	p.warnings(d.Warnings)
}

// footHead is the last heading of an answer.
const footHead = "Data and cautions"

// dataWords describes elevation data: its name, how far apart its posts are,
// what it shows, and how good it is. Whose measure that error is stands in dem
// info.
func (p *Page) dataWords(d answer.ElevationData) string {
	text := d.Name
	if d.Demo {
		text += " (the demo data; give your own with --dem)"
	}
	if !math.IsNaN(d.SpacingM) {
		text += fmt.Sprintf(", posts about %s apart", p.Units.Distance(d.SpacingM))
		if d.EveryNthPost > 1 {
			text += fmt.Sprintf(" (the data's are finer: one in %d is taken each way)", d.EveryNthPost)
		}
	}
	if words := surfaceWords(d.Surface); words != "" {
		text += ", " + words
	}
	if !math.IsNaN(d.VerticalErrorM) {
		text += fmt.Sprintf("; heights good to %s, one standard deviation", p.Units.Height(d.VerticalErrorM))
	} else {
		text += "; the accuracy of the heights is not stated"
	}
	if !d.VerticalUnitStated {
		text += "; the unit of its heights is not stated, and " + plural(d.VerticalUnit) + " assumed"
	}
	if d.PlaceAccuracyM != nil {
		text += fmt.Sprintf("; places good to %s (%s)", p.Units.Height(*d.PlaceAccuracyM), d.PlaceOperation)
	}
	return text
}

// dataSentence describes the data in a drawing's small print, with whom to
// credit.
func (p *Page) dataSentence(d answer.ElevationData) string {
	text := p.dataWords(d) + "."
	if d.Attribution != "" {
		text += " " + strings.TrimSuffix(d.Attribution, ".") + "."
	}
	return text
}

func (p *Page) warnings(list []string) {
	for _, w := range list {
		p.Line("warning", "%s", w)
	}
}

// foot says what an answer about sights rests on.
func (p *Page) foot(d answer.ElevationData, a answer.Assumptions) {
	p.data(d)
	p.Line("assumed", "%s", p.assumed(a))
	p.cautions()
}

func (p *Page) assumed(a answer.Assumptions) string {
	return fmt.Sprintf("eye %s and target %s above the ground; refraction coefficient %g (as R/r); ground that just touches the line does not hide",
		p.Units.Small(a.EyeM), p.Units.Small(a.TargetHeightM), a.Refraction)
}

// cautions end an answer.
func (p *Page) cautions() { p.Note("%s", strings.Join(answer.Cautions(), " ")) }
