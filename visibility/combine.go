package visibility

import (
	"context"
	"errors"
	"fmt"

	"crowline/dem"
)

// Combined is what several observers see of the posts of one grid.
type Combined struct {
	// Window is the smallest block of the grid's posts that holds every
	// observer's; Frame says where its posts stand.
	Window dem.Window
	Frame  dem.Frame
	// Count is how many observers see each post, and Which of them, one bit
	// each: 1 for the first, 2 for the second, 4, 8 and so on. Row by row.
	Count []uint8
	Which []uint32
	// SeenBy counts the posts that n observers see, by n from 0 up. Posts
	// that no observer was asked about are not counted.
	SeenBy []int64
	// NotKnown counts those of SeenBy of which it is not known, for one of the
	// observers or more, whether they see them.
	NotKnown []int64
}

// MaxCombined is how many observers Combine takes: one bit of Which each.
const MaxCombined = 32

// Combine lays the views of several observers over each other. They must be
// of the same grid. A post counts as seen by an observer only where the
// verdict is Visible.
func Combine(ctx context.Context, g *dem.Grid, views []*Viewed) (*Combined, error) {
	if len(views) == 0 || len(views) > MaxCombined {
		return nil, fmt.Errorf("%d views cannot be combined: 1 to %d can", len(views), MaxCombined)
	}
	w := views[0].Window
	for _, v := range views[1:] {
		column, row := min(w.Column, v.Window.Column), min(w.Row, v.Window.Row)
		w = dem.Window{
			Column: column, Row: row,
			Columns: max(w.Column+w.Columns, v.Window.Column+v.Window.Columns) - column,
			Rows:    max(w.Row+w.Rows, v.Window.Row+v.Window.Rows) - row,
		}
	}
	if w.Intersect(g.Whole()) != w {
		return nil, errors.New("the views are not all of this grid")
	}
	c := &Combined{
		Window: w, Frame: g.Sub(w), SeenBy: make([]int64, len(views)+1), NotKnown: make([]int64, len(views)+1),
		Count: make([]uint8, w.Columns*w.Rows), Which: make([]uint32, w.Columns*w.Rows),
	}
	const wasAsked, notKnown = 1, 2
	asked := make([]uint8, w.Columns*w.Rows)
	for k, v := range views {
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("combining views: %w", err)
		}
		for r := range v.Window.Rows {
			from := v.Verdicts[r*v.Window.Columns : (r+1)*v.Window.Columns]
			at := (r+v.Window.Row-w.Row)*w.Columns + v.Window.Column - w.Column
			for i, verdict := range from {
				if verdict == OutOfRange {
					continue
				}
				asked[at+i] |= wasAsked
				switch verdict {
				case Visible:
					c.Count[at+i]++
					c.Which[at+i] |= 1 << k
				case Unknown:
					asked[at+i] |= notKnown
				}
			}
		}
	}
	for i, a := range asked {
		if a != 0 {
			c.SeenBy[c.Count[i]]++
		}
		if a&notKnown != 0 {
			c.NotKnown[c.Count[i]]++
		}
	}
	return c, nil
}

// Steps is one step a post for views of which it is known how sure they are, each
// with its likelihood, and how many of the observers it is clear from: the best
// step of any, where within the error is better than unknown, and that than hidden.
func (c *Combined) Steps(views []*Viewed, likely []*ViewedLikelihood) (steps []Step, clear []uint8) {
	rank := [...]int{StepOutOfRange: 0, StepHidden: 1, StepUnknown: 2, StepWithinError: 3, StepClear: 4}
	steps, clear = make([]Step, c.Window.Columns*c.Window.Rows), make([]uint8, c.Window.Columns*c.Window.Rows)
	for n, v := range views {
		for r := range v.Window.Rows {
			from := likely[n].Steps[r*v.Window.Columns : (r+1)*v.Window.Columns]
			at := (r+v.Window.Row-c.Window.Row)*c.Window.Columns + v.Window.Column - c.Window.Column
			for i, step := range from {
				if step == StepClear {
					clear[at+i]++
				}
				if rank[step] > rank[steps[at+i]] {
					steps[at+i] = step
				}
			}
		}
	}
	return steps, clear
}

// Verdicts is one verdict a post for the views that were combined: Visible
// where any has it, else Unknown where it is for any, else Hidden where any
// was asked.
func (c *Combined) Verdicts(views []*Viewed) []Verdict {
	rank := [...]int{OutOfRange: 0, Hidden: 1, Unknown: 2, Visible: 3}
	out := make([]Verdict, c.Window.Columns*c.Window.Rows)
	for _, v := range views {
		for i, verdict := range v.Verdicts {
			column, row := v.Window.Column+i%v.Window.Columns-c.Window.Column, v.Window.Row+i/v.Window.Columns-c.Window.Row
			if k := row*c.Window.Columns + column; rank[verdict] > rank[out[k]] {
				out[k] = verdict
			}
		}
	}
	return out
}
