package landform

import (
	"context"
	"fmt"

	"crowline/dem"
)

// Drainage is the way that water runs from every post of a grid, from post to
// post. In a hollow it goes on over the lowest rim, as the valleys of Features
// do (Barnes et al. 2014; O'Callaghan and Mark 1984).
type Drainage struct {
	grid *dem.Grid
	of   *drainage
}

// Drain finds it. Errors: a grid whose posts cannot be placed; a cancelled
// context.
func Drain(ctx context.Context, g *dem.Grid) (*Drainage, error) {
	m, err := newMetric(&g.Frame)
	if err != nil {
		return nil, err
	}
	d, err := drain(ctx, g, m, false)
	if err != nil {
		return nil, err
	}
	return &Drainage{g, d}, nil
}

// Downstream is the way that water runs from a post to the edge of the grid or
// to a void, post by post, the first being the post itself. A post that is void
// or off the grid is an error.
func (d *Drainage) Downstream(column, row int) ([]Position, error) {
	g := d.grid
	if column < 0 || row < 0 || column >= g.Columns || row >= g.Rows || isVoid(g.Elevations[row*g.Columns+column]) {
		return nil, fmt.Errorf("landform: no water runs from column %d, row %d: there is no elevation", column, row)
	}
	var out []Position
	for p := int32(row*g.Columns + column); p >= 0; p = d.of.receiver[p] {
		out = append(out, Position{float64(int(p) % g.Columns), float64(int(p) / g.Columns)})
	}
	return out, nil
}
