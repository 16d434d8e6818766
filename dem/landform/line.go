package landform

import (
	"cmp"
	"context"
	"math"
	"slices"

	"crowline/dem"
)

// stretch is a part of a branch, first and last included, whose sides have
// relief enough.
type stretch struct{ first, last int }

// sideShare is the least share that the fall to the sides of a line may be
// of the fall along it, over the same distance. On a cone, with d the
// distance from its top and r the reach, the share is sqrt(1+(d/r)^2) - d/r,
// under 0.6 from d = 0.54 r, so its top is no ridge two reaches long.
const sideShare = 0.6

// stretches are the parts of a line, one scale or longer, where relief is
// enough but for gaps shorter than half a scale.
//
// Of the reliefs, those that are not enough are made NaN.
func (f *finder) stretches(posts []int32, along, relief []float64) []stretch {
	var out []stretch
	for i, r := range relief {
		if !(r >= f.o.MinRelief && r >= sideShare*f.change(posts, along, i)) {
			relief[i] = math.NaN()
			continue
		}
		if n := len(out); n > 0 && (out[n-1].last == i-1 || along[i]-along[out[n-1].last] < f.o.Scale/2) {
			out[n-1].last = i
		} else {
			out = append(out, stretch{i, i})
		}
	}
	// across the ground, not along a line that wavers from post to post
	return slices.DeleteFunc(out, func(s stretch) bool {
		first := f.position(posts[s.first])
		return !slices.ContainsFunc(posts[s.first:s.last+1], func(p int32) bool {
			return f.m.distance(first, f.position(p)) >= f.o.Scale
		})
	})
}

// change is the greatest difference in elevation between a post of a line
// and those within half a scale of it along the line, metres.
func (f *finder) change(posts []int32, along []float64, i int) float64 {
	h, worst := f.g.Elevations[posts[i]], 0.0
	for _, way := range [2]int{-1, 1} {
		for j := i + way; j >= 0 && j < len(posts) && math.Abs(along[j]-along[i]) <= f.o.Scale/2; j += way {
			worst = max(worst, math.Abs(float64(f.g.Elevations[posts[j]]-h)))
		}
	}
	return worst
}

// distances along a line of posts, metres.
func (f *finder) distances(posts []int32) []float64 {
	along := make([]float64, len(posts))
	for i := 1; i < len(posts); i++ {
		along[i] = along[i-1] + f.m.distance(f.position(posts[i-1]), f.position(posts[i]))
	}
	return along
}

// line makes the feature of posts first to last of a line.
func (f *finder) line(kind Kind, posts []int32, along, relief []float64, holds func(Form) bool) (Feature, error) {
	middle := (along[0] + along[len(along)-1]) / 2
	i, _ := slices.BinarySearch(along, middle)
	p, err := postAt(f.g, posts[min(i, len(posts)-1)])
	if err != nil {
		return Feature{}, err
	}
	x := Feature{Kind: kind, Post: p, Size: along[len(along)-1] - along[0]}
	enough := slices.DeleteFunc(slices.Clone(relief), math.IsNaN)
	slices.Sort(enough)
	x.Relief = enough[len(enough)/2]
	n, of := 0, 0
	low, high := math.Inf(1), math.Inf(-1)
	for i, q := range posts {
		x.Line = append(x.Line, f.position(q))
		h := float64(f.g.Elevations[q])
		low, high = min(low, h), max(high, h)
		if form := f.form(int(q)%f.g.Columns, int(q)/f.g.Columns); form != FormUnknown {
			of++
			if holds(form) && !math.IsNaN(relief[i]) {
				n++
			}
		}
	}
	x.Fall = high - low
	if of > 0 {
		x.Confidence = f.chance(x.Relief) * float64(n) / float64(of)
	}
	return x, nil
}

// candidate is a line and the branch it is part of.
type candidate struct {
	Feature
	branch int
}

// keepApart keeps the lines with relief and confidence enough, longest
// first, but for those that run for half their length or more within a
// quarter of the scale of a longer one: on smooth ground two lines of posts
// side by side can both drain the flanks of one crest. A high line whose top
// comes within a scale of a longer one kept already may be a spur of it.
func (f *finder) keepApart(lines []candidate) {
	slices.SortStableFunc(lines, func(a, b candidate) int {
		return cmp.Or(cmp.Compare(b.Size, a.Size), cmp.Compare(a.Row, b.Row), cmp.Compare(a.Column, b.Column))
	})
	near := make([]bool, len(f.g.Elevations))
	owner := map[int]int{} // branch of the posts of kept lines
	// round visits the posts within some distance along row and column
	round := func(p Position, reach float64, visit func(post int)) {
		alongRow, alongColumn := f.m.at(p.Row)
		w, h := max(1, int(reach/alongRow)), max(1, int(reach/alongColumn))
		for r := max(0, int(p.Row)-h); r <= min(f.g.Rows-1, int(p.Row)+h); r++ {
			for c := max(0, int(p.Column)-w); c <= min(f.g.Columns-1, int(p.Column)+w); c++ {
				visit(r*f.g.Columns + c)
			}
		}
	}
	for _, x := range lines {
		if x.Relief < f.o.MinRelief || x.Confidence < f.o.MinConfidence {
			continue
		}
		taken := 0
		for _, p := range x.Line {
			if near[int(p.Row)*f.g.Columns+int(p.Column)] {
				taken++
			}
		}
		if 2*taken >= len(x.Line) {
			continue
		}
		if x.Kind == Ridge {
			meets := false
			round(x.Line[len(x.Line)-1], f.o.Scale, func(post int) {
				b, ok := owner[post]
				meets = meets || ok && b != x.branch
			})
			if meets {
				f.spur(&x.Feature)
			}
		}
		f.found = append(f.found, x.Feature)
		for _, p := range x.Line {
			owner[int(p.Row)*f.g.Columns+int(p.Column)] = x.branch
			round(p, f.o.Scale/4, func(post int) { near[post] = true })
		}
	}
}

func (f *finder) highLines(ctx context.Context) error {
	all, err := branches(ctx, f.g, f.m, true, f.o.Scale)
	if err != nil {
		return err
	}
	var lines []candidate
	for i, b := range all {
		along := f.distances(b.posts)
		relief := acrossRelief(f.g, f.m, b.posts, 1, f.o.Scale/2)
		for _, s := range f.stretches(b.posts, along, relief) {
			posts := b.posts[s.first : s.last+1]
			x, err := f.line(Ridge, posts, along[s.first:s.last+1], relief[s.first:s.last+1], Form.Raised)
			if err != nil {
				return err
			}
			x.Reason = Say("for %s the ground falls on both sides, by %s on the gentler side within %s", Far(x.Size), Up(x.Relief), Far(f.o.Scale/2))
			lines = append(lines, candidate{x, i})
		}
	}
	f.keepApart(lines)
	return nil
}

// spur makes a spur of a high line that falls by the least relief or more
// from its top to its tip and never rises so much on the way.
func (f *finder) spur(x *Feature) {
	elevation := func(i int) float64 { return f.g.Elevation(int(x.Line[i].Column), int(x.Line[i].Row)) }
	n := len(x.Line)
	fall := elevation(n-1) - elevation(0)
	lowest, rise := math.Inf(1), 0.0
	for i := n - 1; i >= 0; i-- {
		h := elevation(i)
		lowest = min(lowest, h)
		rise = max(rise, h-lowest)
	}
	if fall < f.o.MinRelief || rise >= f.o.MinRelief {
		return
	}
	x.Kind = Spur
	x.Reason = Say("falls %s in %s from the side of a longer ridge, never rising more than %s on the way, with %s of fall on the gentler side within %s",
		Up(fall), Far(x.Size), Up(math.Ceil(rise)), Up(x.Relief), Far(f.o.Scale/2))
}

func (f *finder) lowLines(ctx context.Context) error {
	all, err := branches(ctx, f.g, f.m, false, f.o.Scale)
	if err != nil {
		return err
	}
	var lines []candidate
	for i, b := range all {
		along := f.distances(b.posts)
		relief := acrossRelief(f.g, f.m, b.posts, -1, f.o.Scale/2)
		for _, s := range f.stretches(b.posts, along, relief) {
			level := f.levelFrom(b.posts, along, s)
			for _, part := range []struct {
				kind        Kind
				first, last int
			}{{Draw, s.first, min(level, s.last)}, {Valley, level, s.last}} {
				if part.first >= part.last || along[part.last]-along[part.first] < f.o.Scale {
					continue
				}
				r := relief[part.first : part.last+1]
				if !slices.ContainsFunc(r, func(v float64) bool { return !math.IsNaN(v) }) {
					continue
				}
				x, err := f.line(part.kind, b.posts[part.first:part.last+1], along[part.first:part.last+1], r, Form.Sunken)
				if err != nil {
					return err
				}
				const rises = "for %s the ground rises on both sides, by %s on the gentler side within %s; the floor falls %s "
				said := []any{Far(x.Size), Up(x.Relief), Far(f.o.Scale / 2), Up(x.Fall), 100 * f.o.LevelGradient}
				if x.Reason = Say(rises+"and is steeper than %.0f %% all the way: no level floor", said...); part.kind == Valley {
					x.Reason = Say(rises+"to where it is no steeper than %.0f %% over %s: level floor", append(said, Far(f.o.Scale))...)
				}
				lines = append(lines, candidate{x, i})
			}
		}
	}
	f.keepApart(lines)
	return nil
}

// levelFrom is the first post of a stretch from which the line falls no more
// steeply than the level gradient over one scale (or what is left of the
// line, if half a scale or more); past the last if there is none.
func (f *finder) levelFrom(posts []int32, along []float64, s stretch) int {
	j := s.first
	for i := s.first; i <= s.last; i++ {
		for j < len(posts)-1 && along[j]-along[i] < f.o.Scale {
			j++
		}
		run := along[j] - along[i]
		if run < f.o.Scale/2 {
			break
		}
		if float64(f.g.Elevations[posts[i]])-float64(f.g.Elevations[posts[j]]) <= f.o.LevelGradient*run {
			return i
		}
	}
	return s.last + 1
}

// acrossRelief is how far the ground falls (sign 1) or rises (sign -1)
// within reach on the two sides of each post of a line, the lesser side:
// looked for square to the line, whose direction is taken over a quarter of
// the reach either way. NaN where a side leaves the data before half the
// reach.
func acrossRelief(g *dem.Grid, m metric, posts []int32, sign, reach float64) []float64 {
	out := make([]float64, len(posts))
	at := func(p int32) (column, row float64) { return float64(int(p) % g.Columns), float64(int(p) / g.Columns) }
	w := max(1, int(reach/4/m.spacing()))
	for i, p := range posts {
		column, row := at(p)
		x, y := m.at(row)
		ac, ar := at(posts[max(0, i-w)])
		bc, br := at(posts[min(len(posts)-1, i+w)])
		tx, ty := (bc-ac)*x, (br-ar)*y
		norm := math.Hypot(tx, ty)
		if norm == 0 {
			out[i] = math.NaN()
			continue
		}
		step := min(x, y)
		// the normal in columns and rows a step
		nc, nr := -ty/norm*step/x, tx/norm*step/y
		h := float64(g.Elevations[p])
		lesser := math.Inf(1)
		for _, side := range [2]float64{1, -1} {
			best, far := 0.0, 0.0
			for k := 1.0; k*step <= reach; k++ {
				v := dem.Bilinear(g, column+side*k*nc, row+side*k*nr)
				if math.IsNaN(v) || math.IsInf(v, 0) {
					break
				}
				best, far = max(best, sign*(h-v)), k*step
			}
			if far < reach/2 {
				lesser = math.NaN()
			}
			lesser = min(lesser, best)
		}
		out[i] = lesser
	}
	return out
}
