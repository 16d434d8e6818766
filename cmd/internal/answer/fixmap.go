package answer

import (
	"context"
	"errors"
	"fmt"
	"math"

	"crowline/contour"
	"crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/units"
)

// Draw has the fix on one page of paper: marks, the lines that the bearings give, the
// ground that holds the place and the place or places that fit, at the largest round
// scale that shows them. words is called with the map, and puts title, headline,
// notes and units on it. Where the data does not reach, the map has no contours.
func (a *FixAnswer) Draw(ctx context.Context, g *Ground, r FixRequest, paper page.Paper, words func(*sheet.Plan)) (*page.Document, error) {
	plan := g.mapOf()
	plan.Paper, plan.Date, plan.Relief = paper, r.Day, policy.ViewRelief
	plan.Declination = magneticNorth(a.places[0].Place.LatLon(), a.places[0].Place.ElevationM, r.Needle)
	drawing := &sheet.FixDrawing{Sure: a.FitToWalkOn}
	shown := a.marksAndRays(r, &plan, drawing)
	for i := range a.places {
		p := &a.places[i]
		drawing.Places = append(drawing.Places, sheet.Place{At: p.Place.LatLon(), Elevation: p.Place.ElevationM})
		shown = append(shown, p.Place.LatLon())
		if ring := p.outline(); ring != nil {
			drawing.Regions = append(drawing.Regions, ring)
			shown = append(shown, ring...)
		}
	}
	if r.Line != nil {
		drawing.Line = knownParts(r.Line.Points, r.Line.Gaps)
	}
	plan.Fix = drawing
	words(&plan)
	frame := frameRound(shown)
	plan, err := plan.FitScale(&frame, shown...)
	if err != nil {
		return nil, err
	}
	plan.Scale = math.Max(plan.Scale, leastFixScale)
	lines := DefaultLines()
	lines.Scale = plan.Scale
	if plan.Units == units.US {
		lines.Interval.Unit = contour.Foot
	}
	switch _, err := g.contoured(ctx, &plan, lines, policy.DrawnPost*plan.Scale, sheetPostBytes); {
	case errors.Is(err, dem.ErrOutside):
		plan.Data, plan.Notes = dem.Info{}, append(plan.Notes, "There is no elevation data here: the map has no contour lines.")
	case err != nil:
		return nil, err
	}
	a.scale = plan.Scale
	return sheet.Compose(ctx, plan)
}

// leastFixScale is the largest scale of a fix's map, as its denominator: a larger one
// promises more than bearings give.
const leastFixScale = 5000

// MapScale is the scale the fix was drawn at, 0 where it was not.
func (a *FixAnswer) MapScale() float64 { return a.scale }

// marksAndRays puts the known places and the bearings' lines on the map, and gives
// the places. A bearing that fits one place as it was read and another turned half
// round gives two lines.
func (a *FixAnswer) marksAndRays(r FixRequest, plan *sheet.Plan, drawing *sheet.FixDrawing) []geodesy.LatLon {
	var shown []geodesy.LatLon
	for i, b := range r.Bearings {
		read := units.Dial(b.Degrees) + "° true"
		if b.Magnetic {
			read = units.Dial(b.Degrees) + "° magnetic"
		}
		var drawn []float64
		for k := range a.places {
			p := &a.places[k]
			back := geodesy.Inverse(b.Mark.LatLon, p.Place.LatLon())
			direction := float64(back.Start) + p.Bearings[i].ResidualDeg
			again := false
			for _, d := range drawn {
				again = again || math.Abs(float64(geodesy.Difference(geodesy.NewTrueBearing(geodesy.Degrees(d)), geodesy.NewTrueBearing(geodesy.Degrees(direction))))) < 90
			}
			if !again {
				drawn = append(drawn, direction)
				drawing.Rays = append(drawing.Rays, sheet.Ray{From: b.Mark.LatLon, True: geodesy.NewTrueBearing(geodesy.Degrees(direction)), Words: "read " + read})
			}
		}
		name := b.Mark.Name
		if name == "" {
			name = fmt.Sprintf("Mark %d", i+1)
		}
		met := false
		for _, at := range shown {
			met = met || at == b.Mark.LatLon
		}
		if !met {
			plan.Points = append(plan.Points, sheet.Place{Name: name, At: b.Mark.LatLon, Elevation: b.Mark.Elevation})
			shown = append(shown, b.Mark.LatLon)
		}
	}
	return shown
}

// outline of the ground that holds the place, if it is this one; nil where that is
// too wide to be traced.
func (p *FixPlace) outline() []geodesy.LatLon {
	if p.Region != nil {
		var ring []geodesy.LatLon
		for _, q := range p.Region.Polygon.Coordinates[0] {
			ring = append(ring, geodesy.LatLon{Lat: geodesy.Degrees(q[1]), Lon: geodesy.Degrees(q[0])})
		}
		return ring[:len(ring)-1]
	}
	if p.Ellipse95 == nil {
		return nil
	}
	const corners = 72
	plane, e := geodesy.NewPlane(p.Place.LatLon()), p.Ellipse95
	sin, cos := geodesy.Degrees(e.TrueDeg).SinCos()
	var ring []geodesy.LatLon
	for i := range corners {
		s, c := geodesy.Degrees(360 * float64(i) / corners).SinCos()
		along, across := e.SemiMajorM*c, e.SemiMinorM*s
		ring = append(ring, plane.Inverse(along*sin+across*cos, along*cos-across*sin))
	}
	return ring
}

// knownParts are a line's pieces between the gaps where it was paused.
func knownParts(points []geodesy.LatLon, gaps []int) [][]geodesy.LatLon {
	var out [][]geodesy.LatLon
	from := 0
	for _, gap := range append(gaps[:len(gaps):len(gaps)], len(points)) {
		if gap-from > 1 {
			out = append(out, points[from:gap])
		}
		from = gap
	}
	return out
}

// frameRound is a frame of four posts round some places, and half a kilometre more.
func frameRound(places []geodesy.LatLon) dem.Frame {
	const more = 500.0 // m
	plane := geodesy.NewPlane(places[0])
	west, south, east, north := -more, -more, more, more
	for _, at := range places {
		x, y := plane.Forward(at)
		west, south, east, north = math.Min(west, x-more), math.Min(south, y-more), math.Max(east, x+more), math.Max(north, y+more)
	}
	low, high := plane.Inverse(west, south), plane.Inverse(east, north)
	return dem.Frame{Columns: 2, Rows: 2, X0: float64(low.Lon), Y0: float64(high.Lat), DX: math.Mod(float64(high.Lon-low.Lon)+360, 360), DY: float64(low.Lat - high.Lat), CRS: geodesy.WGS84}
}
