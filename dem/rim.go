package dem

import (
	"math"
	"slices"
)

// Rim is where the ground of a grid ends that has voids all along its border, as a
// map that was turned has: the convex hull of its known posts. The border of such
// ground is a stair, and a line that leaves the ground at a low angle leaves it at
// one step and meets the next one's posts: those are the end of the data, not a void
// with data behind it. The zero value is the rim of ground without voids.
type Rim struct {
	voids bool
	// inside is between which columns of each row posts stand within the hull, and not
	// at its border.
	inside [][2]float64
}

// stairDepth is how far within the hull a void of the stair may stand, in posts: one
// on the wrong side of the border, and as much again for a border that bows.
const stairDepth = 1.5

// NewRim finds the rim of a grid; voids says whether it has any.
func NewRim(g *Grid, voids bool) Rim {
	if !voids {
		return Rim{}
	}
	var ends [][2]float64 // of each row's known posts
	for r := range g.Rows {
		row := g.Elevations[r*g.Columns:][:g.Columns]
		first := slices.IndexFunc(row, func(h float32) bool { return h == h })
		if first < 0 {
			continue
		}
		last := g.Columns - 1
		for row[last] != row[last] {
			last--
		}
		ends = append(ends, [2]float64{float64(first), float64(r)}, [2]float64{float64(last), float64(r)})
	}
	return Rim{voids: true, inside: within(hull(ends), g.Rows)}
}

// hull is the convex hull of points in order of row (A. M. Andrew, Another efficient
// algorithm for convex hulls in two dimensions, Information Processing Letters 9:216,
// 1979).
func hull(points [][2]float64) [][2]float64 {
	side := func(points [][2]float64) (out [][2]float64) {
		for _, p := range points {
			for n := len(out); n > 1 && turn(out[n-2], out[n-1], p) <= 0; n-- {
				out = out[:n-1]
			}
			out = append(out, p)
		}
		return out
	}
	slices.SortFunc(points, func(a, b [2]float64) int {
		if a[1] != b[1] {
			return int(a[1] - b[1])
		}
		return int(a[0] - b[0])
	})
	there := side(points)
	slices.Reverse(points)
	back := side(points)
	if len(there) < 2 {
		return there
	}
	return append(there[:len(there)-1], back[:len(back)-1]...)
}

// turn is twice the area of a triangle, over 0 where its corners run as those of a
// hull do.
func turn(a, b, c [2]float64) float64 {
	return (b[0]-a[0])*(c[1]-a[1]) - (b[1]-a[1])*(c[0]-a[0])
}

// Ends reports whether the ground at a crossing is not known for posts that stand
// where the data ends, whatever lies behind: outside the rim, or within a step of the
// stair that an aslant border is.
func (r Rim) Ends(g *Grid, x Crossing) bool {
	if !r.voids {
		return false
	}
	column, row := x.Q()
	return r.ends(g, x.Column, x.Row) && r.ends(g, column, row)
}

// ends reports whether a post is known, or stands where the data ends.
func (r Rim) ends(g *Grid, column, row int) bool {
	if h := g.Elevation(column, row); h == h || uint(row) >= uint(len(r.inside)) {
		return true
	}
	c, in := float64(column), r.inside[row]
	return c < in[0] || c > in[1]
}

// within is between which columns of each row posts stand well inside a hull.
func within(corners [][2]float64, rows int) [][2]float64 {
	inside := make([][2]float64, rows)
	for row := range inside {
		in := [2]float64{math.Inf(-1), math.Inf(1)}
		if len(corners) == 0 {
			in[0] = math.Inf(1)
		}
		for i, a := range corners {
			b := corners[(i+1)%len(corners)]
			along, down := b[0]-a[0], b[1]-a[1]
			depth := 0.0 // a border along posts is no stair
			if along != 0 && down != 0 {
				depth = stairDepth * math.Hypot(along, down)
			}
			// inside is along (row - a1) - down (column - a0) >= depth
			over := along*(float64(row)-a[1]) - depth
			switch {
			case down > 0:
				in[1] = min(in[1], a[0]+over/down)
			case down < 0:
				in[0] = max(in[0], a[0]+over/down)
			case over < 0:
				in[0] = math.Inf(1)
			}
		}
		inside[row] = in
	}
	return inside
}
