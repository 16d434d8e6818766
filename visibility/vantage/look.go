package vantage

import (
	"context"
	"fmt"
	"math"

	"crowline/dem"
	"crowline/dem/geodesy"
	"crowline/dem/workers"
	"crowline/visibility"
)

// Mark is something that stays where it is: a summit, a cliff, a place.
type Mark struct {
	// Place as people write it: it is looked at by its looking point.
	Place geodesy.LatLon
	// AboveGround is its top above the ground it stands on, metres.
	AboveGround float64
	// Reach is how far off it counts, metres; beyond it nobody is asked whether
	// they see it. Zero means no bound.
	Reach float64
}

// Options are the options of Look.
type Options struct {
	// EyeAboveGround is the eye over each post, metres.
	EyeAboveGround float64
	// Refraction is k = R/r.
	Refraction float64
	// Concurrency is how many cores to use; zero means all. The answer does not
	// depend on it.
	Concurrency int
	// Progress is called with marks done and in all, from one goroutine at a
	// time; nil for none.
	Progress func(done, total int64)
}

// Seen is which posts of an area see which marks.
type Seen struct {
	Area  *Area
	Marks []Mark
	// Settled is how many sights were asked one by one (visibility.ViewOf).
	Settled int

	verdicts [][]uint8 // of each mark, four posts a byte
}

// Bytes is about how much memory Look takes beside the grid for so many posts of
// an area's window and so many marks.
func Bytes(posts, marks int) int64 { return int64(posts) * (int64(marks+3)/4 + 16) }

// Look finds, of every post of an area and every mark, whether an eye over the
// post sees the mark: visibility.ViewOf of each mark, so the verdict is that of
// visibility.Along from the post. It takes the time of a viewshed a mark, over the
// ground between the mark and the area. Memory: two bits a post and mark, and
// some two bytes a post of the ground between on each core. The error is a
// projection's, a failed read's or ctx's.
func Look(ctx context.Context, g *dem.Grid, a *Area, marks []Mark, o Options) (*Seen, error) {
	s := &Seen{Area: a, Marks: marks, verdicts: make([][]uint8, len(marks))}
	settled := make([]int, len(marks))
	count := workers.Counter(int64(len(marks)), o.Progress)
	inner := 1
	if len(marks) == 1 {
		inner = o.Concurrency
	}
	err := workers.Each(ctx, len(marks), o.Concurrency, func(_, k int) error {
		var err error
		if s.verdicts[k], settled[k], err = a.ask(ctx, g, marks[k], o, inner); err != nil {
			return fmt.Errorf("looking from %s: %w", marks[k].Place, err)
		}
		count(1)
		return nil
	})
	for _, n := range settled {
		s.Settled += n
	}
	return s, err
}

// ask is the verdicts of one mark; nil where no post of the area is in reach.
func (a *Area) ask(ctx context.Context, g *dem.Grid, m Mark, o Options, concurrency int) ([]uint8, int, error) {
	window := a.Window
	if m.Reach > 0 {
		if geodesy.Inverse(a.Centre, m.Place).Distance > a.Radius+m.Reach {
			return nil, 0, nil
		}
		reached, err := dem.WindowAround(&g.Frame, []geodesy.LatLon{m.Place}, m.Reach)
		if err == nil {
			window = window.Intersect(reached)
		}
	}
	back, err := visibility.ViewOf(ctx, g, m.Place, window, visibility.ViewOfOptions{
		EyeAboveGround: o.EyeAboveGround, Conditions: visibility.Conditions{TargetAboveGround: m.AboveGround, Refraction: o.Refraction},
		Radius: m.Reach, Concurrency: concurrency,
		Asked: func(column, row int) bool {
			return a.In((row-a.Window.Row)*a.Window.Columns + column - a.Window.Column)
		},
	})
	if err != nil {
		return nil, 0, err
	}
	out := make([]uint8, (a.Window.Columns*a.Window.Rows+3)/4)
	for i, v := range back.Verdicts {
		column, row := window.Column+i%window.Columns-a.Window.Column, window.Row+i/window.Columns-a.Window.Row
		post := row*a.Window.Columns + column
		out[post/4] |= uint8(v) << (post % 4 * 2)
	}
	return out, back.Settled, nil
}

// Verdict of a mark, by its number, from a post.
func (s *Seen) Verdict(mark, post int) visibility.Verdict {
	if s.verdicts[mark] == nil {
		return visibility.OutOfRange
	}
	return visibility.Verdict(s.verdicts[mark][post/4] >> (post % 4 * 2) & 3)
}

// Counts is how many marks each post sees, and of how many it is not known.
func (s *Seen) Counts() (visible, unknown []uint16) {
	n := s.Area.Window.Columns * s.Area.Window.Rows
	visible, unknown = make([]uint16, n), make([]uint16, n)
	for k := range s.Marks {
		if s.verdicts[k] == nil {
			continue
		}
		for i := range n {
			switch s.Verdict(k, i) {
			case visibility.Visible:
				visible[i]++
			case visibility.Unknown:
				unknown[i]++
			}
		}
	}
	return visible, unknown
}

// Scores is the worth of every post as a standpoint, by the marks it sees. 0 where
// none, or beyond the radius.
func (s *Seen) Scores(ctx context.Context, o WorthOptions) ([]float32, error) {
	plane := geodesy.NewPlane(s.Area.Centre)
	east, north := make([]float64, len(s.Marks)), make([]float64, len(s.Marks))
	for k, m := range s.Marks {
		east[k], north[k] = plane.Forward(m.Place)
	}
	a := s.Area
	out := make([]float32, a.Window.Columns*a.Window.Rows)
	err := workers.Each(ctx, a.Window.Rows, 0, func(_, r int) error {
		for i := r * a.Window.Columns; i < (r+1)*a.Window.Columns; i++ {
			if !a.In(i) {
				continue
			}
			var sum sums
			for k := range s.Marks {
				if s.Verdict(k, i) != visibility.Visible {
					continue
				}
				e, n := east[k]-float64(a.east[i]), north[k]-float64(a.north[i])
				sum.add(e, n, math.Hypot(e, n), o)
			}
			out[i] = float32(sum.worth(o).Score)
		}
		return nil
	})
	return out, err
}
