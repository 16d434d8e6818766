package vantage

import (
	"context"
	"fmt"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
	"crowline/dem/workers"
)

// Stand says whether a group can stand at a post, or why not. The zero value:
// it was not asked.
type Stand uint8

const (
	// NotAsked: beyond the radius.
	NotAsked Stand = iota
	// Good ground to stand on.
	Good
	// Void: some of the ground is not known.
	Void
	// Steep: some of the ground is steeper than the options allow.
	Steep
	// Cliff: one is nearer than one may stray.
	Cliff
)

// StandOptions say what ground a group can stand on.
type StandOptions struct {
	// MostSlope of the ground, degrees, over Width metres: no post out to half of
	// it, or to the next ones where that is farther, may stand so far above or
	// below. Steps within LeastRun metres count over that run.
	MostSlope geodesy.Degrees
	Width     float64
	// Cliffs of the grid, and how near one may be to a post at a distance from the
	// area's centre, both metres: as far as a group may stray on its way there.
	Cliffs []landform.Feature
	Clear  func(distance float64) float64
}

// LeastRun is the shortest run, metres, that a slope is taken over: a boulder or
// a bank is stepped round.
const LeastRun = 5.0

// Standing says of every post of an area whether a group can stand there.
func Standing(ctx context.Context, g *dem.Grid, a *Area, o StandOptions) ([]Stand, error) {
	if !(o.MostSlope > 0 && o.MostSlope < 90) || !(o.Width >= 0) || math.IsInf(o.Width, 0) {
		return nil, fmt.Errorf("vantage: no ground is told by a slope of %v degrees over %v m", o.MostSlope, o.Width)
	}
	w := a.Window
	alongRow, alongColumn, err := g.Spacing(float64(w.Column)+float64(w.Columns)/2, float64(w.Row)+float64(w.Rows)/2)
	if err != nil {
		return nil, err
	}
	near, err := a.nearestCliff(g, o, alongRow, alongColumn)
	if err != nil {
		return nil, err
	}
	type step struct {
		column, row int
		most        float64 // metres up or down
	}
	var steps []step
	tan := math.Tan(float64(o.MostSlope) * math.Pi / 180)
	dc, dr := max(1, int(o.Width/2/alongRow)), max(1, int(o.Width/2/alongColumn))
	for r := -dr; r <= dr; r++ {
		for c := -dc; c <= dc; c++ {
			run := math.Hypot(float64(c)*alongRow, float64(r)*alongColumn)
			beside := max(c, -c, r, -r) == 1
			if run > 0 && (run <= o.Width/2 || beside) {
				steps = append(steps, step{c, r, tan * max(run, LeastRun)})
			}
		}
	}
	out := make([]Stand, w.Columns*w.Rows)
	err = workers.Each(ctx, w.Rows, 0, func(_, r int) error {
		for i := r * w.Columns; i < (r+1)*w.Columns; i++ {
			if !a.In(i) {
				continue
			}
			column, row := a.At(i)
			h := g.Elevation(column, row)
			out[i] = Good
			for _, s := range steps {
				d := math.Abs(g.Elevation(column+s.column, row+s.row) - h)
				if d != d {
					out[i] = Void
					break
				}
				if d > s.most {
					out[i] = Steep
				}
			}
			if out[i] == Good && near != nil && near[i] < o.Clear(a.Distance(i)) {
				out[i] = Cliff
			}
		}
		return nil
	})
	return out, err
}

// nearestCliff is how far each post is from the nearest post of a cliff, metres;
// nil where there is none.
//
// Method: exact Euclidean distance transform, rows and then columns (Felzenszwalb
// and Huttenlocher, Theory of Computing 8, 2012), the spacing of posts taken as it
// is at the area's middle.
func (a *Area) nearestCliff(g *dem.Grid, o StandOptions, alongRow, alongColumn float64) ([]float64, error) {
	if len(o.Cliffs) == 0 || o.Clear == nil {
		return nil, nil
	}
	most := o.Clear(a.Radius)
	w := g.Grow(a.Window, int(most/min(alongRow, alongColumn))+2)
	squares := make([]float64, w.Columns*w.Rows)
	for i := range squares {
		squares[i] = math.Inf(1)
	}
	any := false
	set := func(column, row float64) {
		c, r := int(math.Round(column))-w.Column, int(math.Round(row))-w.Row
		if c >= 0 && r >= 0 && c < w.Columns && r < w.Rows {
			squares[r*w.Columns+c], any = 0, true
		}
	}
	for _, f := range o.Cliffs {
		for _, part := range f.Parts {
			for k, p := range part {
				q := part[(k+1)%len(part)]
				n := int(math.Ceil(max(math.Abs(q.Column-p.Column), math.Abs(q.Row-p.Row))))
				for j := range max(1, n) {
					share := float64(j) / float64(max(1, n))
					set(p.Column+share*(q.Column-p.Column), p.Row+share*(q.Row-p.Row))
				}
			}
		}
	}
	if !any {
		return nil, nil
	}
	line := make([]float64, max(w.Columns, w.Rows))
	for r := range w.Rows {
		lowerEnvelope(squares[r*w.Columns:(r+1)*w.Columns], line[:w.Columns], alongRow)
	}
	column := make([]float64, w.Rows)
	out := make([]float64, a.Window.Columns*a.Window.Rows)
	for c := range w.Columns {
		for r := range w.Rows {
			column[r] = squares[r*w.Columns+c]
		}
		lowerEnvelope(column, line[:w.Rows], alongColumn)
		k := w.Column + c - a.Window.Column
		if k < 0 || k >= a.Window.Columns {
			continue
		}
		for r := range a.Window.Rows {
			out[r*a.Window.Columns+k] = math.Sqrt(column[a.Window.Row-w.Row+r])
		}
	}
	return out, nil
}

// lowerEnvelope replaces values at places step apart by the least of all parabolas
// over them; scratch is as long.
func lowerEnvelope(values, scratch []float64, step float64) {
	n := len(values)
	var at []int       // whose parabola is lowest
	var from []float64 // from where, in steps
	s2 := step * step
	for q := range n {
		if math.IsInf(values[q], 1) {
			continue
		}
		for len(at) > 0 {
			p := at[len(at)-1]
			cross := ((values[q]/s2 + float64(q*q)) - (values[p]/s2 + float64(p*p))) / float64(2*(q-p))
			if cross > from[len(from)-1] {
				at, from = append(at, q), append(from, cross)
				break
			}
			at, from = at[:len(at)-1], from[:len(from)-1]
		}
		if len(at) == 0 {
			at, from = append(at, q), append(from, math.Inf(-1))
		}
	}
	if len(at) == 0 {
		return
	}
	k := 0
	for q := range n {
		for k+1 < len(at) && from[k+1] < float64(q) {
			k++
		}
		d := float64(q - at[k])
		scratch[q] = s2*d*d + values[at[k]]
	}
	copy(values, scratch)
}
