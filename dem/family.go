package dem

import (
	"context"
	"fmt"
	"math"
	"slices"

	"crowline/dem/geodesy"
)

// latticeTolerance is how far off the lattice, in cells, a tile's posts may
// stand and still be taken as on it: a hundredth of a metre at 10 m, far
// over the rounding of a spacing written with twelve digits, far under the
// half cell that tells posts from areas.
const latticeTolerance = 1e-3

// family is tiles whose posts fall on one lattice, joined without
// resampling. It implements Source.
type family struct {
	mosaic *Mosaic
	// frame is the lattice, as far as the tiles reach.
	frame Frame
	tiles []placedTile
	// spacing is the posts' in metres, the geometric mean of both
	// directions, at the place the question is about.
	spacing       float64
	along, across float64 // metres along a row and along a column there
	order         int     // of the first tile
}

// placedTile is a tile on its family's lattice.
type placedTile struct {
	tile *Tile
	// window is its posts on the lattice, once the family's frame is settled.
	window             Window
	column, row        float64 // of its first post, from the first tile's
	flipColumn, flipUp bool    // its columns, or rows, run against the lattice
}

var _ Source = (*family)(nil)

// newFamilies sorts tiles into families, finest first and then as given. A
// tile of longitudes is put at the turn, or turns, that meet the box.
func newFamilies(m *Mosaic, tiles []Tile, places []geodesy.LatLon, box lonLatBox) ([]*family, error) {
	tiles = slices.Clone(tiles)
	slices.SortStableFunc(tiles, func(a, b Tile) int { return a.Order - b.Order })
	var families []*family
	for i := range tiles {
		t := &tiles[i]
		for _, frame := range turns(&t.Frame, box) {
			placed := false
			for _, f := range families {
				if p, ok := f.place(t, &frame); ok {
					f.tiles = append(f.tiles, p)
					placed = true
					break
				}
			}
			if !placed {
				f := &family{mosaic: m, frame: frame, order: t.Order}
				f.tiles = []placedTile{{tile: t}}
				families = append(families, f)
			}
		}
	}
	for _, f := range families {
		if err := f.settle(places); err != nil {
			return nil, err
		}
	}
	// Spacings within a part in ten thousand are equally fine: the first
	// given counts.
	class := func(f *family) int { return int(math.Round(math.Log(f.spacing) * 1e4)) }
	slices.SortStableFunc(families, func(a, b *family) int {
		if c := class(a) - class(b); c != 0 {
			return c
		}
		return a.order - b.order
	})
	return families, nil
}

// turns is the frame with its longitudes moved by the whole turns that make
// it meet the box; none when it does not.
func turns(f *Frame, box lonLatBox) []Frame {
	if !f.CRS.Geographic {
		return []Frame{*f}
	}
	first, last := f.X0, f.X0+float64(f.Columns-1)*f.DX
	// A datum's longitudes differ from WGS 84's by less than a minute; a cell
	// more, so that tiles that only abut the box still join across the gap.
	spare := math.Abs(f.DX) + 1.0/60
	west, east := min(first, last)-spare, max(first, last)+spare
	var all []Frame
	for k := -2.0; k <= 2; k++ {
		if west+360*k <= box.east && east+360*k >= box.west {
			moved := *f
			moved.X0 += 360 * k
			all = append(all, moved)
		}
	}
	return all
}

func sameCRS(a, b *geodesy.CRS) bool {
	return a == b || a.Definition() == b.Definition() || (a.Code != "" && a.Code == b.Code)
}

// place puts a tile on the family's lattice, if its posts fall there.
func (f *family) place(t *Tile, frame *Frame) (placedTile, bool) {
	l := &f.frame
	if !sameCRS(l.CRS, frame.CRS) {
		return placedTile{}, false
	}
	p := placedTile{
		tile: t, column: (frame.X0 - l.X0) / l.DX, row: (frame.Y0 - l.Y0) / l.DY,
		flipColumn: frame.DX*l.DX < 0, flipUp: frame.DY*l.DY < 0,
	}
	fits := func(first, step float64, n int) bool {
		// the first and the last post
		return math.Abs(first-math.Round(first)) <= latticeTolerance &&
			math.Abs(math.Abs(step)-1)*float64(n) <= latticeTolerance
	}
	if !fits(p.column, frame.DX/l.DX, frame.Columns) || !fits(p.row, frame.DY/l.DY, frame.Rows) {
		return placedTile{}, false
	}
	p.column, p.row = math.Round(p.column), math.Round(p.row)
	return p, true
}

// settle moves the lattice's origin to the least column and row and finds
// its spacing near the first place.
func (f *family) settle(places []geodesy.LatLon) error {
	leastColumn, leastRow := math.Inf(1), math.Inf(1)
	mostColumn, mostRow := math.Inf(-1), math.Inf(-1)
	corner := func(p *placedTile) (column, row float64) {
		column, row = p.column, p.row
		if p.flipColumn {
			column -= float64(p.tile.Frame.Columns - 1)
		}
		if p.flipUp {
			row -= float64(p.tile.Frame.Rows - 1)
		}
		return column, row
	}
	for i := range f.tiles {
		p := &f.tiles[i]
		c, r := corner(p)
		leastColumn, leastRow = min(leastColumn, c), min(leastRow, r)
		mostColumn, mostRow = max(mostColumn, c+float64(p.tile.Frame.Columns)), max(mostRow, r+float64(p.tile.Frame.Rows))
	}
	for i := range f.tiles {
		p := &f.tiles[i]
		c, r := corner(p)
		p.window = Window{
			Column: int(c - leastColumn), Row: int(r - leastRow),
			Columns: p.tile.Frame.Columns, Rows: p.tile.Frame.Rows,
		}
	}
	const most = math.MaxInt32 * 64.0
	if !(mostColumn-leastColumn < most && mostRow-leastRow < most) {
		return fmt.Errorf("%s and %s lie too far apart for their spacing to be joined", f.tiles[0].tile.Name, f.tiles[len(f.tiles)-1].tile.Name)
	}
	f.frame.X0 += leastColumn * f.frame.DX
	f.frame.Y0 += leastRow * f.frame.DY
	f.frame.Columns, f.frame.Rows = int(mostColumn-leastColumn), int(mostRow-leastRow)

	column, row := float64(f.frame.Columns-1)/2, float64(f.frame.Rows-1)/2
	if c, r, err := f.frame.Locate(places[0]); err == nil {
		column, row = math.Max(0, math.Min(c, float64(f.frame.Columns-1))), math.Max(0, math.Min(r, float64(f.frame.Rows-1)))
	}
	along, across, err := f.frame.Spacing(column, row)
	if err == nil && !(along > 0 && across > 0) { // at a pole
		along, across, err = f.frame.Spacing(float64(f.frame.Columns-1)/2, float64(f.frame.Rows-1)/2)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", f.tiles[0].tile.Name, err)
	}
	f.along, f.across, f.spacing = along, across, math.Sqrt(along*across)
	return nil
}

// has reports whether a tile has the post, whatever it holds.
func (f *family) has(column, row int) bool {
	for i := range f.tiles {
		w := &f.tiles[i].window
		if column >= w.Column && column < w.Column+w.Columns && row >= w.Row && row < w.Row+w.Rows {
			return true
		}
	}
	return false
}

// covers reports whether every post that bears on a column and row is some
// tile's.
func (f *family) covers(column, row float64) bool {
	c, r := int(math.Floor(column)), int(math.Floor(row))
	wholeC, wholeR := column == math.Floor(column), row == math.Floor(row)
	return f.has(c, r) && (wholeC || f.has(c+1, r)) && (wholeR || f.has(c, r+1)) && (wholeC || wholeR || f.has(c+1, r+1))
}

// holds reports whether the tiles hold ground at a place.
func (f *family) holds(p geodesy.LatLon) bool {
	c, r, err := f.frame.Locate(p)
	return err == nil && f.frame.Contains(c, r) && f.covers(c, r)
}

// nearest is the point of the tiles nearest a column and row, in metres.
func (f *family) nearest(column, row float64) (nearColumn, nearRow float64) {
	best := math.Inf(1)
	for i := range f.tiles {
		w := &f.tiles[i].window
		c := math.Max(float64(w.Column), math.Min(column, float64(w.Column+w.Columns-1)))
		r := math.Max(float64(w.Row), math.Min(row, float64(w.Row+w.Rows-1)))
		if d := math.Hypot((c-column)*f.along, (r-row)*f.across); d < best {
			best, nearColumn, nearRow = d, c, r
		}
	}
	return nearColumn, nearRow
}

// Info is the first tile's.
func (f *family) Info() Info { return f.tiles[0].tile.Info }

// Layout is the lattice.
func (f *family) Layout() *Frame { return &f.frame }

// Close does nothing: the files are the mosaic's.
func (f *family) Close() error { return nil }

// Read returns a window of the lattice, NaN where no tile has an elevation.
// Of tiles that share a post the first given with an elevation counts.
func (f *family) Read(ctx context.Context, w Window) (*Grid, error) {
	g := &Grid{Frame: f.frame.Sub(w), Window: w, Source: f.Info(), Elevations: make([]float32, w.Columns*w.Rows)}
	fillNaN(g.Elevations)
	for i := range f.tiles {
		p := &f.tiles[i]
		part := w.Intersect(p.window)
		if part.Empty() || !anyVoid(g, part, w) {
			continue
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		// the same posts by the tile's own columns and rows
		own := Window{Column: part.Column - p.window.Column, Row: part.Row - p.window.Row, Columns: part.Columns, Rows: part.Rows}
		if p.flipColumn {
			own.Column = p.window.Columns - own.Column - own.Columns
		}
		if p.flipUp {
			own.Row = p.window.Rows - own.Row - own.Rows
		}
		read, err := f.mosaic.read(ctx, p.tile, own)
		if err != nil {
			return nil, err
		}
		for r := range part.Rows {
			from := r
			if p.flipUp {
				from = part.Rows - 1 - r
			}
			to := g.Elevations[(part.Row-w.Row+r)*w.Columns+part.Column-w.Column:][:part.Columns]
			line := read.Elevations[from*part.Columns:][:part.Columns]
			for c := range to {
				if to[c] == to[c] {
					continue
				}
				if p.flipColumn {
					to[c] = line[part.Columns-1-c]
				} else {
					to[c] = line[c]
				}
			}
		}
	}
	return g, nil
}

func fillNaN(values []float32) {
	void := float32(math.NaN())
	for i := range values {
		values[i] = void
	}
}

// anyVoid reports whether a part of the grid's window w has a void.
func anyVoid(g *Grid, part, w Window) bool {
	for r := range part.Rows {
		for _, v := range g.Elevations[(part.Row-w.Row+r)*w.Columns+part.Column-w.Column:][:part.Columns] {
			if v != v {
				return true
			}
		}
	}
	return false
}
