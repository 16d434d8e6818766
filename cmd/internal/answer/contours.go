package answer

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"strings"

	"crowline/contour"
	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
	"crowline/dem/units"
)

// Area is the ground a question is about: round a place, along a leg, within a
// box, or, where it is the zero value, all the data.
type Area struct {
	// Around is the middle, From and To are the ends of a leg; nil for none.
	Around, From, To *Place
	// Radius round Around or to the sides of the leg, metres.
	Radius float64
	// Extent is a box of latitude and longitude; nil for none.
	Extent *dem.Extent
}

// Check refuses what makes no sense.
func (a Area) Check() error {
	given := 0
	for _, set := range []bool{a.Around != nil, a.Extent != nil, a.From != nil || a.To != nil} {
		if set {
			given++
		}
	}
	switch {
	case given > 1:
		return wrongf("several areas: give one, round a place, along a leg, or within a box")
	case (a.From == nil) != (a.To == nil):
		return wrongf("a leg has two ends: give both")
	case !(a.Radius >= 0 && a.Radius <= mostRadius):
		return wrongf("a radius of %g m: give one up to 1000 km", a.Radius)
	}
	return nil
}

// leg are places on the leg, nil without one.
func (a Area) leg() []geodesy.LatLon {
	if a.From == nil {
		return nil
	}
	return geodesy.Waypoints(a.From.LatLon, a.To.LatLon, 16)
}

func (a Area) reach() Reach {
	switch {
	case a.Around != nil:
		return Reach{Places: []geodesy.LatLon{a.Around.LatLon}, Margin: a.Radius}
	case a.Extent != nil:
		middle, radius := circleRound(*a.Extent)
		return Reach{Places: []geodesy.LatLon{middle}, Margin: radius}
	case a.From != nil:
		return Reach{Places: a.leg(), Margin: a.Radius}
	}
	return Reach{}
}

// window is the block of posts in the area.
func (a Area) window(layout *dem.Frame) (dem.Window, error) {
	switch {
	case a.Around != nil:
		return dem.WindowAround(layout, []geodesy.LatLon{a.Around.LatLon}, a.Radius)
	case a.Extent != nil:
		return dem.WindowOver(layout, *a.Extent)
	case a.From != nil:
		return dem.WindowAround(layout, a.leg(), a.Radius)
	}
	return layout.Whole(), nil
}

// circleRound is a box's middle and a distance that holds all of it.
func circleRound(e dem.Extent) (geodesy.LatLon, float64) {
	width := float64(e.East - e.West)
	if width < 0 {
		width += 360
	}
	middle := geodesy.LatLon{Lat: (e.South + e.North) / 2, Lon: geodesy.Degrees(math.Mod(float64(e.West)+width/2+540, 360) - 180)}
	radius := 0.0
	for _, corner := range []geodesy.LatLon{{Lat: e.South, Lon: e.West}, {Lat: e.South, Lon: e.East}, {Lat: e.North, Lon: e.West}, {Lat: e.North, Lon: e.East}} {
		radius = max(radius, geodesy.Inverse(middle, corner).Distance)
	}
	return middle, radius
}

// ContoursRequest asks for the contour lines of an area, in a file for other
// programs or, where it ends in .svg, as a map.
type ContoursRequest struct {
	Area  Area
	Lines Lines
	// File is the file to write; its ending says the format.
	File string
	// DataCRS writes coordinates in the data's own reference system.
	DataCRS bool
	// Reading, Needle and Units are those of a map.
	Reading sheet.Reading
	Needle
	Units units.System
}

// Check refuses what makes no sense.
func (r ContoursRequest) Check() error {
	if r.drawing() {
		switch {
		case r.DataCRS:
			return wrongf("a map is drawn on paper and has no reference system")
		case !(r.Lines.Scale >= sheet.LeastScale):
			return wrongf("scale 1:%g: give 1:%d or smaller", r.Lines.Scale, sheet.LeastScale)
		}
	} else if _, err := gdalio.VectorDriver(r.File); err != nil {
		return wrongf("%w; or .svg for a drawing", err)
	}
	if err := r.Area.Check(); err != nil {
		return err
	}
	if err := r.Needle.Check(); err != nil {
		return err
	}
	return r.Lines.Check()
}

// drawing reports whether the lines go on paper rather than into a layer.
func (r ContoursRequest) drawing() bool { return strings.EqualFold(filepath.Ext(r.File), ".svg") }

// wholeGrid reports whether the lines cannot be made from rows as they come.
func (r ContoursRequest) wholeGrid() bool { return r.Lines.Half || r.Lines.Smooth > 0 }

// Reach is the area's ground.
func (r ContoursRequest) Reach() Reach { return r.Area.reach() }

// ContoursAnswer is the contour lines of an area.
type ContoursAnswer struct {
	// The contour interval in metres.
	IntervalM float64 `json:"interval_m" round:"4"`
	// The same in its own unit.
	Interval string `json:"interval"`
	// Why that interval.
	Reason string `json:"reason"`
	// The map scale it is for, as its denominator.
	Scale float64 `json:"scale"`
	// Nobody gave the scale: the commonest for walking is assumed.
	ScaleAssumed bool `json:"scale_assumed,omitempty"`
	// What speaks against it.
	Warning string `json:"warning,omitempty"`
	// How many lines there are.
	Lines int `json:"lines"`
	// Of these, lines that close.
	Closed int `json:"closed"`
	// Of these, index lines.
	Index int `json:"index"`
	// Of these, supplementary lines.
	Supplementary int `json:"supplementary"`
	// Of these, lines round depressions.
	Depressions int `json:"depressions"`
	// Edges between two posts that only touch a level: no lines.
	Touches int `json:"touches"`
	// Lines that run over ground filled in; left out where none is.
	Filled *int `json:"on_filled_ground,omitempty"`
	// The lowest level with a line.
	LowestM float64 `json:"lowest_level_m" round:"3"`
	// The highest level with a line.
	HighestM float64 `json:"highest_level_m" round:"3"`
	// The file written.
	Written string `json:"written"`
	// What its coordinates are.
	Coordinates string `json:"coordinates"`
	// The data the lines rest on.
	ElevationData ElevationData `json:"elevation_data"`
	// What always holds.
	Cautions []string `json:"cautions"`

	unit    contour.Unit
	drawing bool
}

var _ = register[ContoursAnswer]("contours")

// Unit is the unit the levels are counted in.
func (a *ContoursAnswer) Unit() contour.Unit { return a.unit }

// Drawn reports whether the lines were drawn on paper.
func (a *ContoursAnswer) Drawn() bool { return a.drawing }

// count takes a line into the figures; false is a touch, which is left out.
func (a *ContoursAnswer) count(l *contour.Line) bool {
	if l.Touch {
		a.Touches++
		return false
	}
	if a.Lines == 0 {
		a.LowestM, a.HighestM = l.Level, l.Level
	}
	a.Lines++
	a.LowestM, a.HighestM = min(a.LowestM, l.Level), max(a.HighestM, l.Level)
	if l.Closed {
		a.Closed++
	}
	if l.Depression {
		a.Depressions++
	}
	switch l.Kind {
	case contour.Index:
		a.Index++
	case contour.Supplementary:
		a.Supplementary++
	}
	return true
}

func (a *ContoursAnswer) check() error {
	if a.Lines == 0 {
		return fmt.Errorf("%w: the ground only touches its levels", contour.ErrNothing)
	}
	return nil
}

// Contours answers a ContoursRequest: it traces the lines as it writes them, so
// that files of any size are read a band of rows at a time.
func Contours(ctx context.Context, g *Ground, r ContoursRequest) (*ContoursAnswer, error) {
	w, err := r.Area.window(g.source.Layout())
	if err != nil {
		return nil, err
	}
	a := &ContoursAnswer{Written: r.File, Cautions: cautions, drawing: r.drawing(), Scale: r.Lines.Scale, ScaleAssumed: r.Lines.ScaleAssumed}
	if g.filled() != nil {
		a.Filled = new(int)
	}
	var choice contour.Choice
	switch {
	case r.drawing():
		choice, err = r.draw(ctx, g, w, a)
	case r.wholeGrid():
		choice, err = r.fromGrid(ctx, g, w, a)
	default:
		choice, err = r.stream(ctx, g, w, a)
	}
	if err != nil {
		return nil, err
	}
	spacing, err := gridSpacing(&dem.Grid{Frame: g.source.Layout().Sub(w)})
	if err != nil {
		return nil, err
	}
	a.IntervalM, a.Interval, a.unit = choice.Interval*choice.Unit.Metres(), describeInterval(choice.Levels()), choice.Unit
	a.Reason, a.Warning, a.ElevationData = choice.Reason, choice.Warning, g.describe(spacing, 0)
	return a, nil
}

// draw makes a map of the area, on paper as large as its scale takes.
func (r ContoursRequest) draw(ctx context.Context, g *Ground, w dem.Window, a *ContoursAnswer) (contour.Choice, error) {
	frame := g.source.Layout().Sub(w)
	plan := g.mapOf()
	plan.Title, plan.Scale, plan.Units, plan.ContourReading, plan.Date = r.title(), r.Lines.Scale, r.Units, r.Reading, r.Day
	up := "grid"
	if frame.CRS.Geographic { // the way its rows run
		plan.North, up = sheet.TrueNorth, "true"
	}
	a.Coordinates = fmt.Sprintf("on paper at 1:%.0f, %s north up", r.Lines.Scale, up)
	if p := r.Area.Around; p != nil {
		plan.Points = []sheet.Place{{Name: p.Label(), At: p.LatLon, Elevation: nan}}
	}
	plan, err := plan.FitPaper(&frame)
	if err != nil {
		return contour.Choice{}, err
	}
	plan.Declination = magneticNorth(*plan.Centre, nan, r.Needle)
	grid, levels, choice, lines, err := r.held(ctx, g, w)
	if err != nil {
		return choice, err
	}
	for i := range lines {
		if l := &lines[i]; a.count(l) && a.Filled != nil && l.OnFilled(grid) {
			*a.Filled++
		}
	}
	if err := a.check(); err != nil {
		return choice, err
	}
	plan.Ground, plan.Contours = grid, sheet.Contours{Frame: &grid.Frame, Lines: lines, Levels: levels}
	document, err := sheet.Compose(ctx, plan)
	if err != nil {
		return choice, err
	}
	_, err = document.Save(r.File, 0)
	return choice, err
}

// held reads an area and traces it in memory.
func (r ContoursRequest) held(ctx context.Context, g *Ground, w dem.Window) (*dem.Grid, contour.Levels, contour.Choice, []contour.Line, error) {
	grid, err := g.bounded(heldContoursPostBytes).Read(ctx, w)
	if err != nil {
		return nil, contour.Levels{}, contour.Choice{}, nil, err
	}
	levels, choice, err := r.Lines.choose(g, grid)
	if err != nil {
		return nil, levels, choice, nil, err
	}
	lines, err := r.Lines.trace(ctx, grid, levels, "tracing")
	return grid, levels, choice, lines, err
}

// title of a map.
func (r ContoursRequest) title() string {
	switch {
	case r.Area.Around != nil:
		return titled(*r.Area.Around)
	case r.Area.From != nil:
		return titled(*r.Area.From) + " to " + titled(*r.Area.To)
	}
	return "Contours"
}

// fromGrid traces an area held in memory.
func (r ContoursRequest) fromGrid(ctx context.Context, g *Ground, w dem.Window, a *ContoursAnswer) (contour.Choice, error) {
	grid, levels, choice, lines, err := r.held(ctx, g, w)
	if err != nil {
		return choice, err
	}
	return choice, r.write(ctx, &grid.Frame, levels.Unit, grid, a, func(add func(contour.Line) error) error {
		for _, l := range lines {
			if err := add(l); err != nil {
				return err
			}
		}
		return nil
	})
}

// stream traces rows as they are read and writes lines as they are complete.
func (r ContoursRequest) stream(ctx context.Context, g *Ground, w dem.Window, a *ContoursAnswer) (contour.Choice, error) {
	source := g.bounded(heldContoursPostBytes)
	frame := source.Layout().Sub(w)
	choice, err := g.choose(r.Lines.Interval, r.Lines.Scale)
	if err != nil {
		return choice, err
	}
	levels := r.Lines.levels(choice)
	var steepness contour.Steepness
	sampler := contour.NewSteepnessSampler(&frame)
	var marks dem.Marks
	if filled := g.filled(); filled != nil {
		marks = shiftedMarks{filled, w.Column, w.Row}
	}
	err = r.write(ctx, &frame, levels.Unit, marks, a, func(add func(contour.Line) error) error {
		tracer, err := contour.NewTracer(frame.Columns, frame.Rows, levels, contour.Options{Progress: progress(ctx, "tracing")}, add)
		if err != nil {
			return err
		}
		row := 0
		err = dem.Rows(ctx, source, w, func(posts []float32) error {
			if err := sampler.Add(row, posts); err != nil {
				return err
			}
			row += len(posts) / frame.Columns
			if err := g.traceable(posts, frame.Columns, choice.Interval*levels.Unit.Metres(), policy.StreamedPointBytes); err != nil {
				return err
			}
			return tracer.Add(ctx, posts)
		})
		steepness = sampler.Steepness() // while the last strips are traced
		if finish := tracer.Finish(ctx); err == nil {
			err = finish
		}
		return err
	})
	return choice.Drawn(steepness), err
}

// write makes the file from lines as they come, with a field that says
// whether they run over filled ground when that was asked for.
func (r ContoursRequest) write(ctx context.Context, frame *dem.Frame, unit contour.Unit, marks dem.Marks, a *ContoursAnswer, produce func(add func(contour.Line) error) error) error {
	driver, err := gdalio.VectorDriver(r.File)
	if err != nil {
		return wrongf("%w", err)
	}
	layer := gdalio.LineLayer{Name: "contours", Given: frame.CRS, CRS: geodesy.WGS84, KindField: 2, Fields: []gdalio.Field{
		{Name: "elevation", Type: gdalio.Real}, {Name: "unit", Type: gdalio.Text}, {Name: "kind", Type: gdalio.Text},
		{Name: "closed", Type: gdalio.Integer}, {Name: "depression", Type: gdalio.Integer},
	}}
	if a.Filled != nil {
		layer.Fields = append(layer.Fields, gdalio.Field{Name: "filled", Type: gdalio.Integer})
	}
	layer.Pens = contourPens()
	layer.ThirdCoordinate = driver == gdalio.DXF || driver == gdalio.GPX || driver == gdalio.KML
	named := driver == gdalio.GPX || driver == gdalio.KML // receivers and viewers show a name, and little else
	if named {
		layer.Fields = append(layer.Fields, gdalio.Field{Name: "name", Type: gdalio.Text})
	}
	if r.DataCRS {
		layer.CRS = frame.CRS
	} else if driver == gdalio.DXF {
		if layer.CRS, err = drawingCRS(frame); err != nil {
			return err
		}
	}
	a.Coordinates = layer.CRS.Name
	if layer.CRS.Code != "" {
		a.Coordinates += " (" + layer.CRS.Code + ")"
	}
	whole := map[bool]int{true: 1}
	return gdalio.WriteLines(ctx, r.File, driver, layer, func(add func(gdalio.LineString) error) error {
		var x, y []float64
		err := produce(func(l contour.Line) error {
			if !a.count(&l) {
				return nil
			}
			x, y = l.AppendXY(frame, x[:0], y[:0])
			kind, name := l.Kind.String(), l.Label()+" "+unit.String()
			filled := a.Filled != nil && l.OnFilled(marks)
			if filled {
				*a.Filled++
				name += ", filled"
				if driver == gdalio.DXF { // it has layers and no fields
					kind += "-filled"
				}
			}
			values := []any{l.Value, unit.String(), kind, whole[l.Closed], whole[l.Depression]}
			if a.Filled != nil {
				values = append(values, whole[filled])
			}
			if named {
				values = append(values, name)
			}
			return add(gdalio.LineString{X: x, Y: y, Elevation: l.Level, Values: values})
		})
		if err != nil {
			return err
		}
		return a.check()
	})
}

// contourPens draw contours in a viewer as on a sheet: index lines heavy, all
// in a brown that shows on imagery.
func contourPens() map[string]gdalio.Pen {
	const brown = "#C87828"
	return map[string]gdalio.Pen{
		contour.Intermediate.String(): {Pixels: 1, Color: brown}, contour.Index.String(): {Pixels: 3, Color: brown},
		contour.Supplementary.String(): {Pixels: 1, Color: "#E6B478"},
	}
}

// shiftedMarks are a source's marks by the columns and rows of a window.
type shiftedMarks struct {
	dem.Marks
	column, row int
}

// IsFilled of a post of the window.
func (m shiftedMarks) IsFilled(column, row int) bool {
	return m.Marks.IsFilled(m.column+column, m.row+row)
}

// drawingCRS is a system in metres or feet for programs that draw: the
// data's, or the UTM zone its middle lies in.
func drawingCRS(frame *dem.Frame) (*geodesy.CRS, error) {
	if !frame.CRS.Geographic {
		return frame.CRS, nil
	}
	middle, err := frame.Place(float64(frame.Columns-1)/2, float64(frame.Rows-1)/2)
	if err != nil {
		return nil, err
	}
	if _, err := geodesy.ToUTM(middle); err != nil {
		return nil, fmt.Errorf("a .dxf needs metres: %w; give data in a projected system", err)
	}
	code := 32600 + geodesy.UTMZone(middle) // EPSG's numbers of WGS 84's UTM zones
	if middle.Lat < 0 {
		code += 100
	}
	return geodesy.NewCRS(fmt.Sprintf("EPSG:%d", code))
}
