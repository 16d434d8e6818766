package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"crowline/cmd/internal/answer"
	"crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem/geodesy"
	"crowline/dem/units"
)

// Skyline writes a horizon: its highest and lowest, a table of bearings, the
// summits on it.
func Skyline(p *Page, a *answer.SkylineAnswer) {
	p.Head("Skyline")
	p.Line("highest", "%s", p.horizon(a.Highest))
	p.Line("lowest", "%s", p.horizon(a.Lowest))
	p.Line("from", "%s", p.place(a.From))
	p.over(a.OverCover)
	if a.Cover != nil {
		p.Line("", "%s", coverSkyline(a.Cover))
	}
	if text := filledSkyline(a.Filled); text != "" {
		p.Line("FILLED", "%s", text)
	}
	p.Head("Every 15 degrees")
	p.horizonHead(a)
	unknown, filled := false, false
	for _, h := range a.Every {
		unknown, filled = unknown || !h.Known, filled || h.Filled
		p.row("%s", strings.TrimRight(p.horizonRow(h), " "))
	}
	if unknown {
		p.Note("? not all of the ground on the bearing is known: it may stand higher")
	}
	if filled {
		p.Note("F the ground was %s: it may stand higher or lower", filledWords)
	}
	if a.OverCover != nil {
		p.Note("cover: how much of the elevation is what stands on the ground")
	}
	p.peaks(a)
	p.data(a.ElevationData)
	p.coverUsed(a.OverCover)
	p.Line("assumed", "%s", p.skylineAssumed(a.Assumptions))
	p.Line("", "%s", p.lookedTo(a.RadiusM))
	if d := a.Declination; d != nil {
		p.Line("magnetic", "%s", declinedBy(d))
	}
	p.warnings(a.Warnings)
	p.written(a.Written)
	p.cautions()
}

// mostPeaks is how many summits text lists.
const mostPeaks = 15

// peaks lists the first of the summits, in order of bearing.
func (p *Page) peaks(a *answer.SkylineAnswer) {
	if len(a.Peaks) == 0 {
		return
	}
	p.Head("Summits on the skyline")
	listed := slices.Clone(a.Peaks[:min(mostPeaks, len(a.Peaks))])
	slices.SortStableFunc(listed, func(x, y answer.Peak) int { return cmp.Compare(x.TrueDeg, y.TrueDeg) })
	p.horizonHead(a)
	for _, k := range listed {
		text := k.Name
		if text == "" {
			text = fmt.Sprintf("%.5f,%.5f", k.Lat, k.Lon)
		}
		row, wide := p.horizonRow(k.Horizon), rowWidth
		if a.OverCover != nil {
			wide += coverWidth
			row = fmt.Sprintf("%-*s", wide, row)
		}
		const indents = 2 + 2 // before the row, and between row and name
		p.row("%s  %s", row, cut(text, Width-wide-indents))
	}
	if within := a.PeaksWithinM; within != nil {
		p.Note("Only summits within %s are listed; the skyline is looked for beyond.", p.Units.Distance(*within))
	}
	if n := len(a.Peaks); n > len(listed) {
		p.Note("The %d named or most prominent of %d; --json lists them all.", len(listed), n)
	}
}

// Widths of a row of the horizon and of the column that only answers over cover
// have.
const (
	rowWidth   = 47
	coverWidth = 8
)

// horizonHead heads a table of the horizon.
func (p *Page) horizonHead(a *answer.SkylineAnswer) {
	cover := ""
	if a.OverCover != nil {
		cover = fmt.Sprintf("%*s", coverWidth, "cover")
	}
	p.row("%6s %9s %8s %10s %10s%s", "true", "magnetic", "angle", "distance", "elevation", cover)
}

// horizonRow is a line of a table.
func (p *Page) horizonRow(h answer.Horizon) string {
	compass, angle, distance, elevation := "", "not known", "", ""
	if !math.IsNaN(h.MagneticDeg) {
		compass = units.Bearing(h.MagneticDeg)
	}
	if !math.IsNaN(h.AngleDeg) {
		angle = signed(h.AngleDeg) + "°"
		distance, elevation = p.Units.Distance(h.DistanceM), p.Units.Height(h.ElevationM)
	}
	mark := " "
	switch {
	case !h.Known:
		mark = "?"
	case h.Filled:
		mark = "F"
	}
	row := fmt.Sprintf("%6s %9s %7s%s %10s %10s", units.Bearing(h.TrueDeg), compass, angle, mark, distance, elevation)
	if h.CoverM >= leastCover {
		row += fmt.Sprintf("%*s", coverWidth, p.Units.Height(h.CoverM))
	}
	return row
}

// cut shortens text to so many characters.
func cut(text string, n int) string {
	r := []rune(text)
	if len(r) <= n {
		return text
	}
	return string(r[:n-1]) + "…"
}

// signed writes an angle to a tenth, with its sign unless nought.
func signed(d float64) string {
	if r := math.Round(d*10) / 10; r == 0 {
		return "0.0"
	}
	return fmt.Sprintf("%+.1f", d)
}

// horizon is the skyline on one bearing.
func (p *Page) horizon(h *answer.Horizon) string {
	u := p.Units
	text := fmt.Sprintf("%s, on true %s°", units.UpDown(h.AngleDeg), units.Bearing(h.TrueDeg))
	if !math.IsNaN(h.MagneticDeg) {
		text += fmt.Sprintf(", magnetic %s°", units.Bearing(h.MagneticDeg))
	}
	if h.CoverM >= leastCover {
		text += fmt.Sprintf(": what stands on the ground %s off, its top at %s, %s above it", u.Distance(h.DistanceM), u.Height(h.ElevationM), u.Height(h.CoverM))
	} else {
		text += fmt.Sprintf(": ground %s off, at %s", u.Distance(h.DistanceM), u.Height(h.ElevationM))
	}
	if !h.Known {
		text += " (not all of the ground there is known)"
	}
	if h.Filled {
		text += " (" + filledWords + ")"
	}
	return text
}

// filledSkyline is the part filled ground has in it, "" where there is none.
func filledSkyline(f *answer.FilledSkyline) string {
	if f == nil || f.Bearings == 0 {
		return ""
	}
	return fmt.Sprintf("on %d of %d bearings, %.6g° apart, the skyline is ground %s, and may be higher or lower", f.Bearings, f.Of, f.StepDeg, filledWords)
}

// coverSkyline is what the cover changes, "it" being what stands on the ground.
func coverSkyline(c *answer.CoverSkyline) string {
	text := fmt.Sprintf("it makes the skyline on %d of %d bearings, and raises that of the bare ground ", c.Tops, c.Of)
	if c.Raised > 0 {
		text += fmt.Sprintf("by a tenth of a degree or more on %d, most by %.1f° on true %s°", c.Raised, c.MostDeg, units.Bearing(c.MostTrueDeg))
	} else {
		text += "nowhere by a tenth of a degree"
	}
	if c.NotKnown > 0 {
		text += fmt.Sprintf("; on %d the skyline is no longer known", c.NotKnown)
	}
	return text
}

func (p *Page) skylineAssumed(a answer.SkylineAssumptions) string {
	return fmt.Sprintf("eye %s above the ground; refraction coefficient %g (as R/r)", p.Units.Small(a.EyeM), a.Refraction)
}

// lookedTo says what ground is left out behind a skyline or a mark: that beyond
// so many metres, NaN for the end of the data.
func (p *Page) lookedTo(metres float64) string {
	if !math.IsNaN(metres) {
		return fmt.Sprintf("only ground within %s is looked at, where the elevation data has it: higher ground may stand beyond", p.Units.Distance(metres))
	}
	return "only ground in the elevation data is looked at: higher ground may stand beyond its edge"
}

// SkylineDrawing draws the horizon: one long strip, or rows of it on an A4 page
// where rows is above 0.
func SkylineDrawing(a *answer.SkylineAnswer, rows int, u units.System) (*page.Document, error) {
	p := &Page{Units: u}
	d := sheet.SkylineDrawing{
		Title:   "Skyline from " + a.From.Label(),
		Points:  a.Full().Points,
		Summary: []string{fmt.Sprintf("Eye at %s. Highest %s; lowest %s.", u.Height(a.EyeElevationM), p.horizon(a.Highest), p.horizon(a.Lowest))},
		Notes:   []string{"Assumed: " + p.skylineAssumed(a.Assumptions) + "; " + p.lookedTo(a.RadiusM) + ".", "Data: " + p.dataSentence(a.ElevationData)},
		Units:   u,
	}
	if text := filledSkyline(a.Filled); text != "" {
		d.Summary = append(d.Summary, capitalised(text)+".")
	}
	if c := a.OverCover; c != nil {
		d.Summary = append(d.Summary, capitalised(c.Words())+"; "+coverSkyline(a.Cover)+".")
		d.Notes = append(d.Notes, "Cover: "+p.coverUsedText(c)+".")
		for _, w := range c.Warnings {
			d.Notes = append(d.Notes, "Warning: "+w+".")
		}
	}
	for _, k := range a.Peaks {
		d.Peaks = append(d.Peaks, sheet.SkylinePeak{
			Name: k.Name, Bearing: geodesy.TrueBearing(k.TrueDeg), Angle: geodesy.Degrees(k.AngleDeg), Distance: k.DistanceM, Elevation: k.ElevationM,
		})
	}
	if dec := a.Declination; dec != nil {
		d.Declination = &sheet.Declination{East: geodesy.Degrees(dec.Deg), Sigma: geodesy.Degrees(dec.SigmaDeg), Annual: geodesy.Degrees(dec.AnnualChangeDeg), Model: dec.Model, Given: dec.Given()}
		d.Notes = append(d.Notes, "Magnetic bearings by "+declinedBy(dec)+".")
	}
	d.Notes = append(d.Notes, a.Cautions...)
	if rows > 0 {
		return d.Stacked(page.A4, rows)
	}
	return d.Strip()
}
