package vantage

import (
	"context"
	"fmt"
	"math"
	"slices"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/workers"
)

// Area is the posts of a grid within a radius of a place.
type Area struct {
	Centre geodesy.LatLon
	Radius float64 // metres
	// Window is the block of the grid's posts that holds them, and Frame says
	// where it stands. Posts are numbered row by row over it.
	Window dem.Window
	Frame  dem.Frame
	// Posts is how many of the window's posts are within the radius.
	Posts int

	// east and north of the centre, metres, on its plane; NaN beyond the radius
	east, north []float32
}

// Around is the posts of a grid within radius metres of a place. The error wraps
// dem.ErrOutside where there are none.
func Around(ctx context.Context, g *dem.Grid, centre geodesy.LatLon, radius float64) (*Area, error) {
	if !(radius > 0) || math.IsInf(radius, 0) {
		return nil, fmt.Errorf("vantage: a radius of %v m is not a distance", radius)
	}
	window, err := dem.WindowAround(&g.Frame, []geodesy.LatLon{centre}, radius)
	if err != nil {
		return nil, err
	}
	p, err := dem.NewPlacement(&g.Frame, geodesy.NewPlane(centre), window)
	if err != nil {
		return nil, err
	}
	n := window.Columns * window.Rows
	a := &Area{Centre: centre, Radius: radius, Window: window, Frame: g.Sub(window), east: make([]float32, n), north: make([]float32, n)}
	within := make([]int, window.Rows)
	err = workers.Each(ctx, window.Rows, 0, func(_, r int) error {
		line := p.Row(window.Row + r)
		for c := range window.Columns {
			i := r*window.Columns + c
			e, n := line.At(float64(window.Column + c))
			if math.Hypot(e, n) > radius {
				e, n = math.NaN(), math.NaN()
			} else {
				within[r]++
			}
			a.east[i], a.north[i] = float32(e), float32(n)
		}
		return nil
	})
	for _, k := range within {
		a.Posts += k
	}
	return a, err
}

// In reports whether a post is within the radius.
func (a *Area) In(post int) bool { return a.east[post] == a.east[post] }

// At is the column and row of a post in the grid.
func (a *Area) At(post int) (column, row int) {
	return a.Window.Column + post%a.Window.Columns, a.Window.Row + post/a.Window.Columns
}

// Place of a post.
func (a *Area) Place(post int) (geodesy.LatLon, error) {
	return a.Frame.Place(float64(post%a.Window.Columns), float64(post/a.Window.Columns))
}

// Distance of a post from the centre, metres; NaN beyond the radius.
func (a *Area) Distance(post int) float64 {
	return math.Hypot(float64(a.east[post]), float64(a.north[post]))
}

// Pick takes posts in order, the best first, and keeps the first n that stand
// apart metres or more from each it has kept. order is changed.
func (a *Area) Pick(order []int, n int, apart float64) []int {
	var out []int
	for _, i := range order {
		if len(out) == n {
			break
		}
		if !slices.ContainsFunc(out, func(k int) bool {
			return math.Hypot(float64(a.east[i]-a.east[k]), float64(a.north[i]-a.north[k])) < apart
		}) {
			out = append(out, i)
		}
	}
	return out
}
