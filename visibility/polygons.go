package visibility

import (
	"context"
	"fmt"

	"github.com/paulmach/orb"

	"crowline/dem"
)

// Polygons outlines the posts of a viewed window that have a verdict: each
// post counts for its cell, half a spacing to every side, and cells that
// share an edge are joined. Coordinates are longitude and latitude on WGS 84;
// outer rings run counter-clockwise and holes clockwise (RFC 7946) where the
// frame's rows run south, as they nearly always do. Two pieces that touch
// only at a corner stay two. Cost O(posts), 4 bytes a post.
func (v *Viewed) Polygons(ctx context.Context, verdict Verdict) (orb.MultiPolygon, error) {
	return outlines(ctx, &v.Frame, func(i int) bool { return v.Verdicts[i] == verdict })
}

// Outlines is Polygons for any choice of a frame's posts, by index row by
// row.
func Outlines(ctx context.Context, f *dem.Frame, in func(post int) bool) (orb.MultiPolygon, error) {
	return outlines(ctx, f, in)
}

func outlines(ctx context.Context, f *dem.Frame, in func(int) bool) (orb.MultiPolygon, error) {
	component, count := components(f.Columns, f.Rows, in)
	t := outlineTracer{columns: f.Columns, rows: f.Rows, component: component, seen: make([]bool, len(component))}
	polygons := make([]orb.Polygon, count)
	flip := (f.DX > 0) == (f.DY > 0) // rows run north: mirrored on the ground
	for r := range f.Rows {
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("outlining posts: %w", err)
		}
		for c := range f.Columns {
			id := t.at(c, r)
			if id == 0 || t.at(c, r-1) == id || t.seen[r*f.Columns+c] {
				continue
			}
			// the first top edge met of a component, row by row, is on its
			// outer ring; the rest of its unseen top edges are on holes
			corners := t.ring(c, r)
			ring, err := toRing(f, corners, flip)
			if err != nil {
				return nil, err
			}
			polygons[id-1] = append(polygons[id-1], ring)
		}
	}
	return polygons, nil
}

// components labels posts joined along rows and columns, from 1; 0 is out.
func components(columns, rows int, in func(int) bool) (label []int32, count int) {
	label = make([]int32, columns*rows)
	var stack []int
	for start := range label {
		if label[start] != 0 || !in(start) {
			continue
		}
		count++
		label[start] = int32(count)
		stack = append(stack[:0], start)
		for len(stack) > 0 {
			i := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			visit := func(j int) {
				if label[j] == 0 && in(j) {
					label[j] = int32(count)
					stack = append(stack, j)
				}
			}
			if c := i % columns; c > 0 {
				visit(i - 1)
			}
			if c := i % columns; c < columns-1 {
				visit(i + 1)
			}
			if i >= columns {
				visit(i - columns)
			}
			if i+columns < len(label) {
				visit(i + columns)
			}
		}
	}
	return label, count
}

type outlineTracer struct {
	columns, rows int
	component     []int32
	seen          []bool // the post's top edge has been walked
}

func (t *outlineTracer) at(c, r int) int32 {
	if c < 0 || r < 0 || c >= t.columns || r >= t.rows {
		return 0
	}
	return t.component[r*t.columns+c]
}

// ring walks the boundary that holds the top edge of cell (c, r), with the
// inside on the right hand as rows run down the page, and returns its
// corners; corner (c, r) is the upper left of cell (c, r).
func (t *outlineTracer) ring(c, r int) [][2]int {
	id := t.at(c, r)
	steps := [4][2]int{{1, 0}, {0, 1}, {-1, 0}, {0, -1}} // right, down, left, up
	// the cells right and left of a step that starts at corner (x, y)
	right := [4][2]int{{0, 0}, {-1, 0}, {-1, -1}, {0, -1}}
	left := [4][2]int{{0, -1}, {0, 0}, {-1, 0}, {-1, -1}}
	x, y, d := c, r, 0
	startX, startY := x, y
	var corners [][2]int
	for {
		if d == 0 {
			t.seen[y*t.columns+x] = true
		}
		x, y = x+steps[d][0], y+steps[d][1]
		// turn right first, so that cells touching at a corner stay apart
		for _, turn := range [3]int{1, 0, 3} {
			next := (d + turn) & 3
			inside := t.at(x+right[next][0], y+right[next][1]) == id
			outside := t.at(x+left[next][0], y+left[next][1]) != id
			if inside && outside {
				if turn != 0 {
					corners = append(corners, [2]int{x, y})
				}
				d = next
				break
			}
		}
		if x == startX && y == startY && d == 0 {
			return corners
		}
	}
}

// toRing places a ring's corners; the first is repeated at the end.
func toRing(f *dem.Frame, corners [][2]int, flip bool) (orb.Ring, error) {
	xs, ys := make([]float64, len(corners)), make([]float64, len(corners))
	for i, k := range corners {
		// clockwise on the page to counter-clockwise, as RFC 7946 has outer rings
		j := len(corners) - 1 - i
		if flip {
			j = i
		}
		xs[j] = f.X0 + (float64(k[0])-0.5)*f.DX
		ys[j] = f.Y0 + (float64(k[1])-0.5)*f.DY
	}
	if err := f.CRS.ToWGS84(xs, ys); err != nil {
		return nil, err
	}
	ring := make(orb.Ring, 0, len(corners)+1)
	for i := range xs {
		ring = append(ring, orb.Point{xs[i], ys[i]})
	}
	return append(ring, ring[0]), nil
}
