package report

import (
	"fmt"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"crowline/cmd/internal/answer"
	"crowline/contour"
	"crowline/profile"
)

// Sheet writes what was printed, and how it is to be used.
func Sheet(p *Page, a *answer.SheetAnswer) {
	p.Head("Sheet")
	p.Line("written", "%s", strings.Join(a.Written, ", "))
	p.Line("scale", "1:%.0f on %s, %s; print at 100 %% and check the 100 mm bar", a.Scale, a.Paper().Name, count(a.Pages, "page"))
	p.Line("interval", "%s", a.Reason)
	if text := p.mapHazards(a.Hazards); text != "" {
		p.Line("BEWARE", "%s", text)
	}
	for _, m := range a.Marks {
		p.Line("mark "+m.Label, "%s, %s, sighted from %s", m.Name, p.Units.Elevation(m.At.ElevationM), p.Units.Distance(m.FromM))
	}
	if a.OverCover != "" {
		p.Line("over", "hidden ground, profile and marks are over what stands on the ground: %s", a.OverCover)
	}
	p.warnings(a.Warnings)
	p.data(a.ElevationData)
	p.cautions()
}

// mapHazards says what of the hazards a map shows, "" for none.
func (p *Page) mapHazards(list []answer.MapHazard) string {
	steep, cliffs, long := 0, 0, 0.0
	for _, h := range list {
		if h.Kind == "cliff" {
			cliffs++
			continue
		}
		steep, long = steep+1, long+h.ToM-h.FromM
	}
	var parts []string
	if steep > 0 {
		parts = append(parts, fmt.Sprintf("rungs across the line where the ground is %g° or steeper, %s in all", float64(profile.SteepLimit), p.Units.Distance(long)))
	}
	if cliffs > 0 {
		parts = append(parts, count(cliffs, "cliff")+" in solid black")
	}
	return strings.Join(parts, "; ")
}

// count is a number of things by their name.
func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// Contours writes which lines were traced.
func Contours(p *Page, a *answer.ContoursAnswer) {
	p.Head("Contours")
	p.Line("interval", "%s", a.Reason)
	if a.ScaleAssumed {
		p.Line("scale", "1:%.0f is assumed; --scale sets another", a.Scale)
	}
	if a.Warning != "" {
		p.Line("warning", "%s", a.Warning)
	}
	p.Line("lines", "%d, %d of them closed, %d index; %d round depressions", a.Lines, a.Closed, a.Index, a.Depressions)
	if a.Touches > 0 {
		p.Line("left out", "%d edges between two posts that only touch a level", a.Touches)
	}
	if a.Filled != nil && *a.Filled > 0 {
		how := "the field filled is 1 there"
		switch {
		case a.Drawn():
			how = "dotted there"
		case strings.EqualFold(filepath.Ext(a.Written), ".dxf"):
			how = "their layers' names end in filled"
		}
		p.Line("FILLED", "%d lines run over ground %s: %s", *a.Filled, filledWords, how)
	}
	p.Line("levels", "%s to %s", level(a.LowestM, a.Unit()), level(a.HighestM, a.Unit()))
	p.Line("written", "%s", a.Written)
	p.Line("coordinates", "%s", a.Coordinates)
	p.data(a.ElevationData)
	p.cautions()
}

// level writes a contour's level in its own unit.
func level(metres float64, unit contour.Unit) string {
	return fmt.Sprintf("%s %s", strconv.FormatFloat(math.Round(metres/unit.Metres()*100)/100, 'f', -1, 64), unit)
}
