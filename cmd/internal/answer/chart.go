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
)

// Chart is the ground as a map on a screen shows it: one plane, and levels of it
// at fixed resolutions, each drawn in tiles.
type Chart struct {
	*sheet.Chart
	// West, South, East and North are the box round the data on the plane, metres.
	West, South, East, North float64
	// Outline is the data's edge on the plane, x and y in turn, closed.
	Outline []float64
	// Levels, finest first.
	Levels []ChartLevel

	ground *Ground
}

// ChartLevel is the map at one resolution.
type ChartLevel struct {
	// Level is its number: each is twice as coarse as the one before.
	Level int
	// MetresPerPixel on the plane, and the denominator of the scale at which a
	// sheet of paper looks the same.
	MetresPerPixel, Scale float64
	// GridInterval is the spacing of grid lines, metres; 0 where there is no grid.
	GridInterval float64
	// Choice of the contour interval, told.
	Choice contour.Choice
	// IndexEvery is which lines are index lines: every nth.
	IndexEvery int
}

// A tile is as many pixels wide, and stands for as many millimetres of paper: a
// pixel is a quarter of a millimetre, which is about what screens have (common
// practice).
const (
	TilePixels      = 512
	tileMillimetres = TilePixels / pixelsPerMM
	pixelsPerMM     = 4
	// finestPixel is metres of ground to a pixel of level 0, and chartLevels how
	// many levels there can be: to 1:5 120 000.
	finestPixel = 0.15625
	chartLevels = 14
	// tileRim is posts traced beyond a tile, so that a hollow across its edge is
	// known for one.
	tileRim = 32
)

// Chart is the map of all the ground, whose lines are in this unit.
func (g *Ground) Chart(ctx context.Context, unit contour.Unit) (*Chart, error) {
	layout := g.source.Layout()
	middle, err := layout.Place(float64(layout.Columns-1)/2, float64(layout.Rows-1)/2)
	if err != nil {
		return nil, err
	}
	c := &Chart{ground: g}
	if c.Chart, err = sheet.NewChart(middle); err != nil {
		return nil, err
	}
	if err := c.outline(layout); err != nil {
		return nil, err
	}
	steepness, err := g.steepness(ctx)
	if err != nil {
		return nil, err
	}
	alongRow, alongColumn, err := layout.Spacing(float64(layout.Columns-1)/2, float64(layout.Rows-1)/2)
	if err != nil {
		return nil, err
	}
	finest, across := math.Min(alongRow, alongColumn)/policy.PixelsPerPost, math.Max(c.East-c.West, c.North-c.South)
	for n := range chartLevels {
		l := ChartLevel{Level: n, MetresPerPixel: math.Ldexp(finestPixel, n), IndexEvery: DefaultLines().IndexEvery}
		l.Scale = l.MetresPerPixel * pixelsPerMM * 1000
		if l.MetresPerPixel < finest && n < chartLevels-1 {
			continue
		}
		if c.Zone != 0 {
			l.GridInterval = sheet.GridInterval(l.Scale)
		}
		if l.Choice, err = g.choose(Interval{Unit: unit}, l.Scale); err != nil {
			return nil, err
		}
		l.Choice = l.Choice.Drawn(steepness)
		c.Levels = append(c.Levels, l)
		if across <= TilePixels*l.MetresPerPixel {
			break // all of it in one tile's width
		}
	}
	return c, nil
}

// steepness of all the ground, as far as it is known.
func (g *Ground) steepness(ctx context.Context) (contour.Steepness, error) {
	layout := g.source.Layout()
	sampler, row := contour.NewSteepnessSampler(layout), 0
	err := dem.Rows(ctx, g.source, layout.Whole(), func(posts []float32) error {
		err := sampler.Add(row, posts)
		row += len(posts) / layout.Columns
		return err
	})
	return sampler.Steepness(), err
}

// outline lays the data's edge on the plane.
func (c *Chart) outline(layout *dem.Frame) error {
	const pieces = 64 // to a side: edges bow by little between
	w, h := float64(layout.Columns-1), float64(layout.Rows-1)
	corners := [][2]float64{{0, 0}, {w, 0}, {w, h}, {0, h}, {0, 0}}
	c.West, c.South, c.East, c.North = math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for i := range 4 {
		for k := range pieces {
			t := float64(k) / pieces
			at, err := layout.Place(corners[i][0]+t*(corners[i+1][0]-corners[i][0]), corners[i][1]+t*(corners[i+1][1]-corners[i][1]))
			if err != nil {
				return err
			}
			x, y, err := c.XY(at)
			if err != nil {
				return fmt.Errorf("the data reaches farther than one map can show: %w", err)
			}
			c.Outline = append(c.Outline, x, y)
			c.West, c.East, c.South, c.North = math.Min(c.West, x), math.Max(c.East, x), math.Min(c.South, y), math.Max(c.North, y)
		}
	}
	c.Outline = append(c.Outline, c.Outline[0], c.Outline[1])
	return nil
}

// Origin is the north west corner of tile (0, 0) of every level: the box's,
// taken outwards to whole kilometres.
func (c *Chart) Origin() (x, y float64) {
	return math.Floor(c.West/1000) * 1000, math.Ceil(c.North/1000) * 1000
}

// Pointed is the place at a point of the plane, as someone who points at a map
// gives it: to policy.PointedDecimals, so that it can be written and given again.
func (c *Chart) Pointed(x, y float64) (Place, error) {
	at, err := c.Place(x, y)
	if err != nil {
		return Place{}, err
	}
	at, err = geodesy.NewLatLon(geodesy.Degrees(Rounded(float64(at.Lat), policy.PointedDecimals)), geodesy.Degrees(Rounded(float64(at.Lon), policy.PointedDecimals)))
	return PlaceAt(at), err
}

// level by its number.
func (c *Chart) level(number int) (ChartLevel, error) {
	for _, l := range c.Levels {
		if l.Level == number {
			return l, nil
		}
	}
	return ChartLevel{}, wrongf("level %d: the map has levels %d to %d", number, c.Levels[0].Level, c.Levels[len(c.Levels)-1].Level)
}

// ErrNoGround says that a tile has no data on it.
var ErrNoGround = errors.New("no data there")

// tile is a tile of a level, if it meets the data.
func (c *Chart) tile(l ChartLevel, column, row int) (sheet.Tile, error) {
	side := l.MetresPerPixel * TilePixels
	x0, y0 := c.Origin()
	t := sheet.Tile{Chart: c.Chart, X: x0 + float64(column)*side, Y: y0 - float64(row)*side, Side: side, Paper: tileMillimetres}
	if t.X >= c.East || t.X+side <= c.West || t.Y <= c.South || t.Y-side >= c.North {
		return t, ErrNoGround
	}
	return t, nil
}

// TileRequest asks for a tile of the map.
type TileRequest struct {
	Level, Column, Row int
	// Relief is the strength of relief shading, 0 for none to 1.
	Relief float64
	// Contours draws the lines.
	Contours bool
	// Ratio is how many pixels of a picture there are to one of the map.
	Ratio int
}

// Check refuses what makes no sense.
func (r TileRequest) Check() error {
	switch {
	case !(r.Relief >= 0 && r.Relief <= 1):
		return wrongf("a relief of %g: give one from 0 to 1", r.Relief)
	case r.Ratio < 1 || r.Ratio > 3:
		return wrongf("a ratio of %d: give one from 1 to 3", r.Ratio)
	}
	return nil
}

// DPI is the resolution the tile is drawn at, dots per inch.
func (r TileRequest) DPI() float64 { return 25.4 * pixelsPerMM * float64(r.Ratio) }

// Tile draws a tile as a sheet of its scale shows the ground. The error is
// ErrNoGround where the tile has no data on it.
func (c *Chart) Tile(ctx context.Context, r TileRequest) (*page.Document, error) {
	l, err := c.level(r.Level)
	if err != nil {
		return nil, err
	}
	t, err := c.tile(l, r.Column, r.Row)
	if err != nil {
		return nil, err
	}
	g := c.ground
	grid, err := g.under(ctx, t, l.Scale)
	if err != nil {
		return nil, err
	}
	plan := sheet.Plan{Ground: grid, Relief: r.Relief, Filled: g.filled() != nil}
	if r.Contours {
		lines := Lines{IndexEvery: l.IndexEvery, Scale: l.Scale}
		levels := lines.levels(l.Choice)
		traced, err := lines.trace(ctx, grid, levels, "tracing contours")
		if err != nil && !errors.Is(err, contour.ErrNothing) {
			return nil, err
		}
		plan.Contours = sheet.Contours{Frame: &grid.Frame, Lines: traced, Levels: levels}
	}
	return sheet.ComposeTile(ctx, plan, t)
}

// under reads the posts of a tile and some more; of those nearer together than
// can be drawn only some, the same for all tiles of a scale.
func (g *Ground) under(ctx context.Context, t sheet.Tile, scale float64) (*dem.Grid, error) {
	extent, err := t.Extent()
	if err != nil {
		return nil, err
	}
	layout := g.source.Layout()
	w, err := dem.WindowOver(layout, extent)
	if errors.Is(err, dem.ErrOutside) {
		return nil, ErrNoGround
	}
	if err != nil {
		return nil, err
	}
	alongRow, alongColumn, err := layout.Spacing(float64(w.Column)+float64(w.Columns-1)/2, float64(w.Row)+float64(w.Rows-1)/2)
	if err != nil {
		return nil, err
	}
	n := max(1, int(policy.DrawnPost*scale/math.Max(alongRow, alongColumn)))
	w = layout.Grow(w, tileRim*n)
	if n == 1 {
		return g.source.Read(ctx, w)
	}
	east, south := w.Column+w.Columns, w.Row+w.Rows
	w.Column, w.Row = w.Column/n*n, w.Row/n*n
	w.Columns, w.Rows = east-w.Column, south-w.Row
	return dem.ReadEvery(ctx, g.source, w, n)
}

// TileNodes is how many elevations to a side Elevations gives: every fourth pixel
// of a tile, and both its edges.
const TileNodes = TilePixels/4 + 1

// Elevations are those of the ground at the nodes of a tile, row by row from the
// north west corner; NaN where there are none. The error is ErrNoGround where the
// tile has no data on it.
func (c *Chart) Elevations(ctx context.Context, level, column, row int) ([]float32, error) {
	l, err := c.level(level)
	if err != nil {
		return nil, err
	}
	t, err := c.tile(l, column, row)
	if err != nil {
		return nil, err
	}
	g := c.ground
	extent, err := t.Extent()
	if err != nil {
		return nil, err
	}
	layout := g.source.Layout()
	if _, err := dem.WindowOver(layout, extent); err != nil {
		return nil, ErrNoGround
	}
	x, y := make([]float64, 0, TileNodes*TileNodes), make([]float64, 0, TileNodes*TileNodes)
	step := t.Side / (TileNodes - 1)
	for j := range TileNodes {
		for i := range TileNodes {
			x, y = append(x, t.X+float64(i)*step), append(y, t.Y-float64(j)*step)
		}
	}
	if err := c.Unproject(x, y); err != nil {
		return nil, err
	}
	if err := layout.LocateAll(x, y); err != nil {
		return nil, err
	}
	posts := g.posts(ctx)
	out := make([]float32, len(x))
	for i := range x {
		out[i] = float32(nan)
		if layout.Contains(x[i], y[i]) {
			out[i] = float32(dem.Bilinear(posts, x[i], y[i]))
		}
	}
	return out, posts.Err()
}

// Interval of the level's lines, in its own unit.
func (l ChartLevel) Interval() string { return describeInterval(l.Choice.Levels()) }
