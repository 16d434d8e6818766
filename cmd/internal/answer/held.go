package answer

import (
	"context"
	"fmt"

	"crowline/dem"
)

// Ground that many questions are put to, one after another and several at once,
// is read once and asked through views of it.

// Hold reads all the posts into memory, so that no later question reads a file,
// where they take no more than policy.HeldShare of the memory a question may
// take; else the ground stays as it is, and is read as it is asked for.
func (g *Ground) Hold(ctx context.Context) error {
	layout := g.base.Layout()
	most := policy.HeldBytes
	if g.maxBytes > 0 {
		most = min(most, g.maxBytes/policy.HeldShare)
	}
	if bytes := 4 * int64(layout.Columns) * int64(layout.Rows); bytes > most {
		return nil
	}
	grid := &dem.Grid{Frame: *layout, Window: layout.Whole(), Source: g.base.Info(), Elevations: make([]float32, 0, layout.Columns*layout.Rows)}
	told := progress(ctx, "reading the ground")
	err := dem.Rows(ctx, g.base, layout.Whole(), func(posts []float32) error {
		grid.Elevations = append(grid.Elevations, posts...)
		if told != nil {
			told(int64(len(grid.Elevations)), int64(layout.Columns*layout.Rows))
		}
		return nil
	})
	if err != nil {
		return err
	}
	if n := len(grid.Elevations); n != layout.Columns*layout.Rows {
		return fmt.Errorf("%s gave %d posts of %d", g.base.Info().Name, n, layout.Columns*layout.Rows)
	}
	g.base = held{grid, g.base}
	g.source, err = g.judged()
	return err
}

// Asked is the ground for one question. What an answer says of the data it
// read is then of that question alone, whatever else is asked meanwhile, and the
// same as where the ground had been opened for it. Closing it does nothing.
func (g *Ground) Asked() (*Ground, error) {
	out := *g
	out.base = kept{g.base}
	var err error
	out.source, err = out.judged()
	return &out, err
}

// Unjudged is the ground for questions whose answers say nothing of the data, as
// a map's tiles and a line that is still being dragged: no post is judged. Where
// the ground is held, it is asked as it lies in memory. Closing it does nothing.
func (g *Ground) Unjudged(ctx context.Context) (*Ground, error) {
	out := *g
	out.base = kept{g.base}
	out.source = out.base
	if g.fill {
		filled, err := dem.Fill(out.base, dem.FillOptions{})
		if err != nil {
			return nil, err
		}
		out.source = dem.InTurn(filled)
	}
	h, ok := g.base.(held)
	if !ok {
		return &out, nil
	}
	out.posted = h.grid
	if g.fill {
		var err error
		out.posted, err = out.source.Read(ctx, h.grid.Layout().Whole())
		return &out, err
	}
	return &out, nil
}

// held is a source whose posts are all in memory. Safe for concurrent use.
type held struct {
	grid *dem.Grid
	file dem.Source
}

// Info is the file's.
func (h held) Info() dem.Info { return h.grid.Source }

// Layout is the file's.
func (h held) Layout() *dem.Frame { return &h.grid.Frame }

// Read copies posts out of memory.
func (h held) Read(ctx context.Context, w dem.Window) (*dem.Grid, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	g := h.grid
	if w.Intersect(g.Whole()) != w {
		return nil, fmt.Errorf("the block %+v is %w", w, dem.ErrOutside)
	}
	out := &dem.Grid{Frame: g.Sub(w), Window: w, Source: g.Source, Elevations: make([]float32, 0, w.Columns*w.Rows)}
	if g.Filled != nil {
		out.Filled = make([]bool, 0, w.Columns*w.Rows)
	}
	for row := w.Row; row < w.Row+w.Rows; row++ {
		from := row*g.Columns + w.Column
		out.Elevations = append(out.Elevations, g.Elevations[from:from+w.Columns]...)
		if g.Filled != nil {
			out.Filled = append(out.Filled, g.Filled[from:from+w.Columns]...)
		}
	}
	return out, nil
}

// ReadRows is dem.Rows for posts in memory.
func (h held) ReadRows(ctx context.Context, w dem.Window, use func(posts []float32) error) error {
	const rows = 256 // between looks at the context
	for row := w.Row; row < w.Row+w.Rows; row += rows {
		band := dem.Window{Column: w.Column, Row: row, Columns: w.Columns, Rows: min(rows, w.Row+w.Rows-row)}
		posts := h.grid.Elevations[row*h.grid.Columns : (row+band.Rows)*h.grid.Columns]
		if w.Columns != h.grid.Columns {
			g, err := h.Read(ctx, band)
			if err != nil {
				return err
			}
			posts = g.Elevations
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := use(posts); err != nil {
			return err
		}
	}
	return nil
}

// Close closes the file.
func (h held) Close() error { return h.file.Close() }

// kept is a source that others go on using: closing it does nothing.
type kept struct{ dem.Source }

// Close does nothing.
func (kept) Close() error { return nil }
