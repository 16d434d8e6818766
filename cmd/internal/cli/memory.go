package cli

import (
	"context"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
)

// What a question takes for each post it reads at once, bytes, the post's
// own four among them. Measured on fractal ground of 14 and 61 million posts:
// the most a process held, less the 58 MB of one that reads none. Where
// garbage makes it vary the larger is taken.
const (
	overCoverPostBytes    = 16 // more, where cover is laid as well
	landformPostBytes     = 56
	drillPostBytes        = 60
	heldContoursPostBytes = 45
	sheetPostBytes        = 20
	hiddenPostBytes       = 6 // more, where a sheet tints hidden ground
)

// memory adds what laying cover takes.
func (f *coverFlags) memory(perPost int64) int64 {
	if f.file != "" {
		return perPost + overCoverPostBytes
	}
	return perPost
}

// Posts far finer than what is looked for cost time and memory and show
// nothing more: of such data every second, third... post is taken.
const (
	// landformPosts across the scale at which landforms are told are enough.
	landformPosts = 50
	// drawnPost is the least distance between posts that a map shows, metres
	// of paper: the least that is drawn apart (common practice).
	drawnPost = 0.2e-3
)

// everyNth is the step that leaves posts at least spacing metres apart, in
// the coarser direction, where they are finer.
func (g *ground) everyNth(places []geodesy.LatLon, margin, spacing float64) (dem.Window, int, error) {
	layout := g.source.Layout()
	w, err := dem.WindowAround(layout, places, margin)
	if err != nil {
		return w, 0, err
	}
	alongRow, alongColumn, err := layout.Spacing(float64(w.Column)+float64(w.Columns-1)/2, float64(w.Row)+float64(w.Rows-1)/2)
	if err != nil {
		return w, 0, err
	}
	const near = 1.01 // posts a hair farther apart than they are said to be
	return w, max(1, int(near*spacing/math.Max(alongRow, alongColumn))), nil
}

// thinned reads the posts within margin metres of some places, leaving out
// those that stand closer together than spacing metres. The answer's
// description of the data says so.
func (g *ground) thinned(ctx context.Context, places []geodesy.LatLon, margin, spacing float64) (*dem.Grid, error) {
	w, n, err := g.everyNth(places, margin, spacing)
	if err != nil {
		return nil, err
	}
	g.every = max(g.every, n)
	return dem.ReadEvery(ctx, g.source, w, n)
}
