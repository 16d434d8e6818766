package cli

import (
	"context"
	"fmt"
	"math"
	"strings"

	paper "crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/visibility"
)

// skylinePeak is a summit or a named place that breaks the skyline.
type skylinePeak struct {
	visibility.HorizonPoint
	name       string
	prominence float64 // metres; NaN for a named place that is no summit
	atLeast    bool
}

// sameSummit is how near a named place stands to a summit of the data to be
// its name, metres, where posts are not farther apart than half of it.
const sameSummit = 150.0

// peaks are the tops on the skyline: the user's named places first, then
// summits by prominence. A named place beside a summit names it. Summits are
// found on the bare ground and stand as high as the covered ground, which is
// the same where there is no cover; named places stand on the bare.
func (o *skylineOptions) peaks(ctx context.Context, g *ground, bare, covered *dem.Grid, spacing float64, horizon *visibility.Horizon) ([]skylinePeak, error) {
	summits, err := landform.Summits(ctx, bare, landform.SummitOptions{MinProminence: g.prominence()})
	if err != nil {
		return nil, err
	}
	places, err := o.places.all()
	if err != nil {
		return nil, err
	}
	near := max(sameSummit, 2*spacing)
	var named, unnamed []skylinePeak
	add := func(name string, at geodesy.LatLon, elevation, cover, prominence float64, atLeast bool) {
		// what is nearer than two posts is the observer's own hill
		p, ok := horizon.Peak(at, elevation, o.sight.refraction, 2*spacing)
		if !ok || o.radius > 0 && p.Distance > o.radius {
			return
		}
		p.Cover = cover
		peak := skylinePeak{p, name, prominence, atLeast}
		if name != "" {
			named = append(named, peak)
		} else {
			unnamed = append(unnamed, peak)
		}
	}
	names := make([]string, len(summits))
	for _, p := range places {
		best, at := near, -1
		for i, s := range summits {
			if d := geodesy.Inverse(p.LatLon, s.Place).Distance; d <= best && names[i] == "" {
				best, at = d, i
			}
		}
		if at >= 0 {
			names[at] = p.Name
			continue
		}
		if elevation, err := dem.ElevationAt(bare, p.LatLon); err == nil && p.Name != "" {
			add(p.Name, p.LatLon, elevation, 0, math.NaN(), false)
		}
	}
	for i, s := range summits {
		elevation := s.Elevation
		if covered != bare {
			if elevation, err = dem.ElevationAt(covered, s.Place); err != nil {
				continue // what stands there is not known
			}
		}
		add(names[i], s.Place, elevation, dem.Standing(elevation, s.Elevation), s.Prominence, s.AtLeast)
	}
	return append(named, unnamed...), nil
}

// drawSkyline draws the strip, or rows of it on a page.
func drawSkyline(path string, rows int, a *skylineAnswer, peaks []skylinePeak, u units) ([]string, error) {
	d := sheet.SkylineDrawing{
		Title:   "Skyline from " + namedPlace{a.From.Name, a.found.Observer.Place}.label(),
		Points:  a.found.Points,
		Summary: []string{fmt.Sprintf("Eye at %s. Highest %s; lowest %s.", u.height(a.found.EyeElevation), a.Highest.text(u), a.Lowest.text(u))},
		Notes:   []string{"Assumed: " + a.Assumptions.text(u) + "; " + a.reachText(u) + ".", "Data: " + a.ElevationData.sentence(u)},
		Units:   u.drawn(),
	}
	if text := a.Filled.text(); text != "" {
		d.Summary = append(d.Summary, capitalised(text)+".")
	}
	if a.OverCover != nil {
		d.Summary = append(d.Summary, capitalised(a.OverCover.words())+"; "+a.Cover.text()+".")
		d.Notes = append(d.Notes, "Cover: "+a.OverCover.text(u)+".")
		for _, w := range a.OverCover.Warnings {
			d.Notes = append(d.Notes, "Warning: "+w+".")
		}
	}
	for _, p := range peaks {
		d.Peaks = append(d.Peaks, sheet.SkylinePeak{Name: p.name, Bearing: p.Bearing, Angle: p.Angle, Distance: p.Distance, Elevation: p.Elevation})
	}
	if dec := a.Declination; dec != nil {
		d.Declination = &sheet.Declination{East: geodesy.Degrees(a.field.Declination), Sigma: a.field.DeclinationSigma, Annual: a.field.AnnualChange, Model: dec.Model}
		d.Notes = append(d.Notes, fmt.Sprintf("Magnetic bearings for %s: declination %s ± %.1f degrees (%s).", dec.Date, eastWest(dec.Deg), dec.SigmaDeg, dec.Model))
	}
	d.Notes = append(d.Notes, a.Cautions...)
	var document *paper.Document
	var err error
	if rows > 0 {
		document, err = d.Stacked(paper.A4, rows)
	} else {
		document, err = d.Strip()
	}
	if err != nil {
		return nil, err
	}
	a.Warnings = append(a.Warnings, document.Warnings...)
	return document.Save(path, 0)
}

// drawn is the units as a drawing has them.
func (u units) drawn() sheet.Units {
	if u.us {
		return sheet.US
	}
	return sheet.Metric
}

// sentence describes the data in a drawing's small print.
func (d elevationData) sentence(u units) string {
	text := d.Name
	if d.Demo {
		text += " (the demo data)"
	}
	if d.SpacingM != nil {
		text += fmt.Sprintf(", posts about %s apart", u.distance(*d.SpacingM))
	}
	switch dem.Surface(d.Surface) {
	case dem.SurfaceModel:
		text += ", a surface model: treetops and roofs where there are any"
	case dem.BareEarth:
		text += ", bare earth"
	}
	if d.VerticalErrorM != nil {
		text += fmt.Sprintf("; heights good to %s, one standard deviation", u.height(*d.VerticalErrorM))
	} else {
		text += "; how good the heights are is not stated"
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
