package answer

import (
	"context"
	"errors"
	"fmt"
	"math"

	"crowline/contour"
	"crowline/contour/sheet"
	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/profile/magnetic"
)

// Lines are the contour lines asked for of a map.
type Lines struct {
	Interval Interval
	// IndexEvery is which lines are index lines: every nth.
	IndexEvery int
	// Half adds lines at half the interval where the ground is flat.
	Half bool
	// Smooth rounds the lines, at most this share of the interval off the
	// ground.
	Smooth float64
	// Scale of the map, as its denominator; ScaleAssumed where nobody gave it.
	Scale        float64
	ScaleAssumed bool
}

// DefaultLines are those of a map nothing is asked of.
func DefaultLines() Lines { return Lines{IndexEvery: 5, Scale: policy.MapScale} }

// Check refuses lines that no map has.
func (l Lines) Check() error {
	switch {
	case l.IndexEvery < 1 || l.IndexEvery > 100:
		return wrongf("every %dth line an index line: give 1 to 100", l.IndexEvery)
	case !(l.Smooth >= 0 && l.Smooth <= 0.49):
		return wrongf("lines rounded by %g of the interval: give 0 to 0.49", l.Smooth)
	case !(l.Scale >= 100 && l.Scale <= 10e6):
		return wrongf("scale 1:%g: give one from 1:100 to 1:10 000 000", l.Scale)
	}
	return l.Interval.Check()
}

// levels of a choice, drawn as asked.
func (l Lines) levels(choice contour.Choice) contour.Levels {
	levels := choice.Levels()
	levels.IndexEvery, levels.Half = l.IndexEvery, l.Half
	return levels
}

// choose is the interval of a grid drawn at the scale, with a warning where its
// lines merge there.
func (l Lines) choose(g *Ground, grid *dem.Grid) (contour.Levels, contour.Choice, error) {
	choice, err := g.choose(l.Interval, l.Scale)
	if err != nil {
		return contour.Levels{}, choice, err
	}
	steepness, err := contour.MeasureSteepness(grid)
	return l.levels(choice), choice.Drawn(steepness), err
}

// trace draws the lines as asked.
func (l Lines) trace(ctx context.Context, grid *dem.Grid, levels contour.Levels, label string) ([]contour.Line, error) {
	lines, err := contour.Trace(ctx, grid, levels, contour.Options{Progress: progress(ctx, label)})
	if err != nil {
		return nil, err
	}
	if levels.Half {
		if lines, err = contour.KeepFlat(grid, lines, contour.FlatOptions{Levels: levels, Scale: l.Scale}); err != nil {
			return nil, err
		}
	}
	if l.Smooth > 0 {
		return contour.Smooth(grid, lines, contour.SmoothOptions{Levels: levels, Share: l.Smooth})
	}
	return lines, nil
}

// describeInterval writes an interval as answers have it.
func describeInterval(levels contour.Levels) string {
	return fmt.Sprintf("%g %s", levels.Interval, levels.Unit)
}

// mapOf is a map of the ground, before it is known what it shows.
func (g *Ground) mapOf() sheet.Plan {
	return sheet.Plan{Data: g.info(), Cautions: cautions, Filled: g.filled() != nil}
}

// magneticNorth is the declination at a place as a map has it, nil where the
// model has no answer.
func magneticNorth(at geodesy.LatLon, elevation float64, n Needle) *sheet.Declination {
	if math.IsNaN(elevation) {
		elevation = 0 // a kilometre moves it by a hundredth of a degree
	}
	field, err := n.at(at, elevation)
	if err != nil {
		return nil
	}
	return drawnDeclination(field, n)
}

// drawnDeclination is the declination of a field as it is printed.
func drawnDeclination(f magnetic.Field, n Needle) *sheet.Declination {
	return &sheet.Declination{East: geodesy.Degrees(f.Declination), Sigma: f.DeclinationSigma, Annual: f.AnnualChange,
		Model: magnetic.WMM2025.Name(), Date: n.Day, Given: f.Given}
}

// framed reads the posts that pages show, two more on every side, and of those
// nearer together than some metres only some.
func (g *Ground) framed(ctx context.Context, frames []sheet.Frame, apart float64, perPost int64) (*dem.Grid, error) {
	layout := g.source.Layout()
	var all dem.Window
	for _, f := range frames {
		w, err := dem.WindowOver(layout, f.Extent)
		if errors.Is(err, dem.ErrOutside) {
			continue // a page with no data on it is drawn so
		}
		if err != nil {
			return nil, err
		}
		if all.Empty() {
			all = w
		}
		all = all.Union(w)
	}
	if all.Empty() {
		return nil, fmt.Errorf("the page at %s is %w", frames[0].Centre, dem.ErrOutside)
	}
	alongRow, alongColumn, err := layout.Spacing(float64(all.Column)+float64(all.Columns-1)/2, float64(all.Row)+float64(all.Rows-1)/2)
	if err != nil {
		return nil, err
	}
	if every := int(apart / math.Max(alongRow, alongColumn)); every > 1 {
		return dem.ReadEvery(ctx, g.bounded(perPost), layout.Grow(all, 2*every), every)
	}
	return g.bounded(perPost).Read(ctx, layout.Grow(all, 2))
}

// LinesTooLargeError says that contour lines would take more memory than a question
// may.
type LinesTooLargeError struct {
	// Points the lines would have, the Bytes a page of them takes, and the Limit.
	Points, Bytes, Limit int64
}

// Error says the sizes.
func (e *LinesTooLargeError) Error() string {
	return fmt.Sprintf("contour lines so close have %.0f million points here and would take %.1f GB of memory, over the limit of %.1f GB",
		float64(e.Points)/1e6, float64(e.Bytes)/1e9, float64(e.Limit)/1e9)
}

// traceable refuses rows of posts whose lines, an interval in metres apart, would
// take more memory than the question may, at so many bytes a point, by the points
// along every eighth row, before any is traced: lines grow faster than memory can be
// looked at. Lines that are written as they are traced are asked about a band of
// rows at a time.
func (g *Ground) traceable(posts []float32, columns int, interval float64, perPoint int64) error {
	const every = 8
	if g.maxBytes <= 0 || !(interval > 0) {
		return nil
	}
	rise := 0.0
	for from := 0; from+columns <= len(posts); from += every * columns {
		row := posts[from : from+columns]
		for c := 1; c < len(row); c++ {
			if d := float64(row[c] - row[c-1]); d == d { // not beside a void
				rise += math.Abs(d)
			}
		}
	}
	points := int64(math.Min(2*every*rise/interval, 1e15)) // across rows as along them
	if bytes := points * perPoint; bytes > max(g.maxBytes, policy.LineBytesLeast) {
		return &LinesTooLargeError{points, bytes, g.maxBytes}
	}
	return nil
}

// contoured gives a map its ground and the contour lines on it.
func (g *Ground) contoured(ctx context.Context, plan *sheet.Plan, l Lines, apart float64, perPost int64) (contour.Choice, error) {
	frames, err := plan.Frames()
	if err != nil {
		return contour.Choice{}, err
	}
	grid, err := g.framed(ctx, frames, apart, perPost)
	if err != nil {
		return contour.Choice{}, err
	}
	levels, choice, err := l.choose(g, grid)
	if err != nil {
		return choice, err
	}
	if err := g.traceable(grid.Elevations, grid.Columns, levels.Interval*levels.Unit.Metres(), policy.LinePointBytes); err != nil {
		return choice, err
	}
	lines, err := l.trace(ctx, grid, levels, "tracing contours")
	if err != nil && !errors.Is(err, contour.ErrNothing) { // a plain's map has no line, and says so
		return choice, err
	}
	plan.Ground, plan.Contours = grid, sheet.Contours{Frame: &grid.Frame, Lines: lines, Levels: levels}
	return choice, nil
}
