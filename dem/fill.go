package dem

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sync"
)

// FillOptions tells Fill what to fill. The zero value is usable.
type FillOptions struct {
	// Span is the widest and the tallest a void may be, in posts, to count as
	// small; default when zero: 8. At most 64.
	Span int
}

const (
	defaultFillSpan = 8
	maxFillSpan     = 64
)

// Filled is a source whose small inner voids are filled in. A void is small
// when it is no wider and no taller than FillOptions.Span posts, and inner
// when it has posts with elevations all round it: nothing is ever filled at
// the outside edge of the data.
//
// The method is a stretched skin: each filled post is the mean of its four
// neighbours, each weighed by its nearness (Laplace's equation by finite
// differences). Nothing filled is higher than the highest post of the void's
// rim or lower than the lowest, so a summit or a pit that stood in the void
// is not brought back.
//
// What a post is filled with does not depend on how the source is read. Safe
// for concurrent use if the source is.
type Filled struct {
	source Source
	span   int

	mutex sync.Mutex
	marks marked // filled posts of what was read
}

var _ Source = (*Filled)(nil)

// Fill wraps a source. It takes over its Close.
func Fill(source Source, opts FillOptions) (*Filled, error) {
	if opts.Span == 0 {
		opts.Span = defaultFillSpan
	}
	if opts.Span < 0 || opts.Span > maxFillSpan {
		return nil, fmt.Errorf("voids of %d posts are not filled: from 1 to %d", opts.Span, maxFillSpan)
	}
	return &Filled{source: source, span: opts.Span}, nil
}

// Layout is the source's.
func (f *Filled) Layout() *Frame { return f.source.Layout() }

// Close closes the source.
func (f *Filled) Close() error { return f.source.Close() }

// Count is how many different posts have been filled in what was read.
func (f *Filled) Count() int {
	f.mutex.Lock()
	defer f.mutex.Unlock()
	return f.marks.count
}

// IsFilled reports whether a post was void and has been filled, if it has
// been read.
func (f *Filled) IsFilled(column, row int) bool {
	f.mutex.Lock()
	defer f.mutex.Unlock()
	return f.marks.has(column, row)
}

// Info is the source's, with a warning once a post has been filled.
func (f *Filled) Info() Info {
	info := f.source.Info()
	if n := f.Count(); n > 0 {
		info.Warnings = append(slices.Clone(info.Warnings),
			fmt.Sprintf("%d void posts were filled from the rim of their void, as you asked: summits and hollows inside are lost", n))
	}
	return info
}

// Read returns the posts of a window, with Grid.Filled marking those filled.
func (f *Filled) Read(ctx context.Context, w Window) (*Grid, error) {
	whole := f.Layout().Whole()
	if w.Empty() || w != w.Intersect(whole) {
		return f.source.Read(ctx, w) // to say what is wrong with it
	}
	g, err := f.source.Read(ctx, w)
	if err != nil {
		return nil, err
	}
	if !anyVoid(g, w, w) {
		return g, nil
	}
	// A void that touches w and is small lies, rim and all, within this.
	wider := Window{Column: w.Column - f.span, Row: w.Row - f.span, Columns: w.Columns + 2*f.span, Rows: w.Rows + 2*f.span}.Intersect(whole)
	around, err := f.source.Read(ctx, wider)
	if err != nil {
		return nil, err
	}
	filled, err := fillVoids(ctx, around, f.Layout(), wider, f.span)
	if err != nil {
		return nil, err
	}
	f.mutex.Lock()
	for r := range w.Rows {
		for c := range w.Columns {
			i, k := r*w.Columns+c, (w.Row-wider.Row+r)*wider.Columns+w.Column-wider.Column+c
			if !filled[k] {
				continue
			}
			if g.Filled == nil {
				g.Filled = make([]bool, len(g.Elevations))
			}
			g.Elevations[i], g.Filled[i] = around.Elevations[k], true
			f.marks.add(w.Column+c, w.Row+r)
		}
	}
	f.mutex.Unlock()
	g.Source = f.Info()
	return g, nil
}

// fillVoids fills the small voids of a grid, a window of layout, that do not
// touch its border and marks the posts.
func fillVoids(ctx context.Context, g *Grid, layout *Frame, w Window, span int) ([]bool, error) {
	filled := make([]bool, len(g.Elevations))
	seen := make([]bool, len(g.Elevations))
	for start, h := range g.Elevations {
		if start%g.Columns == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if h == h || seen[start] {
			continue
		}
		if void, small := voidAt(g, start, span, seen); small {
			slices.Sort(void)
			along, across, err := layout.Spacing(float64(w.Column+void[0]%g.Columns), float64(w.Row+void[0]/g.Columns))
			if err != nil {
				return nil, err
			}
			// weights of the neighbours along a row and along a column
			wx, wy := 1/(along*along), 1/(across*across)
			if !finitePositive(wx) || !finitePositive(wy) { // at a pole
				wx, wy = 1, 1
			}
			solve(g, void, wx, wy)
			for _, i := range void {
				filled[i] = true
			}
		}
	}
	return filled, nil
}

func finitePositive(v float64) bool { return v > 0 && !math.IsInf(v, 1) }

// voidAt gathers the void a post is in, posts that touch by an edge or a
// corner, and says whether it is small and clear of the border.
func voidAt(g *Grid, start, span int, seen []bool) (void []int, small bool) {
	void = []int{start}
	seen[start] = true
	c0, r0 := start%g.Columns, start/g.Columns
	c1, r1 := c0, r0
	border := false
	for n := 0; n < len(void); n++ {
		c, r := void[n]%g.Columns, void[n]/g.Columns
		c0, c1, r0, r1 = min(c0, c), max(c1, c), min(r0, r), max(r1, r)
		border = border || c == 0 || r == 0 || c == g.Columns-1 || r == g.Rows-1
		for dr := -1; dr <= 1; dr++ {
			for dc := -1; dc <= 1; dc++ {
				if uint(c+dc) >= uint(g.Columns) || uint(r+dr) >= uint(g.Rows) {
					continue
				}
				i := (r+dr)*g.Columns + c + dc
				if v := g.Elevations[i]; v != v && !seen[i] {
					seen[i] = true
					void = append(void, i)
				}
			}
		}
	}
	return void, !border && c1-c0 < span && r1-r0 < span
}

// solve fills a void, its posts in row order, by Gauss and Seidel's
// iteration, to a millimetre.
func solve(g *Grid, void []int, wx, wy float64) {
	index := make(map[int]int, len(void))
	sum, n := 0.0, 0
	for k, i := range void {
		index[i] = k
		for _, j := range [4]int{i - 1, i + 1, i - g.Columns, i + g.Columns} {
			if v := g.Elevations[j]; v == v {
				sum += float64(v)
				n++
			}
		}
	}
	values := make([]float64, len(void))
	for k := range values {
		values[k] = sum / float64(n) // a void inside a border has four-neighbours
	}
	at := func(i int) float64 {
		if k, ok := index[i]; ok {
			return values[k]
		}
		return float64(g.Elevations[i])
	}
	const settled = 1e-4   // m a round, which leaves under a millimetre or so
	const rounds = 100_000 // far over what 64 x 64 posts take
	for range rounds {
		moved := 0.0
		for k, i := range void {
			h := (wx*(at(i-1)+at(i+1)) + wy*(at(i-g.Columns)+at(i+g.Columns))) / (2 * (wx + wy))
			moved = max(moved, math.Abs(h-values[k]))
			values[k] = h
		}
		if moved < settled/float64(len(void)) {
			break
		}
	}
	for k, i := range void {
		g.Elevations[i] = float32(values[k])
	}
}
