package dem

import (
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"crowline/dem/geodesy"
)

// Cover is what stands on the bare ground: trees, buildings. Safe for
// concurrent use if its data is.
type Cover interface {
	// AboveGround is how far what stands at each place reaches above the
	// ground, metres: 0 where nothing stands, NaN where that is not known.
	AboveGround(places []geodesy.LatLon) ([]float64, error)
}

// Clearing is ground without cover: where an observer stands in the open, or
// a mark does.
type Clearing struct {
	Centre geodesy.LatLon
	// Radius, metres. Whatever it is, the posts of the ground's cell that
	// holds Centre are clear: nobody stands inside a trunk.
	Radius float64
}

// CoverWarning says what is wrong with laying cover on data that shows
// treetops and roofs already; "" when nothing is.
func CoverWarning(ground Info) string {
	switch ground.Surface {
	case SurfaceModel:
		return ground.Name + " shows treetops and roofs already: what is laid on it is counted twice; take bare-earth data"
	case SurfaceUnknown:
		return ground.Name + " does not say whether it shows treetops and roofs or bare earth: what is laid on it may be counted twice"
	}
	return ""
}

// Covered is ground with what stands on it, as sight lines meet it: at each
// post the ground's elevation and the cover's height, and straight edges
// between posts as ever. An observer's and a mark's own ground is bare in
// the clearings. Where the cover is not known the elevation is not either
// (NaN), and verdicts that depend on it come out unknown.
//
// Cover is looked up at posts only: a row of trees narrower than the spacing
// may stand between two posts and not be met. Heights of targets over covered
// ground count from its top. Elevations are rounded to float32, as a Grid's.
//
// Elevation cannot return an error, so the first is kept for Err. From one
// goroutine at a time, or, when ground and cover are safe for concurrent
// use, from many as long as no error is met.
type Covered struct {
	ground    Posts
	cover     Cover
	layer     *CoverLayer // in place of cover, where it has been laid
	clearings []clearing
	err       error
}

var _ Posts = (*Covered)(nil)

// clearing is one on a frame.
type clearing struct {
	Clearing
	column, row int    // of the cell
	window      Window // of the posts within the radius
}

func newClearings(f *Frame, list []Clearing) ([]clearing, error) {
	var out []clearing
	for _, k := range list {
		if !(k.Radius >= 0) || math.IsInf(k.Radius, 1) {
			return nil, fmt.Errorf("a clearing of radius %v m is not possible", k.Radius)
		}
		column, row, err := f.Locate(k.Centre)
		if err != nil {
			return nil, err
		}
		c := clearing{Clearing: k, column: int(math.Floor(column)), row: int(math.Floor(row))}
		if k.Radius > 0 {
			c.window, err = WindowAround(f, []geodesy.LatLon{k.Centre}, k.Radius)
			if err != nil && !errors.Is(err, ErrOutside) {
				return nil, err
			}
		}
		out = append(out, c)
	}
	return out, nil
}

// holds reports whether a post is in the clearing; place is the post's.
func (k *clearing) holds(column, row int, place func() (geodesy.LatLon, error)) (bool, error) {
	if dc, dr := column-k.column, row-k.row; (dc == 0 || dc == 1) && (dr == 0 || dr == 1) {
		return true, nil
	}
	w := k.window
	if column < w.Column || column >= w.Column+w.Columns || row < w.Row || row >= w.Row+w.Rows {
		return false, nil
	}
	p, err := place()
	return err == nil && geodesy.Inverse(k.Centre, p).Distance <= k.Radius, err
}

// NewCovered lays cover on ground.
func NewCovered(ground Posts, cover Cover, clearings ...Clearing) (*Covered, error) {
	list, err := newClearings(ground.Layout(), clearings)
	if err != nil {
		return nil, err
	}
	return &Covered{ground: ground, cover: cover, clearings: list}, nil
}

// Layout is the ground's.
func (c *Covered) Layout() *Frame { return c.ground.Layout() }

// Err is the first error met, in the ground's posts too, or nil.
func (c *Covered) Err() error {
	if c.err != nil {
		return c.err
	}
	return c.ground.Err()
}

// IsFilled reports whether the ground's post was void and has been filled.
func (c *Covered) IsFilled(column, row int) bool { return c.ground.IsFilled(column, row) }

// Under is the ground that the cover was laid on.
func (c *Covered) Under() Posts { return c.ground }

// Elevation of a post in metres, with what stands on it.
func (c *Covered) Elevation(column, row int) float64 {
	h := c.ground.Elevation(column, row)
	if h != h || c.err != nil {
		return math.NaN()
	}
	place := func() (geodesy.LatLon, error) { return c.ground.Layout().Place(float64(column), float64(row)) }
	for i := range c.clearings {
		clear, err := c.clearings[i].holds(column, row, place)
		if err != nil {
			c.err = err
			return math.NaN()
		}
		if clear {
			return h
		}
	}
	if c.layer != nil {
		return topped(h, c.layer.AboveGround(column, row))
	}
	p, err := place()
	if err == nil {
		var above []float64
		if above, err = c.cover.AboveGround([]geodesy.LatLon{p}); err == nil {
			return topped(h, above[0])
		}
	}
	c.err = err
	return math.NaN()
}

// topped is the elevation of the top of what stands on ground, as a Grid
// keeps it: the same however the cover was laid.
func topped(ground, above float64) float64 {
	return float64(float32(ground + math.Max(0, float64(float32(above)))))
}

// leastStanding is the least that counts as standing on the ground, metres:
// elevations are rounded to half of it.
const leastStanding = 1e-3

// Standing is how much of an elevation is what stands on the bare ground,
// metres: 0 where nothing does, or there is no ground to stand on; NaN where
// there is ground and the elevation is not known.
func Standing(elevation, bare float64) float64 {
	if bare != bare || elevation-bare < leastStanding {
		return 0
	}
	return elevation - bare
}

// CoverOptions tells RasterCover how to take a raster.
type CoverOptions struct {
	// VoidIsNothing: a void, or a place outside the raster, has nothing
	// standing on it. Default: it is not known.
	VoidIsNothing bool
}

// RasterCover is cover from a raster of heights above ground, in metres: each
// place has the value of the cell it lies in, and one on the edge of two, to
// a millionth of a cell, that of the later column or row. Nothing is
// interpolated: there is no slope from a wall's top to its foot.
func RasterCover(posts Posts, opts CoverOptions) Cover { return rasterCover{posts, opts} }

type rasterCover struct {
	posts Posts
	opts  CoverOptions
}

// cellEdge is how near before the edge of a cell, in cells, a place counts as
// beyond it: a ground whose posts lie on the edges of a finer raster's cells
// is common, and rounding must not choose.
const cellEdge = 1e-6

// cell is the column or row of the cell that one lies in, and how far into
// it, from 0 to 1. A cell reaches half a spacing beyond its post.
func cell(index float64) (whole, into float64) {
	index += 0.5 + cellEdge
	whole = math.Floor(index)
	return whole, index - whole
}

// at is the height of a cell.
func (r rasterCover) at(column, row float64) float64 {
	above := math.NaN()
	if f := r.posts.Layout(); !outside(column, f.Columns) && !outside(row, f.Rows) {
		above = r.posts.Elevation(int(column), int(row))
	}
	if r.opts.VoidIsNothing && above != above {
		return 0
	}
	return above
}

func (r rasterCover) AboveGround(places []geodesy.LatLon) ([]float64, error) {
	f := r.posts.Layout()
	above := make([]float64, len(places))
	xs, ys := make([]float64, len(places)), make([]float64, len(places))
	for i, p := range places {
		xs[i], ys[i] = float64(p.Lon), float64(p.Lat)
	}
	together := f.CRS.FromWGS84(xs, ys) == nil // else some place has no coordinates there
	for i, p := range places {
		column, row := math.NaN(), math.NaN()
		if together {
			column, row = f.index(xs[i], ys[i])
		} else if c, r, err := f.Locate(p); err == nil {
			column, row = c, r
		}
		column, _ = cell(column)
		row, _ = cell(row)
		above[i] = r.at(column, row)
	}
	return above, r.posts.Err()
}

// CoverPolygon is an area, longitude then latitude on WGS 84, on which
// something stands.
type CoverPolygon struct {
	Area orb.MultiPolygon
	// AboveGround is its height, metres.
	AboveGround float64
}

// PolygonCover is cover from polygons; where they overlap the highest
// counts, and outside all of them nothing stands. Polygons across the
// antimeridian are not possible: cut them there.
func PolygonCover(polygons []CoverPolygon) (Cover, error) {
	c := &polygonCover{polygons: polygons, cells: map[[2]int][]int{}}
	for i, p := range polygons {
		if !(p.AboveGround >= 0) || math.IsInf(p.AboveGround, 1) {
			return nil, fmt.Errorf("polygon %d stands %v m above the ground, which is not possible", i+1, p.AboveGround)
		}
		b := p.Area.Bound()
		for _, v := range []float64{b.Min[0], b.Min[1], b.Max[0], b.Max[1]} {
			if math.IsNaN(v) || math.Abs(v) > 360 {
				return nil, fmt.Errorf("polygon %d is not on Earth", i+1)
			}
		}
		c.bounds = append(c.bounds, b)
		if b.Max[0]-b.Min[0] > largeCover || b.Max[1]-b.Min[1] > largeCover {
			c.large = append(c.large, i)
			continue
		}
		for x := int(math.Floor(b.Min[0] / coverCell)); x <= int(math.Floor(b.Max[0]/coverCell)); x++ {
			for y := int(math.Floor(b.Min[1] / coverCell)); y <= int(math.Floor(b.Max[1]/coverCell)); y++ {
				c.cells[[2]int{x, y}] = append(c.cells[[2]int{x, y}], i)
			}
		}
	}
	return c, nil
}

// Polygons are looked up by squares of coverCell degrees, about a kilometre;
// those wider than largeCover are tried every time.
const (
	coverCell  = 0.01
	largeCover = 0.5
)

type polygonCover struct {
	polygons []CoverPolygon
	bounds   []orb.Bound
	cells    map[[2]int][]int
	large    []int
}

func (c *polygonCover) AboveGround(places []geodesy.LatLon) ([]float64, error) {
	above := make([]float64, len(places))
	var square [2]int // of the place before: the next is mostly in it too
	var near []int
	for k, p := range places {
		at := orb.Point{float64(p.Lon), float64(p.Lat)}
		if s := [2]int{int(math.Floor(at[0] / coverCell)), int(math.Floor(at[1] / coverCell))}; k == 0 || s != square {
			square, near = s, c.cells[s]
		}
		for _, list := range [2][]int{near, c.large} {
			for _, i := range list {
				if c.polygons[i].AboveGround > above[k] && c.bounds[i].Contains(at) && planar.MultiPolygonContains(c.polygons[i].Area, at) {
					above[k] = c.polygons[i].AboveGround
				}
			}
		}
	}
	return above, nil
}
