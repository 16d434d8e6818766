package cli

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

func (a *skylineAnswer) write(p *page, u units) {
	p.head("Skyline")
	p.line("from", "%s", a.From.text(u))
	a.OverCover.writeOver(p)
	if a.Cover != nil {
		p.line("", "%s", a.Cover.text())
	}
	p.line("highest", "%s", a.Highest.text(u))
	p.line("lowest", "%s", a.Lowest.text(u))
	if text := a.Filled.text(); text != "" {
		p.line("FILLED", "%s", text)
	}
	p.head("Every 15 degrees")
	p.printf("  %6s %9s %8s %10s %10s%s\n", "true", "magnetic", "angle", "distance", "elevation", a.coverHead())
	unknown, filled := false, false
	for _, h := range a.every {
		j := a.horizon(h)
		unknown, filled = unknown || !j.Known, filled || j.Filled
		p.printf("  %s\n", strings.TrimRight(j.row(u), " "))
	}
	if unknown {
		p.note("? not all of the ground on the bearing is known: it may stand higher")
	}
	if filled {
		p.note("F the ground was %s: it may stand higher or lower", filledWords)
	}
	if a.OverCover != nil {
		p.note("cover: how much of the elevation is what stands on the ground")
	}
	if len(a.Peaks) > 0 {
		a.writePeaks(p, u)
	}
	p.head("Data")
	a.ElevationData.write(p, u)
	a.OverCover.write(p, u)
	p.line("assumed", "%s", a.Assumptions.text(u))
	p.line("", "%s", a.reachText(u))
	if d := a.Declination; d != nil {
		p.line("declination", "%s ± %.1f on %s (%s)", eastWest(d.Deg), d.SigmaDeg, d.Date, d.Model)
	}
	for _, w := range a.Warnings {
		p.line("warning", "%s", w)
	}
	for _, w := range a.Written {
		p.line("written", "%s", w)
	}
	writeCautions(p)
}

// mostPeaks is how many summits text lists.
const mostPeaks = 15

// writePeaks lists the first of the summits, in order of bearing.
func (a *skylineAnswer) writePeaks(p *page, u units) {
	p.head("Summits on the skyline")
	listed := slices.Clone(a.Peaks[:min(mostPeaks, len(a.Peaks))])
	slices.SortStableFunc(listed, func(x, y skylinePeakJSON) int { return cmp.Compare(x.TrueDeg, y.TrueDeg) })
	p.printf("  %6s %9s %8s %10s %10s%s\n", "true", "magnetic", "angle", "distance", "elevation", a.coverHead())
	for _, k := range listed {
		text := k.Name
		if text == "" {
			text = fmt.Sprintf("%.5f,%.5f", k.Lat, k.Lon)
		}
		row := k.row(u)
		if a.OverCover != nil {
			row = fmt.Sprintf("%-*s", 47+len(a.coverHead()), row)
		}
		p.printf("  %s  %s\n", row, cut(text, pageWidth-54-len(a.coverHead())))
	}
	if n := len(a.Peaks); n > len(listed) {
		p.note("The %d named or most prominent of %d; --json lists them all.", len(listed), n)
	}
}

// coverHead heads the column that only answers over cover have.
func (a *skylineAnswer) coverHead() string {
	if a.OverCover == nil {
		return ""
	}
	return fmt.Sprintf(" %7s", "cover")
}

// cut shortens text to so many characters.
func cut(text string, n int) string {
	r := []rune(text)
	if len(r) <= n {
		return text
	}
	return string(r[:n-1]) + "…"
}

// row is a line of a table.
func (h horizonJSON) row(u units) string {
	magnetic, angle, distance, elevation := "", "not known", "", ""
	if h.MagneticDeg != nil {
		magnetic = bearing(*h.MagneticDeg)
	}
	if h.AngleDeg != nil {
		angle = signed(*h.AngleDeg) + "°"
		distance, elevation = u.distance(*h.DistanceM), u.height(*h.ElevationM)
	}
	mark := " "
	switch {
	case !h.Known:
		mark = "?"
	case h.Filled:
		mark = "F"
	}
	row := fmt.Sprintf("%6s %9s %7s%s %10s %10s", bearing(h.TrueDeg), magnetic, angle, mark, distance, elevation)
	if h.CoverM > 0 {
		row += fmt.Sprintf(" %7s", u.height(h.CoverM))
	}
	return row
}

// signed writes an angle to a tenth, with its sign unless nought.
func signed(d float64) string {
	if r := math.Round(d*10) / 10; r == 0 {
		return "0.0"
	}
	return fmt.Sprintf("%+.1f", d)
}

func (h horizonJSON) text(u units) string {
	text := fmt.Sprintf("%s, on true %s°", upDown(*h.AngleDeg), bearing(h.TrueDeg))
	if h.MagneticDeg != nil {
		text += fmt.Sprintf(", magnetic %s°", bearing(*h.MagneticDeg))
	}
	if h.CoverM > 0 {
		text += fmt.Sprintf(": what stands on the ground %s off, its top at %s, %s above it", u.distance(*h.DistanceM), u.height(*h.ElevationM), u.height(h.CoverM))
	} else {
		text += fmt.Sprintf(": ground %s off, at %s", u.distance(*h.DistanceM), u.height(*h.ElevationM))
	}
	if !h.Known {
		text += " (not all of the ground there is known)"
	}
	if h.Filled {
		text += " (" + filledWords + ")"
	}
	return text
}

// text is one sentence, "" when nothing is filled.
func (f *filledSkylineJSON) text() string {
	if f == nil || f.Bearings == 0 {
		return ""
	}
	return fmt.Sprintf("on %d of %d bearings, %g° apart, the skyline is ground %s, and may be higher or lower", f.Bearings, f.Of, f.StepDeg, filledWords)
}

// reachText is what the skyline leaves out.
func (a *skylineAnswer) reachText(u units) string {
	if a.RadiusM != nil {
		return fmt.Sprintf("only ground within %s is looked at: higher ground may stand beyond", u.distance(*a.RadiusM))
	}
	return "only ground in the elevation data is looked at: higher ground may stand beyond its edge"
}
