package report

import (
	"fmt"
	"math"
	"strings"

	"crowline/cmd/internal/answer"
	"crowline/dem"
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

// data says what an answer rests on.
func (p *Page) data(d answer.ElevationData) {
	text := d.Name
	if d.Demo {
		text += " (the demo data built in; give your own with --dem)"
	}
	p.Line("source", "%s", text)
	text = "posts"
	if !math.IsNaN(d.SpacingM) {
		text += fmt.Sprintf(" about %s apart", p.Units.Distance(d.SpacingM))
		if d.EveryNthPost > 1 {
			text += fmt.Sprintf(" (the data's are finer: one in %d is taken each way)", d.EveryNthPost)
		}
	}
	text += ", heights in " + plural(d.VerticalUnit)
	if !d.VerticalUnitStated {
		text += " (assumed where the file does not say)"
	}
	if words := surfaceWords(d.Surface); words != "" {
		text += ", " + words
	}
	if !math.IsNaN(d.VerticalErrorM) {
		text += fmt.Sprintf("; heights good to %s, one standard deviation", p.Units.Height(d.VerticalErrorM))
		if d.VerticalErrorSource != "" {
			text += " (" + d.VerticalErrorSource + ")"
		}
	} else {
		text += "; the accuracy of the heights is not stated"
	}
	if d.PlaceAccuracyM != nil {
		text += fmt.Sprintf("; places good to %s (%s)", p.Units.Height(*d.PlaceAccuracyM), d.PlaceOperation)
	}
	p.Line("", "%s", text)
	p.warnings(d.Warnings)
}

// dataSentence describes the data in a drawing's small print.
func (p *Page) dataSentence(d answer.ElevationData) string {
	text := d.Name
	if d.Demo {
		text += " (the demo data)"
	}
	if !math.IsNaN(d.SpacingM) {
		text += fmt.Sprintf(", posts about %s apart", p.Units.Distance(d.SpacingM))
	}
	switch d.Surface {
	case dem.SurfaceModel:
		text += ", a surface model: treetops and roofs where there are any"
	case dem.BareEarth:
		text += ", bare earth"
	}
	if !math.IsNaN(d.VerticalErrorM) {
		text += fmt.Sprintf("; heights good to %s, one standard deviation", p.Units.Height(d.VerticalErrorM))
	} else {
		text += "; the accuracy of the heights is not stated"
	}
	if !d.VerticalUnitStated {
		text += "; the unit of its heights is not stated, and " + d.VerticalUnit + " assumed"
	}
	text += "."
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
	p.Head("Data")
	p.data(d)
	p.Line("assumed", "%s", p.assumed(a))
	p.cautions()
}

func (p *Page) assumed(a answer.Assumptions) string {
	return fmt.Sprintf("eye %s and target %s above the ground; refraction coefficient %g (as R/r); ground that just touches the line does not hide",
		p.Units.Small(a.EyeM), p.Units.Small(a.TargetHeightM), a.Refraction)
}

func (p *Page) cautions() {
	p.Head("Cautions")
	for _, c := range answer.Cautions() {
		p.Note("%s", c)
	}
}
