package dem

import (
	"context"
	"math"
)

// CoverLayer is cover looked up once at every post of a grid, for questions
// that ask of the same ground again with other clearings. Safe for concurrent
// use.
type CoverLayer struct {
	ground *Grid
	above  []float32 // metres, a post; NaN where not known
	// Standing, Bare and Unknown count the posts with ground on which
	// something stands, nothing does, and it is not known.
	Standing, Bare, Unknown int64
	// Highest is the greatest height above the ground, metres; 0 where
	// nothing stands.
	Highest float64
}

// LayOptions are the options of LayCover.
type LayOptions struct {
	// Progress is called after each row with the rows done and all of them,
	// from one goroutine; nil for none.
	Progress func(done, total int64)
}

// LayCover looks the cover up at every post of ground. ctx is looked at every
// row. Posts are placed by polynomials in column and row, good to a tenth of a
// millimetre at worst. On a RasterCover a post so near the edge of a cell that
// the polynomial may put it in the wrong one is placed by itself: the layer is
// the same as if all were. Cost: 0.02 microseconds a post of a raster, 0.08 of
// polygons; memory 4 bytes a post.
func LayCover(ctx context.Context, ground *Grid, cover Cover, opts LayOptions) (*CoverLayer, error) {
	l := &CoverLayer{ground: ground, above: make([]float32, ground.Columns*ground.Rows)}
	row := newCoverRows(&ground.Frame, cover)
	above := make([]float64, ground.Columns)
	for r := range ground.Rows {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err := row(r, above); err != nil {
			return nil, err
		}
		for i, a := range above {
			if a < 0 { // never true of what is not known
				a = 0
			}
			l.above[r*ground.Columns+i] = float32(a)
			switch h := ground.Elevations[r*ground.Columns+i]; {
			case h != h:
			case a != a:
				l.Unknown++
			case a > 0:
				l.Standing++
				l.Highest = math.Max(l.Highest, a)
			default:
				l.Bare++
			}
		}
		if opts.Progress != nil {
			opts.Progress(int64(r+1), int64(ground.Rows))
		}
	}
	return l, nil
}

// Ground is the bare ground the cover was laid on.
func (l *CoverLayer) Ground() *Grid { return l.ground }

// AboveGround is how far what stands at a post reaches above the ground,
// metres: 0 where nothing stands, NaN where that is not known and outside.
func (l *CoverLayer) AboveGround(column, row int) float64 {
	if uint(column) >= uint(l.ground.Columns) || uint(row) >= uint(l.ground.Rows) {
		return math.NaN()
	}
	return float64(l.above[row*l.ground.Columns+column])
}

// Covered is the ground with the cover on it but for the clearings, post by
// post. Safe for concurrent use.
func (l *CoverLayer) Covered(clearings ...Clearing) (*Covered, error) {
	list, err := newClearings(&l.ground.Frame, clearings)
	if err != nil {
		return nil, err
	}
	return &Covered{ground: l.ground, layer: l, clearings: list}, nil
}

// Grid is the same as a grid of its own, with the ground's source and filled
// posts, and the ground as its Bare. ctx is looked at every row.
func (l *CoverLayer) Grid(ctx context.Context, clearings ...Clearing) (*Grid, error) {
	c, err := l.Covered(clearings...)
	if err != nil {
		return nil, err
	}
	out := *l.ground
	out.Bare = l.ground
	out.Elevations = make([]float32, len(l.ground.Elevations))
	for r := range out.Rows {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		for i := r * out.Columns; i < (r+1)*out.Columns; i++ {
			out.Elevations[i] = float32(topped(float64(l.ground.Elevations[i]), float64(l.above[i])))
		}
	}
	for _, k := range c.clearings {
		cell := Window{Column: k.column, Row: k.row, Columns: 2, Rows: 2}
		for _, w := range []Window{cell.Intersect(out.Whole()), k.window} {
			for r := w.Row; r < w.Row+w.Rows; r++ {
				for i := w.Column; i < w.Column+w.Columns; i++ {
					out.Elevations[r*out.Columns+i] = float32(c.Elevation(i, r))
				}
			}
		}
	}
	return &out, c.err
}
