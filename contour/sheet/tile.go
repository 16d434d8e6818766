package sheet

import (
	"context"
	"fmt"
	"math"

	"crowline/contour/page"
	"crowline/dem"
	"crowline/dem/geodesy"
)

// Chart is the plane that tiles of one map are drawn in: the UTM grid of a zone
// as it is, one metre of the grid to the metre, so that grid lines are straight
// and stand at whole metres; or, beyond the grid's latitudes, the azimuthal
// equidistant plane of a place.
//
// Positions are metres, x east and y north: easting and northing, or east and
// north of the centre. On the grid lengths are the zone's point scale times those
// on the ground: 0.9996 to 1.001 in the zone.
type Chart struct {
	// Zone is 0 on an equidistant plane.
	Zone  int
	South bool

	grid  *geodesy.CRS
	plane geodesy.Plane
}

// NewChart is the chart of ground with its middle at a place.
func NewChart(middle geodesy.LatLon) (*Chart, error) {
	if middle.Lat < -80 || middle.Lat > 84 {
		return &Chart{plane: geodesy.NewPlane(middle)}, nil
	}
	c := &Chart{Zone: geodesy.UTMZone(middle), South: middle.Lat < 0}
	var err error
	c.grid, err = utmGrid(c.Zone, c.South)
	return c, err
}

// Name is how the plane is called.
func (c *Chart) Name() string {
	if c.Zone == 0 {
		return fmt.Sprintf("azimuthal equidistant round %v", c.plane.Centre)
	}
	return c.grid.Name
}

// XY are a place's x and y. A place too far off for the grid to show is an
// error.
func (c *Chart) XY(p geodesy.LatLon) (x, y float64, err error) {
	if c.Zone == 0 {
		x, y = c.plane.Forward(p)
		return x, y, nil
	}
	return c.grid.Coordinates(p)
}

// Project replaces longitude x[i] and latitude y[i] by x and y.
func (c *Chart) Project(x, y []float64) error {
	if c.Zone == 0 {
		c.plane.ForwardAll(x, y)
		return nil
	}
	return c.grid.FromWGS84(x, y)
}

// Unproject replaces x[i] and y[i] by longitude and latitude.
func (c *Chart) Unproject(x, y []float64) error {
	if c.Zone == 0 {
		for i := range x {
			p := c.plane.Inverse(x[i], y[i])
			x[i], y[i] = float64(p.Lon), float64(p.Lat)
		}
		return nil
	}
	return c.grid.ToWGS84(x, y)
}

// Place is the place at x and y.
func (c *Chart) Place(x, y float64) (geodesy.LatLon, error) {
	if c.Zone == 0 {
		return c.plane.Inverse(x, y), nil
	}
	return c.grid.Place(x, y)
}

// Tile is a square piece of a map that goes on beyond it on every side.
type Tile struct {
	Chart *Chart
	// X and Y are its north west corner on the chart, Side how long its sides
	// are there, metres, and Paper how long on paper, millimetres.
	X, Y, Side, Paper float64
}

// TilePattern is the length on paper, millimetres, of which a tile's side is to
// be a whole number, so that hatching goes on from one tile to the next.
const TilePattern = voidGap

// layout of the tile, with nothing but the map on it.
func (t Tile) layout() (*layout, error) {
	p := &projection{mm: t.Paper / t.Side, zone: t.Chart.Zone, south: t.Chart.South, utm: t.Chart.grid, pointScale: 1, e0: t.X + t.Side/2, n0: t.Y - t.Side/2}
	if t.Chart.Zone == 0 {
		p.north, p.plane = TrueNorth, t.Chart.plane
		p.shift = page.At(p.e0*p.mm, -p.n0*p.mm)
	}
	var err error
	p.centre, err = p.inverse(page.Point{})
	return &layout{proj: p, frame: page.Box(0, 0, t.Paper, t.Paper)}, err
}

// Extent is the smallest box of latitude and longitude round the tile: the ground
// to read and trace contours on, and more of it, so that numbers and hollows near
// its edges are told as they are.
func (t Tile) Extent() (dem.Extent, error) {
	l, err := t.layout()
	if err != nil {
		return dem.Extent{}, err
	}
	return l.extent()
}

// ComposeTile draws a plan's ground and contour lines in a tile, without frame,
// grid, margin or names: relief, ground with no elevation hatched, filled ground
// dotted, contour lines and their numbers. What the tiles of one chart at one
// scale show meets at their edges. Of the plan it needs Ground,
// Contours, ContourReading, Relief and Style.
func ComposeTile(ctx context.Context, plan Plan, t Tile) (*page.Document, error) {
	if n := t.Paper / TilePattern; !(t.Side > 0 && n >= 1 && math.Abs(n-math.Round(n)) < 1e-6) {
		return nil, fmt.Errorf("%w: a tile %g mm wide", ErrPlan, t.Paper)
	}
	plan.Scale = t.Side / t.Paper * 1000
	plan, err := plan.filled()
	if err != nil {
		return nil, err
	}
	l, err := t.layout()
	if err != nil {
		return nil, err
	}
	pg := &page.Page{Width: t.Paper, Height: t.Paper}
	m := &mapPanel{plan: &plan, page: pg, proj: l.proj, frame: l.frame}
	begin := page.At(-t.X*l.proj.mm, t.Y*l.proj.mm)
	m.tileFrom = &begin
	if err := m.drawGround(ctx); err != nil {
		return nil, err
	}
	lines, err := m.contourLines(ctx)
	if err != nil {
		return nil, err
	}
	m.drawContours(lines)
	return &page.Document{Pages: []*page.Page{pg}}, nil
}

// GridInterval is the spacing of the grid lines of a map at a scale, grid metres.
func GridInterval(scale float64) float64 { return gridInterval(scale) }
