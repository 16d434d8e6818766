package landform

import (
	"context"
	"fmt"

	"crowline/dem"
)

// Downstream is the way that water runs from a post to the edge of the grid or
// to a void, post by post, the first being the post itself. Where the ground
// has a hollow the way goes on over its lowest rim, as the valleys of Features
// do (drainage). The whole grid is drained to find it: give one that is no
// larger than needed.
//
// Errors: a post that is void or off the grid; a cancelled context.
func Downstream(ctx context.Context, g *dem.Grid, column, row int) ([]Position, error) {
	if column < 0 || row < 0 || column >= g.Columns || row >= g.Rows || isVoid(g.Elevations[row*g.Columns+column]) {
		return nil, fmt.Errorf("landform: no water runs from column %d, row %d: there is no elevation", column, row)
	}
	m, err := newMetric(&g.Frame)
	if err != nil {
		return nil, err
	}
	d, err := drain(ctx, g, m, false)
	if err != nil {
		return nil, err
	}
	var out []Position
	for p := int32(row*g.Columns + column); p >= 0; p = d.receiver[p] {
		out = append(out, Position{float64(int(p) % g.Columns), float64(int(p) / g.Columns)})
	}
	return out, nil
}
