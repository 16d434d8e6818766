package visibility

import (
	"context"
	"encoding/binary"
	"math"
	"slices"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/landform"
)

// InSightOptions are the options of SummitsInSight.
type InSightOptions struct {
	Conditions
	// MinProminence is of landform.SummitOptions, metres.
	MinProminence float64
	// Radius bounds the summits, metres; zero means to the edge of the data.
	Radius float64
	// Concurrency is how many cores to use; zero means all. The answer does not
	// depend on it.
	Concurrency int
	// Progress is as in ViewshedOptions.
	Progress func(done, total int64)
}

// raised is how much higher than asked the target is taken to stand in the
// search for what may be seen, metres: over all that parts a Viewshed's verdict
// from that of Along, which decides. It only adds tops to look at.
const raised = 0.01

// besideSight is taken round the observer, posts each way, whatever the view
// says of it: ground so near is looked at by Along alone.
const besideSight = 2

// SummitsInSight finds the summits of a grid that an observer sees, or whose sight
// is not known: of those that landform.Summits lists, no fewer than Landmarks
// calls visible or unknown, in the same order, and hardly more. The observer
// stands on its looking point, as there.
//
// The view is worked out for all posts, and prominence for the tops in it alone,
// so the cost is Viewshed's. What landform.SummitsIn leaves out of a Summit is left
// out here. The errors are Viewshed's.
func SummitsInSight(ctx context.Context, g *dem.Grid, o Observer, opts InSightOptions) ([]landform.Summit, error) {
	stands, err := o.Standing(g)
	if err != nil {
		return nil, err
	}
	c := opts.Conditions
	c.TargetAboveGround += raised
	view := ViewshedOptions{Conditions: c, Concurrency: opts.Concurrency, Progress: opts.Progress}
	if opts.Radius > 0 { // of the place as it was given, from which the eye may stand a step off
		view.Radius = opts.Radius + geodesy.Inverse(o.Place, stands.Place).Distance + raised
	}
	v, p, err := newProblem(ctx, g, stands, view)
	if err != nil {
		return nil, err
	}
	if err := v.look(ctx, p, view, nil); err != nil {
		return nil, err
	}
	column, row := p.cells.placement.Origin()
	rows := make([][]landform.Span, v.Window.Rows)
	err = parallel(ctx, len(rows), opts.Concurrency, func(_, i int) {
		r := v.Window.Row + i
		near := math.Abs(float64(r)-row) <= besideSight
		line := v.Codes()[i*v.Window.Columns:][:v.Window.Columns]
		for k := 0; k < len(line); k++ {
			if !near && k+8 <= len(line) && binary.LittleEndian.Uint64(line[k:]) == eightHidden {
				k += 7
				continue
			}
			c, verdict := v.Window.Column+k, Verdict(line[k])
			if looked := verdict == Visible || verdict == Unknown; looked || near && math.Abs(float64(c)-column) <= besideSight {
				if isTop(g, c, r) {
					rows[i] = append(rows[i], landform.Span{Row: r, First: c, Last: c})
				}
			}
		}
	})
	if err != nil {
		return nil, err
	}
	v.Verdicts, p.verdicts = nil, nil // no longer wanted, and as large as a quarter of the grid
	return landform.SummitsIn(ctx, g, g.Whole(), slices.Concat(rows...), opts.MinProminence)
}

// isTop reports whether a post is no lower than its eight neighbours. On the border
// of the data, or beside a void, that is not known, and false.
func isTop(g *dem.Grid, c, r int) bool {
	if c < 1 || r < 1 || c > g.Columns-2 || r > g.Rows-2 {
		return false
	}
	at := r*g.Columns + c
	h := g.Elevations[at]
	above, line, below := g.Elevations[at-g.Columns-1:][:3], g.Elevations[at-1:][:3], g.Elevations[at+g.Columns-1:][:3]
	return h >= line[0] && h >= line[2] && h >= above[0] && h >= above[1] && h >= above[2] && h >= below[0] && h >= below[1] && h >= below[2]
}
