package cli

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"strings"

	"crowline/contour"
	paper "crowline/contour/page"
	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/gdalio"
	"crowline/dem/geodesy"
)

// drawing reports whether the lines go on paper rather than into a layer.
func (o *contoursOptions) drawing() bool { return strings.EqualFold(filepath.Ext(o.file), ".svg") }

// wholeGrid reports whether the lines cannot be made from rows as they come.
func (o *contoursOptions) wholeGrid() bool {
	return o.drawing() || o.lines.half || o.lines.smooth > 0
}

// fromGrid traces an area held in memory.
func (o *contoursOptions) fromGrid(ctx context.Context, g *ground, w dem.Window, u units, a *contoursAnswer) (contour.Choice, error) {
	grid, err := g.source.Read(ctx, w)
	if err != nil {
		return contour.Choice{}, err
	}
	levels, choice, err := o.lines.choose(ctx, g, grid, o.leg, u)
	if err != nil {
		return choice, err
	}
	lines, err := o.lines.trace(ctx, grid, levels, o.streams.progress("tracing"))
	if err != nil {
		return choice, err
	}
	if o.drawing() {
		a.Coordinates = fmt.Sprintf("on paper at 1:%.0f, true north up", o.lines.scale)
		kept := lines[:0]
		for i := range lines {
			if a.count(&lines[i]) {
				kept = append(kept, lines[i])
			}
		}
		if err := a.checkLines(); err != nil {
			return choice, err
		}
		for i := range kept {
			if kept[i].OnFilled(grid) {
				*a.Filled++
			}
		}
		return choice, drawContours(ctx, o.file, grid, kept, o.lines.scale, o.reading)
	}
	return choice, o.write(ctx, &grid.Frame, levels.Unit, grid, a, func(add func(contour.Line) error) error {
		for _, l := range lines {
			if err := add(l); err != nil {
				return err
			}
		}
		return nil
	})
}

// stream traces rows as they are read and writes lines as they are complete.
func (o *contoursOptions) stream(ctx context.Context, g *ground, w dem.Window, u units, a *contoursAnswer) (contour.Choice, error) {
	q := o.lines.question(g.verticalError, u)
	frame := g.source.Layout().Sub(w)
	given := q.Interval > 0
	steepness := contour.Steepness{Cells: 1}
	if !given { // what a given one is worth is said in the end
		var err error
		if steepness, err = contour.SampleSteepness(ctx, g.source, w); err != nil {
			return contour.Choice{}, err
		}
	}
	choice, err := g.chooseMap(ctx, q, o.leg, steepness)
	if err != nil {
		return choice, err
	}
	levels := o.lines.levels(choice)
	sampler := contour.NewSteepnessSampler(&frame)
	var marks dem.Marks
	if filled := g.filled(); filled != nil {
		marks = shiftedMarks{filled, w.Column, w.Row}
	}
	err = o.write(ctx, &frame, levels.Unit, marks, a, func(add func(contour.Line) error) error {
		tracer, err := contour.NewTracer(frame.Columns, frame.Rows, levels, contour.Options{Progress: o.streams.progress("tracing")}, add)
		if err != nil {
			return err
		}
		row := 0
		err = dem.Rows(ctx, g.source, w, func(posts []float32) error {
			if given {
				if err := sampler.Add(row, posts); err != nil {
					return err
				}
			}
			row += len(posts) / frame.Columns
			return tracer.Add(ctx, posts)
		})
		if given { // while the last strips are traced
			steepness = sampler.Steepness()
		}
		if finish := tracer.Finish(ctx); err == nil {
			err = finish
		}
		return err
	})
	if err == nil && given {
		choice, err = g.chooseMap(ctx, q, o.leg, steepness)
	}
	return choice, err
}

// write makes the file from lines as they come, with a field that says
// whether they run over filled ground when that was asked for.
func (o *contoursOptions) write(ctx context.Context, frame *dem.Frame, unit contour.Unit, marks dem.Marks, a *contoursAnswer, produce func(add func(contour.Line) error) error) error {
	driver, err := gdalio.VectorDriver(o.file)
	if err != nil {
		return &flagError{err}
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
	if o.native {
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
	return gdalio.WriteLines(ctx, o.file, driver, layer, func(add func(gdalio.LineString) error) error {
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
		return a.checkLines()
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

func (a *contoursAnswer) checkLines() error {
	if a.Lines == 0 {
		return fmt.Errorf("%w: the ground only touches its levels", contour.ErrNothing)
	}
	return nil
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

// drawContours draws the lines to scale round the area's middle, true north
// up.
func drawContours(ctx context.Context, path string, grid *dem.Grid, lines []contour.Line, scale float64, reading sheet.Reading) error {
	centre, err := grid.Place(float64(grid.Columns-1)/2, float64(grid.Rows-1)/2)
	if err != nil {
		return err
	}
	placement, err := dem.NewPlacement(&grid.Frame, geodesy.NewPlane(centre), grid.Whole())
	if err != nil {
		return err
	}
	mm := 1000 / scale
	west, north, east, south := math.Inf(1), math.Inf(-1), math.Inf(-1), math.Inf(1)
	for _, c := range [][2]float64{{0, 0}, {1, 0}, {0, 1}, {1, 1}, {0.5, 0}, {0.5, 1}} {
		e, n := placement.At(c[0]*float64(grid.Columns-1), c[1]*float64(grid.Rows-1))
		west, east, south, north = min(west, e), max(east, e), min(south, n), max(north, n)
	}
	if width := (east - west) * mm; width > 5000 {
		return fmt.Errorf("the drawing would be %.1f m wide at 1:%.0f; take a smaller scale or area", width/1000, scale)
	}
	p := &paper.Page{Width: (east - west) * mm, Height: (north - south) * mm}
	style := sheet.DefaultStyle()
	var onPage []sheet.PageContour
	var filled []bool // over filled ground
	add := func(l *contour.Line, pieces [][]contour.Position, over bool) {
		for _, piece := range pieces {
			points := make([]paper.Point, len(piece))
			for k, q := range piece {
				e, n := placement.At(q.Column, q.Row)
				points[k] = paper.Point{X: (e - west) * mm, Y: (north - n) * mm}
			}
			onPage = append(onPage, sheet.PageContour{Line: l, Points: points, Mirrored: (grid.DX > 0) == (grid.DY > 0)})
			filled = append(filled, over)
		}
	}
	for i := range lines {
		if grid.Filled == nil {
			add(&lines[i], [][]contour.Position{lines[i].Points}, false)
			continue
		}
		measured, over := lines[i].Parts(grid)
		add(&lines[i], measured, false)
		add(&lines[i], over, true)
	}
	numbered := sheet.NumberContours(onPage, paper.Rect{Width: p.Width, Height: p.Height}, style, reading)
	pens := map[contour.Kind]paper.Pen{contour.Intermediate: style.Intermediate, contour.Index: style.Index, contour.Supplementary: style.Supplementary}
	for _, kind := range []contour.Kind{contour.Intermediate, contour.Supplementary, contour.Index} {
		for _, over := range []bool{false, true} {
			stroke := paper.Stroke{Width: pens[kind].Width, Color: pens[kind].Color, Dash: pens[kind].Dash}
			id, title := "contours-"+kind.String(), kind.String()+" contours"
			if over {
				stroke.Dash = []float64{0.6, 0.6}
				id, title = id+"-filled", title+" over ground "+filledWords
			}
			for i, l := range onPage {
				if l.Line.Kind == kind && filled[i] == over {
					stroke.Lines = append(stroke.Lines, numbered.Drawn[i]...)
				}
			}
			if over && len(stroke.Lines) == 0 {
				continue
			}
			p.Open(id, title)
			p.Add(stroke)
			p.Close()
		}
	}
	if len(numbered.Ticks) > 0 {
		p.Open("contours-ticks", "ticks toward the low ground of depressions")
		p.Add(style.DepressionTicks(numbered.Ticks))
		p.Close()
	}
	if len(numbered.Numbers) > 0 {
		p.Open("contour-numbers", "contour elevations")
		for _, t := range numbered.Numbers {
			p.Add(t)
		}
		p.Close()
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	_, err = (&paper.Document{Title: "Contours", Pages: []*paper.Page{p}}).Save(path, 0)
	return err
}
