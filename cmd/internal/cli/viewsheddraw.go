package cli

import (
	"context"
	"fmt"
	"math"
	"strings"

	paper "crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/visibility"
)

// drawViewshed draws the views over shaded relief on an A4 page, and adds to the
// answer's warnings.
func drawViewshed(ctx context.Context, path string, grid *dem.Grid, views []*visibility.Viewed, combined *visibility.Combined, a *viewshedAnswer, u units) ([]string, error) {
	m := sheet.SeenMap{
		Ground: grid, Window: views[0].Window, Verdicts: views[0].Verdicts,
		Radius: views[0].Options.Radius, Sector: views[0].Options.Sector,
		Notes: append([]string{
			"Assumed: " + a.Assumptions.text(u) + ".",
			"Data: " + a.ElevationData.sentence(u),
		}, a.Cautions...),
		Units: u.drawn(),
	}
	var names []string
	for i, v := range a.Views {
		f := sheet.SeenFrom{Name: v.From.Name, Place: views[i].Observer.Place, Elevation: views[i].GroundElevation}
		m.Observers = append(m.Observers, f)
		names = append(names, namedPlace{v.From.Name, f.Place}.label())
	}
	m.Title = "Ground seen from " + strings.Join(names, " and ")
	if len(names) > 2 {
		m.Title = fmt.Sprintf("Ground seen from %d places", len(names))
	}
	if combined == nil {
		v := a.Views[0]
		m.Summary = []string{v.areaText(u)}
		if v.Farthest != nil {
			m.Summary[0] += fmt.Sprintf("; farthest %s away on %s° true, at %s%s", u.distance(v.Farthest.DistanceM), bearing(v.Farthest.BearingTrueDeg), u.height(*v.Farthest.ElevationM), v.Farthest.coverText(u))
			m.Farthest = &views[0].Summary.Farthest.Place
		}
		m.Summary[0] += "."
		if text := v.Filled.text(); text != "" {
			m.Summary = append(m.Summary, text+".")
		}
	} else {
		m.Window, m.SeenBy = combined.Window, combined.Count
		m.Verdicts = overlaid(combined, views)
		m.Summary = []string{combinedText(combined)}
		for i, v := range a.Views {
			if text := v.Filled.text(); text != "" {
				m.Summary = append(m.Summary, fmt.Sprintf("From place %d: %s.", i+1, text))
			}
		}
	}
	if a.OverCover != nil {
		m.Summary = append([]string{capitalised(a.OverCover.words()) + "."}, m.Summary...)
		switch changed := int64(0); len(a.Views) {
		case 1:
			m.Summary = append(m.Summary, capitalised(a.Views[0].Cover.text(u))+".")
		case 2:
			for i, v := range a.Views {
				m.Summary = append(m.Summary, fmt.Sprintf("From place %d: %s.", i+1, v.Cover.text(u)))
			}
		default: // there is no room for more
			for _, v := range a.Views {
				changed += v.Cover.Changed
			}
			m.Summary = append(m.Summary, fmt.Sprintf("The cover changes %d verdicts from those over the bare ground, all places together.", changed))
		}
		notes := []string{"Cover: " + a.OverCover.text(u) + ". Tinted where the ground, or the top of what stands on it, is seen; hatched also where the cover is not known."}
		for _, w := range a.OverCover.Warnings {
			notes = append(notes, "Warning: "+w+".")
		}
		m.Notes = append(notes, m.Notes...)
	}
	document, err := m.Document(ctx, paper.A4)
	if err != nil {
		return nil, err
	}
	a.Warnings = append(a.Warnings, document.Warnings...)
	return document.Save(path, 0)
}

// areaText is how much is seen from a place.
func (j viewedJSON) areaText(u units) string {
	return fmt.Sprintf("%s, %.1f %% of the ground asked about", u.area(j.AreaSeenM2), 100*float64(j.Visible)/math.Max(1, float64(j.Visible+j.Hidden+j.Unknown)))
}

// combinedText is how much of the ground is seen from any place and from all.
func combinedText(c *visibility.Combined) string {
	total, seen := 0.0, 0.0
	for n, posts := range c.SeenBy {
		total += float64(posts)
		if n > 0 {
			seen += float64(posts)
		}
	}
	share := func(v float64) float64 { return 100 * v / math.Max(1, total) }
	return fmt.Sprintf("Of the ground asked about, %.1f %% is seen from at least one of the places and %.1f %% from all %d.",
		share(seen), share(float64(c.SeenBy[len(c.SeenBy)-1])), len(c.SeenBy)-1)
}

// overlaid is one verdict a post for several views: seen by any, else not
// known to any, else hidden.
func overlaid(c *visibility.Combined, views []*visibility.Viewed) []visibility.Verdict {
	rank := [...]int{visibility.OutOfRange: 0, visibility.Hidden: 1, visibility.Unknown: 2, visibility.Visible: 3}
	out := make([]visibility.Verdict, c.Window.Columns*c.Window.Rows)
	for _, v := range views {
		for i, verdict := range v.Verdicts {
			column, row := v.Window.Column+i%v.Window.Columns-c.Window.Column, v.Window.Row+i/v.Window.Columns-c.Window.Row
			if k := row*c.Window.Columns + column; rank[verdict] > rank[out[k]] {
				out[k] = verdict
			}
		}
	}
	return out
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
