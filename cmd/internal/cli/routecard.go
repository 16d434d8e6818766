package cli

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"path/filepath"
	"strings"

	"github.com/paulmach/orb"

	paper "crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

// save writes the files asked for.
func (o *routeOptions) save(ctx context.Context, a *routeAnswer, size paper.Paper, u units) error {
	switch {
	case o.out == "":
	case strings.ToLower(filepath.Ext(o.out)) == ".txt":
		var text bytes.Buffer
		p := &page{w: &text}
		a.write(p, u)
		if err := replaceFile(o.out, text.Bytes()); err != nil {
			return err
		}
		a.Written = append(a.Written, o.out)
	default:
		doc, err := a.card(size, u).Document()
		if err != nil {
			return err
		}
		written, err := doc.Save(o.out, 0)
		if err != nil {
			return err
		}
		a.Notes = append(a.Notes, doc.Warnings...)
		a.Written = append(a.Written, written...)
	}
	if o.gpx == "" {
		return nil
	}
	if err := gdalio.WriteFeatures(ctx, o.gpx, gdalio.GPX, a.layers(u)...); err != nil {
		return err
	}
	a.Written = append(a.Written, o.gpx)
	return nil
}

// layers are the route for a receiver: turning points, the marks that the card
// names and ways round as waypoints, and the route itself. What belongs to a
// leg is named by its number, as on the card.
func (a *routeAnswer) layers(u units) []gdalio.Layer {
	points := gdalio.Layer{Shape: gdalio.Points, Fields: []gdalio.Field{
		{Name: "name", Type: gdalio.Text}, {Name: "type", Type: gdalio.Text}, {Name: "desc", Type: gdalio.Text}, {Name: "ele", Type: gdalio.Real}}}
	route := gdalio.Layer{Name: gdalio.RoutePoints, Shape: gdalio.Points, Fields: []gdalio.Field{
		{Name: "name", Type: gdalio.Text}, {Name: "type", Type: gdalio.Text}, {Name: "ele", Type: gdalio.Real},
		{Name: "route_fid", Type: gdalio.Integer}, {Name: "route_name", Type: gdalio.Text}}}
	elevation := func(p place) any {
		if p.ElevationM == nil {
			return nil
		}
		return *p.ElevationM
	}
	add := func(p place, name, kind string, text any) {
		points.Features = append(points.Features, gdalio.Feature{Geometry: orb.Point{p.Lon, p.Lat}, Values: []any{name, kind, text, elevation(p)}})
	}
	turn := func(p place, i int) {
		name := p.Name
		switch {
		case name != "":
		case i == 0:
			name = "start"
		default:
			name = fmt.Sprintf("end of leg %d", i)
		}
		const kind = "turning point"
		add(p, name, kind, nil)
		route.Features = append(route.Features, gdalio.Feature{Geometry: orb.Point{p.Lon, p.Lat}, Values: []any{name, kind, elevation(p), 0, a.Name}})
	}
	turn(a.Legs[0].From, 0)
	for i, l := range a.Legs {
		turn(l.To, i+1)
	}
	for _, l := range a.Legs {
		for _, m := range l.CardMarks {
			add(m.At, m.Label+" "+m.Name, "mark", m.Text)
		}
		if l.WayRound != nil {
			add(l.WayRound.At, fmt.Sprintf("%d way round", l.Number), "way round", l.wayRoundText(u))
		}
	}
	return []gdalio.Layer{points, route}
}

// card is the answer as the printed card takes it.
func (a *routeAnswer) card(size paper.Paper, u units) sheet.Card {
	c := sheet.Card{Title: a.Name, Paper: size, Date: a.date, Notes: a.cardNotes(u), Cautions: cautions}
	if u.us {
		c.Units = sheet.US
	}
	for _, l := range a.Legs {
		b := l.answer.bearings
		row := sheet.CardLeg{
			From: cardPlace(l.From), To: cardPlace(l.To), Distance: l.DistanceM, True: b.True,
			Grid: geodesy.GridBearing(math.NaN()), Magnetic: geodesy.MagneticBearing(math.NaN()), BackMagnetic: geodesy.MagneticBearing(math.NaN()),
			Ascent: l.Climb.AscentM, Descent: l.Climb.DescentM, AtLeast: l.Climb.AtLeast, ContoursUp: l.Climb.ContoursUp, ContoursDown: l.Climb.ContoursDown,
			NoTime: strings.TrimPrefix(noTime(l.answer.times, u), "no time: "), TimeNotes: l.cardTimeNotes(), DoublePaces: l.Time.DoublePaces,
		}
		row.Time, _ = l.walkingTime(a.rule)
		if b.GridError == nil {
			row.Grid = b.Grid
		}
		if b.FieldError == nil {
			row.Magnetic = b.Magnetic
		}
		if b.BackError == nil {
			row.BackMagnetic = b.BackMagnetic
		}
		row.Sight, row.Warnings = l.cardWords(u)
		c.Legs = append(c.Legs, row)
	}
	return c
}

func cardPlace(p place) sheet.CardPlace {
	out := sheet.CardPlace{Name: p.Name, Reference: p.MGRS, Elevation: math.NaN()}
	if out.Reference == "" {
		out.Reference = fmt.Sprintf("%.5f,%.5f", p.Lat, p.Lon)
	}
	if p.ElevationM != nil {
		out.Elevation = *p.ElevationM
	}
	return out
}

// cardNotes say what the card's figures stand on.
func (a *routeAnswer) cardNotes(u units) []string {
	first := a.Legs[0]
	var out []string
	if d := first.Declination; d != nil {
		out = append(out, fmt.Sprintf("Magnetic bearings for %s: declination %s ± %.1f at the start (%s); set them on a compass not adjusted for declination.", d.Date, eastWest(d.Deg), d.SigmaDeg, d.Model))
	}
	levels := first.answer.levels
	out = append(out, fmt.Sprintf("Time by %s, without rests. Double paces at %g in 100 m. Contour lines at %g %s.", timeRules[a.rule].words, first.Time.PacePer100M, levels.Interval, levels.Unit))
	if w := first.Climb.ContourWarning; w != "" {
		out = append(out, sentence(capitalised(w)))
	}
	if note := a.labelNote(); note != "" {
		out = append(out, sentence(note))
	}
	data := "Elevations: " + a.ElevationData.Name
	if a.ElevationData.VerticalErrorM != nil {
		data += fmt.Sprintf(", good to %s, one standard deviation", u.height(*a.ElevationData.VerticalErrorM))
	} else {
		data += "; how good they are is not stated"
	}
	if a.Totals.ErrorM != nil {
		data += fmt.Sprintf("; the whole climb to %s", u.height(*a.Totals.ErrorM))
	}
	out = append(out, data+".", fmt.Sprintf("Sights: %s.", a.Assumptions.text(u)))
	return out
}
